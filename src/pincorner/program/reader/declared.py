"""Stretches that a program's document declares as known: what of their lines still counts.

Who declares one says what its lines do (probing, say), so that nobody need read them: where the
tool is behind them is not known. What their own words state is stated all the same: modes, feeds,
work offsets, shifts, tools and the end are carried out, with nothing of the line besides. A macro
that they call leaves all that as it was; that is what was declared.

A motion word without its axes states no mode by itself, a word with a number that only the
controller knows may state any, and of lines that branch it is not known which are carried out. What
these leave is a doubt, which is over where it is stated again before anything rests on it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import NamedTuple

import numpy as np

from pincorner.program.reader.carrying import Path
from pincorner.program.reader.columns import NO_WORDS, Flags
from pincorner.program.reader.modes import (
    NO_CYCLE,
    OFFSET_CODES,
    OFFSET_OF_P,
    ROTATE,
    SHIFTS,
    WORDS_OF,
    code_of,
    written,
)
from pincorner.program.reader.stretch import Stretch, held
from pincorner.program.source.lexer import (
    BYTES,
    Word,
    acting_text,
    may_be_skipped,
    may_be_words,
    may_call,
    without_comments,
)
from pincorner.program.source.text import ProgramText

Span = tuple[int, int]
"""First and last line."""

ANYTHING = float("nan")
"""The value of a mode that only the controller knows."""

_STATED = frozenset(
    ("units", "plane", "distance", "feed mode", "tool length", "retract", "offset", "motion")
)
_ACTS = frozenset(("cutter compensation", "rotation", "tool change", "stopping"))
_BESIDE = {"tool length": "H", "cutter compensation": "D"}

_IDLE = ("M0", "M1", "M60", "G40")
"""Change nothing of what comes behind, whether they are carried out or not."""

_BRANCHES = re.compile(r"IF|WHILE|GOTO|ELSE|DO[0-9]|END[0-9]|M99|O(?:[0-9]+|<[^>]*>|\[.*\]|#.*)?.*")
_CALLS = re.compile(r"(?:N[0-9]+)?O(?:[0-9]+|<[^>]*>)CALL.*")
_EXPRESSION = re.compile(r"\[[^\[\]]*\]")
_RECKONED = re.compile(r"([FGMT])[-+]?[#\[]")


class Doubt(NamedTuple):
    """What a mode may be behind a stretch: one of some values, which `words` state.

    `group`: of the mode, `feed` for F. `last`: the last line of the stretch.
    """

    group: str
    values: tuple[float | str, ...]
    words: str
    last: int


class Stretched(NamedTuple):
    """Stretches of a program: what is left of their lines, by number; what is in doubt behind
    them; what of them is not followed, with its line."""

    lines: dict[int, bytes]
    spans: tuple[Span, ...]
    doubts: tuple[Doubt, ...]
    told: tuple[tuple[int, str], ...]


NONE = Stretched({}, (), (), ())


def declared_in(text: ProgramText, spans: Sequence[Span], *, skips: bool = False) -> Stretched:
    """What stretches of a program leave. `skips`: without their lines that begin with `/`."""
    if not spans:
        return NONE
    lines, doubts, told = dict[int, bytes](), list[Doubt](), list[tuple[int, str]]()
    for span in spans:
        mine = {
            number: "" if skips and may_be_skipped(line) else line.rstrip("\r\n")
            for number, line in text.numbered(*span)
        }
        said = {number: list(_said(number, line)) for number, line in mine.items()}
        words = [each for some in said.values() for each in some]
        acting = [each for each in words if not each.group]
        if any(map(_branches, mine.values())):
            lines |= dict.fromkeys(mine, b"")
            told += [(each.line, _may(each)) for each in acting if each.words not in _IDLE]
            doubts += _doubts((each for each in words if each.group), span[1])
        else:
            lines |= {number: _kept(line, said[number]) for number, line in mine.items()}
            told += [(each.line, _unknown(each)) for each in acting if each.is_reckoned][-1:]
            last = {each.group: each for each in words if each.group in ("motion", "feed")}
            doubts += _doubts((each for each in last.values() if not each.is_kept), span[1])
    return Stretched(lines, tuple(spans), tuple(doubts), tuple(told))


def _doubts(said: Iterable[_Said], last: int) -> list[Doubt]:
    """What each mode may be behind a stretch that ends at a line, by the words that may count."""
    by_group: dict[str, list[_Said]] = {}
    for each in said:
        by_group.setdefault(each.group, []).append(each)
    return [
        Doubt(
            group,
            tuple(dict.fromkeys(each.value for each in some)),
            " or ".join(dict.fromkeys(each.words for each in some)),
            last,
        )
        for group, some in by_group.items()
    ]


class _Said(NamedTuple):
    """A word that states something: its mode's group, empty for what acts at once; its value.

    `is_kept`: whether the line that is left says it by itself. `whole`: nothing of its line may be
    left out.
    """

    line: int
    group: str
    value: float | str
    words: str
    is_kept: bool = True
    whole: bool = False

    @property
    def is_reckoned(self) -> bool:
        """Whether only the controller knows its value."""
        return self.value != self.value


def _branches(line: str) -> bool:
    acts = acting_text(line)
    return _CALLS.fullmatch(acts) is None and _BRANCHES.search(acts) is not None


def _may(said: _Said) -> str:
    return (
        f"{said.words} in a stretch that is taken as known, and branches: it may be carried out or "
        "not; declare the lines beside it alone"
    )


def _unknown(said: _Said) -> str:
    return (
        f"{said.words} in a stretch that is taken as known: what it states only the controller "
        "knows; write it as a number"
    )


def _said(number: int, line: str) -> Iterator[_Said]:
    """What the words of a line state."""
    words = may_be_words(_plain(line))
    beside = {word.letter: word for word in words}
    for word in words:
        if word.letter in "GM":
            yield from _said_by_code(number, word, beside)
        elif word.letter == "F":
            yield _Said(number, "feed", word.value, f"F{word.value:g}")
        elif word.letter == "T":
            yield _Said(number, "", word.value, f"T{word.value:g}")
    for letter in _RECKONED.findall(acting_text(line)):
        group = "feed" if letter == "F" else ""
        yield _Said(number, group, ANYTHING, f"{letter} with an expression", is_kept=False)


def _said_by_code(number: int, word: Word, beside: dict[str, Word]) -> Iterator[_Said]:
    code = code_of(word.letter, word.value)
    if code is None:
        return
    group, value = WORDS_OF[word.letter].get(code, ("", 0.0))
    text = written(word.letter, code)
    if word.letter == "G" and code in (*SHIFTS, ROTATE):
        yield _Said(number, "", value, text, whole=True)
    elif group == "motion":
        yield _Said(number, group, value, text, is_kept=code == NO_CYCLE)
    elif group == "offset":
        named = beside.get("P") if code == OFFSET_OF_P else None
        text += "" if named is None else f" P{named.value:g}"
        yield _Said(number, group, OFFSET_CODES.get(code, text), text)
    elif group in _STATED or group in _ACTS:
        number_of = beside.get(_BESIDE.get(group, ""))
        text += "" if number_of is None else f" {number_of.letter}{number_of.value:g}"
        yield _Said(number, group if group in _STATED else "", value, text)


def _kept(line: str, said: Sequence[_Said]) -> bytes:
    """What is left of a line that is carried out."""
    if any(each.whole for each in said):
        return without_comments(line).encode(BYTES)
    slash = "/" if may_be_skipped(line) else ""
    return (slash + " ".join(each.words for each in said if each.is_kept)).encode(BYTES)


_MODES = {
    "units": "mm_per_unit", "plane": "plane", "distance": "absolute", "feed mode": "feed_mode",
    "tool length": "lengths", "retract": "retract_to_r", "motion": "motion", "feed": "feed",
}  # fmt: skip
"""The attribute of a state that holds each mode."""


def rests_on(doubt: Doubt, stretch: Stretch, path: Path, first_line: int) -> int | None:
    """The line of a stretch of lines that rests on what is in doubt behind a declared one.

    0 where it is stated again before that, or was in force anyway; None where neither comes up.
    """
    group, behind = doubt.group, doubt.last - first_line
    again = stretch.lines("F" if group == "feed" else group)
    again = again[again > behind]
    rows = np.flatnonzero((stretch.line > behind) & _matters(group, stretch))
    if not rows.size or (again.size and again[0] <= stretch.line[rows[0]]):
        return 0 if again.size else None
    row = int(rows[0])
    in_force: float | str
    if group == "offset":
        in_force = next(code for at, code in reversed(path.codes) if at <= row)
    elif group == "feed":
        fed = stretch.by.get("F", NO_WORDS)
        rows_of = stretch.rows_from(fed.line)
        in_force = float(held(rows_of, fed.value, stretch.state.feed, stretch.count)[row])
    else:
        in_force = float(stretch.mode(group, float(getattr(stretch.state, _MODES[group])))[row])
    same = all(value == in_force for value in doubt.values)
    same &= group != "tool length" or not in_force  # which length, its own H says
    return 0 if same else int(stretch.line[row]) + first_line


def _matters(group: str, stretch: Stretch) -> Flags:
    """At which rows a mode counts."""
    if group in ("feed", "feed mode", "tool length"):
        return np.asarray(stretch.motion != 0)
    if group == "plane":
        return np.asarray(stretch.motion > 1)
    if group == "retract":
        return stretch.is_cycle
    if group == "motion":
        return ~stretch.homing
    return np.ones(stretch.count, np.bool_)


def rests_told(doubt: Doubt) -> str:
    """What is said of a line that rests on what is in doubt."""
    return (
        f"it rests on what a stretch leaves that is taken as known: {doubt.words} may be in force "
        "behind it; state it again there"
    )


def unread_in(text: ProgramText, span: Span, harmless: Collection[str]) -> tuple[str, ...]:
    """Words of a stretch of which the reader knows nothing: macros, calls, a controller's own.

    `harmless`: those that its dialect reads over.
    """
    found: list[str] = []
    for _, line in text.numbered(*span):
        if may_call(line):
            found.append("an O word")
        for word in may_be_words(_plain(line)):
            if word.letter not in WORDS_OF:
                continue
            named = f"{word.letter}{word.value:g}"
            if code_of(word.letter, word.value) not in WORDS_OF[word.letter]:
                found += [] if named in harmless else [named]
    return tuple(dict.fromkeys(found))


def _plain(line: str) -> str:
    """A line without comments and what stands in brackets."""
    plain = without_comments(line)
    while plain != (less := _EXPRESSION.sub(lambda found: "#" * len(found.group()), plain)):
        plain = less
    return plain
