"""Questions about the machine: units, axes and what moves, who stands where, the controller."""

from __future__ import annotations

from collections.abc import Mapping

from pincorner.units import in_unit, told_size
from pincorner.work.first.asked.question import (
    SIZE,
    UNKNOWN,
    Question,
    chosen,
    is_,
    is_short,
    same_as,
    size_doubts,
    tells_spread,
    usual,
)
from pincorner.work.first.asked.typed import (
    Amount,
    Choice,
    Option,
    Read,
    Said,
    length,
    lengths,
    odd,
    scan,
    span,
    yes_or_no,
)


def homes(said: Said) -> bool:
    """Whether machine coordinates are the same every day."""
    return bool(said["homes"] != "no")


def turns(said: Said) -> bool:
    """Whether the controller turns its axes, of the shipped ones."""
    return said["controller"] in ("rs274-turned", "extended")


def keys_in(said: Said) -> bool:
    """Whether somebody types X and Y on the panel: there is no block, or what is typed are sums
    with the G54 of the day, which a block of this controller cannot hold."""
    sums = homes(said) or said["controller"] in ("rs274", "rs274-turned")
    return said["controller"] in (None, "keyed") or not sums


def is_in_front(said: Said) -> bool:
    """Whether front and back are for the person what they are for the machine."""
    return said["operator"] in (None, "front")


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
    elif axis in TABLE_MOVES.get(said["moves"], ("", ""))[0]:
        check = f"the table {other}"
    return f"{value}, where {axis} is {low}. Jog {axis} plus to see it: {check}"


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


DIALECTS = ("rs274", "rs274-turned", "six", "extended", "keyed")
"""Shipped dialects in the order in which their blocks are shown."""
_EXTENT = Choice(
    Option("short", "", ("sheet", "first")), Option("all", "", ("everything", "whole", "all of it"))
)


def _extents(said: Said) -> tuple[Option, ...]:
    """The two ways of asking, with how many questions each leaves."""
    short, whole = _many(said, "short"), _many(said, "all")
    rest = "the rest when you call it again"
    return Option("short", f"{short}, {rest}" if short else rest), Option("all", whole)


def _many(said: Said, extent: str) -> str:
    """So many questions, in words; nothing where nobody counts them."""
    counted = said.left(extent)
    if counted is None:
        return ""
    least, most = counted
    if not most:
        return "no question more"
    many = f"{least}" if least == most else f"{least} to {most}"
    return f"{many} question{'s' if most > 1 else ''}"


def _tells_extent(value: str, said: Said) -> str:
    """The way, and how many questions it leaves."""
    return Choice(*_extents(said)).means(value)


_UNITS = Choice(
    Option("mm", "", ("millimeters", "millimetres", "metric")),
    Option("in", "", ("inch", "inches", "imperial", '"')),
)
_HOMES = yes_or_no(
    "machine coordinates are the same every day",
    "all coordinates count from G54, which you set at the same place each day",
)
TABLE_MOVES = {"bed-y": ("Y", "x"), "bed-x": ("X", "y"), "bed-xy": ("XY", "none")}
"""Of tables that move: along which axes, and `beam` of a machine, along which the spindle does."""


def _table(axis: str, other: str) -> tuple[str, ...]:
    """What else is said of a table that moves along one axis."""
    moving = ("along", "moves along", "in", "moves in", "goes along", "only moves along")
    return (
        *(f"{what} {how} {axis}" for what in ("table", "bed") for how in moving),
        *(f"spindle {how} {other}" for how in moving),
    )


_MOVES = Choice(
    Option("beam-x", "a beam (gantry) that lies along X, moves along Y",
           ("along x", "moves along y", "across")),
    Option("beam-y", "a beam that lies along Y, moves along X", ("along y", "moves along x")),
    Option("bed-y", "the table, along Y alone", _table("y", "x")),
    Option("bed-x", "the table, along X alone", _table("x", "y")),
    Option("bed-xy", "the table, along both",
           ("table along both", "bed along both", "table in both", "table along x and y")),
    Option("arm", "an arm on a column", ("column",)),
    unlisted=(Option("bed", "the table", ("table",)),),  # it does not say along which axis
)  # fmt: skip


def _moves_doubts(value: str, said: Said) -> list[str]:
    """A table of which it is not said along which axis it moves."""
    if value != "bed":
        return []
    return ["whether the table moves along Y, along X or both is not said: bed-y, bed-x or bed-xy"]


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


def _tells_controller(value: str, said: Said) -> str:
    """The number of the block that was shown, and what tells it from the others."""
    return f"{DIALECTS.index(value) + 1}, {SHORT_OF_DIALECT[value]}"


def _tells_unit(value: str, said: Said) -> str:
    return "inches" if value == "in" else value


MACHINE: tuple[Question, ...] = (
    chosen(
        "extent",
        "how much is asked today",
        "The short way to a first setup sheet, or all of it?",
        _EXTENT,
        usual("short"),
        "short leaves out travel, what moves and how far it reaches, the spindle's nose, how far "
        "past a piece in a jig cutters may go, and clamps, which `pincorner check` and `pincorner "
        "run` look at. `pincorner start` asks for them when it is called again, after the sheet.",
        listed=_extents,
        tells=_tells_extent,
    ),
    chosen(
        "units",
        "the unit that you measure in",
        "Which unit do you measure in?",
        _UNITS,
        usual("mm"),
        'Numbers without a unit are in it. Any length may say its own: 82.5 mm, 3 1/4 in, 3/4".',
        tells=_tells_unit,
        examples=("mm", "in"),
    ),
    chosen(
        "controller_units",
        "the read-out's unit",
        "Which unit does the controller's read-out show?",
        _UNITS,
        same_as("units"),
        "Setup blocks are written in it. It need not be the one that you measure in.",
        tells=_tells_unit,
    ),
    chosen(
        "homes",
        "whether the machine homes",
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
            f"the travel in {axis.upper()}",
            f"Travel in {axis.upper()}: which machine positions at its two ends?",
            span,
            UNKNOWN,
            "Jog to both ends and read machine coordinates. One number counts from 0.",
            homes,
            True,
            "offsets are not held against it",
            z_travel_doubts if axis == "z" else travel_doubts,
            examples=(ends,),
            tells=tells_travel,
            waits=is_short,
        )
        for axis, ends in (
            ("x", "{0 to 1250|0 to 49}"),
            ("y", "{0 to 800|0 to 97}"),
            ("z", "{-150 to 0|-6 to 0}"),
        )
    ),
    chosen(
        "moves",
        "what moves over the bed",
        "What moves over the bed, or is it the table?",
        _MOVES,
        UNKNOWN,
        "`pincorner run` reckons from it when what moves stays away from where the next piece is "
        "loaded.",
        optional=True,
        unknown="`pincorner run` tells no times for loading",
        doubts=_moves_doubts,
        examples=("1", "table along Y"),
        waits=is_short,
    ),
    chosen(
        "operator",
        "the side that you stand at",
        "Which side of the machine do you stand at?",
        _OPERATOR,
        usual("front"),
        "Jog Y plus and look which way the cutter goes over the bed: away from you, and you stand "
        "at the front; toward you, at the back. Jog X plus: away from you, and you stand at the "
        "left; toward you, at the right. Where the table moves it goes the other way: at Y plus "
        "it comes toward you if you stand at the front.",
        tells=tells_operator,
        shown=lambda text, said: "rear" if text == "back" else text,  # `back` goes back
    ),
    chosen(
        "controller",
        "what the controller takes",
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
        "how far what moves reaches",
        "How far does what moves reach from the spindle's axis: to either side, to the machine's "
        "front, to its back? One length: each way.",
        read_reach,
        UNKNOWN,
        "At its widest: beam, motors, feet, dust boom, hoses. The sides are along X; front is to "
        "lowest Y. Four lengths: left, right, front, back. For the times in which the next station "
        "may be loaded.",
        is_("moves", "beam-x", "beam-y", "arm"),
        True,
        "no times for loading are reckoned",
        size_doubts(10, 1500, "a reach"),
        sample="100",
        tells=tells_reach,
        examples=("{120|6}", "{120 140 160|6 9 5}", "{120 110 140 160|6 7 9 5}"),
        waits=is_short,
    ),
    Question(
        "nose",
        "the width of the spindle's lower end",
        "How wide across is the spindle's lower end with its nut?",
        SIZE,
        UNKNOWN,
        "`pincorner check` looks whether it runs into clamps and jigs.",
        optional=True,
        unknown="not checked against clamps and jigs",
        doubts=size_doubts(15, 250, "a nut"),
        sample="2 in",
        examples=("{64|2 1/2}",),
        waits=is_short,
    ),
    Question(
        "repeatability",
        "how well the machine comes back to a place",
        "How well does it come back to a place? Two times in three within this.",
        length(0, 20),
        UNKNOWN,
        "Touch the same block with an indicator ten times, coming from far away: two readings in "
        "three lie within this of their middle, along an axis.",
        optional=True,
        doubts=size_doubts(0, 1, "an error"),
        sample="0.02 mm",
        examples=("{0.02|0.001}",),
        tells=tells_spread,
        waits=is_short,
    ),
)
