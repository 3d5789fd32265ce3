"""Names of stations on a bed's map, and signs of findings: legible, apart, none on what it marks.

A name with its codes stands whole in its jig; where that is too small, beside it with a line that
leads to it; where not all such names have room, their numbers do, in boxes, and the map lists what
they stand for.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from pincorner.geometry.outline import Box, Outline, bounds, distance_to
from pincorner.geometry.pose import XY
from pincorner.render.drawing.canvas import Canvas, Look, text_width
from pincorner.render.drawing.jig_marks import tab_on
from pincorner.render.drawing.labels import GAPS_MM, NEAR, Labels, Line, around, nearest
from pincorner.render.drawing.scene import Edge, Scene, Shape

_NAME_MM, _LEAST_NAME_MM = 4.2, 3.25
_BESIDE_MM, _MOST_LINES = 36.0, 4
"""How wide a name beside its jig may be, and in how many lines with its codes."""
_GAPS_MM = (3.0, 6.0, 10.0)
_NUMBER_GAPS_MM = (3.0, 6.0, 10.0, 15.0, 21.0)
"""Distances from a jig that are tried for its name, and for its number."""
_INTO_JIG_MM = 2.0
"""How far a line leads into the jig whose name it has."""
_RIM_MM = 0.8
"""From a number to its box."""
_MARGIN_MM, _NUMBER_MM = 2.0, 10.0
"""Of the list below a map: left of it, and between the left of a number and what it stands for."""
CROWDED = 400
"""More stations than that are named in small letters."""
SIGN_LOOK, _LEADER, _BOX = Look(0.4, fill="#fff"), Look(0.3), Look(0.3, fill="#fff")
_SIGN_MM, _HIGH = 3.3, 1.8
"""Height of a sign's letter, which is half its width; its own height in shares of it."""


class Listed(NamedTuple):
    """A station whose number stands in for its name and codes; without `drawn`, not even that."""

    number: int
    name: str
    codes: tuple[str, ...]
    drawn: bool = True

    @property
    def told(self) -> str:
        """What the number stands for."""
        return f"{self.name}: {', '.join(self.codes)}"


def roomless_told(listed: Sequence[Listed]) -> str:
    """The stations for whose numbers there is no room, as where many lie upon one another."""
    roomless = [each.told for each in listed if not each.drawn]
    return f"No room in the drawing: {'; '.join(roomless)}." if roomless else ""


class Beside(NamedTuple):
    """A name beside its jig, as seen: its lines, where they stand, and the line into the jig."""

    lines: Sequence[Line]
    place: Box
    leader: tuple[XY, XY]


class MapNames:
    """What is written onto a map beside its shapes, the stations' names first."""

    def __init__(self, canvas: Canvas, scene: Scene, least_pin_mm: float) -> None:
        self._canvas, self._scene, self._mm = canvas, scene, canvas.scale
        self._least_pin_mm = least_pin_mm
        self.labels, self.off_jigs = Labels(canvas), Labels(canvas)
        """What is free, and what is free off all jigs."""
        self.crowded = len(scene.of("jig")) > CROWDED
        self._keep()

    @property
    def both(self) -> tuple[Labels, Labels]:
        """Everything that is to be left free is told to both."""
        return self.labels, self.off_jigs

    def _keep(self) -> None:
        """Leave pins, front edges and outlines to themselves."""
        jigs = self._scene.of("jig")
        for pin in self._scene.discs("pin"):
            for labels in self.both:
                labels.keep(around(pin.at, max(pin.radius_mm, self._least_pin_mm)))
        for edge in self._scene.of("front"):
            if isinstance(edge.form, Edge):
                self.labels.keep(bounds(edge.form.band(tab_on(self._mm, edge.form))))
        for jig in () if self.crowded else jigs:
            self.labels.keep_outline(jig.outline, softly=True)
            self.off_jigs.keep(bounds(jig.outline))

    def name_inside(self, jig: Shape) -> bool:
        """Write name and codes of a station whole into its jig, on the side away from the pins;
        returns whether they have room.

        Where stations are crowded the name alone in letters that fit, whatever their size: to be
        zoomed into. Looking for free places among very many stations takes for ever.
        """
        box = bounds(jig.outline).grown(-1.0 * self._mm)
        width, height = self.labels.size_of(box)
        if self.crowded:
            size = min(_NAME_MM, 0.9 * width / text_width(jig.name, 1.0, bold=True), 0.6 * height)
            self.labels.write(Line(jig.name, size, bold=True), box.middle)
            return True
        for size in (_NAME_MM, 3.6, _LEAST_NAME_MM):
            for lines in (_lines(jig, size, width), _one_line(jig, size, width)):
                if lines and self.labels.inside(lines, box, jig.toward, needed=False):
                    return True
        return False

    def places_beside(self, jigs: Sequence[Shape]) -> list[Beside]:
        """Places beside their jigs for names that have no room inside; none where one has none
        there either: then numbers stand for all of them."""
        labels, found = self.off_jigs.copied(), []
        for jig in jigs:
            lines = _lines(jig, _LEAST_NAME_MM, _BESIDE_MM)
            size_mm = labels.size_mm(lines) if 0 < len(lines) <= _MOST_LINES else None
            place = size_mm and self._place_beside(labels, jig, size_mm, _GAPS_MM)
            if not place:
                return []
            found.append(Beside(lines, *place))
        return found

    def name_beside(self, beside: Beside) -> None:
        """Write a name where it has its place, with the line into its jig."""
        self._canvas.strokes_seen([beside.leader], _LEADER)
        self.labels.keep_seen(beside.place)
        self.off_jigs.keep_line_seen(*beside.leader)
        self.off_jigs.write_in(beside.lines, beside.place)

    def number(self, jig: Shape, number: int) -> Listed:
        """Write a station's number into its jig or beside it; what is to be listed."""
        text, seen = str(number), self._canvas.turned_box(bounds(jig.outline))
        for size in (_NAME_MM, _LEAST_NAME_MM):
            line = [Line(text, size, bold=True)]
            place = self.labels.free_inside(self._boxed_mm(line), seen)
            if place is not None:
                self._write_boxed(line, place)
                return Listed(number, jig.name, jig.notes)
        line = [Line(text, _LEAST_NAME_MM, bold=True)]
        beside = self._place_beside(self.off_jigs, jig, self._boxed_mm(line), _NUMBER_GAPS_MM)
        if beside is None:
            return Listed(number, jig.name, jig.notes, drawn=False)
        self._canvas.strokes_seen([beside[1]], _LEADER)
        self._write_boxed(line, beside[0])
        return Listed(number, jig.name, jig.notes)

    def _boxed_mm(self, line: Sequence[Line]) -> XY:
        wide, high = self.labels.size_mm(line)
        return wide + 2 * _RIM_MM, high + 2 * _RIM_MM

    def _write_boxed(self, line: Sequence[Line], place: Box) -> None:
        self._canvas.polygon_seen(place.outline, _BOX)
        for labels in self.both:
            labels.keep_seen(place)
        self.labels.write_in(line, place.grown(-_RIM_MM * self._mm))

    def _place_beside(
        self, labels: Labels, jig: Shape, size_mm: XY, gaps_mm: Sequence[float]
    ) -> tuple[Box, tuple[XY, XY]] | None:
        """A place off all jigs, and the line from there into its own; it is kept, too."""
        mark = self._canvas.turned_box(bounds(jig.outline))
        place = labels.free_beside(size_mm, mark, self._canvas.turned(jig.toward), gaps_mm)
        if place is None:
            return None
        leader = self._leader(tuple(map(self._canvas.turned, jig.outline)), mark, place)
        labels.keep_seen(place)
        labels.keep_line_seen(*leader)
        return place, leader

    def _leader(self, outline: Outline, mark: Box, place: Box) -> tuple[XY, XY]:
        """From a name's place into the jig, as seen: to its middle where it lies askew."""
        start, reach = nearest(place, mark.middle), _INTO_JIG_MM * self._mm
        (x, y), (cx, cy) = nearest(mark, start), mark.middle
        end = (x + max(-reach, min(reach, cx - x)), y + max(-reach, min(reach, cy - y)))
        return start, end if distance_to(outline, end) == 0 else mark.middle

    def sign_findings(self) -> None:
        """A sign for each finding beside its place, on no pin, name or letter."""
        pins_mm = {pin.at: pin.radius_mm for pin in self._scene.discs("pin")}
        for spot in self._scene.spots("finding"):
            pin_mm = max(pins_mm.get(spot.at, 0.0), self._least_pin_mm)
            self._sign(self._canvas.turned(spot.at), pin_mm)

    def _sign(self, place: XY, pin_mm: float) -> None:
        """A mark of exclamation in a triangle whose tip points down; a line leads to its place
        unless that is right below."""
        size, mark = _SIGN_MM * self._mm, around(place, pin_mm)
        above = Box(place[0] - size, mark.back, place[0] + size, mark.back + _HIGH * size)
        box, size_mm = None, (2 * _SIGN_MM, _HIGH * _SIGN_MM)
        for gaps_mm in () if self.crowded else (GAPS_MM[:NEAR], GAPS_MM[NEAR:]):
            box = box or self.labels.free_beside(size_mm, mark, (0.0, 1.0), gaps_mm)
        box = box or above
        if abs(box.middle[0] - place[0]) > 0.1 * size or box.front < mark.back:
            self._canvas.strokes_seen([(box.middle, place)], _LEADER)
        (x, _), top = box.middle, box.back
        corners = [(x - size, top), (x + size, top), (x, top - _HIGH * size)]
        self._canvas.polygon_seen(corners, SIGN_LOOK)
        middle = (x, top - 0.65 * size)
        self._canvas.text_seen(middle, "!", _SIGN_MM, bold=True, halo=False)
        for labels in self.both:
            labels.keep_seen(box)


def list_below(canvas: Canvas, listed: Sequence[Listed]) -> None:
    """What the numbers on a map stand for, in lines below it."""
    wide_mm, line_mm = canvas.paper_mm - 2 * _MARGIN_MM, 1.2 * _LEAST_NAME_MM
    entries = [(str(each.number), each.told) for each in listed if each.drawn]
    entries += [("", text) for text in (roomless_told(listed),) if text]
    for number, told in entries:
        from_mm = _NUMBER_MM if number else 0.0
        for at, text in enumerate(wrapped_name(told, _LEAST_NAME_MM, wide_mm - from_mm)):
            canvas.foot_mm += line_mm
            down_mm = canvas.foot_mm - line_mm / 2
            if at == 0 and number:
                _write_left(canvas, canvas.in_foot(_MARGIN_MM, down_mm), number, bold=True)
            _write_left(canvas, canvas.in_foot(_MARGIN_MM + from_mm, down_mm), text)
    canvas.foot_mm += _MARGIN_MM if listed else 0.0


def _write_left(canvas: Canvas, place: XY, text: str, *, bold: bool = False) -> None:
    canvas.text_seen(place, text, _LEAST_NAME_MM, anchor="start", bold=bold, halo=False)


def _lines(jig: Shape, size: float, width_mm: float) -> list[Line]:
    """Name and codes of a station, none of them broken, in lines so wide; none where a word is
    wider."""
    lines = [Line(text, size, bold=True) for text in whole_words(jig.name, size, width_mm)]
    lines += [Line(text, _LEAST_NAME_MM) for text in _wrapped(jig.notes, _LEAST_NAME_MM, width_mm)]
    return lines if all(line.width <= width_mm for line in lines) else []


def _one_line(jig: Shape, size: float, width_mm: float) -> list[Line]:
    """The same in one line, for slim jigs."""
    line = Line(f"{jig.name}: {', '.join(jig.notes)}", size, bold=True)
    return [line] if line.width <= width_mm else []


def whole_words(name: str, size: float, width_mm: float) -> list[str]:
    """A name in lines at most `width_mm` wide where its words are not wider: broken behind spaces
    and - _ . alone."""
    lines = [""]
    for word in re.findall(r"[^\s\-_.]*[\s\-_.]?", name):
        if text_width((lines[-1] + word).rstrip(), size, bold=True) > width_mm and lines[-1]:
            lines.append("")
        lines[-1] += word
    return [line.strip() for line in lines if line.strip()]


def wrapped_name(name: str, size: float, width_mm: float) -> list[str]:
    """A name in lines at most `width_mm` wide; a word that is wider is broken itself."""
    lines = []
    for line in whole_words(name, size, width_mm):
        lines.append("")
        for letter in line:
            if text_width(lines[-1] + letter, size, bold=True) > width_mm and lines[-1]:
                lines.append("")
            lines[-1] += letter
    return [line.strip() for line in lines if line.strip()]


def _wrapped(words: Sequence[str], size: float, width_mm: float) -> list[str]:
    """Words with commas, in lines that are `width_mm` wide on paper or hold one word."""
    lines = [words[0]]
    for word in words[1:]:
        longer = f"{lines[-1]}, {word}"
        if text_width(longer, size) <= width_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
