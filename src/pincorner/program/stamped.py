"""The setup block that was stamped into a program, known again by its own comments."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from pincorner.errors import BadInput
from pincorner.program.lines import SIGNATURE, is_header, opened

LONGEST_BLOCK = 1000
"""Lines: a block of 48 nests has some 300."""

_FINGERPRINT = r"(?P<fingerprint>[0-9A-F]{4}-[0-9A-F]{4})"
_BEGINS = re.compile(rf"setup (?P<name>.+) {_FINGERPRINT} from here", re.IGNORECASE)
_ENDS = re.compile(rf".*, setup {_FINGERPRINT} to here", re.IGNORECASE)
_REPEATS = re.compile(r"repeat of program (.+?) at .+", re.IGNORECASE)
_COMMENT = re.compile(r"[ \t]*(?:\(([^)]*)\)|;(.*))\s*")
_GOES_ON = re.compile(r"and ", re.IGNORECASE)


class StampedBlock(NamedTuple):
    """A setup block in a program: its first and last line from 1, for what and in which state.

    `name`: station and nest as the block has them, in plain letters.
    """

    first: int
    last: int
    name: str
    fingerprint: str


class _Line(NamedTuple):
    """A line, and the comment that it ends, which began on line `first`.

    `acts`: it holds something that a controller acts on.
    """

    first: int
    last: int
    text: str
    acts: bool


def block_in_file(path: Path) -> StampedBlock | None:
    """The setup block in the head of a program file. Raises BadInput."""
    with opened(path) as file:
        try:
            return find_block(file)
        except BadInput as error:
            raise BadInput(f"{path}: {error}") from None


def first_block_in_file(path: Path) -> StampedBlock | None:
    """The first setup block of a file that `repeat` wrote: its joint stands in front. BadInput."""
    with opened(path) as file:
        try:
            return find_block(file, LONGEST_BLOCK)
        except BadInput as error:
            raise BadInput(f"{path}: {error}") from None


def find_block(lines: Iterable[str], behind: int = 0) -> StampedBlock | None:
    """The setup block in front of all that a controller acts on; None where there is none.

    `behind`: so many such lines may stand in front of it. Raises BadInput for a block that begins
    and does not end.
    """
    read = _read(lines)
    begin = _begin_of(read, behind)
    if begin is None:
        return None
    first, match = begin
    mark = match["fingerprint"].upper()
    for line in read:
        end = _ENDS.fullmatch(line.text)
        if end is not None and end["fingerprint"].upper() == mark:
            return StampedBlock(first, line.last, match["name"], mark)
        if line.last > first + LONGEST_BLOCK:
            break
    raise BadInput(
        f"line {first}: a setup block begins here and has no end; take what is left of it out by "
        "hand and stamp the program again"
    )


def repeated_in_file(path: Path) -> str | None:
    """The program that a file written by `repeat` says it repeats; None for any other file.

    Raises BadInput where it cannot be read.
    """
    with opened(path) as file:
        for line in _read(file):
            match = _REPEATS.fullmatch(line.text)
            if match is not None or line.acts:
                return None if match is None else match[1]
    return None


def _begin_of(read: Iterator[_Line], behind: int) -> tuple[int, re.Match[str]] | None:
    """The line that a block begins on; only a program's start is looked through."""
    acting = 0
    for line in read:
        match = _BEGINS.fullmatch(line.text)
        if match is not None:
            return line.first, match
        acting += line.acts
        if acting > behind:
            return None
    return None


def _read(lines: Iterable[str]) -> Iterator[_Line]:
    """The lines; a comment that begins with `and` goes on with the one before it."""
    first, text = 0, ""
    for number, line in enumerate(lines, 1):
        body = _body(line)
        if text and _GOES_ON.match(body):
            text = f"{text} {body[4:]}"
        else:
            first, text = number, body
        yield _Line(first, number, text, not is_header(line))


def _body(line: str) -> str:
    """The text of a line that holds one comment and nothing else; else nothing."""
    match = _COMMENT.fullmatch(line.removeprefix(SIGNATURE))
    return "" if match is None else (match[1] or match[2] or "").strip()
