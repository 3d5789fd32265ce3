"""The demo bed surveyed: wherever a holder can lie, it lies where the second method puts it."""

from __future__ import annotations

import os
import random

import pytest
from oracles.worked import assert_close
from survey_of_bed import QUADRANTS, TURNS, Place, places, survey
from thinning import VARIABLE

STRIDE = 47
"""Of the run on purpose: a prime, so that it falls into no rhythm of quadrants, turns and pairs."""

ALL_PLACES = 2 * 4 * 2 * ((378 + 348) + (456 + 403))
"""By hand: holes as drawn and as measured, four quadrants, turns 0 and 180 or 90 and 270 alike.

The tray, 460 by 280, along its 460 reaches four holes from the corner on, so a row of 15 has
13 + 12 + 11 pairs beside a corner, and 8 of 9 rows have a stop: 288, less 6 with H5, which is
missing; along its 280 two holes, 7 pairs in each of 14 columns: 98, less 2. Together 378. Turned by
90 it has 13 x 8 - 2 = 102 along X and (7 + 6 + 5) x 14 - 6 = 246 along Y: 348. The roof board,
500 by 230 on pins of 12 mm, reaches five and two: (13 + 12 + 11 + 10) x 8 - 8 + 96 = 456, and
102 + (7 + 6 + 5 + 4) x 14 - 7 = 403.
"""


@pytest.fixture(scope="module")
def every() -> list[Place]:
    """All places of the survey."""
    return list(places())


def kind_of(place: Place) -> tuple[str, int, bool]:
    """Quadrant, turn, and whether the edge pins stand along X."""
    return place.pair.toward, place.turn, place.pair.axis == 0


def test_the_survey_visits_every_place(every: list[Place]) -> None:
    """The survey lays as many places as a count by hand has, and no place twice."""
    seen = [(each.base.holder.name, each.mixed, each.turn, each.pair) for each in every]
    assert len(seen) == len(set(seen)) == ALL_PLACES


def some_of(every: list[Place]) -> list[Place]:
    """One place of each quadrant and turn, drawn at random, pins along X and along Y in turns."""
    draw, kinds = random.Random(20261125), list(map(kind_of, every))
    wanted = [
        (toward, turn, bool((at + to) % 2))
        for at, toward in enumerate(QUADRANTS)
        for to, turn in enumerate(TURNS)
    ]
    return [
        draw.choice([place for place, kind in zip(every, kinds, strict=True) if kind == one])
        for one in wanted
    ]


def test_a_thinned_survey_agrees_with_the_second_method(every: list[Place]) -> None:
    """Places of the bed have zero, corner and angle where the second method has them: one of each
    quadrant and turn; every 47th on purpose."""
    thinned = every[::STRIDE] if os.environ.get(VARIABLE) else some_of(every)
    assert {each.base.holder.name for each in thinned} == {each.base.holder.name for each in every}
    worst = survey(thinned)
    assert worst.places == len(thinned) >= len(QUADRANTS) * len(TURNS)
    why = "gaps closed to 1e-11 mm on pins 100 mm apart, seen from 0.5 m; rounding at 1.5 m"
    assert_close(worst.zero_mm, 0.0, 1e-10, why)
    assert_close(worst.corner_mm, 0.0, 1e-10, why)
    assert_close(worst.angle_deg, 0.0, 2e-11, "gaps closed to 1e-11 mm on pins 100 mm apart")
