"""Arcs as boxes and as short straight pieces."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pincorner.program.arcs import AXES, in_plane
from pincorner.program.motions import AXES_OF_PLANE, Floats, Ints, Motions

CHORD_MM = 0.0005
"""How far a straight piece may leave its arc: half of the last digit that findings are told to."""


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
