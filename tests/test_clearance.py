"""Clearance from obstacles and fences, against Shapely and dense sampling."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pytest
from motions_by_hand import Path
from random_shapes import outlines, rings
from shapely import LineString, Polygon, box
from shapely import Point as Dot
from shapely.affinity import rotate
from thinning import thinned

from pincorner.geometry.outline import Box
from pincorner.geometry.pose import Pose
from pincorner.program.check.clearance import CUTTER, NOSE, Clearance, Key, Worst
from pincorner.program.check.fences import Ceiling, Fence
from pincorner.program.check.reaches import ToolSize, reaches_of
from pincorner.program.check.surroundings import Disc, Obstacle
from pincorner.program.path.boxes import Rapids, Section, sections_of, together
from pincorner.program.reader.motions import ARC, RAPID, Floats, Motions

ROUNDING_MM = 1e-9  # some products of doubles near 100 mm
SAMPLED_MM = 1e-3  # samples and strokes leave an arc of 60 mm by 0.0002 and 0.0005 mm
TOOLS = {1: ToolSize(6.0, 20.0), 2: ToolSize(12.0, 35.0)}
NOSE_MM = 50.0


class Scene(NamedTuple):
    """Random obstacles and a random path among them."""

    obstacles: list[Obstacle]
    shapes: list[Polygon | Dot]
    motions: Motions


def scene(seed: int, arcs: bool) -> Scene:
    """A few discs and outlines of random heights, and 80 motions of two tools."""
    rng = np.random.default_rng(seed)
    shapes: list[Polygon | Dot] = [*outlines(4, seed)]
    obstacles = [
        Obstacle("hits-jig", f"outline {at}", rings(shape), float(rng.uniform(-4, 9)), 0.3)
        for at, shape in enumerate(shapes)
    ]
    for at in range(4):
        centre = (float(rng.uniform(-80, 80)), float(rng.uniform(-80, 80)))
        shapes.append(Dot(centre))
        top = float(rng.uniform(-4, 9))
        obstacles.append(Obstacle("hits-pin", f"disc {at}", Disc(centre, 5.0 + at), top, 0.1))
    path = Path((0.0, 0.0, 5.0))
    for _ in range(80):
        path.tool = 1 + int(rng.random() < 0.3)
        end = [*rng.uniform(-90, 90, 2), float(rng.normal() * 5)]
        kind = rng.random()
        if arcs and kind < 0.5:
            centre = [path.at[0] + rng.normal() * 20, path.at[1] + rng.normal() * 20]
            path.arc(centre, rng.uniform(-6, 6), end[2])
        elif kind < 0.6:
            near = [path.at[0] + rng.normal() * 15, path.at[1] + rng.normal() * 15]
            path.rapid(*near, end[2])
        else:
            path.feed(*end)
    return Scene(obstacles, shapes, path.motions())


def in_pieces(motions: Motions, piece: int, rapids: Rapids) -> Iterator[Section]:
    """Sections of the motions, so many at once."""
    for at in range(0, len(motions.line), piece):
        yield from sections_of(motions.rows(slice(at, at + piece)), rapids)


def run(motions: Motions, obstacles: list[Obstacle], fences: list[Fence], rapids: Rapids,
        ceiling: Ceiling | None = None, piece: int = 50) -> dict[Key, Worst]:  # fmt: skip
    """What clearance finds when the motions come in pieces."""
    clearance = Clearance(obstacles, fences, ceiling, rapids)
    for section in in_pieces(motions, piece, rapids):
        clearance.take(section, reaches_of(TOOLS[section.tool], NOSE_MM))
    return clearance.worst


def by_shapely(scene: Scene, obstacle: int, part: str, rapids: Rapids) -> dict[int, list[float]]:
    """Gaps of every motion that is below an obstacle's top, by tool, each found by itself."""
    shape, thing, motions = scene.shapes[obstacle], scene.obstacles[obstacle], scene.motions
    gaps: dict[int, list[float]] = {1: [], 2: []}
    for at, kind in enumerate(motions.kind):
        tool = int(motions.tool[at])
        size = TOOLS[tool]
        assert size.diameter_mm is not None
        assert size.stickout_mm is not None
        radius = size.diameter_mm / 2 if part == CUTTER else NOSE_MM / 2
        top = thing.top_mm - (0.0 if part == CUTTER else size.stickout_mm)
        start, end = motions.start[at], motions.end[at]
        if kind == RAPID and not rapids.straight:
            path = _rapid_box(start, end, rapids.machine_angle_rad)
            path = path if min(start[2], end[2]) < top else None
        else:
            share = _shares_below(start, end, top)
            if kind == ARC and len(share):
                share = np.linspace(*share, 1501)
            points = _points(motions, at, share)
            path = LineString(points[:, :2]) if len(points) else None
        if path is not None:
            inner = thing.shape.radius_mm if isinstance(thing.shape, Disc) else 0.0
            gaps[tool].append(shape.distance(path) - inner - radius)
    return gaps


def _shares_below(start: Floats, end: Floats, top: float) -> Floats:
    """Two shares of a straight way between which it is below a height; none where it never is."""
    if min(start[2], end[2]) >= top:
        return np.empty(0)
    if max(start[2], end[2]) < top:
        return np.array([0.0, 1.0])
    crossing = (top - start[2]) / (end[2] - start[2])
    return np.array([0.0, crossing] if start[2] < top else [crossing, 1.0])


def _points(motions: Motions, at: int, share: Floats) -> Floats:
    start, end = motions.start[at], motions.end[at]
    points: Floats = start + share[:, None] * (end - start)
    if motions.kind[at] == ARC:
        centre = complex(*motions.centre[at])
        away = complex(*start[:2]) - centre
        turned = centre + away * np.exp(1j * share * motions.sweep_rad[at])
        points[:, 0], points[:, 1] = turned.real, turned.imag
    return points


def _rapid_box(start: Floats, end: Floats, angle: float) -> Polygon | LineString:
    """The box along axes turned by `angle`, by turning it there and back with Shapely."""
    ends = [rotate(Dot(p[:2]), -angle, origin=(0, 0), use_radians=True) for p in (start, end)]
    upright = box(*LineString(ends).bounds)
    turned: Polygon = rotate(upright, angle, origin=(0, 0), use_radians=True)
    return turned


@pytest.mark.parametrize("rapids", [Rapids(True, 0.0), Rapids(False, 0.0), Rapids(False, 0.4)])
@pytest.mark.parametrize("seed", range(thinned(3)))
@pytest.mark.parametrize("arcs", [False, True], ids=["straight", "arcs"])
def test_clearance_against_shapely(seed: int, arcs: bool, rapids: Rapids) -> None:
    """The worst gap of each tool at each obstacle, and on how many lines, as Shapely finds them."""
    this = scene(seed, arcs)
    within = SAMPLED_MM if arcs else ROUNDING_MM
    found = run(this.motions, this.obstacles, [], rapids)
    for at, obstacle in enumerate(this.obstacles):
        for part in (CUTTER, NOSE):
            for tool, gaps in by_shapely(this, at, part, rapids).items():
                got = found.get(Key(obstacle.code, obstacle.name, tool, part))
                if got is None:
                    assert min(gaps, default=math.inf) > obstacle.near_mm - within
                    continue
                assert got.gap_mm == pytest.approx(min(gaps), abs=within)
                least = sum(gap < obstacle.near_mm - within for gap in gaps)
                most = sum(gap < obstacle.near_mm + within for gap in gaps)
                assert least <= got.lines <= most


def at(found: dict[Key, Worst], name: str, part: str = CUTTER) -> Worst:
    """The worst at the thing of a name, whatever the tool."""
    return next(each for key, each in found.items() if key.name == name and key.part == part)


PIN = Obstacle("hits-pin", "pin", Disc((50.0, 0.0), 10.0), 0.0, 0.0)
STRAIGHT = Rapids(True, 0.0)
LOOSE = Rapids(False, 0.0)


@pytest.mark.parametrize("seed", [3, 4])
def test_sections_together_find_the_same(seed: int) -> None:
    """Sections of one tool taken together have the worst lines of those taken one by one."""
    drawn, rapids = scene(seed, arcs=True), Rapids(True, 0.0)
    singly, at_once = (Clearance(drawn.obstacles, [], None, rapids) for _ in range(2))
    sections = list(in_pieces(drawn.motions, 500, rapids))
    for section in sections:
        singly.take(section, reaches_of(TOOLS[section.tool], NOSE_MM))
    for section in (joined := list(together(sections))):
        at_once.take(section, reaches_of(TOOLS[section.tool], NOSE_MM))
    assert len(joined) == 2 < len(sections)
    assert singly.worst.keys() == at_once.worst.keys() != set()
    for key, worst in singly.worst.items():
        assert at_once.worst[key].line == worst.line
        assert at_once.worst[key].gap_mm == pytest.approx(worst.gap_mm, abs=ROUNDING_MM)


def test_a_move_over_the_top_does_not_count() -> None:
    """A cut at the height of a pin's top passes; a thousandth lower it goes into the pin."""
    over = Path((0.0, 0.0, 0.0)).feed(100.0, 0.0, 0.0).motions()
    into = Path((0.0, 0.0, -0.001)).feed(100.0, 0.0, -0.001).motions()
    assert run(over, [PIN], [], STRAIGHT) == {}
    assert at(run(into, [PIN], [], STRAIGHT), "pin").gap_mm == -13.0


def test_only_the_low_part_of_a_move_counts() -> None:
    """A ramp that is still above the top beside the pin, and below it only far away, passes."""
    ramp = Path((30.0, 0.0, 10.0)).feed(130.0, 0.0, -5.0).motions()
    assert run(ramp, [PIN], [], STRAIGHT) == {}
    steep = Path((30.0, 0.0, 10.0)).feed(130.0, 0.0, -40.0).motions()
    assert at(run(steep, [PIN], [], STRAIGHT), "pin").gap_mm == -13.0


def test_a_rapid_takes_up_its_box() -> None:
    """A diagonal rapid past a pin meets it inside its box, unless rapids are straight."""
    past = Path((0.0, -60.0, 5.0)).rapid(100.0, 60.0, -5.0).motions()
    far = Obstacle("hits-pin", "pin", Disc((80.0, -40.0), 5.0), 0.0, 0.0)
    assert run(past, [far], [], STRAIGHT) == {}
    assert at(run(past, [far], [], LOOSE), "pin").gap_mm == -8.0


def test_a_rapid_box_holds_what_it_surrounds() -> None:
    """An outline that lies wholly within a rapid's box is met, though no side of it is near."""
    rapid = Path((-100.0, -100.0, -1.0)).rapid(100.0, 100.0, -1.0).motions()
    small = Obstacle("hits-jig", "jig", (((50.0, -60.0), (52.0, -60.0), (52.0, -58.0)),), 0.0, 0.0)
    assert at(run(rapid, [small], [], LOOSE), "jig").gap_mm == -3.0


def test_from_nowhere_only_the_end_counts() -> None:
    """A move from a place that is not known counts where it ends."""
    nan = math.nan
    beside = Path((nan, nan, 5.0)).feed(0.0, 0.0, -5.0).motions()
    onto = Path((nan, nan, 5.0)).feed(45.0, 0.0, -5.0).motions()
    assert run(beside, [PIN], [], STRAIGHT) == {}
    assert at(run(onto, [PIN], [], STRAIGHT), "pin").gap_mm == -8.0
    nowhere = Path((nan, nan, -5.0)).feed(nan, nan, -6.0).motions()
    assert run(nowhere, [PIN], [], STRAIGHT) == {}


def test_the_nose_reaches_over_low_things() -> None:
    """The nose, 20 mm above the tip, hits what is higher than that and nothing lower."""
    cut = Path((0.0, 60.0, -5.0)).feed(100.0, 60.0, -5.0).motions()
    low = PIN._replace(shape=Disc((50.0, 40.0), 5.0), top_mm=14.9)
    high = low._replace(name="post", top_mm=15.1)
    found = run(cut, [low, high], [], STRAIGHT)
    assert list(found) == [Key("hits-pin", "post", 1, NOSE)]
    assert found[Key("hits-pin", "post", 1, NOSE)].gap_mm == 20.0 - 5.0 - 25.0


def test_depth_counts_where_cutting_is_allowed() -> None:
    """Of cuts into a surface the deepest is told, and only while the cutter is over it."""
    square = ((0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0))
    seat = Obstacle("cuts-seat", "seat", (square,), -10.5, 0.0, -10.0, 0.5)
    path = Path((20.0, 20.0, 0.0)).feed(20.0, 20.0, -10.4).feed(20.0, 20.0, -11.0)
    path.feed(30.0, 20.0, -11.5).feed(60.0, 20.0, -9.0).feed(60.0, 20.0, -30.0)
    worst = at(run(path.motions(), [seat], [], STRAIGHT), "seat")
    assert (worst.line, worst.z_mm, worst.lines) == (3, -11.5, 3)


def test_fences_count_the_edge_or_the_axis() -> None:
    """A fence tells how far the cutter's edge, or the axis alone, goes beyond it, turned or not."""
    turned = Pose("nest", "program", 5.0, -2.0, 0.3)
    room = Box(-20.0, -10.0, 60.0, 30.0)
    edge = Fence("outside-stock", "stock", room, turned, 0.0, edge=True, cuts=False)
    axis = edge._replace(code="outside-travel", name="travel", edge=False)
    ends = [turned.inverse().point(p) for p in ((0.0, 0.0), (61.5, 5.0), (0.0, 5.0))]
    path = Path((*ends[0], -1.0)).feed(*ends[1], -1.0).feed(*ends[2], -1.0)
    found = run(path.motions(), [], [edge, axis], STRAIGHT)
    assert at(found, "stock").gap_mm == pytest.approx(-4.5, abs=ROUNDING_MM)
    assert at(found, "travel").gap_mm == pytest.approx(-1.5, abs=ROUNDING_MM)
    above = Path((*ends[0], 1.0)).feed(*ends[1], 1.0)
    assert run(above.motions(), [], [edge], STRAIGHT) == {}


def test_an_arc_leaves_a_fence_between_its_ends() -> None:
    """A half turn whose ends lie inside a fence is told where it bulges out."""
    room = Box(-10.0, -30.0, 18.0, 30.0)
    fence = Fence("outside-stock", "stock", room, Pose("n", "p", 0, 0, 0), 0.0, True, False)
    path = Path((0.0, -25.0, -1.0)).arc((0.0, -5.0), math.pi, -1.0)
    worst = at(run(path.motions(), [], [fence], STRAIGHT), "stock")
    assert worst.gap_mm == pytest.approx(18.0 - 20.0 - 3.0, abs=SAMPLED_MM)


def test_rapids_are_no_cuts() -> None:
    """A fence for cuts lets rapids pass."""
    room = Box(-10.0, -10.0, 10.0, 10.0)
    fence = Fence("outside-bed", "bed", room, Pose("b", "p", 0, 0, 0), 0.0, True, cuts=True)
    path = Path((0.0, 0.0, -1.0)).rapid(50.0, 0.0, -1.0).feed(40.0, 0.0, -1.0)
    worst = at(run(path.motions(), [], [fence], LOOSE), "bed")
    assert (worst.line, worst.gap_mm, worst.lines) == (2, -43.0, 1)


def test_the_nose_stays_below_the_ceiling() -> None:
    """The upper end of the travel is held against the nose, which is above the tip."""
    path = Path((0.0, 0.0, 0.0)).rapid(0.0, 0.0, 30.0).rapid(0.0, 0.0, 32.5)
    ceiling = Ceiling("outside-travel", "travel in Z", 50.0)
    worst = at(run(path.motions(), [], [], LOOSE, ceiling), "travel in Z", NOSE)
    assert (worst.line, worst.gap_mm) == (2, -2.5)
