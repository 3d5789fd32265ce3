"""u95 of many choices of pins at once, with Student's factor where a survey has few holes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from pincorner.documents.beds import Hole
from pincorner.geometry.clearances import Array
from pincorner.geometry.spread import corner_spread
from pincorner.geometry.student import MANY, ROUNDING, factor_at, near_normal
from pincorner.setups.budget import contact_variance, effective_dofs
from pincorner.setups.choice import NestSpread, nest_spreads
from pincorner.setups.facts import Facts
from pincorner.setups.holes import hole_position_sd


class Contacts(NamedTuple):
    """Contacts that pins make: one for each hole (h,), or three of each choice (n, 3).

    places: (.., 2) centres of the holes on the bed, mm. variances: mm2, from all sources.
    of_holes: the share of the hole's own position, with its degrees of freedom.
    """

    places: Array
    variances: Array
    of_holes: Array
    dofs: Array


def contacts_at(facts: Facts, places: Sequence[Hole], true: Array) -> Contacts:
    """The contact that a pin of the station makes from each hole; true: centres (h, 2)."""
    pin = facts.pin_of(facts.station.pin)
    positions = [hole_position_sd(facts, place.at_mm) for place in places]
    return Contacts(
        true,
        np.array([contact_variance(facts, pin, place.at_mm) for place in places]),
        np.array([(sd_mm or 0.0) ** 2 for sd_mm, _ in positions]),
        np.array([dof for _, dof in positions]),
    )


def worst_u95s(facts: Facts, pins: Contacts) -> Array:
    """u95_worst, mm, (n,), with each choice of two edge pins and a stop (n, 3).

    As `setups.budget` has it, but for the small angle between the corner and the bed.
    """
    worst = np.zeros(len(pins.places))
    for nest in nest_spreads(facts, pins.places, pins.variances):
        factor = _coverage(nest, pins)
        for arm in nest.arms_mm:
            worst = np.maximum(worst, factor * nest.together.worst_sd(*arm))
    return worst


def _coverage(nest: NestSpread, pins: Contacts) -> Array:
    """k (n,): 2, or Student's factor for the fewest effective degrees at zero and stock corners.

    Welch-Satterthwaite formula along the direction that is known worst (JCGM 100, G.4.1).
    """
    limited = [(each.spread, each.dof) for each in nest.others if math.isfinite(each.dof)]
    dof = pins.dofs.min(axis=1)
    if np.isfinite(dof).any():
        variances = (pins.of_holes[:, 0], pins.of_holes[:, 1], pins.of_holes[:, 2])
        holes = corner_spread(nest.corner, nest.zero_mm, variances, nest.inward)
        limited.append((holes, dof))
    if not limited:
        return np.full(len(dof), 2.0)
    at = [(0.0, 0.0), *nest.arms_mm]
    fewest = np.minimum.reduce(effective_dofs(nest.together, limited, at))
    return coverage_factors(np.broadcast_to(fewest, dof.shape))


def coverage_factors(dofs: Array) -> Array:
    """The coverage factor at effective degrees of freedom (n,); 2 at infinity."""
    whole = np.floor(dofs + ROUNDING)
    found: Array = near_normal(np.maximum(whole, MANY))
    for dof in np.unique(whole[whole < MANY]):
        found[whole == dof] = factor_at(dof)
    return found
