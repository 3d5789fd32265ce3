"""Pins in their holes and where they put the jig."""

from __future__ import annotations

from typing import NamedTuple

from pincorner.documents.beds import Pin
from pincorner.geometry.contact import Corner
from pincorner.geometry.pose import XY, Pose

_SIDES = {(1, 1): "front", (1, -1): "back", (0, 1): "left", (0, -1): "right"}


class SetPin(NamedTuple):
    """A pin in its hole: places in bed coordinates, `normal` points into the part."""

    role: str
    hole: str
    pin: Pin
    at_mm: XY
    contact_mm: XY
    normal: XY

    @property
    def radius_mm(self) -> float:
        return self.pin.body / 2


class Located(NamedTuple):
    """Where the jig lies.

    Against edges: `pins` are the edge pins, nearest the corner first, then the stop; the corner's
    frame is nearly parallel to the bed; `corner_hole` at the inside corner stays empty (None where
    there is none). On dowels: the round hole's pin, then the slot's; the corner's frame stands on
    the round hole's pin, again nearly parallel to the bed; `toward` is empty. `corner` holds the
    contacts that locate, in the order of `contact_pins`.
    """

    pins: tuple[SetPin, ...]
    corner: Corner
    corner_in_bed: Pose
    jig_in_corner: Pose
    corner_hole: str | None
    toward: str

    @property
    def on_dowels(self) -> bool:
        return not self.toward

    @property
    def contact_pins(self) -> tuple[SetPin, SetPin, SetPin]:
        """The pin at each contact: a round hole on a dowel is held both ways."""
        first, second = self.pins[:2]
        return (first, second, first) if self.on_dowels else (first, second, self.pins[2])

    @property
    def edge_side(self) -> str:
        """The side of the jig, as it lies, that the edge pins touch: front, back, left, right."""
        return side_word(1 if self.pins_along_x else 0, self.toward)

    @property
    def stop_side(self) -> str:
        """The side of the jig, as it lies, that the stop touches."""
        return side_word(0 if self.pins_along_x else 1, self.toward)

    @property
    def pins_along_x(self) -> bool:
        """Whether the edge that carries two pins lies along X."""
        (x1, y1), (x2, y2) = self.pins[0].at_mm, self.pins[1].at_mm
        return abs(x2 - x1) >= abs(y2 - y1)


def side_word(axis: int, toward: str) -> str:
    """front, back, left or right: the side that faces the corner on an axis (0: x, 1: y)."""
    return _SIDES[axis, sign_of(toward, axis)]


def sign_of(toward: str, axis: int) -> int:
    """+1 or -1: which way a quadrant such as +x-y goes along an axis (0: x, 1: y)."""
    return 1 if toward[2 * axis] == "+" else -1
