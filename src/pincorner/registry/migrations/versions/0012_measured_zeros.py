"""Zeros that were measured instead of pins: left out, pins say it as before. No table changes."""

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Nothing is written: the new number keeps older programs from a key they do not know."""
