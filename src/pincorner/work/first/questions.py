"""The questions of the guided set-up, as values: the walk over them is one loop (`walk.py`).

Words are a shop's. What nobody knows is left out of the documents; nothing that could hurt somebody
is guessed: reach, nose and travel are not known unless they are stated.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, NamedTuple

from pincorner.units import Unit
from pincorner.work.first import reckoned
from pincorner.work.first.plain import Choice, Option, Unclear, cleaned, words_of, yes_or_no
from pincorner.work.first.reckoned import UNKNOWN, Default, Doubts, homes, never, same_as, usual
from pincorner.work.first.sided import from_corner, reaches
from pincorner.work.first.typed import (
    Amount,
    Reader,
    Said,
    as_told,
    code,
    counts,
    labels,
    length,
    name,
    pair,
    several,
    span,
)

DIALECTS = ("rs274", "rs274-turned", "six", "extended", "keyed")
"""Shipped dialects in the order in which their blocks are shown."""


def _always(said: Said) -> bool:
    return True


def _no_doubt(value: Any, said: Said) -> list[str]:
    return []


def _tells(value: Any, said: Said) -> str:
    """Lengths as they were understood; nothing for other answers."""
    listed = value if isinstance(value, list) else [value]
    if listed and all(isinstance(each, Amount) for each in listed):
        return as_told(listed, said.unit)
    return ""


class Question(NamedTuple):
    """One question: its key, its words, what reads an answer, and when it is asked.

    default: what Enter answers, from what was said before; None: it has to be answered. help: what
    `?` tells. sample: an answer that would do, for pictures of what is not yet said. like: an
    answer as people type it, for refusals. optional: `not known` is an answer. doubts: what is odd
    about an answer, and passes when it is said again. cannot: what of an answer cannot be at a
    machine as it was described; it is refused. tells: an answer as it was understood. listed: the
    answers that there are. unsure: the answer of somebody who is not sure.

    Words, help and like may hold {metric|inch}, what depends on the shop's unit.
    """

    key: str
    words: str
    read: Reader
    default: Default
    help: str
    asked: Callable[[Said], bool] = _always
    optional: bool = False
    doubts: Doubts = _no_doubt
    sample: str = "0 0"
    cannot: Doubts = _no_doubt
    like: str | Callable[[Said], str] = ""
    tells: Callable[[Any, Said], str] = _tells
    listed: Callable[[Said], tuple[Option, ...]] = lambda said: ()
    unsure: Default = never

    def told_words(self, unit: Unit) -> str:
        """The words in a unit."""
        return in_words_of(self.words, unit)

    def told_help(self, unit: Unit) -> str:
        """What `?` tells, in a unit."""
        return in_words_of(self.help, unit)

    def example(self, said: Said) -> str:
        """An answer as people type it."""
        like = self.like if isinstance(self.like, str) else self.like(said)
        return in_words_of(like, said.unit) or self.default(said) or self.sample


def in_words_of(text: str, unit: Unit) -> str:
    """A text with what stands in it as {metric|inch} in that unit."""
    return re.sub(
        r"\{([^|{}]*)\|([^{}]*)\}", lambda match: match[2] if unit == "in" else match[1], text
    )


def _is(key: str, *words: str) -> Callable[[Said], bool]:
    return lambda said: said[key] in words


def _chosen(
    key: str, words: str, choice: Choice, default: Default, help_: str, **more: Any
) -> Question:
    """A question with a few answers."""
    return Question(
        key, words, choice, default, help_, listed=lambda said: choice.options,
        **{"tells": lambda value, said: choice.means(value), **more},
    )  # fmt: skip


_UNITS = Choice(
    Option("mm", "", (
        "millimeters", "millimetres", "millimeter", "millimetre", "metric", "mms", "in mm",
    )),
    Option("in", "", ("inch", "inches", "imperial", '"', "ins", "in inches")),
)  # fmt: skip

_HOMES = yes_or_no(
    ("homes", "it homes", "homing", "has switches", "home switches", "limit switches", "switches",
     "it finds them", "automatically", "by itself"),
    ("no home", "no switches", "no home switches", "by hand", "manually", "manual"),
    ("machine coordinates are the same every day",
     "all coordinates count from G54, which you set at the same place each day"),
)  # fmt: skip

_OPERATOR = Choice(
    Option("front", "where Y is lowest"), Option("back", "where Y is highest", ("rear",)),
    Option("left", "where X is lowest"), Option("right", "where X is highest"),
)  # fmt: skip

_CONTROLLER = Choice(
    Option("rs274", "", ("rs274/ngc", "rs274ngc", "rs 274", "ngc")), Option("rs274-turned"),
    Option("six"), Option("extended"),
    Option("keyed", "", (
        "key", "table", "offset table", "offset page", "the table", "by hand", "typed in",
        "key it in", "key them in", "type them in", "type it in", "typed", "manually", "manual",
    )),
)  # fmt: skip

_ACROSS_WAYS = (
    r"\bmoves? (?:along|in|on) (?:the )?y\b", r"\b(?:lies?|beam|gantry) (?:along|in) (?:the )?x\b",
    r"\b(?:front|forth|forward)s? (?:and|to) (?:back|backward)s?\b|\bback and (?:forth|front)\b",
)  # fmt: skip
_ALONG_WAYS = (
    r"\bmoves? (?:along|in|on) (?:the )?x\b", r"\b(?:lies?|beam|gantry) (?:along|in) (?:the )?y\b",
    r"\bmoves? (?:from )?left (?:and|to) right\b|\bsideways\b",
)  # fmt: skip
_MOVES = Choice(
    Option("across", "a beam from left to right (along X), which moves along Y",
           ("beam lies across", "beam across", "lies across")),
    Option("along", "a beam from front to back (along Y), which moves along X",
           ("beam lies along", "beam along", "lies along")),
    Option("bed", "the bed moves under the spindle", ("table", "the table moves", "table moves")),
    Option("arm", "an arm without a beam", ("cantilever",)),
)  # fmt: skip


def _read_moves(text: str, said: Said) -> str:
    """What moves; a beam whose way is not said is asked about."""
    plain = cleaned(text)
    not_bed = re.sub(
        r"\b(?:the )?(?:bed|table) (?:stands still|does not move|doesn't move|is fixed|"
        r"stays|stays put|is still|stationary)\b",
        " ",
        plain,
    )
    not_bed = _STANDS.sub(" ", not_bed)
    ways = {
        word
        for word, patterns in (("across", _ACROSS_WAYS), ("along", _ALONG_WAYS))
        if any(re.search(pattern, not_bed) for pattern in patterns)
    }
    if len(ways) == 1:
        (way,) = ways
        other = "along" if way == "across" else "across"
        if not re.match(rf"{other}\b", not_bed):
            return way
    names_a_beam = re.search(r"\b(?:gantry|beam|bridge|portal|spindle|head)\b", not_bed)
    if ways or (names_a_beam and not re.search(r"\b(?:across|along)\b", not_bed)):
        raise Unclear(_WHICH_WAY)
    if re.fullmatch(r"(?:along |in |the )*[xy](?: axis)?", not_bed):
        raise Unclear(_WHICH_WAY)
    return _MOVES(not_bed, said)


_STANDS = re.compile(
    r"\b(?:the )?(?:spindle|head)?(?: (?:is )?on an? | on the )?(?:the )?fixed "
    r"(?:bridge|beam|portal|gantry|column|head|spindle)\b"
)
_WHICH_WAY = (
    "which way does the beam lie: across (from left to right) or along (from front to back)?"
)

_YES_NO_TURN = yes_or_no(
    ("posted turned", "turned", "it's turned", "also turned", "turned as well", "too"),
    ("unturned", "not turned", "as drawn", "as for the jig", "as usual", "normal"),
    ("the program was posted turned as the jig is", "the program is as for the jig unturned"),
)  # fmt: skip

_HOLDER = Choice(
    Option("stock", "the piece itself lies against the pins", (
        "bare stock", "no jig", "without a jig", "without jig", "none", "nothing", "bare",
        "the piece", "the piece itself", "piece", "material", "the material", "blank", "bar",
        "workpiece", "plate", "just stock", "bare stock no jig", "stock no jig", "sheet", "panel",
    )),
    Option("jig", "a holder that stays with the job", (
        "tray", "holder", "fixture", "board", "carrier", "a jig", "template", "nest", "pallet",
        "vise", "vice", "sub plate",
    )),
)  # fmt: skip

_EITHER_BOARD = (
    "board", "top of the board", "top of the boards", "surface of the board", "plate",
    "top of the plate", "on the board", "on top of the board",
)  # fmt: skip
"""What may be the work as well as the bed: words of both, so that they are asked about."""

_Z_ZERO = Choice(
    Option("stock-top", "the top of the piece", (
        "top", "top of stock", "top of the stock", "top of the piece", "top of piece",
        "top of the part", "top of part", "top of material", "top of the material", "stock",
        "material top", "part top", "piece top", "top of the workpiece", "top of workpiece",
        "top of the blank", "upper side", "top surface", "top face", "surface of the stock",
        "surface of the piece", "surface of the material", "top surface of the stock",
        *_EITHER_BOARD,
    )),
    Option("seat", "the underside of the piece", (
        "underside", "bottom", "bottom of the piece", "bottom of the stock", "bottom of stock",
        "bottom of the part", "bottom of the material", "bottom of part", "jig", "top of the jig",
        "under the piece", "bottom of the workpiece",
    )),
    Option("surface", "the surface of the bed", (
        "bed", "spoilboard", "spoil board", "table", "wasteboard", "top of the bed",
        "top of the spoilboard", "top of spoilboard", "top of the table",
        "top of the spoil board", "top of bed", "top of table", "bed surface",
        "surface of the bed", "surface of the spoilboard", "surface of the table",
        "top of the wasteboard", "board with the holes", "plate with the holes", *_EITHER_BOARD,
    )),
)  # fmt: skip

_PAPER = Choice(
    Option("a4", "", ("din a4", "a 4", "iso a4")),
    Option("letter", "", ("us letter", "8.5 x 11", "8 1/2 x 11", "us", "8.5x11", "letter size")),
)  # fmt: skip

_SIZE = length(0.01, 20_000)
_PLACE = several(-50_000, 50_000, 2)
_JIG = _is("holder", "jig")


def _read_spoil(text: str, said: Said) -> Amount:
    """How deep; no cutting at all is 0."""
    if _NO_CUTTING.fullmatch(" ".join(words_of(text)).rstrip(".")):
        return Amount("0", 0.0)
    found: Amount = length(0, 100)(_YOU_MAY_CUT.sub(" ", text), said)
    return found


def _read_thickness(text: str, said: Said) -> Amount:
    """How thick a pin is; words of its height are asked about."""
    found: Amount = _SIZE(text, said)
    if re.search(r"\b(?:above|over|high|height|tall|stands?|up)\b", cleaned(text)):
        told = f"{found.written}" if " " in found.written else f"{found.written} {said.unit}"
        raise Unclear(
            f"{told}: its thickness where the work touches it, not its height? Enter takes it",
            found.written,
        )
    return found


def _read_pitch(text: str, said: Said) -> list[Amount]:
    """How far apart holes are; how wide one is may be said in front of it."""
    found: list[Amount] = pair(0.01, 20_000)(_WIDE_HOLES.sub("", cleaned(text)), said)
    return found


_WIDE_HOLES = re.compile(r"^.*\bholes? (?=(?:are |is |at )?(?:every|each|on)\b)")

_YOU_MAY_CUT = re.compile(r"(?i)\b(?:you|may|can|cut(?:s|ting)?)\b")
_NO_CUTTING = re.compile(
    r"(?:no|none|never|nothing|not|not at all|zero)"
    r"(?: (?:not|never|no|at all|please|deep|depth|cut(?:s|ting)?|in(?:to)?|the|it|bed|plate|board"
    r"|allowed))*"
)


def _read_spread(text: str, said: Said) -> Amount:
    """An error that two of three are within; the largest of all is asked about."""
    found: Amount = length(0, 20)(_OF_ALL.sub(" ", text), said)
    if found.mm > 0 and _OF_ALL.search(text):
        half = f"{found.mm / 2 / (25.4 if said.unit == 'in' else 1):.3g} {said.unit}"
        raise Unclear(
            f"if all are within that, two of three are within half of it. Enter takes {half}", half
        )
    return found


_OF_ALL = re.compile(
    r"(?i)\b(?:all(?: of them)?|every one|max(?:imum)?|at most|no more than|at worst|worst"
    r"|never more than)\b"
)


QUESTIONS: tuple[Question, ...] = (
    _chosen(
        "units",
        "Which unit do you measure in?",
        _UNITS,
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
        like="big router",
    ),
    _chosen(
        "controller_units",
        "Which unit does the controller's read-out show?",
        _UNITS,
        same_as("units"),
        "Setup blocks are written in it. It need not be the one that you measure in.",
    ),
    _chosen(
        "homes",
        "Does the machine home (find its switches) when it is switched on, yes or no?",
        _HOMES,
        usual("yes"),
        "If it does, machine coordinates are the same every day. If not, all coordinates here "
        "count from G54, which you set at the same place each day, as by hole A1, and not by G92.",
    ),
    Question(
        "travel_x",
        "How far does it travel in X? Lowest and highest of the machine read-out.",
        span,
        UNKNOWN,
        "Jog to both ends and read machine coordinates, such as {0 1250 or -1250 0|0 49 or -49 0}. "
        "One number counts from 0. Offsets beyond the travel are then refused; not known: not "
        "checked.",
        homes,
        True,
        reckoned.travel_doubts,
        like="{0 to 1250|0 to 49}",
        tells=reckoned.tells_travel,
    ),
    Question(
        "travel_y",
        "And in Y?",
        span,
        UNKNOWN,
        "As in X, such as {0 to 800|0 to 97}.",
        homes,
        True,
        reckoned.travel_doubts,
        like="{0 to 800|0 to 97}",
        tells=reckoned.tells_travel,
    ),
    Question(
        "travel_z",
        "And in Z?",
        span,
        UNKNOWN,
        "As in X; on most machines 0 is at the top, as {-150 to 0|-6 to 0}.",
        homes,
        True,
        reckoned.z_travel_doubts,
        like="{-150 to 0|-6 to 0}",
        tells=reckoned.tells_travel,
    ),
    Question(
        "moves",
        "What moves?",
        _read_moves,
        UNKNOWN,
        "`pincorner run` reckons from it when what moves stays away from where the next piece is "
        "loaded; not known: it tells no such times.",
        optional=True,
        tells=lambda value, said: _MOVES.means(value),
        listed=lambda said: _MOVES.options,
        like="across",
    ),
    _chosen(
        "operator",
        "Which side of the machine do you stand at?",
        _OPERATOR,
        usual("front"),
        "Front is where Y is lowest. Jog Y plus and look which way the cutter goes, seen from the "
        "board: away from you, and you stand at the front; toward you, at the back. Jog X plus: "
        "away from you, and you stand at the left; toward you, at the right. Where the table moves "
        "and not the cutter, the table goes the other way: at Y plus it comes toward you if you "
        "stand at the front.",
        tells=reckoned.tells_operator,
    ),
    _chosen(
        "controller",
        "Which of these blocks looks like what your controller takes? A number.",
        _CONTROLLER,
        usual("keyed"),
        "A block writes the work offset. The last one writes nothing: it tells what to key in at "
        "the offset page, which every controller with such a page takes. Take it where you are not "
        "sure; `pincorner edit machine` changes it later. More in: pincorner guide controllers.",
        unsure=usual("keyed"),
    ),
    Question(
        "carriage",
        "How far does what moves reach from the spindle's axis: left, right, front, back?",
        reaches,
        UNKNOWN,
        "At its widest: beam, motors, feet, dust boom, hoses. Left and right are along X, front "
        "and back along Y. Four lengths, as {120 120 140 140|6 6 9 5}, or with the words, as "
        "{left 120, right 120, front 140, back 140|left 6, right 6, front 9, back 5}. "
        "Not known: no loading windows are reckoned, and nothing is guessed.",
        _is("moves", "across", "along", "arm"),
        True,
        reckoned.size_doubts(10, 1500, "a reach"),
        "100 100 100 100",
        like="{left 120, right 120, front 140, back 140|left 6, right 6, front 9, back 5}",
        tells=lambda value, said: f"left, right, front, back: {as_told(value, said.unit)}",
    ),
    Question(
        "nose",
        "Diameter of the spindle's nose with its nut?",
        _SIZE,
        UNKNOWN,
        "`pincorner check` looks whether it runs into clamps and jigs. Not known: not checked.",
        optional=True,
        doubts=reckoned.size_doubts(15, 250, "a nose"),
        sample="2 in",
        like="{64|2 1/2}",
    ),
    Question(
        "repeatability",
        "How well does it come back to a place? Two times in three within this, along an axis.",
        _read_spread,
        UNKNOWN,
        "Touch the same block with an indicator ten times, coming from far away: two readings in "
        "three lie within this of their middle. Not known: how well a part comes back is told "
        "without it, and said so.",
        optional=True,
        doubts=reckoned.size_doubts(0, 1, "an error"),
        sample="0.02 mm",
        like="{0.02|0.001}",
    ),
    Question(
        "bed",
        "What do you call the bed?",
        name,
        usual("bench"),
        "The surface with the holes that pins go into.",
        like="long bench",
    ),
    Question(
        "size",
        "How large is the bed, X by Y?",
        several(0.01, 20_000, 2),
        UNKNOWN,
        "Measured with a tape: X as the machine's X goes, Y the other way, such as "
        "{900 x 600|48 x 96}. Not known: half a pitch around the holes.",
        optional=True,
        doubts=reckoned.size_doubts(150, 8000, "a bed"),
        sample="40 x 40 in",
        like="{900 x 600|48 x 96}",
    ),
    Question(
        "thickness",
        "How thick is the board or plate with the holes?",
        _SIZE,
        UNKNOWN,
        "Such as {18|3/4}. Not known: nothing is checked against it.",
        optional=True,
        doubts=reckoned.size_doubts(3, 150, "a board"),
        sample="18 mm",
        like="{18|3/4}",
    ),
    Question(
        "spoil",
        "How deep may cutters go into it? 0: not at all.",
        _read_spoil,
        UNKNOWN,
        "A spoil board may be cut into by so much, such as {0.5|0.02}; `pincorner check` finds "
        "deeper cuts. Not known: not at all.",
        optional=True,
        doubts=reckoned.size_doubts(0, 6, "a cut into the board"),
        cannot=reckoned.spoil_cannot,
        sample="0",
        like="{0.5|0.02}",
    ),
    Question(
        "pitch",
        "How far apart are the holes, middle to middle? One length, or X and Y.",
        _read_pitch,
        usual("100", "4"),
        "Measure over many holes and divide. As {100, or 96 x 100|4, or 3.8 x 4}.",
        doubts=reckoned.size_doubts(8, 400, "a pitch"),
        like="{100, or 96 x 100|4, or 3.8 x 4}",
    ),
    Question(
        "holes",
        "How many holes along X and along Y?",
        counts,
        reckoned.holes_that_fit,
        "Such as 12 x 7. Columns are lettered A, B, C along X, rows are numbered 1, 2, 3 along Y.",
        doubts=reckoned.holes_doubts,
        cannot=reckoned.holes_doubts,
        sample="10 x 6",
        like="12 x 7",
        tells=reckoned.tells_holes,
    ),
    Question(
        "edge",
        "How far is the middle of hole A1 from the bed's left and front edges?",
        from_corner(0, 5000, from_edges=True),
        reckoned.edge_in_the_middle,
        "A1 is the hole with the lowest X and Y: front left. Two lengths, along X and along Y.",
        lambda said: said["size"] is not None,
        doubts=reckoned.edge_doubts,
        cannot=reckoned.edge_doubts,
        like="{50 x 50|2 x 2}",
    ),
    Question(
        "hole",
        "Diameter of the holes?",
        _SIZE,
        usual("20", "3/4"),
        "As measured, best with a calliper: what the hole is wider than the pin is play.",
        doubts=reckoned.hole_doubts,
        cannot=reckoned.hole_cannot,
        like="{20.02|0.755}",
    ),
    Question(
        "hole_position",
        "How far off may a hole be from where it should be? Two holes in three are within this.",
        _read_spread,
        usual("0.1 mm", "0.004 in"),
        "Some {0.1 mm|0.004 in} where the machine itself drilled them; more where they were "
        "drilled by hand. From it follows which pins are best, and how well the work is known to "
        "lie; a survey of the bed measures it. Where you are not sure the usual "
        "{0.1 mm|0.004 in} counts.",
        optional=True,
        doubts=reckoned.size_doubts(0, 2, "an error"),
        like="{0.1|0.004}",
        unsure=usual("0.1 mm", "0.004 in"),
    ),
    Question(
        "missing",
        "Holes that are not there, or not to be used?",
        labels,
        usual("none"),
        "Their labels, such as A1 H5, or none.",
        like="A1 H5",
        tells=lambda value, said: " ".join(value) or "none",
    ),
    Question(
        "a1",
        "Where is hole A1 (lowest X and Y)? X and Y as the read-out shows them.",
        _PLACE,
        lambda said: None if homes(said) else "0 0",
        "Put a pin or a centring tool into the spindle, jog over the middle of A1 and read machine "
        "coordinates, such as {80.0 90.0|2.5 3.25}. On a machine that does not home set G54 there: "
        "then it is 0 0. There is no default: it has to be read at the machine. `quit` keeps all "
        "until then.",
        cannot=reckoned.first_hole_cannot,
        like="{X 80.0 Y 90.0|X 2.5 Y 3.25}",
        tells=lambda value, said: f"A1 at X {value[0].written}, Y {value[1].written}",
    ),
    Question(
        "far",
        "Now jog to hole {far}, or to any other far from A1. X and Y as the read-out shows them.",
        reckoned.read_far,
        UNKNOWN,
        "From two holes follows how the grid lies turned. Another hole than that is named, as "
        "{B7 X 180.0 Y 690.0|K1 X 44.0 Y 4.13}. Not known: row 1 counts as parallel to X until it "
        "is surveyed (pincorner survey).",
        lambda said: max(said["holes"]) > 1,
        True,
        reckoned.far_doubts,
        cannot=reckoned.far_cannot,
        like=reckoned.far_like,
        tells=reckoned.tells_far,
    ),
    Question(
        "pin",
        "What do you call the pins?",
        name,
        usual("peg"),
        "Locating pins: a shank in the hole, a body above the bed.",
        like="peg",
    ),
    Question(
        "shank",
        "Diameter of a pin in the hole?",
        _SIZE,
        same_as("hole"),
        "As measured. It must go into the hole.",
        doubts=reckoned.shank_doubts,
        cannot=reckoned.shank_cannot,
        like="{20|0.75}",
    ),
    Question(
        "body",
        "And how thick is it above the bed, where the work touches it?",
        _read_thickness,
        same_as("shank"),
        "As measured: half of it is the distance from the hole to the work.",
        doubts=reckoned.size_doubts(3, 100, "a body"),
        like="{20|0.75}",
    ),
    Question(
        "pin_height",
        "How high does it stand above the bed?",
        _SIZE,
        usual("20", "3/4"),
        "`pincorner check` looks whether the cutter runs into it.",
        doubts=reckoned.size_doubts(2, 150, "a height"),
        like="{20|3/4}",
    ),
    _chosen(
        "holder",
        "What goes against the pins first: bare stock, or a jig?",
        _HOLDER,
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
        _JIG,
        like="tray",
    ),
    Question(
        "footprint",
        "How large is the jig? Its own X by Y: X is along its own FRONT edge, however it lies.",
        reckoned.read_footprint,
        usual("400 x 300", "16 x 12"),
        "Its outer edges, two of which touch the pins. The front edge is the one that you, or your "
        "drawing, call so; how it lies turned is asked next. A third length is its height.",
        _JIG,
        doubts=reckoned.footprint_doubts,
        like="{400 x 300|16 x 12}",
        tells=reckoned.tells_footprint,
    ),
    Question(
        "turn",
        "Where does the jig's own FRONT edge point, as it lies on the bed and as you see it?",
        reckoned.read_turn,
        reckoned.unturned,
        "Seen from where you stand. The front edge is the one along the jig's own X. If you stand "
        "at the machine's front, to you is unturned: the jig's X and Y go as the machine's.",
        _JIG,
        tells=reckoned.tells_turn,
        listed=reckoned.ways,
        like="to you",
        sample="to you",
    ),
    Question(
        "seat",
        "How high above the bed does the piece lie in it?",
        reckoned.read_seat,
        reckoned.seat_of_footprint,
        "The height of the seat; 0 where the piece lies on the bed itself.",
        _JIG,
        doubts=reckoned.seat_doubts,
        sample="0",
        like="{18|3/4}",
    ),
    Question(
        "height",
        "How high is the jig's tallest point above the bed?",
        length(0, 2000),
        reckoned.highest_said,
        "Clamps and toggles of its own too. `pincorner check` keeps the cutter off.",
        _JIG,
        doubts=reckoned.size_doubts(0, 500, "a height"),
        cannot=reckoned.height_cannot,
        like="{40|1 1/2}",
    ),
    Question(
        "zero",
        "Where is program zero, from the jig's own front left corner, X and Y?",
        from_corner(-50_000, 50_000),
        usual("0 0"),
        "The X0 Y0 of your CAM, measured from the corner of the jig, along its own front and left "
        "edges. As {20 15|1 1}, or {20 right and 15 behind|1 right and 1 behind}.",
        _JIG,
        doubts=reckoned.zero_doubts,
        like="{20 15, or 20 right and 15 behind|1 1, or 1 right and 1 behind}",
        tells=lambda value, said: f"X and Y from that corner: {as_told(value, said.unit)}",
    ),
    Question(
        "stock",
        "How large is the piece: {its} X by Y by thickness?",
        several(0.01, 20_000, 3),
        usual("400 x 250 x 18", "16 x 10 x 3/4"),
        "Three lengths. Bare stock: as it lies on the bed, along the machine's X and Y, with "
        "program zero at its corner with the lowest X and Y. In a jig: along the jig's own X and "
        "Y.",
        doubts=reckoned.stock_doubts,
        like="{400 x 250 x 18|16 x 10 x 3/4}",
        tells=reckoned.tells_stock,
    ),
    Question(
        "piece",
        "Is program zero at the piece's front left corner? If not: where is that corner, X and Y "
        "from program zero?",
        reckoned.read_piece,
        usual("yes"),
        "yes: the piece begins at program zero. Else the way from program zero to the piece's own "
        "front left corner, as {-10 -10|-1/2 -1/2}; or what program zero is at: middle, front "
        "right, back left, back right.",
        _JIG,
        doubts=reckoned.piece_doubts,
        like="yes, or {-10 -10|-1/2 -1/2}, or middle",
        tells=reckoned.tells_piece,
    ),
    _chosen(
        "posted",
        "The jig lies turned by {turn} degrees. Is the program posted turned as well, yes or no? "
        "Turned so, {lies}; unturned, {unturned}.",
        _YES_NO_TURN,
        reckoned.posted_default,
        "no: its X runs along the jig's own X, as for the jig unturned, and the block turns the "
        "axes, if the controller can. yes: the program's X runs along the machine's X all the "
        "same: CAM has turned the part. A wrong answer cuts the part at right angles to where it "
        "should be: look at X and Y in the program.",
        asked=lambda said: _JIG(said) and reckoned.turn_of(said) != 0,
        doubts=reckoned.posted_doubts,
        sample="yes",
    ),
    Question(
        "station",
        "What do you call this station, the place with its job?",
        name,
        usual("first"),
        "A name of your own; sheets and blocks carry it.",
        like="first",
    ),
    Question(
        "corner",
        "Pins stand in the row and in the column of one hole, the inside corner, which stays "
        "empty. Which hole?",
        reckoned.read_corner,
        usual("A1"),
        "The work is pushed into that corner, against pins in the row and in the column of that "
        "hole. Its label, such as A1; or a corner of the bed, such as front left.",
        like="A1",
        tells=lambda value, said: f"hole {value}",
    ),
    Question(
        "toward",
        "Seen from that corner, where does the work lie?",
        reckoned.read_toward,
        reckoned.toward_the_middle,
        "+x+y: where X and Y grow, with pins at its edges of lowest X and Y. In words: as you see "
        "it from where you stand.",
        listed=reckoned.quadrants,
        tells=reckoned.tells_toward,
        sample="+x+y",
        like="+x+y, or right and back",
    ),
    Question(
        "clamps",
        "Which edges of it do clamps hold, or none? In the middle, or how far along the edge.",
        reckoned.read_clamps,
        UNKNOWN,
        "The own edges of jig or piece: left, right, front, back. As: right, back. Or, along the "
        "edge from its left or front end: {right 60, back 100|right 3, back 5}. `pincorner check` "
        "keeps the cutter off. Not known: no clamps are drawn, and none is checked.",
        optional=True,
        like="none, or right, back, or {right 60|right 3}",
        tells=reckoned.tells_clamps,
        sample="none",
    ),
    Question(
        "clamp_size",
        "How large is a clamp: along the edge, out from the edge, over the work, and how high its "
        "top is above the bed?",
        several(0, 2000, 4),
        UNKNOWN,
        "Four lengths, as {30 50 10 45|1 2 1/2 1 3/4}. Each clamp may be changed later: pincorner "
        "edit station. Not known: no clamps are drawn, and none is checked.",
        lambda said: bool(said["clamps"]),
        True,
        reckoned.size_doubts(0, 300, "a clamp"),
        "30 50 10 45",
        like="{30 50 10 45|1, 2, 1/2, 1 3/4}",
    ),
    Question(
        "work_offset",
        "Which work offset does it get?",
        code,
        usual("G55"),
        "G54 to G59, or what else your controller has. The block writes it; nothing else should.",
        like="G55",
    ),
    _chosen(
        "z_zero",
        "Which height is Z zero in your program?",
        _Z_ZERO,
        usual("stock-top"),
        "stock-top: the top of the piece. seat: its underside. surface: the bed.",
    ),
    Question(
        "max_skew",
        "The work lies {skew} askew over its length, and this controller does not turn its axes. "
        "There is no block unless you bear that much. How much do you bear?",
        length(0, 100),
        never,
        "It comes from the two holes that you read off. Less than what it lies askew, and there is "
        "no block; a survey of more holes tells how the grid lies (pincorner guide bed).",
        reckoned.too_skew,
        doubts=reckoned.skew_doubts,
        sample="0.1 mm",
        like="{0.5|0.02}",
    ),
    _chosen(
        "paper",
        "Which paper do you print on?",
        _PAPER,
        usual("a4", "letter"),
        "The size of the setup sheet.",
    ),
)

WRITE = _chosen(
    "write", "Write the documents, load them and print the first sheet, yes or no?", yes_or_no(),
    usual("yes"), "back: to the last question. no, or quit: what was answered is kept.",
)  # fmt: skip
"""The last one, whose answer is not kept."""
