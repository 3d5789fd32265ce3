"""A registry at a place: a Reader for the present or any past state, a Writer for a change."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from sqlalchemy import Connection, Engine, func, insert, inspect, select

from pincorner.documents.fields import WholeDocument
from pincorner.errors import BadInput, RegistryDamaged, RegistryMissing
from pincorner.registry import clock, times, versions
from pincorner.registry.checking import check_contents, check_database
from pincorner.registry.engine import Writing, copy_pages, in_memory, make_engine, transaction
from pincorner.registry.locations import shown, sqlite_path
from pincorner.registry.making import put_in_place, staged_beside, there_is
from pincorner.registry.meanings import WHAT_HELPS
from pincorner.registry.reader import NOW, Reader
from pincorner.registry.renewing import as_before, renew
from pincorner.registry.tables import change, copy_rows, registry
from pincorner.registry.writer import Writer
from pincorner.units import Unit


class Upgraded(NamedTuple):
    """An upgrade: the schema's version before and after; a line for each document it changed.

    `repaired`: how many entries had a time later than now, and have not any more. `kept`: a line
    for each document that says now what counted while it said nothing.
    """

    before: str
    after: str
    changed: tuple[str, ...]
    repaired: int = 0
    kept: tuple[str, ...] = ()


class Person(NamedTuple):
    """How a command speaks with the person who gave it.

    `sure` is asked whether something odd is meant; without it nothing odd is done. `waiting` hears
    who writes now, once a writer has waited for a second.
    """

    sure: Callable[[str], bool] | None = None
    waiting: Callable[[str], None] | None = None


class Registry:
    """A registry at a location: a file path or an SQLAlchemy URL."""

    def __init__(self, location: str, person: Person | None = None) -> None:
        self.location = location
        self.person = person or Person()
        self._engine: Engine = make_engine(location)
        self._read = threading.local()  # its `connection`: that of a reading that is under way

    @contextmanager
    def reading(self, as_of: str | None = None) -> Iterator[Reader]:
        """One consistent view, now or as recorded up to `as_of` (a time of `times`).

        A reading within another one is of the same moment, and costs nothing. It ends before the
        registry is written: a writer waits until nobody reads.
        Raises RegistryError where there is no registry of this version.
        """
        with self._reading() as connection:
            limit = NOW
            if as_of is not None:
                newest = select(func.max(change.c.id)).where(change.c.at <= as_of)
                limit = connection.execute(newest).scalar() or 0
            yield Reader(connection, limit)

    @contextmanager
    def writing(self, who: str, command: str, why: str | None = None) -> Iterator[Writer]:
        """One change, written whole at the end or not at all.

        Where the clock of this computer is in doubt the person is asked first, and nobody is kept
        waiting by the question. Raises RegistryError, and BadInput unless the clock is right.
        """
        with self._open(self.writer(who, command)) as connection:
            doubt = clock.doubt(connection)
            if doubt is None:
                yield Writer(connection, who, command, why)
                return
        self.person_is_sure(doubt)
        with self._open(self.writer(who, command)) as connection:
            yield Writer(connection, who, command, why)

    @contextmanager
    def reading_aside(self) -> Iterator[Reader]:
        """One consistent view of now that hinders nobody however long it is looked at.

        Whoever reads an SQLite file keeps others from finishing what they write, so this is a copy
        in memory. Raises RegistryError.
        """
        with self._aside() as connection:
            yield Reader(connection, NOW)

    @contextmanager
    def rehearsing(self, who: str, command: str) -> Iterator[Writer]:
        """A change that is never kept: on a copy in memory, so that nobody waits for it.

        On a server it is made in the registry itself and undone. Raises RegistryError.
        """
        if sqlite_path(self.location) is None:
            with self._open(self.writer(who, command)) as connection:
                yield Writer(connection, who, command, None)
                connection.rollback()
            return
        with self._aside() as connection:
            yield Writer(connection, who, command, None)

    @contextmanager
    def _aside(self) -> Iterator[Connection]:
        if sqlite_path(self.location) is None:  # a server keeps its readers apart from writers
            with self._reading() as connection:
                yield connection
            return
        with in_memory(self.location) as copy:
            with self._reading() as source:
                copy_pages(source, copy)
            yield copy

    def writer(self, who: str, command: str) -> Writing:
        """A writer, as others are told of who wait for it."""
        holder = f"{who} ({command}, since {times.clock_text()})"
        return Writing(holder, self.person.waiting)

    def person_is_sure(self, doubt: str | None) -> None:
        """Raise BadInput for something odd that the person does not mean."""
        sure = self.person.sure
        if doubt is not None and not (sure is not None and sure(doubt)):
            raise BadInput(f"{doubt}; if that is right, say --yes")

    def must_exist(self) -> None:
        """Raise RegistryMissing where SQLite would make a new file."""
        file = sqlite_path(self.location)
        if file is not None and not (there_is(file) and file.is_file()):
            raise RegistryMissing(
                f"there is no registry at {shown(self.location)}; make one with pincorner init, "
                "or name one with --db"
            )

    @contextmanager
    def unversioned(self, writing: Writing | None = None) -> Iterator[Connection]:
        """A transaction on whatever database is there, whatever its version."""
        with transaction(self._engine, self.location, writing) as connection:
            yield connection

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        """A transaction that only reads: that of the reading around this one, if there is one."""
        around: Connection | None = getattr(self._read, "connection", None)
        if around is not None:
            yield around
            return
        with self._open() as connection:
            self._read.connection = connection
            try:
                yield connection
            finally:
                self._read.connection = None

    @contextmanager
    def _open(self, writing: Writing | None = None) -> Iterator[Connection]:
        self.must_exist()
        with transaction(self._engine, self.location, writing) as connection:
            versions.check_version(connection, self.location)
            yield connection

    def check(self) -> None:
        """The database's own check, and the derived tables against the documents.

        Raises RegistryDamaged, and other RegistryErrors where it cannot be opened.
        """
        self.must_exist()
        with self.unversioned() as connection:
            check_database(connection, self.location)
            versions.check_version(connection, self.location)
            check_contents(connection, self.location)

    @classmethod
    def create(
        cls,
        location: str,
        units: Unit,
        first: Iterable[WholeDocument],
        who: str,
        person: Person | None = None,
    ) -> Registry:
        """A new registry that holds the documents `first`. Raises BadInput where one is there.

        A file without tables, as a command that was killed leaves it, is none and is filled.
        """
        made, file = cls(location, person), sqlite_path(location)
        if file is None or there_is(file):
            made._fill(units, first, who)
            return made
        if not file.parent.is_dir():
            raise RegistryMissing(f"{file} cannot be made: there is no folder {file.parent}")
        with staged_beside(file) as staged:
            filling = cls(str(staged), person)
            filling.location = location  # what messages name
            filling._fill(units, first, who)
            if not put_in_place(staged, file):
                made._fill(units, first, who)
        return made

    def _fill(self, units: Unit, first: Iterable[WholeDocument], who: str) -> None:
        """Make the tables and the first change where there are no tables."""
        self._refuse_tables()
        writing = self.writer(who, "init")
        with self.unversioned(writing) as connection:
            if inspect(connection).get_table_names():
                raise self._is_there()
            versions.make_tables(connection)
            self.person_is_sure(clock.doubt(connection))
            row = {
                "application": versions.APPLICATION,
                "created_at": times.now_text(),
                "display_units": units,
            }
            connection.execute(insert(registry), [row])
            Writer(connection, who, "init", None).put(first)

    def _refuse_tables(self) -> None:
        """Raise BadInput where a registry, damaged or not, or another database is there."""
        file = sqlite_path(self.location)
        if file is not None and not there_is(file):
            return
        if file is not None and not file.is_file():
            raise self._is_there()
        try:
            with self.unversioned() as connection:
                if inspect(connection).get_table_names():
                    raise self._is_there()
        except RegistryDamaged:
            raise BadInput(
                f"{shown(self.location)} exists already, and is no registry or a damaged one; it "
                f"was left as it is: {WHAT_HELPS}"
            ) from None

    def _is_there(self) -> BadInput:
        place = shown(self.location)
        told = "exists" if sqlite_path(self.location) is not None else "holds tables"
        return BadInput(f"{place} {told} already; it was left as it is")

    def upgrade(self, who: str, repair_times: bool = False) -> Upgraded:
        """Bring an older registry up to date, tables and documents, whole or not at all.

        With `repair_times` entries later than now get the time of now. Raises RegistryError, and
        RegistryDamaged before anything is changed.
        """
        self.must_exist()
        with self.unversioned(self.writer(who, "upgrade")) as connection:
            check_database(connection, self.location)
            before = versions.readable_version(connection, self.location)
            versions.migrate(connection)
            if before < versions.SCHEMA_VERSION and not repair_times:
                self.person_is_sure(clock.doubt(connection))
            repaired = clock.repair_times(connection, who) if repair_times else 0
            changed = renew(connection, who, before)
            check_contents(connection, self.location)
            after = versions.stored_version(connection, self.location)
            kept = as_before(connection, before)
            return Upgraded(before, after, changed, repaired, kept)

    def backup_to(self, file: Path, named: Path) -> int:
        """Copy this registry into a new SQLite file, as it is at one moment; the changes copied.

        Messages name it as `named`.

        Raises RegistryDamaged where what is here is not what was written.
        """
        copy = Registry(str(file))
        with (
            self._open() as source,
            transaction(copy._engine, str(named), Writing()) as target,
        ):
            check_database(source, self.location)
            check_contents(source, self.location)
            versions.make_tables(target)
            return copy_rows(source, target)
