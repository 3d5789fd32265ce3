"""How a jig lies, in words: its own edges by their names, directions by who stands at the machine.

Sheet, drawings, `explain` and lists of pins say it with these words alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from pincorner.documents.machines import Side
from pincorner.geometry.outline import TOUCH_MM, Box, Outline, bounds, side_segments
from pincorner.setups.locating import OUTWARD
from pincorner.setups.person import EDGES, PLACED, POINTS, Way, nearest_way
from pincorner.setups.printed import printed_length, short
from pincorner.setups.setup import Setup
from pincorner.standing import Standing


def edge_called(setup: Setup, side: Side) -> str:
    """One of a jig's own edges: `its FRONT edge (maker's mark)`. Bare stock has none of its own."""
    if setup.facts.is_bare:
        return "its edge"
    name = setup.facts.holder.edge_name(side)
    return f"its {side.upper()} edge{f' ({name})' if name else ''}"


_BARE_EDGES: dict[Way, str] = {
    "toward": "the edge nearest you", "away": "the edge farthest from you",
    "left": "the left edge", "right": "the right edge",
}  # fmt: skip
"""What an edge of bare stock is called, as the person sees it."""


def _way_of(setup: Setup, side: Side) -> Way:
    """Which way one of its own edges points, for who stands there."""
    return setup.person.way_on_bed(setup.jig_in_bed.vector(OUTWARD[side]))


def edge_points(setup: Setup, side: Side) -> str:
    """The same in words: `to your right`."""
    return POINTS[_way_of(setup, side)]


def edge_told(setup: Setup, side: Side) -> str:
    """Both: `its FRONT edge, to your right`; of bare stock, `the right edge`."""
    if setup.facts.is_bare:
        return _BARE_EDGES[_way_of(setup, side)]
    return f"{edge_called(setup, side)}, {edge_points(setup, side)}"


def lies_told(setup: Setup) -> str:
    """How it lies: `its FRONT edge to your right`; of bare stock, how its length lies."""
    if setup.facts.is_bare:
        return stock_way_told(setup)
    return f"{edge_called(setup, 'front')} {edge_points(setup, 'front')}"


def stock_way_told(setup: Setup) -> str:
    """How a nest's stock lies, by its size: `410 mm from left to right, 240 deep`.

    Where it lies askew to who sees it only the drawing shows it.
    """
    unit, along = setup.printed.own.unit, setup.nest_in_bed.vector((1.0, 0.0))
    if min(map(abs, along)) > _ASKEW:
        return "turned as drawn"
    length, width, _ = (short(each) for each in setup.printed.own.stock)
    if setup.person.way_on_bed(along) not in ("left", "right"):
        length, width = width, length
    return f"{length} {unit} from left to right, {width} deep"


def stock_from_edges_told(setup: Setup) -> str:
    """Where a nest's stock lies in its jig: `25 mm from the jig's LEFT edge, 20 mm from its FRONT
    edge`; of stock that lies askew in it, its outermost corners."""
    stock = bounds(setup.jig_in_bed.inverse().points(setup.stock_in_bed()))
    jig, unit = bounds(setup.facts.holder.outline), setup.printed.own.unit
    gaps: tuple[tuple[float, Side], ...] = (
        (stock.left - jig.left, "left"),
        (stock.front - jig.front, "front"),
    )
    told = []
    for gap_mm, side in gaps:
        figure = short(printed_length(setup.facts, abs(gap_mm)))
        where = "flush with" if float(figure) == 0 else f"{figure} {unit} "
        where += "" if float(figure) == 0 else "from" if gap_mm > 0 else "beyond"
        points = (
            "" if _points_as_named(setup, side) else f", which points {edge_points(setup, side)}"
        )
        told.append(f"{where} {edge_called(setup, side)}{points}")
    return ", ".join((told[0].replace(" its ", " the jig's ", 1), told[1]))


def clamp_told(setup: Setup, clamp: Standing) -> str:
    """Where a clamp is, to its middle, by the sides as the person sees them: `60 from left, 8 over
    far edge`.

    Counted from the end at the person's left or near to them, as `start` asks for it. Where it
    reaches over no straight side of the outline, or over two: `120 from left, 80 from near`.
    """
    jig, box = setup.facts.holder, bounds(setup.jig_in_bed.inverse().points(clamp.outline))
    over = _reaches_over(jig.outline, box)
    if over is None:
        ends = (_counted_from(setup, "front"), _counted_from(setup, "left"))
        return ", ".join(_from_end_told(setup, end, box) for end in ends)
    side, in_mm = over
    figure = short(printed_length(setup.facts, in_mm))
    reach = f"{figure} over" if float(figure) else "up to"
    along = _from_end_told(setup, _counted_from(setup, side), box)
    return f"{along}, {reach} {_seen(setup, side)} edge"


def _reaches_over(outline: Outline, box: Box) -> tuple[Side, float] | None:
    """The one side of an outline that a box reaches over or touches, and how far in; None where
    that is none, or two, or no straight edge there is as long as the box is wide."""
    jig = bounds(outline)
    found: list[tuple[Side, float, int, float]] = [
        ("left", box.right - jig.left, 0, jig.left - box.left),
        ("right", jig.right - box.left, 0, box.right - jig.right),
        ("front", box.back - jig.front, 1, jig.front - box.front),
        ("back", jig.back - box.front, 1, box.back - jig.back),
    ]
    beyond = [each for each in found if each[3] > TOUCH_MM]
    if len(beyond) != 1 or beyond[0][1] < -TOUCH_MM:
        return None
    side, in_mm, axis, _ = beyond[0]
    low, high = (box.left, box.right) if axis else (box.front, box.back)
    parts = side_segments(outline, axis, getattr(jig, side))
    straight = any(start <= low + TOUCH_MM and high - TOUCH_MM <= end for start, end in parts)
    return (side, in_mm) if straight else None


def _counted_from(setup: Setup, edge: Side) -> Side:
    """The end of an edge that places on it are counted from: at the person's left or near side."""
    ends: tuple[Side, Side] = ("left", "right") if edge in ("front", "back") else ("front", "back")
    return next(end for end in ends if _seen(setup, end) in ("left", "near"))


def _from_end_told(setup: Setup, end: Side, box: Box) -> str:
    """How far the middle of a box lies from a side of the jig, `230 from left`, or off it, there or
    across from there: `20 beyond right`."""
    jig, (x, y) = bounds(setup.facts.holder.outline), box.middle
    from_end: dict[Side, float] = {"left": x - jig.left, "front": y - jig.front}
    from_end |= {"right": jig.right - x, "back": jig.back - y}
    side = min(end, _ACROSS[end], key=from_end.__getitem__)
    side = side if from_end[side] < 0 else end
    figure = short(printed_length(setup.facts, abs(from_end[side])))
    where = "beyond" if from_end[side] < 0 and float(figure) else "from"
    return f"{figure} {where} {_seen(setup, side)}"


_ACROSS: dict[Side, Side] = {"left": "right", "right": "left", "front": "back", "back": "front"}


def _seen(setup: Setup, side: Side) -> str:
    return EDGES[_way_of(setup, side)]


def _points_as_named(setup: Setup, side: Side) -> bool:
    """Whether a LEFT or FRONT edge lies left of, or near to, whoever stands there."""
    return _way_of(setup, side) == {"left": "left", "front": "toward"}[side]


_ASKEW = 0.05
"""Sine of the angle from which on stock counts as lying askew."""


def corner_told(setup: Setup) -> str:
    """The corner that offsets are told from: `the corner next to N2`."""
    located = setup.located
    if located.on_dowels:
        return f"the pin in {located.pins[0].hole}"
    if located.as_measured:
        return f"the {setup.facts.thing}'s own corner"
    if located.corner_hole:
        return f"the {setup.facts.thing}'s corner next to {located.corner_hole}"
    return f"the {setup.facts.thing}'s corner at the pins"


def zero_from_corner(setup: Setup) -> str:
    """Where the zero lies: `20.0 mm left of and 25.0 mm behind the jig's corner next to N2`.

    Where it is the middle of bare stock that is said too: an eye can check it.
    """
    own = setup.printed.own
    ways: tuple[tuple[str, Way, Way], ...] = (
        (own.right_of_corner, "right", "left"),
        (own.behind_corner, "away", "toward"),
    )
    parts = [
        f"{text.lstrip('-')} {own.unit} {PLACED[minus if text.startswith('-') else plus]}"
        for text, plus, minus in ways
        if float(text) != 0
    ]
    middle = bounds(setup.nest.stock.outline).middle
    is_middle = setup.facts.is_bare and math.hypot(*middle) < TOUCH_MM
    in_it = ", in the middle of the stock" if is_middle else ""
    return f"{' and '.join(parts) or 'at'} {corner_told(setup)}{in_it}"


def bed_moves_told(setup: Setup) -> str:
    """Which way a bed moves that moves itself: against the arrows, which are the tool's ways.

    Along which axis it moves follows from the one along which the spindle does, the machine's
    `beam`. Empty where the bed stands still.
    """
    machine = setup.facts.machine
    if not machine.bed_moves:
        return ""
    to_x, to_y = (
        POINTS[nearest_way(setup.person.machine_vector(way))] for way in ((-1.0, 0.0), (0.0, -1.0))
    )
    if machine.beam in ("x", "y"):
        axis, way = ("Y", to_y) if machine.beam == "x" else ("X", to_x)
        return (
            f"The bed moves here, along {axis} alone, against the arrow: for {axis}+ it goes {way}."
        )
    where = "" if machine.beam == "none" else " (where it moves along X)"
    return f"The bed moves here, against the arrows: for Y+ it goes {to_y}, for X+{where} {to_x}."


def reference_told(setup: Setup) -> str:
    """Where the code that offsets count from is set: `put a pin in A1, .. it reads X 0 Y 0 ..`.

    Empty where the machine homes.
    """
    if setup.reference is None:
        return ""
    hole, place = setup.reference
    shown = [printed_length(setup.facts, each) for each in place]
    there = f"X {shown[0]} Y {shown[1]}" if any(map(float, shown)) else "X 0 Y 0"
    out = "" if hole in setup.located.holes else "; then take that pin out"
    return (
        f"put a pin in {hole}, bring the spindle over its middle and set {setup.relative_to} so "
        f"that it reads {there} there, never by G92{out}"
    )


def pins_touch(setup: Setup) -> list[str]:
    """What each pin touches, in the order of use."""
    located = setup.located
    if located.as_measured:
        return []
    if located.on_dowels:
        return ["in its round hole", "in its slot"]
    edge, stop = edge_told(setup, located.edge_side), edge_told(setup, located.stop_side)
    return [edge, edge, stop]


def drawing_told(setups: Sequence[Setup]) -> str:
    """What the close-up shows, for who cannot see it."""
    first = setups[0]
    bare = first.facts.is_bare
    thing = "The stock" if bare else f"Jig {first.facts.holder.name}"
    pins = [
        f"{number}: {pin.hole}, {touches}"
        for number, (pin, touches) in enumerate(
            zip(first.located.pins, pins_touch(first), strict=True), 1
        )
    ]
    text = f"{thing} lies with {lies_told(first)}."
    text += f" Pins in the order of use: {'; '.join(pins)}." if pins else " No pins hold it."
    if first.located.corner_hole:
        text += f" {first.located.corner_hole} stays empty."
    for setup in setups:
        axes = setup.program_in_bed
        x, y = (
            POINTS[setup.person.way_on_bed(axes.vector(each))] for each in ((1.0, 0.0), (0.0, 1.0))
        )
        nest = f" of nest {setup.nest.name}" if len(setups) > 1 else ""
        text += f" Program zero{nest} lies {zero_from_corner(setup)}; its X points {x}, its Y {y}."
    return text
