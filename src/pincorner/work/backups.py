"""backup and restore: a consistent copy while others work, and the way back."""

from __future__ import annotations

import secrets
from pathlib import Path

from pincorner.errors import BadInput, RegistryMissing
from pincorner.registry.locations import is_registry, shown, sqlite_path
from pincorner.registry.making import there_is
from pincorner.registry.restoring import Restored
from pincorner.registry.restoring import restore as put_back
from pincorner.registry.store import Person, Registry
from pincorner.work.places import (
    REGISTRY_FILE,
    discard_file,
    place_file,
    refuse_existing,
)
from pincorner.work.session import located, who_works


def backup(db: str | None, file: Path, force: bool) -> int:
    """Copy the registry into a file; the number of changes in it. Raises RegistryError, BadInput.

    Whatever database holds the registry, the copy is one SQLite file.
    """
    registry = Registry(located(db))
    registry.must_exist()
    _refuse_itself(file, registry.location)
    refuse_existing(file, force)
    staged = file.with_name(f".{file.name}.{secrets.token_hex(4)}")
    try:
        changes = registry.backup_to(staged, file)
        place_file(staged, file)
    finally:
        discard_file(staged)
    return changes


def _refuse_itself(file: Path, location: str) -> None:
    """Raise BadInput where a backup is the registry, under whatever name, or its journal."""
    if is_registry(file, location):
        raise BadInput(
            f"{file} is the registry itself ({shown(location)}) or belongs to it; name the backup"
        )


def restore(
    db: str | None,
    file: Path,
    force: bool,
    by: str | None = None,
    note: str | None = None,
    person: Person | None = None,
) -> tuple[str, Restored]:
    """Put a backup back; where, and what came of it. Raises RegistryError, BadInput."""
    if not (there_is(file) and file.is_file()):
        raise BadInput(f"there is no backup {file}; name a file that pincorner backup made")
    who = who_works(by, note)
    try:
        location = located(db)
    except RegistryMissing:
        location = str(REGISTRY_FILE)
    _refuse_itself(file, location)
    target = sqlite_path(location)
    is_new = target is not None and not there_is(target)
    if not force and not is_new:
        raise BadInput(
            f"restoring puts {file} in the place of everything in the registry; back that up, then "
            "say --force"
        )
    if is_new and target is not None:
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise BadInput(f"{location} cannot be made: {error.strerror or error}") from None
    return location, put_back(Registry(location, person), file, who, note)
