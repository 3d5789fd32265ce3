"""Tables of the registry.

`change` and `revision` are the truth and only ever grow, and so do `paper`, which keeps the files
that were written, `log`, which keeps what stands on them nest by nest, `verification`, which keeps
where zeros were found, `strike`, by which some of those count no more, and `withdrawal`, by which
papers are missed no more. The others are rebuilt from the revisions in the same transaction and
never used to make a document: they answer the questions of the job in SQL.
"""

from __future__ import annotations

import math
from typing import Any

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Connection,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    PrimaryKeyConstraint,
    String,
    Table,
    Text,
    TypeDecorator,
    delete,
    func,
    insert,
    select,
    text,
)

from pincorner.registry import times
from pincorner.registry.meanings import damaged

ROWS_AT_ONCE = 500


class _Checked(TypeDecorator[Any]):
    """What is of its column's kind: SQLite keeps anything anywhere.

    Raises RegistryDamaged where something else is read.
    """

    due = ""

    def process_result_value(self, value: Any, dialect: Dialect) -> Any:
        """What is read, if it is what should stand there."""
        if value is None or self.is_due(value):
            return value
        raise damaged(f"{value!r} stands where {self.due} should", "the registry")

    def is_due(self, value: object) -> bool:
        """Whether a value may stand there."""
        raise NotImplementedError


class Number(_Checked):
    """A finite number."""

    impl = Float
    cache_ok = True
    due = "a number"

    def is_due(self, value: object) -> bool:
        """Whether it is a number that can be reckoned with."""
        return isinstance(value, float | int) and math.isfinite(value)


class Words(_Checked):
    """Text up to a length."""

    impl = String
    cache_ok = True
    due = "a text"

    def is_due(self, value: object) -> bool:
        """Whether it is text."""
        return isinstance(value, str)


class LongWords(Words):
    """Text of any length."""

    impl = Text
    cache_ok = True


class Moment(_Checked):
    """A time as `times` writes it: others do not sort."""

    impl = String
    cache_ok = True
    due = "a time"

    def is_due(self, value: object) -> bool:
        """Whether it is a time, and written as one."""
        return isinstance(value, str) and times.is_time(value)


metadata = MetaData()

registry = Table(
    "registry",
    metadata,
    Column("application", String(40), primary_key=True),
    Column("created_at", String(40), nullable=False),
    Column("display_units", String(2), nullable=False),
)

change = Table(
    "change",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", Moment(40), nullable=False, index=True),
    Column("who", LongWords, nullable=False),
    Column("command", LongWords, nullable=False),
    Column("why", LongWords),
)

revision = Table(
    "revision",
    metadata,
    Column("kind", Words(20), nullable=False),
    Column("key", Words(200), nullable=False),
    Column("change_id", Integer, ForeignKey("change.id"), nullable=False, index=True),
    Column("name", Words(200), nullable=False),
    Column("body", LongWords),  # canonical JSON in mm; nothing when retired
    PrimaryKeyConstraint("kind", "key", "change_id"),
)

log = Table(
    "log",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", Moment(40), nullable=False),
    Column("who", LongWords, nullable=False),
    Column("event", Words(20), nullable=False),
    Column("station_key", Words(200), nullable=False),
    Column("nest", Words(200), nullable=False),
    Column("fingerprint", Words(9), nullable=False),
    Column("x_mm", Number, nullable=False),
    Column("y_mm", Number, nullable=False),
    Column("path", LongWords, nullable=False),
    Column("after_change", Integer, ForeignKey("change.id"), nullable=False),
    Column("paper_id", Integer),  # of a file; nothing for papers of before there were any
    Column("definition", Integer, nullable=False, server_default="1"),  # of the fingerprint
    Column("u95_mm", Number),  # within what it said that the part lies
    Index("log_fingerprint", "fingerprint"),
    Index("log_station", "station_key", "nest"),
)

paper = Table(
    "paper",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("size", BigInteger, nullable=False),  # of the file as it was written
    Column("mtime_ns", BigInteger, nullable=False),
    Column("digest", Words(64), nullable=False),
    Column("stock_mm", Number),  # today's thickness; nothing: as on file
    Column("words", LongWords),  # notes and the like, as they stood on it: JSON of parts
    Column("around", LongWords),  # what other things on the bed put on it: JSON of parts
    Column("reach", LongWords),  # where on the bed those were looked for: JSON of a box, mm
    Column("source", LongWords),  # of a copy: the program's file, then as it was
    Column("source_size", BigInteger),
    Column("source_mtime_ns", BigInteger),
    Column("source_digest", Words(64)),
    Column("accepted", LongWords),  # findings that were taken as they are: JSON
    Column("options", LongWords),  # what it was asked for with: JSON
    Column("beside", Integer, nullable=False, server_default="1"),  # definition of words, around
    Column("files", LongWords),  # of a run's page: files that it was planned from: JSON
)

verification = Table(
    "verification",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", Moment(40), nullable=False),
    Column("who", LongWords, nullable=False),
    Column("why", LongWords),
    Column("station_key", Words(200), nullable=False),
    Column("nest", Words(200), nullable=False),
    Column("fingerprint", Words(9), nullable=False),
    Column("x_mm", Number, nullable=False),  # where the zero was found, in the machine
    Column("y_mm", Number, nullable=False),
    Column("z_mm", Number),
    Column("computed_x_mm", Number, nullable=False),  # where it should have been, that day
    Column("computed_y_mm", Number, nullable=False),
    Column("computed_z_mm", Number),
    Column("u_mm", Number, nullable=False),
    Column("after_change", Integer, ForeignKey("change.id"), nullable=False),
    Index("verification_station", "station_key", "nest"),
)

strike = Table(
    "strike",
    metadata,
    Column("verification_id", Integer, ForeignKey("verification.id"), primary_key=True),
    Column("at", Moment(40), nullable=False),
    Column("who", LongWords, nullable=False),
    Column("why", LongWords, nullable=False),
    Column("after_change", Integer, ForeignKey("change.id"), nullable=False),
)

withdrawal = Table(
    "withdrawal",
    metadata,
    Column("log_id", Integer, ForeignKey("log.id"), primary_key=True),
    Column("at", Moment(40), nullable=False),
    Column("who", LongWords, nullable=False),
    Column("why", LongWords, nullable=False),
    Column("after_change", Integer, ForeignKey("change.id"), nullable=False),
)

GROWING = (change, revision, log, paper, verification, strike, withdrawal)
"""The tables that only ever grow, of which nothing can be made again."""

TIMED = tuple(table for table in GROWING if "at" in table.c)
"""Those whose entries have a time."""

bed_hole = Table(
    "bed_hole",
    metadata,
    Column("bed_key", String(200), nullable=False),
    Column("label", String(200), nullable=False),
    Column("x_mm", Number, nullable=False),
    Column("y_mm", Number, nullable=False),
    Column("usable", Boolean, nullable=False),
    PrimaryKeyConstraint("bed_key", "label"),
)

station_hole = Table(
    "station_hole",
    metadata,
    Column("station_key", String(200), nullable=False),
    Column("role", String(20), nullable=False),
    Column("label", String(200), nullable=False),
    Column("bed_key", String(200), nullable=False),
    Column("pin_key", String(200), nullable=False),
    PrimaryKeyConstraint("station_key", "role", "label"),
    Index("station_hole_bed", "bed_key", "label"),
)

station_code = Table(
    "station_code",
    metadata,
    Column("station_key", String(200), nullable=False),
    Column("nest_key", String(200), nullable=False),
    Column("code", String(20), nullable=False),
    PrimaryKeyConstraint("station_key", "nest_key"),
    Index("station_code_code", "code"),
)

reference = Table(
    "reference",
    metadata,
    Column("kind", String(20), nullable=False),
    Column("key", String(200), nullable=False),
    Column("path", String(200), nullable=False),
    Column("to_kind", String(20), nullable=False),
    Column("to_key", String(200), nullable=False),
    PrimaryKeyConstraint("kind", "key", "path"),
    Index("reference_to", "to_kind", "to_key"),
)


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
