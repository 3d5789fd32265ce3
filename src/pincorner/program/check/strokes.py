"""Motions as straight strokes: what of them lies below a height, and how far they stay from things.

In distances a place is one complex number: the product of one vector and another's conjugate then
holds their dot product (real) and their cross product (imaginary) at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.outline import TOUCH_MM, Box, Outline
from pincorner.program.path.boxes import Rapids, arc_pieces, known_ends, machine_axes, rapid_corners
from pincorner.program.reader.motions import ARC, RAPID, Floats, Ints, Motions


class Strokes(NamedTuple):
    """Straight strokes, k of them: the motion they belong to, start and end (k, 3)."""

    row: Ints
    start: Floats
    end: Floats

    def take(self, which: Ints) -> Strokes:
        """Some of the strokes, by index."""
        return Strokes(self.row[which], self.start[which], self.end[which])

    def lowest(self) -> Floats:
        """Lowest Z of each stroke, (k,)."""
        lowest: Floats = np.minimum(self.start[:, 2], self.end[:, 2])
        return lowest

    def below(self, top_mm: float) -> Strokes:
        """What of each stroke lies below a height; a touch does not count."""
        row, start, end = self.take(np.flatnonzero(self.lowest() < top_mm - TOUCH_MM))
        for upper, lower in ((start, end), (end, start)):
            above = np.flatnonzero(upper[:, 2] > top_mm)
            fall = upper[above] - lower[above]
            share = (top_mm - lower[above, 2]) / fall[:, 2]
            upper[above] = lower[above] + share[:, None] * fall
        return Strokes(row, start, end)

    def meeting(self, box: Box) -> Strokes:
        """Strokes whose own box meets an upright box of X and Y."""
        low, high = np.minimum(self.start, self.end), np.maximum(self.start, self.end)
        meets = (low[:, 0] < box.right) & (high[:, 0] > box.left)
        meets &= (low[:, 1] < box.back) & (high[:, 1] > box.front)
        return self.take(np.flatnonzero(meets))


def joined(*strokes: Strokes) -> Strokes:
    """Strokes one after another."""
    rows, starts, ends = zip(*strokes, strict=True)
    return Strokes(np.concatenate(rows), np.concatenate(starts), np.concatenate(ends))


def strokes_of(motions: Motions, rows: Ints, rapids: Rapids) -> Strokes:
    """Motions, given in ascending order, whose places are known, as strokes.

    Arcs as short ones; a rapid that need not be straight as the four sides of its box at its lowest
    Z, since it may go down first.
    """
    kind = motions.kind[rows]
    boxed = (kind == RAPID) & (not rapids.straight)
    straight = _straight(motions, rows[(kind != ARC) & ~boxed])
    if len(straight.row) == len(rows):
        return straight
    return joined(
        straight, _of_arcs(motions, rows[kind == ARC]), _of_rapids(motions, rows[boxed], rapids)
    )


def _straight(motions: Motions, rows: Ints) -> Strokes:
    return Strokes(rows, *known_ends(motions, rows))


def _of_arcs(motions: Motions, rows: Ints) -> Strokes:
    index, start, end = arc_pieces(motions.rows(rows))
    return Strokes(rows[index], start, end)


def _of_rapids(motions: Motions, rows: Ints, rapids: Rapids) -> Strokes:
    """The sides of the box of each rapid; one stroke where the box has no width."""
    start, end = known_ends(motions, rows)
    lowest = np.minimum(start[:, 2], end[:, 2])
    start[:, 2] = end[:, 2] = lowest
    ways = (end - start)[:, :2] @ machine_axes(rapids.machine_angle_rad).T
    wide = np.flatnonzero((ways != 0).all(axis=1))
    narrow = np.flatnonzero((ways == 0).any(axis=1))
    corners = rapid_corners(start[wide], end[wide], rapids.machine_angle_rad)
    around = [corners.reshape(-1, 2), np.roll(corners, -1, axis=1).reshape(-1, 2)]
    height = np.repeat(lowest[wide], 4)[:, None]
    return joined(
        Strokes(rows[narrow], start[narrow], end[narrow]),
        Strokes(np.repeat(rows[wide], 4), *(np.hstack([side, height]) for side in around)),
    )


def point_in_rapids(
    motions: Motions, rows: Ints, rapids: Rapids, point: tuple[float, float]
) -> Strokes:
    """A point as a stroke of every rapid among `rows` whose box it lies in."""
    rows = rows[(motions.kind[rows] == RAPID) & (not rapids.straight)]
    if not rows.size:
        return _straight(motions, rows)
    start, end = known_ends(motions, rows)
    axes = machine_axes(rapids.machine_angle_rad)
    first, last, at = start[:, :2] @ axes.T, end[:, :2] @ axes.T, np.array(point) @ axes.T
    inside = ((np.minimum(first, last) <= at) & (at <= np.maximum(first, last))).all(axis=1)
    rows, lowest = rows[inside], np.minimum(start[:, 2], end[:, 2])[inside]
    place = np.column_stack([np.broadcast_to(np.array(point), (len(rows), 2)), lowest])
    return Strokes(rows, place, place.copy())


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
