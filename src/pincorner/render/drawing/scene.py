"""What there is to draw of a bed and its stations: named shapes in bed mm, for any drawing.

A scene is made once, from documents and Setups; writers (`bed` as SVG, `dxf` as DXF) have
a table of what each kind of shape looks like, and leave out kinds that their drawing does not show.
Sizes on paper, the places of names and the lengths of arrows are theirs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

from pincorner.bed import track_outline
from pincorner.documents.beds import Bed
from pincorner.documents.jigs import Jig
from pincorner.documents.machines import Machine
from pincorner.geometry.outline import Box, Outline, bounds, side_segments
from pincorner.geometry.pose import XY, Pose
from pincorner.setups.locating import Located
from pincorner.setups.person import Person, person_at
from pincorner.setups.setup import Setup
from pincorner.standing import standing_on, standing_up

Kind = Literal[
    "bed", "slat", "track", "solid", "hole", "hole not used", "screw", "column", "row",
    "jig", "front", "standing", "pin", "stock", "zero", "finding",
]  # fmt: skip
"""`solid` is fixed on the bed, `standing` on a station: its clamps and the jig's own solids.
`front`: a jig's own front edge, as people call it."""

_BED_KINDS = frozenset[Kind](("bed", "slat", "track", "solid", "hole", "hole not used", "screw"))
"""What `bed_shapes` has."""


class Disc(NamedTuple):
    """A circle on the bed."""

    at: XY
    radius_mm: float


class Spot(NamedTuple):
    """A place with a mark or letters; `away` leads from the bed to where letters stand."""

    at: XY
    away: XY = (0.0, 0.0)


class Axes(NamedTuple):
    """A zero, and the directions (unit vectors) of what the program calls X and Y."""

    at: XY
    x: XY
    y: XY


class Edge(NamedTuple):
    """A jig's own edge, from its left end to its right end as the jig has them.

    `inward`: the direction (unit vector) from it into the jig, which is `depth_mm` deep there.
    """

    start: XY
    end: XY
    inward: XY
    depth_mm: float

    def band(self, thickness_mm: float) -> Outline:
        """The outline of a band along it, inside the jig."""
        (x1, y1), (x2, y2), (dx, dy) = self.start, self.end, self.inward
        dx, dy = dx * thickness_mm, dy * thickness_mm
        return self.start, self.end, (x2 + dx, y2 + dy), (x1 + dx, y1 + dy)

    def notch(self, size_mm: float) -> Outline:
        """The outline of a notch at its left end."""
        (x1, y1), (dx, dy) = self.start, self.inward
        length = math.dist(self.start, self.end)
        ax, ay = ((b - a) / length for a, b in zip(self.start, self.end, strict=True))
        return (
            self.start,
            (x1 + ax * size_mm, y1 + ay * size_mm),
            (x1 + dx * size_mm, y1 + dy * size_mm),
        )


class Shape(NamedTuple):
    """A thing on the bed: what it is, what it is called, and where.

    `notes`: what else stands beside its name. `toward`: of a jig, the side away from its pins, as
    signs of X and Y; names stand there.
    """

    kind: Kind
    name: str
    form: Outline | Disc | Spot | Axes | Edge
    notes: tuple[str, ...] = ()
    toward: XY = (1.0, 1.0)

    @property
    def outline(self) -> Outline:
        """The corners of a shape that has an outline."""
        assert not isinstance(self.form, Disc | Spot | Axes | Edge)
        return self.form


class Scene(NamedTuple):
    """A bed with all that is drawn of it, and who looks at it.

    `upon`: what is drawn upon the bed's own shapes, what lies below first.
    """

    bed: Bed
    upon: tuple[Shape, ...]
    person: Person = Person()

    @property
    def shapes(self) -> tuple[Shape, ...]:
        """All of them, what lies below first."""
        return *bed_shapes(self.bed), *self.upon

    def of(self, *kinds: Kind) -> list[Shape]:
        """The shapes of some kinds, in order."""
        there = self.upon if _BED_KINDS.isdisjoint(kinds) else self.shapes
        return [shape for shape in there if shape.kind in kinds]

    def discs(self, *kinds: Kind) -> list[Disc]:
        """The circles of some kinds, in order."""
        return [shape.form for shape in self.of(*kinds) if isinstance(shape.form, Disc)]

    def spots(self, *kinds: Kind) -> list[Spot]:
        """The marked places of some kinds, in order."""
        return [shape.form for shape in self.of(*kinds) if isinstance(shape.form, Spot)]


def sign(place: XY, size_mm: float) -> Outline:
    """The triangle around a place that has a finding."""
    x, y = place
    return (x - size_mm, y - size_mm), (x + size_mm, y - size_mm), (x, y + size_mm)


def person_of(bed: Bed, machine: Machine | None, setups: Sequence[Setup] = ()) -> Person:
    """Who looks at a bed: its stations know how it lies; without any, its document does."""
    if setups:
        return setups[0].person
    pose = Pose.of_degrees("machine", "bed", bed.pose.x, bed.pose.y, bed.pose.angle)
    return person_at(machine, pose)


def map_scene(bed: Bed, setups: Sequence[Setup], machine: Machine | None = None) -> Scene:
    """The bed with stations, of which `setups` are the nests; marks are those of first nests.

    `machine`: whose bed it is, where there are no stations to tell.
    """
    by_station: dict[str, Setup] = {}
    for setup in setups:
        by_station.setdefault(setup.facts.station.name, setup)
    firsts = list(by_station.values())
    places = {f.place_mm for setup in firsts for f in setup.findings if f.place_mm}
    return Scene(
        bed,
        (
            *grid_letters(bed),
            *map(jig_shape, firsts),
            *(shape for setup in firsts for shape in front_shapes(setup)),
            *(shape for setup in firsts for shape in standing_shapes(setup)),
            *(shape for setup in firsts for shape in pin_shapes(setup.located)),
            *map(stock_shape, setups),
            *map(zero_shape, setups),
            *(Shape("finding", "!", Spot(place)) for place in sorted(places)),
        ),
        person_of(bed, machine, setups),
    )


def bed_shapes(
    bed: Bed, within: Box | None = None, every: tuple[int, int] = (1, 1)
) -> Iterator[Shape]:
    """The bed itself and what is fixed on it or bored into it; of its holes those that
    `Bed.holes` has `within` a box, and of `every` so manieth column and row."""
    yield Shape("bed", bed.name, bed.box.outline)
    for slat in bed.slats:
        yield Shape("slat", slat.name, slat.box.outline)
    for track in bed.tracks:
        yield Shape("track", track.name, track_outline(track))
    for solid in standing_on(bed):
        yield Shape("solid", solid.name, solid.outline)
    radius_mm = bed.grid.hole / 2
    for place in bed.holes(within, every):
        kind: Kind = "hole" if place.usable else "hole not used"
        yield Shape(kind, place.label, Disc(place.at_mm, radius_mm))
    for screw in bed.screws:
        yield Shape("screw", screw.name, Disc(screw.at, screw.diameter / 2))


def grid_letters(bed: Bed) -> Iterator[Shape]:
    """Column letters along the front, row numbers along the left side."""
    grid, box = bed.grid, bed.box
    for index in range(grid.columns):
        spot = Spot((index * grid.pitch[0], box.front), (0.0, -1.0))
        yield Shape("column", bed.letters.of(index + 1), spot)
    for index in range(grid.rows):
        yield Shape("row", str(index + 1), Spot((box.left, index * grid.pitch[1]), (-1.0, 0.0)))


def jig_shape(setup: Setup) -> Shape:
    """A station's jig, by the station's name, with the codes of all its nests."""
    station, sides = setup.facts.station, setup.located.toward or "+x+y"
    toward = (1.0 if sides.startswith("+x") else -1.0, 1.0 if sides.endswith("+y") else -1.0)
    codes = tuple(station.code_of(nest.name) or "-" for nest in setup.facts.holder.nests)
    return Shape("jig", station.name, setup.footprint_in_bed(), codes, toward)


def front_shapes(setup: Setup) -> Iterator[Shape]:
    """The jig's own front edge, by what people call it; bare stock has no edges of its own."""
    if not setup.facts.is_bare:
        jig = setup.facts.holder
        yield Shape("front", jig.edge_name("front"), front_of(jig, setup.jig_in_bed))


def front_of(jig: Jig, place: Pose) -> Edge:
    """The front edge of a jig that lies somewhere on the bed."""
    box = bounds(jig.outline)
    parts = side_segments(jig.outline, 1, box.front)
    if parts:
        left, right = max(parts, key=lambda part: part[1] - part[0])
    else:  # it meets its front in a point
        at = min(jig.outline, key=lambda point: point[1])[0]
        left, right = at - box.width / 10, at + box.width / 10
    return Edge(
        place.point((left, box.front)),
        place.point((right, box.front)),
        place.vector((0.0, 1.0)),
        box.depth,
    )


def standing_shapes(setup: Setup) -> Iterator[Shape]:
    """What stands up on a station: the jig's own solids, and its clamps."""
    return (Shape("standing", each.name, each.outline, (each.mark,)) for each in standing_up(setup))


def pin_shapes(located: Located) -> Iterator[Shape]:
    """The pins that locate a jig, by the names of their holes."""
    return (
        Shape("pin", pin.hole, Disc(pin.at_mm, pin.radius_mm), (pin.role,)) for pin in located.pins
    )


def stock_shape(setup: Setup) -> Shape:
    """The stock of one nest."""
    return Shape("stock", setup.name, setup.stock_in_bed())


def zero_shape(setup: Setup) -> Shape:
    """The zero of one nest, with its work offset and its setup's fingerprint."""
    return Shape("zero", setup.name, axes_of(setup), (setup.work_offset or "-", setup.fingerprint))


def axes_of(setup: Setup) -> Axes:
    """The program's axes as the controller has them."""
    frame = setup.program_in_bed
    return Axes(setup.zero_in_bed, frame.vector((1.0, 0.0)), frame.vector((0.0, 1.0)))
