"""Arcs as boxes and as short straight pieces."""

from __future__ import annotations

import math

import numpy as np

from pincorner.program.arcs import AXES, in_plane
from pincorner.program.motions import AXES_OF_PLANE, Arcs, Floats, Ints

CHORD_MM = 0.0005
"""How far a straight piece may leave its arc: half of the last digit that findings are told to."""


def arc_boxes(start: Floats, end: Floats, arcs: Arcs) -> tuple[Floats, Floats]:
    """Lowest and highest X, Y, Z of each arc: two arrays (m, 3); NaN where an arc is not known.

    start, end: (m, 3), of the arcs alone. An arc reaches the sides of its circle that lie at the
    whole quarter turns between its first and its last angle. Where the ends are not equally far
    from the centre (rounding; RS274/NGC, 3.5.3) the larger radius counts.
    """
    low, high = np.fmin(start, end), np.fmax(start, end)
    for plane, axes in enumerate(AXES_OF_PLANE):
        mine = arcs.plane == plane
        if mine.all():
            _widen(low, high, axes, start, end, arcs)
        elif mine.any():
            some_low, some_high = low[mine], high[mine]
            some = Arcs._make(column[mine] for column in arcs)
            _widen(some_low, some_high, axes, start[mine], end[mine], some)
            low[mine], high[mine] = some_low, some_high
    return low, high


def _widen(
    low: Floats, high: Floats, axes: tuple[int, int, int], start: Floats, end: Floats, arcs: Arcs
) -> None:
    """Boxes around the ends of arcs of one plane made boxes around the arcs."""
    from_centre = [
        [ends[:, axis] - arcs.centre[:, at] for at, axis in enumerate(axes[:2])]
        for ends in (start, end)
    ]
    radius = np.maximum(*(np.hypot(*place) for place in from_centre))
    begins = np.arctan2(from_centre[0][1], from_centre[0][0]) / (math.pi / 2)
    ends = begins + arcs.sweep_rad / (math.pi / 2)
    lesser, greater = np.minimum(begins, ends), np.maximum(begins, ends)
    for quarter, (side, at) in enumerate(((high, 0), (high, 1), (low, 0), (low, 1))):
        reached = np.floor((greater - quarter) / 4) >= np.ceil((lesser - quarter) / 4)
        farthest = arcs.centre[:, at] + (radius if quarter < 2 else -radius)
        side[:, axes[at]] = np.where(reached, farthest, side[:, axes[at]])
    unknown = np.isnan(radius)
    if unknown.any():
        low[unknown] = high[unknown] = np.nan


def arc_pieces(
    start: Floats, end: Floats, arcs: Arcs, chord_mm: float = CHORD_MM
) -> tuple[Ints, Floats, Floats]:
    """Arcs and helices as straight pieces within `chord_mm`: (arc's index, start, end) of each.

    start, end: (m, 3), of the arcs alone, known. The pieces' ends lie on the arc.
    """
    centre = arcs.centre @ (1, 1j)
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
