"""Pressed pins: stations of before say that their jigs are laid, not pushed.

`pins_pressed` is true where it is left out. What a station's offsets were computed from stays what
it was: the old value is written into every revision of a station with edge pins. No table changes.
The new keys `in_hole` and `held` of pins, `play` of a bed's grid, `edge_straightness` and
`edge_from` of jigs need no more than the new number: left out, they say what counted before.
"""

import json
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

_BEFORE = ("name", "bed", "jig", "stock", "pin", "pins", "corner", "toward", "turn")
"""The keys of a station that stand before `pins_pressed` in its canonical text."""

_REVISION = sa.table(
    "revision", sa.column("kind"), sa.column("key"), sa.column("change_id"), sa.column("body")
)


def upgrade() -> None:
    """Rewrite the bodies of stations, now and in the past."""
    connection, table = op.get_bind(), _REVISION
    query = (
        sa.select(table.c.key, table.c.change_id, table.c.body)
        .where(table.c.kind == "station")
        .where(table.c.body.is_not(None))
    )
    for key, change_id, body in connection.execute(query).all():
        text = json.dumps(laid(json.loads(body)), ensure_ascii=False, separators=(",", ":"))
        connection.execute(
            sa.update(table)
            .where(table.c.kind == "station")
            .where(table.c.key == key, table.c.change_id == change_id)
            .values(body=text)
        )


def laid(values: dict[str, Any]) -> dict[str, Any]:
    """A station's values with its jig laid against edge pins, in canonical order.

    On dowels nothing is pushed, and nothing has to be said.
    """
    if "round" in values.get("pins", {}):
        return values
    before = {key: value for key, value in values.items() if key in _BEFORE}
    return {**before, "pins_pressed": False, **values}
