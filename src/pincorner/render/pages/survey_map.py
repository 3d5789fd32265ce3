"""A survey as a picture: what each reading lies off, as arrows over the bed."""

from __future__ import annotations

import math
from pathlib import Path

from markupsafe import Markup

from pincorner.characters import visible
from pincorner.documents.beds import Bed
from pincorner.geometry.pose import XY, Pose
from pincorner.render.drawing.bed import bed_canvas
from pincorner.render.drawing.canvas import Canvas, Look
from pincorner.render.pages.maps import MAP_PAPER_MM
from pincorner.render.templating.templates import render_page
from pincorner.render.text.surveys import survey_figures
from pincorner.setups.person import Person
from pincorner.surveys.result import SurveyedHole, SurveyResult
from pincorner.units import Unit, told

LONGEST_MM = 14.0
"""The largest used residual on paper; arrows of readings that were left out are cut there too."""

_ARROW = Look(0.6)
_ODD = Look(0.6, dashes=(1.2, 0.8))
_DOT = Look(0.2, fill="#000")


def render_survey_svg(bed: Bed, result: SurveyResult, person: Person) -> str:
    """The drawing, standing alone."""
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{survey_drawing(bed, result, person)}\n'


def render_survey_page(
    bed: Bed, result: SurveyResult, person: Person, overrides: Path | None
) -> str:
    """The drawing with the figures as a page. Raises BadInput for a faulty template."""
    return render_page(
        "survey.html.j2",
        overrides,
        bed=visible(bed.name),
        drawing=survey_drawing(bed, result, person),
        text="\n".join(survey_figures(bed, result)),
    )


def survey_drawing(bed: Bed, result: SurveyResult, person: Person) -> Markup:
    """Arrows from holes to where they were found, much enlarged; dashed where left out."""
    canvas = bed_canvas(bed, MAP_PAPER_MM, f"survey of bed {bed.name}", person)
    largest = max((math.hypot(h.dx_mm, h.dy_mm) for h in result.holes if h.used), default=0.0)
    enlarged = LONGEST_MM * canvas.scale / largest if largest > 0 else 0.0
    to_bed = Pose.of_degrees("bed", "machine", 0.0, 0.0, -result.pose.angle_deg)
    for hole in result.holes:
        place = bed.hole(hole.label)
        if place is not None:
            _draw_arrow(canvas, hole, place.at_mm, to_bed, enlarged)
    scale = _scale_length(largest)
    if scale and enlarged:
        view = canvas.view
        at = (view.left + 2.0 * canvas.scale, view.back - 2.0 * canvas.scale)
        _draw_scale(canvas, at, scale, enlarged, result.unit)
    return canvas.svg()


def _draw_arrow(canvas: Canvas, hole: SurveyedHole, at: XY, to_bed: Pose, enlarged: float) -> None:
    x, y = to_bed.vector((hole.dx_mm * enlarged, hole.dy_mm * enlarged))
    length, longest = math.hypot(x, y), 1.6 * LONGEST_MM * canvas.scale
    if length > longest:
        x, y = x * longest / length, y * longest / length
    tip = (at[0] + x, at[1] + y)
    canvas.circle(at, 0.7 * canvas.scale, _DOT)
    canvas.line(at, tip, _ARROW if hole.used else _ODD)
    _draw_head(canvas, at, tip)
    label = hole.label if hole.used else f"{hole.label}: {hole.suspect or 'left out'}"
    away = -1.0 if canvas.turned((x, y))[1] > 0 else 1.0
    canvas.text(canvas.moved(at, 0.0, away * 3.4), label, 3.0, bold=not hole.used)


def _draw_head(canvas: Canvas, start: XY, tip: XY) -> None:
    length = math.dist(start, tip)
    size = min(2.0 * canvas.scale, 0.6 * length)
    if size <= 0:
        return
    ux, uy = (tip[0] - start[0]) / length, (tip[1] - start[1]) / length
    back = (tip[0] - ux * size, tip[1] - uy * size)
    wings = [(back[0] + sign * 0.4 * size * -uy, back[1] + sign * 0.4 * size * ux)
             for sign in (1, -1)]  # fmt: skip
    canvas.polygon([tip, *wings], _DOT)


def _scale_length(largest_mm: float) -> float:
    """A round length for the scale, at most the largest residual."""
    if largest_mm <= 0:
        return 0.0
    power = 10.0 ** math.floor(math.log10(largest_mm))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= largest_mm)


def _draw_scale(canvas: Canvas, at: XY, length_mm: float, enlarged: float, unit: Unit) -> None:
    end = (at[0] + length_mm * enlarged, at[1])
    canvas.strokes_seen([(at, end)], _ARROW)
    text = f"{told(length_mm, unit)}; dashed: left out, arrows cut short"
    place = (end[0] + 2.0 * canvas.scale, at[1])
    canvas.text_seen(place, text, 3.0, anchor="start", halo=False)
