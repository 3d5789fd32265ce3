"""The one door through which commands write files: what no output ever replaces, and why.

Whole or not at all, never over an existing file without --force, and never over what a command
keeps, with or without it (`never_replaced.py` says for a registry what that is).
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from pincorner import staging
from pincorner.errors import BadInput, FileExists, PincornerError
from pincorner.staging import hidden_name
from pincorner.work.files.whereabouts import REGISTRY_FILE

IS_WINDOWS = os.name == "nt"
_DEVICES = re.compile(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])[ .]*(\..*)?")
_DATABASE = b"SQLite format 3\0"
_LONGEST_TOLD = 1000


class KeptPath(NamedTuple):
    """A file or a folder, and what it is, in words that end `.. is`."""

    path: Path
    what: str


class Kept(NamedTuple):
    """What no output replaces: files, and all that lies in folders.

    `found`: what is there by device and number, whatever it is called; `named`: by name, what is
    not there yet as well; `within`: folders by device and number.
    """

    found: dict[tuple[int, int], str]
    named: dict[str, str]
    within: dict[tuple[int, int], str]

    def why(self, path: Path) -> str | None:
        """What an output's place is, if nothing may be put there."""
        real = Path(os.path.realpath(path))
        number = _number(path)
        what = self.named.get(_spelt(real))
        if what is None and number is not None:
            what = self.found.get(number)
        if what is None and self.within:
            inside = (self.within.get(each) for each in map(_number, real.parents) if each)
            what = next(filter(None, inside), None)
        return what


def kept_paths(files: Iterable[KeptPath], folders: Iterable[KeptPath] = ()) -> Kept:
    """The same from places; of two words for one file the first counts."""
    kept = Kept({}, {}, {})
    for path, what in files:
        kept.named.setdefault(_spelt(Path(os.path.realpath(path))), what)
        number = _number(path)
        if number is not None:
            kept.found.setdefault(number, what)
    for path, what in folders:
        number = _number(path)
        if number is not None:
            kept.within.setdefault(number, what)
    return kept


def _spelt(path: Path) -> str:
    """A path for comparing: names that differ in case alone may be one file."""
    return str(path).casefold()


def _number(path: Path) -> tuple[int, int] | None:
    """Device and number of what is there, links followed (what `os.path.samefile` compares)."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return (found.st_dev, found.st_ino) if found.st_ino else None


NOTHING_KEPT = Kept({}, {}, {})


@dataclass(frozen=True)
class Outputs:
    """What one command writes: with `force` over files that exist, never over what is kept.

    `databases`: an earlier backup may be replaced, by a backup.
    """

    force: bool
    kept: Kept = NOTHING_KEPT
    databases: bool = False
    _swept: set[Path] = field(default_factory=set)

    def refuse(self, path: Path) -> None:
        """Raise BadInput for a place that nothing is written to, FileExists without `force`."""
        _must_be_a_name(path)
        mode = _mode_of(path)
        if mode is not None and stat.S_ISDIR(mode):
            raise BadInput(f"{path} is a folder; name a file")
        what = self.kept.why(path)
        if what is None and mode is not None and not stat.S_ISREG(mode):
            what = "no plain file"
        if what is None and staging.is_hidden_name(path.name):
            what = "named like a file under way"
        if what is None and mode is not None and _is_database(path):
            what = _why_no_database(path, self.databases)
        if what is not None:
            raise BadInput(f"{path} is {what}, which no output replaces; name another file")
        if os.path.lexists(path) and not self.force:
            raise FileExists(path)

    def write(self, path: Path, data: bytes) -> None:
        """Write a file whole or not at all. Raises FileExists, BadInput."""
        self.refuse(path)
        staged = hidden_name(path)
        self.stage(path, staged, [data])
        self.place(staged, path)

    def write_by(self, path: Path, make: Callable[[Path], object]) -> None:
        """The same for a file that something else makes, under the name that `make` is given.

        What `make` raises is passed on, and nothing stays.
        """
        self.refuse(path)
        self.sweep(path.parent)
        staged = hidden_name(path)
        try:
            with named_as(staged, path):
                make(staged)
            with _told_of(path):
                staging.flush(staged)
            self.place(staged, path)
        finally:
            for end in ("", *staging.BESIDE_A_DATABASE):
                staging.discard(staged.with_name(staged.name + end))

    def stage(self, path: Path, staged: Path, data: Iterable[bytes]) -> None:
        """Write pieces of data under a hidden name, to be put in place by `place`.

        What making the data raises is passed on, and nothing stays. Raises FileExists, BadInput.
        """
        self.refuse(path)
        self.sweep(path.parent)
        with _told_of(path):
            staging.stage(staged, data)

    def place(self, staged: Path, path: Path) -> None:
        """Put a staged file in place; it is gone if that fails. Raises BadInput, FileExists."""
        try:
            with _told_of(path):
                staging.put(staged, path, replaces=self.force)
        except BaseException:
            staging.discard(staged)
            raise
        staging.flush_folder(path.parent)

    def keep(self, path: Path, aside: Path) -> bool:
        """Keep what a file holds under another name, where it is there; whether it was.

        Raises BadInput, and FileExists where something has that name already.
        """
        with _told_of(path):
            return staging.keep(path, aside)

    def sweep(self, folder: Path) -> None:
        """Take away what killed commands left in a folder, once for each."""
        if folder not in self._swept:
            self._swept.add(folder)
            staging.sweep(folder)

    def folder(self, folder: Path) -> None:
        """A folder for outputs, there already or new. Raises BadInput."""
        _must_be_a_name(folder)
        for place in (folder, *folder.parents):
            mode = _mode_of(place)
            if mode is not None and not stat.S_ISDIR(mode):
                raise BadInput(
                    f"{place} cannot be used: this is a file; name the folder for outputs"
                )
        try:
            staging.make_folder(folder)
        except OSError as error:
            raise BadInput(f"{_short(folder)} cannot be made: {error.strerror or error}") from None


def _must_be_a_name(path: Path) -> None:
    """Raise BadInput for a name that no file of ours can have."""
    told = str(path)
    if not told.isascii():
        try:
            told.encode("utf-8")
        except UnicodeEncodeError:
            plain = told.encode("utf-8", "backslashreplace").decode("utf-8")
            raise BadInput(f"{plain} is no UTF-8 text; name another file") from None
    if IS_WINDOWS and _DEVICES.fullmatch(path.name):
        raise BadInput(f"{path} is a device; name a file")


def _mode_of(path: Path) -> int | None:
    """The mode of what is there, links followed; None where nothing is. Raises BadInput."""
    with _told_of(path):
        try:
            return path.stat().st_mode
        except (FileNotFoundError, NotADirectoryError):
            return None
        except ValueError as error:
            raise BadInput(f"{_short(path)!r} is no name of a file: {error}") from None


def _why_no_database(path: Path, databases: bool) -> str | None:
    """What a database is that is not replaced: all but a backup by another one."""
    if Path(os.path.realpath(path)).parts[-2:] == REGISTRY_FILE.parts:
        return "the registry of a shop"
    return None if databases else "a database"


def _is_database(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(len(_DATABASE)) == _DATABASE
    except OSError:
        return False  # what cannot be read may be replaced all the same, with --force


@contextmanager
def named_as(staged: Path, path: Path) -> Iterator[None]:
    """Have errors about a file under way name the place that it is made for."""
    try:
        yield
    except PincornerError as error:
        told = str(error)
        for name, shown in (
            (str(staged), str(path)),
            (staged.as_posix(), path.as_posix()),
            (staged.name, path.name),
        ):
            told = told.replace(name, shown)
        error.args = (told,)
        raise


@contextmanager
def _told_of(path: Path) -> Iterator[None]:
    """Turn the system's errors about a place into a line."""
    try:
        yield
    except FileExistsError:
        raise FileExists(path) from None
    except OSError as error:
        reason = error.strerror or str(error)
        if isinstance(error, FileNotFoundError | NotADirectoryError):
            reason = f"there is no folder {_short(path.parent)}; make it first"
        raise BadInput(f"{_short(path)} cannot be written: {reason}") from None


def _short(path: Path) -> str:
    text = str(path)
    return text if len(text) < _LONGEST_TOLD else f"{text[:60]}..{text[-60:]}"
