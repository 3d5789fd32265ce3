"""How long spans take beside a check of the same programs, in one reading, on one core.

`python tests/benchmarks/spans.py [MEGABYTES..]` prints, for the programs of `programs.py`, the time
of a check, of a check with spans (as `run` does it) and of reading alone, and how many spans there
are, with a beam and without one. The three are timed in turn; medians count; it fails nothing.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parent.parent))

from checks import LEFT, OTHERS
from programs import PROGRAMS, seconds_to_read, write

from pincorner.program.check.checks import check_program, tools_of
from pincorner.program.source.text import read_program
from pincorner.runs.entering import Stocks
from pincorner.runs.spans import Beam, SpanReader
from pincorner.setups.setup import written_in_machine

ROUNDS = 5
FINE_MM = 15.0


def checked(path: Path, beam: Beam | None) -> SpanReader | None:
    """A check, with spans where a beam (or none) is named."""
    text, watcher = read_program(path), None
    if beam is not None:
        stocks = Stocks.of(LEFT, [LEFT], LEFT.facts.program)
        watcher = SpanReader(written_in_machine(LEFT), beam, FINE_MM, text, stocks)
    check_program(text, LEFT, OTHERS, tools_of(LEFT.facts.program, {}), watcher=watcher)
    return watcher


def seconds(work: Callable[[], object]) -> float:
    """Wall time."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    """Print all figures."""
    sizes = [float(each) for each in sys.argv[1:]] or [14.0]
    beams: tuple[Beam, ...] = ("y", "none")
    with tempfile.TemporaryDirectory() as folder:
        for megabytes in sizes:
            for kind in PROGRAMS:
                path = Path(folder) / "program.nc"
                write(path, kind, megabytes)
                rows = [
                    (
                        seconds_to_read(path),
                        seconds(lambda path=path: checked(path, None)),
                        *(seconds(lambda path=path, b=b: checked(path, b)) for b in beams),
                    )
                    for _ in range(ROUNDS)
                ]
                read, check, *both = (statistics.median(each) for each in zip(*rows, strict=True))
                counts = [len(made.spans) for b in beams if (made := checked(path, b))]
                told = ", ".join(
                    f"with {beam} {took:.2f} s ({count} spans)"
                    for beam, took, count in zip(beams, both, counts, strict=True)
                )
                print(f"{megabytes:g} MB {kind:20} read {read:.2f} s, check {check:.2f} s, {told}")


if __name__ == "__main__":
    main()
