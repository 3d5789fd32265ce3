"""A program file read once, for everything that a command does with it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import cached_property
from hashlib import sha256
from io import BytesIO, TextIOWrapper
from itertools import count, islice
from pathlib import Path
from typing import TextIO

from pincorner.errors import BadInput
from pincorner.program.source.lexer import (
    BYTES,
    SIGNATURE,
    acting_text,
    is_header,
    line_end,
    sieve,
    values_of,
)

PIECE_BYTES = 1 << 19
"""About five milliseconds' work: what each piece costs, however short, is a tenth of that."""

_LINES_AT_ONCE = 4096
"""So many lines are written at once."""

_LINE_KEPT = 1024
"""Characters kept of a line longer than a piece: enough to see that it is too long."""

_LONE_END = re.compile(rb"\r[^\r\n]")
_M6 = sieve("M", (6,))
_HOMES = sieve("G", (28, 30))


class ProgramText:
    """A program: its bytes as they were when it was read, and the path they came from.

    `mtime_ns`: the file's time then; 0 for a text that is no file.
    """

    def __init__(self, path: Path, data: bytes, mtime_ns: int = 0) -> None:
        self.path, self.data, self.mtime_ns = path, data, mtime_ns

    def lines(self) -> Iterator[str]:
        """The lines with every byte and their own ends (LF, CR LF or CR)."""
        return TextIOWrapper(BytesIO(self.data), BYTES, newline="")

    def numbered(self, first: int = 1, last: int | None = None) -> Iterator[tuple[int, str]]:
        """Lines `first` to `last` with their numbers."""
        first, last = max(first, 1), None if last is None else max(last, 0)
        return zip(count(first), islice(self.lines(), first - 1, last), strict=False)

    def line(self, number: int) -> str:
        """One line, counted from 1; nothing behind the last."""
        return next((line for _, line in self.numbered(number, number)), "")

    @property
    def line_end(self) -> str:
        """How its first line ends: LF, CR LF or CR."""
        return line_end(self.line(1))

    @property
    def ends_twice(self) -> bool:
        """Whether lines end in CR CR LF, which are two ends."""
        return b"\r\r\n" in self.data

    @cached_property
    def lone_ends(self) -> list[int]:
        """Lines that end in CR alone, with more behind that, where others end in LF.

        CR, LF or both end a line (RS274/NGC, 3.3, from memory); who ends lines at LF alone reads
        such a one together with the next.
        """
        if b"\n" not in self.data or _LONE_END.search(self.data) is None:
            return []
        found, before = list[int](), ""
        for number, line in self.numbered():
            if before.endswith("\r") and line.strip():
                found.append(number - 1)
            before = line
        return found

    @property
    def first_of_body(self) -> int:
        """Number of the first line that a controller acts on; one behind the last without one."""
        number = 0
        for number, line in self.numbered():
            if not is_header(line):
                return number
        return number + 1

    @property
    def number_lines(self) -> tuple[tuple[int, int], ...]:
        """(line, line) of each program number, an O word alone, in the program's start.

        RS274/NGC knows no O words; at a program's start they only name it (common practice, no
        source).
        """
        return tuple(
            (number, number)
            for number, line in self.numbered(1, self.first_of_body - 1)
            if not {"O", ":"}.isdisjoint(acting_text(line))
        )

    @cached_property
    def changes_tools(self) -> bool:
        """Whether M6 is a word of any line. Raises BadInput as `pieces` does."""
        return any(("M", 6.0) in values_of(line) for line in self.lines_with(_M6))

    @cached_property
    def digest(self) -> str:
        """SHA-256 of its bytes, in hex digits."""
        return sha256(self.data).hexdigest()

    @cached_property
    def goes_home(self) -> bool:
        """Whether G28 or G30 is a word of any line. Raises BadInput as `pieces` does."""
        words = {("G", 28.0), ("G", 30.0)}
        return any(not words.isdisjoint(values_of(line)) for line in self.lines_with(_HOMES))

    def lines_with(self, pattern: re.Pattern[bytes]) -> Iterator[str]:
        """The lines in which a pattern finds something, without their ends. BadInput."""
        for piece in self.pieces():
            found = pattern.search(piece)
            while found is not None:
                start = piece.rfind(b"\n", 0, found.start()) + 1
                end = piece.index(b"\n", found.start())
                yield piece[start:end].decode(BYTES)
                found = pattern.search(piece, end)

    def pieces(self, progress: Callable[[int], None] | None = None) -> Iterator[bytes]:
        """Pieces of whole lines; line ends are LF, a UTF-8 signature is left out.

        CR LF and a lone CR end a line too. `progress` is told the bytes passed so far. Raises
        BadInput where the program is empty or holds NUL bytes.
        """
        return _lines(self._blocks(progress))

    def _blocks(self, progress: Callable[[int], None] | None) -> Iterator[bytes]:
        """Blocks of the bytes with LF as line end; no block ends within CR LF."""
        data, signature = self.data, SIGNATURE.encode(BYTES)
        start = 0
        while start < len(data):
            end = start + PIECE_BYTES
            while data[end - 1 : end] == b"\r":
                end += 1
            block = data[start:end]
            if b"\0" in block:
                raise BadInput(f"{self.path} holds NUL bytes, so it is no program text")
            if start == 0:
                block = block.removeprefix(signature)
            start = min(end, len(data))
            if progress is not None:
                progress(start)
            if b"\r" in block:
                block = block.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
            yield block
        if not data:
            raise BadInput(f"{self.path} is empty")


def bytes_of(lines: Iterable[str]) -> Iterator[bytes]:
    """Lines of a program with their ends, as the bytes of a file, many at a time."""
    waiting = iter(lines)
    while some := list(islice(waiting, _LINES_AT_ONCE)):
        yield "".join(some).encode(BYTES)


def read_program(path: Path) -> ProgramText:
    """A program file as it is now. Raises BadInput where it cannot be read or changes meanwhile."""
    try:
        before = _version(path)
        data = path.read_bytes()
        changed = _version(path) != before
    except OSError as error:
        raise _cannot_be_read(path, error) from None
    if changed:
        raise BadInput(f"{path} changed while it was read; run the command again")
    return ProgramText(path, data, before[1])


@contextmanager
def opened(path: Path) -> Iterator[TextIO]:
    """The lines of a program file of which the head is enough. Raises BadInput."""
    try:
        with path.open(encoding=BYTES, newline="") as file:
            yield file
    except OSError as error:
        raise _cannot_be_read(path, error) from None


def _cannot_be_read(path: Path, error: OSError) -> BadInput:
    return BadInput(f"{path} cannot be read: {error.strerror or error}")


def _version(path: Path) -> tuple[int, int]:
    status = path.stat()
    return status.st_size, status.st_mtime_ns


def _lines(blocks: Iterator[bytes]) -> Iterator[bytes]:
    """Blocks cut anew, at the ends of lines; a last line without an end gets one."""
    rest = b""
    for block in blocks:
        cut = block.rfind(b"\n") + 1
        if cut:
            yield rest + block[:cut]
            rest = block[cut:]
        else:
            rest = (rest + block)[:_LINE_KEPT]
    if rest:
        yield rest + b"\n"
