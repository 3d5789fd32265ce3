"""What a check tells: findings with the figure the right way round, and what it did not look at.

The sentences on what is not looked at, or not fully, stand under every verdict.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from shapely import LineString, Point, Polygon, get_coordinates
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from pincorner.characters import quoted
from pincorner.geometry.outline import bounds
from pincorner.geometry.pose import XY, Pose
from pincorner.program.check.clearance import NOSE, Key, Worst
from pincorner.program.check.fences import Ceiling, Fence, ceiling_of
from pincorner.program.check.moves_seen import Change, MovesSeen
from pincorner.program.check.reaches import ToolSize, size_of
from pincorner.program.check.result import AsPoint, CheckFinding, InTheWay
from pincorner.program.check.surroundings import METAL, Disc, Obstacle, tallest_of
from pincorner.program.reader.motions import NO_TOOL, RAPID, Floats
from pincorner.program.reader.summary import Summary
from pincorner.setups.budget import known
from pincorner.setups.setup import Setup, written_in_machine
from pincorner.units import Unit, figure, told, told_down, told_size, told_up

_ROUND = 32
"""Corners in a quarter of a circle where a place is looked for; no figure rests on it."""


class _Told(NamedTuple):
    """What the tool would do, the figure in it, and where: X, Y, Z of the tip."""

    what: str
    figure_mm: float
    at_mm: Floats


class Teller(NamedTuple):
    """Tells findings, lengths in `unit`. `to_bed`: the program's frame on the bed."""

    unit: Unit
    tools: Mapping[int, ToolSize]
    straight_rapids: bool
    to_bed: Pose

    def finding(self, key: Key, worst: Worst) -> CheckFinding:
        """The finding for the worst that one tool does to one thing."""
        verb = "would"
        if isinstance(worst.thing, Ceiling):
            found = self._above(worst, worst.thing)
        elif isinstance(worst.thing, Fence):
            found = self._over(worst, worst.thing)
        else:
            found = self._into(key, worst, worst.thing)
            if worst.kind == RAPID and not self.straight_rapids:
                verb = "in a rapid could"
        x, y, z = found.at_mm.tolist()
        text = f"{self._who(key)} {verb} {found.what} {self._height(z)}"
        if worst.lines > 1:
            text += f", and on {worst.lines - 1} more line{'s' if worst.lines > 2 else ''}"
        if not isinstance(worst.thing, (Ceiling, Fence)) and worst.thing.stated is not None:
            kind, name = worst.thing.stated
            text += f"; spoil of {kind} {name} says how deep: pincorner edit {kind} {quoted(name)}"
        place = self.to_bed.point((x, y))
        return CheckFinding(key.code, worst.line, text, worst.lines, found.figure_mm, place)

    def _who(self, key: Key) -> str:
        tool = "" if key.tool == NO_TOOL else f" {key.tool}"
        if key.part == NOSE:
            return f"the nose above tool{tool}" if tool else "the nose"
        if key.code == "outside-travel":
            return "the spindle axis"
        diameter = size_of(self.tools, key.tool).diameter_mm
        if diameter is not None:
            return f"the {told_size(diameter, self.unit)} cutter"
        if key.tool == NO_TOOL:  # the note on it says what helps
            return "the cutter (diameter not given)"
        return f"tool{tool} (diameter not given: {tool_option(key.tool, self.unit)})"

    def _into(self, key: Key, worst: Worst, obstacle: Obstacle) -> _Told:
        name, size = obstacle.name, size_of(self.tools, key.tool)
        if obstacle.datum_mm is not None:
            reach = (size.diameter_mm or 0.0) / 2 + obstacle.near_mm
            at = _lowest_within(worst, _shape(obstacle).buffer(reach, quad_segs=_ROUND))
            depth, allowed = obstacle.datum_mm - at[2], told_down(obstacle.allowed_mm, self.unit)
            what = f"go {told_up(depth, self.unit)} deep into {name}, where {allowed} are allowed,"
            if key.code in METAL:
                what = (
                    f"go {told_up(depth, self.unit)} deep over {name}, which lies {allowed} deep,"
                )
            return _Told(what, float(depth), at)
        if not isinstance(obstacle.shape, Disc) and _path(worst).intersects(_shape(obstacle)):
            lift = (size.stickout_mm or 0.0) if key.part == NOSE else 0.0
            at = _lowest_within(worst, _shape(obstacle))
            deep = obstacle.top_mm - at[2] - lift
            what = f"go right into {name}, {told_up(deep, self.unit)} below its top,"
            return _Told(what, deep, at)
        at = _nearest(worst, _shape(obstacle))
        if worst.gap_mm < 0:
            return _Told(f"go {told_up(-worst.gap_mm, self.unit)} into {name}", -worst.gap_mm, at)
        margin = f"nearer than the margin of {self._told(obstacle.near_mm)},"
        what = f"pass {name} at {told_down(worst.gap_mm, self.unit)}, {margin}"
        return _Told(what, worst.gap_mm, at)

    def _above(self, worst: Worst, ceiling: Ceiling) -> _Told:
        at = worst.path_mm[worst.path_mm[:, 2].argmax()]
        what = f"go {told_up(-worst.gap_mm, self.unit)} above {ceiling.name}"
        return _Told(what, -worst.gap_mm, at)

    def _over(self, worst: Worst, fence: Fence) -> _Told:
        beyond, over = -worst.gap_mm, np.round(fence.beyond(worst.path_mm, 0.0), 6)
        at = worst.path_mm[np.lexsort((worst.path_mm[:, 2], -over))[0]]  # the lower of equals
        if fence.code == "outside-stock":
            passed, allowed = beyond + fence.allowed_mm, self._told(fence.allowed_mm)
            by = told_up(passed, self.unit)
            what = f"pass {fence.name} by {by}, more than the run-off of {allowed},"
            return _Told(what, passed, at)
        if fence.code == "outside-bed":
            what = f"cut {told_up(beyond, self.unit)} beyond the edge of {fence.name}"
            return _Told(what, beyond, at)
        return _Told(f"go {told_up(beyond, self.unit)} beyond {fence.name}", beyond, at)

    def _height(self, z: float) -> str:
        return "at a height that is not known" if math.isnan(z) else f"at Z{figure(z, self.unit)}"

    def _told(self, length_mm: float) -> str:
        return told(length_mm, self.unit)


def in_order(findings: Iterable[CheckFinding], cause: str) -> Iterator[CheckFinding]:
    """Findings by line; what makes cuts miss the stock stands behind the first of those alone."""
    told = not cause
    for each in sorted(findings, key=lambda each: (each.line, each.code)):
        if not told and each.code in ("outside-stock", "outside-bed"):
            told = True
            each = each._replace(what=f"{each.what}; likely cause: {cause}")
        yield each


def _path(worst: Worst) -> BaseGeometry:
    start, end = worst.path_mm[:, :2].tolist()
    return Point(start) if start == end else LineString([start, end])


def _shape(obstacle: Obstacle) -> BaseGeometry:
    if isinstance(obstacle.shape, Disc):
        round_shape: BaseGeometry = Point(obstacle.shape.centre_mm)
        return round_shape
    return Polygon(obstacle.shape[0], obstacle.shape[1:])


def _nearest(worst: Worst, shape: BaseGeometry) -> Floats:
    """Where on its stroke the tip is when it is nearest to a shape."""
    at: Floats = _on_path(worst, get_coordinates(nearest_points(_path(worst), shape)[0]))[0]
    return at


def _lowest_within(worst: Worst, shape: BaseGeometry) -> Floats:
    """The lowest place of the stroke over a shape; of the part nearest to it where none is."""
    over = _on_path(worst, get_coordinates(_path(worst).intersection(shape)))
    if not len(over):
        return _nearest(worst, shape)
    lowest: Floats = over[over[:, 2].argmin()]
    return lowest


def _on_path(worst: Worst, places: Floats) -> Floats:
    """Places of the stroke, (n, 2), with their Z; the lower one where it goes straight down."""
    start, end = worst.path_mm
    length = np.hypot(*(end - start)[:2])
    if length == 0:
        return np.column_stack([places, np.full(len(places), worst.z_mm)])
    share = np.hypot(*(places - start[:2]).T) / length
    placed: Floats = start + share[:, None] * (end - start)
    return placed


ALWAYS = (
    "tool holder, dust shoe, hoses and cables",
    "whether stock, pins, clamps and zero are as registered, and the controller's own settings",
)


def looked_at(setup: Setup, tools: Mapping[int, ToolSize], used: Sequence[int]) -> str:
    """What a program was held against: the nose and the travel only as far as they are known.

    What of them is not stands among the notes (`notes_on_machine`, `notes_on_tools`).
    """
    stand_out = (size_of(tools, number).stickout_mm for number in used)
    nose = setup.facts.machine.nose is not None and any(each is not None for each in stand_out)
    edge = "the cutter by no more than its run-off, against the stock"
    return "; ".join(
        (
            f"cutter{' and nose' if nose else ''} against pins, clamps, jigs and solids",
            f"the nose, and {edge}" if nose else edge,
            "surface, seat, tracks and screws",
            "the bed's edge",
            *_travel_seen(setup),
            "units, offsets and the first move",
        )
    )


def _travel_seen(setup: Setup) -> Iterator[str]:
    """Of the travel, the axes and ends that fences and ceiling stand for."""
    travel = setup.facts.machine.travel
    if travel is None or not setup.facts.machine.homes:
        return
    axes = [name for name, span in (("X", travel.x), ("Y", travel.y)) if span is not None]
    axes += ["the upper end of Z"] if ceiling_of(setup) is not None else []
    if axes:
        yield f"the travel in {' and '.join(filter(None, (', '.join(axes[:-1]), axes[-1])))}"


def notes_on_machine(setup: Setup, unit: Unit) -> Iterator[str]:
    """What of the machine, the bed and the jig's place is not given."""
    machine, heights = setup.facts.machine, setup.heights
    if setup.unheld:
        yield setup.unheld
    if not setup.facts.station.clamps:
        yield f"clamps: none is on file at station {setup.facts.station.name}"
    if machine.nose is None:
        yield "the spindle nose: its diameter is not given"
    if machine.travel_not_checked:
        yield machine.travel_not_checked
    if machine.homes and machine.travel is not None and machine.travel.z is not None:
        if heights.surface_mm is None:
            yield "the travel in Z: the height of the surface is not known"
        else:
            yield "the lower end of the travel in Z: it depends on the tools' lengths"


def note_on_margin(setup: Setup) -> str:
    """What of how well the zero is known the margin cannot hold; empty where it holds all."""
    missing = ", ".join(setup.budget.not_given)
    if known(setup.budget.u95_worst_mm) is None:
        why = f" ({missing})" if missing else ""
        return (
            "how near cutter and nose may come: how well the zero is known is not given"
            f"{why}, so only what touches is told; --margin says how near"
        )
    return f"{missing}: not given, so not in the margin" if missing else ""


def tool_option(tool: int, unit: Unit) -> str:
    """How a tool's diameter is given; whoever copies it has to put the figure in."""
    return f"--tool {1 if tool == NO_TOOL else tool}=..{unit}"


def notes_on_tools(
    setup: Setup, tools: Mapping[int, ToolSize], used: Sequence[int], unit: Unit
) -> Iterator[str]:
    """What of the tools in use is not given."""
    if NO_TOOL in used and len(tools) == 1:
        yield f"which tool cuts: the program names none, so tool {next(iter(tools))} counts"
    for number in used:
        size = size_of(tools, number)
        who = "the tool, which the program does not name" if number == NO_TOOL else f"tool {number}"
        if size.diameter_mm is None:
            say = (
                f"say it by {tool_option(number, unit)}, or as tools in the document of the program"
            )
            if number == NO_TOOL and len(used) > 1:
                say = "name it before the first move (T, M6)"
            yield AsPoint(f"{who}: its diameter is not given, so it counts as a point; {say}")
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
            text = InTheWay(
                f"{text}: {told_down(z_mm + zero_mm, unit, 1)} above the surface, lower than "
                f"{tallest.name} ({told_up(tallest.top_mm + zero_mm, unit, 1)})"
            )
        yield text
    if seen.unknown_count:
        lines = _lines(seen.unknown, seen.unknown_count)
        yield f"motions whose place or height is not known: {lines}"


def _lines(first: Sequence[int], count: int) -> str:
    """Lines in words, the first of so many."""
    shown = f"line{'s' if count > 1 else ''} {', '.join(map(str, first))}"
    return f"{shown} and {count - len(first)} more" if count > len(first) else shown


def notes_on_changes(
    setup: Setup,
    tools: Mapping[int, ToolSize],
    seen: MovesSeen,
    obstacles: Sequence[Obstacle],
    summary: Summary,
    unit: Unit,
) -> Iterator[str]:
    """The way to where the machine changes tools and back, which is the controller's own.

    What stands within the box around that place and where the tool comes from and goes to, higher
    than it then is, is named: whether the controller goes up first is not known.
    """
    if not seen.changes:
        return
    at = [
        max((line for _, line in summary.tool_changes if line <= each.line), default=each.line)
        for each in seen.changes
    ]
    told_lines = _lines(at[:3], seen.change_count)
    machine = setup.facts.machine
    way = f"the way to where tools are changed and back ({told_lines})"
    if not machine.homes:
        yield f"{way}: machine {machine.name} does not home, so it is not known where that is"
        return
    if machine.park is None:
        yield f"{way}: park of machine {machine.name} is not given"
        return
    met = [
        (obstacle.top_mm - z_mm, obstacle, line)
        for line, change in zip(at, seen.changes, strict=True)
        for z_mm, obstacle in _on_the_way(setup, machine.park, tools, change, obstacles)
    ]
    if met:
        above_mm, obstacle, line = max(met, key=lambda each: each[0])
        way = InTheWay(
            f"{way}: in it stands {obstacle.name}, {told_up(above_mm, unit)} higher than the tip "
            f"in line {line}; go up first"
        )
    yield way


def _on_the_way(
    setup: Setup,
    park: XY,
    tools: Mapping[int, ToolSize],
    change: Change,
    obstacles: Sequence[Obstacle],
) -> Iterator[tuple[float, Obstacle]]:
    """What stands in the way of a tool change, with the Z that the tip has there."""
    z_mm = change.left[2]
    higher = [each for each in obstacles if each.datum_mm is None and each.top_mm > z_mm]
    to_machine = written_in_machine(setup)
    places = [(x, y) for x, y, _ in (change.left, change.back) if not math.isnan(x + y)]
    if not higher or not places:
        return
    box = bounds((park, *to_machine.points(tuple(places))))
    way = Polygon(to_machine.inverse().points(box.outline))
    diameter_mm = max((size.diameter_mm or 0.0 for size in tools.values()), default=0.0)
    lifts = [size.stickout_mm for size in tools.values() if size.stickout_mm is not None]
    for each in higher:
        nose = bool(lifts) and each.top_mm > z_mm + min(lifts)
        width_mm = max(diameter_mm, setup.facts.machine.nose or 0.0) if nose else diameter_mm
        round_mm = each.shape.radius_mm if isinstance(each.shape, Disc) else 0.0
        if way.distance(_shape(each)) <= width_mm / 2 + round_mm + each.near_mm:
            yield z_mm, each
