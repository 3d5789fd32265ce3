"""Where the zero of bare stock is: left out, it is at its corner as before. No table changes."""

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Nothing is written: the new number keeps older programs from a key they do not know."""
