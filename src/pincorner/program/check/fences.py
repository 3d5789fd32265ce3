"""Fences: upright boxes of the stock, the bed and the machine that the tool must stay within."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from pincorner.geometry.outline import Box
from pincorner.geometry.pose import Pose, cos_sin
from pincorner.program.check.surroundings import stock_and_run_off
from pincorner.program.reader.motions import Floats
from pincorner.setups.setup import Setup, bed_in_program, written_in_machine


class Fence(NamedTuple):
    """A box that the tool must not leave while it is below `below_mm` (the program's Z).

    `pose`: the program in the frame of `box`. `edge`: whether the cutter's edge counts, or its
    axis. `cuts`: whether cuts alone count, or rapids too. `allowed_mm`: how far beyond something
    (the stock) the box reaches.
    """

    code: str
    name: str
    box: Box
    pose: Pose
    below_mm: float
    edge: bool
    cuts: bool
    allowed_mm: float = 0.0

    def beyond(self, points: Floats, radius: Floats | float) -> Floats:
        """How far discs around points (k, 2 or 3) reach over the box; negative within it."""
        cos, sin = cos_sin(self.pose.angle_rad)
        x, y = points[:, 0], points[:, 1]
        u, v = self.pose.x_mm + cos * x - sin * y, self.pose.y_mm + sin * x + cos * y
        box = self.box
        over = np.maximum(
            np.maximum(box.left - u, u - box.right), np.maximum(box.front - v, v - box.back)
        )
        beyond: Floats = over + radius if self.edge else over
        return beyond


def fences_of(setup: Setup, nest: Setup, run_off_mm: float) -> Iterator[Fence]:
    """The fences around `nest`, in the frame of the program for `setup` (of the same station)."""
    bed_to_program = bed_in_program(setup)
    top_mm = nest.heights.stock_top_mm - setup.heights.zero_mm
    room = stock_and_run_off(nest, run_off_mm)
    in_nest = (bed_to_program @ nest.nest_in_bed).inverse()
    yield Fence(
        "outside-stock", "the stock", room, in_nest, top_mm, edge=True, cuts=False,
        allowed_mm=run_off_mm,
    )  # fmt: skip
    bed = setup.facts.bed
    in_bed = bed_to_program.inverse()
    aside = "," if bed.outline is None else ""  # closes what is told of an edge nobody stated
    name = f"the {bed.edge_told}{aside}"
    yield Fence("outside-bed", name, bed.box, in_bed, top_mm, edge=True, cuts=True)
    machine = setup.facts.machine
    travel = machine.travel
    if travel is not None and machine.homes and (travel.x or travel.y):
        spans = (span or (-math.inf, math.inf) for span in (travel.x, travel.y))
        (left, right), (front, back) = spans
        box, in_machine = Box(left, front, right, back), written_in_machine(setup)
        name = f"the travel of {machine.name}"
        yield Fence("outside-travel", name, box, in_machine, math.inf, edge=False, cuts=False)


class Ceiling(NamedTuple):
    """The program's Z that the nose must not pass."""

    code: str
    name: str
    z_mm: float


def ceiling_of(setup: Setup) -> Ceiling | None:
    """The upper end of the machine's travel in Z; None where it is not known in the program's Z.

    The gauge point, for which the travel and the surface are stated, is never lower than the nose,
    so that a nose beyond the end is beyond what the machine can do, whatever the tool's length.
    """
    machine, surface = setup.facts.machine, setup.heights.surface_mm
    travel = machine.travel
    if travel is None or travel.z is None or surface is None or not machine.homes:
        return None
    z_mm = travel.z[1] - surface - setup.heights.zero_mm
    return Ceiling("outside-travel", f"the travel of {machine.name} in Z", z_mm)
