"""Single readings that do not belong to the others: tests against the fit of the rest."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.fits import Floats, Scatter, affine_fit, affine_share, plane_fit, rigid_fit
from pincorner.geometry.student import t_within

Flags = NDArray[np.bool_]

DOUBT = 0.01
"""A reading is odd where chance would make the oddest of a survey so odd in 1 of 100 of them."""

PATIENCE = 8
"""So many readings in a row that chance explains end the search: odd ones that hide each other are
fewer (common practice)."""


class Deletion(NamedTuple):
    """What a fit would lose without each of its readings.

    `squares`: what the sum of squared residuals falls by, (n,), 0 for a reading that the fit cannot
    do without; `values`: numbers that each reading holds, 2 for a place, 1 for a height.
    """

    squares: Floats
    rss: float
    dof: int
    values: int


def rigid_deletion(drawn: Floats, measured: Floats) -> Deletion:
    """Deletions from a rigid fit.

    A residual along the ray from the centroid keeps 1 - 1/n of a reading's error, across it
    1 - 1/n - d2/S; the squares over these are what the sum falls by (linear in the angle).
    """
    fit = rigid_fit(drawn, measured)
    ray = fit.places(drawn) - fit.places(np.array([[fit.scatter.x_mm, fit.scatter.y_mm]]))
    length = np.linalg.norm(ray, axis=1)
    unit = ray / np.where(length > 0, length, 1.0)[:, None]
    along = (fit.residuals * unit).sum(axis=1)
    across = fit.residuals[:, 1] * unit[:, 0] - fit.residuals[:, 0] * unit[:, 1]
    free = 1 - 1 / len(drawn)
    turning = length**2 / fit.scatter.spread_mm2
    squares = np.where(length > 0, along, fit.residuals[:, 0]) ** 2 / free
    squares += _over(np.where(length > 0, across, fit.residuals[:, 1]) ** 2, free - turning)
    return Deletion(squares, fit.rss, fit.dof, 2)


def affine_deletion(drawn: Floats, measured: Floats) -> Deletion:
    """Deletions from an affine fit: a residual keeps 1 - h of a reading's error, h its leverage."""
    fit = affine_fit(drawn, measured)
    free = 1 - _leverage(fit.scatter, drawn)
    return Deletion(_over((fit.residuals**2).sum(axis=1), free), fit.rss, fit.dof, 2)


def plane_deletion(places: Floats, heights: Floats) -> Deletion:
    """Deletions from a plane fit."""
    fit = plane_fit(places, heights)
    free = 1 - _leverage(fit.scatter, places)
    return Deletion(_over(fit.residuals**2, free), fit.rss, fit.dof, 1)


def _leverage(scatter: Scatter, places: Floats) -> Floats:
    """Variance of an affine or plane fit at places, in variances of one reading, (n,)."""
    away = places[:, 0] - scatter.x_mm, places[:, 1] - scatter.y_mm
    return np.asarray(affine_share(scatter, away, away))


def _over(squares: Floats, free: Floats) -> Floats:
    return np.where(free > 1e-9, squares / np.maximum(free, 1e-9), 0.0)


def odd_ones(
    deletion: Callable[[Flags], Deletion], count: int, least_sd_mm: float, fewest: int
) -> Flags:
    """Which of `count` readings do not belong to the others, (count,).

    `deletion` takes the readings that are left. The generalized extreme Studentized deviate
    procedure (NIST/SEMATECH e-Handbook, 1.3.5.17.3; Rosner, Technometrics 25, 1983), with the
    deviate of a reading taken against the fit of the others: the oddest is put aside, again and
    again, up to a third of all, as long as `fewest` stay; odd are those up to the last step whose
    deviate chance would not explain, so that two that hide each other are both found. Readings are
    never thought better than `least_sd_mm`.
    """
    aside: list[int] = []
    left, found = np.ones(count, dtype=bool), 0
    for _ in range(min(count // 3, count - fewest)):
        this = deletion(left)
        if this.dof <= this.values or len(aside) - found >= PATIENCE:
            break
        oddest = int(np.argmax(this.squares))
        if this.squares[oddest] == 0:
            break
        chance = _chance(this, oddest, least_sd_mm) * int(left.sum())
        oddest = int(np.flatnonzero(left)[oddest])
        left[oddest] = False
        aside.append(oddest)
        found = len(aside) if chance < DOUBT else found
    odd = np.zeros(count, dtype=bool)
    odd[aside[:found]] = True
    return odd


def _chance(this: Deletion, index: int, least_sd_mm: float) -> float:
    """The chance that a good reading lies so far off the fit of the others, or farther.

    Snedecor's F with 2 and f degrees has it in closed form, with 1 and f it is Student's t.
    """
    dof = this.dof - this.values
    variance = max((this.rss - this.squares[index]) / dof, least_sd_mm**2)
    ratio = float(this.squares[index]) / variance
    if this.values == 1:
        return 1.0 - t_within(math.sqrt(ratio), dof)
    return math.exp(-dof / 2 * math.log1p(ratio / dof))
