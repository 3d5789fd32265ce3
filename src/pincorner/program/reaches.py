"""How far the tool reaches around its path: the cutter, and the nose some way above its tip."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from pincorner.program.motions import NO_TOOL, Floats, Ints
from pincorner.setups.checked import ToolSize


class Reach(NamedTuple):
    """A disc for each motion: its radius, and how far it is above the tip (NaN: not known)."""

    radius: Floats
    lift: Floats
    largest_mm: float
    lowest_mm: float


class Reaches(NamedTuple):
    """Along the motions of a piece: the cutter; the nose, or None where nothing is known of it.

    `stickout`: how far the tip is below the nose at the least; 0 where it is not given.
    """

    cutter: Reach
    nose: Reach | None
    stickout: Floats


def size_of(tools: Mapping[int, ToolSize], number: int) -> ToolSize:
    """What is known of a tool; a program that names none runs with the only one on file."""
    if number == NO_TOOL and len(tools) == 1:
        return next(iter(tools.values()))
    return tools.get(number, ToolSize())


def reaches_of(tool: Ints, tools: Mapping[int, ToolSize], nose_mm: float | None) -> Reaches:
    """The reaches of a piece. A cutter whose diameter is not given counts as a point."""
    numbers = distinct(tool)
    sizes = [size_of(tools, int(number)) for number in numbers]
    radii = np.array([(size.diameter_mm or 0.0) / 2 for size in sizes])
    lifts = np.array([np.nan if s.stickout_mm is None else s.stickout_mm for s in sizes])
    none = np.broadcast_to(0.0, len(tool))
    cutter = Reach(_along(tool, numbers, radii), none, float(radii.max()), 0.0)
    stickout = _along(tool, numbers, np.nan_to_num(lifts))
    if nose_mm is None or np.isnan(lifts).all():
        return Reaches(cutter, None, stickout)
    radius, lift = np.broadcast_to(nose_mm / 2, len(tool)), _along(tool, numbers, lifts)
    return Reaches(cutter, Reach(radius, lift, nose_mm / 2, float(np.nanmin(lifts))), stickout)


def distinct(column: Ints) -> Ints:
    """The values of a column in ascending order; tools and codes mostly have one in a piece."""
    return column[:1] if (column == column[0]).all() else np.unique(column)


def _along(tool: Ints, numbers: Ints, values: Floats) -> Floats:
    """A value for each motion from one for each tool."""
    if len(numbers) == 1:
        return np.broadcast_to(values[0], len(tool))
    found: Floats = values[np.searchsorted(numbers, tool)]
    return found
