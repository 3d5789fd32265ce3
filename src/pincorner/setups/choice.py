"""Choosing pins for a jig at a pin corner: those with which its zero is known best.

All candidates are judged at once with NumPy, by the same lines that judge one station
(geometry/contact.py, geometry/spread.py); the best few are then set up in full and compared.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.documents.beds import Hole
from pincorner.documents.jigs import Nest
from pincorner.documents.stations import EdgePins
from pincorner.errors import Refused
from pincorner.geometry.contact import Corner, Pins, Scalar, corner_from_pins
from pincorner.geometry.outline import TOUCH_MM, Outline
from pincorner.geometry.pose import XY, Pose
from pincorner.geometry.spread import Spread, corner_spread, spreads_together, total
from pincorner.setups.budget import (
    Source,
    bed_not_given,
    contact_spread,
    known,
    other_sources,
    rounding_source,
)
from pincorner.setups.facts import Facts, with_pins
from pincorner.setups.holes import alike, bed_pose, measured_holes, refuse_pin, true_place
from pincorner.setups.locating import (
    ON_LINE,
    Parts,
    is_square,
    jig_in_quadrant,
    locate,
    long_axis,
    near_ends,
    straight_parts,
    touches,
    well_apart,
)
from pincorner.setups.pin_fit import PinFit, pin_fit
from pincorner.setups.transform import make_budgets
from pincorner.units import told

Array = NDArray[np.float64]

SAME_MM = 1e-6
"""Uncertainties closer than this are the same: then the pins nearest to the corner count."""

_JUDGED_IN_FULL = 24
SLACK = 0.1
"""By this share of the pitch, at most, the pins chosen move a jig from where its corner hole alone
would have it; what is in the way by less is judged again when the pins are known."""


class FartherIn(NamedTuple):
    """The best of the pins none of which touches nearer to an end of its edge than it is thick.

    near: of the pins that were chosen instead, which touch nearer, told. gives, instead: what these
    and those give, told.
    """

    pins: EdgePins
    near: str
    gives: str
    instead: str


class Choice(NamedTuple):
    """The pins chosen, and why; others, where one of them touches near an end of its edge."""

    pins: EdgePins
    reason: str
    farther_in: FartherIn | None = None


class _Side(NamedTuple):
    """One side of the pin corner: the straight parts of the jig's edge, and the usable holes whose
    pins touch it, or nearly: how far along it each would if it moved the jig by nothing."""

    holes: list[Hole]
    at_mm: Array
    parts: Parts

    @property
    def touching(self) -> int:
        """How many holes touch it."""
        return int(np.sum(touches(self.at_mm, self.parts)))


class _Way(NamedTuple):
    """Which side gets two pins and which the stop; triples (n, 3) of indices into the two, which
    locate the jig, the worst standard deviation that each leaves, mm, and which touch nowhere near
    an end."""

    edge: _Side
    stop: _Side
    triples: NDArray[np.intp]
    worst: Array
    far_in: NDArray[np.bool_]


class _Ranked(NamedTuple):
    """Pins that locate the jig, in the order in which they are better.

    steps: u95 in steps of SAME_MM. way: 0 with two pins on the long edge, 1 with two on the other.
    labels: of the edge pins, nearest to the corner first, and of the stop.
    """

    steps: int
    way: int
    distance_mm: float
    labels: tuple[str, str, str]
    u95_mm: float

    @property
    def pins(self) -> EdgePins:
        """The pins as a document has them."""
        return EdgePins(edge=self.labels[:2], stop=self.labels[2], chosen=True)

    @property
    def named(self) -> str:
        """The pins as they are told."""
        first, second, third = self.labels
        return f"edge {first} {second} and stop {third}"


def choose_pins(facts: Facts) -> Choice:
    """Pins at the station's `corner`, `toward` its quadrant. Raises Refused where none will do.

    Either edge gets two pins, the other the stop. Of all usable holes that touch, those make the
    smallest u95_worst_mm; ties go to two on the long edge (on a square's along X), then to the
    holes nearest to the corner, then by label.
    """
    station = facts.station
    refuse_pin(facts, facts.pin_of(station.pin), station.corner or "")
    long, short = _sides(facts)
    ways = [_way(facts, long, short), _way(facts, short, long)]
    count = sum(len(way.triples) for way in ways)
    if not count:
        raise Refused(
            "no-pins",
            f"station {station.name}: from corner {station.corner} toward {station.toward} the "
            f"edges of {facts.holder.name} reach {long.touching} usable holes on the long edge "
            f"and {short.touching} on the other; two well apart on one of them and one on the "
            "other are needed",
        )
    order = _order(ways)
    ranked = sorted(_in_full(facts, ways, order[:_JUDGED_IN_FULL]))
    if not ranked:
        raise Refused(
            "no-pins", f"station {station.name}: no pins at corner {station.corner} locate the jig"
        )
    best_of_long = next((each for each in ranked if each.way == 0), None)
    if best_of_long is None:
        long_ones = order[order < len(ways[0].triples)][:_JUDGED_IN_FULL]
        best_of_long = min(_in_full(facts, ways, long_ones), default=None)
    reason = _reason(facts, ranked, count)
    if ranked[0].way == 1:
        reason += _why_not_long(facts, best_of_long)
    return _choice(facts, ranked[0], reason, ways, order)


def _way(facts: Facts, edge: _Side, stop: _Side) -> _Way:
    """Every choice of two holes of one side and one of the other that locates the jig."""
    first, second = np.triu_indices(len(edge.holes), 1)
    pair, third = (each.ravel() for each in np.indices((len(first), len(stop.holes))))
    triples = np.stack((first[pair], second[pair], third), axis=1)
    kept, worst = [np.empty((0, 3), dtype=np.intp)], [np.empty(0)]
    far_in, least_mm = [np.empty(0, dtype=bool)], facts.pin_of(facts.station.pin).body
    for those, some in _as_known(facts, edge, stop, triples):
        contacts = _of_triples(those, edge, stop, some)
        good = that_hold(contacts, edge.parts, stop.parts)
        held = Contacts(*(each[good] for each in contacts))
        kept.append(some[good])
        worst.append(worst_sds(those, held))
        far_in.append(_touch(_touched_mm(held), edge.parts, stop.parts, -least_mm))
    return _Way(edge, stop, *(np.concatenate(each) for each in (kept, worst, far_in)))


def _as_known(
    facts: Facts, edge: _Side, stop: _Side, triples: NDArray[np.intp]
) -> Iterator[tuple[Facts, NDArray[np.intp]]]:
    """Choices with the facts that tell where their holes are and how well that is known.

    Of a station on measured holes, those in measured holes alone have the facts of a station that
    stands in them: what counts is the same for all of them.
    """
    without = facts._replace(station=facts.station.model_copy(update={"pins": None}))
    if not facts.station.measured_holes:
        yield without, triples
        return
    labels = [[hole.label for hole in side.holes] for side in (edge, stop)]
    found = measured_holes(facts, labels[0] + labels[1])
    here, there = (np.array([label in found for label in side], dtype=bool) for side in labels)
    all_measured = here[triples[:, 0]] & here[triples[:, 1]] & there[triples[:, 2]]
    yield without, triples[~all_measured]
    for first, second, third in triples[all_measured][:1]:
        pins = EdgePins(edge=(labels[0][first], labels[0][second]), stop=labels[1][third])
        yield facts._replace(station=with_pins(facts.station, pins)), triples[all_measured]


def that_hold(contacts: Contacts, edge: Parts, stop: Parts) -> NDArray[np.bool_]:
    """Which of n choices of pins locate a jig with these straight parts on its sides, as
    `setups.locating.locate` demands it."""
    first, second, third = touched_mm = _touched_mm(contacts)
    found = _touch(touched_mm, edge, stop)
    found &= well_apart(first, second, edge)
    off_line = third + contacts.reaches[:, 0]  # of the stop, from the line of the edge pins
    found &= off_line > contacts.reaches[:, 2]  # as `why_no_corner` has it
    return found


def _touch(
    touched_mm: tuple[Scalar, Scalar, Scalar], edge: Parts, stop: Parts, slack_mm: float = TOUCH_MM
) -> NDArray[np.bool_]:
    """Which of n choices touch the straight parts of both sides, with so much slack at their ends;
    with less than none that far from them."""
    sides = zip(touched_mm, (edge, edge, stop), strict=True)
    found: NDArray[np.bool_] = np.all([touches(at, parts, slack_mm) for at, parts in sides], axis=0)
    return found


def _touched_mm(contacts: Contacts) -> tuple[Scalar, Scalar, Scalar]:
    """How far from its corner each pin of n choices touches the jig."""
    with np.errstate(divide="ignore", invalid="ignore"):  # pins in one line make no corner
        return _corner_of(contacts).touched_mm


def _order(ways: Sequence[_Way]) -> NDArray[np.intp]:
    """Numbers of all choices, one way's after the other's, as far as can be told before they are
    set up in full: the best first."""
    judged = np.concatenate([way.worst for way in ways])
    number = np.repeat(np.arange(len(ways)), [len(way.triples) for way in ways])
    distance = np.concatenate([_distance(way) for way in ways])
    return np.lexsort((distance, number, np.round(judged / SAME_MM)))


def _reason(facts: Facts, ranked: Sequence[_Ranked], count: int) -> str:
    """What was chosen and what it gives, and the next best."""
    best, unit = ranked[0], facts.machine.units
    if known(best.u95_mm) is None:
        reason = f"{best.named}: nearest to the corner, since how well it lies is not known"
        return f"{reason}; {count} choices"
    reason = f"{best.named}: lies within {told(best.u95_mm, unit)}"
    reason += " on the bed" if bed_not_given(facts) else ""
    if len(ranked) == 1:
        return f"{reason}, the only pins that will do"
    following = f"{ranked[1].named}: {told(ranked[1].u95_mm, unit)}"
    return f"{reason}, the least of {count} choices; next {following}"


def _why_not_long(facts: Facts, best: _Ranked | None) -> str:
    """That the other edge than the long one carries two, and what two on the long one give."""
    outline = _jig(facts).points(facts.holder.outline)
    here, there = "the shorter edge", "the longer"
    if is_square(outline):
        here, there = "the edge along Y", "that along X"
    if best is None:
        return f"; two on {here}, since no two on {there} will do"
    least = told(best.u95_mm, facts.machine.units)
    return f"; two on {here}, since the best with two on {there}, {best.named}, gives {least}"


def _choice(
    facts: Facts, best: _Ranked, reason: str, ways: Sequence[_Way], order: NDArray[np.intp]
) -> Choice:
    """The best pins; where they touch near an end of an edge, also the best that do not."""
    unit = facts.machine.units
    chosen = facts._replace(station=with_pins(facts.station, best.pins))
    near = "; ".join(
        f"pin {pin.hole} touches {told(left_mm, unit, 1)} from an end of its edge, less than it is "
        "thick"
        for pin, left_mm, _ in near_ends(chosen, locate(chosen))
    )
    if not near:
        return Choice(best.pins, reason)
    reason += f"; {near}: look whether it holds there; "
    far_in = np.concatenate([way.far_in for way in ways])
    inner = min(_in_full(facts, ways, order[far_in[order]][:_JUDGED_IN_FULL]), default=None)
    if inner is None:
        return Choice(best.pins, f"{reason}no others do that touch farther in")
    gives, instead = (
        each.named if known(each.u95_mm) is None else f"{each.named}: {told(each.u95_mm, unit)}"
        for each in (inner, best)
    )
    farther_in = FartherIn(inner.pins, near, gives, instead)
    return Choice(best.pins, f"{reason}the best that touch farther in are {gives}", farther_in)


def _sides(facts: Facts) -> tuple[_Side, _Side]:
    """The long side, a square's along X, then the other."""
    station = facts.station
    assert station.corner is not None
    assert station.toward is not None
    corner = facts.bed.hole(station.corner)
    if corner is None:
        raise Refused("no-corner", f"bed {facts.bed.name} has no hole {station.corner}")
    signs = tuple(1 if sign == "+" else -1 for sign in station.toward[::2])
    outline = _jig(facts).points(facts.holder.outline)
    sides = [_side(facts, corner, axis, signs[axis], outline) for axis in (0, 1)]
    long = long_axis(outline)
    return sides[long], sides[1 - long]


def _jig(facts: Facts) -> Pose:
    """The jig with the station's turn, toward its quadrant, from the corner."""
    signs = tuple(1 if sign == "+" else -1 for sign in (facts.station.toward or "")[::2])
    return jig_in_quadrant(facts.holder.outline, facts.station.turn, *signs)


def _side(facts: Facts, corner: Hole, axis: int, sign: int, outline: Outline) -> _Side:
    """Usable holes on the corner's row (axis 0) or column (1) whose pins may touch the jig."""
    bed, pin = facts.bed, facts.pin_of(facts.station.pin)
    parts = straight_parts(outline, 1 - axis, facts.station.toward or "")
    pitch_mm = min(bed.grid.pitch)
    from_mm = true_place(facts, corner.label, corner.at_mm)[axis]
    reach_mm = pin.body / 2 - pin_fit(facts, pin, corner.at_mm).shift_mm
    found: list[tuple[float, Hole]] = []
    for place in bed.line_of_holes(corner, axis, ON_LINE * pitch_mm):
        if place.usable and sign * (place.at_mm[axis] - corner.at_mm[axis]) > 0:
            away_mm = sign * (true_place(facts, place.label, place.at_mm)[axis] - from_mm)
            if touches(away_mm - reach_mm, parts, SLACK * pitch_mm):
                found.append((away_mm - reach_mm, place))
    found.sort(key=lambda item: item[0])
    return _Side([place for _, place in found], np.array([at for at, _ in found]), parts)


class Contacts(NamedTuple):
    """Contacts of the edge pins, nearest to the corner first, and of the stop, of n choices.

    places: (n, 3, 2), centres of the holes on the bed, mm. variances: (n, 3), mm2, but for leans;
    lean_sds, reaches: (n, 3), mm, of the lean, and from the hole's centre to the contact.
    """

    places: Array
    variances: Array
    lean_sds: Array
    reaches: Array


def contacts_of(facts: Facts, holes: Iterable[tuple[XY, XY]]) -> Contacts:
    """The contacts (h, ..) that the station's pin makes in holes: as drawn, and where they are."""
    pin, known = facts.pin_of(facts.station.pin), dict[object, tuple[float, PinFit]]()
    places, spreads = [], []
    for drawn_mm, true_mm in holes:
        places.append(true_mm)
        kind = alike(facts, drawn_mm)
        if kind not in known:
            known[kind] = contact_spread(facts, pin, drawn_mm)
        spreads.append(known[kind])
    return Contacts(
        np.array(places).reshape(-1, 2),
        np.array([variance for variance, _ in spreads]),
        np.array([fit.lean_sd_mm for _, fit in spreads]),
        np.array([pin.body / 2 - fit.shift_mm for _, fit in spreads]),
    )


def worst_sds(facts: Facts, pins: Contacts) -> Array:
    """Worst standard deviation over all stock corners, mm, of each of n choices of pins.

    All choices lie `toward` and at the `turn` of the station, whose pins they are.
    """
    worst = np.zeros(len(pins.places))
    for each in nest_spreads(facts, pins):
        for arm, way in product(each.arms_mm, each.together):
            worst = np.maximum(worst, way.worst_sd(*arm))
    return worst


class NestSpread(NamedTuple):
    """How well the zero of one nest is known with each of n choices of pins.

    corner: in bed coordinates. zero_mm: on the bed. inward: the corner's in the machine. arms_mm:
    from the zero to the stock's corners in the machine. others: what does not come from the pins.
    together: in each way in which leans may be bound to each other.
    """

    corner: Corner
    zero_mm: tuple[Scalar, Scalar]
    inward: tuple[Scalar, Scalar]
    arms_mm: list[XY]
    others: list[Source]
    together: tuple[Spread, ...]


def nest_spreads(facts: Facts, contacts: Contacts) -> Iterator[NestSpread]:
    """The spread of every nest's zero; arguments as `worst_sds` takes them."""
    corner, (variances, leans) = _corner_of(contacts), map(_columns, contacts[1:3])
    leaning = bool(contacts.lean_sds.any())
    bed_in_machine = bed_pose(facts)
    inward = bed_in_machine.vector(corner.inward)
    for nest in facts.holder.nests:
        zero, arms = _zero_and_arms(facts, nest, corner.point)
        turned = [bed_in_machine.vector(arm) for arm in arms]
        others, _ = other_sources(facts, zero, bed_in_machine)
        others += rounding_source(facts)
        pins = corner_spread(corner, zero, variances, inward)
        alone = total([pins, *(each.spread for each in others)])
        ways = spreads_together(corner, zero, leans, inward) if leaning else (Spread(),)
        together = tuple(total((alone, way)) for way in ways)
        yield NestSpread(corner, zero, inward, turned, others, together)


def _corner_of(contacts: Contacts) -> Corner:
    """The corners that n choices of pins make."""
    first, second, stop = (tuple(contacts.places[:, at].T) for at in range(3))
    return corner_from_pins(Pins(first, second, stop, _columns(contacts.reaches)))


def _columns(values: Array) -> tuple[Scalar, Scalar, Scalar]:
    return values[:, 0], values[:, 1], values[:, 2]


def _of_triples(facts: Facts, edge: _Side, stop: _Side, triples: NDArray[np.intp]) -> Contacts:
    """The contacts of triples of holes of two sides."""
    along, across = (
        contacts_of(
            facts, ((each.at_mm, true_place(facts, each.label, each.at_mm)) for each in side.holes)
        )
        for side in (edge, stop)
    )
    picked = [(along, triples[:, 0]), (along, triples[:, 1]), (across, triples[:, 2])]
    columns = ([each[at] for each in side] for side, at in picked)
    return Contacts(*(np.stack(each, axis=1) for each in zip(*columns, strict=True)))


def _zero_and_arms(
    facts: Facts, nest: Nest, corner_point: tuple[Scalar, Scalar]
) -> tuple[tuple[Scalar, Scalar], list[tuple[float, float]]]:
    """Zeros of a nest on the bed, and its stock's corners from there; small angles left out.

    Every candidate's corner is nearly parallel to the bed: its angle moves the zero by far less
    than would change which pins are better.
    """
    own = _jig(facts) @ nest.in_jig
    zero = (corner_point[0] + own.x_mm, corner_point[1] + own.y_mm)
    return zero, [own.vector(point) for point in nest.stock.outline]


def _distance(way: _Way) -> Array:
    """How far the pins of each choice stand from the corner, all together, mm."""
    first, second, third = way.triples.T
    total: Array = way.edge.at_mm[first] + way.edge.at_mm[second] + way.stop.at_mm[third]
    return total


def _in_full(facts: Facts, ways: Sequence[_Way], numbers: NDArray[np.intp]) -> Iterator[_Ranked]:
    """Those that locate the jig, of choices numbered as by `_order`."""
    for number in numbers:
        at = int(number >= len(ways[0].triples))
        edge, stop, triples = ways[at][:3]
        first, second, third = triples[number - at * len(ways[0].triples)]
        labels = (edge.holes[first].label, edge.holes[second].label, stop.holes[third].label)
        distance = edge.at_mm[first] + edge.at_mm[second] + stop.at_mm[third]
        found = _Ranked(0, at, float(distance), labels, 0.0)
        try:
            budgets = make_budgets(facts._replace(station=with_pins(facts.station, found.pins)))
        except Refused:
            continue
        u95_mm = max(budget.u95_worst_mm for budget in budgets)
        yield found._replace(steps=round(u95_mm / SAME_MM), u95_mm=u95_mm)
