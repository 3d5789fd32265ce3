"""The setup block that was stamped into a program, known again by its own comments."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from pincorner.errors import BadInput
from pincorner.program.source.lexer import is_header, sole_comment
from pincorner.program.source.text import ProgramText, opened

LONGEST_BLOCK = 1000
"""Lines: a block of 48 nests has some 300."""

_FINGERPRINT = r"(?P<fingerprint>[0-9A-F]{4}-[0-9A-F]{4})"
_NAME = "(?:(?P<name>.+) )?"
"""Of names in scripts that comments cannot have nothing stays."""
_BEGINS = re.compile(rf"setup {_NAME}{_FINGERPRINT} from here", re.IGNORECASE)
_ENDS = re.compile(rf".*, setup {_FINGERPRINT} to here", re.IGNORECASE)
_REPEATS = re.compile(r"repeat of program (?:(.+?) )?at .+", re.IGNORECASE)
_SECTION = re.compile(
    rf"section (?P<number>\d+) of \d+, station {_NAME}{_FINGERPRINT}", re.IGNORECASE
)
_SECTION_ENDS = re.compile(r"section (?P<number>\d+) to here", re.IGNORECASE)
_MADE_OF = re.compile(
    r"made of (?P<name>.*), digest (?P<digest>[0-9A-F]{8} [0-9A-F]{8})", re.IGNORECASE
)
_NOTE = "NOTE "
_GOES_ON = re.compile(r"(?:cont|and) ", re.IGNORECASE)
"""How a further line of a comment begins; by `and` in blocks of 0.1.0."""


class MadeOf(NamedTuple):
    """The program of which a file is a copy: its name in plain letters, and how the SHA-256 of its
    bytes begins, 16 hex digits."""

    name: str
    digest: str

    @property
    def comment(self) -> str:
        """What a copy says of it; `find_block` knows it again."""
        return f"made of {self.name}, digest {self.digest[:8]} {self.digest[8:16]}"


class StampedBlock(NamedTuple):
    """A setup block in a program: its first and last line from 1, for what and in which state.

    `name`: station and nest as the block has them, in plain letters. `lines`: its own, in full.
    `made_of`: the program that it is a copy of; None where nothing is said.
    """

    first: int
    last: int
    name: str
    fingerprint: str
    lines: tuple[str, ...]
    made_of: MadeOf | None = None

    @property
    def span(self) -> tuple[int, int]:
        """Its first and last line."""
        return self.first, self.last

    @property
    def called(self) -> str:
        """Whose setup it is, in which state: `left a EECF-8F5A`."""
        return f"{self.name} {self.fingerprint}".strip()

    @property
    def notes(self) -> list[str]:
        """What it notes, in plain letters, each note whole."""
        texts = (line.text for line in _read(self.lines))
        return [text[len(_NOTE) :] for text in texts if text.upper().startswith(_NOTE)]


class JointSection(NamedTuple):
    """A section of a file written by `repeat`: its lines from 1, and where it runs.

    `name`: station and nest, in plain letters; `fingerprint` of the setup in its block.
    """

    first: int
    last: int
    name: str
    fingerprint: str


class _Line(NamedTuple):
    """The lines up to `last` that one comment goes over, and its text; any other line by itself.

    `acts`: the last one holds something that a controller acts on.
    """

    lines: tuple[str, ...]
    last: int
    text: str
    acts: bool


def block_of(text: ProgramText) -> StampedBlock | None:
    """The setup block in the head of a program. Raises BadInput."""
    return _find_in(text.path, text.lines(), 0)


def block_in_file(path: Path, behind: int = 0) -> StampedBlock | None:
    """The first setup block of a file of which only the head is read.

    `behind` as in `find_block`: in what `repeat` writes a joint stands in front. Raises BadInput.
    """
    with opened(path) as lines:
        return _find_in(path, lines, behind)


def _find_in(path: Path, lines: Iterable[str], behind: int) -> StampedBlock | None:
    try:
        return find_block(lines, behind)
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
    line, match = begin
    first, mark, block = line.last - len(line.lines) + 1, match["fingerprint"].upper(), line.lines
    source = None
    for line in read:
        block += line.lines[-1:]
        made = _MADE_OF.fullmatch(line.text)
        if made is not None:
            source = MadeOf(made["name"], made["digest"].replace(" ", "").lower())
        end = _ENDS.fullmatch(line.text)
        if end is not None and end["fingerprint"].upper() == mark:
            return StampedBlock(first, line.last, match["name"] or "", mark, block, source)
        if line.last > first + LONGEST_BLOCK:
            break
    raise BadInput(
        f"line {first}: a setup block begins here and has no end; take what is left of it out by "
        "hand and stamp the program again"
    )


def in_block(number: int, block: tuple[int, int] | None) -> bool:
    """Whether a line lies in a block (its first and last line); in none where there is none."""
    return block is not None and block[0] <= number <= block[1]


def repeated_in(text: ProgramText) -> str | None:
    """The program that a file written by `repeat` says it repeats; None for any other file."""
    for line in _read(text.lines()):
        match = _REPEATS.fullmatch(line.text)
        if match is not None or line.acts:
            return None if match is None else match[1] or ""
    return None


def sections_in(text: ProgramText) -> list[JointSection]:
    """The sections of a file written by `repeat`, in order; none of any other file."""
    found: list[JointSection] = []
    begun: tuple[int, re.Match[str]] | None = None
    for line in _read(text.lines()):
        match = _SECTION.fullmatch(line.text)
        ends = _SECTION_ENDS.fullmatch(line.text)
        if match is not None:
            begun = line.last - len(line.lines) + 1, match
        elif ends is not None and begun is not None and ends["number"] == begun[1]["number"]:
            first, match = begun
            mark = match["fingerprint"].upper()
            found.append(JointSection(first, line.last, match["name"] or "", mark))
            begun = None
    return found


def _begin_of(read: Iterator[_Line], behind: int) -> tuple[_Line, re.Match[str]] | None:
    """The line that a block begins on; only a program's start is looked through."""
    acting = 0
    for line in read:
        match = _BEGINS.fullmatch(line.text)
        if match is not None:
            return line, match
        acting += line.acts
        if acting > behind:
            return None
    return None


def _read(lines: Iterable[str]) -> Iterator[_Line]:
    """The lines; a comment that begins with `and` goes on with the one before it."""
    text, held = "", tuple[str, ...]()
    for number, line in enumerate(lines, 1):
        comment = sole_comment(line)
        if text and (goes_on := _GOES_ON.match(comment)):
            text, held = f"{text} {comment[goes_on.end() :]}", (*held, line)
        else:
            text, held = comment, (line,)
        yield _Line(held, number, text, not is_header(line))
