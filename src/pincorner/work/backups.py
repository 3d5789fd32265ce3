"""backup and restore: a consistent copy while others work, and the way back."""

from __future__ import annotations

from pathlib import Path

from pincorner.errors import BadInput, RegistryMissing
from pincorner.registry.engine import sqlite_path
from pincorner.registry.store import Registry
from pincorner.work.never_replaced import outputs_of
from pincorner.work.places import REGISTRY_FILE, is_file, login_name, registry_location
from pincorner.work.session import Session
from pincorner.work.staging import discard, make_folder


def backup(db: str | None, file: Path, force: bool) -> int:
    """Copy the registry into a file; the number of changes in it. Raises RegistryError, BadInput.

    Whatever database holds the registry, the copy is one SQLite file.
    """
    registry = Registry(registry_location(db))
    outputs = outputs_of(Session(registry, login_name(), "backup"), force, databases=True)
    copied: list[int] = []
    outputs.write_by(file, lambda staged: copied.append(registry.backup_to(staged)))
    return copied[0]


def restore(db: str | None, file: Path, force: bool) -> tuple[str, int]:
    """Put a backup back; where, and the number of changes in it. Raises RegistryError, BadInput."""
    if not is_file(file):
        raise BadInput(f"there is no backup {file}; name a file that pincorner backup made")
    try:
        location = registry_location(db)
    except RegistryMissing:
        location = str(REGISTRY_FILE)
    target = sqlite_path(location)
    is_new = target is not None and not target.exists()
    if not force and not is_new:
        raise BadInput(
            f"restoring puts {file} in the place of everything in the registry; back that up, then "
            "say --force"
        )
    if target is not None and target.exists() and file.exists() and target.samefile(file):
        raise BadInput(f"{file} is the registry itself; name the backup")
    try:
        if target is not None:
            make_folder(target.parent)
        return location, Registry(location).restore_from(file)
    except BaseException as error:
        if is_new and target is not None:
            discard(target)
        if isinstance(error, OSError):
            raise BadInput(f"{location} cannot be made: {error.strerror or error}") from None
        raise
