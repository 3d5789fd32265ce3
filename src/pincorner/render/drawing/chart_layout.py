"""Where things stand in a drawing of control charts, in paper mm, Y up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from pincorner.surveys.charts import AxisChart, Period, StationChart
from pincorner.units import MM_PER_INCH, Unit, fixed, in_unit

LEFT, RIGHT = 22.0, 238.0
"""Between these stand the verifications; beside them names and figures."""


class Panel(NamedTuple):
    """A strip of the drawing: values `low` to `high` (mm) lie from `front` to `back`."""

    front: float
    back: float
    low: float
    high: float

    def y(self, value: float) -> float:
        """Where a value stands; at the edge if it lies outside."""
        share = (value - self.low) / (self.high - self.low)
        return self.front + min(max(share, 0.0), 1.0) * (self.back - self.front)


class Column(NamedTuple):
    """A period in the drawing, from left to right, with a place for each of its verifications."""

    period: Period
    left: float
    right: float
    xs: tuple[float, ...]


class Trace(NamedTuple):
    """One axis of a column: its chart and the places of its values."""

    chart: AxisChart
    left: float
    right: float
    xs: tuple[float, ...]


def columns_of(chart: StationChart) -> list[Column]:
    """The periods side by side, their verifications equally far apart in the order of time."""
    step = (RIGHT - LEFT) / max(1, sum(len(period.verifications) for period in chart.periods))
    columns, left = [], LEFT
    for period in chart.periods:
        count = len(period.verifications)
        xs = tuple(left + (at + 0.5) * step for at in range(count))
        columns.append(Column(period, left, left + count * step, xs))
        left += count * step
    return columns


def traces_of(columns: Sequence[Column], axis: str) -> list[Trace]:
    """One axis through all columns that have it."""
    return [
        Trace(chart, column.left, column.right, tuple(column.xs[at] for at in chart.places))
        for column in columns
        for chart in column.period.axes
        if chart.axis == axis
    ]


def ticks(panel: Panel, unit: Unit) -> list[float]:
    """Round values in `unit`, three to six of them, as mm."""
    reach = in_unit(panel.high - panel.low, unit)
    power = 10.0 ** math.floor(math.log10(reach / 3))
    step = max(factor * power for factor in (1, 2, 5) if factor * power <= reach / 3)
    step_mm = step * (1.0 if unit == "mm" else MM_PER_INCH)
    first, last = math.ceil(panel.low / step_mm), math.floor(panel.high / step_mm)
    return [number * step_mm for number in range(first, last + 1)]


def plain(value_mm: float, unit: Unit) -> str:
    """A length in `unit` with the digits that a machine shows."""
    return fixed(in_unit(value_mm, unit), 3 if unit == "mm" else 4)


def signed(value_mm: float, unit: Unit) -> str:
    """The same with its sign, unless it shows as zero."""
    text = plain(value_mm, unit)
    return text if text.startswith("-") or not text.strip("0.") else f"+{text}"
