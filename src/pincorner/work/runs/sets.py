"""place --program: several places for a jig at once, ranked by the loading windows of a program."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import permutations

from pincorner.errors import BadInput
from pincorner.places.beside import Beside
from pincorner.places.search import PlaceProposal, Proposals
from pincorner.places.several import Weighed, heaviest, nodes_of, spread_out
from pincorner.places.ways import draft_named
from pincorner.render.text.place_sets import PlacedSet, PlacedSets
from pincorner.render.text.places import place_names
from pincorner.render.text.runs import told_gap
from pincorner.runs.gaps import Moving, across, moving_of, reach_mm_of, zone_of
from pincorner.runs.help import MOST_ORDERS
from pincorner.runs.situation import Planner, Situation, Station, Turns
from pincorner.runs.windows import Sitting
from pincorner.setups.setup import Setup, written_in_machine
from pincorner.setups.transform import make_setups
from pincorner.work.placing import (
    Looked,
    Told,
    Wanted,
    look,
    refuse_too_few,
    tell_nobody,
    with_free_codes,
)
from pincorner.work.runs.helping import moved
from pincorner.work.runs.planning import fine_mm_of, no_windows_at_all, park_of, terms_of
from pincorner.work.runs.sittings import Stamps, programs_read
from pincorner.work.session import Session

MOST_SETS = 3
"""So many sets are told, the best first."""

MOST_GAPS = 2_000_000
"""So many gaps of spans to loading zones are looked at: some seconds."""

MOST_TRIES = 8
"""At so many places, of those turned alike, a program is read until it passes at one."""

_STEP_MM = 1e-3
"""Places that differ by less across the beam are the same to it."""


def place_sets(session: Session, wanted: Wanted, told: Told = tell_nobody) -> PlacedSets:
    """Sets of places ranked by the sum of their least windows, then by the smallest gap of two.

    Raises UnknownName, BadInput: also where its program does not pass at any place looked at.
    """
    if wanted.how_many is None or wanted.how_many < 2:
        raise BadInput("--program: say how many at once with --count, two or more")
    found = look(session, wanted, told)
    told(f"choosing {wanted.how_many} at once of {len(found.places.proposals)} places that fit")
    ranked = _Sets(session, found, wanted.how_many).ranked()
    if found.places.proposals and not ranked.sets:
        refuse_too_few(spread_out(found.places, wanted.how_many), found)
        raise BadInput(f"--count {wanted.how_many}: of the places looked at none go together")
    return ranked


_Class = tuple[float, ...]


class _Sets:
    """Sets of `count` places that were found."""

    def __init__(self, session: Session, found: Looked, count: int) -> None:
        self._session, self._found, self._count = session, found, count
        facts = found.places.facts
        machine, run = facts.machine, found.run
        moving, missing = moving_of(machine)
        self._why_not = no_windows_at_all(machine, missing)
        self._moving: Moving | None = None if self._why_not else moving
        self._reach_mm = reach_mm_of(run)
        self._nests = len(facts.holder.nests)
        self._terms = terms_of(run, machine, count * self._nests)
        self._park = park_of(machine)
        load = facts.station.load
        self._load_s = load if load is not None else None if run is None else run.load

    def ranked(self) -> PlacedSets:
        """The sets, with their windows and what a round of them takes."""
        places = self._found.places
        nodes, left_out = nodes_of(places)
        chosen: list[Weighed] = []
        if nodes:
            kept, stations, classes = self._candidates(nodes)
            left_out += len(nodes) - len(kept)
            windows_s, of = self._windows_s(stations, classes)
            chosen = heaviest(Beside(places, kept), windows_s, of, self._count, MOST_SETS)
        sets = sorted((self._set(each) for each in chosen), key=_rank)
        unit = places.facts.machine.units
        return PlacedSets(
            places=places,
            sets=tuple(sets),
            most=bool(chosen) and chosen[0].best and not left_out,
            left_out=left_out,
            terms=self._terms,
            not_given=tuple(self._not_given()),
            told=f"reach {told_gap(self._reach_mm, unit)}",
            around=self._found.around,
        )

    def _not_given(self) -> Iterator[str]:
        """What is not stated, and what is lost by that."""
        if self._why_not:
            yield f"{self._why_not}: so sets are told by their gaps alone"
        if self._found.run is None:
            yield "a run whose times count (--terms RUN): what a run takes by default was taken"
        if self._load_s is None:
            yield "how long loading takes: so parts an hour are not told; say --terms RUN"
        if self._park is None:
            yield (
                f"park of machine {self._found.places.facts.machine.name}, where M6 takes the "
                "spindle: it counts as anywhere"
            )

    def _setups(self, place: PlaceProposal, name: str) -> list[Setup]:
        station = draft_named(place.station, name)
        return make_setups(self._found.places.facts._replace(station=station))

    def _station(self, setups: Sequence[Setup], sittings: Sequence[Sitting]) -> Station:
        name, zone = setups[0].facts.station.name, zone_of(setups[0], self._reach_mm)
        renamed = tuple(each._replace(station=name, called=name) for each in sittings)
        return Station(name, renamed, zone, self._load_s or 1.0, self._nests)

    def _read(self, setups: Sequence[Setup], others: Sequence[Setup]) -> tuple[Sitting, ...]:
        fine_mm, stamps = fine_mm_of(setups[0]), Stamps(self._session, ())
        beside = [*others, *self._found.around]
        read = programs_read(self._session, setups, beside, stamps, fine_mm, stamped_anew=True)
        return read.sittings

    def _candidates(self, nodes: Proposals) -> tuple[Proposals, list[Station], list[_Class]]:
        """The places that are looked at, the stations that they would be, and their classes.

        A program is read once for each angle that it lies at, and moved from place to place.
        """
        placed = [self._setups(each, str(at)) for at, each in enumerate(nodes)]
        angles = [round(written_in_machine(each[0]).angle_rad, 9) for each in placed]
        read: dict[float, tuple[Sequence[Setup], tuple[Sitting, ...]]] = {}
        tries: Counter[float] = Counter()
        for setups, angle in zip(placed, angles, strict=True):
            passed = angle in read and not any(each.why_not for each in read[angle][1])
            if not passed and tries[angle] < MOST_TRIES:
                tries[angle] += 1
                read[angle] = (setups, self._read(setups, ()))
        spans = max(len(each.spans) for _, sittings in read.values() for each in sittings)
        classes = [self._class_of(each) for each in placed]
        kept = [
            at for at in _spread(classes, max(int(math.sqrt(MOST_GAPS / max(spans, 1))), 2))
            if not any(each.why_not for each in read[angles[at]][1])
        ]  # fmt: skip
        if not kept:
            why = next(each.why_not for _, e in read.values() for each in e if each.why_not)
            raise BadInput(f"--program: it passes at no place that was tried; {why}")
        stations = []
        for at in kept:
            first, sittings = read[angles[at]]
            old, new = written_in_machine(first[0]), written_in_machine(placed[at][0])
            stations.append(self._station(placed[at], moved(sittings, old, new)))
        return nodes.at(kept), stations, [classes[at] for at in kept]

    def _class_of(self, setups: Sequence[Setup]) -> _Class:
        """Places of one class have the same windows with any other: for a beam what lies across it
        counts alone."""
        pose, zone = written_in_machine(setups[0]), zone_of(setups[0], self._reach_mm)
        found: tuple[float, ...] = (pose.x_mm, pose.y_mm, *zone.around)
        if self._moving is not None and self._moving.beam != "none":
            along_x = self._moving.beam == "y"
            found = (pose.x_mm if along_x else pose.y_mm, *across(self._moving, zone.around))
        return (round(pose.angle_rad, 9), *(round(each / _STEP_MM) for each in found))

    def _windows_s(
        self, stations: Sequence[Station], classes: Sequence[_Class]
    ) -> tuple[list[list[float]], list[int]]:
        """Seconds of windows while a place of one class runs and one of another is loaded, and the
        number of each place's class."""
        named = {each.name: each for each in stations}
        planner = Planner(Situation(named, self._moving, "", self._park, self._terms))
        firsts = {each: at for at, each in reversed(list(enumerate(classes)))}
        numbers = {each: number for number, each in enumerate(firsts)}
        names = [stations[at].name for at in firsts.values()]
        one_way = [
            [
                planner.windows_s(runs, loaded) if self._moving and runs != loaded else 0.0
                for loaded in names
            ]
            for runs in names
        ]
        return one_way, [numbers[each] for each in classes]

    def _set(self, chosen: Weighed) -> PlacedSet:
        """A set as it is told: its programs read where they would run, by the work offset that
        they select now, its quickest order; each place with a work offset that is free."""
        names = place_names(self._found.places, chosen.places, self._found.taken)
        placed = [self._setups(*each) for each in zip(chosen.places, names, strict=True)]
        stations = {}
        for at, setups in enumerate(placed):
            others = [one for to, each in enumerate(placed) if to != at for one in each]
            stations[names[at]] = self._station(setups, self._read(setups, others))
        situation = Situation(stations, self._moving, self._why_not, self._park, self._terms)
        turns, hourly = self._quickest(Planner(situation), names)
        places = with_free_codes(chosen.places, self._found)
        return PlacedSet(places, names, chosen.gap_mm, turns, hourly)

    def _quickest(self, planner: Planner, names: Sequence[str]) -> tuple[Turns, float | None]:
        """The order of work with most parts an hour in an even round; as listed without a load."""
        if self._load_s is None or any(
            not each.feed_s and each.cycle_s is None
            for station in planner.situation.stations.values() for each in station.sittings
        ):  # fmt: skip
            return planner.turns(names), None
        orders = [tuple(names)]
        if math.factorial(len(names) - 1) <= MOST_ORDERS:
            orders = [(names[0], *rest) for rest in permutations(names[1:])]
        rounds = [planner.timeline(order, bars=0).round_s for order in orders]
        at = min(range(len(orders)), key=lambda each: round(rounds[each], 6))
        return planner.turns(orders[at]), self._count * self._nests * 3600 / rounds[at]


def _spread(classes: Sequence[_Class], most: int) -> list[int]:
    """Places of `most` classes at most, spread over all that there are."""
    found: dict[_Class, list[int]] = {}
    for at, each in enumerate(classes):
        found.setdefault(each, []).append(at)
    step, every = max(len(found) / most, 1.0), list(found.values())
    picked = [every[int(at * step)] for at in range(int(len(every) / step))]
    return sorted(at for some in picked for at in some)


def _rank(found: PlacedSet) -> tuple[float, float]:
    return -round(found.windows_s, 3), -found.gap_mm
