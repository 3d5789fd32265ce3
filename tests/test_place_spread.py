"""How well a fit knows holes and parts against them, by draws (JCGM 101) and by derivatives."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from thinning import thinned

from pincorner.geometry.contact import Corner, Pins, corner_from_pins
from pincorner.geometry.fits import (
    Affine,
    Rigid,
    affine_fit,
    affine_share,
    rigid_fit,
    rigid_share,
    scatter_of,
)
from pincorner.geometry.place_spread import PlaceErrors, part_covariance, place_covariance
from pincorner.geometry.spread import Spread

S_MM, ANGLE_RAD = 0.05, 0.3
DRAWN = np.array([(0, 0), (1400, 100), (300, 800), (700, 200), (1100, 500)], dtype=float)
SCATTER = scatter_of(DRAWN)
HOLES = ((1000.0, 100.0), (1300.0, 100.0), (900.0, 400.0))
RADII = (10.0, 10.0, 6.0)
ZERO = (1225.0, 330.0)
DRAWS = thinned(18_000)
FOUR_SDS = 4 * math.sqrt(2 / DRAWS)
"""A variance of n draws has a standard deviation of sqrt(2 / n) of itself."""


def corner_of(holes: np.ndarray) -> Corner:
    """The corner of pins in these holes."""
    first, second, stop = (tuple(hole) for hole in holes.tolist())
    return corner_from_pins(Pins(first, second, stop, RADII))


def part_at(holes: np.ndarray) -> tuple[float, float, float]:
    """Where the part's zero lies and how it is turned, with pins in these holes.

    Only the corner's own lines are used: the part is carried along with them.
    """
    drawn, corner = corner_of(np.array(HOLES)), corner_of(holes)
    away = np.array(ZERO) - drawn.point
    along, up = away @ drawn.inward, away @ drawn.normal
    x, y = np.array(corner.point) + along * np.array(corner.inward) + up * np.array(corner.normal)
    return float(x), float(y), math.atan2(corner.inward[1], corner.inward[0])


def matrix_of(spread: Spread) -> np.ndarray:
    """A spread as a covariance."""
    return np.array(
        [
            [spread.xx, spread.xy, spread.xa],
            [spread.xy, spread.yy, spread.ya],
            [spread.xa, spread.ya, spread.aa],
        ]
    )


def same(got: np.ndarray, want: Spread) -> None:
    """A covariance by derivatives is the spread, to a ten-thousandth of what the terms may be."""
    told = matrix_of(want)
    assert (np.abs(got - told) <= 1e-4 * np.sqrt(np.outer(told.diagonal(), told.diagonal()))).all()


def agree(got: np.ndarray, want: Spread) -> None:
    """A covariance by draws is the spread, each term within four of its standard deviations."""
    told = matrix_of(want)
    scale = np.sqrt(np.outer(told.diagonal(), told.diagonal()))
    assert (np.abs(got - told) <= FOUR_SDS * scale).all()


def test_one_place_tells_no_angle() -> None:
    """A fit to one place keeps the angle that it is given, none where none is, and shifts."""
    shifted = DRAWN[:1] + np.array([3.0, -4.0])
    for given in ((), (ANGLE_RAD,)):
        fit = rigid_fit(DRAWN[:1], shifted, *given)
        assert fit.angle_rad == (given[0] if given else 0.0) and fit.dof == 0
        np.testing.assert_allclose(fit.places(DRAWN[:1]), shifted, atol=1e-9)


TRUE = rigid_fit(DRAWN[:1], DRAWN[:1], ANGLE_RAD).places(DRAWN)
Found = Callable[[Rigid | Affine], tuple[float, float, float]]


def by_draws(affine: bool, found: Found) -> np.ndarray:
    """The covariance of what is found by fits to readings that scatter (JCGM 101)."""
    rng = np.random.default_rng(2)
    drawn = [found(fit_of(affine, TRUE + rng.normal(0, S_MM, TRUE.shape))) for _ in range(DRAWS)]
    return np.cov(np.array(drawn).T)


def by_derivatives(affine: bool, found: Found, step_mm: float = 1e-4) -> np.ndarray:
    """The same by what each coordinate read alone does (JCGM 100, 5.1.2)."""
    columns = []
    for at in np.ndindex(TRUE.shape):
        moved = np.zeros(TRUE.shape)
        moved[at] = step_mm
        ahead, behind = (np.array(found(fit_of(affine, TRUE + by))) for by in (moved, -moved))
        columns.append((ahead - behind) / (2 * step_mm) * S_MM)
    return np.array(columns).T @ np.array(columns)


def fit_of(affine: bool, measured: np.ndarray) -> Rigid | Affine:
    """The bed as these readings have it."""
    return affine_fit(DRAWN, measured) if affine else rigid_fit(DRAWN, measured)


def row_at(fit: Rigid | Affine, along: tuple[float, float]) -> tuple[float, float, float]:
    """Where the zero's hole lies, and the angle of the row through it."""
    here, ahead = fit.places(np.array([ZERO, np.add(ZERO, np.multiply(100, along))]))
    return (*here.tolist(), math.atan2(*(ahead - here)[::-1]))


@pytest.mark.parametrize("affine", [False, True])
@pytest.mark.parametrize("along_deg", [0.0, 90.0, 30.0])
def test_a_row_of_holes(affine: bool, along_deg: float) -> None:
    """Place of a hole and angle of a row through it scatter as the closed form says."""
    along = (math.cos(math.radians(along_deg)), math.sin(math.radians(along_deg)))
    want = place_covariance(PlaceErrors(S_MM, SCATTER, affine, ANGLE_RAD), ZERO, along)
    same(by_derivatives(affine, lambda fit: row_at(fit, along)), want)
    if along_deg == 30.0:
        agree(by_draws(affine, lambda fit: row_at(fit, along)), want)


@pytest.mark.parametrize("affine", [False, True])
def test_a_part_in_a_corner(affine: bool) -> None:
    """Zero and angle of a part against pins in fitted holes scatter as the closed form says."""
    errors = PlaceErrors(S_MM, SCATTER, affine, ANGLE_RAD)
    want = part_covariance(errors, tuple(HOLES), corner_of(np.array(HOLES)), ZERO)
    same(by_derivatives(affine, lambda fit: part_at(fit.places(np.array(HOLES)))), want)
    agree(by_draws(affine, lambda fit: part_at(fit.places(np.array(HOLES)))), want)


@pytest.mark.parametrize("turn_deg", [0, 90, 180, 270, 17])
def test_a_rigid_bed_carries_the_part_with_it(turn_deg: float) -> None:
    """With a rigid fit the part's zero is known as well as the bed's place below it."""
    turn = rigid_fit(np.zeros((1, 2)), np.zeros((1, 2)), math.radians(turn_deg))
    holes = turn.places(np.array(HOLES))
    zero = tuple(turn.places(np.array([ZERO]))[0].tolist())
    errors = PlaceErrors(S_MM, SCATTER, affine=False, angle_rad=ANGLE_RAD)
    at = tuple(tuple(hole) for hole in holes.tolist())
    part, place = (
        part_covariance(errors, at, corner_of(holes), zero),
        place_covariance(errors, zero),
    )
    for got, want in zip(part, place, strict=True):
        assert got == pytest.approx(want, rel=1e-9, abs=1e-15)


def test_one_variance_in_all_its_forms() -> None:
    """Of a place's worst direction the share of one reading is the spread's, rigid and affine."""
    arm = (ZERO[0] - SCATTER.x_mm, ZERO[1] - SCATTER.y_mm)
    rigid = place_covariance(PlaceErrors(1.0, SCATTER, False, ANGLE_RAD), ZERO)
    affine = place_covariance(PlaceErrors(1.0, SCATTER, True, ANGLE_RAD), ZERO)
    assert rigid.worst_sd(0.0, 0.0) ** 2 == pytest.approx(rigid_share(SCATTER, arm), rel=1e-12)
    assert affine.worst_sd(0.0, 0.0) ** 2 == pytest.approx(affine_share(SCATTER, arm, arm))


def test_an_affine_fit_knows_the_centroid_as_well() -> None:
    """At the centroid both models know a place to s over the root of n on each axis."""
    for affine in (False, True):
        errors = PlaceErrors(S_MM, SCATTER, affine, ANGLE_RAD)
        spread = place_covariance(errors, (SCATTER.x_mm, SCATTER.y_mm))
        assert spread.xx == pytest.approx(S_MM**2 / 5, rel=1e-12)
        assert spread.yy == pytest.approx(S_MM**2 / 5, rel=1e-12)
        assert spread.xy == pytest.approx(0, abs=1e-15)
