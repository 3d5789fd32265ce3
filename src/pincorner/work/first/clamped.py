"""Clamps as people tell them: which edges they hold, where along them, and how large they are."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, NamedTuple

from pincorner.geometry.pose import (
    turned_by_quarters,
)
from pincorner.units import (
    told_size,
)
from pincorner.work.first.plain import (
    NOTS,
    Unclear,
    Wanted,
    cleaned,
    with_figures,
    words_of,
)
from pincorner.work.first.reckoned import (
    FROM_THE_WORK,
    IN_WORDS,
    WORK_WORDS,
    from_bed,
    person_of,
    turn_of,
)
from pincorner.work.first.typed import (
    LENGTH,
    Amount,
    Said,
    amounts,
    as_told,
    clauses,
    must_be_within,
    read_amounts,
    scan,
    several,
    with_points,
)


class Clamp(NamedTuple):
    """An edge that is clamped: how far along it, from its left or front end; None: its middle."""

    side: str
    at: Amount | None


_OF_CLAMPS = "edges, or none"


def read_clamps(text: str, said: Said) -> list[Clamp]:
    """The edges that are clamped, each with how far along it the clamp is. Raises Wanted, Unclear.

    Several on one edge, without places, are spread evenly along it.
    """
    plain = _SIZE_OF_CLAMP.sub(" ", with_points(text, (0, 1, 2, 3, 4)))
    plain = _FROM_ITS_END.sub(_must_be_from_left_or_front, _with_own_edges(plain, said))
    words = words_of(plain)
    plain = _SO_MANY_AT.sub(lambda match: f" {_COUNTED[match['count']]} ", plain)
    plain = _AROUND_CLAMPS.sub(" ", _SO_MANY_CLAMPS.sub(" ", _IN_ALL.sub(" ", plain)))
    tokens = list(scan(plain, text, _OF_CLAMPS, {*_CLAMPED, *_COUNTS}))
    found = [token for token in tokens if isinstance(token, re.Match)]
    lengths = dict(zip(found, read_amounts(found, said), strict=True)) if found else {}
    edges: list[tuple[str, int, list[Amount]]] = []
    count, left = 1, 0
    for token in tokens:
        if token in _COUNTS:
            count, left = _COUNTS[str(token)], 0
        elif isinstance(token, str):
            if left:  # `two at the left and right`: one each
                edges[-1] = (edges[-1][0], 1, edges[-1][2])
            edges.append((_CLAMPED[token], count, []))
            left, count = max(left, count) - 1, 1
        elif not edges:
            raise Wanted(_OF_CLAMPS, text)
        else:
            edges[-1][2].append(lengths[token])
    if not edges and not NOTS & set(words):
        raise Wanted(_OF_CLAMPS, text)
    if any(each and len(each) < count for _, count, each in edges):
        raise Unclear("say how far along its edge each of the clamps is, such as back 60, back 180")
    return _placed(edges, said)


def _placed(edges: Sequence[tuple[str, int, list[Amount]]], said: Said) -> list[Clamp]:
    """Clamps by their edges: at the places that were said, else evenly along an edge."""
    sides = said["footprint"] or said["stock"]
    unplaced = {
        side: sum(count for each, count, at in edges if each == side and not at)
        for side, _, _ in edges
    }
    clamps: list[Clamp] = []
    for side, _, said_at in edges:
        clamps += [Clamp(side, each) for each in said_at]
        many = 0 if said_at else unplaced.pop(side, 0)
        if many > 1 and sides:
            long_mm = sides[0 if side in ("front", "back") else 1].mm
            evenly = [(2 * n + 1) * long_mm / (2 * many) for n in range(many)]
            clamps += [Clamp(side, Amount("", at_mm)) for at_mm in evenly]
        elif many:
            clamps += [Clamp(side, None)] * many
    return clamps


def _with_own_edges(plain: str, said: Said) -> str:
    """A text in which edges that are named as the person sees them have the work's own names."""
    here = {"away": "far", "toward": "near"}
    for side, edge in _EDGES.items():
        way = person_of(said).way_on_bed(turned_by_quarters(edge, turn_of(said) // 90))
        if way in here:
            plain = _SEEN[here[way]].sub(f" {side} edge ", plain)
    if said["toward"] and _OPPOSITE.search(plain):
        signs = [-1.0 if sign == "-" else 1.0 for sign in said["toward"][::2]]
        free = ((signs[0], 0.0), (0.0, signs[1]))
        own = [
            side
            for side, edge in _EDGES.items()
            if turned_by_quarters(edge, turn_of(said) // 90) in free
        ]
        plain = _OPPOSITE.sub(f" {' and '.join(own)} ", plain)
    return plain


def _must_be_from_left_or_front(match: re.Match[str]) -> str:
    """Nothing, in the place of `from the left` behind a length. Raises Unclear for another end."""
    if match["end"] in ("left", "front"):
        return f"{match['length']} "
    raise Unclear("how far is it from the left or front end of its edge? It is counted from there")


_CLAMPED = {
    "left": "left", "right": "right", "front": "front", "back": "back", "behind": "back",
    "rear": "back",
}  # fmt: skip
_COUNTS = {"single": 1, "pair": 2, "triple": 3, "quadruple": 4}
_COUNTED = {str(number): word for word, number in _COUNTS.items()}
_KIND_OF_CLAMP = r"(?:(?:toggle|cam|strap|screw|bar|hold-?\s?down|hold)s?\s+)*(?:clamps?\s+)?"
_SO_MANY_AT = re.compile(
    rf"\b(?P<count>[1-4])\s+{_KIND_OF_CLAMP}(?:each\s+)?(?:(?:at|on|along|to|in)\s+)?"
    r"(?:the\s+|its\s+|own\s+|my\s+)*(?=(?:left|right|front|back|rear|behind)\b)"
)
_SO_MANY_CLAMPS = re.compile(
    rf"\b(?:an?|both|[1-4])\s+{_KIND_OF_CLAMP}(?=clamps?\b|toggles?\b|$|[,;:])|\b[1-4]\s+clamps?\b"
    r"|\b(?:1|both)\b(?! (?:inch|mm|1/2|in (?!the)))(?=\s+[a-z])"
)
_IN_ALL = re.compile(r"\b[1-4]\s*[,;:]\s*(?=(?:single|pair|triple)\b)")
_SIZE_OF_CLAMP = re.compile(
    rf"[,;]?\s*(?:(?:each|and|they|handles?|stick(?:s|ing)?(?: out)?|reach(?:es)?|down|top) )*"
    rf"{LENGTH}"
    r"\s*(?:wide|high|tall|thick|long|out|deep|proud"
    r"|(?:over|above|onto|beyond) (?:the |it\b)?[a-z]*)(?![a-z])"
    rf"|[,;]?\s*(?:and |they )*(?:stick(?:s|ing)? out|reach(?:es)?|top|high) {LENGTH}"
)
_FROM_ITS_END = re.compile(
    rf"(?P<length>{LENGTH})\s+(?:in )?from (?:the |its )?(?P<end>left|front|right|back|rear)\b"
    r"(?: (?:end|edge|corner|side))?"
)
_SEEN = {
    "far": re.compile(
        r"\b(?:far(?:ther|thest)?|furthest|away)\b(?: (?:from (?:me|you)))?(?: (?:edge|side|end))?"
    ),
    "near": re.compile(
        r"\b(?:near(?:er|est)?(?: (?:to )?(?:me|you))?|towards? (?:me|you)|to me|my)"
        r"(?: (?:edge|side|end))?\b"
    ),
}
_OPPOSITE = re.compile(
    r"\b(?:the )?(?:opposite|other)(?: (?:2|both))?(?: (?:sides?|edges?|ends?))?"
    r"(?: (?:of |from |to )?(?:the )?pins)?"
)
_AROUND_CLAMPS = re.compile(
    r"\b(?:clamp(?:s|ed)?|toggles?|cams?|edges?|against|pins|push(?:ed)?|corner|no|none|not|nothing"
    r"|nope|nah|never|own|its|jig|jig's|piece's|each|hold|holding|hold-?downs?|held|work)\b"
    r"|\([a-z ]*\)"
)


_EDGES: dict[str, tuple[float, float]] = {
    "left": (-1.0, 0.0), "right": (1.0, 0.0), "front": (0.0, -1.0), "back": (0.0, 1.0),
}  # fmt: skip


def edge_lies(side: str, said: Said) -> str:
    """Where an own edge of jig or piece lies for whoever stands at the machine, in brackets;
    nothing where its name says so."""
    edge = turned_by_quarters(_EDGES[side], turn_of(said) // 90)
    way = person_of(said).way_on_bed(edge)
    usual_way = {"left": "left", "right": "right", "front": "toward", "back": "away"}[side]
    return "" if way == usual_way else f" ({IN_WORDS[way]})"


def clamp_words(said: Said) -> str:
    """The question which edges are clamped, with where each lies if the work is turned."""
    what = "jig's" if said["holder"] == "jig" else "piece's"
    listed = ", ".join(f"{side}{edge_lies(side, said)}" for side in _EDGES)
    return f"Which of the {what} OWN edges do clamps hold: {listed}? Or none."


def tells_clamps(value: list[Clamp], said: Said) -> str:
    """The edges, where they lie, and places along them."""
    if not value:
        return "none"
    return ", ".join(
        f"own {each.side} edge{edge_lies(each.side, said)}, "
        + ("its middle" if each.at is None else told_size(each.at.mm, said.unit) + " along it")
        for each in value
    )


_OF_CLAMP = {
    "its top above the bed": r"\b(?:top(?! of)|high|tall|height|up|above"
    r"|over the (?:bed|table|plate))\b",
    "along the edge": r"\b(?:wide|width|along|long|broad)\b",
    "over the work": r"\b(?:over|onto|overlaps?"
    r"|on (?:top of )?(?:it|the (?:work|piece|jig|part|blank|stock))"
    r"|inside|grips?|reach(?:es)?)\b",
    "out from the edge": r"\b(?:out|outside|beyond|sticks?|outward|behind)\b",
}
"""What the four lengths of a clamp are of, and the words of each."""
_CLAMP_ORDER = ("along the edge", "out from the edge", "over the work", "its top above the bed")


def read_clamp_size(text: str, said: Said) -> list[Amount]:
    """A clamp's four lengths, in this order or by their words. Raises Unclear for some of them."""
    plain = cleaned(text)
    if not any(re.search(pattern, plain) for pattern in _OF_CLAMP.values()):
        found: list[Amount] = several(0, 2000, 4)(text, said)
        return found
    plain = re.sub(r"\b(?:nothing|none|not) (?=over|on|onto)", "0 ", plain)
    parts = [part for part in clauses(plain) if re.search("[0-9]", with_figures(part))]
    by_word: dict[str, Amount] = {}
    is_from_work = False
    for part in parts:
        what = next((key for key, words in _OF_CLAMP.items() if re.search(words, part)), None)
        if re.search(r"\b(?:grips?|overlaps?|onto|inside|reach(?:es)?)\b", part):
            what = "over the work"
        from_work = FROM_THE_WORK.search(part) if what == _CLAMP_ORDER[3] else None
        bare = FROM_THE_WORK.sub(" ", part) if from_work else part
        bare = WORK_WORDS.sub(" ", re.sub("|".join(_OF_CLAMP.values()), " ", bare))
        if what is None or what in by_word:
            raise Wanted("four lengths, each with its word", text)
        (found_here,) = amounts(_AROUND_CLAMPS.sub(" ", bare), said, 1)
        high = from_bed(found_here, part, said) if from_work else None
        by_word[what], is_from_work = high or found_here, is_from_work or high is not None
    if missing := [what for what in _CLAMP_ORDER if what not in by_word]:
        heard = ", ".join(f"{told_size(each.mm, said.unit)} {w}" for w, each in by_word.items())
        raise Unclear(f"{heard}; and how large is it {' and '.join(missing)}? Say all four")
    found = [by_word[what] for what in _CLAMP_ORDER]
    for each in found:
        must_be_within(each, 0, 2000, said.unit)
    if is_from_work:
        raise Unclear(
            f"{tells_clamp_size(found, said)}? Enter takes that", as_told(found, said.unit)
        )
    return found


def tells_clamp_size(value: list[Amount], said: Said) -> str:
    """The four lengths with what each is of."""
    return ", ".join(
        f"{told_size(each.mm, said.unit)} {what}"
        for each, what in zip(value, _CLAMP_ORDER, strict=True)
    )


def clamp_boxes(said: Said) -> list[dict[str, Any]]:
    """Clamps with their corners from the jig's own corner, and tops above the bed, mm."""
    if not said["clamps"] or not said["clamp_size"]:
        return []
    sides = said["footprint"] or said["stock"]
    width, depth = sides[0].mm, sides[1].mm
    along, out, over, top = (each.mm for each in said["clamp_size"])
    boxes: list[dict[str, Any]] = []
    for number, clamp in enumerate(said["clamps"], 1):
        is_across = clamp.side in ("front", "back")  # the edge runs along X
        middle = clamp.at.mm if clamp.at else (width if is_across else depth) / 2
        far = depth if is_across else width
        reach = (-out, over) if clamp.side in ("left", "front") else (far - over, far + out)
        ends = (middle - along / 2, middle + along / 2)
        low, high = zip(*((ends, reach) if is_across else (reach, ends)), strict=True)
        boxes.append({"name": f"{clamp.side} {number}", "from": low, "to": high, "top": top})
    return boxes
