"""Verifications: how far is too far, when a chart begins, what is advised, how it is drawn."""

from __future__ import annotations

import math
import random
import re
from datetime import date, timedelta
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from oracles.second_method import monte_carlo, one_by_one
from oracles.worked import assert_close, budget_case
from physics.coverage import Case, setup_of
from scipy import special
from worlds import BASE, PRESSED, facts, setups, world

from pincorner.documents.beds import PoseEntry
from pincorner.errors import BadInput
from pincorner.geometry.charts import FEWEST, NEXT
from pincorner.render.drawing.charts import history_drawing
from pincorner.render.outputs.beds import verify_json
from pincorner.render.pages.histories import render_history_page, render_history_svg
from pincorner.render.text.bed import verify_text
from pincorner.setups.budget import NO_SURVEY
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setup, make_setups
from pincorner.surveys.drift import (
    CHI2_LIMIT,
    Z_LIMIT,
    Covariance,
    Restart,
    Verification,
    chart,
    compare,
    computed_z_mm,
    usual_place,
    verification,
)
from pincorner.surveys.drift_advice import (
    Advice,
    Neighbour,
    advice,
    deviation_text,
    sees_text,
)

U_MM = 0.01
Off = tuple[float, float] | tuple[float, float, float]
TURNED = {"pose": PoseEntry(x=60, y=55, angle=0.12)}
"""The bed of the worked budget, case A."""


@pytest.fixture(scope="module")
def left() -> Setup:
    """The worked budget's setup, case A."""
    return make_setup(facts(world(BASE, bed=TURNED)), None)


def day(number: int) -> str:
    """The time of the verification of that number, nine days apart."""
    return (date(2026, 1, 5) + timedelta(days=9 * number)).isoformat() + "T09:00:00.000000Z"


def found(setup: Setup, off: Off, at: int = 0, u_mm: float | None = U_MM) -> Verification:
    """A verification that far off the computed zero; Z only where a third figure is given."""
    zero, z_mm = setup.zero_in_machine, computed_z_mm(setup)
    third = z_mm + off[2] if len(off) == 3 and z_mm is not None else None
    place = (zero.x_mm + off[0], zero.y_mm + off[1], third)
    return verification(setup, day(at), place, u_mm)


def scattered(setup: Setup, count: int, seed: int = 1, off: Off = (0.0, 0.0)) -> list[Off]:
    """Deviations in control around `off`."""
    rng, (x, y) = random.Random(seed), off[:2]
    sd = math.sqrt(setup.budget.varying[0].xx + U_MM**2)
    return [(x + rng.gauss(0, sd), y + rng.gauss(0, sd)) for _ in range(count)]


def advised(setup: Setup, offs: list[Off], neighbours: list[Neighbour] | None = None) -> Advice:
    """What is said after the last of these."""
    logged = [found(setup, off, at) for at, off in enumerate(offs)]
    current = chart("a", logged).current
    return advice(compare(setup, logged[-1], logged[:-1]), current, neighbours or [])


def test_limits_are_the_distributions() -> None:
    """5.991 and 1.96 are the 95 % points of chi-square with two degrees and of the normal."""
    assert_close(CHI2_LIMIT, 2 * special.gammaincinv(1, 0.95), 1e-12, "a closed form")
    assert_close(Z_LIMIT, special.ndtri(0.975), 0.5e-2, "printed to two decimals")


def test_covariance_is_the_second_methods(left: Setup) -> None:
    """It is that of pin fit and machine, found by moving pins one by one, plus the measuring's."""
    sources = one_by_one(budget_case(["pin fit", "machine"]))
    want = sources["pin fit"] + sources["machine"]
    got = compare(left, found(left, (0.1, 0.1))).covariances[0]
    because = "first order on both sides, 1e-6 mm of 0.03 mm, squared"
    assert_close(got.xx, want[0, 0] + U_MM**2, 1e-7, because)
    assert_close(got.yy, want[1, 1] + U_MM**2, 1e-7, because)
    assert_close(got.xy, want[0, 1], 1e-7, because)


def test_distance_is_that_of_linear_algebra() -> None:
    """d^T Sigma^-1 d agrees with NumPy's solution for random covariances."""
    rng = np.random.default_rng(2)
    for _ in range(50):
        root, off = rng.normal(size=(2, 2)), rng.normal(size=2)
        sigma = root @ root.T
        got = Covariance(sigma[0, 0], sigma[1, 1], sigma[0, 1]).distance2((off[0], off[1]))
        assert got == pytest.approx(float(off @ np.linalg.solve(sigma, off)), rel=1e-6)


def test_nineteen_of_twenty_are_within(left: Setup) -> None:
    """Of 20,000 re-fixturings drawn and solved anew, measured with u, 95 % are within.

    Bounded play has no tails, so that a little more than 95 % is right (JCGM 101:2008, 6.4).
    """
    draws = 20_000
    moves = monte_carlo(budget_case(["pin fit", "machine"]), draws, 11)[:, :2]
    moves += np.random.default_rng(12).normal(0.0, U_MM, moves.shape)
    sigma = compare(left, found(left, (0.0, 0.0))).covariances[0]
    within = np.mean(sigma.distance2((moves[:, 0], moves[:, 1])) <= CHI2_LIMIT)
    assert 0.945 < within < 0.965


LEANING = PRESSED.replace("pin: peg-20", "pin: peg-20\n    under: 9")


def test_verify_and_u95_have_leans_in_the_same_ways() -> None:
    """Along its worst direction a first verification is explained as far as u95 has it.

    The longest half axis of 95 % in the plane over that along one direction is sqrt(5.991) / k.
    """
    setup = make_setups(facts(world(LEANING, bed=TURNED, pin={"shank": 19.8})))[0]
    assert len(setup.budget.varying) > 1
    ways = np.linspace(0, math.pi, 721)
    longest_mm = max(
        compare(setup, found(setup, (math.cos(way), math.sin(way)))).explained_mm for way in ways
    )
    want = math.hypot(setup.budget.u95_zero_mm / setup.budget.k, U_MM) * math.sqrt(CHI2_LIMIT)
    assert_close(longest_mm, want, 1e-4 * want, "directions a quarter of a degree apart")


@pytest.mark.parametrize(
    ("case", "told"),
    [
        (Case("dowels", play=0.02, dowels=True), ""),
        (Case("dowels", play=0.2, dowels=True), "pushed to any side, or lie anywhere"),
        (Case("pressed", play=0.2), ""),
        (Case("leaning", play=0.2, under=14), "lean so far or not at all"),
        (Case("laid", play=0.2, pressed=False), "stand and lean any way"),
    ],
)
def test_where_play_outweighs_all_else_little_is_seen(case: Case, told: str) -> None:
    """A verification says that it sees little where pins make more than half of the variance."""
    setup = setup_of(case)
    logged = [found(setup, (0.0, 0.0))]
    drawn, compared = chart("a", logged), compare(setup, logged[0])
    text = verify_text(setup, compared, drawn, advice(compared, drawn.current))
    assert ("sees little" in text) == bool(told) and told in text


def test_zero_deviation_is_within(left: Setup) -> None:
    """The computed zero itself is 0 standard deviations off on every axis."""
    got = compare(left, found(left, (0.0, 0.0, 0.0)))
    assert got.verdict == "within" and got.chi2 == 0.0 and got.scores == (0.0, 0.0, 0.0)


def test_beyond_is_just_past_the_limit(left: Setup) -> None:
    """A deviation a thousandth past the ellipse of 95 % is beyond, one short of it within."""
    sigma = compare(left, found(left, (0.0, 0.0))).expected
    edge = math.sqrt(CHI2_LIMIT / sigma.distance2((1.0, 1.0)))
    assert compare(left, found(left, (0.999 * edge,) * 2)).verdict == "within"
    assert compare(left, found(left, (1.001 * edge,) * 2)).verdict == "beyond"


def test_z_is_compared_alone(left: Setup) -> None:
    """Z is beyond at 1.96 standard deviations of machine and measuring, whatever X and Y are."""
    edge = Z_LIMIT * math.hypot(0.02, U_MM)
    assert compare(left, found(left, (0.0, 0.0, 0.999 * edge))).verdict == "within"
    got = compare(left, found(left, (0.0, 0.0, -1.001 * edge)))
    assert got.verdict == "beyond" and got.beyond_in_z and not got.beyond_in_plane


def test_computed_z_is_surface_and_height(left: Setup) -> None:
    """Z of the zero is the surface's machine Z, -120, plus 38 up to the stock's top."""
    assert computed_z_mm(left) == -82.0


def test_no_surface_no_z() -> None:
    """Where the surface is not known a Z that was found is logged and not compared."""
    [setup] = setups(BASE.replace("    surface: -120\n", ""))
    got = compare(setup, verification(setup, day(0), (295.0, 185.0, -5.0), None))
    assert got.verification.z_mm == -5.0 and got.verification.deviation[2] is None
    assert got.z_sd_mm is None and got.verdict == "within"


def test_measuring_is_as_good_as_the_machine_unless_said(left: Setup) -> None:
    """Without --u the machine's repeatability is the measuring's standard deviation."""
    assert found(left, (0.0, 0.0), u_mm=None).u_mm == 0.02
    assert found(left, (0.0, 0.0), u_mm=0.005).u_mm == 0.005


def test_u_must_come_from_somewhere(left: Setup) -> None:
    """Without repeatability --u is needed, and it is above 0: each refused in one line."""
    bare = make_setup(facts(world(BASE, machine={"repeatability": None})), None)
    with pytest.raises(BadInput, match=r"--u is needed.*gantry-1"):
        verification(bare, day(0), (0.0, 0.0, None), None)
    with pytest.raises(BadInput, match=r"--u: expected .* above 0, got 0"):
        verification(left, day(0), (0.0, 0.0, None), 0.0)


def test_what_is_not_given_is_named() -> None:
    """A first one names all that has no figure, a later one only what differs each time."""
    bare = make_setup(facts(world(BASE, machine={"repeatability": None})), None)
    got = compare(bare, verification(bare, day(0), (295.0, 185.0, None), 0.02))
    assert got.not_given == (NO_SURVEY, "homing", "machine")
    again = compare(bare, got.verification, [got.verification])
    assert again.not_given == ("homing", "machine")


@pytest.mark.parametrize(
    ("off", "words"),
    [
        ((100.2, 0.1), "about one hole to the right"),
        ((-200.0, 0.0), "about two holes to the left"),
        ((0.3, 399.9), "about 4 holes farther from you"),
        ((97.0, -103.0), "about one hole to the right and one hole nearer to you"),
        ((94.0, 0.0), None),
        ((3.0, 3.0), None),
        ((50.0, 0.0), None),
    ],
)
def test_another_hole_is_recognised(left: Setup, off: Off, words: str | None) -> None:
    """A deviation within a twentieth of a pitch of whole pitches is told in holes."""
    assert compare(left, found(left, off)).wrong_hole == words


def test_holes_are_counted_along_the_bed() -> None:
    """On a bed turned by 90 degrees the next column lies farther from who stands in front."""
    turned = make_setup(
        facts(world(BASE, bed={"pose": PoseEntry(x=900, y=55, angle=90)}), "left"), None
    )
    told = compare(turned, found(turned, (0.0, 100.0))).wrong_hole
    assert told == "about one hole farther from you"


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ((11.60, 7.30, None), "X and Y look like inches taken as mm"),
        ((294.7, 7.30, None), "Y looks like inches taken as mm"),
        ((7486.0, 4711.0, None), "X and Y look like mm taken as inches"),
        ((11.60, 7.30, -3.228), "X, Y and Z look like inches taken as mm"),
        ((11.60, 185.5, -10.0), None),
        ((294.7, 185.5, None), None),
    ],
)
def test_another_unit_is_recognised(
    left: Setup, place: tuple[float, float, float | None], words: str | None
) -> None:
    """Axes that are far off and agree in the other unit are named (case A: 294.727, 185.492)."""
    got = compare(left, verification(left, day(0), place, U_MM))
    assert got.wrong_unit == words


def test_no_limits_below_eight(left: Setup) -> None:
    """Seven verifications have neither limits nor signals; the eighth brings limits."""
    logged = [found(left, off, at) for at, off in enumerate(scattered(left, FEWEST))]
    seven, eight = chart("a", logged[:7]).current, chart("a", logged).current
    assert [axis.axis for axis in seven.axes] == ["X", "Y"]
    assert all(axis.limits is None and not any(axis.beyond) for axis in seven.axes)
    assert not any(any(axis.cusum.signals) for axis in seven.axes)
    assert all(axis.limits is not None for axis in eight.axes)


def test_chart_begins_anew_at_restarts(left: Setup) -> None:
    """Verifications after a restart form their own period; restarts between none are joined."""
    logged = [found(left, off, at) for at, off in enumerate(scattered(left, 12))]
    cuts = [
        Restart(day(4), ("pin peg-20",)),
        Restart(day(3) + "~", ("survey 2026-02-01",)),
        Restart("2026-01-01", ("registered",)),
        Restart("2026-12-31", ("registered",)),
    ]
    got = chart("a", logged, cuts)
    assert [len(period.verifications) for period in got.periods] == [4, 8]
    assert [period.restart and period.restart.why for period in got.periods] == [
        "registered",
        "survey 2026-02-01, pin peg-20",
    ]
    assert got.current.verifications == () and got.current.axes == ()
    assert got.current.restart == Restart("2026-12-31", ("registered",))


def test_same_reason_is_told_once(left: Setup) -> None:
    """Two restarts for one reason and no verification between them are one, the later."""
    logged = [found(left, (0.0, 0.0), 9)]
    got = chart("a", logged, [Restart(day(1), ("registered",)), Restart(day(2), ("registered",))])
    assert got.current.restart == Restart(day(2), ("registered",))


def test_z_has_a_chart_of_its_own(left: Setup) -> None:
    """Z values belong to the verifications that measured it, and only those of now are judged."""
    logged = [found(left, (0.0, 0.0, 0.01) if at % 2 else (0.0, 0.0), at) for at in range(5)]
    period = chart("a", logged).current
    assert period.axes[2].places == (1, 3) and period.axes[2].axis == "Z"
    assert [axis.axis for axis in period.of_last()] == ["X", "Y"]


def test_mistake_counts_in_no_limit(left: Setup) -> None:
    """One verification at another hole changes the limits of the others by nothing."""
    offs = scattered(left, 10)
    spoiled = [*offs[:5], (100.0, 0.0), *offs[5:]]
    clean, mixed = (
        chart("a", [found(left, off, at) for at, off in enumerate(each)]).current.axes[0]
        for each in (offs, spoiled)
    )
    assert mixed.limits == pytest.approx(clean.limits, abs=1e-9)
    assert mixed.beyond[5] and not mixed.ordinary[5]
    assert [at for at, _ in mixed.ranges] == [1, 2, 3, 4, 6, 7, 8, 9, 10]


def test_advice_is_nothing_in_control(left: Setup) -> None:
    """In control nothing is advised; until limits come it is said when."""
    few, many = advised(left, [(0.01, 0.0)] * 3), advised(left, [*scattered(left, 9), (0.0, 0.0)])
    assert few.action == many.action == "nothing"
    assert few.text.endswith("Limits of the chart come after 5 more.")
    assert "Limits" not in many.text


def test_single_point_asks_to_check_the_pins(left: Setup) -> None:
    """The first verification far off, and one off among good ones, ask for a look at the pins."""
    first = advised(left, [(0.2, 0.0)])
    assert first.action == "check the pins" and "chips" in first.text
    assert "the holes are not where they should be" in first.text
    assert f"Not counted, since not given: {NO_SURVEY}, homing." in first.text
    later = advised(left, [*scattered(left, 10), (0.3, 0.0)])
    assert (
        later.action == "check the pins"
        and "outside the limits of its own chart in X" in later.text
    )


def test_z_alone_asks_for_chips(left: Setup) -> None:
    """Where only Z is off the words are about what lies under the jig."""
    got = advised(left, [(0.0, 0.0, 0.4)])
    assert got.action == "check the pins" and "chips under the jig" in got.text


@pytest.mark.parametrize("count", [2, 5, 12])
def test_constant_deviation_asks_for_a_survey(left: Setup, count: int) -> None:
    """A zero that comes back to the same wrong place, twice or a dozen times, asks for a survey."""
    got = advised(left, [*scattered(left, count - 1, off=(0.3, 0.0)), (0.3, 0.0)])
    assert got.action == "survey again" and "comes back, but to another place" in got.text
    assert "More than the budget allows" in got.text


@pytest.mark.parametrize("count", [1, 2, 5, 12])
def test_what_the_budget_has_asks_for_nothing(left: Setup, count: int) -> None:
    """A zero that comes back 0.08 mm off, as far as holes may have it, is nothing to look for."""
    got = advised(left, [*scattered(left, count - 1, off=(0.08, 0.0)), (0.08, 0.0)])
    assert got.action == "nothing"


def test_the_usual_place_is_the_conditional_mean(left: Setup) -> None:
    """After some verifications it is what normal variables expect of the fixed part, given them.

    Against the joint covariance of all, inverted by NumPy (JCGM 102, annex on conditional
    distributions, from memory).
    """
    offs = [(0.05, -0.02), (0.06, 0.01), (0.03, 0.0)]
    logged = [found(left, off, at) for at, off in enumerate(offs)]
    got = usual_place(left, logged)
    fixed, varying = (
        np.array([[each.xx, each.xy], [each.xy, each.yy]])
        for each in (left.budget.fixed, compare(left, logged[0]).covariances[0])
    )
    joint = np.kron(np.ones((3, 3)), fixed) + np.kron(np.eye(3), varying)
    with_fixed = np.kron(np.ones((1, 3)), fixed)
    gain = with_fixed @ np.linalg.inv(joint)
    assert got.at_mm == pytest.approx(tuple(gain @ np.array(offs).ravel()), abs=1e-12)
    left_over = fixed - gain @ with_fixed.T
    assert got.covariance == pytest.approx(
        (left_over[0, 0], left_over[1, 1], left_over[0, 1]), abs=1e-15
    )
    assert got.readings == 3
    far = usual_place(left, [*logged, found(left, (5.0, 0.0), 4)])
    assert far == got  # a mistake carries nothing


def test_verifications_of_good_stations_beyond(left: Setup) -> None:
    """Of 4,000 stations drawn with all that their budget has, 4 to 6 % are beyond at first.

    And at their fourth, where those before carry what is the same each time.
    """
    draws, settings, rng = 4_000, 4, np.random.default_rng(20)
    fixed = monte_carlo(budget_case(["hole position", "pin body"]), draws, 21)[:, :2]
    varying = monte_carlo(budget_case(["pin fit", "machine"]), draws * settings, 22)[:, :2]
    varying += rng.normal(0.0, U_MM, varying.shape)
    offs = fixed[:, None] + varying.reshape(draws, settings, 2)
    expected = compare(left, found(left, (0.0, 0.0))).expected
    beyond = np.mean(expected.distance2((offs[:, 0, 0], offs[:, 0, 1])) > CHI2_LIMIT)
    assert 0.04 <= beyond <= 0.06
    late = [
        compare(left, logged[-1], logged[:-1]).verdict == "beyond"
        for logged in ([found(left, tuple(off)) for off in each] for each in offs[:800])
    ]
    assert 0.03 <= np.mean(late) <= 0.07


def test_constant_z_asks_for_heights(left: Setup) -> None:
    """Z that is off alike each time asks for heights and thicknesses."""
    got = advised(left, [(0.0, 0.0, 0.4), (0.0, 0.0, 0.41)])
    assert got.action == "survey again" and "heights" in got.text


def test_chance_asks_for_no_survey(left: Setup) -> None:
    """Beyond by chance, inside the chart's limits and around the computed place: the pins at most.

    One good one in twenty is beyond; of these a survey is asked for in one of five at most.
    """
    actions = [
        advised(left, scattered(left, count, seed)).action
        for count in (2, 5, 10)
        for seed in range(150)
    ]
    assert actions.count("nothing") > 0.92 * len(actions)
    assert actions.count("survey again") < 0.012 * len(actions)


def test_two_that_differ_ask_to_check_the_pins(left: Setup) -> None:
    """Off to one side and then to the other is no constant deviation, in the plane and in Z."""
    assert advised(left, [(-0.12, 0.0), (0.12, 0.0)]).action == "check the pins"
    assert advised(left, [(0.0, 0.0, -0.4), (0.0, 0.0, 0.4)]).action == "check the pins"


@pytest.mark.parametrize(
    ("axis", "step", "words"),
    [
        (0, 0.008, "farther to the right"),
        (0, -0.008, "farther to the left"),
        (1, 0.008, "farther from you"),
        (2, -0.008, "lower"),
    ],
)
def test_slow_drift_asks_for_a_survey(left: Setup, axis: int, step: float, words: str) -> None:
    """A drift of a quarter of the scatter each time is found, with its side, size and begin."""
    rng = random.Random(8)
    offs: list[Any] = []
    for at in range(24):
        off = [rng.gauss(0, 0.03), rng.gauss(0, 0.03), rng.gauss(0, 0.03)]
        off[axis] += step * at
        offs.append(tuple(off))
    got = advised(left, offs)
    assert got.action == "survey again" and "It drifts" in got.text and words in got.text


def test_wrong_hole_asks_to_check_the_pins(left: Setup) -> None:
    """A deviation of a pitch is told in holes, before any chart is asked."""
    got = advised(left, [*scattered(left, 10), (100.02, 0.03)])
    assert got.action == "check the pins" and "about one hole to the right" in got.text


def test_wrong_unit_is_mentioned(left: Setup) -> None:
    """Figures that fit in the other unit: the unit comes first, then the pins."""
    logged = verification(left, day(0), (11.60, 7.30, None), U_MM)
    got = advice(compare(left, logged), chart("a", [logged]).current)
    assert "look like inches taken as mm" in got.text and "unit written" in got.text


def neighbour(setup: Setup, off: Off, name: str = "right") -> Neighbour:
    """Another station that deviates so."""
    return Neighbour(name, compare(setup, found(setup, off)))


def test_neighbours_the_same_way_ask_for_a_survey(left: Setup) -> None:
    """Two stations beyond in one direction and by like amounts: the bed has moved."""
    got = advised(left, [(0.2, 0.05)], [neighbour(left, (0.25, 0.0)), neighbour(left, (0.2, 0.0))])
    assert got.action == "survey again" and "so is right, the same way" in got.text


@pytest.mark.parametrize("off", [(-0.2, 0.0), (0.0, 0.2), (0.01, 0.0), (0.9, 0.0)])
def test_other_neighbours_say_nothing(left: Setup, off: Off) -> None:
    """A neighbour that is within, goes another way or much farther is no sign of a moved bed."""
    assert advised(left, [(0.2, 0.0)], [neighbour(left, off)]).action == "check the pins"


def test_nothing_is_called_safe(left: Setup) -> None:
    """No sentence of advice promises safety."""
    cases = [[(0.0, 0.0)], [(0.12, 0.0)], [(0.12, 0.0)] * 3, [(100.0, 0.0)], [(0.0, 0.0, 0.4)] * 2]
    for offs in cases:
        assert "safe" not in advised(left, offs).text.casefold()


def test_deviation_is_told_with_sides(left: Setup) -> None:
    """Sides are the operator's: right and left, nearer and farther, high and low."""
    got = deviation_text(compare(left, found(left, (0.03, -0.04, -0.2))))
    assert got == "0.050 mm off (0.030 to the right, 0.040 nearer to you, 0.200 low)"


def charted(setup: Setup) -> list[Any]:
    """Charts of two nests: one with a mistake, a restart and a drift; one never verified."""
    rng = random.Random(9)
    offs = [(rng.gauss(0, 0.03) + 0.01 * max(0, at - 14), rng.gauss(0, 0.03)) for at in range(30)]
    offs[3] = (100.0, 0.0)
    logged = [found(setup, off, at) for at, off in enumerate(offs)]
    cuts = [Restart("2026-01-01", ("registered",)), Restart(day(5), ("pin <peg>",))]
    return [chart("a", logged, cuts), chart("b", [])]


def test_drawing_is_svg_with_every_point(left: Setup) -> None:
    """The file is well-formed XML, holds every verification twice (X, Y) and marks the drift."""
    charts = charted(left)
    svg = render_history_svg("left", charts, "mm")
    root = ElementTree.fromstring(svg)
    circles = [each for each in root.iter() if each.tag.endswith("circle")]
    points = [each for each in circles if each.get("fill") == "#000"]
    ranges = sum(len(axis.ranges) for period in charts[0].periods for axis in period.axes)
    assert len(points) == 2 * 30 + ranges + 2  # two in the legend
    triangles = [e for e in root.iter() if e.tag.endswith("polygon") and e.get("fill") == "#fff"]
    signals = sum(sum(map(abs, a.cusum.signals)) for s in charts[0].periods for a in s.axes)
    assert signals > 0 and len(triangles) == signals + 1
    texts = [each.text or "" for each in root.iter() if each.tag.endswith("text")]
    assert "+100.000" in texts and "not verified yet" in texts
    assert f"{day(5)[:10]} pin <peg>" in texts


def test_drawing_has_no_colour(left: Setup) -> None:
    """Every stroke and fill is a grey, so that it prints in black and white."""
    drawing = history_drawing("left", charted(left), "mm")
    for colour in re.findall(r'(?:fill|stroke)="(#[0-9a-f]+)"', drawing):
        assert len(set(colour[1:])) == 1, colour


def test_drawing_in_inches_shows_inches(left: Setup) -> None:
    """In inches the figures are the same lengths over 25.4, with four digits."""
    charts = charted(left)
    upper = charts[0].current.axes[0].limits.upper
    assert f"limit +{upper:.3f}" in history_drawing("left", charts, "mm")
    assert f"limit +{upper / 25.4:.4f}" in history_drawing("left", charts, "in")


def test_page_tells_what_to_do_and_lists_all(left: Setup) -> None:
    """The page has the advice, each verification as a row, and what began each chart, escaped."""
    charts = charted(left)
    said = advice(compare(left, charts[0].current.verifications[-1]), charts[0].current)
    page = render_history_page("left", [(charts[0], said), (charts[1], None)], "mm", None)
    assert f"Nest a: {said.action}" in page and "Nest b: verify" in page
    assert page.count('<tr><td class="day">2026-') == 30
    assert "chart begun: 2026-02-19 pin &lt;peg&gt;" in page and "<peg>" not in page
    assert "X far out, counts in no limit" in page and "X drifts to plus" in page


def test_limits_are_no_finer_than_the_measuring(left: Setup) -> None:
    """Eight equal read-outs and one a hundredth off, which is what is measured to."""
    logged = [found(left, (0.0, 0.0), at) for at in range(8)]
    logged.append(found(left, (-0.01, 0.0), 8))
    axis = chart("a", logged).current.axes[0]
    assert axis.limits is not None and not any(axis.beyond)
    assert axis.limits.upper - axis.limits.centre >= logged[0].u_mm


def test_same_readings_each_time_are_drawn(left: Setup) -> None:
    """Readings without scatter give no limits, and have a drawing, as a single one has."""
    for count in (1, 9):
        logged = [found(left, (0.1, 0.1, 0.1), at) for at in range(count)]
        period = chart("a", logged).current
        assert all(axis.limits is None and not any(axis.beyond) for axis in period.axes)
        assert "nest a" in render_history_svg("left", [chart("a", logged)], "mm")


def test_a_chart_tells_how_large_a_shift_it_would_see(left: Setup) -> None:
    """From eight good ones on `verify`, its JSON and the page tell the same; before, nothing."""
    logged = [found(left, off, at) for at, off in enumerate(scattered(left, 9))]
    compared = compare(left, logged[-1], logged[:-1])
    few, now = chart("a", logged[:7]), chart("a", logged)
    said = advice(compared, now.current)
    sentence = sees_text(now.current, "mm")
    x_mm, y_mm = (axis.sees_mm for axis in now.current.axes)
    assert x_mm is not None and y_mm is not None
    assert (
        f"With 9 good ones so far the chart sees a lasting shift from X {x_mm:.3f} mm" in sentence
    )
    assert sentence in verify_text(left, compared, now, said)
    assert sentence in render_history_page("left", [(now, said)], "mm", None)
    assert verify_json(left, compared, now, said)["sees_mm"] == {"x": x_mm, "y": y_mm}
    assert sees_text(few.current, "mm") == ""
    assert verify_json(left, compared, few, said)["sees_mm"] == {"x": None, "y": None}


def test_a_drifting_axis_tells_no_shift_to_be_seen(left: Setup) -> None:
    """Where the chart already tells of a drift, nothing is said of what it would see."""
    offs = [(x + 0.04 * at, y) for at, (x, y) in enumerate(scattered(left, 20))]
    axes = chart("a", [found(left, off, at) for at, off in enumerate(offs)]).current.axes
    assert axes[0].cusum.signals[-1] and axes[0].sees_mm is None
    assert axes[1].sees_mm is not None


def test_shifts_of_the_told_size_show(left: Setup) -> None:
    """By simulation with each chart's own scatter: some 9 of 10 show within the next ten."""
    shown, trials = 0, 250
    for seed in range(trials):
        offs = scattered(left, 8 + NEXT, seed=seed)
        first = chart("a", [found(left, off, at) for at, off in enumerate(offs[:8])]).current
        size = first.axes[0].sees_mm
        if size is None:  # one of many begins with a false alarm
            continue
        offs = [(x + size * (at >= 8), y) for at, (x, y) in enumerate(offs)]
        now = chart("a", [found(left, off, at) for at, off in enumerate(offs)]).current.axes[0]
        shown += any(now.cusum.signals[8:])
    assert 0.83 <= shown / trials <= 0.98, shown / trials


def test_what_began_a_chart_stands_behind_its_line(left: Setup) -> None:
    """The line at which a chart begins anew does not go through the words that say why."""
    svg = history_drawing("left", charted(left), "mm")
    upright = r'<line x1="(\S+)" y1="\S+" x2="\1" y2="\S+" fill="none" stroke="#777"'
    lines = sorted(map(float, re.findall(upright, svg)))
    words = re.findall(r'<text x="(\S+)"[^>]*>[-0-9]{10} (?:registered|pin)', svg)
    assert len(words) == len(lines) == 2
    assert all(float(x) >= line + 0.5 for x, line in zip(words, lines, strict=True))
