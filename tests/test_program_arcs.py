"""Arcs and helices in all planes and both forms (3.5.3), computed by hand.

Rules: NISTIR 6556 by section, else the project's own. Both readers, the product's and the oracle,
answer the same cases.
"""

from __future__ import annotations

import math

import pytest
from oracles.worked import reference
from readers import HEAD, READERS, STATION, Brief, Reader, U, assert_rows, point_on, reader, same

REPORT = reference("rs274ngc")
HALF = math.sqrt(0.5)


@pytest.fixture(params=READERS)
def read(request: pytest.FixtureRequest) -> Reader:
    """Each of the two readers."""
    return reader(request.param)


@pytest.mark.parametrize(
    ("start", "line", "end", "plane", "centre", "turns"),
    [
        ("X10 Y0 Z0", "G3 X0 Y10 I-10 J0", (0, 10, 0), 0, (0, 0), 0.25),
        ("X10 Y0 Z0", "G2 X0 Y10 I-10 J0", (0, 10, 0), 0, (0, 0), -0.75),
        ("X10 Y0 Z0", "G3 X0 Y10 I-10", (0, 10, 0), 0, (0, 0), 0.25),
        ("X0 Y10 Z0", "G2 X10 Y0 J-10", (10, 0, 0), 0, (0, 0), -0.25),
        ("X10 Y0 Z0", "G3 X0 Y10 R10", (0, 10, 0), 0, (0, 0), 0.25),
        ("X10 Y0 Z0", "G3 X0 Y10 R-10", (0, 10, 0), 0, (10, 10), 0.75),
        ("X10 Y0 Z0", "G2 X0 Y10 R10", (0, 10, 0), 0, (10, 10), -0.25),
        ("X10 Y0 Z0", "G2 X0 Y10 R-10", (0, 10, 0), 0, (0, 0), -0.75),
        ("X10 Y0 Z0", "G3 X-10 R10", (-10, 0, 0), 0, (0, 0), 0.5),
        ("X10 Y0 Z0", "G2 X-10 R-10", (-10, 0, 0), 0, (0, 0), -0.5),
        ("X10 Y0 Z0", "G3 X10 I-10", (10, 0, 0), 0, (0, 0), 1),
        ("X10 Y0 Z0", "G2 X10 Y0 I-10 J0", (10, 0, 0), 0, (0, 0), -1),
        ("X10 Y0 Z0", "G91 G3 X-10 Y10 I-10 J0", (0, 10, 0), 0, (0, 0), 0.25),
        ("X10 Y0 Z0", "G91 G2 X0 Y0 I-10", (10, 0, 0), 0, (0, 0), -1),
        ("X10 Y0 Z5", "G3 X0 Y10 Z-1 I-10 J0", (0, 10, -1), 0, (0, 0), 0.25),
        ("X10 Y0 Z5", "G2 X10 Y0 Z-1 I-10", (10, 0, -1), 0, (0, 0), -1),
        ("X10 Y0 Z0", "G18 G3 X0 Z10 I-10 K0", (0, 0, 10), 1, (0, 0), 0.75),
        ("X10 Y0 Z0", "G18 G2 X0 Z10 I-10 K0", (0, 0, 10), 1, (0, 0), -0.25),
        ("X0 Y2 Z10", "G18 G3 X10 Z0 Y4 K-10", (10, 4, 0), 1, (0, 0), 0.25),
        ("X0 Y2 Z10", "G18 G3 X10 Z0 R10", (10, 2, 0), 1, (0, 0), 0.25),
        ("X7 Y10 Z0", "G19 G3 Y0 Z10 J-10", (7, 0, 10), 2, (0, 0), 0.25),
        ("X7 Y10 Z0", "G19 G2 Y0 Z10 R10", (7, 0, 10), 2, (10, 10), -0.25),
        ("X10 Y0 Z0", "G3 X0.001 Y10 I-10 J0", (0.001, 10, 0), 0, (0, 0), None),
        ("X3 Y4 Z0", "G3 X-3 Y4 I-3 J-4", (-3, 4, 0), 0, (0, 0), 2 * math.atan(3 / 4) / math.tau),
        ("X4 Y3 Z0", "G2 X3 Y4 I-4 J-3", (3, 4, 0), 0, (0, 0), math.atan(7 / 24) / math.tau - 1),
    ],
)  # fmt: skip
def test_arcs(
    read: Reader,
    start: str,
    line: str,
    end: tuple[float, float, float],
    plane: int,
    centre: tuple[float, float],
    turns: float | None,
) -> None:
    """Both forms in each plane: G2 is clockwise seen from the third axis, R < 0 the long way."""
    rows, remarks = read(f"{HEAD}G0 {start}\n{line}\n", STATION)
    assert_rows(rows[1:], [Brief(3, "A", *end)])
    arc = rows[1]
    assert remarks == set() and arc.plane == plane and arc.centre and arc.sweep_rad
    assert all(map(same, arc.centre, centre)), arc
    if turns is not None:
        assert same(arc.sweep_rad, turns * math.tau), arc
        assert all(map(same, point_on(arc, 1.0), end))


@pytest.mark.parametrize(
    ("line", "middle"),
    [
        ("G3 X0 Y10 I-10", (10 * HALF, 10 * HALF, 0)),
        ("G2 X0 Y10 I-10", (-10 * HALF, -10 * HALF, 0)),
        ("G2 X0 Y10 R10", (10 - 10 * HALF, 10 - 10 * HALF, 0)),
        ("G18 G2 X0 Z10 I-10", (10 * HALF, 0, 10 * HALF)),
        ("G18 G3 X0 Z10 I-10 Y8", (-10 * HALF, 4, -10 * HALF)),
        ("G3 X-10 Z6 R10", (0, 10, 3)),
    ],
)  # fmt: skip
def test_middles_of_arcs(read: Reader, line: str, middle: tuple[float, float, float]) -> None:
    """From X10 Y0 Z0, an arc's middle lies where drawing it on paper puts it."""
    rows, _ = read(f"{HEAD}G0 X10 Y0 Z0\n{line}\n", STATION)
    assert all(map(same, point_on(rows[1], 0.5), middle))


@pytest.mark.parametrize(
    "line",
    [
        "G2 X10 Y0 R5", "G2 X10 R5", "G2 X0 Y10", "G3 X0 Y10 I-10 R10", "G2 X0 Y10.1 I-10",
        "G2 X30 R9.99", "G3 X0 Y10 I-10 K1", "G18 G3 X0 Z10 J1", "G19 G2 Y1 I1", "G2 X0 Y10 K3",
        "G2 X10 Y0 I0 J0", "G3 I0", "G2 R5", "G2 Z5 R5", "G18 G2 Y5 R5",
    ],
)  # fmt: skip
def test_arcs_that_are_none(read: Reader, line: str) -> None:
    """An arc that cannot be is told and not carried out; no place is known after it (3.5.3)."""
    rows, remarks = read(f"{HEAD}G0 X10 Y0 Z0\n{line}\nY4\n", STATION)
    assert_rows(rows, [Brief(2, "R", 10, 0, 0), Brief(4, "R", U, 4, U)])
    assert remarks == {("not-read", 3)}


@pytest.mark.parametrize(
    ("units", "off", "good"),
    [
        ("G21", 0.0019, True), ("G21", 0.0021, False), ("G20", 0.00019, True),
        ("G20", 0.00021, False),
    ],
)  # fmt: skip
def test_tolerance_of_arcs(read: Reader, units: str, off: float, good: bool) -> None:
    """An arc's end may lie off the radius by 0.002 mm or 0.0002 in (3.5.3)."""
    key = {"G21": "mm", "G20": "inch"}[units]
    assert (off < REPORT["arc_tolerance"][key]) == good
    rows, remarks = read(f"{HEAD}{units} G0 X10 Y0\nG3 X0 Y{10 + off:.5f} I-10\n", STATION)
    assert len(rows) == 1 + good and remarks == (set() if good else {("not-read", 3)})


def test_arc_words_alone(read: Reader) -> None:
    """I and J without an axis word of the plane are a full turn, and refused (3.5.3.2)."""
    rows, remarks = read(f"{HEAD}G0 X10 Y0 Z0\nG2 I-10\nI5\nZ4 I5\nY0 J5\n", STATION)
    heights = [(3, 0), (4, 0), (5, 4), (6, 4)]
    assert_rows(rows[1:], [Brief(n, "A", 10, 0, z) for n, z in heights])
    assert rows[2].centre is not None and all(map(same, rows[2].centre, (15, 0)))
    assert all(row.sweep_rad == pytest.approx(-math.tau, abs=1e-12) for row in rows[1:])
    assert remarks == {("would-stop", n) for n in (3, 4, 5)}


@pytest.mark.parametrize("line", ["G2 R5", "G3 Z1 R5", "G18 G2 Y1 R5"])
def test_radius_without_an_axis_of_the_plane(read: Reader, line: str) -> None:
    """An arc by its radius that names no axis of its plane is not read, from nowhere too."""
    rows, remarks = read(f"{HEAD}{line}\n", STATION)
    assert rows == [] and remarks == {("not-read", 2)}


@pytest.mark.parametrize(
    ("units", "half", "radius", "read_as"),
    [
        ("G21", 10, "10", "arc"), ("G21", 10, "9.9999995", "arc"), ("G21", 10, "9.99999", "short"),
        ("G21", 10, "9.9981", "short"), ("G21", 10, "-9.9981", "short"),
        ("G21", 10, "9.9979", "none"), ("G20", 254, "9.99981", "short"),
        ("G20", 254, "9.99979", "none"), ("G21", 10, "0", "none"),
    ],
)  # fmt: skip
def test_radius_shorter_than_half_the_chord(
    read: Reader, units: str, half: float, radius: str, read_as: str
) -> None:
    """Up to 0.002 mm or 0.0002 in too short it is the semicircle, and a controller may stop."""
    chord = f"X{2 * half / (25.4 if units == 'G20' else 1):g}"
    rows, remarks = read(f"{HEAD}G0 X0 Y0 Z0\n{units} G3 {chord} R{radius}\n", STATION)
    due = {"arc": set(), "short": {("would-stop", 3)}, "none": {("not-read", 3)}}
    assert remarks == due[read_as]
    assert_rows(rows[1:], [Brief(3, "A", 2 * half, 0, 0)] if read_as != "none" else [])
    if read_as == "short":
        assert rows[1].centre is not None and all(map(same, rows[1].centre, (half, 0)))
        assert all(map(same, point_on(rows[1], 0.5), (half, -half, 0)))


def test_arcs_from_nowhere(read: Reader) -> None:
    """An arc from a place that is not known has its end, and neither centre nor angle."""
    rows, _ = read(f"{HEAD}G0 X10\nG3 X0 Y10 I-10\n", STATION)
    assert_rows(rows[1:], [Brief(3, "A", 0, 10, U)])
    assert rows[1].centre is not None and rows[1].sweep_rad is not None
    assert all(map(math.isnan, (*rows[1].centre, rows[1].sweep_rad)))


def test_arcs_under_offsets(read: Reader) -> None:
    """Centres lie where the code and the shifts put them, and follow the inch."""
    program = "G54 G0 X1 Y0 Z0\nG92 X11\nG3 X1 Y10 I-10\n"
    rows, _ = read(HEAD + program, STATION)
    assert_rows(rows[1:], [Brief(4, "A", 91, -10, 5)])
    assert rows[1].centre is not None and all(map(same, rows[1].centre, (91, -20)))
    rows, _ = read(f"{HEAD}G20 G0 X2 Y0\nG3 X1 Y1 I-1\n", STATION)
    assert_rows(rows[1:], [Brief(3, "A", 25.4, 25.4, U)])
    assert rows[1].centre is not None and all(map(same, rows[1].centre, (25.4, 0)))
