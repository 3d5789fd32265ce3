"""run: worked cases to the second, from documents and programs to the times that are told.

By hand, with no published source: the sums stand in each test.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from plans import change, page_of, planned, report_of, shop_of

from pincorner.render.text.runs import run_text


def cuts(seconds: float, wide: float = 200.0) -> list[str]:
    """Cuts at 600 mm/min from X50 Z0, 2 mm down first, that take so long; they end at X50."""
    left, lines, at = seconds * 10 - 2.0, ["G1 Z-2 F600"], 50.0
    while left > 1e-9:
        step = min(left, wide) if at == 50.0 and left >= 2 * wide else min(left / 2, wide)
        for x in (50.0 + step, 50.0):
            lines.append(f"X{x:g}")
        left -= 2 * step
    return lines


def program(code: str, tools: Mapping[int, float], end: str) -> str:
    """A program: for each tool its cuts in seconds."""
    lines = ["G21 G17 G90 G40 G80 G94", code]
    for tool, seconds in tools.items():
        lines += [f"T{tool} M6", "S18000 M3", "G0 Z60", "G0 X50 Y50", "G0 Z0", *cuts(seconds)]
        lines += ["G0 Z60", "M5"]
    return "\n".join(["%", *lines, *([end] if end else []), "M30", "%", ""])


FAR_APART = """
format: 1
machines:
  - name: long
    dialect: rs274
    travel: {x: [0, 3300], y: [0, 940], z: [-190, 0]}
    beam: y
    operator: front
    carriage: {left: 200, right: 200, front: 200, back: 200}
    touch_plate: 20
beds:
  - name: bench
    machine: long
    grid: {columns: 32, rows: 8, pitch: [100, 100], hole: 20.02, hole_position: 0.04, depth: 20}
    pose: {x: 60, y: 55, angle: 0}
    surface: -120
pins: [{name: peg, shank: 20.00, body: 20.00, height: 12, body_tolerance: 0.01}]
stations:
  - {name: a, bed: bench, stock: [400, 300, 18], pin: peg, pins: {edge: [C2, E2], stop: B3},
     z: {set: touch}, work_offsets: {a: G54}, program: one}
  - {name: b, bed: bench, stock: [400, 300, 18], pin: peg, pins: {edge: [Y2, AA2], stop: X3},
     z: {set: touch}, work_offsets: {a: G55}, program: other}
programs:
  - {name: one, file: one.nc, units: mm, tools: {"1": {diameter: 6}}}
  - {name: other, file: other.nc, units: mm, tools: {"1": {diameter: 6}}}
runs:
  - {name: both, load: 120 s, reach: 250, parts: 20, stations: [a, b]}
  - {name: alone, load: 120 s, reach: 250, parts: 20, stations: [a]}
"""


def test_two_stations_far_apart(tmp_path: Path) -> None:
    """2.2 m apart, carriage 200, 5 min of cutting and 2 min of loading, ends that wait: 20 parts in
    2 + 10 * 10 min = 1:42; one station alone 20 * 7 min = 2:20. A window in each visit."""
    (tmp_path / "one.nc").write_text(program("G54", {1: 300}, ""), encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", {1: 300}, ""), encoding="ascii")
    shop_of(tmp_path, FAR_APART)
    found = planned(tmp_path, "both")
    report = report_of(found)
    windows = report["windows"]
    assert [(w["runs"], w["loaded"], w["ends"]["kind"]) for w in windows] == [
        ("a", "b", "waits"), ("b", "a", "waits"),
    ]  # fmt: skip
    assert [w["at_least_s"] for w in windows] == pytest.approx([300, 300], abs=1e-6)
    alone, both = report["timelines"]
    assert (alone["total_s"], both["total_s"]) == pytest.approx((8400, 6120), abs=1e-6)
    assert (alone["round_s"], both["round_s"]) == pytest.approx((420, 600), abs=1e-6)
    assert report["bound_round_s"] == pytest.approx(600)
    assert planned(tmp_path, "alone").line.total_s == pytest.approx(8400)
    text = run_text(found)
    assert "1:42:00" in text and "2:20:00" in text


def test_a_carriage_until_the_zones_meet(tmp_path: Path) -> None:
    """The carriage widened until the zones meet closes the windows, with the reason."""
    (tmp_path / "one.nc").write_text(program("G54", {1: 300}, ""), encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", {1: 300}, ""), encoding="ascii")
    shop_of(tmp_path, FAR_APART)
    gaps = {}
    for wide in (200, 1200, 2200):
        carriage = {"left": wide, "right": wide, "front": 200, "back": 200}
        change(tmp_path, "machine", "long", carriage=carriage)
        report = report_of(planned(tmp_path, "both"))
        gaps[wide] = [w["nearest_mm"] for w in report["windows"]]
    assert gaps[200][0] - gaps[1200][0] == pytest.approx(1000)
    assert gaps[2200] == [] and len(gaps[1200]) == 2
    assert all("inside its loading zone" in row["why"] for row in report["no_window"])
    assert report["timelines"][-1]["total_s"] == pytest.approx(8400, abs=1e-6)


BEAM_ALONG_X = """
format: 1
machines:
  - name: tall
    dialect: rs274
    travel: {x: [0, 1300], y: [0, 2600], z: [-190, 0]}
    beam: x
    carriage: {left: 250, right: 250, front: 180, back: 180}
    touch_plate: 20
    PARK
beds:
  - name: floor
    machine: tall
    outline: {from: [-50, -50], to: [1050, 2350]}
    grid: {columns: 11, rows: 24, pitch: [100, 100], hole: 20.02, hole_position: 0.04, depth: 20}
    pose: {x: 60, y: -10, angle: 0}
    surface: -120
pins: [{name: peg, shank: 20.00, body: 20.00, height: 12, body_tolerance: 0.01}]
stations:
  - {name: near, bed: floor, stock: [600, 300, 18], pin: peg, pins: {edge: [C4, E4], stop: B5},
     pins_pressed: false, access: left, z: {set: touch}, work_offsets: {a: G54}, program: one}
  - {name: far, bed: floor, stock: [600, 300, 18], pin: peg, pins: {edge: [C19, E19], stop: B20},
     pins_pressed: false, access: left, z: {set: touch}, work_offsets: {a: G55}, program: other}
programs:
  - {name: one, file: one.nc, units: mm, tools: {"1": {diameter: 6}, "2": {diameter: 6}}}
  - {name: other, file: other.nc, units: mm, tools: {"1": {diameter: 6}, "2": {diameter: 6}}}
runs:
  - {name: both, load: 150 s, start: 15 s, tool_change: 40 s, reach: 300, parts: 20,
     stations: [near, far]}
"""


@pytest.mark.parametrize(
    ("park", "a_part_s", "waits"),
    [("", 505, 0), ("park: [0, 2500]", 445, 1), ("park: [0, 1200]", 385, 2)],
)
def test_two_tools_and_a_change_place(
    tmp_path: Path,
    park: str,
    a_part_s: float,
    waits: int,
) -> None:
    """Beam along X, stations at Y 300 to 600 and 1800 to 2100, start 15, change 40, T1 120, change
    40, T2 140, load 150 s; the way home may lead anywhere. No end waits at M6: 355 + 150 = 505 s a
    part. The change place behind the far station: of near's load T1 of far has 120 s and waits 30;
    (505 + 385) / 2 = 445. Between the stations: 355 + 30 = 385. There what moves is 120 mm from
    either zone, 1200 - 180 - (600 + 300) and 1800 - 300 - (1200 + 180)."""
    tools = {1: 120.0, 2: 140.0}
    (tmp_path / "one.nc").write_text(program("G54", tools, "G28"), encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", tools, "G28"), encoding="ascii")
    shop_of(tmp_path, BEAM_ALONG_X.replace("PARK", park))
    report = report_of(planned(tmp_path, "both"))
    assert report["timelines"][-1]["round_s"] / 2 == pytest.approx(a_part_s, abs=1e-6)
    kinds = [w["ends"]["kind"] for w in report["windows"]]
    assert kinds.count("waits") == waits
    least = sorted({round(w["at_least_s"], 6) for w in report["windows"]})
    assert least == [120, 140]
    told: list[Any] = [text for text in report["not_given"] if "G28" in text]
    assert len(told) == 1 and "home: {g28: [x, y, z]}" in told[0]


def test_a_program_that_parks_over_the_next_piece(tmp_path: Path) -> None:
    """The window ends hard at the line that goes there, on text, JSON and page alike."""
    text = program("G54", {1: 300}, "G53 G0 X2500 Y300")
    (tmp_path / "one.nc").write_text(text, encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", {1: 300}, ""), encoding="ascii")
    shop_of(tmp_path, FAR_APART)
    line = text.splitlines().index("G53 G0 X2500 Y300") + 1
    found = planned(tmp_path, "both")
    report = report_of(found)
    [window] = [w for w in report["windows"] if w["runs"] == "a"]
    assert (window["ends"]["line"], window["ends"]["kind"]) == (line, "hard")
    assert {f["code"] for f in report["findings"]} == {"ends-over-station"}
    words = f"until it goes away at its end (line {line})"
    assert words in " ".join(run_text(found).split())
    assert words in page_of(found)
    assert json.dumps(window["nearest_mm"]) != "null"
