"""Loading windows, against the motions sampled every 10 ms with Shapely's shapes, and by hand."""

from __future__ import annotations

import math
import random
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
import shapely
from shapely import Polygon, affinity
from thinning import thinned
from worlds import BASE, facts, world

from pincorner.documents.beds import PoseEntry
from pincorner.documents.machines import Carriage
from pincorner.geometry.outline import Box
from pincorner.geometry.pose import Pose
from pincorner.program.path.frames import frame_of
from pincorner.program.reader.reading import reading_of
from pincorner.program.source.text import ProgramText
from pincorner.runs.entering import Stock, Stocks
from pincorner.runs.gaps import BEYOND_MM, gap_to, moving_of, side_of_bed, zone_of
from pincorner.runs.spans import NOWHERE, SpanReader, _places_known
from pincorner.runs.windows import NoWindow, Sitting, Visit, Window, find_windows, in_turn
from pincorner.setups.locating import OUTWARD
from pincorner.setups.setup import Setup, written_in_machine
from pincorner.setups.transform import make_setups

ROUNDING_MM = 1e-6
FINE_MM = 15.0  # a hundredth of the bed
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
PARK = Box(0.0, 940.0, 0.0, 940.0)


class Scene(NamedTuple):
    """Two stations on a machine of which enough is known."""

    left: Setup
    right: Setup


def scene(angle: float = 0.0, access: str | None = "front", **machine: Any) -> Scene:
    """Stations left and right, 700 mm apart; the machine's keys, with a beam along Y."""
    keys = {
        "beam": "y",
        "carriage": Carriage(left=120, right=120, front=140, back=140),
        **machine,
    }
    pose = PoseEntry(x=60, y=55, angle=angle)
    found = world(TWO, machine=keys, bed={"pose": pose})
    left, right = (make_setups(facts(found, name, access=access))[0] for name in ("left", "right"))
    return Scene(left, right)


def everywhere(setup: Setup) -> Stocks:
    """Stock below the program's Z0, wherever a tool goes down."""
    return Stocks((Stock(Pose("a", "machine", 0, 0, 0), Box(-1e4, -1e4, 1e4, 1e4), 0.0),), {})


def sitting_of(
    text: str, setup: Setup, *, known: tuple[int, ...] = (), stocks: Stocks | None = None,
    **keys: Any,
) -> Sitting:  # fmt: skip
    """A program as it runs at a station; `stocks`: by default everywhere below Z0."""
    stocks = everywhere(setup) if stocks is None else stocks
    program = ProgramText(Path("x.nc"), text.encode())
    frame = frame_of(setup)
    reading = reading_of(program, frame, tuple((line, line) for line in known))
    beam = setup.facts.machine.beam
    reader = SpanReader(written_in_machine(setup), beam, FINE_MM, program, stocks, known)
    for motions in reading.motions(program):
        reader.take(motions, reading.summary)
    reader.end(reading.summary)
    name = setup.facts.station.name
    return Sitting(
        name,
        name,
        ("a",),
        "x.nc",
        tuple(reader.spans),
        reader.place,
        reader.cut_place,
        reader.ended,
        **keys,
    )


def windows_of(
    sitting: Sitting, these: Scene, *, park: Box | None = PARK, tool: int = 1,
    reach_mm: float = 200.0, least_mm: float = 120.0,
) -> tuple[list[Window], NoWindow | None]:  # fmt: skip
    """Windows of `right` while a program runs at `left`."""
    moving, missing = moving_of(these.left.facts.machine)
    assert moving is not None and not missing
    visit = in_turn(sitting, None, tool, park, False)
    return find_windows([visit], moving, zone_of(these.right, reach_mm), least_mm, 1.0)


HEAD = "G21 G17 G90 G40 G80 G94\nG55\nT1 M6\nG0 Z30\nG0 X50 Y50\nG0 Z2\n"


def test_a_window_by_hand() -> None:
    """Cuts of 3 mm down, 1 mm of it in the stock, and 300 mm along at 600 mm/min, both ways: 60.1 s
    from the moment at which the tool goes in, to a program's end.

    The zero is at machine X 295 (case A0): the axis goes up to X 645, the carriage to 765. The
    right jig begins at the far side of the pin in J4, X 60 + 900 + 10, less the reach of 200.
    """
    these = scene()
    text = HEAD + "G1 Z-1 F600\nX350\nX50\nG0 Z30\nM30\n"
    [window], none = windows_of(sitting_of(text, these.left), these, least_mm=4)
    assert none is None
    assert window.nearest_mm == pytest.approx(970 - 200 - (295 + 350 + 120), abs=0.01)
    assert window.at_least_s == pytest.approx((1 + 300 + 300) / 10, abs=1e-6)
    assert (window.from_line, window.end_line, window.kind) == (7, 11, "waits")
    assert window.from_event == "T1 is down in left"
    assert window.end_event == "the program ends at M30"


def test_it_ends_where_the_axis_comes_nearer() -> None:
    """A motion of 400 mm towards the zone is cut where the gap is no longer the least one."""
    these = scene()
    text = HEAD + "G1 Z-1 F600\nX50 Y80\nX450\nX50\nM30\n"
    [window], _ = windows_of(sitting_of(text, these.left), these, least_mm=120)
    assert (window.end_line, window.kind, window.end_event) == (9, "hard", "it comes nearer")
    room = 970 - 200 - 120 - (295 + 50 + 120)  # mm until the least gap
    longest = (1 + 30 + room) / 10
    assert longest - FINE_MM / 10 - 1e-6 <= window.at_least_s <= longest
    assert 120 <= window.nearest_mm <= 120 + 2 * FINE_MM


def test_what_stays_above_the_stock_is_no_cut() -> None:
    """A way by G1 above the stock begins no window: there is nothing to see it by."""
    these = scene()
    text = HEAD + "G1 X60 F600\nX50\nZ-1\nX150\nG0 Z30\nM30\n"
    [window], _ = windows_of(sitting_of(text, these.left), these)
    assert window.from_line == 9 and window.at_least_s == pytest.approx((1 + 100) / 10)


def test_a_change_to_a_tool_that_is_not_named() -> None:
    """M6 without T takes the spindle to the change place, whatever comes in there."""
    these = scene()
    text = HEAD.replace("T1 M6", "M6") + "G1 Z-1 F600\nX150\nG0 Z30\nM6\nG0 Z2\nG1 Z-1\nM30\n"
    windows, _ = windows_of(sitting_of(text, these.left), these)
    assert windows[0].end_event == "M6 goes to the change place"
    assert windows[0].from_event == "the cutter is down in left"


def test_tool_changes() -> None:
    """M6 to another tool waits where the way to the change place keeps the gap, else it is hard;
    M6 to the same tool is a stop that nobody attends, and a window goes on over it."""
    these = scene()
    text = HEAD + "G1 Z-1 F600\nX150\nG0 Z30\nT2 M6\nG0 Z2\nG1 Z-1\nX50\nG0 Z30\nM30\n"
    sitting = sitting_of(text, these.left)
    first, second = windows_of(sitting, these)[0]
    assert (first.kind, first.end_line, first.stops_at) == ("waits", 10, "M6")
    assert first.end_event == "T2 goes to the change place"
    assert (second.phase, second.from_line, second.from_event) == (1, 12, "T2 is down in left")
    over = Box(1500.0, 500.0, 1500.0, 500.0)
    assert windows_of(sitting, these, park=over)[0][0].kind == "hard"
    assert windows_of(sitting, these, park=None)[0][0].kind == "hard"
    same = sitting_of(text.replace("T2", "T1"), these.left)
    [whole], _ = windows_of(same, these)
    air_s = 0.2  # of the second, in the whole one's midst
    assert whole.at_least_s == pytest.approx(first.at_least_s + air_s + second.at_least_s)


@pytest.mark.parametrize(("word", "phases"), [("M0", [0, 1]), ("M60", [0, 1]), ("M1", [0])])
def test_stops(word: str, phases: list[int]) -> None:
    """At M0 and M60 the operator comes, and a window may begin behind them; at M1 not."""
    these = scene()
    text = HEAD + f"G1 Z-1 F600\nX150\nG0 Z30\n{word} (turn the part)\nG0 Z2\nG1 Z-1\nX50\nM30\n"
    windows, _ = windows_of(sitting_of(text, these.left), these)
    assert [window.phase for window in windows] == phases
    assert windows[-1].end_event == "the program ends at M30"


def test_a_line_that_may_be_skipped_ends_it() -> None:
    """A cut towards the zone behind / ends the window at its line; what follows it is no longer
    than it is without it. By hand: 1, 100 and 100 mm at 600 mm/min."""
    these = scene()
    head = HEAD + "G1 Z-1 F600\nX150\n"
    run = sitting_of(head + "X450\nX50\nM30\n", these.left)
    skipped = sitting_of(head + "\nX50\nM30\n", these.left)
    [both], _ = windows_of(run._replace(skipped=skipped), these)
    [alone], [without] = windows_of(run, these)[0], windows_of(skipped, these)[0]
    assert (without.kind, without.end_line) == ("waits", 11)
    assert (both.kind, both.end_line, both.end_event) == ("hard", 9, "it comes nearer")
    assert without.at_least_s == pytest.approx(20.1)
    assert both.at_least_s == min(alone.at_least_s, without.at_least_s)
    assert both.nearest_mm == min(alone.nearest_mm, without.nearest_mm)
    assert windows_of(skipped._replace(skipped=run), these)[0] == [both]


def test_seconds_count_from_where_both_readings_cut() -> None:
    """Roughing behind / ends before the first cut that is always there: its seconds are none of
    the window's, which ends where the first of the two does; none where that is before it begins.
    By hand: 1 and 100 mm at 600 mm/min, to the line of the cut that comes nearer; a span that
    began before the line counts as none."""
    these = scene()
    rough = "G1 Z-1 F600\nX150\nX50\nX150\nX50\nG0 Z2\n"
    fine = "G1 Z-1 F600\nX150\n{0}X450\n{0}X150\nX50\nM30\n"
    run = sitting_of(HEAD + rough + fine.format(""), these.left)
    skipped = sitting_of(HEAD + "\n" * 6 + fine.format("").replace("X450\nX150", "\n"), these.left)
    [both], _ = windows_of(run._replace(skipped=skipped), these)
    assert (both.from_line, both.end_line, both.kind) == (13, 15, "hard")
    assert 8.0 < both.at_least_s <= 10.1
    near = sitting_of(HEAD + rough.replace("X150", "X450") + fine.format(""), these.left)
    assert windows_of(near._replace(skipped=skipped), these)[0] == []


def test_the_way_home_ends_it() -> None:
    """A program that parks over the loaded station shows the window's end at that line."""
    these = scene()
    text = HEAD + "G1 Z-1 F600\nX150\nG0 Z60\nG53 G0 X1400 Y500\nM30\n"
    [window], _ = windows_of(sitting_of(text, these.left), these)
    assert (window.end_line, window.kind) == (10, "hard")
    assert window.end_event == "it goes away at its end"


@pytest.mark.parametrize("lost", ["G28", "G30", "(probe)"])
def test_a_place_that_is_not_known(lost: str) -> None:
    """No window from a line that is not followed to the next start; the one before ends there."""
    these = scene(home=None)
    text = HEAD + f"G1 Z-1 F600\nX150\nG0 Z60\n{lost}\nT2 M6\nG0 X50 Y50\nG1 Z-1\nX350\nM30\n"
    known = (10,) if lost == "(probe)" else ()
    [window], _ = windows_of(sitting_of(text, these.left, known=known), these)
    assert (window.from_line, window.end_line, window.kind) == (7, 10, "hard")


def test_no_window_says_why() -> None:
    """At the first cut what moves is in the zone: with the depth; or nearer than the least gap."""
    these = scene(carriage=Carriage(left=120, right=600, front=140, back=140))
    text = HEAD + "G1 Z-1 F600\nX350\nM30\n"
    windows, none = windows_of(sitting_of(text, these.left), these)
    assert windows == [] and none is not None and none.gap_mm is not None and none.line == 7
    away = 970 - 200 - (295 + 50 + 600)
    assert away - FINE_MM <= none.gap_mm <= away
    _, refused = windows_of(sitting_of(text, these.left, why_not="check finds it"), these)
    assert refused is not None and refused.why == "check finds it"


@pytest.mark.parametrize(
    ("keys", "missing"),
    [
        ({"beam": None}, ["beam"]),
        ({"carriage": None}, ["carriage"]),
        ({"carriage": Carriage(left=120, right=120)}, ["carriage (front, back)"]),
        ({"travel": None}, ["travel in X and Y"]),
    ],
)
def test_what_must_be_stated(keys: dict[str, Any], missing: list[str]) -> None:
    """Without a beam, all sides of the carriage and the travel it is not known what moves."""
    assert moving_of(scene(**keys).left.facts.machine) == (None, missing)


def test_what_is_left_out_never_makes_a_gap_larger() -> None:
    """Without operator and access strips go out to all four sides; with either, to one."""
    rng = random.Random(6)
    for _ in range(thinned(240)):
        angle = rng.choice([0.0, 0.3, 90.0, 180.0, 30.0])
        beam = rng.choice(["x", "y", "none"])
        nobody = scene(angle, None, beam=beam).right
        somebody = scene(angle, None, beam=beam, operator=rng.choice(list(OUTWARD))).right
        moving, _ = moving_of(nobody.facts.machine)
        assert moving is not None
        x, y = rng.uniform(0, 1540), rng.uniform(0, 940)
        box = Box(x, y, x + rng.uniform(0, 300), y + rng.uniform(0, 300))
        unknown, known = (gap_to(moving, zone_of(each, 200), box) for each in (nobody, somebody))
        assert unknown <= known + ROUNDING_MM
        assert gap_to(moving, zone_of(nobody, 200), None) <= unknown + ROUNDING_MM


@pytest.mark.parametrize(
    ("angle", "side", "of_bed"),
    [(0, "front", "front"), (90, "front", "left"), (180, "left", "right"), (270, "front", "right")],
)
def test_the_side_where_people_stand(angle: float, side: Any, of_bed: str) -> None:
    """On a bed that is turned a quarter to the left its left edge faces the machine's front."""
    these = scene(angle)
    assert side_of_bed(side, these.left.bed_in_machine) == of_bed


# --- the same motions sampled every 10 ms


class Sampled(NamedTuple):
    """Places of the axis in the machine (n, 2), the line of each, and seconds of feed so far."""

    places: np.ndarray
    lines: np.ndarray
    feed_s: np.ndarray


def random_program(rng: random.Random) -> tuple[str, list[tuple[str, int, tuple[float, ...]]]]:
    """A program of straight cuts, arcs and rapids, and the same as plain moves with their lines.

    Moves: ("rapid" | "feed" | "arc", line, (end x, y, feed, centre x, y, sweep)).
    """
    lines = ["G21 G17 G90 G40 G80 G94", "G55", "T1 M6", "G0 Z-1"]
    moves: list[tuple[str, int, tuple[float, ...]]] = []
    x, y = rng.uniform(0, 300), rng.uniform(0, 200)

    def add(text: str, kind: str, *values: float) -> None:
        lines.append(text)
        moves.append((kind, len(lines), values))

    add(f"G0 X{x:.3f} Y{y:.3f}", "rapid", round(x, 3), round(y, 3))
    x, y = round(x, 3), round(y, 3)
    far = rng.choice([150.0, 400.0, 900.0])
    for _ in range(rng.randint(3, 25)):
        feed = float(rng.choice([3000, 6000, 12000]))
        kind = rng.random()
        if kind < 0.15:
            x, y = (round(rng.uniform(-100, far), 3) for _ in range(2))
            add(f"G0 X{x:.3f} Y{y:.3f}", "rapid", x, y)
        elif kind < 0.7:
            x, y = (round(rng.uniform(-100, far), 3) for _ in range(2))
            add(f"G1 X{x:.3f} Y{y:.3f} F{feed:g}", "feed", x, y, feed)
        else:
            radius, turns = rng.uniform(5, 200), rng.random() < 0.5
            start = rng.uniform(0, 2 * math.pi)
            i, j = (round(-radius * f(start), 3) for f in (math.cos, math.sin))
            word = "G3" if turns else "G2"
            add(f"{word} X{x:.3f} Y{y:.3f} I{i:.3f} J{j:.3f} F{feed:g}", "arc", x, y, feed, x + i,
                y + j, 2 * math.pi if turns else -2 * math.pi)  # fmt: skip
    return "\n".join([*lines, "M30", ""]), moves


def sampled(moves: list[tuple[str, int, tuple[float, ...]]], setup: Setup) -> Sampled:
    """The moves every 10 ms; rapids over both corners between their ends in machine axes."""
    pose = written_in_machine(setup)
    places, lines, times = [], [], []
    now, at = 0.0, (0.0, 0.0)
    for kind, line, values in moves:
        end = values[0], values[1]
        if kind == "rapid":
            if places:
                (ax, ay), (bx, by) = pose.point(at), pose.point(end)
                way = [(ax, ay), (bx, ay), (bx, by), (ax, by), (bx, by)]
                steps = np.linspace(0, 1, 40)[:, None]
                for one, other in pairwise(way):
                    found = np.array(one) + steps * (np.array(other) - np.array(one))
                    places.append(found)
                    lines.append(np.full(len(found), line))
                    times.append(np.full(len(found), now))
        else:
            if kind == "feed":
                length = math.dist(at, end)
            else:
                length = abs(values[5]) * math.dist(at, (values[3], values[4]))
            seconds = length / values[2] * 60
            count = max(int(seconds / 0.010), 1)
            share = np.linspace(0, 1, count + 1)[:, None]
            if kind == "feed":
                found = np.array(at) + share * (np.array(end) - np.array(at))
            else:
                centre = np.array(values[3:5])
                first = math.atan2(at[1] - centre[1], at[0] - centre[0])
                angles = first + share[:, 0] * values[5]
                radius = math.dist(at, (values[3], values[4]))
                found = centre + radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)
            cos, sin = math.cos(pose.angle_rad), math.sin(pose.angle_rad)
            turned = np.array([pose.x_mm, pose.y_mm]) + found @ np.array([[cos, sin], [-sin, cos]])
            places.append(turned)
            lines.append(np.full(len(turned), line))
            times.append(now + share[:, 0] * seconds)
            now += seconds
        at = end
    return Sampled(np.concatenate(places), np.concatenate(lines), np.concatenate(times))


def zone_by_shapely(setup: Setup, reach_mm: float) -> Polygon:
    """The loading zone in the machine, by Shapely's own shapes."""
    jig = Polygon(setup.footprint_in_bed())
    left, front, right, back = jig.bounds
    bed = setup.facts.bed.box
    strip = Polygon.from_bounds(
        left - reach_mm, min(front - reach_mm, bed.front - BEYOND_MM), right + reach_mm,
        (front + back) / 2,
    )  # fmt: skip
    pose = setup.bed_in_machine
    both = shapely.union_all([jig.buffer(reach_mm, quad_segs=64), strip])
    cos, sin = math.cos(pose.angle_rad), math.sin(pose.angle_rad)
    return affinity.affine_transform(both, [cos, -sin, sin, cos, pose.x_mm, pose.y_mm])


def gaps_by_shapely(places: np.ndarray, setup: Setup, zone: Polygon) -> np.ndarray:
    """Distances of the carriage, a beam of 100 m included, from the zone; 0 where they meet."""
    carriage, beam = setup.facts.machine.carriage, setup.facts.machine.beam
    along_x, along_y = (1e5 if beam == axis else 0.0 for axis in ("x", "y"))
    x, y = places.T
    shapes = shapely.box(
        x - carriage.left - along_x, y - carriage.front - along_y,
        x + carriage.right + along_x, y + carriage.back + along_y,
    )  # fmt: skip
    found: np.ndarray = shapely.distance(shapes, zone)
    return found


class Drawn(NamedTuple):
    """A random program at a station of a random machine: as it runs, and as it is sampled."""

    number: int
    these: Scene
    first_line: int
    sitting: Sitting
    samples: Sampled
    least_mm: float


@pytest.fixture(scope="module")
def cases() -> list[Drawn]:
    """Random programs, beds, turns and machines."""
    rng, found = random.Random(20261130), []
    for number in range(thinned(360)):
        sides = [float(rng.randint(50, 250)) for _ in range(4)]
        these = scene(
            rng.choice([0.0, 0.0, 0.4, -2.0, 15.0]),
            beam=rng.choice(["x", "y", "y", "none"]),
            carriage=Carriage(left=sides[0], right=sides[1], front=sides[2], back=sides[3]),
        )
        text, moves = random_program(rng)
        first = next(line for kind, line, _ in moves if kind != "rapid")
        sitting, samples = sitting_of(text, these.left), sampled(moves, these.left)
        found.append(Drawn(number, these, first, sitting, samples, rng.uniform(20, 250)))
    return found


def test_no_sample_in_a_window_is_nearer(cases: list[Drawn]) -> None:
    """Of random programs, beds, turns and machines: no sample inside a window has a smaller gap
    than it says, it lasts as long as it says, and where it ends hard the gap is as small as the
    least one, but for what a span's cut costs, before that span is over."""
    ends = {"hard": 0, "waits": 0}
    for number, these, first, sitting, samples, least_mm in cases:
        windows, none = windows_of(sitting, these, reach_mm=150, least_mm=least_mm)
        gaps = gaps_by_shapely(samples.places, these.left, zone_by_shapely(these.right, 150))
        if none is not None:
            begin = int(np.argmax(samples.lines == first))
            assert gaps[begin] <= least_mm + FINE_MM + 1, number
            continue
        [window] = windows
        ends[window.kind] += 1
        assert window.from_line == first, number
        begin = int(np.argmax(samples.lines == first))
        until = samples.feed_s[begin] + window.at_least_s
        inside = (samples.feed_s <= until + 1e-9) & (samples.lines <= window.end_line)
        if window.kind == "hard":  # a rapid that ends it takes no time
            inside &= ~((samples.lines == window.end_line) & (samples.feed_s > until - 1e-9))
        inside[:begin] = False
        assert gaps[inside].min() >= window.nearest_mm - ROUNDING_MM, number
        assert gaps[inside].min() <= window.nearest_mm + FINE_MM + 0.1, number
        if window.kind == "hard":
            rest = (samples.feed_s >= until - 1e-9) & (samples.lines >= window.end_line)
            spans = [
                span for span in sitting.spans if span.lines and span.box not in (None, NOWHERE)
            ]
            last = max(s.lines[1] for s in spans if s.lines and s.lines[0] == window.end_line)
            assert gaps[rest & (samples.lines <= last)].min() <= least_mm + FINE_MM + 0.1, number
        else:
            assert until == pytest.approx(samples.feed_s[-1], abs=1e-6), number
    assert min(ends.values()) > 1, ends


def test_every_sample_is_in_a_span(cases: list[Drawn]) -> None:
    """Each place of the axis lies in the box of a span that covers its line."""
    for number, _, _, sitting, samples, _ in cases:
        held = np.zeros(len(samples.lines), np.bool_)
        for span in sitting.spans:
            if span.lines is None or span.box is None or span.box == NOWHERE:
                continue
            box = span.box.grown(1e-6)
            x, y = samples.places.T
            mine = (samples.lines >= span.lines[0]) & (samples.lines <= span.lines[1])
            held |= mine & (x >= box.left) & (x <= box.right) & (y >= box.front) & (y <= box.back)
        assert held.all(), (number, samples.lines[~held][:3])


def test_gap_is_shapelys_distance() -> None:
    """For random boxes, beams and turned beds the gap is Shapely's distance where they are apart,
    and not above nothing where they meet."""
    rng, apart = random.Random(1), 0
    for _ in range(thinned(720)):
        these = scene(rng.uniform(-180, 180), beam=rng.choice(["x", "y", "none"]))
        x, y = rng.uniform(-1500, 2500), rng.uniform(-1500, 2500)
        moving, _ = moving_of(these.right.facts.machine)
        assert moving is not None
        gap = gap_to(moving, zone_of(these.right, 200), Box(x, y, x, y))
        zone = zone_by_shapely(these.right, 200)
        [distance] = gaps_by_shapely(np.array([[x, y]]), these.right, zone)
        if distance > 0.1:
            apart += 1
            assert gap == pytest.approx(distance, abs=0.02)  # Shapely's arcs have 64 chords
        else:
            assert gap <= 0.1
    assert apart > 40


def test_visits_carry_tool_and_place_on() -> None:
    """The spindle starts where it stood, with the tool that was in: no change to the same one."""
    these = scene()
    sitting = sitting_of(HEAD + "G1 Z-1 F600\nX350\nG0 Z30\nM30\n", these.left)
    here = Box(10.0, 20.0, 10.0, 20.0)
    kept: Visit = in_turn(sitting, here, 1, PARK, False)
    other: Visit = in_turn(sitting, here, 2, PARK, False)
    assert [s.what for s in kept.spans][:3] == ["start", "stop", "approach"]
    assert [s.what for s in other.spans][:3] == ["start", "change", "approach"]
    assert kept.spans[0].box == here
    assert kept.spans[2].box == Box(10.0, 20.0, 345.0, 235.0)
    assert other.spans[1].box == Box(0.0, 20.0, 10.0, 940.0)
    assert other.spans[2].box == Box(0.0, 235.0, 345.0, 940.0)


def test_a_place_is_known_by_x_and_y() -> None:
    """A place counts as known where both of them are; Z is not asked."""
    nan = math.nan
    places = np.array([[nan, 1.0, 0.0], [1.0, nan, 0.0], [1.0, 2.0, nan]])
    assert _places_known(places).tolist() == [False, False, True]
