"""Where a program stands: the modes in force and the place of the tool.

A stretch of lines begins with the State that the one in front of it left, and is carried out on a
copy of it, which counts once the whole stretch does (`reading.py`). Places are in the frame of the
program (motions.Frame), so that selecting another work offset changes `shift` and moves nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from operator import attrgetter

from pincorner.program.reader.modes import PER_MINUTE
from pincorner.program.reader.motions import NO_TOOL, Frame
from pincorner.units import MM_PER_INCH

Place = tuple[float, float, float]

UNKNOWN: Place = (math.nan, math.nan, math.nan)
ZERO: Place = (0.0, 0.0, 0.0)


def added(first: Place, second: Place) -> Place:
    """The sum of two vectors."""
    return (first[0] + second[0], first[1] + second[1], first[2] + second[2])


def scaled(vector: Place, factor: float) -> Place:
    """A vector times a number."""
    return (vector[0] * factor, vector[1] * factor, vector[2] * factor)


@dataclass(slots=True)
class State:
    """Modes and place; lengths in mm, but for what a controller keeps as plain numbers.

    Those are read in the unit in force when they are used (RS274/NGC, 4.3.3.3): `feed`, as last
    stated in this feed mode; `cycle_r` and `cycle_z`, the depth, of the cycle in force, in
    `cycle_plane`; `kept_g92`, what G92.3
    brings back, which stands in the controller at first. NaN: none, or not known.

    `motion`: number of the G word, NO_MOTION behind G80. `mm_per_unit`: of the unit in force.
    `plane` indexes motions.AXES_OF_PLANE. `feed_mode`: 93, 94 or 95. `retract_stated`: whether G98
    or G99 was; before, cycles count as retracting to R, which is the lower way. `code`: the work
    offset selected, "" for none. `local`, `set_by_g92`: shifts of G52 and G92. `tool_chosen`: by
    the last T word. `rewritten`: offsets that the program itself wrote, of which nothing is known
    any more.
    """

    frame: Frame
    place: Place = UNKNOWN
    motion: int = 1
    mm_per_unit: float = 1.0
    absolute: bool = True
    plane: int = 0
    feed: float = math.nan
    feed_mode: int = PER_MINUTE
    retract_to_r: bool = True
    retract_stated: bool = False
    code: str = ""
    local: Place = ZERO
    set_by_g92: Place = ZERO
    kept_g92: Place = UNKNOWN
    cycle_r: float = math.nan
    cycle_z: float = math.nan
    cycle_plane: int = -1
    tool: int = NO_TOOL
    tool_chosen: int = NO_TOOL
    lengths: bool = False
    rotated: bool = False
    rewritten: frozenset[str] = field(default_factory=frozenset)

    @classmethod
    def at_start(cls, frame: Frame) -> State:
        """What M2 of an earlier program leaves (RS274/NGC, 3.6.1): G1, G17, G90, G94, no shift.

        It leaves G98 or G99, the unit and tool lengths as they were: the frame's unit counts. No
        place and no work offset is known.
        """
        return cls(frame, mm_per_unit=MM_PER_INCH if frame.units == "in" else 1.0)

    @classmethod
    def behind_block(cls, frame: Frame) -> State:
        """The same where a setup block ran since and left its rotation on: its work offset is
        selected, and both stay until the program says otherwise."""
        state = cls.at_start(frame)
        state.code, state.rotated = frame.code or "", True
        return state

    def copied(self) -> State:
        """A state that may be changed while this one stays."""
        return State(*_VALUES(self))

    def origin_of(self, code: str) -> Place | None:
        """Origin of a work offset in the frame; None where it is not known."""
        if code in self.rewritten:
            return None
        known = self.frame.origins_mm.get(code)
        return ZERO if known is None and code == self.frame.code else known

    def shift_of(self, code: str) -> Place:
        """What is added to a number under a work offset; an unknown one counts as the station's."""
        return added(added(self.origin_of(code) or ZERO, self.local), self.set_by_g92)

    @property
    def feed_mm_per_min(self) -> float:
        """The feed in force; NaN where none is stated, or it is no length per minute."""
        return self.feed * self.mm_per_unit if self.feed_mode == PER_MINUTE else math.nan

    @property
    def shift(self) -> Place:
        """The same for the work offset in force."""
        return self.shift_of(self.code)

    def select(self, code: str) -> None:
        """Another work offset; the place has numbers in it only if both origins are known."""
        if code != self.code and (
            self.origin_of(code) is None or self.origin_of(self.code) is None
        ):
            self.place = UNKNOWN
        self.code = code

    def rewrite(self, codes: frozenset[str]) -> None:
        """The program stores other origins for these offsets."""
        self.rewritten |= codes
        if self.code in codes:
            self.place = UNKNOWN


_VALUES = attrgetter(*(each.name for each in fields(State)))
