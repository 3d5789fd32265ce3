"""Benchmark of `place`, run on purpose: `python tests/benchmarks/places.py`. It fails nothing.

A bed of 30 by 15 holes with 40 obstacles, all quadrants and turns. Beside it, in the same run,
stands the plain double loop: for every way and every obstacle one question to Shapely, and for
every way that is clear the pins as `register` chooses them. The loop takes long, so it does every
`EVERY`th hole as a corner; times are for all of them.
"""

from __future__ import annotations

import itertools
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import numpy as np
from shapely import Polygon, box
from worlds import BASE, facts, world

from pincorner.errors import Refused
from pincorner.geometry.outline import rectangle
from pincorner.places.fit import FITS, TRACK_REACH_MM, checks_of, first_reasons, make_scene
from pincorner.places.search import find_places
from pincorner.places.ways import QUARTERS, TOWARDS
from pincorner.setups.choice import choose_pins, with_pins
from pincorner.setups.facts import Facts
from pincorner.setups.locating import jig_in_quadrant, sign_of
from pincorner.setups.transform import make_setups
from pincorner.standing import Standing

ROUNDS = 5
EVERY = 9
TEXT = BASE.replace("columns: 15, rows: 9", "columns: 30, rows: 15").replace(
    "x: [0, 1540], y: [0, 940]", "x: [0, 3100], y: [0, 1600]"
)


def obstacles(count: int) -> list[Standing]:
    """Upright boxes of 20 to 120 mm all over the bed: jigs and clamps of other stations."""
    rng = np.random.default_rng(1)
    found = []
    for at in range(count):
        w, d, x, y = rng.uniform((20, 20, 0, 0), (120, 120, 2900, 1400))
        outline = rectangle(x, y, x + w, y + d)
        kind: Any = "jig" if at % 2 else "clamp"
        found.append(Standing(kind, f"{kind} {at}", outline, station=f"s{at}", jig="jig",
                              footprint=kind == "jig"))  # fmt: skip
    return found


def clear_ways(found: Facts, there: list[Standing], every: int) -> list[tuple[str, str, int]]:
    """The double loop: each way's outline against the bed and each obstacle, by Shapely."""
    radius = next(iter(found.pins.values())).body / 2
    edge = box(*found.bed.box)
    others = [Polygon(each.outline) for each in there]
    clear = []
    for place, toward, turn in itertools.product(found.bed.holes()[::every], TOWARDS, QUARTERS):
        signs = sign_of(toward, 0), sign_of(toward, 1)
        x, y = (at + sign * radius for at, sign in zip(place.at_mm, signs, strict=True))
        points = jig_in_quadrant(found.holder.outline, turn, *signs).points(found.holder.outline)
        body = Polygon([(x + u, y + v) for u, v in points])
        if edge.covers(body) and all(body.distance(other) > 0 for other in others):
            clear.append((place.label, toward, turn))
    return clear


def plain_places(found: Facts, there: list[Standing], every: int) -> int:
    """How many places the double loop finds, each with its pins and u95 (pins hit nothing)."""
    number = 0
    for corner, toward, turn in clear_ways(found, there, every):
        update = {"pins": None, "corner": corner, "toward": toward, "turn": turn}
        way = found._replace(station=found.station.model_copy(update=update))
        try:
            station = with_pins(way.station, choose_pins(way).pins)
            number += bool(make_setups(way._replace(station=station)))
        except Refused:
            continue
    return number


def fitting(found: Facts, there: list[Standing]) -> int:
    """How many ways are clear, by our own gaps: what the double loop asks Shapely."""
    checks = checks_of(make_scene(found, there, {}, None, TRACK_REACH_MM))[:2]
    holes = np.array([place.at_mm for place in found.bed.holes()])
    radius, poses = next(iter(found.pins.values())).body / 2, []
    for toward, turn in itertools.product(TOWARDS, QUARTERS):
        signs = sign_of(toward, 0), sign_of(toward, 1)
        jig = jig_in_quadrant(found.holder.outline, turn, *signs)
        at = holes + np.array(signs) * radius + (jig.x_mm, jig.y_mm)
        poses.append(np.column_stack((at, np.full(len(at), jig.angle_rad))))
    return int((first_reasons(checks, np.concatenate(poses), 0.0) == FITS).sum())


def seconds(work: Callable[[], object]) -> float:
    """Wall time of one call."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def compare(name: str, ours: Callable[[], object], plain: Callable[[], object]) -> None:
    """Print the median of the pairwise ratios, the plain loop's time taken times EVERY."""
    pairs = [(seconds(ours), EVERY * seconds(plain)) for _ in range(ROUNDS)]
    times = [statistics.median(each) for each in zip(*pairs, strict=True)]
    ratio = statistics.median(loop / own for own, loop in pairs)
    print(f"{name:34} {times[0]:6.3f} s, plain double loop {times[1]:7.2f} s: {ratio:5.1f} times")


def main() -> None:
    """Print all figures."""
    found, there = facts(world(TEXT)), obstacles(40)
    places = find_places(found, there)
    clear, plain = fitting(found, there), len(clear_ways(found, there, 1))
    print(f"{places.ways} ways, 40 obstacles: {len(places.proposals)} places")
    print(f"clear ways {clear}, by Shapely {plain}")
    compare(
        "clear of bed and obstacles",
        lambda: fitting(found, there),
        lambda: clear_ways(found, there, EVERY),
    )
    compare(
        "places with pins and u95 (2 s, 20)",
        lambda: find_places(found, there),
        lambda: plain_places(found, there, EVERY),
    )
    print(f"{'the same bed without obstacles':34} {seconds(lambda: find_places(found)):6.3f} s")


if __name__ == "__main__":
    main()
