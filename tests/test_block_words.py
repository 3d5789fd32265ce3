"""What never gets into a block: text that acts, and words that move an axis."""

from __future__ import annotations

import re

import pytest
from blocks import A0, TWO, block_of, station
from hypothesis import given, settings
from hypothesis import strategies as st
from oracles.block_reader import read_block
from thinning import thinned

from pincorner.documents.beds import Extra
from pincorner.documents.fields import check_name
from pincorner.documents.stations import EdgePins
from pincorner.render.blocks.guards import BlockFaultError, check_block, mode_lines

legal = st.characters(categories=["L", "M", "Nd"], include_characters=" -_.+")


def _legal(text: str) -> bool:
    try:
        return check_name(text) == text
    except ValueError:
        return False


names = st.text(legal, min_size=1, max_size=64).filter(_legal)
notes = st.text(st.characters(exclude_categories=["Cc", "Cs"], include_characters="\t\n"))
COMMENT = re.compile(r"\([A-Za-z0-9 .,+=-]+\)|; [A-Za-z0-9 .,+=-]+")
WORDS = re.compile(
    r"(?:G(?:10|17|2[01]|40|49|80|9[048]|92\.1|5[4-9]|59\.[123])|L2|P\d|[XY]-?\d+\.\d+| )+"
)


@settings(deadline=None, max_examples=thinned(80))
@given(
    st.tuples(names, names, names, names, names), notes, st.sampled_from(["parens", "semicolon"]),
    st.booleans(), st.integers(40, 90),
)  # fmt: skip
def test_no_name_gets_out_of_its_comment(
    called: tuple[str, ...], note: str, comment: str, upper_case: bool, line_length: int
) -> None:
    """Whatever things are called, a block holds its own words, and comments of plain characters."""
    this, bed, jig, nest, hole = called
    spoken = {"comment": comment, "upper_case": upper_case, "line_length": line_length}
    found = station(
        spoken,
        bed={"name": bed, "note": note, "extra": (Extra(name=hole.upper(), at=(200.0, 300.0)),)},
        jig={"name": jig, "nests": (TWO[0].model_copy(update={"name": nest}),), "note": note},
        name=this, note=note, work_offsets={nest: "G55"},
        pins=EdgePins(edge=("D2", "G2"), stop=hole.upper()),
    )  # fmt: skip
    text = block_of(found)
    assert check_block(text, line_length) == text
    lines = text.split("\n")
    words = [line for line in lines if line and not COMMENT.fullmatch(line)]
    assert all(WORDS.fullmatch(line) for line in words)
    expected = A0.splitlines()[5:11]
    assert [" ".join(line.split()) for line in words] == expected
    assert text.isascii() and max(map(len, lines)) <= line_length
    assert not re.search(r"\(\s*MSG|%|^\s*[;(]\s*MSG", text, re.IGNORECASE)
    read = text if comment == "parens" else "\n".join(words)
    assert not read_block(read).messages


@pytest.mark.parametrize(
    "line",
    ["G0 X1", "G1 X1 F100", "G28", "G28 Z0", "G30", "G53 G0 Z0", "G10 L2 P1", "G10 L2 P1 X1",
     "G10 L2 P1 X1.0 Y2.0 F1.0", "G92 X0", "X1.0", "M3", "M6 T1", "T1", "S1000", "M30", "%", "O1",
     "G55 X0.0", "G90 G0", "G52 X1 Y0 Z0", "G2 X1 Y1 R1", "#5221=0", "(a) G0", "(a", "()", "(a(b))",
     "G54.1", "G68 X1 Y0 R1.0", "; a; b", ";a", "/G55", "N1 G55", "g55", "G55 ", "", "(é)"],
)  # fmt: skip
def test_words_that_do_more_are_stopped(line: str) -> None:
    """The last look lets nothing through that moves an axis or is not on its list."""
    good = A0.replace("{0}", "7F3A-91C2")
    assert check_block(good, 256) == good
    with pytest.raises(BlockFaultError):
        check_block(good.replace("G55\n", f"G55\n{line}\n"), 256)
    with pytest.raises(BlockFaultError):
        check_block(good, 60)  # a line is longer than the controller takes


@pytest.mark.parametrize(
    ("first", "lines"),
    [
        (("G17", "G40", "G80"), ["G40", "G21 G90", "G17 G80"]),
        (("G40", "G17", "G49", "G80", "G94", "G98"), ["G40", "G21 G90", "G17 G49 G80 G94 G98"]),
        (("G17",), ["G21 G90", "G17"]),
        (("G40",), ["G40", "G21 G90"]),
        ((), ["G21 G90"]),
        (("G20", "G90", "G17", "G17"), ["G21 G90", "G17"]),
    ],
)
def test_compensation_ends_before_the_unit_is_stated(
    first: tuple[str, ...], lines: list[str]
) -> None:
    """G40 stands alone in front: units cannot change under it (NISTIR 6556, Appendix B.5)."""
    assert mode_lines(first, "G21") == lines
    assert check_block("\n".join(lines), 40) == "\n".join(lines)
