"""How often the true zero lies within what the budget says, after surveys of simulated beds.

`python tests/coverage_of_surveys.py [BEDS]` draws beds with their holes' errors, swollen or not,
readings of some holes, then a re-fixture with its play, and prints for each number of holes and
each swelling how often the true zero lies within k standard deviations along one axis: 95 % are
wanted.
All is invented but the swelling: ANSI A208.2 lets a board move by up to 0.33 %.
"""

from __future__ import annotations

import math
import random
import sys
from typing import Any

from worlds import BASE, facts, world

from pincorner.documents.beds import Bed, Extra
from pincorner.documents.survey_csv import MeasuredHole
from pincorner.setups.facts import Facts
from pincorner.setups.transform import make_setups
from pincorner.surveys.fitting import make_survey
from pincorner.work.surveying import survey_document

HOLES = (3, 4, 6, 12, 40)
SWELLINGS = (0.0, 0.0002, 0.001, 0.0033)
HOLE_SD, READING_SD, MACHINE_SD = 0.04, 0.02, 0.02
PLAY_MM = 0.032  # c/2 + c e/d of the worked budget: c 0.02, e 22, d 20
BODY_MM = 0.005  # half of body_tolerance 0.01, on the radius
NORMALS = {"D2": (0.0, 1.0), "G2": (0.0, 1.0), "C4": (1.0, 0.0)}


def within(count: int, swelling: float, rng: random.Random, plain: Facts) -> tuple[bool, bool]:
    """One bed: whether the true zero lies within the interval along X and along Y."""
    bed = plain.bed
    holes = [hole for hole in bed.holes() if hole.usable]
    true = {
        hole.label: (
            hole.x_mm * (1 + swelling) + rng.gauss(0, HOLE_SD),
            hole.y_mm * (1 + swelling * 0.7) + rng.gauss(0, HOLE_SD),
        )
        for hole in holes
    }
    found = tuple(
        MeasuredHole(
            hole.label,
            bed.pose.x + true[hole.label][0] + rng.gauss(0, READING_SD),
            bed.pose.y + true[hole.label][1] + rng.gauss(0, READING_SD),
        )
        for hole in rng.sample(holes, count)
    )
    survey = survey_document(make_survey(bed, found, READING_SD), "2026-11-20")
    setup = make_setups(plain._replace(survey=survey))[0]
    real = make_setups(plain._replace(bed=_with_play(bed, true, rng)))[0]
    together, k = setup.budget.together, setup.budget.k
    dx = setup.zero_in_machine.x_mm - real.zero_in_machine.x_mm + rng.gauss(0, MACHINE_SD)
    dy = setup.zero_in_machine.y_mm - real.zero_in_machine.y_mm + rng.gauss(0, MACHINE_SD)
    return abs(dx) <= k * together.x_mm, abs(dy) <= k * together.y_mm


def _with_play(bed: Bed, true: dict[str, tuple[float, float]], rng: random.Random) -> Bed:
    """The bed with the station's pins where they stand this time."""
    extra = []
    for label, (nx, ny) in NORMALS.items():
        radius, turn = PLAY_MM * math.sqrt(rng.random()), rng.uniform(0, 2 * math.pi)
        body = rng.uniform(-BODY_MM, BODY_MM)
        x = true[label][0] + radius * math.cos(turn) + body * nx
        y = true[label][1] + radius * math.sin(turn) + body * ny
        extra.append(Extra(name=label, at=(x, y)))
    values: dict[str, Any] = {**bed.model_dump(by_alias=True), "extra": tuple(extra)}
    return Bed.model_validate(values)


def coverage(count: int, swelling: float, beds: int, seed: int = 20261125) -> float:
    """Share of the true zeros within their intervals, both axes counted."""
    rng, plain = random.Random(seed), facts(world(BASE))
    hits = [hit for _ in range(beds) for hit in within(count, swelling, rng, plain)]
    return sum(hits) / len(hits)


def main() -> None:
    """Print the table."""
    beds = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    print("holes  " + "  ".join(f"{swelling * 100:.2f} %" for swelling in SWELLINGS))
    for count in HOLES:
        shares = [coverage(count, swelling, beds) for swelling in SWELLINGS]
        print(f"{count:5}  " + "  ".join(f"{share * 100:6.2f}" for share in shares), flush=True)


if __name__ == "__main__":
    main()
