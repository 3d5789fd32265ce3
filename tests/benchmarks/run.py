"""Benchmarks, run on purpose: `python tests/benchmarks/run.py`. They print ratios and fail nothing.

Whole processes are timed in turn, A B A B, so that a machine that slows down slows both; the median
of the pairwise ratios is printed beside the bound that we hold ourselves to.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from worlds import BASE, entries, make_registry

PYTHON = sys.executable
PROGRAM = [PYTHON, "-m", "pincorner"]
ROUNDS = 9


def seconds(command: Sequence[str]) -> float:
    """Wall time of one whole process."""
    start = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def ratio(name: str, command: Sequence[str], baseline: Sequence[str], bound: float) -> None:
    """Print the median of the pairwise ratios of two commands."""
    seconds(command), seconds(baseline)
    pairs = [(seconds(command), seconds(baseline)) for _ in range(ROUNDS)]
    median = statistics.median(a / b for a, b in pairs)
    took, base = (statistics.median(times) * 1000 for times in zip(*pairs, strict=True))
    print(f"{name:44} {took:7.0f} ms / {base:5.0f} ms = {median:5.2f}   (bound {bound})")


def many_stations(folder: Path, count: int) -> Path:
    """A registry with `count` copies of one station."""
    path = folder / f"{count}.sqlite"
    registry = make_registry(path)
    left = next(e.document for e in entries(BASE) if e.document.name == "left")
    copies = [left.model_copy(update={"name": f"s{index:05d}"}) for index in range(count)]
    with registry.writing("bench", "load") as writer:
        writer.put(copies)
    return path


def each(name: str, many: Sequence[str], one: Sequence[str], count: int, bound_ms: float) -> None:
    """Print the time of one item: a command on many less the same command on one."""
    best = min(seconds(many) for _ in range(3)) - min(seconds(one) for _ in range(3))
    print(f"{name:44} {best * 1000 / count:7.3f} ms each   (bound {bound_ms})")


def main() -> None:
    """Print all figures."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        subprocess.run(
            [*PROGRAM, "demo", str(folder / "shop")], stdout=subprocess.DEVNULL, check=True
        )
        shop = ["--db", str(folder / "shop" / "fixtures_db" / "registry.sqlite")]
        libraries = [PYTHON, "-c", "import typer, sqlalchemy, numpy, pydantic"]
        ratio("--help / import typer", [*PROGRAM, "--help"], [PYTHON, "-c", "import typer"], 2.6)
        ratio("block / import libraries", [*PROGRAM, *shop, "block", "left"], libraries, 1.4)
        ratio("offsets / import libraries", [*PROGRAM, *shop, "offsets"], libraries, 1.4)
        few, many = (many_stations(folder, count) for count in (10, 10_000))
        one_of = [[*PROGRAM, "--db", str(p), "offsets", "s00003"] for p in (many, few)]
        ratio("one station of 10,000 / one of 10", *one_of, 1.2)
        every = [*PROGRAM, "--db", str(many), "offsets"]
        each("10,000 offsets", every, one_of[0], 10_000, 0.3)
        sheets = [*PROGRAM, "--db", str(many_stations(folder, 300)), "sheet", "--force"]
        to = ["-o", str(folder / "sheets")]
        each("300 sheets", [*sheets, "--all", *to], [*sheets, "s00003", *to], 300, 20)


if __name__ == "__main__":
    main()
