"""Tables rebuilt from documents: holes, the holes that stations use, their codes, references."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, Table, bindparam, delete, insert

from pincorner.documents.beds import Bed
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.kinds import identity, references, word_of
from pincorner.documents.stations import Station, hole_of
from pincorner.registry.tables import bed_hole, reference, station_code, station_hole

Rows = list[dict[str, Any]]


def rows_of(document: WholeDocument) -> dict[Table, Rows]:
    """What the derived tables hold of one document."""
    kind, key = identity(document)
    rows: dict[Table, Rows] = {
        reference: [
            {
                "kind": kind,
                "key": key,
                "path": needed.path,
                "to_kind": word_of(needed.model),
                "to_key": key_of(needed.name),
            }
            for needed in references(document)
        ]
    }
    if isinstance(document, Bed):
        rows[bed_hole] = [
            {
                "bed_key": key,
                "label": place.label,
                "x_mm": place.x_mm,
                "y_mm": place.y_mm,
                "usable": place.usable,
            }
            for place in document.holes()
        ]
    if isinstance(document, Station):
        rows[station_hole] = _holes_used(document, key)
        rows[station_code] = [
            {"station_key": key, "nest_key": key_of(nest), "code": code}
            for nest, code in document.work_offsets.items()
        ]
    return rows


def _holes_used(station: Station, key: str) -> Rows:
    return [
        {
            "station_key": key,
            "role": role,
            "label": hole_of(entry),
            "bed_key": key_of(station.bed),
            "pin_key": key_of(station.pin_of(entry)),
        }
        for _, role, entry in station.pins_by_role
    ]


def forget(connection: Connection, places: Iterable[tuple[str, str]]) -> None:
    """Take away what the derived tables hold of documents, each by kind and key."""
    gathered: dict[Table, list[dict[str, str]]] = {}
    for kind, key in places:
        for table in _TABLES_OF.get(kind, (reference,)):
            gathered.setdefault(table, []).append({"of_kind": kind, "of_key": key})
    for table, rows in gathered.items():
        column = {bed_hole: bed_hole.c.bed_key, reference: reference.c.key}.get(table)
        column = table.c.station_key if column is None else column
        query = delete(table).where(column == bindparam("of_key"))
        if table is reference:
            query = query.where(reference.c.kind == bindparam("of_kind"))
        connection.execute(query, rows)


_TABLES_OF = {
    "bed": (reference, bed_hole),
    "station": (reference, station_hole, station_code),
}


def gathered(documents: Iterable[WholeDocument]) -> dict[Table, Rows]:
    """The rows of documents, by table."""
    found: dict[Table, Rows] = {}
    for document in documents:
        for table, rows in rows_of(document).items():
            found.setdefault(table, []).extend(rows)
    return found


def remember(connection: Connection, rows_by_table: dict[Table, Rows]) -> None:
    """Add rows, a table at a time."""
    for table, rows in rows_by_table.items():
        if rows:
            connection.execute(insert(table), rows)
