"""Words of a program: numbers, comments, lines together and alone, and pieces of files."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest
from benchmarks import programs
from hypothesis import given
from hypothesis import strategies as st
from thinning import thinned

from pincorner.errors import BadInput
from pincorner.program.reader import reading as reading_module
from pincorner.program.reader.columns import Words, words_in
from pincorner.program.reader.lines import Line, line_of
from pincorner.program.reader.motions import Motions, joined
from pincorner.program.reader.reading import Reading
from pincorner.program.reader.summary import Summary
from pincorner.program.source import text as text_module
from pincorner.program.source.comments import UnclosedComment, split, without_quiet
from pincorner.program.source.text import read_program


def columns(text: bytes) -> tuple[Words, dict[str, list[float]]]:
    """The words of a text, and the numbers of its columns."""
    words = words_in(text)
    return words, {key: column.value.tolist() for key, column in words.by.items()}


def in_columns(words: Words, at: int) -> Line:
    """One line as the columns have it."""
    found = [
        (key, float(value))
        for key, column in words.between(at, at + 1).items()
        for value in column.value
    ]
    return Line(
        sorted(found),
        words.refused.get(at, ""),
        at in words.percents,
        at in words.odd_comments,
        at in words.odd_numbers,
        at in words.long_numbers,
    )


def number(rng: np.random.Generator) -> str:
    """A number of up to fifteen characters, with a sign or none; zeros and nines as often as all
    other digits."""
    before = int(rng.integers(9))
    after = int(rng.integers(0 if before else 1, 7 if before else 15))
    digits = "".join(rng.choice(list("000099991234567890"), before + after))
    point = "." if after or rng.integers(2) else ""
    return "".join((rng.choice(["", "-", "+"]), digits[:before], point, digits[before:]))


@pytest.mark.parametrize("seed", range(3))
def test_numbers_are_exact(seed: int) -> None:
    """Each number of up to fifteen characters is the double that float() makes of its text."""
    rng = np.random.default_rng(seed)
    texts = [number(rng) for _ in range(1500)]
    words, found = columns("".join(f"X{text}\n" for text in texts).encode())
    assert not words.refused
    assert found["X"] == [float(text) for text in texts]


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("5.", 5.0), (".5", 0.5), ("-.5", -0.5), ("+5", 5.0), ("007", 7.0), ("-0", 0.0),
        ("12345678", 12345678.0), ("123456789", 123456789.0), ("1234567.8", 1234567.8),
        (".12345678", 0.12345678), ("-12345.678901", -12345.678901), ("0.1", 0.1),
        ("99999999.999999", 99999999.999999), ("000000000000001", 1.0),
    ],
)  # fmt: skip
def test_legal_numbers(text: str, value: float) -> None:
    """A number has a sign or none, digits, at most one point, and needs one digit (3.3.2.1)."""
    words, found = columns(f"X{text}\n".encode())
    assert not words.refused and found["X"] == [value]
    assert line_of(f"X{text}".encode()) == Line([("X", value)])


@pytest.mark.parametrize(
    "word",
    [
        "X",
        "X.",
        "X-",
        "X+.",
        "X1.2.3",
        "X..",
        "X--1",
        "X1-1",
        "X1+",
        "X-+1",
        "5",
        "-5X1",
        ".X1",
        "X-30.30.30.30.30.30.00",
        "X1.1.1.1.1.1.1.1.1.1",
    ],
)
def test_malformed_numbers(word: str) -> None:
    """What is no number makes its line unreadable, and no other."""
    words, found = columns(f"G1 X1\n{word}\nG1 X1\n".encode())
    assert list(words.refused) == [1] and found == {"motion": [1.0, 1.0], "X": [1.0, 1.0]}
    assert words.refused[1] == line_of(word.encode()).refused


PLAIN = [
    "", "   ", "G1X1Y2Z3", "g1 x1", "G 1 X 1.5", "G01 X\t1", "N5 G1 X1", "n10x1", "(a) X1",
    "X1 (a)", "X1 (a) Y2 ; b", "; (a", "(a ; b) X5", "G90 G1 G54 X1", "M3 S1000", "M8", "F100",
    "X1" + " " * 254,
    "G59.1", "G81 X1 Y1 Z-1 R1 P1 Q2", "X5 R-2", "( \xe9 )", "N00000000012 X1",
]  # fmt: skip

ODD = [
    "/X1", "%", "#1=5", "X[1+2]", "X#1", "O100", "T1", "M6", "M30", "M3 M4", "X1 X2", "G0 G1 X1",
    "G17 G18", "G53 G0 X1", "G28", "G92 X0", "G10 L2 P1", "G4 P1", "G1.5 X1", "G-1", "G1000",
    "M3.5",
    "X1 0", "X1\t0", "X- 5", "X 1 .5", "X1(a)0", "X(a)1", "X (a) 1", "(a", "a)", "(a (b) c)",
    "(a % b)", "; a!", "(MSG, a)", "X1 N5", "N5 N6", "N1.5 X1", "N-1", "A5", "E1", "X\xe9",
    "X1" + " " * 255, "X1 (" + "a" * 255 + ")", "X1234567890.123456",
]  # fmt: skip


@pytest.mark.parametrize("line", [*PLAIN, *ODD])
def test_lines_together_and_alone(line: str) -> None:
    """A line among others has the words, the reason and the oddities that it has by itself."""
    words = words_in(f"G1 X1\n{line}\nG1 X1\n".encode("latin-1"))
    alone = line_of(line.encode("latin-1"))
    assert in_columns(words, 1) == alone._replace(words=sorted(alone.words))
    for neighbour in (0, 2):
        assert in_columns(words, neighbour) == Line([("X", 1.0), ("motion", 1.0)])


@pytest.mark.parametrize("line", PLAIN)
def test_plain_lines_have_words(line: str) -> None:
    """None of these is refused, or odd."""
    alone = line_of(line.encode("latin-1"))
    assert alone == Line(alone.words, long_number="N00000" in line)


def test_report_example() -> None:
    """`g0x +0. 12 34y 7` is `g0 x+0.1234 y7` (NISTIR 6556, 3.3), and said to be odd."""
    line = line_of(b"g0x +0. 12 34y 7")
    assert line == Line([("motion", 0), ("X", 0.1234), ("Y", 7.0)], odd_number=True)


@pytest.mark.parametrize(
    ("line", "parts", "odd"),
    [
        (b"X1 (a ; b) Y2", [b"X1 ", b" Y2"], False),
        (b"X1 ; (a", [b"X1 "], False),
        (b"(a)(b)", [b"", b"", b""], False),
        (b"(a (b) c", [b"", b" c"], True),
        (b"(100 %)", [b"", b""], True),
        (b"; why?", [b""], True),
        (b"( msg , hello)", [b"", b""], True),
        (b"(a msg, hello)", [b"", b""], False),
        (b"(a\tb \xff)", [b"", b""], False),
        (b"(a\x07)", [b"", b""], True),
    ],
)
def test_comments(line: bytes, parts: list[bytes], odd: bool) -> None:
    """The first `)` closes, `;` runs to the end; some texts act on some controllers."""
    assert split(line) == (parts, odd)


@pytest.mark.parametrize("line", [b"(a", b"a)", b"(a) b)", b"X1 (a) (b"])
def test_unclosed_comments(line: bytes) -> None:
    """A comment without its end, or an end without its comment, is an error."""
    with pytest.raises(UnclosedComment):
        split(line)


@given(st.lists(st.text("X1();% \tMSG,", max_size=12), max_size=5))
def test_quiet_comments(lines: list[str]) -> None:
    """Of lines without odd or unclosed comments nothing is left but the parts between them."""
    for line in lines:
        text = line.encode()
        try:
            parts, odd = split(text)
        except UnclosedComment:
            continue
        left = without_quiet(text + b"\n")[:-1]
        if not odd:
            blanks = b" \t\r"
            assert left.translate(None, blanks) == b"".join(parts).translate(None, blanks)


def test_pieces_are_whole_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """However a file is cut, its pieces are its lines, with LF at the end of each."""
    path = tmp_path / "program.nc"
    rng = random.Random(5)
    for _ in range(200):
        text = b"".join(rng.choices([b"X1", b"\xe9", b"\r", b"\n", b"\r\n", b" "], k=30)) + b"X"
        path.write_bytes(rng.choice([b"", b"\xef\xbb\xbf"]) + text)
        monkeypatch.setattr(text_module, "PIECE_BYTES", rng.choice([4, 5, 7, 64]))
        told: list[int] = []
        got = list(read_program(path).pieces(told.append))
        assert all(piece.endswith(b"\n") for piece in got)
        assert b"".join(got) == b"".join(line + b"\n" for line in text.splitlines())
        assert told == sorted(told) and told[-1] == path.stat().st_size


def test_endless_line_is_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A line longer than many pieces keeps its beginning only, which is too long to be read."""
    monkeypatch.setattr(text_module, "PIECE_BYTES", 1 << 12)
    path = tmp_path / "program.nc"
    path.write_bytes(b"G21\n" + b"X" * 100_000 + b"\nG0 X1\n")
    got = b"".join(read_program(path).pieces()).split(b"\n")
    assert got[0] == b"G21" and 256 < len(got[1]) < 10_000 and got[2:] == [b"G0 X1", b""]


@pytest.mark.parametrize(
    ("content", "message"),
    [(b"", "is empty"), (b"G0 X1\0\n", "NUL"), (None, "cannot be read")],
)
def test_files_that_are_no_programs(tmp_path: Path, content: bytes | None, message: str) -> None:
    """A file that is not there, empty or binary is refused in one line."""
    path = tmp_path / "program.nc"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(BadInput, match=message) as caught:
        list(read_program(path).pieces())
    assert "\n" not in str(caught.value)


def test_file_that_changes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that is written while it is read is refused at the end."""
    path = tmp_path / "program.nc"
    path.write_bytes(b"G0 X1\n" * 10)

    def read_bytes(self: Path) -> bytes:
        with self.open("ab") as file:
            file.write(b"G0 X2\n")
        return b"G0 X1\n" * 10

    monkeypatch.setattr(Path, "read_bytes", read_bytes)
    with pytest.raises(BadInput, match="changed while it was read"):
        read_program(path)


def read(path: Path) -> tuple[list[np.ndarray], Summary]:
    """All columns of a program's motions, and its summary."""
    reading = Reading(programs.FRAME)
    parts = list(reading.motions(read_program(path)))
    assert all(isinstance(part, Motions) for part in parts)
    return list(joined(parts)), reading.summary


@pytest.mark.parametrize("kind", programs.PROGRAMS)
def test_stretches_and_single_lines_agree(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    """Programs read in stretches give the motions and remarks that they give line by line."""
    path = tmp_path / "program.nc"
    programs.write(path, kind, thinned(40) / 1000)
    found = []
    for piece_bytes in (1 << 18, 1000):
        monkeypatch.setattr(text_module, "PIECE_BYTES", piece_bytes)
        found.append(read(path))
    monkeypatch.setattr(reading_module, "LONGEST", 1)
    singly, same_summary = read(path)
    for in_runs, summary in found:
        assert summary == same_summary
        for column, same in zip(in_runs, singly, strict=True):
            assert column.dtype == same.dtype
            np.testing.assert_allclose(column, same, rtol=0, atol=1e-9)
