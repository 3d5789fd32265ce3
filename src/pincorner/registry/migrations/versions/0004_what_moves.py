"""What moves: machines that leaned on `beam: none` and a carriage of nothing say it.

Both lost their defaults: left out, they are not known. What a machine was stays what it was. No
table changes. The new keys `operator` and `rapid` of machines, `leave`, `least_gap`, `override` and
`by` of runs and `program` of nests need no more than the new number: left out, they say nothing.
"""

import json
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_SIDES = ("left", "right", "front", "back")
_KEYS = (
    "name", "dialect", "units", "homes", "read_out", "travel", "repeatability", "homing",
    "max_skew", "tool_lengths", "touch_plate", "beam", "bed_moves", "carriage", "nose",
    "straight_rapids", "park", "home", "home_named_axes", "note",
)  # fmt: skip
"""Of a machine, in the order of the canonical text of that day."""

_REVISION = sa.table(
    "revision", sa.column("kind"), sa.column("key"), sa.column("change_id"), sa.column("body")
)


def upgrade() -> None:
    """Rewrite the bodies of machines, now and in the past."""
    connection, table = op.get_bind(), _REVISION
    query = (
        sa.select(table.c.key, table.c.change_id, table.c.body)
        .where(table.c.kind == "machine")
        .where(table.c.body.is_not(None))
    )
    for key, change_id, body in connection.execute(query).all():
        values = with_defaults_stated(json.loads(body))
        text = json.dumps(values, ensure_ascii=False, separators=(",", ":"))
        connection.execute(
            sa.update(table)
            .where(table.c.kind == "machine")
            .where(table.c.key == key, table.c.change_id == change_id)
            .values(body=text)
        )


def with_defaults_stated(values: dict[str, Any]) -> dict[str, Any]:
    """A machine's values with the old defaults where it leaned on them, in canonical order."""
    sides = values.get("carriage", {})
    stated = {
        "beam": "none",
        **values,
        "carriage": {side: sides.get(side, 0) for side in _SIDES},
    }
    return {key: stated[key] for key in _KEYS if key in stated}
