"""The G and M words that the reader knows, by modal group (RS274/NGC, Table 4).

A G word is an integer, ten times its number: 591 is G59.1. The report has no G52, G54.1, G68, G69
and G95: they are common practice.
"""

from __future__ import annotations

from pincorner.units import MM_PER_INCH

NO_MOTION = -1
"""The motion mode before any motion word and behind G80."""

PER_TIME, PER_MINUTE = 93, 94
"""Feed modes: by the time of each line, or by length (3.5.19); G95 counts turns of the spindle."""

NO_CYCLE = 800
CYCLES = (81, 82, 83, 84, 85, 86, 89)
"""Canned cycles that are followed; G87 and G88 need back boring or an operator (3.5.16)."""

FEED_BACK = (84, 85, 89)
"""Cycles that retract at feed rate."""

DWELLING = (82, 86, 89)
"""Cycles that want P; G83 wants Q (3.5.16)."""
PECKING = 83

PROBE, BACK_BORING, MANUAL_BORING = 382, 870, 880
NOT_FOLLOWED = (PROBE, BACK_BORING, MANUAL_BORING)

DWELL, WRITE_OFFSET, LOCAL_SHIFT, IN_MACHINE = 40, 100, 520, 530
SET_PLACE, CANCEL_SHIFT, SUSPEND_SHIFT, RESUME_SHIFT = 920, 921, 922, 923
HOMES = (280, 300)
SHIFTS = (WRITE_OFFSET, LOCAL_SHIFT, SET_PLACE, CANCEL_SHIFT, SUSPEND_SHIFT, RESUME_SHIFT)
OWN_AXES = (WRITE_OFFSET, *HOMES, LOCAL_SHIFT, SET_PLACE)
"""Take the line's axis words for themselves, so that no motion word may stand beside (3.3.5)."""

ROTATE, END_ROTATION = 680, 690
COMPENSATION_OFF = 400

OFFSET_CODES = {
    540: "G54", 550: "G55", 560: "G56", 570: "G57", 580: "G58", 590: "G59",
    591: "G59.1", 592: "G59.2", 593: "G59.3",
}  # fmt: skip
OFFSET_OF_P = 541
"""G54.1: its P word says which."""

CODES_OF_P = dict(enumerate(OFFSET_CODES.values(), 1))
"""The coordinate system that P names on a G10 line (3.5.5)."""

_STATED: dict[str, dict[int, float]] = {
    "motion": {
        **{10 * motion: motion for motion in (0, 1, 2, 3, *CYCLES)},
        **{code: code / 10 for code in NOT_FOLLOWED},
        NO_CYCLE: NO_MOTION,
    },
    "plane": {170: 0, 180: 1, 190: 2},
    "distance": {900: True, 910: False},
    "feed mode": {930: 93, 940: 94, 950: 95},
    "units": {200: MM_PER_INCH, 210: 1.0},
    "tool length": {430: True, 490: False},
    "retract": {980: False, 990: True},
}
"""What modes say in numbers: planes index motions.AXES_OF_PLANE, G90 is whether numbers are
places, G20 and G21 are mm per unit, G43 is whether a length is applied, G99 is whether cycles
retract to R."""

_CODES: dict[str, tuple[int, ...]] = {
    "cutter compensation": (COMPENSATION_OFF, 410, 420),
    "offset": (*OFFSET_CODES, OFFSET_OF_P),
    "path": (610, 611, 640),
    "rotation": (ROTATE, END_ROTATION),
    "one line only": (DWELL, *HOMES, IN_MACHINE, *SHIFTS),
}

G_WORDS: dict[int, tuple[str, float]] = {
    **{code: (group, value) for group, words in _STATED.items() for code, value in words.items()},
    **{code: (group, code) for group, codes in _CODES.items() for code in codes},
}
"""Every G word that is known: its group, of which a line may have one, and the mode's value."""

GROUP_OF_G = {code: group for code, (group, _) in G_WORDS.items()}

COOLANT = ("M7", "M8", "M9")
"""Mist and flood may both be on (Table 4), so that all of a line's words of this group act."""

SPINDLE = (3, 4, 5)
STOPPING, TOOL_CHANGE, ENDING = (0, 1, 60), 6, (2, 30)

M_WORDS: dict[int, tuple[str, float]] = {
    **{code: ("stopping", code) for code in (*STOPPING, *ENDING)},
    TOOL_CHANGE: ("tool change", TOOL_CHANGE),
    **{code: ("spindle", code) for code in SPINDLE},
    **{int(name[1:]): (name, int(name[1:])) for name in COOLANT},
    **{code: ("overrides", code) for code in (48, 49)},
}
"""M words that are known, with their groups (Table 4); one of a group on a line, once."""


WORDS_OF = {"G": G_WORDS, "M": M_WORDS}


def code_of(letter: str, value: float) -> int | None:
    """The number by which WORDS_OF may know a G or M word, G in tenths; None for one between."""
    scale = 10 if letter == "G" else 1
    code = round(value * scale)
    return code if code / scale == value else None


def written(letter: str, code: int) -> str:
    """Such a word as programs have it."""
    return written_g(code) if letter == "G" else f"M{code}"


def written_g(code: int) -> str:
    """`G1`, `G59.1`."""
    return f"G{code // 10}" if code % 10 == 0 else f"G{code // 10}.{code % 10}"
