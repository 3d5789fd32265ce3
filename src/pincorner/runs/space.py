"""Whether the stations of a run can lie on the bed at the same time."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations, product

from pincorner.documents.fields import key_of
from pincorner.geometry.clearances import gap_mm
from pincorner.geometry.outline import TOUCH_MM, Box, bounds, distance_to
from pincorner.setups.findings import Finding
from pincorner.setups.setup import Setup
from pincorner.standing import Standing, standing_of
from pincorner.units import told


def space_clashes(stations: Sequence[Sequence[Setup]]) -> list[Finding]:
    """Jigs with what sticks out of them, pins and clamps of a run's stations that are in each
    other's way, seen from above.

    `stations`: the setups of each station's nests. Jigs that hang over the bed are findings of
    their setups and are among these.
    """
    found = [
        f
        for setups in stations
        for s in setups
        for f in s.findings
        if f.code in ("outside-bed", "bed-disturbed")
    ]
    things = [(setups[0].facts.bed.name, _Things(setups[0])) for setups in stations]
    for (bed, first), (other_bed, second) in combinations(things, 2):
        if key_of(bed) == key_of(other_bed):
            found += _between(first, second)
    return list(dict.fromkeys(found))


def overlaps(mine: Sequence[Setup], every: Sequence[Setup]) -> Iterator[tuple[Setup, Setup, float]]:
    """Stations of `mine` that lie over others of the same bed, each pair once, and how deep, mm.

    Looked at are jigs, what sticks out of them, and clamps; a setup of each station is enough.
    """
    things = {key_of(each.facts.station.name): _Things(each) for each in every}
    done: set[str] = set()
    for setup in mine:
        key = key_of(setup.facts.station.name)
        done.add(key)
        for other in every:
            others_key = key_of(other.facts.station.name)
            if others_key not in done:
                deep_mm = _deepest(things[key], things[others_key])
                if deep_mm is not None:
                    yield setup, other, deep_mm


def _deepest(one: _Things, other: _Things) -> float | None:
    parts = (
        (one.body, other.body),
        (one.clamps, [*other.body, *other.clamps]),
        (other.clamps, one.body),
    )
    return max((deep for a, b in parts for *_, deep in _overlaps(a, b)), default=None)


class _Things:
    """What of a station can be in another's way: its body, its clamps and its pins, with boxes."""

    def __init__(self, setup: Setup) -> None:
        self.station, self.unit = setup.facts.station.name, setup.facts.machine.units
        standing = standing_of(setup)
        placed = [(each, bounds(each.outline).grown(each.radius_mm)) for each in standing]
        self.body = [(each, box) for each, box in placed if each.is_body]
        self.clamps = [(each, box) for each, box in placed if each.kind == "clamp"]
        self.pins = [(each, box) for each, box in placed if each.kind == "pin"]


def _between(first: _Things, second: _Things) -> Iterator[Finding]:
    both = f"stations {first.station} and {second.station}"
    for one, other, overlap_mm in _overlaps(first.body, second.body):
        by = told(overlap_mm, first.unit, 1)
        text = f"{both}: {_named(one)} and {_named(other)} overlap by {by}"
        yield Finding("jigs-overlap", text, overlap_mm, one.outline[0])
    yield from _holes(first, second, both)
    for mine, theirs in ((first, second), (second, first)):
        yield from _pins_under(mine, theirs)
        yield from _clamps_over(mine, theirs)


def _overlaps(
    first: Sequence[tuple[Standing, Box]], second: Sequence[tuple[Standing, Box]]
) -> Iterator[tuple[Standing, Standing, float]]:
    """Pairs of outlines that overlap, and by how much."""
    for one, box in first:
        for other, other_box in second:
            if box.meets(other_box):
                gap = gap_mm(one.outline, other.outline)
                if gap < -TOUCH_MM:
                    yield one, other, -gap


def _holes(first: _Things, second: _Things, both: str) -> Iterator[Finding]:
    """One hole with two kinds of pin, and pins in holes too near each other."""
    for (pin, _), (mine, _) in product(second.pins, first.pins):
        overlap_mm = pin.radius_mm + mine.radius_mm - math.dist(pin.outline[0], mine.outline[0])
        if mine.hole == pin.hole and mine.name != pin.name:
            text = f"{both}: hole {pin.hole} needs {mine.name} and {pin.name}"
            yield Finding("hole-shared", text, None, pin.outline[0])
        elif mine.hole != pin.hole and overlap_mm > TOUCH_MM:
            by = told(overlap_mm, first.unit, 1)
            text = f"{both}: pins in {mine.hole} and {pin.hole} overlap by {by}"
            yield Finding("pins-collide", text, overlap_mm, pin.outline[0])


def _pins_under(jig: _Things, pins: _Things) -> Iterator[Finding]:
    """Pins of one station under, or in the way of, the jig or a clamp of another.

    A pin that both stations have is none of the other's; one that ends below stock that sticks out
    is not in its way.
    """
    shared = {(pin.hole, pin.name) for pin, _ in jig.pins}
    for pin, box in pins.pins:
        for other, other_box in (*jig.body, *jig.clamps):
            if (pin.hole, pin.name) in shared or not box.meets(other_box):
                continue
            if pin.passes_under(other):
                continue
            into = pin.radius_mm - distance_to(other.outline, pin.outline[0])
            if into - pin.gives_mm > TOUCH_MM:
                text = (
                    f"{pin.called}{pin.whose} stands under or in the way of "
                    f"{_named(other)}{other.whose}"
                )
                yield Finding("pin-under-jig", text, into, pin.outline[0])


def _clamps_over(jig: _Things, clamps: _Things) -> Iterator[Finding]:
    """Clamps of one station over the jig or the clamps of another."""
    for clamp, other, overlap_mm in _overlaps(clamps.clamps, (*jig.body, *jig.clamps)):
        by = told(overlap_mm, jig.unit, 1)
        text = f"{clamp.marked}{clamp.whose} and {_named(other)}{other.whose} overlap by {by}"
        yield Finding("clamp-over-jig", text, overlap_mm, clamp.outline[0])


def _named(thing: Standing) -> str:
    """A jig by its name, or what sticks out of one."""
    if thing.footprint:
        return thing.jig
    return thing.marked if thing.kind == "clamp" else f"{thing.called} of {thing.jig}"
