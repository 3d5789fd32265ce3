"""Parameters and expressions of programs: values, order, and what is not determined.

Rules: NISTIR 6556, 3.3.2 and 3.3.3; values printed in its Appendix C.2.
"""

from __future__ import annotations

import math
import random
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from oracles.block_reader import MachineState, read_block
from oracles.program_reader import read as read_by_oracle
from programs import Case, cases
from readers import STATION, Brief, U, agree, assert_rows, kept, read_by_product
from thinning import thinned

from pincorner.program.source.expressions import NotKnown, words_in

HEAD = "G21 G90 G55 F100 G0 X0 Y0 Z9\n"
FOLLOWS = STATION._replace(expressions=True)


def value(text: str, **parameters: float) -> float:
    """The value of an expression; parameters by `p1=..`."""
    known = {int(name[1:]): number for name, number in parameters.items()}
    ((letter, number),) = words_in(f"X{text}", known)[0]
    assert letter == "X"
    return number


PRINTED = [
    ("[2/5]", 0.4), ("[15MOD4.0]", 3), ("[1+2*3-4/5]", 6.2), ("SIN[30]", 0.5), ("TAN[60]", 1.7321),
    ("ATAN[1.7321]/[1.0]", 60), ("ACOS[0.707107]", 45), ("ABS[-1.23]", 1.23), ("ROUND[-0.499]", 0),
    ("ROUND[-0.5001]", -1), ("ROUND[9.975]", 10), ("FIX[-0.499]", -1), ("FIX[9.975]", 9),
    ("FUP[-0.499]", 0), ("FUP[2.444]", 3), ("EXP[2.3026]", 10), ("LN[10]", 2.3026), ("[2**3.0]", 8),
    ("SQRT[3**2+4**2]", 5), ("[1--3]", 4), ("[2AND2]", 1), ("[2XOR2]", 0),
    ("[2.0/3*1.5-5.5/11.0]", 0.5),
]  # fmt: skip
"""C.2 and 3.3.2.3, printed to four decimals."""


@pytest.mark.parametrize(("text", "printed"), PRINTED)
def test_values_that_the_report_prints(text: str, printed: float) -> None:
    """Each expression has the value that the report prints for it."""
    assert value(text) == pytest.approx(printed, abs=6e-5 * max(1, abs(printed)))


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("[2**3**2]", 64),
        ("[1OR1+1]", 2),
        ("[#1+2]", 5),
        ("#[1+2]", 7),
        ("##1", 7),
        ("[[2+3]*2]", 10),
    ],
)
def test_what_goes_first(text: str, want: float) -> None:
    """Equals from left to right, `#` before all, brackets group (3.3.2.2, 3.3.2.3)."""
    assert value(text, p1=3.0, p3=7.0) == want


NUMBER = st.integers(-400, 400).map(lambda n: f"{n / 8:g}")


def compound(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    """Expressions of expressions."""
    binary = st.sampled_from(["+", "-", "*", "/", "**", "MOD", "AND", "OR", "XOR"])
    unary = st.sampled_from(["ABS", "ACOS", "COS", "EXP", "FIX", "FUP", "LN", "ROUND", "SQRT"])
    return st.one_of(
        st.tuples(inner, binary, inner, binary, inner).map(lambda parts: f"[{''.join(parts)}]"),
        st.tuples(unary, inner).map(lambda parts: f"{parts[0]}[{parts[1]}]"),
        st.tuples(inner, inner).map(lambda parts: f"ATAN[{parts[0]}]/[{parts[1]}]"),
    )


@settings(derandomize=True, max_examples=thinned(1200), deadline=None)
@given(st.recursive(NUMBER, compound, max_leaves=6))
def test_values_by_a_second_reader(text: str) -> None:
    """Where a value is given, the reader of setup blocks that was written apart gives it too."""
    try:
        got = value(text)
    except NotKnown:
        return
    if len(text) > 250:
        return  # longer than a line may be
    want = read_block(f"#100={text}", MachineState()).parameters[100]
    assert got == pytest.approx(want, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    "text",
    ["#1", "#0", "#1.5", "#5221", "#1000", "[1/0]", "ACOS[2]", "SQRT[-1]", "LN[0]", "[0**-1]",
     "ROUND[0.5]", "ROUND[-2.5]",
     "[-5MOD3]", "[5MOD-3]", "ATAN[-1]/[2]", "ATAN[0]/[0]", "EXP[99]", "[9**99]"],
)  # fmt: skip
def test_values_that_nobody_knows(text: str) -> None:
    """What the program does not determine, and what the report leaves open, has no value."""
    with pytest.raises(NotKnown):
        value(text)


@pytest.mark.parametrize(
    "text",
    ["-#1", "-[2]", "[1", "[1]]", "[]", "[1LT2]", "SIN30", "ATAN[1]", "1+2", "[1+]", "#", "[#]"],
)
def test_texts_that_are_no_values(text: str) -> None:
    """What the grammar does not have is refused (3.3.2)."""
    with pytest.raises(ValueError, match=r"^$"):
        words_in(f"X{text}", {1: 2.0})


CASES = {
    "settings act behind the line": ("#3=15\n#3=6 X#3\nX#3\n", [(3, 15), (4, 6)], set()),
    "the last setting of one parameter counts": ("#3=1 #3=2\nX#3\n", [(3, 2)], set()),
    "near whole is whole": ("#[0.99995]=4\nX#1\n", [(3, 4)], set()),
    "numbers beside expressions": ("#1=4\nG1 X#1 F[200+50] T2\n", [(3, 4)], set()),
    "a line that is refused clears all": (
        "#1=5\nM98 P100\nX#1\n", [], {("not-read", 3), ("not-read", 4)},
    ),
    "what was there before is not known": ("X#1\nX5\n", [(3, 5)], {("not-read", 2)}),
    "the controller's own are not known": ("#5221=5\nX5\n", [(3, 5)], {("not-read", 2)}),
    "a line number in front": ("#1=4\nN20 X[#1]\n", [(3, 4)], set()),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_cases(case: str) -> None:
    """Each by hand from 3.3.2 and 3.3.3."""
    body, want, remarks = CASES[case]
    rows, told = read_by_product(HEAD + body, FOLLOWS)
    assert [(row.line, row.end[0]) for row in rows[1:]] == want
    assert told == remarks


@pytest.mark.parametrize("word", ["G[1-1]", "M[3+3]", "T#1", "H[1]", "D[1]", "G54.1 P[2]", "N[5]"])
def test_what_a_line_names_stands_in_its_text(word: str) -> None:
    """Codes, tools and offsets by an expression are not followed: others look for them as text."""
    rows, told = read_by_product(f"{HEAD}#1=0\n{word} X4\nX5\n", FOLLOWS)
    assert told == {("not-read", 3)} and [row.line for row in rows] == [1, 4]


def test_other_controllers_are_told_as_before() -> None:
    """Where the dialect has no expressions, none is followed."""
    rows, told = read_by_product(HEAD + "#1=5\nX#1\nX[1+2]\nX2\n", STATION)
    assert_rows(rows, [Brief(1, "R", 0, 0, 9), Brief(5, "R", 2, U, U)])
    assert told == {("not-read", line) for line in (2, 3, 4)}


def spelt(text: str, chance: random.Random) -> str:
    """A number as an expression of the same value."""
    number = float(text)
    shown = f"{number:.4f}"
    if float(shown) != number:
        return text
    half = f"{number / 2!r}"
    if "e" in half:
        return text
    return chance.choice([f"[{shown}]", f"[{half}*2]", f"[{half}+{half}]", f"[[{shown}]-0]"])


@settings(derandomize=True, max_examples=thinned(300), deadline=None)
@given(case=cases(most=6), seed=st.integers(0, 1 << 20))
def test_the_same_program_by_expressions(case: Case, seed: int) -> None:
    """Numbers of axes written as expressions give the motions of the program with plain numbers."""
    chance = random.Random(seed)
    plain = [line for line in case.text.decode().splitlines() if not re.search(r"[#\[(;]", line)]
    number = re.compile(r"(?<=[XYZIJKR])[-+]?(?:\d+\.?\d*|\.\d+)(?![\d. \t])", re.IGNORECASE)
    written = [
        number.sub(lambda found: spelt(found.group(), chance), line)
        if chance.random() < 0.4 and len(line) < 60
        else line
        for line in plain
    ]
    texts = ["\n".join(lines) + "\n" for lines in (plain, written)]
    want, due = read_by_oracle(texts[0], case.frame, None, ())
    frame = case.frame._replace(expressions=True)
    got, told = read_by_product(texts[1], frame)
    assert len(got) == len(want) and all(map(agree, got, want)), texts
    assert {each for each in told if each[0] != "odd-number"} == {
        each for each in kept(due) if each[0] != "odd-number"
    }, texts


def test_a_full_circle_of_holes() -> None:
    """Holes on a circle by sine and cosine of a parameter stand where the circle has them."""
    body = "#1=40\n#2=0\nG99 G81 X#1 Y0 Z-5 R2\n"
    body += "".join("#2=[#2+30]\nX[#1*COS[#2]] Y[#1*SIN[#2]]\n" for _ in range(11))
    rows, told = read_by_product(HEAD + body, FOLLOWS)
    holes = [row.end for row in rows if row.end[2] == -5]
    assert told == set() and len(holes) == 12
    for turn, (x, y, _) in enumerate(holes):
        assert (
            math.hypot(x - 40 * math.cos(turn * math.pi / 6), y - 40 * math.sin(turn * math.pi / 6))
            < 1e-9
        )
