"""Canned cycles in runs of plain lines: a list of holes becomes moves without a loop."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from pincorner.program.cycles import holes, retract_levels
from pincorner.program.modes import (
    DISTANCE,
    DWELLING,
    FEED_BACK,
    MOTION,
    PECKING,
    PLANE,
    RETRACT,
)
from pincorner.program.motions import Floats, Ints
from pincorner.program.run import Each, Flags, Run, held
from pincorner.program.state import State
from pincorner.program.words import Column


class Levels(NamedTuple):
    """Levels of R and Z at each of n rows (they mean nothing where no cycle is); (n + 1,) the Z of
    the tool before the first and behind each; the numbers of R and Z that stay in force."""

    r: Floats
    bottom: Floats
    tool_z: Floats
    kept: tuple[float, float]


class Moves(NamedTuple):
    """Moves of a run: the row of each (a slice where every row is one), its kind, and the
    (moves + 1, 3) places before the first and behind each."""

    row: Ints | slice
    kind: Ints
    places: Floats


def levels_of(
    run: Run, state: State, shift_z: Each, r_words: tuple[Ints, Floats], is_cycle: Flags
) -> Levels:
    """Levels at the rows of a run that has cycles; `r_words`: rows and numbers of its R words.

    Cycles that cannot be are refused, and those with increments or in another plane: they are read
    singly.
    """
    z = run.by.get("Z", Column(np.empty(0, np.int64), np.empty(0)))
    z_rows, z_mm = run.rows_of(z), run.mm(z)
    deepens, is_level = is_cycle[z_rows], is_cycle[r_words[0]]
    r_rows, bottom_rows = r_words[0][is_level], z_rows[deepens]
    r_number = held(r_rows, r_words[1][is_level], state.cycle_r, run.count)
    z_number = held(bottom_rows, z.value[deepens], state.cycle_z, run.count)
    unit = run.unit_at(np.arange(run.count))  # sticky numbers are read again in another unit
    r, bottom = r_number * unit + shift_z, z_number * unit + shift_z

    other_plane = run.mode(PLANE, state.plane) != 0
    if (run.mode(DISTANCE, state.absolute) == 0).any() or other_plane.any():
        run.refuse_rows(is_cycle)
    run.refuse_rows(is_cycle & ~(r >= bottom))
    _refuse_new_without_words(run, state, r_rows, bottom_rows)

    to_r = run.mode(RETRACT, state.retract_to_r) != 0
    level, sets = r.copy(), is_cycle & to_r
    place = z_mm + shift_z if isinstance(shift_z, float) else z_mm + shift_z[z_rows]
    level[z_rows[~deepens]] = place[~deepens]
    sets[z_rows[~deepens]] = True
    tool_z = retract_levels(state.place[2], level, sets, is_cycle & ~to_r)
    return Levels(r, bottom, tool_z, (float(r_number[-1]), float(z_number[-1])))


def _refuse_new_without_words(run: Run, state: State, r_rows: Ints, bottom_rows: Ints) -> None:
    """Lines where a cycle begins without R and Z, or the P or Q that it wants: those of another
    cycle do not count. Lines with a P or Q that no cycle takes."""
    for letter, least in (("P", 0.0), ("Q", math.ulp(0.0))):
        if letter in run.by:
            run.refuse(run.by[letter].line[run.by[letter].value < least])
    words = run.by.get(MOTION)
    if words is None:
        return
    begins = (words.value > 3) & (words.value != np.append(state.motion, words.value[:-1]))
    has_both = np.zeros(run.count + 1, np.bool_)
    has_both[np.intersect1d(r_rows, bottom_rows)] = True
    fits = has_both[run.rows_of(words)] & run.has_row[words.line - run.first]
    for letter, cycles in (("P", DWELLING), ("Q", (PECKING,))):
        wants = np.isin(words.value, cycles)
        if wants.any():
            own = run.by[letter].line if letter in run.by else words.line[:0]
            fits &= ~wants | np.isin(words.line, own)
    run.refuse(words.line[begins & ~fits])


def moves_of(run: Run, places: Floats, kind: Ints, levels: Levels, is_cycle: Flags) -> Moves:
    """The moves of rows with cycles among them: each other row is one move of its kind."""
    feed_back = np.logical_or.reduce([run.motion == cycle for cycle in FEED_BACK])
    made = holes(places, levels.r, levels.bottom, feed_back)
    made.made[~is_cycle, :-1] = False
    made.made[~is_cycle, -1] = True
    made.kind[~is_cycle, -1] = kind[~is_cycle]
    return Moves(
        np.nonzero(made.made)[0],
        made.kind[made.made],
        np.concatenate((places[:1], made.end[made.made])),
    )
