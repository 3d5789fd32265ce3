"""A stamped copy moves the same, whatever a program before it left on that the block can end.

Rules: NISTIR 6556, 3.6.1 (M2 keeps G43, G98 and G99, units; a program that was broken off keeps
everything), Table 4 (the modes), B.5 (what is refused under cutter compensation).
"""

from __future__ import annotations

import math

import pytest
from blocks import EXTENSIONS, block_of, station
from checking import PROGRAMS, demo_setup
from hypothesis import given, settings
from hypothesis import strategies as st
from oracles.block_reader import MachineState, read_block
from oracles.program_state import Row
from readers import READERS, Reader, reader
from thinning import thinned

from pincorner.program.edit.lines import Edits, stamped
from pincorner.program.path.frames import frame_of
from pincorner.render.blocks.block import render_block

LEFT_ON = [
    "G91", "G20", "G18", "G19", "G93 F2", "G95 F0.1", "G99", "G98", "G43 H7", "G61", "G58",
    "G94 F300\nG98 G81 X1 Y1 Z-1 R2", "F300\nG99 G83 X5 Y5 Z-2 R1 Q1", "F100\nG1 X3 Y4 Z5",
    "G0 X-7 Y9 Z11", "G20 F3\nG91 G1 X0.5", "G19 F10\nG2 Y1 Z1 R1", "G80", "M3 S100", "M8",
]  # fmt: skip
BODIES = {
    "hand-hold.nc": "left", "end-bar-notch.nc": "end-bars", "roof-groove.nc": "roof",
    "holes": "left",
}  # fmt: skip
HOLES = (
    "T1 M6\nG0 Z30\nG0 X100 Y100\nG81 X100 Y100 Z-5 R2 F200\nX150\nG80\n"
    "G2 X160 Y110 R10 F500\nM30\n"
)
"""States as little as it can: what it leans on comes from the block."""


def copy_of(program: str) -> tuple[list[str], tuple[int, int]]:
    """A program's lines with its station's block stamped in, and the lines of that block."""
    setup = demo_setup(BODIES[program])
    body = HOLES if program == "holes" else (PROGRAMS / program).read_text(encoding="utf-8")
    block = render_block([setup]).splitlines()
    lines = "".join(stamped(body.splitlines(True), Edits(tuple(block), None, {}))).splitlines()
    first = lines.index(block[0]) + 1
    return [line for line in lines if line != "%"], (first - lines[:first].count("%"), len(block))


def same_motion(row: Row, clean: Row, shift: int) -> bool:
    """Whether a row is the clean one, as far as that is known, so many lines farther down."""
    ends = all(
        math.isnan(want) or got == want for got, want in zip(row.end, clean.end, strict=True)
    )
    feeds = row.feed == clean.feed or (math.isnan(row.feed) and math.isnan(clean.feed))
    return (
        (ends and feeds)
        and row.line == clean.line + shift
        and (row.kind, row.plane, row.centre, row.sweep_rad)
        == (clean.kind, clean.plane, clean.centre, clean.sweep_rad)
        and (row.code, row.lengths, row.tool) == (clean.code, clean.lengths, clean.tool)
    )


@pytest.fixture(scope="module", params=READERS)
def read(request: pytest.FixtureRequest) -> Reader:
    """Each of the two readers."""
    return reader(request.param)


@pytest.mark.parametrize("program", BODIES)
@settings(derandomize=True, max_examples=thinned(40), deadline=None)
@given(before=st.lists(st.sampled_from(LEFT_ON), min_size=1, max_size=8))
def test_same_from_every_state(program: str, read: Reader, before: list[str]) -> None:
    """Whatever was left on, the copy's rows are those of a fresh controller."""
    lines, (first, count) = copy_of(program)
    frame = frame_of(demo_setup(BODIES[program]))
    prefix = "\n".join(before).splitlines()
    clean, _ = read("\n".join(lines) + "\n", frame, (first, first + count - 1))
    at = len(prefix)
    block = (first + at, first + at + count - 1)
    dirty, _ = read("\n".join([*prefix, *lines]) + "\n", frame, block)
    behind = [row for row in dirty if row.line > at]
    assert clean and len(behind) == len(clean)
    for row, want in zip(behind, clean, strict=True):
        assert same_motion(row, want, at), f"{before}\n got {row}\nwant {want}"


@pytest.mark.parametrize("program", BODIES)
def test_not_without_the_block(program: str, read: Reader) -> None:
    """The comparison sees it where nothing ends what was left on."""
    lines, (first, count) = copy_of(program)
    frame = frame_of(demo_setup(BODIES[program]))
    bare = [*lines[: first - 1], *[""] * count, *lines[first - 1 + count :]]
    rows = [read("\n".join([prefix, *bare]) + "\n", frame)[0] for prefix in ("G43 H7", "G49 G94")]
    assert [row.lengths for row in rows[0]] != [row.lengths for row in rows[1]]


STATES = st.fixed_dictionaries(
    {
        "unit": st.sampled_from(["mm", "in"]),
        "distance": st.sampled_from(["G90", "G91"]),
        "plane": st.sampled_from(["G17", "G18", "G19"]),
        "motion": st.sampled_from(["G0", "G1", "G2", "G80", "G81", "G83"]),
        "cutter_comp": st.sampled_from(["G40", "G41", "G42"]),
        "tool_length": st.sampled_from(["G43", "G49"]),
        "retract": st.sampled_from(["G98", "G99"]),
        "feed_mode": st.sampled_from(["G93", "G94"]),
        "path": st.sampled_from(["G61", "G64"]),
        "system": st.integers(1, 9),
    }
)


@settings(derandomize=True, max_examples=thinned(300), deadline=None)
@given(dirt=STATES, shift=st.floats(-50, 50), own=st.sampled_from(["mm", "in"]))
def test_the_block_is_taken_in_every_state(dirt: dict[str, object], shift: float, own: str) -> None:
    """No state makes the controller refuse the block, and behind it the modes are its own."""
    state = MachineState(**dirt, g92={"X": shift, "Y": 0.0, "Z": 0.0})  # type: ignore[arg-type]
    after = read_block(block_of(station(machine={"units": own})), state, EXTENSIONS["rs274"])
    modes = (after.unit, after.distance, after.plane, after.motion, after.cutter_comp)
    assert modes == (own, "G90", "G17", "G80", "G40")
    assert (after.tool_length, after.retract, after.feed_mode) == ("G49", "G98", "G94")
    assert not after.moved and after.system == 2 and set(after.g92.values()) == {0.0}


def test_the_first_lines_of_before_do_not_end_it() -> None:
    """The words of 0.1.0, G17 G40 G80 behind the unit, leave three of these modes on."""
    found = station({"first": ("G17", "G40", "G80")})
    dirt = MachineState(tool_length="G43", retract="G99", feed_mode="G93")
    after = read_block(block_of(found), dirt)
    assert (after.tool_length, after.retract, after.feed_mode) == ("G43", "G99", "G93")
