"""Comments in a program: where they stand, and what in them some controllers act on.

`(` to the first `)` on one line, not nested (RS274/NGC, 3.3.4); `;` to the line's end, which is
common practice and not in the report. `(` behind `;` means nothing, nor does `;` in parentheses.
"""

from __future__ import annotations

import re

_ODD = rb"%!?~\x00-\x08\x0b-\x1f\x7f"
"""Characters that some controllers act on inside comments (common practice, no source)."""

_ACTS = rb"[ \t]*(?i:MSG|DEBUG|PRINT|LOG|LOGOPEN|LOGAPPEND)[ \t]*,"
"""`(MSG,` acts by the report, 3.3.4; the other first words do by common practice."""

_PARTS = {b"acts": _ACTS, b"odd": _ODD}
_QUIET = re.compile(rb"(?:\((?!%(acts)s)[^()\n%(odd)s]*+\)|;[^\n%(odd)s]*+(?=\n))[ \t]*" % _PARTS)
_ODD_IN_PARENTHESES = re.compile(rb"\A%(acts)s|[(%(odd)s]" % _PARTS)
_ODD_BEHIND_SEMICOLON = re.compile(rb"[%(odd)s]" % _PARTS)
_BOUNDARY = re.compile(rb"[();]")

MARK = b"\r"
"""Stands where a comment was: text has no other carriage return, since its line ends are LF."""


class UnclosedComment(ValueError):
    """A `(` without `)` on its line, or the reverse."""


def without_quiet(text: bytes) -> bytes:
    """Text of whole lines with MARK for each comment, and the blanks behind it, that does nothing.

    Odd and unclosed comments stay, for `split` to tell about.
    """
    if b"(" not in text and b";" not in text:
        return text
    return _QUIET.sub(MARK, text)


def split(line: bytes) -> tuple[list[bytes], bool]:
    """The parts of one line between its comments, and whether a comment is odd.

    Odd is a comment with something in it that some controllers act on. Raises UnclosedComment.
    """
    parts, odd, at = [], False, 0
    while (found := _BOUNDARY.search(line, at)) is not None:
        here = found.start()
        parts.append(line[at:here])
        if line[here : here + 1] == b";":
            odd |= _ODD_BEHIND_SEMICOLON.search(line[here + 1 :]) is not None
            return parts, odd
        end = line.find(b")", here)
        if end <= here:
            raise UnclosedComment
        odd |= _ODD_IN_PARENTHESES.search(line[here + 1 : end]) is not None
        at = end + 1
    parts.append(line[at:])
    return parts, odd
