"""Stations whose zero was measured in the machine: everywhere like others, with no pins made up."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import pytest
from conftest import Run
from worlds import BASE, entries, facts, setups, world

from pincorner.documents.records import Disturbance
from pincorner.documents.stations import MeasuredZero
from pincorner.errors import DocumentErrors, Refused
from pincorner.setups.locating import locate
from pincorner.setups.setup import Setup
from pincorner.standing import standing_of
from pincorner.surveys.drift import compare, verification
from pincorner.surveys.drift_advice import advice_as_measured

STATION = """
  - name: set
    bed: long-bench
    jig: panel-tray
    measured: {x: 295.5, y: 184.25, z: -42.5, date: 2026-01-04, by: Ann}
    work_offsets: {a: G56}
"""
SURVEY = """
surveys:
  - name: 2026-01-04
    bed: long-bench
    readings: [[A1, 61, 54], [O1, 1461, 54.7], [A9, 60.6, 854]]
    fit: {pose: {x: 61, y: 54, angle: 0.03}, points: 3, s: 0.01, dof: 3, centroid: [467, 267],
          spread: 1733333}
"""
TEXT = BASE + STATION


def measured(more: str = "", text: str = TEXT, **changes: Any) -> Setup:
    """The setup of the station."""
    return setups(text + more, "set", **changes)[0]


def test_the_offset_is_the_one_measured() -> None:
    """X and Y are those of the document to the last bit, and no survey or bed moves them."""
    now = measured()
    for other in (now, measured(SURVEY), measured(text=TEXT.replace("x: 60, y: 55", "x: 9, y: 9"))):
        zero = other.zero_in_machine
        assert (zero.x_mm, zero.y_mm, other.angle_deg) == (295.5, 184.25, 0.0)
        assert (other.printed.own.x, other.printed.own.y, other.printed.own.z) == (
            "295.500", "184.250", "",
        )  # fmt: skip
        assert other.located.pins == () and other.skew_mm == 0
    assert measured(SURVEY).fingerprint == now.fingerprint


@pytest.mark.parametrize("bed_deg", [0.0, 0.03, 90.2, -179.9])
@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_the_jig_follows_backwards(bed_deg: float, turn: int) -> None:
    """The jig's corner, turned with the bed's nearest quarter, lies so that its zero is there."""
    pose = f"x: 60, y: 55, angle: {bed_deg}"
    setup = measured(text=TEXT.replace("x: 60, y: 55, angle: 0", pose), turn=turn)
    lies = math.radians(round(bed_deg / 90) * 90 + turn)
    corner = setup.bed_in_machine.point(setup.jig_in_bed.point((0.0, 0.0)))
    by_hand = (
        295.5 - 25 * math.cos(lies) + 20 * math.sin(lies),
        184.25 - 25 * math.sin(lies) - 20 * math.cos(lies),
    )
    assert corner == pytest.approx(by_hand, abs=1e-9)
    assert math.remainder(setup.angle_deg - math.degrees(lies), 360) == pytest.approx(0, abs=1e-9)
    zero = setup.bed_in_machine.point(setup.zero_in_bed)
    assert zero == pytest.approx((295.5, 184.25), abs=1e-9)
    assert not [each for each in standing_of(setup) if each.kind == "pin"]


def test_what_is_not_known_is_said() -> None:
    """How well it lies is not reckoned, and findings say so, and what came after that day."""
    setup = measured()
    assert setup.budget.not_given == ("measured zero",) and setup.budget.u95_worst_mm == 0
    assert [each.code for each in setup.findings] == ["as-measured"]
    assert "measured on 2026-01-04 by Ann and is not held against pins" in setup.findings[0].text
    after = measured(SURVEY).findings[-1]
    assert after.code == "measured-before" and "no later than survey 2026-01-04" in after.text
    older = MeasuredZero(x=1, y=2)
    assert older.is_before("2020-01-01") and "nobody wrote down" in older.when
    later = MeasuredZero(x=1, y=2, date="2026-01-05")
    assert not later.is_before("2026-01-04")
    off = facts(world(TEXT), "set")._replace(
        disturbed=Disturbance(name="2026-02-01", bed="long-bench")
    )
    from pincorner.setups.transform import make_setup

    told = {each.code: each.text for each in make_setup(off, None).findings}
    assert "disturbance 2026-02-01 of bed long-bench: touch X and Y off" in told["measured-before"]


def test_other_nests_follow_from_the_one_measured() -> None:
    """Of a jig with two nests the other one lies where the jig's document has it, and says so."""
    nests = (
        "nests: [{name: a, zero: [25, 20], stock: {size: [200, 240, 20]}}, "
        "{name: b, zero: [245, 30], stock: {size: [160, 240, 20]}}]"
    )
    text = re.sub(r"nests: \[.*\]", nests, TEXT)
    a, b = setups(text, "set", measured=MeasuredZero(x=500, y=300, nest="B"))
    assert (b.zero_in_machine.x_mm, b.zero_in_machine.y_mm) == (500, 300)
    zero = a.zero_in_machine
    assert (zero.x_mm, zero.y_mm) == pytest.approx((280, 290), abs=1e-9)
    assert "nest a follows from nest b by the jig's document" in a.findings[-1].text
    with pytest.raises(Refused, match="has no such nest"):
        locate(facts(world(text), "set", measured=MeasuredZero(x=1, y=2, nest="q")))


@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("pin: peg-20", "leave out pin, or measured"),
        ("corner: C2", "leave out corner, or measured"),
        ("pins: {edge: [D2, G2], stop: C4}", "leave out pins, or measured"),
        ("measured_holes: true", "leave out measured_holes, or measured"),
        ("note: x", ""),
    ],
)
def test_pins_and_a_measured_zero_exclude_each_other(key: str, told: str) -> None:
    """Who says both is asked to leave one out; who says neither is told what is expected."""
    text = BASE + STATION + f"    {key}\n"
    if not told:
        entries(text)
        text, told = text.replace("    measured:", "    #measured:"), "expected pin"
    with pytest.raises(DocumentErrors, match=told):
        entries(text)


def test_a_verification_is_held_against_it() -> None:
    """A zero found elsewhere asks for measuring again, not for a look at pins."""
    setup = measured()
    near, far = (
        compare(setup, verification(setup, "2026-02-02", (x, 184.25, None), 0.02))
        for x in (295.53, 296.5)
    )
    assert advice_as_measured(near).action == "nothing"
    assert far.wrong_hole is None and "measured zero" in far.not_given
    said = advice_as_measured(far)
    assert said.action == "measure again" and "pins" not in said.text.split("register")[0]


SHOP = """
format: 1
stations:
  - name: set
    bed: long-bench
    jig: panel-tray
    measured: {x: 295.125, y: 184.9, z: -42.5, date: 2025-03-04, by: Ann}
    work_offsets: {a: G55}
    program: hand-hold
runs: [{name: with-set, stations: [set, right], load: 90, reach: 200}]
"""


def test_every_command_takes_it(shop: Path, run: Run) -> None:
    """Block, table, sheet, map, JSON, explain and reports tell the same figures, and no pins."""
    Path("set.yaml").write_text(SHOP, encoding="utf-8")
    assert run("load", "set.yaml").code == 0
    [row] = run("offsets", "set", "--json").json["offsets"]
    assert (row["x_mm"], row["y_mm"], row["z_mm"]) == (295.125, 184.9, None)
    assert row["measured"] == {
        "x_mm": 295.125, "y_mm": 184.9, "z_mm": -42.5, "nest": None, "date": "2025-03-04",
        "by": "Ann",
    }  # fmt: skip
    figures = "X295.125 Y184.900"
    assert "295.125  184.900" in run("offsets", "set").out
    assert f"G10 L2 P2 {figures}\n" in run("block", "set").out
    told = run("explain", "set").out
    assert "measured on 2025-03-04 by Ann" in told and "Z -42.5000 was that day's tool" in told
    assert "As printed, in mm: X 295.125  Y 184.900" in told
    assert "as measured" in run("list", "stations").out and "measured:" in run("show", "set").out
    assert run("sheet", "set", "-o", "papers").code == 0
    sheet = Path("papers/set.html").read_text(encoding="utf-8")
    for words in ("As measured on 2025-03-04", "Not held against pins", "295.125", "184.900",
                  "Z of that day: −42.500 mm", row["fingerprint"]):  # fmt: skip
        assert words in sheet, words
    assert "Put in the pins" not in sheet and "touch X and Y off anew" in sheet
    assert run("map", "long-bench", "-o", "m.html", "--force").code == 0
    page = Path("m.html").read_text(encoding="utf-8")
    assert "none, as measured" in page and "295.125" in page
    unheld = "where panel-tray of station set lies: as its zero was measured"
    checked = run("check", "hand-hold", "--station", "set").out
    assert f"not looked at: {unheld}" in checked
    assert "margin not known" in checked and "only what touches is told; --margin" in checked
    given = run("check", "hand-hold", "--station", "set", "--margin", "0.2").out
    assert "margin 0.200 mm" in given and "only what touches" not in given
    stamped = run("stamp", "hand-hold", "--station", "set", "-o", "s.nc")
    assert stamped.code == 0 and figures in Path("s.nc").read_text(encoding="utf-8")
    assert f"not given: {unheld}" in re.sub(r"\s+", " ", run("run", "with-set").out)
    assert run("repeat", "hand-hold", "--stations", "set", "--retract", "-5", "-o", "r.nc").err
    found = run("verify", "set", "--x", "296", "--y", "184.9", "--u", "0.02")
    assert found.code == 1 and "measure again" in found.out
    assert "noted: set a: the zero was measured" in re.sub(r"\s+", " ", run("status").out)
    before = run("dump").out
    for words in (("refresh", "set"), ("load", "set.yaml")):
        assert run(*words).code == 0 and run("dump").out == before
    again = run("register", "set", "--pin", "peg-20", "--corner", "C2", "--toward", "+x+y")
    assert again.code == 0 and "changed: pin, pins, corner, toward, measured" in again.out
