"""Run the core of the suite with every dependency at the lowest version that pyproject.toml names.

`python tests/supply/minimum_versions.py` does that; with `--newest` it runs the core on the newest
Python of this machine, with the versions of the lock file. Exits with 1 and a line where something
cannot be installed or a test fails.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from environments import (
    CORE_NEEDS,
    ROOT,
    install,
    lines,
    minimum,
    new_environment,
    newer_pythons,
    requirements,
    run_core,
)


def on_minimum(folder: Path) -> None:
    """The core with every dependency, extra and test tool at its declared minimum."""
    if without := [each for each in requirements() if minimum(each) is None]:
        sys.exit(f"no lower bound: {', '.join(without)}")
    held = folder / "minimum.txt"
    held.write_text(lines(map(minimum, requirements())), encoding="utf-8", newline="\n")
    python = new_environment(folder / "minimum")
    install(python, [".[test,postgres,dxf,photo]"], held)
    run_core(python, ROOT, old=True)


def on_newest(folder: Path) -> None:
    """The core on the newest Python of the machine."""
    newer = newer_pythons()
    names = ", ".join(path.name for path in newer) or "none"
    print(f"newer Pythons than {sys.version_info.major}.{sys.version_info.minor} here: {names}")
    if not newer:
        return
    print(f"on {newer[0].name}", flush=True)
    python = new_environment(folder / "newest", newer[0])
    install(python, [".", *CORE_NEEDS], ROOT / ".ci" / "lock.txt")
    run_core(python, ROOT)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        (on_newest if "--newest" in sys.argv[1:] else on_minimum)(Path(made))
