"""What one line of a program does to the controller's state, in the order of NISTIR 6556, Table 8.

Written from the rules alone and used by tests only. Where the report is silent or controllers
differ, the docstrings say how it is taken here.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from oracles.program_motions import arc, cycle
from oracles.program_refusals import ARCS, CYCLES, each_time, once
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
    times,
)
from oracles.program_words import NotReadError, Words
from pincorner.program.reader.motions import ARC, FEED, NO_TOOL, RAPID, Frame

_SHIFTS = ("G52", "G92", "G92.1", "G92.2", "G92.3")
_TAKE_AXES = ("G10", "G28", "G30", "G52", "G92")
"""Codes whose line's axis words are not for the motion that is active (3.4; G52 likewise)."""
_USED_BY = {
    "I": ARCS,
    "J": ARCS,
    "K": ARCS,
    "L": CYCLES | {"G10"},
    "P": CYCLES | {"G4", "G10", "G54.1"},
    "Q": CYCLES,
    "R": ARCS | CYCLES | {"G10"},
}
_OF_HARMLESS = frozenset("PQR")
"""Words that may belong to one that is read over, where nothing else on the line takes them."""


class TurnedError(NotReadError):
    """The program turns its coordinates itself, which is not followed."""


class Done(NamedTuple):
    """What a line did: its rows, the codes of its remarks, the state after it.

    `firsts`: reasons for a remark that is due at the first such line of a program only, by the
    names of `FIRSTS`.
    """

    rows: list[Row]
    remarks: set[str]
    firsts: set[str]
    state: State


FIRSTS = {
    "no-units": "no-units",
    "no-offset": "no-offset",
    "retract-unstated": "retract-unstated",
    "unfed": "would-stop",
    "long-number": "would-stop",
}
"""Reasons that are told once per program, and the code of the remark."""


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
    motion = line.act()
    if each_time(state, line.state, words, motion):
        line.remarks.add("would-stop")
    line.firsts |= set(once(line.state, words, motion))
    return Done(line.rows, line.remarks, line.firsts, line.state)


class _Line:
    """One line being carried out in the order of Table 8."""

    def __init__(self, state: State, words: Words, number: int, frame: Frame) -> None:
        self.before = self.state = state
        self.words = words
        self.number = number
        self.frame = frame
        self.rows: list[Row] = []
        self.remarks: set[str] = set()
        self.firsts: set[str] = set()

    def act(self) -> str:
        """What the line does beyond its modes: offsets and home before motion.

        Returns the code of the motion that it carried out, "" for none.
        """
        once = self.words.codes.get("once")
        if once in ("G28", "G30"):
            self.go_home(once)
        elif once == "G10":
            self.write_offset()
        elif once in _SHIFTS:
            self.shift()
        motion = "" if once in _TAKE_AXES else self.move()
        self.check_owners(motion)
        if self.rows and not self.state.stated_units:
            self.firsts.add("no-units")
        if self.rows and self.uses_offset() and not self.state.code:
            self.firsts.add("no-offset")
        if motion in CYCLES and not self.state.retract:
            self.firsts.add("retract-unstated")
        return motion

    def uses_offset(self) -> bool:
        """Whether the line's motions lead to other places under another work offset.

        G91 moves count, for the place that they start from was reached under one; G28 and G30 do
        not without axis words or under G91, nor does G53.
        """
        once = self.words.codes.get("once")
        if once in ("G28", "G30"):
            return bool(named(self.words.values)) and self.state.absolute
        return once != "G53"

    def check_owners(self, motion: str) -> None:
        """A word that no code on its line uses is an error (App. A); `motion` is what moved."""
        others = {code for group, code in self.words.codes.items() if group != "motion"}
        owners = {*others, motion}
        for letter, used_by in _USED_BY.items():
            if self.words.harmless and letter in _OF_HARMLESS:
                continue
            if letter in self.words.values and not owners & used_by:
                raise NotReadError(f"{letter} belongs to nothing on its line")

    def check(self) -> None:
        """What may not stand together (3.3.5, 3.4), and G68, which is our block's alone."""
        codes, once = self.words.codes, self.words.codes.get("once")
        if codes.get("rotation") == "G68":
            raise TurnedError("the program turns its coordinates")
        axes = named(self.words.values)
        if once in _TAKE_AXES and axes and codes.get("motion", "G80") != "G80":
            raise NotReadError("two codes on one line use its axis words")
        if once == "G4" and axes and "P" not in self.words.values:
            raise NotReadError("G4 takes P; some controllers take the time from an axis word")
        if not axes and codes.get("motion") in (*CYCLES, "G87", "G88"):
            raise NotReadError("a cycle names an axis")  # 3.5.16
        if once in ("G92", "G52") and not axes:
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
        """What the modes on the line are remarked for.

        G43 takes H (3.5.11), usually that of the tool in the spindle; without a tool that is known
        its number is not compared.
        """
        codes = self.words.codes
        if codes.get("compensation") in ("G41", "G42") and not self.before.compensated:
            self.remarks.add("not-read")
            self.state = self.state._replace(compensated=True)
        if codes.get("length") == "G43":
            h, tool = self.words.values.get("H"), self.state.tool
            if h is None or (tool != NO_TOOL and h != tool):
                self.remarks.add("length-differs")
        if "system" in codes:
            code = self.state.code
            if code != self.frame.code and code not in self.frame.origins_mm:
                self.remarks.add("offset-differs")
        if not self.before.rotated:
            return
        if codes.get("once") in ("G28", "G30", "G53"):
            self.remarks.add("rotation-left")
        if "system" in codes:
            nests = self.state.code != self.frame.code and self.state.code in self.frame.origins_mm
            self.remarks.add("rotation-left" if nests else "rotation-unstamped")

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
            self.state = state._replace(g92=g92, kept=times(g92, 1 / state.mm))
        elif once == "G92.3":
            self.state = state._replace(g92=times(state.kept, state.mm))
        else:
            kept = ZERO if once == "G92.1" else state.kept
            self.state = state._replace(g92=ZERO, kept=kept)
        shifts = {"G52": self.state.g52, "G92.3": self.state.g92}
        if once == "G92" or shifts.get(once, ZERO) != ZERO:
            self.remarks.add("g92-used")

    def go_home(self, once: str) -> None:
        """By way of the point, then home (3.5.8); without axis words straight home, all axes.

        By the report all axes go home; on some controllers (common practice, no source) only those
        that the line names, and the others stay.
        """
        axes = {axis for _, axis in named(self.words.values)}
        if axes:
            self.add(RAPID, self.state.target(self.words.values, self.frame))
        home = dict(zip("XYZ", self.frame.homes_mm.get(once, NOWHERE), strict=True))
        if axes and self.frame.home_named_axes:
            machine = {axis: home[axis] for axis in axes}
            self.add(RAPID, machine_target(self.state.place, machine, self.frame))
        else:
            self.add(RAPID, in_frame((home["X"], home["Y"], home["Z"]), self.frame))

    def move(self) -> str:
        """Carry out the motion that the line asks for and return its code, "" for none.

        Arc words without axis words ask for an arc; but R alone may belong to a harmless word.
        """
        values, motion = self.words.values, self.state.motion
        on_machine = self.words.codes.get("once") == "G53"
        is_arc = motion in ARCS
        of_arc = "IJK" if self.words.harmless and "motion" not in self.words.codes else "IJKR"
        if not named(values) and not (is_arc and set(of_arc) & values.keys()):
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
            if found.short:
                self.remarks.add("would-stop")
        elif motion in ("G0", "G1"):
            kind = RAPID if motion == "G0" else FEED
            self.add(kind, self.state.target(values, self.frame))
        else:
            done = cycle(self.state, values, self.frame)
            for kind, end in done.moves:
                self.add(kind, end)
            self.state = self.state._replace(z=done.z, r=done.r, cycle_plane=self.state.plane)
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
        cuts = kind != RAPID
        self.rows.append(
            Row(
                line=self.number,
                kind=kind,
                start=state.place,
                end=end,
                plane=state.plane if kind == ARC else None,
                centre=centre,
                sweep_rad=sweep_rad,
                feed=state.feed * state.mm if cuts and state.feed_mode == "G94" else math.nan,
                tool=state.tool,
                code=state.code,
                lengths=state.lengths,
            )
        )
        self.state = state._replace(place=end)


def with_modes(state: State, words: Words) -> State:
    """The state with the line's modes, in the order of Table 8."""
    codes = words.codes
    if codes.get("feed", state.feed_mode) != state.feed_mode:
        state = state._replace(feed_mode=codes["feed"], feed=math.nan, fed=False)
    if "F" in words.values:
        state = state._replace(feed=words.values["F"], fed=True)
    if "plane" in codes:
        state = state._replace(plane=("G17", "G18", "G19").index(codes["plane"]))
    if "units" in codes:
        state = state._replace(units="in" if codes["units"] == "G20" else "mm", stated_units=True)
    if "length" in codes:
        state = state._replace(lengths=codes["length"] == "G43")
    if "system" in codes:
        state = state._replace(code=_code(words))
    if "rotation" in codes:
        state = state._replace(rotated=codes["rotation"] == "G68")
    if "distance" in codes:
        state = state._replace(absolute=codes["distance"] == "G90")
    if "retract" in codes:
        state = state._replace(retract=codes["retract"])
    if "motion" in codes and codes["motion"] != state.motion:
        state = state._replace(motion=codes["motion"], z=None, r=None)  # sticky in one cycle only
    return state


def _code(words: Words) -> str:
    """The work offset that is selected, as documents write it; a dwell's P is no number of it."""
    code = words.codes["system"]
    if code != "G54.1":
        return code
    number = words.values.get("P") if words.codes.get("once") != "G4" else None
    if number is None or number != int(number) or number < 1:
        raise NotReadError("G54.1 takes P, a whole number")
    return f"G54.1 P{number:.0f}"
