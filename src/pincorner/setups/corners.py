"""A jig, or bare stock, with its edges against a pin corner."""

from __future__ import annotations

import math

from pincorner.documents.beds import Bed, Hole, Pin
from pincorner.documents.fields import key_of
from pincorner.documents.stations import EdgePins
from pincorner.errors import Refused
from pincorner.geometry.contact import (
    Corner,
    Pins,
    corner_from_pins,
    frame_angle,
    why_no_corner,
)
from pincorner.geometry.outline import TOUCH_MM, Outline, bounds, side_segments
from pincorner.geometry.pose import XY, Pose
from pincorner.setups.facts import Facts
from pincorner.setups.holes import usable_hole
from pincorner.setups.located import Located, SetPin, side_word, sign_of
from pincorner.units import told

LEAST_EDGE_SHARE = 0.1
"""Edge pins closer together than this share of the edge do not hold the angle."""


def locate_by_edges(facts: Facts, pins: EdgePins) -> Located:
    """The jig's place from two edge pins and a stop. Raises Refused with the reason."""
    placed = _placed_pins(facts, pins)
    three = _three(placed)
    reason = why_no_corner(three, facts.machine.units)
    if reason:
        raise Refused("no-corner", f"station {facts.station.name}: {reason}")
    corner = corner_from_pins(three)
    angle_rad, (sx, sy) = frame_angle(three, corner)
    located = Located(
        _set_pins(placed, corner),
        corner,
        Pose("bed", "corner", *corner.point, angle_rad),
        jig_in_quadrant(facts.holder.outline, facts.station.turn, sx, sy),
        corner_hole_of(facts.bed, _foot_of_stop(three)),
        f"{'+' if sx > 0 else '-'}x{'+' if sy > 0 else '-'}y",
    )
    _check_agreement(facts, located)
    _check_contacts(facts, located)
    return located


def _placed_pins(facts: Facts, pins: EdgePins) -> list[tuple[Hole, Pin]]:
    """The edge pin nearest to the stop's side, the other, then the stop; not as written."""
    entries = [entry for _, _, entry in pins.by_role()]
    placed = [(usable_hole(facts, entry), facts.pin_of(entry)) for entry in entries]
    ordered = [*sorted(placed[:2], key=lambda item: item[0][1:3]), placed[2]]
    three = _three(ordered)
    if three.first == three.second:
        return ordered
    foot = _foot_of_stop(three)
    if math.dist(three.second, foot) < math.dist(three.first, foot):
        ordered[:2] = ordered[1::-1]
    return ordered


def _three(placed: list[tuple[Hole, Pin]]) -> Pins:
    first, second, stop = ((place.x_mm, place.y_mm) for place, _ in placed)
    r1, r2, r3 = (pin.body / 2 for _, pin in placed)
    return Pins(first, second, stop, (r1, r2, r3))


def _set_pins(placed: list[tuple[Hole, Pin]], corner: Corner) -> tuple[SetPin, ...]:
    normals = (corner.normal, corner.normal, corner.inward)
    return tuple(
        SetPin(role, place.label, pin, (place.x_mm, place.y_mm), contact, normal)
        for role, (place, pin), contact, normal in zip(
            ("edge", "edge", "stop"), placed, corner.contacts, normals, strict=True
        )
    )


def jig_in_quadrant(outline: Outline, turn_deg: int, sx: float, sy: float) -> Pose:
    """The jig turned by `turn_deg`, its bounding box filling the quadrant (sx, sy)."""
    turned = Pose("corner", "jig", 0.0, 0.0, math.radians(turn_deg))
    box = bounds(turned.points(outline))
    x_mm = -box.left if sx > 0 else -box.right
    y_mm = -box.front if sy > 0 else -box.back
    return Pose("corner", "jig", x_mm, y_mm, turned.angle_rad)


def _foot_of_stop(pins: Pins) -> XY:
    """Where the line of the edge pins' centres passes the stop: the centre of the corner hole."""
    (x1, y1), (x2, y2), (x3, y3) = pins.first, pins.second, pins.stop
    dx, dy = x2 - x1, y2 - y1
    share = ((x3 - x1) * dx + (y3 - y1) * dy) / (dx * dx + dy * dy)
    return x1 + share * dx, y1 + share * dy


def corner_hole_of(bed: Bed, near_mm: XY) -> str | None:
    """The hole whose centre lies within a quarter pitch of a point; None where there is none."""
    pitch_x, pitch_y = bed.grid.pitch
    column, row = round(near_mm[0] / pitch_x) + 1, round(near_mm[1] / pitch_y) + 1
    labels = [hole.name for hole in bed.extra]
    if column >= 1 and row >= 1:
        labels.append(f"{bed.letters.of(column)}{row}")
    places = [place for label in labels if (place := bed.hole(label))]
    near = [(math.dist(place[1:3], near_mm), place.label) for place in places]
    distance, label = min(near, default=(math.inf, ""))
    return label if distance <= min(pitch_x, pitch_y) / 4 else None


def _check_agreement(facts: Facts, located: Located) -> None:
    station = facts.station
    if station.toward is not None and station.toward != located.toward:
        raise Refused(
            "toward-disagrees",
            f"station {station.name}: its pins make a corner toward {located.toward}, "
            f"but toward says {station.toward}",
        )
    if station.corner and key_of(station.corner) != key_of(located.corner_hole or ""):
        found = located.corner_hole or "no hole"
        raise Refused(
            "corner-disagrees",
            f"station {station.name}: its pins make their corner at {found}, "
            f"but corner says {station.corner}",
        )


def _check_contacts(facts: Facts, located: Located) -> None:
    """Every pin touches a straight part of its side, and the edge pins stand well apart."""
    corner, unit = located.corner, facts.machine.units
    outline = located.jig_in_corner.points(facts.holder.outline)
    axis = 1 if located.pins_along_x else 0
    edge = straight_parts(outline, axis, located.toward)
    far_end = edge[-1][1] if edge else 0.0
    along = [_distance(pin.contact_mm, corner.point, corner.inward) for pin in located.pins[:2]]
    for pin, at_mm in zip(located.pins[:2], along, strict=True):
        _check_contact(facts, pin, side_word(axis, located.toward), at_mm, edge)
    stop = located.pins[2]
    at_mm = _distance(stop.contact_mm, corner.point, corner.normal)
    side = straight_parts(outline, 1 - axis, located.toward)
    _check_contact(facts, stop, side_word(1 - axis, located.toward), at_mm, side)
    apart_mm = abs(along[1] - along[0])
    if apart_mm < LEAST_EDGE_SHARE * far_end:
        raise Refused(
            "edge-pins-close",
            f"station {facts.station.name}: edge pins {located.pins[0].hole} and "
            f"{located.pins[1].hole} touch {told(apart_mm, unit, 1)} apart, less than a tenth of "
            f"the edge of {told(far_end, unit, 1)}",
        )


def _distance(point: XY, origin: XY, along: XY) -> float:
    return (point[0] - origin[0]) * along[0] + (point[1] - origin[1]) * along[1]


def straight_parts(outline: Outline, axis: int, toward: str) -> list[tuple[float, float]]:
    """Straight parts of the jig on a side of the corner, as distances from it, ascending."""
    parts = side_segments(outline, axis, 0.0)
    if sign_of(toward, 1 - axis) > 0:
        return list(parts)
    return [(-end, -start) for start, end in reversed(parts)]


def _check_contact(
    facts: Facts, pin: SetPin, side: str, at_mm: float, segments: list[tuple[float, float]]
) -> None:
    """`at_mm` is the contact's distance from the corner; segments likewise, ascending."""
    unit = facts.machine.units
    here = f"station {facts.station.name}: {pin.role} pin {pin.hole}"
    if at_mm < -TOUCH_MM:
        raise Refused("before-corner", f"{here} touches {told(-at_mm, unit)} before the corner")
    if not segments:
        raise Refused(
            "no-edge",
            f"station {facts.station.name}: the outline of {facts.holder.name} meets its {side} "
            "side in a point; there is no edge to lay against the pins",
        )
    end_mm = segments[-1][1]
    if at_mm > end_mm + TOUCH_MM:
        raise Refused(
            "beyond-edge",
            f"{here} would touch {told(at_mm, unit)} from the corner, but the {side} edge of "
            f"{facts.holder.name} ends at {told(end_mm, unit)}",
        )
    if not any(start - TOUCH_MM <= at_mm <= end + TOUCH_MM for start, end in segments):
        raise Refused(
            "beyond-edge",
            f"{here} would touch {told(at_mm, unit)} from the corner, where the {side} side of "
            f"{facts.holder.name} is not straight",
        )
