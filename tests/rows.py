"""What a registry's tables hold, and the derived ones made anew from the documents."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Table, create_engine, inspect, select

from pincorner.registry import derived
from pincorner.registry.reader import Reader
from pincorner.registry.tables import bed_hole, metadata, reference, station_code, station_hole

DERIVED = (bed_hole, station_hole, station_code, reference)

Rows = dict[str, list[tuple[Any, ...]]]


def _names(connection: Connection) -> list[str]:
    return [name for name in inspect(connection).get_table_names() if name in metadata.tables]


def rows(connection: Connection, *tables: Table) -> Rows:
    """All rows of tables, sorted; of a registry of an earlier schema what it has of them."""
    there = {name: inspect(connection).get_columns(name) for name in _names(connection)}
    found = {
        t.name: [tuple(row) for row in connection.execute(select(*(
            t.c[column["name"]] for column in there[t.name]
        )))]
        for t in tables
        if t.name in there
    }  # fmt: skip
    return {name: sorted(content, key=repr) for name, content in found.items()}


def rebuilt(reader: Reader) -> Rows:
    """The rows of the derived tables, made from every document of a view."""
    fresh = create_engine("sqlite://")
    try:
        with fresh.begin() as connection:
            metadata.create_all(connection)
            derived.remember(connection, derived.gathered(reader.everything()))
            return rows(connection, *DERIVED)
    finally:
        fresh.dispose()
