"""The verifications of a nest on control charts, begun anew where something was changed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, compress
from statistics import median
from typing import NamedTuple

from pincorner.geometry.charts import (
    FEWEST,
    Cusum,
    Limits,
    drift_cusum,
    limits,
    moving_ranges,
    ordinary,
)
from pincorner.surveys.drift import Verification


class Restart(NamedTuple):
    """A change after which older verifications say nothing: a survey, a new pin, a registration.

    `at` as in `Verification`; `why` is shown at its place in the chart. `whys`: several where no
    verification lies between them.
    """

    at: str
    whys: tuple[str, ...]

    @property
    def why(self) -> str:
        return ", ".join(self.whys)


class AxisChart(NamedTuple):
    """Deviations along one machine axis in one period, mm.

    `places`: which verification of the period each value belongs to (Z is not always measured).
    `ordinary`: whether a value counts in the limits; the others are mistakes, far out. `limits` is
    None below eight ordinary values (or where all are equal), and so long nothing is `beyond`; the
    CUSUM signals from the eighth on.
    """

    axis: str
    places: tuple[int, ...]
    values: tuple[float, ...]
    ordinary: tuple[bool, ...]
    limits: Limits | None
    beyond: tuple[bool, ...]
    cusum: Cusum

    @property
    def ranges(self) -> tuple[tuple[int, float], ...]:
        """Moving ranges between ordinary values, each with the later one's place in `values`."""
        kept = [at for at, counts in enumerate(self.ordinary) if counts]
        moved = moving_ranges([self.values[at] for at in kept])
        return tuple(zip(kept[1:], moved, strict=True))

    @property
    def drift_from(self) -> int | None:
        """The value with which the drift began that the CUSUM signals last; None without one.

        The first after the sum was last 0 (Montgomery, Introduction to Statistical Quality
        Control, on the time of a shift; from memory).
        """
        if not self.values or not self.cusum.signals[-1]:
            return None
        sums = self.cusum.upper if self.cusum.signals[-1] > 0 else self.cusum.lower
        zeros = [at for at, each in enumerate(sums) if each == 0.0]
        return zeros[-1] + 1 if zeros else 0


class Period(NamedTuple):
    """Verifications between two restarts: one chart for each axis, X, Y and, where known, Z."""

    restart: Restart | None
    verifications: tuple[Verification, ...]
    axes: tuple[AxisChart, ...]

    def of_last(self) -> tuple[AxisChart, ...]:
        """The axes on which the last verification has a value, which is the last of each."""
        newest = len(self.verifications) - 1
        return tuple(axis for axis in self.axes if axis.places and axis.places[-1] == newest)


class StationChart(NamedTuple):
    """All periods of a nest that hold verifications, oldest first, and the one that goes on now."""

    nest: str
    periods: tuple[Period, ...]
    current: Period


def chart(
    nest: str, verifications: Sequence[Verification], restarts: Sequence[Restart] = ()
) -> StationChart:
    """The control charts of one nest, from its verifications in the order they were made."""
    rest = list(verifications)
    periods = []
    begins: Restart | None = None
    for restart in sorted(restarts):
        before = [each for each in rest if each.at < restart.at]
        rest = rest[len(before) :]
        if before:
            periods.append(_period(begins, before))
            begins = restart
        else:
            begins = _both(begins, restart)
    current = _period(begins, rest)
    return StationChart(nest, (*periods, current) if rest else tuple(periods), current)


def _both(earlier: Restart | None, later: Restart) -> Restart:
    """Two restarts with no verification between them, as one."""
    known = () if earlier is None else earlier.whys
    return Restart(later.at, (*known, *(why for why in later.whys if why not in known)))


def _period(restart: Restart | None, verifications: Sequence[Verification]) -> Period:
    axes = []
    for index, axis in enumerate("XYZ"):
        known = [
            (place, value)
            for place, each in enumerate(verifications)
            if (value := each.deviation[index]) is not None
        ]
        if known:
            least_sd = median(verifications[place].u_mm for place, _ in known)
            places, values = zip(*known, strict=True)
            axes.append(_axis_chart(axis, places, values, least_sd))
    return Period(restart, tuple(verifications), tuple(axes))


def _no_finer(held: Limits, reach: float) -> Limits:
    """Limits that are nowhere nearer to the middle than what can be measured.

    Rounded read-outs repeat exactly, and then say little about what comes next.
    """
    lower, upper = min(held.lower, held.centre - reach), max(held.upper, held.centre + reach)
    return held._replace(lower=lower, upper=upper)


def _axis_chart(
    axis: str, places: tuple[int, ...], values: tuple[float, ...], least_sd: float
) -> AxisChart:
    counted = ordinary(values, least_sd)
    scatter = list(compress(values, counted))
    alike = len(set(scatter)) <= 1  # readings too coarse to show any scatter
    held = None
    if len(scatter) >= FEWEST and not alike:
        held = _no_finer(limits(scatter), least_sd)
    beyond = tuple(held is not None and not held.hold(value) for value in values)
    sums = drift_cusum(values, counted)
    known = accumulate(counted)  # ordinary values up to here, this one among them
    signals = (sign * (n >= FEWEST) for sign, n in zip(sums.signals, known, strict=True))
    cusum = sums._replace(signals=tuple(signals))
    return AxisChart(axis, places, values, counted, held, beyond, cusum)
