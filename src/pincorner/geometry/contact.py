"""The corner made by two edge pins and a stop pin (3-2-1 location in the plane).

The part is pushed against three round pins that lie outside it: two under one straight edge, one
on the edge at right angles. With unequal radii the edge is the pins' external tangent on the
part's side. Checked in the tests against a numerical second method and the worked examples.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Corner:
    """An inside corner, or a stack of them (leading shape `...`), in the frame of the pins.

    point_mm (..., 2): where the two edges meet. angle_rad (...): of the corner's frame, nearly
    parallel to the pins' frame. contacts_mm, normals (..., 3, 2): where the edge pins and the stop
    touch, and the unit vectors there that point into the part. toward (..., 2): signs of the
    quadrant that the part lies in.
    """

    point_mm: Array
    angle_rad: Array
    contacts_mm: Array
    normals: Array
    toward: Array


def corner_from_pins(pins_mm: Any, radii_mm: Any) -> Corner:
    """The corner that two edge pins and a stop pin make.

    pins_mm (..., 3, 2): centres of the two edge pins, then the stop; radii_mm (..., 3). The edge's
    normal n satisfies n·(p2 - p1) = r1 - r2. Pins that make no corner (two at one place, one
    inside the other, a stop on the edge pins' line) give NaN: see `why_no_corner`.
    """
    pins, radii = np.asarray(pins_mm, float), np.asarray(radii_mm, float)
    first, second, stop = pins[..., 0, :], pins[..., 1, :], pins[..., 2, :]
    along = second - first
    length = np.hypot(along[..., 0], along[..., 1])[..., None]
    with np.errstate(divide="ignore", invalid="ignore"):
        along = along / length
        lean = (radii[..., 0] - radii[..., 1])[..., None] / length
        square = quarter_turn(along)
        square = square * np.sign(_dot(square, stop - first))[..., None]
        normal = np.sqrt(1 - lean**2) * square + lean * along
        inward = quarter_turn(normal)
        inward = inward * np.sign(_dot(inward, (first + second) / 2 - stop))[..., None]
    edge_at = _dot(normal, first) + radii[..., 0]
    stop_at = _dot(inward, stop) + radii[..., 2]
    point = normal * edge_at[..., None] + inward * stop_at[..., None]
    normals = np.stack([normal, normal, inward], axis=-2)
    angle, toward = _frame(along, normal, inward)
    return Corner(point, angle, pins + radii[..., None] * normals, normals, toward)


def _frame(along: Array, normal: Array, inward: Array) -> tuple[Array, Array]:
    """Angle of the corner's frame and its quadrant, whichever edge carries the two pins."""
    lies_along_x = np.abs(along[..., 0]) >= np.abs(along[..., 1])
    main = np.where(lies_along_x, inward[..., 0], inward[..., 1])
    edge = inward * np.where(main < 0, -1.0, 1.0)[..., None]
    angle = np.arctan2(edge[..., 1], edge[..., 0])
    angle = np.where(lies_along_x, angle, angle - np.pi / 2)
    x_sign = np.where(lies_along_x, inward[..., 0], normal[..., 0])
    y_sign = np.where(lies_along_x, normal[..., 1], inward[..., 1])
    return angle, np.sign(np.stack([x_sign, y_sign], axis=-1))


def why_no_corner(pins_mm: Any, radii_mm: Any) -> str | None:
    """Why these three pins (shape (3, 2), radii (3,)) make no corner; None where they do."""
    pins, radii = np.asarray(pins_mm, float), np.asarray(radii_mm, float)
    along = pins[1] - pins[0]
    distance = float(np.hypot(*along))
    if distance <= abs(radii[0] - radii[1]):
        return f"the two edge pins stand {distance:.3f} mm apart, one inside the other"
    off_line = abs(float(_dot(quarter_turn(along / distance), pins[2] - pins[0])))
    if off_line <= radii[2]:
        return (
            f"the stop stands {off_line:.3f} mm off the line of the edge pins and makes no corner"
        )
    return None


def quarter_turn(vectors: Array) -> Array:
    """Vectors (..., 2) turned 90 degrees counter-clockwise."""
    return np.stack([-vectors[..., 1], vectors[..., 0]], axis=-1)


def _dot(a: Array, b: Array) -> Array:
    product: Array = (a * b).sum(axis=-1)
    return product
