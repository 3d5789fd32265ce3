"""What one line of a program does to the controller's state, in the order of NISTIR 6556, Table 8.

Written from the rules alone and used by tests only. Where the report is silent or controllers
differ, the docstrings say how it is taken here.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from oracles.program_motions import arc, cycle
from oracles.program_state import (
    NOWHERE,
    ZERO,
    Point,
    Row,
    State,
    in_frame,
    machine_target,
    named,
    shifted,
)
from oracles.program_words import NotReadError, Words
from pincorner.program.motions import ARC, FEED, RAPID, Frame

_SHIFTS = ("G52", "G92", "G92.3")
_NO_MOTION = ("G4", "G10", "G28", "G30", *_SHIFTS)
"""Codes whose line's axis words are not for the motion that is active."""
_ARC = frozenset({"G2", "G3"})
_CYCLE = frozenset({"G81", "G82", "G83", "G84", "G85", "G86", "G89"})
_USED_BY = {
    "I": _ARC,
    "J": _ARC,
    "K": _ARC,
    "L": _CYCLE | {"G10"},
    "P": _CYCLE | {"G4", "G10", "G54.1"},
    "Q": _CYCLE,
    "R": _ARC | _CYCLE | {"G10"},
}


class TurnedError(NotReadError):
    """The program turns its coordinates itself, which is not followed."""


class Done(NamedTuple):
    """What a line did: its rows, the codes of its remarks, the state after it."""

    rows: list[Row]
    remarks: set[str]
    state: State


def carry_out(state: State, words: Words, number: int, frame: Frame, t_changes: bool) -> Done:
    """Carry a line out from `state`; raises NotReadError where that cannot be done.

    `t_changes`: T puts the tool in, because the program has no M6.
    """
    line = _Line(state, words, number, frame)
    line.check()
    line.tool(t_changes)
    line.state = with_modes(line.state, words)
    line.change_of_numbers()
    line.remark_modes()
    line.act()
    return Done(line.rows, line.remarks, line.state)


class _Line:
    """One line being carried out in the order of Table 8."""

    def __init__(self, state: State, words: Words, number: int, frame: Frame) -> None:
        self.before = self.state = state
        self.words = words
        self.number = number
        self.frame = frame
        self.rows: list[Row] = []
        self.remarks: set[str] = set()

    def act(self) -> None:
        """What the line does beyond its modes: offsets and home before motion."""
        codes, once = self.words.codes, self.words.codes.get("once")
        if once in ("G28", "G30"):
            self.go_home()
        elif once == "G10":
            self.write_offset()
        elif once in (*_SHIFTS, "G92.1", "G92.2"):
            self.shift()
        moves = once not in _NO_MOTION or (once == "G4" and "motion" in codes)
        self.check_owners(self.move() if moves else "")

    def check_owners(self, motion: str) -> None:
        """A word that no code on its line uses is an error (3.5, from memory); `motion` moved."""
        owners = {*self.words.codes.values(), motion}
        for letter, used_by in _USED_BY.items():
            if letter in self.words.values and not owners & used_by:
                raise NotReadError(f"{letter} belongs to nothing on its line")

    def check(self) -> None:
        """What may not stand together (3.3.5, 3.4), and G68, which is our block's alone."""
        codes, once = self.words.codes, self.words.codes.get("once")
        if codes.get("rotation") == "G68":
            raise TurnedError("the program turns its coordinates")
        takes_axes = once in _NO_MOTION and once not in ("G4", "G92.3")
        if takes_axes and named(self.words.values) and codes.get("motion", "G80") != "G80":
            raise NotReadError("two codes on one line use its axis words")
        if once in ("G92", "G52") and not named(self.words.values):
            raise NotReadError(f"{once} names no axis")

    def tool(self, t_changes: bool) -> None:
        """T selects, M6 changes (3.6.3, 3.7.3), in this order on one line (Table 8)."""
        state = self.state
        if "T" in self.words.values:
            state = state._replace(next_tool=int(self.words.values["T"]))
            if t_changes:
                state = state._replace(tool=state.next_tool)
        if "M6" in self.words.m:
            state = state._replace(tool=state.next_tool)
        self.state = state

    def change_of_numbers(self) -> None:
        """Another code moves nothing, but the place has other numbers (3.5.13).

        They are known where both origins are; codes of unknown origin are told as if they were the
        station's, and in those numbers nobody knows the place until an axis is sent somewhere. So
        it is where a rotation ends, for the frame is turned with it.
        """
        before, state = self.before, self.state
        both = before.known(self.frame) and state.known(self.frame)
        if (state.code != before.code and not both) or before.rotated > state.rotated:
            self.state = state._replace(place=NOWHERE)

    def remark_modes(self) -> None:
        """What the modes on the line are remarked for."""
        codes = self.words.codes
        if codes.get("compensation") in ("G41", "G42") and not self.before.compensated:
            self.remarks.add("not-read")
            self.state = self.state._replace(compensated=True)
        if "system" in codes:
            code = self.state.code
            if code != self.frame.code and code not in self.frame.origins_mm:
                self.remarks.add("offset-differs")
        turns = codes.get("once") in ("G28", "G30", "G53") or "system" in codes
        if turns and self.before.rotated:
            self.remarks.add("rotation-left")

    def write_offset(self) -> None:
        """G10 L2 and L20 write a stored origin (3.5.5; L20 is common practice, no source).

        The code that is written has no known origin from then on.
        """
        number, kind = self.words.values.get("P"), self.words.values.get("L")
        if number is None or number != int(number) or number < 0:
            raise NotReadError("G10 takes P, a whole number")
        if kind not in (2, 20) or (kind == 2 and number > 9):
            raise NotReadError("G10 is read with L2 P0 to P9, or with L20")
        self.remarks.add("offset-written")
        written = {f"G54.1 P{number:.0f}"} if kind == 20 else set()
        if number == 0:  # the code in use, common practice, no source
            written |= {self.state.code}
        elif number <= 9:
            written |= {f"G{53 + number:.0f}" if number <= 6 else f"G59.{number - 6:.0f}"}
        self.state = self.state._replace(lost_codes=self.state.lost_codes | written)
        if self.state.code in written:
            self.state = self.state._replace(place=NOWHERE)

    def shift(self) -> None:
        """G92 to G92.3 (3.5.18) and G52; none of them moves an axis."""
        once, state, values = self.words.codes["once"], self.state, self.words.values
        if once == "G52":
            self.state = state._replace(g52=shifted(state, state.g52, values))
        elif once == "G92":
            bare = state._replace(g92=ZERO).zero(self.frame)
            g92 = shifted(state, state.g92, values, bare)
            self.state = state._replace(g92=g92, kept=g92)
        elif once == "G92.3":
            self.state = state._replace(g92=state.kept)
        else:
            kept = ZERO if once == "G92.1" else state.kept
            self.state = state._replace(g92=ZERO, kept=kept)
        shifts = {"G52": self.state.g52, "G92.3": self.state.g92}
        if once == "G92" or shifts.get(once, ZERO) != ZERO:
            self.remarks.add("g92-used")

    def go_home(self) -> None:
        """By way of the point, then home (3.5.8); without axis words straight home, all axes.

        By the report all axes go home, on other controllers the named ones: the others are lost.
        """
        axes = {axis for _, axis in named(self.words.values)}
        if axes:
            self.add(RAPID, self.state.target(self.words.values, self.frame))
        home = self.frame.home_mm
        x, y, z = (
            home[i] if axis in axes or not axes else math.nan for i, axis in enumerate("XYZ")
        )
        self.add(RAPID, in_frame((x, y, z), self.frame))

    def move(self) -> str:
        """Carry out the motion that the line asks for and return its code, "" for none."""
        values, motion = self.words.values, self.state.motion
        on_machine = self.words.codes.get("once") == "G53"
        is_arc = motion in ("G2", "G3")
        if not named(values) and not (is_arc and set("IJKR") & values.keys()):
            if on_machine:
                raise NotReadError("G53 names no axis")
            return ""
        if on_machine:
            self.move_on_machine()
        elif motion == "G80":
            raise NotReadError("axis words without a code that uses them")
        elif is_arc:
            end = self.state.target(values, self.frame)
            found = arc(self.state, values, end)
            self.add(ARC, end, found.centre, found.sweep_rad)
        elif motion in ("G0", "G1"):
            kind = RAPID if motion == "G0" else FEED
            self.add(kind, self.state.target(values, self.frame))
        else:
            done = cycle(self.state, values, self.frame)
            for kind, end in done.moves:
                self.add(kind, end)
            self.state = self.state._replace(z=done.z, r=done.r)
        return motion

    def move_on_machine(self) -> None:
        """G53 with G0 or G1 (3.5.12)."""
        if self.state.motion not in ("G0", "G1"):
            raise NotReadError("G53 needs G0 or G1")
        if not self.state.absolute:
            raise NotReadError("G53 under G91")
        values = self.words.values
        machine = {axis: values[axis] * self.state.mm for _, axis in named(values)}
        kind = RAPID if self.state.motion == "G0" else FEED
        self.add(kind, machine_target(self.state.place, machine, self.frame))

    def add(
        self,
        kind: int,
        end: Point,
        centre: tuple[float, float] | None = None,
        sweep_rad: float | None = None,
    ) -> None:
        """One row from the place where the axes are; they are at its end then."""
        state = self.state
        self.rows.append(
            Row(
                line=self.number,
                kind=kind,
                start=state.place,
                end=end,
                plane=state.plane if kind == ARC else None,
                centre=centre,
                sweep_rad=sweep_rad,
                feed=state.feed if kind != RAPID and state.per_minute else math.nan,
                tool=state.tool,
                code=state.code,
                lengths=state.lengths,
            )
        )
        self.state = state._replace(place=end)


def with_modes(state: State, words: Words) -> State:
    """The state with the line's modes, in an order that makes the unit the line's own (Table 8)."""
    codes = words.codes
    if "units" in codes:
        state = state._replace(units="in" if codes["units"] == "G20" else "mm", stated_units=True)
    if "feed" in codes:
        state = state._replace(per_minute=codes["feed"] == "G94")
        if codes["feed"] != "G94":
            state = state._replace(feed=math.nan)
    if "F" in words.values and state.per_minute:
        state = state._replace(feed=words.values["F"] * state.mm)
    if "plane" in codes:
        state = state._replace(plane=("G17", "G18", "G19").index(codes["plane"]))
    if "length" in codes:
        state = state._replace(lengths=codes["length"] == "G43")
    if "system" in codes:
        state = state._replace(code=_code(words))
    if "rotation" in codes:
        state = state._replace(rotated=codes["rotation"] == "G68")
    if "distance" in codes:
        state = state._replace(absolute=codes["distance"] == "G90")
    if "retract" in codes:
        state = state._replace(old_z=codes["retract"] == "G98")
    if "motion" in codes and codes["motion"] != state.motion:
        state = state._replace(motion=codes["motion"], z=None, r=None)  # sticky in one cycle only
    return state


def _code(words: Words) -> str:
    """The work offset that is selected, as documents write it."""
    code = words.codes["system"]
    if code != "G54.1":
        return code
    number = words.values.get("P")
    if number is None or number != int(number) or number < 1:
        raise NotReadError("G54.1 takes P, a whole number")
    return f"G54.1 P{number:.0f}"
