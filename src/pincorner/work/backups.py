"""backup and restore: a consistent copy while others work, and the way back."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from pincorner.errors import BadInput, RegistryError, RegistryMissing
from pincorner.registry.locations import is_registry, shown, sqlite_path
from pincorner.registry.making import there_is
from pincorner.registry.restoring import Restored
from pincorner.registry.restoring import restore as put_back
from pincorner.registry.store import Person, Registry
from pincorner.staging import make_folder
from pincorner.work.files.whereabouts import REGISTRY_FILE, is_file, shop_folder
from pincorner.work.never_replaced import outputs_of
from pincorner.work.session import Session, located, who_works


def backup(db: str | None, file: Path, force: bool) -> int:
    """Copy the registry into a file; the number of changes in it. Raises RegistryError, BadInput.

    Whatever database holds the registry, the copy is one SQLite file.
    """
    registry = Registry(located(db))
    registry.must_exist()
    outputs = outputs_of(Session(registry, who_works(None), "backup"), force, databases=True)
    copied: list[int] = []
    outputs.write_by(file, lambda staged: copied.append(registry.backup_to(staged, file)))
    return copied[0]


class PutBack(NamedTuple):
    """A backup that was put back where `location` says. `unknown`: files, as they were recorded,
    that were written since the backup and are there: what holds now does not know what they show.
    """

    location: str
    done: Restored
    unknown: list[str]


def restore(
    db: str | None,
    file: Path,
    force: bool,
    by: str | None = None,
    note: str | None = None,
    person: Person | None = None,
) -> PutBack:
    """Put a backup back, and say what came of it. Raises RegistryError, BadInput."""
    if not is_file(file):
        raise BadInput(f"there is no backup {file}; name a file that pincorner backup made")
    who = who_works(by, note)
    try:
        location = located(db)
    except RegistryMissing:
        location = str(REGISTRY_FILE)
    if is_registry(file, location):
        raise BadInput(
            f"{file} is the registry itself ({shown(location)}) or belongs to it; name the backup"
        )
    target = sqlite_path(location)
    is_new = target is not None and not there_is(target)
    if not force and not is_new:
        raise BadInput(
            f"restoring puts {file} in the place of everything in the registry; back that up, then "
            "say --force"
        )
    if is_new and target is not None:
        try:
            make_folder(target.parent)
        except OSError as error:
            raise BadInput(f"{location} cannot be made: {error.strerror or error}") from None
    registry = Registry(location, person)
    before = {} if is_new else _written(registry)
    done = put_back(registry, file, who, note)
    now, shop = _written(registry), shop_folder(location)
    unknown = [path for path, digest in before.items() if now.get(path) != digest]
    return PutBack(location, done, [path for path in unknown if (shop / path).exists()])


def _written(registry: Registry) -> dict[str, str | None]:
    """The files that a registry has on record, each with the digest that it was written with last;
    none of a registry that cannot be read, which is put back over all the same."""
    try:
        with registry.reading() as reader:
            return {row["path"]: row["digest"] for row in reader.papers()}
    except RegistryError:
        return {}
