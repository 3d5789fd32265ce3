"""Where the registry is, and who works on it."""

from __future__ import annotations

import getpass
import os
from pathlib import Path

from pincorner.characters import visible
from pincorner.errors import BadInput, RegistryMissing
from pincorner.registry.locations import is_url

REGISTRY_FILE = Path("fixtures_db") / "registry.sqlite"
TEMPLATES_FOLDER = "templates"
ENVIRONMENT = "PINCORNER_DB"


def is_file(path: Path) -> bool:
    """Whether a file is there, whatever it is that was named: nothing is where nothing can be."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def registry_location(db: str | None) -> str:
    """`--db` (a shop folder will do), else the environment variable, else the nearest shop upward.

    Raises RegistryMissing with what to do.
    """
    stated = db or os.environ.get(ENVIRONMENT)
    if stated:
        in_shop = Path(stated) / REGISTRY_FILE
        return str(in_shop) if not is_url(stated) and is_file(in_shop) else stated
    here = Path.cwd()
    for folder in (here, *here.parents):
        if is_file(folder / REGISTRY_FILE):
            return str(folder / REGISTRY_FILE)
    raise RegistryMissing(
        f"there is no {REGISTRY_FILE.as_posix()} in this folder or above; go to the shop folder, "
        "make one with pincorner start or pincorner init, or name a registry with --db"
    )


def shop_folder(location: str) -> Path:
    """The folder that program files and templates are relative to."""
    file = Path(location)
    in_shop = not is_url(location) and file.parent.name == REGISTRY_FILE.parent.name
    return file.parent.parent if in_shop else Path.cwd()


def login_name() -> str:
    """Who is at the keyboard, as far as the system says; whatever it says, plain text."""
    try:
        name = getpass.getuser()
    except (OSError, KeyError, ImportError):
        name = ""
    return visible(name).strip() or "unknown"


def pages_folder(folder: Path) -> Path:
    """A folder for pages, as it was named. Raises BadInput for a file's name, unless there is
    such a folder: pages would go into a new one called `left.pdf`."""
    if folder.suffix.lower() in (".html", ".htm", ".pdf", ".svg") and not folder.is_dir():
        raise BadInput(
            f"-o {folder}: pages go into a folder, one file for each station; name that, such as "
            "-o sheets, and say --pdf for PDF as well"
        )
    return folder


def drawing_suffix(path: Path, *kinds: str) -> str:
    """The file's suffix, one of `kinds` (`.svg` and `.html`). Raises BadInput for any other."""
    kinds, suffix = kinds or (".svg", ".html"), path.suffix.lower()
    if suffix not in kinds:
        raise BadInput(f"-o {path}: it is drawn as {', '.join(kinds[:-1])} or {kinds[-1]}")
    return suffix
