"""Which places of a jig can be taken together, and the gap between every two."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.clearances import Array, Shapes, boxes_of, gap_table, shapes
from pincorner.geometry.outline import TOUCH_MM, Outline
from pincorner.places.search import PlaceProposal, poses_of
from pincorner.setups.facts import Facts

Flags = NDArray[np.bool_]

_PAIRS_AT_ONCE = 1 << 18


def pair_table(facts: Facts, places: Sequence[PlaceProposal]) -> Array:
    """Gaps of footprints in mm, (n, n); -inf for two that cannot be taken together.

    Their jigs would overlap, a pin of one would stand under the jig of the other, or in the hole
    that stays empty at its corner, or in the way of its pins. One pin in one hole serves both.
    """
    table = _gaps(facts, places)
    cannot = table < -TOUCH_MM
    cannot |= _bodies_hit(facts, places) | _pins_hit(facts, places) | _holes_clash(places)
    table[cannot | cannot.T] = -np.inf
    np.fill_diagonal(table, -np.inf)
    return table


def _gaps(facts: Facts, places: Sequence[PlaceProposal]) -> Array:
    outlines = np.array([each.footprint for each in places])
    boxes = boxes_of(outlines)
    areas = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
    following = np.roll(outlines, -1, axis=1)
    cross = outlines[..., 0] * following[..., 1] - outlines[..., 1] * following[..., 0]
    upright = np.abs(areas - cross.sum(axis=1) / 2) <= TOUCH_MM * np.sqrt(areas)
    if upright.all():
        return _box_gaps(boxes)
    footprint = shapes([facts.holder.outline])
    fixed = _as_fixed(places, facts.holder.outline)
    return _in_slices(footprint, poses_of([each.located for each in places]), fixed)


def _box_gaps(boxes: Array) -> Array:
    """Gaps of upright rectangles (n, 4) in mm, (n, n)."""
    (left, front, right, back) = boxes.T
    along_x = np.maximum(left[:, None] - right, left - right[:, None])
    along_y = np.maximum(front[:, None] - back, front - back[:, None])
    both = np.hypot(np.maximum(along_x, 0.0), np.maximum(along_y, 0.0))
    gaps: Array = np.where(both > 0, both, np.maximum(along_x, along_y))
    return gaps


def _as_fixed(places: Sequence[PlaceProposal], outline: Outline) -> Shapes:
    """Something of the jig (jig coordinates) at every place."""
    jigs = (each.located.corner_in_bed @ each.located.jig_in_corner for each in places)
    return shapes([jig.points(outline) for jig in jigs])


def _in_slices(moved: Shapes, poses: Array, fixed: Shapes, within_mm: float = np.inf) -> Array:
    step = max(1, _PAIRS_AT_ONCE // len(fixed.corners))
    slices = [poses[start : start + step] for start in range(0, len(poses), step)]
    return np.concatenate([gap_table(moved, some, fixed, within_mm) for some in slices])


def _bodies_hit(facts: Facts, places: Sequence[PlaceProposal]) -> Flags:
    """(n, n): the jig with what sticks out of it against footprints and what sticks out there."""
    poses = poses_of([each.located for each in places])
    bodies = facts.holder.body
    hit = np.zeros((len(places), len(places)), dtype=bool)
    if len(bodies) == 1:
        return hit  # nothing sticks out: the footprints' gaps say it all
    for outline in bodies:
        fixed = _as_fixed(places, outline)
        hit |= _in_slices(shapes(bodies), poses, fixed, within_mm=0.0) < -TOUCH_MM
    return hit


def _pins_hit(facts: Facts, places: Sequence[PlaceProposal]) -> Flags:
    """(n, n): a pin of the one stands under the jig of the other, or under what sticks out."""
    hit = np.zeros((len(places), len(places)), dtype=bool)
    for outline in facts.holder.body:
        fixed = _as_fixed(places, outline)
        for pins in zip(*(each.located.pins for each in places), strict=True):
            disc = shapes([((0.0, 0.0),)], [pins[0].radius_mm])
            poses = np.array([(*pin.at_mm, 0.0) for pin in pins])
            hit |= _in_slices(disc, poses, fixed, within_mm=0.0) < -TOUCH_MM
    return hit


def _holes_clash(places: Sequence[PlaceProposal]) -> Flags:
    """(n, n): pins in different holes touch, or one stands where the other's corner is empty."""
    pins = {pin.hole: pin for each in places for pin in each.located.pins}
    index = {hole: at for at, hole in enumerate(pins)}
    at_mm = np.array([pin.at_mm for pin in pins.values()])
    body_mm = next(iter(pins.values())).pin.body
    apart = np.hypot(*(at_mm[:, None] - at_mm).transpose(2, 0, 1))
    near = (apart < body_mm - TOUCH_MM) & ~np.eye(len(at_mm), dtype=bool)
    stands, empty = np.zeros((2, len(places), len(pins)), dtype=np.float32)
    for row, each in enumerate(places):
        stands[row, [index[hole] for hole in each.holes]] = 1.0
        if each.located.corner_hole in index:
            empty[row, index[each.located.corner_hole]] = 1.0
    clash: Flags = stands @ (near @ stands.T + empty.T) > 0
    return clash
