"""What people type as an answer, read: lengths and pairs of them, counts, choices, names.

Each reader takes the text and what was said before, and raises ValueError with what was expected.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from typing import Any, NamedTuple

from pincorner.documents.fields import check_code, check_name
from pincorner.units import MM_PER_INCH, Unit, in_unit, parse_length, told_size

NOT_KNOWN = "not known"
"""The answer of somebody who does not know: what it is about is left out."""

_NOT_KNOWN = {NOT_KNOWN, "unknown", "dont know", "don't know", "no idea", "-", "??"}
_WHOLE = re.compile(r"[0-9]{1,3}")
_ONE = re.compile(
    r"""\s*(?P<number>[-+]?(?:[0-9]+\s+[0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:\.[0-9]*)?|\.[0-9]+))
        \s*(?P<unit>mm|cm|inch(?:es)?|in|ft|feet|foot|\"|'')?(?![0-9./a-wyz])""",
    re.VERBOSE | re.IGNORECASE,
)
_AXES = re.compile(r"(?i)\s*\b[xyz]\s*[=:]?\s*(?=[-+.0-9])")
"""Letters of axes in front of numbers, as a read-out has them: X 80 Y 90."""
_SIDES = re.compile(r"(?i)\b(?:left|right|front|back|and)\b[:,]?")
_BETWEEN = re.compile(r"(?i)(?<=[^\s])-(?=[0-9.])|\s*(?:,\s|[x×*;,]|by\b|to\b|-(?=\s))?\s*")
"""What stands between two lengths; a dash is one where it is no sign: `0-50`, `-50 - 0`."""

_IN_OTHER = {"cm": ("mm", 10), "ft": ("in", 12), "feet": ("in", 12), "foot": ("in", 12)}
"""Units that no document has: which of ours they are a multiple of."""


class Amount(NamedTuple):
    """A length: as it is to stand in a document of the shop's unit, and in mm."""

    written: str
    mm: float


@dataclass(frozen=True)
class Said:
    """Answers as far as they were given: their texts, and what was read from them.

    too_skew: tells of answers whether the first station lies askew by more than usual.
    """

    texts: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, Any] = field(default_factory=dict)
    too_skew: Callable[[Said], bool] = lambda said: False

    @property
    def unit(self) -> Unit:
        """The unit of bare numbers."""
        return "in" if self.values.get("units") == "in" else "mm"

    def __getitem__(self, key: str) -> Any:
        """What was read from an answer; None where there is none, or it is not known."""
        return self.values.get(key)

    def with_answer(self, key: str, text: str, value: Any) -> Said:
        """The same with one more answer."""
        return replace(self, texts={**self.texts, key: text}, values={**self.values, key: value})


Reader = Callable[[str, Said], Any]


def is_not_known(text: str) -> bool:
    """Whether somebody says that they do not know."""
    return " ".join(text.lower().split()) in _NOT_KNOWN


def amounts(text: str, said: Said, *counts: int) -> list[Amount]:
    """So many lengths as one of `counts` says, such as `12 x 7`.

    A unit behind the last one alone is that of all: `4 x 8 ft`.
    """
    example = " x ".join(("48", "96", "3/4", "1/2")[: counts[-1]])
    wanted = f"expected {_so_many(counts)} such as {example}"
    plain = _SIDES.sub(" ", _AXES.sub(" ", text) if _AXES.match(text) else text).rstrip(" ,")
    matches, at = [], 0
    while at < len(plain):
        match = _ONE.match(plain, at)
        if match is None:
            raise ValueError(f"{wanted}, got {text.strip()!r}")
        matches.append(match)
        between = _BETWEEN.match(plain, match.end())
        at = between.end() if between else match.end()
    if len(matches) not in counts:
        raise ValueError(
            f"{wanted}, got {len(matches)} in {text.strip()!r}"
            + ("; a decimal point is a point" if "," in text and len(matches) == 2 else "")
        )
    last = matches[-1]["unit"]
    all_in_one = not any(match["unit"] for match in matches[:-1])
    return [
        _amount(match["number"], last if all_in_one else match["unit"], said.unit)
        for match in matches
    ]


def read_as(value: Any, unit: Unit) -> str:
    """Lengths as they were understood, in the shop's unit; nothing for other answers."""
    listed = value if isinstance(value, list) else [value]
    if not listed or not all(isinstance(each, Amount) for each in listed):
        return ""
    return f"{', '.join(f'{in_unit(each.mm, unit):.6g}' for each in listed)} {unit}"


def _so_many(counts: Sequence[int]) -> str:
    words = {1: "one length", 2: "two lengths", 3: "three lengths", 4: "four lengths"}
    return " or ".join(words[count] for count in counts)


def _amount(number: str, unit: str | None, own: Unit) -> Amount:
    number = " ".join(number.split())
    word = (unit or own).lower()
    if word in _IN_OTHER:
        stated, times = _IN_OTHER[word]
        exact = parse_length(f"{number} mm", None) * times
        number = f"{exact:.9g}"
    else:
        stated = "mm" if word == "mm" else "in"
    ours: Unit = "mm" if stated == "mm" else "in"
    length_mm = parse_length(f"{number} {ours}", None)
    bare = ours == own and "/" not in number
    return Amount(number.lstrip("+") if bare else f"{number} {ours}", length_mm)


def length(low_mm: float, high_mm: float) -> Reader:
    """A reader of one length from `low_mm` to `high_mm`."""

    def read(text: str, said: Said) -> Amount:
        (found,) = amounts(text, said, 1)
        _must_be_within(found, low_mm, high_mm, said.unit)
        return found

    return read


def pair(low_mm: float, high_mm: float) -> Reader:
    """A reader of X and Y; one length stands for both."""

    def read(text: str, said: Said) -> list[Amount]:
        found = amounts(text, said, 1, 2)
        for each in found:
            _must_be_within(each, low_mm, high_mm, said.unit)
        return found * 2 if len(found) == 1 else found

    return read


def several(count: int, low_mm: float, high_mm: float) -> Reader:
    """A reader of so many lengths."""

    def read(text: str, said: Said) -> list[Amount]:
        found = amounts(text, said, count)
        for each in found:
            _must_be_within(each, low_mm, high_mm, said.unit)
        return found

    return read


def _must_be_within(found: Amount, low_mm: float, high_mm: float, unit: Unit) -> None:
    if not low_mm <= found.mm <= high_mm:
        low, high = told_size(low_mm, unit), told_size(high_mm, unit)
        raise ValueError(
            f"expected {low} to {high}, got {told_size(found.mm, unit)}"
            + other_unit(found.mm, low_mm, high_mm, unit)
        )


def other_unit(value_mm: float, low_mm: float, high_mm: float, unit: Unit) -> str:
    """The end of a sentence where a length would be as usual in the other unit; else nothing."""
    other: Unit = "mm" if unit == "in" else "in"
    factor = 1 / MM_PER_INCH if unit == "in" else MM_PER_INCH
    if low_mm <= value_mm * factor <= high_mm:
        return f"; if that was in {other}, say {in_unit(value_mm, unit):.6g} {other}"
    return ""


def odd(found: Amount, low_mm: float, high_mm: float, what: str, unit: Unit) -> list[str]:
    """A doubt about a length that is beyond what is usual."""
    if low_mm <= found.mm <= high_mm:
        return []
    low, high = (f"{in_unit(each, unit):.2g}" for each in (low_mm, high_mm))
    usual = f"usual is {low} to {high} {unit}"
    hint = other_unit(found.mm, low_mm, high_mm, unit)
    return [f"{what} of {told_size(found.mm, unit)}: {usual}{hint}"]


def span(text: str, said: Said) -> list[Amount]:
    """The two ends of a travel; one length goes from or to 0."""
    found = amounts(text, said, 1, 2)
    found = sorted([Amount("0", 0.0), *found] if len(found) == 1 else found, key=lambda at: at.mm)
    if found[0].mm == found[1].mm:
        raise ValueError("expected two different ends, such as 0 1250")
    return found


def counts(text: str, said: Said) -> list[int]:
    """Two whole numbers, such as `12 x 7`."""
    words = re.split(r"\s*(?:[x×*;,]|by)\s*|\s+", text.strip().lower())
    if len(words) != 2 or not all(map(_WHOLE.fullmatch, words)):
        raise ValueError(f"expected two whole numbers such as 12 x 7, got {text.strip()!r}")
    found = [int(word) for word in words]
    if not all(1 <= count <= 500 for count in found):
        raise ValueError(f"expected 1 to 500 holes each way, got {text.strip()}")
    return found


def choice(words: Mapping[str, str] | Sequence[str], numbered: bool = False) -> Reader:
    """A reader of one of a few words, or of their beginning; `numbered`: or of its number.

    From a mapping the value of the word comes out.
    """
    by_word = words if isinstance(words, Mapping) else {word: word for word in words}

    def read(text: str, said: Said) -> str:
        wanted = " ".join(text.lower().split())
        if wanted in by_word:
            return by_word[wanted]
        if numbered and wanted.isdecimal() and 1 <= int(wanted[:3]) <= len(by_word):
            return list(by_word.values())[int(wanted[:3]) - 1]
        heard = set(wanted.replace(",", " ").split()) - _FILLING
        found = {value for word, value in by_word.items() if heard == set(word.split()) - _FILLING}
        found = found or {value for word, value in by_word.items() if word in heard}
        found = found or {v for word, v in by_word.items() if wanted and word.startswith(wanted)}
        if len(found) == 1:
            return found.pop()
        near = get_close_matches(wanted, list(by_word), n=1, cutoff=0.6)
        raise ValueError(
            f"expected {' or '.join(dict.fromkeys(by_word.values()))}, got {text.strip()!r}"
            + (f"; did you mean {near[0]}?" if near else "")
        )

    return read


_FILLING = {"the", "a", "an", "and", "it", "to", "at", "side", "of"}
"""Words around an answer that say nothing."""


yes_or_no = choice({"yes": "yes", "no": "no", "true": "yes", "false": "no"})


def name(text: str, said: Said) -> str:
    """A name that a document may have."""
    return check_name(text.strip())


def code(text: str, said: Said) -> str:
    """A work offset."""
    found = check_code(text.strip())
    if found == "G54" and said["homes"] == "no":
        raise ValueError("G54 is the reference that the others count from; take another, as G55")
    return found


def labels(text: str, said: Said) -> list[str]:
    """Labels of holes, such as `A1, B7`, or `none`."""
    if text.strip().lower() == "none":
        return []
    found = [word.upper() for word in re.split(r"[\s,;]+", text.strip()) if word]
    for word in found:
        if not re.fullmatch(r"[A-Z]{1,3}[1-9][0-9]{0,2}", word):
            raise ValueError(f"expected holes such as A1 B7, or none, got {word!r}")
    return found
