"""Poses, contact with pins, outlines, fits and coverage factors against outside authorities."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import random_shapes
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from oracles.second_method import place_on_dowels, wrapped_deg
from oracles.worked import assert_close, rectangle, reference
from scipy import special
from shapely import affinity
from thinning import thinned

from pincorner.geometry import outline
from pincorner.geometry.contact import (
    Pins,
    corner_from_pins,
    frame_angle,
    pose_on_dowels,
    why_no_corner,
)
from pincorner.geometry.pose import FramesDoNotMeet, Pose, normal_deg
from pincorner.geometry.student import (
    TWO_SIGMA,
    coverage_factor,
    effective_dof,
    factor_at,
    t_within,
)

ROUNDING_MM = 1e-9  # hundreds of roundings of a double at 10 m, more than any chain here has

lengths = st.floats(-5000, 5000)
points = st.tuples(lengths, lengths)
angles = st.floats(-10, 10)


def poses(into: str, of: str) -> st.SearchStrategy[Pose]:
    """Any pose of frame `of`."""
    return st.builds(Pose, st.just(into), st.just(of), lengths, lengths, angles)


@settings(deadline=None, max_examples=thinned(60))
@given(poses("a", "b"), poses("b", "c"), poses("c", "d"), points)
def test_poses_compose_and_invert(ab: Pose, bc: Pose, cd: Pose, p: Any) -> None:
    """A composed pose takes a point where its parts take it in turn; its inverse brings it home."""
    want = ab.point(bc.point(cd.point(p)))
    for pose in ((ab @ bc) @ cd, ab @ (bc @ cd)):
        assert (pose.into, pose.of) == ("a", "d")
        assert math.dist(pose.point(p), want) < ROUNDING_MM
        assert math.dist(pose.points((p, p))[1], want) < ROUNDING_MM
        assert math.dist(pose.inverse().point(want), p) < ROUNDING_MM
        home = pose.inverse() @ pose
        assert (home.into, home.of, home.angle_rad) == ("d", "d", 0)


def test_frames_that_do_not_meet_raise() -> None:
    """Composing poses whose frames differ is an error that names both, not a number."""
    for into, of in (("a", "b"), ("c", "a")):
        with pytest.raises(FramesDoNotMeet, match=f"b in a cannot take {of} in {into}"):
            Pose("a", "b", 0, 0, 0) @ Pose(into, of, 0, 0, 0)


@pytest.mark.parametrize("turn_deg", [90, 180, 270])
def test_a_jig_turned_home_is_exactly_home(turn_deg: int) -> None:
    """Quarter turns that add up to whole turns move no digit of a point."""
    turn = math.radians(turn_deg)
    pose = Pose("jig", "jig", 0.0, 0.0, 0.0)
    for _ in range(4):
        pose = Pose("jig", "jig", 0.0, 0.0, turn) @ pose
    assert pose.point((123.456, -78.9)) == (123.456, -78.9)
    assert pose.angle_deg == 0


@settings(deadline=None)
@given(st.floats(-1e6, 1e6))
def test_angles_are_brought_into_their_range(angle_deg: float) -> None:
    """An angle comes back in (-180, 180], whole turns away, as the second method has it."""
    got = normal_deg(angle_deg)
    assert -180 < got <= 180
    assert abs(math.remainder(got - angle_deg, 360)) < 1e-9
    assert abs(math.remainder(got - wrapped_deg(angle_deg), 360)) < 1e-9
    assert [str(normal_deg(a)) for a in (-180, 540, -0.0)] == ["180.0", "180.0", "0.0"]


@pytest.mark.parametrize("seed", range(4))
def test_what_reaches_over_an_outline_is_told_as_shapely_does(seed: int) -> None:
    """Turned boxes in and around outlines that need not be convex: covered or not, as GEOS has it;
    what is as large as the outline itself does not reach over it."""
    rng, told = np.random.default_rng(seed), set()
    for number, shape in enumerate(random_shapes.outlines(120, seed)):
        corners = random_shapes.rings(shape)[0]
        (width, depth, angle), off = rng.uniform((1, 1, -3), (25, 25, 3)), rng.normal(0, 6, 2)
        frame = Pose("bed", "box", *(shape.representative_point().coords[0] + off), angle)
        part = frame.points(outline.rectangle(-width / 2, -depth / 2, width / 2, depth / 2))
        want = not shapely.Polygon(corners).covers(shapely.Polygon(part))
        assert outline.reaches_over(corners, part if number % 2 else part[::-1]) == want
        assert not outline.reaches_over(part, part)
        told.add(want)
    assert told == {True, False}


OUTLINES = [
    ((0, 0), (460, 0), (460, 280), (0, 280)),
    ((0, 0), (0, 280), (460, 280), (460, 0)),
    ((0, 0), (100, 0), (100, 20), (200, 20), (200, 0), (300, 0), (300, 150), (-40, 90)),
    ((10, 5), (90, -30), (120, 80)),
]


@pytest.mark.parametrize("corners", OUTLINES, ids=["ccw", "cw", "notched", "triangle"])
def test_outline_helpers_agree_with_shapely(corners: outline.Outline) -> None:
    """Bounds, signed area and the straight parts on each side are those that shapely finds."""
    ring = shapely.LinearRing(corners)
    box = outline.bounds(corners)
    assert tuple(box) == ring.bounds
    assert shapely.Polygon(box.outline).equals(ring.envelope)
    sign = 1 if ring.is_ccw else -1
    assert_close(outline.signed_area(corners), sign * shapely.Polygon(ring).area, 1e-9, "rounding")
    for axis, at_mm in ((0, box.left), (0, box.right), (1, box.front), (1, box.back)):
        far = 1e4
        line = [(at_mm, -far), (at_mm, far)] if axis == 0 else [(-far, at_mm), (far, at_mm)]
        met = ring.intersection(shapely.LineString(line))
        parts = getattr(met, "geoms", [met])
        want = sorted(
            tuple(sorted(point[1 - axis] for point in part.coords))
            for part in parts
            if part.length > 0
        )
        assert list(outline.side_segments(corners, axis, at_mm)) == want


@pytest.mark.parametrize("dof", [*range(1, 32), 60, 101, 1000])
def test_student_agrees_with_scipy(dof: int) -> None:
    """Student's distribution and its factor are scipy's for odd and even degrees of freedom."""
    for t in (0.1, 1.0, 2.5, 12.0):
        want = float(special.stdtr(dof, t) - special.stdtr(dof, -t))
        assert_close(t_within(t, dof), want, 1e-12, "a finite sum, to rounding")
    want = float(special.stdtrit(dof, 0.5 + TWO_SIGMA / 2))
    assert_close(coverage_factor(dof), want, 1e-9 * want, "halved down to 1e-12 of itself")


@pytest.mark.parametrize("confidence", [0.95, TWO_SIGMA, 1 - 0.05 / 3, 0.99])
@pytest.mark.parametrize("dof", [299, 300, 301, 1000, 31_415, 10**7])
def test_factors_at_many_degrees_agree_with_scipy(dof: int, confidence: float) -> None:
    """Where the series takes over, and far beyond, the factor is scipy's."""
    want = float(special.stdtrit(dof, (1 + confidence) / 2))
    assert_close(coverage_factor(dof, confidence), want, 5e-12, "next term: 5 / 300**5 at 99 %")


def test_student_gives_the_printed_factors() -> None:
    """JCGM 100:2008, Table G.2 (third decimal computed) comes out to its last digit."""
    for row in reference("student_t"):
        got = coverage_factor(row["degrees_of_freedom"], row["fraction_percent"] / 100)
        assert_close(got, row["t"], 0.5e-3, "printed to three decimals")
    # Table G.1: 95.45 % of a normal distribution
    assert_close(coverage_factor(10**9), 2.0, 1e-8, "2.5 / dof more")


def test_effective_degrees_of_the_end_gauge() -> None:
    """The end-gauge example of JCGM 100:2008, H.1 has 16 effective degrees of freedom, U99 93 nm.

    Components from H.1 (from memory; they give uc 31.66 and 16.75, computed, as the guide's 32 and
    16): standard 25 nm at 18, difference 9.7 at 25.6, expansion 2.9 at 50 and 16.6 at 2.
    """
    parts = [(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)]
    dof = effective_dof(sum(u * u for u, _ in parts), [(u * u, nu) for u, nu in parts])
    uc = math.sqrt(sum(u * u for u, _ in parts))
    assert_close(dof, 16.75, 0.1, "components printed to 0.1 nm")
    k = coverage_factor(math.floor(dof), 0.99)
    assert_close(k, 2.921, 0.5e-3, "t99(16), printed to three decimals")
    assert_close(k * uc, 92.5, 0.15, "components printed to 0.1 nm, times 2.9")
    assert effective_dof(1.0, [(1.0, math.inf)]) == math.inf


def test_a_survey_alone_keeps_its_degrees() -> None:
    """One part alone has its own degrees of freedom, however the formula rounds, one or many."""
    variances = np.linspace(0.001, 3.0, 500)
    for dof in range(1, 40):
        found = [effective_dof(each, [(each, dof)]) for each in variances.tolist()]
        assert {factor_at(each) for each in found} == {coverage_factor(dof)}
        assert effective_dof(variances, [(variances, dof)]).tolist() == found
    assert effective_dof(variances, [(0 * variances, 3)]).tolist() == [math.inf] * 500


@settings(deadline=None, max_examples=thinned(40))
@given(points, points, st.floats(60, 900), st.floats(-180, 180), st.floats(-180, 180))
def test_dowels_agree_with_the_second_method(
    pin: Any, hole: Any, apart: float, way_deg: float, jig_deg: float
) -> None:
    """A jig on a round hole and a slot lies where the numerical second method puts it."""
    way, own = math.radians(way_deg), math.radians(jig_deg)
    other = (pin[0] + apart * math.cos(way), pin[1] + apart * math.sin(way))
    slot = (hole[0] + (apart - 1.5) * math.cos(own), hole[1] + (apart - 1.5) * math.sin(own))
    pose, off_mm = pose_on_dowels(pin, other, hole, slot, "bed", "jig")
    assert_close(off_mm, 1.5, ROUNDING_MM, "the pins stand 1.5 mm farther apart than the holes")
    assert (pose.into, pose.of) == ("bed", "jig")
    x, y, theta = place_on_dowels(pin, other, hole, slot)
    turned = math.remainder(pose.angle_rad - theta, 2 * math.pi)
    assert_close(turned, 0, 1e-9, "solved to 1e-9 mm")
    got, want = pose.point(hole), Pose("bed", "jig", x, y, theta).point(hole)
    assert math.dist(got, want) < 1e-6
    assert math.dist(got, pin) < ROUNDING_MM


def test_unequal_pins_carry_the_external_tangent() -> None:
    """An edge on pins of radius 1 and 4 is their external tangent, touched where sympy has it."""
    table = reference("tangent")["external_tangent"]
    first, second = table["circles"]
    stop = (-3 * 0.8 - 10 * 0.6, -3 * 0.6 + 10 * 0.8)  # before the first contact, above the edge
    radii = (first["radius_mm"], second["radius_mm"], 1.0)
    pins = Pins(tuple(first["at_mm"]), tuple(second["at_mm"]), stop, radii)
    corner = corner_from_pins(pins)
    for got, fifths in zip(corner.contacts, table["touches_fifths_mm"], strict=False):
        assert math.dist(got, (fifths[0] / 5, fifths[1] / 5)) < 1e-12
    assert_close(math.dist(*corner.contacts[:2]), table["length_mm"], 1e-12, "exact")
    angle, signs = frame_angle(pins, corner)
    assert_close(math.degrees(angle), table["angle_deg"], 0.5e-4, "printed to 0.0001 deg")
    assert signs == (1, 1)


@settings(deadline=None, max_examples=thinned(150))
@given(
    st.sampled_from([(1, 1), (1, -1), (-1, 1), (-1, -1)]),
    st.booleans(),
    st.tuples(*[st.floats(3, 20)] * 3),
    st.tuples(st.floats(40, 120), st.floats(200, 400), st.floats(60, 250)),
    st.floats(-15, 15),
)
def test_the_placed_jig_touches_each_pin(
    signs: Any, along_x: bool, radii: Any, at: Any, lean: float
) -> None:
    """A jig put into the corner keeps each pin's centre one radius off, as shapely measures it."""
    near, far, up = at
    edge = [(near, -15.0), (far, -15.0 + lean)]
    stop = (-30.0, up)
    places = [(x, y) if along_x else (y, x) for x, y in [*edge, stop]]
    first, second, third = ((signs[0] * x, signs[1] * y) for x, y in places)
    pins = Pins(first, second, third, radii)
    assert why_no_corner(pins) is None
    corner = corner_from_pins(pins)
    angle, found = frame_angle(pins, corner)
    assert found == signs
    jig = shapely.Polygon([(x * signs[0], y * signs[1]) for x, y in rectangle([500, 500])])
    placed = affinity.translate(
        affinity.rotate(jig, angle, origin=(0, 0), use_radians=True), *corner.point
    )
    for centre, radius, contact in zip((first, second, third), radii, corner.contacts, strict=True):
        gap = placed.distance(shapely.Point(centre)) - radius
        assert_close(gap, 0, 1e-9, "the disc touches")
        assert_close(math.dist(contact, centre), radius, 1e-9, "on the disc's rim")


@pytest.mark.parametrize(
    ("pins", "fragment"),
    [
        (Pins((0, 0), (5, 0), (-9, 9), (1, 8, 1)), "stand 5.000 mm apart, one inside the other"),
        (Pins((0, 0), (300, 0), (-100, 9), (10, 10, 10)), "stop stands 9.000 mm off the edge pins"),
        (Pins((0, 0), (300, 0), (143, 90), (10, 10, 10)), "stop stands 7.000 mm off the middle"),
    ],
)
def test_pins_that_make_no_corner(pins: Pins, fragment: str) -> None:
    """Pins that make no corner are told with the figure that shows it."""
    assert fragment in (why_no_corner(pins) or "")
