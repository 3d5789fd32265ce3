"""The setup-block reader against NISTIR 6556 itself (sections beside each check).

Facts come from references/rs274ngc.md; "from memory" marks what is not written there.
"""

import pytest
from oracles.block_reader import (
    MachineState,
    ReadError,
    machine_point,
    program_angle_deg,
    program_origin,
    read_block,
)

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


def value(text: str, parameters: dict[int, float] | None = None) -> float:
    """What the reader makes of one value, taken from a parameter setting."""
    return read_block(f"#100={text}", MachineState(parameters or {})).parameters[100]


# Coordinate systems and G10


def test_the_block_of_the_design_sets_and_selects_g55_without_moving() -> None:
    """The block of geometry.md 7 puts G55 at 295, 185, leaves Z, selects it and moves nothing."""
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


# What the report makes an error


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("G54 (a (nested) comment)", "inside a comment"),  # 3.3.4 and observed
        ("G54 (never closed", "not closed"),  # 3.3.4
        ("G54 closed)", "not opened"),  # 3.3.4
        ("G54 ; remark", "semicolon"),  # 3.3.4 and observed
        ("G10 L2 P1 X1e2", "E starts no word"),  # 3.3.2.1 and observed
        ("G10 L2 P1 X1.2.3", "starts no word"),  # 3.3.2.1: one point
        ("G10 L2 P1 X.", "number is wanted"),  # 3.3.2.1: one digit
        ("G10 L2 P1 X", "number is wanted"),
        ("G10 L2 P1 X--1", "number is wanted"),
        ("G10 L2 P1 X-#1", "number is wanted"),  # a sign belongs to a number
        ("G10 L2 P1 X1,5", "starts no word"),
        ("G10 L2 P1 X1 X2", "two X words"),  # 3.3.5
        ("G54 G55", "one modal group"),  # 3.3.5, Table 4
        ("G20 G21", "one modal group"),
        ("G90 G91", "one modal group"),
        ("G17 G18", "one modal group"),
        ("G0 G1 X0", "one modal group"),
        ("G0 G80 X0", "one modal group"),
        ("G10 G92.1 L2 P1 X0", "one modal group"),
        ("G92 G92.1 X0", "one modal group"),
        ("M3 M5", "one modal group"),
        ("G0 G10 L2 P1 X0", "use its axis words"),  # 3.4
        ("G1 G92 X0", "use its axis words"),
        ("G0 G28 X0", "use its axis words"),
        ("G81 G30 X0", "use its axis words"),
        ("G10 L20 P1 X0", "L20"),  # observed
        ("G10 L1 P1 X0", "L1"),  # 3.5.5
        ("G10 L2.5 P1 X0", "integer"),
        ("G10 P1 X0", "without L"),
        ("G10 L2 X0", "without P"),
        ("G10 L2 P1 X0 R0", "R word"),  # 3.5.5 and observed
        ("G68 X0 Y0 R1", "unknown code G68"),  # observed
        ("G69", "unknown code G69"),
        ("G52 X0", "unknown code G52"),
        ("G54.1 P1", "unknown code G54.1"),
        ("G59.4", "unknown code"),
        ("G15", "unknown code"),
        ("G5.45", "integer"),
        ("G-1", "unknown code"),
        ("M98", "unknown code M98"),  # Table 7
        ("M31", "unknown code M31"),
        ("O100", "O starts no word"),  # no O words
        ("U1", "U starts no word"),
        ("G92", "without an axis word"),  # 3.5.18
        ("G1", "without an axis word"),
        ("G80 X0", "without a code"),
        ("G53 G80", "G53 needs"),  # 3.5.12
        ("G53 G2 X0 R1", "G53 needs"),
        ("G53 X0 G81 Z-1 R1", "G53 needs"),
        ("G91 G53 G0 X0", "under G91"),  # observed
        ("P5", "P word"),
        ("G55 L2", "L word"),
        ("#0=1", "no parameter"),
        ("#5400=1", "no parameter"),
        ("#1.5=1", "integer"),
        ("#1", "parameter #1"),
        ("N", "five digits"),  # 3.3.1
        ("N123456 G54", "five digits"),
        ("N-1 G54", "five digits"),
        ("G54 N10", "N starts no word"),  # N comes first
        ("(c) N10 G54", "N starts no word"),
        ("N10 / G54", "/ starts no word"),  # block delete comes first
        ("G54 %", "% starts no word"),
        ("G54 \u00e9", "not of the language"),
        ("(\u202e)", "not of the language"),
        ("G54\rG55", "not of the language"),
        ("G54\x0bG55", "not of the language"),
        ("G10 L2 P1 X\u0661", "not of the language"),  # a digit, but not an ASCII one
        ("G10 L2 P1 X1_0", "starts no word"),
    ],
)
def test_refusals(line: str, reason: str) -> None:
    """Each line is an error by the report, told with its line number, text and reason."""
    with pytest.raises(ReadError, match=reason) as caught:
        read_block(f"G21\n{line}\n")
    assert (caught.value.line_number, caught.value.text) == (2, line)


def test_lines_hold_at_most_256_characters() -> None:
    """3.3: 256 characters are read, 257 are refused."""
    read_block("(" + "x" * 254 + ")\r\n")
    with pytest.raises(ReadError, match="more than 256"):
        read_block("(" + "x" * 255 + ")\r\n")


def test_selecting_an_offset_under_cutter_compensation_is_an_error() -> None:
    """3.5.13; G40 on the same line comes first (Table 8)."""
    with pytest.raises(ReadError, match="cutter compensation"):
        read_block("G41 D1\nG55")
    assert read_block("G41 D1\nG55 G40").system == 2


def test_g53_under_a_g91_from_before_is_refused() -> None:
    """Observed: G53 under G91 is refused, and G90 on its line lifts that (Table 8)."""
    with pytest.raises(ReadError, match="G53 under G91"):
        read_block("G91\nG53 G0 Z0")
    assert read_block("G91\nG90 G53 G0 Z0").moved


# Characters, numbers, comments, parameters, expressions


def test_spaces_inside_a_number() -> None:
    """The report's `g0x +0. 12 34y 7` is `g0 x+0.1234 y7` (3.3)."""
    odd, plain = read_block("g0x +0. 12 34y 7"), read_block("g0 x+0.1234 y7")
    assert odd.position == plain.position
    assert odd.position is not None and (odd.position["X"], odd.position["Y"]) == (0.1234, 7)


@pytest.mark.parametrize(
    ("text", "number"),
    [("7", 7), ("+7", 7), ("-7.", -7), (".5", 0.5), ("-0.50", -0.5), ("007", 7), ("1\t2", 12)],
)
def test_numbers(text: str, number: float) -> None:
    """A number is an optional sign, digits and at most one point, with a digit (3.3.2.1)."""
    assert value(text) == number


def test_order_of_words_case_and_leading_zeros_mean_nothing() -> None:
    """3.3: `x1 p02 l2.0 g10` is `G10 L2 P2 X1`."""
    assert read_block("x1 p02 l2.0 g10").parameters[5241] == 1


def test_line_numbers_and_block_delete() -> None:
    """A line may start with `/`, then N with up to five digits; the switch skips it (3.3)."""
    text = "/ N99999 G55\nn1 2G17"
    assert read_block(text).system == 2
    assert read_block(text, MachineState(block_delete=True)).system == 1


def test_comments_stand_anywhere_between_words() -> None:
    """A comment ends at the first `)`, keeps its spaces and hides what it holds (3.3.4)."""
    after = read_block("(G56; 100%)G55(a  b)G17()")
    assert after.system == 2 and after.comments == ["G56; 100%", "a  b", ""]


@pytest.mark.parametrize("text", ["(MSG,turn the part)", "( m s g ,turn the part)"])
def test_messages(text: str) -> None:
    """`(MSG,...)` is a message (3.3.4; small letters and spaces in it from memory)."""
    assert read_block(f"G55 {text} (no MSG, here)").messages == ["turn the part"]


def test_settings_act_after_the_line_is_read() -> None:
    """With #3 at 15, `#3=6 G1 x#3` goes to 15 and leaves 6 in #3 (3.3.3)."""
    after = read_block("#3=6 G1 x#3", MachineState({3: 15}))
    assert after.position is not None and after.position["X"] == 15
    assert after.parameters[3] == 6


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("[2.0 / 3 * 1.5 - 5.5 / 11.0]", 0.5),  # 3.3.2.3, from memory
        ("[1+acos[0]-[#3**[4.0/2]]]", 1 + 90 - 9),  # 3.3.2.3, from memory; #3 = 3
        ("#1+2", None),  # an operation needs brackets
        ("##2", 3),  # #2 = 3
        ("#[1+2]", 3),
        ("[#1+2]", 13),  # # binds before +, 3.3.2.2, from memory; #1 = 11
        ("[2+3*4**2]", 50),
        ("[2**3**2]", 64),  # equals of one level go left to right
        ("[10-4-3]", 3),
        ("[-2**2]", 4),  # the sign is the number's
        ("[1--2]", 3),
        ("[7 mod 3]", 1),
        ("[-7 mod 3]", 2),
        ("[1 and 0]", 0),
        ("[1 xor 0 or 0]", 1),
        ("fix[2.8]", 2),  # 3.3.2.4, from memory, as the next three
        ("fix[-2.8]", -3),
        ("fup[2.8]", 3),
        ("fup[-2.8]", -2),
        ("round[-2.5]", -3),
        ("atan[1]/[-1]", 135),
        ("sqrt[3**2+4**2]", 5),
        ("abs[-3]", 3),
        ("sin[30]", 0.5),
        ("cos[60]", 0.5),
        ("tan[45]", 1),
        ("asin[1]", 90),
        ("ln[exp[2]]", 2),
    ],
)
def test_expressions(text: str, number: float | None) -> None:
    """Values of expressions, parameters and functions (3.3.2.2 to 3.3.2.4)."""
    parameters = {1: 11.0, 2: 3.0, 3: 3.0}
    if number is None:
        with pytest.raises(ReadError):
            value(text, parameters)
    else:
        assert value(text, parameters) == pytest.approx(number, abs=FLOAT)


@pytest.mark.parametrize(
    "text",
    [
        "[1/0]",
        "[1+]",
        "[1",
        "1]",
        "[]",
        "-[1]",
        "sqrt[-1]",
        "sqrt 4",
        "atan[1]",
        "ln[0]",
        "[1 mod 0]",
        "[-8]**2",
        "[[0-8]**0.5]",
        "exp[9999]",
        "[" * 120 + "1",
    ],
)
def test_values_that_do_not_exist_are_refused(text: str) -> None:
    """No value, no word: what cannot be evaluated is an error and never a crash."""
    with pytest.raises(ReadError):
        value(text)


def test_percent_lines_enclose_the_program() -> None:
    """Nothing is read outside two lines of `%`, and one alone is an error (from memory of 3.2)."""
    assert read_block("\n%\nG55\n % \nG56 ; ignored").system == 2
    for text in ("%\nG55", "G55\n%", "G55\n%\n%"):
        with pytest.raises(ReadError):
            read_block(text)


# Extensions: common practice, from memory; used as geometry.md 7 says


def test_r_word_turns_the_system_it_is_written_for() -> None:
    """With `r-word`, R90 on G10 turns program X to machine Y, and R0 takes it back."""
    r_word = frozenset({"r-word"})
    after = read_block("G10 L2 P2 X10 Y20 R90\nG55", extensions=r_word)
    assert program_angle_deg(after) == 90
    assert machine_point(after, "mm", (1, 0, 0)) == pytest.approx((10, 21, 0), abs=FLOAT)
    assert program_angle_deg(read_block("G54", after, r_word)) == 0
    stale = read_block("G10 L2 P2 X0", after, r_word)
    assert program_angle_deg(stale) == 90
    assert program_angle_deg(read_block("G10 L2 P2 R0.0000", stale, r_word)) == 0


def test_g68_turns_about_its_centre_and_g69_ends_it() -> None:
    """With `g68`, the centre stays where it is and program zero goes round it."""
    g68 = frozenset({"g68"})
    about_zero = read_block("G10 L2 P1 X100\nG68 X0 Y0 R0.1200", extensions=g68)
    assert program_origin(about_zero, "mm") == (100, 0, 0)
    assert program_angle_deg(about_zero) == 0.12
    about_10 = read_block("G68 X10 Y0 R90", extensions=g68)
    assert program_origin(about_10, "mm") == pytest.approx((10, -10, 0), abs=FLOAT)
    assert machine_point(about_10, "mm", (10, 0, 0)) == pytest.approx((10, 0, 0), abs=FLOAT)
    assert program_angle_deg(read_block("G69", about_10, g68)) == 0


@pytest.mark.parametrize("line", ["G55", "G10 L2 P1 X0", "G92.1", "G68 Y0 R1", "G18 G68 X0 Y0 R1"])
def test_offsets_are_not_changed_under_g68(line: str) -> None:
    """Rotation goes on last and off first, so an offset code under G68 is refused."""
    with pytest.raises(ReadError):
        read_block(f"G68 X0 Y0 R1\n{line}", extensions=frozenset({"g68"}))


def test_further_systems() -> None:
    """With `g54.1`, G54.1 P48 selects what G10 L20 P48 wrote, and P49 does not exist."""
    further = frozenset({"g54.1", "six"})
    after = read_block("G54.1 P48\nG10 L20 P48 X5 Y6", extensions=further)
    assert program_origin(after, "mm") == (5, 6, 0)
    assert 5221 not in after.parameters
    assert program_origin(read_block("G54", after, further), "mm") == (0, 0, 0)
    for line in ("G54.1 P49", "G54.1", "G10 L20 P0 X0", "G10 L2 P7 X0", "G59.1"):
        with pytest.raises(ReadError):
            read_block(line, extensions=further)


def test_g52_shifts_all_systems_until_zero() -> None:
    """With `g52`, the shift is not cumulative, holds in all systems and ends with zeros."""
    g52 = frozenset({"g52"})
    after = read_block("G52 X5\nG52 X7 Y1\nG55", extensions=g52)
    assert program_origin(after, "mm") == (7, 1, 0) and not after.moved
    assert program_origin(read_block("G52 X0 Y0 Z0", after, g52), "mm") == (0, 0, 0)


def test_converting_controllers_keep_every_place_over_a_change_of_units() -> None:
    """With `converts`, stored numbers follow the unit, so all systems keep their place."""
    after = read_block(
        "G21\nG10 L2 P2 X254 Y-25.4\nG20\nG55", extensions=frozenset({"converts", "six"})
    )
    assert program_origin(after, "in") == pytest.approx((10, -1, 0), abs=FLOAT)
    assert program_origin(after, "mm") == pytest.approx((254, -25.4, 0), abs=FLOAT)


def test_restrictions_of_plain_controllers() -> None:
    """With `six` and `no-expressions`, G10 under G91 and anything to be computed are refused."""
    plain = frozenset({"six", "no-expressions"})
    assert read_block("G90\nG10 L2 P6 X1\nG59", extensions=plain).system == 6
    for text in ("G91\nG10 L2 P1 X1", "G10 L2 P1 X[1]", "G10 L2 P1 X#1", "#1=2"):
        with pytest.raises(ReadError):
            read_block(text, extensions=plain)


def test_unknown_extension_is_refused() -> None:
    """A misspelt extension must not switch a check off in silence."""
    with pytest.raises(ValueError, match="no such extension: g86"):
        read_block("G54", extensions=frozenset({"g86"}))
