"""Lengths in and out.

Inside everything is millimetres. Text comes in exactly (3/8 in is 9.525 mm, not nearly so) and
goes out with fixed decimals. The inch is exactly 25.4 mm (international yard and pound agreement,
1959; ISO 80000-3).
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Literal

Unit = Literal["mm", "in"]

MM_PER_INCH = 25.4
_EXACT_MM = {"mm": Fraction(1), "in": Fraction(254, 10)}

LARGEST_MM = 100_000.0
"""No length in a document is longer than 100 m; more is a slip of the unit or the finger."""

_LENGTH = re.compile(
    r"""\s* (?P<sign>[-+]?)
        (?: (?P<whole>[0-9]{1,9})\s+(?P<top>[0-9]{1,9})/(?P<under>[0-9]{1,9})     # 3 1/4
          | (?P<only_top>[0-9]{1,9})/(?P<only_under>[0-9]{1,9})                # 3/8
          | (?P<decimal>(?:[0-9]{1,12}(?:\.[0-9]{0,20})?|\.[0-9]{1,20})          # 82.55, .5
              (?:[eE]-[0-9]{1,3})?) )                                          # 1.5e-07
        \s* (?P<unit>mm|in)? \s*""",
    re.VERBOSE,
)


def parse_length(text: str, default: Unit | None, example: Unit = "mm") -> float:
    """The length that `text` states, in mm: `82.55 mm`, `3 1/4 in`, `3/8in`.

    A bare number is in `default`; with `default` None the unit must be written, as in `example`.
    What is next to nothing may have an exponent, as we write it ourselves: `1.5e-07 mm`.
    Raises ValueError with what was expected.

    >>> parse_length("3 1/4 in", None), parse_length("20", "mm"), parse_length("20", "in")
    (82.55, 20.0, 508.0)
    """
    match = _LENGTH.fullmatch(text)
    if match is None:
        shown = "3 1/4 in" if "in" in (default, example) else "82.5 mm or 3 1/4 in"
        raise ValueError(f"expected a length such as {shown}, got {text!r}")
    stated: Unit | None = "in" if match["unit"] == "in" else "mm" if match["unit"] else None
    unit = stated or default
    if unit is None:
        raise ValueError(f"expected a length with its unit, such as {text.strip()} {example}")
    value = _fraction(match) * _EXACT_MM[unit]
    return check_length(float(-value if match["sign"] == "-" else value), unit)


def _fraction(match: re.Match[str]) -> Fraction:
    if match["decimal"] is not None:
        return Fraction(match["decimal"])
    top, under = match["top"] or match["only_top"], match["under"] or match["only_under"]
    if int(under) == 0:
        raise ValueError("a fraction cannot have 0 below the line")
    return int(match["whole"] or 0) + Fraction(int(top), int(under))


def length_mm(value: float, unit: Unit) -> float:
    """A number in `unit` as mm, exact for the decimal digits it was written with.

    Raises ValueError where it is not finite or longer than 100 m.
    """
    if not math.isfinite(value):
        raise ValueError(f"expected a finite number, got {value}")
    if unit == "in" and abs(value) > LARGEST_MM:  # in mm it could be more than a float holds
        raise ValueError(f"expected at most 100 m, got {value:g} in")
    return check_length(exact_mm(value, unit), unit)


def exact_mm(value: float, unit: Unit) -> float:
    """The same of a figure that we printed, which may come out longer than what is entered."""
    return float(value) if unit == "mm" else float(Fraction(repr(value)) * _EXACT_MM[unit])


def check_length(value_mm: float, unit: Unit = "mm") -> float:
    """`value_mm` itself; ValueError above 100 m, told in the unit."""
    if abs(value_mm) > LARGEST_MM:
        raise ValueError(f"expected at most 100 m, got {in_unit(value_mm, unit):g} {unit}")
    return value_mm


def in_unit(value_mm: float, unit: Unit) -> float:
    """Millimetres as a number in `unit`."""
    return value_mm if unit == "mm" else value_mm / MM_PER_INCH


Rounded = Literal["nearest", "up", "down"]
"""Which way a figure is rounded. Heights of what stands in the way and depths go up; room, gaps
and what is left go down; places, sizes and how far jigs overlap to the nearest."""
NEAREST: Rounded = "nearest"
UP: Rounded = "up"
DOWN: Rounded = "down"

_STEP_ENDS = 1e-6
"""What doubles leave of a whole step, in steps: no figure is rounded a step farther for it."""


def figure(value_mm: float, unit: Unit, decimals: int = 3, rounded: Rounded = NEAREST) -> str:
    """A length as text in `unit`, without it; `decimals` in mm, one more in inches."""
    return fixed(in_unit(value_mm, unit), decimals + (unit == "in"), rounded)


def told(value_mm: float, unit: Unit, decimals: int = 3, rounded: Rounded = NEAREST) -> str:
    """The same with the unit: `1.600 mm`, `0.0630 in`."""
    return f"{figure(value_mm, unit, decimals, rounded)} {unit}"


def told_up(value_mm: float, unit: Unit, decimals: int = 3) -> str:
    """The same, never told too small: heights of what stands in the way, depths."""
    return told(value_mm, unit, decimals, UP)


def told_down(value_mm: float, unit: Unit, decimals: int = 3) -> str:
    """The same, never told too large: room, gaps, what is left."""
    return told(value_mm, unit, decimals, DOWN)


def per_thousand(unit: Unit) -> str:
    """A thousandth of a length for each length, as the trade says it: `mm per m`, `thou per in`."""
    return "thou per in" if unit == "in" else "mm per m"


def told_size(value_mm: float, unit: Unit) -> str:
    """A size as people state it: `6 mm`, `0.25 in`."""
    return f"{in_unit(value_mm, unit):.6g} {unit}"


_INCH_DECIMALS = 6


def exact_number(value_mm: float, unit: Unit) -> float | None:
    """The number in `unit` that reads as this length, to the last bit; None where none of few
    decimals does."""
    if unit == "mm":
        return value_mm
    for decimals in range(_INCH_DECIMALS + 1):
        inches = round(value_mm / MM_PER_INCH, decimals)
        if exact_mm(inches, "in") == value_mm:
            return inches
    return None


def stated(value_mm: float, unit: Unit) -> str:
    """A length as a command line takes it, exactly: `10in`, `203.2mm`."""
    number = exact_number(value_mm, unit)
    found, unit = (value_mm, "mm") if number is None else (number, unit)
    return f"{int(found) if found == int(found) else found!r}{unit}"


def clock(seconds: float) -> str:
    """A time as people read it: minutes and seconds, with hours where there are any."""
    whole, hours = round(seconds), 0
    whole, rest = divmod(whole, 60)
    if whole >= 60:
        hours, whole = divmod(whole, 60)
        return f"{hours}:{whole:02}:{rest:02}"
    return f"{whole}:{rest:02}"


def fixed(value: float, decimals: int, rounded: Rounded = NEAREST) -> str:
    """A number with fixed decimals, no exponent and never a negative zero.

    >>> fixed(1.125, 2), fixed(1.125, 2, UP), fixed(-1.121, 2, UP), fixed(1.129, 2, DOWN)
    ('1.12', '1.13', '-1.12', '1.12')
    """
    if rounded != NEAREST and math.isfinite(value):
        steps = value * 10**decimals
        whole = math.ceil(steps - _STEP_ENDS) if rounded == UP else math.floor(steps + _STEP_ENDS)
        value = whole / 10**decimals
    text = f"{value:.{decimals}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text
