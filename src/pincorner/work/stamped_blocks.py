"""The setup block in a file against the one that would be written now: for check and status."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from pincorner.documents.dialect_words import MODE_WORDS
from pincorner.program.lexer import acting_text, words_of
from pincorner.program.stamped import StampedBlock
from pincorner.render.blocks.block import word_lines
from pincorner.setups.setup import Setup
from pincorner.units import Unit

_MODES = re.compile(rf"(?:{MODE_WORDS})+")


class _Words(NamedTuple):
    """A block's lines of words without blanks: the modes it begins with, and all behind them."""

    modes: list[str]
    rest: list[str]


def why_not_as_now(block: StampedBlock, nests: Sequence[Setup], nest: str) -> str | None:
    """Why the block in a file, which shows the fingerprint of now, is not the one of now.

    `nests`: setups of all nests of the station, `nest` the one that the block selects. None where
    every word is as it would be written, for a program in either unit.
    """
    there = _parted([acting_text(line) for line in block.lines])
    units: tuple[Unit | None, ...] = (None, "mm", "in")  # most are as the first one says
    if not any(there == _parted(_words_now(nests, nest, unit)) for unit in units):
        now = [_parted(_words_now(nests, nest, unit)) for unit in units]
        if any(there.rest == each.rest for each in now):
            return (
                f"the setup block was written with {_shown(there.modes)}, where one of now has "
                f"{_shown(now[0].modes)}: what an earlier program left on could stay on"
            )
        return "the setup block is not as it was stamped, and what was changed in it is not read"
    chosen = next(each for each in nests if each.nest.name == nest)
    if not chosen.no_block:
        return None
    return f"no block may be written for it now: {chosen.no_block[0].told}"


def _words_now(nests: Sequence[Setup], nest: str, unit: Unit | None) -> list[str]:
    return [acting_text(line) for line in word_lines(nests, nest, unit)]


def _parted(lines: Sequence[str]) -> _Words:
    lines = [line for line in lines if line]
    behind = next((at for at, line in enumerate(lines) if not _MODES.fullmatch(line)), len(lines))
    return _Words(lines[:behind], lines[behind:])


def _shown(modes: Sequence[str]) -> str:
    """Lines of words as people write them: `G21 G90, G17 G40 G80`."""
    words = ([line[word.start : word.end] for word in words_of(line)] for line in modes)
    return ", ".join(map(" ".join, words)) or "no mode words"
