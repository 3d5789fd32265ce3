"""Distances in the plane from straight pieces of a path to discs and outlines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.outline import Outline
from pincorner.program.motions import Floats

_AT_ONCE = 200_000
"""Pairs of a piece and an edge that are looked at together, so that memory stays flat."""


def to_point(start: Floats, end: Floats, point: Floats) -> Floats:
    """Distance from each piece (start, end: (n, 2)) to points, broadcast: (2,) or (n, 2)."""
    along = end - start
    length2 = np.einsum("...i,...i", along, along)
    dots = np.einsum("...i,...i", point - start, along)
    share = np.clip(dots / np.where(length2 > 0, length2, 1.0), 0.0, 1.0)
    away = start + share[..., None] * along - point
    distance: Floats = np.sqrt(np.einsum("...i,...i", away, away))
    return distance


def edges_of(rings: Sequence[Outline]) -> tuple[Floats, Floats]:
    """Starts and ends, (m, 2) each, of the edges of closed outlines."""
    starts = [point for ring in rings for point in ring]
    ends = [point for ring in rings for point in (*ring[1:], ring[0])]
    return np.array(starts), np.array(ends)


def to_outline(start: Floats, end: Floats, edges: tuple[Floats, Floats]) -> Floats:
    """Distance from each piece (start, end: (n, 2)) to an area; 0 where it enters it.

    `edges` of one or more outlines, by `edges_of`; an outline within another is a hole.
    """
    some = max(1, _AT_ONCE // len(edges[0]))
    parts = [slice(at, at + some) for at in range(0, len(start), some)]
    found = [_to_outline(start[part], end[part], *edges) for part in parts]
    return np.concatenate(found) if found else np.empty(0)


def _to_outline(start: Floats, end: Floats, first: Floats, second: Floats) -> Floats:
    a, b, c, d = start[:, None], end[:, None], first[None], second[None]
    nearest = to_point(a, b, c)  # each corner is the start of one edge
    np.minimum(nearest, to_point(c, d, a), out=nearest)
    np.minimum(nearest, to_point(c, d, b), out=nearest)
    distance: Floats = nearest.min(axis=1)
    crossed = (_side(a, b, c) * _side(a, b, d) < 0) & (_side(c, d, a) * _side(c, d, b) < 0)
    distance[crossed.any(axis=1) | _inside(start, first, second)] = 0.0
    return distance


def _side(start: Floats, end: Floats, point: Floats) -> Floats:
    """Positive where a point lies to the left of the line from start to end."""
    along, away = end - start, point - start
    side: Floats = along[..., 0] * away[..., 1] - along[..., 1] * away[..., 0]
    return side


def _inside(points: Floats, first: Floats, second: Floats) -> NDArray[np.bool_]:
    """Whether points (n, 2) lie in the area, by the even-odd rule."""
    y = points[:, None, 1]
    crosses = (first[:, 1] > y) != (second[:, 1] > y)
    rise = np.where(crosses, second[:, 1] - first[:, 1], 1.0)
    x = first[:, 0] + (y - first[:, 1]) / rise * (second[:, 0] - first[:, 0])
    inside: NDArray[np.bool_] = (crosses & (points[:, None, 0] < x)).sum(axis=1) % 2 == 1
    return inside
