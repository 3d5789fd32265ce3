"""Runs of plain lines, carried out all at once.

What a single line does stands in `line_reader.py`; here the same rules act on columns: an absolute
number holds from its word to the next, increments add up. Lines that turn out not to be plain after
all (an arc that cannot be, a word that belongs to nothing) are given back, and then nothing of the
run has been carried out.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from pincorner.program.arcs import AXES, end_tolerance_mm, in_plane, turns
from pincorner.program.drilling import Moves, levels_of, moves_of
from pincorner.program.modes import (
    DISTANCE,
    MOTION,
    NO_MOTION,
    OFFSET,
    OFFSET_CODES,
    PER_MINUTE,
    PER_TIME,
    PLANE,
    RETRACT,
    UNITS,
)
from pincorner.program.motions import ARC, RAPID, Arcs, Floats, Ints, Motions, beside
from pincorner.program.rows import Rows
from pincorner.program.run import Each, Flags, Run, held
from pincorner.program.state import State
from pincorner.program.summary import Notes
from pincorner.program.words import Words


def carry_out(
    words: Words, lines: tuple[int, int], piece_line: int, state: State, notes: Notes, rows: Rows
) -> Ints | None:
    """Carry out the lines of a piece from the first index up to the second.

    `piece_line` is the number of the piece's first line. Returns None, or the lines that must be
    read singly; then nothing has been changed.
    """
    run = Run(words, *lines, state)
    motion = run.motion
    is_arc, is_cycle = (motion == 2) | (motion == 3), motion > 3
    offsets = _offsets(run, state)
    places = _places(run, state, offsets.shift)
    r_rows = run.own("R", is_arc | is_cycle)
    for letter in "PQ":
        run.own(letter, is_cycle)
    run.refuse_rows(motion == NO_MOTION)
    if "F" in run.by:
        run.refuse(run.by["F"].line[run.by["F"].value < 0])
    _refuse_what_stops(run, words, motion, state, notes)
    kind = np.minimum(motion, ARC).astype(np.int64)
    levels = None
    if is_cycle.any():
        _refuse_first_without_retract(run, state, notes, is_cycle)
        levels = levels_of(run, state, offsets.shift[2], r_rows, is_cycle)
        places[:, 2] = levels.tool_z
    arcs = _arcs(run, state, places, r_rows, motion, is_arc)
    refused = run.refused()
    if refused is not None:
        return refused

    if levels is None:
        moves = Moves(np.s_[:], kind, places)
    else:
        moves = moves_of(run, places, kind, levels, is_cycle)
        state.cycle_r, state.cycle_z = levels.kept
    rows.extend(_motions(run, piece_line, moves, arcs, state, _codes(run, offsets, state, notes)))
    _leave(run, piece_line, offsets, moves, state, notes)
    return None


def _refuse_what_stops(run: Run, words: Words, motion: Floats, state: State, notes: Notes) -> None:
    """Lines that a controller by the standard refuses are told one by one, by the reader of lines.

    What `would_stop.py` has of lines that are plain otherwise.
    """
    stated = run.by.get(MOTION)
    if stated is not None and run.count < len(run.has_row):
        bare = (stated.value >= 0) & (stated.value <= 3)
        run.refuse(stated.line[bare & ~run.has_row.take(stated.line - run.first)])
    by_time = state.feed_mode == PER_TIME
    if by_time:
        run.refuse_rows(motion > 3)  # cycles
    if "no feed" not in notes.told and (by_time or math.isnan(state.feed)):
        cuts = motion != 0
        if by_time:
            cuts[_own_rows(run, "F")] = False
        elif "F" in run.by:
            cuts = cuts[: int(run.rows_of(run.by["F"])[0])]
        run.refuse_first(cuts)
    if words.long_numbers.size and "long number" not in notes.told:
        low, high = words.long_numbers.searchsorted((run.first, run.first + len(run.has_row)))
        run.refuse(words.long_numbers[low : min(low + 1, high)])


def _own_rows(run: Run, letter: str) -> Ints:
    """Rows that have a word of this letter on their own line."""
    column = run.by.get(letter)
    if column is None:
        return np.empty(0, np.int64)
    return run.rows_of(column)[run.has_row.take(column.line - run.first)]


def _refuse_first_without_retract(run: Run, state: State, notes: Notes, is_cycle: Flags) -> None:
    """The first cycle in front of any G98 or G99 is told by the reader of lines."""
    if state.retract_stated or "retract-unstated" in notes.counts:
        return
    stated = run.by.get(RETRACT)
    run.refuse_first(is_cycle if stated is None else is_cycle[: int(run.rows_of(stated)[0])])


class _Offsets(NamedTuple):
    """Selections of work offsets: their rows and codes; what is added to numbers, by axis."""

    rows: Ints
    codes: list[str]
    shift: tuple[Each, Each, Each]


def _offsets(run: Run, state: State) -> _Offsets:
    none = _Offsets(np.empty(0, np.int64), [], state.shift)
    column = run.by.get(OFFSET)
    if column is None:
        return none
    codes = [OFFSET_CODES[int(code)] for code in column.value]
    if state.rotated or any(state.origin_of(code) is None for code in {state.code, *codes}):
        run.refuse(column.line)
        return none
    rows = run.rows_of(column)
    shifts = np.array([state.shift_of(code) for code in codes])
    x, y, z = (held(rows, shifts[:, axis], now, run.count) for axis, now in enumerate(state.shift))
    return _Offsets(rows, codes, (x, y, z))


def _places(run: Run, state: State, shift: tuple[Each, Each, Each]) -> Floats:
    """(rows + 1, 3): the place before the run and behind each row."""
    places = np.empty((run.count + 1, 3))
    places[0] = state.place
    for axis, letter in enumerate("XYZ"):
        column = run.by.get(letter)
        if column is None:
            places[1:, axis] = state.place[axis]
            continue
        rows, number, there = run.rows_of(column), run.mm(column), shift[axis]
        place = number + (there if isinstance(there, float) else there[rows])
        places[1:, axis] = (
            held(rows, place, state.place[axis], run.count)
            if run.all_places
            else _along(rows, number, place, run.is_place(column), state.place[axis], run.count)
        )
    return places


def _along(
    rows: Ints, number: Floats, place: Floats, is_place: Flags, before: float, count: int
) -> Floats:
    """One axis at `count` rows: some numbers are places, the others increments."""
    steps = np.zeros(count)
    steps[rows] = np.where(is_place, 0.0, number)
    moved = steps.cumsum()
    fixed = rows[is_place]
    return moved + held(fixed, place[is_place] - moved[fixed], before, count)


def _arcs(
    run: Run,
    state: State,
    places: Floats,
    r_words: tuple[Ints, Floats],
    motion: Floats,
    is_arc: Flags,
) -> Arcs | None:
    """The arcs of a run, if any; those that cannot be, or that may be refused, are refused here."""
    if not is_arc.any() and run.by.keys().isdisjoint("IJK"):
        return None
    at = np.flatnonzero(is_arc)
    arc_of_row = np.cumsum(is_arc) - 1
    plane_of_row = run.mode(PLANE, state.plane).astype(np.int64)
    plane, third = plane_of_row.take(at), AXES[:, 2].take(plane_of_row)
    offset, size = np.zeros((len(at), 3)), np.full(len(at), np.nan)
    has_offset = np.zeros(len(at), np.bool_)
    for axis, letter in enumerate("IJK"):
        if letter in run.by:
            rows, number = run.own(letter, is_arc & (third != axis))
            offset[arc_of_row[rows], axis] = number * run.unit_at(rows)
            has_offset[arc_of_row[rows]] = True
    rows, number = r_words
    of_arcs = is_arc[rows]
    size[arc_of_row[rows[of_arcs]]] = (number * run.unit_at(rows))[of_arcs]
    run.refuse(run.line[at[has_offset != np.isnan(size)]])
    run.refuse(run.line[at[~_named_in_plane(run, plane_of_row).take(at)]])
    arcs = turns(
        in_plane(places.take(at, axis=0), plane),
        in_plane(places.take(at + 1, axis=0), plane),
        in_plane(offset, plane),
        size,
        motion.take(at) == 3,
        end_tolerance_mm(run.mode(UNITS, state.mm_per_unit).take(at)),
    )
    run.refuse(run.line[at[arcs.impossible | arcs.short]])
    return Arcs(plane, arcs.centre.view(np.float64).reshape(-1, 2), arcs.sweep_rad)


def _named_in_plane(run: Run, plane: Ints) -> Flags:
    """Rows with a word of an axis of their plane."""
    found = np.zeros(run.count, np.bool_)
    for axis, letter in enumerate("XYZ"):
        column = run.by.get(letter)
        if column is not None:
            rows = run.rows_of(column)
            found[rows[AXES[plane.take(rows), 2] != axis]] = True
    return found


def _codes(run: Run, offsets: _Offsets, state: State, notes: Notes) -> Ints:
    """Index of the work offset at each row; those without rows get none."""
    starts = [0, *offsets.rows.tolist(), run.count]
    indices = [
        notes.index_of(code) if low < high else 0
        for code, low, high in zip((state.code, *offsets.codes), starts, starts[1:], strict=False)
    ]
    if len(indices) == 1:
        return np.full(run.count, indices[0])
    return held(offsets.rows, np.array(indices[1:]), indices[0], run.count).astype(np.int64)


def _motions(
    run: Run, piece_line: int, moves: Moves, arcs: Arcs | None, state: State, code: Ints
) -> Motions:
    count, columns = len(moves.kind), beside(moves.kind, arcs)
    return Motions(
        line=run.line[moves.row] + piece_line,
        kind=moves.kind,
        start=moves.places[:-1],
        end=moves.places[1:],
        feed=np.where(moves.kind == RAPID, np.nan, _feeds(run, state)[moves.row]),
        tool=np.full(count, state.tool),
        code=code[moves.row],
        lengths=np.full(count, state.lengths),
        plane=columns.plane,
        centre=columns.centre,
        sweep_rad=columns.sweep_rad,
    )


def _feeds(run: Run, state: State) -> Floats:
    column = run.by.get("F")
    if state.feed_mode != PER_MINUTE or (column is None and UNITS not in run.by):
        return np.full(run.count, state.feed_mm_per_min)
    rows, number = (
        (np.empty(0, np.int64), np.empty(0))
        if column is None
        else (run.rows_of(column), column.value)
    )
    return held(rows, number, state.feed, run.count) * run.mode(UNITS, state.mm_per_unit)


def _leave(
    run: Run, piece_line: int, offsets: _Offsets, moves: Moves, state: State, notes: Notes
) -> None:
    """Bring state and notes to the end of the run."""
    last = {key: column.value[-1] for key, column in run.by.items()}
    state.motion = int(last.get(MOTION, state.motion))
    state.plane = int(last.get(PLANE, state.plane))
    state.absolute = bool(last.get(DISTANCE, state.absolute))
    state.retract_to_r = bool(last.get(RETRACT, state.retract_to_r))
    state.retract_stated |= RETRACT in run.by
    state.feed = float(last.get("F", state.feed))
    if UNITS in run.by:
        for line, value in zip(*run.by[UNITS], strict=True):
            notes.unit("mm" if value == 1 else "in", int(line) + piece_line)
        state.mm_per_unit = float(last[UNITS])
    if OFFSET in run.by:
        lines = (run.by[OFFSET].line + piece_line).tolist()
        notes.selections += zip(offsets.codes, lines, strict=True)
        state.code = offsets.codes[-1]
    x, y, z = moves.places[-1].tolist()
    state.place = (x, y, z)
