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
from pincorner.program.reader.motions import NO_TOOL, Floats, Ints, Motions
from pincorner.program.reader.summary import Summary
from pincorner.program.source.lexer import BYTES, sieve, values_of
from pincorner.program.source.text import ProgramText
from pincorner.runs.axis import Axis, axis_of, parts_of
from pincorner.runs.entering import Entry, Stocks

What = Literal["start", "approach", "cutting", "stop", "change", "end"]
Beam = Literal["x", "y", "none"]

MOST_SPANS = 1000
"""Of one program without a beam; from then on each step is twice as coarse, and so on."""

_FIRST_LOOK, _LOOK_AHEAD = 64, 4096
"""Motions: that are looked through at once at first, and among which further long ones are looked
for; spans without a beam are short."""


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
    gap may be at a moment than its span's box has it. `text`: the program. `stocks`: what stays out
    of them is no cut yet, up to the moment at which a motion goes in. `known`: the first lines of
    stretches that are not read.
    """

    def __init__(
        self,
        in_machine: Pose,
        beam: Beam | None,
        fine_mm: float,
        text: ProgramText,
        stocks: Stocks,
        known: Sequence[int] = (),
    ) -> None:
        self._pose, self._text, self._stocks = in_machine, text, stocks
        self._stop_words: dict[int, str] | None = None
        side = {"y": 0, "x": 1}.get(beam or "none")
        self._cutter = _Around(fine_mm) if side is None else _Across(side, fine_mm)
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

    def take(
        self, motions: Motions, summary: Summary, boxes: tuple[Floats, Floats] | None = None
    ) -> None:
        """A piece of the program; `boxes`: of its motions, where `check` has made them."""
        axis = axis_of(motions, self._pose, boxes)
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
            entry = self._stocks.first_in(axis, first, stop)
            begin = stop if entry is None else entry.row
            self._approach = _longer(self._approach, axis, first, begin)
            self._remember(axis, first, begin)
            if entry is None:
                return
            self._enter(self._approach, entry)
            self._remember(axis, begin, begin + 1)
            self.cut_place = self.place
            self._approach, first = None, begin + 1
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

    def _enter(self, approach: Span, entry: Entry) -> None:
        """The tool goes into the stock: up to there a motion is on its way, from there it cuts."""
        if entry.air is not None:
            approach = _longer(approach, entry.air, 0, 1)
        if approach.box != NOWHERE:
            self.spans.append(approach)
        self._cutter.begin()
        self._cutter.cut(entry.cut, 0, 1, self._cuts, self._tool)
        if entry.air is not None and not entry.is_sized:  # whoever sees it cut is there by then
            first = _longer(self._cuts[0], entry.air, 0, 1).box
            self._cuts[0] = self._cuts[0]._replace(box=first)

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


class _Steps(NamedTuple):
    """What spans are cut of, k in a row: motions, and parts of those that are long.

    `low`, `high`: (k, 2) as in Axis; `line`, `seconds`, `rapid_mm`: of each.
    """

    low: Floats
    high: Floats
    line: Ints
    seconds: Floats
    rapid_mm: Floats


def _steps_of(axis: Axis, rows: slice) -> _Steps:
    """Motions as they are."""
    return _Steps(
        axis.low[rows], axis.high[rows], axis.motions.line[rows], axis.seconds[rows],
        axis.rapid_mm[rows],
    )  # fmt: skip


def _with_parts(steps: _Steps, some: Ints, of_each: Ints, boxes: Floats) -> _Steps:
    """Steps of which some are taken in so many parts each, whose boxes are (m, 4)."""
    counts = np.ones(len(steps.line), np.int64)
    counts[some] = of_each
    of = np.repeat(np.arange(len(counts)), counts)
    share, is_part = 1 / counts[of], np.zeros(len(counts), np.bool_)
    is_part[some] = True
    low, high, parts = steps.low[of], steps.high[of], is_part[of]
    low[parts], high[parts] = boxes[:, :2], boxes[:, 2:]
    return _Steps(low, high, steps.line[of], steps.seconds[of] * share, steps.rapid_mm[of] * share)


def _some(steps: _Steps, first: int, stop: int) -> _Steps:
    return _Steps._make(each[first:stop] for each in steps)


def _add_spans(steps: _Steps, begins: Sequence[int], into: list[Span], tool: int) -> None:
    """Steps before the first of `begins` to the last span, the others to spans that begin there."""
    begin = begins[0] if len(begins) else len(steps.line)
    if begin:
        last, low, high = into[-1], steps.low[:begin], steps.high[:begin]
        sides = *np.fmin.reduce(low).tolist(), *np.fmax.reduce(high).tolist()
        box = Box(*sides) if math.isfinite(sum(sides)) else NOWHERE
        assert last.lines is not None
        into[-1] = last._replace(
            lines=(last.lines[0], int(steps.line[begin - 1])),
            feed_s=last.feed_s + float(np.add.reduce(steps.seconds[:begin])),
            rapid_mm=last.rapid_mm + float(np.add.reduce(steps.rapid_mm[:begin])),
            box=hull(last.box or NOWHERE, box),
        )
    if not len(begins):
        return
    firsts = np.array(begins, np.int64)
    lasts = np.append(firsts[1:], len(steps.line)) - 1
    columns = (
        np.fmin.reduceat(steps.low, firsts, axis=0), np.fmax.reduceat(steps.high, firsts, axis=0),
        steps.line[firsts], steps.line[lasts],
        np.add.reduceat(steps.seconds, firsts), np.add.reduceat(steps.rapid_mm, firsts),
    )  # fmt: skip
    for low, high, line_from, line_to, seconds, rapid in zip(
        *(column.tolist() for column in columns), strict=True
    ):
        box = Box(*low, *high) if math.isfinite(sum(low) + sum(high)) else NOWHERE
        into.append(Span("cutting", (line_from, line_to), seconds, rapid, box, "", tool))


class _Across:
    """Cuts motions into spans where they get farther across the beam than they have been.

    A span begins where the farthest place so far, to either side, comes into another of the
    strips of `fine_mm / 2` that the machine is divided into: half of it for the step that a span
    begins with, half for those that follow.
    """

    def __init__(self, side: int, fine_mm: float) -> None:
        self._side, self._fine = side, fine_mm / 2
        self.begin()

    def begin(self) -> None:
        """The operator has just been at the machine: nothing has been gone through yet."""
        self._low, self._high, self._is_fresh = math.inf, -math.inf, True

    def cut(self, axis: Axis, first: int, stop: int, into: list[Span], tool: int) -> None:
        """Add motions to the last of some spans, or to new ones behind it."""
        if first >= stop:
            return
        rows, self._is_fresh = slice(first, stop), self._is_fresh or not into
        steps = _steps_of(axis, rows)
        begins = self._farther(steps)
        has_parts = (axis.lengths[rows] > self._fine) & ~axis.whole[rows]
        some = np.flatnonzero(begins & has_parts)
        if some.size:
            steps = _with_parts(steps, some, *parts_of(axis, first + some, self._fine))
            begins = self._farther(steps)
        _add_spans(steps, np.flatnonzero(begins).tolist(), into, tool)
        self._low = float(np.fmin.reduce(steps.low[:, self._side], initial=self._low))
        self._high = float(np.fmax.reduce(steps.high[:, self._side], initial=self._high))
        self._is_fresh = False

    def _farther(self, steps: _Steps) -> NDArray[np.bool_]:
        """At which steps a span begins."""
        begins = np.zeros(len(steps.line), np.bool_)
        if math.isfinite(self._fine):
            for ufunc, so_far, places in (
                (np.fmin, self._low, steps.low),
                (np.fmax, self._high, steps.high),
            ):
                farthest = ufunc.accumulate(np.append(so_far, places[:, self._side]))
                strips = np.floor(farthest / self._fine)
                begins |= strips[1:] != strips[:-1]
        begins[0] |= self._is_fresh
        return begins


def _any_of_four(flags: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(k,): whether any of four flags (4, k) is set."""
    any_of: NDArray[np.bool_] = np.logical_or.reduce(flags)
    return any_of


class _Around:
    """Cuts motions into spans where they leave the surroundings of where the span began.

    Sides are lowest X and Y with the other sign, and highest X and Y: (4, k), so that farther is
    more on each.
    """

    def __init__(self, fine_mm: float) -> None:
        # half of it for the step that a span begins with, half for those that follow
        self._fine = fine_mm / 2 / math.sqrt(2)
        self._limits: list[float] = []
        self._made = 0
        self._parts: dict[int, Floats] = {}

    def begin(self) -> None:
        """The operator has just been at the machine: nothing has been gone through yet."""
        self._limits = []

    def cut(self, axis: Axis, first: int, stop: int, into: list[Span], tool: int) -> None:
        """Add motions to the last of some spans, or to new ones behind it.

        Spans that begin with a whole motion are made many at once, when one is met that has parts.
        """
        steps = _steps_of(axis, slice(first, stop))
        sides = np.concatenate([-steps.low.T, steps.high.T])
        has_parts = (axis.lengths[first:stop] > self._fine) & ~axis.whole[first:stop]
        begins: list[int] = []
        self._parts, at, done, count = {}, 0, 0, stop - first
        while at < count:
            if self._limits and (into or begins):
                at = self._first_outside(sides, at)
            if at == count:
                break
            if has_parts[at]:
                _add_spans(_some(steps, done, at), begins, into, tool)
                begins, done = [], at + 1
                self._add_parts(
                    _some(steps, at, done), self._parts_at(axis, first, at, sides, has_parts),
                    into, tool,
                )  # fmt: skip
            else:
                begins.append(at - done)
                self._begins_with(sides[:, at].tolist())
            at += 1
        _add_spans(_some(steps, done, at), begins, into, tool)

    def _first_outside(self, sides: Floats, first: int) -> int:
        """The first step that leaves where the axis may be, or behind the last; looked for in
        steps."""
        many, count = _FIRST_LOOK, int(sides.shape[1])
        limits = np.array(self._limits)[:, None]
        while first < count:
            leaves = _any_of_four(sides[:, first : first + many] > limits)
            at = int(leaves.argmax())
            if leaves[at]:
                return first + at
            first, many = first + many, many * 8
        return count

    def _parts_at(
        self, axis: Axis, first: int, at: int, sides: Floats, has_parts: NDArray[np.bool_]
    ) -> Floats:
        """The parts of a motion; of those that come next and leave as well they are made ahead."""
        if at not in self._parts:
            rows = at + np.flatnonzero(has_parts[at : at + _LOOK_AHEAD])[:_FIRST_LOOK]
            if self._limits:
                limits = np.array(self._limits)[:, None]
                leaves = _any_of_four(sides[:, rows] > limits)
                rows = np.append(at, rows[1:][leaves[1:]])
            counts, boxes = parts_of(axis, first + rows, self._fine)
            each = np.split(boxes, np.cumsum(counts)[:-1])
            self._parts = dict(zip(rows.tolist(), each, strict=True))
        return self._parts[at]

    def _add_parts(self, step: _Steps, boxes: Floats, into: list[Span], tool: int) -> None:
        """A motion that leaves where the axis has been, in parts."""
        [line], [seconds], [rapid] = (each.tolist() for each in step[2:])
        seconds, rapid = seconds / len(boxes), rapid / len(boxes)
        is_fresh = not into or not self._limits
        for box in (Box(*each) for each in boxes.tolist()):
            if not is_fresh and self._stays(box):
                last = into[-1]
                assert last.lines is not None
                into[-1] = last._replace(
                    lines=(last.lines[0], line), feed_s=last.feed_s + seconds,
                    rapid_mm=last.rapid_mm + rapid, box=hull(last.box or NOWHERE, box),
                )  # fmt: skip
            else:
                into.append(Span("cutting", (line, line), seconds, rapid, box, "", tool))
                self._begins_with([-box.left, -box.front, box.right, box.back])
            is_fresh = False

    def _stays(self, box: Box) -> bool:
        left, front, right, back = self._limits
        return -box.left <= left and -box.front <= front and box.right <= right and box.back <= back

    def _begins_with(self, sides: list[float]) -> None:
        """A new span: how far the next one is; at once, where a side of this one is not known."""
        left, front, right, back = sides
        if math.isnan(left + front + right + back):
            left = front = right = back = -math.inf
        fine = self._fine
        self._limits = [left + fine, front + fine, right + fine, back + fine]
        self._made += 1
        if self._made > MOST_SPANS:
            self._made, self._fine, self._parts = 0, self._fine * 2, {}
