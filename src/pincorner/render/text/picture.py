"""A bed in characters, for a terminal that shows nothing else: its holes, jigs and pins.

Plain ASCII without a control sequence, so that every console and every printer shows it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from textwrap import wrap
from typing import NamedTuple

from pincorner.documents.beds import Bed
from pincorner.documents.machines import Machine
from pincorner.geometry.outline import Box, Outline, bounds
from pincorner.geometry.pose import XY, turned_by_quarters
from pincorner.render.drawing.scene import person_of
from pincorner.setups.person import Person, Way, nearest_way
from pincorner.setups.setup import Setup

_WIDEST, _HIGHEST, _ROOM = 66, 30, 78
_HOLE, _GONE, _PIN, _CORNER, _JIG, _ZERO = ".", "x", "O", "+", "#", "Z"
_SEEN: dict[Way, str] = {
    "right": "to the right", "left": "to the left", "away": "up", "toward": "down",
}  # fmt: skip
"""Which way an axis points on the lines of somebody who stands below them."""


class _Raster(NamedTuple):
    """Characters of a field as it is seen, turned by `quarters` from the bed: `columns` and `lines`
    to the mm, from a corner of its `box`."""

    quarters: int
    box: Box
    columns: float
    lines: float
    cells: list[list[str]]

    def place(self, at_mm: XY) -> tuple[int, int]:
        """Line and column of a place on the bed."""
        x, y = turned_by_quarters(at_mm, self.quarters)
        column = _nearest((x - self.box.left) * self.columns) + 1
        return len(self.cells) - 2 - _nearest((y - self.box.front) * self.lines), column

    def put(self, at_mm: XY, character: str) -> None:
        """Put a character at a place on the bed; nothing where that is off the field."""
        self.write(*self.place(at_mm), character)

    def write(self, line: int, column: int, text: str) -> None:
        """Write a word from a character on, as far as there is room."""
        for at, character in enumerate(text, column):
            if 0 <= line < len(self.cells) and 0 <= at < len(self.cells[0]):
                self.cells[line][at] = character

    def along(self, outline: Outline, character: str) -> None:
        """Draw an outline."""
        most = max(self.columns, self.lines) * 2
        for start, end in zip(outline, (*outline[1:], outline[0]), strict=True):
            dx, dy = end[0] - start[0], end[1] - start[1]
            steps = max(1, math.ceil(max(abs(dx), abs(dy)) * most))
            for step in range(steps + 1):
                share = step / steps
                self.put((start[0] + dx * share, start[1] + dy * share), character)


def _nearest(value: float) -> int:
    """The nearest whole number, halves always up, so that what is evenly spaced stays so."""
    return math.floor(value + 0.5 + 1e-9)


def picture(
    bed: Bed, machine: Machine | None, setups: Sequence[Setup] = (), named: bool = True
) -> str:
    """The bed from above as whoever stands at the machine sees it, as lines of characters.

    The machine's axes stand at the field's sides, where they point.
    """
    person = person_of(bed, machine, setups)
    raster = _raster(bed, person.of_bed)
    for each in bed.holes():
        raster.put(each.at_mm, _HOLE if each.usable else _GONE)
    for setup in setups:
        raster.along(setup.footprint_in_bed(), _JIG)
    for setup in setups:
        _draw(raster, bed, setup, named)
    told = wrap(_viewpoint(person), _ROOM, initial_indent="    ", subsequent_indent="    ")
    lines = [*_with_labels(bed, raster, person), _legend(raster), *told]
    return "".join(f"{line.rstrip()}\n" for line in lines)


def _viewpoint(person: Person) -> str:
    """Which way the axes run in the field, and where they stand who see it so."""
    axes = _axes_told(person.of_machine, "X", "Y")
    if person.of_bed != person.of_machine:
        of_bed = _axes_told(person.of_bed, "the bed's X", "its Y")
        axes = f"{of_bed}, the machine's {axes}"
    return f"{axes}; you stand here, at the {person.place}" if person.stated else axes


def _axes_told(quarters: int, x: str, y: str) -> str:
    ways = (nearest_way(turned_by_quarters(axis, quarters)) for axis in _AXES.values())
    return ", ".join(f"{axis} {_SEEN[way]}" for axis, way in zip((x, y), ways, strict=True))


_AXES: dict[str, XY] = {"X": (1.0, 0.0), "Y": (0.0, 1.0)}


def _raster(bed: Bed, quarters: int) -> _Raster:
    """The bed's field: whole characters from hole to hole where there is room for that."""
    places = (*bed.box.outline, *(hole.at_mm for hole in bed.holes()))
    field = bounds(tuple(turned_by_quarters(each, quarters) for each in places))
    pitch_x, pitch_y = bed.grid.pitch if quarters % 2 == 0 else bed.grid.pitch[::-1]
    tall = min(_HIGHEST / field.depth, _WIDEST / (2 * field.width)) * pitch_y
    lines = math.floor(min(tall, 2.0)) or tall
    wide = min(2 * lines * pitch_x / pitch_y, _WIDEST / field.width * pitch_x)
    columns = math.floor(wide) or wide
    wide_mm, high_mm = columns / pitch_x, lines / pitch_y
    size = (_nearest(field.width * wide_mm) + 3, _nearest(field.depth * high_mm) + 3)
    cells = [[" "] * size[0] for _ in range(size[1])]
    raster = _Raster(quarters, field, wide_mm, high_mm, cells)
    cells[0], cells[-1] = ["-"] * size[0], ["-"] * size[0]
    for line in cells:
        line[0] = line[-1] = "|"
    for line in (cells[0], cells[-1]):
        line[0] = line[-1] = "+"
    return raster


def _draw(raster: _Raster, bed: Bed, setup: Setup, named: bool) -> None:
    """A station's name, zero and pins."""
    box = bounds(setup.footprint_in_bed())
    across = box.width if raster.quarters % 2 == 0 else box.depth
    name = _that_fits(setup.facts.station.name, round(across * raster.columns) - 3) if named else ""
    line, column = raster.place(box.middle)
    is_at_zero = raster.place(setup.zero_in_bed)[0] == line
    line -= is_at_zero  # the zero would stand in the name
    raster.write(line, column - len(name) // 2, name)
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


def _with_labels(bed: Bed, raster: _Raster, person: Person) -> list[str]:
    """The field with the labels of rows and columns at its left and below, and the machine's axes
    at the sides that they point to."""
    grid, (pitch_x, pitch_y) = bed.grid, bed.grid.pitch
    columns = [
        (raster.place(((at - 1) * pitch_x, 0.0)), bed.letters.of(at))
        for at in range(1, grid.columns + 1)
    ]
    rows = [(raster.place((0.0, (at - 1) * pitch_y)), f"{at}") for at in range(1, grid.rows + 1)]
    if person.of_bed % 2 == 0:
        at_left, below = rows, columns
    else:
        at_left, below = columns, rows
    margin = _at_left(raster, [(line, label) for (line, _), label in at_left])
    field = [
        f"{label:>3} {''.join(line)}" for label, line in zip(margin, raster.cells, strict=True)
    ]
    for axis, vector in _AXES.items():
        _point(field, f"{axis}+", nearest_way(person.machine_vector(vector)))
    return [*field, f"    {_below(raster, [(column, label) for (_, column), label in below])}"]


def _at_left(raster: _Raster, labels: list[tuple[int, str]]) -> list[str]:
    """What stands at the left of each line of the field: labels, as many of them as it has lines
    for, evenly."""
    margin = [""] * len(raster.cells)
    lines = abs(labels[-1][0] - labels[0][0]) or 1
    for line, label in labels[:: max(1, math.ceil((len(labels) - 1) / lines - 1e-9))]:
        margin[line] = label
    return margin


def _below(raster: _Raster, labels: list[tuple[int, str]]) -> str:
    """The line below the field: labels with room between those that are longer than a letter."""
    below = [" "] * (len(raster.cells[0]) + 3)
    apart = any(len(label) > 1 for _, label in labels) or len({at for at, _ in labels}) < len(
        labels
    )
    for at, label in labels:
        end = at + len(label)
        around = below[max(at - apart, 0) : end + apart]
        if end <= len(below) and not "".join(around).strip():
            below[at:end] = label
    return "".join(below)


def _point(field: list[str], axis: str, way: Way) -> None:
    """Put an axis in the middle of the frame's side to which it points, where no label stands."""
    if way in ("away", "toward"):
        at = 0 if way == "away" else len(field) - 1
        middle = 4 + (len(field[at]) - 4) // 2
        field[at] = f"{field[at][: middle - 1]}{axis}{field[at][middle + 1 :]}"
        return
    middle = len(field) // 2
    free = [at for at, line in enumerate(field[1:-1], 1) if not line[:4].strip()]
    at = min(free or [middle], key=lambda each: abs(each - middle)) if way == "left" else middle
    line = field[at]
    if way == "right":
        field[at] = f"{line[:-1]}{axis}"
    else:
        begin = 3 if free else 4
        field[at] = f"{line[:begin]}{axis}{line[begin + 2 :]}"


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
