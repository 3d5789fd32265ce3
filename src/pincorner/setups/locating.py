"""The jig's place on the bed: its edges against a pin corner, its holes on two dowels, or where its
zero was measured."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import reduce
from operator import or_
from types import MappingProxyType
from typing import Literal, NamedTuple

from pincorner.documents.beds import Bed, Hole, Pin
from pincorner.documents.fields import key_of
from pincorner.documents.jigs import OnDowels
from pincorner.documents.machines import Side
from pincorner.documents.stations import DowelPins, EdgePins, MeasuredZero, PinInHole, hole_of
from pincorner.errors import Refused
from pincorner.geometry.contact import (
    Corner,
    Pins,
    Scalar,
    corner_from_pins,
    foot_of_stop,
    frame_angle,
    pose_on_dowels,
    why_no_corner,
)
from pincorner.geometry.outline import TOUCH_MM, Outline, bounds, side_segments
from pincorner.geometry.pose import XY, Pose
from pincorner.setups.facts import Facts
from pincorner.setups.heights import stands_higher_mm, steps_mm
from pincorner.setups.holes import bed_pose, refuse_pin, usable_hole
from pincorner.setups.pin_fit import gives_way_mm, lowest_mm, pin_fit
from pincorner.units import told

OUTWARD: dict[Side, XY] = {
    "front": (0.0, -1.0), "right": (1.0, 0.0), "back": (0.0, 1.0), "left": (-1.0, 0.0),
}  # fmt: skip
"""Sides of a jig, a bed or a machine, and which way they face in its own coordinates."""

Parts = Sequence[tuple[float, float]]
"""Straight parts of a jig on a side of its corner: from and to, as distances from there."""

ON_LINE = 0.02
"""A hole off the grid counts as on the corner's row or column within this share of the pitch."""

LEAST_EDGE_SHARE = 0.1
"""Edge pins closer together than this share of the edge do not hold the angle."""


class SetPin(NamedTuple):
    """A pin in its hole: places in bed coordinates, `normal` points into the part.

    `at_mm`: the hole's centre. `shift_mm`: how far the jig, pushed against it, has it stand away
    from there. `gives_mm`: how far it gives way to whatever is pushed against it. `in_jig_mm`:
    across the jig's own hole or slot over it, on dowels.
    """

    role: str
    hole: str
    pin: Pin
    at_mm: XY
    contact_mm: XY
    normal: XY
    shift_mm: float = 0.0
    gives_mm: float = 0.0
    in_jig_mm: float | None = None

    @property
    def radius_mm(self) -> float:
        return self.pin.body / 2

    @property
    def away(self) -> XY:
        """The way from the jig to the pin, a unit vector on the bed."""
        return -self.normal[0], -self.normal[1]

    @property
    def reach_mm(self) -> float:
        """From the hole's centre to the contact."""
        return self.radius_mm - self.shift_mm


Held = Literal["edges", "dowels", "measured"]
"""What says where a jig lies."""


class Located(NamedTuple):
    """Where the jig lies.

    Against edges: `pins` are the edge pins, nearest the corner first, then the stop; the corner's
    frame is nearly parallel to the bed; `corner_hole` at the inside corner stays empty (None where
    there is none). On dowels: the round hole's pin, then the slot's; the corner's frame stands on
    the round hole's pin, again nearly parallel to the bed; `toward` is empty. `corner` holds the
    contacts that locate, in the order of `contact_pins`.
    As measured: no pins; the corner's frame stands on the jig's own 0, 0, and `zeros` are those
    that were measured, in the machine, by the key of their nest.
    """

    pins: tuple[SetPin, ...]
    corner: Corner
    corner_in_bed: Pose
    jig_in_corner: Pose
    corner_hole: str | None
    toward: str
    held: Held = "edges"
    zeros: Mapping[str, Pose] = MappingProxyType({})

    @property
    def jig_in_bed(self) -> Pose:
        """The jig's own frame on the bed."""
        return self.corner_in_bed @ self.jig_in_corner

    @property
    def holes(self) -> frozenset[str]:
        """The holes that its pins stand in."""
        return frozenset(pin.hole for pin in self.pins)

    @property
    def pins_differ(self) -> bool:
        """Whether its pins are of several kinds."""
        return len({pin.pin.name for pin in self.pins}) > 1

    @property
    def on_edges(self) -> bool:
        return self.held == "edges"

    @property
    def on_dowels(self) -> bool:
        return self.held == "dowels"

    @property
    def as_measured(self) -> bool:
        return self.held == "measured"

    @property
    def contact_pins(self) -> tuple[SetPin, SetPin, SetPin]:
        """The pin at each contact: a round hole on a dowel is held both ways."""
        first, second = self.pins[:2]
        return (first, second, first) if self.on_dowels else (first, second, self.pins[2])

    @property
    def edge_side(self) -> Side:
        """The jig's own side that the edge pins touch, however it lies."""
        return own_side(1 if self.pins_along_x else 0, self.toward, self.jig_in_corner)

    @property
    def stop_side(self) -> Side:
        """The jig's own side that the stop touches."""
        return own_side(0 if self.pins_along_x else 1, self.toward, self.jig_in_corner)

    @property
    def pins_along_x(self) -> bool:
        """Whether the edge that carries two pins lies along X."""
        (x1, y1), (x2, y2) = self.pins[0].at_mm, self.pins[1].at_mm
        return abs(x2 - x1) >= abs(y2 - y1)


def own_side(axis: int, toward: str, jig_in_corner: Pose) -> Side:
    """The jig's own side that faces the corner on an axis (0: x, 1: y)."""
    facing = -float(sign_of(toward, axis))
    return side_facing(
        jig_in_corner.inverse().vector((facing, 0.0) if axis == 0 else (0.0, facing))
    )


def side_facing(way: XY) -> Side:
    """The side that faces a direction, in its own coordinates, to the nearest quarter."""
    return max(OUTWARD, key=lambda side: OUTWARD[side][0] * way[0] + OUTWARD[side][1] * way[1])


def sign_of(toward: str, axis: int) -> int:
    """+1 or -1: which way a quadrant such as +x-y goes along an axis (0: x, 1: y)."""
    return 1 if toward[2 * axis] == "+" else -1


def locate(facts: Facts) -> Located:
    """The jig's place from its pins, or from its zero. Raises Refused with the reason."""
    if facts.station.measured is not None:
        return locate_as_measured(facts, facts.station.measured)
    pins, way = facts.station.pins, facts.holder.locate
    if isinstance(pins, EdgePins) and not isinstance(way, OnDowels):
        return _reached(facts, locate_by_edges(facts, pins))
    if isinstance(pins, DowelPins) and isinstance(way, OnDowels):
        return _reached(facts, locate_on_dowels(facts, pins, way))
    if pins is None:
        raise Refused(
            "no-pins", f"station {facts.station.name} has no pins; register it again with --pins"
        )
    wanted = "round and slot" if isinstance(way, OnDowels) else "edge and stop"
    raise Refused(
        "located-otherwise",
        f"station {facts.station.name}: {facts.holder.name} is located by {wanted} pins, "
        "not by those that the station names",
    )


def _reached(facts: Facts, located: Located) -> Located:
    """The same. Raises Refused where a pin on a lower slat ends below what it would hold."""
    room_mm = min(pin.pin.height for pin in located.pins) - lowest_mm(facts)
    if facts.bed.slats and room_mm - steps_mm(facts) <= TOUCH_MM:
        jig = located.jig_in_bed
        footprint = jig.points(facts.holder.outline)
        for pin in located.pins:
            higher_mm = stands_higher_mm(facts, footprint, pin.at_mm, pin.pin.body / 2)
            refuse_pin(facts, pin.pin, pin.hole, max(-higher_mm, 0.0))
    return located


def locate_as_measured(facts: Facts, measured: MeasuredZero) -> Located:
    """The jig's place backwards from a zero. Raises Refused where its nest is gone.

    The zero says nothing of the angle: the jig counts as square to the machine's axes.
    """
    name = measured.nest
    nest = facts.holder.nests[0] if name is None else facts.holder.nest(name)
    if nest is None:
        raise Refused(
            "nest-unknown",
            f"station {facts.station.name}: the zero of nest {name} was measured, and "
            f"{facts.holder.name} has no such nest",
        )
    bed_in_machine = bed_pose(facts)
    square = _nearest_quarter_rad(bed_in_machine)
    turn = math.radians(facts.station.turn)
    in_jig = nest.in_jig
    zero = Pose("machine", "nest", measured.x, measured.y, square + turn + in_jig.angle_rad)
    jig = bed_in_machine.inverse() @ zero @ in_jig.inverse()
    corner_in_bed = Pose("bed", "corner", jig.x_mm, jig.y_mm, jig.angle_rad - turn)
    at = jig.origin
    corner = Corner(at, (0.0, 1.0), (1.0, 0.0), (at, at, at))
    jig_in_corner = Pose("corner", "jig", 0.0, 0.0, turn)
    zeros = {key_of(nest.name): zero}
    return Located((), corner, corner_in_bed, jig_in_corner, None, "", "measured", zeros)


def locate_by_edges(facts: Facts, pins: EdgePins) -> Located:
    """The jig's place from two edge pins and a stop. Raises Refused with the reason."""
    placed = _placed_pins(facts, pins)
    shifts = [pin_fit(facts, pin, hole.at_mm).shift_mm for hole, pin in placed]
    three = _three(placed, shifts)
    reason = why_no_corner(three, facts.machine.units)
    if reason:
        raise Refused("no-corner", f"station {facts.station.name}: {reason}")
    corner = corner_from_pins(three)
    angle_rad, (sx, sy) = frame_angle(three, corner)
    located = Located(
        _set_pins(facts, placed, shifts, corner),
        corner,
        Pose("bed", "corner", *corner.point, angle_rad),
        jig_in_quadrant(facts.holder.outline, facts.station.turn, sx, sy),
        corner_hole_of(facts.bed, foot_of_stop(three)),
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
    foot = foot_of_stop(three)
    if math.dist(three.second, foot) < math.dist(three.first, foot):
        ordered[:2] = ordered[1::-1]
    return ordered


def _three(placed: list[tuple[Hole, Pin]], shifts_mm: Sequence[float] = (0.0, 0.0, 0.0)) -> Pins:
    """The pins, pushed `shifts_mm` away from the part: each reaches so much less far."""
    first, second, stop = (place.at_mm for place, _ in placed)
    r1, r2, r3 = (pin.body / 2 - mm for (_, pin), mm in zip(placed, shifts_mm, strict=True))
    return Pins(first, second, stop, (r1, r2, r3))


def _set_pins(
    facts: Facts, placed: list[tuple[Hole, Pin]], shifts_mm: Sequence[float], corner: Corner
) -> tuple[SetPin, ...]:
    normals = (corner.normal, corner.normal, corner.inward)
    return tuple(
        SetPin(
            role, place.label, pin, place.at_mm, contact, normal,
            shift_mm, gives_way_mm(facts, pin, place.at_mm),
        )
        for role, (place, pin), shift_mm, contact, normal in zip(
            ("edge", "edge", "stop"), placed, shifts_mm, corner.contacts, normals, strict=True
        )
    )  # fmt: skip


def jig_in_quadrant(outline: Outline, turn_deg: int, sx: float, sy: float) -> Pose:
    """The jig turned by `turn_deg`, its bounding box filling the quadrant (sx, sy)."""
    turned = Pose("corner", "jig", 0.0, 0.0, math.radians(turn_deg))
    box = bounds(turned.points(outline))
    x_mm = -box.left if sx > 0 else -box.right
    y_mm = -box.front if sy > 0 else -box.back
    return Pose("corner", "jig", x_mm, y_mm, turned.angle_rad)


def is_square(turned: Outline) -> bool:
    """Whether a jig, turned as it lies, is as long along X as along Y."""
    box = bounds(turned)
    return abs(box.width - box.depth) <= TOUCH_MM


def long_axis(turned: Outline) -> int:
    """The axis (0: x, 1: y) along which a jig, turned as it lies, is longer; a square's is X."""
    box = bounds(turned)
    return 0 if is_square(turned) or box.width > box.depth else 1


def two_on_shorter(facts: Facts, located: Located) -> bool:
    """Whether the shorter edge of the jig carries two pins and the longer one the stop."""
    if not located.on_edges:
        return False
    turned = located.jig_in_corner.points(facts.holder.outline)
    return not is_square(turned) and located.pins_along_x != (long_axis(turned) == 0)


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
            f"station {station.name}: its pins make a corner toward {located.toward}, but toward "
            f"says {station.toward}; the side follows from stop {located.pins[2].hole}",
        )
    if station.corner and key_of(station.corner) != key_of(located.corner_hole or ""):
        found = located.corner_hole or "no hole"
        raise Refused(
            "corner-disagrees",
            f"station {station.name}: its pins make their corner at {found}, "
            f"but corner says {station.corner}{_not_in_line(facts, located)}",
        )


def _not_in_line(facts: Facts, located: Located) -> str:
    """Which pins do not stand in line with the corner that is stated: the stop, or the others."""
    place = facts.bed.hole(facts.station.corner or "")
    if place is None:
        return ""
    corner, stop = located.corner, located.pins[2]
    least_mm = min(facts.bed.grid.pitch) / 4
    off_edge = abs(_distance(place[1:3], located.pins[0].at_mm, corner.normal)) > least_mm
    off_stop = abs(_distance(place[1:3], stop.at_mm, corner.inward)) > least_mm
    if off_stop and not off_edge:
        return f": stop {stop.hole} does not stand in line with it"
    if off_edge and not off_stop:
        first, second = located.pins[:2]
        return f": edge pins {first.hole} and {second.hole} do not stand in line with it"
    return ""


def _check_contacts(facts: Facts, located: Located) -> None:
    """Every pin touches a straight part of its side, and the edge pins stand well apart."""
    corner, unit = located.corner, facts.machine.units
    edge, side = _sides(facts, located)
    far_end = edge[-1][1] if edge else 0.0
    *along, stop_mm = corner.touched_mm
    stops = _better_stops(facts, located, along, far_end)
    blamed = (located.pins[2].hole, stops) if stops else None
    for pin, at_mm in zip(located.pins[:2], along, strict=True):
        _check_contact(facts, pin, located.edge_side, at_mm, edge, blamed)
    stop = located.pins[2]
    _check_contact(facts, stop, located.stop_side, stop_mm, side)
    apart_mm = abs(along[1] - along[0])
    if not well_apart(along[0], along[1], edge):
        raise Refused(
            "edge-pins-close",
            f"station {facts.station.name}: edge pins {located.pins[0].hole} and "
            f"{located.pins[1].hole} touch {told(apart_mm, unit, 1)} apart, less than a tenth of "
            f"the edge of {told(far_end, unit, 1)}",
        )


class NearEnd(NamedTuple):
    """A pin that touches the jig so near, mm, to an end of its straight edge: that on the side of
    the corner, or the other one."""

    pin: SetPin
    left_mm: float
    by_corner: bool


def near_ends(facts: Facts, located: Located) -> list[NearEnd]:
    """Pins that touch the jig nearer to an end of its straight edge than they are thick: whether
    they hold there is for whoever pushes the jig to see."""
    if not located.on_edges:
        return []
    edge, side = _sides(facts, located)
    found = []
    touched = zip(located.pins, located.corner.touched_mm, (edge, edge, side), strict=True)
    for pin, at_mm, parts in touched:
        ends = ((at_mm - start, end - at_mm) for start, end in parts)
        before_mm, behind_mm = max(ends, key=min, default=(0.0, 0.0))
        left_mm = min(before_mm, behind_mm)
        if left_mm < pin.pin.body:
            found.append(NearEnd(pin, max(left_mm, 0.0), before_mm <= behind_mm))
    return found


def _sides(facts: Facts, located: Located) -> tuple[Parts, Parts]:
    """Straight parts of the edge that carries two pins, and of the stop's."""
    outline = located.jig_in_corner.points(facts.holder.outline)
    axis = 1 if located.pins_along_x else 0
    edge, side = (straight_parts(outline, each, located.toward) for each in (axis, 1 - axis))
    return edge, side


def _better_stops(facts: Facts, located: Located, along: list[float], end_mm: float) -> list[str]:
    """Holes in the stop's line from which the edge pins would fit their edge, where now they do
    not: their distances count from the stop, so that it may be what stands in a wrong hole."""
    low, high = min(along), max(along)
    if low >= -TOUCH_MM and high <= end_mm + TOUCH_MM:
        return []
    (x, y), (ix, iy) = located.pins[2].at_mm, located.corner.inward
    pitch = facts.bed.grid.pitch[0 if located.pins_along_x else 1]
    steps = range(math.ceil((high - end_mm) / pitch), math.floor(low / pitch) + 1)
    places = ((x + step * pitch * ix, y + step * pitch * iy) for step in steps)
    return [label for at_mm in places if (label := corner_hole_of(facts.bed, at_mm)) is not None]


def _distance(point: XY, origin: XY, along: XY) -> float:
    return (point[0] - origin[0]) * along[0] + (point[1] - origin[1]) * along[1]


def touches(at_mm: Scalar, parts: Parts, slack_mm: float = TOUCH_MM) -> Scalar:
    """Whether what is so far from the corner (a float, or an array) is on a straight part."""
    on_parts = ((start - slack_mm <= at_mm) & (at_mm <= end + slack_mm) for start, end in parts)
    return reduce(or_, on_parts, at_mm != at_mm)  # False, of the same shape


def well_apart(first_mm: Scalar, second_mm: Scalar, parts: Parts) -> Scalar:
    """Whether two edge pins that touch there hold the angle."""
    end_mm = parts[-1][1] if parts else 0.0
    return abs(second_mm - first_mm) >= LEAST_EDGE_SHARE * end_mm - TOUCH_MM


def straight_parts(outline: Outline, axis: int, toward: str) -> list[tuple[float, float]]:
    """Straight parts of the jig on a side of the corner, as distances from it, ascending."""
    parts = side_segments(outline, axis, 0.0)
    if sign_of(toward, 1 - axis) > 0:
        return list(parts)
    return [(-end, -start) for start, end in reversed(parts)]


def _check_contact(
    facts: Facts,
    pin: SetPin,
    side: Side,
    at_mm: float,
    segments: Parts,
    blamed: tuple[str, list[str]] | None = None,
) -> None:
    """`at_mm` is the contact's distance from the corner; segments likewise, ascending.

    `blamed`: the stop that puts the corner there, and holes in which it would not.
    """
    unit, own = facts.machine.units, side.upper()
    here, helps = f"station {facts.station.name}: {pin.role} pin {pin.hole}", ""
    if blamed is not None:
        stop, holes = blamed
        here = f"station {facts.station.name}: stop {stop} puts the corner where {pin.role} pin "
        here, helps = here + pin.hole, f"; a stop in {' or '.join(holes)} would do"
    if at_mm < -TOUCH_MM:
        before = f"{here} touches {told(-at_mm, unit)} before the corner{helps}"
        raise Refused("before-corner", before)
    if not segments:
        raise Refused(
            "no-edge",
            f"station {facts.station.name}: the outline of {facts.holder.name} meets its {own} "
            "side in a point; there is no edge to lay against the pins",
        )
    end_mm = segments[-1][1]
    if at_mm > end_mm + TOUCH_MM:
        raise Refused(
            "beyond-edge",
            f"{here} would touch {told(at_mm, unit)} from the corner, but the {own} edge of "
            f"{facts.holder.name} ends at {told(end_mm, unit)}{helps}",
        )
    if not touches(at_mm, segments):
        raise Refused(
            "beyond-edge",
            f"{here} would touch {told(at_mm, unit)} from the corner, where the {own} side of "
            f"{facts.holder.name} is not straight",
        )


def locate_on_dowels(facts: Facts, pins: DowelPins, way: OnDowels) -> Located:
    """The jig's place from its round hole and slot. Raises Refused with the reason."""
    station, unit = facts.station.name, facts.machine.units
    round_at, slot_at = (usable_hole(facts, entry).at_mm for entry in (pins.round, pins.slot))
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
        _dowel(facts, "round", pins.round, round_at, across, way.round.hole),
        _dowel(facts, "slot", pins.slot, slot_at, across, way.slot.width),
    )
    corner = Corner(round_at, across, along, (round_at, slot_at, round_at))
    quarter = _nearest_quarter_rad(jig_in_bed)
    corner_in_bed = Pose("bed", "corner", *round_at, jig_in_bed.angle_rad - quarter)
    dx, dy = Pose("corner", "jig", 0.0, 0.0, quarter).vector(way.round.at)
    return Located(
        set_pins,
        corner,
        corner_in_bed,
        Pose("corner", "jig", -dx, -dy, quarter),
        None,
        "",
        "dowels",
    )


def _nearest_quarter_rad(pose: Pose) -> float:
    """The whole quarter turns of a pose, so that what is left of its angle is small."""
    return math.pi / 2 * round(pose.angle_rad / (math.pi / 2))


def _direction(start: XY, end: XY) -> XY:
    length = math.dist(start, end)
    return (end[0] - start[0]) / length, (end[1] - start[1]) / length


def _dowel(
    facts: Facts, role: str, entry: str | PinInHole, at_mm: XY, across: XY, in_jig_mm: float
) -> SetPin:
    pin = facts.pin_of(entry)
    gives_mm = gives_way_mm(facts, pin, at_mm)
    return SetPin(role, hole_of(entry), pin, at_mm, at_mm, across, 0.0, gives_mm, in_jig_mm)
