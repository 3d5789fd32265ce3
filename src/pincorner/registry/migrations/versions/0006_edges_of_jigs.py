"""Jigs may name their edges (`edges`): a new key, which says nothing where it is left out.

No table changes, and no body: an older program would refuse a jig that has it.
"""

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Nothing but the number."""
