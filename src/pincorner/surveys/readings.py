"""Which readings of a survey count, and what the survey says of them and of its fit in words."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from pincorner.errors import BadInput
from pincorner.geometry.consensus import Flags, Indices, Stated, largest_consistent
from pincorner.geometry.fits import Floats, affine_fit, rigid_fit, scatter_of
from pincorner.geometry.odd_readings import (
    Deletion,
    affine_deletion,
    odd_ones,
    plane_deletion,
    rigid_deletion,
)
from pincorner.geometry.pose import XY
from pincorner.geometry.student import coverage_factor
from pincorner.geometry.swelling import Deviation, shape_of
from pincorner.surveys.result import SurveyResult
from pincorner.units import MM_PER_INCH, Unit, in_unit, per_thousand, told

ORDINARY_SD_MM = 0.05
"""Of a reading where the bed does not state how its holes lie: common practice."""

FLAT_SD_MM = 0.1
"""A surfaced board is flat to a tenth of a millimetre: common practice."""

LEAST_ROOM_MM = 1.0
"""So far a reading may always lie off while wrong labels are searched for."""

ON_HOLE = 0.25
"""A reading within this share of the pitch of a hole's centre lies on that hole."""

ROUGH = 3.0
"""Readings that scatter so many times what is stated are no longer those of the stated bed."""

BELIEVABLE = 0.005
"""No board swells by more of its length, and no gantry is farther out of square: common practice,
well over the 0.33 % of ANSI A208.2."""

FAR_DEG = 5.0
"""A bed that lies farther from its stated angle has been turned, or its labels are wrong: common
practice."""


class Places(NamedTuple):
    """The holes of a survey as drawn and as measured, (n, 2) mm, and what is known beforehand.

    every, every_label: all holes of the bed as drawn, (m, 2) mm. stated_sd_mm: standard deviation
    of a reading per axis as bed and machine state it; None where they state nothing. unit: in which
    sentences tell lengths.
    """

    bed: str
    labels: tuple[str, ...]
    drawn: Floats
    measured: Floats
    every_label: tuple[str, ...]
    every: Floats
    stated: Stated
    pitch_mm: tuple[float, float]
    stated_sd_mm: float | None
    unit: Unit

    @property
    def least_sd_mm(self) -> float:
        """No reading is thought better than this."""
        return ORDINARY_SD_MM if self.stated_sd_mm is None else self.stated_sd_mm

    def consistent(self) -> Flags:
        """The largest set of readings that one pose explains, (n,)."""
        room_mm = max(LEAST_ROOM_MM, 8 * self.least_sd_mm)
        return largest_consistent(
            self.drawn, self.measured, room_mm, self.stated, min(self.pitch_mm)
        )

    def enough(self, kept: Flags) -> bool:
        """More than half agree; or just half, and every other reading lies on another hole.

        Two of more are not enough where they have the bed turned round: swapped labels agree so.
        """
        count, agree = len(kept), int(kept.sum())
        if count == 1:
            return True
        if agree < 2 or 2 * agree < count:
            return False
        fit = rigid_fit(self.drawn[kept], self.measured[kept])
        if agree == 2 < count and abs(self.turned_rad(fit.angle_rad)) > math.pi / 4:
            return False
        if 2 * agree > count:
            return True
        others = fit.drawn_at(self.measured[~kept])
        off_mm = np.linalg.norm(others[:, None] - self.every, axis=2).min(axis=1)
        return bool((off_mm <= ON_HOLE * min(self.pitch_mm)).all())

    def turned_rad(self, angle_rad: float) -> float:
        """How far an angle is from the stated one."""
        return math.remainder(angle_rad - self.stated.angle_rad, math.tau)

    def fits_as(self, measured: Floats) -> bool:
        """Whether other readings of the same holes would fit the bed."""
        other = self._replace(measured=measured)
        return other.enough(other.consistent())


def readings_that_count(places: Places) -> Flags:
    """The readings that the fit is made of, (n,). Raises BadInput where they fit nowhere."""
    kept = places.consistent()
    if not places.enough(kept):
        raise BadInput(_why_nowhere(places, kept))
    inside = np.flatnonzero(kept)
    kept[inside[odd_places(places, inside)]] = False
    return kept


def odd_places(places: Places, inside: Indices) -> Flags:
    """Bad readings of some millimetres among readings that roughly belong together.

    Tested against a rigid fit of the others, which sees most, unless the bed is plainly swollen:
    then against an affine one.
    """
    drawn, measured = places.drawn[inside], places.measured[inside]

    def from_rigid(left: Flags) -> Deletion:
        return rigid_deletion(drawn[left], measured[left])

    def from_affine(left: Flags) -> Deletion:
        return affine_deletion(drawn[left], measured[left])

    odd = odd_ones(from_rigid, len(drawn), places.least_sd_mm, 3)
    if len(drawn) < 4 or scatter_of(drawn).flat:
        return odd
    if_swollen = odd_ones(from_affine, len(drawn), places.least_sd_mm, 4)
    no_more = if_swollen.sum() <= odd.sum()
    if _swollen(places, inside[~if_swollen]) and (no_more or _rough(places, inside[~odd])):
        return if_swollen
    return odd


def _swollen(places: Places, at: Indices) -> bool:
    """Whether these readings show a bed that is swollen or out of square, in a believable way."""
    drawn = places.drawn[at]
    if len(drawn) < 4 or scatter_of(drawn).flat:
        return False
    shape = shape_of(affine_fit(drawn, places.measured[at]), places.stated_sd_mm)
    return shape.significant and all(abs(each.value) <= BELIEVABLE for each in shape)


def _rough(places: Places, at: Indices) -> bool:
    """Whether a rigid fit of these readings leaves more than holes and readings explain."""
    fit = rigid_fit(places.drawn[at], places.measured[at])
    return fit.rss > fit.dof * (ROUGH * places.least_sd_mm) ** 2


def odd_heights(drawn: Floats, heights: Floats) -> Flags:
    """Heights (n,) that are far off the plane of the others."""
    if scatter_of(drawn).flat:
        return np.zeros(len(drawn), dtype=bool)
    return odd_ones(
        lambda left: plane_deletion(drawn[left], heights[left]), len(drawn), FLAT_SD_MM, 4
    )


def _why_nowhere(places: Places, kept: Flags) -> str:
    """What is probably wrong with readings of which too few agree."""
    measured, count = places.measured, len(places.labels)
    if places.fits_as(measured * MM_PER_INCH):
        return (
            f"the readings fit bed {places.bed} if they are inches: the pitch comes out 25.4 times "
            "too small; head the columns hole,x_in,y_in"
        )
    if places.fits_as(measured / MM_PER_INCH):
        return (
            f"the readings fit bed {places.bed} if they are mm, not inches: the pitch comes out "
            "25.4 times too large; head the columns hole,x_mm,y_mm"
        )
    if count == 2:
        return _two_apart(places)
    if places.fits_as(measured * (1, -1)):
        return (
            f"the readings are a mirror image of bed {places.bed}: X and Y are exchanged, or one "
            "axis is counted the wrong way"
        )
    scale = _scale(places)
    if places.fits_as(measured / scale):
        pitch = [in_unit(each, places.unit) for each in places.pitch_mm]
        found_x, found_y = (f"{scale * each:.4g}" for each in pitch)
        return (
            f"the readings fit a pitch of {found_x} by {found_y} {places.unit}, and bed "
            f"{places.bed} has {pitch[0]:.6g} by {pitch[1]:.6g} {places.unit}: is it another bed?"
        )
    agree = int(kept.sum())
    if agree == 2 and count < 5:
        pair = " and ".join(places.labels[at] for at in np.flatnonzero(kept))
        return f"of {count} readings only {pair} agree, or their labels are swapped: read all again"
    return (
        f"the readings fit bed {places.bed} nowhere: no pose explains more than {agree} of {count}"
        "; are they of another bed, or the labels of another grid?"
    )


def _two_apart(places: Places) -> str:
    drawn_mm, measured_mm = (
        float(np.linalg.norm(each[1] - each[0])) for each in (places.drawn, places.measured)
    )
    first, second = places.labels
    return (
        f"{first} and {second} were measured {told(measured_mm, places.unit, 2)} apart and are "
        f"drawn {told(drawn_mm, places.unit, 2)} apart: read both again, and look at their labels"
    )


def _scale(places: Places) -> float:
    """How much longer than drawn distances were measured, by the middle one of all pairs."""
    first, second = np.triu_indices(len(places.labels), 1)
    drawn, measured = (
        np.linalg.norm(each[second] - each[first], axis=1)
        for each in (places.drawn, places.measured)
    )
    return max(float(np.median(measured / np.maximum(drawn, 1e-9))), 1e-9)


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
    return (
        *_few(result),
        *_where(result, places),
        *_shape(result, places.unit),
        *_scatter(result, places),
    )


def _few(result: SurveyResult) -> list[str]:
    if result.points == 1:
        return ["one hole: the bed is moved, its angle stays as entered"]
    if result.points == 2:
        return [
            "two holes: moved and turned, and no redundancy: a wrong reading would not show; "
            "whether the bed has swollen, is out of square or lies at another height is not known"
        ]
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


def _shape(result: SurveyResult, unit: Unit) -> list[str]:
    """What is significant of the bed's shape, in thousandths."""
    if result.shape is None or not result.significant:
        return []
    shape = result.shape
    said = [
        f"{'longer' if scale.value > 0 else 'shorter'} than drawn along {axis} by "
        f"{_told_share(abs(scale.value), scale, result.dof, unit)}"
        for axis, scale in (("X", shape.scale_x), ("Y", shape.scale_y))
        if scale.significant
    ]
    square = shape.squareness
    if square.significant:
        said.append(f"out of square by {_told_share(square.value, square, result.dof, unit)}")
    return [f"{'; '.join(said)}: hole places follow the measured shape"]


def _told_share(value: float, of: Deviation, dof: int, unit: Unit) -> str:
    u95 = coverage_factor(dof) * (of.sd or 0.0)
    return f"{1000 * value:.2f} {per_thousand(unit)} (u95 {1000 * u95:.2f})"


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
