"""Choosing pins for a jig at a pin corner: those with which its zero is known best.

All candidates are judged at once with NumPy, by the same lines that judge one station
(geometry/contact.py, geometry/spread.py); the best few are then set up in full and compared.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.documents.beds import Place
from pincorner.documents.jigs import Nest
from pincorner.documents.stations import EdgePins, Station
from pincorner.errors import Refused
from pincorner.geometry.contact import Pins, corner_from_pins
from pincorner.geometry.outline import Outline, bounds
from pincorner.geometry.pose import Pose
from pincorner.geometry.spread import corner_spread, total
from pincorner.setups.budget import bed_pose, contact_variance, other_sources
from pincorner.setups.corners import LEAST_EDGE_SHARE, jig_in_quadrant, straight_parts
from pincorner.setups.facts import Facts
from pincorner.setups.transform import make_setups

Array = NDArray[np.float64]

SAME_MM = 1e-6
"""Uncertainties closer than this are the same: then the pins nearest to the corner count."""

_JUDGED_IN_FULL = 24
_ON_LINE = 0.02
"""A hole off the grid counts as on the corner's row or column within this share of the pitch."""


class Choice(NamedTuple):
    """The pins chosen, and why."""

    pins: EdgePins
    reason: str


class _Side(NamedTuple):
    """One side of the pin corner: its usable holes and how far along the edge each touches."""

    holes: list[Place]
    at_mm: Array
    edge_mm: float


def choose_pins(facts: Facts) -> Choice:
    """Pins at the station's `corner`, `toward` its quadrant. Raises Refused where none will do.

    The long edge gets two pins (a square's lies along X), the other the stop. Of all usable holes
    that touch, those make the smallest u95_worst_mm; ties go to the holes nearest to the corner,
    then by label.
    """
    station = facts.station
    edge, stop = _sides(facts)
    pairs = [
        (first, second)
        for first in range(len(edge.holes))
        for second in range(first + 1, len(edge.holes))
        if edge.at_mm[second] - edge.at_mm[first] >= LEAST_EDGE_SHARE * edge.edge_mm
    ]
    if not pairs or not stop.holes:
        raise Refused(
            "no-pins",
            f"station {station.name}: from corner {station.corner} toward {station.toward} the "
            f"edges of {facts.holder.name} reach {len(edge.holes)} usable holes on the long edge "
            f"and {len(stop.holes)} on the other; two well apart and one are needed",
        )
    triples = [
        (first, second, third) for first, second in pairs for third in range(len(stop.holes))
    ]
    judged = _worst_sds(facts, edge, stop, np.array(triples))
    order = np.lexsort((_distance(edge, stop, np.array(triples)), np.round(judged / SAME_MM)))
    best = [triples[index] for index in order[:_JUDGED_IN_FULL]]
    ranked = sorted(_in_full(facts, edge, stop, best))
    if not ranked:
        raise Refused(
            "no-pins", f"station {station.name}: no pins at corner {station.corner} locate the jig"
        )
    return _choice(ranked, len(triples))


def with_pins(station: Station, pins: EdgePins) -> Station:
    """The station with these pins."""
    return station.model_copy(update={"pins": pins})


def _choice(ranked: list[tuple[int, float, tuple[str, str, str], float]], count: int) -> Choice:
    _, _, (first, second, third), u95_mm = ranked[0]
    pins = EdgePins(edge=(first, second), stop=third, chosen=True)
    reason = f"edge {first} {second} and stop {third}: lies within {u95_mm:.3f} mm"
    if len(ranked) == 1:
        return Choice(pins, f"{reason}, the only pins that will do")
    _, _, (first, second, third), next_mm = ranked[1]
    return Choice(
        pins,
        f"{reason}, the least of {count} choices; next edge {first} {second} and stop {third}: "
        f"{next_mm:.3f} mm",
    )


def _sides(facts: Facts) -> tuple[_Side, _Side]:
    """The side that gets two pins, then the side that gets the stop."""
    station = facts.station
    assert station.corner is not None
    assert station.toward is not None
    corner = facts.bed.hole(station.corner)
    if corner is None:
        raise Refused("no-corner", f"bed {facts.bed.name} has no hole {station.corner}")
    signs = tuple(1 if sign == "+" else -1 for sign in station.toward[::2])
    turned = jig_in_quadrant(facts.holder.outline, station.turn, *signs)
    outline = turned.points(facts.holder.outline)
    box = bounds(outline)
    sides = [_side(facts, corner, axis, signs[axis], outline) for axis in (0, 1)]
    return (sides[0], sides[1]) if box.width >= box.depth else (sides[1], sides[0])


def _side(facts: Facts, corner: Place, axis: int, sign: int, outline: Outline) -> _Side:
    """Usable holes on the corner's row (axis 0) or column (1) whose pins touch the edge there."""
    bed, toward = facts.bed, facts.station.toward or ""
    radius = facts.pin_of(facts.station.pin).body / 2
    parts = straight_parts(outline, 1 - axis, toward)
    off_line = _ON_LINE * min(bed.grid.pitch)
    found: list[tuple[float, Place]] = []
    for place in bed.line_of_holes(corner, axis, off_line):
        at_mm = sign * (place.at_mm[axis] - corner.at_mm[axis]) - radius
        if place.usable and any(start <= at_mm <= end for start, end in parts):
            found.append((at_mm, place))
    found.sort(key=lambda item: item[0])
    edge_mm = parts[-1][1] if parts else 0.0
    return _Side([place for _, place in found], np.array([at for at, _ in found]), edge_mm)


def _worst_sds(facts: Facts, edge: _Side, stop: _Side, triples: Array) -> Array:
    """Worst standard deviation over all stock corners, mm, of each triple of indices (n, 3)."""
    radius = facts.pin_of(facts.station.pin).body / 2
    edge_xy, stop_xy = _places(edge), _places(stop)
    first, second, third = edge_xy[triples[:, 0]], edge_xy[triples[:, 1]], stop_xy[triples[:, 2]]
    pins = Pins(tuple(first.T), tuple(second.T), tuple(third.T), (radius, radius, radius))
    corner = corner_from_pins(pins)
    of_edge, of_stop = _variances(facts, edge), _variances(facts, stop)
    variances = of_edge[triples[:, 0]], of_edge[triples[:, 1]], of_stop[triples[:, 2]]
    bed_in_machine = bed_pose(facts)
    inward = bed_in_machine.vector(corner.inward)
    worst = np.zeros(len(triples))
    for nest in facts.holder.nests:
        zero, arms = _zero_and_arms(facts, nest, corner.point)
        of_pins = corner_spread(corner, zero, variances, inward)
        middle = (float(np.mean(zero[0])), float(np.mean(zero[1])))
        others = [each.spread for each in other_sources(facts, middle, bed_in_machine, [])]
        spread = total([of_pins, *others])
        for arm in arms:
            worst = np.maximum(worst, spread.worst_sd(*bed_in_machine.vector(arm)))
    return worst


def _variances(facts: Facts, side: _Side) -> Array:
    """Variance, mm2, of the contact that a pin in each hole of a side makes."""
    pin = facts.pin_of(facts.station.pin)
    return np.array([contact_variance(facts, pin, place.at_mm) for place in side.holes])


def _zero_and_arms(
    facts: Facts, nest: Nest, corner_point: tuple[Array, Array]
) -> tuple[tuple[Array, Array], list[tuple[float, float]]]:
    """Zeros of a nest on the bed, and its stock's corners from there; small angles left out.

    Every candidate's corner is nearly parallel to the bed: its angle moves the zero by far less
    than would change which pins are better.
    """
    station = facts.station
    signs = tuple(1 if sign == "+" else -1 for sign in (station.toward or "")[::2])
    jig = jig_in_quadrant(facts.holder.outline, station.turn, *signs)
    own = jig @ Pose("jig", "nest", *nest.zero, math.radians(nest.angle))
    zero = (corner_point[0] + own.x_mm, corner_point[1] + own.y_mm)
    return zero, [own.vector(point) for point in nest.stock.outline]


def _places(side: _Side) -> Array:
    return np.array([(place.x_mm, place.y_mm) for place in side.holes])


def _distance(edge: _Side, stop: _Side, triples: Array) -> Array:
    """How far the pins stand from the corner, all together, mm."""
    total: Array = edge.at_mm[triples[:, 0]] + edge.at_mm[triples[:, 1]] + stop.at_mm[triples[:, 2]]
    return total


def _in_full(
    facts: Facts, edge: _Side, stop: _Side, triples: list[tuple[int, int, int]]
) -> list[tuple[int, float, tuple[str, str, str], float]]:
    """(u95 in steps of SAME_MM, distance from the corner, labels, u95 mm) of those that locate."""
    found = []
    for first, second, third in triples:
        labels = (edge.holes[first].label, edge.holes[second].label, stop.holes[third].label)
        pins = EdgePins(edge=labels[:2], stop=labels[2], chosen=True)
        try:
            setups = make_setups(facts._replace(station=with_pins(facts.station, pins)))
        except Refused:
            continue
        u95_mm = max(setup.budget.u95_worst_mm for setup in setups)
        distance = edge.at_mm[first] + edge.at_mm[second] + stop.at_mm[third]
        found.append((round(u95_mm / SAME_MM), float(distance), labels, u95_mm))
    return found
