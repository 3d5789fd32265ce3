"""Everything that is checked: lint, format and types beside the tests.

`python tests/all.py` runs ruff and mypy in processes of their own while pytest runs on every core,
and leaves with 1 where any of them found something. What is written behind it goes to pytest:
`python tests/all.py tests/test_units.py`.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BESIDE = {
    "lint": ("ruff", "check", "."),
    "format": ("ruff", "format", "--check", "."),
    "types": ("mypy",),
}
TESTS = ("pytest", "-q", "-n", "auto", "--dist", "worksteal")
"""Each worker has a stretch of the tests: what a module makes once is made in one of them."""


def with_compiled_modules() -> dict[str, str]:
    """This process' environment, in which Python keeps the modules that it has compiled.

    The tests start hundreds of processes: each of them would compile the program again (2 s).
    """
    kept = os.environ.items()
    return {name: value for name, value in kept if name != "PYTHONDONTWRITEBYTECODE"}


def children_s() -> float:
    """Processor time, in seconds, of the children that were waited for; 0 where no system tells."""
    times = os.times()
    return times.children_user + times.children_system


def run_all(beside: Mapping[str, Sequence[str]], tests: Sequence[str], folder: Path) -> int:
    """Run modules of Python side by side, the tests' output first; 1 where one found something."""
    python = [sys.executable, "-m"]
    said = {name: tempfile.TemporaryFile() for name in beside}  # noqa: SIM115
    begun = {
        name: subprocess.Popen([*python, *words], cwd=folder, stdout=said[name], stderr=said[name])
        for name, words in beside.items()
    }
    code = subprocess.call([*python, *tests], cwd=folder, env=with_compiled_modules())
    failed = ["tests"] if code else []
    tests_s = children_s()
    for name, process in begun.items():
        if process.wait():
            failed.append(name)
            said[name].seek(0)
            text = said[name].read().decode("utf-8", "backslashreplace")
            print(f"--- {name}\n{text}", flush=True)
        said[name].close()
    print(
        f"processor time: tests {tests_s:.0f} s, {' and '.join(beside)} "
        f"{children_s() - tests_s:.0f} s"
    )
    print(f"found something: {', '.join(failed)}" if failed else "nothing found")
    return int(bool(failed))


if __name__ == "__main__":
    sys.exit(run_all(BESIDE, (*TESTS, *sys.argv[1:]), ROOT))
