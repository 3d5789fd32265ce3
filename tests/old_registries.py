"""A registry that version 0.1.0 made, brought back from its SQL."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from alembic import command
from sqlalchemy import Connection, Engine, MetaData, create_engine, delete, insert, select, text

from pincorner.registry.versions import _config

MADE_BY_0_1_0 = Path(__file__).parent / "made_by_0_1_0"
LAST_MOMENT = "2026-11-29T18:28:59Z"
"""After everything that was recorded in it, and before any upgrade."""

OLD_FIRST = ["G17", "G40", "G80"]
NEW_FIRST = ["G40", "G17", "G49", "G80", "G94", "G98"]


def on_sqlite(file: Path) -> str:
    """The registry as an SQLite file; its location."""
    with closing(sqlite3.connect(file)) as connection:
        connection.executescript((MADE_BY_0_1_0 / "registry.sql").read_text(encoding="utf-8"))
    return str(file)


def engine_of(location: str) -> Engine:
    """An engine for looking into a registry behind the program's back."""
    return create_engine(
        location if "://" in location else f"sqlite:///{Path(location).as_posix()}"
    )


def _tables_of(connection: Connection) -> MetaData:
    """The tables that there are, of whatever schema."""
    tables = MetaData()
    tables.reflect(connection)
    return tables


def _count_on(connection: Connection, tables: MetaData) -> None:
    """PostgreSQL's counters of new numbers go on behind those that are there."""
    if connection.dialect.name != "postgresql":
        return
    for table in tables.sorted_tables:
        if "id" in table.c:
            connection.execute(text(
                f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "
                f"COALESCE((SELECT MAX(id) FROM {table.name}), 0) + 1, false)"
            ))  # fmt: skip


def on_postgres(url: str, file: Path) -> str:
    """The registry's rows in an empty PostgreSQL schema, whose tables the migrations made."""
    source, target = engine_of(on_sqlite(file)), engine_of(url)
    with source.connect() as old, target.begin() as new:
        command.upgrade(_config(new), "0002")
        tables = _tables_of(new)
        for table in tables.sorted_tables:
            new.execute(delete(table))
        for table in tables.sorted_tables:
            found = [dict(row) for row in old.execute(select(table)).mappings()]
            if found:
                new.execute(insert(table), found)
        _count_on(new, tables)
    source.dispose()
    target.dispose()
    return url


def run_sql(location: str, *statements: str) -> None:
    """Run statements in a registry behind the program's back."""
    engine = engine_of(location)
    with engine.begin() as connection:
        for statement in statements:
            connection.execute(text(statement.replace(":", r"\:")))
        _count_on(connection, _tables_of(connection))
    engine.dispose()


AS_BEFORE_PAPERS = (
    "DROP TABLE withdrawal",
    "DROP TABLE strike",
    "DROP TABLE paper",
    *(f"ALTER TABLE log DROP COLUMN {name}" for name in ("paper_id", "definition", "u95_mm")),
)
"""SQL that takes what came with schema 0006 out of a registry."""


def bodies(location: str) -> dict[tuple[str, str, int], dict[str, Any] | None]:
    """The values of every revision, as they stand there: by kind, key and change."""
    engine = engine_of(location)
    with engine.connect() as connection:
        found = connection.execute(text("SELECT kind, key, change_id, body FROM revision")).all()
    engine.dispose()
    return {(k, key, c): None if b is None else json.loads(b) for k, key, c, b in found}


def a_change(number: int, *revisions: tuple[str, str, str | None]) -> list[str]:
    """SQL of one more change with revisions: (kind, name, body or nothing)."""
    moment = f"2026-11-29T18:28:58.00000{number}Z"
    return [
        f"INSERT INTO change VALUES ({number}, '{moment}', 'founder', 'load', NULL)",
        *(
            f"INSERT INTO revision VALUES ('{kind}', '{name.casefold()}', {number}, '{name}', "
            + ("NULL)" if body is None else f"'{body}')")
            for kind, name, body in revisions
        ),
    ]
