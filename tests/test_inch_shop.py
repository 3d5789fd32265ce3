"""A shop that works in inches is answered in inches, on every report that a person reads."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml
from conftest import Run

SHOP = """
format: 1
units: in
machines:
  - {name: router, dialect: rs274, units: in, travel: {x: [0, 40], y: [0, 30], z: [-8, 0]},
     repeatability: 0.001, nose: 2.5}
beds:
  - name: oak
    machine: router
    grid: {columns: 8, rows: 6, pitch: [4, 4], hole: 0.751, hole_position: 0.003, depth: 0.75}
    pose: {x: 2.5, y: 2.25}
    surface: -4.5
    thickness: 1.5
pins: [{name: dowel, shank: 3/4 in, body: 3/4 in, height: 1}]
jigs:
  - name: drawer tray
    footprint: [14, 10]
    seat: 0.75
    height: 1.25
    nests: [{name: a, zero: [1, 0.75], stock: {size: [12, 8, 0.75]}, run_off: 0.3}]
stations:
  - {name: left, bed: oak, jig: drawer tray, pin: dowel, pins: {edge: [B2, D2], stop: A4},
     work_offsets: {a: G54}, program: front}
  - {name: right, bed: oak, jig: drawer tray, pin: dowel, pins: {edge: [F2, H2], stop: E4},
     work_offsets: {a: G55}, program: front}
programs:
  - {name: front, file: front.nc, units: in, tools: {"1": {diameter: 0.25, stickout: 1.5}},
     cycle: 90 s}
runs: [{name: both, stations: [left, right], load: 60 s, reach: 8}]
"""
PROGRAM = """G20 G90 G17
G54
T1 M6
M3 S18000
G0 Z1
G0 X1 Y1
G1 Z-1.3 F40
G1 X9 F80
G0 Z1
M30
"""
SURVEY = """hole,x_in,y_in
A1,2.512,2.2415
H1,30.5123,2.2566
A6,2.5031,22.2401
H6,30.5008,22.2549
D3,14.5880,10.2477
"""


@pytest.fixture
def oak(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop in inches with two stations, as the working folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    assert run("init", ".", "--units", "in").code == 0
    (tmp_path / "shop.yaml").write_text(SHOP, encoding="utf-8")
    (tmp_path / "front.nc").write_text(PROGRAM, encoding="utf-8")
    (tmp_path / "survey.csv").write_text(SURVEY, encoding="utf-8")
    loaded = run("load", "shop.yaml")
    assert loaded.code == 0, loaded.err
    return tmp_path


MM = re.compile(r"[0-9] ?mm\b|\bmm\b(?! per m)")
REPORTS = {
    "check": (("check", "front", "--station", "left"), "0.5500 in deep into the seat"),
    "choice": (
        ("register", "new", "--bed", "oak", "--jig", "drawer tray", "--pin", "dowel", "--corner",
         "A2", "--toward", "+x+y", "--work-offset", "a=G56"), "lies within 0.0"),
    "offsets": (("offsets",), "a     G54   in     3.8750  7.3750"),
    "place": (
        ("place", "drawer tray", "--bed", "oak", "--pin", "dowel", "--count", "1"),
        "lies within, gap: in",
    ),
    "refusal": (
        ("register", "new", "--bed", "oak", "--jig", "drawer tray", "--pin", "dowel", "--pins",
         "B2,H2,A4"), "ends at 14.0000 in"),
    "run": (("run", "both"), "reach 8 in"),
    "survey": (("survey", "oak", "survey.csv"), "A1 lies at X, in"),
    "verify": (("verify", "left", "--x", "3.882", "--y", "7.371"), "in off"),
    "resurface": (("resurface", "oak", "--depth", "0.02"), "0.0200 in cut off"),
}  # fmt: skip


@pytest.mark.parametrize("report", REPORTS)
def test_no_report_speaks_mm(oak: Path, run: Run, report: str) -> None:
    """Figures are those that the operator keys in and reads, and mm stands nowhere."""
    words, told = REPORTS[report]
    ran = run(*words)
    text = ran.out + ran.err
    assert told in text, text
    assert not MM.search(text), text


def test_a_line_is_found_by_its_own_figure(oak: Path, run: Run) -> None:
    """The depth that a finding tells is the Z of the program's line."""
    out = run("check", "front", "--station", "left").out
    assert re.search(r"line [0-9]+: the 0.25 in cutter would .* at Z-1.3000", out)


def test_json_stays_in_mm(oak: Path, run: Run) -> None:
    """Scripts get mm, whatever the shop's unit is."""
    told = run("check", "front", "--station", "left", "--json").json
    assert told["extent_mm"]["z"] == pytest.approx([-1.3 * 25.4, 25.4])
    row = run("offsets", "left", "--json").json["offsets"][0]
    assert row["x_mm"] == pytest.approx(3.875 * 25.4)
    dumped = yaml.safe_load(run("dump").out)
    assert dumped["units"] == "mm"
