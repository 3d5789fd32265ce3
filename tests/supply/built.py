"""Build wheel and sdist, and run the core of the suite from the wheel in a folder with odd letters.

`python tests/supply/built.py` builds both from this checkout and the wheel again from the sdist:
they must hold the same files. The wheel is installed into a new environment in a folder whose name
holds a blank, a per cent sign, a question mark (where the system takes one) and a letter beyond
ASCII; the tests are those of the sdist, without its `src`. The demo is run there as a command.
"""

from __future__ import annotations

import os
import shutil
import sys
import tarfile
import tempfile
import zipfile
from pathlib import Path

from environments import CORE_NEEDS, ROOT, install, installed_at, new_environment, run, run_core

ODD = "a bee's 100%25 shöp" + ("" if os.name == "nt" else "?x=1")


def build(python: Path, source: Path, kind: str, into: Path) -> Path:
    """The wheel or sdist that hatchling makes of a source tree."""
    into.mkdir()
    run([python, "-m", "hatchling", "build", "-t", kind, "-d", into], cwd=source)
    (made,) = into.iterdir()
    return made


def unpacked(sdist: Path, into: Path) -> Path:
    """The one folder that an sdist holds."""
    with tarfile.open(sdist) as archive:
        archive.extractall(into, filter="data")
    (top,) = into.iterdir()
    return top


def names(wheel: Path) -> set[str]:
    """The files in a wheel."""
    with zipfile.ZipFile(wheel) as archive:
        return set(archive.namelist())


def missing(wheel: Path) -> set[str]:
    """Tracked files that belong into the wheel and are not in it."""
    listed = run(["git", "ls-files", "src", "templates", "fixtures_db"], cwd=ROOT, told=True)
    there = names(wheel)
    expected = {
        line.removeprefix("src/") if line.startswith("src/") else f"pincorner/shipped/{line}"
        for line in listed.splitlines()
    }
    return expected - there


def main(folder: Path) -> None:
    """Build, compare, install, test."""
    builder = new_environment(folder / "builder")
    install(builder, ["hatchling"], ROOT / ".ci" / "lock.txt")
    wheel = build(builder, ROOT, "wheel", folder / "wheel")
    sdist = build(builder, ROOT, "sdist", folder / "sdist")
    top = unpacked(sdist, folder / ODD)
    again = build(builder, top, "wheel", folder / "again")
    if names(again) != names(wheel):
        sys.exit(f"not the same from the sdist: {sorted(names(again) ^ names(wheel))}")
    if lost := missing(wheel):
        sys.exit(f"not in the wheel: {sorted(lost)}")
    shutil.rmtree(top / "src")
    python = new_environment(folder / ODD / "environment")
    install(python, [wheel, *CORE_NEEDS], ROOT / ".ci" / "lock.txt")
    if not installed_at(python).is_relative_to(folder.resolve()):
        sys.exit(f"the tests would run {installed_at(python)}")
    command = python.with_name("pincorner.exe" if os.name == "nt" else "pincorner")
    run([command, "demo"], cwd=folder / ODD)
    run([command, "offsets"], cwd=folder / ODD / "beehive-shop")
    run([command, "guide", "keys"], cwd=folder / ODD)
    run_core(python, top)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        main(Path(made).resolve())
