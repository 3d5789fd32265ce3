"""A survey of 500 holes, a fifth under wrong labels, against a plain fit of the same points.

python tests/benchmarks/surveys.py
"""

from __future__ import annotations

import random
import sys
import timeit
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from pincorner.documents.beds import Bed
from pincorner.documents.survey_csv import MeasuredHole
from pincorner.geometry.fits import rigid_fit
from pincorner.surveys.fitting import make_survey

HOLES, WRONG = 500, 0.2


def bed() -> Bed:
    """A grid of 30 x 20 holes."""
    values = {
        "name": "wide",
        "machine": "m",
        "grid": {"columns": 30, "rows": 20, "pitch": [64, 64], "hole": 20, "hole_position": 0.04},
        "pose": {"x": 60, "y": 55},
    }
    return Bed.model_validate(values, context={"units": "mm"})


def readings(of: Bed) -> tuple[MeasuredHole, ...]:
    """Holes measured to 0.02 mm, a fifth of them with the labels of others."""
    rng = random.Random(1)
    holes = rng.sample(of.holes(), HOLES)
    places = [(60 + h.x_mm + rng.gauss(0, 0.045), 55 + h.y_mm + rng.gauss(0, 0.045)) for h in holes]
    wrong = rng.sample(range(HOLES), int(HOLES * WRONG))
    labels = [hole.label for hole in holes]
    for at, other in zip(wrong, [*wrong[1:], wrong[0]], strict=True):
        labels[at] = holes[other].label
    return tuple(MeasuredHole(label, x, y) for label, (x, y) in zip(labels, places, strict=True))


def main() -> None:
    """Print the time, what was found, and the ratio."""
    board = bed()
    found = readings(board)
    drawn = np.array([board.hole(each.label).at_mm for each in found])  # type: ignore[union-attr]
    measured = np.array([(each.x_mm, each.y_mm) for each in found])
    result = make_survey(board, found, 0.02)
    survey_s = min(timeit.repeat(lambda: make_survey(board, found, 0.02), number=1, repeat=5))
    plain_s = min(timeit.repeat(lambda: rigid_fit(drawn, measured), number=10, repeat=5)) / 10
    print(
        f"survey of {HOLES} holes, {len(result.suspects)} suspect: {survey_s * 1e3:.0f} ms "
        f"/ plain least squares {plain_s * 1e3:.3f} ms = {survey_s / plain_s:.0f}"
    )


if __name__ == "__main__":
    main()
