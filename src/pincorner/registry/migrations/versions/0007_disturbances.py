"""Disturbances: a kind of document that older programs do not know. No table changes."""

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Nothing is written: no bed of before says that it was disturbed."""
