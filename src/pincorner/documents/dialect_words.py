"""The words that a dialect lists: those that its blocks hold, and those that are read over.

Two things that must not be mixed up. Mode words go into a block: they set a mode and move no axis.
Words that are read over stand in programs: the reader passes them by, so they must say nothing that
it follows.
"""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator

from pincorner.documents.fields import shown

MODE_WORDS = (
    r"G17|G18|G19|G2[01]|G40|G49|G50|G61|G61\.1|G64|G69|G80|G9[04]|G9[04]\.1|G91\.1|G92\.1"
    r"|G92\.2|G97|G98"
)
"""Words that set a mode and move no axis (RS274/NGC, Table 4; G50, G69, G97, G98 on controllers
that know them: common practice, no source). A dialect's mode words come from here alone."""

SHIFT_TO_ZERO = r"G52(?: [XYZ]0(?:\.0+)?)+"
"""Takes a shift back (controllers that know G52: common practice, no source)."""

FIRST = ("G40", "G17", "G49", "G80", "G94", "G98")
"""Mode words of a dialect that names none. G43 and G99 outlive M2 and M30 (RS274/NGC, 3.6.1 does
not list them), and a program that was broken off leaves G41 and G93 behind as well."""

_FIRST = re.compile(MODE_WORDS)
_CANCEL = re.compile(rf"{MODE_WORDS}|{SHIFT_TO_ZERO}")


def _mode_word(pattern: re.Pattern[str]) -> BeforeValidator:
    def check(value: Any) -> str:
        text = " ".join(value.upper().split()) if isinstance(value, str) else shown(value)
        if not pattern.fullmatch(text):
            raise ValueError(
                f"expected a word that moves no axis, such as G17 or G92.1, got {text}"
            )
        return text

    return BeforeValidator(check)


FirstWord = Annotated[str, _mode_word(_FIRST)]
CancelWord = Annotated[str, _mode_word(_CANCEL)]

_G_CONCERNS = {
    "motion": (0, 1, 2, 3, 5, 6, 12, 13, 27, 28, 29, 30, 33, 34, 35, 60),
    "dwells": (4,),
    "diameters": (7, 8),
    "offsets": (10, *range(52, 60), 92),
    "polar coordinates": (16,),
    "planes": (17, 18, 19),
    "units": (20, 21, 70, 71),
    "probing": (31, 36, 37, 38),
    "cutter compensation": (39, 40, 41, 42),
    "tool lengths": tuple(range(43, 50)),
    "scaling and mirroring": (51,),
    "calls": (65, 66),
    "rotation": (68, 69),
    "cycles": tuple(range(72, 90)),
    "what numbers count from": (90, 91),
    "the feed mode": (93, 94, 95),
    "the retract of cycles": (98, 99),
}
_M_CONCERNS = {"stops and ends": (0, 1, 2, 30, 60), "tools": (6, 61), "calls": (97, 98, 99)}
_CONCERNS = {
    **{f"G{number}": what for what, numbers in _G_CONCERNS.items() for number in numbers},
    **{f"M{number}": what for what, numbers in _M_CONCERNS.items() for number in numbers},
    "G50.1": "scaling and mirroring",  # its X and Y would be read as a move
}
"""What a word is followed, or refused, for; a word with a tenth goes with its whole number.

RS274/NGC, Tables 4 to 7, for the words that it has. The others are common practice, no source: G5
to G8, G12, G13, G16, G27, G29, G31, G33 to G37, G39, G44 to G48, G50.1, G51, G52, G54.1, G60, G65,
G66, G68 to G79, G90.1, G95, M61, M97 to M99.
"""

_HARMLESS_AFTER_ALL = ("G91.1",)
"""Arc centres counted from the arc's start, which is what the reader takes them for anyway."""

_ONE_WORD = re.compile(r"(?:G([0-9]{1,3})(?:\.([0-9])0*)?|M([0-9]{1,4}))")


def _harmless(value: Any) -> str:
    """One G or M word as it is kept (`G91.1`, `M3`); ValueError for one that is not read over."""
    text = "".join(value.upper().split()) if isinstance(value, str) else ""
    match = _ONE_WORD.fullmatch(text)
    if match is None:
        raise ValueError(f"expected one G or M word, such as G91.1 or M10, got {shown(value)}")
    g, tenth, m = match.groups()
    whole = f"G{int(g)}" if m is None else f"M{int(m)}"
    word = whole if tenth in (None, "0") else f"{whole}.{tenth}"
    concerns = _CONCERNS.get(word) or _CONCERNS.get(whole)
    if concerns is not None and word not in _HARMLESS_AFTER_ALL:
        raise ValueError(f"{word} concerns {concerns} and is never read over; leave it out")
    return word


def _each_once(words: tuple[str, ...]) -> tuple[str, ...]:
    for word in words:
        if words.count(word) > 1:
            raise ValueError(f"{word} stands there twice")
    return words


HarmlessWords = Annotated[
    tuple[Annotated[str, BeforeValidator(_harmless)], ...], AfterValidator(_each_once)
]
"""Words that change nothing a program is read for."""
