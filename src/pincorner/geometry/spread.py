"""How small errors at the locating contacts move a part, and how far that spreads at its corners.

First-order rigid-body kinematics and propagation of variances (JCGM 100:2008, 5.1.2). Arithmetic
only, so that floats and NumPy arrays of many candidates pass through the same lines.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from pincorner.geometry.contact import Corner, Scalar


class Spread(NamedTuple):
    """Covariance of a part's x, y (mm) and angle a (rad) at one of its points."""

    xx: Scalar = 0.0
    yy: Scalar = 0.0
    aa: Scalar = 0.0
    xy: Scalar = 0.0
    xa: Scalar = 0.0
    ya: Scalar = 0.0

    def turned(self, cos: float, sin: float) -> Spread:
        """The same spread in axes in which this one's are turned by (cos, sin)."""
        return Spread(
            cos * cos * self.xx - 2 * cos * sin * self.xy + sin * sin * self.yy,
            sin * sin * self.xx + 2 * cos * sin * self.xy + cos * cos * self.yy,
            self.aa,
            cos * sin * (self.xx - self.yy) + (cos * cos - sin * sin) * self.xy,
            cos * self.xa - sin * self.ya,
            sin * self.xa + cos * self.ya,
        )

    def at(self, x_mm: Scalar, y_mm: Scalar) -> tuple[Scalar, Scalar, Scalar]:
        """Variances along x and y and their covariance, mm2, at a point (x, y) away."""
        return (
            self.xx - 2 * y_mm * self.xa + y_mm * y_mm * self.aa,
            self.yy + 2 * x_mm * self.ya + x_mm * x_mm * self.aa,
            self.xy + x_mm * self.xa - y_mm * self.ya - x_mm * y_mm * self.aa,
        )

    def worst_sd(self, x_mm: Scalar, y_mm: Scalar) -> Scalar:
        """Standard deviation in the worst direction, mm, at a point (x, y) away.

        The root of the larger eigenvalue of the 2 x 2 covariance there.
        """
        xx, yy, xy = self.at(x_mm, y_mm)
        half = (xx - yy) / 2
        return ((xx + yy) / 2 + (half * half + xy * xy) ** 0.5) ** 0.5

    def worst_direction(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Unit vector of that direction, for floats."""
        xx, yy, xy = self.at(x_mm, y_mm)
        angle = math.atan2(2 * xy, xx - yy) / 2
        return math.cos(angle), math.sin(angle)

    def variance_along(self, direction: tuple[float, float], x_mm: float, y_mm: float) -> float:
        """Variance, mm2, along a unit vector at a point (x, y) away, for floats."""
        xx, yy, xy = self.at(x_mm, y_mm)
        cos, sin = direction
        return float(cos * cos * xx + 2 * cos * sin * xy + sin * sin * yy)


def total(spreads: Iterable[Spread]) -> Spread:
    """The spread of all of them together, independent of each other; zeros for none."""
    columns = tuple(zip(*spreads, strict=True))
    return Spread(*map(sum, columns)) if columns else Spread()


def on_both_axes(sd_mm: float) -> Spread:
    """The same standard deviation along x and y, independent, and none in the angle."""
    return Spread(sd_mm**2, sd_mm**2)


def corner_spread(
    corner: Corner,
    zero: tuple[Scalar, Scalar],
    variances: tuple[Scalar, Scalar, Scalar],
    inward: tuple[Scalar, Scalar],
) -> Spread:
    """Spread at `zero` of a part in a pin corner whose contacts move along their normals.

    `variances` (mm2) of the first and second edge contact and the stop's, independent; `inward` is
    the corner's unit vector m in the axes wanted (the machine's, say). In the corner's own axes
    (m along the edge, n into the part; t along m and s along n from the zero), a contact
    displacement w gives the part

        angle = h (w2 - w1) / (t2 - t1),   h = m x n = +1 or -1
        along n = (t2 w1 - t1 w2) / (t2 - t1)
        along m = w3 + s3 (w2 - w1) / (t2 - t1)
    """
    (mx, my), (nx, ny) = corner.inward, corner.normal
    (x1, y1), (x2, y2), (x3, y3) = corner.contacts
    v1, v2, v3 = variances
    hand = mx * ny - my * nx
    t1 = (x1 - zero[0]) * mx + (y1 - zero[1]) * my
    t2 = (x2 - zero[0]) * mx + (y2 - zero[1]) * my
    s3 = (x3 - zero[0]) * nx + (y3 - zero[1]) * ny
    square = (t2 - t1) ** 2
    both, lever = (v1 + v2) / square, (t2 * v1 + t1 * v2) / square
    in_corner = Spread(  # in the axes m, m turned by 90 degrees: n itself where h is +1
        xx=v3 + s3 * s3 * both,
        yy=(t2 * t2 * v1 + t1 * t1 * v2) / square,
        aa=both,
        xy=-hand * s3 * lever,
        xa=hand * s3 * both,
        ya=-lever,
    )
    return in_corner.turned(*inward)
