"""The lexer of a program's line against both halves of the reader, and what it is asked."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from thinning import thinned

from pincorner.program.edit.leaning import starts_spindle
from pincorner.program.edit.lines import Body, Section, repeated, with_code
from pincorner.program.reader.columns import words_in
from pincorner.program.reader.lines import line_of
from pincorner.program.reader.modes import G_WORDS, M_WORDS
from pincorner.program.source.comments import UnclosedComment, split
from pincorner.program.source.lexer import (
    BYTES,
    SIGNATURE,
    Word,
    acting_text,
    end_word,
    is_header,
    may_be_words,
    values_of,
    words_of,
)
from pincorner.program.source.text import ProgramText, read_program

PIECES = [
    "M6", "M", "6", "06", ".0", " ", "\t", "(", ")", ";", "%", "/", "!", "T1", "N10", "O7", "G54",
    "G5", "4", "M30", "M2", "M3", "m03", "M4.0", "S900", "x1.5", "(a)", "(M6 is in)", "; M30",
    "(for the M6 insert!)", "(MSG, M3)", "\xa0", "\x0c", "\xdf", "\xb5", "M+6", "M6.", "M 6", "M16",
]  # fmt: skip
LINES = st.lists(st.sampled_from(PIECES), max_size=8).map("".join)


def read(line: str) -> dict[str, float] | None:
    """The words of a line by the reader's own rules; None where it refuses the line."""
    found = line_of(line.encode(BYTES))
    return None if found.refused else {k: v for k, v in found.words if k != "/"}


def by_group(word: Word) -> tuple[str, float]:
    """A word as the reader has it: G and M words by their modal group."""
    if word.letter == "G":
        return G_WORDS[round(10 * word.value)]
    return M_WORDS[int(word.value)] if word.letter == "M" else (word.letter, word.value)


@settings(max_examples=thinned(600), deadline=None)
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
        assert {"(", ")"} & set(acting_text(line))
        assert not is_header(line), "what a controller does with it is not known"
        assert words_of(line) == [] == values_of(line)
        return
    left = b"".join(parts).translate(None, b" \t").upper().decode(BYTES)
    assert acting_text(line) == left


@settings(max_examples=thinned(600), deadline=None)
@given(LINES)
def test_words_are_the_same_everywhere(line: str) -> None:
    """Words told by letter and number are those of the reader, wherever it reads the line."""
    strict = read(line)
    if strict is None:
        return
    assert dict(by_group(word) for word in words_of(line) if word.letter != "N") == strict
    assert starts_spindle([line]) == (strict.get("spindle") in (3, 4))
    if strict.get("offset") == 540:
        assert read(with_code(line, "G56")) == {**strict, "offset": 560}
    else:
        assert with_code(line, "G56") == line
    assert (end_word(words_of(line)) is not None) == (strict.get("stopping") in (2, 30))


@settings(max_examples=thinned(600), deadline=None)
@given(LINES)
@example("g 0 . 5X+ 1 (a) M 3 0")
@example("M(a)30")
def test_words_stand_at_their_places(line: str) -> None:
    """The text at a word's place is its letter and number, and nothing else."""
    words, at = words_of(line), 0
    for word in words:
        assert at <= word.start < word.end
        at = word.end
        text = line[word.start : word.end]
        assert text[0].upper() == word.letter and not text[-1].isspace()
        assert float(text[1:].replace(" ", "").replace("\t", "")) == word.value
        assert [(found.letter, found.value) for found in words_of(text)] == [word[:2]]
    stating = [word[:2] for word in words if word.letter in "DFGHMPQST"]
    assert values_of(line) == stating
    assert {word[:2] for word in words if "(" not in line} <= {w[:2] for w in may_be_words(line)}


ODD = st.sampled_from(
    ["", " ", "\t", "  ", "(a)", "(M6 X9)", " ; G1 X5", "/", "%", "\xa0", "(", "!"]
)
NUMBERS = st.sampled_from(
    ["1", "01", "-2.5", "+.5", "3.", "1 0", "- 4", "", "1.2.3", "5" * 9, "54"]
)
PLAIN_WORDS = st.tuples(st.sampled_from("GXYZIJKRFNSMPQgxT"), ODD, NUMBERS, ODD).map("".join)


@settings(max_examples=thinned(600), deadline=None)
@given(st.lists(st.lists(PLAIN_WORDS, max_size=5).map("".join), min_size=1, max_size=4))
@example(["G1 X1 Y2", "N10 M3 S900", "G54 (a) F100 ; b", "/X1", "%", "G90 G17 X.5"])
def test_columns_have_the_same_words(lines: list[str]) -> None:
    """Columns hold of each line the words that it has alone, and that the lexer finds there."""
    words = words_in("".join(f"{line}\n" for line in lines).encode(BYTES))
    told: list[list[tuple[str, float]]] = [[] for _ in lines]
    for key, column in words.by.items():
        for at, value in zip(column.line.tolist(), column.value.tolist(), strict=True):
            told[at].append((key, value))
    for at, (line, found) in enumerate(zip(lines, told, strict=True)):
        alone = line_of(line.encode(BYTES))
        assert sorted(found) == sorted(alone.words), line
        assert words.refused.get(at, "") == alone.refused
        assert (at in words.odd_numbers, at in words.odd_comments, at in words.long_numbers) == (
            alone.odd_number, alone.odd_comment, alone.long_number,
        )  # fmt: skip
        if not alone.refused and not alone.is_percent:
            own = [by_group(word) for word in words_of(line) if word.letter != "N"]
            assert sorted(own) == sorted(word for word in found if word[0] != "/"), line


@pytest.mark.parametrize(
    ("line", "may_end"),
    [
        ("M30", True), ("M(a)30", True), ("X1 (M30", True), ("M 3 0. A5", True), ("M2.0", True),
        ("(M30)", False), ("; M30", False), ("M300", False), ("M30.5", False), ("M3 X0", False),
    ],
)  # fmt: skip
def test_what_may_end_a_program(line: str, may_end: bool) -> None:
    """An end counts that some controller may see (common practice, no source)."""
    assert (end_word(may_be_words(line)) is not None) == may_end


def test_blanks_without_end_are_read_soon() -> None:
    """A long line of blanks and points takes a time that grows with its length alone."""
    line = "".join(f"{letter}{' ' * 40_000}" for letter in ("X", "+", ".", "G-", "M0")) + "Y1"
    assert [word[:2] for word in words_of(line)] == [("M", 0.0), ("Y", 1.0)]


@settings(max_examples=thinned(150), deadline=None)
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
    told = read_program(path).changes_tools
    if None not in readings:
        assert told == any("tool change" in line for line in readings if line is not None)
    elif any(line is not None and "tool change" in line for line in readings):
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
    assert read_program(path).changes_tools is changes


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
    program = ProgramText(Path("p.nc"), text.encode(BYTES))
    body = Body(1, last or len(list(program.lines())), {}, None)
    sections = [Section((f"({name})",), "", (), (1, body.last)) for name in ("one", "two")]
    return "".join(repeated(program, body, [], sections))


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
    program = ProgramText(Path("p.nc"), b"%\r\nG0 X1\r\n")
    section = Section((), "", (), (2, 2))
    copy = "".join(repeated(program, Body(2, 2, {}, None), [], [section]))
    assert copy == "%\r\nG0 X1\r\nM30\r\n%\r\n"


def test_a_signature_stays_in_front_of_a_copy() -> None:
    """A UTF-8 signature is the copy's first bytes, and stands in no section."""
    assert copy_of(f"{SIGNATURE}G0 X1\nM30\n") == (f"{SIGNATURE}(one)\nG0 X1\n(two)\nG0 X1\nM30\n")
