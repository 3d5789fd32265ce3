"""10,000 stations: loading them, how long others are kept out meanwhile, map and status.

Whole processes, with the bounds that we hold ourselves to: load 15 s with the registry held for
2 s, map 20 s, status 0.5 ms a station. `python tests/benchmarks/load.py [STATIONS]`
"""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from worlds import BASE, make_registry

STATION = """  - {{name: s{0:05d}, bed: long-bench, jig: panel-tray, pin: peg-20,
     pins: {{edge: [{1}, {2}], stop: {3}}}}}
"""
PLACES = (("D2", "G2", "C4"), ("E3", "H3", "D5"), ("F4", "I4", "E6"), ("G5", "J5", "F7"))
GIVEN_UP_S = 120
LOOK_S = 0.01


def seconds(arguments: Sequence[str]) -> float | None:
    """Wall time of a whole command; None where it was given up."""
    start = time.perf_counter()
    line = [sys.executable, "-m", "pincorner", *arguments]
    try:
        done = subprocess.run(line, capture_output=True, timeout=GIVEN_UP_S, check=False)
    except subprocess.TimeoutExpired:
        return None
    assert done.returncode in (0, 1), done.stderr.decode()
    return time.perf_counter() - start


def kept_out(registry: Path, ended: threading.Event) -> float:
    """The longest time that another writer could not have begun, until `ended`, in seconds."""
    longest, since = 0.0, None
    with closing(sqlite3.connect(registry, timeout=0, isolation_level=None)) as connection:
        while not ended.wait(LOOK_S):
            try:
                connection.execute("BEGIN IMMEDIATE")
                connection.execute("ROLLBACK")
                since = None
            except sqlite3.OperationalError:
                since = since or time.perf_counter()
                longest = max(longest, time.perf_counter() - since)
    return longest


def told(name: str, took: float | None, bound: float, unit: str = "s") -> None:
    """Print one figure beside its bound."""
    figure = f"over {GIVEN_UP_S}" if took is None else f"{took:.2f}"
    print(f"{name:40} {figure:>8} {unit}   (bound {bound})", flush=True)


def main() -> None:
    """Print all figures."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        registry = folder / "r.sqlite"
        make_registry(registry, BASE)
        text = "".join(STATION.format(n, *PLACES[n % len(PLACES)]) for n in range(count))
        file = folder / "many.yaml"
        file.write_text(f"format: 1\nstations:\n{text}", encoding="utf-8", newline="\n")
        ended, held = threading.Event(), [0.0]
        looker = threading.Thread(target=lambda: held.append(kept_out(registry, ended)))
        looker.start()
        db = ["--db", str(registry)]
        took = seconds([*db, "load", str(file)])
        ended.set()
        looker.join()
        told(f"load of {count} stations", took, 15)
        told("the longest that others are kept out", max(held), 2)
        one = seconds([*db, "list", "machines"])
        took = seconds([*db, "status"])
        each = None if took is None or one is None else (took - one) * 1000 / count
        told("status, each station", each, 0.5, "ms")
        told("map", seconds([*db, "map", "long-bench", "-o", str(folder / "m.html")]), 20)


if __name__ == "__main__":
    main()
