"""Pins for a jig at many corners of a bed at once, by the arithmetic that chooses them at one."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.documents.beds import Hole
from pincorner.documents.fields import key_of
from pincorner.geometry.clearances import Array, Indices, gap_table, shapes
from pincorner.geometry.outline import TOUCH_MM, Outline, bounds
from pincorner.places.judging import Contacts, contacts_at, worst_u95s
from pincorner.setups.choice import ON_LINE, SAME_MM
from pincorner.setups.corners import LEAST_EDGE_SHARE, straight_parts
from pincorner.setups.facts import Facts
from pincorner.setups.holes import true_place
from pincorner.setups.located import sign_of
from pincorner.standing import Standing

Flags = NDArray[np.bool_]

_JUDGED_AT_ONCE = 1 << 16


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
    known: Contacts
    lines: tuple[Indices, Indices]
    by_label: Indices


class _Side(NamedTuple):
    """Holes (n, most) whose pins touch a side of the jig, nearest to the corner first.

    at_mm: how far from the corner each touches. there: where there is a hole at all.
    """

    holes: Indices
    at_mm: Array
    there: Flags
    edge_mm: float


def bed_holes(
    facts: Facts, standing: Sequence[Standing] = (), empty: Collection[str] = ()
) -> BedHoles:
    """The holes of the bed for the pins of a station; `empty` ones stay so for other stations."""
    places = tuple(facts.bed.holes())
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
        free=usable & ~_taken(facts, labels, true, standing, empty),
        keeps_out=np.array([key_of(label) in with_pins for label in labels]),
        known=contacts_at(facts, places, true),
        lines=(_lines(facts, places, 0), _lines(facts, places, 1)),
        by_label=ranks,
    )


def _taken(
    facts: Facts,
    labels: Sequence[str],
    true: Array,
    standing: Sequence[Standing],
    empty: Collection[str],
) -> Flags:
    """Holes in which our pin would hit something, or which stay empty for another station.

    The same kind of pin of another station may stand there already.
    """
    pin = facts.pin_of(facts.station.pin)
    poses = np.column_stack((true, np.zeros(len(true))))
    body = shapes([((0.0, 0.0),)], [pin.body / 2])
    fixed = shapes([each.outline for each in standing], [each.radius_mm for each in standing])
    hit = gap_table(body, poses, fixed, within_mm=0.0) < -TOUCH_MM
    index = {key_of(label): at for at, label in enumerate(labels)}
    for column, each in enumerate(standing):
        if (
            each.kind == "pin"
            and key_of(each.name) == key_of(pin.name)
            and key_of(each.hole) in index
        ):
            hit[index[key_of(each.hole)], column] = False
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
    box = bounds(outline)
    axis = 0 if box.width >= box.depth else 1
    edge = _touching(facts, holes, corners, axis, outline, may_use)
    stop = _touching(facts, holes, corners, 1 - axis, outline, may_use)
    first, second = np.triu_indices(edge.holes.shape[1], 1)
    apart = edge.at_mm[:, second] - edge.at_mm[:, first] >= LEAST_EDGE_SHARE * edge.edge_mm
    apart &= edge.there[:, second]
    row, pair, third = np.nonzero(apart[:, :, None] & stop.there[:, None, :])
    if not len(row):
        return np.empty(0, dtype=np.intp), np.empty((0, 3), dtype=np.intp)
    one, two = first[pair], second[pair]
    triples = np.stack((edge.holes[row, one], edge.holes[row, two], stop.holes[row, third]), axis=1)
    steps = np.round(_judged(facts, holes, triples) / SAME_MM)
    distance = edge.at_mm[row, one] + edge.at_mm[row, two] + stop.at_mm[row, third]
    labels = holes.by_label[triples].T
    order = np.lexsort((labels[2], labels[1], labels[0], distance, steps, row))
    rows, firsts = np.unique(row[order], return_index=True)
    return rows, triples[order[firsts]]


def _judged(facts: Facts, holes: BedHoles, triples: Indices) -> Array:
    """u95_worst, mm, of triples of holes (n, 3), small angles left out as `worst_sds` does."""
    slices = range(0, len(triples), _JUDGED_AT_ONCE)
    parts = [triples[start : start + _JUDGED_AT_ONCE] for start in slices]
    return np.concatenate(
        [worst_u95s(facts, Contacts(*(each[part] for each in holes.known))) for part in parts]
    )


def _touching(
    facts: Facts, holes: BedHoles, corners: Indices, axis: int, outline: Outline, may_use: Flags
) -> _Side:
    """Holes on the corners' rows (axis 0) or columns (1) whose pins touch the edge there."""
    toward = facts.station.toward or ""
    radius = facts.pin_of(facts.station.pin).body / 2
    parts = straight_parts(outline, 1 - axis, toward)
    line = holes.lines[axis][corners]
    away = holes.drawn[line, axis] - holes.drawn[corners, axis][:, None]
    at_mm = sign_of(toward, axis) * away - radius
    touch = np.zeros(line.shape, dtype=bool)
    for start, end in parts:
        touch |= (start <= at_mm) & (at_mm <= end)
    touch &= (line >= 0) & may_use[line]
    most = int(touch.sum(axis=1).max(initial=0))
    order = np.argsort(np.where(touch, at_mm, np.inf), axis=1, kind="stable")[:, :most]
    return _Side(
        np.take_along_axis(line, order, axis=1),
        np.take_along_axis(at_mm, order, axis=1),
        np.take_along_axis(touch, order, axis=1),
        parts[-1][1] if parts else 0.0,
    )
