"""A stretch of lines under the modes that hold in it.

A *row* is a line that moves: one with axis words that no other word of it takes, a turn by I, J, K
alone, and what goes by machine coordinates. A mode's value holds from its word to the next one; a
line's own word holds for the whole line, wherever it stands.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from pincorner.program.reader.arcs import THIRD_AXIS
from pincorner.program.reader.columns import NO_WORDS, Column, Flags, Words
from pincorner.program.reader.modes import HOMES, IN_MACHINE, OWN_AXES
from pincorner.program.reader.motions import Floats, Ints
from pincorner.program.reader.state import State


def held(at: Ints, value: Floats, before: float, count: int) -> Floats:
    """For each of `count` rows the last value at or in front of it; `before` where there is none.

    `at`: rows of the values, rising; `count` for one behind the last row.
    """
    if not len(at):
        return np.full(count, before)
    if len(at) == count and at[-1] < count and (at[1:] > at[:-1]).all():
        return value  # one at each row
    lasts = np.empty(len(at) + 1, np.int64)  # how many rows each value lasts
    lasts[0] = at[0]
    lasts[1:-1] = at[1:] - at[:-1]
    lasts[-1] = count - at[-1]
    return np.concatenate(([before], value)).repeat(lasts)


class Stretch:
    """The words of the lines `first` to `stop` - 1 of a piece, and the modes at its rows.

    `by`: those letters and modal groups that occur. `line`: of each row, in the piece; `count`: how
    many rows there are. `has_row`, `has_axes`: of each line, from `first`. `motion`: (rows,) number
    of the motion word that a row obeys; G28 and G30 are rapids. `state`: in front of all.
    """

    def __init__(self, words: Words, first: int, stop: int, state: State) -> None:
        self.by = words.between(first, stop)
        self.first, self.stop, self.state = first, stop, state
        self.once = self.by.get("one line only", NO_WORDS)
        axes = [self.by[letter].line for letter in "XYZ" if letter in self.by]
        if any(len(line) == stop - first for line in axes):
            self.has_axes = np.ones(stop - first, np.bool_)
        else:
            self.has_axes = self.flags(*axes)
        self.has_row = self._rows()
        self.line: Ints = np.flatnonzero(self.has_row)
        self.count = len(self.line)
        if first:
            self.line += first
        self._rows_before: Ints | None = None  # of each line; None where every line is a row
        if self.count < stop - first:
            self._rows_before = np.cumsum(self.has_row) - self.has_row
        self.motion = self.mode("motion", state.motion)
        if len(self.once.line):
            self.motion = np.where(self.homing, 0.0, self.motion)

    def _rows(self) -> Flags:
        turns = [self.by[letter].line for letter in "IJK" if letter in self.by]
        if "R" in self.by and "motion" in self.by:
            by_radius = self.by["R"].line
            turns.append(by_radius[self.has(self.flags(self.by["motion"].line), by_radius)])
        if not turns and not len(self.once.line):
            return self.has_axes
        rows = self.has_axes.copy()
        bare = np.flatnonzero(self.flags(*turns) & ~rows) + self.first
        if bare.size:
            motion = self.at_lines("motion", self.state.motion, bare)
            rows[bare[(motion == 2) | (motion == 3)] - self.first] = True
        line, code = self.once
        rows[line[np.isin(code, OWN_AXES)] - self.first] = False
        rows[line[np.isin(code, (*HOMES, IN_MACHINE))] - self.first] = True
        return rows

    @property
    def homing(self) -> Flags:
        """Which of the rows stand on a line with G28 or G30."""
        flags: Flags = np.isin(self.line, self.once.line[np.isin(self.once.value, HOMES)])
        return flags

    def flags(self, *lines: Ints) -> Flags:
        """Which of the stretch's lines are among these."""
        found = np.zeros(self.stop - self.first, np.bool_)
        for each in lines:
            found[each - self.first] = True
        return found

    def has(self, wanted: Flags, lines: Ints) -> Flags:
        """A flag of each line of the stretch, at some lines."""
        flags: Flags = wanted.take(lines - self.first)
        return flags

    def rows_from(self, lines: Ints) -> Ints:
        """The first row at or behind each line; `count` where there is none."""
        at = lines - self.first
        return at if self._rows_before is None else self._rows_before.take(at)

    def lines(self, key: str) -> Ints:
        """Lines with a word of this key."""
        return self.by.get(key, NO_WORDS).line

    def lines_of(self, key: str, *values: float) -> Ints:
        """Lines whose word of this key has one of these values."""
        if key not in self.by:
            return NO_WORDS.line
        line, value = self.by[key]
        return line[np.logical_or.reduce([value == each for each in values])]

    def numbers(self, key: str, lines: Ints) -> Floats:
        """The number of a word at some lines; NaN where a line has none."""
        found = np.full(len(lines), np.nan)
        if key in self.by and len(lines):
            line, value = self.by[key]
            at = line.searchsorted(lines)
            own = line.take(at, mode="clip") == lines
            found[own] = value[at[own]]
        return found

    def number(self, key: str, line: int) -> float:
        """The same at one line."""
        return float(self.numbers(key, np.array([line]))[0])

    def changing(self, key: str, now: float) -> Column | None:
        """The words of a mode; None where they leave it as it is `now`."""
        column = self.by.get(key)
        return None if column is None or (column.value == now).all() else column

    def mode(self, key: str, now: float) -> Floats:
        """A mode at each row, `now` before its first word."""
        column = self.changing(key, now)
        if column is None:
            return np.full(self.count, now)
        return held(self.rows_from(column.line), column.value, now, self.count)

    def at_lines(self, key: str, now: float, lines: Ints) -> Floats:
        """A mode at some lines."""
        column = self.changing(key, now)
        if column is None:
            return np.full(len(lines), now)
        values = np.concatenate(([now], column.value))
        return values.take(column.line.searchsorted(lines, side="right"))

    def mm(self, column: Column) -> Floats:
        """A column's numbers as lengths in mm."""
        unit = self.state.mm_per_unit
        if self.changing("units", unit) is not None:
            return column.value * self.at_lines("units", unit, column.line)
        return column.value if unit == 1 else column.value * unit

    def own(self, key: str) -> tuple[Ints, Floats]:
        """Rows that have a word of this key on their own line, and its numbers."""
        line, value = self.by.get(key, NO_WORDS)
        mine = self.has(self.has_row, line)
        return self.rows_from(line[mine]), value[mine]

    @cached_property
    def unit(self) -> Floats:
        """Millimetres of the unit at each row."""
        return self.mode("units", self.state.mm_per_unit)

    @cached_property
    def plane(self) -> Ints:
        """The plane at each row."""
        return self.mode("plane", self.state.plane).astype(np.int64)

    @cached_property
    def absolute(self) -> Flags:
        """Whether numbers are places at each row."""
        flags: Flags = self.mode("distance", self.state.absolute) != 0
        return flags

    @property
    def all_places(self) -> bool:
        """Whether all numbers are places."""
        return self.state.absolute and self.changing("distance", True) is None

    @cached_property
    def _least_and_most(self) -> tuple[float, float]:
        return float(self.motion.min(initial=0)), float(self.motion.max(initial=0))

    @property
    def all_move(self) -> bool:
        """Whether a motion word is in force at all rows."""
        return self._least_and_most[0] >= 0

    @property
    def turns(self) -> bool:
        """Whether some rows are arcs."""
        return self._least_and_most[1] > 1 and bool(self.is_arc.any())

    @property
    def drills(self) -> bool:
        """Whether some rows are canned cycles."""
        return self._least_and_most[1] > 3

    @cached_property
    def is_arc(self) -> Flags:
        """Rows that are arcs."""
        flags: Flags = (self.motion == 2) | (self.motion == 3)
        return flags

    @cached_property
    def is_cycle(self) -> Flags:
        """Rows that are canned cycles."""
        flags: Flags = self.motion > 3
        return flags

    @cached_property
    def third(self) -> Ints:
        """The third axis of the plane at each row: the depth of cycles."""
        axes: Ints = THIRD_AXIS.take(self.plane)
        return axes

    @cached_property
    def to_r(self) -> Flags:
        """Whether cycles retract to R at each row."""
        flags: Flags = self.mode("retract", self.state.retract_to_r) != 0
        return flags

    @cached_property
    def r_words(self) -> Column:
        """Rows and numbers of the R words of cycles."""
        rows, value = self.own("R")
        mine = self.is_cycle[rows]
        return Column(rows[mine], value[mine])

    @cached_property
    def depth_words(self) -> Column:
        """Rows and numbers of the words of cycles for the third axis of their plane."""
        found = []
        for axis, word in enumerate("XYZ"):
            rows, value = self.own(word)
            mine = self.is_cycle[rows] & (self.third[rows] == axis)
            found.append((rows[mine], value[mine]))
        rows, value = (np.concatenate(each) for each in zip(*found, strict=True))
        order = rows.argsort(kind="stable")
        return Column(rows[order], value[order])

    def at_rows(self, rows: Flags, lines: Ints) -> Flags:
        """A flag of each row, at some lines; False where a line is no row."""
        found = self.has(self.has_row, lines)
        if self.count:
            found &= rows.take(self.rows_from(lines), mode="clip")
        return found

    def begins(self, rows: Flags) -> Ints:
        """Lines of some rows at which another motion begins than was in force before."""
        line, value = self.by.get("motion", NO_WORDS)
        new = line[value != np.concatenate(([self.state.motion], value[:-1]))]
        begins: Ints = new[self.at_rows(rows, new)]
        return begins
