"""A part on two dowel pins: a round hole on one, a slot on the other."""

from __future__ import annotations

import math

from pincorner.geometry.pose import XY, Pose, normal_deg


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
