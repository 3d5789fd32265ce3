"""Poses that know their frames.

All frames are right-handed, X to the right, Y away from the operator, Z up (ISO 841).
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

XY = tuple[float, float]


class FramesDoNotMeet(TypeError):
    """Two poses were composed whose frames differ: a fault of the program, not of the data."""


class Pose(NamedTuple):
    """Where frame `of` lies in frame `into`: a point p of `of` is at R(angle) p + (x, y).

    `pose_b_in_a @ pose_c_in_b` is `pose_c_in_a`; frames that do not meet raise FramesDoNotMeet.

    >>> bed_in_machine = Pose.of_degrees("machine", "bed", 60, 55, 0)
    >>> jig_in_bed = Pose.of_degrees("bed", "jig", 210, 110, 90)
    >>> x_mm, y_mm = (bed_in_machine @ jig_in_bed).point((25, 20))
    >>> round(x_mm, 9), round(y_mm, 9)
    (250.0, 190.0)
    """

    into: str
    of: str
    x_mm: float
    y_mm: float
    angle_rad: float

    @classmethod
    def of_degrees(cls, into: str, of: str, x_mm: float, y_mm: float, angle_deg: float) -> Pose:
        """A pose from its angle in degrees."""
        return cls(into, of, x_mm, y_mm, math.radians(angle_deg))

    def __matmul__(self, inner: Pose) -> Pose:
        if self.of != inner.into:
            raise FramesDoNotMeet(
                f"{self.of} in {self.into} cannot take {inner.of} in {inner.into}"
            )
        x_mm, y_mm = self.point((inner.x_mm, inner.y_mm))
        return Pose(self.into, inner.of, x_mm, y_mm, self.angle_rad + inner.angle_rad)

    @property
    def origin(self) -> XY:
        """Where the 0, 0 of `of` lies in `into`, mm."""
        return self.x_mm, self.y_mm

    def inverse(self) -> Pose:
        """Where `into` lies in `of`."""
        back = Pose(self.of, self.into, 0.0, 0.0, -self.angle_rad)
        x_mm, y_mm = back.vector((-self.x_mm, -self.y_mm))
        return Pose(self.of, self.into, x_mm, y_mm, -self.angle_rad)

    def vector(self, vector_mm: XY) -> XY:
        """A direction or difference of `of`, turned into `into`."""
        cos, sin = cos_sin(self.angle_rad)
        dx, dy = vector_mm
        return cos * dx - sin * dy, sin * dx + cos * dy

    def point(self, point_mm: XY) -> XY:
        """A point of `of`, in `into`."""
        dx, dy = self.vector(point_mm)
        return self.x_mm + dx, self.y_mm + dy

    def points(self, points_mm: tuple[XY, ...]) -> tuple[XY, ...]:
        """Points of `of`, in `into`."""
        cos, sin = cos_sin(self.angle_rad)
        x0, y0 = self.x_mm, self.y_mm
        return tuple((x0 + cos * x - sin * y, y0 + sin * x + cos * y) for x, y in points_mm)

    @property
    def angle_deg(self) -> float:
        """The angle in (-180, 180]."""
        return normal_deg(math.degrees(self.angle_rad))


_QUARTERS = {0: (1.0, 0.0), 1: (0.0, 1.0), 2: (-1.0, 0.0), 3: (0.0, -1.0)}


@lru_cache(maxsize=4096)
def cos_sin(angle_rad: float) -> XY:
    """Cosine and sine, exact at quarter turns so that a jig turned four times comes home."""
    quarters = angle_rad / (math.pi / 2)
    if quarters.is_integer():
        return _QUARTERS[int(quarters) % 4]
    return math.cos(angle_rad), math.sin(angle_rad)


def turned_by_quarters(point: XY, quarters: int) -> XY:
    """A point or direction turned about 0, 0 by quarter turns, counter-clockwise, exactly."""
    x, y = point
    return ((x, y), (-y, x), (-x, -y), (y, -x))[quarters % 4]


def normal_deg(angle_deg: float) -> float:
    """The same direction in (-180, 180]; what rounding left just above -180 is 180."""
    turned = math.remainder(angle_deg, 360.0)
    return 180.0 if turned < -180.0 + 1e-9 else turned + 0.0
