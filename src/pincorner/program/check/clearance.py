"""Clearance of a program's motions from obstacles and fences, piece by piece."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.outline import TOUCH_MM
from pincorner.program.check.fences import Ceiling, Fence
from pincorner.program.check.reaches import Reach, Reaches
from pincorner.program.check.strokes import (
    Edges,
    Strokes,
    edges_of,
    joined,
    point_in_rapids,
    strokes_of,
    to_outline,
    to_point,
)
from pincorner.program.check.surroundings import ROUNDING_MM, Disc, Obstacle
from pincorner.program.path.boxes import Rapids, Section, known_ends
from pincorner.program.reader.motions import RAPID, Floats, Ints, Motions

CUTTER, NOSE = "cutter", "nose"

_ROWS_AT_ONCE, _ARCS_AT_ONCE = 8192, 256
"""Motions that are cut into strokes together, so that memory stays flat: a full circle of
1 m in diameter makes 2,200."""


class Key(NamedTuple):
    """What a finding is about: an obstacle or fence by code and name, a tool, and what of it."""

    code: str
    name: str
    tool: int
    part: str


Thing = Obstacle | Fence | Ceiling


class Worst(NamedTuple):
    """The worst of what one tool does to one thing, and on how many lines.

    `gap_mm`: between the tool's edge and the obstacle, negative where it goes in; for a fence how
    far it stays within, negative beyond. `path_mm`: the stroke, (2, 3), as far as it is below the
    thing's top; `z_mm` its lowest Z.
    """

    thing: Thing
    gap_mm: float
    z_mm: float
    line: int
    kind: int
    path_mm: Floats
    lines: int


class _Near(NamedTuple):
    """For each motion that comes too near to a thing its worst stroke, and the gap there."""

    thing: Thing
    strokes: Strokes
    gap: Floats


class Clearance:
    """Keeps the worst of each tool at each obstacle and fence over all pieces of a program."""

    def __init__(
        self,
        obstacles: Sequence[Obstacle],
        fences: Sequence[Fence],
        ceiling: Ceiling | None,
        rapids: Rapids,
    ) -> None:
        self.worst: dict[Key, Worst] = {}
        self._fences, self._ceiling, self._rapids = tuple(fences), ceiling, rapids
        self._obstacles = [
            (each, None if isinstance(each.shape, Disc) else edges_of(each.shape))
            for each in obstacles
        ]
        self._bounds = np.array([each.box for each in obstacles]).reshape(-1, 4).T
        self._tops = np.array([each.top_mm for each in obstacles])
        self._near = np.array([each.near_mm for each in obstacles])

    def take(self, section: Section, reaches: Reaches) -> None:
        """Look at a section of the program, whose tool has these reaches."""
        found = [(key, near) for key, near in self._all_near(section, reaches) if near.gap.size]
        for key in dict.fromkeys(key for key, _ in found):
            self._record(key, section.motions, [near for other, near in found if other == key])

    def _all_near(self, section: Section, reaches: Reaches) -> Iterator[tuple[Key, _Near]]:
        """What comes too near to what."""
        tool = section.tool
        for part, reach in ((CUTTER, reaches.cutter), (NOSE, reaches.nose)):
            if reach is not None:
                for obstacle, edges in self._candidates(section, reach, part):
                    for near in self._too_near(obstacle, edges, section, reach):
                        yield Key(obstacle.code, obstacle.name, tool, part), near
        for fence in self._fences:
            for near in self._beyond(fence, section, reaches.cutter.radius_mm):
                yield Key(fence.code, fence.name, tool, CUTTER), near
        if self._ceiling is not None:
            near = _too_high(self._ceiling, section, reaches.stickout_mm)
            yield Key(self._ceiling.code, self._ceiling.name, tool, NOSE), near

    def _candidates(
        self, section: Section, reach: Reach, part: str
    ) -> Iterator[tuple[Obstacle, Edges | None]]:
        """Obstacles that the box around all motions comes near."""
        low, high = section.boxes.around()
        left, front, right, back = self._bounds
        far = reach.radius_mm + self._near
        meets = (
            (low[2] + reach.lift_mm < self._tops)
            & (low[0] < right + far)
            & (high[0] > left - far)
            & (low[1] < back + far)
            & (high[1] > front - far)
        )
        for at in np.flatnonzero(meets):
            parts = self._obstacles[at][0].parts
            if parts.cutter if part == CUTTER else parts.nose:
                yield self._obstacles[at]

    def _too_near(
        self, obstacle: Obstacle, edges: Edges | None, section: Section, reach: Reach
    ) -> Iterator[_Near]:
        motions, shape, top_mm = section.motions, obstacle.shape, obstacle.top_mm - reach.lift_mm
        around = obstacle.box.grown(reach.radius_mm + obstacle.near_mm)
        inner = shape.centre_mm if isinstance(shape, Disc) else shape[0][0]
        for rows in _some(motions, section.boxes.meeting(around, top_mm)):
            strokes = joined(
                strokes_of(motions, rows, self._rapids),
                point_in_rapids(motions, rows, self._rapids, inner),
            )
            strokes = strokes.below(top_mm).meeting(around)
            if isinstance(shape, Disc):
                centre = np.array(shape.centre_mm)
                away = to_point(strokes.start, strokes.end, centre) - shape.radius_mm
            else:
                assert edges is not None
                away = to_outline(strokes.start, strokes.end, edges)
            gap = away - reach.radius_mm
            yield _near(obstacle, strokes, gap, gap < obstacle.near_mm - TOUCH_MM)

    def _beyond(self, fence: Fence, section: Section, radius_mm: float) -> Iterator[_Near]:
        motions = section.motions
        inner = fence.box.grown(-radius_mm) if fence.edge else fence.box
        leaving = section.boxes.leaving(inner, fence.pose, fence.below_mm)
        if fence.cuts:
            leaving = leaving[motions.kind[leaving] != RAPID]
        for rows in _some(motions, leaving):
            strokes = strokes_of(motions, rows, self._rapids)
            if np.isfinite(fence.below_mm):
                strokes = strokes.below(fence.below_mm)
            ends = [fence.beyond(points, radius_mm) for points in (strokes.start, strokes.end)]
            beyond = np.maximum(*ends)
            yield _near(fence, strokes, -beyond, beyond > ROUNDING_MM)

    def _record(self, key: Key, motions: Motions, near: Sequence[_Near]) -> None:
        """Keep the worst; the same lines at several things of a name count once."""
        rows = np.concatenate([each.strokes.row for each in near])
        lines = len(np.unique(motions.line[rows]))
        found = [_worst_of(each, motions) for each in near]
        before = self.worst.get(key)
        if before is not None:
            found.append(before)
            lines += before.lines
        self.worst[key] = min(found, key=_rank)._replace(lines=lines)


def _some(motions: Motions, rows: Ints) -> Iterator[Ints]:
    """Motions in portions that make a bounded number of strokes."""
    many = _ARCS_AT_ONCE if motions.is_arc[rows].any() else _ROWS_AT_ONCE
    return (rows[at : at + many] for at in range(0, len(rows), many))


def _too_high(ceiling: Ceiling, section: Section, stickout_mm: float) -> _Near:
    gap = ceiling.z_mm - (section.boxes.high[2] + stickout_mm)
    rows = np.flatnonzero(gap < -ROUNDING_MM)
    return _Near(ceiling, Strokes(rows, *known_ends(section.motions, rows)), gap[rows])


def _by_depth(thing: Thing) -> bool:
    """Whether the deepest is the worst, as where a cut may go to some depth."""
    return isinstance(thing, Obstacle) and thing.datum_mm is not None


def _rank(worst: Worst) -> tuple[float, ...]:
    """Sorts the worst first."""
    if isinstance(worst.thing, Obstacle) and worst.thing.datum_mm is not None:
        return worst.z_mm - worst.thing.datum_mm, worst.z_mm, worst.line  # strips of a tilted bed
    return worst.gap_mm, worst.z_mm, worst.line


def _near(thing: Thing, strokes: Strokes, gap: Floats, which: NDArray[np.bool_]) -> _Near:
    """Of the strokes that count the worst of each motion, in order of motion."""
    some = np.flatnonzero(which)
    strokes, gap = strokes.take(some), gap[some]
    z = strokes.lowest()
    order = np.lexsort((z, strokes.row) if _by_depth(thing) else (z, gap, strokes.row))
    first = order[np.flatnonzero(np.diff(strokes.row[order], prepend=-1))]
    return _Near(thing, strokes.take(first), gap[first])


def _worst_of(near: _Near, motions: Motions) -> Worst:
    """The worst of at least one stroke."""
    strokes, gap = near.strokes, near.gap
    z, line = strokes.lowest(), motions.line[strokes.row]
    at = int(np.lexsort((line, z) if _by_depth(near.thing) else (line, z, gap))[0])
    return Worst(
        thing=near.thing,
        gap_mm=float(gap[at]),
        z_mm=float(z[at]),
        line=int(line[at]),
        kind=int(motions.kind[strokes.row[at]]),
        path_mm=np.stack([strokes.start[at], strokes.end[at]]),
        lines=1,
    )
