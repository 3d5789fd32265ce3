"""What is seen of the motions besides their clearance: the first ones, and those not known."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from pincorner.geometry.outline import TOUCH_MM
from pincorner.program.check.result import CheckFinding
from pincorner.program.check.surroundings import ROUNDING_MM, Obstacle, tallest_of
from pincorner.program.path.boxes import Boxes, Section
from pincorner.program.reader.motions import NO_TOOL, RAPID, Motions
from pincorner.program.reader.summary import Summary
from pincorner.setups.setup import Setup
from pincorner.units import Unit, figure, told_down, told_up

_LOST_KEPT = 1000
"""Lines at heights that are not known: enough for the first that is too low."""

_CHANGES_KEPT = 100
"""Tool changes whose way is looked at."""


class _Away(NamedTuple):
    """The lowest of the rapids to places that are not known: its line, and its Z."""

    line: int
    z_mm: float


class Change(NamedTuple):
    """Another tool comes in: the line of the first motion with it, and between which places of the
    tip (X, Y, Z) the spindle is away for it."""

    line: int
    left: tuple[float, ...]
    back: tuple[float, ...]


class MovesSeen:
    """Collects, over the pieces of a program, how it begins and what of it is not known."""

    def __init__(self, setup: Setup) -> None:
        heights = setup.heights
        self._top_mm = heights.stock_top_in_program_mm
        self._zero_mm = heights.zero_mm
        self._surface_mm = heights.surface_mm if setup.facts.machine.homes else None
        self._wants_lengths = setup.facts.station.z.set == "machine"
        self._first: tuple[int, list[float]] | None = None
        self.sideways: tuple[int, float] | None = None
        """Line and Z of the first motion that goes sideways, from a place that is not known."""
        self.unknown: list[int] = []
        """First of the lines behind that which go through places that are not known."""
        self.unknown_count = 0
        self._away: _Away | None = None
        self._away_lost: list[int] = []
        self._reaches_stock, self._last_line = False, 0
        self._without_length: dict[int, tuple[int, int]] = {}
        self._last_tool: int | None = None
        self.new_tools: list[tuple[int, int]] = []
        """Tools that came into the spindle after others, and the line in which each first cuts."""

        self.changes: list[Change] = []
        """First of the tool changes, but for one before any place is known."""
        self.change_count = 0
        self._tool: int | None = None

    def take(self, section: Section, nest: Setup) -> None:
        """Look at a section of the program, which runs in a nest of the station."""
        motions = section.motions
        if self._first is None:
            self._first = int(motions.line[0]), motions.end[0].tolist()
        if self.sideways is None or np.isnan(motions.end.sum() + motions.start[0].sum()):
            self._find_unknown(motions, section.boxes)
            self._find_away(motions)
        self._find_change(motions, section.tool)
        top_mm = nest.heights.stock_top_mm - self._zero_mm
        low_z = section.boxes.around()[0][2]
        self._reaches_stock |= not low_z >= top_mm - ROUNDING_MM
        self._last_line = int(motions.line[-1])
        if self._wants_lengths:
            self._find_lengths(section)

    def findings(
        self, obstacles: Sequence[Obstacle], summary: Summary, unit: Unit
    ) -> Iterator[CheckFinding]:
        """Findings, told in a unit; `obstacles`: all that the program was held against."""
        if self._first is not None:
            yield from self._low_first_move(*self._first, unit)
            if not self._reaches_stock and not self.unknown_count:
                text = "it never goes below the top of its stock: is its zero meant elsewhere?"
                yield CheckFinding("no-cut", self._last_line, text)
        tallest = tallest_of(obstacles)
        if tallest is not None:
            yield from self._leaves_unknown(tallest, summary, unit)
        for tool, (line, lines) in self._without_length.items():
            who = "the program" if tool == NO_TOOL else f"tool {tool}"
            text = f"{who} cuts without its length applied (G43)"
            yield CheckFinding("no-tool-length", line, text, lines)

    def _low_first_move(
        self, line: int, end: Sequence[float], unit: Unit
    ) -> Iterator[CheckFinding]:
        """A first move that goes sideways, or down into the stock's height.

        One to a place that is not known on any axis is not told: so is a move to machine Z.
        """
        x, y, z = end
        named = [(axis, at) for axis, at in zip("XYZ", end, strict=True) if not math.isnan(at)]
        to = " ".join(f"{axis}{figure(at, unit)}" for axis, at in named)
        if not (math.isnan(x) and math.isnan(y)):
            what = f"sideways, to {to}, from a place that is not known: go up first"
        elif z < self._top_mm:
            below = told_up(self._top_mm - z, unit)
            what = f"to {to}, {below} below the top of the stock: go up first"
        else:
            return
        yield CheckFinding("low-first-move", line, f"the first move goes {what}")

    def _find_away(self, motions: Motions) -> None:
        """Rapids sideways to a place that is not known, and sideways at a height that is not."""
        rapid = motions.kind == RAPID
        lost = np.isnan(motions.end[:, :2]) & ~np.isnan(motions.start[:, :2])
        z = np.fmin(motions.start[:, 2], motions.end[:, 2])
        away = np.flatnonzero(rapid & lost.any(axis=1) & ~np.isnan(z))
        if away.size:
            at = away[z[away].argmin()]
            found = _Away(int(motions.line[at]), float(z[at]))
            if self._away is None or found.z_mm < self._away.z_mm:
                self._away = found
        if np.isnan(z.sum()):
            sideways = lost.any(axis=1) | (motions.end[:, :2] != motions.start[:, :2]).any(axis=1)
            no_height = np.isnan(z) & rapid & sideways & ~np.isnan(motions.start[:, :2]).any(axis=1)
            lines = np.unique(motions.line[no_height])
            self._away_lost += lines[: _LOST_KEPT - len(self._away_lost)].tolist()

    def _leaves_unknown(
        self, tallest: Obstacle, summary: Summary, unit: Unit
    ) -> Iterator[CheckFinding]:
        """Rapids to places that are not known, lower than what they may meet on the way."""
        if self._away is not None and self._away.z_mm < tallest.top_mm - TOUCH_MM:
            line, z_mm = self._away
            text = (
                f"a rapid goes sideways from Z{figure(z_mm, unit)} to a place that is not known, "
                f"{told_up(tallest.top_mm - z_mm, unit)} below the top of {tallest.name}: "
                "go up first, or give the machine's home (home_named_axes where only named axes go)"
            )
            yield CheckFinding("leaves-unknown", line, text, 1, tallest.top_mm - z_mm)
        if self._surface_mm is None:
            return
        not_read = [each.line for each in summary.remarks if each.code == "not-read"]
        for line in self._away_lost:
            word, z_mm, since = max(
                (each for each in summary.machine_z if each[2] <= line),
                key=lambda each: each[2], default=("", math.nan, 0),
            )  # fmt: skip
            gauge_mm = z_mm - self._surface_mm  # the tip is lower by the tool's length
            top_mm = tallest.top_mm + self._zero_mm
            if gauge_mm <= top_mm and not any(since <= each <= line for each in not_read):
                text = (
                    f"a rapid goes sideways with the gauge point at Z{figure(z_mm, unit)} "
                    f"({word}, line {since}), {told_down(gauge_mm, unit)} above "
                    f"the surface, not above {tallest.name} ({told_up(top_mm, unit)}): "
                    "go up first"
                )
                yield CheckFinding("leaves-unknown", line, text, 1, top_mm - gauge_mm)
                return

    def _find_unknown(self, motions: Motions, boxes: Boxes) -> None:
        """Motions that end nowhere known, but for those up to the first that goes sideways."""
        first = 0
        if self.sideways is None:
            known = np.flatnonzero(~np.isnan(motions.end[:, :2]).any(axis=1))
            if not known.size:
                return
            first = int(known[0])
            self.sideways = int(motions.line[first]), float(boxes.low[2, first])
        low = boxes.low[:, first:]
        away = np.isnan(motions.start[first:, :2]) | np.isnan(motions.end[first:, :2])
        away[0] = False  # where the first comes from is told as such
        if np.isnan(low.sum()) or away.any():
            lost = np.isnan(low).any(axis=0) | away.any(axis=1)
            lines = np.unique(motions.line[first:][lost])
            self.unknown += lines[: 3 - len(self.unknown)].tolist()
            self.unknown_count += len(lines)

    def _find_change(self, motions: Motions, tool: int) -> None:
        left, back = motions.start[0].tolist(), motions.end[0].tolist()
        before, self._tool = self._tool, tool
        if before in (None, tool) or (before == NO_TOOL and math.isnan(left[0] + left[1])):
            return
        self.change_count += 1
        if len(self.changes) < _CHANGES_KEPT:
            self.changes.append(Change(int(motions.line[0]), tuple(left), tuple(back)))

    def _find_lengths(self, section: Section) -> None:
        motions, tool = section.motions, section.tool
        cuts = motions.line[motions.kind != RAPID]
        if cuts.size:
            if self._last_tool not in (None, tool):
                self.new_tools.append((tool, int(cuts[0])))
            self._last_tool = tool
        lines = np.unique(motions.line[(motions.kind != RAPID) & ~motions.lengths])
        if lines.size:
            line, count = self._without_length.get(tool, (int(lines[0]), 0))
            self._without_length[tool] = line, count + len(lines)
