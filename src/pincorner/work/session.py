"""What every command works with: the registry, who works, and the facts of stations."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import AbstractContextManager
from functools import cached_property, partial
from pathlib import Path
from typing import NamedTuple, Protocol, TypeVar

from pincorner.documents.alone import View
from pincorner.documents.beds import Bed, Pin
from pincorner.documents.fields import WholeDocument, check_note, key_of
from pincorner.documents.jigs import Jig
from pincorner.documents.kinds import D, word_of
from pincorner.documents.machines import Dialect, Machine
from pincorner.documents.records import Disturbance, Program, Surfacing, Survey
from pincorner.documents.stations import Station, bare_stock_jig
from pincorner.errors import BadInput, RegistryError, UnknownName, together
from pincorner.registry.reader import Reader
from pincorner.registry.store import Person, Registry
from pincorner.registry.times import local_minute, parse_as_of
from pincorner.registry.writer import Writer
from pincorner.render.text.dates import State
from pincorner.setups.facts import Facts, LastPaper, UsedHole, UsedHoles
from pincorner.setups.setup import OffsetRow
from pincorner.setups.transform import offset_rows
from pincorner.units import Unit
from pincorner.work.files.trails import settle
from pincorner.work.files.whereabouts import login_name, registry_location, shop_folder

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
        """The folder that program files and templates are relative to."""
        return shop_folder(self.registry.location)

    def reading(self, as_of: str | None = None) -> AbstractContextManager[Reader]:
        """One consistent view, now or as recorded up to a day or time as people write it.

        Raises BadInput for a time that cannot be read, RegistryError.
        """
        return self.registry.reading(None if as_of is None else parse_as_of(as_of))

    def writing(self, *, dry_run: bool = False) -> AbstractContextManager[Writer]:
        """One change, whole or not at all, by who works here; of a dry run nothing is kept.

        Raises RegistryError, and BadInput unless the clock is right.
        """
        if dry_run:
            return self.registry.rehearsing(self.who, self.command)
        return self.registry.writing(self.who, self.command, self.why)


class Source(Protocol):
    """What is read by those who change nothing: a session's registry, or documents alone."""

    @property
    def shop(self) -> Path:
        """The folder that program files and templates are relative to."""

    def reading(self, as_of: str | None = None) -> AbstractContextManager[View]:
        """One consistent view, now or as recorded up to a day or time as people write it."""


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


def only_name(reader: Reader, model: type[WholeDocument]) -> str | None:
    """The name of the only document of its kind; None where there is none, or a choice."""
    names = reader.names(model)
    return names[0] if len(names) == 1 else None


def state_of(reader: Reader) -> State:
    """The state that a view shows, for pages made of it now."""
    return state_at(reader.last_change, reader.last_changed)


def state_at(change: int, at: str | None) -> State:
    """The state behind a change, made when `at` says (UTC), for pages made of it now."""
    return State(change, "" if at is None else local_minute(at)[:10], local_minute())


def located(db: str | None) -> str:
    """Where the registry is. Raises RegistryError, a folder that may not be seen included."""
    try:
        return registry_location(db)
    except OSError as error:
        place = error.filename or db or "the registry"
        raise RegistryError(f"{place} cannot be looked at: {error.strerror or error}") from None


_Record = TypeVar("_Record", Survey, Surfacing, Disturbance)


def _by_bed(records: Iterable[_Record]) -> dict[str, list[_Record]]:
    """Records by the key of their bed, in the order they come."""
    found: dict[str, list[_Record]] = {}
    for record in records:
        found.setdefault(key_of(record.bed), []).append(record)
    return found


class Library:
    """Documents of one view (of the registry, or alone), each read once, and facts of stations.

    `new`: documents of a load that is not yet written; they stand before those of the registry.
    What the tables of the registry say (holes in use, papers) is of before that load.
    """

    def __init__(self, reader: View, new: Iterable[WholeDocument] = ()) -> None:
        self.reader = reader
        self.reads_all = False
        self._new: dict[type[WholeDocument], dict[str, WholeDocument]] = {}
        for document in new:
            self._new.setdefault(type(document), {})[key_of(document.name)] = document
        self._found: dict[tuple[type[WholeDocument], str], WholeDocument | None] = {
            (model, key): each
            for model, by_key in self._new.items()
            for key, each in by_key.items()
        }
        self._papers: dict[str, dict[str, LastPaper]] | None = None
        self._in_use: dict[str, UsedHoles] = {}
        self._disturbed: dict[str, Disturbance | None] = {}

    def find(self, model: type[D], name: str) -> D | None:
        """The document of that class and name; None where there is none."""
        place = (model, key_of(name))
        if place not in self._found:
            self._found[place] = self.reader.find(model, name)
        found = self._found[place]
        return found if isinstance(found, model) else None

    def has(self, model: type[WholeDocument], name: str) -> bool:
        """Whether there is a document of that class and name."""
        return self.find(model, name) is not None

    def get(self, model: type[D], name: str) -> D:
        """The document of that class and name. Raises UnknownName, with what was probably meant."""
        found = self.find(model, name)
        if found is None:
            raise UnknownName(word_of(model), name, self.names(model))
        return found

    def names(self, model: type[WholeDocument]) -> list[str]:
        """The names of a class's documents: the registry's, then those of the load."""
        return [*self.reader.names(model), *(d.name for d in self._new.get(model, {}).values())]

    def all(self, model: type[D]) -> list[D]:
        """Every document of a class, by name."""
        found = {key_of(document.name): document for document in self.reader.all(model)}
        found |= {
            key: new for key, new in self._new.get(model, {}).items() if isinstance(new, model)
        }
        self._found.update(((model, key), document) for key, document in found.items())
        return [found[key] for key in sorted(found)] if model in self._new else list(found.values())

    def stations(self, names: Iterable[str]) -> list[Station]:
        """The stations of those names, or all of them. Raises UnknownName, or BadInput with a line
        for each where several are not there."""
        wanted = {key_of(name): name for name in names}
        self.reads_all = not wanted or len(wanted) > MANY_STATIONS
        if self.reads_all:
            every = self.all(Station)
            if not wanted:
                return every
        return self.get_every(Station, wanted.values())

    def stations_on(self, bed: str) -> list[Station]:
        """The stations of a bed, by its name or key."""
        wanted = key_of(bed)
        return [each for each in self.stations(()) if key_of(each.bed) == wanted]

    def rows(self, stations: Iterable[Station]) -> list[OffsetRow]:
        """A row for each nest of some stations. Raises UnknownName."""
        return [row for station in stations for row in offset_rows(self.facts(station))]

    def get_every(self, model: type[D], names: Iterable[str]) -> list[D]:
        """The documents of a class and those names, in their order. Raises as `stations` does."""
        return together(*(partial(self.get, model, name) for name in names))

    def facts(self, station: Station) -> Facts:
        """Everything that decides a station. Raises UnknownName."""
        bed = self.get(Bed, station.bed)
        return self._facts(station, bed)._replace(disturbed=self.disturbed(bed))

    def _facts(self, station: Station, bed: Bed) -> Facts:
        """The same, but for whether the bed was disturbed."""
        machine = self.get(Machine, bed.machine)
        return Facts(
            machine=machine,
            dialect=self.get(Dialect, machine.dialect),
            bed=bed,
            pins=self._pins(station),
            holder=self._holder(station),
            station=station,
            program=None if station.program is None else self.get(Program, station.program),
            survey=self.survey(bed),
            surfacings=self.surfacings(bed),
            used=self._used(bed),
            papers=self._papers_of(station),
            nest_programs=self._nest_programs(station),
        )

    def _nest_programs(self, station: Station) -> dict[str, Program]:
        """The programs of nests that have one of their own."""
        nests = self._holder(station).nests
        return {n.name: self.get(Program, n.program) for n in nests if n.program is not None}

    def _papers_of(self, station: Station) -> dict[str, LastPaper]:
        """The newest paper of each nest; for all stations in one query where all are read."""
        if not self.reader.is_now:
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
        if not self.reader.is_now:
            return None
        key = key_of(bed.name)
        if key not in self._in_use:
            found = []
            for row in self.reader.holes_in_use(bed.name):
                place = bed.hole(row.label)
                if place is not None:
                    pin, stations = self.get(Pin, row.pin_key), (row.first, row.last)
                    found.append(UsedHole(place.at_mm, place.label, pin, stations))
            self._in_use[key] = UsedHoles(found)
        return self._in_use[key]

    def _holder(self, station: Station) -> Jig:
        if station.stock is not None:
            return bare_stock_jig(station.stock, station.stock_zero)
        assert station.jig is not None
        return self.get(Jig, station.jig)

    def _pins(self, station: Station) -> dict[str, Pin]:
        entries = [entry for _, _, entry in station.pins_by_role]
        own = () if station.measured is not None else (station.pin,)
        names = {*own, *map(station.pin_of, entries)}
        return {key_of(name): self.get(Pin, name) for name in names}

    def unit_of(self, bed: Bed) -> Unit:
        """The unit of a bed's machine."""
        return self.get(Machine, bed.machine).units

    def survey(self, bed: Bed) -> Survey | None:
        """The accepted survey that counts for a bed: the last by name (they are dates)."""
        found = self._surveys.get(key_of(bed.name))
        return found[-1] if found else None

    def surfacings(self, bed: Bed) -> tuple[Surfacing, ...]:
        """A bed's surfacings in order of name."""
        return tuple(self._surfacings.get(key_of(bed.name), ()))

    def disturbed(self, bed: Bed) -> Disturbance | None:
        """A bed's last disturbance (by name), where nothing has shown since where the bed lies.

        A survey shows it (of two holes or more: one tells no angle), or verifications do.
        """
        key = key_of(bed.name)
        if key not in self._disturbed:
            last = self._disturbances.get(key, [None])[-1]
            if last is not None and (
                self._surveyed_since(bed, last) or self._found_again(bed, last)
            ):
                last = None
            self._disturbed[key] = last
        return self._disturbed[key]

    def _surveyed_since(self, bed: Bed, record: Disturbance) -> bool:
        survey = self.survey(bed)
        return survey is not None and survey.name > record.name and survey.fit.points > 1

    def _found_again(self, bed: Bed, record: Disturbance) -> bool:
        """Whether the newest verifications since show the bed where it is on file."""
        from pincorner.surveys.drift import compare, is_of, logged_of, shows_where

        newest = {(r["station_key"], r["nest"]): r for r in self.reader.verified_since(record)}
        compared = []
        for (key, nest), row in newest.items():
            station = self.find(Station, key)
            if station is None or key_of(station.bed) != key_of(bed.name):
                continue
            for each in offset_rows(self._facts(station, bed)):
                logged = logged_of(row)
                if each.nest == nest and each.setup is not None and is_of(logged, each.setup):
                    compared.append((each.setup, compare(each.setup, logged)))
        return shows_where(bed, compared)

    @cached_property
    def _disturbances(self) -> dict[str, list[Disturbance]]:
        return _by_bed(self.all(Disturbance))

    @cached_property
    def _surveys(self) -> dict[str, list[Survey]]:
        return _by_bed(self.all(Survey))

    @cached_property
    def _surfacings(self) -> dict[str, list[Surfacing]]:
        return _by_bed(self.all(Surfacing))
