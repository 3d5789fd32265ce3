"""What may stand together on one line: Tables 3 to 7 of NISTIR 6556 and its error lists.

Written from the report alone, used by tests only. Rules that are not in references/rs274ngc.yaml
are marked "from memory"; the extensions are common practice, from memory, as the guide has them.
"""

from oracles.block_words import AXES, Fault, Line, whole

EXTENSIONS = frozenset(
    {  # all of them common practice, from memory; the guide's page `controllers` says what for
        "r-word",  # R on G10 L2 turns a system about its origin, degrees counter-clockwise
        "g68",  # G68 X Y R turns program coordinates about a point of them, G69 ends it
        "g54.1",  # G54.1 P1..P48 select, G10 L20 P1..P48 write further systems
        "g52",  # G52 shifts all systems by the named axes' values, G52 X0 Y0 Z0 ends it
        "converts",  # G20 and G21 convert the stored numbers
        "six",  # G54..G59 and G10 P1..P6 only; G10 under G91 would add up and is refused
        "no-expressions",  # neither # nor [ is read
    }
)

CANNED = frozenset(f"G{n}" for n in range(81, 90))
GROUPS = {  # Table 4; the names are those of MachineState's fields where the group has one
    "motion": ("G0", "G1", "G2", "G3", "G38.2", "G80", *sorted(CANNED)),
    "plane": ("G17", "G18", "G19"),
    "distance": ("G90", "G91"),
    "feed_mode": ("G93", "G94"),
    "unit": ("G20", "G21"),
    "cutter_comp": ("G40", "G41", "G42"),
    "tool_length": ("G43", "G49"),
    "retract": ("G98", "G99"),
    "system": ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3", "G54.1"),
    "path": ("G61", "G61.1", "G64"),
    "rotation": ("G68", "G69"),
    "non-modal": ("G4", "G10", "G28", "G30", "G52", "G53", "G92", "G92.1", "G92.2", "G92.3"),
}
_GROUP_OF = {code: group for group, codes in GROUPS.items() for code in codes}
_NEEDS = {"G68": "g68", "G69": "g68", "G54.1": "g54.1", "G52": "g52"}
_M_GROUPS = {0: 4, 1: 4, 2: 4, 30: 4, 60: 4, 6: 6, 3: 7, 4: 7, 5: 7, 7: 8, 8: 8, 9: 8, 48: 9, 49: 9}
_TAKES_AXES = ("G10", "G28", "G30", "G92", "G52", "G68")
_ARC = frozenset({"G2", "G3"})
_USED_BY = {  # a word that no code on the line uses is an error; from memory of 3.5
    "D": frozenset({"G41", "G42"}),
    "H": frozenset({"G43"}),
    "I": _ARC | {"G87"},
    "J": _ARC | {"G87"},
    "K": _ARC | {"G87"},
    "L": CANNED | {"G10"},
    "P": frozenset({"G4", "G10", "G54.1", "G82", "G86", "G88", "G89"}),
    "Q": frozenset({"G83"}),
    "R": _ARC | CANNED | {"G10", "G68"},
}


def check_codes(line: Line, extensions: frozenset[str]) -> dict[str, str]:
    """The line's G codes by modal group; M codes are only checked (Tables 4, 5, 7)."""
    if line.has_expressions and "no-expressions" in extensions:
        raise Fault("parameters and expressions are not read here")
    code: dict[str, str] = {}
    for g in line.g_codes:
        group = _GROUP_OF.get(g)
        if group is None or (g in _NEEDS and _NEEDS[g] not in extensions):
            raise Fault(f"unknown code {g}")
        if "six" in extensions and g.startswith("G59."):
            raise Fault(f"unknown code {g}")
        if group in code:
            raise Fault(f"{code[group]} and {g} are of one modal group")
        code[group] = g
    for m in line.m_codes:
        if m not in _M_GROUPS:
            raise Fault(f"unknown code M{m}")
    groups = [_M_GROUPS[m] for m in line.m_codes]
    if len(set(groups)) != len(groups):
        raise Fault("two M codes of one modal group")
    if len(groups) > 4:
        raise Fault("more than four M codes")  # Table 3, from memory
    return code


def motion_to_be(line: Line, active: str) -> str | None:
    """The motion that the axis words ask for, `active` if none is written; not G28 and G30."""
    axes = any(axis in line.words for axis in AXES)
    takers = [g for g in line.g_codes if g in _TAKES_AXES]
    written = next((g for g in line.g_codes if _GROUP_OF[g] == "motion"), None)
    if len(takers) > 1 or (takers and written not in (None, "G80")):
        raise Fault("two codes on one line use its axis words")
    if takers:
        if not axes and takers[0] in ("G92", "G52", "G68"):
            raise Fault(f"{takers[0]} without an axis word")
        return None
    if written not in (None, "G80") and not axes:
        raise Fault(f"{written} without an axis word")
    if axes and (written or active) == "G80":
        raise Fault("axis words without a code that uses them")
    return (written or active) if axes else None


def check_words(line: Line, motion: str | None, distance: str) -> None:
    """Fault for a word that is missing, out of range or used by no code (3.5)."""
    present = {*line.g_codes, motion}
    for letter in line.words:
        if letter in _USED_BY and not _USED_BY[letter] & present:
            raise Fault(f"no code on the line uses its {letter} word")
    for letter in "DHLT":
        if letter in line.words:
            whole(line.words[letter], letter)
    for letter in "DFHLPST":
        if line.words.get(letter, 0.0) < 0:
            raise Fault(f"{letter} must not be negative")
    for g, letters in (("G4", "P"), ("G10", "LP"), ("G43", "H"), ("G54.1", "P"), ("G68", "XYR")):
        if missing := [x for x in letters if g in line.g_codes and x not in line.words]:
            raise Fault(f"{g} without {missing[0]}")
    if motion in _ARC and not set("IJKR") & line.words.keys():
        raise Fault(f"{motion} without a radius or a centre")
    if "G53" in line.g_codes:
        if motion not in ("G0", "G1"):
            raise Fault("G53 needs G0 or G1 and an axis word")
        if "G91" in line.g_codes or (distance == "G91" and "G90" not in line.g_codes):
            raise Fault("G53 under G91")
