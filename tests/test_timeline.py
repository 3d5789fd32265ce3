"""Timelines: against every second of every way, worked cases, a bound, and cases by hand."""

from __future__ import annotations

import random
import re
from itertools import pairwise

import pytest
from oracles.timeline_steps import least_seconds
from oracles.worked import reference
from thinning import thinned

from pincorner.render.text.timelines import gain_told, timeline_drawing
from pincorner.runs.timeline import Bar, Load, Opening, Phase, Work, bound_s, quickest

ROUNDING_S = 1e-6  # sums of some thousand times of a few seconds


def random_works(rng: random.Random, most: int = 4) -> list[Work]:
    """Two to four stations with whole seconds, one or two phases, and windows at random."""
    count = rng.randint(2, most)
    names = [f"s{at}" for at in range(count)]
    found = []
    for name in names:
        phases = []
        for _ in range(rng.randint(1, 2)):
            cut = rng.randint(1, 7)
            openings = {
                other: Opening(float(rng.randint(1, cut)), rng.random() < 0.5)
                for other in names
                if other != name and rng.random() < 0.7
            }
            phases.append(Phase(rng.randint(0, 2), rng.randint(0, 1), cut, openings))
        found.append(Work(name, rng.randint(1, 5), tuple(phases)))
    return found


def test_no_decisions_are_quicker() -> None:
    """In 150 random cases the run takes as long as the quickest way through all seconds."""
    rng = random.Random(20261130)
    for _ in range(thinned(150)):
        these = random_works(rng)
        visits, leave = rng.randint(1, 7), rng.randint(0, 2)
        got = quickest(these, visits, leave).total_s
        assert got == pytest.approx(least_seconds(these, visits, leave), abs=ROUNDING_S), these


def test_the_bound() -> None:
    """No round is shorter than the bound; where every load fits a window it is reached."""
    rng = random.Random(5)
    for _ in range(thinned(200)):
        these = random_works(rng)
        assert quickest(these, 40, 1).round_s >= bound_s(these) - ROUNDING_S
    openings = {"a": Opening(300, True), "b": Opening(300, True)}
    these = [Work(name, 120, (Phase(10, 5, 300, openings),)) for name in "ab"]
    assert quickest(these, 40, 20).round_s == bound_s(these) == 630


def test_a_round_goes_on_evenly() -> None:
    """A long run adds one round's time for each round's parts: 4,000 against 400."""
    rng = random.Random(8)
    for _ in range(thinned(72)):
        these = random_works(rng)
        count = len(these)
        long, short = (quickest(these, parts * count, 1) for parts in (600, 360))
        assert long.total_s - short.total_s == pytest.approx(240 * long.round_s, abs=1e-3)
        assert long.round_s == pytest.approx(short.round_s, abs=ROUNDING_S)


@pytest.mark.parametrize("case", reference("rounds"), ids=str)
def test_round_time_of_the_table(case: dict[str, list[float]]) -> None:
    """Where the operator need not be there and windows never end, no round is longer than loads
    and cuts one after the other, nor shorter than the table's."""
    names = [f"s{at}" for at in range(len(case["loads"]))]
    endless = {name: Opening(1e9, True) for name in names}
    these = [
        Work(name, load, (Phase(0, 0, cut, endless),))
        for name, load, cut in zip(names, case["loads"], case["cuts"], strict=True)
    ]
    got = quickest(these, 100 * len(these), 0).round_s
    assert case["round"] - ROUNDING_S <= got <= sum(case["loads"]) + sum(case["cuts"])
    if len(these) == 1 or sum(case["cuts"]) == case["round"]:
        assert got == pytest.approx(case["round"], abs=ROUNDING_S)


def test_nobody_is_in_two_places() -> None:
    """Loads and attended times never overlap, nor do pieces of the spindle's time."""
    rng = random.Random(3)
    for _ in range(80):
        bars = quickest(random_works(rng), 20, 1, bars=10_000).bars
        for kinds in (("load", "attend"), ("cut", "attend", "wait")):
            mine = sorted((bar for bar in bars if bar.kind in kinds), key=lambda bar: bar.start_s)
            assert all(a.end_s <= b.start_s + ROUNDING_S for a, b in pairwise(mine))


def test_loads_are_counted_once() -> None:
    """Every visit is loaded once: in cuts and standing together make up all loads."""
    rng = random.Random(4)
    for _ in range(80):
        these = random_works(rng)
        done = quickest(these, 4 * len(these), 1)
        loads = done.cutting_loads_s + done.standing_loads_s
        assert loads == pytest.approx(4 * sum(work.load_s for work in these), abs=ROUNDING_S)


def test_a_run_by_hand() -> None:
    """Two stations, three parts: every bar as drawn on paper.

    Load a 0-10; start 10-12; b is loaded 12-22 while a cuts 12-32; start of b 32-34, cuts 34-49, a
    is loaded 34-44; start of a 49-51, cuts 51-71.
    """
    a = Work("a", 10, (Phase(2, 0, 20, {"b": Opening(20, True)}),))
    b = Work("b", 10, (Phase(2, 0, 15, {"a": Opening(15, True)}),))
    done = quickest([a, b], 3, 5)
    assert done.bars == (
        Bar("load", "a", 0, 10), Bar("attend", "a", 10, 12), Bar("cut", "a", 12, 32),
        Bar("load", "b", 12, 22), Bar("attend", "b", 32, 34), Bar("cut", "b", 34, 49),
        Bar("load", "a", 34, 44), Bar("attend", "a", 49, 51), Bar("cut", "a", 51, 71),
    )  # fmt: skip
    assert (done.total_s, done.parts, done.attended_s) == (71, 3, 6)
    assert dict(done.waits_s) == {"a": 5, "b": 10}
    assert (done.cutting_loads_s, done.standing_loads_s) == (20, 10)
    assert done.spindle_share == pytest.approx(55 / 71)
    assert done.operator_share == pytest.approx(36 / 71)


def test_a_hard_end_wants_time_to_leave() -> None:
    """A load of 10 s fits a hard window of 15 s with 5 s to spare, not with 6; one that waits may
    be outlasted, and the wait is counted."""

    def two(opening: Opening) -> list[Work]:
        return [
            Work("a", 10, (Phase(0, 0, 20, {"b": opening}),)),
            Work("b", 10, (Phase(0, 0, 20, {}),)),
        ]  # fmt: skip

    assert quickest(two(Opening(15, False)), 40, 5).round_s == 50
    assert quickest(two(Opening(15, False)), 40, 6).round_s == 60
    longer = [two(Opening(5, True))[0]._replace(phases=(Phase(0, 0, 7, {"b": Opening(5, True)}),)),
              two(Opening(5, True))[1]]  # fmt: skip
    done = quickest(longer, 2, 20)
    assert done.total_s == 10 + 10 + 20 and done.spindle_waits_s == 3
    assert done.loads == (Load("a", None, 0), Load("b", "a", 0))


def test_nests_count_as_parts() -> None:
    """A station of two nests makes two parts a visit; the run ends with that which reaches it."""
    these = [Work("a", 1, (Phase(0, 0, 1),), parts=2), Work("b", 1, (Phase(0, 0, 1),))]
    assert [quickest(these, wanted, 0).parts for wanted in (1, 2, 3, 4, 5)] == [2, 2, 3, 5, 5]


@pytest.mark.parametrize("count", [8, 12])
def test_many_stations(count: int) -> None:
    """Eight stations, two of which may be loaded next, and twelve in their order of work: a run of
    them is planned, and reaches its bound where every load fits."""
    names = [f"s{at}" for at in range(count)]
    these = [
        Work(name, 50, (Phase(10, 0, 100, {n: Opening(90, True) for n in names}),))
        for name in names
    ]
    assert quickest(these, 800, 20).round_s == bound_s(these) == 110 * count


def test_one_of_two_is_nearly_as_quick_as_any_order(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of seven stations one of the two worked next may be loaded: runs drawn at random take no less
    than in any order, and lose less than half of what is lost in the order of work."""
    rng = random.Random(7)
    drawn = []
    while len(drawn) < 8:
        these = random_works(rng, 7)
        drawn += [these] if len(these) == 7 else []
    totals = {}
    for rule, free, two in (("any", 7, 7), ("two", 6, 8), ("next", 6, 6)):
        monkeypatch.setattr("pincorner.runs.timeline.MOST_FREE", free)
        monkeypatch.setattr("pincorner.runs.timeline.MOST_OF_TWO", two)
        totals[rule] = [quickest(these, 42, 1).total_s for these in drawn]
    pairs = zip(totals["two"], totals["any"], strict=True)
    assert all(two >= free - ROUNDING_S for two, free in pairs)
    lost = {rule: sum(found) - sum(totals["any"]) for rule, found in totals.items()}
    assert lost["two"] < 0.5 * lost["next"]


@pytest.mark.parametrize(
    ("these", "parts"),
    [
        ([], 1),
        ([Work("a", 1, (Phase(0, 0, 1),))], 0),
        ([Work("a", 0, (Phase(0, 0, 1),))], 1),
    ],
)
def test_nonsense_is_refused(these: list[Work], parts: int) -> None:
    """No stations, no parts, and loads of nothing are errors of the caller."""
    with pytest.raises(ValueError, match="expected"):
        quickest(these, parts, 20)


def test_each_station_has_its_own_bars_in_its_row() -> None:
    """A row of the drawing has the bars of its station alone, each from its start to its end."""
    opening = {"a": Opening(20, True), "b": Opening(20, True)}
    these = [Work("a", 10, (Phase(2, 0, 20, opening),)), Work("b", 10, (Phase(2, 0, 15, {}),))]
    line = quickest(these, 5, 0)
    drawing = timeline_drawing(line, 160.0)
    rows = re.findall(r'<line x1="0" y1="(\S+)" x2="\S+" y2="\1"', drawing)
    bars = re.findall(r'<polygon points="(\S+),(\S+) (\S+),\S+ \S+,(\S+) ', drawing)
    assert len(rows) == 2 == len({bar.station for bar in line.bars})
    for name, middle in zip(line.order, map(float, rows), strict=True):
        mine = [
            (float(start), float(end))
            for start, low, end, high in bars
            if min(float(low), float(high)) < middle < max(float(low), float(high))
        ]
        assert mine == [(bar.start_s, bar.end_s) for bar in line.bars if bar.station == name]


@pytest.mark.parametrize(
    ("more", "told"), [(1.342, "+34 %"), (0.996, "+0 %"), (1.0, "+0 %"), (0.914, "-9 %")]
)
def test_gain_of_nought_has_one_sign(more: float, told: str) -> None:
    """A station that brings nothing brings +0 %, on whichever side of nought rounding leaves it."""
    line = quickest([Work("a", 10, (Phase(2, 0, 20),))], 5, 0)
    after = line._replace(parts_per_hour=line.parts_per_hour * more)
    assert gain_told(line, after) == told
