"""The timeline of a run, as text for a terminal and as a drawing."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from pincorner.geometry.outline import Box
from pincorner.render.drawing.canvas import Canvas, Look
from pincorner.render.drawing.station_names import wrapped_name
from pincorner.render.text.tables import table
from pincorner.runs.timeline import Bar, Timeline
from pincorner.units import clock

SIGNS = {"load": "L", "attend": "+", "cut": "#", "wait": "w"}
"""A sign for each kind of work; waiting is a dot."""

_LOOKS = {
    "load": Look(0.3, fill="#fff"),
    "attend": Look(0.3, fill="#000"),
    "cut": Look(0.3, fill="#bbb"),
    "wait": Look(0.3, fill="#fff", dashes=(0.8, 0.8)),
}
_ROW = Look(0.15, stroke="#999")
_NAME_MM, _BESIDE_MM = 3.6, 38.0
"""Letters of the stations' names, and room for them at the left of the bars."""
_HALF_BAR_MM, _RULER_MM = 2.88, 12.6


def timeline_table(lines: Sequence[Timeline]) -> str:
    """A line for one station, two, ...: what each more is worth."""
    heads = (
        "with", "round", "bound", "total", "parts\nan h", "gain", "cuts", "operator\nworks",
        "loaded\nin cuts", "loaded\nstanding",
    )  # fmt: skip
    rows = [timeline_cells(each) for each in _with_before(lines)]
    return table(heads, rows, ".rrrrrrrrr", texts=(0,))


def _with_before(lines: Sequence[Timeline]) -> list[tuple[Timeline | None, Timeline]]:
    return [(lines[at - 1] if at else None, line) for at, line in enumerate(lines)]


def timeline_cells(pair: tuple[Timeline | None, Timeline]) -> tuple[str, ...]:
    """The cells of a line; the stations that came before it are not named again."""
    before, line = pair
    return (
        line.order[0] if before is None else f"+ {line.order[-1]}",
        clock(line.round_s),
        clock(line.bound_s),
        clock(line.total_s),
        f"{line.parts_per_hour:.1f}",
        "" if before is None else gain_told(before, line),
        f"{line.spindle_share * 100:.0f} %",
        f"{line.operator_share * 100:.0f} %",
        clock(line.cutting_loads_s),
        clock(line.standing_loads_s),
    )


def gain_of(before: Timeline, line: Timeline) -> float:
    """Parts an hour more, as a share."""
    return line.parts_per_hour / before.parts_per_hour - 1


def gain_told(before: Timeline, line: Timeline) -> str:
    """The same in whole per cent, of which nought has one sign: `+34 %`."""
    return f"{round(100 * gain_of(before, line)):+d} %"


def waits_text(line: Timeline) -> str:
    """How long each station stood loaded before the spindle came, over the whole run."""
    waits = ", ".join(f"{name} {clock(seconds)}" for name, seconds in line.waits_s)
    return f"loaded and waiting for the spindle: {waits}"


_SIGNS = 66
"""So many signs show the beginning of a run."""


def timeline_text(line: Timeline) -> str:
    """The beginning of a run: a row of signs for each station."""
    shown = _beginning(line)
    step = shown / _SIGNS
    rows = []
    for name in line.order:
        cells = ["."] * _SIGNS
        for bar in line.bars:
            if bar.station == name:
                first, last = int(bar.start_s / step), max(int(bar.end_s / step), 1)
                for at in range(first, min(max(last, first + 1), _SIGNS)):
                    cells[at] = SIGNS[bar.kind]
        rows.append((name, "".join(cells)))
    ruler = f"0{clock(shown):>{_SIGNS - 1}}"
    return (
        table(("station", ruler), rows)
        + "L loading, + operator at the machine, # cutting, . nothing\n"
        "w the spindle waits at a stop\n"
    )


def timeline_drawing(line: Timeline, paper_mm: float) -> Markup:
    """The beginning of a run as bars: white loading, black attended, grey cutting."""
    shown = _beginning(line)
    names = [wrapped_name(name, _NAME_MM, _BESIDE_MM - 3.0) for name in line.order]
    row_mm = max(9.0, *(1.15 * _NAME_MM * len(lines) for lines in names))
    scale = shown / (paper_mm - _BESIDE_MM - 2.0)
    height = scale * (row_mm * len(line.order) + _RULER_MM)
    canvas = Canvas(
        Box(-_BESIDE_MM * scale, -height, shown + 2.0 * scale, 0.0), paper_mm, "timeline"
    )
    for at, name in enumerate(line.order):
        top = -at * row_mm * scale
        middle = top - 0.5 * row_mm * scale
        canvas.line((0.0, middle), (shown, middle), _ROW)
        for number, text in enumerate(names[at]):
            below = (number - (len(names[at]) - 1) / 2) * 1.15 * _NAME_MM * scale
            canvas.text(
                (-1.5 * scale, middle - below), text, _NAME_MM, anchor="end", bold=True, halo=False
            )
        for bar in line.bars:
            if bar.station == name and bar.start_s < shown:
                _draw_bar(canvas, bar, middle, _HALF_BAR_MM * scale, shown)
    _draw_ruler(canvas, shown, -len(line.order) * row_mm * scale, scale)
    return canvas.svg()


def _draw_bar(canvas: Canvas, bar: Bar, middle: float, half: float, shown: float) -> None:
    end = min(bar.end_s, shown)
    outline = Box(bar.start_s, middle - half, end, middle + half).outline
    canvas.polygon(outline, _LOOKS[bar.kind])


def _draw_ruler(canvas: Canvas, shown: float, at: float, scale: float) -> None:
    steps = (10, 30, 60, 120, 300, 600, 1800, 3600, 7200, 36000)
    step = next((each for each in steps if shown / each <= 8), steps[-1])
    for number in range(int(shown / step) + 1):
        x = number * step
        canvas.line((x, at), (x, at - 1.5 * scale), Look(0.3))
        canvas.text((x, at - 5.0 * scale), clock(x), 3.2, halo=False)


def _beginning(line: Timeline) -> float:
    """Seconds that are shown: about three rounds, or all of a short run."""
    return min(line.total_s, 3.2 * max(line.round_s, 1.0), line.bars[-1].end_s)
