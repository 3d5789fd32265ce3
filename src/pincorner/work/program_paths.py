"""Where a station's program goes and how long it cuts: read, or taken from what is on file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path as File
from typing import NamedTuple

from pincorner.geometry.outline import Box
from pincorner.program.path.sweeps import ProgramSweep, sweep_of_program
from pincorner.program.source.text import read_program
from pincorner.runs.keep_clear import Path, around, path_over_stock
from pincorner.setups.setup import Setup
from pincorner.work.session import Session


class PathAndTime(NamedTuple):
    """The spindle's path and time at a station for all of its nests.

    `cut_s`: None where nothing says it. `assumed`: what was not on file or not known, in words.
    """

    path: Path
    cut_s: float | None
    tool_changes: int
    assumed: tuple[str, ...]


def path_and_time(session: Session, setups: Sequence[Setup]) -> PathAndTime:
    """What a run must know of a station's program. Raises BadInput for a file it cannot read.

    A program moves under the codes that it selects; one that uses only one code of a station of
    several nests runs once for each.
    """
    facts = setups[0].facts
    program = facts.program
    file = None if program is None else session.shop / File(program.file)
    text = read_program(file) if file and file.is_file() else None
    read = None if text is None else sweep_of_program(text, setups[0], setups)
    assumed: list[str] = []
    runs = _runs(setups, read)
    if read is None or read.box is None:
        path = path_over_stock(setups, facts.largest_tool_mm)
        assumed.append(f"its program was not read: the path is {path.basis}")
    else:
        box = around(_at_each_nest(read.box, setups)) if runs > 1 else read.box
        path = Path(box, f"program {program.name if program else ''}", read.anywhere)
    cut_s = None if program is None else program.cycle
    if cut_s is None and read is not None:
        cut_s = read.cutting_s
        assumed.append("cutting time from feeds and lengths, a lower bound")
    if runs > 1:
        assumed.append(f"its program runs {runs} times, once for each nest")
    changes = max(read.tool_changes - 1, 0) if read is not None else 0
    return PathAndTime(path, None if cut_s is None else cut_s * runs, changes, tuple(assumed))


def _at_each_nest(box: Box, setups: Sequence[Setup]) -> list[Box]:
    """The box of the first nest's program, moved to the zero of each nest."""
    first = setups[0].zero_in_machine
    moves = [
        (each.zero_in_machine.x_mm - first.x_mm, each.zero_in_machine.y_mm - first.y_mm)
        for each in setups
    ]
    return [Box(box.left + x, box.front + y, box.right + x, box.back + y) for x, y in moves]


def _runs(setups: Sequence[Setup], read: ProgramSweep | None) -> int:
    """How often a station's program runs for all of its nests."""
    if read is None:
        return 1
    own = {setup.work_offset for setup in setups}
    return max(1, len(setups) // max(1, len(own & set(read.codes))))
