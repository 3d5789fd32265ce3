"""What would lower the uncertainty of a station most, and which hole holds a pin better."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from pincorner.documents.beds import Hole, Pin
from pincorner.documents.fields import key_of
from pincorner.documents.stations import EdgePins, PinInHole, Station, hole_of
from pincorner.errors import Refused
from pincorner.setups.budget import (
    DISTURBED,
    MEASURED_ZERO,
    NO_SURVEY,
    SETTING_G54,
    TOO_FEW_HOLES,
    known,
)
from pincorner.setups.facts import Facts
from pincorner.setups.holes import measured
from pincorner.setups.locating import ON_LINE, NearEnd, locate, near_ends
from pincorner.setups.pin_fit import is_pressed, pin_fit, play_of
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_budgets, make_setup

CLOSER = "use pins of a closer fit"

REMEDIES = {
    "hole position": "measure the holes of these pins in a survey, and say measured_holes: true of "
    "the station",
    "pin fit": CLOSER,
    "pin body": "measure bodies with a micrometer (body, body_tolerance of the pin), or use pins "
    "ground to a closer one",
    "jig edge": "plane the jig's edges straight and square, and measure them again "
    "(edge_straightness of the jig)",
    "rounding": "write offsets with more decimals (decimals of the dialect), if the controller "
    "takes them",
    "survey": "survey more holes, farther apart",
    "homing": "clean and tighten the home switches, home slowly, and measure it again (homing of "
    "the machine)",
    "machine": "take up backlash and play in its drives and guides, and measure it again "
    "(repeatability of the machine)",
}
"""What to measure or mend to make each source smaller; some have better words by how a station
stands (`_remedy`)."""


GIVEN_BY = {
    NO_SURVEY: "measure three holes or more, far apart, and accept the survey (survey BED FILE.csv "
    "--accept)",
    TOO_FEW_HOLES: "survey three holes or more, far apart",
    DISTURBED: "survey the bed again, three holes or more, or verify zeros at two stations far "
    "apart",
    "hole position": "survey the bed, or measure some holes: hole_position of the bed's grid",
    "lean": "measure how deep pins stand: depth of the bed's grid, or in_hole of the pin",
    "pin body": "measure bodies with a micrometer: body_tolerance of the pin",
    "jig edge": "lay the edges against a straightedge and a square: edge_straightness of the jig",
    "homing": "home again and again and measure one mark each time: homing of the machine",
    SETTING_G54: "set it again and again and measure one mark each time: homing of the machine",
    "machine": "measure one mark again and again: repeatability of the machine",
    MEASURED_ZERO: "lay the jig against pins: pincorner register with --pin and --pins",
}
"""How each source that is not given is measured, and the key that gives it."""


SHOWS_MM = 0.001
"""A pin in another hole is told of where that makes at least so much less: it shows in print."""


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
    given, how it is measured and where it is entered. `not_pressed_mm`: what a pressed station
    would lie within if it counted as laid, which holds either way.
    """

    largest: Largest | None
    change: Change | None
    smaller: tuple[str, ...] = ()
    to_give: tuple[str, ...] = ()
    not_pressed_mm: float | None = None


Taken = Callable[[Pin, Hole], bool]
"""Whether a pin in a hole would be in the way of something else on the bed."""


def remedies(setup: Setup, taken: Taken = lambda pin, hole: False) -> Remedies:
    """What would lower the uncertainty of a nest's station most.

    Every hole in line with a pin is tried, each with setups of its own: for one station at a time.
    `taken` is asked only where a hole would do better.
    """
    counted = dict.fromkeys(row.source for row in setup.budget.rows if any(row[1:4]))
    smaller = tuple(f"{name}: {_remedy(setup, name)}" for name in counted)
    to_give = tuple(f"{name}: {_given_by(setup, name)}" for name in setup.budget.not_given)
    return Remedies(
        _largest_source(setup), _best_change(setup, taken), smaller, to_give, _not_pressed_mm(setup)
    )


def _remedy(setup: Setup, source: str) -> str:
    """What to measure or mend to make one source smaller, as this station stands."""
    facts = setup.facts
    if source == "hole position" and measured(facts) is not None:
        return "measure the holes of these pins again, more than once or with a finer probe"
    if source == "homing" and not facts.machine.homes:
        return "set G54 with more care, and measure that again (homing of the machine)"
    return _of_pins(setup) if source == "pin fit" else REMEDIES[source]


def _of_pins(setup: Setup) -> str:
    """What makes play and lean of a station's pins count for less."""
    facts, pins = setup.facts, setup.located.contact_pins
    if setup.located.on_dowels:
        return f"{CLOSER}, in the bed's holes and in the jig's own"
    ways = []
    if not facts.station.pins_pressed:
        ways.append(
            f"press the {facts.thing} against its pins each time, and say so (pins_pressed: true)"
        )
    if facts.bed.grid.play is None and any(play_of(facts, pin.pin).sd_mm for pin in pins):
        ways.append("measure the play of its pins (play of the bed's grid)")
    if any(pin_fit(facts, pin.pin, pin.at_mm).lean_mm for pin in pins):
        ways.append("let it touch its pins lower (a thinner sheet under it, less edge_from)")
    ways.append(CLOSER if facts.station.pins_pressed else f"{CLOSER}, or deeper holes")
    return "; ".join(ways)


def _given_by(setup: Setup, name: str) -> str:
    """How a source that is not given is measured, and where it is entered."""
    if name == "jig edge" and setup.facts.station.stock is not None:
        return "bare stock has no key for it: make it a jig, with edge_straightness"
    return GIVEN_BY[name]


def _not_pressed_mm(setup: Setup) -> float | None:
    """u95 at the worst stock corner if a pressed nest counted as laid; None where it is not."""
    facts = setup.facts
    if not any(is_pressed(facts, pin.pin) for pin in setup.located.pins):
        return None
    laid = facts._replace(station=facts.station.model_copy(update={"pins_pressed": False}))
    try:
        return known(make_setup(laid, setup.nest.name).budget.u95_worst_mm)
    except Refused:
        return None


def _largest_source(setup: Setup) -> Largest | None:
    rows = setup.budget.rows
    total = setup.budget.together.variance_mm2
    if not rows or total == 0:
        return None
    largest = max(rows, key=lambda row: row.variance_mm2)
    share = largest.variance_mm2 / total
    return Largest(largest.source, share, _remedy(setup, largest.source))


def _best_change(setup: Setup, taken: Taken) -> Change | None:
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
            after = _u95_with(facts, pins, index, place)
            if after is None or after >= (best.after_mm if best else before) - SHOWS_MM:
                continue
            if not taken(facts.pin_of(entry), place):
                best = Change(place.label, hole_of(entry), before, after)
    return best


def hole_farther_in(setup: Setup, near: NearEnd) -> str | None:
    """The hole nearest to that of a pin which touches near an end, in its row or column, from which
    it would not, and no other pin instead; None where there is none."""
    facts, pins = setup.facts, setup.facts.station.pins
    if not isinstance(pins, EdgePins):
        return None
    entries = [entry for _, _, entry in pins.by_role()]
    index = [key_of(hole_of(entry)) for entry in entries].index(key_of(near.pin.hole))
    others = {each.pin.hole for each in near_ends(facts, setup.located)} - {near.pin.hole}
    places = _along_its_line(setup, pins, index)
    places.sort(key=lambda place: (math.dist(place.at_mm, near.pin.at_mm), place.label))
    for place in places:
        moved = _moved(facts, pins, index, place)
        try:
            still = moved and near_ends(moved, locate(moved))
        except Refused:
            continue
        if still is not None and {each.pin.hole for each in still} <= others:
            return place.label
    return None


def _worst_u95(facts: Facts) -> float:
    """u95 at the worst stock corner of all nests, mm. Raises Refused."""
    return max(budget.u95_worst_mm for budget in make_budgets(facts))


def _along_its_line(setup: Setup, pins: EdgePins, index: int) -> list[Hole]:
    """Usable holes on the row or column that a pin stands in, along the edge it touches."""
    facts = setup.facts
    here = facts.bed.hole(hole_of(pins.by_role()[index][2]))
    along_x = setup.located.pins_along_x == (index < 2)
    near = ON_LINE * min(facts.bed.grid.pitch)
    return (
        []
        if here is None
        else [
            place
            for place in facts.bed.line_of_holes(here, 0 if along_x else 1, near)
            if place.usable and place.label != here.label
        ]
    )


def _u95_with(facts: Facts, pins: EdgePins, index: int, place: Hole) -> float | None:
    """u95 with one pin in another hole; None where the jig cannot be located so."""
    moved = _moved(facts, pins, index, place)
    try:
        return None if moved is None else _worst_u95(moved)
    except Refused:
        return None


def _moved(facts: Facts, pins: EdgePins, index: int, place: Hole) -> Facts | None:
    """The station with one pin in another hole; None where another one stands there."""
    entries = [each for _, _, each in pins.by_role()]
    entry = entries[index]
    entries[index] = (
        place.label if isinstance(entry, str) else PinInHole(hole=place.label, pin=entry.pin)
    )
    first, second, stop = entries
    if len({hole_of(each) for each in entries}) < len(entries):
        return None
    changed = EdgePins(edge=(first, second), stop=stop)
    station: Station = facts.station.model_copy(update={"pins": changed, "corner": None})
    return facts._replace(station=station)
