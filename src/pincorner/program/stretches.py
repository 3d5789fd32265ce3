"""A stretch of a program read by itself, as if nothing stood in front of it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from pincorner.geometry.pose import XY
from pincorner.program.frames import frame_of
from pincorner.program.motions import Motions
from pincorner.program.reading import Reading
from pincorner.setups.setup import Setup

Span = tuple[int, int]


def first_place(path: Path, setup: Setup, lines: Span) -> XY | None:
    """Where in X and Y a stretch first goes, in the program's coordinates, mm; None where nowhere.

    Raises BadInput.
    """
    for motions in _alone(path, setup, lines):
        known = np.flatnonzero(np.isfinite(motions.end[:, :2]).all(axis=1))
        if len(known):
            x, y = motions.end[known[0], :2].tolist()
            return x, y
    return None


def stands_alone(path: Path, setup: Setup, lines: Span) -> bool:
    """Whether a stretch does the same without the lines in front of it.

    It does where its motions end at the same places, at the same feeds, with the same tool and its
    length, and where it moves straight up or down until it says where it goes. Raises BadInput.
    """
    whole = (_rows(m, lines) for m in Reading(frame_of(setup)).motions(path))
    pairs = zip(filter(_some, whole), _alone(path, setup, lines), strict=True)
    return all(_same(one, other) for one, other in pairs)


def _alone(path: Path, setup: Setup, lines: Span) -> Iterator[Motions]:
    before = ((1, lines[0] - 1),) if lines[0] > 1 else ()
    reading = Reading(frame_of(setup), known=before)
    return filter(_some, (_rows(motions, lines) for motions in reading.motions(path)))


def _some(motions: Motions) -> bool:
    return len(motions.line) > 0


def _rows(motions: Motions, lines: Span) -> Motions:
    """The motions of some lines; their arcs are left out, whose ends tell enough here."""
    rows = (motions.line >= lines[0]) & (motions.line <= lines[1])
    columns = motions._asdict()
    arcs = columns.pop("arcs")
    return Motions(**{name: column[rows] for name, column in columns.items()}, arcs=arcs)


def _same(whole: Motions, alone: Motions) -> bool:
    known = np.isfinite(alone.end)
    lost = ~known[:, :2].all(axis=1)
    straight = (whole.end[lost, :2] == whole.start[lost, :2]).all()
    return bool(
        straight
        and np.array_equal(whole.end[known], alone.end[known])
        and np.array_equal(whole.kind, alone.kind)
        and np.array_equal(whole.feed, alone.feed, equal_nan=True)
        and np.array_equal(whole.tool, alone.tool)
        and np.array_equal(whole.lengths, alone.lengths)
    )
