"""Withdrawals: papers that are gone on purpose and are missed no more, with the reason."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "withdrawal",
        sa.Column("log_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("after_change", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["after_change"], ["change.id"]),
        sa.ForeignKeyConstraint(["log_id"], ["log.id"]),
        sa.PrimaryKeyConstraint("log_id"),
    )
