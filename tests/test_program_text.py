"""A program's file is read once by each command, and what is copied of it keeps its bytes."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from conftest import Run
from faults.children import Nursery, Work

from pincorner.program.source.text import ProgramText, read_program

TWO_TOOLS = (
    b"%\r\n(two tools \xe9\xff)\r\nG21 G17 G90 G40 G80 G98\r\nG55\r\n"
    b"T1 M6\r\nG43 H1\r\nS18000 M3\r\nG0 Z30\r\nG0 X150 Y120\r\nG1 Z-3 F400\r\nG1 X160 F1500\r\n"
    b"G0 Z30\r\nT2 M6\r\nG43 H2\r\nS12000 M3\r\nG0 X150 Y150 Z30\r\nG1 Z-2 F300\r\nG1 X170\r\n"
    b"G0 Z30\r\nM5\r\nM30\r\n%\r\n"
)
COMMANDS = {
    "check": ("check", "p.nc", "--station", "left"),
    "check drawn": ("check", "p.nc", "--station", "left", "-o", "path.svg"),
    "stamp": ("stamp", "p.nc", "--station", "left", "-o", "out.nc"),
    "stamp again": ("stamp", "p.nc", "--station", "left", "-o", "out.nc"),
    "repeat": ("repeat", "p.nc", "--stations", "left,spare", "--retract", "-5", "-o", "out.nc"),
    "repeat, lines to skip": (
        "repeat", "p.nc", "--stations", "left,spare", "--retract", "-5", "-o", "out.nc",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", COMMANDS)
def test_a_program_is_opened_once(shop: Path, run: Run, nursery: Nursery, case: str) -> None:
    """However often it is read, every command opens the program's file exactly once."""
    program = shop / "p.nc"
    text = TWO_TOOLS.replace(b"T2 M6\r\nG43 H2\r\n", b"/M8\r\n/M9\r\n" if "skip" in case else b"")
    program.write_bytes(text)
    accepted = ("--tool", "1=6mm", "--note", "looked at", "--accept", "hits-pin")
    if case == "stamp again":
        assert run(*COMMANDS["stamp"], *accepted).code == 0
        (shop / "out.nc").replace(program)
    options = ["--tool", "1=6mm"]
    if not case.startswith("check"):
        options = [*accepted, "--accept", "may-be-skipped"]
    line = [*COMMANDS[case], *options]
    child = nursery.one(Work("faults.watched:opened", {"arguments": line}, shop))
    code, files = child.gave
    assert code in (0, 1), child.err
    assert files.count(os.path.realpath(program)) == 1


ODD = (
    b"\xef\xbb\xbf%\r\nO12 (caf\xe9 \xff\x80)\r\n; (b \xc3\xa9 \x0c\r\nG21 G90 (\xa0)\r\n"
    b"G 5 5 ; \xdf\nT1 M6\r\nS9000 M3\rG0 Z30\nG0 X150 Y120 (a) \r\n\t G1 Z-3 F400\r\n\r\n"
    b"G0 Z30\r\nM5 ; \xb5 off\r\nM 30 (end \xfe)\r\n%\r\n(behind)"
)
ACCEPTED = [f"--accept={code}" for code in ("odd-comment", "odd-number", "odd-line-end")]


def test_a_stamp_keeps_every_other_byte(shop: Path, run: Run) -> None:
    """Odd bytes, three kinds of line ends, %, comments: all stay but the selection."""
    (shop / "p.nc").write_bytes(ODD)
    ran = run("stamp", "p.nc", "--station", "spare", "-o", "out.nc", "--tool", "1=6mm",
              *ACCEPTED)  # fmt: skip
    assert ran.code == 0, ran.err
    copy = (shop / "out.nc").read_bytes()
    head, behind = ODD.split(b"G21 G90")
    assert copy.startswith(head + b"(setup spare a ")
    assert copy.endswith((b"G21 G90" + behind).replace(b"G 5 5", b"G59.1"))


def test_a_repeat_keeps_every_other_byte(shop: Path, run: Run) -> None:
    """Each section carries the same bytes with its own selection, without the end."""
    (shop / "p.nc").write_bytes(ODD)
    ran = run("repeat", "p.nc", "--stations", "left,spare", "--retract", "-5", "-o", "out.nc",
              "--tool", "1=6mm", *ACCEPTED)  # fmt: skip
    assert ran.code == 0, ran.err
    copy = (shop / "out.nc").read_bytes()
    head, behind = ODD.split(b"G21 G90")
    body = behind.split(b"M 30 ")[0]
    assert copy.startswith(head + b"(repeat of program p at ")
    for code in (b"G55", b"G59.1"):
        assert (b"G21 G90" + body).replace(b"G 5 5", code) + b"(section " in copy
    assert copy.endswith(b"\r\nM 30\r\n%\r\n(behind)")


def test_nul_is_no_text(shop: Path, run: Run) -> None:
    """A program with a NUL byte is copied by no command."""
    (shop / "p.nc").write_bytes(ODD.replace(b"caf\xe9", b"caf\0"))
    for case in ("check", "stamp", "repeat"):
        ran = run(*COMMANDS[case])
        assert ran.code == 2 and ran.err == "p.nc holds NUL bytes, so it is no program text\n"
    assert not (shop / "out.nc").exists()


def test_lines_are_counted_alike(tmp_path: Path) -> None:
    """The lines that are edited are those that are read, whatever ends them."""
    path = tmp_path / "p.nc"
    path.write_bytes(ODD)
    text = read_program(path)
    lines = list(text.lines())
    assert "".join(lines).encode("latin-1") == ODD
    assert len(lines) == b"".join(text.pieces()).count(b"\n")
    assert list(text.numbered(3, 5)) == list(enumerate(lines, 1))[2:5]
    assert text.line(2) == lines[1] and text.line(99) == ""
    assert (text.line_end, text.first_of_body, text.number_lines) == ("\r\n", 4, ((2, 2),))
    assert ProgramText(path, b"").first_of_body == 1
