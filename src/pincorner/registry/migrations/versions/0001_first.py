"""The first schema: changes, revisions, the log, and the tables rebuilt from the revisions."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make all tables."""
    op.create_table(
        "bed_hole",
        sa.Column("bed_key", sa.String(length=200), nullable=False),
        sa.Column("label", sa.String(length=200), nullable=False),
        sa.Column("x_mm", sa.Float(), nullable=False),
        sa.Column("y_mm", sa.Float(), nullable=False),
        sa.Column("usable", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("bed_key", "label"),
    )
    op.create_table(
        "change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("command", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index(op.f("ix_change_at"), "change", ["at"], unique=False)
    op.create_table(
        "reference",
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("key", sa.String(length=200), nullable=False),
        sa.Column("path", sa.String(length=200), nullable=False),
        sa.Column("to_kind", sa.String(length=20), nullable=False),
        sa.Column("to_key", sa.String(length=200), nullable=False),
        sa.PrimaryKeyConstraint("kind", "key", "path"),
    )
    op.create_index("reference_to", "reference", ["to_kind", "to_key"], unique=False)
    op.create_table(
        "registry",
        sa.Column("application", sa.String(length=40), nullable=False),
        sa.Column("created_at", sa.String(length=40), nullable=False),
        sa.Column("display_units", sa.String(length=2), nullable=False),
        sa.PrimaryKeyConstraint("application"),
    )
    op.create_table(
        "station_code",
        sa.Column("station_key", sa.String(length=200), nullable=False),
        sa.Column("nest_key", sa.String(length=200), nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.PrimaryKeyConstraint("station_key", "nest_key"),
    )
    op.create_index("station_code_code", "station_code", ["code"], unique=False)
    op.create_table(
        "station_hole",
        sa.Column("station_key", sa.String(length=200), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("label", sa.String(length=200), nullable=False),
        sa.Column("bed_key", sa.String(length=200), nullable=False),
        sa.Column("pin_key", sa.String(length=200), nullable=False),
        sa.PrimaryKeyConstraint("station_key", "role", "label"),
    )
    op.create_index("station_hole_bed", "station_hole", ["bed_key", "label"], unique=False)
    op.create_table(
        "log",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("event", sa.String(length=20), nullable=False),
        sa.Column("station_key", sa.String(length=200), nullable=False),
        sa.Column("nest", sa.String(length=200), nullable=False),
        sa.Column("fingerprint", sa.String(length=9), nullable=False),
        sa.Column("x_mm", sa.Float(), nullable=False),
        sa.Column("y_mm", sa.Float(), nullable=False),
        sa.Column("path", sa.Text(), nullable=False),
        sa.Column("after_change", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["after_change"],
            ["change.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("log_fingerprint", "log", ["fingerprint"], unique=False)
    op.create_index("log_station", "log", ["station_key", "nest"], unique=False)
    op.create_table(
        "revision",
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("key", sa.String(length=200), nullable=False),
        sa.Column("change_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("body", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["change_id"],
            ["change.id"],
        ),
        sa.PrimaryKeyConstraint("kind", "key", "change_id"),
    )
    op.create_index(op.f("ix_revision_change_id"), "revision", ["change_id"], unique=False)
