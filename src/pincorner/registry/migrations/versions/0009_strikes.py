"""Strikes: verifications that were entered wrong and count no more, with the reason."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "strike",
        sa.Column("verification_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("after_change", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["after_change"], ["change.id"]),
        sa.ForeignKeyConstraint(["verification_id"], ["verification.id"]),
        sa.PrimaryKeyConstraint("verification_id"),
    )
