"""Documents by themselves, read in the same way as a registry's."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple, Protocol

from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.kinds import D, identity, word_of
from pincorner.documents.stations import Station, hole_of
from pincorner.documents.writing import to_json


class HoleInUse(NamedTuple):
    """A hole of a bed and a kind of pin that stations have in it.

    `first` and `last`: keys of the first and the last of these stations (the same where it is one).
    """

    label: str
    pin_key: str
    first: str
    last: str


class View(Protocol):
    """Documents as they are at one moment: what the facts of stations are read from."""

    @property
    def is_now(self) -> bool:
        """Whether it is the present; only then is it known which holes are in use."""

    def find(self, model: type[D], name: str) -> D | None:
        """The document of that class and name, without regard to case; None where there is none."""

    def all(self, model: type[D]) -> list[D]:
        """Every document of a class, by name."""

    def names(self, model: type[WholeDocument]) -> list[str]:
        """The names of a class's documents, in order."""

    def bodies(self, places: Iterable[tuple[str, str]]) -> dict[tuple[str, str], str]:
        """The canonical JSON of many documents, each by kind and key; of those that there are."""

    def holes_in_use(self, bed: str) -> list[HoleInUse]:
        """Every hole in use on a bed with each kind of pin."""

    def verified_since(self, document: WholeDocument) -> Sequence[Any]:
        """A mapping for each verification since a document became what it is, oldest first."""

    def last_papers(self, station: str | None) -> Sequence[Any]:
        """A mapping for each nest's newest paper, of one station (by name) or of all with None."""


class DocumentsAlone:
    """A view of documents that no registry keeps. There are no papers, and there is no past.

    Of documents of one kind and name the last counts.
    """

    is_now = True

    def __init__(self, documents: Iterable[WholeDocument]) -> None:
        found = {identity(document): document for document in documents}
        self._documents = {place: found[place] for place in sorted(found)}

    def find(self, model: type[D], name: str) -> D | None:
        found = self._documents.get((word_of(model), key_of(name)))
        return found if isinstance(found, model) else None

    def all(self, model: type[D]) -> list[D]:
        return [each for each in self._documents.values() if isinstance(each, model)]

    def names(self, model: type[WholeDocument]) -> list[str]:
        return [each.name for each in self._documents.values() if isinstance(each, model)]

    def bodies(self, places: Iterable[tuple[str, str]]) -> dict[tuple[str, str], str]:
        known = [place for place in places if place in self._documents]
        return {place: to_json(self._documents[place]) for place in known}

    def holes_in_use(self, bed: str) -> list[HoleInUse]:
        users: dict[tuple[str, str], list[str]] = {}
        for station in self.all(Station):
            if key_of(station.bed) == key_of(bed):
                for _, _, entry in station.pins_by_role:
                    place = hole_of(entry), key_of(station.pin_of(entry))
                    users.setdefault(place, []).append(key_of(station.name))
        return [HoleInUse(*place, min(keys), max(keys)) for place, keys in users.items()]

    def verified_since(self, document: WholeDocument) -> Sequence[Any]:
        return ()

    def last_papers(self, station: str | None) -> Sequence[Any]:
        return ()
