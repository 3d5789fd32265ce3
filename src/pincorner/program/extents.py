"""How far the motions of a program reach: in all, where they cut, by tool and by work offset."""

from __future__ import annotations

import numpy as np

from pincorner.program.motions import ARC, NO_TOOL, RAPID, Floats
from pincorner.program.sections import Section
from pincorner.setups.checked import Extent

Reached = tuple[Floats, Floats]
"""Lowest and highest X, Y, Z."""

_NOTHING: Reached = np.array([np.inf] * 3), np.array([-np.inf] * 3)


class Extents:
    """Running extents, in mm of the program's coordinates; places not known do not count.

    `cutting`: of feeds and arcs, from where they begin. `tools`, `codes`: by number and index; the
    way to where one begins is not its own.
    """

    def __init__(self) -> None:
        self.all = self.cutting = _NOTHING
        self.tools: dict[int, Reached] = {}
        self.codes: dict[int, Reached] = {}
        self._last_tool: int | None = None
        self._last_code: int | None = None

    def take(self, section: Section) -> None:
        """Add a section of the program."""
        everywhere = section.boxes.around()
        own = everywhere
        if (section.tool, section.code) != (self._last_tool, self._last_code):
            own = _without_arrival(section)
        self.all = _wider(self.all, everywhere)
        cuts = section.motions.kind != RAPID
        if cuts.all():
            self.cutting = _wider(self.cutting, everywhere)
        elif cuts.any():
            low, high = section.boxes.low[:, cuts], section.boxes.high[:, cuts]
            mine = np.fmin.reduce(low, axis=1), np.fmax.reduce(high, axis=1)
            self.cutting = _wider(self.cutting, mine)
        for value, last, extents in (
            (section.tool, self._last_tool, self.tools),
            (section.code, self._last_code, self.codes),
        ):
            reached = everywhere if value == last else own
            extents[value] = _wider(extents.get(value, _NOTHING), reached)
        self._last_tool, self._last_code = section.tool, section.code

    def tools_in_use(self) -> list[int]:
        """Tools in order of number; of moves before the first only those whose height is known:
        by machine Z alone the axes go to their top before any tool is named."""
        known = [
            tool
            for tool, (low, _) in self.tools.items()
            if tool != NO_TOOL or np.isfinite(low[2]) or len(self.tools) == 1
        ]
        return sorted(known)


def extent(reached: Reached) -> Extent:
    """Running lowest and highest places as a value."""
    low, high = reached
    return Extent.of(tuple(low.tolist()), tuple(high.tolist()))


def _without_arrival(section: Section) -> Reached:
    """Where a section reaches from the end of its first motion on; an arc is its own work."""
    if section.motions.kind[0] == ARC:
        return section.boxes.around()
    end = section.motions.end[:1].T
    low, high = section.boxes.low[:, 1:], section.boxes.high[:, 1:]
    return np.fmin.reduce(np.hstack((end, low)), axis=1), np.fmax.reduce(
        np.hstack((end, high)), axis=1
    )


def _wider(one: Reached, other: Reached) -> Reached:
    return np.fmin(one[0], other[0]), np.fmax(one[1], other[1])
