"""Papers: files with their digests, what stood on them beside the station's own, and their source.

Papers of before keep their fingerprints, by the first definition. No document changes.
"""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table, and the columns of the log that lead to it."""
    op.create_table(
        "paper",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("mtime_ns", sa.BigInteger(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("stock_mm", sa.Float(), nullable=True),
        sa.Column("words", sa.Text(), nullable=True),
        sa.Column("around", sa.Text(), nullable=True),
        sa.Column("reach", sa.Text(), nullable=True),
        sa.Column("source", sa.Text(), nullable=True),
        sa.Column("source_size", sa.BigInteger(), nullable=True),
        sa.Column("source_mtime_ns", sa.BigInteger(), nullable=True),
        sa.Column("source_digest", sa.String(length=64), nullable=True),
        sa.Column("accepted", sa.Text(), nullable=True),
        sa.Column("options", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
    )
    op.add_column("log", sa.Column("paper_id", sa.Integer(), nullable=True))
    op.add_column("log", sa.Column("definition", sa.Integer(), nullable=False, server_default="1"))
    op.add_column("log", sa.Column("u95_mm", sa.Float(), nullable=True))
