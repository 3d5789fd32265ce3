"""Boxes around motions, and around 64 motions at once: most motions are far from most obstacles.

Arcs come as boxes and as short straight pieces. A section holds motions in a row with one tool
under one work offset, with their boxes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.outline import Box
from pincorner.geometry.pose import Pose, cos_sin
from pincorner.program.reader.arcs import AXES, in_plane
from pincorner.program.reader.motions import (
    AXES_OF_PLANE,
    RAPID,
    Floats,
    Ints,
    Motions,
    joined,
)

Flags = NDArray[np.bool_]
_NONE: Ints = np.empty(0, np.int64)

AT_ONCE = 64
"""Motions in a block."""

CHORD_MM = 0.0005
"""How far a straight piece may leave its arc: half of the last digit that findings are told to."""


class Boxes(NamedTuple):
    """Lowest and highest X, Y, Z of each motion, (3, n), and of each block of AT_ONCE, (3, m).

    Where one end of a motion is not known on an axis, the other end counts; NaN where none is.
    """

    low: Floats
    high: Floats
    block_low: Floats
    block_high: Floats

    def around(self) -> tuple[Floats, Floats]:
        """Lowest and highest X, Y, Z of all; NaN where nothing is known."""
        return np.fmin.reduce(self.block_low, axis=1), np.fmax.reduce(self.block_high, axis=1)

    def meeting(self, box: Box, below_mm: float) -> Ints:
        """Motions that may come into an upright box of X and Y while below a Z."""
        blocks = _meets(self.block_low, self.block_high, box, below_mm)
        if not blocks.any():
            return _NONE
        rows = _rows_of(blocks, self.low.shape[1])
        return rows[_meets(self.low[:, rows], self.high[:, rows], box, below_mm)]

    def leaving(self, box: Box, pose: Pose, below_mm: float) -> Ints:
        """Motions that may leave an upright box of the frame `pose` leads to while below a Z."""
        blocks = _leaves(self.block_low, self.block_high, box, pose, below_mm)
        if not blocks.any():
            return _NONE
        rows = _rows_of(blocks, self.low.shape[1])
        return rows[_leaves(self.low[:, rows], self.high[:, rows], box, pose, below_mm)]


class Rapids(NamedTuple):
    """How rapids go: straight, or anywhere in the box between their ends along the machine's axes.

    `machine_angle_rad`: how those axes are turned in the program's frame.
    """

    straight: bool
    machine_angle_rad: float


def boxes_of(motions: Motions, rapids: Rapids) -> tuple[Floats, Floats]:
    """Lowest and highest X, Y, Z of each motion, (3, n), as in Boxes."""
    low, high = np.fmin(motions.start, motions.end), np.fmax(motions.start, motions.end)
    arcs = np.flatnonzero(motions.is_arc)
    if arcs.size:
        low[arcs], high[arcs] = arc_boxes(motions.rows(arcs))
    if rapids.machine_angle_rad and not rapids.straight:
        rows = np.flatnonzero(motions.kind == RAPID)
        corners = rapid_corners(*known_ends(motions, rows), rapids.machine_angle_rad)
        low[rows, :2], high[rows, :2] = corners.min(axis=1), corners.max(axis=1)
    return np.ascontiguousarray(low.T), np.ascontiguousarray(high.T)


def in_blocks(low: Floats, high: Floats) -> Boxes:
    """From lowest and highest X, Y, Z (3, n) of at least one motion: with those of blocks."""
    firsts = np.arange(0, low.shape[1], AT_ONCE)
    block_low = np.fmin.reduceat(low, firsts, axis=1)
    block_high = np.fmax.reduceat(high, firsts, axis=1)
    return Boxes(low, high, block_low, block_high)


def known_ends(motions: Motions, rows: Ints) -> tuple[Floats, Floats]:
    """Starts and ends of some motions; the other end where one is not known."""
    start, end = motions.start[rows], motions.end[rows]
    return np.where(np.isnan(start), end, start), np.where(np.isnan(end), start, end)


def machine_axes(machine_angle_rad: float) -> Floats:
    """The machine's X and Y in the program's frame, as rows: `points @ axes.T` is along them."""
    cos, sin = cos_sin(machine_angle_rad)
    return np.array([[cos, sin], [-sin, cos]])


def rapid_corners(start: Floats, end: Floats, machine_angle_rad: float) -> Floats:
    """The corners (n, 4, 2), in order, of boxes between places along the machine's axes."""
    axes = machine_axes(machine_angle_rad)
    first, last = start[:, :2] @ axes.T, end[:, :2] @ axes.T
    corners = np.stack([first, first, last, last], axis=1)
    corners[:, 1, 0], corners[:, 3, 0] = last[:, 0], first[:, 0]
    return corners @ axes


def _rows_of(blocks: Flags, count: int) -> Ints:
    """The motions of some blocks."""
    rows = (np.flatnonzero(blocks)[:, None] * AT_ONCE + np.arange(AT_ONCE)).ravel()
    return rows[: np.searchsorted(rows, count)]


def _meets(low: Floats, high: Floats, box: Box, below_mm: float) -> Flags:
    meets: Flags = (
        (low[2] < below_mm)
        & (low[0] < box.right)
        & (high[0] > box.left)
        & (low[1] < box.back)
        & (high[1] > box.front)
    )
    return meets


def _leaves(low: Floats, high: Floats, box: Box, pose: Pose, below_mm: float) -> Flags:
    """An unlimited height holds also where Z is not known."""
    cos, sin = cos_sin(pose.angle_rad)
    (x, y), (half_x, half_y) = (low[:2] + high[:2]) / 2, (high[:2] - low[:2]) / 2
    u, v = pose.x_mm + cos * x - sin * y, pose.y_mm + sin * x + cos * y
    half_u = abs(cos) * half_x + abs(sin) * half_y
    half_v = abs(sin) * half_x + abs(cos) * half_y
    leaves: Flags = (
        (u - half_u < box.left)
        | (u + half_u > box.right)
        | (v - half_v < box.front)
        | (v + half_v > box.back)
    )
    return leaves if math.isinf(below_mm) else leaves & (low[2] < below_mm)


def arc_boxes(arcs: Motions) -> tuple[Floats, Floats]:
    """Lowest and highest X, Y, Z of each arc: two arrays (m, 3); NaN where an arc is not known.

    arcs: motions of kind ARC alone. An arc reaches those sides of its circle that lie at the
    whole quarter turns it passes. Where the ends are not equally far from the centre (rounding;
    RS274/NGC, 3.5.3) the larger radius counts.
    """
    low, high = np.fmin(arcs.start, arcs.end), np.fmax(arcs.start, arcs.end)
    for plane, axes in enumerate(AXES_OF_PLANE):
        mine = arcs.plane == plane
        if mine.all():
            _widen(low, high, axes, arcs)
        elif mine.any():
            some_low, some_high = low[mine], high[mine]
            _widen(some_low, some_high, axes, arcs.rows(mine))
            low[mine], high[mine] = some_low, some_high
    return low, high


def _widen(low: Floats, high: Floats, axes: tuple[int, int, int], arcs: Motions) -> None:
    """Boxes around the ends of arcs of one plane made boxes around the arcs."""
    centre = arcs.centre.T
    first_x, first_y, last_x, last_y = (
        ends[:, axis] - at
        for ends in (arcs.start, arcs.end)
        for axis, at in zip(axes, centre, strict=False)
    )
    radius = np.sqrt(np.maximum(first_x**2 + first_y**2, last_x**2 + last_y**2))
    first, last = _quarter(first_x, first_y), _quarter(last_x, last_y)
    left = arcs.sweep_rad > 0
    begins = np.where(left, first, last)  # seen counter-clockwise
    passed = (np.where(left, last, first) - begins) & 3
    passed[np.abs(arcs.sweep_rad) / (math.pi / 2) - passed > 2] += 4  # all four
    for quarter, (side, at) in enumerate(((high, 0), (high, 1), (low, 0), (low, 1))):
        farthest = centre[at] + (radius if quarter < 2 else -radius)
        np.copyto(side[:, axes[at]], farthest, where=(quarter - 1 - begins) & 3 < passed)
    unknown = np.isnan(radius)
    if unknown.any():
        low[unknown] = high[unknown] = np.nan


def _quarter(x: Floats, y: Floats) -> NDArray[np.int8]:
    """The quarters that places around a centre lie in, 0 to 3 counter-clockwise."""
    lower = y < 0
    quarter: NDArray[np.int8] = 2 * lower.view(np.int8) + (lower != (x < 0))
    return quarter


def arc_pieces(arcs: Motions, chord_mm: float = CHORD_MM) -> tuple[Ints, Floats, Floats]:
    """Arcs and helices as straight pieces within `chord_mm`: (arc's index, start, end) of each.

    arcs: motions of kind ARC alone, known. The pieces' ends lie on the arc.
    """
    start, end, centre = arcs.start, arcs.end, arcs.centre @ (1, 1j)
    first, last = in_plane(start, arcs.plane) - centre, in_plane(end, arcs.plane) - centre
    radius, growth = np.abs(first), np.abs(last) - np.abs(first)
    step = 2 * np.arccos(1 - chord_mm / np.maximum(np.maximum(radius, np.abs(last)), chord_mm))
    counts = np.maximum(np.ceil(np.abs(arcs.sweep_rad) / step), 1).astype(np.int64)
    index = np.repeat(np.arange(len(start)), counts)
    number = np.arange(len(index)) - np.repeat(np.cumsum(counts) - counts, counts)
    axes, rows = AXES[arcs.plane[index]], np.arange(len(index))

    def points(share: Floats) -> Floats:
        turned = np.exp(1j * (np.angle(first)[index] + share * arcs.sweep_rad[index]))
        place = centre[index] + (radius[index] + share * growth[index]) * turned
        found = start[index] + share[:, None] * (end - start)[index]  # right on the third axis
        found[rows, axes[:, 0]], found[rows, axes[:, 1]] = place.real, place.imag
        return found

    return index, points(number / counts[index]), points((number + 1) / counts[index])


class Section(NamedTuple):
    """At least one motion. `tool` and `code` as in Motions, of all of them."""

    motions: Motions
    boxes: Boxes
    tool: int
    code: int


def sections_of(
    motions: Motions, rapids: Rapids, boxes: tuple[Floats, Floats] | None = None
) -> Iterator[Section]:
    """A piece of a program, cut where the tool or the work offset changes.

    `boxes`: of its motions, where they have been made before (`boxes_of`).
    """
    low, high = boxes_of(motions, rapids) if boxes is None else boxes
    tool, code = motions.tool, motions.code
    changes = np.flatnonzero((tool[1:] != tool[:-1]) | (code[1:] != code[:-1])) + 1
    bounds = [0, *changes.tolist(), len(tool)]
    for first, last in pairwise(bounds):
        mine = slice(first, last)
        yield Section(
            motions.rows(mine),
            in_blocks(low[:, mine], high[:, mine]),
            int(tool[first]),
            int(code[first]),
        )


def together(sections: Iterable[Section]) -> Iterator[Section]:
    """Sections of the same tool and work offset as one, for all that asks nothing of their order.

    A program that changes its tool every few lines has many short ones.
    """
    found: dict[tuple[int, int], list[Section]] = {}
    for section in sections:
        found.setdefault((section.tool, section.code), []).append(section)
    for mine in found.values():
        if len(mine) == 1:
            yield mine[0]
            continue
        low, high = (
            np.concatenate(sides, axis=1)
            for sides in zip(*(each.boxes[:2] for each in mine), strict=True)
        )
        motions = joined([each.motions for each in mine])
        yield mine[0]._replace(motions=motions, boxes=in_blocks(low, high))
