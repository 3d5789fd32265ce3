"""What is looked at before text leaves for a controller: comments, and every word of a block."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

from pincorner.documents.dialect_words import MODE_WORDS, SHIFT_TO_ZERO

_LATIN = str.maketrans(
    {
        "ß": "ss", "Æ": "AE", "æ": "ae", "Ø": "O", "ø": "o", "Œ": "OE", "œ": "oe", "Ł": "L",
        "ł": "l", "Đ": "D", "đ": "d", "Ð": "D", "ð": "d", "Þ": "Th", "þ": "th", "ı": "i",
        "–": "-", "—": "-", "−": "-", "×": "x", "_": "-",
    }
)  # fmt: skip
_SHOWN = 79
"""Characters of a line of comment that a small screen shows."""
_CLAUSES = re.compile(r"[:;]\s+|\s\(")
_DROPPED = re.compile(r"[^A-Za-z0-9 .,\-+=]")


def plain_ascii(text: str) -> str:
    """Transliterated where Latin allows, dropped where not; one line, single spaces. A comma stands
    for marks that a comment must not have, so that its clauses stay apart."""
    apart = _apart(text).replace("\n", " ").replace("\t", " ")
    return " ".join(_DROPPED.sub("", apart).split())


def _apart(text: str) -> str:
    """The text with each mark behind its letter, of which a comment may hold some."""
    return unicodedata.normalize("NFKD", _CLAUSES.sub(", ", text).translate(_LATIN))


def is_spelt(name: str) -> bool:
    """Whether a comment has all letters and digits of a name; the rest of one would pass for
    another."""
    return not any(map(str.isalnum, _DROPPED.findall(_apart(name))))


def letters(text: str) -> str:
    """What stays of a text in a comment, which may be in capitals and broken anywhere: texts are
    the same there where this is."""
    return plain_ascii(text).upper().replace(" ", "")


def comment_lines(text: str, style: str, upper_case: bool, line_length: int) -> list[str]:
    """A comment as one or more whole lines, none longer than `line_length`.

    style: `parens` or `semicolon`. Further lines begin with `cont`. Lines are as long as a
    screen shows; a word is broken only where the controller takes no longer line.
    """
    words = plain_ascii(text).split(" ")
    room = line_length - 2
    shown = min(room, _SHOWN - 2)
    lines = [""]
    for word in words:
        for piece in (word[i : i + room - 5] for i in range(0, len(word), room - 5)):
            joined = f"{lines[-1]} {piece}" if lines[-1] else piece
            if len(joined) <= shown or not lines[-1]:
                lines[-1] = joined
            else:
                lines.append(f"cont {piece}")
    if upper_case:
        lines = [line.upper() for line in lines]
    return [f"({line})" if style == "parens" else f"; {line}" for line in lines]


_NUMBER = r"-?\d+\.\d+"
_VALUE = rf"(?:{_NUMBER}|\[#\d{{4}}[+-]\d+\.\d+\])"
_LINES = tuple(
    re.compile(pattern)
    for pattern in (
        rf"(?:{MODE_WORDS})(?: (?:{MODE_WORDS}))*",  # modes, units
        SHIFT_TO_ZERO,
        r"G5[4-9]|G59\.[123]|G54\.1 P\d+",  # selection
        rf"G10 L(?:2|20) P\d+ X{_VALUE} Y{_VALUE}(?: Z{_VALUE})?(?: R{_NUMBER})?",  # a write
        rf"G68 X0 Y0 R{_NUMBER}",
    )
)
_JOINTS = (
    re.compile(r"M5 M9|M48|M0"),
    re.compile(rf"G53 G0 Z{_NUMBER}"),
    re.compile(rf"G0 X{_NUMBER} Y{_NUMBER}"),
)
_COMPENSATION_OFF = "G40"
_UNIT_LINE = frozenset(("G20", "G21", "G90"))
_COMMENT = re.compile(
    r"\((?![Mm][Ss][Gg])[A-Za-z0-9][A-Za-z0-9 .,\-+=]*\)|; [A-Za-z0-9][A-Za-z0-9 .,\-+=]*"
)


class BlockFaultError(AssertionError):
    """A finished block holds a line that is not on the list: a fault of the program."""


def mode_lines(first: Sequence[str], unit_code: str) -> list[str]:
    """The lines that take back modes: G40 alone, unit and G90, the other words of `first`.

    Units cannot change while cutter compensation is on (RS274/NGC, Appendix B.5), and nothing that
    is measured may come before the unit. G20, G21 and G90 among `first` are on the second line or
    against it, and are left out; G40 is written only where `first` has it.
    """
    rest = [word for word in first if word != _COMPENSATION_OFF and word not in _UNIT_LINE]
    alone = [_COMPENSATION_OFF] if _COMPENSATION_OFF in first else []
    return [*alone, f"{unit_code} G90", *([" ".join(dict.fromkeys(rest))] if rest else [])]


def check_block(text: str, line_length: int, *, joins: bool = False) -> str:
    """The text itself, once every line of it has passed. Raises BlockFaultError.

    `joins`: between the sections of a repeat spindle and coolant stop, the overrides come back, and
    the axes retract and go over.
    """
    patterns = _LINES + _JOINTS if joins else _LINES
    for number, line in enumerate(text.splitlines(), 1):
        allowed = _COMMENT.fullmatch(line) or any(p.fullmatch(line) for p in patterns)
        if not allowed or len(line) > line_length or not line.isascii():
            raise BlockFaultError(f"line {number} of the block is not allowed: {line!r}")
    return text
