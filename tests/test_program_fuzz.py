"""The product's reader against the oracle, row for row, on programs at random."""

from __future__ import annotations

from hypothesis import Phase, given, settings
from long_programs import long_programs
from programs import Case, cases
from readers import PAD, compare
from thinning import thinned

PIECE = 512 * 1024
"""Bytes that a reader may take at a time; padded programs hold several, so state is passed on."""


@settings(derandomize=True, max_examples=thinned(200), deadline=None)
@given(case=cases())
def test_same_as_the_oracle(case: Case) -> None:
    """On short programs the product gives the oracle's rows and remarks."""
    compare(case)


@settings(derandomize=True, max_examples=thinned(300), deadline=None)
@given(case=cases(most=5, hostile=True))
def test_same_after_what_was_left_on(case: Case) -> None:
    """Behind modes, cycles and shifts that something left on, both readers say the same."""
    compare(case)


@settings(derandomize=True, max_examples=thinned(15), deadline=None, phases=[Phase.generate])
@given(case=cases(most=8))
def test_same_in_pieces(case: Case) -> None:
    """Comments that fill several pieces between the lines change nothing: state is passed on."""
    ends = b"\r\n" if b"\r\n" in case.text else b"\r" if b"\r" in case.text else b"\n"
    lines = case.text.split(ends)
    padding = [f"({PAD * 20})".encode()] * (3 * PIECE // 200 // len(lines))
    padded = ends.join(part for line in lines for part in (line, *padding))
    compare(case._replace(text=padded, block_lines=None, known=()))


def test_long_programs() -> None:
    """Long programs out of many short ones are read alike (thousands: tests/long_programs.py)."""
    for case in long_programs(thinned(24), 3, thinned(300)):
        compare(case)
