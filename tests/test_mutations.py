"""The mutants of `tests/mutations/run.py`: each is one change of what is carried out."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from mutations.mutants import mutants, of_module

SOURCE = Path(__file__).resolve().parent.parent / "src" / "pincorner" / "documents"


def test_the_list_is_the_same_and_each_of_it_is_a_change() -> None:
    """Drawn twice the list is the same, spread over the modules, and each mutant is a module."""
    found = mutants(SOURCE, 20, 7)
    assert found == mutants(SOURCE, 20, 7) and len(found) == 20
    assert len({each.path for each in found}) >= 5
    for each in found:
        data = (SOURCE / each.path).read_bytes()
        changed = ast.dump(ast.parse(each.applied(data)))
        assert changed != ast.dump(ast.parse(data)), str(each)


@pytest.mark.parametrize(
    ("code", "changed"),
    [
        ("a < b", {"(a <= b)"}),
        ("a == b and c", {"(a != b) and c", "(a == b or c)"}),
        ("x = -1.5", {"x = (1.5)", "x = -2.5"}),
        ("def f(a: int = 1) -> str: return a", {
            "def f(a: int = 2) -> str: return a", "def f(a: int = 1) -> str: return None"}),
        ("'ö'; a + 1", {"'ö'; (a - 1)", "'ö'; a + 2"}),
        ("a + 'b'; x: int; return_ = None", set()),
    ],
)  # fmt: skip
def test_what_is_changed(tmp_path: Path, code: str, changed: set[str]) -> None:
    """Comparisons, `and`, signs, numbers and what is returned are changed, types and texts not."""
    path = tmp_path / "m.py"
    path.write_text(code, encoding="utf-8", newline="\n")
    data = path.read_bytes()
    made = {each.applied(data).decode("utf-8") for each in of_module(path, tmp_path)}
    assert made == changed
