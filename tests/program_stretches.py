"""Stretches of programs at random: moves, arcs, cycles, modes, and lines that cannot be read.

Most lines are sound; those that a controller refuses, or that nobody can read, are rare.

Numbers have few decimals, arcs end on circles through whole numbers (3-4-5 and 5-12-13 triangles),
so that no line stands on the edge between right and wrong.
"""

from __future__ import annotations

import math
import random
from functools import partial

from hypothesis import strategies as st

Line = list[str]
"""The words of a line, undressed."""

PLANES = (("G17", "XYZ", "IJ"), ("G18", "ZXY", "KI"), ("G19", "YZX", "JK"))
ON_CIRCLE = [
    (5, 0), (4, 3), (3, 4), (0, 5), (-3, 4), (-4, 3), (-5, 0), (-4, -3), (-3, -4), (0, -5), (4, -3),
]  # fmt: skip
ON_LARGER_CIRCLE = [(13, 0), (12, 5), (5, 12), (-5, 12), (-13, 0), (-12, -5), (0, -13), (12, -5)]


# Numbers


def _written(value: float, style: int) -> str:
    """A number in one of the ways that 3.3.2.1 allows."""
    plain = f"{value:.3f}".rstrip("0").rstrip(".") or "0"
    if style == 1:
        return f"{value:.4f}"
    if style == 2:
        return plain if "." in plain else plain + "."
    if style == 3 and value >= 0:
        return "+" + plain
    if style == 4:
        return plain.replace("0.", ".", 1) if abs(value) < 1 and "." in plain else plain
    if style == 5:
        return ("-00" if value < 0 else "00") + plain.lstrip("-")
    return plain


STYLES = st.sampled_from([0, 0, 0, 1, 2, 3, 4, 5])
PLACES = st.integers(-2000, 2000).map(lambda n: n / 20)
NUMBERS = st.builds(_written, PLACES, STYLES)


def words(letters: str, numbers: st.SearchStrategy[str] = NUMBERS) -> st.SearchStrategy[Line]:
    """Words for some of the letters, in any order; at least one."""
    chosen = st.lists(st.sampled_from(letters), unique=True, min_size=1, max_size=len(letters))
    return chosen.flatmap(
        lambda found: st.tuples(*(numbers.map(partial(str.__add__, x)) for x in found))
    ).map(list)


def fixed(*lines: str) -> st.SearchStrategy[list[Line]]:
    """One of the lines, its words apart by blanks."""
    return st.sampled_from([[line.split()] for line in lines])


def line(*parts: st.SearchStrategy[Line]) -> st.SearchStrategy[list[Line]]:
    """One line of all the parts."""
    return st.tuples(*parts).map(lambda found: [[word for part in found for word in part]])


def maybe(*choices: str) -> st.SearchStrategy[Line]:
    """Nothing, or the words of one choice."""
    return st.sampled_from(["", "", *choices]).map(str.split)


# Stretches of a program

LEFT_ON = (
    "G91", "G20", "G99", "G98", "G18", "G19", "G93 F2", "G95 F.1", "G43 H1", "G0", "G1 X1 F50",
    "G54", "G59.1", "G92 X1 Y2", "G92 Z3", "G52 X3", "G80", "G90", "G21", "G17", "G94 F300", "F3",
    "M8", "M49", "G61", "G91 G20", "G18 G91", "G94", "G92.2",
)  # fmt: skip
"""Modes and shifts that a program may leave on for the next one, or for its next tool."""
FEEDS = maybe("F100", "F1200.", "F.5")
MOVES = line(maybe("G0", "G1", "G01", "G00", "G 1"), words("XYZ"), FEEDS)
MODES = fixed(
    "G20", "G21", "G90", "G91", "G90", "G21", "G17", "G18", "G19", "G0", "G1", "G94 F300", "G93",
    "G95", "G98", "G99", "G40", "G43 H1", "G49", "G61", "G64", "G80", "M3 S12000", "M5", "M8", "M9",
    "G4 P1.5", "G4 P1", "M0", "M1", "F250", "S8000", "G17 G21 G90 G40 G49 G80", "N7", "", "G94",
    "M7", "M3 M8", "M48", "G61.1",
)  # fmt: skip
SELECTIONS = fixed(
    "G54", "G55", "G55", "G56", "G57", "G59.1", "G59.3", "G54.1 P3", "G54.1P12", "G55 G0 X5",
    "X1 G20", "X5 G54 G90", "G91 Y1 G55",
)  # fmt: skip
TOOLS = fixed(
    "T1 M6", "M6 T2", "T3", "M6", "T4 M6 G0 Z5", "T12", "T4294967297 M6", "T0 M6", "T5 M06 S9000",
    "T6 M6 G43 H6", "T7 M6 M3", "T2 M6 G43 H1",
)  # fmt: skip
DWELLS = st.one_of(
    line(st.sampled_from([["G4", "P1"], ["G4", "P0.5"]]), maybe("G0", "G1"), words("XYZ")),
    fixed("G4 P1 M8", "G4 P2 G91 X1", "G4 P1 G54", "G4 P0 F300", "G4", "G4 P-1", "G4 X2"),
)
WOULD_STOP = fixed(
    "G0", "G1", "G2", "G3 F50", "G1 F200", "G0 G28", "G0 G4 P1", "H1", "H2 X1", "D1", "D2 Y1",
    "M7 M8", "M9 M8 X1", "M7 M8 M9", "M0 M3 M6 M8 M48", "S-1", "S-8000 M3", "G43", "G43 X1",
    "G43 H-1", "G43 H9", "G2 I5", "G17 G3 J-2 Z1", "N1234567", "N000012 X1", "G4 P-2 X1",
    "G93 G1 X2", "G95 Y3", "G41 D-1", "G0 G92.1", "G4 M7 M8 H1",
)  # fmt: skip
HARMLESS = st.one_of(
    fixed("G91.1", "G97 S100", "M10", "M98 P100", "G91.1 G90", "M10 R2 Q-3", "M10 I5", "M10 H1"),
    line(st.sampled_from([["G91.1"], ["M10"], ["M10", "P2"], ["G97"]]), words("XYZ")),
)
MACHINE = line(
    st.sampled_from([["G53", "G0"], ["G0", "G53"], ["G53", "G1"], ["G53"]]), words("XYZ")
)
HOMES = st.one_of(
    fixed("G28", "G30", "G91 G28 Z0", "G28 G91 X0 Y0", "G80 G28 Z5", "G91 G30 X0", "G20 G28 Y1"),
    line(st.sampled_from([["G28"], ["G30"]]), words("XYZ")),
)
SHIFTS = st.one_of(
    fixed("G92.1", "G92.1", "G92.2", "G92.3", "G52 X0 Y0 Z0", "G52 X0 Y0 Z0"),
    fixed("G92.1 X2", "G92.3 X1 Y1", "G20 G92.3", "G92.2 G0 Z9"),
    line(st.sampled_from([["G92"], ["G52"]]), words("XYZ")),
    line(
        st.sampled_from([["G10", "L2", "P2"], ["G10", "L20", "P1"], ["G10", "L2", "P3"]]),
        words("XYZ"),
    ),
)
COMPENSATION = fixed("G41 D1", "G42 D1 X5", "G40", "G40 Y2")
NOT_READ = fixed(
    "X--1", "X1.2.3", "X", "G1 G0 X1", "G90 G91", "X1 X2", "F1 F2 X3", "M3 M4", "G20 G21", "X#1",
    "#1=5", "X[1+2]", "O100", "G0 X1 A5", "B2", "U1", "G38.2 Z-5", "G123", "M123", "M98 P100",
    "M123 X4", "X1E3", "G80 X1", "G2 X1 Y1", "G1 G92 X0", "G0 G28 X0", "G54 G55",
    "X1 N5", "T1.5 M6", "T-1", "F-3 X1", "G92", "G5", "G1.5 X1", "/ / X1", "%", "X1 %",
    "G2 X3 R1 I1", "G87 X1 Y1 Z-1 R1", "G88 X1 Y1 Z-1 R1", "G81 X1 Z5 R-200",
    "G81 X1 Z-9 R1 L0", "G81", "G82 P1", "@", "=5",
    "G81 X1 Z-9 R1 L10001", "G81 X1 Z-9 R1 L99999999999999999999", "G18 G81 X1 Z-9 R1",
    "G91 G53 G0 X1", "G2 G53 X1 I5", "G53", "G10 L2", "G28 X1 G92 Y1", "X1) Y2", "X1 (open", "W5",
    "G3 X2 Y2 R0.5", "V1 G1", "M6 M6", "G0 X1(c)0", "X+", "X.", "Y-.", "G17 G18", "G98 G99",
    "G53 A1", "R1", "X1 I5", "G4 P1 R2", "L2", "G10 L2 P12 X1", "G68 X0 Y0 R30", "T2000000000", "(",
    "G1 X1 Y1 F", "N", "G01.5", "M19", "X1Y", "M30.5", "G2 X0 Y0 I0 J0",
)  # fmt: skip


@st.composite
def arcs(draw: st.DrawFn) -> list[Line]:
    """A move onto a circle, then arcs along it; rarely one that misses it."""
    plane, axes, offsets = draw(st.sampled_from(PLANES))
    points = draw(st.sampled_from([ON_CIRCLE, ON_LARGER_CIRCLE]))
    scale = draw(st.sampled_from([1.0, 0.1, 2.5]))
    centre = draw(st.tuples(st.integers(-50, 50), st.integers(-50, 50)))
    spots = st.sampled_from(points).map(lambda p: (p[0] * scale, p[1] * scale))
    relative = draw(st.booleans())
    at = draw(spots)
    start = [f"{axes[0]}{centre[0] + at[0]:.3f}", f"{axes[1]}{centre[1] + at[1]:.3f}"]
    lines = [[plane, "G90", "G0", *start]]
    if relative:
        lines.append(["G91"])
    for _ in range(draw(st.integers(1, 4))):
        to, code = draw(spots), draw(st.sampled_from(["G2", "G3"]))
        off = draw(st.sampled_from([0.0] * 8 + [0.001, 0.1]))
        base = (-at[0], -at[1]) if relative else centre
        end = [f"{axes[0]}{base[0] + to[0] + off:.3f}", f"{axes[1]}{base[1] + to[1]:.3f}"]
        if draw(st.integers(0, 3)) == 0:
            end.append(f"{axes[2]}{draw(PLACES):.2f}")
        if to == at and off == 0.0 and draw(st.booleans()):
            end = end[2:]
        if to != at and draw(st.integers(0, 2)) == 0:
            radius = math.hypot(*at) * draw(st.sampled_from([1, -1, 1.2]))
            if to == (-at[0], -at[1]):  # half a turn, sometimes by a radius that falls short
                radius -= draw(st.sampled_from([0, 0, 0.0001, 0.001, 0.003]))
            how = [f"R{radius:.4f}"]
        else:
            how = [f"{offsets[0]}{-at[0]:.3f}", f"{offsets[1]}{-at[1]:.3f}"]
            how = [word for word in how if float(word[1:]) or draw(st.booleans())]
        lines.append([*([code] if draw(st.integers(0, 3)) else []), *end, *how, *draw(FEEDS)])
        at = (to[0] + off, to[1]) if off < 0.01 else to
        if off:  # back onto the circle exactly
            at = draw(spots)
            back = [f"{axes[0]}{centre[0] + at[0]:.3f}", f"{axes[1]}{centre[1] + at[1]:.3f}"]
            lines.append(["G90", "G1", *back])
            relative = False
    return lines


DISTANCES = ["G90", "G90 G98", "G90 G98", "G90 G99", "G90 G99", ""]
NEEDED = {
    "G82": ["P0.5", "P0.5", "P0", "", "P-1"], "G86": ["P1", "P1", ""], "G89": ["P1", "P1", ""],
    "G83": ["Q1", "Q1", "Q.5", "", "Q0", "Q-1"], "G81": ["", "", "P1", "Q1"],
}  # fmt: skip
"""What cycles are given of P and Q: mostly what they need, a dwell and a peck."""


@st.composite
def cycles(draw: st.DrawFn) -> list[Line]:
    """A drilling cycle with bare lines that repeat it, and its end."""
    code = draw(st.sampled_from(["G81", "G82", "G83", "G84", "G85", "G86", "G89"]))
    bottom = draw(st.integers(-400, 10)) / 20
    top = bottom + draw(st.sampled_from([0, 0.5, 2, 12, 60]))
    relative = draw(st.integers(0, 3)) == 0
    first = [draw(st.sampled_from(["G91", "G91 G99"] if relative else DISTANCES))]
    depth = f"Z{bottom - top:.2f}" if relative else f"Z{bottom:.2f}"
    plane = "R2.5" if relative else f"R{top:.2f}"
    more = draw(st.sampled_from(NEEDED.get(code, [""]))).split()
    start = (
        [[f"G{draw(st.sampled_from([0, 1]))}", *draw(words("XYZ"))]] if draw(st.booleans()) else []
    )
    lines = [*start, ["G17"], [*first[0].split(), code, *draw(words("XY")), depth, plane, *more]]
    repeats = maybe("L1", "L2", "L3")
    again = st.one_of(line(words("XY"), repeats), line(words("XY")), fixed(
        "G98", "G99", f"Z{bottom - 2:.2f}", f"X3 R{top + 1:.2f}", "G91", "G20", "G21", f"{code} X4",
        "F80", "Y1 L2", "G54", "G55", "G28", "G0", "G92 X1 Z2", "M8", "X3 Y4", "G82 X1 Y2",
        "T3 M6", "G43 H3", "G4 P1 X3", "X2 P2", "X2 Q2", "Y2 P-1", "Y2 Q0", "G93", "G94 F90",
        f"{code} X4 P1 Q1", "G53 G0 Z0", "G52 X1",
    ))  # fmt: skip
    for found in draw(st.lists(again, max_size=6)):
        lines += found
    lines += draw(st.sampled_from([[["G80"]], [["G0"]], []]))
    axes = draw(st.sampled_from([{}, {}, {"17": "18", "Y": "Z", "Z": "Y"}, TURNED]))
    return [
        [axes.get(word[0], word[0]) + (axes.get(word[1:], word[1:])) for word in each]
        for each in lines
    ]


TURNED = {"17": "19", "X": "Y", "Y": "Z", "Z": "X"}
"""A cycle in G17 with its axes exchanged for those of G19."""


@st.composite
def timed(draw: st.DrawFn) -> list[Line]:
    """Moves in inverse time or in feed per turn, with F on each line that cuts, or rarely not."""
    mode = draw(st.sampled_from(["G93", "G93", "G95"]))
    lines = [[mode, *draw(words("XYZ")), *draw(maybe("G1 F2", "G0", "F3"))]]
    for found in draw(st.lists(words("XYZ"), max_size=4)):
        feed = [] if draw(st.integers(0, 9)) == 0 else [f"F{draw(st.integers(1, 9))}"]
        lines.append([*draw(maybe("G1", "G94 G0", mode)), *found, *feed])
    return [*lines, *draw(st.sampled_from([[["G94", "F200"]], [["G94"]], [["G94", "F500"]], []]))]


@st.composite
def tooled(draw: st.DrawFn) -> list[Line]:
    """A mode, a tool change with or without its length, and moves that state nothing anew."""
    tool = draw(st.integers(1, 9))
    lines = [draw(maybe(*LEFT_ON)), [f"T{tool}", "M6"]]
    h = tool if draw(st.integers(0, 9)) else draw(st.integers(0, 9))
    lines += draw(st.sampled_from([[], [["G43", f"H{h}"]], [["G43", f"H{h}", "Z9"]], [["G49"]]]))
    return [*lines, *draw(st.lists(words("XYZ"), max_size=3))]


def carve(seed: int) -> list[Line]:
    """Plain moves in a row as from 3-D carving, modal words and unchanged axes left out."""
    chance = random.Random(seed)
    lines = [["G1", "X0", "Y0", "Z0"], ["G0", "Z5"], ["G1"]][: chance.randrange(4)]
    for _ in range(chance.choice([3, 12, 40, 120])):
        axes = [axis for axis in "XYZ" if chance.random() < 0.6] or ["X"]
        places = [chance.randrange(-9999, 9999) / 1000 for _ in axes]
        found = [a + _written(x, chance.randrange(6)) for a, x in zip(axes, places, strict=True)]
        if chance.random() < 0.1:
            found.insert(0, chance.choice(["G0", "G1"]))
        if chance.random() < 0.05:
            found.append(f"F{chance.randrange(1, 3000)}")
        lines.append(found)
    return lines


CARVES = st.integers(0, 1 << 30).map(carve)
CYCLE_LEFT_ON = cycles().map(lambda lines: [line for line in lines if line != ["G80"]])
BEFORE = st.one_of(
    fixed(*LEFT_ON), fixed(*LEFT_ON), fixed(*LEFT_ON), CYCLE_LEFT_ON, arcs(), tooled(),
    COMPENSATION, SELECTIONS, timed(),
)  # fmt: skip
"""Stretches of a program before, which ends without putting anything back."""
LOSSES = st.one_of(NOT_READ, HOMES, MACHINE)
AGAIN = LOSSES.map(lambda lines: [*lines, ["G90", "G0", "X1", "Y2", "Z3"]])
STRETCHES = st.one_of(
    MOVES, MOVES, MOVES, MODES, MODES, SELECTIONS, TOOLS, arcs(), arcs(), arcs(), cycles(),
    cycles(), CARVES, SHIFTS, COMPENSATION, LOSSES, AGAIN, AGAIN, DWELLS, timed(), tooled(),
    WOULD_STOP, HARMLESS,
)  # fmt: skip
