"""Papers: by which definition it was gathered what stood beside the station's own, and the files
that a run's page was planned from. Papers of before are judged by the first. No document changes.
"""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns."""
    op.add_column("paper", sa.Column("beside", sa.Integer(), nullable=False, server_default="1"))
    op.add_column("paper", sa.Column("files", sa.Text(), nullable=True))
