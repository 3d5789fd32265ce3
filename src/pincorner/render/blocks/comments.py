"""Text from a registry as a comment that a controller cannot act on.

Only letters, digits, space and . , - + = stay; the first word is always our own, so that no
(MSG, or similar begins a comment; nothing can end it or start a line.
"""

from __future__ import annotations

import re
import unicodedata

_LATIN = str.maketrans(
    {
        "ß": "ss", "Æ": "AE", "æ": "ae", "Ø": "O", "ø": "o", "Œ": "OE", "œ": "oe", "Ł": "L",
        "ł": "l", "Đ": "D", "đ": "d", "Ð": "D", "ð": "d", "Þ": "Th", "þ": "th", "ı": "i",
        "–": "-", "—": "-", "−": "-", "×": "x", "_": "-",
    }
)  # fmt: skip
_DROPPED = re.compile(r"[^A-Za-z0-9 .,\-+=]")


def plain_ascii(text: str) -> str:
    """Transliterated where Latin allows, dropped where not; one line, single spaces."""
    apart = unicodedata.normalize("NFKD", text.translate(_LATIN))
    return " ".join(_DROPPED.sub("", apart.replace("\n", " ").replace("\t", " ")).split())


def comment_lines(text: str, style: str, upper_case: bool, line_length: int) -> list[str]:
    """A comment as one or more whole lines, none longer than `line_length`.

    style: `parens` or `semicolon`. Further lines begin with `and`, a word of our own.
    """
    words = plain_ascii(text).split(" ")
    room = line_length - 2
    lines = [""]
    for word in words:
        for piece in (word[i : i + room - 4] for i in range(0, len(word), room - 4)):
            joined = f"{lines[-1]} {piece}" if lines[-1] else piece
            if len(joined) <= room:
                lines[-1] = joined
            else:
                lines.append(f"and {piece}")
    if upper_case:
        lines = [line.upper() for line in lines]
    return [f"({line})" if style == "parens" else f"; {line}" for line in lines]
