"""A solid polygon moved until it touches discs: distances, gaps and Newton steps on them.

The distance from a pin's centre to the polygon is the distance to the nearest point of its
boundary, negative inside. A pose is right when each distance equals its pin's radius.
Lengths in mm, angles in radians or degrees as the names say. Points are complex numbers inside;
poses are rows of x mm, y mm, θ rad.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Point = tuple[float, float]
Pin = tuple[float, float, float]
Pose = tuple[float, float, float]

SOLVED_MM = 1e-9  # a thousandth of the 1e-6 mm to which places are compared
SIDE_MM = 1e-7  # solved to 1e-9, times a lever of up to a hundred pin distances
STEP = 1e-3  # mm or mrad: the distance is smooth over far more, rounding is far less


class NoPlaceError(ValueError):
    """No pose makes the three pins touch the two sides that face them."""


def signed_distance(outline: Sequence[Point], points: Complexes) -> Floats:
    """Return the distance (mm) of each point (any shape) to the polygon, negative inside."""
    # The edges are the first axis: what is taken over the last one, a short one, costs far more.
    start, end = (each.reshape(-1, *[1] * points.ndim) for each in _edges(outline))
    distance = np.abs(points - _nearest_on_edges(start, end, points)).min(axis=0)
    # Ray to the right: inside when it crosses the boundary an odd number of times.
    crosses = (start.imag > points.imag) != (end.imag > points.imag)
    rise = np.where(crosses, end.imag - start.imag, 1.0)
    at_x = start.real + (points.imag - start.imag) * (end.real - start.real) / rise
    inside = np.logical_xor.reduce(crosses & (at_x > points.real), axis=0)
    signed: Floats = np.where(inside, -distance, distance)
    return signed


def touches(outline: Sequence[Point], pins: Sequence[Pin], pose: Pose) -> list[Point]:
    """Return for each pin the point (bed, mm) of the posed outline nearest to its centre."""
    start, end = _edges(outline)
    z = _in_jig(np.array([pose]), np.array([pins]))[0][:, None]
    on_edges = _nearest_on_edges(start, end, z)
    best = np.abs(z - on_edges).argmin(axis=-1)
    found = on_edges[np.arange(len(pins)), best] * np.exp(1j * pose[2]) + complex(*pose[:2])
    return [(float(p.real), float(p.imag)) for p in found]


def land(outline: Sequence[Point], pins: Floats, start: Floats) -> Floats:
    """Return n × 3 poses (mm, mm, rad) for n × 3 × 3 pins by Newton steps with measured slopes.

    Starts from one pose of shape (3,), or from one for each. Slopes are measured where it starts,
    and again wherever a step has not left a tenth of the gaps. Raises NoPlaceError where gaps stay
    open after 30 steps or the contacts leave a motion free.
    """
    poses = np.broadcast_to(start, (len(pins), 3))
    gaps = gaps_between(outline, pins, poses)
    open_mm, slopes = np.abs(gaps).max(), _slopes(outline, pins, poses)
    for _ in range(30):
        if open_mm < SOLVED_MM / 100:
            return poses
        poses = poses - np.linalg.solve(slopes, gaps[:, :, None])[:, :, 0]
        gaps, before_mm = gaps_between(outline, pins, poses), open_mm
        open_mm = np.abs(gaps).max()
        if open_mm > before_mm / 10:
            slopes = _slopes(outline, pins, poses)
    raise NoPlaceError(f"gaps of up to {open_mm:.3g} mm stay open")


def _slopes(outline: Sequence[Point], pins: Floats, poses: Floats) -> Floats:
    """Return n × 3 × 3: by how much each gap grows with x, y (mm) and θ (rad), as measured."""
    slopes = np.empty((len(pins), 3, 3))
    for unknown, step in enumerate((STEP, STEP, STEP / 1000)):
        shift = np.zeros(3)
        shift[unknown] = step
        ahead, behind = (
            gaps_between(outline, pins, poses + shift),
            gaps_between(outline, pins, poses - shift),
        )
        slopes[:, :, unknown] = (ahead - behind) / (2 * step)
    if not np.all(np.abs(np.linalg.det(slopes)) > 1e-6):
        raise NoPlaceError("the three contacts do not hold the jig")
    return slopes


def pushed(outline: Sequence[Point], pins: Floats, poses: Floats, by_mm: Floats) -> Floats:
    """Return n × 3 × 3 pins moved n × 3 `by_mm` straight away from where the posed jig is nearest.

    So a pin gives way to a jig that is pushed against it.
    """
    seen = _in_jig(poses, pins)
    start, end = _edges(outline)
    on_edges = _nearest_on_edges(start, end, seen[..., None])
    best = np.abs(seen[..., None] - on_edges).argmin(axis=-1)[..., None]
    toward_jig = np.take_along_axis(on_edges, best, axis=-1)[..., 0] - seen
    away = -toward_jig / np.abs(toward_jig) * np.exp(1j * poses[:, 2])[:, None] * by_mm
    return pins + np.stack([away.real, away.imag, np.zeros(by_mm.shape)], axis=2)


def gaps_between(outline: Sequence[Point], pins: Floats, poses: Floats) -> Floats:
    """Return n × 3 gaps (mm) between n × 3 × 3 pins (x, y, radius) and the outline in n poses."""
    return signed_distance(outline, _in_jig(poses, pins)) - pins[:, :, 2]


def _in_jig(poses: Floats, pins: Floats) -> Complexes:
    origin = (poses[:, 0] + 1j * poses[:, 1])[:, None]
    turn_back = np.exp(-1j * poses[:, 2])[:, None]
    seen: Complexes = (pins[:, :, 0] + 1j * pins[:, :, 1] - origin) * turn_back
    return seen


def carried(outer: Floats, inner: Floats, point: Point) -> Floats:
    """Return n × 3 places of a point of the inner frame, and its angle, seen from outside."""
    in_bed = complex(*point) * np.exp(1j * inner[:, 2]) + inner[:, 0] + 1j * inner[:, 1]
    seen = in_bed * np.exp(1j * outer[:, 2]) + outer[:, 0] + 1j * outer[:, 1]
    return np.stack([seen.real, seen.imag, outer[:, 2] + inner[:, 2]], axis=1)


def guesses(
    outline: Sequence[Point], pins: Floats, toward: str, turn_deg: float
) -> Iterator[Floats]:
    """Yield poses to start from: square to the bed first, then ever more tilted."""
    signs, across = _signs(toward), _edge_normal_axis(pins)
    corners = np.array([complex(*point) for point in outline])
    square = _turned(corners, math.radians(turn_deg))
    inner = [square[:, a].min() if signs[a] > 0 else square[:, a].max() for a in (0, 1)]
    for tilt_deg in (0, *(sign * size for size in range(5, 50, 5) for sign in (1, -1))):
        tilt = math.radians(tilt_deg)
        seen = _turned(pins[:, 0] + 1j * pins[:, 1], -tilt)
        near = np.empty(2)
        near[across] = np.mean(seen[:2, across] + signs[across] * pins[:2, 2])
        near[1 - across] = seen[2, 1 - across] + signs[1 - across] * pins[2, 2]
        at = complex(near[0] - inner[0], near[1] - inner[1]) * np.exp(1j * tilt)
        yield np.array([at.real, at.imag, math.radians(turn_deg) + tilt])


def lies_in_quadrant(
    outline: Sequence[Point], pins: Floats, toward: str, turn_deg: float, pose: Floats
) -> bool:
    """Whether, seen square to the jig, its outermost points reach the pins and go no further."""
    tilt = pose[2] - math.radians(turn_deg)
    if abs(tilt) > math.pi / 4:
        return False
    signs, across = _signs(toward), _edge_normal_axis(pins)
    corners = np.array([complex(*point) for point in outline])
    jig = _turned(corners * np.exp(1j * pose[2]) + complex(pose[0], pose[1]), -tilt)
    seen = _turned(pins[:, 0] + 1j * pins[:, 1], -tilt)
    for pin, axis in ((0, across), (1, across), (2, 1 - across)):
        room = (signs[axis] * (jig[:, axis] - seen[pin, axis])).min()
        if abs(room - pins[pin, 2]) > SIDE_MM:
            return False
    return True


def _signs(toward: str) -> tuple[float, float]:
    if toward not in ("+x+y", "-x+y", "+x-y", "-x-y"):
        raise NoPlaceError(f"toward {toward!r} is none of +x+y -x+y +x-y -x-y")
    return (1.0 if toward[0] == "+" else -1.0), (1.0 if toward[2] == "+" else -1.0)


def _edge_normal_axis(pins: Floats) -> int:
    """Return the axis across the side that carries two pins: 1 where they lie along X."""
    return 1 if abs(pins[1, 0] - pins[0, 0]) >= abs(pins[1, 1] - pins[0, 1]) else 0


def _turned(points: Complexes, angle_rad: float) -> Floats:
    turned = points * np.exp(1j * angle_rad)
    return np.stack([turned.real, turned.imag], axis=1)


def _edges(outline: Sequence[Point]) -> tuple[Complexes, Complexes]:
    corners = np.array([complex(*point) for point in outline])
    return corners, np.roll(corners, -1)


def _nearest_on_edges(start: Complexes, end: Complexes, z: Complexes) -> Complexes:
    along = end - start
    share = ((z - start) * along.conj()).real / np.abs(along) ** 2
    nearest: Complexes = start + np.clip(share, 0.0, 1.0) * along
    return nearest
