"""The questions of the guided set-up, as values: the walk over them is one loop (`walk.py`).

One thing is asked at a time, in a shop's words. What nobody knows is left out of the documents;
nothing that could hurt somebody is guessed: reach, nose and travel are not known unless stated.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import Any, NamedTuple

from pincorner.units import Unit
from pincorner.work.first import clamped, reckoned
from pincorner.work.first.reckoned import UNKNOWN, Default, Doubts, homes, never, same_as, usual
from pincorner.work.first.typed import (
    BY_EDGES,
    NOT_KNOWN,
    Amount,
    Asks,
    Choice,
    Option,
    Read,
    Reader,
    Said,
    Wanted,
    as_told,
    code,
    counts,
    is_not_known,
    length,
    lengths,
    must_not_turn_round,
    name,
    pair,
    span,
    unread,
    yes_or_no,
)

DIALECTS = ("rs274", "rs274-turned", "six", "extended", "keyed")
"""Shipped dialects in the order in which their blocks are shown."""


def _always(said: Said) -> bool:
    return True


def _never(said: Said) -> bool:
    return False


def is_short(said: Said) -> bool:
    """Whether only what the first sheet needs is asked for today."""
    return bool(said["extent"] == "short")


def _no_doubt(value: Any, said: Said) -> list[str]:
    return []


def _tells(value: Any, said: Said) -> str:
    """Lengths as they were understood; of other answers themselves."""
    listed = value if isinstance(value, list) else [value]
    if listed and all(isinstance(each, Amount) for each in listed):
        return as_told(listed, said.unit)
    return str(value)


class Question(NamedTuple):
    """One question: its key, its words, what reads an answer, and when it is asked.

    default: what Enter answers, from what was said before; None: it has to be answered. help: what
    `?` tells. sample: an answer that would do, for pictures of what is not yet said. examples:
    answers as people type them, for `?` and refusals; each of them is taken. optional: `not known`
    is an answer; unknown: what that comes to. doubts: what is odd about an answer, and passes when
    Enter says it again. cannot: what of an answer cannot be at a machine as it was described; it is
    refused. tells: an answer as it was understood. listed: the answers that there are. waits: when
    it is not asked, but taken from options and files. shown: a default in brackets, where it stands
    there otherwise than it is kept.

    Words, help and examples may hold {metric|inch}, what depends on the shop's unit.
    """

    key: str
    words: str | Callable[[Said], str]
    read: Reader
    default: Default
    help: str
    asked: Callable[[Said], bool] = _always
    optional: bool = False
    unknown: str = ""
    doubts: Doubts = _no_doubt
    cannot: Doubts = _no_doubt
    sample: str = "0 0"
    examples: tuple[str, ...] | Callable[[Said], tuple[str, ...]] = ()
    tells: Callable[[Any, Said], str] = _tells
    listed: Callable[[Said], tuple[Option, ...]] = lambda said: ()
    waits: Callable[[Said], bool] = _never
    shown: Callable[[str, Said], str] = lambda text, said: text

    def told_words(self, said: Said) -> str:
        """The words, from what was said before."""
        words = self.words if isinstance(self.words, str) else self.words(said)
        return _in_words_of(words, said.unit)

    def told_help(self, said: Said) -> str:
        """What `?` tells, with examples."""
        told_examples = "; ".join(self.told_examples(said))
        examples = f" For example: {told_examples}." if told_examples else ""
        return _in_words_of(self.help, said.unit) + examples

    def told_examples(self, said: Said) -> tuple[str, ...]:
        """Answers as people type them."""
        found = self.examples if isinstance(self.examples, tuple) else self.examples(said)
        return tuple(_in_words_of(each, said.unit) for each in found)

    def example(self, said: Said) -> str:
        """One of them, for a refusal."""
        return next(iter(self.told_examples(said)), "") or self.default(said) or self.sample

    def answer(self, text: str, said: Said) -> Read:
        """What an answer says, as it is kept, and the words of it that were not read: those that
        may carry something. Raises ValueError for one that is not of the form, or cannot be."""
        if is_not_known(text):
            if self.optional:
                return Read(None, NOT_KNOWN)
            raise ValueError("this has to be known; ? tells more, quit keeps what was answered")
        try:
            found = self.read(text, said)
        except Wanted as wanted:
            many = len(self.listed(said))
            if many > 2:
                number = f"a number from 1 to {many}, or the word behind it"
                raise ValueError(f"expected {number}; got {text!r}") from None
            raise ValueError(wanted.with_example(self.example(said))) from None
        if found.value is not None and (cannot := self.cannot(found.value, said)):
            raise ValueError("; ".join(cannot))
        listed = " ".join(f"{each.word} {each.means}" for each in self.listed(said))
        rest = unread(found.rest, f"{self.told_words(said)} {listed}")
        if isinstance(found.value, Amount | list | dict):
            must_not_turn_round(rest)
        return found._replace(rest=tuple(rest))

    def heard(self, found: Read, said: Said) -> str:
        """How an answer was understood."""
        if found.kept == NOT_KNOWN:
            return f"not known: {self.unknown}" if self.unknown else "not known"
        return self.tells(found.value, said.with_answer(self.key, found.kept, found.value))

    def must_be_sure(self, found: Read, said: Said) -> None:
        """Raise Asks for an answer that is odd, or of which not all was read."""
        doubts = [] if found.value is None else self.doubts(found.value, said)
        if found.rest:
            words = " and ".join(f'"{each}"' for each in found.rest)
            doubts = [f"{self.heard(found, said)}; nothing is read of {words}", *doubts]
        if doubts:
            raise Asks("; ".join(doubts), found.kept)


def _in_words_of(text: str, unit: Unit) -> str:
    """A text with what stands in it as {metric|inch} in that unit."""
    return re.sub(
        r"\{([^|{}]*)\|([^{}]*)\}", lambda match: match[2] if unit == "in" else match[1], text
    )


def _is(key: str, *words: str) -> Callable[[Said], bool]:
    return lambda said: said[key] in words


def _chosen(
    key: str,
    words: str | Callable[[Said], str],
    choice: Choice,
    default: Default,
    help_: str,
    **more: Any,
) -> Question:
    """A question with a few answers."""
    return Question(
        key, words, choice, default, help_,
        **{
            "listed": lambda said: choice.options,
            "tells": lambda value, said: choice.means(value),
            **more,
        },
    )  # fmt: skip


_EXTENT = Choice(
    Option("short", "some 30 questions, the rest when you call it again", ("sheet", "first")),
    Option("all", "some 50", ("everything", "whole", "all of it")),
)


def _named(key: str, words: str, usual_name: str, **more: Any) -> Question:
    """A question for a name."""
    return Question(
        key, words, name, usual(usual_name),
        "Sheets and blocks carry it: letters, digits, blanks and - _ . +",
        examples=(usual_name,), **more,
    )  # fmt: skip


_UNITS = Choice(
    Option("mm", "", ("millimeters", "millimetres", "metric")),
    Option("in", "", ("inch", "inches", "imperial", '"')),
)
_HOMES = yes_or_no(
    "machine coordinates are the same every day",
    "all coordinates count from G54, which you set at the same place each day",
)
_MOVES = Choice(
    Option("beam-x", "a beam (gantry) that lies along X, moves along Y",
           ("along x", "moves along y", "across")),
    Option("beam-y", "a beam that lies along Y, moves along X", ("along y", "moves along x")),
    Option("bed", "the table, along one axis or both", ("table",)),
    Option("arm", "an arm on a column", ("column",)),
)  # fmt: skip
_OPERATOR = Choice(
    Option("front", "lowest Y"), Option("back", "highest Y", ("rear",)),
    Option("left", "lowest X"), Option("right", "highest X"),
)  # fmt: skip
SHORT_OF_DIALECT = {
    "rs274": "takes sums in brackets",
    "rs274-turned": "turns axes by R",
    "six": "plain numbers, no sums",
    "extended": "turns axes by G68",
    "keyed": "no block: typed on a panel",
}
"""What tells each of the shipped dialects from the others, in five words."""
_CONTROLLER = Choice(
    Option("rs274", "", ("sums", "brackets", "sums in brackets")),
    Option("rs274-turned", "", ("r",)),
    Option("six", "", ("plain numbers", "plain numbers no sums")),
    Option("extended", "", ("g68",)),
    Option("keyed", "", ("panel", "typed", "type", "no block")),
)
_HOLDER = Choice(
    Option("stock", "the piece itself lies against the pins",
           ("bare", "piece", "no jig", "without jig", "without a jig")),
    Option("jig", "a holder that stays with the job", ("holder", "fixture", "tray")),
)  # fmt: skip
_Z_ZERO = Choice(
    Option("stock-top", "the top of the piece", ("top", "top of stock", "top of the stock")),
    Option("seat", "the underside of the piece", ("underside", "bottom")),
    Option(
        "surface",
        "the surface of the bed",
        ("bed", "plate", "table", "pallet", "spoil board", "spoilboard"),
    ),
)
_PAPER = Choice(Option("a4"), Option("letter", "", ("us letter",)))
_POSTED = yes_or_no(
    "CAM turned the program as the jig lies", "the program is as for the jig unturned"
)

_SIZE = length(0.01, 20_000)
_JIG = _is("holder", "jig")


def _tells_controller(value: str, said: Said) -> str:
    """The number of the block that was shown, and what tells it from the others."""
    return f"{DIALECTS.index(value) + 1}, {SHORT_OF_DIALECT[value]}"


def _tells_unit(value: str, said: Said) -> str:
    return "inches" if value == "in" else value


_MACHINE: tuple[Question, ...] = (
    _chosen(
        "extent",
        "The short way to a first setup sheet, or all of it?",
        _EXTENT,
        usual("short"),
        "short leaves out travel, what moves and how far it reaches, the spindle's nose, and "
        "clamps, which `pincorner check` and `pincorner run` look at. `pincorner start` asks for "
        "them when it is called again, after the sheet.",
    ),
    _chosen(
        "units",
        "Which unit do you measure in?",
        _UNITS,
        usual("mm"),
        'Numbers without a unit are in it. Any length may say its own: 82.5 mm, 3 1/4 in, 3/4".',
        tells=_tells_unit,
        examples=("mm", "in"),
    ),
    _chosen(
        "controller_units",
        "Which unit does the controller's read-out show?",
        _UNITS,
        same_as("units"),
        "Setup blocks are written in it. It need not be the one that you measure in.",
        tells=_tells_unit,
    ),
    _chosen(
        "homes",
        "Does the machine home (find its switches), yes or no?",
        _HOMES,
        usual("yes"),
        "If it does, machine coordinates are the same every day. If not, all coordinates here "
        "count from G54, which you set at the same place each day, not by G92.",
        listed=lambda said: (),
    ),
    *(
        Question(
            f"travel_{axis}",
            f"Travel in {axis.upper()}: which machine positions at its two ends?",
            span,
            UNKNOWN,
            "Jog to both ends and read machine coordinates. One number counts from 0.",
            homes,
            True,
            "offsets are not held against it",
            reckoned.z_travel_doubts if axis == "z" else reckoned.travel_doubts,
            examples=(ends,),
            tells=reckoned.tells_travel,
            waits=is_short,
        )
        for axis, ends in (
            ("x", "{0 to 1250|0 to 49}"),
            ("y", "{0 to 800|0 to 97}"),
            ("z", "{-150 to 0|-6 to 0}"),
        )
    ),
    _chosen(
        "moves",
        "What moves over the bed, or is it the table?",
        _MOVES,
        UNKNOWN,
        "`pincorner run` reckons from it when what moves stays away from where the next piece is "
        "loaded.",
        optional=True,
        unknown="`pincorner run` tells no times for loading",
        examples=("1", "bed"),
        waits=is_short,
    ),
    _chosen(
        "operator",
        "Which side of the machine do you stand at?",
        _OPERATOR,
        usual("front"),
        "Jog Y plus and look which way the cutter goes over the bed: away from you, and you stand "
        "at the front; toward you, at the back. Jog X plus: away from you, and you stand at the "
        "left; toward you, at the right. Where the table moves it goes the other way: at Y plus "
        "it comes toward you if you stand at the front.",
        tells=reckoned.tells_operator,
    ),
    _chosen(
        "controller",
        "Which of these does your controller take? The number; 5 if you are not sure.",
        _CONTROLLER,
        usual("5"),
        "What the setup block of a station looks like there. 5 is no block: you type X and Y on "
        "the controller's offset page. `pincorner edit machine` changes it later. More in: "
        "pincorner guide controllers.",
        tells=_tells_controller,
        examples=("3", "5"),
        shown=lambda text, said: f"{DIALECTS.index(text) + 1}" if text in DIALECTS else text,
    ),
    Question(
        "carriage",
        "How far does what moves reach from the spindle's axis: to either side, to the machine's "
        "front, to its back? One length: each way.",
        reckoned.read_reach,
        UNKNOWN,
        "At its widest: beam, motors, feet, dust boom, hoses. The sides are along X; front is to "
        "lowest Y. Four lengths: left, right, front, back. For the times in which the next station "
        "may be loaded.",
        _is("moves", "beam-x", "beam-y", "arm"),
        True,
        "no times for loading are reckoned",
        reckoned.size_doubts(10, 1500, "a reach"),
        sample="100",
        tells=reckoned.tells_reach,
        examples=("{120|6}", "{120 140 160|6 9 5}", "{120 110 140 160|6 7 9 5}"),
        waits=is_short,
    ),
    Question(
        "nose",
        "How wide across is the spindle's lower end with its nut?",
        _SIZE,
        UNKNOWN,
        "`pincorner check` looks whether it runs into clamps and jigs.",
        optional=True,
        unknown="not checked against clamps and jigs",
        doubts=reckoned.size_doubts(15, 250, "a nut"),
        sample="2 in",
        examples=("{64|2 1/2}",),
        waits=is_short,
    ),
    Question(
        "repeatability",
        "How well does it come back to a place? Two times in three within this.",
        length(0, 20),
        UNKNOWN,
        "Touch the same block with an indicator ten times, coming from far away: two readings in "
        "three lie within this of their middle, along an axis.",
        optional=True,
        doubts=reckoned.size_doubts(0, 1, "an error"),
        sample="0.02 mm",
        examples=("{0.02|0.001}",),
        tells=reckoned.tells_spread,
        waits=is_short,
    ),
)

_BED: tuple[Question, ...] = (
    Question(
        "size",
        "How large is the bed with the holes: X by Y by thick?",
        lengths(0.01, 20_000, 2, 3),
        UNKNOWN,
        "With a tape: X as the machine's X goes, Y the other way. Thick may be left out. Not "
        "known: half a pitch around the holes.",
        optional=True,
        doubts=reckoned.size_of_bed_doubts,
        sample="40 x 40 in",
        examples=("{900 x 600 x 18|48 x 96 x 3/4 in}", "{900 x 600|4 x 8 ft}"),
        tells=reckoned.tells_sizes,
    ),
    Question(
        "pitch",
        "How far apart are its holes, middle to middle?",
        pair(0.01, 20_000),
        usual("100", "4"),
        "Measure over many holes and divide. Two lengths where X and Y differ.",
        doubts=reckoned.size_doubts(8, 400, "a pitch"),
        examples=("{100|4}", "{96 x 100|3.8 x 4}"),
        tells=reckoned.tells_pitch,
    ),
    Question(
        "holes",
        "How many holes along X, and along Y?",
        counts,
        reckoned.holes_that_fit,
        "Columns are lettered A, B, C along X, rows are numbered 1, 2, 3 along Y.",
        doubts=reckoned.holes_doubts,
        cannot=reckoned.holes_cannot,
        sample="10 x 6",
        examples=("12 x 7",),
        tells=reckoned.tells_holes,
    ),
    Question(
        "hole",
        "How wide is a hole (the diameter)?",
        _SIZE,
        reckoned.hole_that_fits,
        "As measured, best with a calliper: what the hole is wider than the pin is play.",
        doubts=reckoned.size_doubts(3, 60, "a hole"),
        cannot=reckoned.hole_cannot,
        examples=("{20.02|0.755}",),
    ),
    Question(
        "hole_position",
        "Who made the holes? Or a length: two holes in three are within it of their places.",
        reckoned.read_made,
        usual("machine"),
        "How far off holes are decides which pins are best, and how well the work is known to lie; "
        "a survey of the bed measures it. The figures behind the words are common practice.",
        optional=True,
        listed=lambda said: reckoned.MADE.options,
        doubts=reckoned.size_doubts(0, 2, "an error"),
        examples=("hand", "{0.1|0.004}"),
        tells=reckoned.tells_spread,
    ),
    Question(
        "missing",
        "Holes that are not there, or not to be used: their labels, or none?",
        reckoned.read_missing,
        usual("none"),
        "Such as holes under a rail, or worn ones.",
        examples=("A1 H5", "none"),
        tells=lambda value, said: " ".join(value) or "none",
    ),
    Question(
        "edge",
        "How far is the middle of hole A1 from the bed's left and front edges?",
        pair(0, 5000, BY_EDGES),
        reckoned.edge_in_the_middle,
        "Two lengths, along X and along Y. The left edge is that of lowest X, the front that of "
        "lowest Y.",
        lambda said: said["size"] is not None,
        cannot=reckoned.edge_cannot,
        examples=("{50 x 60|2 x 3}",),
    ),
    Question(
        "spoil",
        "How deep may cutters go into the bed? 0: not at all.",
        reckoned.read_spoil,
        usual("0"),
        "`pincorner check` finds deeper cuts.",
        optional=True,
        doubts=reckoned.size_doubts(0, 6, "a cut into the board"),
        cannot=reckoned.spoil_cannot,
        sample="0",
        examples=("{0.5|0.02}",),
    ),
    Question(
        "reference",
        "Over which hole do you set G54 each day? Its label; or mark, if it is elsewhere.",
        reckoned.read_reference,
        usual("A1"),
        "All coordinates count from there. A hole has its label, or its column and row as two "
        "counts, 4 11.",
        lambda said: not homes(said),
        examples=("A1", "mark"),
        tells=reckoned.tells_reference,
    ),
    Question(
        "a1",
        reckoned.a1_words,
        lengths(-50_000, 50_000, 2),
        never,
        "Put a pin or a centring tool into the spindle, jog over the middle of the hole and read "
        "X and Y. It has to be read at the machine; `quit` keeps all until then.",
        lambda said: homes(said) or said["reference"] == reckoned.MARK,
        cannot=reckoned.first_hole_cannot,
        examples=("{X 80.0 Y 90.0|X 2.5 Y 3.25}", "{80 90|2.5 3.25}"),
        tells=reckoned.tells_a1,
    ),
    Question(
        "far",
        reckoned.far_words,
        reckoned.read_far,
        UNKNOWN,
        "From two holes follows how the grid lies turned.",
        lambda said: max(said["holes"]) > 1,
        True,
        "row 1 counts as parallel to X until a survey shows how the bed lies turned",
        reckoned.far_doubts,
        reckoned.far_cannot,
        examples=reckoned.far_examples,
        tells=reckoned.tells_far,
    ),
)

_PINS: tuple[Question, ...] = (
    Question(
        "shank",
        "How thick is a pin in the hole (the diameter)?",
        _SIZE,
        never,
        "As measured, best with a calliper: what it is thinner than its hole is play, by half of "
        "which the work gives way when it is pushed home.",
        doubts=reckoned.shank_doubts,
        cannot=reckoned.shank_cannot,
        examples=reckoned.shank_examples,
    ),
    Question(
        "body",
        "How thick is it above the bed, where the work touches it?",
        _SIZE,
        lambda said: said["shank"].written if said["shank"] else None,
        "As measured: half of it is the distance from the hole to the work.",
        doubts=reckoned.body_doubts,
        examples=("{20|0.75}",),
    ),
    Question(
        "pin_height",
        "How high does a pin stand above the bed?",
        _SIZE,
        usual("20", "3/4"),
        "`pincorner check` looks whether the cutter runs into it.",
        doubts=reckoned.size_doubts(2, 150, "a height"),
        examples=("{20|3/4}",),
    ),
    Question(
        "in_hole",
        "How deep does a pin go into the hole?",
        length(0.01, 200),
        UNKNOWN,
        "How much it may lean follows from it.",
        optional=True,
        examples=("{15|5/8}",),
        waits=_always,
    ),
)

_PIECE: tuple[Question, ...] = (
    _chosen(
        "holder",
        "What goes against the pins first?",
        _HOLDER,
        usual("stock"),
        "stock: a piece of material itself. jig: a holder that stays with the job, with a place "
        "for a piece in it. A jig on two dowels is described by a document: pincorner example jig.",
        examples=("stock", "jig"),
    ),
    Question(
        "footprint",
        "How large is the jig: its own X, along its own FRONT edge, by its Y?",
        lengths(0.01, 20_000, 2),
        reckoned.jig_that_fits,
        "Its outer edges, two of which touch the pins. The front edge is the one that you, or your "
        "drawing, call so; how it lies turned is asked next.",
        _JIG,
        doubts=reckoned.footprint_doubts,
        examples=("{400 x 300|16 x 12}",),
        tells=reckoned.tells_sizes,
    ),
    Question(
        "turn",
        "Where does the jig's own FRONT edge point as it lies on the bed, seen from where you "
        "stand?",
        reckoned.read_turn,
        reckoned.unturned,
        "The front edge is the one along the jig's own X. If you stand at the machine's front, to "
        "you is unturned: the jig's X and Y go as the machine's.",
        _JIG,
        tells=reckoned.tells_turn,
        listed=reckoned.ways,
        examples=("to you", "right"),
        sample="to you",
    ),
    Question(
        "seat",
        "How high above the bed does the piece lie in the jig?",
        length(0, 2000),
        usual("18", "3/4"),
        "The height of the face under the piece; 0 where it lies on the bed itself.",
        _JIG,
        doubts=reckoned.size_doubts(0, 300, "a seat"),
        sample="0",
        examples=("{18|3/4}",),
    ),
    Question(
        "height",
        "How high above the bed is the jig's tallest point, clamps apart?",
        length(0, 2000),
        lambda said: said["seat"].written if said["seat"] else None,
        "Strips and stops count. `pincorner check` takes the jig as that high all around the "
        "piece.",
        _JIG,
        doubts=reckoned.size_doubts(0, 500, "a height"),
        cannot=reckoned.height_cannot,
        examples=("{40|1 1/2}",),
    ),
    Question(
        "stock",
        reckoned.stock_words,
        lengths(0.01, 20_000, 3),
        reckoned.stock_that_fits,
        "Three lengths, in this order.",
        doubts=reckoned.stock_doubts,
        examples=("{400 x 250 x 18|16 x 10 x 3/4 in}",),
        tells=reckoned.tells_sizes,
    ),
    Question(
        "lies",
        "How far does the piece lie from the jig's own left and front edges?",
        lengths(-20_000, 20_000, 2, places=BY_EDGES),
        usual("0 0"),
        "Two lengths, along the jig's own X and Y.",
        _JIG,
        doubts=reckoned.lies_doubts,
        examples=("{20 x 15|1 x 2}",),
        tells=reckoned.tells_lies,
    ),
    Question(
        "zero",
        "Where on the piece is X0 Y0 in CAM? Or X and Y from its front left corner.",
        reckoned.read_zero,
        usual("front left"),
        "A corner of the piece, its middle, or two lengths, minus outside of the piece.",
        doubts=reckoned.zero_doubts,
        examples=("middle", "{10 x 5|1/2 x 1/2 in}"),
        tells=reckoned.tells_zero,
        listed=reckoned.zeros,
    ),
    _chosen(
        "posted",
        reckoned.posted_words,
        _POSTED,
        reckoned.posted_default,
        "no: its X runs along the jig's own X, as for the jig unturned, and the block turns the "
        "axes, if the controller can. yes: the program's X runs along the machine's X all the "
        "same: CAM has turned the part. A wrong answer cuts the part at right angles to where it "
        "should be: look at X and Y in the program.",
        asked=lambda said: _JIG(said) and reckoned.turn_of(said) != 0,
        doubts=reckoned.posted_doubts,
        sample="yes",
        listed=lambda said: (),
    ),
)

_PLACE: tuple[Question, ...] = (
    Question(
        "corner",
        reckoned.corner_words,
        reckoned.read_hole,
        usual("A1"),
        "Pins stand in the row and in the column of that hole. Its label, as in the picture; or "
        "its column and its row as two counts, 3 2.",
        examples=("A1", "3 2"),
        tells=lambda value, said: f"hole {value}",
    ),
    Question(
        "toward",
        lambda said: f"Where does the work lie, seen from hole {said['corner']}?",
        reckoned.read_toward,
        reckoned.toward_the_middle,
        "+x+y: where X and Y grow, with pins at its edges of lowest X and Y.",
        listed=reckoned.quadrants,
        tells=reckoned.tells_toward,
        doubts=reckoned.toward_doubts,
        sample="+x+y",
        examples=lambda said: tuple(
            text for each in reckoned.quadrants(said)[:1] for text in (each.means, each.word)
        ),
        shown=reckoned.shows_toward,
    ),
    Question(
        "pins",
        reckoned.pins_words,
        reckoned.read_pins,
        usual("yes"),
        "Near an end a pin may miss a rounded or broken corner. Or name three holes: two for the "
        "edge that carries two pins, then the other edge's.",
        waits=lambda said: reckoned.farther_in(said) is None,
        tells=reckoned.tells_pins,
        listed=reckoned.pins_listed,
        examples=("yes", "no"),
    ),
    Question(
        "clamps",
        clamped.clamp_words,
        clamped.read_clamps,
        UNKNOWN,
        "The edges of jig or piece as they lie on the bed, seen from where you stand. `pincorner "
        "check` keeps the cutter off.",
        optional=True,
        unknown="no clamps are drawn, and none is checked",
        tells=clamped.tells_clamps,
        sample="none",
        examples=("2 far, 1 left", "none"),
        waits=is_short,
    ),
    *(
        Question(
            f"clamps_{side}",
            partial(clamped.along_words, side),
            clamped.read_along(side),
            partial(clamped.spread_evenly, side),
            "A length for each clamp, to its middle.",
            partial(clamped.is_on, side),
            cannot=partial(clamped.along_cannot, side),
            tells=partial(clamped.tells_along, side),
        )
        for side in clamped.EDGES
    ),
    *(
        Question(
            key,
            words,
            length(0, 2_000),
            UNKNOWN,
            "Not known: no clamps are drawn, and none is checked. All clamps have one size here; "
            "each may be changed later: pincorner edit station.",
            clamped.has_clamps,
            True,
            "no clamps are drawn, and none is checked",
            reckoned.size_doubts(0, 300, "a clamp"),
            cannot,
            "30 mm",
            (sample,),
            tells,
        )
        for key, words, sample, cannot, tells in (
            ("clamp_wide", "How wide is a clamp, along the edge?", "{30|1}", _no_doubt, _tells),
            ("clamp_out", "How far does it stick out from the edge?", "{50|2}", _no_doubt, _tells),
            ("clamp_over", clamped.over_words, "{10|1/2}", _no_doubt, clamped.tells_over),
            (
                "clamp_top",
                "How high above the BED is its top, handle and all?",
                "{60|2 1/2}",
                clamped.top_cannot,
                clamped.tells_top,
            ),
        )
    ),
    Question(
        "work_offset",
        "Which work offset?",
        code,
        usual("G55"),
        "G54 to G59, or what else your controller has. The block writes it, or you key it in; "
        "nothing else should.",
        examples=("G55",),
        tells=reckoned.tells_work_offset,
    ),
    _chosen(
        "z_zero",
        "Which height is Z zero in your program?",
        _Z_ZERO,
        usual("stock-top"),
        "Whoever runs the program sets Z there with the tool of the day.",
    ),
    Question(
        "max_skew",
        reckoned.skew_words,
        reckoned.read_askew,
        usual("no"),
        "It comes from the two holes that you read off; a survey of more holes tells how the grid "
        "lies (pincorner guide bed). Or a length: how far off it may be.",
        reckoned.too_skew,
        doubts=reckoned.skew_doubts,
        sample="0.1 mm",
        examples=("yes",),
        tells=reckoned.tells_skew,
    ),
    *(
        _named(key, f"What do you call the {key}?", usual_name, waits=_always)
        for key, usual_name in reckoned.USUAL_NAMES.items()
    ),
    Question(
        "names",
        "What do you call the machine, the bed and the pins?",
        reckoned.read_names,
        reckoned.names_said,
        "Sheets and blocks carry them: letters, digits, blanks and - _ . +, with commas between.",
        asked=lambda said: not all(said[key] for key in reckoned.USUAL_NAMES),
        tells=lambda value, said: ", ".join(value),
        examples=("router, bench, peg",),
    ),
    _named("jig", "What do you call the jig?", "tray", asked=_JIG),
    _named("station", "What do you call the station, this place with its job?", "first"),
    _chosen(
        "paper",
        "Which paper do you print on?",
        _PAPER,
        usual("a4", "letter"),
        "The size of the setup sheet.",
    ),
)

_PARTS = {"MACHINE": _MACHINE, "BED": _BED, "PINS": _PINS, "PIECE": _PIECE, "PLACE": _PLACE}
QUESTIONS: tuple[Question, ...] = tuple(each for part in _PARTS.values() for each in part)
"""All questions, in the order in which they are asked."""


def part_of(question: Question) -> str:
    """Which part of the way a question stands in, as `BED, 2 of 5`; nothing for the last one."""
    for number, (part, questions) in enumerate(_PARTS.items(), 1):
        if question in questions:
            return f"{part}, {number} of {len(_PARTS)}"
    return ""


WRITE = _chosen(
    "write", "Write it all, and a setup sheet: yes or no?", yes_or_no(), usual("yes"),
    "back: to the last question. no, or quit: what was answered is kept.",
    examples=("yes", "no"), listed=lambda said: (),
)  # fmt: skip
"""The last one, whose answer is not kept."""


def paper_of(said: Said) -> str:
    """The paper that was named, or is usual in the shop's unit."""
    return str(said["paper"] or ("letter" if said.unit == "in" else "a4"))
