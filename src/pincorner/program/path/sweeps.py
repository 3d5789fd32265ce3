"""A program as a whole: its summary, where the spindle axis goes, how long it cuts at the least."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.outline import Box, bounds, rectangle
from pincorner.program.path.boxes import Rapids, boxes_of
from pincorner.program.path.frames import frame_of, written_in_machine
from pincorner.program.path.times import cutting_seconds
from pincorner.program.reader.motions import Floats
from pincorner.program.reader.reading import reading_of
from pincorner.program.reader.summary import Summary
from pincorner.program.source.text import ProgramText
from pincorner.setups.setup import Setup

_ELSEWHERE = frozenset({"not-read", "offset-written", "g92-used"})
"""Remarks after which the places told are not surely those where the machine goes."""


class ProgramSweep(NamedTuple):
    """A program as read: `box` in machine coordinates around the axis, None where none is known.

    `anywhere`: it goes to a place that stands in the controller only. `cutting_s`: a lower bound.
    `codes`: the work offsets it moves under. `tool_changes`: how many M6 it has.
    """

    box: Box | None
    anywhere: bool
    cutting_s: float
    codes: tuple[str, ...]
    tool_changes: int


def sweep_of_program(text: ProgramText, setup: Setup, nests: Sequence[Setup]) -> ProgramSweep:
    """Read a program for where it goes in the machine; `nests`: all setups of the station.

    Raises BadInput where it is no program.
    """
    frame = frame_of(setup, nests)
    reading = reading_of(text, frame)
    rapids = Rapids(setup.facts.machine.straight_rapids, frame.machine_angle_rad)
    low, high = np.full(2, np.inf), np.full(2, -np.inf)
    cutting_s, known, anywhere = 0.0, False, False
    for motions in reading.motions(text):
        if not len(motions.line):
            continue
        lows, highs = boxes_of(motions, rapids)
        low = np.fmin(low, np.fmin.reduce(lows[:2], axis=1))
        high = np.fmax(high, np.fmax.reduce(highs[:2], axis=1))
        ends = np.asarray(np.isfinite(motions.end[:, :2]).all(axis=1))
        anywhere = anywhere or _gets_lost(ends, known)
        known = known or bool(ends.any())
        cutting_s += cutting_seconds(motions)
    summary, box = reading.summary, _in_machine(setup, low, high)
    return ProgramSweep(
        box=box,
        anywhere=anywhere or box is None or not _ELSEWHERE.isdisjoint(summary.counts),
        cutting_s=cutting_s,
        codes=summary.codes,
        tool_changes=len(summary.tool_changes),
    )


def read_summary(text: ProgramText, setup: Setup, nests: Sequence[Setup]) -> Summary:
    """What a reading of the program tells besides its motions. Raises BadInput."""
    reading = reading_of(text, frame_of(setup, nests))
    for _ in reading.motions(text):
        pass
    return reading.summary


def _gets_lost(ends: NDArray[np.bool_], known_before: bool) -> bool:
    """Whether X or Y is not known after it once was: a place that stands in the controller."""
    after = np.maximum.accumulate(ends) if len(ends) else ends
    return bool((~ends & (after | known_before)).any())


def _in_machine(setup: Setup, low: Floats, high: Floats) -> Box | None:
    if not (np.isfinite(low).all() and np.isfinite(high).all()):
        return None
    (left, front), (right, back) = low.tolist(), high.tolist()
    return bounds(written_in_machine(setup).points(rectangle(left, front, right, back)))
