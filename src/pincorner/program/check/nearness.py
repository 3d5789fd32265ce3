"""Distances in the plane from strokes to discs and outlines.

A place is one complex number here: the product of one vector and another's conjugate then holds
their dot product (real) and their cross product (imaginary) at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.outline import Outline
from pincorner.program.motions import Floats

Complexes = NDArray[np.complex128]

_AT_ONCE = 100_000
"""Pairs of a stroke and an edge that are looked at together, so that memory stays flat."""


class Edges(NamedTuple):
    """Starts and ends of the edges of one or more closed outlines, (m,) each."""

    first: Complexes
    second: Complexes


def edges_of(rings: Sequence[Outline]) -> Edges:
    """The edges of closed outlines."""
    starts = [complex(*point) for ring in rings for point in ring]
    ends = [complex(*point) for ring in rings for point in (*ring[1:], ring[0])]
    return Edges(np.array(starts), np.array(ends))


def to_point(start: Floats, end: Floats, point: Floats) -> Floats:
    """Distance from each stroke, from `start` to `end` (n, 2 or more), to a point (2,)."""
    first, last = _complex(start), _complex(end)
    return _distance(complex(*point) - first, last - first)[0]


def to_outline(start: Floats, end: Floats, edges: Edges) -> Floats:
    """Distance from each stroke, from `start` to `end` (n, 2 or more), to an area; 0 within it.

    An outline within another is a hole.
    """
    first, last = _complex(start), _complex(end)
    some = max(1, _AT_ONCE // len(edges.first))
    parts = [slice(at, at + some) for at in range(0, len(first), some)]
    found = [_to_outline(first[part, None], last[part, None], edges) for part in parts]
    return np.concatenate(found) if found else np.empty(0)


def _complex(places: Floats) -> Complexes:
    joined: Complexes = places[:, 0] + 1j * places[:, 1]
    return joined


def _distance(away: Complexes, along: Complexes) -> tuple[Floats, Floats]:
    """Distance of places from strokes, and on which side of them they lie (positive: left).

    away: from the stroke's start to the place; along: to its end.
    """
    length2 = along.real**2 + along.imag**2
    product = away * along.conj()
    share = product.real / np.where(length2 > 0, length2, 1.0)
    np.clip(share, 0.0, 1.0, out=share)
    distance: Floats = np.abs(away - share * along)
    return distance, product.imag


def _to_outline(start: Complexes, end: Complexes, edges: Edges) -> Floats:
    """start, end: (n, 1)."""
    corner, edge, stroke = edges.first, edges.second - edges.first, end - start
    nearest, corner_side = _distance(corner - start, stroke)
    start_away, start_side = _distance(start - corner, edge)
    end_away, end_side = _distance(end - corner, edge)
    far_side = ((edges.second - start) * stroke.conj()).imag
    distance: Floats = np.minimum(nearest, np.minimum(start_away, end_away)).min(axis=1)
    crossed = (corner_side * far_side < 0) & (start_side * end_side < 0)
    distance[crossed.any(axis=1) | _inside(start, start_side, edges)] = 0.0
    return distance


def _inside(place: Complexes, side: Floats, edges: Edges) -> NDArray[np.bool_]:
    """Whether places (n, 1) lie in the area: a ray to the right crosses its edges an odd number of
    times. side: (n, m), of which the places lie seen along the edges."""
    y = place.imag
    rises = edges.second.imag > edges.first.imag
    crosses = (edges.first.imag > y) != (edges.second.imag > y)
    on_the_right = (side > 0) == rises
    inside: NDArray[np.bool_] = (crosses & on_the_right).sum(axis=1) % 2 == 1
    return inside
