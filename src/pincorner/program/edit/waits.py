"""Where a program may wait with an M0 put in: behind a retract, before it goes sideways."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from pincorner.errors import Refused
from pincorner.program.path.frames import frame_of
from pincorner.program.reader.motions import RAPID
from pincorner.program.reader.reading import reading_of
from pincorner.program.source.text import ProgramText
from pincorner.setups.setup import Setup


class _Move(NamedTuple):
    """A motion: its line, whether it is a rapid, goes sideways, and goes up or to machine Z."""

    line: int
    rapid: bool
    sideways: bool
    up: bool


def refuse_wait(text: ProgramText, setup: Setup, nests: Sequence[Setup], line: int) -> None:
    """Raise Refused unless the program has retracted before a line that goes sideways, or to M6.

    The motion before must be a rapid straight up (or to a machine Z), that of the line a rapid
    sideways; a line that changes a tool needs none of its own.
    """
    reading = reading_of(text, frame_of(setup, nests))
    before: _Move | None = None
    after: _Move | None = None
    for motions in reading.motions(text):
        moves = sideways_of(motions.start, motions.end)
        at = int(np.searchsorted(motions.line, line))
        for row, place in ((at - 1, "before"), (at, "after")):
            if not 0 <= row < len(motions.line):
                continue
            low, high = float(motions.start[row, 2]), float(motions.end[row, 2])
            up = not high <= low  # where machine Z takes it, no height is known
            move = _Move(
                int(motions.line[row]), int(motions.kind[row]) == RAPID, bool(moves[row]), up
            )
            if place == "before":
                before = move
            elif after is None:
                after = move
    changes = line in {at for _, at in reading.summary.tool_changes}
    if before is None or before.line >= line:
        raise _refused(text, line, "no motion stands before it")
    if not before.rapid or before.sideways or not before.up:
        raise _refused(text, line, f"line {before.line} before it is no retract straight up")
    if not changes and (after is None or after.line != line):
        raise _refused(text, line, "it moves nothing, and changes no tool")
    if not changes and after is not None and not (after.rapid and after.sideways):
        raise _refused(text, line, "it does not go sideways by a rapid")


def sideways_of(start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Which motions go sideways, or to a place that is not known on X or Y from one that is."""
    lost = np.isnan(end[:, :2]) & ~np.isnan(start[:, :2])
    moved = (end[:, :2] != start[:, :2]) & ~np.isnan(end[:, :2])
    found: np.ndarray = (lost | moved).any(axis=1)
    return found


def _refused(text: ProgramText, line: int, why: str) -> Refused:
    return Refused(
        "no-wait-here",
        f"--wait-before {line}: {text.path.name} cannot wait there: {why}; an M0 goes between a "
        "retract and a way sideways only",
    )
