"""A program's path over the bed, with the findings marked: as a drawing and as a page."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import Path

from markupsafe import Markup

from pincorner.characters import visible
from pincorner.geometry.outline import Box, bounds
from pincorner.geometry.pose import XY
from pincorner.program.check.result import CheckFinding, Report
from pincorner.program.path.points import PathLines
from pincorner.render.drawing.bed import FRONT_LOOK, PIN_LOOK, SOLID_LOOK, Looks, draw, draw_bed
from pincorner.render.drawing.canvas import Canvas, Look, cut_to
from pincorner.render.drawing.scene import (
    Disc,
    Shape,
    front_shapes,
    jig_shape,
    pin_shapes,
    standing_shapes,
    stock_shape,
)
from pincorner.render.templating.templates import render_page
from pincorner.render.text.programs import CAUTIONS, LOOKED_AT, VERDICTS
from pincorner.setups.setup import Setup
from pincorner.standing import Standing, standing_of, standing_on

PAPER_MM = 270.0
_ONE_SIGN_MM = 12.0
"""Findings nearer than this on paper share a sign: their numbers would cover each other."""

_TALLEST_MM = 180.0
_KEY_MM = 4.6
"""From line to line of the key."""

_OTHERS: Looks = {"jig": Look(0.3, fill="#bbb", opacity=0.45), "pin": PIN_LOOK}
_OWN: Looks = {
    "jig": Look(0.5),
    "front": FRONT_LOOK,
    "standing": SOLID_LOOK,
    "stock": Look(0.3, dashes=(2, 1)),
    "pin": PIN_LOOK,
}
_CUT = Look(0.18)
_RAPID = Look(0.16, stroke="#444", dashes=(1.2, 0.8))
_KEY = Look(0.3, fill="#fff")
_SIGN = Look(0.5, fill="#fff")


def render_path_svg(setup: Setup, others: Iterable[Setup], report: Report, path: PathLines) -> str:
    """The drawing with the findings below it, standing alone."""
    drawing = path_drawing(setup, others, report, path, with_key=True)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawing}\n'


def render_path_page(
    setup: Setup,
    others: Iterable[Setup],
    report: Report,
    path: PathLines,
    overrides: Path | None,
) -> str:
    """The drawing with the findings as a page. Raises BadInput for a faulty template."""
    numbers = _numbers(report.findings)
    return render_page(
        "check.html.j2",
        overrides,
        program=visible(report.program),
        station=visible(report.station),
        nest=visible(report.nest),
        fingerprint=report.fingerprint,
        drawing=path_drawing(setup, others, report, path),
        verdict=VERDICTS[report.verdict],
        findings=[
            {
                "number": numbers.get(finding, ""),
                "text": visible(finding.text),
                "code": finding.code,
            }
            for finding in report.findings
        ],
        looked_at=LOOKED_AT,
        not_checked=[visible(text) for text in report.not_checked],
        cautions=CAUTIONS,
    )


def path_drawing(
    setup: Setup,
    others: Iterable[Setup],
    report: Report,
    path: PathLines,
    *,
    with_key: bool = False,
) -> Markup:
    """The bed around a station with the path: cuts as lines, rapids dashed, findings numbered.

    `with_key`: what the numbers stand for is written below.
    """
    placed = [f.place_mm for f in report.findings if f.place_mm is not None]
    person = setup.person
    window = _window(setup, path, placed)
    key = _key(report.findings) if with_key else []
    foot_mm = (len(key) + 0.9) * _KEY_MM if key else 0.0
    title = f"{report.program} at {report.station}"
    canvas = Canvas(window, PAPER_MM, title, person, foot_mm=foot_mm)
    draw_bed(canvas, setup.facts.bed)
    _draw_others(canvas, standing_on(setup.facts.bed, others))
    draw(canvas, (jig_shape(setup), *front_shapes(setup)), _OWN)
    for each in standing_shapes(setup):
        draw(canvas, [each], _OWN)
        canvas.text(bounds(each.outline).middle, each.name, 2.2)
    draw(canvas, (stock_shape(setup), *pin_shapes(setup.located)), _OWN)
    for lines, look in ((path.rapids, _RAPID), (path.cuts, _CUT)):
        if lines:
            canvas.strokes(lines, look)
    for place, numbers in _signs(report.findings, _ONE_SIGN_MM * canvas.scale):
        _draw_sign(canvas, place, ", ".join(numbers))
    if key:
        corners = ((0.0, 0.0), (PAPER_MM, 0.0), (PAPER_MM, foot_mm), (0.0, foot_mm))
        canvas.polygon_seen([canvas.in_foot(*each) for each in corners], _KEY)
    for row, line in enumerate(key, 1):
        at = canvas.in_foot(1.0, row * _KEY_MM)
        canvas.text_seen(at, line, 0.7 * _KEY_MM, anchor="start", halo=False)
    return canvas.svg()


def _key(findings: Sequence[CheckFinding]) -> list[str]:
    """The findings that have a number, each cut to a line of the drawing."""
    lines = [f"{number}  {finding.text}" for finding, number in _numbers(findings).items()]
    widest = PAPER_MM - 2.0
    return [cut_to(widest, line, 0.7 * _KEY_MM) for line in lines]


def _signs(findings: Sequence[CheckFinding], within_mm: float) -> list[tuple[XY, list[str]]]:
    """Places with the numbers of their findings; what lies near an earlier place joins it."""
    signs: list[tuple[XY, list[str]]] = []
    for finding, number in _numbers(findings).items():
        assert finding.place_mm is not None
        at = finding.place_mm
        near = next((numbers for place, numbers in signs if math.dist(place, at) < within_mm), None)
        if near is None:
            signs.append((at, [number]))
        else:
            near.append(number)
    return signs


def _numbers(findings: Sequence[CheckFinding]) -> dict[CheckFinding, str]:
    """The numbers of the findings that have a place."""
    placed = [finding for finding in findings if finding.place_mm is not None]
    return {finding: str(number) for number, finding in enumerate(placed, 1)}


def _window(setup: Setup, path: PathLines, places: Sequence[XY]) -> Box:
    """The station with its path and findings, in the proportions of a sheet of paper."""
    points = [*setup.footprint_in_bed(), *(pin.at_mm for pin in setup.located.pins), *places]
    solids = (each for each in standing_of(setup) if each.kind in ("solid", "clamp"))
    points += [point for each in solids for point in each.outline]
    points += [point for lines in path for line in lines for point in line]
    box = bounds(tuple(points))
    box = box.grown(0.06 * max(box.width, box.depth))
    if setup.person.of_bed % 2:  # seen from the side, its depth is what lies across the paper
        wide = max(0.0, box.width * PAPER_MM / _TALLEST_MM - box.depth) / 2
        return box._replace(front=box.front - wide, back=box.back + wide)
    wide = max(0.0, box.depth * PAPER_MM / _TALLEST_MM - box.width) / 2
    return box._replace(left=box.left - wide, right=box.right + wide)


def _draw_others(canvas: Canvas, standing: Sequence[Standing]) -> None:
    """What other stations put there, with their names; the bed draws what is its own."""
    theirs = [each for each in standing if each.station]
    for each in theirs:
        if each.takes_room and each.kind != "pin":
            draw(canvas, [Shape("jig", each.station, each.outline)], _OTHERS)
        if each.footprint:
            canvas.text(bounds(each.outline).middle, each.station, 3.0)
    pins = (each for each in theirs if each.kind == "pin")
    discs = (Shape("pin", each.hole, Disc(each.outline[0], each.radius_mm)) for each in pins)
    draw(canvas, discs, _OTHERS)


def _draw_sign(canvas: Canvas, place: XY, number: str) -> None:
    """A triangle with its tip at the place and the numbers over it."""
    (x, y), size = canvas.turned(place), 1.6 * canvas.scale
    canvas.polygon_seen([(x, y), (x - size, y + 2 * size), (x + size, y + 2 * size)], _SIGN)
    canvas.text_seen((x, y + 3.2 * size), number, 3.6, bold=True)
