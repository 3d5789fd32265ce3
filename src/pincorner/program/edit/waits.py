"""Where a program may wait with an M0 put in: behind a retract, before it goes sideways."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from pincorner.errors import Refused
from pincorner.program.path.frames import frame_of
from pincorner.program.reader.motions import RAPID, moves_sideways
from pincorner.program.reader.reading import Reading, reading_of
from pincorner.program.reader.summary import REMARKS_KEPT, Summary
from pincorner.program.source.lexer import may_be_skipped
from pincorner.program.source.text import ProgramText
from pincorner.setups.setup import Setup


class _Move(NamedTuple):
    """A motion: its line, whether it is a rapid, goes sideways, and from which Z to which, mm.

    NaN for a Z that is not known, or known of the machine alone.
    """

    line: int
    rapid: bool
    sideways: bool
    from_mm: float
    to_mm: float


def refuse_wait(
    text: ProgramText,
    setup: Setup,
    nests: Sequence[Setup],
    line: int,
    known: tuple[tuple[int, int], ...] = (),
) -> None:
    """Raise Refused unless the program has retracted before a line that goes sideways, or to M6.

    The motion before must be a rapid straight up (or to a machine Z), that of the line a rapid
    sideways; a line that changes a tool needs none of its own. Where lines begin with `/` both
    readings must have it so: an M0 stays where a retract before it is skipped. `known`: stretches
    that are not read (first line, last line).
    """
    frame = frame_of(setup, nests)
    run = _around(reading_of(text, frame, known), text, line)
    why = _why_not(run, line, setup, known)
    if why:
        raise _refused(text, line, why)
    if "may-be-skipped" in run.summary.counts:
        skipped = _around(reading_of(text, frame, known, skips=True), text, line)
        may_go = may_be_skipped(text.line(line))  # it then waits up there all the same
        why = _why_not(skipped, line, setup, known, is_gone=may_go)
        if why:
            raise _refused(text, line, f"{why} (with the lines behind / skipped)")


class _Around(NamedTuple):
    """The last motion before a line and the first from it on, and what the reading tells."""

    before: _Move | None
    after: _Move | None
    summary: Summary


def _around(reading: Reading, text: ProgramText, line: int) -> _Around:
    before: _Move | None = None
    after: _Move | None = None
    for motions in reading.motions(text):
        moves = moves_sideways(motions.start, motions.end)
        at = int(np.searchsorted(motions.line, line))
        for row, place in ((at - 1, "before"), (at, "after")):
            if not 0 <= row < len(motions.line):
                continue
            move = _Move(
                int(motions.line[row]),
                int(motions.kind[row]) == RAPID,
                bool(moves[row]),
                float(motions.start[row, 2]),
                float(motions.end[row, 2]),
            )
            if place == "before":
                before = move
            elif after is None:
                after = move
    return _Around(before, after, reading.summary)


def _why_not(
    around: _Around,
    line: int,
    setup: Setup,
    known: Sequence[tuple[int, int]],
    *,
    is_gone: bool = False,
) -> str:
    """Why a reading has no wait before a line; empty where it may. `is_gone`: the line is skipped
    in it."""
    before, after, summary = around
    if before is None or before.line >= line:
        return "no motion stands before it"
    why = _no_retract(before, summary, setup)
    if why:
        return f"line {before.line} before it {why}"
    hidden = any(first < line and before.line < last for first, last in known)
    if hidden or _not_read(before.line, line, summary):
        return f"what comes behind the retract in line {before.line} is not read"
    if is_gone or line in {at for _, at in summary.tool_changes}:
        return ""
    if after is None or after.line != line:
        return "it moves nothing, and changes no tool"
    return "" if after.rapid and after.sideways else "it does not go sideways by a rapid"


def _no_retract(move: _Move, summary: Summary, setup: Setup) -> str:
    """Why a motion is no retract straight up, or to a machine Z; empty where it is one."""
    if not move.rapid or move.sideways:
        return "is no retract straight up"
    by_machine = any(line == move.line for _, _, line in summary.machine_z)
    if by_machine and math.isnan(move.to_mm):
        return _no_retract_by_machine(move, summary, setup)
    if math.isnan(move.from_mm) or math.isnan(move.to_mm):
        return "goes to its Z from one that is not known, so that it may go down"
    return "" if move.to_mm > move.from_mm else "is no retract straight up"


def _no_retract_by_machine(move: _Move, summary: Summary, setup: Setup) -> str:
    """The same of a motion to a machine Z, of which it is not known where the tip then is.

    It goes down if the Z before was a higher one of the machine, or if the gauge point ends no
    higher than where the tip was, which is lower by the tool's length.
    """
    heights = [z_mm for _, z_mm, line in summary.machine_z if line <= move.line]
    if math.isnan(heights[-1]):
        return "goes to a Z not known"
    surface_mm, goes_down = setup.heights.surface_mm, False
    if math.isnan(move.from_mm):
        goes_down = len(heights) > 1 and heights[-1] < heights[-2]
    elif surface_mm is not None:
        goes_down = heights[-1] <= surface_mm + setup.heights.zero_mm + move.from_mm
    return "is no retract straight up" if goes_down else ""


def _not_read(first: int, last: int, summary: Summary) -> bool:
    """Whether a line between two may do anything, since it is not read; only some are told."""
    lines = [each.line for each in summary.remarks if each.code == "not-read"]
    more = summary.counts.get("not-read", 0) > REMARKS_KEPT and max(lines) < last
    return more or any(first < line < last for line in lines)


def _refused(text: ProgramText, line: int, why: str) -> Refused:
    return Refused(
        "no-wait-here",
        f"--wait-before {line}: {text.path.name} cannot wait there: {why}; an M0 goes between a "
        "retract and a way sideways only",
    )
