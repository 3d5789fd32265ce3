"""Pins for a jig at many corners of a bed at once, by the arithmetic that chooses them at one.

Each choice is judged by its u95, with Student's factor where a survey has few holes.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.documents.beds import Hole, Pin
from pincorner.documents.fields import key_of
from pincorner.geometry.clearances import Array, Indices, gap_table, shapes
from pincorner.geometry.outline import TOUCH_MM, Outline
from pincorner.geometry.spread import corner_spread
from pincorner.geometry.student import MANY, ROUNDING, factor_at, near_normal
from pincorner.places.fit import shapes_of
from pincorner.setups.budget import effective_dofs
from pincorner.setups.choice import (
    SAME_MM,
    SLACK,
    Contacts,
    NestSpread,
    contacts_of,
    nest_spreads,
    that_hold,
)
from pincorner.setups.facts import Facts
from pincorner.setups.holes import alike, hole_position_sd, true_place
from pincorner.setups.locating import (
    LEAST_EDGE_SHARE,
    ON_LINE,
    Parts,
    long_axis,
    sign_of,
    straight_parts,
    touches,
)
from pincorner.standing import Standing, pin_at

Flags = NDArray[np.bool_]

_JUDGED_AT_ONCE = 1 << 14
_CORNERS_AT_ONCE = 64
"""So many corners, each with some hundred choices of pins, are looked at together."""


class BedHoles(NamedTuple):
    """All h holes of a bed as arrays.

    drawn, true: (h, 2) centres on the bed, mm, as drawn and as far as is known. usable: not
    missing. free: usable, and nothing stands where the pin would. keeps_out: a pin of another
    station stands in it, so that it cannot be an empty corner. known: how well each is known.
    lines: for either axis (h, most) the holes on the row or column through each hole, -1 between
    and behind them. by_label: (h,) rank of the label.
    """

    places: tuple[Hole, ...]
    drawn: Array
    true: Array
    usable: Flags
    free: Flags
    keeps_out: Flags
    known: KnownContacts
    lines: tuple[Indices, Indices]
    by_label: Indices


class Side(NamedTuple):
    """Holes (n, most) whose pins touch a side of the jig, nearest to the corner first.

    at_mm: how far from the corner each touches. there: where there is a hole at all. parts: the
    straight parts of the side.
    """

    holes: Indices
    at_mm: Array
    there: Flags
    parts: Parts

    @property
    def least_apart_mm(self) -> float:
        """How far apart two edge pins stand at least."""
        return LEAST_EDGE_SHARE * self.parts[-1][1] if self.parts else 0.0


def bed_holes(
    facts: Facts, standing: Sequence[Standing] = (), empty: Collection[str] = ()
) -> BedHoles:
    """The holes of the bed for the pins of a station; `empty` ones stay so for other stations."""
    places, pin = tuple(facts.bed.holes()), facts.pin_of(facts.station.pin)
    labels = [place.label for place in places]
    true = np.array([true_place(facts, place.label, place.at_mm) for place in places])
    usable = np.array([place.usable for place in places])
    with_pins = {key_of(each.hole) for each in standing if each.kind == "pin"}
    ranks = np.empty(len(places), dtype=np.intp)
    ranks[np.argsort(np.array(labels, dtype=object), kind="stable")] = np.arange(len(places))
    return BedHoles(
        places=places,
        drawn=np.array([place.at_mm for place in places]),
        true=true,
        usable=usable,
        free=usable & ~_taken(facts, pin, labels, true, standing, empty),
        keeps_out=np.array([key_of(label) in with_pins for label in labels]),
        known=contacts_at(facts, places, true),
        lines=(_lines(facts, places, 0), _lines(facts, places, 1)),
        by_label=ranks,
    )


def is_taken(
    facts: Facts, pin: Pin, hole: Hole, standing: Sequence[Standing], empty: Collection[str]
) -> bool:
    """Whether a pin in a hole would hit what is `standing` there, or the hole stays `empty` for
    another station; where such a pin stands already it is not taken by that."""
    true = np.array([true_place(facts, hole.label, hole.at_mm)])
    return bool(_taken(facts, pin, [hole.label], true, standing, empty)[0])


def _taken(
    facts: Facts,
    pin: Pin,
    labels: Sequence[str],
    true: Array,
    standing: Sequence[Standing],
    empty: Collection[str],
) -> Flags:
    """Holes in which our pin would hit something, or which stay empty for another station.

    The same kind of pin of another station may stand there already.
    """
    poses = np.column_stack((true, np.zeros(len(true))))
    body = shapes([((0.0, 0.0),)], [pin.body / 2])
    hit = gap_table(body, poses, shapes_of(standing), within_mm=0.0) < -TOUCH_MM
    index = {key_of(label): at for at, label in enumerate(labels)}
    for column, each in enumerate(standing):
        if (
            each.kind == "pin"
            and key_of(each.name) == key_of(pin.name)
            and key_of(each.hole) in index
        ):
            hit[index[key_of(each.hole)], column] = False
        elif each.kind == "stock" and not each.footprint:
            for at in np.flatnonzero(hit[:, column]).tolist():
                ours = pin_at(facts, pin, (float(true[at, 0]), float(true[at, 1])))
                hit[at, column] = not ours.passes_under(each)
    taken: Flags = np.any(hit, axis=1)
    taken[[index[key_of(hole)] for hole in empty if key_of(hole) in index]] = True
    return taken


def _lines(facts: Facts, places: Sequence[Hole], axis: int) -> Indices:
    """The lines that `Bed.line_of_holes` gives for each hole, all at once."""
    bed, index = facts.bed, {place.label: at for at, place in enumerate(places)}
    off_line_mm = ON_LINE * min(bed.grid.pitch)
    across = np.array([place.at_mm[1 - axis] for place in places])
    by_line: dict[int | None, list[int]] = {}
    for at, place in enumerate(places):
        cell = bed.letters.split(place.label)
        by_line.setdefault(cell[1 - axis] if cell else None, []).append(at)
    wide = {
        at: bed.line_of_holes(places[at[0]], axis, math.inf) for at in map(tuple, by_line.values())
    }
    found = np.full((len(places), max(map(len, wide.values()))), -1, dtype=np.intp)
    for corners, holes in wide.items():
        line = np.array([index[each.label] for each in holes], dtype=np.intp)
        near = np.abs(across[list(corners)][:, None] - across[line]) <= off_line_mm
        found[list(corners), : len(line)] = np.where(near, line, -1)
    return found


def best_pins(
    facts: Facts, holes: BedHoles, corners: Indices, outline: Outline, may_use: Flags
) -> tuple[Indices, Indices]:
    """Of some corner holes (n,) those where pins reach the jig, and the best pins of each.

    `outline`: the jig from the corner, turned, `toward` the station's quadrant. Returns indices
    into `corners` (m,) and holes (m, 3), two edge pins and the stop. Best are those that
    `choose_pins` would take of the holes that may be used.
    """
    starts = range(0, max(len(corners), 1), _CORNERS_AT_ONCE)
    parts = [
        _best_of(facts, holes, corners[start : start + _CORNERS_AT_ONCE], outline, may_use)
        for start in starts
    ]
    rows = [start + rows for start, (rows, _) in zip(starts, parts, strict=True)]
    return np.concatenate(rows), np.concatenate([triples for _, triples in parts])


def _best_of(
    facts: Facts, holes: BedHoles, corners: Indices, outline: Outline, may_use: Flags
) -> tuple[Indices, Indices]:
    """The same of as many corners as fit into memory with all their choices."""
    long, slack_mm = long_axis(outline), SLACK * min(facts.bed.grid.pitch)
    sides = [touching(facts, holes, corners, axis, outline, may_use, slack_mm) for axis in (0, 1)]
    ways = [_triples(holes, sides[axis], sides[1 - axis]) for axis in (long, 1 - long)]
    row, triples, distance = (np.concatenate(each) for each in zip(*ways, strict=True))
    if not len(row):
        return np.empty(0, dtype=np.intp), np.empty((0, 3), dtype=np.intp)
    way = np.repeat(np.arange(len(ways)), [len(rows) for rows, _, _ in ways])
    left = np.arange(len(row))
    for key in (np.round(_judged(facts, holes, triples) / SAME_MM), way, distance):
        least = np.full(len(corners), np.inf)
        np.minimum.at(least, row[left], key[left])
        left = left[key[left] == least[row[left]]]
    labels = holes.by_label[triples[left]].T
    order = left[np.lexsort((labels[2], labels[1], labels[0], row[left]))]
    rows, firsts = np.unique(row[order], return_index=True)
    return rows, triples[order[firsts]]


def _triples(holes: BedHoles, edge: Side, stop: Side) -> tuple[Indices, Indices, Array]:
    """Two holes of one side and one of the other that locate the jig: rows (n,), holes (n, 3), and
    how far from the corner they touch, all together (n,)."""
    first, second = np.triu_indices(edge.holes.shape[1], 1)
    row, pair, third = np.nonzero(edge.there[:, second, None] & stop.there[:, None, :])
    one, two = first[pair], second[pair]
    triples = np.stack((edge.holes[row, one], edge.holes[row, two], stop.holes[row, third]), axis=1)
    distance = edge.at_mm[row, one] + edge.at_mm[row, two] + stop.at_mm[row, third]
    contacts = holes.known.contacts
    good = np.concatenate(
        [
            that_hold(Contacts(*(each[some] for each in contacts)), edge.parts, stop.parts)
            for some in _in_slices(triples)
        ]
    )
    return row[good], triples[good], distance[good]


def _in_slices(triples: Indices) -> list[Indices]:
    """Triples (n, 3) in pieces that fit into memory; one at least."""
    slices = range(0, max(len(triples), 1), _JUDGED_AT_ONCE)
    return [triples[start : start + _JUDGED_AT_ONCE] for start in slices]


def _judged(facts: Facts, holes: BedHoles, triples: Indices) -> Array:
    """u95_worst, mm, of triples of holes (n, 3), small angles left out as `worst_sds` does."""
    parts = _in_slices(triples)
    return np.concatenate([worst_u95s(facts, holes.known.of(part)) for part in parts])


def touching(
    facts: Facts,
    holes: BedHoles,
    corners: Indices,
    axis: int,
    outline: Outline,
    may_use: Flags,
    slack_mm: float = TOUCH_MM,
) -> Side:
    """Holes on the corners' rows (axis 0) or columns (1) whose pins touch the edge there, to
    `slack_mm`, if the jig's corner is where the corner hole alone would have it."""
    toward = facts.station.toward or ""
    parts = straight_parts(outline, 1 - axis, toward)
    line, reach_mm = holes.lines[axis][corners], holes.known.contacts.reaches[corners]
    drawn, away = (
        sign_of(toward, axis) * (places[line, axis] - places[corners, axis][:, None])
        for places in (holes.drawn, holes.true)
    )
    at_mm = away - reach_mm[:, None]
    touch = touches(at_mm, parts, slack_mm) & (drawn > 0) & (line >= 0) & may_use[line]
    most = int(touch.sum(axis=1).max(initial=0))
    order = np.argsort(np.where(touch, at_mm, np.inf), axis=1, kind="stable")[:, :most]
    return Side(
        np.take_along_axis(line, order, axis=1),
        np.take_along_axis(at_mm, order, axis=1),
        np.take_along_axis(touch, order, axis=1),
        parts,
    )


class KnownContacts(NamedTuple):
    """Contacts that pins make: one for each hole (h,), or three of each choice (n, 3).

    of_holes: the share of the hole's own position in the variances, mm2, with its degrees of
    freedom.
    """

    contacts: Contacts
    of_holes: Array
    dofs: Array

    def of(self, triples: Indices) -> KnownContacts:
        """Those of triples of holes (n, 3)."""
        contacts = Contacts(*(each[triples] for each in self.contacts))
        return KnownContacts(contacts, self.of_holes[triples], self.dofs[triples])


def contacts_at(facts: Facts, places: Sequence[Hole], true: Array) -> KnownContacts:
    """The contact that a pin of the station makes from each hole; true: centres (h, 2)."""
    kinds = [alike(facts, place.at_mm) for place in places]
    one_of = dict(zip(kinds, places, strict=True))
    known = {kind: hole_position_sd(facts, place.at_mm) for kind, place in one_of.items()}
    positions = [known[kind] for kind in kinds]
    drawn = (place.at_mm for place in places)
    return KnownContacts(
        contacts_of(facts, zip(drawn, true, strict=True)),
        np.array([(sd_mm or 0.0) ** 2 for sd_mm, _ in positions]),
        np.array([dof for _, dof in positions]),
    )


def worst_u95s(facts: Facts, pins: KnownContacts) -> Array:
    """u95_worst, mm, (n,), with each choice of two edge pins and a stop (n, 3).

    As `setups.budget` has it, but for the small angle between the corner and the bed.
    """
    worst = np.zeros(len(pins.contacts.places))
    for nest in nest_spreads(facts, pins.contacts):
        factor = _coverage(nest, pins)
        for arm, way in product(nest.arms_mm, nest.together):
            worst = np.maximum(worst, factor * way.worst_sd(*arm))
    return worst


def _coverage(nest: NestSpread, pins: KnownContacts) -> Array:
    """k (n,): 2, or Student's factor for the fewest effective degrees at zero and stock corners.

    Welch-Satterthwaite formula along the direction that is known worst (JCGM 100, G.4.1).
    """
    limited = [(each.spread, each.dof) for each in nest.others if math.isfinite(each.dof)]
    dof = pins.dofs.min(axis=1)
    if np.isfinite(dof).any():
        variances = (pins.of_holes[:, 0], pins.of_holes[:, 1], pins.of_holes[:, 2])
        holes = corner_spread(nest.corner, nest.zero_mm, variances, nest.inward)
        limited.append((holes, dof))
    if not limited:
        return np.full(len(dof), 2.0)
    at = [(0.0, 0.0), *nest.arms_mm]
    dofs = [each for way in nest.together for each in effective_dofs(way, limited, at)]
    fewest = np.minimum.reduce(dofs)
    return coverage_factors(np.broadcast_to(fewest, dof.shape))


def coverage_factors(dofs: Array) -> Array:
    """The coverage factor at effective degrees of freedom (n,); 2 at infinity."""
    whole = np.floor(dofs + ROUNDING)
    found: Array = near_normal(np.maximum(whole, MANY))
    for dof in np.unique(whole[whole < MANY]):
        found[whole == dof] = factor_at(dof)
    return found
