"""How jigs lie in many ways at once, and how well that is known: what `locate` and `make_budget`
say of one way, by the same lines of arithmetic for whole arrays of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from shapely import STRtree, points

from pincorner.geometry.clearances import Array, Indices
from pincorner.geometry.contact import (
    Corner,
    Pins,
    Scalar,
    corner_from_pins,
    foot_of_stop,
    stop_off,
)
from pincorner.geometry.outline import TOUCH_MM
from pincorner.geometry.pose import XY, Pose
from pincorner.geometry.spread import Spread, corner_spread, middle, spreads_together, total
from pincorner.places.pins import BedHoles, Flags, coverage_factors
from pincorner.setups.budget import (
    Source,
    Stands,
    body_sd,
    edge_sd,
    effective_dofs,
    other_sources,
    rounding_source,
)
from pincorner.setups.choice import Contacts, that_hold
from pincorner.setups.facts import Facts
from pincorner.setups.heights import steps_mm
from pincorner.setups.holes import alike, bed_pose, hole_position_sd
from pincorner.setups.locating import jig_in_quadrant, sign_of, straight_parts
from pincorner.setups.pin_fit import lowest_mm, pin_fit


class Held(NamedTuple):
    """What the station's pin does in holes (h,), or in the three of each way (n, 3).

    reaches: from the hole's centre to the contact, mm. holes: variance of the hole's own place,
    mm2, 0 where that is not `stated`, with its degrees of freedom. others: variance of all else but
    the lean; leans: its standard deviation, mm. most, most_leans: the same of what differs each
    time alone, on the board with the largest play.
    """

    reaches: Array
    holes: Array
    stated: Flags
    dofs: Array
    others: Array
    leans: Array
    most: Array
    most_leans: Array

    def of(self, pins: Indices) -> Held:
        """That of some holes."""
        return Held._make(each[pins] for each in self)


def held_in(facts: Facts, holes: BedHoles) -> Held:
    """What the station's pin does in every hole of a bed, where that is."""
    pin, kinds = facts.pin_of(facts.station.pin), dict[object, int]()
    rows, found = list[tuple[float, ...]](), list[int]()
    for x, y in holes.true.tolist():
        kind = alike(facts, (x, y))
        if kind not in kinds:
            kinds[kind] = len(rows)
            fit, (sd_mm, dof) = pin_fit(facts, pin, (x, y)), hole_position_sd(facts, (x, y))
            own = fit.fixed_sd_mm**2 + fit.varying_sd_mm**2
            rest = body_sd(pin) ** 2 + (edge_sd(facts) or 0.0) ** 2
            most = fit.at_most
            rows.append(
                (
                    pin.body / 2 - fit.shift_mm, (sd_mm or 0.0) ** 2, sd_mm is not None, dof,
                    own + rest, fit.lean_sd_mm, most.varying_sd_mm**2, most.lean_sd_mm,
                )
            )  # fmt: skip
        found.append(kinds[kind])
    columns = np.array(rows, dtype=float)[np.array(found, dtype=np.intp)].T
    held = Held._make(columns)
    return held._replace(stated=held.stated > 0)


class Lying(NamedTuple):
    """How the jig of a draft lies against three pins, in n ways.

    draft: with turn and toward. poses: (n, 3) of the jig on the bed, x and y in mm, angle in rad.
    located: whether `locate` takes them; slats apart (`may_end_low`).
    """

    draft: Facts
    stands: Stands
    held: Held
    poses: Array
    located: Flags

    def of(self, ways: Indices) -> Lying:
        """Some of the ways."""
        corner = Corner(*(_picked(each, ways) for each in self.stands.corner))
        stands = Stands(_picked(tuple(self.stands.holes_mm), ways), corner)
        held = self.held.of(ways)
        return Lying(self.draft, stands, held, self.poses[ways], self.located[ways])


def _picked(of: Scalar, ways: Indices) -> Scalar:
    """The same of nested tuples of arrays."""
    return of[ways] if isinstance(of, np.ndarray) else tuple(_picked(each, ways) for each in of)


def lie(draft: Facts, holes: BedHoles, every: Held, corners: Indices, pins: Indices) -> Lying:
    """The jig against pins (n, 3), two on an edge, nearest to the corner first, and the stop.

    corners: (n,) the holes that their corners are to have. every: as `held_in`.
    """
    toward = draft.station.toward or ""
    sx, sy = sign_of(toward, 0), sign_of(toward, 1)
    held, at_mm = every.of(pins), holes.true[pins]
    first, second, stop = (_columns(at_mm[:, at]) for at in range(3))
    three = Pins(first, second, stop, _columns(held.reaches))
    with np.errstate(divide="ignore", invalid="ignore"):  # pins in one line make no corner
        corner = corner_from_pins(three)
        off_line, off_middle = stop_off(three)
    (mx, my), (nx, ny) = corner.inward, corner.normal
    along_x: Flags = abs(second[0] - first[0]) >= abs(second[1] - first[1])  # as `frame_angle`
    ux, uy = np.where(along_x, (sx * mx, sx * my), (sy * my, -sy * mx))
    goes_x, goes_y = np.where(along_x, (mx, ny), (nx, my))
    goes: Flags = (sx * goes_x > 0) & (sy * goes_y > 0)
    jig = jig_in_quadrant(draft.holder.outline, draft.station.turn, sx, sy)
    poses = np.stack(
        (
            corner.point[0] + ux * jig.x_mm - uy * jig.y_mm,
            corner.point[1] + uy * jig.x_mm + ux * jig.y_mm,
            np.arctan2(uy, ux) + jig.angle_rad,
        ),
        axis=1,
    )
    stop_mm = held.reaches[:, 2]
    located = goes & (off_line > stop_mm) & (off_middle > stop_mm)
    contacts = Contacts(at_mm, held.others, held.leans, held.reaches)
    located &= _hold(draft, contacts, jig, along_x)
    located &= _has_corner(draft, holes, corners, three)
    return Lying(draft, Stands((first, second, stop), corner), held, poses, located)


def _columns(values: Array) -> tuple[Scalar, ...]:
    return tuple(values.T)


def _hold(draft: Facts, contacts: Contacts, jig: Pose, along_x: Flags) -> Flags:
    """Whether all pins touch straight parts of the jig, well apart (`_check_contacts`)."""
    toward, outline = draft.station.toward or "", jig.points(draft.holder.outline)
    upon, beside = (straight_parts(outline, axis, toward) for axis in (1, 0))
    lies, stands = that_hold(contacts, upon, beside), that_hold(contacts, beside, upon)
    found: Flags = (along_x & lies) | (~along_x & stands)
    return found


def _has_corner(draft: Facts, holes: BedHoles, corners: Indices, pins: Pins) -> Flags:
    """Whether the hole at the inside corner is the one that is wanted (`corner_hole_of`)."""
    foot = np.stack(foot_of_stop(pins), axis=1)
    near_mm = min(draft.bed.grid.pitch) / 4
    off_x, off_y = (holes.drawn[corners] - foot).T
    near: Flags = np.hypot(off_x, off_y) <= near_mm
    if not draft.bed.extra:
        return near
    # another hole may be nearer yet; of two that are as near the first by label counts
    at, to = STRtree(points(holes.drawn)).query_nearest(points(foot), max_distance=near_mm)
    first = np.full(len(corners), len(holes.places))
    np.minimum.at(first, at, holes.by_label[to])
    near &= first == holes.by_label[corners]
    return near


def may_end_low(facts: Facts) -> bool:
    """Whether a pin on a lower slat may end below the jig: to be asked of `locate` one by one."""
    room_mm = facts.pin_of(facts.station.pin).height - lowest_mm(facts)
    return bool(facts.bed.slats) and room_mm - steps_mm(facts) <= TOUCH_MM


def u95s_of(lying: Lying) -> Array:
    """u95_worst, mm, (n,): the largest over the stock corners of all nests, as `setups.budget` has
    it of one station."""
    facts, corner = lying.draft, lying.stands.corner
    bed_in_machine = bed_pose(facts)
    inward = bed_in_machine.vector(corner.inward)
    worst = np.zeros(len(lying.poses))
    for nest in facts.holder.nests:
        zero, angle_rad = _zero(lying.poses, nest.in_jig)
        in_machine = bed_in_machine.angle_rad + angle_rad
        arms = [_turned(point, in_machine) for point in nest.stock.outline]
        others, _ = other_sources(facts, zero, bed_in_machine, lying.stands)
        known = _Known(corner, zero, inward, arms)
        worst = np.maximum(worst, known.worst(facts, lying.held, others))
    return worst


def _zero(poses: Array, in_jig: Pose) -> tuple[tuple[Scalar, Scalar], Array]:
    """A nest's zero on the bed, and how it lies turned, for every pose of its jig."""
    x_mm, y_mm, angle_rad = poses.T
    dx, dy = _turned(in_jig.origin, angle_rad)
    return (x_mm + dx, y_mm + dy), angle_rad + in_jig.angle_rad


def _turned(arm: XY, angle_rad: Array) -> tuple[Scalar, Scalar]:
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    return cos * arm[0] - sin * arm[1], sin * arm[0] + cos * arm[1]


class _Known(NamedTuple):
    """A nest's zero and the arms to the corners of its stock, in n ways. inward: in the machine."""

    corner: Corner
    zero: tuple[Scalar, Scalar]
    inward: tuple[Scalar, Scalar]
    arms: Sequence[tuple[Scalar, Scalar]]

    def worst(self, facts: Facts, held: Held, others: Sequence[Source]) -> Array:
        """The largest u95 over the arms; a jig lies no better than it comes back."""
        whole = held.stated.all(axis=1, keepdims=True)  # unless all three are, none is counted
        holes = self._spread(np.where(whole, held.holes, 0.0))
        pins = self._spread(held.others)
        alone = total([holes, pins, *(each.spread for each in others)])
        given = (alone.xx > 0) | (alone.yy > 0) | (held.leans.max(axis=1) > 0)
        told = [each.spread for each in rounding_source(facts)]  # alone it would pass for all
        alone = total([alone, *(Spread(*(part * given for part in each)) for each in told)])
        ways = self._together(alone, held.leans)
        limited = [(each.spread, each.dof) for each in others if math.isfinite(each.dof)]
        factor = self._coverage(ways, [*limited, (holes, held.dofs.min(axis=1))])
        each_time = [each.spread for each in others if not each.repeats]
        back = self._together(total([self._spread(held.most), *each_time]), held.most_leans)
        sds = [way.worst_sd(*arm) for arm in self.arms for way in (*ways, *back)]
        found: Array = factor * np.maximum.reduce(sds)
        return found

    def _spread(self, variances: Array) -> Spread:
        first, second, stop = variances.T
        return corner_spread(self.corner, self.zero, (first, second, stop), self.inward)

    def _together(self, alone: Spread, leans: Array) -> list[Spread]:
        """In each of the ways that leans may be bound (`setups.budget.in_each_way`)."""
        if not leans.any():
            return [alone]
        first, second, stop = leans.T
        bound = spreads_together(self.corner, self.zero, (first, second, stop), self.inward)
        ways = [total((alone, way)) for way in bound]
        return [*ways, middle(ways)]

    def _coverage(self, ways: Sequence[Spread], limited: Sequence[tuple[Spread, Scalar]]) -> Scalar:
        """k at the fewest effective degrees of freedom at the zero and the corners."""
        if not any(np.isfinite(dof).any() for _, dof in limited):
            return 2.0
        arms = [(0.0, 0.0), *self.arms]
        with np.errstate(invalid="ignore"):  # no number where nothing varies
            dofs = [each for way in ways for each in effective_dofs(way, limited, arms)]
        fewest = np.fmin.reduce(dofs)
        return coverage_factors(np.where(np.isnan(fewest), np.inf, fewest))
