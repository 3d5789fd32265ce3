"""What reading a program against a station gave: plain values that are told and drawn."""

from __future__ import annotations

import math
from typing import NamedTuple

from pincorner.geometry.pose import XY
from pincorner.units import Unit

Span = tuple[float, float] | None
"""Lowest and highest value along an axis; None where nothing is known."""


class Extent(NamedTuple):
    """How far motions reach, in mm of the program's coordinates."""

    x: Span
    y: Span
    z: Span

    @classmethod
    def of(cls, low_mm: tuple[float, ...], high_mm: tuple[float, ...]) -> Extent:
        """From the lowest and the highest X, Y, Z; not finite where not known."""
        spans: list[Span] = [
            (low, high) if math.isfinite(low) and math.isfinite(high) else None
            for low, high in zip(low_mm, high_mm, strict=True)
        ]
        return cls(*spans)


class ToolSize(NamedTuple):
    """What is known of a cutter; None: not given."""

    diameter_mm: float | None = None
    stickout_mm: float | None = None


class ToolUse(NamedTuple):
    """A tool of the program and how far it reaches; `number` None: before any tool is named."""

    number: int | None
    size: ToolSize
    extent: Extent


class CheckFinding(NamedTuple):
    """A code that scripts know, the worst line, and what is wrong there, with its figure.

    `lines`: how many lines it concerns. `place_mm`: where on the bed, None where it is nowhere.
    `station`: at which it was found, where the program was read against several.
    """

    code: str
    line: int
    what: str
    lines: int = 1
    figure_mm: float | None = None
    place_mm: XY | None = None
    station: str = ""

    @property
    def text(self) -> str:
        """The whole sentence: at which station, in which line, what."""
        whose = f"station {self.station}: " if self.station else ""
        return f"{whose}line {self.line}: {self.what}"


class PathLines(NamedTuple):
    """The path of a program as straight lines on the bed, in no order: feeds, and rapids."""

    cuts: tuple[tuple[XY, XY], ...]
    rapids: tuple[tuple[XY, XY], ...]


class Report(NamedTuple):
    """The outcome for one program at one nest of a station.

    `unit`: in which its sentences tell lengths, and the reports theirs.
    `verdict`: nothing-found, findings or not-fully-read. Findings come in order of line. `units`:
    as the program states them, by first use. `extent`: of all motion; `cutting_extent`: of feeds
    and arcs alone. `work_offsets`: the codes in use and their extents.
    `not_checked`: sentences on what is not modelled, not given or not known.
    """

    program: str
    station: str
    nest: str
    fingerprint: str
    unit: Unit
    margin_mm: float
    verdict: str
    findings: tuple[CheckFinding, ...]
    extent: Extent
    cutting_extent: Extent
    lines: int
    units: tuple[str, ...]
    work_offsets: tuple[tuple[str, Extent], ...]
    tools: tuple[ToolUse, ...]
    not_checked: tuple[str, ...]
