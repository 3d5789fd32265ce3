"""Several places at once: against brute force over all choices; bounds against what is found."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon
from test_places import L_JIG, SMALL, as_footprint, jig_facts
from thinning import thinned

from pincorner.geometry.outline import rectangle
from pincorner.places import pins
from pincorner.places.beside import pair_table
from pincorner.places.cliques import find_clique
from pincorner.places.search import PlaceProposal, find_places
from pincorner.places.several import area_bound, gap_bound, spread_out

ROUNDING_MM = 1e-6  # gaps are told apart in steps of TOUCH_MM
LOW = SMALL.replace("[410, 240, 20]", "[160, 70, 20]")
"""The small bed with stock that lies within every jig of these tests."""

TINY = LOW.replace("columns: 8, rows: 6", "columns: 6, rows: 4")


def table_by_geos(places: Sequence[PlaceProposal]) -> np.ndarray[Any, Any]:
    """Gaps of every two places by GEOS; -inf where they cannot be taken together."""
    jigs = np.array([Polygon(each.footprint) for each in places])
    table = shapely.distance(jigs[:, None], jigs)
    cannot = shapely.area(shapely.intersection(jigs[:, None], jigs)) > 1e-3
    for at, place in enumerate(places):
        for pin in place.located.pins:
            cannot[at] |= shapely.distance(jigs, Point(pin.at_mm)) < pin.radius_mm - 1e-6
        corner = place.located.corner_hole
        cannot[at] |= [corner in other.holes for other in places]
    for a, b in itertools.combinations(range(len(places)), 2):
        cannot[a, b] |= any(
            pin.hole != other.hole
            and math.dist(pin.at_mm, other.at_mm) < pin.radius_mm + other.radius_mm - 1e-6
            for pin, other in itertools.product(places[a].located.pins, places[b].located.pins)
        )
    return np.where(cannot | cannot.T, -math.inf, table)


def least_of(places: Sequence[PlaceProposal]) -> float:
    """The smallest gap of two of these places, by GEOS; without end for one."""
    return float(table_by_geos(places)[np.triu_indices(len(places), 1)].min(initial=math.inf))


def best_by_brute_force(table: np.ndarray[Any, Any], count: int) -> float:
    """The largest smallest gap over all choices of so many; -inf where none can be taken."""
    best = -math.inf
    for nodes in itertools.combinations(range(len(table)), count):
        least = min(table[a, b] for a, b in itertools.combinations(nodes, 2))
        best = max(best, least)
    return best


@pytest.mark.parametrize(
    ("footprint", "pose"),
    [((210, 110), 0), (L_JIG, 0), ((240, 140), 0.4), ((330, 110), 0)],
    ids=["small", "notched", "askew", "long"],
)
def test_gaps_of_every_two_places_are_those_of_shapely(footprint: Any, pose: float) -> None:
    """Every two places of a small bed: the gap of GEOS, and none where jigs or pins clash."""
    text = LOW.replace("angle: 0}", f"angle: {pose}}}")
    if pose:  # a row of holes that is not straight lays jigs askew
        text = text.replace("    surface: -120\n", "    surface: -120\n    extra: [{name: C2, "
                            "at: [200.4, 101.2]}, {name: E4, at: [399.5, 298.8]}]\n")  # fmt: skip
    found = jig_facts(text, jig={"footprint": as_footprint(footprint)})
    places = find_places(found, turns=(0, 90)).proposals[::3]
    assert len(places) > 8
    own, geos = pair_table(found, places), table_by_geos(places)
    np.fill_diagonal(geos, -math.inf)
    assert np.allclose(own, geos, atol=ROUNDING_MM, equal_nan=True)


def test_corners_in_pieces_are_those_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A large bed is looked at in pieces, and each is told: with the same places in the end."""
    found, told = jig_facts(LOW, jig={"footprint": (210.0, 110.0)}), list[tuple[int, int]]()
    once = find_places(found, telling=lambda done, ways: told.append((done, ways)))
    assert told[0] == (0, once.ways) and told[-1] == (once.ways, once.ways) and len(told) == 17
    monkeypatch.setattr(pins, "_CORNERS_AT_ONCE", 5)
    monkeypatch.setattr(pins, "_JUDGED_AT_ONCE", 7)
    again = find_places(found)
    assert again.against == once.against and len(once.proposals) > 8
    assert (again.proposals.pins == once.proposals.pins).all()
    assert (again.proposals.poses == once.proposals.poses).all()


HANDLE = LOW.replace(
    "    seat: 18",
    "    solids: [{name: handle, from: [50, -105], to: [90, 5], top: 60}]\n    seat: 18",
)
OVERHANG = LOW.replace("zero: [25, 20], stock: {size: [160, 70, 20]}",
                       "zero: [50, -105], stock: {size: [40, 110, 20]}")  # fmt: skip


@pytest.mark.parametrize("text", [HANDLE, OVERHANG], ids=["handle", "stock"])
def test_what_sticks_out_keeps_jigs_apart(text: str) -> None:
    """A handle, or stock, beyond the footprint of one jig lies over no other jig, over no pin."""
    found = jig_facts(text, jig={"footprint": (210.0, 110.0)})
    places = find_places(found, turns=(0,)).proposals
    table = pair_table(found, places)
    jigs = np.array([Polygon(each.footprint) for each in places])
    handles = []
    for each in places:
        frame = each.located.corner_in_bed @ each.located.jig_in_corner
        handles.append(Polygon(frame.points(((50, -105), (90, -105), (90, 5), (50, 5)))))
    over_jigs = over_pins = 0
    over_jig = shapely.area(shapely.intersection(np.array(handles)[:, None], jigs)) > 1e-3
    apart = shapely.disjoint(jigs[:, None], jigs)
    for b, place in enumerate(places):
        over_pin = np.zeros(len(places), dtype=bool)
        for pin in place.located.pins:
            over_pin |= shapely.distance(handles, Point(pin.at_mm)) < pin.radius_mm - 1e-6
        there = over_jig[:, b] | over_pin
        there[b] = False
        assert (table[there, b] == -math.inf).all() and (table[b, there] == -math.inf).all()
        over_jigs += (there & over_jig[:, b] & apart[:, b]).sum()
        over_pins += (there & ~over_jig[:, b] & apart[:, b]).sum()
    assert over_jigs > 0
    assert over_pins > 0


@pytest.mark.parametrize("count", [1, 2, 3, 4])
@pytest.mark.parametrize("footprint", [(210, 110), (240, 140), (330, 110)], ids=str)
def test_no_choice_has_a_larger_smallest_gap(footprint: tuple[int, int], count: int) -> None:
    """On a bed of 6 by 4 holes: as many as fit, and the largest smallest gap of all choices."""
    found = jig_facts(TINY, jig={"footprint": as_footprint(footprint)})
    places = find_places(found, turns=(0, 90))
    some = places._replace(proposals=places.proposals[:: 1 + len(places.proposals) // 40])
    table = table_by_geos(some.proposals)
    chosen = spread_out(some, count)
    assert chosen.exact
    assert len(chosen.places) >= min(count, 2)
    if len(chosen.places) < count:
        assert chosen.most == len(chosen.places)
        assert best_by_brute_force(table, len(chosen.places) + 1) == -math.inf
    if len(chosen.places) > 1:
        best = best_by_brute_force(table, len(chosen.places))
        assert chosen.gap_mm == pytest.approx(best, abs=ROUNDING_MM)
        assert least_of(chosen.places) == pytest.approx(best, abs=ROUNDING_MM)
        assert gap_bound(some.proposals.footprints, len(chosen.places)) >= best


@pytest.mark.parametrize(("count", "footprint"), [(9, (210, 110)), (20, (210, 110)), (4, L_JIG)])
def test_many_places_stay_below_what_the_area_allows(count: int, footprint: Any) -> None:
    """Many at once do not overlap, and are no more and no farther apart than areas allow."""
    found = jig_facts(jig={"footprint": as_footprint(footprint)})
    places = find_places(found, turns=(0, 90))
    chosen = spread_out(places, count)
    footprints = places.proposals.footprints
    assert least_of(chosen.places) == pytest.approx(chosen.gap_mm, abs=ROUNDING_MM)
    assert 2 <= len(chosen.places) <= chosen.most <= min(count, area_bound(footprints))
    assert chosen.gap_mm <= chosen.bound_mm <= gap_bound(footprints, len(chosen.places)) + 1e-6


def test_bounds_by_hand() -> None:
    """Four squares of 100 in the corners of 300 by 300; the area of 9 is all there is."""
    corners = [(0, 0), (200, 0), (0, 200), (200, 200)]
    squares = np.array([rectangle(x, y, x + 100, y + 100) for x, y in corners], dtype=float)
    assert area_bound(squares) == 4
    # 3 pi r2 + (1600 - 1200) r + 40,000 - 90,000 = 0, r = half the gap
    r = (-400 + math.sqrt(160_000 + 4 * 3 * math.pi * 50_000)) / (6 * math.pi)
    assert gap_bound(squares, 4) == pytest.approx(2 * r)
    assert gap_bound(squares, 4) >= 100
    assert gap_bound(squares, 10) == 0.0


def test_earlier_proposals_are_taken_where_that_costs_nothing() -> None:
    """No place can be exchanged for an earlier proposal without a smaller gap."""
    found = jig_facts(jig={"footprint": (210.0, 110.0)})
    places = find_places(found, turns=(0,))
    chosen = spread_out(places, 3)
    for at, place in enumerate(chosen.places):
        others = [each for each in chosen.places if each is not place]
        earlier = places.proposals[: places.proposals.index(place)]
        least = table_by_geos([*others, *earlier])[: len(others), len(others) :].min(
            axis=0, initial=math.inf
        )
        for each, gap_mm in zip(earlier, least, strict=True):
            assert gap_mm < chosen.gap_mm - 1e-7 or each.footprint == place.footprint, at


def test_nothing_to_choose_from() -> None:
    """No proposals, or none asked for, give an empty choice that is exact."""
    found = jig_facts(jig={"footprint": (210.0, 110.0)})
    places = find_places(found, turns=(0,))
    for chosen in (
        spread_out(places._replace(proposals=places.proposals[:0]), 3),
        spread_out(places, 0),
    ):
        assert chosen.places == ()
        assert chosen.gap_mm is None


@pytest.mark.parametrize("seed", range(thinned(30)))
def test_cliques_are_found_where_there_are_any(seed: int) -> None:
    """On random graphs of 13 nodes: found exactly where brute force finds one, and true."""
    rng = np.random.default_rng(seed)
    agrees = np.triu(rng.random((13, 13)) < rng.uniform(0.2, 0.95), 1)
    agrees |= agrees.T
    for size in range(1, 9):
        answer = find_clique(agrees, size)
        there = any(
            all(agrees[a, b] for a, b in itertools.combinations(nodes, 2))
            for nodes in itertools.combinations(range(13), size)
        )
        assert answer.complete
        assert bool(answer.found) == there
        assert all(agrees[a, b] for a, b in itertools.combinations(answer.found, 2))
        assert len(set(answer.found)) == (size if there else 0)


def test_a_search_that_is_given_up_proves_nothing() -> None:
    """With too few steps the answer is none, and is not complete."""
    ring = np.arange(21)
    agrees = (ring[:, None] - ring) % 21 > 1
    agrees &= agrees.T  # all but neighbours: 10 of 21 at most
    assert find_clique(agrees, 11, steps=10) == ((), False)
    assert find_clique(agrees, 11) == ((), True)
    assert len(find_clique(agrees, 10).found) == 10
