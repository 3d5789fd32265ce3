"""Jigs beside each other: as many as whatever pins allow, against every choice of pins by force."""

from __future__ import annotations

import itertools
import math
import random
from typing import Any, NamedTuple

import numpy as np
import pytest
from shapely import Point, Polygon
from test_places import as_footprint, jig_facts
from test_places_many import LOW, least_of
from thinning import thinned

from pincorner.places.beside import Beside, pair_table
from pincorner.places.cliques import find_clique, heaviest_clique
from pincorner.places.search import PlaceProposal, find_places
from pincorner.places.several import heaviest, nodes_of, spread_out
from pincorner.setups.facts import Facts

ROUNDING_MM = 1e-6


class Lying(NamedTuple):
    """A jig at a corner: its outline, the hole that stays empty, every choice of three holes, and
    the holes in which no other jig's pin may stand; sets of holes as bits."""

    jig: Polygon
    pins: tuple[int, ...]
    forbids: int


def bed_with(columns: int, rows: int, missing: tuple[str, ...] = ()) -> str:
    """The bed of so many holes, some of them missing."""
    line = f"    missing: [{', '.join(missing)}]\n" if missing else ""
    text = LOW.replace("columns: 8, rows: 6", f"columns: {columns}, rows: {rows}")
    return text.replace("    surface: -120\n", f"    surface: -120\n{line}")


def lyings(found: Facts, places: tuple[PlaceProposal, ...]) -> list[Lying]:
    """Each place by itself, its pins enumerated: two on either edge a tenth of it apart or
    more, a stop on the other."""
    holes = {hole.label: hole for hole in found.bed.holes()}
    bit = {label: 1 << at for at, label in enumerate(holes)}
    radius = next(iter(found.pins.values())).body / 2
    made = []
    for place in places:
        corner = place.located.corner_hole
        cx, cy = holes[corner].at_mm
        signs = [1 if sign == "+" else -1 for sign in place.located.toward[::2]]
        xs, ys = zip(*place.footprint, strict=True)
        size = (max(xs) - min(xs), max(ys) - min(ys))
        sides: list[list[tuple[float, str]]] = [[], []]
        for label, hole in holes.items():
            away = (hole.at_mm[0] - cx, hole.at_mm[1] - cy)
            for axis in (0, 1):
                at = signs[axis] * away[axis] - radius
                if away[1 - axis] == 0 and 0 <= at <= size[axis] and hole.usable:
                    sides[axis].append((at, label))
        pins = [
            bit[one] | bit[two] | bit[stop]
            for edge in (0, 1)
            for (a, one), (b, two) in itertools.combinations(sides[edge], 2)
            for _, stop in sides[1 - edge]
            if abs(a - b) >= size[edge] / 10
        ]
        jig = Polygon(place.footprint)
        under = [
            bit[label] for label, hole in holes.items()
            if jig.distance(Point(hole.at_mm)) < radius - ROUNDING_MM
        ]  # fmt: skip
        made.append(Lying(jig, tuple(pins), sum(under) | bit[corner]))
    return made


def can_lie(some: list[Lying]) -> bool:
    """Whether jigs lie beside each other, each with some pins that no other forbids."""
    for one, other in itertools.combinations(some, 2):
        if one.jig.intersection(other.jig).area > 1e-3:
            return False
    for one in some:
        forbidden = 0
        for other in some:
            forbidden |= 0 if other is one else other.forbids
        if all(pins & forbidden for pins in one.pins):
            return False
    return True


def most_by_force(some: list[Lying], at_most: int) -> int:
    """The most that lie beside each other at once, no more than asked for."""

    def further(chosen: list[Lying], rest: list[Lying]) -> int:
        best = len(chosen)
        for at, each in enumerate(rest):
            if best == at_most or best >= len(chosen) + len(rest) - at:
                break
            if can_lie([*chosen, each]):
                best = max(best, further([*chosen, each], rest[at + 1 :]))
        return best

    return further([], some)


EXAMPLES = [
    # found by a search over beds and jigs: with each corner's best pins alone, one jig less
    (5, 6, (305, 105), 4, 5),
    (6, 6, (310, 200), 3, 4),
]


@pytest.mark.parametrize(("columns", "rows", "size", "with_best", "count"), EXAMPLES)
def test_other_pins_make_room(
    columns: int, rows: int, size: tuple[int, int], with_best: int, count: int
) -> None:
    """Where best pins exclude each other one jig more lies on the bed with others; all of them
    have pins that no other jig's corner, body or pins are in the way of."""
    found = jig_facts(bed_with(columns, rows), jig={"footprint": as_footprint(size)})
    places = find_places(found, turns=(0, 90))
    together = pair_table(found, nodes_of(places)[0]) >= 0
    assert find_clique(together, with_best).found
    assert find_clique(together, with_best + 1) == ((), True)
    chosen = spread_out(places, count)
    assert len(chosen.places) == count
    assert least_of(chosen.places) >= 0


@pytest.mark.parametrize("seed", range(thinned(30)))
def test_as_many_as_any_pins_allow(seed: int) -> None:
    """On random small beds, some holes missing: as many as brute force finds over all pins."""
    rng = random.Random(seed)
    columns, rows = rng.randint(4, 5), rng.randint(4, 6)
    labels = [f"{'ABCDE'[x]}{y + 1}" for x in range(columns) for y in range(rows)]
    missing = tuple(rng.sample(labels, rng.randint(0, len(labels) // 4)))
    size = rng.randrange(165, 330, 5), rng.randrange(95, 300, 5)
    found = jig_facts(bed_with(columns, rows, missing), jig={"footprint": as_footprint(size)})
    places = find_places(found, turns=rng.choice([(0,), (0, 90)]))
    some = places._replace(proposals=places.proposals[:36])
    chosen = spread_out(some, 4)
    best = most_by_force(lyings(found, some.proposals), 4)
    assert len(chosen.places) == best
    if best < 4:
        assert (chosen.most == best and chosen.exact) or best == 0
    assert least_of(chosen.places) >= 0


def best_by_force(weights: Any, agrees: Any, size: int) -> float:
    """The most that so many nodes weigh, over all choices."""
    best = -math.inf
    for nodes in itertools.combinations(range(len(weights)), size):
        pairs = list(itertools.combinations(nodes, 2))
        if all(agrees[a, b] for a, b in pairs):
            best = max(best, sum(weights[a, b] for a, b in pairs))
    return best


@pytest.mark.parametrize("seed", range(thinned(24)))
def test_the_heaviest_cliques(seed: int) -> None:
    """On random graphs of 11 nodes: what brute force finds, equal weights among them; asked for
    the half of it, any that weighs so much."""
    rng = np.random.default_rng(seed)
    agrees = np.triu(rng.random((11, 11)) < rng.uniform(0.3, 0.95), 1)
    weights = np.triu(rng.integers(0, 4, (11, 11)).astype(float), 1)
    agrees, weights = agrees | agrees.T, weights + weights.T
    for size in range(2, 6):
        best = best_by_force(weights, agrees, size)
        answer = heaviest_clique(weights, agrees, size)
        assert answer.complete
        assert bool(answer.found) == (best > -math.inf)
        if answer.found:
            pairs = list(itertools.combinations(answer.found, 2))
            assert all(agrees[a, b] for a, b in pairs)
            assert sum(weights[a, b] for a, b in pairs) == best
            some = heaviest_clique(weights, agrees, size, at_least=best / 2)
            assert sum(weights[a, b] for a, b in itertools.combinations(some.found, 2)) >= best / 2
    assert not heaviest_clique(weights, agrees, 3, steps=0).complete


def test_equal_weights_are_told_apart_by_their_gap() -> None:
    """Of choices that weigh the same the one with the largest smallest gap comes first, by brute
    force over all; the others that are told leave out one of its jigs each."""
    found = jig_facts(bed_with(6, 4), jig={"footprint": (210.0, 110.0)})
    places = find_places(found, turns=(0,))
    nodes = nodes_of(places)[0][::2]
    beside = Beside(places, nodes)
    table = beside.table()
    rng = np.random.default_rng(3)
    weights = np.triu(rng.integers(0, 2, (len(nodes), len(nodes))).astype(float), 1)
    ranked = heaviest(beside, weights.tolist(), range(len(nodes)), 2, 3)
    weights += weights.T
    by_force = [
        (weights[a, b], table[a, b])
        for a, b in itertools.combinations(range(len(nodes)), 2)
        if table[a, b] >= 0 and beside.pinned((a, b)) is not None
    ]
    assert (ranked[0].weight, ranked[0].gap_mm) == pytest.approx(max(by_force))
    assert ranked[0].best and len(ranked) == 3
    first = [nodes[at].footprint for at in ranked[0].nodes]
    for other in ranked[1:]:
        there = [Polygon(nodes[at].footprint) for at in other.nodes]
        assert any(all(Polygon(jig).intersection(each).area < 1e-3 for each in there)
                   for jig in first)  # fmt: skip
