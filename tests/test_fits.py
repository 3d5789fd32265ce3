"""Fits against published points, scikit-image and numpy; their covariance against Monte Carlo."""

from __future__ import annotations

import math

import numpy as np
import pytest
from oracles.worked import reference
from skimage.transform import EuclideanTransform

from pincorner.geometry.fits import affine_fit, plane_fit, rigid_fit, scatter_of
from pincorner.geometry.place_spread import PlaceErrors, place_covariance

CASES = reference("rigid_fits")
PLANE = reference("plane")
SIX_DECIMALS = 0.5e-6
ROUNDING = 1e-9  # sums of some products of numbers below 2000


def points(rows: list[list[float]]) -> np.ndarray:
    """Points as an array."""
    return np.array(rows, dtype=float)


def test_umeyamas_points() -> None:
    """The paper's three points: the rigid part of its angle, and the shift that goes with it."""
    case = CASES["umeyama"]
    fit = rigid_fit(points(case["from"]), points(case["onto"]))
    assert math.degrees(fit.angle_rad) == pytest.approx(case["angle_deg"], abs=SIX_DECIMALS)
    assert fit.x_mm == pytest.approx(case["rigid"]["x"], abs=SIX_DECIMALS)
    assert fit.y_mm == pytest.approx(case["rigid"]["y"], abs=SIX_DECIMALS)
    # the paper's points are three; its mean is over them
    assert fit.rss / 3 == pytest.approx(case["rigid"]["mean_square"], abs=SIX_DECIMALS)


def test_mirrored_points_are_not_mirrored() -> None:
    """Umeyama's trap: the points are a reflection of each other, the fit stays a rotation."""
    case = CASES["umeyama"]
    fit = rigid_fit(points(case["from"]), points(case["onto"]))
    placed = fit.places(points(case["from"]))
    (ax, ay), (bx, by) = placed[1] - placed[0], placed[2] - placed[0]
    assert ax * by - ay * bx == pytest.approx(2.0, abs=ROUNDING)


def test_a_right_triangle() -> None:
    """Four points turned by the angle of a 3-4-5 triangle: exactly back."""
    case = CASES["triangle_3_4_5"]
    fit = rigid_fit(points(case["from"]), points(case["onto"]))
    assert math.degrees(fit.angle_rad) == pytest.approx(case["angle_deg"], abs=SIX_DECIMALS)
    assert (fit.x_mm, fit.y_mm) == pytest.approx((case["x"], case["y"]), abs=ROUNDING)
    assert fit.rss == pytest.approx(0, abs=ROUNDING) and fit.dof == 5


def test_a_point_off() -> None:
    """The same with one point a tenth off: angle, shift and what is left over."""
    drawn, case = points(CASES["triangle_3_4_5"]["from"]), CASES["off_by_a_tenth"]
    measured = points(CASES["triangle_3_4_5"]["onto"])
    measured[2, 0] += 0.1
    fit = rigid_fit(drawn, measured)
    assert math.degrees(fit.angle_rad) == pytest.approx(case["angle_deg"], abs=SIX_DECIMALS)
    assert (fit.x_mm, fit.y_mm) == pytest.approx((case["x"], case["y"]), abs=SIX_DECIMALS)
    assert fit.rss == pytest.approx(case["rss"], abs=0.5e-7)


@pytest.mark.parametrize("count", [2, 3, 4, 12, 500])
def test_against_scikit_image(count: int) -> None:
    """100 random fits agree with scikit-image's EuclideanTransform."""
    rng = np.random.default_rng(count)
    for _ in range(100):
        drawn = rng.uniform(-50, 1500, (count, 2))
        angle, shift = rng.uniform(-np.pi, np.pi), rng.uniform(-500, 500, 2)
        turned = drawn @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        measured = turned + shift + rng.normal(0, 0.1, (count, 2))
        theirs = EuclideanTransform.from_estimate(drawn, measured)
        fit = rigid_fit(drawn, measured)
        # a ten-millionth of a degree is 3 nm over the bed
        assert math.remainder(fit.angle_rad - theirs.rotation, 2 * np.pi) == pytest.approx(
            0, abs=1e-9
        )
        assert (fit.x_mm, fit.y_mm) == pytest.approx(tuple(theirs.translation), abs=1e-6)


def test_covariance_of_the_table() -> None:
    """The spread of angle and place for the four points, as computed outside."""
    case, drawn = CASES["covariance"], points(CASES["triangle_3_4_5"]["from"])
    errors = PlaceErrors(0.1, scatter_of(drawn), affine=False, angle_rad=0.0)
    spread = place_covariance(errors, tuple(case["at"]))
    assert math.sqrt(spread.aa) == pytest.approx(case["angle_sd"], abs=0.5e-8)
    assert math.sqrt(spread.xx) == pytest.approx(case["x_sd"], abs=SIX_DECIMALS)
    assert math.sqrt(spread.yy) == pytest.approx(case["y_sd"], abs=SIX_DECIMALS)


@pytest.mark.parametrize("affine", [False, True])
def test_covariance_by_monte_carlo(affine: bool) -> None:
    """1,500 fits of the same points with random readings scatter as the closed form says."""
    rng = np.random.default_rng(5)
    drawn = np.array(
        [(0, 0), (1400, 0), (1400, 800), (0, 800), (300, 500), (900, 200)], dtype=float
    )
    at, angle, s_mm = (1200.0, 100.0), 0.3, 0.05
    cos, sin = math.cos(angle), math.sin(angle)
    true = drawn @ np.array([[cos, sin], [-sin, cos]])
    found = np.empty((1500, 2))
    for row in found:
        measured = true + rng.normal(0, s_mm, true.shape)
        fit = affine_fit(drawn, measured) if affine else rigid_fit(drawn, measured)
        row[:] = fit.places(np.array([at]))[0]
    spread = place_covariance(PlaceErrors(s_mm, scatter_of(drawn), affine, angle), at)
    got = np.cov(found.T)
    # a variance from n draws is known to sqrt(2 / n), 3.7 %; four times that
    for value, want in ((got[0, 0], spread.xx), (got[1, 1], spread.yy)):
        assert value == pytest.approx(want, rel=0.15)
    assert got[0, 1] == pytest.approx(spread.xy, abs=0.15 * math.sqrt(spread.xx * spread.yy))


def test_plane_of_the_table() -> None:
    """The plane through a grid of heights with one of them off, as numpy's lstsq has it."""
    grid = np.array([(x, y) for y in PLANE["y"] for x in PLANE["x"]], dtype=float)
    heights = 0.001 * grid[:, 0] - 0.002 * grid[:, 1] + 1.5
    heights[0] += PLANE["first_off"]
    fit = plane_fit(grid, heights)
    assert fit.slope_x == pytest.approx(PLANE["slope_x"], abs=0.5e-6)
    assert fit.slope_y == pytest.approx(PLANE["slope_y"], abs=0.5e-5)
    assert fit.at(0.0, 0.0) == pytest.approx(PLANE["at_origin"], abs=0.5e-3)


def test_affine_against_lstsq() -> None:
    """Scales, squareness and residuals are those of numpy's least squares on each axis."""
    rng = np.random.default_rng(9)
    for _ in range(50):
        drawn = rng.uniform(0, 1400, (8, 2))
        matrix = np.eye(2) + rng.normal(0, 2e-3, (2, 2))
        measured = drawn @ matrix.T + (60, 55) + rng.normal(0, 0.05, drawn.shape)
        fit = affine_fit(drawn, measured)
        design = np.column_stack([drawn, np.ones(len(drawn))])
        theirs = np.linalg.lstsq(design, measured, rcond=None)[0]
        assert fit.matrix == pytest.approx(theirs[:2].T, abs=1e-10)
        assert fit.residuals == pytest.approx(measured - design @ theirs, abs=1e-8)


@pytest.mark.parametrize(
    "rows", [[[0, 0], [1, 1]], [[0, 0], [1, 1], [2, 2]], [[0, 0], [0, 0], [0, 0]]]
)
def test_places_in_a_line_have_no_shape(rows: list[list[float]]) -> None:
    """Two holes, or holes in one line, leave plane and shape open."""
    for fit in (affine_fit, lambda a, b: plane_fit(a, b[:, 0])):
        with pytest.raises(ValueError, match=r"three places|one line"):
            fit(points(rows), points(rows))
