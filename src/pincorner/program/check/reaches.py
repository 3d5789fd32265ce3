"""How far a tool reaches around its path: the cutter, and the nose some way above its tip."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from pincorner.geometry.outline import TOUCH_MM
from pincorner.program.reader.motions import NO_TOOL

_POINT_MM = 2 * TOUCH_MM
"""The radius of a cutter whose diameter is not given: what goes over an area does not touch it."""


class ToolSize(NamedTuple):
    """What is known of a cutter; None: not given."""

    diameter_mm: float | None = None
    stickout_mm: float | None = None


class Reach(NamedTuple):
    """A disc that goes along the path, and how far it is above the tip."""

    radius_mm: float
    lift_mm: float


class Reaches(NamedTuple):
    """Of one tool: the cutter; the nose, or None where nothing is known of it.

    `stickout_mm`: how far the tip is below the nose at the least; 0 where it is not given.
    """

    cutter: Reach
    nose: Reach | None
    stickout_mm: float


def size_of(tools: Mapping[int, ToolSize], number: int) -> ToolSize:
    """What is known of a tool; a program that names none runs with the only one on file."""
    if number == NO_TOOL and len(tools) == 1:
        return next(iter(tools.values()))
    return tools.get(number, ToolSize())


def reaches_of(size: ToolSize, nose_mm: float | None) -> Reaches:
    """The reaches of a tool. A cutter whose diameter is not given counts as a point."""
    radius_mm = _POINT_MM if size.diameter_mm is None else size.diameter_mm / 2
    cutter = Reach(radius_mm, 0.0)
    if nose_mm is None or size.stickout_mm is None:
        return Reaches(cutter, None, size.stickout_mm or 0.0)
    return Reaches(cutter, Reach(nose_mm / 2, size.stickout_mm), size.stickout_mm)
