"""What the product's reader says of a whole program, and the files that it refuses."""

from __future__ import annotations

from pathlib import Path

import pytest
from readers import STATION

from pincorner.errors import BadInput
from pincorner.program.reader.motions import Frame
from pincorner.program.reader.reading import Reading, Summary
from pincorner.program.source.text import read_program


def summary(folder: Path, text: str | bytes, frame: Frame = STATION) -> Summary:
    """The summary once all motions were taken."""
    path = folder / "program.nc"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    reading = Reading(frame)
    for _ in reading.motions(read_program(path)):
        pass
    return reading.summary


def test_summary(tmp_path: Path) -> None:
    """All lines of the file, units and tools as they come, codes by first use, where it ends."""
    program = (
        "%\nG0 X1\nG20 G54\nX2\nG20\nT3 M6\nG21 G55\nX3\nT1 M6\nX4\nT3 M6\nG54 X5\nM30\n%\nX9\n"
    )
    got = summary(tmp_path, program)
    assert got.codes == ("", "G54", "G55")
    assert got.units == (("in", 3), ("mm", 7))
    assert got.tools == (3, 1)
    assert got.lines == 15 and got.ended == 13


@pytest.mark.parametrize(
    ("text", "lines", "ended"),
    [
        ("X1\nX2\n", 2, None), ("X1\r\nX2", 2, None), ("X1\rM2\rX3\r", 3, 2),
        ("%\nX1\n%\nX2\n", 4, 3),
        ("\n\n\n", 3, None), ("%\nX1\n", 2, None),
    ],
)  # fmt: skip
def test_lines_and_end(tmp_path: Path, text: str, lines: int, ended: int | None) -> None:
    """All lines of the file count, and the one that ends the program is named, if any."""
    got = summary(tmp_path, f"{text}")
    assert (got.lines, got.ended) == (lines, ended)


def test_remarks_are_kept_short(tmp_path: Path) -> None:
    """Of one code the first twenty remarks are kept, and all are counted."""
    got = summary(tmp_path, "G21 G55\n" + "X[1]\n" * 50 + "G0 X1 (?)\n")
    assert [remark.line for remark in got.remarks if remark.code == "not-read"] == list(
        range(2, 22)
    )
    assert got.counts == {"not-read": 50, "odd-comment": 1}


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("O100 call", ["O100"]), ("G123", ["G123"]), ("M123", ["M123"]), ("G0 G1 X1", ["G0", "G1"]),
        ("X1 X2", ["X"]), ("G41 D1", ["compensation"]), ("X(c)1", ["X"]), ("G38.2 X1", ["G38.2"]),
    ],
)  # fmt: skip
def test_sentences(tmp_path: Path, line: str, words: list[str]) -> None:
    """A line that is not read is told in one printable sentence that names its line and word."""
    (remark,) = summary(tmp_path, f"G21 G55\n{line}\n").remarks
    assert (remark.code, remark.line) == ("not-read", 2)
    assert all(word in remark.text for word in [*words, "line 2"]), remark.text
    assert remark.text.isprintable()


@pytest.mark.parametrize("text", [b"", b"G21\nX1\0\n", b"\0", b"G0 X1\n" * 200_000 + b"\0"])
def test_files_that_are_no_programs(tmp_path: Path, text: bytes) -> None:
    """An empty file and one with NUL bytes are refused, wherever the byte stands."""
    with pytest.raises(BadInput, match=r"program\.nc") as caught:
        summary(tmp_path, text)
    assert "\n" not in str(caught.value)


def test_missing_file(tmp_path: Path) -> None:
    """A file that is not there is bad input."""
    with pytest.raises(BadInput, match=r"none\.nc"):
        read_program(tmp_path / "none.nc")


def test_file_that_changes_later(tmp_path: Path) -> None:
    """What was read once counts, whatever becomes of its file meanwhile."""
    path = tmp_path / "program.nc"
    path.write_bytes(b"G0 X1\n" * 500_000)
    reading = Reading(STATION)
    pieces = reading.motions(read_program(path))
    next(pieces)
    with path.open("ab") as file:
        file.write(b"G0 X2\n")
    list(pieces)
    assert reading.summary.lines == 500_000


def test_progress(tmp_path: Path) -> None:
    """Progress counts the bytes read, up, and ends at the file's size."""
    path = tmp_path / "program.nc"
    path.write_bytes(b"G0 X1\n" * 500_000)
    seen: list[int] = []
    list(Reading(STATION).motions(read_program(path), seen.append))
    assert seen == sorted(seen) and seen[-1] == path.stat().st_size and len(seen) > 1
