"""How the cost of commands grows: each at one size, and at twice that size, in one process.

`python tests/benchmarks/growth.py [WORD..]` prints processor time at both sizes and their ratio,
of commands whose line holds a word, or of all. The smaller size is the baseline: what is in
proportion to the work takes up to 2 times as long (4 where a bed has twice as many columns and
rows). Of three runs the fastest counts; it fails nothing.
"""

from __future__ import annotations

import contextlib
import gc
import io
import os
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from pincorner.cli.main import main as command
from pincorner.documents.beds import ColumnLetters

ROUNDS = 3
SHOP = """format: 1
machines:
  - {{name: gantry-1, dialect: rs274, travel: {{x: [0, 60000], y: [0, 60000], z: [-190, 0]}},
     touch_plate: 19.05, beam: y, carriage: {{left: 60, right: 60, front: 70, back: 70}},
     nose: 64, rapid: 8000, operator: front}}
pins:
  - {{name: peg-20, shank: 20.0, body: 20.0, height: {height}}}
jigs:
  - {{name: tray, footprint: [260, 160], seat: 18, height: 40,
     nests: [{{name: a, zero: [25, 20], stock: {{size: [210, 120, 20]}}}}]}}
programs:
  - {{name: panel, file: panel.nc, units: mm, tools: {{"1": {{diameter: 6, stickout: 38}}}}}}
beds:
  - {{name: bench, machine: gantry-1, pose: {{x: 60, y: 55, angle: 0}}, surface: -120,
     grid: {{columns: {columns}, rows: {rows}, pitch: [50, 50], hole: 20.02, depth: 20}},
     tracks: [{tracks}]}}
stations:
"""
STATION = (
    "  - {{name: s{0:05d}, bed: bench, jig: tray, pin: peg-20, work_offsets: {{a: G55}},"
    " program: panel, pins: {{edge: [{1}{4}, {2}{4}], stop: {3}{5}}}}}\n"
)
HEAD, PASS, FOOT = (
    "G21 G90 G17\nG55\nT1 M6\nG0 Z30\nG0 X20 Y20\n",
    "G1 Z-5 F600\nG1 X190\nG1 Y100\nG1 X20\nG1 Y20\nG0 Z5\n",
    "G0 Z30\nM2\n",
)
BY_STATIONS = (
    "load taller.yaml --dry-run",
    "load taller.yaml --yes",
    "status",
    "list",
    "show s00000",
    "offsets",
    "offsets --json",
    "explain s00000",
    "block s00000",
    "sheet s00000 -o one --force",
    "sheet --all -o sheets --force",
    "map bench -o map.html --force",
    "check panel --station s00000",
    "stamp panel --station s00000 -o copy.nc --force",
    "refresh --dry-run",
    "refresh",
    "history",
    "dump",
)
BY_HOLES = (
    "load taller.yaml --yes",
    "place tray --bed bench",
    "show bench",
    "explain s00000",
    "sheet s00000 -o one --force",
    "map bench -o map.html --force",
    "map bench -o map.svg --force",
    "map bench --json",
)
BY_LINES = (
    "check panel --station s00000",
    "stamp panel --station s00000 -o copy.nc --force",
    "repeat panel --stations s00000,s00001 --retract -5 -o both.nc --force",
)


class Size(NamedTuple):
    """Stations on a bed, its columns and rows, passes of the program."""

    stations: int
    columns: int
    rows: int
    passes: int = 20


def shop_of(folder: Path, size: Size) -> None:
    """A shop's files, station beside station, six columns and four rows for each."""
    across = (size.columns - 2) // 6
    letters, width = ColumnLetters(), 50 * size.columns
    rows = [
        STATION.format(at, letters.of(x + 1), letters.of(x + 4), letters.of(x), y, y + 2)
        for at in range(size.stations)
        for x, y in [(at % across * 6 + 1, at // across * 4 + 1)]
    ]
    tracks = ", ".join(
        f"{{name: T{at}, from: [-25, {y}], to: [{width - 60}, {y}], width: 19, depth: 1}}"
        for at, y in enumerate(range(175, 50 * size.rows - 50, 200))
    )
    for name, height in (("shop.yaml", 22), ("taller.yaml", 23)):
        text = SHOP.format(height=height, columns=size.columns, rows=size.rows, tracks=tracks)
        (folder / name).write_text(text + "".join(rows), encoding="utf-8", newline="\n")
    program = HEAD + PASS * size.passes + FOOT
    (folder / "panel.nc").write_text(program, encoding="utf-8", newline="\n")


@contextlib.contextmanager
def in_shop(size: Size, *, papers: bool) -> Iterator[Path]:
    """A shop folder as the working folder, with a sheet of each station where there are papers."""
    here = Path.cwd()
    with tempfile.TemporaryDirectory() as made:
        os.chdir(made)
        try:
            shop_of(Path(made), size)
            seconds("init --units mm .")
            seconds("load shop.yaml")
            if papers:
                seconds("sheet --all -o sheets")
            yield Path(made) / "fixtures_db" / "registry.sqlite"
        finally:
            os.chdir(here)


def seconds(line: str) -> float:
    """Processor time of a command line in this process."""
    gc.collect()
    before, told = time.process_time(), io.StringIO()
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(told):
        code = command(line.split())
    assert code in (0, 1), (line, told.getvalue())
    return time.process_time() - before


def measured(size: Size, lines: Sequence[str], *, papers: bool) -> list[float]:
    """The fastest of some runs of each line, every one on the registry that the last one left."""
    found = []
    with in_shop(size, papers=papers) as registry:
        for line in lines:
            kept, took = registry.read_bytes(), []
            for _ in range(1 if line == "refresh" else ROUNDS):
                registry.write_bytes(kept)
                took.append(seconds(line))
            found.append(min(took))
    return found


def main() -> None:
    """Print all figures."""
    words = sys.argv[1:]
    seconds("guide")  # what is loaded once is loaded
    gc.disable()  # as the program has it (`cli/main.run`): it would look at all that lives, often
    for what, small, large, lines, papers in (
        ("stations, 100 to 200", Size(100, 62, 42), Size(200, 62, 82), BY_STATIONS, True),
        ("holes, 100 x 100 to 200 x 200", Size(4, 100, 100), Size(4, 200, 200), BY_HOLES, False),
        ("lines, 300,000 to 600,000", Size(2, 32, 22, 50_000), Size(2, 32, 22, 100_000), BY_LINES,
         True),
    ):  # fmt: skip
        chosen = [line for line in lines if not words or any(word in line for word in words)]
        if not chosen:
            continue
        print(what)
        both = (measured(size, chosen, papers=papers) for size in (small, large))
        for line, before, after in zip(chosen, *both, strict=True):
            print(f"  {line[:56]:56} {before:7.2f} s {after:7.2f} s {after / before:6.2f}")


if __name__ == "__main__":
    main()
