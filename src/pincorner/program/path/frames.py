"""Where a program runs: a station's work offset as its setup block writes it."""

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
from pincorner.setups.setup import Setup
from pincorner.units import exact_mm

UNKNOWN = math.nan


def written_in_machine(setup: Setup) -> Pose:
    """The program's frame as the block writes it: rounded, and turned only if the angle is written.

    On machines that do not home the frame `machine` is that of the reference code.
    """
    own = setup.printed.own
    x_mm, y_mm = (exact_mm(float(figure), own.unit) for figure in (own.x, own.y))
    angle_deg = float(setup.printed.angle) if setup.writes_angle else 0.0
    return Pose.of_degrees("machine", "program", x_mm, y_mm, angle_deg)


def bed_in_program(setup: Setup) -> Pose:
    """Where the bed, and all that stands on it, lies in the program's frame as it is written."""
    return written_in_machine(setup).inverse() @ setup.bed_in_machine


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
            origins[nest.work_offset] = (there.x_mm, there.y_mm, z_mm)
    return origins
