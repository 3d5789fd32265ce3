"""What a part of a program takes from the lines in front of it: modes, as the words that set them.

Modes that change a motion as it is read (plane, units, feed ..) show in the motions themselves
(`stretches.py`) and are kept here to be named; the others (spindle, coolant, path mode ..) change
no motion, and are compared here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

from pincorner.program.reader.modes import GROUP_OF_G, HOMES, code_of, written_g
from pincorner.program.source.lexer import may_be_skipped, values_of

LineSpan = tuple[int, int]
"""First and last line."""

_WITH_NUMBER = {"cutter compensation": "D", "tool length": "H", "path": "P"}
"""Groups of G words whose mode has a number besides, by the letter of that."""

_SPINDLE = {3.0: "M3", 4.0: "M4", 5.0: "M5"}
_COOLANT = {7.0: ("mist",), 8.0: ("flood",), 9.0: ("mist", "flood")}
_DWELLS, _PECKS = ("G82", "G86", "G89"), ("G83",)

_AT_ANY_MOTION = ("cutter compensation", "path")
_AT_A_CUT = ("spindle", "mist", "flood", "overrides")


class Statement(NamedTuple):
    """A word that is in force, and its line; 0 for the lines between sections."""

    text: str
    line: int


Modes = dict[str, tuple[Statement, ...]]
"""What may be in force, by group; more than one where lines may be skipped. Groups that nothing
has stated are not there."""


@dataclass(slots=True)
class Part:
    """A part of a program's body, as it is said there.

    `before`, `after`: in force in front of it and behind it when the whole body runs. `said`: the
    line on which each group is first stated for sure. `motion`: its first motion word and the
    letters beside it. `homes`: lines with G28 or G30.
    """

    span: LineSpan
    before: Modes
    after: Modes = field(default_factory=dict)
    said: dict[str, int] = field(default_factory=dict)
    motion: tuple[str, frozenset[str]] = ("", frozenset())
    homes: set[int] = field(default_factory=set)

    def says(self, group: str, line: int | None) -> bool:
        """Whether a group is stated up to a line (None: there is no such line)."""
        return line is None or self.said.get(group, line + 1) <= line


class FirstMoves(NamedTuple):
    """Lines on which a part first moves, first moves but for G28 and G30, first cuts."""

    any: int | None
    own: int | None
    cut: int | None


def modes_of(lines: Iterable[str]) -> Modes:
    """The modes that some lines state, all of line 0."""
    modes: Modes = {}
    for line in lines:
        for group, text, _ in _said(line):
            modes[group] = (Statement(text, 0),)
    return modes


def parts_of_body(
    lines: Iterable[tuple[int, str]], start: Modes, spans: Sequence[LineSpan]
) -> list[Part]:
    """The parts of a body. `lines` with their numbers.

    `start`: the modes in which it begins. `spans`: first and last line of each part, in order.
    """
    modes, parts, waiting = dict(start), list[Part](), list(spans)
    for number, line in lines:
        while waiting and number >= waiting[0][0]:
            if parts:
                parts[-1].after = dict(modes)
            parts.append(Part(waiting.pop(0), dict(modes)))
        _carry_out(number, line, modes, parts[-1])
    if parts:
        parts[-1].after = modes
    return parts


def _carry_out(number: int, line: str, modes: Modes, part: Part) -> None:
    skippable = may_be_skipped(line)
    for group, text, letters in _said(line):
        if group == "home":
            part.homes.add(number)
            continue
        said = (Statement(text, number),)
        modes[group] = (*modes.get(group, ()), *said) if skippable else said
        if not skippable and group not in part.said:
            part.said[group] = number
            if group == "motion":
                part.motion = text, letters


def _said(line: str) -> tuple[tuple[str, str, frozenset[str]], ...]:
    """What `_said_by` tells of a line's words; lines with the same ones are many."""
    return _said_by(tuple(values_of(line)))


@lru_cache(maxsize=1024)
def _said_by(values: tuple[tuple[str, float], ...]) -> tuple[tuple[str, str, frozenset[str]], ...]:
    return tuple(_statements(values))


def _statements(values: Sequence[tuple[str, float]]) -> Iterator[tuple[str, str, frozenset[str]]]:
    """(group, word, letters beside it) of what a line's words state, in the order in which it acts.

    RS274/NGC, Table 8: F, S, T, spindle, coolant, overrides, G words. That M6 stops the spindle
    (3.6.3) is not relied on: a change by hand may not (common practice, no source).
    """
    numbers, letters = dict(values), frozenset(letter for letter, _ in values)
    for letter, group in (("F", "feed"), ("S", "speed"), ("T", "tool")):
        if letter in numbers:
            yield group, f"{letter}{numbers[letter]:g}", letters
    codes = [value for letter, value in values if letter == "M"]
    for code in codes:
        if code in _SPINDLE:
            yield "spindle", _SPINDLE[code], letters
        for group in _COOLANT.get(code, ()):
            yield group, f"M{code:g}", letters
        if code in (48, 49):
            yield "overrides", f"M{code:g}", letters
    for letter, value in values:
        g_code = code_of("G", value) if letter == "G" else None
        if g_code is not None:
            yield from _said_by_g(g_code, numbers, letters)


def _said_by_g(
    code: int, numbers: Mapping[str, float], letters: frozenset[str]
) -> Iterator[tuple[str, str, frozenset[str]]]:
    group, word = GROUP_OF_G.get(code), written_g(code)
    if code in HOMES:
        yield "home", word, letters
    elif group == "one line only":
        if code not in (40, 530):
            yield "shift", word, letters
    elif group is not None:
        beside = _WITH_NUMBER.get(group, "")
        number = f" {beside}{numbers[beside]:g}" if beside in numbers else ""
        yield group, word + number, letters


def leaned_on(part: Part, start: Modes, moves: FirstMoves) -> str:
    """The first mode that a part takes from elsewhere though no motion shows it; empty for none.

    `start`: the modes that the joint in front of it states.
    """
    if moves.any is None:
        return ""
    speed = ("speed",) if _turns(part, moves.cut) else ()
    for group in (*_AT_ANY_MOTION, *_AT_A_CUT, *speed):
        line = moves.any if group in _AT_ANY_MOTION else moves.cut
        if text := _leaned(part, group, start, line):
            return text
    for group in ("shift", "rotation"):
        for said in part.before.get(group, ()):
            if said.line and said.text != "G69":
                return _before(said)
    return _motion_leaned_on(part, start, moves.own) or _cycle_leaned_on(part)


def _leaned(part: Part, group: str, start: Modes, line: int | None) -> str:
    """What counts of a group on a line and is neither the part's own, nor the joint's.

    What no joint states stays in force from section to section. So a part may take it from before
    if it leaves it as it was: but not the speed of a spindle.
    """
    if part.says(group, line):
        return ""
    before, after = part.before.get(group, ()), part.after.get(group, ())
    given = start.get(group, ())
    if not given and group != "speed":
        given = after
    texts = {said.text for said in given}
    for said in before:
        if said.text not in texts:
            return _before(said)
    if not before and after:
        return f"what the section before it leaves on, {after[-1].text} in line {after[-1].line}"
    return ""


def _turns(part: Part, line: int | None) -> bool:
    """Whether the spindle may turn on a line: only then its speed counts."""
    before = part.before.get("spindle", ())
    return part.says("spindle", line) or any(said.text != "M5" for said in before)


def _motion_leaned_on(part: Part, start: Modes, line: int | None) -> str:
    if part.says("motion", line):
        return ""
    here = part.before.get("motion", ())
    texts = {said.text for said in start.get("motion", ())}
    others = [said for said in here if said.text not in texts]
    if others and others[-1].line:
        return _before(others[-1])
    if here and not others and here[-1].line:
        return ""
    return f"a motion word that is not stated before line {line}, where it first moves"


def _cycle_leaned_on(part: Part) -> str:
    """P or Q of a cycle that was in force already: the way over ends it, and begins it anew."""
    cycle, letters = part.motion
    needed = "P" if cycle in _DWELLS else "Q" if cycle in _PECKS else ""
    if needed and needed not in letters:
        for said in part.before.get("motion", ()):
            if said.text == cycle and said.line:
                return f"the {needed} of {_before(said)}"
    return ""


def _before(said: Statement) -> str:
    return f"{said.text} stated before it, line {said.line}"


_SHOWN_BY = {
    "feed": ("feed mode", "units", "feed"),
    "tool": ("tool",),
    "length": ("tool length",),
    "place": ("plane", "units", "distance", "motion", "retract", "rotation"),
    "lost": (),
}
_OTHERWISE = {
    "feed": "a feed of what comes before it",
    "tool": "a tool that is chosen before it",
    "length": "a tool length of what comes before it",
    "place": "places or a cycle of what comes before it",
    "lost": "places of what comes before it",
}


def named(part: Part, start: Modes, shown: str, line: int) -> str:
    """What makes a motion on a line differ, by how it shows (`stretches.Difference`)."""
    for group in _SHOWN_BY[shown]:
        texts = {said.text for said in start.get(group, ())}
        for said in part.before.get(group, ()):
            if said.text not in texts and said.line and not part.says(group, line):
                return _before(said)
    return f"{_OTHERWISE[shown]} (line {line})"


def starts_spindle(lines: Iterable[str]) -> bool:
    """Whether some lines turn the spindle on (M3 or M4, 3.6.2)."""
    return any(
        letter == "M" and code in (3, 4)
        for line in lines
        if "M" in line or "m" in line
        for letter, code in values_of(line)
    )
