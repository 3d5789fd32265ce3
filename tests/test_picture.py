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
    ("side", "angle", "told"),
    [
        ("front", 0.1, "X to the right, Y up; you stand here, at the machine's front"),
        ("left", 0, "X to the right, Y up; you stand at the left here, at the machine's left side"),
        ("front", 90, "its Y up; you stand at the left here, at the machine's front"),
        ("back", 180, "its Y up; you stand here, at the machine's back"),
        ("right", 90, "its Y up; you stand here, at the machine's right side"),
        ("front", 180, "its Y up; you stand above, at the machine's front"),
    ],
)
def test_people_stand_where_they_do(side: str, angle: float, told: str) -> None:
    """The field lies as the bed does; on which side of it people stand follows from both."""
    drawn = world(
        BASE.replace("rs274\n", f"rs274\n    operator: {side}\n").replace(
            "angle: 0}", f"angle: {angle}}}"
        )
    )
    shown = drawn["bed", "long-bench"], drawn["machine", "gantry-1"]
    assert picture(*shown).rstrip().endswith(told)


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
