"""Obstacles: what stands on a bed and how deep it may be cut, as values in the program's frame."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from shapely import Polygon

from pincorner.bed.covers import Cover
from pincorner.geometry.outline import TOUCH_MM, Box, Outline, bounds
from pincorner.geometry.pose import XY, Pose
from pincorner.standing import Standing

ROUNDING_MM = 0.002
"""Deeper or farther than allowed by less than this is not told: blocks and programs in inches are
rounded to 0.0001 in, which is 0.00254 mm, and so are off by half of that each."""


class Disc(NamedTuple):
    """A round obstacle, in the program's X and Y."""

    centre_mm: XY
    radius_mm: float


Area = tuple[Outline, ...]
"""An outline, and the outlines of holes in it."""


class Parts(NamedTuple):
    """What of the tool an obstacle is looked at for."""

    cutter: bool
    nose: bool


BOTH, CUTTER, NOSE = Parts(True, True), Parts(True, False), Parts(False, True)


class Obstacle(NamedTuple):
    """What the tool must stay away from while it is below `top_mm` (the program's Z).

    `code` and `name`: of the finding. `near_mm`: how near it may come. `datum_mm`: for what may be
    cut to some depth, the Z of its surface, from which `allowed_mm` count; None for what stands up.
    """

    code: str
    name: str
    shape: Disc | Area
    top_mm: float
    near_mm: float
    datum_mm: float | None = None
    allowed_mm: float = 0.0
    parts: Parts = BOTH

    @property
    def box(self) -> Box:
        """The upright box around it, in the program's X and Y."""
        if isinstance(self.shape, Disc):
            return Box(*self.shape.centre_mm, *self.shape.centre_mm).grown(self.shape.radius_mm)
        return bounds(self.shape[0])


class BedInProgram(NamedTuple):
    """From bed coordinates and heights above the surface to the frame of a program.

    `pose`: the bed in the program. `zero_mm`: height of program zero above the surface, which lies
    at `surface_mm` in machine Z (None where that is not known).
    """

    pose: Pose
    zero_mm: float
    surface_mm: float | None
    margin_mm: float

    def standing(self, thing: Standing, name: str) -> Obstacle:
        """Something that stands on the bed; level with the surface here where a height is not
        known."""
        top_mm = thing.above_mm(self.surface_mm) - self.zero_mm
        shape = self._shape(thing.outline, thing.radius_mm)
        return Obstacle(f"hits-{thing.kind}", name, shape, top_mm, self.margin_mm)

    def metal(self, cover: Cover, cover_mm: float) -> Obstacle:
        """Metal with so much wood over it."""
        name, datum = f"{cover.kind} {cover.name}", -self.zero_mm
        shape = self._shape(cover.outline, cover.radius_mm)
        return Obstacle(
            f"cuts-{cover.kind}", name, shape, datum - cover_mm, self.margin_mm, datum, cover_mm,
            CUTTER,
        )  # fmt: skip

    def _shape(self, outline: Outline, radius_mm: float) -> Disc | Area:
        if len(outline) == 1:
            return Disc(self.pose.point(outline[0]), radius_mm)
        return (self.pose.points(outline),)

    def soft(self, code: str, name: str, area: Area, level_mm: float, spoil_mm: float) -> Obstacle:
        """A surface at a height, into which a cut may go `spoil_mm` deep."""
        placed = tuple(self.pose.points(ring) for ring in area)
        datum = level_mm - self.zero_mm
        top = datum - spoil_mm - ROUNDING_MM
        return Obstacle(code, name, placed, top, 0.0, datum, spoil_mm, CUTTER)


def tallest_of(obstacles: Iterable[Obstacle]) -> Obstacle | None:
    """The tallest of what stands up; None where nothing does."""
    standing = (each for each in obstacles if each.datum_mm is None)
    return max(standing, key=lambda each: each.top_mm, default=None)


def areas_of(shape: Polygon) -> list[Area]:
    """The polygons of a shape of one or more parts; lines and points are left out."""
    parts = getattr(shape, "geoms", (shape,))
    polygons = [part for part in parts if isinstance(part, Polygon) and part.area > TOUCH_MM]
    return [
        tuple(tuple(ring.coords[:-1]) for ring in (part.exterior, *part.interiors))
        for part in polygons
    ]
