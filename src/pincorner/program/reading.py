"""One reading of one program against one frame: from its text to motions, remarks and a summary.

Pieces of the text are split into plain lines, which are read in runs (`words.py`, `plain.py`), and
others, which are read one by one (`line_reader.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cached_property

import numpy as np

from pincorner.program.line_reader import LineReader
from pincorner.program.motions import Frame, Ints, Motions
from pincorner.program.plain import carry_out
from pincorner.program.rows import Rows
from pincorner.program.stamped import block_of
from pincorner.program.summary import Notes, Summary
from pincorner.program.text import ProgramText
from pincorner.program.words import words_in

SHORTEST_RUN = 6
"""Lines; fewer are read sooner one by one."""

MOST_IN_VAIN = 4
"""Times the lines of a piece: so many may be tried in runs that turn out not to be plain."""

Span = tuple[int, int]
"""First and last line."""


class Reading:
    """One reading of one program against one frame.

    `block_lines`: a setup block stamped in by this project; of it only modes, unit, selection and
    rotation count. `known`: stretches of lines that are not read; behind them no place is known.
    `block_delete`: lines that begin with `/` may be skipped; they are read.
    """

    def __init__(
        self,
        frame: Frame,
        *,
        block_lines: Span | None = None,
        known: tuple[Span, ...] = (),
        block_delete: bool = True,
    ) -> None:
        self._frame, self._known = frame, known
        self._block_lines, self._block_delete = block_lines, block_delete
        self._notes, self._rows = Notes(), Rows()

    @property
    def summary(self) -> Summary:
        """What has been read so far; complete when the iterator of motions is exhausted."""
        return self._notes.summary()

    def motions(
        self, text: ProgramText, progress: Callable[[int], None] | None = None
    ) -> Iterator[Motions]:
        """The program's motions in order, piece by piece. `progress` is told the bytes read.

        Raises BadInput where the program is empty or no text.
        """
        _keep_memory()
        self._notes, self._rows = notes, rows = Notes(), Rows()
        lines = LineReader(
            self._frame,
            notes,
            rows,
            self._block_lines,
            self._block_delete,
            lambda: text.changes_tools,
        )
        last_line = 0
        for piece in text.pieces(progress):
            if notes.ended is None:
                self._read_piece(piece, lines)
            else:
                notes.lines += piece.count(b"\n")
            motions = rows.taken()
            if motions is not None and len(motions.line):
                last_line = int(motions.line[-1])
                yield motions
        if notes.rotation_ended is not None and last_line > notes.rotation_ended:
            notes.unturned_from = notes.rotation_ended
        if lines.state.rotated:
            notes.remark("rotation-left", notes.ended or notes.lines, "a rotation is on at the end")

    def _read_piece(self, text: bytes, lines: LineReader) -> None:
        """Runs of plain lines together, the others one by one, until the program ends."""
        first_line = self._notes.lines + 1
        words = words_in(text)
        plain = words.plain
        for low, high in (*self._known, *([self._block_lines] if self._block_lines else [])):
            plain[max(low - first_line, 0) : max(high + 1 - first_line, 0)] = False
        texts = _Lines(text)
        at, in_vain = 0, 0
        stops = np.append(np.flatnonzero(~plain), len(plain))
        while at < len(plain) and self._notes.ended is None:
            stop = int(stops[stops.searchsorted(at)])
            if lines.begun and stop - at >= SHORTEST_RUN and in_vain < MOST_IN_VAIN * len(plain):
                refused = carry_out(
                    words, (at, stop), first_line, lines.state, self._notes, self._rows
                )
                if refused is None:
                    at = stop
                else:
                    plain[refused] = False
                    stops = np.append(np.flatnonzero(~plain), len(plain))
                    in_vain += stop - at
                continue
            self._read_line(first_line + at, texts.line(at), lines)
            at += 1
        self._notes.lines += len(plain)

    def _read_line(self, number: int, text: bytes, lines: LineReader) -> None:
        if any(low <= number <= high for low, high in self._known):
            lines.lose_place()
        else:
            lines.read(number, text)


def reading_of(text: ProgramText, frame: Frame, known: tuple[Span, ...] = ()) -> Reading:
    """A reading of a program as a shop has it: its setup block is ours, its O word names it.

    `known` as in Reading. Raises BadInput.
    """
    block = block_of(text)
    return Reading(
        frame,
        block_lines=None if block is None else (block.first, block.last),
        known=(*known, *text.number_lines),
    )


class _Lines:
    """The lines of a piece by index; looked for only if one is asked for."""

    def __init__(self, text: bytes) -> None:
        self._text = text

    @cached_property
    def _ends(self) -> Ints:
        return np.flatnonzero(np.frombuffer(self._text, np.uint8) == ord("\n"))

    def line(self, index: int) -> bytes:
        start = int(self._ends[index - 1]) + 1 if index else 0
        return self._text[start : int(self._ends[index])]


def _keep_memory() -> None:
    """Have the C library keep what arrays give back, instead of fetching it anew for each piece.

    Under glibc, freeing one array of just under 32 MiB raises the size from which memory goes back
    to the system at once (mallopt(3), M_MMAP_THRESHOLD). No page of it is ever touched. A reading
    takes twice as long without it (tests/benchmarks/reading_tricks.py).
    """
    np.empty((1 << 25) - (1 << 20), np.uint8)
