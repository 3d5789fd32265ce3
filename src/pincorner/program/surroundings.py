"""Everything around a nest that a program may run into: its station, other stations, the bed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from shapely import Point, Polygon, box, unary_union

from pincorner.documents.fields import key_of
from pincorner.geometry.outline import TOUCH_MM, Box, bounds
from pincorner.geometry.pose import Pose
from pincorner.program.frames import bed_in_program
from pincorner.program.obstacles import NOSE, Disc, Obstacle, Place, areas_of
from pincorner.setups.covers import covers, track_outline
from pincorner.setups.heights import surface_at
from pincorner.setups.setup import Setup
from pincorner.setups.surface import surface_z


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
    place = Place(bed_in_program(setup), setup.heights.zero_mm, margin_mm)
    notes: list[str] = []
    found = [
        *_pins(place, setup),
        *_solids(place, setup),
        *_jig(place, nest, run_off_mm),
        *_stock(place, nest),
        *_others(place, setup, others, notes),
        *_metal(place, setup, notes),
        *_surface(place, setup, notes),
    ]
    return Surroundings(tuple(found), tuple(notes))


def stock_and_run_off(nest: Setup, run_off_mm: float) -> Box:
    """Where the cutter may go, along the nest's axes: the stock grown by its run-off."""
    return bounds(nest.nest.stock.outline).grown(run_off_mm)


def _pins(place: Place, setup: Setup) -> Iterator[Obstacle]:
    for pin in setup.located.pins:
        yield place.pin(f"pin {pin.hole}", pin.at_mm, pin.radius_mm, pin.pin.height)


def _solids(
    place: Place, setup: Setup, whose: str = "", level_mm: float = 0.0
) -> Iterator[Obstacle]:
    """A station's clamps as they stand there, and its jig's solids, which rise with it."""
    station, holder = setup.facts.station, setup.facts.holder
    points = setup.jig_in_bed.points
    for clamp in station.clamps:
        outline, name = points(clamp.box.outline), f"clamp {clamp.name}{whose}"
        yield place.standing("hits-clamp", name, outline, level_mm + clamp.top)
    for solid in holder.solids:
        outline, name = points(solid.box.outline), f"{solid.name} of {holder.name}{whose}"
        top_mm = level_mm + station.under + solid.top
        yield place.standing("hits-solid", name, outline, top_mm)


def _jig(place: Place, nest: Setup, run_off_mm: float) -> Iterator[Obstacle]:
    """The jig's body outside stock and run-off, its seat within; bare stock has neither."""
    holder, under = nest.facts.holder, nest.facts.station.under
    if nest.facts.station.stock is not None:
        return
    footprint = Polygon(nest.nest_in_bed.inverse().points(nest.footprint_in_bed()))
    room = stock_and_run_off(nest, run_off_mm)
    for side in _beside(room, Box(*footprint.bounds)):
        for area in areas_of(footprint.intersection(box(*side))):
            outline = nest.nest_in_bed.points(area[0])
            yield place.standing("hits-jig", holder.name, outline, under + holder.top_mm)
    if holder.seat > 0:
        for area in areas_of(footprint.intersection(box(*room))):
            rings = tuple(nest.nest_in_bed.points(ring) for ring in area)
            name, level_mm = f"the seat of {holder.name}", under + holder.seat
            yield place.soft("cuts-seat", name, rings, level_mm, holder.spoil)


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


def _stock(place: Place, nest: Setup) -> Iterator[Obstacle]:
    """The stock, which only the nose must not reach; the stock in the jig's other nests."""
    heights, facts = nest.heights, nest.facts
    outline = nest.stock_in_bed()
    mine = place.standing("hits-stock", "the stock", outline, heights.stock_top_mm)
    yield mine._replace(parts=NOSE)
    for other in facts.holder.nests:
        if other.name != nest.nest.name:
            there = nest.jig_in_bed @ Pose.of_degrees("jig", "nest", *other.zero, other.angle)
            outline = there.points(other.stock.outline)
            top_mm = heights.stock_bottom_mm + other.stock.size[2]
            yield place.standing("hits-stock", f"the stock of nest {other.name}", outline, top_mm)


def _others(
    place: Place, setup: Setup, others: Sequence[Setup], notes: list[str]
) -> Iterator[Obstacle]:
    """Other stations of the bed: pins, clamps, jigs with their stock.

    Pins in the way of this jig must be out. A station whose jig overlaps this one is loaded at
    another time, so that only its pins count.
    """
    mine, taken = Polygon(setup.footprint_in_bed()), {pin.hole for pin in setup.located.pins}
    seen, bed = {key_of(setup.facts.station.name)}, key_of(setup.facts.bed.name)
    for other in others:
        name = other.facts.station.name
        if key_of(name) in seen or key_of(other.facts.bed.name) != bed:
            continue
        seen.add(key_of(name))
        level_mm = _above(setup, other.heights.surface_mm)
        for pin in other.located.pins:
            under = mine.distance(Point(pin.at_mm)) < pin.radius_mm
            if pin.hole not in taken and not under:
                taken.add(pin.hole)
                told = f"pin {pin.hole} of station {name}"
                yield place.pin(told, pin.at_mm, pin.radius_mm, level_mm + pin.pin.height)
        if Polygon(other.footprint_in_bed()).intersection(mine).area > TOUCH_MM:
            notes.append(f"station {name}: its jig would lie where this one lies; its pins count")
        else:
            yield from _other_jig(place, other, level_mm)


def _above(setup: Setup, there: float | None) -> float:
    """How much higher a surface lies than the station's own; 0 where either is not known."""
    here = setup.heights.surface_mm
    return there - here if here is not None and there is not None else 0.0


def _other_jig(place: Place, other: Setup, level_mm: float) -> Iterator[Obstacle]:
    """Jig, clamps and stock of another station, at the level of its own surface."""
    facts, whose = other.facts, f" of station {other.facts.station.name}"
    yield from _solids(place, other, whose, level_mm)
    if facts.station.stock is None:  # bare stock is told as stock
        top_mm = level_mm + facts.station.under + facts.holder.top_mm
        name = f"{facts.holder.name}{whose}"
        yield place.standing("hits-jig", name, other.footprint_in_bed(), top_mm)
    for nest in facts.holder.nests:
        to_bed = other.jig_in_bed @ Pose.of_degrees("jig", "nest", *nest.zero, nest.angle)
        top_mm = level_mm + other.heights.stock_bottom_mm + nest.stock.size[2]
        outline = to_bed.points(nest.stock.outline)
        yield place.standing("hits-stock", f"the stock{whose}", outline, top_mm)


def _metal(place: Place, setup: Setup, notes: list[str]) -> Iterator[Obstacle]:
    """The bed's solids, and its tracks and screws with the cover that surfacings have left."""
    bed = setup.facts.bed
    for solid in bed.solids:
        name, outline = f"{solid.name} on the bed", solid.box.outline
        under = surface_at(setup.facts, outline, bounds(outline).middle)
        yield place.standing("hits-solid", name, outline, _above(setup, under) + solid.top)
    shapes = {("track", each.name): track_outline(each) for each in bed.tracks} | {
        ("screw", each.name): Disc(each.at, each.diameter / 2) for each in bed.screws
    }
    for cover in covers(bed, setup.facts.surfacings):
        name = f"{cover.kind} {cover.name}"
        if cover.cover_mm is None:
            notes.append(f"{name}: how much wood is over it is not known")
        else:
            shape = shapes[cover.kind, cover.name]
            yield place.metal(f"cuts-{cover.kind}", name, shape, cover.cover_mm)


def _surface(place: Place, setup: Setup, notes: list[str]) -> Iterator[Obstacle]:
    """The bed's surface, slat by slat, but for where a jig with a seat of its own lies."""
    facts, bed, here = setup.facts, setup.facts.bed, setup.heights.surface_mm
    regions: list[tuple[str | None, Polygon]] = [(s.name, box(*s.box)) for s in bed.slats]
    slats = unary_union([region for _, region in regions])
    regions.append((None, box(*bed.box).difference(slats)))
    covered = Polygon(setup.footprint_in_bed()) if facts.holder.seat > 0 else Polygon()
    at_mm = bounds(setup.stock_in_bed()).middle
    for slat, region in regions:
        there = surface_z(bed, facts.survey, facts.surfacings, slat, at_mm)
        level_mm = _above(setup, there)
        if slat is not None and (there is None or here is None):
            notes.append(f"slat {slat}: its height is not known; taken as level with the rest")
        name = f"the surface of {bed.name if slat is None else f'slat {slat}'}"
        for area in areas_of(region.difference(covered)):
            yield place.soft("cuts-surface", name, area, level_mm, bed.spoil)
