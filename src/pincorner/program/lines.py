"""Program files as lines of text that keep every byte and their own line ends."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from pincorner.errors import BadInput
from pincorner.program.comments import UnclosedComment, split

BYTES = "latin-1"
"""Maps each byte to one character and back, whatever the file's own encoding is."""

_COMMENT = re.compile(r"\([^)\r\n]*\)|;[^\r\n]*")
_LARGEST = 1e15
"""Numbers from here on are no words to anybody: they have more digits than a double."""

_WORD = re.compile(rb"([A-Z])([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")
_COMPACT = str.maketrans("abcdefghijklmnopqrstuvwxyz", "ABCDEFGHIJKLMNOPQRSTUVWXYZ", " \t\r\n")
"""Takes blanks out and makes capitals (RS274/NGC, 3.3); no other character changes."""

_HEADER = re.compile(r"(N\d+)?([O:]\d+)?", re.IGNORECASE)
SIGNATURE = "\ufeff".encode().decode(BYTES)
"""Of UTF-8, at the very start of some files."""


@contextmanager
def opened(path: Path) -> Iterator[TextIO]:
    """A program file for reading by lines. Raises BadInput where it cannot be read."""
    try:
        with path.open(encoding=BYTES, newline="") as file:
            yield file
    except OSError as error:
        raise BadInput(f"{path} cannot be read: {error.strerror or error}") from None


def without_comments(line: str) -> str:
    """The line with comments blanked, of the same length.

    What stands behind a `(` that nothing closes stays: a controller may act on it.
    """
    if "(" not in line and ";" not in line:
        return line
    return _COMMENT.sub(lambda found: " " * len(found.group()), line)


def words_of(line: str) -> str:
    """What of a line a controller may act on: no comments, no blanks, upper case."""
    return without_comments(line).removeprefix(SIGNATURE).translate(_COMPACT)


def values_of(line: str) -> list[tuple[str, float]]:
    """Letter and number of the words of a line, in its order: `[("M", 3.0), ("S", 18000.0)]`.

    Words of a line that a reader refuses are among them; a line whose comments are not closed has
    none. No word goes on behind a comment (RS274/NGC, Appendix E.2).
    """
    try:
        parts, _ = split(line.removeprefix(SIGNATURE).rstrip("\r\n").encode(BYTES))
    except UnclosedComment:
        return []
    compact = (part.translate(None, b" \t").upper() for part in parts)
    return [
        (letter.decode(), value)
        for part in compact
        for letter, number in _WORD.findall(part)
        if abs(value := float(number)) < _LARGEST
    ]


def is_header(line: str) -> bool:
    """Whether a line belongs to a program's start: empty, `%`, comments, an O or N word alone."""
    words = words_of(line).strip("\v\f")
    return words == "%" or _HEADER.fullmatch(words) is not None


def number_lines(path: Path) -> tuple[tuple[int, int], ...]:
    """(line, line) of each program number, an O word alone, in a program's start.

    RS274/NGC knows no O words; at a program's start they only name it (common practice, no
    source). Raises BadInput.
    """
    found = []
    with opened(path) as lines:
        for number, line in enumerate(lines, 1):
            if not is_header(line):
                break
            if "O" in words_of(line) or ":" in words_of(line):
                found.append((number, number))
    return tuple(found)


def line_end(line: str) -> str:
    """How a line ends; LF for a last line without an end."""
    return line[len(line.rstrip("\r\n")) :] or "\n"
