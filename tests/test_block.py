"""Setup blocks: exact texts, line by line, and what odd dialects and machines make of them."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from blocks import A0, TURNED, TWO, Z_MACHINE, Z_REFERENCE, block_of, setup_of, station

from pincorner.documents.beds import Extra, PoseEntry
from pincorner.documents.records import Program
from pincorner.documents.stations import EdgePins, ZRule
from pincorner.errors import Refused
from pincorner.program.source.stamped import find_block, sections_in
from pincorner.program.source.text import ProgramText
from pincorner.render.blocks.block import render_block
from pincorner.render.blocks.guards import comment_lines
from pincorner.setups.facts import Facts
from pincorner.setups.transform import make_setups

OTHER_BLOCKS: dict[str, tuple[Facts, str]] = {
    "inch": (
        station(machine={"units": "in"}),
        A0.replace("38.000 MM", "1.4961 INCH").replace("Z-38.000", "Z-1.4961")
        .replace("G21", "G20").replace("X295.000 Y185.000", "X11.6142 Y7.2835")
        .replace("(MM", "(INCH"),
    ),
    "two nests": (
        station(jig={"nests": TWO}, work_offsets={"a": "G55", "b": "G59.1"}),
        A0.replace("(Z NOT", "(nest b in G59.1, setup {1})\n(Z NOT", 1)
        .replace("G40\n", "(Z NOT SET BY THIS BLOCK, SET IT IN G59.1, NOT BY G92)\n"
                 "(G59.1 Z0 IS 38.000 MM ABOVE THE BED SURFACE)\n"
                 "(TOOL TIP ON THE BED SURFACE MUST READ Z-38.000)\nG40\n")
        .replace("Y185.000\n", "Y185.000\nG10 L2 P7 X515.000 Y185.000\n"),
    ),
    "skew": (
        station(bed=TURNED),
        A0.replace("G40\n", "(ANGLE 0.1200 DEGREES NOT WRITTEN, UP TO 0.995 MM OVER THE STOCK)\n"
                   "G40\n").replace("X295.000 Y185.000", "X294.727 Y185.492"),
    ),
    "turned": (
        station("rs274-turned", bed=TURNED),
        A0.replace("X295.000 Y185.000", "X294.727 Y185.492 R0.1200"),
    ),
    "not turned": (station("rs274-turned"), A0.replace("Y185.000", "Y185.000 R0.0000")),
    "z reference": (
        station(z=Z_REFERENCE),
        A0.replace("(Z NOT SET BY THIS BLOCK, SET IT IN G55, NOT BY G92)",
                   "(Z COUNTS FROM G54, WHOSE Z ZERO IS THE BED SURFACE, NOT BY G92)")
        .replace("Y185.000", "Y185.000 Z[#5223+38.000]"),
    ),
    "z machine": (
        station(z=Z_MACHINE, machine={"tool_lengths": "gauge"}),
        A0.replace("(Z NOT SET BY THIS BLOCK, SET IT IN G55, NOT BY G92)",
                   "(Z SET BY THIS BLOCK, TOOL LENGTHS MUST BE APPLIED)")
        .replace("Y185.000", "Y185.000 Z-82.000"),
    ),
    "does not home": (
        station(machine={"homes": False}, bed={"pose": PoseEntry(x=60, y=-142.125)}),
        A0.replace("X295.000 Y185.000", "X[#5221+295.000] Y[#5222-12.125]")
        .replace("G40\n", "(OFFSETS COUNT FROM G54, SET AT THE REFERENCE, NOT BY G92)\nG40\n"),
    ),
    "upper case": (
        station({"upper_case": True}),
        A0.replace("from here", "FROM HERE").replace("to here", "TO HERE")
        .replace("setup", "SETUP").replace("left a", "LEFT A").replace("stop", "STOP")
        .replace("bed long-bench, jig panel-tray, edge", "BED LONG-BENCH, JIG PANEL-TRAY, EDGE")
        .replace("stays empty", "STAYS EMPTY"),
    ),
    "semicolon": (
        station({"comment": "semicolon"}),
        re.sub(r"^\((.*)\)$", r"; \1", A0, flags=re.MULTILINE),
    ),
    "short lines": (
        station({"line_length": 40}),
        A0.replace("edge D2 G2, stop C4, C2", "edge)\n(cont D2 G2, stop C4, C2")
        .replace("SET IT IN G55", "SET IT IN)\n(cont G55")
        .replace("BED SURFACE)", "BED)\n(cont SURFACE)")
        .replace("READ Z", "READ)\n(cont Z").replace("{0} to", "{0} to)\n(cont"),
    ),
    "restored unit": (
        station("six")._replace(program=Program(name="p", file="p.nc", units="in")),
        A0.replace("G55\n(MM", "G55\nG20\n(INCH"),
    ),
    "extended": (
        station("extended", bed=TURNED, work_offsets={"a": "G54.1 P7"}),
        A0.replace("G92.1\nG10 L2 P2 X295.000 Y185.000\nG55\n",
                   "G69\nG52 X0 Y0 Z0\nG54.1 P7\nG10 L20 P7 X294.727 Y185.492\n"
                   "G54.1 P7\nG68 X0 Y0 R0.1200\n(THE PROGRAM MUST END WITH G69 IN FRONT OF M2 OR "
                   "M30, RUN G69 AFTER ANY STOP)\n").replace("G55", "G54.1 P7"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ["worked", *OTHER_BLOCKS])
def test_exact_blocks(name: str) -> None:
    """A block is this text, line by line, and only the fingerprints come from the setup."""
    found, want = OTHER_BLOCKS.get(name, (station(), A0))
    made = make_setups(found)
    text = render_block(made)
    assert text.splitlines() == want.format(*(each.fingerprint for each in made)).splitlines()
    assert text.endswith("\n")


def test_a_half_turn_prints_without_a_sign() -> None:
    """An offset's angle never prints as -180: it lies in (-180, 180] (guide, Places)."""
    bed = {"pose": PoseEntry(x=600, y=155, angle=4.49)}
    jig = {"nests": (TWO[0].model_copy(update={"angle": 45.0}),)}
    found = station("rs274-turned", bed=bed, jig=jig, turn=180, program_angle=49.49)
    assert setup_of(found).printed.angle == "180.0000"


def test_spelled_zeros_take_a_shift_back() -> None:
    """A dialect may spell the shift it takes back with decimals, as its document allows."""
    assert "G52 X0.0 Y0.0" in block_of(station({"cancel": ["G52 X0.0 Y0.0"]}))


def test_short_lines_hold_any_write_or_refuse() -> None:
    """Where a write does not fit a controller's line, it is split or refused, never a fault."""
    found = station({"line_length": 40, "expressions": True}, machine={"homes": False})
    try:
        text = block_of(found)
    except Refused:
        return
    assert max(map(len, text.splitlines())) <= 40


@pytest.mark.parametrize(
    ("dialect", "rule"),
    [({"expressions": False}, Z_REFERENCE), ({"write": "none"}, Z_REFERENCE),
     ({"write": "none"}, Z_MACHINE)],
)  # fmt: skip
def test_z_that_is_not_written_is_not_claimed(dialect: dict[str, Any], rule: ZRule) -> None:
    """A block without a Z word leaves the sum open or gives it to be keyed in (guide, Heights)."""
    text = block_of(station(dialect, z=rule, machine={"tool_lengths": "gauge"}))
    assert not re.search(r"^G10.* Z", text, re.MULTILINE)
    assert "Z SET BY THIS BLOCK" not in text
    assert re.search(r"\bZ\b.*(\+ 38\.000|-82\.000)", text)


def test_an_angle_to_key_in_is_told() -> None:
    """Where the angle is keyed in by hand, the line to key in holds it."""
    text = block_of(station({"write": "none", "rotation": "r-word"}, bed=TURNED))
    assert "KEY IN" in text and "0.1200" in text


def test_a_rotation_is_taken_off_before_it_is_put_on() -> None:
    """A dialect that rotates by G68 takes an old rotation off first (guide, Block)."""
    words = block_of(station({"rotation": "g68"})).splitlines()
    assert words.index("G69") < words.index("G68 X0 Y0 R0.0000")


def test_one_nest_a_block_is_refused_for_itself_alone() -> None:
    """Where a block holds one nest, another nest's travel does not speak against it."""
    far = TWO[1].model_copy(update={"zero": (9000.0, 20.0)})
    both = {"nests": (TWO[0], far)}
    found = station("extended", jig=both, work_offsets={"a": "G55", "b": "G56"})
    assert "G56" not in render_block(make_setups(found), "a")


@pytest.mark.parametrize("length", [256, 80, 40])
def test_comments_are_broken_where_a_screen_ends(length: int) -> None:
    """Lines of a comment are under 80 characters, words are broken only where a line must be
    shorter, and what reads a block has the whole of it again."""
    name = "n" * 120
    text = f"NOTE pins D2, G2, C4 stand 22.0 mm above the bed {'and as high as that ' * 5}in {name}"
    lines = comment_lines(text, "parens", False, length)
    assert all(len(line) <= length for line in lines) and all("(" not in line[1:] for line in lines)
    assert all(len(line) < 80 for line in lines if "nnn" not in line)
    assert (sum(name in line for line in lines) == 1) == (length == 256)
    begun = comment_lines(f"setup {name} A1B2-C3D4 from here", "parens", False, length)
    ended = comment_lines("X, setup A1B2-C3D4 to here", "parens", False, length)
    block = find_block(["%", *begun, "G54", *ended])
    assert block is not None and block.name.replace(" ", "") == name
    section = comment_lines(f"section 1 of 2, station {name} A1B2-C3D4", "parens", False, length)
    file = "\n".join(["%", *section, "G55", "(section 1 to here)", ""]).encode("ascii")
    [found] = sections_in(ProgramText(Path("r.nc"), file))
    assert (found.first, found.last) == (2, 3 + len(section))


def test_holes_that_no_comment_can_name() -> None:
    """What is left of such names would pass for other holes, or two pins for one: counted."""
    holes = [Extra.model_validate({"name": "ж7", "at": (600.0, 100.0)})]
    on_pins = EdgePins.model_validate({"edge": ["D2", "ж7"], "stop": "C4"})
    text = block_of(station(bed={"extra": tuple(holes)}, pins=on_pins))
    assert "panel-tray, 2 edge pins, 1 stop pin, C2 stays empty)" in text
