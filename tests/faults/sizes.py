"""Large programs and documents: how soon something is shown, how fast they are read, how big.

Whole processes of the program, standard error a terminal of their own. POSIX only.
"""

from __future__ import annotations

import math
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from faults.children import SOURCE, Nursery, command

SHOWN_WITHIN_S = 2.0
LINES_A_SECOND = 12_000
PROGRAM_MB = 300
DOCUMENTS_S = 20.0
DOCUMENTS_MB = 700
MB = 1_000_000
GIVEN_UP_S = 300


class Took(NamedTuple):
    """A whole process: exit code, processor seconds, those to the first thing shown, memory (MB).

    `shown_s` is None where standard error stayed empty, `code` None where it was given up.
    Processor time and not that of the clock: others may be at work on the machine.
    """

    code: int | None
    seconds: float
    shown_s: float | None
    memory_mb: float
    error_lines: int


BETWEEN = """
import os, resource, subprocess, sys
child = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
print(child.pid, flush=True)
code = child.wait()
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(code, used.ru_utime + used.ru_stime, used.ru_maxrss)
"""
"""A small process in between: a child's memory counts from what its parent held when it began."""


def measured(arguments: Sequence[str], folder: Path) -> Took:
    """Run a command line as a process, its standard error a terminal, and measure it."""
    import pty

    environment = {**os.environ, "PYTHONPATH": str(SOURCE), "PYTHONUTF8": "1"}
    ours, theirs = pty.openpty()
    line = [sys.executable, "-m", "pincorner", *arguments]
    between = subprocess.Popen(
        [sys.executable, "-S", "-c", BETWEEN, *line], cwd=folder, env=environment,
        stdout=subprocess.PIPE, stderr=theirs, text=True,
    )  # fmt: skip
    os.close(theirs)
    assert between.stdout is not None
    pid = int(between.stdout.readline())
    start, shown = time.perf_counter(), list[float]()
    lines = [0]

    def listen() -> None:
        while True:
            try:
                told = os.read(ours, 65536)
            except OSError:
                return  # the other end is closed
            if not told:
                return
            if not shown:
                shown.append(_processor_s(pid, time.perf_counter() - start))
            lines[0] += told.count(b"\n")

    listener = threading.Thread(target=listen)
    listener.start()
    stopper = threading.Timer(GIVEN_UP_S, os.kill, (pid, signal.SIGKILL))
    stopper.start()
    code, seconds, memory = between.stdout.read().split()
    stopper.cancel()
    between.wait()
    listener.join()
    os.close(ours)
    return Took(
        int(code) if int(code) >= 0 else None, float(seconds), shown[0] if shown else None,
        int(memory) / (MB if sys.platform == "darwin" else 1000), lines[0],
    )  # fmt: skip


def _processor_s(pid: int, otherwise: float) -> float:
    """The processor time that a process has used so far; `otherwise` where the system hides it."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    except OSError:
        return otherwise
    return (int(stat[11]) + int(stat[12])) / os.sysconf("SC_CLK_TCK")


# What is read

HEAD = "G21 G90 G17 G40 G49 G80 G94\nG55\nT1 M6\nS18000 M3\nG0 Z30\nG0 X20 Y20\nF1500\n"


def carve(size: int) -> str:
    """A program of plain straight moves."""
    one = []
    for n in range(10_000):
        x, y = 20 + 360 * abs(math.sin(n / 400)), 20 + 0.02 * n
        one.append(f"G1 X{x:.3f} Y{y:.3f} Z{-1 - math.sin(n / 30):.3f}")
    return _filled(HEAD, one, size)


def arcs(size: int) -> str:
    """A program of quarter circles."""
    turn = ["G2 X30 Y30 I10 J0", "G2 X40 Y20 I0 J-10", "G2 X30 Y10 I-10 J0", "G2 X20 Y20 I0 J10"]
    return _filled(HEAD + "G1 Z-1\n", turn * 500, size)


def drilling(size: int) -> str:
    """A program of drilled holes, with a comment now and then."""
    holes = [f"X{20 + n % 300} Y{20 + n // 300}" for n in range(9_000)]
    holes[::100] = [f"(row {n})" for n in range(len(holes[::100]))]
    return _filled(HEAD + "G98 G81 X20 Y20 Z-3 R2\n", holes, size)


def tool_changes(count: int) -> str:
    """A program with so many tool changes."""
    return HEAD + "".join(
        f"G0 Z30\nM5\nT{1 + n % 2} M6\nS18000 M3\nG0 X20 Y{20 + n % 100}\nG1 Z-1\n"
        for n in range(count)
    )


def _filled(head: str, lines: Sequence[str], size: int) -> str:
    piece = "\n".join(lines) + "\n"
    return head + piece * max(1, (size - len(head)) // len(piece)) + "G0 Z30\nM5\nM30\n"


def stations(size: int) -> str:
    """Documents: many stations like one of the demo's."""
    one = ("  - {{name: s{0:06d}, bed: long-bench, jig: panel-tray, pin: peg-20, "
           "pins: {{edge: [D2, G2], stop: C4}}}}\n")  # fmt: skip
    count = size // len(one.format(0))
    return "format: 1\nstations:\n" + "".join(one.format(n) for n in range(count))


def faulty(size: int) -> str:
    """The same with a fault in each."""
    return stations(size).replace("pin: peg-20", "pim: peg-20")


def pins(size: int) -> str:
    """Documents: many pins."""
    one = "  - {{name: p{0:06d}, shank: 20.00, body: 20.00, height: 22, body_tolerance: 0.01}}\n"
    return "format: 1\npins:\n" + "".join(one.format(n) for n in range(size // len(one.format(0))))


def report(folder: Path, longest_line: int) -> int:
    """Print the figures; how many are beyond their bounds."""
    with Nursery() as nursery:
        made = nursery.one(command(["demo", "shop"], folder))
    assert made.code == 0, made.err
    shop = folder / "shop"
    print(f"{'program':28} {'MB':>5} {'lines/s':>8} {'shown s':>8} {'MB used':>8} {'s':>7}")
    beyond = 0
    for name, text in (
        ("plain moves", carve(1 * MB)), ("plain moves", carve(20 * MB)), ("arcs", arcs(5 * MB)),
        ("arcs", arcs(20 * MB)), ("drilling", drilling(20 * MB)),
        ("2,000 tool changes", tool_changes(2_000)),
    ):  # fmt: skip
        beyond += _program(shop, name, text, bounded=True)
    waits = "waits for another reader:"
    print(f"{waits} no bounds")
    head = "(setup x EECF-8F5A from here)\n" * 6_000 + "(plain words)\n" * 6_000
    _program(shop, "6,000 block heads, comments", head + carve(1), bounded=False)
    _program(shop, "30,000 tool changes", tool_changes(30_000), bounded=False)
    if longest_line:
        _program(shop, "one line", "(" + "a" * longest_line * MB + ")\n", bounded=False)
    print(f"\n{'documents':28} {'MB':>5} {'lines':>8} {'':>8} {'MB used':>8} {'s':>7}")
    for name, text in (
        ("pins", pins(4 * MB)), ("stations", stations(MB)), ("stations", stations(4 * MB)),
        ("stations, each with a fault", faulty(4 * MB)),
    ):  # fmt: skip
        beyond += _documents(shop, name, text)
    return beyond


def _program(shop: Path, name: str, text: str, *, bounded: bool) -> int:
    (shop / "big.nc").write_text(text, encoding="utf-8", newline="\n")
    took = measured(["check", "big.nc", "--station", "left"], shop)
    rate = text.count("\n") / took.seconds
    shown_s = took.seconds if took.shown_s is None else took.shown_s
    wrong = [] if took.code in (0, 1) else [f"exit {took.code}"]
    if len(text) >= 5 * MB and rate < LINES_A_SECOND:  # start-up weighs on less
        wrong.append(f"under {LINES_A_SECOND} lines a second")
    wrong += [f"shown after {SHOWN_WITHIN_S} s"] if shown_s > SHOWN_WITHIN_S else []
    wrong += [f"over {PROGRAM_MB} MB"] if took.memory_mb > PROGRAM_MB else []
    print(
        f"{name:28} {len(text) / MB:5.1f} {rate:8.0f} {shown_s:8.2f} {took.memory_mb:8.0f} "
        f"{took.seconds:7.1f}  {', '.join(wrong) if bounded else ''}", flush=True,
    )  # fmt: skip
    return int(bounded and bool(wrong))


def _documents(shop: Path, name: str, text: str) -> int:
    (shop / "big.yaml").write_text(text, encoding="utf-8", newline="\n")
    took = measured(["load", "big.yaml", "--dry-run"], shop)
    wrong = [] if took.code in (0, 2) else [f"exit {took.code}"]
    wrong += [f"over {DOCUMENTS_S} s"] if took.seconds > DOCUMENTS_S else []
    wrong += [f"over {DOCUMENTS_MB} MB"] if took.memory_mb > DOCUMENTS_MB else []
    wrong += [f"{took.error_lines} lines of errors"] if took.error_lines > 60 else []
    print(
        f"{name:28} {len(text) / MB:5.1f} {text.count(chr(10)):8} {'':8} {took.memory_mb:8.0f} "
        f"{took.seconds:7.1f}  {', '.join(wrong)}", flush=True,
    )  # fmt: skip
    return int(bool(wrong))
