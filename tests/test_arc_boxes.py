"""Boxes around arcs, and arcs as short straight pieces, against given values and dense sampling."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from motions_by_hand import Path
from oracles.worked import reference
from thinning import thinned

from pincorner.program.path.boxes import CHORD_MM, arc_boxes, arc_pieces
from pincorner.program.reader.motions import AXES_OF_PLANE, Floats

BOXES = reference("arc_boxes")
ROUNDING_MM = 1e-9  # sines of doubles, times a radius of some 100 mm


@pytest.mark.parametrize("case", BOXES, ids=str)
@pytest.mark.parametrize("plane", range(3))
def test_box_of_the_table(case: dict[str, Any], plane: int) -> None:
    """The box has the table's corners in each of the planes, and reaches along the third axis."""
    path = one_arc(case, plane)
    motions = path.motions()
    (low,), (high,) = arc_boxes(motions)
    first, second, third = AXES_OF_PLANE[plane]
    within = 0.5e-6  # printed to six digits
    assert low[[first, second]] == pytest.approx(case["low_mm"], abs=within)
    assert high[[first, second]] == pytest.approx(case["high_mm"], abs=within)
    assert (low[third], high[third]) == (-7.0, 3.0)


def one_arc(case: dict[str, Any], plane: int) -> Path:
    """The arc of a case; a helix from 3 to -7 along its third axis."""
    axes, begin = AXES_OF_PLANE[plane], math.radians(case["from_deg"])
    start = [0.0, 0.0, 0.0]
    start[axes[0]] = case["centre_mm"][0] + case["radius_mm"] * math.cos(begin)
    start[axes[1]] = case["centre_mm"][1] + case["radius_mm"] * math.sin(begin)
    start[axes[2]] = 3.0
    sweep = math.radians(case["to_deg"] - case["from_deg"])
    return Path((start[0], start[1], start[2])).arc(case["centre_mm"], sweep, -7.0, plane)


def random_arcs(count: int) -> Path:
    """Helices one after another, in all planes, both ways, up to a full turn."""
    rng = np.random.default_rng(20261125)
    path = Path((0.0, 0.0, 0.0))
    for _ in range(count):
        plane = int(rng.integers(3))
        centre = [path.at[axis] + rng.normal() * 40 for axis in AXES_OF_PLANE[plane][:2]]
        path.arc(centre, rng.uniform(-2 * math.pi, 2 * math.pi), rng.normal() * 20, plane)
    return path


def sampled(path: Path, at: int, count: int = 20_001) -> Floats:
    """Points of an arc, (count, 3), by turning its start about its centre."""
    motions = path.motions()
    plane, centre, sweep = motions.plane[at], motions.centre[at], motions.sweep_rad[at]
    first, second, third = AXES_OF_PLANE[plane]
    share = np.linspace(0.0, 1.0, count)
    away = complex(*(motions.start[at, [first, second]] - centre))
    turned = away * np.exp(1j * share * sweep) + complex(*centre)
    points = np.empty((count, 3))
    points[:, first], points[:, second] = turned.real, turned.imag
    points[:, third] = motions.start[at, third] + share * (motions.end - motions.start)[at, third]
    return points


def test_boxes_against_dense_sampling() -> None:
    """No sampled point leaves its box, and the box is no wider than the samples show."""
    count = thinned(300)
    path = random_arcs(count)
    motions = path.motions()
    low, high = arc_boxes(motions)
    for at in range(count):
        points = sampled(path, at)
        radius = np.hypot(*(motions.start[at, list(AXES_OF_PLANE[motions.plane[at]][:2])]
                            - motions.centre[at]))  # fmt: skip
        missed = radius * (1 - math.cos(math.pi / 20_000)) + ROUNDING_MM  # half a step of a turn
        assert (points.min(axis=0) >= low[at] - ROUNDING_MM).all()
        assert (points.max(axis=0) <= high[at] + ROUNDING_MM).all()
        assert points.min(axis=0) == pytest.approx(low[at], abs=missed)
        assert points.max(axis=0) == pytest.approx(high[at], abs=missed)


def test_pieces_stay_near_the_arc() -> None:
    """Pieces join up from start to end, their ends lie on the arc, their middles within a chord."""
    path = random_arcs(100)
    motions = path.motions()
    index, start, end = arc_pieces(motions)
    for at in range(100):
        first, last = start[index == at], end[index == at]
        joints = (first[0] - motions.start[at], last[-1] - motions.end[at], first[1:] - last[:-1])
        assert max(np.abs(each).max(initial=0.0) for each in joints) <= ROUNDING_MM
        axes, centre = AXES_OF_PLANE[motions.plane[at]][:2], motions.centre[at]
        radius = np.hypot(*(motions.start[at, list(axes)] - centre))
        middles = ((first + last) / 2)[:, list(axes)] - centre
        off = radius - np.hypot(*middles.T)
        assert off.min() >= -ROUNDING_MM
        assert off.max() <= CHORD_MM + ROUNDING_MM


def test_an_arc_from_nowhere_has_no_box() -> None:
    """Where the start and so the centre is not known, the box is not known either."""
    path = Path((math.nan, math.nan, 5.0)).arc((math.nan, math.nan), 1.0, 4.0)
    motions = path.motions()
    low, high = arc_boxes(motions)
    assert np.isnan(low).all()
    assert np.isnan(high).all()
