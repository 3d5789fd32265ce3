"""Distances while one station runs and another is loaded, against Shapely and drawings by hand."""

from __future__ import annotations

import random
from typing import Any

import pytest
from shapely import Polygon, box
from worlds import BASE, facts, world

from pincorner.documents.machines import Carriage
from pincorner.errors import Refused
from pincorner.geometry.outline import Box
from pincorner.runs.keep_clear import (
    Path,
    keep_clear_table,
    path_over_stock,
    sweep_of,
    zone_and_gap,
)
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups

ROUNDING_MM = 1e-9
TWO = (
    BASE
    + """
  - name: right
    bed: long-bench
    jig: panel-tray
    pin: peg-20
    pins: {edge: [K2, N2], stop: J4}
    work_offsets: {a: G56}
"""
)


def stations(**machine: Any) -> list[list[Setup]]:
    """Stations left and right, 700 mm apart, on a machine with these keys."""
    found = world(TWO, machine=machine)
    return [make_setups(facts(found, name)) for name in ("left", "right")]


def paths(these: list[list[Setup]], tool_mm: float = 6.0) -> dict[str, Path]:
    """Paths over the stocks."""
    return {each[0].facts.station.name: path_over_stock(each, tool_mm) for each in these}


def test_path_over_stock() -> None:
    """Without a program the spindle axis may be anywhere over the stock, a tool beyond it."""
    left, _ = stations()
    # case A0: zero at X 295 Y 185 in the machine, stock 410 x 240
    assert path_over_stock(left, 6.0).box == pytest.approx((289, 179, 711, 431), abs=ROUNDING_MM)


def test_sweep_by_hand() -> None:
    """Path, the way from the station before, the park position, the carriage, and the beam."""
    keys = {"carriage": Carriage(left=100, right=110, front=120, back=130), "beam": "y",
            "park": (20.0, 500.0)}  # fmt: skip
    left = stations(**keys)[0]
    own, before = Path(Box(300, 200, 700, 420), "x"), Path(Box(1000, 190, 1400, 430), "y")
    sweep, _ = sweep_of(left[0], own, before)
    # X from the park position to the station before; Y all of the bed: 55 - 50 to 55 + 850
    assert sweep == Box(20 - 100, min(190 - 120, 5), 1400 + 110, max(500 + 130, 905))


def test_whole_travel_counts_where_only_the_controller_knows() -> None:
    """A program that goes to a G28 position may go anywhere in the travel."""
    left, _ = stations()
    path = Path(Box(300, 200, 700, 420), "x", anywhere=True)
    sweep, basis = sweep_of(left[0], path, path)
    assert sweep == Box(0, 0, 1540, 940) and "anywhere in the travel" in basis


def test_gap_is_shapelys_distance() -> None:
    """For 300 random sweeps apart from the zone the gap is Shapely's distance less the reach."""
    left, _ = stations()
    jig = Polygon(left[0].bed_in_machine.points(left[0].footprint_in_bed()))
    rng, apart = random.Random(1), 0
    for _ in range(300):
        x, y = rng.uniform(-1500, 2500), rng.uniform(-1500, 2500)
        sweep = Box(x, y, x + rng.uniform(1, 800), y + rng.uniform(1, 800))
        distance = jig.distance(box(*sweep))
        if distance > 0:
            apart += 1
            _, gap = zone_and_gap(left[0], sweep, 250.0)
            assert gap == pytest.approx(distance - 250.0, abs=ROUNDING_MM)
    assert apart > 200


def test_overlap_is_the_axis_that_parts_sooner() -> None:
    """A sweep 30 mm into the jig from the right overlaps by that and the reach."""
    left, _ = stations()
    right_edge = max(x for x, _ in left[0].bed_in_machine.points(left[0].footprint_in_bed()))
    _, gap = zone_and_gap(left[0], Box(right_edge - 30, -500, 3000, 1500), 250.0)
    assert gap == pytest.approx(-280.0, abs=ROUNDING_MM)


@pytest.mark.parametrize(("side", "gap"), [("left", 100.0), ("right", -150.0), (None, -150.0)])
def test_side_of_access_shapes_the_zone(side: str | None, gap: float) -> None:
    """Hands that come from the left only are no nearer to a sweep on the right than the jig is."""
    found = world(TWO)
    left = make_setups(facts(found, "left", access=side))[0]
    right_edge = max(x for x, _ in left.bed_in_machine.points(left.footprint_in_bed()))
    _, got = zone_and_gap(left, Box(right_edge + 100, -500, 3000, 1500), 250.0)
    assert got == pytest.approx(gap, abs=ROUNDING_MM)


def test_every_ordered_pair_has_a_row() -> None:
    """Each station that runs stands against each other one that is loaded."""
    these = stations()
    table = keep_clear_table(these, paths(these), 250.0)
    assert [(row.runs, row.loaded) for row in table] == [("left", "right"), ("right", "left")]
    # each is the station before the other, so that the way in passes over it
    assert all(row.gap_mm < 0 for row in table)


def test_a_bed_that_moves_is_refused() -> None:
    """Hands would be on it."""
    these = stations(bed_moves=True)
    with pytest.raises(Refused, match="moves"):
        keep_clear_table(these, paths(these), 250.0)


def test_a_wider_carriage_takes_the_gap() -> None:
    """The gap shrinks by what the carriage grows by, and turns into an overlap."""
    text = (
        TWO
        + """
  - name: far
    bed: long-bench
    jig: panel-tray
    pin: peg-20
    pins: {edge: [D7, G7], stop: C8}
    work_offsets: {a: G57}
"""
    )
    gaps = []
    for right in (100.0, 160.0, 400.0):
        found = world(text, machine={"carriage": Carriage(right=right)})
        these = [make_setups(facts(found, name)) for name in ("far", "left", "right")]
        rows = keep_clear_table(these, paths(these), 100.0)
        gaps.append(next(r.gap_mm for r in rows if (r.runs, r.loaded) == ("left", "right")))
    assert gaps[0] - gaps[1] == pytest.approx(60.0, abs=ROUNDING_MM) and gaps[0] > 0 > gaps[2]
