"""What a reading of a program tells besides its motions: a summary, and remarks line by line."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from pincorner.program.reader.arcs import Turns
from pincorner.program.reader.carrying import Path, feeds
from pincorner.program.reader.columns import NO_WORDS, Column, Words
from pincorner.program.reader.jumps import Jump, machine_z, shifts_all
from pincorner.program.reader.modes import (
    COMPENSATION_OFF,
    END_ROTATION,
    ENDING,
    HOMES,
    IN_MACHINE,
    PER_TIME,
    STOPPING,
    WRITE_OFFSET,
    written_g,
)
from pincorner.program.reader.motions import (
    NO_TOOL,
    Frame,
    Ints,
    Motions,
    Remark,
    moves_sideways,
)
from pincorner.program.reader.rules import STOPS, would_stop
from pincorner.program.reader.stretch import Stretch, held
from pincorner.units import Unit

REMARKS_KEPT = 20
"""Of each code; further ones are counted only."""

TURNS = (
    "G68 turns the axes; from here on places are told as if it did not (a setup block is known by "
    "its comments, which go with it)"
)
"""Why a line that turns the axes is not followed."""

ROTATION_UNSTAMPED = "rotation-unstamped"
"""Code of a remark: under a rotation a work offset is selected, or the program ends, which stamping
it mends. What it does not mend has the code `rotation-left`, under which people are told both."""


class Summary(NamedTuple):
    """A program as a whole; lines are numbers in the file, from 1.

    `lines`: how many the file has. `units`: (unit, line) of the first statement and of each that
    changes it. `codes`: work offsets by their first motion, "" for motions before any selection.
    `remarks`: at most REMARKS_KEPT of a code; `counts` has them all. `tools`: numbers in the order
    in which they come into the spindle. `ended`: the line at which the program ends before its file
    does (M2, M30 or the second %), else None; `end_word` which of them. `stops`: lines of M0, M1
    and M60. `selections`: (work offset, line) of each selection. `tool_changes`: (tool, line) of
    each M6. `machine_z`: (word, machine Z in mm, line) of each G53, G28 and G30 that moves Z; NaN
    where home is not known. `lengths_on`: lines of G43. `unturned_from`: the G69 in the body behind
    which X or Y move by numbers of the work offset. `first_increment`: the first motion, if it
    steps by G91 from a place that is not known.
    """

    lines: int
    units: tuple[tuple[Unit, int], ...]
    codes: tuple[str, ...]
    remarks: tuple[Remark, ...]
    counts: dict[str, int]
    tools: tuple[int, ...]
    ended: int | None
    end_word: str
    stops: tuple[int, ...]
    selections: tuple[tuple[str, int], ...]
    tool_changes: tuple[tuple[int, int], ...]
    machine_z: tuple[tuple[str, float, int], ...]
    lengths_on: tuple[int, ...]
    unturned_from: int | None
    first_increment: int | None

    def with_lines(self, told_as: Callable[[int], int]) -> Summary:
        """The same with other numbers for its lines, which stay in their order."""

        def told(line: int | None) -> int | None:
            return None if line is None else told_as(line)

        return self._replace(
            units=tuple((unit, told_as(line)) for unit, line in self.units),
            remarks=tuple(each._replace(line=told_as(each.line)) for each in self.remarks),
            ended=told(self.ended),
            stops=tuple(map(told_as, self.stops)),
            selections=tuple((code, told_as(line)) for code, line in self.selections),
            tool_changes=tuple((tool, told_as(line)) for tool, line in self.tool_changes),
            machine_z=tuple((word, z_mm, told_as(line)) for word, z_mm, line in self.machine_z),
            lengths_on=tuple(map(told_as, self.lengths_on)),
            unturned_from=told(self.unturned_from),
            first_increment=told(self.first_increment),
        )


@dataclass(slots=True)
class Notes:
    """A summary in the making."""

    lines: int = 0
    ended: int | None = None
    end_word: str = ""
    units: list[tuple[Unit, int]] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)
    tools: list[int] = field(default_factory=list)
    stops: list[int] = field(default_factory=list)
    selections: list[tuple[str, int]] = field(default_factory=list)
    tool_changes: list[tuple[int, int]] = field(default_factory=list)
    machine_z: list[tuple[str, float, int]] = field(default_factory=list)
    lengths_on: list[int] = field(default_factory=list)
    rotation_ended: int | None = None
    unturned_from: int | None = None
    first_increment: int | None = None
    index_of_code: dict[str, int] = field(default_factory=dict)
    told: set[str] = field(default_factory=set)
    moved: bool = False
    begun: bool = False

    def remark(self, code: str, line: int, what: str) -> None:
        """Count a remark, and keep it while there are few of its code."""
        count = self.counts[code] = self.counts.get(code, 0) + 1
        if count <= REMARKS_KEPT:
            self.remarks.append(Remark(code, line, what))

    def first(self, what: str) -> bool:
        """Whether this is the first time that something is told which is told once."""
        is_first = what not in self.told
        self.told.add(what)
        return is_first

    def unit(self, unit: Unit, line: int) -> None:
        """The program states its unit."""
        if not self.units or self.units[-1][0] != unit:
            self.units.append((unit, line))

    def tool(self, tool: int) -> None:
        """A tool comes into the spindle."""
        if tool not in self.tools:
            self.tools.append(tool)

    def index_of(self, code: str) -> int:
        """Index of a work offset under which something moves."""
        return self.index_of_code.setdefault(code, len(self.index_of_code))

    def summary(self) -> Summary:
        """The summary as it stands."""
        return Summary(
            lines=self.lines,
            units=tuple(self.units),
            codes=tuple(self.index_of_code),
            remarks=tuple(self.remarks),
            counts=dict(self.counts),
            tools=tuple(self.tools),
            ended=self.ended,
            end_word=self.end_word,
            stops=tuple(self.stops),
            selections=tuple(self.selections),
            tool_changes=tuple(self.tool_changes),
            machine_z=tuple(self.machine_z),
            lengths_on=tuple(self.lengths_on),
            unturned_from=self.unturned_from,
            first_increment=self.first_increment,
        )


LONG_NUMBER = "a line number of more than five digits"


class Done(NamedTuple):
    """A stretch that was carried out, and the number of its piece's first line in the file.

    `block`: numbers of the lines of a setup block, of which not all is told.
    """

    stretch: Stretch
    path: Path
    arcs: Turns | None
    tools: Column
    motions: Motions
    words: Words
    first_line: int
    block: range

    def numbers(self, lines: Ints | list[int]) -> list[int]:
        """Numbers in the file of some lines."""
        return [int(line) + self.first_line for line in lines]

    def among(self, lines: list[int]) -> list[int]:
        """Numbers of those lines of the piece that are lines of the stretch."""
        first, stop = self.stretch.first, self.stretch.stop
        return [line + self.first_line for line in lines if first <= line < stop]


Told = tuple[int, str, str]
"""Line number, code, text."""


def note(done: Done, notes: Notes) -> None:
    """Note what a stretch says and what is odd about it, line by line."""
    _note_words(done, notes)
    _note_unturned(done, notes)
    told = [
        *oddities(done.words, done.stretch.first, done.stretch.stop, done.first_line),
        *_refused(done),
        *_of_jumps(done, notes),
        *_of_lengths(done, notes),
        *_of_compensation(done, notes),
        *(_skipped(done) if "may-be-skipped" not in notes.counts else ()),
        *_stops(done, notes),
        *(_retracts(done) if "retract-unstated" not in notes.counts else ()),
        *(_of_first_moves(done, notes) if not notes.begun else ()),
    ]
    told.sort(key=lambda each: each[0])
    for line, code, text in told:
        notes.remark(code, line, text)


def oddities(words: Words, first: int, stop: int, first_line: int) -> Iterator[Told]:
    """Odd comments and numbers in lines `first` to `stop` - 1 of a piece."""
    for lines, code, text in (
        (words.odd_comments, "odd-comment", "some controllers act on what its comment holds"),
        (
            words.odd_numbers,
            "odd-number",
            "a number with blanks in it is read as if they were not there",
        ),
    ):
        for line in lines[bisect_left(lines, first) : bisect_left(lines, stop)]:
            yield line + first_line, code, text


def _note_words(done: Done, notes: Notes) -> None:
    """Units, selections, tools, stops and the end, as they are stated."""
    stretch = done.stretch
    if "units" in stretch.by:
        line, value = stretch.by["units"]
        new = np.flatnonzero(value != np.concatenate(([0.0], value[:-1])))
        for number, at in zip(done.numbers(line[new]), new, strict=True):
            notes.unit("mm" if value[at] == 1 else "in", number)
    notes.selections += [
        (each.jump.selected, each.jump.line + done.first_line)
        for each in done.path.jumped
        if not math.isnan(each.jump.offset)
    ]
    before = stretch.state.tool
    for tool in done.tools.value.astype(int).tolist():
        if tool not in (NO_TOOL, before):
            notes.tool(tool)
        before = tool
    changes = stretch.lines("tool change")
    if changes.size:
        tools = stretch.at_lines("T", stretch.state.tool_chosen, changes).astype(int).tolist()
        notes.tool_changes += zip(tools, done.numbers(changes), strict=True)
    notes.stops += done.numbers(stretch.lines_of("stopping", *STOPPING))
    ends = stretch.lines_of("stopping", *ENDING)
    if ends.size:
        word = int(stretch.number("stopping", int(ends[0])))
        notes.ended, notes.end_word = done.numbers(ends)[0], f"M{word}"


def _refused(done: Done) -> Iterator[Told]:
    if done.words.refused:
        for line in done.among(sorted(done.words.refused)):
            yield line, "not-read", done.words.refused[line - done.first_line]


def _of_jumps(done: Done, notes: Notes) -> Iterator[Told]:
    """Work offsets, rotations, shifts, and machine Z."""
    for each in done.path.jumped:
        jump, state, number = each.jump, each.state, each.jump.line + done.first_line
        if number in done.block:
            continue
        frame, selects = state.frame, not math.isnan(jump.offset)
        if selects and state.code != frame.code and state.code not in frame.origins_mm:
            text = f"it selects {state.code}, not {frame.code or 'none'}"
            yield number, "offset-differs", text
        if each.rotated:
            yield from _under_rotation(jump, frame, number)
        z_mm = machine_z(jump, frame)
        if z_mm is not None:
            notes.machine_z.append((written_g(int(jump.once)), z_mm, number))
        if jump.once == WRITE_OFFSET:
            yield number, "offset-written", "G10 writes a stored offset"
        if shifts_all(jump, state):
            yield number, "g92-used", f"{written_g(int(jump.once))} shifts all numbers"


def _under_rotation(jump: Jump, frame: Frame, number: int) -> Iterator[Told]:
    """A selection, or a move by machine coordinates, while a rotation is on."""
    if not math.isnan(jump.offset):
        code = jump.selected
        text = f"it selects {code} while a rotation is on: "
        if code == frame.code or code not in frame.origins_mm:
            text += "the setup block has selected the station's, so take it out, as stamp does"
            yield number, ROTATION_UNSTAMPED, text
        else:
            text += "a rotation is of one nest, so make a program for each"
            yield number, "rotation-left", text
    if jump.once in (*HOMES, IN_MACHINE):
        text = (
            f"{written_g(int(jump.once))} while a rotation is on, which controllers take each in "
            "its own way: put G69 in front of it if nothing is cut behind, else write a height of "
            "the work offset (G0 Z) instead"
        )
        yield number, "rotation-left", text


def _note_unturned(done: Done, notes: Notes) -> None:
    """A G69 of the program's own, and whether X or Y move by its numbers behind it, before it
    turns the axes itself."""
    changes = [
        (each.jump.line + done.first_line, True)
        for each in done.path.jumped
        if each.rotated and each.jump.rotation == END_ROTATION
    ]
    refused = sorted(line for line, why in done.words.refused.items() if why == TURNS)
    changes += [(line, False) for line in done.among(refused)]
    spans, since = list[tuple[int, float]](), notes.rotation_ended
    for line, ended in sorted(each for each in changes if each[0] not in done.block):
        spans += [] if since is None else [(since, line)]
        since = line if ended else None
    notes.rotation_ended = since
    spans += [] if since is None else [(since, math.inf)]
    if not spans or notes.unturned_from is not None:
        return
    motions = done.motions
    by_numbers = ~np.isin(motions.line, _by_machine(done, (0, 1)))
    lines = motions.line[by_numbers & (motions.is_arc | moves_sideways(motions.start, motions.end))]
    for first, stop in spans:
        if ((lines >= first) & (lines < stop)).any():
            notes.unturned_from = first
            return


def _by_machine(done: Done, axes: Iterable[int]) -> list[int]:
    """Lines of G53, G28 and G30 that give no numbers of the work offset for any of some axes."""
    return [
        each.jump.line + done.first_line
        for each in done.path.jumped
        if each.jump.once == IN_MACHINE
        or (
            each.jump.once in HOMES
            and not (each.jump.by_way_of and not each.jump.named.keys().isdisjoint(axes))
        )
    ]


def _of_lengths(done: Done, notes: Notes) -> Iterator[Told]:
    """G43 takes H (3.5.11), the tool's own number unless it is meant otherwise."""
    stretch = done.stretch
    if "tool length" not in stretch.by:
        return
    lines = stretch.lines_of("tool length", True)
    lines = lines[~np.isin(lines + done.first_line, done.block)]
    values = np.concatenate(([stretch.state.tool], done.tools.value))
    tools = values.take(done.tools.line.searchsorted(lines, side="right")).astype(int).tolist()
    wanted = stretch.numbers("H", lines).tolist()
    for number, tool, length in zip(done.numbers(lines), tools, wanted, strict=True):
        notes.lengths_on.append(number)
        if math.isnan(length):
            yield number, "length-differs", f"G43 without H, whose length it takes: {STOPS}"
        elif tool not in (NO_TOOL, length):
            text = f"G43 H{length:g} takes the length of another tool than T{tool}, which is in"
            yield number, "length-differs", text


def _of_compensation(done: Done, notes: Notes) -> Iterator[Told]:
    line, code = done.stretch.by.get("cutter compensation", NO_WORDS)
    on = line[code != COMPENSATION_OFF]
    if on.size and notes.first("compensation"):
        text = "cutter compensation: the path is read as programmed"
        yield done.numbers(on)[0], "not-read", text


def _skipped(done: Done) -> Iterator[Told]:
    for number in done.numbers(done.stretch.lines("/")[:1]):
        yield number, "may-be-skipped", "it begins with / and may be skipped"


def _stops(done: Done, notes: Notes) -> Iterator[Told]:
    """What a controller by the standard refuses; a missing feed and long line numbers are told
    once: all that follows is the same."""
    found: dict[int, list[str]] = {}
    for rule in would_stop(done.stretch):
        for line in rule.lines.tolist():
            found.setdefault(line, []).append(rule.told(line))
    if done.arcs is not None and done.arcs.short.any():
        for line in done.stretch.line[done.stretch.is_arc][done.arcs.short].tolist():
            text = "the radius R is shorter than half the way, read as half a turn"  # 3.5.3.1
            found.setdefault(line, []).append(text)
    if "no feed" not in notes.told:
        bare = _without_feed(done.stretch)
        if bare.size and notes.first("no feed"):
            found.setdefault(int(bare[0]), []).append("a cut with no feed: no F is in force")
    if done.words.long_numbers and "long number" not in notes.told:
        first = [number - done.first_line for number in done.among(done.words.long_numbers)[:1]]
        for line in first:
            notes.first("long number")
            found.setdefault(line, []).append(LONG_NUMBER)
    for line, texts in found.items():
        yield line + done.first_line, "would-stop", f"{'; '.join(texts)}: {STOPS}"


def _without_feed(stretch: Stretch) -> Ints:
    """Lines that cut without a feed: none stated, or by time without F on it (3.5.19)."""
    stated, modes = feeds(stretch), stretch.by.get("feed mode", NO_WORDS).value
    if (
        PER_TIME not in (stretch.state.feed_mode, *modes)
        and not np.isnan((stretch.state.feed, *stated.value)).any()
    ):
        return NO_WORDS.line
    feed = held(stretch.rows_from(stated.line), stated.value, stretch.state.feed, stretch.count)
    by_time = stretch.mode("feed mode", stretch.state.feed_mode) == PER_TIME
    without = np.isnan(feed)
    if by_time.any():
        own = stretch.has(stretch.flags(stretch.lines("F")), stretch.line)
        without = np.where(by_time, ~own, without)
    lines: Ints = stretch.line[without & (stretch.motion != 0)]
    return lines


def _retracts(done: Done) -> Iterator[Told]:
    """Cycles in front of any G98 or G99."""
    stretch = done.stretch
    if stretch.state.retract_stated or not stretch.drills:
        return
    first = stretch.line[stretch.is_cycle][0]
    if not (stretch.lines("retract")[:1] <= first).any():
        text = "neither G98 nor G99 is stated before its cycle, which counts as retracting to R"
        yield int(first) + done.first_line, "retract-unstated", text


def _of_first_moves(done: Done, notes: Notes) -> Iterator[Told]:
    """Remarks that the first moves deserve, by a work offset and by machine coordinates."""
    stretch, motions = done.stretch, done.motions
    if not len(motions.line):
        return
    frame = stretch.state.frame
    if not notes.moved:
        notes.moved = True
        number = int(motions.line[0])
        line = np.array([number - done.first_line])
        steps = not stretch.at_lines("distance", stretch.state.absolute, line)[0]
        if steps and stretch.number("one line only", int(line[0])) not in HOMES:
            notes.first_increment = number
        if not notes.units or notes.units[0][1] > number:
            yield number, "no-units", f"no unit is stated before; read as {frame.units}"
    by_offset = np.flatnonzero(~np.isin(motions.line, _by_machine(done, (0, 1, 2))))
    if by_offset.size:
        notes.begun = True
        at = by_offset[0]
        code = list(notes.index_of_code)[int(motions.code[at])]
        if not code and frame.code is not None:
            text = "no work offset is selected before"
            yield int(motions.line[at]), "no-offset", text
