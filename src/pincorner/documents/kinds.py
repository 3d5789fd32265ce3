"""The kinds of documents: their names, their order on output, and what refers to what."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple, TypeVar

from pincorner.documents.beds import Bed, Pin
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.jigs import Jig
from pincorner.documents.machines import Dialect, Machine
from pincorner.documents.records import Program, Run, Surfacing, Survey
from pincorner.documents.stations import PinInHole, Station
from pincorner.errors import BadInput

FORMAT = 1
"""The format of documents that this version reads and writes."""

D = TypeVar("D", bound=WholeDocument)
"""The class of a document: who asks for one by its class gets one of that class."""


class Kind(NamedTuple):
    """One kind: its word, the key of its list in a file, and its type."""

    word: str
    list_key: str
    model: type[WholeDocument]


KINDS: dict[str, Kind] = {
    kind.word: kind
    for kind in (
        Kind("machine", "machines", Machine),
        Kind("bed", "beds", Bed),
        Kind("pin", "pins", Pin),
        Kind("jig", "jigs", Jig),
        Kind("station", "stations", Station),
        Kind("program", "programs", Program),
        Kind("survey", "surveys", Survey),
        Kind("surfacing", "surfacings", Surfacing),
        Kind("run", "runs", Run),
        Kind("dialect", "dialects", Dialect),
    )
}
BY_LIST_KEY = {kind.list_key: kind for kind in KINDS.values()}
_WORD_OF = {kind.model: kind.word for kind in KINDS.values()}


def kind_named(text: str) -> str:
    """The word of a kind, from its word or its list's key. Raises BadInput."""
    wanted = key_of(text)
    for kind in KINDS.values():
        if wanted in (kind.word, kind.list_key):
            return kind.word
    raise BadInput(f"there is no kind {text}; kinds are {', '.join(KINDS)}")


def word_of(model: type[WholeDocument]) -> str:
    """The word of a kind, from its class."""
    return _WORD_OF[model]


def kind_of(document: WholeDocument) -> str:
    """The word of a document's kind."""
    return word_of(type(document))


def identity(document: WholeDocument) -> tuple[str, str]:
    """What a document is known by: its kind and its name's key."""
    return kind_of(document), key_of(document.name)


class Reference(NamedTuple):
    """A name in a document: where it stands and what it must be the name of."""

    path: str
    model: type[WholeDocument]
    name: str


def references(document: WholeDocument) -> Iterator[Reference]:
    """Every other document that this one needs."""
    if isinstance(document, Machine):
        yield Reference("dialect", Dialect, document.dialect)
    elif isinstance(document, Bed):
        yield Reference("machine", Machine, document.machine)
    elif isinstance(document, Survey | Surfacing):
        yield Reference("bed", Bed, document.bed)
    elif isinstance(document, Run):
        for index, name in enumerate(document.stations):
            yield Reference(f"stations[{index}]", Station, name)
    elif isinstance(document, Station):
        yield from _station_references(document)


def _station_references(station: Station) -> Iterator[Reference]:
    yield Reference("bed", Bed, station.bed)
    yield Reference("pin", Pin, station.pin)
    if station.jig is not None:
        yield Reference("jig", Jig, station.jig)
    if station.program is not None:
        yield Reference("program", Program, station.program)
    for path, _, entry in station.pins.by_role() if station.pins else ():
        if isinstance(entry, PinInHole):
            yield Reference(f"pins.{path}", Pin, entry.pin)
