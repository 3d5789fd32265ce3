"""The coverage factor of JCGM 100, annex G, for a confidence of 95.45 % (two standard deviations).

Written here because the t distribution is wanted at whole degrees of freedom only, and the general
library for it doubles the start-up time. The tests compare with scipy and with Table G.2.
"""

from __future__ import annotations

import math
from functools import cache

TWO_SIGMA = math.erf(math.sqrt(2.0))
"""Share of a normal distribution within two standard deviations: 0.9545 (JCGM 100, Table G.1)."""


def t_within(t: float, dof: int) -> float:
    """Share of Student's distribution between -t and t, for whole degrees of freedom >= 1.

    Finite series of Abramowitz and Stegun, 26.7.3 (odd) and 26.7.4 (even).
    """
    theta = math.atan(t / math.sqrt(dof))
    sin, cos = math.sin(theta), math.cos(theta)
    odd = dof % 2
    term = cos if odd else 1.0
    total = term if dof > 1 else 0.0
    for step in range(2 + odd, dof - 1, 2):
        term *= (step - 1) / step * cos * cos
        total += term
    return 2 / math.pi * (theta + sin * total) if odd else sin * total


@cache
def coverage_factor(dof: int, confidence: float = TWO_SIGMA) -> float:
    """k for a two-sided `confidence` at `dof` degrees of freedom (>= 1), to 1e-12.

    From a million degrees on the normal value 2 is returned (it differs by less than 2e-6).
    """
    if dof >= 1_000_000 and confidence == TWO_SIGMA:
        return 2.0
    low, high = 0.0, 1.0
    while t_within(high, dof) < confidence:
        high *= 2
    while high - low > 1e-12 * high:
        middle = (low + high) / 2
        low, high = (middle, high) if t_within(middle, dof) < confidence else (low, middle)
    return (low + high) / 2


def effective_dof(parts: list[tuple[float, float]]) -> float:
    """Welch and Satterthwaite's effective degrees of freedom (JCGM 100, G.4.1, eq. G.2b).

    `parts` are (variance, degrees of freedom); infinite degrees are math.inf.
    """
    total = sum(variance for variance, _ in parts)
    below = sum(variance * variance / dof for variance, dof in parts if math.isfinite(dof))
    return math.inf if below == 0 else total * total / below
