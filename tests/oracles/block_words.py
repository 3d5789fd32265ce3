"""The words on one line of RS274/NGC, read from the rules of NISTIR 6556, section 3.3.

Written from the report alone and used by tests only: it shares no code with the product. Where a
rule is not in references/rs274ngc.yaml, its comment says "from memory".
"""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass

AXES = "XYZABC"
MAX_LINE = 256  # characters, NISTIR 6556, 3.3
LAST_PARAMETER = 5399  # NISTIR 6556, 3.2.1; the number is from memory
CLOSE_TO_INTEGER = 0.0001  # how near an integer must be, NISTIR 6556, 3.3.2, from memory

_LETTERS = "ABCDFGHIJKLMPQRSTXYZ"  # Table 3; N is read apart, for it may only come first
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")  # 3.3.2.1
_OPERATOR = re.compile(r"\*\*|[*/+-]|MOD|AND|OR|XOR")
_LEVELS = (("+", "-", "AND", "OR", "XOR"), ("*", "/", "MOD"), ("**",))  # 3.3.2.3, loosest first
_FUNCTION = re.compile(r"ABS|ACOS|ASIN|COS|EXP|FIX|FUP|LN|ROUND|SIN|SQRT|TAN")


class Fault(ValueError):
    """What is wrong on a line, before anyone has said which line."""


def _modulo(left: float, right: float) -> float:
    """Remainder of the sign-free kind, 0 <= result < |right| (from memory)."""
    rest = math.fmod(left, right)
    return rest + abs(right) if rest < 0 else rest


_BINARY: dict[str, Callable[[float, float], float]] = {
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "**": math.pow,
    "MOD": _modulo,
    "AND": lambda a, b: float(a != 0 and b != 0),
    "OR": lambda a, b: float(a != 0 or b != 0),
    "XOR": lambda a, b: float((a != 0) != (b != 0)),
}
_UNARY: dict[str, Callable[[float], float]] = {  # angles in degrees, 3.3.2.4
    "ABS": abs,
    "ACOS": lambda a: math.degrees(math.acos(a)),
    "ASIN": lambda a: math.degrees(math.asin(a)),
    "COS": lambda a: math.cos(math.radians(a)),
    "EXP": math.exp,
    "FIX": lambda a: float(math.floor(a)),
    "FUP": lambda a: float(math.ceil(a)),
    "LN": math.log,
    "ROUND": lambda a: math.copysign(math.floor(abs(a) + 0.5), a),
    "SIN": lambda a: math.sin(math.radians(a)),
    "SQRT": math.sqrt,
    "TAN": lambda a: math.tan(math.radians(a)),
}


@dataclass(frozen=True)
class Line:
    """One line's content; `settings` are parameters to set once all values are read (3.3.3)."""

    g_codes: tuple[str, ...]
    m_codes: tuple[int, ...]
    words: dict[str, float]
    settings: dict[int, float]
    comments: tuple[str, ...]
    has_expressions: bool


def whole(value: float, what: str) -> int:
    """The integer that `value` is close to; Fault when it is close to none."""
    nearest = round(value)
    if abs(value - nearest) > CLOSE_TO_INTEGER:
        raise Fault(f"{what} must be an integer, not {value:g}")
    return nearest


def read_line(text: str, parameters: dict[int, float]) -> Line:
    """Read one line without its line end; raises Fault for what 3.3 makes an error."""
    if len(text) > MAX_LINE:
        raise Fault(f"{len(text)} characters, more than {MAX_LINE}")
    code, comments = _part_comments(text)
    cursor = _Cursor(code, parameters)
    cursor.take("/")  # block delete; the caller knows the switch
    cursor.line_number()
    g_codes: list[str] = []
    m_codes: list[int] = []
    words: dict[str, float] = {}
    settings: dict[int, float] = {}
    while not cursor.done():
        if cursor.take("("):  # stands for a whole comment
            continue
        if cursor.take("#"):
            number = cursor.parameter_number()
            if not cursor.take("="):
                raise Fault(f"parameter #{number} stands where a word should")
            settings[number] = cursor.value()
            continue
        letter, value = cursor.letter(), cursor.value()
        if letter == "G":
            g_codes.append(_g_code(value))
        elif letter == "M":
            m_codes.append(whole(value, "M"))
        elif letter in words:
            raise Fault(f"two {letter} words on one line")
        else:
            words[letter] = value
    has_expressions = "#" in code or "[" in code
    return Line(tuple(g_codes), tuple(m_codes), words, settings, tuple(comments), has_expressions)


def _g_code(value: float) -> str:
    tenths = whole(value * 10, "ten times a G code")
    return f"G{tenths // 10}" + (f".{tenths % 10}" if tenths % 10 else "")


def _part_comments(text: str) -> tuple[str, list[str]]:
    """Code in capitals without white space, each comment replaced by "("; and the comments."""
    code: list[str] = []
    comments: list[str] = []
    inside: list[str] | None = None
    for character in text:
        if not (" " <= character <= "~" or character == "\t"):
            raise Fault(f"character {character!a} is not of the language")
        if inside is not None:
            if character == "(":
                raise Fault("a comment inside a comment")
            if character == ")":
                comments.append("".join(inside))
                inside = None
            else:
                inside.append(character)
        elif character == "(":
            code.append("(")
            inside = []
        elif character == ")":
            raise Fault("a comment is closed that was not opened")
        elif character == ";":
            raise Fault("a semicolon starts no comment")
        elif character not in " \t":
            code.append(character.upper())
    if inside is not None:
        raise Fault("a comment is not closed on its line")
    return "".join(code), comments


class _Cursor:
    """A place in a line's code, with the parameters that its values may ask for."""

    def __init__(self, code: str, parameters: dict[int, float]) -> None:
        self.code = code
        self.at = 0
        self.parameters = parameters

    def done(self) -> bool:
        return self.at == len(self.code)

    def take(self, token: str) -> bool:
        found = self.code.startswith(token, self.at)
        self.at += len(token) if found else 0
        return found

    def match(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.code, self.at)
        self.at = found.end() if found else self.at
        return found.group() if found else ""

    def line_number(self) -> None:
        if self.take("N"):
            digits = self.match(re.compile("[0-9]+"))
            if not 1 <= len(digits) <= 5:
                raise Fault("N takes one to five digits")

    def letter(self) -> str:
        character = self.code[self.at]
        if character not in _LETTERS:
            raise Fault(f"{character} starts no word")
        self.at += 1
        return character

    def parameter_number(self) -> int:
        number = whole(self.value(), "a parameter's number")
        if not 1 <= number <= LAST_PARAMETER:
            raise Fault(f"there is no parameter #{number}")
        return number

    def value(self) -> float:
        """A real value (3.3.2): number, parameter, expression or function; no sign before these."""
        try:
            value = self._value()
        except (ArithmeticError, ValueError, RecursionError) as error:
            raise error if isinstance(error, Fault) else Fault(f"no value: {error}") from error
        if not math.isfinite(value):
            raise Fault("a value is beyond all numbers")
        return value

    def _value(self) -> float:
        if self.take("["):
            return self._rest_of_expression()
        if self.take("#"):
            return self.parameters.get(self.parameter_number(), 0.0)
        if self.take("ATAN"):
            opposite = self._argument("ATAN")
            if not self.take("/"):
                raise Fault("ATAN takes two expressions with / between")
            return math.degrees(math.atan2(opposite, self._argument("ATAN")))
        if name := self.match(_FUNCTION):
            return _UNARY[name](self._argument(name))
        if digits := self.match(_NUMBER):
            return float(digits)
        raise Fault(f"a number is wanted where {self.code[self.at : self.at + 8]!r} stands")

    def _argument(self, name: str) -> float:
        if not self.take("["):
            raise Fault(f"{name} takes an expression in brackets")
        return self._rest_of_expression()

    def _rest_of_expression(self) -> float:
        value = self._chain(0)
        if not self.take("]"):
            raise Fault("an expression is not closed")
        return value

    def _chain(self, level: int) -> float:
        """Values joined by the operations of one level of precedence, from left to right."""
        if level == len(_LEVELS):
            return self.value()
        left = self._chain(level + 1)
        while True:
            before = self.at
            operator = self.match(_OPERATOR)
            if operator not in _LEVELS[level]:
                self.at = before
                return left
            left = _BINARY[operator](left, self._chain(level + 1))
