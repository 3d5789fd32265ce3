"""How well a fit knows the places that it puts holes at, and a part in a pin corner of such holes.

Closed forms of the propagation of variances (JCGM 100:2008, 5.1.2) for readings with the standard
deviation s on each axis, independent of each other. With d a hole's distance from the centroid of
the n used holes, Q the matrix of sums of d d^T and S its trace, two places p and q have

    rigid:   s2 (1/n + (J d_p) (J d_q)^T / S)      J turns by a right angle
    affine:  s2 (1/n + d_p^T Q^-1 d_q) along each axis, and nothing from one axis to the other

With p = q the first is `spread.rigid_spread`. The tests compare with Monte Carlo.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pincorner.geometry.contact import Corner, Scalar
from pincorner.geometry.fits import Scatter, affine_share
from pincorner.geometry.pose import XY, cos_sin
from pincorner.geometry.spread import Spread, rigid_spread


class PlaceErrors(NamedTuple):
    """What of a fit is needed to say how well it knows a place.

    s_mm: standard deviation of one reading per axis. scatter: of the used holes, bed coordinates.
    affine: hole places come from the affine fit. angle_rad: of the bed in the machine.
    """

    s_mm: float
    scatter: Scatter
    affine: bool
    angle_rad: float

    def between(
        self, first: tuple[Scalar, Scalar], second: tuple[Scalar, Scalar]
    ) -> tuple[Scalar, Scalar, Scalar, Scalar]:
        """Covariances of two places' errors along the bed's axes, mm2: xx, xy, yx, yy."""
        this, (x1, y1), (x2, y2) = self.scatter, self._arm(first), self._arm(second)
        if self.affine:
            both = self.s_mm**2 * affine_share(this, (x1, y1), (x2, y2))
            return both, 0.0, 0.0, both
        here = rigid_spread(self.s_mm, this.points, this.spread_mm2, (x1, y1))
        # the second place moves as the first does, and by the turn about it
        dx, dy = x2 - x1, y2 - y1
        return (
            here.xx - dy * here.xa,
            here.xy + dx * here.xa,
            here.xy - dy * here.ya,
            here.yy + dx * here.ya,
        )

    def _arm(self, place: tuple[Scalar, Scalar]) -> tuple[Scalar, Scalar]:
        return place[0] - self.scatter.x_mm, place[1] - self.scatter.y_mm


def place_covariance(errors: PlaceErrors, at_mm: XY, along: XY = (1.0, 0.0)) -> Spread:
    """Spread of the place at `at_mm` (bed coordinates) and of its angle, in machine axes.

    Rigid: the angle is the bed's. Affine: it is that of a row of holes along the unit vector
    `along`, which turns by itself where the fit has the board's shape wrong.
    """
    if not errors.affine:
        of, arm = errors.scatter, (at_mm[0] - errors.scatter.x_mm, at_mm[1] - errors.scatter.y_mm)
        in_bed = rigid_spread(errors.s_mm, of.points, of.spread_mm2, arm)
        return in_bed.turned(*cos_sin(errors.angle_rad))
    ahead = (at_mm[0] + along[0], at_mm[1] + along[1])
    here, mixed, there = (
        errors.between(at_mm, at_mm),
        errors.between(at_mm, ahead),
        errors.between(ahead, ahead),
    )
    nx, ny = -along[1], along[0]
    # the row turns by n . (error ahead - error here), the two one millimetre apart
    xa = (mixed[0] - here[0]) * nx + (mixed[1] - here[1]) * ny
    ya = (mixed[2] - here[2]) * nx + (mixed[3] - here[3]) * ny
    aa = (
        (there[0] - 2 * mixed[0] + here[0]) * nx * nx
        + (there[3] - 2 * mixed[3] + here[3]) * ny * ny
        + 2 * (there[1] - mixed[1] - mixed[2] + here[1]) * nx * ny
    )
    in_bed = Spread(here[0], here[3], aa, here[1], xa, ya)
    return in_bed.turned(*cos_sin(errors.angle_rad))


def part_covariance(
    errors: PlaceErrors,
    holes_mm: Sequence[tuple[Scalar, Scalar]],
    corner: Corner,
    zero: tuple[Scalar, Scalar],
) -> Spread:
    """Spread at `zero` of a part in a corner of pins whose holes are where the fit has them.

    `holes_mm` of the first and second edge pin and the stop, as `corner.contacts`, all in bed
    coordinates, of one part or arrays of many; the result is in machine axes. With a rigid fit this
    is `place_covariance` at the zero; with an affine one the part, which does not swell with the
    bed, has its own.
    """
    (mx, my), (nx, ny) = corner.inward, corner.normal
    contacts = list(zip(holes_mm, ((nx, ny), (nx, ny), (mx, my)), strict=True))
    found: list[Scalar] = [0.0] * 6
    moves = _moves(corner, zero)
    for row, (first, (ax, ay)) in enumerate(contacts):
        for column, (second, (bx, by)) in enumerate(contacts):
            xx, xy, yx, yy = errors.between(first, second)
            both = ax * (xx * bx + xy * by) + ay * (yx * bx + yy * by)
            for at, (one, other) in enumerate(((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))):
                found[at] = found[at] + moves[one][row] * both * moves[other][column]
    cos, sin = cos_sin(errors.angle_rad)
    return Spread(*found).turned(cos * mx - sin * my, sin * mx + cos * my)


def _moves(corner: Corner, zero: tuple[Scalar, Scalar]) -> list[list[Scalar]]:
    """How the part at `zero` moves for 1 mm at each contact, 3 by 3: along m, across it, turning.

    The kinematics of `spread.corner_spread`.
    """
    hand, (t1, t2, s3) = corner.hand, corner.touched_from(zero)
    length = t2 - t1
    return [
        [-s3 / length, s3 / length, 1.0],
        [hand * t2 / length, -hand * t1 / length, 0.0],
        [-hand / length, hand / length, 0.0],
    ]
