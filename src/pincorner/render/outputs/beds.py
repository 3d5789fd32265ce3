"""JSON of `resurface`, `verify` and `status`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Literal, TypedDict

from pincorner.bed import Cover
from pincorner.documents.records import Disturbance, Surfacing
from pincorner.render.outputs.shapes import Code, Report
from pincorner.render.text.bed import StatusItem
from pincorner.setups.setup import Setup
from pincorner.surveys.drift import CHI2_LIMIT, Comparison, StationChart, Verdict
from pincorner.surveys.drift_advice import Action, Advice
from pincorner.units import Unit


class CoverEntry(TypedDict):
    """Wood over metal, where it is thinnest."""

    over: Annotated[str, "screw or track"]
    name: Annotated[str, "its name"]
    cover_mm: Annotated[float | None, "null: not known since the slat was replaced"]
    thin: Annotated[bool, "too little, or not known"]


class Resurface(Report):
    """What was recorded of a surface that was cut down or replaced."""

    kind: Literal["resurface"]
    dry_run: Annotated[bool, "nothing was written"]
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


class ChartSees(TypedDict, total=False):
    """A lasting shift that would show within the next ten, nearly always; axes measured.

    Null below eight values, and while it drifts.
    """

    x: Annotated[float | None, "along X"]
    y: Annotated[float | None, "along Y"]
    z: Annotated[float | None, "along Z"]


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
    sees_mm: Annotated[ChartSees, "how large a lasting shift the control chart would see by now"]
    action: Annotated[Action, "what to do"]
    text: Annotated[str, "why, and how"]
    number: Annotated[int, "by which it can be struck out"]
    settled: Annotated[
        str | None, "disturbance of the bed that is not told any more, by what was found; or null"
    ]


class Strike(Report):
    """A verification that counts no more."""

    kind: Literal["strike"]
    station: Annotated[str, "the station"]
    nest: Annotated[str, "the nest"]
    number: Annotated[int, "of the verification, as `verify` and `history` tell it"]
    off_mm: Annotated[float, "how far from its computed place the zero had been found"]
    note: Annotated[str, "why it was struck out"]


class StatusEntry(TypedDict):
    """One thing that needs attention."""

    code: Code
    about: Annotated[str, "the name of what it is about"]
    text: Annotated[str, "a sentence"]
    command: Annotated[str | None, "what helps, as it can be typed; null: nothing but thought"]
    next: Annotated[str, "what to do next, by which the text is grouped"]


class Status(Report):
    """What needs attention."""

    kind: Literal["status"]
    items: Annotated[list[StatusEntry], "worst first"]


def resurface_json(
    surfacing: Surfacing,
    covers: tuple[Cover, ...],
    thin: tuple[Cover, ...],
    unit: Unit,
    dry: bool = False,
) -> Resurface:
    """What was recorded, and the wood left over screws and tracks."""
    return {
        "format": 1,
        "kind": "resurface",
        "dry_run": dry,
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
    setup: Setup,
    comparison: Comparison,
    chart: StationChart,
    advice: Advice,
    settled: Disturbance | None = None,
    number: int = 0,
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
        "sees_mm": _sees(chart),
        "action": advice.action,
        "text": advice.text,
        "number": number,
        "settled": None if settled is None else settled.name,
    }


def strike_json(
    station: str, number: int, nest: str, off_mm: float, unit: Unit, note: str
) -> Strike:
    """A verification that was struck out."""
    return {
        "format": 1,
        "kind": "strike",
        "station": station,
        "nest": nest,
        "number": number,
        "off_mm": off_mm,
        "note": note,
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


def _sees(chart: StationChart) -> ChartSees:
    found: ChartSees = {}
    for axis in chart.current.axes:
        match axis.axis:
            case "X":
                found["x"] = axis.sees_mm
            case "Y":
                found["y"] = axis.sees_mm
            case "Z":
                found["z"] = axis.sees_mm
    return found


def status_json(items: Sequence[StatusItem]) -> Status:
    """What needs attention, worst first."""
    entries: list[StatusEntry] = [
        {"code": code, "about": about, "text": text, "command": command or None, "next": group}
        for code, about, text, command, group in items
    ]
    return {"format": 1, "kind": "status", "items": entries}
