"""Verifications: where zeros were found after re-fixturing."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "verification",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=True),
        sa.Column("station_key", sa.String(length=200), nullable=False),
        sa.Column("nest", sa.String(length=200), nullable=False),
        sa.Column("fingerprint", sa.String(length=9), nullable=False),
        sa.Column("x_mm", sa.Float(), nullable=False),
        sa.Column("y_mm", sa.Float(), nullable=False),
        sa.Column("z_mm", sa.Float(), nullable=True),
        sa.Column("computed_x_mm", sa.Float(), nullable=False),
        sa.Column("computed_y_mm", sa.Float(), nullable=False),
        sa.Column("computed_z_mm", sa.Float(), nullable=True),
        sa.Column("u_mm", sa.Float(), nullable=False),
        sa.Column("after_change", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["after_change"],
            ["change.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("verification_station", "verification", ["station_key", "nest"], unique=False)
