"""Control charts: against printed examples, closed forms, scipy, and what chance gives."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from oracles.worked import assert_close, reference
from scipy import special

from pincorner.geometry.charts import (
    D2,
    D4,
    DECISION,
    FULL,
    NEXT,
    SEEN,
    SLACK,
    drift_cusum,
    limits,
    moving_ranges,
    ordinary,
    seen_shift,
    standard_scores,
    tabular_cusum,
)
from pincorner.geometry.student import chi2_below

CHART, CUSUM = reference("control_chart"), reference("cusum")
ALL = (True,) * 200


def normal(count: int, seed: int, sd: float = 1.0) -> list[float]:
    """A series in control."""
    rng = random.Random(seed)
    return [rng.gauss(0.0, sd) for _ in range(count)]


def test_limits_of_the_handbook() -> None:
    """Mean, mean moving range and both limits are the handbook's printed ones."""
    got = limits(CHART["flow_rates"])
    half_digit = 0.5e-4
    assert_close(got.centre, CHART["mean"], 1e-12, "an exact mean of ten")
    assert_close(
        got.range_upper / D4, CHART["mean_moving_range"], half_digit, "printed to 4 digits"
    )
    # the handbook goes on with the mean range as printed, up to half a digit off, times 3/1.128
    for value, printed in ((got.upper, "upper_limit"), (got.lower, "lower_limit")):
        assert_close(value, CHART[printed], half_digit * (1 + 3 / D2), "printed to 4 digits")


def test_factors_are_those_of_two_normal_values() -> None:
    """d2 and D4 are the closed forms 2/sqrt(pi) and 1 + 3 d3/d2 rounded to three decimals."""
    d2, d3 = 2 / math.sqrt(math.pi), math.sqrt(2 - 4 / math.pi)
    assert round(d2, 3) == D2
    assert round(1 + 3 * d3 / d2, 3) == D4


def test_limits_hold_their_own_border() -> None:
    """A value on a limit is held, one past it is not, and the ranges' limit is D4 mean ranges."""
    got = limits([0.0, 1.0, 0.0, 1.0])
    assert got.hold(got.upper) and got.hold(got.lower)
    assert not got.hold(math.nextafter(got.upper, math.inf))
    assert got.range_upper == D4


def test_one_value_has_no_limits() -> None:
    """Without a moving range there is nothing to take limits from."""
    with pytest.raises(ValueError, match="two"):
        limits([1.0])


def test_moving_ranges_are_between_neighbours() -> None:
    """There is one fewer than values, each without its sign."""
    assert moving_ranges([1.0, 4.0, 2.0]) == (3.0, 2.0)


def test_cusum_of_the_textbook() -> None:
    """All forty sums are the textbook's, and none signals."""
    got = tabular_cusum(CUSUM["data"], CUSUM["target"], CUSUM["slack"], CUSUM["decision"])
    assert got.upper == pytest.approx(CUSUM["upper"], abs=1e-9)
    assert got.lower == pytest.approx(CUSUM["lower"], abs=1e-9)
    assert sum(map(abs, got.signals)) == CUSUM["signals"]


def test_cusum_signals_to_its_side() -> None:
    """The textbook's series moved by two signals upward at last, mirrored downward."""
    moved = [value + 2.0 for value in CUSUM["data"]]
    up = tabular_cusum(moved, CUSUM["target"], CUSUM["slack"], CUSUM["decision"])
    mirrored = [2 * CUSUM["target"] - value for value in moved]
    down = tabular_cusum(mirrored, CUSUM["target"], CUSUM["slack"], CUSUM["decision"])
    assert up.signals[-1] == 1 and -1 not in up.signals
    assert down.signals == tuple(-each for each in up.signals)


def test_average_run_length_of_the_cusum() -> None:
    """With k 0.5 and h 5 a known process runs 465 values on average to a false signal.

    Montgomery, Introduction to Statistical Quality Control, table of run lengths (from memory).
    """
    paths, steps = 200, 3000
    series = np.random.default_rng(5).normal(size=(paths, steps)).tolist()
    runs = []
    for values in series:
        signals = tabular_cusum(values, 0.0, SLACK, DECISION).signals
        runs.append(next((at + 1 for at, each in enumerate(signals) if each), steps))
    # run lengths are nearly exponential: their mean has a standard error of mean / sqrt(paths)
    assert_close(float(np.mean(runs)), 465, 4 * 465 / math.sqrt(paths), "four standard errors")


@pytest.mark.parametrize("seed", range(5))
def test_cusum_is_the_plain_recursion(seed: int) -> None:
    """Sums and signals agree with the recursion written with NumPy."""
    values = normal(60, seed, 2.0)
    upper = lower = 0.0
    got = tabular_cusum(values, 0.1, SLACK, DECISION)
    for at, value in enumerate(values):
        upper = float(np.maximum(0, upper + value - 0.1 - SLACK))
        lower = float(np.maximum(0, lower - value + 0.1 - SLACK))
        assert got.upper[at] == pytest.approx(upper, abs=1e-9)
        assert got.lower[at] == pytest.approx(lower, abs=1e-9)
        assert got.signals[at] == int(upper > DECISION) - int(lower > DECISION)


def test_scores_are_those_of_student_by_scipy() -> None:
    """Each score is the normal score of the t of a new value, as scipy's distributions give it."""
    values = normal(40, 3)
    got = standard_scores(values, ALL[:40])
    assert got[:2] == (0.0, 0.0)
    for n in range(2, 40):
        before = np.array(values[:n])
        t = (values[n] - before.mean()) / (before.std(ddof=1) * math.sqrt(1 + 1 / n))
        want = special.ndtri(special.stdtr(n - 1, t))
        assert got[n] == pytest.approx(np.clip(want, -FULL, FULL), abs=1e-9)


def test_scores_are_standard_normal_and_independent() -> None:
    """In control, scores of any mean and scatter are standard normal from the third value on."""
    series = [standard_scores(normal(12, seed, 0.03), ALL[:12])[2:] for seed in range(2000)]
    pooled = np.array(series)
    share, count = special.ndtr(np.sort(pooled.ravel())), pooled.size  # Kolmogorov and Smirnov's
    steps = np.arange(count + 1) / count
    farthest = max(np.abs(share - steps[1:]).max(), np.abs(share - steps[:-1]).max())
    assert special.kolmogorov(math.sqrt(count) * farthest) > 0.01
    links = [np.corrcoef(pooled[:, at], pooled[:, at + 1])[0, 1] for at in range(9)]
    assert max(map(abs, links)) < 4 / math.sqrt(len(series))


@given(
    st.lists(st.integers(-50, 50), min_size=3, max_size=40),
    st.integers(-1000, 1000),
    st.sampled_from([0.5, 2.0, 64.0]),
)
def test_scores_know_no_origin_and_no_unit(values: list[int], moved: int, scaled: float) -> None:
    """Moving all values or changing their unit changes no score."""
    counted = (True,) * len(values)
    plain = standard_scores([float(value) for value in values], counted)
    other = standard_scores([(value + moved) * scaled for value in values], counted)
    assert other == pytest.approx(plain, abs=1e-6)


def test_equal_values_have_no_score() -> None:
    """Readings coarser than the scatter give no scale to judge by, and no division by zero."""
    assert standard_scores([1.0] * 9 + [1.01], ALL[:10]) == (0.0,) * 10


def test_false_alarms_are_rare_and_drifts_are_found() -> None:
    """Of thirty values in control 5 % of the series ever signal; a drift of 3 sigma, most do."""
    still = [drift_cusum(normal(30, seed), ALL[:30]) for seed in range(1500)]
    ever = sum(any(each.signals) for each in still) / len(still)
    assert ever < 0.047 + 4 * math.sqrt(0.047 * 0.953 / 1500)  # 0.047 in a run of 8,000
    drifted = [
        drift_cusum([v + 0.1 * at for at, v in enumerate(normal(30, seed))], ALL[:30])
        for seed in range(300)
    ]
    assert sum(each.signals[-1] == 1 for each in drifted) > 0.8 * 300


def test_one_mistake_is_no_drift_and_several_in_a_row_are() -> None:
    """One value a thousand sigma out never signals; from the fourth of such in a row it does."""
    quiet = [0.2 * (-1) ** at for at in range(12)]
    once = [*quiet, 1000.0, *quiet]
    assert not any(drift_cusum(once, ordinary(once, 0.1)).signals)
    moved = [*quiet, 1000.0, 1000.1, 999.9, 1000.0]
    signals = drift_cusum(moved, ordinary(moved, 0.1)).signals
    assert signals[-1] == 1 and not any(signals[:-1])


def test_mistakes_do_not_count() -> None:
    """Up to five values of twelve may lie at another hole, and all of these are found."""
    values = normal(12, 2, 0.03)
    wrong = [1, 3, 6, 8, 11]
    for at in wrong:
        values[at] += 100.0
    assert [at for at, usual in enumerate(ordinary(values, 0.02)) if not usual] == wrong


def test_scatter_counts() -> None:
    """Of values in control hardly one in a thousand is taken for a mistake."""
    masks = [ordinary(normal(20, seed), 0.5) for seed in range(500)]
    assert sum(mask.count(False) for mask in masks) < 0.002 * 500 * 20


def test_coarse_readings_are_no_mistakes() -> None:
    """Where most readings are equal the measuring's own uncertainty keeps the others in."""
    assert all(ordinary([0.01] * 9 + [0.05], 0.02))
    assert not all(ordinary([0.01] * 9 + [0.5], 0.02))


def test_few_values_are_all_ordinary() -> None:
    """With none, one or two values nothing can be told."""
    assert ordinary([], 0.1) == ()
    assert ordinary([5.0], 0.1) == (True,)
    assert ordinary([5.0, -5.0], 0.1) == (True, True)


@pytest.mark.parametrize("before", [8, 9, 16, 40])
def test_a_shift_that_is_told_is_seen(before: int) -> None:
    """By simulation: 9 of 10 shifts of the size told signal in time, of half that few do."""
    rng = np.random.default_rng(before)
    drawn = rng.standard_normal((500, before + NEXT))

    def share(shift: float) -> float:
        moved = drawn + shift * (np.arange(before + NEXT) >= before)
        found = (
            drift_cusum([float(v) for v in row], [True] * len(row)).signals[before:]
            for row in moved
        )
        return float(np.mean([1 in signals for signals in found]))

    told = seen_shift(before)
    slack = 2.58 * math.sqrt(SEEN * (1 - SEEN) / 500)
    assert share(told) >= SEEN - slack, "99 % of such simulations of 0.9 are above"
    assert share(told / 2) < 0.5


def test_more_good_ones_see_smaller_shifts() -> None:
    """It falls with each good one, to that of a CUSUM whose target is known.

    The plain sums of the e-Handbook, 6.3.2.3, give k + h/m + z/sqrt(m) for a known target.
    """
    told = [seen_shift(before) for before in range(3, 3000, 7)]
    assert told == sorted(told, reverse=True)
    z = float(special.ndtri(0.9))
    known = min(0.5 + 5 / m + z / math.sqrt(m) for m in range(1, NEXT + 1))
    assert_close(seen_shift(10**6), known, 2e-3, because="mean and scatter of a million")
    for dof in (3, 7, 20, 100):
        wanted = 2 * float(special.gammaincinv(dof / 2, 0.1))
        assert_close(chi2_below(0.1, dof), wanted, 0.02 * wanted, because="an approximation")
    with pytest.raises(ValueError, match="more than two"):
        seen_shift(2)
