"""Canned cycles (3.5.16), computed by hand.

Rules: NISTIR 6556 by section, else the project's own. Both readers, the product's and the oracle,
answer the same cases.
"""

from __future__ import annotations

import pytest
from oracles.worked import reference
from readers import HEAD, READERS, STATION, Brief, Reader, U, assert_rows, reader, same

from pincorner.program.reader.motions import FEED

REPORT = reference("rs274ngc")


@pytest.fixture(params=READERS)
def read(request: pytest.FixtureRequest) -> Reader:
    """Each of the two readers."""
    return reader(request.param)


@pytest.mark.parametrize("case", REPORT["cycles"], ids=lambda case: case["line"])
def test_worked_cycles(read: Reader, case: dict[str, list[list[float]]]) -> None:
    """The report's worked cycles from X1 Y2 Z3 (figures from memory)."""
    rows, remarks = read(f"{HEAD}G0 X1 Y2 Z3\n{case['line']}\n", STATION)
    assert_rows(rows[1:], [Brief(3, *move) for move in case["moves"]])
    assert remarks == set()


@pytest.mark.parametrize(
    ("code", "up"),
    [
        ("G81", "R"), ("G82", "R"), ("G83", "R"), ("G84", "F"), ("G85", "F"), ("G86", "R"),
        ("G89", "F"),
    ],
)  # fmt: skip
def test_each_cycle(read: Reader, code: str, up: str) -> None:
    """Each cycle goes over the hole, down to R, feeds to Z, and comes up by rapid or by feed."""
    rows, remarks = read(f"{HEAD}G0 X0 Y0 Z9\nG98 {code} X4 Z-5 R2 P1 Q1\n", STATION)
    want = [("R", 4, 0, 9), ("R", 4, 0, 2), ("F", 4, 0, -5), (up, 4, 0, 9)]
    assert_rows(rows[1:], [Brief(3, *move) for move in want])
    feeds = [100 if kind == "F" else U for kind, *_ in want]
    assert all(map(same, [row.feed for row in rows[1:]], feeds))
    assert remarks == set()


CYCLES = {
    "a bare line drills again, with Z and R that stick": (
        "X0 Y0 Z9\nG98 G81 X4 Z-5 R2\nY3\n",
        [(3, "R", 4, 0, 9), (3, "R", 4, 0, 2), (3, "F", 4, 0, -5), (3, "R", 4, 0, 9),
         (4, "R", 4, 3, 9), (4, "R", 4, 3, 2), (4, "F", 4, 3, -5), (4, "R", 4, 3, 9)],
    ),
    "G99 comes up to R": (
        "X0 Y0 Z9\nG99 G81 X4 Z-5 R2\nX5\n",
        [(3, "R", 4, 0, 9), (3, "R", 4, 0, 2), (3, "F", 4, 0, -5), (3, "R", 4, 0, 2),
         (4, "R", 5, 0, 2), (4, "F", 5, 0, -5), (4, "R", 5, 0, 2)],
    ),
    "below R it goes straight up first, and no lower after": (
        "X0 Y0 Z1\nG98 G81 X4 Z-5 R2\n",
        [(3, "R", 0, 0, 2), (3, "R", 4, 0, 2), (3, "F", 4, 0, -5), (3, "R", 4, 0, 2)],
    ),
    "L repeats one hole under G90, and does not stick": (
        "X0 Y0 Z9\nG99 G81 X4 Z-5 R2 L2\nX5\n",
        [(3, "R", 4, 0, 9), (3, "R", 4, 0, 2), (3, "F", 4, 0, -5), (3, "R", 4, 0, 2),
         (3, "F", 4, 0, -5), (3, "R", 4, 0, 2), (4, "R", 5, 0, 2), (4, "F", 5, 0, -5),
         (4, "R", 5, 0, 2)],
    ),
    "a new Z or R sticks from its line on": (
        "X0 Y0 Z9\nG99 G81 X4 Z-5 R2\nZ-6\nY1 R1\nY2\n",
        [(3, "R", 4, 0, 9), (3, "R", 4, 0, 2), (3, "F", 4, 0, -5), (3, "R", 4, 0, 2),
         (4, "F", 4, 0, -6), (4, "R", 4, 0, 2), (5, "R", 4, 1, 2), (5, "R", 4, 1, 1),
         (5, "F", 4, 1, -6), (5, "R", 4, 1, 1), (6, "R", 4, 2, 1), (6, "F", 4, 2, -6),
         (6, "R", 4, 2, 1)],
    ),
    "G80 and other motions end it": (
        "X0 Y0 Z9\nG98 G81 Z-5 R2\nG80\nG0 X1\nX2\n",
        [(3, "R", 0, 0, 2), (3, "F", 0, 0, -5), (3, "R", 0, 0, 9), (5, "R", 1, 0, 9),
         (6, "R", 2, 0, 9)],
    ),
    "an equal R and Z feed nowhere": (
        "X0 Y0 Z9\nG99 G81 X1 Z2 R2\n",
        [(3, "R", 1, 0, 9), (3, "R", 1, 0, 2)],
    ),
    "one that moves nothing is read all the same": (
        "X0 Y0 Z2\nG99 G81 X0 Y0 Z2 R2\nX1\n",
        [(4, "R", 1, 0, 2)],
    ),
    "under G91 R counts from the Z before and Z from R": (
        "X0 Y0 Z9\nG91 G99 G81 X1 Z-3 R-2\nX1\n",
        [(3, "R", 1, 0, 9), (3, "R", 1, 0, 7), (3, "F", 1, 0, 4), (3, "R", 1, 0, 7),
         (4, "R", 2, 0, 7), (4, "R", 2, 0, 5), (4, "F", 2, 0, 2), (4, "R", 2, 0, 5)],
    ),
    "the numbers stick, and are read in the unit of the line that uses them": (
        "X0 Y0 Z50.8\nG20 G99 G81 X1 Z-1 R1\nG21 X0\nG20 X2\n",
        [(3, "R", 25.4, 0, 50.8), (3, "R", 25.4, 0, 25.4), (3, "F", 25.4, 0, -25.4),
         (3, "R", 25.4, 0, 25.4), (4, "R", 0, 0, 25.4), (4, "R", 0, 0, 1), (4, "F", 0, 0, -1),
         (4, "R", 0, 0, 1), (5, "R", 0, 0, 25.4), (5, "R", 50.8, 0, 25.4), (5, "F", 50.8, 0, -25.4),
         (5, "R", 50.8, 0, 25.4)],
    ),
    "G98 comes up to the height before, which may be R by then": (
        "X0 Y0 Z9\nG99 G81 X4 Z-5 R2\nG98 X5\n",
        [(3, "R", 4, 0, 9), (3, "R", 4, 0, 2), (3, "F", 4, 0, -5), (3, "R", 4, 0, 2),
         (4, "R", 5, 0, 2), (4, "F", 5, 0, -5), (4, "R", 5, 0, 2)],
    ),
    "it is told in the code's place": (
        "X0 Y0 Z9\nG54 G99 G81 X0 Y20 Z-5 R0\n",
        [(3, "R", 100, 0, 9), (3, "R", 100, 0, 5), (3, "F", 100, 0, 0), (3, "R", 100, 0, 5)],
    ),
    "from nowhere it moves all the same": (
        "X0\nG99 G81 X0 Y0 Z-5 R2\n",
        [(3, "R", 0, 0, U), (3, "R", 0, 0, 2), (3, "F", 0, 0, -5), (3, "R", 0, 0, 2)],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CYCLES)
def test_cycles(read: Reader, name: str) -> None:
    """The rows of a cycle, each only where it moves; the case's name says the rule."""
    program, want = CYCLES[name]
    rows, remarks = read(f"{HEAD}G0 {program}", STATION)
    assert_rows(rows[1:], [Brief(*row) for row in want])
    assert remarks == set()


@pytest.mark.parametrize(
    "line",
    [
        "G81", "G82 P1", "G81 R2", "G81 G28", "G81 G4 P1", "G81 X1", "G81 X1 Z-1",
        "G81 X1 R2", "G82 X1 Z5 R2", "G81 X1 Z-1 R2 L0",
        "G81 X1 Z-1 R2 L1.5",
        "G81 X1 Z-1 R2 L10001", "G81 X1 Z-1 R2 L99999999999999999999", "G18 G81 X1 Z-1 R2",
        "G19 G83 Y1 Z-1 R2 Q1", "G87 X1 Z-1 R2 I1", "G88 X1 Z-1 R2 P1", "G81 X1 Z-1 R2 A3",
        "G53 G81 X1 Z-1 R2",
    ],
)  # fmt: skip
def test_cycles_that_are_not_read(read: Reader, line: str) -> None:
    """A cycle that lacks a number, or that nobody could foresee, is told and not carried out."""
    rows, remarks = read(f"{HEAD}G0 X1 Y2 Z3\n{line}\nG0 Y4\n", STATION)
    assert_rows(rows, [Brief(2, "R", 1, 2, 3), Brief(4, "R", U, 4, U)])
    assert remarks == {("not-read", 3)}


def test_most_repeats(read: Reader) -> None:
    """Ten thousand repeats are read."""
    rows, _ = read(f"{HEAD}G0 X0 Y0 Z2\nG91 G99 G81 X1 Z-1 R0 L10000\n", STATION)
    assert len(rows) == 1 + 3 * 10_000
    assert all(map(same, rows[-1].end, (10_000, 0, 2)))


def test_numbers_do_not_stick_beyond_a_cycle(read: Reader) -> None:
    """Another cycle, or the same after G80, states its Z and R anew (3.5.16)."""
    for between in ("G82 X2", "G80\nG81 X2", "G0 X5\nG81 X2"):
        remarks = read(f"{HEAD}G0 X0 Y0 Z9\nG98 G81 X1 Z-1 R2\n{between}\n", STATION)[1]
        assert remarks == {("not-read", 4 + between.count("\n"))}


@pytest.mark.parametrize(
    ("lines", "told", "up"),
    [
        ("G81 X4 Z-5 R2\nX5", [3], 2), ("G98\nG81 X4 Z-5 R2\nX5", [], 9),
        ("G99\nG81 X4 Z-5 R2\nX5", [], 2), ("G81 X4 Z-5 R2 G98\nX5", [], 9),
        ("G80\nG81\nG81 X4 Z-5 R2\nX5", [5], 2), ("G81 X4 R2\nG81 X4 Z-5 R2", [4], 2),
        ("G81 X4 Z-5 R2\nG98 X5\nG80\nG83 Z-5 R2 Q1", [3], 2),
    ],
)  # fmt: skip
def test_retract_unstated(read: Reader, lines: str, told: list[int], up: float) -> None:
    """Until G98 or G99 is stated a cycle comes up to R, the lower way; told once (3.5.20)."""
    rows, remarks = read(f"{HEAD}G0 X0 Y0 Z9\n{lines}\n", STATION)
    assert {remark for remark in remarks if remark[0] != "not-read"} == {
        ("retract-unstated", line) for line in told
    }
    assert same(rows[-1].end[2], up)


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("G82 X1 Z-1 R2", [3]), ("G82 X1 Z-1 R2 P0", []), ("G82 X1 Z-1 R2 P1\nX2\nX3 P2", []),
        ("G86 X1 Z-1 R2\nX2", [3]), ("G89 X1 Z-1 R2", [3]), ("G89 X1 Z-1 R2 P-1", [3]),
        ("G82 X1 Z-1 R2 P1\nX2 P-1", [4]), ("G81 X1 Z-1 R2 P-1", []), ("G85 X1 Z-1 R2", []),
        ("G82 X1 Z-1 R2 P1\nG82 X2", []), ("G82 X1 Z-1 R2 P1\nG80\nG82 X2 Z-1 R2", [5]),
        ("G82 X1 Z-1 R2 P1\nG89 X2 Z-1 R2", [4]), ("G4 P1 G82 X1 Z-1 R2", [3]),
        ("G82 X1 Z-1 R2 P1\nG4 P1 X2", []),
        ("G83 X1 Z-1 R2", [3]), ("G83 X1 Z-1 R2 Q1\nX2", []), ("G83 X1 Z-1 R2 Q0", [3]),
        ("G83 X1 Z-1 R2 Q-1", [3]), ("G83 X1 Z-1 R2 Q1\nX2 Q0\nX3 Q2", [4]),
        ("G81 X1 Z-1 R2 Q-1", []),
    ],
)  # fmt: skip
def test_words_that_a_cycle_needs(read: Reader, lines: str, told: list[int]) -> None:
    """A dwell needs P on its first line, pecks need Q above zero, and no P may be negative."""
    rows, remarks = read(f"{HEAD}G99 G0 X0 Y0 Z9\n{lines}\n", STATION)
    assert remarks == {("would-stop", line) for line in told}
    holes = [row for row in rows if row.kind == FEED and same(row.end[2], -1)]
    assert len(holes) == lines.count("X")


def test_cycles_in_inverse_time(read: Reader) -> None:
    """Each line of a cycle under G93 is refused, with its own F too (3.5.16)."""
    program = "G99 G93 G81 X1 Z-1 R2 F2\nX2 F2\nX3\nG94 F100 X4\nG93 G0 X5\n"
    rows, remarks = read(f"{HEAD}G0 X0 Y0 Z2\n{program}", STATION)
    assert [row.line for row in rows if row.kind == FEED] == [3, 4, 5, 6]
    assert remarks == {("would-stop", line) for line in (3, 4, 5)}
