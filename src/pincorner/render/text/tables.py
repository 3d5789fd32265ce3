"""Tables, sentences and command lines for a terminal: text is broken in its width, figures never.

A table library measures and wraps every cell, which took longer for 10,000 offsets than computing
them; columns of short cells need only padding.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from textwrap import TextWrapper, wrap
from unicodedata import category, east_asian_width

WIDTH = 80
"""Columns that every terminal has."""

_LEAST_TEXT = 10
"""No column of text gets narrower."""

_LABELLED = re.compile(r"(?:.*\S {2,}|[ ]*(?:[!-] )?)")
"""What a line's prose stands behind: labels with two spaces, or a mark."""

_COMMAND = re.compile(r"\s*(?:\d+ +)?(?:\S*python\S* -m )?pincorner [a-z]")


def table(
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    right: str = "",
    *,
    width: int = WIDTH,
    texts: Sequence[int] = (),
) -> str:
    """Columns padded to their widest cell, two spaces apart; ends with a newline.

    `right` holds an `r` at the place of each column that is aligned to the right. A head may have
    several lines. Where the table is wider than `width`, cells of the columns `texts` are broken.
    """
    tops = [head.split("\n") for head in heads]
    widths = [
        max(*map(len, top), *map(wide, column))
        for top, column in zip(tops, zip(*rows, strict=True), strict=True)
    ] if rows else [max(map(len, top)) for top in tops]  # fmt: skip
    for at in texts:
        over = sum(widths) + 2 * (len(widths) - 1) - width
        if over > 0:
            least = max(_LEAST_TEXT, *map(len, tops[at]))
            widths[at] = min(widths[at], max(least, widths[at] - over))
    form = "  ".join(
        f"%{size if right[at : at + 1] == 'r' else -size}s" for at, size in enumerate(widths)
    )
    high = max(map(len, tops))
    shown = [[*[""] * (high - len(top)), *top] for top in tops]
    lines: list[Sequence[str]] = list(zip(*shown, strict=True))
    for row in rows:
        lines += _broken(row, widths, texts) if texts else [row]
    return "".join(f"{_row(form, line, widths, right).rstrip()}\n" for line in lines)


def wide(text: str) -> int:
    """Columns of a terminal that a text takes: two for wide letters, none for marks upon others
    (Unicode Standard Annex 11)."""
    if text.isascii():
        return len(text)
    return sum(map(_columns_of, text))


def _columns_of(letter: str) -> int:
    if category(letter) in ("Mn", "Me"):
        return 0
    return 2 if east_asian_width(letter) in "WF" else 1


def _row(form: str, cells: Sequence[str], widths: Sequence[int], right: str) -> str:
    """A line of a table; `form` pads by letters, which is as wide where all of them are ASCII."""
    if all(map(str.isascii, cells)):
        return form % tuple(cells)
    blanks = (" " * (size - wide(cell)) for cell, size in zip(cells, widths, strict=True))
    return "  ".join(
        blank + cell if right[at : at + 1] == "r" else cell + blank
        for at, (cell, blank) in enumerate(zip(cells, blanks, strict=True))
    )


def _broken(row: Sequence[str], widths: Sequence[int], texts: Sequence[int]) -> list[Sequence[str]]:
    """A row as lines, its texts broken where they are wider than their columns."""
    if all(wide(row[at]) <= widths[at] for at in texts):
        return [row]
    cells = [
        TextWrapper(_letters_in(widths[at], cell)).wrap(cell) or [""] if at in texts else [cell]
        for at, cell in enumerate(row)
    ]
    high = max(map(len, cells))
    return list(zip(*([*cell, *[""] * (high - len(cell))] for cell in cells), strict=True))


def _letters_in(width: int, text: str) -> int:
    """How many letters of a text a column is to hold: half as many where it has wide ones."""
    return width // 2 if wide(text) > len(text) else width


def in_width(text: str, width: int) -> str:
    """Text for a terminal so wide: prose is broken behind its label, and no word with a digit is.

    Rows of figures and command lines, which people copy, stay as they are.
    """
    lines = []
    for line in text.split("\n"):
        lines += [line] if len(line) <= width or _COMMAND.match(line) else _prose(line, width)
    return "\n".join(lines)


def _prose(line: str, width: int) -> list[str]:
    found = _LABELLED.match(line)
    label = found[0] if found else ""
    words = line[len(label) :]
    if len(label) > width // 2 or len(re.findall(r"[^\W\d_]{2,}", words)) < 4:
        return [line]
    blank = " " * len(label)
    wrapper = TextWrapper(
        width,
        initial_indent=label,
        subsequent_indent=blank,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return wrapper.wrap(words)


def first_of(texts: Sequence[str], most: int) -> list[str]:
    """The first of some texts, and how many more there are."""
    more = len(texts) - most
    return [*texts[:most], *([f"and {more} more"] if more > 0 else [])]


def first_named(names: Sequence[str], most: int) -> str:
    """The same of names, in a sentence: `a, b and 3 more`."""
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


_FIGURE = re.compile(r"(?<=\d) (?=(?:mm|in|s)\b|%)")
"""The blank between a figure and its unit, at which no line ends."""


def wrapped(
    text: str, indent: str = "  ", first: str = "", *, breaks_names: bool = True
) -> list[str]:
    """A sentence in lines of WIDTH columns; `breaks_names`: at hyphens, too."""
    kept = _FIGURE.sub("\N{NO-BREAK SPACE}", text)
    lines = wrap(
        kept,
        WIDTH,
        initial_indent=first,
        subsequent_indent=indent,
        break_on_hyphens=breaks_names,
        break_long_words=breaks_names,
    )
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines] or [""]
