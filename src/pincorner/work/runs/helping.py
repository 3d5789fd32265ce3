"""Other places for the jigs of a run, as `place` knows them: what its windows gain by them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from pincorner.geometry.outline import Box
from pincorner.geometry.pose import Pose
from pincorner.places.search import PlaceProposal, find_places
from pincorner.places.ways import turns_as_posted
from pincorner.program.source.text import read_program
from pincorner.runs.gaps import zone_of
from pincorner.runs.help import Change, tries, with_station
from pincorner.runs.situation import Planner, Situation, Station
from pincorner.runs.spans import NOWHERE
from pincorner.runs.windows import Sitting
from pincorner.setups.setup import Setup, written_in_machine
from pincorner.setups.transform import make_setups
from pincorner.standing import empty_holes, standing_on
from pincorner.work.programs.checking import known_in
from pincorner.work.runs.sittings import read_again
from pincorner.work.session import Session

MOST_PLACES, MOST_IN_ALL = 24, 72
"""Of one jig, and of all jigs of a run: so many places, spread over all that there are, are planned
with."""

MOST_READ = 3
"""So many of those, the best, are read again with their programs until one passes."""


class Places:
    """Tries the stations of a run elsewhere on their beds."""

    def __init__(
        self, session: Session, situation: Situation, stations: Sequence[Sequence[Setup]],
        order: tuple[str, ...], reach_mm: float, fine_mm: float,
    ) -> None:  # fmt: skip
        self._session, self._situation, self._stations = session, situation, stations
        self._order, self._reach_mm, self._fine_mm = order, reach_mm, fine_mm
        self._planner = Planner(situation)
        turns = self._planner.turns(order)
        self._most = min(MOST_PLACES, tries(turns, MOST_IN_ALL) // len(stations))

    def changes(self) -> Iterator[Change]:
        """For each station the best other place that was found, its program read there.

        What no pins hold stays where it was measured.
        """
        if self._situation.moving is None or not self._most:
            return
        for setups in self._stations:
            if not setups[0].located.as_measured:
                yield from self._of(setups)

    def _of(self, setups: Sequence[Setup]) -> Iterator[Change]:
        name = setups[0].facts.station.name
        tried = [
            (self._hourly(name, station), proposal, placed)
            for proposal in self._proposals(setups)
            for placed in [make_setups(setups[0].facts._replace(station=proposal.station))]
            if (station := self._moved(setups, placed)) is not None
        ]
        tried.sort(key=lambda each: -each[0])
        for hourly, proposal, placed in tried[:MOST_READ]:
            if hourly <= self._hourly(name, self._situation.stations[name]):
                return
            station = self._read(setups, placed)
            if station is not None:
                situation = with_station(self._situation, station)
                yield Change("place", name, _told(name, proposal), situation, self._order)
                return

    def _hourly(self, name: str, station: Station) -> float:
        planner = self._planner.of(with_station(self._situation, station))
        return planner.timeline(self._order, bars=0).parts_per_hour

    def _proposals(self, setups: Sequence[Setup]) -> Sequence[PlaceProposal]:
        """Places beside the other stations of the run, some of them, spread over all."""
        facts = setups[0].facts
        others = [
            each for some in self._stations if some is not setups for each in some
            if each.facts.bed.name == facts.bed.name
        ]  # fmt: skip
        turns = turns_as_posted(facts) if facts.program is not None else None
        found = find_places(
            facts._replace(used=None),
            standing_on(facts.bed, others),
            empty=empty_holes(facts.bed, others),
            turns=turns,
            most_corners=self._most,
        ).proposals
        best_first = reversed(found)  # the best of each corner is the one that is kept
        return list({each.located.corner_hole or each.holes: each for each in best_first}.values())

    def _moved(self, setups: Sequence[Setup], placed: Sequence[Setup]) -> Station | None:
        """The station with its spans moved to another place; None where they would turn."""
        old, new = written_in_machine(setups[0]), written_in_machine(placed[0])
        if abs(old.angle_rad - new.angle_rad) > 1e-9:
            return None
        station = self._situation.stations[setups[0].facts.station.name]
        sittings = moved(station.sittings, old, new)
        return station._replace(sittings=sittings, zone=zone_of(placed[0], self._reach_mm))

    def _read(self, setups: Sequence[Setup], placed: Sequence[Setup]) -> Station | None:
        """The station with its programs read where it would lie; None where one does not pass."""
        station = self._situation.stations[setups[0].facts.station.name]
        others = [each for some in self._stations if some is not setups for each in some]
        sittings = []
        for sitting in station.sittings:
            nests = [each for each in placed if each.nest.name in sitting.nests]
            text = read_program(self._session.shop / sitting.file)
            known = known_in(self._session.shop, text, nests[0].program)
            read = read_again(sitting, text, nests, placed, others, self._fine_mm, known)
            if read is None:
                return None
            sittings.append(read)
        zone = zone_of(placed[0], self._reach_mm)
        return station._replace(sittings=tuple(sittings), zone=zone)


def _told(name: str, proposal: PlaceProposal) -> str:
    corner, pins = proposal.located.corner_hole, ",".join(proposal.holes)
    where = f"pin corner {corner} {proposal.located.toward}, " if corner else ""
    turn = f", turned {proposal.turn_deg:g}" if proposal.turn_deg else ""
    return f"lay {name} at {where}pins {pins}{turn}"


def moved(sittings: Iterable[Sitting], old: Pose, new: Pose) -> tuple[Sitting, ...]:
    """Sittings elsewhere, as if nothing in their programs named a place in the machine.

    old, new: the program in the machine, at one angle.
    """
    x, y = new.x_mm - old.x_mm, new.y_mm - old.y_mm

    def there(box: Box | None) -> Box | None:
        if box is None or box == NOWHERE:
            return box
        left, front, right, back = box
        return Box(left + x, front + y, right + x, back + y)

    def sitting_there(sitting: Sitting) -> Sitting:
        return sitting._replace(
            spans=tuple(span._replace(box=there(span.box)) for span in sitting.spans),
            place=there(sitting.place) or NOWHERE,
            cut_place=there(sitting.cut_place) or NOWHERE,
            touched=there(sitting.touched),
            skipped=None if sitting.skipped is None else sitting_there(sitting.skipped),
        )

    return tuple(map(sitting_there, sittings))
