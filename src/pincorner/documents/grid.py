"""Hole labels of a bed's grid: `C4` is the third column along X, the fourth row along Y."""

from __future__ import annotations

import re
import string
from dataclasses import dataclass
from functools import cached_property

_LABEL = re.compile(r"([A-Z]+)([1-9][0-9]{0,2})")


@dataclass(frozen=True)
class ColumnLetters:
    """Columns A..Z, AA, AB.. without the letters in `skip`."""

    skip: str = ""

    @cached_property
    def alphabet(self) -> str:
        return "".join(c for c in string.ascii_uppercase if c not in self.skip)

    def of(self, index: int) -> str:
        """The letters of column `index`, counted from 1 (a number without a zero, in letters)."""
        alphabet, letters = self.alphabet, ""
        while index > 0:
            index, rest = divmod(index - 1, len(alphabet))
            letters = alphabet[rest] + letters
        return letters

    def index(self, letters: str) -> int | None:
        """The column's number from 1; None where a letter is not used."""
        alphabet, index = self.alphabet, 0
        for letter in letters:
            if letter not in alphabet:
                return None
            index = index * len(alphabet) + alphabet.index(letter) + 1
        return index

    def split(self, label: str) -> tuple[int, int] | None:
        """Column and row, from 1, of a grid label; None where it is not one."""
        match = _LABEL.fullmatch(label)
        column = self.index(match[1]) if match else None
        return (column, int(match[2])) if match and column else None
