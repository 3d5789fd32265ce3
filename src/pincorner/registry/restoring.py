"""A backup put back in the place of everything in a registry.

What is put back is a copy of the backup, made first: it is upgraded, checked and given its entry in
the history there. Neither the backup nor the registry is touched before all of that is well.
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import NamedTuple

from sqlalchemy import Connection, func, inspect, select

from pincorner.errors import BadInput, RegistryDamaged, RegistryError
from pincorner.registry import clock, versions
from pincorner.registry.checking import check_contents, check_database
from pincorner.registry.engine import Writing
from pincorner.registry.locations import sqlite_path
from pincorner.registry.making import move_aside, put_in_place, staged_beside, there_is
from pincorner.registry.store import Registry, Upgraded
from pincorner.registry.tables import change, copy_rows
from pincorner.registry.writer import Writer


class Restored(NamedTuple):
    """What was put back: how many changes; from which schema; where a damaged registry is kept."""

    changes: int
    upgraded: Upgraded | None
    kept: Path | None


def restore(registry: Registry, backup: Path, who: str, why: str | None) -> Restored:
    """Put a backup in the place of everything in `registry`, which is made where there is none.

    A damaged registry is kept beside. Raises RegistryError, BadInput; nothing is changed then.
    """
    target = sqlite_path(registry.location)
    with _staged(target) as staged:
        copy = Registry(str(staged), registry.person)
        copy.location = str(backup)  # what messages name
        changes, upgraded = _copied(copy, staged, backup, who)
        state = _state(registry, target)
        with copy.unversioned(Writing()) as connection:
            registry.person_is_sure(clock.doubt(connection))
            Writer(connection, who, "restore", _reason(backup, changes, state, why)).mark()
        kept = None
        if target is not None and not isinstance(state, int):
            kept = move_aside(target) if state == "damaged" else None
            if put_in_place(staged, target):
                return Restored(changes, upgraded, kept)
        _put_rows(registry, copy, who, replace=isinstance(state, int))
        return Restored(changes, upgraded, kept)


@contextmanager
def _staged(target: Path | None) -> Iterator[Path]:
    """A place for the copy: where it can be given the registry's name, if that is a file."""
    if target is not None:
        with staged_beside(target) as staged:
            yield staged
    else:
        with tempfile.TemporaryDirectory() as folder:
            yield Path(folder) / "registry.sqlite"


def _copied(copy: Registry, staged: Path, backup: Path, who: str) -> tuple[int, Upgraded | None]:
    """Copy the backup, and bring the copy up to date; its changes, and the upgrade."""
    source = Registry(str(backup))
    try:
        with source.unversioned() as connection:
            version = versions.readable_version(connection, source.location)
            changes = _count(connection)
            with closing(sqlite3.connect(staged)) as into:
                connection.connection.driver_connection.backup(into)  # type: ignore[union-attr]
        if version < versions.SCHEMA_VERSION:
            upgraded: Upgraded | None = copy.upgrade(who)
        else:
            upgraded = None
            copy.check()
    except sqlite3.Error as error:
        raise RegistryError(f"{backup} cannot be copied: {error}") from None
    except RegistryDamaged:
        raise RegistryDamaged(
            f"{backup} is no backup, or a damaged one, so nothing was changed; name another"
        ) from None
    return changes, upgraded


def _count(connection: Connection) -> int:
    return int(connection.execute(select(func.count()).select_from(change)).scalar_one())


def _state(registry: Registry, target: Path | None) -> int | str:
    """How many changes the registry holds; `none` or `damaged` where it cannot say.

    Raises RegistryError where it is another program's, or a later version's.
    """
    if target is not None and not there_is(target):
        return "none"
    try:
        with registry.unversioned() as connection:
            if not inspect(connection).get_table_names():
                return 0
            check_database(connection, registry.location)
            version = versions.readable_version(connection, registry.location)
            if target is not None and version == versions.SCHEMA_VERSION:
                check_contents(connection, registry.location)
            return _count(connection)
    except RegistryDamaged:
        if target is None:
            raise
        return "damaged"


def _reason(backup: Path, changes: int, state: int | str, why: str | None) -> str:
    before = f"{state} changes" if isinstance(state, int) else "a damaged registry"
    place = "" if state == "none" or state == 0 else f", in the place of {before}"
    return f"{backup.name} with its {changes} changes{place}" + (f"; {why}" if why else "")


def _put_rows(registry: Registry, copy: Registry, who: str, replace: bool) -> None:
    """Put the copy's rows into tables that are there, or are made; all of it in one transaction."""
    with (
        copy.unversioned() as source,
        registry.unversioned(registry.writer(who, "restore")) as target,
    ):
        if inspect(target).get_table_names():
            if not replace:
                raise BadInput(f"{registry.location} was made by another command meanwhile")
            versions.stored_version(target, registry.location)
            versions.migrate(target)
        else:
            versions.make_tables(target)
        copy_rows(source, target)
