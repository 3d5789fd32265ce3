"""Whether a bed has swollen or is out of square by more than its survey leaves in doubt."""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import NamedTuple

from pincorner.geometry.fits import Affine
from pincorner.geometry.student import ENOUGH_DOF, coverage_factor

EACH = 1 - 0.05 / 3
"""Confidence of each of three tests, so that a bed that is as drawn passes all in 95 % of surveys
(Bonferroni). With 95 % each, one in seven such beds would be called swollen."""

PRINTED_SD_MM = 0.001 / math.sqrt(12)
"""Readings are written to a thousandth of a millimetre (JCGM 100, 4.3.7): no survey is better."""


class Deviation(NamedTuple):
    """A scale or the squareness as a share (1 mm in 1 m is 0.001); None: its sd is not known."""

    value: float
    sd: float | None
    significant: bool


class Shape(NamedTuple):
    """How the bed's grid differs from the drawn one."""

    scale_x: Deviation
    scale_y: Deviation
    squareness: Deviation

    @property
    def significant(self) -> bool:
        """Whether any of the three is."""
        return any(each.significant for each in self)


def shape_of(fit: Affine, stated_sd_mm: float | None) -> Shape:
    """Scales and squareness, each significant where it exceeds its own expanded uncertainty.

    Student's factor with the fit's degrees of freedom, at `EACH`. Below ENOUGH_DOF a deviation must
    exceed what follows from `stated_sd_mm`, one reading's stated standard deviation, as well. Three
    holes leave nothing to judge by: nothing is significant.

    In simulated surveys of a 15 x 9 grid (3 to 40 holes, swollen by 0 to 0.33 %) the places that
    follow lie within their u95 in 94.3 to 97.3 % of cases from four holes on, whether the swelling
    is nothing, too small to be seen, or plain; with three holes, which hide a swelling in their
    spread, in 95.3 to 100 %.
    """
    values = (fit.scale_x, fit.scale_y, fit.squareness_rad)
    if fit.dof == 0:
        return Shape(*(Deviation(value, None, False) for value in values))
    sds = fit.sds(max(math.sqrt(fit.rss / fit.dof), PRINTED_SD_MM))
    bounds = [coverage_factor(fit.dof, EACH) * sd for sd in sds]
    if fit.dof < ENOUGH_DOF and stated_sd_mm is not None:
        factor = NormalDist().inv_cdf((1 + EACH) / 2)
        least = (factor * sd for sd in fit.sds(stated_sd_mm))
        bounds = [max(bound, stated) for bound, stated in zip(bounds, least, strict=True)]
    found = zip(values, sds, bounds, strict=True)
    return Shape(*(Deviation(value, sd, abs(value) > bound) for value, sd, bound in found))
