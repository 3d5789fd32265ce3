"""`adopt`: a shop's written-down offsets, and the pin corners that explain them best.

Nothing is registered here: what comes out are stations as documents, each with what was written
down and how far from it its pins have it, to be looked at and loaded.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from pincorner.documents.beds import Bed, Pin
from pincorner.documents.fields import check_code, check_name, check_note, key_of
from pincorner.documents.jigs import Jig
from pincorner.documents.reading import text_of
from pincorner.documents.stations import Station, hole_of
from pincorner.documents.writing import to_yaml
from pincorner.errors import BadInput, DocumentErrors, Problem, Refused, suggestion, unknown
from pincorner.geometry.pose import XY
from pincorner.places.pins import bed_holes
from pincorner.places.ways import TOWARDS, draft_named, draft_of, find_ways, nominal_deg
from pincorner.setups.facts import Facts
from pincorner.setups.holes import bed_pose
from pincorner.setups.locating import locate
from pincorner.units import Unit, parse_length, told
from pincorner.work.session import Library, Session

COLUMNS = ("station", "code", "x", "y", "z", "jig", "nest", "note")
_NEEDED = ("station", "x", "y", "jig")
HEADER = "station,code,x,y,z,jig,nest,note"

SAME_MM = 0.1
"""Ways that are nearer by less than this do not explain an offset any better."""


class Written(NamedTuple):
    """An offset as it was written down: lengths in mm; `stock` (mm) where there is no jig."""

    line: int
    station: str
    code: str | None
    at_mm: XY
    z_mm: float | None
    jig: str | None
    stock: tuple[float, float, float] | None
    nest: str | None
    note: str | None


class Explained(NamedTuple):
    """A written-down offset and the way of laying its jig that comes nearest to it.

    found: the station with its pins; None where no pins hold it. at_mm: where those have the zero.
    alike: other ways as near, in words, since nobody writes down a hundredth. next_mm: how far the
    next of all others is off; None where there is none.
    """

    written: Written
    found: Station | None
    at_mm: XY
    off_mm: float
    alike: tuple[str, ...]
    next_mm: float | None

    @property
    def where(self) -> str:
        """Holes and turn, as people say them."""
        if self.found is None or self.found.pins is None:
            return "no pins hold it"
        pins = " ".join(hole_of(entry) for _, _, entry in self.found.pins.by_role())
        others = f" (or {', '.join(self.alike)})" if self.alike else ""
        return f"{_corner(self.found)}: {pins}{others}"


def _corner(station: Station) -> str:
    """`C2 +x+y, turned 90`, or what dowels there are."""
    if station.corner is None or station.toward is None:
        return "dowels"
    return f"{station.corner} {station.toward}{f', turned {station.turn}' if station.turn else ''}"


class Adopted(NamedTuple):
    """What became of a file: all its offsets, the text of those that pins explain, the unit."""

    rows: tuple[Explained, ...]
    within_mm: float
    text: str
    unit: Unit

    def is_taken(self, row: Explained) -> bool:
        """Whether its pins come near enough to what was written down."""
        return row.found is not None and row.off_mm <= self.within_mm


def adopt(session: Session, file: Path, bed: str, pin: str, within_mm: float) -> Adopted:
    """Explain the offsets of a file on a bed with a kind of pin.

    Raises DocumentErrors with every problem of the file, UnknownName, BadInput.
    """
    with session.reading() as reader:
        library, unit = Library(reader), reader.display_units
        bed, pin = library.get(Bed, bed).name, library.get(Pin, pin).name
        written = read_written(text_of(file), str(file), unit)
        problems = [
            Problem(str(file), each.line, "jig", unknown("jig", each.jig, library.names(Jig)))
            for each in written
            if each.jig is not None and not library.has(Jig, each.jig)
        ]
        if problems:
            raise DocumentErrors(problems)
        seen: dict[Any, _Ways] = {}
        rows = []
        for each in written:
            held = each.jig and key_of(each.jig), each.stock
            if held not in seen:
                draft = draft_of(bed, pin, each.jig, each.stock)
                seen[held] = _ways_of(library.facts(draft))
            rows.append(_explained(each, seen[held], within_mm))
    found = Adopted(tuple(rows), within_mm, "", unit)
    return found._replace(text=_documents(found, file))


class _Ways(NamedTuple):
    """Every way of laying a jig that pins hold, and where each nest's zero is then, mm."""

    facts: Facts
    stations: tuple[Station, ...]
    zeros: tuple[Mapping[str, XY], ...]


def _ways_of(facts: Facts) -> _Ways:
    nowhere = facts.station.model_copy(update={"corner": None, "toward": None})
    facts = facts._replace(station=nowhere)
    in_machine = bed_pose(facts)
    turns_nothing = facts.dialect.rotation == "none"
    stations, zeros = [], []
    for station in find_ways(facts, bed_holes(facts), (), None).stations:
        try:
            located = locate(facts._replace(station=station))
        except Refused:
            continue
        jig_in_bed = located.corner_in_bed @ located.jig_in_corner
        jig = in_machine @ jig_in_bed
        nests = {key_of(nest.name): jig @ nest.in_jig for nest in facts.holder.nests}
        posted = {"program_angle": nominal_deg(facts, jig_in_bed)}
        stations.append(station.model_copy(update=posted) if turns_nothing else station)
        zeros.append({name: (pose.x_mm, pose.y_mm) for name, pose in nests.items()})
    return _Ways(facts, tuple(stations), tuple(zeros))


def _explained(written: Written, ways: _Ways, within_mm: float) -> Explained:
    """The way that explains an offset: of those that come near enough the least turned one.

    Raises UnknownName for a nest that the jig has not.
    """
    nest = ways.facts.nest(written.nest)
    zeros = [each[key_of(nest.name)] for each in ways.zeros]
    if not zeros:
        return Explained(written, None, written.at_mm, math.inf, (), None)
    off = [math.dist(zero, written.at_mm) for zero in zeros]
    near = [at for at, each in enumerate(off) if each <= within_mm] or list(range(len(off)))
    least = min(ways.stations[at].turn for at in near)
    upright = [at for at in near if off[at] > within_mm or ways.stations[at].turn == least]
    nearest = min(off[at] for at in upright)
    alike = [at for at in upright if off[at] <= nearest + SAME_MM]
    alike.sort(key=lambda at: TOWARDS.index(ways.stations[at].toward or TOWARDS[0]))
    best, *others = alike
    rest = [each for at, each in enumerate(off) if at not in alike]
    station = _named(ways, best, written, nest.name, off[best])
    words = tuple(_corner(ways.stations[at]) for at in others)
    return Explained(written, station, zeros[best], off[best], words, min(rest, default=None))


def _named(ways: _Ways, at: int, written: Written, nest: str, off_mm: float) -> Station:
    """The station of a way under the name that was written down, with its code and note."""
    unit = ways.facts.machine.units
    figures = [
        f"{axis} {told(value, unit)}" for axis, value in zip("XY", written.at_mm, strict=True)
    ]
    if written.z_mm is not None:
        figures.append(f"Z {told(written.z_mm, unit)} (of that day's tool)")
    adopted = f"Written down: {', '.join(figures)}; {told(off_mm, unit)} from its pins."
    station = draft_named(ways.stations[at], written.station)
    return station.model_copy(
        update={
            "work_offsets": {} if written.code is None else {nest: written.code},
            "note": ". ".join(filter(None, (written.note, adopted))),
        }
    )


def _documents(found: Adopted, file: Path) -> str:
    """Stations as a file to look at and load; what no pins explain stands in comments."""
    taken = [row.found for row in found.rows if found.is_taken(row) and row.found is not None]
    lines = [f"# Offsets of {file.name}, at the pins that explain them best: look, then load."]
    lines += [
        f"# not explained by pins: {row.written.station}"
        for row in found.rows
        if not found.is_taken(row)
    ]
    return "".join(f"{line}\n" for line in lines) + to_yaml(taken)


# ---- the file ------------------------------------------------------------------------------------


def read_written(text: str, file: str, unit: Unit) -> list[Written]:
    """The offsets of a comma-separated file with a header. Raises DocumentErrors with all problems.

    Columns in any order: station, x, y, jig (a jig's name, or bare stock as 400 x 250 x 18), and
    code, z, nest, note; x_mm or x_in says its unit, bare numbers are else in `unit`.
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
            found.append(_written(number, values, units))
        except ValueError as error:
            problems.append(Problem(file, number, "", str(error)))
    stations = [key_of(each.station) for each in found]
    for each in found:
        if stations.index(key_of(each.station)) < found.index(each):
            problems.append(Problem(file, each.line, "", f"{each.station} stands there twice"))
    if problems:
        raise DocumentErrors(sorted(problems, key=lambda each: each.line or 0))
    return found


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


def _written(number: int, values: Mapping[str, str], units: Mapping[str, Unit]) -> Written:
    for name in _NEEDED:
        if name not in values:
            raise ValueError(f"{name} is missing")
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
        values.get("nest"),
        check_note(values["note"]) if "note" in values else None,
    )


def _length(axis: str, text: str, unit: Unit) -> float:
    try:
        return parse_length(text, unit)
    except ValueError as error:
        raise ValueError(f"{axis}: {error}") from None


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


HEADS = ("station", "code", "X", "Y", "Z", "pins", "off by", "next", "")


def rows_as_text(found: Adopted) -> Iterator[tuple[str, ...]]:
    """A row of words for each offset: as written, its pins, where they have it, the difference."""
    for row in found.rows:
        written, unit = row.written, found.unit
        off = told(row.off_mm, unit) if row.found else "-"
        following = "-" if row.next_mm is None else told(row.next_mm, unit)
        z = "-" if written.z_mm is None else told(written.z_mm, unit)
        at = [told(value, unit) for value in written.at_mm]
        taken = "taken" if found.is_taken(row) else "not explained"
        yield (written.station, written.code or "-", *at, z, row.where, off, following, taken)
