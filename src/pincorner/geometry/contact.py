"""How a part lies against pins: three in a corner (3-2-1 location in the plane), or two dowels.

In the corner the part is pushed against three round pins that lie outside it: two under one
straight edge, one on the edge at right angles. With unequal radii the edge is the pins' external
tangent on the part's side. Checked in the tests against a numerical second method and the worked
examples.

What a corner is made of is arithmetic only, so that floats and NumPy arrays of many candidates pass
through the same lines.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from pincorner.geometry.pose import XY, Pose, normal_deg
from pincorner.units import Unit, told

Scalar = Any
"""A float, or an array of floats of any shape."""


class Pins(NamedTuple):
    """Two edge pins, then the stop: centres (x, y) and body radii, mm, in one frame."""

    first: tuple[Scalar, Scalar]
    second: tuple[Scalar, Scalar]
    stop: tuple[Scalar, Scalar]
    radii: tuple[Scalar, Scalar, Scalar]


class Corner(NamedTuple):
    """An inside corner in the frame of its pins.

    point: where the two edges meet, mm. normal, inward: unit vectors into the part, at right
    angles to the pins' edge and to the stop's edge; `inward` runs along the pins' edge away from
    the corner. contacts: where the pins touch, in their order, mm.
    """

    point: tuple[Scalar, Scalar]
    normal: tuple[Scalar, Scalar]
    inward: tuple[Scalar, Scalar]
    contacts: tuple[tuple[Scalar, Scalar], tuple[Scalar, Scalar], tuple[Scalar, Scalar]]

    @property
    def touched_mm(self) -> tuple[Scalar, Scalar, Scalar]:
        """How far from the corner along its edge each pin touches, in their order."""
        return self.touched_from(self.point)

    def touched_from(self, place: tuple[Scalar, Scalar]) -> tuple[Scalar, Scalar, Scalar]:
        """The same from a place, signed, mm: the edge pins along `inward`, the stop along
        `normal`."""
        (mx, my), (nx, ny) = self.inward, self.normal
        (x1, y1), (x2, y2), (x3, y3) = self.contacts
        x, y = place
        return (
            (x1 - x) * mx + (y1 - y) * my,
            (x2 - x) * mx + (y2 - y) * my,
            (x3 - x) * nx + (y3 - y) * ny,
        )

    @property
    def hand(self) -> Scalar:
        """`inward` x `normal`: +1 where the way into the part is to the left of the edge, or -1."""
        (mx, my), (nx, ny) = self.inward, self.normal
        return mx * ny - my * nx


def corner_from_pins(pins: Pins) -> Corner:
    """The corner that three pins make; `why_no_corner` must have found nothing against them.

    The edge's normal n points into the part and satisfies n·(p2 - p1) = r1 - r2.
    """
    (x1, y1), (x2, y2), (x3, y3) = pins.first, pins.second, pins.stop
    r1, r2, r3 = pins.radii
    length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    along_x, along_y = (x2 - x1) / length, (y2 - y1) / length
    lean = (r1 - r2) / length
    square = (1 - lean**2) ** 0.5 * _sign(along_x * (y3 - y1) - along_y * (x3 - x1))
    nx, ny = lean * along_x - square * along_y, lean * along_y + square * along_x
    side = _sign(ny * (x1 + x2 - 2 * x3) - nx * (y1 + y2 - 2 * y3))
    mx, my = side * ny, -side * nx
    edge_at = nx * x1 + ny * y1 + r1
    stop_at = mx * x3 + my * y3 + r3
    contacts = (
        (x1 + r1 * nx, y1 + r1 * ny),
        (x2 + r2 * nx, y2 + r2 * ny),
        (x3 + r3 * mx, y3 + r3 * my),
    )
    point = (nx * edge_at + mx * stop_at, ny * edge_at + my * stop_at)
    return Corner(point, (nx, ny), (mx, my), contacts)


def _sign(value: Scalar) -> Scalar:
    return value / abs(value)


def why_no_corner(pins: Pins, unit: Unit = "mm") -> str | None:
    """Why these pins (floats) make no corner, told in `unit`; None where they do."""
    r1, r2, r3 = pins.radii
    distance = math.dist(pins.first, pins.second)
    if distance <= abs(r1 - r2):
        return f"the two edge pins stand {told(distance, unit)} apart, one inside the other"
    off_line, off_middle = stop_off(pins)
    if off_line <= r3:
        return f"the stop stands {told(off_line, unit)} off the edge pins' line and makes no corner"
    if off_middle <= r3:
        return f"the stop stands {told(off_middle, unit)} off the middle of the edge pins"
    return None


def stop_off(pins: Pins) -> tuple[Scalar, Scalar]:
    """How far the stop stands off the edge pins' line, and along it off their middle, mm."""
    (x1, y1), (x2, y2), (x3, y3) = pins.first, pins.second, pins.stop
    distance = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    off_line = ((x2 - x1) * (y3 - y1) - (y2 - y1) * (x3 - x1)) / distance
    along = ((x2 - x1) * (x1 + x2 - 2 * x3) + (y2 - y1) * (y1 + y2 - 2 * y3)) / (2 * distance)
    return abs(off_line), abs(along)


def foot_of_stop(pins: Pins) -> tuple[Scalar, Scalar]:
    """Where the line of the edge pins' centres passes the stop, mm: where the corner hole is."""
    (x1, y1), (x2, y2), (x3, y3) = pins.first, pins.second, pins.stop
    dx, dy = x2 - x1, y2 - y1
    share = ((x3 - x1) * dx + (y3 - y1) * dy) / (dx * dx + dy * dy)
    return x1 + share * dx, y1 + share * dy


def frame_angle(pins: Pins, corner: Corner) -> tuple[float, XY]:
    """Angle (rad) of the corner's frame and the signs of its quadrant, for floats.

    The frame is nearly parallel to the pins' frame, whichever edge carries the two pins: X along
    the edge where the edge pins differ more in x, else Y along it.
    """
    (mx, my), (nx, ny) = corner.inward, corner.normal
    along_x = abs(pins.second[0] - pins.first[0]) >= abs(pins.second[1] - pins.first[1])
    if along_x:
        sign = math.copysign(1.0, mx)
        return math.atan2(sign * my, sign * mx) + 0.0, (sign, math.copysign(1.0, ny))
    sign = math.copysign(1.0, my)
    angle = math.atan2(-sign * mx, sign * my) + 0.0
    return angle, (math.copysign(1.0, nx), sign)


def pose_on_dowels(
    round_pin_mm: XY, slot_pin_mm: XY, round_at_mm: XY, slot_at_mm: XY, into: str, of: str
) -> tuple[Pose, float]:
    """Pose of the part and how far (mm) the slot's pin stands from the slot's middle.

    Pins in frame `into`, holes in frame `of`. The round hole's centre coincides with its pin, the
    line from round hole to slot points at the slot's pin. Positive: the pins are farther apart.
    """
    pins = (slot_pin_mm[0] - round_pin_mm[0], slot_pin_mm[1] - round_pin_mm[1])
    holes = (slot_at_mm[0] - round_at_mm[0], slot_at_mm[1] - round_at_mm[1])
    turned_deg = math.degrees(math.atan2(pins[1], pins[0]) - math.atan2(holes[1], holes[0]))
    angle_rad = math.radians(normal_deg(turned_deg))
    dx, dy = Pose(into, of, 0.0, 0.0, angle_rad).vector(round_at_mm)
    pose = Pose(into, of, round_pin_mm[0] - dx, round_pin_mm[1] - dy, angle_rad)
    return pose, math.hypot(*pins) - math.hypot(*holes)
