"""The close-up of a station: what the person at the bed looks for, true to proportion."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from markupsafe import Markup

from pincorner.documents.beds import Bed, Hole
from pincorner.documents.jigs import OnDowels
from pincorner.geometry.outline import Box, band, bounds
from pincorner.geometry.pose import XY, Pose, turned_by_quarters
from pincorner.render.drawing.bed import (
    PIN_LOOK,
    SOLID_LOOK,
    Looks,
    draw,
    draw_bed,
    is_named,
    keep_lines,
    step_of_names,
)
from pincorner.render.drawing.canvas import Canvas, Look, strip_mm, text_width
from pincorner.render.drawing.jig_marks import (
    ZERO_MM,
    Empty,
    Tip,
    axes_differ,
    draw_band,
    draw_zero,
    empty_mark,
    fronts_of,
    keep_bands,
    name_marks,
    reach_of_axes,
)
from pincorner.render.drawing.labels import Labels, Line, apart, around, draw_empty
from pincorner.render.drawing.scene import (
    jig_shape,
    pin_shapes,
    standing_shapes,
    stock_shape,
)
from pincorner.setups.setup import Setup
from pincorner.standing import Standing, standing_on, standing_up

_LOOKS: Looks = {
    "jig": Look(0.8, fill="#f2f2f2", opacity=0.75),
    "standing": SOLID_LOOK,
    "stock": Look(0.4, dashes=(2, 1.2)),
    "pin": PIN_LOOK,
}
_EMPTY = Look(0.7)
_OUT = Look(0.6, dashes=(0.9, 0.7))
_PRESS = Look(0.4, fill="#fff")
_NAME_SHOWN = 18
_ROOM_MM = 17.0
"""Left around the station on paper, for labels and the arrows that press it."""
_BEFORE_MM = 12.0
"""The least of it above and below, where a pin's label has to have its place before the pin, as far
as a low picture has that much."""
_ARROW_MM, _SHORT_MM = (9.0, 2.9, 3.4), 6.5
"""Length of a press arrow on paper, half the width of its head, and the length of that; its length
where it has no room otherwise."""
_APART_MM = 3.0
"""An arrow keeps so far from the word of another, on paper; its own stands nearer."""
_MANY_NESTS, _MOST_NAMED = 2, 6
"""Of more nests only axes that point otherwise than the first's are named beside those; of many the
zeros are told by codes alone."""
_SEEN_MM = 1.3
"""Half the mark of an empty hole that is found on paper without a line that leads to it."""
_RULER_MM = 4.8
"""Width of the strips along the left and near side in which rows and columns are named."""
_RULED = Look(0.15, stroke="#999")
_PIN_LETTERS_MM, _LETTERS_MM, _HOLE_LETTERS_MM = 6.6, 3.5, 3.4


def close_up(
    setups: Sequence[Setup],
    take_out: Sequence[str],
    paper_mm: float,
    tallest_mm: float,
    told: str = "",
) -> Markup:
    """A station with its pins in the order of use, where to press it, the empty hole, jig, stock,
    clamps, and zeros with their axes, as the person at the machine sees it.

    `take_out` are holes whose pins belong to other stations; `told` says in words what is shown.
    As wide as `paper_mm` and `tallest_mm` high on paper.
    """
    first = setups[0]
    title = f"station {first.facts.station.name} from above"
    canvas = Canvas(_window(setups, paper_mm, tallest_mm), paper_mm, title, first.person, told)
    labels = Labels(canvas)
    draw_bed(canvas, first.facts.bed)
    keep_lines(labels, first.facts.bed)
    _draw_rulers(canvas, labels, first)
    solids = _draw_outlines(canvas, labels, setups)
    empty = empty_mark(setups, canvas.scale)
    tips = _draw_zeros(canvas, labels, setups, empty)
    _draw_pins(canvas, labels, first)
    _draw_rings(canvas, labels, first.facts.bed, take_out)
    _draw_corner(canvas, labels, empty)
    _label_pins(labels, first)
    _label_corner(labels, first, empty)
    name_marks(canvas, labels, first, tips, 4.4)
    _label_rings(labels, canvas, first.facts.bed, take_out)
    _label_zeros(labels, setups)
    _label_solids(labels, solids)
    _draw_presses(canvas, labels, first)
    _label_stocks(labels, setups)
    _label_extra_holes(labels, canvas, first, take_out)
    labels.draw_leaders()
    return canvas.svg()


def shown_standing(setups: Sequence[Setup]) -> list[Standing]:
    """What stands up at a station, in the order of its marks: clamps first."""
    return sorted(standing_up(setups[0]), key=lambda each: each.kind != "clamp")


def _station_box(setups: Sequence[Setup]) -> Box:
    """All that a station has on the bed."""
    first = setups[0]
    outlines = [first.footprint_in_bed(), *(setup.stock_in_bed() for setup in setups)]
    outlines += [each.outline for each in shown_standing(setups)]
    points = [point for outline in outlines for point in outline]
    points += [setup.zero_in_bed for setup in setups]  # it may lie beside jig and stock
    for pin in first.located.pins:
        points += around(pin.at_mm, pin.radius_mm).outline
    corner = first.located.corner_hole
    place = first.facts.bed.hole(corner) if corner else None
    points += [place.at_mm] if place is not None else []
    return bounds(tuple(points))


def _beside_mm(setup: Setup) -> float:
    """What is left at either side of a station, on paper."""
    widest_mm = max((_pin_line(pin.hole, 1).width for pin in setup.located.pins), default=0.0)
    return max(_ROOM_MM, widest_mm + 3.0)


def tallest_of_use(setups: Sequence[Setup], paper_mm: float) -> float:
    """How high on paper a close-up so wide may be before it shows nothing but more of the bed."""
    box, first = _station_box(setups), setups[0]
    wide, deep = (box.width, box.depth)[:: -1 if first.person.of_bed % 2 else 1]
    left_mm = paper_mm - _RULER_MM - 2 * _beside_mm(first)
    return deep * left_mm / wide + 2 * _ROOM_MM + _RULER_MM + strip_mm(paper_mm)


def _window(setups: Sequence[Setup], paper_mm: float, tallest_mm: float) -> Box:
    """The part of the bed to show: the station in the middle of a place on paper, beside and above
    what names rows and columns."""
    person, beside_mm = setups[0].person, _beside_mm(setups[0])
    box = bounds(tuple(map(person.bed_vector, _station_box(setups).outline)))
    wide_mm, deep_mm = paper_mm - _RULER_MM, tallest_mm - strip_mm(paper_mm) - _RULER_MM
    before_mm = min(_ROOM_MM, max(0.18 * deep_mm, min(0.24 * deep_mm, _BEFORE_MM)))
    scale = max(box.width / (wide_mm - 2 * beside_mm), box.depth / (deep_mm - 2 * before_mm))
    (x, y), wide, deep, ruler = box.middle, wide_mm * scale, deep_mm * scale, _RULER_MM * scale
    seen = Box(x - wide / 2 - ruler, y - deep / 2 - ruler, x + wide / 2, y + deep / 2)
    return bounds(tuple(turned_by_quarters(each, -person.of_bed) for each in seen.outline))


def _draw_rulers(canvas: Canvas, labels: Labels, setup: Setup) -> None:
    """Letters of columns and numbers of rows along the near and the left side, those of the pins
    bold: whoever looks for a hole goes along its column and its row."""
    view, mm, bed = canvas.view, canvas.scale, setup.facts.bed
    wide = _RULER_MM * mm
    left = Box(view.left, view.front, view.left + wide, view.back)
    near = Box(view.left, view.front, view.right, view.front + wide)
    for strip in (left, near):
        canvas.polygon_seen(strip.outline, Look(0.0, stroke="none", fill="#fff"))
        labels.keep_seen(strip)
    inner = (left.right, near.back)
    ruled = [((left.right, near.back), (left.right, view.back)),
             ((left.right, near.back), (view.right, near.back))]  # fmt: skip
    canvas.strokes_seen(ruled, _RULED)
    cells = [bed.letters.split(pin.hole) for pin in setup.located.pins]
    columns = [bed.letters.of(at + 1) for at in range(bed.grid.columns)]
    rows = [str(at + 1) for at in range(bed.grid.rows)]
    for axis, names in enumerate((columns, rows)):
        pitch = bed.grid.pitch[axis]
        used = {cell[axis] - 1 for cell in cells if cell is not None}
        seen = [canvas.turned((at * pitch, 0.0) if axis == 0 else (0.0, at * pitch))
                for at in range(len(names))]  # fmt: skip
        _write_ruler(canvas, names, seen, inner, used)


def _write_ruler(
    canvas: Canvas, names: Sequence[str], seen: Sequence[XY], inner: XY, bold: set[int]
) -> None:
    """Names of columns or rows by where their first holes are seen, as many as have room;
    `inner`: the corner between both strips."""
    view, mm, half = canvas.view, canvas.scale, _RULER_MM / 2 * canvas.scale
    lies = len(seen) < 2 or abs(seen[1][0] - seen[0][0]) > abs(seen[1][1] - seen[0][1])
    across = 0 if lies else 1
    low, high = inner[across], (view.right, view.back)[across]
    widest = max(text_width(name, _HOLE_LETTERS_MM, bold=True) for name in names)
    room = (widest + 1.2 if lies else 1.25 * _HOLE_LETTERS_MM) * mm
    pitch = math.dist(seen[0], seen[1]) if len(seen) > 1 else room
    step = step_of_names(room / pitch, len(names) if names[0].isdecimal() else 0)
    for at, (name, place) in enumerate(zip(names, seen, strict=True)):
        middle = place[across]
        fits = low + room / 2 <= middle <= high - room / 2
        if fits and is_named(at, step, name):
            there = (middle, view.front + half) if lies else (view.left + half, middle)
            canvas.text_seen(there, name, _HOLE_LETTERS_MM, bold=at in bold, halo=False)


def _draw_outlines(canvas: Canvas, labels: Labels, setups: Sequence[Setup]) -> list[Standing]:
    """Jig, stock, and all that stands up; returns what has a number."""
    first = setups[0]
    jig, stocks = jig_shape(first), [stock_shape(setup) for setup in setups]
    bare = first.facts.is_bare
    draw(canvas, (jig,), _LOOKS)
    for _, edge in fronts_of(first):
        labels.keep_outline(draw_band(canvas, edge))
    keep_bands(labels, first, softly=True)
    draw(canvas, (*standing_shapes(first), *(() if bare else stocks)), _LOOKS)
    for shape in (jig, *stocks):
        labels.keep_outline(shape.outline, softly=True)
    for each in standing_on(first.facts.bed, [first]):
        if each.kind in ("solid", "clamp"):
            labels.keep(bounds(each.outline), kind="standing")
    return shown_standing(setups)


def _draw_corner(canvas: Canvas, labels: Labels, empty: Empty | None) -> None:
    """The hole at the inside corner, upon all other marks."""
    if empty is not None:
        draw_empty(canvas, canvas.turned(empty.at), empty.half_mm)
        labels.keep(around(empty.at, empty.half_mm), kind="hole")


def _draw_pins(canvas: Canvas, labels: Labels, setup: Setup) -> None:
    way = setup.facts.holder.locate
    if isinstance(way, OnDowels):
        _draw_dowel_holes(canvas, way, setup.jig_in_bed)
    draw(canvas, pin_shapes(setup.located), _LOOKS)
    for pin in setup.located.pins:
        labels.keep(around(pin.at_mm, _pin_reach(labels, setup, pin.radius_mm)), kind="hole")


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


def _draw_presses(canvas: Canvas, labels: Labels, setup: Setup) -> None:
    """Arrows that press the jig: first against its edge pins, then along them to the stop."""
    located = setup.located
    if not located.on_edges or not setup.facts.station.pins_pressed:
        return
    first, second, stop = located.pins
    middle = tuple((a + b) / 2 for a, b in zip(first.contact_mm, second.contact_mm, strict=True))
    jig = canvas.turned_box(bounds(setup.footprint_in_bed()))
    presses = (
        ((middle[0], middle[1]), first.normal, "press 1st"),
        (stop.contact_mm, stop.normal, "press 2nd"),
    )
    arrows: list[_Press] = []
    words: list[Box] = []
    for contact, normal, word in presses:
        nx, ny = canvas.turned(normal)
        way = (-round(nx), 0) if abs(nx) >= abs(ny) else (0, -round(ny))
        line = Line(word, _LETTERS_MM, bold=True)
        places = [
            each
            for long_mm in (_ARROW_MM[0], _SHORT_MM)
            for each in _press_places(labels, jig, canvas.turned(contact), way, long_mm)
            if all(apart(each.box, its) >= _APART_MM * labels.scale for its in words)
        ]
        others = [each.box for each in arrows]
        named = (p for p in places if labels.has_room_seen([line], p.box, p.word_at, others))
        found = next(named, next(iter(places), None))
        if found is None:
            return  # the second alone would be taken for all that is to be pressed
        arrows.append(found)
        wing, head = _ARROW_MM[1] * canvas.scale, _ARROW_MM[2] * canvas.scale
        canvas.polygon_seen(_arrow(found.tip, found.tail, wing, head), _PRESS)
        labels.keep_seen(found.box, kind="press")
        way_of_word, box = found.word_at, found.box
        words.append(labels.beside_seen([line], box, way_of_word, near=True, kind="press"))


class _Press(NamedTuple):
    """Where an arrow may be drawn, as it is seen, and toward where its word stands."""

    tip: XY
    tail: XY
    box: Box
    word_at: XY


def _press_places(
    labels: Labels, jig: Box, contact: XY, way: XY, long_mm: float
) -> Iterator[_Press]:
    """Free places for an arrow at the side of the jig across from a contact, outside it or, at
    need, inside."""
    scale, (dx, dy) = labels.scale, way
    length, wing = long_mm * scale, _ARROW_MM[1] * scale
    far = (
        (jig.left if dx > 0 else jig.right, contact[1])
        if dx
        else (contact[0], jig.front if dy > 0 else jig.back)
    )
    span = (jig.depth if dx else jig.width) - 2 * wing
    # outside at the edge, inside it, outside beyond what stands there
    for ahead_mm in (-0.8, long_mm + 1.5, -4.0, -8.0, -12.0, -16.0):
        for share in (0.0, 0.1, -0.1, 0.2, -0.2, 0.3, -0.3, 0.4, -0.4):
            ax, ay = far[0] + share * span * abs(dy), far[1] + share * span * abs(dx)
            ahead = ahead_mm * scale
            tip = (ax + dx * ahead, ay + dy * ahead)
            tail = (tip[0] - dx * length, tip[1] - dy * length)
            box = bounds((tip, tail))
            box = Box(box.left - wing * abs(dy), box.front - wing * abs(dx),
                      box.right + wing * abs(dy), box.back + wing * abs(dx))  # fmt: skip
            beyond = not (jig.left - length <= ax <= jig.right + length)
            if not beyond and not labels.is_taken(box):
                yield _Press(tip, tail, box, (-dx, -dy) if dx else (1, 0))


def _arrow(tip: XY, tail: XY, wing: float, head: float) -> list[XY]:
    """The outline of a hollow arrow."""
    length = math.dist(tip, tail)
    ux, uy = (tip[0] - tail[0]) / length, (tip[1] - tail[1]) / length
    neck = (tip[0] - ux * head, tip[1] - uy * head)
    shaft = 0.45 * wing

    def beside(point: XY, by: float) -> XY:
        return point[0] - uy * by, point[1] + ux * by

    return [
        tip, beside(neck, wing), beside(neck, shaft), beside(tail, shaft),
        beside(tail, -shaft), beside(neck, -shaft), beside(neck, -wing),
    ]  # fmt: skip


def _draw_zeros(
    canvas: Canvas, labels: Labels, setups: Sequence[Setup], empty: Empty | None
) -> list[Tip]:
    """All zeros; the axes that are to be named: where there are many nests those of the first, and
    those that point otherwise."""
    reach_mm, tips = reach_of_axes(setups, canvas.scale), []
    radius_mm = ZERO_MM if empty is None else empty.zero_mm
    for at, (setup, differs) in enumerate(zip(setups, axes_differ(setups), strict=True)):
        named = at == 0 or differs or len(setups) <= _MANY_NESTS
        mine = draw_zero(canvas, labels, setup, reach_mm, radius_mm)
        tips += mine if named else []
    return tips


def _draw_rings(canvas: Canvas, labels: Labels, bed: Bed, take_out: Sequence[str]) -> None:
    """A dashed ring around each pin that must come out."""
    for place in _shown(canvas, bed, take_out):
        radius_mm = bed.grid.hole / 2 + 1.2 * canvas.scale
        canvas.circle(place.at_mm, radius_mm, _OUT)
        labels.keep(around(place.at_mm, radius_mm), kind="hole")


def _shown(canvas: Canvas, bed: Bed, holes: Sequence[str]) -> list[Hole]:
    """Those holes of the bed that lie in the window, clear of what names rows and columns."""
    places = (bed.hole(label) for label in holes)
    (left, front, right, back), ruler = canvas.view, _RULER_MM * canvas.scale
    clear_mm = bed.grid.hole / 2 + 1.5 * canvas.scale
    inner = Box(left + ruler, front + ruler, right, back).grown(-clear_mm)
    return [each for each in places if each is not None and inner.holds(canvas.turned(each.at_mm))]


def _label_extra_holes(
    labels: Labels, canvas: Canvas, setup: Setup, take_out: Sequence[str]
) -> None:
    """Labels below holes off the grid, which are in no column and no row, where there is room."""
    bed = setup.facts.bed
    used = setup.located.holes | {setup.located.corner_hole, *take_out}
    for place in bed.holes(canvas.window):
        if bed.letters.split(place.label) is None and place.label not in used:
            line = Line(place.label, _HOLE_LETTERS_MM, fill="#333")
            labels.below(line, around(place.at_mm, bed.grid.hole / 2), "hole")


def _label_pins(labels: Labels, setup: Setup) -> None:
    """The pins' holes with their numbers, big and away from the part."""
    on_dowels = setup.located.on_dowels
    for number, pin in enumerate(setup.located.pins, 1):
        lines = [_pin_line(pin.hole, number)]
        if on_dowels:
            lines.append(Line(pin.role, _LETTERS_MM, bold=True))
        mark = around(pin.at_mm, _pin_reach(labels, setup, pin.radius_mm))
        off = () if on_dowels else setup.footprint_in_bed()
        labels.beside(lines, mark, pin.away, off, near=True, kind="hole")


def _label_corner(labels: Labels, setup: Setup, empty: Empty | None) -> None:
    """The hole that stays empty, with its mark in large."""
    if empty is not None:
        x, y = setup.located.corner.inward
        nx, ny = setup.located.corner.normal
        hole = Line(setup.located.corner_hole or "", 4.6, bold=True, tag="x", shape="cross")
        whole = hole._replace(text=f"{hole.text} EMPTY")
        lines = [hole, Line("EMPTY", 4.6, bold=True)]
        mark = around(empty.at, empty.half_mm)
        toward = (-x - nx, -y - ny)
        small = empty.half_mm < _SEEN_MM * labels.scale
        off = setup.footprint_in_bed()
        labels.beside([whole], mark, toward, off, lines, led=small, kind="hole")


def _pin_line(hole: str, number: int) -> Line:
    return Line(hole, _PIN_LETTERS_MM, bold=True, tag=str(number))


def _label_rings(labels: Labels, canvas: Canvas, bed: Bed, take_out: Sequence[str]) -> None:
    for place in _shown(canvas, bed, take_out):
        ring = around(place.at_mm, bed.grid.hole / 2 + 1.2 * canvas.scale)
        labels.beside([Line(f"{place.label} OUT", 4.0, bold=True)], ring, kind="hole")


def _label_zeros(labels: Labels, setups: Sequence[Setup]) -> None:
    """Zeros with their nests."""
    for setup in setups:
        nest = _cut(setup.nest.name)
        lines = [Line("zero", 4.0, bold=True)]
        if len(setups) > 1:
            lines = [Line(f"zero {nest}", _LETTERS_MM, bold=True)]
            lines += [Line(setup.work_offset, _LETTERS_MM)] if setup.work_offset else []
        if len(setups) > _MOST_NAMED and setup.work_offset:
            lines = [Line(setup.work_offset, _LETTERS_MM, bold=True)]
        inward = setup.program_in_bed.vector((1.0, 1.0))
        mark = around(setup.zero_in_bed, ZERO_MM * labels.scale)
        labels.beside(lines, mark, inward, kind="zero")


def _label_solids(labels: Labels, solids: Sequence[Standing]) -> None:
    """The marks of what stands up, as the list on the sheet has them."""
    for solid in solids:
        line = Line("", _LETTERS_MM, bold=True, tag=solid.mark, shape="hexagon")
        labels.upon(line, bounds(solid.outline), "standing")


def _label_stocks(labels: Labels, setups: Sequence[Setup]) -> None:
    """Each stock's size inside it, where there is room."""
    for setup in setups:
        lines = [Line(text, _LETTERS_MM) for text in ("stock", setup.printed.own.stock_told)]
        labels.inside(lines, bounds(setup.stock_in_bed()), needed=False)


def _cut(name: str) -> str:
    return name if len(name) <= _NAME_SHOWN else f"{name[:_NAME_SHOWN]}.."
