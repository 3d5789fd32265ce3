"""What a check does not look at, or not fully: sentences that stand under every verdict."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from pincorner.program.check.moves_seen import MovesSeen
from pincorner.program.check.obstacles import Obstacle, tallest_of
from pincorner.program.check.reaches import ToolSize, size_of
from pincorner.program.motions import NO_TOOL
from pincorner.setups.setup import Setup
from pincorner.units import Unit, told

ALWAYS = (
    "tool holder, dust shoe, hoses and cables",
    "whether stock, pins, clamps and zero are as registered, and the controller's own settings",
)

_FALL_TOLD_MM = 0.02
"""Less is no more than a cut's own depth varies by (common practice, no source)."""


def notes_on_machine(setup: Setup, unit: Unit) -> Iterator[str]:
    """What of the machine and the bed is not given."""
    machine, heights = setup.facts.machine, setup.heights
    if machine.nose is None:
        yield "the spindle nose: its diameter is not given"
    if machine.travel_not_checked:
        yield machine.travel_not_checked
    if machine.homes and machine.travel is not None and machine.travel.z is not None:
        if heights.surface_mm is None:
            yield "the travel in Z: the height of the surface is not known"
        else:
            yield "the lower end of the travel in Z: it depends on the tools' lengths"
    fall_mm = _fall_of_surface(setup)
    if fall_mm > _FALL_TOLD_MM:
        fall = told(fall_mm, unit, 2)
        yield f"the surface's fall of {fall} over the stock: it counts as level here"


def _fall_of_surface(setup: Setup) -> float:
    """How much higher one corner of the stock lies than another on the surveyed plane."""
    survey = setup.facts.survey
    plane = survey.fit.plane if survey is not None else None
    if survey is None or plane is None:
        return 0.0
    heights = [plane.at(corner, survey.fit.centroid) for corner in setup.stock_in_bed()]
    return max(heights) - min(heights)


def notes_on_tools(
    setup: Setup, tools: Mapping[int, ToolSize], used: Sequence[int]
) -> Iterator[str]:
    """What of the tools in use is not given."""
    if NO_TOOL in used and len(tools) == 1:
        yield f"which tool cuts: the program names none, so tool {next(iter(tools))} counts"
    for number in used:
        size = size_of(tools, number)
        who = "the tool, which the program does not name" if number == NO_TOOL else f"tool {number}"
        if size.diameter_mm is None:
            yield f"{who}: its diameter is not given, so it counts as a point"
        if size.stickout_mm is None and setup.facts.machine.nose is not None:
            yield f"the nose above {who}: how far it stands out is not given"


def notes_on_moves(
    setup: Setup, seen: MovesSeen, obstacles: Sequence[Obstacle], unit: Unit
) -> Iterator[str]:
    """Where the tool comes from, and motions whose place is not known."""
    if seen.sideways is not None:
        line, z_mm = seen.sideways
        text = f"from where the tool comes to line {line}, its first move sideways"
        tallest = tallest_of(obstacles)
        if tallest is not None and z_mm < tallest.top_mm:
            zero_mm = setup.heights.zero_mm
            text += (
                f": {told(z_mm + zero_mm, unit, 1)} above the surface, lower than {tallest.name} "
                f"({told(tallest.top_mm + zero_mm, unit, 1)})"
            )
        yield text
    if seen.unknown_count:
        shown = ", ".join(map(str, seen.unknown))
        more = seen.unknown_count - len(seen.unknown)
        lines = f"line{'s' if seen.unknown_count > 1 else ''} {shown}"
        lines += f" and {more} more" if more else ""
        yield f"motions whose place or height is not known: {lines}"
