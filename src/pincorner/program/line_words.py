"""The words of one line as the reader takes them: by the rules that need no state.

RS274/NGC, 3.3 and 3.4; what of a line is a word says `lexer.py`.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import NamedTuple

from pincorner.program.comments import UnclosedComment, split
from pincorner.program.lexer import LARGEST, WORD
from pincorner.program.modes import COOLANT, GROUP_OF_G, GROUP_OF_M, written_g
from pincorner.program.words import LONGEST_LINE, LONGEST_LINE_NUMBER

_WORDS = re.compile(f"(?:{WORD.pattern})*")
_CALL = re.compile(r"(?:N[0-9]+)?(O(?:[0-9]+|<[^>]*>|[\[#]))")
_SPLIT_NUMBER = re.compile(rb"[-+.0-9][ \t]+[.0-9]")

_KNOWN_LETTERS = frozenset("XYZIJKRPQLFSTHD")
_UNKNOWN_LETTERS = {
    "A": "turns an axis", "B": "turns an axis", "C": "turns an axis",
    "U": "moves a further axis", "V": "moves a further axis", "W": "moves a further axis",
    "O": "calls a subprogram; what it does is not followed",
}  # fmt: skip


class NotRead(Exception):
    """A line cannot be followed; the text says why, and what stands there."""


class Line(NamedTuple):
    """One line's words.

    `g`: ten times the number of the G word, by name of its modal group. `m`: numbers. `number`: by
    letter, for all others but N. `read_over`: words that a dialect names as harmless. `deleted`: it
    begins with `/`. `is_percent`: it is `%` alone. `long_number`: N has more digits than the report
    allows (3.3.1).
    """

    g: dict[str, int]
    m: list[int]
    number: dict[str, float]
    read_over: list[str]
    deleted: bool = False
    is_percent: bool = False
    long_number: bool = False


def named_axes(line: Line) -> list[int]:
    """Axes with a word on the line: 0 X, 1 Y, 2 Z."""
    return [axis for axis, letter in enumerate("XYZ") if letter in line.number]


class Parts(NamedTuple):
    """A line between its comments, blanks left out, upper case; what was odd about it."""

    parts: list[str]
    odd_comment: bool
    odd_number: bool


def parts_of(line: bytes) -> Parts:
    """Take comments and blanks out of a line. Raises NotRead."""
    if len(line) > LONGEST_LINE:
        raise NotRead(f"it is longer than {LONGEST_LINE} characters")
    try:
        texts, odd_comment = split(line)
    except UnclosedComment:
        raise NotRead("a comment is not closed, or closed without being open") from None
    odd_number, parts = False, []
    for text in texts:
        compact = text.translate(None, b" \t")
        if len(compact) < len(text) and _SPLIT_NUMBER.search(text):
            odd_number = True
        if compact:
            parts.append(compact.upper().decode("latin-1"))
    return Parts(parts, odd_comment, odd_number)


def words_of_parts(parts: list[str], harmless: Collection[str] = ()) -> Line:
    """The words of a line's parts; those of `harmless` (`G91.1`) are read over. Raises NotRead."""
    if parts == ["%"]:
        return Line({}, [], {}, [], is_percent=True)
    deleted = bool(parts) and parts[0].startswith("/")
    if deleted:
        parts = [parts[0][1:], *parts[1:]]
    line = Line({}, [], {}, [], deleted)
    is_first = True
    for part in parts:
        if _WORDS.fullmatch(part) is None:
            raise NotRead(_fault(part))
        for letter, digits in WORD.findall(part):
            _add(line, letter, digits, is_first, harmless)
            if letter == "N" and len(digits) > LONGEST_LINE_NUMBER:
                line = line._replace(long_number=True)
            is_first = False
    return line


def _add(line: Line, letter: str, digits: str, is_first: bool, harmless: Collection[str]) -> None:
    value = float(digits)
    if abs(value) >= LARGEST:
        raise NotRead(f"{letter}{digits} is too large a number")
    if letter in _KNOWN_LETTERS:
        if letter in line.number:
            raise NotRead(f"{letter} stands there twice")
        if letter in "HD" and not value.is_integer():
            raise NotRead(f"{letter}{digits} is no whole number")
        line.number[letter] = value
    elif letter == "G":
        _add_g(line, value, digits, harmless)
    elif letter == "M":
        _add_m(line, value, digits, harmless)
    elif letter == "N":
        if not is_first or value < 0 or not value.is_integer():
            raise NotRead(f"N{digits} is no line number, or not the first word")
    else:
        raise NotRead(f"{letter}{digits} {_UNKNOWN_LETTERS.get(letter, 'is not known')}")


def _add_g(line: Line, value: float, digits: str, harmless: Collection[str]) -> None:
    code = round(value * 10)
    if code / 10 != value or code not in GROUP_OF_G:
        if code / 10 == value and written_g(code) in harmless:
            line.read_over.append(written_g(code))
            return
        raise NotRead(f"G{digits} is not known")
    group = GROUP_OF_G[code]
    if group in line.g:
        raise NotRead(f"{written_g(line.g[group])} and {written_g(code)} exclude each other")
    line.g[group] = code


def _add_m(line: Line, value: float, digits: str, harmless: Collection[str]) -> None:
    code = int(value)
    if code != value or code not in GROUP_OF_M:
        if code == value and f"M{code}" in harmless:
            line.read_over.append(f"M{code}")
            return
        raise NotRead(f"M{digits} is not known")
    for other in line.m:
        if other == code or GROUP_OF_M[other] == GROUP_OF_M[code] != COOLANT:
            raise NotRead(f"M{other} and M{code} exclude each other")
    line.m.append(code)


def _fault(part: str) -> str:
    """What is wrong with a part that is not all words."""
    if (call := _CALL.match(part)) is not None:
        return f"{call.group(1)} {_UNKNOWN_LETTERS['O']}"
    found = _WORDS.match(part)
    rest = part[found.end() if found else 0 :]
    shown = rest[:12].encode("ascii", "backslashreplace").decode() + (".." if rest[12:] else "")
    if "#" in rest:
        return f"{shown} uses a parameter, whose value is not known"
    if "[" in rest:
        return f"{shown} holds an expression"
    return f"{shown} is no word with a number"
