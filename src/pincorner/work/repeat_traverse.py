"""The way over at retract height, between the stations of a repeat."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from pincorner.errors import Refused
from pincorner.geometry.clearances import gap_mm
from pincorner.geometry.outline import Outline, bounds
from pincorner.setups.setup import Setup
from pincorner.units import told, told_size


def check_traverses(
    setups: Sequence[Setup], others: Sequence[Setup], retract_mm: float, tool_mm: float
) -> list[str]:
    """Refuse a way over that meets something; what was not looked at, in words.

    `setups`: of the sections, in order; `others`: of the other stations on the bed. The way from
    one stock to the next counts as the box around both, grown by their run-off. The height of the
    tip is known only where tool lengths refer to the gauge point; elsewhere the gauge point itself,
    which is higher than any tip, must pass. Raises Refused.
    """
    facts, unit = setups[0].facts, setups[0].facts.machine.units
    surfaces = [setup.heights.surface_mm for setup in setups]
    known = [surface for surface in surfaces if surface is not None]
    unknown = [
        f"the way over at machine Z {told_size(retract_mm, unit)}: how high the tip then is "
        "depends on the tool's length, which is not known here"
    ]
    if len(known) < len(setups):
        return unknown
    height = retract_mm - max(known)
    on_bed = {setup.facts.station.name: setup for setup in (*others, *setups)}
    standing = [each for setup in on_bed.values() for each in _standing(setup)]
    standing += [(s.name, s.box.outline, s.top) for s in facts.bed.solids]
    for first, second in pairwise(setups):
        between = f"{first.facts.station.name} and {second.facts.station.name}"
        run_off = max(setup.nest.run_off_mm(tool_mm) for setup in (first, second))
        way = bounds((*first.stock_in_bed(), *second.stock_in_bed())).grown(run_off).outline
        for name, outline, top in standing:
            if top >= height and gap_mm(way, outline) <= 0:
                raise Refused(
                    "traverse-low",
                    f"--retract {told_size(retract_mm, unit)} is {told(height, unit)} above the "
                    f"bed surface: between {between} stands {name}, {told(top, unit)} high",
                )
    if height < 0:
        raise Refused(
            "traverse-low",
            f"--retract {told_size(retract_mm, unit)} is {told(-height, unit)} below the bed "
            "surface",
        )
    return [] if facts.machine.tool_lengths == "gauge" else unknown


def _standing(setup: Setup) -> list[tuple[str, Outline, float]]:
    """Name, outline and height of everything that a station puts on the bed."""
    station, jig = setup.facts.station, setup.facts.holder
    whose = f"of station {station.name}"
    stock = (f"the stock {whose}", setup.stock_in_bed(), setup.heights.stock_top_mm)
    found = [(f"{jig.name} {whose}", setup.footprint_in_bed(), station.under + jig.top_mm), stock]
    for solid in (*jig.solids, *station.clamps):
        outline = setup.jig_in_bed.points(solid.box.outline)
        found.append((f"{solid.name} {whose}", outline, solid.top))
    return found
