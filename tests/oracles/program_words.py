"""The words on the lines of a program, by NISTIR 6556, section 3.3, and the project's additions.

Written from the rules alone and used by tests only: it shares no code with the product. Added to
the report: `;` comments, a `(` inside a comment (odd, but no error), the remarks on oddities.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import NamedTuple

MAX_LINE = 256  # characters, 3.3
ROTARY = "ABC"
_LETTERS = frozenset("ABCDFGHIJKLMPQRSTXYZ")  # Table 3; N may only come first
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")  # 3.3.2.1
_LINE_NUMBER = re.compile(r"[0-9]+")
_WHOLE = frozenset("DHLT")  # 3.5, 3.7: integers, not negative; D and H are read all the same
_NOT_NEGATIVE = frozenset("FLT")
_LAST_TOOL = 10**9  # no magazine holds more; a reader may keep tools in 32 bits
_M6 = re.compile(r"M0*6(?:\.0*)?(?![0-9.])")
_ODD_IN_COMMENT = re.compile(r"[%!?~\x00-\x08\x0a-\x1f\x7f]")
_ACTIVE_COMMENT = re.compile(r"[ \t]*(?:MSG|DEBUG|PRINT|LOG)[ \t]*,", re.IGNORECASE)

GROUPS = {  # Table 4; G52, G95, G54.1, G68 and G69 are common practice, no source
    "motion": ("G0", "G1", "G2", "G3", "G80", *(f"G{n}" for n in range(81, 90))),
    "plane": ("G17", "G18", "G19"),
    "distance": ("G90", "G91"),
    "feed": ("G93", "G94", "G95"),
    "units": ("G20", "G21"),
    "compensation": ("G40", "G41", "G42"),
    "length": ("G43", "G49"),
    "retract": ("G98", "G99"),
    "system": ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3", "G54.1"),
    "path": ("G61", "G61.1", "G64"),
    "rotation": ("G68", "G69"),
    "once": ("G4", "G10", "G28", "G30", "G52", "G53", "G92", "G92.1", "G92.2", "G92.3"),
}
_GROUP_OF = {code: group for group, codes in GROUPS.items() for code in codes}
COOLANT = ("M7", "M8", "M9")  # one group of Table 4, but two of them on one line both act
_M_GROUPS = {  # Table 4
    **{code: code for code in COOLANT},
    **dict.fromkeys(("M0", "M1", "M2", "M30", "M60"), "stop"),
    "M6": "tool",
    **dict.fromkeys(("M3", "M4", "M5"), "spindle"),
    **dict.fromkeys(("M48", "M49"), "override"),
}


class NotReadError(Exception):
    """The line is not carried out; the controller may have done anything on it."""


class Words(NamedTuple):
    """What a line says: its G codes by modal group, its M codes, its other words as written.

    `harmless`: whether it holds words that are read over; they are in none of the others, but that
    `m_words` counts them too. `number_digits`: of its N word, 0 without.
    """

    codes: dict[str, str]
    m: list[str]
    values: dict[str, float]
    harmless: bool = False
    m_words: int = 0
    number_digits: int = 0


class Parted(NamedTuple):
    """A line without comments and blanks, in capitals: its stretches of code between comments.

    `skippable`: it starts with a block delete. `odd_comment`, `odd_number`: the remarks due.
    """

    stretches: list[str]
    skippable: bool
    odd_comment: bool
    odd_number: bool


def lines_of(text: str | bytes) -> list[str]:
    """The lines, ended by LF, CR LF or CR; bytes become the characters of the same number."""
    data = text.encode("utf-8") if isinstance(text, str) else text
    if not data or b"\0" in data:
        raise ValueError("an empty file, or one with NUL bytes, is no program")
    characters = data.removeprefix(b"\xef\xbb\xbf").decode("latin-1")
    lines = re.split(r"\r\n|\r|\n", characters)
    return lines[:-1] if lines[-1] == "" else lines


def part(line: str) -> Parted:
    """Take a line's comments and blanks out; raises NotReadError where parentheses do not fit."""
    stretches, comments = [""], []
    odd_number = False
    at = 0
    while at < len(line):
        character = line[at]
        if character == ";":
            comments.append(line[at:])
            break
        if character == "(":
            end = line.find(")", at)
            if end < 0:
                raise NotReadError("a comment is not closed on its line")
            comments.append(line[at:end])
            stretches.append("")
            at = end + 1
            continue
        if character == ")":
            raise NotReadError("a comment is closed that was not opened")
        if character not in " \t":
            if not "!" <= character <= "~":
                raise NotReadError(f"character {character!a} is not of the language")
            inside = character in "0123456789." and stretches[-1][-1:] in tuple("0123456789.+-")
            odd_number |= inside and line[at - 1] in " \t"
            stretches[-1] += character.upper()
        at += 1
    code = [stretch for stretch in stretches if stretch]
    skippable = bool(code) and line.lstrip(" \t").startswith("/")
    if skippable:
        code = [code[0][1:], *code[1:]]
    return Parted(code, skippable, any(map(_is_odd, comments)), odd_number)


def says_m6(line: str) -> bool:
    """Whether a line changes the tool, be it one that is not read for other reasons."""
    try:
        return any(_M6.search(stretch) for stretch in part(line).stretches)
    except NotReadError:
        return False


def _is_odd(comment: str) -> bool:
    """Whether some controller may act on a comment (common practice, no source)."""
    inside = comment[1:]
    if comment.startswith("(") and ("(" in inside or _ACTIVE_COMMENT.match(inside)):
        return True
    return bool(_ODD_IN_COMMENT.search(inside))


def read_words(stretches: list[str], harmless: frozenset[str] = frozenset()) -> Words:
    """The words of a line's code; raises NotReadError for what the reader does not follow."""
    code = "".join(stretches)
    if "#" in code or "[" in code:
        raise NotReadError("parameters and expressions are not read")
    codes: list[str] = []
    values: dict[str, float] = {}
    number_digits, written = _written(stretches)
    for letter, number in written:
        if letter in "GM":
            codes.append(_code(letter, number))
        elif letter in values:
            raise NotReadError(f"two {letter} words on one line")
        else:
            values[letter] = float(number)
    _check_values(values)
    if any(letter in values for letter in ROTARY):
        raise NotReadError("rotary axes are not followed")
    kept = [code for code in codes if code not in harmless]
    m_codes = [code for code in kept if code.startswith("M")]
    _by_group(m_codes, _M_GROUPS)
    return Words(
        codes=_by_group([code for code in kept if code.startswith("G")], _GROUP_OF),
        m=m_codes,
        values=values,
        harmless=len(kept) < len(codes),
        m_words=sum(code.startswith("M") for code in codes),
        number_digits=number_digits,
    )


def _written(stretches: list[str]) -> tuple[int, list[tuple[str, str]]]:
    """How many digits N has, letter and number of each other word.

    Raises NotReadError where a word is none.
    """
    found: list[tuple[str, str]] = []
    number_digits = 0
    for i, stretch in enumerate(stretches):
        at = 0
        if i == 0 and stretch.startswith("N"):
            line_number = _LINE_NUMBER.match(stretch, 1)
            if line_number is None:
                raise NotReadError("N without a number")
            at = line_number.end()
            number_digits = at - 1
        while at < len(stretch):
            letter = stretch[at]
            if letter not in _LETTERS:
                raise NotReadError(f"{letter} starts no word")
            number = _NUMBER.match(stretch, at + 1)
            if number is None:
                raise NotReadError(f"{letter} without a number")
            found.append((letter, number.group()))
            at = number.end()
    return number_digits, found


def _code(letter: str, number: str) -> str:
    """A code as Table 5 writes it: G01, G1. and G1 are all G1."""
    value = Decimal(number)
    return f"{letter}{int(value)}" if value == int(value) else f"{letter}{value.normalize():f}"


def _check_values(values: dict[str, float]) -> None:
    for letter in _WHOLE & values.keys():
        if values[letter] != int(values[letter]):
            raise NotReadError(f"{letter} must be a whole number")
    for letter in _NOT_NEGATIVE & values.keys():
        if values[letter] < 0:
            raise NotReadError(f"{letter} must not be negative")
    if values.get("T", 0.0) > _LAST_TOOL:
        raise NotReadError("there is no such tool")


def _by_group(codes: list[str], group_of: dict[str, str]) -> dict[str, str]:
    """The codes by group; two of one group are an error (3.4), the same one twice as well."""
    found: dict[str, str] = {}
    for code in codes:
        if code not in group_of:
            raise NotReadError(f"{code} is not known")
        if group_of[code] in found:
            raise NotReadError(f"{found[group_of[code]]} and {code} are of one modal group")
        found[group_of[code]] = code
    return found
