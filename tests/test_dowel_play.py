"""Dowel jigs: what play in their own round hole and slot does, and pins that stand proud."""

from __future__ import annotations

import math

import pytest
from oracles.worked import assert_close
from test_dowels import ON_DOWELS
from worlds import facts, world

from pincorner.errors import Refused
from pincorner.setups.budget import Budget
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups

ROUNDING_MM = 1e-12
SQRT_2 = math.sqrt(2.0)
ROUND_PLAY_MM, SLOT_PLAY_MM, APART_MM = 0.08, 0.20, 400.0
STILL = (
    ON_DOWELS.replace("hole: 20.02, hole_position: 0.04", "hole: 20, hole_position: 0")
    .replace("hole: 20.05", f"hole: {20 + ROUND_PLAY_MM}")
    .replace("width: 20.05", f"width: {20 + SLOT_PLAY_MM}")
    .replace("repeatability: 0.02", "repeatability: 0")
)
"""Pins fast in exact holes, so that nothing but the jig's own holes gives play."""


def bars(text: str) -> Setup:
    """The first nest of station bars."""
    return make_setups(facts(world(text), "bars"))[0]


def budget_at(zero: str) -> Budget:
    """The budget with the zero at a place of the jig."""
    return bars(STILL.replace("zero: [45, 20]", f"zero: {zero}")).budget


def test_play_in_the_round_hole_moves_along_and_across() -> None:
    """At the round hole the jig may lie at the rim of a disc of half its play, to any side.

    JCGM 101:2008, 6.4.6, for the arc sine of half-width R: R/sqrt(2) per axis.
    """
    together = budget_at("[20, 100]").together
    assert_close(together.x_mm, ROUND_PLAY_MM / 2 / SQRT_2, ROUNDING_MM, "a product and a root")
    assert_close(together.y_mm, ROUND_PLAY_MM / 2 / SQRT_2, ROUNDING_MM, "a product and a root")


def test_play_in_the_slot_counts_across_only() -> None:
    """At the slot its own play shows across, while along the jig moves with the round hole."""
    together = budget_at("[420, 100]").together
    assert_close(together.x_mm, ROUND_PLAY_MM / 2 / SQRT_2, ROUNDING_MM, "a product and a root")
    assert_close(together.y_mm, SLOT_PLAY_MM / 2 / SQRT_2, ROUNDING_MM, "a product and a root")


def test_play_in_both_turns_the_jig() -> None:
    """The jig turns by the difference of the plays across, over the distance of the holes."""
    swing = math.degrees(math.hypot(ROUND_PLAY_MM, SLOT_PLAY_MM) / 2 / SQRT_2 / APART_MM)
    assert_close(budget_at("[45, 20]").together.angle_deg, swing, 1e-12, "a product and a root")


def test_a_dowels_body_is_play_and_no_place() -> None:
    """On dowels a body's tolerance moves nothing, and one that is not given is not asked for."""
    without = STILL.replace(", body_tolerance: 0.01", "")
    assert without != STILL
    given = bars(STILL).budget
    assert given == bars(without).budget
    assert "pin body" not in [*given.not_given, *(row.source for row in given.rows)]


@pytest.mark.parametrize(
    ("under", "reach_mm"),
    [(0.0, 0.1 + 0.04), (6.0, 0.1 + 6 * 0.08 / 16 + 0.04), (14.0, 0.1 + 14 * 0.2 / 20 + 0.04)],
)
def test_a_jigs_hole_stops_a_dowel_from_leaning(under: float, reach_mm: float) -> None:
    """Play 0.2 in 20 mm of bed, 0.08 in the jig: its hole, from the sheet to 22 mm, sees no lean
    at the surface, on 6 mm what it leaves over 16 mm, on 14 mm all that the bed's hole allows."""
    text = STILL.replace("hole: 20,", "hole: 20.2,")
    text = text.replace("width: 20.2,", "width: 20.08,").replace(
        "zero: [45, 20]", "zero: [20, 100]"
    )
    text = text.replace("jig: cradle", f"jig: cradle\n    under: {under}")
    together = bars(text).budget.together
    for sd_mm in (together.x_mm, together.y_mm):
        assert_close(sd_mm, reach_mm / SQRT_2, ROUNDING_MM, "a product and a root")


@pytest.mark.parametrize(("under", "proud_mm"), [(0, 2.0), (0.5, 1.5), (2, None), (3, None)])
def test_a_waste_sheet_takes_up_proud_pins(under: float, proud_mm: float | None) -> None:
    """A pin 22 mm high stands into the part by what seat and sheet under the jig leave of it."""
    text = ON_DOWELS.replace("seat: 24", "seat: 20")
    text = text.replace("jig: cradle", f"jig: cradle\n    under: {under}")
    found = {finding.code: finding for finding in bars(text).findings}
    if proud_mm is None:
        assert "pin-proud" not in found
    else:
        assert found["pin-proud"].figure_mm == pytest.approx(proud_mm, abs=ROUNDING_MM)
        assert f"stands {proud_mm:.1f} mm above the seat" in found["pin-proud"].text


@pytest.mark.parametrize(
    ("travel", "off", "fits"), [(4, 1.9, True), (4, 2.1, False), (1, 0.6, False)]
)
def test_the_slot_gives_way_to_both_sides(travel: float, off: float, fits: bool) -> None:
    """Travel is stated end to end: a pin may stand half of it off the middle, either way."""
    for way in (off, -off):
        text = ON_DOWELS.replace("travel: 4", f"travel: {travel}")
        place = world(text.replace("[420, 100]", f"[{420 + way}, 100]"))
        if fits:
            make_setups(facts(place, "bars"))
        else:
            with pytest.raises(Refused, match=f"{off:.3f} mm off the middle .* {travel / 2:.3f}"):
                make_setups(facts(place, "bars"))
