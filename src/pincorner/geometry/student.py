"""The coverage factor of JCGM 100, annex G, for a confidence of 95.45 % (two standard deviations).

Written here because the t distribution is wanted at whole degrees of freedom only, and the general
library for it doubles the start-up time. The tests compare with scipy and with Table G.2.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import cache
from typing import Any

Scalar = Any
"""A float or an array of them."""

TWO_SIGMA = math.erf(math.sqrt(2.0))
"""Share of a normal distribution within two standard deviations: 0.9545 (JCGM 100, Table G.1)."""

ENOUGH_DOF = 9
"""From so many degrees of freedom on a survey's own spread counts alone; below, what the bed states
of its holes counts too: four holes often agree by luck."""


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


MANY = 300
"""From here on `near_normal` is right to 1e-12, and the series above is slow."""


@cache
def coverage_factor(dof: int, confidence: float = TWO_SIGMA) -> float:
    """k for a two-sided `confidence` at `dof` degrees of freedom (>= 1), to 1e-12."""
    if dof >= MANY:
        return float(near_normal(dof, _normal_factor(confidence)))
    low, high = 0.0, 1.0
    while t_within(high, dof) < confidence:
        high *= 2
    while high - low > 1e-12 * high:
        middle = (low + high) / 2
        low, high = (middle, high) if t_within(middle, dof) < confidence else (low, middle)
    return (low + high) / 2


def _normal_factor(confidence: float) -> float:
    if confidence == TWO_SIGMA:
        return 2.0
    from statistics import NormalDist

    return NormalDist().inv_cdf((1 + confidence) / 2)


def near_normal(dof: Scalar, z: float = 2.0) -> Scalar:
    """The factor at MANY degrees of freedom or more, floats or arrays; `z` at infinity.

    A series in 1 / dof (Abramowitz and Stegun, 26.7.5).
    """
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    fourth = (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160
    return z + (first + (second + (third + fourth / dof) / dof) / dof) / dof


def chi2_below(share: float, dof: int) -> float:
    """Chi-square of which a share lies below, to 2 % from 3 degrees of freedom on.

    Wilson and Hilferty's approximation (Abramowitz and Stegun, 26.4.17).
    """
    from statistics import NormalDist

    part = 2 / (9 * dof)
    return float(dof * (1 - part + NormalDist().inv_cdf(share) * math.sqrt(part)) ** 3)


def effective_dof(together: Scalar, parts: Iterable[tuple[Scalar, Scalar]]) -> Scalar:
    """Welch and Satterthwaite's effective degrees of freedom (JCGM 100, G.4.1, eq. G.2b).

    `together`: the variance of all parts, one or an array; `parts`: (variance, degrees of freedom)
    of those at least whose degrees are finite. Infinite where none of those varies.
    """
    below = sum(variance * variance / dof for variance, dof in parts)
    if isinstance(below, int | float):
        return math.inf if below == 0 else together * together / below
    import numpy as np

    with np.errstate(divide="ignore"):
        return together * together / below


ROUNDING = 1e-9
"""A single part's degrees of freedom come out of the formula a rounding above or below."""


def factor_at(dof: float) -> float:
    """k for effective degrees of freedom, cut to whole ones (JCGM 100, G.6.4); 2 where infinite."""
    return 2.0 if math.isinf(dof) else coverage_factor(max(1, math.floor(dof + ROUNDING)))
