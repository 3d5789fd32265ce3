"""Lengths come in exactly and go out with fixed decimals."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pincorner.units import (
    LARGEST_MM,
    MM_PER_INCH,
    Rounded,
    Unit,
    check_length,
    figure,
    fixed,
    in_unit,
    length_mm,
    parse_length,
    told_down,
    told_up,
)

INCH_MM = Fraction(254, 10)
"""International yard and pound agreement, 1959: exactly 25.4 mm."""


@pytest.mark.parametrize(
    ("text", "default", "want_mm"),
    [
        ("3/8 in", None, 9.525),
        ("3/8in", None, 9.525),
        ("3 1/4 in", None, 82.55),
        ("3  1/4  in", None, 82.55),
        ("  3 1/4in ", None, 82.55),
        ("-3 1/4 in", None, -82.55),
        ("+1/2 in", None, 12.7),
        ("82.55 mm", None, 82.55),
        ("82.55mm", None, 82.55),
        ("0.1 in", None, 2.54),
        (".5 in", None, 12.7),
        ("5. mm", None, 5.0),
        ("1/3 mm", None, 1 / 3),
        ("1/64 in", None, 0.396875),
        ("7", "mm", 7.0),
        ("7", "in", 177.8),
        ("7 mm", "in", 7.0),
        ("7 in", "mm", 177.8),
        ("3 1/4", "in", 82.55),
        ("100000 mm", None, 100_000.0),
        ("-0 mm", None, 0.0),
    ],
)
def test_length_text(text: str, default: Unit | None, want_mm: float) -> None:
    """A length's text is the double nearest to its exact value in mm."""
    assert parse_length(text, default) == want_mm


@given(st.floats(5e-324, LARGEST_MM), st.sampled_from(["", "-"]))
def test_every_figure_that_json_tells_may_be_given_back(value: float, sign: str) -> None:
    """The shortest text of a double, as reports print it, is read as that double."""
    assert parse_length(f"{sign}{value!r}", "mm") == float(f"{sign}{value!r}")


def test_slats_on_five_inch_centres() -> None:
    """Slats of 4 5/8 in on 5 in centres leave a track of 3/8 in (common practice, no source)."""
    centres, slat = parse_length("5 in", None), parse_length("4 5/8 in", None)
    assert (centres, slat) == (127.0, 117.475)
    track = parse_length("3/8 in", None)
    one_step = math.ulp(centres)  # the difference of two doubles below 128
    assert track == 9.525 and abs(centres - slat - track) <= one_step


@pytest.mark.parametrize(
    ("text", "default", "fragment"),
    [
        ("", "mm", "expected a length"),
        ("mm", "mm", "expected a length"),
        ("5", None, "with its unit, such as 5 mm"),
        ("3 1/4", None, "with its unit"),
        ("5 cm", None, "expected a length"),
        ('5"', "in", "expected a length"),
        ("5 IN", None, "expected a length"),
        ("5,5 mm", None, "expected a length"),
        ("1e3 mm", None, "expected a length"),
        ("5 mm 3", None, "expected a length"),
        ("3/4/5 in", None, "expected a length"),
        ("3.5/4 in", None, "expected a length"),
        ("1 2 in", None, "expected a length"),
        ("- 5 mm", None, "expected a length"),
        ("--5 mm", None, "expected a length"),
        ("nan", "mm", "expected a length"),
        ("inf mm", None, "expected a length"),
        (".", "mm", "expected a length"),
        ("1/0 in", None, "cannot have 0 below the line"),
        ("2 1/0 in", None, "cannot have 0 below the line"),
        ("100000.001 mm", None, "at most 100 m"),
        ("-100001 mm", None, "at most 100 m"),
        ("3938 in", None, "at most 100 m"),
        ("9" * 40 + " mm", None, "expected a length"),
    ],
)
def test_bad_length_says_what_was_expected(text: str, default: Unit | None, fragment: str) -> None:
    """A text that is no length is refused with what was expected."""
    with pytest.raises(ValueError, match=r"expected|fraction") as caught:
        parse_length(text, default)
    assert fragment in str(caught.value) and "\n" not in str(caught.value)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_number_must_be_finite(value: float, unit: Unit) -> None:
    """A number that is not finite is no length in either unit."""
    with pytest.raises(ValueError, match="expected a finite number"):
        length_mm(value, unit)


@given(st.integers(-300_000, 300_000), st.integers(0, 4))
def test_inch_decimals_are_exact(digits: int, places: int) -> None:
    """An inch number is converted as the decimal it was written with, rounded once."""
    written = Decimal(digits).scaleb(-places)
    inches = float(written)
    if abs(Fraction(written) * INCH_MM) > LARGEST_MM:
        with pytest.raises(ValueError, match="at most 100 m"):
            length_mm(inches, "in")
    else:
        assert length_mm(inches, "in") == float(Fraction(written) * INCH_MM)


@given(st.integers(0, 3000), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_fractions_are_exact(whole: int, top: int, under: int) -> None:
    """A mixed number of inches is converted as a fraction, rounded once."""
    want = float((whole + Fraction(top, under)) * INCH_MM)
    assert parse_length(f"{whole} {top}/{under} in", None) == want


@given(st.floats(-LARGEST_MM, LARGEST_MM))
def test_millimetres_pass_unchanged(value: float) -> None:
    """Millimetres are not touched, and a length up to 100 m passes."""
    assert length_mm(value, "mm") == value == check_length(value)


@given(st.floats(-3900, 3900))
def test_inches_there_and_back(value: float) -> None:
    """Inches to mm and back differ by no more than two roundings."""
    back = in_unit(length_mm(value, "in"), "in")
    # Near zero the millimetres keep fewer digits than the inches: the smallest double is the unit.
    assert abs(back - value) <= 2 * math.ulp(value) + math.ulp(0.0)
    assert in_unit(value, "mm") == value
    assert in_unit(MM_PER_INCH, "in") == 1.0


@pytest.mark.parametrize(
    ("value", "decimals", "want"),
    [
        (0.0, 3, "0.000"),
        (-0.0, 3, "0.000"),
        (-0.0004, 3, "0.000"),
        (-0.0006, 3, "-0.001"),
        (-10.0, 3, "-10.000"),
        (295.0, 3, "295.000"),
        (1e-9, 4, "0.0000"),
        (1e21, 1, "1000000000000000000000.0"),
        (-0.4, 0, "0"),
        (-100.0, 0, "-100"),
    ],
)
def test_fixed_cases(value: float, decimals: int, want: str) -> None:
    """Numbers print with their decimals, without exponent and without a negative zero."""
    assert fixed(value, decimals) == want


FINITE = st.floats(-1e6, 1e6)


@given(FINITE, st.integers(1, 6))
def test_fixed_is_plain(value: float, decimals: int) -> None:
    """A printed number has the decimals asked for, no exponent, and no sign on zero."""
    text = fixed(value, decimals)
    whole, _, rest = text.removeprefix("-").partition(".")
    assert whole.isdecimal() and rest.isdecimal() and len(rest) == decimals
    assert not (text.startswith("-") and Decimal(text) == 0)


@given(FINITE, st.integers(1, 6))
def test_fixed_rounds_to_nearest(value: float, decimals: int) -> None:
    """Rounding moves a number by at most half the last digit, exactly reckoned."""
    error = abs(Fraction(fixed(value, decimals)) - Fraction(value))
    assert error <= Fraction(1, 2 * 10**decimals)


@given(
    st.floats(-LARGEST_MM, LARGEST_MM),
    st.sampled_from(["up", "down"]),
    st.sampled_from(["mm", "in"]),
    st.integers(0, 4),
)
def test_a_figure_is_never_rounded_to_the_wrong_side(
    value_mm: float, way: Rounded, unit: Unit, decimals: int
) -> None:
    """Rounded up it is never less than the length, down never more, but for what doubles leave;
    nowhere a whole step off; and a figure that is whole stays what it is."""
    text = figure(value_mm, unit, decimals, way)
    step = 10.0 ** -(decimals + (unit == "in"))
    over = (float(text) - in_unit(value_mm, unit)) * (1 if way == "up" else -1)
    slip = 1e-6 * step + 4 * math.ulp(abs(value_mm) + 1.0)  # what doubles leave
    assert -slip <= over < step + slip
    assert fixed(float(text), decimals + (unit == "in"), way) == text


def test_heights_in_the_way_are_told_up_and_room_is_told_down() -> None:
    """1 1/8 in is no 1.12 in of clamp, and 28.575 mm no 28.6 of room (by hand)."""
    assert told_up(28.575, "in", 1) == "1.13 in"
    assert told_down(28.575, "mm", 1) == "28.5 mm"
    assert told_up(55.0, "mm", 1) == "55.0 mm" == told_down(55.0, "mm", 1)
    assert told_up(-0.04, "mm", 1) == "0.0 mm"
