"""Boxes around motions, and around 64 motions at once: most motions are far from most obstacles."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.outline import Box
from pincorner.geometry.pose import Pose, cos_sin
from pincorner.program.motions import RAPID, Floats, Ints, Motions
from pincorner.program.path.arc_boxes import arc_boxes

Flags = NDArray[np.bool_]
_NONE: Ints = np.empty(0, np.int64)

AT_ONCE = 64
"""Motions in a block."""


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
