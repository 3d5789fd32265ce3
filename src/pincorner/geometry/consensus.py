"""Which readings belong together: the largest set that one pose explains.

Holes read under a wrong label (a pitch off, or more) are told from the rest, with room for a board
that has swollen; `odd_readings` looks at what is left more closely. Poses come from pairs of holes,
by rule and not by chance, so that the same survey always gives the same answer.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.fits import Floats, rigid_fit

Flags = NDArray[np.bool_]
Complexes = NDArray[np.complexfloating]
Indices = NDArray[np.intp]

SWELLING = 0.0033
"""Linear expansion of fibreboard at most: ANSI A208.2."""

LENGTHENED = SWELLING + 0.0004
TURNED_TOO = 1.21 * SWELLING + 0.0005
"""How far a place may lie off a pose that was taken from two holes, for each mm from their middle.

Swollen along one axis only, a diagonal turns too: 1.21 times as much is the largest singular value
of (1, 1/2; -1/2, 0). On top a machine that is out of square by half a millimetre in a metre, or
long by 0.4 (common practice).
"""

PAIRS = 2000
"""So many pairs of holes are tried at most; below 64 holes that is all of them."""

AT_ONCE = 256
"""Pairs judged in one go: a few megabytes of numbers."""


class Stated(NamedTuple):
    """Where the bed is thought to lie: decides only between sets of the same size."""

    x_mm: float
    y_mm: float
    angle_rad: float


def largest_consistent(
    drawn: Floats, measured: Floats, base_mm: float, stated: Stated, pitch_mm: float
) -> Flags:
    """The readings that the best pose from two of them explains, (n,).

    `drawn`, `measured`: (n, 2) mm, n >= 1. A reading is explained within `base_mm` and what
    swelling may do at its distance, but never more than 0.4 of the pitch. Among sets of the same
    size the one whose pose is nearest to `stated`, by quarter turns and half pitches, then the one
    with the smallest residuals. Nothing but single holes where no two distances agree.
    """
    b, q = drawn @ (1, 1j), measured @ (1, 1j)
    first, second = _pairs_of_one_length(b, q, base_mm)
    if len(first) == 0:
        return np.asarray(np.arange(len(b)) == 0)
    limit = 0.4 * pitch_mm
    best: tuple[tuple[float, ...], int] | None = None
    for start in range(0, len(first), AT_ONCE):
        poses = _poses(b, q, first[start : start + AT_ONCE], second[start : start + AT_ONCE])
        off, room = _misfit(b, q, *poses, base_mm, limit)
        ranks = _ranks(b, off, off <= room, poses, stated, pitch_mm)
        row = int(np.lexsort(ranks.T[::-1])[0])
        rank = tuple(ranks[row].tolist())
        best = min(best, (rank, start + row)) if best else (rank, start + row)
    assert best is not None
    chosen = best[1]
    poses = _poses(b, q, first[chosen : chosen + 1], second[chosen : chosen + 1])
    off, room = _misfit(b, q, *poses, base_mm, limit)
    return _settled(drawn, measured, (off <= room)[0], base_mm, limit)


def _pairs_of_one_length(b: Complexes, q: Complexes, base_mm: float) -> tuple[Indices, Indices]:
    """Pairs of holes whose measured distance is that drawn, but for swelling and two readings.

    All pairs of few holes; of many, each hole with some half a bed's length ahead of it, so that
    baselines are long and every hole takes part equally often.
    """
    count = len(b)
    if count * (count - 1) // 2 <= PAIRS:
        first, second = np.triu_indices(count, 1)
    else:
        off = b - b.mean()
        longest = np.exp(0.5j * np.angle((off**2).sum()))  # direction of the longer axis
        order = np.argsort((off * np.conj(longest)).real, kind="stable")
        steps = range(count // 2, max(0, count // 2 - math.ceil(2 * PAIRS / count)), -1)
        first = np.concatenate([order[: count - step] for step in steps])[:PAIRS]
        second = np.concatenate([order[step:] for step in steps])[:PAIRS]
    length = np.abs(b[second] - b[first])
    agree = np.abs(np.abs(q[second] - q[first]) - length) <= 2 * base_mm + LENGTHENED * length
    agree &= length > 0
    return first[agree], second[agree]


def _poses(
    b: Complexes, q: Complexes, first: Indices, second: Indices
) -> tuple[Complexes, Complexes, Complexes]:
    """Middles of the pairs as drawn and as measured, and the turn between, as unit numbers."""
    turn = (q[second] - q[first]) / (b[second] - b[first])
    return (b[first] + b[second]) / 2, (q[first] + q[second]) / 2, turn / np.abs(turn)


def _misfit(
    b: Complexes,
    q: Complexes,
    middle: Complexes,
    measured: Complexes,
    turn: Complexes,
    base_mm: float,
    limit_mm: float,
) -> tuple[Floats, Floats]:
    """How far each reading lies off each pose, and how far it may, (poses, n) mm."""
    away = b - middle[:, None]
    off = np.abs(q - measured[:, None] - turn[:, None] * away)
    return off, np.minimum(base_mm + TURNED_TOO * np.abs(away), limit_mm)


def _ranks(
    b: Complexes,
    off: Floats,
    inside: Flags,
    poses: tuple[Complexes, Complexes, Complexes],
    stated: Stated,
    pitch_mm: float,
) -> Floats:
    """What poses are compared by, the least being the best, (poses, 4)."""
    middle, measured, turn = poses
    told_turn = np.exp(1j * stated.angle_rad)
    centre = b.mean()
    told = stated.x_mm + 1j * stated.y_mm + told_turn * centre
    quarters = np.rint(np.abs(np.angle(turn / told_turn)) / (math.pi / 2))
    shift = np.rint(np.abs(measured + turn * (centre - middle) - told) / (pitch_mm / 2))
    squares = np.where(inside, off**2, 0.0).sum(axis=1)
    return np.stack([-inside.sum(axis=1), quarters, shift, squares], axis=1)


def _settled(
    drawn: Floats, measured: Floats, kept: Flags, base_mm: float, limit_mm: float
) -> Flags:
    """The set once its own fit takes the place of the pair's pose, until it stays."""
    for _ in range(10):
        fit = rigid_fit(drawn[kept], measured[kept])
        off = np.linalg.norm(measured - fit.places(drawn), axis=1)
        away = np.linalg.norm(drawn - (fit.scatter.x_mm, fit.scatter.y_mm), axis=1)
        again = off <= np.minimum(base_mm + TURNED_TOO * away, limit_mm)
        if again.sum() < kept.sum() or (again == kept).all():
            break
        kept = again
    return kept
