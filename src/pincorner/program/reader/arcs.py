"""Centres and angles of arcs (RS274/NGC, 3.5.3).

A plane's two axes are one complex number, the first axis real: a quarter turn from the first axis
towards the second is then a factor of 1j.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.program.reader.motions import AXES_OF_PLANE, Floats, Ints
from pincorner.units import MM_PER_INCH

Complexes = NDArray[np.complex128]
Flags = NDArray[np.bool_]

END_TOLERANCE_MM = 0.002
END_TOLERANCE_INCH = 0.0002
"""How far an end may lie off the radius, by the unit in force (RS274/NGC, 3.5.3)."""

SAME_PLACE_MM = 1e-6
"""Ends nearer than this are one place: no control has so fine a step, and doubles round less."""

_HALF_TURN_MM = 1e-9
"""A radius that differs no more from half the chord is half of it: the root below would make a
thousandth of a millimetre of the rounding of a double."""

AXES = np.array(AXES_OF_PLANE)
THIRD_AXIS = AXES[:, 2].copy()


class Turns(NamedTuple):
    """Arcs in their planes: centre, signed sweep, and which of them cannot be.

    `short`: the radius by R is shorter than half the chord, by no more than is borne. `point`: the
    centre is the start, which cannot be from wherever it comes; all else that is impossible is so
    because of where it starts.
    """

    centre: Complexes
    sweep_rad: Floats
    impossible: Flags
    short: Flags
    point: Flags


def in_plane(points: Floats, plane: Ints) -> Complexes:
    """(n, 3) points as complex numbers in the plane of each; not known on one axis is not known."""
    result = np.empty(len(points), np.complex128)
    if len(plane) and (plane == plane[0]).all():
        first, second, _ = AXES_OF_PLANE[plane[0]]
        result.real, result.imag = points[:, first], points[:, second]
    else:
        rows = np.arange(len(points))
        result.real, result.imag = points[rows, AXES[plane, 0]], points[rows, AXES[plane, 1]]
    unknown = np.isnan(result)
    if unknown.any():
        result[unknown] = complex(np.nan, np.nan)
    return result


def end_tolerance_mm(mm_per_unit: Floats) -> Floats:
    """How far ends may lie off the radius, by the unit in force."""
    inch = END_TOLERANCE_INCH * MM_PER_INCH
    return np.where(mm_per_unit == MM_PER_INCH, inch, END_TOLERANCE_MM)


def turns(
    start: Complexes,
    end: Complexes,
    offset: Complexes,
    radius: Floats,
    left: Flags,
    within_mm: Floats,
) -> Turns:
    """Arcs from `start` to `end`, counter-clockwise where `left` (G3).

    `offset`: from start to centre, by I, J, K; it counts where `radius`, the R word, is NaN.
    """
    centre, impossible = _by_offset(start, end, offset, within_mm)
    short = np.zeros(len(radius), np.bool_)
    some = np.flatnonzero(~np.isnan(radius))
    if some.size:
        centre[some], impossible[some], short[some] = _by_radius(
            start[some], end[some], radius[some], left[some], within_mm[some]
        )
    point = impossible & (offset == 0) & np.isnan(radius)
    return Turns(centre, _sweep(start - centre, end - centre, left), impossible, short, point)


def _length(vector: Complexes) -> Floats:
    """np.abs in a third of the time: it guards against overflow, and no arc is so large."""
    return np.sqrt(vector.real**2 + vector.imag**2)


def _by_offset(
    start: Complexes, end: Complexes, offset: Complexes, within_mm: Floats
) -> tuple[Complexes, Flags]:
    """Centres; impossible are a radius of 0, and an end farther than `within_mm` off the radius."""
    centre = start + offset
    radius = _length(offset)
    return centre, (radius == 0) | (np.abs(_length(end - centre) - radius) > within_mm)


def _by_radius(
    start: Complexes, end: Complexes, radius: Floats, left: Flags, within_mm: Floats
) -> tuple[Complexes, Flags, Flags]:
    """Centres: the short way round if the radius is positive, the long way if negative.

    Impossible are equal ends, and ends farther apart than the diameter (and `within_mm`); short are
    those farther apart than the diameter that are not. The report bears nothing here (3.5.3.1).
    """
    half = (end - start) / 2
    reach = _length(half)
    longer = np.abs(radius) - reach
    impossible = (reach < SAME_PLACE_MM / 2) | (longer < -within_mm)
    height = np.sqrt(np.where(longer > _HALF_TURN_MM, radius**2 - reach**2, 0))
    side = np.where(left == (radius > 0), 1j, -1j)
    centre = start + half + side * half * (height / np.where(impossible, 1, reach))
    return centre, impossible, ~impossible & (longer < -SAME_PLACE_MM)


def _sweep(start: Complexes, end: Complexes, left: Flags) -> Floats:
    """Angles from start to end, both from the centre; a full turn where they are one place."""
    turned = np.angle(end * start.conj())
    turned = np.where(left, turned, -turned)
    no_turn = np.abs(turned) * _length(start) < SAME_PLACE_MM
    turned += np.where(no_turn | (turned < 0), 2 * np.pi, 0)
    return np.where(left, turned, -turned)
