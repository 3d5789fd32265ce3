"""Times of the registry: UTC, as ISO 8601 text that sorts as the times do."""

from __future__ import annotations

from datetime import UTC, date, datetime, time

from pincorner.errors import BadInput


def now_text() -> str:
    """This moment."""
    return as_text(datetime.now(UTC))


def clock_text() -> str:
    """This local time of day: `14:05`."""
    return datetime.now(UTC).astimezone().strftime("%H:%M")


def today() -> date:
    """This local day."""
    return datetime.now(UTC).astimezone().date()


def local_minute(at: str | None = None) -> str:
    """A time of the registry, or this moment, on the local clock: `2026-11-25 09:42`."""
    moment = datetime.now(UTC) if at is None else datetime.fromisoformat(at)
    return moment.astimezone().strftime("%Y-%m-%d %H:%M")


def as_text(moment: datetime) -> str:
    """A time with its zone as the registry writes it: `2026-11-25T08:42:12.123456Z`."""
    return moment.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def is_time(text: str) -> bool:
    """Whether a text is a time as the registry writes it; any other does not sort as times do."""
    try:
        return as_text(datetime.fromisoformat(text)) == text
    except (ValueError, OverflowError):
        return False


def _end_of_day(text: str) -> datetime | None:
    try:
        return datetime.combine(date.fromisoformat(text), time.max)
    except ValueError:
        return None


def parse_as_of(text: str) -> str:
    """The end of what `--as-of` names: a date is the end of that local day, else that moment.

    Times without a zone are local. Raises BadInput.
    """
    try:
        moment = _end_of_day(text) or datetime.fromisoformat(text)
        return as_text(moment if moment.tzinfo else moment.astimezone())
    except (ValueError, OverflowError, OSError):
        raise BadInput(
            f"--as-of: expected a date or time such as 2026-11-20 or 2026-11-20T14:30, got {text!r}"
        ) from None
