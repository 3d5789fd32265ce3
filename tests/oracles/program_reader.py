"""A program read line by line: the rules of NISTIR 6556 and the project's, as plain as they come.

Written from the rules alone, without sight of the product's reader, and used by tests only. It is
slow, and meant to be read. Where the report is silent or controllers differ, the docstrings say how
it is taken here.
"""

from __future__ import annotations

from oracles.program_line import FIRSTS, TurnedError, carry_out, with_modes
from oracles.program_state import NOWHERE, Row, State
from oracles.program_words import MAX_LINE, NotReadError, Words, lines_of, part, read_words, says_m6
from pincorner.program.reader.motions import Frame

Remarks = set[tuple[str, int]]


def read(
    text: str | bytes,
    frame: Frame,
    block_lines: tuple[int, int] | None = None,
    known: tuple[tuple[int, int], ...] = (),
) -> tuple[list[Row], Remarks]:
    """The rows and the remarks (code, line) of a program; lines count from 1, both ends included.

    Raises ValueError for an empty text or one with NUL bytes.
    """
    lines = lines_of(text)
    t_changes = not any(says_m6(line) for line in lines)
    reader = _Reader(frame, block_lines, known, t_changes=t_changes)
    reader.run(lines)
    return reader.rows, reader.remarks


class _Reader:
    """One pass over a program. `t_changes`: T puts the tool in, for there is no M6."""

    def __init__(
        self,
        frame: Frame,
        block_lines: tuple[int, int] | None,
        known: tuple[tuple[int, int], ...],
        *,
        t_changes: bool,
    ) -> None:
        self.frame = frame
        self.block_lines = block_lines
        self.known = known
        self.t_changes = t_changes
        self.state = State(frame.units)
        if frame.rotated and block_lines is None:  # it runs behind its block, which selected
            self.state = self.state._replace(code=frame.code or "", rotated=True)
        self.rows: list[Row] = []
        self.remarks: Remarks = set()
        self.marked: set[str] = set()  # reasons that were told and are told once

    def run(self, lines: list[str]) -> None:
        """Read to the end: M2, M30, the second %, or the last line."""
        first = next((n for n, line in enumerate(lines, 1) if line.strip(" \t")), 0)
        opened = bool(first) and lines[first - 1].strip(" \t") == "%"
        last = len(lines)
        for number, line in enumerate(lines, 1):
            if any(low <= number <= high for low, high in self.known):
                self.state = self.state._replace(place=NOWHERE)
            elif self.block_lines and self.block_lines[0] <= number <= self.block_lines[1]:
                self.block_line(line)
            elif opened and line.strip(" \t") == "%":
                if number != first:
                    last = number
                    break
            elif self.line(number, line):
                last = number
                break
        if self.state.rotated:
            self.remarks.add(("rotation-unstamped", last))

    def line(self, number: int, text: str) -> bool:
        """Carry out one line, or remark that it is not read; True where it ends the program."""
        try:
            if len(text) > MAX_LINE:
                raise NotReadError(f"more than {MAX_LINE} characters")
            parted = part(text)
            if parted.odd_comment:
                self.remarks.add(("odd-comment", number))
            if parted.odd_number:
                self.remarks.add(("odd-number", number))
            words = read_words(parted.stretches, self.frame.harmless)
            done = carry_out(self.state, words, number, self.frame, self.t_changes)
        except NotReadError as error:
            self.remarks.add(("not-read", number))
            turned = self.state.rotated or isinstance(error, TurnedError)
            self.state = self.state._replace(place=NOWHERE, rotated=turned)
            return False
        if parted.skippable:
            self.once("may-be-skipped", number, "may-be-skipped")
        self.remarks |= {(code, number) for code in done.remarks}
        self.state = done.state
        self.rows += done.rows
        for reason in done.firsts:
            if reason != "no-offset" or self.frame.code is not None:
                self.once(reason, number, FIRSTS[reason])
        return bool({"M2", "M30"} & set(words.m))

    def block_line(self, text: str) -> None:
        """A line of our own setup block: modes, unit, selection and rotation count, no more."""
        stretches = part(text).stretches
        if any("[" in stretch or "#" in stretch for stretch in stretches):
            return
        words = read_words(stretches, self.frame.harmless)
        codes = {group: code for group, code in words.codes.items() if group != "once"}
        values = {letter: words.values[letter] for letter in words.values if letter == "P"}
        self.state = with_modes(self.state, Words(codes, [], values))

    def once(self, reason: str, number: int, code: str) -> None:
        """A remark whose reason is told for the first line only."""
        if reason not in self.marked:
            self.marked.add(reason)
            self.remarks.add((code, number))
