"""What a controller by the standard refuses in lines that can be followed all the same.

Each is an error by the report (RS274/NGC, sections beside them): the machine stands there in the
middle of the job. Some controllers go on, so that the line is carried out as it is read here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from pincorner.program.line_motions import Carried
from pincorner.program.line_words import Line, named_axes
from pincorner.program.modes import (
    COOLANT,
    CYCLES,
    DWELL,
    DWELLING,
    GROUP_OF_M,
    IN_MACHINE,
    LENGTH_ON,
    PECKING,
    PER_TIME,
)
from pincorner.program.motions import AXES_OF_PLANE
from pincorner.program.state import State

MOST_M = 4
"""M words on a line (3.3.5)."""

STOPS = "a controller by the standard stops here"
LONG_NUMBER = "a line number of more than five digits"

_LETTERS = "XYZ"


def lacks_feed(line: Line, state: State, motion: int | None) -> bool:
    """Whether a line cuts without a feed: none stated, or by time without F on it (3.5.19)."""
    if motion not in (1, 2, 3, *CYCLES):
        return False
    return "F" not in line.number if state.feed_mode == PER_TIME else math.isnan(state.feed)


def stops(line: Line, before: State, state: State, carried: Carried) -> Iterator[str]:
    """Why the line would be refused; `before` and `state`: in front of it and behind it."""
    yield from _by_letters(line)
    yield from _by_dwell(line)
    if _is_bare_motion(line, carried):
        yield f"G{line.g['motion'] // 10} without X, Y or Z"
    if carried.motion in (2, 3):
        yield from _of_arc(line, state, carried)
    if carried.motion in CYCLES:
        yield from _of_cycle(line, before, state)


def _by_letters(line: Line) -> Iterator[str]:
    """Words that want another beside them, too many M words, numbers below zero (3.3.5, D.8.2)."""
    if "H" in line.number and line.g.get("tool length") != LENGTH_ON:
        yield "H without G43"
    if "D" in line.number and line.g.get("cutter compensation", 400) == 400:
        yield "D without G41 or G42"
    for letter in "SDH":
        own = letter != "S" or not line.read_over or not {3, 4, 5}.isdisjoint(line.m)
        if own and line.number.get(letter, 0.0) < 0:
            yield f"{letter} is negative"
    if sum(GROUP_OF_M[code] == COOLANT for code in line.m) > 1:
        yield "two of M7, M8 and M9"
    if len(line.m) + sum(word.startswith("M") for word in line.read_over) > MOST_M:
        yield f"more than {MOST_M} M words"


def _by_dwell(line: Line) -> Iterator[str]:
    """G4 takes P, which is not negative (3.5.4)."""
    if line.g.get("one line only") == DWELL and not line.number.get("P", -1.0) >= 0:
        yield "G4 with a negative P" if "P" in line.number else "G4 without P"


def _is_bare_motion(line: Line, carried: Carried) -> bool:
    """G0 to G3 with nowhere to go (3.5.1, 3.5.2, 3.5.3)."""
    stated = line.g.get("motion", -1) in (0, 10, 20, 30)
    return stated and carried.motion is None and line.g.get("one line only") != IN_MACHINE


def _of_arc(line: Line, state: State, carried: Carried) -> Iterator[str]:
    first, second, _ = AXES_OF_PLANE[state.plane]
    if not {first, second} & set(named_axes(line)):
        axes = f"{_LETTERS[min(first, second)]} or {_LETTERS[max(first, second)]}"
        yield f"an arc without {axes}, read as a full turn"  # 3.5.3.2
    if carried.short:
        yield "the radius R is shorter than half the way, read as half a turn"  # 3.5.3.1


def _of_cycle(line: Line, before: State, state: State) -> Iterator[str]:
    """Cycles want per-minute feed, and some P or Q (3.5.16)."""
    cycle, begins = state.motion, state.motion != before.motion
    has_own_p = "P" in line.number and line.g.get("one line only") != DWELL
    if state.feed_mode == PER_TIME:
        yield f"G{cycle} under G93"
    if cycle in DWELLING:
        if begins and not has_own_p:
            yield f"G{cycle} without P"
        if has_own_p and line.number["P"] < 0:
            yield f"G{cycle} with a negative P"
    if cycle == PECKING:
        if begins and "Q" not in line.number:
            yield "G83 without Q"
        if line.number.get("Q", 1.0) <= 0:
            yield "G83 with Q that is not positive"
