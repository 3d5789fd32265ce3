"""What is seen of the motions besides their clearance: the first ones, and those not known."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from pincorner.program.boxes import Boxes
from pincorner.program.motions import NO_TOOL, RAPID, Motions
from pincorner.program.sections import Section
from pincorner.setups.checked import CheckFinding
from pincorner.setups.setup import Setup
from pincorner.units import Unit, figure, told


class MovesSeen:
    """Collects, over the pieces of a program, how it begins and what of it is not known."""

    def __init__(self, setup: Setup) -> None:
        heights = setup.heights
        self._top_mm = heights.stock_top_mm - heights.zero_mm
        self._wants_lengths = setup.facts.station.z.set == "machine"
        self._first: tuple[int, list[float]] | None = None
        self.sideways: tuple[int, float] | None = None
        """Line and Z of the first motion that goes sideways, from a place that is not known."""
        self.unknown: list[int] = []
        """First of the lines behind that which go through places that are not known."""
        self.unknown_count = 0
        self._without_length: dict[int, tuple[int, int]] = {}
        self._last_tool: int | None = None
        self.new_tools: list[tuple[int, int]] = []
        """Tools that came into the spindle after others, and the line in which each first cuts."""

    def take(self, section: Section) -> None:
        """Look at a section of the program."""
        motions = section.motions
        if self._first is None:
            self._first = int(motions.line[0]), motions.end[0].tolist()
        self._find_unknown(motions, section.boxes)
        if self._wants_lengths:
            self._find_lengths(section)

    def findings(self, unit: Unit) -> Iterator[CheckFinding]:
        """Findings of the contract, told in a unit."""
        if self._first is not None:
            yield from self._low_first_move(*self._first, unit)
        for tool, (line, lines) in self._without_length.items():
            who = "the program" if tool == NO_TOOL else f"tool {tool}"
            text = f"line {line}: {who} cuts without its length applied (G43)"
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
            below = told(self._top_mm - z, unit)
            what = f"to {to}, {below} below the top of the stock: go up first"
        else:
            return
        yield CheckFinding("low-first-move", line, f"line {line}: the first move goes {what}")

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
