"""Questions about the bed: its size, its holes, and two of them that are read off."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from pincorner.documents.beds import ColumnLetters
from pincorner.geometry.pose import XY, Pose, normal_deg
from pincorner.units import in_unit, parse_length, told, told_size
from pincorner.work.first.asked.fixed import FIXED
from pincorner.work.first.asked.machine import homes, is_in_front
from pincorner.work.first.asked.question import (
    SIZE,
    UNKNOWN,
    Question,
    chosen,
    is_none,
    is_short,
    no_default,
    none_or_length,
    size_doubts,
    tells_spread,
    usual,
)
from pincorner.work.first.asked.typed import (
    BY_EDGES,
    IN_XYZ,
    YES,
    Amount,
    Asks,
    Choice,
    Option,
    Read,
    Said,
    Wanted,
    as_told,
    cleaned,
    counts,
    kept_as,
    labels,
    length,
    lengths,
    must_not_turn_round,
    odd,
    pair,
    rank,
    scan,
    words_of,
    yes_or_no,
)


def spans(said: Said) -> tuple[float | None, float | None]:
    """How large the bed is, or else how far the machine travels, along X and Y, mm."""
    if said["size"]:
        return said["size"][0].mm, said["size"][1].mm
    travels = (said["travel_x"], said["travel_y"])
    across, along = (abs(each[1].mm - each[0].mm) if each else None for each in travels)
    return across, along


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
    """Where each hole of the grid is from A1, mm: as drawn, or as two of them were read."""
    return _places_at(pitch_of(said), said)


def _places_at(pitch: Sequence[Amount], said: Said) -> Mapping[str, XY]:
    return _grid(*said["holes"], *(each.mm for each in pitch))


@lru_cache(maxsize=8)
def _grid(columns: int, rows: int, pitch_x_mm: float, pitch_y_mm: float) -> Mapping[str, XY]:
    """Where each hole of a grid is from A1, mm; made once, since every answer asks for it."""
    letters = [ColumnLetters().of(column + 1) for column in range(columns)]
    return {
        f"{letter}{row + 1}": (column * pitch_x_mm, row * pitch_y_mm)
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
    who stands there. Whoever stands elsewhere may count from another side, and is asked.
    """
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
        if not is_in_front(said):
            raise Asks(f"counted from A1, at the lowest X and Y, that is {found[0]}", found[0])
    if len(found) != 1 or counted:
        raise Wanted("the label of one hole, or its column and its row", text)
    must_not_turn_round(rest)
    must_be_there(found[0], said)
    return Read(found[0], found[0], rest)


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


_DRILLED = "drilled"
MADE = Choice(
    Option("machine", "this router, or one as good",
           ("router", "cnc", "cnc mill", "cnc router", "cnc milling machine")),
    Option("hand", "hand drill, through a template",
           ("by hand", "hand drill", "hand drilled", "handheld", "hand-held", "hand held",
            "freehand", "cordless", "cordless drill", "battery drill")),
    Option("drawing", "bored to a drawing", ("jig bored", "jig borer", "jig boring")),
    Option("machinist", "a machinist, on a mill with a read-out",
           ("machine shop", "mill", "milled", "milling machine", "read-out",
            *(f"machinist {on} {a}{mill}" for on in ("on", "with") for a in ("", "a ", "the ")
              for mill in ("cnc", "cnc mill", "cnc milling machine")))),
    Option("press", "drill press, with a jig, fence or template",
           ("drill press", "drillpress", "drilling press", "pillar drill", "bench drill",
            "column drill", "radial drill",
            *(f"by hand {on} {a} {press}" for on in ("on", "with", "in") for a in ("a", "the")
              for press in ("drill press", "pillar drill", "bench drill")))),
    faint=(
        Option("press", "", ("fence",)),
        Option(_DRILLED, "",
               ("drill", "drilled", "drilling", "template", "jig", "drilling jig", "drill jig",
                "drill guide", "guide", "through", "router through a template",
                "router with a template", "router and template", "router and a template",
                *(f"{no}{aid}" for no in ("without ", "without a ", "without any ", "no ")
                  for aid in ("template", "jig", "fence", "guide")))),
        Option("drawing", "", ("bored", "boring", "reamed", "reamer")),
    ),
)  # fmt: skip
_MADE_MM: dict[str, tuple[str, str]] = {
    "machine": ("0.1", "0.004"), "hand": ("0.3", "0.012"), "drawing": ("0.02", "0.0008"),
    "machinist": ("0.05", "0.002"), "press": ("0.2", "0.008"),
}  # fmt: skip
"""How far off holes may be, two of three, in mm and inches: common practice, no source."""


def read_made(text: str, said: Said) -> Read:
    """How far off holes may be: by who made them, or a length. Raises Wanted; Asks where a drill or
    a template is all that is said, which may have been held by hand."""
    try:
        found = MADE(text, said)
    except Wanted:
        if re.search("[0-9]", text):
            return length(0, 20)(text, said)
        raise
    if found.value == _DRILLED:
        raise Asks("by hand, or in a drill press, is not said: hand or press", "hand")
    written = _MADE_MM[found.value][said.unit == "in"]
    value = Amount(written, parse_length(f"{written} {said.unit}", None))
    return found._replace(value=value)


def tells_made(value: Amount, said: Said) -> str:
    """How far off holes may be, and that the figure behind a word is common practice."""
    by_word = any(said.text("hole_position") == each.word for each in MADE.options)
    source = " (common practice; a survey measures it)" if by_word else ""
    return tells_spread(value, said) + source


def grid_mm(said: Said) -> tuple[float, float]:
    """From the first hole to the last, along X and Y, mm."""
    (columns, rows), (pitch_x, pitch_y) = said["holes"], pitch_of(said)
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
    first, far = first_hole(said)[0], far_hole(said)
    along = "X" if places(said)[first][1] == places(said)[far][1] else "Y"
    return (
        f"Now over hole {far}, far from {first} along {along}: which X and Y? Or over another one: "
        "its label first."
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
    drawn = _places_at(said["pitch"], said)
    (x, y), (at_x, at_y) = drawn[label], drawn[far.hole]
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


def pitch_as_read(said: Said) -> list[Amount] | None:
    """The pitch that two readings come to, along X and Y; None where the spread of two holes, which
    is the root of 2 times that of one, explains the difference in 95 of 100, or is not known."""
    far, spread = said["far"], said["hole_position"]
    if not far or spread is None:
        return None
    drawn, read = _from_the_first(far, said)
    if 0 not in drawn or abs(_off_the_pitch(far, said)) <= 2 * math.sqrt(2) * spread.mm:
        return None
    along, found = _along(said), list(said["pitch"])
    pitch_mm = found[along].mm * math.hypot(*read) / math.hypot(*drawn)
    written = f"{in_unit(pitch_mm, said.unit):.{4 if said.unit == 'in' else 3}f}"
    found[along] = Amount(written, parse_length(f"{written} {said.unit}", None))
    return found


def pitch_of(said: Said) -> list[Amount]:
    """How far apart the holes are along X and Y: as said, or as two of them were read."""
    read = pitch_as_read(said) if said["as_read"] == YES else None
    return read or list(said["pitch"])


def _along(said: Said) -> int:
    """The axis of a second hole that lies in the row or the column of the first."""
    return 0 if _from_the_first(said["far"], said)[0][0] else 1


def as_read_words(said: Said) -> str:
    """The question whether the pitch is that of two readings, with both figures."""
    far, unit, along, as_read = said["far"], said.unit, _along(said), pitch_as_read(said)
    drawn, read = (math.hypot(*each) for each in _from_the_first(far, said))
    decimals, pitch = (3 if unit == "in" else 2), said["pitch"][along]
    said_so, found = (
        f"{told(drawn, unit, decimals)} by your pitch of {told_size(pitch.mm, unit)}",
        "" if as_read is None else f"{as_read[along].written} {unit}",
    )
    return (
        f"{first_hole(said)[0]} and {far.hole} read {told(read, unit, decimals)} apart, {said_so}: "
        "more than the spread of such holes explains. Take the holes as they were read, "
        f"{found} apart along {'XY'[along]}, yes or no? no: zeros are off by their share of it, if "
        "both readings are right."
    )


def as_read_note(said: Said) -> str:
    """That the pitch is that of two readings, for the bed's document; nothing where it is not."""
    if said["as_read"] != YES or pitch_as_read(said) is None:
        return ""
    along, first, far = _along(said), first_hole(said)[0], said["far"].hole
    read, said_so = (pitch[along].written for pitch in (pitch_of(said), said["pitch"]))
    return (
        f"its pitch along {'XY'[along]}, {read} {said.unit}, is as {first} and {far} were read; "
        f"{said_so} was said"
    )


def tells_as_read(value: str, said: Said) -> str:
    """The pitch that is taken."""
    return f"{value}: {tells_pitch(pitch_of(said), said)} apart"


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


def hole_cannot(value: Amount, said: Said) -> list[str]:
    """Holes that run into each other."""
    if said["pitch"] and value.mm >= min(each.mm for each in said["pitch"]):
        return [f"holes of {told_size(value.mm, said.unit)} run into each other at that pitch"]
    return []


def stays_mm(said: Said) -> float:
    """How thick the waste sheet is that stays on the bed, mm; 0 without one."""
    return said["stays"].mm if said["stays"] else 0.0


def surface_of(said: Said) -> str:
    """What all heights count from."""
    return "that sheet" if stays_mm(said) else "the bed"


def tells_stays(value: Amount, said: Said) -> str:
    """What the bed's surface is."""
    if not value.mm:
        return "no sheet stays on it"
    return f"the bed's surface is the top of that sheet, {told_size(value.mm, said.unit)} thick"


def spoil_words(said: Said) -> str:
    """The question how deep cutters may go."""
    return f"How deep may cutters go into {surface_of(said)}? 0: not at all."


def spoil_cannot(value: Amount, said: Said) -> list[str]:
    """A cut through the sheet that stays on the board, or through the whole board."""
    thick, what, key = thickness_of(said), "the board", "size"
    if stays_mm(said):
        thick, what, key = said["stays"], "the sheet", "stays"
    if thick is None or value.mm < thick.mm:
        return []
    return [
        f"a cut of {told_size(value.mm, said.unit)} goes through {what}, which is "
        f"{told_size(thick.mm, said.unit)} thick (back {key} changes that)"
    ]


def stays_note(said: Said) -> str:
    """What the bed's surface is, for the bed's document; nothing where it is the board's own."""
    if not stays_mm(said):
        return ""
    thick = told_size(stays_mm(said), said.unit)
    return f"its surface is the top of a waste sheet, {thick} thick when it was new, that stays"


BED: tuple[Question, ...] = (
    Question(
        "size",
        "the size of the bed",
        "How large is the bed with the holes: X by Y by thick?",
        lengths(0.01, 20_000, 2, 3),
        UNKNOWN,
        "With a tape: X as the machine's X goes, Y the other way. Thick may be left out; a waste "
        "sheet on it is asked for below. Not known: half a pitch around the holes.",
        optional=True,
        doubts=size_of_bed_doubts,
        sample="40 x 40 in",
        examples=("{900 x 600 x 18|48 x 96 x 3/4 in}", "{900 x 600|4 x 8 ft}"),
        tells=tells_sizes,
    ),
    Question(
        "pitch",
        "the pitch of its holes",
        "How far apart are its holes, middle to middle?",
        pair(0.01, 20_000),
        usual("100", "4"),
        "Measure over many holes and divide. Two lengths where X and Y differ.",
        doubts=size_doubts(8, 400, "a pitch"),
        examples=("{100|4}", "{96 x 100|3.8 x 4}"),
        tells=tells_pitch,
    ),
    Question(
        "holes",
        "how many holes it has",
        "How many holes along X, and along Y?",
        counts,
        holes_that_fit,
        "Columns are lettered A, B, C along X, rows are numbered 1, 2, 3 along Y.",
        doubts=holes_doubts,
        cannot=holes_cannot,
        sample="10 x 6",
        examples=("12 x 7",),
        tells=tells_holes,
    ),
    Question(
        "hole",
        "how wide a hole is",
        "How wide is a hole (the diameter)?",
        SIZE,
        hole_that_fits,
        "As measured, best with a calliper: what the hole is wider than the pin is play.",
        doubts=size_doubts(3, 60, "a hole"),
        cannot=hole_cannot,
        examples=("{20.02|0.755}",),
    ),
    Question(
        "hole_position",
        "who made the holes",
        "Who made the holes?",
        read_made,
        usual("machine"),
        "How far off holes are decides which pins are best, and how well the work is known to lie; "
        "a survey of the bed measures it. The figures behind the words are common practice. A "
        "length is taken too: two holes in three are within it of their places.",
        optional=True,
        listed=lambda said: MADE.options,
        doubts=size_doubts(0, 2, "an error"),
        examples=("hand", "{0.1|0.004}"),
        tells=tells_made,
    ),
    Question(
        "missing",
        "holes that are not there",
        "Holes that are not there, or not to be used: their labels, or none?",
        read_missing,
        usual("none"),
        "Such as holes under a rail, or worn ones.",
        examples=("A1 H5", "none"),
        waits=is_short,
        tells=lambda value, said: " ".join(value) or "none",
    ),
    Question(
        "edge",
        "where the bed's edges are",
        "How far is the middle of hole A1 from the bed's edges at lowest X and lowest Y? In "
        "brackets: with the grid in the middle.",
        pair(0, 5000, BY_EDGES),
        edge_in_the_middle,
        "Two lengths, along X and along Y. A1 is the hole at lowest X and Y; the left edge is that "
        "of lowest X, the front that of lowest Y.",
        lambda said: said["size"] is not None,
        cannot=edge_cannot,
        examples=("{50 x 60|2 x 3}",),
    ),
    Question(
        "stays",
        "a waste sheet that stays",
        "Does a waste sheet stay on it for good, the pins' holes through it? How thick? 0: none.",
        none_or_length(100),
        usual("0"),
        "One that is screwed or glued down. Its top is the bed's surface then: heights, depths and "
        "Z count from it. A sheet that is laid under some work is asked for later.",
        doubts=size_doubts(0, 60, "a sheet"),
        examples=("0", "{12|1/2}"),
        tells=tells_stays,
    ),
    Question(
        "spoil",
        "how deep cutters may go into the bed",
        spoil_words,
        none_or_length(100),
        usual("0"),
        "`pincorner check` finds deeper cuts. A waste sheet that is laid under some work is asked "
        "for later, and is none of it.",
        optional=True,
        doubts=size_doubts(0, 6, "a cut into the board"),
        cannot=spoil_cannot,
        sample="0",
        examples=("{0.5|0.02}",),
    ),
    FIXED,
    Question(
        "reference",
        "the hole of G54",
        "Over which hole do you set G54 each day? Its label; or mark, if it is elsewhere.",
        read_reference,
        usual("A1"),
        "All coordinates count from there. A hole has its label, or its column and row as two "
        "counts, 4 11.",
        lambda said: not homes(said),
        examples=("A1", "mark"),
        tells=tells_reference,
    ),
    Question(
        "a1",
        "where hole A1 is",
        a1_words,
        lengths(-50_000, 50_000, 2),
        no_default,
        "Put a pin or a centring tool into the spindle, jog over the middle of the hole and read "
        "X and Y. It has to be read at the machine; `quit` keeps all until then.",
        lambda said: homes(said) or said["reference"] == MARK,
        cannot=first_hole_cannot,
        examples=("{X 80.0 Y 90.0|X 2.5 Y 3.25}", "{80 90|2.5 3.25}"),
        tells=tells_a1,
    ),
    Question(
        "far",
        "where a second hole is",
        far_words,
        read_far,
        UNKNOWN,
        "From two holes follows how the grid lies turned.",
        lambda said: max(said["holes"]) > 1,
        True,
        "row 1 counts as parallel to X until a survey shows how the bed lies turned",
        far_doubts,
        far_cannot,
        examples=far_examples,
        tells=tells_far,
    ),
    chosen(
        "as_read",
        "whether holes are as far apart as they were read",
        as_read_words,
        yes_or_no(),
        usual(YES),
        "The machine goes by its own read-out: what lies at its 100 is at 100 for it, whatever a "
        "tape says. no: a reading was wrong, or the holes are to be surveyed (pincorner guide "
        "bed).",
        asked=lambda said: pitch_as_read(said) is not None,
        listed=lambda said: (),
        tells=tells_as_read,
        examples=("yes", "no"),
    ),
)
