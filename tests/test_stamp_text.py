"""Stamping as text: where the block goes, which words change, and that every other byte stays."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import Run
from hypothesis import given
from hypothesis import strategies as st
from plans import planned, report_of

from pincorner.program.edit.lines import (
    Edits,
    Numbering,
    numbering_of,
    rotation_off_line,
    stamped,
    with_code,
)
from pincorner.program.source.lexer import acting_text, is_header
from pincorner.program.source.text import ProgramText

BLOCK = ("(setup left a EECF-8F5A from here)", "G21 G90", "G55", "(MM STAYS ACTIVE, setup to here)")


@pytest.mark.parametrize(
    ("line", "changed"),
    [
        ("G54", "G56"),
        ("n10 g54 g0x1", "n10 G56 g0x1"),
        ("G 5 5 X1", "G56 X1"),
        ("G059", "G56"),
        ("G59.", "G56"),
        ("G59.1X0", "G56X0"),
        ("G59 . 3 (G54)", "G56 (G54)"),
        ("G54.1 P12 X3", "G56 X3"),
        ("G54.1 X0 P 3 Y2", "G56 X0 Y2"),
        ("G54.10 P12. X3", "G56 X3"),
        ("G+54 X3", "G56 X3"),
        ("G0 G55 ; G54 is left alone", "G0 G56 ; G54 is left alone"),
    ],
)
def test_selection_is_replaced(line: str, changed: str) -> None:
    """A selection is found however it is written and replaced; the rest of the line stays."""
    assert with_code(line, "G56") == changed


@pytest.mark.parametrize(
    ("copy", "source", "same"),
    [
        ("G55 X1", "G54 X1", True), ("G55X1", "g5 4X1", True), ("G55 X1", "G54.1 P3 X1", True),
        ("G55\nX1", "\ufeffG54\r\nX1\r\n", True), ("G55\nM0 (setup wait)", "G54", True),
        ("G55\nX1\nG69 ; setup rotation off\nM2", "G54\nX1\nM2\n", True),
        ("G55 X[#1+90]", "G54 X[#1+10]", False), ("G55 X#1", "G54 X#2", False),
        ("X1 (setup wait)\nX2", "X2", False), ("G55X1", "X1", False), ("G55\nX2", "G54", False),
        ("G54 (T1: 6)", "G54 (T1: 8)", False), ("G55 P2", "G54 P3", False),
    ],
)  # fmt: skip
def test_a_copy_is_its_source_but_for_codes(copy: str, source: str, same: bool) -> None:
    """What a stamp does not write is compared as text: expressions are no words of a number."""
    texts = [ProgramText(Path("x.nc"), text.encode("utf-8")) for text in (source, copy)]
    assert (numbering_of(*texts) is not None) is same


@pytest.mark.parametrize(
    "line", ["G53 G0 Z0", "G540", "G5", "G5.4", "G55.5", "G59.4", "(G54)", "; G54", "X54", "G154"]
)
def test_other_words_are_no_selection(line: str) -> None:
    """G53, longer numbers and whatever stands in comments select nothing and stay."""
    assert with_code(line, "G56") == line


@pytest.mark.parametrize(
    ("line", "header"),
    [
        ("%\r\n", True),
        ("\n", True),
        ("O0012 (HAND HOLD)\n", True),
        (":12\n", True),
        ("N10\n", True),
        ("(any comment)\n", True),
        ("; another\n", True),
        ("\ufeff(signature)".encode().decode("latin-1"), True),
        ("G21\n", False),
        ("N10 G90\n", False),
        ("T1 M6\n", False),
        ("O100 SUB\n", False),
    ],
)
def test_header(line: str, header: bool) -> None:
    """`%`, comments, O and N words alone are a program's start; whatever acts is not."""
    assert is_header(line) is header


PROGRAM = "%\r\nO12 (HAND HOLD)\r\n(tool 1)\r\nG21 G90\r\nG54\r\nG0 Z40\r\nM30\r\n%\r\n"


def stamp(text: str, **changes: object) -> str:
    """A program with BLOCK stamped in."""
    edits = Edits(BLOCK, None, {5: "G55"})._replace(**changes)  # type: ignore[arg-type]
    return "".join(stamped(text.splitlines(keepends=True), edits))


def test_block_goes_behind_the_start() -> None:
    """Behind %, O number and comments, before the first words, with the file's own line ends."""
    lines = stamp(PROGRAM).split("\r\n")
    assert lines[:3] == ["%", "O12 (HAND HOLD)", "(tool 1)"]
    assert tuple(lines[3:7]) == BLOCK
    assert lines[7:] == ["G21 G90", "G55", "G0 Z40", "M30", "%", ""]


def test_stamping_again_changes_nothing() -> None:
    """An earlier block is replaced where it stands."""
    once = stamp(PROGRAM)
    assert stamp(once, replaces=(4, 7), codes={9: "G55"}) == once


def test_rotation_is_taken_off_once() -> None:
    """With g68 a marked G69 goes before the end; stamping again does not add another."""
    edits = {"rotation_off": rotation_off_line("parens"), "rotation_off_at": 7}
    once = stamp(PROGRAM, **edits)
    assert once.split("\r\n")[-4:-2] == ["G69 (setup rotation off)", "M30"]
    again = stamp(
        once, replaces=(4, 7), codes={9: "G55"}, rotation_off_at=12, rotation_was_off=11,
        rotation_off=edits["rotation_off"],
    )  # fmt: skip
    assert again == once


def test_rotation_is_taken_off_where_no_end_is_written() -> None:
    """Without M2 or M30 the G69 closes the file."""
    text = "G21\nG54\nG1 X1"
    got = stamp(text, codes={2: "G55"}, rotation_off="G69 ; x", rotation_off_at=4)
    assert got.endswith("G1 X1\nG69 ; x\n")


@given(st.lists(st.text(st.characters(max_codepoint=255, exclude_characters="\r\n"), max_size=20)))
def test_every_other_byte_stays(lines: list[str]) -> None:
    """Taking the block out again gives the program back, whatever bytes it holds."""
    text = [line + "\n" for line in lines if not line.strip().startswith("G69")]
    got = list(stamped(text, Edits(BLOCK, None, {})))
    block = [line + "\n" for line in BLOCK]
    at = next(i for i in range(len(got)) if got[i : i + len(block)] == block)
    assert got[:at] + got[at + len(block) :] == text
    assert all(is_header(line) for line in got[:at])


def test_acting_text() -> None:
    """What a controller acts on: comments, blanks and case taken away."""
    assert acting_text("n10 g 1 x1 (X2) y3 ; z4\r\n") == "N10G1X1Y3"


@pytest.mark.parametrize("signature", ["", "\ufeff".encode().decode("latin-1")])
def test_lines_are_known_again_in_the_copy(signature: str) -> None:
    """Each line has its number in the program; one that is put in, that of the next, or the last.
    A stretch of the program is without what is put into it."""
    lines = [f"{signature}%\n", "G21\n", "(old)\n", "G0 Z5\n", "X9\n", "M5"]
    edits = Edits(("(a)", "(b)"), None, {}, 7, "G69", 3, 5, "M0")
    found = Numbering()
    copy = "".join(stamped(lines, edits, found)).splitlines()
    assert copy == [f"{signature}%", "(a)", "(b)", "G21", "G0 Z5", "M0", "X9", "M5", "G69"]
    assert [found.in_program(at) for at in range(1, 10)] == [1, 2, 2, 2, 4, 5, 5, 6, 6]
    assert found.in_copy(1, 5) == [(1, 1), (4, 5), (7, 7)]
    assert found.in_copy(3, 3) == []


@pytest.mark.parametrize(
    ("ends", "is_refused"),
    [(b"\r\r\n", True), (b"\r\n", False), (b"\n", False), (b"\r", False)],
)
def test_line_ends_that_controllers_read_otherwise(
    shop: Path, run: Run, ends: bytes, is_refused: bool
) -> None:
    """Lines that end in CR CR LF keep a copy back: the block would be one line to who ends lines at
    LF. Else the block's lines end as the program's do."""
    program = shop / "hand-hold.nc"
    program.write_bytes(ends.join(program.read_bytes().splitlines()) + ends)
    ran = run("stamp", "hand-hold", "--station", "left", "-o", "s.nc")
    assert ran.code == 2 * is_refused, ran.err
    if is_refused:
        assert "hand-hold.nc: CR CR LF, as of a file" in ran.err and ran.err.count("\n") == 1
        assert not (shop / "s.nc").exists()
        ran = run(
            "repeat", "hand-hold", "--stations", "left,spare", "--retract", "-5", "-o", "r.nc"
        )
        assert ran.code == 2 and "CR CR LF" in ran.err
        ran = run("check", "hand-hold", "--station", "left")
        assert ran.code == 0 and "they end in CR CR LF" in ran.out  # read as two ends each
        program.write_bytes(program.read_bytes().replace(b"\r\r\n", b"\n").replace(b"\n", b"\r", 1))
        ran = run("stamp", "hand-hold", "--station", "left", "-o", "s.nc")
        assert ran.code == 2 and "CR alone in some lines and LF in others" in ran.err
    else:
        data = (shop / "s.nc").read_bytes()
        assert data.count(ends) == len(data.splitlines())


def test_blocks_that_are_one_line_to_some(
    shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A copy of before, its block's lines ending in CR among others that end in LF, is found: check
    tells it, and run has no window of it."""
    program = shop / "hand-hold.nc"
    program.write_bytes(b"\r\r\n".join([*program.read_bytes().splitlines(), b""]))
    stamped_so = ("stamp", "hand-hold", "--station", "left", "-o", "s.nc")
    with monkeypatch.context() as before:
        before.setattr("pincorner.work.programs.stamping.refuse_line_ends", lambda text: None)
        assert run(*stamped_so, "--accept=odd-line-end").code == 0
    [found] = run("check", "s.nc", "--station", "left", "--json").json["findings"]
    assert (found["code"], found["line"]) == ("odd-line-end", 9)
    assert "lines end in CR alone" in found["text"] and "the setup block" in found["text"]
    whys = [each["why"] for each in report_of(planned(shop, "three-sides"))["no_window"]]
    assert any("check of s.nc finds: line 9" in why for why in whys)
