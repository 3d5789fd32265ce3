"""Programs at random for the readers, most of them sound, with every oddity of the rules."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from typing import NamedTuple

from hypothesis import strategies as st
from program_stretches import BEFORE, STRETCHES, Line

from pincorner.program.reader.motions import Frame

NO_PLACE = (math.nan, math.nan, math.nan)


class Case(NamedTuple):
    """A program as a file holds it, and what a reader is told beside it."""

    text: bytes
    frame: Frame
    block_lines: tuple[int, int] | None
    known: tuple[tuple[int, int], ...]


# Dress: how a line is written


def _between(text: str, found: Line) -> str:
    """The text in the middle of the line, between two words."""
    half = len(found) // 2
    return " ".join([*found[:half], text, *found[half:]])


def _spread(found: Line) -> str:
    """Blanks inside the numbers, as 3.3 allows (and a typing error makes them)."""
    return " ".join(word[:2] + " " + word[2:] for word in found)


DRESSES: list[Callable[[Line], str]] = [
    " ".join,
    " ".join,
    " ".join,
    "".join,
    "".join,
    lambda found: "".join(found).lower(),
    lambda found: "\t ".join(found) + "  ",
    lambda found: " " + " ".join(f"{word[:1]} {word[1:]}" for word in found),
    lambda found: "N120 " + " ".join(found),
    lambda found: "N100200 " + " ".join(found),
    lambda found: "n5" + "".join(found).lower(),
    lambda found: "/ " + " ".join(found),
    lambda found: "/N30" + "".join(found),
    partial(_between, "(plain words, 1-2 + 3.5 = X9; no comment)"),
    partial(_between, "(Täfelchen) (two)"),
    lambda found: "(first)" + "".join(found),
    lambda found: " ".join(found) + " ; rest (of X1 line",
    lambda found: " ".join(found) + "(a ; b)",
    lambda found: " ".join(found) + " (100% !)",
    lambda found: " ".join(found) + " (msg, hello)",
    lambda found: " ".join(found) + " ; why?",
    lambda found: " ".join(found) + " (nested (once)",
    _spread,
]
PLAIN = st.just(DRESSES[0])
ANY_DRESS = st.sampled_from(DRESSES)


# Frames and whole programs

ORIGINS = st.sampled_from(
    [{}, {"G54": (100.0, -20.0, 5.0)}, {"G54": (-3.5, 0.0, 0.0), "G59.1": (7.0, 8.0, 9.0)}]
)
MACHINE_ORIGINS = st.sampled_from(
    [NO_PLACE, (-295.0, -185.0, 80.0), (-295.0, -185.0, math.nan), (math.nan, 4.0, 5.0)]
)
FRAMES = st.builds(
    lambda code, origins, machine, angle, homes, units, named, harmless, rotated: Frame(
        code, {**origins, **({code: (0.0, 0.0, 0.0)} if code else {})}, machine, angle, homes,
        units, named, frozenset(harmless.split()), rotated=rotated,
    ),
    st.sampled_from(["G55", "G55", "G54", "G54.1 P3", None]),
    ORIGINS,
    MACHINE_ORIGINS,
    st.sampled_from([0.0, 0.0, 0.3, -1.2]),
    st.sampled_from(
        [{}, {"G28": (0.0, 10.0, 0.0)}, {"G28": (1.0, 2.0, math.nan), "G30": (3.0, 4.0, 5.0)}]
    ),
    st.sampled_from(["mm", "in"]),
    st.booleans(),
    st.sampled_from(["", "G91.1 G97 M10 M98", "G91.1 G97 M10 M98", "M10 G17.1"]),
    st.sampled_from([False, False, True]),
)  # fmt: skip
HEADS = [
    [], [], ["G21 G55 G0 X1 Y2 Z3"], ["G0X0Y0Z0"], ["G21 G90 G17 G40 G49 G80 G94 G98 G55"],
    ["G21 G90 G17 G94 G98", "G55 F100 G0 X0 Y0 Z5"], ["G20 G90 F20", "G54 G0 X1 Y1 Z1"],
    ["G90 F100", "G55"], ["G21", "F500", "X1 Y1 Z1"], ["T1 M6", "G43 H1 Z9"],
]  # fmt: skip
"""How programs begin: all modes stated, some, or none."""
BLOCKS = {
    "g10": ["(setup left a from here)", "G21 G90", "G17 G40 G80", "G92.1",
            "G10 L2 P2 X295.000 Y185.000", "G55", "(to here)"],
    "relative": ["G20 G90", "G92.1", "G10 L2 P2 X[#5221+235.000] Y[#5222-12.125]", "G55"],
    "modes": ["G21 G90 G98 G17", "G80 G49 G94", "G55"],
    "turned": ["G21", "G69", "G52 X0 Y0 Z0", "G54.1 P3", "G10 L20 P3 X1.000 Y2.000",
               "G68 X0 Y0 R0.1200"],
}  # fmt: skip


@st.composite
def cases(draw: st.DrawFn, *, most: int = 12, hostile: bool = False) -> Case:
    """A program of up to `most` stretches, its frame, sometimes a block or a known stretch.

    `hostile`: in front of it stands what another program left on.
    """
    dresses = draw(st.sampled_from([PLAIN, ANY_DRESS, ANY_DRESS]))
    lines: list[str] = []
    if hostile:
        for stretch in draw(st.lists(BEFORE, min_size=1, max_size=6)):
            lines += [" ".join(found) for found in stretch]
    lines += draw(st.sampled_from(HEADS))
    for stretch in draw(st.lists(STRETCHES, max_size=most)):
        lines += [
            draw(dresses)(found) if len(stretch) < 20 else " ".join(found) for found in stretch
        ]
    end = draw(st.sampled_from(["M2", "M30", "X1 M30", "", "", "G69"]))
    lines += [end, "G1 X999"] if draw(st.booleans()) else [end] if end else []
    known: tuple[tuple[int, int], ...] = ()
    block_lines = None
    if lines and draw(st.integers(0, 5)) == 0:
        first = draw(st.integers(1, len(lines)))
        known = ((first, first + draw(st.integers(0, 3))),)
    if draw(st.integers(0, 3)) == 0:
        block = BLOCKS[draw(st.sampled_from(sorted(BLOCKS)))]
        before = draw(st.sampled_from([[], ["(head)", ""]]))
        lines = [*before, *block, *lines]
        block_lines = (len(before) + 1, len(before) + len(block))
        known = tuple((a + block_lines[1], b + block_lines[1]) for a, b in known)
    elif not known and draw(st.integers(0, 3)) == 0:
        lines = ["%", *lines, *draw(st.sampled_from([["%"], [" % ", "X1"], []]))]
    ends = draw(st.sampled_from(["\n", "\n", "\r\n", "\r"]))
    text = ends.join(lines) + draw(st.sampled_from([ends, ""]))
    signature = draw(st.sampled_from(["", "", "", "\ufeff"]))
    return Case((signature + (text or "\n")).encode("utf-8"), draw(FRAMES), block_lines, known)
