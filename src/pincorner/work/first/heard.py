"""The guard of every answer: all that it says is in what was understood, or it is asked about.

What carries something: numbers (in words too), negations, sides, axes, holes and classes of fits.
Other words are harmless, and nobody is asked about them.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from pincorner.units import parse_length
from pincorner.work.first.holes import column_and_row
from pincorner.work.first.plain import NO, NOTS, ORDINALS, cleaned, in_axes, with_figures
from pincorner.work.first.typed import FIT_CLASS, ONE, Amount, Said, in_mm, tenths_as_lengths

NUMBERS, SIDES, AXES, LABELS, NEGATIONS = "number", "side", "axis", "label", "not"
CHANGES = "change"
ALL = frozenset((NUMBERS, SIDES, AXES, LABELS, NEGATIONS, CHANGES))
"""Kinds of what carries something. A question hears those that its reader answers for itself."""


class Carried(NamedTuple):
    """What carries something in an answer: its kind, itself, and where it stands.

    lengths_mm: what a number may be as a length.
    """

    kind: str
    word: str
    start: int
    lengths_mm: tuple[float, ...] = ()


_SIDE_OF = {
    "left": "left", "right": "right", "front": "front", "back": "back", "rear": "back",
    "behind": "back", "forward": "front", "forwards": "front", "backward": "back",
    "backwards": "back", "away": "away",
}  # fmt: skip
_NO_SIDE = re.compile(
    r"\b(?:all|that's|is|quite|just) right\b|\bright (?:over|at|on|in|above|there|here|now|ok)\b"
    r"|\b(?:comes?|coming|came|goes|gets?) back\b|\bleft over\b"
)
_NO_MORE = re.compile(
    r"\b(?:no|not|never|nothing) (?:(?:to )?(?:cut|go)s? )?"
    r"(?:deeper|more|further|over|above|higher|taller|wider) than\b"
)
_ONE_OF_THEM = re.compile(
    r"\b(?:1|one) at a time\b|\bprogram zero\b|\bzero (?=is|lies|at|in|on)"
    r"|\bone\b(?! (?:(?:and )?(?:a )?(?:half|quarter)|inch|in|mm|cm|foot|hundred|thou|tenths?"
    r"|hundredths?|x|by|over|up|across)\b)"
)
_CODE = re.compile(r"(?<![a-z0-9.])([a-z]{1,3})-?([0-9]{1,3}(?:\.[0-9]+)?)(?![0-9a-z/])")
_CHANGING = frozenset(
    ("or", "than", "less", "more", "plus", "minus", "times", "double", "twice", "dozen", "thousand",
     "except", "under", "below")
)  # fmt: skip
"""Words besides a not by which an answer says something else."""
_THREAD = re.compile(r"\bM[0-9]{1,2}\b")
_RANKED = re.compile(rf"\b(?:({'|'.join(ORDINALS)})|([0-9]{{1,3}})(?:st|nd|rd|th))\b")
_WITH_COMMA = re.compile(r"(?<![0-9.,])([0-9]+),([0-9]+)(?![0-9,])")
_WORD = re.compile(r"[a-z][a-z']*")
_BREAKS = re.compile(r",(?!\d)\s*|[;()]\s*|\.\s|\bbut\b|\bwith\b|\bbecause\b")


def as_said(text: str, said: Said) -> str:
    """An answer with its numbers as figures, and phrases that mean an axis as that axis."""
    plain = re.sub(r"^(?:no|yes|ok)[,.:] (?=.*[0-9])", "", cleaned(_THREAD.sub(" ", text)))
    plain = _ONE_OF_THEM.sub(" ", in_axes(plain))
    plain = _RANKED.sub(lambda found: f" {ORDINALS.get(found[1]) or found[2]} ", plain)
    plain = tenths_as_lengths(with_figures(_NO_MORE.sub("up to", plain)), said.unit)
    plain = re.sub(r"(?<=[0-9])(?=x\s*[0-9.])", " ", plain)  # `4x8`: no axis
    plain = plain.replace("..", " .. ")
    return " ".join(re.sub(r"\b([xyz])(?=[-+=:]?\.?[0-9])", r"\1 ", plain).split())


def carried(plain: str, said: Said) -> list[Carried]:
    """What carries something in an answer as `as_said` has it."""
    found, rest = [], plain
    for match in _CODE.finditer(plain):
        word = match[1] + match[2]
        if re.fullmatch(FIT_CLASS, word) or column_and_row(word, said):
            found.append(Carried(LABELS, word, match.start()))
        rest = f"{rest[: match.start()]}{' ' * len(match[0])}{rest[match.end() :]}"
    rest = _NO_SIDE.sub(lambda match: " " * len(match[0]), rest)
    units = {match["unit"] for match in ONE.finditer(rest) if match["unit"]} | {said.unit}
    for match in ONE.finditer(rest):
        number = match["number"].strip().lstrip("+-").rstrip(".")
        lengths = _lengths_mm(number, {match["unit"]} if match["unit"] else units)
        for comma in _WITH_COMMA.finditer(rest):
            if comma.start() <= match.start("number") < comma.end():
                lengths += _lengths_mm(f"{comma[1]}.{comma[2]}", units)
        found.append(Carried(NUMBERS, number, match.start(), lengths))
    for match in _WORD.finditer(rest):
        word = match[0]
        if word in _SIDE_OF:
            found.append(Carried(SIDES, _SIDE_OF[word], match.start()))
        elif word in _CHANGING:
            found.append(Carried(CHANGES, word, match.start()))
        elif word in NOTS or word.endswith("n't"):
            found.append(Carried(NEGATIONS, word, match.start()))
        elif word in ("x", "y", "z") and not _is_times(rest, match.start()):
            found.append(Carried(AXES, word, match.start()))
    return found


def _lengths_mm(number: str, units: Iterable[str]) -> tuple[float, ...]:
    try:
        return tuple(in_mm(number, unit) for unit in units)
    except ValueError:  # `1/0`
        return ()


def _is_times(text: str, at: int) -> bool:
    """Whether an x stands between two lengths."""
    before = text[:at].rstrip()
    return text[at] == "x" and bool(re.search(r"[0-9\"'](?: ?[a-z]{1,2})?$", before))


def unheard(
    text: str, heard: Iterable[Any], echo: str, hears: frozenset[str], said: Said
) -> list[str]:
    """The clauses of an answer that say what is not in what was understood.

    heard: the values that were read, echo: what is read back of them; hears: the kinds that their
    readers answer for themselves.
    """
    if hears == ALL:
        return []
    given = list(heard)
    values, plain, known = list(_flat(given)), as_said(text, said), as_said(echo, said)
    told_so = carried(known, said)
    lengths = [abs(each.mm) for each in values if isinstance(each, Amount)]
    lengths += [abs(at) for each in told_so for at in each.lengths_mm]
    words = {each.word for each in told_so} | {f"{each}" for each in values}
    for each in [*values, *known.split()]:
        if isinstance(each, str):
            words |= {each.lower(), *column_and_row(each.strip(",.:;"), said)}
            words |= set(re.findall(r"(?<=[a-z])[0-9.]+$", each.lower()))  # `55` for G55
    is_none = any(
        each in (NO, None, []) or (isinstance(each, Amount) and not each.mm) for each in given
    )
    is_none = is_none or any(each.kind == NEGATIONS for each in told_so)
    return _clauses_with(
        plain,
        (
            each
            for each in carried(plain, said)
            if each.kind not in hears
            and each.word not in words
            and not (is_none and (each.kind == NEGATIONS or each.word == "0"))
            and not (each.kind == NUMBERS and _is_among(each, lengths))
        ),
    )


def unheard_parts(text: str, parts: Iterable[str], hears: frozenset[str], said: Said) -> list[str]:
    """The clauses of an answer to several questions that say what is in none of their parts."""
    left = Counter(_sort(each) for part in parts for each in carried(as_said(part, said), said))
    plain, lost = as_said(text, said), []
    for each in carried(plain, said):
        if left[_sort(each)]:
            left[_sort(each)] -= 1
        elif each.kind not in hears:
            lost.append(each)
    return _clauses_with(plain, lost)


def _sort(each: Carried) -> tuple[str, str]:
    if each.kind != NUMBERS:
        return each.kind, each.word
    return each.kind, f"{parse_length(f'{each.word} mm'.replace('-', ' '), None):.6g}"


def _is_among(number: Carried, lengths_mm: Iterable[float]) -> bool:
    return any(
        abs(mine - other) <= max(1e-4 * other, 6e-4)
        for other in lengths_mm
        for mine in number.lengths_mm
    )


def _flat(values: Iterable[Any]) -> Iterator[Any]:
    """Values without the lists around them."""
    for each in values:
        if isinstance(each, Amount) or not isinstance(each, list | tuple):
            yield each
        else:
            yield from _flat(each)


def _clauses_with(plain: str, lost: Iterable[Carried]) -> list[str]:
    """The clauses of a text in which something was lost, each once."""
    found: dict[str, None] = {}
    for each in lost:
        start = max((match.end() for match in _BREAKS.finditer(plain, 0, each.start)), default=0)
        end = _BREAKS.search(plain, each.start + 1)
        found[plain[start : end.start() if end else len(plain)].strip(" .")] = None
    return list(found)
