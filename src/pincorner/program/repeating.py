"""One program's body at several stations in turn: sections with what joins them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import NamedTuple

from pincorner.program.codes import with_code
from pincorner.program.lines import (
    SIGNATURE,
    is_header,
    line_end,
    without_comments,
    words_of,
)

END_WORD = re.compile(r"M\s*0*(?:2|30)(?![\d.])", re.IGNORECASE)
"""M2 or M30 as they are mostly written; a program that writes them otherwise is refused."""

LineSource = Callable[[], Iterator[str]]
"""Reads the program's lines from the start, each time it is called."""


class Section(NamedTuple):
    """A station's turn: the lines that lead there, its work offset, the lines behind it.

    `code` is empty where the lines in front have selected it for good. `span`: first and last line
    of the program that it carries.
    """

    before: tuple[str, ...]
    code: str
    after: tuple[str, ...]
    span: tuple[int, int]


class Body(NamedTuple):
    """Where a program's parts lie, by line number from 1.

    `first`: of the body, behind the start; `last`: in front of or at M2 or M30; `selections`: lines
    that select a work offset; `skipped`: an earlier setup block's lines, which are left out.
    """

    first: int
    last: int
    selections: Mapping[int, str]
    skipped: tuple[int, int] | None


def first_of_body(lines: Iterable[str]) -> int:
    """Number of the first line that a controller acts on; one behind the last if there is none."""
    number = 0
    for number, line in enumerate(lines, 1):
        if not is_header(line):
            return number
    return number + 1


def repeated(
    source: LineSource, body: Body, opening: Iterable[str], sections: Iterable[Section]
) -> Iterator[str]:
    """The lines of the new program: the old one's start, the sections, the old one's end.

    Each section carries the body with its own work offset selected; M2 and M30 wait for the end. A
    program that ends with nothing is read to the end of its file; what is written of it ends with
    M30, and with the second % where there is a first (RS274/NGC, 3.1).
    """
    end = _end_of_lines(source)
    if body.first == 1 and any(line.startswith(SIGNATURE) for _, line in _numbered(source, 1, 1)):
        yield SIGNATURE  # it stays the file's first bytes
    yield from (line for _, line in _numbered(source, 1, body.first - 1))
    yield from (line + end for line in opening)
    for section in sections:
        yield from (line + end for line in section.before)
        yield from (line for _, line in section_lines(source, body, section.code, section.span))
        yield from (line + end for line in section.after)
    yield from _ending(source, body, end)


def section_lines(
    source: LineSource, body: Body, code: str, span: tuple[int, int]
) -> Iterator[tuple[int, str]]:
    """The lines of the program that a section carries, as it carries them, with their numbers.

    `code`: the work offset to select; `span`: first and last line.
    """
    end = _end_of_lines(source)
    for number, line in _numbered(source, *span):
        if body.skipped is not None and body.skipped[0] <= number <= body.skipped[1]:
            continue
        if number == 1:
            line = line.removeprefix(SIGNATURE)
        if number in body.selections:
            line = with_code(line, code)
        if number == body.last:
            line = _without_end(line)
            if not words_of(line):
                continue
        yield number, line if line.endswith(("\n", "\r")) else line + end


def _without_end(line: str) -> str:
    """The line with M2 or M30 taken out; comments stay."""
    found = END_WORD.search(without_comments(line))
    return line if found is None else line[: found.start()] + line[found.end() :]


def _ending(source: LineSource, body: Body, end: str) -> Iterator[str]:
    """The program's own end, its M word and whatever follows it; M30 where it has none."""
    behind = _numbered(source, body.last, None)
    found = END_WORD.search(without_comments(next(behind, (0, ""))[1]))
    yield ("M30" if found is None else found.group()) + end
    yield from (line for _, line in behind)
    first = next((words for line in source() if (words := words_of(line))), "")
    if found is None and first == "%":
        yield first + end


def _end_of_lines(source: LineSource) -> str:
    return next((line_end(line) for line in source()), "\n")


def _numbered(source: LineSource, first: int, last: int | None) -> Iterator[tuple[int, str]]:
    """Lines `first` to `last` with their numbers."""
    for number, line in enumerate(source(), 1):
        if last is not None and number > last:
            return
        if number >= first:
            yield number, line
