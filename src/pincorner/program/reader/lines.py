"""The words of one line, and why a line has none: for those that are not read together.

RS274/NGC, 3.3 and 3.4; what of a line is a word says `lexer.py`. The words are those of
`columns.py`, which reads most lines.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import NamedTuple

from pincorner.program.reader.modes import WORDS_OF, code_of, written
from pincorner.program.source.comments import UnclosedComment, split
from pincorner.program.source.expressions import NotKnown, Parameters, words_in
from pincorner.program.source.lexer import LARGEST, WORD

LONGEST_LINE = 256
"""Characters in a line (RS274/NGC, 3.3)."""

LONGEST_LINE_NUMBER = 5
"""Digits of an N word (3.3.1)."""

_WORDS = re.compile(f"(?:{WORD.pattern})*")
_CALL = re.compile(r"(?:N[0-9]+)?(O(?:[0-9]+|<[^>]*>|[\[#]))")
_LINE_NUMBER = re.compile(r"N([0-9]+)")
_SPLIT_NUMBER = re.compile(rb"[-+.0-9][ \t]+[.0-9]")

_KNOWN_LETTERS = frozenset("XYZIJKRPQLFSTHD")
_UNKNOWN_LETTERS = {
    "A": "turns an axis", "B": "turns an axis", "C": "turns an axis",
    "U": "moves a further axis", "V": "moves a further axis", "W": "moves a further axis",
    "O": "names or calls a subprogram; what it does is not followed",
}  # fmt: skip
_PROGRAM_NUMBER = (
    "is a program's number, and stands behind words that act: another program may begin there; a "
    "number goes in front of them, and a setup block behind it"
)
"""What an O word is to controllers without expressions (common practice, no source)."""


class NotRead(Exception):
    """A line cannot be read; the text says why, and what stands there."""


class Line(NamedTuple):
    """One line: its words by letter or modal group, or why it is `refused`.

    `words` has `/` where the line begins with one, and `over` with the number of M words among
    those that are read over. `is_percent`: it is `%` alone. `odd_comment`: some controllers act on
    what it holds; `odd_number`: blanks in a number; `long_number`: too many digits behind N.
    """

    words: list[tuple[str, float]]
    refused: str = ""
    is_percent: bool = False
    odd_comment: bool = False
    odd_number: bool = False
    long_number: bool = False


class Language(NamedTuple):
    """What a controller's lines may hold besides the report's plain words.

    `harmless`: words that are read over (`G91.1`). `parameters`: those that the lines so far have
    set; None where parameters and expressions are not followed. `calls`: whether O words may call
    subprograms; where not, they are numbers of programs.
    """

    harmless: Collection[str] = ()
    parameters: Parameters | None = None
    calls: bool = True


PLAIN = Language()


def line_of(text: bytes, language: Language = PLAIN) -> Line:
    """Read a line without its end.

    Parameters that it sets are set in those of the language, which a line that is refused clears:
    what it did to them is not known.
    """
    line = _line_of(text, language)
    if line.refused and language.parameters:
        language.parameters.clear()
    return line


def _line_of(text: bytes, language: Language) -> Line:
    if not text.strip():
        return Line([])
    if len(text) > LONGEST_LINE:
        return Line([], f"it is longer than {LONGEST_LINE} characters")
    try:
        texts, odd_comment = split(text)
    except UnclosedComment:
        return Line([], "a comment is not closed, or closed without being open")
    parts = [part.translate(None, b" \t") for part in texts]
    line = Line([], odd_comment=odd_comment, odd_number=any(map(_SPLIT_NUMBER.search, texts)))
    found = [part.upper().decode("latin-1") for part in parts if part]
    if found == ["%"]:
        alone = text.strip() == b"%"
        shared = "" if alone else "a % that shares its line with a comment"
        return line._replace(refused=shared, is_percent=alone)
    try:
        words, long_number = _words_of(found, language)
    except NotRead as reason:
        return line._replace(refused=str(reason))
    return line._replace(words=words, long_number=long_number)


def _words_of(parts: list[str], language: Language) -> tuple[list[tuple[str, float]], bool]:
    """The words of a line's parts between comments; whether N is too long. Raises NotRead."""
    words: dict[str, float] = {}
    if parts and parts[0].startswith("/"):
        words["/"] = 0.0
        parts = [parts[0][1:], *parts[1:]]
        if parts[0][:1].isdigit():
            raise NotRead(f"/{parts[0][0]} skips it by one of several switches, none looked at")
    is_first, long_number = True, False
    settings: Parameters = {}
    for part in parts:
        for word in _words_in(part, language.parameters, settings):
            if word.letter == "N":
                if not is_first or word.value < 0 or not word.value.is_integer():
                    raise NotRead(f"{word.text} is no line number, or not the first word")
                long_number = len(word.text) > 1 + LONGEST_LINE_NUMBER
            else:
                _add(words, word, language)
            is_first = False
    if language.parameters is not None:
        language.parameters.update(settings)
    return list(words.items()), long_number


class _Word(NamedTuple):
    """A letter, its number, and both as they stand there."""

    letter: str
    value: float
    text: str


def _words_in(part: str, known: Parameters | None, settings: Parameters) -> list[_Word]:
    """The words of a part; adds what it sets. Raises NotRead."""
    if _WORDS.fullmatch(part):
        found = [_Word(each[0], float(each[1]), "".join(each)) for each in WORD.findall(part)]
        for word in found:
            if abs(word.value) >= LARGEST:
                raise NotRead(f"{word.text} is too large a number")
        return found
    if known is None or not {"#", "["} & set(part):
        raise NotRead(_fault(part))
    number = _LINE_NUMBER.match(part)
    first = [_Word("N", float(number[1]), number[0])] if number else []
    try:
        words, found_settings = words_in(part[number.end() if number else 0 :], known)
    except NotKnown as reason:
        raise NotRead(str(reason)) from None
    except ValueError:
        raise NotRead(_fault(part)) from None
    settings |= found_settings
    return first + [_Word(letter, value, f"{letter}{value:g}") for letter, value in words]


def _add(words: dict[str, float], word: _Word, language: Language) -> None:
    letter, value = word.letter, word.value
    if letter in "GM":
        _add_code(words, word, language.harmless)
    elif letter == "O" and not language.calls:
        raise NotRead(f"{word.text} {_PROGRAM_NUMBER}")
    elif letter not in _KNOWN_LETTERS:
        raise NotRead(f"{word.text} {_UNKNOWN_LETTERS.get(letter, 'is not known')}")
    elif letter in words:
        raise NotRead(f"{letter} stands there twice")
    elif letter in "HD" and not value.is_integer():
        raise NotRead(f"{word.text} is no whole number")
    else:
        words[letter] = value


def _add_code(words: dict[str, float], word: _Word, harmless: Collection[str]) -> None:
    """A G or M word, by its group, beside those that are there."""
    known, code = WORDS_OF[word.letter], code_of(word.letter, word.value)
    if code is None or code not in known:
        if code is None or written(word.letter, code) not in harmless:
            raise NotRead(f"{word.text} is not known")
        words["over"] = words.get("over", 0.0) + (word.letter == "M")
        return
    group, value = known[code]
    if group in words:
        other = next(c for c, stated in known.items() if stated == (group, words[group]))
        both = (written(word.letter, each) for each in (other, code))
        raise NotRead(f"{' and '.join(both)} exclude each other")
    words[group] = value


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
