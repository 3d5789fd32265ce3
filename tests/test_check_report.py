"""The report of `check` as text, as JSON and as a drawing with the findings marked."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from checking import PROGRAMS, check_text, demo_setup, edited, other_setups
from conftest import Run
from motions_by_hand import Path as Motion

from pincorner.geometry.pose import Pose
from pincorner.program.check.result import Report
from pincorner.program.path.points import MOST_LINES, PathLines, PathPoints
from pincorner.render.outputs.programs import check_json
from pincorner.render.pages.path_map import render_path_page, render_path_svg
from pincorner.render.text.programs import check_text as report_text
from pincorner.setups.setup import Setup, bed_in_program
from pincorner.standing import standing_on

WAY = ("G0 Z30", "G0 X353.6 Y-60", "G1 Z-17 F900", "G1 Y0", "G0 Z30", "G0 X205 Y167.5")


def with_a_pin_hit(tmp_path: Path) -> tuple[Setup, Report, PathLines]:
    """A check of hand-hold.nc with a way into pin G2, and its path."""
    setup, drawn = demo_setup("left"), PathPoints()
    text, _ = edited("hand-hold.nc", "G1 Z0 F400", (*WAY, "G1 Z0 F400"))
    report = check_text(tmp_path, text, setup, drawn=drawn)
    return setup, report, drawn.lines(bed_in_program(setup).inverse())


def test_text_says_what_was_found_and_what_not_looked_at(tmp_path: Path) -> None:
    """Findings, verdict, what is not looked at, cautions; nowhere that something is safe."""
    _, report, _ = with_a_pin_hit(tmp_path)
    text = report_text(report)
    assert "! line 16: the 6 mm cutter would go 1.600 mm into pin G2 at Z-17.000" in text
    assert f"verdict: {len(report.findings)} finding" in text
    assert "not looked at: tool holder, dust shoe, hoses and cables" in text
    missing = ", ".join(demo_setup("left").budget.not_given)
    assert f"not looked at: {missing}: not given, so not in the margin" in text
    assert not re.search(r"\b(safe|safely|clear|OK|passed|good)\b", text)
    clean = check_text(
        tmp_path, (PROGRAMS / "hand-hold.nc").read_text(encoding="utf-8"), demo_setup("left")
    )
    assert "verdict: nothing found in what was looked at" in report_text(clean)
    assert not re.search(r"\b(safe|safely|clear|OK|passed|good)\b", report_text(clean))


def test_a_way_that_may_meet_what_stands_there_comes_first(tmp_path: Path) -> None:
    """Behind the verdict, which counts it, and marked, on the page too; scripts find it by a key.

    By hand: Z10 is 48 mm above the surface, the setter ends 60 above it."""
    setup, drawn = demo_setup("left"), PathPoints()
    text, _ = edited("hand-hold.nc", "G0 Z30", ("G0 Z10",))
    report = check_text(tmp_path, text, setup, drawn=drawn)
    lines = report_text(report).splitlines()
    at = next(at for at, line in enumerate(lines) if line.startswith("verdict: "))
    assert lines[at].endswith("; 1 way that was not looked at may meet what stands there")
    way = r"from where the tool comes to line \d+, .*: 48.0 mm above the surface, lower "
    way += "than setter on the bed .60.0 mm."
    assert re.fullmatch(rf"\? not looked at: {way}", lines[at + 1])
    assert lines[at + 2].startswith("looked at: ") and "\n? " not in "\n".join(lines[at + 2 :])
    told = check_json(report)
    assert told["in_the_way"] == told["not_checked"][:1] and re.fullmatch(
        way, told["in_the_way"][0]
    )
    path = drawn.lines(bed_in_program(setup).inverse())
    page = render_path_page(setup, other_setups("left"), report, path, None)
    marks = ('class="verdict">', ">? not looked at:", ">looked at:")
    verdict, first, looked = map(page.index, marks)
    assert verdict < first < looked and page.count("from where the tool comes") == 1
    calm = report_text(check_text(tmp_path, text.replace("G0 Z10", "G0 Z30"), setup))
    assert "? not looked at" not in calm and "may meet" not in calm


def test_json_has_its_keys(tmp_path: Path) -> None:
    """The keys and values that scripts rely on, as JSON without NaN."""
    _, report, _ = with_a_pin_hit(tmp_path)
    told = json.loads(json.dumps(check_json(report), allow_nan=False))
    assert (told["format"], told["kind"], told["verdict"]) == (1, "check", "findings")
    assert {"code", "line", "text"} <= set(told["findings"][0])
    assert told["extent_mm"]["z"] == [-17.0, 30.0]
    assert told["work_offsets"] == ["G55"]
    assert told["program_units"] == ["mm"]
    assert told["lines"] == 145
    assert told["tools"]["2"]["diameter_mm"] == 12.7
    assert told["not_checked"]


def test_the_drawing_shows_what_stands_there_once(tmp_path: Path) -> None:
    """Each jig, clamp and solid of other stations is drawn once, however many nests there are."""
    setup, report, path = with_a_pin_hit(tmp_path)
    svg = render_path_svg(setup, other_setups("left"), report, path)
    drawn = re.findall(r'<polygon points="([^"]+)" fill="#bbb"', svg)
    standing = standing_on(setup.facts.bed, other_setups("left"))
    outlines = [each.outline for each in standing if each.station and each.takes_room]
    got = [[float(part) for part in each.replace(",", " ").split()] for each in drawn]
    wanted = [
        [part for x, y in outline for part in (round(x, 2), -round(y, 2))]
        for outline in outlines
        if outline[1:]
    ]
    assert sorted(got) == sorted(wanted)
    assert any(each.kind == "solid" for each in standing if each.station)


def test_drawing_marks_the_findings(tmp_path: Path) -> None:
    """Well-formed SVG with the path and a number at each finding, at the pin that is hit."""
    setup, report, path = with_a_pin_hit(tmp_path)
    svg = render_path_svg(setup, other_setups("left"), report, path)
    root = ElementTree.fromstring(svg)
    texts = [each.text for each in root.iter("{http://www.w3.org/2000/svg}text")]
    assert any(text is not None and text.split(", ")[0] == "1" for text in texts)
    hit = next(each for each in report.findings if each.code == "hits-pin")
    assert any(text is not None and text.endswith(f"  {hit.text}") for text in texts)
    assert hit.place_mm == pytest.approx((235.0 + 353.6, 100.0), abs=1e-6)
    page = render_path_page(setup, other_setups("left"), report, path, None)
    assert hit.text in re.sub("<[^>]+>", "", page)
    assert "<svg" in page


HERE = Pose("bed", "program", 100.0, 0.0, 0.0)


def test_path_as_lines() -> None:
    """Cuts and rapids are told apart; arcs are drawn round; unknown places break the path."""
    drawn, nan = PathPoints(), float("nan")
    path = Motion((nan, nan, 5.0)).rapid(nan, nan, 6.0).rapid(0.0, 0.0, 6.0).feed(50.0, 0.0, -1.0)
    path.arc((50.0, 20.0), np.pi, -1.0).rapid(50.0, 40.0, 9.0).rapid(0.0, 0.0, 9.0)
    drawn.take(path.motions())
    cuts, rapids = drawn.lines(HERE)
    assert cuts[0] == ((100.0, 0.0), (150.0, 0.0))
    assert cuts[-1][1] == pytest.approx((150.0, 40.0))
    assert max(x for _, (x, _) in cuts) == pytest.approx(170.0, abs=0.25)  # within a cell
    assert rapids[-1][1] == (100.0, 0.0)


def test_a_path_gone_over_again_is_drawn_once() -> None:
    """A thousand rounds over one square make no more lines than the raster has on its way."""
    drawn = PathPoints()
    path = Motion((0.0, 0.0, -1.0))
    for turn in range(1000):
        for x, y in ((40.0, 0.0), (40.0, 40.0), (0.0, 40.0), (0.0, 0.0)):
            path.feed(x, y, -1.0 - turn)
    motions = path.motions()
    for _ in range(12):
        drawn.take(motions)
    assert len(drawn.lines(HERE).cuts) < MOST_LINES
    assert {end for line in drawn.lines(HERE).cuts for end in line} == {
        (100.0, 0.0), (140.0, 0.0), (140.0, 40.0), (100.0, 40.0)
    }  # fmt: skip


def test_long_paths_are_thinned() -> None:
    """A hundred thousand lines across a stock become at most so many as a drawing may hold."""
    drawn, rng = PathPoints(), np.random.default_rng(4)
    path = Motion((0.0, 0.0, -1.0))
    for x, y in rng.uniform(0, 400, (5_000, 2)).tolist():
        path.feed(x, y, -1.0)
    for _ in range(20):
        drawn.take(path.motions())
    cuts = drawn.lines(HERE).cuts
    assert 5_000 < len(cuts) <= MOST_LINES
    assert min(x for (x, _), _ in cuts) < 120.0
    assert max(x for (x, _), _ in cuts) > 480.0


def test_near_findings_share_a_sign(in_demo: Path, run: Run, tmp_path: Path) -> None:
    """Findings at one spot get one sign with all their numbers, which would cover each other."""
    drawing = tmp_path / "path.svg"
    assert run("check", "hand-hold", "--station", "right", "-o", drawing).code == 1
    assert ">2, 3, 4, 5, 6, 7<" in drawing.read_text(encoding="utf-8")
