"""A station's own max_skew: left out, its machine's counts as before. No table changes."""

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Nothing is written: the new number keeps older programs from a key they do not know."""
