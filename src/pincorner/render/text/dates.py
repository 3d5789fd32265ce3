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
    def parts(self) -> tuple[str, str]:
        """As every page tells it, in parts that each stay on a line."""
        state = f"Change {self.change} of {self.day};" if self.change else "No change yet;"
        return state, f"made {self.made}."

    @property
    def told(self) -> str:
        """The same as one line."""
        return " ".join(self.parts)
