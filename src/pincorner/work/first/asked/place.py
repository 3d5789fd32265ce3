"""Questions about the first station: its corner, its pins, its clamps, its code, its name."""

from __future__ import annotations

import math
from functools import partial
from typing import Any

from pincorner.documents.fields import check_name
from pincorner.documents.machines import DEFAULT_MAX_SKEW_MM
from pincorner.documents.stations import EdgePins, hole_of
from pincorner.setups.choice import FartherIn
from pincorner.units import told, told_size
from pincorner.work.first.asked import clamped
from pincorner.work.first.asked.bed import grid_mm, must_be_there, places, read_hole, stays_mm
from pincorner.work.first.asked.machine import is_in_front, keys_in
from pincorner.work.first.asked.nests import places_of
from pincorner.work.first.asked.piece import (
    is_jig,
    lies_mm,
    person_of,
    sides_mm,
    turn_of,
    under_mm,
)
from pincorner.work.first.asked.question import (
    UNKNOWN,
    Question,
    always,
    chosen,
    is_short,
    no_doubt,
    size_doubts,
    tells_lengths,
    usual,
)
from pincorner.work.first.asked.typed import (
    Amount,
    Choice,
    Option,
    Read,
    Said,
    Wanted,
    code,
    labels,
    length,
    name,
    words_of,
    yes_or_no,
)


def corner_words(said: Said) -> str:
    """The question which hole stays empty in the corner of the pins."""
    counted = ", or how many holes from the left and the front" if is_in_front(said) else ""
    return (
        "The work is pushed against a row and a column of pins. Which hole is in their corner (it "
        f"stays empty)? Its label in the picture{counted}."
    )


def tells_work_offset(value: str, said: Said) -> str:
    """A work offset, those of the other pieces in a jig, and who sets them."""
    told_who = f"{value}, which {'you key in' if keys_in(said) else 'the block writes'}"
    others = [name for name in places_of(said) if name != "a"]
    given = zip(others, said.codes(said), strict=False)
    return "; ".join((told_who, *(f"{code} for piece {name}" for name, code in given)))


def work_offset_words(said: Said) -> str:
    """The question for the work offset; with several pieces that of the first one."""
    if not said["more"]:
        return "Which work offset?"
    return "Which work offset? The next ones are for the other pieces."


def work_offset_doubts(value: str, said: Said) -> list[str]:
    """More pieces than the controller has work offsets."""
    left = list(places_of(said))[1 + len(said.codes(said.with_answer("work_offset", "", value))) :]
    if not left:
        return []
    which = f"piece{'s' if len(left) > 1 else ''} {' '.join(left)}"
    return [f"this controller has too few for all pieces: {which} has none"]


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


def toward_words(said: Said) -> str:
    """The question on which side of that hole the work lies, as in the picture."""
    return f"Where does the work lie, seen from hole {said['corner']}?"


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


USUAL_NAMES = {"machine": "machine-1", "bed": "bed-1", "pin": "pin-1"}


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


def too_skew(said: Said) -> bool:
    """Whether the first station lies askew by more than a block leaves unwritten as a rule."""
    return said.laid(said).skew_mm > DEFAULT_MAX_SKEW_MM


def skew_words(said: Said) -> str:
    """The question whether work may be cut that lies askew."""
    nothing = "no figures to key in" if keys_in(said) else "no block"
    laid = said.laid(said)
    off, far = told(laid.skew_mm, said.unit, 2), told(laid.reach_mm, said.unit, 0)
    bound = told_size(DEFAULT_MAX_SKEW_MM, said.unit)
    return (
        "The holes of the bed lie askew, and this controller does not turn its axes: the piece is "
        f"{off} off over the {far} from its zero to its farthest corner. Cut it so, yes or no? "
        f"yes: sheets tell it only while it matters, as above {bound}. no: {nothing} until the bed "
        "lies straight."
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


def _named(key: str, words: str, usual_name: str, **more: Any) -> Question:
    """A question for a name."""
    return Question(
        key, f"the {key}'s name", words, name, usual(usual_name),
        "Sheets and blocks carry it: letters, digits, blanks and - _ . +",
        examples=(usual_name,), **more,
    )  # fmt: skip


_STAY = yes_or_no("they are part of the jig, wherever it lies", "they are part of this station")
_Z_ZERO = Choice(
    Option("stock-top", "the top of the piece", ("top", "top of stock", "top of the stock")),
    Option("seat", "the underside of the piece", ("underside", "bottom")),
    Option(
        "surface",
        "the surface of the bed",
        (
            *("bed", "plate", "table", "pallet", "spoil board", "spoilboard", "bed surface"),
            *("bed top", "table top", "top of the bed", "top of the table"),
        ),
    ),
    unlisted=(Option("sheet", "", ("waste sheet", "top of the sheet", "top of the waste sheet")),),
)
_PAPER = Choice(Option("a4"), Option("letter", "", ("us letter",)))


def read_z_zero(text: str, said: Said) -> Read:
    """A reader of which height Z zero is; a sheet's top is the underside of bare stock on it.

    Raises Wanted, ValueError.
    """
    found = _Z_ZERO(text, said)
    if found.value != "sheet":
        return found
    if not under_mm(said) and stays_mm(said):
        return found._replace(value="surface", kept="surface")
    if not under_mm(said):
        raise ValueError("no sheet lies under it, as it was said (back under)")
    if said["holder"] == "jig" and lies_mm(said) > under_mm(said):
        raise ValueError(
            "the piece lies higher in its jig than the sheet's top, which is no choice: seat is "
            "the underside of the piece, surface the bed itself"
        )
    return found._replace(value="seat", kept="seat")


PLACE: tuple[Question, ...] = (
    Question(
        "corner",
        "the corner of the pins",
        corner_words,
        read_hole,
        usual("A1"),
        "Pins stand in the row and in the column of that hole. Its label, as in the picture; or "
        "its column and its row as two counts from A1, 3 2.",
        examples=lambda said: ("A1", "3 2") if is_in_front(said) else ("A1",),
        tells=lambda value, said: f"hole {value}",
    ),
    Question(
        "toward",
        "on which side of it the work lies",
        toward_words,
        read_toward,
        toward_the_middle,
        "+x+y: where X and Y grow, with pins at its edges of lowest X and Y.",
        listed=quadrants,
        tells=tells_toward,
        doubts=toward_doubts,
        sample="+x+y",
        examples=lambda said: tuple(
            text for each in quadrants(said)[:1] for text in (each.means, each.word)
        ),
        shown=shows_toward,
    ),
    Question(
        "pins",
        "which pins are taken",
        pins_words,
        read_pins,
        usual("yes"),
        "Near an end a pin may miss a rounded or broken corner. Or name three holes: two for the "
        "edge that carries two pins, then the other edge's.",
        waits=lambda said: farther_in(said) is None,
        tells=tells_pins,
        listed=pins_listed,
        examples=("yes", "no"),
    ),
    Question(
        "clamps",
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
    chosen(
        "clamps_stay",
        "whether clamps stay on the jig",
        "Do these clamps stay on the jig when it is taken off the bed, yes or no?",
        _STAY,
        usual("yes"),
        "Such as toggles that are screwed to it: they are part of the jig then, wherever it lies, "
        "and another station of it needs no clamps told. no: they stand on the bed at this "
        "station, and are put there anew each time.",
        asked=clamped.may_stay,
        listed=lambda said: (),
        examples=("yes", "no"),
    ),
    *(
        Question(
            f"clamps_{side}",
            f"where along the {side} edge clamps are",
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
            about,
            words,
            length(0, 2_000),
            UNKNOWN,
            "Not known: no clamps are drawn, and none is checked. All clamps have one size here; "
            "each may be changed later: pincorner edit station.",
            clamped.has_clamps,
            True,
            "no clamps are drawn, and none is checked",
            size_doubts(0, 300, "a clamp"),
            cannot,
            "30 mm",
            (sample,),
            tells,
        )
        for key, about, words, sample, cannot, tells in (
            (
                "clamp_wide",
                "how wide clamps are",
                "How wide is a clamp, along the edge?",
                "{30|1}",
                no_doubt,
                tells_lengths,
            ),
            (
                "clamp_out",
                "how far clamps stick out",
                "How far does it stick out from the edge?",
                "{50|2}",
                no_doubt,
                tells_lengths,
            ),
            (
                "clamp_over",
                "how far clamps reach over the work",
                clamped.over_words,
                "{10|1/2}",
                no_doubt,
                clamped.tells_over,
            ),
            (
                "clamp_top",
                "how high clamps are",
                "How high above the BED is its top, handle and all?",
                "{60|2 1/2}",
                clamped.top_cannot,
                clamped.tells_top,
            ),
        )
    ),
    Question(
        "work_offset",
        "the work offset",
        work_offset_words,
        code,
        usual("G55"),
        "G54 to G59, or what else your controller has. The block writes it, or you key it in; "
        "nothing else should.",
        examples=("G55",),
        tells=tells_work_offset,
        doubts=work_offset_doubts,
    ),
    chosen(
        "z_zero",
        "the height of Z zero",
        "Which height is Z zero in your program?",
        _Z_ZERO,
        usual("stock-top"),
        "Whoever runs the program sets Z there with the tool of the day. The top of a sheet under "
        "a bare piece is seat, the piece's underside.",
    )._replace(read=read_z_zero),
    Question(
        "max_skew",
        "how far askew may be cut",
        skew_words,
        read_askew,
        usual("no"),
        "It comes from the two holes that you read off; a survey of more holes tells how the grid "
        "lies (pincorner guide bed). Or a length: how far off it may be.",
        too_skew,
        doubts=skew_doubts,
        sample="0.1 mm",
        examples=("yes",),
        tells=tells_skew,
    ),
    *(
        _named(key, f"What do you call the {key}?", usual_name, waits=always)
        for key, usual_name in USUAL_NAMES.items()
    ),
    Question(
        "names",
        "names of machine, bed and pins",
        "What do you call the machine, the bed and the pins?",
        read_names,
        names_said,
        "Sheets and blocks carry them: letters, digits, blanks and - _ . +, with commas between.",
        asked=lambda said: not all(said[key] for key in USUAL_NAMES),
        tells=lambda value, said: ", ".join(value),
        examples=("router, bench, peg",),
        waits=is_short,
    ),
    _named("jig", "What do you call the jig?", "tray", asked=is_jig),
    _named("station", "What do you call the station, this place with its job?", "first"),
    chosen(
        "paper",
        "the paper",
        "Which paper do you print on?",
        _PAPER,
        usual("a4", "letter"),
        "The size of the setup sheet.",
        waits=is_short,
    ),
)
