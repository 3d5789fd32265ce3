"""Motions of a program as columns: what the reader tells and clearance, extents and times need.

Lengths in mm, in the *frame of the program*: the coordinates of the station's work offset with its
axes as the controller has them. A place that is not known on an axis is NaN there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

RAPID, FEED, ARC = 0, 1, 2
"""Kinds: a rapid (it need not be straight), a straight cut, an arc or helix."""

AXES_OF_PLANE = ((0, 1, 2), (2, 0, 1), (1, 2, 0))
"""First, second and third axis (0 X, 1 Y, 2 Z) of G17, G18 and G19 (RS274/NGC, 3.5.3)."""

NO_TOOL = -1


class Arcs(NamedTuple):
    """What motions of kind ARC have besides the others, m rows.

    `plane` indexes AXES_OF_PLANE. `centre` (m, 2) lies on the plane's first and second axis.
    `sweep_rad` is signed: positive from the first axis towards the second; a full turn is 2 pi. The
    third axis moves evenly with the angle.
    """

    plane: Ints
    centre: Floats
    sweep_rad: Floats


class Motions(NamedTuple):
    """The motions of a piece of a program, in order; n rows. `rows` is the one way to cut them.

    `line`: number in the file, from 1. `start`, `end`: (n, 3). `feed`: mm/min, NaN for rapids and
    where none was stated. `tool`: the tool in the spindle, NO_TOOL before any M6 (or T, where the
    program never says M6). `code`: index into `Summary.codes` of the work offset in use.
    `lengths`: whether a tool length is applied (G43). `plane`, `centre` (n, 2), `sweep_rad`: as in
    Arcs; 0 and NaN where a motion is no arc.
    """

    line: Ints
    kind: Ints
    start: Floats
    end: Floats
    feed: Floats
    tool: Ints
    code: Ints
    lengths: NDArray[np.bool_]
    plane: Ints
    centre: Floats
    sweep_rad: Floats

    def rows(self, which: slice | Ints | NDArray[np.bool_]) -> Motions:
        """Some of the motions: by a slice, by indices, or by a flag for each."""
        return Motions._make(column[which] for column in self)

    def with_lines(self, told_as: Callable[[int], int]) -> Motions:
        """The same with other numbers for their lines, which stay in their order."""
        return self._replace(line=np.array([*map(told_as, self.line.tolist())], np.int64))

    @property
    def is_arc(self) -> NDArray[np.bool_]:
        """Which are arcs or helices."""
        flags: NDArray[np.bool_] = self.kind == ARC
        return flags


def moves_sideways(start: Floats, end: Floats) -> NDArray[np.bool_]:
    """Which motions go sideways, or to a place that is not known on X or Y from one that is."""
    lost = np.isnan(end[:, :2]) & ~np.isnan(start[:, :2])
    moved = (end[:, :2] != start[:, :2]) & ~np.isnan(end[:, :2])
    found: NDArray[np.bool_] = (lost | moved).any(axis=1)
    return found


def lengths_mm(motions: Motions) -> Floats:
    """Length of each motion's path; NaN where an end is not known. A helix by Pythagoras."""
    way = motions.end - motions.start
    lengths: Floats = np.sqrt(np.einsum("ij,ij->i", way, way))
    rows = np.flatnonzero(motions.is_arc)
    arcs, at = motions.rows(rows), np.arange(len(rows))
    axes = np.array(AXES_OF_PLANE)[arcs.plane]
    radius = np.hypot(*(arcs.start[at, axes[:, i]] - arcs.centre[:, i] for i in (0, 1)))
    climb = arcs.end[at, axes[:, 2]] - arcs.start[at, axes[:, 2]]
    lengths[rows] = np.hypot(radius * arcs.sweep_rad, climb)
    return lengths


def seconds_of(motions: Motions, lengths: Floats) -> Floats:
    """Time of each motion at its stated feed, 0 for rapids and where feed or place is not known.

    `lengths`: of `lengths_mm`.
    """
    cuts = (motions.kind == FEED) | (motions.kind == ARC)
    with np.errstate(invalid="ignore", divide="ignore"):
        seconds = lengths / motions.feed * 60.0
    found: Floats = np.where(cuts & np.isfinite(seconds), seconds, 0.0)
    return found


def joined(pieces: Sequence[Motions]) -> Motions:
    """Pieces in a row as one."""
    if len(pieces) == 1:
        return pieces[0]
    return Motions._make(map(np.concatenate, zip(*pieces, strict=True)))


def beside(kind: Ints, arcs: Arcs | None) -> Arcs:
    """The columns of Motions from those of its arcs; None: there are none.

    Short pieces without arcs are many, and share theirs, which nobody may write into.
    """
    count = len(kind)
    if arcs is None and count <= len(_STRAIGHT.plane):
        return Arcs._make(column[:count] for column in _STRAIGHT)
    found = _no_arcs(count)
    if arcs is not None:
        rows = np.flatnonzero(kind == ARC)
        found.plane[rows], found.centre[rows], found.sweep_rad[rows] = arcs
    return found


def _no_arcs(count: int) -> Arcs:
    return Arcs(np.zeros(count, np.int64), np.full((count, 2), np.nan), np.full(count, np.nan))


_STRAIGHT = _no_arcs(1 << 14)
_STRAIGHT.plane.flags.writeable = False
_STRAIGHT.centre.flags.writeable = False
_STRAIGHT.sweep_rad.flags.writeable = False


class Frame(NamedTuple):
    """Where the program runs, as far as the reader must know it.

    `code`: the station's work offset. `origins_mm`: for every code whose origin is known, its
    origin in the frame of the program (its own: zeros); motions under another code are told as if
    it were the station's. `machine_origin_mm`: where machine zero lies in the frame, NaN on an axis
    not known; `machine_angle_rad`: how machine axes are turned there (the written rotation, taken
    back). `homes_mm`: machine coordinates of where G28 and G30 go, by those words; left out where
    they are not known. `home_named_axes`: whether they move only the axes that their line names.
    `units`: what the controller starts in. `harmless`: words that are read over (`G91.1`).
    `expressions`: whether the controller takes parameters and expressions. `rotated`: whether the
    block leaves a rotation on: a program without a block of its own then runs behind that block.
    """

    code: str | None
    origins_mm: dict[str, tuple[float, float, float]]
    machine_origin_mm: tuple[float, float, float]
    machine_angle_rad: float
    homes_mm: Mapping[str, tuple[float, float, float]]
    units: str
    home_named_axes: bool = False
    harmless: frozenset[str] = frozenset()
    expressions: bool = False
    rotated: bool = False


class Remark(NamedTuple):
    """Something the reader noticed: a code that scripts know, a line, and what stands there."""

    code: str
    line: int
    what: str

    @property
    def text(self) -> str:
        """The whole sentence."""
        return f"line {self.line}: {self.what}"
