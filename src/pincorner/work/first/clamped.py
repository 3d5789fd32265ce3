"""Clamps as people tell them: how many hold which edges, where along them, and how large they are.

An answer is taken apart into clauses, and of each number it is found out what it is of: how many,
how far along an edge, or one of the four lengths of a clamp. A number, an edge or a `not` where
that is not sure is asked about; words that carry nothing are read over.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import takewhile
from typing import Any, NamedTuple

from pincorner.geometry.pose import turned_by_quarters
from pincorner.units import told_size
from pincorner.work.first.plain import HEDGES, NOTS, OneByOne, Unclear, Wanted
from pincorner.work.first.reckoned import (
    FROM_THE_WORK,
    IN_WORDS,
    called_so,
    from_bed,
    held_mm,
    person_of,
    sides_mm,
    turn_of,
    with_sum,
)
from pincorner.work.first.sided import Clause, Token, clauses_in
from pincorner.work.first.typed import (
    LENGTH,
    Amount,
    Said,
    amounts,
    length,
    must_be_within,
    odd,
    with_points,
)


class Clamp(NamedTuple):
    """An edge that is clamped: how far along it, from its left or front end; None: its middle."""

    side: str
    at: Amount | None


class Clamps(NamedTuple):
    """Clamps as they were told: each; the lengths of one that were told with them, by the keys of
    their questions; and numbers that are asked about next, since it is not sure what they are of.
    """

    each: tuple[Clamp, ...]
    size: Mapping[str, Amount]
    unsure: tuple[str, ...] = ()
    offers: str = ""
    """How high the top is likely meant above the bed, of a height that was not told from there."""


_OF_CLAMPS = "edges, or none"
_EDGES: dict[str, tuple[float, float]] = {
    "left": (-1.0, 0.0), "right": (1.0, 0.0), "front": (0.0, -1.0), "back": (0.0, 1.0),
}  # fmt: skip
_SIDES = {**{side: side for side in _EDGES}, "rear": "back", "behind": "back"}
SIZES = {
    "clamp_wide": "wide",
    "clamp_out": "out",
    "clamp_over": "over",
    "clamp_top": "its top above the bed",
}
"""The lengths of a clamp, by the keys of their questions, in the order in which they are asked."""

# ---- what is said in clauses ---------------------------------------------------------------------

_NOUN = re.compile(
    r"(?:clamp|toggle|cam|strap|screw|hold-?down|finger|cleat|dog|button|bolt|bar)s?$"
)
_ALL_FOUR = re.compile(
    r"\b(?:all (?:a)?round|(?:all|each|every)(?: of)?(?: the)?(?: 4)?(?: own)? (?:edges?|sides?)"
    r"|all 4)\b"
)
_BETWEEN = """
at on along to in the its own my jig's piece's a an each of per x times quick edge side end edges
sides ends is are just about around for pieces more total all altogether them there i have use
middle centre center
"""
_STANDS_BETWEEN = frozenset(_BETWEEN.split())
"""What may stand between a number and the edge, or the clamps, that it counts."""
_PARTS = re.compile(
    r"\b(?:corners?|(?:end|half|third|quarter)s? of|(?:long|short)(?:er|est)? (?:edge|side)s?"
    r"|(?:top|bottom|upper|lower) (?:edge|side)s?|diagonal\w*|other|far|near|opposite|or|except"
    r"|instead|(?:along|in) [xy]|several|(?:a )?few|some|many|dozen|holes?|rows?|columns?"
    r"|(?!m[0-9])[a-z]+[0-9]+)\b"
)
"""Words that say where or how many, of which no edge and no number follows for sure."""
_FROM_END = re.compile(
    r"\bfrom (?:(?:the|its|each|either|both|own) )*(?:(?:left|right|front|back) )?ends?(?: of)?\b"
)
_KEY_OF = {
    **dict.fromkeys(("wide", "width", "broad"), "clamp_wide"),
    **dict.fromkeys(("out", "outside", "outward", "outwards", "beyond", "protrude", "protrudes",
                     "protruding", "sticking", "sticks", "stick"), "clamp_out"),
    **dict.fromkeys(("over", "onto", "overlap", "overlaps", "overlapping", "grip", "grips",
                     "gripping", "inside", "inward", "inwards"), "clamp_over"),
    **dict.fromkeys(("high", "tall", "height", "top", "above", "tallest", "highest", "higher"),
                    "clamp_top"),
}  # fmt: skip
_TOLD_OTHERWISE = frozenset(
    ("along", "long", "thick", "deep", "reach", "reaches", "reaching", "up", "down")
)
_ABOVE_THE_BED = re.compile(
    r"\b(?:over|above|from|off) (?:(?:the|my) )*(?:bed|table|spoilboard|wasteboard|bench|surface)\b"
)
_NO_IDEA = re.compile(
    r"\b(?:not sure|unsure|(?:don't|dont|do not) know|no idea|not (?:yet )?measured|not known)\b"
)
_SAME_WORD = (
    (re.compile(r"\b(left|right|front|back|rear)(?:-| )?(?:hand(?:ed)?|most)\b"), r"\1"),
    (re.compile(r"\b(left|right|front|back|rear)-(?=left|right|front|back|rear)"), r"\1 "),
    (re.compile(r"\bon top of\b"), "onto"),
    (re.compile(r"\bon top\b"), " "),
    (re.compile(r"\b(?:stick|stand)(?:s|ing)? up\b"), "high"),
    (re.compile(r"\bnear (?=the (?:middle|cent))"), " "),
    (re.compile(r"\b(?:no|nothing|none|not) (?=(?:over|onto)\b)"), "0 "),
    (re.compile(r"\bpair\b"), "2 "),
    (re.compile(r"\bsingle\b"), "1 "),
    (re.compile(r"\ban? (?=(?:\w+ )?(?:clamp|toggle|cam|strap|screw)\b)"), "1 "),
    (_ALL_FOUR, " allfour "),
)
_SEEN = {
    "away": re.compile(
        r"\b(?:far(?:ther|thest)?|furthest) (?:edge|side|end)\b|\baway from (?:me|you)\b"
    ),
    "toward": re.compile(
        r"\b(?:near(?:er|est)?|close(?:r|st)?|my) (?:edge|side|end)\b"
        r"|\b(?:near(?:er|est)?|closest|next)? ?(?:to|towards?) (?:me|you)\b|\bnear(?:est)? me\b"
    ),
}
_OPPOSITE = re.compile(
    r"\b(?:the )?(?:opposite|other|away|facing|free)(?: (?:2|both))?(?: (?:sides?|edges?|ends?))?"
    r"(?: (?:of|from|to|than))? (?:the )?pins\b"
    r"|\b(?:the )?(?:opposite|other|free) (?:2|both) (?:sides?|edges?)\b"
    r"|\b(?:the )?(?:2|both) (?:opposite|other|free) (?:sides?|edges?)\b"
)


def _kind_of(word: str) -> tuple[str, str]:
    """A word's kind, and an edge by its own name."""
    if word in _SIDES:
        return ("behind" if word == "behind" else "edge"), _SIDES[word]
    return ("edge" if word == "allfour" else "clamps" if _NOUN.match(word) else "word"), word


def _with_own_edges(plain: str, said: Said) -> str:
    """A text in which edges that are named as the person sees them have the work's own names."""
    for side, edge in _EDGES.items():
        way = person_of(said).way_on_bed(turned_by_quarters(edge, turn_of(said) // 90))
        if way in _SEEN:
            plain = _SEEN[way].sub(f" {side} edge ", plain)
    if said["toward"] and (match := _OPPOSITE.search(plain)):
        free = [side for side in _EDGES if side not in against_pins(said)]
        others = [side for side in free if not re.search(rf"\b{side}\b", plain)]
        is_one = re.search(r"\b(?:side|edge|end)\b", plain[: match.end()][-30:])
        told = others if is_one and len(others) == 1 else free
        plain = _OPPOSITE.sub(f" {' and '.join(told)} ", plain)
    return plain


def against_pins(said: Said) -> set[str]:
    """The own edges of jig or piece that lie against the pins; none before that is said."""
    if not said["toward"]:
        return set()
    signs = [-1.0 if sign == "-" else 1.0 for sign in said["toward"][::2]]
    pins = ((-signs[0], 0.0), (0.0, -signs[1]))
    return {
        side
        for side, edge in _EDGES.items()
        if turned_by_quarters(edge, turn_of(said) // 90) in pins
    }


# ---- sizes ---------------------------------------------------------------------------------------


def _key_of(words: Sequence[str]) -> str | None:
    """The length that words around a number tell it to be; None where that is not sure."""
    told = " ".join(words)
    keys = {_KEY_OF[word] for word in words if word in _KEY_OF}
    if _ABOVE_THE_BED.search(told):
        keys = keys - {"clamp_over"} | {"clamp_top"}
    if "clamp_top" in keys and FROM_THE_WORK.search(told):
        keys -= {"clamp_over", "clamp_out"}
    return next(iter(keys)) if len(keys) == 1 else None


def _sizes_in(clause: Clause) -> dict[int, tuple[str | None, str]]:
    """Numbers of a clause that words tell to be lengths of a clamp, by their places: which, and the
    words."""
    return {
        at: (_key_of(words), " ".join(words))
        for at, words in clause.numbered(_KEY_OF.keys() | _TOLD_OTHERWISE).items()
    }


# ---- how many, and where -------------------------------------------------------------------------


@dataclass
class _Group:
    """Edges with how many clamps they were said to have, each or together; how far along them."""

    sides: list[str]
    count: int | None = None
    is_each: bool = False
    at: list[Amount] = field(default_factory=list)


@dataclass
class _Told:
    """What was found in an answer so far."""

    said: Said
    groups: list[_Group] = field(default_factory=list)
    without: set[str] = field(default_factory=set)
    mentioned: set[str] = field(default_factory=set)
    size: dict[str, str] = field(default_factory=dict)
    along: list[str] = field(default_factory=list)
    unsure: list[str] = field(default_factory=list)
    bare: list[str] = field(default_factory=list)
    ahead: list[tuple[str, str]] = field(default_factory=list)
    before_edge: int = 0
    total: int | None = None
    many: bool = False

    def take(self, clause: Clause) -> None:
        """Take what a clause tells. Raises Unclear."""
        tokens, words = clause.tokens, set(clause.words().split())
        sizes = _sizes_in(clause)
        if _NO_IDEA.search(clause.words()) and not clause.has("number", "edge"):
            return
        if words & NOTS:
            self._take_none(clause)
            return
        if match := _PARTS.search(_FROM_END.sub(" ", clause.words())):
            raise Unclear(
                f"which edges do clamps hold, as to {match[0]!r}? Say how many on which: such as "
                "2 back, 1 left; and how far along it from its left or front end, if you like"
            )
        for at, (key, about) in list(sizes.items()):
            if key is None and "along" in about and _is_next(tokens, at):
                del sizes[at]  # a place: `right 60 along`
                continue
            self._take_size(tokens[at].word, key, about, tokens[at + 1 :])
        rest = [each for at, each in enumerate(tokens) if at not in sizes]
        self._take_edges(rest, clause.behind, bool(sizes))

    def _take_none(self, clause: Clause) -> None:
        """Take a clause with a `not`: edges that no clamp holds. Raises Unclear."""
        sides = {each.word for each in clause.tokens if each.kind == "edge"} - {"allfour"}
        is_plain = not clause.has("number") and not _sizes_in(clause)
        if sides and is_plain:
            self.without |= sides
        elif not is_plain or self.groups:
            raise Unclear(
                f"{clause.words()!r}: which edges do clamps hold, and how many each? Such as "
                "2 back, 1 left"
            )

    def _take_size(self, number: str, key: str | None, about: str, rest: Sequence[Token]) -> None:
        edge = next((each.word for each in rest if each.kind != "word"), "")
        if key == "clamp_over" and edge in _EDGES and re.fullmatch("[0-9]", number):
            raise Unclear(
                f"{number} over the {edge} edge: so many clamps, or so far over the work? Say "
                f"{number} clamps, or the length with its unit"
            )
        if key is None:
            is_along = "along" in about.split()
            (self.along if is_along else self.unsure).append(number)
            return
        if key == "clamp_top" and (match := FROM_THE_WORK.search(about)):
            number = f"{number} {match[0]}"
        if key == "clamp_over" and (either := _EITHER_ONE.search(about)):
            thing = called_so(either[1], self.said)
            if thing is None and _held(self.said) == "jig":
                self.unsure.append(f"{number} over the {either[1]}")
                return
            about = thing or "piece"
        if key == "clamp_over" and _THE_PIECE.search(about):
            number = f"{number} onto the piece"
        before = self.size.setdefault(key, number)
        if before != number and not _is_same_top(key, before, number, self.said):
            raise Unclear(
                f"{self.size[key]} or {number} {SIZES[key]}? All clamps have one size here; say "
                "the largest (pincorner edit station changes one alone)"
            )

    def _take_edges(self, tokens: list[Token], behind: str, has_sizes: bool) -> None:
        """Take how many, which edges, how far along. Raises Unclear."""
        here: _Group | None = None
        count: int | None = None
        is_each, has_edges = False, any(each.kind in ("edge", "behind") for each in tokens)
        self.many |= any(each.kind == "clamps" and each.word.endswith("s") for each in tokens)
        at = 0
        while at < len(tokens):
            kind, text = tokens[at]
            is_each |= text in ("each", "per", "apiece")
            if kind == "number":
                if ends := _end_behind(tokens[at + 1 :]):
                    rest = tokens[at + 1 + ends[1] :]
                    if here is None and any(each.kind == "edge" for each in rest):
                        self.ahead.append((text, ends[0]))
                    else:
                        self._take_place(text, ends[0], here)
                    at += ends[1]
                elif here is not None and here.count is None and self._is_count_behind(tokens, at):
                    here.count = int(text)
                elif self._is_count(tokens, at, has_edges):
                    count, here = int(text), None
                elif here is not None and _is_next(tokens, at):
                    self._take_place(text, "", here)
                else:
                    self.bare.append(text)
            elif kind in ("edge", "behind"):
                before = " ".join(each.word for each in tokens[max(0, at - 2) : at])
                if has_sizes and (kind == "behind" or _OF_A_SIZE.search(before)):
                    self.mentioned.add(text)
                else:
                    here = self._take_edge(text, count, behind, here)
                    here.is_each |= is_each
                    count, behind = None, "here"
            at += 1
        if count is not None and has_edges:
            raise Unclear(f"{count} clamps on which edge? Such as 2 back, 1 left")
        if count is not None:
            self._take_count(count, is_each, behind == ":")
        elif here is not None:
            here.is_each |= is_each

    def _is_count_behind(self, tokens: list[Token], at: int) -> bool:
        """Whether a small number behind an edge counts: no clamp is so few mm along it."""
        is_small = re.fullmatch("[1-4]", tokens[at].word) is not None
        is_place = tokens[at - 1].word == "at"
        words = list(takewhile(lambda each: each.kind == "word", tokens[at + 1 :]))
        is_of_clamps = any(each.kind == "clamps" for each in tokens[at + 1 + len(words) :][:1])
        is_last = at + 1 + len(words) == len(tokens)
        counts = is_of_clamps or (self.said.unit == "mm" and is_last)
        return counts and is_small and _is_next(tokens, at) and not is_place

    @staticmethod
    def _is_count(tokens: list[Token], at: int, has_edges: bool) -> bool:
        """Whether a number says how many clamps. Raises Unclear where it may be a place as well."""
        if not re.fullmatch("[1-9]", tokens[at].word):
            return False
        words = list(takewhile(lambda each: each.kind == "word", tokens[at + 1 :]))
        behind = next(iter(tokens[at + 1 + len(words) :]), None)
        is_before = behind is not None and behind.kind in ("clamps", "edge", "behind")
        is_before = is_before and not any(each.word == "from" for each in words)
        if _is_next(tokens, at):
            if tokens[at - 1].word == "at":
                return False
            first = next(each.kind for each in tokens if each.kind in ("number", "edge"))
            if is_before and (first == "number" or (behind and behind.kind == "clamps")):
                return True
            side = next(each.word for each in tokens[:at][::-1] if each.kind == "edge")
            raise Unclear(
                f"{side} {tokens[at].word}: so many clamps, or so far along that edge? Say "
                f"{tokens[at].word} {side}, or the length with its unit"
            )
        alone = not has_edges and all(each.word in _STANDS_BETWEEN for each in tokens[at + 1 :])
        return is_before or alone

    def _take_edge(self, text: str, count: int | None, behind: str, here: _Group | None) -> _Group:
        sides = list(_EDGES) if text == "allfour" else [text]
        last = self.groups[-1] if self.groups else None
        if count is None and here is not None:
            raise Unclear(
                f"{here.sides[-1]} {text}: which of the edges, and how far along it is the clamp? "
                "Such as 1 back at 60: counted from its left or front end"
            )
        if count is None and behind == "and" and last is not None and last.count is not None:
            if last.at:
                raise Unclear(f"how many clamps hold the {text} edge?")
            last.sides += sides
            return last
        is_one_each = text == "allfour" and count == 1
        self.groups.append(_Group(sides, count, is_one_each))
        self.before_edge = len(self.bare)
        for length_said, end in self.ahead:
            self._take_place(length_said, end, self.groups[-1])
        self.ahead = []
        return self.groups[-1]

    def _take_count(self, count: int, is_each: bool, is_of_last: bool) -> None:
        """A count without an edge beside it: of the last, of each, or of all. Raises Unclear."""
        uncounted = [each for each in self.groups if each.count is None]
        if is_each and uncounted:
            for each in uncounted:
                each.count, each.is_each = count, True
        elif len(uncounted) == len(uncounted[0].sides if uncounted else ()) == 1 and (
            is_of_last or len(self.groups) == 1
        ):
            uncounted[0].count = count
        elif self.total is None and len(uncounted) == len(self.groups):
            self.total = count
        else:
            raise Unclear("how many clamps hold which edge? Such as 2 back, 1 left")

    def _take_place(self, text: str, end: str, here: _Group | None) -> None:
        """How far along its edge a clamp is, counted from one of its ends, or from each."""
        group = here or (self.groups[-1] if self.groups else None)
        if group is None or len(group.sides) > 1:
            raise Unclear("how far along which edge? Such as 2 back at 60 and 180")
        before = self.groups[self.groups.index(group) - 1] if self.groups[0] is not group else None
        if before is not None and before.count is group.count is None and not before.at:
            raise Unclear(
                f"{text} along the {group.sides[0]} edge alone, or the {before.sides[-1]} edge "
                "too? Say it behind each"
            )
        for each in (*self.bare[self.before_edge :], text):
            group.at += _places(each, end, group.sides[0], self.said)
        del self.bare[self.before_edge :]

    def settle(self) -> None:
        """Have a number that waits for its word be a place, where one was told before it; else it
        is not sure. Raises Unclear."""
        if self.bare and self.groups and self.groups[-1].at and self.groups[-1].count:
            self._take_place(self.bare.pop(), "", self.groups[-1])
        if self.along and "clamp_wide" not in self.size and len(self.size) == 3:
            self.size["clamp_wide"] = self.along.pop()
        self.unsure += self.along

    def sides(self) -> Iterator[tuple[str, int, list[Amount]]]:
        """Each edge, how many clamps hold it, and where. Raises Unclear."""
        such = "Such as 2 back, 1 left"
        counted = {side: 0 for group in self.groups for side in group.sides}
        for group in self.groups:
            many, sides = group.count, group.sides
            if group.at:
                if many is not None and many != len(group.at):
                    raise Unclear(
                        "say how far along its edge each of the clamps is, such as 2 back at 60 "
                        "and 180"
                    )
                many = len(group.at)
            elif many is None and self.total is not None and len(self.groups) == len(sides) == 1:
                many = self.total
            elif many is not None and not group.is_each and len(sides) > 1:
                if many != len(sides):
                    raise Unclear(f"{many} clamps on {_and(sides)}: how many on each? {such}")
                many = 1
            for side in sides:
                counted[side] += many or 1
                yield side, many or 1, group.at
        are_counted = {each.count is None for each in self.groups}
        if len(are_counted) > 1 and any((each.count or 0) > 1 for each in self.groups):
            left = [side for each in self.groups if each.count is None for side in each.sides]
            raise Unclear(f"and how many clamps hold the {_and(left)} edge? {such}")
        if self.total is not None and sum(counted.values()) != self.total:
            raise Unclear(f"{self.total} clamps, on {_and(list(counted))}: how many each? {such}")
        is_uncounted = self.total is None and are_counted == {True} and not self.groups[0].at
        if self.many and len(counted) == 1 and is_uncounted:
            raise Unclear(f"how many clamps hold the {next(iter(counted))} edge? {such}")
        if self.without & counted.keys() or self.mentioned - counted.keys():
            odd = (self.without & counted.keys()) | (self.mentioned - counted.keys())
            raise Unclear(f"do clamps hold the {_and(sorted(odd))} edge, or not? {such}")


_OF_A_SIZE = re.compile(r"(?:over|onto|of|from|past|beyond|out)(?: the| its| my)?$")


_NONE = NOTS | HEDGES | frozenset(("clamps", "clamp", "clamped", "use", "used", "at", "all"))


def _is_same_top(key: str, one: str, other: str, said: Said) -> bool:
    """Whether two heights of a top are one, as `10 above the blank, 22 above the bed`."""
    if key != "clamp_top":
        return False
    try:
        return abs(read_top(one, said).mm - read_top(other, said).mm) < 1e-6
    except ValueError:
        return False


def _and(words: Sequence[str]) -> str:
    return " and ".join(words)


def _is_next(tokens: Sequence[Token], at: int) -> bool:
    """Whether the token in front, small words aside, is an edge."""
    for each in tokens[:at][::-1]:
        if each.kind == "edge":
            return True
        if each.word not in _STANDS_BETWEEN:
            return False
    return False


def _end_behind(tokens: Sequence[Token]) -> tuple[str, int] | None:
    """The end that a length is counted from, as `from the left`, and how many tokens that are."""
    words = [each.word for each in tokens[:6]]
    match = re.match(
        r"(?:in |along |mm )*from (?:(?:the|its|each|either|both|own) )*"
        r"(left|right|front|back|ends?|corners?)\b(?: (?:end|edge|side|corner)s?)?",
        " ".join(words),
    )
    if match is None:
        return None
    is_each = re.search(r"\b(?:each|either|both)\b", match[0])
    end = "each" if is_each else match[1]
    return end, len(match[0].split())


def _places(text: str, end: str, side: str, said: Said) -> list[Amount]:
    """How far along an edge from its left or front end. Raises Unclear, ValueError."""
    (at,) = amounts(text, said, 1)
    width_mm, depth_mm = sides_mm(said)
    is_across = side in ("front", "back")
    long_mm = width_mm if is_across else depth_mm
    low, high = ("left", "right") if is_across else ("front", "back")
    if end not in ("", "each", low, high):
        raise Unclear(f"how far is it from the {low} end of the {side} edge? Counted from there")
    if not 0 <= at.mm <= long_mm:
        raise ValueError(
            f"the {side} edge is {told_size(long_mm, said.unit)} long; a clamp at "
            f"{told_size(at.mm, said.unit)} is beyond it"
        )
    there = Amount(
        at.written, long_mm - at.mm, f"{told_size(at.mm, said.unit)} from its {high} end"
    )
    return [at, there] if end == "each" else [there] if end == high else [at]


# ---- the answer ----------------------------------------------------------------------------------


_IN_OR_INCHES = re.compile(r"([.0-9]+) in (?=over\b|onto\b|on\b|from\b|to\b)")


def _in_same_words(text: str, said: Said) -> str:
    """An answer with one word for what has several. Raises Unclear for an `in` that may be an
    inch."""
    plain = with_points(text, range(40))
    for match in _IN_OR_INCHES.finditer(plain) if said.unit == "mm" else ():
        if float(match[1]) <= _MOST_INCHES or plain[match.end() :].startswith("from"):
            raise Unclear(f"{match[1]} in: do you mean {match[1]} mm, or {match[1]} inches?")
        plain = plain.replace(match[0], f"{match[1]} mm ")
    for pattern, word in _SAME_WORD:
        plain = pattern.sub(word, plain)
    return plain


_SHARE = re.compile(
    r"\b(?:an? )?(?:half|quarter)s? (?:of|way|along)\b|\bhalf-?way\b|\b(?:an? )?(?:third|fifth)s?\b"
)
_MOST_INCHES = 12
"""No clamp reaches over its work by more."""


def read_clamps(text: str, said: Said) -> Clamps:
    """How many clamps hold which edges, where, and what was told of their size. Raises Unclear,
    Wanted.

    Several on one edge, without places, are spread evenly along it.
    """
    if match := _SHARE.search(text.lower()):
        raise Unclear(
            f"{match[0]!r}: how far along its edge is each, as a length from its left or front "
            "end? Such as 2 back at 60 and 180"
        )
    plain = _in_same_words(text, said)
    told = _Told(said)
    clauses = list(clauses_in(_with_own_edges(plain, said), _kind_of))
    for clause in clauses:
        told.take(clause)
    told.settle()
    words = {word for clause in clauses for word in clause.words().split()}
    if not told.groups:
        if words & NOTS and not (told.without or told.size or told.unsure or told.bare):
            if _NO_IDEA.search(plain):
                raise Wanted(_OF_CLAMPS, text)
            if any(set(each.words().split()) <= _NONE for each in clauses):
                return Clamps((), {})
            raise Unclear("none, so that no clamp is drawn and none checked? Say none, or edges")
        if told.total or told.without or told.size:
            raise Unclear("and which edges do they hold, how many each? Such as 2 back, 1 left")
        raise Wanted(_OF_CLAMPS, text)
    clamps = _spread(list(told.sides()), said)
    bare = told.bare if len(told.bare) < len(SIZES) or told.size else []
    if bare or len(told.bare + told.unsure) > len(SIZES) - len(told.size):
        raise Unclear(
            f"what is {_and(told.bare + told.unsure)} of: how many, how far along an edge, or how "
            "large? Say its word behind it: 2 back at 60; 30 wide, 40 out, 10 over, top 45"
        )
    size, high, offers = _sizes_read(told.size, said)
    return Clamps(tuple(clamps), size, (*told.bare, *told.unsure, *high), offers)


def _spread(told: Sequence[tuple[str, int, list[Amount]]], said: Said) -> list[Clamp]:
    """Clamps on their edges: at the places that were said, else evenly along. Raises Unclear."""
    found: list[Clamp] = []
    for side in dict.fromkeys(side for side, _, _ in told):
        at = [each for here, _, places in told if here == side for each in places]
        many = sum(count for here, count, places in told if here == side and not places)
        if at and many:
            raise Unclear(f"how far along the {side} edge is each? Such as 2 {side} at 60 and 180")
        if many > 1:
            long_mm = sides_mm(said)[0 if side in ("front", "back") else 1]
            at = [Amount("", (2 * n + 1) * long_mm / (2 * many)) for n in range(many)]
        found += [Clamp(side, each) for each in at] or [Clamp(side, None)]
    return found


def _as_height(told: str) -> str:
    return told if _ABOVE.search(told) else f"{told} high"


_ABOVE = re.compile(r"\babove\b")


def _sizes_read(
    told: Mapping[str, str], said: Said
) -> tuple[dict[str, Amount], tuple[str, ...], str]:
    """Lengths of a clamp; a height of which it is not sure where it was told from, and how high
    above the bed it is likely meant."""
    found: dict[str, Amount] = {}
    texts = _in_one_unit(told)
    for key in SIZES.keys() & texts.keys() - {"clamp_top"}:
        found[key] = (read_over if key == "clamp_over" else _SIZE)(texts[key], said)
        said = said.with_answer(key, texts[key], found[key])
    if (text := texts.get("clamp_top")) is None:
        return found, (), ""
    try:
        top = read_top(text, said)
    except Unclear as unclear:
        return found, (_as_height(text),), unclear.meant or ""
    if top_cannot(top, said):
        return found, (_as_height(text),), ""
    return {**found, "clamp_top": top}, (), ""


_SIZE = length(0, 2000)
_UNIT = re.compile(r"(?:(?<![a-z])(?:mm|cm|inch(?:es)?|in|ft)|[\"'])$")


def _in_one_unit(told: Mapping[str, str]) -> dict[str, str]:
    """Lengths as texts, where the last alone has a unit in that one."""
    numbers = [re.match(rf"[-+]?{LENGTH}", text) for text in told.values()]
    units = [_UNIT.search(each[0]) if each else None for each in numbers]
    if not units or units[-1] is None or any(units[:-1]):
        return dict(told)
    found = {}
    for (key, text), number, unit in zip(told.items(), numbers, units, strict=True):
        end = number.end() if number else 0
        found[key] = text if unit else f"{text[:end]} {units[-1][0]}{text[end:]}"
    return found


_THE_PIECE = re.compile(r"\b(?:piece|part|blank|stock|work|workpiece|material)\b")
_EITHER_ONE = re.compile(r"\b(plate|board|panel|sheet)\b")
ONTO_THE_PIECE = "onto the piece"


def read_over(text: str, said: Said) -> Amount:
    """How far a clamp reaches over the jig, or over the piece in it, which is told behind it."""
    plain = _in_same_words(text, said)
    is_piece = said["holder"] == "jig" and bool(_THE_PIECE.search(plain))
    if said["holder"] == "jig" and (either := _EITHER_ONE.search(plain)):
        thing = called_so(either[1], said)
        if thing is None:
            raise Unclear(f"over the {either[1]}: over the jig, or onto the piece?")
        is_piece = thing == "piece"
    bare = re.sub(r"\bonto\b", " ", _EITHER_ONE.sub(" ", _THE_PIECE.sub(" ", plain)))
    found: Amount = _SIZE(bare, said)
    return found._replace(how=ONTO_THE_PIECE) if is_piece else found


def _is_on_the_piece(over: Amount | None) -> bool:
    return over is not None and over.how == ONTO_THE_PIECE


def over_at(side: str, over: Amount, said: Said) -> float:
    """How far a clamp reaches over the jig's own edge, mm: a piece lies within it by some way."""
    if not _is_on_the_piece(over):
        return over.mm
    axis, is_high = (0 if side in ("left", "right") else 1), side in ("right", "back")
    lies, long_mm = said["lies"][axis].mm, sides_mm(said)[axis]
    gap = long_mm - lies - said["stock"][axis].mm if is_high else lies
    return float(gap + over.mm)


def tells_over(value: Amount, said: Said) -> str:
    """How far a clamp reaches over the work; where that is the piece in a jig, over its edges."""
    told = told_size(value.mm, said.unit)
    if not _is_on_the_piece(value) or not said["clamps"]:
        return told
    return f"{told} {ONTO_THE_PIECE}, {_over_edges(said['clamps'].each, value, said)}"


def _over_edges(clamps: Sequence[Clamp], over: Amount, said: Said) -> str:
    sides = dict.fromkeys(each.side for each in clamps)
    at = (f"{told_size(over_at(each, over, said), said.unit)} at the {each}" for each in sides)
    return f"so over the jig's edge {', '.join(at)}"


def _top_of_held_mm(said: Said) -> float | None:
    """How high above the bed that is which clamps reach over, mm."""
    held, stock = held_mm(said), said["stock"]
    if _is_on_the_piece(size_of(said, "clamp_over")) and stock and said["seat"]:
        return max(held or 0.0, float(said["seat"].mm + stock[2].mm))
    return held


def read_top(text: str, said: Said) -> Amount:
    """How high a clamp's top is above the bed, as `45`, `70 above the base`. Raises Unclear for one
    below what it holds, which is told from there."""
    plain = with_points(text, (1,))
    match = FROM_THE_WORK.search(plain)
    bare = f"{plain[: match.start()]} {plain[match.end() :]}" if match else plain
    (found,) = amounts(re.sub(r"\b(?:handles?|clamps?|their|knobs?)\b", " ", bare), said, 1)
    must_be_within(found, 0, 2000, said.unit)
    if match:
        return from_bed(found, plain, said) or found
    if not _ABOVE_THE_BED.search(plain) and top_cannot(found, said):
        held_so = _top_of_held_mm(said) or 0.0
        high, what = told_size(found.mm + held_so, said.unit), _reached(said)
        raise Unclear(
            f"{told_size(found.mm, said.unit)} above the bed would be within the {what}, which is "
            f"{told_size(held_so, said.unit)} high there. Above the {what}, so {high} above the "
            "bed? Enter takes that",
            high,
        )
    return found


def top_cannot(value: Amount, said: Said) -> list[str]:
    """A clamp that reaches over the work and is lower than that."""
    held, over = _top_of_held_mm(said), size_of(said, "clamp_over")
    if held is None or over is None or not over.mm or value.mm > held:
        return []
    return [
        f"a clamp over the {_reached(said)} is higher than that, {told_size(held, said.unit)} "
        "above the bed"
    ]


def _reached(said: Said) -> str:
    return "piece" if _is_on_the_piece(size_of(said, "clamp_over")) else _held(said)


def size_of(said: Said, key: str) -> Amount | None:
    """One of the four lengths of a clamp, as it was told with the edges or by itself."""
    clamps: Clamps | None = said["clamps"]
    found: Amount | None = (clamps.size if clamps else {}).get(key) or said[key]
    return found


def missing_sizes(said: Said) -> list[str]:
    """The lengths of a clamp that were not told with the edges, by the keys of their questions."""
    clamps: Clamps | None = said["clamps"]
    return [key for key in SIZES if clamps is None or (clamps.each and key not in clamps.size)]


def is_asked(key: str, said: Said) -> bool:
    """Whether one of the lengths is asked."""
    return said["clamps"] is not None and key in missing_sizes(said)


def read_clamp_size(text: str, said: Said) -> dict[str, str]:
    """The lengths of a clamp that are missing, by their words, or all of them in order. Raises
    OneByOne, Unclear."""
    plain = _in_same_words(text, said)
    told, missing = _Told(said), missing_sizes(said)
    for clause in clauses_in(re.sub(r"(?<=[0-9])\s*x\s*(?=[0-9.])", ", ", plain), _kind_of):
        if {"edge"} & {each.kind for each in clause.tokens} or set(clause.words().split()) & NOTS:
            raise Unclear("all clamps have one size here: say the largest, each with its word")
        sizes = _sizes_in(clause)
        for at, (key, about) in sizes.items():
            told._take_size(clause.tokens[at].word, key, about, clause.tokens[at + 1 :])
        told.bare += [
            each.word
            for at, each in enumerate(clause.tokens)
            if each.kind == "number" and at not in sizes
        ]
    told.settle()
    if told.bare and len(told.bare) == len(missing) and not told.size and not told.unsure:
        told.size, told.bare = dict(zip(missing, told.bare, strict=True)), []
    if any(key in (said["clamps"] or Clamps((), {})).size for key in told.size):
        raise Unclear("that was said with the edges (back clamps changes it)")
    if not told.size:
        raise OneByOne("the size of a clamp")
    return _in_one_unit(told.size)


# ---- what is told --------------------------------------------------------------------------------


def edge_lies(side: str, said: Said) -> str:
    """Where an own edge of jig or piece lies for whoever stands at the machine, in brackets;
    nothing where its name says so."""
    edge = turned_by_quarters(_EDGES[side], turn_of(said) // 90)
    way = person_of(said).way_on_bed(edge)
    usual_way = {"left": "left", "right": "right", "front": "toward", "back": "away"}[side]
    return "" if way == usual_way else f" ({IN_WORDS[way]})"


def clamp_words(said: Said) -> str:
    """The question how many clamps hold which edges, with where each lies if the work is turned."""
    what = _held(said)
    listed = ", ".join(f"{side}{edge_lies(side, said)}" for side in _EDGES)
    return (
        f"How many clamps hold which of the {what}'s OWN edges: {listed}? How large is one: wide, "
        f"out from the edge, over the {what}, top above the bed? Or none."
    )


def over_words(said: Said) -> str:
    """The question how far a clamp reaches over what it holds."""
    if said["holder"] != "jig":
        return "How far does a clamp reach over the piece, from its edge? 0: not at all."
    return (
        "How far does a clamp reach over the jig, from its edge? 0: not at all. Or say how far "
        "onto the piece."
    )


def clamp_size_words(said: Said) -> str:
    """The question for the lengths of a clamp that are not yet told."""
    what = _held(said)
    words = {
        "clamp_wide": "wide along the edge", "clamp_out": "out from the edge",
        "clamp_over": f"over the {what}", "clamp_top": "its top above the bed",
    }  # fmt: skip
    offered = top_offered(said)
    high = f" ({offered}, if it was told from the {what}'s top)" if offered else ""
    return f"How large is a clamp: {', '.join(words[key] for key in missing_sizes(said))}{high}?"


def top_offered(said: Said) -> str | None:
    """How high a clamp's top is likely meant, where a height was told with the edges."""
    return said["clamps"].offers or None if said["clamps"] else None


def size_offered(said: Said) -> str | None:
    """The same, where nothing but that is missing."""
    return top_offered(said) if missing_sizes(said) == ["clamp_top"] else None


def clamp_size_examples(said: Said) -> tuple[str, ...]:
    """Answers to it."""
    known = {
        "clamp_wide": "{30|1} wide", "clamp_out": "{50|2} out", "clamp_over": "{10|1/2} over",
        "clamp_top": f"top {top_examples(said)[0]}",
    }  # fmt: skip
    return (", ".join(known[key] for key in missing_sizes(said)),)


def top_examples(said: Said) -> tuple[str, ...]:
    """How high a clamp may be: above the bed, and above what it holds."""
    more_mm = 25.4 if said.unit == "in" else 25.0
    above = f"{{25|1}} above the {_held(said)}" if held_mm(said) is not None else "{45|2}"
    return (told_size((held_mm(said) or more_mm) + more_mm, said.unit).split()[0], above)


def tells_clamps(value: Clamps, said: Said) -> str:
    """A line for each edge: how many, where; then the size of one as far as it was told."""
    if not value.each:
        return "none"
    sides = list(dict.fromkeys(each.side for each in value.each))
    many = len(value.each)
    lines = [f"{many} clamps:"] if len(sides) > 1 else []
    for side in sides:
        places = [each.at for each in value.each if each.side == side]
        at = [
            told_size(each.mm, said.unit) + (f" ({each.how})" if each.how else "")
            for each in places
            if each is not None
        ]
        low = "left" if side in ("front", "back") else "front"
        where = f"{_and(at)} along it from its {low} end" if at else "in its middle"
        lines.append(f"{len(places)} on the {side} edge{edge_lies(side, said)}, {where}")
    if value.size:
        over = value.size.get("clamp_over")
        onto = ONTO_THE_PIECE if _is_on_the_piece(over) else f"over the {_held(said)}"
        what = {**SIZES, "clamp_over": onto}
        told = [
            f"its top {told_size(value.size[key].mm, said.unit)} above the bed"
            + (f" ({value.size[key].how})" if value.size[key].how else "")
            if key == "clamp_top"
            else f"{told_size(value.size[key].mm, said.unit)} {what[key]}"
            for key in SIZES
            if key in value.size
        ]
        lines.append(f"each {', '.join(told)}")
        if over is not None and _is_on_the_piece(over):
            lines.append(_over_edges(value.each, over, said))
    if value.unsure:
        of = "from where" if value.offers else "of what"
        lines.append(f"{', '.join(value.unsure)}: {of} is asked next")
    if pinned := sorted(against_pins(said) & set(sides)):
        lines.append(
            f"the {_and(pinned)} edge lies against the pins: a clamp there holds down, but does "
            "not press the work to them"
        )
    return "\n".join(lines)


def clamps_doubts(value: Clamps, said: Said) -> list[str]:
    """Lengths of a clamp that are far from usual."""
    return [
        doubt for each in value.size.values() for doubt in odd(each, 0, 300, "a clamp", said.unit)
    ]


def _held(said: Said) -> str:
    return "jig" if said["holder"] == "jig" else "piece"


def tells_top(value: Amount, said: Said) -> str:
    """How high a clamp's top is, with the sum where it was told from the work."""
    return with_sum(value, said.unit)


def clamp_boxes(said: Said) -> list[dict[str, Any]]:
    """Clamps with their corners from the jig's own corner, and tops above the bed, mm."""
    sizes = [size_of(said, key) for key in SIZES]
    if not said["clamps"] or any(each is None for each in sizes):
        return []
    width, depth = sides_mm(said)
    along, out, over, top = (each for each in sizes if each is not None)
    boxes: list[dict[str, Any]] = []
    for number, clamp in enumerate(said["clamps"].each, 1):
        is_across = clamp.side in ("front", "back")  # the edge runs along X
        middle = clamp.at.mm if clamp.at else (width if is_across else depth) / 2
        far = depth if is_across else width
        in_mm = over_at(clamp.side, over, said)
        is_low = clamp.side in ("left", "front")
        reach = (-out.mm, in_mm) if is_low else (far - in_mm, far + out.mm)
        ends = (middle - along.mm / 2, middle + along.mm / 2)
        low, high = zip(*((ends, reach) if is_across else (reach, ends)), strict=True)
        boxes.append({"name": f"{clamp.side} {number}", "from": low, "to": high, "top": top.mm})
    return boxes
