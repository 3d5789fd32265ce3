"""Which state of the registry a page shows, and when it was made."""

from __future__ import annotations

from typing import NamedTuple


class State(NamedTuple):
    """The newest change that a page knows of, and when the page was made.

    `change`: its number, 0 before the first. `day`: its local day, `2026-11-25`, empty before the
    first. `made`: the local minute in which the page was made, `2026-11-30 04:10`.
    """

    change: int
    day: str
    made: str

    @property
    def told(self) -> str:
        """As every page tells it."""
        state = f"Change {self.change} of {self.day}" if self.change else "No change yet"
        return f"{state}; made {self.made}."
