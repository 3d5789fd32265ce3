"""States that stations have been in, newest first, without making any: by their documents.

A change touches a station where it revises one of the documents that the station rests on. What it
does not touch is as it was, and need not be looked at again.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Set

from pincorner.documents.beds import Bed
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.kinds import KINDS, RECORDS, references, word_of
from pincorner.documents.records import Disturbance, Run
from pincorner.documents.stations import Station
from pincorner.registry.reader import Reader, Row, document_of

Place = tuple[str, str]
"""Kind and key of a document."""

_STATION, _BED = word_of(Station), word_of(Bed)


def past_states(reader: Reader, only: Set[str] = frozenset()) -> Iterator[tuple[int, list[str]]]:
    """(change, keys of stations): behind that change these were otherwise than behind the next one.

    The newest comes first, with all stations, then each older one with those that are touched; of
    the stations `only` where there are any. Raises RegistryDamaged.
    """
    history = _History(reader)
    touched: set[Place] | None = None
    for change in sorted(history.revised, reverse=True):
        keys = history.stations(touched)
        if only:
            keys &= only
        if keys:
            yield change, sorted(keys)
        touched = history.go_back(change)


class _History:
    """Documents as they were behind one change, which goes back."""

    def __init__(self, reader: Reader) -> None:
        self._rows: dict[Place, list[Row]] = {}
        self.revised: dict[int, set[Place]] = {}
        self._parsed: dict[tuple[int, Place], WholeDocument] = {}
        self._rests: dict[str, set[Place]] = {}
        for row in reader.changes():
            place = row["kind"], row["key"]
            self._rows.setdefault(place, []).append(row)
            self.revised.setdefault(row["id"], set()).add(place)
        self._verified: dict[int, set[str]] = {}
        if any(kind == word_of(Disturbance) for kind, _ in self._rows):
            self._note_verifications(reader)

    def _note_verifications(self, reader: Reader) -> None:
        """Verifications, and those struck out: they may show where a disturbed bed lies.

        Each is noted with the first change behind which it is seen.
        """
        verified = {row["id"]: row for row in reader.verifications(struck=True)}
        seen = [(row["after_change"], row) for row in verified.values()]
        seen += [
            (row["after_change"], verified[row["verification_id"]]) for row in reader.strikes()
        ]
        changes = sorted(self.revised)
        for after, row in seen:
            at = bisect_left(changes, after)
            if at < len(changes):
                self._verified.setdefault(changes[at], set()).add(row["station_key"])

    def find(self, place: Place) -> WholeDocument | None:
        """A document as it is now, each revision read once."""
        rows = self._rows.get(place)
        if not rows or rows[-1]["body"] is None:
            return None
        row = rows[-1]
        if (row["id"], place) not in self._parsed:
            model = KINDS[place[0]].model
            self._parsed[row["id"], place] = document_of(model, row["name"], row["body"])
        return self._parsed[row["id"], place]

    def stations(self, touched: set[Place] | None) -> set[str]:
        """Keys of the stations there are that rest on any of these documents; of all with None."""
        places = self._rows if touched is None else touched
        own = {at[1] for at in places if at[0] == _STATION and self.find(at) is not None}
        others = {place for place in touched or () if place[0] not in (_STATION, word_of(Run))}
        if not others:
            return own
        every = self.stations(None) - own
        return own | {key for key in every if not others.isdisjoint(self._station_rests_on(key))}

    def _station_rests_on(self, key: str) -> set[Place]:
        """The documents that a station rests on, found once as long as none of them is revised."""
        if key not in self._rests:
            self._rests[key] = self._rests_on((_STATION, key))
        return self._rests[key]

    def _rests_on(self, place: Place) -> set[Place]:
        """The documents that one needs, and theirs."""
        found, new = set[Place](), [place]
        while new:
            document = self.find(new.pop())
            for each in () if document is None else references(document):
                at = word_of(each.model), key_of(each.name)
                if at not in found:
                    found.add(at)
                    new.append(at)
        return found

    def go_back(self, change: int) -> set[Place]:
        """Undo a change; the documents that it, and what was verified behind it, touch."""
        touched = set(self.revised[change])
        touched |= set(self._beds(touched))
        for key in self._verified.get(change, ()):
            touched |= {at for at in self._rests_on((_STATION, key)) if at[0] == _BED}
        revised = self.revised[change]
        for place in revised:
            self._rows[place].pop()
        self._rests = {
            key: places
            for key, places in self._rests.items()
            if (_STATION, key) not in revised and places.isdisjoint(revised)
        }
        return touched | set(self._beds(touched))

    def _beds(self, places: Iterable[Place]) -> Iterator[Place]:
        """The beds that surveys, surfacings and disturbances among them are of."""
        for place in places:
            record = self.find(place) if place[0] in RECORDS else None
            if record is not None:
                yield from ((word_of(each.model), key_of(each.name)) for each in references(record))
