"""What `repeat` writes between stations: stop, retract, the next setup block, the way over."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pincorner.errors import Refused
from pincorner.geometry.pose import XY
from pincorner.render.blocks.block import UNIT_CODES, render_block
from pincorner.render.blocks.guards import check_block, comment_lines, mode_lines
from pincorner.setups.printed import printed_length
from pincorner.setups.setup import Setup
from pincorner.units import Unit


class Stop(NamedTuple):
    """Which section of how many begins, whether the operator is asked first, and the words that
    undo what the section before may have left on (G words, M48)."""

    number: int
    of: int
    asks: bool
    restated: tuple[str, ...] = ()


def opening_lines(program: str, setups: Sequence[Setup], said: Sequence[str]) -> list[str]:
    """The comments that say what the program repeats, where, and what else is to be `said`."""
    stations = ", ".join(f"{setup.name} {setup.fingerprint}" for setup in setups)
    repeats = _comment(setups[0], f"repeat of program {program} at {stations}")
    return [*repeats, *(line for text in said for line in _comment(setups[0], text))]


def joint_lines(
    setups: Sequence[Setup],
    nest: str | None,
    stop: Stop,
    retract_mm: float,
    over: XY | None,
    unit_of_program: Unit | None = None,
) -> list[str]:
    """Lines that lead to a section: everything is restated, nothing of the one before is kept.

    `setups`: of the station's nests, `nest` the one that runs. `retract_mm`: machine Z. `over`:
    where the section's program first goes, in its own coordinates, mm; the way there is at the
    retract's height. None: it never moves in X and Y. `unit_of_program`: as `render_block` takes
    it. Raises Refused where there is no block.
    """
    chosen = _chosen(setups, nest)
    dialect, unit = chosen.facts.dialect, chosen.facts.machine.units
    name = chosen.facts.station.name
    lines = _comment(
        chosen, f"section {stop.number} of {stop.of}, station {chosen.name} {chosen.fingerprint}"
    )
    lines += _off_lines(chosen, stop.restated)
    lines.append(f"G53 G0 Z{printed_length(chosen.facts, retract_mm)}")
    block = render_block(setups, nest, unit_of_program).splitlines()
    lines += block
    if stop.asks:
        asked = f"IS STATION {name} LOADED, IS IT CLAMPED, ARE ALL HANDS CLEAR"
        lines += [*_comment(chosen, asked), "M0"]  # read while the machine waits
    if over is not None:
        x, y = (printed_length(chosen.facts, value) for value in over)
        lines += [UNIT_CODES[unit], f"G0 X{x} Y{y}"]
        left_on = [line for line in block if line in UNIT_CODES.values()]
        lines += [code for code in left_on[-1:] if code != UNIT_CODES[unit]]
    check_block("\n".join(lines), dialect.line_length, joins=True)
    return lines


def _off_lines(setup: Setup, restated: Sequence[str]) -> list[str]:
    """Spindle and coolant off: hands go in. Then the modes that a section begins with.

    M2 and M30 would have done the same between two runs (RS274/NGC, 3.6.1). Raises Refused.
    """
    dialect, unit = setup.facts.dialect, setup.facts.machine.units
    g_words = [word for word in restated if word.startswith("G")]
    lines = ["M5 M9", *(word for word in restated if word.startswith("M"))]
    lines += mode_lines((*dialect.first, *g_words), UNIT_CODES[unit])
    if setup.rotates:
        lines.append("G69")
    longest = max(lines, key=len)
    if len(longest) > dialect.line_length:
        raise Refused(
            "line-too-long",
            f"nothing joins the sections: {longest} has {len(longest)} characters, dialect "
            f"{dialect.name} takes {dialect.line_length} a line",
        )
    return lines


def closing_lines(setup: Setup, number: int) -> list[str]:
    """The comment behind a section, and the end of a rotation that its block turned on."""
    rotation_off = ["G69"] if setup.rotates else []
    return [*rotation_off, *_comment(setup, f"section {number} to here")]


def _chosen(setups: Sequence[Setup], nest: str | None) -> Setup:
    wanted = setups[0].facts.nest(nest)
    return next(each for each in setups if each.nest.name == wanted.name)


def _comment(setup: Setup, text: str) -> list[str]:
    dialect = setup.facts.dialect
    return comment_lines(text, dialect.comment, dialect.upper_case, dialect.line_length)
