"""Everything around a nest that a program may run into: its station, other stations, the bed.

Obstacles are values in the program's frame: what stands there, and how deep may be cut.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import NamedTuple

from shapely import Point, Polygon, box, unary_union

from pincorner.bed import Cover, covers, surface_z
from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.documents.jigs import Jig
from pincorner.geometry.outline import TOUCH_MM, Box, Outline, bounds
from pincorner.geometry.pose import XY, Pose
from pincorner.setups.heights import level_mm
from pincorner.setups.setup import Setup, bed_in_program
from pincorner.standing import Standing, first_of_each, standing_of, standing_on

ROUNDING_MM = 0.002
"""Deeper or farther than allowed by less than this is not told: blocks and programs in inches are
rounded to 0.0001 in, which is 0.00254 mm, and so are off by half of that each."""


class Disc(NamedTuple):
    """A round obstacle, in the program's X and Y."""

    centre_mm: XY
    radius_mm: float


Area = tuple[Outline, ...]
"""An outline, and the outlines of holes in it."""


class Parts(NamedTuple):
    """What of the tool an obstacle is looked at for."""

    cutter: bool
    nose: bool


BOTH, CUTTER, NOSE = Parts(True, True), Parts(True, False), Parts(False, True)


class Obstacle(NamedTuple):
    """What the tool must stay away from while it is below `top_mm` (the program's Z).

    `code` and `name`: of the finding. `near_mm`: how near it may come. `datum_mm`: for what may be
    cut to some depth, the Z of its surface, from which `allowed_mm` count; None for what stands up.
    `stated`: kind and name of the document whose `spoil` says that; None where none does.
    """

    code: str
    name: str
    shape: Disc | Area
    top_mm: float
    near_mm: float
    datum_mm: float | None = None
    allowed_mm: float = 0.0
    parts: Parts = BOTH
    stated: tuple[str, str] | None = None

    @property
    def box(self) -> Box:
        """The upright box around it, in the program's X and Y."""
        if isinstance(self.shape, Disc):
            return Box(*self.shape.centre_mm, *self.shape.centre_mm).grown(self.shape.radius_mm)
        return bounds(self.shape[0])


class BedInProgram(NamedTuple):
    """From bed coordinates and heights above the surface to the frame of a program.

    `pose`: the bed in the program. `zero_mm`: height of program zero above the surface, which lies
    at `surface_mm` in machine Z (None where that is not known).
    """

    pose: Pose
    zero_mm: float
    surface_mm: float | None
    margin_mm: float

    def standing(self, thing: Standing, name: str) -> Obstacle:
        """Something that stands on the bed; level with the surface here where a height is not
        known."""
        top_mm = thing.above_mm(self.surface_mm) - self.zero_mm
        shape = self._shape(thing.outline, thing.radius_mm)
        return Obstacle(f"hits-{thing.kind}", name, shape, top_mm, self.margin_mm)

    def metal(self, cover: Cover, cover_mm: float) -> Obstacle:
        """Metal with so much wood over it."""
        name, datum = f"{cover.kind} {cover.name}", -self.zero_mm
        shape = self._shape(cover.outline, cover.radius_mm)
        return Obstacle(
            f"cuts-{cover.kind}", name, shape, datum - cover_mm, self.margin_mm, datum, cover_mm,
            CUTTER,
        )  # fmt: skip

    def _shape(self, outline: Outline, radius_mm: float) -> Disc | Area:
        if len(outline) == 1:
            return Disc(self.pose.point(outline[0]), radius_mm)
        return (self.pose.points(outline),)

    def soft(self, code: str, name: str, area: Area, level_mm: float, of: Bed | Jig) -> Obstacle:
        """A surface at a height, into which a cut may go as deep as `spoil` of bed or jig says."""
        placed = tuple(self.pose.points(ring) for ring in area)
        datum = level_mm - self.zero_mm
        top = datum - of.spoil - ROUNDING_MM
        stated = ("bed" if isinstance(of, Bed) else "jig", of.name)
        return Obstacle(code, name, placed, top, 0.0, datum, of.spoil, CUTTER, stated)


def tallest_of(obstacles: Iterable[Obstacle]) -> Obstacle | None:
    """The tallest of what stands up; None where nothing does."""
    standing = (each for each in obstacles if each.datum_mm is None)
    return max(standing, key=lambda each: each.top_mm, default=None)


def areas_of(shape: Polygon) -> list[Area]:
    """The polygons of a shape of one or more parts; lines and points are left out."""
    parts = getattr(shape, "geoms", (shape,))
    polygons = [part for part in parts if isinstance(part, Polygon) and part.area > TOUCH_MM]
    return [
        tuple(tuple(ring.coords[:-1]) for ring in (part.exterior, *part.interiors))
        for part in polygons
    ]


class Surroundings(NamedTuple):
    """The obstacles around a nest, and sentences on what is not looked at."""

    obstacles: tuple[Obstacle, ...]
    notes: tuple[str, ...]


def surroundings(
    setup: Setup, nest: Setup, others: Sequence[Setup], run_off_mm: float, margin_mm: float
) -> Surroundings:
    """What is around `nest` while it is cut, in the frame of the program for `setup`.

    Both belong to one station; they differ where the program selects several codes of it.
    `others`: setups of other stations; those on other beds do not count.
    """
    frame = _frame_of(setup, margin_mm)
    here, notes = standing_on(setup.facts.bed, [setup]), list[str]()
    own = [each for each in here if each.station]
    found = [
        *_pins(frame, own),
        *_solids(frame, own),
        *_jig(frame, nest, own, run_off_mm),
        *_stock(frame, nest, own),
        *_others(frame, setup, others, notes),
        *(frame.standing(each, f"{each.called}{each.whose}") for each in here if not each.station),
        *_metal(frame, setup, notes),
        *_surface(frame, setup, notes),
    ]
    return Surroundings(tuple(found), tuple(notes))


def _frame_of(setup: Setup, margin_mm: float) -> BedInProgram:
    heights = setup.heights
    return BedInProgram(bed_in_program(setup), heights.zero_mm, heights.surface_mm, margin_mm)


def stock_and_run_off(nest: Setup, run_off_mm: float) -> Box:
    """Where the cutter may go, along the nest's axes: the stock grown by its run-off."""
    return bounds(nest.nest.stock.outline).grown(run_off_mm)


def run_off_of(nest: Setup, largest_tool_mm: float) -> float:
    """How far a nest's cuts may pass its stock; by default a cutter's width and the skew.

    A cut along the stock's edges, which lie askew, would else be told for the skew alone.
    """
    return nest.nest.run_off_mm(largest_tool_mm + nest.skew_mm)


class Deepest(NamedTuple):
    """How deep a program may cut at a nest: down to `z_mm` (the program's Z), which is `into_mm`
    below the top of what ends it there. `metal`: whether that is a track or a screw."""

    z_mm: float
    name: str
    into_mm: float
    metal: bool


def deepest_cut(nest: Setup) -> Deepest | str | None:
    """The deepest that no finding is made of by `check`, anywhere in the nest's stock and run-off.

    A sentence where that is not known, since nobody knows how much wood lies over some metal there;
    None where no part of the bed lies below.
    """
    run_off_mm = run_off_of(nest, nest.facts.largest_tool_mm)
    in_program = bed_in_program(nest)
    room = stock_and_run_off(nest, run_off_mm).outline
    here = Polygon((in_program @ nest.nest_in_bed).points(room))
    for cover in covers(nest.facts.bed, nest.facts.surfacings):
        if cover.cover_mm is None and _meets(
            here, in_program.points(cover.outline), cover.radius_mm
        ):
            return f"how much wood is over {cover.kind} {cover.name} is not known"
    frame, own = _frame_of(nest, 0.0), standing_of(nest)
    below = (*_jig(frame, nest, own, run_off_mm), *_metal(frame, nest, []),
             *_surface(frame, nest, []))  # fmt: skip
    ends = [
        Deepest(each.datum_mm - each.allowed_mm, each.name, each.allowed_mm, each.code in METAL)
        for each in below
        if each.datum_mm is not None and _reaches(here, each.shape)
    ]
    return max(ends, key=lambda end: end.z_mm, default=None)


METAL = ("cuts-track", "cuts-screw")
"""Codes of what lies under wood, into which nothing may be cut."""


def _reaches(here: Polygon, shape: Disc | Area) -> bool:
    if isinstance(shape, Disc):
        return _meets(here, (shape.centre_mm,), shape.radius_mm)
    if _apart(here, shape[0]):
        return False
    return bool(here.intersection(Polygon(shape[0], shape[1:])).area > TOUCH_MM)


def _meets(here: Polygon, outline: Outline, radius_mm: float) -> bool:
    """Whether a disc around a single point, or an outline, lies in a place."""
    if _apart(here, outline, radius_mm):
        return False
    if len(outline) == 1:
        return bool(here.distance(Point(outline[0])) < radius_mm)
    return bool(here.intersection(Polygon(outline)).area > TOUCH_MM)


def _apart(here: Polygon, outline: Outline, radius_mm: float = 0.0) -> bool:
    """Whether boxes tell already that something lies elsewhere, as most of a bed does."""
    return not Box(*here.bounds).grown(radius_mm).meets(bounds(outline))


def _pins(frame: BedInProgram, own: Sequence[Standing]) -> Iterator[Obstacle]:
    return (frame.standing(each, each.called) for each in own if each.kind == "pin")


def _solids(frame: BedInProgram, things: Sequence[Standing], whose: str = "") -> Iterator[Obstacle]:
    """A station's clamps, and its jig's solids."""
    for clamp in things:
        if clamp.kind == "clamp":
            yield frame.standing(clamp, f"{clamp.marked}{whose}")
    for solid in things:
        if solid.kind == "solid":
            yield frame.standing(solid, f"{solid.called} of {solid.jig}{whose}")


def _jig(
    frame: BedInProgram, nest: Setup, own: Sequence[Standing], run_off_mm: float
) -> Iterator[Obstacle]:
    """The jig's body outside stock and run-off, its seat within; bare stock has neither.

    No margin is kept from the body: nobody said where it begins, and a cut that just keeps its
    run-off, such as one around the stock, is allowed.
    """
    holder = nest.facts.holder
    jig = next((each for each in own if each.kind == "jig"), None)
    if jig is None:
        return
    footprint = Polygon(nest.nest_in_bed.inverse().points(jig.outline))
    room = stock_and_run_off(nest, run_off_mm)
    for side in _beside(room, Box(*footprint.bounds)):
        for area in areas_of(footprint.intersection(box(*side))):
            piece = jig._replace(outline=nest.nest_in_bed.points(area[0]))
            yield frame.standing(piece, jig.called)._replace(near_mm=-ROUNDING_MM)
    if holder.seat > 0:
        for area in areas_of(footprint.intersection(box(*room))):
            rings = tuple(nest.nest_in_bed.points(ring) for ring in area)
            name, seat_mm = f"the seat of {holder.name}", jig.bottom_mm + holder.seat
            yield frame.soft("cuts-seat", name, rings, seat_mm, holder)


def _beside(hole: Box, around: Box) -> Iterator[Box]:
    """What of `around` lies outside `hole`, in pieces so that none surrounds it."""
    left, right = max(hole.left, around.left), min(hole.right, around.right)
    pieces = (
        around._replace(right=min(hole.left, around.right)),
        around._replace(left=max(hole.right, around.left)),
        around._replace(left=left, right=right, back=min(hole.front, around.back)),
        around._replace(left=left, right=right, front=max(hole.back, around.front)),
    )
    return (piece for piece in pieces if piece.width > 0 and piece.depth > 0)


def _stock(frame: BedInProgram, nest: Setup, own: Sequence[Standing]) -> Iterator[Obstacle]:
    """The stock, which only the nose must not reach; the stock in the jig's other nests."""
    stocks = [each for each in own if each.kind == "stock"]
    for mine in stocks:
        if mine.nest == nest.nest.name:
            yield frame.standing(mine, "the stock")._replace(parts=NOSE)
    for other in stocks:
        if other.nest != nest.nest.name:
            yield frame.standing(other, other.called)


def _others(
    frame: BedInProgram, setup: Setup, others: Sequence[Setup], notes: list[str]
) -> Iterator[Obstacle]:
    """Other stations of the bed: pins, clamps, jigs with their stock.

    Pins in the way of this jig must be out. A station whose jig overlaps this one is loaded at
    another time, so that only its pins count.
    """
    mine, taken = Polygon(setup.footprint_in_bed()), set(setup.located.holes)
    me, unheld = key_of(setup.facts.station.name), list[str]()
    for other in first_of_each(setup.facts.bed, others):
        if key_of(other.facts.station.name) == me:
            continue
        things = standing_of(other)
        if other.located.as_measured:
            unheld.append(other.facts.station.name)
        for pin in things:
            if pin.kind != "pin":
                continue
            under = mine.distance(Point(*pin.outline)) < pin.firm_mm - TOUCH_MM
            if pin.hole not in taken and not under:
                taken.add(pin.hole)
                yield frame.standing(pin, f"{pin.called}{pin.whose}")
        if Polygon(other.footprint_in_bed()).intersection(mine).area > TOUCH_MM:
            name = other.facts.station.name
            notes.append(f"station {name}: its jig would lie where this one lies; its pins count")
        else:
            yield from _other_jig(frame, things)
    if unheld:
        notes.append(f"where what is at {', '.join(unheld)} lies: as zeros were measured there")


def _other_jig(frame: BedInProgram, things: Sequence[Standing]) -> Iterator[Obstacle]:
    """Jig, clamps and stock of another station, at the level of its own surface."""
    yield from _solids(frame, things, things[0].whose)
    for each in things:
        if each.kind in ("jig", "stock"):  # the jig comes first
            name = "the stock" if each.kind == "stock" else each.called
            yield frame.standing(each, f"{name}{each.whose}")


def _metal(frame: BedInProgram, setup: Setup, notes: list[str]) -> Iterator[Obstacle]:
    """The bed's tracks and screws with the cover that surfacings have left."""
    for cover in covers(setup.facts.bed, setup.facts.surfacings):
        if cover.cover_mm is None:
            notes.append(f"{cover.kind} {cover.name}: how much wood is over it is not known")
        else:
            yield frame.metal(cover, cover.cover_mm)


def _surface(frame: BedInProgram, setup: Setup, notes: list[str]) -> Iterator[Obstacle]:
    """The bed's surface, slat by slat, but for where a jig with a seat of its own lies."""
    facts, bed, here = setup.facts, setup.facts.bed, setup.heights.surface_mm
    regions: list[tuple[str | None, Polygon]] = [(s.name, box(*s.box)) for s in bed.slats]
    slats = unary_union([region for _, region in regions])
    regions.append((None, box(*bed.box).difference(slats)))
    covered = Polygon(setup.footprint_in_bed()) if facts.holder.seat > 0 else Polygon()
    for slat, region in regions:

        def height(at_mm: XY, slat: str | None = slat) -> float | None:
            return surface_z(bed, facts.survey, facts.surfacings, slat, at_mm)

        if slat is not None and (height(setup.zero_in_bed) is None or here is None):
            notes.append(f"slat {slat}: its height is not known; taken as level with the rest")
        name = f"the surface of {bed.name if slat is None else f'slat {slat}'}"
        for part, there in _levels(region.difference(covered), height):
            for area in areas_of(part):
                yield frame.soft("cuts-surface", name, area, level_mm(there, here), bed)


TILT_STEP_MM = 0.05
"""A tilted surface counts as strips that are as high as where they are highest; so much apart."""
_MOST_STRIPS = 60


def _levels(
    region: Polygon, height: Callable[[XY], float | None]
) -> Iterator[tuple[Polygon, float | None]]:
    """A region in strips along which a plane is level, each with the height of its upper side."""
    if region.is_empty:
        return
    left, front, right, back = region.bounds
    corner, along_x, along_y = height((left, front)), height((right, front)), height((left, back))
    if corner is None or along_x is None or along_y is None:
        yield region, None
        return
    slope = (along_x - corner) / (right - left), (along_y - corner) / (back - front)
    rises = [corner, along_x, along_y, along_x + along_y - corner]
    low, span = min(rises), max(rises) - min(rises)
    if span <= TILT_STEP_MM:
        yield region, max(rises)
        return
    steep = math.hypot(*slope)
    up, reach = (slope[0] / steep, slope[1] / steep), math.hypot(right - left, back - front)
    count = min(math.ceil(span / TILT_STEP_MM), _MOST_STRIPS)
    for at in range(count):
        upper = low + span * (at + 1) / count
        start, end = ((z - corner) / steep for z in (upper - span / count, upper))
        strip = Polygon(
            [
                (left + up[0] * way - up[1] * side, front + up[1] * way + up[0] * side)
                for way, side in ((start, -reach), (end, -reach), (end, reach), (start, reach))
            ]
        )
        yield region.intersection(strip), upper
