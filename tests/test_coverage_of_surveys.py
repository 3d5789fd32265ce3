"""Coverage of the predicted uncertainty after surveys: a thinned run of the published table."""

from __future__ import annotations

import math

import pytest
from coverage_of_surveys import coverage
from thinning import thinned


@pytest.mark.parametrize(("holes", "swelling"), [(6, 0.0), (12, 0.0033)])
def test_true_zero_lies_within(holes: int, swelling: float) -> None:
    """Of the true zeros, on both axes, 95.45 % lie within k standard deviations, give or take."""
    # three standard deviations of so many hits and misses, and the point that k is for 95.45
    beds = thinned(900)
    give = 3 * math.sqrt(0.9545 * 0.0455 / (2 * beds))
    assert coverage(holes, swelling, beds) == pytest.approx(0.9545, abs=give)
