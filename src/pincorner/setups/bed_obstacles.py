"""What already stands on a bed, or is about to: in bed coordinates, with words to name it by."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, NamedTuple

from pincorner.documents.beds import Bed
from pincorner.geometry.outline import Outline
from pincorner.setups.setup import Setup


class Obstacle(NamedTuple):
    """Something that a jig, or a pin of it, must stay clear of.

    outline: three or more corners in bed coordinates, or one point that `grown_mm` makes a disc.
    name: as a sentence names it. station: whose it is; empty for what belongs to the bed.
    hole, pin: of a pin, and of a `corner` hole that stays empty. A `zone` (hands load there) is in
    nobody's way; gaps are measured to it.
    """

    kind: Literal["jig", "pin", "clamp", "solid", "corner", "zone"]
    outline: Outline
    name: str
    station: str = ""
    grown_mm: float = 0.0
    hole: str = ""
    pin: str = ""


def obstacles_of(setups: Iterable[Setup], bed: Bed) -> list[Obstacle]:
    """The bed's own solids, and jigs, pins, clamps and corner holes of the stations set up on it.

    Of a station with several nests one setup is enough; setups on other beds are left out.
    """
    found = [Obstacle("solid", solid.box.outline, solid.name) for solid in bed.solids]
    by_station = {setup.facts.station.name: setup for setup in setups}
    for setup in by_station.values():
        if setup.facts.bed.name == bed.name:
            found += _of_station(setup)
    return found


def _of_station(setup: Setup) -> list[Obstacle]:
    station, jig = setup.facts.station.name, setup.facts.holder
    whose = f"of station {station}"
    found = [Obstacle("jig", setup.footprint_in_bed(), f"{jig.name} {whose}", station)]
    for pin in setup.located.pins:
        name = f"pin {pin.pin.name} in {pin.hole} {whose}"
        found.append(
            Obstacle("pin", (pin.at_mm,), name, station, pin.radius_mm, pin.hole, pin.pin.name)
        )
    for solid in jig.solids:
        outline = setup.jig_in_bed.points(solid.box.outline)
        found.append(Obstacle("solid", outline, f"{solid.name} {whose}", station))
    for clamp in setup.facts.station.clamps:
        outline = setup.jig_in_bed.points(clamp.box.outline)
        found.append(Obstacle("clamp", outline, f"clamp {clamp.name} {whose}", station))
    corner = setup.located.corner_hole
    place = setup.facts.bed.hole(corner) if corner else None
    if place is not None:
        name = f"hole {place.label}, which stays empty for station {station}"
        found.append(Obstacle("corner", (place.at_mm,), name, station, hole=place.label))
    return found
