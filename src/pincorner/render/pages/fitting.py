"""How large a setup sheet's letters can be so that one page holds it, and what is left to draw on.

A reckoning of the page as `sheet.css.j2` lays it out, in mm on paper: its figures are that file's.
It need not be exact, since the close-up gives way to a little too much text; that it is near enough
is tested by printing the fullest pages.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from pincorner.render.drawing.canvas import text_width

MM_PER_POINT = 25.4 / 72
SIZES_PT = (10.0, 9.4, 8.8, 8.2, 7.6, 7.1, 6.6)
_LINE = 1.3
_TIGHTEST_MM, _TALLEST_MM = 60.0, 108.0
"""Least and greatest height of the close-up."""
_SPARE_MM = 2.0
"""Kept back for what the reckoning gets wrong."""


class PageTexts(NamedTuple):
    """What takes room on a sheet, as plain text, from top to bottom.

    `who` follows the name; `pins` are rows of pin and what it touches; `beside` stands beside the
    steps; `big` in letters half as large again. `bed`: depth of the bed in shares of its width.
    """

    name: str
    who: Sequence[str]
    nests: Sequence[str]
    warnings: Sequence[str]
    bed: float
    pins: Sequence[tuple[str, str]]
    take_out: str
    keyed: int
    angle: str
    steps: Sequence[str]
    big: Sequence[str]
    beside: Sequence[str]
    spread: str
    records: int


class Fit(NamedTuple):
    """Size of the letters in points, and the height of the close-up in mm."""

    size_pt: float
    drawing_mm: float


def fit(texts: PageTexts, width_mm: float, height_mm: float) -> Fit:
    """The largest letters with which a page of this width and height (inside its margins) holds it.

    The smallest there are, where even they leave too little.
    """
    for size_pt in SIZES_PT:
        page = _Page(texts, width_mm, size_pt * MM_PER_POINT)
        left_mm = height_mm - page.height_mm() - _SPARE_MM
        if left_mm >= max(page.side_mm(), _TIGHTEST_MM):
            break
    return Fit(size_pt, min(max(left_mm, _TIGHTEST_MM), _TALLEST_MM))


def figures_pt(columns: Sequence[tuple[str, str, bool]], width_mm: float, most_pt: float) -> float:
    """The largest letters with which a table of offsets is no wider than `width_mm`.

    A column is its head, its longest text, and whether that is one of the large figures.
    """
    for size_pt in (19.0, 17.0, 15.0, 13.0, 11.0, 9.0):
        size = size_pt * MM_PER_POINT
        small = min(12.0, 0.65 * size_pt) * MM_PER_POINT
        wide = sum(
            2.0 + max(text_width(text, size if large else small, bold=large), _head_width(head))
            for head, text, large in columns
        )
        if size_pt <= most_pt and wide <= width_mm:
            break
    return size_pt


def _head_width(head: str) -> float:
    return text_width(head, 8 * MM_PER_POINT, bold=True)


class _Page(NamedTuple):
    """A sheet with letters of one size; all in mm."""

    texts: PageTexts
    width: float
    size: float

    def lines(self, text: str, width: float, share: float = 1.0, *, bold: bool = False) -> float:
        """Height of a text that is broken into lines; `share`: of the size of the letters."""
        size = share * self.size
        return math.ceil(text_width(text, size, bold=bold) / width) * size * _LINE

    def height_mm(self) -> float:
        """Everything but the drawings."""
        texts = self.texts
        warnings = sum(
            self.lines(each, self.width - 5.4, bold=True) + 4.2 for each in texts.warnings
        )
        crowded = len(texts.nests) > 2
        head = self.size * 0.8 * _LINE
        figures = 2.0 + head + len(texts.nests) * (5.3 if crowded else 8.4)
        sums = 1.5 + head + 6.3 * texts.keyed if texts.keyed else 0.0
        angle = self.lines(texts.angle, self.width) + 1.5
        spread = self.lines(texts.spread, self.width, bold=True) + 1.5
        record = 1.5 + head + 5.8 * texts.records
        drawings = 2.0 + 7.2  # two lines below the close-up
        return (
            self.header() + warnings + drawings + figures + sums + angle + self.work() + spread
            + record + _FOOTER_MM
        )  # fmt: skip

    def header(self) -> float:
        """Name and what it is about, beside the codes."""
        crowded = len(self.texts.nests) > 2
        box_width, box_height = (25.5, 16.5) if crowded else (34.0, 21.2)
        in_a_row = max(1, math.floor(0.55 * self.width / box_width))
        codes = math.ceil(len(self.texts.nests) / in_a_row) * box_height
        codes += 8 * MM_PER_POINT * _LINE * max(len(nest) // 22 for nest in self.texts.nests)
        room = self.width - 4 - min(in_a_row, len(self.texts.nests)) * box_width
        large = 32 if len(self.texts.name) <= 14 else 17 if len(self.texts.name) <= 30 else 11
        size = large * MM_PER_POINT
        name = math.ceil(text_width(self.texts.name, size, bold=True) / room) * size
        return (
            max(name + 1.0 + sum(self.lines(each, room, 1.05) for each in self.texts.who), codes)
            + 2.2
        )

    def side_mm(self) -> float:
        """The map and the table of pins beside the close-up."""
        row = self.size * 1.3 * 1.1 + 1.0
        pins = sum(
            max(row, self.lines(pin, 15.0) + 1.0, self.lines(where, 17.0) + 1.0)
            for pin, where in self.texts.pins
        )
        out = max(row, self.lines(self.texts.take_out, 45.0) + 1.0)
        return 60.0 * self.texts.bed + 6.0 + self.size * _LINE + pins + out

    def work(self) -> float:
        """The steps, or why there is no block, beside program and stock."""
        wide = (self.width - 4) * 3.1 / 4.1
        heads = 2 * (1.05 * self.size * _LINE + 1.0)
        steps = sum(self.lines(each, wide - 6.0) + 0.5 for each in self.texts.steps)
        big = sum(self.lines(each, wide - 13.0, 1.5, bold=True) + 0.5 for each in self.texts.big)
        big += 6.0 + self.size * 1.5 * _LINE if big else 0.0  # its border, and `Ways out`
        beside = sum(self.lines(each, (self.width - 4) / 4.1) + 0.3 for each in self.texts.beside)
        return 1.5 + heads + max(steps + big, beside)


_FOOTER_MM = 1.5 + 1.2 + 4 * 7.6 * MM_PER_POINT * 1.25
"""Four lines of cautions."""
