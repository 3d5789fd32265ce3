"""A stretch carried out: from its words under their modes to motions.

An absolute number holds from its word to the next, increments add up. Between jumps (`jumps.py`)
all rows are followed together.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from pincorner.program.reader.arcs import Turns, end_tolerance_mm, in_plane, turns
from pincorner.program.reader.columns import NO_WORDS, Column, Flags
from pincorner.program.reader.cycles import Ways, depths, moves_of
from pincorner.program.reader.jumps import Jump, change_numbers, goes_to
from pincorner.program.reader.modes import DWELL, FEED_BACK, PER_MINUTE
from pincorner.program.reader.motions import (
    ARC,
    AXES_OF_PLANE,
    FEED,
    RAPID,
    Arcs,
    Floats,
    Ints,
    Motions,
    beside,
)
from pincorner.program.reader.state import UNKNOWN, Place, State
from pincorner.program.reader.stretch import Stretch, held


def jumps_of(stretch: Stretch) -> list[Jump]:
    """The jumps of a stretch in order."""
    once = stretch.once.line[stretch.once.value != DWELL]
    places = [stretch.lines(key) for key in ("offset", "rotation") if key in stretch.by]
    if not places and not once.size:
        return []
    line = np.flatnonzero(stretch.flags(once, *places)) + stretch.first
    state = stretch.state
    table = np.column_stack(
        [
            line,
            *(stretch.numbers(letter, line) for letter in "XYZLP"),
            *(stretch.numbers(key, line) for key in ("one line only", "offset", "rotation")),
            stretch.at_lines("units", state.mm_per_unit, line),
            stretch.at_lines("distance", state.absolute, line),
        ]
    )
    return [Jump(int(row[0]), *row[1:]) for row in table.tolist()]


class Jumped(NamedTuple):
    """A jump that was carried out: whether axes were turned before, and the state behind it."""

    jump: Jump
    rotated: bool
    state: State


class Path:
    """Where a stretch leads: (rows + 1, 3) `places`, before the first row and behind each.

    `before`: (rows, 3), where each row starts; `starts`: the rows, and places, that do not start
    where the row in front of them ends. `codes`: rows from which on another work offset is
    in force, with it. `vias`: rows of G28 and G30 and the places that they go by. `jumped`: what
    was carried out singly. `r`, `bottom`: levels of rows that are cycles.
    """

    def __init__(self, stretch: Stretch, lost: dict[int, bool], state: State) -> None:
        """Follow a stretch from a state, which is changed.

        `lost`: lines behind which no place is known, and whether they turn the axes.
        """
        self._stretch = stretch
        self.places = np.empty((stretch.count + 1, 3))
        self.places[0] = state.place
        self.starts: list[tuple[int, Place]] = []
        self.codes: list[tuple[int, str]] = [(0, state.code)]
        self.vias: list[tuple[int, Place]] = []
        self.jumped: list[Jumped] = []
        self._axes = [self._axis(letter) for letter in "XYZ"]
        if stretch.drills:
            self._prepare_holes()
        self._follow(lost, state)
        self.before = self.places[:-1]
        if self.starts:
            self.before = self.before.copy()
            rows, places = zip(*self.starts, strict=True)
            self.before[list(rows)] = places

    def stated_before(self, row: int, axes: Sequence[int]) -> int:
        """The row in front of one at or behind which all of some axes are stated; -1: in none."""
        lasts = []
        for rows, _, _ in (self._axes[axis] for axis in axes):
            at = int(rows.searchsorted(row))
            lasts.append(int(rows[at - 1]) if at else -1)
        return min(lasts)

    def _axis(self, letter: str) -> tuple[Ints, Floats, Flags | None]:
        """Rows, numbers in mm and whether they are places (None: all are) of an axis's words."""
        stretch = self._stretch
        column = stretch.by.get(letter, NO_WORDS)
        if len(stretch.once.line):  # words that others take move nothing
            mine = stretch.has(stretch.has_row, column.line)
            column = Column(column.line[mine], column.value[mine])
        is_place = None
        if not stretch.all_places:
            is_place = stretch.at_lines("distance", stretch.state.absolute, column.line) != 0
        return stretch.rows_from(column.line), stretch.mm(column), is_place

    def _follow(self, lost: dict[int, bool], state: State) -> None:
        """Row by row between jumps and lost lines, in the order of the lines."""
        jumps = jumps_of(self._stretch)
        events: list[tuple[int, Jump | None]] = [
            *((line, None) for line in lost),  # first: of some lines what they state still counts
            *((jump.line, jump) for jump in jumps),
            *((line, None) for line in self._cuts()),
        ]
        row = 0
        if events:
            events.sort(key=lambda event: event[0])
            until = self._stretch.rows_from(np.array([line for line, _ in events])).tolist()
            for (line, jump), at in zip(events, until, strict=True):
                row = self._go(row, at, state)
                if jump is not None:
                    row = self._jump(jump, row, state)
                elif line in lost:
                    self._restart(row, UNKNOWN, state)
                    state.rotated |= lost[line]
        self._go(row, self._stretch.count, state)

    def _cuts(self) -> list[int]:
        """Lines at which the depth axis of cycles changes."""
        return self._stretch.lines("plane").tolist() if self._stretch.drills else []

    def _restart(self, row: int, place: Place, state: State) -> None:
        state.place = place
        if row < self._stretch.count:
            self.starts.append((row, place))

    def _jump(self, jump: Jump, row: int, state: State) -> int:
        """Carry a jump out; the row behind it."""
        rotated, place, code = state.rotated, state.place, state.code
        change_numbers(jump, state)
        if state.place is not place:
            self._restart(row, state.place, state)
        if state.code != code:
            self.codes.append((row, state.code))
        self.jumped.append(Jumped(jump, rotated, state.copied()))
        ends = goes_to(jump, state)
        if not ends:
            return row
        self.vias += [(row, via) for via in ends[:-1]]
        self.places[row + 1] = state.place = ends[-1]
        return row + 1

    def _go(self, first: int, stop: int, state: State) -> int:
        """Follow rows `first` to `stop` - 1, which have one work offset and shift."""
        if stop <= first:
            return first
        shift, third = state.shift, None
        if self._stretch.drills and self._stretch.is_cycle[first:stop].any():
            third = self._drill(first, stop, state)
        for axis, (rows, number, is_place) in enumerate(self._axes):
            if axis == third:
                continue
            low, high = rows.searchsorted((first, stop))
            behind = self.places[first + 1 : stop + 1, axis]
            if low == high:
                behind[:] = state.place[axis]
                continue
            at, steps = rows[low:high] - first, number[low:high]
            behind[:] = (
                held(at, steps + shift[axis], state.place[axis], stop - first)
                if is_place is None
                else _along(
                    at, steps, shift[axis], is_place[low:high], state.place[axis], stop - first
                )
            )
        x, y, z = self.places[stop].tolist()
        state.place = (x, y, z)
        return stop

    def _prepare_holes(self) -> None:
        """What cycles take from columns; increments of an L word are taken as often."""
        stretch = self._stretch
        state, count = stretch.state, stretch.count
        self._r = held(*stretch.r_words, state.cycle_r, count) * stretch.unit
        self._depth = held(*stretch.depth_words, state.cycle_z, count) * stretch.unit
        self.r, self.bottom = np.full(count, np.nan), np.full(count, np.nan)
        self.repeats = np.ones(count, np.int64)
        rows, value = stretch.own("L")
        self.repeats[rows] = value
        for axis, (at, number, is_place) in enumerate(self._axes):
            if is_place is not None:
                self._axes[axis] = (
                    at,
                    np.where(is_place, number, number * self.repeats[at]),
                    is_place,
                )

    def _drill(self, first: int, stop: int, state: State) -> int:
        """Follow the depth axis of rows with cycles among them; which axis that is."""
        stretch, cut = self._stretch, slice(first, stop)
        axis = int(stretch.third[first])
        cycle, places = stretch.is_cycle[cut], stretch.absolute[cut]
        to_r, r, shift = stretch.to_r[cut], self._r[cut], state.shift[axis]
        steps = np.where(to_r, r, np.maximum(r, 0.0))  # R counts from where the tool is
        add = np.where(cycle & ~places, steps, 0.0)
        level = r + shift
        sets, lifts = cycle & places & to_r, cycle & places & ~to_r
        rows, number, is_place = self._axes[axis]
        low, high = rows.searchsorted((first, stop))
        at, own = rows[low:high] - first, number[low:high]
        moves = ~cycle[at]
        fixed = moves if is_place is None else moves & is_place[low:high]
        level[at[fixed]] = own[fixed] + shift
        sets[at[fixed]] = True
        add[at[moves & ~fixed]] = own[moves & ~fixed]
        depth = depths(state.place[axis], add, level, sets, lifts)
        self.places[first + 1 : stop + 1, axis] = depth[1:]
        self.r[cut] = np.where(places, r + shift, depth[:-1] + r)
        self.bottom[cut] = self._depth[cut] + np.where(places, shift, self.r[cut])
        return axis


def _along(
    rows: Ints, number: Floats, shift: float, is_place: Flags, before: float, count: int
) -> Floats:
    """One axis at `count` rows: some numbers are places, the others increments."""
    steps = np.zeros(count)
    steps[rows] = np.where(is_place, 0.0, number)
    moved = steps.cumsum()
    fixed = rows[is_place]
    return moved + held(fixed, number[is_place] + shift - moved[fixed], before, count)


def turns_of(stretch: Stretch, path: Path) -> Turns:
    """The arcs of a stretch, one for each row that is an arc."""
    at = np.flatnonzero(stretch.is_arc)
    plane, unit = stretch.plane.take(at), stretch.unit.take(at)
    index = np.cumsum(stretch.is_arc) - 1
    offset, size = np.zeros((len(at), 3)), np.full(len(at), np.nan)
    for axis, letter in enumerate("IJK"):
        rows, number = stretch.own(letter)
        offset[index[rows], axis] = number * unit[index[rows]]
    rows, number = stretch.own("R")
    mine = stretch.is_arc[rows]
    size[index[rows[mine]]] = number[mine] * unit[index[rows[mine]]]
    return turns(
        in_plane(path.before.take(at, axis=0), plane),
        in_plane(path.places.take(at + 1, axis=0), plane),
        in_plane(offset, plane),
        size,
        stretch.motion.take(at) == 3,
        end_tolerance_mm(unit),
    )


_RESTED_ON = ("units", "plane", "offset", "rotation", "one line only")
"""Words on which the geometry of later lines rests; where all numbers are places, these alone, and
the motion."""


def impossible_arcs(stretch: Stretch, path: Path, arcs: Turns) -> tuple[list[int], int]:
    """Lines of arcs that cannot be, from the first on, and the line up to which they are all.

    None of them is carried out, and no place is known behind one: an arc that would begin there can
    be. Where lines rest on what one states, or jump, it is to be looked at anew.
    """
    rows = np.flatnonzero(stretch.is_arc)[arcs.impossible]
    first, stop = int(stretch.line[rows[0]]), stretch.stop
    if stretch.drills or not stretch.all_places:
        return [first], first + 1
    stop = next((each.jump.line for each in path.jumped if each.jump.line > first), stop)
    moves = stretch.flags(stretch.lines("motion")).tolist()
    states = stretch.flags(*(stretch.lines(key) for key in _RESTED_ON)).tolist()
    found, lost = list[int](), -2
    for row, is_point in zip(rows.tolist(), arcs.point[arcs.impossible].tolist(), strict=True):
        line = int(stretch.line[row])
        if line >= stop:
            break
        axes = AXES_OF_PLANE[stretch.plane[row]][:2]
        if not is_point and path.stated_before(row, axes) <= lost:
            continue
        found.append(line)
        lost = row
        if states[line - stretch.first]:
            stop = min(stop, line + 1)
        elif moves[line - stretch.first] and row + 1 < stretch.count:
            following = int(stretch.line[row + 1])
            stop = stop if moves[following - stretch.first] else min(stop, following)
    return found, stop


class _Moves(NamedTuple):
    """The row of each move (a slice where every row is one), its kind, start and end."""

    row: Ints | slice
    kind: Ints
    start: Floats
    end: Floats


def _moves(stretch: Stretch, path: Path) -> _Moves:
    kind = np.minimum(stretch.motion, ARC).astype(np.int64)
    if not path.vias and not stretch.drills:
        return _Moves(np.s_[:], kind, path.before, path.places[1:])
    row, end = np.arange(stretch.count), path.places[1:]
    if stretch.drills:
        kind[stretch.is_cycle] = RAPID
        kind[np.isin(stretch.motion, FEED_BACK)] = FEED
        row, kind, end = _drilled(stretch, path, kind)
    if path.vias:
        rows, places = zip(*path.vias, strict=True)
        where = row.searchsorted(rows)
        row, kind = np.insert(row, where, rows), np.insert(kind, where, RAPID)
        end = np.insert(end, where, places, axis=0)
    start = np.concatenate((path.places[:1], end))[:-1]
    for at, place in path.starts:
        start[row.searchsorted(at) :][:1] = place
    return _Moves(row, kind, start, end)


def _drilled(stretch: Stretch, path: Path, kind: Ints) -> tuple[Ints, Ints, Floats]:
    """Rows, kinds and ends of all moves; L repeats holes, by steps under G91."""
    row, repeats = np.arange(stretch.count), path.repeats
    ways = Ways(
        path.before, path.places[1:], kind, stretch.is_cycle, path.r, path.bottom, stretch.plane
    )
    if (repeats > 1).any():
        ways = Ways._make(column.repeat(repeats, axis=0) for column in ways)
        row = row.repeat(repeats)
        done = np.arange(len(row)) - (np.cumsum(repeats) - repeats).repeat(repeats)
        steps = np.where(stretch.absolute[row], 1, repeats[row])
        _repeat(ways.before, ways.after, done, steps, stretch.third[row])
    moves = moves_of(ways)
    return row[moves.way], moves.kind, moves.end


def _repeat(before: Floats, after: Floats, done: Ints, steps: Ints, depth: Ints) -> None:
    """Share the way of a line out among its `steps`; with one step only the first goes anywhere.

    `done`: of each hole, how many of its line are drilled already. The depth axis is where the
    first of them leaves it.
    """
    at, some, again = np.arange(len(done)), steps > 1, done > 0
    level = after[at, depth]
    way = (after - before) / steps[:, np.newaxis]
    before[some] += done[some, np.newaxis] * way[some]
    after[some] = before[some] + way[some]
    before[again & ~some] = after[again & ~some]
    before[at[again], depth[again]] = level[again]
    after[at, depth] = level


def tool_changes(stretch: Stretch, by_m6: bool) -> Column:
    """Lines at which a tool comes into the spindle, and its number.

    T chooses and M6 changes; where the program has no M6 anywhere (`by_m6`), T changes.
    """
    if not by_m6:
        return stretch.by.get("T", NO_WORDS)
    if "tool change" not in stretch.by:
        return NO_WORDS
    lines = stretch.lines("tool change")
    return Column(lines, stretch.at_lines("T", stretch.state.tool_chosen, lines))


def feeds(stretch: Stretch) -> Column:
    """Feeds as stated, and their lines; NaN where a line changes the feed mode (3.5.19)."""
    stated = stretch.by.get("F", NO_WORDS)
    mode = stretch.by.get("feed mode")
    if mode is None:
        return stated
    changed = mode.line[mode.value != np.concatenate(([stretch.state.feed_mode], mode.value[:-1]))]
    line = np.concatenate((changed, stated.line))
    value = np.concatenate((np.full(len(changed), np.nan), stated.value))
    order = line.argsort(kind="stable")  # F counts in the mode that its own line sets
    return Column(line[order], value[order])


def _codes(path: Path, count: int, index_of: Callable[[str], int]) -> Ints:
    """Index of the work offset at each row; those without rows get none."""
    starts = [at for at, _ in path.codes]
    spans = zip(path.codes, [*starts[1:], count], strict=True)
    index = [index_of(code) if at < stop else 0 for (at, code), stop in spans]
    return _wholes(np.array(starts[1:], np.int64), np.array(index[1:]), index[0], count)


def motions_of(
    stretch: Stretch,
    path: Path,
    arcs: Turns | None,
    tools: Column,
    index_of: Callable[[str], int],
    first_line: int,
) -> Motions:
    """The motions of a stretch; `index_of` tells a work offset's index in the summary.

    `first_line`: the number of the piece's first line.
    """
    state, count = stretch.state, stretch.count
    moves = _moves(stretch, path)
    row = moves.row
    columns = beside(
        moves.kind,
        None
        if arcs is None
        else Arcs(
            stretch.plane[stretch.is_arc],
            arcs.centre.view(np.float64).reshape(-1, 2),
            arcs.sweep_rad,
        ),
    )
    return Motions(
        line=stretch.line[row] + first_line,
        kind=moves.kind,
        start=moves.start,
        end=moves.end,
        feed=np.where(moves.kind == RAPID, np.nan, _feeds_mm(stretch)[row]),
        tool=_wholes(stretch.rows_from(tools.line), tools.value, state.tool, count)[row],
        code=_codes(path, count, index_of)[row],
        lengths=_lengths(stretch)[row],
        plane=columns.plane,
        centre=columns.centre,
        sweep_rad=columns.sweep_rad,
    )


def _lengths(stretch: Stretch) -> Flags:
    """Whether a tool length is applied at each row."""
    if stretch.changing("tool length", stretch.state.lengths) is None:
        return np.full(stretch.count, stretch.state.lengths)
    flags: Flags = stretch.mode("tool length", stretch.state.lengths) != 0
    return flags


def _feeds_mm(stretch: Stretch) -> Floats:
    """Millimetres a minute at each row; NaN where the feed is no length a minute, or not stated."""
    state, feed = stretch.state, feeds(stretch)
    if not len(feed.line) and stretch.changing("units", state.mm_per_unit) is None:
        return np.full(stretch.count, state.feed_mm_per_min)
    rows = stretch.rows_from(feed.line)
    per_minute = held(rows, feed.value, state.feed, stretch.count) * stretch.unit
    if state.feed_mode != PER_MINUTE or stretch.changing("feed mode", PER_MINUTE) is not None:
        by_other = stretch.mode("feed mode", state.feed_mode) != PER_MINUTE
        return np.where(by_other, np.nan, per_minute)
    return per_minute


def _wholes(rows: Ints, value: Floats, now: int, count: int) -> Ints:
    if not len(rows):
        return np.full(count, now)
    return held(rows, value, now, count).astype(np.int64)


def leave(stretch: Stretch, tools: Column, state: State) -> None:
    """Bring the modes of a state to the end of a stretch; its place is there already."""
    last = {key: float(column.value[-1]) for key, column in stretch.by.items()}
    state.motion = int(last.get("motion", state.motion))
    state.plane = int(last.get("plane", state.plane))
    state.mm_per_unit = last.get("units", state.mm_per_unit)
    state.absolute = bool(last.get("distance", state.absolute))
    state.retract_to_r = bool(last.get("retract", state.retract_to_r))
    state.retract_stated |= "retract" in last
    state.lengths = bool(last.get("tool length", state.lengths))
    feed = feeds(stretch).value
    state.feed = float(feed[-1]) if len(feed) else state.feed
    state.feed_mode = int(last.get("feed mode", state.feed_mode))
    state.tool_chosen = int(last.get("T", state.tool_chosen))
    state.tool = int(tools.value[-1]) if len(tools.value) else state.tool
    if stretch.drills:
        state.cycle_plane = int(stretch.plane[stretch.is_cycle][-1])
        for number, name in ((stretch.r_words, "cycle_r"), (stretch.depth_words, "cycle_z")):
            if len(number.value):
                setattr(state, name, float(number.value[-1]))
