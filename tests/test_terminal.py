"""What stands on a terminal: tables in 80 columns, prose in its width, figures and tokens whole."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from unicodedata import category, east_asian_width

import pytest
from checking import demo_facts
from conftest import Run
from hypothesis import given, settings
from hypothesis import strategies as st
from thinning import thinned

from pincorner.cli import printing
from pincorner.documents.jigs import Jig
from pincorner.render.text.offsets import offsets_table
from pincorner.render.text.tables import in_width, table
from pincorner.setups.setup import OffsetRow
from pincorner.setups.transform import offset_rows

STATIONS = ("left", "right", "end-bars", "roof")


def rows(*names: str) -> list[OffsetRow]:
    """The rows of the demo's stations."""
    return [row for name in names for row in offset_rows(demo_facts(name))]


def test_the_offset_table_has_80_columns() -> None:
    """The demo's table and every line of it fit; unit and angle, which all share, stand once."""
    text = offsets_table(rows(*STATIONS))
    head, _, rest = text.partition("(unit mm; no angle; within: in any one direction, 95 %)\n")
    assert max(map(len, head.splitlines())) <= 80
    assert re.search(r"29\d\.\d{3}  18\d\.\d{3} +38\.000 +0\.\d\d +0\.\d\d  [0-9A-F-]{9}", head)
    assert "mm" not in head and "0.0000" not in head
    assert rest == (
        "- not given, not counted: where the bed lies (no survey)\n"
        "- roof: not given, not counted: jig edge\n"
    )


def test_long_names_are_broken_and_figures_are_not() -> None:
    """A station's name of 64 characters takes several lines; each figure stays in one piece."""
    name = "a name of the longest kind " + "W" * 37
    named = []
    for row in rows("left"):
        station = row.facts.station.model_copy(update={"name": name})
        named += offset_rows(row.facts._replace(station=station))
    text = offsets_table(named)
    table_lines = text.partition("(unit")[0].splitlines()
    assert max(map(len, table_lines)) <= 80
    column = table_lines[1].index("nest")
    told = "".join(line[:column] for line in table_lines[2:])
    assert told.replace(" ", "") == name.replace(" ", "")
    [left] = rows("left")
    assert left.setup is not None
    own = left.setup.printed.own
    for figure in (own.x, own.y, own.zero_above_surface):
        assert figure in text.split()


def test_a_finding_of_several_nests_is_told_once() -> None:
    """What holds for both nests of a station is one line that names both."""
    facts = demo_facts("end-bars")
    assert isinstance(facts.holder, Jig)
    high = facts.holder.model_copy(update={"footprint": (440.0, 900.0)})
    text = offsets_table(offset_rows(facts._replace(holder=high)))
    found = [line for line in text.splitlines() if "over the" in line and "edge of bed" in line]
    assert len(found) == 1
    assert found[0].startswith("! end-bars a, b: ")


def test_mixed_units_and_angles_stay_in_the_table() -> None:
    """Where rows differ in their unit, each has it; an angle that one has stands for all."""
    [row] = rows("left")
    inch = row.facts.machine.model_copy(update={"units": "in"})
    turned = row.facts.bed.pose.model_copy(update={"angle": 0.01})
    other = row.facts._replace(machine=inch, bed=row.facts.bed.model_copy(update={"pose": turned}))
    text = offsets_table([row, *offset_rows(other)])
    head = text.splitlines()[1]
    assert "unit" in head and "angle" in head
    assert re.search(r"  mm +29\d\.", text) and re.search(r"  in +11\.6", text)


@settings(deadline=None, max_examples=thinned(40))
@given(st.text("abcXY 09.-!", max_size=300), st.integers(40, 200))
def test_prose_keeps_its_words(text: str, width: int) -> None:
    """However wide a terminal is, the words of a text and their order stay the same."""
    assert in_width(text, width).split() == text.split()


def test_prose_is_broken_behind_its_label() -> None:
    """A finding goes on below its words, a command and a row of figures are left alone."""
    told = in_width("! line 116: the 6 mm cutter would pass the stock by 266.500 mm", 40)
    assert told == "! line 116: the 6 mm cutter would pass\n  the stock by 266.500 mm"
    status = in_width("noted         roof a: pin peg-20 stands in the way of stock", 40)
    assert status == "noted         roof a: pin peg-20 stands\n              in the way of stock"
    for line in (
        "pincorner register shelf --bed long-bench --stock 150,250,18 --pin peg-20",
        "1  pincorner register shelf --bed long-bench --stock 150,250,18",
        "tool 1          6      38  146.500  263.500  156.500  183.500  -12.000",
    ):
        assert in_width(line, 40) == line


class Terminal:
    """A stream that says that it is a terminal, and keeps what is written."""

    encoding = "utf-8"

    def __init__(self) -> None:
        self.text = ""

    def isatty(self) -> bool:
        """It is one."""
        return True

    def write(self, text: str) -> None:
        """Keep a text."""
        self.text += text

    def flush(self) -> None:
        """Nothing is held back."""


def test_only_a_terminal_breaks_lines_and_never_a_blocks(
    in_demo: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To a file sentences stay whole; on a terminal they are broken, a block's lines are not."""
    longest = max(map(len, run("check", "hand-hold", "--station", "right").out.splitlines()))
    assert longest > 100
    block = run("block", "left").out
    terminal = Terminal()
    monkeypatch.setattr(sys, "stdout", terminal)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("NO_COLOR", "1")
    printing.print_prose("! " + "a sentence that goes on " * 8 + "\n")
    assert max(map(len, terminal.text.splitlines())) <= 80
    terminal.text = ""
    printing.print_text(block + "(" + "A LONG COMMENT OF A BLOCK " * 6 + ")\n")
    assert terminal.text.startswith(block) and len(terminal.text.splitlines()[-1]) > 100


TOLD = "To look at\n  noted: a\n! line 6: it selects G55 [x]\nverdict: 1 finding\nwarning: b\n"
ESCAPES = re.compile(r"\x1b\[[0-9;]*m")


@pytest.mark.parametrize(
    ("name", "value", "coloured"),
    [("TERM", "xterm-256color", True), ("NO_COLOR", "1", False), ("TERM", "dumb", False)],
)
def test_colour_is_for_terminals_that_want_it(
    monkeypatch: pytest.MonkeyPatch, name: str, value: str, coloured: bool
) -> None:
    """Headings, verdicts, findings and warnings stand out there alone, and no word is changed."""
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv(name, value)
    terminal = Terminal()
    monkeypatch.setattr(sys, "stdout", terminal)
    printing.print_prose(TOLD)
    assert ESCAPES.sub("", terminal.text) == TOLD
    assert bool(ESCAPES.search(terminal.text)) == coloured
    marked = ESCAPES.sub("|", terminal.text)
    for word in ("|To look at|", "|! |", "verdict: 1 finding|", "|warning:|"):
        assert (word in marked) == coloured
    assert "32m" not in terminal.text and "noted|" not in marked  # nothing is green


def test_no_colour_in_a_file(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is piped or written to a file has no escape sequence, whatever the terminal is."""
    monkeypatch.setenv("TERM", "xterm-256color")
    printing.print_prose(TOLD)
    assert capsys.readouterr().out == TOLD


def test_heads_of_several_lines_end_on_one() -> None:
    """Words of a head stand one over the other, the last just above the cells."""
    text = table(("a", "two\nlines"), [("x", "1")], ".r")
    assert text == "     two\na  lines\nx      1\n"


def test_columns_stand_below_each_other_in_every_script() -> None:
    """Wide letters take two columns of a terminal, marks upon others none (UAX 11): figures stand
    where their head does all the same, and names are broken in time."""
    names = ["left", "\u5de6\u306e\u68da", "\u0915\u093f\u0928\u094d", "e\u0301tau", "\u5de6" * 40]
    text = table(("station", "X"), [(name, "1.0") for name in names], ".r", width=40, texts=(0,))
    columns = []
    for line in text.splitlines():
        if line.endswith(("X", "1.0")):
            cells = (
                2 if east_asian_width(c) in "WF" else 0 if category(c) == "Mn" else 1 for c in line
            )
            columns.append(sum(cells))
    assert len(columns) == 1 + len(names) and len(set(columns)) == 1 and columns[0] <= 40
