"""Outlines as tuples of corners in mm, and what of them meets the side of a quadrant."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

from pincorner.geometry.pose import XY

Outline = tuple[XY, ...]

TOUCH_MM = 1e-6
"""Two lines nearer than this are one: a nanometre, far below any cut and far above rounding."""


class Box(NamedTuple):
    """An upright rectangle, in mm."""

    left: float
    front: float
    right: float
    back: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def depth(self) -> float:
        return self.back - self.front

    @property
    def middle(self) -> XY:
        return (self.left + self.right) / 2, (self.front + self.back) / 2

    @property
    def outline(self) -> Outline:
        """Its corners, counter-clockwise from the front-left one."""
        return rectangle(self.left, self.front, self.right, self.back)

    def grown(self, by_mm: float) -> Box:
        """The box with every side moved out by `by_mm`."""
        return Box(self.left - by_mm, self.front - by_mm, self.right + by_mm, self.back + by_mm)

    def within(self, other: Box) -> Box:
        """What of the box lies in another one that it meets."""
        (left, front, right, back), (x1, y1, x2, y2) = self, other
        return Box(max(left, x1), max(front, y1), min(right, x2), min(back, y2))

    def meets(self, other: Box) -> bool:
        """Whether the two have more than an edge in common."""
        across = self.left < other.right and self.right > other.left
        return across and self.front < other.back and self.back > other.front

    def encloses(self, other: Box) -> bool:
        """Whether all of the other lies in the box or on its border."""
        return self.holds((other.left, other.front)) and self.holds((other.right, other.back))

    def holds(self, point: XY) -> bool:
        """Whether the point lies in the box or on its border.

        >>> [Box(0, 0, 4, 2).holds(point) for point in ((4, 1), (3, 0), (0, 2), (3, -0.1))]
        [True, True, True, False]
        """
        return self.left <= point[0] <= self.right and self.front <= point[1] <= self.back


def rectangle(left: float, front: float, right: float, back: float) -> Outline:
    """The outline of an upright rectangle, counter-clockwise from its front-left corner."""
    return ((left, front), (right, front), (right, back), (left, back))


def band(start: XY, end: XY, width: float) -> tuple[XY, ...]:
    """The outline of a straight band around the line from start to end."""
    length = math.dist(start, end) or 1.0
    across_x = -(end[1] - start[1]) / length * width / 2
    across_y = (end[0] - start[0]) / length * width / 2
    return (
        (start[0] + across_x, start[1] + across_y),
        (end[0] + across_x, end[1] + across_y),
        (end[0] - across_x, end[1] - across_y),
        (start[0] - across_x, start[1] - across_y),
    )


def bounds(outline: Outline) -> Box:
    """The upright box around an outline (any shape of at least one point)."""
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    return Box(min(xs), min(ys), max(xs), max(ys))


def signed_area(outline: Outline) -> float:
    """Area in mm2 by the shoelace formula; positive where the corners run counter-clockwise."""
    ring = zip(outline, outline[1:] + outline[:1], strict=True)
    return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in ring) / 2


def distance_to(outline: Outline, point: XY) -> float:
    """Distance in mm from a point to an outline of at least three corners; 0 inside it.

    Inside by counting crossings of the ray to the right (even-odd rule).
    """
    x, y = point
    inside, nearest = False, math.inf
    for (x1, y1), (x2, y2) in zip(outline, outline[1:] + outline[:1], strict=True):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) / (y2 - y1) * (x2 - x1):
            inside = not inside
        dx, dy = x2 - x1, y2 - y1
        share = ((x - x1) * dx + (y - y1) * dy) / (dx * dx + dy * dy)
        share = min(1.0, max(0.0, share))
        nearest = min(nearest, math.hypot(x1 + share * dx - x, y1 + share * dy - y))
    return 0.0 if inside else nearest


@lru_cache(maxsize=4096)
def reaches_over(outline: Outline, part: Outline) -> bool:
    """Whether a convex part lies outside an outline anywhere by more than TOUCH_MM.

    It does not where its middle lies inside and no edge of the outline runs through it.
    """
    if not bounds(outline).grown(TOUCH_MM).encloses(bounds(part)):
        return True
    edges = zip(outline, outline[1:] + outline[:1], strict=True)
    if any(_runs_through(part, start, end) for start, end in edges):
        return True
    xs, ys = zip(*part, strict=True)
    return distance_to(outline, (sum(xs) / len(xs), sum(ys) / len(ys))) > 0


def _runs_through(convex: Outline, start: XY, end: XY) -> bool:
    """Whether a stretch lies farther than TOUCH_MM inside a convex outline anywhere.

    What is left of the stretch after each edge has cut off what is outside (Cyrus-Beck).
    """
    hand = 1.0 if signed_area(convex) >= 0 else -1.0
    low, high = 0.0, 1.0
    for (x1, y1), (x2, y2) in zip(convex, convex[1:] + convex[:1], strict=True):
        length = math.hypot(x2 - x1, y2 - y1) or 1.0
        nx, ny = -hand * (y2 - y1) / length, hand * (x2 - x1) / length
        at_start = nx * (start[0] - x1) + ny * (start[1] - y1) - TOUCH_MM
        at_end = nx * (end[0] - x1) + ny * (end[1] - y1) - TOUCH_MM
        if at_start <= 0 and at_end <= 0:
            return False
        if at_start <= 0:
            low = max(low, at_start / (at_start - at_end))
        elif at_end <= 0:
            high = min(high, at_start / (at_start - at_end))
    return low < high


def side_segments(outline: Outline, axis: int, at_mm: float) -> tuple[tuple[float, float], ...]:
    """The straight parts of an outline that lie on the line x = at_mm (axis 0) or y = at_mm (1).

    Each as (from, to) along the other axis, in ascending order; empty where only points lie there.
    """
    other = 1 - axis
    found = []
    for first, second in zip(outline, outline[1:] + outline[:1], strict=True):
        on_line = abs(first[axis] - at_mm) <= TOUCH_MM and abs(second[axis] - at_mm) <= TOUCH_MM
        if on_line and abs(first[other] - second[other]) > TOUCH_MM:
            found.append((min(first[other], second[other]), max(first[other], second[other])))
    return tuple(sorted(found))
