"""Findings: what is noteworthy, told alike on table, block, sheet, map and in JSON."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import Ran
from worlds import BASE, facts, setups, world

from pincorner.documents.beds import Slat
from pincorner.documents.records import Fit, Plane, Surfacing, Survey
from pincorner.documents.stations import EdgePins, ZRule
from pincorner.errors import Refused
from pincorner.program.check.fences import fences_of
from pincorner.setups.findings import Finding
from pincorner.setups.transform import make_setups

Run = Callable[..., Ran]
SURVEY = Survey(
    name="2026-11-20",
    bed="long-bench",
    readings=(("A1", 60.0, 55.0),),
    fit=Fit(pose={"x": 60, "y": 55}, points=1, s=0.0, dof=0, centroid=(0, 0), spread=0.0),
)
CUT = Surfacing(name="2026-11-22", bed="long-bench", depth=0.4)


def found(text: str = BASE, **changes: Any) -> dict[str, Finding]:
    """Findings of station left's first nest by code; `changes` as for `world`."""
    of_station = changes.pop("station", {})
    of_facts = changes.pop("facts", {})
    these = facts(world(text, **changes), "left", **of_station)._replace(**of_facts)
    return {finding.code: finding for finding in make_setups(these)[0].findings}


def test_a_plain_station_has_none() -> None:
    """Case A0 has nothing noteworthy about it."""
    assert found() == {}


def test_outside_travel_tells_how_far() -> None:
    """A zero 0.5 mm before the travel begins is told with that figure."""
    text = BASE.replace("x: [0, 1540]", "x: [295.5, 1540]")
    finding = found(text)["outside-travel"]
    assert finding.figure_mm == pytest.approx(0.5)
    assert "295.000 mm lies 0.500 mm outside" in finding.text


THICK = BASE.replace("    grid:", "    thickness: 36\n    grid:")


@pytest.mark.parametrize(
    ("cut_mm", "told"), [(35.9, None), (36.0, None), (36.5, 0.5), (1200.0, 1164.0)]
)
def test_a_surface_below_the_underside_of_the_bed_is_told(
    cut_mm: float, told: float | None
) -> None:
    """A bed 36 mm thick cannot have lost more than that: what is beyond it is told."""
    cut = CUT.model_copy(update={"depth": cut_mm})
    text = THICK.replace("z: [-190, 0]", "z: [-2000, 0]")
    finding = found(text, facts={"surfacings": (cut,)}).get("below-bed")
    assert (finding is None) == (told is None)
    if finding is not None:
        assert finding.figure_mm == pytest.approx(told)
        assert f"{told:.3f} mm below the underside of bed long-bench" in finding.text


def test_a_surface_above_the_travel_is_told() -> None:
    """Surface 120 instead of -120: all of the travel, up to 0, would lie below the bed."""
    finding = found(BASE.replace("surface: -120", "surface: 120"))["below-bed"]
    assert finding.figure_mm == pytest.approx(120.0)
    assert "120.000 mm above the travel of gantry-1" in finding.text


# The seat of the tray is 18 mm above the surface; the travel ends at -100: by hand, with the
# surface at -120 the stock's underside lies at -102, 2 mm too low, and with -117 at -99.
@pytest.mark.parametrize(
    ("surface", "tools", "told"),
    [
        (-117, "", None),
        (-118, "", None),
        (-120, "", 2.0),
        (-120, "1: {diameter: 6}", 2.0),
        (-120, "1: {diameter: 6, stickout: 1.9}", 2.0),
        (-120, "1: {diameter: 6, stickout: 2}", None),
        (-120, "1: {diameter: 6, stickout: 38}, 2: {diameter: 6, stickout: 1}", 2.0),
    ],
)
def test_a_travel_that_ends_above_the_stock_is_told(
    surface: float, tools: str, told: float | None
) -> None:
    """Told where the spindle cannot come down to the stock's underside and tools may be short."""
    text = BASE.replace("z: [-190, 0]", "z: [-100, 0]").replace("-120", f"{surface}")
    if tools:
        text += f"programs: [{{name: p, file: p.nc, tools: {{{tools}}}}}]\n"
        text = text.replace("    work_offsets:", "    program: p\n    work_offsets:")
    finding = found(text).get("below-bed")
    assert (finding is None) == (told is None)
    if finding is not None:
        assert finding.figure_mm == pytest.approx(told)
        assert "2.000 mm below the lower end of the travel of gantry-1" in finding.text


@pytest.mark.parametrize("unknown", ["    surface: -120\n", ", z: [-100, 0]"])
def test_a_height_that_is_not_known_is_not_told(unknown: str) -> None:
    """Without the bed's surface, or the travel along Z, nothing is said about heights."""
    text = BASE.replace("z: [-190, 0]", "z: [-100, 0]")
    assert "below-bed" in found(text)
    assert unknown in text and "below-bed" not in found(text.replace(unknown, ""))


def test_outside_bed_tells_side_and_figure() -> None:
    """A jig that hangs over the bed's near edge by 40 mm is told so."""
    text = BASE.replace("{edge: [D2, G2], stop: C4}", "{edge: [D4, G4], stop: C2}").replace(
        "footprint: [460, 280]", "footprint: [460, 380]"
    )
    finding = found(text)["outside-bed"]
    assert finding.figure_mm == pytest.approx(40.0)
    told = "over the near edge of bed long-bench, taken as half a pitch around its holes"
    assert finding.text.endswith(told)
    (setup,) = setups(text)
    (fence,) = (each for each in fences_of(setup, setup, 0.0) if each.code == "outside-bed")
    assert fence.name.endswith(f"{told.removeprefix('over the near edge of ')},")  # a Z follows


def test_an_edge_that_was_stated_is_told_without_more() -> None:
    """Only where no outline is given does half a pitch around the holes stand for the edge."""
    outline = "outline: {from: [-50, -50], to: [1450, 850]}"
    text = (
        BASE.replace("    grid:", f"    {outline}\n    grid:")
        .replace("{edge: [D2, G2], stop: C4}", "{edge: [D4, G4], stop: C2}")
        .replace("footprint: [460, 280]", "footprint: [460, 380]")
    )
    finding = found(text)["outside-bed"]
    assert finding.text.endswith("over the near edge of bed long-bench")


def test_outside_bed_tells_what_reaches_farthest() -> None:
    """Of a jig 10 mm over the right edge and its stock 75 mm over it the stock is told."""
    text = BASE.replace("{edge: [D2, G2], stop: C4}", "{edge: [L2, N2], stop: K4}")
    text = text.replace("footprint: [460, 280]", "footprint: [450, 280]")
    finding = found(text.replace("[410, 240, 20]", "[490, 240, 20]"))["outside-bed"]
    assert finding.figure_mm == pytest.approx(75.0)
    assert finding.text.startswith("stock of nest a reaches 75.0 mm over the right edge")
    assert found(text)["outside-bed"].figure_mm == pytest.approx(10.0)


def test_a_step_between_slats_is_told() -> None:
    """Slats of different height under one jig are a finding with the step; equal ones are not."""
    slats = [
        Slat.model_validate({"name": "L1", "from": [-50, -50], "to": [1450, 200], "surface": -120}),
        Slat.model_validate({"name": "L2", "from": [-50, 200], "to": [1450, 850], "surface": -120}),
    ]
    assert "slat-step" not in found(bed={"slats": tuple(slats)})
    slats[1] = slats[1].model_copy(update={"surface": -119.7})
    step = found(bed={"slats": tuple(slats)})["slat-step"]
    assert step.figure_mm == pytest.approx(0.3)


PLANE = Plane(height=-120.0, slope=(0.0, 0.0), rms=0.01, points=4)
WITH_HEIGHTS = SURVEY.model_copy(update={"fit": SURVEY.fit.model_copy(update={"plane": PLANE})})
NEW_SLAT = Surfacing(name="2026-11-22", bed="long-bench", surface=-120.1, slats=("L1",))


def cut_of(slat: str) -> Surfacing:
    """A cut of one slat, newer than the survey."""
    return Surfacing(name="2026-11-22", bed="long-bench", depth=0.3, slats=(slat,))


@pytest.mark.parametrize(
    ("surface", "slat", "tilted", "old"),
    [
        (None, "L1", True, True),
        (None, "L2", True, False),
        (-118.0, "L1", False, False),
        (-118.0, "L2", False, False),
    ],
    ids=["its own slat is cut", "another is cut", "own height", "own height, another is cut"],
)
def test_a_surveyed_plane_counts_where_heights_are_read_from_it(
    surface: float | None, slat: str, tilted: bool, old: bool
) -> None:
    """A slat with a height of its own is level and does not age; a cut elsewhere ages no other."""
    slats = (
        {"name": "L1", "from": [-50, -50], "to": [1450, 450], "surface": surface},
        {"name": "L2", "from": [-50, 450], "to": [1450, 850]},
    )
    plane = PLANE.model_copy(update={"slope": (0.001, 0.0)})
    fit = WITH_HEIGHTS.fit.model_copy(update={"plane": plane})
    codes = found(
        bed={"slats": tuple(Slat.model_validate(each) for each in slats)},
        station={"z": ZRule(set="machine")},
        facts={
            "survey": WITH_HEIGHTS.model_copy(update={"fit": fit}),
            "surfacings": (cut_of(slat),),
        },
    )
    assert ("surface-tilted" in codes, "survey-old" in codes) == (tilted, old)


@pytest.mark.parametrize(
    ("survey", "cuts", "station", "told"),
    [
        (WITH_HEIGHTS, (), {"z": ZRule(set="machine")}, ""),
        (WITH_HEIGHTS, (CUT,), {"z": ZRule(set="machine")}, "Z counts on its heights"),
        (WITH_HEIGHTS, (CUT,), {"z": ZRule(set="reference")}, "Z counts on its heights"),
        (WITH_HEIGHTS, (CUT,), {}, ""),
        (SURVEY, (CUT,), {"z": ZRule(set="machine")}, ""),
        (SURVEY, (CUT,), {"measured_holes": True}, ""),
        (SURVEY, (NEW_SLAT,), {"measured_holes": True}, "the slats of its pins are new"),
        (SURVEY, (NEW_SLAT,), {}, ""),
    ],
)
def test_a_survey_older_than_a_surfacing_is_told_where_it_matters(
    survey: Survey, cuts: tuple[Surfacing, ...], station: dict[str, Any], told: str
) -> None:
    """X and Y stay where they are, and Z set by touch does not count on surveyed heights."""
    slat = {"name": "L1", "from": [-50, -50], "to": [1450, 200], "surface": -120}
    bed = {"slats": (Slat.model_validate(slat),)} if cuts == (NEW_SLAT,) else {}
    facts = {"survey": survey, "surfacings": cuts}
    finding = found(bed=bed, station=station, facts=facts).get("survey-old")
    assert (finding is not None) == bool(told)
    assert finding is None or told in finding.text


def test_stock_sizes_an_inch_apart_are_told() -> None:
    """A nest whose stock is 25.4 times its neighbour's is asked about its unit."""
    nests = "nests: [{name: a, zero: [25, 20], stock: {size: [410, 240, 20]}}"
    second = ", {name: b, zero: [25, 20], stock: {size: [16.1417, 9.4488, 0.7874]}}]"
    assert "25.4 times" in found(BASE.replace(nests + "]", nests + second))["unit-slip"].text


def test_findings_of_other_stations_reach_every_output(run: Run, shop: Path) -> None:
    """A pin of another station under the jig stands on table, JSON, block, sheet and map alike."""
    over = ("--stock", "500,230,18", "--pin", "peg-12", "--pins", "G6,J6,F8")
    assert run("register", "over", "--bed", "long-bench", *over, "--work-offset", "a=G54").code == 0
    text = "pin peg-20 of station end-bars in I8 stands under or in the way of bare stock"
    assert text in run("offsets", "over").out
    rows = run("offsets", "over", "--json").json["offsets"]
    assert [each["code"] for each in rows[0]["findings"]] == ["pin-under-jig"]
    assert f"(NOTE {text})" in run("block", "over").out.replace(")\n(cont ", " ")
    assert run("sheet", "over", "-o", "new").code == 0
    assert run("map", "long-bench", "-o", "new.html").code == 0
    assert text in (shop / "new" / "over.html").read_text(encoding="utf-8")
    assert text in (shop / "new.html").read_text(encoding="utf-8")
    run("retire", "station", "end-bars")
    assert text not in run("offsets", "over").out


SHORT_TRAVEL = """
format: 1
machines:
  - {name: gantry-1, dialect: rs274, travel: {x: [0, 1540], y: [0, 940], z: [-50, 0]}}
"""


def test_a_bed_out_of_reach_reaches_every_output(run: Run, shop: Path) -> None:
    """below-bed stands on table, JSON, block, sheet and map, as text and as a mark."""
    (shop / "short.yaml").write_text(SHORT_TRAVEL, encoding="utf-8")
    assert run("load", "short.yaml").code == 0
    text = "67.000 mm below the lower end of the travel of gantry-1"
    assert run("sheet", "roof", "-o", "new").code == 0
    assert run("map", "long-bench", "-o", "new.html").code == 0
    assert run("map", "long-bench", "-o", "new.svg").code == 0
    page = (shop / "new.html").read_text(encoding="utf-8")
    assert text in run("offsets", "roof").out
    findings = run("offsets", "roof", "--json").json["offsets"][0]["findings"]
    assert [each["figure_mm"] for each in findings if each["code"] == "below-bed"] == [67.0]
    assert text in run("block", "roof").out.replace(")\n(cont ", " ")
    assert text in (shop / "new" / "roof.html").read_text(encoding="utf-8")
    assert "roof a: the surface under bare stock lies" in page and text in page
    assert ">!</text>" in page and ">!</text>" in (shop / "new.svg").read_text(encoding="utf-8")


def test_pins_in_each_others_way_are_told(run: Run, shop: Path) -> None:
    """A pin of another kind in a hole that this station uses is in the way."""
    done = run(
        "register", "other", "--bed", "long-bench", "--stock", "250,150,18", "--pin", "peg-12",
        "--pins", "D2,E2,C3",
    )  # fmt: skip
    assert done.code == 0
    text = "pin peg-12 of station other in D2 and pin peg-20 in D2 are in each other's way"
    assert text in run("offsets", "left").out


def test_an_offset_far_from_the_last_paper_is_told(run: Run, shop: Path) -> None:
    """Moving a station by four pitches is told until a paper shows the new place."""
    arguments = ("--bed", "long-bench", "--jig", "panel-tray", "--pin", "peg-20")
    run("register", "left", *arguments, "--pins", "H2,K2,G4", "--work-offset", "a=G55", "--replace")
    assert "400.0 mm from where the last paper (EECF-8F5A) has it" in run("offsets", "left").out
    run("sheet", "left", "-o", "new")
    assert "last paper" not in run("offsets", "left").out


@pytest.mark.parametrize(("front_mm", "told"), [
    (-120.0, ""),
    (-117.0, "pins D2, G2 stand 41.0 mm above the bed, 3.0 mm higher"),
])  # fmt: skip
def test_pins_on_a_higher_slat_stand_higher(front_mm: float, told: str) -> None:
    """A pin stands on the slat around its own hole, the jig on what lies under it: 38 mm each."""
    slats = (
        {"name": "L1", "from": [-50, -50], "to": [1450, 105], "surface": front_mm},
        {"name": "L2", "from": [-50, 105], "to": [1450, 850], "surface": -120},
    )
    bed = {"slats": tuple(Slat.model_validate(each) for each in slats)}
    findings = found(BASE.replace("height: 22", "height: 38"), bed=bed)
    assert findings.keys() & {"slat-step"} == set()
    assert (told in findings["pin-above-stock"].text) if told else "pin-above-stock" not in findings


def test_a_pin_on_a_lower_slat_may_end_below_the_jig() -> None:
    """Pins of 22 mm, 3 mm lower than a jig whose edges begin at 18.9, hold it by 0.1 mm; at 19 they
    hold nothing, and the station is refused with the figure."""
    slats = (
        {"name": "L1", "from": [-50, -50], "to": [1450, 112], "surface": -123},
        {"name": "L2", "from": [-50, 112], "to": [1450, 850], "surface": -120},
    )
    bed = {"slats": tuple(Slat.model_validate(each) for each in slats)}
    assert "slat-step" in found(BASE.replace("seat: 18", "seat: 18\n    edge_from: 18.9"), bed=bed)
    with pytest.raises(Refused, match=r"stands 3\.000 mm lower than the jig in D2") as refusal:
        found(BASE.replace("seat: 18", "seat: 18\n    edge_from: 19"), bed=bed)
    assert refusal.value.cause == "pin-low"


@pytest.mark.parametrize(("pins", "told"), [
    ({"edge": ["C2", "F3"], "stop": "B4"}, "lies at 18.43 degrees to the grid"),
    ({"edge": ["D2", "G2"], "stop": "C4"}, ""),
])  # fmt: skip
def test_a_hole_mistyped_by_one_row_is_told(pins: dict[str, Any], told: str) -> None:
    """Edge pins in two rows are meant so, or a slip: atan(1/3) is 18.43 degrees."""
    findings = found(station={"pins": EdgePins.model_validate(pins)})
    assert (told in findings["pins-askew"].text) if told else "pins-askew" not in findings


@pytest.mark.parametrize(
    ("height_mm", "under_mm", "over_mm"),
    [
        (38, 0, None),
        (38.5, 0, 0.5),
        (50, 0, 12),
        (50, 6, 6),
        (50, 12, None),
    ],
)
def test_pins_higher_than_the_stock_are_told(
    height_mm: float, under_mm: float, over_mm: float | None
) -> None:
    """A pin's height is held against waste sheet, seat (18) and stock (20) together."""
    text = BASE.replace("height: 22", f"height: {height_mm}")
    finding = found(text, station={"under": under_mm}).get("pin-above-stock")
    assert (finding is None) == (over_mm is None)
    if finding is not None:
        assert finding.figure_mm == pytest.approx(over_mm)
        assert finding.text == (
            f"pins D2, G2, C4 stand {height_mm:.1f} mm above the bed, {over_mm:.1f} mm higher "
            f"than the top of the stock of nest a (which is {38 + under_mm:.1f} mm above the bed): "
            "use shorter pins, or keep the cutter off them"
        )


def test_figures_of_a_pin_above_the_stock_add_up() -> None:
    """A pin of 7/8 in beside stock of 5/8: 0.88 is 0.25 above 0.63, to the reader as well; what is
    dangerous is never told too low, and what helps is said."""
    inches = BASE.replace("dialect: rs274", "dialect: rs274\n    units: in")
    for high, thick in ((22.225, 15.875), (22.24, 15.86), (30.001, 20.0), (25.4, 19.05)):
        stock = f"stock: [410, 240, {thick}]"
        text = inches.replace("jig: panel-tray", stock).replace("height: 22", f"height: {high}")
        told = found(text)["pin-above-stock"].text
        top, over, less = (float(each) for each in re.findall(r"([0-9.]+) in\b", told))
        assert top - over == pytest.approx(less, abs=1e-9), told
        assert -1e-9 < top - high / 25.4 < 0.01
        assert -1e-9 < over - (high - thick) / 25.4 < 0.01
        assert "of the stock (which is" in told and told.endswith("or keep the cutter off them")
