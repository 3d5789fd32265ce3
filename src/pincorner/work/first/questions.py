"""The questions of the guided set-up, as values: the walk over them is one loop (`walk.py`).

Words are a shop's. What nobody knows is left out of the documents; nothing that could hurt somebody
is guessed: reach, nose and travel are not known unless they are stated.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from functools import partial
from typing import Any, NamedTuple

from pincorner.units import Unit, told, told_size
from pincorner.work.first import clamped, reckoned, together
from pincorner.work.first.heard import ALL, AXES, CHANGES, LABELS, NEGATIONS, NUMBERS, SIDES
from pincorner.work.first.holes import read_corner, read_missing, tells_holes
from pincorner.work.first.plain import (
    NO,
    NOTS,
    Choice,
    Option,
    Unclear,
    Wanted,
    cleaned,
    in_axes,
    with_figures,
    words_of,
    yes_or_no,
)
from pincorner.work.first.reckoned import UNKNOWN, Default, Doubts, homes, never, same_as, usual
from pincorner.work.first.sided import from_corner, reaches
from pincorner.work.first.typed import (
    Amount,
    Reader,
    Said,
    as_told,
    code,
    counts,
    length,
    name,
    pair,
    several,
    span,
    tenths_as_lengths,
)

_AXES = frozenset((AXES,))
_SIDED = frozenset((SIDES, AXES, CHANGES))

DIALECTS = ("rs274", "rs274-turned", "six", "extended", "keyed")
"""Shipped dialects in the order in which their blocks are shown."""


def _always(said: Said) -> bool:
    return True


def _no_doubt(value: Any, said: Said) -> list[str]:
    return []


def _tells(value: Any, said: Said) -> str:
    """Lengths as they were understood; nothing for other answers."""
    listed = value if isinstance(value, list) else [value]
    if isinstance(value, Amount):
        return reckoned.with_sum(value, said.unit)
    if listed and all(isinstance(each, Amount) for each in listed):
        return as_told(listed, said.unit)
    return ""


def _tells_unit(value: str, said: Said) -> str:
    return "inches" if value == "in" else value


class Question(NamedTuple):
    """One question: its key, its words, what reads an answer, and when it is asked.

    default: what Enter answers, from what was said before; None: it has to be answered. help: what
    `?` tells. sample: an answer that would do, for pictures of what is not yet said. examples:
    answers as people type them, for `?` and refusals; each of them is taken. optional: `not known`
    is an answer; unknown: what that comes to. doubts: what is odd about an answer, and passes when
    it is said again. cannot: what of an answer cannot be at a machine as it was described; it is
    refused. tells: an answer as it was understood, label: what it is of. listed: the answers that
    there are. unsure: the answer of somebody who is not sure.

    members: the questions that this one asks all in one: it reads texts by their keys. usual: those
    that are taken by their default where nothing is said of them; others are asked. volunteered:
    never asked, but read where it was said. hears: the kinds of what carries something in an answer
    (`heard.py`) that its reader answers for; same: an answer that says the same in other words;
    needless: why it is not asked; also: questions of others that may be answered with it.

    Words, help and examples may hold {metric|inch}, what depends on the shop's unit.
    """

    key: str
    words: str | Callable[[Said], str]
    read: Reader
    default: Default
    help: str
    asked: Callable[[Said], bool] = _always
    optional: bool = False
    doubts: Doubts = _no_doubt
    sample: str = "0 0"
    cannot: Doubts = _no_doubt
    examples: tuple[str, ...] | Callable[[Said], tuple[str, ...]] = ()
    tells: Callable[[Any, Said], str] = _tells
    listed: Callable[[Said], tuple[Option, ...]] = lambda said: ()
    unsure: Default = never
    label: str = ""
    unknown: str = ""
    members: tuple[str, ...] = ()
    usual: tuple[str, ...] = ()
    volunteered: bool = False
    hears: frozenset[str] = frozenset()
    same: Callable[[str, Said], str] = lambda text, said: text
    needless: str = "it is not asked here"
    also: tuple[str, ...] = ()

    @property
    def rest_usual(self) -> bool:
        """Whether all that is not said of the questions in this one counts as usual."""
        return bool(self.members) and self.usual == self.members

    def told_words(self, said: Said) -> str:
        """The words, from what was said before."""
        words = self.words if isinstance(self.words, str) else self.words(said)
        return in_words_of(words, said.unit)

    def told_help(self, said: Said) -> str:
        """What `?` tells, with examples."""
        told_examples = "; ".join(self.told_examples(said))
        examples = f" {FOR_EXAMPLE}{told_examples}." if told_examples else ""
        return in_words_of(self.help, said.unit) + examples

    def told_examples(self, said: Said) -> tuple[str, ...]:
        """Answers as people type them."""
        found = self.examples if isinstance(self.examples, tuple) else self.examples(said)
        return tuple(in_words_of(each, said.unit) for each in found)

    def example(self, said: Said) -> str:
        """One of them, for a refusal."""
        return next(iter(self.told_examples(said)), "") or self.default(said) or self.sample


FOR_EXAMPLE = "For example: "


def in_words_of(text: str, unit: Unit) -> str:
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
        key, words, choice, default, help_, listed=lambda said: choice.options,
        **{
            "tells": lambda value, said: choice.means(value),
            "hears": frozenset((NEGATIONS, AXES)),
            **more,
        },
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
    Option("front", "lowest Y", ("south",)), Option("back", "highest Y", ("rear", "north")),
    Option("left", "lowest X"), Option("right", "highest X"),
)  # fmt: skip

_CONTROLLER = Choice(
    Option("rs274", "", ("rs274/ngc", "rs274ngc", "rs 274", "ngc")), Option("rs274-turned"),
    Option("six"), Option("extended"),
    Option("keyed", "", (
        "key", "table", "offset table", "offset page", "the table", "by hand", "typed in",
        "key it in", "key them in", "type them in", "type it in", "typed", "manually", "manual",
    )),
)  # fmt: skip

SHORT_OF_DIALECT = {
    "rs274": "takes sums in brackets",
    "rs274-turned": "turns axes by R",
    "six": "plain numbers, no sums",
    "extended": "turns axes by G68",
    "keyed": "no block: typed on a panel",
}
"""What tells each of the shipped dialects from the others, in five words."""

_OF_CONTROLLERS = {
    "keyed": r"\b(?:typ(?:e|ing|ed)|key(?:ed|ing)?|panel|offset (?:page|table|screen)|by hand)\b",
    "extended": r"\bg ?68\b|\bg ?54\.1\b",
    "rs274-turned": r"\br[- ]words?\b|\bby r\b|\bwith r\b",
    "rs274": r"\b(?:sums?|brackets|expressions?|maths?|arithmetic)\b|\bg59\.[1-3]\b",
    "six": r"\bg ?10\b|\bplain numbers\b",
}
"""What people say of their controller, and which block it takes: the first that is said counts."""


def _read_controller(text: str, said: Said) -> str:
    """A number of the blocks that were shown, words of their list, or that offsets are typed on a
    panel.

    What else is said of a controller is offered by its number and not taken: a block that it does
    not take is no small thing. Raises Unclear.
    """
    plain = cleaned(text)
    shown = [
        each for each, told in SHORT_OF_DIALECT.items()
        if set(words_of(plain)) <= set(words_of(told))
    ]  # fmt: skip
    if len(shown) == 1:
        return shown[0]
    does, does_not = set[str](), set[str]()
    for part in re.split(r"[,;:]|\.\s|\b(?:and|but)\b", plain):
        named = {word for word, pattern in _OF_CONTROLLERS.items() if re.search(pattern, part)}
        is_negated = NOTS & set(words_of(part)) or "n't" in part
        (does_not if is_negated else does).update(named)
    if not does and not does_not:
        return _shown_block(text, plain, said)
    if does == {"keyed"} and not does_not:
        return "keyed"
    if "rs274" in does:
        raise Unclear("whether it takes sums in brackets: 1 if it does, 3 if not, by the number?")
    found = next((word for word in _OF_CONTROLLERS if word in does - does_not - {"keyed"}), None)
    if found is None and "rs274" in does_not and "six" not in does_not:
        found = "six"
    if found is None or "keyed" in does:
        raise Unclear("which of the five, by its number?")
    number = f"{DIALECTS.index(found) + 1}"
    offer = f"Enter takes {number}, {SHORT_OF_DIALECT[found]}"
    raise Unclear(f"which of the five, by its number? {offer}", number)


def _shown_block(text: str, plain: str, said: Said) -> str:
    """One of the blocks that were shown, by its number."""
    try:
        return _CONTROLLER(text, said)
    except ValueError:
        numbers = re.findall(r"(?<![a-z0-9.])[1-5](?![0-9.])", plain)
        if len(numbers) == 1 and len(plain.split()) > 2:
            return _CONTROLLER(numbers[0], said)
        if len(plain.split()) > 2 and not re.search(r"(?<![a-z0-9.])[0-9]\b", plain):
            raise Unclear(
                "not sure which? 5, X and Y typed on its panel, goes with every controller. Enter "
                "takes that",
                "5",
            ) from None
        raise


def _tells_controller(value: str, said: Said) -> str:
    """The number of the block that was shown, and what tells it from the others."""
    return f"{DIALECTS.index(value) + 1}, {SHORT_OF_DIALECT[value]}"


_LIES, _GOES = r"lies?|spans?|reaches|beam|gantry|bridge", r"moves?|travels?|slides?|rides?|moving"
_WAYS_OF_A_BEAM = {
    "across": rf"\b(?:{_LIES}) (?:along|in|across|from) (?:the )?x\b"
    rf"|\b(?:{_GOES}) (?:(?:along|in|on) (?:the )?y\b|away\b"
    r"|(?:to|towards?) (?:the )?(?:back|front|me)\b)",
    "along": rf"\b(?:{_LIES}) (?:along|in|from) (?:the )?y\b"
    rf"|\b(?:{_GOES}) (?:(?:along|in|on) (?:the )?x\b|sideways\b)",
}
"""How a beam lies, by that or by where it moves; what it `goes` may be either."""
_THERE_AND_BACK = (
    (re.compile(r"\bleft and right\b"), "along x"),
    (re.compile(r"\b(?:front and back|back and (?:forth|front))\b"), "along y"),
)
_MOVES = Choice(
    Option("across", "beam (gantry) lies left to right",
           ("beam lies across", "beam across", "lies across")),
    Option("along", "it lies front to back",
           ("beam lies along", "beam along", "lies along")),
    Option("bed", "the table moves", ("table", "the table moves", "table moves")),
    Option("arm", "an arm on a column", ("cantilever",)),
)  # fmt: skip
_TABLE_MOVES = re.compile(
    r"\b(?:table|bed)(?: \(?(?:the )?(?:bed|table)\)?)?(?: that| which)? (?:moves|travels|slides|"
    r"goes|is moving|does(?! not))\b|\bmoving (?:table|bed)\b"
)


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
    if _TABLE_MOVES.search(not_bed) and not re.search(r"\b(?:beam|gantry) moves\b", not_bed):
        return "bed"
    by_axes = in_axes(not_bed)
    for pattern, axis in _THERE_AND_BACK:
        by_axes = pattern.sub(axis, by_axes)
    ways = {word for word, pattern in _WAYS_OF_A_BEAM.items() if re.search(pattern, by_axes)}
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


class _Turned(Choice):
    """Yes or no, or which side of the piece lies along the program's X."""

    def __call__(self, text: str, said: Any = None) -> str:
        """The option that an answer says. Raises Unclear, Wanted."""
        reckoned.must_turn_alike(text, said)
        return reckoned.posted_by_sides(text, said) or super().__call__(text, said)


_YES_NO_TURN = yes_or_no(
    (
        "cam did", "it did", "did", "turned in cam", "posted turned", "turned", "it's turned",
        "also turned", "turned as well", "too",
    ),
    ("unturned", "not turned", "as drawn", "as for the jig", "as usual", "normal"),
    ("CAM turned the program as the jig lies", "the program is as for the jig unturned"),
)  # fmt: skip

_HOLDER = Choice(
    Option("stock", "the piece itself lies against the pins", (
        "bare stock", "no jig", "without a jig", "without jig", "none", "nothing", "bare",
        "the piece", "the piece itself", "piece", "material", "the material", "blank", "bar",
        "workpiece", "plate", "just stock", "bare stock no jig", "stock no jig", "sheet", "panel",
        "board", "boards", "stock against the pins",
    )),
    Option("jig", "a holder that stays with the job", (
        "tray", "holder", "fixture", "board", "carrier", "a jig", "template", "nest", "pallet",
        "vise", "vice", "sub plate", "block with a pocket", "boards",
    )),
)  # fmt: skip

_HOLDS = re.compile(
    r"\b(?:no|without|not|none|bare)\b|\b(pockets?|strips?|fences?|rims?|holds?|nests?|recess(?:es)?)\b"
)


def _read_holder(text: str, said: Said) -> str:
    """Bare stock or a jig; what has a pocket or a strip is a jig, whatever it is called."""
    found = _HOLDS.search(cleaned(text))
    if found and found[1]:
        return "jig"
    if _ITSELF.search(cleaned(text)):
        return "stock"
    try:
        return _HOLDER(text, said)
    except Wanted:
        if not re.search("[a-z]{3}", text.lower()):
            raise
        raise Unclear(
            "stock or jig: does a piece of material itself lie against the pins, or what holds it?"
        ) from None


_ITSELF = re.compile(
    r"^(?:just |only )?(?:the )?bare\b|\b(?:itself|themselves)\b.*\b(?:no|without(?: a)?) jig\b"
    r"|^(?:just |only )?(?:the )?[a-z]+ (?:itself|themselves)\b"
)
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


class _Height(Choice):
    """A height that is zero; `the board` is the piece where that was called so."""

    def __call__(self, text: str, said: Any = None) -> str:
        """The option that an answer says. Raises Unclear, Wanted."""
        plain = cleaned(text)
        either = re.search(r"\b(plate|board|panel|sheet)\b", plain)
        if either and said is not None and reckoned.called_so(either[1], said) == "piece":
            text = plain.replace(either[1], "piece")
        return super().__call__(text, said)


_PAPER = Choice(
    Option("a4", "", ("din a4", "a 4", "iso a4")),
    Option("letter", "", ("us letter", "8.5 x 11", "8 1/2 x 11", "us", "8.5x11", "letter size")),
)  # fmt: skip

_SIZE = length(0.01, 20_000)
_SIZE_OR_0 = length(0, 2_000)
_PLACE = several(-50_000, 50_000, 2)
_JIG = _is("holder", "jig")


def _read_spoil(text: str, said: Said) -> Amount:
    """How deep; no cutting at all is 0."""
    if set(words_of(text)) & NOTS and not re.search("[0-9]", with_figures(cleaned(text))):
        return Amount("0", 0.0)
    found: Amount = length(0, 100)(text, said)
    return found


_THE_SAME = frozenset(words_of("same the as in hole its it is below there all through"))


def _read_thickness(text: str, said: Said) -> Amount:
    """How thick a pin is; words of its height are asked about."""
    if said["shank"] and set(words_of(text)) <= _THE_SAME:
        return Amount(said["shank"].written, said["shank"].mm)
    found: Amount = _SIZE(text, said)
    if re.search(r"\b(?:above|over|high|height|tall|stands?|up)\b", cleaned(text)):
        told = f"{found.written}" if " " in found.written else f"{found.written} {said.unit}"
        raise Unclear(
            f"{told}: its thickness where the work touches it, not its height? Enter takes it",
            found.written,
        )
    return found


_UP_TO = re.compile(r"([0-9.]+)(?: ?(?:mm|in))? ?(?:to|or|\.\.|-) ?([0-9.]+)")


def _spread_said(text: str, said: Said) -> str:
    """An error as people say it: the larger of two."""
    return _UP_TO.sub(r"\2", tenths_as_lengths(with_figures(cleaned(text)), said.unit))


def _read_spread(text: str, said: Said) -> Amount:
    """An error that two of three are within; the largest of all is asked about."""
    text = _spread_said(text, said)
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


def _read_askew(text: str, said: Said) -> Amount:
    """How far off a cut may be; a yes takes how far it is, rounded up."""
    if together.agrees(text) and re.search("[a-z]", text.lower()):
        step_mm = 0.01 if said.unit == "mm" else 0.0254
        up_mm = math.ceil(said.skew_mm(said) / step_mm - 1e-9) * step_mm
        return Amount(told_size(up_mm, said.unit), up_mm)
    found: Amount = length(0, 100)(text, said)
    return found


QUESTIONS: tuple[Question, ...] = (
    Question(
        "unit",
        "Which unit do you measure in? And the read-out, if another?",
        together.units,
        usual("mm"),
        "Numbers that you type without a unit are in it. Any length may say its own all the same: "
        '82.5 mm, 3 1/4 in, 3/4". Setup blocks are written in the unit of the read-out.',
        examples=("mm", "in", "inches, the read-out shows mm"),
        listed=lambda said: _UNITS.options,
        members=("units", "controller_units"),
    ),
    _chosen(
        "units",
        "Which unit do you measure in?",
        _UNITS,
        usual("mm"),
        "Numbers that you type without a unit are in it.",
        label="measured in",
        tells=_tells_unit,
    ),
    _chosen(
        "controller_units",
        "Which unit does the controller's read-out show?",
        _UNITS,
        same_as("units"),
        "Setup blocks are written in it. It need not be the one that you measure in.",
        label="the read-out shows",
        tells=_tells_unit,
    ),
    _chosen(
        "homes",
        "Does the machine home (find its switches), yes or no?",
        _HOMES,
        usual("yes"),
        "If it does, machine coordinates are the same every day. If not, all coordinates here "
        "count from G54, which you set at the same place each day, as by hole A1, and not by G92.",
        hears=frozenset((NEGATIONS, AXES, SIDES)),  # where it homes
    ),
    Question(
        "travel",
        "Its travel in X, Y and Z: both ends of each, off the read-out?",
        together.travel,
        UNKNOWN,
        "Jog to both ends and read machine coordinates. One number counts from 0; in Z 0 is at the "
        "top on most machines. Offsets beyond the travel are then refused; not known: not checked.",
        homes,
        True,
        examples=(
            "{0 to 1250, 0 to 800, -150 to 0|0 to 49, 0 to 97, -6 to 0}",
            "{X 0..600 Y -400..0 Z -110..0|X 0..49 Y -97..0 Z -6..0}",
        ),
        members=("travel_x", "travel_y", "travel_z"),
        hears=_AXES,
    ),
    *(
        Question(
            f"travel_{axis}",
            f"How far does it travel in {axis.upper()}? Both ends, as the read-out shows them.",
            span,
            UNKNOWN,
            "Machine coordinates of both ends. One number counts from 0.",
            homes,
            True,
            reckoned.z_travel_doubts if axis == "z" else reckoned.travel_doubts,
            examples=(ends,),
            tells=reckoned.tells_travel,
            label=axis.upper(),
            unknown="offsets are not held against it",
        )
        for axis, ends in (
            ("x", "{0 to 1250|0 to 49}"),
            ("y", "{0 to 800|0 to 97}"),
            ("z", "{-150 to 0|-6 to 0}"),
        )
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
        examples=("the beam lies across and moves along Y", "the table moves"),
        unknown="`pincorner run` tells no times for loading",
        hears=frozenset((SIDES, AXES, NEGATIONS)),
    ),
    _chosen(
        "operator",
        "Which side do you stand at?",
        _OPERATOR,
        usual("front"),
        "Jog Y plus and look which way the cutter goes, seen from the board: away from you, and "
        "you stand at the front; toward you, at the back. Jog X plus: away from you, and you stand "
        "at the left; toward you, at the right. Where the table moves and not the cutter, the "
        "table goes the other way: at Y plus it comes toward you if you stand at the front.",
        tells=reckoned.tells_operator,
    ),
    Question(
        "controller",
        "Which of these does your controller take? A number.",
        _read_controller,
        usual("5"),
        "What the setup block of a station looks like there. 5 is no block: you type X and Y on "
        "the controller's offset page, which every controller with such a page takes. Take it "
        "where you are not sure; `pincorner edit machine` changes it later. More in: pincorner "
        "guide controllers.",
        tells=_tells_controller,
        listed=lambda said: _CONTROLLER.options,
        examples=("3", "I type offsets on a panel", "plain numbers, no sums"),
        unsure=usual("5"),
        hears=frozenset((LABELS, AXES, NEGATIONS)),
    ),
    Question(
        "more",
        reckoned.more_words,
        together.more,
        usual("later"),
        "For `pincorner run` and `check`, which tell what they do not know. Later they stand in "
        "documents/machine.yaml. yes: you are asked now, one at a time.",
        examples=reckoned.more_examples,
        members=("carriage", "nose", "repeatability"),
        usual=("carriage", "nose", "repeatability"),
    ),
    Question(
        "carriage",
        "How far does what moves reach from the spindle's axis: left, right, front, back?",
        reaches,
        UNKNOWN,
        "At its widest: beam, motors, feet, dust boom, hoses. Left and right are along X, front "
        "and back along Y. Not known: no loading windows are reckoned, and nothing is guessed.",
        _is("moves", "across", "along", "arm"),
        True,
        reckoned.size_doubts(10, 1500, "a reach"),
        "100 100 100 100",
        examples=(
            "{left 120, right 120, front 140, back 140|left 6, right 6, front 9, back 5}",
            "{120 each way, 140 to the front|6 each way, 9 to the front}",
            "{120 120 140 140|6 6 9 5}",
        ),
        tells=lambda value, said: f"left, right, front, back {as_told(value, said.unit)}",
        label="reach",
        unknown="no times for loading are reckoned",
        needless="the table moves, and nothing is reckoned from it then",
        hears=frozenset((CHANGES,)),
    ),
    Question(
        "nose",
        "How wide is the lower end of the spindle with its nut (the diameter)?",
        _SIZE,
        UNKNOWN,
        "`pincorner check` looks whether it runs into clamps and jigs. Not known: not checked.",
        optional=True,
        doubts=reckoned.size_doubts(15, 250, "a nut"),
        sample="2 in",
        examples=("{64|2 1/2}",),
        label="spindle's end",
        unknown="not checked against clamps and jigs",
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
        examples=("{0.02|0.001}",),
        label="comes back within",
        same=_spread_said,
    ),
    Question(
        "board",
        "The bed with the holes: X by Y, and how thick?",
        together.board,
        UNKNOWN,
        "With a tape: X as the machine's X goes, Y the other way. Not known: half a pitch around "
        "the holes.",
        optional=True,
        examples=(
            "{900 x 600, 18 thick|48 x 96, 3/4 thick}",
            "{900 x 600 x 18|48 x 96 x 3/4}",
            "{900 x 600|4 x 8 ft}",
        ),
        members=("size", "thickness"),
        usual=("size", "thickness"),
        hears=_AXES,
    ),
    Question(
        "size",
        "How large is the bed, X by Y?",
        several(0.01, 20_000, 2),
        UNKNOWN,
        "Measured with a tape: X as the machine's X goes, Y the other way. Not known: half a pitch "
        "around the holes.",
        optional=True,
        doubts=reckoned.size_doubts(150, 8000, "a bed"),
        sample="40 x 40 in",
        examples=("{900 x 600|48 x 96}",),
        label="size",
        hears=_AXES,
    ),
    Question(
        "thickness",
        "How thick is the board or plate with the holes?",
        _SIZE,
        UNKNOWN,
        "Not known: nothing is checked against it.",
        optional=True,
        doubts=reckoned.size_doubts(3, 150, "a board"),
        sample="18 mm",
        examples=("{18|3/4}",),
        label="thickness",
    ),
    Question(
        "grid",
        "Its holes: how many along X and along Y, how far apart, how wide?",
        together.grid,
        lambda said: None,
        "As many as there are along the machine's X, then along its Y; from middle to middle, best "
        "measured over many holes and divided; as wide as measured with a calliper: what a hole is "
        "wider than the pin is play. One at a time: say no. Columns are lettered A, B, C along X, "
        "rows are numbered 1, 2, 3 along Y.",
        examples=(
            "{12 x 7, every 100, 20.02 wide|12 x 24, every 4, 0.755 wide}",
            "{20 mm holes every 100 mm, 12 across and 7 deep"
            "|3/4 in holes every 4 in, 12 across and 24 deep}",
        ),
        members=("pitch", "holes", "hole"),
        also=("hole_position",),
        hears=_SIDED,
    ),
    Question(
        "pitch",
        "How far apart are the holes, middle to middle? One length, or X and Y.",
        pair(0.01, 20_000),
        usual("100", "4"),
        "Measure over many holes and divide.",
        doubts=reckoned.size_doubts(8, 400, "a pitch"),
        examples=("{100|4}", "{96 x 100|3.8 x 4}"),
        label="apart",
        tells=lambda value, said: as_told(value[: len({each.mm for each in value})], said.unit),
        hears=_AXES,
    ),
    Question(
        "holes",
        "How many holes along X and along Y?",
        counts,
        reckoned.holes_that_fit,
        "Columns are lettered A, B, C along X, rows are numbered 1, 2, 3 along Y.",
        doubts=reckoned.holes_doubts,
        cannot=reckoned.holes_cannot,
        sample="10 x 6",
        examples=("12 x 7", "7 rows of 12"),
        tells=tells_holes,
        label="holes",
        hears=_SIDED,
    ),
    Question(
        "hole",
        "How wide are the holes (the diameter)?",
        _SIZE,
        usual("20", "3/4"),
        "As measured, best with a calliper: what the hole is wider than the pin is play. Reamed "
        "to a class of fits: say it behind the size.",
        doubts=reckoned.hole_doubts,
        cannot=reckoned.hole_cannot,
        examples=("{20.02|0.755}", "12 mm H7"),
        tells=reckoned.tells_hole,
        label="wide",
    ),
    Question(
        "usual_bed",
        reckoned.usual_bed_words,
        together.usual_bed,
        usual("yes"),
        "What is otherwise: say that alone. no: you are asked for each, one at a time. Two holes "
        "in three are within the error that you say: some {0.1 mm|0.004 in} where the machine "
        "itself drilled them, more where they were drilled by hand.",
        examples=reckoned.usual_bed_examples,
        members=("spoil", "edge", "hole_position", "missing"),
        usual=("spoil", "edge", "hole_position", "missing"),
    ),
    Question(
        "spoil",
        "How deep may cutters go into the bed? 0: not at all.",
        _read_spoil,
        usual("0"),
        "`pincorner check` finds deeper cuts.",
        optional=True,
        doubts=reckoned.size_doubts(0, 6, "a cut into the board"),
        cannot=reckoned.spoil_cannot,
        sample="0",
        examples=("{0.5|0.02}", "not at all"),
        label="cuts into the bed",
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
        examples=(
            "{50 x 50|2 x 2}",
            "{50 from the left, 60 from the front|2 from the left, 3 from the front}",
        ),
        label="A1 from the left and front edges",
        hears=_SIDED,
    ),
    Question(
        "hole_position",
        "How far off may a hole be from where it should be? Two holes in three are within this.",
        _read_spread,
        reckoned.usual_error,
        "Some {0.1 mm|0.004 in} where the machine itself drilled them; more where they were "
        "drilled by hand. From it follows which pins are best, and how well the work is known to "
        "lie; a survey of the bed measures it. Where you are not sure the usual counts: less "
        "for reamed holes.",
        optional=True,
        doubts=reckoned.size_doubts(0, 2, "an error"),
        examples=("{0.1|0.004}",),
        unsure=reckoned.usual_error,
        label="holes off by up to",
        same=_spread_said,
    ),
    Question(
        "missing",
        "Holes that are not there, or not to be used?",
        read_missing,
        usual("none"),
        "Their labels, or none.",
        examples=("A1 H5", "none"),
        tells=lambda value, said: " ".join(value) or "none",
        label="missing",
        hears=_SIDED | {NEGATIONS},
    ),
    Question(
        "a1",
        reckoned.a1_words,
        reckoned.read_a1,
        lambda said: None if homes(said) else "0 0",
        "Put a pin or a centring tool into the spindle, jog over the middle of A1 and read machine "
        "coordinates. On a machine that does not home G54 is set at the same place each day, and "
        "all counts from there: best over A1 itself. It has to be read at the machine; `quit` "
        "keeps all until then.",
        cannot=reckoned.first_hole_cannot,
        examples=reckoned.a1_examples,
        tells=reckoned.tells_a1,
        hears=_SIDED,
    ),
    Question(
        "far",
        lambda said: (
            f"Now over hole {reckoned.far_hole(said)[0]}, or another far from A1, which you name: "
            "X and Y?"
        ),
        reckoned.read_far,
        UNKNOWN,
        "From two holes follows how the grid lies turned. Not known: row 1 counts as parallel to X "
        "until it is surveyed (pincorner survey).",
        lambda said: max(said["holes"]) > 1,
        True,
        reckoned.far_doubts,
        cannot=reckoned.far_cannot,
        examples=reckoned.far_examples,
        tells=reckoned.tells_far,
        same=reckoned.far_said,
        unknown="row 1 counts as parallel to X until a survey shows how the bed lies turned",
        hears=_SIDED,
    ),
    Question(
        "pins",
        "The pins: how thick, and how high above the bed?",
        together.pins,
        lambda said: None,
        "As measured. Two lengths; three where it is not as thick in the hole as where the work "
        "touches it: in the hole, above it, its height. How deep it goes in may be said too. Half "
        "of its thickness is the distance from the hole to the work.",
        examples=reckoned.pins_examples,
        members=("shank", "body", "pin_height", "in_hole"),
        usual=("body",),
        hears=frozenset((CHANGES,)),
    ),
    Question(
        "shank",
        "How thick is a pin in the hole (the diameter)?",
        _SIZE,
        reckoned.as_wide_as_the_hole,
        "As measured. It must go into the hole.",
        doubts=reckoned.shank_doubts,
        cannot=reckoned.shank_cannot,
        examples=reckoned.shank_examples,
        tells=reckoned.tells_shank,
        label="in the hole",
    ),
    Question(
        "body",
        "And how thick is it above the bed, where the work touches it?",
        _read_thickness,
        reckoned.as_the_shank,
        "As measured: half of it is the distance from the hole to the work.",
        doubts=reckoned.size_doubts(3, 100, "a body"),
        examples=("{20|0.75}",),
        label="at the work",
    ),
    Question(
        "pin_height",
        "How high does a pin stand above the bed?",
        _SIZE,
        usual("20", "3/4"),
        "`pincorner check` looks whether the cutter runs into it.",
        doubts=reckoned.size_doubts(2, 150, "a height"),
        examples=("{20|3/4}",),
        label="height",
    ),
    Question(
        "in_hole",
        "How deep does a pin go into the hole?",
        length(0.01, 200),
        UNKNOWN,
        "How much it may lean follows from it.",
        optional=True,
        examples=("{15|5/8}",),
        label="depth in the hole",
        volunteered=True,
    ),
    Question(
        "holder",
        "What goes against them first: bare stock, or a jig?",
        _read_holder,
        usual("stock"),
        "stock: a piece of material itself. jig: a holder that stays with the job, with a place "
        "for a piece in it. A jig on two dowels is described by a document: pincorner example jig.",
        examples=("bare stock", "a tray with a pocket"),
        listed=lambda said: _HOLDER.options,
        tells=lambda value, said: _HOLDER.means(value),
        hears=frozenset((NEGATIONS,)),
    ),
    Question(
        "footprint",
        "How large is the jig? Its own X by Y: X is along its own FRONT edge, however it lies.",
        reckoned.read_footprint,
        reckoned.jig_that_fits,
        "Its outer edges, two of which touch the pins. The front edge is the one that you, or your "
        "drawing, call so; how it lies turned is asked next. A third length is its height.",
        _JIG,
        doubts=reckoned.footprint_doubts,
        examples=(
            "{400 x 300|16 x 12}",
            "{400 x 300 x 30 high, pocket 7 deep|16 x 12 x 1 1/4 high, pocket 1/4 deep}",
        ),
        tells=reckoned.tells_footprint,
        hears=_AXES,
    ),
    Question(
        "turn",
        "Where does the jig's own FRONT edge point, as it lies on the bed and as you see it?",
        reckoned.read_turn,
        reckoned.unturned,
        "Seen from where you stand. The front edge is the one along the jig's own X. If you stand "
        "at the machine's front, to you is unturned: the jig's X and Y go as the machine's.",
        lambda said: _JIG(said) and reckoned.told_way(said) is None,
        tells=reckoned.tells_turn,
        listed=reckoned.ways,
        examples=("to you", "the front points to the right"),
        sample="to you",
        hears=frozenset((SIDES, AXES, NEGATIONS)),
        same=reckoned.turn_said,
    ),
    Question(
        "heights",
        "How high above the bed is the seat (where the piece lies in it), and the jig's tallest "
        "point? Clamps are asked later.",
        reckoned.read_heights,
        reckoned.heights_of_footprint,
        "The seat is 0 where the piece lies on the bed itself. The tallest point counts strips and "
        "stops; `pincorner check` takes the jig as that high all around the piece.",
        _JIG,
        examples=("{seat 18, tallest 40|seat 3/4, tallest 1 1/2}", "{18, 40|3/4, 1 1/2}"),
        members=("seat", "height"),
        hears=frozenset((NEGATIONS,)),
    ),
    Question(
        "seat",
        "How high above the bed does the piece lie in the jig (its seat)?",
        reckoned.read_seat,
        reckoned.seat_of_footprint,
        "0 where the piece lies on the bed itself.",
        _JIG,
        doubts=reckoned.seat_doubts,
        sample="0",
        examples=("{18|3/4}",),
        tells=reckoned.tells_seat,
        label="seat",
    ),
    Question(
        "height",
        "How high is the jig's tallest point above the bed?",
        reckoned.read_height,
        reckoned.highest_said,
        "Strips and stops too; clamps are asked later. `pincorner check` takes the jig as that "
        "high all around the piece.",
        _JIG,
        doubts=reckoned.size_doubts(0, 500, "a height"),
        cannot=reckoned.height_cannot,
        examples=("{40|1 1/2}",),
        label="tallest point",
        hears=frozenset((NEGATIONS,)),
    ),
    Question(
        "stock",
        lambda said: (
            "How large is the piece: along the jig's own X, its Y, and how thick?"
            if _JIG(said)
            else "How large is the piece, as it lies: along the machine's X, its Y, and how thick?"
        ),
        reckoned.read_stock,
        reckoned.stock_that_fits,
        "Three lengths, in this order or each with its word.",
        doubts=reckoned.stock_doubts,
        examples=("{400 x 250 x 18|16 x 10 x 3/4}",),
        tells=reckoned.tells_stock,
        hears=_AXES,
    ),
    Question(
        "lies",
        "Where in the jig does the piece lie: its own front left corner, from the jig's left and "
        "front edges?",
        reckoned.read_lies,
        usual("0 0"),
        "Two lengths, along the jig's own X and Y; or in the middle.",
        _JIG,
        doubts=reckoned.lies_doubts,
        examples=(
            "{20 15|1 2}",
            "{20 from the left, 15 from the front|1 from the left, 2 from the front}",
            "in the middle",
        ),
        tells=reckoned.tells_lies,
        hears=_SIDED,
    ),
    Question(
        "zero",
        reckoned.zero_words,
        reckoned.read_zero,
        usual("front left"),
        "A corner of the piece, as the jig's own front edge has it; its middle; or X and Y from "
        "its front left corner. Or the jig's corner, if CAM counts from there.",
        doubts=reckoned.zero_doubts,
        examples=lambda said: (
            "middle",
            "back left",
            "{10 5|1/2 1/2}",
            *(("the jig's corner",) if _JIG(said) else ()),
        ),
        tells=reckoned.tells_zero,
        hears=_SIDED | {NEGATIONS},
    ),
    _chosen(
        "posted",
        reckoned.posted_words,
        _Turned(*_YES_NO_TURN.options, negated=NO),
        reckoned.posted_default,
        "no: its X runs along the jig's own X, as for the jig unturned, and the block turns the "
        "axes, if the controller can. yes: the program's X runs along the machine's X all the "
        "same: CAM has turned the part. A wrong answer cuts the part at right angles to where it "
        "should be: look at X and Y in the program.",
        asked=lambda said: _JIG(said) and reckoned.turn_of(said) != 0,
        doubts=reckoned.posted_doubts,
        sample="yes",
        hears=frozenset((NUMBERS, AXES, NEGATIONS)),
    ),
    Question(
        "place",
        "Which hole is in the corner of the two rows of pins (it stays empty), and where does the "
        "work lie from it?",
        together.place(read_corner, reckoned.read_toward),
        lambda said: f"A1, {reckoned.quadrant_words('+x+y', said)}",
        "Pins stand in the row and in the column of that hole. It has a label, as A1, or words, as "
        "third across, second up; a corner of the bed is its outermost hole. The work lies right "
        "or left of it and behind or before it, as you see it from where you stand.",
        examples=reckoned.place_examples,
        members=("corner", "toward"),
    ),
    Question(
        "corner",
        "Which hole is in the inside corner, in the row and column of the pins, and stays empty?",
        read_corner,
        usual("A1"),
        "The work is pushed into that corner, against pins in the row and in the column of that "
        "hole.",
        examples=reckoned.corner_examples,
        tells=lambda value, said: f"hole {value}",
        label="corner",
        hears=_SIDED,
    ),
    Question(
        "toward",
        lambda said: f"Seen from hole {said['corner']}, where does the work lie?",
        reckoned.read_toward,
        reckoned.toward_the_middle,
        "+x+y: where X and Y grow, with pins at its edges of lowest X and Y. In words: as you see "
        "it from where you stand.",
        listed=reckoned.quadrants,
        tells=reckoned.tells_toward,
        doubts=reckoned.toward_doubts,
        sample="+x+y",
        examples=reckoned.toward_examples,
        label="the work lies",
        hears=_SIDED,
    ),
    Question(
        "clamps",
        clamped.clamp_words,
        clamped.read_clamps,
        UNKNOWN,
        "The own edges of jig or piece, whichever way it lies turned. A clamp is in the middle of "
        "its edge, several are spread along it; or say how far along it from its left or front "
        "end. `pincorner check` keeps the cutter off. Not known: no clamps are drawn, and none is "
        "checked.",
        optional=True,
        examples=(
            "right, back",
            "1 right at {60|3}, 2 back at {100 and 300|5 and 12}",
            "2 back, 1 left, {30 wide, 50 out, 10 over|1 wide, 2 out, 1/2 over}",
            "one on the far edge",
            "none",
        ),
        tells=clamped.tells_clamps,
        doubts=clamped.clamps_doubts,
        sample="none",
        unknown="no clamps are drawn, and none is checked",
        hears=ALL - {NUMBERS},
    ),
    Question(
        "clamp_size",
        clamped.clamp_size_words,
        clamped.read_clamp_size,
        clamped.size_offered,
        "A length with its word each, or all in this order. Each clamp may be changed later: "
        "pincorner edit station. Not known: no clamps are drawn, and none is checked.",
        lambda said: said["clamps"] is not None and bool(clamped.missing_sizes(said)),
        examples=clamped.clamp_size_examples,
        members=tuple(clamped.SIZES),
        hears=ALL - {NUMBERS},
    ),
    *(
        Question(
            key,
            words,
            read,
            clamped.top_offered if key == "clamp_top" else never,
            "Not known: no clamps are drawn, and none is checked.",
            partial(clamped.is_asked, key),
            True,
            reckoned.size_doubts(0, 300, "a clamp"),
            sample,
            cannot=cannot,
            examples=clamped.top_examples if key == "clamp_top" else (sample,),
            tells=tells,
            label=label,
            unknown="no clamps are drawn, and none is checked",
        )
        for key, words, read, sample, label, cannot, tells in (
            (
                "clamp_wide",
                "How wide is a clamp, along the edge?",
                _SIZE_OR_0,
                "{30|1}",
                "wide",
                _no_doubt,
                _tells,
            ),
            (
                "clamp_out",
                "How far does a clamp stick out from the edge?",
                _SIZE_OR_0,
                "{50|2}",
                "out",
                _no_doubt,
                _tells,
            ),
            (
                "clamp_over",
                clamped.over_words,
                clamped.read_over,
                "{10|1/2}",
                "over",
                _no_doubt,
                clamped.tells_over,
            ),
            (
                "clamp_top",
                "How high is a clamp's top above the bed?",
                clamped.read_top,
                "1000 mm",
                "top",
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
        hears=frozenset((LABELS,)),
    ),
    _chosen(
        "z_zero",
        "Which height is Z zero in your program?",
        _Height(*_Z_ZERO.options),
        usual("stock-top"),
        "stock-top: the top of the piece. seat: its underside. surface: the bed.",
    ),
    Question(
        "max_skew",
        lambda said: (
            f"The work lies askew: {told(said.skew_mm(said), said.unit, 2)} at its corner farthest "
            "from the zero. This controller does not turn its axes. How far off may it be there? "
            "yes: so far. With less there is no "
            f"{'block' if said['controller'] != 'keyed' else 'offset'}."
        ),
        _read_askew,
        never,
        "It comes from the two holes that you read off. Less than what it lies askew, and there is "
        "no block; a survey of more holes tells how the grid lies (pincorner guide bed).",
        reckoned.too_skew,
        doubts=reckoned.skew_doubts,
        sample="0.1 mm",
        examples=("{0.5|0.02}",),
    ),
    Question(
        "names",
        reckoned.names_words,
        together.names,
        usual("no"),
        "Sheets and blocks carry them. A name alone is the station's, the place with its job; the "
        "others are said with what they are of. Letters, digits, blanks and - _ . + make names.",
        examples=("station drawers", "station drawers, machine big router"),
        members=("machine", "bed", "pin", "jig", "station"),
        usual=("machine", "bed", "pin", "jig", "station"),
        hears=ALL,
    ),
    *(
        Question(
            key,
            f"What do you call the {what}?",
            name,
            usual(usual_name),
            "A name of your own, of letters, digits, blanks and - _ . +",
            _JIG if key == "jig" else _always,
            examples=(like,),
            label=key,
            hears=ALL,
        )
        for key, what, usual_name, like in (
            ("machine", "machine", "router", "big router"),
            ("bed", "bed, the surface with the holes", "bench", "long bench"),
            ("pin", "pins", "peg", "peg"),
            ("jig", "jig", "tray", "tray"),
            ("station", "station, the place with its job", "first", "drawers"),
        )
    ),
    _chosen(
        "paper",
        "Which paper do you print on?",
        _PAPER,
        usual("a4", "letter"),
        "The size of the setup sheet.",
        volunteered=True,
        same=lambda text, said: re.sub(r"8(?:\.5| 1/2) ?x ?11", " ", text),
    ),
)

_PARTS = {"unit": "machine", "board": "bed", "pins": "pins", "holder": "piece", "place": "place"}


def part_of(question: Question) -> str:
    """Which part of the way a question stands in, as `BED, 2 of 5`; nothing for the last one."""
    found, at = "", 0
    for each in QUESTIONS:
        if each.key in _PARTS:
            found, at = _PARTS[each.key], at + 1
        if each.key == question.key:
            return f"{found.upper()}, {at} of {len(_PARTS)}"
    return ""


WRITE = _chosen(
    "write",
    lambda said: (
        f"Write it all, with a sheet on {paper_of(said)} paper, yes or no? Else: yes, "
        f"{'a4' if paper_of(said) == 'letter' else 'letter'}."
    ),
    yes_or_no(("letter", "us letter", "a4", "print", "write")),
    usual("yes"), "back: to the last question. no, or quit: what was answered is kept.",
    examples=("yes", "yes, letter", "no"),
)  # fmt: skip
"""The last one, whose answer is not kept."""


def paper_of(said: Said) -> str:
    """The paper that was named, or is usual in the shop's unit."""
    return str(said["paper"] or ("letter" if said.unit == "in" else "a4"))


def paper_named(text: str) -> str | None:
    """The paper in an answer to the last question; None where it names none."""
    found = re.search(r"(?i)\b(letter|a ?4)\b", text)
    return None if found is None else "letter" if found[1].lower() == "letter" else "a4"
