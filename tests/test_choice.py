"""Pins chosen for a jig at a corner: of all that its edges reach, those with the least u95."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pytest
from test_dowels import ON_DOWELS
from thinning import thinned
from worlds import BASE, PRESSED, facts, world

from pincorner.documents.stations import EdgePins, hole_of
from pincorner.errors import Refused
from pincorner.places.search import NOT_LOCATED, find_places
from pincorner.setups.choice import Choice, choose_pins, with_pins
from pincorner.setups.facts import Facts
from pincorner.setups.transform import make_budgets, make_setups

COLUMNS, ROWS = "ABCDEFGHIJKLMNO", 9
QUADRANTS = ["+x+y", "-x+y", "+x-y", "-x-y"]


def asking(
    size: tuple[float, float],
    corner: str,
    toward: str,
    *,
    missing: tuple[str, ...] = (),
    turn: int = 0,
    body: float = 20.0,
) -> Facts:
    """A station that gives a corner and a quadrant instead of pins."""
    found = world(
        BASE.replace("body: 20.00", f"body: {body}"),
        jig={"footprint": size},
        bed={"missing": missing},
    )
    return facts(found, pins=None, corner=corner, toward=toward, turn=turn)


def chosen(found: Facts) -> tuple[Choice, list[str]]:
    """The choice, and its labels: two edge pins from the corner on, then the stop."""
    choice = choose_pins(found)
    return choice, [hole_of(entry) for entry in (*choice.pins.edge, choice.pins.stop)]


def reached(found: Facts, along_x: bool, least_mm: float = 0.0) -> list[str]:
    """By brute force over all holes: those on the corner's row (or column) that touch the jig, at
    least so far from both ends of its edge."""
    grid, radius = found.bed.grid, next(iter(found.pins.values())).body / 2
    corner, axis = found.station.corner, 0 if along_x else 1
    start = (COLUMNS.index(corner[0]), int(corner[1:]) - 1)
    way = [1 if sign == "+" else -1 for sign in found.station.toward[::2]][axis]
    sides = (
        found.holder.footprint if found.station.turn % 180 == 0 else found.holder.footprint[::-1]
    )
    touching = {}
    for cell in itertools.product(range(len(COLUMNS)), range(ROWS)):
        label = f"{COLUMNS[cell[0]]}{cell[1] + 1}"
        contact = way * (cell[axis] - start[axis]) * grid.pitch[axis] - radius
        on_line = cell[1 - axis] == start[1 - axis]
        is_on = least_mm <= contact <= sides[axis] - least_mm
        if on_line and is_on and label not in found.bed.missing:
            touching[contact] = label
    return [touching[contact] for contact in sorted(touching)]


def u95_of(found: Facts, labels: tuple[str, ...]) -> float | None:
    """u95 at the worst stock corner with these pins; None where they do not locate the jig."""
    pins = EdgePins(edge=labels[:2], stop=labels[2])
    try:
        made = make_budgets(found._replace(station=with_pins(found.station, pins)))
    except Refused:
        return None
    return max(budget.u95_worst_mm for budget in made)


def best_by_brute_force(found: Facts, edge: list[str], stops: list[str]) -> tuple[float, int]:
    """The least u95 with two of one edge and one of the other, and how many of them locate the
    jig."""
    triples = ((*pair, stop) for pair in itertools.combinations(edge, 2) for stop in stops)
    known = [u95 for triple in triples if (u95 := u95_of(found, triple)) is not None]
    return min(known, default=float("inf")), len(known)


@pytest.mark.parametrize("seed", range(thinned(60)))
def test_no_other_usable_pins_hold_better(seed: int) -> None:
    """On random beds and jigs no triple of usable holes, two on either edge, has a smaller u95 than
    the chosen one; two are on the longer edge unless that is worse, and the reason says which."""
    rng = np.random.default_rng(seed)
    size = (float(rng.integers(110, 800)), float(rng.integers(110, 800)))
    toward, turn = QUADRANTS[seed % 4], 90 * int(rng.integers(4))
    column = rng.integers(0, 7) if toward[0] == "+" else rng.integers(8, 15)
    row = rng.integers(1, 5) if toward[2] == "+" else rng.integers(5, 10)
    gone = tuple({f"{COLUMNS[rng.integers(15)]}{rng.integers(1, 10)}" for _ in range(25)})
    found = asking(size, f"{COLUMNS[column]}{row}", toward, missing=gone, turn=turn)
    long_x = (size[0] >= size[1]) == (turn % 180 == 0) or size[0] == size[1]
    edge, stops = reached(found, long_x), reached(found, not long_x)
    (on_long, count), (on_short, more) = (
        best_by_brute_force(found, *sides) for sides in ((edge, stops), (stops, edge))
    )
    if count + more == 0:
        with pytest.raises(Refused) as refusal:
            choose_pins(found)
        assert refusal.value.cause == "no-pins"
        return
    choice, labels = chosen(found)
    got = u95_of(found, tuple(labels))
    assert got is not None and got <= min(on_long, on_short) + 1e-6
    assert choice.pins.chosen
    located = make_setups(found._replace(station=with_pins(found.station, choice.pins)))[0].located
    assert (located.toward, located.corner_hole) == (toward, found.station.corner)
    shorter = located.pins_along_x != long_x
    assert shorter == (on_short < on_long - 1e-6)
    assert located.pins_along_x == (labels[0] in reached(found, True))
    assert ("; two on the shorter edge, since" in choice.reason) == shorter
    why = choice.reason.partition("; pin ")[0]  # a pin near an end of the edge is told behind it
    if shorter and count:
        assert why.endswith(f", gives {on_long:.3f} mm")
    elif shorter:
        assert why.endswith("since no two on the longer will do")


@pytest.mark.parametrize("seed", range(thinned(40)))
def test_pins_that_touch_farther_in(seed: int) -> None:
    """Where a chosen pin touches nearer to an end of its edge than it is thick, the best of those
    that do not are named too; where none does, no others."""
    rng = np.random.default_rng(1000 + seed)
    # with a body of 60, holes at 100 and edges of 60 to 340, a pin often touches near an end
    size = (float(rng.integers(140, 340)), float(rng.integers(140, 340)))
    found = asking(size, "C2", "+x+y", body=60.0)
    if not (reached(found, True) and reached(found, False)):
        return
    try:
        choice, labels = chosen(found)
    except Refused:
        return
    inner = {*reached(found, True, 60.0), *reached(found, False, 60.0)}
    if inner >= set(labels):
        assert choice.farther_in is None and "farther in" not in choice.reason
        return
    sides = [[each for each in reached(found, way) if each in inner] for way in (True, False)]
    least = min(best_by_brute_force(found, *order)[0] for order in (sides, sides[::-1]))
    if choice.farther_in is None:
        assert least == float("inf")
        assert choice.reason.endswith("; no others do that touch farther in")
        return
    pins = choice.farther_in.pins
    triple = (*map(hole_of, pins.edge), hole_of(pins.stop))
    assert inner >= set(triple)
    got = u95_of(found, triple)
    assert got is not None and got <= least + 1e-6
    assert f"; the best that touch farther in are edge {triple[0]} {triple[1]}" in choice.reason
    assert choice.reason.endswith(f" and stop {triple[2]}: {got:.3f} mm")


def test_the_choice_names_itself_and_the_next_best() -> None:
    """What was chosen, what it gives, and what the runner-up gives stand in the reason."""
    found = asking((460, 280), "C2", "+x+y")
    choice, labels = chosen(found)
    edge, stops = reached(found, True), reached(found, False)
    count = sum(best_by_brute_force(found, *sides)[1] for sides in ((edge, stops), (stops, edge)))
    assert choice.reason.startswith(
        f"edge {labels[0]} {labels[1]} and stop {labels[2]}: lies within "
        f"{u95_of(found, tuple(labels)):.3f} mm on the bed, the least of {count} choices; "
        "next edge "
    )


def test_ties_go_to_the_pins_nearest_to_the_corner() -> None:
    """Where pins make no difference to 1e-6 mm, the nearest to the corner are taken."""
    found = asking((460, 280), "C2", "+x+y")
    steady = found._replace(
        bed=found.bed.model_copy(
            update={"grid": found.bed.grid.model_copy(update={"hole_position": 0.0, "hole": 20.0})}
        ),
        pins={
            key: pin.model_copy(update={"body_tolerance": 0.0}) for key, pin in found.pins.items()
        },
    )
    _, labels = chosen(steady)
    assert u95_of(steady, tuple(labels)) == pytest.approx(0.04, abs=1e-9)
    assert labels == ["D2", "E2", "C3"]


@pytest.mark.parametrize(
    ("size", "corner", "toward", "counts"),
    [
        ((150, 120), "C2", "+x+y", "1 usable holes on the long edge and 1 on the other"),
        ((460, 80), "C2", "+x+y", "4 usable holes on the long edge and 0 on the other"),
        ((460, 150), "N2", "+x+y", "1 usable holes on the long edge and 1 on the other"),
        ((460, 280), "C9", "+x+y", "4 usable holes on the long edge and 0 on the other"),
    ],
)
def test_no_pins_are_refused_with_counts(
    size: tuple[float, float], corner: str, toward: str, counts: str
) -> None:
    """Edges that reach too few holes are refused with how many each reaches."""
    with pytest.raises(Refused) as refusal:
        choose_pins(asking(size, corner, toward))
    assert refusal.value.cause == "no-pins"
    assert counts in refusal.value.text


def test_the_shorter_edge_alone_may_carry_two() -> None:
    """Where the longer edge reaches one hole only, two on the shorter one are taken, and told."""
    choice, labels = chosen(asking((460, 280), "N2", "+x+y"))
    assert labels == ["N3", "N4", "O2"]
    assert (
        "the only pins that will do; two on the shorter edge, since no two on the longer will do"
        in (choice.reason)
    )


@pytest.mark.parametrize(
    ("gone", "labels"), [((), ["D2", "F2", "C4"]), (("E2", "F2"), ["C3", "C5", "D2"])]
)
def test_a_squares_two_pins_lie_along_x_where_both_edges_are_equal(
    gone: tuple[str, ...], labels: list[str]
) -> None:
    """Both edges of a square jig are the same: along X; where that reaches one hole, along Y."""
    found = asking((300, 300), "C2", "+x+y", missing=gone)
    square = found.holder.model_copy(
        update={
            "nests": tuple(
                nest.model_copy(
                    update={
                        "zero": (50.0, 50.0),
                        "stock": nest.stock.model_copy(update={"size": (200.0, 200.0, 18.0)}),
                    }
                )
                for nest in found.holder.nests
            )
        }
    )
    found = found._replace(holder=square)
    choice, got = chosen(found)
    assert got == labels
    if not gone:
        assert u95_of(found, ("C3", "C5", "E2")) == pytest.approx(
            u95_of(found, tuple(got)), abs=1e-9
        )
    assert ("two on the edge along Y" in choice.reason) == bool(gone)


def test_a_corner_off_the_grid_is_refused() -> None:
    """A corner that is no hole of the grid cannot be chosen from."""
    with pytest.raises(Refused, match="bed long-bench has no hole P2"):
        choose_pins(asking((460, 280), "P2", "+x+y"))


@pytest.mark.parametrize(
    ("shank", "goes_in"), [(20.0, True), (20.5, True), (20.6, False), (25.0, False)]
)
@pytest.mark.parametrize(
    ("keys", "work"), [({}, make_setups), ({"pins": None, "corner": "C2"}, choose_pins)]
)
def test_a_pin_too_thick_for_its_hole_is_refused(
    shank: float, goes_in: bool, keys: dict[str, Any], work: Callable[[Facts], object]
) -> None:
    """Half a millimetre may be pressed in, more does not go into a hole of 20.02 mm."""
    found = facts(world(BASE.replace("shank: 20.00", f"shank: {shank}")), toward="+x+y", **keys)
    if goes_in:
        assert work(found)
        return
    with pytest.raises(Refused) as refusal:
        work(found)
    assert refusal.value.cause == "pin-thick"
    assert f"{shank:g} mm, does not go into hole" in refusal.value.text


SWOLLEN = """surveys:
  - {name: 2026-01-01, bed: long-bench, readings: [[A1, 60, 55]], fit: {pose: {x: 60, y: 55},
     points: 40, s: 0.05, dof: 74, centroid: [700, 400], spread: 9000000,
     scatter: [5000000, 4000000, 0], linear: [[1.002, 0.0004], [0, 1.002]]}}
"""
READ = ("D3", "E3", "F3", "G3", "C4", "C5", "C6", "C7", "B2", "O9", "A9", "O1")
MEASURED = f"""surveys:
  - {{name: 2026-01-01, bed: long-bench, readings: [{
    ", ".join(
        f"[{label}, {60 + 100 * COLUMNS.index(label[0])}, {100 * int(label[1:]) - 45}]"
        for label in READ
    )
}], fit: {{pose: {{x: 60, y: 55}}, points: 12, s: 0.2, dof: 21,
     centroid: [500, 400], spread: 5000000}}}}
"""


@pytest.mark.parametrize(
    ("size", "text", "keys"),
    [
        ((490, 290), PRESSED, {}),  # H3 touches 0.01 mm behind the end of the edge
        ((490, 285), PRESSED, {"turn": 90}),
        ((490.5, 290.5), PRESSED + SWOLLEN, {}),  # the holes lie 0.2 % farther apart
        ((490.5, 290.5), BASE + SWOLLEN, {"toward": "-x-y", "corner": "H8"}),
        ((685, 485), PRESSED + MEASURED, {"measured_holes": True}),  # measured ones are few
    ],
)
def test_pins_are_chosen_of_all_that_locate_the_jig(
    size: tuple[float, float], text: str, keys: dict[str, Any]
) -> None:
    """Of all three holes with which the jig can be located, tried one by one, the best are chosen
    and all are counted; a place at the corner has the same."""
    wanted = {"corner": "C3", "toward": "+x+y", "pins": None, **keys}
    found = facts(world(text, jig={"footprint": size}), **wanted)
    corner = found.bed.hole(found.station.corner)
    lines = [
        [hole.label for hole in found.bed.line_of_holes(corner, axis, 2.0) if hole != corner]
        for axis in (0, 1)
    ]
    tried = [best_by_brute_force(found, *sides) for sides in (lines, lines[::-1])]
    choice, labels = chosen(found)
    least = min(u95 for u95, _ in tried)
    assert u95_of(found, tuple(labels)) == pytest.approx(least, abs=2e-6)
    assert f"the least of {sum(count for _, count in tried)} choices" in choice.reason
    if found.station.turn or found.station.measured_holes:
        return  # places are looked for in a second, and on fitted holes
    places = find_places(found, turns=(0,))
    assert NOT_LOCATED not in dict(places.against)
    here = [(each.where, each.station.toward) for each in places.proposals]
    there = places.proposals[here.index((corner.label, found.station.toward))]
    assert list(there.holes) == labels


@pytest.mark.parametrize(("under", "reaches"), [(21.9, True), (22, False), (25, False)])
@pytest.mark.parametrize(
    ("text", "name", "keys", "work"),
    [
        (BASE, "left", {}, make_setups),
        (BASE, "left", {"pins": None, "corner": "C2", "toward": "+x+y"}, choose_pins),
        (BASE, "left", {}, partial(find_places, turns=(0,), most_corners=1)),
        (ON_DOWELS, "bars", {}, make_setups),
    ],
)
def test_a_pin_that_ends_below_the_jig_is_refused(
    under: float,
    reaches: bool,
    text: str,
    name: str,
    keys: dict[str, Any],
    work: Callable[[Facts], object],
) -> None:
    """A pin 22 mm high holds no jig that lies on 22 mm or more, by its edges or on dowels."""
    found = facts(world(text), name, under=under, **keys)
    if reaches:
        assert work(found)
        return
    with pytest.raises(Refused) as refusal:
        work(found)
    assert refusal.value.cause == "pin-low"
    assert f"begin {under} mm above the bed; take a higher pin or a thin" in refusal.value.text
