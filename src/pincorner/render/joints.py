"""What `repeat` writes between stations: stop, retract, the next setup block, the way over."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pincorner.geometry.pose import XY
from pincorner.render.block import UNIT_CODES, render_block
from pincorner.render.comments import comment_lines
from pincorner.render.word_check import check_block
from pincorner.setups.setup import Setup
from pincorner.units import Unit, fixed, in_unit


class Stop(NamedTuple):
    """Which section of how many begins, whether the operator is asked first, and the mode words
    that undo what the section before may have left on."""

    number: int
    of: int
    asks: bool
    restated: tuple[str, ...] = ()


def opening_lines(program: str, setups: Sequence[Setup]) -> list[str]:
    """The comment that says what the program repeats, and where."""
    stations = ", ".join(f"{setup.name} {setup.fingerprint}" for setup in setups)
    return _comment(setups[0], f"repeat of program {program} at {stations}")


def joint_lines(
    setups: Sequence[Setup], nest: str | None, stop: Stop, retract_mm: float, over: XY | None
) -> list[str]:
    """Lines that lead to a section: everything is restated, nothing of the one before is kept.

    `setups`: of the station's nests, `nest` the one that runs. `retract_mm`: machine Z. `over`:
    where the section's program first goes, in its own coordinates, mm; the way there is at the
    retract's height. None: it never moves in X and Y. Raises Refused where there is no block.
    """
    chosen = _chosen(setups, nest)
    dialect, unit = chosen.facts.dialect, chosen.facts.machine.units
    name = chosen.facts.station.name
    lines = _comment(
        chosen, f"section {stop.number} of {stop.of}, station {chosen.name} {chosen.fingerprint}"
    )
    lines += ["M5", f"{UNIT_CODES[unit]} G90", " ".join((*dialect.first, *stop.restated))]
    if dialect.rotation == "g68":
        lines.append("G69")
    lines.append(f"G53 G0 Z{_number(chosen, retract_mm, unit)}")
    lines += render_block(setups, nest).splitlines()
    if stop.asks:
        asked = f"IS STATION {name} LOADED, IS IT CLAMPED, ARE ALL HANDS CLEAR"
        lines += [*_comment(chosen, asked), "M0"]  # read while the machine waits
    if over is not None:
        lines.append(UNIT_CODES[unit])
        x, y = (_number(chosen, value, unit) for value in over)
        lines.append(f"G0 X{x} Y{y}")
    check_block("\n".join(lines), dialect.line_length, joins=True)
    return lines


def closing_lines(setup: Setup, number: int) -> list[str]:
    """The comment behind a section, and the end of a rotation that its block turned on."""
    rotation_off = ["G69"] if setup.facts.dialect.rotation == "g68" else []
    return [*rotation_off, *_comment(setup, f"section {number} to here")]


def _chosen(setups: Sequence[Setup], nest: str | None) -> Setup:
    wanted = setups[0].facts.nest(nest)
    return next(each for each in setups if each.nest.name == wanted.name)


def _number(setup: Setup, value_mm: float, unit: Unit) -> str:
    places = setup.facts.dialect.decimals
    return fixed(in_unit(value_mm, unit), places.mm if unit == "mm" else places.inch)


def _comment(setup: Setup, text: str) -> list[str]:
    dialect = setup.facts.dialect
    return comment_lines(text, dialect.comment, dialect.upper_case, dialect.line_length)
