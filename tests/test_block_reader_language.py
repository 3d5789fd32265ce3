"""The language that the setup-block reader reads, against NISTIR 6556 (sections beside each check).

Facts come from references/rs274ngc.yaml; "from memory" marks what is not written there.
"""

import pytest
from oracles.block_reader import MachineState, ReadError, read_block
from test_block_reader import FLOAT


def value(text: str, parameters: dict[int, float] | None = None) -> float:
    """What the reader makes of one value, taken from a parameter setting."""
    return read_block(f"#100={text}", MachineState(parameters or {})).parameters[100]


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
