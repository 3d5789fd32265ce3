"""Distances from strokes to points and outlines, against Shapely and the check table."""

from __future__ import annotations

import numpy as np
import pytest
from random_shapes import outlines, rings
from shapely import LineString
from shapely import Point as Dot

from pincorner.program.check.strokes import edges_of, to_outline, to_point

ROUNDING_MM = 1e-9  # some products of doubles near 100 mm


def test_distance_to_outlines_against_shapely() -> None:
    """Strokes are as far from outlines with holes as Shapely has them; 0 where they enter."""
    rng = np.random.default_rng(1)
    start, end = rng.uniform(-100, 100, (2, 2000, 2))
    end[:50] = start[:50]
    lines = [
        LineString(pair) if pair[0] != pair[1] else Dot(pair[0])
        for pair in zip(start.tolist(), end.tolist(), strict=True)
    ]
    for shape in outlines(20, seed=2):
        got = to_outline(start, end, edges_of(rings(shape)))
        want = [shape.distance(line) for line in lines]
        assert got == pytest.approx(want, abs=ROUNDING_MM)


def test_distance_to_points_against_shapely() -> None:
    """The values of the check table, and random strokes against Shapely."""
    start, end = np.array([[0.0, 0.0]]), np.array([[10.0, 0.0]])
    assert to_point(start, end, np.array([3.0, 4.0])) - 1 == pytest.approx([3])
    assert to_point(start, end, np.array([13.0, 4.0])) - 1 == pytest.approx([4])
    rng = np.random.default_rng(3)
    start, end = rng.uniform(-100, 100, (2, 500, 2))
    want = [
        LineString(pair).distance(Dot(7.0, -3.0))
        for pair in zip(start.tolist(), end.tolist(), strict=True)
    ]
    assert to_point(start, end, np.array([7.0, -3.0])) == pytest.approx(want, abs=ROUNDING_MM)
