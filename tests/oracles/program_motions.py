"""Arcs and canned cycles, by NISTIR 6556, 3.5.3 and 3.5.16; used by tests only.

Where a rule is not in references/rs274ngc.yaml its comment says "from memory".
"""

from __future__ import annotations

import math
from typing import NamedTuple

from oracles.program_state import AXES, Point, State
from oracles.program_words import NotReadError
from pincorner.program.reader.motions import AXES_OF_PLANE, FEED, RAPID, Frame

TOLERANCE_MM = {"mm": 0.002, "in": 0.0002 * 25.4}  # 3.5.3
SAME_PLACE_MM = 1e-6  # a thousandth of what the finest program writes
STANDS_MM = 1e-9  # less than this is the rounding of a sum, no move
MOST_REPEATS = 10_000
OFFSETS = "IJK"  # of the centre from the start, for X, Y, Z


class Arc(NamedTuple):
    """An arc's centre on the plane's first and second axis, and its signed angle.

    `short`: its radius is shorter than half the chord, by little: it is the semicircle.
    """

    centre: tuple[float, float]
    sweep_rad: float
    short: bool


def arc(state: State, values: dict[str, float], end: Point) -> Arc:
    """The arc of a G2 or G3 line to `end`; raises NotReadError where there is none.

    The report does not say what a radius does that is shorter than half the chord: it is read as
    the semicircle up to the tolerance of arcs by their centre.
    """
    first, second, third = AXES_OF_PLANE[state.plane]
    offsets = {letter: values[letter] * state.mm for letter in OFFSETS if letter in values}
    start_uv = state.place[first], state.place[second]
    end_uv = end[first], end[second]
    full = math.dist(start_uv, end_uv) < SAME_PLACE_MM
    if OFFSETS[third] in offsets:
        raise NotReadError(f"{OFFSETS[third]} is no offset in this plane")  # from memory
    short = False
    if "R" in values:
        if offsets:
            raise NotReadError("an arc takes a radius or a centre, not both")  # not stated
        if not {AXES[first], AXES[second]} & values.keys():
            raise NotReadError("an arc by its radius names an axis of its plane")
        if full:
            raise NotReadError("an arc by its radius needs two ends that differ")
        radius_mm = values["R"] * state.mm
        short = math.dist(start_uv, end_uv) / 2 - abs(radius_mm) > SAME_PLACE_MM
        centre = _centre_by_radius(state, radius_mm, start_uv, end_uv)
    else:
        if not offsets:
            raise NotReadError("an arc needs a radius or a centre")
        if not any(offsets.values()):
            raise NotReadError("an arc has a radius")
        centre = (
            start_uv[0] + offsets.get(OFFSETS[first], 0.0),
            start_uv[1] + offsets.get(OFFSETS[second], 0.0),
        )
        off_mm = abs(math.dist(centre, start_uv) - math.dist(centre, end_uv))
        if off_mm > TOLERANCE_MM[state.units]:
            raise NotReadError(f"the end misses the radius by {off_mm:.4f} mm")
    if any(map(math.isnan, start_uv)):
        centre = math.nan, math.nan
    return Arc(centre, _sweep(state.motion, centre, start_uv, end_uv), short)


def _centre_by_radius(
    state: State, radius_mm: float, start: tuple[float, float], end: tuple[float, float]
) -> tuple[float, float]:
    """Of the circles through both ends the one of 3.5.3: R > 0 turns by at most 180 degrees."""
    half_mm = math.dist(start, end) / 2
    if half_mm - abs(radius_mm) > TOLERANCE_MM[state.units]:
        raise NotReadError("the ends lie farther apart than the radius reaches")
    spare_mm = abs(radius_mm) - half_mm
    height_mm = 0.0 if spare_mm < STANDS_MM else math.sqrt(radius_mm**2 - half_mm**2)
    if math.isnan(half_mm):
        return math.nan, math.nan
    along = (end[0] - start[0]) / (2 * half_mm), (end[1] - start[1]) / (2 * half_mm)
    left = (state.motion == "G3") == (radius_mm > 0)
    side = height_mm if left else -height_mm
    return (
        (start[0] + end[0]) / 2 - along[1] * side,
        (start[1] + end[1]) / 2 + along[0] * side,
    )


def _sweep(
    motion: str,
    centre: tuple[float, float],
    start: tuple[float, float],
    end: tuple[float, float],
) -> float:
    """Angle from start to end: G3 from the first axis towards the second, G2 the other way.

    Ends in one direction from the centre are a full turn, whatever rounding did to them.
    """
    sign = 1.0 if motion == "G3" else -1.0
    at_start = math.atan2(start[1] - centre[1], start[0] - centre[0])
    at_end = math.atan2(end[1] - centre[1], end[0] - centre[0])
    turn = (sign * (at_end - at_start)) % math.tau
    if min(turn, math.tau - turn) * math.dist(centre, start) < SAME_PLACE_MM:
        turn = math.tau
    return sign * turn


class Cycle(NamedTuple):
    """A cycle's moves as (kind, end), and the numbers that stick, as they are written."""

    moves: list[tuple[int, Point]]
    z: float
    r: float


def cycle(state: State, values: dict[str, float], frame: Frame) -> Cycle:
    """What a line of G81 to G89 does (3.5.16); Z and R stick while one cycle is repeated.

    It is the numbers that stick, read in the unit of the line that uses them.
    """
    if state.motion in ("G87", "G88"):
        raise NotReadError(f"{state.motion} needs the operator")
    depth = AXES_OF_PLANE[state.plane][2]
    sticks = state.cycle_plane == state.plane
    z = values.get(AXES[depth], state.z if sticks else None)
    r = values.get("R", state.r if sticks else None)
    if z is None or r is None:
        raise NotReadError("a cycle's first line states Z and R")
    repeats = values.get("L", 1.0)
    if not 1 <= repeats <= MOST_REPEATS:
        raise NotReadError(f"L is not 1 to {MOST_REPEATS}")
    zero_z = state.zero(frame)[depth]
    r_at = (zero_z if state.absolute else state.place[depth]) + r * state.mm
    z_at = (zero_z if state.absolute else r_at) + z * state.mm
    if z > (r if state.absolute else 0):
        raise NotReadError("Z lies above R")
    return Cycle(_holes(state, values, frame, r_at, z_at, int(repeats)), z, r)


def _holes(
    state: State, values: dict[str, float], frame: Frame, r_at: float, z_at: float, repeats: int
) -> list[tuple[int, Point]]:
    moves: list[tuple[int, Point]] = []
    place, depth = state.place, AXES_OF_PLANE[state.plane][2]
    along, across = AXES[depth], AXES.replace(AXES[depth], "")

    def at(point: Point, level: float) -> Point:
        x, y, z = (level if axis == depth else point[axis] for axis in range(3))
        return x, y, z

    def go(kind: int, end: Point, axes: str) -> None:
        nonlocal place
        steps = [abs(end[i] - place[i]) for i, axis in enumerate(AXES) if axis in axes]
        if any(math.isnan(step) or step > STANDS_MM for step in steps):
            moves.append((kind, end))
            place = end

    lateral = {axis: value for axis, value in values.items() if axis in across}
    retract = FEED if state.motion in ("G84", "G85", "G89") else RAPID
    if math.isnan(r_at):  # whether it has to go up is not known, nor how high it then is
        place = at(place, math.nan)
    if place[depth] < r_at:
        go(RAPID, at(place, r_at), along)
    clear = place[depth] if state.retract == "G98" else r_at
    for _ in range(repeats):
        hole = state._replace(place=place).target(lateral, frame)
        go(RAPID, at(hole, place[depth]), across)
        go(RAPID, at(hole, r_at), along)
        go(FEED, at(hole, z_at), along)
        go(retract, at(hole, clear), along)
    return moves
