"""How well the zero is known: the worked budget, draws anew, and moving one input at a time."""

from __future__ import annotations

import dataclasses
import itertools
import math
from functools import cache
from typing import Any

import numpy as np
import pytest
from oracles.second_method import Case, monte_carlo, moved_by_leans, moves_at, one_by_one
from oracles.worked import assert_close, clearances_um, reference
from scipy import special
from test_transform import case_of, drawn, worked_text
from thinning import thinned
from worlds import BASE, PRESSED, facts, setups, world

from pincorner.documents.beds import PoseEntry
from pincorner.documents.records import Fit, Survey
from pincorner.setups.budget import NO_SURVEY, make_budget
from pincorner.setups.facts import Facts
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups

TABLE = reference("worked_budget")
DRAWS = 14_000
NOISE = 4 / math.sqrt(2 * DRAWS)
"""Four standard errors of a normal sample's standard deviation, of itself; bounded inputs less."""


def noisy(seed: int, *, normal: bool = False, survey: Fit | None = None) -> Facts:
    """A random station with every source of uncertainty; only normal ones where `normal`."""
    found = drawn(seed, body_tolerance=0.0 if normal else 0.03)
    grid = found.bed.grid.model_copy(
        update={"hole": 20.0 if normal else 20.06, "hole_position": 0.05}
    )
    machine = found.machine.model_copy(update={"repeatability": 0.015, "homing": 0.025})
    accepted = survey and Survey(name="s", bed="drawn", readings=(("A1", 0, 0),), fit=survey)
    return found._replace(
        bed=found.bed.model_copy(update={"grid": grid}),
        station=found.station.model_copy(update={"under": 7.0, "pins_pressed": False}),
        machine=machine,
        survey=accepted,
    )


def fit_of(points: int, s: float, angle: float = 3.3) -> Fit:
    """A survey's fit around (700, 300) of the bed, its holes 400 mm from there on average."""
    return Fit(
        pose=PoseEntry(x=12.0, y=34.0, angle=angle),
        points=points,
        s=s,
        dof=max(0, 2 * points - 3),
        centroid=(700.0, 300.0),
        spread=points * 400.0**2,
    )


def noisy_case(found: Facts, hole_sd: float = 0.05) -> Case:
    """The same in plain numbers: 60 um of play, contact 7 mm up a hole of 20 (guide, Budget).

    Nothing touches lower: the disc that has R^2/2 less c^2/16 along each axis, R there.
    """
    play = found.bed.grid.hole - 20.0
    radius = math.sqrt(2 * (play / 2 + play * 7.0 / 20.0) ** 2 - (play / 2) ** 2)
    return case_of(
        found,
        hole_sd_mm=hole_sd,
        lie_radius_mm=(radius, radius),
        body_tolerance_mm=next(iter(found.pins.values())).body_tolerance,
        machine_sd_mm=0.015,
        homing_sd_mm=0.025,
        bed_covariance=None if found.survey is None else covariance_at_a1(found.survey.fit),
    )


def covariance_at_a1(fit: Fit) -> np.ndarray:
    """The fit's covariance carried from its centroid to A1, machine axes (guide, Survey)."""
    arm = -complex(*fit.centroid) * np.exp(1j * math.radians(fit.pose.angle))
    carry = np.array([[1, 0, -arm.imag], [0, 1, arm.real], [0, 0, 1]])
    spread = np.diag([fit.s**2 / fit.points] * 2 + [fit.s**2 / fit.spread])
    return carry @ spread @ carry.T


def setup_and_angle(found: Facts) -> tuple[Setup, float]:
    """The first nest's setup and its angle in the machine."""
    setup = make_setups(found)[0]
    return setup, math.degrees(setup.bed_in_machine.angle_rad + setup.nest_in_bed.angle_rad)


def at_corners(setup: Setup) -> list[tuple[float, float]]:
    """u95 and repeat95 at each corner of the stock, from budgets of that corner alone."""
    nest_in_machine = setup.bed_in_machine @ setup.nest_in_bed
    budgets = [
        make_budget(setup.facts, setup.located, setup.zero_in_bed, [nest_in_machine.vector(corner)])
        for corner in setup.nest.stock.outline
    ]
    k = setup.budget.k  # of the point with the fewest degrees of freedom, for all of them
    return [
        (k / each.k * each.u95_worst_mm, k / each.k * each.repeat95_worst_mm) for each in budgets
    ]


@cache
def draws_of(seed: int, survey_points: int, normal: bool) -> tuple[Facts, np.ndarray]:
    """A station and its sampled deviations, drawn once for all tests."""
    fit = fit_of(survey_points, 0.04) if survey_points else None
    found = noisy(seed, normal=normal, survey=fit)
    hole_sd = 0.04 if survey_points >= 6 else 0.05  # nine degrees of freedom and more: its own s
    return found, monte_carlo(noisy_case(found, hole_sd), DRAWS, seed)


def test_the_worked_budget() -> None:
    """The worked budget comes out row by row, together and at every corner."""
    setup = setups(worked_text("A"))[0]
    budget, at_each = setup.budget, at_corners(setup)
    half = "printed to 1e-6 mm and 1e-7 deg"
    rows = {row.source: row for row in budget.rows}
    assert list(rows) == list(TABLE["sources"])
    for name, want in [*TABLE["sources"].items(), ("together", TABLE["together"])]:
        row = rows.get(name, budget.together)
        assert_close(row.x_mm, want["x_mm"], 0.51e-6, half)
        assert_close(row.y_mm, want["y_mm"], 0.51e-6, half)
        assert_close(row.angle_deg, want["angle_deg"], 0.51e-7, half)
    changing = [name for name, row in rows.items() if not row.repeats]
    assert changing == TABLE["not_the_same_each_time"]
    assert budget.k == TABLE["coverage_factor"] == 2  # no survey
    corners = TABLE["corners"]
    for (u95, repeat95), want in zip(at_each, corners, strict=True):
        assert_close(u95, want["u95_mm"], 0.51e-6, half)
        assert_close(repeat95, want["repeat95_mm"], 0.51e-6, half)
    assert budget.u95_worst_mm == max(u95 for u95, _ in at_each)
    assert budget.repeat95_worst_mm == max(repeat95 for _, repeat95 in at_each)
    assert_close(budget.u95_zero_mm, corners[0]["u95_mm"], 0.51e-6, "a corner is the zero")
    assert budget.not_given == (NO_SURVEY, "homing")


@pytest.mark.parametrize(("seed", "points"), [(6, 0), (11, 0), (24, 0), (3, 8), (4, 5)])
def test_draws_confirm_the_budget(seed: int, points: int) -> None:
    """Drawing every input and solving anew (JCGM 101:2008) spreads zero and corners as stated.

    The five stations have pins along X and Y, equal and mixed, in all four quadrants.
    """
    found, moves = draws_of(seed, points, False)
    setup, angle = setup_and_angle(found)
    budget, corners = setup.budget, setup.nest.stock.outline
    sampled = moves.std(axis=0) * (1, 1, math.degrees(1))
    for got, want in zip(sampled, budget.together[1:4], strict=True):
        assert_close(float(got), want, NOISE * want, "four standard errors of a sampled sd")
    stated = (budget.u95_zero_mm, *(u95 for u95, _ in at_corners(setup)))
    for point, u95 in zip([(0.0, 0.0), *corners], stated, strict=True):
        worst = np.linalg.eigvalsh(np.cov(moves_at(moves, angle, point).T))[-1]
        assert_close(budget.k * math.sqrt(worst), u95, NOISE * u95, "the same, at a corner")


@pytest.mark.parametrize(("seed", "points"), [(4, 0), (3, 8)])
def test_one_direction_holds_as_often_as_stated(seed: int, points: int) -> None:
    """Where all inputs are normal, two standard deviations in the worst direction hold 95.45 %."""
    found, moves = draws_of(seed, points, True)
    setup, angle = setup_and_angle(found)
    budget, corners = setup.budget, setup.nest.stock.outline
    stated = (budget.u95_zero_mm, *(u95 for u95, _ in at_corners(setup)))
    for point, u95 in zip([(0.0, 0.0), *corners], stated, strict=True):
        at = moves_at(moves, angle, point)
        worst = np.linalg.eigh(np.cov(at.T))[1][:, -1]
        share = float(np.mean(np.abs(at @ worst) <= 2 / budget.k * u95))
        assert_close(share, 0.9545, 0.01, "four standard errors of a share are 0.007")


@pytest.mark.parametrize("seed", range(thinned(24)))
def test_each_source_alone(seed: int) -> None:
    """Moving one input at a time (JCGM 100, 5.1.3, note 2) gives each row of the budget."""
    found = noisy(seed, survey=fit_of(8, 0.04) if seed % 3 == 0 else None)
    budget = make_setups(found)[0].budget
    parts = one_by_one(noisy_case(found, 0.04 if found.survey else 0.05))
    rows = {row.source: row for row in budget.rows}
    assert set(rows) == set(parts)
    for name, covariance in parts.items():
        sd = np.sqrt(np.diag(covariance)) * (1, 1, math.degrees(1))
        for got, want in zip(rows[name][1:4], sd, strict=True):
            assert_close(got, float(want), 1e-3 * want + 1e-12, f"{name}: curvature of the step")


@pytest.mark.parametrize(
    ("points", "s", "hole_sd"),
    [(2, 0.03, 0.05), (3, 0.09, 0.09), (4, 0.03, 0.05), (5, 0.07, 0.07), (6, 0.03, 0.03)],
)
@pytest.mark.parametrize("seed", [1, 2])
def test_few_holes_take_students_factor(seed: int, points: int, s: float, hole_sd: float) -> None:
    """A small survey takes the 95.45 % factor of its fewest effective degrees (JCGM 100, G.4).

    The survey's s stands for the holes where it is the larger one or has nine degrees of freedom.
    """
    found = noisy(seed, survey=fit_of(points, s))
    setup, angle = setup_and_angle(found)
    budget, corners = setup.budget, setup.nest.stock.outline
    parts = one_by_one(noisy_case(found, hole_sd))
    dof = {"survey": 2 * points - 3} | ({"hole position": 2 * points - 3} if hole_sd == s else {})
    fewest = math.inf
    for point in [(0.0, 0.0), *corners]:
        arm = complex(*point) * np.exp(1j * math.radians(angle))
        carry = np.array([[1, 0, -arm.imag], [0, 1, arm.real]])
        there = {name: carry @ each @ carry.T for name, each in parts.items()}
        total, axes = np.linalg.eigh(sum(there.values()))
        worst = axes[:, -1]
        below = sum((worst @ there[n] @ worst) ** 2 / nu for n, nu in dof.items())
        fewest = min(fewest, float(total[-1] ** 2 / below))
    assert abs(fewest - round(fewest)) > 1e-3  # the second method's noise does not cross a whole
    k = float(special.stdtrit(math.floor(fewest), 0.5 + math.erf(math.sqrt(2)) / 2))
    assert_close(budget.k, k, 1e-9 * k, "halved down to 1e-12 of itself")
    hole = next(row for row in budget.rows if row.source == "hole position")
    assert_close(hole.x_mm, math.sqrt(parts["hole position"][0, 0]), 1e-3 * hole.x_mm, "curvature")


NOT_GIVEN: list[tuple[dict[str, str], tuple[str, ...]]] = [  # left out or added, what is listed
    ({}, ("homing",)),
    ({", hole_position: 0.04": ""}, ("hole position", "homing")),
    ({", depth: 20": ""}, ("lean", "homing")),
    ({", body_tolerance: 0.01": ""}, ("pin body", "homing")),
    ({"repeatability: 0.02": "homing: 0.03"}, ("machine",)),
    ({"max_skew": "homing: 0.03\n    max_skew"}, ()),
    ({"max_skew": "homes: false\n    max_skew"}, ("setting G54",)),
    ({"max_skew": "homing: 0.03\n    homes: false\n    max_skew"}, ()),
    ({"stop: C4": "stop: {hole: C4, pin: rough}"}, ("pin body", "homing")),
]
ROUGH = "\npins:\n  - {name: rough, shank: 20, body: 20, height: 22}\n"


@pytest.mark.parametrize(("changes", "listed"), NOT_GIVEN)
def test_what_was_not_given_is_listed(changes: dict[str, str], listed: tuple[str, ...]) -> None:
    """A size that no document gives is named, and no row is invented for it."""
    text = BASE.replace("\npins:\n", ROUGH)
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    budget = setups(text)[0].budget
    assert budget.not_given == (NO_SURVEY, *listed) and not budget.bed_known
    sources = [row.source for row in budget.rows]
    kept = [name for name in listed if name != "pin body" or "rough}" not in str(changes)]
    assert not set(sources) & set(kept)
    assert set(sources) >= {"hole position", "pin fit", "pin body", "machine"} - set(kept)


def test_homing_counts_each_time() -> None:
    """Homing adds its variance to what the part comes back within and to what it lies within."""
    bare = setups()[0]
    homed = setups(BASE.replace("max_skew", "homing: 0.03\n    max_skew"))[0]
    (row,) = (row for row in homed.budget.rows if row.source == "homing")
    assert (row.x_mm, row.y_mm, row.angle_deg, row.repeats) == (0.03, 0.03, 0.0, False)
    for before, after in zip(at_corners(bare), at_corners(homed), strict=True):
        for old, new in zip(before, after, strict=True):
            assert_close(new, math.hypot(old, 2 * 0.03), 1e-12, "variances add, k is 2")


@pytest.mark.parametrize("fit", ["H8/g6", "H7/g6", "H8/e8", "H7/k6", "H7/m6"])
@pytest.mark.parametrize("depth", [20.0, None])
def test_fit_classes_by_integration(fit: str, depth: float | None) -> None:
    """A fit's play is uniform between its ISO 286 limits, interference counting as none."""
    least, most = (um / 1000 for um in clearances_um(20, fit))

    from scipy import integrate  # for these alone: it brings much along

    def mean_square(play: float) -> float:
        radius = max(play, 0.0) * (0.5 + (22 / depth if depth else 0.0))  # the pin is the lower
        return radius**2 / 4 / (most - least)

    want = math.sqrt(integrate.quad(mean_square, least, most, points=[max(least, 0.0)])[0])
    found = facts(world(BASE.replace("height: 22", f"height: 22, fit: {fit}")))
    grid = found.bed.grid.model_copy(update={"depth": depth, "hole": 25.0})
    found = found._replace(bed=found.bed.model_copy(update={"grid": grid}))
    rows: dict[str, Any] = {row.source: row for row in make_setups(found)[0].budget.rows}
    one_mm = rows["hole position"].angle_deg / 0.04  # the same contacts, moved by 1 mm
    assert_close(rows["pin fit"].angle_deg / one_mm, want, 1e-9, "a polynomial, integrated")


@pytest.mark.parametrize(
    "text", [BASE, PRESSED.replace("pin: peg-20", "pin: peg-20\n    under: 8")]
)
def test_a_fit_comes_back_on_each_board(text: str) -> None:
    """repeat95 is that of the board with the largest play of the fit; u95 is for all boards."""
    most_mm = clearances_um(20, "H11/h9")[1] / 1000
    found = facts(world(text.replace("height: 22", "height: 22, fit: H11/h9")))
    grid = found.bed.grid.model_copy(update={"play": most_mm})
    board = found._replace(bed=found.bed.model_copy(update={"grid": grid}))
    of_all, of_one = (make_setups(each)[0].budget for each in (found, board))
    assert_close(
        of_all.repeat95_worst_mm, of_one.repeat95_worst_mm, 1e-4, "pins stand 0.1 mm apart"
    )
    rows = [
        max(row.x_mm for row in each.rows if (row.source, row.repeats) == ("pin fit", False))
        for each in (of_all, of_one)
    ]
    assert rows[0] < rows[1]
    assert of_all.u95_worst_mm >= of_all.repeat95_worst_mm


SIGNS = list(itertools.product((1, -1), repeat=3))


def leaning(seed: int) -> tuple[Facts, Case, np.ndarray]:
    """A station with leaning pins, its case, and by how much each leans more or less (mm)."""
    rng = np.random.default_rng(seed)
    found = noisy(seed)
    plays, under = rng.uniform(0.05, 0.4, 3), float(rng.uniform(1, 9))
    pins = {
        key: pin.model_copy(update={"shank": 20.06 - float(play)})
        for (key, pin), play in zip(found.pins.items(), plays, strict=True)
    }
    changed = {"pins_pressed": True, "under": under}
    found = found._replace(pins=pins, station=found.station.model_copy(update=changed))
    case = dataclasses.replace(noisy_case(found, 0.05), lie_radius_mm=(0.0, 0.0))
    return found, case, plays * under / (2 * found.bed.grid.depth)


@pytest.mark.parametrize("seed", range(thinned(20)))
def test_leans_count_together_and_apart(seed: int) -> None:
    """Row and u95 are the worst of all signs of the leans of pushed pins, by the second method."""
    found, case, lean_mm = leaning(seed)
    setup, angle = setup_and_angle(found)
    moves = [moved_by_leans(case, math.sqrt(0.5) * lean_mm * signs) for signs in SIGNS]
    (row,) = (row for row in setup.budget.rows if row.source == "pin fit")
    worst_move = np.abs(moves).max(axis=0) * (1, 1, math.degrees(1))
    for got, want in zip(row[1:4], worst_move, strict=True):
        assert_close(got, float(want), 1e-3 * want, "curvature of the step")
    parts = one_by_one(case)
    assert set(parts) == {row.source for row in setup.budget.rows} - {"rounding"}
    rest = sum(part for name, part in parts.items() if name != "pin fit")
    found_u95 = 0.0
    for point in setup.nest.stock.outline:
        arm = complex(*point) * np.exp(1j * math.radians(angle))
        carry = np.array([[1, 0, -arm.imag], [0, 1, arm.real]])
        for move in moves:
            covariance = carry @ (rest + np.outer(move, move)) @ carry.T
            found_u95 = max(found_u95, 2 * math.sqrt(np.linalg.eigvalsh(covariance)[-1]))
    assert_close(setup.budget.u95_worst_mm, found_u95, 1e-3 * found_u95, "curvature of the step")


def one_pin(**changes: Any) -> dict[str, Any]:
    """Rows of a budget of case A0, pressed, with one standard deviation of 1 mm as its unit."""
    pin = {key: changes.pop(key) for key in ("held", "fit", "shank") if key in changes}
    found = facts(world(PRESSED, pin=pin), **changes)
    return {(row.source, row.repeats): row for row in make_setups(found)[0].budget.rows}


def test_play_of_pushed_and_held_pins() -> None:
    """Known play is no uncertainty; of a fit class the half of its spread is; screwed: a disc."""
    rows = one_pin(shank=19.8)
    assert rows["pin fit", False][1:4] == (0.0, 0.0, 0.0) and ("pin fit", True) not in rows
    one_mm = rows["hole position", True].angle_deg / 0.04
    least, most = (um / 1000 for um in clearances_um(20, "H11/h9"))
    rows = one_pin(fit="H11/h9")
    spread = (most - least) / math.sqrt(12) / 2
    assert_close(rows["pin fit", True].angle_deg / one_mm, spread, 1e-12, "uniform, halved")
    rows = one_pin(shank=19.8, held="screwed")
    assert_close(rows["pin fit", True].angle_deg / one_mm, 0.22 / 4, 1e-12, "a disc of c/2")
    assert rows["pin fit", False].x_mm == 0.0
    rows = one_pin(shank=19.8, held="tapered", under=5)
    assert rows["pin fit", False].x_mm == 0.0 and ("pin fit", True) not in rows


def test_edges_of_the_jig_count() -> None:
    """An edge's standard deviation counts at each contact, the same each time; dowels: nothing."""
    found = facts(world(BASE, jig={"edge_straightness": 0.07}))
    rows = {row.source: row for row in make_setups(found)[0].budget.rows}
    for here, there in zip(rows["jig edge"][1:4], rows["hole position"][1:4], strict=True):
        assert_close(here / 0.07, there / 0.04, 1e-12, "the same contacts")
    assert rows["jig edge"].repeats


@pytest.mark.parametrize(
    ("text", "listed"),
    [
        (BASE.replace("    edge_straightness: 0\n", ""), "jig edge"),
        (
            PRESSED.replace(", depth: 20", "").replace("pin: peg-20", "pin: peg-20\n    under: 3"),
            "lean",
        ),
    ],
)
def test_what_pushed_pins_and_edges_need_is_listed(text: str, listed: str) -> None:
    """A jig without edge_straightness, and leaning pins of no known depth, are named."""
    assert listed in setups(text)[0].budget.not_given
    assert listed not in setups(PRESSED.replace(", depth: 20", ""))[0].budget.not_given


def with_decimals(found: Facts, unit: str = "mm", **places: int) -> Facts:
    """The same with a dialect that writes an angle, and so many decimals."""
    decimals = found.dialect.decimals.model_copy(update=places)
    dialect = found.dialect.model_copy(update={"rotation": "r-word", "decimals": decimals})
    machine = found.machine.model_copy(update={"units": unit})
    return found._replace(dialect=dialect, machine=machine)


@pytest.mark.parametrize(
    ("unit", "places"), [("mm", {"mm": 1, "deg": 2}), ("in", {"inch": 2, "deg": 1})]
)
def test_rounding_is_what_printed_words_are_off(unit: str, places: dict[str, int]) -> None:
    """X and Y of 100 beds at random are off as the row says (their rms); an angle is skew."""
    rng, off, found = np.random.default_rng(7), [], facts(world(BASE))
    skew_mm = 0.0
    for _ in range(100):
        x, y, angle = rng.uniform((40, 40, -0.4), (80, 80, 0.4))
        bed = found.bed.model_copy(update={"pose": PoseEntry(x=x, y=y, angle=angle)})
        setup = make_setups(with_decimals(found._replace(bed=bed), unit, **places))[0]
        in_mm = 25.4 if unit == "in" else 1.0
        words = {word.axis: float(word.word) for word in setup.printed.words}
        zero = setup.zero_in_machine
        skew_mm = max(skew_mm, setup.skew_mm)
        off.append((words["X"] * in_mm - zero.x_mm, words["Y"] * in_mm - zero.y_mm))
    row = {row.source: row for row in setup.budget.rows}["rounding"]
    # a uniform variable's mean square has a standard error of sqrt(0.8 / n) of itself
    spread = 4 * math.sqrt(0.8 / 100) / 2
    for got, want in zip(row[1:3], np.sqrt(np.mean(np.square(off), axis=0)), strict=True):
        assert abs(got / want - 1) < spread
    assert row.angle_deg == 0.0 and skew_mm > 0.03  # that much of an angle is told as skew
    assert row.repeats


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_usual_decimals_are_left_out_and_would_change_nothing(unit: str) -> None:
    """Three decimals in mm, four in inches and degrees: no row, and u95 would grow by < 0.25 um."""
    setup = make_setups(with_decimals(facts(world(BASE)), unit))[0]
    assert "rounding" not in [row.source for row in setup.budget.rows]
    step_mm = 25.4e-4 if unit == "in" else 1e-3
    reach_mm = math.hypot(410, 240)
    variance = step_mm**2 / 12  # JCGM 100, F.2.2.1
    assert setup.skew_mm == 0.0 and math.radians(0.5e-4) * reach_mm < 0.5e-3  # of its angle
    u95 = setup.budget.u95_worst_mm
    assert math.sqrt(u95**2 + 4 * variance) - u95 < 0.25e-3


def test_rounding_alone_is_no_budget() -> None:
    """Where nothing is given to reckon from, decimals do not pass for all there is."""
    bare = BASE.replace("hole_position: 0.04, ", "").replace("    repeatability: 0.02\n", "")
    bare = bare.replace(", body_tolerance: 0.01", "").replace("hole: 20.02", "hole: 20.00")
    budget = make_setups(with_decimals(facts(world(bare)), mm=1))[0].budget
    assert budget.rows == () or all(row.x_mm == 0 for row in budget.rows)
    assert budget.u95_worst_mm == 0
