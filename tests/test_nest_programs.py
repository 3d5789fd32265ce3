"""Nests with programs of their own, and commands that work all nests of a station."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from conftest import Run, without_help
from plans import shop_of
from test_run_worked import program

pytestmark = without_help

WORLD = """
format: 1
machines:
  - name: mill
    dialect: rs274
    travel: {x: [0, 3300], y: [0, 940], z: [-190, 0]}
    beam: y
    operator: front
    carriage: {left: 200, right: 200, front: 200, back: 200}
    rapid: 8000
    tool_lengths: gauge
beds:
  - name: bench
    machine: mill
    grid: {columns: 32, rows: 8, pitch: [100, 100], hole: 20.02, hole_position: 0.04, depth: 20}
    pose: {x: 60, y: 55, angle: 0}
    surface: -120
pins: [{name: peg, shank: 20.00, body: 20.00, height: 12, body_tolerance: 0.01}]
jigs:
  - name: pair
    footprint: [800, 300]
    height: 18
    copies: 2
    nests:
      - {name: a, zero: [0, 0], stock: {size: [400, 300, 18]}}
      - {name: b, zero: [400, 0], stock: {size: [400, 300, 18]}OWN}
stations:
  - {name: left, bed: bench, jig: pair, pin: peg, pins: {edge: [C2, E2], stop: B3},
     z: {set: reference}, work_offsets: {a: G55, b: G56}, program: one}
  - {name: right, bed: bench, jig: pair, pin: peg, pins: {edge: [Y2, AA2], stop: X3},
     z: {set: reference}, work_offsets: {a: G57, b: G58}, program: one}
programs:
  - {name: one, file: one.nc, units: mm, tools: {"1": {diameter: 6}}}
  - {name: other, file: other.nc, units: mm, tools: {"1": {diameter: 6}, "2": {diameter: 8}}}
runs:
  - {name: both, load: 60 s, start: 10 s, tool_change: 30 s, reach: 250, stations: [left, right]}
"""


@pytest.fixture
def own(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop in which nest b has a program of its own."""
    (tmp_path / "one.nc").write_text(program("G55", {1: 100}, ""), encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G56", {1: 50, 2: 40}, ""), encoding="ascii")
    monkeypatch.chdir(tmp_path)
    shop_of(tmp_path, WORLD.replace("OWN", ", program: other"))
    return tmp_path


def shown(run: Run, *words: object) -> dict[str, Any]:
    """A report as JSON."""
    return dict(json.loads(run(*words, "--json").out))


def test_run_works_each_nest_with_its_program(own: Path, run: Run) -> None:
    """Two programs in turn at each station, each with its zero; a start and changes for each."""
    report = shown(run, "run", "both")
    assert [(v["station"], v["nests"], v["file"]) for v in report["visits"]] == [
        ("left", ["a"], "one.nc"), ("left", ["b"], "other.nc"),
        ("right", ["a"], "one.nc"), ("right", ["b"], "other.nc"),
    ]  # fmt: skip
    changes = [sum(s["what"] == "change" for s in v["spans"]) for v in report["visits"]]
    assert changes == [1, 1, 1, 1]  # T2 of b is in as a begins; T1 stays in for b's first part
    [left, right] = report["times"]
    assert left["attended_s"] == 2 * 10 + 2 * 30 and left["parts"] == right["parts"] == 2
    assert left["cut_s"] == pytest.approx(190, abs=15)  # rapids besides
    windows = [(w["runs"], w["from"]["line"], w["from"]["event"]) for w in report["windows"]]
    assert {event for runs, _, event in windows if runs == "left"} == {
        "T1 is down in left a", "T1 is down in left b", "T2 is down in left b",
    }  # fmt: skip
    reasons = {row["runs"]: row["why"] for row in report["no_window"]}
    assert "it selects G55, not G57" in reasons["right"]


def test_check_and_stamp_take_the_nest_of_the_program(own: Path, run: Run) -> None:
    """A program is read at the nest that it belongs to; the block of its copy selects that nest."""
    for name, nest, code in (("one", "a", "G55"), ("other", "b", "G56")):
        report = shown(run, "check", name, "--station", "left")
        assert (report["nest"], report["verdict"]) == (nest, "nothing-found")
        assert run("stamp", name, "--station", "left", "-o", f"left-{nest}.nc").code == 0
        assert code in (own / f"left-{nest}.nc").read_text(encoding="ascii")
    visits = shown(run, "run", "both")["visits"]
    assert [v["file"] for v in visits if v["station"] == "left"] == ["left-a.nc", "left-b.nc"]


def test_repeat_works_every_nest(own: Path, run: Run) -> None:
    """A section for each nest of the program; with --nest of that one alone."""
    words = ("--stations", "left,right", "--retract", "-5")
    ran = run("repeat", "one", *words, "-o", "ones.nc")
    assert ran.code == 0 and "2 sections" in ran.out, ran.err
    ran = run("repeat", "other", *words, "-o", "others.nc", "--nest", "b")
    assert ran.code == 0 and "left b" in ran.out and "right b" in ran.out, ran.err


def test_repeat_works_all_nests_of_one_program(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the nests share the station's program each of them is a section; nobody is asked
    between nests of one station, where nobody loads."""
    (tmp_path / "one.nc").write_text(program("G55", {1: 100}, ""), encoding="ascii")
    monkeypatch.chdir(tmp_path)
    shop_of(tmp_path, WORLD.replace("OWN", ""))
    words = ("--stations", "left,right", "--retract", "-5", "-o")
    ran = run("repeat", "one", *words, "all.nc")
    assert ran.code == 0 and "4 sections" in ran.out, ran.err
    text = (tmp_path / "all.nc").read_text(encoding="ascii")
    assert [f"section {at} of 4" in text for at in range(1, 5)] == [True] * 4
    assert sum(line == "M0" for line in text.splitlines()) == 1
    assert all(code in text for code in ("G55", "G56", "G57", "G58"))
    assert "2 sections" in run("repeat", "one", *words, "b.nc", "--nest", "b").out
    assert "2 sections" in run("repeat", "one", *words, "r.nc", "--from", "right").out


def test_sheet_and_fingerprint_follow(own: Path, run: Run) -> None:
    """The sheet shows both programs with their nests; another program is another setup, and none
    that a nest names is retired."""
    before = {r["nest"]: r["fingerprint"] for r in shown(run, "offsets", "left")["offsets"]}
    assert run("sheet", "left", "-o", "papers").code == 0
    page = (own / "papers" / "left.html").read_text(encoding="utf-8")
    assert "<b>one</b>, nest a" in page and "<b>other</b>, nest b" in page
    assert run("retire", "program", "other").code == 2
    (own / "world.yaml").write_text(WORLD.replace("OWN", ""), encoding="utf-8")
    assert run("load", "world.yaml").code == 0
    after = {r["nest"]: r["fingerprint"] for r in shown(run, "offsets", "left")["offsets"]}
    assert before["b"] != after["b"]


def test_a_program_that_is_not_there(own: Path, run: Run) -> None:
    """A nest's program must be on file."""
    text = WORLD.replace("OWN", ", program: ghost")
    (own / "world.yaml").write_text(text, encoding="utf-8")
    ran = run("load", "world.yaml")
    assert ran.code == 2 and "nests[1].program" in ran.err and "ghost" in ran.err
