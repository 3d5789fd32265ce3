"""All rows of one registry put into another: the backup and the way back."""

from __future__ import annotations

from sqlalchemy import Connection, delete, func, insert, select, text

from pincorner.registry.tables import metadata

ROWS_AT_ONCE = 500


def copy_rows(source: Connection, target: Connection) -> int:
    """Replace what the target's tables hold by the source's rows; the number of changes copied.

    Both have this version's tables; both run in a transaction of the caller.
    """
    for table in reversed(metadata.sorted_tables):
        target.execute(delete(table))
    for table in metadata.sorted_tables:
        found = source.execute(select(table)).mappings()
        while rows := [dict(row) for row in found.fetchmany(ROWS_AT_ONCE)]:
            target.execute(insert(table), rows)
    _count_on(target)
    return int(
        target.execute(select(func.count()).select_from(metadata.tables["change"])).scalar_one()
    )


def _count_on(target: Connection) -> None:
    """PostgreSQL's counters of new numbers go on behind the copied ones."""
    if target.dialect.name != "postgresql":
        return
    for table in metadata.sorted_tables:
        if "id" in table.c:
            target.execute(
                text(
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "
                    f"COALESCE((SELECT MAX(id) FROM {table.name}), 0) + 1, false)"
                )
            )
