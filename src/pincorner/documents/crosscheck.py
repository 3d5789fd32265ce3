"""What a document needs of the others that it names."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.documents.jigs import Jig, OnDowels
from pincorner.documents.kinds import AnyDocument, references
from pincorner.documents.records import Surfacing, Survey
from pincorner.documents.stations import BARE_NEST, DowelPins, Station, hole_of
from pincorner.errors import unknown

Find = Callable[[str, str], AnyDocument | None]
"""(kind, name) to the document that will be there after the load."""
IsThere = Callable[[str, str], bool]
"""(kind, name) to whether there will be such a document."""
Problems = Iterator[tuple[str, str]]
Names = Callable[[str], list[str]]


def cross_problems(document: AnyDocument, is_there: IsThere, names: Names) -> Problems:
    """(key path, text) of every document that this one names and that is not there."""
    for needed in references(document):
        if not is_there(needed.kind, needed.name):
            yield needed.path, unknown(needed.kind, needed.name, names(needed.kind))


def part_problems(document: AnyDocument, find: Find) -> Iterator[tuple[str, str]]:
    """(key path, text) of holes, nests and slats that a document names and that are not there.

    They may go and come back with their bed or jig: such a document is kept, with a warning.
    """
    if isinstance(document, Station):
        yield from _station_problems(document, find)
    elif isinstance(document, Survey | Surfacing):
        bed = find("bed", document.bed)
        assert isinstance(bed, Bed)
        yield from _record_problems(document, bed)


def _station_problems(station: Station, find: Find) -> Iterator[tuple[str, str]]:
    bed = find("bed", station.bed)
    jig = find("jig", station.jig) if station.jig is not None else None
    assert isinstance(bed, Bed)
    for path, _, entry in station.pins.by_role() if station.pins else ():
        if bed.hole(hole_of(entry)) is None:
            yield f"pins.{path}", f"bed {bed.name} has no hole {hole_of(entry)}"
    if station.corner is not None and bed.hole(station.corner) is None:
        yield "corner", f"bed {bed.name} has no hole {station.corner}"
    nests = [BARE_NEST]
    if isinstance(jig, Jig):
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


def _record_problems(record: Survey | Surfacing, bed: Bed) -> Iterator[tuple[str, str]]:
    if isinstance(record, Survey):
        for index, reading in enumerate(record.readings):
            if bed.hole(reading[0]) is None:
                yield f"readings[{index}]", f"bed {bed.name} has no hole {reading[0]}"
        return
    slats = {key_of(slat.name) for slat in bed.slats}
    for index, name in enumerate(record.slats):
        if key_of(name) not in slats:
            yield f"slats[{index}]", f"bed {bed.name} has no slat {name}"
