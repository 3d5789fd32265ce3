"""The bed map and the close-up of a station."""

from __future__ import annotations

import math
from collections.abc import Sequence

from markupsafe import Markup

from pincorner.documents.beds import Bed
from pincorner.documents.jigs import OnDowels
from pincorner.geometry.outline import Box, bounds
from pincorner.geometry.pose import XY
from pincorner.render.canvas import Canvas, Look
from pincorner.setups.setup import Setup

_BED = Look(0.4)
_HOLE = Look(0.15, stroke="#777")
_MISSING = Look(0.2, stroke="#777")
_TRACK = Look(0.15, stroke="#999", fill="#eee")
_SLAT = Look(0.15, stroke="#bbb", dashes=(1.5, 1))
_SOLID = Look(0.25, fill="#ccc")
_JIG = Look(0.7)
_JIG_ON_MAP = Look(0.5, fill="#bbb", opacity=0.45)
_STOCK = Look(0.35, dashes=(2, 1))
_PIN = Look(0.2, fill="#000")
_EMPTY = Look(0.5)
_AXIS = Look(0.5)
_SIGN = Look(0.4, fill="#fff")
_OUT = Look(0.45, dashes=(0.8, 0.6))


def bed_map(bed: Bed, setups: Sequence[Setup], paper_mm: float, *, named: bool) -> Markup:
    """The whole bed with the places of stations; `named` writes their names into them."""
    box = bed.box
    room = max(box.width, box.depth) * 0.035
    canvas = Canvas(
        Box(box.left - 1.6 * room, box.front - 1.6 * room, box.right + room, box.back + room),
        paper_mm,
        f"bed {bed.name}",
    )
    _draw_bed(canvas, bed)
    _letter_grid(canvas, bed, 3.2 if named else 1.9)
    for setup in setups:
        canvas.polygon(setup.footprint_in_bed(), _JIG_ON_MAP)
        for pin in setup.located.pins:
            canvas.circle(pin.at_mm, max(pin.radius_mm, 0.6 * canvas.scale), _PIN)
        if named:
            _name_station(canvas, setup)
    for place in {f.place_mm for setup in setups for f in setup.findings if f.place_mm}:
        _mark(canvas, place)
    return canvas.svg()


def _mark(canvas: Canvas, place: XY) -> None:
    """Where a finding is: a mark of exclamation in a triangle."""
    size = 2.6 * canvas.scale
    x, y = place
    canvas.polygon([(x - size, y - size), (x + size, y - size), (x, y + size)], _SIGN)
    canvas.text((x, y - 0.3 * size), "!", 2.6, bold=True, halo=False)


def _draw_bed(canvas: Canvas, bed: Bed) -> None:
    canvas.polygon(bed.box.outline, _BED)
    for slat in bed.slats:
        canvas.polygon(slat.box.outline, _SLAT)
    for track in bed.tracks:
        canvas.polygon(_band(track.from_, track.to, track.width), _TRACK)
    for solid in bed.solids:
        canvas.polygon(solid.box.outline, _SOLID)
    radius = bed.grid.hole / 2
    for place in bed.holes():
        centre = (place.x_mm, place.y_mm)
        if not canvas.window.holds(centre):
            continue
        canvas.circle(centre, radius, _HOLE)
        if not place.usable:
            canvas.cross(centre, radius, _MISSING)
    for screw in bed.screws:
        if canvas.window.holds(screw.at):
            canvas.circle(screw.at, screw.diameter / 2, _SOLID)


def _band(start: XY, end: XY, width: float) -> tuple[XY, ...]:
    """The outline of a straight band around the line from start to end."""
    length = math.dist(start, end) or 1.0
    across_x = -(end[1] - start[1]) / length * width / 2
    across_y = (end[0] - start[0]) / length * width / 2
    return (
        (start[0] + across_x, start[1] + across_y),
        (end[0] + across_x, end[1] + across_y),
        (end[0] - across_x, end[1] - across_y),
        (start[0] - across_x, start[1] - across_y),
    )


def _letter_grid(canvas: Canvas, bed: Bed, size: float) -> None:
    """Column letters along the front, row numbers along the left side; some, where many."""
    grid, box = bed.grid, bed.box
    gap = 0.8 * size * canvas.scale
    for count, pitch, along_x in (
        (grid.columns, grid.pitch[0], True),
        (grid.rows, grid.pitch[1], False),
    ):
        step = max(1, math.ceil(1.6 * size * canvas.scale / pitch))
        for index in range(0, count, step):
            if along_x:
                at, text = (index * pitch, box.front - gap), bed.letters.of(index + 1)
            else:
                at, text = (box.left - gap, index * pitch), str(index + 1)
            canvas.text(at, text, size, halo=False)


def _name_station(canvas: Canvas, setup: Setup) -> None:
    """Name and code inside the corner away from the pins, where stations overlap least."""
    box = bounds(setup.footprint_in_bed())
    toward, gap = setup.located.toward or "+x+y", 1.5 * canvas.scale
    right, back = toward.startswith("+x"), toward.endswith("+y")
    x_mm = box.right - gap if right else box.left + gap
    top = box.back - 2.0 * gap if back else box.front + 4.6 * gap
    anchor = "end" if right else "start"
    canvas.text((x_mm, top), setup.facts.station.name, 4.2, anchor=anchor, bold=True)
    canvas.text((x_mm, top - 2.7 * gap), setup.work_offset or "", 3.2, anchor=anchor)


def close_up(
    setups: Sequence[Setup], take_out: Sequence[str], paper_mm: float, tallest_mm: float
) -> Markup:
    """A station true to proportion: pins, the empty corner hole, jig, stock, zeros with axes.

    `take_out` are holes whose pins belong to other stations. At most `tallest_mm` high on paper.
    """
    first = setups[0]
    canvas = Canvas(
        _window(setups, paper_mm / tallest_mm), paper_mm, f"station {first.facts.station.name}"
    )
    _draw_bed(canvas, first.facts.bed)
    _label_holes(canvas, first, take_out)
    canvas.polygon(first.footprint_in_bed(), _JIG)
    for name, outline in first.solids_in_bed():
        canvas.polygon(outline, _SOLID)
        box = bounds(outline)
        canvas.text(((box.left + box.right) / 2, (box.front + box.back) / 2), name, 2.2)
    for setup in setups:
        canvas.polygon(setup.stock_in_bed(), _STOCK)
    for setup in setups:
        _draw_zero(canvas, setup, named=len(setups) > 1)
    _draw_pins(canvas, first)
    _name_stock(canvas, setups)
    _ring_pins_to_take_out(canvas, first.facts.bed, take_out)
    return canvas.svg()


def _name_stock(canvas: Canvas, setups: Sequence[Setup]) -> None:
    """Each stock's size in its middle, where there is room for it."""
    if len(setups) > 2:
        return
    for setup in setups:
        box = bounds(setup.stock_in_bed())
        length, width, thickness = setup.printed.own.stock
        middle = ((box.left + box.right) / 2, (box.front + box.back) / 2)
        canvas.text(middle, "stock", 2.8)
        below = (middle[0], middle[1] - 3.6 * canvas.scale)
        size = f"{_short(length)} × {_short(width)} × {_short(thickness)}"
        canvas.text(below, size, 2.6)


def _short(figure: str) -> str:
    """A printed figure without closing zeros, for a drawing."""
    return figure.rstrip("0").rstrip(".") if "." in figure else figure


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


def _label_holes(canvas: Canvas, setup: Setup, take_out: Sequence[str]) -> None:
    """Small labels at the holes around."""
    used = {pin.hole for pin in setup.located.pins} | {setup.located.corner_hole, *take_out}
    radius = setup.facts.bed.grid.hole / 2
    for place in setup.facts.bed.holes():
        centre = (place.x_mm, place.y_mm)
        if place.label in used or not canvas.window.holds(centre):
            continue
        below = (centre[0], centre[1] - radius - 1.6 * canvas.scale)
        if canvas.window.holds(below):
            canvas.text(below, place.label, 2.0, fill="#555")


def _ring_pins_to_take_out(canvas: Canvas, bed: Bed, take_out: Sequence[str]) -> None:
    radius = bed.grid.hole / 2
    for label in take_out:
        place = bed.hole(label)
        if place is None or not canvas.window.holds(place.at_mm):
            continue
        x_mm, y_mm = place.at_mm
        canvas.circle((x_mm, y_mm), radius + 1.2 * canvas.scale, _OUT)
        below = (x_mm, y_mm - radius - 3.0 * canvas.scale)
        canvas.text(below, f"{label} out", 2.6, bold=True)


def _draw_pins(canvas: Canvas, setup: Setup) -> None:
    located = setup.located
    if located.on_dowels:
        _draw_dowel_holes(canvas, setup)
    for pin in located.pins:
        canvas.circle(pin.at_mm, pin.radius_mm, _PIN)
        away = pin.radius_mm + 3.2 * canvas.scale
        at = (pin.at_mm[0] - away * pin.normal[0], pin.at_mm[1] - away * pin.normal[1])
        sideways = abs(pin.normal[0]) > abs(pin.normal[1])
        anchor = ("end" if pin.normal[0] > 0 else "start") if sideways else "middle"
        if sideways:
            at = (pin.at_mm[0] - (pin.radius_mm + 1.2 * canvas.scale) * pin.normal[0], at[1])
        canvas.text(at, pin.hole, 4.4, bold=True, anchor=anchor)
    corner = located.corner_hole
    place = setup.facts.bed.hole(corner) if corner else None
    if place is None:
        return
    centre, radius = (place.x_mm, place.y_mm), setup.facts.bed.grid.hole / 2
    canvas.circle(centre, radius, _EMPTY)
    canvas.cross(centre, radius * 1.3, _EMPTY)
    canvas.text(
        (centre[0], centre[1] - radius - 2.6 * canvas.scale), f"{corner} empty", 3.0, bold=True
    )


def _draw_dowel_holes(canvas: Canvas, setup: Setup) -> None:
    """The jig's own round hole and slot around their pins."""
    way, frame = setup.facts.holder.locate, setup.jig_in_bed
    assert isinstance(way, OnDowels)
    canvas.circle(frame.point(way.round.at), way.round.hole / 2 + 1.0 * canvas.scale, _EMPTY)
    (x1, y1), (x2, y2) = way.round.at, way.slot.at
    length = math.dist(way.round.at, way.slot.at)
    half = way.slot.travel / 2 + way.slot.width / 2
    dx, dy = half * (x2 - x1) / length, half * (y2 - y1) / length
    ends = frame.point((x2 - dx, y2 - dy)), frame.point((x2 + dx, y2 + dy))
    canvas.polygon(_band(*ends, way.slot.width + 2.0 * canvas.scale), _EMPTY)


def _draw_zero(canvas: Canvas, setup: Setup, *, named: bool) -> None:
    """The zero as a target, with the directions that the program calls X and Y."""
    frame = setup.program_in_bed
    at, reach = (frame.x_mm, frame.y_mm), 12.0 * canvas.scale
    canvas.circle(at, 1.7 * canvas.scale, Look(0.4, fill="#fff"))
    canvas.circle(at, 0.6 * canvas.scale, _PIN)
    for name, direction in (("X", (1.0, 0.0)), ("Y", (0.0, 1.0))):
        along = frame.vector(direction)
        tip = _moved(at, along, reach)
        canvas.line(_moved(at, along, 1.7 * canvas.scale), tip, _AXIS)
        side = (-along[1], along[0])
        back = _moved(tip, along, -2.2 * canvas.scale)
        wings = [_moved(back, side, sign * 0.9 * canvas.scale) for sign in (1, -1)]
        canvas.polygon([_moved(tip, along, 0.6 * canvas.scale), *wings], _PIN)
        inside = frame.vector((1.0, 1.0))
        beside = (along[1] ** 2 * inside[0], along[0] ** 2 * inside[1])
        canvas.text(_moved(tip, beside, 2.9 * canvas.scale), name, 3.4, bold=True)
    label = f"zero {setup.nest.name}" if named else "zero"
    inward = frame.vector((6.0 * canvas.scale, 6.5 * canvas.scale))
    canvas.text((at[0] + inward[0], at[1] + inward[1]), label, 2.8, bold=True)


def _moved(point: XY, along: XY, by: float) -> XY:
    return point[0] + along[0] * by, point[1] + along[1] * by
