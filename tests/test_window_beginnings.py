"""Where loading windows begin: a brute simulation in small steps, and cases by hand.

Random programs at random shops (beds, turns, tools, tops of the stock) are followed by a few lines
of their own, in steps of a fifth of a millimetre: the tool is in the stock where Shapely finds its
disc over the stock's outline and its tip is below the top. How a motion, a helix, an arc of G18
and a cycle go is NISTIR 6556, 3.5.1 to 3.5.3 and 3.5.16.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np
import pytest
import shapely
from shapely import Polygon
from test_windows import PARK, Scene, gaps_by_shapely, scene, sitting_of, zone_by_shapely
from thinning import thinned

from pincorner.documents.machines import Carriage
from pincorner.program.check.reaches import ToolSize
from pincorner.runs.entering import Stocks
from pincorner.runs.gaps import moving_of, zone_of
from pincorner.runs.windows import NoWindow, Sitting, Window, find_windows, in_turn
from pincorner.setups.setup import Setup, written_in_machine

STEP_MM = 0.2
REACH_MM = 150.0
SLOWEST_S = STEP_MM / 40 * 60
"""A step at the slowest feed."""
TOOLS = {1: ToolSize(6.0), 2: ToolSize(12.7), 3: ToolSize()}
HEAD = ["G21 G17 G90 G40 G80 G94 G98", "G55", "T1 M6", "G0 Z30"]

XYZ = tuple[float, float, float]


class Move(NamedTuple):
    """A line of a program: how its places go on from where the tool is, or a word that waits.

    `places`: from the place before to (kind, places (k, 3)) of each motion; None for a stop.
    """

    text: str
    places: Callable[[XYZ], list[tuple[str, np.ndarray]]] | None
    feed: float = 1000.0
    tool: int = 0


def straight(first: XYZ, last: XYZ) -> np.ndarray:
    """Places of a straight motion."""
    count = max(int(math.dist(first, last) / STEP_MM), 1)
    return np.array(first) + np.linspace(0, 1, count + 1)[:, None] * np.subtract(last, first)


def circle(
    at: XYZ, axes: tuple[int, int, int], arm: XYZ, turns_left: bool, rise: float
) -> np.ndarray:
    """A full turn around a centre that lies `arm` away, and so much along the third axis."""
    first, second, third = axes
    radius = math.hypot(arm[first], arm[second])
    count = 2000  # chords are as long as their arcs, to a millionth
    share = np.linspace(0, 1, count + 1)
    angle = math.atan2(-arm[second], -arm[first]) + share * (1 if turns_left else -1) * 2 * math.pi
    found = np.repeat([at], count + 1, axis=0).astype(float)
    found[:, first] = at[first] + arm[first] + radius * np.cos(angle)
    found[:, second] = at[second] + arm[second] + radius * np.sin(angle)
    found[:, third] += share * rise
    return found


def goes(kind: str, feed: float, **axes: float) -> Move:
    """G0 or G1 to some axes."""
    text = " ".join(f"{axis}{at:.3f}" for axis, at in axes.items())

    def places(at: XYZ) -> list[tuple[str, np.ndarray]]:
        last = [round(axes.get(axis, now), 3) for axis, now in zip("XYZ", at, strict=True)]
        return [(kind, straight(at, (last[0], last[1], last[2])))]

    return Move(f"G0 {text}" if kind == "rapid" else f"G1 {text} F{feed:g}", places, feed)


def stays(_at: XYZ) -> list[tuple[str, np.ndarray]]:
    """A line without a motion."""
    return []


def turns(rng: random.Random, feed: float) -> list[Move]:
    """A helix around Z, or a full turn in the plane of X and Z."""
    size, left = round(rng.uniform(1, 12), 3), rng.random() < 0.5
    word = "G3" if left else "G2"
    if rng.random() < 0.6:
        down = round(rng.uniform(-8, 8), 3)

        def helix(at: XYZ) -> list[tuple[str, np.ndarray]]:
            last = round(down, 3)
            return [("feed", circle(at, (0, 1, 2), (size, 0.0, 0.0), left, last - at[2]))]

        return [Move(f"{word} I{size:.3f} J0 Z{down:.3f} F{feed:g}", helix, feed)]

    def upright(at: XYZ) -> list[tuple[str, np.ndarray]]:
        return [("feed", circle(at, (2, 0, 1), (0.0, 0.0, -size), left, 0.0))]

    arc = Move(f"{word} I0 K{-size:.3f} F{feed:g}", upright, feed)
    return [Move("G18", stays), arc, Move("G17", stays)]


def drills(rng: random.Random, feed: float) -> list[Move]:
    """G81 from above the stock."""
    x, y = round(rng.uniform(-30, 440), 3), round(rng.uniform(-30, 270), 3)
    r, depth = round(rng.uniform(1, 15), 3), round(rng.uniform(-6, 0.9), 3)

    def places(at: XYZ) -> list[tuple[str, np.ndarray]]:
        above, over, deep = (x, y, at[2]), (x, y, r), (x, y, depth)
        return [
            ("rapid", straight(at, above)), ("rapid", straight(above, over)),
            ("feed", straight(over, deep)), ("rapid", straight(deep, above)),
        ]  # fmt: skip

    cycle = Move(f"G81 X{x:.3f} Y{y:.3f} Z{depth:.3f} R{r:.3f} F{feed:g}", places, feed)
    return [goes("rapid", 0, Z=20.0), cycle, Move("G80", stays)]


def random_moves(rng: random.Random) -> Iterator[Move]:
    """A program's body: ways through the air with feeds of their own, and into the stock."""
    yield goes("rapid", 0, X=round(rng.uniform(-40, 450), 3), Y=round(rng.uniform(-40, 280), 3))
    far = rng.choice([300.0, 450.0, 800.0])
    for _ in range(rng.randint(4, 16)):
        feed, kind = float(rng.choice([40, 300, 3000])), rng.random()
        z = round(rng.choice([rng.uniform(-4, 3), rng.uniform(-1, 25)]), 3)
        x, y = round(rng.uniform(-40, far), 3), round(rng.uniform(-40, 280), 3)
        if kind < 0.15:
            yield goes("rapid", 0, Z=max(z, 4.0))
            yield goes("rapid", 0, X=x, Y=y)
        elif kind < 0.35:
            yield goes("feed", feed, Z=z)
        elif kind < 0.65:
            yield goes("feed", feed, X=x, Y=y, Z=z)
        elif kind < 0.8:
            yield from turns(rng, feed)
        elif kind < 0.9:
            yield from drills(rng, feed)
        else:
            yield goes("rapid", 0, Z=30.0)
            word, tool = rng.choice([("M0", 0), ("M60", 0), ("T2 M6", 2), ("T3 M6", 3)])
            yield Move(word, None, tool=tool)
    yield goes("rapid", 0, Z=30.0)


class Followed(NamedTuple):
    """A program followed: places of the axis in the machine (n, 2), the program's Z, the line and
    seconds of feed so far of each, whether it cuts, the tool's radius, the attendance, and the
    seconds at which each attendance ends."""

    places: np.ndarray
    z: np.ndarray
    lines: np.ndarray
    feed_s: np.ndarray
    cuts: np.ndarray
    radius: np.ndarray
    phase: np.ndarray
    ended_s: list[float]


def followed(moves: list[tuple[int, Move]], setup: Setup) -> Followed:
    """Follow lines one after the other."""
    at: XYZ = (0.0, 0.0, 30.0)
    rows: list[tuple[np.ndarray, ...]] = []
    now, tool, phase, ended = 0.0, 1, 1, []  # M6 to T1 is at the start
    for line, move in moves:
        if move.places is None:
            if move.tool == tool:
                continue
            tool, phase = move.tool or tool, phase + 1
            ended.append(now)
            continue
        for kind, places in move.places(at):
            way = np.concatenate(
                ([0.0], np.cumsum(np.linalg.norm(np.diff(places, axis=0), axis=1)))
            )
            seconds = way / move.feed * 60 if kind == "feed" else way * 0
            radius = (TOOLS[tool].diameter_mm or 0.0) / 2
            columns = (line, kind == "feed", radius, phase)
            if tuple(places[0]) != tuple(places[-1]) or len(places) > 8:
                rows.append((places, now + seconds, *(np.full(len(places), c) for c in columns)))
            now += float(seconds[-1])
            at = tuple(places[-1].tolist())
    ended.append(now)
    places, feed_s, lines, cuts, radius, phases = map(np.concatenate, zip(*rows, strict=True))
    pose = written_in_machine(setup)
    cos, sin = math.cos(pose.angle_rad), math.sin(pose.angle_rad)
    in_machine = np.array([pose.x_mm, pose.y_mm]) + places[:, :2] @ np.array(
        [[cos, sin], [-sin, cos]]
    )
    return Followed(in_machine, places[:, 2], lines, feed_s, cuts, radius, phases, ended)


def in_stock(way: Followed, setup: Setup, less_mm: float = 0.0) -> np.ndarray:
    """At which places the tool is in the stock, or in one that is less all round."""
    outline = Polygon(setup.bed_in_machine.points(setup.stock_in_bed()))
    away = shapely.distance(outline.buffer(-less_mm), shapely.points(way.places))
    top_mm = setup.heights.stock_top_mm - setup.heights.zero_mm
    found: np.ndarray = (
        way.cuts & (way.z < top_mm - less_mm) & (away < np.maximum(way.radius, 1e-9))
    )
    return found


def windows_of(sitting: Sitting, these: Scene, least_mm: float, override: float) -> list[Window]:
    """Windows of `right` while a program runs at `left`."""
    moving, _ = moving_of(these.left.facts.machine)
    assert moving is not None
    visit = in_turn(sitting, None, 0, PARK, False)
    zone = zone_of(these.right, REACH_MM)
    return find_windows([visit], moving, zone, least_mm, override)[0]


def read(moves: list[tuple[int, Move]], count: int, setup: Setup) -> Sitting:
    """Lines that a controller would run, at their numbers, read as `run` does."""
    lines = [""] * count
    for number, move in moves:
        lines[number - 1] = move.text
    stocks = Stocks.of(setup, [setup], None)._replace(tools=TOOLS)
    return sitting_of("\n".join([*lines, "M30", ""]), setup, stocks=stocks)


def shops() -> Iterator[tuple[int, random.Random, Scene]]:
    """Random machines and beds, with the stock of the first station turned and high or low."""
    rng = random.Random(20261201)
    for number in range(thinned(400)):
        sides = [float(rng.randint(20, 120)) for _ in range(4)]
        yield (
            number,
            rng,
            scene(
                rng.choice([0.0, 0.0, 0.4, -2.0, 15.0]),
                beam=rng.choice(["x", "y", "y", "none"]),
                carriage=Carriage(left=sides[0], right=sides[1], front=sides[2], back=sides[3]),
            ),
        )


def judged(
    window: Window, ways: list[Followed], these: Scene, least_mm: float, override: float
) -> tuple[list[float], list[float], float]:
    """How long a window may last at most by each way of running, and at least by the first with
    a stock 0.1 mm smaller; how long its first motion goes through the air. Looks that nothing is
    nearer than the window says, and that it begins behind no line that already cuts."""
    most, least, air_s = [], [], 0.0
    zone = zone_by_shapely(these.right, REACH_MM)
    for way in ways:
        mine = way.phase == window.phase
        held = [in_stock(way, these.left, less) & mine for less in (0.0, 0.1)]
        assert held[0].any(), window
        first = int(np.argmax(held[0]))
        assert way.lines[first] <= window.from_line, window
        behind = mine & (np.arange(len(mine)) >= first)
        until, begun = way.ended_s[window.phase - 1], float(way.feed_s[first])
        if least_mm > 0:
            gaps = gaps_by_shapely(way.places, these.left, zone)
            near = behind & (gaps < least_mm)
            until = float(way.feed_s[near].min()) if near.any() else until
            inside = behind & (way.feed_s < begun + window.at_least_s * override - SLOWEST_S)
            assert gaps[inside].min(initial=np.inf) >= window.nearest_mm - 0.05, window
        step_s = begun - float(way.feed_s[max(first - 1, 0)])
        most.append((until - begun + step_s) / override)
        if held[1].any():
            least.append((until - float(way.feed_s[int(np.argmax(held[1]))])) / override)
        air_s = max(air_s, begun - float(way.feed_s[int(np.argmax(way.lines == way.lines[first]))]))
    return most, least, air_s


def test_time_counts_from_where_the_tool_goes_in() -> None:
    """No window of a random program lasts longer than the feed time from the first step in which
    the tool is in the stock, in either reading of the lines behind `/`, to where a step is nearer
    than the least gap or the operator is wanted; and none that such steps do not end is shorter by
    more than a stock 0.1 mm smaller makes it. What is nearest in it is no nearer than it says."""
    seen = {"air": 0, "both": 0, "whole": 0}
    for number, rng, these in shops():
        count = len(HEAD)
        body = list(random_moves(rng))
        lines = [*enumerate((Move(text, None) for text in HEAD), 1), *enumerate(body, count + 1)]
        count += len(body)
        skips = rng.random() < 0.4
        gone = {
            at for at, (_, move) in enumerate(lines)
            if skips and at > 4 and move.text.startswith("G1 ") and rng.random() < 0.3
        }  # fmt: skip
        ways = [lines] if not gone else [lines, [m for at, m in enumerate(lines) if at not in gone]]
        sittings = [read(moves, count, these.left) for moves in ways]
        assert not any(each.is_lost for each in sittings), number
        whole = sittings[0]._replace(skipped=sittings[1] if gone else None)
        least_mm, override = rng.choice([-1e4, -1e4, 20.0, 120.0]), rng.choice([1.0, 1.3])
        windows = windows_of(whole, these, least_mm, override)
        paths = [followed(moves[len(HEAD) :], these.left) for moves in ways]
        for window in windows:
            most, least, air_s = judged(window, paths, these, least_mm, override)
            assert window.at_least_s <= min(most) + 1e-3, (number, window, most)
            if least_mm < 0 and not gone and least:
                seen["whole"] += 1
                assert window.at_least_s >= least[0] - SLOWEST_S, (number, window, least)
            seen["air"] += air_s > 1.0
            seen["both"] += bool(gone)
    assert min(seen.values()) > 3, seen


def test_a_plunge_through_the_air_counts_for_nothing() -> None:
    """From 30 mm above the stock at 40 mm/min: 45 s in which nothing is cut. Of a ramp from 6 mm
    above to 2 mm below a quarter is in the stock. A plunge 20 mm beside the stock begins nothing:
    the way to it and on into it counts from the edge, a radius before it."""
    these = scene()
    stocks = Stocks.of(these.left, [these.left], None)._replace(tools=TOOLS)
    head = "\n".join([*HEAD[:3], "G0 Z60", "G0 X50 Y50", ""])
    for body, seconds in (
        ("G0 Z30\nG1 Z-1 F40\nX150 F600\n", 1 / 40 * 60 + 10),
        ("G0 Z6\nG1 X150 Z-2 F600\nX50\n", math.hypot(100, 8) / 4 / 10 + 10),
        ("G0 X-20\nG0 Z1\nG1 Z-1 F60\nX100 F600\n", (100 + 3) / 10),
    ):
        text = head + body + "G0 Z60\nM30\n"
        [window] = windows_of(sitting_of(text, these.left, stocks=stocks), these, 4.0, 1.0)
        assert window.at_least_s == pytest.approx(seconds, abs=1e-3), body


def test_a_tool_without_a_diameter_is_seen_before_its_axis_goes_in() -> None:
    """Its time counts from its axis; what is nearest, from where that motion begins: in between its
    edge goes in. 30 mm beside a stock 410 mm long, by hand; of 6 mm it is 3 mm beside it."""
    these = scene()
    stocks = Stocks.of(these.left, [these.left], None)._replace(tools=TOOLS)
    found = []
    for tool in (1, 3):
        lines = [*HEAD[:2], f"T{tool} M6", "G0 Z30", "G0 X440 Y50", "G0 Z1", "G1 Z-1 F600", "X50",
                 "G0 Z60", "M30", ""]  # fmt: skip
        sitting = sitting_of("\n".join(lines), these.left, stocks=stocks)
        found += windows_of(sitting, these, -1e4, 1.0)
    sized, unsized = found
    assert sized.at_least_s == pytest.approx((413 - 50) / 10, abs=1e-3)
    assert unsized.at_least_s == pytest.approx((410 - 50) / 10, abs=1e-3)
    assert sized.nearest_mm - unsized.nearest_mm == pytest.approx(27, abs=5)


def test_a_program_that_stays_out_of_the_stock() -> None:
    """Beside the stock nothing is seen to go in: there is no window, and the reason says it."""
    these = scene()
    stocks = Stocks.of(these.left, [these.left], None)._replace(tools=TOOLS)
    text = "\n".join([*HEAD, "G0 X-20 Y50", "G1 Z-1 F60", "Y100", "G0 Z60", "M30", ""])
    moving, _ = moving_of(these.left.facts.machine)
    assert moving is not None
    visit = in_turn(sitting_of(text, these.left, stocks=stocks), None, 0, PARK, False)
    windows, none = find_windows([visit], moving, zone_of(these.right, REACH_MM), 4.0, 1.0)
    assert windows == [] and isinstance(none, NoWindow)
    assert "no cut goes into the stock" in none.why
