"""Where parts land by the physics, against what the budget says: a small run of the tables."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from physics.coverage import CASES, Case, scores, setup_of, shop_of, verified, ways_of
from physics.model import Leans, build, settle

TRIALS = 2_000


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_parts_land_within(case: Case) -> None:
    """At least 93 % lie within u95 and come back within repeat95, however far pins lean."""
    for way, leans in ways_of(case)[::3]:
        found = scores(case, way, leans, TRIALS)
        noise = 4 * (0.93 * 0.07 / TRIALS) ** 0.5  # four standard errors of a share
        assert found.lies >= 0.93 - noise, (way, leans, found)
        assert found.comes_back >= 0.93 - noise, (way, leans, found)


@pytest.mark.parametrize("leans", ["full", "each at an end"])
def test_good_stations_with_leaning_pins_are_verified(leans: Leans) -> None:
    """Of 1,000 good stations whose pins lean as far as they can 6 % are beyond, and no more."""
    case = Case("leaning", play=0.20, under=5, edge_from=5)
    assert verified(case, leans, 1_000, times=1).first <= 0.06


@pytest.mark.parametrize("case", [Case("at the surface"), Case("on 10 mm", play=0.2, under=10)])
def test_the_mean_of_leans_is_the_calculated_place(case: Case) -> None:
    """Without any error, pins leaning half have the corner where the package has it."""
    exact = case._replace(holes=0.0, edges=0.0)
    shop = replace(shop_of(exact), machine=0.0, homing=0.0, body=0.0)
    rng = np.random.default_rng(1)
    full, none = (
        settle(shop, build(shop, 1, rng), "pressed", leans, rng)[0] for leans in ("full", "none")
    )
    corner = setup_of(exact).located.corner.point
    assert (full[:2] + none[:2]) / 2 == pytest.approx(corner, abs=1e-9)
