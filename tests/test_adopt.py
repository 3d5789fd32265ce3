"""`adopt`: written-down offsets, and the pin corners that explain them."""

from __future__ import annotations

import math
import re
from pathlib import Path

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
def test_the_demo_is_found_again(shop: Path, run: Run, pin: str) -> None:
    """Offsets of stations on edges, turned ones, dowels and bare stock lead back to their pins."""
    lines = written(run, pin)
    Path("old.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    before = run("dump").out
    ran = run("adopt", "old.csv", "--bed", "long-bench", "--pin", pin, "-o", "old.yaml")
    assert ran.code == 0 and ran.out.count("  taken\n") == len(lines) - 1, ran.out
    assert run("dump").out == before, "nothing is registered"
    assert run("load", "old.yaml").code == 0
    rows = {(row["station"], row["nest"]): row for row in run("offsets", "--json").json["offsets"]}
    for line in lines[1:]:
        name, code, x, y, _, _, nest, *_ = line.split(",")
        mine, theirs = (rows[each, nest or "a"] for each in (name, name.removeprefix("old ")))
        assert mine["work_offset"] == code == theirs["work_offset"]
        assert mine["angle_deg"] == pytest.approx(theirs["angle_deg"], abs=1e-9)
        for key in ("x_mm", "y_mm"):  # a corner on the other side may have it as near
            assert mine[key] == pytest.approx(theirs[key], abs=0.1), (name, key)
        off = math.hypot(mine["x_mm"] - float(x), mine["y_mm"] - float(y))
        assert f"{off:.3f} mm" in next(row for row in ran.out.splitlines() if row.startswith(name))
        assert off <= math.hypot(*NUDGES[name.removeprefix("old ")]) + 0.1
        note = run("show", name, "--json").json["documents"][0]["document"]["note"]
        assert note.startswith("a, b. Written down: X ") and "Z -42.500 mm" in note
    assert "Z is shown and not taken" in ran.out


def test_what_no_pins_explain(shop: Path, run: Run) -> None:
    """An offset that lies between is told with the nearest way, and is not taken, unless asked."""
    Path("old.csv").write_text("station,x,y,jig\nodd,299,188,panel-tray\n", encoding="utf-8")
    line = ("adopt", "old.csv", "--bed", "long-bench", "--pin", "peg-20", "-o", "old.yaml")
    ran = run(*line)
    assert "not explained" in ran.out and "  taken" not in ran.out
    assert "# not explained by pins: odd" in Path("old.yaml").read_text(encoding="utf-8")
    assert "exists; choose another name" in run(*line).err
    assert "  taken\n" in run(*line, "--force", "--within", "6 mm").out
    assert "is the file that is read" in run(*line[:-1], "old.csv", "--force").err


def test_a_file_in_inches(shop: Path, run: Run) -> None:
    """A header with _in, blank lines and comments: the figures are read in its unit."""
    Path("old.csv").write_text(
        "# from the notebook\n\nstation,x_in,y_in,jig\nold,11.6142,7.2835,panel-tray\n",
        encoding="utf-8",
    )  # 295.001 and 185.001 mm
    ran = run("adopt", "old.csv", "--bed", "long-bench", "--pin", "peg-20")
    (row,) = ran.out.splitlines()[1:]
    assert "C2 +x+y: " in row and "(or C5 +x-y)" in row  # the tray and two pins are 300 deep
    assert float(re.findall(r"([0-9.]+) mm", row)[2]) < 0.1


def test_what_is_not_on_file(in_demo: Path, run: Run) -> None:
    """A bed and a kind of pin that are not there are told with the nearest name."""
    for bed, pin, told in (("long-bensh", "peg-20", "mean long-bench?"),
                           ("long-bench", "peg-21", "mean peg-20?")):  # fmt: skip
        ran = run("adopt", "old.csv", "--bed", bed, "--pin", pin)
        assert ran.code == 2 and told in ran.err


BAD = {
    "": "the file is empty; its first line is the header station,code",
    "station,x,y,jigs\na,1,2,b\n": ":1: unknown column 'jigs'; did you mean jig?",
    "station,x,y\n": "a column jig is needed",
    "station,x,y,jig\na,,2,panel-tray\n": ":2: x is missing",
    "station,x,y,jig\na,wide,2,panel-tray\n": ":2: x: expected a length",
    "station,x,y,jig\na/b,1,2,panel-tray\n": ":2: a name is made of",
    "station,code,x,y,jig\na,G12,1,2,panel-tray\n": ":2: expected a work offset such as G54",
    "station,x,y,jig\na,1,2,panel-try\n": "no jig is named panel-try; did you mean panel-tray?",
    "station,x,y,jig\na,1,2,panel-tray\nA,1,2,panel-tray\n": ":3: A stands there twice",
    "station,x,y,jig,nest\na,1,2,panel-tray,q\n": "nest",
}


@pytest.mark.parametrize("text", BAD)
def test_bad_files(in_demo: Path, run: Run, tmp_path: Path, text: str) -> None:
    """Whatever is wrong in the file is told with its line, and the command leaves with 2."""
    file = tmp_path / "old.csv"
    file.write_text(text, encoding="utf-8")
    ran = run("adopt", file, "--bed", "long-bench", "--pin", "peg-20")
    assert ran.code == 2 and BAD[text] in ran.err, ran.err


def test_all_problems_at_once(in_demo: Path, run: Run, tmp_path: Path) -> None:
    """Every wrong line of a file is told in one go."""
    file = tmp_path / "old.csv"
    file.write_text("station,x,y,jig\na,1,,b\nc,wide,2,d\n", encoding="utf-8")
    ran = run("adopt", file, "--bed", "long-bench", "--pin", "peg-20")
    assert len(ran.err.splitlines()) == 2
