"""Places for a jig on a bed: against brute force with Shapely over every corner, quadrant, turn."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
import pytest
from shapely import Point, Polygon, box, unary_union
from shapely.geometry.base import BaseGeometry
from thinning import thinned
from worlds import BASE, facts, world

from pincorner.documents.stations import DowelPins, hole_of
from pincorner.errors import Refused
from pincorner.geometry.outline import Outline, bounds, rectangle
from pincorner.geometry.pose import Pose
from pincorner.geometry.student import coverage_factor
from pincorner.places.pins import bed_holes, coverage_factors
from pincorner.places.search import (
    PlaceProposal,
    Places,
    all_at_once,
    find_places,
    one_by_one,
)
from pincorner.places.ways import (
    TAKEN_CORNER,
    TAKEN_PINS,
    TOWARDS,
    find_ways,
    nominal_deg,
    turns_as_posted,
)
from pincorner.render.outputs.runs import places_json
from pincorner.render.text.places import places_text
from pincorner.setups.choice import choose_pins, with_pins
from pincorner.setups.facts import Facts
from pincorner.setups.locating import two_on_shorter
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.standing import Standing

ROUNDING_MM = 1e-9
TOUCH_MM = 1e-6
TURNS = (0, 90, 180, 270)
SMALL = BASE.replace("columns: 15, rows: 9", "columns: 8, rows: 6").replace(
    "x: [0, 1540], y: [0, 940]", "x: [30, 800], y: [0, 570]"
)
"""A bed of 8 by 6 holes in a travel that leaves out its left, right and back."""

L_JIG = [[0, 0], [330, 0], [330, 90], [150, 90], [150, 240], [0, 240]]
DOWELS = "{round: {at: [20, 40], hole: 20.05}, slot: {at: [320, 40], width: 20.05, travel: 4}}"


def with_on_bed(text: str, line: str) -> str:
    """The text with one more line in its bed."""
    return text.replace("    surface: -120\n", f"    surface: -120\n    {line}\n")


def jig_facts(text: str = SMALL, **changes: Any) -> Facts:
    """Facts of a draft on the small bed; `changes` update every document of a kind."""
    return facts(world(text, **changes))


class Way(NamedTuple):
    """One way of laying a jig, found by brute force."""

    pins: tuple[str, ...]
    footprint: Outline
    u95_mm: float
    gap_mm: float | None


def disc_hits(point: tuple[float, float], radius: float, other: Standing) -> bool:
    """Whether a disc overlaps what stands there, by GEOS."""
    if len(other.outline) == 1:
        return math.dist(point, other.outline[0]) < radius + other.radius_mm - TOUCH_MM
    return bool(Polygon(other.outline).distance(Point(point)) < radius - TOUCH_MM)


def body_hits(body: BaseGeometry, other: Standing) -> bool:
    """Whether an outline overlaps what stands there, by GEOS."""
    if len(other.outline) == 1:
        return bool(body.distance(Point(other.outline[0])) < other.radius_mm - TOUCH_MM)
    return bool(body.intersection(Polygon(other.outline)).area > 1e-3)


def taken_holes(found: Facts, standing: list[Standing]) -> set[str]:
    """Labels of holes where our pin would stand in something."""
    pin, taken = next(iter(found.pins.values())), set()
    for place in found.bed.holes():
        for each in standing:
            ours = (each.hole, each.name) == (place.label, pin.name)
            if not ours and disc_hits(place.at_mm, pin.body / 2, each):
                taken.add(place.label)
    return taken


def lies_well(setups: list[Setup], standing: list[Standing]) -> bool:
    """On the bed, clear of what stands there, zeros and stock in the travel, a track in reach."""
    first = setups[0]
    footprint, bed = Polygon(first.footprint_in_bed()), first.facts.bed
    lies = [*first.footprint_in_bed(), *(at for each in setups for at in each.stock_in_bed())]
    around, edge = bounds(tuple(lies)), bed.box.grown(TOUCH_MM)
    if not (edge.holds((around.left, around.front)) and edge.holds((around.right, around.back))):
        return False
    holder = first.facts.holder
    stocks = [nest.in_jig.points(nest.stock.outline) for nest in holder.nests]
    parts = [holder.outline, *stocks, *(solid.box.outline for solid in holder.solids)]
    body = unary_union([Polygon(first.jig_in_bed.points(part)) for part in parts])
    if any(body_hits(body, each) for each in standing):
        return False
    travel = first.facts.machine.travel
    room = box(travel.x[0], travel.y[0], travel.x[1], travel.y[1]).buffer(TOUCH_MM)
    for setup in setups:
        points = [setup.zero_in_bed, *setup.stock_in_bed()]
        if not all(room.covers(Point(setup.bed_in_machine.point(each))) for each in points):
            return False
    bands = [box(*each.from_, *each.to).buffer(each.width / 2, cap_style="flat")
             for each in bed.tracks]  # fmt: skip
    return not bands or min(footprint.distance(band) for band in bands) <= 150.0 + TOUCH_MM


def corners_of(found: Facts, places: Places) -> set[str]:
    """Labels of every third hole, drawn at random, and of some where a jig can lie: to judge one
    way takes 5 ms."""
    labels = [place.label for place in found.bed.holes()]
    drawn = np.random.default_rng(20261130).permutation(len(labels))
    some = places.proposals[:: max(1, len(places.proposals) // 2)]
    return {labels[at] for at in drawn[: thinned(len(labels))]} | {each.where for each in some}


def brute_force(
    found: Facts, corners: set[str], standing: list[Standing], empty: set[str] = frozenset()
) -> dict[tuple[str, str, int], Way]:
    """Every way that will do at these corners, one by one, by corner, quadrant and turn."""
    missing = (*found.bed.missing, *taken_holes(found, standing), *empty)
    bed = type(found.bed).model_validate(
        {**found.bed.model_dump(by_alias=True, exclude_unset=True), "missing": missing},
        context={"units": "mm"},
    )
    pinned = {each.hole for each in standing if each.kind == "pin"}
    jigs = [Polygon(each.outline) for each in standing if each.footprint]
    ways = {}
    for place, toward, turn in itertools.product(bed.holes(), TOWARDS, TURNS):
        if place.label in pinned or place.label not in corners:
            continue
        update = {"pins": None, "corner": place.label, "toward": toward, "turn": turn}
        way = found._replace(bed=bed, station=found.station.model_copy(update=update))
        try:
            pins = choose_pins(way).pins
            setups = make_setups(way._replace(station=with_pins(way.station, pins)))
        except Refused:
            continue
        if lies_well(setups, standing):
            footprint = setups[0].footprint_in_bed()
            ways[place.label, toward, turn] = Way(
                tuple(hole_of(entry) for _, _, entry in pins.by_role()),
                footprint,
                max(setup.budget.u95_worst_mm for setup in setups),
                min((Polygon(footprint).distance(jig) for jig in jigs), default=None),
            )
    return ways


def by_way(
    places: Places, corners: set[str] | None = None
) -> dict[tuple[str, str, int], PlaceProposal]:
    """Proposals by corner, quadrant and turn; at some corners, or at all."""
    return {
        (each.where, each.located.toward, each.station.turn): each
        for each in places.proposals
        if corners is None or each.where in corners
    }


def thing(kind: Any, outline: Outline, name: str, station: str) -> Standing:
    """Something of a station; a jig lies where its outline is."""
    lies = kind == "jig"
    return Standing(kind, name, outline, station=station, jig=name, footprint=lies)


def pin_in(found: Facts, hole: str, name: str, radius_mm: float) -> Standing:
    """A pin of station s in a hole."""
    place = found.bed.hole(hole)
    assert place is not None
    return Standing("pin", name, (place.at_mm,), station="s", hole=hole, radius_mm=radius_mm)


def random_things(found: Facts, rng: np.random.Generator) -> Iterator[Standing]:
    """Jigs that lie askew, clamps, pins of both kinds in holes."""
    for kind in ("jig", "clamp", "solid", "jig"):
        x, y, w, d, a = rng.uniform((-50, -50, 20, 20, -1), (750, 550, 120, 90, 1))
        turned = [
            (x + math.cos(a) * u - math.sin(a) * v, y + math.sin(a) * u + math.cos(a) * v)
            for u, v in rectangle(0, 0, w, d)
        ]
        outline = tuple((float(px), float(py)) for px, py in turned)
        yield thing(kind, outline, kind, "s")
    for pin, radius in (("peg-20", 10.0), ("stub-30", 15.0)):
        column, row = int(rng.integers(8)), int(rng.integers(6))
        yield pin_in(found, f"{'ABCDEFGH'[column]}{row + 1}", pin, radius)


JIGS: list[Any] = [(330, 190), (240, 240), L_JIG, (410, 115)]


@pytest.mark.parametrize("seed", range(thinned(12)))
def test_places_are_those_of_brute_force(seed: int) -> None:
    """On random beds, not bare, the same ways, pins, u95 and gaps as judging one at a time."""
    rng = np.random.default_rng(seed)
    gone = tuple({f"{'ABCDEFGH'[rng.integers(8)]}{rng.integers(1, 7)}" for _ in range(5)})
    tracks = "tracks: [{name: T1, from: [-50, 250], to: [750, 250], width: 19, depth: 1}]"
    text = with_on_bed(SMALL, tracks)
    if seed % 2:
        text = text.replace("pose: {x: 60, y: 55, angle: 0}", "pose: {x: 63, y: 51, angle: 0.3}")
        text = text.replace("zero: [25, 20]", "zero: [25, 40], angle: -12")
    text = text.replace("size: [410, 240, 20]", "size: [150, 70, 20]")
    found = jig_facts(text, jig={"footprint": as_footprint(JIGS[seed % 4])}, bed={"missing": gone})
    standing = list(random_things(found, rng))
    empty = {f"{'ABCDEFGH'[rng.integers(8)]}{rng.integers(1, 7)}"}
    places = find_places(found, standing, empty=empty)
    corners = corners_of(found, places)
    expected = brute_force(found, corners, standing, empty)
    got = by_way(places, corners)
    assert set(got) == set(expected)
    assert len(got) > 3 and len(places.proposals) > 5, "too few places to learn from"
    for key, way in expected.items():
        assert got[key].holes == way.pins, key
        assert got[key].u95_worst_mm == pytest.approx(way.u95_mm, abs=ROUNDING_MM)
        assert got[key].gap_mm == pytest.approx(way.gap_mm, abs=ROUNDING_MM)
        assert np.allclose(got[key].footprint, way.footprint, atol=ROUNDING_MM)
    assert places.ways == len(found.bed.holes()) * 16
    assert sum(count for _, count in places.against) + len(places.proposals) == places.ways


def as_footprint(value: Any) -> Any:
    """A footprint as documents hold it."""
    if isinstance(value, tuple):
        return tuple(map(float, value))
    return tuple((float(x), float(y)) for x, y in value)


def test_best_come_first() -> None:
    """Proposals come by u95, then by the gap to the stations asked about, to 1e-6 mm."""
    standing = [
        thing("jig", rectangle(0, 0, 60, 60), "tray", "near"),
        thing("jig", rectangle(600, 400, 700, 500), "tray", "far"),
    ]
    found = jig_facts(jig={"footprint": (240.0, 190.0)})
    for beside in (None, {"far"}):
        places = find_places(found, standing, beside=beside)
        jigs = [
            Polygon(each.outline) for each in standing if beside is None or each.station == "far"
        ]
        ranks = [(round(each.u95_worst_mm / 1e-6), -each.gap_mm) for each in places.proposals]
        assert all(a <= (b[0], b[1] + 2e-6) for a, b in itertools.pairwise(ranks))
        for each in places.proposals:
            nearest = min(jig.distance(Polygon(each.footprint)) for jig in jigs)
            assert each.gap_mm == pytest.approx(nearest, abs=ROUNDING_MM)


def test_a_loading_zone_is_in_nobodys_way() -> None:
    """A zone takes no place away; the gap is measured to it and may be an overlap."""
    found = jig_facts(jig={"footprint": (240.0, 190.0)})
    zones = {"left": rectangle(-50, -50, 300, 550)}
    free, beside = find_places(found), find_places(found, zones=zones, beside={"left"})
    assert set(by_way(free)) == set(by_way(beside))
    assert min(each.gap_mm for each in beside.proposals) < 0 < beside.proposals[0].gap_mm
    assert free.proposals[0].gap_mm is None


def test_what_is_in_the_way_is_told_most_frequent_first() -> None:
    """Without any place the sentence names the things that most ways fail by, with counts."""
    found = jig_facts(jig={"footprint": (460.0, 280.0)})
    tray = thing("jig", rectangle(150, 100, 600, 400), "panel-tray", "left")
    places = find_places(found, [tray])
    assert not places.proposals
    counts = [count for _, count in places.against]
    assert counts == sorted(counts, reverse=True)
    assert places.why_none.startswith("no place: of 768 ways to lay panel-tray on bed long-bench, ")
    by_text = dict(places.against)
    assert f"{by_text['hit panel-tray of station left']} hit panel-tray" in places.why_none


def test_no_ways_at_all() -> None:
    """A slot that no pair of holes suits, and no turn allowed, are told as such."""
    text = SMALL.replace("    seat: 18", f"    locate: {DOWELS}\n    seat: 18")
    odd = find_places(jig_facts(text.replace("at: [320, 40]", "at: [270, 40]")))
    assert odd.why_none == (
        "no place: no two holes of bed long-bench suit round hole and slot of panel-tray"
    )
    still = find_places(jig_facts(), turns=())
    assert still.why_none == "no place: panel-tray may lie in none of its quarter turns"


def test_pins_of_the_same_kind_are_shared() -> None:
    """A hole with our kind of pin in it serves; one with another kind, or kept empty, does not."""
    found = jig_facts(jig={"footprint": (330.0, 190.0)})
    pinned = find_places(found, turns=(0,)).proposals[0].holes[1]
    ours = pin_in(found, pinned, "peg-20", 10.0)
    same = find_places(found, [ours], turns=(0,))
    assert any(pinned in each.holes for each in same.proposals)
    other = ours._replace(name="stub-30", radius_mm=15.0)
    ways: list[dict[str, Any]] = [{"standing": [other]}, {"empty": [pinned]}]
    for keys in ways:
        places = find_places(found, **keys, turns=(0,))
        assert not any(pinned in each.holes for each in places.proposals)
    assert dict(same.against)[TAKEN_CORNER] > 0


def test_jigs_on_dowels_lie_on_every_pair_that_the_slot_takes() -> None:
    """Pairs 300 mm apart along rows and columns, and along no other line of this grid."""
    text = SMALL.replace("    seat: 18", f"    locate: {DOWELS}\n    seat: 18")
    text = text.replace("[410, 240, 20]", "[290, 40, 20]")
    found = jig_facts(text, jig={"footprint": (340.0, 80.0)}, bed={"missing": ("C3",)})
    clamp = thing("clamp", rectangle(390, 290, 410, 310), "c", "s")
    places = find_places(found, [clamp])
    pairs = {each.holes for each in places.proposals}
    expected = set()
    holes = [place for place in found.bed.holes() if place.usable]
    for one, other in itertools.permutations(holes, 2):
        if abs(math.dist(one.at_mm, other.at_mm) - 300.0) > 2.0:
            continue
        pins = {"round": one.label, "slot": other.label}
        station = found.station.model_copy(update={"pins": DowelPins(**pins)})
        setups = make_setups(found._replace(station=station))
        taken = {"E4"} & {one.label, other.label}
        if not taken and lies_well(setups, [clamp]):
            expected.add((one.label, other.label))
    assert pairs == expected
    assert len(pairs) > 30
    assert dict(places.against)[TAKEN_PINS] > 0
    square = find_places(found, [clamp], turns=(90,))
    assert {each.holes for each in square.proposals} == {
        (a, b) for a, b in expected if a[0] == b[0] and int(b[1]) > int(a[1])
    }


def test_dowels_find_slanting_pairs() -> None:
    """A slot 500 mm from its round hole also fits three columns by four rows (3, 4, 5)."""
    text = SMALL.replace("    seat: 18", f"    locate: {DOWELS}\n    seat: 18")
    found = jig_facts(text.replace("at: [320, 40]", "at: [520, 40]").replace("30, 800", "0, 800"),
                      jig={"footprint": (540.0, 80.0)})  # fmt: skip
    angles = {round(each.turn_deg, 3) for each in find_places(found).proposals}
    assert {0.0, 90.0, 36.87, 53.13, -36.87} <= angles


def bare(spoil: float, depth: float, under: float = 0.0) -> Places:
    """Bare stock on the small bed with a track along y = 250 whose metal lies `depth` below."""
    track = f"{{name: T1, from: [-50, 250], to: [750, 250], width: 19, depth: {depth}}}"
    text = with_on_bed(SMALL, f"tracks: [{track}]")
    text = with_on_bed(text, "screws: [{name: S1, at: [150, 50], diameter: 9, depth: 30}]")
    text = with_on_bed(text, f"spoil: {spoil}")
    stock = {"stock": (330.0, 190.0, 18.0), "jig": None, "under": under}
    return find_places(facts(world(text), **stock), turns=(0, 90))


def test_no_cut_lies_over_metal_that_it_might_reach() -> None:
    """Stock on the surface stays off a track with less cover than cuts may go deep; else not."""
    over = Polygon(rectangle(-50, 240.5, 750, 259.5))
    thin, thick = bare(spoil=1.5, depth=1.0), bare(spoil=0.5, depth=1.0)
    raised = bare(spoil=1.5, depth=1.0, under=3.0)
    assert thin.proposals
    assert not any(over.intersects(Polygon(each.footprint)) for each in thin.proposals)
    assert any(over.intersects(Polygon(each.footprint)) for each in thick.proposals)
    assert set(by_way(thick)) == set(by_way(raised))
    assert set(by_way(thin)) == {
        key for key, each in by_way(thick).items() if not over.intersects(Polygon(each.footprint))
    }
    assert dict(thin.against)["would be cut over track T1"] > 0
    assert any("run_off is not given" in text for text in thin.assumed)


def test_programs_that_cannot_be_turned_are_told_to_be_posted_turned() -> None:
    """Where the dialect writes no angle, a turned place names the angle to post the program at."""
    found = jig_facts(jig={"footprint": (330.0, 190.0)})
    proposals = find_places(found).proposals
    for each in proposals:
        assert (
            each.station.program_angle
            == {0: 0.0, 90: 90.0, 180: 180.0, 270: -90.0}[each.station.turn]
        )
    one_of_each = {each.station.turn: each for each in proposals}
    assert one_of_each.keys() == set(TURNS)
    for each in one_of_each.values():
        assert make_setups(found._replace(station=each.station))[0].skew_mm == 0.0
    assert turns_as_posted(found) == (0,)
    posted = found.station.model_copy(update={"program_angle": -90.0})
    assert turns_as_posted(found._replace(station=posted)) == (270,)
    turning = found._replace(dialect=found.dialect.model_copy(update={"rotation": "r-word"}))
    assert turns_as_posted(turning) is None
    assert {each.station.program_angle for each in find_places(turning).proposals} == {0.0}
    survey = f"""surveys:
  - {{name: 2026-01-01, bed: {found.bed.name}, readings: [[A1, 60, 55]], fit: {{pose: {{x: 60,
     y: 55, angle: 90.05}}, points: 40, s: 0.05, dof: 74, centroid: [200, 200], spread: 900000}}}}
"""
    surveyed = jig_facts(SMALL + survey, jig={"footprint": (330.0, 190.0)})
    assert turns_as_posted(surveyed) == (270,)  # the bed lies as surveyed, not as it was stated
    lies = Pose.of_degrees("bed", "jig", 0.0, 0.0, 0.0)
    assert nominal_deg(surveyed, lies) == 90.0


def test_stock_that_hangs_over_the_bed_is_no_place() -> None:
    """Where stock that sticks out of its jig would reach over the bed's edge, as `outside-bed` has
    it of a station, no place is proposed."""
    found = jig_facts(SMALL.replace("zero: [25, 20]", "zero: [-60, 20]"))
    places = find_places(found, turns=(0,))
    told = [make_setups(found._replace(station=each.station))[0] for each in places.proposals]
    assert told and "outside-bed" not in {each.code for setup in told for each in setup.findings}


def test_an_untrue_hole_is_judged_where_it_is() -> None:
    """With a hole 1.5 mm off its place the jig lies askew, and is held against the bed so."""
    text = with_on_bed(SMALL, "extra: [{name: D2, at: [300.5, 101.5]}]")
    text = text.replace("columns: 8, rows: 6", "columns: 6, rows: 4")
    found = jig_facts(text, jig={"footprint": (240.0, 140.0)})
    every = find_places(found)
    corners = corners_of(found, every)
    places, expected = by_way(every, corners), brute_force(found, corners, [])
    assert set(places) == set(expected)
    for key, way in expected.items():
        # the choice leaves angles out, which are at most 1.5 in 100 here: their square counts
        assert places[key].u95_worst_mm <= way.u95_mm * (1 + 0.015**2)
        assert np.allclose(places[key].footprint, way.footprint, atol=0.015 * 240)


SURVEY = """
surveys:
  - name: 2026-11-20
    bed: long-bench
    readings: [[A1, 60.0, 55.0], [F1, 560.1, 55.0], [A4, 60, 355.1], [F4, 560, 355]]
    fit: {pose: {x: 60.01, y: 55.0, angle: 0.05}, points: 4, s: 0.05, dof: DOF,
          centroid: [250, 150], spread: 340000}
"""


@pytest.mark.parametrize("seed", range(thinned(36)))
def test_places_have_the_pins_that_register_chooses(seed: int) -> None:
    """Jigs of random sizes on random beds: at each place looked at, two on the shorter edge among
    them, the pins are those that are chosen where the corner is given."""
    rng = np.random.default_rng(seed)
    gone = tuple({f"{'ABCDEFGH'[rng.integers(8)]}{rng.integers(1, 7)}" for _ in range(8)})
    size = float(rng.integers(150, 480)), float(rng.integers(150, 420))
    text = SMALL.replace("size: [410, 240, 20]", "size: [120, 100, 20]")
    found = jig_facts(text, jig={"footprint": size}, bed={"missing": gone})
    places = find_places(found)
    proposals = places.proposals
    shorter = [each for each in proposals if two_on_shorter(found, each.located)]
    assert len(shorter) > 3 and len(proposals) > 20, "too few places to learn from"
    for each in (*shorter[:4], *proposals[:: len(proposals) // 4]):
        way = found._replace(station=each.station.model_copy(update={"pins": None}))
        pins = choose_pins(way).pins
        assert tuple(hole_of(entry) for _, _, entry in pins.by_role()) == each.holes
    shown = next(at for at, each in enumerate(proposals) if each in shorter)
    names = ["x"] * (shown + 1)
    lines = places_text(places, places.proposals[: len(names)], names)
    assert f"two pins on the shorter edge: {shown + 1}; no two free holes" in lines
    told = [
        each["two_on_shorter"]
        for each in places_json(places, proposals[: shown + 1], names)["places"]
    ]
    assert told == [False] * shown + [True]


ODD_BEDS = {
    "few holes": (("", ""), SURVEY.replace("DOF", "3")),
    "a wide fit": (("height: 22", "height: 22, fit: H8/g6"), ""),
    "swollen": (
        ("height: 22", "height: 22, fit: H8/g6"),
        SURVEY.replace("DOF", "8").replace("spread: 340000", "spread: 340000, scatter: "
        "[240000, 100000, 900], linear: [[1.0004, 0.001], [0, 0.9991]]"),
    ),
    "holes off their places": (
        ("surface: -120", "surface: -120\n    extra: [{name: D2, at: [300.5, 101.5]}, {name: X1, "
         "at: [401.5, 200]}, {name: E4, at: [401.9, 300]}]"), "",
    ),
    "a new slat": (
        ("hole_position: 0.04, ", ""),
        SURVEY.replace("DOF", "12") + "surfacings:\n"
        "  - {name: 2026-11-25, bed: long-bench, slats: [L2], surface: -119.7}\n",
    ),
    "pins that may end low": (("height: 22,", "height: 5.3, held: screwed,"), ""),
}  # fmt: skip
SLATS = (
    "slats: [{name: L1, from: [-50, -50], to: [750, 149], surface: -119.6}, "
    "{name: L2, from: [-50, 151], to: [750, 349], surface: -121}]"
)


@pytest.mark.parametrize("bed", ODD_BEDS)
def test_all_ways_at_once_are_those_one_by_one(bed: str) -> None:
    """On odd beds the same ways are located, lie at the same place and are known as well as
    `locate` and `make_budget` have it of each for itself."""
    (old, new), more = ODD_BEDS[bed]
    text = SMALL.replace("    pins_pressed: false\n", "").replace("angle: 0}", "angle: 0.3}")
    text = with_on_bed(text, SLATS).replace(old, new) + more
    text = text.replace("size: [410, 240, 20]", "size: [150, 70, 20]").replace(
        "zero: [25, 20]", "zero: [25, 40], angle: -12"
    )
    if bed == "a wide fit":  # where a jig comes back no better than it is said to lie
        text = text.replace("hole_position: 0.04, depth: 20", "hole_position: 0.002, depth: 3")
        text = text.replace("body_tolerance: 0.01", "body_tolerance: 0.001").replace(
            "repeatability: 0.02", "repeatability: 0.001"
        )
    found = jig_facts(text, jig={"footprint": (210.0, 160.0), "edge_from": 4.0})
    nowhere = {"pins": None, "corner": None, "toward": None}
    found = found._replace(station=found.station.model_copy(update=nowhere))
    holes = bed_holes(found)
    ways = find_ways(found, holes, (), (0, 90))
    poses, located, known = all_at_once(found, holes, ways)
    by_each, located_by_each, known_by_each = one_by_one(found, ways)
    some = np.flatnonzero(located)[::3]
    assert np.array_equal(located, located_by_each) and len(some) > 10
    assert located.all() == (bed not in ("holes off their places", "pins that may end low"))
    assert np.allclose(poses[located], by_each[located], atol=ROUNDING_MM, rtol=0)
    assert np.allclose(known(some), known_by_each(some), atol=ROUNDING_MM, rtol=0)


@pytest.mark.parametrize("dof", [3, 8])
def test_a_survey_of_few_holes_counts_as_in_the_choice(dof: int) -> None:
    """Student's factor differs from pins to pins: the same are chosen as one by one."""
    text = SMALL.replace("columns: 8, rows: 6", "columns: 6, rows: 4")
    text += SURVEY.replace("DOF", str(dof))
    found = jig_facts(text, jig={"footprint": (330.0, 190.0)})
    every = find_places(found)
    corners = corners_of(found, every)
    places, expected = by_way(every, corners), brute_force(found, corners, [])
    assert set(places) == set(expected)
    for key, way in expected.items():
        assert places[key].holes == way.pins
        assert places[key].u95_worst_mm == pytest.approx(way.u95_mm, abs=ROUNDING_MM)


def test_coverage_factors_of_many_places() -> None:
    """One by one or all at once, the factor is the same, and 2 at infinity."""
    dofs = np.array([1.0, 7.0, 299.0, 300.0, 1000.0, 40_000.0, math.inf])
    exact = [coverage_factor(int(dof)) for dof in dofs[:-1]]
    assert coverage_factors(dofs).tolist() == [*exact, 2.0]
