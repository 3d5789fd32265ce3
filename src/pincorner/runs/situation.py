"""A run as it is planned: its programs read, its loading zones, its times; for any order of work.

Every claim about fewer stations, another order or a change is computed from one of these, as the
run itself is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import reduce
from typing import NamedTuple

from pincorner.geometry.outline import Box
from pincorner.program.reader.motions import NO_TOOL
from pincorner.runs.gaps import Moving, Zone
from pincorner.runs.spans import Span, hull
from pincorner.runs.timeline import Opening, Phase, Timeline, Work, quickest
from pincorner.runs.windows import (
    NoWindow,
    Sitting,
    Visit,
    Window,
    attends,
    find_windows,
    in_turn,
    merged,
)

DEFAULT_LEAST_GAP_MM = 120.0
"""Of a window, where the run states none. No safety distance: a figure to tell windows by."""

DEFAULT_LEAVE_S = 20.0
"""To be away before a motion comes, where the run states none."""


class Terms(NamedTuple):
    """What a run states, or what is taken for it.

    `override`: the largest feed override in use, a factor. `rapid`: mm a minute, None: rapids take
    no time. `parts`: how many are made.
    """

    start_s: float
    change_s: float
    leave_s: float
    least_gap_mm: float
    override: float
    rapid: float | None
    parts: int

    def least_s(self, span: Span) -> float | None:
        """How long a span lasts at least; None where nothing is claimed, or not known."""
        if attends(span):
            return (self.change_s if span.what == "change" else self.start_s) or None
        claimed = span.what == "cutting" and not span.lost
        return span.feed_s / self.override if claimed else None


class Station(NamedTuple):
    """A station of a run: its programs, its loading zone, its load, the parts made each time."""

    name: str
    sittings: tuple[Sitting, ...]
    zone: Zone
    load_s: float
    parts: int


class Situation(NamedTuple):
    """`moving`: None where it is not known what moves, `why_not` says why there are no windows.

    `park`: where M6 takes the spindle; None: anywhere in the travel.
    """

    stations: Mapping[str, Station]
    moving: Moving | None
    why_not: str
    park: Box | None
    terms: Terms


class Turns(NamedTuple):
    """A situation worked in some order: visits by station, windows, and why there are none."""

    order: tuple[str, ...]
    visits: Mapping[str, tuple[Visit, ...]]
    windows: tuple[Window, ...]
    no_windows: tuple[NoWindow, ...]
    works: tuple[Work, ...]


_Changes = tuple[bool, ...]
"""Of each M6 whether another tool comes in: a visit's windows depend on nothing else before it."""


class Planner:
    """Plans a situation in any order; windows of a pair are looked for once."""

    def __init__(self, situation: Situation) -> None:
        self.situation = situation
        self._found: dict[tuple[str, str, _Changes], tuple[list[Window], NoWindow | None]] = {}
        self._seen: dict[tuple[str, Box | None, int, bool], tuple[Visit, ...]] = {}

    def of(self, situation: Situation) -> Planner:
        """A planner of another situation; what it has in common with this one stays as found."""
        other, mine = Planner(situation), self.situation
        if mine._replace(stations={}) != situation._replace(stations={}):
            return other
        theirs = situation.stations
        same = {name for name, each in mine.stations.items() if theirs.get(name) is each}
        other._found = {
            key: found for key, found in self._found.items() if same.issuperset(key[:2])
        }
        other._seen = {key: seen for key, seen in self._seen.items() if key[0] in same}
        return other

    def timeline(self, order: Sequence[str], *, bars: int = 60) -> Timeline:
        """The quickest way to work stations in this order."""
        terms = self.situation.terms
        works = self._in_order(order)[3]
        return quickest(works, terms.parts, terms.leave_s, bars=bars)

    def windows_s(self, runs: str, loaded: str) -> float:
        """How long windows for loading one station last at least while another runs, again and
        again."""
        windows, _ = self._windows(self._visits((runs,))[runs], loaded)
        return sum(window.at_least_s for window in windows)

    def turns(self, order: Sequence[str]) -> Turns:
        """The visits of one round of many."""
        visits, windows, no_windows, works = self._in_order(order)
        told = {name: self._merged(name, visits[name], order) for name in order}
        return Turns(tuple(order), told, tuple(windows), tuple(no_windows), works)

    def _in_order(
        self, order: Sequence[str]
    ) -> tuple[dict[str, tuple[Visit, ...]], list[Window], list[NoWindow], tuple[Work, ...]]:
        """Visits as they are read, windows, why there are none, and what is worked."""
        visits = self._visits(order)
        windows: list[Window] = []
        no_windows: list[NoWindow] = []
        for runs in order:
            for loaded in order:
                if runs != loaded:
                    found, none = self._windows(visits[runs], loaded)
                    windows += found
                    no_windows += [] if none is None else [none]
        of_phase: dict[tuple[str, int], list[Window]] = {}
        for window in windows:
            of_phase.setdefault((window.runs, window.phase), []).append(window)
        works = tuple(self._work(name, visits[name], of_phase) for name in order)
        return visits, windows, no_windows, works

    def _merged(
        self, name: str, visits: Sequence[Visit], order: Sequence[str]
    ) -> tuple[Visit, ...]:
        """A station's visits as they are told: in no more spans than its windows need."""
        zones = [self.situation.stations[each].zone for each in order if each != name]
        least_mm = self.situation.terms.least_gap_mm
        return tuple(merged(each, self.situation.moving, zones, least_mm) for each in visits)

    def _visits(self, order: Sequence[str]) -> dict[str, tuple[Visit, ...]]:
        """Each station's programs, with the tool and the place that the one before leaves."""
        stations = [self.situation.stations[name] for name in order]
        tools = [t for station in stations for each in station.sittings for t in each.tools]
        tool = tools[-1] if tools else NO_TOOL
        place = _end_of(stations[-1].sittings[-1], None)
        found = {}
        for station in stations:
            key = station.name, place, tool, not tools
            is_new, visits = key not in self._seen, []
            for sitting in station.sittings:
                if is_new:
                    visits.append(in_turn(sitting, place, tool, self.situation.park, not tools))
                tool = sitting.tools[-1] if sitting.tools else tool
                place = _end_of(sitting, place)
            found[station.name] = self._seen.setdefault(key, tuple(visits))
        return found

    def _windows(
        self, visits: Sequence[Visit], loaded: str
    ) -> tuple[list[Window], NoWindow | None]:
        runs, situation = visits[0].sitting.station, self.situation
        if situation.moving is None:
            return [], NoWindow(runs, loaded, situation.why_not)
        changes = tuple(s.what == "change" for v in visits for s in v.spans if s.word == "M6")
        place = (runs, loaded, changes)
        if place not in self._found:
            self._found[place] = find_windows(
                visits,
                situation.moving,
                situation.stations[loaded].zone,
                situation.terms.least_gap_mm,
                situation.terms.override,
            )
        return self._found[place]

    def _work(
        self, name: str, visits: Sequence[Visit], windows: Mapping[tuple[str, int], list[Window]]
    ) -> Work:
        """A station's share of a round; `windows`: by the station that runs, and phase."""
        station = self.situation.stations[name]
        phases: list[Phase] = []
        for visit in visits:
            factor = self._stretched(visit.sitting)
            for span in visit.spans:
                if attends(span):
                    change = span.what == "change"
                    terms = self.situation.terms
                    phases.append(Phase(terms.change_s if change else terms.start_s, 0.0, 0.0))
                    cuts = False
                    continue
                cuts = cuts or span.what == "cutting"
                last, seconds = phases[-1], self.seconds(span) * factor
                phases[-1] = (
                    last._replace(cut_s=last.cut_s + seconds)
                    if cuts
                    else last._replace(approach_s=last.approach_s + seconds)
                )
            if not visit.sitting.feed_s and visit.sitting.cycle_s is not None:
                phases[-1] = phases[-1]._replace(cut_s=visit.sitting.cycle_s)
        for at, phase in enumerate(phases):
            openings = {
                each.loaded: Opening(min(each.at_least_s, phase.cut_s), each.kind == "waits")
                for each in windows.get((name, at), ())
            }
            phases[at] = phase._replace(openings=openings)
        return Work(name, station.load_s, tuple(phases), station.parts)

    def seconds(self, span: Span) -> float:
        """What a span takes by lengths, feeds and rapids."""
        terms = self.situation.terms
        rapid_s = span.rapid_mm / terms.rapid * 60.0 if terms.rapid else 0.0
        return span.feed_s / terms.override + rapid_s

    def _stretched(self, sitting: Sitting) -> float:
        """By what its spans are multiplied to come to the measured time."""
        computed_s = sum(self.seconds(span) for span in sitting.spans)
        if sitting.cycle_s is None or not sitting.feed_s:
            return 1.0
        return sitting.cycle_s / computed_s


def _end_of(sitting: Sitting, before: Box | None) -> Box | None:
    """Where the axis stands behind a sitting."""
    if sitting.is_lost:
        return None
    return reduce(hull, sitting.ends_at) if sitting.ends_at else before
