"""One operator and one spindle work stations in turn: what a run takes.

A deterministic simulation. Loading beside a running spindle is allowed, except where the runner
sweeps the place that is loaded. The operator finishes what they have begun; asked for by the
spindle (a start, a tool change) and by a load at once, they go to the spindle first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import permutations
from typing import NamedTuple

ORDERS_TRIED = 5040
"""Up to so many orders (7!) are tried for the best; more stations keep the order they have."""


class Work(NamedTuple):
    """A station's share of a round, in seconds.

    `load_s`: taking the part out and the next one in. `cut_s`: the spindle alone. `attended_s`: the
    operator at the machine: once at the start, then at each change, between equal parts of the cut.
    `parts`: made each time.
    """

    name: str
    load_s: float
    cut_s: float
    attended_s: tuple[float, ...] = ()
    parts: int = 1

    @property
    def phases(self) -> list[tuple[bool, float]]:
        """(attended, seconds) of the spindle's time here, in order, empty ones left out."""
        pieces = max(len(self.attended_s), 1)
        attended = self.attended_s or (0.0,)
        found = [p for each in attended for p in ((True, each), (False, self.cut_s / pieces))]
        return [(with_operator, seconds) for with_operator, seconds in found if seconds > 0]

    @property
    def spindle_s(self) -> float:
        return self.cut_s + sum(self.attended_s)


class Bar(NamedTuple):
    """Something that takes time: `load`, `attend` or `cut`, at which station, from when to when."""

    kind: str
    station: str
    start_s: float
    end_s: float


class Timeline(NamedTuple):
    """What a run takes.

    `spindle_share` counts cutting only, `operator_share` loads, starts and tool changes.
    `waits_s`: for each station, from the end of its load to the start of its cut, together.
    `round_s`: the time between the ends of the last two rounds (the whole where there is one).
    `bars`: the beginning of it, for a chart.
    """

    order: tuple[str, ...]
    parts: int
    total_s: float
    round_s: float
    parts_per_hour: float
    spindle_share: float
    operator_share: float
    attended_s: float
    waits_s: tuple[tuple[str, float], ...]
    bars: tuple[Bar, ...]


def simulate(
    works: Sequence[Work],
    parts: int,
    conflicts: Iterable[tuple[str, str]] = (),
    *,
    bars: int = 60,
) -> Timeline:
    """Work the stations in this order until `parts` are made.

    `conflicts`: (runs, is loaded) pairs that may not happen at the same time. Raises ValueError
    for times that are not positive and for no parts.
    """
    if parts < 1 or not works:
        raise ValueError("expected at least one part and one station")
    if any(work.load_s <= 0 or work.cut_s <= 0 for work in works):
        raise ValueError("expected load and cutting times of more than nothing")
    return _Shop(works, frozenset(conflicts), _visits(works, parts), bars).run()


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


@dataclass
class _Shop:
    """The state of the simulation. Visits are numbered; visit v is at station v modulo n."""

    works: Sequence[Work]
    conflicts: frozenset[tuple[str, str]]
    visits: int
    keep: int
    now: float = 0.0
    loading: int | None = None
    load_ends: float = math.inf
    loaded: int = 0
    cutting: int | None = None
    cut_done: int = 0
    phases: list[tuple[bool, float]] = field(default_factory=list)
    phase_ends: float = math.inf
    attending: bool = False
    bars: list[Bar] = field(default_factory=list)
    ready_at: list[float] = field(default_factory=list)
    ends: list[float] = field(default_factory=list)
    waits: dict[str, float] = field(default_factory=dict)

    def run(self) -> Timeline:
        while self.cut_done < self.visits:
            while self._begin_cut() or self._begin_phase() or self._begin_load():
                pass
            self.now = min(self.load_ends, self.phase_ends)
            self._finish()
        return self._told()

    def _work(self, visit: int) -> Work:
        return self.works[visit % len(self.works)]

    def _clash(self, runs: int, is_loaded: int) -> bool:
        return (self._work(runs).name, self._work(is_loaded).name) in self.conflicts

    def _begin_cut(self) -> bool:
        """The next visit's cut, once it is loaded and nobody loads where it sweeps."""
        visit = self.cut_done
        if self.cutting is not None or visit >= self.loaded:
            return False
        if self.loading is not None and self._clash(visit, self.loading):
            return False
        self.cutting, self.phases = visit, list(self._work(visit).phases)
        name = self._work(visit).name
        self.waits[name] = self.waits.get(name, 0.0) + self.now - self.ready_at[visit]
        return True

    def _begin_phase(self) -> bool:
        """The next piece of the cut; an attended one needs the operator."""
        if self.cutting is None or self.phase_ends < math.inf:
            return False
        attended, seconds = self.phases[0]
        if attended and self.loading is not None:
            return False
        self.attending, self.phase_ends = attended, self.now + seconds
        self._draw("attend" if attended else "cut", self.cutting, seconds)
        return True

    def _begin_load(self) -> bool:
        """The next load, once its station is empty and the running one does not sweep it."""
        visit = self.loaded
        if self.loading is not None or self.attending or visit >= self.visits:
            return False
        if visit - len(self.works) >= self.cut_done:
            return False
        if self.cutting is not None and self._clash(self.cutting, visit):
            return False
        seconds = self._work(visit).load_s
        self.loading, self.load_ends = visit, self.now + seconds
        self._draw("load", visit, seconds)
        return True

    def _finish(self) -> None:
        if self.load_ends <= self.now:
            self.loading, self.load_ends, self.loaded = None, math.inf, self.loaded + 1
            self.ready_at.append(self.now)
        if self.phase_ends <= self.now:
            self.attending, self.phase_ends = False, math.inf
            self.phases.pop(0)
            if not self.phases:
                self.cutting, self.cut_done = None, self.cut_done + 1
                self.ends.append(self.now)

    def _draw(self, kind: str, visit: int, seconds: float) -> None:
        if len(self.bars) < self.keep:
            self.bars.append(Bar(kind, self._work(visit).name, self.now, self.now + seconds))

    def _told(self) -> Timeline:
        done = [self._work(visit) for visit in range(self.visits)]
        parts, attended = sum(w.parts for w in done), sum(sum(w.attended_s) for w in done)
        size, total = len(self.works), self.ends[-1]
        last_full = self.visits - self.visits % size
        one_round = (
            self.ends[last_full - 1] - self.ends[last_full - 1 - size]
            if (last_full > size)
            else self.ends[min(size, self.visits) - 1]
        )
        return Timeline(
            order=tuple(work.name for work in self.works),
            parts=parts,
            total_s=total,
            round_s=one_round,
            parts_per_hour=parts / total * 3600,
            spindle_share=sum(w.cut_s for w in done) / total,
            operator_share=(sum(w.load_s for w in done) + attended) / total,
            attended_s=attended,
            waits_s=tuple((w.name, self.waits.get(w.name, 0.0)) for w in self.works),
            bars=tuple(self.bars),
        )


def best_order(
    works: Sequence[Work], parts: int, conflicts: Iterable[tuple[str, str]] = ()
) -> Timeline | None:
    """The quickest order that is quicker than the given one by a second or more; None else.

    The first station stays the first: turning the ring changes only the beginning and the end.
    """
    if math.factorial(len(works) - 1) > ORDERS_TRIED:
        return None
    clashes = frozenset(conflicts)
    orders = ([works[0], *rest] for rest in permutations(works[1:]))
    tried = min((simulate(order, parts, clashes) for order in orders), key=lambda t: t.total_s)
    given = simulate(works, parts, clashes)
    return tried if tried.total_s < given.total_s - 1.0 else None


def by_count(
    works: Sequence[Work], parts: int, conflicts: Iterable[tuple[str, str]] = ()
) -> list[Timeline]:
    """The same for the first station, the first two, ...: what one more station is worth."""
    clashes = frozenset(conflicts)
    return [simulate(works[:count], parts, clashes) for count in range(1, len(works) + 1)]
