"""Jigs of one kind side by side: which holes they leave each other, and what pins they take then.

A jig's pins and its empty corner hole keep other jigs away, so that places exclude each other by
pins alone. Each place is therefore taken as a corner, a quadrant and a turn, with whatever pins
reach the jig there; which of them it gets is chosen once it is known what lies beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from pincorner.documents.jigs import OnDowels
from pincorner.documents.stations import EdgePins
from pincorner.errors import Refused
from pincorner.geometry.clearances import (
    Array,
    Indices,
    Shapes,
    boxes_of,
    gap_table,
    moved_to,
    paired_gaps,
    posed,
    shapes,
)
from pincorner.geometry.outline import TOUCH_MM, signed_area
from pincorner.places.fit import FITS, depths, first_reasons, shapes_of
from pincorner.places.pins import BedHoles, Flags, best_pins, touching
from pincorner.places.search import PlaceProposal, Places, Proposals, poses_of, proposal
from pincorner.places.ways import outline_of
from pincorner.setups.choice import SLACK
from pincorner.setups.facts import Facts
from pincorner.setups.locating import LEAST_EDGE_SHARE, locate
from pincorner.standing import pin_at

_SAME_TURN, _SAME_PLACE_MM = 10, 1e-8
"""Jigs that are turned alike to so many decimals (rad), or as far apart to so little, are alike."""

_AT_LEAST_ALIKE = 8
"""Jigs turned as fewer others are looked at one by one."""


class _Reach(NamedTuple):
    """Holes whose pins touch one side of a jig (k,), how far from its corner, and the least that
    two edge pins stand apart there."""

    holes: Indices
    at_mm: Array
    apart_mm: float


class Beside:
    """Places that may be taken side by side, with the pins that suit all of them.

    `shift_mm`: by how much at most other pins move a jig. `doubtful`: whether some were given up
    for another reason than that no pins are left, so that nothing is proved by that.
    """

    def __init__(self, places: Places, nodes: Proposals) -> None:
        self._places, self.nodes = places, nodes
        facts, holes = places.facts, places.holes
        self._index = {place.label: at for at, place in enumerate(holes.places)}
        self._on_dowels = isinstance(facts.holder.locate, OnDowels)
        self.shift_mm = 0.0 if self._on_dowels else _shift_mm(facts, holes)
        self.doubtful = False
        reaches_mm = holes.known.contacts.reaches
        self._slack_mm = 2 * self.shift_mm + float(np.ptp(reaches_mm)) + TOUCH_MM
        self._reaches = self._reaches_of()
        self._forbids = self._forbidden()

    def _reaches_of(self) -> list[tuple[_Reach, ...]]:
        """The holes for the pins along X and along Y of each; each hole for itself on dowels."""
        if self._on_dowels:
            every = self.nodes.pins.tolist()
            return [tuple(_Reach(np.array([p]), np.zeros(1), 0.0) for p in pins) for pins in every]
        found: list[tuple[_Reach, ...]] = [()] * len(self.nodes)
        for draft, mine in self.nodes.by_draft():
            holes, outline, corners = (
                self._places.holes,
                outline_of(draft),
                self.nodes.corners[mine],
            )
            for axis in (0, 1):
                side = touching(draft, holes, corners, axis, outline, holes.free, self._slack_mm)
                apart_mm = side.least_apart_mm - self._slack_mm
                for row, node in enumerate(mine.tolist()):
                    there = side.there[row]
                    reach = _Reach(side.holes[row][there], side.at_mm[row][there], apart_mm)
                    found[node] = (*found[node], reach)
        return found

    def _forbidden(self) -> Flags:
        """(n, h): holes in which no other jig's pin may stand: under the jig, or its corner's."""
        facts, holes = self._places.facts, self._places.holes
        pin = facts.pin_of(facts.station.pin)
        pins = [pin_at(facts, pin, (x, y)) for x, y in holes.true.tolist()]
        deep = depths(facts, self.nodes.poses, pins, shapes_of(pins))
        found: Flags = deep > TOUCH_MM + self.shift_mm
        rows = np.flatnonzero(self.nodes.corners >= 0)
        found[rows, self.nodes.corners[rows]] = True
        return found

    def table(self) -> Array:
        """Gaps of footprints in mm, (n, n); -inf for two that no pins let lie side by side.

        Other pins make them larger or smaller by 2 `shift_mm` at most.
        """
        table = self.gaps(self.nodes)
        apart = table >= -TOUCH_MM - 2 * self.shift_mm
        apart &= ~_bodies_hit(self._places.facts, self.nodes.poses, 2 * self.shift_mm)
        return _without(np.maximum(table, 0.0), ~(apart & self._pairs()))

    def gaps(self, places: Sequence[PlaceProposal]) -> Array:
        """Gaps of footprints in mm, (n, n), whatever else is between them."""
        return _gaps(self._places.facts, _poses(places))

    def _pairs(self) -> Flags:
        """(n, n): whether two have pins left when they are taken together; symmetric."""
        n, forbids = len(self.nodes), self._forbids
        reach = np.zeros((n, forbids.shape[1]), dtype=np.float32)
        for row, sides in enumerate(self._reaches):
            reach[row, np.concatenate([side.holes for side in sides])] = 1.0
        found = reach @ forbids.T.astype(np.float32) == 0
        for row, sides in enumerate(self._reaches):
            beside = np.flatnonzero(~found[row])
            found[row, beside] = self._can_have(sides, ~forbids[beside])
        both: Flags = found & found.T
        return both

    def _can_have(self, sides: Sequence[_Reach], may_use: Flags) -> Flags:
        """(m,): whether pins are left, with each of m sets of holes (m, h)."""
        some, apart = np.ones(len(may_use), np.bool_), np.zeros(len(may_use), np.bool_)
        for side in sides:
            left = may_use[:, side.holes]
            first = np.where(left, side.at_mm, np.inf).min(axis=1, initial=np.inf)
            last = np.where(left, side.at_mm, -np.inf).max(axis=1, initial=-np.inf)
            some &= left.any(axis=1)
            apart |= (last - first >= side.apart_mm) & (last > first)
        return some & (some if self._on_dowels else apart)

    def may(self, nodes: Sequence[int]) -> bool:
        """Whether each of some places has pins left, as far as can be seen quickly."""
        taken = self._forbids[list(nodes)]
        count = taken.sum(axis=0)
        for at, node in enumerate(nodes):
            mine = (count - taken[at]) == 0
            if not self._can_have(self._reaches[node], mine[None, :])[0]:
                return False
        return True

    def pinned(self, nodes: Sequence[int]) -> tuple[PlaceProposal, ...] | None:
        """Some places with the best pins that all of them can have; None where there are none."""
        if not self.may(nodes):
            return None
        chosen: list[PlaceProposal] = []
        near = np.zeros(self._forbids.shape[1], np.bool_)
        for node in nodes:
            others = [each for each in nodes if each != node]
            forbidden = self._forbids[others].any(axis=0) | near
            one = self._with_pins(node, forbidden)
            if one is None:
                # without pins too near to those chosen before it is certain; else others may do
                self.doubtful |= bool(near.any()) or self.shift_mm > 0
                return None
            chosen.append(one)
            near |= self._too_near(one)
        if self.shift_mm > 0 and len(chosen) > 1:
            table = pair_table(self._places.facts, chosen)
            if np.isneginf(table[np.triu_indices(len(chosen), 1)]).any():
                self.doubtful = True
                return None
        return tuple(chosen)

    def _with_pins(self, node: int, forbidden: Flags) -> PlaceProposal | None:
        """A place with its best pins in holes that are not forbidden."""
        this = self.nodes[node]
        if not forbidden[self.nodes.pins[node]].any():
            return this
        if self._on_dowels:
            return None
        places, facts = self._places, self._places.facts._replace(station=this.station)
        holes = places.holes
        corner = self.nodes.corners[node : node + 1]
        may_use = holes.free & ~forbidden
        _, triples = best_pins(facts, holes, corner, outline_of(facts), may_use)
        if not len(triples):
            return None
        first, second, stop = (holes.places[at].label for at in triples[0])
        pins = EdgePins(edge=(first, second), stop=stop)
        station = this.station.model_copy(update={"pins": pins})
        try:
            located = locate(facts._replace(station=station))
        except Refused:
            self.doubtful = True
            return None
        if first_reasons(places.checks, poses_of([located]), TOUCH_MM)[0] != FITS:
            self.doubtful = True
            return None
        return proposal(places.facts, station, located, this.gap_mm)

    def _too_near(self, chosen: PlaceProposal) -> Flags:
        """Holes other than its own in which a pin would touch one of a place."""
        true, body_mm = self._places.holes.true, chosen.located.pins[0].pin.body
        found = np.zeros(len(true), np.bool_)
        for hole in chosen.holes:
            at = self._index[hole]
            near = np.hypot(*(true - true[at]).T) < body_mm - TOUCH_MM
            near[at] = False
            found |= near
        return found


def _shift_mm(facts: Facts, holes: BedHoles) -> float:
    """By how much at most a jig lies elsewhere with other pins at the same corner.

    Nothing where the holes of every row and column lie straight, as far as is known. Else by how
    much they do not, over the size of the jig, and by the turn that comes of it.
    """
    off_mm, size = 0.0, np.ptp(np.array(facts.holder.outline), axis=0)
    longest_mm = float(size.max())
    for axis, line in enumerate(holes.lines):
        along, across = holes.true[:, axis], holes.true[:, 1 - axis]
        near = (line >= 0) & (np.abs(along[line] - along[:, None]) <= longest_mm)
        away = np.where(near, np.abs(across[line] - across[:, None]), 0.0)
        off_mm = max(off_mm, float(away.max(initial=0.0)))
    if off_mm <= TOUCH_MM:
        return 0.0
    shift_mm = off_mm * (1 + 2 * float(np.hypot(*size)) / (LEAST_EDGE_SHARE * float(size.min())))
    return min(shift_mm, SLACK * min(facts.bed.grid.pitch))


def pair_table(facts: Facts, places: Sequence[PlaceProposal]) -> Array:
    """Gaps of footprints in mm, (n, n); -inf for two that cannot be taken together as they are.

    Their jigs would overlap, a pin of one would stand under the jig of the other, or in the hole
    that stays empty at its corner, or in the way of its pins. One pin in one hole serves both.
    """
    poses = _poses(places)
    table = _gaps(facts, poses)
    cannot = table < -TOUCH_MM
    cannot |= _bodies_hit(facts, poses) | _pins_hit(facts, places) | _holes_clash(places)
    return _without(table, cannot)


def _without(table: Array, cannot: Flags) -> Array:
    table[cannot | cannot.T] = -np.inf
    np.fill_diagonal(table, -np.inf)
    return table


def _poses(places: Sequence[PlaceProposal]) -> Array:
    """How the jigs lie, (n, 3)."""
    if isinstance(places, Proposals):
        return places.poses
    return poses_of([each.located for each in places])


def _gaps(facts: Facts, poses: Array) -> Array:
    """Gaps of the jig at poses (n, 3), (n, n): of two upright rectangles by their sides alone."""
    outline = facts.holder.outline
    outlines = posed(np.array(outline), poses)
    boxes = boxes_of(outlines)
    areas = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
    upright = np.abs(areas - abs(signed_area(outline))) <= TOUCH_MM * np.sqrt(areas)
    table = _box_gaps(boxes)
    if not upright.all():
        _other_gaps(table, shapes([outline]), poses, upright)
    return table


def _other_gaps(table: Array, jig: Shapes, poses: Array, known: Flags) -> None:
    """Put gaps into a table (n, n), but for pairs of which both are `known`.

    A gap depends on how both jigs are turned and on where one lies from the other. On a grid of
    holes there are few such places: of the pairs that are alike one is worked out.
    """
    turns = np.round(poses[:, 2], _SAME_TURN)
    _, of, sizes = np.unique(turns, return_inverse=True, return_counts=True)
    every = [np.flatnonzero(of == at) for at in np.flatnonzero(sizes >= _AT_LEAST_ALIKE)]
    for number, ours in enumerate(every):
        for theirs in every[number:]:
            if known[ours].all() and known[theirs].all():
                continue
            alike, pairs = _alike(poses[ours, :2], poses[theirs, :2])
            at, to = ours[pairs // len(theirs)], theirs[pairs % len(theirs)]
            found = paired_gaps(jig, poses[at], poses[to])[alike]
            table[np.ix_(ours, theirs)] = found
            table[np.ix_(theirs, ours)] = found.T
    odd = np.flatnonzero((sizes < _AT_LEAST_ALIKE)[of])
    if len(odd):
        table[odd] = gap_table(jig, poses[odd], moved_to(jig, poses))
        table[:, odd] = table[odd].T


def _alike(ours: Array, theirs: Array) -> tuple[Indices, Indices]:
    """Which pairs of places (n, 2), (m, 2) are as far apart along X and along Y: the number of each
    pair's kind (n, m), and one pair of each kind, counted row by row."""
    numbers = np.zeros((len(ours), len(theirs)), dtype=np.intp)
    for axis in (0, 1):
        (one, at), (other, to) = (
            np.unique(places[:, axis], return_inverse=True) for places in (ours, theirs)
        )
        apart = np.round((other - one[:, None]) / _SAME_PLACE_MM)
        steps, kinds = np.unique(apart, return_inverse=True)
        numbers = numbers * len(steps) + kinds.reshape(apart.shape)[np.ix_(at, to)]
    _, firsts, kind = np.unique(numbers, return_index=True, return_inverse=True)
    return kind.reshape(numbers.shape), firsts


def _box_gaps(boxes: Array) -> Array:
    """Gaps of upright rectangles (n, 4) in mm, (n, n)."""
    (left, front, right, back) = boxes.T
    along_x = np.maximum(left[:, None] - right, left - right[:, None])
    along_y = np.maximum(front[:, None] - back, front - back[:, None])
    both = np.hypot(np.maximum(along_x, 0.0), np.maximum(along_y, 0.0))
    gaps: Array = np.where(both > 0, both, np.maximum(along_x, along_y))
    return gaps


def _bodies_hit(facts: Facts, poses: Array, give_mm: float = 0.0) -> Flags:
    """(n, n): the jig with what sticks out of it against footprints and what sticks out there, by
    more than `give_mm`."""
    bodies = facts.holder.body
    hit = np.zeros((len(poses), len(poses)), dtype=bool)
    if len(bodies) == 1:
        return hit  # nothing sticks out: the footprints' gaps say it all
    for outline in bodies:
        fixed = moved_to(shapes([outline]), poses)
        hit |= gap_table(shapes(bodies), poses, fixed, within_mm=0.0) < -TOUCH_MM - give_mm
    return hit


def _pins_hit(facts: Facts, places: Sequence[PlaceProposal]) -> Flags:
    """(n, n): a pin of the second stands in the way of the jig of the first, or of what sticks out
    there."""
    pins = {pin.hole: pin for each in places for pin in each.located.pins}
    things = [
        pin_at(facts, pin.pin, pin.at_mm)._replace(radius_mm=pin.radius_mm - pin.gives_mm)
        for pin in pins.values()
    ]
    deep = depths(facts, _poses(places), things, shapes_of(things))
    index = {hole: at for at, hole in enumerate(pins)}
    theirs = np.array([[index[hole] for hole in each.holes] for each in places])
    hit: Flags = np.any((deep > TOUCH_MM)[:, theirs], axis=2)
    return hit


def _holes_clash(places: Sequence[PlaceProposal]) -> Flags:
    """(n, n): pins in different holes touch, or one stands where the other's corner is empty."""
    pins = {pin.hole: pin for each in places for pin in each.located.pins}
    index = {hole: at for at, hole in enumerate(pins)}
    at_mm = np.array([pin.at_mm for pin in pins.values()])
    body_mm = next(iter(pins.values())).pin.body
    apart = np.hypot(*(at_mm[:, None] - at_mm).transpose(2, 0, 1))
    near = (apart < body_mm - TOUCH_MM) & ~np.eye(len(at_mm), dtype=bool)
    stands, empty = np.zeros((2, len(places), len(pins)), dtype=np.float32)
    for row, each in enumerate(places):
        stands[row, [index[hole] for hole in each.holes]] = 1.0
        if each.located.corner_hole in index:
            empty[row, index[each.located.corner_hole]] = 1.0
    clash: Flags = stands @ (near @ stands.T + empty.T) > 0
    return clash
