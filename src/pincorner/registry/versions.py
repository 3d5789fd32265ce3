"""The registry's schema version: brought up to date by Alembic, compared by every command."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import Any

from sqlalchemy import (
    Column,
    Connection,
    MetaData,
    PrimaryKeyConstraint,
    String,
    Table,
    insert,
    inspect,
    text,
)
from sqlalchemy.exc import OperationalError, ProgrammingError

from pincorner.errors import RegistryForeign, RegistryMissing, RegistryNewer, RegistryOlder
from pincorner.registry.locations import shown
from pincorner.registry.meanings import meaning, sqlstate
from pincorner.registry.tables import metadata

SCHEMA_VERSION = "0014"
"""The newest revision in migrations/versions; a test compares the two."""

APPLICATION = "pincorner"

_VERSION = Table(
    "alembic_version",
    MetaData(),
    Column("version_num", String(32), nullable=False),
    PrimaryKeyConstraint("version_num", name="alembic_version_pkc"),
)
"""Where Alembic keeps the version, as it makes it itself."""

_STORED = text("SELECT version_num, application FROM alembic_version, registry")

UNDEFINED_TABLE, UNDEFINED_COLUMN = "42P01", "42703"  # PostgreSQL, appendix A


def make_tables(connection: Connection) -> None:
    """Make the tables of SCHEMA_VERSION where there are none: those that all migrations make.

    A test compares the two. This takes a twentieth of the time, and Alembic need not be loaded.
    """
    metadata.create_all(connection, checkfirst=False)
    _VERSION.create(connection)
    connection.execute(insert(_VERSION), [{"version_num": SCHEMA_VERSION}])


def migrate(connection: Connection) -> None:
    """Bring an older schema up to SCHEMA_VERSION, in the connection's own transaction."""
    from alembic import command
    from alembic.util import CommandError

    try:
        command.upgrade(_config(connection), "head")
    except CommandError as error:
        raise RegistryForeign(
            f"no migration leads from here: {error}; name another with --db"
        ) from None


def _config(connection: Connection | None) -> Any:
    from alembic.config import Config

    config = Config()
    scripts = (Path(__file__).parent / "migrations").as_posix()
    config.set_main_option("script_location", scripts.replace("%", "%%"))  # it interpolates
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def newest_migration() -> str | None:
    """The head of the migration scripts."""
    from alembic.script import ScriptDirectory

    return ScriptDirectory.from_config(_config(None)).get_current_head()


def stored_version(connection: Connection, location: str) -> str:
    """The schema version of the database. Raises RegistryMissing, RegistryForeign."""
    # what fails would end the whole transaction on PostgreSQL
    kept = nullcontext if connection.dialect.name == "sqlite" else connection.begin_nested
    try:
        with kept():
            row = connection.execute(_STORED).first()
    except (OperationalError, ProgrammingError) as error:
        if sqlstate(error) not in ("", UNDEFINED_TABLE, UNDEFINED_COLUMN):
            raise meaning(error, location) from None
        if inspect(connection).get_table_names():
            raise _foreign(location) from None
        raise RegistryMissing(
            f"{shown(location)} is empty; make a registry with pincorner init"
        ) from None
    if row is None or row.application != APPLICATION:
        raise _foreign(location)
    return str(row.version_num)


def readable_version(connection: Connection, location: str) -> str:
    """The same where it is ours or an older one. Raises RegistryNewer as well."""
    stored = stored_version(connection, location)
    if stored > SCHEMA_VERSION:
        raise RegistryNewer(
            f"{shown(location)} was made by a later pincorner (schema {stored}, this one reads "
            f"{SCHEMA_VERSION}); update with pip install --upgrade pincorner"
        )
    return stored


def check_version(connection: Connection, location: str) -> None:
    """Raise the RegistryError that tells what helps, unless the version is ours."""
    stored = readable_version(connection, location)
    if stored < SCHEMA_VERSION:
        raise RegistryOlder(
            f"{shown(location)} was made by an earlier pincorner (schema {stored}, "
            f"this one needs {SCHEMA_VERSION}); run pincorner upgrade"
        )


def _foreign(location: str) -> RegistryForeign:
    return RegistryForeign(
        f"{shown(location)} is a database of another program; name a registry with --db, "
        "or make one elsewhere with pincorner init"
    )
