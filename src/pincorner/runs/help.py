"""What would help a run: changes at the machine or in its programs, tried one at a time.

Never reach, carriage, beam or access: that would invite smaller numbers. Each is planned as the run
itself is, and told only if more parts an hour come of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations, permutations
from typing import Literal, NamedTuple

from pincorner.geometry.outline import Box
from pincorner.geometry.pose import XY
from pincorner.runs.situation import Planner, Situation, Station, Turns
from pincorner.runs.spans import NOWHERE, Span
from pincorner.runs.timeline import Timeline
from pincorner.runs.windows import Sitting, Window
from pincorner.units import Unit, figure

MOST_TOLD = 3
MOST_ORDERS = 120
"""So many orders of work are tried (those of six stations), fewer where a plan takes longer."""

MOST_WAITS = 24
"""At the ends of so many windows, the longest, a wait is tried."""

LEAST_GAIN = 0.005
"""Less more parts an hour, as a share, is not told."""


Kind = Literal["change-place", "order", "end", "wait", "place"]


class Change(NamedTuple):
    """Something to try. Of each `kind` and `what`
    the best is told. `told`: what to change there. `situation`, `order`: what becomes of it."""

    kind: Kind
    what: str
    told: str
    situation: Situation
    order: tuple[str, ...]


def tries(turns: Turns, most: int) -> int:
    """How many of `most` changes are tried: fewer where a plan takes longer.

    It takes as long as there are attendances in a round, and sets of stations that may be loaded;
    up to those of six stations with one tool each all are tried.
    """
    phases = sum(len(work.phases) for work in turns.works)
    return int(most / max(phases * 2 ** len(turns.works) / (6 * 2**6), 1.0))


class Help(NamedTuple):
    """A change that helps: parts an hour with it, and how many more that is, as a share."""

    kind: Kind
    told: str
    parts_per_hour: float
    gain: float

    @property
    def text(self) -> str:
        """What to change, and what comes of it."""
        return f"{self.told}: {self.parts_per_hour:.1f} parts an hour, {self.gain * 100:+.0f} %"


def helps(changes: Iterable[Change], now: Timeline, run: Planner) -> list[Help]:
    """The changes that help most, the best of each kind and thing; `run`: as it is planned."""
    found: dict[tuple[Kind, str], Help] = {}
    planner = run
    for change in changes:
        if planner.situation is not change.situation:
            planner = run if change.situation is run.situation else run.of(change.situation)
        hourly = planner.timeline(change.order, bars=0).parts_per_hour
        gain = hourly / now.parts_per_hour - 1
        place = (change.kind, change.what)
        if gain >= LEAST_GAIN and (place not in found or found[place].gain < gain):
            found[place] = Help(change.kind, change.told, hourly, gain)
    return sorted(found.values(), key=lambda each: -each.gain)[:MOST_TOLD]


def changes_here(situation: Situation, turns: Turns, unit: Unit) -> Iterator[Change]:
    """What can be tried without another place for a jig."""
    yield from _change_places(situation, turns, unit)
    yield from _orders(situation, turns.order, tries(turns, MOST_ORDERS))
    yield from _ends(situation, turns)
    yield from _waits(situation, turns)


def _change_places(situation: Situation, turns: Turns, unit: Unit) -> Iterator[Change]:
    """Corners of the travel and the middles of its sides, for M6."""
    every = (span for visits in turns.visits.values() for each in visits for span in each.spans)
    if situation.moving is None or not any(span.what == "change" for span in every):
        return
    for name, (x, y) in places_of(situation.moving.travel).items():
        told = (
            f"have M6 take the spindle to the {name} of the travel, X{figure(x, unit, 0)} "
            f"Y{figure(y, unit, 0)} (park)"
        )
        changed = situation._replace(park=Box(x, y, x, y))
        yield Change("change-place", "", told, changed, turns.order)


def places_of(travel: Box) -> dict[str, XY]:
    """Corners of the travel and the middles of its sides, by their names."""
    (x, y), (left, front, right, back) = travel.middle, travel
    return {
        "front left corner": (left, front),
        "middle of the front": (x, front),
        "front right corner": (right, front),
        "middle of the left side": (left, y),
        "middle of the right side": (right, y),
        "back left corner": (left, back),
        "middle of the back": (x, back),
        "back right corner": (right, back),
    }


def _orders(situation: Situation, order: tuple[str, ...], most: int) -> Iterator[Change]:
    """Other orders of work; the first station stays the first, since a ring has no beginning.

    Of more than `most` those that exchange two stations, if these are few enough.
    """
    others: Iterable[tuple[str, ...]] = permutations(order[1:])
    if math.factorial(len(order) - 1) > most:
        others = _exchanged(order[1:]) if math.comb(len(order) - 1, 2) <= most else ()
    for rest in others:
        if rest != order[1:]:
            other = (order[0], *rest)
            yield Change("order", "", f"work in the order {', '.join(other)}", situation, other)


def _exchanged(order: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    """An order with two stations in each other's turn."""
    for one, other in combinations(range(len(order)), 2):
        changed = list(order)
        changed[one], changed[other] = order[other], order[one]
        yield tuple(changed)


def _ends(situation: Situation, turns: Turns) -> Iterator[Change]:
    """Programs that end where they cut last, without their way home."""
    for name in turns.order:
        station = situation.stations[name]
        for number, sitting in enumerate(station.sittings):
            way = [span for span in sitting.spans if span.what == "end" and span.lines]
            if not way or sitting.why_not or sitting.skipped is not None:
                continue
            if sitting.cut_place == NOWHERE:
                continue
            spans = tuple(span for span in sitting.spans if span.what != "end")
            kept = sitting._replace(spans=spans, place=sitting.cut_place)
            line = next((s.lines[0] for s in way if s.lines and s.box != sitting.cut_place), 0)
            if not line:
                continue
            told = f"let {sitting.file} end where it cuts last, without its way home (line {line})"
            yield Change("end", name, told, _with(situation, station, number, kept), turns.order)


def _waits(situation: Situation, turns: Turns) -> Iterator[Change]:
    """An M0 in front of a motion that ends a window: behind its retract, before it goes on."""
    hard = [window for window in turns.windows if window.kind == "hard"]
    for window in sorted(hard, key=lambda each: -each.at_least_s)[: tries(turns, MOST_WAITS)]:
        station = situation.stations[window.runs]
        sitting = station.sittings[window.sitting]
        spans = None if sitting.skipped is not None else with_wait(sitting.spans, window)
        if spans is not None:
            told = (
                f"an M0 in front of line {window.end_line} of {sitting.file}, once it has "
                "retracted (stamp --wait-before; M0 is no safeguard)"
            )
            changed = _with(situation, station, window.sitting, sitting._replace(spans=spans))
            yield Change("wait", f"{window.runs} {window.end_line}", told, changed, turns.order)


def with_wait(spans: Sequence[Span], window: Window) -> tuple[Span, ...] | None:
    """The spans with an M0 in front of the one that ends a window; None where that one cuts."""
    at = next(
        (at for at, span in enumerate(spans) if span.lines and span.lines[0] == window.end_line
         and span.what in ("cutting", "end", "change")),
        None,
    )  # fmt: skip
    if not at or spans[at].feed_s > 0 or spans[at].lost:
        return None
    before, ends = spans[at - 1], spans[at]
    line = window.end_line
    stop = Span("stop", (line, line), 0.0, 0.0, before.box, "M0", before.tool)
    if ends.what == "cutting":
        ends = ends._replace(what="approach")
    return (*spans[:at], stop, ends, *spans[at + 1 :])


def _with(situation: Situation, station: Station, number: int, sitting: Sitting) -> Situation:
    """The situation with another sitting of a station."""
    sittings = list(station.sittings)
    sittings[number] = sitting
    return with_station(situation, station._replace(sittings=tuple(sittings)))


def with_station(situation: Situation, station: Station) -> Situation:
    """The situation with a station in place of the one of its name."""
    stations: Mapping[str, Station] = {**situation.stations, station.name: station}
    return situation._replace(stations=stations)
