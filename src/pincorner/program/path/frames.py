"""Where a program runs: the frame that it is read in, with offsets as setup blocks write them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from pincorner.documents.machines import Machine
from pincorner.geometry.outline import TOUCH_MM
from pincorner.geometry.pose import Pose
from pincorner.program.reader.motions import Frame
from pincorner.program.reader.reading import reading_of
from pincorner.program.reader.summary import Summary
from pincorner.program.source.text import ProgramText
from pincorner.setups.setup import Setup, written_in_machine

UNKNOWN = math.nan


def frame_of(setup: Setup, nests: Sequence[Setup] = ()) -> Frame:
    """The frame that a program for a nest is read in.

    `nests`: the setups of all nests of the station, whose codes the same program may select; those
    that are written at another angle are left out.
    """
    machine = setup.facts.machine
    to_program = written_in_machine(setup).inverse()
    x_mm, y_mm = to_program.point((0.0, 0.0)) if machine.homes else (UNKNOWN, UNKNOWN)
    return Frame(
        code=setup.work_offset,
        origins_mm=_origins(setup, nests, to_program),
        # the tip's height in machine coordinates depends on the length of the tool in the spindle
        machine_origin_mm=(x_mm, y_mm, UNKNOWN),
        machine_angle_rad=to_program.angle_rad,
        homes_mm=_homes(machine),
        units=machine.units,
        home_named_axes=machine.home_named_axes,
        harmless=frozenset(setup.facts.dialect.harmless),
        expressions=setup.facts.dialect.expressions,
        rotated=setup.rotates and setup.work_offset is not None,
    )


def read_summary(text: ProgramText, setup: Setup, nests: Sequence[Setup]) -> Summary:
    """What a reading of the program tells besides its motions. Raises BadInput."""
    reading = reading_of(text, frame_of(setup, nests))
    for _ in reading.motions(text):
        pass
    return reading.summary


def _homes(machine: Machine) -> dict[str, tuple[float, float, float]]:
    """Where G28 and G30 go, as far as the machine's document says."""
    if machine.home is None:
        return {}
    known = (("G28", machine.home.g28), ("G30", machine.home.g30))
    return {word: place for word, place in known if place is not None}


def _origins(
    setup: Setup, nests: Sequence[Setup], to_program: Pose
) -> dict[str, tuple[float, float, float]]:
    """The origins of the station's codes in the program's frame."""
    origins = {}
    for nest in (*nests, setup):
        if nest.work_offset is None:
            continue
        there = to_program @ written_in_machine(nest)
        if abs(there.angle_rad) * setup.reach_mm <= TOUCH_MM:
            z_mm = nest.heights.zero_mm - setup.heights.zero_mm
            origins[nest.work_offset] = (*there.origin, z_mm)
    return origins
