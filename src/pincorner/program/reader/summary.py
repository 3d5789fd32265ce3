"""What a reading of a program tells besides its motions."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from pincorner.program.reader.motions import Remark
from pincorner.units import Unit

REMARKS_KEPT = 20
"""Of each code; further ones are counted only."""


class Summary(NamedTuple):
    """A program as a whole; lines are numbers in the file, from 1.

    `lines`: how many the file has. `units`: (unit, line) of the first statement and of each that
    changes it. `codes`: work offsets by their first motion, "" for motions before any selection.
    `remarks`: at most REMARKS_KEPT of a code; `counts` has them all. `tools`: numbers in the order
    in which they come into the spindle. `ended`: the line at which the program ends before its
    file does (M2, M30 or the second %), else None; `end_word` which of them. `stops`: lines of M0,
    M1 and M60. `selections`: (work offset, line) of each selection. `tool_changes`: (tool, line)
    of each M6. `machine_z`: (word, machine Z in mm,
    line) of each G53, G28 and G30 that moves Z; NaN where home is not known. `lengths_on`: lines of
    G43. `unturned_from`: the G69 in the body behind which it moves on.
    `first_increment`: the first motion, if it steps by G91 from a place that is not known.
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

    def remark_once(self, code: str, line: int, text: str) -> None:
        """A remark that is made at its first occasion only."""
        if code not in self.counts:
            self.remark(code, line, text)

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
