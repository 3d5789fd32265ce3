"""A bed in characters, for a terminal that shows nothing else: its holes, jigs and pins.

Plain ASCII without a control sequence, so that every console and every printer shows it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from pincorner.documents.beds import Bed
from pincorner.documents.machines import Machine
from pincorner.geometry.outline import Box, Outline, bounds
from pincorner.geometry.pose import XY
from pincorner.render.drawing.scene import person_of
from pincorner.setups.person import Person
from pincorner.setups.setup import Setup

_WIDEST, _HIGHEST = 66, 30
_HOLE, _GONE, _PIN, _CORNER, _JIG, _ZERO = ".", "x", "O", "+", "#", "Z"
_STANDS = ("here", "at the left here", "above", "at the right here")
"""Where somebody stands who sees the bed turned by so many quarters."""


class _Raster(NamedTuple):
    """Characters of a field: `columns` and `lines` to the mm, from a corner of it."""

    box: Box
    columns: float
    lines: float
    cells: list[list[str]]

    def put(self, at_mm: XY, character: str) -> None:
        """Put a character at a place on the bed; nothing where that is off the field."""
        column = _nearest((at_mm[0] - self.box.left) * self.columns) + 1
        line = len(self.cells) - 2 - _nearest((at_mm[1] - self.box.front) * self.lines)
        if 0 <= line < len(self.cells) and 0 <= column < len(self.cells[0]):
            self.cells[line][column] = character

    def text(self, at_mm: XY, text: str) -> None:
        """Write a word from a place on, as far as there is room."""
        for offset, character in enumerate(text):
            self.put((at_mm[0] + offset / self.columns, at_mm[1]), character)

    def along(self, outline: Outline, character: str) -> None:
        """Draw an outline."""
        for start, end in zip(outline, (*outline[1:], outline[0]), strict=True):
            dx, dy = end[0] - start[0], end[1] - start[1]
            steps = max(1, math.ceil(max(abs(dx) * self.columns, abs(dy) * self.lines) * 2))
            for step in range(steps + 1):
                share = step / steps
                self.put((start[0] + dx * share, start[1] + dy * share), character)


def _nearest(value: float) -> int:
    """The nearest whole number, halves always up, so that what is evenly spaced stays so."""
    return math.floor(value + 0.5 + 1e-9)


def picture(
    bed: Bed, machine: Machine | None, setups: Sequence[Setup] = (), named: bool = True
) -> str:
    """The bed seen from above, its X to the right and Y up, as lines of characters."""
    raster = _raster(bed)
    for each in bed.holes():
        raster.put(each.at_mm, _HOLE if each.usable else _GONE)
    for setup in setups:
        raster.along(setup.footprint_in_bed(), _JIG)
    for setup in setups:
        _draw(raster, bed, setup, named)
    lines = _with_labels(bed, raster)
    lines.append(_legend(raster))
    lines.append(f"    {_viewpoint(person_of(bed, machine, setups))}")
    return "".join(f"{line.rstrip()}\n" for line in lines)


def _viewpoint(person: Person) -> str:
    """Which way the bed's axes run in the field, and on which side of it people stand."""
    turned = person.of_bed != person.of_machine
    axes = "the bed's X to the right, its Y up" if turned else "X to the right, Y up"
    if not person.stated:
        return axes
    return f"{axes}; you stand {_STANDS[person.of_bed]}, at the {person.place}"


def _raster(bed: Bed) -> _Raster:
    """The bed's field: whole characters from hole to hole where there is room for that."""
    box, (pitch_x, pitch_y) = bed.box, bed.grid.pitch
    field = bounds((*box.outline, *(hole.at_mm for hole in bed.holes())))
    tall = min(_HIGHEST / field.depth, _WIDEST / (2 * field.width)) * pitch_y
    lines = math.floor(min(tall, 2.0)) or tall
    wide = min(2 * lines * pitch_x / pitch_y, _WIDEST / field.width * pitch_x)
    columns = math.floor(wide) or wide
    wide_mm, high_mm = columns / pitch_x, lines / pitch_y
    size = (_nearest(field.width * wide_mm) + 3, _nearest(field.depth * high_mm) + 3)
    raster = _Raster(field, wide_mm, high_mm, [[" "] * size[0] for _ in range(size[1])])
    raster.cells[0] = raster.cells[-1] = ["-"] * size[0]
    for line in raster.cells:
        line[0] = line[-1] = "|"
    for line in (raster.cells[0], raster.cells[-1]):
        line[0] = line[-1] = "+"
    return raster


def _draw(raster: _Raster, bed: Bed, setup: Setup, named: bool) -> None:
    """A station's name, zero and pins."""
    box = bounds(setup.footprint_in_bed())
    middle = ((box.left + box.right) / 2, (box.front + box.back) / 2)
    room = round(box.width * raster.columns) - 3
    name = _that_fits(setup.facts.station.name, room) if named else ""
    line_mm = 1 / raster.lines
    is_at_zero = abs(setup.zero_in_bed[1] - middle[1]) < line_mm
    over_mm = middle[1] + (line_mm if is_at_zero else 0.0)  # the zero would stand in the name
    raster.text((middle[0] - len(name) / 2 / raster.columns, over_mm), name)
    raster.put(setup.zero_in_bed, _ZERO)  # under a pin or the corner where that is as near
    corner = bed.hole(setup.located.corner_hole) if setup.located.corner_hole else None
    if corner is not None:
        raster.put(corner.at_mm, _CORNER)
    for pin in setup.located.pins:
        raster.put(pin.at_mm, _PIN)


def _that_fits(name: str, room: int) -> str:
    """A name, or the beginning of a longer one with two points; nothing where there is no room."""
    if len(name) <= room:
        return name
    return f"{name[: room - 2]}.." if room > 4 else ""


def _with_labels(bed: Bed, raster: _Raster) -> list[str]:
    """The field with the rows' numbers at its left and the columns' letters below."""
    grid, (pitch_x, pitch_y) = bed.grid, bed.grid.pitch
    margin = [["   "] for _ in raster.cells]
    step = max(1, math.ceil(1 / (pitch_y * raster.lines) - 1e-9))
    for row in range(1, grid.rows + 1, step):
        line = _nearest(((row - 1) * pitch_y - raster.box.front) * raster.lines)
        margin[len(raster.cells) - 2 - line] = [f"{row:3}"]
    below = [" "] * (len(raster.cells[0]) + 3)
    free = 0
    for column in range(1, grid.columns + 1):
        at = _nearest(((column - 1) * pitch_x - raster.box.left) * raster.columns) + 1
        letters = bed.letters.of(column)
        apart = len(letters) > 1 or pitch_x * raster.columns < 1  # else one below each hole
        if at >= free and at + len(letters) <= len(below):
            below[at : at + len(letters)] = letters
            free = at + len(letters) + apart
    field = [
        f"{number[0]} {''.join(line)}" for number, line in zip(margin, raster.cells, strict=True)
    ]
    return [*field, f"    {''.join(below)}"]


_MEANS = {
    _HOLE: "hole",
    _GONE: "no hole",
    _PIN: "pin",
    _CORNER: "stays empty",
    _JIG: "jig or stock",
    _ZERO: "program zero",
}


def _legend(raster: _Raster) -> str:
    """What the characters of the field mean, those that stand in it."""
    shown = {character for line in raster.cells[1:-1] for character in line[1:-1]}
    return "    " + "   ".join(f"{each} {what}" for each, what in _MEANS.items() if each in shown)
