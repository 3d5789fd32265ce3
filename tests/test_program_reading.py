"""How a program is read from line to line: its ends, modes, tools, remarks, blocks; by hand.

Rules: NISTIR 6556 by section, else the project's own. Both readers, the product's and the oracle,
answer the same cases.
"""

from __future__ import annotations

import math
import random
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from readers import HEAD, READERS, STATION, Brief, Reader, U, assert_rows, reader, same

from pincorner.program.reader import reading
from pincorner.program.reader.columns import Words
from pincorner.program.reader.motions import NO_TOOL
from pincorner.program.reader.reading import Reading
from pincorner.program.reader.state import State
from pincorner.program.reader.stretch import Stretch
from pincorner.program.source.text import ProgramText


@pytest.fixture(params=READERS)
def read(request: pytest.FixtureRequest) -> Reader:
    """Each of the two readers."""
    return reader(request.param)


# Lines and the end of the program


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("last", [True, False])
def test_line_ends(read: Reader, ends: str, last: bool) -> None:
    """LF, CR LF and a lone CR end a line, and the last line may go without; blank lines count."""
    text = ends.join(["G21 G55", "", "G0 X1", "(c)", "X2"]) + (ends if last else "")
    rows, remarks = read(text, STATION)
    assert_rows(rows, [Brief(3, "R", 1, U, U), Brief(5, "R", 2, U, U)])
    assert remarks == set()


def test_signature(read: Reader) -> None:
    """A UTF-8 signature is no part of the first line."""
    rows, remarks = read(b"\xef\xbb\xbf%\nG21 G55 G0 X1\n%\nX2\n", STATION)
    assert_rows(rows, [Brief(2, "R", 1, U, U)])
    assert remarks == set()


@pytest.mark.parametrize(
    ("text", "rows_at", "not_read"),
    [
        ("%\nG21 G55\nG0 X1\n%\nX2\n", [3], []),
        ("\n  \n % \nG21 G55\nG0 X1\n\t%\nX2\n", [5], []),
        ("%\nG21 G55\nG0 X1\n", [3], []),
        ("G21 G55\nG0 X1\n%\nX2\n", [2, 4], [3]),
        ("%\nG21 G55\nG0 X1\n(c) %\nX2\n", [3, 5], [4]),
        ("(c) %\nG21 G55\nG0 X1\n", [3], [1]),
        ("G21 G55\nG0 X1\nM2\nX2\n", [2], []),
        ("G21 G55\nG0 X1\nM30\n%\n", [2], []),
        ("G21 G55\nG0 X1 M30\nX2\n", [2], []),
        ("G21 G55\nG0 X1\nm02 (end)\nX2\n", [2], []),
        ("G21 G55\nG0 X1\n(M2)\nX2\n", [2, 4], []),
    ],
)
def test_ends(read: Reader, text: str, rows_at: list[int], not_read: list[int]) -> None:
    """The second %, M2 or M30 end the program; a % that none opened is told."""
    rows, remarks = read(text, STATION)
    assert [row.line for row in rows] == rows_at
    assert remarks == {("not-read", line) for line in not_read}


def test_block_delete(read: Reader) -> None:
    """A line that may be skipped is read, and the first one told."""
    rows, remarks = read(f"{HEAD}G0 X1\n / X2\n/N20 X3\n", STATION)
    assert_rows(rows, [Brief(n, "R", n - 1, U, U) for n in (2, 3, 4)])
    assert remarks == {("may-be-skipped", 3)}


# Modes, and the order on a line


@pytest.mark.parametrize(
    ("line", "end"),
    [
        ("X1 G20", (25.4, 2, 3)), ("G20 X1", (25.4, 2, 3)), ("X5 G54", (105, 2, 3)),
        ("X5 G91", (6, 2, 3)), ("G91 X1 G20 Z-1", (26.4, 2, -22.4)), ("G20 Y.5 G54", (1, -7.3, 3)),
        ("G54 G91 X5", (6, 2, 3)), ("G59.1 X5 G55.0", None), ("G54.1 P3 X5", (5, U, U)),
    ],
)  # fmt: skip
def test_order_on_a_line(read: Reader, line: str, end: tuple[float, float, float] | None) -> None:
    """Unit, offset and distance mode act before the motion, wherever they stand (Table 8)."""
    rows, remarks = read(f"{HEAD}G0 X1 Y2 Z3\n{line}\n", STATION)
    if end is None:
        assert len(rows) == 1 and ("not-read", 3) in remarks
    else:
        assert_rows(rows, [Brief(2, "R", 1, 2, 3), Brief(3, "R", *end)])


def test_modes_stay(read: Reader) -> None:
    """Motion, distance mode and unit hold until they are changed; axes without a word stay."""
    program = "G1 X1 Y1 Z1\nX2\nG91\nX2\nG0 Z1\nG20\nY1\nG90\nY1\nG21\nG01\nY1\n"
    rows, _ = read(HEAD + program, STATION)
    assert_rows(
        rows,
        [
            Brief(2, "F", 1, 1, 1), Brief(3, "F", 2, 1, 1), Brief(5, "F", 4, 1, 1),
            Brief(6, "R", 4, 1, 2), Brief(8, "R", 4, 26.4, 2), Brief(10, "R", 4, 25.4, 2),
            Brief(13, "F", 4, 1, 2),
        ],
    )  # fmt: skip


def test_unknown_stays_unknown(read: Reader) -> None:
    """The first move comes from nowhere, and G91 from an unknown place leads to one."""
    rows, _ = read(f"{HEAD}G91 G0 X1 Z2\nG90 Z5\nG91 X1 Z-1\nG90 X7\n", STATION)
    ends = [Brief(2, "R", U, U, U), Brief(3, "R", U, U, 5), Brief(4, "R", U, U, 4)]
    assert_rows(rows, [*ends, Brief(5, "R", 7, U, 4)])
    assert all(map(math.isnan, rows[0].start))


def test_a_move_that_goes_nowhere_is_a_row(read: Reader) -> None:
    """Each motion line with axis words is a row, also where start and end are one place."""
    rows, _ = read(f"{HEAD}G0 X1 Y2 Z3\nX1\nG1 X1 Y2 F5\nG91 X0\n", STATION)
    assert_rows(
        rows,
        [Brief(line, kind, 1, 2, 3) for line, kind in ((2, "R"), (3, "R"), (4, "F"), (5, "F"))],
    )


def test_how_a_program_begins(read: Reader) -> None:
    """As M2 leaves a controller: feeds with G1 under G90 in XY, and no feed stated (3.6.1)."""
    rows, remarks = read("G21 G55 X1\nY1 Z1\nG3 X3 I1\nG0 Y2\n", STATION)
    ends = [(1, "F", 1, U, U), (2, "F", 1, 1, 1), (3, "A", 3, 1, 1), (4, "R", 3, 2, 1)]
    assert_rows(rows, [Brief(*end) for end in ends])
    assert remarks == {("would-stop", 1)}
    assert all(math.isnan(row.feed) and row.tool == NO_TOOL and not row.lengths for row in rows)


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("G1 X1\nX2\nF100 X3", [2]), ("G0 X1\nG1 X2", [3]), ("G1 X1 F100\nX2", []),
        ("F100\nG1 X1", []), ("F0\nG1 X1", []), ("G53 G1 X1", [2]),
        ("G0 X1 Y0\nG2 X2 Y1 I1", [3]), ("G99 G81 X1 Y1 Z-1 R1", [2]),
        ("F100\nG94 X1", []), ("F100\nG93 X1 F2", []),
        ("F100\nG93 X1\nX2", [3]), ("G93 F2 X1\nX2", [3]), ("G93 F2 X1\nG94 X2", [3]),
        ("F100\nG93 F2 X1\nG94 X2", [4]), ("G93 F2\nG1 X1", [3]), ("G93\nG0 X1", []),
        ("F100\nG95 X1", [3]), ("F100\nG95 F0.1 X1\nX2\nG94 X3", [5]), ("G95 F0.1\nX1", []),
        ("G95 F0.1\nG95 X1\nG94 F100\nX2", []), ("F100 G95\nX1", []), ("X1\nG93 X2", [2]),
        ("G93 X1\nG94 X2", [2]), ("F100\nG80\nG0 X1\nG1 X2", []),
    ],
)  # fmt: skip
def test_feeds_that_were_not_stated(read: Reader, lines: str, told: list[int]) -> None:
    """A feed is stated in its feed mode before it is used, under G93 on each line; told once."""
    remarks = read(f"G21 G90 G55\n{lines}\n", STATION)[1]
    assert remarks == {("would-stop", line) for line in told}


def test_a_line_that_is_not_read_states_no_feed(read: Reader) -> None:
    """Nothing of a line that is not read acts, its F included."""
    remarks = read("G21 G90 G55\nX1 X2 F100\nX1\n", STATION)[1]
    assert remarks == {("not-read", 2), ("would-stop", 3)}


def test_feeds(read: Reader) -> None:
    """A feed is in mm a minute; inverse time and feed per turn give none.

    It keeps its number when the unit changes (4.3.3.3).
    """
    program = "G1 X1\nF100 X2\nX3\nG20 F10 X1\nX2\nG21 X3\nG0 X4\nG1 X5\n"
    program += "G93 F2 X6\nG94 F50 X7\nG95 F.1 X8\n"
    rows, remarks = read("G21 G55\n" + program, STATION)
    want = [U, 100, 100, 254, 254, 10, U, 10, U, 50, U]
    assert all(map(same, [row.feed for row in rows], want)), [row.feed for row in rows]
    assert remarks == {("would-stop", 2)}


def test_tools(read: Reader) -> None:
    """T only chooses, M6 changes, before the motion of its line; before any M6 there is no tool."""
    program = "T1\nG0 X1\nM6\nX2\nT2\nX3\nM6 X4\nX5 T1000000000 M6\nM6 T0\nX6\n"
    rows, remarks = read(HEAD + program, STATION)
    assert [row.tool for row in rows] == [NO_TOOL, 1, 1, 2, 1000000000, 0]
    assert remarks == set()


def test_tools_of_a_program_without_m6(read: Reader) -> None:
    """Where the program never says M6, T is the tool from its line on."""
    rows, _ = read(f"{HEAD}G0 X1\nT3\nX2\nX3 T4\n(M6)\n; M6\nX4\n", STATION)
    assert [row.tool for row in rows] == [NO_TOOL, 3, 4, 4]


def test_tool_length(read: Reader) -> None:
    """G43 applies a length from its own line on, G49 ends it."""
    rows, remarks = read(f"{HEAD}G0 X1\nG43 H1 X2\nX3\nG49 X4\nG43 H2\nX5\n", STATION)
    assert [row.lengths for row in rows] == [False, True, True, False, True]
    assert remarks == set()


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("G43 H1", []), ("G43", [2]), ("G43 X1", [2]), ("T1 M6\nG43 H1", []),
        ("T1 M6\nG43 H2", [3]), ("T1 M6\nT2\nG43 H1", []), ("T1 M6\nT2\nG43 H2", [4]),
        ("T1 M6\nT2 M6 G43 H2", []), ("T1 M6\nT2 M6 G43 H1", [3]), ("T1 M6\nG43 H0", [3]),
        ("T1 M6\nG43", [3]), ("T0 M6\nG43 H0", []), ("T0 M6\nG43 H1", [3]), ("T3\nG43 H3", []),
        ("T3\nG43 H2", [3]), ("T3 G43 H3", []), ("T1 M6\nG43 H2\nG43 H2\nX1", [3, 4]),
        ("T1 M6\nG43 H1\nT2 M6\nX1", []), ("G43 H7\nT7 M6\nX1", []), ("M6 G43 H5", []),
        ("G49", []),
    ],
)  # fmt: skip
def test_lengths_that_differ(read: Reader, lines: str, told: list[int]) -> None:
    """G43 takes H (3.5.11); another number than that of the tool in the spindle is told."""
    assert read(f"{HEAD}{lines}\n", STATION)[1] == {("length-differs", line) for line in told}


@pytest.mark.parametrize("lines", ["G91 G20 G0 X1 F1", "G43 H1 X1", "G93 X1 F3", "G54 X1"])
def test_a_tool_change_leaves_the_modes(read: Reader, lines: str) -> None:
    """M6 changes the tool and nothing else (3.6.3): what was in force before acts after it."""
    before = f"{HEAD}G0 X0 Y0 Z0\nG1 X1\n{lines}\n"
    got = read(f"{before}T5 M6\nX2 F3\n", STATION)[0]
    want = read(f"{before}(no change)\nX2 F3\n", STATION)[0]
    assert got[-1].tool == 5
    assert all(map(same, got[-1].end, want[-1].end)) and same(got[-1].feed, want[-1].feed)
    assert got[-1][1:2] == want[-1][1:2] and got[-1][9:] == want[-1][9:]


def test_cutter_compensation(read: Reader) -> None:
    """Cutter compensation is told once, and the path read as it is programmed."""
    rows, remarks = read(f"{HEAD}G0 X1\nG41 D1 X2\nX3\nG40\nG42 D1\nX4\nG40 X5\n", STATION)
    assert_rows(rows, [Brief(n, "R", x, U, U) for n, x in ((2, 1), (3, 2), (4, 3), (7, 4), (8, 5))])
    assert remarks == {("not-read", 3)}


# Remarks on unit, offset and rotation


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("G55\nG0 X1\nG21\nX2\n", {("no-units", 2)}),
        ("G21\nG0 X1\nG55\nX2\nX3\n", {("no-offset", 2)}),
        ("G0 X1\n", {("no-units", 1), ("no-offset", 1)}),
        ("G0 X1 G20 G55\n", set()),
        ("G21\nG54\nG0 X1\n", set()),
        ("G21\nG56\nG0 X1\nG55\nX2\nG56\nG59.3\nG54.1 P2\nX3\n",
         {("offset-differs", n) for n in (2, 6, 7, 8)}),
        ("G21 G55\nG10 L2 P1 X5\nG10 L20 P2 X0 Y0\n", {("offset-written", n) for n in (2, 3)}),
        ("G21 G55\nG92 X0\nG52 X1\nG92.1\nG92.2\nG52 Y1\n", {("g92-used", n) for n in (2, 3, 6)}),
        ("G21 G55 G0 X1\nG92 X1\nG92.1\nG52 X0 Y0 Z0\nG92.3\n", {("g92-used", 2)}),
    ],
)  # fmt: skip
def test_remarks_on_units_and_offsets(read: Reader, text: str, want: set[tuple[str, int]]) -> None:
    """No unit or code before the first motion, another code, a written or shifted one: told."""
    assert read(text, STATION)[1] == want


def test_units_of_the_frame(read: Reader) -> None:
    """A program that states no unit is read in the one that the controller starts in."""
    rows, _ = read("G55 G0 X1\n", STATION._replace(units="in"))
    assert_rows(rows, [Brief(1, "R", 25.4, U, U)])


def test_codes_of_rows(read: Reader) -> None:
    """Each row carries its code, "" before any, and lies where that code's origin is known.

    A code moves nothing; but from or to one of unknown origin the place has no known numbers.
    """
    program = "G21 G0 X1 Y1 Z1\nG54\nX1 Y1 Z1\nG55 X1\nG56 Y2\nX3 Z4\nG56 Y3\nG54 Z0\n"
    rows, _ = read(program, STATION)
    assert [row.code for row in rows] == ["", "G54", "G55", "G56", "G56", "G56", "G54"]
    ends = [
        (1, 1, 1, 1), (3, 101, -19, 6), (4, 1, -19, 6), (5, U, 2, U), (6, 3, 2, 4), (7, 3, 3, 4),
        (8, U, U, 5),
    ]  # fmt: skip
    assert_rows(rows, [Brief(n, "R", *end) for n, *end in ends])
    assert all(map(math.isnan, rows[1].start))


# Our own block, and known stretches

TURNED_BLOCK = "G21 G90\nG17 G40 G80\nG69\nG52 X0 Y0 Z0\nG10 L2 P2 X1 Y2\nG55\nG68 X0 Y0 R0.1200\n"


def test_block(read: Reader) -> None:
    """A stamped block counts for its modes, unit, code and rotation, and is not remarked."""
    write = "G10 L2 P2 X[#5221+235.000] Y[#5222-12.125]"
    block = f"(setup left!)\nG20 G91\nG92.1\n{write}\nG55\n(MSG, to here)\n"
    rows, remarks = read(f"(head)\n{block}G0 X1\nG90 X1\n", STATION, (2, 7))
    assert_rows(rows, [Brief(8, "R", U, U, U), Brief(9, "R", 25.4, U, U)])
    assert remarks == set()
    assert rows[0].code == "G55"


def test_rotation_by_the_program(read: Reader) -> None:
    """A program that turns its own coordinates is not followed, and its rotation is on."""
    rows, remarks = read(f"{HEAD}G0 X1 Y2 Z3\nG68 X0 Y0 R30\nY4\nM2\n", STATION)
    assert_rows(rows, [Brief(2, "R", 1, 2, 3), Brief(4, "R", U, 4, U)])
    assert remarks == {("not-read", 3), ("rotation-unstamped", 5)}


@pytest.mark.parametrize(
    ("program", "want"),
    [
        ("G0 X1\nG69\nM30\n", ""), ("G0 X1\nM30\n", "u2"), ("G0 X1\nG53 G0 Z0\nG69\nM2\n", "l2"),
        ("G28 Z5\nG69\n", "l1"), ("G30\nG55\nG54\nG0 X1\nM2\n", "l1 u2 l3 u5"), ("G0 X1\n", "u1"),
        ("G56 G53 G0 Z0\nG69\n", "u1 l1 o1"), ("G69\nG54\nG53 G0 Z0\n", ""),
    ],
)  # fmt: skip
@pytest.mark.parametrize("alone", [False, True], ids=["in it", "run alone"])
def test_rotation_left_on(read: Reader, program: str, want: str, alone: bool) -> None:
    """A rotation that is on at G28, G30, G53, a selection or the end is told: whether the block
    that turned it on stands in the program, or ran before it. What stamping mends has a code of its
    own (u): another nest's code is not, nor is what goes by machine coordinates (l)."""
    if alone:
        remarks = read(f"G21\n{program}", STATION._replace(rotated=True))[1]
    else:
        remarks = read(TURNED_BLOCK + program, STATION, (1, 7))[1]
    codes = {"u": "rotation-unstamped", "l": "rotation-left", "o": "offset-differs"}
    behind = 1 if alone else 7
    assert remarks == {(codes[word[0]], behind + int(word[1:])) for word in want.split()}


def test_known_stretches(read: Reader) -> None:
    """A stretch that is known is not read at all; the place is unknown after it, modes are not."""
    program = "G0 X1 Y2 Z3\nG91 G38.2 Z-5\nO100 (probe!)\nM30\n#1=[2]\nX5\nG1 Y6\n"
    rows, remarks = read(HEAD + program, STATION, None, ((3, 6),))
    assert_rows(rows, [Brief(2, "R", 1, 2, 3), Brief(7, "R", 5, U, U), Brief(8, "F", 5, 6, U)])
    assert all(map(math.isnan, rows[1].start))
    assert remarks == set()


def arcs_at_random(rng: random.Random) -> str:
    """A program of arcs, many of which cannot be, whose lines rest on each other."""
    text = ["G21 G90 G17 G55 F500", "G0 X0 Y0 Z5"]
    for _ in range(30):
        word = rng.choice(["G2", "G3", "G2", "G3", "", "", "G1", "G0"])
        words = [f"{axis}{rng.choice([0, 10, 20])}" for axis in "XYZ" if rng.random() < 0.7]
        if word not in ("G0", "G1"):
            words.append(f"{rng.choice('IIIJJKR')}{rng.choice([0, 5, 7, 10])}")
        mode = rng.choice(["G17", "G18", "G20", "G91", "G90", "F200", "G54", "M5", *[""] * 30])
        text.append(" ".join([word, mode, *words]))
    return "\n".join([*text, "M30", ""])


def test_arcs_that_cannot_be_are_found_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """They are those that are found line by line, and thousands take no longer than good ones."""

    def told(text: str) -> list[Any]:
        program = Reading(STATION)
        pieces = [*program.motions(ProgramText(Path("x.nc"), text.encode("ascii")))]
        columns = [np.concatenate(each) for each in zip(*pieces, strict=True)]
        return [*(each.tolist() for each in columns), program.summary]

    rng = random.Random(7)
    texts = [arcs_at_random(rng) for _ in range(8)]
    together = [repr(told(text)) for text in texts]
    assert sum(text.count("there is no arc") for text in together) > 20
    made = list[int]()

    def counted(words: Words, first: int, stop: int, state: State) -> Stretch:
        made.append(stop - first)
        return Stretch(words, first, stop, state)

    with monkeypatch.context() as patched:
        patched.setattr(reading, "Stretch", counted)
        absolute = "".join(f"G3 X{at % 7} Y{at % 5} I100 J50\n" for at in range(2000))
        *_, summary = told(f"G21 G90 G17 G55 F500\nG0 X0 Y0\n{absolute}M30\n")
    assert summary.counts == {"not-read": 1000} and len(made) < 20
    monkeypatch.setattr(reading, "LONGEST", 1)
    assert [repr(told(text)) for text in texts] == together
