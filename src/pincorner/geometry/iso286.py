"""Limits of ISO 286-2 for the fits that locating pins and bushings use, 3 to 30 mm.

Tabled values (the formula of ISO 286-1 rounds differently in places): published extracts of
ISO 286-2:2010, Tables 2 to 28. Limit deviations in micrometres, upper then lower, for the bands
over 3 to 6, over 6 to 10, over 10 to 18 and over 18 to 30 mm.
"""

from __future__ import annotations

import re

_BANDS_MM = ((3.0, 6.0), (6.0, 10.0), (10.0, 18.0), (18.0, 30.0))

_LIMITS_UM: dict[str, tuple[tuple[int, int], ...]] = {
    "H7": ((12, 0), (15, 0), (18, 0), (21, 0)),
    "H8": ((18, 0), (22, 0), (27, 0), (33, 0)),
    "H9": ((30, 0), (36, 0), (43, 0), (52, 0)),
    "H11": ((75, 0), (90, 0), (110, 0), (130, 0)),
    "F8": ((28, 10), (35, 13), (43, 16), (53, 20)),
    "G7": ((16, 4), (20, 5), (24, 6), (28, 7)),
    "d9": ((-30, -60), (-40, -76), (-50, -93), (-65, -117)),
    "e8": ((-20, -38), (-25, -47), (-32, -59), (-40, -73)),
    "f7": ((-10, -22), (-13, -28), (-16, -34), (-20, -41)),
    "g6": ((-4, -12), (-5, -14), (-6, -17), (-7, -20)),
    "h6": ((0, -8), (0, -9), (0, -11), (0, -13)),
    "h7": ((0, -12), (0, -15), (0, -18), (0, -21)),
    "h9": ((0, -30), (0, -36), (0, -43), (0, -52)),
    "k6": ((9, 1), (10, 1), (12, 1), (15, 2)),
    "m6": ((12, 4), (15, 6), (18, 7), (21, 8)),
}

_FIT = re.compile(r"([A-Z]+\d+)/([a-z]+\d+)")


def limits_um(tolerance: str, size_mm: float) -> tuple[int, int]:
    """Upper and lower limit deviation in micrometres of a class such as `H8` at a nominal size.

    Raises ValueError for a class or size that is not on file.
    """
    if tolerance not in _LIMITS_UM:
        raise ValueError(
            f"tolerance class {tolerance} is not on file; known: {', '.join(_LIMITS_UM)}"
        )
    for (over, up_to), limits in zip(_BANDS_MM, _LIMITS_UM[tolerance], strict=True):
        if over < size_mm <= up_to:
            return limits
    raise ValueError(f"limits are on file for sizes over 3 to 30 mm, not for {size_mm:g} mm")


def clearance_mm(fit: str, size_mm: float) -> tuple[float, float]:
    """Least and greatest diametral clearance in mm of a fit such as `H8/g6`.

    Negative values are interference.
    Raises ValueError for a fit that is not written hole/shaft or is not on file.
    """
    match = _FIT.fullmatch(fit)
    if match is None:
        raise ValueError(
            f"expected a fit written hole class/shaft class, such as H8/g6, got {fit!r}"
        )
    hole_upper, hole_lower = limits_um(match[1], size_mm)
    shaft_upper, shaft_lower = limits_um(match[2], size_mm)
    return (hole_lower - shaft_upper) / 1000, (hole_upper - shaft_lower) / 1000
