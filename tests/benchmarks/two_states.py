"""How fast programs are checked by two states of the code, in turn: this checkout and another.

`python tests/benchmarks/two_states.py OTHER [MEGABYTES]` prints, for each kind of program of
`programs.py`, the median of the pairwise ratios of this checkout's time for a whole check to the
other's (above 1: slower here), with the least and the most, and fails nothing. Each state has one
process of its own with its own `src` and `tests`, and they take turns.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from programs import PROGRAMS, write

PAIRS = 9
WORKER = """
import sys
from pathlib import Path
from checks import check
for line in sys.stdin:
    print(check(Path(line.rstrip(chr(10))))[0], flush=True)
"""


class State:
    """A process that works with the code of one checkout, and tells how long each thing takes.

    `worker`: what it runs; it reads lines that say what to do.
    """

    def __init__(self, checkout: Path, worker: str = WORKER) -> None:
        paths = [checkout / "src", checkout / "tests" / "benchmarks", checkout / "tests"]
        path = os.pathsep.join(map(str, paths))
        self._process = subprocess.Popen(
            [sys.executable, "-c", worker],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8",
            env={**os.environ, "PYTHONPATH": path},
        )  # fmt: skip

    def seconds(self, what: object) -> float:
        """Time of one check of a program, or of whatever the worker is told."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(f"{what}\n")
        self._process.stdin.flush()
        return float(self._process.stdout.readline())

    def end(self) -> None:
        """Let the process end."""
        self._process.communicate()


def main() -> None:
    """Print all ratios."""
    other = State(Path(sys.argv[1]).resolve())
    here = State(Path(__file__).resolve().parents[2])
    megabytes = float(sys.argv[2]) if len(sys.argv) > 2 else 14.0
    with tempfile.TemporaryDirectory() as folder:
        for kind in PROGRAMS:
            program = Path(folder) / "program.nc"
            write(program, kind, megabytes)
            here.seconds(program), other.seconds(program)  # what is done once is done
            ratios = []
            for pair in range(PAIRS):
                order = (here, other) if pair % 2 else (other, here)
                took = {state: state.seconds(program) for state in order}
                ratios.append(took[here] / took[other])
            median = statistics.median(ratios)
            print(f"{kind:20} {megabytes:g} MB {median:5.2f} ({min(ratios):.2f}-{max(ratios):.2f})")
    for state in (here, other):
        state.end()


if __name__ == "__main__":
    main()
