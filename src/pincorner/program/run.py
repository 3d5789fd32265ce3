"""The words of a run of plain lines, row by row: which lines move, and what holds at each.

A *row* is a line with an axis word. A mode's value holds from its word to the next one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pincorner.program.modes import DISTANCE, MOTION, UNITS
from pincorner.program.motions import Floats, Ints
from pincorner.program.state import State
from pincorner.program.words import Column, Words

Flags = NDArray[np.bool_]
Each = Floats | float
"""A value for each row, or one for all."""


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


class Run:
    """Words of the lines `first` to `last` - 1 of a piece, and the modes at its rows.

    `by` has those letters and modal groups that occur. `line`: of each row, in the piece. `motion`:
    (rows,) numbers of the G words. Lines that turn out not to be plain are put down by `refuse`.
    """

    def __init__(self, words: Words, first: int, last: int, state: State) -> None:
        self.by = words.between(first, last)
        self.first = first
        self.has_row = np.zeros(last - first, np.bool_)
        self._rows_before: Ints | None = None  # each line's; None where every line is a row
        axes = [self.by[letter].line for letter in "XYZ" if letter in self.by]
        if any(len(line) == last - first for line in axes):
            self.has_row[:] = True
            self.line = np.arange(first, last)
        else:
            for line in axes:
                self.has_row[line - first] = True
            self.line = np.flatnonzero(self.has_row) + first
            self._rows_before = np.cumsum(self.has_row) - self.has_row
        self.count = len(self.line)
        self._state = state
        self._refused: list[Ints] = []

    @property
    def motion(self) -> Floats:
        """Number of the motion word at each row."""
        return self.mode(MOTION, self._state.motion)

    def rows_of(self, column: Column) -> Ints:
        """The first row at or behind each word."""
        line = column.line - self.first
        return line if self._rows_before is None else self._rows_before.take(line)

    def mode(self, key: int, now: float) -> Floats:
        """A mode at each row, `now` before its first word."""
        column = self.by.get(key)
        if column is None:
            return np.full(self.count, now)
        return held(self.rows_of(column), column.value, now, self.count)

    def at_words(self, key: int, now: float, column: Column) -> Each:
        """A mode at each word of a column; a line's own mode word holds for the whole line."""
        modes = self.by.get(key)
        if modes is None:
            return now
        values = np.concatenate(([now], modes.value))
        return values.take(modes.line.searchsorted(column.line, side="right"))

    def mm(self, column: Column) -> Floats:
        """A column's numbers as lengths in mm."""
        unit = self.at_words(UNITS, self._state.mm_per_unit, column)
        return column.value if isinstance(unit, float) and unit == 1 else column.value * unit

    @property
    def all_places(self) -> bool:
        """Whether all numbers of the run are places."""
        return self._state.absolute and DISTANCE not in self.by

    def is_place(self, column: Column) -> Flags:
        """Which numbers of an axis are places (G90); the others are increments."""
        absolute = self.at_words(DISTANCE, self._state.absolute, column)
        return np.full(len(column.line), absolute).astype(np.bool_)

    def unit_at(self, rows: Ints) -> Each:
        """Millimetres of the unit in force at some rows."""
        if UNITS not in self.by:
            return self._state.mm_per_unit
        return self.mode(UNITS, self._state.mm_per_unit).take(rows)

    def own(self, letter: str, wanted: Flags) -> tuple[Ints, Floats]:
        """Rows of a letter's words, and their numbers; lines are refused where it is not `wanted`
        or that are no rows."""
        column = self.by.get(letter)
        if column is None:
            return np.empty(0, np.int64), np.empty(0)
        rows, fits = self.rows_of(column), self.has_row.take(column.line - self.first)
        if self.count:
            fits &= wanted.take(rows, mode="clip")
        if not fits.all():
            self.refuse(column.line[~fits])
        return rows[fits], column.value[fits]

    def refuse(self, lines: Ints) -> None:
        """These lines are not plain."""
        if lines.size:
            self._refused.append(lines)

    def refuse_first(self, rows: Flags) -> None:
        """The line of the first of these rows is not plain; `rows` may stop short of the last."""
        if rows.any():
            self.refuse(self.line[rows.argmax() :][:1])

    def refuse_rows(self, rows: Flags) -> None:
        """The lines of these rows are not plain."""
        self.refuse(self.line[rows])

    def refused(self) -> Ints | None:
        """All lines that were refused, if there are any."""
        return np.concatenate(self._refused) if self._refused else None
