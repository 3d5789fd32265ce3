"""The words of one line of a program with their places: for all that edits a line or asks about it.

A line is text of one character for each byte. The reader has the words of many lines as columns
(`reader/columns.py`), and takes those of others from here with the rules that they are bound to
(`reader/lines.py`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

BYTES = "latin-1"
"""Maps each byte to one character and back, whatever the file's own encoding is."""

SIGNATURE = "\ufeff".encode().decode(BYTES)
"""Of UTF-8, at the very start of some files."""

LARGEST = 1e15
"""Numbers from here on are no words to anybody: they have more digits than a double."""

_NUMBER = r"[ \t]*+([-+]?+[ \t]*+(?:[0-9][0-9 \t]*+\.?+|\.[ \t]*+[0-9])[0-9 \t]*+)"
"""Digits with one point and one sign at most (3.3.2.1). Nothing is tried twice: the time that it
takes grows with the line and not with its square."""

WORD = re.compile("([A-Za-z])" + _NUMBER)
"""A letter and a number, with the blanks that may stand in it and behind it (RS274/NGC, 3.3)."""

_STATES = re.compile("([DFGHMPQSTdfghmpqst])" + _NUMBER)
_CALL = re.compile(r"[Oo][ \t]*[0-9<]")
_ENDS = (2.0, 30.0)
_COMMENT = re.compile(r"\([^)\r\n]*\)|;[^\r\n]*")
_SOLE_COMMENT = re.compile(r"[ \t]*(?:\(([^)]*)\)|;(.*))\s*")
_NO_BLANKS = str.maketrans("", "", " \t")
_OPEN = str.maketrans("()", "  ")
_COMPACT = str.maketrans("abcdefghijklmnopqrstuvwxyz", "ABCDEFGHIJKLMNOPQRSTUVWXYZ", " \t\r\n")
"""Takes blanks out and makes capitals (RS274/NGC, 3.3); no other character changes."""

_HEADER = re.compile(r"(N\d+)?([O:]\d+)?", re.IGNORECASE)


class Word(NamedTuple):
    """A letter as a capital, its number, and where both stand in the line's text."""

    letter: str
    value: float
    start: int
    end: int


def words_of(line: str) -> list[Word]:
    """The words of a line in its order; those of a line that a reader refuses are among them.

    A line whose comments are not closed has none. No word goes on behind a comment (RS274/NGC,
    Appendix E.2).
    """
    found = (
        Word(match[1].upper(), _value(match[2]), match.start(), len(match[0].rstrip(" \t")))
        for match in WORD.finditer(_between_comments(line))
    )
    return [
        Word(letter, value, start, start + length)
        for letter, value, start, length in found
        if abs(value) < LARGEST
    ]


def values_of(line: str) -> list[tuple[str, float]]:
    """Letter and number of the words in `words_of` that state a mode, or a number beside one.

    Those with D, F, G, H, M, P, Q, S and T: axes and offsets of arcs are left out, so that it takes
    a third of the time.
    """
    return [
        (letter.upper(), value)
        for letter, number in _STATES.findall(_between_comments(line))
        if abs(value := _value(number)) < LARGEST
    ]


def may_be_words(line: str) -> list[Word]:
    """Words that some controller may see in a line which others refuse.

    Behind a `(` that nothing closes, and where a comment parts a letter from its number.
    """
    return words_of(without_comments(line).translate(_OPEN))


def may_call(line: str) -> bool:
    """Whether a line may hold an O word, which names or calls a subprogram."""
    return _CALL.search(without_comments(line)) is not None


def end_word(words: Iterable[Word]) -> Word | None:
    """The first of some words that ends a program: M2 or M30 (RS274/NGC, 3.6.1)."""
    return next((word for word in words if word.letter == "M" and word.value in _ENDS), None)


def sieve(letter: str, numbers: Iterable[int]) -> re.Pattern[bytes]:
    """Finds text that may be one of these words, fast; whether it is, `words_of` its line says."""
    digits = "|".join(r"[ \t]*".join(str(number)) for number in numbers)
    return re.compile(rf"[{letter}{letter.lower()}][ \t+0]*(?:{digits})".encode(BYTES))


def acting_text(line: str) -> str:
    """What of a line a controller may act on: no comments, no blanks, upper case."""
    return without_comments(line).removeprefix(SIGNATURE).translate(_COMPACT)


def without_comments(line: str) -> str:
    """The line with comments blanked, of the same length.

    What stands behind a `(` that nothing closes stays: a controller may act on it.
    """
    if "(" not in line and ";" not in line:
        return line
    return _COMMENT.sub(lambda found: " " * len(found.group()), line)


def sole_comment(line: str) -> str:
    """The text of a line that holds one comment and nothing else; else nothing."""
    match = _SOLE_COMMENT.fullmatch(line.removeprefix(SIGNATURE))
    return "" if match is None else (match[1] or match[2] or "").strip()


def is_header(line: str) -> bool:
    """Whether a line belongs to a program's start: empty, `%`, comments, an O or N word alone."""
    text = acting_text(line).strip("\v\f")
    return text == "%" or _HEADER.fullmatch(text) is not None


def may_be_skipped(line: str) -> bool:
    """Whether a line begins with `/` (RS274/NGC, 3.3.1: block delete)."""
    return "/" in line and acting_text(line).startswith("/")


def line_end(line: str) -> str:
    """How a line ends; LF for a last line without an end."""
    return line[len(line.rstrip("\r\n")) :] or "\n"


def _between_comments(line: str) -> str:
    """The line with something that is in no word in place of its comments, of the same length.

    Nothing where a comment is not closed, or closed without being open.
    """
    if "(" in line or ";" in line:
        line = _COMMENT.sub(lambda found: "\0" * len(found.group()), line)
    return "" if "(" in line or ")" in line else line


def _value(number: str) -> float:
    return float(number.translate(_NO_BLANKS))
