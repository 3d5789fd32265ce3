"""Motions are cut by rows with all that they have: cut first and asked then, or the other way."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from motions_by_hand import Path
from thinning import thinned

from pincorner.program.check.clearance import Clearance
from pincorner.program.check.reaches import ToolSize, reaches_of
from pincorner.program.check.strokes import strokes_of
from pincorner.program.check.surroundings import Disc, Obstacle
from pincorner.program.path.boxes import Rapids, arc_pieces, boxes_of, sections_of
from pincorner.program.path.extents import Extents
from pincorner.program.path.points import _points
from pincorner.program.reader.motions import (
    AXES_OF_PLANE,
    Floats,
    Ints,
    Motions,
    joined,
    lengths_mm,
)

CHORD_MM = 0.5
ROUNDING_MM = 1e-9  # a double near 100 mm, wherever in an array its sine was taken
SEEDS = range(thinned(120))


def assert_same(got: Floats, want: Floats) -> None:
    """Fail unless two arrays are of one shape and hold the same figures, unknown ones included."""
    assert got.shape == want.shape
    np.testing.assert_allclose(got, want, rtol=0, atol=ROUNDING_MM)


def generated(chance: random.Random, *, known: bool = False) -> Motions:
    """Rapids, cuts, and arcs in the three planes, in any order; some of them lost."""
    path = Path((0.0, 0.0, 5.0))
    for _ in range(chance.randrange(1, 60)):
        end = [chance.uniform(-50, 50) for _ in "XYZ"]
        way = chance.random()
        if way < 0.45:
            plane = chance.randrange(3)
            centre = [path.at[axis] + chance.uniform(-20, 20) for axis in AXES_OF_PLANE[plane][:2]]
            path.arc(centre, chance.uniform(-2, 2) * math.pi, chance.uniform(-20, 20), plane)
        elif way < 0.55 and not known:
            path.rapid(math.nan, *end[1:]).feed(*end)
        else:
            (path.rapid if way < 0.7 else path.feed)(*end)
    return path.motions()


def some_rows(chance: random.Random, count: int) -> slice | Ints:
    """At least one row, by a slice, by flags or by indices."""
    low, high = sorted(chance.sample(range(count + 1), 2))
    flags = np.array([chance.random() < 0.5 for _ in range(count)])
    flags[low] = True
    return chance.choice([slice(low, high), flags, np.flatnonzero(flags)])


def points_of_each(motions: Motions) -> list[Floats]:
    """The points that are drawn, by motion."""
    counts = np.ones(len(motions.line), np.int64)
    arcs = np.flatnonzero(motions.is_arc & np.isfinite(motions.sweep_rad))
    counts[arcs] = np.bincount(arc_pieces(motions.rows(arcs), CHORD_MM)[0], minlength=len(arcs))
    return np.split(_points(motions, CHORD_MM), np.cumsum(counts)[:-1])


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("rapids", [Rapids(True, 0.0), Rapids(False, 0.3)], ids=["straight", "any"])
def test_cutting_takes_everything_along(seed: int, rapids: Rapids) -> None:
    """Boxes, extents, lengths and points of some rows are some of the boxes, extents .. of all."""
    chance = random.Random(seed)
    motions = generated(chance)
    which = some_rows(chance, len(motions.line))
    cut = motions.rows(which)
    assert all(len(column) == len(cut.line) for column in cut)
    for own, all_of_them in zip(boxes_of(cut, rapids), boxes_of(motions, rapids), strict=True):
        assert_same(own, all_of_them[:, which])
    assert_same(lengths_mm(cut), lengths_mm(motions)[which])
    rows = np.arange(len(motions.line))[which]
    every = points_of_each(motions)
    assert_same(_points(cut, CHORD_MM), np.concatenate([every[row] for row in rows]))
    extents = Extents()
    for section in sections_of(cut, rapids):
        extents.take(section)
    low, high = (side[:, which] for side in boxes_of(motions, rapids))
    assert_same(extents.all[0], np.fmin.reduce(low, axis=1, initial=np.inf))
    assert_same(extents.all[1], np.fmax.reduce(high, axis=1, initial=-np.inf))


@pytest.mark.parametrize("seed", SEEDS)
def test_clearance_of_some_rows(seed: int) -> None:
    """Strokes of some rows are those of all rows; the worst is the worst of each row alone."""
    chance, rapids = random.Random(seed), Rapids(False, 0.3)
    motions = generated(chance, known=True)
    which = some_rows(chance, len(motions.line))
    cut, rows = motions.rows(which), np.arange(len(motions.line))[which]
    own = strokes_of(cut, np.arange(len(rows)), rapids)
    every = strokes_of(motions, np.arange(len(motions.line)), rapids)
    wanted = every.take(np.flatnonzero(np.isin(every.row, rows)))
    assert_same(rows[own.row], wanted.row)
    assert_same(own.start, wanted.start)
    assert_same(own.end, wanted.end)
    singly = [motions.rows(slice(row, row + 1)) for row in rows.tolist()]
    together, apart = worst_gap([cut], rapids), worst_gap(singly, rapids)
    assert [each[1:] for each in together] == [each[1:] for each in apart]
    assert_same(np.array(together), np.array(apart))


def worst_gap(pieces: list[Motions], rapids: Rapids) -> list[tuple[float, int, int]]:
    """Gap, line and number of lines of the worst that comes near a post."""
    post = Obstacle("hits-jig", "post", Disc((5.0, 5.0), 4.0), top_mm=0.0, near_mm=1.0)
    clearance = Clearance([post], [], None, rapids)
    for piece in pieces:
        for section in sections_of(piece, rapids):
            clearance.take(section, reaches_of(ToolSize(6.0, None), None))
    return [(worst.gap_mm, worst.line, worst.lines) for worst in clearance.worst.values()]


def test_pieces_join_to_the_whole() -> None:
    """Motions cut anywhere and put together again are the same motions."""
    chance = random.Random(1)
    motions = generated(chance)
    for at in range(1, len(motions.line)):
        whole = joined([motions.rows(slice(at)), motions.rows(slice(at, None))])
        for own, column in zip(whole, motions, strict=True):
            assert_same(own, column)
