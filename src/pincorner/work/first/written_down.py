"""A shop's written-down offsets as a file: comma-separated, a line each, with a header."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from pincorner.documents.fields import check_code, check_name, check_note, key_of
from pincorner.documents.stations import check_day
from pincorner.errors import BadInput, DocumentErrors, Problem, suggestion
from pincorner.geometry.pose import XY
from pincorner.units import Unit, parse_length

COLUMNS = (
    "station", "code", "x", "y", "z", "jig", "zero_x", "zero_y", "nest", "turn", "date", "by",
    "note",
)  # fmt: skip
_NEEDED = ("station", "x", "y")
HEADER = ",".join(COLUMNS)


class Written(NamedTuple):
    """An offset as it was written down: lengths in mm; where there is no jig `stock`, and
    `stock_zero`, from its corner.

    `is_taken`: what lies there was not written, and is as it was said for all such lines.
    """

    line: int
    station: str
    code: str | None
    at_mm: XY
    z_mm: float | None
    jig: str | None
    stock: tuple[float, float, float] | None
    stock_zero: XY
    nest: str | None
    turn: int | None
    date: str | None
    by: str | None
    note: str | None
    is_taken: bool = False


def read_written(
    text: str,
    file: str,
    unit: Unit,
    without: str | None = None,
    zero: tuple[str, str] | None = None,
) -> tuple[list[Written], list[Problem]]:
    """The offsets of a comma-separated file with a header, and what is wrong with its other lines.

    Raises BadInput for an empty file, DocumentErrors for its header.

    Columns in any order: station, x, y, jig (a jig's name, or bare stock as 400 x 250 x 18), and
    code, z, nest, turn, date, by, note; zero_x and zero_y, where bare stock has its zero from its
    front left corner; x_mm or x_in says its unit, bare numbers are else in `unit`. `without`: what
    lies there in lines that say neither jig nor stock, and X and Y of its `zero`, if it is stock.
    """
    lines = [
        (number, cells)
        for number, cells in enumerate(csv.reader(io.StringIO(text)), 1)
        if any(cell.strip() for cell in cells) and not cells[0].lstrip().startswith("#")
    ]
    if not lines:
        raise BadInput(f"{file}: the file is empty; its first line is the header {HEADER}")
    names, units = _columns(lines[0], file, unit)
    found, problems = [], []
    for number, cells in lines[1:]:
        values = {
            name: cell.strip() for name, cell in zip(names, cells, strict=False) if cell.strip()
        }
        try:
            is_taken = "jig" not in values and without is not None
            if is_taken:
                values["jig"] = without or ""
                if zero is not None and not any(name in values for name in _ZERO):
                    values |= dict(zip(_ZERO, zero, strict=True))
            found.append(_written(number, values, units)._replace(is_taken=is_taken))
        except ValueError as error:
            problems.append(Problem(file, number, "", str(error)))
    stations = [key_of(each.station) for each in found]
    for each in found:
        if stations.index(key_of(each.station)) < found.index(each):
            twice = f"{each.station} stands there twice: one measured zero a station"
            problems.append(Problem(file, each.line, "", twice))
    return found, problems


def lines_without_jig(text: str) -> int:
    """How many lines of such a file say neither jig nor stock; 0 where it cannot be read."""
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    rows = list(csv.DictReader(lines)) if lines else []
    return sum(
        not any((key or "").strip().lower() == "jig" and value for key, value in row.items())
        for row in rows
    )


def _columns(
    line: tuple[int, Sequence[str]], file: str, unit: Unit
) -> tuple[list[str], dict[str, Unit]]:
    """The names of the columns, and the unit of those that are lengths."""
    names, units, problems = [], dict.fromkeys("xyz", unit), []
    for cell in line[1]:
        name = cell.strip().lower()
        for ending in ("mm", "in"):
            if name in (f"x_{ending}", f"y_{ending}", f"z_{ending}"):
                units[name[0]] = "in" if ending == "in" else "mm"
                name = name[0]
        if name not in COLUMNS:
            problems.append(f"unknown column {name!r}{suggestion(name, COLUMNS)}")
        names.append(name)
    problems += [f"a column {name} is needed" for name in _NEEDED if name not in names]
    if problems:
        raise DocumentErrors(
            [Problem(file, line[0], "", f"{text}; the header is {HEADER}") for text in problems]
        )
    return names, units


_ZERO = ("zero_x", "zero_y")


def _stock_zero(values: Mapping[str, str], stock: object, unit: Unit) -> XY:
    """Where bare stock has its zero, from its corner: 0, 0 where nothing is said."""
    said = [name for name in _ZERO if name in values]
    if said and not stock:
        raise ValueError(f"{said[0]}: bare stock has it; a jig's document says its zeros")
    if len(said) == 1:
        other = _ZERO[1 - _ZERO.index(said[0])]
        raise ValueError(f"{other} is missing: zero_x and zero_y go together")
    x, y = (_length(name, values[name], unit) if said else 0.0 for name in _ZERO)
    return x, y


def _written(number: int, values: Mapping[str, str], units: Mapping[str, Unit]) -> Written:
    for name in _NEEDED:
        if name not in values:
            raise ValueError(f"{name} is missing")
    if "jig" not in values:
        raise ValueError(
            "it says neither jig nor stock: its jig's name, or bare stock as 400 x 250 x 18, under "
            "jig; or --jig or --stock, which is taken for all such lines"
        )
    lengths = {axis: _length(axis, values[axis], units[axis]) for axis in "xyz" if axis in values}
    stock = _stock(values["jig"], units["x"])
    return Written(
        number,
        check_name(values["station"]),
        check_code(values["code"]) if "code" in values else None,
        (lengths["x"], lengths["y"]),
        lengths.get("z"),
        None if stock else check_name(values["jig"]),
        stock,
        _stock_zero(values, stock, units["x"]),
        values.get("nest"),
        _turn(values["turn"]) if "turn" in values else None,
        check_day(values["date"]) if "date" in values else None,
        check_name(values["by"]) if "by" in values else None,
        check_note(values["note"]) if "note" in values else None,
    )


def _length(axis: str, text: str, unit: Unit) -> float:
    try:
        return parse_length(text, unit)
    except ValueError as error:
        raise ValueError(f"{axis}: {error}") from None


def _turn(text: str) -> int:
    if text not in ("0", "90", "180", "270"):
        raise ValueError(f"turn: expected 0, 90, 180 or 270, got {text!r}")
    return int(text)


def _stock(text: str, unit: Unit) -> tuple[float, float, float] | None:
    """Bare stock, as `400 x 250 x 18`; None for the name of a jig."""
    parts = text.lower().split("x")
    if len(parts) != 3:
        return None
    try:
        length, width, thickness = (parse_length(part, unit) for part in parts)
    except ValueError:
        return None
    return length, width, thickness
