"""What was verified at a station, as a page or as a drawing that stands alone."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pincorner.characters import visible
from pincorner.render.drawing.charts import history_drawing, signed
from pincorner.render.templating.templates import render_page
from pincorner.render.text.dates import State
from pincorner.surveys.drift import Period, StationChart
from pincorner.surveys.drift_advice import Advice, sees_text
from pincorner.units import Unit, figure


def render_history_svg(station: str, charts: Sequence[StationChart], unit: Unit) -> str:
    """The control charts of a station's nests as SVG."""
    drawing = history_drawing(station, charts, unit)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawing}\n'


def render_history_page(
    station: str,
    charts: Sequence[tuple[StationChart, Advice | None]],
    unit: Unit,
    overrides: Path | None,
    state: State | None = None,
) -> str:
    """The charts as a page with what to do (None: nothing verified since the last restart).

    Below stands every verification, the newest first. BadInput for a faulty template.
    """
    return render_page(
        "history.html.j2",
        overrides,
        station=visible(station),
        unit=unit,
        state=state.parts if state else [],
        nests=[
            {
                "name": visible(chart.nest),
                "action": said.action if said else "verify",
                "text": said.text if said else "Not verified since the chart began.",
                "sees": sees_text(chart.current, unit),
                "drawing": history_drawing(station, [chart], unit),
                "rows": _days_once(
                    [row for period in chart.periods[::-1] for row in _rows(period, unit)]
                ),
            }
            for chart, said in charts
        ],
    )


def _days_once(rows: list[dict[str, str]]) -> list[dict[str, str]]:
    """The same, each day at its first row alone."""
    shown, last = [], ""
    for row in rows:
        shown.append({**row, "day": "" if row["day"] == last else row["day"]})
        last = row["day"]
    return shown


def _rows(period: Period, unit: Unit) -> list[dict[str, str]]:
    """The verifications of a period, the newest first, and under them what began it."""
    rows = []
    for at, each in enumerate(period.verifications):
        dx, dy, dz = each.deviation
        rows.append(
            {
                "day": each.at[:10],
                "x": figure(each.x_mm, unit),
                "y": figure(each.y_mm, unit),
                "z": "" if each.z_mm is None else figure(each.z_mm, unit),
                "off_x": signed(dx, unit),
                "off_y": signed(dy, unit),
                "off_z": "" if dz is None else signed(dz, unit),
                "u": figure(each.u_mm, unit),
                "remark": "; ".join(_remarks(period, at)),
                "began": "",
            }
        )
    began = period.restart
    if began is not None and rows:
        rows[0]["began"] = visible(f"{began.at[:10]} {began.why}")
    return rows[::-1]


def _remarks(period: Period, at: int) -> list[str]:
    """What the charts of the axes say about a verification; ways are the machine's, as on charts:
    what is right and left to people depends on where they stand."""
    found = []
    for chart in period.axes:
        if at not in chart.places:
            continue
        place = chart.places.index(at)
        if not chart.ordinary[place]:
            found.append(f"{chart.axis} far out, counts in no limit")
        elif chart.beyond[place]:
            found.append(f"{chart.axis} outside its limits")
        sign = chart.cusum.signals[place]
        if sign:
            found.append(f"{chart.axis} drifts to {'plus' if sign > 0 else 'minus'}")
    return found
