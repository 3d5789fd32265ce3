"""Least-squares fits of measured places to drawn ones, and of a plane to heights.

Pure functions on arrays: places are (n, 2), mm. What a fit leaves over is told as `rss`, the sum of
squared residuals; the standard deviation of one reading per axis is sqrt(rss / dof). Errors of the
readings are taken as independent and equal on both axes.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.contact import Scalar

Floats = NDArray[np.float64]
Pair = tuple[Scalar, Scalar]

THIN = 1e-6
"""Holes whose scatter across their line is this share of that along it, or less, are in one line:
a thousandth in distance, 1 mm for each metre."""


class Scatter(NamedTuple):
    """How places lie about their centroid: all that a fit's covariance needs of them.

    xx, yy, xy: sums of squares and products of the distances from the centroid, mm2. Of many sets
    of as many places each number but the first may be an array, (m,).
    """

    points: int
    x_mm: Scalar
    y_mm: Scalar
    xx: Scalar
    yy: Scalar
    xy: Scalar

    @property
    def spread_mm2(self) -> Scalar:
        """Sum of squared distances from the centroid."""
        return self.xx + self.yy

    @property
    def flat(self) -> bool:
        """Whether the places lie in one line (or in one point), so that no affine fit exists."""
        across = self.spread_mm2 / 2 - math.hypot((self.xx - self.yy) / 2, self.xy)
        return bool(across <= THIN * self.spread_mm2)

    def inverse(self) -> tuple[Scalar, Scalar, Scalar]:
        """xx, yy and xy of the inverse of the 2 x 2 matrix of sums, 1/mm2; for what is not flat."""
        determinant = self.xx * self.yy - self.xy * self.xy
        return self.yy / determinant, self.xx / determinant, -self.xy / determinant


def affine_share(of: Scatter, first: Pair, second: Pair) -> Scalar:
    """Covariance of two places of an affine fit along either axis, in variances of one reading.

    `first`, `second`: their distances from the centroid, d and e: 1/n + d^T Q^-1 e, with Q the
    matrix of sums (JCGM 100, 5.1, for a straight line in two variables). With d = e that is the
    leverage of a reading there.
    """
    (x1, y1), (x2, y2), (xx, yy, xy) = first, second, of.inverse()
    return 1 / of.points + xx * x1 * x2 + yy * y1 * y2 + xy * (x1 * y2 + y1 * x2)


def rigid_share(of: Scatter, away: Pair) -> Scalar:
    """Variance of a place of a rigid fit across the ray from the centroid, where it is largest.

    In variances of one reading, `away` from the centroid; the whole spread is
    `spread.rigid_spread`.
    """
    x, y = away
    return 1 / of.points + (x * x + y * y) / of.spread_mm2


def scatter_of(places: Floats) -> Scatter:
    """The scatter of places, (n, 2) mm with n >= 1."""
    x_mm, y_mm = places.mean(axis=0)
    off = places - (x_mm, y_mm)
    xx, yy = (off**2).sum(axis=0)
    xy = (off[:, 0] * off[:, 1]).sum()
    return Scatter(len(places), float(x_mm), float(y_mm), float(xx), float(yy), float(xy))


class Rigid(NamedTuple):
    """A turn and a shift: measured = R(angle) drawn + (x, y).

    residuals: measured less fitted, (n, 2) mm, in the axes of the measured places. dof: 2 n - 3
    from three places on; 0 below, where nothing is redundant but the distance of two.
    """

    x_mm: float
    y_mm: float
    angle_rad: float
    scatter: Scatter
    residuals: Floats
    rss: float
    dof: int

    def places(self, drawn: Floats) -> Floats:
        """Where the fit has drawn places, (n, 2) mm."""
        return drawn @ _turning(self.angle_rad).T + (self.x_mm, self.y_mm)

    def drawn_at(self, measured: Floats) -> Floats:
        """Where measured places lie in the drawing, (n, 2) mm."""
        return (measured - (self.x_mm, self.y_mm)) @ _turning(self.angle_rad)


def rigid_fit(drawn: Floats, measured: Floats, angle_rad: float = 0.0) -> Rigid:
    """The turn and shift that bring drawn places nearest to measured ones: no scale, no mirror.

    With b', q' about the centroids, angle = atan2(sum b' x q', sum b' . q'); in the plane this is
    the rotation of Umeyama, IEEE PAMI 13(4), 1991. One place: `angle_rad` is kept, the shift
    follows. Raises ValueError where no place is given.
    """
    if len(drawn) == 0:
        raise ValueError("expected at least one place")
    scatter = scatter_of(drawn)
    middle = measured.mean(axis=0)
    b, q = drawn - (scatter.x_mm, scatter.y_mm), measured - middle
    if len(drawn) > 1:
        cross = (b[:, 0] * q[:, 1] - b[:, 1] * q[:, 0]).sum()
        angle_rad = math.atan2(cross, (b * q).sum())
    turning = _turning(angle_rad)
    x_mm, y_mm = middle - turning @ (scatter.x_mm, scatter.y_mm)
    residuals = q - b @ turning.T
    dof = 2 * len(drawn) - 3 if len(drawn) >= 3 else 0
    return Rigid(
        float(x_mm), float(y_mm), angle_rad, scatter, residuals, float((residuals**2).sum()), dof
    )


def _turning(angle_rad: float) -> Floats:
    cos, sin = math.cos(angle_rad), math.sin(angle_rad)
    return np.array([[cos, -sin], [sin, cos]])


class Affine(NamedTuple):
    """A linear map about the centroids: measured = matrix (drawn - centroid) + middle.

    scale_x, scale_y: how much longer than drawn a step along the drawn X or Y is, as a share of it.
    squareness_rad: how much the angle between the two falls short of a right one. dof: 2 n - 6.
    """

    matrix: Floats
    middle: Floats
    scatter: Scatter
    residuals: Floats
    rss: float
    dof: int

    @property
    def scale_x(self) -> float:
        return math.hypot(self.matrix[0, 0], self.matrix[1, 0]) - 1.0

    @property
    def scale_y(self) -> float:
        return math.hypot(self.matrix[0, 1], self.matrix[1, 1]) - 1.0

    @property
    def squareness_rad(self) -> float:
        (xx, xy), (yx, yy) = self.matrix
        return float(math.atan2(xx * xy + yx * yy, xx * yy - xy * yx))

    def sds(self, s_mm: float) -> tuple[float, float, float]:
        """Standard deviations of scale_x, scale_y and squareness for readings with `s_mm`.

        Each row of the matrix has the covariance s2 times the inverse of the scatter (JCGM 100,
        5.1, for a straight line in two variables), and the rows are independent.
        """
        xx, yy, _ = self.scatter.inverse()
        return s_mm * math.sqrt(xx), s_mm * math.sqrt(yy), s_mm * math.sqrt(xx + yy)

    def places(self, drawn: Floats) -> Floats:
        """Where the fit has drawn places, (n, 2) mm."""
        away = drawn - (self.scatter.x_mm, self.scatter.y_mm)
        return self.middle + away @ self.matrix.T

    def drawn_at(self, measured: Floats) -> Floats:
        """Where measured places lie in the drawing, (n, 2) mm."""
        away = (measured - self.middle) @ np.linalg.inv(self.matrix).T
        return np.add(away, (self.scatter.x_mm, self.scatter.y_mm))

    def seen_from(self, angle_rad: float) -> Floats:
        """The matrix in the drawn axes, once a turn by `angle_rad` is taken out of it."""
        return _turning(angle_rad).T @ self.matrix


def affine_fit(drawn: Floats, measured: Floats) -> Affine:
    """The linear map and shift nearest to measured places, each axis by itself.

    Raises ValueError for fewer than three places and for places in one line.
    """
    if len(drawn) < 3:
        raise ValueError("expected at least three places")
    scatter = scatter_of(drawn)
    if scatter.flat:
        raise ValueError("the places lie in one line")
    middle = measured.mean(axis=0)
    b, q = drawn - (scatter.x_mm, scatter.y_mm), measured - middle
    xx, yy, xy = scatter.inverse()
    matrix = (q.T @ b) @ np.array([[xx, xy], [xy, yy]])
    residuals = q - b @ matrix.T
    rss = float((residuals**2).sum())
    return Affine(matrix, middle, scatter, residuals, rss, 2 * len(drawn) - 6)


class PlaneFit(NamedTuple):
    """z = height + slope_x (x - centroid x) + slope_y (y - centroid y), mm; dof n - 3."""

    height_mm: float
    slope_x: float
    slope_y: float
    scatter: Scatter
    residuals: Floats
    rss: float
    dof: int

    def at(self, x_mm: float, y_mm: float) -> float:
        """Height of the plane at a place, mm."""
        dx, dy = x_mm - self.scatter.x_mm, y_mm - self.scatter.y_mm
        return float(self.height_mm + self.slope_x * dx + self.slope_y * dy)

    def sds(self, s_mm: float) -> tuple[float, float, float]:
        """Standard deviations of the height at the centroid and the slopes along X and Y."""
        xx, yy, _ = self.scatter.inverse()
        return s_mm / math.sqrt(self.scatter.points), s_mm * math.sqrt(xx), s_mm * math.sqrt(yy)


def plane_fit(places: Floats, heights: Floats) -> PlaneFit:
    """The plane nearest to heights (n,) at places (n, 2), mm, along Z.

    Raises ValueError for fewer than three places and for places in one line.
    """
    if len(places) < 3:
        raise ValueError("expected at least three places")
    scatter = scatter_of(places)
    if scatter.flat:
        raise ValueError("the places lie in one line")
    off, height = places - (scatter.x_mm, scatter.y_mm), float(heights.mean())
    xx, yy, xy = scatter.inverse()
    slope_x, slope_y = np.array([[xx, xy], [xy, yy]]) @ (off.T @ (heights - height))
    residuals = heights - height - off @ (slope_x, slope_y)
    rss = float((residuals**2).sum())
    return PlaneFit(
        height, float(slope_x), float(slope_y), scatter, residuals, rss, len(places) - 3
    )
