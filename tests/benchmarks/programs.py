"""How fast programs are read, against `re.findall` for words over the whole text, on one core.

`python tests/benchmarks/programs.py [MEGABYTES..]` prints ratios (reading's speed over that of
`re.findall`) and fails nothing. The two are timed in turn, so that a machine that slows down slows
both; the median of the pairwise ratios counts. Programs are invented, and come from a seed.
"""

from __future__ import annotations

import math
import random
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from pincorner.program.reader.motions import Frame
from pincorner.program.reader.reading import Reading
from pincorner.program.source.text import read_program

ROUNDS = 7
FRAME = Frame(
    code="G55",
    origins_mm={"G55": (0.0, 0.0, 0.0), "G57": (300.0, 0.0, 0.0)},
    machine_origin_mm=(-295.0, -185.0, math.nan),
    machine_angle_rad=0.0,
    homes_mm={},
    units="mm",
)
START = [
    "%",
    "(an invented program)",
    "G21 G17 G90",
    "G55",
    "T1 M6",
    "S18000 M3",
    "G0 Z15",
    "F1800",
]

Lines = Iterator[str]
Places = list[tuple[float, ...]]
Oddity = Callable[[Places, random.Random], list[str]]


def carve(rng: random.Random) -> Lines:
    """A 3-D carve: `G1 X Y Z` on each line."""
    row = 0.0
    while True:
        row = (row + 0.4) % 200
        for step in range(400):
            z = -6 + 5 * math.sin(step / 40) * math.cos(row / 30) + rng.uniform(-0.2, 0.2)
            yield f"G1 X{step:.3f} Y{row:.3f} Z{z:.3f}"


def terse_carve(rng: random.Random) -> Lines:
    """The same with words left out, no blanks, and no zeros that are not needed."""
    for line in carve(rng):
        words = line.split()[1:]
        yield "".join(words if rng.random() < 0.1 else words[::2])


def arcs(rng: random.Random) -> Lines:
    """2.5-D: pockets with rounded corners in steps of depth, 45 % arcs, two tools, two offsets."""
    while True:
        yield from (f"T{rng.choice((1, 2))} M6", rng.choice(("G55", "G57")), "G0 Z15")
        for _ in range(100):
            x, y, r = (round(rng.uniform(1, most), 3) for most in (200, 120, 20))
            far_x, far_y = x + 2 * r + 40, y + 2 * r + 30
            yield f"G0 X{x + r:.3f} Y{y:.3f}"
            for depth in range(1, 8):
                yield from (f"G1 Z{-1.7 * depth:.3f} F600", f"X{far_x - r:.3f} F2400")
                yield f"G3 X{far_x:.3f} Y{y + r:.3f} I0 J{r:.3f}"
                yield from (f"G1 Y{far_y - r:.3f}", f"G3 X{far_x - r:.3f} Y{far_y:.3f} R{r:.3f}")
                yield from (f"G1 X{x + r:.3f}", f"G3 X{x:.3f} Y{far_y - r:.3f} I0 J{-r:.3f}")
                yield from (f"G1 Y{y + r:.3f}", f"G3 X{x + r:.3f} Y{y:.3f} I{r:.3f}")
            yield "G0 Z5"


def drilling(rng: random.Random) -> Lines:
    """Nothing but lists of holes."""
    while True:
        cycle = rng.choice(("G81", "G82", "G83", "G85"))
        extra = {"G82": " P0.5", "G83": " Q4"}.get(cycle, "")
        yield from ("G0 Z10", rng.choice(("G98", "G99")))
        yield f"{cycle} X0 Y0 Z{rng.uniform(-20, -5):.3f} R2 F400{extra}"
        for _ in range(rng.randrange(40, 160)):
            yield f"X{rng.uniform(0, 600):.3f} Y{rng.uniform(0, 200):.3f}"
        yield "G80"


def oddities(rng: random.Random) -> Lines:
    """Everything a reader must know, some fifty to a hundred and fifty lines of each in turn."""
    while True:
        places = [(rng.uniform(0, 200), rng.uniform(0, 200), rng.uniform(-1, 0))]
        for _ in range(rng.randrange(50, 150)):
            places.append((rng.uniform(0, 200), rng.uniform(0, 200), rng.uniform(0, 40)))
        yield from rng.choice(_ODDITIES)(places, rng)


def _lines(places: Places, rng: random.Random, unit: float = 1.0) -> list[str]:
    """Cuts to places, some words left out but in the first line."""
    rows = [
        [f"{axis}{number / unit:.3f}" for axis, number in zip("XYZ", place, strict=True)]
        for place in places
    ]
    some = [[word for word in row if rng.random() < 0.8] or row[:1] for row in rows[1:]]
    return [" ".join(row) for row in (["G1", *rows[0]], *some)]


def _steps(places: Places, rng: random.Random) -> list[str]:
    """Increments, each of them taken back by the next."""
    steps = [[rng.uniform(-9, 9) for _ in "XYZ"] for _ in places]
    return [
        " ".join(f"{axis}{sign * number:.3f}" for axis, number in zip("XYZ", step, strict=True))
        for step in steps
        for sign in (1, -1)
    ]


def _with(before: list[str], after: list[str]) -> Oddity:
    return lambda places, rng: [*before, *_lines(places, rng), *after]


def _each(change: Callable[[int, str], str]) -> Oddity:
    return lambda places, rng: [
        change(index, line) for index, line in enumerate(_lines(places, rng))
    ]


_ODDITIES: tuple[Oddity, ...] = (
    lambda places, rng: ["G20", *_lines(places, rng, 25.4), "G21"],
    lambda places, rng: [*_lines(places[:1], rng), "G91", *_steps(places, rng), "G90"],
    _with(["G18"], ["X0 Z0", "G2 X10 Z10 I5 K5", "G17", "G1 Y0"]),
    _with(["G57"], ["G55"]),
    _each(lambda index, line: f"{line} (pass {index})"),
    _each(lambda index, line: f"{line} ; so far"),
    _each(lambda index, line: f"N{10 * index} {line}"),
    _each(lambda index, line: line.lower()),
    _each(lambda index, line: line.replace(" ", "")),
    _each(lambda index, line: line.replace("X", "X ")),
    _with(["G53 G0 Z0"], ["G28 Z5", "G30 X0 Y0"]),
    _with(["G92 X0"], ["G92.1"]),
    _with(["G52 X1"], ["G52 X0"]),
    _with(["G0 Z10", "G83 X1 Y1 Z-5 R2 Q1", "X2", "G91 X1 L3", "G90 G80"], []),
    _each(lambda index, line: f"/{line}" if index < 3 else line),
    lambda places, rng: [
        *(f"T{rng.randrange(1, 5)} M6", "G43 H1", "G4 P0.5"),
        *_lines(places, rng),
        "G49",
    ],
    _with(["#5=3", "G1 X1 0", "G10 L2 P6 X5", "M98 P100"], []),
)


PROGRAMS: dict[str, Callable[[random.Random], Lines]] = {
    "3-D carve": carve,
    "carve, terse": terse_carve,
    "45 % arcs": arcs,
    "every oddity mixed": oddities,
    "drilling lists": drilling,
}


def write(path: Path, kind: str, megabytes: float, seed: int = 1) -> None:
    """A program of about this size."""
    lines = PROGRAMS[kind](random.Random(seed))
    left = megabytes * 1e6
    with path.open("w", encoding="ascii", newline="\n") as file:
        file.write("\n".join(START) + "\n")
        while left > 0:
            left -= file.write(next(lines) + "\n")
        file.write("G0 Z15\nM30\n%\n")


def seconds_to_read(path: Path) -> float:
    """Time of one reading; the motions are thrown away as they come."""
    start = time.perf_counter()
    for _ in Reading(FRAME).motions(read_program(path)):
        pass
    return time.perf_counter() - start


def seconds_to_find(path: Path) -> float:
    """Time of `re.findall` for words over the whole text, which has been read before."""
    text = path.read_bytes()
    start = time.perf_counter()
    re.findall(rb"[A-Z][-+.0-9]+", text)
    return time.perf_counter() - start


def print_ratios(megabytes: float) -> None:
    """Print, for each kind of program, how fast it is read."""
    with tempfile.TemporaryDirectory() as folder:
        for kind in PROGRAMS:
            path = Path(folder) / "program.nc"
            write(path, kind, megabytes)
            rounds = ROUNDS if megabytes < 50 else 2
            pairs = [(seconds_to_find(path), seconds_to_read(path)) for _ in range(rounds)]
            ratio = statistics.median(find / read for find, read in pairs)
            best = min(read for _, read in pairs)
            speed = path.stat().st_size / 1e6 / best
            print(f"{kind:20} {megabytes:5g} MB {best:7.3f} s {speed:6.1f} MB/s {ratio:6.2f} times")


def print_memory(megabytes: float) -> None:
    """Print how much memory a reading takes above what the imports take."""
    with tempfile.TemporaryDirectory() as folder:
        for kind in PROGRAMS:
            path = Path(folder) / "program.nc"
            write(path, kind, megabytes)
            done = subprocess.run(
                [sys.executable, __file__, "--memory-of", str(path)],
                capture_output=True, text=True, check=True,
            )  # fmt: skip
            print(f"{kind:20} {megabytes:5g} MB of program: {done.stdout.strip()} MB of memory")


def memory_mb(path: Path) -> float:
    """Growth of this process's largest memory while it reads a program (Linux only)."""
    before = _largest_kb()
    seconds_to_read(path)
    return (_largest_kb() - before) / 1024


def _largest_kb() -> int:
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(status.partition("VmHWM:")[2].split()[0])


def main() -> None:
    """Print all figures."""
    if sys.argv[1:2] == ["--memory-of"]:
        print(f"{memory_mb(Path(sys.argv[2])):.0f}")
        return
    for megabytes in map(float, sys.argv[1:] or ("1", "14", "100")):
        print_ratios(megabytes)
    print_memory(14)


if __name__ == "__main__":
    main()
