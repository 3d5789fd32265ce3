"""Machine coordinates, home, shifts and stored offsets in programs, computed by hand.

Rules: NISTIR 6556 by section, else the project's own. Both readers, the product's and the oracle,
answer the same cases.
"""

from __future__ import annotations

import math

import pytest
from oracles.worked import reference
from readers import HEAD, READERS, STATION, Brief, Reader, U, assert_rows, reader, same

from pincorner.program.reader.motions import Frame

NO_HOME = STATION._replace(homes_mm={})
NO_MACHINE = STATION._replace(machine_origin_mm=(U, U, U))
APART = STATION._replace(homes_mm={"G28": (10.0, 20.0, U), "G30": (40.0, 50.0, 60.0)})
NAMED = APART._replace(home_named_axes=True)
TURNED = STATION._replace(machine_angle_rad=math.atan2(3, 4))
NAMED_TURNED = STATION._replace(machine_angle_rad=math.atan2(3, 4), home_named_axes=True)
REPORT = reference("rs274ngc")


@pytest.fixture(params=READERS)
def read(request: pytest.FixtureRequest) -> Reader:
    """Each of the two readers."""
    return reader(request.param)


# Machine coordinates and home (3.5.8, 3.5.12)


@pytest.mark.parametrize(
    ("line", "frame", "end"),
    [
        ("G53 G0 Z0", STATION, (1, 2, 80)),
        ("G53 X295", STATION, (0, 2, 3)),
        ("G53 G0 X0 Y0 Z-1", STATION, (-295, -185, 79)),
        ("G20 G53 G0 X10", STATION, (-41, 2, 3)),
        ("G54 G53 G0 Z-80", STATION, (1, 2, 0)),
        ("G53 G0 Z0", NO_MACHINE, (1, 2, U)),
        ("G53 G0 X0", NO_MACHINE, (U, 2, 3)),
        ("G53 G0 Z-1", TURNED, (1, 2, 79)),
        ("G53 G0 X10 Y0", TURNED, (-295 + 8, -185 + 6, 3)),
        # from (1, 2): machine (0.8*296 + 0.6*187, -0.6*296 + 0.8*187) = (349, -28)
        ("G53 G0 X0", TURNED, (-295 + 0.6 * 28, -185 - 0.8 * 28, 3)),
        ("G53 G0 Y0", TURNED, (-295 + 0.8 * 349, -185 + 0.6 * 349, 3)),
    ],
)  # fmt: skip
def test_machine_coordinates(
    read: Reader, line: str, frame: Frame, end: tuple[float, float, float]
) -> None:
    """G53 names machine coordinates in the active unit, whatever the offset; other axes stay."""
    rows, remarks = read(f"{HEAD}G0 X1 Y2 Z3\n{line}\nG92 X0\n", frame)
    assert_rows(rows, [Brief(2, "R", 1, 2, 3), Brief(3, "R", *end)])
    assert remarks == {("g92-used", 4)}


def test_machine_coordinates_are_not_modal(read: Reader) -> None:
    """G53 acts on its own line, as a rapid or a feed."""
    rows, _ = read(f"{HEAD}G1 G53 X295 Y185 Z-80\nX1\nG92 X50\nG53 X295\nX50\n", STATION)
    ends = [(2, 0), (3, 1), (5, 0), (6, 1)]
    assert_rows(rows, [Brief(n, "F", x, 0, 0) for n, x in ends])


@pytest.mark.parametrize(
    "line", ["G91 G53 G0 X1", "G53", "G2 G53 X1 I5", "G53 G80 X1", "G53 G0 X1 A1", "G91 G53 X1"]
)  # fmt: skip
def test_machine_coordinates_that_are_refused(read: Reader, line: str) -> None:
    """G53 needs G0 or G1 and an axis, and is refused under G91 (3.5.12)."""
    rows, remarks = read(f"{HEAD}G0 X1 Y2 Z3\n{line}\nY4\n", STATION)
    assert_rows(rows, [Brief(2, "R", 1, 2, 3), Brief(4, "R", U, 4, U)])
    assert remarks == {("not-read", 3)}


@pytest.mark.parametrize(
    ("line", "frame", "ends"),
    [
        ("G28 Z9", STATION, [(1, 2, 9), (-295, 715, 80)]),
        ("G91 G28 Z0", STATION, [(1, 2, 3), (-295, 715, 80)]),
        ("G91 G28 X0 Y1", STATION, [(1, 3, 3), (-295, 715, 80)]),
        ("G30 X5 Y6 Z7", STATION, [(5, 6, 7), (-295, 715, 80)]),
        ("G54 G28 Z9", STATION, [(1, 2, 14), (-295, 715, 80)]),
        ("G20 G28 X1", STATION, [(25.4, 2, 3), (-295, 715, 80)]),
        ("G80 G28 X5", STATION, [(5, 2, 3), (-295, 715, 80)]),
        ("G28 Z9", NO_HOME, [(1, 2, 9), (U, U, U)]),
        ("G28 Z9", NO_MACHINE, [(1, 2, 9), (U, U, U)]),
        ("G28 X5 Y6", TURNED, [(5, 6, 3), (-295 - 0.6 * 900, -185 + 0.8 * 900, 80)]),
        ("G28 X5", TURNED, [(5, 2, 3), (-295 - 0.6 * 900, -185 + 0.8 * 900, 80)]),
        ("G28 Z9", APART, [(1, 2, 9), (-285, -165, U)]),
        ("G30", APART, [(-255, -135, 140)]),
        ("G30 Z9", NAMED, [(1, 2, 9), (1, 2, 140)]),
        ("G28 Z9", NAMED, [(1, 2, 9), (1, 2, U)]),
        ("G28 X5", NAMED, [(5, 2, 3), (-285, 2, 3)]),
        ("G91 G28 Y1 X1", NAMED, [(2, 3, 3), (-285, -165, 3)]),
        ("G28", NAMED, [(-285, -165, U)]),
        ("G30", NAMED, [(-255, -135, 140)]),
        ("G30 X5", NAMED._replace(homes_mm={}), [(5, 2, 3), (U, 2, 3)]),
        # from (5, 2): machine (0.8*300 + 0.6*187, -0.6*300 + 0.8*187) = (352.2, -30.4)
        ("G28 X5", NAMED_TURNED, [(5, 2, 3), (-295 + 0.6 * 30.4, -185 - 0.8 * 30.4, 3)]),
        ("G28 Y2 X5", NAMED_TURNED, [(5, 2, 3), (-295 - 0.6 * 900, -185 + 0.8 * 900, 3)]),
        ("G28 Z9", NAMED_TURNED, [(1, 2, 9), (1, 2, 80)]),
        ("G28", STATION, [(-295, 715, 80)]),
        ("G30", NO_HOME, [(U, U, U)]),
    ],
)  # fmt: skip
def test_home(
    read: Reader, line: str, frame: Frame, ends: list[tuple[float, float, float]]
) -> None:
    """Home by way of the point with all axes (3.5.8), or as some controllers with the named."""
    rows, remarks = read(f"{HEAD}G1 X1 Y2 Z3\n{line}\n", frame)
    assert_rows(rows[1:], [Brief(3, "R", *end) for end in ends])
    assert remarks == set()


def test_home_leaves_the_motion(read: Reader) -> None:
    """G28's axis words are no motion, and the motion that was active goes on."""
    rows, _ = read(f"{HEAD}G1 X1 Y2 Z3\nG28 Z9\nX5\n", STATION)
    assert_rows(rows[3:], [Brief(4, "F", 5, 715, 80)])


@pytest.mark.parametrize(
    ("line", "uses"),
    [
        ("G53 G0 Z0", False), ("G28", False), ("G30", False), ("G91 G28 Z0", False),
        ("G28 Z0", True), ("G91 G30 X0 Y0", False), ("G90 G30 X0", True), ("G0 Z5", True),
        ("G91 G0 Z5", True), ("G4 P1 X5", True), ("G53 G1 X5", False), ("G92 X0", None),
        ("G10 L2 P2 X0", None), ("G4 P1", None), ("G3 I5", True),
        ("G99 G81 X1 Y1 Z-1 R1", True),
    ],
)  # fmt: skip
@pytest.mark.parametrize("named", [False, True])
def test_motions_that_use_a_work_offset(
    read: Reader, line: str, uses: bool | None, named: bool
) -> None:
    """Machine coordinates and home use none, nor does the point of home under G91."""
    frame = STATION._replace(home_named_axes=named)
    remarks = read(f"F100\n{line}\nG90 G1 X1\n", frame)[1]
    assert ("no-offset", 2 if uses else 3) in remarks
    assert ("no-units", 3 if uses is None else 2) in remarks
    assert len([code for code, _ in remarks if code in ("no-offset", "no-units")]) == 2


# Axis words that are no motion, shifts and stored offsets (3.5.5, 3.5.18)


@pytest.mark.parametrize("line", ["G92 X5", "G10 L2 P3 X1 Y2", "G52 Z4"])
def test_axis_words_without_motion(read: Reader, line: str) -> None:
    """The axis words of a shift or a stored offset move nothing."""
    assert len(read(f"{HEAD}G1 X1 Y2 Z3\n{line}\n", STATION)[0]) == 1


@pytest.mark.parametrize(
    ("line", "row"),
    [
        ("G4 P1 Z5", ("F", 1, 2, 5)), ("G4 P1 G0 Z5", ("R", 1, 2, 5)), ("G4 P0 X3", ("F", 3, 2, 3)),
        ("G4 P1 G91 X3", ("F", 4, 2, 3)), ("G4 P1 G3 X3 I1", ("A", 3, 2, 3)), ("G4 P1", None),
    ],
)  # fmt: skip
def test_axis_words_beside_a_dwell(
    read: Reader, line: str, row: tuple[str, float, float, float] | None
) -> None:
    """A dwell with P takes no axis words: they are the motion's, which comes after (Table 8)."""
    rows, remarks = read(f"{HEAD}G1 X1 Y2 Z3\n{line}\n", STATION)
    assert_rows(rows[1:], [Brief(3, *row)] if row else [])
    assert remarks == set()


@pytest.mark.parametrize(
    "line",
    [
        "G4 X1.5", "G4 G0 X2", "G80 G4 Z1", "G80 G4 P1 Z1", "G4 P1 R2", "G4 P1 G54.1",
        "G4 P1 G54.1 X1", "G4 P1 G53 X1",
    ],
)  # fmt: skip
def test_dwells_that_are_not_read(read: Reader, line: str) -> None:
    """Axis words without P may be a time, and nobody knows where the axes are after that line."""
    rows, remarks = read(f"{HEAD}G1 X1 Y2 Z3\n{line}\nG1 Y4\n", STATION)
    assert_rows(rows[1:], [Brief(4, "F", U, 4, U)])
    assert remarks == {("not-read", 3)}


def test_worked_shifts(read: Reader) -> None:
    """The report's worked G92: the point's number is what was said, so X0 lies at the offset."""
    worked = REPORT["g92"]
    program = f"G0 X{worked['at_x']}\n"
    for setting in worked["settings"]:
        program += f"{setting['line']}\nX0\nX{-setting['offset'] + worked['at_x']}\n"
    rows, _ = read(HEAD + program, STATION)
    offsets = [setting["offset"] for setting in worked["settings"]]
    got = [row.end[0] for row in rows[1:]]
    assert all(map(same, got, [offsets[0], worked["at_x"], offsets[1], worked["at_x"]])), got


@pytest.mark.parametrize(
    ("program", "end"),
    [
        ("G92 X0\nX1", (2, 2, 3)), ("G92 X0\nG92.1\nX1", (1, 2, 3)),
        ("G92 X0\nG92.2\nX9", (9, 2, 3)),
        ("G92 X0\nG92.2\nG92.3 X9", (10, 2, 3)), ("G92 X0\nG92.1 X9", (9, 2, 3)),
        ("G92 X0\nG92.2 X9 G0", (9, 2, 3)), ("G92 X0\nG20\nX0", (1, 2, 3)),
        ("G92 X0\nG92.2\nG20 G92.3\nX0", (25.4, 2, 3)),
        ("G20 G92 X0\nG92.2\nG21 G92.3\nX0", (1 / 25.4, 2, 3)),
        ("G92 X0\nG20 G92 Y0\nG92.2\nG92.3\nX0", (1, 2, 3)),
        ("G92 X0\nG92.2\nG92.3\nX9", (10, 2, 3)), ("G92 X0\nG92.1\nG92.3\nX9", (9, 2, 3)),
        ("G92 X0 Y0\nG54\nX1", (102, 2, 3)), ("G92 X0\nG92 Y0\nX1 Y1", (2, 3, 3)),
        ("G52 X10\nX1", (11, 2, 3)), ("G52 X10\nG52 Y5\nX1 Y1", (11, 6, 3)),
        ("G52 X10\nG52 X0\nX1", (1, 2, 3)), ("G20 G92 X1\nX0", (1 - 25.4, 2, 3)),
        ("G92 X0\nG91 X5", (6, 2, 3)), ("G92 X0\nG53 X296", (1, 2, 3)),
        ("G54\nG92 X0\nG55\nX0", (-99, 2, 3)), ("G52 X10\nG54 X1", (111, 2, 3)),
    ],
)  # fmt: skip
def test_shifts(read: Reader, program: str, end: tuple[float, float, float]) -> None:
    """From X1 Y2 Z3: G92 and G52 shift all codes by the named axes, G92.1 and G92.2 cancel G92."""
    rows, _ = read(f"{HEAD}G0 X1 Y2 Z3\n{program}\n", STATION)
    assert_rows(rows[-1:], [Brief(2 + program.count("\n") + 1, "R", *end)])


def test_shift_at_an_unknown_place(read: Reader) -> None:
    """G92 where the place is not known makes the shift unknown, until it is cancelled."""
    rows, _ = read(f"{HEAD}G92 X0\nG0 X1\nY1\nG92.1\nX1\n", STATION)
    assert_rows(rows, [Brief(3, "R", U, U, U), Brief(4, "R", U, 1, U), Brief(6, "R", 1, 1, U)])


def test_written_offsets(read: Reader) -> None:
    """A code that the program writes has no known origin: the place is lost in it and after it."""
    program = "G54 G0 X1 Y1 Z1\nG10 L2 P1 X50\nX2\nY3 Z4\nG55\nX3\nG54 Y0\n"
    rows, remarks = read(HEAD + program, STATION)
    ends = [(2, 101, -19, 6), (4, 2, U, U), (5, 2, 3, 4), (7, 3, U, U), (8, U, 0, U)]
    assert_rows(rows, [Brief(n, "R", *end) for n, *end in ends])
    assert remarks == {("offset-written", 3)}


@pytest.mark.parametrize(
    ("line", "lost"),
    [
        ("G10 L2 P2 X0", True), ("G10 L20 P2 X0", True), ("G10 L2 P0 Z0", True),
        ("G10 L20 P0 Z0", True), ("G10 L2 P1 X0", False), ("G10 L20 P12 X0", False),
    ],
)  # fmt: skip
def test_writing_the_code_in_use(read: Reader, line: str, lost: bool) -> None:
    """A place is lost when its own code is written, by L2 or L20, by its number or P0."""
    rows, remarks = read(f"{HEAD}G0 X1 Y2 Z3\n{line}\nY4\n", STATION)
    assert_rows(rows[1:], [Brief(4, "R", U, 4, U) if lost else Brief(4, "R", 1, 4, 3)])
    assert remarks == {("offset-written", 3)}


@pytest.mark.parametrize("line", ["G92", "G10 L1 P1 Z5", "G10 X5", "G10 L2 P10 X1"])
def test_shifts_that_are_refused(read: Reader, line: str) -> None:
    """A shift without an axis, or a G10 that writes no offset, is told."""
    assert ("not-read", 2) in read(f"{HEAD}{line}\n", STATION)[1]
