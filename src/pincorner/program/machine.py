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

    Where the axes are not turned, those that are not named stay exactly as they are.
    """
    machine = list(in_machine(place, frame))
    for axis, value in named.items():
        machine[axis] = value
    moved = in_frame((machine[0], machine[1], machine[2]), frame)
    if frame.machine_angle_rad == 0:
        x, y, z = (moved[axis] if axis in named else place[axis] for axis in range(3))
        return (x, y, z)
    return (moved[0], moved[1], moved[2] if 2 in named else place[2])


def _turned(x: float, y: float, angle_rad: float) -> tuple[float, float]:
    if angle_rad == 0:
        return x, y  # a coordinate that is not known leaves the other alone
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return c * x - s * y, s * x + c * y
