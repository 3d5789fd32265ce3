"""Pins chosen for a jig at a corner: they locate, and are the widest that its edges reach."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from worlds import BASE, facts, world

from pincorner.documents.stations import EdgePins, hole_of
from pincorner.errors import Refused
from pincorner.setups.choice import Choice, choose_pins, with_pins
from pincorner.setups.facts import Facts
from pincorner.setups.transform import make_setups

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


def reached(found: Facts, along_x: bool) -> list[str]:
    """By brute force over all holes: those on the corner's row (or column) that touch the jig."""
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
        if on_line and 0 <= contact <= sides[axis] and label not in found.bed.missing:
            touching[contact] = label
    return [touching[contact] for contact in sorted(touching)]


@pytest.mark.parametrize("seed", range(60))
def test_the_widest_usable_pins_are_chosen(seed: int) -> None:
    """On random beds and jigs the chosen pins locate the jig and no usable ones stand wider."""
    rng = np.random.default_rng(seed)
    size = (float(rng.integers(110, 800)), float(rng.integers(110, 800)))
    toward, turn = QUADRANTS[seed % 4], 90 * int(rng.integers(4))
    column = rng.integers(0, 7) if toward[0] == "+" else rng.integers(8, 15)
    row = rng.integers(1, 5) if toward[2] == "+" else rng.integers(5, 10)
    gone = tuple({f"{COLUMNS[rng.integers(15)]}{rng.integers(1, 10)}" for _ in range(25)})
    found = asking(size, f"{COLUMNS[column]}{row}", toward, missing=gone, turn=turn)
    long_x = (size[0] >= size[1]) == (turn % 180 == 0) or size[0] == size[1]
    edge, stops = reached(found, long_x), reached(found, not long_x)
    if len(edge) < 2 or not stops:
        with pytest.raises(Refused) as refusal:
            choose_pins(found)
        assert f"reach {len(edge)} on the long edge and {len(stops)}" in refusal.value.text
        return
    choice, labels = chosen(found)
    assert labels == [edge[0], edge[-1], stops[-1]]
    assert choice.pins.chosen
    located = make_setups(found._replace(station=with_pins(found.station, choice.pins)))[0].located
    assert (located.toward, located.corner_hole) == (toward, found.station.corner)
    assert located.pins_along_x == long_x


WORKED: list[tuple[dict[str, Any], list[str]]] = [  # question, edge pins and stop
    ({"size": (460, 280), "corner": "C2", "toward": "+x+y"}, ["D2", "G2", "C4"]),
    ({"size": (280, 460), "corner": "C2", "toward": "+x+y"}, ["C3", "C6", "E2"]),
    ({"size": (460, 280), "corner": "L2", "toward": "-x+y", "turn": 90}, ["L3", "L6", "J2"]),
    ({"size": (300, 300), "corner": "C2", "toward": "+x+y"}, ["D2", "F2", "C5"]),
    ({"size": (300, 300), "corner": "L8", "toward": "-x-y", "turn": 270}, ["K8", "I8", "L5"]),
    ({"size": (460, 280), "corner": "C2", "toward": "+x+y", "missing": ("G2", "C4")},
     ["D2", "F2", "C3"]),
    ({"size": (460, 280), "corner": "C2", "toward": "+x+y", "missing": ("D2", "C2")},
     ["E2", "G2", "C4"]),
    ({"size": (390, 190), "corner": "C2", "toward": "+x+y"}, ["D2", "G2", "C4"]),
    ({"size": (389.9, 189.9), "corner": "C2", "toward": "+x+y"}, ["D2", "F2", "C3"]),
]  # fmt: skip


@pytest.mark.parametrize(("question", "labels"), WORKED)
def test_two_pins_go_to_the_long_edge(question: dict[str, Any], labels: list[str]) -> None:
    """The long edge gets two pins, a square's lies along X, missing holes are left out."""
    choice, found = chosen(asking(**question))
    assert found == labels
    assert f"edge {labels[0]} {labels[1]} and stop {labels[2]}" in choice.reason
    along = "X" if labels[0][1:] == labels[1][1:] else "Y"
    assert f"two on the long edge along {along}" in choice.reason


def test_chosen_pins_hold_best_on_a_full_grid() -> None:
    """On a grid without gaps no other usable pins give a smaller u95 at the worst corner."""
    found = asking((460, 280), "C2", "+x+y")
    edge, stops = reached(found, True), reached(found, False)

    def u95(labels: tuple[str, str, str]) -> float:
        pins = EdgePins(edge=labels[:2], stop=labels[2])
        setup = make_setups(found._replace(station=with_pins(found.station, pins)))[0]
        return setup.budget.u95_worst_mm

    pairs = itertools.combinations(edge, 2)
    ways = {(*pair, stop): u95((*pair, stop)) for pair in pairs for stop in stops}
    _, labels = chosen(found)
    assert len(ways) > 6
    assert ways[tuple(labels)] <= min(ways.values()) + 1e-6


@pytest.mark.parametrize(
    ("size", "corner", "toward", "counts"),
    [
        ((150, 120), "C2", "+x+y", "1 on the long edge and 1 on the other"),
        ((460, 80), "C2", "+x+y", "4 on the long edge and 0 on the other"),
        ((460, 280), "N2", "+x+y", "1 on the long edge and 2 on the other"),
        ((460, 280), "C9", "+x+y", "4 on the long edge and 0 on the other"),
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


def test_a_corner_off_the_grid_is_refused() -> None:
    """A corner that is no hole of the grid cannot be chosen from."""
    with pytest.raises(Refused, match="corner P2 of bed long-bench is no hole of the grid"):
        choose_pins(asking((460, 280), "P2", "+x+y"))
