"""What is noteworthy about a setup, told on table, block, sheet, map and in JSON alike."""

from __future__ import annotations

from typing import NamedTuple

from pincorner.documents.machines import Machine
from pincorner.units import fixed


class Finding(NamedTuple):
    """A code for scripts and a sentence with its figure for people."""

    code: str
    text: str


def outside_travel(machine: Machine, x_mm: float, y_mm: float, z_mm: float | None) -> list[Finding]:
    """Axes on which a program zero lies outside the machine's travel."""
    travel = machine.travel
    if travel is None:
        return []
    found = []
    axes = (("X", x_mm, travel.x), ("Y", y_mm, travel.y), ("Z", z_mm, travel.z))
    for axis, value, span in axes:
        if value is None or span is None or span[0] <= value <= span[1]:
            continue
        beyond = max(span[0] - value, value - span[1])
        found.append(
            Finding(
                "outside-travel",
                f"{axis} {fixed(value, 3)} mm lies {fixed(beyond, 3)} mm outside the travel "
                f"of {machine.name} ({fixed(span[0], 3)} to {fixed(span[1], 3)} mm)",
            )
        )
    return found
