"""What `import pincorner` offers: quick, typed, told in one place."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest

import pincorner
from pincorner import errors

ROOT = Path(__file__).resolve().parent.parent
FACE = ROOT / "src" / "pincorner" / "__init__.py"

HEAVY = ("alembic", "jinja2", "numpy", "pydantic", "shapely", "sqlalchemy", "typer", "yaml",
         "importlib.metadata", "pincorner.errors", "pincorner.shop")  # fmt: skip
"""What importing the package does not import, nor `Shop` alone, but for itself and its errors."""


def seen_by_type_checkers() -> dict[str, str]:
    """The names that the package imports for type checkers, each with its module."""
    (checked,) = (
        node
        for node in ast.parse(FACE.read_text(encoding="utf-8")).body
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name)
    )
    found = {
        alias.name: (node.module or "").removeprefix("pincorner.")
        for node in checked.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    stated = [node.target for node in checked.body if isinstance(node, ast.AnnAssign)]
    return found | {target.id: "" for target in stated if isinstance(target, ast.Name)}


def test_type_checkers_see_what_is_there() -> None:
    """Each public name is imported for type checkers from where it is found when it is used."""
    seen = seen_by_type_checkers()
    assert seen == {**pincorner._HOMES, "__version__": ""}
    assert set(seen) == set(pincorner.__all__)


def test_type_checkers_are_given_every_name() -> None:
    """The file that mypy reads as another program uses each public name."""
    tree = ast.parse((ROOT / "tests" / "typed_face.py").read_text(encoding="utf-8"))
    used = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    used |= {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    assert set(pincorner.__all__) <= used
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert "tests/typed_face.py" in settings["tool"]["mypy"]["files"]


def test_the_package_says_that_it_is_typed() -> None:
    """Without py.typed all of it would be Any to other programs."""
    assert (Path(pincorner.__file__).parent / "py.typed").is_file()


def test_public_names_are_listed() -> None:
    """`dir` shows the public names before they are imported; another one is an AttributeError."""
    assert set(pincorner.__all__) <= set(dir(pincorner))
    with pytest.raises(AttributeError, match="has no attribute Sohp"):
        _ = pincorner.Sohp  # type: ignore[attr-defined]


def test_every_error_is_public() -> None:
    """Whatever is raised can be named by who catches it."""
    made = {
        name
        for name, value in vars(errors).items()
        if isinstance(value, type) and issubclass(value, errors.PincornerError)
    }
    assert made <= set(pincorner.__all__)


@pytest.mark.parametrize("name", [n for n in pincorner.__all__ if not n.startswith("__")])
def test_every_public_name_is_documented(name: str) -> None:
    """Each class and function has its own docstring, and so has what a class offers."""
    thing = getattr(pincorner, name)
    assert thing.__doc__ and not thing.__doc__.startswith(f"{name}(")
    for key, value in vars(thing).items() if isinstance(thing, type) else ():
        offered = isinstance(value, property | classmethod) or callable(value)
        if offered and not key.startswith("_") and thing.__module__ == "pincorner.shop":
            assert value.__doc__, f"{name}.{key}"


def test_importing_is_quick() -> None:
    """`import pincorner` loads none of its parts, and importing `Shop` no library."""
    lines = (
        "import sys, pincorner",
        f"print([name for name in {HEAVY} if name in sys.modules])",
        "from pincorner import Shop",
        f"print([name for name in {HEAVY} if name in sys.modules])",
    )
    done = subprocess.run(
        [sys.executable, "-c", "\n".join(lines)],
        capture_output=True, text=True, check=True,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
    )  # fmt: skip
    assert done.stdout.splitlines() == ["[]", "['pincorner.errors', 'pincorner.shop']"]


def test_the_version_stands_in_one_place() -> None:
    """`__version__` is that of the installed package."""
    assert pincorner.__version__ == version("pincorner")


def test_the_changelog_tells_this_version() -> None:
    """The newest release in DEVELOPERS.md is the version of pyproject.toml."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    told = page.partition("\n## Releases\n")[2].partition("\n## ")[0]
    releases = re.findall(r"^### (\d+\.\d+\.\d+)$", told, re.MULTILINE)
    assert releases[0] == project["version"]
    assert releases == sorted(releases, key=lambda each: each.split("."), reverse=True)
