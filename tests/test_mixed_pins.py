"""Stations whose pins differ from each other: each counts, and is told, as what it is."""

from __future__ import annotations

import math

import pytest
from oracles.worked import assert_close
from test_sheet import Page, sheet_of
from worlds import BASE, facts, world

from pincorner.setups.budget import BudgetRow
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups

ROUNDING = 1e-12
# Case A0 by hand: the zero lies 65 and 365 before the contacts at D2 and G2, which are 300 apart,
# and 170 beside the one at C4.
SHARES = {"D2": (170 / 300, 365 / 300, 1 / 300), "G2": (170 / 300, 65 / 300, 1 / 300),
          "C4": (1.0, 0.0, 0.0)}  # fmt: skip
"""How far the zero moves along X and Y (mm) and turns (rad) for 1 mm at one contact."""

LOOSE_SD_MM = (0.10 / 2 + 0.10 * 30 / 20) / 2
"""guide, Budget: R = c/2 + c e/d for play 0.10 and contact 30 mm up a hole 20 mm deep; R/2."""
UNSURE_SD_MM = 0.06 / (2 * math.sqrt(3))
"""guide, Budget: a body uniform within 0.06 on its diameter."""

PINS = """
pins:
  - {name: peg-20, shank: 20.02, body: 20.00, height: 22, body_tolerance: 0}
  - {name: loose, shank: 19.92, body: 20.00, height: 30, body_tolerance: 0.06}
  - {name: thin, shank: 20.02, body: 12.50, height: 22}
"""


def mixed(hole: str, pin: str) -> Setup:
    """Case A0 with another pin in one of its holes."""
    start, rest = BASE.partition("pins:")[0], BASE[BASE.index("jigs:") :]
    entry = f"{{hole: {hole}, pin: {pin}}}"
    edge = [entry if each == hole else each for each in ("D2", "G2")]
    stop = entry if hole == "C4" else "C4"
    pins = f"{{edge: [{', '.join(edge)}], stop: {stop}}}"
    rest = rest.replace("{edge: [D2, G2], stop: C4}", pins)
    return make_setups(facts(world(start + PINS.strip() + "\n" + rest)))[0]


def row_of(setup: Setup, source: str) -> BudgetRow:
    """The budget's row of one source."""
    return next(row for row in setup.budget.rows if row.source == source)


@pytest.mark.parametrize("hole", SHARES)
@pytest.mark.parametrize(
    ("source", "sd_mm"), [("pin fit", LOOSE_SD_MM), ("pin body", UNSURE_SD_MM)]
)
def test_a_pin_spreads_the_zero_from_its_own_hole(hole: str, source: str, sd_mm: float) -> None:
    """Where one of three pins is loose, or unsure in its body, the zero moves as that lets it."""
    row = row_of(mixed(hole, "loose"), source)
    x, y, turn = SHARES[hole]
    assert_close(row.x_mm, x * sd_mm, ROUNDING, "products of exact figures")
    assert_close(row.y_mm, y * sd_mm, ROUNDING, "products of exact figures")
    assert_close(row.angle_deg, math.degrees(turn * sd_mm), ROUNDING, "products of exact figures")


@pytest.mark.parametrize("hole", SHARES)
def test_a_thin_pin_is_told_in_its_own_hole(hole: str) -> None:
    """Sheet and steps name each hole's own pin and body."""
    words = Page(sheet_of([mixed(hole, "thin")])).words
    for each in SHARES:
        pin, body = ("thin", "12.5") if each == hole else ("peg-20", "20")
        edge = "LEFT" if each == "C4" else "FRONT"
        assert f" {each} {pin}, {body} mm; its {edge} edge, to you" in words
        assert " NO BLOCK " in words or f" in {each} ({pin})" in words


@pytest.mark.parametrize(("hole", "moves"), [("D2", False), ("G2", False), ("C4", True)])
def test_a_thin_stop_lets_the_jig_come_nearer(hole: str, moves: bool) -> None:
    """A stop 7.5 mm thinner lets the zero come 3.75 mm nearer; a thin edge pin turns the jig."""
    setup = mixed(hole, "thin")
    if moves:
        assert_close(setup.zero_in_machine.x_mm, 295 - 3.75, 1e-9, "sums of exact figures")
        assert setup.angle_deg == 0
    else:
        lean = math.degrees(math.asin(3.75 / 300))
        assert_close(abs(setup.angle_deg), lean, 1e-9, "external tangent of two discs")


def test_a_pin_not_given_for_its_body_is_said() -> None:
    """One pin of three without body tolerance is told as not given; the others still count."""
    assert "pin body" in mixed("C4", "thin").budget.not_given
    assert "pin body" not in mixed("C4", "loose").budget.not_given
