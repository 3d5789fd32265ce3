"""Control charts for single values: limits from moving ranges, and a CUSUM for slow drift.

Arithmetic on series of numbers; it knows nothing of what was measured.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from itertools import pairwise
from statistics import NormalDist, fmean, median
from typing import NamedTuple

from pincorner.geometry.student import chi2_below, t_within

D2 = 1.128
"""Mean range of two normal values: 2 / sqrt(pi), as the NIST/SEMATECH e-Handbook prints it."""

D4 = 3.267
"""Upper limit over mean of a range of two (ISO 7870-2, from memory; 1 + 3 d3/d2 gives it)."""

FEWEST = 8
"""Below so many values limits say more about chance than about the process: common practice."""

SLACK, DECISION = 0.5, 5.0
"""k and h in standard deviations: the usual choice to find a shift of one (Montgomery,
Introduction to Statistical Quality Control, chapter on CUSUM charts; from memory)."""

GROSS = 6.0
"""So many standard deviations from the middle is a mistake and no scatter."""

NEXT = 10
"""Among so many values to come a lasting shift should show: ten weeks, verified once in each."""

SEEN = 0.9
"""Share of lasting shifts that show by then: the usual power of a test (common practice)."""

FULL = 3.0
"""At most so many standard deviations of one value count in a CUSUM: as far as the limits."""

_NORMAL = NormalDist()
_QUARTILE = _NORMAL.inv_cdf(0.75)  # half of normal values lie within 0.6745 sd of the middle
_FULL_SHARE = 2 * _NORMAL.cdf(FULL) - 1


class Limits(NamedTuple):
    """Centre and limits of single values, and the upper limit of their moving ranges."""

    centre: float
    lower: float
    upper: float
    range_upper: float

    def hold(self, value: float) -> bool:
        """Whether a value lies within the limits or on them."""
        return self.lower <= value <= self.upper


class Cusum(NamedTuple):
    """One-sided sums after each value, and where they signal: 1 upward, -1 downward, 0 not."""

    upper: tuple[float, ...]
    lower: tuple[float, ...]
    signals: tuple[int, ...]


def moving_ranges(values: Sequence[float]) -> tuple[float, ...]:
    """Distances between each value and the next; one fewer than values."""
    return tuple(abs(after - before) for before, after in pairwise(values))


def limits(values: Sequence[float]) -> Limits:
    """Three-sigma limits of single values from their mean moving range.

    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2. Raises ValueError for fewer than two
    values.
    """
    if len(values) < 2:
        raise ValueError("expected at least two values")
    centre, mean_range = fmean(values), fmean(moving_ranges(values))
    reach = 3 * mean_range / D2
    return Limits(centre, centre - reach, centre + reach, D4 * mean_range)


def ordinary(values: Sequence[float], least_sd: float) -> tuple[bool, ...]:
    """Which values are scatter: the others are so far out that they would spoil the limits.

    Counted from the median, in standard deviations from the median distance to it, which holds
    while fewer than half of the values are mistakes; never below `least_sd` (> 0).
    """
    if not values:
        return ()
    middle = median(values)
    sd = max(median(abs(value - middle) for value in values) / _QUARTILE, least_sd)
    return tuple(abs(value - middle) <= GROSS * sd for value in values)


def tabular_cusum(values: Sequence[float], target: float, slack: float, decision: float) -> Cusum:
    """Sums of what lies above target + slack and below target - slack, never below 0.

    They signal above `decision`. Montgomery & Runger, Applied Statistics and Probability for
    Engineers, section 16-10 (its K and H).
    """
    upper, lower, signals = [0.0], [0.0], []
    for value in values:
        upper.append(max(0.0, value - (target + slack) + upper[-1]))
        lower.append(max(0.0, (target - slack) - value + lower[-1]))
        signals.append((upper[-1] > decision) - (lower[-1] > decision))
    return Cusum(tuple(upper[1:]), tuple(lower[1:]), tuple(signals))


def drift_cusum(values: Sequence[float], counted: Sequence[bool]) -> Cusum:
    """A CUSUM that needs no known mean: each value is held against those before it."""
    return tabular_cusum(standard_scores(values, counted), 0.0, SLACK, DECISION)


def standard_scores(values: Sequence[float], counted: Sequence[bool]) -> tuple[float, ...]:
    """Each value against the mean and scatter of the counted ones before it, as a normal score.

    Student's t of the new value, taken to the normal score of the same share: independent and
    standard normal as long as nothing changes, whatever the mean and scatter are (Hawkins,
    "Self-starting cusum charts", The Statistician 36, 1987). At most FULL; 0 before there are two
    to compare with, where those are equal, and for a value that does not count unless the one
    before it does not either (the two-in-a-row rule of Lucas and Crosier, 1982; from memory).
    """
    scores = []
    count, mean, squares, lone = 0, 0.0, 0.0, True
    for value, counts in zip(values, counted, strict=True):
        off = value - mean
        score = 0.0
        if count >= 2 and squares > 0 and (counts or not lone):
            spread = math.sqrt(squares / (count - 1) * (count + 1) / count)
            share = min(t_within(abs(off) / spread, count - 1), _FULL_SHARE)
            score = math.copysign(_NORMAL.inv_cdf((1 + share) / 2), off)
        scores.append(score)
        lone = counts
        if counts:
            count += 1
            mean += off / count
            squares += off * (value - mean)
    return tuple(scores)


@cache
def seen_shift(before: int) -> float:
    """The least lasting shift that a CUSUM shows within NEXT values, in SEEN of cases or more.

    In standard deviations of one value, after `before` (> 2) that were good. Upper sum as in the
    NIST/SEMATECH e-Handbook, 6.3.2.3: it is never below the plain sum of the first m scores less
    m SLACK, whose variance is m (JCGM 100, 5.1.2); the best m counts. The j-th value after a shift
    is held against a mean that has taken up part of it: its score is n / sqrt((n+j-1)(n+j)) of the
    shift (Hawkins, as in `standard_scores`). Scatter that is known from few may be larger than it
    looks: its upper confidence limit counts, sqrt((n - 1) / chi2) of what was found, with chi2 that
    of which 1 - SEEN lie below (e-Handbook, 7.2.3.1, on the interval for a standard deviation; from
    memory). It errs to be wide: the tests simulate it.
    """
    if before <= 2:
        raise ValueError("expected more than two values")
    quantile, taken, least = _NORMAL.inv_cdf(SEEN), 0.0, math.inf
    for m in range(1, NEXT + 1):
        taken += before / math.sqrt((before + m - 1) * (before + m))
        least = min(least, (DECISION + SLACK * m + quantile * math.sqrt(m)) / taken)
    return least * math.sqrt((before - 1) / chi2_below(1 - SEEN, before - 1))
