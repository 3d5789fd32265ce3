"""Several places for one jig at the same time: far from each other, or with most of something.

Places of which every two can be taken together with a gap of t or more are a clique in the graph of
such pairs. The largest t for which there is one of the size wanted is found by bisection over the
gaps that occur. The search for a clique may be given up, so an answer is exact or comes with a
bound that no choice can pass, the lesser of what was refuted and what the area allows.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, polygons, union_all

from pincorner.geometry.clearances import Array, boxes_of, convex_parts
from pincorner.geometry.outline import TOUCH_MM, Box, Outline, signed_area
from pincorner.places.beside import Beside
from pincorner.places.cliques import SAME, Answer, find_clique, heaviest_clique
from pincorner.places.search import PlaceProposal, Places, Proposals

MOST_PLACES = 3000
"""So many places, the best, are chosen from: a table of their gaps takes 72 MB."""

_STARTS = 64


class Selection(NamedTuple):
    """Places that can be taken at the same time, in the order of the proposals.

    gap_mm: the smallest gap of any two; None for fewer than two. bound_mm: no choice of so many
    places has a larger one. most: it was shown that no more than this many of those asked for can
    be taken at once, whatever their pins. left_out: places beyond MOST_PLACES, which were not
    chosen from.
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


def nodes_of(places: Places) -> tuple[Proposals, int]:
    """The proposals that differ, the best of them, and how many are left out."""
    keys = list(map(tuple, _keys(places.proposals).tolist()))
    best = {key: at for at, key in reversed(list(enumerate(keys)))}
    differing = list(best.values())[::-1]
    chosen = places.proposals.at(differing[:MOST_PLACES])
    return chosen, max(len(differing) - MOST_PLACES, 0)


def spread_out(places: Places, count: int) -> Selection:
    """As many of the proposals as can be taken at once, `count` at most, the smallest gap largest.

    Each has the best pins that those beside it leave. It is then exchanged for an earlier proposal
    where that costs nothing.
    """
    nodes, left_out = nodes_of(places)
    if not nodes or count < 1:
        return Selection((), count, None, None, 0, 0)
    beside = Beside(places, nodes)
    table = beside.table()
    footprints = places.proposals.footprints
    most = min(count, area_bound(footprints))
    chosen, proved = _as_many_as_fit(beside, table, most)
    most = most if left_out else proved
    if len(chosen) < 2:
        return Selection((nodes[0],), count, None, None, most, left_out)
    bound_mm = gap_bound(footprints, len(chosen))
    chosen, refuted_mm = _widened(beside, table, chosen, bound_mm)
    bound_mm = bound_mm if left_out else min(bound_mm, refuted_mm + 2 * beside.shift_mm)
    picked = beside.pinned(_earlier(beside, table, chosen)) or ()
    gap_mm = least_gap(beside, picked)
    return Selection(picked, count, gap_mm, max(bound_mm, gap_mm), most, left_out)


def _keys(proposals: Proposals) -> NDArray[np.int64]:
    """What makes a place another one, (n, numbers): where the jig lies, and its pins."""
    steps = np.round(proposals.footprints / TOUCH_MM).astype(np.int64)
    corners = np.lexsort((steps[..., 1], steps[..., 0]), axis=1)[..., None]
    lies = np.take_along_axis(steps, corners, axis=1).reshape(len(steps), 2 * steps.shape[1])
    return np.hstack((lies, np.sort(proposals.pins, axis=1), proposals.corners[:, None]))


def _as_many_as_fit(beside: Beside, table: Array, most: int) -> tuple[list[int], int]:
    """Nodes that can be taken together, `most` at most, and what is now known to be the most."""
    together = table >= -TOUCH_MM
    found = (_farthest_first(table, most), _close_together(together, most))
    chosen = max((_as_far_as_it_goes(beside, each) for each in found), key=len)
    while len(chosen) < most:
        answer = _find(beside, together, len(chosen) + 1)
        if not answer.found:
            return chosen, len(chosen) if answer.complete else most
        chosen = list(answer.found)
    return chosen, most


def _find(beside: Beside, agrees: NDArray[np.bool_], size: int) -> Answer:
    """Nodes with pins side by side; not complete where some were given up for other reasons."""
    beside.doubtful = False
    answer = find_clique(agrees, size, may=beside.may, will=_will(beside))
    return answer._replace(complete=answer.complete and not beside.doubtful)


def _will(beside: Beside) -> Callable[[Sequence[int]], bool]:
    return lambda nodes: beside.pinned(nodes) is not None


def _as_far_as_it_goes(beside: Beside, nodes: list[int]) -> list[int]:
    """The first of some nodes, as many as have pins side by side."""
    while len(nodes) > 1 and beside.pinned(nodes) is None:
        nodes = nodes[:-1]
    return nodes


def _farthest_first(table: Array, count: int) -> list[int]:
    """From several starts, ever the node farthest from those taken; the best of these choices."""
    starts = np.arange(0, len(table), math.ceil(len(table) / _STARTS))
    best: list[int] = []
    for start in starts:
        chosen, nearest = [int(start)], table[start]
        while len(chosen) < count and nearest.max() >= -TOUCH_MM:
            chosen.append(int(nearest.argmax()))
            nearest = np.minimum(nearest, table[chosen[-1]])
        best = max(best, chosen, key=lambda nodes: (len(nodes), _least(table, nodes)))
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


def _widened(
    beside: Beside, table: Array, chosen: list[int], bound_mm: float
) -> tuple[list[int], float]:
    """As many nodes with the largest smallest gap that is found, and the most not refuted."""

    def find(agrees: NDArray[np.bool_]) -> Answer:
        return _find(beside, agrees, len(chosen))

    return _bisected(table, chosen, bound_mm, find)


def _bisected(
    table: Array,
    chosen: list[int],
    bound_mm: float,
    find: Callable[[NDArray[np.bool_]], Answer],
) -> tuple[list[int], float]:
    """The largest smallest gap for which something is found, and the most not refuted.

    A choice's smallest gap is one of those that occur; they are told apart in steps of TOUCH_MM.
    """
    steps = np.unique(np.round(table[table >= -TOUCH_MM] / TOUCH_MM))
    values = steps[steps * TOUCH_MM <= bound_mm + TOUCH_MM] * TOUCH_MM
    low = int(np.searchsorted(values, _least(table, chosen) + TOUCH_MM / 2))
    high = refuted = len(values)
    while low < high:
        middle = (low + high) // 2
        answer = find(table >= values[middle] - TOUCH_MM / 2)
        if answer.found:
            chosen = list(answer.found)
            low = int(np.searchsorted(values, _least(table, chosen) + TOUCH_MM / 2))
        else:
            high = middle
            refuted = middle if answer.complete else refuted
    return chosen, float(values[refuted - 1])


def _earlier(beside: Beside, table: Array, chosen: list[int]) -> list[int]:
    """The same, each node exchanged for the first that leaves the least gap as it is."""
    found, gap_mm = sorted(chosen), _least(table, chosen)
    for at in range(len(found)):
        others = found[:at] + found[at + 1 :]
        will_do = (table[others] >= gap_mm - TOUCH_MM / 2).all(axis=0)
        for node in np.flatnonzero(will_do).tolist():
            if node == found[at] or beside.pinned([*others, node]) is not None:
                found[at] = node
                break
    return sorted(found)


def _least(table: Array, nodes: Sequence[int]) -> float:
    """The smallest gap of any two of some nodes; infinity for one."""
    return float(table[np.ix_(nodes, nodes)][np.triu_indices(len(nodes), 1)].min(initial=math.inf))


def least_gap(beside: Beside, places: Sequence[PlaceProposal]) -> float:
    """The smallest gap of any two places, mm."""
    return float(beside.gaps(places)[np.triu_indices(len(places), 1)].min(initial=math.inf))


class Weighed(NamedTuple):
    """Places that can be taken at the same time. `weight`: what they weigh two by two; `best`: no
    others weigh more, as was shown. `gap_mm`: the smallest gap of any two."""

    nodes: tuple[int, ...]
    places: tuple[PlaceProposal, ...]
    weight: float
    best: bool
    gap_mm: float


def heaviest(
    beside: Beside, one_way: Sequence[Sequence[float]], of: Sequence[int], count: int, most: int
) -> list[Weighed]:
    """Choices of `count` nodes (2 or more) that weigh most, and, of equal ones, with the largest
    smallest gap: the first of all, then up to `most` in which one of its jigs lies elsewhere.

    `of`: the class of each node. `one_way`: what a node of one class weighs with one of another;
    two weigh what they do both ways.
    """
    table, single = beside.table(), np.array(one_way)
    weights = (single + single.T)[np.ix_(of, of)]
    first = _heaviest(beside, table, weights, count)
    if first is None:
        return []
    others = [_heaviest(beside, each, weights, count) for each in _elsewhere(table, beside, first)]
    found = {each.nodes: each._replace(best=False) for each in others if each is not None}
    ranked = sorted(found.values(), key=lambda each: (-round(each.weight / SAME), -each.gap_mm))
    return [first, *ranked[: most - 1]]


def _elsewhere(table: Array, beside: Beside, first: Weighed) -> Iterator[Array]:
    """The table without the places that lie over one of a choice, for each of it."""
    gaps = beside.gaps(beside.nodes)
    for node in first.nodes:
        over = gaps[node] < -TOUCH_MM
        without = table.copy()
        without[over, :] = without[:, over] = -np.inf
        yield without


def _heaviest(beside: Beside, table: Array, weights: Array, count: int) -> Weighed | None:
    will = _will(beside)
    beside.doubtful = False
    agrees = table >= -TOUCH_MM
    answer = heaviest_clique(weights, agrees, count, may=beside.may, will=will)
    if not answer.found:
        return None
    best = answer.complete and not beside.doubtful
    weight = _weight(weights, answer.found)

    def find(agrees: NDArray[np.bool_]) -> Answer:
        return heaviest_clique(
            weights, agrees, count, may=beside.may, will=will, at_least=weight - SAME
        )

    nodes, _ = _bisected(table, list(answer.found), math.inf, find)
    places = beside.pinned(nodes) or ()
    weight = _weight(weights, nodes)
    return Weighed(tuple(nodes), places, weight, best, least_gap(beside, places))


def _weight(weights: Array, nodes: Sequence[int]) -> float:
    return float(weights[np.ix_(nodes, nodes)][np.triu_indices(len(nodes), 1)].sum())


def _outline(corners: Array) -> Outline:
    return tuple((x, y) for x, y in corners.tolist())


def area_bound(footprints: Array) -> int:
    """So many bodies of one shape, (n, l, 2), at most lie in the area that all places cover."""
    _, firsts = np.unique(np.round(footprints / TOUCH_MM), axis=0, return_index=True)
    bodies = polygons(footprints[firsts])
    return int(union_all(bodies).area / bodies[0].area + 1e-9)


def gap_bound(footprints: Array, count: int) -> float:
    """No `count` (2 or more) of these places, of one shape (n, l, 2), have a larger smallest gap,
    in mm.

    Grown by r, half the gap, the bodies do not overlap and lie in the box around all places, grown
    by r as well. A convex body of area A and perimeter P covers A + P r + pi r2 when grown (Steiner
    formula); any other at least A + 2 r sqrt(pi A) + pi r2 (Brunn-Minkowski inequality).
    """
    box, body = Box(*boxes_of(footprints.reshape(1, -1, 2))[0].tolist()), _outline(footprints[0])
    area = abs(signed_area(body))
    convex = len(convex_parts(body)) == 1
    around = Polygon(body).length if convex else 2 * math.sqrt(math.pi * area)
    square = (count - 1) * math.pi
    linear = count * around - 2 * (box.width + box.depth)
    left = count * area - box.width * box.depth
    if left > 0:
        return 0.0
    return (-linear + math.sqrt(linear * linear - 4 * square * left)) / square
