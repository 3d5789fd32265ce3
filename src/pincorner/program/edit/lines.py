"""Programs changed line by line: text in, text out, every other byte kept.

A station's setup block is put in, or one body is joined at several stations in turn.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import zip_longest
from typing import NamedTuple

from pincorner.program.reader.modes import GROUP_OF_G, OFFSET_OF_P, code_of
from pincorner.program.source.lexer import (
    SIGNATURE,
    Word,
    acting_text,
    end_word,
    is_header,
    line_end,
    may_be_words,
    without_comments,
    words_of,
)
from pincorner.program.source.stamped import block_of
from pincorner.program.source.text import ProgramText

ROTATION_OFF = "setup rotation off"
"""The comment beside the G69 that a stamp puts before the end; it is known again by it."""

WAIT = "setup wait"
"""The comment beside the M0 that a stamp puts in; it is known again by it."""

_OURS = re.compile(rf"G69 (?:\({ROTATION_OFF}\)|; {ROTATION_OFF})", re.IGNORECASE)
_PUT_IN = re.compile(rf"{_OURS.pattern}|M0 (?:\({WAIT}\)|; {WAIT})", re.IGNORECASE)

_RECKONED = re.compile(r"[Gg][ \t]*+[-+]?+[ \t]*+[#\[]")
"""A G whose number is only known to the controller."""


class Edits(NamedTuple):
    """What a stamp changes, by line number from 1.

    `block`: lines of the setup block, without line ends. `replaces`: first and last line of an
    earlier block. `codes`: the new work offset of each line that selects one. `rotation_off_at`:
    the line before which G69 goes (one behind the last for the end of the file), `rotation_off`
    that line's text; empty where no rotation is on. `rotation_was_off`: the line that an earlier
    stamp put there, which is left out. `wait_before`: the line before which `wait` goes.
    """

    block: tuple[str, ...]
    replaces: tuple[int, int] | None
    codes: Mapping[int, str]
    rotation_off_at: int | None = None
    rotation_off: str = ""
    rotation_was_off: int | None = None
    wait_before: int | None = None
    wait: str = ""


def rotation_off_of(lines: Iterable[str], block: tuple[int, int], end: int) -> int | None:
    """The line with which an earlier stamp takes its rotation off, if it did.

    `block`: first and last line of its block, `end`: the line that ends the program. The line is
    ours only if that block turns, and where a stamp puts it: right before the end. Any other that
    reads the same was put there by somebody, and may end somebody's rotation.
    """
    turns = False
    for number, line in enumerate(lines, 1):
        if block[0] <= number <= block[1]:
            turns = turns or any(word[:2] == ("G", 68.0) for word in words_of(line))
        elif number > block[1] and not turns:
            return None
        elif number == end - 1:
            return number if _OURS.fullmatch(line.strip()) else None
    return None


def stamped(
    lines: Iterable[str], edits: Edits, numbering: Numbering | None = None
) -> Iterator[str]:
    """The program's lines with the edits carried out; every other byte stays.

    The block goes where an earlier one was, else behind the program's start (`%`, O or N header,
    comments) and before anything the controller acts on. `numbering`, an empty one, is filled.
    """
    for copy, (program, line) in enumerate(_stamped(lines, edits), 1):
        if program and numbering is not None:
            numbering.add(copy, program)
        yield line


def _stamped(lines: Iterable[str], edits: Edits) -> Iterator[tuple[int, str]]:
    """The copy's lines, each with its number in the program, 0 for one that is put in."""
    waiting = list(edits.block)
    first, last = edits.replaces or (0, -1)
    end, number, written = "\n", 0, "\n"
    for number, line in enumerate(lines, 1):
        end = line_end(line) if number == 1 else end
        if waiting and (number == first if edits.replaces else not is_header(line)):
            if number == 1 and line.startswith(SIGNATURE):  # it stays the file's first bytes
                waiting[0] = SIGNATURE + waiting[0]
                line = line.removeprefix(SIGNATURE)
            yield from ((0, each + end) for each in waiting)
            waiting = []
        if first <= number <= last or number == edits.rotation_was_off:
            continue
        if number == edits.wait_before:
            yield 0, edits.wait + end
        if number == edits.rotation_off_at:
            yield 0, edits.rotation_off + end
        code = edits.codes.get(number)
        written = line if code is None else with_code(line, code)
        yield number, written
    behind = [*waiting]
    if edits.rotation_off_at is not None and edits.rotation_off_at > number:
        behind.append(edits.rotation_off)
    if behind and not written.endswith(("\n", "\r")):
        behind[0] = end + behind[0]
    yield from ((0, each + end) for each in behind)


@dataclass(slots=True)
class _Run:
    """So many lines that stay together, from these lines of the copy and of the program on."""

    copy: int
    program: int
    count: int

    @property
    def behind(self) -> int:
        """The line of the copy behind the last of them."""
        return self.copy + self.count


class Numbering:
    """Which line of a program each line of its copy is."""

    def __init__(self) -> None:
        self._runs: list[_Run] = []

    def add(self, copy: int, program: int) -> None:
        """The next line that both have, by its numbers from 1."""
        run = self._runs[-1] if self._runs else None
        if run is not None and copy - run.copy == program - run.program == run.count:
            run.count += 1
        else:
            self._runs.append(_Run(copy, program, 1))

    def in_program(self, line: int) -> int:
        """The program's line that a line of the copy is, or is put in before, or else behind."""
        for run in self._runs:
            if line < run.behind:
                return run.program + max(line - run.copy, 0)
        return self._runs[-1].program + self._runs[-1].count - 1 if self._runs else 1

    def in_copy(self, first: int, last: int) -> list[tuple[int, int]]:
        """Lines `first` to `last` of the program where they stand in the copy, without what is put
        in between them."""
        found: list[tuple[int, int]] = []
        for run in self._runs:
            low, high = max(first, run.program), min(last, run.program + run.count - 1)
            if low <= high:
                begin, end = run.copy + low - run.program, run.copy + high - run.program
                if found and found[-1][1] + 1 == begin:  # a line between them was taken out
                    begin, _ = found.pop()
                found.append((begin, end))
        return found


def numbering_of(program: ProgramText, copy: ProgramText) -> Numbering | None:
    """Which line of a program each line of a stamped copy is; None for what is no copy of it: but
    for what stamps put in and the work offsets, their lines are the same."""
    found = Numbering()
    for theirs, mine in zip_longest(_own_lines(program), _own_lines(copy)):
        if theirs is None or mine is None:
            return None
        if theirs[1] != mine[1] and with_code(theirs[1], "G54") != with_code(mine[1], "G54"):
            return None
        found.add(mine[0], theirs[0])
    return found


def _own_lines(text: ProgramText) -> Iterator[tuple[int, str]]:
    """The lines that no stamp put in, with their numbers, without their ends."""
    block = block_of(text)
    first, last = (0, -1) if block is None else block.span
    for number, line in text.numbered():
        if number == 1:
            line = line.removeprefix(SIGNATURE)
        may_be_ours = "(" in line or ";" in line
        if not (first <= number <= last or (may_be_ours and _PUT_IN.fullmatch(line.strip()))):
            yield number, line.rstrip("\r\n")


def rotation_off_line(comment: str) -> str:
    """The line that ends a rotation, in a dialect's kind of comment (`parens` or `semicolon`)."""
    return f"G69 ({ROTATION_OFF})" if comment == "parens" else f"G69 ; {ROTATION_OFF}"


def wait_line(comment: str) -> str:
    """The line that waits, in a dialect's kind of comment (`parens` or `semicolon`)."""
    return f"M0 ({WAIT})" if comment == "parens" else f"M0 ; {WAIT}"


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
    end, (first, last) = text.line_end, body.skipped or (0, -1)
    looked_at = {1, *body.selections, *range(first, last + 1), span[1], body.last}
    for number, line in text.numbered(*span):
        if number not in looked_at:  # nearly all: they stand there as they are
            yield number, line
            continue
        if first <= number <= last:
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


def may_select(line: str) -> bool:
    """Whether some controller may take a line that others refuse as one that selects an offset."""
    if "G" not in line and "g" not in line:
        return False
    if any(_group(word) == "offset" for word in may_be_words(line)):
        return True
    return _RECKONED.search(without_comments(line)) is not None


def with_code(line: str, code: str) -> str:
    """The line with its selection of a work offset replaced by another."""
    words = words_of(line)
    selection = next((word for word in words if _group(word) == "offset"), None)
    if selection is None:
        return line
    spans = [(selection.start, selection.end, code)]
    p_word = next((word for word in words if word.letter == "P"), None)
    if selection.value == OFFSET_OF_P / 10 and p_word is not None:
        blanks_from = len(line[: p_word.start].rstrip(" \t"))
        spans.append((blanks_from, p_word.end, ""))
    for start, end, text in sorted(spans, reverse=True):
        line = line[:start] + text + line[end:]
    return line


def without_end(line: str) -> str:
    """The line with M2 or M30 taken out; comments stay."""
    end = end_word(words_of(line))
    return line if end is None else line[: end.start] + line[end.end :]


def _group(word: Word) -> str | None:
    code = code_of("G", word.value) if word.letter == "G" else None
    return None if code is None else GROUP_OF_G.get(code)
