"""Canned cycles as moves (RS274/NGC, 3.5.16): where the tool goes at each hole.

A hole has up to five moves: up to R where the tool is below it, across, down to R, the cut to Z,
and back. A move that goes nowhere is left out.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.program.motions import FEED, RAPID, Floats, Ints

MOVES = 5
"""At most, at each hole."""

SAME_MM = 1e-9
"""Places that differ by no more are the same: rounding of doubles."""


class Holes(NamedTuple):
    """Moves at n holes, in order: (n, MOVES, 3) ends, (n, MOVES) kinds and which are made."""

    end: Floats
    kind: Ints
    made: NDArray[np.bool_]


def holes(places: Floats, r: Floats, bottom: Floats, feed_back: NDArray[np.bool_]) -> Holes:
    """Moves at n holes. `places` (n + 1, 3): before the first hole, then behind each.

    `r`, `bottom`: (n,) levels of R and Z. `feed_back`: whether the tool retracts at feed rate.
    """
    before, after = places[:-1], places[1:]
    across_at = np.maximum(before[:, 2], r)  # not known where the place is not known
    end = np.repeat(after[:, np.newaxis, :], MOVES, axis=1)
    end[:, 0, :2] = before[:, :2]
    end[:, 0, 2] = end[:, 1, 2] = across_at
    end[:, 2, 2], end[:, 3, 2] = r, bottom
    kind = np.full((len(r), MOVES), RAPID)
    kind[:, 3] = FEED
    kind[feed_back, 4] = FEED
    made = np.empty((len(r), MOVES), np.bool_)
    made[:, 0] = before[:, 2] < r - SAME_MM
    made[:, 1] = _differ(before[:, :2], after[:, :2]).any(axis=1)
    made[:, 2] = _differ(across_at, r)
    made[:, 3] = _differ(r, bottom)
    made[:, 4] = _differ(bottom, after[:, 2])
    return Holes(end, kind, made)


def _differ(first: Floats, second: Floats) -> NDArray[np.bool_]:
    """Where two places are not the same, or one is not known."""
    return ~(np.abs(first - second) <= SAME_MM)


def retract_levels(
    before: float, level: Floats, sets: NDArray[np.bool_], lifts: NDArray[np.bool_]
) -> Floats:
    """(n + 1,) Z before the first line and behind each of n lines.

    A line sets Z to its level (a Z word, a cycle under G99), or lifts it there if it is lower (a
    cycle under G98), or leaves it. What is not known stays so until Z is set. A running maximum
    between settings: over ranks, where each setting stands above everything before it.
    """
    values = np.concatenate(([before], np.where(sets | lifts, level, -np.inf)))
    ordered, rank = np.unique(values, return_inverse=True)
    section = np.cumsum(np.append(False, sets))
    highest = np.maximum.accumulate(section * len(ordered) + rank)
    result: Floats = ordered[highest % len(ordered)]
    return result
