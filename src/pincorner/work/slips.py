"""What looks like a slip in documents that are entered: told at once, and never kept from entering.

A zero outside its jig, stock that hangs over it, pins near an end of an edge, clamps over pins,
stations that lie over others of their bed: each may be meant so, and only whoever enters them
knows.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations

from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.documents.jigs import Jig, Nest
from pincorner.documents.kinds import word_of
from pincorner.documents.stations import Station
from pincorner.errors import Refused
from pincorner.geometry.clearances import gap_mm
from pincorner.geometry.outline import TOUCH_MM, Outline, bounds, distance_to
from pincorner.registry.reader import Reader
from pincorner.render.text.tables import first_named
from pincorner.runs.space import overlaps
from pincorner.setups.advice import hole_farther_in
from pincorner.setups.locating import near_ends
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.standing import standing_of
from pincorner.units import Unit, told
from pincorner.work.session import Library

MOST_ON_BED = 150
"""Stations of a bed with more are not held against each other: it would take seconds."""

_NAMED = 4
"""So many stations that another one lies over are named; the others are counted."""


def slips_of_jig(jig: Jig, unit: Unit) -> Iterator[str]:
    """Zeros outside the jig, and stock that hangs over it, told in `unit`."""
    for nest in jig.nests:
        zero = nest.in_jig.origin
        out_mm = distance_to(jig.outline, zero)
        if out_mm > TOUCH_MM:
            beside = "" if _on_stock(nest, zero) else " and beside its stock"
            yield (
                f"jig {jig.name}: the zero of nest {nest.name} lies {told(out_mm, unit, 1)} "
                f"outside the jig{beside}: is that meant?"
            )
        over_mm = max(distance_to(jig.outline, corner) for corner in nest.stock_in_jig)
        if over_mm > TOUCH_MM:
            yield (
                f"jig {jig.name}: the stock of nest {nest.name} hangs {told(over_mm, unit, 1)} "
                "over the jig: is that meant?"
            )


def _on_stock(nest: Nest, zero: tuple[float, float]) -> bool:
    outline: Outline = nest.stock_in_jig
    return distance_to(outline, zero) <= TOUCH_MM


def slips_of_stations(
    library: Library, reader: Reader, stations: Sequence[Station]
) -> Iterator[str]:
    """Zeros beside bare stock, pins near an end, clamps in the way, and stations that lie over
    others of their bed, each pair once, told as one sentence a station.

    What cannot be located lies nowhere. Beds with more than MOST_ON_BED stations are named.
    """
    for bed in dict.fromkeys(key_of(station.bed) for station in stations):
        rows = reader.needed_by(word_of(Bed), bed)
        keys = [row["key"] for row in rows if row["kind"] == word_of(Station)]
        if len(keys) > MOST_ON_BED:
            name = library.get(Bed, bed).name
            yield f"bed {name} has {len(keys)} stations: whether they lie over others is not told"
            continue
        every = list(_first_setups(library, [library.get(Station, key) for key in keys]))
        entered = {key_of(station.name) for station in stations}
        mine = [each for each in every if key_of(each.facts.station.name) in entered]
        found: dict[str, list[tuple[float, str]]] = {}
        for setup, other, deep_mm in overlaps(mine, every):
            mine_of = found.setdefault(setup.facts.station.name, [])
            mine_of.append((deep_mm, other.facts.station.name))
        for setup in mine:
            yield from _of_stock(setup)
            yield from _of_pins(setup)
            yield from _of_clamps(setup)
            yield from _over_others(setup, found.get(setup.facts.station.name, []))


def _of_stock(setup: Setup) -> Iterator[str]:
    """A program zero beside bare stock."""
    facts = setup.facts
    out_mm = distance_to(setup.nest.stock.outline, (0.0, 0.0))
    if facts.is_bare and out_mm > TOUCH_MM:
        far = told(out_mm, facts.machine.units, 1)
        yield f"station {facts.station.name}: its zero lies {far} beside the stock: is that meant?"


def _of_pins(setup: Setup) -> Iterator[str]:
    """Pins that touch near an end of an edge, from which end, and which hole is better."""
    facts, pins = setup.facts, setup.located.pins
    for near in near_ends(facts, setup.located):
        pin = near.pin
        across = f"stop {pins[2].hole}"
        if pin.role == "stop":
            across = f"edge pins {pins[0].hole} and {pins[1].hole}"
        end = "on the side of" if near.by_corner else "away from"
        better, left = hole_farther_in(setup, near), told(near.left_mm, facts.machine.units, 1)
        yield (
            f"station {facts.station.name}: {pin.role} pin {pin.hole} touches {left} from the end "
            f"of its edge {end} {across}, less than it is thick: look whether it holds there; "
        ) + (f"in {better} it would touch farther in" if better else "no hole in line does better")


def _of_clamps(setup: Setup) -> Iterator[str]:
    """Clamps of a station over its own pins, over each other, and over the bed's edge."""
    facts, standing = setup.facts, standing_of(setup)
    unit, bed, whose = facts.machine.units, facts.bed, f"station {facts.station.name}"
    clamps = [each for each in standing if each.kind == "clamp"]
    for clamp in clamps:
        for pin in standing:
            middle = pin.outline[0]
            deep_mm = pin.radius_mm - distance_to(clamp.outline, middle)
            if pin.kind == "pin" and deep_mm > TOUCH_MM:
                yield f"{whose}: {clamp.marked} stands over {pin.called}: is that meant?"
        box, edge = bounds(clamp.outline), bed.box
        over_mm = max(
            edge.left - box.left, edge.front - box.front, box.right - edge.right,
            box.back - edge.back,
        )  # fmt: skip
        if over_mm > TOUCH_MM:
            over = f"hangs {told(over_mm, unit, 1)} over the edge of {bed.edge_told}"
            yield f"{whose}: {clamp.marked} {over}: is that meant?"
    for clamp, other in combinations(clamps, 2):
        deep_mm = -gap_mm(clamp.outline, other.outline)
        if deep_mm > TOUCH_MM:
            by = told(deep_mm, unit, 1)
            yield f"{whose}: {clamp.marked} and {other.marked} overlap by {by}"


def _first_setups(library: Library, stations: Iterable[Station]) -> Iterator[Setup]:
    for station in stations:
        try:
            yield make_setups(library.facts(station))[0]
        except Refused:
            continue


def _over_others(setup: Setup, found: list[tuple[float, str]]) -> Iterator[str]:
    """What a station lies over, the deepest first."""
    if not found:
        return
    unit, found = setup.facts.machine.units, sorted(found, key=lambda each: (-each[0], each[1]))
    others = [f"{other} by {told(deep_mm, unit, 1)}" for deep_mm, other in found]
    yield (
        f"station {setup.facts.station.name} lies over {first_named(others, _NAMED)} on bed "
        f"{setup.facts.bed.name}: they cannot be there at once"
    )
