"""What the questions reckon: defaults that follow from earlier answers, doubts, what is told."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Any, NamedTuple

from pincorner.documents.beds import ColumnLetters
from pincorner.documents.machines import DEFAULT_MAX_SKEW_MM
from pincorner.geometry.iso286 import clearance_mm
from pincorner.geometry.pose import XY, Pose, normal_deg, turned_by_quarters
from pincorner.setups.person import Person, Way, person_beside
from pincorner.setups.printed import lies_from_zero
from pincorner.units import Unit, in_unit, told, told_size
from pincorner.work.first.holes import hole_by_words, on_the_grid, places
from pincorner.work.first.plain import (
    NOT_KNOWN,
    NOTS,
    Choice,
    OneByOne,
    Option,
    Unclear,
    Wanted,
    cleaned,
    with_figures,
    words_of,
)
from pincorner.work.first.sided import (
    Room,
    Sides,
    clauses_in,
    place_in,
    read_sides,
    without_count,
)
from pincorner.work.first.typed import (
    LENGTH,
    Amount,
    Said,
    amounts,
    as_told,
    class_in,
    clauses,
    length,
    must_be_within,
    odd,
    several,
    with_points,
)

Doubts = Callable[[Any, Said], list[str]]
Default = Callable[[Said], str | None]


def usual(metric: str, inch: str | None = None) -> Default:
    """A default that depends on the unit alone."""
    return lambda said: inch if inch is not None and said.unit == "in" else metric


def same_as(key: str) -> Default:
    """The default is the answer to an earlier question."""
    return lambda said: said.texts.get(key)


def never(said: Said) -> str | None:
    """No default: it has to be said."""
    return None


UNKNOWN = usual(NOT_KNOWN)


def homes(said: Said) -> bool:
    """Whether machine coordinates are the same every day."""
    return bool(said["homes"] != "no")


def turns(said: Said) -> bool:
    """Whether the controller turns its axes, of the shipped ones."""
    return said["controller"] in ("rs274-turned", "extended")


# ---- the person ----------------------------------------------------------------------------------


def person_of(said: Said) -> Person:
    """Who stands at the machine, as far as it is said."""
    angle_deg = angle_of(said) if said["a1"] else 0.0
    return person_beside(said["operator"], Pose.of_degrees("machine", "bed", 0.0, 0.0, angle_deg))


def tells_operator(value: str, said: Said) -> str:
    """The side, and how to see at the machine whether it is that one."""
    axis, way = {
        "front": ("Y", "away from you"), "back": ("Y", "toward you"),
        "left": ("X", "away from you"), "right": ("X", "toward you"),
    }[value]  # fmt: skip
    low = "lowest" if value in ("front", "left") else "highest"
    other = "toward you" if way == "away from you" else "away from you"
    check = f"the cutter goes {way}"
    if said["moves"] == "bed":
        check += f", or, where the table moves and not the cutter, the table comes {other}"
        check = check.replace("comes away", "goes away")
    elif said["moves"] is None:
        check += f" (a table that moves: {other})"
    return f"{value}, where {axis} is {low}. Jog {axis} plus to see it: {check}"


IN_WORDS: dict[Way, str] = {
    "toward": "to you", "right": "right", "away": "away", "left": "left",
}  # fmt: skip
"""Where a jig's own front edge points, as it is answered."""


def front_points(turn: int, said: Said) -> str:
    """Where the front edge of a jig that is turned by so many degrees points."""
    edge = turned_by_quarters((0.0, -1.0), turn // 90)
    return IN_WORDS[person_of(said).way_on_bed(edge)]


def turn_of(said: Said) -> int:
    """By how many degrees, counter-clockwise, the jig is turned on the bed; 0 where unasked."""
    way = said["turn"] or told_way(said)
    return next((turn for turn in (0, 90, 180, 270) if front_points(turn, said) == way), 0)


def told_way(said: Said) -> str | None:
    """Where a jig's front edge points, if that was told with its size."""
    return getattr(said["footprint"], "also", {}).get("turn")


_FRONT = Choice(
    Option("to you", "", (
        "to me", "toward me", "towards me", "toward you", "towards you", "toward", "towards",
        "facing me", "near", "me", "you", "my side", "at me", "front", "to the front", "nearer",
    )),
    Option("right", "", ("to the right", "to my right", "to your right", "rightwards")),
    Option("away", "", (
        "away from me", "away from you", "far", "back", "to the back", "farther", "behind",
    )),
    Option("left", "", ("to the left", "to my left", "to your left", "leftward", "leftwards")),
)  # fmt: skip
_ANGLES = {"quarter": 90, "90": 90, "half": 180, "180": 180, "270": 270}
_TURNED = re.compile(
    r"(?<![0-9/.])\b"
    r"(90|180|270|quarter|half|0|unturned|straight|not turned|normal|as it is)\b(?![/.])"
)
_CLOCKWISE = re.compile(r"(?<!counter-)(?<!anti-)(?<!counter )(?<!anti )\bclockwise|\bcw\b")
_COUNTER = re.compile(r"(?:counter|anti)[- ]?clockwise|\bccw\b")


_ABOUT_THE_FRONT = re.compile(
    r"^.*?\bfront(?: edge| side)?(?: of (?:it|the jig|the tray|the board))?\s+(?:it\s+)?"
    r"(?:(?:points?|faces?|facing|looks?|goes|is|lies|shows?)\b|(?=(?:to|towards?|at|on|away)\b))"
)
_ABOUT_ANOTHER = re.compile(
    r"\b(?:left|right|back|rear|other)(?: (?:edge|side|end))? (?:points?|faces?|looks?|is|lies|to)"
    r"\b|\b(?!front\b|edge\b|side\b|it\b|jig\b|tray\b|board\b|which\b|that\b)[a-z]+ "
    r"(?:points?|faces|looks)\b"
)
_LONG_SIDE = re.compile(
    r"\b(?P<which>long|short)\w* (?:side|edge|way|axis)s?\b.*?"
    r"(?:(?P<across>left|right|sideways|x\b)|(?P<along>front|back|away|me|you|y\b))"
)
_WAYS_SAID = re.compile(r"\b(?:left|right|me|you|towards?|away|far|near|front|back|turned)\b")


def read_turn(text: str, said: Said) -> str:
    """Where the jig's own front edge points. Raises Unclear for a turn without a direction, for
    another edge, and for a long side that would lie otherwise."""
    parts = clauses(text)
    sides = [part for part in parts if _LONG_SIDE.search(part)]
    about = [part for part in parts if part not in sides and _ABOUT_THE_FRONT.search(part)]
    rest = [part for part in parts if part not in (*about, *sides)]
    if len(about) == 1 and not any(_WAYS_SAID.search(part) for part in rest):
        way = _way_of(_ABOUT_THE_FRONT.sub("", about[0]), said)
    elif _ABOUT_ANOTHER.search(cleaned(text)):
        raise Unclear("and its own FRONT edge: does it point to you, right, away or left?")
    else:
        way = _way_of(_ABOUT_THE_FRONT.sub("", cleaned(text)), said)
    for part in sides:
        _must_lie_so(part, way, said)
    return way


def _must_lie_so(part: str, way: str, said: Said) -> None:
    """Raise Unclear where a jig's long side, as it was told, does not lie so."""
    match, sides = _LONG_SIDE.search(part), said["footprint"]
    if match is None or not sides:
        return
    turned = said.with_answer("turn", way, way)
    own = (1.0, 0.0) if (sides[0].mm >= sides[1].mm) == (match["which"] == "long") else (0.0, 1.0)
    lies = person_of(said).way_on_bed(turned_by_quarters(own, turn_of(turned) // 90))
    if (lies in ("left", "right")) != bool(match["across"]):
        raise Unclear(
            f"with its front edge {way} its {match['which']} side runs "
            f"{'left to right' if lies in ('left', 'right') else 'to you and away'}, as X and Y "
            "were said (back footprint): where does its own FRONT edge point?"
        )


def _turn_in(plain: str) -> tuple[int, str] | None:
    """Degrees counter-clockwise of a turn that is told, and its direction, empty where it is not
    told."""
    turned = _TURNED.search(plain)
    if not turned:
        return None
    turn = _ANGLES.get(turned[1], 0)
    if _CLOCKWISE.search(plain):
        return -turn % 360, "clockwise"
    return turn, "counter-clockwise" if _COUNTER.search(plain) else ""


def _way_of(text: str, said: Said) -> str:
    """The way that words about a front edge tell. Raises Unclear."""
    plain = " ".join(words_of(text))
    turned = _turn_in(plain)
    if turned is None:
        if said["operator"] not in (None, "front") and re.search(r"\b(?:front|back)\b", plain):
            raise Unclear("as you see it: to you, away, right or left?")
        return _FRONT(text, said)
    turn, direction = turned
    way = front_points(turn, said)
    if said["operator"] in (None, "front") and (turn in (0, 180) or direction):
        return way
    raise Unclear(
        f"which way? Turned {direction or 'counter-clockwise'} on the machine its FRONT edge "
        f"points {way}: Enter takes that. Or say to you, right, away or left",
        way,
    )


def turn_said(text: str, said: Said) -> str:
    """The same without by how many degrees it is turned."""
    return _TURNED.sub(" ", cleaned(text))


def ways(said: Said) -> tuple[Option, ...]:
    """The four ways in which a front edge may point, with what each is to the machine."""
    return tuple(
        Option(each.word, "unturned" if front_points(0, said) == each.word else "")
        for each in _FRONT.options
    )


def tells_turn(value: str, said: Said) -> str:
    """Where the front edge points, and which turn that is in the documents."""
    turn = turn_of(said.with_answer("turn", value, value))
    to = {"to you": "to you", "away": "away from you"}.get(value, f"to your {value}")
    turned = f"turn {turn}, counter-clockwise" if turn else "turn 0, as the machine's X and Y"
    return f"its own FRONT edge points {to}: {turned}"


def unturned(said: Said) -> str | None:
    """Where the front edge of a jig points that lies as the machine's X and Y do."""
    return front_points(0, said)


def posted_words(said: Said) -> str:
    """The question whether the program is turned as well, with where the piece lies either way."""
    turn = turn_of(said)
    return (
        f"The jig lies turned by {_both_ways(turn)}: did CAM turn the program too, yes or no? "
        f"Turned, {piece_from_zero(said, turn)}; "
        f"unturned,{piece_from_zero(said, 0).removeprefix('the piece lies')}."
    )


def _both_ways(turn: int) -> str:
    """A turn as CAM may have it: `270 degrees, 90 clockwise`."""
    return f"{turn} degrees" + (f", {360 - turn} clockwise" if turn != 180 else "")


def must_turn_alike(text: str, said: Said) -> None:
    """Raise Unclear for a program that was turned by another angle, or the other way, than the jig.

    One that is turned the wrong way about is cut end for end, which no outline shows.
    """
    if _ALONG_X.search(with_points(text, (1, 2, 4))):
        return  # told by the piece's sides
    turn, told_so = turn_of(said), _turn_in(" ".join(words_of(text)))
    if told_so is not None and told_so[0] not in (0, turn):
        raise Unclear(
            f"the jig lies turned by {_both_ways(turn)}: is the program turned by that, yes or no? "
            "If it is not, turn it so in CAM first"
        )


_FROM_TO = rf"[-+]?{LENGTH}(?:\s*(?:to|\.\.)\s*[-+]?{LENGTH})?"
_ALONG_X = re.compile(
    rf"(?P<before>{_FROM_TO})\s+(?:long |wide )?(?:along|in|on)\s+(?:the )?x\b"
    rf"|\bx\b[\s:=]*(?:(?:from|is|runs|goes|axis)\s+)*(?P<behind>{_FROM_TO})"
)


def posted_by_sides(text: str, said: Said) -> str | None:
    """Whether a program is turned, by what it says of the piece: `200 along X`, `X -100 to 100`.

    None where nothing is said so. Raises Unclear where that tells nothing.
    """
    match = _ALONG_X.search(with_points(text, (1, 2, 4)))
    size = said["stock"]
    if match is None or size is None:
        return None
    ends = amounts(match["behind"] or match["before"], said, 1, 2)
    long_mm = abs(ends[-1].mm - ends[0].mm) if len(ends) > 1 else ends[0].mm
    near_mm = abs(size[0].mm - size[1].mm) / 4
    by_side = {
        "no": abs(long_mm - size[0].mm) < near_mm,
        "yes": abs(long_mm - size[1].mm) < near_mm,
    }
    told_so = [word for word, is_so in by_side.items() if is_so]
    if len(told_so) != 1 or turn_of(said) == 180:
        raise Unclear("that tells not which: is the program turned as the jig is, yes or no?")
    return told_so[0]


def posted_default(said: Said) -> str | None:
    """A program that is turned by the block; none where the controller cannot turn its axes."""
    return "no" if turns(said) else None


def posted_doubts(value: str, said: Said) -> list[str]:
    """A program that this controller cannot turn."""
    if value == "yes" or turns(said):
        return []
    nothing = "nothing to key in" if said["controller"] == "keyed" else "no block"
    return [
        f"this controller does not turn its axes: there is {nothing} for such a program. Ways out: "
        f"turn the program in CAM by {turn_of(said)} degrees and say yes; or lay the jig unturned "
        "(back turn)"
    ]


def piece_from_zero(said: Said, turn: int) -> str:
    """Where the piece lies from program zero, posted turned by so many degrees."""
    size, zero = said["stock"], said["zero"]
    if size is None:
        return "the piece lies at X and Y"
    left, front = (-each.mm for each in zero) if zero else (0.0, 0.0)
    right, back = left + size[0].mm, front + size[1].mm
    corners = ((left, front), (right, front), (right, back), (left, back))
    return lies_from_zero(corners, turn, said.unit)


# ---- the bed and its holes -----------------------------------------------------------------------


def spans(said: Said) -> tuple[float | None, float | None]:
    """How large the bed is, or else how far the machine travels, along X and Y, mm."""
    if said["size"]:
        return said["size"][0].mm, said["size"][1].mm
    travels = (said["travel_x"], said["travel_y"])
    across, along = (abs(each[1].mm - each[0].mm) if each else None for each in travels)
    return across, along


def holes_that_fit(said: Said) -> str | None:
    """As many holes as the bed, or the travel, has room for."""
    found = []
    for room_mm, pitch, few in zip(spans(said), said["pitch"], (10, 6), strict=True):
        found.append(few if room_mm is None else max(2, min(500, int(room_mm // pitch.mm))))
    return f"{found[0]} x {found[1]}"


def holes_doubts(value: list[int], said: Said) -> list[str]:
    """Holes that reach over more than the bed or the travel."""
    doubts: list[str] = []
    if not said["pitch"]:
        return doubts
    for room_mm, pitch, count, axis in zip(spans(said), said["pitch"], value, "XY", strict=True):
        long_mm = (count - 1) * pitch.mm
        if room_mm is not None and long_mm > room_mm:
            what = "the bed is" if said["size"] else "the travel is"
            doubts.append(
                f"{count} holes along {axis}, {told_size(pitch.mm, said.unit)} apart, reach over "
                f"{told_size(long_mm, said.unit)}; {what} {told_size(room_mm, said.unit)}"
            )
    return doubts


def holes_cannot(value: list[int], said: Said) -> list[str]:
    """Holes that reach over more than the bed; beyond the travel some may lie."""
    return holes_doubts(value, said) if said["size"] else []


def usual_error(said: Said) -> str:
    """How far off holes are, as was said with their size, or as a rule: reamed ones less (common
    practice, no source)."""
    if given := said.given.get("hole_position"):
        return given
    is_reamed = class_in(said.texts.get("hole", "")) or "reamed" in said.texts.get("hole", "")
    return str(usual(*(("0.02 mm", "0.001 in") if is_reamed else ("0.1 mm", "0.004 in")))(said))


def tells_work_offset(value: str, said: Said) -> str:
    """A work offset, and who sets it."""
    return f"{value}, which {'you key in' if said['controller'] == 'keyed' else 'the block writes'}"


def grid_mm(said: Said) -> tuple[float, float]:
    """From the first hole to the last, along X and Y, mm."""
    (columns, rows), (pitch_x, pitch_y) = said["holes"], said["pitch"]
    return (columns - 1) * pitch_x.mm, (rows - 1) * pitch_y.mm


def edge_in_the_middle(said: Said) -> str | None:
    """The grid in the middle of the bed."""
    left = [
        max(0.0, (size.mm - reach) / 2)
        for size, reach in zip(said["size"], grid_mm(said), strict=True)
    ]
    return " x ".join(told_size(each, said.unit) for each in left)


def edge_doubts(value: list[Amount], said: Said) -> list[str]:
    """Holes off the bed."""
    doubts = []
    for at, size, reach, axis in zip(value, said["size"], grid_mm(said), "XY", strict=True):
        over_mm = at.mm + reach - size.mm
        if over_mm > 1e-6:
            doubts.append(
                f"the last holes along {axis} would lie {told_size(over_mm, said.unit)} off the bed"
            )
    return doubts


def travel_doubts(value: list[Amount], said: Said) -> list[str]:
    """A travel that is far from usual."""
    far = Amount("", abs(value[1].mm - value[0].mm))
    return odd(far, 80, 12_000, "a travel", said.unit)


def tells_travel(value: list[Amount], said: Said) -> str:
    """Both ends."""
    low, high = (f"{told_size(each.mm, said.unit)}" for each in value)
    return f"from {low} to {high}"


def z_travel_doubts(value: list[Amount], said: Said) -> list[str]:
    """The same of Z, and one that goes up from 0."""
    far = Amount("", abs(value[1].mm - value[0].mm))
    doubts = odd(far, 20, 2_000, "a travel in Z", said.unit)
    if value[0].mm == 0:
        top = told_size(value[1].mm, said.unit)
        down = told_size(-value[1].mm, said.unit)
        doubts.append(f"Z from 0 up to {top}: most machines have 0 at the top, {down} to 0")
    return doubts


def _beyond(at: list[Amount], hole: str, said: Said) -> list[str]:
    doubts = []
    travels = (said["travel_x"], said["travel_y"])
    for each, travel, axis in zip(at, travels, "XY", strict=True):
        if travel and not travel[0].mm <= each.mm <= travel[1].mm:
            ends = f"{told_size(travel[0].mm, said.unit)} to {told_size(travel[1].mm, said.unit)}"
            doubts.append(
                f"{hole} at {axis} {told_size(each.mm, said.unit)} is beyond the travel, {ends} "
                f"(back travel_{axis.lower()} changes that)"
            )
    return doubts


def first_hole_cannot(value: list[Amount], said: Said) -> list[str]:
    """A hole that the spindle does not reach."""
    return _beyond(value, "A1", said)


_THERE = re.compile(
    r"(?:(?:i|we|set|it is|it's|is|right|just|exactly|over|in|at|on|the|hole|middle|of|there|here"
    r"|a1|same|yes|itself|zero|pin)\s*)+"
)
_OF = r"(?:of|behind|from|beyond|past|at|over)"
_REFERENCES = re.compile(
    rf"\b{_OF}\s+(?:the|a|an|my|our|that|this|its)\s+(?!(?:left|right|front|back|rear)\b)"
    r"(?P<what>(?:middle of (?:the )?)?[a-z][a-z -]*?)"
    r"(?=\s*(?:[,;.0-9]|\band\b|\bis\b|\bof\b|$))|\b(?:of|behind|from|past) (?P<a1>(?:hole )?a1)\b"
)
_HOLE_A1 = re.compile(r"\b(?:hole|a1)\b")
_SUBJECT = re.compile(r"^(?:no,? |yes,? )?(?:the |a |my )?(?P<what>[a-z][a-z0-9 ]*?) (?:is|lies)\b")
_WAY = re.compile(
    rf"(?P<before>{LENGTH})\s+(?:to |on )*(?:the |its )?"
    r"(?P<way>left|right|behind|back|front|ahead)\b"
    rf"|\b(?P<way_2>left|right|behind|back|front)\s+(?:of it )?(?:by )?(?P<after>{LENGTH})"
)
_SIGN = {
    "left": ("x", -1), "right": ("x", 1), "behind": ("y", 1), "back": ("y", 1), "front": ("y", -1),
    "ahead": ("y", -1),
}  # fmt: skip


def read_a1(text: str, said: Said) -> list[Amount]:
    """Where hole A1 is; on a machine that does not home, from the place where G54 is set, in words
    such as `30 right and 40 behind the cross`, or of that place from the hole.

    Raises Unclear where it is not said which of them is where.
    """
    plain = cleaned(text)
    if homes(said):
        if set(words_of(plain)) & {"right", "back", "rear", "behind"}:
            raise Unclear("A1 is the hole front left, of lowest X and Y. Which X and Y there?")
        found: list[Amount] = several(-50_000, 50_000, 2)(_FRONT_LEFT.sub(" ", plain), said)
        return found
    if _THERE.fullmatch(plain.strip(".") + " ") or _THERE.fullmatch(plain.strip(".")):
        return [Amount("0", 0.0), Amount("0", 0.0)]
    if hole := _named_hole(plain, said):
        return [_so_long(-each or 0.0, said.unit) for each in places(said)[hole]]
    bare = re.sub(r"\bin front\b", "front", plain)
    ways = list(_WAY.finditer(with_points(bare, (2,))))
    if not ways:
        return amounts(_A1_IS.sub(" ", bare), said, 2)
    if said["operator"] not in (None, "front"):
        raise Unclear("as X and Y, please: hole A1 from the mark, such as X -20 Y 35")
    sign = -1 if _counts_from_the_hole(bare) else 1
    by_axis: dict[str, Amount] = {}
    for way in ways:
        axis, plus = _SIGN[way["way"] or way["way_2"]]
        (long,) = amounts(way["before"] or way["after"], said, 1)
        by_axis[axis] = long if plus * sign > 0 else _turned_round(long)
    if len(ways) != 2 or sorted(by_axis) != ["x", "y"]:
        raise Unclear("how far is hole A1 from the mark along X, and along Y? Such as X -20 Y 35")
    return [by_axis["x"], by_axis["y"]]


_FRONT_LEFT = re.compile(
    r"\b(?:the )?(?:first |near )?(?:front left|left front)(?: (?:hole|corner))?\b"
)
_A1_IS = re.compile(r"\b(?:hole )?a1\b(?: is)?|\b(?:no|yes)\b,?")


_OVER_HOLE = re.compile(
    r"(?:(?:i|we|set|it|g54|zero|is|over|above|at|in|on|the|middle|of|hole)\s+)*([a-z]{1,3}[0-9]{1,3})"
)


def _named_hole(plain: str, said: Said) -> str:
    """The hole over which somebody says that G54 is set, by its label or in words; else nothing."""
    named = _OVER_HOLE.fullmatch(plain.strip(". "))
    label = named[1].upper() if named else ""
    if not named and re.search(r"\b(?:row|column)\b", plain):
        label = hole_by_words(plain, said) or ""
    return label if label in places(said) else ""


def over_hole(said: Said) -> str:
    """The hole over which G54 is set, where A1 was counted from it; nothing where it was not."""
    if homes(said) or not said["a1"] or not any(each.mm for each in said["a1"]):
        return ""
    for label, drawn in places(said).items():
        if all(abs(each.mm + at) < 1e-3 for each, at in zip(said["a1"], drawn, strict=True)):
            return label
    return ""


def first_hole(said: Said) -> tuple[XY, XY]:
    """The hole that was read off first: where it is from A1 as drawn, and as it was read, mm.

    A1 itself, but where it was counted from another one.
    """
    if label := over_hole(said):
        return places(said)[label], (0.0, 0.0)
    x, y = said["a1"]
    return (0.0, 0.0), (x.mm, y.mm)


def a1_place(said: Said) -> tuple[float, float]:
    """Where A1 is, mm; counted from another hole it turns about that one with the grid."""
    (x, y), (read_x, read_y) = first_hole(said)
    turned = Pose.of_degrees("machine", "bed", read_x, read_y, angle_of(said))
    return turned.point((-x, -y))


def _turned_round(found: Amount) -> Amount:
    written = found.written
    return Amount(written[1:] if written.startswith("-") else f"-{written}", -found.mm)


def _counts_from_the_hole(plain: str) -> bool:
    """Whether it is said where the mark is, from hole A1. Raises Unclear where that is not sure."""
    of = [match["a1"] or match["what"] for match in _REFERENCES.finditer(plain)]
    last = next((each for each in reversed(of) if each not in ("left", "right")), "")
    from_hole = bool(_HOLE_A1.search(last))
    subject = _SUBJECT.match(plain)
    if subject and from_hole == bool(_HOLE_A1.search(subject["what"])) and last:
        raise Unclear(
            "how far is hole A1 from the mark? X to the right, Y behind, such as X -20 Y 35"
        )
    if subject and not last:
        return not _HOLE_A1.search(subject["what"])
    if not last and set(words_of(re.sub("[0-9]", " ", plain))) - _OF_WAYS:
        raise Unclear(_WHICH_MARK)
    return from_hole


_WHICH_MARK = "how far is hole A1 from the mark? X to the right, Y behind, such as X -20 Y 35"
_OF_WAYS = frozenset(
    ("left", "right", "front", "back", "behind", "ahead", "in", "to", "the", "and", "of", "it",
     "mm", "inch", "inches", "cm", "is", "x", ".", "/", "no", "yes")
)  # fmt: skip


def mark_of(said: Said) -> str:
    """What G54 is set over where that is not hole A1; nothing where it is."""
    if homes(said) or not said["a1"] or not any(each.mm for each in said["a1"]):
        return ""
    if hole := over_hole(said):
        return f"hole {hole}"
    plain = cleaned(said.texts["a1"])
    words = [match["what"] for match in _REFERENCES.finditer(plain) if match["what"]]
    words += [match["what"] for match in [_SUBJECT.match(plain)] if match]
    words = [
        word for word in words if not _HOLE_A1.search(word) and not set(word.split()) & {*_SIGN}
    ]
    return (
        f"the {words[0].removeprefix('middle of ').removeprefix('the ')}" if words else "its mark"
    )


def tells_a1(value: list[Amount], said: Said) -> str:
    """Where hole A1 is; from a mark in words and as X and Y."""
    if homes(said) or not any(each.mm for each in value):
        at = f"A1 at X {value[0].written}, Y {value[1].written}"
        return at if homes(said) else f"{at}: G54 is set over hole A1"
    x, y = (each.mm for each in value)
    told_x, told_y = (told_size(abs(each.mm), said.unit) for each in value)
    along = [f"{told_x} {'right' if x > 0 else 'left'} of"] if x else []
    along += [f"{told_y} {'behind' if y > 0 else 'in front of'}"] if y else []
    signs = ", ".join(f"{axis} {each.written}" for axis, each in zip("XY", value, strict=True))
    mark = mark_of(said.with_answer("a1", said.texts.get("a1", ""), value))
    if hole := over_hole(said.with_answer("a1", said.texts.get("a1", ""), value)):
        return f"G54 is set over hole {hole}; A1 is counted from there"
    return f"G54 is zero at {mark}; hole A1 lies {' and '.join(along)} it: {signs}"


def a1_words(said: Said) -> str:
    """The question where hole A1 is: on a machine that does not home, from where G54 is set."""
    if homes(said):
        return "Jog over the middle of hole A1 (lowest X and Y): which X and Y?"
    by = "right and behind" if said["operator"] in (None, "front") else "X and Y"
    return (
        "Where do you set G54? Over hole A1 (lowest X and Y): Enter. Over a mark: how far A1 is "
        f"from it, {by}."
    )


def a1_examples(said: Said) -> tuple[str, ...]:
    """Answers to the same."""
    if homes(said):
        return ("{X 80.0 Y 90.0|X 2.5 Y 3.25}", "{80 90|2.5 3.25}")
    if said["operator"] not in (None, "front"):
        return ("0 0", "{X 30 Y 40|X 1 Y 2}")
    return ("0 0", "{30 right and 40 behind the cross|1 right and 2 behind the cross}")


# ---- the second hole -----------------------------------------------------------------------------


class Far(NamedTuple):
    """A second hole that was read off, and what the read-out showed over it."""

    hole: str
    at: list[Amount]


def far_hole(said: Said) -> tuple[str, tuple[float, float]]:
    """The hole that the grid's angle is best read off by, the farthest within the travel, and where
    it is from A1 as drawn, mm."""
    (columns, rows), pitches = said["holes"], [each.mm for each in said["pitch"]]
    most = [columns - 1, rows - 1]
    for number, (axis, pitch_mm) in enumerate(zip("xy", pitches, strict=True)):
        travel, at = said[f"travel_{axis}"], said["a1"]
        if travel and at:
            room = int((travel[1].mm - at[number].mm) / pitch_mm + 1e-6)
            most[number] = max(0, min(most[number], room))
    along_x, along_y = (many * pitch for many, pitch in zip(most, pitches, strict=True))
    if along_x >= along_y:
        return f"{ColumnLetters().of(most[0] + 1)}1", (along_x, 0.0)
    return f"A{most[1] + 1}", (0.0, along_y)


def far_examples(said: Said) -> tuple[str, ...]:
    """The second hole where it would be if the grid did not lie turned, by its label and words."""
    label, drawn = far_hole(said)
    at = (in_unit(a.mm + d, said.unit) for a, d in zip(said["a1"], drawn, strict=True))
    shown = " ".join(f"{axis} {each:.6g}" for axis, each in zip("XY", at, strict=True))
    line = "row" if drawn[0] else "column"
    by_words = f"last hole of the first {line}, {shown}"
    is_last = hole_by_words(by_words.partition(",")[0], said) == label
    return (f"{label} {shown}", by_words) if is_last else (f"{label} {shown}",)


def angle_of(said: Said) -> float:
    """The angle of row 1 in degrees, from two holes that were read off; 0 from one alone."""
    if not said["far"]:
        return 0.0
    drawn, read = _from_the_first(said["far"], said)
    return normal_deg(math.degrees(math.atan2(*read[::-1]) - math.atan2(*drawn[::-1])))


def _from_the_first(far: Far, said: Said) -> tuple[XY, XY]:
    """From the hole that was read off first to a second one: as drawn, and as they were read."""
    (first_x, first_y), (read_x, read_y) = first_hole(said)
    x_mm, y_mm = places(said)[far.hole]
    at_x, at_y = (each.mm for each in far.at)
    return (x_mm - first_x, y_mm - first_y), (at_x - read_x, at_y - read_y)


_LABEL = re.compile(r"(?:hole\s+)?\b([a-z]{1,3}[1-9][0-9]{0,2})\b\s*(?:is|at|:|=|,)*\s*(?=\S)")


_PLACE_OF = re.compile(
    r"\bx\s*[=:]?\s*[-+]?[0-9.]|[-+]?[0-9.]+[ ,;/x]+(?:y\s*)?[-+]?[0-9.]+\s*(?:mm|in)?$"
)
_SEPARATES = re.compile(r"[\s,;:=]*(?:\b(?:is|at|reads?|shows?)\b[\s,:=]*)*$")


def far_said(text: str, said: Said) -> str:
    """The same without why it is not another hole."""
    return _OUT_OF_REACH.sub("", cleaned(text))


_OUT_OF_REACH = re.compile(
    r"\b(?:i |we |it )?(?:can't|cannot|cant|could not|couldn't|won't|does not|doesn't|never) "
    r"(?:get to|reach|go to)\b[^,;:.]*[,;:.]\s*(?:so |but |instead )*"
)


def read_far(text: str, said: Said) -> Far:
    """A second hole, named or not, as it was read off. Raises ValueError where it cannot be it."""
    plain = far_said(text, said)
    named = _LABEL.match(plain)
    label = named[1].upper() if named and named[1] not in ("x1", "y1") else None
    rest = plain[named.end() :] if named and label else plain
    if label is None and (place := _PLACE_OF.search(plain)):
        label = hole_by_words(_SEPARATES.sub("", plain[: place.start()]), said)
        rest = plain[place.start() :] if label else rest
    if label is not None:
        on_the_grid(label, said)
    if label == (first := over_hole(said) or "A1"):
        raise ValueError(f"{first} is the first hole; a second one is wanted, far from it")
    at = amounts(rest, said, 2)
    return _checked(Far(label or far_hole(said)[0], at), label is not None, said)


def _checked(far: Far, is_named: bool, said: Said) -> Far:
    """The same, if the hole can be where it was read off. Raises ValueError, Unclear."""
    drawn = places(said)[far.hole]
    dx, dy = (each.mm - first.mm for each, first in zip(far.at, said["a1"], strict=True))
    near_mm = min(each.mm for each in said["pitch"]) / 4
    off_mm = math.hypot(dx - drawn[0], dy - drawn[1])
    if off_mm <= near_mm:
        return far
    others = {
        label: math.hypot(dx - at[0], dy - at[1])
        for label, at in places(said).items()
        if label not in ("A1", far.hole)
    }
    other = min(others, key=lambda label: others[label], default="")
    if other and others[other] <= near_mm / 2:
        shown = ", ".join(f"{axis} {each.written}" for axis, each in zip("XY", far.at, strict=True))
        if homes(said):
            raise Unclear(
                f"that is where {other} lies, not {far.hole}. Did you jog to {other}? Enter takes "
                "it",
                f"{other} {shown}",
            )
        raise Unclear(
            f"that is where {other} lies, seen from G54 as you set it, not {far.hole}: name "
            f"{other} if you jogged there. If G54 is set over another hole than A1: back a1"
        )
    unit, drawn_mm, long_mm = said.unit, math.hypot(*drawn), math.hypot(dx, dy)
    apart = f"A1 and {far.hole} are {told(drawn_mm, unit, 1)} apart on the drawing"
    if math.hypot(dx - drawn[1], dy - drawn[0]) < off_mm / 4:
        raise ValueError(f"{apart}; X and Y of it look changed over")
    if abs(long_mm - drawn_mm) <= drawn_mm / 100:
        raise ValueError(f"{apart}, along {'X' if drawn[0] else 'Y'}; these lie along another way")
    raise ValueError(
        f"{apart}, and you read {told(long_mm, unit, 1)}: another hole (name it, as "
        f"{far_hole(said)[0]} and its X and Y), or another pitch or number of holes (back holes)"
    )


def tells_far(value: Far, said: Said) -> str:
    """The hole, where it is, and how the grid lies turned."""
    at = ", ".join(f"{axis} {each.written}" for axis, each in zip("XY", value.at, strict=True))
    angle = angle_of(said.with_answer("far", "", value))
    off_mm = _off_the_pitch(value, said)
    told_so = f"{value.hole} at {at} {said.unit}: row 1 lies turned by {angle:.3f} degrees"
    if abs(off_mm) < 0.05:
        return told_so
    return f"{told_so}; {_farther(off_mm, said)} than pitch times count has it"


def _farther(off_mm: float, said: Said) -> str:
    return f"{told(abs(off_mm), said.unit, 2)} {'farther' if off_mm > 0 else 'nearer'}"


def _off_the_pitch(value: Far, said: Said) -> float:
    """How much farther from A1 the second hole is than drawn, mm."""
    drawn, read = _from_the_first(value, said)
    return math.hypot(*read) - math.hypot(*drawn)


def far_cannot(value: Far, said: Said) -> list[str]:
    """A second hole beyond the travel."""
    return _beyond(value.at, value.hole, said)


def far_doubts(value: Far, said: Said) -> list[str]:
    """A second hole that lies nearer or farther than drawn."""
    off_mm = _off_the_pitch(value, said)
    if abs(off_mm) <= max(0.5, math.hypot(*places(said)[value.hole]) / 1000):
        return []
    return [f"{value.hole} lies {_farther(off_mm, said)} than the pitch has it"]


def usual_bed_words(said: Said) -> str:
    """What is usual of a bed, in one sentence."""
    edge = f"A1 {edge_in_the_middle(said)} from its left and front edges, " if said["size"] else ""
    off = usual_error(said)
    return (
        f"As usual: no cuts into the bed, {edge}holes off by up to {off}, none missing? "
        "Or say what is otherwise."
    )


def usual_bed_examples(said: Said) -> tuple[str, ...]:
    """What may be otherwise of a bed."""
    edge = ("A1 {50 x 60|2 x 3} from the left and front edges",) if said["size"] else ()
    return ("yes", "cuts {0.5|1/32} deep, holes within {0.02|0.001}", "A1 missing", *edge)


def more_words(said: Said) -> str:
    """The question whether what is only for `run` and `check` is told now."""
    reach = (
        "" if said["moves"] in (None, "bed") else "What moves: how far does it reach around it? "
    )
    back = "How well does it come back to a place? Or later."
    return f"The spindle's lower end: how wide? {reach}{back}"


def more_examples(said: Said) -> tuple[str, ...]:
    """Answers to it."""
    reach = () if said["moves"] in (None, "bed") else (
        "reach {120 each way, nut 64 wide|6 each way, nut 2 1/2 wide}",
    )  # fmt: skip
    return ("later", "yes", *reach, "nut {64|2 1/2}, comes back within {0.02|0.001}")


def names_words(said: Said) -> str:
    """The names that are usual, in one sentence."""
    jig = "jig tray, " if said["holder"] == "jig" else ""
    return f"Names: machine router, bed bench, pins peg, {jig}station first. Others?"


# ---- sizes ---------------------------------------------------------------------------------------


def pins_examples(said: Said) -> tuple[str, ...]:
    """Pins that go into such holes."""
    wide = said["hole"].written if said["hole"] else "{20|3/4}"
    fit = (f"{wide} h6, 16 mm above the bed, 15 mm deep",) if fit_class(said) else ()
    return (
        f"{wide}, {{20 high|3/4 high}}",
        f"{wide} in the hole, {{25 above it, 30 high|1 above it, 1 1/4 high}}",
        *fit,
    )


def shank_examples(said: Said) -> tuple[str, ...]:
    """A pin's thickness in such holes."""
    wide = said["hole"].written if said["hole"] else "{20|3/4}"
    return (wide, f"{wide} h6") if fit_class(said) else (wide,)


def fit_class(said: Said) -> str:
    """The class of fits that the holes were said to have; nothing where there is none."""
    return class_in(said.texts.get("hole", "")).upper()


def as_the_shank(said: Said) -> str | None:
    """A pin's thickness in its hole, without the class of its fit."""
    return said["shank"].written if said["shank"] else None


def as_wide_as_the_hole(said: Said) -> str | None:
    """A hole's width without the class of its fit, which is none of a pin."""
    return said["hole"].written if said["hole"] else None


def fit_of(said: Said) -> str:
    """The fit of pins in their holes, `H7/h6`, where the classes of both were said and are on file;
    else nothing."""
    hole, shank = said["hole"], said["shank"]
    if hole is None or shank is None or abs(hole.mm - shank.mm) > 1e-6:
        return ""
    classes = class_in(said.texts["hole"]).upper(), class_in(said.texts["shank"]).lower()
    if not all(classes):
        return ""
    fit = "/".join(classes)
    try:
        least_mm, _ = clearance_mm(fit, shank.mm)
    except ValueError:
        return ""
    return fit if least_mm >= 0 else ""


def tells_hole(value: Amount, said: Said) -> str:
    """A width, and what becomes of the class of its fit."""
    its = fit_class(said)
    return as_told([value], said.unit) + (f", {its}: say the pins' class too, as h6" if its else "")


def tells_shank(value: Amount, said: Said) -> str:
    """A thickness, and the fit that is taken over into the documents."""
    if fit := fit_of(said):
        return f"{as_told([value], said.unit)}, fit {fit}"
    its = class_in(said.texts.get("shank", "")).lower()
    without = f"; its class {its} is left out: it needs the holes' class, at the same size"
    return as_told([value], said.unit) + (without if its else "")


def shank_cannot(value: Amount, said: Said) -> list[str]:
    """A pin that is wider than its hole."""
    if said["hole"] and value.mm > said["hole"].mm:
        hole = told_size(said["hole"].mm, said.unit)
        return [
            f"a pin of {told_size(value.mm, said.unit)} does not go into a hole of {hole} "
            "(back hole changes that)"
        ]
    return []


def shank_doubts(value: Amount, said: Said) -> list[str]:
    """A pin that is far from usual, or hangs loose."""
    doubts = odd(value, 3, 60, "a pin", said.unit)
    if said["hole"] and not doubts and value.mm < said["hole"].mm * 0.8:
        doubts = [f"it has {told(said['hole'].mm - value.mm, said.unit, 2)} of play in its hole"]
    return doubts


def hole_cannot(value: Amount, said: Said) -> list[str]:
    """Holes that run into each other."""
    if said["pitch"] and value.mm >= min(each.mm for each in said["pitch"]):
        return [f"holes of {told_size(value.mm, said.unit)} run into each other at that pitch"]
    return []


def hole_doubts(value: Amount, said: Said) -> list[str]:
    """A hole that is far from usual."""
    return odd(value, 3, 60, "a hole", said.unit)


def size_doubts(low_mm: float, high_mm: float, what: str) -> Doubts:
    """Doubts about one length or several that are beyond what is usual."""

    def doubts(value: Any, said: Said) -> list[str]:
        listed = value if isinstance(value, list) else [value]
        found = [line for each in listed for line in odd(each, low_mm, high_mm, what, said.unit)]
        return list(dict.fromkeys(found))

    return doubts


def _in_the_other(value: list[Amount], said: Said) -> str:
    """The end of a sentence that asks which unit lengths were meant in."""
    numbers = " x ".join(each.written.removesuffix(" in").removesuffix(" mm") for each in value)
    is_foreign = all(each.written.endswith((" in", " mm")) for each in value)
    other = said.unit if is_foreign else "mm" if said.unit == "in" else "in"
    return f"; if that was in {'inches' if other == 'in' else other}, say {numbers} {other}"


def _over_the_bed(value: list[Amount], what: str, said: Said) -> list[str]:
    """Whether two sides have no place on the bed, whichever way they lie."""
    room = [each for each in spans(said) if each is not None]
    if len(room) < 2 and said["holes"] and said["pitch"]:
        room = [at + p.mm for at, p in zip(grid_mm(said), said["pitch"], strict=True)]
    sides = sorted(each.mm for each in value[:2])
    if len(room) == 2 and any(a > b for a, b in zip(sides, sorted(room), strict=True)):
        told_sides = " x ".join(told_size(each.mm, said.unit) for each in value[:2])
        told_bed = " x ".join(told_size(each, said.unit) for each in room)
        return [
            f"{what} of {told_sides} is larger than the bed, {told_bed}{_in_the_other(value, said)}"
        ]
    return []


def footprint_doubts(value: list[Amount], said: Said) -> list[str]:
    """A jig that is far from usual, or over the bed."""
    sides = [line for each in value[:2] for line in odd(each, 20, 6000, "a side", said.unit)]
    return _over_the_bed(value, "a jig", said) or list(dict.fromkeys(sides))


def stock_doubts(value: list[Amount], said: Said) -> list[str]:
    """A piece that is far from usual, over the bed, or over its jig."""
    if over := _over_the_bed(value, "a piece", said):
        return over
    sides = [line for each in value[:2] for line in odd(each, 10, 6000, "a side", said.unit)]
    sides += odd(value[2], 0.5, 300, "a thickness", said.unit)
    return list(dict.fromkeys(sides))


def lies_doubts(value: list[Amount], said: Said) -> list[str]:
    """A piece that hangs over its jig."""
    for side, at, size in zip(said["footprint"][:2], value, said["stock"][:2], strict=True):
        if at.mm < -1e-6 or at.mm + size.mm > side.mm + 1e-6:
            sides = as_told(said["footprint"][:2], said.unit)
            return [f"the piece hangs over the jig, which is {sides}"]
    return []


def read_footprint(text: str, said: Said) -> Sides:
    """A jig's sides, and its height where that is said; what else is said of it is kept with them.
    Raises Unclear, Wanted."""
    found = read_sides(text, said)
    if "holes" in found.also:
        raise Unclear(
            f"{as_told(found, said.unit)}; not its {found.also['holes']}: here a jig lies against "
            "pins by its edges (for one on dowels: pincorner example jig). Enter takes the edges",
            as_told(found, said.unit),
        )
    front = found.also.get("front", "")
    if _ABOUT_THE_FRONT.search(front):
        with suppress(ValueError):
            way = read_turn(front, said.with_answer("footprint", text, found))
            found.also = {**found.also, "turn": way}
    return found


def jig_that_fits(said: Said) -> str | None:
    """A usual jig's sides, or smaller ones that the bed has room for."""
    return _that_fits("400 x 300", "16 x 12", [each for each in spans(said) if each], said)


def stock_that_fits(said: Said) -> str | None:
    """A usual piece's sides and thickness, or smaller ones that jig or bed have room for."""
    room = sides_mm(said) if said["holder"] == "jig" else [each for each in spans(said) if each]
    thick = usual("18", "3/4")(said)
    return f"{_that_fits('400 x 250', '16 x 10', room, said)} x {thick}"


def _that_fits(metric: str, inch: str, room_mm: Sequence[float], said: Said) -> str:
    """Two usual sides, or nine tenths of the room where that is less."""
    both = (inch if said.unit == "in" else metric).split(" x ")
    if len(room_mm) == 2:
        most = [int(in_unit(each, said.unit) * 0.9) or 1 for each in room_mm]
        both = [str(min(int(each), least)) for each, least in zip(both, most, strict=True)]
    return " x ".join(both)


def read_stock(text: str, said: Said) -> Sides:
    """A piece's sides and its thickness. Raises Unclear, Wanted."""
    found = read_sides(text, said)
    also = [told_so for key, told_so in found.also.items() if key != "over all"]
    if other := [told_so for told_so in also if re.search("[0-9]", told_so)]:
        raise Unclear(f"{'; '.join(other)}: how large is the piece itself?")
    if len(found) < 3:
        raise Unclear(f"{as_told(found, said.unit)}, and how thick? Say all three")
    return found


_DEEP = re.compile(r"\b(?:deep|depth|sunk|below|under|lower)\b")


def _also(what: str, said: Said) -> str:
    """What was said of a part of a jig beside its sides; nothing where there is none."""
    return str(getattr(said["footprint"], "also", {}).get(what, ""))


def _length_of(part: str, said: Said) -> Amount | None:
    """The length in what is said of a pocket or a strip; None where nothing is said."""
    if not part.strip():
        return None
    found: Amount = amounts(_OTHER_WORDS.sub(" ", without_count(part)), said, 1)[0]
    return found


_OTHER_WORDS = re.compile(
    r"\b(?!inch|feet\b|foot\b|thou\b|mill|cent|met(?:er|re)|micron)[a-z]{3,}(?:'s|n't)?\b"
)
"""Words around the one length of a part: the guard looks whether they carry something."""


_OF_SEAT = re.compile(r"\b(?:seat|pocket|recess|rebate|piece|part|lies|underneath|bottom|floor)\b")
_OF_TOP = re.compile(
    r"\b(?:top|tallest|highest|high|tall|overall|strips?|stops?|fences?|toggles?|rails?|lip|rim|jig)"
    r"\b"
)
_ON_IT = re.compile(r"\bon (?:top of )?(?:the |its |my )*(?:base|jig|tray|carrier|board|plate)\b")
_ON_THE_BED = re.compile(r"\bon (?:top of )?(?:the |its |my )*(?:bed|table|spoilboard)\b")
_NOTHING_TALLER = re.compile(
    r"\b(?:no|none|nothing|not|without)\b.*\b(?:taller|higher|above|over|top|more|else|strips?|stops?"
    r"|fences?|rails?|rims?|lips?|stick\w*)\b|^nothing$"
)
_THE_SAME = re.compile(r"\b(?:same|both|equal|level|flush)\b")


def read_heights(text: str, said: Said) -> dict[str, str]:
    """How high the piece lies above the bed, and the jig's tallest point, as texts by the keys of
    their questions. Raises OneByOne, Unclear."""
    plain = re.sub(r"\bwith\b", "including", with_points(text, (1, 2)))
    if _DEEP.search(plain):
        return {"seat": plain}
    found: dict[str, str] = {}
    bare: list[str] = []
    is_on_it = False
    for clause in clauses_in(plain):
        words = clause.words()
        numbers = [each.word for each in clause.tokens if each.kind == "number"]
        is_seat = bool(_OF_SEAT.search(words))
        from_work = FROM_THE_WORK.search(words)
        if not numbers:
            if NOTS & set(words.split()):
                if not _NOTHING_TALLER.search(words):
                    raise Unclear(f"{words!r}: how high is the seat, how high the tallest point?")
                found["height"] = words
            elif _THE_SAME.search(words) and _OF_TOP.search(words):
                found["height"] = "the same"
            is_on_it |= bool(_ON_IT.search(words))
        elif NOTS & set(words.split()):
            raise Unclear(f"{words!r}: how high is the seat, how high the tallest point?")
        elif len(numbers) > 1:
            bare += numbers
        elif _THE_SAME.search(words):
            found |= {"seat": numbers[0], "height": numbers[0]}
        elif is_seat and not (from_work and from_work["what"] == "seat"):
            found.setdefault("seat", numbers[0])
        elif _OF_TOP.search(words) or from_work or _ABOVE_IT.search(words):
            found.setdefault("height", words)
        else:
            bare += numbers
    left = [key for key in ("seat", "height") if key not in found]
    if len(bare) > len(left):
        raise OneByOne("the heights")
    found |= dict(zip(left, bare, strict=False))
    if is_on_it:
        found.setdefault("seat", "on the base")
    if not found:
        raise OneByOne("the heights")
    return {key: found[key] for key in ("seat", "height") if key in found}


_ABOVE_IT = re.compile(
    r"\b(?:above|over|on top of|higher than) (?:it|that|them)\b|\bhigher\b(?! than)"
    r"|\bon top\b(?! of)"
)


def read_seat(text: str, said: Said) -> Amount:
    """How high the piece lies, as `23, the pocket bottom`, `on the base`. Raises Unclear for a
    depth alone."""
    if not re.search("[0-9]", with_figures(cleaned(text))):
        plain, third = cleaned(text), _third(said)
        if _ON_THE_BED.search(plain) and not NOTS & set(words_of(plain)):
            return Amount("0", 0.0)
        if _ON_IT.search(plain) and not NOTS & set(words_of(plain)):
            if third is None:
                raise Unclear("how high above the bed is its top, where the piece lies?")
            return third
    text = _ON_IT.sub(" ", cleaned(text))
    high, deep = _seat_and_depth(text, said)
    if high is not None:
        must_be_within(high, 0, 2000, said.unit)
        return high
    top = _third(said)
    if deep is not None and top is not None and top.mm >= deep.mm:
        at = told_size(top.mm - deep.mm, said.unit)
        raise Unclear(
            f"{told_size(deep.mm, said.unit)} below the jig's top, so {at} above the bed? Enter "
            "takes that",
            at,
        )
    raise Unclear("how high above the bed is the bottom of it, where the piece lies?")


def _seat_and_depth(text: str, said: Said) -> tuple[Amount | None, Amount | None]:
    """What is said of a seat: how high it lies above the bed, and how deep its pocket is."""
    parts = [part for part in re.split(r"[,;](?=\s)|\band\b", cleaned(text)) if part.strip()]
    numbered = [part for part in parts if re.search("[0-9]", with_figures(part))]
    if not numbered and (_ON_IT.search(cleaned(text)) or _ON_THE_BED.search(cleaned(text))):
        return None, None
    if len(numbered) < 2:
        found = amounts(_OTHER_WORDS.sub(" ", cleaned(text)), said, 1)[0]
        return (None, found) if _DEEP.search(cleaned(text)) else (found, None)
    deep = [part for part in numbered if _DEEP.search(part)]
    high = [part for part in numbered if part not in deep]
    if len(deep) != 1 or len(high) != 1:
        raise Wanted("one length", text, f", which has {len(numbered)}")
    return _length_of(high[0], said), _length_of(deep[0], said)


def _third(said: Said) -> Amount | None:
    """The height of a jig that was told with its size."""
    sides = said["footprint"]
    return sides[2] if sides and len(sides) == 3 else None


def seat_of_footprint(said: Said) -> str | None:
    """The seat that follows from a jig's size: its pocket's bottom, or the top of a board.

    None where the jig's height over all was told, which says nothing of where the piece lies.
    """
    third, told_so = _third(said), _also("pocket", said)
    pocket = _length_of(told_so, said)
    if pocket is not None and not _DEEP.search(told_so):
        return told_size(pocket.mm, said.unit)
    if third is None:
        return None if pocket is not None else usual("18", "3/4")(said)
    if pocket is not None:
        return told_size(max(0.0, third.mm - pocket.mm), said.unit)
    return None if _also("over all", said) else told_size(third.mm, said.unit)


def seat_doubts(value: Amount, said: Said) -> list[str]:
    """A seat that is far from usual, or above the whole jig."""
    third = _third(said)
    if third is not None and value.mm > third.mm:
        return [
            f"the jig was said to be {told_size(third.mm, said.unit)} high, and the piece above"
        ]
    return odd(value, 0, 300, "a seat", said.unit)


def _heights_said(said: Said) -> list[tuple[str, Amount]]:
    """Every height of a jig that was said, by the question that it was said to."""
    top = _top_said(said)
    found = [("footprint", each) for each in (_third(said), top) if each is not None]
    if said["seat"] is not None:
        found.append(("seat", said["seat"]))
        deep = _seat_and_depth(said.texts["seat"], said)[1]
        if deep is not None:
            found.append(("seat", Amount("", said["seat"].mm + deep.mm)))
    return found


_FROM_ITS_TOP = re.compile(r"\b(?:on top|above|over|higher|proud|stick(?:s|ing)?)\b")


def _top_said(said: Said) -> Amount | None:
    """How high above the bed what stands on a jig is, as it was told with its size: lower than the
    jig, or so many on top, it counts from the jig's top. None where that is not known."""
    told_so, third = _also("top", said), _third(said)
    if not re.search("[0-9]", told_so) or (high := _length_of(told_so, said)) is None:
        return None
    if (third is not None and high.mm < third.mm) or _FROM_ITS_TOP.search(told_so):
        return Amount("", third.mm + high.mm) if third is not None else None
    return high


def highest_said(said: Said) -> str | None:
    """The largest of all heights of a jig that were said; None where something higher was told of
    without how high."""
    if _also("top", said) and _top_said(said) is None:
        return None
    found = max((each.mm for _, each in _heights_said(said)), default=None)
    return None if found is None else told_size(found, said.unit)


def heights_of_footprint(said: Said) -> str | None:
    """Seat and tallest point as they follow from a jig's size; None where the seat does not."""
    seat = seat_of_footprint(said)
    if seat is None:
        return None
    after = said.with_answer("seat", seat, read_seat(seat, said))
    highest = highest_said(after)
    return f"seat {seat}, tallest {highest}" if highest else f"seat {seat}"


def read_height(text: str, said: Said) -> Amount:
    """How high a jig's tallest point is above the bed, as `1 1/8 with the stop strip`, or with the
    sum where it is told from the jig or the piece."""
    plain = cleaned(text)
    if not re.search("[0-9]", with_figures(plain)):
        known = highest_said(said)
        is_same = _THE_SAME.search(plain) and not NOTS & set(words_of(plain))
        if known is not None and (is_same or _NOTHING_TALLER.search(plain)):
            return length(0, 2000)(known, said)  # type: ignore[no-any-return]
    if NOTS & set(words_of(plain)):
        raise Unclear("how high above the bed is it then?")
    if _ABOVE_IT.search(plain):
        base_mm = held_mm(said)
        if base_mm is None:
            raise Unclear("above what is that: how high is it above the bed?")
        (high,) = amounts(_OTHER_WORDS.sub(" ", _ABOVE_IT.sub(" ", plain)), said, 1)
        at = told_size(base_mm + high.mm, said.unit)
        raise Unclear(
            f"{told_size(high.mm, said.unit)} above the jig's base, so {at} above the bed? Enter "
            "takes that",
            at,
        )
    bare = FROM_THE_WORK.sub(" ", plain)
    found: Amount = length(0, 2000)(_OTHER_WORDS.sub(" ", bare), said)
    return from_bed(found, plain, said) or found


FROM_THE_WORK = re.compile(
    r"\b(?:above|over|on top of|higher than|past|proud of|from|beyond)\s+"
    r"(?:(?:the|its|my|that)\s+)*(?:top of (?:the|its|my)\s+)?"
    r"(?P<what>base|jig|tray|carrier|seat|piece|part|blank|stock|work|panel|plate|board|sheet)"
    r"\b(?:'s)?(?: top)?"
)
"""What a height is told from, where that is not the bed."""
_OF_JIGS = frozenset(("base", "jig", "tray", "carrier", "seat"))


_EITHER = frozenset(("plate", "board", "panel", "sheet"))
"""What may be the bed, the jig or the piece."""


def called_so(word: str, said: Said) -> str | None:
    """Whether `plate` and its like are the jig or the piece, by what each was called; else None."""
    texts = {"jig": said.texts.get("footprint", ""), "piece": said.texts.get("stock", "")}
    found = [thing for thing, text in texts.items() if re.search(rf"\b{word}s?\b", text.lower())]
    return found[0] if len(found) == 1 else None


def from_bed(high: Amount, plain: str, said: Said) -> Amount | None:
    """A height above the bed that was told from the top of jig or piece; None where it was not.

    Raises Unclear where it is not known how high that top is.
    """
    match = FROM_THE_WORK.search(plain)
    if match is None:
        return None
    what, seat, stock = match["what"], said["seat"], said["stock"]
    if what in _EITHER and (called := called_so(what, said)) is None:
        held = held_mm(said)
        if held is None:
            raise Unclear(f"{told_size(high.mm, said.unit)} above that: how high above the bed?")
        at, holds = told_size(held + high.mm, said.unit), "jig" if seat else "piece"
        raise Unclear(
            f"{told_size(high.mm, said.unit)} above the {what}, if that is the {holds}: so {at} "
            "above the bed? Enter takes that",
            at,
        )
    if what in _EITHER:
        what = called
    if what in _OF_JIGS and said["holder"] == "jig":
        top_mm = None if seat is None else seat.mm
        if what != "seat" and (third := _third(said)) is not None:
            top_mm = third.mm
    else:
        thick = stock[2] if stock and len(stock) == 3 else None
        under_mm = (seat.mm if seat else None) if said["holder"] == "jig" else 0.0
        top_mm = None if thick is None or under_mm is None else under_mm + thick.mm
    if top_mm is None:
        raise Unclear(f"{told_size(high.mm, said.unit)} above the {what}: how high above the bed?")
    how = f"{told_size(high.mm, said.unit)} + {told_size(top_mm, said.unit)}"
    return _reckoned(top_mm + high.mm, said.unit, how)


def _reckoned(length_mm: float, unit: Unit, how: str) -> Amount:
    """A length that was not typed, with what it was reckoned of."""
    return Amount(f"{in_unit(length_mm, unit):.9g} {unit}", length_mm, how)


def with_sum(value: Amount, unit: Unit) -> str:
    """A length, with what it was reckoned of."""
    return told_size(value.mm, unit) + (f" ({value.how})" if value.how else "")


def held_mm(said: Said) -> float | None:
    """How high above the bed the top is of what clamps hold: jig, or bare stock, mm."""
    top = said["stock"][2] if said["holder"] != "jig" and said["stock"] else None
    if said["holder"] == "jig":
        top = _third(said) or said["seat"]
    return top.mm if top else None


def sides_mm(said: Said) -> tuple[float, float]:
    """The own X and Y of what lies against the pins: jig, or bare stock, mm."""
    sides = said["footprint"] if said["holder"] == "jig" else said["stock"]
    return sides[0].mm, sides[1].mm


def height_cannot(value: Amount, said: Said) -> list[str]:
    """A tallest point below what was said to be as high."""
    said_so = _heights_said(said)
    if not said_so:
        return []
    key, highest = max(said_so, key=lambda each: each[1].mm)
    if value.mm >= highest.mm - 1e-6:
        return []
    high = told_size(highest.mm, said.unit)
    if key == "seat" and highest == said["seat"]:
        return [f"the tallest point is not below the seat, {high} (back seat changes that)"]
    return [f"the jig was said to be {high} high (back {key} changes that)"]


def spoil_cannot(value: Amount, said: Said) -> list[str]:
    """A cut through the whole board."""
    thick = said["thickness"]
    if thick is None or value.mm < thick.mm:
        return []
    return [
        f"a cut of {told_size(value.mm, said.unit)} goes through the board, which is "
        f"{told_size(thick.mm, said.unit)} thick (back thickness changes that)"
    ]


def skew_doubts(value: Amount, said: Said) -> list[str]:
    """A bound that gives no block."""
    skew_mm = said.skew_mm(said)
    if value.mm >= skew_mm:
        return []
    return [f"the work lies {told(skew_mm, said.unit, 2)} askew, which is more: there is no block"]


def too_skew(said: Said) -> bool:
    """Whether the first station lies askew by more than a block leaves unwritten as a rule."""
    return said.skew_mm(said) > DEFAULT_MAX_SKEW_MM


def tells_footprint(value: list[Amount], said: Said) -> str:
    """The sides, and a height that was told with them."""
    x, y, *third = (told_size(each.mm, said.unit) for each in value)
    more = [f"{each} high" for each in third]
    also = getattr(value, "also", {})
    more += [also[key] for key in ("pocket", "top") if key in also]
    if "turn" in also:
        more.append(tells_turn(also["turn"], said.with_answer("footprint", "", value)))
    elif "front" in also:
        more.append(f"{also['front']}: asked next")
    return "; ".join((f"X {x}, along its own front edge, Y {y}", *more))


def tells_seat(value: Amount, said: Said) -> str:
    """How high the piece lies, and how deep that is in its pocket where that was said."""
    told_so = said.texts.get("seat", value.written)
    deep = _seat_and_depth(told_so, said)[1]
    pocket = f", {told_size(deep.mm, said.unit)} deep in its pocket" if deep else ""
    return as_told([value], said.unit) + pocket


def read_lies(text: str, said: Said) -> list[Amount]:
    """Where the piece's front left corner is from the jig's: X and Y, or `in the middle`. Raises
    Wanted, Unclear."""
    room = [
        side.mm - size.mm
        for side, size in zip(said["footprint"][:2], said["stock"][:2], strict=True)
    ]
    found = place_in(text, Room((room[0], room[1]), False), said)
    for each in found:
        must_be_within(each, -50_000, 50_000, said.unit)
    return found


def tells_lies(value: list[Amount], said: Said) -> str:
    """Where the piece lies in the jig."""
    x, y = (
        f"{axis} {told_size(at.mm, said.unit)} to {told_size(at.mm + size.mm, said.unit)}"
        for axis, at, size in zip("XY", value, said["stock"][:2], strict=True)
    )
    return f"the piece lies from {x}, {y} in the jig"


def _so_long(length_mm: float, unit: Unit) -> Amount:
    """A length as a bare number of the shop's unit."""
    return Amount(f"{in_unit(length_mm, unit):.9g}", length_mm)


def read_zero(text: str, said: Said) -> list[Amount]:
    """Where program zero is from the piece's front left corner: a corner of the piece, its middle,
    the middle of an edge, X and Y, or the jig's own corner. Raises Wanted, Unclear."""
    plain = _by_axes(re.sub(r"^(?:program )?zero (?:is|lies)\b", "", cleaned(text)))
    plain = _OF_Z.sub(" ", plain)
    words = set(words_of(plain.replace("-", " ")))
    if not words & {"front", "back", "rear"}:  # as CAM draws it: the top is the back
        plain = re.sub(r"\b(?:top|upper)\b", "back", plain)
        plain = re.sub(r"\b(?:bottom|lower)\b", "front", plain)
    has_figures = re.search(r"[0-9]", with_figures(plain))
    if said["lies"] and words & _OF_THE_JIG and not words & (NOTS | _MIDDLE) and not has_figures:
        if words & {"right", "back", "rear"}:
            raise Unclear("how far is it from the piece's own front left corner, X and Y?")
        return [_so_long(-each.mm, said.unit) for each in said["lies"]]
    width, depth = (each.mm for each in said["stock"][:2])
    found = place_in(plain, Room((width, depth), True), said)
    for each in found:
        must_be_within(each, -20_000, 20_000, said.unit)
    return found


_LOW_OR_HIGH = re.compile(r"\b(?:(low|min)|(?:high|max))(?:est|imum)? (?:in )?([xy])\b")


def _by_axes(plain: str) -> str:
    """`lowest X, highest Y` as the sides of the piece that these are."""
    found = {match[2]: bool(match[1]) for match in _LOW_OR_HIGH.finditer(plain)}
    if len(found) < 2:
        return plain
    return f"{'front' if found['y'] else 'back'} {'left' if found['x'] else 'right'}"


_OF_THE_JIG = frozenset(("jig", "jig's", "jigs", "tray", "tray's"))
_MIDDLE = frozenset(("middle", "centre", "center"))
_OF_Z = re.compile(
    r"\b(?:(?:on |at |,\s*)?(?:the )?(?:top|upper|bottom|under)(?: (?:side|face|surface|of "
    r"(?:the )?(?:part|piece|stock|work|it)))?)\b(?!\s*(?:left|right|edge))"
)


def zero_words(said: Said) -> str:
    """The question where program zero is on the piece."""
    where = "front left" if said["lies"] else "front left (lowest X and Y)"
    return (
        f"Where on the piece is program zero, the X0 Y0 of your CAM? {where}, front right, back "
        "left, back right, middle; or X and Y from front left."
    )


def tells_zero(value: list[Amount], said: Said) -> str:
    """Where program zero is, on the piece and in the jig."""
    x_on, y_on = (told_size(each.mm, said.unit) for each in value)
    is_corner = not any(each.mm for each in value)
    if not said["lies"]:
        corner = f"the piece's corner of lowest X and Y ({lowest_corner(said)})"
        return corner if is_corner else f"X {x_on}, Y {y_on} from {corner}"
    at = [lies.mm + each.mm for lies, each in zip(said["lies"], value, strict=True)]
    x, y = (told_size(each, said.unit) for each in at)
    if is_corner:
        return f"the piece's front left corner, X {x}, Y {y} in the jig"
    return f"X {x_on}, Y {y_on} from the piece's front left corner: X {x}, Y {y} in the jig"


def lowest_corner(said: Said) -> str:
    """Where the corner of lowest X and Y lies for whoever stands at the machine."""
    right, away = person_of(said).bed_vector((-1.0, -1.0))
    return f"{'the far end' if away > 0 else 'your end'}, {'right' if right > 0 else 'left'}"


def is_off_the_corner(said: Said) -> bool:
    """Whether the program zero of bare stock is elsewhere than at its corner of lowest X and Y."""
    is_stock = said["holder"] == "stock"
    return is_stock and bool(said["zero"]) and any(each.mm for each in said["zero"])


def zero_doubts(value: list[Amount], said: Said) -> list[str]:
    """A program zero beside the piece."""
    for at, side in zip(value, said["stock"][:2], strict=True):
        if not -1e-6 <= at.mm <= side.mm + 1e-6:
            sides = as_told(said["stock"][:2], said.unit)
            return [f"program zero lies beside the piece, which is {sides}"]
    return []


def zero_in_jig(said: Said) -> list[Amount]:
    """Program zero from the jig's own front left corner."""
    return [
        lies if not each.mm else _so_long(lies.mm + each.mm, said.unit)
        for lies, each in zip(said["lies"] or [Amount("0", 0.0)] * 2, said["zero"], strict=True)
    ]


def tells_stock(value: list[Amount], said: Said) -> str:
    """The sides and the thickness."""
    x, y, thick = (told_size(each.mm, said.unit) for each in value)
    return f"X {x}, Y {y}, {thick} thick"


# ---- where on the bed ----------------------------------------------------------------------------

QUADRANTS = ("+x+y", "-x+y", "+x-y", "-x-y")
_QUADRANT = re.compile(r"([+-]|plus |minus )\s*x[\s,]*(?:and )?([+-]|plus |minus )\s*y")
_FAR = {
    "away",
    "up",
    "upwards",
    "far",
    "behind",
    "farther",
    "further",
    "back",
    "rear",
    "backward",
    "backwards",
}
_NEAR = {
    "down",
    "downwards",
    "toward",
    "towards",
    "near",
    "nearer",
    "front",
    "forward",
    "forwards",
    "me",
    "you",
}
_OF_MACHINE = {
    "up",
    "down",
    "upwards",
    "downwards",
    "back",
    "rear",
    "front",
    "backward",
    "backwards",
    "forward",
    "forwards",
}
_OF_QUADRANT = "one of +x+y, -x+y, +x-y, -x-y, or where it lies as you see it"


def quadrant_words(quadrant: str, said: Said) -> str:
    """A quadrant as whoever stands at the machine sees it."""
    vector = tuple(1.0 if sign == "+" else -1.0 for sign in quadrant[::2])
    right, away = person_of(said).bed_vector((vector[0], vector[1]))
    ends = ("back", "front") if said["operator"] in (None, "front") else ("away", "to you")
    return f"{'right' if right > 0 else 'left'} and {ends[0] if away > 0 else ends[1]}"


def toward_examples(said: Said) -> tuple[str, ...]:
    """A quadrant by its signs and by words."""
    return ("+x+y", quadrant_words("+x+y", said))


def place_examples(said: Said) -> tuple[str, ...]:
    """A hole, and where the work lies from it."""
    return (f"A1, {quadrant_words('+x+y', said)}", *corner_examples(said)[1:])


def corner_examples(said: Said) -> tuple[str, ...]:
    """A hole by its label and by words; words of the machine's sides where somebody is in front."""
    if said["operator"] in (None, "front"):
        return ("A1", "front left", "third across, second up")
    return ("A1", "third column, second row")


def quadrants(said: Said) -> tuple[Option, ...]:
    """The four, as whoever stands at the machine sees them."""
    return tuple(Option(each, quadrant_words(each, said)) for each in QUADRANTS)


_STOPS = frozenset(
    ("pin", "pins", "stop", "stops", "edge", "edges", "against", "fence", "touches", "pushed")
)
"""Words of what the work is pushed against: it lies on the other side of that."""


def read_toward(text: str, said: Said) -> str:
    """The quadrant of signs, or of words of whoever stands at the machine. Raises Unclear for words
    of the machine where somebody stands at another side than its front."""
    plain = cleaned(text)
    if match := _QUADRANT.search(plain):
        return "".join(
            ("-" if sign.strip() in ("-", "minus") else "+") + axis
            for sign, axis in zip(match.groups(), "xy", strict=True)
        )
    plain = re.sub(r"\b(?:from|of) (?:me|you)\b", "", plain)
    words = [word.strip(".") for word in words_of(plain.replace("-", " "))]
    if len(words) == 1 and words[0] in ("1", "2", "3", "4"):
        return QUADRANTS[int(words[0]) - 1]
    across, along = set(words) & {"right", "left"}, set(words) & (_FAR | _NEAR)
    is_far, is_near = bool(along & _FAR), bool(along & _NEAR)
    if len(across) != 1 or is_far == is_near:
        raise Wanted(_OF_QUADRANT, text)
    seen = (1.0 if "right" in across else -1.0, 1.0 if is_far else -1.0)
    if stops := set(words) & _STOPS:
        away = f"{'right' if seen[0] < 0 else 'left'} and {'back' if seen[1] < 0 else 'front'}"
        raise Unclear(
            f"with {stops.pop()} there the work lies {away} of the corner? Enter takes that", away
        )
    found = turned_by_quarters(seen, -person_of(said).of_bed)
    if said["operator"] not in (None, "front") and along & _OF_MACHINE:
        found = seen
    quadrant = f"{'+' if found[0] > 0 else '-'}x{'+' if found[1] > 0 else '-'}y"
    if found == seen and said["operator"] not in (None, "front") and along & _OF_MACHINE:
        raise Unclear(
            f"{plain}: as the machine's X and Y go that is {quadrant}, to you "
            f"{quadrant_words(quadrant, said)}. Enter takes it",
            quadrant,
        )
    return quadrant


def tells_toward(value: str, said: Said) -> str:
    """A quadrant in words."""
    return f"{value}: {quadrant_words(value, said)} of hole {said['corner']}, as you see it"


def toward_the_middle(said: Said) -> str | None:
    """The quadrant that has most room, seen from the inside corner."""
    at = places(said).get(said["corner"] or "")
    if at is None:
        return "+x+y"
    (columns, rows), (pitch_x, pitch_y) = said["holes"], said["pitch"]
    middle = (columns - 1) * pitch_x.mm / 2, (rows - 1) * pitch_y.mm / 2
    x, y = ("-" if here > there + 1e-6 else "+" for here, there in zip(at, middle, strict=True))
    return f"{x}x{y}y"


def toward_doubts(value: str, said: Said) -> list[str]:
    """Work that reaches beyond the bed."""
    at = places(said).get(said["corner"] or "")
    if at is None or not said["size"] or not said["edge"] or not said["body"]:
        return []
    sides = sides_mm(said)
    if turn_of(said) in (90, 270):
        sides = sides[::-1]
    doubts = []
    for axis, sign in enumerate(value[::2]):
        way = -1.0 if sign == "-" else 1.0
        end_mm = at[axis] + way * (said["body"].mm / 2 + sides[axis])
        low_mm = -said["edge"][axis].mm
        over_mm = max(low_mm - end_mm, end_mm - (low_mm + said["size"][axis].mm))
        if over_mm > 1.0:
            what = "jig" if said["holder"] == "jig" else "piece"
            vector = (way, 0.0) if axis == 0 else (0.0, way)
            there = {"toward": "your", "away": "far"}
            edge = person_of(said).way_on_bed(vector)
            doubts.append(
                f"the {what} would hang {told(over_mm, said.unit, 1)} over the bed's "
                f"{there.get(edge, edge)} edge"
            )
    return doubts
