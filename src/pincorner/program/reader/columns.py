"""The words of many lines at once, as columns.

Lines of well formed words that stand at most once are found together; others, which hold odd
comments, words that a dialect names, or what is no word, are asked for one by one (`lines.py`).
"""

from __future__ import annotations

from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.program.reader.lines import (
    LONGEST_LINE,
    LONGEST_LINE_NUMBER,
    PLAIN,
    Language,
    line_of,
)
from pincorner.program.reader.modes import G_WORDS, M_WORDS
from pincorner.program.reader.motions import Floats, Ints
from pincorner.program.reader.numbers import DIGITS, FRONT, PLUS_MINUS, POINT, numbers_of
from pincorner.program.source.comments import MARK, without_quiet

Flags = NDArray[np.bool_]

_LETTERS = "GXYZIJKRFNSMPQTLHD"
_LINE_END, _SLASH, _OTHER = 64, 95, 96
"""Codes of what ends a word. Letters lie between them, digits, signs and points below."""

_BLANKS = b" \t" + MARK
_MOST_CODE = 1000


def _code_table() -> bytes:
    """Maps each byte of text to its code."""
    codes = [_OTHER] * 256
    for letter in range(ord("A"), ord("Z") + 1):
        codes[letter] = codes[letter + ord("a") - ord("A")] = letter
    for digit in range(10):
        codes[ord("0") + digit] = DIGITS + digit
    codes[ord(".")] = POINT
    codes[ord("+")], codes[ord("-")] = PLUS_MINUS
    codes[ord("\n")], codes[ord("/")] = _LINE_END, _SLASH
    return bytes(codes)


class _Groups(NamedTuple):
    """Modal groups of the words of a letter by a whole number: names; group (0: none) and value of
    each number."""

    names: tuple[str, ...]
    group: NDArray[np.uint8]
    value: Floats


def _groups(words: dict[int, tuple[str, float]]) -> _Groups:
    names = tuple(dict.fromkeys(name for name, _ in words.values()))
    group, value = np.zeros(_MOST_CODE + 1, np.uint8), np.zeros(_MOST_CODE + 1)
    for code, (name, number) in words.items():
        group[code], value[code] = names.index(name) + 1, number
    return _Groups(names, group, value)


_CODE_OF = _code_table()
_OF_G, _OF_M = _groups(G_WORDS), _groups(M_WORDS)


class Column(NamedTuple):
    """Words of one letter or modal group: the line in the piece, from 0 and rising; the number."""

    line: Ints
    value: Floats


NO_WORDS = Column(np.empty(0, np.int64), np.empty(0))


class Words(NamedTuple):
    """The words of a piece of `lines` lines.

    `by`: columns by letter; G and M words by modal group (`modes.py`); `/` for lines that begin
    with it, `over` for words read over, with the number of M words among them. `refused`: why a
    line cannot be read; it has no words here. `percents`: lines of `%` alone. `odd_comments`,
    `odd_numbers`: lines with comments that act, and with blanks in numbers. `long_numbers`: lines
    whose N has too many digits.
    """

    lines: int
    by: dict[str, Column]
    refused: dict[int, str]
    percents: list[int]
    odd_comments: list[int]
    odd_numbers: list[int]
    long_numbers: list[int]

    def keep(self, key: str, kept: Flags) -> None:
        """Keep some of a column's words."""
        if not kept.all():
            column = self.by.pop(key)
            if kept.any():
                self.by[key] = Column(column.line[kept], column.value[kept])

    def refuse(self, reasons: dict[int, str]) -> None:
        """Leave no words of some lines, for these reasons."""
        gone = np.zeros(self.lines, np.bool_)
        gone[list(reasons)] = True
        for key, column in list(self.by.items()):
            self.keep(key, ~gone[column.line])
        self.long_numbers[:] = [line for line in self.long_numbers if line not in reasons]
        self.refused.update(reasons)

    def between(self, first: int, stop: int) -> dict[str, Column]:
        """The columns that have words in lines `first` to `stop` - 1, cut to those."""
        if first == 0 and stop == self.lines:
            return dict(self.by)
        found, bounds = {}, np.array((first, stop))
        for key, (line, value) in self.by.items():
            low, high = line.searchsorted(bounds).tolist()
            if low < high:
                found[key] = Column(line[low:high], value[low:high])
        return found


def words_in(text: bytes, language: Language = PLAIN) -> Words:
    """The words of whole lines; line ends are LF. Parameters are set as `line_of` does."""
    piece = _Piece(text)
    by = piece.columns()
    words = Words(len(piece.fine), by, {}, [], [], piece.odd_numbers(), piece.long_numbers(by))
    singly = np.flatnonzero(~piece.fine).tolist()
    if singly:
        _read_singly(words, piece, singly, language)
    return words


def _read_singly(words: Words, piece: _Piece, singly: list[int], language: Language) -> None:
    """Put words and reasons of some lines in the place of what was found of them."""
    for key, column in list(words.by.items()):
        words.keep(key, piece.fine[column.line])
    for lines in (words.odd_numbers, words.long_numbers):
        lines[:] = [line for line in lines if piece.fine[line]]
    added: dict[str, list[tuple[int, float]]] = {}
    for at in singly:
        line = line_of(piece.line(at), language)
        words.odd_comments.extend([at] * line.odd_comment)
        words.odd_numbers.extend([at] * line.odd_number)
        words.long_numbers.extend([at] * line.long_number)
        if line.refused:
            words.refused[at] = line.refused
        elif line.is_percent:
            words.percents.append(at)
        for key, value in line.words:
            added.setdefault(key, []).append((at, value))
    for lines in (words.odd_numbers, words.long_numbers):
        lines.sort()
    for key, some in added.items():
        words.by[key] = _merged(words.by.get(key, NO_WORDS), some)


def _merged(column: Column, some: list[tuple[int, float]]) -> Column:
    line = np.concatenate((column.line, [line for line, _ in some]))
    value = np.concatenate((column.value, [value for _, value in some]))
    order = line.argsort(kind="stable")
    return Column(line[order], value[order])


class _Piece:
    """Where the words of a piece's text stand, and which of its lines are `fine`: nothing but
    words that are read together."""

    def __init__(self, text: bytes) -> None:
        self._text, self._quiet = text, without_quiet(text)
        self._codes = (FRONT + self._quiet).translate(_CODE_OF, _BLANKS)
        code = np.frombuffer(self._codes, np.uint8)
        self._mark = np.flatnonzero(code >= _LINE_END)
        self._kind = code.take(self._mark)
        self._is_end = self._kind == _LINE_END
        self._line = np.cumsum(self._is_end)
        self.fine: Flags = np.ones(self._line[-1], np.bool_)
        self._split: list[int] = []

    @cached_property
    def _ends(self) -> Ints:
        return np.flatnonzero(np.frombuffer(self._text, np.uint8) == ord("\n"))

    def line(self, at: int) -> bytes:
        """The text of a line, without its end."""
        start = int(self._ends[at - 1]) + 1 if at else 0
        return self._text[start : int(self._ends[at])]

    def columns(self) -> dict[str, Column]:
        """The words of fine lines, and some of others; settles which are fine."""
        present = self._kind.tobytes()
        found = {
            letter: np.flatnonzero(self._kind == ord(letter))
            for letter in _LETTERS
            if ord(letter) in present
        }
        by = self._numbers(found)
        known = sum(map(len, found.values())) + len(self.fine)
        if _SLASH in present:
            slash = np.flatnonzero(self._kind == _SLASH)
            known += len(slash)
            by["/"] = self._slashes(slash)
        if known < len(self._mark):
            self._put_down(self._line[self._others()])
        self._put_down_loose_digits()
        self._put_down_long_lines()
        self._find_split_numbers()
        if "N" in by:
            self._put_down_odd_line_numbers(by["N"], found["N"])
        for letter in "HD":
            if letter in by:
                self._put_down(by[letter].line[np.floor(by[letter].value) != by[letter].value])
        if "M" in by:
            by |= self._by_group(by.pop("M"), _OF_M, 1)
        if "G" in by:
            by |= self._by_group(by.pop("G"), _OF_G, 10)
        for column in by.values():
            again = column.line[1:] == column.line[:-1]
            if again.any():
                self._put_down(column.line[1:][again])
        return by

    def odd_numbers(self) -> list[int]:
        """Lines with blanks inside a number."""
        return self._split

    def long_numbers(self, by: dict[str, Column]) -> list[int]:
        """Lines with more digits behind N than the report allows (3.3.1)."""
        column = by.pop("N", None)
        if column is None:
            return []
        where = np.flatnonzero(self._kind == ord("N"))
        digits = self._mark.take(where + 1) - self._mark.take(where) - 1
        found: list[int] = column.line[digits > LONGEST_LINE_NUMBER].tolist()
        return found

    def _put_down(self, lines: Ints) -> None:
        """These lines are not fine."""
        if lines.size:
            self.fine[lines] = False

    def _numbers(self, found: dict[str, Ints]) -> dict[str, Column]:
        """A column for each letter, from where it stands among the marks."""
        chosen = np.concatenate([self._mark[:0], *found.values()])
        number, odd = numbers_of(self._codes, self._mark.take(chosen), self._mark.take(chosen + 1))
        if odd.any():
            self._put_down(self._line.take(chosen[odd]))
        columns: dict[str, Column] = {}
        high = 0
        for letter, where in found.items():
            low, high = high, high + len(where)
            columns[letter] = Column(self._line.take(where), number[low:high])
        return columns

    def _slashes(self, slash: Ints) -> Column:
        """Lines that begin with `/`; it stands nowhere else, and no digits behind it."""
        first = self._is_end[slash - 1] | (slash == 0)
        fine = first & (self._mark.take(slash + 1) == self._mark.take(slash) + 1)
        line = self._line.take(slash)
        self._put_down(line[~fine])
        return Column(line, np.zeros(len(line)))

    def _others(self) -> Flags:
        """Marks that are neither a line end, a slash nor a letter of lines that are read."""
        known = np.zeros(256, np.bool_)
        known[[_LINE_END, _SLASH, *map(ord, _LETTERS)]] = True
        return ~known[self._kind]

    def _put_down_loose_digits(self) -> None:
        """Lines that begin with digits, signs or points."""
        code = np.frombuffer(self._codes, np.uint8)[len(FRONT) - 1 :]
        loose = (code[:-1] == _LINE_END) & (code[1:] < _LINE_END)
        if loose.any():
            ends = np.flatnonzero(code == _LINE_END)
            self._put_down(ends.searchsorted(np.flatnonzero(loose)) + 1)
        self.fine[0] &= code[1] >= _LINE_END

    def _put_down_long_lines(self) -> None:
        """Lines that are too long. One of 257 fills a stretch of 128 that has no line end then."""
        is_end = np.frombuffer(self._text, np.uint8) == ord("\n")
        if not np.logical_or.reduceat(is_end, np.arange(0, len(self._text), 128)).all():
            self._put_down(np.flatnonzero(np.diff(self._ends, prepend=-1) - 1 > LONGEST_LINE))

    def _find_split_numbers(self) -> None:
        """Lines with blanks inside a number (`X1 0`), and with a comment (`X1(a)0`), an error."""
        text = self._quiet.replace(b"\t", b" ") if b"\t" in self._quiet else self._quiet
        byte = np.frombuffer(text, np.uint8)
        after_blank = (byte[:-1] == ord(" ")) & (
            byte[1:] - np.uint8(ord(".")) <= ord("9") - ord(".")
        )
        if after_blank.any():
            at = np.flatnonzero(after_blank)
            for _ in range(LONGEST_LINE):
                is_blank = byte[at] == ord(" ")
                if not is_blank.any():
                    break
                at -= is_blank
            in_number = byte[at] - np.uint8(ord("+")) <= ord("9") - ord("+")
            self._split = np.unique(_lines_at(byte, at[in_number])).tolist()
        if MARK in text:
            behind = (byte[:-1] == MARK[0]) & (byte[1:] - np.uint8(ord("+")) <= ord("9") - ord("+"))
            self._put_down(_lines_at(byte, np.flatnonzero(behind)))

    def _put_down_odd_line_numbers(self, column: Column, where: Ints) -> None:
        """Lines with an N word that is not first or no whole number."""
        first = self._is_end[where - 1] | (self._kind[where - 1] == _SLASH)
        fine = first & (column.value >= 0) & (np.floor(column.value) == column.value)
        self._put_down(column.line[~fine])

    def _by_group(self, column: Column, groups: _Groups, scale: int) -> dict[str, Column]:
        """G or M words as one column for each modal group; `scale` times the number is whole."""
        code = np.rint(column.value * scale)
        index = code.astype(np.int64)
        group = groups.group.take(index, mode="clip")
        value = groups.value.take(index, mode="clip")
        group[(code / scale != column.value) | (code < 0)] = 0
        least, most = int(group.min()), int(group.max())
        if least == most > 0:
            return {groups.names[least - 1]: Column(column.line, value)}
        self._put_down(column.line[group == 0])
        columns = ((name, group == at) for at, name in enumerate(groups.names, 1))
        return {
            name: Column(column.line[mine], value[mine]) for name, mine in columns if mine.any()
        }


def _lines_at(byte: NDArray[np.uint8], at: Ints) -> Ints:
    """The lines that characters stand in."""
    lines: Ints = np.flatnonzero(byte == ord("\n")).searchsorted(at)
    return lines
