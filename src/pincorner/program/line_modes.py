"""What single lines change besides the place: modes, work offsets, shifts."""

from __future__ import annotations

import math

from pincorner.program.line_words import Line, NotRead, named_axes
from pincorner.program.modes import (
    CANCEL_SHIFT,
    CODES_OF_P,
    END_ROTATION,
    LOCAL_SHIFT,
    OFFSET_CODES,
    OFFSET_OF_P,
    PLAIN_G,
    RESUME_SHIFT,
    ROTATE,
    SET_PLACE,
    SUSPEND_SHIFT,
    WRITE_OFFSET,
)
from pincorner.program.state import UNKNOWN, ZERO, Place, State, added, scaled

_MOST_OF_P = 1000
"""Work offsets of G54.1 beyond any controller."""


def set_modes(line: Line, state: State) -> None:
    """Unit, feed, plane, lengths, rotation, work offset, distance mode, retract, in this order.

    Raises NotRead.
    """
    g, number = line.g, line.number
    if "units" in g:
        state.mm_per_unit = PLAIN_G[g["units"]][1]
    if "feed mode" in g and g["feed mode"] // 10 != state.feed_mode:
        state.feed_mode, state.feed = g["feed mode"] // 10, math.nan
    if "F" in number:
        if number["F"] < 0:
            raise NotRead("F is negative")
        state.feed = number["F"]
    if "plane" in g:
        state.plane = int(PLAIN_G[g["plane"]][1])
    if "tool length" in g:
        state.lengths = g["tool length"] == 430
    if "rotation" in g:
        if state.rotated and g["rotation"] == END_ROTATION:
            state.place = UNKNOWN
        state.rotated = g["rotation"] == ROTATE
    if "offset" in g:
        state.select(selected_code(line))
    if "distance" in g:
        state.absolute = bool(PLAIN_G[g["distance"]][1])
    if "retract" in g:
        state.retract_to_r, state.retract_stated = bool(PLAIN_G[g["retract"]][1]), True


def selected_code(line: Line) -> str:
    """The work offset that a line with a G word for it selects, as documents write it."""
    code = line.g["offset"]
    if code != OFFSET_OF_P:
        return OFFSET_CODES[code]
    return f"G54.1 P{whole_number(line, 'P', 1, _MOST_OF_P)}"


def whole_number(line: Line, letter: str, least: int, most: int) -> int:
    """The number of a word that must be whole. Raises NotRead where it is not, or is missing."""
    value = line.number.get(letter, math.nan)
    if not (value.is_integer() and least <= value <= most):
        stated = "is missing" if math.isnan(value) else f"{value:g} is not one"
        raise NotRead(f"{letter} must be a whole number from {least} to {most}: it {stated}")
    return int(value)


def change_shifts(line: Line, state: State) -> None:
    """G10, G52 and G92 to G92.3: they move nothing, but numbers mean other places behind them.

    Raises NotRead.
    """
    code = line.g["one line only"]
    if code == WRITE_OFFSET:
        state.rewrite(_written_codes(line, state))
    elif code == LOCAL_SHIFT:
        numbers = {axis: line.number["XYZ"[axis]] * state.mm_per_unit for axis in named_axes(line)}
        state.local = _replaced(state.local, numbers)
    elif code == SET_PLACE:
        state.set_by_g92 = _shift_by_place(line, state)
        state.kept_g92 = scaled(state.set_by_g92, 1 / state.mm_per_unit)
    elif code in (CANCEL_SHIFT, SUSPEND_SHIFT):
        state.set_by_g92 = ZERO
        if code == CANCEL_SHIFT:
            state.kept_g92 = ZERO
    elif code == RESUME_SHIFT:
        state.set_by_g92 = scaled(state.kept_g92, state.mm_per_unit)


def _written_codes(line: Line, state: State) -> frozenset[str]:
    """The work offsets that a G10 line writes; L20 P1 is G54 or G54.1 P1, by the controller."""
    form = whole_number(line, "L", 1, 20)
    if form not in (2, 20):
        raise NotRead(f"G10 L{form} is not known")
    named = whole_number(line, "P", 0, len(CODES_OF_P) if form == 2 else _MOST_OF_P)
    if named == 0:
        return frozenset({state.code})  # common practice: the one in force
    codes = {CODES_OF_P[named]} if named in CODES_OF_P else set()
    return frozenset(codes | ({f"G54.1 P{named}"} if form == 20 else set()))


def _shift_by_place(line: Line, state: State) -> Place:
    """The shift that gives the place these numbers (3.5.18)."""
    if not named_axes(line):
        raise NotRead("G92 without X, Y or Z")
    base = added(state.origin_of(state.code) or ZERO, state.local)
    return _replaced(
        state.set_by_g92,
        {
            axis: state.place[axis] - base[axis] - line.number["XYZ"[axis]] * state.mm_per_unit
            for axis in named_axes(line)
        },
    )


def _replaced(place: Place, numbers: dict[int, float]) -> Place:
    x, y, z = (numbers.get(axis, old) for axis, old in enumerate(place))
    return (x, y, z)
