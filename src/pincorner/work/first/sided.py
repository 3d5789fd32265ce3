"""Lengths with the sides that they belong to: how far something reaches, where something lies."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise, takewhile
from typing import NamedTuple

from pincorner.units import in_unit, told_size
from pincorner.work.first.plain import NOTS, Unclear, Wanted, cleaned, words_of
from pincorner.work.first.typed import (
    LENGTH,
    Amount,
    Reader,
    Said,
    amounts,
    as_told,
    must_be_within,
    read_amounts,
    scan,
    several,
    with_points,
    without_axes,
)

# ---- numbers with the words beside them ----------------------------------------------------------

_TOKEN = re.compile(
    rf"(?P<number>(?<![a-z0-9])[-+]?{LENGTH})|(?P<word>[a-z][a-z0-9'-]*)"
    r"|(?P<stop>[,;:()&+/]|\.(?=\s|$))"
)
_AND = frozenset(("and", "&", "+", "/", "plus"))
_STOPS = frozenset(("and", "plus", "with", "but"))


class Token(NamedTuple):
    """A number, or a word and of what kind it is."""

    kind: str
    word: str


@dataclass
class Clause:
    """Tokens without a stop between them, and what stands in front: a comma, a colon, `and`."""

    behind: str
    tokens: list[Token] = field(default_factory=list)

    def words(self) -> str:
        """The same as a text."""
        return " ".join(each.word for each in self.tokens)

    def has(self, *kinds: str) -> bool:
        """Whether there is one of these kinds."""
        return any(each.kind in kinds for each in self.tokens)

    def numbered(self, telling: Collection[str]) -> dict[int, list[str]]:
        """Numbers by their places, with the words that tell what they are of. They stand before
        these words or behind them, as the first of them does; `?` where that is not sure."""
        tokens = self.tokens
        marks = [each.kind == "number" or each.word in telling for each in tokens]
        numbers = [at for at, each in enumerate(tokens) if each.kind == "number"]
        if not numbers or sum(marks) == len(numbers):
            return {}
        comes_first = tokens[marks.index(True)].kind == "number"
        found = {}
        for at in numbers:
            behind = _run(tokens[at + 1 :])
            before = _run(tokens[:at][::-1])[::-1]
            words = behind if comes_first else before
            is_told_twice = any(word in telling for word in behind) and not comes_first
            if len(numbers) == 1:
                words = before + behind
            elif at == numbers[-1] and is_told_twice:  # `out 30 10 over`
                words = ["?"]
            if any(word in telling or word == "?" for word in words):
                found[at] = words
        return found


def _run(tokens: Sequence[Token]) -> list[str]:
    """The words up to the next number, or word of another kind."""
    return [each.word for each in takewhile(lambda each: each.kind == "word", tokens)]


def _is_word(word: str) -> tuple[str, str]:
    return "word", word


def clauses_in(
    plain: str, kind_of: Callable[[str], tuple[str, str]] = _is_word
) -> Iterator[Clause]:
    """The clauses of a text; `kind_of` gives a word's kind, and the word that stands for it."""
    clause = Clause("")
    for match in _TOKEN.finditer(plain):
        text = match[0]
        if match["stop"] or text in _STOPS:
            if clause.tokens:
                yield clause
                clause = Clause("")
            said_so = "and" if text in _AND else ":" if text == ":" else ","
            clause.behind = clause.behind or said_so
        else:
            clause.tokens.append(Token(*(("number", text) if match["number"] else kind_of(text))))
    if clause.tokens:
        yield clause


# ---- the sides of jig and piece ------------------------------------------------------------------


class Sides(list[Amount]):
    """X, Y and a third length where it was said; `also`: what else was said, by what it is of."""

    def __init__(self, found: Sequence[Amount], also: Mapping[str, str] | None = None) -> None:
        super().__init__(found)
        self.also: Mapping[str, str] = also or {}


_OF_SIDES = "two lengths or three"
_THINGS = {
    "holes": r"dowel(?:l?ed|s)?|holes?|bush(?:ing|ed)?s?|slots?|pins?",
    "pocket": r"pockets?|recess(?:es)?|rebates?|seat|sunk",
    "top": r"strips?|stops?|fences?|toggles?|rails?|lips?|rims?|cleats?|clamps?|highest|tallest",
}
"""What a jig may have, by what its numbers are then of."""
_SIDE_WORDS = {
    **dict.fromkeys(("wide", "width", "across", "front"), "x"),
    **dict.fromkeys(("deep", "depth"), "y"),
    **dict.fromkeys(("thick", "thickness", "high", "height", "tall", "overall"), "z"),
    "long": "long",
}  # fmt: skip
_MATERIALS = re.compile(
    r"(?:plywood|ply|mdf|birch|oak|beech|ash|maple|pine|ebony|walnut|alumini?um|steel|brass|acrylic"
    r"|plate|board|base|stock)\b"
)
"""What stands behind a thickness: `18 mm ply`."""
_JOINED = re.compile(rf"{LENGTH}(?:\s*(?:x|by|times|\*)\s*{LENGTH}){{1,2}}(?!\s*(?:x|by)\b)")
_SAME_SIDE = (
    (re.compile(r"\b(wide|long|deep|high|thick|tall)\s+(?:x|by|times)\s+(?=[.0-9])"), r"\1, "),
    (re.compile(r"(?<=[0-9m\"n]) (?:front to back|back to front)\b"), " deep"),
    (re.compile(r"(?<=[0-9m\"n]) (?:left to right|side to side)\b"), " wide"),
    (re.compile(r"\b(?:long|short)(?:er)? (?:side|edge)\b(?=(?: is)? [.0-9])"), " "),
)
_AXES_SAID = re.compile(
    r"\bsquare\b|\b(?:along|in|on) (?:the )?[xy]\b|(?<![a-z0-9])(?<![0-9] )[xy]\s*[:=]?\s*[.0-9]"
)
_OVER_ALL = re.compile(r"\b(?:high|tall|height|overall|in all|altogether)\b")
_POINTS = re.compile(r"\b(?:left|right|back|away|(?:to|towards?|facing|faces?) (?:me|you))\b")


def read_sides(text: str, said: Said) -> Sides:
    """X, Y and a third length where it is said: `400 x 300 x 18`, or each number by its word.
    Raises Wanted, Unclear."""
    plain = with_points(text, (2, 3))
    has_axes = _AXES_SAID.search(plain) and re.search(r"\b(?:long|short)|^[xy]\b", plain)
    for pattern, word in _SAME_SIDE:
        plain = pattern.sub(word, plain)
    if has_axes or (_AXES_SAID.search(plain) and not _JOINED.search(plain)):
        return Sides(several(0.01, 20_000, 2, 3)(text, said))
    joined = _JOINED.search(plain)
    sides: list[tuple[str, str]] = []
    if joined:
        sides = [("x", each) for each in in_one_unit(re.findall(LENGTH, joined[0]))]
        sides = [*zip("xyz", (number for _, number in sides), strict=False)]
        plain = f"{plain[: joined.start()]} , {plain[joined.end() :]}"
    also: dict[str, str] = {}
    for clause in clauses_in(plain):
        sides += _sides_in(clause, also)
    return Sides(_ordered(sides, bool(joined), text, said), also)


def in_one_unit(numbers: Sequence[str]) -> list[str]:
    """Lengths as texts; one without a unit has that of the next one: `4 x 8 ft`."""
    found: list[str] = []
    unit = ""
    for each in reversed(numbers):
        own = re.search(r"(?:(?<![a-z])[a-z]+|[\"'])$", each)
        unit = own[0] if own else unit
        found.append(each if own else f"{each} {unit}".strip())
    return found[::-1]


def _sides_in(clause: Clause, also: dict[str, str]) -> list[tuple[str, str]]:
    """The sides that a clause tells, with the axis of each or nothing; what is of something else
    goes into `also`. Raises Unclear."""
    words, numbers = clause.words(), [each for each in clause.tokens if each.kind == "number"]
    thing = next(
        (key for key, named in _THINGS.items() if re.search(rf"\b(?:{named})\b", words)), ""
    )
    if NOTS & set(words.split()):
        if numbers or not (thing or re.search(r"\b(?:nothing|taller|higher|else)\b", words)):
            raise Unclear(f"{words!r}: how large is it then, X by Y?")
        return []
    if re.search(r"\b(?:x|by)\b", words):
        raise Wanted(_OF_SIDES, words)
    if thing:
        told = f"{also[thing]}, {words}" if thing in also else words
        if len(re.findall(LENGTH, without_count(told))) > 1 and thing != "holes":
            raise Unclear(f"{told!r}: how large is the jig itself, X by Y, and how high?")
        also[thing] = told
        return []
    if _OVER_ALL.search(words):
        also["over all"] = words
    if not numbers:
        if _POINTS.search(words):
            also["front"] = f"{also['front']}, {words}" if "front" in also else words
        return []
    told_by = clause.numbered(_SIDE_WORDS.keys())
    found = []
    for at, token in enumerate(clause.tokens):
        if token.kind == "number":
            keys = {_SIDE_WORDS[word] for word in told_by.get(at, ()) if word in _SIDE_WORDS}
            if not keys and _MATERIALS.match(" ".join(_run(clause.tokens[at + 1 :]))):
                keys = {"z"}
            found.append((next(iter(keys)) if len(keys) == 1 else "?" if keys else "", token.word))
    return found


def without_count(words: str) -> str:
    """What was said of a jig's pocket or strips, without how many there are."""
    return re.sub(rf"\b[1-9] (?=(?:\w+ )?(?:{'|'.join(_THINGS.values())})\b)", " ", words)


def _ordered(
    sides: Sequence[tuple[str, str]], is_joined: bool, text: str, said: Said
) -> list[Amount]:
    """Sides in the order of X, Y and the third. Raises Wanted, Unclear where it is not sure."""
    flat = [number for key, number in sides if key != "z"]
    keys = [key for key, _ in sides if key != "z"]
    thirds = [number for key, number in sides if key == "z"]
    if len(flat) == 3 and not any(keys) and not thirds:  # `400 300 18`
        thirds, flat, keys = flat[2:], flat[:2], keys[:2]
    if "?" in keys or len(flat) > 2 or len(set(thirds)) > 1:
        odd = flat[2:] or thirds[1:] or flat
        raise Unclear(
            f"what is {' and '.join(odd)} of? X by Y, and how high or thick: each its word"
        )
    if len(flat) < 2:
        raise Wanted(_OF_SIDES, text, f", which has {len(sides)}" if sides else "")
    if not is_joined and keys in (["y", ""], ["y", "x"], ["y", "long"], ["", "x"]):
        flat = flat[::-1]
    elif not is_joined and keys[0] == keys[1] != "":
        raise Unclear("which of them is X, along its own front edge, and which Y?")
    numbers = [*flat, *thirds[:1]] if is_joined else in_one_unit([*flat, *thirds[:1]])
    found = [amounts(each, said, 1)[0] for each in numbers]
    for each in found:
        must_be_within(each, 0.01, 20_000, said.unit)
    return found


# ---- reaches and places --------------------------------------------------------------------------

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
    plain = re.sub(r"\b(?:except|but)\b", ",", with_points(text, (4,)))
    plain = re.sub(r"\bonly\b", " ", plain)
    plain = _BOTH.sub(" left right ", _ALL.sub(" left right front back ", plain))
    tokens = list(scan(plain, text, _OF_REACH, _SIDE_OF))
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
        of_each = _by_clause(plain) or [
            {_SIDE_OF[word] for word in words} for _, words in _grouped(tokens, text, _OF_REACH)
        ]
        groups = list(zip(of_each, read.values(), strict=True))
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


def _by_clause(plain: str) -> list[set[str]]:
    """The sides of each length, where each stands in a clause of its own with its sides; nothing
    where that is not so."""
    parts = [
        part
        for part in re.split(r",(?!\d)|;|\band\b", plain)
        if re.search("[0-9]", part) or _SIDE_OF.keys() & set(words_of(part))
    ]
    is_side_first = re.match(r"[^0-9]*\b(?:left|right|front|back)\b", parts[0])
    clauses: list[str] = []
    for part in reversed(parts) if is_side_first else parts:  # what has no length joins the next
        if clauses and not re.search("[0-9]", part):
            clauses[-1] += f" {part}"
        else:
            clauses.append(part)
    clauses = clauses[::-1] if is_side_first else clauses
    found = [{_SIDE_OF[word] for word in words_of(each) if word in _SIDE_OF} for each in clauses]
    is_one_each = all(len(re.findall(LENGTH, each)) == 1 for each in clauses)
    return found if is_one_each and all(found) else []


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


# ---- a place in a rectangle, counted from its front left corner ----------------------------------


class Room(NamedTuple):
    """How far a place may go along X and Y, mm: a rectangle's sides, or what they leave of what is
    laid in it; `is_point`: a place alone."""

    along_mm: tuple[float, float]
    is_point: bool


_AXIS_OF_SIDE = {"left": 0, "right": 0, "front": 1, "back": 1}
_HIGH = frozenset(("right", "back"))
_MIDDLE = frozenset(("middle", "centre", "center", "centred", "centered", "central", "mid"))
_SAME = (
    (re.compile(r"\b(?:rear|behind|backwards?)\b"), "back"),
    (re.compile(r"\b(left|right|front|back)-(?=[a-z])"), r"\1 "),
    (re.compile(r"\b(?:left to right|side to side|sideways|(?:along|in) (?:the )?x)\b"), "alongx"),
    (re.compile(r"\b(?:front to back|back to front|(?:along|in) (?:the )?y)\b"), "alongy"),
    (re.compile(r"\b(?:in )?(?:both|each|either|all|every)(?: 4)? (?:way|direction|edge|side|end)s?"
                r"\b|\ball (?:a)?round\b"), "bothaxes"),
)  # fmt: skip
_FROM_THE_CORNER = re.compile(
    r"\b(?:(?:of|from) )?(?:the |its )*(?:front left|left front) corner\b"
    r"(?: of (?:the )?(?:jig|tray|base|board|plate|piece|part|stock|blank))?"
)
_AS_SEEN = re.compile(r"\b(?:near(?:er|est)?|far(?:ther|thest)?|furthest|me|you|other|opposite)\b")
_AGAINST = re.compile(r"\b(?:against|strips?|fences?|stops?|rails?|lips?|rims?|pockets?)\b")
_NOTHING_ELSE = frozenset(("flush", "yes", "y", "yeah", "yep", "same", "there", "default", "zero"))
_TELLING = _AXIS_OF_SIDE.keys() | {"alongx", "alongy", "bothaxes"}


def place_in(text: str, room: Room, said: Said) -> list[Amount]:
    """X and Y of a place in a rectangle: two lengths, a corner, its middle, or one of these for
    each axis. Raises Wanted, Unclear."""
    plain = with_points(text, (2,))
    if said.unit == "mm" and (match := re.search(r"([.0-9]+) in (?=from\b|to\b)", plain)):
        raise Unclear(f"{match[1]} in: do you mean {match[1]} mm, or {match[1]} inches?")
    if without_axes(plain)[1]:
        return amounts(plain, said, 2)
    for pattern, word in _SAME:
        plain = pattern.sub(word, plain)
    if re.search("[0-9]", plain):
        plain = _FROM_THE_CORNER.sub(" ", plain)
    clauses = list(clauses_in(re.sub(r"(?<=[0-9])\s*x\s*(?=[-.0-9])", " , ", plain)))
    if any(NOTS & set(each.words().split()) for each in clauses) or _AS_SEEN.search(plain):
        raise Unclear("where is it then? Such as front left, middle, or X and Y from front left")
    found = _Found(
        room, said, [each.word for c in clauses for each in c.tokens if each.kind == "number"]
    )
    for clause in clauses:
        found.take(clause)
    return found.both(text)


class _Found:
    """What was found of a place so far: by axis, numbers without a word, what the rest is."""

    def __init__(self, room: Room, said: Said, numbers: Sequence[str]) -> None:
        self.room, self.said = room, said
        self.lengths = dict(zip(numbers, in_one_unit(numbers), strict=True))
        self.at: tuple[list[Amount], list[Amount]] = ([], [])
        self.bare: list[Amount] = []
        self.rest = ""
        self.last: tuple[Amount, int] | None = None
        self.is_against = False

    def take(self, clause: Clause) -> None:
        """Take what a clause tells. Raises Unclear."""
        told = clause.numbered(_TELLING)
        if not clause.has("number"):
            self._take_words(clause)
            return
        self.last = None
        for at, token in enumerate(clause.tokens):
            if token.kind != "number":
                continue
            (length_said,) = amounts(self.lengths[token.word], self.said, 1)
            if at not in told:
                self.bare.append(length_said)
            else:
                self._take_number(length_said, told[at])

    def _take_number(self, length_said: Amount, words: Sequence[str]) -> None:
        sides = [word for word in words if word in _AXIS_OF_SIDE]
        along = {"alongx": (0,), "alongy": (1,), "bothaxes": (0, 1)}
        axes = next((along[word] for word in words if word in along), None)
        if sides and axes is None:
            axes = tuple({_AXIS_OF_SIDE[side]: None for side in sides})
        told = " ".join(words)
        is_from_high = re.search(r"\bfrom (?:the |its )*(right|back)\b", told)
        is_outside = re.search(r"(?<!from )(?<!from the )(?<!from its )\b(?:left|front) of\b", told)
        if axes is None or "?" in words or is_outside or (len(axes) > 1 and sides):
            raise Unclear(
                f"{told_size(length_said.mm, self.said.unit)} {told}: how far is it from the left "
                "edge, and how far from the front edge? A place outside them has a minus"
            )
        for axis in axes:
            at = length_said
            if is_from_high:
                edge, low = is_from_high[1], "left" if axis == 0 else "front"
                if not self.room.is_point:
                    raise Unclear(
                        f"how far is it from the {low} edge? It is counted from there, not from "
                        f"the {edge}"
                    )
                from_there = f"{told_size(at.mm, self.said.unit)} from the {edge}"
                at = self._reckoned(self.room.along_mm[axis] - at.mm, from_there)
            self.at[axis].append(at)
        self.last = (length_said, axes[0]) if "from" in words and not is_from_high else None

    def _take_words(self, clause: Clause) -> None:
        words = clause.words().split()
        sides = [word for word in words if word in _AXIS_OF_SIDE]
        if self.last and clause.behind == "and" and len(sides) == 1 and sides[0] not in _HIGH:
            self.at[_AXIS_OF_SIDE[sides[0]]].append(self.last[0])  # `1 from the left and front`
            return
        if not self.room.is_point and _AGAINST.search(clause.words()):
            self.is_against = True
            return
        is_middle = bool(_MIDDLE & set(words))
        for axis, word in enumerate(("alongx", "alongy")):
            if word in words and is_middle:
                self.at[axis].append(self._share(axis, 0.5))
                is_middle = False
        for side in sides:
            axis = _AXIS_OF_SIDE[side]
            self.at[axis].append(self._share(axis, float(side in _HIGH)))
        if is_middle:
            self.rest = "middle"
        elif not sides and "corner" in words:
            raise Unclear("which corner: front left, front right, back left, back right?")
        elif _NOTHING_ELSE & set(words) and not sides:
            self.rest = self.rest or "low"

    def _share(self, axis: int, share: float) -> Amount:
        return self._reckoned(self.room.along_mm[axis] * share, "") if share else Amount("0", 0.0)

    def _reckoned(self, at_mm: float, how: str) -> Amount:
        return Amount(f"{in_unit(at_mm, self.said.unit):.9g}", at_mm, how)

    def both(self, text: str) -> list[Amount]:
        """X and Y. Raises Wanted, Unclear."""
        if len(self.bare) == 2 and not any(self.at) and not self.rest:
            return self.bare
        if self.bare:
            told = " and ".join(told_size(each.mm, self.said.unit) for each in self.bare)
            raise Unclear(f"what is {told} of? Say how far from the left, how far from the front")
        found = []
        for axis, low in enumerate(("left", "front")):
            at = self.at[axis]
            if not at and self.rest:
                at = [self._share(axis, 0.5 if self.rest == "middle" else 0.0)]
            if len({each.mm for each in at}) > 1:
                both = " or ".join(told_size(each.mm, self.said.unit) for each in at)
                raise Unclear(f"{both} from the {low} edge?")
            found += at[:1]
        if self.is_against and len(found) < 2:
            raise Unclear(
                "how far from the jig's left and front edges is the piece's own corner then? Two "
                "lengths"
            )
        if not found:
            raise Wanted(_OF_PLACE, text)
        if len(found) < 2:
            low = "front" if self.at[0] else "left"
            raise Unclear(
                f"{told_size(found[0].mm, self.said.unit)} from the "
                f"{'left' if self.at[0] else 'front'} edge; and how far from the {low} edge? "
                "Say both"
            )
        return found
