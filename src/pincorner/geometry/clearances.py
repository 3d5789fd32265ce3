"""Gaps between outlines: one pair, or many turned and moved shapes against many fixed ones.

A gap is the least distance between two shapes or, negative, the least overlap of their projections
along the axis that separates them sooner. Two convex shapes are disjoint where the normal of an
edge of one of them separates their projections (separating axis theorem); their overlap is least
along one of those normals, and their distance is that of a corner of one to an edge of the other.
Other outlines are cut into triangles first.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.outline import TOUCH_MM, Outline, signed_area
from pincorner.geometry.pose import XY

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

_AT_ONCE = 1 << 19
"""Corner-edge pairs worked on at once: some arrays of 4 MB, which stay in a cache."""

_CELLS_AT_ONCE = 1 << 18
"""Cells of a table worked on at once, 2 MB: else the memory grows with poses times things."""


def rows_at_once(rows: int, columns: int) -> Iterator[slice]:
    """Slices of a table's rows, so that some of its arrays at a time stay small."""
    step = max(1, _CELLS_AT_ONCE // max(1, columns))
    return (slice(start, start + step) for start in range(0, rows, step))


class Shapes(NamedTuple):
    """Outlines as convex parts.

    corners: (parts, l, 2) mm, counter-clockwise, short ones filled up with their last corner.
    grown_mm: (parts,) how far each is grown all round (corners rounded). owner: (parts,) which of
    the `outlines` outlines a part belongs to.
    """

    corners: Array
    grown_mm: Array
    owner: Indices
    outlines: int

    @property
    def boxes(self) -> Array:
        """(parts, 4): left, front, right, back of each part as grown."""
        return boxes_of(self.corners) + np.outer(self.grown_mm, (-1.0, -1.0, 1.0, 1.0))


def shapes(outlines: Sequence[Outline], grown_mm: Sequence[float] | None = None) -> Shapes:
    """Outlines of three or more corners, or of one point (a disc, when grown)."""
    grown = [0.0] * len(outlines) if grown_mm is None else grown_mm
    parts = [
        (part, by_mm, owner)
        for owner, (outline, by_mm) in enumerate(zip(outlines, grown, strict=True))
        for part in convex_parts(outline)
    ]
    longest = max((len(part) for part, _, _ in parts), default=1)
    filled = [part + part[-1:] * (longest - len(part)) for part, _, _ in parts]
    return Shapes(
        np.array(filled, dtype=float).reshape(-1, longest, 2),
        np.array([by_mm for _, by_mm, _ in parts], dtype=float),
        np.array([owner for _, _, owner in parts], dtype=np.intp),
        len(outlines),
    )


def posed(corners: Array, poses: Array) -> Array:
    """One part's corners (l, 2) at every pose (n, 3: x mm, y mm, angle rad), as (n, l, 2)."""
    cos, sin = np.cos(poses[:, 2:]), np.sin(poses[:, 2:])
    x, y = corners[:, 0], corners[:, 1]
    return np.stack((poses[:, :1] + cos * x - sin * y, poses[:, 1:2] + sin * x + cos * y), axis=-1)


def boxes_of(corners: Array) -> Array:
    """(n, 4): left, front, right, back of corners (n, l, 2)."""
    return np.concatenate((corners.min(axis=1), corners.max(axis=1)), axis=1)


def moved_to(body: Shapes, poses: Array) -> Shapes:
    """One body at every pose (n, 3), as n outlines."""
    parts = len(body.corners)
    corners = np.stack([posed(part, poses) for part in body.corners], axis=1)
    owner = np.repeat(np.arange(len(poses)), parts)
    grown_mm = np.tile(body.grown_mm, len(poses))
    return Shapes(corners.reshape(-1, *body.corners.shape[1:]), grown_mm, owner, len(poses))


def paired_gaps(body: Shapes, first: Array, second: Array) -> Array:
    """Gaps in mm, (n,), of a body, not grown, at poses (n, 3) and at others, pair by pair.

    As `gap_table` has them.
    """
    found = np.full(len(first), math.inf)
    for one in body.corners:
        here = posed(one, first)
        for other in body.corners:
            np.minimum(found, gaps(here, posed(other, second)), out=found)
    return found


def gap_table(moved: Shapes, poses: Array, fixed: Shapes, within_mm: float = math.inf) -> Array:
    """Gaps in mm, (n, fixed.outlines), of all of `moved` as one body at every pose (n, 3).

    inf where boxes alone show more than `within_mm`. Of parts that overlap the deepest counts,
    which for outlines that are not convex is less than the least overlap of the whole.
    """
    table = np.full((len(poses), fixed.outlines), math.inf)
    boxes = fixed.boxes
    for some in rows_at_once(len(poses), len(boxes)):
        for part, grown_mm in zip(moved.corners, moved.grown_mm, strict=True):
            bodies = posed(part, poses[some])
            at, to = _near(boxes_of(bodies), boxes, within_mm + grown_mm)
            found = _grown_gaps(bodies, fixed, at, to) - grown_mm
            np.minimum.at(table[some], (at, fixed.owner[to]), found)
    return table


def nearest_gaps(moved: Shapes, poses: Array, fixed: Shapes) -> Array:
    """The least gap in mm, (n,), of all of `moved` at every pose (n, 3) to any of `fixed`.

    Boxes are no farther apart than what they hold: only fixed parts whose box is nearer than the
    part with the nearest box is itself are looked at.
    """
    least, boxes = np.full(len(poses), math.inf), fixed.boxes
    for some in rows_at_once(len(poses), len(boxes)):
        for part, grown_mm in zip(moved.corners, moved.grown_mm, strict=True):
            bodies = posed(part, poses[some])
            apart = _box_distances(boxes_of(bodies), boxes)
            first = apart.argmin(axis=1)
            known = _grown_gaps(bodies, fixed, np.arange(len(bodies)), first)
            at, to = np.nonzero(apart <= np.maximum(known, 0.0)[:, None])
            np.minimum.at(known, at, _grown_gaps(bodies, fixed, at, to))
            least[some] = np.minimum(least[some], known - grown_mm)
    return least


def _grown_gaps(bodies: Array, fixed: Shapes, at: Indices, to: Indices) -> Array:
    """Gaps of some bodies to some fixed parts as these are grown."""
    found: Array = gaps(bodies[at], fixed.corners[to]) - fixed.grown_mm[to]
    return found


def _box_distances(first: Array, second: Array) -> Array:
    """Distances, (n, m), of boxes (n, 4), (m, 4); 0 where they overlap."""
    (x1, y1, x2, y2), (u1, v1, u2, v2) = first.T[..., None], second.T
    along_x, along_y = np.maximum(u1 - x2, x1 - u2), np.maximum(v1 - y2, y1 - v2)
    apart: Array = np.hypot(np.maximum(along_x, 0.0), np.maximum(along_y, 0.0))
    return apart


def _near(first: Array, second: Array, within_mm: float) -> tuple[Indices, Indices]:
    """Indices of the pairs of boxes (n, 4), (m, 4) that are not farther apart on either axis."""
    (x1, y1, x2, y2), (u1, v1, u2, v2) = first.T[..., None], second.T
    near = (u1 - x2 <= within_mm) & (x1 - u2 <= within_mm)
    near &= (v1 - y2 <= within_mm) & (y1 - v2 <= within_mm)
    at, to = np.nonzero(near)
    return at, to


def gaps(first: Array, second: Array) -> Array:
    """Gaps in mm, (p,), of pairs of convex shapes (p, k, 2), (p, l, 2), each counter-clockwise.

    Shapes of one point are taken as they are; two points have a distance and no overlap.
    """
    step = max(1, _AT_ONCE // (first.shape[1] * second.shape[1]))
    found = np.empty(len(first))
    for start in range(0, len(first), step):
        some = slice(start, start + step)
        found[some] = _gaps(first[some], second[some])
    return found


def _gaps(first: Array, second: Array) -> Array:
    found: Array = np.maximum(_separation(first, second), _separation(second, first))
    apart = (found > 0) | np.isneginf(found)
    one, other = first[apart], second[apart]
    found[apart] = np.sqrt(np.minimum(_square(one, other), _square(other, one)))
    return found


def _separation(edged: Array, other: Array) -> Array:
    """The most by which a normal of an edge of the first separates the two; -inf without edges."""
    edges = np.roll(edged, -1, axis=1) - edged
    length = np.hypot(edges[..., 0], edges[..., 1])
    real = length > 0
    length[~real] = 1.0
    nx, ny = edges[..., 1] / length, -edges[..., 0] / length
    outward = nx[..., None] * other[:, None, :, 0] + ny[..., None] * other[:, None, :, 1]
    ahead = outward.min(axis=2) - (nx * edged[..., 0] + ny * edged[..., 1])
    most: Array = np.where(real, ahead, -math.inf).max(axis=1)
    return most


def _square(points: Array, edged: Array) -> Array:
    """The least square of a distance, mm2, of a corner of the first to an edge of the second."""
    edges = np.roll(edged, -1, axis=1) - edged
    ex, ey = edges[:, None, :, 0], edges[:, None, :, 1]
    dx = points[:, :, None, 0] - edged[:, None, :, 0]
    dy = points[:, :, None, 1] - edged[:, None, :, 1]
    square = ex * ex + ey * ey
    share = np.clip((dx * ex + dy * ey) / np.where(square > 0, square, 1.0), 0.0, 1.0)
    least: Array = ((dx - share * ex) ** 2 + (dy - share * ey) ** 2).min(axis=(1, 2))
    return least


def gap_mm(first: Outline, second: Outline) -> float:
    """The gap of two outlines in mm; negative: their overlap along the axis that parts them sooner.

    The axis lies at right angles to an edge of one of their convex hulls: an outline that is not
    convex is as wide on every axis as its hull.
    """
    one, other = shapes((first,)), shapes((second,))
    at, to = np.meshgrid(np.arange(len(one.corners)), np.arange(len(other.corners)))
    gap = float(gaps(one.corners[at.ravel()], other.corners[to.ravel()]).min())
    convex = len(one.corners) == len(other.corners) == 1
    if convex or gap >= -TOUCH_MM:
        return gap
    hulls = shapes((hull(first),)), shapes((hull(second),))
    return float(gaps(hulls[0].corners, hulls[1].corners)[0])


def hull(outline: Outline) -> Outline:
    """The convex hull, counter-clockwise, without corners on straight lines (monotone chain)."""
    points = sorted(set(outline))
    chain: list[XY] = []
    for way in (points, points[::-1]):
        half: list[XY] = []
        for point in way:
            while len(half) > 1 and _turning(half[-2], half[-1], point) <= 0:
                half.pop()
            half.append(point)
        chain += half[:-1]
    return tuple(chain) or outline[:1]


def convex_parts(outline: Outline) -> list[Outline]:
    """The outline itself where it is convex (or a point), else triangles that fill it.

    Triangles are cut off at corners that no other corner lies in (ear clipping).
    """
    left = list(outline if signed_area(outline) >= 0 else outline[::-1])
    if len(left) < 4 or all(_turning(*three) >= 0 for three in _threes(left)):
        return [tuple(left)]
    found: list[Outline] = []
    while len(left) > 3:
        at = next((at for at, three in enumerate(_threes(left)) if _is_ear(three, left)), 0)
        found.append(_threes(left)[at])
        del left[(at + 1) % len(left)]
    found.append(tuple(left))
    return [ear for ear in found if signed_area(ear) > 0]


def _threes(corners: list[XY]) -> list[tuple[XY, XY, XY]]:
    """Every corner between its neighbours; the corner at index i + 1 in the middle."""
    return list(zip(corners, corners[1:] + corners[:1], corners[2:] + corners[:2], strict=True))


def _turning(first: XY, middle: XY, last: XY) -> float:
    """Twice the area of the triangle in mm2; positive where the way turns left at its middle."""
    ax, ay = middle[0] - first[0], middle[1] - first[1]
    return ax * (last[1] - first[1]) - ay * (last[0] - first[0])


def _is_ear(three: tuple[XY, XY, XY], corners: list[XY]) -> bool:
    a, b, c = three
    if _turning(a, b, c) < 0:
        return False
    return not any(
        _turning(a, b, p) >= 0 and _turning(b, c, p) >= 0 and _turning(c, a, p) >= 0
        for p in corners
        if p not in three
    )
