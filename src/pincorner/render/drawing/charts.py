"""Where zeros were found, as control charts in black and white. Places are paper mm, Y up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from markupsafe import Markup

from pincorner.geometry.outline import Box
from pincorner.geometry.pose import XY
from pincorner.render.drawing.canvas import Canvas, Look, round_below, text_width
from pincorner.surveys.drift import AxisChart, Period, StationChart
from pincorner.units import Unit, exact_mm, figure, in_unit

PAPER_MM = 190.0

_DEVIATIONS, _SIGNS, _RANGES, _GAP = 31.0, 4.0, 13.0, 5.0  # heights of strips
_ABOVE, _LEVELS = 15.0, 3  # from a nest's name to its first strip; lines of words between
_STRIPS = _DEVIATIONS + _SIGNS + _RANGES + _GAP
_DATE, _LETTERS = 20.0, 3.25  # room for a date; height of letters, their capitals are 2.3
_LEAST_MM = 0.01  # no scale is finer: a hundredth is the last digit that people read

_FRAME = Look(0.15, stroke="#999")
_ZERO = Look(0.3)
_CENTRE = Look(0.25, stroke="#555", dashes=(3.0, 0.8, 0.6, 0.8))
_LIMIT = Look(0.35, dashes=(1.6, 1.0))
_RESTART = Look(0.5, stroke="#777")
_TRACE = Look(0.2, stroke="#777")
_POINT = Look(0.2, fill="#000")
_RING = Look(0.4)
_SIGN = Look(0.3, fill="#fff")


def history_drawing(station: str, charts: Sequence[StationChart], unit: Unit) -> Markup:
    """The charts of a station's nests, one under the other: deviations and moving ranges."""
    height = 36.0 + sum(map(_height, charts))
    title = f"station {station}: zero found less zero computed, {unit}"
    canvas = Canvas(Box(0.0, -height, PAPER_MM, 0.0), PAPER_MM, title)
    canvas.text((2.0, -5.0), title, 4.0, anchor="start", bold=True)
    top = -11.0
    for chart in charts:
        _draw_nest(canvas, chart, top, unit)
        top -= _height(chart)
    _draw_legend(canvas, top - 1.0)
    return canvas.svg()


def _axes(chart: StationChart) -> list[str]:
    return [a for a in "XYZ" if any(a == each.axis for s in chart.periods for each in s.axes)]


def _height(chart: StationChart) -> float:
    return 7.0 + _ABOVE + len(_axes(chart)) * _STRIPS


def _draw_nest(canvas: Canvas, chart: StationChart, top: float, unit: Unit) -> None:
    canvas.text((LEFT, top), f"nest {chart.nest}", 3.4, anchor="start", bold=True)
    columns = columns_of(chart)
    if not columns:
        canvas.text((LEFT, top - 8.0), "not verified yet", 3.4, anchor="start")
        return
    back = top - _ABOVE
    for axis in _axes(chart):
        traces = traces_of(columns, axis)
        _draw_deviations(canvas, axis, traces, back, unit)
        _draw_ranges(canvas, traces, back - _DEVIATIONS - _SIGNS, unit)
        back -= _STRIPS
    front = back + _GAP
    _draw_restarts(canvas, chart, columns, top - _ABOVE, front)
    _draw_dates(canvas, columns, front - 2.8)


def _draw_deviations(
    canvas: Canvas, axis: str, traces: Sequence[Trace], back: float, unit: Unit
) -> None:
    shown = [0.0]
    for trace in traces:
        chart = trace.chart
        shown += [v for v, usual in zip(chart.values, chart.ordinary, strict=True) if usual]
        shown += [chart.limits.lower, chart.limits.upper] if chart.limits else []
    room = max(0.15 * (max(shown) - min(shown)), _LEAST_MM)
    panel = Panel(back - _DEVIATIONS, back, min(shown) - room, max(shown) + room)
    _draw_frame(canvas, panel.front - _SIGNS, panel.back)
    canvas.text((LEFT - 19.0, (panel.front + panel.back) / 2), axis, 5.0, bold=True)
    for tick in ticks(panel, unit):
        y = panel.y(tick)
        canvas.line((LEFT - 1.2, y), (LEFT, y), _FRAME)
        canvas.text((LEFT - 2.0, y), signed(tick, unit) if tick else "0", _LETTERS, anchor="end")
    canvas.line((LEFT, panel.y(0.0)), (RIGHT, panel.y(0.0)), _ZERO)
    for trace in traces:
        _draw_limits(canvas, trace, panel)
        _draw_points(canvas, trace, panel, unit)
    _name_limits(canvas, traces[-1], panel, unit)


def _draw_frame(canvas: Canvas, front: float, back: float) -> None:
    canvas.polygon(Box(LEFT, front, RIGHT, back).outline, _FRAME)


def _draw_limits(canvas: Canvas, trace: Trace, panel: Panel) -> None:
    held = trace.chart.limits
    if held is not None:
        for value, look in ((held.centre, _CENTRE), (held.lower, _LIMIT), (held.upper, _LIMIT)):
            y = panel.y(value)
            canvas.line((trace.left, y), (trace.right, y), look)


def _name_limits(canvas: Canvas, trace: Trace, panel: Panel, unit: Unit) -> None:
    """The newest limits in figures, at the right, kept apart where they are close."""
    held = trace.chart.limits
    if held is None or trace.right < RIGHT - 1e-6:
        return
    y, apart = panel.y(held.centre), 1.4 * _LETTERS
    for place, name, value in (
        (max(panel.y(held.upper), y + apart), "limit", held.upper),
        (y, "mean", held.centre),
        (min(panel.y(held.lower), y - apart), "limit", held.lower),
    ):
        text = f"{name} {signed(value, unit)}"
        canvas.text((RIGHT + 1.5, place), text, _LETTERS, anchor="start")


def _draw_points(canvas: Canvas, trace: Trace, panel: Panel, unit: Unit) -> None:
    chart, xs = trace.chart, trace.xs
    places = [(x, panel.y(value)) for x, value in zip(xs, chart.values, strict=True)]
    _draw_trace(canvas, places)
    radius = _radius(trace)
    for (x, y), value, usual, beyond, sign in zip(
        places, chart.values, chart.ordinary, chart.beyond, chart.cusum.signals, strict=True
    ):
        canvas.circle((x, y), radius, _POINT)
        if beyond or not usual:
            canvas.circle((x, y), radius + 0.9, _RING)
        if not panel.low <= value <= panel.high:
            beside = y + (3.6 if value < 0 else -3.6)
            canvas.text((x, beside), signed(value, unit), _LETTERS, bold=True)
        if sign:
            _draw_signal(canvas, (x, panel.front - _SIGNS / 2), sign)


def _radius(trace: Trace) -> float:
    """Points, smaller where they stand close."""
    return min(0.9, 0.3 * (trace.right - trace.left) / len(trace.xs))


def _draw_trace(canvas: Canvas, places: Sequence[XY]) -> None:
    for start, end in pairwise(places):
        canvas.line(start, end, _TRACE)


def _draw_signal(canvas: Canvas, at: XY, sign: int) -> None:
    """A triangle that points to where the zero drifts."""
    x, y = at
    canvas.polygon([(x - 1.3, y - sign), (x + 1.3, y - sign), (x, y + sign)], _SIGN)


def _draw_ranges(canvas: Canvas, traces: Sequence[Trace], back: float, unit: Unit) -> None:
    """Moving ranges, from 0 at the front edge, and their limit."""
    ranges = [moved for trace in traces for _, moved in trace.chart.ranges]
    upper = [trace.chart.limits.range_upper for trace in traces if trace.chart.limits]
    panel = Panel(back - _RANGES, back, 0.0, 1.15 * max([*ranges, *upper, _LEAST_MM]))
    _draw_frame(canvas, panel.front, panel.back)
    middle = (panel.front + panel.back) / 2
    canvas.text((LEFT - 2.0, middle), "moving range", _LETTERS, anchor="end")
    for trace in traces:
        places = [(trace.xs[at], panel.y(moved)) for at, moved in trace.chart.ranges]
        _draw_trace(canvas, places)
        for place in places:
            canvas.circle(place, 0.7 * _radius(trace), _POINT)
        held = trace.chart.limits
        if held is not None:
            y = panel.y(held.range_upper)
            canvas.line((trace.left, y), (trace.right, y), _LIMIT)
            if trace.right >= RIGHT - 1e-6:
                text = f"limit {figure(held.range_upper, unit)}"
                canvas.text((RIGHT + 1.5, y), text, _LETTERS, anchor="start")


def _draw_restarts(
    canvas: Canvas, chart: StationChart, columns: Sequence[Column], back: float, front: float
) -> None:
    """What began a chart anew, above the line where it did, on as many levels as are needed."""
    marks = [(column.left, column.period.restart) for column in columns]
    if not chart.current.verifications:
        marks.append((RIGHT, chart.current.restart))
    ends = [-math.inf] * _LEVELS
    for x, restart in marks:
        if restart is None:
            continue
        text = _short(f"{restart.at[:10]} {restart.why}")
        wide, turned = text_width(text, _LETTERS), x > PAPER_MM / 2
        left, right = (x - 1.0 - wide, x - 1.0) if turned else (x + 1.0, x + 1.0 + wide)
        free = [level for level in range(_LEVELS) if ends[level] <= left]
        height = back + 2.0 + 3.8 * (free[0] if free else _LEVELS - 1)
        canvas.line((x, front), (x, height + 1.2), _RESTART)
        if free:  # what there is no room for stands in the table
            ends[free[0]] = right + 2.0
            canvas.text((left, height), text, _LETTERS, anchor="start")


def _short(text: str) -> str:
    return text if len(text) <= 50 else f"{text[:47]}..."


def _draw_dates(canvas: Canvas, columns: Sequence[Column], y: float) -> None:
    """Days of verifications, each once, counted back from the newest as far as there is room."""
    newest = math.inf
    dated = {
        each.at[:10]: x
        for column in columns
        for x, each in zip(column.xs, column.period.verifications, strict=True)
    }
    for day, x in reversed(dated.items()):
        if newest - x >= _DATE:
            canvas.line((x, y + 1.6), (x, y + 2.8), _FRAME)
            canvas.text((x, y), day, _LETTERS)
            newest = x


def _draw_legend(canvas: Canvas, y: float) -> None:
    """What the signs mean, a line each."""
    canvas.circle((4.0, y), 0.9, _POINT)
    canvas.circle((4.0, y - 4.6), 0.9, _POINT)
    canvas.circle((4.0, y - 4.6), 1.8, _RING)
    _draw_signal(canvas, (4.0, y - 9.2), 1)
    for row, text in enumerate((
        "found less computed, machine axes (line: computed)",
        "outside the limits, or a mistake that counts in none",
        "drifts slowly that way (CUSUM)",
        "Limits (dashed) come from the moving ranges below, from eight verifications on; a survey,",
        "a new pin or a registration begins a new chart.",
    )):  # fmt: skip
        x = 8.0 if row < 3 else 2.0
        canvas.text((x, y - 4.6 * row), text, _LETTERS, anchor="start")


LEFT, RIGHT = 27.0, 164.0
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
    step_mm = exact_mm(round_below(in_unit(panel.high - panel.low, unit) / 3), unit)
    first, last = math.ceil(panel.low / step_mm), math.floor(panel.high / step_mm)
    return [number * step_mm for number in range(first, last + 1)]


def signed(value_mm: float, unit: Unit) -> str:
    """A length in `unit` with the digits that a machine shows, and its sign unless it shows as
    zero."""
    text = figure(value_mm, unit)
    return text if text.startswith("-") or not text.strip("0.") else f"+{text}"
