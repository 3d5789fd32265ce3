"""One program's body at several stations in turn: sections with what joins them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from pincorner.program.edit.editing import with_code, without_end
from pincorner.program.lexer import SIGNATURE, acting_text, end_word, words_of
from pincorner.program.text import ProgramText


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


def repeated(
    text: ProgramText, body: Body, opening: Iterable[str], sections: Iterable[Section]
) -> Iterator[str]:
    """The lines of the new program: the old one's start, the sections, the old one's end.

    Each section carries the body with its own work offset selected; M2 and M30 wait for the end. A
    program that ends with nothing is read to the end of its file; what is written of it ends with
    M30, and with the second % where there is a first (RS274/NGC, 3.1).
    """
    end = text.line_end
    if body.first == 1 and text.line(1).startswith(SIGNATURE):
        yield SIGNATURE  # it stays the file's first bytes
    yield from (line for _, line in text.numbered(1, body.first - 1))
    yield from (line + end for line in opening)
    for section in sections:
        yield from (line + end for line in section.before)
        yield from (line for _, line in section_lines(text, body, section.code, section.span))
        yield from (line + end for line in section.after)
    yield from _ending(text, body)


def section_lines(
    text: ProgramText, body: Body, code: str, span: tuple[int, int]
) -> Iterator[tuple[int, str]]:
    """The lines of the program that a section carries, as it carries them, with their numbers.

    `code`: the work offset to select; `span`: first and last line.
    """
    end = text.line_end
    for number, line in text.numbered(*span):
        if body.skipped is not None and body.skipped[0] <= number <= body.skipped[1]:
            continue
        if number == 1:
            line = line.removeprefix(SIGNATURE)
        if number in body.selections:
            line = with_code(line, code)
        if number == body.last:
            line = without_end(line)
            if not acting_text(line):
                continue
        yield number, line if line.endswith(("\n", "\r")) else line + end


def _ending(text: ProgramText, body: Body) -> Iterator[str]:
    """The program's own end, its M word and whatever follows it; M30 where it has none."""
    line, end = text.line(body.last), text.line_end
    found = end_word(words_of(line))
    yield ("M30" if found is None else line[found.start : found.end]) + end
    yield from (line for _, line in text.numbered(body.last + 1))
    first = next((acting for line in text.lines() if (acting := acting_text(line))), "")
    if found is None and first == "%":
        yield first + end
