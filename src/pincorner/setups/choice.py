"""Choosing pins for a jig at a pin corner: the widest that its edges reach."""

from __future__ import annotations

from typing import NamedTuple

from pincorner.documents.stations import EdgePins, Station
from pincorner.errors import Refused
from pincorner.geometry.outline import bounds
from pincorner.setups.facts import Facts
from pincorner.setups.locating import jig_in_quadrant, locate, straight_parts, usable_hole


class Choice(NamedTuple):
    """The pins chosen, and why."""

    pins: EdgePins
    reason: str


def choose_pins(facts: Facts) -> Choice:
    """Pins at the station's `corner`, `toward` its quadrant. Raises Refused where none will do.

    The long edge gets two pins, a square's lies along X: the usable holes nearest to the corner
    and farthest from it that the edge reaches; the stop is the farthest on the other edge.
    """
    station = facts.station
    assert station.corner is not None
    assert station.toward is not None
    corner = usable_or_empty(facts, station.corner)
    signs = tuple(1 if sign == "+" else -1 for sign in station.toward[::2])
    outline = jig_in_quadrant(facts.holder.outline, station.turn, *signs).points(
        facts.holder.outline
    )
    box = bounds(outline)
    long_axis = 0 if box.width >= box.depth else 1
    parts = {axis: straight_parts(outline, 1 - axis, station.toward) for axis in (0, 1)}
    reach = {axis: _reached(facts, corner, axis, signs[axis], parts[axis]) for axis in (0, 1)}
    edge, stops = reach[long_axis], reach[1 - long_axis]
    if len(edge) < 2 or not stops:
        counts = f"{len(edge)} on the long edge and {len(stops)} on the other"
        raise Refused(
            "no-pins",
            f"station {station.name}: from corner {station.corner} toward {station.toward} the "
            f"edges of {facts.holder.name} reach {counts}; two and one are needed",
        )
    pins = EdgePins(edge=(edge[0], edge[-1]), stop=stops[-1], chosen=True)
    locate(facts._replace(station=with_pins(station, pins)))
    axis_name = "X" if long_axis == 0 else "Y"
    reason = (
        f"edge {edge[0]} {edge[-1]} and stop {stops[-1]}: the widest usable pins that the edges "
        f"reach, two on the long edge along {axis_name} ({len(edge)} holes), one on the other "
        f"({len(stops)})"
    )
    return Choice(pins, reason)


def with_pins(station: Station, pins: EdgePins) -> Station:
    """The station with these pins."""
    return station.model_copy(update={"pins": pins})


def usable_or_empty(facts: Facts, label: str) -> tuple[int, int]:
    """Column and row of the corner hole, which may be missing since it stays empty."""
    cell = facts.bed.letters.split(label)
    if cell is None or facts.bed.hole(label) is None:
        raise Refused(
            "no-corner", f"corner {label} of bed {facts.bed.name} is no hole of the grid; give pins"
        )
    return cell


def _reached(
    facts: Facts,
    corner: tuple[int, int],
    axis: int,
    sign: int,
    parts: list[tuple[float, float]],
) -> list[str]:
    """Labels of usable holes along an axis whose pins would touch the edge, nearest first."""
    grid, radius = facts.bed.grid, facts.pin_of("").body / 2
    count = grid.columns if axis == 0 else grid.rows
    found = []
    for step in range(1, count):
        at_mm = step * grid.pitch[axis] - radius
        if parts and at_mm > parts[-1][1]:
            break
        cell = [corner[0], corner[1]]
        cell[axis] += sign * step
        if not 1 <= cell[axis] <= count:
            break
        label = f"{facts.bed.letters.of(cell[0])}{cell[1]}"
        touches = any(start <= at_mm <= end for start, end in parts)
        if touches and _usable(facts, label):
            found.append(label)
    return found


def _usable(facts: Facts, label: str) -> bool:
    try:
        usable_hole(facts.bed, label)
    except Refused:
        return False
    return True
