"""Where a program's cuts first go into the stock: what can be seen, and so begins a window."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.documents.records import Program
from pincorner.geometry.outline import TOUCH_MM, Box, bounds
from pincorner.geometry.pose import Pose
from pincorner.program.check.checks import tools_of
from pincorner.program.check.reaches import ToolSize, reaches_of, size_of
from pincorner.program.reader.motions import Floats, Ints
from pincorner.runs.axis import Axis, halves_of, places_on, turned
from pincorner.setups.setup import Setup

STEP_MM = 0.05
"""A motion is looked at so often: one that is in the stock for less cuts nothing that is seen."""

_MOST_STEPS = 8192
_FIRST_LOOK, _LOOK_AHEAD = 1 << 13, 1 << 17
"""Places that are looked at together."""

_HALVINGS = 30


class Stock(NamedTuple):
    """A nest's stock: a box along the nest's own axes, and its top in the program's Z.

    `from_machine`: the machine's frame in the nest.
    """

    from_machine: Pose
    box: Box
    top_mm: float


class Entry(NamedTuple):
    """A motion that goes into the stock: its row, and what of it lies before and behind that, each
    as a piece of one motion; `air` is None where it begins in the stock. `is_sized`: whether the
    diameter of its tool is given; else its edge is seen to go in somewhere in `air`."""

    row: int
    air: Axis | None
    cut: Axis
    is_sized: bool = True


class Stocks(NamedTuple):
    """The stock of a station's nests, and the tools that cut it.

    A tool is in the stock while its tip is below the top and its edge, or its axis where the
    diameter is not given, over the outline. Never too early: what is told to last from there on
    must not count the way through the air.
    """

    stocks: tuple[Stock, ...]
    tools: Mapping[int, ToolSize]

    def first_in(self, axis: Axis, first: int, stop: int) -> Entry | None:
        """Where the first of the cuts `first` to `stop` - 1 that goes into the stock does so."""
        top_mm = max((each.top_mm for each in self.stocks), default=-np.inf)
        low = axis.cuts[first:stop] & (axis.low_z[first:stop] < top_mm)
        rows, many = first + np.flatnonzero(low), _FIRST_LOOK
        rows = rows[self._may_meet(axis, rows)] if rows.size else rows
        while rows.size:
            steps = np.nan_to_num(np.ceil(axis.lengths[rows[:many]] / STEP_MM), nan=1.0)
            steps = steps.clip(1, _MOST_STEPS).astype(np.int64)
            some = max(int(np.cumsum(steps).searchsorted(many)), 1)
            found = self._first_of(axis, rows[:some], steps[:some])
            if found is not None:
                return found
            rows, many = rows[some:], _LOOK_AHEAD
        return None

    def _may_meet(self, axis: Axis, rows: Ints) -> NDArray[np.bool_]:
        """Whether the boxes of motions meet that of a stock, grown by the largest tool."""
        widest = max((size.diameter_mm or 0.0 for size in self.tools.values()), default=0.0)
        found = np.zeros(len(rows), np.bool_)
        for stock in self.stocks:
            corners = stock.from_machine.inverse().points(stock.box.outline)
            left, front, right, back = bounds(corners).grown(widest / 2 + TOUCH_MM)
            x, y = axis.low[rows].T
            meets = (x < right) & (y < back)
            x, y = axis.high[rows].T
            found |= meets & (x > left) & (y > front)
        return found

    @classmethod
    def of(cls, setup: Setup, nests: Sequence[Setup], program: Program | None) -> Stocks:
        """The stock of nests that a program, read in the frame of one of them, may cut."""
        stocks = [
            Stock(
                (nest.bed_in_machine @ nest.nest_in_bed).inverse(),
                bounds(nest.nest.stock.outline),
                nest.heights.stock_top_mm - setup.heights.zero_mm,
            )
            for nest in nests
        ]
        return cls(tuple(stocks), tools_of(program, {}))

    def _first_of(self, axis: Axis, rows: Ints, counts: Ints) -> Entry | None:
        """The same for some motions, each in so many steps."""
        of, behind = np.repeat(np.arange(len(rows)), counts + 1), np.cumsum(counts + 1)
        shares = (np.arange(len(of)) - (behind - counts - 1)[of]) / counts[of]
        inside = self._holds(axis, rows[of], shares)
        if not inside.any():
            return None
        at = int(inside.argmax())
        row, share = int(rows[of[at]]), float(shares[at])
        if share > 0:
            share = self._sharpened(axis, row, share - 1 / int(counts[of[at]]), share)
        air, cut = halves_of(axis, row, share)
        is_sized = size_of(self.tools, int(axis.motions.tool[row])).diameter_mm is not None
        return Entry(row, air if share > 0 else None, cut, is_sized)

    def _sharpened(self, axis: Axis, row: int, outside: float, inside: float) -> float:
        """The share of a motion at which it goes in, between one before that and one behind."""
        rows = np.array([row])
        for _ in range(_HALVINGS):
            middle = (outside + inside) / 2
            if self._holds(axis, rows, np.array([middle]))[0]:
                inside = middle
            else:
                outside = middle
        return outside  # the same but for rounding, so that a cut from the top on is whole

    def _holds(self, axis: Axis, rows: Ints, shares: Floats) -> NDArray[np.bool_]:
        """(k,): whether the tool is in a stock, at shares of motions."""
        places = places_on(axis, rows, shares)
        numbers, index = np.unique(axis.motions.tool[rows], return_inverse=True)
        sizes = (size_of(self.tools, number) for number in numbers.tolist())
        radius = np.array([reaches_of(size, None).cutter.radius_mm for size in sizes])[index]
        found = np.zeros(len(rows), np.bool_)
        for stock in self.stocks:
            x, y = turned(places[:, :2], stock.from_machine).T
            left, front, right, back = stock.box
            beside = np.maximum(np.maximum(left - x, x - right), 0.0)
            behind = np.maximum(np.maximum(front - y, y - back), 0.0)
            found |= (places[:, 2] < stock.top_mm) & (np.hypot(beside, behind) < radius)
        return found
