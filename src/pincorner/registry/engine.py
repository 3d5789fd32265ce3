"""Connections to the registry's database, and what its errors mean to a person."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DatabaseError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from pincorner.errors import (
    BadInput,
    RegistryBusy,
    RegistryError,
    RegistryForeign,
    RegistryMissing,
)

BUSY_SECONDS = 10
_PASSWORD = re.compile(r"(://[^/@:]*:)[^@]*@")
_WRITERS_LOCK = 0x70696E63  # any number that only this program's writers use


def sqlite_path(location: str) -> Path | None:
    """The file behind a location (a path, or an sqlite URL); None for another database."""
    if "://" not in location:
        return Path(location)
    if location.startswith("sqlite"):
        database = make_url(location).database
        return Path(database) if database and database != ":memory:" else None
    return None


def make_engine(location: str) -> Engine:
    """An engine for a file path or an SQLAlchemy URL. Raises BadInput for a URL it cannot read."""
    url = location if "://" in location else f"sqlite:///{Path(location).as_posix()}"
    try:
        parsed = make_url(url)
        if parsed.get_backend_name() == "sqlite":
            return _sqlite_engine(url)
        return create_engine(url, isolation_level="REPEATABLE READ", poolclass=NullPool)
    except (ArgumentError, NoSuchModuleError) as error:
        told = _PASSWORD.sub(r"\1***@", location)
        raise BadInput(f"--db: {told!r} is not a database URL: {_one_line(error)}") from None
    except ImportError as error:
        raise BadInput(
            f"--db: the driver for this database is not installed ({error.name}); "
            "for PostgreSQL install pincorner[postgres]"
        ) from None


def _sqlite_engine(url: str) -> Engine:
    engine = create_engine(url, connect_args={"timeout": BUSY_SECONDS}, poolclass=NullPool)

    @event.listens_for(engine, "connect")
    def _settings(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # the driver begins too late and gives torn reads
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


@contextmanager
def transaction(engine: Engine, location: str, *, writes: bool) -> Iterator[Connection]:
    """One transaction; committed at the end, undone by any exception.

    One writer at a time, on SQLite by BEGIN IMMEDIATE and on PostgreSQL by an advisory lock.
    Errors of the database come out as RegistryError with what to do.
    """
    with (
        explained(location),
        _connect(engine, writes=writes) as connection,
        connection.begin(),
    ):
        if writes and connection.dialect.name == "postgresql":
            connection.exec_driver_sql(f"SET LOCAL lock_timeout = {BUSY_SECONDS * 1000}")
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITERS_LOCK})")
        yield connection


def _connect(engine: Engine, *, writes: bool) -> Connection:
    """A connection for one transaction.

    A writer on PostgreSQL reads what is committed once it holds the lock: its own snapshot would be
    from before it waited. The lock keeps what it reads from changing.
    """
    connection = engine.connect().execution_options(writes=writes)
    if writes and connection.dialect.name == "postgresql":
        return connection.execution_options(isolation_level="READ COMMITTED")
    return connection


@contextmanager
def explained(location: str) -> Iterator[None]:
    """Turn the database's errors into ours."""
    try:
        yield
    except DatabaseError as error:
        raise _meaning(error, location) from None
    except SQLAlchemyError as error:
        raise RegistryError(f"{shown(location)}: {_one_line(error)}") from None


def _meaning(error: DatabaseError, location: str) -> RegistryError:
    text, place = _one_line(error), shown(location)
    if "not a database" in text or "malformed" in text:
        return RegistryForeign(
            f"{place} is not a registry; name one with --db, or make one with pincorner init"
        )
    if "locked" in text or "lock timeout" in text:
        return RegistryBusy(
            f"{place} is in use by another command for more than {BUSY_SECONDS} s; try again"
        )
    if "readonly" in text or "read-only" in text:
        return RegistryError(f"{place} may be read but not written; check its permissions")
    if "unable to open" in text:
        return RegistryMissing(f"{place} cannot be opened; check the path and its permissions")
    return RegistryError(f"{place}: {text}")


def shown(location: str) -> str:
    """A location for messages, without a password."""
    return make_url(location).render_as_string() if "://" in location else location


def _one_line(error: Exception) -> str:
    inner = getattr(error, "orig", None) or error
    return " ".join(str(inner).split())
