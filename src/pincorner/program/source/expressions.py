"""Parameters and expressions that a program determines by itself (RS274/NGC, 3.3.2, 3.3.3).

What a controller keeps from before, or keeps for itself, is not known, and where the report leaves
open what a function gives (3.3.2.4) nothing is computed: the line is not read.
"""

from __future__ import annotations

import math
import operator
import re
from collections.abc import Callable

from pincorner.program.source.lexer import LARGEST

OWN_FROM = 1000
"""Parameters from here on are the controller's own: offsets, probe, state (common practice, no
source; by the report's Table 2 those of RS274/NGC begin at 5061)."""

NEAR_WHOLE = 0.0001
"""How far a value may lie off where a whole number is wanted (3.3.2.1)."""

_COMPUTED = frozenset("XYZIJKRQFSL")
"""Letters whose numbers may be computed. Which code, tool or offset a line names is looked for in
its text as well (stamping, repeating), so that it has to stand there."""

_NUMBER = re.compile(r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_FUNCTION = re.compile(r"ABS|ACOS|ASIN|ATAN|COS|EXP|FIX|FUP|LN|ROUND|SIN|SQRT|TAN")
_OPERATOR = re.compile(r"\*\*|[-+*/]|MOD|AND|XOR|OR")
_RANK = {"**": 3, "*": 2, "/": 2, "MOD": 2}
"""Higher goes first, equals from left to right; all others are 1 (3.3.2.3)."""


class NotKnown(Exception):
    """A value that the program does not determine; the text says why."""


Parameters = dict[int, float]
"""Values that the program has set, by number."""


def words_in(text: str, known: Parameters) -> tuple[list[tuple[str, float]], Parameters]:
    """The words of a text without blanks, and the parameters that it sets, which act behind it.

    Raises NotKnown, and ValueError where the text is neither.
    """
    reader = _Reader(text, known)
    words: list[tuple[str, float]] = []
    settings: Parameters = {}
    while not reader.is_done:
        if reader.takes("#"):
            number = _own(reader.value())
            reader.needs("=")
            settings[number] = reader.value()
        else:
            letter, at = reader.letter(), reader.at
            value = reader.value()
            if letter not in _COMPUTED and not _NUMBER.fullmatch(text, at, reader.at):
                raise NotKnown(f"{letter} by an expression is not followed")
            words.append((letter, value))
    return words, settings


def _whole(value: float) -> float:
    """A value that is wanted whole, if it is near enough; else as it is."""
    nearest = round(value)
    return float(nearest) if abs(value - nearest) <= NEAR_WHOLE else value


class _Reader:
    """Goes through a text from left to right."""

    def __init__(self, text: str, known: Parameters) -> None:
        self._text, self.at, self._known = text, 0, known

    @property
    def is_done(self) -> bool:
        return self.at == len(self._text)

    def takes(self, text: str) -> bool:
        """Go past a text, if it stands here."""
        if not self._text.startswith(text, self.at):
            return False
        self.at += len(text)
        return True

    def needs(self, text: str) -> None:
        if not self.takes(text):
            raise ValueError

    def _matched(self, pattern: re.Pattern[str]) -> str:
        """What a pattern finds here, which is passed; nothing where it finds nothing."""
        found = pattern.match(self._text, self.at)
        self.at = found.end() if found else self.at
        return found.group() if found else ""

    def letter(self) -> str:
        letter = self._text[self.at]
        if not "A" <= letter <= "Z":
            raise ValueError
        self.at += 1
        return letter

    def value(self) -> float:
        """A number, a parameter, a function or an expression in brackets."""
        if digits := self._matched(_NUMBER):
            return _finite(float(digits))
        if self.takes("#"):
            number = _own(self.value())
            if number not in self._known:
                raise NotKnown(f"#{number} is a parameter whose value is not known")
            return self._known[number]
        if name := self._matched(_FUNCTION):
            return self._function(name)
        return self._bracket()

    def _bracket(self) -> float:
        self.needs("[")
        value = self._expression(1)
        self.needs("]")
        return value

    def _expression(self, least: int) -> float:
        """Values and operators of at least a rank."""
        value = self.value()
        while (name := self._next_operator()) and _RANK.get(name, 1) >= least:
            self.at += len(name)
            value = _binary(name, value, self._expression(_RANK.get(name, 1) + 1))
        return value

    def _next_operator(self) -> str:
        found = _OPERATOR.match(self._text, self.at)
        return found.group() if found else ""

    def _function(self, name: str) -> float:
        value = self._bracket()
        if name != "ATAN":
            return _unary(name, value)
        self.needs("/")
        beside = self._bracket()
        if value < 0 or (value == 0 and beside == 0):
            raise NotKnown("ATAN here is read differently by controllers")
        return math.degrees(math.atan2(value, beside))


def _own(value: float) -> int:
    """The number of a parameter that a program may set and read."""
    number = _whole(value)
    if not number.is_integer() or not 1 <= number < OWN_FROM:
        raise NotKnown(f"#{number:g} is no parameter from 1 to {OWN_FROM - 1}")
    return int(number)


def _finite(value: float) -> float:
    if not abs(value) < LARGEST:
        raise NotKnown(f"{value:g} is too large a number")
    return value


_BINARY: dict[str, Callable[[float, float], float]] = {
    "+": operator.add,
    "-": operator.sub,
    "*": operator.mul,
    "/": operator.truediv,
    "**": math.pow,
    "MOD": math.fmod,
    "AND": lambda left, right: float(left != 0 and right != 0),
    "OR": lambda left, right: float(left != 0 or right != 0),
    "XOR": lambda left, right: float((left != 0) != (right != 0)),
}


def _binary(name: str, left: float, right: float) -> float:
    if name == "MOD" and (left < 0 or right < 0):
        raise NotKnown("MOD of a negative number is read differently by controllers")
    return _computed(lambda: _BINARY[name](left, right), f"{left:g} {name} {right:g}")


_UNARY: dict[str, Callable[[float], float]] = {
    "ABS": abs,
    "ACOS": lambda value: math.degrees(math.acos(value)),
    "ASIN": lambda value: math.degrees(math.asin(value)),
    "COS": lambda value: math.cos(math.radians(value)),
    "EXP": math.exp,
    "FIX": math.floor,
    "FUP": math.ceil,
    "LN": math.log,
    "ROUND": round,
    "SIN": lambda value: math.sin(math.radians(value)),
    "SQRT": math.sqrt,
    "TAN": lambda value: math.tan(math.radians(value)),
}


def _unary(name: str, value: float) -> float:
    if name == "ROUND" and value % 1 == 0.5:
        raise NotKnown("ROUND of a half is read differently by controllers")
    return _computed(lambda: _UNARY[name](value), f"{name}[{value:g}]")


def _computed(compute: Callable[[], float], shown: str) -> float:
    try:
        return _finite(float(compute()))
    except (ValueError, OverflowError, ZeroDivisionError):
        raise NotKnown(f"{shown} is no number") from None
