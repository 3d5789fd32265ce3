"""What stands on the bed for good beside pins and clamps: fences, vices, and the like."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pincorner.documents.fields import check_name, key_of
from pincorner.units import told_size
from pincorner.work.first.asked.question import UNKNOWN, Question, is_none, is_short
from pincorner.work.first.asked.typed import (
    Amount,
    Read,
    Said,
    Scan,
    Wanted,
    amounts,
    kept_as,
    must_be_within,
    odd,
    scan,
    words_of,
)

_FORM = "NAME: X from to, Y from to, how high"
_OF_THE_FORM = frozenset(("x", "y", "to", "from", "high", "height", "tall", "top", "and"))


class Fixed(NamedTuple):
    """One of them: its name, its ends along X and Y from the middle of hole A1, its height."""

    name: str
    x: tuple[Amount, Amount]
    y: tuple[Amount, Amount]
    top: Amount


def read_fixed(text: str, said: Said) -> Read:
    """What stands there, with semicolons between; a list of Fixed, empty for none. Raises Wanted,
    ValueError."""
    if is_none(text):
        return Read([], "none", tuple(words_of(text)[1:]))
    found, rest = list[Fixed](), list[str]()
    for part in text.split(";"):
        if part.strip():
            each, words = _one(part, said)
            found.append(each)
            rest += words
    if len({key_of(each.name) for each in found}) < len(found) or not found:
        raise Wanted(f"{_FORM}, each with a name of its own", text)
    kept = "; ".join(_kept(each, said) for each in found)
    return Read(found, kept, tuple(rest))


def _one(text: str, said: Said) -> tuple[Fixed, list[str]]:
    """One of them, and the words that were not read."""
    name, colon, figures = text.partition(":")
    if not colon:
        raise Wanted(_FORM, text)
    scanned = scan(figures, 5)
    low_x, high_x, low_y, high_y, top = _in_order(amounts(scanned, text, said, 5), scanned, text)
    x, y = (_ends(each, said, text) for each in ((low_x, high_x), (low_y, high_y)))
    must_be_within(top, 0.01, 2_000, said.unit)
    rest = [word for word, _ in scanned.words if word not in _OF_THE_FORM]
    return Fixed(check_name(name.strip()), x, y, top), rest


def _in_order(found: Sequence[Amount], scanned: Scan, text: str) -> Sequence[Amount]:
    """Two along X, two along Y, the height, as letters before them say. Raises Wanted."""
    at = {word: number for word, number in scanned.words if word in ("x", "y")}
    if at.get("x", 0) == 2 and at.get("y") == 0:
        return [*found[2:4], *found[:2], found[4]]
    if at.get("x", 0) or at.get("y", 2) != 2:
        raise Wanted(_FORM, text)
    return found


def _ends(both: tuple[Amount, Amount], said: Said, text: str) -> tuple[Amount, Amount]:
    for each in both:
        must_be_within(each, -20_000, 20_000, said.unit)
    low, high = sorted(both, key=lambda each: each.mm)
    if low.mm == high.mm:
        raise Wanted(f"{_FORM}, with two different ends each way", text)
    return low, high


def _kept(each: Fixed, said: Said) -> str:
    """One of them as an answer that reads the same."""
    (x, to_x), (y, to_y), top = each.x, each.y, each.top
    at = [kept_as([length], said.unit) for length in (x, to_x, y, to_y, top)]
    return f"{each.name}: X {at[0]} to {at[1]}, Y {at[2]} to {at[3]}, {at[4]} high"


def tells_fixed(value: Sequence[Fixed], said: Said) -> str:
    """What stands there, in the shop's unit."""
    if not value:
        return "nothing"
    return "; ".join(_told(each, said) for each in value)


def _told(each: Fixed, said: Said) -> str:
    ends = (
        f"{axis} {told_size(low.mm, said.unit)} to {told_size(high.mm, said.unit)}"
        for axis, (low, high) in zip("XY", (each.x, each.y), strict=True)
    )
    return f"{each.name} from {', '.join(ends)}, {told_size(each.top.mm, said.unit)} high"


def fixed_doubts(value: Sequence[Fixed], said: Said) -> list[str]:
    """What stands beside the bed, or is far from usual."""
    doubts = [
        line
        for each in value
        for line in odd(each.top, 1, 500, f"a height of {each.name}", said.unit)
    ]
    if not said["size"] or not said["edge"]:
        return doubts
    for axis, (size, edge) in enumerate(zip(said["size"][:2], said["edge"], strict=True)):
        for each in value:
            low, high = (each.x, each.y)[axis]
            if high.mm <= -edge.mm or low.mm >= size.mm - edge.mm:
                doubts.append(f"{each.name} stands beside the bed, along {'XY'[axis]}")
    return doubts


FIXED = Question(
    "fixed",
    "what else stands on the bed for good",
    "Does anything else stand on the bed for good: a fence, a vice, wedges, screws? "
    f"None, or {_FORM}, from hole A1.",
    read_fixed,
    UNKNOWN,
    "Where each begins and ends along X and along Y, from the middle of hole A1, minus to lower X "
    "or Y; how high it is above the bed; several with ; between. `pincorner check` keeps the "
    "cutter off, and nothing is placed there. Clamps of a station are asked for later.",
    optional=True,
    unknown="what else stands on the bed is not drawn, and not checked",
    doubts=fixed_doubts,
    sample="none",
    examples=(
        "{fence: X -40 to 900, Y -50 to -20, 30 high|fence: X -2 to 36, Y -3 to -2, 1 high}",
        "none",
    ),
    tells=tells_fixed,
    waits=is_short,
)
