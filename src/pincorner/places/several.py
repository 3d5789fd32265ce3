"""Several places for one jig at the same time, as far from each other as they can be.

Places of which every two can be taken together with a gap of t or more are a clique in the graph of
such pairs. The largest t for which there is one of the size wanted is found by bisection over the
gaps that occur. The search for a clique may be given up, so an answer is exact or comes with a
bound that no choice can pass, the lesser of what was refuted and what the area allows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, union_all

from pincorner.geometry.clearances import Array, Shapes, boxes_of, convex_parts, gap_table, shapes
from pincorner.geometry.outline import TOUCH_MM, Outline, bounds, signed_area
from pincorner.places.search import PlaceProposal, Places, poses_of
from pincorner.setups.facts import Facts

MOST_PLACES = 3000
"""So many places, the best, are chosen from: a table of their gaps takes 72 MB."""

_STARTS = 64

_PAIRS_AT_ONCE = 1 << 18

STEPS = 1_000_000
"""So many nodes are sorted into classes before a search is given up: about a second."""

Flags = NDArray[np.bool_]


class Selection(NamedTuple):
    """Places that can be taken at the same time, in the order of the proposals.

    gap_mm: the smallest gap of any two; None for fewer than two. bound_mm: no choice of so many
    places has a larger one. most: it was shown that no more than this many of those asked for can
    be taken at once. left_out: places beyond MOST_PLACES, which were not chosen from.
    """

    places: tuple[PlaceProposal, ...]
    asked: int
    gap_mm: float | None
    bound_mm: float | None
    most: int
    left_out: int

    @property
    def exact(self) -> bool:
        """Whether it was shown that neither more places nor a larger gap can be had."""
        if len(self.places) < min(self.asked, self.most):
            return False
        if self.gap_mm is None or self.bound_mm is None:
            return True
        return self.bound_mm - self.gap_mm <= TOUCH_MM


def spread_out(places: Places, count: int) -> Selection:
    """As many of the proposals as can be taken at once, `count` at most, the smallest gap largest.

    Each of them is then exchanged for an earlier proposal where that costs nothing.
    """
    differing = list({_key(each): each for each in reversed(places.proposals)}.values())[::-1]
    if not differing or count < 1:
        return Selection((), count, None, None, 0, 0)
    nodes = differing[:MOST_PLACES]
    left_out = len(differing) - len(nodes)
    table = pair_table(places.facts, nodes)
    most = min(count, area_bound([each.footprint for each in differing]))
    chosen, proved = _as_many_as_fit(table, most)
    most = most if left_out else proved
    if len(chosen) < 2:
        return Selection((nodes[0],), count, None, None, most, left_out)
    bound_mm = gap_bound([each.footprint for each in differing], len(chosen))
    chosen, refuted_mm = _widened(table, chosen, bound_mm)
    bound_mm = bound_mm if left_out else min(bound_mm, refuted_mm)
    chosen = _earlier(table, chosen)
    gap_mm = _least_gap(table, chosen)
    picked = tuple(nodes[at] for at in chosen)
    return Selection(picked, count, gap_mm, max(bound_mm, gap_mm), most, left_out)


def _key(proposal: PlaceProposal) -> tuple[object, ...]:
    """What makes a place another one: where the jig lies, and its pins."""
    corners = sorted((round(x / TOUCH_MM), round(y / TOUCH_MM)) for x, y in proposal.footprint)
    return (*corners, *sorted(proposal.holes), proposal.located.corner_hole)


def _as_many_as_fit(table: Array, most: int) -> tuple[list[int], int]:
    """Nodes that can be taken together, `most` at most, and what is now known to be the most."""
    together = table >= -TOUCH_MM
    chosen = max(_farthest_first(table, most), _close_together(together, most), key=len)
    while len(chosen) < most:
        answer = find_clique(together, len(chosen) + 1)
        if not answer.found:
            return chosen, len(chosen) if answer.complete else most
        chosen = list(answer.found)
    return chosen, most


def _farthest_first(table: Array, count: int) -> list[int]:
    """From several starts, ever the node farthest from those taken; the best of these choices."""
    starts = np.arange(0, len(table), math.ceil(len(table) / _STARTS))
    best: list[int] = []
    for start in starts:
        chosen, nearest = [int(start)], table[start]
        while len(chosen) < count and nearest.max() >= -TOUCH_MM:
            chosen.append(int(nearest.argmax()))
            nearest = np.minimum(nearest, table[chosen[-1]])
        best = max(best, chosen, key=lambda nodes: (len(nodes), _least_gap(table, nodes)))
    return best


def _close_together(together: NDArray[np.bool_], count: int) -> list[int]:
    """Ever the node that leaves the most others to choose from."""
    chosen: list[int] = []
    open_ones = np.ones(len(together), dtype=bool)
    while len(chosen) < count and open_ones.any():
        left = together[:, open_ones].sum(axis=1)
        left[~open_ones] = -1
        chosen.append(int(left.argmax()))
        open_ones &= together[chosen[-1]]
    return chosen


def _widened(table: Array, chosen: list[int], bound_mm: float) -> tuple[list[int], float]:
    """As many nodes with the largest smallest gap that is found, and the most not refuted.

    A choice's smallest gap is one of those that occur; they are told apart in steps of TOUCH_MM.
    """
    steps = np.unique(np.round(table[table >= -TOUCH_MM] / TOUCH_MM))
    values = steps[steps * TOUCH_MM <= bound_mm + TOUCH_MM] * TOUCH_MM
    low = int(np.searchsorted(values, _least_gap(table, chosen) + TOUCH_MM / 2))
    high = refuted = len(values)
    while low < high:
        middle = (low + high) // 2
        answer = find_clique(table >= values[middle] - TOUCH_MM / 2, len(chosen))
        if answer.found:
            chosen = list(answer.found)
            low = int(np.searchsorted(values, _least_gap(table, chosen) + TOUCH_MM / 2))
        else:
            high = middle
            refuted = middle if answer.complete else refuted
    return chosen, float(values[refuted - 1])


def _earlier(table: Array, chosen: list[int]) -> list[int]:
    """The same, each node exchanged for the first that leaves the least gap as it is."""
    found, gap_mm = sorted(chosen), _least_gap(table, chosen)
    for at in range(len(found)):
        others = found[:at] + found[at + 1 :]
        will_do = (table[others] >= gap_mm - TOUCH_MM / 2).all(axis=0)
        found[at] = int(will_do.argmax())
    return sorted(found)


def _least_gap(table: Array, nodes: Sequence[int]) -> float:
    """The smallest gap of any two of some nodes; infinity for one."""
    return float(table[np.ix_(nodes, nodes)][np.triu_indices(len(nodes), 1)].min(initial=math.inf))


def area_bound(footprints: Sequence[Outline]) -> int:
    """So many bodies of one shape at most lie in the area that all their places cover."""
    covered = union_all([Polygon(outline) for outline in footprints]).area
    return int(covered / abs(signed_area(footprints[0])) + 1e-9)


def gap_bound(footprints: Sequence[Outline], count: int) -> float:
    """No `count` (2 or more) of these places, of one shape, have a larger smallest gap, in mm.

    Grown by r, half the gap, the bodies do not overlap and lie in the box around all places, grown
    by r as well. A convex body of area A and perimeter P covers A + P r + pi r2 when grown (Steiner
    formula); any other at least A + 2 r sqrt(pi A) + pi r2 (Brunn-Minkowski inequality).
    """
    box = bounds(tuple(point for outline in footprints for point in outline))
    body = footprints[0]
    area = abs(signed_area(body))
    convex = len(convex_parts(body)) == 1
    around = Polygon(body).length if convex else 2 * math.sqrt(math.pi * area)
    square = (count - 1) * math.pi
    linear = count * around - 2 * (box.width + box.depth)
    left = count * area - box.width * box.depth
    if left > 0:
        return 0.0
    return (-linear + math.sqrt(linear * linear - 4 * square * left)) / square


def pair_table(facts: Facts, places: Sequence[PlaceProposal]) -> Array:
    """Gaps of footprints in mm, (n, n); -inf for two that cannot be taken together.

    Their jigs would overlap, a pin of one would stand under the jig of the other, or in the hole
    that stays empty at its corner, or in the way of its pins. One pin in one hole serves both.
    """
    table = _gaps(facts, places)
    cannot = table < -TOUCH_MM
    cannot |= _bodies_hit(facts, places) | _pins_hit(facts, places) | _holes_clash(places)
    table[cannot | cannot.T] = -np.inf
    np.fill_diagonal(table, -np.inf)
    return table


def _gaps(facts: Facts, places: Sequence[PlaceProposal]) -> Array:
    outlines = np.array([each.footprint for each in places])
    boxes = boxes_of(outlines)
    areas = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
    following = np.roll(outlines, -1, axis=1)
    cross = outlines[..., 0] * following[..., 1] - outlines[..., 1] * following[..., 0]
    upright = np.abs(areas - cross.sum(axis=1) / 2) <= TOUCH_MM * np.sqrt(areas)
    if upright.all():
        return _box_gaps(boxes)
    footprint = shapes([facts.holder.outline])
    fixed = _as_fixed(places, facts.holder.outline)
    return _in_slices(footprint, poses_of([each.located for each in places]), fixed)


def _box_gaps(boxes: Array) -> Array:
    """Gaps of upright rectangles (n, 4) in mm, (n, n)."""
    (left, front, right, back) = boxes.T
    along_x = np.maximum(left[:, None] - right, left - right[:, None])
    along_y = np.maximum(front[:, None] - back, front - back[:, None])
    both = np.hypot(np.maximum(along_x, 0.0), np.maximum(along_y, 0.0))
    gaps: Array = np.where(both > 0, both, np.maximum(along_x, along_y))
    return gaps


def _as_fixed(places: Sequence[PlaceProposal], outline: Outline) -> Shapes:
    """Something of the jig (jig coordinates) at every place."""
    jigs = (each.located.corner_in_bed @ each.located.jig_in_corner for each in places)
    return shapes([jig.points(outline) for jig in jigs])


def _in_slices(moved: Shapes, poses: Array, fixed: Shapes, within_mm: float = np.inf) -> Array:
    step = max(1, _PAIRS_AT_ONCE // len(fixed.corners))
    slices = [poses[start : start + step] for start in range(0, len(poses), step)]
    return np.concatenate([gap_table(moved, some, fixed, within_mm) for some in slices])


def _bodies_hit(facts: Facts, places: Sequence[PlaceProposal]) -> Flags:
    """(n, n): the jig with what sticks out of it against footprints and what sticks out there."""
    poses = poses_of([each.located for each in places])
    bodies = facts.holder.body
    hit = np.zeros((len(places), len(places)), dtype=bool)
    if len(bodies) == 1:
        return hit  # nothing sticks out: the footprints' gaps say it all
    for outline in bodies:
        fixed = _as_fixed(places, outline)
        hit |= _in_slices(shapes(bodies), poses, fixed, within_mm=0.0) < -TOUCH_MM
    return hit


def _pins_hit(facts: Facts, places: Sequence[PlaceProposal]) -> Flags:
    """(n, n): a pin of the one stands under the jig of the other, or under what sticks out."""
    hit = np.zeros((len(places), len(places)), dtype=bool)
    for outline in facts.holder.body:
        fixed = _as_fixed(places, outline)
        for pins in zip(*(each.located.pins for each in places), strict=True):
            disc = shapes([((0.0, 0.0),)], [pins[0].radius_mm])
            poses = np.array([(*pin.at_mm, 0.0) for pin in pins])
            hit |= _in_slices(disc, poses, fixed, within_mm=0.0) < -TOUCH_MM
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


class Answer(NamedTuple):
    """found: nodes of a clique in ascending order, empty where none was found.

    complete: whether that is certain; a search that was given up proves nothing.
    """

    found: tuple[int, ...]
    complete: bool


class GivenUp(Exception):
    """The search took more steps than allowed; never leaves this module."""


class _Search:
    """Sets of nodes are the bits of an integer: 3,000 of them are met or split in a microsecond."""

    def __init__(self, agrees: NDArray[np.bool_], steps: int) -> None:
        packed = np.packbits(agrees, axis=1, bitorder="little")
        self.near = [int.from_bytes(row.tobytes(), "little") for row in packed]
        self.left = steps

    def extend(self, nodes: int, size: int) -> tuple[int, ...] | None:
        """A clique of `size` nodes out of a set; None where there is none.

        A clique has at most one node of each class of nodes that do not agree with each other, so
        one of `size` has a node outside the first `size` - 1 classes: only those are tried.
        """
        if size == 0:
            return ()
        for node in self._beyond(nodes, size - 1):
            nodes ^= 1 << node
            more = self.extend(nodes & self.near[node], size - 1)
            if more is not None:
                return (node, *more)
        return None

    def _beyond(self, nodes: int, classes: int) -> list[int]:
        """The nodes left when `classes` classes of nodes that do not agree were taken out."""
        self.left -= nodes.bit_count()
        if self.left < 0:
            raise GivenUp
        for _ in range(classes):
            apart = nodes
            while apart:
                bit = apart & -apart
                nodes ^= bit
                apart &= ~self.near[bit.bit_length() - 1] & ~bit
        found = []
        while nodes:
            bit = nodes & -nodes
            found.append(bit.bit_length() - 1)
            nodes ^= bit
        return found


def find_clique(agrees: NDArray[np.bool_], size: int, steps: int = STEPS) -> Answer:
    """`size` nodes of which every two agree, in a symmetric matrix (n, n) without a diagonal."""
    rest = np.arange(len(agrees))
    while True:  # nodes that agree with too few are in no such clique
        degrees = agrees[np.ix_(rest, rest)].sum(axis=1)
        if degrees.min(initial=size - 1) >= size - 1:
            break
        rest = rest[degrees >= size - 1]
    search = _Search(agrees[np.ix_(rest, rest)], steps)
    try:
        found = search.extend((1 << len(rest)) - 1, size)
    except GivenUp:
        return Answer((), False)
    return Answer(tuple(sorted(int(rest[at]) for at in found or ())), True)
