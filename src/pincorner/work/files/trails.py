"""What a command that writes papers is doing, in a file of its own, for the case that it is killed.

A paper's rename and its entry in the log are two systems, and a kill may fall between them. So the
trail says, before anything is put in place, what goes where and which entry of the log counts for
all of it. The next command looks the entry up: if it is there the papers stay, if not they go, and
what they replaced comes back. The registry is not written for that.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from pincorner import staging
from pincorner.errors import PincornerError
from pincorner.registry.locations import sqlite_path
from pincorner.registry.store import Registry
from pincorner.registry.writer import Writer
from pincorner.staging import OWNER_DIGITS, discard, hidden_name
from pincorner.work.files.whereabouts import TEMPLATES_FOLDER

_END = ".papers"


class Move(NamedTuple):
    """A paper: where it is staged, where it goes, and where what it replaces is kept meanwhile."""

    staged: Path
    path: Path
    aside: Path

    def undo(self, is_ours: bool) -> None:
        """Have the place as it was, where the paper stands in it."""
        kept = os.path.lexists(self.aside)
        with contextlib.suppress(OSError):  # a place that is out of reach cannot be mended
            if is_ours and kept:
                staging.put(self.aside, self.path, replaces=True)
            elif is_ours:
                discard(self.path)
        self.finish()

    def finish(self) -> None:
        """Take away what is left beside the place."""
        discard(self.staged)
        discard(self.aside)


def move_to(path: Path) -> Move:
    """A paper's way to its place, in full paths."""
    full = path.absolute()
    staged = hidden_name(full)
    return Move(staged, full, staged.with_name(f"{staged.name}.old"))


@dataclass
class Trail:
    """The trail of one command; `file` is None where none could be made."""

    file: Path | None
    moves: list[Move] = field(default_factory=list)

    def note(self, move: Move) -> None:
        """A paper will be staged."""
        self.moves.append(move)
        self._write({"move": [str(path) for path in move]}, flushed=False)

    def recorded(self, writer: Writer, entries: list[dict[str, Any]]) -> None:
        """Everything is staged, and recorded if the change that is under way is committed."""
        row = None
        if entries:
            last = writer.reader.papers(fingerprint=entries[-1]["fingerprint"])[-1]
            row = [last["id"], last["at"], last["path"], last["fingerprint"]]
        marks = [_mark(move.staged) for move in self.moves]
        self._write({"row": row, "marks": marks}, flushed=True)

    def close(self) -> None:
        """All is done or undone."""
        if self.file is not None:
            discard(self.file)

    def _write(self, line: dict[str, Any], *, flushed: bool) -> None:
        if self.file is None:
            return
        data = json.dumps(line).encode("ascii") + b"\n"
        try:
            staging.append(self.file, data, flushed=flushed)
        except OSError:
            # a registry whose folder is out of reach says so itself when it is written
            self.close()
            self.file = None


def _mark(path: Path) -> list[int] | None:
    """What a file keeps when it is renamed, and another at its place hardly has; None if none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return [found.st_size, found.st_mtime_ns]


def begin_trail(location: str, shop: Path) -> Trail:
    """The trail of a command that writes papers of a registry."""
    name = hidden_name(_beside(location, shop))
    return Trail(name.with_name(f"{name.name}{_END}"))


def _beside(location: str, shop: Path) -> Path:
    """What trails stand beside: the registry's file, else a name in the shop folder."""
    return (sqlite_path(location) or shop / "pincorner").absolute()


def settle(registry: Registry, shop: Path) -> None:
    """Bring to an end what killed commands were writing, so that log and files agree.

    What they left beside the registry and the shop's templates is taken away.
    """
    beside = _beside(registry.location, shop)
    for folder in (beside.parent, shop / TEMPLATES_FOLDER):
        staging.sweep(folder)
    ours = re.escape(hidden_name(beside).name[:-OWNER_DIGITS])
    trail = re.compile(rf"{ours}(?P<owner>[0-9a-f]{{{OWNER_DIGITS}}}){re.escape(_END)}")
    with contextlib.suppress(OSError):  # a folder that cannot be listed is told by the registry
        for file in beside.parent.iterdir():
            found = trail.fullmatch(file.name)
            if found and staging.is_left_behind(file, found["owner"]):
                _settle(registry, file)


def _settle(registry: Registry, file: Path) -> None:
    moves, end = _read(file)
    if end is None:  # nothing was put in place yet
        _finish(moves, file)
        return
    # As a writer: a commit that is still on its way is over then, and one command alone settles.
    # What keeps it from writing is told by the command itself, and a later one settles.
    with (
        contextlib.suppress(PincornerError),
        registry.writing("pincorner", "settle") as writer,
    ):
        if file.exists() and not _is_recorded(writer, end["row"]):
            for move, mark in zip(moves, end["marks"], strict=True):
                move.undo(mark is not None and _mark(move.path) == mark)
        _finish(moves, file)


def _finish(moves: list[Move], file: Path) -> None:
    for move in moves:
        move.finish()
    discard(file)


def _read(file: Path) -> tuple[list[Move], dict[str, Any] | None]:
    """The moves of a trail, and its last line if it was written; a torn line counts for nothing."""
    moves, end = [], None
    for line in file.read_bytes().splitlines(keepends=True):
        if line.endswith(b"\n"):
            told = json.loads(line)
            if "move" in told:
                moves.append(Move(*map(Path, told["move"])))
            else:
                end = told
    return moves, end


def _is_recorded(writer: Writer, row: list[Any] | None) -> bool:
    if row is None:
        return False
    number, at, path, fingerprint = row
    papers = writer.reader.papers(fingerprint=fingerprint)
    return any((each["id"], each["at"], each["path"]) == (number, at, path) for each in papers)
