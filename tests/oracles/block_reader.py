"""A reader of setup blocks, written from NISTIR 6556 and used by tests only.

It executes RS274/NGC line by line as far as a setup block needs it: modes, offsets, parameters.
Motion is recorded, not checked: feed rates, arc geometry, tool tables and canned cycles' words are
outside it. It shares no code with the product. Rules that are not in references/rs274ngc.yaml are
marked "from memory"; the extensions are common practice, from memory, as the guide has them.
"""

import copy
import re

from oracles.block_rules import EXTENSIONS, GROUPS, check_codes, check_words, motion_to_be
from oracles.block_state import (
    EXTENDED,
    MM_PER_INCH,
    MachineState,
    first_parameter,
    machine_point,
    program_angle_deg,
    program_origin,
    stored,
)
from oracles.block_words import AXES, Fault, Line, read_line, whole

__all__ = [
    "EXTENDED",
    "EXTENSIONS",
    "MachineState",
    "ReadError",
    "machine_point",
    "program_angle_deg",
    "program_origin",
    "read_block",
]

_MESSAGE = re.compile(r"\s*M\s*S\s*G\s*,", re.IGNORECASE)


class ReadError(Exception):
    """The report, or the extension asked for, makes this line an error."""

    def __init__(self, line_number: int, text: str, reason: str) -> None:
        super().__init__(f"line {line_number}: {reason}: {text}")
        self.line_number = line_number
        self.text = text
        self.reason = reason


def read_block(
    text: str, state: MachineState | None = None, extensions: frozenset[str] = frozenset()
) -> MachineState:
    """Execute every line on a copy of `state` (default: MachineState()) and return the copy.

    Raises ReadError for the first line that is an error, ValueError for an unknown extension.
    """
    if unknown := extensions - EXTENSIONS:
        raise ValueError(f"no such extension: {', '.join(sorted(unknown))}")
    s = copy.deepcopy(state) if state is not None else MachineState()
    s.extensions, s.ended = extensions, False
    lines = [line.removesuffix("\r") for line in text.split("\n")]
    first, last = _between_percents(lines)
    for number in range(first, last + 1):
        line_text = lines[number - 1]
        if s.block_delete and line_text.lstrip(" \t").startswith("/"):
            continue
        try:
            _execute(read_line(line_text, s.parameters), s, f"line {number}: {line_text}")
        except Fault as fault:
            raise ReadError(number, line_text, str(fault)) from fault
        if s.ended:
            break
    return s


def _between_percents(lines: list[str]) -> tuple[int, int]:
    """Numbers of the first and last line to execute; the rules for % are from memory of 3.2/3.3."""
    percents = [n for n, line in enumerate(lines, 1) if line.strip(" \t") == "%"]
    if not percents:
        return 1, len(lines)
    if any(line.strip(" \t") for line in lines[: percents[0] - 1]):
        raise ReadError(percents[0], lines[percents[0] - 1], "% must be the first line")
    if len(percents) == 1:
        raise ReadError(percents[0], lines[percents[0] - 1], "no second % ends the program")
    return percents[0] + 1, percents[1] - 1


def _execute(line: Line, s: MachineState, where: str) -> None:
    """Check one line as a whole, then do what it says in the order of Table 8."""
    code = check_codes(line, s.extensions)
    motion = motion_to_be(line, s.motion)
    check_words(line, motion, s.distance)
    s.parameters.update(line.settings)
    s.comments += line.comments
    for comment in line.comments:
        if found := _MESSAGE.match(comment):
            s.messages.append(comment[found.end() :])
    s.codes += [*line.g_codes, *(f"M{m}" for m in line.m_codes)]
    s.settings |= {letter: line.words[letter] for letter in "FST" if letter in line.words}
    if 6 in line.m_codes:
        s.moves.append(where)  # a tool change may move axes, 3.6.3, from memory
    if "unit" in code:
        _change_unit(s, "in" if code["unit"] == "G20" else "mm")
    for group in ("plane", "cutter_comp", "tool_length", "feed_mode", "path", "retract"):
        setattr(s, group, code.get(group, getattr(s, group)))
    if code.get("rotation") == "G69":
        s.g68 = None
    if "system" in code:
        _select(line, s, code["system"])
    s.distance = code.get("distance", s.distance)
    _do_non_modal(line, s, code.get("non-modal"), where)
    if code.get("rotation") == "G68":
        _rotate(line, s)
    s.motion = code.get("motion", s.motion)
    if motion:
        _move(line, s, motion, where)
    if 2 in line.m_codes or 30 in line.m_codes:
        _end(s)


def _forbid(s: MachineState, what: str, *, comp: bool = True, turned: bool = True) -> None:
    """Changes of offsets under cutter compensation (3.5.13) or rotation (from memory)."""
    if comp and s.cutter_comp != "G40":
        raise Fault(f"{what} while cutter compensation is on")
    if turned and s.g68:
        raise Fault(f"{what} while the rotation of G68 is on")


def _change_unit(s: MachineState, unit: str) -> None:
    if unit == s.unit:
        return
    _forbid(s, "a change of units", turned=False)  # from memory
    factor = MM_PER_INCH if unit == "mm" else 1 / MM_PER_INCH
    for lengths in (s.origin, s.g92, s.g52, s.position or {}):
        lengths.update({axis: lengths[axis] * factor for axis in "XYZ" if axis in lengths})
    if s.g68:
        s.g68 = (s.g68[0] * factor, s.g68[1] * factor, s.g68[2])
    if "converts" in s.extensions:
        systems = [*range(1, 10), *range(EXTENDED + 1, EXTENDED + 49)]
        for first in (5161, 5181, 5211, *map(first_parameter, systems)):
            for number in range(first, first + 3):
                s.parameters[number] = s.parameters.get(number, 0.0) * factor
    s.unit = unit


def _select(line: Line, s: MachineState, code: str) -> None:
    _forbid(s, code)
    if code == "G54.1":
        system = EXTENDED + _numbered(line, 48)
    else:
        system = GROUPS["system"].index(code) + 1
        s.parameters[5220] = float(system)
    if system != s.system:  # the one that is active already keeps what acts, as observed
        s.system, s.origin = system, stored(s, first_parameter(system))


def _numbered(line: Line, last: int) -> int:
    number = whole(line.words["P"], "P")
    if not 1 <= number <= last:
        raise Fault(f"P must be 1 to {last}, not {number}")
    return number


def _do_non_modal(line: Line, s: MachineState, code: str | None, where: str) -> None:
    if code == "G10":
        _write_origin(line, s)
    elif code in ("G28", "G30"):
        _forbid(s, code)  # from memory
        s.moves.append(where)
        s.position = stored(s, 5161 if code == "G28" else 5181)  # G30's numbers from memory
    elif code == "G52":
        _forbid(s, code)
        s.g52.update({axis: line.words[axis] for axis in AXES if axis in line.words})
    elif code and code.startswith("G92"):
        _forbid(s, code)
        _offset_axes(line, s, code)


def _write_origin(line: Line, s: MachineState) -> None:
    """G10 (3.5.5); L20 and R by extension only."""
    _forbid(s, "G10", comp=False)
    which = whole(line.words["L"], "L")
    further = which == 20 and "g54.1" in s.extensions
    if which != 2 and not further:
        raise Fault(f"G10 L{which} is not known")
    if "six" in s.extensions and s.distance == "G91":
        raise Fault("G10 under G91 adds to the stored origin on some controllers")
    last = 48 if further else 6 if "six" in s.extensions else 9
    system = _numbered(line, last) + (EXTENDED if further else 0)
    if "R" in line.words:
        if "r-word" not in s.extensions or further:
            raise Fault("no code on the line uses its R word")
        s.rotations_deg[system] = line.words["R"]
    for number, axis in enumerate(AXES, first_parameter(system)):
        if axis in line.words:
            s.parameters[number] = line.words[axis]
    if system == s.system:
        s.origin = stored(s, first_parameter(system))


def _offset_axes(line: Line, s: MachineState, code: str) -> None:
    """G92 to G92.3 (3.5.18)."""
    if code == "G92":
        if s.position is None or s.tool_length != "G49" or program_angle_deg(s):
            raise Fault("G92 at a position that this reader cannot tell")
        for axis in AXES:
            if axis in line.words:
                here = s.position[axis] - s.origin[axis] - s.g52[axis]
                s.g92[axis] = here - line.words[axis]
    elif code == "G92.3":
        s.g92 = stored(s, 5211)
    else:
        s.g92 = dict.fromkeys(AXES, 0.0)
    if code in ("G92", "G92.1"):
        s.parameters.update(zip(range(5211, 5217), s.g92.values(), strict=True))


def _rotate(line: Line, s: MachineState) -> None:
    _forbid(s, "G68", turned=False)
    if s.plane != "G17":
        raise Fault("G68 is read in the XY plane only")
    s.g68 = (line.words["X"], line.words["Y"], line.words["R"])


def _move(line: Line, s: MachineState, motion: str, where: str) -> None:
    s.moves.append(where)
    if "G53" in line.g_codes:
        _forbid(s, "G53", turned=False)  # from memory
    if motion not in ("G0", "G1", "G2", "G3") or program_angle_deg(s):
        s.position = None
    if s.position is None:
        return
    for axis in set(AXES) & line.words.keys():
        start = s.origin[axis] + s.g92[axis] + s.g52[axis]
        if "G53" in line.g_codes:
            start = 0.0
        elif s.distance == "G91":
            start = s.position[axis]
        s.position[axis] = start + line.words[axis]


def _end(s: MachineState) -> None:
    """M2 and M30 (3.6.1): like G92.2, so that parameters 5211 to 5216 stay (from memory)."""
    s.g92 = dict.fromkeys(AXES, 0.0)
    s.system, s.parameters[5220] = 1, 1.0
    s.origin = stored(s, first_parameter(1))
    s.plane, s.distance, s.feed_mode, s.cutter_comp = "G17", "G90", "G94", "G40"
    s.motion, s.g68, s.ended = "G1", None, True
