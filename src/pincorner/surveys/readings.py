"""Which readings of a survey count, and what to say of readings that fit nowhere."""

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
from pincorner.geometry.swelling import shape_of
from pincorner.units import MM_PER_INCH, Unit, in_unit, told

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
