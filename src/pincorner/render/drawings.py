"""The bed: its holes and what is fixed on it, and the map of where stations lie."""

from __future__ import annotations

import math
from collections.abc import Sequence

from markupsafe import Markup

from pincorner.documents.beds import Bed
from pincorner.geometry.outline import Box, bounds
from pincorner.geometry.pose import XY
from pincorner.render.canvas import Canvas, Look, text_width
from pincorner.render.labels import Labels, Line, around
from pincorner.setups.covers import track_outline
from pincorner.setups.setup import Setup
from pincorner.setups.standing import standing_on

PIN_LOOK = Look(0.2, fill="#000")
SOLID_LOOK = Look(0.25, fill="#ccc")
_BED = Look(0.4)
_HOLE = Look(0.15, stroke="#777")
_MISSING = Look(0.25, stroke="#555")
_TRACK = Look(0.15, stroke="#999", fill="#eee")
_SLAT = Look(0.15, stroke="#bbb", dashes=(1.5, 1))
_JIG_ON_MAP = Look(0.5, fill="#bbb", opacity=0.45)
_SIGN = Look(0.4, fill="#fff")
_SIGN_MM = 2.6
_NAME_MM = 4.2
_CROWDED = 400
"""More stations than that are named in small letters."""


def bed_map(bed: Bed, setups: Sequence[Setup], paper_mm: float, *, named: bool) -> Markup:
    """The whole bed with the places of stations, one setup of each.

    `named` writes their names into them, with the codes of all their nests.
    """
    canvas = bed_canvas(bed, paper_mm, f"bed {bed.name}", 3.2 if named else 2.2)
    labels = Labels(canvas)
    standing = standing_on(bed, setups)
    for each in standing:
        if each.footprint:
            canvas.polygon(each.outline, _JIG_ON_MAP)
    for each in standing:
        if each.kind == "pin":
            radius_mm = max(each.radius_mm, 0.6 * canvas.scale)
            canvas.circle(each.outline[0], radius_mm, PIN_LOOK)
            labels.keep(around(each.outline[0], radius_mm))
    places = {f.place_mm for setup in setups for f in setup.findings if f.place_mm}
    for place in sorted(places):
        _mark(canvas, place)
        labels.keep(around(place, _SIGN_MM * canvas.scale))
    if named:
        _name_stations(labels, setups)
    return canvas.svg()


def bed_canvas(bed: Bed, paper_mm: float, title: str, letters_mm: float = 3.2) -> Canvas:
    """A canvas with the whole bed and its lettered grid on it."""
    canvas = Canvas(_window(bed), paper_mm, title)
    draw_bed(canvas, bed)
    letter_grid(canvas, bed, letters_mm)
    return canvas


def paper_size_of_map(bed: Bed, widest_mm: float, tallest_mm: float) -> float:
    """How wide a bed's map is drawn so that it fits a place on paper, in mm."""
    window = _window(bed)
    return min(widest_mm, tallest_mm * window.width / window.depth)


def _window(bed: Bed) -> Box:
    """The bed with room for the letters of its grid."""
    box = bed.box
    room = max(box.width, box.depth) * 0.035
    return Box(box.left - 1.6 * room, box.front - 1.6 * room, box.right + room, box.back + room)


def _name_stations(labels: Labels, setups: Sequence[Setup]) -> None:
    """Names and codes, on the side away from the pins, where stations overlap least."""
    if len(setups) > _CROWDED:
        _name_in_small(labels, setups)
        return
    for setup in setups:
        labels.keep_outline(setup.footprint_in_bed(), softly=True)
    for setup in setups:
        box = bounds(setup.footprint_in_bed()).grown(-1.0 * labels.scale)
        sides = setup.located.toward or "+x+y"
        toward = (1.0 if sides.startswith("+x") else -1.0, 1.0 if sides.endswith("+y") else -1.0)
        station = setup.facts.station
        codes = [station.code_of(nest.name) or "-" for nest in setup.facts.holder.nests]
        lines = [Line(station.name, _NAME_MM, bold=True)]
        lines += [Line(text, 3.4) for text in _wrapped(codes, 3.4, box.width / labels.scale)]
        labels.inside(lines, box, toward)


def _name_in_small(labels: Labels, setups: Sequence[Setup]) -> None:
    """Names in letters that fit each station's own place, whatever their size: to be zoomed into.

    Among so many there is no free place to look for, and looking takes for ever.
    """
    for setup in setups:
        box, name = bounds(setup.footprint_in_bed()), setup.facts.station.name
        wide, high = box.width / labels.scale, box.depth / labels.scale
        size = min(_NAME_MM, 0.9 * wide / text_width(name, 1.0, bold=True), 0.6 * high)
        labels.write(Line(name, size, bold=True), box.middle)


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


def _mark(canvas: Canvas, place: XY) -> None:
    """Where a finding is: a mark of exclamation in a triangle."""
    size = _SIGN_MM * canvas.scale
    x, y = place
    canvas.polygon([(x - size, y - size), (x + size, y - size), (x, y + size)], _SIGN)
    canvas.text((x, y - 0.3 * size), "!", _SIGN_MM, bold=True, halo=False)


def draw_bed(canvas: Canvas, bed: Bed) -> None:
    """The bed with all of it that shows in the canvas's window."""
    canvas.polygon(bed.box.outline, _BED)
    for slat in bed.slats:
        canvas.polygon(slat.box.outline, _SLAT)
    for track in bed.tracks:
        canvas.polygon(track_outline(track), _TRACK)
    for each in standing_on(bed):
        canvas.polygon(each.outline, SOLID_LOOK)
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
            canvas.circle(screw.at, screw.diameter / 2, SOLID_LOOK)


def letter_grid(canvas: Canvas, bed: Bed, size: float) -> None:
    """Column letters along the front, row numbers along the left side; some, where many.

    `size`: height of the letters on paper, in mm.
    """
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
