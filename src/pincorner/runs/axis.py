"""Where the spindle axis goes: motions as boxes of X and Y in machine coordinates, with times."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.pose import XY, Pose, cos_sin
from pincorner.program.path.boxes import Rapids, arc_boxes, boxes_of
from pincorner.program.reader.motions import (
    AXES_OF_PLANE,
    RAPID,
    Floats,
    Ints,
    Motions,
    lengths_mm,
    seconds_of,
)

MOST_PARTS = 4096
"""Of one motion: 20 m of it in steps of 5 mm."""


class Axis(NamedTuple):
    """A piece of a program, n motions, and where its frame lies in the machine.

    `low`, `high`: (n, 2) in machine coordinates, NaN where X or Y is not known. `low_z`: in
    the program's own Z. `lengths`: of each
    motion's path, mm. `seconds`: at the stated feeds, 0 where there is none. `rapid_mm`: lengths of
    rapids, 0 for the others. `cuts`: feeds and arcs. `whole`: motions that have no parts, since
    what is known of them is their box.
    """

    motions: Motions
    in_machine: Pose
    low: Floats
    high: Floats
    low_z: Floats
    lengths: Floats
    seconds: Floats
    rapid_mm: Floats
    cuts: NDArray[np.bool_]
    whole: NDArray[np.bool_]

    def place(self, row: int) -> XY:
        """Where a motion ends in the machine."""
        x, y = self.motions.end[row, :2].tolist()
        return self.in_machine.point((x, y))


def axis_of(motions: Motions, in_machine: Pose, boxes: tuple[Floats, Floats] | None = None) -> Axis:
    """A piece of a program whose frame lies so in the machine.

    `boxes`: of its motions in the program's frame, where that is not turned and they are known.
    Rapids take the box between their ends along the machine's axes: they need not be straight.
    Arcs of other planes than G17 keep the box that they have in a turned program.
    """
    cuts = motions.kind != RAPID
    whole = ~cuts
    if in_machine.angle_rad:
        lows, highs = boxes_of(_placed(motions, in_machine), Rapids(True, 0.0))
        low, high = lows[:2].T, highs[:2].T
        odd = motions.is_arc & (motions.plane != 0)
        if odd.any():
            whole = whole | odd
            low, high = low.copy(), high.copy()
            low[odd], high[odd] = _turned_boxes(motions.rows(odd), in_machine)
    else:
        lows, highs = boxes_of(motions, Rapids(True, 0.0)) if boxes is None else boxes
        shift = np.array([in_machine.x_mm, in_machine.y_mm])
        low, high = lows[:2].T + shift, highs[:2].T + shift
    lengths = lengths_mm(motions)
    rapid = np.where(cuts | np.isnan(lengths), 0.0, lengths)
    seconds = seconds_of(motions, lengths)
    return Axis(motions, in_machine, low, high, lows[2], lengths, seconds, rapid, cuts, whole)


def parts_of(axis: Axis, rows: Ints, longest_mm: float) -> tuple[Ints, Floats]:
    """Some motions in equal parts: how many each has, and lowest X, Y, highest X, Y of all, (k, 4).

    A part is no longer than `longest_mm`, unless there were more than MOST_PARTS. `rows`: motions
    that are no `whole`, of a length that is known.
    """
    some = _placed(axis.motions.rows(rows), axis.in_machine)
    counts = np.ceil(axis.lengths[rows] / longest_mm).clip(1, MOST_PARTS).astype(np.int64)
    of = np.repeat(np.arange(len(rows)), counts)
    behind = np.cumsum(counts)
    number = np.arange(len(of)) - (behind - counts)[of]
    start, end = (_at(some, of, at / counts[of]) for at in (number, number + 1))
    low, high = np.minimum(start, end), np.maximum(start, end)
    arcs = some.is_arc[of]
    if arcs.any():
        many = some.rows(of[arcs])
        sweep_rad = many.sweep_rad / counts[of[arcs]]
        many = many._replace(start=start[arcs], end=end[arcs], sweep_rad=sweep_rad)
        low[arcs], high[arcs] = arc_boxes(many)
    return counts, np.concatenate([low[:, :2], high[:, :2]], axis=1)


def places_on(axis: Axis, rows: Ints, shares: Floats) -> Floats:
    """Places (k, 3) on motions at these shares of their paths: X, Y of the machine, the program's
    own Z."""
    of_each, index = np.unique(rows, return_inverse=True)
    return _at(_placed(axis.motions.rows(of_each), axis.in_machine), index, shares)


def halves_of(axis: Axis, row: int, share: float) -> tuple[Axis, Axis]:
    """A motion up to a share of its path, and from there, each as a piece of its own."""
    whole = axis.motions.rows(np.array([row]))
    middle = _at(whole, np.zeros(1, np.int64), np.array([share]))
    first = whole._replace(end=middle, sweep_rad=whole.sweep_rad * share)
    second = whole._replace(start=middle, sweep_rad=whole.sweep_rad * (1 - share))
    return _piece(axis, row, first, share), _piece(axis, row, second, 1 - share)


def _piece(axis: Axis, row: int, motions: Motions, share: float) -> Axis:
    """A part of a motion, which takes its share of the time."""
    found = axis_of(motions, axis.in_machine)
    return found._replace(seconds=axis.seconds[row : row + 1] * share)


def _at(some: Motions, of: Ints, shares: Floats) -> Floats:
    """Places (k, 3) on motions, by their indices, at these shares of their paths."""
    places: Floats = some.start[of] + shares[:, None] * (some.end - some.start)[of]
    arcs = np.flatnonzero(some.is_arc[of])
    if arcs.size:
        mine, share = of[arcs], shares[arcs]
        axes = np.array(AXES_OF_PLANE)[some.plane[mine]][:, :2]
        centre = some.centre[mine]
        arms = (ends[mine[:, None], axes] - centre for ends in (some.start, some.end))
        (radius, angle), (last, _) = ((np.hypot(*arm.T), np.arctan2(*arm.T[::-1])) for arm in arms)
        radius, angle = radius + share * (last - radius), angle + share * some.sweep_rad[mine]
        round_it = np.stack([np.cos(angle), np.sin(angle)], axis=1)
        places[arcs[:, None], axes] = centre + radius[:, None] * round_it
    return places


def _placed(motions: Motions, pose: Pose) -> Motions:
    """The same motions in machine coordinates; Z stays as the program has it."""
    start, end, centre = motions.start.copy(), motions.end.copy(), motions.centre
    if pose.angle_rad:
        for ends in (start, end):
            ends[:, :2] = turned(ends[:, :2], pose)
        flat = motions.plane == 0
        if centre.size:
            centre = np.where(flat[:, None], turned(centre, pose), np.nan)
        return motions._replace(start=start, end=end, centre=centre)
    for ends in (start, end):
        ends[:, 0] += pose.x_mm
        ends[:, 1] += pose.y_mm
    shift = np.array([pose.x_mm, pose.y_mm, 0.0])
    firsts = np.array(AXES_OF_PLANE)[motions.plane][:, :2]
    return motions._replace(start=start, end=end, centre=centre + shift[firsts])


def turned(places: Floats, pose: Pose) -> Floats:
    """Points (k, 2) of a frame where its pose leads."""
    cos, sin = cos_sin(pose.angle_rad)
    x, y = places[:, 0], places[:, 1]
    return np.stack([pose.x_mm + cos * x - sin * y, pose.y_mm + sin * x + cos * y], axis=1)


def _turned_boxes(arcs: Motions, pose: Pose) -> tuple[Floats, Floats]:
    """Boxes in the machine around the boxes that arcs have in the program."""
    low, high = arc_boxes(arcs)
    corners = np.stack(
        [
            turned(np.stack([x[:, 0], y[:, 1]], axis=1), pose)
            for x in (low, high)
            for y in (low, high)
        ]
    )
    return corners.min(axis=0), corners.max(axis=0)
