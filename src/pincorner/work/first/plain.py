"""The plain words of people who type an answer: cleaned, hedges taken off, choices recognised.

What may mean more than one thing is never guessed: it raises `Unclear`, which asks.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Sequence
from difflib import get_close_matches
from fractions import Fraction
from typing import NamedTuple


class Unclear(ValueError):
    """An answer that may mean more than one thing; `meant`: what Enter takes, if that is likely."""

    def __init__(self, asks: str, meant: str | None = None) -> None:
        super().__init__(asks)
        self.meant = meant


class OneByOne(ValueError):
    """An answer to several questions in one that wants them one at a time."""


class Wanted(ValueError):
    """An answer that does not say what was asked for."""

    def __init__(self, what: str, got: str, more: str = "") -> None:
        super().__init__(f"expected {what}, got {got.strip()!r}{more}")
        self.what, self.got, self.more = what, got.strip(), more

    def with_example(self, example: str) -> str:
        """The same with an answer that would do, in the words of the question."""
        return f"expected {self.what}, such as {example}; got {self.got!r}{self.more}"


_AS_TYPED = {
    "\N{RIGHT DOUBLE QUOTATION MARK}": '"', "\N{LEFT DOUBLE QUOTATION MARK}": '"',
    "\N{DOUBLE PRIME}": '"', "\N{PRIME}": "'", "\N{RIGHT SINGLE QUOTATION MARK}": "'",
    "\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "\N{EM DASH}": "-",
    "\N{HORIZONTAL ELLIPSIS}": "..", "\N{PLUS-MINUS SIGN}": "+-", "\N{MULTIPLICATION SIGN}": "x",
    "\N{DIAMETER SIGN}": "", "\N{DEGREE SIGN}": " degrees", "\N{MICRO SIGN}m": "um",
    "\N{GREEK SMALL LETTER MU}m": "um",
}  # fmt: skip

_WORDS_OF_NUMBERS = {
    "zero": "0", "one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6",
    "seven": "7", "eight": "8", "nine": "9", "ten": "10", "eleven": "11", "twelve": "12",
    "thirteen": "13", "fourteen": "14", "fifteen": "15", "sixteen": "16", "seventeen": "17",
    "eighteen": "18", "nineteen": "19",
}  # fmt: skip
_RANKS = """
first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth thirteenth
fourteenth fifteenth sixteenth seventeenth eighteenth nineteenth twentieth
"""
ORDINALS = {word: number for number, word in enumerate(_RANKS.split(), 1)}
"""What somebody counts by, as `the third hole`."""

_HEDGES = """
about around roughly approx approximately ca circa maybe perhaps probably i i'd i'll we think guess
reckon believe suppose say it its it's is they are the that that's a an please just only exactly
nearly almost my our should be would have has got there this well ok okay thanks thank you mine
take use call his her
"""
HEDGES = frozenset(_HEDGES.split())
"""Words around an answer that say nothing, or how sure somebody is."""

_NOTS = """
no not none never nothing without doesn't doesnt don't dont isn't isnt won't can't cannot nope nor
neither hasn't hasnt
"""
NOTS = frozenset(_NOTS.split())

NOT_KNOWN = "not known"
"""The answer of somebody who does not know: what it is about is left out."""

_NOT_KNOWN = frozenset((
    NOT_KNOWN, "unknown", "no idea", "not sure", "unsure", "dont know", "don't know", "do not know",
    "dunno", "no clue", "skip", "n/a", "na", "can't say", "cannot say", "cant say", "none",
    "nothing", "not measured", "never measured", "haven't measured", "not yet", "not sure yet",
    "later", "pass", "nobody knows", "who knows", "-", "--", "??", "not known yet", "no data",
    "not given", "not stated", "next", "leave out", "leave it out", "left out",
))  # fmt: skip


_DOES_NOT_KNOW = re.compile(
    r"(?:i |we |i'm |we're )?(?:(?:do not|don't|dont) (?:really )?know|no idea|no clue|not sure"
    r"|(?:can't|cannot|cant|couldn't|haven't|have not|did not|didn't) (?:really )?"
    r"(?:be )?(?:measure|say|tell|check|know|look)(?:e?d)?)\b"
)
_SAYS_SO = re.compile(
    r"\b(?:never|not|haven't|have not|didn't|did not) (?:really |ever )?(?:measured?|checked?)\b"
    r"|\bno (?:idea|clue)\b|\b(?:don't|dont|do not) (?:really )?know\b"
)
_NOT_YET = frozenset(("yet", "really", "honestly", "now", "sorry"))


def cleaned(text: str) -> str:
    """An answer in lower case with one blank between words, signs of typesetting as they are typed.

    Fractions that are one character become `1/2`.
    """
    for sign, plain in _AS_TYPED.items():
        text = text.replace(sign, plain)
    text = _SO_TO_SAY.sub(" ", "".join(_fraction(each) for each in text).lower())
    return " ".join(text.split()).strip(" !;")


def in_axes(plain: str) -> str:
    """A text in which `left to right` is along X, `front to back` along Y, `up and down` Z."""
    plain = _FRONT_TO_BACK.sub("along y", _LEFT_TO_RIGHT.sub("along x", plain))
    return re.sub(r"\b(?:up and down|down and up)\b", "along z", plain)


_LEFT_TO_RIGHT = re.compile(
    r"\b(?:from )?(?:left[- ]to[- ]right|right[- ]to[- ]left|side[- ]to[- ]side)\b"
)
_FRONT_TO_BACK = re.compile(
    r"\b(?:from )?(?:front[- ]to[- ](?:the )?(?:back|rear)|(?:back|rear)[- ]to[- ](?:the )?front)\b"
)
_SO_TO_SAY = re.compile(r"\b(?:more or less|or so|or thereabouts|give or take|as far as i know)\b")


def _fraction(character: str) -> str:
    if character.isascii() or unicodedata.category(character) != "No":
        return character
    value = Fraction(unicodedata.numeric(character)).limit_denominator(16)
    return f" {value}" if value.denominator > 1 else character


def is_not_known(text: str) -> bool:
    """Whether somebody says that they do not know."""
    plain = cleaned(text).rstrip(".")
    has_figures = re.search("[0-9]", with_figures(plain))
    if (_DOES_NOT_KNOW.match(plain) or _SAYS_SO.search(plain)) and not has_figures:
        return True
    words = [word for word in re.split(r"[\s,]+", plain) if word not in HEDGES | _NOT_YET]
    return plain in _NOT_KNOWN or " ".join(words) in _NOT_KNOWN


def with_figures(text: str) -> str:
    """Numbers that are written as words, and what stands for a sign, as figures."""
    text = re.sub(r"\bplus\s*(?:or|/|-)?\s*minus\b|\+\s*/?\s*-", " ", text)
    text = re.sub(r"\b(?:minus|negative)\s+(?=[.0-9])", "-", text)
    text = re.sub(r"\bplus\s+(?=[.0-9])", "", text)
    text = re.sub(r"\bthree[ -]quarters?\b(?: of)?(?: an?\b)?", "3/4", text)
    text = re.sub(r"\b(?:an? |one )?quarter\b(?: of)?(?: an?\b)?", "1/4", text)
    text = re.sub(
        r"\b(?:an?|one) (eighth|sixteenth|thirty-second)\b(?! (?:hole|row|column))"
        r"(?: of(?: an?)?\b)?",
        lambda found: f"1/{_PARTS_OF_AN_INCH[found[1]]}",
        text,
    )
    text = re.sub(r"([0-9])\s+and (?:an? )?half\b", r"\1 1/2", text)
    text = re.sub(r"\b(?:an? |one )?half\b(?: an?\b)?", "1/2", text)
    text = _TENS_AND_RANKS.sub(lambda found: f"{_TENS[found[1]] + ORDINALS[found[2]]}th", text)
    text = _TENS_AND_ONES.sub(_tens_and_ones, text)
    text = re.sub(r"\b(?:a )?couple(?: of)?\b", "2", text)
    text = re.sub(r"\ban? (?=inch\b|foot\b|millimet)", "1 ", text)
    pattern = rf"\b(?:{'|'.join(_WORDS_OF_NUMBERS)})\b"
    text = re.sub(pattern, lambda match: _WORDS_OF_NUMBERS[match[0]], text)
    text = re.sub(r"\b([0-9]+) point ([0-9]+)\b", r"\1.\2", text)
    text = re.sub(r"\b([0-9]{1,2}) hundred\b", r"\g<1>00", text)
    text = re.sub(r"\ban? (?=hundredth\b)", "1 ", text)
    return re.sub(r"\b([0-9]{1,2}) hundredths?\b", lambda match: f"{int(match[1]) / 100:g}", text)


_PARTS_OF_AN_INCH = {"eighth": 8, "sixteenth": 16, "thirty-second": 32}
_TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70,
    "eighty": 80, "ninety": 90,
}  # fmt: skip
_TENS_AND_RANKS = re.compile(rf"\b({'|'.join(_TENS)})[- ]({'|'.join(list(ORDINALS)[:9])})\b")
_TENS_AND_ONES = re.compile(
    rf"\b({'|'.join(_TENS)})(?:[- ]({'|'.join(list(_WORDS_OF_NUMBERS)[1:10])}))?\b"
)


def _tens_and_ones(match: re.Match[str]) -> str:
    return str(_TENS[match[1]] + int(_WORDS_OF_NUMBERS[match[2] or "zero"]))


def words_of(text: str) -> list[str]:
    """The words of an answer, without points and commas."""
    return [word for word in re.split(r"[\s,;:()]+", cleaned(text).replace(". ", " ")) if word]


# ---- choices -------------------------------------------------------------------------------------


class Option(NamedTuple):
    """One of a few answers: its word, what it means, and what people say for it."""

    word: str
    means: str = ""
    phrases: tuple[str, ...] = ()


class Choice:
    """A reader of one of a few answers: by its word or the beginning of it, by its number, or by
    what people say for it. The word comes out.

    negated: the answer that a `no` or `not` stands for; None: a `not` is asked about. What people
    say for two of them is asked about.
    """

    def __init__(self, *options: Option, negated: str | None = None) -> None:
        self.options, self._negated = options, negated
        self._by_phrase: dict[tuple[str, ...], set[str]] = {}
        for each in options:
            for phrase in (each.word, each.word.replace("-", " "), *each.phrases):
                self._by_phrase.setdefault(tuple(phrase.split()), set()).add(each.word)

    def __call__(self, text: str, said: object = None) -> str:
        """The option that an answer says. Raises Unclear, Wanted."""
        whole = cleaned(text).rstrip(".")
        words = [word for word in (each.strip(".?") for each in words_of(text)) if word]
        if found := self._by_phrase.get(tuple(words)):
            return self._one_of(found)
        if is_not_known(text):
            raise Wanted(self._listed(), text)
        telling = [word for word in words if word not in HEDGES]
        if found := self._by_phrase.get(tuple(telling)):
            return self._one_of(found)
        if number := self._by_number(telling):
            return number
        heard, rest = self._heard(words)
        is_negated = any(word in NOTS for word in rest)
        if self._negated is not None and (is_negated or self._negated in heard):
            if words[0] not in (YES, "y", "yeah", "yep"):
                return self._negated
            raise Unclear("yes or no?")
        if is_negated:
            raise Unclear(f"say which it is: {self._listed()}")
        if heard:
            return self._one_of(self._named_first(telling, heard))
        begun = {each.word for each in self.options if _begins(each.word, telling)}
        begun = begun or set().union(
            *(found for phrase, found in self._by_phrase.items() if _begins(phrase, telling))
        )
        if begun:
            return self._one_of(begun)
        if sum(word.isdigit() for word in telling) > 1:
            raise Unclear(f"which of them: {self._listed()}?")
        near = get_close_matches(whole, [each.word for each in self.options], n=1, cutoff=0.6)
        raise Wanted(self._listed(), text, f"; did you mean {near[0]}?" if near else "")

    def _one_of(self, found: Collection[str]) -> str:
        """The one option that was found. Raises Unclear for more than one."""
        if len(found) > 1:
            told = ", or ".join(
                f"{each} ({means})" if (means := self._meaning(each)) else each
                for each in sorted(found, key=self._place)
            )
            raise Unclear(f"which of them: {told}?")
        return next(iter(found))

    def _named_first(self, telling: Sequence[str], heard: set[str]) -> set[str]:
        """The option that an answer begins with, where it names no other by its own word."""
        own = heard & set(telling)
        return own if len(own) == 1 and telling[0] in own else heard

    def means(self, word: str) -> str:
        """What an option means, behind its word."""
        means = self._meaning(word)
        return f"{word}: {means}" if means else word

    def _meaning(self, word: str) -> str:
        return next(each.means for each in self.options if each.word == word)

    def _listed(self) -> str:
        return " or ".join(each.word for each in self.options)

    def _place(self, word: str) -> int:
        return [each.word for each in self.options].index(word)

    def _by_number(self, telling: Sequence[str]) -> str | None:
        """The option of a number, as `3`, `number 3`, `the third one`, `last`."""
        left = [word.strip("#.)") for word in telling if word not in _COUNTING]
        if len(left) != 1:
            return None
        numbers = {**ORDINALS, "last": len(self.options), **_COUNTED}
        figure = re.fullmatch("([0-9]{1,2})(?:st|nd|rd|th)?", left[0])
        number = int(figure[1]) if figure else numbers.get(left[0], 0)
        return self.options[number - 1].word if 1 <= number <= len(self.options) else None

    def _heard(self, words: Sequence[str]) -> tuple[set[str], list[str]]:
        """The options whose phrases stand in an answer, longest first, and the words left over."""
        rest: list[str] = list(words)
        found: set[str] = set()
        for phrase in sorted(self._by_phrase, key=len, reverse=True):
            if phrase in _ALONE:
                continue
            for start in range(len(rest) - len(phrase) + 1):
                if tuple(rest[start : start + len(phrase)]) == phrase:
                    found |= self._by_phrase[phrase]
                    rest[start : start + len(phrase)] = ["/"]
                    break
        return found, rest


_ALONE = {("y",), ("n",)}
"""What stands for yes and no alone: in a sentence Y is an axis."""
_COUNTING = frozenset({"number", "no.", "option", "block", "choice", "#", "one", "nr", "answer"})
_COUNTED = {word: int(figure) for word, figure in _WORDS_OF_NUMBERS.items()}


def _begins(phrase: str | Sequence[str], telling: Sequence[str]) -> bool:
    whole = phrase if isinstance(phrase, str) else " ".join(phrase)
    return len(telling) == 1 and whole.startswith(telling[0])


YES, NO = "yes", "no"


def yes_or_no(
    yes: Sequence[str] = (), no: Sequence[str] = (), means: tuple[str, str] = ("", "")
) -> Choice:
    """A reader of yes and no, with what else people say for either, and what each means."""
    return Choice(
        Option(YES, means[0], (
            "y", "yeah", "yep", "yup", "sure", "true", "of course", "certainly", "it does",
            "it is", "does", "always", "right", "correct", *yes,
        )),
        Option(NO, means[1], (
            "n", "nope", "nah", "false", "not", "no it doesn't", "it does not", "it is not",
            "does not", "never", *no,
        )),
        negated=NO,
    )  # fmt: skip
