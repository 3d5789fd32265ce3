"""Many decimal numbers at once, each exactly as `float(text)` reads it.

Eight characters are taken together as one 64-bit integer, a byte for each, the first character in
the lowest byte. All digits of a number are then added up by three multiplications instead of a
loop over its characters, which takes half as long again (tests/benchmarks/reading_tricks.py). A
number is its digits as an integer divided by a power of ten: one rounding, so the nearest double,
up to 15 digits.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pincorner.program.reader.motions import Floats, Ints

DIGITS = 0x00
POINT = 0x10
PLUS_MINUS = (0x20, 0x21)
"""Codes of the characters of numbers: of digit 0, of the point, of the signs."""

FRONT = b"0" * 16
"""Has to stand in front of text, so that every number has sixteen characters before its end."""

_MOST = 16
_EACH = np.uint64(0x0101010101010101)
_SIGNS = _EACH * np.uint64(PLUS_MINUS[0])
_BYTE_NUMBERS = np.uint64(0x0706050403020100)
_POWERS = 10.0 ** np.arange(_MOST)
_LAST = np.array([0] + [(1 << 64) - (1 << 8 * (8 - count)) for count in range(1, 9)], np.uint64)
"""Keeps the last 0 to 8 characters of eight."""

_STEPS = (
    (np.uint64(1 + (10 << 8)), np.uint64(8), np.uint64(0x00FF00FF00FF00FF)),
    (np.uint64(1 + (100 << 16)), np.uint64(16), np.uint64(0x0000FFFF0000FFFF)),
    (np.uint64(1 + (10_000 << 32)), np.uint64(32), np.uint64(0x00000000FFFFFFFF)),
)
"""A factor that adds ten, a hundred, ten thousand times each neighbour below; by how many bits the
sums then stand too high; what is kept."""

Words64 = NDArray[np.uint64]


def numbers_of(codes: bytes, letter: Ints, end: Ints) -> tuple[Floats, NDArray[np.bool_]]:
    """The numbers behind letters, and which of them are malformed (their values mean nothing).

    `codes` is text, each character as its code; `letter`: where the letters stand in it, `end`:
    where the next letter or line end does.
    """
    start = letter + 1
    first = np.frombuffer(codes, np.uint8).take(start, mode="clip")
    count = end - start
    count -= first >> 5 == PLUS_MINUS[0] >> 5
    digits, decimals, has_point, odd = _eight(codes, end, count)
    odd |= count <= has_point
    longer = np.flatnonzero(count > 8)
    if longer.size:
        _add_front(codes, longer, end, count, digits, decimals, has_point, odd)
    number = digits.view(np.int64).astype(np.float64)
    number /= _POWERS.take(decimals, mode="clip")  # beyond only where the number is malformed
    np.negative(number, out=number, where=first == PLUS_MINUS[1])
    return number, odd


def _add_front(
    codes: bytes,
    longer: Ints,
    end: Ints,
    count: Ints,
    digits: Words64,
    decimals: Ints,
    has_point: NDArray[np.bool_],
    odd: NDArray[np.bool_],
) -> None:
    """Put what stands in front of the last eight characters to the numbers that have more."""
    rest = count[longer] - 8
    front, front_decimals, front_point, front_odd = _eight(codes, end[longer] - 8, rest)
    digits[longer] += front * _POWERS[8 - has_point[longer]].astype(np.uint64)
    decimals[longer] += (front_decimals + 8) * front_point
    odd[longer] |= front_odd | (front_point & has_point[longer]) | (rest > _MOST - 9)


def _eight(
    codes: bytes, end: Ints, count: Ints
) -> tuple[Words64, Ints, NDArray[np.bool_], NDArray[np.bool_]]:
    """Up to eight of `count` characters before `end`: their digits as an integer, how many of them
    stand behind the point, whether there is one, whether a sign or a second point is there."""
    every_eight = np.ndarray((len(codes) - 7,), "<u8", codes, strides=(1,))
    taken = every_eight[end - 8]
    taken &= _LAST.take(count, mode="clip")
    point = taken >> np.uint64(4)
    point &= _EACH  # 1 in the byte of the point
    has_point = point != 0
    before = point - has_point  # ones in all bytes before the point
    odd = (taken & _SIGNS | point & before) != 0
    decimals = (point * _BYTE_NUMBERS) >> np.uint64(56)  # the point's byte to the top: 7 - byte
    before &= taken
    before *= np.uint64(255)
    point *= np.uint64(POINT)
    taken += before  # closes the gap: one byte up is 256 times
    taken -= point
    return _added_up(taken), decimals.view(np.int64), has_point, odd


def _added_up(digits: Words64) -> Words64:
    """Eight digits, one in each byte, as an integer: to pairs, to fours, to all eight."""
    for factor, bits, mask in _STEPS:
        digits *= factor
        digits >>= bits
        digits &= mask
    return digits
