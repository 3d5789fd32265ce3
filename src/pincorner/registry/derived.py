"""Tables rebuilt from documents: holes, the holes that stations use, their codes, references."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, Table, delete, insert

from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.documents.kinds import AnyDocument, identity, references
from pincorner.documents.stations import PinInHole, Station, hole_of
from pincorner.registry.tables import bed_hole, reference, station_code, station_hole

Rows = list[dict[str, Any]]


def rows_of(document: AnyDocument) -> dict[Table, Rows]:
    """What the derived tables hold of one document."""
    kind, key = identity(document)
    rows: dict[Table, Rows] = {
        reference: [
            {
                "kind": kind,
                "key": key,
                "path": needed.path,
                "to_kind": needed.kind,
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
            "pin_key": key_of(entry.pin if isinstance(entry, PinInHole) else station.pin),
        }
        for _, role, entry in (station.pins.by_role() if station.pins else ())
    ]


def forget(connection: Connection, kind: str, key: str) -> None:
    """Take away what the derived tables hold of one document."""
    connection.execute(delete(reference).where(reference.c.kind == kind, reference.c.key == key))
    if kind == "bed":
        connection.execute(delete(bed_hole).where(bed_hole.c.bed_key == key))
    if kind == "station":
        for table in (station_hole, station_code):
            connection.execute(delete(table).where(table.c.station_key == key))


def remember(connection: Connection, documents: Iterable[AnyDocument]) -> None:
    """Add the rows of documents, a table at a time."""
    gathered: dict[Table, Rows] = {}
    for document in documents:
        for table, rows in rows_of(document).items():
            gathered.setdefault(table, []).extend(rows)
    for table, rows in gathered.items():
        if rows:
            connection.execute(insert(table), rows)
