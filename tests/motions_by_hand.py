"""Motions for tests, built without a reader."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from pincorner.program.reader.motions import ARC, AXES_OF_PLANE, FEED, RAPID, Arcs, Motions, beside

Place = tuple[float, float, float]


class Path:
    """Motions put together one by one, each on a line of its own, from a place on."""

    def __init__(self, start: Place, tool: int = 1) -> None:
        self.at, self.tool = start, tool
        self._rows: list[tuple[int, Place, Place, int]] = []
        self._arcs: list[tuple[int, tuple[float, float], float]] = []

    def rapid(self, *end: float) -> Path:
        """G0."""
        return self._add(RAPID, end)

    def feed(self, *end: float) -> Path:
        """G1."""
        return self._add(FEED, end)

    def arc(self, centre: Sequence[float], sweep_rad: float, third: float, plane: int = 0) -> Path:
        """An arc about a centre in its plane; `third`: where it ends on the third axis."""
        axes = AXES_OF_PLANE[plane]
        away = [self.at[axes[0]] - centre[0], self.at[axes[1]] - centre[1]]
        cos, sin = math.cos(sweep_rad), math.sin(sweep_rad)
        end = [0.0, 0.0, 0.0]
        end[axes[0]] = centre[0] + cos * away[0] - sin * away[1]
        end[axes[1]] = centre[1] + sin * away[0] + cos * away[1]
        end[axes[2]] = third
        self._arcs.append((plane, (centre[0], centre[1]), sweep_rad))
        return self._add(ARC, end)

    def _add(self, kind: int, end: Sequence[float]) -> Path:
        place = (end[0], end[1], end[2])
        self._rows.append((kind, self.at, place, self.tool))
        self.at = place
        return self

    def motions(self) -> Motions:
        """All of them, under work offset 0, at 600 mm/min, without tool lengths."""
        kinds, starts, ends, tools = zip(*self._rows, strict=True)
        count = len(kinds)
        planes, centres, sweeps = zip(*self._arcs, strict=True) if self._arcs else ((), (), ())
        return Motions(
            line=np.arange(1, count + 1),
            kind=np.array(kinds),
            start=np.array(starts, float),
            end=np.array(ends, float),
            feed=np.where(np.array(kinds) == RAPID, np.nan, 600.0),
            tool=np.array(tools),
            code=np.zeros(count, np.int64),
            lengths=np.zeros(count, np.bool_),
            **beside(np.array(kinds), Arcs(
                np.array(planes, np.int64), np.array(centres, float).reshape(-1, 2),
                np.array(sweeps, float),
            ))._asdict(),
        )  # fmt: skip
