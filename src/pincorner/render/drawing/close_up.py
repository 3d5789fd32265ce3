"""The close-up of a station: what the person at the bed looks for, true to proportion."""

from __future__ import annotations

import math
from collections.abc import Sequence

from markupsafe import Markup

from pincorner.documents.beds import Bed, Hole
from pincorner.documents.jigs import OnDowels
from pincorner.geometry.outline import Box, band, bounds
from pincorner.geometry.pose import XY, Pose
from pincorner.render.drawing.bed import PIN_LOOK, SOLID_LOOK, Looks, draw, draw_bed
from pincorner.render.drawing.canvas import Canvas, Look
from pincorner.render.drawing.labels import Labels, Line, around
from pincorner.render.drawing.scene import (
    axes_of,
    jig_shape,
    pin_shapes,
    standing_shapes,
    stock_shape,
)
from pincorner.setups.setup import Setup
from pincorner.standing import Standing, standing_on
from pincorner.units import Unit, fixed, in_unit

_LOOKS: Looks = {
    "jig": Look(0.7),
    "standing": SOLID_LOOK,
    "stock": Look(0.35, dashes=(2, 1)),
    "pin": PIN_LOOK,
}
_EMPTY = Look(0.5)
_AXIS = Look(0.5)
_ZERO = Look(0.45, fill="#fff")
_OUT = Look(0.45, dashes=(0.8, 0.6))
_NAME_SHOWN = 18
_ZERO_MM = 1.8
"""Radius of the mark of a zero on paper."""
_AXIS_MM = 12.0
"""Length of the arrows at a zero on paper, where the next zero is far enough away."""
_MANY_NESTS = 2
_LABELS_APART_MM = 13.0
"""Holes are labelled at least this far apart on paper."""


def close_up(
    setups: Sequence[Setup], take_out: Sequence[str], paper_mm: float, tallest_mm: float
) -> Markup:
    """A station with pins, the empty corner hole, jig, stock, clamps, and zeros with their axes.

    `take_out` are holes whose pins belong to other stations. At most `tallest_mm` high on paper.
    """
    first = setups[0]
    window = _window(setups, paper_mm / tallest_mm)
    canvas = Canvas(window, paper_mm, f"station {first.facts.station.name}")
    labels = Labels(canvas)
    reach_mm = _reach_of_axes(setups, canvas.scale)
    draw_bed(canvas, first.facts.bed)
    solids = _draw_outlines(canvas, labels, setups)
    _draw_corner(canvas, labels, first)
    for setup in setups:
        _draw_zero(canvas, labels, setup, reach_mm)
    _draw_pins(canvas, labels, first)
    _draw_rings(canvas, labels, first.facts.bed, take_out)
    _label_holes(labels, canvas, first, take_out)
    _label_pins(labels, first)
    _label_rings(labels, canvas, first.facts.bed, take_out)
    _label_zeros(labels, setups, reach_mm)
    _label_solids(labels, solids, first.printed.own.unit)
    _label_stocks(labels, setups)
    labels.draw_leaders()
    return canvas.svg()


def _window(setups: Sequence[Setup], proportion: float) -> Box:
    """The part of the bed to show: the jig, its pins and a margin, at a given width to height."""
    first = setups[0]
    points = [
        *first.footprint_in_bed(),
        *(pin.at_mm for pin in first.located.pins),
        *(point for setup in setups for point in setup.stock_in_bed()),
    ]
    box = bounds(tuple(points))
    box = box.grown(0.12 * max(box.width, box.depth) + first.facts.bed.grid.hole)
    wide = max(0.0, box.depth * proportion - box.width) / 2
    tall = max(0.0, box.width / proportion - box.depth) / 2
    tall = min(tall, 0.25 * box.depth)
    return Box(box.left - wide, box.front - tall, box.right + wide, box.back + tall)


def _draw_outlines(canvas: Canvas, labels: Labels, setups: Sequence[Setup]) -> list[Standing]:
    """Jig, stock, and all that stands up; returns what stands up inside the window."""
    first = setups[0]
    jig, stocks = jig_shape(first), [stock_shape(setup) for setup in setups]
    draw(canvas, (jig, *standing_shapes(first), *stocks), _LOOKS)
    for shape in (jig, *stocks):
        labels.keep_outline(shape.outline, softly=True)
    standing = standing_on(first.facts.bed, [first])
    solids = [each for each in standing if each.kind in ("solid", "clamp")]
    shown = [e for e in solids if e.station or canvas.window.holds(bounds(e.outline).middle)]
    for each in shown:
        labels.keep(bounds(each.outline))
    return shown


def _draw_corner(canvas: Canvas, labels: Labels, setup: Setup) -> None:
    """The hole at the inside corner, crossed out."""
    place = _corner_place(setup)
    if place is not None:
        radius_mm = setup.facts.bed.grid.hole / 2
        canvas.circle(place.at_mm, radius_mm, _EMPTY)
        canvas.cross(place.at_mm, _cross(radius_mm, labels), _EMPTY)
        labels.keep(around(place.at_mm, _cross(radius_mm, labels)))


def _cross(radius_mm: float, labels: Labels) -> float:
    """How far the cross reaches: out of its hole, and from under a zero that lies on it."""
    return max(1.5 * radius_mm, 3.4 * labels.scale)


def _corner_place(setup: Setup) -> Hole | None:
    corner = setup.located.corner_hole
    return setup.facts.bed.hole(corner) if corner else None


def _draw_pins(canvas: Canvas, labels: Labels, setup: Setup) -> None:
    way = setup.facts.holder.locate
    if isinstance(way, OnDowels):
        _draw_dowel_holes(canvas, way, setup.jig_in_bed)
    draw(canvas, pin_shapes(setup.located), _LOOKS)
    for pin in setup.located.pins:
        labels.keep(around(pin.at_mm, _pin_reach(labels, setup, pin.radius_mm)))


def _pin_reach(labels: Labels, setup: Setup, radius_mm: float) -> float:
    """How far the mark of a pin reaches: with the jig's own hole around it, on dowels."""
    return radius_mm + (2.2 * labels.scale if setup.located.on_dowels else 0.0)


def _draw_dowel_holes(canvas: Canvas, way: OnDowels, frame: Pose) -> None:
    """The jig's own round hole and slot around their pins."""
    canvas.circle(frame.point(way.round.at), way.round.hole / 2 + 1.0 * canvas.scale, _EMPTY)
    (x1, y1), (x2, y2) = way.round.at, way.slot.at
    length = math.dist(way.round.at, way.slot.at)
    half = way.slot.travel / 2 + way.slot.width / 2 + 1.0 * canvas.scale
    dx, dy = half * (x2 - x1) / length, half * (y2 - y1) / length
    ends = frame.point((x2 - dx, y2 - dy)), frame.point((x2 + dx, y2 + dy))
    canvas.polygon(band(*ends, way.slot.width + 2.0 * canvas.scale), _EMPTY)


def _reach_of_axes(setups: Sequence[Setup], scale: float) -> float:
    """How long the arrows at the zeros are, on the bed: less than to the next zero."""
    zeros = [setup.zero_in_bed for setup in setups]
    apart = (
        math.dist(one, other)
        for at, one in enumerate(zeros)
        for other in zeros[:at]
        if one != other
    )
    return min(_AXIS_MM * scale, 0.7 * min(apart, default=math.inf))


def _axes(setup: Setup, reach_mm: float) -> list[tuple[str, XY, XY]]:
    """Name, direction and tip of what the program calls X and Y, on the bed."""
    axes = axes_of(setup)
    return [
        (name, along, _moved(axes.at, along, reach_mm))
        for name, along in (("X", axes.x), ("Y", axes.y))
    ]


def _draw_zero(canvas: Canvas, labels: Labels, setup: Setup, reach_mm: float) -> None:
    """The zero as a target with two arrows."""
    at, scale = setup.zero_in_bed, canvas.scale
    for _, along, tip in _axes(setup, reach_mm):
        canvas.line(at, tip, _AXIS)
        side = (-along[1], along[0])
        back = _moved(tip, along, -2.2 * scale)
        wings = [_moved(back, side, sign * 0.9 * scale) for sign in (1, -1)]
        canvas.polygon([_moved(tip, along, 0.6 * scale), *wings], PIN_LOOK)
        labels.keep_line(at, tip)
        labels.keep(around(back, 0.9 * scale))
    canvas.circle(at, _ZERO_MM * scale, _ZERO)
    canvas.circle(at, 0.6 * scale, PIN_LOOK)
    labels.keep(around(at, _ZERO_MM * scale))


def _draw_rings(canvas: Canvas, labels: Labels, bed: Bed, take_out: Sequence[str]) -> None:
    """A dashed ring around each pin that must come out."""
    for place in _shown(canvas, bed, take_out):
        radius_mm = bed.grid.hole / 2 + 1.2 * canvas.scale
        canvas.circle(place.at_mm, radius_mm, _OUT)
        labels.keep(around(place.at_mm, radius_mm))


def _shown(canvas: Canvas, bed: Bed, holes: Sequence[str]) -> list[Hole]:
    """Those holes of the bed that lie in the window."""
    places = (bed.hole(label) for label in holes)
    return [each for each in places if each is not None and canvas.window.holds(each.at_mm)]


def _label_holes(labels: Labels, canvas: Canvas, setup: Setup, take_out: Sequence[str]) -> None:
    """Small labels at the holes around, where nothing else stands; some, where holes are many."""
    bed = setup.facts.bed
    pitch_x, pitch_y = bed.grid.pitch
    across, deep = (
        max(1, math.ceil(_LABELS_APART_MM * canvas.scale / pitch)) for pitch in (pitch_x, pitch_y)
    )
    used = {pin.hole for pin in setup.located.pins} | {setup.located.corner_hole, *take_out}
    for place in bed.holes():
        if not canvas.window.holds(place.at_mm):
            continue
        labels.keep(around(place.at_mm, bed.grid.hole / 2), softly=True)
        cell = bed.letters.split(place.label)
        if place.label not in used and (
            cell is None or (cell[0] % across, cell[1] % deep) == (0, 0)
        ):
            line = Line(place.label, 2.4, fill="#444")
            labels.below(line, around(place.at_mm, bed.grid.hole / 2))


def _label_pins(labels: Labels, setup: Setup) -> None:
    """The pins' holes, big and away from the part; what they go into, on dowels; the empty hole."""
    on_dowels = setup.located.on_dowels
    for pin in setup.located.pins:
        away = (-pin.normal[0], -pin.normal[1])
        lines = [Line(pin.hole, 4.4, bold=True)]
        if on_dowels:
            lines.append(Line(pin.role, 3.4, bold=True))
        labels.beside(lines, around(pin.at_mm, _pin_reach(labels, setup, pin.radius_mm)), away)
    place = _corner_place(setup)
    if place is not None:
        mark = around(place.at_mm, _cross(setup.facts.bed.grid.hole / 2, labels))
        labels.beside([Line(f"{place.label} empty", 3.4, bold=True)], mark)


def _label_rings(labels: Labels, canvas: Canvas, bed: Bed, take_out: Sequence[str]) -> None:
    for place in _shown(canvas, bed, take_out):
        ring = around(place.at_mm, bed.grid.hole / 2 + 1.2 * canvas.scale)
        labels.beside([Line(f"{place.label} out", 3.2, bold=True)], ring)


def _label_zeros(labels: Labels, setups: Sequence[Setup], reach_mm: float) -> None:
    """Zeros with their nests, and the axes: of the first nest alone, where there are many."""
    many = len(setups) > _MANY_NESTS
    for setup in setups[:1] if many else setups:
        for name, along, tip in _axes(setup, reach_mm):
            mark = around(tip, 0.6 * labels.scale)
            labels.beside([Line(name, 3.6, bold=True)], mark, along)
    for setup in setups:
        nest = _cut(setup.nest.name)
        text = nest if many else f"zero {nest}" if len(setups) > 1 else "zero"
        inward = setup.program_in_bed.vector((1.0, 1.0))
        mark = around(setup.zero_in_bed, _ZERO_MM * labels.scale)
        labels.beside([Line(text, 3.2, bold=True)], mark, inward)


def _label_solids(labels: Labels, solids: Sequence[Standing], unit: Unit) -> None:
    """Names of what stands up, and how high above the surface below it."""
    for solid in solids:
        height = _short(fixed(in_unit(solid.top_mm, unit), 1 if unit == "mm" else 2))
        lines = [Line(f"{_cut(solid.name)} {height} high", 2.8)]
        labels.beside(lines, bounds(solid.outline))


def _label_stocks(labels: Labels, setups: Sequence[Setup]) -> None:
    """Each stock's size inside it, where there is room."""
    for setup in setups:
        size = " × ".join(map(_short, setup.printed.own.stock))
        lines = [Line("stock", 3.0), Line(size, 2.8)]
        labels.inside(lines, bounds(setup.stock_in_bed()), needed=False)


def _cut(name: str) -> str:
    return name if len(name) <= _NAME_SHOWN else f"{name[:_NAME_SHOWN]}.."


def _short(figure: str) -> str:
    """A printed figure without closing zeros, for a drawing."""
    return figure.rstrip("0").rstrip(".") if "." in figure else figure


def _moved(point: XY, along: XY, by: float) -> XY:
    return point[0] + along[0] * by, point[1] + along[1] * by
