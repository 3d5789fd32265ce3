"""How far the moving machine stays from the place where hands are: a distance between drawings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from pincorner.documents.machines import Machine
from pincorner.errors import Refused
from pincorner.geometry.clearances import gap_mm
from pincorner.geometry.outline import Box, Outline, bounds
from pincorner.setups.setup import Setup
from pincorner.units import Unit, fixed, in_unit, told_size

DEFAULT_REACH_MM = 250.0
"""How far around a jig hands and arms are, where the run states no reach: common practice."""


class Path(NamedTuple):
    """Where the spindle axis goes at a station, as a box in machine coordinates.

    `basis` says what it comes from, in words. `anywhere`: it also goes to a place that is not known
    here (G28 and G30 positions stand in the controller), so that anywhere in the travel counts.
    """

    box: Box
    basis: str
    anywhere: bool = False


class KeepClear(NamedTuple):
    """The gap between what moves while one station runs and where hands load another.

    Negative: how far the two overlap, along the axis that separates them sooner. `sweep` is in
    machine coordinates, `zone` in bed coordinates.
    """

    runs: str
    loaded: str
    gap_mm: float
    sweep: Box
    zone: Outline
    basis: str


def path_over_stock(setups: Sequence[Setup], tool_mm: float) -> Path:
    """Where the spindle axis may go without a program to read: over the stock, grown by a tool."""
    corners = [
        setup.bed_in_machine.point(corner) for setup in setups for corner in setup.stock_in_bed()
    ]
    unit = setups[0].facts.machine.units
    basis = (
        f"the stock grown by {told_size(tool_mm, unit)}" if tool_mm else "the stock, no tool known"
    )
    return Path(bounds(tuple(corners)).grown(tool_mm), basis)


def gap_figure(gap_mm: float, unit: Unit) -> str:
    """A distance rounded away from comfort, down and an overlap up: to 1 mm or 0.1 in.

    What rounding of doubles leaves below a whole one does not count.
    """
    steps = 1 if unit == "mm" else 10
    whole = math.floor(in_unit(gap_mm, unit) * steps + 1e-6)
    return fixed(whole / steps, 0 if unit == "mm" else 1)


def keep_clear_table(
    stations: Sequence[Sequence[Setup]], paths: Mapping[str, Path], reach_mm: float
) -> list[KeepClear]:
    """A row for every ordered pair of a run's stations, in its order.

    `stations`: the setups of each station's nests. `paths` by station name. Raises Refused for a
    machine whose bed moves.
    """
    machine = stations[0][0].facts.machine
    if machine.bed_moves:
        raise Refused(
            "bed-moves",
            f"the bed of machine {machine.name} moves: hands would be on it, so there is no "
            "keep-clear table and no loading beside a running spindle",
        )
    rows = []
    for at, running in enumerate(stations):
        before = stations[at - 1]
        sweep, basis = sweep_of(running[0], paths[_name(running)], paths[_name(before)])
        for loaded in stations:
            if loaded is not running:
                zone, gap = zone_and_gap(loaded[0], sweep, reach_mm)
                rows.append(KeepClear(_name(running), _name(loaded), gap, sweep, zone, basis))
    return rows


def _name(setups: Sequence[Setup]) -> str:
    return setups[0].facts.station.name


def sweep_of(setup: Setup, path: Path, before: Path) -> tuple[Box, str]:
    """What the moving parts sweep while a station runs, in machine coordinates, and its basis.

    The spindle axis goes along its path, comes from the station before, and to the park position
    (tool changes); around it the carriage, along the beam the whole bed.
    """
    machine = setup.facts.machine
    boxes, basis = [path.box, before.box], path.basis
    if machine.park is not None:
        x, y = machine.park
        boxes.append(Box(x, y, x, y))
    if path.anywhere and machine.travel is not None and machine.travel.x and machine.travel.y:
        (left, right), (front, back) = machine.travel.x, machine.travel.y
        boxes.append(Box(left, front, right, back))
        basis += ", and a place that is not known here: anywhere in the travel"
    swept = _with_carriage(around(boxes), machine)
    bed = bounds(setup.bed_in_machine.points(setup.facts.bed.box.outline))
    if machine.beam == "y":
        swept = swept._replace(front=min(swept.front, bed.front), back=max(swept.back, bed.back))
    elif machine.beam == "x":
        swept = swept._replace(left=min(swept.left, bed.left), right=max(swept.right, bed.right))
    return swept, basis


def around(boxes: Sequence[Box]) -> Box:
    """The smallest upright box around boxes."""
    return Box(
        min(box.left for box in boxes),
        min(box.front for box in boxes),
        max(box.right for box in boxes),
        max(box.back for box in boxes),
    )


def _with_carriage(box: Box, machine: Machine) -> Box:
    reach = machine.carriage
    return Box(
        box.left - reach.left, box.front - reach.front, box.right + reach.right,
        box.back + reach.back,
    )  # fmt: skip


def zone_and_gap(setup: Setup, sweep: Box, reach_mm: float) -> tuple[Outline, float]:
    """The loading zone of a station in bed coordinates, and its gap to a sweep.

    The jig's footprint grown by `reach_mm` all round (corners rounded), or only to the side that
    the station is loaded from. The outline that is drawn has square corners.
    """
    footprint = setup.footprint_in_bed()
    side = setup.facts.station.access
    in_machine = setup.bed_in_machine.points
    if side is None:
        drawn = bounds(footprint).grown(reach_mm).outline
        return drawn, gap_mm(in_machine(footprint), sweep.outline) - reach_mm
    box = bounds(footprint)
    reached = {
        "left": box._replace(left=box.left - reach_mm),
        "right": box._replace(right=box.right + reach_mm),
        "front": box._replace(front=box.front - reach_mm),
        "back": box._replace(back=box.back + reach_mm),
    }[side].outline
    return reached, gap_mm(in_machine(reached), sweep.outline)
