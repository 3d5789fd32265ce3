"""Whether a jig fits at many places of a bed at once, and what is in its way where it does not."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from pincorner.bed import Cover, covers, track_outline
from pincorner.geometry.clearances import (
    Array,
    Indices,
    Shapes,
    boxes_of,
    gap_table,
    nearest_gaps,
    posed,
    rows_at_once,
    shapes,
)
from pincorner.geometry.outline import Outline
from pincorner.geometry.pose import XY, Pose
from pincorner.setups.facts import Facts
from pincorner.setups.heights import Heights, ends_below, heights
from pincorner.setups.holes import bed_pose
from pincorner.standing import Standing
from pincorner.units import told_size

TRACK_REACH_MM = 150.0
"""How far from a track a clamp in it holds a jig: common practice, no source."""

FITS = -1
"""In place of a reason's index."""


class Scene(NamedTuple):
    """A bed and a jig for it, made ready for many places.

    In jig coordinates: `footprint`; `cuts`, the stock areas
    grown by their run-off; `points` (t, 2), zeros and corners of the stock. In bed coordinates:
    `standing`, all that is in the way; `blocking`, the shapes of that; `beside`, what gaps are
    measured to; `tracks`; `metal`, what the deepest cuts allowed would reach.
    """

    facts: Facts
    reach_mm: float
    footprint: Shapes
    cuts: Shapes
    points: Array
    standing: tuple[Standing, ...]
    blocking: Shapes
    beside: Shapes
    tracks: Shapes
    metal: Shapes
    metal_names: tuple[str, ...]


class Check(NamedTuple):
    """Reasons why a jig does not lie somewhere, and by how much each of them holds.

    reasons: what is said of places, in the plural. excess: poses (n, 3) to mm (n, reasons); the
    place will not do where one is above 0.
    """

    reasons: tuple[str, ...]
    excess: Callable[[Array], Array]


def make_scene(
    facts: Facts,
    standing: Sequence[Standing],
    zones: Mapping[str, Outline],
    beside: Collection[str] | None,
    reach_mm: float,
) -> Scene:
    """Everything that places of `facts.holder` on `facts.bed` are held against.

    beside: the stations whose footprints and `zones` gaps are measured to; all with None.
    """
    in_the_way = tuple(
        sorted(
            (each for each in standing if each.takes_room),
            key=lambda each: bool(each.station),
        )
    )
    lie = [(each.station, each.outline) for each in standing if each.footprint]
    near = [
        outline
        for station, outline in (*lie, *zones.items())
        if beside is None or station in beside
    ]
    metal = _metal_in_reach(facts)
    return Scene(
        facts=facts,
        reach_mm=reach_mm,
        footprint=shapes([facts.holder.outline]),
        cuts=_cuts(facts),
        points=_points(facts),
        standing=in_the_way,
        blocking=shapes_of(in_the_way),
        beside=shapes(near),
        tracks=shapes([track_outline(track) for track in facts.bed.tracks]),
        metal=shapes([each.outline for each in metal], [each.radius_mm for each in metal]),
        metal_names=tuple(f"{each.kind} {each.name}" for each in metal),
    )


def _told(thing: Standing) -> str:
    """What is hit, as reasons name it."""
    if not thing.station:
        return thing.name
    called = f"pin {thing.name} in {thing.hole}" if thing.kind == "pin" else thing.marked
    return f"{thing.jig if thing.footprint else called}{thing.whose}"


def _cuts(facts: Facts) -> Shapes:
    nests = facts.holder.nests
    outlines = [nest.stock_in_jig for nest in nests]
    largest = facts.largest_tool_mm
    return shapes(outlines, [nest.run_off_mm(largest) for nest in nests])


def _points(facts: Facts) -> Array:
    """Zeros and stock corners of all nests: where the spindle axis goes at least."""
    points: list[XY] = []
    for nest in facts.holder.nests:
        points += [nest.zero, *nest.stock_in_jig]
    return np.array(points)


def _metal_in_reach(facts: Facts) -> list[Cover]:
    """Screws and tracks with less cover than cuts may go deep, or with a cover that is not known.

    Only where the part lies on the surface itself: else there is wood between.
    """
    if facts.station.under + facts.holder.seat > 0:
        return []
    deepest_mm = max(facts.bed.spoil, facts.holder.spoil)
    return [
        cover
        for cover in covers(facts.bed, facts.surfacings)
        if cover.cover_mm is None or cover.cover_mm < deepest_mm
    ]


def checks_of(scene: Scene) -> list[Check]:
    """What a place is held against, in the order in which reasons are told."""
    facts, bed, machine = scene.facts, scene.facts.bed, scene.facts.machine
    give_way = np.array([each.gives_mm for each in scene.standing])
    found = [
        Check((f"hang over the edge of {bed.edge_told}",), lambda poses: _over_edge(scene, poses)),
        Check(
            tuple(f"hit {_told(each)}" for each in scene.standing),
            lambda poses: depths(facts, poses, scene.standing, scene.blocking) - give_way,
        ),
    ]
    if machine.homes and machine.travel is not None:
        reason = f"leave the travel of {machine.name}"
        found.append(Check((reason,), lambda poses: _beyond_travel(scene, poses)))
    if bed.tracks:
        reason = f"lie farther than {told_size(scene.reach_mm, machine.units)} from every track"
        found.append(Check((reason,), lambda poses: _from_tracks(scene, poses)))
    found.append(
        Check(
            tuple(f"would be cut over {name}" for name in scene.metal_names),
            lambda poses: -gap_table(scene.cuts, poses, scene.metal, within_mm=0.0),
        )
    )
    return [check for check in found if check.reasons]


def first_reasons(checks: Sequence[Check], poses: Array, slack_mm: float) -> Indices:
    """For every pose (n, 3) of the jig on the bed the index of its reason, counted through all
    checks, or FITS. Of one check the reason with the greatest excess counts; an excess up to
    `slack_mm` is none.
    """
    found = np.full(len(poses), FITS, dtype=np.intp)
    before = 0
    for check in checks:
        left = np.flatnonzero(found == FITS)
        for some in rows_at_once(len(left), len(check.reasons)):
            rest = left[some]
            excess = check.excess(poses[rest])
            worst = excess.argmax(axis=1)
            bad = np.take_along_axis(excess, worst[:, None], axis=1)[:, 0] > slack_mm
            found[rest[bad]] = before + worst[bad]
        before += len(check.reasons)
    return found


def shapes_of(standing: Sequence[Standing]) -> Shapes:
    """What stands on a bed, seen from above."""
    return shapes([each.outline for each in standing], [each.radius_mm for each in standing])


def depths(facts: Facts, poses: Array, standing: Sequence[Standing], seen: Shapes) -> Array:
    """How deep in mm, (n, things), the jig at every pose (n, 3) reaches into what is `standing`.

    With what sticks out of it; its stock may lie over pins that end below it. `seen`: `shapes_of`
    the same things.
    """
    found = -gap_table(shapes(facts.holder.body), poses, seen, within_mm=0.0)
    is_pin = np.array([each.kind == "pin" for each in standing], dtype=np.bool_)
    if not facts.holder.stock_out or not is_pin.any():
        return found
    firm = shapes((facts.holder.outline, *facts.holder.solids_out))
    without_stock = -gap_table(firm, poses, seen, within_mm=0.0)
    over = (found > 0) & (found > without_stock) & is_pin
    for row in np.flatnonzero(over.any(axis=1)):
        here = _heights_at(facts, *map(float, poses[row]))
        for at in np.flatnonzero(over[row]).tolist():
            pin = standing[at]
            if ends_below(pin.top_mm, pin.surface_mm, here.stock_bottom_mm, here.surface_mm):
                found[row, at] = without_stock[row, at]
    return found


def _heights_at(facts: Facts, x_mm: float, y_mm: float, angle_rad: float) -> Heights:
    """The heights of the jig's first nest, as of a station that lies there."""
    jig, nest = Pose("bed", "jig", x_mm, y_mm, angle_rad), facts.holder.nests[0]
    return heights(facts, nest, jig.points(facts.holder.outline), jig.point(nest.zero))


def _over_edge(scene: Scene, poses: Array) -> Array:
    """How far the footprint, or stock that sticks out of it, reaches over the bed's outline."""
    left, front, right, back = scene.facts.bed.box
    holder = scene.facts.holder
    lies = (holder.outline, *holder.stock_out)  # as setups.findings has it: solids may hang over
    corners = np.array([point for outline in lies for point in outline])
    boxes = boxes_of(posed(corners, poses))
    inside = boxes - np.array((left, front, right, back))
    over: Array = np.maximum(-inside[:, :2], inside[:, 2:]).max(axis=1, keepdims=True)
    return over


def _beyond_travel(scene: Scene, poses: Array) -> Array:
    """How far zeros and stock reach beyond the travel in X and Y."""
    travel, bed = scene.facts.machine.travel, bed_pose(scene.facts)
    assert travel is not None
    on_bed = posed(scene.points, poses).reshape(-1, 2)
    in_machine = posed(on_bed, np.array([(bed.x_mm, bed.y_mm, bed.angle_rad)]))
    boxes = boxes_of(in_machine.reshape(len(poses), len(scene.points), 2))
    beyond = np.full(len(poses), -np.inf)
    for axis, span in enumerate((travel.x, travel.y)):
        if span is not None:
            beyond = np.maximum(beyond, span[0] - boxes[:, axis])
            beyond = np.maximum(beyond, boxes[:, 2 + axis] - span[1])
    return beyond[:, None]


def _from_tracks(scene: Scene, poses: Array) -> Array:
    """How much farther than within reach the nearest track is."""
    return nearest_gaps(scene.footprint, poses, scene.tracks)[:, None] - scene.reach_mm
