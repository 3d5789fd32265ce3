"""A jig on two dowel pins: its round hole on one, its slot on the other."""

from __future__ import annotations

import math

from pincorner.documents.jigs import OnDowels
from pincorner.documents.stations import DowelPins, PinInHole, hole_of
from pincorner.errors import Refused
from pincorner.geometry.contact import Corner
from pincorner.geometry.dowels import pose_on_dowels
from pincorner.geometry.pose import XY, Pose
from pincorner.setups.facts import Facts
from pincorner.setups.holes import usable_hole
from pincorner.setups.located import Located, SetPin
from pincorner.units import told


def locate_on_dowels(facts: Facts, pins: DowelPins, way: OnDowels) -> Located:
    """The jig's place from its round hole and slot. Raises Refused with the reason."""
    station, unit = facts.station.name, facts.machine.units
    round_at, slot_at = (_centre(facts, entry) for entry in (pins.round, pins.slot))
    if math.dist(round_at, slot_at) == 0:
        raise Refused("no-corner", f"station {station}: both dowels stand at one place")
    jig_in_bed, off_middle = pose_on_dowels(
        round_at, slot_at, way.round.at, way.slot.at, "bed", "jig"
    )
    if abs(off_middle) > way.slot.travel / 2:
        raise Refused(
            "slot-travel",
            f"station {station}: the pin in {hole_of(pins.slot)} stands "
            f"{told(abs(off_middle), unit)} off the middle of the slot, which gives way by "
            f"{told(way.slot.travel / 2, unit)}",
        )
    along = _direction(round_at, slot_at)
    across = (-along[1], along[0])
    set_pins = (
        _set_pin(facts, "round", pins.round, round_at, across),
        _set_pin(facts, "slot", pins.slot, slot_at, across),
    )
    corner = Corner(round_at, across, along, (round_at, slot_at, round_at))
    quarter = math.pi / 2 * round(jig_in_bed.angle_rad / (math.pi / 2))
    corner_in_bed = Pose("bed", "corner", *round_at, jig_in_bed.angle_rad - quarter)
    dx, dy = Pose("corner", "jig", 0.0, 0.0, quarter).vector(way.round.at)
    return Located(
        set_pins, corner, corner_in_bed, Pose("corner", "jig", -dx, -dy, quarter), None, ""
    )


def _centre(facts: Facts, entry: str | PinInHole) -> XY:
    place = usable_hole(facts, entry)
    return place.x_mm, place.y_mm


def _direction(start: XY, end: XY) -> XY:
    length = math.dist(start, end)
    return (end[0] - start[0]) / length, (end[1] - start[1]) / length


def _set_pin(facts: Facts, role: str, entry: str | PinInHole, at_mm: XY, across: XY) -> SetPin:
    return SetPin(role, hole_of(entry), facts.pin_of(entry), at_mm, at_mm, across)
