"""Which lines are not carried out, and which a controller by the standard refuses (RS274/NGC).

Each rule stands once, with the words that tell of it: it takes a stretch and gives lines. A line
that breaks several of the first kind is told by the first of them, in the order of this page, and
does nothing else; the second kind is carried out as it is read here, since some controllers go on.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from pincorner.program.reader.arcs import THIRD_AXIS
from pincorner.program.reader.columns import NO_WORDS, Flags
from pincorner.program.reader.cycles import MOST_REPEATS
from pincorner.program.reader.modes import (
    CODES_OF_P,
    COMPENSATION_OFF,
    COOLANT,
    CYCLES,
    DWELL,
    DWELLING,
    HOMES,
    IN_MACHINE,
    NO_CYCLE,
    NO_MOTION,
    OFFSET_OF_P,
    OWN_AXES,
    PECKING,
    PER_TIME,
    SET_PLACE,
    SPINDLE,
    WRITE_OFFSET,
    written_g,
)
from pincorner.program.reader.motions import AXES_OF_PLANE, Ints
from pincorner.program.reader.stretch import Stretch, held

MOST_OF_P = 1000
"""Work offsets of G54.1 beyond any controller."""

MOST_M = 4
"""M words on a line (3.3.5)."""

STOPS = "a controller by the standard stops here"

_LARGEST_TOOL = 10**9
_AXES = "XYZ"
_USED_BY_OTHERS = "IJKRPQL"

Text = Callable[[int], str]


class Broken(NamedTuple):
    """Lines that break a rule, rising, and what is said of one of them."""

    lines: Ints
    text: Text | str

    def told(self, line: int) -> str:
        """What is said of a line."""
        return self.text if isinstance(self.text, str) else self.text(line)


def refused(stretch: Stretch) -> tuple[dict[int, str], int | None]:
    """Lines that are not carried out, with the reasons; or one that others behind it rest on.

    Lines that break a rule by their own words are found first, together; then those that break one
    under the modes in force, up to the first of them that states a mode itself: what stands behind
    it is to be judged without that. Arcs that cannot be are not among them; where there are arcs,
    each may be one, so that lines are found singly.
    """
    found = _reasons(_cannot_be_read(stretch))
    if found:
        return {line: rule.told(line) for line, rule in found.items()}, None
    found = _reasons(_cannot_be_followed(stretch))
    if not found:
        return {}, None
    lines = np.array(sorted(found))
    passing = "IJKPQL/" if stretch.drills else "IJKPQL/RXYZ"
    stating = stretch.flags(*(stretch.lines(key) for key in stretch.by if key not in passing))
    states = stretch.has(stating, lines)
    free = lines[: states.argmax()] if states.any() else lines
    free = free[:0] if stretch.turns else free
    told = {line: found[line].told(line) for line in free.tolist()}
    return told, None if len(free) else int(lines[0])


def _reasons(rules: Iterator[Broken]) -> dict[int, Broken]:
    """The first rule that each line breaks."""
    found: dict[int, Broken] = {}
    for rule in rules:
        for line in rule.lines.tolist():
            found.setdefault(line, rule)
    return found


def told_of(stretch: Stretch, line: int) -> str:
    """What is said of a line that breaks a rule under the modes in force."""
    return next(rule.told(line) for rule in _cannot_be_followed(stretch) if line in rule.lines)


def _cannot_be_read(stretch: Stretch) -> Iterator[Broken]:
    """Lines that break a rule by their own words."""
    by = stretch.by
    if "F" in by:
        yield Broken(by["F"].line[by["F"].value < 0], "F is negative")
    if "offset" in by:
        lines = stretch.lines_of("offset", OFFSET_OF_P)
        yield from _not_whole(stretch, "P", lines, 1, MOST_OF_P)
    yield from _not_whole(stretch, "T", stretch.lines("T"), 0, _LARGEST_TOOL)
    if "motion" in by:
        yield from _by_motion_word(stretch)
    if len(stretch.once.line):
        yield from _by_once(stretch)


def _cannot_be_followed(stretch: Stretch) -> Iterator[Broken]:
    """Lines that break a rule under the modes in force."""
    if len(stretch.once.line):
        yield from _in_machine(stretch)
    if not stretch.all_move:
        lines = stretch.line[stretch.motion == NO_MOTION]
        yield Broken(lines, "no motion word is in force for its axis words")
    if stretch.drills:
        yield from _cycles_not_read(stretch)
    if stretch.turns:
        yield from _arcs_not_read(stretch)
    yield from _loose(stretch)


def _not_whole(
    stretch: Stretch, letter: str, lines: Ints, least: int, most: int
) -> Iterator[Broken]:
    if not lines.size:
        return
    number = stretch.numbers(letter, lines)
    fits = (np.floor(number) == number) & (number >= least) & (number <= most)

    def text(line: int) -> str:
        value = stretch.number(letter, line)
        stated = "is missing" if math.isnan(value) else f"{value:g} is not one"
        return f"{letter} must be a whole number from {least} to {most}: it {stated}"

    yield Broken(lines[~fits], text)


def _written_motion(stretch: Stretch) -> Text:
    return lambda line: written_g(_code(stretch.number("motion", line)))


def _code(motion: float) -> int:
    return NO_CYCLE if motion == NO_MOTION else round(motion * 10)


def _by_motion_word(stretch: Stretch) -> Iterator[Broken]:
    written = _written_motion(stretch)
    line, motion = stretch.by["motion"]
    if motion.max() <= 3:
        return
    followed = np.isin(motion, CYCLES)
    yield Broken(line[(motion > 3) & ~followed], lambda at: f"{written(at)} is not followed")
    bare = line[followed & ~stretch.has(stretch.has_axes, line)]
    yield Broken(bare, lambda at: f"{written(at)} without X, Y or Z")


def _by_once(stretch: Stretch) -> Iterator[Broken]:
    """What goes with words that act on one line only (3.5)."""
    line, code = stretch.once
    axes = stretch.has(stretch.has_axes, line)
    dwell = code == DWELL
    without_p = np.isnan(stretch.numbers("P", line))
    text = "G4 without P, but with axis words, of which one may be the time to wait"
    yield Broken(line[dwell & axes & without_p], text)
    by_p = stretch.numbers("offset", line) == OFFSET_OF_P
    yield Broken(line[dwell & by_p], "G4 and G54.1 both want P")
    word, written = stretch.numbers("motion", line), _written_motion(stretch)
    moves = ~np.isnan(word) & (word != NO_MOTION)
    yield Broken(
        line[np.isin(code, OWN_AXES) & axes & moves],
        lambda at: (
            f"{written(at)} and {written_g(int(stretch.number('one line only', at)))} both want"
            " the axis words"
        ),
    )
    yield from _offsets_not_written(stretch, line[code == WRITE_OFFSET])
    yield Broken(line[(code == SET_PLACE) & ~axes], "G92 without X, Y or Z")
    yield Broken(line[(code == IN_MACHINE) & ~axes], "G53 without X, Y or Z")


def _in_machine(stretch: Stretch) -> Iterator[Broken]:
    """G53 goes straight, by places (3.5.12)."""
    machine = stretch.lines_of("one line only", IN_MACHINE)
    motion = stretch.at_lines("motion", stretch.state.motion, machine)
    yield Broken(machine[(motion != 0) & (motion != 1)], "G53 needs G0 or G1")
    places = stretch.at_lines("distance", stretch.state.absolute, machine) != 0
    yield Broken(machine[~places], "G53 is refused under G91")


def _offsets_not_written(stretch: Stretch, lines: Ints) -> Iterator[Broken]:
    """G10 takes L2 or L20, and P (3.5.5; L20 is common practice)."""
    yield from _not_whole(stretch, "L", lines, 1, 20)
    form = stretch.numbers("L", lines)
    known = (form == 2) | (form == 20)
    yield Broken(lines[~known], lambda line: f"G10 L{stretch.number('L', line):g} is not known")
    yield from _not_whole(stretch, "P", lines[form == 2], 0, len(CODES_OF_P))
    yield from _not_whole(stretch, "P", lines[form == 20], 0, MOST_OF_P)


def _cycles_not_read(stretch: Stretch) -> Iterator[Broken]:
    """R and Z are sticky while the same cycle is in force, numbers as they were said (3.5.16)."""
    rows, lines = np.flatnonzero(stretch.is_cycle), stretch.line[stretch.is_cycle]
    plane = stretch.plane[rows]
    turned = plane != np.concatenate(([stretch.state.cycle_plane], plane[:-1]))
    begins = np.union1d(stretch.begins(stretch.is_cycle), lines[turned])
    bare = begins[np.isnan(stretch.numbers("R", begins))]
    yield Broken(bare, _begins_without(stretch, "R"))
    third = stretch.third[rows[lines.searchsorted(begins)]]
    for axis, letter in enumerate(_AXES):
        mine = begins[third == axis]
        bare = mine[np.isnan(stretch.numbers(letter, mine))]
        yield Broken(bare, _begins_without(stretch, letter))
    if "L" in stretch.by:
        with_l = stretch.lines("L")
        with_l = with_l[stretch.at_rows(stretch.is_cycle, with_l)]
        repeats = stretch.numbers("L", with_l)
        fits = (np.floor(repeats) == repeats) & (repeats >= 1) & (repeats <= MOST_REPEATS)
        yield Broken(
            with_l[~fits],
            lambda line: (
                f"L{stretch.number('L', line):g} is no number of repeats from 1 to {MOST_REPEATS}"
            ),
        )
    r = held(*stretch.r_words, stretch.state.cycle_r, stretch.count)
    z = held(*stretch.depth_words, stretch.state.cycle_z, stretch.count)
    below = np.where(stretch.absolute, r < z, z > 0)[rows]
    yield Broken(lines[below], lambda line: f"R lies below {_depth(stretch, line)}")


def _depth(stretch: Stretch, line: int) -> str:
    return _AXES[int(stretch.third[stretch.line.searchsorted(line)])]


def _begins_without(stretch: Stretch, letter: str) -> Text:
    return lambda line: f"{_cycle(stretch, line)} begins without {letter}"


def _arcs_not_read(stretch: Stretch) -> Iterator[Broken]:
    """By R, or by the centre in the plane (3.5.3)."""
    lines = stretch.line[stretch.is_arc]
    plane = stretch.plane[stretch.is_arc]
    by_centre = np.zeros(len(lines), np.bool_)
    for axis, letter in enumerate("IJK"):
        if letter in stretch.by:
            stated = stretch.has(stretch.flags(stretch.lines(letter)), lines)
            third = THIRD_AXIS[plane]
            text = f"{letter} has no place in this plane's arcs"
            yield Broken(lines[stated & (third == axis)], text)
            by_centre |= stated
    by_radius = stretch.has(stretch.flags(stretch.lines("R")), lines)
    yield Broken(lines[by_centre == by_radius], "an arc needs either R or its centre by I, J, K")
    named = in_plane_named(stretch, lines, plane)
    yield Broken(lines[~by_centre & ~named], "an arc by R that ends where it starts")


def in_plane_named(stretch: Stretch, lines: Ints, plane: Ints) -> Flags:
    """Lines with a word of an axis of their plane."""
    found = np.zeros(len(lines), np.bool_)
    third = THIRD_AXIS[plane]
    for axis, letter in enumerate(_AXES):
        if letter in stretch.by:
            found |= stretch.has(stretch.flags(stretch.lines(letter)), lines) & (third != axis)
    return found


def _loose(stretch: Stretch) -> Iterator[Broken]:
    """Words that belong to no other word of their line (3.5 names their users)."""
    for letter in [each for each in _USED_BY_OTHERS if each in stretch.by]:
        lines = stretch.lines(letter)
        used = stretch.at_rows(_rows_using(stretch, letter), lines)
        if not used.all():
            used |= stretch.has(stretch.flags(*_lines_using(stretch, letter)), lines)
            yield Broken(lines[~used], _belongs_to_nothing(stretch, letter))


def _rows_using(stretch: Stretch, letter: str) -> Flags:
    if letter in "IJK":
        return stretch.is_arc
    return stretch.is_arc | stretch.is_cycle if letter == "R" else stretch.is_cycle


def _lines_using(stretch: Stretch, letter: str) -> Iterator[Ints]:
    if letter in "RPL":
        yield stretch.lines_of("one line only", WRITE_OFFSET)
    if letter in "PQ":
        yield stretch.lines("path")
    if letter in "RPQ":
        yield stretch.lines("over")
    if letter == "P":
        yield stretch.lines_of("one line only", DWELL)
        yield stretch.lines_of("offset", OFFSET_OF_P)


def _belongs_to_nothing(stretch: Stretch, letter: str) -> Text:
    return lambda line: f"{letter}{stretch.number(letter, line):g} belongs to nothing on its line"


def would_stop(stretch: Stretch) -> Iterator[Broken]:
    """Lines that are carried out, and at which a controller by the standard stops.

    A cut without a feed, and long line numbers, are the reader's to tell: once.
    """
    yield from _by_letters(stretch)
    yield from _by_dwell(stretch)
    if stretch.count < stretch.stop - stretch.first or len(stretch.once.line):
        line, motion = stretch.by.get("motion", NO_WORDS)
        moves = stretch.has(stretch.has_row, line)
        moves &= ~np.isin(line, stretch.lines_of("one line only", *HOMES))
        bare = line[~moves & (motion >= 0) & (motion <= 3)]
        yield Broken(bare, lambda line: f"{_written_motion(stretch)(line)} without X, Y or Z")
    if stretch.turns:
        lines, plane = stretch.line[stretch.is_arc], stretch.plane[stretch.is_arc]
        yield Broken(lines[~in_plane_named(stretch, lines, plane)], _full_turn(stretch))
    if stretch.drills:
        yield from _cycles_that_stop(stretch)


def _full_turn(stretch: Stretch) -> Text:
    def text(line: int) -> str:
        plane = int(stretch.at_lines("plane", stretch.state.plane, np.array([line]))[0])
        first, second = sorted(AXES_OF_PLANE[plane][:2])
        return f"an arc without {_AXES[first]} or {_AXES[second]}, read as a full turn"  # 3.5.3.2

    return text


def _by_letters(stretch: Stretch) -> Iterator[Broken]:
    """Words that want another beside them, too many M words, numbers below zero (3.3.5, D.8.2)."""
    by, lines = stretch.by, stretch.lines
    if "H" in by:
        with_length = stretch.lines_of("tool length", True)
        yield Broken(np.setdiff1d(lines("H"), with_length), "H without G43")
    if "D" in by:
        off = stretch.lines_of("cutter compensation", COMPENSATION_OFF)
        on = np.setdiff1d(lines("cutter compensation"), off)
        yield Broken(np.setdiff1d(lines("D"), on), "D without G41 or G42")
    for letter in "SDH":
        if letter in by:
            below = by[letter].line[by[letter].value < 0]
            if letter == "S" and below.size:
                foreign = np.setdiff1d(lines("over"), stretch.lines_of("spindle", *SPINDLE))
                below = np.setdiff1d(below, foreign)
            yield Broken(below, f"{letter} is negative")
    words = [lines(key) for key in COOLANT if key in by]
    if len(words) > 1:
        yield Broken(_often(words, 1), "two of M7, M8 and M9")
    yield _too_many_m(stretch, words)


def _too_many_m(stretch: Stretch, coolant: list[Ints]) -> Broken:
    keys = ("stopping", "tool change", "spindle", "overrides")
    words = [*coolant, *(stretch.lines(key) for key in keys if key in stretch.by)]
    if "over" in stretch.by:
        line, count = stretch.by["over"]
        words.append(np.repeat(line, count.astype(np.int64)))
    if sum(map(len, words)) <= MOST_M:
        return Broken(stretch.line[:0], "")
    return Broken(_often(words, MOST_M), f"more than {MOST_M} M words")


def _often(words: list[Ints], most: int) -> Ints:
    """Lines that stand there more than `most` times."""
    line, count = np.unique(np.concatenate(words), return_counts=True)
    return line[count > most]


def _by_dwell(stretch: Stretch) -> Iterator[Broken]:
    """G4 takes P, which is not negative (3.5.4)."""
    lines = stretch.lines_of("one line only", DWELL)
    if lines.size:
        waits = stretch.numbers("P", lines)
        yield Broken(lines[np.isnan(waits)], "G4 without P")
        yield Broken(lines[waits < 0], "G4 with a negative P")


def _cycles_that_stop(stretch: Stretch) -> Iterator[Broken]:
    """Cycles want per-minute feed, and some P or Q (3.5.16)."""
    if PER_TIME in (stretch.state.feed_mode, *stretch.by.get("feed mode", NO_WORDS).value):
        by_time = stretch.mode("feed mode", stretch.state.feed_mode) == PER_TIME
        lines = stretch.line[by_time & stretch.is_cycle]
        yield Broken(lines, lambda line: f"{_cycle(stretch, line)} under G93")
    dwells = stretch.lines_of("one line only", DWELL)
    for letter, cycles in (("P", DWELLING), ("Q", (PECKING,))):
        wanting = np.isin(stretch.motion, cycles)
        begins = stretch.begins(wanting)
        bare = np.isnan(stretch.numbers(letter, begins))
        if letter == "P":
            bare |= np.isin(begins, dwells)
        yield Broken(begins[bare], _without(stretch, letter))
        if letter in stretch.by:
            line, value = stretch.by[letter]
            mine = stretch.at_rows(wanting, line)
            if letter == "P":
                below = line[mine & (value < 0) & ~np.isin(line, dwells)]
                yield Broken(below, lambda line: f"{_cycle(stretch, line)} with a negative P")
            else:
                yield Broken(line[mine & (value <= 0)], "G83 with Q that is not positive")


def _cycle(stretch: Stretch, line: int) -> str:
    motion = stretch.at_lines("motion", stretch.state.motion, np.array([line]))
    return f"G{motion[0]:g}"


def _without(stretch: Stretch, letter: str) -> Text:
    return lambda line: f"{_cycle(stretch, line)} without {letter}"
