"""Whether the stations of a run can lie on the bed at the same time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from pincorner.geometry.clearances import gap_mm
from pincorner.geometry.outline import TOUCH_MM, Outline, distance_to
from pincorner.setups.findings import Finding
from pincorner.setups.setup import Setup
from pincorner.units import told


def space_clashes(stations: Sequence[Sequence[Setup]]) -> list[Finding]:
    """Footprints, pins and clamps of a run's stations that are in each other's way.

    `stations`: the setups of each station's nests. Jigs that hang over the bed are findings of
    their setups and are among these.
    """
    found = [
        f for setups in stations for s in setups for f in s.findings if f.code == "outside-bed"
    ]
    for first, second in combinations(stations, 2):
        found += _between(first[0], second[0])
    return list(dict.fromkeys(found))


def _between(first: Setup, second: Setup) -> Iterator[Finding]:
    if first.facts.bed.name != second.facts.bed.name:
        return
    both = f"stations {_name(first)} and {_name(second)}"
    mine, theirs = first.footprint_in_bed(), second.footprint_in_bed()
    gap = gap_mm(mine, theirs)
    if gap < -TOUCH_MM:
        jigs = f"{first.facts.holder.name} and {second.facts.holder.name}"
        text = f"{both}: {jigs} overlap by {told(-gap, first.facts.machine.units, 1)}"
        yield Finding("jigs-overlap", text, -gap, mine[0])
    yield from _holes(first, second, both)
    for one, other in ((first, second), (second, first)):
        yield from _pins_under(one, other)
        yield from _clamps_over(one, other)


def _holes(first: Setup, second: Setup, both: str) -> Iterator[Finding]:
    """One hole with two kinds of pin."""
    pins = {pin.hole: pin for pin in first.located.pins}
    for pin in second.located.pins:
        mine = pins.get(pin.hole)
        if mine is not None and mine.pin.name != pin.pin.name:
            text = f"{both}: hole {pin.hole} needs {mine.pin.name} and {pin.pin.name}"
            yield Finding("hole-shared", text, None, pin.at_mm)


def _pins_under(jig: Setup, pins: Setup) -> Iterator[Finding]:
    """Pins of one station under, or in the way of, the jig of another."""
    outline = jig.footprint_in_bed()
    for pin in pins.located.pins:
        into = pin.radius_mm - distance_to(outline, pin.at_mm)
        if into > TOUCH_MM:
            text = (
                f"pin {pin.hole} of station {_name(pins)} stands under or in the way of "
                f"{jig.facts.holder.name} of station {_name(jig)}"
            )
            yield Finding("pin-under-jig", text, into, pin.at_mm)


def _clamps_over(jig: Setup, clamps: Setup) -> Iterator[Finding]:
    """Clamps of one station over the jig or the clamps of another."""
    for name, outline in _clamps(clamps):
        others = [(f"{jig.facts.holder.name}", jig.footprint_in_bed()), *_clamps(jig)]
        for other, theirs in others:
            gap = gap_mm(outline, theirs)
            if gap < -TOUCH_MM:
                text = (
                    f"clamp {name} of station {_name(clamps)} and {other} of station {_name(jig)} "
                    f"overlap by {told(-gap, jig.facts.machine.units, 1)}"
                )
                yield Finding("clamp-over-jig", text, -gap, outline[0])


def _clamps(setup: Setup) -> list[tuple[str, Outline]]:
    points = setup.jig_in_bed.points
    return [(clamp.name, points(clamp.box.outline)) for clamp in setup.facts.station.clamps]


def _name(setup: Setup) -> str:
    return setup.facts.station.name
