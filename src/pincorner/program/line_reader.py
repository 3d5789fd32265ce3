"""Reads programs line by line: the reader that can be followed, and knows every rule.

`plain.py` does the same for long runs of plain lines. Both change one State. A line is carried out
in the report's order (Table 8), or, if it cannot be followed, not at all: then no place is known.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from pincorner.program.line_modes import set_modes, whole_number
from pincorner.program.line_motions import Carried, carry_out
from pincorner.program.line_words import Line, NotRead, named_axes, parts_of, words_of_parts
from pincorner.program.modes import (
    CYCLES,
    END_ROTATION,
    HOMES,
    IN_MACHINE,
    LENGTH_ON,
    LOCAL_SHIFT,
    NO_CYCLE,
    NO_MOTION,
    RESUME_SHIFT,
    ROTATE,
    SET_PLACE,
    WRITE_OFFSET,
    written_g,
)
from pincorner.program.motions import NO_TOOL, Frame
from pincorner.program.rows import Rows
from pincorner.program.state import UNKNOWN, ZERO, State
from pincorner.program.summary import Notes
from pincorner.program.would_stop import LONG_NUMBER, STOPS, lacks_feed, stops

_LARGEST_TOOL = 10**9


class LineReader:
    """Reads lines one after the other into rows and notes.

    `block_lines`: first and last line of a setup block, of which only modes, unit, selection and
    rotation count. `block_delete`: lines that begin with `/` may be skipped. `says_m6`: whether the
    program has an M6 anywhere, asked only where a T word stands before the first. `begun`: a line
    has moved by a work offset, and the remarks of a beginning are made; runs of lines may be read
    from then on.
    """

    def __init__(
        self,
        frame: Frame,
        notes: Notes,
        rows: Rows,
        block_lines: tuple[int, int] | None,
        block_delete: bool,
        says_m6: Callable[[], bool],
    ) -> None:
        self.state = State.at_start(frame)
        self.begun = False
        self._notes, self._rows = notes, rows
        self._block_lines = block_lines or (0, -1)
        self._block_delete = block_delete
        self._says_m6 = says_m6
        self._seen_m6 = self._told_compensation = self._opened = self._moved = False
        self._is_first = True

    def read(self, number: int, text: bytes) -> None:
        """Read the line with this number; `text` has no line end."""
        if not text.strip():
            return
        if self._block_lines[0] <= number <= self._block_lines[1]:
            self._read_block_line(number, text)
        else:
            self._read_line(number, text)
        self._is_first = False

    def lose_place(self) -> None:
        """Nothing is known of the place any more."""
        self.state.place = UNKNOWN

    def _read_line(self, number: int, text: bytes) -> None:
        try:
            parts, odd_comment, odd_number = parts_of(text)
            if odd_comment:
                self._notes.remark(
                    "odd-comment", number, "some controllers act on what its comment holds"
                )
            if odd_number:
                self._notes.remark(
                    "odd-number",
                    number,
                    "a number with blanks in it is read as if they were not there",
                )
            line = words_of_parts(parts, self.state.frame.harmless)
            if line.is_percent:
                self._percent(number, text)
            else:
                self._carry_out(number, line)
        except NotRead as reason:
            self._notes.remark("not-read", number, str(reason))
            self.lose_place()

    def _read_block_line(self, number: int, text: bytes) -> None:
        """A line of a setup block: what writes offsets is known, and is passed over."""
        try:
            line = words_of_parts(parts_of(text).parts, self.state.frame.harmless)
            state = self.state.copied()
            set_modes(line, state)
        except NotRead:
            return
        if line.g.get("motion") == NO_CYCLE:
            state.motion = NO_MOTION
        self.state = state
        self._note_unit_and_selection(number, line)

    def _percent(self, number: int, text: bytes) -> None:
        if text.strip() != b"%":
            raise NotRead("a % that shares its line with a comment")
        if self._opened:
            self._notes.ended, self._notes.end_word = number, "%"
        elif not self._is_first:
            raise NotRead("a % that neither opens nor ends the program")
        self._opened = True

    def _carry_out(self, number: int, line: Line) -> None:
        """All that a line says; or NotRead, and nothing."""
        if line.g.get("rotation") == ROTATE:
            self.state.rotated = True
            raise NotRead("G68 turns the axes; from here on places are told as if it did not")
        before, state = self.state, self.state.copied()
        set_modes(line, state)
        self._set_tool(line, state)
        carried = carry_out(line, state)
        self.state = state
        self._note(number, line, before)
        self._note_stops(number, line, before, carried)
        if carried.moves:
            self._begin(number, line, before)
            code = self._notes.index_of(state.code)
            for kind, end in carried.moves:
                self._rows.add(number, kind, end, state, code)
            if carried.arc_of is not None:
                self._rows.add_arc(*carried.arc_of)
        self._end(number, line)

    def _set_tool(self, line: Line, state: State) -> None:
        """T chooses; M6 puts the tool chosen into the spindle, T where no M6 ever comes."""
        if "T" in line.number:
            state.tool_chosen = whole_number(line, "T", 0, _LARGEST_TOOL)
        if 6 in line.m or ("T" in line.number and not self._seen_m6 and not self._says_m6()):
            state.tool = state.tool_chosen

    def _note(self, number: int, line: Line, before: State) -> None:
        """Remarks of a line that was carried out, and what the summary keeps of it."""
        notes, once, frame = self._notes, line.g.get("one line only"), before.frame
        self._note_unit_and_selection(number, line)
        code = self.state.code
        if "offset" in line.g and code != frame.code and code not in frame.origins_mm:
            notes.remark("offset-differs", number, f"it selects {code}, not {frame.code or 'none'}")
        if before.rotated and ("offset" in line.g or once in (*HOMES, IN_MACHINE)):
            notes.remark("rotation-left", number, "a rotation is on here")
        if line.g.get("tool length") == LENGTH_ON:
            notes.lengths_on.append(number)
            self._note_length(number, line)
        if once in (IN_MACHINE, *HOMES):
            self._note_machine_z(number, line, once)
        if before.rotated and line.g.get("rotation") == END_ROTATION:
            notes.rotation_ended = number
        if once == WRITE_OFFSET:
            notes.remark("offset-written", number, "G10 writes a stored offset")
        if _shifts(once, self.state):
            notes.remark("g92-used", number, f"{written_g(once or 0)} shifts all numbers")
        if line.g.get("cutter compensation", 400) != 400 and not self._told_compensation:
            self._told_compensation = True
            notes.remark("not-read", number, "cutter compensation: the path is read as programmed")
        if line.deleted and self._block_delete:
            notes.remark_once("may-be-skipped", number, "it begins with / and may be skipped")
        if 6 in line.m:
            self._seen_m6 = True
            notes.tool_changes.append((self.state.tool, number))
        if self.state.tool != NO_TOOL and self.state.tool != before.tool:
            notes.tool(self.state.tool)

    def _note_stops(self, number: int, line: Line, before: State, carried: Carried) -> None:
        """What a controller by the standard refuses, and what such a one knows and a file does not.

        A feed that is missing and long line numbers are told once: all that follows is the same.
        """
        notes, state = self._notes, self.state
        found = list(stops(line, before, state, carried))
        if lacks_feed(line, state, carried.motion) and notes.first("no feed"):
            found.append("a cut with no feed: no F is in force")
        if line.long_number and notes.first("long number"):
            found.append(LONG_NUMBER)
        if found:
            notes.remark("would-stop", number, f"{'; '.join(found)}: {STOPS}")
        if carried.motion in CYCLES and not state.retract_stated:
            notes.remark_once(
                "retract-unstated",
                number,
                "neither G98 nor G99 is stated before its cycle, which counts as retracting to R",
            )

    def _note_length(self, number: int, line: Line) -> None:
        """G43 takes H (3.5.11), the tool's own number unless it is meant otherwise."""
        tool, wanted = self.state.tool, line.number.get("H")
        if wanted is None:
            text = f"G43 without H, whose length it takes: {STOPS}"
            self._notes.remark("length-differs", number, text)
        elif tool not in (NO_TOOL, wanted):
            text = f"G43 H{wanted:g} takes the length of another tool than T{tool}, which is in"
            self._notes.remark("length-differs", number, text)

    def _note_machine_z(self, number: int, line: Line, once: int) -> None:
        """The machine Z that a line sends the gauge point to."""
        if once == IN_MACHINE:
            z_mm = line.number.get("Z", math.nan) * self.state.mm_per_unit
            moves = "Z" in line.number
        else:
            frame = self.state.frame
            z_mm = frame.homes_mm.get(written_g(once), UNKNOWN)[2]
            moves = not frame.home_named_axes or not named_axes(line) or "Z" in line.number
        if moves:
            self._notes.machine_z.append((written_g(once), z_mm, number))

    def _note_unit_and_selection(self, number: int, line: Line) -> None:
        if "units" in line.g:
            self._notes.unit("mm" if self.state.mm_per_unit == 1 else "in", number)
        if "offset" in line.g:
            self._notes.selections.append((self.state.code, number))

    def _begin(self, number: int, line: Line, before: State) -> None:
        """Something moves: the remarks that its first time deserves."""
        if self.begun:
            return
        once, frame = line.g.get("one line only"), self.state.frame
        if not self._moved:
            self._moved = True
            lost = any(map(math.isnan, before.place))
            if lost and not self.state.absolute and once not in HOMES:
                self._notes.first_increment = number
            if not self._notes.units:
                self._notes.remark(
                    "no-units", number, f"no unit is stated before; read as {frame.units}"
                )
        by_way_of = bool(named_axes(line)) and self.state.absolute
        if once == IN_MACHINE or (once in HOMES and not by_way_of):
            return  # machine coordinates, whatever the work offset
        self.begun = True
        if not self.state.code and frame.code is not None:
            self._notes.remark("no-offset", number, "no work offset is selected before")

    def _end(self, number: int, line: Line) -> None:
        """M0, M1, M60, M2 and M30 act last of all."""
        for code in line.m:
            if code in (0, 1, 60):
                self._notes.stops.append(number)
            elif code in (2, 30):
                self._notes.ended, self._notes.end_word = number, f"M{code}"


def _shifts(once: int | None, state: State) -> bool:
    """Whether a line shifts all numbers. G92 does by any figure: it rests on where the tool is."""
    return (
        once == SET_PLACE
        or (once == LOCAL_SHIFT and state.local != ZERO)
        or (once == RESUME_SHIFT and state.set_by_g92 != ZERO)
    )
