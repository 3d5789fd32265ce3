"""The largest consistent set against brute force, and odd readings against Rosner's example."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from oracles.worked import assert_close, reference

from pincorner.geometry import odd_readings
from pincorner.geometry.consensus import Stated, largest_consistent
from pincorner.geometry.fits import Floats, affine_fit, plane_fit, rigid_fit
from pincorner.geometry.odd_readings import (
    Deletion,
    affine_deletion,
    odd_ones,
    plane_deletion,
    rigid_deletion,
)

PITCH_MM = 100.0
ROOM_MM = 1.0
STATED = Stated(60.0, 55.0, 0.0)
SHIFT = np.array([60.4, 54.7])
GRID = np.array([(x, y) for y in range(9) for x in range(15)], dtype=float) * PITCH_MM
ROSNER = reference("rosner_esd")


def turned(places: Floats, angle_rad: float) -> Floats:
    """Places turned about the origin."""
    cos, sin = math.cos(angle_rad), math.sin(angle_rad)
    return places @ np.array([[cos, sin], [-sin, cos]])


def laid(
    rng: np.random.Generator, drawn: Floats, angle_rad: float = 0.001, swelling: float = 0.0
) -> Floats:
    """Where holes are read on a bed that lies near its stated pose."""
    read = turned(drawn * (1 + swelling, 1 + swelling / 2), angle_rad) + SHIFT
    return read + rng.normal(0, 0.05, drawn.shape)


def holes(rng: np.random.Generator, count: int, grid: Floats = GRID) -> Floats:
    """Holes of the grid, none twice."""
    return grid[rng.choice(len(grid), count, replace=False)]


def by_brute_force(drawn: Floats, measured: Floats) -> int:
    """The size of the largest set that a rigid fit brings within 2 mm, from all subsets."""
    for size in range(len(drawn), 1, -1):
        for chosen in map(list, itertools.combinations(range(len(drawn)), size)):
            residuals = rigid_fit(drawn[chosen], measured[chosen]).residuals
            if np.linalg.norm(residuals, axis=1).max() <= 2.0:
                return size
    return 1


@pytest.mark.parametrize("seed", range(12))
def test_no_set_is_larger(seed: int) -> None:
    """Of nine readings, some under wrong labels, no subset is larger than the one that is found."""
    rng = np.random.default_rng(seed)
    drawn = holes(rng, 9)
    measured = laid(rng, drawn)
    wrong = rng.choice(9, rng.integers(0, 5), replace=False)
    measured[wrong] = measured[np.roll(wrong, 1)]
    kept = largest_consistent(drawn, measured, ROOM_MM, STATED, PITCH_MM)
    assert kept.sum() == by_brute_force(drawn, measured)


@pytest.mark.parametrize("swelling", [0.0, 0.0033, -0.0033])
@pytest.mark.parametrize("kind", ["mixed", "one column on", "turned round"])
def test_a_fifth_of_500_is_told_from_the_rest(kind: str, swelling: float) -> None:
    """100 of 500 readings are on wrong holes, at random or all alike: exactly they are left out."""
    rng = np.random.default_rng(4)
    wide = np.array([(x, y) for y in range(20) for x in range(30)], dtype=float) * PITCH_MM
    drawn = holes(rng, 500, wide)
    measured = laid(rng, drawn, swelling=swelling)
    wrong = np.zeros(500, dtype=bool)
    wrong[rng.choice(500, 100, replace=False)] = True
    if kind == "mixed":
        measured[wrong] = np.roll(measured[wrong], 1, axis=0)
    elif kind == "one column on":
        measured[wrong] += (PITCH_MM, 0)
    else:
        measured[wrong] = (2900, 1900) - measured[wrong]
    kept = largest_consistent(drawn, measured, ROOM_MM, STATED, PITCH_MM)
    assert (kept == ~wrong).all()


def test_order_does_not_count() -> None:
    """The same readings in another order give the same set."""
    rng = np.random.default_rng(6)
    drawn = holes(rng, 100)
    measured = laid(rng, drawn)
    measured[:20] = np.roll(measured[:20], 1, axis=0)
    order = rng.permutation(100)
    kept = largest_consistent(drawn, measured, ROOM_MM, STATED, PITCH_MM)
    again = largest_consistent(drawn[order], measured[order], ROOM_MM, STATED, PITCH_MM)
    assert (again == kept[order]).all()


@pytest.mark.parametrize("quarter", [0, 2])
def test_the_stated_pose_decides_between_equal_sets(quarter: int) -> None:
    """Two holes say one pose, two swapped ones another: the stated angle says which is believed."""
    drawn = np.array([(0, 0), (1400, 0), (0, 800), (1400, 800)], dtype=float)
    measured = drawn + SHIFT
    measured[[2, 3]] = measured[[3, 2]]
    stated = Stated(1460.0, 855.0, math.pi) if quarter else STATED
    kept = largest_consistent(drawn, measured, ROOM_MM, stated, PITCH_MM)
    assert kept.tolist() == ([False, False, True, True] if quarter else [True, True, False, False])


@pytest.mark.parametrize("wrong", [[0, 1], [2, 3]])
def test_the_stated_place_decides_between_equal_sets(wrong: list[int]) -> None:
    """Two holes called by their neighbours' names lie a pitch off: the others are believed."""
    drawn = np.array([(0, 0), (1400, 0), (0, 800), (1400, 800)], dtype=float)
    measured = drawn + SHIFT
    measured[wrong, 0] += PITCH_MM
    kept = largest_consistent(drawn, measured, ROOM_MM, STATED, PITCH_MM)
    assert np.flatnonzero(~kept).tolist() == wrong


def test_readings_that_agree_with_nothing() -> None:
    """Where no two distances are those drawn, a single reading is all that is kept."""
    drawn = np.array([(0, 0), (1400, 0), (0, 800)], dtype=float)
    kept = largest_consistent(drawn, drawn * 1.1, ROOM_MM, STATED, PITCH_MM)
    assert kept.sum() == 1
    one = largest_consistent(drawn[:1], drawn[:1], ROOM_MM, STATED, PITCH_MM)
    assert one.tolist() == [True]


def mean_deletion(values: Floats) -> Deletion:
    """Deletions from the mean of values."""
    squares = (values - values.mean()) ** 2
    return Deletion(squares / (1 - 1 / len(values)), float(squares.sum()), len(values) - 1, 1)


def test_rosners_example(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of Rosner's 54 values three are odd, though the first two steps look like chance."""
    monkeypatch.setattr(odd_readings, "DOUBT", ROSNER["significance"])
    values = np.array(ROSNER["data"])
    odd = odd_ones(lambda left: mean_deletion(values[left]), len(values), 1e-9, 4)
    assert values[odd].tolist() == ROSNER["outliers"]


def test_rosners_deviates() -> None:
    """The deviates of the ten steps are the printed ones, so the values are."""
    values = np.array(ROSNER["data"])
    for printed in ROSNER["deviates"]:
        off = np.abs(values - values.mean())
        deviate = off.max() / values.std(ddof=1)
        assert_close(deviate, printed, 0.001, because="printed to 0.001, cut short in places")
        values = np.delete(values, off.argmax())


@pytest.mark.parametrize("count", [4, 5, 12])
def test_deletions_against_fits_without(count: int) -> None:
    """What a fit is said to lose without a reading is what a fit without it has less."""
    rng = np.random.default_rng(count)
    drawn = holes(rng, count)
    measured = laid(rng, drawn)
    heights = 0.001 * drawn[:, 0] + rng.normal(0, 0.05, count)
    rigid, affine = rigid_deletion(drawn, measured), affine_deletion(drawn, measured)
    plane = plane_deletion(drawn, heights)
    for at in range(count):
        rest = np.arange(count) != at
        for said, fit in (
            (rigid, rigid_fit(drawn[rest], measured[rest])),
            (affine, affine_fit(drawn[rest], measured[rest])),
            (plane, plane_fit(drawn[rest], heights[rest])),
        ):
            why = "rounding; the rigid fit's angle, 1e-4 here, squared times a residual of 0.1 mm"
            assert_close(said.rss - said.squares[at], fit.rss, 1e-5, because=why)
            assert said.dof - said.values == fit.dof


def test_a_reading_that_a_fit_needs_is_never_odd() -> None:
    """The only hole off a line carries the shape by itself: nothing can be said against it."""
    rng = np.random.default_rng(1)
    drawn = np.array([(x, 0) for x in range(0, 1400, 200)] + [(600, 800)], dtype=float)
    measured = laid(rng, drawn)
    measured[-1] += (2.0, 2.0)
    said = affine_deletion(drawn, measured)
    assert said.squares[-1] == 0


def test_two_readings_that_hide_each_other() -> None:
    """Two bad readings of the same size, side by side, are both found."""
    rng = np.random.default_rng(2)
    drawn = holes(rng, 12)
    measured = laid(rng, drawn)
    measured[:2] += (1.5, 0.0)
    odd = odd_ones(lambda left: rigid_deletion(drawn[left], measured[left]), 12, 0.05, 3)
    assert np.flatnonzero(odd).tolist() == [0, 1]


def test_exact_readings_are_not_odd() -> None:
    """Rounding is no reason to doubt a reading."""
    drawn = GRID[::11]
    measured = turned(drawn, 0.3) + SHIFT
    count = len(drawn)
    odd = odd_ones(lambda left: rigid_deletion(drawn[left], measured[left]), count, 0.05, 3)
    assert not odd.any()
