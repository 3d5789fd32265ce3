"""The bed: its holes and what is fixed on it, and the map of where stations lie."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import islice

from markupsafe import Markup

from pincorner.documents.beds import Bed
from pincorner.geometry.outline import Box, Outline, bounds
from pincorner.geometry.pose import XY
from pincorner.render.drawing.canvas import STRIP_MM, Canvas, Look, text_width
from pincorner.render.drawing.labels import Labels, Line, around
from pincorner.render.drawing.scene import (
    Axes,
    Disc,
    Edge,
    Kind,
    Scene,
    Shape,
    Spot,
    axes_of,
    bed_shapes,
    grid_letters,
)
from pincorner.setups.person import Person
from pincorner.setups.setup import Setup

Looks = Mapping[Kind, Look]
"""How each kind of shape is drawn; a kind that is not there is left out."""

PIN_LOOK = Look(0.2, fill="#000")
SOLID_LOOK = Look(0.25, fill="#ccc")
_HOLE = Look(0.15, stroke="#777")
_CROSS = Look(0.25, stroke="#555")
BED_LOOKS: Looks = {
    "bed": Look(0.4),
    "slat": Look(0.15, stroke="#bbb", dashes=(1.5, 1)),
    "track": Look(0.15, stroke="#999", fill="#eee"),
    "solid": SOLID_LOOK,
    "hole": _HOLE,
    "hole not used": _HOLE,
    "screw": SOLID_LOOK,
    "column": Look(),
    "row": Look(),
}
"""What a bed's shapes look like, on every drawing."""
FRONT_LOOK = Look(0.2, fill="#000")
_NOTCH = Look(0.5, fill="#fff")
_BAND_MM, _BAND_SHARE, _WORD_MM = 4.6, 0.25, 3.4
"""Thickness of the band along a jig's front edge on paper, at most this share of the jig, and the
height of the letters in it."""
_SIGN = Look(0.4, fill="#fff")
MAP_LOOKS: Looks = {
    **BED_LOOKS,
    "jig": Look(0.5, fill="#bbb", opacity=0.45),
    "front": FRONT_LOOK,
    "pin": PIN_LOOK,
    "finding": _SIGN,
}
"""A map shows where stations lie; what stands on them, stock and zeros are for close-ups."""
_SIGN_MM = 2.6
ZERO_MM, _AXIS_MM, _TIP_MM = 1.7, 15.0, 3.0
"""Radius of a zero on paper, length of the arrows at it and of their tips."""
_AXIS, _BESIDE = Look(0.8), Look(1.8, stroke="#fff")
"""An arrow, and the white beside it: it may lie on a jig's black front edge."""
_TIP = Look(0.5, stroke="#fff", fill="#000")
_ZERO = Look(0.7, fill="#fff")
_NAME_MM, _LEAST_NAME_MM = 4.2, 3.2
CROWDED = 400
"""More stations than that are named in small letters."""


def bed_map(scene: Scene, paper_mm: float, *, named: bool) -> Markup:
    """The whole bed with the places of stations.

    `named` writes their names into them, with the codes of all their nests.
    """
    window = _window(scene.bed, small=not named)
    canvas = Canvas(window, paper_mm, f"bed {scene.bed.name}", scene.person)
    least_mm = 0.6 * canvas.scale
    draw(canvas, scene.shapes, MAP_LOOKS, letters_mm=3.3, least_pin_mm=least_mm)
    if named:
        labels, jigs = Labels(canvas), scene.of("jig")
        keep_for_names(labels, scene, least_mm)
        for jig in jigs:
            name_station(labels, jig, crowded=len(jigs) > CROWDED)
    return canvas.svg()


def keep_letters(labels: Labels, bed: Bed, letters_mm: float) -> None:
    """Keep the borders free in which the grid's letters stand."""
    window, box, gap = _window(bed), bed.box, 1.4 * letters_mm * labels.scale
    labels.keep(Box(window.left, box.front - gap, window.right, box.front))
    labels.keep(Box(box.left - gap, window.front, box.left, window.back))


def keep_for_names(labels: Labels, scene: Scene, least_pin_mm: float) -> None:
    """Keep pins, signs and outlines of stations free of the names that are to be written."""
    pin_mm = _thickest_pin(scene.shapes, least_pin_mm)
    for pin in scene.discs("pin"):
        labels.keep(around(pin.at, max(pin.radius_mm, least_pin_mm)))
    for spot in scene.spots("finding"):
        labels.keep(around(spot.at, pin_mm + 1.8 * _SIGN_MM * labels.scale))
    for edge in scene.of("front"):
        if isinstance(edge.form, Edge):
            labels.keep(bounds(edge.form.band(band_on(labels.scale, edge.form))))
    jigs = scene.of("jig")
    for jig in jigs if len(jigs) <= CROWDED else ():
        labels.keep_outline(jig.outline, softly=True)


def name_station(labels: Labels, jig: Shape, *, crowded: bool) -> None:
    """Name and codes of a station, inside its jig, on the side away from the pins.

    Where stations are `crowded`, and where its own place is too small, the name alone in letters
    that fit there, whatever their size: to be zoomed into. Looking for free places among very many
    stations takes for ever.
    """
    box = bounds(jig.outline).grown(-1.0 * labels.scale)
    width, height = labels.size_of(box)
    for size in () if crowded else (_NAME_MM, 3.6, _LEAST_NAME_MM):
        lines = [Line(text, size, bold=True) for text in wrapped_name(jig.name, size, width)]
        lines += [Line(text, _LEAST_NAME_MM) for text in _wrapped(jig.notes, 3.4, width)]
        if 1.15 * sum(line.size for line in lines) <= height:
            labels.inside(lines, box, jig.toward)
            return
    size = min(_NAME_MM, 0.9 * width / text_width(jig.name, 1.0, bold=True), 0.6 * height)
    labels.write(Line(jig.name, size, bold=True), box.middle)


def bed_canvas(
    bed: Bed,
    paper_mm: float,
    title: str,
    person: Person,
    letters_mm: float = 3.2,
    told: str = "",
    classes: dict[str, str] | None = None,
) -> Canvas:
    """A canvas with the whole bed and its lettered grid on it, as somebody sees it."""
    canvas = Canvas(_window(bed), paper_mm, title, person, told, classes=classes)
    draw(canvas, (*bed_shapes(bed), *grid_letters(bed)), BED_LOOKS, letters_mm=letters_mm)
    return canvas


def draw_bed(canvas: Canvas, bed: Bed) -> None:
    """The bed with all of it that shows in the canvas's window."""
    draw(canvas, bed_shapes(bed), BED_LOOKS)


def draw(
    canvas: Canvas,
    shapes: Iterable[Shape],
    looks: Looks,
    *,
    letters_mm: float = 3.2,
    least_pin_mm: float = 0.0,
) -> None:
    """Shapes in order, as far as `looks` has their kind.

    Of what lies in the bed only that which shows in the window is drawn; of the grid's letters,
    `letters_mm` high on paper, some, where they are many. Pins are at least `least_pin_mm` thick.
    """
    shapes = tuple(shapes)
    steps = {kind: _every(canvas, shapes, kind, letters_mm) for kind in ("column", "row")}
    count = dict.fromkeys(steps, 0)
    for shape in shapes:
        look, form = looks.get(shape.kind), shape.form
        if look is None:
            continue
        if isinstance(form, Disc):
            if shape.kind == "pin":
                canvas.circle(form.at, max(form.radius_mm, least_pin_mm), look)
            elif canvas.window.holds(form.at):
                canvas.circle(form.at, form.radius_mm, look)
                if shape.kind == "hole not used":
                    canvas.cross(form.at, form.radius_mm, _CROSS)
        elif shape.kind == "finding" and isinstance(form, Spot):
            _mark(canvas, form.at, look, _thickest_pin(shapes, least_pin_mm))
        elif isinstance(form, Spot):
            if count[shape.kind] % steps[shape.kind] == 0:
                _letter(canvas, shape.name, form, letters_mm)
            count[shape.kind] += 1
        elif isinstance(form, Edge):
            draw_front(canvas, form, shape.name, look)
        elif not isinstance(form, Axes):
            canvas.polygon(form, look)


def band_mm(canvas: Canvas, edge: Edge) -> float:
    """Thickness of the band along a jig's front edge, on the bed."""
    return band_on(canvas.scale, edge)


def band_on(scale: float, edge: Edge) -> float:
    """The same on a drawing of that scale: bed mm for one mm of paper."""
    return min(_BAND_MM * scale, _BAND_SHARE * edge.depth_mm)


def draw_front(canvas: Canvas, edge: Edge, name: str, look: Look) -> None:
    """A jig's own front edge: a thick band with a word, and a notch at its front-left corner."""
    draw_band(canvas, edge, look)
    write_front(canvas, edge, name)


def draw_band(canvas: Canvas, edge: Edge, look: Look) -> Outline:
    """The band and the notch, without the word; returns the notch."""
    thick_mm = band_mm(canvas, edge)
    notch = edge.notch(1.3 * thick_mm)
    canvas.polygon(edge.band(thick_mm), look)
    canvas.polygon(notch, _NOTCH)
    return notch


def write_front(
    canvas: Canvas, edge: Edge, name: str, taken: Callable[[Box], bool] | None = None
) -> Box | None:
    """The word in the band; as much of it as has room, at a place that is free, if there is one.

    `taken`: whether something else stands in a box. Returns its box, as the bed is seen.
    """
    thick_mm = band_mm(canvas, edge)
    size = _WORD_MM * min(1.0, thick_mm / (_BAND_MM * canvas.scale))
    if size < 0.75 * _WORD_MM:
        return None
    start, end = (
        canvas.turned((x + edge.inward[0] * thick_mm / 2, y + edge.inward[1] * thick_mm / 2))
        for x, y in (edge.start, edge.end)
    )
    lies = abs(end[0] - start[0]) >= abs(end[1] - start[1])
    whole = f"FRONT: {name}" if name else "FRONT"
    for word in dict.fromkeys((whole, "FRONT")):
        half = text_width(word, size, bold=True) * canvas.scale / 2
        room = math.dist(start, end) / 2 - half - 1.4 * thick_mm
        if room < 0:
            continue
        for share in (0.0, 0.25, -0.25, 0.5, -0.5, 0.75, -0.75, 1.0, -1.0):
            along = 0.5 + share * room / math.dist(start, end)
            x, y = (a + along * (b - a) for a, b in zip(start, end, strict=True))
            across = thick_mm / 2
            wide, deep = (half, across) if lies else (across, half)
            box = Box(x - wide, y - deep, x + wide, y + deep)
            if taken is None or not taken(box):
                canvas.text_seen((x, y), word, size, bold=True, fill="#fff", halo=False,
                                 turn_deg=0 if lies else 90)  # fmt: skip
                return box
    return None


def paper_size_of_map(
    bed: Bed, widest_mm: float, tallest_mm: float, person: Person, *, small: bool = False
) -> float:
    """How wide a bed's map is drawn so that it fits a place on paper, in mm."""
    view = Canvas(_window(bed, small=small), 1.0, "", person).view
    return min(widest_mm, (tallest_mm - STRIP_MM) * view.width / view.depth)


def _window(bed: Bed, *, small: bool = False) -> Box:
    """The bed with room for the letters of its grid, which take a larger share of a small map."""
    box = bed.box
    room = max(box.width, box.depth) * (0.085 if small else 0.035)
    return Box(box.left - 1.6 * room, box.front - 1.6 * room, box.right + room, box.back + room)


def wrapped_name(name: str, size: float, width_mm: float) -> list[str]:
    """A name in lines at most `width_mm` wide: broken behind spaces and - _ . first."""
    lines = [""]
    for word in re.findall(r"[^\s\-_.]*[\s\-_.]?", name):
        if text_width((lines[-1] + word).rstrip(), size, bold=True) > width_mm and lines[-1]:
            lines.append("")
        for letter in word:
            if text_width(lines[-1] + letter, size, bold=True) > width_mm and lines[-1]:
                lines.append("")
            lines[-1] += letter
    return [line.strip() for line in lines if line.strip()]


def _wrapped(words: Sequence[str], size: float, width_mm: float) -> list[str]:
    """Words with commas, in lines that are `width_mm` wide on paper or hold one word."""
    lines = [words[0]]
    for word in words[1:]:
        longer = f"{lines[-1]}, {word}"
        if text_width(longer, size) <= width_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _mark(canvas: Canvas, place: XY, look: Look, pin_mm: float) -> None:
    """Where a finding is: a mark of exclamation in a triangle that points to it from behind."""
    (x, y), size = canvas.turned(place), _SIGN_MM * canvas.scale
    top = y + pin_mm + 1.8 * size
    canvas.polygon_seen([(x - size, top), (x + size, top), (x, y + pin_mm)], look)
    canvas.text_seen((x, top - 0.65 * size), "!", _SIGN_MM, bold=True, halo=False)


def axis_tips(canvas: Canvas, setup: Setup) -> list[tuple[XY, XY]]:
    """A zero and the tip of each of its axes as they are drawn, on the bed."""
    axes, reach = axes_of(setup), _AXIS_MM * canvas.scale
    return [(axes.at, _moved(axes.at, along, reach)) for along in (axes.x, axes.y)]


def draw_zero(canvas: Canvas, labels: Labels, setup: Setup) -> list[tuple[str, XY, XY]]:
    """A zero with its axes, kept free; where their names belong: name, direction, tip."""
    axes, mm = axes_of(setup), canvas.scale
    ends = axis_tips(canvas, setup)
    tips = [("X", axes.x, ends[0][1]), ("Y", axes.y, ends[1][1])]
    backs = [_moved(tip, along, -_TIP_MM * mm) for _, along, tip in tips]
    for look in (_BESIDE, _AXIS):
        canvas.strokes([(axes.at, back) for back in backs], look)
    for (_, along, tip), back in zip(tips, backs, strict=True):
        side = (-along[1], along[0])
        wings = [_moved(back, side, way * 0.45 * _TIP_MM * mm) for way in (1, -1)]
        canvas.polygon([tip, *wings], _TIP)
        labels.keep_line(axes.at, tip)
    canvas.circle(axes.at, ZERO_MM * mm, _ZERO)
    labels.keep(around(axes.at, ZERO_MM * mm))
    return tips


def _moved(point: XY, along: XY, by: float) -> XY:
    return point[0] + along[0] * by, point[1] + along[1] * by


def _thickest_pin(shapes: Iterable[Shape], least_mm: float) -> float:
    """Radius of the thickest pin as it is drawn, so that no sign covers one."""
    pins = (each.form for each in shapes if each.kind == "pin")
    return max((max(pin.radius_mm, least_mm) for pin in pins if isinstance(pin, Disc)), default=0.0)


def _every(canvas: Canvas, shapes: Iterable[Shape], kind: Kind, size: float) -> int:
    """Every how manieth letter of columns or rows has room, `size` high on paper."""
    spots = (each.form for each in shapes if each.kind == kind and isinstance(each.form, Spot))
    places = [spot.at for spot in islice(spots, 2)]
    if len(places) < 2:
        return 1
    (x1, y1), (x2, y2) = places
    return max(1, math.ceil(1.6 * size * canvas.scale / max(abs(x2 - x1), abs(y2 - y1))))


def _letter(canvas: Canvas, text: str, spot: Spot, size: float) -> None:
    gap, ((x, y), (dx, dy)) = 0.8 * size * canvas.scale, spot
    canvas.text((x + dx * gap, y + dy * gap), text, size, halo=False)
