"""Places of pieces in a jig: the first one's, and those of more pieces like it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import combinations

from pincorner.documents.beds import ColumnLetters
from pincorner.geometry.clearances import gap_mm
from pincorner.geometry.outline import Outline, rectangle
from pincorner.units import in_unit, told_size
from pincorner.work.first.asked.question import Question, is_, is_none, usual
from pincorner.work.first.asked.typed import (
    BY_EDGES,
    Amount,
    Read,
    Said,
    Wanted,
    as_told,
    kept_as,
    lengths,
    words_of,
)

Place = Sequence[Amount]
"""How far a piece lies from the jig's own left and front edges."""
_MOST = 26
_ONE = lengths(-20_000, 20_000, 2, places=BY_EDGES)
_WANTED = "for each piece how far it lies from the left and the front edge, or none"


def nest_name(number: int) -> str:
    """What the nest of a piece is called, counted from 0: a, b, c."""
    return ColumnLetters().of(number + 1).lower()


def places_of(said: Said) -> dict[str, Place]:
    """Where each piece lies in the jig, by its nest's name, the first one before the others."""
    if said["holder"] != "jig":
        return {"a": [Amount("0", 0.0)] * 2}
    return _named(said["more"] or (), said)


def _named(more: Sequence[Place], said: Said) -> dict[str, Place]:
    places = [said["lies"] or [Amount("0", 0.0)] * 2, *more]
    return {nest_name(number): at for number, at in enumerate(places)}


def read_more(text: str, said: Said) -> Read:
    """Where more pieces lie, with semicolons between; a list of places, empty for none. Raises
    Wanted, ValueError."""
    if is_none(text) and len(re.findall("[0-9]+", text)) < 2:
        return Read([], "none", tuple(words_of(text)[1:]))
    found, rest = list[list[Amount]](), list[str]()
    for part in filter(str.strip, text.split(";")):
        try:
            each = _ONE(part, said)
        except Wanted as wanted:
            raise Wanted(_WANTED, part, wanted.more) from None
        found.append(each.value)
        rest += each.rest
    if not found:
        raise Wanted(_WANTED, text)
    with_unit = [any(" " in each.written for each in at) for at in found]
    if with_unit[-1] and not all(with_unit):
        raise Wanted("a unit with each of them, or with none", text)
    kept = kept_as([each for at in found for each in at], said.unit).split(", ")
    return Read(
        found, "; ".join(map(", ".join, zip(kept[::2], kept[1::2], strict=True))), tuple(rest)
    )


def _lies_at(at: Place, said: Said) -> Outline:
    """The outline of a piece in the jig, mm."""
    (x, y), (wide, deep) = (each.mm for each in at), (each.mm for each in said["stock"][:2])
    return rectangle(x, y, x + wide, y + deep)


def ends_told(at: Place, said: Said) -> str:
    """From where to where in the jig a piece lies."""
    return ", ".join(
        f"{axis} {told_size(each.mm, said.unit)} to {told_size(each.mm + size.mm, said.unit)}"
        for axis, each, size in zip("XY", at, said["stock"][:2], strict=True)
    )


def hangs_over(at: Place, said: Said) -> bool:
    """Whether a piece hangs over its jig."""
    return any(
        each.mm < -1e-6 or each.mm + size.mm > side.mm + 1e-6
        for side, each, size in zip(said["footprint"], at, said["stock"][:2], strict=True)
    )


def jig_told(said: Said) -> str:
    """How large the jig is."""
    return f"the jig, which is {as_told(said['footprint'], said.unit)}"


def more_cannot(value: Sequence[Place], said: Said) -> list[str]:
    """Pieces that lie over each other, or too many to be named by letters."""
    if len(value) >= _MOST:
        return [f"a jig has {_MOST} pieces at most here; pincorner example jig has no such limit"]
    outlines = {name: _lies_at(at, said) for name, at in _named(value, said).items()}
    found = []
    for one, other in combinations(outlines, 2):
        over_mm = -gap_mm(outlines[one], outlines[other])
        if over_mm > 1e-6:
            by = told_size(over_mm, said.unit)
            found.append(f"pieces {one} and {other} would lie over each other by {by}")
    return found[:2]


def more_doubts(value: Sequence[Place], said: Said) -> list[str]:
    """Pieces that hang over their jig."""
    named = list(_named(value, said).items())[1:]
    return [
        f"piece {name} hangs over {jig_told(said)}" for name, at in named if hangs_over(at, said)
    ]


def tells_more(value: Sequence[Place], said: Said) -> str:
    """Where each of them lies, by the name of its nest."""
    if not value:
        return "none"
    named = list(_named(value, said).items())[1:]
    return "; ".join(f"piece {name} lies from {ends_told(at, said)}" for name, at in named)


def more_examples(said: Said) -> tuple[str, ...]:
    """The next pieces behind the first one, or beside it where there is room there alone, with a
    little between."""
    gap_mm = 10.0 if said.unit == "mm" else 12.7

    def moved(axis: int, times: int) -> Place:
        by_mm = times * (said["stock"][axis].mm + gap_mm)
        at_mm = [each.mm + by_mm * (way == axis) for way, each in enumerate(said["lies"])]
        return [Amount(f"{in_unit(each, said.unit):.6g}", each) for each in at_mm]

    beside, behind = (not hangs_over(moved(axis, 1), said) for axis in (0, 1))
    axis = 0 if beside and not behind else 1
    at = [" x ".join(each.written for each in moved(axis, times)) for times in (1, 2)]
    return (at[0], "; ".join(at), "none")


MORE = Question(
    "more",
    "more pieces in the jig",
    "Does the jig hold more pieces like it? How far is each from the jig's own left and front "
    "edges; with ; between several. Or none.",
    read_more,
    usual("none"),
    "Each lies turned as the first one, with its zero at the same place, and has a work offset of "
    "its own: program and sheet are for all. Other pieces, or pieces turned otherwise, are nests "
    "that a document tells: pincorner edit jig.",
    is_("holder", "jig"),
    doubts=more_doubts,
    cannot=more_cannot,
    sample="none",
    examples=more_examples,
    tells=tells_more,
)
