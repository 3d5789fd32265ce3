"""Motions of a piece of a program, collected from runs and single lines."""

from __future__ import annotations

import numpy as np

from pincorner.program.motions import RAPID, Arcs, Motions, beside, joined
from pincorner.program.state import Place, State


class Rows:
    """Collects rows in the program's order; `taken` gives them and begins anew."""

    def __init__(self) -> None:
        self._chunks: list[Motions] = []
        self._single: list[tuple[float, ...]] = []
        self._arcs: list[tuple[int, float, float, float]] = []

    def add(self, line: int, kind: int, end: Place, state: State, code: int) -> None:
        """One move from the state's place, under its modes; the place moves along."""
        feed = np.nan if kind == RAPID else state.feed_mm_per_min
        self._single.append((line, kind, *state.place, *end, feed, state.tool, code, state.lengths))
        state.place = end

    def add_arc(self, plane: int, centre: complex, sweep_rad: float) -> None:
        """What the last row, an arc, has besides."""
        self._arcs.append((plane, centre.real, centre.imag, sweep_rad))

    def extend(self, motions: Motions) -> None:
        """Many rows at once."""
        self._close_single()
        self._chunks.append(motions)

    def taken(self) -> Motions | None:
        """All rows since the last time; None where there are none."""
        self._close_single()
        chunks, self._chunks = self._chunks, []
        return joined(chunks) if chunks else None

    def _close_single(self) -> None:
        if not self._single:
            return
        table = np.array(self._single, np.float64)
        line, kind = table[:, :2].T.astype(np.int64)
        tool, code = table[:, 9:11].T.astype(np.int64)
        arcs = None
        if self._arcs:
            bare = np.array(self._arcs, np.float64)
            arcs = Arcs(bare[:, 0].astype(np.int64), bare[:, 1:3], bare[:, 3])
        self._chunks.append(
            Motions(
                line, kind, table[:, 2:5], table[:, 5:8], table[:, 8], tool, code,
                table[:, 11] != 0, *beside(kind, arcs),
            )
        )  # fmt: skip
        self._single, self._arcs = [], []
