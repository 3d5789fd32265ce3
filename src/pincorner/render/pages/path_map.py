"""A program's path over the bed, with the findings marked: as a drawing and as a page."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from pathlib import Path

from markupsafe import Markup

from pincorner.characters import visible
from pincorner.geometry.outline import Box, bounds
from pincorner.geometry.pose import XY
from pincorner.program.check.result import CheckFinding, Report, in_the_way
from pincorner.program.path.points import PathLines
from pincorner.render.drawing.bed import (
    PIN_LOOK,
    SOLID_LOOK,
    Looks,
    draw,
    draw_bed,
    keep_lines,
)
from pincorner.render.drawing.canvas import Canvas, Look, cut_to, text_width
from pincorner.render.drawing.jig_marks import (
    draw_band,
    draw_zero,
    fronts_of,
    name_marks,
)
from pincorner.render.drawing.labels import Labels, Line, around
from pincorner.render.drawing.scene import (
    Disc,
    Shape,
    jig_shape,
    pin_shapes,
    standing_shapes,
    stock_shape,
)
from pincorner.render.templating.templates import kept_whole, render_page
from pincorner.render.text.dates import State
from pincorner.render.text.programs import CAUTIONS, verdict_told
from pincorner.setups.setup import Setup
from pincorner.standing import Standing, standing_on, standing_up

PAPER_MM, _BESIDE_MM = 270.0, 172.0
"""How wide the drawing is printed: alone, and with findings beside it."""
_FIRST = 7
"""Findings that stand on the first page, whatever their length."""
_LEAST_LETTERS = 3.4
"""So that capitals are 2.3 mm high, on a page that makes the drawing a little smaller too."""
_APART_MM = 17.0
"""Holes are labelled at least this far apart on paper."""
_ONE_SIGN_MM = 12.0
"""Findings nearer than this on paper share a sign: their numbers would cover each other."""

_TALLEST_SHARE = 2 / 3
"""Of the width."""
_KEY_MM = 4.6
"""From line to line of the key."""

_OTHERS: Looks = {"jig": Look(0.3, fill="#bbb", opacity=0.45), "pin": PIN_LOOK}
_OWN: Looks = {
    "jig": Look(0.5),
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
    state: State | None = None,
) -> str:
    """The drawing with the findings as a page. Raises BadInput for a faulty template."""
    numbers = _numbers(report.findings)
    findings = [
        {"number": numbers.get(each, ""), "text": kept_whole(each.text), "code": each.code}
        for each in report.findings
    ]
    return render_page(
        "check.html.j2",
        overrides,
        program=visible(report.program),
        station=visible(report.station),
        nest=visible(report.nest),
        fingerprint=report.fingerprint,
        drawing=path_drawing(setup, others, report, path, paper_mm=_BESIDE_MM),
        verdict=verdict_told(report),
        findings=findings[:_FIRST],
        more=findings[_FIRST:],
        looked_at=f"looked at: {report.looked_at}",
        not_checked=[kept_whole(text) for text in report.not_checked],
        ways=len(in_the_way(report.not_checked)),
        cautions=CAUTIONS,
        state=state.parts if state else [],
    )


def path_drawing(
    setup: Setup,
    others: Iterable[Setup],
    report: Report,
    path: PathLines,
    *,
    with_key: bool = False,
    paper_mm: float = PAPER_MM,
) -> Markup:
    """The bed around a station with the path: cuts as lines, rapids dashed, findings numbered.

    `with_key`: what the numbers stand for is written below. `paper_mm`: how wide it is printed.
    """
    placed = [f.place_mm for f in report.findings if f.place_mm is not None]
    bed, standing = setup.facts.bed, standing_on(setup.facts.bed, others)
    key = _key(report.findings) if with_key else []
    canvas = Canvas(
        _window(setup, path, placed),
        paper_mm,
        f"{report.program} at {report.station}",
        setup.person,
        f"The path of the tool over bed {bed.name}; {verdict_told(report)}.",
        (len(key) + 0.9) * _KEY_MM if key else 0.0,
    )
    labels = Labels(canvas)
    draw_bed(canvas, bed)
    keep_lines(labels, bed)
    for outline in (setup.footprint_in_bed(), setup.stock_in_bed()):
        labels.keep_outline(outline, softly=True)
    _draw_others(canvas, standing)
    draw(canvas, [jig_shape(setup)], _OWN)
    for _, edge in fronts_of(setup):
        labels.keep_outline(draw_band(canvas, edge))
    draw(canvas, standing_shapes(setup), _OWN)
    draw(canvas, (stock_shape(setup), *pin_shapes(setup.located)), _OWN)
    for lines, look in ((path.rapids, _RAPID), (path.cuts, _CUT)):
        if lines:
            canvas.strokes(lines, look)
    signs = _signs(report.findings, _ONE_SIGN_MM * canvas.scale)
    for place, numbers in signs:
        _draw_sign(canvas, labels, place, ", ".join(numbers))
    _label(canvas, labels, setup, standing)
    if key:
        _write_key(canvas, key)
    return canvas.svg()


def _label(canvas: Canvas, labels: Labels, setup: Setup, standing: Sequence[Standing]) -> None:
    """Zero and axes, pins, what stands up, the stations around, and holes where there is room."""
    tips = draw_zero(canvas, labels, setup)
    pins = setup.located.pins
    for pin in pins:
        labels.keep(around(pin.at_mm, pin.radius_mm), kind="hole")
    for up in standing_shapes(setup):
        labels.keep(bounds(up.outline), kind="standing")
    name_marks(canvas, labels, setup, tips, 3.6)
    for pin in pins:
        line, mark = Line(pin.hole, 4.4, bold=True), around(pin.at_mm, pin.radius_mm)
        off = () if setup.located.on_dowels else setup.footprint_in_bed()
        labels.beside([line], mark, pin.away, off, kind="hole")
    for up in standing_shapes(setup):
        line = Line(up.name, _LEAST_LETTERS, tag="".join(up.notes), shape="hexagon")
        labels.beside([line], bounds(up.outline), kind="standing")
    for each in standing:
        if each.station and each.footprint and _shows(canvas, each):
            labels.inside([Line(each.station, 3.6)], bounds(each.outline))
    _label_holes(canvas, labels, setup, setup.located.holes)
    labels.draw_leaders()


def _shows(canvas: Canvas, each: Standing) -> bool:
    return canvas.window.holds(bounds(each.outline).middle)


def _label_holes(canvas: Canvas, labels: Labels, setup: Setup, used: Collection[str]) -> None:
    """Holes are labelled at even steps, where nothing else stands."""
    bed = setup.facts.bed
    steps = [max(1, math.ceil(_APART_MM * canvas.scale / pitch)) for pitch in bed.grid.pitch]
    for place in bed.holes(canvas.window):
        cell = bed.letters.split(place.label)
        even = cell is None or (cell[0] % steps[0], cell[1] % steps[1]) == (0, 0)
        if even and place.label not in used:
            line = Line(place.label, _LEAST_LETTERS, fill="#444")
            labels.below(line, around(place.at_mm, bed.grid.hole / 2), "hole")


def _write_key(canvas: Canvas, key: Sequence[str]) -> None:
    """What the numbers stand for, below the drawing."""
    wide, high = canvas.paper_mm, canvas.foot_mm
    corners = ((0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high))
    canvas.polygon_seen([canvas.in_foot(*each) for each in corners], _KEY)
    for row, line in enumerate(key, 1):
        at = canvas.in_foot(1.0, row * _KEY_MM)
        canvas.text_seen(at, line, 0.7 * _KEY_MM, anchor="start", halo=False)


def _key(findings: Sequence[CheckFinding]) -> list[str]:
    """The findings that have a number, each cut to a line of the drawing."""
    lines = [f"{number}  {finding.text}" for finding, number in _numbers(findings).items()]
    widest = PAPER_MM - 2.0
    return [cut_to(widest, line, 0.7 * _KEY_MM) for line in lines]


def _signs(findings: Sequence[CheckFinding], within_mm: float) -> list[tuple[XY, list[str]]]:
    """Places with the numbers of their findings; what lies near an earlier place joins it."""
    signs: list[tuple[XY, list[str]]] = []
    for finding, number in _numbers(findings).items():
        at = finding.place_mm
        if at is None:
            continue
        near = next((numbers for place, numbers in signs if math.dist(place, at) < within_mm), None)
        if near is None:
            signs.append((at, [number]))
        else:
            near.append(number)
    return signs


def _numbers(findings: Sequence[CheckFinding]) -> dict[CheckFinding, str]:
    """The number of each finding, in their order; those with a place stand there with it."""
    return {finding: str(number) for number, finding in enumerate(findings, 1)}


def _window(setup: Setup, path: PathLines, places: Sequence[XY]) -> Box:
    """The station with its path and findings, in the proportions of a sheet of paper."""
    points = [*setup.footprint_in_bed(), *(pin.at_mm for pin in setup.located.pins), *places]
    points += [point for each in standing_up(setup) for point in each.outline]
    points += [point for lines in path for line in lines for point in line]
    box = bounds(tuple(points))
    box = box.grown(0.06 * max(box.width, box.depth))
    if setup.person.of_bed % 2:  # seen from the side, its depth is what lies across the paper
        wide = max(0.0, box.width / _TALLEST_SHARE - box.depth) / 2
        return box._replace(front=box.front - wide, back=box.back + wide)
    wide = max(0.0, box.depth / _TALLEST_SHARE - box.width) / 2
    return box._replace(left=box.left - wide, right=box.right + wide)


def _draw_others(canvas: Canvas, standing: Sequence[Standing]) -> None:
    """What other stations put there; the bed draws what is its own."""
    theirs = [each for each in standing if each.station]
    for each in theirs:
        if each.takes_room and each.kind != "pin":
            draw(canvas, [Shape("jig", each.station, each.outline)], _OTHERS)
    pins = (each for each in theirs if each.kind == "pin")
    discs = (Shape("pin", each.hole, Disc(each.outline[0], each.radius_mm)) for each in pins)
    draw(canvas, discs, _OTHERS)


def _draw_sign(canvas: Canvas, labels: Labels, place: XY, number: str) -> None:
    """A triangle with its tip at the place and the numbers over it, all of them in the drawing: at
    its far border they stand below the place."""
    (x, y), size, view = canvas.turned(place), 1.6 * canvas.scale, canvas.view
    up = size if y + 5.2 * size <= view.back else -size
    canvas.polygon_seen([(x, y), (x - size, y + 2 * up), (x + size, y + 2 * up)], _SIGN)
    wide = text_width(number, 4.4, bold=True) * canvas.scale / 2
    middle = min(max(x, view.left + wide), view.right - wide)
    canvas.text_seen((middle, y + 3.4 * up), number, 4.4, bold=True)
    labels.keep_seen(bounds(((x - size, y), (x + size, y + 2 * up))))
    labels.keep_seen(bounds(((middle - wide, y + 2 * up), (middle + wide, y + 5.2 * up))))
