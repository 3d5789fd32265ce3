"""Where the registry is, who works on it, and how files are written."""

from __future__ import annotations

import contextlib
import getpass
import os
import secrets
from collections.abc import Iterable
from pathlib import Path

from pincorner.errors import BadInput, FileExists, RegistryMissing

REGISTRY_FILE = Path("fixtures_db") / "registry.sqlite"
TEMPLATES_FOLDER = "templates"
ENVIRONMENT = "PINCORNER_DB"


def registry_location(db: str | None) -> str:
    """`--db` (a shop folder will do), else the environment variable, else the nearest shop upward.

    Raises RegistryMissing with what to do.
    """
    stated = db or os.environ.get(ENVIRONMENT)
    if stated:
        in_shop = Path(stated) / REGISTRY_FILE
        return str(in_shop) if "://" not in stated and in_shop.is_file() else stated
    here = Path.cwd()
    for folder in (here, *here.parents):
        if (folder / REGISTRY_FILE).is_file():
            return str(folder / REGISTRY_FILE)
    raise RegistryMissing(
        f"there is no {REGISTRY_FILE.as_posix()} in this folder or above; go to the shop folder, "
        "make one with pincorner init, or name a registry with --db"
    )


def shop_folder(location: str) -> Path:
    """The folder that program files and templates are relative to."""
    file = Path(location)
    in_shop = "://" not in location and file.parent.name == REGISTRY_FILE.parent.name
    return file.parent.parent if in_shop else Path.cwd()


def login_name() -> str:
    """Who is at the keyboard, as far as the system says."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "unknown"


def refuse_existing(path: Path, force: bool) -> None:
    """Raise FileExists where a file would be replaced without --force."""
    try:
        if path.is_dir():
            raise BadInput(f"{path} is a folder; name a file")
        exists = path.exists()
    except OSError as error:
        raise BadInput(f"{path} cannot be written: {error.strerror or error}") from None
    if exists and not force:
        raise FileExists(path)


def drawing_suffix(path: Path, *kinds: str) -> str:
    """The file's suffix, one of `kinds` (`.svg` and `.html`). Raises BadInput for any other."""
    kinds, suffix = kinds or (".svg", ".html"), path.suffix.lower()
    if suffix not in kinds:
        raise BadInput(f"-o {path}: it is drawn as {', '.join(kinds[:-1])} or {kinds[-1]}")
    return suffix


def stage_file(path: Path, data: Iterable[bytes]) -> Path:
    """Write pieces of data to a new file beside `path`, to be put in place by `place_file`.

    What making the data raises is passed on, and nothing stays.
    """
    staged = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        with staged.open("xb") as file:
            file.writelines(data)
    except OSError as error:
        discard_file(staged)
        raise _unwritable(path, error) from None
    except BaseException:
        discard_file(staged)
        raise
    return staged


def _unwritable(path: Path, error: OSError) -> BadInput:
    if not path.parent.is_dir():
        return BadInput(
            f"{path} cannot be written: there is no folder {path.parent}; make it first"
        )
    return BadInput(f"{path} cannot be written: {error.strerror or error}")


def discard_file(path: Path) -> None:
    """Take a file of ours away, if it is there."""
    with contextlib.suppress(OSError):  # what went wrong before is told, not this
        path.unlink(missing_ok=True)


def write_file(path: Path, data: bytes, force: bool) -> None:
    """Write a file whole or not at all. Raises FileExists, BadInput."""
    refuse_existing(path, force)
    staged = stage_file(path, [data])
    place_file(staged, path)


def place_file(staged: Path, path: Path) -> None:
    """Put a staged file in place. Raises BadInput."""
    try:
        staged.replace(path)
    except OSError as error:
        discard_file(staged)
        raise BadInput(f"{path} cannot be written: {error.strerror or error}") from None
