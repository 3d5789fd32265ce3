"""A program file in pieces of whole lines, so that memory stays flat however long it is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from pincorner.errors import BadInput

PIECE_BYTES = 1 << 18
"""About two milliseconds' work: short enough for the arrays made of it to stay in cache."""

_SIGNATURE = b"\xef\xbb\xbf"
_LINE_KEPT = 1024
"""Characters kept of a line longer than a piece: enough to see that it is too long."""


def pieces(path: Path, progress: Callable[[int], None] | None = None) -> Iterator[bytes]:
    """Pieces of a file, each of whole lines; line ends are LF, a UTF-8 signature is left out.

    CR LF and a lone CR end a line too. `progress` is told the bytes read so far. Raises BadInput
    where the file cannot be read, is empty, holds NUL bytes or changes meanwhile.
    """
    try:
        before = _version(path)
        with path.open("rb", buffering=0) as file:
            yield from _lines(_blocks(file.read, path, progress))
        changed = _version(path) != before
    except OSError as error:
        raise BadInput(f"{path} cannot be read: {error.strerror or error}") from None
    if changed:
        raise BadInput(f"{path} changed while it was read; run the command again")


def _version(path: Path) -> tuple[int, int]:
    status = path.stat()
    return status.st_size, status.st_mtime_ns


def _blocks(
    read: Callable[[int], bytes | None], path: Path, progress: Callable[[int], None] | None
) -> Iterator[bytes]:
    """Blocks of a file with LF as line end; no block ends within CR LF."""
    so_far = 0
    while block := read(PIECE_BYTES) or b"":
        while block.endswith(b"\r") and (more := read(1)):
            block += more
        if b"\0" in block:
            raise BadInput(f"{path} holds NUL bytes, so it is no program text")
        is_first, so_far = so_far == 0, so_far + len(block)
        if is_first:
            block = block.removeprefix(_SIGNATURE)
        if progress is not None:
            progress(so_far)
        if b"\r" in block:
            block = block.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        yield block
    if so_far == 0:
        raise BadInput(f"{path} is empty")


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
