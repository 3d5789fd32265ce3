"""Whether a registry holds what was written into it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, Table, func, inspect, select, text
from sqlalchemy.exc import DatabaseError

from pincorner.documents.kinds import identity
from pincorner.registry.derived import rows_of
from pincorner.registry.meanings import damaged
from pincorner.registry.reader import NOW, Reader, values_of
from pincorner.registry.tables import (
    GROWING,
    bed_hole,
    metadata,
    reference,
    revision,
    station_code,
    station_hole,
)

DERIVED = (reference, bed_hole, station_hole, station_code)
_PROBLEMS_READ = 20
_ROWS_READ = 10_000


def check_database(connection: Connection, location: str) -> None:
    """The database's own check. Raises RegistryDamaged.

    SQLite looks at every page, row, index and foreign key. Elsewhere all tables are read whole, and
    each foreign key is looked up: a server has no check of its own that every user may run.
    """
    sqlite = connection.dialect.name == "sqlite"
    try:
        problems = list(_of_sqlite(connection) if sqlite else _of_server(connection))
    except DatabaseError as error:
        if "malformed" not in str(error) and "not a database" not in str(error):
            raise
        problems = [" ".join(str(error.orig).split())]
    _tell(problems, location)


def check_contents(connection: Connection, location: str) -> None:
    """Entries are of their columns' kinds, documents can be read, and derived tables agree.

    Raises RegistryDamaged. The tables are those of this version.
    """
    _check_entries(connection)
    _check_documents(connection, location)


def _check_documents(connection: Connection, location: str) -> None:
    due: dict[Table, Counter[tuple[Any, ...]]] = {table: Counter() for table in DERIVED}
    documents = Reader(connection, NOW).everything()
    for document in documents:
        for table, rows in rows_of(document).items():
            names = table.c.keys()
            due[table].update(tuple(row[name] for name in names) for row in rows)
    to = [reference.c.keys().index(name) for name in ("to_kind", "to_key")]
    needed = {tuple(row[at] for at in to) for row in due[reference]}
    gone = sorted(needed - set(map(identity, documents)))
    problems = [f"{kind} {key} is needed and not there" for kind, key in gone]
    for table, wanted in due.items():
        if Counter(tuple(row) for row in connection.execute(select(table))) != wanted:
            problems.append(f"table {table.name} does not say what the documents say")
    _tell(problems, location)


def _check_entries(connection: Connection) -> None:
    """Read what stands in the tables that only grow: a column's type refuses what is none of it.

    Documents of the past are read as `history` reads them.
    """
    for table in GROWING:
        for rows in connection.execute(select(table)).partitions(_ROWS_READ):
            for row in rows if table is revision else ():
                if row.body is not None:
                    values_of(row.kind, row.name, row.body)


def _tell(problems: list[str], location: str) -> None:
    if problems:
        more = f", and {len(problems) - 1} more" if len(problems) > 1 else ""
        raise damaged(f"{problems[0]}{more}", location)


def _of_sqlite(connection: Connection) -> Iterator[str]:
    for (told,) in connection.exec_driver_sql(f"PRAGMA integrity_check({_PROBLEMS_READ})"):
        if told != "ok":
            yield " ".join(str(told).removeprefix("*** in database main ***").split())
    for table, row, parent, _ in connection.exec_driver_sql("PRAGMA foreign_key_check"):
        yield f"row {row} of table {table} needs one of table {parent} that is not there"


def _of_server(connection: Connection) -> Iterator[str]:
    there = inspect(connection).get_table_names()  # an older schema has fewer
    for table in metadata.sorted_tables:
        if table.name not in there:
            continue
        for _ in connection.execute(select(text("*")).select_from(table)).partitions(_ROWS_READ):
            pass
        for key in table.foreign_keys:
            parent = key.column
            query = (
                select(func.count())
                .select_from(table.outerjoin(parent.table, key.parent == parent))
                .where(key.parent.is_not(None), parent.is_(None))
            )
            missing = connection.execute(query).scalar_one()
            if missing:
                yield f"{missing} rows of table {table.name} need rows that are not there"
