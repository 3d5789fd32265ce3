"""Which hole to measure next: the one that lowers the worst uncertainty at the stations most."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.geometry.fits import Floats, Scatter, affine_share, rigid_share, scatter_of
from pincorner.geometry.pose import XY
from pincorner.geometry.student import coverage_factor

SAME_MM = 1e-6
"""Uncertainties that differ by less are the same; then the first hole of the bed is taken."""


class FurtherHole(NamedTuple):
    """A hole worth measuring, and the survey's part of u95 at the worst place before and after."""

    label: str
    u95_before_mm: float
    u95_after_mm: float


def best_further_hole(
    bed: Bed,
    used: Iterable[str],
    s_mm: float,
    targets: Sequence[XY],
    affine: bool = False,
    measured: Iterable[str] = (),
) -> FurtherHole | None:
    """The hole that would lower the survey's u95 at the worst target most.

    `used`: labels of the holes in the fit; `measured`: others not to propose. `s_mm`: standard
    deviation of a reading. `targets`: places in bed coordinates, such as the corners of the
    stations' stock. `affine`: hole places come from the affine fit. None where the bed has no
    further hole, no target is given, or nothing would be gained. Before is infinite where one hole
    leaves the angle open.
    """
    labels = list(used)
    known = {key_of(label) for label in (*labels, *measured)}
    free = [hole for hole in bed.holes() if hole.usable and key_of(hole.label) not in known]
    places = [place.at_mm for label in labels if (place := bed.hole(label)) is not None]
    if not free or not targets or not places:
        return None
    now, at = scatter_of(np.array(places)), np.array(targets)
    factors = [_factor(len(places) + more, len(places), affine) for more in (0, 1)]
    before = factors[0] * s_mm * math.sqrt(float(_worst(_alone(now), at, affine)[0]))
    then = _with(now, np.array([hole.at_mm for hole in free]))
    after = factors[1] * s_mm * np.sqrt(_worst(then, at, affine))
    best = int(np.argmin(np.rint(after / SAME_MM)))
    found = FurtherHole(free[best].label, before, float(after[best]))
    return found if found.u95_after_mm < before - SAME_MM else None


def _factor(points: int, now: int, affine: bool) -> float:
    """k: Student's where s comes from the survey as it is, else 2."""
    dof_now, dof = ((2 * n - 6 if affine else 2 * n - 3) for n in (now, points))
    return coverage_factor(dof) if now >= 3 and dof_now > 0 else 2.0


def _alone(now: Scatter) -> Scatter:
    return Scatter(now.points, *(np.array([value]) for value in now[1:]))


def _with(now: Scatter, further: Floats) -> Scatter:
    """The scatters with one hole more, for each of (m, 2): the centroid moves by 1/(n + 1) of its
    distance, and the sums grow by n/(n + 1) of its products."""
    count = now.points + 1
    dx, dy = further[:, 0] - now.x_mm, further[:, 1] - now.y_mm
    grown = now.points / count
    return Scatter(
        count,
        now.x_mm + dx / count,
        now.y_mm + dy / count,
        now.xx + grown * dx * dx,
        now.yy + grown * dy * dy,
        now.xy + grown * dx * dy,
    )


def _worst(of: Scatter, targets: Floats, affine: bool) -> Floats:
    """Largest variance in any direction at any target, in variances of one reading, (m,)."""
    away = targets[:, 0] - of.x_mm[:, None], targets[:, 1] - of.y_mm[:, None]
    wide = of._replace(xx=of.xx[:, None], yy=of.yy[:, None], xy=of.xy[:, None])
    with np.errstate(divide="ignore", invalid="ignore"):  # holes in one point or line know nothing
        shares = affine_share(wide, away, away) if affine else rigid_share(wide, away)
    known = (wide.xx * wide.yy > wide.xy * wide.xy) if affine else wide.spread_mm2 > 0
    return np.asarray(np.where(known, shares, np.inf).max(axis=1))
