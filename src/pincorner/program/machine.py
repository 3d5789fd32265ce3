"""Machine coordinates in the frame of a program: what G53, G28 and G30 name."""

from __future__ import annotations

import math

from pincorner.program.motions import Frame
from pincorner.program.state import Place


def in_frame(place: Place, frame: Frame) -> Place:
    """Where a machine place lies in the frame; NaN on the axes that are not known."""
    x, y = _turned(place[0], place[1], frame.machine_angle_rad)
    origin = frame.machine_origin_mm
    return (origin[0] + x, origin[1] + y, origin[2] + place[2])


def in_machine(place: Place, frame: Frame) -> Place:
    """The inverse of `in_frame`."""
    origin = frame.machine_origin_mm
    x, y = _turned(place[0] - origin[0], place[1] - origin[1], -frame.machine_angle_rad)
    return (x, y, place[2] - origin[2])


def with_axes(place: Place, named: dict[int, float], frame: Frame) -> Place:
    """A place of the frame with some of its machine coordinates replaced, by axis.

    The others stay exactly as they are, but for X and Y of turned axes, which go together.
    """
    machine = [named.get(axis, old) for axis, old in enumerate(in_machine(place, frame))]
    moved = in_frame((machine[0], machine[1], machine[2]), frame)
    changed = set(named)
    if frame.machine_angle_rad != 0 and changed & {0, 1}:
        changed |= {0, 1}
    x, y, z = (moved[axis] if axis in changed else place[axis] for axis in range(3))
    return (x, y, z)


def _turned(x: float, y: float, angle_rad: float) -> tuple[float, float]:
    if angle_rad == 0:
        return x, y  # a coordinate that is not known leaves the other alone
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return c * x - s * y, s * x + c * y
