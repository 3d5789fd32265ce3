"""`adopt`: a shop's written-down offsets as stations of their own kind, as measured.

For each the pin corner is proposed that explains it best: it can be laid against pins later.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from pincorner.documents.beds import Bed, Pin
from pincorner.documents.fields import key_of
from pincorner.documents.jigs import Jig, Nest, OnDowels
from pincorner.documents.reading import text_of
from pincorner.documents.stations import Station, hole_of
from pincorner.documents.writing import IN_MM
from pincorner.errors import BadInput, DocumentErrors, Problem, Refused, unknown
from pincorner.geometry.pose import XY, Pose
from pincorner.places.pins import bed_holes
from pincorner.places.ways import DRAFT, QUARTERS, TOWARDS, draft_of, find_ways, nominal_deg
from pincorner.render.outputs.stations import AdoptedEntry
from pincorner.render.text.places import command_for_pins
from pincorner.setups.facts import Facts
from pincorner.setups.holes import bed_pose
from pincorner.setups.locating import jig_in_quadrant, locate, sign_of
from pincorner.units import Unit, told, told_size
from pincorner.work.first.written_down import Written, read_written
from pincorner.work.placing import usual_pin
from pincorner.work.registering import Entered, as_entered, enter
from pincorner.work.session import Library, Session

LOOKED_AT = 64
"""So many ways, the nearest by their corner holes, are located with their pins."""

SAME_MM = 0.1
"""Ways that are nearer by less than this do not explain an offset any better."""


class Proposed(NamedTuple):
    """The way of laying the jig against pins that comes nearest to an offset.

    found: the station with its pins. turn: how the jig lies then, to a quarter. at_mm: where they
    have the zero. alike: other ways as near, in words, since nobody writes down a hundredth.
    next_mm: how far the next of all others is off; None where there is none.
    """

    found: Station
    turn: int
    at_mm: XY
    off_mm: float
    alike: tuple[str, ...]
    next_mm: float | None

    @property
    def pins(self) -> list[str]:
        """The holes, in the order in which `register` takes them."""
        entries = self.found.pins.by_role() if self.found.pins is not None else ()
        return [hole_of(entry) for _, _, entry in entries]

    @property
    def where(self) -> str:
        """Holes and turn, as people say them."""
        others = f" (or {', '.join(self.alike)})" if self.alike else ""
        return f"{_corner(self.found)}: {' '.join(self.pins)}{others}"


def _corner(station: Station) -> str:
    """`C2 +x+y, turned 90`, or what dowels there are."""
    if station.corner is None or station.toward is None:
        return "dowels"
    return f"{station.corner} {station.toward}{f', turned {station.turn}' if station.turn else ''}"


class Row(NamedTuple):
    """An offset, the station that it becomes, and the pins nearest to it; None where none hold."""

    written: Written
    station: Station
    nearest: Proposed | None


class Adopted(NamedTuple):
    """What a file comes to: its rows, the pins looked at (None: none on file), the shop's unit.

    `values`: the stations' keys, as they are to be entered.
    """

    rows: tuple[Row, ...]
    values: tuple[Mapping[str, Any], ...]
    pin: str | None
    within_mm: float
    unit: Unit

    def proposal(self, row: Row) -> Proposed | None:
        """The pins that explain an offset; None where they come not near enough."""
        near = row.nearest
        return near if near is not None and near.off_mm <= self.within_mm else None

    def taken(self) -> Iterator[str]:
        """The lines whose jig or stock was not written, and what was taken for it."""
        rows = [row for row in self.rows if row.written.is_taken]
        if rows:
            jig, stock = rows[0].written.jig, rows[0].written.stock
            lines = ", ".join(str(row.written.line) for row in rows)
            what = (jig and f"jig {jig}") or "bare stock " + " x ".join(
                told_size(each, self.unit) for each in stock or ()
            )
            if any(zero := rows[0].written.stock_zero):
                at = [told(each, self.unit) for each in zero]
                what += f", zero X {at[0]} Y {at[1]} from its corner"
            yield f"line {lines}: says neither jig nor stock, taken as {what}"

    def turned_otherwise(self) -> Iterator[str]:
        """Stations whose pins would have their jig turned otherwise than it is taken to lie."""
        for row in self.rows:
            proposed = self.proposal(row)
            if proposed and row.written.turn is None and proposed.turn != row.station.turn:
                yield (
                    f"line {row.written.line}: {row.written.station} is taken as turned "
                    f"{row.station.turn}, pins explain it turned {proposed.turn}: a column turn "
                    "says how its jig lies"
                )


def looked_at(
    session: Session,
    file: Path,
    bed: str,
    pin: str | None,
    within_mm: float,
    unit: Unit | None,
    without: str | None = None,
    zero: tuple[str, str] | None = None,
) -> Adopted:
    """The offsets of a file as stations on a bed, with pins that explain them; nothing is written.

    `pin`: None for the one that the bed's stations use most. `unit`: of bare numbers, the shop's
    with None. `without`: the jig or stock of lines that name neither; `zero`: X and Y of the zero
    of such stock. Raises DocumentErrors with every problem of the file, UnknownName, BadInput.
    """
    with session.reading() as reader:
        library, shop_unit = Library(reader), reader.display_units
        bed = library.get(Bed, bed).name
        used = usual_pin(bed, library.stations(()), reader.names(Pin)) if pin is None else pin
        pin = None if used is None else library.get(Pin, used).name
        written, problems = read_written(text_of(file), str(file), unit or shop_unit, without, zero)
        seen: dict[Any, _Ways] = {}
        values, rows = [], []
        for each in written:
            try:
                ways = _ways_to_lie(library, bed, pin, each, seen)
                stated = _values(each, bed, ways.facts)
                entered = as_entered(reader, stated)
            except (BadInput, Refused) as error:
                problems.append(Problem(str(file), each.line, "", str(error)))
                continue
            values.append(stated)
            rows.append(Row(each, entered, _nearest(each, entered, ways, within_mm)))
        if problems:
            raise DocumentErrors(sorted(problems, key=lambda each: each.line or 0))
    return Adopted(tuple(rows), tuple(values), pin, within_mm, shop_unit)


def take_over(session: Session, adopted: Adopted, *, dry_run: bool) -> Entered:
    """Enter the stations, all in one change. What is on file otherwise is asked about first.

    Raises BadInput, Refused.
    """
    return enter(session, adopted.values, dry_run=dry_run)


def _values(written: Written, bed: str, facts: Facts) -> dict[str, Any]:
    """The keys of the station that an offset becomes, lengths in mm."""
    nest, turn = facts.nest(written.nest), written.turn or 0
    measured = {
        "x": written.at_mm[0], "y": written.at_mm[1], "z": written.z_mm, "nest": written.nest,
        "date": written.date, "by": written.by,
    }  # fmt: skip
    stated: dict[str, Any] = {
        "name": written.station,
        "bed": bed,
        "jig": written.jig,
        "stock": written.stock,
        "stock_zero": written.stock_zero if written.stock else None,
        "measured": {key: value for key, value in measured.items() if value is not None},
        "turn": written.turn,
        "work_offsets": {} if written.code is None else {nest.name: written.code},
        "note": written.note,
    }
    lies = Pose.of_degrees("bed", "jig", 0.0, 0.0, turn)
    posted = nominal_deg(facts, lies) if facts.dialect.rotation == "none" else 0.0
    if posted:  # it ran so, and this controller cannot turn its axes
        stated["program_angle"] = posted
    return {key: value for key, value in stated.items() if value not in (None, {})}


# ---- the pins that explain it --------------------------------------------------------------------


class _Ways(NamedTuple):
    """Every way of laying a jig that pins may hold, and the places of the bed's holes."""

    facts: Facts
    stations: tuple[Station, ...] = ()
    places: Mapping[str, XY] = MappingProxyType({})


class _Lies(NamedTuple):
    """One of them that pins do hold: how the jig lies turned, to a quarter, and the zero, mm."""

    station: Station
    turn: int
    zero_mm: XY


def _ways_to_lie(
    library: Library, bed: str, pin: str | None, written: Written, seen: dict[Any, _Ways]
) -> _Ways:
    """The ways of laying what an offset is of, worked out once. Raises BadInput for its names."""
    if written.jig is not None and not library.has(Jig, written.jig):
        raise BadInput(unknown("jig", written.jig, library.names(Jig)))
    held = (
        written.jig and key_of(written.jig), written.stock, written.stock_zero, written.turn,
    )  # fmt: skip
    if held not in seen:
        if pin is None:
            seen[held] = _Ways(library.facts(_without_pins(bed, written)))
        else:
            draft = draft_of(bed, pin, written.jig, written.stock, written.stock_zero)
            seen[held] = _ways_of(library.facts(draft), written.turn)
    return seen[held]


def _without_pins(bed: str, written: Written) -> Station:
    """A station of what an offset is of, for a shop that has no pins on file."""
    lying: dict[str, Any] = {"name": DRAFT, "bed": bed, "measured": {"x": 0.0, "y": 0.0}}
    if written.jig:
        lying["jig"] = written.jig
    else:
        lying |= {"stock": written.stock, "stock_zero": written.stock_zero}
    return Station.model_validate(lying, context=IN_MM)


def _ways_of(facts: Facts, turn: int | None) -> _Ways:
    """All ways to lie with the draft's pins: turned so, or by any quarter."""
    nowhere = facts.station.model_copy(update={"corner": None, "toward": None})
    facts, holes = facts._replace(station=nowhere), bed_holes(facts)
    found = find_ways(facts, holes, (), None if turn is None else (turn,))
    labels = (place.label for place in holes.places)
    places = {label: (x, y) for label, (x, y) in zip(labels, holes.true.tolist(), strict=True)}
    stations = tuple(map(found.station, range(len(found.of))))
    return _Ways(facts, stations, places)


def _lying_near(ways: _Ways, nest: Nest, at_mm: XY) -> list[_Lies]:
    """The ways that have a nest's zero nearest to a place in the machine, LOOKED_AT of them.

    They are found by their corner holes alone, from which pins move a jig by a tenth of the pitch
    at most: among so many, some 16 to a pitch squared, the nearest are.
    """
    facts, in_machine = ways.facts, bed_pose(ways.facts)
    on_bed = in_machine.inverse().point(at_mm)
    reach = {
        (turn, toward): _zero_from_corner(facts, nest, turn, toward)
        for turn in QUARTERS
        for toward in TOWARDS
    }

    def off_mm(station: Station) -> float:
        assert station.corner is not None and station.toward is not None  # on edges
        (x, y), (dx, dy) = ways.places[station.corner], reach[station.turn, station.toward]
        return math.dist((x + dx, y + dy), on_bed)

    dowels = isinstance(facts.holder.locate, OnDowels)
    nearest = ways.stations if dowels else sorted(ways.stations, key=off_mm)[:LOOKED_AT]
    found = []
    for station in nearest:
        try:
            located = locate(facts._replace(station=station))
        except Refused:
            continue
        jig = located.corner_in_bed @ located.jig_in_corner
        zero = in_machine @ jig @ nest.in_jig
        if facts.dialect.rotation == "none":
            posted = {"program_angle": nominal_deg(facts, jig)}
            station = station.model_copy(update=posted)
        turn = round(jig.angle_deg / 90) * 90 % 360
        found.append(_Lies(station, turn, (zero.x_mm, zero.y_mm)))
    return found


def _zero_from_corner(facts: Facts, nest: Nest, turn: int, toward: str) -> XY:
    """From a corner hole to the nest's zero, in bed coordinates, with pins that do not give."""
    sx, sy = sign_of(toward, 0), sign_of(toward, 1)
    radius_mm = facts.pin_of(facts.station.pin).body / 2
    x, y = jig_in_quadrant(facts.holder.outline, turn, sx, sy).point(nest.zero)
    return x + sx * radius_mm, y + sy * radius_mm


def _nearest(written: Written, entered: Station, ways: _Ways, within_mm: float) -> Proposed | None:
    """The way that explains an offset: of those that come near enough one that lies as the station
    is taken to lie, else the least turned. None where no pins hold the jig.
    """
    every = _lying_near(ways, ways.facts.nest(written.nest), written.at_mm) if ways.stations else []
    if not every:
        return None
    off = [math.dist(each.zero_mm, written.at_mm) for each in every]
    near = [at for at, each in enumerate(off) if each <= within_mm]
    turns = {every[at].turn for at in near}
    turn = entered.turn if entered.turn in turns else min(turns, default=0)
    lies = [at for at in near if every[at].turn == turn] or list(range(len(off)))
    nearest = min(off[at] for at in lies)
    alike = [at for at in lies if off[at] <= nearest + SAME_MM]
    alike.sort(key=lambda at: TOWARDS.index(every[at].station.toward or TOWARDS[0]))
    best, *others = alike
    rest = [each for at, each in enumerate(off) if at not in alike]
    words = tuple(_corner(every[at].station) for at in others)
    return Proposed(*every[best], off[best], words, min(rest, default=None))


# ---- as text, and as a report --------------------------------------------------------------------

HEADS = ("station", "code", "jig", "X", "Y", "Z")


def cells(adopted: Adopted) -> Iterator[tuple[str, ...]]:
    """A row of words for each offset, as it was written."""
    for row in adopted.rows:
        written, unit = row.written, adopted.unit
        z = "-" if written.z_mm is None else told(written.z_mm, unit)
        at = [told(value, unit) for value in written.at_mm]
        yield written.station, written.code or "-", written.jig or "bare stock", *at, z


def sentences(adopted: Adopted) -> Iterator[str]:
    """Of each offset the pins that explain it, how far they are off, and how to lay it there."""
    unit = adopted.unit
    within = told(adopted.within_mm, unit)
    for row in adopted.rows:
        near, name = row.nearest, row.written.station
        if near is None:
            yield f"{name}: no pins on file hold its jig on this bed"
            continue
        off = told(near.off_mm, unit)
        if adopted.proposal(row) is None:
            yield f"{name}: no pins explain it within {within}; nearest {near.where}, {off} off"
            continue
        rest = (
            "" if near.next_mm is None else f"; the next of all others {told(near.next_mm, unit)}"
        )
        yield f"{name}: {near.where}, {off} off{rest}"
        yield f"  {command_for_pins(row.station, near.found)}"


def entries(adopted: Adopted) -> list[AdoptedEntry]:
    """The same for a report."""
    found: list[AdoptedEntry] = []
    for row in adopted.rows:
        near, written = adopted.proposal(row), row.written
        found.append({
            "line": written.line,
            "station": row.station.name,
            "jig": row.station.jig,
            "nest": written.nest,
            "work_offset": written.code,
            "x_mm": written.at_mm[0],
            "y_mm": written.at_mm[1],
            "z_mm": written.z_mm,
            "proposed": None if near is None else {
                "pin": near.found.pin,
                "pins": near.pins,
                "corner": near.found.corner,
                "toward": near.found.toward,
                "turn_deg": near.turn,
                "x_mm": near.at_mm[0],
                "y_mm": near.at_mm[1],
                "alike": list(near.alike),
                "command": command_for_pins(row.station, near.found),
            },
            "off_mm": None if row.nearest is None else row.nearest.off_mm,
            "next_mm": None if row.nearest is None else row.nearest.next_mm,
        })  # fmt: skip
    return found
