"""Timelines: against the round-time formula, a linear program, and cases done by hand."""

from __future__ import annotations

import random
from itertools import pairwise, permutations

import numpy as np
import pytest
from oracles.worked import reference
from scipy.optimize import linprog

from pincorner.runs.timeline import (
    Bar,
    Work,
    best_order,
    by_count,
    simulate,
)

ROUNDS = reference("rounds")
ROUNDING_S = 1e-6  # sums of some thousand times of a few seconds


def works(loads: list[float], cuts: list[float]) -> list[Work]:
    """Stations s0, s1, ... with these times."""
    pairs = zip(loads, cuts, strict=True)
    return [Work(f"s{at}", load, cut) for at, (load, cut) in enumerate(pairs)]


def closed_form_round_s(works: list[Work]) -> float:
    """Round time of a fixed order, without conflicts or attended time.

    R = max(sum of loads, sum of cuts, largest load + cut) for one operator and one spindle.
    """
    return max(
        sum(work.load_s for work in works),
        sum(work.cut_s for work in works),
        max(work.load_s + work.cut_s for work in works),
    )


def random_works(rng: random.Random) -> list[Work]:
    """One to six stations with whole seconds."""
    count = rng.randint(1, 6)
    times = [[float(rng.randint(1, 9)) for _ in range(count)] for _ in range(2)]
    return works(*times)


@pytest.mark.parametrize("case", ROUNDS, ids=str)
def test_round_time_of_the_table(case: dict[str, list[float]]) -> None:
    """A long run settles at the round time of the table, and the closed form gives the same."""
    these = works(case["loads"], case["cuts"])
    assert simulate(these, 100 * len(these)).round_s == pytest.approx(case["round"], abs=ROUNDING_S)
    assert closed_form_round_s(these) == case["round"]


def test_round_time_of_random_stations() -> None:
    """500 random rings of up to six stations settle at the closed form's round time."""
    rng = random.Random(20261125)
    for _ in range(500):
        these = random_works(rng)
        got = simulate(these, 60 * len(these)).round_s
        assert got == pytest.approx(closed_form_round_s(these), abs=ROUNDING_S), these


def least_round_s(these: list[Work]) -> float:
    """The least round time of any periodic schedule, by a linear program (scipy's HiGHS).

    Unknowns: the round R, then the start of each load and each cut within it. Load i+1 follows
    load i, cut i+1 cut i, cut i load i; a round later each begins again, load i only behind cut i.
    """
    n = len(these)
    rows, bounds = [], []

    def at_least(later: int, earlier: int, seconds: float, rounds: int) -> None:
        row = np.zeros(1 + 2 * n)
        row[0] = -rounds
        row[later] -= 1
        row[earlier] += 1
        rows.append(row)
        bounds.append(-seconds)

    for i, work in enumerate(these):
        load, cut, following = 1 + i, 1 + n + i, (i + 1) % n
        wraps = int(following == 0)
        at_least(cut, load, work.load_s, 0)
        at_least(1 + following, load, work.load_s, wraps)
        at_least(1 + n + following, cut, work.cut_s, wraps)
        at_least(load, cut, work.cut_s, 1)
    cost = np.zeros(1 + 2 * n)
    cost[0] = 1.0
    return float(linprog(cost, A_ub=np.array(rows), b_ub=np.array(bounds)).fun)


def test_no_schedule_is_quicker() -> None:
    """The simulation's round is the linear program's least round in 100 random cases."""
    rng = random.Random(7)
    for _ in range(100):
        these = random_works(rng)
        got = simulate(these, 60 * len(these)).round_s
        assert got == pytest.approx(least_round_s(these), abs=1e-5), these


def test_nobody_is_in_two_places() -> None:
    """Loads and attended times of the operator never overlap, nor do pieces of the spindle's."""
    rng = random.Random(3)
    for _ in range(50):
        these = [
            work._replace(attended_s=tuple(rng.randint(0, 3) for _ in range(rng.randint(0, 3))))
            for work in random_works(rng)
        ]
        bars = simulate(these, 20, bars=10_000).bars
        for kinds in (("load", "attend"), ("cut", "attend")):
            mine = sorted((bar for bar in bars if bar.kind in kinds), key=lambda bar: bar.start_s)
            assert all(a.end_s <= b.start_s + ROUNDING_S for a, b in pairwise(mine))


def test_conflicting_pairs_wait() -> None:
    """Where one station's runner sweeps the other and back, nothing overlaps: loads add to cuts."""
    these = works([3, 4], [5, 2])
    both = [("s0", "s1"), ("s1", "s0")]
    done = simulate(these, 200, both, bars=1000)
    assert done.round_s == pytest.approx(3 + 4 + 5 + 2, abs=ROUNDING_S)
    cuts = [bar for bar in done.bars if bar.kind == "cut"]
    loads = [bar for bar in done.bars if bar.kind == "load"]
    for cut in cuts:
        for load in loads:
            apart = load.end_s <= cut.start_s + ROUNDING_S or cut.end_s <= load.start_s + ROUNDING_S
            assert apart or load.station == cut.station


def test_conflicts_never_help() -> None:
    """Forbidding pairs never makes a run of random stations shorter."""
    rng = random.Random(11)
    for _ in range(100):
        these = random_works(rng)
        pairs = [(a.name, b.name) for a in these for b in these if a is not b]
        some = [pair for pair in pairs if rng.random() < 0.4]
        assert simulate(these, 40, some).total_s >= simulate(these, 40).total_s - ROUNDING_S


def test_a_run_by_hand() -> None:
    """Two stations, one attended start each, three parts: every bar as drawn on paper.

    Load a 0-10; the operator starts a 10-12 and then loads b 12-22 while a cuts 12-32; the start of
    b follows a's end, 32-34, then a is loaded again 34-44 while b cuts 34-49; a starts at 49.
    """
    these = [Work("a", 10, 20, (2,)), Work("b", 10, 15, (2,))]
    done = simulate(these, 3)
    assert done.bars == (
        Bar("load", "a", 0, 10), Bar("attend", "a", 10, 12), Bar("cut", "a", 12, 32),
        Bar("load", "b", 12, 22), Bar("attend", "b", 32, 34), Bar("cut", "b", 34, 49),
        Bar("load", "a", 34, 44), Bar("attend", "a", 49, 51), Bar("cut", "a", 51, 71),
    )  # fmt: skip
    assert (done.total_s, done.parts, done.attended_s) == (71, 3, 6)
    assert dict(done.waits_s) == {"a": 5, "b": 10}
    assert done.spindle_share == pytest.approx(55 / 71) and done.operator_share == pytest.approx(
        36 / 71
    )


def test_tool_changes_interrupt_the_cut() -> None:
    """Two attended times halve the cut: start, half, change, half."""
    done = simulate([Work("a", 5, 10, (1, 2))], 1)
    assert [(bar.kind, bar.end_s - bar.start_s) for bar in done.bars] == [
        ("load", 5), ("attend", 1), ("cut", 5), ("attend", 2), ("cut", 5),
    ]  # fmt: skip


def test_nests_count_as_parts() -> None:
    """A station of two nests makes two parts a visit; the run ends with that which reaches it."""
    these = [Work("a", 1, 1, parts=2), Work("b", 1, 1)]
    assert [simulate(these, wanted).parts for wanted in (1, 2, 3, 4, 5)] == [2, 2, 3, 5, 5]


def test_worth_of_one_more_station() -> None:
    """By the check values a second station lifts 450 to 720 parts per hour, a third to no more."""
    per_round = [done.parts / done.round_s for done in by_count(works([3] * 3, [5] * 3), 3000)]
    assert [line.order for line in by_count(works([3] * 3, [5] * 3), 3)][1] == ("s0", "s1")
    hourly = [line.parts_per_hour for line in by_count(works([3] * 3, [5] * 3), 3000)]
    assert len(per_round) == 3 and hourly == pytest.approx([450, 720, 720], rel=2e-3)


def test_best_order_is_the_best() -> None:
    """Where the order matters the proposal beats the given one, and no permutation beats it."""
    rng = random.Random(5)
    found = 0
    for _ in range(60):
        these = random_works(rng)
        pairs = [(a.name, b.name) for a in these for b in these if a is not b]
        some = [pair for pair in pairs if rng.random() < 0.3]
        best = best_order(these, 30, some)
        given = simulate(these, 30, some).total_s
        orders = [simulate([these[0], *rest], 30, some).total_s for rest in permutations(these[1:])]
        if best is None:
            assert min(orders) >= given - 1.0
        else:
            found += 1
            assert best.total_s == min(orders) < given - 1.0
    assert found > 5


@pytest.mark.parametrize(
    ("these", "parts"), [([], 1), (works([1], [1]), 0), (works([0], [1]), 1), (works([1], [-1]), 1)]
)
def test_nonsense_is_refused(these: list[Work], parts: int) -> None:
    """No stations, no parts, and times of nothing are errors of the caller."""
    with pytest.raises(ValueError, match="expected"):
        simulate(these, parts)
