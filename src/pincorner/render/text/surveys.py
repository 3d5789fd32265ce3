"""A survey as text."""

from __future__ import annotations

import math
from collections.abc import Sequence

from pincorner.characters import visible
from pincorner.documents.beds import Bed
from pincorner.geometry.pose import normal_deg
from pincorner.geometry.swelling import Deviation, Shape
from pincorner.render.text.tables import table
from pincorner.setups.setup import OffsetRow, Setup
from pincorner.surveys.next_hole import FurtherHole
from pincorner.surveys.result import SurveyedHole, SurveyResult
from pincorner.units import Unit, figure, fixed, per_thousand, told

PPM = 1e6
MM_PER_M = 1e3

Moved = Sequence[tuple[OffsetRow, OffsetRow]]
"""Nests as they are, and as they are with the survey."""


def survey_text(
    bed: Bed,
    result: SurveyResult,
    further: FurtherHole | None,
    accepted: str | None,
    moved: Moved = (),
) -> str:
    """The survey for a terminal: its figures, what it moves, and whether it counts."""
    lines = [
        *survey_figures(bed, result),
        _further(further, result.unit),
        _moved_text(moved),
        _accepted(accepted),
    ]
    return "".join(f"{line}\n" for line in lines if line is not None).rstrip("\n") + "\n"


def survey_figures(bed: Bed, result: SurveyResult) -> list[str]:
    """The fit, its shape and its holes, along the machine's axes and in its unit."""
    pose, sd, unit = result.pose, result.pose_sd, result.unit
    lines = [
        f"Survey of bed {visible(bed.name)}: {result.points} of {len(result.readings)} readings "
        "agree and were used",
        "",
        table(("", "value", "+/-"), [
            (f"A1 lies at X, {unit}", figure(pose.x_mm, unit, 4), _length_sd(sd.x_mm, unit)),
            (f"A1 lies at Y, {unit}", figure(pose.y_mm, unit, 4), _length_sd(sd.y_mm, unit)),
            ("row 1 is turned by, degrees", fixed(pose.angle_deg, 5), _sd(sd.angle_deg, 5)),
            *_shape_rows(result.shape, unit),
            *_surface_rows(result),
        ], ".rr"),
        _spread_line(result),
        _shape_line(result),
        "",
        table(("hole", f"X off, {unit}", "Y off", "Z off", ""), [
            _cells(hole, unit) for hole in result.holes
        ], ".rrr"),
        *result.notes,
    ]  # fmt: skip
    return [line for line in lines if line is not None]


def _sd(value: float | None, decimals: int) -> str:
    return "not known" if value is None else fixed(value, decimals)


def _length_sd(value_mm: float | None, unit: Unit) -> str:
    return "not known" if value_mm is None else figure(value_mm, unit, 4)


def _shape_rows(shape: Shape | None, unit: Unit) -> list[tuple[str, str, str]]:
    if shape is None:
        return []
    parts = (
        ("scale along X, ppm", shape.scale_x, PPM, 0),
        ("scale along Y, ppm", shape.scale_y, PPM, 0),
        (f"out of square, {per_thousand(unit)}", shape.squareness, MM_PER_M, 3),
    )
    return [
        (
            words,
            fixed(each.value * factor, decimals),
            _sd(None if each.sd is None else each.sd * factor, decimals),
        )
        for words, each, factor, decimals in parts
    ]


def _surface_rows(result: SurveyResult) -> list[tuple[str, str, str]]:
    surface = result.surface
    if surface is None:
        return []
    sds = surface.sds or (None, None, None)
    slopes = ((surface.slope_x, sds[1]), (surface.slope_y, sds[2]))
    return [
        (
            f"surface in the middle, machine Z, {result.unit}",
            figure(surface.height_mm, result.unit, 4),
            _length_sd(sds[0], result.unit),
        ),
        *(
            (
                f"surface rises along {axis}, {per_thousand(result.unit)}",
                fixed(slope * MM_PER_M, 3),
                _sd(None if sd is None else sd * MM_PER_M, 3),
            )
            for axis, (slope, sd) in zip("XY", slopes, strict=True)
        ),
    ]


def _spread_line(result: SurveyResult) -> str:
    if result.dof == 0:
        return (
            "+/-: one standard deviation, as bed and machine state it; nothing is left to judge by"
        )
    s, rms = (told(each, result.unit, 4) for each in (result.s_mm or 0.0, result.rms_mm))
    return (
        f"+/-: one standard deviation; a reading lies {s} off per axis ({result.dof} degrees of "
        f"freedom), rms {rms}"
    )


def _shape_line(result: SurveyResult) -> str | None:
    if result.shape is None or (result.dof == 0 and not result.significant):
        return None
    if all(each.sd is None for each in result.shape):
        x, y = (fixed(each.value * 1e6, 0) for each in (result.shape.scale_x, result.shape.scale_y))
        return (
            f"So few readings leave nothing to judge the grid by: they would have it longer by {x} "
            f"ppm along X and {y} ppm along Y. Read more holes."
        )
    if not result.significant:
        return "The grid is as drawn, as far as these readings can tell."
    parts = [
        words
        for words, each in (
            (_swollen("X", result.shape.scale_x, result.unit), result.shape.scale_x),
            (_swollen("Y", result.shape.scale_y, result.unit), result.shape.scale_y),
            (
                f"out of square by {_told_share(result.shape.squareness, result.unit)}",
                result.shape.squareness,
            ),
        )
        if each.significant
    ]
    return f"The grid is {' and '.join(parts)}: hole places follow it, the angle does not."


def _swollen(axis: str, scale: Deviation, unit: Unit) -> str:
    return (
        f"{'longer' if scale.value > 0 else 'shorter'} along {axis} by {_told_share(scale, unit)}"
    )


def _told_share(deviation: Deviation, unit: Unit) -> str:
    return f"{fixed(abs(deviation.value) * MM_PER_M, 3)} {per_thousand(unit)}"


def _cells(hole: SurveyedHole, unit: Unit) -> tuple[str, ...]:
    above = "" if hole.dz_mm is None else figure(hole.dz_mm, unit)
    suspect = f"! {hole.suspect}" if hole.suspect else ""
    return hole.label, figure(hole.dx_mm, unit), figure(hole.dy_mm, unit), above, suspect


def _further(further: FurtherHole | None, unit: Unit) -> str | None:
    if further is None:
        return None
    gain = f"to {told(further.u95_after_mm, unit)}"
    if math.isfinite(further.u95_before_mm):
        gain = f"from {figure(further.u95_before_mm, unit)} {gain}"
    return (
        f"Measuring {further.label} too would help most: the survey's part at the worst stock "
        f"corner goes {gain}."
    )


def _moved_text(moved: Moved) -> str | None:
    """How far the survey moves each nest's offset, and which blocks are refused then."""
    rows = [
        (*_names(before), *_moves(before.setup, after.setup))
        for before, after in moved
        if before.setup is not None and after.setup is not None
    ]
    if not rows:
        return None
    unit = moved[0][0].facts.machine.units
    heads = ("station", "nest", f"X moves, {unit}", "Y moves", "turns, degrees", "")
    return "\n" + table(heads, rows, "..rrr")


def _names(row: OffsetRow) -> tuple[str, str]:
    return visible(row.facts.station.name), visible(row.nest)


def _moves(before: Setup, after: Setup) -> tuple[str, ...]:
    unit, old, new = after.printed.own.unit, before.zero_in_machine, after.zero_in_machine
    turned_deg = normal_deg(after.angle_deg - before.angle_deg)
    return (
        figure(new.x_mm - old.x_mm, unit),
        figure(new.y_mm - old.y_mm, unit),
        fixed(turned_deg, 4),
        "! NO BLOCK with it" if after.stopped else "",
    )


def _accepted(accepted: str | None) -> str:
    if accepted is None:
        return "Not accepted: nothing was changed. Say --accept to make it the bed's pose."
    return (
        f"Accepted as survey {accepted}: offsets follow from now on. Blocks, sheets and stamped "
        "programs whose offsets it moved are stale: see pincorner status."
    )
