"""What a controller does with a block: its zero lies where the transform says."""

from __future__ import annotations

from typing import Any

import pytest
from blocks import EXTENSIONS, TURNED, block_of, setup_of, station
from oracles.block_reader import (
    MachineState,
    ReadError,
    program_angle_deg,
    program_origin,
    read_block,
)
from oracles.worked import assert_close

from pincorner.documents.beds import PoseEntry
from pincorner.documents.records import Program
from pincorner.setups.facts import Facts
from pincorner.setups.setup import Setup

NINE = ["G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"]


def origin_of(found: Facts, state: MachineState, extensions: frozenset[str]) -> Setup:
    """The station's setup, once a controller that read its block has the zero where it says."""
    setup, unit = setup_of(found), found.machine.units
    after = read_block(block_of(found), state, extensions)
    half, factor = (0.51e-3, 1.0) if unit == "mm" else (0.51e-4, 25.4)
    x, y, _ = program_origin(after, unit)
    zero = setup.zero_in_machine
    assert_close(x, zero.x_mm / factor, half, "half the last digit printed")
    assert_close(y, zero.y_mm / factor, half, "half the last digit printed")
    modes = (after.distance, after.plane, after.cutter_comp, after.feed_mode, after.retract)
    assert not after.moved and modes == ("G90", "G17", "G40", "G94", "G98")
    assert (after.tool_length, after.motion) == ("G49", "G80")
    angle = setup.angle_deg if setup.writes_angle else 0.0
    assert_close(program_angle_deg(after), angle, 0.51e-4, "half the last digit printed")
    assert not after.messages
    return setup


DIRTY: list[dict[str, Any]] = [
    {},
    {"g92": {"X": 7.0, "Y": -3.0, "Z": 2.0}, "parameters": {5211: 7.0, 5212: -3.0, 5213: 2.0}},
    {"distance": "G91", "plane": "G18", "motion": "G81", "system": 4, "feed_mode": "G93"},
    {"cutter_comp": "G41", "plane": "G19", "tool_length": "G43", "position": None},
    {"cutter_comp": "G42", "feed_mode": "G93", "retract": "G99", "motion": "G82"},
]


@pytest.mark.parametrize("code", NINE)
@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("other_unit", [False, True])
def test_all_nine_systems_are_read_back(code: str, unit: str, other_unit: bool) -> None:
    """Whatever state a controller was left in, its zero lies where the transform says."""
    found = station(machine={"units": unit}, work_offsets={"a": code}, bed=TURNED)
    for dirt in DIRTY:
        start = unit if not other_unit else {"mm": "in", "in": "mm"}[unit]
        origin_of(found, MachineState(unit=start, **dirt), EXTENSIONS["rs274"])


@pytest.mark.parametrize(
    ("dialect", "code"),
    [("rs274-turned", "G54"), ("rs274-turned", "G59.3"), ("six", "G54"), ("six", "G59"),
     ("extended", "G57"), ("extended", "G54.1 P1"), ("extended", "G54.1 P48")],
)  # fmt: skip
@pytest.mark.parametrize("bed_deg", [0.0, 0.12, -3.7])
def test_other_dialects_are_read_back(dialect: str, code: str, bed_deg: float) -> None:
    """Turned, converting and further systems put the zero, and any old rotation goes."""
    bed = {"pose": PoseEntry(x=60, y=155, angle=bed_deg)}
    found = station(dialect, bed=bed, work_offsets={"a": code}, machine={"max_skew": 99.0})
    state = MachineState(rotations_deg={1: 30.0, 9: -8.0} if dialect == "rs274-turned" else {})
    if dialect == "extended":
        state.g68, state.g52["X"] = (1.0, 2.0, 33.0), 5.0
    origin_of(found, state, EXTENSIONS[dialect])


def test_a_converting_controller_keeps_the_zero_in_the_programs_unit() -> None:
    """Where origins convert, the program's inches find the zero that was written in millimetres."""
    found = station("six")._replace(program=Program(name="p", file="p.nc", units="in"))
    after = read_block(block_of(found), None, EXTENSIONS["six"])
    assert after.unit == "in"
    assert_close(program_origin(after, "mm")[0], 295.0, 1e-9, "printed exactly")


def test_compensation_ends_before_the_unit_changes() -> None:
    """Units cannot change under cutter compensation (B.5): G40 alone stands in front of them."""
    state = MachineState(unit="in", cutter_comp="G41")
    assert block_of(station()).count("G40") == 1
    assert read_block(block_of(station()), state).cutter_comp == "G40"


def test_a_unit_change_under_compensation_stops_before_any_write() -> None:
    """A controller that has no G40 stops on the block's first line, and nothing is set."""
    bare = station({"first": ("G17", "G80")})
    with pytest.raises(ReadError) as stopped:
        read_block(block_of(bare), MachineState(unit="in", cutter_comp="G41"))
    assert stopped.value.text == "G21 G90"
