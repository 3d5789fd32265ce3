"""The lexers of a program's line, held against each other on odd lines."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pincorner.program.codes import selected_code, with_code
from pincorner.program.comments import UnclosedComment, split
from pincorner.program.leaning import starts_spindle
from pincorner.program.line_words import Line, NotRead, parts_of, words_of_parts
from pincorner.program.lines import BYTES, is_header, values_of, words_of
from pincorner.program.modes import GROUP_OF_G
from pincorner.program.reading import _changes_tools
from pincorner.program.repeating import END_WORD, Body, Section, repeated

PIECES = [
    "M6", "M", "6", "06", ".0", " ", "\t", "(", ")", ";", "%", "/", "!", "T1", "N10", "O7", "G54",
    "G5", "4", "M30", "M2", "M3", "m03", "M4.0", "S900", "x1.5", "(a)", "(M6 is in)", "; M30",
    "(for the M6 insert!)", "(MSG, M3)", "\xa0", "\x0c", "\xdf", "\xb5", "M+6", "M6.", "M 6", "M16",
]  # fmt: skip
LINES = st.lists(st.sampled_from(PIECES), max_size=8).map("".join)


def read(line: str) -> Line | None:
    """The words of a line by the reader's own rules; None where it refuses the line."""
    try:
        return words_of_parts(parts_of(line.encode(BYTES)).parts)
    except NotRead:
        return None


@settings(max_examples=600)
@given(LINES)
@example("(a ; b")
@example("; (a")
@example("(a ; b) M30")
@example("M3(a)0")
@example("(first (second) M30")
@example("X1 ) M30")
def test_comments_are_the_same_everywhere(line: str) -> None:
    """What is left of a line without comments is what the reader splits; odd ones stay in sight."""
    try:
        parts, _ = split(line.encode(BYTES))
    except UnclosedComment:
        assert {"(", ")"} & set(words_of(line))
        assert not is_header(line), "what a controller does with it is not known"
        assert values_of(line) == []
        return
    left = b"".join(parts).translate(None, b" \t").upper().decode(BYTES)
    assert words_of(line) == left


@settings(max_examples=600)
@given(LINES)
def test_words_are_the_same_everywhere(line: str) -> None:
    """Words told by letter and number are those of the reader, wherever it reads the line."""
    strict = read(line)
    if strict is None:
        return
    values = [(letter, value) for letter, value in values_of(line) if letter != "N"]
    groups = {GROUP_OF_G[round(v * 10)]: round(v * 10) for letter, v in values if letter == "G"}
    assert groups == strict.g
    assert [value for letter, value in values if letter == "M"] == strict.m
    assert {k: v for k, v in values if k not in ("G", "M")} == strict.number
    assert starts_spindle([line]) == bool({3, 4} & set(strict.m))
    selected = strict.g.get("offset") == 540
    assert (selected_code(line) == "G54") == selected
    if selected:
        again = read(with_code(line, "G56"))
        assert again is not None and again.g["offset"] == 560
    ends = END_WORD.search(words_of(line)) is not None
    assert not ends or {2, 30} & set(strict.m), "an end that is none"


@settings(max_examples=150)
@given(st.lists(LINES, min_size=1, max_size=4))
@example(["(pocket for the M6 insert!)", "T1"])
@example(["T1 ; M6 comes by hand!", "T1 (M6"])
@example(["M6.0 (a!)"])
@example(["m 06 %"])
def test_a_change_of_tool_is_a_word(
    tmp_path_factory: pytest.TempPathFactory, lines: list[str]
) -> None:
    """Whether a program says M6 is what the reader of its lines says, whatever comments hold."""
    path = tmp_path_factory.getbasetemp() / "changes.nc"
    path.write_bytes("".join(f"{line}\n" for line in lines).encode(BYTES))
    readings = [read(line) for line in lines]
    told = _changes_tools(path)
    if None not in readings:
        assert told == any(6 in line.m for line in readings if line is not None)
    elif any(line is not None and 6 in line.m for line in readings):
        assert told


@pytest.mark.parametrize(
    ("line", "changes"),
    [
        ("(pocket for the M6 insert!)", False),
        ("(M6 100%)", False),
        ("; by hand: M6!", False),
        ("T2 ; M6?", False),
        ("T2 (M6", False),
        ("M(a!)6", False),
        ("T2 M6 (which one?)", True),
        ("T2 m 6", True),
        ("T2 M06 ; !", True),
        ("T2 M6.0", True),
        ("T2 M+6", True),
        ("T2 M6 A90", True),
        ("T2 M6.1", False),
        ("T2 M60", False),
        ("T2 M16", False),
    ],
)
def test_m6_however_it_is_written(tmp_path: Path, line: str, changes: bool) -> None:
    """M6 is a word with the number 6, and no text in a comment."""
    path = tmp_path / "p.nc"
    path.write_bytes(f"G21 G90 (what is it?)\n{line}\nG0 X1\n".encode())
    assert _changes_tools(path) is changes


@pytest.mark.parametrize(
    ("line", "starts"),
    [
        ("M3", True), ("m03 S900", True), ("S900 M3.0", True), ("M 4", True), ("M04", True),
        ("S18000M3M8", True), ("M+3", True),
        ("(M3)", False), ("; M3", False), ("(turn it on: M3", False), ("M30", False),
        ("M34", False), ("M5", False), ("M(a)3", False), ("X3", False),
    ],
)  # fmt: skip
def test_what_starts_the_spindle(line: str, starts: bool) -> None:
    """M3 and M4 turn the spindle on, however they are written (NISTIR 6556, 3.6.2)."""
    assert starts_spindle(["G0 X1\n", line + "\n"]) is starts


def copy_of(text: str, last: int | None = None) -> str:
    """A program repeated in two sections that say nothing but (one) and (two)."""
    lines = text.splitlines(keepends=True)
    body = Body(1, last or len(lines), {}, None)
    sections = [Section((f"({name})",), "", (), (1, body.last)) for name in ("one", "two")]
    return "".join(repeated(lambda: iter(lines), body, [], sections))


@pytest.mark.parametrize(
    ("text", "copy"),
    [
        ("G0 X1\nM30\n", "(one)\nG0 X1\n(two)\nG0 X1\nM30\n"),
        ("G0 X1 M2\n%\n", "(one)\nG0 X1 \n(two)\nG0 X1 \nM2\n%\n"),
        ("G0 X1\n", "(one)\nG0 X1\n(two)\nG0 X1\nM30\n"),
        ("G0 X1", "(one)\nG0 X1\n(two)\nG0 X1\nM30\n"),
    ],
)
def test_a_copy_ends(text: str, copy: str) -> None:
    """The copy ends as its source does, and with M30 where that only stops (NISTIR 6556, 3.1)."""
    assert copy_of(text, 1 if "%" in text else None) == copy


def test_a_first_percent_gets_its_second() -> None:
    """A file that begins with % ends with one, behind the M30 that it did not have (3.1)."""
    lines = ["%\r\n", "G0 X1\r\n"]
    section = Section((), "", (), (2, 2))
    copy = "".join(repeated(lambda: iter(lines), Body(2, 2, {}, None), [], [section]))
    assert copy == "%\r\nG0 X1\r\nM30\r\n%\r\n"


def test_a_signature_stays_in_front_of_a_copy() -> None:
    """A UTF-8 signature is the copy's first bytes, and stands in no section."""
    signature = b"\xef\xbb\xbf".decode(BYTES)
    assert copy_of(f"{signature}G0 X1\nM30\n") == (f"{signature}(one)\nG0 X1\n(two)\nG0 X1\nM30\n")
