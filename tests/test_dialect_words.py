"""Words that a dialect lists: what may be read over in programs, and what a block begins with.

The words of RS274/NGC come from the reader's own table (NISTIR 6556, Table 4); the others are
common practice, no source.
"""

from __future__ import annotations

import re

import pytest
from worlds import entries, shipped_dialects

from pincorner.documents.dialect_words import FIRST, MODE_WORDS
from pincorner.documents.machines import Dialect, Machine
from pincorner.documents.reading import read_text
from pincorner.errors import DocumentErrors
from pincorner.program.reader.modes import GROUP_OF_G, M_WORDS, written_g


def harmless(*words: str) -> tuple[str, ...]:
    """The words as a dialect keeps them; DocumentErrors where one is refused."""
    listed = ", ".join(words)
    (entry,) = entries(
        f"format: 1\ndialects: [{{name: x, work_offsets: [G54], harmless: [{listed}]}}]"
    )
    assert isinstance(entry.document, Dialect)
    return entry.document.harmless


FOLLOWED = [
    *(written_g(code) for code, group in GROUP_OF_G.items() if group != "path"),
    *(f"M{code}" for code, (group, _) in M_WORDS.items() if group in ("stopping", "tool change")),
]


@pytest.mark.parametrize("word", FOLLOWED)
def test_what_the_reader_follows_is_never_read_over(word: str) -> None:
    """What the reader follows is refused, but for spindle, coolant, overrides and path."""
    with pytest.raises(DocumentErrors, match="concerns") as caught:
        harmless(word)
    (problem,) = caught.value.problems
    assert problem.path == "dialects[0].harmless[0]"
    assert problem.text.endswith("is never read over; leave it out (in x)")


REFUSED = [
    "G5", "G5.1", "G6", "G6.2", "G7", "G7.1", "G8", "G12", "G12.1", "G13", "G13.1",
    "G16", "G17.1", "G27", "G29", "G31", "G33", "G34", "G35", "G37", "G38.3", "G38.5",
    "G41.1", "G42.1", "G43.1", "G43.4", "G44", "G45", "G48", "G50.1", "G51", "G51.1", "G54.2",
    "G59.4", "G60", "G65", "G66", "G66.1", "G68.2", "G70", "G71", "G73", "G74", "G76",
    "G79", "G83.1", "G88", "G90.1", "G92.4", "G94.1", "M61", "M97", "M98", "M99",
]  # fmt: skip


@pytest.mark.parametrize("word", REFUSED)
def test_what_the_reader_refuses_is_never_read_over(word: str) -> None:
    """Words of other controllers for motion, offsets, lengths and calls are refused as well."""
    with pytest.raises(DocumentErrors, match=f"{word} concerns"):
        harmless(word)


ALLOWED = [
    "G9", "G11", "G15", "G22", "G23", "G50", "G61", "G61.1", "G62", "G64", "G91.1",
    "G96", "G97", "G100", "M3", "M4", "M5", "M7", "M8", "M9", "M10", "M11",
    "M19", "M48", "M49", "M62", "M100", "M1000",
]  # fmt: skip


@pytest.mark.parametrize("word", ALLOWED)
def test_what_changes_nothing_may_be_read_over(word: str) -> None:
    """Spindle, coolant, overrides, path and what no reader knows may be listed."""
    assert harmless(word) == (word,)


@pytest.mark.parametrize(
    ("written", "kept"),
    [("g91.1", "G91.1"), ("G 97", "G97"), ("G097", "G97"), ("G97.0", "G97"), ("G91.10", "G91.1"),
     ("m010", "M10"), ("G05.1", None), ("G00", None), ("M00", None), ("G91.", None),
     ("G91.12", None), ("M6.1", None), ("X1", None), ("G", None), ("G-1", None), ("91.1", None),
     ("'G91.1\\nG0'", None), ("G91.1)", None), ("null", None), ("[G97]", None)],
)  # fmt: skip
def test_one_way_of_writing(written: str, kept: str | None) -> None:
    """A word is kept the one way that programs are compared with, however it was written."""
    if kept is not None:
        assert harmless(written) == (kept,)
    else:
        with pytest.raises(DocumentErrors) as caught:
            harmless(written)
        assert len(caught.value.problems) == 1


def test_mode_words_are_another_matter() -> None:
    """Words that a block may begin with are followed by the reader: most are never read over."""
    assert all(re.fullmatch(MODE_WORDS, word) for word in FIRST)
    for word in FIRST:
        with pytest.raises(DocumentErrors):
            harmless(word)


def test_shipped_dialects() -> None:
    """All shipped dialects lean on the default of `first`, and name what is common practice."""
    found = {each.name: each for each in shipped_dialects() if isinstance(each, Dialect)}
    assert {name: each.harmless for name, each in found.items()} == {
        "rs274": ("G91.1", "G97"), "rs274-turned": ("G91.1", "G97"), "six": ("G91.1", "G97"),
        "extended": ("G15", "G50", "G97"), "keyed": ("G97",),
    }  # fmt: skip
    assert {each.first for each in found.values()} == {FIRST}


def machine(text: str, units: str = "mm") -> Machine:
    """A machine of a text."""
    line = f"{{name: x, dialect: rs274, {text}}}"
    (entry,) = entries(f"format: 1\nunits: {units}\nmachines: [{line}]")
    assert isinstance(entry.document, Machine)
    return entry.document


def test_home_is_in_the_units_of_the_file() -> None:
    """Places of G28 and G30 are lengths like all others: the file's unit, or their own."""
    home = machine("home: {g28: [1, 2 mm, -0.5], g30: [0, 40, 0]}", "in").home
    assert home is not None
    assert (home.g28, home.g30) == ((25.4, 2.0, -12.7), (0.0, 1016.0, 0.0))
    alone = machine("home: {g30: [1, 2, 3]}, home_named_axes: true")
    assert alone.home is not None and alone.home.g28 is None and alone.home_named_axes


def test_no_home_without_homing() -> None:
    """A machine that does not home keeps no machine coordinates, so it has no home: one line."""
    text = "format: 1\nmachines: [{name: x, dialect: d, homes: false, home: {g28: [0, 0, 0]}}]"
    (problem,) = read_text(text, "shop.yaml")[0].problems
    assert str(problem).startswith("shop.yaml:2: machines[0]: home: machine coordinates do not")
    assert "homes: false" in problem.text and "\n" not in problem.text
