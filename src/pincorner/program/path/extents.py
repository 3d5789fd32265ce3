"""How far the motions of a program reach: in all, where they cut, by tool and by work offset."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from pincorner.program.path.boxes import Section
from pincorner.program.reader.motions import ARC, NO_TOOL, RAPID, Floats

Interval = tuple[float, float] | None
"""Lowest and highest value along an axis; None where nothing is known."""


class Extent(NamedTuple):
    """How far motions reach, in mm of the program's coordinates."""

    x: Interval
    y: Interval
    z: Interval

    @classmethod
    def of(cls, low_mm: tuple[float, ...], high_mm: tuple[float, ...]) -> Extent:
        """From the lowest and the highest X, Y, Z; not finite where not known."""
        intervals: list[Interval] = [
            (low, high) if math.isfinite(low) and math.isfinite(high) else None
            for low, high in zip(low_mm, high_mm, strict=True)
        ]
        return cls(*intervals)


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
        self._take_cutting(section, everywhere)
        for value, last, extents in (
            (section.tool, self._last_tool, self.tools),
            (section.code, self._last_code, self.codes),
        ):
            reached = everywhere if value == last else own
            extents[value] = _wider(extents.get(value, _NOTHING), reached)
        self._last_tool, self._last_code = section.tool, section.code

    def _take_cutting(self, section: Section, everywhere: Reached) -> None:
        """Only where all of the section's motions reach farther than the cuts so far."""
        low, high = (side.copy() for side in self.cutting)
        cuts = section.motions.kind != RAPID
        for axis in range(3):
            if everywhere[0][axis] < low[axis]:
                mine = section.boxes.low[axis][cuts]
                low[axis] = np.fmin.reduce(mine, initial=low[axis])
            if everywhere[1][axis] > high[axis]:
                mine = section.boxes.high[axis][cuts]
                high[axis] = np.fmax.reduce(mine, initial=high[axis])
        self.cutting = low, high

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
