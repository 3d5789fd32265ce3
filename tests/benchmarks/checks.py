"""How fast programs are checked, against `re.findall` for words over the whole text, on one core.

`python tests/benchmarks/checks.py [MEGABYTES..]` prints, for the programs of `programs.py` at the
demo's station `left` with a tray that they fit into and everything else on the bed around it, the
ratio of the whole check's speed (reading, extents, clearance) to that of `re.findall`, and fails
nothing. The two are timed in turn; the median of the pairwise ratios counts.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parent.parent))

from checking import demo_setup, other_setups
from programs import PROGRAMS, seconds_to_find, write

from pincorner.documents.jigs import Nest, Stock
from pincorner.program.check.checks import check_program, tools_of
from pincorner.program.check.result import Report
from pincorner.program.check.surroundings import surroundings
from pincorner.program.source.text import read_program

ROUNDS = 5
BOUNDS = {
    "3-D carve": 1.7,
    "carve, terse": 1.6,
    "45 % arcs": 0.75,
    "every oddity mixed": 0.07,
    "drilling lists": 0.4,
}
"""What this reaches on two slow cores, the least of several runs; a run below is worth a look."""
STOCK = Stock(size=(650.0, 205.0, 20.0))
TRAY = {
    "footprint": (700.0, 480.0),
    "solids": (),
    "nests": (
        Nest(name="a", zero=(25.0, 20.0), stock=STOCK),
        Nest(name="b", zero=(25.0, 255.0), stock=STOCK),
    ),
}
CODES = {"work_offsets": {"a": "G55", "b": "G57"}}
LEFT, OTHERS = demo_setup("left", jig=TRAY, station=CODES), other_setups("left")


def check(path: Path) -> tuple[float, Report]:
    """Time of one check, and what it found."""
    start = time.perf_counter()
    report = check_program(read_program(path), LEFT, OTHERS, tools_of(LEFT.facts.program, {}))
    return time.perf_counter() - start, report


def print_ratios(megabytes: float) -> None:
    """Print, for each kind of program, how fast it is checked."""
    with tempfile.TemporaryDirectory() as folder:
        for kind in PROGRAMS:
            path = Path(folder) / "program.nc"
            write(path, kind, megabytes)
            rounds = ROUNDS if megabytes < 50 else 1
            pairs = [(seconds_to_find(path), check(path)) for _ in range(rounds)]
            ratio = statistics.median(find / took for find, (took, _) in pairs)
            best, report = min(took for _, (took, _) in pairs), pairs[0][1][1]
            bound = f"(bound {BOUNDS[kind]})" if kind in BOUNDS else ""
            print(
                f"{kind:20} {megabytes:5g} MB {best:7.3f} s {ratio:6.2f} times {bound:12} "
                f"{report.verdict}, {len(report.findings)} findings"
            )


def main() -> None:
    """Print all figures."""
    print(f"{len(surroundings(LEFT, LEFT, OTHERS, 8.0, 0.1).obstacles)} obstacles")
    for megabytes in map(float, sys.argv[1:] or ("1", "14", "100")):
        print_ratios(megabytes)


if __name__ == "__main__":
    main()
