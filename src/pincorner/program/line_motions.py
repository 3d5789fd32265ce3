"""Moves of single lines: straight ones, arcs, canned cycles, and by machine coordinates."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from pincorner.program.arcs import end_tolerance_mm, in_plane, turns
from pincorner.program.cycles import holes
from pincorner.program.line_modes import change_shifts
from pincorner.program.line_words import Line, NotRead, named_axes
from pincorner.program.machine import in_frame, with_axes
from pincorner.program.modes import (
    BACK_BORING,
    CYCLES,
    DWELL,
    FEED_BACK,
    HOMES,
    IN_MACHINE,
    MANUAL_BORING,
    NO_CYCLE,
    NO_MOTION,
    OFFSET_OF_P,
    PLAIN_G,
    PROBE,
    SHIFTS,
    WITH_OWN_AXES,
    WRITE_OFFSET,
    written_g,
)
from pincorner.program.motions import ARC, AXES_OF_PLANE, FEED, RAPID, Floats
from pincorner.program.state import UNKNOWN, Place, State

MOST_REPEATS = 10_000
"""Of a cycle by its L word; more is a slip of the finger."""

_CENTRE_LETTERS = frozenset("IJK")
_USED_BY_OTHERS = frozenset("IJKRPQL")

Move = tuple[int, Place]
"""Kind and end."""

ArcOf = tuple[int, complex, float]
"""Plane, centre, sweep in rad."""


class Carried(NamedTuple):
    """What a line's motion is: its moves; what the last needs if it is an arc.

    `motion`: number of the motion word that made them, None where there is none (G28, G53 behind
    G80). `short`: an arc's radius is shorter than half its chord.
    """

    moves: list[Move]
    arc_of: ArcOf | None = None
    motion: int | None = None
    short: bool = False


def target(line: Line, state: State) -> Place:
    """Where the line's axis words lead, in the unit, distance mode and work offset in force."""
    place, shift = list(state.place), state.shift
    for axis in named_axes(line):
        number = line.number["XYZ"[axis]] * state.mm_per_unit
        place[axis] = number + (shift[axis] if state.absolute else place[axis])
    return (place[0], place[1], place[2])


def straight(line: Line, state: State) -> list[Move]:
    """G0 and G1."""
    return [(RAPID if state.motion == 0 else FEED, target(line, state))]


def arc(line: Line, state: State) -> Carried:
    """G2 and G3, by centre or radius. Raises NotRead where there is no such arc."""
    offset = np.zeros((1, 3))
    stated = [axis for axis, letter in enumerate("IJK") if letter in line.number]
    for axis in stated:
        offset[0, axis] = line.number["IJK"[axis]] * state.mm_per_unit
    third = AXES_OF_PLANE[state.plane][2]
    if third in stated:
        raise NotRead(f"{'IJK'[third]} has no place in this plane's arcs")
    if bool(stated) == ("R" in line.number):
        raise NotRead("an arc needs either R or its centre by I, J, K")
    if not stated and not set(AXES_OF_PLANE[state.plane][:2]) & set(named_axes(line)):
        raise NotRead("an arc by R that ends where it starts")
    end = target(line, state)
    plane = np.array([state.plane])
    found = turns(
        in_plane(np.array([state.place]), plane),
        in_plane(np.array([end]), plane),
        in_plane(offset, plane),
        np.array([line.number.get("R", math.nan) * state.mm_per_unit]),
        np.array([state.motion == 3]),
        end_tolerance_mm(np.array([state.mm_per_unit])),
    )
    if found.impossible[0]:
        raise NotRead("there is no arc with this end and this centre or radius")
    arc_of = (state.plane, complex(found.centre[0]), float(found.sweep_rad[0]))
    return Carried([(ARC, end)], arc_of, state.motion, bool(found.short[0]))


def drilled(line: Line, state: State, repeats_cycle: bool) -> list[Move]:
    """Canned cycles; `repeats_cycle`: the same one was in force, so that R and Z stay.

    Raises NotRead where the report has no such cycle. The state keeps R and Z.
    """
    cycle, unit = state.motion, state.mm_per_unit
    if state.plane != 0:
        raise NotRead(f"G{cycle} is followed in G17 only")
    levels = []
    for letter, kept in (("R", state.cycle_r), ("Z", state.cycle_z)):
        if letter not in line.number and not repeats_cycle:
            raise NotRead(f"G{cycle} begins without {letter}")
        levels.append(line.number.get(letter, kept))
    state.cycle_r, state.cycle_z = levels
    repeats = line.number.get("L", 1.0)
    if not (repeats.is_integer() and 1 <= repeats <= MOST_REPEATS):
        raise NotRead(f"L{repeats:g} is no number of repeats from 1 to {MOST_REPEATS}")
    r = levels[0] * unit + (state.shift[2] if state.absolute else state.place[2])
    bottom = levels[1] * unit + (state.shift[2] if state.absolute else r)
    if levels[0] < levels[1] if state.absolute else levels[1] > 0:
        raise NotRead("R lies below Z")
    places = _hole_places(line, state, int(repeats), r)
    levels_of_each = np.full(len(places) - 1, r), np.full(len(places) - 1, bottom)
    found = holes(places, *levels_of_each, np.full(len(places) - 1, cycle in FEED_BACK))
    ends = [(x, y, z) for x, y, z in found.end[found.made].tolist()]
    return list(zip(found.kind[found.made].tolist(), ends, strict=True))


def _hole_places(line: Line, state: State, repeats: int, r: float) -> Floats:
    """(repeats + 1, 3): the place now, and behind each hole; increments step on."""
    places = np.empty((repeats + 1, 3))
    places[0] = state.place
    end = target(line, state)
    counts = np.arange(1.0, repeats + 1)
    for axis in (0, 1):
        step = end[axis] - state.place[axis]
        places[1:, axis] = end[axis] if state.absolute else state.place[axis] + counts * step
    places[1:, 2] = r if state.retract_to_r else np.maximum(state.place[2], r)
    return places


def home(line: Line, state: State) -> list[Move]:
    """G28 and G30: to the line's place, then home with all axes (3.5.8), or with those named.

    Where home is not known no place is, on any axis that goes there.
    """
    frame, named = state.frame, named_axes(line)
    home_mm = frame.homes_mm.get(written_g(line.g["one line only"]), UNKNOWN)
    if not named:
        return [(RAPID, in_frame(home_mm, frame))]
    by_way_of = target(line, state)
    if not frame.home_named_axes:
        return [(RAPID, by_way_of), (RAPID, in_frame(home_mm, frame))]
    there = {axis: home_mm[axis] for axis in named}
    return [(RAPID, by_way_of), (RAPID, with_axes(by_way_of, there, frame))]


def by_machine(line: Line, state: State) -> list[Move]:
    """G53: a straight move whose numbers are machine coordinates. Raises NotRead."""
    if state.motion not in (0, 1):
        raise NotRead("G53 needs G0 or G1")
    if not state.absolute:
        raise NotRead("G53 is refused under G91")
    axes = named_axes(line)
    if not axes:
        raise NotRead("G53 without X, Y or Z")
    named = {axis: line.number["XYZ"[axis]] * state.mm_per_unit for axis in axes}
    kind = RAPID if state.motion == 0 else FEED
    return [(kind, with_axes(state.place, named, state.frame))]


def carry_out(line: Line, state: State) -> Carried:
    """The motion of a line under the modes it has set.

    Sets the motion mode, offsets and shifts on the way. Raises NotRead.
    """
    word, once = line.g.get("motion"), line.g.get("one line only")
    if word in (PROBE, BACK_BORING, MANUAL_BORING):
        raise NotRead(f"{written_g(word)} is not followed")
    motion_before = state.motion
    if word is not None:
        state.motion = int(PLAIN_G[word][1])
    axes, takes_axes = bool(named_axes(line)), once in WITH_OWN_AXES
    if state.motion in CYCLES and word is not None and not axes:
        raise NotRead(f"G{state.motion} without X, Y or Z")
    if once == DWELL and axes and "P" not in line.number:
        raise NotRead("G4 without P, but with axis words, of which one may be the time to wait")
    if once == DWELL and line.g.get("offset") == OFFSET_OF_P:
        raise NotRead("G4 and G54.1 both want P")
    if once and takes_axes and axes and word not in (None, NO_CYCLE):
        raise NotRead(f"{written_g(word)} and {written_g(once)} both want the axis words")
    if once in SHIFTS:
        change_shifts(line, state)
    if once == IN_MACHINE:
        carried = Carried(by_machine(line, state), motion=state.motion)
    elif once in HOMES:
        carried = Carried(home(line, state))
    elif takes_axes:
        carried = Carried([])
    else:
        carried = _by_mode(line, state, motion_before)
    _refuse_loose_words(line, carried)
    return carried


def _by_mode(line: Line, state: State, motion_before: int) -> Carried:
    """What the motion mode makes of a line."""
    motion = state.motion
    by_centre = not _CENTRE_LETTERS.isdisjoint(line.number)
    by_radius = "motion" in line.g and "R" in line.number
    is_turn = motion in (2, 3) and (by_centre or by_radius)
    if not named_axes(line) and not is_turn:
        return Carried([])
    if motion == NO_MOTION:
        raise NotRead("no motion word is in force for its axis words")
    if motion in (0, 1):
        return Carried(straight(line, state), motion=motion)
    if motion in CYCLES:
        return Carried(drilled(line, state, motion == motion_before), motion=motion)
    return arc(line, state)


def _refuse_loose_words(line: Line, carried: Carried) -> None:
    """Words that belong to no other word of their line (3.5 names their users)."""
    if line.number.keys().isdisjoint(_USED_BY_OTHERS):
        return
    once, over = line.g.get("one line only"), bool(line.read_over)
    is_arc, is_cycle = carried.motion in (2, 3), carried.motion in CYCLES
    writes, has_path = once == WRITE_OFFSET, "path" in line.g
    selects = line.g.get("offset") == OFFSET_OF_P
    used = {
        **dict.fromkeys("IJK", is_arc),
        "R": is_arc or is_cycle or writes or over,
        "P": is_cycle or writes or has_path or selects or once == DWELL or over,
        "Q": is_cycle or has_path or over,
        "L": is_cycle or writes,
    }
    for letter in line.number:
        if not used.get(letter, True):
            raise NotRead(f"{letter}{line.number[letter]:g} belongs to nothing on its line")
