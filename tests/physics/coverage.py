"""How often parts land where the budget says, at sixteen stations: what the scores sum up.

`python tests/physics/coverage.py` draws 20,000 settings of each station and prints, for each way of
setting it, how many per cent lie within u95 of the calculated place and within repeat95 of their
usual place, along the worst direction at the worst corner of the stock; then how many of 4,000 good
stations are called beyond at their first verification, and of 2,000 at later ones.
`tests/test_physics.py` runs a small version.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from oracles.contacts import Point
from oracles.worked import clearances_um
from worlds import facts, world

from physics.model import (
    LEANS,
    Built,
    Floats,
    Leans,
    PinAt,
    Shop,
    Way,
    build,
    places,
    repeated,
    settle,
    settle_on_dowels,
    worst_share,
)
from pincorner.setups.budget import make_budget
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.surveys.drift import Verification, chart, compare, verification

TRIALS = 20_000
FIRST, STATIONS = 4_000, 2_000
"""Stations that are verified for the first time, and those that are again and again."""

VERIFIED = 10
"""How often each is verified since its pins were set: charts have limits from eight on."""

TIMES = 40
"""Settings of one shop, where the usual place counts."""


class Case(NamedTuple):
    """A station in words: keys of its documents, and the same for the model."""

    name: str
    play: float = 0.02
    under: float = 0.0
    edge_from: float = 0.0
    pressed: bool = True
    fit: str = ""
    hole: float = 20.0
    depth: float = 20.0
    turned: bool = False
    held: str = "loose"
    edges: float = 0.03
    holes: float = 0.04
    dowels: bool = False


CASES = (
    Case("play 0.02"),
    Case("play 0.10", play=0.10),
    Case("play 0.20", play=0.20),
    Case("play 0.05, on 3 mm", play=0.05, under=3),
    Case("dowels, play 0.05", play=0.05, dowels=True),
    Case("dowels, play 0.20", play=0.20, dowels=True),
    Case("dowels, play 0.10, on 5 mm", play=0.10, under=5, dowels=True),
    Case("play 0.10, rebate of 5", play=0.10, edge_from=5),
    Case("play 0.20, on 10 mm", play=0.20, under=10),
    Case("play 0.20, two pins on the short edge, rebate of 4", play=0.20, edge_from=4, turned=True),
    Case("H11/h9 in 12 mm holes, on 2 mm", fit="H11/h9", hole=12, depth=12, under=2),
    Case("bare stock, H8/g6, on 3 mm", fit="H8/g6", under=3, edges=0.05),
    Case("play 0.10, laid", play=0.10, pressed=False),
    Case("play 0.10, laid, on 10 mm", play=0.10, under=10, pressed=False),
    Case("play 0.20, laid, rebate of 18", play=0.20, edge_from=18, pressed=False),
    Case("play 0.10, one pin screwed, on 3 mm", play=0.10, under=3, held="screwed"),
)

DOCUMENTS = """
format: 1
machines:
  - name: m
    dialect: rs274
    travel: {{x: [0, 1540], y: [0, 940]}}
    repeatability: 0.02
    homing: 0.03
beds:
  - name: b
    machine: m
    grid: {{columns: 15, rows: 9, pitch: [100, 100], hole: {hole}, hole_position: {holes},
      depth: {depth}}}
    pose: {{x: 60, y: 55}}
pins:
  - {{name: peg, shank: {shank}, body: 20, height: 22, body_tolerance: 0.01{fit}}}
  - {{name: fixed, shank: {shank}, body: 20, height: 22, body_tolerance: 0.01, held: screwed{fit}}}
jigs:
  - name: j
    footprint: [460, 280]
    height: 40
    edge_straightness: {edges}
    edge_from: {edge_from}
    nests: [{{name: a, zero: [25, 20], stock: {{size: [410, 240, 20]}}}}]
  - name: cradle
    footprint: [460, 280]
    height: 40
    locate:
      round: {{at: [20, 100], hole: 20.05}}
      slot: {{at: [420, 100], width: 20.05, travel: 4}}
    nests: [{{name: a, zero: [25, 20], stock: {{size: [410, 240, 20]}}}}]
stations:
  - {{name: left, bed: b, jig: {jig}, pin: peg, pins: {pins}, under: {under},
    pins_pressed: {pressed}}}
"""


def setup_of(case: Case) -> Setup:
    """The setup that the package makes of a case's documents."""
    one = "{hole: G2, pin: fixed}" if case.held == "screwed" else "G2"
    pins = "{edge: [C3, C4], stop: D2}" if case.turned else f"{{edge: [D2, {one}], stop: C4}}"
    pins = "{round: D2, slot: H2}" if case.dowels else pins
    text = DOCUMENTS.format(
        jig="cradle" if case.dowels else "j",
        hole=case.hole + (0 if case.fit else case.play), holes=case.holes, depth=case.depth,
        shank=case.hole, fit=f", fit: {case.fit}" if case.fit else "", edges=case.edges,
        edge_from=case.edge_from, pins=pins, under=case.under, pressed=str(case.pressed).lower(),
    )  # fmt: skip
    (setup,) = make_setups(facts(world(text)))
    return setup


def shop_of(case: Case) -> Shop:
    """The same for the model; the corner hole C2 is at 200, 100 of the bed."""
    play = (case.play, case.play)
    if case.fit:
        least, most = clearances_um(case.hole, case.fit)
        play = (least / 1000, most / 1000)
    if case.dowels:
        pegs = [PinAt(at, 10.0, play, case.depth, 22.0) for at in ((300, 100), (700, 100), (0, 0))]
        return Shop(
            (pegs[0], pegs[1], pegs[2]), True, holes=case.holes, machine=0.02, homing=0.03,
            bottom=case.under, top=case.under + 40.0,
        )  # fmt: skip
    drawn = (
        [(200, 200), (200, 300), (300, 100)]
        if case.turned
        else [(300, 100), (600, 100), (200, 300)]
    )
    held = ("loose", case.held, "loose")
    pins = tuple(
        PinAt(at, 10.0, play, case.depth, 22.0, each) for at, each in zip(drawn, held, strict=True)
    )
    return Shop(
        pins, not case.turned, holes=case.holes, edges=case.edges, body=0.01,
        machine=0.02, homing=0.03, bottom=case.under + case.edge_from, top=case.under + 40.0,
    )  # fmt: skip


class Verified(NamedTuple):
    """Shares of good stations called beyond: at the first verification, at later ones on average
    and at the worst of them; and outside the limits of the chart, or drifting, at the last."""

    first: float
    later: float
    worst: float
    chart: float


class Scores(NamedTuple):
    """Shares within u95 of the calculated place, and within repeat95 of the usual one."""

    lies: float
    comes_back: float


def landed_at(
    case: Case,
    built: Built,
    way: Way,
    leans: Leans,
    points: Sequence[Point],
    rng: np.random.Generator,
) -> Floats:
    """Where points of the stock land on the bed (n, points, 2), each shop set once."""
    shop = shop_of(case)
    if case.dowels:  # the poses are those of the round hole
        poses = settle_on_dowels(shop, built, (0.05, 0.05), leans, rng)
        from_there = [(5 + x, -80 + y) for x, y in points]
    else:
        poses = settle(shop, built, way, leans, rng)
        from_there = [(25 + x, 20 + y) for x, y in points]
    return places(shop, poses, from_there, rng)


def verified(
    case: Case, leans: Leans, draws: int, times: int = VERIFIED, seed: int = 20261130
) -> Verified:
    """What good stations are told that are verified so many times, each measured to 0.02."""
    setup, rng = setup_of(case), np.random.default_rng(seed)
    way = ways_of(case)[0][0]
    built = repeated(build(shop_of(case), draws, rng), times)
    found = landed_at(case, built, way, leans, [(0.0, 0.0)], rng)[:, 0]
    off = found - np.array(setup.zero_in_bed) + rng.normal(0, 0.02, found.shape)
    zero = setup.zero_in_machine  # its axes are those of the bed
    here = verification(setup, "", (zero.x_mm, zero.y_mm, None), 0.02)
    beyond, outside = np.zeros((draws, times)), np.zeros(draws)
    for at, of_station in enumerate(off.reshape(draws, times, 2)):
        before: list[Verification] = []
        for number, (x, y) in enumerate(of_station):
            each = here._replace(x_mm=zero.x_mm + float(x), y_mm=zero.y_mm + float(y))
            beyond[at, number] = compare(setup, each, before).verdict == "beyond"
            before.append(each)
        axes = chart("a", before).current.axes
        outside[at] = any(axis.beyond[-1] or axis.cusum.signals[-1] for axis in axes)
    first, later = beyond[:, 0].mean(), (beyond[:, 1:] if times > 1 else beyond).mean(axis=0)
    return Verified(float(first), float(later.mean()), float(later.max()), float(outside.mean()))


def scores(case: Case, way: Way, leans: Leans, trials: int, seed: int = 20261130) -> Scores:
    """The least shares over the corners of the stock and all directions."""
    setup, shop = setup_of(case), shop_of(case)
    rng = np.random.default_rng(seed)
    corners = setup.nest.stock.outline
    bounds = []
    for corner in corners:  # a budget for each corner alone
        arm = (setup.bed_in_machine @ setup.nest_in_bed).vector(corner)
        each = make_budget(setup.facts, setup.located, setup.zero_in_bed, [arm])
        bounds.append((each.u95_worst_mm, each.repeat95_worst_mm))
    on_bed = [setup.nest_in_bed.point(corner) for corner in corners]

    def landed(built: Built) -> Floats:
        return landed_at(case, built, way, leans, corners, rng)

    off = landed(build(shop, trials, rng)) - np.array(on_bed)
    lies = min(worst_share(off[:, at], bound) for at, (bound, _) in enumerate(bounds))
    where = landed(repeated(build(shop, max(trials // TIMES, 20), rng), TIMES))
    by_shop = where.reshape(-1, TIMES, len(corners), 2)
    back = (by_shop - by_shop.mean(axis=1, keepdims=True)).reshape(where.shape)
    comes = min(worst_share(back[:, at], bound) for at, (_, bound) in enumerate(bounds))
    return Scores(lies, comes)


def ways_of(case: Case) -> list[tuple[Way, Leans]]:
    """The ways in which a case is set as its documents say."""
    if case.dowels or not case.pressed:
        leans: tuple[Leans, ...] = ("full", "each for itself", "anywhere")
        return [("laid", each) for each in leans]
    return [("pressed", leans) for leans in (LEANS if case.under + case.edge_from else LEANS[:1])]


def table(trials: int) -> None:
    """Print the shares of every case, in all ways that its documents say, and half and half."""
    print(
        "| station | lies within, % | comes back within, % | laid half of the times, % "
        "| the same, not said to be pressed, % |"
    )
    print("| --- | --- | --- | --- | --- |")
    for case in CASES:
        found = [scores(case, way, leans, trials) for way, leans in ways_of(case)]
        lies, back = ([getattr(each, name) * 100 for each in found] for name in Scores._fields)
        half, either = "-", "-"
        if not case.dowels:
            half, either = (
                ", ".join(f"{share * 100:.1f}" for share in half_and_half(each, trials))
                for each in (case, case._replace(pressed=False))
            )
        print(
            f"| {case.name} | {min(lies):.1f} to {max(lies):.1f} "
            f"| {min(back):.1f} to {max(back):.1f} | {half if case.pressed else '-'} | {either} |"
        )


def half_and_half(case: Case, trials: int) -> Scores:
    """The shares where every other setting is laid, and not pushed."""
    return scores(case, "half and half", "each for itself", trials)


def table_of_verified(first: int, again: int) -> None:
    """Print how many of good stations are told that they are not."""
    print("\n| station | beyond at first, % | later, % | at the worst, % | by the chart, % |")
    print("| --- | --- | --- | --- | --- |")
    for case in CASES:
        ways, found = ways_of(case), []
        for _, leans in dict.fromkeys((*ways[::3], ways[-1])):
            at_first = verified(case, leans, first, times=1).first
            found.append(verified(case, leans, again)._replace(first=at_first))
        ends = [(min(shares) * 100, max(shares) * 100) for shares in zip(*found, strict=True)]
        shares = " | ".join(
            f"{most:.1f}" if len(found) == 1 else f"{least:.1f} to {most:.1f}"
            for least, most in ends
        )
        print(f"| {case.name} | {shares} |", flush=True)


if __name__ == "__main__":
    table(TRIALS)
    table_of_verified(FIRST, STATIONS)
