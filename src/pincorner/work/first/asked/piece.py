"""Questions about what goes against the pins: a jig or bare stock, how it lies, its zero."""

from __future__ import annotations

from collections.abc import Sequence

from pincorner.geometry.pose import Pose, turned_by_quarters
from pincorner.setups.heights import over_stock_mm
from pincorner.setups.person import Person, Way, person_beside
from pincorner.setups.printed import lies_from_zero, turn_told
from pincorner.units import Unit, in_unit, told_size
from pincorner.work.first.asked.bed import angle_of, grid_mm, pitch_of, spans, stays_mm, tells_sizes
from pincorner.work.first.asked.machine import is_in_front, keys_in, turns
from pincorner.work.first.asked.nests import MORE, Place, ends_told, hangs_over, jig_told
from pincorner.work.first.asked.question import (
    UNKNOWN,
    Question,
    chosen,
    is_,
    is_short,
    no_default,
    none_or_length,
    size_doubts,
    usual,
)
from pincorner.work.first.asked.typed import (
    BY_EDGES,
    Amount,
    Choice,
    Option,
    Read,
    Said,
    as_told,
    length,
    lengths,
    odd,
    scan,
    yes_or_no,
)


def person_of(said: Said) -> Person:
    """Who stands at the machine, as far as it is said."""
    angle_deg = angle_of(said) if said["a1"] else 0.0
    return person_beside(said["operator"], Pose.of_degrees("machine", "bed", 0.0, 0.0, angle_deg))


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
    asks = (
        f"The jig lies turned by {turn_told(turn)}. Did CAM turn the program by that too, yes or "
        "no? no: its X runs along the jig's FRONT edge."
    )
    turned, unturned = (piece_from_zero(said, each) for each in (turn, 0))
    if turned == unturned:
        return asks
    return f"{asks} Turned, {turned}; unturned,{unturned.removeprefix('the piece lies')}."


def posted_default(said: Said) -> str | None:
    """A program that is turned by the block; none where the controller cannot turn its axes."""
    return "no" if turns(said) else None


def posted_doubts(value: str, said: Said) -> list[str]:
    """A program that this controller cannot turn."""
    if value == "yes" or turns(said):
        return []
    nothing = "nothing to key in" if keys_in(said) else "no block"
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


def _over_the_bed(value: list[Amount], what: str, said: Said) -> list[str]:
    """Whether two sides have no place on the bed, whichever way they lie."""
    room = [each for each in spans(said) if each is not None]
    if len(room) < 2 and said["holes"] and said["pitch"]:
        room = [at + p.mm for at, p in zip(grid_mm(said), pitch_of(said), strict=True)]
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
    return list(dict.fromkeys(sides)) + _pins_above(value[2], said)


def under_words(said: Said) -> str:
    """The question of a waste sheet."""
    work = "jig" if is_jig(said) else "piece"
    if stays_mm(said):
        return f"Does anything else lie between that sheet and the {work}? How thick?"
    return f"Does a waste sheet, or anything else, lie between the bed and the {work}? How thick?"


def under_cannot(value: Amount, said: Said) -> list[str]:
    """A sheet in which the pins end."""
    if said["pin_height"] is None or value.mm < said["pin_height"].mm:
        return []
    pin = told_size(said["pin_height"].mm, said.unit)
    return [f"the pins, {pin} above the bed, would end in that sheet (back pin_height)"]


def tells_under(value: Amount, said: Said) -> str:
    """What lies under the work."""
    if not value.mm:
        return "nothing lies under it but the bed"
    return f"a sheet of {told_size(value.mm, said.unit)}, left free or bored where pins stand"


def under_mm(said: Said) -> float:
    """How high above the bed the work lies, mm."""
    return said["under"].mm if said["under"] else 0.0


def lies_mm(said: Said) -> float:
    """How high above the bed the underside of the piece is, mm."""
    return under_mm(said) + (said["seat"].mm if said["seat"] else 0.0)


def _pins_above(thick: Amount, said: Said) -> list[str]:
    """Pins that stand higher than the piece, in its jig if it has one: a cutter that passes its
    edge runs into them."""
    pin_mm = said["pin_height"].mm if said["pin_height"] else 0.0
    over_mm = over_stock_mm(pin_mm, lies_mm(said) + thick.mm)
    if not over_mm:
        return []
    over = told_size(over_mm, said.unit)
    return [
        f"the pins stand {over} above that piece: take shorter ones (back pin_height), or keep the "
        "cutter away from them"
    ]


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


def stock_words(said: Said) -> str:
    """The question how large the piece is."""
    of = "along the jig's own X" if said["holder"] == "jig" else "as it lies: along the machine's X"
    return f"How large is the piece, {of}, its Y, and thick?"


def lies_doubts(value: list[Amount], said: Said) -> list[str]:
    """A piece that hangs over its jig."""
    return [f"the piece hangs over {jig_told(said)}"] if hangs_over(value, said) else []


def tells_run_off(value: Amount, said: Said) -> str:
    """How far past the piece a cutter may go, and how high the jig stands beyond."""
    high = told_size(said["height"].mm, said.unit)
    far = told_size(value.mm, said.unit)
    return f"{far} past the piece; beyond, the jig is {high} high"


def tells_lies(value: list[Amount], said: Said) -> str:
    """Where the piece lies in the jig."""
    return f"the piece lies from {ends_told(value, said)} in the jig"


def so_long(length_mm: float, unit: Unit) -> Amount:
    """A length as a bare number of the shop's unit."""
    return Amount(f"{in_unit(length_mm, unit):.9g}", length_mm)


_ZEROS = {
    "front left": (0.0, 0.0), "front right": (1.0, 0.0), "back left": (0.0, 1.0),
    "back right": (1.0, 1.0), "middle": (0.5, 0.5),
}  # fmt: skip
"""Places on the piece, as parts of its own X and Y."""
_ON_EDGES = {
    "front": (0.5, 0.0), "back": (0.5, 1.0), "left": (0.0, 0.5), "right": (1.0, 0.5),
}  # fmt: skip
"""Middles of edges: they are taken, but not listed."""


def zeros(said: Said) -> tuple[Option, ...]:
    """The places that are named; of bare stock where each is for the machine and the person."""
    found = []
    for word, (x, y) in _ZEROS.items():
        others = ("centre", "center") if word == "middle" else (" ".join(word.split()[::-1]),)
        means = ""
        if said["holder"] != "jig" and word != "middle":
            means = f"{'high' if x else 'low'} X, {'high' if y else 'low'} Y"
            right, away = person_of(said).bed_vector((x * 2 - 1, y * 2 - 1))
            seen = f"{'far' if away > 0 else 'near'} {'right' if right > 0 else 'left'}"
            means += "" if is_in_front(said) else f"; {seen} as you see it"
            others = (*others, seen, " ".join(seen.split()[::-1]))
        found.append(Option(word, means, others))
    return tuple(found)


def read_zero(text: str, said: Said) -> Read:
    """Where program zero is from the piece's own front left corner: a place that is named, or X and
    Y. Raises Wanted, ValueError."""
    if len(scan(text, 2).lengths) == 2:
        return lengths(-20_000, 20_000, 2, places=BY_EDGES)(text, said)
    on_edges = {f"middle {side}": at for side, at in _ON_EDGES.items()}
    options = [
        Option(f"middle {side}", "", (f"{side} middle", f"middle of the {side} edge"))
        for side in _ON_EDGES
    ]
    found = Choice(*zeros(said), *options)(text, said)
    parts = {**_ZEROS, **on_edges}[found.value]
    at = [
        so_long(part * each.mm, said.unit) for part, each in zip(parts, said["stock"], strict=False)
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


def zero_in_jig(at: Place, said: Said) -> list[Amount]:
    """Program zero of a piece from the jig's own front left corner."""
    return [
        lies if not each.mm else so_long(lies.mm + each.mm, said.unit)
        for lies, each in zip(at, said["zero"], strict=True)
    ]


_HOLDER = Choice(
    Option("stock", "the piece itself lies against the pins",
           ("bare", "piece", "no jig", "without jig", "without a jig")),
    Option("jig", "a holder that stays with the job", ("holder", "fixture", "tray")),
)  # fmt: skip
_POSTED = yes_or_no(
    "CAM turned the program as the jig lies", "the program is as for the jig unturned"
)
is_jig = is_("holder", "jig")
PIECE: tuple[Question, ...] = (
    chosen(
        "holder",
        "what goes against the pins",
        "What goes against the pins first?",
        _HOLDER,
        usual("stock"),
        "stock: a piece of material itself. jig: a holder that stays with the job, with a place "
        "for a piece in it. A jig on two dowels is described by a document: pincorner example jig.",
        examples=("stock", "jig"),
    ),
    Question(
        "under",
        "a waste sheet",
        under_words,
        none_or_length(300),
        usual("0"),
        "Its top is what you lay the work on, and count heights of jig and piece from; pins and "
        "clamps stand on the bed. 0: the work lies on the bed itself.",
        doubts=size_doubts(0, 60, "a sheet"),
        cannot=under_cannot,
        examples=("0", "{6|1/4}"),
        tells=tells_under,
    ),
    Question(
        "footprint",
        "the size of the jig",
        "How large is the jig: its own X, along its own FRONT edge, by its Y?",
        lengths(0.01, 20_000, 2),
        jig_that_fits,
        "Its outer edges, two of which touch the pins. The front edge is the one that you, or your "
        "drawing, call so; how it lies turned is asked next.",
        is_jig,
        doubts=footprint_doubts,
        examples=("{400 x 300|16 x 12}",),
        tells=tells_sizes,
    ),
    Question(
        "turn",
        "how the jig lies turned",
        "Where does the jig's own FRONT edge point as it lies on the bed, seen from where you "
        "stand?",
        read_turn,
        unturned,
        "The front edge is the one along the jig's own X. If you stand at the machine's front, to "
        "you is unturned: the jig's X and Y go as the machine's.",
        is_jig,
        tells=tells_turn,
        listed=ways,
        examples=("to you", "right"),
        sample="to you",
    ),
    Question(
        "seat",
        "how high the piece lies in the jig",
        "How high does the piece lie in the jig: from the jig's underside to the face under the "
        "piece, such as a pocket's floor?",
        length(0, 2000),
        no_default,
        "0 where the jig is open below and the piece lies on what the jig lies on.",
        is_jig,
        doubts=size_doubts(0, 300, "a seat"),
        sample="0",
        examples=("{18|3/4}",),
    ),
    Question(
        "height",
        "the height of the jig",
        "How high is the jig itself, from its underside to its tallest point, without clamps?",
        length(0, 2000),
        lambda said: said["seat"].written if said["seat"] else None,
        "A pocket's rim, strips and stops count. `pincorner check` takes the jig as that high all "
        "around the piece.",
        is_jig,
        doubts=size_doubts(0, 500, "a height"),
        cannot=height_cannot,
        examples=("{40|1 1/2}",),
    ),
    Question(
        "stock",
        "the size of the piece",
        stock_words,
        lengths(0.01, 20_000, 3),
        stock_that_fits,
        "Three lengths, in this order.",
        doubts=stock_doubts,
        examples=("{400 x 250 x 18|16 x 10 x 3/4 in}",),
        tells=tells_sizes,
    ),
    Question(
        "lies",
        "where the piece lies in the jig",
        "How far does the piece lie from the jig's own left and front edges?",
        lengths(-20_000, 20_000, 2, places=BY_EDGES),
        usual("0 0"),
        "Two lengths, along the jig's own X and Y.",
        is_jig,
        doubts=lies_doubts,
        examples=("{20 x 15|1 x 2}",),
        tells=tells_lies,
    ),
    MORE,
    Question(
        "run_off",
        "how far past the piece the cutter may go",
        "How far past the piece may the cutter's edge go? From there on the jig stands in its way.",
        none_or_length(1_000),
        UNKNOWN,
        "`pincorner check` takes the jig as high as its tallest point from there on, all around. A "
        "cut around the piece needs the cutter's diameter; 0: never past the piece.",
        is_jig,
        True,
        "the largest tool's diameter counts, and `pincorner check` says so",
        size_doubts(0, 100, "a way past the piece"),
        sample="0",
        tells=tells_run_off,
        examples=("{8|3/8}", "0"),
        waits=is_short,
    ),
    Question(
        "zero",
        "program zero",
        "Where on the piece is X0 Y0 in CAM? Or X and Y from its front left corner.",
        read_zero,
        usual("front left"),
        "A corner of the piece, its middle, the middle of an edge (front middle), or two lengths, "
        "minus outside of the piece.",
        doubts=zero_doubts,
        examples=("middle", "{10 x 5|1/2 x 1/2 in}"),
        tells=tells_zero,
        listed=zeros,
    ),
    chosen(
        "posted",
        "how the program was posted",
        posted_words,
        _POSTED,
        posted_default,
        "no: its X runs along the jig's own X, as for the jig unturned, and the block turns the "
        "axes, if the controller can. yes: the program's X runs along the machine's X all the "
        "same: CAM has turned the part. A wrong answer cuts the part at right angles to where it "
        "should be: look at X and Y in the program.",
        asked=lambda said: is_jig(said) and turn_of(said) != 0,
        doubts=posted_doubts,
        sample="yes",
        listed=lambda said: (),
    ),
)
