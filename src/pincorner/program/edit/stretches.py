"""Stretches of a program as a section of a repeat runs them: behind the lines that lead there."""

from __future__ import annotations

from collections.abc import Collection, Generator, Iterator
from contextlib import closing
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.pose import XY
from pincorner.program.edit.leaning import FirstMoves, LineSpan, Modes, Part, modes_of
from pincorner.program.edit.lines import Body, section_lines
from pincorner.program.path.frames import frame_of
from pincorner.program.reader.motions import RAPID, Ints, Motions
from pincorner.program.reader.reading import Reading
from pincorner.program.source.lexer import BYTES, may_be_skipped
from pincorner.program.source.text import ProgramText
from pincorner.setups.setup import Setup

Flags = NDArray[np.bool_]

_RETRACT = "G53 G0 Z0"
"""Stands for the joint's own retract, of which a stretch has no more than the motion word."""


class Copy(NamedTuple):
    """A program as the sections of one station carry it.

    `start`: the lines of a joint without comments. `code`: the work offset put in place of the
    program's own.
    """

    text: ProgramText
    body: Body
    setup: Setup
    code: str
    start: tuple[str, ...]

    @property
    def modes(self) -> Modes:
        """The modes in which a stretch begins."""
        return modes_of((*self.start, _RETRACT))

    def lines(self, span: LineSpan) -> Iterator[tuple[int, str]]:
        """The numbered lines of a stretch."""
        return section_lines(self.text, self.body, self.code, span)


class Ends(NamedTuple):
    """Where a stretch first goes in X and Y, and where it ends, in the program's coordinates, mm.

    `first` is None where it never moves there. `lasts`: with the lines that may be skipped and
    without them; None where that is not known.
    """

    first: XY | None
    lasts: tuple[XY | None, ...]


class Difference(NamedTuple):
    """How a motion differs, and its line.

    `feed`, `tool`, `length`, `place`, or `lost`: where it goes is not said by the stretch itself.
    """

    shown: str
    line: int


class Stretches:
    """Reads stretches of a copy, whose body it keeps as it runs there."""

    def __init__(self, copy: Copy) -> None:
        self.copy = copy
        self._whole = copy.body.first, copy.body.last
        self._bodies: dict[bool, _Body] = {}

    def ends(self, span: LineSpan) -> Ends:
        """The ends of a stretch. Raises BadInput."""
        first, lasts = None, list[XY | None]()
        for skips in self._ways:
            last = None
            for motions in self._motions(span, span, skips):
                known = np.flatnonzero(np.isfinite(motions.end[:, :2]).all(axis=1))
                if first is None and len(known):
                    first = _xy(motions, int(known[0]))
                ends_known = len(known) and known[-1] == len(motions.line) - 1
                last = _xy(motions, -1) if ends_known else None
            lasts.append(last)
        return Ends(first, tuple(lasts))

    def first_moves(self, part: Part) -> FirstMoves:
        """The lines on which a part first moves and first cuts. Raises BadInput."""
        every = own = cut = None
        with closing(self._motions(self._whole, part.span, skips=False)) as stretch:
            for motions in stretch:
                lines = motions.line
                every = every or int(lines[0])
                if own is None:
                    own = next((at for at in lines.tolist() if at not in part.homes), None)
                cuts = np.flatnonzero(motions.kind != RAPID)
                if len(cuts):
                    cut = int(lines[cuts[0]])
                    break
        return FirstMoves(every, own, cut)

    def difference(self, part: Part) -> Difference | None:
        """Where a part moves otherwise if nothing of the body in front of it has run.

        It moves the same where its motions are as many, of the same kinds, end at the same places,
        at the same feeds, with the same tool and its length, arcs about the same centres in the
        same planes; and where it moves straight up or down, or home, until it says where it goes.
        Where lines may be skipped, both ways are looked at. Raises BadInput.
        """
        for skips in self._ways:
            whole = self._motions(self._whole, part.span, skips)
            alone = self._motions(part.span, part.span, skips)
            with closing(whole), closing(alone):
                if (found := _first_difference(whole, alone, part.homes)) is not None:
                    return found
        return None

    @cached_property
    def _ways(self) -> tuple[bool, ...]:
        """Whether lines are skipped: one way, or both where some begin with `/`."""
        may_skip = any(may_be_skipped(line) for _, line in self.copy.lines(self._whole))
        return (False, True) if may_skip else (False,)

    def _motions(self, read: LineSpan, wanted: LineSpan, skips: bool) -> Generator[Motions]:
        """The motions of the lines `wanted`, numbered as in the program, in pieces of some rows.

        Behind the joint the lines `read` are read. `skips`: without those that begin with `/`.
        """
        start = self.copy.start
        reading = Reading(frame_of(self.copy.setup), block_lines=(1, len(start)))
        shift = read[0] - len(start) - 2
        for motions in reading.motions(self._text(read, skips)):
            moved = motions._replace(line=motions.line + shift)
            low, high = moved.line.searchsorted((wanted[0], wanted[1] + 1)).tolist()
            if low < high:
                yield moved.rows(slice(low, high))
            if high < len(moved.line):
                return

    def _text(self, read: LineSpan, skips: bool) -> ProgramText:
        """The joint and some lines of the body."""
        if skips not in self._bodies:
            self._bodies[skips] = _body_of(self.copy, self._whole, skips)
        start = "".join(f"{line}\n" for line in (*self.copy.start, _RETRACT))
        data = start.encode(BYTES) + self._bodies[skips].between(*read)
        return ProgramText(self.copy.text.path, data)


class _Body(NamedTuple):
    """A body's lines, each with LF, from line `first` on; `ends`: where they end in `data`."""

    first: int
    data: bytes
    ends: Ints

    def between(self, first: int, last: int) -> bytes:
        """Lines `first` to `last`."""
        low, high = first - self.first, min(last + 1 - self.first, len(self.ends))
        start, end = (int(self.ends[at - 1]) + 1 if at > 0 else 0 for at in (low, high))
        return self.data[start:end]


def _body_of(copy: Copy, span: LineSpan, skips: bool) -> _Body:
    """The body as it runs in a copy; lines that it leaves out, and those skipped, are empty."""
    data, at = bytearray(), span[0]
    for number, line in copy.lines(span):
        data += b"\n" * (number - at)
        if not (skips and may_be_skipped(line)):
            data += line.rstrip("\r\n").encode(BYTES)
        data += b"\n"
        at = number + 1
    ends = np.flatnonzero(np.frombuffer(data, np.uint8) == ord("\n"))
    return _Body(span[0], bytes(data), ends)


def _xy(motions: Motions, row: int) -> XY:
    x, y = motions.end[row, :2].tolist()
    return x, y


def _first_difference(
    whole: Iterator[Motions], alone: Iterator[Motions], homes: Collection[int]
) -> Difference | None:
    said = np.zeros(3, np.bool_)
    for one, other in _in_step(whole, alone):
        if one is None or other is None:
            left = one or other
            assert left is not None
            return Difference("place", int(left.line[0]))
        said_at = np.logical_or.accumulate(np.isfinite(other.end), axis=0) | said
        if (found := _differs(one, other, said_at, homes)) is not None:
            return found
        said = said_at[-1]
    return None


def _in_step(
    whole: Iterator[Motions], alone: Iterator[Motions]
) -> Iterator[tuple[Motions | None, Motions | None]]:
    """Pieces of as many rows of both; None beside what one has more than the other."""
    one, other = next(whole, None), next(alone, None)
    while one is not None and other is not None:
        rows = min(len(one.line), len(other.line))
        yield one.rows(slice(rows)), other.rows(slice(rows))
        one = one.rows(slice(rows, None)) if len(one.line) > rows else next(whole, None)
        other = other.rows(slice(rows, None)) if len(other.line) > rows else next(alone, None)
    if one is not None or other is not None:
        yield one, other


def _differs(
    whole: Motions, alone: Motions, said: Flags, homes: Collection[int]
) -> Difference | None:
    """The first row that is not the same in both.

    `said`: (n, 3), the axes whose place the part has said up to a row: what is not known of them
    later it lost by its own lines.
    """
    known, unknown_there = np.isfinite(alone.end), np.isnan(whole.end)
    same_end = np.where(known, whole.end == alone.end, unknown_there | ~said)
    lost = (~known & ~said)[:, :2].any(axis=1)
    straight = (whole.end[:, :2] == whole.start[:, :2]).all(axis=1)
    home = np.isin(whole.line, list(homes)) & unknown_there[:, :2].all(axis=1)
    same_place = (whole.line == alone.line) & (whole.kind == alone.kind) & same_end.all(axis=1)
    same_arcs = (whole.plane == alone.plane) & (whole.sweep_rad == alone.sweep_rad)
    same_arcs &= (whole.centre == alone.centre).all(axis=1)
    same_feed = (whole.feed == alone.feed) | (np.isnan(whole.feed) & np.isnan(alone.feed))
    found = {
        "lost": lost & ~straight & ~home,
        "place": ~(same_place & (same_arcs | ~whole.is_arc)),
        "feed": ~same_feed,
        "tool": whole.tool != alone.tool,
        "length": whole.lengths != alone.lengths,
    }
    rows = [(int(odd.argmax()), shown) for shown, odd in found.items() if odd.any()]
    if not rows:
        return None
    row, shown = min(rows, key=lambda each: each[0])
    return Difference(shown, int(whole.line[row]))
