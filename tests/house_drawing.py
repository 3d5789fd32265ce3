"""The drawing of the folders in DEVELOPERS.md, made from the imports themselves.

`python tests/house_drawing.py` prints it, `--write` puts it in its place; `test_house.py` compares.
Floors follow each other from the highest down, the number before the first folder of each. Behind a
folder stand how many modules it holds, and the folders that it needs; those that it reaches by way
of another one are left out.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "src" / "pincorner"
GUIDE = ROOT / "DEVELOPERS.md"
BEGIN, END = "<!-- tests/house_drawing.py -->\n```\n", "```\n"


@cache
def tree(path: Path) -> ast.Module:
    """A module as the parser sees it; parsed once for all rules."""
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """What a module is made of that rules ask about; walked once for all of them."""
    kinds = (ast.Attribute, ast.Call, ast.Compare, ast.ImportFrom, ast.Subscript)
    return tuple(node for node in ast.walk(tree(path)) if isinstance(node, kinds))


def modules() -> list[Path]:
    """Every module of the package; what an install ships beside them is none."""
    return sorted(path for path in SOURCE.rglob("*.py") if "shipped" not in path.parts)


def dotted(path: Path) -> str:
    """A module's name as it is imported."""
    words = ("pincorner", *path.relative_to(SOURCE).with_suffix("").parts)
    return ".".join(words).removesuffix(".__init__")


def statements(node: ast.AST) -> Iterator[ast.stmt]:
    """Every statement below a node, at whatever depth; expressions, which hold none, are left."""
    for part in ("body", "orelse", "finalbody", "handlers", "cases"):
        for each in getattr(node, part, ()):
            if isinstance(each, ast.stmt):
                yield each
            yield from statements(each)


@cache
def imported(path: Path) -> list[tuple[int, str]]:
    """(line, name) of every import, deferred and type-checking ones too."""
    found = []
    for node in statements(tree(path)):
        if isinstance(node, ast.Import):
            found += [(node.lineno, name.name) for name in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: relative import"
            found += [(node.lineno, f"{node.module}.{name.name}") for name in node.names]
    return found


def needs_of(paths: Iterable[Path]) -> dict[str, set[str]]:
    """By module the package's own modules that it imports."""
    paths = list(paths)
    known = {dotted(path) for path in paths}
    found: dict[str, set[str]] = {}
    for path in paths:
        names = [name for _, name in imported(path) if name.startswith("pincorner.")]
        found[dotted(path)] = {
            name if name in known else name.rpartition(".")[0] for name in names
        } & known
    return found


def folder_of(module: str) -> str:
    """The folder that a module lies in, or the module itself where it lies beside the folders."""
    words = module.split(".")[1:]
    path = SOURCE.joinpath(*words)
    if path.is_dir():
        return "/".join(words) + "/"
    return "/".join(words[:-1]) + "/" if len(words) > 1 else f"{words[0]}.py"


def folders() -> tuple[dict[str, int], dict[str, set[str]]]:
    """How many modules each folder holds, and which folders it needs."""
    sizes: dict[str, int] = {}
    needs: dict[str, set[str]] = {}
    for module, others in needs_of(modules()).items():
        own = folder_of(module)
        if own.startswith("registry/migrations/") or own in ("__main__.py", "/"):
            continue
        name = module.rpartition(".")[2]
        sizes[own] = sizes.get(own, 0) + (own.endswith(".py") or not own.endswith(f"{name}/"))
        needs.setdefault(own, set()).update({folder_of(each) for each in others} - {own})
    empty = {each for each, size in sizes.items() if size == 0}
    return (
        {each: size for each, size in sizes.items() if size},
        {each: others - empty for each, others in needs.items() if each not in empty},
    )


def heights(needs: dict[str, set[str]]) -> dict[str, int]:
    """The floor of each folder: one above the highest that it needs."""
    found: dict[str, int] = {}
    while len(found) < len(needs):
        free = [
            each for each in needs.keys() - found.keys() if needs[each] & needs.keys() <= set(found)
        ]
        assert free, f"folders that need each other: {sorted(needs.keys() - found.keys())}"
        found |= {
            each: 1 + max((found[o] for o in needs[each] if o in found), default=-1)
            for each in free
        }
    return found


def below(folder: str, needs: dict[str, set[str]]) -> set[str]:
    """Every folder that one needs, by whatever way."""
    found: set[str] = set()
    ahead = list(needs.get(folder, ()))
    while ahead:
        each = ahead.pop()
        if each not in found:
            found.add(each)
            ahead += needs.get(each, ())
    return found


def drawing() -> str:
    """The folders by floor, each with its size and its arrows."""
    sizes, needs = folders()
    floors = heights(needs)
    width = max(map(len, sizes))
    lines = []
    for floor in range(max(floors.values()), -1, -1):
        here = sorted(each for each, height in floors.items() if height == floor)
        for at, folder in enumerate(here):
            right_below = {
                each
                for each in needs[folder]
                if not any(each in below(other, needs) for other in needs[folder] - {each})
            }
            arrows = "  ".join(sorted(right_below))
            behind = f" ──> {arrows}" if arrows else ""
            number = "" if at else floor
            lines.append(f"{number:>2}  {folder:{width}} {sizes[folder]:>3}{behind}")
    return "\n".join(lines) + "\n"


def drawn(text: str) -> str:
    """The guide with the drawing of now in its place."""
    head, found, rest = text.partition(BEGIN)
    assert found, "DEVELOPERS.md has no place for the drawing"
    _, found, tail = rest.partition(END)
    return head + BEGIN + drawing() + found + tail


if __name__ == "__main__":
    if sys.argv[1:] == ["--write"]:
        GUIDE.write_text(drawn(GUIDE.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
    else:
        sys.stdout.reconfigure(encoding="utf-8")  # type: ignore[union-attr]
        sys.stdout.write(drawing())
