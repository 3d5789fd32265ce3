"""Drawings of a bed that stand alone, and their pages: its stations, proposed places, a survey."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path

from markupsafe import Markup

from pincorner.characters import visible
from pincorner.documents.beds import Bed
from pincorner.geometry.outline import Box, bounds
from pincorner.geometry.pose import XY, Pose
from pincorner.places.search import PlaceProposal
from pincorner.render.drawing.bed import (
    PIN_LOOK,
    Looks,
    bed_canvas,
    bed_map,
    draw,
    paper_size_of_map,
)
from pincorner.render.drawing.canvas import Canvas, Look
from pincorner.render.drawing.scene import Shape, map_scene, pin_shapes
from pincorner.render.templating.templates import render_page
from pincorner.render.text.surveys import survey_figures
from pincorner.setups.printed import counted_from
from pincorner.setups.setup import Setup
from pincorner.setups.transform import OffsetRow
from pincorner.standing import Standing
from pincorner.surveys.result import SurveyedHole, SurveyResult
from pincorner.units import Unit, told

MAP_PAPER_MM = 270.0
_TALLEST_MM = 120.0
"""On a page: there stand the offsets below the map, some ten on one page."""


def render_map_svg(bed: Bed, rows: Sequence[OffsetRow]) -> str:
    """The bed with its stations as SVG."""
    scene = map_scene(bed, [row.setup for row in rows if row.setup is not None])
    drawing = bed_map(scene, MAP_PAPER_MM, named=True)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawing}\n'


def render_map_page(bed: Bed, rows: Sequence[OffsetRow], overrides: Path | None) -> str:
    """The bed with its stations as a page with their offsets. BadInput for a faulty template."""
    setups = [row.setup for row in rows if row.setup is not None]
    paper_mm = paper_size_of_map(bed, MAP_PAPER_MM, _TALLEST_MM)
    return render_page(
        "map.html.j2",
        overrides,
        bed=visible(bed.name),
        drawing=bed_map(map_scene(bed, setups), paper_mm, named=True),
        rows=[_row(setup) for setup in setups],
        unit=setups[0].printed.own.unit if setups else "mm",
        remarks=[visible(text) for text in dict.fromkeys(_remarks(rows))],
    )


def _remarks(rows: Sequence[OffsetRow]) -> Iterator[str]:
    """Findings, and why a nest has no block, each with whose it is."""
    for row in rows:
        if row.setup is None:
            yield row.refused or ""
            continue
        for finding in row.setup.findings:
            if finding not in row.setup.no_block:
                yield f"{row.setup.name}: {finding.text}"
        for reason in row.setup.no_block:
            yield f"{row.setup.name}: NO BLOCK: {reason.told}"


def _row(setup: Setup) -> dict[str, str]:
    own = setup.printed.own
    start = setup.relative_to or ""
    return {
        "station": visible(setup.facts.station.name),
        "nest": visible(setup.nest.name),
        "code": setup.work_offset or "-",
        "x": counted_from(start, own.x),
        "y": counted_from(start, own.y),
        "pins": ", ".join(f"{pin.role} {pin.hole}" for pin in setup.located.pins),
        "fingerprint": setup.fingerprint,
    }


_THERE = Look(0.3, fill="#bbb", opacity=0.45)
_ONE_BY_ONE: Looks = {"jig": Look(0.35), "pin": PIN_LOOK}
_TOGETHER: Looks = {"jig": Look(0.6, fill="#eee", opacity=0.6), "pin": PIN_LOOK}
_OTHER_PIN = Look(0.2, fill="#999")
_TAG = Look(0.4, fill="#fff")


def render_place_map(
    bed: Bed, standing: Sequence[Standing], shown: Sequence[PlaceProposal], *, together: bool
) -> str:
    """The bed as SVG with what stands there (grey) and the places shown, numbered from 1.

    `together`: they can be taken at once, and each carries its number in its middle. Else they may
    lie over each other, and numbers stand at the corners that the places are found by.
    """
    canvas = bed_canvas(bed, MAP_PAPER_MM, f"places on bed {bed.name}")
    _draw_standing(canvas, standing)
    shapes = [Shape("jig", each.station.name, each.footprint) for each in shown]
    shapes += [pin for each in shown for pin in pin_shapes(each.located)]
    looks = _TOGETHER if together else _ONE_BY_ONE
    draw(canvas, shapes, looks, least_pin_mm=0.6 * canvas.scale)
    for at, numbers in _tags(canvas, shown, together).items():
        _draw_tag(canvas, at, ", ".join(map(str, numbers)))
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{canvas.svg()}\n'


def _draw_standing(canvas: Canvas, standing: Sequence[Standing]) -> None:
    """Stations that are there, with the name of each in its jig; the bed draws its own solids."""
    for each in standing:
        if each.station and each.takes_room and each.kind != "pin":
            canvas.polygon(each.outline, _THERE)
        if each.footprint:
            canvas.text(bounds(each.outline).middle, each.station, 3.2)
    for each in standing:
        if each.kind == "pin":
            canvas.circle(each.outline[0], max(each.radius_mm, 0.6 * canvas.scale), _OTHER_PIN)


def _tags(canvas: Canvas, shown: Sequence[PlaceProposal], together: bool) -> dict[XY, list[int]]:
    """Numbers by the place where they stand; several places of one corner share one."""
    found: dict[XY, list[int]] = {}
    for number, each in enumerate(shown, 1):
        at = bounds(each.footprint).middle if together else _inside_corner(canvas, each)
        found.setdefault((round(at[0], 1), round(at[1], 1)), []).append(number)
    return found


def _inside_corner(canvas: Canvas, each: PlaceProposal) -> XY:
    """A little way from the jig's corner (on dowels, from its round hole) toward its middle."""
    x, y = each.located.corner_in_bed.x_mm, each.located.corner_in_bed.y_mm
    middle, away = bounds(each.footprint).middle, 5.0 * canvas.scale
    return (
        x + (away if middle[0] > x else -away),
        y + (away if middle[1] > y else -away),
    )


def _draw_tag(canvas: Canvas, at: XY, text: str) -> None:
    half_height = 2.6 * canvas.scale
    half_width = max(half_height, 0.95 * len(text) * canvas.scale + half_height / 2)
    x, y = at
    canvas.polygon(
        Box(x - half_width, y - half_height, x + half_width, y + half_height).outline, _TAG
    )
    canvas.text(at, text, 3.2, bold=True, halo=False)


LONGEST_MM = 14.0
"""The largest used residual on paper; arrows of readings that were left out are cut there too."""

_ARROW = Look(0.6)
_ODD = Look(0.6, dashes=(1.2, 0.8))
_DOT = Look(0.2, fill="#000")


def render_survey_svg(bed: Bed, result: SurveyResult) -> str:
    """The drawing, standing alone."""
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{survey_drawing(bed, result)}\n'


def render_survey_page(bed: Bed, result: SurveyResult, overrides: Path | None) -> str:
    """The drawing with the figures as a page. Raises BadInput for a faulty template."""
    return render_page(
        "survey.html.j2",
        overrides,
        bed=visible(bed.name),
        drawing=survey_drawing(bed, result),
        text="\n".join(survey_figures(bed, result)),
    )


def survey_drawing(bed: Bed, result: SurveyResult) -> Markup:
    """Arrows from holes to where they were found, much enlarged; dashed where left out."""
    canvas = bed_canvas(bed, MAP_PAPER_MM, f"survey of bed {bed.name}")
    largest = max((math.hypot(h.dx_mm, h.dy_mm) for h in result.holes if h.used), default=0.0)
    enlarged = LONGEST_MM * canvas.scale / largest if largest > 0 else 0.0
    to_bed = Pose.of_degrees("bed", "machine", 0.0, 0.0, -result.pose.angle_deg)
    for hole in result.holes:
        place = bed.hole(hole.label)
        if place is not None:
            _draw_arrow(canvas, hole, place.at_mm, to_bed, enlarged)
    scale = _scale_length(largest)
    if scale and enlarged:
        window = canvas.window
        at = (window.left + 2.0 * canvas.scale, window.back - 2.0 * canvas.scale)
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
    away = -1.0 if y > 0 else 1.0
    canvas.text((at[0], at[1] + away * 3.4 * canvas.scale), label, 3.0, bold=not hole.used)


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
    canvas.line(at, end, _ARROW)
    text = f"{told(length_mm, unit)}; dashed: left out, arrows cut short"
    canvas.text((end[0] + 2.0 * canvas.scale, at[1]), text, 3.0, anchor="start", halo=False)
