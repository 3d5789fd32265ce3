"""`check` on the demo's programs: each finding by a small edit, at its line and with its figure."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from checking import PROGRAMS, check_text, demo_facts, demo_setup, edited, with_code

from pincorner.documents.beds import Screw, Slat, Solid
from pincorner.documents.machines import Travel
from pincorner.documents.records import Fit, Plane, Survey
from pincorner.documents.stations import ZRule
from pincorner.geometry.outline import bounds
from pincorner.program.check.reaches import ToolSize
from pincorner.render.blocks.block import render_block
from pincorner.render.pages.sheet import render_sheet
from pincorner.setups.setup import Setup, bed_in_program
from pincorner.setups.transform import make_setups
from pincorner.units import MM_PER_INCH
from pincorner.work.kept.beside import beside_sheet, changed_since, parts_of

STATION_OF = {
    "hand-hold.nc": "left",
    "hand-hold-turned.nc": "right",
    "end-bar-notch.nc": "end-bars",
    "roof-groove.nc": "roof",
}


@pytest.mark.parametrize("program", STATION_OF)
def test_clean_programs_give_nothing_found(tmp_path: Path, program: str) -> None:
    """Each program of the demo passes at its station, and what is not looked at is named."""
    text = (PROGRAMS / program).read_text(encoding="utf-8")
    report = check_text(tmp_path, text, demo_setup(STATION_OF[program]))
    assert (report.verdict, report.findings) == ("nothing-found", ())
    assert report.units == ("mm",)
    assert any("tool holder" in sentence for sentence in report.not_checked)


class Case(NamedTuple):
    """A line of hand-hold.nc, what stands in its place, and what is then found `at` lines below."""

    code: str
    line: str
    instead: tuple[str, ...]
    at: int
    says: str


START = "G21 G17 G90 G40 G80"
CUT = "G1 Z0 F400"


def detour(code: str, moves: str, at: int, says: str) -> Case:
    """Moves before the first cut, from the height of rapids and back."""
    return Case(
        code, CUT, ("G0 Z30", *moves.split(", "), "G0 Z30", "G0 X205 Y167.5", CUT), at, says
    )


CASES = [
    Case("units-differ", START, ("G20 G17 G90 G40 G80",), 0, "the program is in inches, the offset "
         "is stored in mm, which dialect rs274 does not convert: it would be read 25.4 times off"),
    Case("no-units", START, ("G17 G90 G40 G80",), 4, ""),
    Case("offset-differs", "G55", ("G56",), 0, ""),
    Case("no-offset", "G55", ("(none)",), 3, ""),
    Case("offset-written", "G55", ("G55", "G10 L2 P3 X0 Y0"), 1, ""),
    Case("g92-used", "G55", ("G55", "G92 X0"), 1, ""),
    Case("odd-comment", "G55", ("G55 (MSG, start)",), 0, ""),
    Case("not-read", "G55", ("G55", "O100 call"), 1, ""),
    Case("low-first-move", "G0 Z30", ("G0 X205 Y167.5 Z30",), 0, "the first move goes sideways, to "
         "X205.000 Y167.500 Z30.000, from a place that is not known: go up first"),
    Case("low-first-move", "G0 Z30", ("G0 Z-1.5", "G0 Z30"), 0, "the first move goes to Z-1.500, "
         "1.500 mm below the top of the stock: go up first"),
    detour("outside-travel", "G0 X1255.5", 1, "the spindle axis would go 10.500 mm beyond the "
           "travel of gantry-1 at Z30.000"),
    detour("outside-travel", "G0 Z50", 1, "the nose above tool 1 would go 6.000 mm above the "
           "travel of gantry-1 in Z at Z50.000"),
    detour("outside-bed", "G0 X-180, G0 Y-174, G1 Z-1 F900, G1 Y-179.5", 4, "the 6 mm cutter "
           "would cut 2.500 mm beyond the edge of the bed long-bench at Z-1.000"),
    detour("outside-stock", "G0 X100 Y0, G1 Z-1 F900, G1 Y-5.2", 3, "the 6 mm cutter would pass "
           "the stock by 8.200 mm, more than the run-off of 8.000 mm, at Z-1.000"),
    detour("hits-pin", "G0 X353.6 Y-60, G1 Z-17 F900, G1 Y0", 3,
           "the 6 mm cutter would go 1.600 mm into pin G2 at Z-17.000"),
    detour("hits-pin", "G0 X351.95 Y-60, G1 Z-17 F900, G1 Y0", 3, "the 6 mm cutter would pass pin "
           "G2 at 0.050 mm, nearer than the margin of 0.178 mm, at Z-17.000"),
    detour("hits-pin", "G0 X1165 Y67.5, G1 Z-17 F900", 2,
           "the 6 mm cutter would go 10.500 mm into pin O3 of station right at Z-17.000"),
    detour("hits-clamp", "G0 X188 Y-40, G1 Z-5 F900", 2,
           "the 6 mm cutter would go 1.000 mm into clamp P (c1) at Z-5.000"),
    detour("hits-jig", "G0 X100 Y-4, G1 Z1 F900, G1 Y-7.5", 3,
           "the 6 mm cutter would go 2.500 mm into panel-tray at Z1.000"),
    detour("hits-jig", "G0 X900 Y100, G1 Z1 F900", 2, "the 6 mm cutter would go right into "
           "panel-tray of station right, 1.000 mm below its top, at Z1.000"),
    detour("hits-solid", "G0 X115 Y250, G1 Z15 F900", 2, "the 6 mm cutter would go right into "
           "toggle-1 of panel-tray, 2.000 mm below its top, at Z15.000"),
    detour("hits-solid", "G0 X1180 Y690, G1 Z15 F900", 2, "the 6 mm cutter would go right into "
           "setter on the bed, 7.000 mm below its top, at Z15.000"),
    detour("cuts-seat", "G0 X50 Y50, G1 Z-20.5 F900", 2, "the 6 mm cutter would go 0.500 mm deep "
           "into the seat of panel-tray, where 0.000 mm are allowed, at Z-20.500"),
    detour("cuts-surface", "G0 X500 Y100, G1 Z-38.7 F900", 2, "the 6 mm cutter would go 0.700 mm "
           "deep into the surface of long-bench, where 0.500 mm are allowed, at Z-38.700"),
    detour("cuts-track", "G0 X450 Y-90, G1 Z-39.4 F900", 2, "the 6 mm cutter would go 1.400 mm "
           "deep over track T1, which lies 1.000 mm deep, at Z-39.400"),
    detour("cuts-screw", "G0 X-235 Y25, G1 Z-43.5 F900", 2, "the 6 mm cutter would go 5.500 mm "
           "deep over screw S1, which lies 5.000 mm deep, at Z-43.500"),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.code} {case.instead[1:2]}")
def test_an_edit_is_found_at_its_line(tmp_path: Path, case: Case) -> None:
    """A small edit gives its own finding at the right line, with its figure."""
    text, line = edited("hand-hold.nc", case.line, case.instead)
    report = check_text(tmp_path, text, demo_setup("left"))
    where = line + case.at
    here = [each for each in with_code(report, case.code) if each.line == where]
    told = [each.text.partition(", and on ")[0] for each in here]
    assert any(text.startswith(f"line {where}: {case.says}") for text in told), report.findings
    assert report.verdict == ("not-fully-read" if case.code == "not-read" else "findings")


@pytest.mark.parametrize("code", ["cuts-seat", "cuts-surface"])
def test_what_is_cut_too_deep_is_found_without_a_diameter(tmp_path: Path, code: str) -> None:
    """A cutter of which no diameter is given goes as deep as any other."""
    (case,) = [each for each in CASES if each.code == code]
    text, line = edited("hand-hold.nc", case.line, case.instead)
    report = check_text(tmp_path, text, demo_setup("left"), {})
    (found,) = [each for each in report.findings if each.code == code]
    assert found.line == line + case.at
    says = case.says.replace("the 6 mm cutter", "tool 1 (diameter not given: --tool 1=..mm)")
    assert found.what.startswith(says), found
    thing = "jig panel-tray" if code == "cuts-seat" else "bed long-bench"
    assert found.what.endswith(f"; spoil of {thing} says how deep: pincorner edit {thing}")
    inch = text.replace("G21", "G20")
    report = check_text(tmp_path, inch, demo_setup("left", machine={"units": "in"}), {})
    assert any("tool 1 (diameter not given: --tool 1=..in)" in e.what for e in report.findings)
    note = "tool 1: its diameter is not given, so it counts as a point; say it by --tool 1=..in"
    assert any(each.startswith(note) for each in report.not_checked)


def test_detours_at_height_are_not_found(tmp_path: Path) -> None:
    """The way of the edits alone, at the height of rapids, gives nothing found."""
    moves = "G0 X353.6 Y-60, G0 X50 Y50, G0 X115 Y250"
    case = detour("", moves, 0, "")
    text, _ = edited("hand-hold.nc", case.line, case.instead)
    assert check_text(tmp_path, text, demo_setup("left")).verdict == "nothing-found"


def test_the_worst_of_many_lines_is_told_once(tmp_path: Path) -> None:
    """Three lines too near to one pin make one finding, at the nearest, with how many more."""
    case = detour("", "G0 X352 Y-60, G1 Z-17 F900, G1 Y0, G1 X353, G1 Y-60, G1 X352", 0, "")
    text, line = edited("hand-hold.nc", case.line, case.instead)
    (found,) = with_code(check_text(tmp_path, text, demo_setup("left"), margin_mm=0.2), "hits-pin")
    assert (found.line, found.lines) == (line + 5, 2)
    assert found.text == (
        f"line {line + 5}: the 6 mm cutter would go 1.000 mm into pin G2 at Z-17.000, and on 1 "
        "more line"
    )


def test_a_rapid_that_need_not_be_straight_could_hit(tmp_path: Path) -> None:
    """A diagonal rapid below a clamp's top is told with could; straight ones are not."""
    case = detour("", "G0 X170 Y-90, G0 Z-4, G0 X240 Y-5", 0, "")
    text, line = edited("hand-hold.nc", case.line, case.instead)
    (found,) = with_code(check_text(tmp_path, text, demo_setup("left")), "hits-clamp")
    assert found.text.startswith(f"line {line + 3}: the 6 mm cutter in a rapid could go right into")
    case = detour("", "G0 X170 Y-45, G0 Z-4, G0 X187 Y-100", 0, "")
    text, line = edited("hand-hold.nc", case.line, case.instead)
    for straight, count in ((False, 1), (True, 0)):
        setup = demo_setup("left", machine={"straight_rapids": straight})
        assert len(with_code(check_text(tmp_path, text, setup), "hits-clamp")) == count


GAUGE = {"tool_lengths": "gauge"}


def test_lengths_must_be_applied_where_z_is_the_machines(tmp_path: Path) -> None:
    """With Z from the machine, cuts without G43 are found for each tool; with it they are not."""
    station = {"z": ZRule(zero="stock-top", set="machine")}
    setup = demo_setup("left", machine=GAUGE, station=station)
    text = (PROGRAMS / "hand-hold.nc").read_text(encoding="utf-8")
    found = with_code(check_text(tmp_path, text, setup), "no-tool-length")
    assert [each.text.split(": ")[1] for each in found] == [
        "tool 1 cuts without its length applied (G43)",
        "tool 2 cuts without its length applied (G43)",
    ]
    text = text.replace("S18000 M3", "S18000 M3\nG43 H1").replace("S16000 M3", "S16000 M3\nG43 H2")
    assert with_code(check_text(tmp_path, text, setup), "no-tool-length") == []


def stamped(setup: Setup, text: str) -> str:
    """A program with a setup block behind its start."""
    return text.replace("%\n", f"%\n{render_block([setup])}", 1)


def test_a_stamped_block_must_be_of_now(tmp_path: Path) -> None:
    """The block of the station as it stands gives nothing; that of another state is stale."""
    text = (PROGRAMS / "hand-hold.nc").read_text(encoding="utf-8")
    setup = demo_setup("left")
    assert check_text(tmp_path, stamped(setup, text), setup).findings == ()
    before = demo_setup("left", station={"under": 1.0})
    (found,) = check_text(tmp_path, stamped(before, text), setup).findings
    assert (found.code, found.line) == ("offset-stale", 2)
    assert before.fingerprint in found.text
    assert setup.fingerprint in found.text


def test_a_rotation_must_be_taken_back(tmp_path: Path) -> None:
    """A block that turns by G68 wants G69 before the end, and no code selected while it is on."""
    setup = demo_setup("left", dialect={"name": "extended"})
    text = stamped(setup, (PROGRAMS / "hand-hold.nc").read_text(encoding="utf-8"))
    codes = {each.code for each in check_text(tmp_path, text, setup).findings}
    assert codes == {"rotation-left"}
    text = text.replace("G17 G90 G40 G80\nG55\n", "G17 G90 G40 G80\n")
    lines = text.splitlines()
    (found,) = check_text(tmp_path, text, setup).findings
    assert (found.code, lines[found.line - 1]) == ("rotation-left", "M30")
    assert check_text(tmp_path, text.replace("M5\nM30", "M5\nG69\nM30"), setup).findings == ()


def test_the_nose_hits_the_stock(tmp_path: Path) -> None:
    """A cutter that stands out by less than its depth takes the nose into the stock."""
    tools = {1: ToolSize(6.0, 11.0), 2: ToolSize(12.7, 45.0)}
    text = (PROGRAMS / "hand-hold.nc").read_text(encoding="utf-8")
    (found,) = with_code(check_text(tmp_path, text, demo_setup("left"), tools), "hits-stock")
    assert (
        "the nose above tool 1 would go right into the stock, 1.000 mm below its top" in found.text
    )


def test_what_is_not_given_is_named(tmp_path: Path) -> None:
    """Tools, stickout, nose and travel that are not given stand under the verdict, and are not
    told as looked at beside it."""
    text = (PROGRAMS / "hand-hold.nc").read_text(encoding="utf-8")
    tools = {1: ToolSize(6.0, None)}
    report = check_text(tmp_path, text, demo_setup("left", machine={"travel": None}), tools)
    told = "\n".join(report.not_checked)
    assert "tool 2: its diameter is not given, so it counts as a point" in told
    assert "the nose above tool 1: how far it stands out is not given" in told
    assert "the travel (not given)" in told
    assert "nose" not in report.looked_at and "travel" not in report.looked_at
    whole = check_text(tmp_path, text, demo_setup("left"), {**tools, 2: ToolSize(12.7, 45.0)})
    assert whole.looked_at.startswith("cutter and nose against pins") and "Y and the upper" in (
        whole.looked_at
    )
    bare = demo_setup("left", machine={"nose": None, "travel": Travel(x=(0, 1540))})
    report = check_text(tmp_path, text, bare)
    told = "\n".join(report.not_checked)
    assert "nose" not in report.looked_at and "; the travel in X; " in report.looked_at
    assert "the spindle nose: its diameter is not given" in told
    assert "the travel in Y, Z (not given)" in told


def tilted(slope: float) -> Setup:
    """The demo's station left on a surface that rises along X."""
    plane = Plane(height=-120.0, slope=(slope, 0.0), rms=0.01, points=9)
    fit = Fit(pose={"x": 60, "y": 55}, points=9, s=0.02, dof=15, centroid=(200, 200),
              spread=1e5, plane=plane)  # fmt: skip
    survey = Survey(name="2026-11-20", bed="long-bench", readings=(("A1", 60, 55),), fit=fit)
    return make_setups(demo_facts("left")._replace(survey=survey))[0]


def test_a_tilted_surface_is_told_and_counts_at_the_zero() -> None:
    """1 mm per m along X is 0.41 mm over stock of 410 mm; a hundredth of that goes unsaid."""
    steep, level = tilted(0.001), tilted(0.00001)
    (found,) = (each for each in steep.findings if each.code == "surface-tilted")
    assert "rises by 0.41 mm under the stock of nest a, highest at its near right" in found.text
    assert found.figure_mm == pytest.approx(0.41, abs=1e-9)
    assert "surface-tilted" not in [each.code for each in level.findings]
    # the zero lies at x 235 of the bed, the plane's height is that at 200
    assert steep.heights.surface_mm == pytest.approx(-120.0 + 0.001 * (235 - 200), abs=1e-9)


@pytest.mark.parametrize(("slope", "found"), [(0.0, False), (0.001, True), (-0.001, False)])
def test_check_takes_the_tilted_surface(tmp_path: Path, slope: float, found: bool) -> None:
    """0.4 mm deep into the surface as it is at the zero is 0.9 mm where it is 0.5 mm higher."""
    text = "G21 G90 G17 G55\nT1 M6\nM3 S9000\nG0 Z50\nG0 X500 Y100\n"
    text += "G1 Z-38.4 F300\nG1 X510\nG0 Z50\nM2\n"
    report = check_text(tmp_path, text, tilted(slope), {1: ToolSize(6.0, 38.0)})
    assert ("cuts-surface" in [each.code for each in report.findings]) == found


def test_the_deepest_cut_into_a_tilted_surface_is_told(tmp_path: Path) -> None:
    """At one Z a cut is deepest where the surface is highest: 0.4 + 0.703 mm at the cutter's edge.

    Strips of the surface count as high as their upper sides, 0.05 mm apart at the most."""
    text = "G21 G90 G17 G55\nT1 M6\nM3 S9000\nG0 Z50\nG0 X500 Y100\n"
    text += "G1 Z-38.4 F300\nG1 X510\nG1 X700\nG0 Z50\nM2\n"
    report = check_text(tmp_path, text, tilted(0.001), {1: ToolSize(6.0, 38.0)})
    (deepest,) = (each for each in report.findings if each.code == "cuts-surface")
    assert deepest.line == 8 and deepest.figure_mm is not None
    assert 1.10 <= deepest.figure_mm <= 1.16


@pytest.mark.parametrize(
    ("retract", "post", "park", "told"),
    [
        # the tip is 68 above the surface in front of M6; the post is 125 high, and 300 from the end
        (
            "G0 Z30",
            300,
            (0.0, 940.0),
            ": in it stands post on the bed, 57.000 mm higher than the tip in line 8;",
        ),
        ("G0 Z88", 300, (0.0, 940.0), ""),
        ("G0 Z30", 700, (0.0, 940.0), ""),
        ("G53 G0 Z0", 300, (0.0, 940.0), ""),
        ("G0 Z30", 300, None, ": park of machine gantry-1 is not given"),
    ],
)
def test_the_way_to_a_tool_change_is_told(
    tmp_path: Path, retract: str, post: int, park: tuple[float, float] | None, told: str
) -> None:
    """Behind a verdict stands that a change takes the spindle away, and what is then in its way as
    high as it is; before the first tool nothing is said of it."""
    found = demo_facts("left")
    area = {"name": "post", "from": [post, 600], "to": [post + 20, 620], "top": 125}
    bed = found.bed.model_copy(update={"solids": (Solid.model_validate(area),)})
    machine = found.machine.model_copy(update={"park": park})
    setup = make_setups(found._replace(bed=bed, machine=machine))[0]
    text = f"G21 G90 G17\nG55\nT1 M6\nG0 Z50\nG0 X205 Y167.5\nG1 Z-2 F400\n{retract}\nT2 M6\n"
    text += "G0 Z50\nG0 X205 Y167.5\nG1 Z-2\nG0 Z30\nM30\n"
    report = check_text(tmp_path, text, setup)
    (note,) = (each for each in report.not_checked if "where tools are changed" in each)
    way = "the way to where tools are changed and back (line 8)"
    assert note.startswith(way + told) and (told or note == way)
    alone = check_text(tmp_path, text.replace("T2 M6\n", ""), setup)
    assert not any("where tools are changed" in each for each in alone.not_checked)
    homeless = machine.model_copy(update={"homes": False})
    setup = make_setups(found._replace(bed=bed, machine=homeless))[0]
    report = check_text(tmp_path, text, setup)
    (note,) = (each for each in report.not_checked if "where tools are changed" in each)
    assert note == f"{way}: machine gantry-1 does not home, so it is not known where that is"


def test_extents_per_tool(tmp_path: Path) -> None:
    """Extents reach to the arcs' sides, in all and for each tool."""
    report = check_text(
        tmp_path, (PROGRAMS / "hand-hold.nc").read_text(encoding="utf-8"), demo_setup("left")
    )
    assert report.extent == ((146.5, 263.5), (156.5, 183.5), (-12.0, 30.0))
    first, second = report.tools
    assert (first.number, first.extent) == (1, report.extent)
    assert (second.number, second.size) == (2, ToolSize(12.7, 45.0))
    assert second.extent.x == pytest.approx((149.35, 260.65), abs=1e-9)  # sums of doubles
    assert report.work_offsets == (("G55", report.extent),)


def test_one_program_for_both_nests(tmp_path: Path) -> None:
    """Under the other nest's code its own stock counts: the same cuts pass in both nests."""
    text = (PROGRAMS / "end-bar-notch.nc").read_text(encoding="utf-8")
    body = text.split("G57\n")[1].replace("M30\n%\n", "")
    both = text.replace("M30\n%\n", "") + f"G58\n{body}M30\n%\n"
    report = check_text(tmp_path, both, demo_setup("end-bars"))
    assert report.findings == ()
    (_, first), (code, second) = report.work_offsets
    assert code == "G58"
    assert first.x is not None
    assert second.x is not None
    assert second.x[1] == pytest.approx(first.x[1] + 190, abs=1e-9)  # nests lie 190 mm apart
    wrong = text.replace("X163.5", "X200")
    codes = {each.code for each in check_text(tmp_path, wrong, demo_setup("end-bars")).findings}
    assert codes == {"outside-stock", "hits-stock", "hits-jig"}


def on_a_slope(name: str) -> Setup:
    """A station of the demo on a surface that rises along X by 1 mm in a metre."""
    survey = tilted(0.001).facts.survey
    return make_setups(demo_facts(name)._replace(survey=survey))[0]


HIGH_SLAT = Slat.model_validate(
    {"name": "L1", "from": (850, -50), "to": (1000, 50), "surface": -119.0}
)
SCREW = Screw.model_validate({"name": "S9", "at": (900, 200), "diameter": 9, "depth": 0.3})
DEEPEST: dict[str, tuple[Callable[[], Setup], str]] = {
    "a seat": (  # 18 high, the jig 40; the stock of 20 ends at 38, where zero is
        lambda: demo_setup("left"), "down to the seat of panel-tray; the jig beside it: Z +2.000"),
    "a seat that may be cut": (
        lambda: demo_setup("left", jig={"spoil": 0.8}),
        "0.8 mm into the seat of panel-tray; the jig beside it: Z +2.000"),
    "a seat on a sheet": (
        lambda: demo_setup("left", station={"under": 3.0}),
        "down to the seat of panel-tray; the jig beside it: Z +2.000"),
    "zero on the seat": (
        lambda: demo_setup("end-bars"),
        "28 mm below the top of the stock, down to the seat of end-bar-cradle; "
        "the jig beside it: Z +18.000"),
    "the bed": (
        lambda: demo_setup("roof"),
        "21.5 mm below the top of the stock, 0.5 mm into the surface of long-bench"),
    "inches": (
        lambda: demo_setup("left", machine={"units": "in"}, jig={"spoil": 0.8}),
        "0.0314 in into the seat of panel-tray; the jig beside it: Z +0.0788"),
    "a track": (
        lambda: demo_setup("roof", bed={"spoil": 2.0}),
        "22 mm below the top of the stock, track T1 lies there, metal"),
    "a screw": (
        lambda: demo_setup("roof", bed={"screws": (SCREW,)}),
        "21.3 mm below the top of the stock, screw S9 lies there, metal"),
    "a slope": (lambda: on_a_slope("roof"), "0.5 mm into the surface of long-bench"),
    "a higher slat": (
        lambda: demo_setup("roof", bed={"slats": (HIGH_SLAT,)}), "the surface of slat L1"),
}  # fmt: skip


@pytest.mark.parametrize("name", DEEPEST)
def test_the_deepest_cut_on_the_sheet_is_the_one_that_check_lets_pass(
    tmp_path: Path, name: str
) -> None:
    """All over the stock: at the sheet's Z nothing is found, a hundredth below it something is."""
    make, ends = DEEPEST[name]
    setup = make()
    sheet = render_sheet([setup], (), "a4", None)
    told = re.search(r'Deepest cut</b> <b class="t">Z (\S+) (mm|in)</b>: ([^<]*)\.</p>', sheet)
    assert told is not None and told[3].endswith(ends)
    z_mm = float(told[1].replace("\N{MINUS SIGN}", "-"))
    z_mm *= MM_PER_INCH if told[2] == "in" else 1.0
    box, code = bounds(setup.nest.stock.outline), setup.work_offset
    ways = [box.front + 1 + at * (box.depth - 2) / 80 for at in range(81)]
    for deeper_mm, found in ((0.0, False), (0.01, True)):
        text = f"G21 G90 G17 {code}\nT1 M6\nM3 S9000\nG0 Z50\n"
        for y in ways:
            text += f"G0 X{box.left + 1} Y{y}\nG1 Z{z_mm - deeper_mm:.4f} F300\n"
            text += f"G1 X{box.right - 1}\nG0 Z50\n"
        report = check_text(tmp_path, f"{text}M2\n", setup, {1: ToolSize(1.0, 90.0)})
        deep = [each.text for each in report.findings if each.code.startswith("cuts-")]
        assert bool(deep) is found, deep


@pytest.mark.parametrize("name", ["a seat", "a seat on a sheet", "zero on the seat", "inches"])
def test_the_height_of_the_jig_beside_the_stock_is_the_one_that_check_has(
    tmp_path: Path, name: str
) -> None:
    """Beside stock and run-off: at the sheet's Z of the jig nothing is found, a hundredth below it
    the jig is."""
    setup = DEEPEST[name][0]()
    sheet = render_sheet([setup], (), "a4", None)
    told = re.search(r"the jig beside it: Z (\S+?)\.</p>", sheet)
    assert told is not None
    inch = setup.printed.own.unit == "in"
    z_mm = float(told[1].replace("\N{MINUS SIGN}", "-")) * (MM_PER_INCH if inch else 1.0)
    stock = bounds(setup.nest.stock.outline)
    jig = bounds(setup.nest_in_bed.inverse().points(setup.footprint_in_bed()))
    sides = {
        (jig.left + stock.left) / 2: stock.left - jig.left,
        (jig.right + stock.right) / 2: jig.right - stock.right,
    }
    x, room_mm = max(sides.items(), key=lambda each: each[1])
    assert room_mm > 4
    for deeper_mm, found in ((0.0, False), (0.01, True)):
        text = f"G21 G90 G17 {setup.work_offset}\nT1 M6\nM3 S9000\nG0 Z90\n"
        text += f"G0 X{x} Y{stock.middle[1]}\nG1 Z{z_mm - deeper_mm:.4f} F300\nG0 Z90\nM2\n"
        report = check_text(tmp_path, text, setup, {1: ToolSize(1.0, 90.0)})
        into = [each.text for each in report.findings if setup.facts.holder.name in each.text]
        assert bool(into) is found, (into, x, z_mm)


@pytest.mark.parametrize("turn", [0, 180])
@pytest.mark.parametrize(("out_mm", "codes"), [(0.0, set()), (0.2, {"outside-stock", "hits-jig"})])
def test_a_cut_around_the_stock_is_no_finding(
    tmp_path: Path, turn: int, out_mm: float, codes: set[str]
) -> None:
    """A cutter of 6 that goes around a part with its whole width outside keeps the run-off that
    counts where none is given: it is not told for where the jig, 40 high, is taken to begin. 0.2
    farther out it is told."""
    nest = demo_facts("left").holder.nests[0].model_copy(update={"run_off": None})
    station = {"turn": turn, "program_angle": turn}
    setup = demo_setup("left", jig={"nests": (nest,)}, station=station)
    at = (bed_in_program(setup) @ setup.nest_in_bed).points(
        bounds(nest.stock.outline).grown(3.0 + out_mm).outline
    )
    moves = "".join(f"G1 X{x:.4f} Y{y:.4f} F900\n" for x, y in (*at[1:], at[0]))
    text = f"G21 G90 G17 {setup.work_offset}\nT1 M6\nM3 S9000\nG0 Z90\n"
    text += f"G0 X{at[0][0]:.4f} Y{at[0][1]:.4f}\nG1 Z-19 F300\n{moves}G0 Z90\nM2\n"
    report = check_text(tmp_path, text, setup, {1: ToolSize(6.0, 90.0)})
    told = {each.code for each in report.findings}
    assert told & {"outside-stock", "hits-jig"} == codes, report.findings


def test_what_ends_the_deepest_cut_is_kept_beside_a_sheet() -> None:
    """Where another level than the jig's own ends it, a sheet is stale once that lies otherwise."""
    kept, stock = {}, bounds(demo_setup("roof").stock_in_bed())
    beside = {"from": (stock.right + 1, stock.front), "to": (stock.right + 5, stock.back)}
    for surface_mm in (-119.0, -119.5, -120.0):
        slat = Slat.model_validate({"name": "L1", "surface": surface_mm, **beside})
        setup = demo_setup("roof", bed={"slats": (slat,)})
        kept[surface_mm] = beside_sheet([setup], (), Path()).words or "[]"
    (told,) = changed_since(parts_of(kept[-119.0]), parts_of(kept[-119.5]))
    assert told.startswith("the surface of slat L1 lies above the surface here by ")
    assert "slat L1" not in kept[-120.0]
