"""Gaps between outlines: against Shapely (GEOS), against a fan of directions, and by hand."""

from __future__ import annotations

import math
import tracemalloc
from typing import Any

import numpy as np
import pytest
from shapely import MultiPoint, Polygon, box
from shapely.affinity import rotate, translate
from thinning import thinned

from pincorner.geometry import clearances
from pincorner.geometry.clearances import (
    Shapes,
    convex_parts,
    gap_mm,
    gap_table,
    gaps,
    hull,
    nearest_gaps,
    posed,
    shapes,
)
from pincorner.geometry.outline import Outline, rectangle, signed_area
from pincorner.places.fit import FITS, Check, first_reasons

ROUNDING_MM = 1e-9  # coordinates of some metres carry 4e-13 mm; a dozen operations on them
L_SHAPE: Outline = ((0.0, 0.0), (40.0, 0.0), (40.0, 10.0), (10.0, 10.0), (10.0, 30.0), (0.0, 30.0))
U_SHAPE: Outline = (
    (0.0, 0.0), (90.0, 0.0), (90.0, 60.0), (60.0, 60.0),
    (60.0, 20.0), (30.0, 20.0), (30.0, 60.0), (0.0, 60.0),
)  # fmt: skip


def random_outline(rng: np.random.Generator, convex: bool) -> Outline:
    """A star-shaped outline of 3 to 9 corners somewhere on a bed of 1500 mm."""
    count = int(rng.integers(3, 10))
    middle = rng.uniform(0, 1500, 2)
    angles = np.sort(rng.uniform(0, 2 * math.pi, count))
    if np.diff([*angles, angles[0] + 2 * math.pi]).max() > 0.9 * math.pi:
        angles = np.linspace(0, 2 * math.pi, count, endpoint=False)
    reach = rng.uniform(30, 400, count)
    points = [
        (float(middle[0] + r * math.cos(a)), float(middle[1] + r * math.sin(a)))
        for r, a in zip(reach, angles, strict=True)
    ]
    return hull(tuple(points)) if convex else tuple(points)


def least_overlap(first: Outline, second: Outline, directions: int) -> float:
    """The least overlap of the projections of two outlines over a fan of directions."""
    angles = np.arange(directions) * math.pi / directions
    fan = np.stack((np.cos(angles), np.sin(angles)))
    one, other = np.array(first) @ fan, np.array(second) @ fan
    overlaps = np.minimum(one.max(0) - other.min(0), other.max(0) - one.min(0))
    return float(overlaps.min())


@pytest.mark.parametrize("convex", [True, False])
def test_distances_are_those_of_shapely(convex: bool) -> None:
    """1,500 random pairs: gap and overlap are told apart as GEOS does, distances agree."""
    rng = np.random.default_rng(20)
    apart, count = 0, thinned(1500)
    for _ in range(count):
        one, other = random_outline(rng, convex), random_outline(rng, convex)
        ours, theirs = gap_mm(one, other), Polygon(one).distance(Polygon(other))
        if theirs > 0:
            apart += 1
            assert ours == pytest.approx(theirs, abs=ROUNDING_MM)
        else:
            assert ours <= ROUNDING_MM
    assert 0.2 * count < apart < 0.9 * count


@pytest.mark.parametrize("convex", [True, False])
def test_no_direction_has_less_overlap(convex: bool) -> None:
    """The overlap told is the least over 3,600 directions, reached to within their spacing."""
    rng = np.random.default_rng(21)
    met, count = 0, thinned(1200)
    for _ in range(count):
        one, other = random_outline(rng, convex), random_outline(rng, convex)
        gap = gap_mm(one, other)
        if gap > -1:
            continue
        met += 1
        fan = least_overlap(one, other, 3600)
        assert -gap <= fan + ROUNDING_MM
        # half a step of the fan turns shapes of at most 800 mm by 0.35 mm each
        assert fan == pytest.approx(-gap, abs=0.8)
    assert met > count / 8


def test_a_table_of_many_poses_is_the_same() -> None:
    """A jig with a notch at 60 poses against 25 shapes, discs among them: distances of GEOS."""
    rng = np.random.default_rng(22)
    around = [random_outline(rng, False) for _ in range(20)]
    pins = [(tuple(map(float, at)),) for at in rng.uniform(0, 1500, (5, 2))]
    fixed = shapes([*around, *pins], [0.0] * 20 + [10.0] * 5)
    poses = np.column_stack((rng.uniform(0, 1500, (60, 2)), rng.uniform(-4, 4, 60)))
    table = gap_table(shapes([U_SHAPE]), poses, fixed)
    theirs: list[Any] = [Polygon(each) for each in around] + [MultiPoint(each) for each in pins]
    for row, (x, y, angle) in zip(table, poses, strict=True):
        turned = rotate(Polygon(U_SHAPE), angle, origin=(0, 0), use_radians=True)
        body = translate(turned, x, y)
        far = [body.distance(each) for each in theirs]
        far[20:] = [distance - 10.0 for distance in far[20:]]
        for ours, distance in zip(row, far, strict=True):
            if distance > 0:
                assert ours == pytest.approx(distance, abs=ROUNDING_MM)
            else:
                assert ours <= ROUNDING_MM


def test_a_table_leaves_out_only_what_is_far() -> None:
    """Within 50 mm the table says the same; beyond, it may say infinity and nothing nearer."""
    rng = np.random.default_rng(23)
    fixed = shapes([random_outline(rng, True) for _ in range(30)])
    poses = np.column_stack((rng.uniform(0, 1500, (200, 2)), rng.uniform(-4, 4, 200)))
    moved = shapes([rectangle(0, 0, 120, 80)])
    whole, near = gap_table(moved, poses, fixed), gap_table(moved, poses, fixed, within_mm=50.0)
    assert np.array_equal(near[np.isfinite(near)], whole[np.isfinite(near)])
    assert whole[np.isinf(near)].min() > 50.0
    assert np.isinf(near).mean() > 0.5


@pytest.mark.parametrize("outline", [U_SHAPE, L_SHAPE, rectangle(0, 0, 400, 90)], ids=str)
def test_nearest_is_the_least_of_the_table(outline: Outline) -> None:
    """The nearest of 30 shapes and discs is found without looking at all, overlapping or not."""
    rng = np.random.default_rng(26)
    discs = [(tuple(map(float, at)),) for at in rng.uniform(0, 1500, (10, 2))]
    around = [random_outline(rng, False) for _ in range(20)]
    fixed = shapes([*around, *discs], [0.0] * 20 + [25.0] * 10)
    poses = np.column_stack((rng.uniform(-900, 2400, (150, 2)), rng.uniform(-4, 4, 150)))
    moved = shapes([outline])
    least = gap_table(moved, poses, fixed).min(axis=1)
    found = nearest_gaps(moved, poses, fixed)
    assert np.allclose(found[least > 0], least[least > 0], rtol=0, atol=ROUNDING_MM)
    assert np.array_equal(found > 0, least > 0)
    assert 15 < (least > 0).sum() < 135


@pytest.mark.parametrize(
    ("other", "gap"),
    [
        (rectangle(130, 0, 200, 50), 30.0),
        (rectangle(130, 90, 200, 99), 50.0),  # 30 along X, 40 along Y
        (rectangle(100, 10, 140, 30), 0.0),
        (rectangle(90, 45, 140, 80), -5.0),
        (rectangle(20, 20, 30, 30), -30.0),  # 80, 30, 30, 30 along the four sides
        (rectangle(0, 0, 100, 50), -50.0),
        (((110.0, 25.0), (150.0, -15.0), (190.0, 25.0), (150.0, 65.0)), 10.0),
        (((90.0, 25.0), (130.0, -15.0), (170.0, 25.0), (130.0, 65.0)), -10.0),
    ],
    ids=str,
)
def test_gaps_by_hand(other: Outline, gap: float) -> None:
    """Beside, across a corner, touching, overlapping, inside, the same, on a corner."""
    first = rectangle(0, 0, 100, 50)
    assert gap_mm(first, other) == pytest.approx(gap, abs=ROUNDING_MM)
    assert gap_mm(other, first) == pytest.approx(gap, abs=ROUNDING_MM)
    assert gap_mm(first[::-1], other[::-1]) == pytest.approx(gap, abs=ROUNDING_MM)


def test_a_block_in_a_notch_is_apart() -> None:
    """What stands in a notch without touching has a distance, though the hulls overlap."""
    assert gap_mm(U_SHAPE, rectangle(35, 25, 55, 100)) == pytest.approx(5.0, abs=ROUNDING_MM)
    assert gap_mm(U_SHAPE, rectangle(30, 20, 60, 100)) == pytest.approx(0.0, abs=ROUNDING_MM)
    # 2 mm into the wall; the hull of the notched shape is left by 35 mm upward
    assert gap_mm(U_SHAPE, rectangle(28, 25, 55, 100)) == pytest.approx(-35.0, abs=ROUNDING_MM)


def test_discs_and_points() -> None:
    """A grown point is a disc: beside an edge, beyond a corner, over an edge, against another."""
    discs = shapes([((120.0, 25.0),), ((103.0, 54.0),), ((95.0, 25.0),)], [8.0, 8.0, 8.0])
    body, here = shapes([rectangle(0, 0, 100, 50)]), np.zeros((1, 3))
    assert gap_table(body, here, discs)[0] == pytest.approx([12.0, -3.0, -13.0], abs=ROUNDING_MM)
    disc = Shapes(np.array([[[0.0, 0.0]]]), np.array([5.0]), np.array([0]), 1)
    assert gap_table(disc, here, shapes([((30.0, 40.0),)], [20.0])) == pytest.approx(25.0)


@pytest.mark.parametrize("seed", range(thinned(60)))
def test_parts_fill_their_outline(seed: int) -> None:
    """The convex parts of an outline are convex, do not overlap, and together are the outline."""
    outline = random_outline(np.random.default_rng(seed), False)
    parts = convex_parts(outline if seed % 2 else outline[::-1])
    areas = [signed_area(part) for part in parts]
    assert min(areas) > 0
    assert sum(areas) == pytest.approx(abs(signed_area(outline)), abs=1e-6)
    union = Polygon()
    for part in parts:
        union = union.union(Polygon(part))
        assert Polygon(part).convex_hull.area == pytest.approx(signed_area(part), abs=1e-6)
    assert union.symmetric_difference(Polygon(outline)).area < 1e-6


def test_a_convex_outline_stays_whole() -> None:
    """Corners on a straight side do not make a rectangle anything else."""
    outline = ((0.0, 0.0), (5.0, 0.0), (10.0, 0.0), (10.0, 4.0), (0.0, 4.0))
    assert convex_parts(outline) == [outline]
    assert convex_parts(((3.0, 4.0),)) == [((3.0, 4.0),)]
    assert len(convex_parts(L_SHAPE)) == 4


def test_hull_is_that_of_shapely() -> None:
    """The hull of 200 random outlines has the area of GEOS's."""
    rng = np.random.default_rng(24)
    for _ in range(thinned(200)):
        outline = random_outline(rng, False)
        assert signed_area(hull(outline)) == pytest.approx(Polygon(outline).convex_hull.area)


def test_hull_keeps_every_corner_however_slight() -> None:
    """Corners of a small or nearly flat outline stay; only what lies on a straight line goes."""
    small = ((0.0, 0.0), (0.4, 0.0), (0.8, 0.0), (0.8, 0.5), (0.0, 0.5))
    assert hull(small) == (small[0], *small[2:])
    flat = ((0.0, 0.0), (50.0, -0.001), (100.0, 0.0), (50.0, 40.0))
    assert hull(flat) == flat


def test_many_pairs_come_in_slices() -> None:
    """More pairs than are worked on at once give what each gives alone."""
    rng = np.random.default_rng(25)
    poses = np.column_stack((rng.uniform(0, 1500, (40_000, 2)), np.zeros(40_000)))
    bodies = posed(np.array(rectangle(0, 0, 100, 60)), poses)
    other = np.broadcast_to(np.array(rectangle(700, 700, 800, 750)), bodies.shape)
    found = gaps(bodies, other)
    for at in range(0, 40_000, 997):
        x, y = poses[at, :2]
        theirs = box(x, y, x + 100, y + 60).distance(box(700, 700, 800, 750))
        assert max(found[at], 0.0) == pytest.approx(theirs, abs=ROUNDING_MM)


def test_memory_does_not_grow_with_poses_times_things(monkeypatch: pytest.MonkeyPatch) -> None:
    """The nearest of 300 things to each of 1,000 poses takes a tenth of one table of both; reasons
    are asked for some poses at a time; whatever the slices, the answer is the same."""
    rng = np.random.default_rng(5)
    things = shapes([rectangle(x, y, x + 20, y + 20) for x, y in rng.uniform(0, 4e3, (300, 2))])
    poses = np.column_stack((rng.uniform(0, 4e3, (1_000, 2)), np.zeros(1_000)))
    jig = shapes([rectangle(0, 0, 60, 40)])
    monkeypatch.setattr(clearances, "_CELLS_AT_ONCE", 1 << 12)
    tracemalloc.start()
    try:
        nearest = nearest_gaps(jig, poses, things)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < len(poses) * 300 * 8 / 10
    asked: list[int] = []

    def excess(some: Any) -> Any:
        asked.append(len(some))
        return -gap_table(jig, some, things, within_mm=0.0)

    found = first_reasons([Check(("hit",) * 300, excess)], poses, 0.0)
    assert max(asked) * 300 <= 1 << 12 and sum(asked) == len(poses)
    assert ((found == FITS) == (nearest >= 0.0)).all()
    monkeypatch.undo()
    assert (nearest[:300] == nearest_gaps(jig, poses[:300], things)).all()
