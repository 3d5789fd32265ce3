"""`adopt`: written-down offsets as stations, and the pin corners that explain them."""

from __future__ import annotations

import math
import shlex
from pathlib import Path
from typing import Any

import pytest
from conftest import Run

JIGS = {
    "left": ("panel-tray", "peg-20", ""),
    "right": ("panel-tray", "peg-20", ""),
    "spare": ("panel-tray", "peg-20", ""),
    "end-bars": ("end-bar-cradle", "peg-20", "b"),
    "roof": ("500 x 230 x 18", "peg-12", ""),
}
"""Of the demo's stations the jig or stock as it is typed, the pins, and the nest."""
NUDGES = {"left": (0.12, -0.1), "right": (-0.3, 0.05), "spare": (0, 0), "end-bars": (0.2, 0.2),
          "roof": (-0.05, -0.4)}  # fmt: skip
"""How far off each was written down, mm."""


def written(run: Run, pin: str) -> list[str]:
    """Lines of a file: the demo's offsets with a kind of pin, each a little off."""
    lines = ["station,code,x_mm,y_mm,z_mm,jig,nest,note"]
    for row in run("offsets", *JIGS, "--json").json["offsets"]:
        jig, own, nest = JIGS[row["station"]]
        if own != pin or (nest and row["nest"] != nest):
            continue
        dx, dy = NUDGES[row["station"]]
        x, y = row["x_mm"] + dx, row["y_mm"] + dy
        name, code = f"old {row['station']}", row["work_offset"]
        lines.append(f'{name},{code},{x:.3f},{y:.3f},-42.5,{jig},{nest},"a, b"')
    return lines


@pytest.mark.parametrize("pin", ["peg-20", "peg-12"])
def test_pins_that_are_proposed_hold_what_was_printed(shop: Path, run: Run, pin: str) -> None:
    """Offsets are taken over as written; laid against the pins proposed, stations lie no farther
    off than was said, whether on edges, turned, on dowels or bare stock."""
    lines = written(run, pin)
    Path("old.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    line = ("adopt", "old.csv", "--bed", "long-bench", "--pin", pin, "--json")
    report = run(*line).json
    assert len(report["new"]) == len(lines) - 1
    for each, line_of in zip(report["stations"], lines[1:], strict=True):
        name, code, x, y, *_ = line_of.split(",")
        proposed, theirs = each["proposed"], name.removeprefix("old ")
        measured = row_of(run, name, each["nest"])
        assert (measured["x_mm"], measured["y_mm"]) == (float(x), float(y))
        assert measured["work_offset"] == code and measured["measured"]["z_mm"] == -42.5
        assert measured["z_mm"] is None, "that day's Z is written nowhere"
        assert each["off_mm"] <= math.hypot(*NUDGES[theirs]) + 0.1
        assert run(*shlex.split(proposed["command"])[1:]).code == 0
        held = row_of(run, name, each["nest"])
        assert held["measured"] is None and held["work_offset"] == code
        off = math.dist((held["x_mm"], held["y_mm"]), (float(x), float(y)))
        assert off == pytest.approx(each["off_mm"], abs=1e-9)
        assert held["angle_deg"] == pytest.approx(row_of(run, theirs, each["nest"])["angle_deg"])


def row_of(run: Run, station: str, nest: str | None) -> dict[str, Any]:
    """A station's row of `offsets`: of a nest, or the first."""
    rows: list[dict[str, Any]] = run("offsets", station, "--json").json["offsets"]
    return next(row for row in rows if nest in (None, row["nest"]))


def test_what_no_pins_explain(shop: Path, run: Run) -> None:
    """An offset that lies between is taken over all the same; the nearest pins are told.

    With --dry-run they are told as well, and nothing is registered.
    """
    Path("old.csv").write_text("station,x,y,jig,turn\nodd,299,188,panel-tray,0\n", encoding="utf-8")
    line = ("adopt", "old.csv", "--bed", "long-bench", "--pin", "peg-20")
    before = run("dump").out
    planned = run(*line, "--dry-run", "--json").json
    assert planned["dry_run"] and run("dump").out == before
    assert [each["proposed"] for each in planned["stations"]] == [None]
    ran = run(*line)
    assert "odd: no pins explain it within 1.000 mm; nearest C2 +x+y: " in ran.out
    assert "pincorner register" not in ran.out and "1 new" in ran.out
    ran = run(*line, "--within", "6 mm")
    assert "pincorner register odd --pin peg-20 --pins" in ran.out and "1 as before" in ran.out


def test_stations_on_file_are_asked_about(shop: Path, run: Run) -> None:
    """A name that is on file keeps what is done there, and nothing changes before a yes."""
    Path("old.csv").write_text(
        "station,x,y,jig,turn\nleft,295,185,panel-tray,0\n", encoding="utf-8"
    )
    line, before = ("adopt", "old.csv", "--bed", "long-bench"), run("dump").out
    ran = run(*line)
    assert ran.code == 2 and run("dump").out == before
    assert "station left is there and would change its pin, pins, corner, toward, mea" in ran.err
    assert run(*line, "--yes").code == 0
    document = run("show", "left", "--json").json["documents"][0]["document"]
    assert document["measured"] == {"x": 295, "y": 185} and "pins" not in document
    assert document["work_offsets"] == {"a": "G55"} and document["program"] == "hand-hold"


def test_inches_and_mm_are_the_same(in_demo: Path, run: Run, tmp_path: Path) -> None:
    """A header with _in, --units in, and mm give the same stations and the same pins."""
    reports = []
    for head, at, more in (
        ("# from the notebook\n\nstation,x_in,y_in,jig,turn", ("11.625", "7.28125"), ()),
        ("station,x,y,jig,turn", ("11 5/8", "7 9/32"), ("--units", "in")),
        ("station,x,y,jig,turn", ("295.275", "184.94375"), ()),
    ):
        file = tmp_path / f"{len(reports)}.csv"
        file.write_text(f"{head}\nold,{at[0]},{at[1]},panel-tray,0\n", encoding="utf-8")
        line = ("adopt", file, "--bed", "long-bench", "--pin", "peg-20", "--dry-run", "--json")
        report = run(*line, *more).json["stations"]
        report[0]["line"] = 0
        reports.append(report)
    assert reports[0] == reports[1] == reports[2]
    [row] = reports[0]
    assert row["proposed"]["pins"][:2] == ["D2", "G2"] and row["proposed"]["alike"] == ["C5 +x-y"]


def test_turned_otherwise_is_told(in_demo: Path, run: Run, tmp_path: Path) -> None:
    """Where pins explain it turned and the file does not say how it lies, nobody guesses."""
    right = row_of(run, "right", None)
    file = tmp_path / "old.csv"
    for column, told in (("", True), ("90", False)):
        file.write_text(
            f"station,x,y,jig,turn\nold,{right['x_mm']},{right['y_mm']},panel-tray,{column}\n",
            encoding="utf-8",
        )
        ran = run("adopt", file, "--bed", "long-bench", "--pin", "peg-20", "--dry-run")
        assert ("is taken as turned 0, pins explain it turned 90" in ran.out) == told, ran.out
        assert ("--turn 90" in ran.out) == told, ran.out


def test_what_is_not_on_file(in_demo: Path, run: Run) -> None:
    """A bed and a kind of pin that are not there are told with the nearest name."""
    for bed, pin, told in (("long-bensh", "peg-20", "mean long-bench?"),
                           ("long-bench", "peg-21", "mean peg-20?")):  # fmt: skip
        ran = run("adopt", "old.csv", "--bed", bed, "--pin", pin)
        assert ran.code == 2 and told in ran.err


BAD = {
    "": "the file is empty; its first line is the header station,code",
    "station,x,y,jigs\na,1,2,b\n": ":1: unknown column 'jigs'; did you mean jig?",
    "station,x\n": "a column y is needed",
    "station,x,y\na,1,2\n": ":2: it says neither jig nor stock",
    "station,x,y,jig\na,,2,panel-tray\n": ":2: x is missing",
    "station,x,y,jig\na,wide,2,panel-tray\n": ":2: x: expected a length",
    "station,x,y,jig\na/b,1,2,panel-tray\n": ":2: a name is made of",
    "station,code,x,y,jig\na,G12,1,2,panel-tray\n": ":2: expected a work offset such as G54",
    "station,x,y,jig\na,1,2,panel-try\n": "no jig is named panel-try; did you mean panel-tray?",
    "station,x,y,jig\na,1,2,panel-tray\nA,1,2,panel-tray\n": ":3: A stands there twice: one",
    "station,x,y,jig,nest\na,1,2,panel-tray,q\n": ":2: no nest of panel-tray is named q",
    "station,x,y,jig,turn\na,1,2,panel-tray,45\n": ":2: turn: expected 0, 90, 180 or 270",
    "station,x,y,jig,zero_x\na,1,2,400x250x18,5\n": ":2: zero_y is missing: zero_x and zero_y go",
    "station,x,y,jig,zero_y\na,1,2,400x250x18,5\n": ":2: zero_x is missing: zero_x and zero_y go",
    "station,x,y,jig,date\na,1,2,panel-tray,4.3.25\n": ":2: expected a day such as 2026-11-20",
}


@pytest.mark.parametrize("text", BAD)
def test_bad_files(in_demo: Path, run: Run, tmp_path: Path, text: str) -> None:
    """Whatever is wrong in the file is told with its line, and the command leaves with 2."""
    file = tmp_path / "old.csv"
    file.write_text(text, encoding="utf-8")
    ran = run("adopt", file, "--bed", "long-bench", "--pin", "peg-20")
    assert ran.code == 2 and BAD[text] in ran.err, ran.err


def test_lines_without_jig_or_stock(in_demo: Path, run: Run, tmp_path: Path) -> None:
    """What lies there is taken as an option says it, the same as if it stood in each line, and the
    lines are told."""
    file, whole = tmp_path / "old.csv", tmp_path / "whole.csv"
    file.write_text("station,x,y,jig,turn\nold,300,300,,0\n", encoding="utf-8")
    whole.write_text("station,x,y,jig,turn\nold,300,300,400 x 250 x 18,0\n", encoding="utf-8")
    args = ("--bed", "long-bench", "--pin", "peg-20", "--dry-run")
    told = run("adopt", file, *args, "--stock", "400,250,18").out
    line = "warning: line 2: says neither jig nor stock, taken as bare stock 400 mm x 250 mm"
    assert line in " ".join(told.split()) and run("adopt", whole, *args).out in told.replace(
        next(each + "\n" for each in told.splitlines() if line in each), ""
    )
    assert "line 2: says neither" in run("adopt", file, *args, "--jig", "panel-tray").out


def test_all_problems_at_once(in_demo: Path, run: Run, tmp_path: Path) -> None:
    """Every wrong line of a file is told in one go."""
    file = tmp_path / "old.csv"
    file.write_text("station,x,y,jig\na,1,,b\nc,wide,2,d\ne,1,2,f\n", encoding="utf-8")
    ran = run("adopt", file, "--bed", "long-bench", "--pin", "peg-20")
    assert len(ran.err.splitlines()) == 3
