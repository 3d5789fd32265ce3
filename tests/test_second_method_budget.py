"""The second method's uncertainties against the worked budget, and the tables it rests on."""

from __future__ import annotations

import dataclasses
import itertools
import math
from functools import cache
from typing import Any

import numpy as np
import pytest
from oracles.contacts import Point
from oracles.second_method import Case, monte_carlo, moves_at, one_by_one
from oracles.worked import assert_close, budget_case, clearances_um, rectangle, reference
from published import Figure, figures
from scipy import special
from thinning import thinned

DRAWS = thinned(48_000)
SEED = 20261125


def u95_at(covariance: np.ndarray, point: Point, angle_deg: float) -> float:
    """Return U at a point of the nest from the covariance of the zero (mm, mm, rad)."""
    reach = complex(*point) * np.exp(1j * math.radians(angle_deg))
    spread = np.array([[1, 0, -reach.imag], [0, 1, reach.real]])
    largest = np.linalg.eigvalsh(spread @ covariance @ spread.T)[-1]
    return float(reference("worked_budget")["coverage_factor"] * math.sqrt(largest))


@cache
def drawn(repeat_only: bool) -> np.ndarray:
    """Return the sampled deviations of the worked budget, drawn once for all tests."""
    changing = reference("worked_budget")["not_the_same_each_time"]
    return monte_carlo(budget_case(changing if repeat_only else None), DRAWS, SEED)


@pytest.mark.parametrize("source", list(reference("worked_budget")["sources"]))
def test_budget_of_one_source(source: str) -> None:
    """Moving each input by its standard deviation gives the budget's row to its last digit."""
    want = reference("worked_budget")["sources"][source]
    sd = np.sqrt(np.diag(one_by_one(budget_case())[source]))
    half = "printed to 1e-6 mm and 1e-7 deg; 2 % of that for the curvature of the step"
    assert_close(sd[0], want["x_mm"], 0.51e-6, half)
    assert_close(sd[1], want["y_mm"], 0.51e-6, half)
    assert_close(math.degrees(sd[2]), want["angle_deg"], 0.51e-7, half)


@pytest.mark.parametrize("source", list(reference("worked_budget")["sources"]))
def test_draws_of_one_source(source: str) -> None:
    """Draws that vary one source alone spread the zero as that row of the budget says."""
    row = reference("worked_budget")["sources"][source]
    spread = monte_carlo(budget_case([source]), DRAWS, SEED).std(axis=0) * (1, 1, math.degrees(1))
    noise = "four standard errors of a sampled standard deviation, and the solver"
    for got, want in zip(spread, row.values(), strict=True):
        assert_close(float(got), want, 4 / math.sqrt(2 * DRAWS) * want + 1e-9, noise)


def test_budget_together() -> None:
    """The sources together, and U at the stock's corners, come out to their last digit."""
    table, case = reference("worked_budget"), budget_case()
    parts = one_by_one(case)
    whole = sum(parts.values())
    sd = np.sqrt(np.diag(whole))
    half = "printed to 1e-6 mm and 1e-7 deg; 2 % of that for the curvature of the step"
    assert_close(sd[0], table["together"]["x_mm"], 0.51e-6, half)
    assert_close(sd[1], table["together"]["y_mm"], 0.51e-6, half)
    assert_close(math.degrees(sd[2]), table["together"]["angle_deg"], 0.51e-7, half)
    changing = sum(parts[source] for source in table["not_the_same_each_time"])
    for corner in table["corners"]:
        angle = case.nominal()[2]
        assert_close(u95_at(whole, corner["at_mm"], angle), corner["u95_mm"], 0.51e-6, half)
        got = u95_at(changing, corner["at_mm"], angle)
        assert_close(got, corner["repeat95_mm"], 0.51e-6, half)


@pytest.mark.parametrize("corner", reference("worked_budget")["corners"], ids=str)
def test_draws_confirm_u95(corner: dict[str, Any]) -> None:
    """U of draws that are each solved anew (JCGM 101:2008) agrees with the budget and its draws."""
    # A normal sample's sd has the relative standard error 1/sqrt(2 n), 1.1 %; uniform parts less.
    error = 1 / math.sqrt(2 * DRAWS)
    angle = budget_case().nominal()[2]

    def sampled(repeat_only: bool) -> float:
        return 2 * math.sqrt(
            np.linalg.eigvalsh(np.cov(moves_at(drawn(repeat_only), angle, corner["at_mm"]).T))[-1]
        )

    noise = "four standard errors of a sampled standard deviation"
    u95, repeat95 = corner["u95_mm"], corner["repeat95_mm"]
    assert_close(sampled(repeat_only=False), u95, 4 * error * u95, noise)
    assert_close(sampled(repeat_only=True), repeat95, 4 * error * repeat95, noise)
    both = "four standard errors of the difference of two samples, and half the last digit"
    other = corner["monte_carlo_u95_mm"]
    limit = 4 * math.sqrt(2) * error * u95 + 0.5e-4
    assert_close(sampled(repeat_only=False), other, limit, both)


def test_draws_lie_within_u95_as_often_as_stated() -> None:
    """In the worst direction about 95.6 % of the draws lie within U at every stock corner."""
    table, angle = reference("worked_budget"), budget_case().nominal()[2]
    want = table["monte_carlo"]["within_percent"] / 100
    error = math.sqrt(want * (1 - want) / DRAWS)
    limit = 4 * math.sqrt(2) * error + 0.0005
    for corner in table["corners"]:
        moves = moves_at(drawn(repeat_only=False), angle, corner["at_mm"])
        worst = np.linalg.eigh(np.cov(moves.T))[1][:, -1]
        share = float(np.mean(np.abs(moves @ worst) <= corner["u95_mm"]))
        assert_close(share, want, limit, "four standard errors of two shares, half a digit")
        radial = float(np.mean(np.hypot(*moves.T) <= corner["u95_mm"]))
        assert 0.905 < radial < 0.945  # guide, Budget: about 91 to 94 % in radial distance


def test_one_step_of_every_hole_gives_the_budget_row() -> None:
    """Squaring the moves that `place` finds for single shifted holes gives the budget's row."""
    case = budget_case(["hole position"])
    squares = np.zeros(3)
    for pin, axis in itertools.product(range(3), (0, 1)):
        pins = [list(p) for p in case.pins]
        pins[pin][axis] += case.hole_sd_mm
        moved = dataclasses.replace(case, pins=pins).nominal()
        squares += np.square(np.subtract(moved, case.nominal()))
    row = np.sqrt(np.diag(one_by_one(case)["hole position"])) * (1, 1, math.degrees(1))
    for got, want in zip(np.sqrt(squares), row, strict=True):
        reason = "a one-sided step curves by step over pin distance, 0.04 / 300"
        assert_close(float(got), float(want), 0.04 / 300 * float(want), reason)


def test_nothing_moves_when_nothing_varies() -> None:
    """Draws of inputs without uncertainty leave the zero where it is."""
    still = monte_carlo(budget_case([]), 5, SEED)
    assert still.shape == (5, 3)
    assert_close(float(np.abs(still).max()), 0.0, 1e-9, "solved to 1e-9 mm")


def test_lie_of_a_pin_has_half_its_radius_as_sd() -> None:
    """A pin anywhere in a disc of radius R has a standard deviation of R/2 per axis."""
    # JCGM 100:2008, 4.3.7 for the uniform line; the disc by sympy. Jig square on its pins, zero at
    # the stop's height on the edge: x is then the stop's own x.
    case = Case(
        outline=rectangle([460, 280]),
        pins=[(50, -10, 10), (250, -10, 10), (-10, 50, 10)],
        toward="+x+y",
        turn_deg=0,
        zero=(0, 50),
        bed_pose=(0, 0, 0),
        lie_radius_mm=(0.1, 0.1),
    )
    x = monte_carlo(case, DRAWS, SEED)[:, 0]
    # The disc's projection has kurtosis 2: relative standard error sqrt((2 - 1) / 4 n).
    limit = 4 * math.sqrt(1 / (4 * DRAWS)) * 0.05
    assert_close(float(x.std()), 0.05, limit, "four standard errors of a sampled sd")
    assert_close(float(np.abs(x).max()), 0.1, 0.001, "the edge of the disc, 1 % within reach")


def test_play_between_limits_counts_interference_as_none() -> None:
    """A lie radius drawn between -R and R varies by R/2 times the root of a sixth per axis."""
    # E[r²] of a radius that is 0 half the time and uniform on 0..R otherwise is R²/6.
    case = Case(
        outline=rectangle([460, 280]),
        pins=[(50, -10, 10), (250, -10, 10), (-10, 50, 10)],
        toward="+x+y",
        turn_deg=0,
        zero=(0, 50),
        bed_pose=(0, 0, 0),
        lie_radius_mm=(-0.1, 0.1),
    )
    want = 0.05 / math.sqrt(6)
    x = monte_carlo(case, DRAWS, SEED)[:, 0]
    # Kurtosis of r cos: (R⁴/80) / (R²/24)² = 7.2; relative standard error sqrt((7.2 - 1) / 4 n).
    limit = 4 * math.sqrt((7.2 - 1) / (4 * DRAWS)) * want
    assert_close(float(x.std()), want, limit, "four standard errors of a sampled sd")
    sd = math.sqrt(one_by_one(case)["pin fit"][0, 0])
    assert_close(sd, want, 1e-4 * want, "the radius is averaged over 100,001 steps")


def test_bed_covariance_reaches_the_zero() -> None:
    """A bed known with covariance V moves a zero at lever L by the root of Vy + L² Vθ."""
    covariance = np.diag([0.03, 0.04, 1e-4]) ** 2
    case = Case(
        outline=rectangle([460, 280]),
        pins=[(50, -10, 10), (250, -10, 10), (-10, 50, 10)],
        toward="+x+y",
        turn_deg=0,
        zero=(400, 0),
        bed_pose=(60, 55, 0),
        homing_sd_mm=0.01,
        bed_covariance=covariance,
    )
    want = [0.03, math.hypot(0.04, 400 * 1e-4), 1e-4]
    parts = one_by_one(case)
    for got, sd in zip(np.sqrt(np.diag(parts["survey"])), want, strict=True):
        assert_close(got, sd, 1e-6 * sd, "second order in an angle of 1e-4 rad")
    draws = monte_carlo(case, DRAWS, SEED).std(axis=0)
    for got, sd in zip(draws, [*np.hypot(want[:2], 0.01), want[2]], strict=True):
        limit = 4 / math.sqrt(2 * DRAWS) * sd
        assert_close(float(got), float(sd), limit, "four standard errors of a sampled sd")


@pytest.mark.parametrize("row", reference("iso286")["clearances"], ids=str)
def test_clearances_follow_from_the_limit_deviations(row: dict[str, Any]) -> None:
    """A printed clearance is the difference of the table's limit deviations of hole and shaft."""
    assert clearances_um(row["size_mm"], row["fit"]) == (row["min_um"], row["max_um"])


def test_classes_of_one_grade_are_equally_wide() -> None:
    """In a band every class of one tolerance grade has the same width (ISO 286-1)."""
    table = reference("iso286")["deviations_um"]
    for band in table["H7"]:
        widths: dict[str, set[int]] = {}
        for name, bands in table.items():
            upper, lower = bands[band]
            widths.setdefault(name[1:], set()).add(upper - lower)
        assert all(len(found) == 1 for found in widths.values()), (band, widths)
        assert [min(widths[g]) for g in ("6", "7", "8", "9", "11")] == sorted(
            min(w) for w in widths.values()
        )


@pytest.mark.parametrize("row", reference("student_t"), ids=str)
def test_student_factors_agree_with_scipy(row: dict[str, Any]) -> None:
    """A printed Student factor (JCGM 100:2008, Table G.2) is the one scipy computes."""
    got = special.stdtrit(row["degrees_of_freedom"], 0.5 + row["fraction_percent"] / 200)
    assert_close(float(got), row["t"], 0.5e-3, "printed to three decimals")


def test_published_figures_come_out_of_the_second_method() -> None:
    """README, guide and worked places print what contacts closed numerically give, to the digit."""
    found = figures()
    assert len(found) > 40
    beyond: list[Figure] = [each for each in found if each.off > each.within]
    assert not beyond
