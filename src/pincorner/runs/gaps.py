"""What moves, where hands load, and the gap between the two: a distance between drawings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import reduce
from typing import NamedTuple

from pincorner.documents.machines import Machine, Side
from pincorner.documents.records import Run
from pincorner.geometry.clearances import gap_mm
from pincorner.geometry.outline import TOUCH_MM, Box, Outline, bounds, signed_area
from pincorner.geometry.pose import Pose
from pincorner.runs.spans import Beam, hull
from pincorner.setups.locating import OUTWARD, side_facing
from pincorner.setups.setup import Setup
from pincorner.units import DOWN, Unit, figure

DEFAULT_REACH_MM = 250.0
"""How far around a jig hands and arms are, where the run states no reach: common practice."""

BEYOND_MM = 600.0
"""How far beyond the bed's edge the strip goes in which somebody stands who loads."""


class Carried(NamedTuple):
    """Reach from the spindle axis of all that moves with it, in mm."""

    left: float
    right: float
    front: float
    back: float


class Moving(NamedTuple):
    """What moves with the axis, and how far it can go, in machine coordinates."""

    beam: Beam
    carriage: Carried
    travel: Box

    def around(self, box: Box) -> Box:
        """What the carriage covers while the axis is in a box, in machine coordinates."""
        reach = self.carriage
        return Box(
            box.left - reach.left,
            box.front - reach.front,
            box.right + reach.right,
            box.back + reach.back,
        )


def reach_mm_of(run: Run | None) -> float:
    """How far around a jig hands are in a run, or where none is asked about."""
    return DEFAULT_REACH_MM if run is None or run.reach is None else run.reach


def moving_of(machine: Machine) -> tuple[Moving | None, list[str]]:
    """What moves, or None and the keys of the machine that say too little."""
    missing = []
    if machine.beam is None:
        missing.append("beam")
    sides = {} if machine.carriage is None else machine.carriage.model_dump()
    unknown = [side for side in Carried._fields if sides.get(side) is None]
    if unknown:
        whole = len(unknown) == len(Carried._fields)
        missing.append("carriage" if whole else f"carriage ({', '.join(unknown)})")
    travel = machine.travel
    if travel is None or travel.x is None or travel.y is None:
        missing.append("travel in X and Y")
    if missing or machine.beam is None or travel is None or not travel.x or not travel.y:
        return None, missing
    (left, right), (front, back) = travel.x, travel.y
    return Moving(machine.beam, Carried(**sides), Box(left, front, right, back)), []


class Zone(NamedTuple):
    """Where hands and arms are while a station is loaded.

    `parts`: (outline in machine coordinates, by how much it is grown all round). `upright`: whether
    each is a rectangle along the machine's axes. `around`: the box around all of them as they are
    grown. `drawn`: outlines in bed coordinates, with square corners. `sides`: of the bed, to which
    strips go out.
    """

    station: str
    parts: tuple[tuple[Outline, float], ...]
    upright: tuple[bool, ...]
    around: Box
    drawn: tuple[Outline, ...]
    sides: tuple[Side, ...]


def zone_of(setup: Setup, reach_mm: float) -> Zone:
    """A station's loading zone: the jig grown by the reach, and the way out to where people stand.

    Where neither the station says from which side it is loaded nor the machine where people stand,
    strips to all four sides count.
    """
    bed, footprint = setup.facts.bed.box, setup.footprint_in_bed()
    sides = loaded_from(setup)
    jig = bounds(footprint)
    around, (x, y) = jig.grown(reach_mm), jig.middle
    strips = []
    for side in sides:
        strip = {
            "front": around._replace(back=y, front=min(around.front, bed.front - BEYOND_MM)),
            "back": around._replace(front=y, back=max(around.back, bed.back + BEYOND_MM)),
            "left": around._replace(right=x, left=min(around.left, bed.left - BEYOND_MM)),
            "right": around._replace(left=x, right=max(around.right, bed.right + BEYOND_MM)),
        }[side]
        strips.append(strip.outline)
    placed = setup.bed_in_machine.points
    parts = ((placed(footprint), reach_mm), *((placed(strip), 0.0) for strip in strips))
    return Zone(
        setup.facts.station.name,
        parts,
        tuple(_is_upright(outline) for outline, _ in parts),
        reduce(hull, [bounds(outline).grown(grown) for outline, grown in parts]),
        (around.outline, *strips),
        sides,
    )


def loaded_from(setup: Setup) -> tuple[Side, ...]:
    """The sides of the bed from which a station may be loaded: as stated, else all."""
    access, operator = setup.facts.station.access, setup.facts.machine.operator
    if access is not None:
        return (access,)
    if operator is not None:
        return (side_of_bed(operator, setup.bed_in_machine),)
    return tuple(OUTWARD)


def side_of_bed(side: Side, bed_in_machine: Pose) -> Side:
    """The side of a bed that faces a side of its machine."""
    return side_facing(bed_in_machine.inverse().vector(OUTWARD[side]))


def gap_to(moving: Moving, zone: Zone, box: Box | None) -> float:
    """The separation in mm of what moves, the axis anywhere in a box, from a loading zone.

    Negative: how deep they overlap. None for the box: anywhere in the travel.
    """
    around = moving.around(moving.travel if box is None else box)
    if moving.beam == "none":
        return min(
            _box_gap(bounds(outline), around) - grown
            if upright
            else gap_mm(outline, around.outline) - grown
            for (outline, grown), upright in zip(zone.parts, zone.upright, strict=True)
        )
    low, high = across(moving, zone.around)
    first, last = across(moving, around)
    return max(low - last, first - high)


def across(moving: Moving, box: Box) -> tuple[float, float]:
    """From where to where a box goes across the beam."""
    return (box.left, box.right) if moving.beam == "y" else (box.front, box.back)


def _is_upright(outline: Outline) -> bool:
    """Whether an outline is the box around it, to the rounding of a turn by right angles."""
    box = bounds(outline)
    missing = box.width * box.depth - abs(signed_area(outline))
    return missing <= TOUCH_MM * (box.width + box.depth)


def _box_gap(first: Box, second: Box) -> float:
    """The separation of two boxes; negative: how deep they overlap, the shorter way."""
    along_x = max(first.left - second.right, second.left - first.right)
    along_y = max(first.front - second.back, second.front - first.back)
    if along_x > 0 and along_y > 0:
        return math.hypot(along_x, along_y)
    return max(along_x, along_y)


def covered(moving: Moving, boxes: Sequence[Box | None], reach: Box) -> Outline:
    """What the moving parts are over while the axis is in boxes, in machine coordinates.

    Along the beam it goes as far as `reach`, which is drawn.
    """
    around = moving.around(reduce(hull, [moving.travel if b is None else b for b in boxes]))
    if moving.beam == "y":
        around = around._replace(front=reach.front, back=reach.back)
    elif moving.beam == "x":
        around = around._replace(left=reach.left, right=reach.right)
    return around.outline


def gap_figure(gap_mm: float, unit: Unit) -> str:
    """A distance rounded away from comfort, down and an overlap up: to 1 mm or 0.1 in."""
    return figure(gap_mm, unit, 0, DOWN)
