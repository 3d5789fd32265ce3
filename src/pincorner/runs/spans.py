"""A program as a row of spans: what the spindle does, where its axis is, how long at least.

A span's box holds every place of the axis while it lasts. Cutting spans are made on the way, for
programs of any length: with a beam, whose reach along itself has no end, a span begins wherever the
axis goes farther across the beam than it has been since the operator was last at the machine, in
steps of `fine_mm`; without one wherever it leaves the surroundings of where the span began.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.outline import Box
from pincorner.geometry.pose import Pose
from pincorner.program.reader.motions import NO_TOOL, Floats, Motions
from pincorner.program.reader.summary import Summary
from pincorner.program.source.lexer import BYTES, sieve, values_of
from pincorner.program.source.text import ProgramText
from pincorner.runs.axis import Axis, axis_of, parts_of

What = Literal["start", "approach", "cutting", "stop", "change", "end"]
Beam = Literal["x", "y", "none"]

MOST_SPANS = 2000
"""Of one program without a beam; from then on each step is twice as coarse, and so on."""

_FIRST_LOOK = 64
"""Motions; spans without a beam are short, those of a beam as long as its program."""

NOWHERE = Box(math.inf, math.inf, -math.inf, -math.inf)
"""The box around no place at all."""


class Span(NamedTuple):
    """A part of a program, or of a visit.

    `lines`: first and last in the file; None for a start. `feed_s`: lengths of its cuts over their
    feeds, at 100 %. `rapid_mm`: of its rapids. `box`: of the axis in machine coordinates; None:
    anywhere. `word`: M0, M1, M60 or M6 of a stop or a change. `tool`: in the spindle; of a change
    the one that comes in. `lost`: it is not known where it goes, and how long that lasts.
    """

    what: What
    lines: tuple[int, int] | None
    feed_s: float
    rapid_mm: float
    box: Box | None
    word: str = ""
    tool: int = NO_TOOL
    lost: bool = False


STOPS = (0, 1, 60)
"""M words at which a program waits; M1 only where the controller is set to."""

ATTENDED = ("M0", "M60", "M6")
"""Words at which it waits for the operator (M6: a tool that is changed by hand)."""

_SIEVE = sieve("M", STOPS)


def stop_words(text: ProgramText) -> dict[int, str]:
    """By line: M0, M1 or M60, wherever a program has one. Raises BadInput as its pieces do."""
    found, before = {}, 0
    for piece in text.pieces():
        at = 0
        match = _SIEVE.search(piece)
        while match is not None:
            before += piece.count(b"\n", at, match.start())
            at = match.start()
            end = piece.index(b"\n", at)
            line = piece[piece.rfind(b"\n", 0, at) + 1 : end].decode(BYTES)
            words = [int(value) for letter, value in values_of(line) if letter == "M"]
            for word in STOPS:
                if word in words:
                    found[before + 1] = f"M{word}"
            match = _SIEVE.search(piece, end)
        before += piece.count(b"\n", at)
    return found


def hull(first: Box, second: Box) -> Box:
    """The smallest box around two."""
    return Box(
        min(first.left, second.left),
        min(first.front, second.front),
        max(first.right, second.right),
        max(first.back, second.back),
    )


class SpanReader:
    """Makes spans of a program's motions, piece by piece.

    `in_machine`: the program's frame. `beam`: None counts as `none`. `fine_mm`: how much larger a
    gap may be at a moment than its span's box has it. `text`: the program. `top_mm`: of its stock,
    in its own Z: what stays above is no cut yet. `known`: the first lines of stretches that are not
    read.
    """

    def __init__(
        self,
        in_machine: Pose,
        beam: Beam | None,
        fine_mm: float,
        text: ProgramText,
        top_mm: float,
        known: Sequence[int] = (),
    ) -> None:
        self._pose, self._text, self._top_mm = in_machine, text, top_mm
        self._stop_words: dict[int, str] | None = None
        self._cutter = _Cutter(beam, fine_mm)
        self._known = sorted(known)
        self._changes = self._stops = 0  # how many of the summary's have been taken
        self._is_known = self._lost = False
        self._tool = NO_TOOL
        self.spans: list[Span] = []
        """Those that are finished."""
        self._approach: Span | None = _approach_from(1)
        self._cuts: list[Span] = []
        self._tail: list[Span] = []
        self.place: Box = NOWHERE
        """Where the axis was last known to be."""
        self.cut_place: Box = NOWHERE
        """Where it was behind the last cut."""
        self.ended: tuple[int, str] = (1, "")
        """The line that ends the program, and its word; empty where there is none."""
        self.tip_mm: float | None = None
        """How high the tip was last, in the program's own Z; None where that is not known."""
        self.may_be_skipped = False
        """Whether it has lines behind `/`, which the controller may leave out."""
        self.unknown_homes: tuple[str, ...] = ()
        """G28, G30 where they lead to a place that only the controller knows."""

    def take(self, motions: Motions, summary: Summary) -> None:
        """A piece of the program."""
        axis = axis_of(motions, self._pose)
        at, last = 0, int(motions.line[-1])
        for line, word, tool in self._events(summary, last):
            side: Literal["left", "right"] = "right" if word in ("M0", "M1", "M60") else "left"
            stop = int(np.searchsorted(motions.line, line, side))
            self._rows(axis, at, stop)
            at = stop
            self._happens(line, word, tool)
        self._rows(axis, at, len(motions.line))
        z = float(motions.end[-1, 2])
        self.tip_mm = z if math.isfinite(z) else None

    def end(self, summary: Summary) -> None:
        """What is left: events behind the last motion, and what comes behind the last cut."""
        for event in self._events(summary, summary.lines):
            self._happens(*event)
        line = summary.ended if summary.ended is not None else max(summary.lines, 1)
        self.ended = line, summary.end_word if summary.ended is not None else ""
        self.may_be_skipped = "may-be-skipped" in summary.counts
        self.unknown_homes = tuple(
            dict.fromkeys(w for w, z, _ in summary.machine_z if w != "G53" and math.isnan(z))
        )
        self.spans += self._cuts
        self.spans += [span._replace(what="end") for span in self._tail]
        if self._approach is not None and self._approach.box != NOWHERE:
            self.spans.append(self._approach._replace(what="end"))
        self._cuts, self._tail, self._approach = [], [], None

    def _events(self, summary: Summary, last: int) -> list[tuple[int, str, int]]:
        """(line, word, tool) of what happens up to a line besides motions, in order."""
        found = []
        while self._changes < len(summary.tool_changes):
            tool, line = summary.tool_changes[self._changes]
            if line > last:
                break
            self._changes += 1
            found.append((line, "M6", tool))
        while self._stops < len(summary.stops) and summary.stops[self._stops] <= last:
            line = summary.stops[self._stops]
            self._stops += 1
            if self._stop_words is None:
                self._stop_words = stop_words(self._text)
            found.append((line, self._stop_words.get(line, "M0"), NO_TOOL))
        while self._known and self._known[0] <= last:
            found.append((self._known.pop(0), "", NO_TOOL))
        return sorted(found, key=lambda each: (each[0], each[1] != "M6"))

    def _happens(self, line: int, word: str, tool: int) -> None:
        """A stop, a change, or a stretch that is not read: what is under way is finished."""
        if not word:
            self._get_lost(line)
            return
        if self._approach is not None and self._approach.box != NOWHERE:
            self.spans.append(self._approach)
        self.spans += [*self._cuts, *self._tail]
        self._cuts, self._tail = [], []
        if word == "M6":
            self._tool = tool
        box = None if self._lost else self.place
        what: What = "change" if word == "M6" else "stop"
        self.spans.append(Span(what, (line, line), 0.0, 0.0, box, word, self._tool, self._lost))
        self._approach = _approach_from(line)

    def _get_lost(self, line: int) -> None:
        self._lost = True
        if self._approach is not None:
            if self._approach.box != NOWHERE:
                self.spans.append(self._approach)
            self._approach = None
        self._tail.append(Span("cutting", (line, line), 0.0, 0.0, None, "", self._tool, True))

    def _rows(self, axis: Axis, first: int, stop: int) -> None:
        """Motions `first` up to `stop`, between which nothing else happens."""
        if first >= stop:
            return
        if not self._lost:
            lost = self._first_lost(axis, first, stop)
            self._known_rows(axis, first, lost)
            if lost < stop:
                self._get_lost(int(axis.motions.line[lost]))
            first = lost
        if self._lost and first < stop:
            self._lost_rows(axis, first, stop)

    def _first_lost(self, axis: Axis, first: int, stop: int) -> int:
        """The first motion that ends, or begins, nowhere known although a place was known."""
        ends = _places_known(axis.motions.end[first:stop])
        starts = _places_known(axis.motions.start[first:stop])
        if ends.all() and starts.all():
            self._is_known = True
            return stop
        after = np.logical_or.accumulate(ends)
        before = np.concatenate([[False], after[:-1]]) | self._is_known
        lost = before & ~(ends & starts)
        self._is_known = self._is_known or bool(after[-1])
        return first + (int(lost.argmax()) if lost.any() else stop - first)

    def _lost_rows(self, axis: Axis, first: int, stop: int) -> None:
        """Motions that may be anywhere: their times count, nothing else."""
        if self._approach is not None:  # behind a stop or a change
            self._approach = None
            line = int(axis.motions.line[first])
            self._tail = [Span("cutting", (line, line), 0.0, 0.0, None, "", self._tool, True)]
        rows = slice(first, stop)
        span = (self._tail or self._cuts)[-1]
        assert span.lines is not None
        span = span._replace(
            lines=(span.lines[0], int(axis.motions.line[stop - 1])),
            feed_s=span.feed_s + float(axis.seconds[rows].sum()),
            rapid_mm=span.rapid_mm + float(axis.rapid_mm[rows].sum()),
        )
        if self._tail:
            self._tail.pop()
        else:
            self._cuts.pop()
        if axis.cuts[rows].any():
            self._cuts += [*self._tail, span]
            self._tail = []
        else:
            self._tail.append(span)

    def _known_rows(self, axis: Axis, first: int, stop: int) -> None:
        if first >= stop:
            return
        if self._approach is not None:
            cuts = axis.cuts[first:stop] & (axis.low_z[first:stop] < self._top_mm)
            begin = first + int(cuts.argmax()) if cuts.any() else stop
            self._approach = _longer(self._approach, axis, first, begin)
            self._remember(axis, first, begin)
            if begin == stop:
                return
            if self._approach.box != NOWHERE:
                self.spans.append(self._approach)
            self._approach, first = None, begin
            self._cutter.begin()
        cuts = axis.cuts[first:stop]
        behind = stop - int(cuts[::-1].argmax()) if cuts.any() else first
        if behind > first:
            self._cuts += self._tail
            self._tail = []
            self._cutter.cut(axis, first, behind, self._cuts, self._tool)
            self._remember(axis, first, behind)
            self.cut_place = self.place
        self._cutter.cut(axis, behind, stop, self._tail, self._tool)
        self._remember(axis, first, stop)

    def _remember(self, axis: Axis, first: int, stop: int) -> None:
        """Where the axis is behind some motions."""
        step = _FIRST_LOOK
        while first < stop:  # the last of them, looked for backwards
            begin = max(first, stop - step)
            known = np.flatnonzero(_places_known(axis.motions.end[begin:stop]))
            if known.size:
                x, y = axis.place(begin + int(known[-1]))
                self.place = Box(x, y, x, y)
                return
            stop, step = begin, step * 8


def _places_known(places: Floats) -> NDArray[np.bool_]:
    """(n,): of which places (n, 3) X and Y are known."""
    known: NDArray[np.bool_] = np.isfinite(places[:, 0] + places[:, 1])
    return known


def _approach_from(line: int) -> Span:
    return Span("approach", (line, line), 0.0, 0.0, NOWHERE)


def _longer(span: Span, axis: Axis, first: int, stop: int) -> Span:
    """A span with some motions more."""
    if first >= stop:
        return span
    rows = slice(first, stop)
    low, high = np.fmin.reduce(axis.low[rows]), np.fmax.reduce(axis.high[rows])
    box = span.box or NOWHERE
    if np.isfinite(low).all() and np.isfinite(high).all():
        box = hull(box, Box(*low.tolist(), *high.tolist()))
    lines = span.lines or (int(axis.motions.line[first]),) * 2
    if span.box == NOWHERE and span.what == "approach":
        lines = (int(axis.motions.line[first]), lines[1])
    return span._replace(
        lines=(lines[0], int(axis.motions.line[stop - 1])),
        feed_s=span.feed_s + float(axis.seconds[rows].sum()),
        rapid_mm=span.rapid_mm + float(axis.rapid_mm[rows].sum()),
        box=box,
    )


class _Cutter:
    """Cuts motions into spans; `begin` where the operator has just been at the machine."""

    def __init__(self, beam: Beam | None, fine_mm: float) -> None:
        self._across = {"y": (0,), "x": (1,)}.get(beam or "none", (0, 1))
        # half of it for the motion that a span begins with, half for those that follow
        self._fine = fine_mm / 2 / (1 if len(self._across) == 1 else math.sqrt(2))
        self._been: Box | None = None
        self._low = self._high = (0.0, 0.0)
        self._made = 0
        self._parts: dict[int, Floats] = {}
        self._ahead = _FIRST_LOOK if len(self._across) == 2 else 6

    def begin(self) -> None:
        """Nothing has been gone through yet."""
        self._been = None

    def cut(self, axis: Axis, first: int, stop: int, into: list[Span], tool: int) -> None:
        """Add motions to the last of some spans, or to new ones behind it.

        Spans that begin with a whole motion are made many at once, when one is met that has parts.
        """
        at, done = first, first
        begins: list[int] = []
        self._parts = {}
        while at < stop:
            if self._been is not None and (into or begins):
                at = self._first_outside(axis, at, stop)
            if at == stop:
                break
            if axis.lengths[at] > self._fine and not axis.whole[at]:
                self._add_rows(axis, done, at, begins, into, tool)
                self._add_parts(axis, at, stop, into, tool)
                done, begins = at + 1, []
            else:
                begins.append(at)
                box = Box(*axis.low[at].tolist(), *axis.high[at].tolist())
                self._begins_with(box if math.isfinite(sum(box)) else NOWHERE)
            at += 1
        self._add_rows(axis, done, stop, begins, into, tool)

    def _add_rows(
        self, axis: Axis, first: int, stop: int, begins: list[int], into: list[Span], tool: int
    ) -> None:
        """Whole motions: those before the first of `begins` to the last span, the others to spans
        that begin there."""
        begin = begins[0] if begins else stop
        if first < begin:
            into[-1] = _longer(into[-1], axis, first, begin)
        if not begins:
            return
        at, line = np.array(begins) - begin, axis.motions.line
        lows = np.fmin.reduceat(axis.low[begin:stop], at, axis=0)
        highs = np.fmax.reduceat(axis.high[begin:stop], at, axis=0)
        lasts = np.append(at[1:] + begin, stop) - 1
        columns = (
            lows, highs, line[begins], line[lasts],
            np.add.reduceat(axis.seconds[begin:stop], at),
            np.add.reduceat(axis.rapid_mm[begin:stop], at),
        )  # fmt: skip
        for low, high, line_from, line_to, seconds, rapid in zip(
            *(column.tolist() for column in columns), strict=True
        ):
            box = Box(*low, *high) if math.isfinite(sum(low) + sum(high)) else NOWHERE
            into.append(Span("cutting", (line_from, line_to), seconds, rapid, box, "", tool))

    def _first_outside(self, axis: Axis, first: int, stop: int) -> int:
        """The first motion that leaves where the axis may be, or `stop`; looked for in steps."""
        step = _FIRST_LOOK
        while first < stop:
            rows = slice(first, min(first + step, stop))
            outside = self._outside(axis, rows)
            if outside.any():
                return first + int(outside.argmax())
            first, step = rows.stop, step * 8
        return stop

    def _outside(self, axis: Axis, rows: slice) -> NDArray[np.bool_]:
        """Which motions leave where the axis may be."""
        outside = np.zeros(rows.stop - rows.start, np.bool_)
        for side in self._across:
            outside |= axis.low[rows, side] < self._low[side]
            outside |= axis.high[rows, side] > self._high[side]
        return outside

    def _add_parts(self, axis: Axis, row: int, stop: int, into: list[Span], tool: int) -> None:
        """A motion that leaves where the axis has been, in parts."""
        boxes = self._parts_at(axis, row, stop)
        line = int(axis.motions.line[row])
        seconds = float(axis.seconds[row]) / len(boxes)
        rapid = float(axis.rapid_mm[row]) / len(boxes)
        fresh = not into or self._been is None
        for box in boxes:
            if not fresh and self._stays(box):
                last = into[-1]
                assert last.lines is not None
                into[-1] = last._replace(
                    lines=(last.lines[0], line), feed_s=last.feed_s + seconds,
                    rapid_mm=last.rapid_mm + rapid, box=hull(last.box or NOWHERE, box),
                )  # fmt: skip
            else:
                into.append(Span("cutting", (line, line), seconds, rapid, box, "", tool))
                self._begins_with(box)
            fresh = False

    def _parts_at(self, axis: Axis, row: int, stop: int) -> list[Box]:
        """The parts of a motion; of those that come next and leave as well they are made ahead."""
        if row not in self._parts:
            window = slice(row, min(row + self._ahead, stop))
            wanted = (axis.lengths[window] > self._fine) & ~axis.whole[window]
            wanted &= self._outside(axis, window)
            wanted[0] = True
            rows = row + np.flatnonzero(wanted)
            parts = parts_of(axis, rows, self._fine)
            self._parts = dict(zip(rows.tolist(), parts, strict=True))
        return [Box(*each) for each in self._parts[row].tolist()]

    def _stays(self, box: Box) -> bool:
        if 0 in self._across and not (self._low[0] <= box.left and box.right <= self._high[0]):
            return False
        return 1 not in self._across or (self._low[1] <= box.front and box.back <= self._high[1])

    def _begins_with(self, box: Box) -> None:
        """A new span: how far the next one is."""
        if self._been is None or len(self._across) == 2:
            self._been = box
        else:
            self._been = hull(self._been, box)
        been = self._been
        self._low = been.left - self._fine, been.front - self._fine
        self._high = been.right + self._fine, been.back + self._fine
        self._made += 1
        if len(self._across) == 2 and self._made > MOST_SPANS:
            self._made, self._fine, self._parts = 0, self._fine * 2, {}
