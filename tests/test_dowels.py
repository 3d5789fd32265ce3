"""Jigs on two dowels: where they lie, how well that is known, and what is refused."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from oracles.second_method import place_on_dowels
from oracles.worked import assert_close, reference
from thinning import thinned
from worlds import BASE, facts, world

from pincorner.documents.beds import Extra, PoseEntry
from pincorner.errors import DocumentErrors, Refused
from pincorner.setups.facts import UsedHole, UsedHoles
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups

um = 1e-3

ON_DOWELS = BASE.replace(
    "stations:",
    """  - name: cradle
    footprint: [440, 200]
    locate: {round: {at: [20, 100], hole: 20.05}, slot: {at: [420, 100], width: 20.05, travel: 4}}
    seat: 24
    height: 42
    nests:
      - {name: a, zero: [45, 20], stock: {size: [160, 160, 28]}}
      - {name: b, zero: [235, 20], angle: 30, stock: {size: [160, 160, 28]}}
stations:
  - name: bars
    bed: long-bench
    jig: cradle
    pin: peg-20
    pins: {round: I5, slot: M5}
    work_offsets: {a: G57, b: G58}""",
)


def bars(pins: str = "{round: I5, slot: M5}", **bed: object) -> list[Setup]:
    """The setups of station bars on given pins; `bed` changes keys of the bed."""
    text = ON_DOWELS.replace("{round: I5, slot: M5}", pins)
    return make_setups(facts(world(text, bed=bed), "bars"))


def turned(angle_rad: float, vector: tuple[float, float]) -> tuple[float, float]:
    cos, sin = math.cos(angle_rad), math.sin(angle_rad)
    return cos * vector[0] - sin * vector[1], sin * vector[0] + cos * vector[1]


@pytest.mark.parametrize("seed", range(12))
def test_zero_agrees_with_the_second_method(seed: int) -> None:
    """The zero of a jig on dowels is where a numerical search puts it, whichever way it lies."""
    draw = random.Random(seed)
    round_hole, slot_hole = draw.choice(
        [("I5", "M5"), ("M5", "I5"), ("F2", "F6"), ("F6", "F2"), ("C3", "G3"), ("K8", "K4")]
    )
    pose = PoseEntry(x=60, y=55, angle=draw.uniform(-3, 3))
    extra = (Extra(name=slot_hole, at=(0.0, 0.0)),)
    plain = bars(f"{{round: {round_hole}, slot: {slot_hole}}}")[0]
    (rx, ry), (sx, sy) = (pin.at_mm for pin in plain.located.pins)
    moved = (sx + draw.uniform(-0.6, 0.6), sy + draw.uniform(-0.6, 0.6))
    extra = (Extra(name=slot_hole, at=moved),)
    setups = bars(f"{{round: {round_hole}, slot: {slot_hole}}}", pose=pose, extra=extra)
    x, y, angle = place_on_dowels((rx, ry), moved, (20.0, 100.0), (420.0, 100.0))
    for setup in setups:
        dx, dy = turned(angle, setup.nest.zero)
        bx, by = turned(math.radians(pose.angle), (x + dx, y + dy))
        zero = setup.zero_in_machine
        assert_close(zero.x_mm, 60 + bx, 1e-6, because="both methods solve to a nanometre")
        assert_close(zero.y_mm, 55 + by, 1e-6, because="both methods solve to a nanometre")
        want = pose.angle + math.degrees(angle) + setup.nest.angle
        off = math.remainder(setup.angle_deg - want, 360)
        assert_close(off, 0.0, 1e-6, because="both methods solve to a millionth of a degree")


def test_largest_swing_of_the_handbook_is_two_of_ours() -> None:
    """Play c in both holes, L apart: swing (c + c) / (2 L), and our sd is c / (2 L).

    Source of the swings: references/two_pins.yaml (derived and brute-forced there).
    """
    for case in reference("two_pins")["slotted"]:
        length = case["distance_mm"]
        text = (
            ON_DOWELS.replace("hole: 20.02", "hole: 20.00")
            .replace("[420, 100]", f"[{20 + length}, 100]")
            .replace("hole: 20.05", "hole: 20.035")
            .replace("width: 20.05", "width: 20.035")
            .replace("hole_position: 0.04", "hole_position: 0")
        )
        place = world(text, bed={"extra": (Extra(name="M5", at=(800.0 + length, 400.0)),)})
        rows = make_setups(facts(place, "bars"))[0].budget.rows
        fit = next(row for row in rows if row.source == "pin fit")
        swing = 2 * math.radians(fit.angle_deg)
        assert_close(
            swing, case["swing_rad"], case["half_last_digit_rad"], because="printed digits"
        )


def test_spread_agrees_with_a_simulation() -> None:
    """Pins pushed to any side in their holes and the jig on them: the budget's pin fit (JCGM 101).

    A jig's hole that begins at the surface does not see a pin lean.
    """
    draw = np.random.default_rng(7)
    setup = bars()[0]
    count, zero = thinned(2000), setup.nest.zero

    def rim(radius: float) -> np.ndarray:
        angle = draw.uniform(0, 2 * np.pi, count)
        return radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)

    round_at = np.array([800.0, 400.0]) + rim((0.02 + 0.05) / 2)
    slot_at = np.array([1200.0, 400.0]) + rim((0.02 + 0.05) / 2)
    found = []
    for start, end in zip(round_at, slot_at, strict=True):
        x, y, angle = place_on_dowels(tuple(start), tuple(end), (20.0, 100.0), (420.0, 100.0))
        dx, dy = turned(angle, zero)
        found.append((x + dx, y + dy, math.degrees(angle)))
    spread = np.std(np.array(found), axis=0)
    fit = next(row for row in setup.budget.rows if row.source == "pin fit")
    for got, want in zip(spread, (fit.x_mm, fit.y_mm, fit.angle_deg), strict=True):
        within = 4 / math.sqrt(2 * count)
        assert_close(got, want, within * want, because="4 standard errors of so many draws")


def test_a_pin_off_the_slot_is_refused_with_the_figure() -> None:
    """The slot gives way by half its travel, no more."""
    bars(extra=(Extra(name="M5", at=(1201.999, 400.0)),))
    with pytest.raises(Refused, match=r"2\.001 mm off the middle .* 2\.000 mm"):
        bars(extra=(Extra(name="M5", at=(1202.001, 400.0)),))


@pytest.mark.parametrize("keys", ["toward: +x+y", "corner: C2", "turn: 90"])
def test_dowels_leave_no_room_for_corner_keys(keys: str) -> None:
    """corner, toward and turn follow from dowels; stating them is refused when the file is read."""
    with pytest.raises(DocumentErrors, match="on dowels"):
        world(
            ON_DOWELS.replace(
                "    pin: peg-20\n    pins: {round",
                f"    pin: peg-20\n    {keys}\n    pins: {{round",
            )
        )


def test_dowels_that_stand_proud_or_tight_are_found() -> None:
    """A dowel above the seat stands into the part; one larger than its hole does not go in."""
    text = ON_DOWELS.replace("seat: 24", "seat: 20").replace("width: 20.05", "width: 19.9")
    setup = make_setups(facts(world(text), "bars"))[0]
    found = {finding.code: finding.figure_mm for finding in setup.findings}
    assert found["pin-proud"] == pytest.approx(2.0, abs=um)
    assert found["dowel-tight"] == pytest.approx(0.1, abs=um)
    assert "pin-proud" not in {finding.code for finding in bars()[0].findings}


@pytest.mark.parametrize(("pin", "told"), [("peg-20", []), ("peg-12", ["pin-under-jig"])])
def test_a_dowel_that_another_station_has_too_is_not_in_the_way(pin: str, told: list[str]) -> None:
    """The same pin in the same hole serves both stations; another kind of pin there is told."""
    found = facts(world(ON_DOWELS), "bars")
    place = found.bed.hole("I5")
    assert place is not None
    used = UsedHoles(
        [
            UsedHole(
                place.at_mm,
                "I5",
                found.pins["peg-20"].model_copy(update={"name": pin}),
                ("twin", "twin"),
            )
        ]
    )
    findings = make_setups(found._replace(used=used))[0].findings
    assert [each.code for each in findings if each.code.startswith("pin")] == told
