"""Faults on purpose: tables of figures, exit code 1 on any loss.

python tests/faults/run.py kills --count 1000
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from faults.children import Nursery, why_nothing_stops
from faults.kills import Yard, kill, many_points


def kills(asked: argparse.Namespace) -> int:
    """Stop commands at calls that change files; the number of kills that cost something."""
    reason = why_nothing_stops()
    if reason is not None:
        print(f"skipped: {reason}")
        return 0
    done: Counter[str] = Counter()
    bad: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder, Nursery(stops=True) as nursery:
        yard = Yard(nursery, Path(folder) / "yard")
        for point in many_points(yard, asked.count):
            wrong = kill(yard, point)
            done[point.case.name] += 1
            bad[point.case.name] += bool(wrong)
            for line in wrong:
                print(f"{point}: {line}", flush=True)
    print(f"\n{'command':18} kills  with a loss")
    for name, count in done.items():
        print(f"{name:18} {count:5} {bad[name]:12}")
    print(f"{'all':18} {done.total():5} {bad.total():12}")
    return bad.total()


def main() -> int:
    """Run what is asked for; 1 where anything was lost."""
    parser = argparse.ArgumentParser(description=__doc__)
    kinds = parser.add_subparsers(dest="kind", required=True)
    for function, count in ((kills, 1000),):
        kind = kinds.add_parser(function.__name__, help=function.__doc__)
        kind.add_argument("--count", type=int, default=count)
        kind.set_defaults(function=function)
    asked = parser.parse_args()
    start, cpu = time.perf_counter(), time.process_time()
    lost = asked.function(asked)
    print(f"{time.perf_counter() - start:.0f} s, {time.process_time() - cpu:.0f} s of them here")
    return int(lost > 0)


if __name__ == "__main__":
    sys.exit(main())
