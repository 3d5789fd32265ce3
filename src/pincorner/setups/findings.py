"""What is noteworthy about a setup, told on table, block, sheet, map and in JSON alike."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from textwrap import shorten
from typing import NamedTuple

from pincorner.bed import concerns, lies_on_plane, replaced_since, slats_of_hole, slats_under
from pincorner.documents.fields import key_of
from pincorner.documents.jigs import Nest, OnDowels
from pincorner.documents.records import Surfacing
from pincorner.geometry.outline import TOUCH_MM, Outline, bounds, distance_to
from pincorner.geometry.pose import XY, Pose
from pincorner.setups.facts import Facts
from pincorner.setups.heights import (
    Heights,
    ends_below,
    over_stock_mm,
    rises_mm,
    stands_higher_mm,
    surface_around,
    surface_heights,
)
from pincorner.setups.locating import Located, SetPin
from pincorner.setups.person import EDGES, Person
from pincorner.setups.pin_fit import gives_way_mm
from pincorner.units import MM_PER_INCH, UP, figure, fixed, told, told_up


class Finding(NamedTuple):
    """A code for scripts, a sentence with its figure for people, and where on the bed it is.

    `figure_mm`: the figure in the sentence. `place_mm`: bed coordinates, None where it is nowhere.
    `ways_out`: what helps, each by itself. `of`: the station of a run that it is about, if one is.
    """

    code: str
    text: str
    figure_mm: float | None = None
    place_mm: XY | None = None
    ways_out: tuple[str, ...] = ()
    of: str = ""

    @property
    def told(self) -> str:
        """The sentence with what helps."""
        if not self.ways_out:
            return self.text
        return f"{self.text}. Ways out: {'; '.join(self.ways_out)}"


def of_its_day(finding: Finding) -> bool:
    """Whether something is noteworthy on the day of a paper alone: how far a zero lies from the
    paper before it."""
    return finding.code == "offset-moved"


_NOTE_LENGTH = 80
"""So many characters of a note stand in a sentence."""

ASKEW_DEG = 1.0
"""Shims and unlike pins turn a jig by less: common practice."""


class Placed(NamedTuple):
    """What findings look at: one nest of a station, located; the jig's footprint on the bed.

    `skew_mm`: the deviation over the stock of an angle that is not written. `person`: whose
    words of direction they use.
    """

    facts: Facts
    located: Located
    nest: Nest
    footprint: Outline
    nest_in_bed: Pose
    zero_in_machine: Pose
    heights: Heights
    skew_mm: float
    person: Person = Person()

    def told(self, length_mm: float, decimals: int = 3) -> str:
        """A length as sentences tell it: in the machine's unit."""
        return told(length_mm, self.facts.machine.units, decimals)

    def up(self, length_mm: float, decimals: int = 1) -> str:
        """A height, or how far something reaches over: never told too small."""
        return told_up(length_mm, self.facts.machine.units, decimals)

    def up_less(self, length_mm: float, less_mm: float) -> str:
        """The difference of two lengths as `up` tells both, so that a reader's sum agrees."""
        unit = self.facts.machine.units
        both = (float(figure(each, unit, 1, UP)) for each in (length_mm, less_mm))
        return f"{fixed(next(both) - next(both), 1 + (unit == 'in'))} {unit}"

    def top_mm(self, pin: SetPin) -> float:
        """How high a pin of the station reaches above the surface that the jig lies on."""
        higher_mm = stands_higher_mm(self.facts, self.footprint, pin.at_mm, pin.pin.body / 2)
        return pin.pin.height + higher_mm


def find_all(placed: Placed) -> tuple[Finding, ...]:
    """Everything noteworthy about one nest."""
    return (
        *_outside_travel(placed),
        *_below_bed(placed),
        *_outside_bed(placed),
        *_askew(placed),
        *_other_pins(placed),
        *_dowels(placed),
        *_pins_above_stock(placed),
        *_slat_step(placed),
        *_tilt(placed),
        *_old_survey(placed),
        *_moved(placed),
        *_unit_slip(placed),
        *_own_max_skew(placed),
        *_disturbed(placed),
        *_as_measured(placed),
    )


def _outside_travel(placed: Placed) -> Iterator[Finding]:
    """Axes on which the program zero lies outside the machine's travel."""
    machine, zero = placed.facts.machine, placed.zero_in_machine
    travel = machine.travel
    if travel is None or not machine.homes:
        return
    axes = (
        ("X", zero.x_mm, travel.x),
        ("Y", zero.y_mm, travel.y),
        ("Z", placed.heights.machine_z_mm, travel.z),
    )
    at = placed.nest_in_bed.origin
    for axis, value, span in axes:
        if value is None or span is None or span[0] <= value <= span[1]:
            continue
        beyond = max(span[0] - value, value - span[1])
        text = (
            f"{axis} {placed.told(value)} lies {placed.told(beyond)} outside the travel of "
            f"{machine.name} ({placed.told(span[0])} to {placed.told(span[1])})"
        )
        yield Finding("outside-travel", text, beyond, at)


def _below_bed(placed: Placed) -> Iterator[Finding]:
    """A surface below the bed or out of the travel's reach, where Z cannot be right.

    Program zero itself never lies below it: seats and waste sheets have no negative height.
    """
    surface = placed.heights.surface_mm
    if surface is None:
        return
    whose = f"the surface under {placed.facts.holder.name}"
    said = f"{whose} lies at machine Z {placed.told(surface)}"
    at = placed.nest_in_bed.origin
    for by_mm, text in (*_below_underside(placed, surface), *_below_travel(placed, surface)):
        yield Finding("below-bed", f"{said}, {text}", by_mm, at)


def _below_underside(placed: Placed, surface: float) -> Iterator[tuple[float, str]]:
    """How far the surface lies below the underside of the bed as it was described."""
    bed = placed.facts.bed
    if bed.surface is None or bed.thickness is None:
        return
    below = bed.surface - bed.thickness - surface
    if below > 0:
        yield (
            below,
            f"{placed.told(below)} below the underside of bed {bed.name} as it is on file: is a "
            "height or a unit wrong?",
        )


def _below_travel(placed: Placed, surface: float) -> Iterator[tuple[float, str]]:
    """Travel that ends above the stock's underside, or lies below the bed altogether."""
    machine = placed.facts.machine
    if machine.travel is None or machine.travel.z is None or not machine.homes:
        return
    low, high = machine.travel.z
    if surface > high:
        yield (
            surface - high,
            f"{placed.told(surface - high)} above the travel of {machine.name}, all of which is "
            "then below the bed surface: is a sign wrong?",
        )
    short = low - surface - placed.heights.stock_bottom_mm
    if short > 0 and not _all_stand_out(placed, short):
        yield (
            short,
            f"and the underside of the stock {placed.told(short)} below the lower end of the "
            f"travel of {machine.name}: a tool that stands out less does not reach it",
        )


def _all_stand_out(placed: Placed, length_mm: float) -> bool:
    """Whether every tool of the program is known to stand out of the nose so far."""
    program = placed.facts.program_of(placed.nest)
    lengths = [tool.stickout for tool in program.tools.values()] if program else []
    return bool(lengths) and all(each is not None and each >= length_mm for each in lengths)


def _outside_bed(placed: Placed) -> Iterator[Finding]:
    """A jig or stock that hangs over the bed's outline: what reaches farthest."""
    bed = placed.facts.bed
    box = bed.box
    parts: tuple[tuple[str, Outline], ...] = (
        (placed.facts.holder.name, placed.footprint),
        (f"stock of nest {placed.nest.name}", placed.nest_in_bed.points(placed.nest.stock.outline)),
    )
    over: list[tuple[float, str, XY, XY]] = []
    for name, outline in parts:
        around = bounds(outline)
        sides = {
            (-1.0, 0.0): box.left - around.left,
            (0.0, -1.0): box.front - around.front,
            (1.0, 0.0): around.right - box.right,
            (0.0, 1.0): around.back - box.back,
        }
        over += [(most, name, side, around.middle) for side, most in sides.items()]
    most, name, side, middle = max(over, key=lambda each: each[0])
    if most > 0.001:
        edge = EDGES[placed.person.way_on_bed(side)]
        text = f"{name} reaches {placed.up(most)} over the {edge} edge of {bed.edge_told}"
        yield Finding("outside-bed", text, most, middle)


def _askew(placed: Placed) -> Iterator[Finding]:
    """Pins that do not stand in one row or column: meant so, or a hole mistyped."""
    angle_deg = placed.located.corner_in_bed.angle_deg
    if abs(angle_deg) <= ASKEW_DEG or placed.located.as_measured:
        return
    first, second = placed.located.pins[:2]
    text = (
        f"pins {first.hole} and {second.hole} do not stand in one row or column: "
        f"{placed.facts.holder.name} lies at {fixed(angle_deg, 2)} degrees to the grid"
    )
    yield Finding("pins-askew", text, None, second.at_mm)


def _other_pins(placed: Placed) -> Iterator[Finding]:
    """Pins of other stations under this jig or its solids, as high as stock that sticks out of it,
    or in the way of this station's pins. A pin that both have is none of the other's."""
    facts = placed.facts
    if facts.used is None:
        return
    points = placed.located.jig_in_bed.points
    jig = [placed.footprint, *map(points, facts.holder.solids_out)]
    stock, stock_mm = [*map(points, facts.holder.stock_out)], placed.heights.stock_bottom_mm
    around = bounds(tuple(point for outline in (*jig, *stock) for point in outline))
    mine_mm = max((pin.radius_mm for pin in placed.located.pins), default=0.0)  # they touch it
    reach_mm = 2 * mine_mm + facts.used.largest_mm / 2
    own = {(pin.hole, pin.pin.name) for pin in placed.located.pins}
    for used in facts.used.within(around.grown(reach_mm)):
        station = used.other_than(key_of(facts.station.name))
        if station is None or (used.hole, used.pin.name) in own:
            continue
        whose = f"pin {used.pin.name} of station {station} in {used.hole}"
        on_mm = surface_around(facts, used.at_mm, used.pin.body / 2) if stock else None
        below = ends_below(used.pin.height, on_mm, stock_mm, placed.heights.surface_mm)
        met = jig if below else [*jig, *stock]
        nearest_mm = min(distance_to(outline, used.at_mm) for outline in met)
        gives_mm = gives_way_mm(facts, used.pin, used.at_mm)
        if used.pin.body / 2 - gives_mm - nearest_mm > TOUCH_MM:
            text = f"{whose} stands under or in the way of {facts.holder.name}"
            yield Finding("pin-under-jig", text, None, used.at_mm)
            continue
        for mine in placed.located.pins:
            overlap = mine.radius_mm + used.pin.body / 2 - math.dist(mine.at_mm, used.at_mm)
            if overlap > TOUCH_MM:
                text = f"{whose} and pin {mine.pin.name} in {mine.hole} are in each other's way"
                yield Finding("pins-collide", text, overlap, used.at_mm)


def _dowels(placed: Placed) -> Iterator[Finding]:
    """Dowels that stand into the part, or do not go into the jig's own holes."""
    holder, way = placed.facts.holder, placed.facts.holder.locate
    if not isinstance(way, OnDowels) or not placed.located.on_dowels:
        return
    room = placed.facts.station.under + holder.seat
    openings = (("round hole", way.round.hole), ("slot", way.slot.width))
    for pin, (word, size) in zip(placed.located.pins, openings, strict=True):
        proud = placed.top_mm(pin) - room
        if proud > TOUCH_MM:
            high = placed.up(proud)
            text = f"the pin in {pin.hole} stands {high} above the seat, into the part"
            yield Finding("pin-proud", text, proud, pin.at_mm)
        tight = pin.pin.body - size
        if tight > 0:
            text = (
                f"the pin in {pin.hole} is {placed.told(tight)} larger than the {word} of "
                f"{holder.name}"
            )
            yield Finding("dowel-tight", text, tight, pin.at_mm)


def _pins_above_stock(placed: Placed) -> Iterator[Finding]:
    """Pins that reach over the top of the stock, where a cutter may pass.

    Both stand on the bed: a pin by its height, on the slat around its hole, the stock on waste
    sheet and seat. Dowels stand under the part, and `_dowels` tells of those that do not.
    """
    if placed.located.on_dowels:
        return
    stock_mm = placed.heights.stock_top_mm
    tops = [(placed.top_mm(pin), pin) for pin in placed.located.pins]
    over = [(top_mm, pin) for top_mm, pin in tops if over_stock_mm(top_mm, stock_mm)]
    if not over:
        return
    top_mm, highest = max(over, key=lambda each: each[0])
    most = over_stock_mm(top_mm, stock_mm)
    whose, stand = ("pin", "stands") if len(over) == 1 else ("pins", "stand")
    nest = "" if placed.facts.is_bare else f" of nest {placed.nest.name}"
    text = (
        f"{whose} {', '.join(pin.hole for _, pin in over)} {stand} "
        f"{placed.up(top_mm)} above the bed, {placed.up(most)} higher than "
        f"the top of the stock{nest} (which is {placed.up_less(top_mm, most)} above the bed): use "
        f"shorter pins, or keep the cutter off {'it' if len(over) == 1 else 'them'}"
    )
    yield Finding("pin-above-stock", text, most, highest.at_mm)


def _slat_step(placed: Placed) -> Iterator[Finding]:
    """Slats of different height under one jig."""
    if not placed.facts.bed.slats:
        return
    outline = placed.footprint
    known = [height for height in surface_heights(placed.facts, outline) if height is not None]
    step = max(known, default=0.0) - min(known, default=0.0)
    if step > 0.001:
        text = (
            f"the slats under {placed.facts.holder.name} differ by {placed.up(step, 3)} in height; "
            "the highest counts"
        )
        yield Finding("slat-step", text, step, outline[0])


TILT_MM = 0.1
"""A surveyed plane that rises by more over the stock is told."""


def _tilt(placed: Placed) -> Iterator[Finding]:
    """A surface that is not level under the stock: how much, and where it is highest."""
    corners = placed.nest_in_bed.points(placed.nest.stock.outline)
    zero = placed.nest_in_bed.origin
    rises = rises_mm(placed.facts, placed.footprint, zero, corners)
    if not rises:
        return
    span_mm = max(rises) - min(rises)
    if span_mm <= TILT_MM:
        return
    highest = corners[rises.index(max(rises))]
    middle = bounds(corners).middle
    right, away = placed.person.bed_vector((highest[0] - middle[0], highest[1] - middle[1]))
    where = f"{'far' if away > 0 else 'near'} {'right' if right > 0 else 'left'}"
    text = (
        f"the surface rises by {placed.up(span_mm, 2)} under the stock of nest "
        f"{placed.nest.name}, highest at its {where} corner; Z counts from the surface at the zero"
    )
    yield Finding("surface-tilted", text, span_mm, highest)


def _old_survey(placed: Placed) -> Iterator[Finding]:
    """A survey made before the surface was last cut (both are named by date), where it matters.

    X and Y do not move with the surface. Z that is set by touch does not count on surveyed heights,
    nor does that of slats with a height of their own, or where other slats were cut.
    """
    facts, bed, survey, cuts = placed.facts, placed.facts.bed, placed.facts.survey, []
    if survey is not None:
        cuts = [cut for cut in facts.surfacings if cut.name > survey.name]
    if survey is None or not cuts:
        return
    older = f"survey {survey.name} is older than surfacing"
    if facts.station.z.set != "touch":
        on_plane = [
            slat
            for slat in slats_under(bed, placed.footprint)
            if lies_on_plane(bed, survey, facts.surfacings, slat)
        ]
        last = _last_of(cuts, on_plane)
        if last is not None:
            why = "and Z counts on its heights: survey heights again"
            yield Finding("survey-old", f"{older} {last.name}, {why}")
    pins = [slat for pin in placed.located.pins for slat in slats_of_hole(bed, pin.at_mm)]
    if facts.station.measured_holes:
        new = [slat for slat in pins if replaced_since(survey, cuts, slat)]
        last = _last_of([cut for cut in cuts if cut.surface is not None], new)
        if last is not None:
            why = "and the slats of its pins are new: survey again"
            yield Finding("survey-old", f"{older} {last.name}, {why}")


def _last_of(cuts: Sequence[Surfacing], slats: Sequence[str | None]) -> Surfacing | None:
    """The last surfacing that changed one of some slats."""
    mine = (cut for cut in reversed(cuts) if any(concerns(cut, slat) for slat in slats))
    return next(mine, None)


def _moved(placed: Placed) -> Iterator[Finding]:
    """An offset further than a pitch from the last one on paper: a slip, or another place."""
    last = placed.facts.papers.get(placed.nest.name)
    if last is None:
        return
    zero = placed.zero_in_machine
    moved = math.hypot(zero.x_mm - last.x_mm, zero.y_mm - last.y_mm)
    if moved <= max(placed.facts.bed.grid.pitch):
        return
    text = (
        f"the zero of nest {placed.nest.name} lies {placed.told(moved, 1)} from where the last "
        f"paper ({last.fingerprint}) has it"
    )
    for mine, theirs in ((zero.x_mm, last.x_mm), (zero.y_mm, last.y_mm)):
        if min(abs(mine), abs(theirs)) > 0.1 and _apart_by_inch(mine, theirs):
            text += ", 25.4 times apart: is a unit wrong?"
            break
    yield Finding("offset-moved", text, moved, placed.nest_in_bed.origin)


def _apart_by_inch(first: float, second: float) -> bool:
    ratio = max(abs(first), abs(second)) / min(abs(first), abs(second))
    return abs(ratio / MM_PER_INCH - 1) < 0.01


def _unit_slip(placed: Placed) -> Iterator[Finding]:
    """A nest whose stock is about 25.4 times larger or smaller than its neighbour's."""
    mine = placed.nest.stock.size
    for other in placed.facts.holder.nests:
        for own, theirs in zip(mine, other.stock.size, strict=True):
            if _apart_by_inch(own, theirs):
                text = (
                    f"stock of nest {placed.nest.name} measures {placed.told(own)} where nest "
                    f"{other.name} has {placed.told(theirs)}, 25.4 times apart: is a unit wrong?"
                )
                yield Finding("unit-slip", text)
                return


def _own_max_skew(placed: Placed) -> Iterator[Finding]:
    """A station that bears more skew than its machine's others, or less: whoever works it knows."""
    own, machine = placed.facts.station.max_skew, placed.facts.machine
    if own is None or own == machine.max_skew:
        return
    bears = f"station {placed.facts.station.name} may lie {placed.told(own)} askew"
    others = f"others on {machine.name} {placed.told(machine.max_skew)} (max_skew)"
    text = f"{bears}, {others}"
    if machine.max_skew < placed.skew_mm <= own:
        text += f"; its stock lies {placed.told(placed.skew_mm)} askew, and nothing turns that"
    yield Finding("own-max-skew", text, own)


def _disturbed(placed: Placed) -> Iterator[Finding]:
    """A bed that may not lie where it did: nothing that is reckoned from its place can tell."""
    record = placed.facts.disturbed
    if record is None:
        return
    why = (
        "" if record.note is None else f" ({shorten(record.note, _NOTE_LENGTH, placeholder=' ..')})"
    )
    text = (
        f"bed {record.bed} was disturbed, {record.name}{why}: where it lies is not known until it "
        "is surveyed, or zeros are verified at two stations far apart"
    )
    yield Finding("bed-disturbed", text)


def _as_measured(placed: Placed) -> Iterator[Finding]:
    """A zero that no pins hold: what is not known of it, and what has happened since that day."""
    facts, measured = placed.facts, placed.facts.station.measured
    if measured is None:
        return
    by = f" by {measured.by}" if measured.by else ""
    text = (
        f"the zero was measured {measured.when}{by} and is not held against pins; how well it is "
        "known is not given, and the jig counts as square to the axes of the machine"
    )
    if key_of(placed.nest.name) not in placed.located.zeros:
        first = next(iter(placed.located.zeros))
        text += f"; nest {placed.nest.name} follows from nest {first} by the jig's document"
    yield Finding("as-measured", text)
    survey, disturbed = facts.survey, facts.disturbed
    if disturbed is not None and measured.is_before(disturbed.name):
        why = f"the disturbance {disturbed.name} of bed {facts.bed.name}: touch X and Y off anew"
    elif survey is not None and measured.is_before(survey.name):
        why = (
            f"survey {survey.name} of bed {facts.bed.name}, which does not move it: it holds as "
            "long as the machine's reference does"
        )
    else:
        return
    yield Finding("measured-before", f"the zero was measured {measured.when}, no later than {why}")
