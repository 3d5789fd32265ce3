"""The product's reader and the oracle behind one face, and what the hand-computed cases share."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import zip_longest
from pathlib import Path
from typing import NamedTuple

import pytest
from oracles.program_reader import read as read_by_oracle
from oracles.program_state import Point, Row
from programs import Case

from pincorner.program.reader.motions import ARC, AXES_OF_PLANE, RAPID, Frame, Motions
from pincorner.program.reader.reading import Reading
from pincorner.program.reader.summary import REMARKS_KEPT
from pincorner.program.source.text import ProgramText

UM = 0.001  # mm
FLOAT = 1e-6 * UM  # thousands of times the rounding of a double at 1000 mm
U = math.nan  # a place that is not known

STATION = Frame(
    code="G55",
    origins_mm={"G55": (0.0, 0.0, 0.0), "G54": (100.0, -20.0, 5.0)},
    machine_origin_mm=(-295.0, -185.0, 80.0),
    machine_angle_rad=0.0,
    homes_mm={"G28": (0.0, 900.0, 0.0), "G30": (0.0, 900.0, 0.0)},
    units="mm",
)
"""The frame of the hand-computed cases: G55 is the station's, machine zero at -295, -185, 80."""

HEAD = "G21 G90 G55 F100\n"
"""Line 1 of most cases: it states unit, code and feed, so that no remark is due for them."""

Lines = tuple[int, int]
Told = tuple[list[Row], set[tuple[str, int]]]
Reader = Callable[..., Told]


class Brief(NamedTuple):
    """What the hand-computed cases say of a row: line, R F or A, and where it ends."""

    line: int
    kind: str
    x: float
    y: float
    z: float


def read_by_product(
    text: str | bytes,
    frame: Frame,
    block_lines: Lines | None = None,
    known: tuple[Lines, ...] = (),
) -> Told:
    """Rows and remarks of the product's reader in the oracle's terms."""
    data = text if isinstance(text, bytes) else text.encode("utf-8")
    reading = Reading(frame, block_lines=block_lines, known=known)
    pieces = list(reading.motions(ProgramText(Path("program.nc"), data)))
    codes = reading.summary.codes
    rows = [row for piece in pieces for row in _rows(piece, codes)]
    return rows, {(remark.code, remark.line) for remark in reading.summary.remarks}


def _rows(piece: Motions, codes: tuple[str, ...]) -> list[Row]:
    rows = []
    for i in range(len(piece.line)):
        plane = centre = sweep_rad = None
        if piece.kind[i] == ARC:
            plane, sweep_rad = int(piece.plane[i]), float(piece.sweep_rad[i])
            centre = float(piece.centre[i, 0]), float(piece.centre[i, 1])
        rows.append(
            Row(
                line=int(piece.line[i]),
                kind=int(piece.kind[i]),
                start=_point(piece.start[i].tolist()),
                end=_point(piece.end[i].tolist()),
                plane=plane,
                centre=centre,
                sweep_rad=sweep_rad,
                feed=float(piece.feed[i]),
                tool=int(piece.tool[i]),
                code=codes[int(piece.code[i])],
                lengths=bool(piece.lengths[i]),
            )
        )
    assert all(len(column) == len(piece.line) for column in piece), "a row for each motion"
    return rows


def _point(values: list[float]) -> Point:
    x, y, z = values
    return x, y, z


def same(got: float, want: float, tolerance: float = FLOAT) -> bool:
    """Whether two figures agree, both not known included."""
    return abs(got - want) <= tolerance or (math.isnan(got) and math.isnan(want))


def assert_rows(got: list[Row], want: list[Brief]) -> None:
    """Fail with both lists unless rows are as the case says."""
    brief = [Brief(row.line, "RFA"[row.kind], *row.end) for row in got]
    shown = f"\n got {brief}\nwant {want}"
    assert len(brief) == len(want), shown
    for row, due in zip(brief, want, strict=True):
        assert row[:2] == due[:2] and all(map(same, row[2:], due[2:])), shown
    assert all(math.isnan(row.feed) for row in got if row.kind == RAPID)


def point_on(row: Row, share: float) -> Point:
    """Where an arc or helix is after a share of its angle, from its centre and sweep alone."""
    assert row.plane is not None and row.centre is not None and row.sweep_rad is not None
    first, second, third = AXES_OF_PLANE[row.plane]
    radius = math.dist(row.centre, (row.start[first], row.start[second]))
    angle = math.atan2(row.start[second] - row.centre[1], row.start[first] - row.centre[0])
    angle += share * row.sweep_rad
    at = [U, U, U]
    at[first] = row.centre[0] + radius * math.cos(angle)
    at[second] = row.centre[1] + radius * math.sin(angle)
    at[third] = row.start[third] + share * (row.end[third] - row.start[third])
    return _point(at)


PAD = "wood wood "
"""Fills lines that are not shown."""

READERS = ("oracle", "product")


def reader(name: str) -> Reader:
    """One of the two readers by name."""
    return read_by_oracle if name == "oracle" else read_by_product


def agree(got: Row, want: Row) -> bool:
    """Whether two rows are the same motion, to 1e-9 mm and rad near zero; sums of many steps far
    out round by more."""
    numbers = zip(_numbers(got), _numbers(want), strict=True)
    alike = all(same(a, b, 1e-9 + (0.0 if math.isnan(b) else 1e-13 * abs(b))) for a, b in numbers)
    return alike and _labels(got) == _labels(want)


def _numbers(row: Row) -> Iterator[float]:
    centre = row.centre or (math.nan, math.nan)
    sweep_rad = math.nan if row.sweep_rad is None else row.sweep_rad
    yield from (*row.start, *row.end, *centre, sweep_rad, row.feed)


def _labels(row: Row) -> tuple[object, ...]:
    return row.line, row.kind, row.plane, row.tool, row.code, row.lengths


def compare(case: Case) -> None:
    """Fail with the program and the first difference unless both readers say the same."""
    want, remarks = read_by_oracle(case.text, case.frame, case.block_lines, case.known)
    got, told = read_by_product(case.text, case.frame, case.block_lines, case.known)
    for mine, due in zip_longest(got, want):
        if mine is None or due is None or not agree(mine, due):
            pytest.fail(f"{_shown(case)}\n got {mine}\nwant {due}")
    due_remarks = kept(remarks)
    if told != due_remarks:
        pytest.fail(f"{_shown(case)}\ntold {told - due_remarks}, not told {due_remarks - told}")


def kept(remarks: set[tuple[str, int]]) -> set[tuple[str, int]]:
    """The remarks that a summary keeps: the first twenty of a code."""
    codes = {code for code, _ in remarks}
    return {
        remark
        for code in codes
        for remark in sorted(r for r in remarks if r[0] == code)[:REMARKS_KEPT]
    }


def _shown(case: Case) -> str:
    lines = case.text.decode("utf-8").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    program = "\n".join(f"{n:4} {line!r}" for n, line in enumerate(lines, 1) if PAD not in line)
    return f"{program[:6000]}\n{case._replace(text=b'')}"
