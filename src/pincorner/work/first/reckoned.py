"""What the questions reckon: defaults that follow from earlier answers, doubts, what is told."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from pincorner.documents.beds import ColumnLetters
from pincorner.documents.fields import check_name
from pincorner.documents.machines import DEFAULT_MAX_SKEW_MM
from pincorner.documents.stations import EdgePins, hole_of
from pincorner.geometry.pose import XY, Pose, normal_deg, turned_by_quarters
from pincorner.setups.choice import FartherIn
from pincorner.setups.person import Person, Way, person_beside
from pincorner.setups.printed import lies_from_zero, turn_told
from pincorner.units import Unit, in_unit, parse_length, told, told_size
from pincorner.work.first.typed import (
    BY_EDGES,
    IN_XYZ,
    NOT_KNOWN,
    Amount,
    Asks,
    Choice,
    Option,
    Read,
    Said,
    Wanted,
    as_told,
    cleaned,
    kept_as,
    labels,
    length,
    lengths,
    must_not_turn_round,
    odd,
    rank,
    scan,
    words_of,
    yes_or_no,
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


def is_in_front(said: Said) -> bool:
    """Whether front and back are for the person what they are for the machine."""
    return said["operator"] in (None, "front")


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
    other = "comes toward you" if way == "away from you" else "goes away from you"
    check = f"the cutter goes {way}"
    if said["moves"] == "bed":
        check += f", or, where the table moves and not the cutter, the table {other}"
    elif said["moves"] is None:
        check += f" (a table that moves {other})"
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
    return next((turn for turn in (0, 90, 180, 270) if front_points(turn, said) == said["turn"]), 0)


def ways(said: Said) -> tuple[Option, ...]:
    """The four ways in which a front edge may point."""
    phrases = {
        "to you": ("to me", "toward me", "towards me", "toward you", "me", "you"),
        "right": ("to the right", "to my right"),
        "away": ("away from me", "away from you"),
        "left": ("to the left", "to my left"),
    }
    return tuple(
        Option(word, "unturned" if front_points(0, said) == word else "", more)
        for word, more in phrases.items()
    )


def read_turn(text: str, said: Said) -> Read:
    """Where the jig's own front edge points."""
    return Choice(*ways(said))(text, said)


def tells_turn(value: str, said: Said) -> str:
    """Where the front edge points, and which turn that is in the documents."""
    turn = turn_of(said.with_answer("turn", value, value))
    to = {"to you": "to you", "away": "away from you"}.get(value, f"to your {value}")
    turned = f"turned by {turn_told(turn)}" if turn else "not turned"
    return f"its own FRONT edge points {to}: {turned} (turn {turn} in documents)"


def unturned(said: Said) -> str | None:
    """Where the front edge of a jig points that lies as the machine's X and Y do."""
    return front_points(0, said)


def posted_words(said: Said) -> str:
    """The question whether the program is turned as well, with where the piece lies either way."""
    turn = turn_of(said)
    return (
        f"The jig lies turned by {turn_told(turn)}. Did CAM turn the program by that too, yes or "
        f"no? Turned, {piece_from_zero(said, turn)}; "
        f"unturned,{piece_from_zero(said, 0).removeprefix('the piece lies')}."
    )


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
        f"turn the program in CAM by {turn_told(turn_of(said))} and say yes; or lay the jig "
        "unturned (back turn)"
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


_REACHES: dict[int, Mapping[str, int]] = {
    1: {},
    3: {"side": 0, "sides": 0, "front": 1, "back": 2},
    4: {"left": 0, "right": 1, "front": 2, "back": 3},
}


def read_reach(text: str, said: Said) -> Read:
    """How far what moves reaches: to each side, front and back; one length for all, or four."""
    many = len(scan(text, *_REACHES).lengths)
    found = lengths(0, 5_000, *_REACHES, places=_REACHES.get(many, {}))(text, said)
    return found._replace(value=([found.value[0]] * (4 - many) + found.value))


def tells_reach(value: list[Amount], said: Said) -> str:
    """How far what moves reaches to each side."""
    each = (in_unit(side.mm, said.unit) for side in value)
    sides = zip(("left", "right", "front", "back"), each, strict=True)
    return ", ".join(f"{word} {long:.6g}" for word, long in sides) + f" {said.unit}"


def thickness_of(said: Said) -> Amount | None:
    """How thick the bed is; None where it was not said."""
    size = said["size"]
    return size[2] if size and len(size) == 3 else None


def size_of_bed_doubts(value: list[Amount], said: Said) -> list[str]:
    """A bed that is far from usual."""
    sides = [line for each in value[:2] for line in odd(each, 150, 8000, "a bed", said.unit)]
    thick = [line for each in value[2:] for line in odd(each, 3, 150, "a board", said.unit)]
    return list(dict.fromkeys(sides + thick))


def tells_sizes(value: list[Amount], said: Said) -> str:
    """X, Y and how thick."""
    x, y, *thick = (told_size(each.mm, said.unit) for each in value)
    return ", ".join((f"X {x}", f"Y {y}", *(f"{each} thick" for each in thick)))


def tells_pitch(value: list[Amount], said: Said) -> str:
    """How far apart the holes are, both ways where that differs."""
    return as_told(value[: len({each.mm for each in value})], said.unit)


def hole_that_fits(said: Said) -> str | None:
    """A usual hole, or a third of a small pitch."""
    usual_mm, pitch_mm = (19.05 if said.unit == "in" else 20.0), min(p.mm for p in said["pitch"])
    if usual_mm < pitch_mm / 2:
        return usual("20", "3/4")(said)
    return told_size(round(pitch_mm / 3, 1), said.unit)


def holes_that_fit(said: Said) -> str | None:
    """As many holes as the bed, or the travel, has room for."""
    found = []
    for room_mm, pitch, few in zip(spans(said), said["pitch"], (10, 6), strict=True):
        found.append(few if room_mm is None else max(1, min(500, int(room_mm // pitch.mm))))
    return f"{found[0]} x {found[1]}"


def holes_doubts(value: list[int], said: Said) -> list[str]:
    """Holes that reach over more than the bed or the travel."""
    doubts: list[str] = []
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


def tells_holes(value: list[int], said: Said) -> str:
    """Columns and rows with their labels."""
    columns, rows = value
    last = ColumnLetters().of(columns)
    return (
        f"{columns} along X, columns A to {last}; {rows} along Y, rows 1 to {rows}; A1 is at the "
        "lowest X and Y"
    )


def places(said: Said) -> Mapping[str, XY]:
    """Where each hole of the grid is from A1 as drawn, mm."""
    (columns, rows), (pitch_x, pitch_y) = said["holes"], said["pitch"]
    letters = [ColumnLetters().of(column + 1) for column in range(columns)]
    return {
        f"{letter}{row + 1}": (column * pitch_x.mm, row * pitch_y.mm)
        for column, letter in enumerate(letters)
        for row in range(rows)
    }


def must_be_there(label: str, said: Said) -> None:
    """Raise ValueError for a hole that the grid does not have."""
    if label not in places(said):
        raise ValueError(
            f"there is no hole {label} on this grid: it has {tells_holes(said['holes'], said)}"
        )
    if label in (said["missing"] or ()):
        raise ValueError(f"hole {label} was said to be missing (back missing changes that)")


_COLUMN_AND_ROW = (
    re.compile(r"\b(?:col(?:umn)?s? )?(?P<column>[a-z]{1,3})[\s,-]*(?:row )?(?P<row>[0-9]{1,3})\b"),
    re.compile(r"\brow (?P<row>[0-9]{1,3})[\s,]*(?:col(?:umn)? )(?P<column>[a-z]{1,3})\b"),
)


def _joined(text: str, said: Said) -> str:
    """A text in which `column D, row 5` and `D 5` are labels."""
    plain = cleaned(text)
    for pattern in _COLUMN_AND_ROW:
        match = pattern.search(plain)
        if match and f"{match['column'].upper()}{match['row']}" in places(said):
            label = f" {match['column']}{match['row']} "
            return plain[: match.start()] + label + plain[match.end() :]
    return plain


def read_hole(text: str, said: Said) -> Read:
    """One hole by its label, or by its column along X and its row along Y as two counts, in words
    too: `C2`, `column C, row 2`, `3 2`, `row 2, column 3`; from the left and the front for somebody
    who stands there."""
    found, words = labels(_joined(text, said))
    counted = [count for word in words if (count := rank(word))]
    rest = tuple(word for word in words if not rank(word))
    if not found and len(counted) == 2:
        scanned = scan(" ".join(f"{rank(word) or word}" for word in words), 2)
        if len(scanned.lengths) != 2:
            raise Wanted("the label of one hole, or its column and its row", text)
        order, rest = scanned.placed(BY_EDGES if is_in_front(said) else IN_XYZ, text)
        column, row = (counted[at] for at in order)
        columns, rows = said["holes"]
        if not (column <= columns and row <= rows):
            raise ValueError(f"the grid has {tells_holes(said['holes'], said)}")
        found, counted = [f"{ColumnLetters().of(column)}{row}"], []
    if len(found) != 1 or counted:
        raise Wanted("the label of one hole, or its column and its row", text)
    must_not_turn_round(rest)
    must_be_there(found[0], said)
    return Read(found[0], found[0], rest)


def corner_words(said: Said) -> str:
    """The question which hole stays empty in the corner of the pins."""
    counted = "how many holes from the left and from the front" if is_in_front(said) else (
        "its column and its row"
    )  # fmt: skip
    return (
        "The work is pushed into the corner of a row and a column of pins. Which hole is in that "
        f"corner (it stays empty)? Its label, as in the picture, or {counted}."
    )


def read_missing(text: str, said: Said) -> Read:
    """Labels of holes that are not there, or none."""
    found, rest = labels(text)
    if not found and is_none(text):
        return Read([], "none", tuple(rest[1:]))
    if not found:
        raise Wanted("labels of holes, or none", text)
    for label in found:
        must_be_there(label, said)
    return Read(found, " ".join(found), tuple(rest))


def tells_spread(value: Amount, said: Said) -> str:
    """An error that two of three are within, and what nearly all are within: thrice that, where
    they are scattered evenly about their middle (JCGM 100, G.1.3: 99.73 of 100)."""
    two, all_ = (told_size(many * value.mm, said.unit) for many in (1, 3))
    return f"two in three within {two}, nearly all within {all_}"


def tells_work_offset(value: str, said: Said) -> str:
    """A work offset, and who sets it."""
    return f"{value}, which {'you key in' if said['controller'] == 'keyed' else 'the block writes'}"


MADE = Choice(
    Option("machine", "this router, or one as good", ("router", "cnc")),
    Option("hand", "by hand, or with a template", ("template", "drill", "drilled by hand")),
    Option("drawing", "bored to a drawing", ("bored", "jig bored", "reamed")),
)
_MADE_MM: dict[str, tuple[str, str]] = {
    "machine": ("0.1", "0.004"), "hand": ("0.3", "0.012"), "drawing": ("0.02", "0.0008"),
}  # fmt: skip
"""How far off holes may be, two of three, in mm and inches: common practice, no source."""


def read_made(text: str, said: Said) -> Read:
    """How far off holes may be: by who made them, or a length."""
    try:
        found = MADE(text, said)
    except Wanted:
        if re.search("[0-9]", text):
            return length(0, 20)(text, said)
        raise
    written = _MADE_MM[found.value][said.unit == "in"]
    value = Amount(written, parse_length(f"{written} {said.unit}", None))
    return found._replace(value=value)


def grid_mm(said: Said) -> tuple[float, float]:
    """From the first hole to the last, along X and Y, mm."""
    (columns, rows), (pitch_x, pitch_y) = said["holes"], said["pitch"]
    return (columns - 1) * pitch_x.mm, (rows - 1) * pitch_y.mm


def edge_in_the_middle(said: Said) -> str | None:
    """The grid in the middle of the bed."""
    left = [
        max(0.0, (size.mm - reach) / 2)
        for size, reach in zip(said["size"][:2], grid_mm(said), strict=True)
    ]
    return " x ".join(told_size(each, said.unit) for each in left)


def edge_cannot(value: list[Amount], said: Said) -> list[str]:
    """Holes off the bed."""
    found = []
    for at, size, reach, axis in zip(value, said["size"], grid_mm(said), "XY", strict=False):
        over_mm = at.mm + reach - size.mm
        if over_mm > 1e-6:
            found.append(
                f"the last holes along {axis} would lie {told_size(over_mm, said.unit)} off the bed"
            )
    return found


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


# ---- two holes that are read off -----------------------------------------------------------------

MARK = "mark"
"""Where G54 is set that is not over a hole."""


def read_reference(text: str, said: Said) -> Read:
    """The hole over which G54 is set each day, or `mark`."""
    words = words_of(text)
    if MARK in words and not labels(text)[0]:
        return Read(MARK, MARK, tuple(word for word in words if word != MARK))
    return read_hole(text, said)


def tells_reference(value: str, said: Said) -> str:
    """What G54 is set over."""
    return "a mark elsewhere" if value == MARK else f"G54 is set over hole {value}"


def first_hole(said: Said) -> tuple[str, list[Amount] | None]:
    """The hole that was read off first, and what was read there; A1 where it is not yet said.

    On a machine that does not home that is the hole over which G54 is set, at 0 0.
    """
    if not homes(said) and said["reference"] not in (None, MARK):
        return said["reference"], [Amount("0", 0.0), Amount("0", 0.0)]
    return "A1", said["a1"]


def a1_place(said: Said, angle_deg: float) -> XY | None:
    """Where A1 of a grid that lies turned by an angle is in the machine, mm: the grid turns about
    the hole that was read off first."""
    label, read = first_hole(said)
    if read is None:
        return None
    x, y = places(said)[label]
    turned = Pose.of_degrees("machine", "bed", read[0].mm, read[1].mm, angle_deg)
    return turned.point((-x, -y))


def reference_note(said: Said) -> str:
    """What G54 is set over, for the bed's document; nothing for A1, or where it homes."""
    if homes(said) or said["reference"] in (None, "A1"):
        return ""
    if said["reference"] != MARK:
        return f"G54 is set to zero over hole {said['reference']}"
    if not said["a1"]:
        return ""
    at = ", ".join(f"{axis} {each.written}" for axis, each in zip("XY", said["a1"], strict=True))
    return f"G54 is set to zero at a mark; hole A1 is at {at} {said.unit} from there"


def a1_words(said: Said) -> str:
    """The question where hole A1 is: on a machine that does not home, from where G54 is set."""
    if homes(said):
        return (
            "Jog over the middle of hole A1 (lowest X and Y). Which machine position does it read?"
        )
    return "From that mark, where is hole A1 (lowest X and Y): X and Y? Minus is to lower X or Y."


def tells_a1(value: list[Amount], said: Said) -> str:
    """Where hole A1 is."""
    at = f"A1 at X {value[0].written}, Y {value[1].written}"
    return at if homes(said) else f"{at} {said.unit} from the mark where G54 is zero"


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


class Far(NamedTuple):
    """A second hole that was read off, and what the read-out showed over it."""

    hole: str
    at: list[Amount]


def far_hole(said: Said) -> str:
    """The hole that the grid's angle is best read off by: in the row or column of the first one the
    farthest that the travel reaches."""
    first, read = first_hole(said)
    drawn = places(said)
    x, y = drawn[first]

    def reached(label: str) -> bool:
        if read is None:
            return True
        ends = zip((said["travel_x"], said["travel_y"]), read, drawn[label], (x, y), strict=True)
        return all(
            span is None or span[0].mm <= at.mm + there - here <= span[1].mm
            for span, at, there, here in ends
        )

    line = [label for label, at in drawn.items() if x in at[:1] or y in at[1:]]
    return max(
        (label for label in line if label == first or reached(label)),
        key=lambda label: (math.dist(drawn[label], (x, y)), drawn[label][1] == y),
    )


def far_words(said: Said) -> str:
    """The question what the second hole reads."""
    return (
        f"Now over hole {far_hole(said)}: which X and Y? Or over another one far from "
        f"{first_hole(said)[0]}: its label first."
    )


def far_examples(said: Said) -> tuple[str, ...]:
    """The second hole where it would be if the grid did not lie turned, by itself and named."""
    label, (first, read) = far_hole(said), first_hole(said)
    (x, y), (at_x, at_y) = places(said)[first], places(said)[label]
    from_x, from_y = (each.mm for each in read) if read else (0.0, 0.0)
    to_x, to_y = in_unit(from_x + at_x - x, said.unit), in_unit(from_y + at_y - y, said.unit)
    shown = f"X {to_x:.6g} Y {to_y:.6g}"
    return (shown, f"{label} {shown}")


def angle_of(said: Said) -> float:
    """The angle of row 1 in degrees, from two holes that were read off; 0 from one alone."""
    if not said["far"]:
        return 0.0
    drawn, read = _from_the_first(said["far"], said)
    return normal_deg(math.degrees(math.atan2(*read[::-1]) - math.atan2(*drawn[::-1])))


def _from_the_first(far: Far, said: Said) -> tuple[XY, XY]:
    """From the hole that was read off first to a second one: as drawn, and as they were read."""
    label, read = first_hole(said)
    first = read or [Amount("0", 0.0)] * 2
    (x, y), (at_x, at_y) = places(said)[label], places(said)[far.hole]
    read_x, read_y = (each.mm - from_.mm for each, from_ in zip(far.at, first, strict=True))
    return (at_x - x, at_y - y), (read_x, read_y)


def read_far(text: str, said: Said) -> Read:
    """What a second hole reads, its label in front where it is another than was asked for. Raises
    ValueError where it cannot be it."""
    first = words_of(text)[:1]
    label, rest = far_hole(said), text
    named = labels(first[0])[0] if first else []
    if named and len(scan(behind := text.strip()[len(first[0]) :], 2).lengths) == 2:
        label, rest = named[0], behind
        must_be_there(label, said)
    if label == first_hole(said)[0]:
        raise ValueError(f"{label} is the first hole; a second one is wanted, far from it")
    found = lengths(-50_000, 50_000, 2, places={"x": 0, "y": 1})(rest, said)
    at = found.value
    far = Far(label, at)
    _must_lie_there(far, said)
    kept = f"{label} {kept_as(at, said.unit)}" if named else kept_as(at, said.unit)
    return Read(far, kept, found.rest)


def _must_lie_there(far: Far, said: Said) -> None:
    """Raise ValueError, or Asks, where a hole cannot be where it was read off."""
    drawn, read = _from_the_first(far, said)
    first, near_mm = first_hole(said)[0], min(each.mm for each in said["pitch"]) / 4
    off_mm = math.dist(read, drawn)
    if off_mm <= near_mm:
        return
    (x, y), holes = places(said)[first], places(said)
    others = {
        label: math.dist(read, (at[0] - x, at[1] - y))
        for label, at in holes.items()
        if label not in (first, far.hole)
    }
    other = min(others, key=lambda label: others[label], default="")
    if other and others[other] <= near_mm / 2:
        raise Asks(
            f"that is where {other} lies, not {far.hole}: you jogged to {other}",
            f"{other} {kept_as(far.at, said.unit)}",
        )
    back = f" (back {'a1' if homes(said) else 'reference'})"
    unit, drawn_mm, long_mm = said.unit, math.hypot(*drawn), math.hypot(*read)
    apart = f"{first} and {far.hole} are {told(drawn_mm, unit, 1)} apart on the drawing"
    if math.dist(read[::-1], drawn) < off_mm / 4:
        raise ValueError(f"{apart}; X and Y of it look changed over")
    if abs(long_mm - drawn_mm) <= drawn_mm / 100:
        raise ValueError(
            f"{apart}, along {'X' if drawn[0] else 'Y'}; these lie along another way, or from "
            f"another first hole than {first}{back}"
        )
    raise ValueError(
        f"{apart}, and you read {told(long_mm, unit, 1)}: another hole (its label first), another "
        f"first hole{back}, or another pitch or number of holes (back holes)"
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
    """How much farther from the first hole the second one is than drawn, mm."""
    drawn, read = _from_the_first(value, said)
    return math.hypot(*read) - math.hypot(*drawn)


def far_cannot(value: Far, said: Said) -> list[str]:
    """A second hole beyond the travel."""
    return _beyond(value.at, value.hole, said)


def far_doubts(value: Far, said: Said) -> list[str]:
    """A second hole that lies nearer or farther than drawn."""
    drawn, _ = _from_the_first(value, said)
    off_mm = _off_the_pitch(value, said)
    if abs(off_mm) <= max(0.5, math.hypot(*drawn) / 1000):
        return []
    return [f"{value.hole} lies {_farther(off_mm, said)} than the pitch has it"]


# ---- sizes ---------------------------------------------------------------------------------------


def shank_examples(said: Said) -> tuple[str, ...]:
    """A pin that goes into the hole."""
    hole, play_mm = said["hole"], 0.1 if said.unit == "mm" else 0.127
    return ("{19.9|0.745}",) if hole is None else (told_size(hole.mm - play_mm, said.unit),)


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


def body_doubts(value: Amount, said: Said) -> list[str]:
    """A pin that is far from usual where the work touches it, or far thicker or thinner there."""
    doubts, shank = odd(value, 3, 100, "a body", said.unit), said["shank"]
    if not doubts and shank and not shank.mm / 2 <= value.mm <= 1.25 * shank.mm:
        told_so = f"{told_size(value.mm, said.unit)} thick above, {told_size(shank.mm, said.unit)}"
        doubts = [f"a pin {told_so} in its hole: its thickness, and not its height?"]
    return doubts


def hole_cannot(value: Amount, said: Said) -> list[str]:
    """Holes that run into each other."""
    if said["pitch"] and value.mm >= min(each.mm for each in said["pitch"]):
        return [f"holes of {told_size(value.mm, said.unit)} run into each other at that pitch"]
    return []


def size_doubts(low_mm: float, high_mm: float, what: str) -> Doubts:
    """Doubts about one length or several that are beyond what is usual."""

    def doubts(value: Any, said: Said) -> list[str]:
        listed = value if isinstance(value, list) else [value]
        found = [line for each in listed for line in odd(each, low_mm, high_mm, what, said.unit)]
        return list(dict.fromkeys(found))

    return doubts


def _over_the_bed(value: list[Amount], what: str, said: Said) -> list[str]:
    """Whether two sides have no place on the bed, whichever way they lie."""
    room = [each for each in spans(said) if each is not None]
    if len(room) < 2 and said["holes"] and said["pitch"]:
        room = [at + p.mm for at, p in zip(grid_mm(said), said["pitch"], strict=True)]
    sides = sorted(each.mm for each in value[:2])
    if len(room) == 2 and any(a > b for a, b in zip(sides, sorted(room), strict=True)):
        told_sides, told_bed = as_told(value[:2], said.unit), _sides_told(room, said.unit)
        return [f"{what} of {told_sides} is larger than the bed, {told_bed}"]
    return []


def _sides_told(room_mm: Sequence[float], unit: Unit) -> str:
    return as_told([Amount("", each) for each in room_mm], unit)


def footprint_doubts(value: list[Amount], said: Said) -> list[str]:
    """A jig that is far from usual, or over the bed."""
    sides = [line for each in value for line in odd(each, 20, 6000, "a side", said.unit)]
    return _over_the_bed(value, "a jig", said) or list(dict.fromkeys(sides))


def stock_doubts(value: list[Amount], said: Said) -> list[str]:
    """A piece that is far from usual, or over the bed."""
    if over := _over_the_bed(value, "a piece", said):
        return over
    sides = [line for each in value[:2] for line in odd(each, 10, 6000, "a side", said.unit)]
    sides += odd(value[2], 0.5, 300, "a thickness", said.unit)
    return list(dict.fromkeys(sides))


def jig_that_fits(said: Said) -> str | None:
    """A usual jig's sides, or smaller ones that the bed has room for."""
    return _that_fits("400 x 300", "16 x 12", [each for each in spans(said) if each], said)


def stock_that_fits(said: Said) -> str | None:
    """A usual piece's sides and thickness, or smaller ones that jig or bed have room for."""
    room = sides_mm(said) if said["holder"] == "jig" else [each for each in spans(said) if each]
    thick = usual("18", "3/4 in")(said)
    sides = _that_fits("400 x 250", "16 x 10", room, said)
    return f"{sides} x {thick}"


def _that_fits(metric: str, inch: str, room_mm: Sequence[float], said: Said) -> str:
    """Two usual sides, or nine tenths of the room where that is less."""
    both = (inch if said.unit == "in" else metric).split(" x ")
    if len(room_mm) == 2:
        most = [int(in_unit(each, said.unit) * 0.9) or 1 for each in room_mm]
        both = [str(min(int(each), least)) for each, least in zip(both, most, strict=True)]
    return " x ".join(both)


def sides_mm(said: Said) -> tuple[float, float]:
    """The own X and Y of what lies against the pins: jig, or bare stock, mm."""
    sides = said["footprint"] if said["holder"] == "jig" else said["stock"]
    return sides[0].mm, sides[1].mm


def height_cannot(value: Amount, said: Said) -> list[str]:
    """A tallest point below the seat."""
    if said["seat"] is None or value.mm >= said["seat"].mm - 1e-6:
        return []
    seat = told_size(said["seat"].mm, said.unit)
    return [f"the tallest point is not below the seat, {seat} (back seat changes that)"]


def spoil_cannot(value: Amount, said: Said) -> list[str]:
    """A cut through the whole board."""
    thick = thickness_of(said)
    if thick is None or value.mm < thick.mm:
        return []
    return [
        f"a cut of {told_size(value.mm, said.unit)} goes through the board, which is "
        f"{told_size(thick.mm, said.unit)} thick (back size changes that)"
    ]


# ---- the piece and its zero ----------------------------------------------------------------------


def stock_words(said: Said) -> str:
    """The question how large the piece is."""
    of = "along the jig's own X" if said["holder"] == "jig" else "as it lies: along the machine's X"
    return f"How large is the piece, {of}, its Y, and thick?"


def lies_doubts(value: list[Amount], said: Said) -> list[str]:
    """A piece that hangs over its jig."""
    for side, at, size in zip(said["footprint"], value, said["stock"][:2], strict=True):
        if at.mm < -1e-6 or at.mm + size.mm > side.mm + 1e-6:
            sides = as_told(said["footprint"], said.unit)
            return [f"the piece hangs over the jig, which is {sides}"]
    return []


def tells_lies(value: list[Amount], said: Said) -> str:
    """Where the piece lies in the jig."""
    x, y = (
        f"{axis} {told_size(at.mm, said.unit)} to {told_size(at.mm + size.mm, said.unit)}"
        for axis, at, size in zip("XY", value, said["stock"][:2], strict=True)
    )
    return f"the piece lies from {x}, {y} in the jig"


def so_long(length_mm: float, unit: Unit) -> Amount:
    """A length as a bare number of the shop's unit."""
    return Amount(f"{in_unit(length_mm, unit):.9g}", length_mm)


_ZEROS = {
    "front left": (0.0, 0.0), "front right": (1.0, 0.0), "back left": (0.0, 1.0),
    "back right": (1.0, 1.0), "middle": (0.5, 0.5),
}  # fmt: skip
"""Places on the piece, as parts of its own X and Y."""


def zeros(said: Said) -> tuple[Option, ...]:
    """The places that are named; of bare stock where each is for the machine and the person."""
    found = []
    for word, (x, y) in _ZEROS.items():
        means = ""
        if said["holder"] != "jig" and word != "middle":
            means = f"{'high' if x else 'low'} X, {'high' if y else 'low'} Y"
            if not is_in_front(said):
                right, away = person_of(said).bed_vector((x * 2 - 1, y * 2 - 1))
                far = "far" if away > 0 else "near"
                means += f", to you {far} {'right' if right > 0 else 'left'}"
        others = ("centre", "center") if word == "middle" else (" ".join(word.split()[::-1]),)
        found.append(Option(word, means, others))
    return tuple(found)


def read_zero(text: str, said: Said) -> Read:
    """Where program zero is from the piece's own front left corner: a place that is named, or X and
    Y. Raises Wanted, ValueError."""
    if len(scan(text, 2).lengths) == 2:
        return lengths(-20_000, 20_000, 2, places=BY_EDGES)(text, said)
    found = Choice(*zeros(said))(text, said)
    size = said["stock"]
    at = [
        so_long(part * each.mm, said.unit)
        for part, each in zip(_ZEROS[found.value], size, strict=False)
    ]
    return found._replace(value=at)


def tells_zero(value: list[Amount], said: Said) -> str:
    """Where program zero is, on the piece and in the jig."""
    x_on, y_on = (told_size(each.mm, said.unit) for each in value)
    where = f"X {x_on}, Y {y_on} from the piece's front left corner"
    if not any(each.mm for each in value):
        where = "the piece's front left corner"
    if said["lies"] is None:
        return where
    x, y = (
        told_size(lies.mm + each.mm, said.unit)
        for lies, each in zip(said["lies"], value, strict=True)
    )
    return f"{where}: X {x}, Y {y} in the jig"


def is_off_the_corner(said: Said) -> bool:
    """Whether the program zero of bare stock is elsewhere than at its corner of lowest X and Y."""
    is_stock = said["holder"] == "stock"
    return is_stock and bool(said["zero"]) and any(each.mm for each in said["zero"])


def zero_doubts(value: list[Amount], said: Said) -> list[str]:
    """A program zero beside the piece."""
    for at, side in zip(value, said["stock"][:2], strict=True):
        if not -1e-6 <= at.mm <= side.mm + 1e-6:
            return [f"program zero lies beside the piece, {as_told(said['stock'][:2], said.unit)}"]
    return []


def zero_in_jig(said: Said) -> list[Amount]:
    """Program zero from the jig's own front left corner."""
    return [
        lies if not each.mm else so_long(lies.mm + each.mm, said.unit)
        for lies, each in zip(said["lies"] or [Amount("0", 0.0)] * 2, said["zero"], strict=True)
    ]


# ---- where on the bed ----------------------------------------------------------------------------

_QUADRANTS = ("+x+y", "-x+y", "+x-y", "-x-y")
_OF_QUADRANTS = frozenset(
    ("left", "right", "away", "back", "behind", "front", "you", "me", "near")
)  # fmt: skip


def quadrants(said: Said) -> tuple[Option, ...]:
    """The four, as whoever stands at the machine sees them."""
    found = []
    for quadrant in _QUADRANTS:
        x, y = (1.0 if sign == "+" else -1.0 for sign in quadrant[::2])
        right, away = person_of(said).bed_vector((x, y))
        across = "right" if right > 0 else "left"
        along = ["away"] if away > 0 else ["to you", "you", "me", "near"]
        if is_in_front(said):
            along = [*(["back", "behind"] if away > 0 else ["front"]), *along]
        phrases = [" ".join(o) for each in along for o in ((across, each), (each, across))]
        phrases.append(f"{across} and {along[0]}")
        for high, low in (("higher", "lower"), ("bigger", "smaller"), ("larger", "smaller")):
            ends = [f"{high if at > 0 else low} {axis}" for axis, at in (("x", x), ("y", y))]
            phrases += [" ".join(ends), " and ".join(ends)]
        found.append(Option(quadrant, f"{across} and {along[0]}", tuple(phrases)))
    return tuple(found)


def read_toward(text: str, said: Said) -> Read:
    """The quadrant of signs, or of words of whoever stands at the machine, in either order."""
    choice = Choice(*quadrants(said))
    if set(text) <= set("+-xyXY "):
        return choice(text.replace(" ", ""), said)
    words = words_of(text)
    telling = [word for word in words if word in _OF_QUADRANTS]
    if len(telling) != 2:
        return choice(text, said)
    rest = tuple(word for word in words if word not in telling)
    return choice(" ".join(telling), said)._replace(rest=rest)


def shows_toward(text: str, said: Said) -> str:
    """A quadrant as it is listed, in the words of whoever stands at the machine."""
    return next((each.means for each in quadrants(said) if each.word == text), text)


def tells_toward(value: str, said: Said) -> str:
    """A quadrant in words."""
    return f"{value}: {shows_toward(value, said)} of hole {said['corner']}, as you see it"


def toward_the_middle(said: Said) -> str | None:
    """The quadrant that has most room, seen from the inside corner."""
    at = places(said).get(said["corner"] or "")
    if at is None:
        return "+x+y"
    middle = [reach / 2 for reach in grid_mm(said)]
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


# ---- pins near an end ----------------------------------------------------------------------------


def farther_in(said: Said) -> FartherIn | None:
    """Pins that touch farther in than those that were chosen, some of which touch near an end."""
    choice = said.laid(said).choice
    return None if choice is None else choice.farther_in


def pins_words(said: Said) -> str:
    """The question whether to take them."""
    found = farther_in(said)
    if found is None:
        return "Which pins does the work lie against: two on one edge, then the other edge's?"
    figures = "" if said["hole_position"] is None else " The figure: within what the work lies."
    return (
        f"Chosen by the figures, {found.near}: it may not hold there. Take pins that touch "
        f"farther in, yes or no?{figures}"
    )


def pins_listed(said: Said) -> tuple[Option, ...]:
    """Pins farther in, and those that were chosen."""
    found = farther_in(said)
    return yes_or_no(found.gives, found.instead).options if found else ()


def read_pins(text: str, said: Said) -> Read:
    """A yes to pins that touch farther in, a no, or three holes. Raises Wanted."""
    found, rest = labels(text)
    if len(found) == 3:
        for label in found:
            must_be_there(label, said)
        pins = EdgePins(edge=(found[0], found[1]), stop=found[2])
        return Read(pins, " ".join(found), tuple(rest))
    try:
        answer = yes_or_no()(text, said)
    except Wanted:
        raise Wanted("yes, no, or the labels of three holes", text) from None
    others = farther_in(said)
    if answer.value == "no" or others is None:
        return answer._replace(value=None)
    return answer._replace(value=EdgePins(edge=others.pins.edge, stop=others.pins.stop))


def tells_pins(value: EdgePins | None, said: Said) -> str:
    """The pins that are taken."""
    if value is None:
        return "no: those that were chosen"
    return f"edge {' '.join(map(hole_of, value.edge))} and stop {hole_of(value.stop)}"


# ---- names ---------------------------------------------------------------------------------------

USUAL_NAMES = {"machine": "router", "bed": "bench", "pin": "peg"}


def name_said(key: str, said: Said) -> str:
    """What machine, bed or pins are called, as far as it is said."""
    at = list(USUAL_NAMES).index(key)
    return str(said[key] or (said["names"] or list(USUAL_NAMES.values()))[at])


def names_said(said: Said) -> str | None:
    """The three names."""
    return ", ".join(name_said(key, said) for key in USUAL_NAMES)


def read_names(text: str, said: Said) -> Read:
    """Three names with commas between. Raises Wanted, ValueError."""
    found = [part.strip() for part in text.split(",")]
    if len(found) != len(USUAL_NAMES):
        raise Wanted("three names with commas between", text)
    names = [check_name(each) for each in found]
    return Read(names, ", ".join(names))


# ---- askew ---------------------------------------------------------------------------------------


def too_skew(said: Said) -> bool:
    """Whether the first station lies askew by more than a block leaves unwritten as a rule."""
    return said.laid(said).skew_mm > DEFAULT_MAX_SKEW_MM


def skew_words(said: Said) -> str:
    """The question whether work may be cut that lies askew."""
    nothing = "no figures to key in" if said["controller"] == "keyed" else "no block"
    return (
        "The holes of the bed lie askew, and this controller does not turn its axes: at the corner "
        f"farthest from its zero the work is {told(said.laid(said).skew_mm, said.unit, 2)} off. "
        f"Cut it so, yes or no? yes: the sheet tells it. no: {nothing} until the bed lies straight."
    )


def read_askew(text: str, said: Said) -> Read:
    """How far off a cut may be; a yes takes how far it is, rounded up, a no nothing."""
    word = words_of(text)[:1]
    if word in (["yes"], ["y"]):
        step_mm = 0.01 if said.unit == "mm" else 0.0254
        up_mm = math.ceil(said.laid(said).skew_mm / step_mm - 1e-9) * step_mm
        found = Amount(told_size(up_mm, said.unit), up_mm)
        return Read(found, found.written, tuple(words_of(text)[1:]))
    if word in (["no"], ["n"]):
        return Read(None, "no", tuple(words_of(text)[1:]))
    try:
        return length(0, 100)(text, said)
    except Wanted:
        raise Wanted("yes or no", text) from None


def tells_skew(value: Amount | None, said: Said) -> str:
    """How far off a cut may be."""
    return (
        "no: nothing is written" if value is None else f"up to {told_size(value.mm, said.unit)} off"
    )


def skew_doubts(value: Amount, said: Said) -> list[str]:
    """A bound that gives no block."""
    skew_mm = said.laid(said).skew_mm
    if value.mm >= skew_mm:
        return []
    return [f"the work lies {told(skew_mm, said.unit, 2)} askew, which is more: there is no block"]


def is_none(text: str) -> bool:
    """Whether somebody says that there is none, or never."""
    said_so = words_of(text)
    return said_so[:1] in (["none"], ["no"], ["0"], ["never"]) or said_so[:3] == [
        "not",
        "at",
        "all",
    ]


def read_spoil(text: str, said: Said) -> Read:
    """How deep cutters may go into the bed; never is 0."""
    if is_none(text) and not re.search("[1-9]", text):
        return Read(Amount("0", 0.0), "0", tuple(words_of(text.replace("at all", ""))[1:]))
    return length(0, 100)(text, said)
