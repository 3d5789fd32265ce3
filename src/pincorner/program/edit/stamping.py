"""A copy of a program with a station's setup block in it: text in, text out, line by line."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from pincorner.program.edit.editing import with_code
from pincorner.program.lexer import SIGNATURE, is_header, line_end, words_of

ROTATION_OFF = "setup rotation off"
"""The comment beside the G69 that a stamp puts before the end; it is known again by it."""

_OURS = re.compile(rf"G69 (?:\({ROTATION_OFF}\)|; {ROTATION_OFF})", re.IGNORECASE)


class Edits(NamedTuple):
    """What a stamp changes, by line number from 1.

    `block`: lines of the setup block, without line ends. `replaces`: first and last line of an
    earlier block. `codes`: the new work offset of each line that selects one. `rotation_off_at`:
    the line before which G69 goes (one behind the last for the end of the file), `rotation_off`
    that line's text; empty where no rotation is on. `rotation_was_off`: the line that an earlier
    stamp put there, which is left out.
    """

    block: tuple[str, ...]
    replaces: tuple[int, int] | None
    codes: Mapping[int, str]
    rotation_off_at: int | None = None
    rotation_off: str = ""
    rotation_was_off: int | None = None


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


def stamped(lines: Iterable[str], edits: Edits) -> Iterator[str]:
    """The program's lines with the edits carried out; every other byte stays.

    The block goes where an earlier one was, else behind the program's start (`%`, O or N header,
    comments) and before anything the controller acts on.
    """
    waiting = list(edits.block)
    first, last = edits.replaces or (0, -1)
    end, number, line = "\n", 0, "\n"
    for number, line in enumerate(lines, 1):
        end = line_end(line) if number == 1 else end
        here = number == first if edits.replaces else not is_header(line)
        if waiting and here:
            if number == 1 and line.startswith(SIGNATURE):  # it stays the file's first bytes
                yield SIGNATURE
                line = line.removeprefix(SIGNATURE)
            yield from _with_ends(waiting, end)
            waiting = []
        if first <= number <= last or number == edits.rotation_was_off:
            continue
        if number == edits.rotation_off_at:
            yield edits.rotation_off + end
        code = edits.codes.get(number)
        yield line if code is None else with_code(line, code)
    behind = [*waiting]
    if edits.rotation_off_at is not None and edits.rotation_off_at > number:
        behind.append(edits.rotation_off)
    if behind and not line.endswith(("\n", "\r")):
        yield end
    yield from _with_ends(behind, end)


def _with_ends(lines: Iterable[str], end: str) -> Iterator[str]:
    return (line + end for line in lines)


def rotation_off_line(comment: str) -> str:
    """The line that ends a rotation, in a dialect's kind of comment (`parens` or `semicolon`)."""
    return f"G69 ({ROTATION_OFF})" if comment == "parens" else f"G69 ; {ROTATION_OFF}"
