"""What every command works with: the registry, who works, and the facts of stations."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from pincorner.documents.beds import Bed, Pin
from pincorner.documents.fields import check_note, key_of
from pincorner.documents.jigs import Jig
from pincorner.documents.kinds import AnyDocument
from pincorner.documents.machines import Dialect, Machine
from pincorner.documents.records import Program, Surfacing, Survey
from pincorner.documents.stations import PinInHole, Station, bare_stock_jig
from pincorner.errors import BadInput, RegistryError
from pincorner.registry.reader import NOW, Reader
from pincorner.registry.store import Person, Registry
from pincorner.setups.facts import Facts, LastPaper, UsedHole, UsedHoles
from pincorner.work.places import login_name, registry_location, shop_folder
from pincorner.work.trails import settle

MANY_STATIONS = 50
"""So many stations are read with all others, and their papers too, in one query each."""


class Session(NamedTuple):
    """A registry, and who works on it with which command."""

    registry: Registry
    who: str
    command: str
    why: str | None = None

    @property
    def shop(self) -> Path:
        return shop_folder(self.registry.location)


def open_session(
    db: str | None,
    command: str,
    by: str | None = None,
    note: str | None = None,
    person: Person | None = None,
) -> Session:
    """The session of one command, which speaks with `person`. Raises RegistryError, BadInput."""
    who = who_works(by, note)
    session = Session(Registry(located(db), person), who, command, note)
    settle(session.registry, session.shop)
    return session


def who_works(by: str | None, note: str | None = None) -> str:
    """Who works: `--by`, else the login name, as text that every database and page takes.

    Raises BadInput for a name or a note that is none.
    """
    for option, value in (("--note", note), ("--by", by)):
        try:
            check_note(value or "")
        except ValueError as error:
            raise BadInput(f"{option}: {error}") from None
    return by or login_name()


def located(db: str | None) -> str:
    """Where the registry is. Raises RegistryError, a folder that may not be seen included."""
    try:
        return registry_location(db)
    except OSError as error:
        place = error.filename or db or "the registry"
        raise RegistryError(f"{place} cannot be looked at: {error.strerror or error}") from None


@dataclass
class Library:
    """Documents of one view of the registry, each read once."""

    reader: Reader
    _found: dict[tuple[str, str], AnyDocument] = field(default_factory=dict)
    reads_all: bool = False
    _papers: dict[str, dict[str, LastPaper]] | None = None
    _in_use: dict[str, UsedHoles] = field(default_factory=dict)
    _records: dict[str, dict[str, list[AnyDocument]]] = field(default_factory=dict)

    def get(self, kind: str, name: str) -> AnyDocument:
        """A document. Raises UnknownName."""
        place = (kind, key_of(name))
        if place not in self._found:
            self._found[place] = self.reader.get(kind, name)
        return self._found[place]

    def stations(self, names: Iterable[str]) -> list[Station]:
        """The stations of those names, or all of them. Raises UnknownName."""
        wanted = {key_of(name): name for name in names}
        self.reads_all = not wanted or len(wanted) > MANY_STATIONS
        if self.reads_all:
            found = self.reader.all("station")
            self._found.update((("station", key_of(each.name)), each) for each in found)
        if wanted:
            found = [self.get("station", name) for name in wanted.values()]
        return [station for station in found if isinstance(station, Station)]

    def facts(self, station: Station) -> Facts:
        """Everything that decides a station."""
        bed = self.get("bed", station.bed)
        assert isinstance(bed, Bed)
        machine = self.get("machine", bed.machine)
        assert isinstance(machine, Machine)
        dialect = self.get("dialect", machine.dialect)
        assert isinstance(dialect, Dialect)
        program = self.get("program", station.program) if station.program else None
        assert program is None or isinstance(program, Program)
        return Facts(
            machine=machine,
            dialect=dialect,
            bed=bed,
            pins=self._pins(station),
            holder=self._holder(station),
            station=station,
            program=program,
            survey=self.survey(bed),
            surfacings=self.surfacings(bed),
            used=self._used(bed),
            papers=self._papers_of(station),
        )

    def _papers_of(self, station: Station) -> dict[str, LastPaper]:
        """The newest paper of each nest; for all stations in one query where all are read."""
        if self.reader.limit != NOW:
            return {}
        key = key_of(station.name)
        if self._papers is None:
            rows = self.reader.last_papers(None if self.reads_all else station.name)
            found: dict[str, dict[str, LastPaper]] = {}
            for row in rows:
                last = LastPaper(row["fingerprint"], row["x_mm"], row["y_mm"])
                found.setdefault(row["station_key"], {})[row["nest"]] = last
            if not self.reads_all:
                return found.get(key, {})
            self._papers = found
        return self._papers.get(key, {})

    def _used(self, bed: Bed) -> UsedHoles | None:
        """The holes in use on a bed; None for a past state, whose tables are not kept."""
        if self.reader.limit != NOW:
            return None
        key = key_of(bed.name)
        if key not in self._in_use:
            found = []
            for row in self.reader.holes_in_use(bed.name):
                place, pin = bed.hole(row["label"]), self.get("pin", row["pin_key"])
                if place is not None and isinstance(pin, Pin):
                    stations = (row["first"], row["last"])
                    found.append(UsedHole(place.at_mm, place.label, pin, stations))
            self._in_use[key] = UsedHoles(found)
        return self._in_use[key]

    def _holder(self, station: Station) -> Jig:
        if station.stock is not None:
            return bare_stock_jig(station.stock)
        assert station.jig is not None
        jig = self.get("jig", station.jig)
        assert isinstance(jig, Jig)
        return jig

    def _pins(self, station: Station) -> dict[str, Pin]:
        entries = [entry for _, _, entry in station.pins.by_role()] if station.pins else []
        names = {station.pin, *(e.pin for e in entries if isinstance(e, PinInHole))}
        found = {key_of(name): self.get("pin", name) for name in names}
        return {key: pin for key, pin in found.items() if isinstance(pin, Pin)}

    def survey(self, bed: Bed) -> Survey | None:
        """The accepted survey that counts for a bed: the last by name."""
        found = [each for each in self._of_bed("survey", bed) if isinstance(each, Survey)]
        return found[-1] if found else None

    def surfacings(self, bed: Bed) -> tuple[Surfacing, ...]:
        """A bed's surfacings in order."""
        found = self._of_bed("surfacing", bed)
        return tuple(each for each in found if isinstance(each, Surfacing))

    def _of_bed(self, kind: str, bed: Bed) -> list[AnyDocument]:
        """Surveys or surfacings of a bed, in order of name (they are named by date)."""
        if kind not in self._records:
            by_bed: dict[str, list[AnyDocument]] = {}
            for record in self.reader.all(kind):
                assert isinstance(record, Survey | Surfacing)
                by_bed.setdefault(key_of(record.bed), []).append(record)
            self._records[kind] = by_bed
        return self._records[kind].get(key_of(bed.name), [])
