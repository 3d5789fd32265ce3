"""Lengths with the sides that they belong to: how far something reaches, where something lies."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from pincorner.work.first.plain import Unclear, Wanted, cleaned
from pincorner.work.first.typed import (
    Amount,
    Reader,
    Said,
    amounts,
    as_told,
    must_be_within,
    read_amounts,
    scan,
    with_points,
    without_axes,
)

SIDES = ("left", "right", "front", "back")
_ALL = re.compile(
    r"\b(?:all (?:a)?round|everywhere|each way"
    r"|(?:on |to )?(?:all|each|every)(?: four| 4)? (?:sides?|ways?|directions?))\b"
)
_BOTH = re.compile(r"\b(?:(?:on |to )?(?:both|either|each) sides?|sides|sideways)\b")
_SIDE_OF = {
    "left": "left", "right": "right", "front": "front", "back": "back", "forward": "front",
    "forwards": "front", "rear": "back", "behind": "back", "backward": "back", "backwards": "back",
    "l": "left", "r": "right", "f": "front", "b": "back",
}  # fmt: skip
_OF_REACH = "left, right, front and back, a length each"
_OF_PLACE = "X and Y from the front left corner"

_Group = tuple[re.Match[str], list[str]]


def reaches(text: str, said: Said) -> list[Amount]:
    """How far something reaches: left, right, front, back, in this order or with these words.

    Raises Wanted, and Unclear for one length.
    """
    plain = re.sub(r"\b(?:except|but|only)\b", ",", with_points(text, (4,)))
    plain = _ALL.sub(" left right front back ", plain)
    tokens = list(scan(_BOTH.sub(" left right ", plain), text, _OF_REACH, _SIDE_OF))
    found = [token for token in tokens if isinstance(token, re.Match)]
    read = dict(zip(found, read_amounts(found, said), strict=True))
    if len(found) == len(tokens) == 1:
        one = as_told(list(read.values()), said.unit)
        each = ", ".join(f"{side} {one}" for side in SIDES)
        raise Unclear(f"{one} to all four sides? Enter takes that", each)
    by_side: dict[str, Amount] = {}
    if len(found) == len(tokens) == 4:
        by_side = dict(zip(SIDES, read.values(), strict=True))
    elif len(found) < len(tokens):
        groups = [
            ({_SIDE_OF[word] for word in words}, read[match])
            for match, words in _grouped(tokens, text, _OF_REACH)
        ]
        for sides, one_length in groups:
            if sides == set(SIDES):
                by_side = dict.fromkeys(SIDES, one_length)  # the others say what is otherwise
        said_of: set[str] = set()
        for sides, one_length in groups:
            if not sides or sides & said_of:
                raise Wanted(_OF_REACH, text)
            if sides != set(SIDES):
                said_of |= sides
                by_side |= dict.fromkeys(sides, one_length)
    missing = [side for side in SIDES if side not in by_side]
    if missing:
        says = f", which does not say {' nor '.join(missing)}" if by_side else ""
        raise Wanted(_OF_REACH, text, says)
    for each_length in by_side.values():
        must_be_within(each_length, 0, 5000, said.unit)
    return [by_side[side] for side in SIDES]


def _grouped(tokens: Sequence[re.Match[str] | str], text: str, wanted: str) -> list[_Group]:
    """Each length with its words: those behind it where the text begins with a length, else those
    in front of it. Raises Wanted for words that are left over."""
    groups: list[_Group] = []
    words: list[str] = []
    if isinstance(tokens[0], re.Match):
        for token in tokens:
            if isinstance(token, re.Match):
                groups.append((token, []))
            else:
                groups[-1][1].append(token)
        return groups
    for token in tokens:
        if isinstance(token, re.Match):
            groups.append((token, words))
            words = []
        else:
            words.append(token)
    if any(word in _SIDE_OF for word in words):
        raise Wanted(wanted, text)
    return groups


def from_corner(low_mm: float, high_mm: float, from_edges: bool = False) -> Reader:
    """A reader of a place from a front left corner: X and Y, or in words such as
    `20 right and 15 behind`, `1 in from the left and 1 in from the front`.

    from_edges: left and front alone are the edges that it is counted from.
    """

    def read(text: str, said: Said) -> list[Amount]:
        plain, axes = without_axes(_A1.sub(" ", with_points(text, (2,))))
        known = {*_SIDE_OF, "edge", "edges", "from", "corner"} - {"l", "r", "f", "b"}
        tokens = list(scan(plain, text, _OF_PLACE, known))
        if any(token in _SIDE_OF for token in tokens if isinstance(token, str)) and not axes:
            found = _in_words(tokens, said, text, from_edges)
        else:
            found = amounts(_A1.sub(" ", _AROUND.sub(" ", cleaned(text))), said, 2)
        for each in found:
            must_be_within(each, low_mm, high_mm, said.unit)
        return found

    return read


_A1 = re.compile(r"\b(?:hole )?a1\b(?: is)?")
_AROUND = re.compile(r"\b(?:edges?|corner|left|front)\b")


def _in_words(
    tokens: Sequence[re.Match[str] | str], said: Said, text: str, from_edges: bool
) -> list[Amount]:
    groups = _grouped(tokens, text, _OF_PLACE)
    is_behind = isinstance(tokens[0], re.Match)
    if len(groups) == 1 and is_behind and {"left", "front"} <= set(groups[0][1]):
        groups = [(groups[0][0], ["from", "left"]), (groups[0][0], ["from", "front"])]
    if len(groups) == 2 and not groups[0][1] and {"left", "front"} <= set(groups[1][1]):
        named = [word for word in groups[1][1] if word in ("left", "front")]  # `4 x 4 from ..`
        groups = [(match, ["from", side]) for (match, _), side in zip(groups, named, strict=False)]
    axes = [_axis_of(words, from_edges or not is_behind, text) for _, words in groups]
    if sorted(axes) != ["x", "y"]:
        raise Wanted(_OF_PLACE, text)
    read = read_amounts([match for match, _ in groups], said)
    return read if axes == ["x", "y"] else read[::-1]


def _axis_of(words: Sequence[str], from_edges: bool, text: str) -> str:
    """The axis along which words count from a front left corner. Raises Unclear, Wanted."""
    sides = [_SIDE_OF.get(word, word) for word in words]
    from_them = {there for here, there in pairwise(sides) if here == "from"}
    plain = {side for side in sides if side in SIDES} - from_them
    along_x, along_y = set(sides) & {"left", "right"}, set(sides) & {"front", "back"}
    if bool(along_x) == bool(along_y):
        raise Wanted(_OF_PLACE, text)
    plus, edge = ("right", "left") if along_x else ("back", "front")
    if plus in from_them:
        raise Unclear(
            f"how far is it from the {edge} edge? It is counted from there, not from the {plus}"
        )
    if plus in plain or edge in from_them or from_edges or "edge" in sides:
        return "x" if along_x else "y"
    raise Unclear(f"how far is it from the {edge} edge? A place outside it has a minus in X Y")
