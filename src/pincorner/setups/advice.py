"""What would lower the uncertainty of a station most."""

from __future__ import annotations

from typing import NamedTuple

from pincorner.documents.beds import Hole
from pincorner.documents.stations import EdgePins, PinInHole, Station, hole_of
from pincorner.errors import Refused
from pincorner.setups.facts import Facts
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups

REMEDIES = {
    "hole position": "measure the holes of these pins in a survey, and say measured_holes: true",
    "pin fit": "use pins of a closer fit, or deeper holes; measure play (play of the bed's grid)",
    "pin body": "use pins ground to a closer body",
    "jig edge": "plane the jig's edges straight and square, or measure them again",
    "rounding": "write offsets with more decimals (decimals of the dialect), if the controller "
    "takes them",
    "survey": "survey more holes, farther apart",
    "homing": "set the offset by touch or probe after homing",
    "machine": "nothing at the pins: the machine itself does not repeat better",
}


GIVEN_BY = {
    "hole position": "survey the bed, or measure some holes: hole_position of the bed's grid",
    "lean": "measure how deep pins stand: depth of the bed's grid, or in_hole of the pin",
    "pin body": "measure bodies with a micrometer: body_tolerance of the pin",
    "jig edge": "lay the edges against a straightedge and a square: edge_straightness of the jig",
    "survey": "survey three holes or more",
    "homing": "home again and again and measure one mark each time: homing of the machine",
    "machine": "measure one mark again and again: repeatability of the machine",
    "measured zero": "lay the jig against pins: pincorner register with --pin and --pins",
}
"""How each source that is not given is measured, and the key that gives it."""


class Largest(NamedTuple):
    """The source with the largest variance at the zero, its share of all, and what lowers it."""

    source: str
    share: float
    remedy: str


class Change(NamedTuple):
    """One hole instead of another, and u95 at the worst stock corner before and after, mm."""

    hole: str
    instead_of: str
    before_mm: float
    after_mm: float


class Remedies(NamedTuple):
    """What would lower a station's uncertainty most; None where nothing is known to.

    `smaller`: for each source that counts, what to measure or mend; `to_give`: for each that is not
    given, how it is measured and where it is entered.
    """

    largest: Largest | None
    change: Change | None
    smaller: tuple[str, ...] = ()
    to_give: tuple[str, ...] = ()


def remedies(setup: Setup) -> Remedies:
    """What would lower the uncertainty of a nest's station most.

    Every hole in line with a pin is tried, each with setups of its own: for one station at a time.
    """
    counted = dict.fromkeys(row.source for row in setup.budget.rows if any(row[1:4]))
    smaller = tuple(f"{name}: {REMEDIES[name]}" for name in counted)
    to_give = tuple(f"{name}: {GIVEN_BY[name]}" for name in setup.budget.not_given)
    return Remedies(_largest_source(setup), _best_change(setup), smaller, to_give)


def _largest_source(setup: Setup) -> Largest | None:
    rows = setup.budget.rows
    whole = setup.budget.together
    total = whole.x_mm**2 + whole.y_mm**2
    if not rows or total == 0:
        return None
    largest = max(rows, key=lambda row: row.x_mm**2 + row.y_mm**2)
    share = (largest.x_mm**2 + largest.y_mm**2) / total
    return Largest(largest.source, share, REMEDIES[largest.source])


def _best_change(setup: Setup) -> Change | None:
    """The one pin that would do most in another hole of its row or column; None where none does.

    Only edge pins and stops: a jig's own holes say where dowels stand.
    """
    facts, pins = setup.facts, setup.facts.station.pins
    if not isinstance(pins, EdgePins):
        return None
    before = _worst_u95(facts)
    best: Change | None = None
    for index, (_, _, entry) in enumerate(pins.by_role()):
        for place in _along_its_line(setup, pins, index):
            after = _u95_with(facts, pins, index, entry, place)
            if after is not None and after < (best.after_mm if best else before) - 1e-4:
                best = Change(place.label, hole_of(entry), before, after)
    return best


def _worst_u95(facts: Facts) -> float:
    """u95 at the worst stock corner of all nests, mm. Raises Refused."""
    return max(setup.budget.u95_worst_mm for setup in make_setups(facts))


def _along_its_line(setup: Setup, pins: EdgePins, index: int) -> list[Hole]:
    """Usable holes on the row or column that a pin stands in, along the edge it touches."""
    facts = setup.facts
    here = facts.bed.hole(hole_of(pins.by_role()[index][2]))
    along_x = setup.located.pins_along_x == (index < 2)
    near = 0.02 * min(facts.bed.grid.pitch)
    return (
        []
        if here is None
        else [
            place
            for place in facts.bed.line_of_holes(here, 0 if along_x else 1, near)
            if place.usable and place.label != here.label
        ]
    )


def _u95_with(
    facts: Facts, pins: EdgePins, index: int, entry: str | PinInHole, place: Hole
) -> float | None:
    """u95 with one pin in another hole; None where the jig cannot be located so."""
    moved = place.label if isinstance(entry, str) else PinInHole(hole=place.label, pin=entry.pin)
    entries = [each for _, _, each in pins.by_role()]
    entries[index] = moved
    first, second, stop = entries
    if len({hole_of(each) for each in entries}) < len(entries):
        return None
    changed = EdgePins(edge=(first, second), stop=stop)
    station: Station = facts.station.model_copy(update={"pins": changed, "corner": None})
    try:
        return _worst_u95(facts._replace(station=station))
    except Refused:
        return None
