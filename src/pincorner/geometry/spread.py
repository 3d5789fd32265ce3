"""How small errors at the locating contacts move a part, and how far that spreads at its corners.

First-order rigid-body kinematics and propagation of variances (JCGM 100:2008, 5.1.2). Arithmetic
only, so that floats and NumPy arrays of many candidates pass through the same lines.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from pincorner.geometry.contact import Corner, Scalar
from pincorner.geometry.pose import XY


class Spread(NamedTuple):
    """Covariance of a part's x, y (mm) and angle a (rad) at one of its points."""

    xx: Scalar = 0.0
    yy: Scalar = 0.0
    aa: Scalar = 0.0
    xy: Scalar = 0.0
    xa: Scalar = 0.0
    ya: Scalar = 0.0

    @classmethod
    def of_move(cls, x_mm: Scalar, y_mm: Scalar, angle_rad: Scalar) -> Spread:
        """Of one move that is made by chance, with a factor of mean 0 and standard deviation 1."""
        x, y, a = x_mm, y_mm, angle_rad
        return cls(x * x, y * y, a * a, x * y, x * a, y * a)

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

    def moved(self, x_mm: float, y_mm: float) -> Spread:
        """The spread at another point of the same part, (x, y) away."""
        xx, yy, xy = self.at(x_mm, y_mm)
        return Spread(xx, yy, self.aa, xy, self.xa - y_mm * self.aa, self.ya + x_mm * self.aa)

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

    def worst_direction(self, x_mm: Scalar, y_mm: Scalar) -> tuple[Scalar, Scalar]:
        """That direction, as cosine and sine of twice its angle; along x where all are the same."""
        xx, yy, xy = self.at(x_mm, y_mm)
        half = (xx - yy) / 2
        length = (half * half + xy * xy) ** 0.5
        round_one = length == 0  # 1 where it is true, in floats and arrays
        return (half + round_one) / (length + round_one), xy / (length + round_one)

    def variance_along(self, twice: tuple[Scalar, Scalar], x_mm: Scalar, y_mm: Scalar) -> Scalar:
        """Variance, mm2, at a point (x, y) away along a direction as `worst_direction` has it."""
        xx, yy, xy = self.at(x_mm, y_mm)
        cos, sin = twice
        return (xx + yy) / 2 + cos * (xx - yy) / 2 + sin * xy


def total(spreads: Iterable[Spread]) -> Spread:
    """The spread of all of them together, independent of each other; zeros for none."""
    columns = tuple(zip(*spreads, strict=True))
    return Spread(*map(sum, columns)) if columns else Spread()


def middle(spreads: Sequence[Spread]) -> Spread:
    """The mean of several spreads: of one that is any of them, as often as the others."""
    summed = total(spreads)
    return Spread(*(each / len(spreads) for each in summed))


def on_both_axes(sd_mm: float) -> Spread:
    """The same standard deviation along x and y, independent, and none in the angle."""
    return Spread(sd_mm**2, sd_mm**2)


def rigid_spread(s_mm: float, points: int, spread_mm2: float, arm_mm: XY) -> Spread:
    """Spread of a rigid fit's place `arm_mm` away from the centroid of its holes, and of its angle.

    Propagation of variances (JCGM 100:2008, 5.1.2). `points` readings with the standard deviation
    `s_mm`; `spread_mm2`: the sum of their squared distances from the centroid. In the axes of
    `arm_mm`.
    """
    variance = s_mm**2
    turning = variance / spread_mm2 if spread_mm2 > 0 else 0.0
    return Spread(variance / points, variance / points, turning).moved(*arm_mm)


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
    v1, v2, v3 = variances
    hand, (t1, t2, s3) = corner.hand, corner.touched_from(zero)
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


WAYS = ((1, 1, 1), (1, 1, -1), (1, -1, 1), (-1, 1, 1))
"""Which of three contacts move to the same side, and which to the other."""


def spreads_together(
    corner: Corner,
    zero: tuple[Scalar, Scalar],
    sds_mm: tuple[Scalar, Scalar, Scalar],
    inward: tuple[Scalar, Scalar],
) -> tuple[Spread, ...]:
    """Spreads at `zero` of contacts that move by one chance for all, in each of the `WAYS`.

    As `corner_spread` has it, with three standard deviations that are fully correlated (JCGM
    100:2008, 5.2.2, note 1). At any place and along any direction one of them is the largest that
    moves with these standard deviations can have, whatever binds them to each other.
    """
    hand, (t1, t2, s3) = corner.hand, corner.touched_from(zero)
    found = []
    for signs in WAYS:
        w1, w2, w3 = (sign * sd for sign, sd in zip(signs, sds_mm, strict=True))
        turn = (w2 - w1) / (t2 - t1)
        move = (w3 + s3 * turn, hand * (t2 * w1 - t1 * w2) / (t2 - t1), hand * turn)
        found.append(Spread.of_move(*move).turned(*inward))
    return tuple(found)
