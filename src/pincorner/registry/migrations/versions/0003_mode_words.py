"""Mode words: dialects that leaned on the default of `first` say it, as that default changes.

What a dialect was stays what it was. No table changes. The new keys `harmless` of dialects and
`home` and `home_named_axes` of machines need no more than the new number: left out, they say
nothing.
"""

import json
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

OLD_FIRST = ["G17", "G40", "G80"]
NEW_FIRST = ["G40", "G17", "G49", "G80", "G94", "G98"]
_BEFORE_FIRST = ("name", "work_offsets", "write", "rotation", "expressions", "converts")
"""Keys in front of `first` in the canonical text of that day."""

_REVISION = sa.table(
    "revision", sa.column("kind"), sa.column("key"), sa.column("change_id"), sa.column("body")
)


def upgrade() -> None:
    """Rewrite the bodies of dialects, now and in the past."""
    connection, table = op.get_bind(), _REVISION
    query = (
        sa.select(table.c.key, table.c.change_id, table.c.body)
        .where(table.c.kind == "dialect")
        .where(table.c.body.is_not(None))
    )
    for key, change_id, body in connection.execute(query).all():
        values = with_first_stated(json.loads(body))
        text = json.dumps(values, ensure_ascii=False, separators=(",", ":"))
        if text != body:
            connection.execute(
                sa.update(table)
                .where(table.c.kind == "dialect")
                .where(table.c.key == key, table.c.change_id == change_id)
                .values(body=text)
            )


def with_first_stated(values: dict[str, Any]) -> dict[str, Any]:
    """A dialect's values with the old default where it leaned on it, canonical by the new one."""
    if values.get("first") == NEW_FIRST:
        return {key: value for key, value in values.items() if key != "first"}
    if "first" in values:
        return values
    head = {key: values[key] for key in _BEFORE_FIRST if key in values}
    return {**head, "first": OLD_FIRST, **values}
