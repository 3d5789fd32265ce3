"""A clock that is wrong must not spoil the history: times of the registry never go back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Connection, bindparam, select, text, update

from pincorner.registry import times
from pincorner.registry.tables import TIMED
from pincorner.registry.writer import Writer, newest_time

AHEAD_OF_NEWEST = timedelta(days=365)
AHEAD_OF_SERVER = timedelta(days=1)
AHEAD_OF_CLOCK = timedelta(hours=1)
"""Clocks of one shop may differ by that much, and nobody need be told."""

_moment = datetime.fromisoformat


def doubt(connection: Connection) -> str | None:
    """Why this computer's clock may be wrong, as one line; None where nothing speaks for it."""
    now = _moment(times.now_text())
    newest = newest_time(connection)
    if newest and now - _moment(newest) > AHEAD_OF_NEWEST:
        return (
            f"the clock of this computer says {_shown(now)}, more than a year after the newest "
            f"change of the registry ({newest[:10]}), and what is recorded keeps that time"
        )
    if connection.dialect.name != "postgresql":
        return None
    server = connection.execute(text("SELECT clock_timestamp()")).scalar_one().astimezone(UTC)
    if now - server > AHEAD_OF_SERVER:
        return (
            f"the clock of this computer says {_shown(now)}, more than a day ahead of the "
            f"database server's ({_shown(server)})"
        )
    return None


def newest_in_the_future(connection: Connection) -> str | None:
    """The newest time of the registry where it is later than now; else None."""
    newest = newest_time(connection)
    later = newest and _moment(newest) - _moment(times.now_text()) > AHEAD_OF_CLOCK
    return newest if later else None


def repair_times(connection: Connection, who: str) -> int:
    """Put every time that is later than now at now, in order; how many entries had one.

    Entries of one time keep one time. One change of its own says so.
    """
    now = times.now_text()
    later = sorted(
        {
            at
            for table in TIMED
            for at in connection.execute(select(table.c.at).where(table.c.at > now)).scalars()
        }
    )
    if not later:
        return 0
    first = _moment(now) - timedelta(microseconds=len(later))
    good = [
        at
        for table in TIMED
        if (at := connection.execute(_newest_up_to(table, now)).scalar()) is not None
    ]
    first = max([first, *map(_moment, good)])
    put = {at: times.as_text(first + timedelta(microseconds=n)) for n, at in enumerate(later)}
    count = sum(_put(connection, table, put) for table in TIMED)
    why = f"{count} entries had times from {later[0][:10]} to {later[-1][:10]}, which were to come"
    Writer(connection, who, "upgrade", why).mark()
    return count


def _newest_up_to(table: Any, now: str) -> Any:
    return select(table.c.at).where(table.c.at <= now).order_by(table.c.at.desc()).limit(1)


def _put(connection: Connection, table: Any, put: dict[str, str]) -> int:
    [number] = table.primary_key
    found = connection.execute(select(number, table.c.at)).all()
    rows = [{"row": row, "to": put[at]} for row, at in found if at in put]
    if rows:
        query = update(table).where(number == bindparam("row")).values(at=bindparam("to"))
        connection.execute(query, rows)
    return len(rows)


def _shown(moment: datetime) -> str:
    return moment.astimezone().strftime("%Y-%m-%d %H:%M")
