"""What reading a program against a station gave: plain values that are told and drawn."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from pincorner.geometry.pose import XY
from pincorner.program.check.reaches import ToolSize
from pincorner.program.path.extents import Extent
from pincorner.units import Unit


class ToolUse(NamedTuple):
    """A tool of the program and how far it reaches; `number` None: before any tool is named."""

    number: int | None
    size: ToolSize
    extent: Extent


_STAMPED_ANEW = frozenset({"offset-stale", "offset-differs", "no-offset"})
"""Codes of findings that go once a program is stamped for where it runs."""


class CheckFinding(NamedTuple):
    """A code that scripts know, the worst line, and what is wrong there, with its figure.

    `lines`: how many lines it concerns. `place_mm`: where on the bed, None where it is nowhere.
    `station`: at which it was found, where the program was read against several. `unstamped`: it
    goes with stamping, though others of its code do not.
    """

    code: str
    line: int
    what: str
    lines: int = 1
    figure_mm: float | None = None
    place_mm: XY | None = None
    station: str = ""
    unstamped: bool = False

    @property
    def goes_with_stamping(self) -> bool:
        """Whether it goes once the program is stamped for where it runs."""
        return self.unstamped or self.code in _STAMPED_ANEW

    @property
    def text(self) -> str:
        """The whole sentence: at which station, in which line, what."""
        whose = f"station {self.station}: " if self.station else ""
        return f"{whose}line {self.line}: {self.what}"


class InTheWay(str):
    """A sentence on a way that was not looked at and may meet what stands there, which it names."""

    __slots__ = ()


class AsPoint(InTheWay):
    """A sentence on a cutter that counted as a point, since nobody said how thick it is."""

    __slots__ = ()


def in_the_way(not_checked: Iterable[str]) -> list[str]:
    """Those sentences on what was not looked at that name what a way may meet, or a cutter that
    counted as a point, in their order."""
    return [each for each in not_checked if isinstance(each, InTheWay)]


def foremost_first(not_checked: Iterable[str]) -> tuple[str, ...]:
    """Sentences on what was not looked at, each once: first those that name what stands there."""
    once = dict.fromkeys(not_checked)
    return tuple(sorted(once, key=lambda each: not isinstance(each, InTheWay)))


class Report(NamedTuple):
    """The outcome for one program at one nest of a station.

    `unit`: in which its sentences tell lengths, and the reports theirs. `margin_mm`: how near
    cutter and nose may come; None where it is not known how well the zero is, and none counts.
    `verdict`: nothing-found, findings or not-fully-read. Findings come in order of line. `units`:
    as the program states them, by first use. `extent`: of all motion; `cutting_extent`: of feeds
    and arcs alone. `work_offsets`: the codes in use and their extents.
    `looked_at`: what it was held against, in words; `not_checked`: sentences on what is not
    modelled, not given or not known, first those `in_the_way`.
    """

    program: str
    station: str
    nest: str
    fingerprint: str
    unit: Unit
    margin_mm: float | None
    verdict: str
    findings: tuple[CheckFinding, ...]
    extent: Extent
    cutting_extent: Extent
    lines: int
    units: tuple[str, ...]
    work_offsets: tuple[tuple[str, Extent], ...]
    tools: tuple[ToolUse, ...]
    looked_at: str
    not_checked: tuple[str, ...]
