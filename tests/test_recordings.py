"""The recorded command lines reach every command, and what is recorded is what was printed."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import postgres
import pytest
from faults.children import Nursery, Work
from recordings import record

LINES = list(record.lines((record.HERE / "lines.txt").read_text(encoding="utf-8")))


def test_every_command_is_recorded() -> None:
    """Every command of the program stands in the list, in more than 300 lines in all."""
    from typer.main import get_command

    from pincorner.cli.main import app

    words = {word for line in LINES for word in line.words}
    assert set(get_command(app).commands) <= words  # type: ignore[attr-defined]
    assert len(LINES) > 300 and len({line.name for line in LINES}) == len(LINES)


@pytest.mark.parametrize(
    ("line", "every"),
    [
        ("list", ["list"]),
        ("a {b,c} d", ["a b d", "a c d"]),
        ("{a,b}{,--x}", ["a", "a--x", "b", "b--x"]),
    ],
)
def test_braces_stand_for_each(line: str, every: list[str]) -> None:
    """A line with braces is one line for each choice, in order."""
    assert list(record.expanded(line)) == every


def test_lines_on_a_server_have_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lines that need a server are given the URL of a schema, inside of a server of their own where
    none is named; others none."""
    begun = []

    @contextmanager
    def made(what: str) -> Iterator[str]:
        begun.append(what)
        yield f"postgresql:{what}"

    monkeypatch.setattr(sys, "path", [*sys.path])
    monkeypatch.setattr(postgres, "WHY_NONE", None)
    monkeypatch.setattr(postgres, "own_server", lambda: made("server"))
    monkeypatch.setattr(postgres, "empty_schema", lambda: made("schema"))
    for words, url in ((("list",), None), (("list", record.SERVER), "postgresql:schema")):
        with record.server_for([record.Line("shop", 1, words)]) as given:
            assert given == url
    assert begun == ["server", "schema"]


def record_with(script: str, into: str) -> None:
    """Record with a copy of the script, whose lines stand beside it; for a child process."""
    spec = importlib.util.spec_from_file_location("record_beside", script)
    assert spec is not None and spec.loader is not None
    beside = importlib.util.module_from_spec(spec)
    sys.modules["record_beside"] = beside
    spec.loader.exec_module(beside)
    beside.record(Path(into))


def test_a_difference_is_seen(tmp_path: Path, nursery: Nursery) -> None:
    """Two recordings of one state are the same, and one file that differs is told, exit code 1."""
    shop, listed = tmp_path / "shops", tmp_path / "lines.txt"
    shop.mkdir()
    listed.write_text("== small\ninit .\nlist machines --json\nlist hives\n", encoding="utf-8")
    script = tmp_path / "record.py"
    script.write_text(Path(record.__file__).read_text(encoding="utf-8"), encoding="utf-8")
    for name in ("one", "two"):
        given = {"script": str(script), "into": str(tmp_path / name)}
        child = nursery.one(Work("test_recordings:record_with", given, tmp_path))
        assert (child.code, child.out) == (0, "3 lines recorded\n"), child.err
    one, two = (
        {p.name: p.read_text("utf-8") for p in (tmp_path / n).iterdir()} for n in ("one", "two")
    )
    assert one == two and len(one) == 3
    assert one["small-001-init_..txt"].startswith("exit 0\n--- out\nmade ")
    assert one["small-003-list_hives.txt"].startswith("exit 2\n")
    assert record.differing(one, {**two, "small-003-list_hives.txt": "exit 0\n"}) == [
        "small-003-list_hives.txt"
    ]
