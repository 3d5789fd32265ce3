"""Survey files: what is read, and what is told of files that are wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
from worlds import BASE, facts, world

from pincorner.documents.beds import Extra
from pincorner.documents.survey_csv import MeasuredHole, read_survey
from pincorner.errors import BadInput, DocumentErrors

BED = facts(world(BASE)).bed


def read(folder: Path, text: str | bytes) -> tuple[MeasuredHole, ...]:
    """The readings of a file with this text."""
    file = folder / "survey.csv"
    file.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return read_survey(file, BED)


def problems(folder: Path, text: str) -> list[tuple[int | None, str, str]]:
    """Line, column and text of each problem of a file."""
    with pytest.raises(DocumentErrors) as told:
        read(folder, text)
    return [(problem.line, problem.path, problem.text) for problem in told.value.problems]


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("signature", ["", "\ufeff"])
def test_what_a_file_may_look_like(tmp_path: Path, line_end: str, signature: str) -> None:
    """Comments, blank lines, spaces, quotes, a UTF-8 signature and any line end are read."""
    lines = ["# by Ida", "Hole, X_mm, y_MM", "", ' "a1" , 60.01 ,54.98 # first', "O9,1460.5,.5e2"]
    found = read(tmp_path, signature + line_end.join(lines))
    assert found == (MeasuredHole("A1", 60.01, 54.98), MeasuredHole("O9", 1460.5, 50.0))


def test_columns_in_any_order_and_heights(tmp_path: Path) -> None:
    """Columns are found by name; a height may be left out on some lines."""
    found = read(tmp_path, "z_mm,y_mm,hole,x_mm\n-120.02,54.98,A1,60.01\n,855,O9,1460\n")
    assert found == (
        MeasuredHole("A1", 60.01, 54.98, -120.02),
        MeasuredHole("O9", 1460.0, 855.0, None),
    )
    assert read(tmp_path, "hole,x_mm,y_mm,z_mm\nA1,1,2\n")[0].z_mm is None


def test_inches_are_exact(tmp_path: Path) -> None:
    """Inches become the nearest double of their exact millimetres: 0.1 in is 2.54 mm."""
    found = read(tmp_path, "hole,x_in,y_in,z_in\nA1,0.1,3,-4.7\n")
    assert found == (MeasuredHole("A1", 2.54, 76.2, -119.38),)


def test_extra_holes_have_their_own_name(tmp_path: Path) -> None:
    """A hole off the grid is found without regard to case and comes with the bed's name for it."""
    bed = BED.model_copy(update={"extra": (Extra(name="Round", at=(250.0, 150.0)),)})
    file = tmp_path / "survey.csv"
    file.write_text("hole,x_mm,y_mm\nrOUND,1,2\n", encoding="utf-8")
    assert read_survey(file, type(BED).model_validate(bed.model_dump(by_alias=True)))[0] == (
        MeasuredHole("Round", 1.0, 2.0)
    )


def test_all_problems_come_with_their_lines(tmp_path: Path) -> None:
    """Each wrong line is told, with its number and column, and good lines are not."""
    text = "hole,x_mm,y_mm\nA1,60,55\nZ99,1,2\n# \na1,60,55\nB2,nan,1e999\nC3,,5\nD4,1,2,3\n,1,2\n"
    told = problems(tmp_path, text)
    assert [(line, column) for line, column, _ in told] == [
        (3, "hole"),
        (5, "hole"),
        (6, "x_mm"),
        (7, "x_mm"),
        (8, ""),
        (9, "hole"),
    ]
    wanted = ("no hole 'Z99'", "line 2", "finite", "nothing", "4 values", "label")
    for (_, _, said), words in zip(told, wanted, strict=True):
        assert words in said


@pytest.mark.parametrize(
    ("cell", "told"),
    [
        ("inf", "finite"),
        ("-Infinity", "finite"),
        ("1e999", "finite"),
        ("1_0", "number"),
        ("0x10", "number"),
        ("60 mm", "number"),
        ("100001", "100 m"),
        ("\u0661", "number"),
    ],
)
def test_cells_that_are_no_lengths(tmp_path: Path, cell: str, told: str) -> None:
    """Numbers are plain, finite and at most 100 m."""
    ((line, column, said),) = problems(tmp_path, f"hole,x_mm,y_mm\nA1,{cell},55\n")
    assert (line, column) == (2, "x_mm") and told in said


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "header"),
        ("# nothing but a comment\n", "header"),
        ("A1,60,55\n", "header"),
        ("hole,x,y\nA1,60,55\n", "unit"),
        ("hole,x_mm,y_in\nA1,60,55\n", "one unit"),
        ("hole,x_mm\nA1,60\n", "y_mm is missing"),
        ("hole,x_mm,y_mm,y_mm\nA1,60,55,55\n", "twice"),
        ("hole,x_mm,y_mm,q_mm\nA1,60,55,1\n", "'q_mm'"),
        ("hole;x_mm;y_mm\nA1;60;55\n", "commas"),
        ("hole\tx_mm\ty_mm\nA1\t60\t55\n", "commas"),
        ("hole,x_mm,y_mm\n", "no reading"),
    ],
)
def test_headers_that_are_none(tmp_path: Path, text: str, told: str) -> None:
    """A header that cannot be used has one clear line."""
    ((_, _, said),) = problems(tmp_path, text)
    assert told in said


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    """A file that is not there or no UTF-8 is told in one line."""
    with pytest.raises(BadInput, match=r"gone\.csv cannot be read"):
        read_survey(tmp_path / "gone.csv", BED)
    with pytest.raises(BadInput, match=r"survey\.csv:2: not UTF-8"):
        read(tmp_path, "hole,x_mm,y_mm\nÄ1,1,2\n".encode("latin-1"))
