"""offsets, explain, block, list, show, dump, history: what the registry says."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from functools import cache
from itertools import chain
from textwrap import shorten
from typing import TYPE_CHECKING, Any, NamedTuple

from pincorner.documents.beds import Bed, Hole, Pin
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.jigs import Jig
from pincorner.documents.kinds import KINDS, RECORDS, kind_of
from pincorner.documents.machines import Dialect, Machine
from pincorner.documents.stations import Station
from pincorner.documents.writing import plain_values, to_yaml, values_in
from pincorner.errors import BadInput, Refused, UnknownName
from pincorner.geometry.outline import bounds
from pincorner.registry.reader import Reader, Row, document_of, values_of
from pincorner.setups.setup import OffsetRow, Setup, setups_in
from pincorner.setups.transform import make_setups
from pincorner.standing import Standing, empty_holes, standing_on
from pincorner.units import Unit, figure, in_unit
from pincorner.work.kept.past import past_states
from pincorner.work.session import MANY_STATIONS, Library, Session, Source

if TYPE_CHECKING:
    from pincorner.setups.advice import Remedies, Taken

# What draws, renders or looks for remedies is imported where it is done: a list needs none of it.

_FINGERPRINT = re.compile(r"[0-9A-F]{4}-[0-9A-F]{4}")
_IN_SHORT = 60
"""Characters of what a list says of a document."""


def offsets(source: Source, names: Sequence[str], as_of: str | None) -> list[OffsetRow]:
    """A row for each nest of the stations named (of all with none). Raises UnknownName."""
    with source.reading(as_of) as reader:
        library = Library(reader)
        stations = library.stations(names)
        return library.rows(stations)


def station_named(source: Source, name: str, as_of: str | None) -> Station:
    """The document of a station. Raises UnknownName."""
    with source.reading(as_of) as reader:
        return Library(reader).get(Station, name)


def setups_of(
    source: Source, name: str, as_of: str | None, stock_thickness_mm: float | None
) -> list[Setup]:
    """The setups of a station's nests. Raises UnknownName, Refused."""
    with source.reading(as_of) as reader:
        library = Library(reader)
        facts = library.facts(library.stations([name])[0])
    if stock_thickness_mm is not None:
        facts = facts.with_stock_thickness(stock_thickness_mm)
    return make_setups(facts)


def block_text(
    source: Source,
    station: str,
    nest: str | None,
    as_of: str | None,
    stock_thickness_mm: float | None,
) -> tuple[str, list[Setup]]:
    """A station's block, and the setups that it writes. Raises UnknownName, Refused."""
    from pincorner.render.blocks.block import render_block

    setups = setups_of(source, station, as_of, stock_thickness_mm)
    setups[0].facts.nest(nest)
    return render_block(setups, nest), setups


def explained(
    source: Source, name: str, nest: str | None, as_of: str | None
) -> tuple[Setup, Remedies]:
    """The setup of one nest, the first with None, and what would lower its uncertainty most.

    Raises UnknownName, Refused.
    """
    from pincorner.setups.advice import remedies

    setups = setups_of(source, name, as_of, None)
    wanted = setups[0].facts.nest(nest)
    setup = next(setup for setup in setups if setup.nest is wanted)
    return setup, remedies(setup, _taken_beside(source, setup, as_of))


def _taken_beside(source: Source, setup: Setup, as_of: str | None) -> Taken:
    """Whether a station's pin in a hole would be in the way of others on its bed.

    Looked at when it is asked for, since all stations there are located for it.
    """
    facts, bed = setup.facts, setup.facts.bed

    @cache
    def others() -> tuple[Setup, ...]:
        with source.reading(as_of) as reader:
            library = Library(reader)
            mine, there = key_of(facts.station.name), library.stations_on(bed.name)
            return tuple(setups_in(library.rows(s for s in there if key_of(s.name) != mine)))

    @cache
    def there() -> tuple[list[Standing], list[str]]:
        return standing_on(bed, others()), empty_holes(bed, others())

    def taken(pin: Pin, hole: Hole) -> bool:
        from pincorner.places.pins import is_taken

        return is_taken(facts, pin, hole, *there())

    return taken


def dump(session: Session, as_of: str | None, unit: Unit = "mm") -> str:
    """The whole registry as one document, in mm or, exactly the same, in inches."""
    with session.reading(as_of) as reader:
        return to_yaml(reader.everything(), unit)


def names(source: Source, kind: str | None, as_of: str | None) -> list[tuple[str, str, str]]:
    """(kind, name, what it is in a few words) of everything, or of one kind."""
    with source.reading(as_of) as reader:
        kinds = [kind] if kind else list(KINDS)
        unit: Unit = reader.display_units if isinstance(reader, Reader) else "mm"
        return [
            (word, document.name, _in_short(document, unit))
            for word in kinds
            for document in reader.all(KINDS[word].model)
        ]


def _in_short(document: WholeDocument, unit: Unit) -> str:
    """What a document is, in a few words and the shop's unit; then its note."""
    note = getattr(document, "note", None)
    parts = [_what(document, unit), *([note] if note else [])]
    return shorten("; ".join(filter(None, parts)), _IN_SHORT, placeholder=" ..")


def _what(document: WholeDocument, unit: Unit) -> str:
    def sizes(*values_mm: float) -> str:
        return " x ".join(f"{in_unit(each, unit):.6g}" for each in values_mm)

    if isinstance(document, Station):
        codes = ", ".join(f"{nest} {code}" for nest, code in document.work_offsets.items())
        holder = document.jig or "bare stock"
        how = "" if document.measured is None else ", as measured"
        return f"{holder} on {document.bed}{how}; {codes or 'no work offset'}"
    if isinstance(document, Dialect):
        return _dialect_in_short(document)
    if isinstance(document, Bed):
        grid = document.grid
        apart = f"{sizes(*grid.pitch)} {unit} apart"
        return f"{grid.columns} x {grid.rows} holes {apart} on {document.machine}"
    if isinstance(document, Pin):
        body = f"{sizes(document.body)} {unit} above, {sizes(document.height)} high"
        return f"{sizes(document.shank)} in the hole, {body}"
    if isinstance(document, Jig):
        box = bounds(document.outline)
        nests = ", ".join(nest.name for nest in document.nests)
        return f"{sizes(box.width, box.depth)} {unit}; nests {nests}"
    values = plain_values(document)
    words = ("dialect", "bed", "file", "stations")
    return "; ".join(f"{key} {_listed(values[key])}" for key in words if key in values)


def _listed(value: Any) -> str:
    return ", ".join(value) if isinstance(value, list) else str(value)


def _dialect_in_short(dialect: Dialect) -> str:
    """What a controller of this dialect takes."""
    codes = f"{dialect.work_offsets[0]} to {dialect.work_offsets[-1]}"
    written = {"g10-l2": "written by G10", "none": "keyed in by hand"}[dialect.write]
    turns = {"none": "no rotation", "r-word": "R words", "g68": "G68"}[dialect.rotation]
    sums = ", expressions" if dialect.expressions else ""
    return f"{codes}, {written}, {turns}{sums}"


class Shown(NamedTuple):
    """A document and when it was last changed.

    `headline` says what the fingerprint that was asked for stands for; empty where a name was.
    """

    kind: str
    document: WholeDocument
    at: str
    who: str
    fingerprint: str = ""
    headline: str = ""


def show(session: Session, name: str, kind: str | None, as_of: str | None) -> list[Shown]:
    """The documents of a name (of one kind), or the state that a fingerprint stands for.

    Raises UnknownName.
    """
    with session.reading(as_of) as reader:
        if kind is None and _FINGERPRINT.fullmatch(name.upper()):
            found = _by_fingerprint(reader, name.upper())
            if found is not None:
                return [found]
        kinds = [kind] if kind else list(KINDS)
        documents = [d for word in kinds if (d := reader.find(KINDS[word].model, name)) is not None]
        if not documents and _FINGERPRINT.fullmatch(name.upper()):
            raise BadInput(f"no setup of this registry has or had the fingerprint {name.upper()}")
        if not documents:
            known = [known for word in kinds for known in reader.names(KINDS[word].model)]
            raise UnknownName(kind or "document", name, known)
        return [_shown(reader, document) for document in documents]


def picture_of(source: Source, document: WholeDocument, as_of: str | None) -> str:
    """A bed with its stations, or a station on its bed, in characters; nothing for what lies
    nowhere. A bed with very many stations is drawn without them.
    """
    from pincorner.render.text.picture import picture

    if not isinstance(document, Bed | Station):
        return ""
    with source.reading(as_of) as reader:
        library = Library(reader)
        bed = document if isinstance(document, Bed) else library.get(Bed, document.bed)
        on_it = [document] if isinstance(document, Station) else library.stations_on(bed.name)
        rows = library.rows(on_it if len(on_it) <= MANY_STATIONS else ())
        machine = library.get(Machine, bed.machine)
    return picture(bed, machine, setups_in(rows))


def _shown(
    reader: Reader, document: WholeDocument, fingerprint: str = "", headline: str = ""
) -> Shown:
    word = kind_of(document)
    last = reader.newest_change(word, document.name)
    return Shown(word, document, last["at"], last["who"], fingerprint, headline)


def _by_fingerprint(reader: Reader, fingerprint: str) -> Shown | None:
    """The state in which a nest had this fingerprint: as it was on paper, else the newest."""
    papers = [(row["after_change"], row["station_key"])
              for row in reader.papers(fingerprint=fingerprint)]  # fmt: skip
    on_paper = ((change, [key]) for change, key in sorted(set(papers), reverse=True))
    states = past_states(reader, {key for _, key in papers})
    for change, keys in chain(on_paper, states):
        past = Reader(reader.connection, change)
        library = Library(past)
        if len(keys) > MANY_STATIONS:  # read at once
            library.all(Station)
        for station in filter(None, (library.find(Station, key) for key in keys)):
            for setup in _setups_or_none(library, station):
                if setup.has_fingerprint(fingerprint):
                    headline = _headline(setup, fingerprint)
                    return _shown(past, station, fingerprint, headline)
    return _by_paper(reader, fingerprint)


def _headline(setup: Setup, fingerprint: str) -> str:
    own = setup.printed.own
    return (
        f"setup {fingerprint}: station {setup.facts.station.name}, nest {setup.nest.name}, "
        f"{setup.work_offset or 'no code'} X{own.x} Y{own.y} {own.unit}"
    )


def _by_paper(reader: Reader, fingerprint: str) -> Shown | None:
    """What a paper shows that no document alone gives, such as one for today's stock."""
    papers = reader.papers(fingerprint=fingerprint)
    if not papers:
        return None
    paper = papers[-1]
    past = Reader(reader.connection, paper["after_change"])
    headline = (
        f"setup {fingerprint}: {paper['event']} of station {paper['station_key']}, nest "
        f"{paper['nest']}, in {paper['path']}, with a stock of its own"
    )
    station = past.get(Station, paper["station_key"])
    return _shown(past, station, fingerprint, headline)


def _setups_or_none(library: Library, station: Station) -> list[Setup]:
    try:
        return make_setups(library.facts(station))
    except Refused:
        return []


class Event(NamedTuple):
    """One thing that happened: a document changed, or a paper was written."""

    at: str
    who: str
    command: str
    why: str | None
    kind: str
    name: str
    what: str


def history(session: Session, name: str | None) -> list[Event]:
    """Everything recorded, oldest first; of documents of one name only. Raises UnknownName."""
    key = None if name is None else key_of(name)
    with session.registry.reading() as reader:
        events = _changes(reader, key) + _papers(reader, key) + _verifications(reader, key)
        events += _withdrawn(reader, key)
        events += _changes_alone(reader) if name is None else []
        if name is not None and not events:
            known = [known for kind in KINDS.values() for known in reader.names(kind.model)]
            raise UnknownName("document", name, known)
    return sorted(events, key=lambda event: event.at)


def _changes(reader: Reader, key: str | None) -> list[Event]:
    unit: Unit = reader.display_units
    before: dict[tuple[str, str], dict[str, Any] | None] = {}
    events = []
    for row in _rows_about(reader, key):
        place = (row["kind"], row["key"])
        after = None if row["body"] is None else _values(row, unit)
        what = _difference(before.get(place), after)
        before[place] = after
        made_by = (row["at"], row["who"], row["command"], row["why"])
        events.append(Event(*made_by, row["kind"], row["name"], what))
    return events


def _rows_about(reader: Reader, key: str | None) -> list[Row]:
    """Revisions of documents of a key, and of what is recorded about a bed of that key."""
    rows = list(reader.changes(key))
    if key is None:
        return rows
    for kind in RECORDS:
        beds: dict[str, str] = {}
        for row in reader.changes(kind=kind):
            if row["body"] is not None:
                beds[row["key"]] = key_of(values_of(kind, row["name"], row["body"])["bed"])
            if beds.get(row["key"]) == key and row["key"] != key:
                rows.append(row)
    return sorted(rows, key=lambda row: (row["id"], row["kind"], row["key"]))


def _values(row: Row, unit: Unit) -> dict[str, Any]:
    """What a revision holds, its lengths in the shop's unit."""
    kind, name, body = row["kind"], row["name"], row["body"]
    if unit == "mm":
        return values_of(kind, name, body)
    return values_in(document_of(KINDS[kind].model, name, body), unit)


def _changes_alone(reader: Reader) -> list[Event]:
    """What happened to the registry as a whole."""
    what = {"restore": "a backup was put back", "upgrade": "times were put right"}
    return [
        Event(
            row["at"], row["who"], row["command"], row["why"], "registry", "",
            what.get(row["command"], "no document changed"),
        )
        for row in reader.changes_alone()
    ]  # fmt: skip


def _difference(before: dict[str, Any] | None, after: dict[str, Any] | None) -> str:
    if after is None:
        return "retired"
    if before is None:
        return "new"
    keys = [key for key in {**before, **after} if before.get(key) != after.get(key)]
    parts = [f"{key} {_short(before.get(key))} -> {_short(after.get(key))}" for key in keys]
    return "; ".join(parts)


def _short(value: Any) -> str:
    text = "none" if value is None else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 60 else f"{text[:57]}.."


def _station_names(reader: Reader) -> dict[str, str]:
    """Names as they are written, by key; of stations in use."""
    return {key_of(name): name for name in reader.names(Station)}


def _papers_about(reader: Reader, key: str | None) -> list[Row]:
    """Papers of a station's key, or of a run's; all with None."""
    from pincorner.work.stale import run_of_page

    found = reader.papers(key=key)
    return found or [row for row in reader.papers() if key_of(run_of_page(row) or "") == key]


def _papers(reader: Reader, key: str | None) -> list[Event]:
    names = _station_names(reader)
    return [
        Event(
            row["at"], row["who"], row["event"], None, "paper",
            names.get(row["station_key"], row["station_key"]),
            f"{row['event']} {row['fingerprint']} nest {row['nest']} in {row['path']}",
        )
        for row in _papers_about(reader, key)
    ]  # fmt: skip


def _withdrawn(reader: Reader, key: str | None) -> list[Event]:
    names = _station_names(reader)
    return [
        Event(
            row["at"], row["who"], "retire", row["why"], "paper",
            names.get(row["station_key"], row["station_key"]),
            f"{row['event']} nest {row['nest']} in {row['path']} is gone on purpose",
        )
        for row in reader.withdrawals()
        if key in (None, row["station_key"])
    ]  # fmt: skip


def _signed(length_mm: float, unit: Unit) -> str:
    text = figure(length_mm, unit)
    return text if text.startswith("-") else f"+{text}"


def _verifications(reader: Reader, key: str | None) -> list[Event]:
    """Verifications and those struck out, told in the unit that the registry's tables are in:
    machines may be gone."""
    names, unit = _station_names(reader), reader.display_units
    rows = {row["id"]: row for row in reader.verifications(key, struck=True)}
    found = []
    for number, row in rows.items():
        off = [row[f"{axis}_mm"] - row[f"computed_{axis}_mm"] for axis in "xy"]
        what = (
            f"number {number}, nest {row['nest']} found {_signed(off[0], unit)}, "
            f"{_signed(off[1], unit)} {unit} from its computed place"
        )
        name = names.get(row["station_key"], row["station_key"])
        made_by = (row["at"], row["who"], "verify", row["why"])
        found.append(Event(*made_by, "verification", name, what))
    for row in reader.strikes():
        if row["verification_id"] in rows:
            key_ = rows[row["verification_id"]]["station_key"]
            made_by = (row["at"], row["who"], "verify", row["why"])
            what = f"number {row['verification_id']} struck out"
            found.append(Event(*made_by, "verification", names.get(key_, key_), what))
    return found
