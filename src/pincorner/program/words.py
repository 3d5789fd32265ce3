"""The words of many plain lines at once, as columns.

A line is *plain* if it holds nothing but words that runs of lines can be read by (`plain.py`):
known letters at most once (G apart), numbers well formed, G and M words that change no more than
modes. Other lines are left to `line_reader.py`; here it is enough to know which they are.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.program.comments import MARK, without_quiet
from pincorner.program.modes import PLAIN_G, PLAIN_M
from pincorner.program.motions import Floats, Ints
from pincorner.program.numbers import DIGITS, FRONT, PLUS_MINUS, POINT, numbers_of

LONGEST_LINE = 256
"""Characters in a line (RS274/NGC, 3.3)."""

LONGEST_LINE_NUMBER = 5
"""Digits of an N word (3.3.1)."""

_LETTERS = "GXYZIJKRFNSMPQ"

_LINE_END, _OTHER = 64, 96
"""Codes of what ends a word. Letters lie between them, digits, signs and points below."""

_BLANKS = b" \t" + MARK

Flags = NDArray[np.bool_]


def _code_table() -> bytes:
    """Maps each byte of text to its code."""
    codes = [_OTHER] * 256
    for letter in range(ord("A"), ord("Z") + 1):
        codes[letter] = codes[letter + ord("a") - ord("A")] = letter
    for digit in range(10):
        codes[ord("0") + digit] = DIGITS + digit
    codes[ord(".")] = POINT
    codes[ord("+")], codes[ord("-")] = PLUS_MINUS
    codes[ord("\n")] = _LINE_END
    return bytes(codes)


def _mode_tables() -> tuple[NDArray[np.uint8], Floats]:
    """Group and value of G words by ten times their number; group 0 for what is not plain."""
    groups, values = np.zeros(1001, np.uint8), np.zeros(1001)
    for code, (group, value) in PLAIN_G.items():
        groups[code], values[code] = group, value
    return groups, values


_CODE_OF = _code_table()
_GROUP_OF, _VALUE_OF = _mode_tables()
_PLAIN_M = np.array(sorted(PLAIN_M), np.float64)


class Column(NamedTuple):
    """Words of one letter or modal group: the line in the piece, from 0 and rising; the number."""

    line: Ints
    value: Floats


class Words:
    """The words of a piece: which of its lines are `plain`, and the columns of those.

    Columns are named by letter and, for G words, by modal group. Of lines that are not plain, words
    may be missing or there twice. `long_numbers`: lines whose N has too many digits.
    """

    def __init__(self, plain: Flags, columns: dict[str | int, Column], long_numbers: Ints) -> None:
        self.plain, self.long_numbers = plain, long_numbers
        self._columns = columns
        self._next_line = {key: int(column.line[0]) for key, column in columns.items()}

    def between(self, first: int, last: int) -> dict[str | int, Column]:
        """The columns that have words in lines `first` to `last` - 1, cut to those.

        `first` must not fall from call to call: a column is searched only if it comes next.
        """
        found, bounds = {}, np.array((first, last))
        for key, (line, value) in self._columns.items():
            if self._next_line[key] >= last:
                continue
            low, high = line.searchsorted(bounds).tolist()
            self._next_line[key] = int(line[low]) if low < len(line) else len(self.plain)
            if low < high:
                found[key] = Column(line[low:high], value[low:high])
        return found


def words_in(text: bytes) -> Words:
    """The words of whole lines; line ends are LF."""
    quiet = without_quiet(text)
    codes = (FRONT + quiet).translate(_CODE_OF, _BLANKS)
    mark, kind = _marks(codes)
    is_end = kind == _LINE_END
    line = np.cumsum(is_end)
    plain = np.ones(line[-1], np.bool_)

    present = kind.tobytes()
    found = {
        letter: np.flatnonzero(kind == ord(letter)) for letter in _LETTERS if ord(letter) in present
    }
    by = _columns(codes, mark, line, found, plain)
    if sum(map(len, found.values())) + len(plain) < len(mark):
        plain[line[_others(kind)]] = False
    _mark_loose_digits(plain, codes)
    _mark_long_lines(plain, text)
    _mark_split_numbers(plain, quiet)
    long_numbers = line[:0]
    if "N" in by:
        _mark_odd_line_numbers(plain, by["N"], is_end[found["N"] - 1])
        digits = mark.take(found["N"] + 1) - mark.take(found["N"]) - 1
        long_numbers = by["N"].line[digits > LONGEST_LINE_NUMBER]
    if "M" in by:
        _mark_odd_m(plain, by["M"])
    if "S" in by:
        plain[by["S"].line[by["S"].value < 0]] = False
    if "G" in by:
        by |= _by_group(plain, by.pop("G"))
    for column in by.values():
        _mark_repeated(plain, column.line)
    return Words(plain, by, long_numbers)


def _columns(
    codes: bytes, mark: Ints, line: Ints, found: dict[str, Ints], plain: Flags
) -> dict[str | int, Column]:
    """A column for each letter, from where it stands among the marks; odd numbers are marked."""
    chosen = np.concatenate([mark[:0], *found.values()])
    number, odd = numbers_of(codes, mark.take(chosen), mark.take(chosen + 1))
    if odd.any():
        plain[line.take(chosen[odd])] = False
    columns: dict[str | int, Column] = {}
    high = 0
    for letter, where in found.items():
        low, high = high, high + len(where)
        columns[letter] = Column(line.take(where), number[low:high])
    return columns


def _marks(codes: bytes) -> tuple[Ints, NDArray[np.uint8]]:
    """Where letters, line ends and other characters stand that no number has, and their codes."""
    code = np.frombuffer(codes, np.uint8)
    mark = np.flatnonzero(code >= _LINE_END)
    return mark, code.take(mark)


def _others(kind: NDArray[np.uint8]) -> Flags:
    """Marks that are neither a line end nor a letter of plain lines."""
    known = np.zeros(256, np.bool_)
    known[[_LINE_END, *map(ord, _LETTERS)]] = True
    return ~known[kind]


def _mark_repeated(plain: Flags, line: Ints) -> None:
    """Lines that come twice in a rising column."""
    again = line[1:] == line[:-1]
    if again.any():
        plain[line[1:][again]] = False


def _mark_loose_digits(plain: Flags, codes: bytes) -> None:
    """Lines that begin with digits, signs or points."""
    code = np.frombuffer(codes, np.uint8)[len(FRONT) - 1 :]
    loose = (code[:-1] == _LINE_END) & (code[1:] < _LINE_END)
    if loose.any():
        ends = np.flatnonzero(code == _LINE_END)
        plain[ends.searchsorted(np.flatnonzero(loose)) + 1] = False
    plain[0] &= code[1] >= _LINE_END


def _mark_long_lines(plain: Flags, text: bytes) -> None:
    """Lines that are too long. A line of 257 fills a stretch of 128 that has no line end then."""
    is_end = np.frombuffer(text, np.uint8) == ord("\n")
    if not np.logical_or.reduceat(is_end, np.arange(0, len(text), 128)).all():
        lengths = np.diff(np.flatnonzero(is_end), prepend=-1) - 1
        plain[lengths > LONGEST_LINE] = False


def _mark_split_numbers(plain: Flags, text: bytes) -> None:
    """Lines with blanks or a comment inside a number: `X1 0`, `X1(a)0`."""
    byte = np.frombuffer(text.replace(b"\t", b" ") if b"\t" in text else text, np.uint8)
    after_blank = (byte[:-1] == ord(" ")) & (byte[1:] - np.uint8(ord(".")) <= ord("9") - ord("."))
    if after_blank.any():
        at = np.flatnonzero(after_blank)
        for _ in range(LONGEST_LINE):
            is_blank = byte[at] == ord(" ")
            if not is_blank.any():
                break
            at -= is_blank
        is_letter = (byte[at] | 0x20) - np.uint8(ord("a")) < 26
        plain[_lines_at(byte, at[~is_letter])] = False
    if MARK in text:
        after_mark = (byte[:-1] == MARK[0]) & (byte[1:] - np.uint8(ord("+")) <= ord("9") - ord("+"))
        plain[_lines_at(byte, np.flatnonzero(after_mark))] = False


def _lines_at(byte: NDArray[np.uint8], at: Ints) -> Ints:
    """The lines that characters stand in."""
    lines: Ints = np.flatnonzero(byte == ord("\n")).searchsorted(at)
    return lines


def _mark_odd_line_numbers(plain: Flags, column: Column, is_first: Flags) -> None:
    """Lines with an N word that is not first or no whole number."""
    fine = is_first & (column.value >= 0) & (np.floor(column.value) == column.value)
    plain[column.line[~fine]] = False


def _mark_odd_m(plain: Flags, column: Column) -> None:
    """Lines with M words that do more than `modes.PLAIN_M`."""
    plain[column.line[~np.isin(column.value, _PLAIN_M)]] = False


def _by_group(plain: Flags, column: Column) -> dict[str | int, Column]:
    """G words as one column for each modal group; lines with others are marked."""
    code = np.rint(column.value * 10)
    index = code.astype(np.int64)
    group = _GROUP_OF.take(index, mode="clip")
    value = _VALUE_OF.take(index, mode="clip")
    group[(code / 10 != column.value) | (code < 0)] = 0
    least, most = int(group.min()), int(group.max())
    if least == most > 0:
        return {least: Column(column.line, value)}
    plain[column.line[group == 0]] = False
    columns = {each: group == each for each in range(1, most + 1)}
    return {
        each: Column(column.line[mine], value[mine]) for each, mine in columns.items() if mine.any()
    }
