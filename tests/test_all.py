"""README's second command: what each of its parts finds, the whole tells."""

from __future__ import annotations

from pathlib import Path

import pytest
from all import BESIDE, TESTS, run_all

FINE, WRONG = "raise SystemExit(0)", "raise SystemExit('found it')"


@pytest.mark.parametrize(
    ("lint", "tests", "told"),
    [(FINE, FINE, "nothing found"), (WRONG, FINE, "something: lint"),
     (FINE, WRONG, "something: tests"), (WRONG, WRONG, "something: tests, lint")],
)  # fmt: skip
def test_what_any_part_finds_is_told(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], lint: str, tests: str, told: str
) -> None:
    """The exit code is 1 where the tests or what runs beside them fail, and all is told."""
    for name, code in (("lint_here", lint), ("tests_here", tests)):
        (tmp_path / f"{name}.py").write_text(code, encoding="utf-8")
    code = run_all({"lint": ("lint_here",)}, ("tests_here",), tmp_path)
    said = "".join(capfd.readouterr())
    assert code == int(told != "nothing found") and told in said
    assert said.count("found it") == (lint, tests).count(WRONG)


def test_every_tool_is_run() -> None:
    """Lint, format, strict types and the tests on every core are what the command runs."""
    assert {words[0] for words in BESIDE.values()} == {"ruff", "mypy"} and "pytest" in TESTS
    assert ("ruff", "format", "--check", ".") in BESIDE.values() and "auto" in TESTS
