"""The words and comments on a program's lines, and what makes a line unreadable; by hand.

Rules: NISTIR 6556 by section (see references/rs274ngc.yaml), else the project's own. Both readers,
the product's and the oracle, answer the same cases.
"""

from __future__ import annotations

import math

import pytest
from oracles.worked import reference
from readers import HEAD, READERS, STATION, Brief, Reader, U, assert_rows, reader, same

REPORT = reference("rs274ngc")


@pytest.fixture(params=READERS)
def read(request: pytest.FixtureRequest) -> Reader:
    """Each of the two readers."""
    return reader(request.param)


# Numbers and words


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("5.", 5), (".5", 0.5), ("-.5", -0.5), ("+5", 5), ("007", 7), ("-0", 0), (" 1.25", 1.25),
        ("\t-3", -3), ("123456789.125", 123456789.125), ("0.000001", 1e-6),
        ("-00.50", -0.5),
        ("0" * 200 + "4", 4), ("1." + "0" * 200, 1), ("3.14159265358979", 3.14159265358979),
    ],
)  # fmt: skip
def test_legal_numbers(read: Reader, written: str, value: float) -> None:
    """A number has an optional sign, digits, at most one point and at least one digit (3.3.2.1)."""
    rows, remarks = read(f"{HEAD}G0 X{written}\n", STATION)
    assert_rows(rows, [Brief(2, "R", value, U, U)])
    assert remarks == set()


def test_spaces_mean_nothing(read: Reader) -> None:
    """The report's own line with spaces inside numbers reads as it says, and is remarked (3.3)."""
    example = REPORT["spaces"]
    for line, odd in ((example["line"], {("odd-number", 2)}), (example["means"], set())):
        rows, remarks = read(f"{HEAD}{line}\n", STATION)
        assert_rows(rows, [Brief(2, "R", example["x"], example["y"], U)])
        assert remarks == odd


@pytest.mark.parametrize(
    ("line", "odd"),
    [
        ("G0 X1 0", True), ("G0 X+ 10", True), ("G0 X10 .", True), ("G0 X1\t0", True),
        ("G 0 X 10", False), ("G0X10", False), ("g\t0x\t10", False), ("G0 X 10 (1 2)", False),
        ("N1 0 G0 X10", True), ("N10G0X10", False), ("G0 X10 ; 1 0", False),
    ],
)  # fmt: skip
def test_spaces_inside_numbers_are_remarked(read: Reader, line: str, odd: bool) -> None:
    """A space inside a number is usually a typing error; one after a letter is not."""
    rows, remarks = read(f"{HEAD}{line}\n", STATION)
    assert_rows(rows, [Brief(2, "R", 10, U, U)])
    assert remarks == ({("odd-number", 2)} if odd else set())


LONGEST = REPORT["line_length"]["characters"]

MALFORMED = [
    "X--1", "X1.2.3", "X", "X+", "X.", "X1 Y", "X1E3", "1", "X1 / Y2", "X1 N5", 
    "N X1", "N1.5 X1", "@", "X1, Y2", "G0 X1\x0b", "X\u00bd", "%", "X1 %",
    "X1 (open", "(open", "X1) Y2", ")", "X1(c)0", "X(c)1", "X1 (a (b) c)",
    "G0 G1 X1", "G1 G1 X1", "G90 G91", "G17 G18", "G20 G21", "G93 G94", "G40 G41", "G43 G49",
    "G54 G55", "G54 G59.1", "G98 G99", "G61 G64", "G80 G0 X1", "G81 G82", "M3 M4", "M2 M30",
    "M6 M6", "M8 M8", "M7 M8 M7", "X1 X2", "F1 F2", "T1 T2", "G28 G92 X1", "G53 G28 X1",
    "G10 L2 P1 X1 G92 Y2", "G2 G28 I5", "G3 G92.1 R5",
    "G0 G10 L2 P1 X1", "G0 G28 X1", "G1 G30 X1", "G2 G92 X1", "T1.5", "T-1", "F-1 X1",
    "G0 X1" + " " * LONGEST,
]  # fmt: skip


@pytest.mark.parametrize("line", MALFORMED)
def test_malformed_lines(read: Reader, line: str) -> None:
    """What 3.3 and 3.4 make an error is not carried out, told, and leaves no place known."""
    rows, remarks = read(f"{HEAD}G0 X1 Y2 Z3\n{line}\nY4\n", STATION)
    assert_rows(rows, [Brief(2, "R", 1, 2, 3), Brief(4, "R", U, 4, U)])
    assert all(map(math.isnan, rows[1].start))
    assert ("not-read", 3) in remarks and remarks <= {("not-read", 3), ("odd-comment", 3)}


def test_longest_line(read: Reader) -> None:
    """A line may have 256 characters (3.3)."""
    line = "G0 X1".ljust(LONGEST)
    rows, remarks = read(f"{HEAD}{line}\n", STATION)
    assert_rows(rows, [Brief(2, "R", 1, U, U)])
    assert remarks == set()


@pytest.mark.parametrize(
    "line",
    [
        "O100", "o100 call", "O<part> sub", "G0 X#1", "G0 X[1+2]", "G0 X#<depth>", "G0 X1 A5", "B2",
        "G1 C1", "U1", "V1", "G0 W1", "G38.2 Z-5", "G123", "G1.5 X1", "G33 X1", "G5 X1 Y1",
        "M123 X4", "G43.1 Z1", "G91.1 X5", "M19 Z5", "G-1 X1",
        "#1=5", "M123", "M98 P100", "#5=#6", "T1000000001",
    ],
)  # fmt: skip
def test_lines_that_cannot_be_followed(read: Reader, line: str) -> None:
    """Subprograms, parameters, rotary axes, unknown codes are told; no place is known after."""
    rows, remarks = read(f"{HEAD}G0 X1 Y2 Z3\n{line}\nY4\n", STATION)
    assert_rows(rows, [Brief(2, "R", 1, 2, 3), Brief(4, "R", U, 4, U)])
    assert remarks == {("not-read", 3)}


@pytest.mark.parametrize(
    "line",
    [
        "G61", "G64", "G61.1", "G40", "G49", "G94", "G98", "G99", "S1000 M3", "M4", "M5", "M7",
        "M8", "M9", "M48", "M49", "M60", "M0", "M1", "G4 P1.5",
        "", "   ", "N5", "(c)", "G17 G40", "N00001", "M6 M3 M8 M48",
        "T4294967", "F99999999", "N99999", "M03", "M3.0", "S0",
        "G80", "G69", "g4 p1", "G4 P0", "H1 G43", "H0 G43", "g49 m9",
    ],
)  # fmt: skip
def test_lines_without_motion(read: Reader, line: str) -> None:
    """What moves no axis makes no row and no remark."""
    rows, remarks = read(f"{HEAD}{line}\n", STATION)
    assert rows == [] and remarks == set()


# Comments


@pytest.mark.parametrize(
    "line",
    [
        "(c)G0X1Y2", "G0(c)X1(d)Y2", "G0 X1 Y2 ; (x", "G0 X1 (a ; b) Y2", "(a)(b)G0X1Y2",
        "G0 X1 Y2;X9 Y9", "G0 X1 Y2 (X9 Y9)", "G0 X1 Y2 (\u00e9\u00df, \u68da)", "N5 (c) G0 X1 Y2",
        "G0 X1 Y2 ; ) closes nothing", "G0 X1 Y2 (logs and messages)", "G0 X1 Y2 (a\tb)",
        "; G0 X5\nG0X1Y2",
    ],
)  # fmt: skip
def test_comments(read: Reader, line: str) -> None:
    """Comments stand before, between and after words; the first `)` or the line's end closes."""
    rows, remarks = read(f"{HEAD}{line}\n", STATION)
    assert_rows(rows, [Brief(2 + line.count("\n"), "R", 1, 2, U)])
    assert remarks == set()


@pytest.mark.parametrize(
    "comment",
    [
        "(100%)", "(stop!)", "(why?)", "(~)", "(a (b)", "(MSG, hello)", "(msg,hello)", "(DEBUG, x)",
        "(PRINT,x)", "(LOG,x)", "(no MSG, why?)", "; stop!", "; 5 %", "(bell \x07)", "(\x7f)",
        "; \x1b[0m", "( MSG, hello)",
    ],
)  # fmt: skip
def test_odd_comments(read: Reader, comment: str) -> None:
    """Characters and first words that some controllers act on are told (common practice)."""
    rows, remarks = read(f"{HEAD}G0 X1 {comment}\n", STATION)
    assert_rows(rows, [Brief(2, "R", 1, U, U)])
    assert remarks == {("odd-comment", 2)}


# Lines that are carried out, and that the report's controller refuses


@pytest.mark.parametrize(
    "line",
    [
        "G0", "G01.0", "G2", "G1 F50", "G0 G28", "G1 G30", "G0 G4 P1", "G3 G4", "G0 G92.1",
        "G0 G10 L2 P3", "G4", "G4 P-1", "G4 P-0.5 X5", "N123456", "N000009", "N1 00000",
        "H1", "H1 G49", "H2 X1", "D1", "D1 G40", "D0", "M7 M8", "M8 M9 M7", "M9 M7 X1",
        "M0 M3 M6 M8 M48", "M3 M6 M7 M9 M49 M1", "S-1", "S-1 M3", "H-1 G43", "D-1", "H-1",
        "S-0.5 X1 H3", "N1234567 H1 D1 S-1 M7 M8 G4",
    ],
)  # fmt: skip
def test_lines_that_would_stop(read: Reader, line: str) -> None:
    """A line that lacks a word, or has one too many, is carried out and told once (3.3, 3.5)."""
    rows, remarks = read(f"{HEAD}G0 X1 Y2 Z3\n{line}\nG0 Y4\n", STATION)
    assert remarks - {("offset-written", 3), ("odd-number", 3)} == {("would-stop", 3)}
    assert rows[-1].line == 4 and not any(map(math.isnan, rows[-1].end))


def test_negative_offsets_of_cutters(read: Reader) -> None:
    """A negative D is refused, beside what is told of cutter compensation itself (B.5)."""
    told = read(f"{HEAD}G0 X1\nG41 D-1\nG42 D-2\nG41 D2 X2\n", STATION)[1]
    assert told == {("not-read", 3), ("would-stop", 3), ("would-stop", 4)}


def test_long_line_numbers_are_told_once(read: Reader) -> None:
    """A line number has five digits at most (3.3.1); the first line that is read is told."""
    lines = "N12345 G0 X1\nN123456 G0 G1\nN123456 G0 X3\nN123457 X4\nN1234567 H1\n"
    remarks = read(HEAD + lines, STATION)[1]
    assert remarks == {("not-read", 3), ("would-stop", 4), ("would-stop", 6)}


# Words that are read over

HARMLESS = STATION._replace(harmless=frozenset({"G91.1", "G97", "M10", "M98", "G17.1"}))


@pytest.mark.parametrize(
    ("line", "told", "end"),
    [
        ("G91.1", None, None), ("G091.10 X5", None, (5, 2, 3)), ("G97 S100 G91.1 M10", None, None),
        ("M98 P100", None, None), ("M10 R2 Q-3", None, None), ("M10 S-3", None, None),
        ("M10 M3 S-3", "would-stop", None), ("M10 I5", "not-read", None),
        ("M10 L2", "not-read", None), ("M10 G43", "length-differs", None),
        ("G91.1 G91 X5", None, (6, 2, 3)), ("G97 G123", "not-read", None),
        ("M10 H2", "would-stop", None), ("M10 M0 M3 M6 M8", "would-stop", None),
        ("M10 G2 R5", "not-read", None), ("M10 G1 X5 R5", None, (5, 2, 3)),
        ("M10 G4 P-1", "would-stop", None), ("M10 M10.0", None, None),
        ("M10 G3 X3 Y2 R1", None, (3, 2, 3)),
        ("M98 G99 G82 X4 Z-1 R3 P-1", "would-stop", (4, 2, 3)),
    ],
)  # fmt: skip
def test_words_that_are_read_over(
    read: Reader, line: str, told: str | None, end: tuple[float, float, float] | None
) -> None:
    """P, Q, R, S of a line with a harmless word are that word's, unless another takes them."""
    rows, remarks = read(f"{HEAD}G0 X1 Y2 Z3\n{line}\n", HARMLESS)
    assert remarks == ({(told, 3)} if told else set())
    assert (len(rows) > 1) == (end is not None)
    if end is not None:
        assert all(map(same, rows[-1].end, end))


def test_radius_beside_a_harmless_word(read: Reader) -> None:
    """With an arc in force R alone is an arc that is none; beside a harmless word it is that's."""
    program = "G0 X1 Y0\nG2 X2 Y1 R1\nM10 R5\nM10 X3 Y0 R1\nR5\n"
    rows, remarks = read(HEAD + program, HARMLESS)
    assert [row.line for row in rows] == [2, 3, 5] and remarks == {("not-read", 6)}


def test_harmless_words_of_one_frame_only(read: Reader) -> None:
    """A word that the frame does not hold is not known."""
    assert read(f"{HEAD}G91.1\n", STATION)[1] == {("not-read", 2)}
