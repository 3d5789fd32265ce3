"""Pin choice against a plain loop, run on purpose: `python tests/benchmarks/pin_choice.py`.

Both choose among the same triples on a 30 x 20 grid, in this process, once everything is imported:
the choice judges them all at once with NumPy, the loop sets up one after the other and takes its
budget. Timed in turn, A B A B; the median of the pairwise ratios is printed. Choosing other pins
than the loop does ends the benchmark with an error.
"""

from __future__ import annotations

import itertools
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from worlds import BASE, facts, world

from pincorner.documents.stations import EdgePins
from pincorner.geometry.pose import Pose
from pincorner.setups.budget import bed_pose, make_budget
from pincorner.setups.choice import SAME_MM, choose_pins, with_pins
from pincorner.setups.facts import Facts
from pincorner.setups.locating import locate

ROUNDS = 5
JIG_MM = (2915.0, 1915.0)  # reaches 29 holes along X and 19 along Y from A1
EDGE = [f"{column}1" for column in (*"BCDEFGHIJKLMNOPQRSTUVWXYZ", "AA", "AB", "AC", "AD")]
STOPS = [f"A{row}" for row in range(2, 21)]


def asking() -> Facts:
    """A station at the first hole of a 30 x 20 grid that leaves its pins to be chosen."""
    text = BASE.replace("columns: 15, rows: 9", "columns: 30, rows: 20")
    found = world(text, jig={"footprint": JIG_MM})
    return facts(found, pins=None, corner="A1", toward="+x+y")


def u95_worst_mm(found: Facts, pins: EdgePins) -> float:
    """u95 at the worst stock corner with these pins, by the arithmetic of one station."""
    these = found._replace(station=with_pins(found.station, pins))
    located, nest = locate(these), these.holder.nests[0]
    jig_in_bed = located.corner_in_bed @ located.jig_in_corner
    nest_in_bed = jig_in_bed @ Pose("jig", "nest", *nest.zero, 0.0)
    nest_in_machine = bed_pose(these) @ nest_in_bed
    arms = [nest_in_machine.vector(corner) for corner in nest.stock.outline]
    zero = (nest_in_bed.x_mm, nest_in_bed.y_mm)
    return make_budget(these, located, zero, arms).u95_worst_mm


def by_loop(found: Facts) -> EdgePins:
    """The pins with the least u95; ties go to two on the long edge, then to those nearest to the
    corner, then by label."""
    best: tuple[int, int, float, tuple[str, str, str]] | None = None
    for way, (edge, stops, size_mm) in enumerate(
        [(EDGE, STOPS, JIG_MM[0]), (STOPS, EDGE, JIG_MM[1])]
    ):
        for (near, first), (far, second) in itertools.combinations(enumerate(edge, 1), 2):
            if (far - near) * 100 < size_mm / 10:
                continue
            for up, stop in enumerate(stops, 1):
                u95_mm = u95_worst_mm(found, EdgePins(edge=(first, second), stop=stop))
                labels = (first, second, stop)
                rank = (round(u95_mm / SAME_MM), way, float(near + far + up), labels)
                best = rank if best is None else min(best, rank)
    assert best is not None
    first, second, stop = best[3]
    return EdgePins(edge=(first, second), stop=stop, chosen=True)


def timed(choose: Callable[[Facts], EdgePins], found: Facts) -> tuple[float, EdgePins]:
    """Seconds that a choice takes, and what it chooses."""
    start = time.perf_counter()
    pins = choose(found)
    return time.perf_counter() - start, pins


def main() -> None:
    """Print the ratio."""
    found = asking()
    choices = [lambda these: choose_pins(these).pins, by_loop]
    timed(choices[0], found)  # loads what the first choice of a process loads
    pairs = []
    for _ in range(ROUNDS):
        (fast, mine), (slow, theirs) = (timed(choose, found) for choose in choices)
        if mine != theirs:
            sys.exit(f"the choice takes {mine}, the loop {theirs}")
        pairs.append((fast, slow))
    median = statistics.median(slow / fast for fast, slow in pairs)
    took, plain = (statistics.median(times) * 1000 for times in zip(*pairs, strict=True))
    chosen = f"edge {mine.edge[0]} {mine.edge[1]}, stop {mine.stop}"
    print(f"pin choice, {chosen}: loop {plain:.0f} ms / {took:.1f} ms = {median:.0f}")


if __name__ == "__main__":
    main()
