"""How fast pins and places are chosen by two states of the code, in turn: this one and another.

`python tests/benchmarks/choice_states.py OTHER` prints the median of the pairwise ratios of this
checkout's time to the other's (above 1: slower here), with the least and the most, for pins on a
grid of 30 by 20 holes, for pins at the demo's tray, and for places on a bed of 30 by 15 holes with
40 obstacles. It fails nothing.
"""

from __future__ import annotations

import statistics
import sys
from pathlib import Path

from two_states import State

PAIRS = 15
WORKER = """
import sys, time
from pin_choice import asking
from places import TEXT, obstacles
from worlds import BASE, facts, world
from pincorner.places.search import find_places
from pincorner.setups.choice import choose_pins
wide, tray = asking(), facts(world(BASE), pins=None, corner="C2", toward="+x+y")
bed, there = facts(world(TEXT)), obstacles(40)
works = {
    "pins, 30 x 20 grid": lambda: choose_pins(wide),
    "pins, tray of 460 x 280": lambda: choose_pins(tray),
    "places, 40 obstacles": lambda: find_places(bed, there),
}
for line in sys.stdin:
    start = time.process_time()
    works[line.rstrip(chr(10))]()
    print(time.process_time() - start, flush=True)
"""
WORKS = ("pins, 30 x 20 grid", "pins, tray of 460 x 280", "places, 40 obstacles")


def main() -> None:
    """Print all ratios."""
    other = State(Path(sys.argv[1]).resolve(), WORKER)
    here = State(Path(__file__).resolve().parents[2], WORKER)
    for work in WORKS:
        here.seconds(work), other.seconds(work)  # what is done once is done
        pairs = []
        for pair in range(PAIRS):
            order = (here, other) if pair % 2 else (other, here)
            took = {state: state.seconds(work) for state in order}
            pairs.append((took[here], took[other]))
        ratios = [mine / theirs for mine, theirs in pairs]
        mine, theirs = (statistics.median(times) * 1000 for times in zip(*pairs, strict=True))
        print(
            f"{work:24} {mine:6.0f} ms, {theirs:6.0f} ms there: {statistics.median(ratios):5.2f} "
            f"({min(ratios):.2f}-{max(ratios):.2f})"
        )
    for state in (here, other):
        state.end()


if __name__ == "__main__":
    main()
