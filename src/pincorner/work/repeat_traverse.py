"""The way over at retract height, between the stations of a repeat.

What stands there is what `check` sees standing (`program/surroundings.py`), of every station on the
bed, in the jig of a station that could not be there at the same time too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from pincorner.documents.fields import key_of
from pincorner.errors import Refused
from pincorner.geometry.clearances import gap_mm
from pincorner.geometry.outline import Outline, bounds
from pincorner.geometry.pose import XY, Pose
from pincorner.program.frames import bed_in_program
from pincorner.program.stretches import Ends
from pincorner.setups.facts import Facts
from pincorner.setups.heights import surface_at, surface_heights
from pincorner.setups.setup import Setup
from pincorner.units import Unit, told, told_size


class Visit(NamedTuple):
    """A section's station, and where its program begins and ends."""

    setup: Setup
    ends: Ends


class Standing(NamedTuple):
    """A thing on the bed: its outline there, or its middle and a radius; how high it stands.

    `top_mm` counts from the surface it stands on, which lies at `surface_mm` in machine Z.
    """

    name: str
    outline: Outline
    surface_mm: float
    top_mm: float
    radius_mm: float = 0.0


def check_traverses(
    visits: Sequence[Visit], others: Sequence[Setup], retract_mm: float, tool_mm: float
) -> list[str]:
    """Refuse a way over that meets something; what was not looked at, in words.

    `visits`: the sections in order; `others`: setups of the other stations on the bed. The way over
    counts as the box along the machine's axes around both stocks and where the axes leave and
    arrive, grown by the run-off. The gauge point must pass; the tip is lower by the tool's length.
    Raises Refused.
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
    standing = [*standing_on_bed(setups, max(known)), *solids_of_bed(facts, max(known))]
    for first, second in pairwise(visits):
        _check_way(first, second, standing, retract_mm, tool_mm)
    notes = [
        f"{way_over}: how high the tip then is depends on the tool's length, which is not known "
        "here"
    ]
    if any(last is None for visit in visits[:-1] for last in visit.ends.lasts):
        notes.append(f"{way_over}: where it begins, since the program ends at a place not known")
    return notes


def _check_way(
    first: Visit, second: Visit, standing: Sequence[Standing], retract_mm: float, tool_mm: float
) -> None:
    facts, unit = first.setup.facts, first.setup.facts.machine.units
    between = f"{first.setup.facts.station.name} and {second.setup.facts.station.name}"
    way = _way(first, second, tool_mm)
    corners = [surface_heights(facts, way, corner) for corner in way]
    surfaces = [surface for corner in corners for surface in corner if surface is not None]
    if surfaces and retract_mm <= max(surfaces):
        raise _below_surface(retract_mm, max(surfaces), unit, f" between {between}")
    for each in standing:
        height = retract_mm - each.surface_mm
        if each.top_mm >= height and gap_mm(way, each.outline) <= each.radius_mm:
            raise Refused(
                "traverse-low",
                f"--retract {told_size(retract_mm, unit)} is {told(height, unit)} above the bed "
                f"surface: between {between} stands {each.name}, {told(each.top_mm, unit)} high",
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
    leaving = [(first.setup, last) for last in first.ends.lasts]
    places = (
        bed_in_program(setup).inverse().point(place)
        for setup, place in (*leaving, (second.setup, second.ends.first))
        if place is not None
    )
    touched: tuple[XY, ...] = (*first.setup.stock_in_bed(), *second.setup.stock_in_bed(), *places)
    bed_in_machine = first.setup.bed_in_machine
    box = bounds(bed_in_machine.points(touched)).grown(run_off)
    return bed_in_machine.inverse().points(box.outline)


def standing_on_bed(setups: Sequence[Setup], level_mm: float) -> list[Standing]:
    """Everything that stations put on a bed; of a station with several nests one setup is enough.

    `level_mm`: machine Z of the surface where a station's own is not known.
    """
    found: list[Standing] = []
    seen: set[str] = set()
    for setup in setups:
        name = key_of(setup.facts.station.name)
        if name not in seen:
            seen.add(name)
            found += _of_station(setup, level_mm)
    return found


def _of_station(setup: Setup, level_mm: float) -> Iterator[Standing]:
    """Jig, stock of every nest, solids, clamps and pins. Clamps and pins stand on the bed itself.

    What `under` lies below the jig lifts the rest.
    """
    station, jig = setup.facts.station, setup.facts.holder
    known = setup.heights.surface_mm
    surface_mm, on_bed = level_mm if known is None else known, setup.jig_in_bed
    whose = f"of station {station.name}"
    if station.stock is None:
        top_mm = station.under + jig.top_mm
        yield Standing(f"{jig.name} {whose}", setup.footprint_in_bed(), surface_mm, top_mm)
    for nest in jig.nests:
        to_bed = on_bed @ Pose.of_degrees("jig", "nest", *nest.zero, nest.angle)
        name = "the stock" if len(jig.nests) == 1 else f"the stock of nest {nest.name}"
        outline = to_bed.points(nest.stock.outline)
        top_mm = setup.heights.stock_bottom_mm + nest.stock.size[2]
        yield Standing(f"{name} {whose}", outline, surface_mm, top_mm)
    for solid in jig.solids:
        outline, top_mm = on_bed.points(solid.box.outline), station.under + solid.top
        yield Standing(f"{solid.name} {whose}", outline, surface_mm, top_mm)
    for clamp in station.clamps:
        outline, name = on_bed.points(clamp.box.outline), f"clamp {clamp.name} {whose}"
        yield Standing(name, outline, surface_mm, clamp.top)
    for pin in setup.located.pins:
        name, height = f"pin {pin.hole} {whose}", pin.pin.height
        yield Standing(name, (pin.at_mm,), surface_mm, height, pin.radius_mm)


def solids_of_bed(facts: Facts, level_mm: float) -> Iterator[Standing]:
    """What is fixed on the bed, on the surface that lies under it; `level_mm` as above."""
    for solid in facts.bed.solids:
        name, outline = f"{solid.name} on the bed", solid.box.outline
        known = surface_at(facts, outline, bounds(outline).middle)
        yield Standing(name, outline, level_mm if known is None else known, solid.top)
