"""How far the motions of a program reach: in all, for each tool, for each work offset."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pincorner.program.boxes import Boxes
from pincorner.program.motions import ARC, Floats, Ints, Motions
from pincorner.setups.checked import Extent

NOT_YET = -2
"""No tool and no work offset: before the first motion."""

Reached = tuple[Floats, Floats]
"""Lowest and highest X, Y, Z."""

_NOTHING: Reached = np.array([np.inf] * 3), np.array([-np.inf] * 3)


class Extents:
    """Running extents, in mm of the program's coordinates; places not known do not count."""

    def __init__(self) -> None:
        self.all = _NOTHING
        self.tools: dict[int, Reached] = {}
        self.codes: dict[int, Reached] = {}
        self._last_tool = self._last_code = NOT_YET

    def take(self, motions: Motions, boxes: Boxes) -> None:
        """Add a piece of the program."""
        everywhere = _around(boxes.block_low, boxes.block_high)
        self.all = _wider(self.all, everywhere)
        for column, last, extents in (
            (motions.tool, self._last_tool, self.tools),
            (motions.code, self._last_code, self.codes),
        ):
            if (column == last).all():
                extents[last] = _wider(extents[last], everywhere)
            else:
                for value, reached in _of_values(column, last, motions, boxes):
                    extents[value] = _wider(extents.get(value, _NOTHING), reached)
        self._last_tool, self._last_code = int(motions.tool[-1]), int(motions.code[-1])


def extent(reached: Reached) -> Extent:
    """Running lowest and highest places as a value."""
    low, high = reached
    return Extent.of(tuple(low.tolist()), tuple(high.tolist()))


def _of_values(
    column: Ints, last: int, motions: Motions, boxes: Boxes
) -> Iterator[tuple[int, Reached]]:
    """Extents for each value of a column; where one begins, the way there is not its own."""
    low, high = boxes.low.copy(), boxes.high.copy()
    begins = np.flatnonzero(np.concatenate([[True], column[1:] != column[:-1]]))
    values = column[begins]
    arrivals = begins[motions.kind[begins] != ARC]
    arrivals = arrivals[1:] if column[0] == last and arrivals[:1] == 0 else arrivals
    low[:, arrivals] = high[:, arrivals] = motions.end[arrivals].T
    low, high = np.fmin.reduceat(low, begins, axis=1), np.fmax.reduceat(high, begins, axis=1)
    for value in np.unique(values).tolist():
        mine = values == value
        yield value, _around(low[:, mine], high[:, mine])


def _around(low: Floats, high: Floats) -> Reached:
    return np.fmin.reduce(low, axis=1), np.fmax.reduce(high, axis=1)


def _wider(one: Reached, other: Reached) -> Reached:
    return np.fmin(one[0], other[0]), np.fmax(one[1], other[1])
