"""A registry at a place: a Reader for the present or any past state, a Writer for a change."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from sqlalchemy import Connection, Engine, func, insert, select

from pincorner.documents.kinds import AnyDocument
from pincorner.errors import BadInput, RegistryMissing
from pincorner.registry import times, versions
from pincorner.registry.copying import copy_rows
from pincorner.registry.engine import make_engine, shown, sqlite_path, transaction
from pincorner.registry.reader import NOW, Reader
from pincorner.registry.renewing import renew
from pincorner.registry.tables import change, registry
from pincorner.registry.writer import Writer
from pincorner.units import Unit


class Upgraded(NamedTuple):
    """An upgrade: the schema's version before and after; a line for each document it changed."""

    before: str
    after: str
    changed: tuple[str, ...]


class Registry:
    """A registry at a location: a file path or an SQLAlchemy URL."""

    def __init__(self, location: str) -> None:
        self.location = location
        self._engine: Engine = make_engine(location)

    @contextmanager
    def reading(self, as_of: str | None = None) -> Iterator[Reader]:
        """One consistent view, now or as recorded up to `as_of` (a time of `times`).

        Raises RegistryError where there is no registry of this version.
        """
        with self._open(writes=False) as connection:
            limit = NOW
            if as_of is not None:
                newest = select(func.max(change.c.id)).where(change.c.at <= as_of)
                limit = connection.execute(newest).scalar() or 0
            yield Reader(connection, limit)

    @contextmanager
    def writing(
        self, who: str, command: str, why: str | None = None, *, keep: bool = True
    ) -> Iterator[Writer]:
        """One change, written whole at the end or not at all; with `keep` False never.

        Raises RegistryError.
        """
        with self._open(writes=True) as connection:
            yield Writer(connection, who, command, why)
            if not keep:
                connection.rollback()

    def _must_exist(self) -> None:
        """Raise RegistryMissing where SQLite would make a new file."""
        file = sqlite_path(self.location)
        if file is not None and not file.is_file():
            raise RegistryMissing(
                f"there is no registry at {shown(self.location)}; make one with pincorner init, "
                "or name one with --db"
            )

    @contextmanager
    def _open(self, *, writes: bool) -> Iterator[Connection]:
        self._must_exist()
        with transaction(self._engine, self.location, writes=writes) as connection:
            versions.check_version(connection, self.location)
            yield connection

    @classmethod
    def create(cls, location: str, units: Unit, first: Iterable[AnyDocument], who: str) -> Registry:
        """A new registry that holds the documents `first`. Raises BadInput where one is there."""
        file = sqlite_path(location)
        if file is not None and file.exists():
            raise BadInput(f"{file} exists already; it was left as it is")
        made = cls(location)
        try:
            with transaction(made._engine, location, writes=True) as connection:
                made._fill(connection, units, first, who)
        except BaseException:
            if file is not None:
                made._engine.dispose()
                file.unlink(missing_ok=True)
            raise
        return made

    def _fill(
        self, connection: Connection, units: Unit, first: Iterable[AnyDocument], who: str
    ) -> None:
        from sqlalchemy import inspect

        if inspect(connection).get_table_names():
            raise BadInput(f"{shown(self.location)} holds tables already; it was left as it is")
        versions.migrate(connection)
        row = {
            "application": versions.APPLICATION,
            "created_at": times.now_text(),
            "display_units": units,
        }
        connection.execute(insert(registry), [row])
        Writer(connection, who, "init", None).put(first)

    def upgrade(self, who: str) -> Upgraded:
        """Bring an older registry up to date, tables and documents, whole or not at all.

        Raises RegistryError.
        """
        self._must_exist()
        with transaction(self._engine, self.location, writes=True) as connection:
            before = versions.stored_version(connection, self.location)
            if before > versions.SCHEMA_VERSION:
                versions.check_version(connection, self.location)
            versions.migrate(connection)
            changed = renew(connection, who, before)
            return Upgraded(before, versions.stored_version(connection, self.location), changed)

    def backup_to(self, file: Path) -> int:
        """Copy this registry into a new SQLite file, as it is at one moment; the changes copied."""
        copy = Registry(str(file))
        with (
            self._open(writes=False) as source,
            transaction(copy._engine, copy.location, writes=True) as target,
        ):
            versions.migrate(target)
            return copy_rows(source, target)

    def restore_from(self, file: Path) -> int:
        """Put a backup in the place of everything here; the changes copied. Raises RegistryError.

        Where there is no registry yet one is made.
        """
        from sqlalchemy import inspect

        with (
            Registry(str(file))._open(writes=False) as source,
            transaction(self._engine, self.location, writes=True) as target,
        ):
            if inspect(target).get_table_names():
                versions.check_version(target, self.location)
            else:
                versions.migrate(target)
            return copy_rows(source, target)
