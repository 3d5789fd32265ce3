"""Faults on purpose: tables of figures, exit code 1 where anything was lost or is beyond a bound.

    python tests/faults/run.py kills --count 1000
    python tests/faults/run.py writers --writers 4 --count 500 --pairs 32
    python tests/faults/run.py fuzz --count 250000
    python tests/faults/run.py fuzz --kind names --first 71 --count 1     # one input again
    python tests/faults/run.py sizes

`writers` takes PostgreSQL too: a server of its own, or the database PINCORNER_TEST_POSTGRES names.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable
from contextlib import nullcontext
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from postgres import WHY_NONE, empty_schema, own_server

from faults import sizes as large
from faults.children import Nursery, command, why_nothing_stops
from faults.fuzz import KINDS, Ground, fast, run_seed
from faults.kills import Yard, kill, many_points
from faults.writers import several, two_inits, two_restores

SHARES = {"documents": 0.4, "surveys": 0.25, "programs": 0.1, "names": 0.15, "registries": 0.1}
TOLD = 5
"""So many findings of one sort are printed whole."""


def kills(asked: argparse.Namespace, folder: Path) -> int:
    """Stop commands dead at calls that change files."""
    reason = why_nothing_stops()
    if reason is not None:
        print(f"skipped: {reason}")
        return 0
    done: Counter[str] = Counter()
    bad: Counter[str] = Counter()
    with Nursery(stops=True) as nursery:
        yard = Yard(nursery, folder / "yard")
        for point in many_points(yard, asked.count):
            wrong = kill(yard, point)
            done[point.case.name] += 1
            bad[point.case.name] += bool(wrong)
            for line in wrong:
                print(f"{point}: {line}", flush=True)
    _table("command", "kills", done, bad)
    return bad.total()


def writers(asked: argparse.Namespace, folder: Path) -> int:
    """Several processes change one registry at once."""
    bad = 0
    print(f"{'registry':22} acknowledged  busy  reads  backups  losses")
    with own_server(), Nursery() as nursery:
        for number, (name, restores) in enumerate(
            (name, restores) for name in ("SQLite", "PostgreSQL") for restores in (False, True)
        ):
            if name == "PostgreSQL" and WHY_NONE is not None:
                print(f"{name:22} skipped: {WHY_NONE}")
                continue
            place = folder / str(number)
            place.mkdir()
            schema = empty_schema() if name == "PostgreSQL" else nullcontext(place / "r.sqlite")
            with schema as db:
                found = several(
                    nursery, place, str(db), asked.writers, asked.count, restores=restores
                )
            title = f"{name}{', a restore' if restores else ''}"
            figures = (found.acknowledged, found.busy, found.reads, found.backups)
            print("{:22} {:12} {:5} {:6} {:8} {:7}".format(title, *figures, len(found.wrong)))
            bad += len(found.wrong)
            _tell(found.wrong)
        wrong = [w for n in range(asked.pairs) if (w := two_inits(nursery, folder / f"i{n}"))]
        print(f"{asked.pairs} pairs of init: {len(wrong)} with a loss")
        copy = folder / "copy.sqlite"
        base = ["--db", str(folder / "1" / "r.sqlite"), "backup", str(copy)]
        assert nursery.one(command(base, folder)).code == 0
        pairs = range(asked.pairs)
        odd = [w for n in pairs if (w := two_restores(nursery, folder / f"b{n}", copy))]
        print(f"{asked.pairs} pairs of restore: {len(odd)} with a loss")
        _tell([line for each in (*wrong, *odd) for line in each])
    return bad + len(wrong) + len(odd)


def fuzz(asked: argparse.Namespace, folder: Path) -> int:
    """Hostile inputs; each finding is told with its kind and seed."""
    done: Counter[str] = Counter()
    bad: Counter[str] = Counter()
    told: Counter[str] = Counter()
    shares = {asked.kind: 1.0} if asked.kind else SHARES
    with Nursery() as nursery:
        assert nursery.one(command(["demo", "demo"], folder)).code == 0
    with fast():
        ground = Ground(folder / "demo", folder / "yard")
        for kind, share in shares.items():
            for seed in range(asked.first, asked.first + max(1, round(asked.count * share))):
                wrong = run_seed(ground, kind, seed)
                done[kind] += 1
                bad[kind] += bool(wrong)
                for line in wrong:
                    sort = f"{kind} {re.sub(r'[0-9]+', 'N', line)[:60]}"
                    told[sort] += 1
                    if told[sort] <= TOLD:
                        print(f"{kind} {seed}: {line[:500]}", flush=True)
        os.chdir(folder.parent)
    _table("inputs", "count", done, bad)
    return bad.total()


def sizes(asked: argparse.Namespace, folder: Path) -> int:
    """Large programs and documents against bounds of time and memory."""
    if os.name != "posix":
        print("skipped: memory and terminals of children are measured on POSIX only")
        return 0
    return large.report(folder, asked.longest_line)


def _table(what: str, counted: str, done: Counter[str], bad: Counter[str]) -> None:
    print(f"\n{what:18} {counted:>7}  with a loss")
    for name, count in [*done.items(), ("all", done.total())]:
        print(f"{name:18} {count:7} {bad.total() if name == 'all' else bad[name]:12}")


def _tell(wrong: Iterable[str]) -> None:
    for line in list(wrong)[:20]:
        print(f"  {line[:500]}", flush=True)


def main() -> int:
    """Run what is asked for; 1 where anything was lost."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    kinds = parser.add_subparsers(dest="what", required=True)
    for function, count in ((kills, 1000), (writers, 500), (fuzz, 250_000), (sizes, 0)):
        kind = kinds.add_parser(function.__name__, help=function.__doc__)
        kind.add_argument("--count", type=int, default=count)
        kind.set_defaults(function=function)
        if function is writers:
            kind.add_argument("--writers", type=int, default=4)
            kind.add_argument("--pairs", type=int, default=32)
        if function is fuzz:
            kind.add_argument("--kind", choices=KINDS)
            kind.add_argument("--first", type=int, default=0, metavar="SEED")
        if function is sizes:
            kind.add_argument("--longest-line", type=int, default=300, metavar="MB")
    asked = parser.parse_args()
    start = time.perf_counter()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        lost = asked.function(asked, Path(folder).resolve())
    print(f"{time.perf_counter() - start:.0f} s")
    return int(lost > 0)


if __name__ == "__main__":
    sys.exit(main())
