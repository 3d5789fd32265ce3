"""A second place that shows on the machine whether its axes are turned, for the setup sheet.

Program zero lies at the same place with and without the rotation, and no read-out tells the angle
as a position. A place far along the stock does show it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from pincorner.geometry.outline import bounds
from pincorner.geometry.pose import XY, Pose
from pincorner.setups.printed import printed_length
from pincorner.setups.setup import Setup, written_in_machine
from pincorner.units import Unit, exact_mm, in_unit


class SecondPoint(NamedTuple):
    """`words` are keyed behind G0 (`X100 Y0`); `x` and `y` is what the machine must then read."""

    words: str
    x: str
    y: str


def turns_axes(setup: Setup) -> bool:
    """Whether the controller turns its axes by an angle that shows."""
    return setup.writes_angle and float(setup.printed.angle) != 0


def second_point(setup: Setup) -> SecondPoint | None:
    """The farthest place of round length along an axis of the program, as far as the stock reaches
    and within the travel; None where axes are not turned, or nothing there would show it.

    It reads as the block writes offset and angle, both rounded: so the controller reckons it.
    """
    if not turns_axes(setup) or (setup.rotates and setup.relative_to):
        return None  # under G68 the reference cannot be selected to read it
    unit = setup.printed.own.unit
    zero = written_in_machine(setup)
    for axis, length in sorted(_lengths(setup), key=lambda each: -abs(each[1])):
        here = _along(axis, exact_mm(length, unit))
        place = zero.point(here)
        if _in_travel(setup, place):
            told, plain = (
                tuple(printed_length(setup.facts, value) for value in at)
                for at in (place, (zero.x_mm + here[0], zero.y_mm + here[1]))
            )
            words = " ".join(f"{a}{v:g}" for a, v in zip("XY", _along(axis, length), strict=True))
            return SecondPoint(words, *told) if told != plain else None
    return None


def _lengths(setup: Setup) -> Iterator[tuple[int, float]]:
    """Round lengths in the machine's unit from the zero along each axis (0 X, 1 Y) as far as the
    stock reaches, the longest of each way first."""
    turn_deg, unit = setup.facts.station.program_angle, setup.printed.own.unit
    posted = Pose.of_degrees("program", "nest", 0.0, 0.0, turn_deg)
    box = bounds(posted.points(setup.nest.stock.outline))
    for axis, ends in enumerate(((box.right, box.left), (box.back, box.front))):
        for end in ends:
            yield from ((axis, length) for length in _round_lengths(end, unit))


def _round_lengths(end_mm: float, unit: Unit) -> Iterator[float]:
    """Multiples of half a power of ten up to a length: 100, 50 for 101.5, 400, 350 .. for 410."""
    length = in_unit(abs(end_mm), unit)
    if length < 1e-3:
        return
    step = 10.0 ** math.floor(math.log10(length)) / 2
    for count in range(math.floor(length / step + 1e-9), 0, -1):
        yield math.copysign(count * step, end_mm)


def _along(axis: int, value: float) -> XY:
    return (value, 0.0) if axis == 0 else (0.0, value)


def _in_travel(setup: Setup, place: XY) -> bool:
    """Whether the spindle's axis can stand there, as far as the travel is known."""
    machine = setup.facts.machine
    if machine.travel is None or not machine.homes:
        return True
    spans = zip(place, (machine.travel.x, machine.travel.y), strict=True)
    return all(span is None or span[0] <= at <= span[1] for at, span in spans)
