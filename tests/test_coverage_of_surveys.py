"""Coverage of the predicted uncertainty after surveys: a thinned run of the published table."""

from __future__ import annotations

import pytest
from coverage_of_surveys import coverage


@pytest.mark.parametrize(("holes", "swelling"), [(6, 0.0), (12, 0.001), (12, 0.0033)])
def test_true_zero_lies_within(holes: int, swelling: float) -> None:
    """Of 300 true zeros, on both axes, 95.45 % lie within k standard deviations, give or take."""
    # 600 hits and misses are known to 0.85 %; three of those, and the point that k is for 95.45
    assert coverage(holes, swelling, 300) == pytest.approx(0.9545, abs=0.026)
