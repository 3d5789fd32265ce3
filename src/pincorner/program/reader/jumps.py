"""Lines that rest on where the tool is, or say what numbers mean from there on.

Selections of work offsets, G10, G52 and G92 to G92.3, G69, and moves by machine coordinates: G28,
G30, G53. Each is carried out by itself, in the report's order (Table 8); the lines between are
read together.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from pincorner.program.reader.modes import (
    CANCEL_SHIFT,
    CODES_OF_P,
    END_ROTATION,
    HOMES,
    IN_MACHINE,
    LOCAL_SHIFT,
    OFFSET_CODES,
    OFFSET_OF_P,
    RESUME_SHIFT,
    ROTATE,
    SET_PLACE,
    SUSPEND_SHIFT,
    WRITE_OFFSET,
    written_g,
)
from pincorner.program.reader.motions import Frame
from pincorner.program.reader.state import UNKNOWN, ZERO, Place, State, added, scaled


class Jump(NamedTuple):
    """The words of such a line, NaN for none: `line` in the piece; the modes in force there.

    `form`: the number of its L word. `once`, `offset`, `rotation`: ten times a G word's number.
    """

    line: int
    x: float
    y: float
    z: float
    form: float
    p: float
    once: float
    offset: float
    rotation: float
    mm_per_unit: float
    absolute: float

    @property
    def named(self) -> dict[int, float]:
        """Numbers of its axis words in mm, by axis: 0 X, 1 Y, 2 Z."""
        numbers = enumerate((self.x, self.y, self.z))
        return {axis: at * self.mm_per_unit for axis, at in numbers if not math.isnan(at)}

    @property
    def by_way_of(self) -> bool:
        """Whether it goes to a place of the work offset in force (G28, G30; 3.5.8)."""
        return self.once in HOMES and bool(self.named) and self.absolute != 0

    @property
    def selected(self) -> str:
        """The work offset that it selects, as documents write it."""
        code = int(self.offset)
        return OFFSET_CODES[code] if code != OFFSET_OF_P else f"G54.1 P{int(self.p)}"


def change_numbers(jump: Jump, state: State) -> None:
    """What its words make of rotation, work offset and shifts, in front of its move."""
    if jump.rotation == ROTATE:
        state.rotated = True
    elif jump.rotation == END_ROTATION:
        if state.rotated:
            state.place = UNKNOWN
        state.rotated = False
    if not math.isnan(jump.offset):
        state.select(jump.selected)
    if jump.once == WRITE_OFFSET:
        state.rewrite(_written(jump, state))
    elif jump.once == LOCAL_SHIFT:
        state.local = _replaced(state.local, jump.named)
    elif jump.once == SET_PLACE:
        base = added(state.origin_of(state.code) or ZERO, state.local)
        shift = {axis: state.place[axis] - base[axis] - to for axis, to in jump.named.items()}
        state.set_by_g92 = _replaced(state.set_by_g92, shift)  # 3.5.18
        state.kept_g92 = scaled(state.set_by_g92, 1 / jump.mm_per_unit)
    elif jump.once in (CANCEL_SHIFT, SUSPEND_SHIFT):
        state.set_by_g92 = ZERO
        if jump.once == CANCEL_SHIFT:
            state.kept_g92 = ZERO
    elif jump.once == RESUME_SHIFT:
        state.set_by_g92 = scaled(state.kept_g92, jump.mm_per_unit)


def shifts_all(jump: Jump, state: State) -> bool:
    """Whether a line shifts all numbers. G92 does by any figure: it rests on where the tool is."""
    return (
        jump.once == SET_PLACE
        or (jump.once == LOCAL_SHIFT and state.local != ZERO)
        or (jump.once == RESUME_SHIFT and state.set_by_g92 != ZERO)
    )


def goes_to(jump: Jump, state: State) -> list[Place]:
    """Where a G28, G30 or G53 goes from the state's place; nowhere for other lines.

    G28 and G30 go by the line's place, then home with all axes (3.5.8), or with those named. Where
    home is not known no place is, on any axis that goes there.
    """
    frame, named = state.frame, jump.named
    if jump.once == IN_MACHINE:
        return [_with_axes(state.place, named, frame)]
    if jump.once not in HOMES:
        return []
    home_mm = frame.homes_mm.get(written_g(int(jump.once)), UNKNOWN)
    if not named:
        return [_in_frame(home_mm, frame)]
    base = state.shift if jump.absolute else state.place
    by_way_of = _replaced(state.place, {axis: at + base[axis] for axis, at in named.items()})
    if not frame.home_named_axes:
        return [by_way_of, _in_frame(home_mm, frame)]
    return [by_way_of, _with_axes(by_way_of, {axis: home_mm[axis] for axis in named}, frame)]


def machine_z(jump: Jump, frame: Frame) -> float | None:
    """The machine Z that it sends the gauge point to, NaN where that is not known; None: none."""
    if jump.once == IN_MACHINE:
        return jump.named.get(2)
    if jump.once not in HOMES or (jump.named and frame.home_named_axes and 2 not in jump.named):
        return None
    return frame.homes_mm.get(written_g(int(jump.once)), UNKNOWN)[2]


def _written(jump: Jump, state: State) -> frozenset[str]:
    """The work offsets that a G10 line writes; L20 P1 is G54 or G54.1 P1, by the controller."""
    if jump.p == 0:
        return frozenset({state.code})  # common practice: the one in force
    codes = {CODES_OF_P[int(jump.p)]} if jump.p in CODES_OF_P else set()
    return frozenset(codes | ({f"G54.1 P{int(jump.p)}"} if jump.form == 20 else set()))


def _replaced(place: Place, numbers: dict[int, float]) -> Place:
    x, y, z = (numbers.get(axis, old) for axis, old in enumerate(place))
    return (x, y, z)


def _in_frame(place: Place, frame: Frame) -> Place:
    """Where a machine place lies in the frame; NaN on the axes that are not known."""
    x, y = _turned(place[0], place[1], frame.machine_angle_rad)
    origin = frame.machine_origin_mm
    return (origin[0] + x, origin[1] + y, origin[2] + place[2])


def _in_machine(place: Place, frame: Frame) -> Place:
    """The inverse of `_in_frame`."""
    origin = frame.machine_origin_mm
    x, y = _turned(place[0] - origin[0], place[1] - origin[1], -frame.machine_angle_rad)
    return (x, y, place[2] - origin[2])


def _with_axes(place: Place, named: dict[int, float], frame: Frame) -> Place:
    """A place of the frame with some of its machine coordinates replaced, by axis.

    The others stay exactly as they are, but for X and Y of turned axes, which go together.
    """
    moved = _in_frame(_replaced(_in_machine(place, frame), named), frame)
    changed = set(named)
    if frame.machine_angle_rad != 0 and changed & {0, 1}:
        changed |= {0, 1}
    x, y, z = (moved[axis] if axis in changed else place[axis] for axis in range(3))
    return (x, y, z)


def _turned(x: float, y: float, angle_rad: float) -> tuple[float, float]:
    if angle_rad == 0:
        return x, y  # a coordinate that is not known leaves the other alone
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return c * x - s * y, s * x + c * y
