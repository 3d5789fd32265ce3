"""The bed as a drawing that answers: each station's marks lie in it, and a page lights them up.

Every station has three groups of class `s` and its number: its place on the bed, its pins with its
name, and its marks, which are shown while the station is chosen. The drawing changes by classes
alone, so that a page needs no script to show, or print, all of the rest.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from markupsafe import Markup

from pincorner.documents.beds import Bed, Hole
from pincorner.geometry.outline import Box, bounds
from pincorner.render.drawing.bed import (
    MAP_LOOKS,
    SOLID_LOOK,
    Looks,
    bed_canvas,
    draw,
    keep_letters,
)
from pincorner.render.drawing.canvas import Canvas, Look
from pincorner.render.drawing.jig_marks import (
    ZERO_MM,
    axes_differ,
    axis_ends,
    draw_band,
    draw_zero,
    empty_mark,
    fronts_of,
    name_marks,
    reach_of_axes,
    write_front,
)
from pincorner.render.drawing.labels import Labels, Line, around, draw_empty
from pincorner.render.drawing.scene import (
    jig_shape,
    map_scene,
    pin_shapes,
    standing_shapes,
)
from pincorner.render.drawing.station_names import CROWDED, Listed, MapNames
from pincorner.setups.locating import SetPin
from pincorner.setups.person import Person
from pincorner.setups.setup import Setup

LETTERS_MM = 4.0
"""Letters of the grid: on a phone the drawing is half as wide as its paper."""
_LEAST_PIN_MM = 0.8
_DISC_MM, _NUMBER_MM, _HOLE_MM = 2.8, 4.2, 6.0
"""Least radius of a pin that is lit up, its number and its hole's name."""
_RING_MM, _AXIS_MM = 3.2, 11.0

_LIT = Look(0.6, stroke="#fff", fill="#000")
_RING = Look(0.8, dashes=(1.6, 1.2))
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


class LiveMap(NamedTuple):
    """The drawing, and the stations whose numbers stand in it for their names."""

    drawing: Markup
    listed: Sequence[Listed]


def live_map(
    bed: Bed, stations: Sequence[Lit], person: Person, paper_mm: float, told: str
) -> LiveMap:
    """The whole bed; `told` says for those who cannot see it what it shows.

    Marks are left out where stations are more than CROWDED: such a page could not be carried about.
    """
    title = f"Bed {bed.name} from above"
    canvas = bed_canvas(bed, paper_mm, title, person, LETTERS_MM, told, {})
    scene = map_scene(bed, [setup for each in stations for setup in each.setups])
    located = [(at, each) for at, each in enumerate(stations) if each.setups]
    crowded = len(located) > CROWDED
    tabs: dict[int, list[Box]] = {}
    for at, each in located:
        with canvas.group(f"s s{at} a"):
            draw(canvas, [jig_shape(each.first)], MAP_LOOKS)
            tabs[at] = _draw_fronts(canvas, each)
    least_mm = _LEAST_PIN_MM * canvas.scale
    names = MapNames(canvas, scene, least_mm)
    for labels in names.both:
        keep_letters(labels, canvas, bed, LETTERS_MM)
        for _, each in located if not crowded else ():
            _keep_marks(labels, canvas, each)
    rest = []
    for at, each in located:
        with canvas.group(f"s s{at} n"):
            draw(canvas, pin_shapes(each.first.located), MAP_LOOKS, least_pin_mm=least_mm)
            rest += [] if names.name_inside(jig_shape(each.first)) else [(at, each)]
    with canvas.group("found"):
        names.sign_findings()
    jigs = [jig_shape(each.first) for _, each in rest]
    places, listed = names.places_beside(jigs), []
    for which, (at, _) in enumerate(rest):
        with canvas.group(f"s s{at} n"):
            if places:
                names.name_beside(places[which])
            else:
                listed.append(names.number(jigs[which], at + 1))
    for at, each in () if crowded else located:
        with canvas.group(f"s s{at} m"):
            _Marks(canvas, bed, each, tabs[at]).draw()
    return LiveMap(canvas.svg(), listed)


def _keep_marks(labels: Labels, canvas: Canvas, station: Lit) -> None:
    """Leave to a station's zeros, axes and pins what they take when they light up: the page hides a
    name that they would lie on."""
    reaches = _reaches(station.setups, canvas.scale)
    for setup, reach_mm in zip(station.setups, reaches, strict=True):
        labels.keep(around(setup.zero_in_bed, ZERO_MM * canvas.scale))
        for start, end in axis_ends(canvas, setup, reach_mm):
            labels.keep_line(start, end, softly=True)
    for pin in station.first.located.pins:
        labels.keep(_lit(canvas, pin), softly=True)


def _draw_fronts(canvas: Canvas, station: Lit) -> list[Box]:
    """The jig's own front edge, its word beside the pins, zeros and clamps that will be lit up.

    Returns where the words stand.
    """
    reaches = _reaches(station.setups, canvas.scale)
    tips = [
        axis
        for setup, reach_mm in zip(station.setups, reaches, strict=True)
        for axis in axis_ends(canvas, setup, reach_mm)
    ]
    lines = [bounds((canvas.turned(start), canvas.turned(end))) for start, end in tips]
    kept = [line.grown(ZERO_MM * canvas.scale) for line in lines]
    kept += [canvas.turned_box(bounds(up.outline)) for up in standing_shapes(station.first)]
    pins = [canvas.turned_box(_lit(canvas, pin)) for pin in station.first.located.pins]
    tabs = []
    for name, edge in fronts_of(station.first):
        draw_band(canvas, edge)
        # where a band has no room beside all of them, the word shows until its pins light up
        for taken in ([*kept, *pins], kept, []):
            tab = write_front(canvas, edge, name, _stands_in(taken), below=True)
            if tab is not None:
                tabs.append(tab)
                break
    return tabs


def _stands_in(boxes: Sequence[Box]) -> Callable[[Box], bool]:
    """Whether something stands in a box."""
    return lambda box: any(map(box.meets, boxes))


def _reaches(setups: Sequence[Setup], scale: float) -> list[float]:
    """Lengths of the arrows at each zero: 0 where they point as those of the first nest do."""
    reach_mm = reach_of_axes(setups, scale, _AXIS_MM)
    return [
        reach_mm if at == 0 or differs else 0.0 for at, differs in enumerate(axes_differ(setups))
    ]


def _lit(canvas: Canvas, pin: SetPin) -> Box:
    """The box of a pin's disc as it is lit up."""
    return around(pin.at_mm, max(pin.radius_mm, _DISC_MM * canvas.scale))


class _Marks:
    """What lights up of one station: its pins in order, what to leave empty, its zeros."""

    def __init__(self, canvas: Canvas, bed: Bed, station: Lit, tabs: Sequence[Box]) -> None:
        self._canvas, self._bed, self._station, self._tabs = canvas, bed, station, tabs
        self._labels = Labels(canvas, halo=False)
        self._mm = canvas.scale

    def draw(self) -> None:
        """All marks, then their names, which lie on none of them."""
        first = self._station.first
        draw(self._canvas, standing_shapes(first), _STANDING)
        for each in standing_shapes(first):
            self._labels.keep(bounds(each.outline))
        keep_letters(self._labels, self._canvas, self._bed, LETTERS_MM)
        self._labels.keep_outline(first.footprint_in_bed(), softly=True)
        for tab in self._tabs:
            self._labels.keep_seen(tab)
        empty = empty_mark(self._station.setups, self._mm)
        zero_mm = ZERO_MM if empty is None else empty.zero_mm
        self._rings()
        tips = []
        reaches = _reaches(self._station.setups, self._mm)
        for setup, reach_mm in zip(self._station.setups, reaches, strict=True):
            mine = draw_zero(self._canvas, self._labels, setup, reach_mm, zero_mm)
            tips += mine if reach_mm else []
        self._pins()
        if empty is not None:
            draw_empty(self._canvas, self._canvas.turned(empty.at), empty.half_mm)
            mark = around(empty.at, empty.half_mm)
            self._labels.keep(mark, kind="hole")
            line = Line(f"{first.located.corner_hole} EMPTY", 4.4, bold=True)
            self._labels.beside([line], mark, None, first.footprint_in_bed(), near=True,
                                kind="hole")  # fmt: skip
        self._name_pins()
        name_marks(self._canvas, self._labels, first, tips, 4.4, word=False)
        for place in self._holes(self._station.take_out):
            mark = around(place.at_mm, _RING_MM * self._mm)
            self._labels.beside([Line(f"{place.label} out", 4.4, bold=True)], mark, kind="hole")
        self._name_zeros()
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
                self._labels.keep(around(pin.at_mm, radius_mm), kind="hole")

    def _name_pins(self) -> None:
        located = self._station.first.located
        for pin in located.pins:
            line = Line(pin.hole, _HOLE_MM, bold=True)
            off = () if located.on_dowels else self._station.first.footprint_in_bed()
            self._labels.beside([line], _lit(self._canvas, pin), pin.away, off, kind="hole")

    def _rings(self) -> None:
        """Rings around pins that must come out."""
        for place in self._holes(self._station.take_out):
            radius_mm = max(self._bed.grid.hole / 2, _RING_MM * self._mm)
            self._canvas.circle(place.at_mm, radius_mm, _RING)
            self._labels.keep(around(place.at_mm, radius_mm), kind="hole")

    def _name_zeros(self) -> None:
        """The code of each zero where there are several."""
        setups = self._station.setups
        for setup in setups if len(setups) > 1 else ():
            inward = setup.program_in_bed.vector((1.0, 1.0))
            line = Line(setup.work_offset or setup.nest.name, 3.6, bold=True)
            mark = around(setup.zero_in_bed, ZERO_MM * self._mm)
            self._labels.beside([line], mark, inward, kind="zero")
