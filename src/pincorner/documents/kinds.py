"""The kinds of documents: their names, their order on output, and what one needs of the others."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, NamedTuple, Protocol, TypeVar, get_args

from pincorner.documents.beds import Bed, Pin
from pincorner.documents.fields import Document, WholeDocument, check_name, key_of
from pincorner.documents.jigs import Jig, OnDowels
from pincorner.documents.machines import Dialect, Machine
from pincorner.documents.records import Disturbance, Program, Run, Surfacing, Survey
from pincorner.documents.stations import BARE_NEST, DowelPins, Station
from pincorner.errors import BadInput, unknown

FORMAT = 1
"""The format of documents that this version reads and writes."""

BedRecord = Survey | Surfacing | Disturbance
"""What is recorded about a bed, under names that are dates: of each the last by name counts."""

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
        Kind("disturbance", "disturbances", Disturbance),
        Kind("run", "runs", Run),
        Kind("dialect", "dialects", Dialect),
    )
}
BY_LIST_KEY = {kind.list_key: kind for kind in KINDS.values()}
_WORD_OF = {kind.model: kind.word for kind in KINDS.values()}
RECORDS: dict[str, type[BedRecord]] = {_WORD_OF[model]: model for model in get_args(BedRecord)}
"""What is recorded about beds: the class of each kind."""


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


_EACH = -1
"""In a key path, every entry of a list."""
_Path = tuple[str | int, ...]


class _Naming(NamedTuple):
    """Where a kind of document names another: a key path, and the key there if it has several."""

    path: _Path
    model: type[WholeDocument]
    inner: str | None = None


_PIN_PATHS: tuple[_Path, ...] = (
    ("pins", "edge", _EACH), ("pins", "stop"), ("pins", "round"), ("pins", "slot"),
)  # fmt: skip
_OF_BED = (_Naming(("bed",), Bed),)
_NAMINGS: dict[type[WholeDocument], tuple[_Naming, ...]] = {
    Machine: (_Naming(("dialect",), Dialect),),
    Bed: (_Naming(("machine",), Machine),),
    **dict.fromkeys(get_args(BedRecord), _OF_BED),
    Run: (_Naming(("stations", _EACH), Station),),
    Jig: (_Naming(("nests", _EACH), Program, "program"),),
    Station: (
        *_OF_BED,
        _Naming(("pin",), Pin),
        _Naming(("jig",), Jig),
        _Naming(("program",), Program),
        *(_Naming(path, Pin, "pin") for path in _PIN_PATHS),
    ),
}


def references(document: WholeDocument) -> Iterator[Reference]:
    """Every other document that this one needs."""
    return references_in(type(document), document)


def references_in(model: type[WholeDocument], values: Any) -> Iterator[Reference]:
    """The same of a document of that class, or of what stands in a file for one, right or wrong.

    What is no name there is left out.
    """
    for naming in _NAMINGS.get(model, ()):
        for path, value in _at(values, naming.path):
            name = value if naming.inner is None else _part(value, naming.inner)
            if _is_name(name):
                inner = "" if naming.inner in (None, "pin") else f".{naming.inner}"
                yield Reference(path + inner, naming.model, name)


def holes_in(station: Any) -> Iterator[tuple[str, str]]:
    """(key path, label) of every hole that a station names, or what stands in a file for one."""
    for pattern in (*_PIN_PATHS, ("corner",)):
        for path, value in _at(station, pattern):
            label = value if isinstance(value, str) else _part(value, "hole")
            if _is_name(label):
                yield path, label


def _at(values: Any, pattern: _Path, path: str = "") -> Iterator[tuple[str, Any]]:
    """(key path, what stands there) of all that a pattern leads to."""
    if not pattern:
        yield path, values
        return
    first, *rest = pattern
    if isinstance(first, int):
        for index, entry in enumerate(values if isinstance(values, list | tuple) else ()):
            yield from _at(entry, tuple(rest), f"{path}[{index}]")
    else:
        yield from _at(_part(values, first), tuple(rest), f"{path}.{first}" if path else first)


def _part(values: Any, key: str) -> Any:
    if isinstance(values, Mapping):
        return values.get(key)
    return getattr(values, key, None) if isinstance(values, Document) else None


def _is_name(value: Any) -> bool:
    try:
        return isinstance(value, str) and bool(check_name(value))
    except ValueError:
        return False


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
    return unknown_among(references(document), is_there, names)


def unknown_among(found: Iterable[Reference], is_there: IsThere, names: Names) -> Problems:
    """(key path, text) of those names that are not there."""
    for needed in found:
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
    yield from hole_problems(holes_in(station), bed)
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
    named = [(f"work_offsets.{name}", name) for name in station.work_offsets]
    if station.measured is not None and station.measured.nest is not None:
        named.append(("measured.nest", station.measured.nest))
    for path, name in named:
        if key_of(name) not in known:
            yield path, f"there is no such nest; there are {', '.join(nests)}"


def hole_problems(found: Iterable[tuple[str, str]], bed: Bed) -> Problems:
    """(key path, text) of those holes that a bed does not have."""
    for path, label in found:
        if bed.hole(label) is None:
            yield path, f"bed {bed.name} has no hole {label}"


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
