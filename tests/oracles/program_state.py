"""What a controller remembers of a program, and where its words lie in the frame of the program.

Written from NISTIR 6556 (3.2 and 3.5) and the project's rules alone, used by tests only. Lengths in
mm, places in the frame of `reader.motions`; NaN on an axis whose place is not known.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from pincorner.program.reader.motions import NO_TOOL, Frame

AXES = "XYZ"
MM = {"mm": 1.0, "in": 25.4}  # exact
Point = tuple[float, float, float]
NOWHERE: Point = (math.nan, math.nan, math.nan)
ZERO: Point = (0.0, 0.0, 0.0)


class Row(NamedTuple):
    """One motion; plane, centre and sweep_rad are those of `motions.Arcs`, None for other kinds."""

    line: int
    kind: int
    start: Point
    end: Point
    plane: int | None
    centre: tuple[float, float] | None
    sweep_rad: float | None
    feed: float
    tool: int
    code: str
    lengths: bool


class State(NamedTuple):
    """Modes and places between two lines; what stands here first is where a program starts.

    A program starts as M2 leaves a controller (3.6.1): G17, G90, G94, G40, motion mode G1. The
    report does not say whether G98 or G99 holds then, nor what the G92 parameters keep.

    `code` is "" before any selection. `g92` and `g52` are shifts in mm, which stay in place when
    the unit changes. Plain numbers in the unit in force when they are used (4.3.3.3): `kept`, the
    G92 numbers in the parameters (3.5.18); `feed`; `z` and `r`, a cycle's sticky numbers (3.5.16),
    None where it has none. `lost_codes`: those whose origin the program wrote. `fed`: whether an F
    was stated in the feed mode in force; a change of feed mode forgets it.
    """

    units: str
    place: Point = NOWHERE
    stated_units: bool = False
    code: str = ""
    lost_codes: frozenset[str] = frozenset()
    g92: Point = ZERO
    kept: Point = NOWHERE
    g52: Point = ZERO
    rotated: bool = False
    motion: str = "G1"
    plane: int = 0
    absolute: bool = True
    retract: str = ""  # G98 or G99 once stated; until then cycles come up to R, the lower way
    z: float | None = None
    r: float | None = None
    cycle_plane: int | None = None
    feed_mode: str = "G94"
    feed: float = math.nan
    fed: bool = False
    lengths: bool = False
    compensated: bool = False
    next_tool: int = NO_TOOL
    tool: int = NO_TOOL

    def known(self, frame: Frame) -> bool:
        """Whether the origin of the code in use is known."""
        return self.code in frame.origins_mm and self.code not in self.lost_codes

    @property
    def mm(self) -> float:
        """Millimetres of the unit that is active."""
        return MM[self.units]

    def zero(self, frame: Frame) -> Point:
        """Where program zero of the code in use lies now, G92 and G52 included."""
        origin = frame.origins_mm[self.code] if self.known(frame) else ZERO
        return _add(origin, _add(self.g92, self.g52))

    def target(self, values: dict[str, float], frame: Frame) -> Point:
        """Where the axis words of a line lead; axes without a word stay (3.5.1)."""
        base = self.zero(frame) if self.absolute else self.place
        return _replaced(
            self.place, {axis: base[i] + values[axis] * self.mm for i, axis in named(values)}
        )


def named(values: dict[str, float]) -> list[tuple[int, str]]:
    """The axes that a line names, with their index."""
    return [(i, axis) for i, axis in enumerate(AXES) if axis in values]


def times(point: Point, factor: float) -> Point:
    """A point with its numbers multiplied: from numbers of a unit to mm, or back."""
    x, y, z = (value * factor for value in point)
    return x, y, z


def shifted(
    state: State, shift: Point, values: dict[str, float], zero: Point | None = None
) -> Point:
    """A shift with its named axes changed: to the value, or so that the place reads the value.

    `zero`: where program zero would lie without the shift; None for a shift given as such (G52).
    """
    changed = {}
    for i, axis in named(values):
        value = values[axis] * state.mm
        changed[axis] = value if zero is None else state.place[i] - zero[i] - value
    return _replaced(shift, changed)


def on_machine(place: Point, frame: Frame) -> Point:
    """A place of the frame in machine coordinates, less the turn."""
    x, y, z = (place[i] - frame.machine_origin_mm[i] for i in range(3))
    x, y = _turn(x, y, -frame.machine_angle_rad)
    return x, y, z


def in_frame(machine: Point, frame: Frame) -> Point:
    """A place in machine coordinates in the frame of the program."""
    x, y = _turn(machine[0], machine[1], frame.machine_angle_rad)
    return _add(frame.machine_origin_mm, (x, y, machine[2]))


def machine_target(place: Point, machine: dict[str, float], frame: Frame) -> Point:
    """Where machine axes lead that move to `machine`; the others stay where they are."""
    end = in_frame(_replaced(on_machine(place, frame), machine), frame)
    moved_x = "X" in machine or (frame.machine_angle_rad != 0 and "Y" in machine)
    moved_y = "Y" in machine or (frame.machine_angle_rad != 0 and "X" in machine)
    moved = (moved_x, moved_y, "Z" in machine)
    x, y, z = (end[i] if moved[i] else place[i] for i in range(3))
    return x, y, z


def _turn(x: float, y: float, angle_rad: float) -> tuple[float, float]:
    if angle_rad == 0:  # keeps an axis that is known apart from one that is not
        return x, y
    cos, sin = math.cos(angle_rad), math.sin(angle_rad)
    return x * cos - y * sin, x * sin + y * cos


def _add(a: Point, b: Point) -> Point:
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


def _replaced(point: Point, changed: dict[str, float]) -> Point:
    x, y, z = (changed.get(axis, point[i]) for i, axis in enumerate(AXES))
    return x, y, z
