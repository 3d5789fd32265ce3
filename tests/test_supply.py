"""What the program is made from: declared, bounded, and found in folders with odd names."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from supply.environments import CORE, ROOT, minimum, newer_pythons, requirements

DISTRIBUTIONS = {"PIL": "pillow", "yaml": "pyyaml", "pydantic_core": "pydantic"}
"""Where a library is imported under another name than it is installed by; pydantic's core comes
with pydantic, which takes one version of it alone."""

BY_NAME_ONLY = {"psycopg": "SQLAlchemy imports it for a URL that begins with postgresql+psycopg"}
"""What is declared and never imported by the package itself, and who does."""


def declared() -> set[str]:
    """The names of all requirements, in small letters."""
    return {re.split(r"[^A-Za-z0-9_.-]", each)[0].casefold() for each in requirements()}


def users_need() -> set[str]:
    """What pyproject.toml asks for from users: all but the extra for tests."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    every = [*project["dependencies"], *extras["postgres"], *extras["dxf"], *extras["photo"]]
    assert set(extras) == {"postgres", "dxf", "photo", "test"}
    return {re.split(r"[^A-Za-z0-9_.-]", each)[0].casefold() for each in every}


IMPORT = re.compile(
    r"^ *(?:import (\w+)[\w.]*(?: as \w+)?$|from (\w+)[\w.]* import )", re.MULTILINE
)
"""A line that imports, as ruff has each on one of its own: the package, by either word."""


def test_every_import_is_declared() -> None:
    """What the package imports from outside is what pyproject.toml asks for, by its own name."""
    imported = set()
    for path in (ROOT / "src").rglob("*.py"):
        found = IMPORT.findall(path.read_text(encoding="utf-8"))
        imported |= {name for each in found for name in each if name}
    outside = imported - set(sys.stdlib_module_names) - {"pincorner"}
    assert {DISTRIBUTIONS.get(name, name) for name in outside} <= declared()
    assert "markupsafe" in outside, "the imports were not read"
    asked = {DISTRIBUTIONS.get(name, name) for name in outside} | set(BY_NAME_ONLY)
    assert users_need() <= asked, "declared and never imported"


def test_every_requirement_has_a_lower_bound() -> None:
    """A bound is `name>=version` and nothing else, so that the core can be run on it."""
    assert [each for each in requirements() if minimum(each) is None] == []
    assert minimum("psycopg[binary]>=3.2.1") == "psycopg==3.2.1"
    assert minimum("numpy") is None and minimum("numpy>1,<2") is None


def test_one_bound_for_a_library() -> None:
    """Extras that name the same library give it the same bound."""
    bounds = [str(minimum(each)).split("==") for each in requirements()]
    assert len({name for name, _ in bounds}) == len(bounds)


def test_bounds_lie_below_the_lock() -> None:
    """What CI installs is nowhere below what pyproject.toml asks for."""
    locked = dict(
        line.casefold().split("==")
        for line in (ROOT / ".ci" / "lock.txt").read_text(encoding="utf-8").splitlines()
    )
    for each in requirements():
        name, version = str(minimum(each)).casefold().split("==")
        if name in locked:
            have, want = (tuple(map(int, v.split("."))) for v in (locked[name], version))
            assert have >= want, each


def test_the_core_is_there() -> None:
    """Every file of the core is a test file of this suite."""
    assert [name for name in CORE if not (ROOT / "tests" / name).is_file()] == []


def test_newer_pythons_runs() -> None:
    """A newer Python that was found says that it is newer."""
    newer = newer_pythons()
    if not newer:
        pytest.skip("no newer Python on this machine")
    asked = [str(newer[0]), "-c", "import sys; print(sys.version_info.minor)"]
    told = subprocess.run(asked, capture_output=True, text=True, check=True)
    assert int(told.stdout) > sys.version_info.minor


@pytest.mark.skipif(os.name == "nt" or shutil.which("bash") is None, reason=".ci/run needs bash")
def test_constraints_in_a_folder_with_a_blank(tmp_path: Path) -> None:
    """The line of .ci/run that names the file of constraints holds in a folder with any name."""
    run = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    (line,) = (line for line in run.splitlines() if line.startswith("lock="))
    assert "PIP_CONSTRAINT=$lock" in run
    folder = tmp_path / "a 100%25 b?"
    (folder / ".ci").mkdir(parents=True)
    (folder / ".ci" / "lock.txt").write_text("pip==0.1\n", encoding="utf-8")
    pip = f'"{sys.executable}" -m pip install --no-index --dry-run pip'
    done = subprocess.run(
        ["bash", "-c", f"{line}\nPIP_CONSTRAINT=$lock {pip}"],
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    said = done.stdout + done.stderr
    assert "0.1" in said and "Could not open requirements file" not in said, said
