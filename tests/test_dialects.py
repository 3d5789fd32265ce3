"""Dialects in use: offsets that are keyed in, units that come back, one of the shop's own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from blocks import EXTENSIONS, MODES, TURNED, TWO, block_of, station
from conftest import Run
from oracles.block_reader import MachineState, read_block
from worlds import BASE, make_registry

from pincorner.documents.beds import PoseEntry
from pincorner.documents.records import Program
from pincorner.errors import Refused
from pincorner.render.blocks.block import render_block
from pincorner.setups.facts import Facts
from pincorner.setups.transform import make_setups

KEYED = """\
(setup left a {0} from here)
(bed long-bench, jig panel-tray, edge D2 G2, stop C4, C2 stays empty)
(Z NOT SET BY THIS BLOCK, SET IT IN G55, NOT BY G92)
(G55 Z0 IS 38.000 MM ABOVE THE BED SURFACE)
(TOOL TIP ON THE BED SURFACE MUST READ Z-38.000)
(KEY IN G55 X = 295.000 MM)
(KEY IN G55 Y = 185.000 MM)
G55
(UNIT NOT SET BY THIS BLOCK, setup {0} to here)
"""
KEYED_BLOCKS: dict[str, tuple[Facts, str]] = {
    "plain": (station("keyed"), KEYED),
    "inch": (
        station("keyed", machine={"units": "in"}),
        KEYED.replace("38.000 MM", "1.4961 INCH").replace("Z-38.000", "Z-1.4961")
        .replace("295.000 MM", "11.6142 INCH").replace("185.000 MM", "7.2835 INCH"),
    ),
    "does not home": (
        station("keyed", machine={"homes": False}, bed={"pose": PoseEntry(x=60, y=-197.125)}),
        KEYED.replace("X = 295", "X = G54 X + 295").replace("Y = 185.000", "Y = G54 Y - 67.125")
        .replace("G55\n(UNIT", "(OFFSETS COUNT FROM G54, SET AT THE REFERENCE, NOT BY G92)\n"
                 "G55\n(UNIT"),
    ),
    "program in inches": (
        station("keyed")._replace(program=Program(name="p", file="p.nc", units="in")), KEYED
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", KEYED_BLOCKS)
def test_a_keyed_block_is_a_table_and_a_selection(name: str) -> None:
    """Where offsets are keyed in, the block holds comments alone, and the code's selection."""
    found, want = KEYED_BLOCKS[name]
    (setup,) = make_setups(found)
    assert block_of(found).splitlines() == want.format(setup.fingerprint).splitlines()
    before = MachineState({5241: 7.0, 5242: 9.0}, unit="in", distance="G91", plane="G18")
    after = read_block(block_of(found), before)
    assert (after.system, after.parameters[5241], after.parameters[5242]) == (2, 7.0, 9.0)
    assert (after.unit, after.distance, after.plane, after.moved) == ("in", "G91", "G18", False)


UNITS = [  # dialect, machine's unit, program's (None: not stated, "": no program), word, comment
    ("rs274", "mm", "in", "", "MM"), ("rs274", "mm", None, "", "MM"),
    ("rs274-turned", "in", "mm", "", "INCH"),
    ("six", "mm", "in", "G20", "INCH"), ("six", "in", "mm", "G21", "MM"),
    ("six", "mm", "mm", "", "MM"), ("six", "mm", None, "", "MM"), ("six", "in", "", "", "INCH"),
    ("extended", "mm", "in", "G20", "INCH"), ("extended", "mm", None, "", "MM"),
]  # fmt: skip


@pytest.mark.parametrize(("dialect", "own", "programs", "word", "told"), UNITS)
def test_the_unit_that_stays_active_is_restored_or_told(
    dialect: str, own: str, programs: Any, word: str, told: str
) -> None:
    """Where origins convert, the program's unit comes back as the last word; the comment tells."""
    found = station(dialect, machine={"units": own})
    if programs != "":
        found = found._replace(program=Program(name="p", file="p.nc", units=programs))
    text = block_of(found)
    words = [line for line in text.splitlines() if not line.startswith("(")]
    selection = "G68 X0 Y0 R0.0000" if dialect == "extended" else "G55"
    assert words[:2] == ["G40", "G20 G90" if own == "in" else "G21 G90"]
    assert words[words.index(selection) + 1 :] == ([word] if word else [])
    assert text.splitlines()[-1].startswith(f"({told} STAYS ACTIVE, setup ")
    unit = read_block(text, MachineState(unit="mm"), EXTENSIONS[dialect]).unit
    assert unit == ("in" if told == "INCH" else "mm")


NESTED = {"jig": {"nests": TWO}, "work_offsets": {"a": "G55", "b": "G59.1"}}


@pytest.mark.parametrize(
    ("asked", "selected"), [(None, "G55"), ("a", "G55"), ("b", "G59.1"), ("B", "G59.1")]
)
def test_the_nest_that_is_asked_for_is_selected(asked: str | None, selected: str) -> None:
    """A block writes the offsets of all nests, then selects the named one, else the first."""
    lines = render_block(make_setups(station(**NESTED)), asked).splitlines()
    writes = [line for line in lines if line.startswith("G10")]
    assert [line.split(" X")[0] for line in writes] == ["G10 L2 P2", "G10 L2 P7"]
    assert lines[lines.index(writes[1]) + 1] == selected
    assert lines[-2:] == [selected, lines[-1]]
    fingerprints = {each.nest.name: each.fingerprint for each in make_setups(station(**NESTED))}
    first = (asked or "a").lower()
    assert lines[0] == f"(setup left {first} {fingerprints[first]} from here)"
    assert fingerprints[first] in lines[-1]
    other = "b" if first == "a" else "a"
    assert (
        f"(nest {other} in {NESTED['work_offsets'][other]}, setup {fingerprints[other]})" in lines
    )


@pytest.mark.parametrize(
    ("dialect", "want"),
    [
        ("rs274-turned", [*MODES, "G92.1", "G10 L2 P2 X294.727 Y185.492 R0.1200",
                   "G55"]),
        ("extended", [*MODES, "G69", "G52 X0 Y0 Z0",
                      "G10 L2 P2 X294.727 Y185.492", "G55", "G68 X0 Y0 R0.1200"]),
        ({"rotation": "g68", "cancel": ["G92.1"]},
         [*MODES, "G69", "G92.1", "G10 L2 P2 X294.727 Y185.492", "G55",
          "G68 X0 Y0 R0.1200"]),
    ],
    ids=["word", "g68", "g68 of the shop's own"],
)  # fmt: skip
def test_the_order_of_words(dialect: Any, want: list[str]) -> None:
    """Unit, modes, rotation off, cancel, writes, selection, rotation on: in this order (7)."""
    lines = block_of(station(dialect, bed=TURNED)).splitlines()
    assert [line for line in lines if not line.startswith("(")] == want


OURS = """
format: 1
dialects:
  - name: ours
    work_offsets: [G55, G56, G54.1 P3]
    rotation: r-word
    comment: semicolon
    first: [G17, G80]
    cancel: [G92.2]
    decimals: {mm: 2, deg: 2}
"""


def test_a_dialect_loaded_as_a_document(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A shop's own dialect is what its document says, in its next block and after each change."""
    make_registry(tmp_path / "r.sqlite")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PINCORNER_DB", str(tmp_path / "r.sqlite"))
    machine = f"{BASE[: BASE.index('beds:')]}".replace("dialect: rs274", "dialect: ours")
    turned = BASE[BASE.index("beds:") : BASE.index("pins:")].replace("angle: 0}", "angle: 0.12}")
    (tmp_path / "ours.yaml").write_text(OURS + machine.replace("\nformat: 1\n", "") + turned)
    assert run("load", "ours.yaml").code == 0
    words = [line for line in run("block", "left").out.splitlines() if not line.startswith("; ")]
    assert words == ["G21 G90", "G17 G80", "G92.2", "G10 L2 P2 X294.73 Y185.49 R0.12", "G55"]
    (tmp_path / "again.yaml").write_text(OURS.replace("r-word", "none").replace("mm: 2", "mm: 1"))
    assert run("load", "again.yaml").code == 0
    ran = run("block", "left")
    assert ran.code == 2 and "dialect ours writes no angle" in ran.err
    (tmp_path / "codes.yaml").write_text(OURS.replace("[G55, ", "["))
    assert run("load", "codes.yaml").code == 0
    ran = run("block", "left")
    assert ran.code == 2 and "dialect ours of gantry-1 has no G55" in ran.err


def test_a_code_that_the_dialect_lacks_is_refused_in_every_nest() -> None:
    """One nest whose code the controller does not have keeps the whole block back."""
    two = NESTED | {"work_offsets": {"a": "G55", "b": "G54.1 P2"}}
    with pytest.raises(Refused, match=r"has no G54\.1 P2"):
        render_block(make_setups(station("rs274", **two)))
    assert "G54.1 P2" in render_block(make_setups(station("extended", **two)), "b")
