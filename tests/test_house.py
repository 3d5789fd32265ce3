"""The house rules that a machine can check: lint, types, layers, the public face, module sizes."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "src" / "pincorner"

LAYERS = {
    "errors": 0,
    "characters": 0,
    "units": 0,
    "shipped": 0,
    "staging": 0,
    "geometry": 1,
    "documents": 2,
    "registry": 3,
    "setups": 3,
    "render": 4,
    "program": 4,
    "work": 5,
    "cli": 6,
    "__init__": 6,
    "__main__": 7,
}
"""Imports go down only; layers of one number never see each other. DEVELOPERS.md shows the same."""

OUTSIDE = {
    "numpy": {"setups", "program", "geometry"},
    "shapely": {"geometry", "documents", "setups", "program"},
    "pydantic": {"documents", "work"},
    "yaml": {"documents"},
    "sqlalchemy": {"registry"},
    "alembic": {"registry"},
    "jinja2": {"render"},
    "markupsafe": {"render"},
    "ezdxf": {"render"},
    "typer": {"cli"},
}
"""Who may import a library: a line that wants to leave its layer shows up here."""


def modules() -> list[Path]:
    """Every module of the package."""
    return sorted(path for path in SOURCE.rglob("*.py") if "shipped" not in path.parts)


def part(path: Path) -> str:
    """The layer's name that a module belongs to."""
    first = path.relative_to(SOURCE).parts[0]
    return first.removesuffix(".py")


def imported(path: Path) -> list[tuple[int, str]]:
    """(line, module) of every import, deferred and type-checking ones too."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [(node.lineno, name.name) for name in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: relative import"
            module = node.module or ""
            found += [(node.lineno, f"{module}.{name.name}") for name in node.names]
    return found


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(SOURCE)))
def test_imports_go_down_only(path: Path) -> None:
    """No module imports a higher layer, a neighbour of its own height, or a library not its own."""
    own = part(path)
    for line, name in imported(path):
        where = f"{path.relative_to(ROOT)}:{line}"
        words = name.split(".")
        if words[0] in OUTSIDE:
            assert own in OUTSIDE[words[0]], f"{where}: {own} does not use {words[0]}"
        if words[0] != "pincorner" or len(words) == 1:
            continue
        other = words[1] if words[1] in LAYERS else "__init__"
        lower = LAYERS[other] < LAYERS[own]
        assert other == own or lower, f"{where}: {own} may not import {other}"


def test_documents_are_read_by_their_class() -> None:
    """Nothing asserts of what class a document is: who asks by the class gets one of it."""
    asserted = re.compile(r"\bassert\b.*\bisinstance\(|\bcast\(")
    found = [
        f"{path.relative_to(SOURCE)}:{number}"
        for path in modules()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if asserted.search(line) and "not isinstance" not in line
    ]
    assert found == []


def test_every_part_has_a_layer() -> None:
    """A new folder or top module is given its place in the table first."""
    assert {part(path) for path in modules()} <= set(LAYERS)


def test_developers_guide_shows_the_same_layers() -> None:
    """The layer table of DEVELOPERS.md names every part at its height."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for name, height in LAYERS.items():
        if not name.startswith("__"):
            assert any(
                f"`{name}" in row for row in text.splitlines() if row.startswith(f"| {height}")
            ), f"DEVELOPERS.md does not show {name} at {height}"


def run_tool(*command: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_lint() -> None:
    """Ruff finds nothing."""
    run_tool("ruff", "check", ".")


def test_format() -> None:
    """Ruff would format nothing otherwise."""
    run_tool("ruff", "format", "--check", ".")


def test_types() -> None:
    """mypy finds nothing in strict mode."""
    run_tool("mypy")


def test_modules_stay_readable() -> None:
    """No module of the package is longer than 300 lines."""
    lengths = {
        str(path.relative_to(SOURCE)): len(path.read_text(encoding="utf-8").splitlines())
        for path in modules()
    }
    assert {name: count for name, count in lengths.items() if count > 300} == {}


def test_public_face() -> None:
    """The package exports what its __all__ says, and that is all that it promises."""
    import pincorner

    assert sorted(pincorner.__all__) == pincorner.__all__
    for name in pincorner.__all__:
        assert getattr(pincorner, name) is not None


def test_every_reference_is_read() -> None:
    """Each file of outside values is parsed by some test; one that no test reads is dead weight."""
    tests = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("*.py"))
    for path in (ROOT / "tests" / "references").glob("*.yaml"):
        assert f'"{path.stem}"' in tests, f"no test reads {path.name}"


def test_nothing_names_this_machine() -> None:
    """No tracked text holds a path of the machine that it was written on."""
    here = str(ROOT.parent)
    listed = subprocess.run(
        ["git", "grep", "-IlF", here], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert listed.stdout == "" or len(here) < 4
