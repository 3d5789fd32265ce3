"""A drawing in bed coordinates as SVG that stands alone, made to be printed in black and white.

Places are bed mm, Y up; sizes of strokes and letters are mm on paper. Everything that comes from a
registry is escaped here.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import NamedTuple

from markupsafe import Markup, escape

from pincorner.characters import visible
from pincorner.geometry.outline import Box, bounds
from pincorner.geometry.pose import XY, turned_by_quarters
from pincorner.setups.person import Person

_STRIP_MM = 12.0
"""Height on paper of the strip below a drawing, with who stands there and the machine's axes."""
_SMALL_MM, _WIDE_MM = 55.0, 125.0
"""Narrower drawings have no room for words about who stands there, wider ones in one line."""
_SMALL_SHARE, _WIDE_SHARE = 0.6, 0.7
_LETTERS_BELOW_MM = 0.8


def strip_mm(paper_mm: float) -> float:
    """Height of the strip below a drawing so wide on paper: letters do not shrink with it."""
    below_mm = _LETTERS_BELOW_MM if paper_mm <= _SMALL_MM else 0.0
    return _share(paper_mm) * _STRIP_MM + below_mm


def _share(paper_mm: float) -> float:
    """How large the person and the axes are in a drawing that is so wide on paper."""
    if paper_mm <= _SMALL_MM:
        return _SMALL_SHARE
    return 1.0 if paper_mm < _WIDE_MM else _WIDE_SHARE


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


def round_below(limit: float) -> float:
    """The largest round number (1, 2 or 5 times a power of ten) not above a positive limit."""
    power = 10.0 ** math.floor(math.log10(limit))
    return max(step * power for step in (0.5, 1.0, 2.0, 5.0) if step * power <= limit)


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
    """A window on the bed, `paper_mm` wide when printed; everything is escaped here.

    With `person` the drawing is turned by quarters so that they stand below it, letters stay
    upright, and a strip under it shows where they stand and the machine's axes. Places are bed mm
    all the same; `told` says in words what the drawing shows. `foot_mm`: room on paper below.

    With `classes`, an empty table, looks stand once in a style, by names that come to stand in the
    table, in colours that a page may change (`--ink` and the others of TONES): a drawing of many
    stations is half as long.
    """

    window: Box
    paper_mm: float
    title: str
    person: Person | None = None
    told: str = ""
    foot_mm: float = 0.0
    parts: list[str] = field(default_factory=list)
    classes: dict[str, str] | None = None

    def look_at(self, window: Box) -> None:
        """Another window, of which nothing is drawn yet."""
        self.window = window
        for known in ("view", "scale"):
            self.__dict__.pop(known, None)

    @cached_property
    def view(self) -> Box:
        """The window as it is seen: mm of the bed, to the right and away."""
        return self.turned_box(self.window)

    @cached_property
    def scale(self) -> float:
        """Bed mm for one mm of paper."""
        return self.view.width / self.paper_mm

    @property
    def strip_mm(self) -> float:
        """Height of the strip with the person, on paper."""
        return 0.0 if self.person is None else strip_mm(self.paper_mm)

    @property
    def paper_height_mm(self) -> float:
        return self.view.depth / self.scale + self.strip_mm + self.foot_mm

    def turned(self, point: XY) -> XY:
        """Where a place or direction of the bed is seen."""
        return point if self.person is None else self.person.bed_vector(point)

    @property
    def x_lies_across(self) -> bool:
        """Whether the bed's X is seen from left to right or from right to left."""
        return abs(self.turned((1.0, 0.0))[0]) > 0.5

    def turned_box(self, box: Box) -> Box:
        """A box of the bed as it is seen."""
        return box if self.person is None else bounds(tuple(map(self.turned, box.outline)))

    def moved(self, point: XY, right_mm: float, up_mm: float) -> XY:
        """The place of the bed that is seen so far on paper to the right of and above another."""
        right, up = right_mm * self.scale, up_mm * self.scale
        if self.person is None:
            return point[0] + right, point[1] + up
        dx, dy = turned_by_quarters((right, up), -self.person.of_bed)
        return point[0] + dx, point[1] + dy

    def in_foot(self, right_mm: float, down_mm: float) -> XY:
        """A place on paper below drawing and strip, from its left upper corner, as it is seen."""
        view = self.view
        down = (down_mm + self.strip_mm) * self.scale
        return view.left + right_mm * self.scale, view.front - down

    @contextmanager
    def group(self, classes: str) -> Iterator[None]:
        """What is drawn meanwhile belongs together, under names that a page's style knows."""
        self.parts.append(f'<g class="{escape(classes)}">')
        yield
        self.parts.append("</g>")

    def polygon(self, points: Sequence[XY], look: Look) -> None:
        """A closed outline."""
        self.polygon_seen([self.turned(point) for point in points], look)

    def polygon_seen(self, points: Sequence[XY], look: Look) -> None:
        """A closed outline whose corners are given as they are seen."""
        places = " ".join(f"{self._short(x)},{self._short(-y)}" for x, y in points)
        self.parts.append(f'<polygon points="{places}" {self._look(look)}/>')

    def line(self, start: XY, end: XY, look: Look) -> None:
        """A straight line."""
        (x1, y1), (x2, y2) = self.turned(start), self.turned(end)
        a, b, c, d = (self._short(each) for each in (x1, -y1, x2, -y2))
        ends = f'x1="{a}" y1="{b}" x2="{c}" y2="{d}"'
        self.parts.append(f"<line {ends} {self._look(look)}/>")

    def strokes(self, lines: Sequence[tuple[XY, XY]], look: Look) -> None:
        """Any number of straight lines as one element."""
        self.strokes_seen([(self.turned(a), self.turned(b)) for a, b in lines], look)

    def strokes_seen(self, lines: Sequence[tuple[XY, XY]], look: Look) -> None:
        """Straight lines as one element, with their ends as they are seen."""
        if lines:
            path = " ".join(
                f"M{self._short(x1)} {self._short(-y1)}L{self._short(x2)} {self._short(-y2)}"
                for (x1, y1), (x2, y2) in lines
            )
            self.parts.append(f'<path d="{path}" {self._look(look)}/>')

    def circle(self, centre: XY, radius_mm: float, look: Look) -> None:
        """A circle of a radius on the bed."""
        self.circle_seen(self.turned(centre), radius_mm, look)

    def circle_seen(self, centre: XY, radius_mm: float, look: Look) -> None:
        """A circle whose centre is given as it is seen."""
        x, y = centre
        place = f'cx="{self._short(x)}" cy="{self._short(-y)}" r="{self._short(radius_mm)}"'
        self.parts.append(f"<circle {place} {self._look(look)}/>")

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
        """Upright letters `size` mm high on paper at a place of the bed, centred in height."""
        self.text_seen(self.turned(at), text, size, anchor=anchor, bold=bold, fill=fill, halo=halo)

    def text_seen(
        self,
        at: XY,
        text: str,
        size: float,
        *,
        anchor: str = "middle",
        bold: bool = False,
        fill: str = "#000",
        halo: bool = True,
        turn_deg: int = 0,
    ) -> None:
        """The same at a place as it is seen; `turn_deg`: turned there, counter-clockwise.

        With `halo` white lies below them. Letters with an outline would be written twice into a
        PDF.
        """
        x, y = at
        height = size * self.scale
        if halo:
            wide = text_width(text, height, bold=bold)
            left = {"start": x, "middle": x - wide / 2, "end": x - wide}[anchor]
            look = self._styled('fill="#fff"')
            self.parts.append(
                f'<rect x="{self._short(left)}" y="{self._short(-y - 0.46 * height)}"'
                f' width="{self._short(wide)}" height="{self._short(0.92 * height)}" {look}/>'
            )
        weight = ' font-weight="bold"' if bold else ""
        turn = f' transform="rotate({-turn_deg} {x:.2f} {-y:.2f})"' if turn_deg else ""
        look = self._styled(
            f'font-size="{height:.2f}" text-anchor="{anchor}" fill="{fill}"{weight}'
        )
        self.parts.append(
            f'<text x="{self._short(x)}" y="{self._short(-y + height * 0.35)}" {look}{turn}>'
            f"{escape(visible(text))}</text>"
        )

    def svg(self) -> Markup:
        """The drawing as one element, sized for paper."""
        if self.person is not None:
            self._draw_person(self.person)
        view = self.view
        deep = self.paper_height_mm * self.scale
        box = f"{view.left:.2f} {-view.back:.2f} {view.width:.2f} {deep:.2f}"
        size = f'width="{self.paper_mm:.1f}mm" height="{self.paper_height_mm:.1f}mm"'
        told = f"<desc>{escape(visible(self.told))}</desc>" if self.told else ""
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" {size} role="img"'
            ' font-family="Arial, Helvetica, sans-serif">'
            f"<title>{escape(visible(self.title))}</title>{told}{self._style()}"
        )
        return Markup(
            head + ("\n" if self.classes is None else "").join(self.parts) + "</svg>"
        )  # escaped above

    def _draw_person(self, person: Person) -> None:
        """Who stands below, and at the right the machine's axes."""
        view, scale, high = self.view, self.scale, self.strip_mm
        share = _share(self.paper_mm)
        ground = Box(view.left, view.front - high * scale, view.right, view.front)
        self.polygon_seen(ground.outline, Look(0.0, stroke="none", fill="#fff"))

        def at(right_mm: float, down_mm: float) -> XY:
            """A place on paper from the strip's left upper corner, smaller in a small drawing."""
            return view.left + right_mm * share * scale, view.front - down_mm * share * scale

        self.circle_seen(at(7.0, 3.6), 1.9 * share * scale, _SOLID)
        self.polygon_seen([at(*place) for place in _SHOULDERS], _SOLID)
        here = "you stand here" if person.stated else "seen from here"
        words, there = [(here, 9.4, 3.3)], f"at the {person.place}"
        if self.paper_mm >= _WIDE_MM:
            words = [(f"{here}, {there}", 6.6, 3.6)]
        elif self.paper_mm > _SMALL_MM:
            words = [(f"{here},", 4.2, 3.6), (there, 8.8, 3.6)]
        for line, down_mm, size in words:
            if share * 33.0 + text_width(line, size, bold=True) > self.paper_mm:
                continue  # it would run into the axes
            self.text_seen(at(13.5, down_mm), line, size, anchor="start", bold=True, halo=False)
        ways = [person.machine_vector(each) for each in ((1.0, 0.0), (0.0, 1.0))]
        from_right = 10.0 if share == 1.0 else 12.0
        if not any(dx > 0.5 for dx, _ in ways):  # no letters stand at the right
            from_right /= 2
        middle = (view.right - from_right * share * scale, at(0.0, 6.0)[1])
        self._draw_axes(ways, middle, share)

    def _draw_axes(self, ways: Sequence[XY], middle: XY, share: float) -> None:
        """Which way the machine's X and Y go for who stands below."""
        size, right = 3.4, any(dx > 0.5 for dx, _ in ways)
        unit = share * self.scale
        # the middle of the cross lies between its tips
        (xx, xy), (yx, yy) = ways
        x0, y0 = middle[0] - 3.0 * (xx + yx) * unit, middle[1] - 3.0 * (xy + yy) * unit
        for name, (dx, dy) in zip(("X+", "Y+"), ways, strict=True):
            tip = (x0 + 6.0 * dx * unit, y0 + 6.0 * dy * unit)
            self.strokes_seen([((x0, y0), tip)], Look(0.5 * share))
            back = (tip[0] - 1.8 * dx * unit, tip[1] - 1.8 * dy * unit)
            wings = [(back[0] - s * dy * unit, back[1] + s * dx * unit) for s in (0.8, -0.8)]
            self.polygon_seen([tip, *wings], _SOLID)
            high = size * self.scale
            beside = 0.9 * high if right and dy < 0 else -0.9 * high  # away from the words
            off = (0.9 * high * dx, 0.0) if dx else (beside, -0.3 * high * dy)
            place = (tip[0] + off[0], tip[1] + off[1])
            self.text_seen(place, name, size, bold=True, halo=False)

    def _short(self, value: float) -> str:
        """A coordinate to a hundredth of a mm, without closing zeros.

        With classes as fine as is seen on paper: to a tenth of a mm there, or finer.
        """
        if self.classes is not None and self.scale >= 10.0:
            return f"{value:.0f}".replace("-0", "0") if abs(value) < 1 else f"{value:.0f}"
        text = f"{value:.2f}" if self.classes is None else f"{value:.1f}"
        text = text.rstrip("0").rstrip(".")
        return "0" if text == "-0" else text

    def _look(self, look: Look) -> str:
        dashes = ""
        if look.dashes:
            lengths = " ".join(f"{dash * self.scale:.2f}" for dash in look.dashes)
            dashes = f' stroke-dasharray="{lengths}"'
        shade = f' fill-opacity="{look.opacity:g}"' if look.opacity < 1 else ""
        width = look.width * self.scale
        line = f'stroke="{look.stroke}" stroke-width="{width:.2f}"'
        return self._styled(f'fill="{look.fill}" {line}{dashes}{shade}')

    def _styled(self, look: str) -> str:
        """Attributes of a look as they are, or the class that stands for them."""
        if self.classes is None:
            return look
        return f'class="{self.classes.setdefault(look, f"l{len(self.classes)}")}"'

    def _style(self) -> str:
        """The looks that have classes."""
        if self.classes is None:
            return ""
        rules = (f".{name}{{{_as_css(look)}}}" for look, name in self.classes.items())
        return f"<style>{''.join(rules)}</style>"


def _as_css(look: str) -> str:
    """Attributes of a look as a style, sizes of letters with their unit, colours as tones."""
    found = []
    for name, value in re.findall(r'([\w-]+)="([^"]*)"', look):
        tone = TONES.get((name, value))
        text = f"var({tone},{value})" if tone else value
        found.append(f"{name}:{text}{'px' if name == 'font-size' else ''}")
    return ";".join(found)


TONES = {
    ("fill", "#000"): "--ink", ("stroke", "#000"): "--ink",
    ("fill", "#fff"): "--bg", ("stroke", "#fff"): "--bg",
    **{("stroke", grey): "--dim" for grey in ("#444", "#555", "#777", "#999", "#bbb")},
    **{("fill", grey): "--face" for grey in ("#bbb", "#ccc", "#eee")},
}  # fmt: skip
"""What a page may call the colours of a drawing, for light and dark."""


LEAST_MM = 34.0
"""No drawing with a person is narrower: person and axes stand side by side."""
_SOLID = Look(0.2, fill="#000")
_SHOULDERS = ((2.6, 10.4), (3.2, 8.2), (5.0, 6.4), (9.0, 6.4), (10.8, 8.2), (11.4, 10.4))
