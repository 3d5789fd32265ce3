"""Who stands at a machine: what right and left, behind and in front mean, on paper and in words.

Every drawing is turned by quarters so that this person stands below it, and every word of direction
is theirs. A bed that lies askew by less than half a quarter is drawn and told as if it lay square.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from pincorner.documents.machines import Machine, Side
from pincorner.geometry.pose import XY, Pose, turned_by_quarters

Way = Literal["right", "left", "away", "toward"]
"""A direction as somebody sees it who faces the machine."""

WAYS: dict[XY, Way] = {
    (1.0, 0.0): "right", (-1.0, 0.0): "left", (0.0, 1.0): "away", (0.0, -1.0): "toward",
}  # fmt: skip
POINTS: dict[Way, str] = {
    "right": "to your right", "left": "to your left", "away": "away from you", "toward": "to you",
}  # fmt: skip
"""Which way something points."""
MOVED: dict[Way, str] = {
    "right": "to the right", "left": "to the left",
    "away": "farther from you", "toward": "nearer to you",
}  # fmt: skip
"""Which way something was found off, or has moved."""
EDGES: dict[Way, str] = {"right": "right", "left": "left", "away": "far", "toward": "near"}
"""What an edge of the bed is called: a jig alone has a front."""
PLACED: dict[Way, str] = {
    "right": "right of", "left": "left of", "away": "behind", "toward": "in front of",
}  # fmt: skip
"""Where something lies from something else."""

_QUARTERS: dict[Side, int] = {"front": 0, "left": 1, "back": 2, "right": 3}
"""Quarter turns, counter-clockwise, that bring this side of a machine below."""


class Person(NamedTuple):
    """Who stands at `side` of a machine; not `stated`, where it does not say: who looks from there.

    `of_machine`, `of_bed`: by how many quarters, counter-clockwise, the machine's and the bed's
    axes are turned in their eyes: X to the right, Y away.
    """

    side: Side = "front"
    of_machine: int = 0
    of_bed: int = 0
    stated: bool = False

    @property
    def place(self) -> str:
        """Where they stand: `machine's left side`."""
        return f"machine's {self.side}{' side' if self.side in ('left', 'right') else ''}"

    def machine_vector(self, vector: XY) -> XY:
        """A direction in the machine as (right, away)."""
        return turned_by_quarters(vector, self.of_machine)

    def bed_vector(self, vector: XY) -> XY:
        """A direction on the bed as (right, away)."""
        return turned_by_quarters(vector, self.of_bed)

    def way_on_bed(self, vector: XY) -> Way:
        """Which way a direction on the bed points, to the nearest quarter."""
        return nearest_way(self.bed_vector(vector))


def person_at(machine: Machine | None, bed_in_machine: Pose | None) -> Person:
    """The person at the side that a machine names, at its front where it names none."""
    return person_beside(None if machine is None else machine.operator, bed_in_machine)


def person_beside(stated: Side | None, bed_in_machine: Pose | None) -> Person:
    """The person at a side, at the front where none is stated."""
    side: Side = "front" if stated is None else stated
    quarters = _QUARTERS[side]
    turned = 0.0 if bed_in_machine is None else bed_in_machine.angle_rad / (math.pi / 2)
    return Person(side, quarters, (quarters + round(turned)) % 4, stated is not None)


def nearest_way(seen: XY) -> Way:
    """The way that a direction (right, away) points nearly in."""
    right, away = seen
    if abs(right) >= abs(away):
        return "right" if right > 0 else "left"
    return "away" if away > 0 else "toward"
