"""A survey of a bed: where its grid lies in the machine, its shape, and which readings to doubt.

Nothing is refitted later: what is accepted is stored with the readings.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from pincorner.documents.beds import Bed
from pincorner.documents.survey_csv import MeasuredHole
from pincorner.errors import BadInput
from pincorner.geometry.consensus import Flags, Stated
from pincorner.geometry.fits import (
    Affine,
    Floats,
    Rigid,
    Scatter,
    affine_fit,
    plane_fit,
    rigid_fit,
    scatter_of,
)
from pincorner.geometry.place_spread import PlaceErrors, place_covariance
from pincorner.geometry.pose import XY, normal_deg
from pincorner.geometry.swelling import Shape, shape_of
from pincorner.surveys.readings import (
    Places,
    notes,
    odd_height,
    odd_heights,
    odd_place,
    readings_that_count,
)
from pincorner.surveys.result import (
    PoseFound,
    PoseSd,
    Surface,
    SurveyedHole,
    SurveyResult,
)
from pincorner.units import Unit


def make_survey(
    bed: Bed,
    readings: tuple[MeasuredHole, ...],
    reading_sd_mm: float | None = None,
    unit: Unit = "mm",
) -> SurveyResult:
    """Fit the bed's pose to measured holes.

    `readings`: each a hole of the bed, none twice, as `read_survey` gives them; `reading_sd_mm` is
    the machine's repeatability, `unit` in which the survey is told. Raises BadInput where the
    readings fit the bed nowhere, with the likely reason.
    """
    if not readings:
        raise BadInput(f"no reading of bed {bed.name} is given")
    places = _places(bed, readings, reading_sd_mm, unit)
    used = readings_that_count(places)
    rigid = rigid_fit(places.drawn[used], places.measured[used], places.stated.angle_rad)
    affine, shape = _shape(places, used)
    fit = affine or rigid
    s_mm = math.sqrt(fit.rss / fit.dof) if fit.dof else places.stated_sd_mm
    heights = _heights(readings, used, fit.drawn_at(places.measured), rigid.scatter)
    result = SurveyResult(
        bed=bed.name,
        readings=readings,
        holes=_holes(places, used, fit, heights),
        pose=PoseFound(rigid.x_mm, rigid.y_mm, normal_deg(math.degrees(rigid.angle_rad))),
        pose_sd=_pose_sd(rigid, s_mm),
        points=int(used.sum()),
        s_mm=s_mm,
        dof=fit.dof,
        rms_mm=math.sqrt(fit.rss / (2 * int(used.sum()))),
        shape=shape,
        scatter=rigid.scatter,
        linear=_linear(affine, rigid.angle_rad),
        surface=heights.surface,
        unit=unit,
        notes=(),
    )
    return result._replace(notes=notes(result, places))


def _places(
    bed: Bed, readings: tuple[MeasuredHole, ...], reading_sd_mm: float | None, unit: Unit
) -> Places:
    holes = []
    for reading in readings:
        place = bed.hole(reading.label)
        if place is None:
            raise BadInput(f"bed {bed.name} has no hole {reading.label}")
        holes.append(place)
    every = bed.holes()
    sds = [sd for sd in (bed.grid.hole_position, reading_sd_mm) if sd is not None]
    return Places(
        bed=bed.name,
        labels=tuple(place.label for place in holes),
        drawn=np.array([place.at_mm for place in holes]),
        measured=np.array([(reading.x_mm, reading.y_mm) for reading in readings]),
        every_label=tuple(place.label for place in every),
        every=np.array([place.at_mm for place in every]),
        stated=Stated(bed.pose.x, bed.pose.y, math.radians(bed.pose.angle)),
        pitch_mm=bed.grid.pitch,
        stated_sd_mm=math.hypot(*sds) or None,
        unit=unit,
    )


def _shape(places: Places, used: Flags) -> tuple[Affine | None, Shape | None]:
    """The affine fit, where its shape is significant, and the shape, where there is one."""
    drawn = places.drawn[used]
    if len(drawn) < 3 or scatter_of(drawn).flat:
        return None, None
    affine = affine_fit(drawn, places.measured[used])
    shape = shape_of(affine, places.stated_sd_mm)
    return (affine if shape.significant else None), shape


def _linear(affine: Affine | None, angle_rad: float) -> tuple[XY, XY] | None:
    """The affine map as seen from the rigid fit's axes."""
    if affine is None:
        return None
    (xx, xy), (yx, yy) = affine.seen_from(angle_rad).tolist()
    return (xx, xy), (yx, yy)


def _pose_sd(rigid: Rigid, s_mm: float | None) -> PoseSd:
    """Of hole A1 as drawn, which the rigid fit places, and of its angle."""
    if s_mm is None:
        return PoseSd(None, None, None)
    errors = PlaceErrors(s_mm, rigid.scatter, affine=False, angle_rad=rigid.angle_rad)
    spread = place_covariance(errors, (0.0, 0.0))
    turned = rigid.scatter.points > 1
    angle_deg = math.degrees(math.sqrt(spread.aa)) if turned else None
    return PoseSd(math.sqrt(spread.xx), math.sqrt(spread.yy), angle_deg)


class _Heights(NamedTuple):
    """The surface, and how far above it each reading is (None without), and whether too far."""

    surface: Surface | None
    above_mm: tuple[float | None, ...]
    odd: tuple[bool, ...]


def _heights(
    readings: tuple[MeasuredHole, ...], used: Flags, drawn: Floats, scatter: Scatter
) -> _Heights:
    """The plane of the heights at used holes, without those that are far off the others."""
    count = len(readings)
    nothing = _Heights(None, (None,) * count, (False,) * count)
    read = np.array([math.nan if each.z_mm is None else each.z_mm for each in readings])
    counts = np.flatnonzero(used & np.isfinite(read))
    if len(counts) < 3 or scatter_of(drawn[counts]).flat:
        return nothing
    odd = counts[odd_heights(drawn[counts], read[counts])]
    counts = np.setdiff1d(counts, odd)
    plane = plane_fit(drawn[counts], read[counts])
    s_mm = math.sqrt(plane.rss / plane.dof) if plane.dof else None
    surface = Surface(
        height_mm=plane.at(scatter.x_mm, scatter.y_mm),
        slope_x=plane.slope_x,
        slope_y=plane.slope_y,
        rms_mm=math.sqrt(plane.rss / len(counts)),
        points=len(counts),
        dof=plane.dof,
        sds=None if s_mm is None else plane.sds(s_mm),
    )
    above = [
        None if each.z_mm is None else each.z_mm - plane.at(*at)
        for each, at in zip(readings, drawn.tolist(), strict=True)
    ]
    return _Heights(surface, tuple(above), tuple(at in odd for at in range(count)))


def _holes(
    places: Places, used: Flags, fit: Affine | Rigid, heights: _Heights
) -> tuple[SurveyedHole, ...]:
    off = (places.measured - fit.places(places.drawn)).tolist()
    in_bed = fit.drawn_at(places.measured)
    found = []
    for at, (label, (dx_mm, dy_mm)) in enumerate(zip(places.labels, off, strict=True)):
        above_mm, doubts = heights.above_mm[at], []
        if not used[at]:
            doubts.append(odd_place(places, label, (dx_mm, dy_mm), in_bed[at]))
        if above_mm is not None and heights.odd[at]:
            doubts.append(odd_height(above_mm, places.unit))
        suspect = "; ".join(doubts) or None
        found.append(SurveyedHole(label, dx_mm, dy_mm, above_mm, suspect, bool(used[at])))
    return tuple(found)
