"""The setup block in a program is known again by its own comments."""

from __future__ import annotations

from pathlib import Path

import pytest
from checking import demo_setup

from pincorner.errors import BadInput
from pincorner.program.source.stamped import (
    MadeOf,
    StampedBlock,
    find_block,
    repeated_in,
    sections_in,
)
from pincorner.program.source.text import ProgramText
from pincorner.render.blocks.block import render_block
from pincorner.render.blocks.guards import comment_lines
from pincorner.render.blocks.joints import opening_lines

STYLES = [
    {},
    {"upper_case": True, "line_length": 40},
    {"comment": "semicolon"},
    {"comment": "semicolon", "line_length": 40},
]


@pytest.mark.parametrize("style", STYLES, ids=str)
@pytest.mark.parametrize("dialect", ["rs274", "extended", "keyed"])
def test_a_block_is_found_in_every_style(style: dict[str, object], dialect: str) -> None:
    """First and last line, name and fingerprint, with comments short or over several lines."""
    setup = demo_setup("left", dialect={"name": dialect})
    changed = setup.facts.dialect.model_copy(update=style)
    setup = setup._replace(facts=setup.facts._replace(dialect=changed))
    block = render_block([setup]).splitlines(keepends=True)
    text = ["%\r\n", "O1234\r\n", "(hive)\r\n", "\r\n", *block, "G0 Z30\r\n"]
    found = find_block(text)
    assert found is not None
    assert found[:2] == (5, 4 + len(block))
    assert found.name.lower() == "left a"
    assert found.fingerprint == setup.fingerprint


def test_names_that_comments_cannot_have(tmp_path: Path) -> None:
    """Of names in other scripts nothing stays in a comment: block, section, and what a file repeats
    are known all the same."""
    setup = demo_setup("left")
    station = setup.facts.station.model_copy(update={"name": "Левый"})
    nest = setup.nest.model_copy(update={"name": "б"})
    setup = setup._replace(facts=setup.facts._replace(station=station), nest=nest)
    mark, block = setup.fingerprint, render_block([setup], None)
    found = find_block(block.splitlines(keepends=True))
    assert found is not None and (found.name, found.called) == ("", mark)
    said = opening_lines("деталь", [setup], [MadeOf("деталь", "0" * 16).comment])
    section = comment_lines(f"section 1 of 1, station {setup.name} {mark}", "parens", False, 80)
    lines = [*said, *section, *block.splitlines(), "G0 Z30", "(section 1 to here)", ""]
    text = ProgramText(tmp_path / "r.nc", "\n".join(lines).encode("ascii"))
    assert repeated_in(text) == ""
    assert [each[2:] for each in sections_in(text)] == [("", mark)]


BEGIN = "(setup left a 7F3A-91C2 from here)\n"
END = "(MM STAYS ACTIVE, setup 7F3A-91C2 to here)\n"


def test_only_the_start_of_a_program_is_looked_through() -> None:
    """Behind the first line that a controller acts on there is no block."""
    assert find_block([BEGIN, "G55\n", END]) == StampedBlock(
        1, 3, "left a", "7F3A-91C2", (BEGIN, "G55\n", END)
    )
    assert find_block(["G21\n", BEGIN, "G55\n", END]) is None
    assert find_block([]) is None
    assert find_block(["(a setup from here)\n", "G0 Z3\n"]) is None


def test_a_block_without_end_is_told() -> None:
    """A block whose end was taken out, or belongs to another, is no block but a fault."""
    for lines in ([BEGIN, "G55\n"], [BEGIN, "G55\n", END.replace("7F3A", "0000")]):
        with pytest.raises(BadInput, match="line 1: a setup block begins here and has no end"):
            find_block(lines)
