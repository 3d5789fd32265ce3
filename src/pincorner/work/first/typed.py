"""What people type as an answer, read: lengths and pairs of them, counts, choices, names.

Each reader takes the text and what was said before, and raises ValueError with what was expected.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from pincorner.documents.fields import check_code, check_name
from pincorner.errors import suggestion
from pincorner.units import MM_PER_INCH, Unit, in_unit, parse_length, told_size

NOT_KNOWN = "not known"
"""The answer of somebody who does not know: what it is about is left out."""

_NOT_KNOWN = {NOT_KNOWN, "unknown", "dont know", "don't know", "no idea", "-", "??"}
_WHOLE = re.compile(r"[0-9]{1,3}")
_ONE = re.compile(
    r"""\s*(?P<number>[-+]?(?:[0-9]+\s+[0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:\.[0-9]*)?|\.[0-9]+))
        \s*(?P<unit>mm|inch(?:es)?|in|\"|'')?(?![0-9./a-wyz])""",
    re.VERBOSE | re.IGNORECASE,
)
_AXES = re.compile(r"(?i)\s*\b[xyz]\s*[=:]?\s*(?=[-+.0-9])")
"""Letters of axes in front of numbers, as a read-out has them: X 80 Y 90."""
_BETWEEN = re.compile(r"\s*(?:,\s|[x×*;,]|by\b|to\b)?\s*", re.IGNORECASE)


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
    """So many lengths as one of `counts` says, such as `12 x 7`."""
    example = " x ".join(("48", "96", "3/4")[: counts[-1]])
    found, at = [], 0
    if _AXES.match(text):
        text = _AXES.sub(" ", text)
    while at < len(text.rstrip()):
        match = _ONE.match(text, at)
        if match is None:
            raise ValueError(f"expected {_so_many(counts)} such as {example}, got {text.strip()!r}")
        found.append(_amount(match["number"], match["unit"], said.unit))
        between = _BETWEEN.match(text, match.end())
        at = between.end() if between else match.end()
    if len(found) not in counts:
        raise ValueError(
            f"expected {_so_many(counts)} such as {example}, got {len(found)} in {text.strip()!r}"
            + ("; a decimal point is a point" if "," in text and len(found) == 2 else "")
        )
    return found


def _so_many(counts: Sequence[int]) -> str:
    words = {1: "one length", 2: "two lengths", 3: "three lengths", 4: "four lengths"}
    return " or ".join(words[count] for count in counts)


def _amount(number: str, unit: str | None, own: Unit) -> Amount:
    number = " ".join(number.split())
    stated: Unit | None = None if unit is None else "mm" if unit.lower() == "mm" else "in"
    length_mm = parse_length(f"{number} {stated or own}", None)
    bare = stated in (None, own) and "/" not in number
    return Amount(number.lstrip("+") if bare else f"{number} {stated or own}", length_mm)


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
        begun = [value for word, value in by_word.items() if wanted and word.startswith(wanted)]
        if len(set(begun)) == 1:
            return begun[0]
        raise ValueError(
            f"expected {' or '.join(dict.fromkeys(by_word.values()))}, got {text.strip()!r}"
            f"{suggestion(wanted, list(by_word)) if len(wanted) > 2 else ''}"
        )

    return read


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
