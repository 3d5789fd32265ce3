"""Where parts land by the physics, against what the budget says: a small run of the tables."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from physics.coverage import CASES, Case, scores, setup_of, shop_of, ways_of
from physics.model import build, settle

TRIALS = 2_000


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_parts_land_within(case: Case) -> None:
    """At least 93 % lie within u95 and come back within repeat95, however far pins lean."""
    for way, leans in ways_of(case)[::3]:
        found = scores(case, way, leans, TRIALS)
        noise = 4 * (0.93 * 0.07 / TRIALS) ** 0.5  # four standard errors of a share
        assert found.lies >= 0.93 - noise, (way, leans, found)
        assert found.comes_back >= 0.93 - noise, (way, leans, found)


@pytest.mark.parametrize("case", [CASES[0], CASES[6]], ids=["at the surface", "on 10 mm"])
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
