"""JSON of `run` and `place`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Literal, TypedDict

from pincorner.places import search as found_places
from pincorner.places.search import PlaceProposal
from pincorner.places.several import Selection
from pincorner.render.outputs.shapes import FindingEntry, Report, finding_entries
from pincorner.render.text import place_sets
from pincorner.render.text.place_sets import PlacedSets
from pincorner.render.text.places import register_command
from pincorner.render.text.runs import CAUTIONS, no_window_told
from pincorner.render.text.timelines import gain_of
from pincorner.runs import timeline, windows
from pincorner.runs.plan import RunPlan
from pincorner.runs.situation import Terms
from pincorner.runs.timeline import Work
from pincorner.setups.budget import known
from pincorner.setups.locating import two_on_shorter
from pincorner.units import Unit


class NestOffset(TypedDict):
    """A nest of the run and its work offset."""

    station: Annotated[str, "the station"]
    nest: Annotated[str, "the nest"]
    code: Annotated[str | None, "null: none is left"]
    given: Annotated[bool, "the run gave it, the station has none"]


class StationTimes(TypedDict):
    """A station's share of a round."""

    station: Annotated[str, "the station"]
    load_s: Annotated[float, "taking the part out and the next one in"]
    cut_s: Annotated[float, "the spindle alone"]
    attended_s: Annotated[float, "the operator at the machine: the start, tool changes"]
    parts: Annotated[int, "made each time"]


class Timeline(TypedDict):
    """One operator and one spindle work stations in turn, the quickest way there is."""

    stations: Annotated[list[str], "in order of work"]
    order: Annotated[list[str], "the same"]
    parts: Annotated[int, "how many are made"]
    total_s: Annotated[float, "the whole"]
    round_s: Annotated[float, "of a round, once it goes evenly"]
    bound_round_s: Annotated[float, "no round is shorter, whatever the windows"]
    parts_per_hour: Annotated[float, "over the whole"]
    gain: Annotated[float | None, "parts an hour more than with one station less, as a share"]
    spindle_share: Annotated[float, "part of the time in which the spindle cuts, 0 to 1"]
    operator_share: Annotated[float, "part of the time for loads, starts, changes, 0 to 1"]
    attended_s: Annotated[float, "the operator at the machine for starts and tool changes"]
    loaded_while_cutting_s: Annotated[float, "loads beside a spindle that works"]
    loaded_while_standing_s: Annotated[float, "loads while it stands, or waits at a stop"]
    spindle_waits_s: Annotated[float, "at stops, for loads that outlast a window"]
    waits_s: Annotated[
        dict[str, float], "by station: from the end of its loads to the start of its cuts"
    ]


class Span(TypedDict):
    """A part of a visit."""

    what: Annotated[
        Literal["start", "approach", "cutting", "stop", "change", "end"], "what the spindle does"
    ]
    lines: Annotated[list[int] | None, "first and last of the file; null: it is none of its lines"]
    least_s: Annotated[float | None, "by lengths and feeds, at the largest override; null: nothing"]
    box_mm: Annotated[
        list[float] | None,
        "left, front, right, back of the spindle axis in machine coordinates; null: anywhere",
    ]


class Visit(TypedDict):
    """A program worked at a station."""

    station: Annotated[str, "the station"]
    nests: Annotated[list[str], "its nests that the program works"]
    file: Annotated[str, "the file that runs, whose lines are told"]
    spans: Annotated[list[Span], "in order"]


class WindowFrom(TypedDict):
    """How a window begins: with what can be seen."""

    line: Annotated[int, "of the file that runs"]
    event: Annotated[str, "what is seen"]


class WindowEnd(TypedDict):
    """How a window ends."""

    line: Annotated[int, "of the file that runs"]
    event: Annotated[str, "what comes next"]
    kind: Annotated[Literal["hard", "waits"], "a motion comes, or the spindle waits there"]


Window = TypedDict(
    "Window",
    {
        "runs": Annotated[str, "the station that is worked"],
        "loaded": Annotated[str, "the station where hands are"],
        "from": Annotated[WindowFrom, "how it begins"],
        "at_least_s": Annotated[float, "by lengths and feeds, at the largest override"],
        "ends": Annotated[WindowEnd, "how it ends"],
        "nearest_mm": Annotated[float, "the smallest gap from what moves to the loading zone"],
    },
)
Window.__doc__ = "When the drawing keeps what moves away from a loading zone: no safeguard."


class NoWindow(TypedDict):
    """A pair of stations without a window."""

    runs: Annotated[str, "the station that is worked"]
    loaded: Annotated[str, "the station where hands would be"]
    why: Annotated[str, "what prevents it"]
    overlap_mm: Annotated[float | None, "how deep what moves is in the zone at the first cut"]


class Help(TypedDict):
    """Something to change, and what comes of it."""

    change: Annotated[
        Literal["change-place", "order", "end", "wait", "place"], "of what kind it is"
    ]
    parts_per_hour: Annotated[float, "with it"]
    gain: Annotated[float, "parts an hour more, as a share"]
    text: Annotated[str, "what to change, and the figures"]


class Run(Report):
    """The plan of a run. No word of it permits to reach in."""

    kind: Literal["run"]
    name: Annotated[str, "of the run"]
    stations: Annotated[list[str], "in order of work"]
    work_offsets: Annotated[list[NestOffset], "of every nest"]
    reach_mm: Annotated[float, "how far around a jig hands and arms are"]
    least_gap_mm: Annotated[float, "of a window; no safety distance"]
    cautions: Annotated[list[str], "what to keep in mind"]
    visits: Annotated[list[Visit], "of a round, in order"]
    windows: Annotated[list[Window], "for each pair of stations, by line"]
    no_window: Annotated[list[NoWindow], "pairs that have none"]
    times: Annotated[list[StationTimes], "of every station"]
    timelines: Annotated[
        list[Timeline], "with the first station, the first two, ..; the last is the run"
    ]
    bound_round_s: Annotated[float, "no round of the run is shorter"]
    helps: Annotated[list[Help], "what would help most, three at the most"]
    not_given: Annotated[list[str], "what is not on file, and what is lost by that"]
    assumed: Annotated[list[str], "what the run does not state, and what was taken instead"]
    findings: Annotated[list[FindingEntry], "what was found"]


class Place(TypedDict):
    """A place for a jig, with the pins that put it there."""

    station: Annotated[str, "a name for a station there that is not taken"]
    corner: Annotated[str | None, "the hole at the inside corner; null: on dowels"]
    toward: Annotated[str | None, "the quadrant that the jig lies in; null: on dowels"]
    turn_deg: Annotated[float, "how the jig lies turned"]
    pins: Annotated[list[str], "holes, as register --pins takes them"]
    two_on_shorter: Annotated[bool, "the jig's shorter edge carries two pins"]
    program_angle_deg: Annotated[float, "by how much the program must be posted turned"]
    u95_worst_mm: Annotated[
        float | None, "the worst stock corner lies within (95 %); null: not known"
    ]
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


class PlacedSet(TypedDict):
    """Places at once, as a run of stations there would go."""

    places: Annotated[list[Place], "that can be taken at once"]
    stations: Annotated[list[str], "in the quickest order of work"]
    windows_s: Annotated[float, "all loading windows of a round, by lengths and feeds"]
    gap_mm: Annotated[float, "the smallest of any two jigs"]
    parts_per_hour: Annotated[float | None, "in an even round; null: a time is not known"]
    windows: Annotated[list[Window], "for each pair of stations, by line"]
    no_window: Annotated[list[NoWindow], "pairs that have none"]


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
    together: Annotated[Together | None, "null: not asked for with --count alone"]
    sets: Annotated[list[PlacedSet] | None, "best first; null: not asked for with --program"]


def run_json(plan: RunPlan) -> Run:
    """The plan of a run."""
    terms, turns = plan.situation.terms, plan.turns
    return {
        "format": 1,
        "kind": "run",
        "name": plan.run.name,
        "stations": list(plan.line.order),
        "work_offsets": [
            {"station": each.station, "nest": each.nest, "code": each.code, "given": each.given}
            for each in plan.codes
        ],
        "reach_mm": plan.reach_mm,
        "least_gap_mm": terms.least_gap_mm,
        "cautions": list(CAUTIONS),
        "visits": [_visit(each, terms) for name in turns.order for each in turns.visits[name]],
        "windows": [_window(each) for each in turns.windows],
        "no_window": [_no_window(each, plan.unit, terms.least_gap_mm) for each in turns.no_windows],
        "times": [_times(work) for work in turns.works],
        "timelines": [
            _timeline(line, plan.timelines[at - 1] if at else None)
            for at, line in enumerate(plan.timelines)
        ],
        "bound_round_s": plan.line.bound_s,
        "helps": [
            {
                "change": each.kind,
                "parts_per_hour": each.parts_per_hour,
                "gain": each.gain,
                "text": each.text,
            }
            for each in plan.helps
        ],
        "not_given": list(plan.not_given),
        "assumed": list(plan.assumed),
        "findings": finding_entries(plan.findings),
    }


def _visit(visit: windows.Visit, terms: Terms) -> Visit:
    return {
        "station": visit.sitting.station,
        "nests": list(visit.sitting.nests),
        "file": visit.sitting.file,
        "spans": [
            {
                "what": span.what,
                "lines": None if span.lines is None else list(span.lines),
                "least_s": terms.least_s(span),
                "box_mm": None if span.box is None else list(span.box),
            }
            for span in visit.spans
        ],
    }


def _window(window: windows.Window) -> Window:
    return {
        "runs": window.runs,
        "loaded": window.loaded,
        "from": {"line": window.from_line, "event": window.from_event},
        "at_least_s": window.at_least_s,
        "ends": {"line": window.end_line, "event": window.end_event, "kind": window.kind},
        "nearest_mm": window.nearest_mm,
    }


def _no_window(none: windows.NoWindow, unit: Unit, least_gap_mm: float) -> NoWindow:
    overlaps = none.gap_mm is not None and none.gap_mm < 0
    return {
        "runs": none.runs,
        "loaded": none.loaded,
        "why": no_window_told(none, unit, least_gap_mm),
        "overlap_mm": -none.gap_mm if overlaps and none.gap_mm is not None else None,
    }


def _times(work: Work) -> StationTimes:
    return {
        "station": work.name,
        "load_s": work.load_s,
        "cut_s": work.cut_s,
        "attended_s": work.attended_s,
        "parts": work.parts,
    }


def _timeline(line: timeline.Timeline, before: timeline.Timeline | None) -> Timeline:
    return {
        "stations": list(line.order),
        "order": list(line.order),
        "parts": line.parts,
        "total_s": line.total_s,
        "round_s": line.round_s,
        "bound_round_s": line.bound_s,
        "parts_per_hour": line.parts_per_hour,
        "gain": None if before is None else gain_of(before, line),
        "spindle_share": line.spindle_share,
        "operator_share": line.operator_share,
        "attended_s": line.attended_s,
        "loaded_while_cutting_s": line.cutting_loads_s,
        "loaded_while_standing_s": line.standing_loads_s,
        "spindle_waits_s": line.spindle_waits_s,
        "waits_s": dict(line.waits_s),
    }


def places_json(
    places: found_places.Places,
    shown: Sequence[PlaceProposal],
    names: Sequence[str],
    selection: Selection | None = None,
    sets: PlacedSets | None = None,
) -> Places:
    """Proposals, a selection of them, or sets of them."""
    return {
        "format": 1,
        "kind": "places",
        "jig": places.facts.holder.name,
        "bed": places.facts.bed.name,
        "ways": places.ways,
        "found": len(places.proposals),
        "places": [_place(places, each, name) for each, name in zip(shown, names, strict=True)],
        "against": [{"reason": text, "count": count} for text, count in places.against],
        "assumed": [*places.assumed, *(() if sets is None else sets.not_given)],
        "together": None if selection is None else _together(selection),
        "sets": None if sets is None else [_placed_set(each, sets) for each in sets.sets],
    }


def _placed_set(each: place_sets.PlacedSet, sets: PlacedSets) -> PlacedSet:
    unit, least_gap_mm = sets.places.facts.machine.units, sets.terms.least_gap_mm
    return {
        "places": [
            _place(sets.places, *both) for both in zip(each.places, each.names, strict=True)
        ],
        "stations": list(each.turns.order),
        "windows_s": each.windows_s,
        "gap_mm": each.gap_mm,
        "parts_per_hour": each.hourly,
        "windows": [_window(window) for window in each.turns.windows],
        "no_window": [_no_window(none, unit, least_gap_mm) for none in each.turns.no_windows],
    }


def _place(places: found_places.Places, each: PlaceProposal, name: str) -> Place:
    return {
        "station": name,
        "corner": each.located.corner_hole,
        "toward": each.located.toward or None,
        "turn_deg": each.turn_deg,
        "pins": list(each.holes),
        "two_on_shorter": two_on_shorter(places.facts, each.located),
        "program_angle_deg": each.station.program_angle,
        "u95_worst_mm": known(each.u95_worst_mm),
        "gap_mm": each.gap_mm,
        "register": register_command(each.station, name, like=places.like),
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
