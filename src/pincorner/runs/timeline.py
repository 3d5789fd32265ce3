"""One operator and one spindle work stations in turn: the quickest way to do it.

A station is loaded unbroken: in a window of the station that runs, if it fits, else while the
spindle stands (program ended, spindle at rest and held from starting). A load must fit before a
hard end, with time to leave; it may outlast an end at which the spindle waits, which is counted.
Starts, tool changes and stops need the operator.

The decisions are the best there are, not those of a rule: between two visits nothing is under way,
so what counts then is which stations are loaded, and from visit to visit the quickest way to each
such state is kept (dynamic programming, backwards from the end). A load while the spindle stands
can wait until its own station's turn, and one in a window can begin at the window's first moment or
behind the one before; nothing is gained otherwise.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from typing import NamedTuple

MOST_FREE = 6
"""Up to so many stations may be loaded in any order."""

MOST_OF_TWO = 8
"""Up to so many, each load is of one of the two stations that are worked next and wait for it; of
more, of the first such. 200 drawn runs of seven and eight took 0.7 % longer so than in any order,
and 5.9 % with the first alone; it is found in 12 to 17 ms, any order in 24 to 62.
"""

_SAME_S = 1e-9
"""Times that differ less are the same: rounding of sums."""


class Opening(NamedTuple):
    """A window as the timeline needs it: how long at least, and whether its end waits."""

    at_least_s: float
    waits: bool


class Phase(NamedTuple):
    """What the spindle does from one attendance of the operator to the next, in seconds.

    `approach_s`: from the operator's leaving to the first cut, where windows begin; `cut_s`: from
    there to the next attendance, or the end. `openings`: by station that may be loaded.
    """

    attended_s: float
    approach_s: float
    cut_s: float
    openings: Mapping[str, Opening] = {}


class Work(NamedTuple):
    """A station's share of a round. `parts`: made each time."""

    name: str
    load_s: float
    phases: tuple[Phase, ...]
    parts: int = 1

    @property
    def attended_s(self) -> float:
        """The operator at the machine: starts, tool changes, stops."""
        return sum(phase.attended_s for phase in self.phases)

    @property
    def cut_s(self) -> float:
        """The spindle alone."""
        return sum(phase.approach_s + phase.cut_s for phase in self.phases)

    @property
    def spindle_s(self) -> float:
        """From the start to the end of its program, if nothing waits."""
        return self.cut_s + self.attended_s


class Load(NamedTuple):
    """A load of a steady round: of which station, and while which runs, in which phase of it.

    `runs`: None while the spindle stands.
    """

    loaded: str
    runs: str | None
    phase: int


class Bar(NamedTuple):
    """Something that takes time: `load`, `attend`, `cut` or `wait` (of the spindle, at a stop)."""

    kind: str
    station: str
    start_s: float
    end_s: float


class Timeline(NamedTuple):
    """What a run takes.

    `round_s`: of a round once it goes evenly; `bound_s`: none is shorter. `spindle_share` counts
    cutting only, `operator_share` loads, starts, changes and stops. `cutting_loads_s`,
    `standing_loads_s`: loaded while the spindle worked, and while it stood or waited.
    `spindle_waits_s`: at stops, for loads that outlast a window. `waits_s`: by station, from the
    end of its loads to the start of its cuts. `loads`: of one steady round. `bars`: the beginning
    of it, for a chart.
    """

    order: tuple[str, ...]
    parts: int
    total_s: float
    round_s: float
    bound_s: float
    parts_per_hour: float
    spindle_share: float
    operator_share: float
    attended_s: float
    cutting_loads_s: float
    standing_loads_s: float
    spindle_waits_s: float
    waits_s: tuple[tuple[str, float], ...]
    loads: tuple[Load, ...]
    bars: tuple[Bar, ...]


def bound_s(works: Sequence[Work]) -> float:
    """No round is shorter: the operator's work, the spindle's, and any one station's in a row."""
    return max(
        sum(work.load_s + work.attended_s for work in works),
        sum(work.spindle_s for work in works),
        max(work.load_s + work.spindle_s for work in works),
    )


def quickest(works: Sequence[Work], parts: int, leave_s: float, *, bars: int = 60) -> Timeline:
    """Work the stations in this order until `parts` are made.

    Raises ValueError for no parts, no stations, and loads that take no time.
    """
    if parts < 1 or not works or any(work.load_s <= 0 for work in works):
        raise ValueError("expected parts and stations, and loads of more than nothing")
    ways = _Ways(works, leave_s)
    plan = _Plan(ways, _visits(works, parts))
    return _Clock(ways, plan, bars).run()


def _visits(works: Sequence[Work], parts: int) -> int:
    """How many stations are worked, rounds through, until the parts are made."""
    of_round = sum(work.parts for work in works)
    rounds, rest = divmod(parts, of_round)
    visits = rounds * len(works)
    for work in works:
        if rest <= 0:
            break
        visits, rest = visits + 1, rest - work.parts
    return visits


_Loads = tuple[tuple[int, ...], ...]
"""Of a visit: for each phase the stations that are loaded in it, in order."""


class _Way(NamedTuple):
    """A visit done one way: which stations are loaded behind it (bits), how long it took."""

    mask: int
    seconds: float
    loads: _Loads


class _Added(NamedTuple):
    """What is loaded in a phase (bits), how long the phase takes then, and in which order."""

    mask: int
    seconds: float
    loads: tuple[int, ...]


_Chain = tuple["_Chain", tuple[int, ...]] | None
"""Loads of phases, the last one outermost, so that one more costs the same however many."""


def _unchained(chain: _Chain) -> _Loads:
    found = []
    while chain is not None:
        chain, loads = chain
        found.append(loads)
    return tuple(reversed(found))


class _Ways:
    """The ways of doing a visit, each quickest for what is loaded behind it; found once."""

    def __init__(self, works: Sequence[Work], leave_s: float) -> None:
        self.works, self._leave_s = works, leave_s
        self.at = {work.name: at for at, work in enumerate(works)}
        self._found: dict[tuple[int, int, int], tuple[_Way, ...]] = {}
        self._loads: dict[tuple[int, int, int, int], tuple[_Added, ...]] = {}
        self._wanted = [[self._by_deadline(phase) for phase in work.phases] for work in works]
        self._bits = [[sum(1 << at for _, at in each) for each in some] for some in self._wanted]
        self._is_free = len(works) <= MOST_FREE

    def of(self, station: int, mask: int, available: int) -> tuple[_Way, ...]:
        """`mask`: what is loaded besides; `available`: what may be loaded."""
        place = (station, mask, available)
        if place not in self._found:
            kept: dict[int, tuple[float, _Chain]] = {mask: (0.0, None)}
            for number in range(len(self._wanted[station])):
                further: dict[int, tuple[float, _Chain]] = {}
                for before, (seconds, loads) in kept.items():
                    for added in self._of_phase(station, number, before, available):
                        behind, took = before | added.mask, seconds + added.seconds
                        best = further.get(behind)
                        if best is None or took < best[0] - _SAME_S:
                            further[behind] = took, (loads, added.loads)
                kept = further
            self._found[place] = tuple(
                _Way(behind, seconds, _unchained(loads))
                for behind, (seconds, loads) in kept.items()
            )
        return self._found[place]

    def _of_phase(self, station: int, number: int, mask: int, available: int) -> tuple[_Added, ...]:
        """What may be loaded in a phase; in any order it depends on nothing but what is left."""
        free = available & ~mask & ~(1 << station) & self._bits[station][number]
        if self._is_free:
            mask, available = ~free, free
        place = (station, number, mask, available)
        if place not in self._loads:
            phase, wanted = self.works[station].phases[number], self._wanted[station][number]
            ahead = phase.attended_s + phase.approach_s
            self._loads[place] = tuple(
                _Added(added, ahead + max(phase.cut_s, now), loads)
                for added, now, loads in self._loading(station, wanted, mask, available)
            )
        return self._loads[place]

    def _loading(
        self, station: int, wanted: list[tuple[float, int]], mask: int, available: int
    ) -> Iterator[tuple[int, float, tuple[int, ...]]]:
        """What is loaded in a phase, when the last of it is, and in which order."""

        def further(
            added: int, now: float, loads: tuple[int, ...], first: int
        ) -> Iterator[tuple[int, float, tuple[int, ...]]]:
            yield added, now, loads
            loaded = mask | added
            allowed = available if self._is_free else available & self._next(station, loaded)
            for number in range(first, len(wanted)):
                deadline_s, at = wanted[number]
                if at == station or loaded >> at & 1 or not allowed >> at & 1:
                    continue
                ends = now + self.works[at].load_s
                if ends <= deadline_s:
                    again = number + 1 if self._is_free else 0
                    yield from further(added | 1 << at, ends, (*loads, at), again)

        yield from further(0, 0.0, (), 0)

    def _by_deadline(self, phase: Phase) -> list[tuple[float, int]]:
        """Until when a load must have ended, and of which station, the earliest first.

        Loads that can be done one after the other can be done in this order (Jackson 1955: the
        earliest due date first), so no other needs to be tried.
        """
        found = []
        for name, opening in phase.openings.items():
            if name in self.at:
                load_s = self.works[self.at[name]].load_s
                hard_s = opening.at_least_s - self._leave_s + _SAME_S
                waits_s = opening.at_least_s + load_s - 2 * _SAME_S  # it begins before the end
                found.append((waits_s if opening.waits else hard_s, self.at[name]))
        return sorted(found)

    def _next(self, station: int, mask: int) -> int:
        """The first stations behind this one that are not loaded, one or two, as bits."""
        count = len(self.works)
        behind = (each % count for each in range(station + 1, station + count))
        waiting = (1 << at for at in behind if not mask >> at & 1)
        return sum(islice(waiting, 2 if count <= MOST_OF_TWO else 1))


class _Plan:
    """The cost of what is left, by visits left and stations loaded; the best choice at each.

    Once costs repeat from round to round, but for what a round takes, they are looked up there.
    """

    def __init__(self, ways: _Ways, visits: int) -> None:
        self._ways, self.visits = ways, visits
        self._count = len(ways.works)
        self._costs: list[dict[int, float]] = [defaultdict(float)]  # nothing left costs nothing
        self._offsets = [0.0]
        self._period, self.round_s = 0, 0.0
        self._reachable = self._find_reachable()
        left = 0
        while not self._period:
            left += 1
            self._costs.append(self._cost(left))
            self._find_period(left)

    def _station(self, left: int) -> int:
        return (self.visits - left) % self._count

    def available(self, left: int) -> int:
        """Stations that have another visit behind the one that now begins."""
        now = self.visits - left
        rest = range(now + 1, min(now + self._count, self.visits))
        return sum(1 << (visit % self._count) for visit in rest)

    def choose(self, left: int, mask: int) -> tuple[bool, _Way]:
        """Whether the station must be loaded first, and the best way to do its visit."""
        station = self._station(left)
        load = not mask >> station & 1
        ways = self._ways.of(station, mask & ~(1 << station), self.available(left))
        costs = self._costs[self._place(left - 1)]
        return load, min(ways, key=lambda way: (way.seconds + costs[way.mask], -way.mask))

    def _place(self, left: int) -> int:
        """Where the costs for so many visits left stand."""
        most = len(self._costs) - 1
        if left <= most or not self._period:
            return left
        return most - (most - left) % self._period

    def _cost(self, left: int) -> dict[int, float]:
        """Costs above the least, which is kept beside."""
        station, found = self._station(left), {}
        for mask in self._reachable[station]:
            load, way = self.choose(left, mask)
            ahead = self._ways.works[station].load_s if load else 0.0
            found[mask] = ahead + way.seconds + self._costs[left - 1][way.mask]
        least = min(found.values())
        self._offsets.append(self._offsets[-1] + least)
        return {mask: cost - least for mask, cost in found.items()}

    def _find_period(self, left: int) -> None:
        rounds = left // self._count
        if left % self._count or left < 2 * self._count:
            return
        for back in range(1, min(rounds - 1, 12) + 1):
            before = left - back * self._count
            same = all(
                abs(cost - self._costs[before].get(mask, math.inf)) < _SAME_S * (1 + cost)
                for mask, cost in self._costs[left].items()
            )
            if same or rounds > 300:
                self._period = back * self._count
                self.round_s = (self._offsets[left] - self._offsets[before]) / back
                return

    def _find_reachable(self) -> list[set[int]]:
        """For each station, what may be loaded as its visit begins."""
        every = (1 << self._count) - 1
        found: list[set[int]] = [set() for _ in range(self._count)]
        todo = [(0, 0)]
        while todo:
            station, mask = todo.pop()
            if mask in found[station]:
                continue
            found[station].add(mask)
            others = every & ~(1 << station)
            for way in self._ways.of(station, mask & others, others):
                todo.append(((station + 1) % self._count, way.mask))
        for at in range(self._count):  # the end may come at any station
            found[at] |= {0}
        return found


class _Clock:
    """Carries a plan out, and adds up."""

    def __init__(self, ways: _Ways, plan: _Plan, bars: int) -> None:
        self._ways, self._plan, self._keep = ways, plan, bars
        self._now = self._attended = self._waited = 0.0
        self._in_cuts = self._standing = 0.0
        self._bars: list[Bar] = []
        self._loads: list[tuple[int, Load]] = []
        self._ready = [0.0] * len(ways.works)
        self._waits = [0.0] * len(ways.works)

    def run(self) -> Timeline:
        """All visits."""
        plan, works, mask = self._plan, self._ways.works, 0
        for visit in range(plan.visits):
            at = visit % len(works)
            load, way = plan.choose(plan.visits - visit, mask)
            if load:
                self._loads.append((visit, Load(works[at].name, None, 0)))
                self._draw("load", at, works[at].load_s)
                self._standing += works[at].load_s
                self._now += works[at].load_s
                self._ready[at] = self._now
            self._waits[at] += self._now - self._ready[at]
            self._visit(visit, at, way)
            mask = way.mask
        done = [works[visit % len(works)] for visit in range(plan.visits)]
        parts, total = sum(work.parts for work in done), self._now
        loads = self._in_cuts + self._standing
        return Timeline(
            order=tuple(work.name for work in works),
            parts=parts,
            total_s=total,
            round_s=plan.round_s,
            bound_s=bound_s(works),
            parts_per_hour=parts / total * 3600,
            spindle_share=sum(work.cut_s for work in done) / total,
            operator_share=(loads + self._attended) / total,
            attended_s=self._attended,
            cutting_loads_s=self._in_cuts,
            standing_loads_s=self._standing,
            spindle_waits_s=self._waited,
            waits_s=tuple((w.name, s) for w, s in zip(works, self._waits, strict=True)),
            loads=self._steady_loads(),
            bars=tuple(self._bars),
        )

    def _visit(self, visit: int, at: int, way: _Way) -> None:
        works = self._ways.works
        for number, (phase, loads) in enumerate(zip(works[at].phases, way.loads, strict=True)):
            self._draw("attend", at, phase.attended_s)
            self._attended += phase.attended_s
            self._now += phase.attended_s
            self._draw("cut", at, phase.approach_s + phase.cut_s)
            self._now += phase.approach_s
            ends = self._now + phase.cut_s
            begin = self._now
            for each in loads:
                self._loads.append((visit, Load(works[each].name, works[at].name, number)))
                seconds = works[each].load_s
                self._draw("load", each, seconds)
                self._now += seconds
                beside = max(min(self._now, ends) - (self._now - seconds), 0.0)
                self._in_cuts += beside
                self._standing += seconds - beside
                self._ready[each] = self._now
            waits = max(self._now - ends, 0.0)
            self._now = max(self._now, begin + phase.cut_s)
            if waits > _SAME_S:
                self._waited += waits
                self._now -= waits
                self._draw("wait", at, waits)
                self._now += waits

    def _draw(self, kind: str, at: int, seconds: float) -> None:
        if len(self._bars) < self._keep and seconds > 0:
            name = self._ways.works[at].name
            self._bars.append(Bar(kind, name, self._now, self._now + seconds))

    def _steady_loads(self) -> tuple[Load, ...]:
        """Those of the round in the middle of the run, each once."""
        count = len(self._ways.works)
        middle = max(self._plan.visits // count - 1, 0) // 2 * count
        loads = [load for visit, load in self._loads if middle <= visit < middle + count]
        return tuple(dict.fromkeys(loads))
