"""The bed as a drawing that answers: each station's marks lie in it, and a page lights them up.

Every station has three groups of class `s` and its number: its place on the bed, its pins with its
name, and its marks, which are shown while the station is chosen. The drawing changes by classes
alone, so that a page needs no script to show, or print, all of the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from markupsafe import Markup

from pincorner.documents.beds import Bed, Hole
from pincorner.geometry.outline import Box, bounds
from pincorner.geometry.pose import XY
from pincorner.render.drawing.bed import (
    CROWDED,
    FRONT_LOOK,
    MAP_LOOKS,
    SOLID_LOOK,
    ZERO_MM,
    Looks,
    axis_tips,
    band_on,
    bed_canvas,
    draw,
    draw_band,
    draw_zero,
    keep_for_names,
    keep_letters,
    name_station,
    write_front,
)
from pincorner.render.drawing.canvas import Canvas, Look
from pincorner.render.drawing.labels import Labels, Line, around
from pincorner.render.drawing.scene import (
    Edge,
    front_shapes,
    jig_shape,
    map_scene,
    pin_shapes,
    standing_shapes,
)
from pincorner.setups.person import Person
from pincorner.setups.setup import Setup

LETTERS_MM = 4.0
"""Letters of the grid: on a phone the drawing is half as wide as its paper."""
_LEAST_PIN_MM = 0.8
_DISC_MM, _NUMBER_MM, _HOLE_MM = 3.0, 4.2, 6.0
"""Least radius of a pin that is lit up, its number and its hole's name."""
_RING_MM, _CROSS_MM = 3.2, 3.4

_LIT = Look(0.6, stroke="#fff", fill="#000")
_RING = Look(0.8, dashes=(1.6, 1.2))
_CROSS = Look(0.9)
_STANDING: Looks = {"standing": SOLID_LOOK}


class Lit(NamedTuple):
    """A station as it is lit up: the setups of its nests, the holes with pins to be taken out.

    Without setups it cannot be located, and keeps its number.
    """

    setups: Sequence[Setup]
    take_out: Sequence[str]

    @property
    def first(self) -> Setup:
        """The setup that says where the jig lies."""
        return self.setups[0]


def live_map(
    bed: Bed, stations: Sequence[Lit], person: Person, paper_mm: float, told: str
) -> Markup:
    """The whole bed; `told` says for those who cannot see it what it shows.

    Marks are left out where stations are more than CROWDED: such a page could not be carried about.
    """
    title = f"Bed {bed.name} from above"
    canvas = bed_canvas(bed, paper_mm, title, person, LETTERS_MM, told, {})
    scene = map_scene(bed, [setup for each in stations for setup in each.setups])
    located = [(at, each) for at, each in enumerate(stations) if each.setups]
    crowded = len(located) > CROWDED
    for at, each in located:
        with canvas.group(f"s s{at} a"):
            draw(canvas, [jig_shape(each.first)], MAP_LOOKS)
            _draw_fronts(canvas, each)
    labels, least_mm = Labels(canvas), _LEAST_PIN_MM * canvas.scale
    keep_for_names(labels, scene, least_mm)
    for at, each in located:
        with canvas.group(f"s s{at} n"):
            draw(canvas, pin_shapes(each.first.located), MAP_LOOKS, least_pin_mm=least_mm)
            name_station(labels, jig_shape(each.first), crowded=crowded)
    with canvas.group("found"):
        draw(canvas, scene.of("finding"), MAP_LOOKS, least_pin_mm=least_mm)
    for at, each in () if crowded else located:
        with canvas.group(f"s s{at} m"):
            _Marks(canvas, bed, each).draw()
    return canvas.svg()


def _draw_fronts(canvas: Canvas, station: Lit) -> None:
    """The jig's own front edge, its word beside the zeros that will be lit up."""
    tips = [axis for setup in station.setups for axis in axis_tips(canvas, setup)]
    lines = [bounds((canvas.turned(start), canvas.turned(end))) for start, end in tips]
    kept = [line.grown(ZERO_MM * canvas.scale) for line in lines]

    def taken(box: Box) -> bool:
        return any(
            box.left < each.right
            and each.left < box.right
            and box.front < each.back
            and each.front < box.back
            for each in kept
        )

    for front in front_shapes(station.first):
        if isinstance(front.form, Edge):
            draw_band(canvas, front.form, FRONT_LOOK)
            write_front(canvas, front.form, front.name, taken)


class _Marks:
    """What lights up of one station: its pins in order, what to leave empty, its zeros."""

    def __init__(self, canvas: Canvas, bed: Bed, station: Lit) -> None:
        self._canvas, self._bed, self._station = canvas, bed, station
        self._labels = Labels(canvas, halo=False)
        self._mm = canvas.scale

    def draw(self) -> None:
        """All marks, then their names, which lie on none of them."""
        first = self._station.first
        draw(self._canvas, standing_shapes(first), _STANDING)
        for each in standing_shapes(first):
            self._labels.keep(bounds(each.outline))
        keep_letters(self._labels, self._bed, LETTERS_MM)
        self._labels.keep_outline(first.footprint_in_bed(), softly=True)
        for front in front_shapes(first):
            if isinstance(front.form, Edge):
                band = front.form.band(band_on(self._mm, front.form))
                self._labels.keep(bounds(band), softly=True)
        empty = self._empty()
        self._rings()
        tips = [
            t
            for setup in self._station.setups
            for t in draw_zero(self._canvas, self._labels, setup)
        ]
        self._pins()
        self._name_pins()
        if empty is not None:
            mark = around(empty.at_mm, _CROSS_MM * self._mm)
            self._labels.beside([Line(f"{empty.label} empty", 4.4, bold=True)], mark)
        for place in self._holes(self._station.take_out):
            mark = around(place.at_mm, _RING_MM * self._mm)
            self._labels.beside([Line(f"{place.label} out", 4.4, bold=True)], mark)
        self._name_zeros(tips)
        self._labels.draw_leaders()

    def _holes(self, names: Sequence[str]) -> list[Hole]:
        return [place for name in names if (place := self._bed.hole(name)) is not None]

    def _pins(self) -> None:
        """Discs, numbered in the order of use."""
        pins = self._station.first.located.pins
        with self._canvas.group("p"):
            for number, pin in enumerate(pins, 1):
                radius_mm = max(pin.radius_mm, _DISC_MM * self._mm)
                self._canvas.circle(pin.at_mm, radius_mm, _LIT)
                self._canvas.text(
                    pin.at_mm, str(number), _NUMBER_MM, bold=True, fill="#fff", halo=False
                )
                self._labels.keep(around(pin.at_mm, radius_mm))

    def _name_pins(self) -> None:
        for pin in self._station.first.located.pins:
            radius_mm = max(pin.radius_mm, _DISC_MM * self._mm)
            away = (-pin.normal[0], -pin.normal[1])
            line = Line(pin.hole, _HOLE_MM, bold=True)
            self._labels.beside([line], around(pin.at_mm, radius_mm), away)

    def _empty(self) -> Hole | None:
        """The hole at the inside corner, crossed."""
        corner = self._station.first.located.corner_hole
        place = self._bed.hole(corner) if corner else None
        if place is not None:
            (x, y), reach = place.at_mm, _CROSS_MM * self._mm
            ends = [((x - reach, y + way * reach), (x + reach, y - way * reach)) for way in (1, -1)]
            self._canvas.strokes(ends, _CROSS)
            self._labels.keep(around(place.at_mm, _CROSS_MM * self._mm))
        return place

    def _rings(self) -> None:
        """Rings around pins that must come out."""
        for place in self._holes(self._station.take_out):
            radius_mm = max(self._bed.grid.hole / 2, _RING_MM * self._mm)
            self._canvas.circle(place.at_mm, radius_mm, _RING)
            self._labels.keep(around(place.at_mm, radius_mm))

    def _name_zeros(self, tips: Sequence[tuple[str, XY, XY]]) -> None:
        """The axes of the first nest, and the code of each zero where there are several."""
        setups = self._station.setups
        for name, along, tip in tips[:2]:
            mark = around(tip, 0.4 * self._mm)
            self._labels.beside([Line(name, 4.4, bold=True)], mark, along)
        for setup in setups if len(setups) > 1 else ():
            inward = setup.program_in_bed.vector((1.0, 1.0))
            line = Line(setup.work_offset or setup.nest.name, 3.6, bold=True)
            self._labels.beside([line], around(setup.zero_in_bed, ZERO_MM * self._mm), inward)
