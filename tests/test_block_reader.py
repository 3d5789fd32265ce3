"""The setup-block reader against NISTIR 6556 itself (sections beside each check).

Facts come from references/rs274ngc.yaml; "from memory" marks what is not written there.
"""

import pytest
from oracles.block_reader import MachineState, ReadError, machine_point, program_origin, read_block

UM = 0.001  # mm
FLOAT = 1e-6 * UM  # thousands of times the rounding of a double at 1000 mm
BLOCK = """(setup left a 7F3A-91C2 from here)
(bed long-bench, jig panel-tray, edge D2 G2, stop C4, C2 stays empty)
(Z NOT SET BY THIS BLOCK, SET IT IN G55, NOT BY G92)
G21 G90
G17 G40 G80
G92.1
G10 L2 P2 X295.000 Y185.000
G55
(MM STAYS ACTIVE, setup 7F3A-91C2 to here)
"""


# Coordinate systems and G10


def test_the_block_of_the_design_sets_and_selects_g55_without_moving() -> None:
    """The block of station left puts G55 at 295, 185, leaves Z, selects it and moves nothing."""
    before = MachineState({5243: -41.5, 5211: 3.0}, motion="G1")
    after = read_block(BLOCK, before)
    assert program_origin(after, "mm") == (295.0, 185.0, -41.5)
    assert after.system == 2 and after.parameters[5220] == 2
    assert not after.moved and after.messages == []
    assert after.codes == ["G21", "G90", "G17", "G40", "G80", "G92.1", "G10", "G55"]
    assert (after.unit, after.distance, after.plane, after.motion) == ("mm", "G90", "G17", "G80")


def test_reading_leaves_the_state_before_as_it_was() -> None:
    """A state is a value: reading a block returns another one."""
    before = MachineState({5241: 7.0})
    read_block(BLOCK, before)
    assert before == MachineState({5241: 7.0})


def test_g10_sets_the_named_axes_only() -> None:
    """The report's `G10 L2 P1 x 3.5 y 17.2` sets X and Y and leaves Z (3.5.5)."""
    after = read_block("G10 L2 P1 x 3.5 y 17.2", MachineState({5221: 1, 5222: 2, 5223: 3}))
    assert [after.parameters[n] for n in (5221, 5222, 5223)] == [3.5, 17.2, 3]
    assert program_origin(after, "mm") == (3.5, 17.2, 3)
    assert not after.moved


@pytest.mark.parametrize(
    ("code", "number", "first"),
    [  # 3.2.1, Table 2: 5201 + 20 n; 3.2.2 and 3.5.13: the codes
        ("G54", 1, 5221),
        ("G55", 2, 5241),
        ("G56", 3, 5261),
        ("G57", 4, 5281),
        ("G58", 5, 5301),
        ("G59", 6, 5321),
        ("G59.1", 7, 5341),
        ("G59.2", 8, 5361),
        ("G59.3", 9, 5381),
    ],
)
def test_nine_systems_with_their_numbers_and_parameters(code: str, number: int, first: int) -> None:
    """Each of the nine systems has its code, its P number and its six parameters."""
    after = read_block(f"G10 L2 P{number} X1 Y2 Z3 A4 B5 C6\n{code}")
    assert [after.parameters[first + i] for i in range(6)] == [1, 2, 3, 4, 5, 6]
    assert after.system == after.parameters[5220] == number
    assert program_origin(after, "mm") == (1, 2, 3)


def test_g10_on_another_system_leaves_the_active_one() -> None:
    """The system that G10 writes may be inactive, and selection decides what counts (3.5.5)."""
    after = read_block("G10 L2 P3 X9", MachineState({5221: 1}))
    assert program_origin(after, "mm") == (1, 0, 0)
    assert program_origin(read_block("G56", after), "mm") == (9, 0, 0)


def test_offset_selection_comes_before_g10_on_one_line() -> None:
    """Table 8: units, selection and distance mode act before G10, wherever they stand."""
    after = read_block("G10 L2 P2 X25.4 G91 G55 G20")
    assert (after.unit, after.system, after.distance) == ("in", 2, "G91")
    assert program_origin(after, "in") == (25.4, 0, 0)


def test_values_of_g10_are_absolute_under_g91_too() -> None:
    """G10 sets the stored number in machine coordinates whatever the distance mode (3.5.5)."""
    after = read_block("G91\nG10 L2 P1 X5\nG10 L2 P1 X5")
    assert after.parameters[5221] == 5


@pytest.mark.parametrize("p", ["0", "10", "-1", "1.5", "[1/0]", "1.01"])
def test_p_must_be_an_integer_from_1_to_9(p: str) -> None:
    """3.5.5: any other P on G10 L2 is an error."""
    with pytest.raises(ReadError):
        read_block(f"G10 L2 P{p} X0")


# G92


def test_g92_worked_example() -> None:
    """At X 4, `G92 x7` makes the X offset -3 and the point's X 7; `G92 x9` then -5 (3.5.18)."""
    at_4 = read_block("G0 X4")
    seven = read_block("G92 x7", at_4)
    assert seven.parameters[5211] == seven.g92["X"] == -3
    assert machine_point(seven, "mm", (7, 0, 0)) == (4, 0, 0)
    nine = read_block("G92 x9", seven)
    assert nine.parameters[5211] == nine.g92["X"] == -5
    assert machine_point(nine, "mm", (9, 0, 0)) == (4, 0, 0)


def test_g92_acts_on_every_system_and_outlives_g10() -> None:
    """G92 offsets act on all nine systems and stay in effect after G10 (3.5.5, 3.5.18)."""
    after = read_block("G92 X-10\nG10 L2 P2 X100\nG10 L2 P9 X200")
    assert program_origin(read_block("G55", after), "mm") == (110, 0, 0)
    assert program_origin(read_block("G59.3", after), "mm") == (210, 0, 0)


def test_g92_1_zeroes_offsets_and_parameters_while_g92_2_keeps_parameters() -> None:
    """3.5.18: G92.1 clears both, G92.2 suspends, and G92.3 brings back what G92.2 kept."""
    offset = read_block("G92 X-10 Y-20")
    cleared = read_block("G92.1", offset)
    assert (cleared.g92["X"], cleared.parameters[5211], cleared.parameters[5212]) == (0, 0, 0)
    suspended = read_block("G92.2", offset)
    assert (suspended.g92["X"], suspended.parameters[5211]) == (0, 10)
    assert program_origin(read_block("G92.3", suspended), "mm") == (10, 20, 0)


def test_a_g92_left_in_memory_acts_until_it_is_cancelled() -> None:
    """Offsets in parameters 5211 to 5216 are in effect at the start, and G92.1 ends them."""
    left = MachineState({5211: 3.0, 5213: -1.0})
    assert program_origin(left, "mm") == (3, 0, -1)
    assert program_origin(read_block("G92.1", left), "mm") == (0, 0, 0)


def test_g92_where_the_position_is_not_known_is_refused() -> None:
    """After a canned cycle this reader does not know the position and says so."""
    with pytest.raises(ReadError, match="cannot tell"):
        read_block("G81 X1 Y1 Z-1 R1\nG92 X0")


@pytest.mark.parametrize("end", ["M2", "M30"])
def test_program_end_resets(end: str) -> None:
    """M2 and M30 zero G92, go back to G54, XY plane, G90, G94, G1, and end it all (3.6.1)."""
    after = read_block(f"G92 X-5\nG55 G18 G91 G93 G80\n{end}\nG56 ; never read")
    assert after.ended and after.g92["X"] == 0 and after.system == after.parameters[5220] == 1
    modes = (after.plane, after.distance, after.feed_mode, after.motion, after.cutter_comp)
    assert modes == ("G17", "G90", "G94", "G1", "G40")


# Units: the reference interpreter's observations


def test_stored_origins_are_not_converted() -> None:
    """A change of units leaves each stored number and converts the position's (3.5.7, 4.3.3.3)."""
    after = read_block("G0 X25.4\nG20", MachineState({5221: 0, 5241: 254}))
    assert after.parameters[5241] == 254
    assert after.position is not None and after.position["X"] == pytest.approx(1, abs=FLOAT)
    assert program_origin(read_block("G55", after), "in") == (254, 0, 0)


def test_an_inch_is_25_4_mm_both_ways() -> None:
    """G20 divides the position's number by 25.4 and G21 multiplies it (4.3.3.3)."""
    for unit, code, number in (("mm", "G20", 1.0), ("in", "G21", 645.16)):
        after = read_block(code, MachineState(unit=unit, position={"X": 25.4, "A": 90.0}))
        assert after.position == pytest.approx({"X": number, "A": 90.0}, abs=FLOAT)


def test_active_system_keeps_its_place_over_g20_and_others_are_read_as_inches() -> None:
    """Observed: after G20 the active system stays put, G55 selected then is 25.4 times off."""
    inch = read_block("G20", MachineState({5221: 100, 5241: 100}))
    assert machine_point(inch, "mm")[0] == pytest.approx(100, abs=FLOAT)
    assert machine_point(read_block("G54", inch), "mm")[0] == pytest.approx(100, abs=FLOAT)
    assert machine_point(read_block("G55", inch), "mm")[0] == pytest.approx(2540, abs=FLOAT)
    assert machine_point(read_block("M2", inch), "mm")[0] == pytest.approx(2540, abs=FLOAT)


def test_asking_for_an_origin_in_the_inactive_unit_is_refused() -> None:
    """Stored numbers have no unit but the active one, so another one is no fair question."""
    with pytest.raises(ValueError, match="read in in now, not in mm"):
        program_origin(read_block("G20"), "mm")
    with pytest.raises(ValueError, match="mm or in"):
        machine_point(MachineState(), "ft")


def test_observed_origin_of_g55() -> None:
    """Observed: the four-line block puts the program origin at -612.341, -388.207."""
    after = read_block("G21\nG90\nG10 L2 P2 X-612.341 Y-388.207\nG55\n")
    assert program_origin(after, "mm") == (-612.341, -388.207, 0)


def test_observed_relative_origin() -> None:
    """Observed: `X[#5221+100.5]` with G54's X at -700.5 gives -600."""
    after = read_block("G10 L2 P2 X[#5221+100.5]\nG55", MachineState({5221: -700.5}))
    assert program_origin(after, "mm") == (-600, 0, 0)


def test_observed_g28_homes_every_axis() -> None:
    """Observed: `G91 G28 Z0` sends X, Y and Z to the home of 5161 on, not Z alone (3.5.8)."""
    start = MachineState({5161: 1, 5162: 2, 5163: 3}, position=dict.fromkeys("XYZABC", 50.0))
    after = read_block("G91 G28 Z0", start)
    assert after.moved and after.position == {"X": 1, "Y": 2, "Z": 3, "A": 0, "B": 0, "C": 0}


# Motion: a setup block must have none


@pytest.mark.parametrize(
    "line",
    [
        "G0 X0",
        "G1 Z1",
        "G2 X1 Y1 R1",
        "G3 X1 I1 J0",
        "G38.2 Z-1",
        "G81 X1 Z-1 R1",
        "G89 X1 Z-1 R1 P1",
        "G28",
        "G30 Z0",
        "G53 G0 Z0",
        "X1",
        "G17 Y0",
        "A90",
        "T1 M6",
    ],
)
def test_every_motion_is_recorded(line: str) -> None:
    """Each code that moves an axis, and bare axis words under a motion mode, count as motion."""
    after = read_block(f"G21\n{line}")
    assert after.moved and after.moves == [f"line 2: {line}"]


@pytest.mark.parametrize(
    "line",
    ["G10 L2 P1 X1 Y1 Z1", "G92 X1", "G92.1", "G55", "G80", "G4 P1", "G10 L2 P1 X1 G80", "#1=2"],
)
def test_setup_lines_do_not_move(line: str) -> None:
    """Offset codes, even with axis words under a motion mode, move nothing (3.5.5, 3.5.18)."""
    assert not read_block(line, MachineState(motion="G1")).moved


def test_positions_in_absolute_incremental_and_machine_coordinates() -> None:
    """G90 counts from program zero, G91 from the position, G53 from machine zero (3.5.12)."""
    after = read_block("G10 L2 P1 X100\nG0 X1\nG91 X2\nG90 G53 Y5")
    assert after.position is not None
    assert (after.position["X"], after.position["Y"]) == (103, 5)


def test_canned_cycle_is_known_until_g80() -> None:
    """A canned cycle stays active until G80 cancels it (Table 4)."""
    after = read_block("G99 G82 X1 Z-1 R1 P0.5")
    assert (after.canned_cycle, after.retract) == ("G82", "G99")
    assert read_block("G80", after).canned_cycle is None
