"""What people type as an answer, read by a few plain forms: one thing is asked, one is answered.

A form is a word of a list, a length or a few of them, counts, the label of a hole, a name. What
else stands in an answer is handed back unread, and is asked about: nothing of it is guessed.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any, NamedTuple

from pincorner.documents.fields import check_code, check_name
from pincorner.units import MM_PER_INCH, Unit, in_unit, parse_length, told_size

if TYPE_CHECKING:
    from pincorner.setups.choice import Choice as PinChoice


class Amount(NamedTuple):
    """A length: as it is to stand in a document of the shop's unit, and in mm."""

    written: str
    mm: float


class Laid(NamedTuple):
    """How answers have the first station lie: how far askew, mm, over how far, mm, and how its pins
    were chosen; 0 and None where there is none yet."""

    skew_mm: float = 0.0
    choice: PinChoice | None = None
    reach_mm: float = 0.0


class NotClear(Exception):
    """What was asked of answers hangs on one that is wrong."""


@dataclass(frozen=True)
class Said:
    """Answers as far as they were given: their texts, and what was read from them.

    laid: how answers have the first station lie, which takes a draft of the documents. codes: the
    work offsets of the pieces behind the first one, as far as the controller has them. left: how
    many questions a way of asking leaves, at least and at most, or None where nobody counts. wrong:
    answers that say nothing until they are mended: NotClear is raised where one is looked at.
    """

    texts: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, Any] = field(default_factory=dict)
    laid: Callable[[Said], Laid] = lambda said: Laid()
    codes: Callable[[Said], Sequence[str]] = lambda said: ()
    left: Callable[[str], tuple[int, int] | None] = lambda extent: None
    wrong: frozenset[str] = frozenset()

    @property
    def unit(self) -> Unit:
        """The unit of bare numbers."""
        return "in" if self["units"] == "in" else "mm"

    def __getitem__(self, key: str) -> Any:
        """What was read from an answer; None where there is none, or it is not known."""
        if key in self.wrong:
            raise NotClear(key)
        return self.values.get(key)

    def text(self, key: str) -> str | None:
        """An answer as it was given, if it was."""
        if key in self.wrong:
            raise NotClear(key)
        return self.texts.get(key)

    def without(self, key: str) -> Said:
        """The same with an answer that is wrong."""
        return replace(self, wrong=self.wrong | {key})

    def with_answer(self, key: str, text: str, value: Any) -> Said:
        """The same with one more answer."""
        return replace(self, texts={**self.texts, key: text}, values={**self.values, key: value})


class Read(NamedTuple):
    """What was read of an answer, the same as it is kept, and the words that were not read."""

    value: Any
    kept: str
    rest: tuple[str, ...] = ()


Reader = Callable[[str, Said], Read]


class Wanted(ValueError):
    """An answer that does not have the form of what was asked for."""

    def __init__(self, what: str, got: str, more: str = "") -> None:
        super().__init__(f"expected {what}, got {got.strip()!r}{more}")
        self.what, self.got, self.more = what, got.strip(), more

    def with_example(self, example: str) -> str:
        """The same with an answer that would do."""
        return f"expected {self.what}, such as {example}; got {self.got!r}{self.more}"


class Asks(ValueError):
    """An answer that is asked about; `offers`: what Enter takes, if anything."""

    def __init__(self, asks: str, offers: str = "") -> None:
        super().__init__(asks)
        self.offers = offers


# ---- words ---------------------------------------------------------------------------------------

NOT_KNOWN = "not known"
"""The answer of somebody who does not know: what it is about is left out."""
_NOT_KNOWN = frozenset((
    NOT_KNOWN, "unknown", "don't know", "dont know", "do not know", "no idea", "not sure", "later",
    "skip", "not measured", "never measured", "not yet", "n/a", "-",
))  # fmt: skip
NOTS = frozenset((
    "no", "not", "none", "never", "nothing", "without", "but", "except", "or", "don't", "doesn't",
    "isn't", "can't", "cannot", "won't", "nor", "neither",
))  # fmt: skip
"""Words that may turn an answer round: they are never passed over."""
_FILLERS = frozenset((
    "a", "an", "the", "it", "it's", "its", "is", "are", "i", "we", "they", "that", "this", "about",
    "ca", "roughly", "approx", "please", "just", "of", "and", "by", "to", "at", "my", "our", "with",
    "from", "on", "in", "within", "as", "for", "there", "has", "have", "along",
))  # fmt: skip
"""Words around an answer that say nothing."""
_SIDES = frozenset(("left", "right", "front", "back"))
_X, _Y, _Z = (
    ("x", "across", "wide", "width", "column", "columns"),
    ("y", "deep", "depth", "up", "row", "rows"),
    ("z", "thick", "thickness", "high", "tall"),
)  # fmt: skip
IN_XYZ = {word: at for at, words in enumerate((_X, _Y, _Z)) for word in words}
"""Words of the axes, by the place of their lengths in an answer."""
BY_EDGES = {**IN_XYZ, "left": 0, "front": 1}
"""The same where lengths count from the left and the front edge."""
_TURNS_ROUND = NOTS | _SIDES | {"x", "y", "z", "long", "short", "longer", "shorter"}
"""Words that may make a length another one: beside it they are refused, where they place none."""
_AS_TYPED = {
    "\N{RIGHT DOUBLE QUOTATION MARK}": '"', "\N{LEFT DOUBLE QUOTATION MARK}": '"',
    "\N{DOUBLE PRIME}": '"', "\N{PRIME}": "'", "\N{RIGHT SINGLE QUOTATION MARK}": "'",
    "\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "\N{EM DASH}": "-", "\N{PLUS-MINUS SIGN}": "",
    "\N{HORIZONTAL ELLIPSIS}": "..", "\N{MULTIPLICATION SIGN}": "x", "\N{DIAMETER SIGN}": "",
    "\N{MICRO SIGN}m": "um", "\N{GREEK SMALL LETTER MU}m": "um",
}  # fmt: skip


def cleaned(text: str) -> str:
    """An answer in lower case with one blank between words, signs of typesetting as they are typed.

    Fractions that are one character become `1/2`.
    """
    for sign, plain in _AS_TYPED.items():
        text = text.replace(sign, plain)
    text = "".join(_fraction(each) for each in text).lower()
    return re.sub(r"\+\s*/?\s*-", " ", " ".join(text.split())).strip(" !;")


def _fraction(character: str) -> str:
    if character.isascii() or unicodedata.category(character) != "No":
        return character
    value = Fraction(unicodedata.numeric(character)).limit_denominator(16)
    return f" {value}" if value.denominator > 1 else character


def words_of(text: str) -> list[str]:
    """The words of an answer, without points and commas."""
    found = re.split(r"[\s,;:()?!=]+|\.(?![0-9])", cleaned(text))
    return [word for word in found if word]


def is_not_known(text: str) -> bool:
    """Whether somebody says that they do not know."""
    words = [word for word in words_of(text) if word not in _FILLERS]
    return cleaned(text).rstrip(".") in _NOT_KNOWN or " ".join(words) in _NOT_KNOWN


def unread(rest: Sequence[str], question: str) -> list[str]:
    """What of the words that were not read may carry something, one after the other in one text:
    words of the question itself carry nothing."""
    known = {each.rstrip("s") for each in words_of(question.replace("-", " ").replace("'s", ""))}
    known |= {word for word, at in IN_XYZ.items() if "xyz"[at] in known}
    harmless = {each for each in rest if each in _FILLERS or each.rstrip("s") in known - NOTS}
    told = " ".join("/" if word in harmless else word for word in rest)
    return [run.strip() for run in told.split("/") if run.strip()]


def must_not_turn_round(rest: Sequence[str]) -> None:
    """Raise ValueError for a side, an axis or a not among words that were not read."""
    if found := [word for each in rest for word in each.split() if word in _TURNS_ROUND]:
        words = " and ".join(f'"{word}"' for word in dict.fromkeys(found))
        raise ValueError(f"what is {words} here? Say the figure as it is asked for, alone")


# ---- choices -------------------------------------------------------------------------------------


class Option(NamedTuple):
    """One of a few answers: its word, what it means, and what else people say for it."""

    word: str
    means: str = ""
    phrases: tuple[str, ...] = ()


class Choice:
    """A reader of one of a few answers, by its number, its word or the beginning of it, or by what
    else people say for it. The word comes out. Raises Wanted. `unlisted`: what is taken too;
    `faint`: what is taken, in this order, where nothing of the others is said."""

    def __init__(
        self, *options: Option, unlisted: tuple[Option, ...] = (), faint: tuple[Option, ...] = ()
    ) -> None:
        self.options = options
        self._all = (*options, *unlisted)
        self._phrases = {
            tuple(words_of(phrase)): each.word
            for each in self._all
            for phrase in (each.word, each.word.replace("-", " "), *each.phrases)
        }
        self._faint = {
            tuple(words_of(phrase)): each.word for each in faint for phrase in each.phrases
        }

    def __call__(self, text: str, said: Said) -> Read:
        """The option that an answer says. Two of them, a `not`, or a word of another is none."""
        words = words_of(text)
        if word := self._alone(words):
            return Read(word, word)
        rest, found, faint = words, dict[str, None](), list[str]()
        for phrase in sorted({**self._phrases, **self._faint}, key=len, reverse=True):
            for at in range(len(rest) - len(phrase) + 1):
                if tuple(rest[at : at + len(phrase)]) == phrase:
                    if phrase in self._faint:
                        faint.append(self._faint[phrase])
                    else:
                        found[self._phrases[phrase]] = None
                    rest = [*rest[:at], *rest[at + len(phrase) :]]
                    break
        own, others = {*_FILLERS, "one"}, set(NOTS)
        own.update({word for phrase in self._faint for word in phrase} - NOTS)
        if faint and not found:
            word = min(faint, key=list(self._faint.values()).index)
            found = {word: None}
        for phrase, word in self._phrases.items():
            (own if word in found else others).update(phrase)
        if len(found) != 1 or set(rest) & (others - own):
            raise Wanted(self.listed, text)
        (word,) = found
        own.update(f"{n}" for n, each in enumerate(self._all, 1) if each.word == word)
        return Read(word, word, tuple(each for each in rest if each not in own))

    def _alone(self, words: Sequence[str]) -> str:
        """The option that an answer says with nothing beside it; nothing where there is none."""
        if phrase := self._phrases.get(tuple(words)):
            return phrase
        if len(words) != 1:
            return ""
        numbers = {f"{n}": each.word for n, each in enumerate(self.options, 1)}
        begun = [each.word for each in self._all if each.word.startswith(words[0])]
        return numbers.get(words[0], begun[0] if len(begun) == 1 else "")

    @property
    def listed(self) -> str:
        """The words that there are."""
        return " or ".join(each.word for each in self.options)

    def means(self, word: str) -> str:
        """What an option means, behind its word."""
        means = next(each.means for each in self._all if each.word == word)
        return f"{word}: {means}" if means else word


YES, NO = "yes", "no"


def yes_or_no(yes: str = "", no: str = "") -> Choice:
    """A reader of yes and no, with what each means."""
    return Choice(
        Option(YES, yes, ("y", "yeah", "yep", "ok")), Option(NO, no, ("n", "nope")),
    )  # fmt: skip


# ---- lengths -------------------------------------------------------------------------------------

_NUMBER = r"(?:[0-9]+(?:-|\s+)[0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:\.(?!\.)[0-9]*)?|\.[0-9]+)"
_NO_INCH = "front|back|the|a|an|from|to|my|its|x|y|z|each|both|all|between|over|out|onto"
"""What makes an `in` before it no unit: `60 in front`, `10 in over the jig`."""
_UNITS = {
    "mm": r"mm|millimet(?:er|re)s?", "cm": r"cm|centimet(?:er|re)s?", "um": r"um|microns?",
    "in": rf"inch(?:es)?|in(?!\s+(?:{_NO_INCH})\b)|\"|''", "ft": r"ft|feet|foot|'(?!')",
    "thou": r"thou", "m": r"m|met(?:er|re)s?",
}  # fmt: skip
_UNIT = "|".join(_UNITS.values())
_LENGTH = re.compile(rf"(?P<number>[-+]?{_NUMBER})(?:[\s-]*(?P<unit>{_UNIT})(?![a-z]))?(?![0-9/])")
_FEET_AND_INCHES = re.compile(
    rf"(?P<feet>[0-9]+)\s*(?:{_UNITS['ft']})[\s,-]*(?P<inches>{_NUMBER})\s*-?(?:{_UNITS['in']})"
)
_BETWEEN = re.compile(r"(?<=[^\s])-(?=[-0-9.])|\s*(?:\.\.+|,|[x*;:/&](?![a-z])|-(?=\s))?\s*")
"""What stands between two lengths; a dash is one where it is no sign: `0-50`, `-50 - 0`."""
_NO_X_BETWEEN = re.compile(_BETWEEN.pattern.replace("[x*", "[*"))
_WAYS = (
    (re.compile(r"\bleft to right\b"), "across"), (re.compile(r"\bfront to back\b"), "deep"),
)  # fmt: skip
_HAS_Y = re.compile("(?<![a-z])y(?![a-z])")
"""Where there is a y an x is an axis too, and does not stand between two lengths."""
_WORD = re.compile(r"[a-z][a-z'/-]*[0-9]*")
_AXIS = re.compile(r"[xyz](?=[-+.,;0-9\s:=]|$)[\s:=]*")
_DECIMAL_COMMA = re.compile(r"(?<![0-9.,])([-+]?[0-9]+),([0-9]+)(?![0-9,])")
_IN_OURS: dict[str, tuple[Unit, Fraction]] = {
    "mm": ("mm", Fraction(1)), "cm": ("mm", Fraction(10)), "m": ("mm", Fraction(1000)),
    "um": ("mm", Fraction(1, 1000)), "in": ("in", Fraction(1)), "ft": ("in", Fraction(12)),
    "thou": ("in", Fraction(1, 1000)),
}  # fmt: skip
"""Units that people say, as a multiple of one that documents have."""


class Scan(NamedTuple):
    """What stands in an answer: its numbers with their units, and its other words, letters of axes
    among them, each with the count of numbers before it."""

    lengths: list[tuple[str, str | None]]
    words: list[tuple[str, int]]

    def placed(self, places: Mapping[str, int], text: str) -> tuple[list[int], tuple[str, ...]]:
        """Which number belongs to which place, by words that stand before or behind each of them,
        and the words that place none. Raises Wanted where they cannot be.

        Numbers without a word take the places that are left, in their order.
        """
        many = len(self.lengths)
        telling = [(places[word], at) for word, at in self.words if word in places]
        rest = tuple(word for word, _ in self.words if word not in places)
        if many < 2 or not telling:
            return list(range(many)), tuple(word for word, _ in self.words)
        first = 0 if telling[0][1] == 0 else 1  # words before, or behind
        of = {(place, at - first) for place, at in telling}
        by_place = dict(of)
        numbers = [number for _, number in of]
        is_possible = all(place < many and 0 <= number < many for place, number in of)
        if not is_possible or len(by_place) < len(of) or len(set(numbers)) < len(of):
            raise Wanted(f"{many} figures, each with its own word", text)
        left = iter(number for number in range(many) if number not in numbers)
        return [by_place[place] if place in by_place else next(left) for place in range(many)], rest


def scan(text: str, *counts: int) -> Scan:
    """The lengths and words of an answer, `counts` lengths being wanted. Raises Wanted."""
    plain, found, at = _with_points(cleaned(text), counts), Scan([], []), 0
    for pattern, word in _WAYS:
        plain = pattern.sub(word, plain)
    between_two = _NO_X_BETWEEN if _HAS_Y.search(plain) else _BETWEEN
    while at < len(plain):
        if match := _LENGTH.match(plain, at):
            unit = match["unit"]
            short = next((u for u, each in _UNITS.items() if re.fullmatch(each, unit or "")), None)
            found.lengths.append((match["number"], short))
            between = between_two.match(plain, match.end())
            at = between.end() if between else match.end()
        elif match := _AXIS.match(plain, at) or _WORD.match(plain, at):
            found.words.append((match[0].strip(" :=-'/"), len(found.lengths)))
            at = match.end()
        elif plain[at] in " ,.;:()=&+~/-'\"?":
            at += 1
        else:
            raise Wanted(so_many(counts), text)
    _must_be_clear(plain, len(found.lengths), counts, text)
    return found


def _with_points(plain: str, counts: Sequence[int]) -> str:
    """A text with commas of decimals as points, and feet with inches as inches. Raises Wanted where
    a comma may be either."""
    plain = _FEET_AND_INCHES.sub(_in_inches, plain)
    commas = _DECIMAL_COMMA.findall(plain)
    numbers = len(re.findall(_NUMBER, plain))
    is_listed = numbers in counts and counts[0] != 1
    if not commas or (is_listed and len(commas) == numbers - 1):
        return plain
    for whole, rest in commas:
        if len(rest) == 3 and whole.lstrip("+-") != "0":
            raise Wanted(f"{whole}.{rest} or {whole}{rest}", plain)
    return _DECIMAL_COMMA.sub(r"\1.\2", plain)


_MIXED = re.compile(r"[0-9]\s+[0-9]+/[0-9]+")
_BARE_GAP = re.compile(r"[0-9]\s+[0-9]+(?![0-9]*/)")


def _must_be_clear(plain: str, many: int, counts: Sequence[int], text: str) -> None:
    """Raise Wanted for `48 96 3/4`, which may be two lengths or three."""
    mixed = len(_MIXED.findall(plain))
    if mixed and many + mixed in counts and _BARE_GAP.search(plain):
        raise Wanted(so_many(counts), text, ", which may be read in two ways: x between them")


def _in_inches(match: re.Match[str]) -> str:
    inches = parse_length(f"{match['inches']} in".replace("-", " "), None) / MM_PER_INCH
    return f"{int(match['feet']) * 12 + inches:.9g} in"


def so_many(counts: Sequence[int]) -> str:
    """How many lengths are wanted, in words."""
    words = {1: "one length", 2: "two lengths", 3: "three lengths", 4: "four lengths"}
    return " or ".join(words.get(count, f"{count} lengths") for count in counts)


def amounts(found: Scan, text: str, said: Said, *counts: int) -> list[Amount]:
    """So many lengths as one of `counts` says, as they stand in an answer.

    A unit is that of the bare numbers in front of it too: `4 x 8 ft`. Raises Wanted.
    """
    many = len(found.lengths)
    if many not in counts:
        raise Wanted(so_many(counts), text, f", which has {many}" if many else "")
    units, behind = list[str | None](), None
    for _, unit in reversed(found.lengths):
        behind = unit or behind
        units.insert(0, behind)
    return [
        _amount(number, unit, said.unit)
        for (number, _), unit in zip(found.lengths, units, strict=True)
    ]


def _amount(number: str, unit: str | None, own: Unit) -> Amount:
    number = " ".join(re.sub(r"(?<=[0-9])-", " ", number).split()).lstrip("+")
    ours, times = _IN_OURS[unit or own]
    if times != 1:
        length_mm = parse_length(f"{number} mm", None)
        number = f"{float(Fraction(repr(length_mm)) * times):.9g}"
    bare = ours == own and "/" not in number
    return Amount(number if bare else f"{number} {ours}", parse_length(f"{number} {ours}", None))


def kept_as(found: Sequence[Amount], unit: Unit) -> str:
    """Lengths as an answer that reads the same."""
    is_mixed = any(" " in each.written for each in found)
    return ", ".join(
        f"{each.written} {unit}" if is_mixed and not each.written.endswith((" mm", " in"))
        else each.written for each in found
    )  # fmt: skip


def as_told(found: Sequence[Amount], unit: Unit) -> str:
    """Lengths as they were understood, in the shop's unit."""
    return f"{' x '.join(f'{in_unit(each.mm, unit):.6g}' for each in found)} {unit}"


def lengths(
    low_mm: float, high_mm: float, *counts: int, places: Mapping[str, int] = IN_XYZ
) -> Reader:
    """A reader of so many lengths as one of `counts` says, each within; a list comes out, in the
    order of the `places` that words give them."""

    def read(text: str, said: Said) -> Read:
        scanned = scan(text, *counts)
        found = amounts(scanned, text, said, *counts)
        order, rest = scanned.placed(places, text)
        for each in found:
            must_be_within(each, low_mm, high_mm, said.unit)
        value = [found[at] for at in order]
        return Read(value, kept_as(value, said.unit), rest)

    return read


def length(low_mm: float, high_mm: float) -> Reader:
    """A reader of one length that is within; an Amount comes out."""
    one = lengths(low_mm, high_mm, 1)

    def read(text: str, said: Said) -> Read:
        found = one(text, said)
        return found._replace(value=found.value[0])

    return read


def pair(low_mm: float, high_mm: float, places: Mapping[str, int] = IN_XYZ) -> Reader:
    """A reader of X and Y; one length stands for both."""
    some = lengths(low_mm, high_mm, 1, 2, places=places)

    def read(text: str, said: Said) -> Read:
        found = some(text, said)
        return found._replace(value=found.value * (2 // len(found.value)))

    return read


def span(text: str, said: Said) -> Read:
    """The two ends of a travel, the lower one first; one length goes from or to 0."""
    found = lengths(-20_000, 20_000, 1, 2, places={})(text, said)
    ends = [Amount("0", 0.0), *found.value] if len(found.value) == 1 else found.value
    low, high = sorted(ends, key=lambda at: at.mm)
    if low.mm == high.mm:
        raise Wanted("two different ends", text)
    return found._replace(
        value=[low, high], kept=" to ".join(kept_as([each], said.unit) for each in (low, high))
    )


def must_be_within(found: Amount, low_mm: float, high_mm: float, unit: Unit) -> None:
    """Raise ValueError for a length that is not within."""
    if not low_mm <= found.mm <= high_mm:
        low, high = told_size(low_mm, unit), told_size(high_mm, unit)
        raise ValueError(
            f"expected {low} to {high}, got {told_size(found.mm, unit)}"
            + _other_unit(found.mm, low_mm, high_mm, unit)
        )


def _other_unit(value_mm: float, low_mm: float, high_mm: float, unit: Unit) -> str:
    """The end of a sentence where a length would be as usual in the other unit; else nothing."""
    other: Unit = "mm" if unit == "in" else "in"
    factor = 1 / MM_PER_INCH if unit == "in" else MM_PER_INCH
    if low_mm <= value_mm * factor <= high_mm:
        name = "inches" if other == "in" else other
        return f"; if that was {name}, say {in_unit(value_mm, unit):.6g} {other}"
    return ""


def odd(found: Amount, low_mm: float, high_mm: float, what: str, unit: Unit) -> list[str]:
    """A doubt about a length that is beyond what is usual."""
    if low_mm <= found.mm <= high_mm:
        return []
    low, high = (f"{float(f'{in_unit(each, unit):.2g}'):g}" for each in (low_mm, high_mm))
    usual = f"usual is {low} to {high} {unit}"
    hint = _other_unit(found.mm, low_mm, high_mm, unit)
    return [f"{what} of {told_size(found.mm, unit)}: {usual}{hint}"]


# ---- counts, labels, names -----------------------------------------------------------------------


def counts(text: str, said: Said) -> Read:
    """Holes along X and along Y, such as `12 x 7`. Raises Wanted, ValueError."""
    wanted = "two whole numbers, along X and along Y"
    scanned = scan(text, 2)
    if len(scanned.lengths) != 2 or not all(n.isdigit() and not u for n, u in scanned.lengths):
        raise Wanted(wanted, text)
    order, rest = scanned.placed({**IN_XYZ, "back": 1, "away": 1}, text)
    found = [int(scanned.lengths[at][0]) for at in order]
    if not all(1 <= count <= 500 for count in found):
        raise ValueError(f"expected 1 to 500 holes each way, got {text.strip()}")
    return Read(found, " x ".join(map(str, found)), rest)


_LABEL = re.compile("[A-Z]{1,3}[1-9][0-9]{0,2}")
_RANKS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth",
    "eleventh", "twelfth",
)  # fmt: skip


def labels(text: str) -> tuple[list[str], list[str]]:
    """The labels of holes in an answer, such as `A1, B7`, and its other words."""
    found, rest = list[str](), list[str]()
    for word in words_of(text):
        (found if _LABEL.fullmatch(word.upper()) else rest).append(word)
    return [each.upper() for each in found], rest


def rank(word: str) -> int:
    """What somebody counts to, as `3`, `3rd`, `third`; 0 for another word."""
    figures = re.fullmatch("([0-9]{1,3})(?:st|nd|rd|th)?", word)
    return int(figures[1]) if figures else _RANKS.index(word) + 1 if word in _RANKS else 0


def name(text: str, said: Said) -> Read:
    """A name that a document may have. Raises ValueError."""
    found = check_name(text.strip())
    return Read(found, found)


def code(text: str, said: Said) -> Read:
    """A work offset. Raises ValueError."""
    plain = re.sub(r"\b(?:g\s*)?(5[4-9]\b)", r"g\1", cleaned(text))
    named = re.findall(r"\bg5[4-9](?:\.[1-9])?(?: ?p[1-9][0-9]*)?", plain)
    found = check_code(named[0].upper() if len(named) == 1 else text.strip())
    if found == "G54" and said["homes"] == "no":
        raise ValueError("G54 is the reference that the others count from; take another, as G55")
    rest = words_of(plain.replace(named[0], " ")) if named else []
    return Read(found, found, tuple(rest))
