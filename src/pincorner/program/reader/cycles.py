"""Canned cycles as moves (RS274/NGC, 3.5.16): where the tool goes at each hole.

A hole has up to five moves: up to R where the tool is below it, across, down to R, the cut to Z,
and back. A move that goes nowhere is left out. The plane's third axis is the depth.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.program.reader.arcs import AXES
from pincorner.program.reader.columns import Flags
from pincorner.program.reader.motions import FEED, RAPID, Floats, Ints

MOVES = 5
"""At most, at each hole."""

MOST_REPEATS = 10_000
"""Of a cycle by its L word; more is a slip of the finger."""

SAME_MM = 1e-9
"""Places that differ by no more are the same: rounding of doubles."""


class Ways(NamedTuple):
    """n ways in order: holes where `drilled`, else one move of a kind each.

    `before`, `after`: (n, 3) places. `kind`: of a plain move, and of a hole's last. `r`, `bottom`:
    (n,) levels on the plane's third axis; NaN where not drilled. `plane`: of each; it indexes
    AXES_OF_PLANE.
    """

    before: Floats
    after: Floats
    kind: Ints
    drilled: Flags
    r: Floats
    bottom: Floats
    plane: Ints


class Moves(NamedTuple):
    """m moves in order: the way of each, its kind, and its (m, 3) end."""

    way: Ints
    kind: Ints
    end: Floats


def moves_of(ways: Ways) -> Moves:
    """All moves of some ways."""
    at: Ints | slice = np.arange(len(ways.kind))
    first, second, third = AXES[ways.plane].T
    if (ways.plane == ways.plane[0]).all():  # columns as they lie take a third of the time
        at, (first, second, third) = np.s_[:], AXES[ways.plane[0]]
    before, after = ways.before, ways.after
    across_at = np.maximum(before[at, third], ways.r)  # not known where the place is not known
    end = np.repeat(after[:, np.newaxis, :], MOVES, axis=1)
    end[:, 0] = before
    end[at, 0, third] = end[at, 1, third] = across_at
    end[at, 2, third], end[at, 3, third] = ways.r, ways.bottom
    kind = np.full((len(before), MOVES), RAPID)
    kind[:, 3] = FEED
    kind[:, 4] = ways.kind
    made = np.empty((len(before), MOVES), np.bool_)
    made[:, 0] = before[at, third] < ways.r - SAME_MM
    made[:, 1] = _differ(before[at, first], after[at, first])
    made[:, 1] |= _differ(before[at, second], after[at, second])
    made[:, 2] = _differ(across_at, ways.r)
    made[:, 3] = _differ(ways.r, ways.bottom)
    made[:, 4] = _differ(ways.bottom, after[at, third])
    made[~ways.drilled] = [False] * (MOVES - 1) + [True]
    return Moves(np.nonzero(made)[0], kind[made], end[made])


def _differ(first: Floats, second: Floats) -> NDArray[np.bool_]:
    """Where two places are not the same, or one is not known."""
    return ~(np.abs(first - second) <= SAME_MM)


def depths(before: float, add: Floats, level: Floats, sets: Flags, lifts: Flags) -> Floats:
    """(n + 1,) places on the depth axis before the first of n lines and behind each.

    A line steps by `add`, then sets the place to its level (an axis word, a cycle under G99), or
    lifts it there if it is lower (a cycle under G98). What is not known stays so until it is set. A
    running maximum between settings, of levels less all steps so far: over ranks, where each
    setting stands above everything before it.
    """
    steps = np.concatenate(([0.0], add.cumsum()))
    from_steps = np.where(sets | lifts, level - steps[1:], -np.inf)
    ordered, rank = np.unique(np.concatenate(([before], from_steps)), return_inverse=True)
    section = np.cumsum(np.append(False, sets))
    highest = np.maximum.accumulate(section * len(ordered) + rank)
    result: Floats = ordered[highest % len(ordered)] + steps
    return result
