"""Tables of the registry.

`change` and `revision` are the truth and only ever grow, and so do `log`, which keeps the papers
that were written, and `verification`, which keeps where zeros were found. The others are rebuilt
from the revisions in the same transaction and never used to make a document: they answer the
questions of the job in SQL.
"""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    PrimaryKeyConstraint,
    String,
    Table,
    Text,
)

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
    Column("at", String(40), nullable=False, index=True),
    Column("who", Text, nullable=False),
    Column("command", Text, nullable=False),
    Column("why", Text),
)

revision = Table(
    "revision",
    metadata,
    Column("kind", String(20), nullable=False),
    Column("key", String(200), nullable=False),
    Column("change_id", Integer, ForeignKey("change.id"), nullable=False, index=True),
    Column("name", String(200), nullable=False),
    Column("body", Text),  # canonical JSON in mm; nothing when retired
    PrimaryKeyConstraint("kind", "key", "change_id"),
)

log = Table(
    "log",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", String(40), nullable=False),
    Column("who", Text, nullable=False),
    Column("event", String(20), nullable=False),
    Column("station_key", String(200), nullable=False),
    Column("nest", String(200), nullable=False),
    Column("fingerprint", String(9), nullable=False),
    Column("x_mm", Float, nullable=False),
    Column("y_mm", Float, nullable=False),
    Column("path", Text, nullable=False),
    Column("after_change", Integer, ForeignKey("change.id"), nullable=False),
    Index("log_fingerprint", "fingerprint"),
    Index("log_station", "station_key", "nest"),
)

verification = Table(
    "verification",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", String(40), nullable=False),
    Column("who", Text, nullable=False),
    Column("why", Text),
    Column("station_key", String(200), nullable=False),
    Column("nest", String(200), nullable=False),
    Column("fingerprint", String(9), nullable=False),
    Column("x_mm", Float, nullable=False),  # where the zero was found, in the machine
    Column("y_mm", Float, nullable=False),
    Column("z_mm", Float),
    Column("computed_x_mm", Float, nullable=False),  # where it should have been, that day
    Column("computed_y_mm", Float, nullable=False),
    Column("computed_z_mm", Float),
    Column("u_mm", Float, nullable=False),
    Column("after_change", Integer, ForeignKey("change.id"), nullable=False),
    Index("verification_station", "station_key", "nest"),
)

bed_hole = Table(
    "bed_hole",
    metadata,
    Column("bed_key", String(200), nullable=False),
    Column("label", String(200), nullable=False),
    Column("x_mm", Float, nullable=False),
    Column("y_mm", Float, nullable=False),
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
