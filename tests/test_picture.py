"""Beds in characters: everything stands where its row and column say."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from conftest import Run
from worlds import BASE, world

from pincorner.documents.beds import Bed
from pincorner.render.text.picture import picture


def bed(columns: int, rows: int, pitch: tuple[float, float] = (100, 100), **more: object) -> Bed:
    """A bed of so many holes."""
    grid = {"columns": columns, "rows": rows, "pitch": pitch, "hole": 20}
    values = {"name": "b", "machine": "m", "grid": grid, "pose": {"x": 0, "y": 0}, **more}
    return Bed.model_validate(values, context={"units": "mm"})


def field(text: str) -> tuple[list[str], str]:
    """The lines between the frame's, from the front on, and the line of letters."""
    lines = text.splitlines()
    frames = [at for at, line in enumerate(lines) if line.strip().startswith("+-")]
    return lines[frames[1] - 1 : frames[0] : -1], lines[frames[1] + 1]


@pytest.mark.parametrize(
    ("columns", "rows", "pitch"),
    [(12, 24, (101.6, 101.6)), (15, 9, (100, 100)), (12, 8, (25, 25)), (2, 2, (100, 100)),
     (30, 10, (50, 100)), (9, 6, (96, 96))],
)  # fmt: skip
def test_every_hole_stands_in_its_place(
    columns: int, rows: int, pitch: tuple[float, float]
) -> None:
    """Each hole has a character of its own, evenly spaced, beside its number, above its letters."""
    lines, letters = field(picture(bed(columns, rows, pitch), None))
    holes = [line for line in lines if "." in line]
    assert len(holes) == rows and all(line.count(".") == columns for line in holes)
    numbers = [int(line[:3]) for line in holes if line[:3].strip()]
    assert numbers == list(range(1, rows + 1))
    places = [at for at, each in enumerate(holes[0]) if each == "."]
    assert len({right - left for left, right in pairwise(places)}) <= 1
    frame = [at for at, each in enumerate(holes[0]) if each == "|"]
    assert places[0] - frame[0] == frame[1] - places[-1], "as much room at the left as at the right"
    assert letters[places[0]] == "A" and all(len(line) <= 79 for line in [*lines, letters])


def test_large_grids_stay_small() -> None:
    """A grid with more holes than there are characters still fits a terminal."""
    text = picture(bed(120, 300, (10, 10)), None)
    _, letters = field(text)
    columns = {bed(120, 300).letters.of(number) for number in range(1, 121)}
    assert set(letters.split()) <= columns, "where columns are left out, letters stay apart"
    assert all(len(line) <= 79 for line in text.splitlines()) and len(text.splitlines()) < 40


def test_what_stands_outside_is_drawn() -> None:
    """Holes that are missing are crossed out; extra ones off the bed make the field larger."""
    text = picture(bed(3, 2, missing=["B2"], extra=[{"name": "R1", "at": [500, 50]}]), None)
    lines, _ = field(text)
    assert sum(line.count("x") for line in lines) == 1
    assert sum(line.count(".") for line in lines) == 6 and "x no hole" in text


@pytest.mark.parametrize(
    ("side", "angle", "told", "corners", "axes"),
    [
        ("front", 0.1, "X to the right, Y up; you stand here, at the machine's front",
         "A1 O1 A9", ("right", "up")),
        ("left", 0, "X up, Y to the left; you stand here, at the machine's left side",
         "A9 A1 O9", ("up", "left")),
        ("back", 0, "X to the left, Y down; you stand here, at the machine's back",
         "O9 A9 O1", ("left", "down")),
        ("right", 0, "X down, Y to the right; you stand here, at the machine's right side",
         "O1 O9 A1", ("down", "right")),
        ("front", 90, "the bed's X up, its Y to the left, the machine's X to the right, Y up; you "
         "stand here, at the machine's front", "A9 A1 O9", ("right", "up")),
        ("right", 90, "the bed's X to the right, its Y up, the machine's X down, Y to the right; "
         "you stand here, at the machine's right side", "A1 O1 A9", ("down", "right")),
    ],
)  # fmt: skip
def test_the_bed_is_drawn_as_people_see_it(
    side: str, angle: float, told: str, corners: str, axes: tuple[str, str]
) -> None:
    """The field is turned to who stands below it: which holes are near left, near right and far
    left there; the machine's axes stand at the sides that they point to, and in words."""
    drawn = world(
        BASE.replace("rs274\n", f"rs274\n    operator: {side}\n").replace(
            "angle: 0}", f"angle: {angle}}}"
        )
    )
    text = picture(drawn["bed", "long-bench"], drawn["machine", "gantry-1"])
    assert " ".join(text.split()).endswith(told)
    assert max(map(len, text.splitlines())) <= 78, "in documents it stands behind #"
    lines, below = field(text)
    rows = [line for line in lines if "." in line]
    left, right, far = corners.split()
    ends = [at for at, character in enumerate(rows[0]) if character == "."]
    assert {below[ends[0]], rows[0][:3].strip()} == set(left)
    assert {below[ends[-1]], rows[0][:3].strip()} == set(right)
    assert {below[ends[0]], rows[-1][:3].strip()} == set(far)
    frame = text.splitlines()
    last = len(lines) + 1
    sides = {
        "up": frame[0], "down": frame[last], "left": "".join(line[:6] for line in frame[1:last]),
        "right": "".join(line[-2:] for line in frame[1:last]),
    }  # fmt: skip
    assert [[f"{axis}+" in sides[way] for way in axes] for axis in "XY"] == [
        [True, False], [False, True],
    ]  # fmt: skip


def test_stations_of_the_demo(in_demo: Path, run: Run) -> None:
    """The pins of a station stand in their holes, and its corner is marked."""
    out = run("show", "left", "--kind", "station").out
    drawn = "\n".join(line[2:] for line in out.splitlines() if line.startswith("#"))
    lines, letters = field(drawn)
    by_row = {int(line[:3]): line for line in lines if line[:3].strip()}

    def at(label: str) -> str:
        return by_row[int(label[1:])][letters.index(label[0])]

    assert [at(label) for label in ("D2", "G2", "C4", "C2", "H5", "A1")] == list("OOO+x.")
    assert "left" in drawn and "you stand here, at the machine's front" in drawn
    assert out.isascii()
    everything = run("show", "long-bench").out
    assert everything.count("O") > 12 and "end-bars" in everything


def test_lists_say_what_things_are(in_demo: Path, run: Run) -> None:
    """A list is a table with what each thing is, in the shop's unit."""
    rows = {line.split()[1]: line for line in run("list").out.splitlines() if line.split()[1:]}
    assert "15 x 9 holes 100 x 100 mm apart on gantry-1" in rows["long-bench"]
    assert "20 in the hole, 12 mm above, 16 high" in rows["peg-12"]
    assert "460 x 280 mm; nests a" in rows["panel-tray"]
    assert "stations left, right" in rows["monday-sides"]
