"""The product's reader against the oracle, row for row, on programs at random."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import zip_longest
from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from oracles.program_reader import read
from oracles.program_state import Row
from programs import Case, cases
from readers import read_by_product, same
from thinning import thinned

MOST = 20
PAD = "wood wood "
PIECE = 512 * 1024
"""Bytes that a reader may take at a time; padded programs hold several, so state is passed on."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the programs are written for the product's reader."""
    return tmp_path_factory.mktemp("programs")


def agree(got: Row, want: Row) -> bool:
    """Whether two rows are the same motion, to 1e-9 mm and rad."""
    return all(same(a, b, 1e-9) for a, b in zip(_numbers(got), _numbers(want), strict=True)) and (
        _labels(got) == _labels(want)
    )


def _numbers(row: Row) -> Iterator[float]:
    centre = row.centre or (math.nan, math.nan)
    sweep_rad = math.nan if row.sweep_rad is None else row.sweep_rad
    yield from (*row.start, *row.end, *centre, sweep_rad, row.feed)


def _labels(row: Row) -> tuple[object, ...]:
    return row.line, row.kind, row.plane, row.tool, row.code, row.lengths


def compare(case: Case, folder: Path) -> None:
    """Fail with the program and the first difference unless both readers say the same."""
    want, remarks = read(case.text, case.frame, case.block_lines, case.known)
    got, told = read_by_product(case.text, case.frame, case.block_lines, case.known, folder=folder)
    for mine, due in zip_longest(got, want):
        if mine is None or due is None or not agree(mine, due):
            pytest.fail(f"{_shown(case)}\n got {mine}\nwant {due}")
    due_remarks = _kept(remarks)
    if told != due_remarks:
        pytest.fail(f"{_shown(case)}\ntold {told - due_remarks}, not told {due_remarks - told}")


def _kept(remarks: set[tuple[str, int]]) -> set[tuple[str, int]]:
    """The remarks that a summary keeps: the first twenty of a code."""
    codes = {code for code, _ in remarks}
    return {
        remark for code in codes for remark in sorted(r for r in remarks if r[0] == code)[:MOST]
    }


def _shown(case: Case) -> str:
    lines = case.text.decode("utf-8").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    program = "\n".join(f"{n:4} {line!r}" for n, line in enumerate(lines, 1) if PAD not in line)
    return f"{program[:6000]}\n{case._replace(text=b'')}"


@settings(derandomize=True, max_examples=thinned(200), deadline=None)
@given(case=cases())
def test_same_as_the_oracle(case: Case, folder: Path) -> None:
    """On short programs the product gives the oracle's rows and remarks."""
    compare(case, folder)


@settings(derandomize=True, max_examples=thinned(300), deadline=None)
@given(case=cases(most=5, hostile=True))
def test_same_after_what_was_left_on(case: Case, folder: Path) -> None:
    """Behind modes, cycles and shifts that something left on, both readers say the same."""
    compare(case, folder)


@settings(derandomize=True, max_examples=thinned(15), deadline=None, phases=[Phase.generate])
@given(case=cases(most=8))
def test_same_in_pieces(case: Case, folder: Path) -> None:
    """Comments that fill several pieces between the lines change nothing: state is passed on."""
    ends = b"\r\n" if b"\r\n" in case.text else b"\r" if b"\r" in case.text else b"\n"
    lines = case.text.split(ends)
    padding = [f"({PAD * 20})".encode()] * (3 * PIECE // 200 // len(lines))
    padded = ends.join(part for line in lines for part in (line, *padding))
    compare(case._replace(text=padded, block_lines=None, known=()), folder)
