"""What a survey of a bed tells: pose, shape, surface, and every reading with its residual."""

from __future__ import annotations

import math
from typing import NamedTuple

from pincorner.documents.survey_csv import MeasuredHole
from pincorner.geometry.fits import Scatter
from pincorner.geometry.place_spread import PlaceErrors
from pincorner.geometry.pose import XY
from pincorner.geometry.swelling import Shape
from pincorner.units import Unit


class SurveyedHole(NamedTuple):
    """One reading less the place that the fit has for its hole, along the machine's axes.

    dz_mm: above the surface's plane; None without. suspect: what seems wrong with the reading.
    used: it is part of the fit.
    """

    label: str
    dx_mm: float
    dy_mm: float
    dz_mm: float | None
    suspect: str | None
    used: bool


class PoseFound(NamedTuple):
    """The rigid fit: machine coordinates of hole A1 as drawn, and the angle of row 1."""

    x_mm: float
    y_mm: float
    angle_deg: float


class PoseSd(NamedTuple):
    """Standard deviations of the pose; None where nothing says (one hole: the angle as entered)."""

    x_mm: float | None
    y_mm: float | None
    angle_deg: float | None


class Surface(NamedTuple):
    """The plane of the heights: machine Z at the survey's centroid, rise per mm of the bed's axes.

    rms_mm: root of the mean squared distance along Z; sds of height and slopes, None with three.
    """

    height_mm: float
    slope_x: float
    slope_y: float
    rms_mm: float
    points: int
    dof: int
    sds: tuple[float, float, float] | None


class SurveyResult(NamedTuple):
    """Everything that a survey tells.

    readings, holes: as they were read, and what became of them. points: readings in the fit. s_mm:
    standard deviation of one reading per axis, measured (dof > 0) or as stated (dof 0: fewer than
    three holes; None where nothing is stated). rms_mm: sqrt(rss / 2 n), of the readings in the fit
    per axis. shape: scales and squareness; None where fewer than three holes, or holes in one line,
    show none. scatter: of the holes in the fit, bed coordinates. linear: where the shape is
    significant, the map of places as drawn to places as they are, about the centroid in bed
    coordinates; s_mm, dof and the residuals are then those of the affine fit. unit: in which
    reports tell lengths.
    """

    bed: str
    readings: tuple[MeasuredHole, ...]
    holes: tuple[SurveyedHole, ...]
    pose: PoseFound
    pose_sd: PoseSd
    points: int
    s_mm: float | None
    dof: int
    rms_mm: float
    shape: Shape | None
    scatter: Scatter
    linear: tuple[XY, XY] | None
    surface: Surface | None
    unit: Unit
    notes: tuple[str, ...]

    @property
    def significant(self) -> bool:
        """Whether the bed has swollen or is out of square beyond doubt."""
        return self.linear is not None

    @property
    def suspects(self) -> tuple[SurveyedHole, ...]:
        """Readings that seem wrong."""
        return tuple(hole for hole in self.holes if hole.suspect is not None)

    @property
    def errors(self) -> PlaceErrors:
        """What says how well the survey knows a place of the bed; s_mm not known counts as 0."""
        angle_rad = math.radians(self.pose.angle_deg)
        return PlaceErrors(self.s_mm or 0.0, self.scatter, self.significant, angle_rad)
