"""Files of registries made whole: filled under another name, then put where there is none.

A file that is there is never unlinked and never replaced: who finds one has not made it.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pincorner.errors import BadInput, RegistryError
from pincorner.staging import BESIDE_A_DATABASE, JOURNALS, discard, hidden_name, sweep


def there_is(file: Path) -> bool:
    """Whether something stands at a path. Raises RegistryError where that may not be seen."""
    try:
        return file.exists() or file.is_symlink()
    except OSError as error:
        raise RegistryError(f"{file} cannot be looked at: {error.strerror or error}") from None


@contextmanager
def staged_beside(file: Path) -> Iterator[Path]:
    """A hidden name beside `file` that nobody has, to make it under; gone afterwards."""
    sweep(file.parent)
    staged = hidden_name(file)
    try:
        yield staged
    finally:
        for end in ("", *BESIDE_A_DATABASE):
            discard(staged.with_name(staged.name + end))


def _beside(file: Path) -> list[Path]:
    """Where a database's journals stand."""
    return [file.with_name(file.name + suffix) for suffix in JOURNALS]


def put_in_place(staged: Path, file: Path) -> bool:
    """Give a finished file its name where nothing has it.

    False where something has, or where the file system cannot do that.
    """
    try:
        left = [path for path in _beside(file) if path.exists()]
        if left and not file.exists():  # of a database that is gone: it would be played into ours
            _move(left, file, _free_name(file))
        if os.name == "nt":
            staged.rename(file)  # never replaces there
        else:
            os.link(staged, file)
    except OSError:
        return False
    return True


def move_aside(file: Path) -> Path:
    """Give a damaged file and its journals a name beside it that nobody has; that name.

    Raises BadInput where it cannot be moved.
    """
    kept = _free_name(file)
    try:
        _move([path for path in _beside(file) if path.exists()], file, kept)
        file.rename(kept)
    except OSError as error:
        raise BadInput(f"{file} cannot be moved away: {error.strerror or error}") from None
    return kept


def _move(journals: list[Path], file: Path, kept: Path) -> None:
    """Move journals along with their database. Raises OSError."""
    for path in journals:
        path.rename(kept.with_name(kept.name + path.name.removeprefix(file.name)))


def _free_name(file: Path) -> Path:
    """`NAME.damaged-1`, or the next number of which nothing is there."""
    number = 1
    while True:
        kept = file.with_name(f"{file.name}.damaged-{number}")
        if not any(path.exists() or path.is_symlink() for path in (kept, *_beside(kept))):
            return kept
        number += 1
