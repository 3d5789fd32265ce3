"""What a survey says in words: of each reading to doubt, and of the fit as a whole."""

from __future__ import annotations

import math

import numpy as np

from pincorner.geometry.fits import Floats
from pincorner.geometry.pose import XY
from pincorner.geometry.student import coverage_factor
from pincorner.geometry.swelling import Deviation
from pincorner.surveys.readings import ON_HOLE, ROUGH, Places
from pincorner.surveys.result import SurveyResult
from pincorner.units import Unit, told

FAR_DEG = 5.0
"""A bed that lies farther from its stated angle has been turned, or its labels are wrong: common
practice."""


def odd_place(places: Places, label: str, off_mm: XY, in_bed: Floats) -> str:
    """What seems wrong with a reading: `off_mm` from its own hole (machine axes), at `in_bed`."""
    distances = np.linalg.norm(places.every - in_bed, axis=1)
    nearest = int(np.argmin(distances))
    other, near_mm = places.every_label[nearest], float(distances[nearest])
    if other == label:
        return f"{_off(off_mm, places.unit)}: read again"
    if near_mm <= ON_HOLE * min(places.pitch_mm):
        return f"measured as {label}, lies on {other}"
    return f"{_off(off_mm, places.unit)}, {told(near_mm, places.unit, 1)} from {other}: read again"


def odd_height(above_mm: float, unit: Unit) -> str:
    """What seems wrong with a height."""
    side = "above" if above_mm > 0 else "below"
    return f"Z {_roughly(abs(above_mm), unit)} {side} the plane of the others: read again"


def _off(off_mm: XY, unit: Unit) -> str:
    """How far off along the machine's axes; an axis with less than a tenth of it goes unsaid."""
    parts = [
        f"{_roughly(part, unit)} off in {axis}"
        for part, axis in zip(off_mm, "XY", strict=True)
        if abs(part) > 0.1 * math.hypot(*off_mm)
    ]
    return " and ".join(parts)


def _roughly(length_mm: float, unit: Unit) -> str:
    return told(length_mm, unit, 1 if abs(length_mm) >= 1 else 2)


def notes(result: SurveyResult, places: Places) -> tuple[str, ...]:
    """Sentences about the fit as a whole."""
    return (*_few(result), *_where(result, places), *_shape(result), *_scatter(result, places))


def _few(result: SurveyResult) -> list[str]:
    if result.points == 1:
        return ["one hole: the bed is moved, its angle stays as entered"]
    if result.points == 2:
        return ["two holes: moved and turned, and no redundancy: a wrong reading would not show"]
    said = []
    if result.shape is None:
        said.append(
            f"{result.points} holes in one line: scale and squareness of the bed do not show; "
            "measure one off the line"
        )
    elif result.points == 3:
        said.append("three holes: a swollen bed and a bad reading look alike; measure a fourth")
    if result.surface is None and any(each.z_mm is not None for each in result.readings):
        said.append("heights at fewer than three holes, or in one line: no plane")
    return said


def _where(result: SurveyResult, places: Places) -> list[str]:
    """Where the bed lies far from where it is stated to lie."""
    turned_deg = math.degrees(places.turned_rad(math.radians(result.pose.angle_deg)))
    shift_mm = math.dist(
        (result.pose.x_mm, result.pose.y_mm), (places.stated.x_mm, places.stated.y_mm)
    )
    if abs(turned_deg) <= FAR_DEG and shift_mm <= min(places.pitch_mm) / 2:
        return []
    return [
        f"hole A1 lies {told(shift_mm, places.unit, 1)} from its stated place and row 1 is turned "
        f"by {turned_deg:.2f} degrees: if the bed was not moved, look at the labels"
    ]


def _shape(result: SurveyResult) -> list[str]:
    """What is significant of the bed's shape, in mm per m."""
    if result.shape is None or not result.significant:
        return []
    shape = result.shape
    said = [
        f"{'longer' if scale.value > 0 else 'shorter'} than drawn along {axis} by "
        f"{_per_m(abs(scale.value), scale, result.dof)}"
        for axis, scale in (("X", shape.scale_x), ("Y", shape.scale_y))
        if scale.significant
    ]
    if shape.squareness.significant:
        said.append(
            f"out of square by {_per_m(shape.squareness.value, shape.squareness, result.dof)}"
        )
    return [f"{'; '.join(said)}: hole places follow the measured shape"]


def _per_m(value: float, of: Deviation, dof: int) -> str:
    u95 = coverage_factor(dof) * (of.sd or 0.0)
    return f"{1000 * value:.2f} mm per m (u95 {1000 * u95:.2f})"


def _scatter(result: SurveyResult, places: Places) -> list[str]:
    stated_mm, s_mm = places.stated_sd_mm, result.s_mm
    if result.dof == 0:
        if stated_mm is None:
            return ["how well the pose is known is not known: the bed states no hole_position"]
        return ["how well the pose is known follows from the stated hole_position alone"]
    if stated_mm is None or s_mm is None or s_mm <= ROUGH * stated_mm:
        return []
    s, stated = told(s_mm, places.unit, 2), told(stated_mm, places.unit, 2)
    return [f"readings scatter by {s}, where the bed and machine state {stated}"]
