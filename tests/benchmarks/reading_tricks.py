"""What each trick of the program reader buys: `python tests/benchmarks/reading_tricks.py`.

Prints how much longer a carve takes to read where the trick is replaced by the plain way of doing
it, timed in turn, median of the pairwise ratios. A trick that buys little had better go.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from programs import ROUNDS, seconds_to_read, write

from pincorner.program.reader import columns, numbers, reading
from pincorner.program.reader.columns import Flags
from pincorner.program.reader.motions import Floats, Ints


def digit_by_digit(codes: bytes, letter: Ints, end: Ints) -> tuple[Floats, Flags]:
    """`numbers_of` as anyone would write it (it tells no malformed numbers: a carve has none)."""
    code = np.frombuffer(codes, np.uint8)
    digits, decimals = np.zeros(len(letter)), np.zeros(len(letter), np.int64)
    behind_point = np.zeros(len(letter), np.bool_)
    for step in range(1, int((end - letter).max())):
        at = letter + step
        inside, character = at < end, code.take(at, mode="clip")
        is_digit = inside & (character < 10)
        digits = np.where(is_digit, digits * 10 + character, digits)
        decimals += is_digit & behind_point
        behind_point |= inside & (character == numbers.POINT)
    negative = code.take(letter + 1) == numbers.PLUS_MINUS[1]
    return np.where(negative, -digits, digits) / 10.0**decimals, np.zeros(len(letter), np.bool_)


def ratio_without(path: Path, function: str, plain_way: Callable[..., Any]) -> float:
    """How much longer reading takes with a function of `columns` replaced."""
    trick, ratios = getattr(columns, function), []
    for _ in range(ROUNDS):
        with_it = seconds_to_read(path)
        setattr(columns, function, plain_way)
        ratios.append(seconds_to_read(path) / with_it)
        setattr(columns, function, trick)
    return statistics.median(ratios)


def first_reading(path: Path, keeps_memory: bool) -> float:
    """Seconds of a new process's first reading."""
    done = subprocess.run(
        [sys.executable, __file__, str(path), "keep" if keeps_memory else "forget"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return float(done.stdout)


def main() -> None:
    """Print all figures."""
    if len(sys.argv) == 3:
        if sys.argv[2] == "forget":
            reading._keep_memory = lambda: None
        print(seconds_to_read(Path(sys.argv[1])))
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "program.nc"
        write(path, "3-D carve", 14)
        first = [first_reading(path, False) / first_reading(path, True) for _ in range(ROUNDS)]
        figures = {
            "eight characters of a number at once": ratio_without(
                path, "numbers_of", digit_by_digit
            ),
            "memory kept from piece to piece": statistics.median(first),
        }
        for name, ratio in figures.items():
            print(f"{name:40} without it {ratio:5.2f} times as long")


if __name__ == "__main__":
    main()
