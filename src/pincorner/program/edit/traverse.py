"""The way over at retract height, between the stations of a repeat.

All that stands on the bed counts, of every station, in the jig of a station that could not be there
at the same time too.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from pincorner.errors import Refused
from pincorner.geometry.clearances import gap_mm
from pincorner.geometry.outline import Outline, bounds
from pincorner.geometry.pose import XY
from pincorner.program.edit.stretches import Ends
from pincorner.setups.heights import surface_heights
from pincorner.setups.setup import Setup, bed_in_program
from pincorner.standing import Standing, standing_on
from pincorner.units import Unit, told_down, told_size, told_up


class Visit(NamedTuple):
    """A section's station, and where its program begins and ends."""

    setup: Setup
    ends: Ends


def check_traverses(
    visits: Sequence[Visit], others: Sequence[Setup], retract_mm: float, tool_mm: float
) -> list[str]:
    """Refuse a way over that meets something; what was not looked at, in words.

    `visits`: the sections in order; `others`: setups of the other stations on the bed. The way over
    counts as the box along the machine's axes around both stocks and where the axes leave and
    arrive, grown by the run-off, or by half of what is as wide there: nose or tool. The gauge point
    must pass; the tip is lower by the tool's length. Raises Refused.
    """
    facts = visits[0].setup.facts
    unit = facts.machine.units
    way_over = f"the way over at machine Z {told_size(retract_mm, unit)}"
    surfaces = [visit.setup.heights.surface_mm for visit in visits]
    known = [surface for surface in surfaces if surface is not None]
    if len(known) < len(visits):
        return [f"{way_over}: how high the bed surface lies is not known, nor what stands in it"]
    if retract_mm <= max(known):
        raise _below_surface(retract_mm, max(known), unit, "")
    setups = [*(visit.setup for visit in visits), *others]
    standing = [
        (each, max(known) if each.surface_mm is None else each.surface_mm)
        for each in standing_on(facts.bed, setups)
    ]
    for first, second in pairwise(visits):
        _check_way(first, second, standing, retract_mm, tool_mm)
    notes = [
        f"{way_over}: how high the tip then is depends on the tool's length, which is not known "
        "here"
    ]
    if facts.machine.nose is None:
        notes.append(f"{way_over}: how wide the spindle nose is, which is not given")
    if any(last is None for visit in visits[:-1] for last in visit.ends.lasts):
        notes.append(f"{way_over}: where it begins, since the program ends at a place not known")
    return notes


def _check_way(
    first: Visit,
    second: Visit,
    standing: Sequence[tuple[Standing, float]],
    retract_mm: float,
    tool_mm: float,
) -> None:
    """`standing`: each thing on the bed, and machine Z of the surface that it counts as on."""
    facts, unit = first.setup.facts, first.setup.facts.machine.units
    names = [each.setup.facts.station.name for each in (first, second)]
    if names[0] == names[1]:
        names = [first.setup.name, second.setup.name]
    between = " and ".join(names)
    way = _way(first, second, tool_mm)
    corners = [surface_heights(facts, way, corner) for corner in way]
    surfaces = [surface for corner in corners for surface in corner if surface is not None]
    if surfaces and retract_mm <= max(surfaces):
        raise _below_surface(retract_mm, max(surfaces), unit, f" between {between}")
    for each, surface_mm in standing:
        height = retract_mm - surface_mm
        if each.top_mm >= height and gap_mm(way, each.outline) <= each.radius_mm:
            raise Refused(
                "traverse-low",
                f"--retract {told_size(retract_mm, unit)} is {told_down(height, unit)} above "
                f"the bed surface: between {between} stands {each.marked}{each.whose}, "
                f"{told_up(each.top_mm, unit)} high",
            )


def _below_surface(retract_mm: float, surface_mm: float, unit: Unit, where: str) -> Refused:
    return Refused(
        "traverse-low",
        f"--retract {told_size(retract_mm, unit)} is not above the bed surface{where}, which lies "
        f"at machine Z {told_size(surface_mm, unit)}",
    )


def _way(first: Visit, second: Visit, tool_mm: float) -> Outline:
    """The box around a way over, in bed coordinates, upright in the machine's, as rapids are."""
    run_off = max(visit.setup.nest.run_off_mm(tool_mm) for visit in (first, second))
    wide = max(tool_mm, first.setup.facts.machine.nose or tool_mm)
    leaving = [(first.setup, last) for last in first.ends.lasts]
    places = (
        bed_in_program(setup).inverse().point(place)
        for setup, place in (*leaving, (second.setup, second.ends.first))
        if place is not None
    )
    touched: tuple[XY, ...] = (*first.setup.stock_in_bed(), *second.setup.stock_in_bed(), *places)
    bed_in_machine = first.setup.bed_in_machine
    box = bounds(bed_in_machine.points(touched)).grown(max(run_off, wide / 2))
    return bed_in_machine.inverse().points(box.outline)
