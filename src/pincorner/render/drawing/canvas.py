"""A drawing in bed coordinates as SVG that stands alone, made to be printed in black and white.

Places are bed mm, Y up; sizes of strokes and letters are mm on paper. Everything that comes from a
registry is escaped here.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

from markupsafe import Markup, escape

from pincorner.characters import visible
from pincorner.geometry.outline import Box
from pincorner.geometry.pose import XY

_WIDTHS = {
    **dict.fromkeys("ijl'|", 0.24),
    **dict.fromkeys("ft .,:;!I()[]/-", 0.33),
    **dict.fromkeys("rs", 0.45),
    **dict.fromkeys("mMW@%", 0.94),
    **dict.fromkeys("ABCDEFGHKNOPQRSUVXYZw", 0.75),
}
_LETTER, _WIDE = 0.56, 1.0


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """How wide a text is set, in the unit of `size`: a little more than a plain sans serif needs.

    Widths in shares of the size are rounded up from those of common typefaces (from memory).
    """
    return size * _shares(text) * (1.07 if bold else 1.0)


def cut_to(width: float, text: str, size: float) -> str:
    """A text that is no wider than this, with two points where something is left out."""
    if text_width(text, size) <= width:
        return text
    cut = len(text)
    while cut and text_width(f"{text[:cut]}..", size) > width:
        cut -= 1
    return f"{text[:cut]}.."


@lru_cache(maxsize=4096)
def _shares(text: str) -> float:
    """Width of a text in shares of its size: sheets of one shop tell much the same words."""
    if text.isascii():
        return sum(_WIDTHS.get(letter, _LETTER) for letter in text)
    return sum(_WIDTHS.get(letter, _wide_share(letter)) for letter in text)


def _wide_share(letter: str) -> float:
    if letter.isascii():
        return _LETTER
    return _WIDE if unicodedata.east_asian_width(letter) in "WF" else 0.75


class Look(NamedTuple):
    """How a shape is drawn: line width and dashes in mm on paper."""

    width: float = 0.25
    stroke: str = "#000"
    fill: str = "none"
    dashes: tuple[float, ...] = ()
    opacity: float = 1.0


@dataclass
class Canvas:
    """A window on the bed, `paper_mm` wide when printed."""

    window: Box
    paper_mm: float
    title: str
    parts: list[str] = field(default_factory=list)

    @property
    def scale(self) -> float:
        """Bed mm for one mm of paper."""
        return self.window.width / self.paper_mm

    @property
    def paper_height_mm(self) -> float:
        return self.window.depth / self.scale

    def polygon(self, points: Sequence[XY], look: Look) -> None:
        """A closed outline."""
        places = " ".join(f"{x:.2f},{-y:.2f}" for x, y in points)
        self.parts.append(f'<polygon points="{places}" {self._look(look)}/>')

    def line(self, start: XY, end: XY, look: Look) -> None:
        """A straight line."""
        (x1, y1), (x2, y2) = start, end
        ends = f'x1="{x1:.2f}" y1="{-y1:.2f}" x2="{x2:.2f}" y2="{-y2:.2f}"'
        self.parts.append(f"<line {ends} {self._look(look)}/>")

    def strokes(self, lines: Sequence[tuple[XY, XY]], look: Look) -> None:
        """Any number of straight lines as one element."""
        path = " ".join(f"M{x1:.2f} {-y1:.2f}L{x2:.2f} {-y2:.2f}" for (x1, y1), (x2, y2) in lines)
        self.parts.append(f'<path d="{path}" {self._look(look)}/>')

    def circle(self, centre: XY, radius_mm: float, look: Look) -> None:
        """A circle of a radius on the bed."""
        x, y = centre
        self.parts.append(
            f'<circle cx="{x:.2f}" cy="{-y:.2f}" r="{radius_mm:.2f}" {self._look(look)}/>'
        )

    def cross(self, centre: XY, reach_mm: float, look: Look) -> None:
        """Two strokes corner to corner of a square."""
        x, y = centre
        self.line((x - reach_mm, y - reach_mm), (x + reach_mm, y + reach_mm), look)
        self.line((x - reach_mm, y + reach_mm), (x + reach_mm, y - reach_mm), look)

    def text(
        self,
        at: XY,
        text: str,
        size: float,
        *,
        anchor: str = "middle",
        bold: bool = False,
        fill: str = "#000",
        halo: bool = True,
    ) -> None:
        """Letters `size` mm high on paper, centred on `at` in height."""
        x, y = at
        height = size * self.scale
        behind = (
            f' stroke="#fff" stroke-width="{height * 0.22:.2f}" paint-order="stroke"'
            ' stroke-linejoin="round"'
            if halo
            else ""
        )
        weight = ' font-weight="bold"' if bold else ""
        self.parts.append(
            f'<text x="{x:.2f}" y="{-y + height * 0.35:.2f}" font-size="{height:.2f}"'
            f' text-anchor="{anchor}" fill="{fill}"{weight}{behind}>{escape(visible(text))}</text>'
        )

    def svg(self) -> Markup:
        """The drawing as one element, sized for paper."""
        window = self.window
        box = f"{window.left:.2f} {-window.back:.2f} {window.width:.2f} {window.depth:.2f}"
        size = f'width="{self.paper_mm:.1f}mm" height="{self.paper_height_mm:.1f}mm"'
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" {size} role="img"'
            ' font-family="Arial, Helvetica, sans-serif">'
            f"<title>{escape(visible(self.title))}</title>"
        )
        return Markup(head + "\n".join(self.parts) + "</svg>")  # escaped above

    def _look(self, look: Look) -> str:
        dashes = ""
        if look.dashes:
            lengths = " ".join(f"{dash * self.scale:.2f}" for dash in look.dashes)
            dashes = f' stroke-dasharray="{lengths}"'
        shade = f' fill-opacity="{look.opacity:g}"' if look.opacity < 1 else ""
        width = look.width * self.scale
        line = f'stroke="{look.stroke}" stroke-width="{width:.2f}"'
        return f'fill="{look.fill}" {line}{dashes}{shade}'
