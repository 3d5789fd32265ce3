"""One reading of one program against one frame: from its text to motions, remarks and a summary.

A piece of the text becomes columns of words (`columns.py`); stretches of its lines are held against
the rules (`rules.py`) and carried out together (`carrying.py`). A line that breaks a rule is told,
nothing of it is carried out, and no place is known behind it; where others rest on what it states,
the stretch ends there.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

import numpy as np

from pincorner.program.reader.arcs import Turns
from pincorner.program.reader.carrying import (
    Path,
    impossible_arcs,
    leave,
    motions_of,
    tool_changes,
    turns_of,
)
from pincorner.program.reader.columns import Words, words_in
from pincorner.program.reader.declared import (
    NONE,
    Stretched,
    declared_in,
    rests_on,
    rests_told,
)
from pincorner.program.reader.lines import Language
from pincorner.program.reader.modes import ENDING, NO_MOTION, OFFSET_OF_P, ROTATE
from pincorner.program.reader.motions import RAPID, Frame, Motions, joined
from pincorner.program.reader.rules import refused, told_of
from pincorner.program.reader.state import UNKNOWN, State
from pincorner.program.reader.stretch import Stretch
from pincorner.program.reader.summary import (
    ROTATION_UNSTAMPED,
    TURNS,
    Done,
    Notes,
    Summary,
    note,
    oddities,
)
from pincorner.program.source.stamped import block_of
from pincorner.program.source.text import ProgramText

Span = tuple[int, int]
"""First and last line."""

LONGEST = 1 << 20
"""Lines of a stretch: more than a piece has."""

SHORTEST = 16
"""Lines of a stretch behind a line that was refused; stretches grow again from there."""

_OF_BLOCKS = frozenset(
    ("units", "feed mode", "F", "plane", "tool length", "rotation", "offset", "distance", "retract")
)
"""Words of a setup block that count: what it writes is known, and is passed over."""

_SKIPPED = re.compile(rb"^[ \t]*+(?:\([^()\n]*+\)[ \t]*+)*+/[^\n]*+", re.MULTILINE)

_ODD_PERCENT = (
    "a % that neither opens nor ends the program: controllers may never read what stands in front "
    "of it; a setup block goes behind it"
)

_NO_ARC = "there is no arc with this end and this centre or radius"


class Reading:
    """One reading of one program against one frame.

    `block_lines`: a setup block stamped in by this project; of it only modes, unit, selection and
    rotation count. Without one, a program begins behind the block that leaves a rotation on
    (`Frame.rotated`). `known`: lines that are not read at all; behind them no place is known.
    `declared`: stretches of which what they state counts, and nothing besides (`declared.py`).
    `skips`: lines that begin with `/` are left out, as a controller does with its switch for them
    on (RS274/NGC, 2.2.2).
    """

    def __init__(
        self,
        frame: Frame,
        *,
        block_lines: Span | None = None,
        known: tuple[Span, ...] = (),
        declared: Stretched = NONE,
        skips: bool = False,
    ) -> None:
        self._frame, self._known, self._declared = frame, known, declared
        self._block = range(0) if block_lines is None else range(block_lines[0], block_lines[1] + 1)
        self._skips = skips
        self._begin()

    def _begin(self) -> None:
        alone = self._frame.rotated and not self._block
        begins = State.behind_block if alone else State.at_start
        self._state, self._notes = begins(self._frame), Notes()
        self._seen_text = self._opened = self._seen_m6 = False
        self._limit = LONGEST
        self._doubts = list(self._declared.doubts)
        self._unsettled = sorted(last for _, last in self._declared.spans)
        for line, what in self._declared.told:
            self._notes.remark("not-read", line, what)
        expressions = self._frame.expressions
        self._language = Language(self._frame.harmless, {} if expressions else None, expressions)

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
        self._begin()
        notes = self._notes
        for piece in text.pieces(progress):
            found = self._read_piece(piece, text) if notes.ended is None else []
            notes.lines += piece.count(b"\n")
            if found:
                yield joined(found)
        if self._state.rotated:
            end = f"in front of {notes.end_word}" if notes.ended else "behind its last line"
            what = f"a rotation is on at the end: put G69 {end}, as stamp does"
            notes.remark(ROTATION_UNSTAMPED, notes.ended or notes.lines, what)

    def _read_piece(self, text: bytes, program: ProgramText) -> list[Motions]:
        """Stretch by stretch, until the piece or the program ends."""
        first_line = self._notes.lines + 1
        text, lost, sets = _hidden(text, first_line, (*self._known, *self._declared.spans),
                                   self._declared.lines)  # fmt: skip
        text = _SKIPPED.sub(b"", text) if self._skips else text
        if sets:
            self._language = self._language._replace(parameters=None)
        piece = _Piece.of(text, first_line, lost, self._language, self._block)
        found, at = [], 0
        while at < piece.words.lines and self._notes.ended is None:
            if at in piece.words.percents:
                self._percent(piece, at)
                at += 1
                continue
            wanted = min(piece.next_end(at), at + self._limit)
            motions, stop, broken = self._carry(piece, at, wanted, program)
            if motions is not None and len(motions.line):
                found.append(motions)
            self._limit = min(4 * self._limit, LONGEST)
            if stop < wanted:
                self._limit = min(max(SHORTEST, 2 * (stop - at)), LONGEST)
            if broken:
                for remark in oddities(piece.words, stop, stop + 1, piece.first_line):
                    self._notes.remark(remark[1], remark[0], remark[2])
                self._refuse(piece.first_line + stop, broken)
                stop += 1
            at = stop
        self._seen_text = self._seen_text or bool(piece.text.strip())
        return found

    def _carry(
        self, piece: _Piece, at: int, stop: int, program: ProgramText
    ) -> tuple[Motions | None, int, str]:
        """Carry out lines from `at` up to the first that breaks a rule, or to `stop`.

        Gives the motions, where they end, and what is wrong with the line there, if anything.
        """
        broken = ""
        while stop > at:
            stretch = Stretch(piece.words, at, stop, self._state)
            reasons, line = refused(stretch)
            if reasons:
                piece.refuse(reasons)
                continue
            if line is not None:
                stop, broken = line, told_of(stretch, line)
                continue
            state = self._state.copied()
            path = Path(stretch, piece.lost_between(at, stop), state)
            arcs = turns_of(stretch, path) if stretch.turns else None
            if arcs is None or not arcs.impossible.any():
                return self._commit(piece, stretch, path, arcs, state, program), stop, broken
            lines, stop = impossible_arcs(stretch, path, arcs)
            piece.refuse(dict.fromkeys(lines, _NO_ARC))
            broken = ""  # what was wrong there may have rested on one of them
        return None, stop, broken

    def _commit(
        self,
        piece: _Piece,
        stretch: Stretch,
        path: Path,
        arcs: Turns | None,
        state: State,
        program: ProgramText,
    ) -> Motions:
        """Take over what a stretch has done: state, notes, motions."""
        self._seen_m6 |= "tool change" in stretch.by
        by_m6 = self._seen_m6 or ("T" in stretch.by and program.changes_tools)
        tools = tool_changes(stretch, by_m6)
        leave(stretch, tools, state)
        motions = motions_of(stretch, path, arcs, tools, self._notes.index_of, piece.first_line)
        done = Done(stretch, path, arcs, tools, motions, piece.words, piece.first_line, self._block)
        note(done, self._notes)
        self._settle(stretch, path, motions, piece.first_line)
        self._state = state
        return motions

    def _settle(self, stretch: Stretch, path: Path, motions: Motions, first_line: int) -> None:
        """What is in doubt behind stretches that are declared as known: stated again in these
        lines, or told where something rests on it."""
        for doubt in list(self._doubts):
            rests = rests_on(doubt, stretch, path, first_line)
            if rests is not None:
                self._doubts.remove(doubt)
            if rests:
                self._notes.remark("not-read", rests, rests_told(doubt))
        while self._unsettled and len(motions.line):
            last = self._unsettled[0]
            cuts = np.flatnonzero((motions.line > last) & (motions.kind != RAPID))
            if not cuts.size:
                return
            row = cuts[0]
            self._unsettled.pop(0)
            lost = np.isnan(motions.end[row]).any() or np.isnan(motions.start[row, :2]).any()
            if lost and motions.line[row] <= min(self._unsettled, default=motions.line[row]):
                what = (
                    "it cuts behind a stretch that is taken as known, from or to a place that is "
                    "not known since: state X, Y and Z again (G90) before it"
                )
                self._notes.remark("not-read", int(motions.line[row]), what)

    def _percent(self, piece: _Piece, at: int) -> None:
        """A second `%` ends the program; the first opens it, in front of all else (3.1)."""
        number = piece.first_line + at
        if self._opened:
            self._notes.ended, self._notes.end_word = number, "%"
        elif self._seen_text or b"".join(piece.text.split(b"\n", at)[:at]).strip():
            self._refuse(number, _ODD_PERCENT)
        else:
            self._opened = True

    def _refuse(self, number: int, reason: str) -> None:
        self._notes.remark("not-read", number, reason)
        self._state.place = UNKNOWN


def reading_of(
    text: ProgramText, frame: Frame, known: tuple[Span, ...] = (), *, skips: bool = False
) -> Reading:
    """A reading of a program as a shop has it: its setup block is ours, its O word names it.

    `known`: stretches that its document declares as known; `skips` as in Reading. Raises BadInput.
    """
    block = block_of(text)
    return Reading(
        frame,
        block_lines=None if block is None else block.span,
        known=text.number_lines,
        declared=declared_in(text, known, skips=skips),
        skips=skips,
    )


class _Piece(NamedTuple):
    """A piece of a program made ready: its words, as far as they count.

    `lost`: lines behind which no place is known, and which of them turn the axes. `ends`:
    first lines that are not read together with those in front of them.
    """

    text: bytes
    first_line: int
    words: Words
    lost: dict[int, bool]
    ends: list[int]

    @classmethod
    def of(
        cls, text: bytes, first_line: int, lost: list[int], language: Language, block: range
    ) -> _Piece:
        """Make a piece ready that begins with line `first_line` of the file."""
        words = words_in(text, language)
        if block.start < first_line + words.lines and block.stop > first_line:
            _pass_over(words, block.start - first_line, block.stop - first_line)
        turning = _turning(words, block, first_line)
        ends = np.empty(0, np.int64)
        if "stopping" in words.by:
            line, value = words.by["stopping"]
            ends = line[np.isin(value, ENDING)] + 1
        return cls(
            text,
            first_line,
            words,
            {at: at in turning for at in (*lost, *words.refused)},
            sorted([*words.percents, *ends.tolist(), words.lines]),
        )

    def next_end(self, at: int) -> int:
        """Where lines from `at` on must end."""
        return self.ends[bisect_left(self.ends, at + 1)]

    def lost_between(self, first: int, stop: int) -> dict[int, bool]:
        """The lost lines among some."""
        return {line: turns for line, turns in self.lost.items() if first <= line < stop}

    def refuse(self, reasons: dict[int, str]) -> None:
        """Take lines out of those that are carried out."""
        self.words.refuse(reasons)
        self.lost.update(dict.fromkeys(reasons, False))


def _hidden(
    text: bytes, first_line: int, spans: tuple[Span, ...], left: Mapping[int, bytes]
) -> tuple[bytes, list[int], bool]:
    """The text with lines emptied that are not read, but for what is `left` of them by number; the
    first of them in each span, and whether they may set parameters."""
    lines: list[bytes] = []
    lost: list[int] = []
    sets = False
    for low, high in spans:
        first, stop = max(low - first_line, 0), high + 1 - first_line
        if stop > 0 and (lines or first < text.count(b"\n")):
            lines = lines or text.split(b"\n")
            stop = min(stop, len(lines) - 1)
            sets = sets or any(b"#" in line for line in lines[first:stop])
            lines[first:stop] = [left.get(at + first_line, b"") for at in range(first, stop)]
            lost += [first] if first < stop else []
    return b"\n".join(lines) if lines else text, lost, sets


def _pass_over(words: Words, first: int, stop: int) -> None:
    """Leave of the lines of a setup block what counts of them."""
    by_p = words.by.get("offset")
    selects = [] if by_p is None else by_p.line[by_p.value == OFFSET_OF_P]
    for key, (line, value) in list(words.by.items()):
        if key in _OF_BLOCKS:
            continue
        kept = (line < first) | (line >= stop)
        if key == "motion":
            kept |= value == NO_MOTION
        elif key == "P":
            kept |= np.isin(line, selects)
        words.keep(key, kept)
    for at in range(max(first, 0), min(stop, words.lines)):
        words.refused.pop(at, None)
    for lines in (words.odd_comments, words.odd_numbers, words.long_numbers):
        lines[:] = [line for line in lines if not first <= line < stop]


def _turning(words: Words, block: range, first_line: int) -> set[int]:
    """Lines of G68, which are not followed, with all that stands on them."""
    column = words.by.get("rotation")
    if column is None:
        return set()
    lines = column.line[column.value == ROTATE].tolist()
    found = {line for line in lines if line + first_line not in block}
    words.refuse(dict.fromkeys(found, TURNS))
    return found


def _keep_memory() -> None:
    """Have the C library keep what arrays give back, instead of fetching it anew for each piece.

    Under glibc, freeing one array of just under 32 MiB raises the size from which memory goes back
    to the system at once (mallopt(3), M_MMAP_THRESHOLD). No page of it is ever touched. A reading
    takes twice as long without it (tests/benchmarks/reading_tricks.py).
    """
    np.empty((1 << 25) - (1 << 20), np.uint8)
