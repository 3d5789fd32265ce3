"""load, retire: documents in, all or nothing; and documents without a registry."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from pincorner.documents.alone import DocumentsAlone, View
from pincorner.documents.beds import Bed
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.jigs import Jig
from pincorner.documents.kinds import (
    KINDS,
    RECORDS,
    BedRecord,
    Reference,
    hole_problems,
    holes_in,
    identity,
    kind_of,
    part_problems,
    references,
    references_in,
    unknown_among,
    word_of,
)
from pincorner.documents.reading import Entry, Files, Wrong, oversize, read_all, read_files
from pincorner.documents.records import Run
from pincorner.documents.stations import EdgePins, Station
from pincorner.documents.writing import to_json
from pincorner.errors import BadInput, DocumentErrors, Problem, Refused, UnknownName
from pincorner.registry.reader import Reader, document_of
from pincorner.registry.writer import Plan, Summary, plan
from pincorner.render.text.tables import first_named
from pincorner.setups.facts import with_pins
from pincorner.setups.locating import locate
from pincorner.shipped import shipped_folder
from pincorner.work.moved import Moves, moves
from pincorner.work.session import MANY_STATIONS, Library, Session

if TYPE_CHECKING:
    from pincorner.setups.choice import Choice


class Loaded(NamedTuple):
    """What a load did: a summary, pins that were chosen, stations that cannot be located now."""

    summary: Summary
    chosen: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]


def load(
    session: Session,
    files: Sequence[Path],
    dry_run: bool,
    is_sure: bool = False,
    tells_void: bool = True,
) -> Loaded:
    """Read documents in, all or nothing. Raises DocumentErrors with every problem.

    A station that its own document puts elsewhere is asked about, unless somebody who changed it
    just now `is_sure`; BadInput where that is not meant. `tells_void`: papers that are void now
    are among the warnings, as `void_now` has them.

    Everything is worked out before the registry is held, and once more only where somebody changed
    something meanwhile.
    """
    session.registry.person_is_sure(oversize(files))
    with session.registry.reading() as reader:
        shop_unit = reader.display_units
    found = read_all(files, "mm" if shop_unit == "mm" else None)
    with session.registry.reading_aside() as reader:
        prepared = _prepared(found, reader)
    if not (dry_run or is_sure):
        session.registry.person_is_sure(prepared.moves.doubt)
    if dry_run:
        with session.writing(dry_run=True) as writer:
            if writer.reader.last_change != prepared.plan.after_change:
                prepared = _prepared(found, writer.reader)
            writer.carry_out(prepared.plan)
            return _loaded(prepared, writer.reader)
    with session.writing() as writer:
        if writer.reader.last_change != prepared.plan.after_change:
            asked = prepared.moves.doubt
            prepared = _prepared(found, writer.reader)
            if prepared.moves.doubt != asked and not is_sure:
                raise BadInput("stations were changed meanwhile; look at them once more")
        writer.carry_out(prepared.plan)
    with session.registry.reading_aside() as reader:
        done = _loaded(prepared, reader)
        void = void_now(session, reader, done.summary) if tells_void else ()
        return done._replace(warnings=(*done.warnings, *void))


def shipped_dialects() -> list[WholeDocument]:
    """The dialects that come with the program, which every registry begins with."""
    file = shipped_folder("fixtures_db") / "dialects.yaml"
    return [entry.document for entry in read_files([file])]


class Alone(NamedTuple):
    """Documents that no registry keeps, and the folder that program files are relative to."""

    documents: DocumentsAlone
    shop: Path

    @contextmanager
    def reading(self, as_of: str | None = None) -> Iterator[DocumentsAlone]:
        """The documents. Raises BadInput where they are asked for their past."""
        if as_of is not None:
            raise BadInput("documents alone have no past; open a registry to ask for one")
        yield self.documents


def read_alone(files: Sequence[Path], folder: Path) -> Alone:
    """What a new registry would hold with these files loaded, pins chosen as `load` does.

    Raises DocumentErrors with every problem of every file, BadInput.
    """
    dialects = shipped_dialects()
    documents, _ = documents_of(read_all(files), DocumentsAlone(dialects))
    return Alone(DocumentsAlone([*dialects, *documents]), folder)


class _Prepared(NamedTuple):
    """What loading files comes to, the stations' pins chosen."""

    documents: list[WholeDocument]
    chosen: tuple[tuple[str, Choice], ...]
    plan: Plan
    moves: Moves


def _prepared(found: Files, reader: Reader) -> _Prepared:
    documents, chosen = documents_of(found, reader)
    planned = plan(reader, documents)
    return _Prepared(documents, chosen, planned, _moves(reader, documents, planned.summary))


def _moves(reader: Reader, documents: list[WholeDocument], summary: Summary) -> Moves:
    """Where stations of before will lie otherwise."""
    own = {key_of(name) for kind, name in summary.changed if kind == word_of(Station)}
    beds = [(word_of(Bed), each.bed) for each in documents if isinstance(each, BedRecord)]
    changed = [*summary.changed, *(beds if len(summary.same) < len(documents) else [])]
    touched = sorted(_stations_touched(reader, changed)) if changed else []
    if not touched:
        return Moves()
    before, after = Library(reader), Library(reader, documents)
    before.reads_all = after.reads_all = len(touched) > MANY_STATIONS
    return moves(before, after, touched, own)


def documents_of(
    found: Files, view: View
) -> tuple[list[WholeDocument], tuple[tuple[str, Choice], ...]]:
    """The documents of files that join those of a view, and of which stations pins were chosen.

    Every name in them is known, and every station has its pins if any will do.
    Raises DocumentErrors with every problem.
    """
    problems = [*found.problems, *_name_problems(found, view)]
    if problems:
        raise DocumentErrors(_as_they_stand(problems))
    return _with_chosen_pins([e.document for e in found.entries], view)


def _as_they_stand(problems: list[Problem]) -> list[Problem]:
    """Problems file by file, from top to bottom."""
    files = list(dict.fromkeys(problem.file for problem in problems))
    return sorted(problems, key=lambda each: (files.index(each.file), each.line or 0))


def _loaded(prepared: _Prepared, reader: Reader) -> Loaded:
    """What was done, and of which documents parts are missing now."""
    summary = prepared.plan.summary
    changed = [*summary.added, *summary.changed]
    warnings = [
        *_parts_missing(prepared.documents, reader),
        *_unlocated(reader, changed),
        *_slips(reader, changed),
        *prepared.moves.sentences,
    ]
    chosen = tuple((name, choice.reason) for name, choice in prepared.chosen)
    return Loaded(summary, chosen, tuple(dict.fromkeys(warnings)))


def _name_problems(found: Files, view: View) -> Iterator[Problem]:
    """Every name that neither the files (right or wrong) nor the registry hold.

    Where something else is wrong too, also holes, nests and slats that are not there, which are
    warnings of a load: so all is told at once.
    """
    library = Library(view, [entry.document for entry in found.entries])

    def is_there(model: type[WholeDocument], name: str) -> bool:
        return found.means_to_hold(model, name) or library.has(model, name)

    unknown: list[Problem] = []
    for place in found.places:
        named = _references_of(place)
        unknown += [place.problem(*each) for each in unknown_among(named, is_there, library.names)]
    yield from unknown
    if unknown or found.problems:
        yield from _parts_not_there(found, library)


def _references_of(place: Entry | Wrong) -> Iterator[Reference]:
    if isinstance(place, Entry):
        return references(place.document)
    return references_in(place.model, place.values)


def _parts_not_there(found: Files, library: Library) -> Iterator[Problem]:
    """Holes, nests and slats that are not in their bed or jig, where that can be known now."""
    right = set(map(identity, (entry.document for entry in found.entries)))

    def is_known(needed: Reference) -> bool:
        place = word_of(needed.model), key_of(needed.name)
        wrong = found.means_to_hold(needed.model, needed.name) and place not in right
        return not wrong and library.has(needed.model, needed.name)

    for place in found.places:
        named = list(_references_of(place))
        if isinstance(place, Entry) and all(map(is_known, named)):
            for problem in part_problems(place.document, library):
                yield place.problem(*problem)
            continue
        values = place.document if isinstance(place, Entry) else place.values
        for each in named:
            if each.model is Bed and is_known(each):
                holes = hole_problems(holes_in(values), library.get(Bed, each.name))
                for problem in holes:
                    yield place.problem(*problem)


def _parts_missing(documents: Iterable[WholeDocument], reader: Reader) -> list[str]:
    """Holes, nests and slats that the documents name and that are not there now."""
    library = Library(reader)
    return [
        f"{kind_of(document)} {document.name}: {path}: {text}"
        for document in documents
        for path, text in part_problems(document, library)
    ]


def _with_chosen_pins(
    documents: list[WholeDocument], view: View
) -> tuple[list[WholeDocument], tuple[tuple[str, Choice], ...]]:
    """The documents, stations without pins now with them; (station, choice) of each.

    A station that was chosen for before and is otherwise unchanged keeps its pins.
    """
    library = Library(view, documents)
    without = [d for d in documents if isinstance(d, Station) and d.wants_pins]
    library.reads_all = len(without) > MANY_STATIONS
    before = view.bodies(map(identity, without))
    result: list[WholeDocument] = []
    chosen: list[tuple[str, Choice]] = []
    for document in documents:
        if isinstance(document, Station) and document.wants_pins:
            kept = _kept_pins(document, before.get(identity(document)))
            if kept is not None:
                document = with_pins(document, kept)
            else:
                choice = _try_choice(library, document)
                if choice is not None:
                    document = with_pins(document, choice.pins)
                    chosen.append((document.name, choice))
        result.append(document)
    return result, tuple(chosen)


def _kept_pins(station: Station, body: str | None) -> EdgePins | None:
    before = None if body is None else document_of(Station, station.name, body)
    if before is None or not isinstance(before.pins, EdgePins):
        return None
    return before.pins if says_the_same(station, before) else None


def says_the_same(document: WholeDocument, on_file: WholeDocument) -> bool:
    """Whether a document says what one on file does, pins that were chosen for it left out."""
    same = [to_json(on_file)]
    if isinstance(on_file, Station) and isinstance(on_file.pins, EdgePins) and on_file.pins.chosen:
        same.append(to_json(on_file.model_copy(update={"pins": None})))
    return identity(document) == identity(on_file) and to_json(document) in same


def _try_choice(library: Library, station: Station) -> Choice | None:
    """A choice, or None where no pins will do: the station then loads with a warning."""
    from pincorner.setups.choice import choose_pins

    try:
        return choose_pins(library.facts(station))
    except Refused:
        return None


def _unlocated(reader: Reader, changed: list[tuple[str, str]]) -> list[str]:
    """Why stations that the change touched cannot be located now."""
    library = Library(reader)
    texts = []
    touched = sorted(_stations_touched(reader, changed))
    for station in library.stations(touched) if touched else ():
        try:
            locate(library.facts(station))
        except Refused as refusal:
            texts.append(refusal.text)
    return texts


def void_now(session: Session, reader: Reader, summary: Summary) -> Iterator[str]:
    """The papers that a load makes void: of stations that it reached, and of their neighbours."""
    changed = [*summary.added, *summary.changed]
    touched = _stations_touched(reader, changed) if changed else set()
    runs = {key_of(name) for kind, name in changed if kind == word_of(Run)}
    if not touched and not runs:
        return
    from pincorner.work.stale import void_papers

    void = void_papers(session, reader, touched, runs)
    if void:
        told = first_named(void, _NAMED)
        yield f"void now: {told}; print and stamp anew with pincorner refresh"


_NAMED = 6
"""So many papers that are void are named; the others are counted."""


def _slips(reader: Reader, changed: list[tuple[str, str]]) -> Iterator[str]:
    """What looks like a slip in jigs and stations that were entered, or whose jig was."""
    from pincorner.work.slips import slips_of_jig, slips_of_stations

    library, stations = Library(reader), dict[str, Station]()
    for kind, name in changed:
        if kind == word_of(Jig):
            yield from slips_of_jig(library.get(Jig, name), reader.display_units)
            for row in reader.needed_by(kind, key_of(name)):
                if row["kind"] == word_of(Station):
                    stations[row["key"]] = library.get(Station, row["key"])
        elif kind == word_of(Station):
            stations[key_of(name)] = library.get(Station, name)
    yield from slips_of_stations(library, reader, list(stations.values()))


def _stations_touched(reader: Reader, changed: list[tuple[str, str]]) -> set[str]:
    """Keys of stations that a change of these documents reaches."""
    seen: set[tuple[str, str]] = set()
    now = {(kind, key_of(name)) for kind, name in changed}
    while now:
        seen |= now
        records = [place for place in now if place[0] in RECORDS]
        ends = {place for place in now if place[0] in ("station", "run")}
        now = reader.users_of(now - ends - set(records)) | set(_measured_beds(reader, records))
        now -= seen
    return {key for kind, key in seen if kind == "station"}


def _measured_beds(reader: Reader, records: Iterable[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    """The beds that surveys, surfacings and disturbances in use are of."""
    for kind, key in records:
        record = reader.find(RECORDS[kind], key)
        if record is not None:
            yield word_of(Bed), key_of(record.bed)


def retire(session: Session, kind: str, name: str) -> str:
    """Take a document out of use; its name as it was written.

    Of what is recorded about beds, a bed's name stands for the last record of that bed, which is
    taken back with a reason. Raises Refused, UnknownName, BadInput.
    """
    with session.writing() as writer:
        if kind in RECORDS and writer.reader.find(KINDS[kind].model, name) is None:
            return writer.retire(kind, _last_record(session, writer.reader, kind, name))
        return writer.retire(kind, name)


def _last_record(session: Session, reader: Reader, kind: str, bed_name: str) -> str:
    """The last record of that kind of a bed, by name."""
    records = reader.all(RECORDS[kind])
    bed = reader.find(Bed, bed_name)
    if bed is None:
        known = [*(record.name for record in records), *reader.names(Bed)]
        raise UnknownName(f"{kind} or bed", bed_name, known)
    mine = [record.name for record in records if key_of(record.bed) == key_of(bed.name)]
    if not mine:
        raise BadInput(f"nothing is on file as a {kind} of bed {bed.name}")
    if not session.why:
        raise BadInput(f"--note: say why {kind} {max(mine)} of bed {bed.name} is taken back")
    return max(mine)
