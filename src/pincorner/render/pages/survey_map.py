"""A survey as a picture: what each reading lies off, as arrows over the bed."""

from __future__ import annotations

import math
from pathlib import Path

from markupsafe import Markup

from pincorner.characters import visible
from pincorner.documents.beds import Bed
from pincorner.geometry.pose import XY, Pose
from pincorner.render.drawing.bed import bed_canvas, keep_lines, paper_size_of_map
from pincorner.render.drawing.canvas import Canvas, Look, round_below
from pincorner.render.drawing.labels import Labels, Line, around
from pincorner.render.templating.templates import render_page
from pincorner.render.text.dates import State
from pincorner.render.text.surveys import survey_figures
from pincorner.setups.person import Person
from pincorner.setups.printed import short
from pincorner.surveys.result import SurveyedHole, SurveyResult
from pincorner.units import Unit, exact_mm, fixed, in_unit

LONGEST_MM = 12.0
"""The largest used residual on paper; arrows of readings that were left out are cut there too."""

_WIDEST_MM, _TALLEST_MM, _FOOT_MM = 262.0, 148.0, 9.0
"""Of the drawing on a page, with the scale below it."""
_LETTERS_MM = 3.4
_ARROW = Look(0.6)
_ODD = Look(0.6, dashes=(1.2, 0.8))
_DOT = Look(0.2, fill="#000")


def render_survey_svg(bed: Bed, result: SurveyResult, person: Person) -> str:
    """The drawing, standing alone."""
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{survey_drawing(bed, result, person)}\n'


def render_survey_page(
    bed: Bed,
    result: SurveyResult,
    person: Person,
    overrides: Path | None,
    state: State | None = None,
) -> str:
    """The drawing with the figures as a page. Raises BadInput for a faulty template."""
    return render_page(
        "survey.html.j2",
        overrides,
        bed=visible(bed.name),
        drawing=survey_drawing(bed, result, person),
        text="\n".join(survey_figures(bed, result)),
        state=state.parts if state else [],
    )


def survey_drawing(bed: Bed, result: SurveyResult, person: Person) -> Markup:
    """Arrows from holes to where they were found, much enlarged; dashed where left out."""
    tall_mm = _TALLEST_MM - _FOOT_MM
    paper_mm = paper_size_of_map(bed, _WIDEST_MM, tall_mm, person)
    canvas = bed_canvas(
        bed, paper_mm, f"survey of bed {bed.name}", person, _LETTERS_MM, _in_words(result)
    )
    canvas.foot_mm = _FOOT_MM
    largest = max((math.hypot(h.dx_mm, h.dy_mm) for h in result.holes if h.used), default=0.0)
    enlarged = LONGEST_MM * canvas.scale / largest if largest > 0 else 0.0
    to_bed = Pose.of_degrees("bed", "machine", 0.0, 0.0, -result.pose.angle_deg)
    labels, placed = Labels(canvas), []
    keep_lines(labels, bed)
    for hole in result.holes:
        place = bed.hole(hole.label)
        if place is not None:
            tip = _draw_arrow(canvas, hole, place.at_mm, to_bed, enlarged)
            labels.keep_line(place.at_mm, tip)
            labels.keep(around(place.at_mm, 0.7 * canvas.scale))
            placed.append((hole, place.at_mm, tip))
    for hole, at, tip in placed:
        away = (at[0] - tip[0], at[1] - tip[1])
        text = hole.label if hole.used else f"{hole.label} left out"
        line = Line(text, _LETTERS_MM, bold=not hole.used)
        labels.beside([line], around(at, 0.7 * canvas.scale), away if any(away) else None)
    labels.draw_leaders()
    if largest > 0:
        _draw_scale(canvas, round_below(in_unit(largest, result.unit)), enlarged, result.unit)
    return canvas.svg()


def _in_words(result: SurveyResult) -> str:
    """What the drawing shows, for whoever cannot see it."""
    out = ", ".join(hole.label for hole in result.holes if not hole.used)
    told = f"How far {len(result.holes)} measured holes lie off their fitted places, as arrows."
    return f"{told} Left out: {out}." if out else told


def _draw_arrow(canvas: Canvas, hole: SurveyedHole, at: XY, to_bed: Pose, enlarged: float) -> XY:
    """An arrow from a hole; its tip."""
    x, y = to_bed.vector((hole.dx_mm * enlarged, hole.dy_mm * enlarged))
    length, longest = math.hypot(x, y), 1.6 * LONGEST_MM * canvas.scale
    if length > longest:
        x, y = x * longest / length, y * longest / length
    tip = (at[0] + x, at[1] + y)
    canvas.circle(at, 0.7 * canvas.scale, _DOT)
    canvas.line(at, tip, _ARROW if hole.used else _ODD)
    _draw_head(canvas, at, tip)
    return tip


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


def _draw_scale(canvas: Canvas, length: float, enlarged: float, unit: Unit) -> None:
    """A line with its length in `unit`, below the drawing."""
    start, wide_mm = canvas.in_foot(2.0, 4.0), exact_mm(length, unit) * enlarged / canvas.scale
    end = canvas.in_foot(2.0 + wide_mm, 4.0)
    ends = [(canvas.in_foot(x, 2.6), canvas.in_foot(x, 5.4)) for x in (2.0, 2.0 + wide_mm)]
    canvas.strokes_seen([(start, end), *ends], _ARROW)
    text = f"{short(fixed(length, 6))} {unit} off"
    canvas.text_seen(
        canvas.in_foot(4.0 + wide_mm, 4.0), text, _LETTERS_MM, anchor="start", bold=True, halo=False
    )
    if canvas.paper_mm > 120:
        canvas.text_seen(
            canvas.in_foot(46.0 + wide_mm, 4.0), "dashed: left out, its arrow cut short",
            _LETTERS_MM, anchor="start", halo=False,
        )  # fmt: skip
