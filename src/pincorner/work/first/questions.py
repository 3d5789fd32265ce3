"""The questions of the guided set-up, as values: the walk over them is one loop (`walk.py`).

Words are a shop's. What nobody knows is left out of the documents; nothing that could hurt somebody
is guessed: reach, nose and travel are not known unless they are stated.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

from pincorner.documents.beds import ColumnLetters
from pincorner.units import told, told_size
from pincorner.work.first.typed import (
    NOT_KNOWN,
    Amount,
    Reader,
    Said,
    choice,
    code,
    counts,
    labels,
    length,
    name,
    odd,
    pair,
    several,
    span,
    yes_or_no,
)

Doubts = Callable[[Any, Said], list[str]]
DIALECTS = ("rs274", "rs274-turned", "six", "extended", "keyed")
"""Shipped dialects in the order in which their blocks are shown."""


def _always(said: Said) -> bool:
    return True


def _no_doubt(value: Any, said: Said) -> list[str]:
    return []


class Question(NamedTuple):
    """One question: its key, its words, what reads an answer, and when it is asked.

    default: what Enter answers, from what was said before; None: it has to be answered. help: what
    `?` tells. sample: an answer that would do, for pictures of what is not yet said. optional:
    `not known` is an answer. doubts: what is odd about an answer. cannot: what of that cannot be at
    a machine as it was described; a script is refused.
    """

    key: str
    words: str
    read: Reader
    default: Callable[[Said], str | None]
    help: str
    asked: Callable[[Said], bool] = _always
    optional: bool = False
    doubts: Doubts = _no_doubt
    sample: str = "0 0"
    cannot: Doubts = _no_doubt


def usual(metric: str, inch: str | None = None) -> Callable[[Said], str | None]:
    """A default that depends on the unit alone."""
    return lambda said: inch if inch is not None and said.unit == "in" else metric


def same_as(key: str) -> Callable[[Said], str | None]:
    """The default is the answer to an earlier question."""
    return lambda said: said.texts.get(key)


UNKNOWN = usual(NOT_KNOWN)


def _homes(said: Said) -> bool:
    return bool(said["homes"] != "no")


def _is(key: str, *words: str) -> Callable[[Said], bool]:
    return lambda said: said[key] in words


# ---- defaults and doubts that reckon -------------------------------------------------------------


def _spans(said: Said) -> tuple[float | None, float | None]:
    """How large the bed is, or else how far the machine travels, along X and Y, mm."""
    if said["size"]:
        return said["size"][0].mm, said["size"][1].mm
    travels = (said["travel_x"], said["travel_y"])
    across, along = (abs(each[1].mm - each[0].mm) if each else None for each in travels)
    return across, along


def _holes_that_fit(said: Said) -> str | None:
    """As many holes as the bed, or the travel, has room for."""
    found = []
    for room_mm, pitch, few in zip(_spans(said), said["pitch"], (10, 6), strict=True):
        found.append(few if room_mm is None else max(2, min(500, int(room_mm // pitch.mm))))
    return f"{found[0]} x {found[1]}"


def _holes_doubts(value: list[int], said: Said) -> list[str]:
    doubts = []
    for room_mm, pitch, count, axis in zip(_spans(said), said["pitch"], value, "XY", strict=True):
        long_mm = (count - 1) * pitch.mm
        if room_mm is not None and long_mm > room_mm:
            what = "the bed is" if said["size"] else "the travel is"
            doubts.append(
                f"{count} holes along {axis}, {told_size(pitch.mm, said.unit)} apart, reach over "
                f"{told_size(long_mm, said.unit)}; {what} {told_size(room_mm, said.unit)}"
            )
    return doubts


def _grid_mm(said: Said) -> tuple[float, float]:
    """From the first hole to the last, along X and Y, mm."""
    (columns, rows), (pitch_x, pitch_y) = said["holes"], said["pitch"]
    return (columns - 1) * pitch_x.mm, (rows - 1) * pitch_y.mm


def _edge_in_the_middle(said: Said) -> str | None:
    """The grid in the middle of the bed."""
    left = [
        max(0.0, (size.mm - reach) / 2)
        for size, reach in zip(said["size"], _grid_mm(said), strict=True)
    ]
    return " x ".join(told_size(each, said.unit) for each in left)


def _edge_doubts(value: list[Amount], said: Said) -> list[str]:
    doubts = []
    for at, size, reach, axis in zip(value, said["size"], _grid_mm(said), "XY", strict=True):
        over_mm = at.mm + reach - size.mm
        if over_mm > 1e-6:
            doubts.append(
                f"the last holes along {axis} would lie {told_size(over_mm, said.unit)} off the bed"
            )
    return doubts


def _travel_doubts(value: list[Amount], said: Said) -> list[str]:
    far = Amount("", abs(value[1].mm - value[0].mm))
    return odd(far, 80, 12_000, "a travel", said.unit)


def _first_hole_doubts(value: list[Amount], said: Said) -> list[str]:
    doubts = []
    travels = (said["travel_x"], said["travel_y"])
    for at, travel, axis in zip(value, travels, "XY", strict=True):
        if travel and not travel[0].mm <= at.mm <= travel[1].mm:
            ends = f"{told_size(travel[0].mm, said.unit)} to {told_size(travel[1].mm, said.unit)}"
            doubts.append(
                f"A1 at {axis} {told_size(at.mm, said.unit)} is beyond the travel, {ends}"
            )
    return doubts


def far_hole(said: Said) -> tuple[str, tuple[float, float]]:
    """The hole that the grid's angle is read off by, and where it is from A1 as drawn, mm."""
    (columns, rows), (along_x, along_y) = said["holes"], _grid_mm(said)
    if along_x >= along_y:
        return f"{ColumnLetters().of(columns)}1", (along_x, 0.0)
    return f"A{rows}", (0.0, along_y)


def angle_of(said: Said) -> float:
    """The angle of row 1 in degrees, from two holes that were read off; 0 from one alone."""
    if not said["far"]:
        return 0.0
    _, (x_mm, y_mm) = far_hole(said)
    dx, dy = (far.mm - first.mm for far, first in zip(said["far"], said["a1"], strict=True))
    return math.degrees(math.atan2(dy, dx) - math.atan2(y_mm, x_mm))


def _read_far(text: str, said: Said) -> list[Amount]:
    """The far hole as it was read off. Raises ValueError where it cannot be that hole."""
    value: list[Amount] = pair(-50_000, 50_000)(text, said)
    label, drawn = far_hole(said)
    dx, dy = (far.mm - first.mm for far, first in zip(value, said["a1"], strict=True))
    long_mm, drawn_mm = math.hypot(dx, dy), math.hypot(*drawn)
    off_mm = math.hypot(dx - drawn[0], dy - drawn[1])
    unit = said.unit
    if off_mm <= min(each.mm for each in said["pitch"]) / 4:
        return value
    apart = f"A1 and {label} are {told(drawn_mm, unit, 1)} apart on the drawing"
    if math.hypot(dx - drawn[1], dy - drawn[0]) < off_mm / 4:
        raise ValueError(f"{apart}; X and Y of it look changed over")
    if abs(long_mm - drawn_mm) <= drawn_mm / 100:
        raise ValueError(f"{apart}, along {'X' if drawn[0] else 'Y'}; these lie along another way")
    raise ValueError(
        f"{apart}, and you read {told(long_mm, unit, 1)}: another hole, or another pitch or number "
        "of holes (back)"
    )


def _far_doubts(value: list[Amount], said: Said) -> list[str]:
    label, drawn = far_hole(said)
    ways = [far.mm - first.mm for far, first in zip(value, said["a1"], strict=True)]
    off_mm = math.hypot(*ways) - math.hypot(*drawn)
    if abs(off_mm) <= max(0.5, math.hypot(*drawn) / 1000):
        return []
    return [
        f"{label} lies {told(abs(off_mm), said.unit, 1)} {'farther' if off_mm > 0 else 'nearer'} "
        "than the pitch has it"
    ]


def _shank_cannot(value: Amount, said: Said) -> list[str]:
    if said["hole"] and value.mm > said["hole"].mm:
        hole = told_size(said["hole"].mm, said.unit)
        return [f"a pin of {told_size(value.mm, said.unit)} does not go into a hole of {hole}"]
    return []


def _shank_doubts(value: Amount, said: Said) -> list[str]:
    return _shank_cannot(value, said) or odd(value, 3, 60, "a pin", said.unit)


def _hole_cannot(value: Amount, said: Said) -> list[str]:
    if value.mm >= min(each.mm for each in said["pitch"]):
        return [f"holes of {told_size(value.mm, said.unit)} run into each other at that pitch"]
    return []


def _hole_doubts(value: Amount, said: Said) -> list[str]:
    return _hole_cannot(value, said) or odd(value, 3, 60, "a hole", said.unit)


def _size_doubts(low_mm: float, high_mm: float, what: str) -> Doubts:
    def doubts(value: Any, said: Said) -> list[str]:
        listed = value if isinstance(value, list) else [value]
        found = [line for each in listed for line in odd(each, low_mm, high_mm, what, said.unit)]
        return list(dict.fromkeys(found))

    return doubts


def _stock_doubts(value: list[Amount], said: Said) -> list[str]:
    sides = [line for each in value[:2] for line in odd(each, 10, 6000, "a side", said.unit)]
    return [*sides, *odd(value[2], 0.5, 300, "a thickness", said.unit)]


SIDES = ("front", "back", "left", "right")
MOVES = {"across": "across", "along": "along", "bed": "bed", "arm": "arm"}
TOWARD = {
    "+x+y": "+x+y", "-x+y": "-x+y", "+x-y": "+x-y", "-x-y": "-x-y",
    "right and back": "+x+y", "left and back": "-x+y",
    "right and front": "+x-y", "left and front": "-x-y",
}  # fmt: skip

_SIZE = length(0.01, 20_000)
_PLACE = pair(-50_000, 50_000)
_SIZES = pair(0.01, 20_000)

QUESTIONS: tuple[Question, ...] = (
    Question(
        "units",
        "Which unit do you measure in, mm or in?",
        choice(
            {
                "mm": "mm",
                "in": "in",
                "inch": "in",
                "inches": "in",
                "millimetres": "mm",
                "metric": "mm",
                "imperial": "in",
            }
        ),
        usual("mm"),
        "Numbers that you type without a unit are in it. Any length may say its own all the same: "
        '82.5 mm, 3 1/4 in, 3/4".',
    ),
    Question(
        "machine",
        "What do you call the machine?",
        name,
        usual("router"),
        "A name of your own, of letters, digits, blanks and - _ . +",
    ),
    Question(
        "controller_units",
        "Which unit does the controller's read-out show, mm or in?",
        choice({"mm": "mm", "in": "in", "inch": "in", "inches": "in"}),
        same_as("units"),
        "Setup blocks are written in it. It need not be the one that you measure in.",
    ),
    Question(
        "homes",
        "Does the machine home (find its switches) when it is switched on, yes or no?",
        yes_or_no,
        usual("yes"),
        "If it does, machine coordinates are the same every day. If not, all coordinates here "
        "count from G54, which you set at the same place each day, as by hole A1, and not by G92.",
    ),
    Question(
        "travel_x",
        "How far does it travel in X? Lowest and highest of the machine read-out.",
        span,
        UNKNOWN,
        "Jog to both ends and read machine coordinates, such as 0 1250 or -1250 0. One number "
        "counts from 0. Offsets beyond the travel are then refused; not known: not checked.",
        _homes,
        True,
        _travel_doubts,
    ),
    Question(
        "travel_y",
        "And in Y?",
        span,
        UNKNOWN,
        "As in X.",
        _homes,
        True,
        _travel_doubts,
    ),
    Question(
        "travel_z",
        "And in Z?",
        span,
        UNKNOWN,
        "As in X; on most machines 0 is at the top, as -150 0.",
        _homes,
        True,
        _travel_doubts,
    ),
    Question(
        "operator",
        "Which side do you stand at: front, back, left or right?",
        choice(SIDES),
        usual("front"),
        "Front is where Y is lowest. Jog Y plus: if the spindle goes away from you, you stand at "
        "the front; if it comes toward you, at the back. Jog X plus: if it goes away from you, you "
        "stand at the left; if it comes toward you, at the right.",
    ),
    Question(
        "controller",
        "Which of these blocks looks like what your controller takes? A number.",
        choice(DIALECTS, numbered=True),
        usual("keyed"),
        "A block writes the work offset. The last one writes nothing: it tells what to key in at "
        "the offset page, which every controller with such a page takes. Take it where you are not "
        "sure; `pincorner edit machine` changes it later. More in: pincorner guide controllers.",
    ),
    Question(
        "moves",
        "What moves? across: a beam from left to right that goes front and back. along: a beam "
        "from front to back that goes left and right. bed: the bed. arm: an arm without a beam.",
        choice(MOVES),
        UNKNOWN,
        "`pincorner run` reckons from it when what moves stays away from where the next piece is "
        "loaded; not known: it tells no such times.",
        optional=True,
    ),
    Question(
        "carriage",
        "How far does what moves reach from the spindle's axis: left, right, front, back?",
        several(4, 0, 5000),
        UNKNOWN,
        "At its widest: beam, motors, feet, dust boom, hoses. Four lengths, as 120 120 140 140. "
        "Not known: no loading windows are reckoned, and nothing is guessed.",
        _is("moves", "across", "along", "arm"),
        True,
        _size_doubts(10, 1500, "a reach"),
        "100 100 100 100",
    ),
    Question(
        "nose",
        "Diameter of the spindle's nose with its nut?",
        _SIZE,
        UNKNOWN,
        "`pincorner check` looks whether it runs into clamps and jigs. Not known: not checked.",
        optional=True,
        doubts=_size_doubts(15, 250, "a nose"),
        sample="2 in",
    ),
    Question(
        "bed",
        "What do you call the bed?",
        name,
        usual("bench"),
        "The surface with the holes that pins go into.",
    ),
    Question(
        "size",
        "How large is the bed, X by Y?",
        _SIZES,
        UNKNOWN,
        "Measured with a tape: X is from left to right as the machine's X goes, Y the other way. "
        "Not known: half a pitch around the holes.",
        optional=True,
        doubts=_size_doubts(150, 8000, "a bed"),
        sample="40 x 40 in",
    ),
    Question(
        "pitch",
        "How far apart are the holes, middle to middle? One length, or X and Y.",
        _SIZES,
        usual("100", "4"),
        "Measure over many holes and divide. As 100, or 96 x 100.",
        doubts=_size_doubts(8, 400, "a pitch"),
    ),
    Question(
        "holes",
        "How many holes along X and along Y?",
        counts,
        _holes_that_fit,
        "Such as 12 x 7. Columns are lettered A, B, C along X, rows are numbered 1, 2, 3 along Y.",
        doubts=_holes_doubts,
        cannot=_holes_doubts,
        sample="10 x 6",
    ),
    Question(
        "edge",
        "How far is the middle of hole A1 from the bed's left and front edges?",
        pair(0, 5000),
        _edge_in_the_middle,
        "A1 is the hole with the lowest X and Y: front left. Two lengths.",
        lambda said: said["size"] is not None,
        doubts=_edge_doubts,
        cannot=_edge_doubts,
    ),
    Question(
        "hole",
        "Diameter of the holes?",
        _SIZE,
        usual("20", "3/4"),
        "As measured, best with a calliper: what the hole is wider than the pin is play.",
        doubts=_hole_doubts,
        cannot=_hole_cannot,
    ),
    Question(
        "hole_position",
        "How far off may a hole be from where it should be?",
        length(0, 20),
        usual("0.1 mm", "0.004 in"),
        "One standard deviation: two holes in three lie nearer. Some 0.1 mm where the machine "
        "itself drilled them; more where they were drilled by hand. From it follows which pins are "
        "best, and how well the work is known to lie; a survey of the bed measures it.",
        optional=True,
        doubts=_size_doubts(0, 2, "an error"),
    ),
    Question(
        "missing",
        "Holes that are not there, or not to be used?",
        labels,
        usual("none"),
        "Their labels, such as A1 H5, or none.",
    ),
    Question(
        "a1",
        "Where is hole A1 (front left)? X and Y as the read-out shows them.",
        _PLACE,
        lambda said: None if _homes(said) else "0 0",
        "Put a pin or a centring tool into the spindle, jog over the middle of A1 and read machine "
        "coordinates, such as 80.0 90.0. On a machine that does not home set G54 there: then it is "
        "0 0. There is no default: it has to be read at the machine. `quit` keeps all until then.",
        doubts=_first_hole_doubts,
        cannot=_first_hole_doubts,
    ),
    Question(
        "far",
        "Now jog to hole {far}. X and Y as the read-out shows them.",
        _read_far,
        UNKNOWN,
        "From two holes follows how the grid lies turned. Not known: row 1 counts as parallel to X "
        "until it is surveyed (pincorner survey).",
        lambda said: max(said["holes"]) > 1,
        True,
        _far_doubts,
    ),
    Question(
        "pin",
        "What do you call the pins?",
        name,
        usual("peg"),
        "Locating pins: a shank in the hole, a body above the bed.",
    ),
    Question(
        "shank",
        "Diameter of a pin in the hole?",
        _SIZE,
        same_as("hole"),
        "As measured. It must go into the hole.",
        doubts=_shank_doubts,
        cannot=_shank_cannot,
    ),
    Question(
        "body",
        "And its diameter above the bed, where the work touches it?",
        _SIZE,
        same_as("shank"),
        "As measured: half of it is the distance from the hole to the work.",
        doubts=_size_doubts(3, 100, "a body"),
    ),
    Question(
        "pin_height",
        "How high does it stand above the bed?",
        _SIZE,
        usual("20", "3/4"),
        "`pincorner check` looks whether the cutter runs into it.",
        doubts=_size_doubts(2, 150, "a height"),
    ),
    Question(
        "holder",
        "What goes against the pins first: bare stock, or a jig?",
        choice({"stock": "stock", "bare stock": "stock", "jig": "jig"}),
        usual("stock"),
        "stock: a piece of material itself. jig: a holder that stays with the job, with a place "
        "for a piece in it. A jig on two dowels is described by a document: pincorner example jig.",
    ),
    Question(
        "jig",
        "What do you call the jig?",
        name,
        usual("tray"),
        "A name of your own.",
        _is("holder", "jig"),
    ),
    Question(
        "footprint",
        "How large is the jig, X by Y, as it lies on the bed?",
        _SIZES,
        usual("400 x 300", "16 x 12"),
        "Its outer edges, two of which touch the pins.",
        _is("holder", "jig"),
        doubts=_size_doubts(20, 6000, "a side"),
    ),
    Question(
        "seat",
        "How high above the bed does the piece lie in it?",
        length(0, 2000),
        usual("18", "3/4"),
        "The height of the seat; 0 where the piece lies on the bed itself.",
        _is("holder", "jig"),
        doubts=_size_doubts(0, 300, "a seat"),
    ),
    Question(
        "height",
        "How high is the jig's tallest point above the bed?",
        length(0, 2000),
        same_as("seat"),
        "Clamps and toggles of its own too. `pincorner check` keeps the cutter off.",
        _is("holder", "jig"),
        doubts=_size_doubts(0, 500, "a height"),
    ),
    Question(
        "zero",
        "Where is program zero, from the jig's front left corner, X and Y?",
        _PLACE,
        usual("0 0"),
        "The X0 Y0 of your CAM, measured from the corner of the jig.",
        _is("holder", "jig"),
    ),
    Question(
        "stock",
        "How large is the piece: length along X, width along Y, thickness?",
        several(3, 0.01, 20_000),
        usual("400 x 250 x 18", "16 x 10 x 3/4"),
        "Three lengths, as it lies. Bare stock has its program zero at its front left corner.",
        doubts=_stock_doubts,
    ),
    Question(
        "station",
        "What do you call this station, the place with its job?",
        name,
        usual("first"),
        "A name of your own; sheets and blocks carry it.",
    ),
    Question(
        "corner",
        "Which hole is at the inside corner? It stays empty.",
        lambda text, said: name(text, said).upper(),
        usual("A1"),
        "Pins go into the row and the column of that hole; the work is pushed against them.",
    ),
    Question(
        "toward",
        "Seen from that corner, where does the work lie: right and back (+x+y), left and back "
        "(-x+y), right and front (+x-y), left and front (-x-y)?",
        choice(TOWARD),
        usual("+x+y"),
        "+x+y: to the right and the back of it, with pins at its front and left edges. -x+y: to "
        "the left and the back. +x-y: to the right and the front. -x-y: to the left and the front.",
    ),
    Question(
        "work_offset",
        "Which work offset does it get?",
        code,
        usual("G55"),
        "G54 to G59, or what else your controller has. The block writes it; nothing else should.",
    ),
    Question(
        "z_zero",
        "Which height is Z zero in your program: stock-top, seat or surface?",
        choice(("stock-top", "seat", "surface")),
        usual("stock-top"),
        "stock-top: the top of the piece. seat: its underside. surface: the bed.",
    ),
    Question(
        "max_skew",
        "The work lies {skew} askew over its length, and this controller does not turn its axes. "
        "How much do you bear?",
        length(0, 100),
        usual("0.1 mm", "0.004 in"),
        "It comes from the two holes that you read off. More than you say here, and there is no "
        "block; a survey of more holes tells how the grid lies (pincorner guide bed).",
        lambda said: said.too_skew(said),
        sample="0.1 mm",
    ),
    Question(
        "paper",
        "Which paper do you print on, a4 or letter?",
        choice(("a4", "letter")),
        usual("a4", "letter"),
        "The size of the setup sheet.",
    ),
)

WRITE = Question(
    "write", "Write the documents, load them and print the first sheet, yes or no?", yes_or_no,
    usual("yes"), "back: to the last question. no, or quit: what was answered is kept.",
)  # fmt: skip
"""The last one, whose answer is not kept."""
