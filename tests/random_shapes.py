"""Random outlines with and without holes, for tests of distances."""

from __future__ import annotations

import math

import numpy as np
from shapely import Point as Dot
from shapely import Polygon


def outlines(count: int, seed: int) -> list[Polygon]:
    """Random shapes that need not be convex, some with a hole."""
    rng = np.random.default_rng(seed)
    found = []
    for number in range(count):
        angles = np.sort(rng.uniform(0, 2 * math.pi, int(rng.integers(3, 9))))
        reach = rng.uniform(8, 30, len(angles))
        middle = rng.uniform(-80, 80, 2)
        shell = middle + (reach * np.array([np.cos(angles), np.sin(angles)])).T
        shape = Polygon(shell).buffer(0)
        if number % 3 == 0:
            shape = shape.difference(Dot(middle).buffer(4.0, quad_segs=2))
        if isinstance(shape, Polygon) and shape.area > 20:
            found.append(shape)
    return found


def rings(shape: Polygon) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Outline and holes of a shape as tuples of points."""
    return tuple(
        tuple((x, y) for x, y in ring.coords[:-1]) for ring in (shape.exterior, *shape.interiors)
    )
