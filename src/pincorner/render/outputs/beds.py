"""JSON of `survey`, `resurface`, `verify` and `status`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, Literal, TypedDict

from pincorner.documents.beds import Bed
from pincorner.documents.records import Surfacing
from pincorner.geometry.swelling import Shape
from pincorner.render.attention import StatusItem
from pincorner.render.outputs.shapes import Report
from pincorner.render.surveys import MM_PER_M, PPM, Moved
from pincorner.setups.covers import Cover
from pincorner.setups.drift import CHI2_LIMIT, Comparison, Verdict
from pincorner.setups.drift_advice import Action, Advice
from pincorner.setups.refusals import why_no_block
from pincorner.setups.setup import Setup
from pincorner.setups.station_charts import StationChart
from pincorner.setups.survey_advice import FurtherHole
from pincorner.setups.survey_result import SurveyedHole, SurveyResult
from pincorner.units import Unit


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


class CoverEntry(TypedDict):
    """Wood over metal, where it is thinnest."""

    over: Annotated[str, "screw or track"]
    name: Annotated[str, "its name"]
    cover_mm: Annotated[float | None, "null: not known since the slat was replaced"]
    thin: Annotated[bool, "too little, or not known"]


class Resurface(Report):
    """What was recorded of a surface that was cut down or replaced."""

    kind: Literal["resurface"]
    name: Annotated[str, "of the surfacing"]
    bed: Annotated[str, "the bed"]
    depth_mm: Annotated[float | None, "how much was cut off; null: slats were replaced"]
    surface_mm: Annotated[float | None, "machine Z of new slats; null: they were cut down"]
    slats: Annotated[list[str], "which; empty: the whole surface"]
    covers: Annotated[list[CoverEntry], "screws and tracks"]


class Deviation(TypedDict):
    """Found less computed."""

    x: Annotated[float, "along X"]
    y: Annotated[float, "along Y"]
    z: Annotated[float | None, "along Z; null: not measured, or not known"]


_Limits = tuple[float, float] | None


class ChartLimits(TypedDict, total=False):
    """Lower and upper limit of the chart, null below eight values; axes that were measured."""

    x: Annotated[_Limits, "along X"]
    y: Annotated[_Limits, "along Y"]
    z: Annotated[_Limits, "along Z"]


class Verify(Report):
    """How a zero that was found compares with where it was computed to be."""

    kind: Literal["verify"]
    station: Annotated[str, "the station"]
    nest: Annotated[str, "the nest"]
    fingerprint: Annotated[str, "of the setup that it was compared with"]
    deviation_mm: Annotated[Deviation, "found less computed"]
    chi2: Annotated[
        float, "square of the deviation in X and Y, in standard deviations of what explains it"
    ]
    chi2_limit: Annotated[float, "95 of 100 stay below"]
    verdict: Annotated[Verdict, "against what pins, machine and measuring explain"]
    u_mm: Annotated[float, "one standard deviation of the measuring"]
    not_given: Annotated[list[str], "errors that nobody stated, and that are not counted"]
    count: Annotated[int, "verifications since the last change, this one included"]
    limits_mm: Annotated[ChartLimits, "of the control chart"]
    action: Annotated[Action, "what to do"]
    text: Annotated[str, "why, and how"]


class StatusEntry(TypedDict):
    """One thing that needs attention."""

    code: Annotated[str, "for scripts"]
    about: Annotated[str, "the name of what it is about"]
    text: Annotated[str, "a sentence"]


class Status(Report):
    """What needs attention."""

    kind: Literal["status"]
    items: Annotated[list[StatusEntry], "worst first"]


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
    blocked = any(reason.code != "no-work-offset" for reason in why_no_block(setup))
    return {
        "x_mm": zero.x_mm,
        "y_mm": zero.y_mm,
        "angle_deg": setup.angle_deg,
        "block": not blocked,
    }


def resurface_json(
    surfacing: Surfacing, covers: tuple[Cover, ...], thin: tuple[Cover, ...], unit: Unit
) -> Resurface:
    """What was recorded, and the wood left over screws and tracks."""
    return {
        "format": 1,
        "kind": "resurface",
        "name": surfacing.name,
        "bed": surfacing.bed,
        "depth_mm": surfacing.depth,
        "surface_mm": surfacing.surface,
        "slats": list(surfacing.slats),
        "covers": [
            {"over": each.kind, "name": each.name, "cover_mm": each.cover_mm, "thin": each in thin}
            for each in covers
        ],
    }


def verify_json(
    setup: Setup, comparison: Comparison, chart: StationChart, advice: Advice
) -> Verify:
    """A verification, its chart and what to do."""
    dx, dy, dz = comparison.verification.deviation
    return {
        "format": 1,
        "kind": "verify",
        "station": setup.facts.station.name,
        "nest": setup.nest.name,
        "fingerprint": setup.fingerprint,
        "deviation_mm": {"x": dx, "y": dy, "z": dz},
        "chi2": comparison.chi2,
        "chi2_limit": CHI2_LIMIT,
        "verdict": comparison.verdict,
        "u_mm": comparison.verification.u_mm,
        "not_given": list(comparison.not_given),
        "count": len(chart.current.verifications),
        "limits_mm": _limits(chart),
        "action": advice.action,
        "text": advice.text,
    }


def _limits(chart: StationChart) -> ChartLimits:
    found: ChartLimits = {}
    for axis in chart.current.axes:
        drawn = axis.limits
        span = None if drawn is None else (drawn.lower, drawn.upper)
        match axis.axis:
            case "X":
                found["x"] = span
            case "Y":
                found["y"] = span
            case "Z":
                found["z"] = span
    return found


def status_json(items: Sequence[StatusItem]) -> Status:
    """What needs attention, worst first."""
    entries: list[StatusEntry] = [
        {"code": code, "about": about, "text": text} for code, about, text in items
    ]
    return {"format": 1, "kind": "status", "items": entries}
