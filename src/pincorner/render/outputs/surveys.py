"""JSON of `survey`."""

from __future__ import annotations

import math
from typing import Annotated, Literal, TypedDict

from pincorner.documents.beds import Bed
from pincorner.geometry.swelling import Shape
from pincorner.render.outputs.shapes import Report
from pincorner.render.text.surveys import MM_PER_M, PPM, Moved
from pincorner.setups.setup import Setup
from pincorner.surveys.next_hole import FurtherHole
from pincorner.surveys.result import SurveyedHole, SurveyResult


class BedPose(TypedDict):
    """Where the grid lies."""

    x_mm: Annotated[float, "X of hole A1 in machine coordinates"]
    y_mm: Annotated[float, "Y of hole A1 in machine coordinates"]
    angle_deg: Annotated[float, "angle of row 1, counter-clockwise"]


class BedPoseSd(TypedDict):
    """Standard deviations of the pose; null where nothing says."""

    x_mm: Annotated[float | None, "of X"]
    y_mm: Annotated[float | None, "of Y"]
    angle_deg: Annotated[float | None, "of the angle; null with one hole: it is as entered"]


class Scale(TypedDict):
    """How much longer the grid is than drawn; null where the readings show no shape."""

    x: Annotated[float | None, "along X"]
    y: Annotated[float | None, "along Y"]


class SurfacePlane(TypedDict):
    """The plane of the heights that were read."""

    height_mm: Annotated[float, "machine Z in the middle of the survey"]
    slope_x: Annotated[float, "rise along the bed's X, mm per mm"]
    slope_y: Annotated[float, "rise along the bed's Y, mm per mm"]
    rms_mm: Annotated[float, "root of the mean squared distance from the plane"]
    points: Annotated[int, "how many heights"]
    dof: Annotated[int, "degrees of freedom"]
    sds: Annotated[
        tuple[float, float, float] | None,
        "standard deviations of height (mm) and slopes; null with three heights",
    ]


class HoleReading(TypedDict):
    """One reading less the place that the fit has for its hole, along the machine's axes."""

    hole: Annotated[str, "its label"]
    dx_mm: Annotated[float, "off along X"]
    dy_mm: Annotated[float, "off along Y"]
    dz_mm: Annotated[float | None, "above the surface's plane; null: no height was read"]
    suspect: Annotated[str | None, "what seems wrong with it"]
    used: Annotated[bool, "it is part of the fit"]


class NextHole(TypedDict):
    """The hole that would help most if it were measured too."""

    hole: Annotated[str, "its label"]
    u95_before_mm: Annotated[
        float | None,
        "the survey's part of u95 at the worst stock corner; null: the angle is open",
    ]
    u95_after_mm: Annotated[float, "the same with this hole measured"]


class ZeroPlace(TypedDict):
    """Where a program zero lies."""

    x_mm: Annotated[float, "X in machine coordinates"]
    y_mm: Annotated[float, "Y in machine coordinates"]
    angle_deg: Annotated[float, "angle of the program's axes"]
    block: Annotated[bool, "a block can be written with it"]


class MovedZero(TypedDict):
    """A nest on the bed as it is, and as it is with the survey; null where it is refused."""

    station: Annotated[str, "the station"]
    nest: Annotated[str, "the nest"]
    before: Annotated[ZeroPlace | None, "as it is"]
    after: Annotated[ZeroPlace | None, "with the survey"]


class Survey(Report):
    """The pose and shape of a bed, fitted to measured holes."""

    kind: Literal["survey"]
    bed: Annotated[str, "the bed"]
    pose: Annotated[BedPose, "the rigid fit"]
    pose_sd: Annotated[BedPoseSd, "how well it is known"]
    points: Annotated[int, "readings in the fit"]
    s_mm: Annotated[
        float | None,
        "standard deviation of a reading per axis: measured, or as stated where dof is 0",
    ]
    dof: Annotated[int, "degrees of freedom"]
    rms_mm: Annotated[float, "of the readings in the fit, per axis"]
    scale_ppm: Annotated[Scale, "longer than drawn"]
    squareness_mm_per_m: Annotated[
        float | None, "out of square; null where the readings show no shape"
    ]
    significant: Annotated[bool, "it has swollen or is out of square beyond doubt"]
    surface: Annotated[SurfacePlane | None, "null: no heights were read"]
    holes: Annotated[list[HoleReading], "every reading"]
    further_hole: Annotated[NextHole | None, "null: none would help"]
    moved: Annotated[list[MovedZero], "the nests on the bed"]
    notes: Annotated[list[str], "what else there is to say"]
    accepted: Annotated[bool, "it is the bed's pose from now on"]
    name: Annotated[str | None, "under which it was accepted"]


def survey_json(
    bed: Bed,
    result: SurveyResult,
    further: FurtherHole | None,
    accepted: str | None,
    moved: Moved = (),
) -> Survey:
    """A survey, and what it moves."""
    pose, sd, shape = result.pose, result.pose_sd, result.shape
    return {
        "format": 1,
        "kind": "survey",
        "bed": bed.name,
        "pose": {"x_mm": pose.x_mm, "y_mm": pose.y_mm, "angle_deg": pose.angle_deg},
        "pose_sd": {"x_mm": sd.x_mm, "y_mm": sd.y_mm, "angle_deg": sd.angle_deg},
        "points": result.points,
        "s_mm": result.s_mm,
        "dof": result.dof,
        "rms_mm": result.rms_mm,
        "scale_ppm": _scale(shape),
        "squareness_mm_per_m": None if shape is None else shape.squareness.value * MM_PER_M,
        "significant": result.significant,
        "surface": _surface(result),
        "holes": [_hole(hole) for hole in result.holes],
        "further_hole": None if further is None else _next_hole(further),
        "moved": [
            {
                "station": before.facts.station.name,
                "nest": before.nest,
                "before": _zero(before.setup),
                "after": _zero(after.setup),
            }
            for before, after in moved
        ],
        "notes": list(result.notes),
        "accepted": accepted is not None,
        "name": accepted,
    }


def _scale(shape: Shape | None) -> Scale:
    if shape is None:
        return {"x": None, "y": None}
    return {"x": shape.scale_x.value * PPM, "y": shape.scale_y.value * PPM}


def _surface(result: SurveyResult) -> SurfacePlane | None:
    surface = result.surface
    if surface is None:
        return None
    return {
        "height_mm": surface.height_mm,
        "slope_x": surface.slope_x,
        "slope_y": surface.slope_y,
        "rms_mm": surface.rms_mm,
        "points": surface.points,
        "dof": surface.dof,
        "sds": surface.sds,
    }


def _hole(hole: SurveyedHole) -> HoleReading:
    return {
        "hole": hole.label,
        "dx_mm": hole.dx_mm,
        "dy_mm": hole.dy_mm,
        "dz_mm": hole.dz_mm,
        "suspect": hole.suspect,
        "used": hole.used,
    }


def _next_hole(further: FurtherHole) -> NextHole:
    before_mm = further.u95_before_mm
    return {
        "hole": further.label,
        "u95_before_mm": before_mm if math.isfinite(before_mm) else None,
        "u95_after_mm": further.u95_after_mm,
    }


def _zero(setup: Setup | None) -> ZeroPlace | None:
    if setup is None:
        return None
    zero = setup.zero_in_machine
    return {
        "x_mm": zero.x_mm,
        "y_mm": zero.y_mm,
        "angle_deg": setup.angle_deg,
        "block": not setup.stopped,
    }
