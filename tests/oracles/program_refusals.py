"""What the report's controller refuses on a line that is read all the same; used by tests only.

Sections are NISTIR 6556's. A reader that carries such a line out says that the controller would
stop there. Where the report is silent, a docstring says how it is taken here.
"""

from __future__ import annotations

from collections.abc import Iterator

from oracles.program_state import State, named
from oracles.program_words import COOLANT, Words
from pincorner.program.reader.motions import AXES_OF_PLANE

ARCS = frozenset({"G2", "G3"})
CYCLES = frozenset({"G81", "G82", "G83", "G84", "G85", "G86", "G89"})
_FEEDS = ARCS | CYCLES | {"G1"}
_DWELLING = frozenset({"G82", "G86", "G89"})
_MOST_M_WORDS = 4  # 3.3.5
_MOST_DIGITS = 5  # of a line number, 3.3.1


def each_time(before: State, after: State, words: Words, motion: str) -> bool:
    """Whether a line is refused for a reason that is told at each line.

    `motion`: the code whose motion the line carried out, "" for none.
    """
    return any(
        (
            *_of_words(words),
            *_of_motion_codes(after, words, motion),
            *_of_cycle(before, after, words, motion),
        )
    )


def once(after: State, words: Words, motion: str) -> Iterator[str]:
    """The reasons that are told once per program: "unfed" and "long-number".

    In G94 and G95 a feed must have been stated in that mode (not said outright for a first feed,
    and whether a change of mode asks for a new one is not stated); in G93 each line states its own
    (3.5.19).
    """
    fed = "F" in words.values if after.feed_mode == "G93" else after.fed
    if motion in _FEEDS and not fed:
        yield "unfed"
    if words.number_digits > _MOST_DIGITS:
        yield "long-number"


def _of_words(words: Words) -> Iterator[bool]:
    """Words alone: a dwell's P, H and D without their codes, negative numbers, M words.

    S of a line with a harmless word belongs to that, unless the spindle is started.
    """
    codes, values = words.codes, words.values
    if codes.get("once") == "G4":
        yield values.get("P", -1.0) < 0  # 3.5.4, also where it is missing
    yield "H" in values and codes.get("length") != "G43"  # 3.5.11
    yield "D" in values and codes.get("compensation") not in ("G41", "G42")  # B.5, 12
    speed_is_its_own = not words.harmless or bool({"M3", "M4"} & set(words.m))
    yield any(values.get(letter, 0.0) < 0 for letter in ("DHS" if speed_is_its_own else "DH"))
    yield sum(code in COOLANT for code in words.m) > 1  # 3.3.5, Table 4
    yield words.m_words > _MOST_M_WORDS


def _of_motion_codes(after: State, words: Words, motion: str) -> Iterator[bool]:
    """G0 to G3 without the axis words they need (3.5.1 to 3.5.3)."""
    stated = words.codes.get("motion")
    if stated in ("G0", "G1", *ARCS):
        yield not named(words.values)
    if motion in ARCS and "R" not in words.values:
        in_plane = {"XYZ"[i] for i in AXES_OF_PLANE[after.plane][:2]}
        yield not in_plane & words.values.keys()  # 3.5.3.2


def _of_cycle(before: State, after: State, words: Words, motion: str) -> Iterator[bool]:
    """A cycle in inverse time, or without the P or Q that it needs (3.5.16).

    Whether P and Q carry on from line to line is not stated but for P in C.3: both are taken to, so
    they are missed on a first line only. The P of a line with G4 is the dwell's.
    """
    if motion not in CYCLES:
        return
    first = before.motion != motion
    p = None if words.codes.get("once") == "G4" else words.values.get("P")
    q = words.values.get("Q")
    yield after.feed_mode == "G93"
    if motion in _DWELLING:
        yield first if p is None else p < 0
    if motion == "G83":
        yield first if q is None else q <= 0
