"""Clamps of the first station: on which edges, where along them, how large, and their boxes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pincorner.geometry.pose import XY, turned_by_quarters
from pincorner.setups.person import Way
from pincorner.units import told_size
from pincorner.work.first.asked.nests import places_of
from pincorner.work.first.asked.piece import lies_mm, person_of, sides_mm, turn_of, under_mm
from pincorner.work.first.asked.question import is_none
from pincorner.work.first.asked.typed import (
    Amount,
    Read,
    Reader,
    Said,
    Wanted,
    amounts,
    as_told,
    kept_as,
    scan,
    words_of,
)

EDGES: dict[str, XY] = {
    "left": (-1.0, 0.0), "right": (1.0, 0.0), "front": (0.0, -1.0), "back": (0.0, 1.0),
}  # fmt: skip
"""The own edges of jig or piece, and where each points as it lies unturned."""
_SEEN: dict[str, Way] = {"near": "toward", "far": "away", "left": "left", "right": "right"}
"""Where an edge lies for whoever stands at the machine."""
SIZES = ("clamp_wide", "clamp_out", "clamp_over", "clamp_top")
_EVENLY = ("middle", "evenly", "spread")
_COUNTS = {"one": 1, "two": 2, "three": 3, "four": 4}


def held(said: Said) -> str:
    """What the clamps hold."""
    return "jig" if said["holder"] == "jig" else "piece"


def _seen_from_there(said: Said) -> dict[str, str]:
    """The own edge of jig or piece that lies near, far, left and right of whoever stands there."""
    person, quarters = person_of(said), turn_of(said) // 90
    ways = {side: person.way_on_bed(turned_by_quarters(EDGES[side], quarters)) for side in EDGES}
    return {word: next(side for side in EDGES if ways[side] == way) for word, way in _SEEN.items()}


def edge_seen(side: str, said: Said) -> str:
    """An own edge by where it lies for whoever stands there: `far edge`."""
    word = next(word for word, own in _seen_from_there(said).items() if own == side)
    return f"{word} edge"


def clamp_words(said: Said) -> str:
    """The question which edges clamps hold."""
    return (
        f"Clamps: how many on which edges of the {held(said)}, as you see them: near, far, left, "
        "right? Such as 2 far, 1 left. Or none."
    )


def read_clamps(text: str, said: Said) -> Read:
    """How many clamps hold which edges, such as `2 far, left`; a dict by own edges. Raises
    Wanted."""
    wanted = "edges as you see them, with the number of clamps on each, or none"
    if is_none(text):
        return Read({}, "none", tuple(words_of(text)[1:]))
    seen = _seen_from_there(said)
    same = {"front": "near", "back": "far"} if seen["near"] == "front" else {}
    found, rest, many = dict[str, int](), list[str](), 0
    for word in (same.get(word, word) for word in words_of(text)):
        if word in seen and word not in found:
            found[word], many = many or 1, 0
        elif (count := _COUNTS.get(word) or (int(word) if word.isdigit() else 0)) and not many:
            many = count
        elif word in seen or word in EDGES or re.search("[0-9]", word):
            raise Wanted(wanted, text)
        elif word not in ("edge", "side", "end", "clamp", "clamps", "me", "you"):
            rest.append(word)
    if not found or many or not all(count <= 9 for count in found.values()):
        raise Wanted(wanted, text)
    kept = ", ".join(f"{count} {word}" for word, count in found.items())
    return Read({seen[word]: count for word, count in found.items()}, kept, tuple(rest))


def tells_clamps(value: Mapping[str, int], said: Said) -> str:
    """How many on which edge, and which of them lie against pins."""
    if not value:
        return "none"
    own = {side: f" (the jig's own {side})" if said["holder"] == "jig" else "" for side in value}
    listed = ", ".join(f"{n} on the {edge_seen(at, said)}{own[at]}" for at, n in value.items())
    pinned = [edge_seen(side, said) for side in value if side in against_pins(said)]
    if not pinned:
        return listed
    return (
        f"{listed}; the {' and the '.join(pinned)} lies against the pins: a clamp there holds "
        "down, but does not press the work to them"
    )


def against_pins(said: Said) -> set[str]:
    """The own edges that lie against pins."""
    if not said["toward"]:
        return set()
    x, y = (-1.0 if sign == "+" else 1.0 for sign in said["toward"][::2])
    quarters = turn_of(said) // 90
    return {
        side for side, way in EDGES.items()
        if (turned := turned_by_quarters(way, quarters))[0] == x or turned[1] == y
    }  # fmt: skip


# ---- along an edge -------------------------------------------------------------------------------


def is_on(side: str, said: Said) -> bool:
    """Whether clamps hold an edge."""
    return bool(said["clamps"]) and side in said["clamps"]


def _long_mm(side: str, said: Said) -> float:
    return sides_mm(said)[0 if side in ("front", "back") else 1]


def _first_end(side: str, said: Said) -> str:
    """The end of an edge from which it is counted: the left one, or the near one."""
    return "left" if edge_seen(side, said) in ("near edge", "far edge") else "near"


def _is_backward(side: str, said: Said) -> bool:
    """Whether somebody counts along an edge from its own high end."""
    along = (1.0, 0.0) if side in ("front", "back") else (0.0, 1.0)
    way = person_of(said).way_on_bed(turned_by_quarters(along, turn_of(said) // 90))
    return way in ("left", "toward")


def along_words(side: str, said: Said) -> str:
    """The question where along an edge clamps are."""
    many, long = said["clamps"][side], told_size(_long_mm(side, said), said.unit)
    middles = "is the clamp's middle" if many == 1 else f"are the {many} clamps' middles"
    return (
        f"Along the {edge_seen(side, said)}, {long} long: where {middles}, from its "
        f"{_first_end(side, said)} end?"
    )


def spread_evenly(side: str, said: Said) -> str:
    """Clamps spread evenly along their edge, one in its middle."""
    many, long_mm = said["clamps"][side], _long_mm(side, said)
    at = ((2 * n + 1) * long_mm / (2 * many) for n in range(many))
    return ", ".join(told_size(each, said.unit) for each in at)


def read_along(side: str) -> Reader:
    """A reader of as many places as there are clamps on an edge. Raises Wanted, ValueError."""

    def read(text: str, said: Said) -> Read:
        many = said["clamps"][side]
        words = set(words_of(text))
        if words & {"middle", "evenly"} and not words - {"in", "the", "its", *_EVENLY}:
            text = spread_evenly(side, said)
        scanned = scan(text, many)
        found = sorted(amounts(scanned, text, said, many), key=lambda at: at.mm)
        return Read(found, kept_as(found, said.unit), tuple(word for word, _ in scanned.words))

    return read


def along_cannot(side: str, value: list[Amount], said: Said) -> list[str]:
    """A clamp that is beyond its edge."""
    long_mm = _long_mm(side, said)
    return [
        f"{told_size(each.mm, said.unit)} is beyond the {edge_seen(side, said)}, which is "
        f"{told_size(long_mm, said.unit)} long"
        for each in value
        if not 0 <= each.mm <= long_mm
    ][:1]


def tells_along(side: str, value: list[Amount], said: Said) -> str:
    """Where along its edge each is."""
    at = as_told(value, said.unit).replace(" x", ",")
    return f"{at} from the {edge_seen(side, said)}'s {_first_end(side, said)} end"


# ---- how large -----------------------------------------------------------------------------------


def has_clamps(said: Said) -> bool:
    """Whether there are clamps, whose size is asked."""
    return bool(said["clamps"])


def over_words(said: Said) -> str:
    """The question how far a clamp reaches over what it holds."""
    what = held(said)
    from_edge = ", counted from the jig's edge" if what == "jig" else ""
    return f"How far does it reach over the {what}{from_edge}? 0: not at all."


def tells_over(value: Amount, said: Said) -> str:
    """How far a clamp reaches in, and in a jig how far that is over the piece, edge by edge."""
    what = f"{told_size(value.mm, said.unit)} over the {held(said)}"
    if said["holder"] != "jig":
        return what
    told = []
    for side in said["clamps"]:
        axis, is_low = (0 if side in ("left", "right") else 1), side in ("left", "front")
        begins_mm = [at[axis].mm for at in places_of(said).values()]
        gap_mm = min(begins_mm)  # of several pieces, over the one that lies nearest
        if not is_low:
            gap_mm = sides_mm(said)[axis] - max(begins_mm) - said["stock"][axis].mm
        over_mm = value.mm - gap_mm
        at = f"{told_size(over_mm, said.unit)} at the {edge_seen(side, said)}"
        told.append(at if over_mm > 0 else "")
    over = ", ".join(filter(None, told))
    return f"{what}, {f'over the piece {over}' if over else 'not over the piece'}"


def held_mm(said: Said) -> float | None:
    """How high above the bed the top is of what clamps hold, mm; of a jig the seat at least."""
    if said["holder"] == "jig":
        return lies_mm(said) if said["seat"] else None
    return lies_mm(said) + said["stock"][2].mm if said["stock"] else None


def top_cannot(value: Amount, said: Said) -> list[str]:
    """A clamp that reaches over the work and is lower than that, or ends below its jig."""
    if stay(said) and value.mm <= under_mm(said):
        return ["a clamp on the jig is higher above the bed than what the jig lies on"]
    held_so, over = held_mm(said), said["clamp_over"]
    if held_so is None or over is None or not over.mm or value.mm > held_so:
        return []
    return [
        f"a clamp over the {held(said)} is higher above the bed than that, "
        f"{told_size(held_so, said.unit)}"
    ]


def tells_top(value: Amount, said: Said) -> str:
    """How high a clamp's top is, above the bed and above the piece."""
    over_mm = value.mm - lies_mm(said) - said["stock"][2].mm
    way = "above" if over_mm >= 0 else "below"
    high, over = told_size(value.mm, said.unit), told_size(abs(over_mm), said.unit)
    return f"{high} above the bed, {over} {way} the piece's top"


def may_stay(said: Said) -> bool:
    """Whether there are clamps that may stay on a jig."""
    return has_clamps(said) and said["holder"] == "jig"


def stay(said: Said) -> bool:
    """Whether clamps belong to the jig, wherever it lies, and not to the station."""
    return may_stay(said) and bool(said["clamps_stay"] == "yes")


def clamps_of_station(said: Said) -> list[dict[str, Any]]:
    """Clamps that stand on the bed, as boxes."""
    return [] if stay(said) else clamp_boxes(said)


def clamps_of_jig(said: Said) -> list[dict[str, Any]]:
    """Clamps that stay on the jig, as boxes, with tops above what the jig lies on."""
    boxes = clamp_boxes(said) if stay(said) else []
    return [{**box, "top": box["top"] - under_mm(said)} for box in boxes]


def _name_on(side: str, number: int, said: Said) -> str:
    """What a clamp is called: on a jig by its own edge, which is the same wherever it lies."""
    seen = edge_seen(side, said).removesuffix(" edge")
    return f"clamp {side} {number}" if stay(said) else f"{seen} {number}"


def clamp_boxes(said: Said) -> list[dict[str, Any]]:
    """Clamps with their corners from the jig's own corner, and tops above the bed, mm."""
    sizes = [said[key] for key in SIZES]
    if not said["clamps"] or any(each is None for each in sizes):
        return []
    width, depth = sides_mm(said)
    along, out, over, top = sizes
    boxes: list[dict[str, Any]] = []
    for side in said["clamps"]:
        is_across = side in ("front", "back")  # the edge runs along X
        far = depth if is_across else width
        is_low = side in ("left", "front")
        reach = (-out.mm, over.mm) if is_low else (far - over.mm, far + out.mm)
        for from_there in said[f"clamps_{side}"] or ():
            at_mm = from_there.mm
            middle_mm = _long_mm(side, said) - at_mm if _is_backward(side, said) else at_mm
            ends = (middle_mm - along.mm / 2, middle_mm + along.mm / 2)
            low, high = zip(*((ends, reach) if is_across else (reach, ends)), strict=True)
            name = _name_on(side, len(boxes) + 1, said)
            boxes.append({"name": name, "from": low, "to": high, "top": top.mm})
    return boxes
