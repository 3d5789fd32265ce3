"""What people type as an answer, read: lengths and pairs of them, counts, names, holes.

Each reader takes the text and what was said before. It raises `Wanted` with what was expected, or
`Unclear` where an answer may mean more than one thing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any, NamedTuple

from pincorner.documents.fields import check_code, check_name
from pincorner.units import MM_PER_INCH, Unit, in_unit, parse_length, told_size
from pincorner.work.first.plain import (
    HEDGES,
    NOTS,
    Unclear,
    Wanted,
    cleaned,
    in_axes,
    with_figures,
    words_of,
)

_WHOLE = re.compile(r"[0-9]{1,3}")
_NUMBER = (
    r"(?:[0-9]+(?:-|\s+|\s+and\s+)[0-9]+/[0-9]+|[0-9]+/[0-9]+"
    r"|[0-9]+(?:\.(?!\.)[0-9]*)?|\.[0-9]+)"
)
_INCH = r"inch(?:es)?|in(?!\s+(?:the|a|an|each|both|every|its|x|y|z)\b)|\"|''"
_FOOT = r"ft|feet|foot|'(?!')"
_METRIC = (
    r"mm|millimet(?:er|re)s?|cm|centimet(?:er|re)s?|microns?|um|m(?=[\s,;x)]|$)|met(?:er|re)s?"
)
LENGTH = rf"{_NUMBER}(?:[\s-]*(?:{_METRIC}|{_INCH}|thou|{_FOOT})(?![a-z]))?"
"""A pattern of a length with its unit, or without."""
ONE = re.compile(
    rf"""\s*(?P<number>[-+]?{_NUMBER})
        [\s-]*(?P<unit>{_METRIC}|{_INCH}|thou|{_FOOT})?(?![0-9/a-wyz]|\.(?!\.))""",
    re.VERBOSE,
)
_FEET_AND_INCHES = re.compile(
    rf"(?P<feet>[0-9]+)\s*(?:{_FOOT})[\s,-]*(?P<inches>{_NUMBER})\s*-?(?:{_INCH})(?![a-z])"
)
_AXIS = re.compile(r"\b([xyz])\s*[=:]?\s*(?=[-+.0-9])")
_BETWEEN = re.compile(r"(?<=[^\s])-(?=[-0-9.])|\s*(?:\.\.+|,|[x*;:/=()&+]|-(?=\s))?\s*")
"""What stands between two lengths; a dash is one where it is no sign: `0-50`, `-50 - 0`."""
_UNENDED = re.compile(r"(?:[x*+=/&-]|\.\.|\b(?:by|to|and))\s*$")
_WORD = re.compile(r"(?![xyz]-?[0-9.])[a-z][a-z'-]*[0-9]*")
_DECIMAL_COMMA = re.compile(r"(?<![0-9.,])([-+]?[0-9]+),([0-9]+)(?![0-9,])")

_IN_OURS: dict[str, tuple[Unit, Fraction]] = {
    "mm": ("mm", Fraction(1)), "cm": ("mm", Fraction(10)), "m": ("mm", Fraction(1000)),
    "um": ("mm", Fraction(1, 1000)), "in": ("in", Fraction(1)), "ft": ("in", Fraction(12)),
    "thou": ("in", Fraction(1, 1000)),
}  # fmt: skip
"""Units that people say, as a multiple of one that documents have."""
_SHORT = {
    '"': "in", "''": "in", "inch": "in", "inches": "in", "'": "ft", "feet": "ft", "foot": "ft",
    "micron": "um", "microns": "um",
}  # fmt: skip


class Amount(NamedTuple):
    """A length: as it is to stand in a document of the shop's unit, and in mm; how: what it was
    reckoned of, such as `70 + 18`, where it is not what was typed."""

    written: str
    mm: float
    how: str = ""


@dataclass(frozen=True)
class Said:
    """Answers as far as they were given: their texts, and what was read from them.

    skew_mm: how far answers have the first station lie askew; 0 where there is none yet. given: the
    texts of all that was answered, of later questions too.
    """

    texts: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, Any] = field(default_factory=dict)
    skew_mm: Callable[[Said], float] = lambda said: 0.0
    given: Mapping[str, str] = field(default_factory=dict)

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


# ---- lengths in a text ---------------------------------------------------------------------------


def amounts(text: str, said: Said, *counts: int) -> list[Amount]:
    """So many lengths as one of `counts` says, such as `12 x 7`, small words around them aside.

    A unit behind the last one alone is that of all: `4 x 8 ft`. Letters of axes put them in order.
    Raises Wanted, Unclear.
    """
    plain, axes = without_axes(_axes_in_front(with_points(text, counts)))
    found = [token for token in scan(plain, text, so_many(counts)) if isinstance(token, re.Match)]
    if len(found) not in counts:
        raise Wanted(so_many(counts), text, f", which has {len(found)}" if found else "")
    read = read_amounts(found, said)
    if len(read) == 3 and sorted(axes) == ["x", "y"]:
        axes = [*axes, "z"]  # a thickness is said last
    if axes and len(axes) < len(read) and axes != ["x", "y", "z"][: len(axes)]:
        raise Wanted(so_many(counts), text, ", with axes for some of them")
    if len(axes) == len(read) > 1:
        if len(set(axes)) < len(axes):
            raise Wanted(so_many(counts), text, ", which has an axis twice")
        read = [each for _, each in sorted(zip(axes, read, strict=True), key=lambda pair: pair[0])]
    return read


def scan(
    plain: str, text: str, wanted: str, words: Iterable[str] = ()
) -> Iterator[re.Match[str] | str]:
    """A text's lengths and those of `words` in it, in their order; other words are left out: what
    they carry is looked at when it was read (`heard.py`).

    Raises Wanted where something else stands there.
    """
    at, known = 0, frozenset(words)
    if _UNENDED.search(plain):
        raise Wanted(wanted, text)
    while at < len(plain):
        if match := ONE.match(plain, at):
            yield match
            between = _BETWEEN.match(plain, match.end())
            at = between.end() if between else match.end()
        elif match := _WORD.match(plain, at):
            if match[0] in known:
                yield match[0]
            at = match.end()
        elif (match := _BETWEEN.match(plain, at)) and match.end() > at:
            at = match.end()
        elif plain[at] in "~.,'":
            at += 1
        else:
            raise Wanted(wanted, text)


def read_amounts(found: Sequence[re.Match[str]], said: Said) -> list[Amount]:
    """Lengths that a scan found; the unit of the last alone is that of all. Raises Unclear."""
    for match in found:
        behind = match.string[match.end() :].split()[:1]
        if match["unit"] == "in" and said.unit == "mm" and behind in (["from"], ["to"]):
            number = match["number"].strip()
            raise Unclear(f"{number} in: do you mean {number} mm, or {number} inches?")
    last = found[-1]["unit"] if found else None
    all_in_one = not any(match["unit"] for match in found[:-1])
    return [
        _amount(match["number"], last if all_in_one else match["unit"], said.unit)
        for match in found
    ]


def with_points(text: str, counts: Sequence[int]) -> str:
    """A text with numbers as figures, commas of decimals as points, feet with inches as inches."""
    plain = with_figures(cleaned(text))
    plain = _FEET_AND_INCHES.sub(_in_inches, plain)
    commas = _DECIMAL_COMMA.findall(plain)
    numbers = len(re.findall(_NUMBER, plain))
    if not commas or (numbers in counts and counts[0] != 1):
        return plain
    if numbers - len(commas) in counts:
        whole, rest = commas[0]
        if len(rest) == 3 and whole.lstrip("+-") != "0":
            raise Unclear(f"{whole},{rest}: do you mean {whole}.{rest} or {whole}{rest}?")
        if numbers in counts:
            raise Unclear(f"{whole},{rest}: do you mean {whole}.{rest}, or {whole} x {rest}?")
        return _DECIMAL_COMMA.sub(r"\1.\2", plain)
    return plain


def _in_inches(match: re.Match[str]) -> str:
    inches = parse_length(f"{match['inches']} in".replace("-", " "), None) / MM_PER_INCH
    return f"{int(match['feet']) * 12 + inches:.9g} in"


_AXIS_BEHIND = re.compile(
    rf"({LENGTH})(?:\s+(?:long|wide|deep|is|are|goes|runs))*\s+(?:along|in|on|for)\s+(?:the\s+)?([xyz])\b"
    r"(?:[ -](?:axis|direction|way))?"
)


def _axes_in_front(plain: str) -> str:
    """A text in which `600 along y, 19 thick` is `y 600, , 19 thick`."""
    found = [f"{match[2]} {match[1]}, " for match in _AXIS_BEHIND.finditer(plain)]
    return "".join(found) + _AXIS_BEHIND.sub(" ", plain) if found else plain


def without_axes(plain: str) -> tuple[str, list[str]]:
    """A text without the letters of axes in front of its numbers, and these letters."""
    if not _AXIS.match(plain):
        return plain, []
    return _AXIS.sub(" ", plain), _AXIS.findall(plain)


def so_many(counts: Sequence[int]) -> str:
    """How many lengths are wanted, in words."""
    words = {1: "one length", 2: "two lengths", 3: "three lengths", 4: "four lengths"}
    return " or ".join(words[count] for count in counts)


def in_mm(number: str, unit: str) -> float:
    """A number of a unit as people say it, in mm."""
    return _amount(number, unit, "mm").mm


_TENTHS = re.compile(
    r"(?:\b[0-9]+ (?:or|to) )?\b(?P<many>an?|[0-9]+) tenths?\b(?P<or_two> or 2)?"
    r"(?: of (?:an?|1) (?P<mm>millimet(?:er|re)|mil|mm))?"
)


def tenths_as_lengths(plain: str, own: Unit) -> str:
    """A text with tenths as lengths, the larger of two: of a millimetre; of a thousandth where the
    shop counts in inches (common practice, no source)."""

    def length_of(match: re.Match[str]) -> str:
        many = 2 if match["or_two"] else int(match["many"].replace("an", "1").replace("a", "1"))
        return f"{many / 10:g} mm" if own == "mm" or match["mm"] else f"{many / 10_000:g} in"

    return _TENTHS.sub(length_of, plain)


def _amount(number: str, unit: str | None, own: Unit) -> Amount:
    number = " ".join(re.sub(r"(?<=[0-9])-|\band\b", " ", number).split())
    ours, times = _IN_OURS[_short(unit) if unit else own]
    if times != 1:
        length_mm = parse_length(f"{number} mm", None)
        number = f"{float(Fraction(repr(length_mm)) * times):.9g}"
    length_mm = parse_length(f"{number} {ours}", None)
    bare = ours == own and "/" not in number
    return Amount(number.lstrip("+") if bare else f"{number.lstrip('+')} {ours}", length_mm)


def _short(unit: str) -> str:
    """A unit's short word."""
    for begin, short in (("milli", "mm"), ("centi", "cm"), ("met", "m")):
        if unit.startswith(begin):
            return short
    return _SHORT.get(unit, unit)


def as_told(found: Sequence[Amount], unit: Unit) -> str:
    """Lengths as they were understood, in the shop's unit."""
    return f"{', '.join(f'{in_unit(each.mm, unit):.6g}' for each in found)} {unit}"


# ---- readers of lengths --------------------------------------------------------------------------


def length(low_mm: float, high_mm: float) -> Reader:
    """A reader of one length from `low_mm` to `high_mm`."""

    def read(text: str, said: Said) -> Amount:
        (found,) = amounts(_FIT.sub(" ", text), said, 1)
        must_be_within(found, low_mm, high_mm, said.unit)
        return found

    return read


FIT_CLASS = r"(?:[defghkmnp][5-9]|h1[01])"
_FIT = re.compile(rf"(?i)(?<![a-z0-9]){FIT_CLASS}(?![0-9a-z])")
"""A class of fits behind a size, as `12 H7`: what it allows is no length of its own."""


def class_in(text: str) -> str:
    """The class of fits that stands behind a size; nothing where there is none."""
    found = _FIT.search(text)
    return found[0] if found else ""


def clauses(text: str) -> list[str]:
    """An answer's parts between commas and `and`s, those without anything left out; a comma within
    a number is none of these."""
    parts = re.split(
        r"\s*[;]\s*|,(?!\d)\s*|:\s|(?<=[a-z)])\.\s|\bwith\b|\bbut\b"
        r"|\band\b(?!\s+(?:an?\s+)?(?:half|quarter|[0-9]+/))",
        cleaned(text),
    )
    return [part.strip().rstrip(" .") for part in parts if part.strip(" .")]


# ---- what can be understood in part --------------------------------------------------------------


def in_part(read: Reader, text: str, said: Said) -> str | None:
    """The one clause of an answer that reads, or alone has no words; None where there is none."""
    parts = re.split(r"[,;](?=\s)|\.\s|\bbut\b|\bbecause\b|\bsince\b", cleaned(text))
    good = []
    for part in filter(str.strip, parts if len(parts) > 1 else ()):
        try:
            read(part, said)
        except ValueError:
            continue
        good.append(part.strip())
    bare = [part for part in good if not re.search("[a-z]{3}", part)]
    return good[0] if len(good) == 1 else bare[0] if len(bare) == 1 else None


def pair(low_mm: float, high_mm: float) -> Reader:
    """A reader of X and Y; one length stands for both."""

    def read(text: str, said: Said) -> list[Amount]:
        found = amounts(text, said, 1, 2)
        for each in found:
            must_be_within(each, low_mm, high_mm, said.unit)
        return found * 2 if len(found) == 1 else found

    return read


def several(low_mm: float, high_mm: float, *counts: int) -> Reader:
    """A reader of so many lengths as one of `counts` says; a square has one side said."""

    def read(text: str, said: Said) -> list[Amount]:
        words = words_of(text)
        if counts[0] == 2 and "square" in words:
            (side,) = amounts(re.sub(r"(?i)\bsquare\b", " ", text), said, 1)
            found = [side, side]
        else:
            found = _long_side_first(text, said, counts)
        for each in found:
            must_be_within(each, low_mm, high_mm, said.unit)
        return found

    return read


_LONG_SIDE = re.compile(
    r"\b(?:with |laid |lies |and )*(?:the |its )?"
    r"(?P<which>long(?:er|est)?|short(?:er|est)?) (?:side|edge|way)s?(?: (?:runs?|goes|lies|is))?"
    r" (?:along|in|on) (?:the )?(?P<axis>[xy])\b(?:[ -](?:axis|direction))?"
)


def _long_side_first(text: str, said: Said, counts: Sequence[int]) -> list[Amount]:
    """Lengths in the order that `long side along y` gives X and Y, or as they are said."""
    match = _LONG_SIDE.search(cleaned(text)) if counts[0] > 1 else None
    if match is None:
        return amounts(text, said, *counts)
    found = amounts(_LONG_SIDE.sub(" ", cleaned(text)), said, *counts)
    is_long_first = match["which"].startswith("long") == (match["axis"] == "x")
    first_two = sorted(found[:2], key=lambda each: each.mm, reverse=is_long_first)
    return [*first_two, *found[2:]]


def must_be_within(found: Amount, low_mm: float, high_mm: float, unit: Unit) -> None:
    """Raise ValueError for a length that is not within."""
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
    low, high = (f"{float(f'{in_unit(each, unit):.2g}'):g}" for each in (low_mm, high_mm))
    usual = f"usual is {low} to {high} {unit}"
    hint = other_unit(found.mm, low_mm, high_mm, unit)
    return [f"{what} of {told_size(found.mm, unit)}: {usual}{hint}"]


def span(text: str, said: Said) -> list[Amount]:
    """The two ends of a travel; one length goes from or to 0."""
    plain = re.sub(r"\balong [xyz]\b", " ", in_axes(re.sub(r",(?=[^\s])", ", ", cleaned(text))))
    found = amounts(plain, said, 1, 2)
    found = sorted([Amount("0", 0.0), *found] if len(found) == 1 else found, key=lambda at: at.mm)
    if found[0].mm == found[1].mm:
        raise Wanted("two different ends", text)
    return found


# ---- counts, names, holes ------------------------------------------------------------------------

_OF_COUNTS = "two whole numbers, columns along X and rows along Y"
_ALONG = {
    "columns": "x", "column": "x", "cols": "x", "col": "x", "across": "x", "wide": "x", "x": "x",
    "sideways": "x", "rows": "y", "row": "y", "deep": "y", "y": "y", "back": "y", "up": "y",
    "away": "y", "long": "y", "high": "y", "tall": "y", "down": "y",
}  # fmt: skip
ALONG_WORDS = _ALONG.keys() - {"x", "y"}
_COUNT_WORDS = HEDGES | set(_ALONG) | {
    "by", "x", "and", "of", "in", "along", "holes", "hole", "axis", "each", "way", "ways", "both",
    "grid", "on", "direction", "every", "per", "with", "times", "square", "to", "side", "sides",
    "size",
}  # fmt: skip


def counts(text: str, said: Said) -> list[int]:
    """Holes along X and along Y, such as `12 x 7`, `10 columns, 7 rows`, `23 rows of 11`."""
    plain = re.sub(r"(?<=[0-9])\s*[x*](?=\s*[0-9])", " by ", with_figures(cleaned(text)))
    plain = re.sub(r"\b(?:from )?left to right\b", " across ", plain)
    plain = re.sub(r"\b(?:from )?front to back\b", " deep ", plain)
    plain = re.sub(r"\bline(s?)\b", r"row\1", plain)
    plain = re.sub(r"\b(?:per|in (?:a|each|every)|each|every) rows?\b", " columns ", plain)
    plain = re.sub(r"\b(?:per|in (?:a|each|every)|each|every) columns?\b", " rows ", plain)
    words = [
        word
        for word in re.split(r"[\s,;:.=()*-]+", re.sub(r"([0-9])([a-z])", r"\1 \2", plain))
        if word
    ]
    figures = [at for at, word in enumerate(words) if _WHOLE.fullmatch(word)]
    unknown = [word for word in words if not _WHOLE.fullmatch(word) and word not in _COUNT_WORDS]
    if not unknown and len(figures) == 1 and {"each", "both", "square"} & set(words):
        figures *= 2
        words = [words[figures[0]]] * 2
        figures = [0, 1]
    if unknown or len(figures) != 2:
        raise Wanted(_OF_COUNTS, text)
    found = [int(words[at]) for at in figures]
    if not all(1 <= count <= 500 for count in found):
        raise ValueError(f"expected 1 to 500 holes each way, got {text.strip()}")
    first, second = figures
    groups = [words[first + 1 : second], words[second + 1 :]]
    if words[:first] and not any(word in _ALONG for word in groups[1]):
        groups = [words[:first], words[first + 1 : second]]
    ways = [{_ALONG[word] for word in group if word in _ALONG} for group in groups]
    if any(len(way) > 1 for way in ways) or (ways[0] and ways[0] == ways[1]):
        raise Unclear(
            f"how many of them along X, and how many along Y? such as {found[0]} x {found[1]}"
        )
    return found[::-1] if ways[0] == {"y"} or ways[1] == {"x"} else found


def name(text: str, said: Said) -> str:
    """A name that a document may have."""
    return check_name(text.strip())


def code(text: str, said: Said) -> str:
    """A work offset; a number alone is a G word."""
    words = [word for word in words_of(text) if word not in HEDGES]
    plain = re.sub(r"\bg\s+(?=[0-9])", "g", with_figures(" ".join(words)))
    plain = f"g{plain}" if re.fullmatch(r"5[4-9](?:\.[1-9])?", plain) else plain
    named = re.findall(r"\bg5[4-9](?:\.[1-9])?(?: ?p[1-9][0-9]*)?", plain)
    found = check_code((named[0] if len(named) == 1 else plain).upper() or text.strip())
    if found == "G54" and said["homes"] == "no":
        raise ValueError("G54 is the reference that the others count from; take another, as G55")
    return found


_HOLE = re.compile(r"[A-Z]{1,3}[1-9][0-9]{0,2}")
_OF_LABELS = "labels of holes, or none"


def labels(text: str, said: Said) -> list[str]:
    """Labels of holes, such as `A1, B7`, or `none`."""
    words = [word.strip(".").upper() for word in words_of(text)]
    found = [word for word in words if _HOLE.fullmatch(word)]
    if not found and not _NO_HOLES & set(words):
        raise Wanted(_OF_LABELS, text)
    return found


_NO_HOLES = frozenset(word.upper() for word in (*NOTS, "all", "zero", "0", "good", "fine"))


def hole(text: str, said: Said) -> str:
    """The label of one hole, such as `A1`, `hole b3`."""
    words = [word for word in words_of(text) if word not in HEDGES and word not in _AROUND_HOLE]
    if len(words) == 1 and _HOLE.fullmatch(words[0].upper()):
        return words[0].upper()
    if len(words) == 2 and re.fullmatch("[a-z]{1,3} [1-9][0-9]{0,2}", " ".join(words)):
        return "".join(words).upper()
    return check_name(text.strip()).upper()


_AROUND_HOLE = frozenset(("hole", "corner", "at", "in", "of", "on"))
