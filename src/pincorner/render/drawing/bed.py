"""The bed: its holes and what is fixed on it, and the map of where stations lie."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import islice

from markupsafe import Markup

from pincorner.documents.beds import Bed
from pincorner.geometry.outline import Box, bounds
from pincorner.geometry.pose import XY
from pincorner.render.drawing.canvas import Canvas, Look, text_width
from pincorner.render.drawing.labels import Labels, Line, around
from pincorner.render.drawing.scene import (
    Axes,
    Disc,
    Kind,
    Scene,
    Shape,
    Spot,
    bed_shapes,
    grid_letters,
    sign,
)

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
_SIGN = Look(0.4, fill="#fff")
MAP_LOOKS: Looks = {
    **BED_LOOKS,
    "jig": Look(0.5, fill="#bbb", opacity=0.45),
    "pin": PIN_LOOK,
    "finding": _SIGN,
}
"""A map shows where stations lie; what stands on them, stock and zeros are for close-ups."""
_SIGN_MM = 2.6
_NAME_MM = 4.2
_CROWDED = 400
"""More stations than that are named in small letters."""


def bed_map(scene: Scene, paper_mm: float, *, named: bool) -> Markup:
    """The whole bed with the places of stations.

    `named` writes their names into them, with the codes of all their nests.
    """
    canvas = Canvas(_window(scene.bed), paper_mm, f"bed {scene.bed.name}")
    least_mm = 0.6 * canvas.scale
    draw(canvas, scene.shapes, MAP_LOOKS, letters_mm=3.2 if named else 2.2, least_pin_mm=least_mm)
    if named:
        labels = Labels(canvas)
        for pin in scene.discs("pin"):
            labels.keep(around(pin.at, max(pin.radius_mm, least_mm)))
        for spot in scene.spots("finding"):
            labels.keep(around(spot.at, _SIGN_MM * canvas.scale))
        _name_stations(labels, scene.of("jig"))
    return canvas.svg()


def bed_canvas(bed: Bed, paper_mm: float, title: str, letters_mm: float = 3.2) -> Canvas:
    """A canvas with the whole bed and its lettered grid on it."""
    canvas = Canvas(_window(bed), paper_mm, title)
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
            _mark(canvas, form.at, look)
        elif isinstance(form, Spot):
            if count[shape.kind] % steps[shape.kind] == 0:
                _letter(canvas, shape.name, form, letters_mm)
            count[shape.kind] += 1
        elif not isinstance(form, Axes):
            canvas.polygon(form, look)


def paper_size_of_map(bed: Bed, widest_mm: float, tallest_mm: float) -> float:
    """How wide a bed's map is drawn so that it fits a place on paper, in mm."""
    window = _window(bed)
    return min(widest_mm, tallest_mm * window.width / window.depth)


def _window(bed: Bed) -> Box:
    """The bed with room for the letters of its grid."""
    box = bed.box
    room = max(box.width, box.depth) * 0.035
    return Box(box.left - 1.6 * room, box.front - 1.6 * room, box.right + room, box.back + room)


def _name_stations(labels: Labels, jigs: Sequence[Shape]) -> None:
    """Names and codes, on the side away from the pins, where stations overlap least."""
    if len(jigs) > _CROWDED:
        _name_in_small(labels, jigs)
        return
    for jig in jigs:
        labels.keep_outline(jig.outline, softly=True)
    for jig in jigs:
        box = bounds(jig.outline).grown(-1.0 * labels.scale)
        lines = [Line(jig.name, _NAME_MM, bold=True)]
        lines += [Line(text, 3.4) for text in _wrapped(jig.notes, 3.4, box.width / labels.scale)]
        labels.inside(lines, box, jig.toward)


def _name_in_small(labels: Labels, jigs: Sequence[Shape]) -> None:
    """Names in letters that fit each station's own place, whatever their size: to be zoomed into.

    Among so many there is no free place to look for, and looking takes for ever.
    """
    for jig in jigs:
        box = bounds(jig.outline)
        wide, high = box.width / labels.scale, box.depth / labels.scale
        size = min(_NAME_MM, 0.9 * wide / text_width(jig.name, 1.0, bold=True), 0.6 * high)
        labels.write(Line(jig.name, size, bold=True), box.middle)


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


def _mark(canvas: Canvas, place: XY, look: Look) -> None:
    """Where a finding is: a mark of exclamation in a triangle."""
    size = _SIGN_MM * canvas.scale
    x, y = place
    canvas.polygon(sign(place, size), look)
    canvas.text((x, y - 0.3 * size), "!", _SIGN_MM, bold=True, halo=False)


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
