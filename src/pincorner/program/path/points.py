"""The path of a program thinned to the lines that a drawing shows, however long the program is."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pincorner.geometry.pose import XY, Pose
from pincorner.program.path.boxes import arc_pieces
from pincorner.program.reader.motions import RAPID, Floats, Motions

FINEST_MM = 0.25
MOST_LINES = 40_000
"""Some 30 bytes each in a drawing, which stays near 1 MB."""


class PathLines(NamedTuple):
    """The path of a program as straight lines on the bed, in no order: feeds, and rapids."""

    cuts: tuple[tuple[XY, XY], ...]
    rapids: tuple[tuple[XY, XY], ...]


class PathPoints:
    """Collects the path as lines between cells of a raster, each line once.

    A point counts only where it comes into another cell than the one before. The raster is made
    coarser, by halves, whenever there are more than MOST_LINES.
    """

    def __init__(self) -> None:
        self._cell_mm = FINEST_MM
        self._last = np.full((1, 3), np.nan)
        self._lines: list[Floats] = []
        self._count = 0

    def take(self, motions: Motions) -> None:
        """Add a piece of the program."""
        points = np.concatenate([self._last, _points(motions, self._cell_mm / 4)])
        points = _thinned(points, self._cell_mm)
        self._last = points[-1:]
        lines = np.hstack([points[:-1, :2], points[1:]])
        self._lines.append(lines[~np.isnan(lines).any(axis=1)])
        self._count += len(self._lines[-1])
        if self._count > MOST_LINES:
            self._make_fewer()

    def _make_fewer(self) -> None:
        lines = _once(np.concatenate(self._lines), self._cell_mm)
        while len(lines) > MOST_LINES / 2:
            self._cell_mm *= 2
            lines[:, :4] = (np.floor(lines[:, :4] / self._cell_mm) + 0.5) * self._cell_mm
            lines = _once(lines, self._cell_mm)
        self._lines, self._count = [lines], len(lines)

    def lines(self, to_bed: Pose) -> PathLines:
        """The path in bed coordinates; `to_bed`: the program's frame on the bed."""
        lines = np.concatenate([np.empty((0, 5)), *self._lines])
        cuts = lines[:, 4] == 1
        return PathLines(_placed(lines[cuts], to_bed), _placed(lines[~cuts], to_bed))


def _placed(lines: Floats, to_bed: Pose) -> tuple[tuple[XY, XY], ...]:
    starts, ends = (
        to_bed.points(tuple((x, y) for x, y in places.tolist()))
        for places in (lines[:, :2], lines[:, 2:4])
    )
    return tuple(zip(starts, ends, strict=True))


def _points(motions: Motions, chord_mm: float) -> Floats:
    """X, Y and 1 for cuts or 0 for rapids, for the end of each motion and points of arcs.

    All are NaN where the place is not known, so that the line is broken there.
    """
    arcs = np.flatnonzero(motions.is_arc & np.isfinite(motions.sweep_rad))
    index, _, ends = arc_pieces(motions.rows(arcs), chord_mm)
    others = np.setdiff1d(np.arange(len(motions.line)), arcs, assume_unique=True)
    rows = np.concatenate([others, arcs[index]])
    places = np.concatenate([motions.end[others], ends])[:, :2]
    points = np.column_stack([places, motions.kind[rows] != RAPID])
    points[np.isnan(places).any(axis=1)] = np.nan
    return points[np.argsort(rows, kind="stable")]


def _thinned(points: Floats, cell_mm: float) -> Floats:
    """Points that come into another cell than the one before, or change from cuts to rapids."""
    cells = np.column_stack([np.floor(points[:, :2] / cell_mm), points[:, 2]])
    cells = np.nan_to_num(cells, nan=np.inf)
    new = np.ones(len(points), np.bool_)
    new[1:] = (cells[1:] != cells[:-1]).any(axis=1)
    return points[new]


def _once(lines: Floats, cell_mm: float) -> Floats:
    """Lines (n, 5) between different cells, each pair of cells once, whichever way it was gone."""
    cells = np.floor(lines[:, :4] / cell_mm)
    back = (cells[:, 0] > cells[:, 2]) | (
        (cells[:, 0] == cells[:, 2]) & (cells[:, 1] > cells[:, 3])
    )
    cells[back] = cells[back][:, [2, 3, 0, 1]]
    apart = np.flatnonzero((cells[:, :2] != cells[:, 2:]).any(axis=1))
    keys = np.column_stack([cells[apart], lines[apart, 4]])
    _, first = np.unique(keys, axis=0, return_index=True)
    return lines[apart[np.sort(first)]]
