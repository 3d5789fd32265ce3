"""Survey files: measured hole centres as comma-separated values under a header.

`hole,x_mm,y_mm` or `hole,x_in,y_in`, with a fourth column `z_mm` or `z_in` where heights were
measured; columns in any order; `#` starts a comment.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from pincorner.documents.beds import Bed, Hole
from pincorner.documents.fields import Plain, key_of, number, shown
from pincorner.documents.reading import text_of
from pincorner.errors import DocumentErrors, Problem
from pincorner.units import Unit, length_mm

HEADER = "hole,x_mm,y_mm[,z_mm], or the same with _in"


class MeasuredHole(NamedTuple):
    """A hole's measured centre in machine coordinates, and the surface height there."""

    label: str
    x_mm: float
    y_mm: float
    z_mm: float | None = None


class _Columns(NamedTuple):
    """Where the columns stand: `places` by name (hole, x, y, z), `names` as the header has them."""

    unit: Unit
    places: dict[str, int]
    names: list[str]


class _Told(ValueError):
    """A problem of one line, with the column that it stands in."""

    def __init__(self, column: str, text: str) -> None:
        self.column = column
        super().__init__(text)


def read_survey(file: Path, bed: Bed) -> tuple[MeasuredHole, ...]:
    """The readings of a file, in its order, with labels as the bed has them.

    Raises BadInput where it cannot be read, DocumentErrors with every problem and its line: a
    header that is not one, cells that are no finite numbers, holes that the bed has not, holes that
    stand there twice, no reading at all.
    """
    lines = list(_lines(text_of(file)))
    if not lines:
        raise DocumentErrors(
            [
                Problem(
                    str(file), None, "", f"the file is empty; its first line is the header {HEADER}"
                )
            ]
        )
    (first, cells), *rest = lines
    try:
        columns = _columns(cells)
    except _Told as told:
        raise DocumentErrors([Problem(str(file), first, told.column, str(told))]) from None
    if not rest:
        text = "no reading follows the header; each line is a hole and its measured centre"
        raise DocumentErrors([Problem(str(file), first, "", text)])
    return _readings(file, bed, columns, rest)


def _lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """Number and cells of each line that holds more than a comment."""
    unix = text.replace("\r\n", "\n").replace("\r", "\n")
    for line_number, line in enumerate(unix.split("\n"), 1):
        cells = [cell.strip().strip('"').strip() for cell in line.partition("#")[0].split(",")]
        if any(cells):
            yield line_number, cells


def _columns(cells: list[str]) -> _Columns:
    names, got = [cell.casefold() for cell in cells], shown(",".join(cells)[:60])
    if len(names) == 1 and any(mark in names[0] for mark in ";\t"):
        raise _Told("", "columns are separated by commas here; save the file as CSV with commas")
    if "hole" not in names:
        raise _Told("", f"expected the header {HEADER}, got {got}")
    units = [unit for unit in ("mm", "in") if any(name.endswith(f"_{unit}") for name in names)]
    if len(units) != 1:
        text = "say the unit in each column's name" if not units else "one unit for all columns"
        raise _Told("", f"expected the header {HEADER}, got {got}: {text}")
    unit: Unit = "in" if units == ["in"] else "mm"
    wanted = {"hole": "hole", **{f"{axis}_{unit}": axis for axis in "xyz"}}
    for name in names:
        if name not in wanted:
            raise _Told("", f"unknown column {shown(name)}; expected the header {HEADER}")
        if names.count(name) > 1:
            raise _Told("", f"column {name} stands there twice")
    for name, axis in wanted.items():
        if axis != "z" and name not in names:
            raise _Told("", f"column {name} is missing; expected the header {HEADER}")
    return _Columns(unit, {wanted[name]: at for at, name in enumerate(names)}, names)


def _readings(
    file: Path, bed: Bed, columns: _Columns, lines: list[tuple[int, list[str]]]
) -> tuple[MeasuredHole, ...]:
    problems: list[Problem] = []
    found: list[MeasuredHole] = []
    first_lines: dict[str, int] = {}
    for line, cells in lines:
        try:
            place = _hole(bed, columns, cells)
            earlier = first_lines.setdefault(key_of(place.label), line)
            if earlier != line:
                raise _Told("hole", f"{place.label} stands in line {earlier} already")
            found.append(_reading(place, columns, cells))
        except _Told as told:
            problems.append(Problem(str(file), line, told.column, str(told)))
    if problems:
        raise DocumentErrors(problems)
    return tuple(found)


def _hole(bed: Bed, columns: _Columns, cells: list[str]) -> Hole:
    """The hole that a line is about."""
    if len(cells) > len(columns.names):
        count = f"{len(cells)} values where the header names {len(columns.names)}"
        raise _Told("", f"{count}; decimals are written with a point")
    label = _cell("hole", columns, cells)
    if not label:
        raise _Told("hole", "expected a hole's label")
    place = bed.hole(label.upper()) or bed.hole(label)
    if place is None:
        raise _Told("hole", f"bed {bed.name} has no hole {shown(label)}")
    return place


def _reading(place: Hole, columns: _Columns, cells: list[str]) -> MeasuredHole:
    x_mm, y_mm = (_length(axis, columns, cells) for axis in "xy")
    z_mm = _length("z", columns, cells) if _cell("z", columns, cells) else None
    return MeasuredHole(place.label, x_mm, y_mm, z_mm)


def _cell(name: str, columns: _Columns, cells: list[str]) -> str:
    at = columns.places.get(name, len(cells))
    return cells[at] if at < len(cells) else ""


def _length(axis: str, columns: _Columns, cells: list[str]) -> float:
    text, column = _cell(axis, columns, cells), f"{axis}_{columns.unit}"
    try:
        return length_mm(_number(text), columns.unit)
    except ValueError as error:
        raise _Told(column, str(error)) from None


def _number(text: str) -> float:
    if text.casefold().lstrip("+-") in ("nan", "inf", "infinity"):
        raise ValueError(f"expected a finite number, got {text}")
    if not text:
        raise ValueError("expected a number, got nothing")
    return number(Plain(text))
