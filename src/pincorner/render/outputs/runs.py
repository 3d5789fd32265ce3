"""JSON of `run` and `place`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Literal, TypedDict

from pincorner.places import search as found_places
from pincorner.places.search import PlaceProposal
from pincorner.places.several import Selection
from pincorner.render.outputs.shapes import FindingEntry, Report, finding_entries
from pincorner.render.text.places import register_command
from pincorner.render.text.runs import CAUTIONS
from pincorner.runs import timeline as simulated
from pincorner.runs.plan import RunPlan
from pincorner.runs.timeline import Work


class NestOffset(TypedDict):
    """A nest of the run and its work offset."""

    station: Annotated[str, "the station"]
    nest: Annotated[str, "the nest"]
    code: Annotated[str | None, "null: none is left"]
    given: Annotated[bool, "the run gave it, the station has none"]


Distance = TypedDict(
    "Distance",
    {
        "runs": Annotated[str, "the station that is worked"],
        "loaded": Annotated[str, "the station where hands are"],
        "gap_mm": Annotated[
            float, "from what moves to the loading zone; below 0: how far the two overlap"
        ],
        "overlap": Annotated[bool, "they overlap"],
        "from": Annotated[str, "what the path of the spindle was taken from"],
    },
)
Distance.__doc__ = (
    "A distance between drawings, while one station runs and another is loaded: no safeguard."
)


class StationTimes(TypedDict):
    """A station's share of a round."""

    station: Annotated[str, "the station"]
    load_s: Annotated[float, "taking the part out and the next one in"]
    cut_s: Annotated[float, "the spindle alone"]
    attended_s: Annotated[float, "the operator at the machine: the start, tool changes"]
    parts: Annotated[int, "made each time"]


class Timeline(TypedDict):
    """One operator and one spindle work stations in turn."""

    order: Annotated[list[str], "the stations"]
    parts: Annotated[int, "how many are made"]
    total_s: Annotated[float, "the whole"]
    round_s: Annotated[float, "from the end of the last round but one to that of the last"]
    parts_per_hour: Annotated[float, "over the whole"]
    spindle_share: Annotated[float, "part of the time in which the spindle cuts, 0 to 1"]
    operator_share: Annotated[float, "part of the time for loads, starts, changes, 0 to 1"]
    attended_s: Annotated[float, "the operator at the machine for starts and tool changes"]
    waits_s: Annotated[
        dict[str, float], "by station: from the end of its loads to the start of its cuts"
    ]


class Run(Report):
    """The plan of a run. No word of it permits to reach in."""

    kind: Literal["run"]
    name: Annotated[str, "of the run"]
    stations: Annotated[list[str], "in order of work"]
    work_offsets: Annotated[list[NestOffset], "of every nest"]
    reach_mm: Annotated[float, "how far around a jig hands and arms are"]
    distances: Annotated[list[Distance], "of what moves from loading zones"]
    cautions: Annotated[list[str], "what to keep in mind"]
    times: Annotated[list[StationTimes], "of every station"]
    timelines: Annotated[
        list[Timeline], "with the first station, the first two, ..; the last is the run"
    ]
    quicker: Annotated[Timeline | None, "an order that is quicker"]
    assumed: Annotated[list[str], "what was not on file, and what was taken instead"]
    findings: Annotated[list[FindingEntry], "what was found"]


class Place(TypedDict):
    """A place for a jig, with the pins that put it there."""

    station: Annotated[str, "a name for a station there that is not taken"]
    corner: Annotated[str | None, "the hole at the inside corner; null: on dowels"]
    toward: Annotated[str | None, "the quadrant that the jig lies in; null: on dowels"]
    turn_deg: Annotated[float, "how the jig lies turned"]
    pins: Annotated[list[str], "holes, as register --pins takes them"]
    program_angle_deg: Annotated[float, "by how much the program must be posted turned"]
    u95_worst_mm: Annotated[float, "the worst stock corner lies within (95 %)"]
    gap_mm: Annotated[float | None, "to the nearest station asked about; null: there is none"]
    register: Annotated[str, "the command that registers it"]


class FailedWays(TypedDict):
    """Ways to lay the jig that failed by one thing."""

    reason: Annotated[str, "how they failed"]
    count: Annotated[int, "how many"]


class Together(TypedDict):
    """What is known about several places at once."""

    asked: Annotated[int, "how many were asked for"]
    most: Annotated[int, "no more of them than this fit at once"]
    gap_mm: Annotated[float | None, "the smallest gap of any two; null: fewer than two"]
    bound_mm: Annotated[float | None, "no choice of so many places has a larger one"]
    exact: Annotated[bool, "neither more places nor a larger gap can be had"]
    left_out: Annotated[int, "places that lie less well, which were not chosen from"]


class Places(Report):
    """Where on a bed a jig can go."""

    kind: Literal["places"]
    jig: Annotated[str, "the jig, or the stock"]
    bed: Annotated[str, "the bed"]
    ways: Annotated[int, "how many ways to lay it were looked at"]
    found: Annotated[int, "how many are places"]
    places: Annotated[list[Place], "best first"]
    against: Annotated[list[FailedWays], "what the other ways failed by, most frequent first"]
    assumed: Annotated[list[str], "what was not given and what was taken for it"]
    together: Annotated[Together | None, "null: not asked for with --count"]


def run_json(plan: RunPlan) -> Run:
    """The plan of a run."""
    return {
        "format": 1,
        "kind": "run",
        "name": plan.run.name,
        "stations": list(plan.timelines[-1].order),
        "work_offsets": [
            {"station": each.station, "nest": each.nest, "code": each.code, "given": each.given}
            for each in plan.codes
        ],
        "reach_mm": plan.reach_mm,
        "distances": [
            {
                "runs": row.runs,
                "loaded": row.loaded,
                "gap_mm": row.gap_mm,
                "overlap": row.gap_mm < 0,
                "from": row.basis,
            }
            for row in plan.table
        ],
        "cautions": list(CAUTIONS),
        "times": [_times(work) for work in plan.works],
        "timelines": [_timeline(line) for line in plan.timelines],
        "quicker": _timeline(plan.quicker) if plan.quicker else None,
        "assumed": list(plan.assumed),
        "findings": finding_entries(plan.findings),
    }


def _times(work: Work) -> StationTimes:
    return {
        "station": work.name,
        "load_s": work.load_s,
        "cut_s": work.cut_s,
        "attended_s": sum(work.attended_s),
        "parts": work.parts,
    }


def _timeline(line: simulated.Timeline) -> Timeline:
    return {
        "order": list(line.order),
        "parts": line.parts,
        "total_s": line.total_s,
        "round_s": line.round_s,
        "parts_per_hour": line.parts_per_hour,
        "spindle_share": line.spindle_share,
        "operator_share": line.operator_share,
        "attended_s": line.attended_s,
        "waits_s": dict(line.waits_s),
    }


def places_json(
    places: found_places.Places,
    shown: Sequence[PlaceProposal],
    names: Sequence[str],
    selection: Selection | None = None,
) -> Places:
    """Proposals, or a selection of them."""
    return {
        "format": 1,
        "kind": "places",
        "jig": places.facts.holder.name,
        "bed": places.facts.bed.name,
        "ways": places.ways,
        "found": len(places.proposals),
        "places": [_place(each, name) for each, name in zip(shown, names, strict=True)],
        "against": [{"reason": text, "count": count} for text, count in places.against],
        "assumed": list(places.assumed),
        "together": None if selection is None else _together(selection),
    }


def _place(each: PlaceProposal, name: str) -> Place:
    return {
        "station": name,
        "corner": each.located.corner_hole,
        "toward": each.located.toward or None,
        "turn_deg": each.turn_deg,
        "pins": list(each.holes),
        "program_angle_deg": each.station.program_angle,
        "u95_worst_mm": each.u95_worst_mm,
        "gap_mm": each.gap_mm,
        "register": register_command(each.station, name),
    }


def _together(selection: Selection) -> Together:
    return {
        "asked": selection.asked,
        "most": selection.most,
        "gap_mm": selection.gap_mm,
        "bound_mm": selection.bound_mm,
        "exact": selection.exact,
        "left_out": selection.left_out,
    }
