"""The G and M words that the reader knows, by modal group (RS274/NGC, Table 4).

A G word is an integer, ten times its number: 591 is G59.1. The report has no G52, G54.1, G68, G69
and G95: they are common practice.
"""

from __future__ import annotations

from pincorner.units import MM_PER_INCH

MOTION, PLANE, DISTANCE, UNITS, OFFSET, RETRACT, NEUTRAL = range(1, 8)
"""Groups that runs of plain lines may hold. NEUTRAL changes nothing that the reader tells."""

NO_MOTION = -1
"""The motion mode before any motion word and behind G80."""

PER_TIME, PER_MINUTE = 93, 94
"""Feed modes: by the time of each line, or by length (3.5.19); G95 counts turns of the spindle."""

NO_CYCLE = 800
CYCLES = (81, 82, 83, 84, 85, 86, 89)
"""Canned cycles that are followed; G87 and G88 need back boring or an operator (3.5.16)."""

FEED_BACK = (84, 85, 89)
"""Cycles that retract at feed rate."""

PROBE, BACK_BORING, MANUAL_BORING = 382, 870, 880

DWELLING = (82, 86, 89)
"""Cycles that want P; G83 wants Q (3.5.16)."""
PECKING = 83

DWELL, WRITE_OFFSET, LOCAL_SHIFT, IN_MACHINE = 40, 100, 520, 530
SET_PLACE, CANCEL_SHIFT, SUSPEND_SHIFT, RESUME_SHIFT = 920, 921, 922, 923
HOMES = (280, 300)
SHIFTS = (WRITE_OFFSET, LOCAL_SHIFT, SET_PLACE, CANCEL_SHIFT, SUSPEND_SHIFT, RESUME_SHIFT)

ROTATE, END_ROTATION = 680, 690
LENGTH_ON = 430

OFFSET_CODES = {
    540: "G54", 550: "G55", 560: "G56", 570: "G57", 580: "G58", 590: "G59",
    591: "G59.1", 592: "G59.2", 593: "G59.3",
}  # fmt: skip
OFFSET_OF_P = 541
"""G54.1: its P word says which."""

CODES_OF_P = dict(enumerate(OFFSET_CODES.values(), 1))
"""The coordinate system that P names on a G10 line (3.5.5)."""

PLAIN_G: dict[int, tuple[int, float]] = {
    **{10 * motion: (MOTION, motion) for motion in (0, 1, 2, 3, *CYCLES)},
    NO_CYCLE: (MOTION, NO_MOTION),
    **{170: (PLANE, 0), 180: (PLANE, 1), 190: (PLANE, 2)},
    **{900: (DISTANCE, True), 910: (DISTANCE, False)},
    **{200: (UNITS, MM_PER_INCH), 210: (UNITS, 1.0)},
    **{980: (RETRACT, False), 990: (RETRACT, True)},
    **{code: (OFFSET, code) for code in OFFSET_CODES},
    **{code: (NEUTRAL, code) for code in (400, 610, 640)},
}
"""G words of plain lines: group, and the value that its mode takes.

Planes index motions.AXES_OF_PLANE; G90 is whether numbers are places; G20 and G21 are mm per unit;
G99 is whether cycles retract to R.
"""

_GROUPS: dict[str, tuple[int, ...]] = {
    "motion": (
        *(10 * motion for motion in (0, 1, 2, 3, *CYCLES)),
        *(NO_CYCLE, PROBE, BACK_BORING, MANUAL_BORING),
    ),
    "plane": (170, 180, 190),
    "distance": (900, 910),
    "feed mode": (930, 940, 950),
    "units": (200, 210),
    "cutter compensation": (400, 410, 420),
    "tool length": (430, 490),
    "retract": (980, 990),
    "offset": (*OFFSET_CODES, OFFSET_OF_P),
    "path": (610, 611, 640),
    "rotation": (ROTATE, END_ROTATION),
    "one line only": (DWELL, *HOMES, IN_MACHINE, *SHIFTS),
}
GROUP_OF_G = {code: group for group, codes in _GROUPS.items() for code in codes}
"""Every G word that is known, with the name of its group: two of a group on a line conflict."""

WITH_OWN_AXES = frozenset((WRITE_OFFSET, *HOMES, LOCAL_SHIFT, SET_PLACE))
"""Take the line's axis words for themselves, so that no motion word may stand beside (3.3.5)."""

PLAIN_M = frozenset((3, 4, 5, 7, 8, 9, 48, 49))
"""M words without effect on what the reader tells."""

COOLANT = "coolant"
"""Mist and flood may both be on (Table 4), so that all of a line's words of this group act."""

GROUP_OF_M = {
    **dict.fromkeys((0, 1, 2, 30, 60), "stopping"),
    6: "tool change",
    **dict.fromkeys((3, 4, 5), "spindle"),
    **dict.fromkeys((7, 8, 9), COOLANT),
    **dict.fromkeys((48, 49), "overrides"),
}
"""M words that are known, with their groups (Table 4)."""


def written_g(code: int) -> str:
    """`G1`, `G59.1`."""
    return f"G{code // 10}" if code % 10 == 0 else f"G{code // 10}.{code % 10}"
