"""Every page says which state of the registry it shows, and when it was made."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

from pincorner.registry.store import Registry
from pincorner.render.text.dates import State
from pincorner.work.session import state_of


def test_the_state_is_that_of_the_newest_change(demo_once: Path) -> None:
    """Number and local day are those of the newest change that the view holds."""
    registry = Registry(str(demo_once / "fixtures_db" / "registry.sqlite"))
    with registry.reading() as reader:
        state, newest = state_of(reader), max(row["id"] for row in reader.changes())
        assert state.change == reader.last_change >= newest
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", state.day)
    made = date.fromisoformat(state.made[:10])
    days = (made - date.fromisoformat(state.day)).days
    assert days in (0, 1), "the demo was made in this run, which may go over midnight"


def test_a_state_is_told_in_one_line() -> None:
    """A page tells change, day and its own making; a registry without a change says so."""
    told = State(12, "2026-11-25", "2026-11-30 04:10").told
    assert told == "Change 12 of 2026-11-25; made 2026-11-30 04:10."
    assert State(0, "", "2026-11-30 04:10").told == "No change yet; made 2026-11-30 04:10."
