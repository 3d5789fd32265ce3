"""What a document needs of the others that it names."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol

from pincorner.documents.beds import Bed
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.jigs import Jig, OnDowels
from pincorner.documents.kinds import D, references, word_of
from pincorner.documents.records import Surfacing, Survey
from pincorner.documents.stations import BARE_NEST, DowelPins, Station, hole_of
from pincorner.errors import unknown

IsThere = Callable[[type[WholeDocument], str], bool]
"""(class, name) to whether there will be such a document."""
Problems = Iterator[tuple[str, str]]
Names = Callable[[type[WholeDocument]], list[str]]


class Documents(Protocol):
    """The documents that will be there after the load."""

    def get(self, model: type[D], name: str) -> D:
        """The document of that class and name. Raises UnknownName."""


def cross_problems(document: WholeDocument, is_there: IsThere, names: Names) -> Problems:
    """(key path, text) of every document that this one names and that is not there."""
    for needed in references(document):
        if not is_there(needed.model, needed.name):
            text = unknown(word_of(needed.model), needed.name, names(needed.model))
            yield needed.path, text


def part_problems(document: WholeDocument, documents: Documents) -> Problems:
    """(key path, text) of holes, nests and slats that a document names and that are not there.

    They may go and come back with their bed or jig: such a document is kept, with a warning.
    """
    if isinstance(document, Station):
        yield from _station_problems(document, documents)
    elif isinstance(document, Survey | Surfacing):
        yield from _record_problems(document, documents.get(Bed, document.bed))


def _station_problems(station: Station, documents: Documents) -> Problems:
    bed = documents.get(Bed, station.bed)
    jig = None if station.jig is None else documents.get(Jig, station.jig)
    for path, _, entry in station.pins.by_role() if station.pins else ():
        if bed.hole(hole_of(entry)) is None:
            yield f"pins.{path}", f"bed {bed.name} has no hole {hole_of(entry)}"
    if station.corner is not None and bed.hole(station.corner) is None:
        yield "corner", f"bed {bed.name} has no hole {station.corner}"
    nests = [BARE_NEST]
    if jig is not None:
        nests = [nest.name for nest in jig.nests]
        dowels = isinstance(station.pins, DowelPins)
        if isinstance(jig.locate, OnDowels) != dowels and station.pins is not None:
            wanted = "three pins, two at an edge and the stop"
            if not dowels:
                wanted = "two dowel pins, in its round hole and its slot"
            yield "pins", f"jig {jig.name} is located by {wanted}"
    known = {key_of(name) for name in nests}
    for name in station.work_offsets:
        if key_of(name) not in known:
            yield f"work_offsets.{name}", f"there is no such nest; there are {', '.join(nests)}"


def _record_problems(record: Survey | Surfacing, bed: Bed) -> Problems:
    if isinstance(record, Survey):
        for index, reading in enumerate(record.readings):
            if bed.hole(reading[0]) is None:
                yield f"readings[{index}]", f"bed {bed.name} has no hole {reading[0]}"
        return
    slats = {key_of(slat.name) for slat in bed.slats}
    for index, name in enumerate(record.slats):
        if key_of(name) not in slats:
            yield f"slats[{index}]", f"bed {bed.name} has no slat {name}"
