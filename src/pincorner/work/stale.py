"""Papers and setup blocks in files that show numbers which are no longer those of the registry."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence, Set
from functools import cache, cached_property
from pathlib import Path
from typing import NamedTuple

from pincorner.characters import quoted
from pincorner.documents.alone import View
from pincorner.documents.beds import Bed
from pincorner.documents.dialect_words import MODE_WORDS
from pincorner.documents.fields import key_of
from pincorner.documents.kinds import D, identity
from pincorner.documents.records import Run
from pincorner.documents.stations import Station
from pincorner.errors import BadInput
from pincorner.geometry.outline import Box
from pincorner.program.source.lexer import acting_text, words_of
from pincorner.program.source.stamped import StampedBlock
from pincorner.registry.reader import Reader, Row
from pincorner.render.blocks.block import word_lines
from pincorner.render.blocks.guards import letters
from pincorner.render.text.offsets import spread
from pincorner.render.text.reports import REASONS_TOLD
from pincorner.render.text.tables import first_of
from pincorner.setups.contents import (
    DEFINITION,
    Change,
    Part,
    changes,
    contents,
    differences,
    heaviest_first,
    written_of,
)
from pincorner.setups.findings import of_its_day
from pincorner.setups.setup import OffsetRow, Setup, setups_in
from pincorner.setups.transform import make_setup, offset_rows
from pincorner.units import Unit
from pincorner.work.kept.beside import DEFINITION as BESIDE
from pincorner.work.kept.beside import (
    Beside,
    Things,
    beside_block,
    beside_copy,
    beside_map,
    beside_sheet,
    changed_since,
    drawn_changes,
    is_drawn_otherwise,
    parts_of,
    pins_in_the_way,
    since_first,
)
from pincorner.work.kept.copies import (
    COPIES,
    CopyState,
    block_of_paper,
    state_of_file,
    state_of_source,
)
from pincorner.work.kept.run_pages import beside_run, copies_by_station, files_changed
from pincorner.work.session import MANY_STATIONS, Library, Session

FILES = ("block", *COPIES)
"""Papers that a controller reads: each file counts for itself, as long as it is there. Of sheets,
maps and pages of runs the newest counts: it is the one that hangs at the machine."""

_NOTED_REFUSAL = re.compile(
    r'(?P<of>.+): note "(?P<text>.+)\. Ways out: .+" is (?P<becomes>new|gone)', re.DOTALL
)
_CLAUSE_ENDS = re.compile(r"[;:]\s|\.\s|\n")


def first_clause(text: str) -> str:
    """What a sentence says before its reasons, figures and ways out."""
    return _CLAUSE_ENDS.split(text, maxsplit=1)[0].rstrip(".")


_MODES = re.compile(rf"(?:{MODE_WORDS})+")


class StaleNest(NamedTuple):
    """A nest on a paper that is stale: the fingerprints it shows and should show."""

    station: str
    nest: str
    shows: str
    now: str


class StalePaper(NamedTuple):
    """A paper that no longer shows what is.

    `nests`: those whose fingerprint changed. `stations`: all that it shows, by name. `reasons`:
    what changed, in words; empty where a fingerprint changed and its past cannot be made again.
    `copy`: the code of what became of a file or of its source (`copies.CopyState`); else empty.
    `gone`: its file is not there. `is_void`: all that it was written for is out of use. `refused`:
    none of it can be located now, of a run's page not all, so nothing can be printed anew.
    `edited`: somebody wrote in it, whatever else is so.
    """

    event: str
    path: str
    bed: str
    stations: tuple[str, ...]
    nests: tuple[StaleNest, ...]
    reasons: tuple[str, ...]
    row: Row
    copy: str = ""
    gone: bool = False
    is_void: bool = False
    refused: bool = False
    edited: bool = False

    @property
    def changed(self) -> tuple[str, ...]:
        """Those of its stations whose nests changed; all where that is not known."""
        return tuple(dict.fromkeys(each.station for each in self.nests)) or self.stations

    @property
    def code(self) -> str:
        """The code of its item: what became of a copy, where that alone is so."""
        return f"stale-{self.word}" if self.is_stale else self.copy

    @property
    def is_stale(self) -> bool:
        """Whether what it shows is no more, not only what became of its file or its source."""
        return not self.copy or bool(self.nests)

    @property
    def by_hand(self) -> bool:
        """Whether nothing but a person mends it: what somebody wrote would be lost."""
        return self.edited or self.copy in _BY_HAND

    @property
    def word(self) -> str:
        """What people call it: sheet, map, run (its page), block or program."""
        return "program" if self.event in COPIES else self.event

    @property
    def told(self) -> str:
        """Which paper, and what changed; fingerprints where no more is known of it."""
        reasons = list(self.reasons) or [
            f"it shows {each.shows} for nest {each.nest}, which is now {each.now}"
            for each in self.nests
        ]
        return f"{self.path}: {'; '.join(first_of(reasons, REASONS_TOLD))}"


_EDITED = ("copy-edited", "copy-restamped")
_BY_HAND = (*_EDITED, "source-missing")
"""Codes of what became of copies: that somebody wrote in them, and all that a person mends."""

WIDER = "lies-wider"
"""A part lies less well than on paper: a note of its own, the paper's figures being right."""


def what_changed(view: View, setup: Setup, fingerprint: str) -> list[str]:
    """What changed at a nest since a paper showed this fingerprint, in words.

    Nothing where there is no such paper, or no registry to ask.
    """
    if not isinstance(view, Reader):
        return []
    station = key_of(setup.facts.station.name)
    papers = view.papers(fingerprint=fingerprint, key=station)
    mine = [paper for paper in papers if paper["nest"] == setup.nest.name]
    past = _Past(view).setup(mine[-1]) if mine else None
    return [] if past is None else differences(contents(past), contents(setup))


def stale_papers(
    session: Session,
    reader: Reader,
    rows: Iterable[OffsetRow],
    only: Set[str] | None = None,
    *,
    deep: bool = False,
) -> Iterator[StalePaper]:
    """Every paper in use that was written from what has changed since, each file once.

    `rows`: of all stations on the beds. `only`: papers of these stations (keys), maps left out.
    `deep`: files are read whole, even those with the size and time that they were written with.
    """
    judge = _Judge(session, reader, rows, deep=deep)
    for entries in by_file(papers_in_use(session, reader, missing=True)):
        if only is not None and (
            entries[0]["event"] == "map" or only.isdisjoint(each["station_key"] for each in entries)
        ):
            continue
        found = judge.stale(entries)
        if found is not None:
            yield found


def void_papers(
    session: Session, reader: Reader, keys: Set[str], runs: Set[str] = frozenset()
) -> list[str]:
    """Where papers are, maps too, that do not show what is now, since these stations (keys) are
    otherwise: theirs, then those of their neighbours, on beds with no more than MANY_STATIONS.

    `runs`: those (keys) that are otherwise themselves, whose pages are judged as well.

    What somebody wrote in by hand is not among them, nor what lies wider alone.
    """
    papers = by_file(papers_in_use(session, reader))
    if not papers:
        return []
    library = Library(reader)
    stations = {key_of(station.name): station for station in library.stations(())}
    on_bed: dict[str, set[str]] = {}
    for key, station in stations.items():
        on_bed.setdefault(key_of(station.bed), set()).add(key)
    near = {*keys}
    for on_it in on_bed.values():
        near |= on_it if len(on_it) <= MANY_STATIONS and not on_it.isdisjoint(keys) else set()
    files = [
        entries
        for entries in papers
        if not near.isdisjoint(each["station_key"] for each in entries)
        or key_of(run_of_page(entries[0]) or "") in runs
    ]
    files.sort(
        key=lambda entries: (
            keys.isdisjoint(each["station_key"] for each in entries),
            _GRAVEST.index(entries[0]["event"]),
        )
    )
    shown = {each["station_key"] for entries in files for each in entries}
    rows = [
        row
        for on_it in on_bed.values()
        for key in (sorted(on_it) if not on_it.isdisjoint(shown) else ())
        for row in offset_rows(library.facts(stations[key]))
    ]
    judge = _Judge(session, reader, rows, deep=False)
    void = dict.fromkeys(entries[0]["path"] for entries in files if judge.is_void(entries))
    return [path for path in void if (session.shop / path).exists()]


_GRAVEST = ("run", "stamp", "repeat", "block", "sheet", "map")
"""Papers by what may come of going by one that is void: of many, `load` names the first alone."""


class Accepted(NamedTuple):
    """A copy that was written although check found something: whose it is, and the sentence."""

    station: str
    text: str


def accepted_copies(
    session: Session, reader: Reader, stations: Mapping[str, str]
) -> Iterator[Accepted]:
    """Copies in use of these stations (names by key) with findings that were taken as they are."""
    for entries in by_file(papers_in_use(session, reader)):
        first = entries[0]
        name = stations.get(first["station_key"])
        if name is None or first["accepted"] is None:
            continue
        told = json.loads(first["accepted"])
        codes = ", ".join(dict.fromkeys(code for code, _ in told["findings"]))
        why = f", because {told['why']}" if told["why"] else ""
        yield Accepted(name, f"{first['path']}: {told['who']} accepted {codes}{why}")


def by_file(entries: Iterable[Row]) -> list[list[Row]]:
    """Entries of the log by the file they are of, in order."""
    files: dict[tuple[str, str], list[Row]] = {}
    for entry in entries:
        files.setdefault((entry["event"], entry["path"]), []).append(entry)
    return list(files.values())


class _Judge:
    """Holds papers against what the registry says now."""

    def __init__(
        self, session: Session, reader: Reader, rows: Iterable[OffsetRow], *, deep: bool
    ) -> None:
        self._session, self._reader, self._deep = session, reader, deep
        self._now: dict[tuple[str, str], Setup] = {}
        self._nests: dict[str, list[Setup]] = {}
        self._rows: dict[str, list[OffsetRow]] = {}
        self._refused: dict[str, str] = {}
        for row in rows:
            key, setup = key_of(row.facts.station.name), row.setup
            self._rows.setdefault(key_of(row.facts.bed.name), []).append(row)
            if setup is None:
                self._refused[key] = row.refused or ""
            else:
                self._now[key, setup.nest.name] = setup
                self._nests.setdefault(key, []).append(setup)
        self._stations = {key_of(name): name for name in reader.names(Station)}
        self._things: dict[str, Things] = {}
        self._past = _Past(reader)
        self._revised: dict[tuple[str, str], int] = {}

    @cached_property
    def _runs(self) -> list[Run]:
        return self._reader.all(Run)

    @cached_property
    def _copies(self) -> list[Row]:
        """The copies in use that are there."""
        return [each for each in papers_in_use(self._session, self._reader)
                if each["event"] in COPIES]  # fmt: skip

    def _run(self, entry: Row) -> Run | None:
        """The run that a page is of; None where it is out of use."""
        key = key_of(run_of_page(entry) or "")
        return next((run for run in self._runs if key_of(run.name) == key), None)

    def _is_of_no_run(self, entry: Row) -> bool:
        """Whether a paper is the page of a run that is out of use."""
        return bool(entry["event"] == "run") and self._run(entry) is None

    def stale(self, entries: Sequence[Row]) -> StalePaper | None:
        """What is no longer so on a file; None where all is, or nothing of it is there now."""
        first, shown = entries[0], self._shown(entries)
        absent = [] if first["event"] == "map" else self._absent(entries)
        bed = self._bed(entries, shown)
        if bed is None or self._is_of_no_run(first):
            return self._left_over(entries, absent)
        unlocated = self._unlocated(entries)
        own = [self._own(*each) for each in shown]
        nests = [nest for changed, _ in own for nest in changed]
        reasons = [*absent, *heaviest_first(some for _, some in own)]
        if not unlocated:  # what stood there of such a station is gone with it
            reasons += self._beside(entries, [_as_cut(*each) for each in shown], bed)
        states: list[CopyState] = []
        match first["event"]:
            case "map" if first["words"] is None:
                reasons += self._stations_of_map(entries, key_of(bed.name))
            case "run":
                reasons += files_changed(self._session.shop, first["files"], deep=self._deep)
            case event if event in FILES:
                states = self._states(first)
                reasons += filter(None, [] if nests else [self._block(*shown[0], states)])
        edits = [state.text for state in states if state.code in _EDITED]
        copy = "" if reasons or not states else states[0].code
        reasons = [*edits, *reasons, *(state.text for state in states)]
        if not nests and not reasons:
            reasons, copy = self._wider(shown), WIDER
            if not reasons:
                return None
        stations = dict.fromkeys([*unlocated, *(each.facts.station.name for _, each in shown)])
        told = tuple(dict.fromkeys(map(self._in_a_clause, reasons)))
        return StalePaper(
            first["event"], first["path"], bed.name, tuple(stations or map(self._called, entries)),
            tuple(nests), told, first, copy, not (self._session.shop / first["path"]).exists(),
            refused=bool(unlocated), edited=bool(edits),
        )  # fmt: skip

    def _bed(self, entries: Sequence[Row], shown: Sequence[tuple[Row, Setup]]) -> Bed | None:
        """The bed of what a file shows; None where nothing of it is there now. A map shows a bed
        also where none of its stations can be located."""
        if shown:
            return shown[0][1].facts.bed
        rows = self._rows.get(bed_of_map(entries[0]) or "", ())
        return rows[0].facts.bed if rows else None

    def is_void(self, entries: Sequence[Row]) -> bool:
        """Whether `stale` tells that what a file shows is no more; why is looked for only where
        fingerprints do not tell, since that takes longer than all else."""
        for entry, setup in self._shown(entries):
            kept = entry["paper_id"] is not None
            due = _as_cut(entry, setup).fingerprint_by(entry["definition"])
            if kept and entry["fingerprint"] != due:
                return True
        found = self.stale(entries)
        return found is not None and found.is_stale

    def _shown(self, entries: Sequence[Row]) -> list[tuple[Row, Setup]]:
        """The entries of a file whose nests are there, each with its setup of now."""
        shown = [
            (entry, self._now[entry["station_key"], entry["nest"]])
            for entry in entries
            if (entry["station_key"], entry["nest"]) in self._now
        ]
        bed = bed_of_map(entries[0])
        if bed is None:
            return shown
        # a station may lie on another bed by now
        return [each for each in shown if key_of(each[1].facts.bed.name) == bed]

    def _absent(self, entries: Sequence[Row]) -> list[str]:
        """Stations and nests that a file was written for and that are there no more, or that cannot
        be located: what it shows of those holds no more either."""
        found = []
        if self._is_of_no_run(entries[0]):
            found.append(f"run {run_of_page(entries[0])} is out of use")
        for entry in entries:
            key = entry["station_key"]
            if key not in self._stations:
                found.append(f"station {self._called(entry)} is out of use")
            elif key in self._refused:
                name = self._stations[key]
                found.append(f"station {name} cannot be located now: {self._why(key)}")
            elif key in self._nests and (key, entry["nest"]) not in self._now:
                found.append(f"nest {entry['nest']} of station {self._stations[key]} is gone")
        return found

    def _why(self, key: str) -> str:
        """Why a station (key) cannot be located now, in one clause."""
        return first_clause(self._refused[key].removeprefix(f"station {self._stations[key]}: "))

    def _in_a_clause(self, reason: str) -> str:
        """A reason in which each refusal is its first clause, and the command that tells it all."""
        for key, whole in self._refused.items():
            if whole in reason:
                told = f"{self._why(key)} (pincorner show {quoted(self._stations[key])})"
                reason = reason.replace(whole, told)
        match = _NOTED_REFUSAL.fullmatch(reason)
        if match is None:
            return reason
        told = f'{match["of"]}: note "{first_clause(match["text"])}" is {match["becomes"]}'
        names = {each.name: name for nests in self._nests.values() for each in nests
                 for name in [each.facts.station.name]}  # fmt: skip
        if match["becomes"] == "gone" or match["of"] not in names:
            return told
        return f"{told} (pincorner explain {quoted(names[match['of']])})"

    def _unlocated(self, entries: Sequence[Row]) -> list[str]:
        """Stations of a run's page that cannot be located now, by name: there is no plan without
        them. Other papers are printed of those that can be."""
        if entries[0]["event"] != "run":
            return []
        keys = dict.fromkeys(each["station_key"] for each in entries)
        return [self._stations[key] for key in keys if key in self._refused]

    def _called(self, entry: Row) -> str:
        """The name of a station, also of one that is out of use."""
        past = self._past.setup(entry)
        named = None if past is None else past.facts.station.name
        return self._stations.get(entry["station_key"], named or entry["station_key"])

    def _left_over(self, entries: Sequence[Row], absent: Sequence[str]) -> StalePaper | None:
        """A file that shows nothing which is there now; None where that is not known, or where it
        was taken away."""
        first, bed = entries[0], bed_of_map(entries[0])
        if bed is not None:
            absent = self._stations_of_map(entries, bed)
        if not absent or not (self._session.shop / first["path"]).exists():
            return None
        names = tuple(dict.fromkeys(map(self._called, entries)))
        there = [name for name in names if {key_of(name)} & {*self._nests, *self._refused}]
        of = bed or (self._bed_of(key_of(there[0])) if there else "")
        on = Library(self._reader).find(Bed, of) if of else None
        is_void = on is None if first["event"] == "map" else not there
        is_void |= self._is_of_no_run(first)
        return StalePaper(
            first["event"], first["path"], of if on is None else on.name, tuple(there) or names,
            (), tuple(dict.fromkeys(absent)), first, is_void=is_void,
            refused=first["event"] != "map" and not is_void,
        )  # fmt: skip

    def _bed_of(self, station: str) -> str:
        """The key of the bed that a station lies on now."""
        return next(
            bed
            for bed, rows in self._rows.items()
            if any(key_of(row.facts.station.name) == station for row in rows)
        )

    def _wider(self, shown: Sequence[tuple[Row, Setup]]) -> list[str]:
        """Where a part lies less well than a paper says, or than a copy was checked with; a part
        that lies better is not told."""
        told = []
        for entry, setup in shown:
            said_mm, now_mm = entry["u95_mm"], setup.budget.u95_worst_mm
            unit = setup.printed.own.unit
            if said_mm is None or not _says_how_well(entry) or now_mm <= said_mm:
                continue
            said, now = spread(said_mm, unit), spread(now_mm, unit)
            if said != now:
                checked = entry["event"] in ("run", *COPIES)
                by = ": its check kept that distance" if checked else ""
                told.append(f"{setup.name} lies within {now} {unit} now, where it was {said}{by}")
        return told

    def _states(self, entry: Row) -> list[CopyState]:
        """What became of a file, and of the program that it was made of."""
        if entry["paper_id"] is None:
            return []
        shop = self._session.shop
        found = [state_of_source(shop, entry, deep=self._deep)]
        if entry["event"] in COPIES:
            found.append(state_of_file(shop, entry, deep=self._deep))
        return [state for state in found if state is not None]

    def _own(self, entry: Row, setup: Setup) -> tuple[list[StaleNest], list[Change]]:
        """A nest whose fingerprint is another one now, and what changed of its own."""
        now = _as_cut(entry, setup)
        due = now.fingerprint_by(entry["definition"])
        holds = entry["fingerprint"] == due
        if holds and entry["definition"] >= DEFINITION:
            return [], []
        past = self._past.setup(entry)
        if holds:  # by its own definition; what else stood there is still looked at
            if past is None or past.fingerprint == now.fingerprint:
                return [], []
            return [], changes(_first(past), _first(now))
        if entry["paper_id"] is None and past is not None and past.fingerprint_by(1) == due:
            return [], []  # for that day's stock, which was not kept
        nest = StaleNest(setup.facts.station.name, setup.nest.name, entry["fingerprint"], due)
        if past is None:
            return [nest], []
        return [nest], changes(contents(_as_cut(entry, past)), contents(now))

    def _beside(self, entries: Sequence[Row], shown: Sequence[Setup], bed: Bed) -> list[str]:
        """What changed of notes, and of other things on the bed that it shows."""
        first = entries[0]
        if first["paper_id"] is None:
            return []
        if first["around"] is None and first["words"] is None and first["event"] not in FILES:
            return []
        now = self._beside_now(first, shown, bed)
        reasons = []
        if now.words is not None and first["words"] is not None:
            reasons += changed_since(*self._words(entries, shown, now.words))
        elif now.words is not None:
            reasons += self._notes_come(first, shown)
        if now.around is not None and first["around"] is not None:
            around = parts_of(first["around"]), parts_of(now.around)
            reasons += changed_since(*around)
            if is_drawn_otherwise(*around):
                facts = self._rows[key_of(bed.name)][0].facts
                before = self._past.find(first["after_change"], Bed, bed.name)
                reasons += drawn_changes(before, bed, written_of(facts))
        return reasons

    def _words(
        self, entries: Sequence[Row], shown: Sequence[Setup], now: str
    ) -> tuple[list[Part], list[Part]]:
        """The words of a paper and those of now; what papers of its definition did not keep is as
        it was on record that day."""
        first = entries[0]
        before, after = parts_of(first["words"]), parts_of(now)
        if first["beside"] >= BESIDE or first["event"] != "sheet":
            return before, after
        since = since_first(shown[0])
        past = None if self._is_as_it_was(first, shown[0]) else self._past.setup(first)
        return before + (since if past is None else since_first(past)), after

    def _is_as_it_was(self, entry: Row, setup: Setup) -> bool:
        """Whether a station's machine and jig, and itself, are revised no more since a paper."""
        facts = setup.facts
        for document in (facts.machine, facts.station, *([] if facts.is_bare else [facts.holder])):
            place = identity(document)
            if place not in self._revised:
                self._revised[place] = self._reader.newest_change(place[0], document.name)["id"]
            if self._revised[place] > entry["after_change"]:
                return False
        return True

    def _notes_come(self, first: Row, shown: Sequence[Setup]) -> list[str]:
        """What is noteworthy now and does not stand in a block of before notes were kept. Those of
        the first definition had other words."""
        if first["definition"] < DEFINITION or first["event"] == "repeat":
            return []
        try:
            block = block_of_paper(self._session.shop, first)
        except BadInput:
            return []
        there = [] if block is None else [letters(note) for note in block.notes]
        texts = [
            (each, f.text)
            for each in shown
            for f in each.findings
            if not of_its_day(f) and f not in each.no_block
        ]
        return [
            f'{each.name}: note "{text}" is new'
            for each, text in texts
            if block is not None and letters(text) not in there
        ]

    def _beside_now(self, first: Row, shown: Sequence[Setup], bed: Bed) -> Beside:
        if first["event"] == "map":
            is_page = is_page_of_map(first)
            rows = self._rows[key_of(bed.name)]
            return beside_map(bed, rows[0].facts.machine, rows, self._runs, is_page=is_page)
        setup = shown[0]
        if first["event"] == "sheet":
            nests = self._nests[key_of(setup.facts.station.name)]
            return beside_sheet(nests, pins_in_the_way(nests[0]), self._session.shop)
        if first["event"] == "block":
            return beside_block(shown)
        reach = None if first["reach"] is None else Box(*json.loads(first["reach"]))
        if first["event"] == "run":
            return self._beside_run(first, reach)
        return beside_copy(shown, self._things_on(setup), reach)

    def _beside_run(self, first: Row, reach: Box | None) -> Beside:
        run = self._run(first)
        stations = [self._nests[key] for key in map(key_of, run.stations if run else ())
                    if key in self._nests]  # fmt: skip
        if run is None or not stations:
            return Beside()
        machine = stations[0][0].facts.machine
        taken = {row["code"] for row in self._reader.codes_in_use(machine.name)}
        copies = copies_by_station(self._session.shop, run, stations, self._copies)
        return beside_run(run, stations, taken, copies, self._things_on, reach)

    def _things_on(self, setup: Setup) -> Things:
        key = key_of(setup.facts.bed.name)
        if key not in self._things:
            there = setups_in(self._rows[key])
            self._things[key] = Things(setup.facts.bed, there)
        return self._things[key]

    def _stations_of_map(self, entries: Sequence[Row], bed: str) -> list[str]:
        """Stations that came to the bed or left it since it was drawn."""
        drawn = {entry["station_key"] for entry in entries}
        there = {
            key_of(row.facts.station.name): row.facts.station.name
            for row in self._rows.get(bed, ())
        }
        gone = sorted({self._called(e) for e in entries if e["station_key"] not in there})
        come = sorted(there[key] for key in there.keys() - drawn)
        return [f"station {each} is gone from the bed" for each in gone] + [
            f"station {each} is new" for each in come
        ]

    def _block(self, entry: Row, setup: Setup, states: Sequence[CopyState]) -> str | None:
        """Why the block in a file with the right fingerprint is not the one of now.

        Of a file with several blocks the first is looked at: all were written together.
        """
        nests = self._nests[key_of(setup.facts.station.name)]
        if entry["stock_mm"] is not None:
            nests = [_with_stock(each, entry["stock_mm"]) for each in nests]
        path = self._session.shop / entry["path"]
        edited = any(state.code.startswith("copy") for state in states)
        if entry["paper_id"] is not None and not edited and (
            entry["event"] in COPIES or is_as_written(path, entry)
        ):  # fmt: skip
            return not_to_be_written(nests, entry["nest"])
        if not path.exists():
            return None
        try:
            block = block_of_paper(self._session.shop, entry)
        except BadInput as error:
            return str(error)
        if block is None or block.fingerprint != entry["fingerprint"]:
            return None
        return why_not_as_now(block, nests, entry["nest"])


def _says_how_well(entry: Row) -> bool:
    """Whether a paper says, or a copy was checked with, how well its parts lie."""
    return is_page_of_map(entry) or entry["event"] in ("sheet", "run", *COPIES)


def is_page_of_map(entry: Row) -> bool:
    """Whether a paper is a map that tells of its stations, not a drawing alone."""
    path: str = entry["path"]
    return bool(entry["event"] == "map") and path.lower().endswith(".html")


def is_as_written(path: Path, entry: Row) -> bool:
    """Whether a file has the size and the time that it was written with."""
    try:
        found = path.stat()
    except OSError:
        return False
    return (found.st_size, found.st_mtime_ns) == (entry["size"], entry["mtime_ns"])


def _as_cut(entry: Row, setup: Setup) -> Setup:
    """A nest with the stock that a paper was written for."""
    return setup if entry["stock_mm"] is None else _with_stock(setup, entry["stock_mm"])


def _with_stock(setup: Setup, stock_mm: float) -> Setup:
    """The same nest with today's stock."""
    facts = setup.facts.with_stock_thickness(stock_mm)
    return make_setup(facts, setup.nest.name)


_NAMES_OF_BEFORE = ("machine", "dialect")


def _first(setup: Setup) -> list[Part]:
    """What a paper of the first definition showed: controllers are judged by a block's words."""
    return [part for part in contents(setup) if part.of.split()[0] not in _NAMES_OF_BEFORE]


def papers_in_use(session: Session, reader: Reader, *, missing: bool = False) -> list[Row]:
    """What was written last to each file, and last of each nest's sheets, of each bed's maps and of
    each run's pages.

    `missing`: with copies that are not there any more, where no later one of their nest is. What
    was withdrawn counts where its file is there again.
    """
    papers = reader.papers()
    files = _last(lambda paper: str(paper["path"]), (p for p in papers if p["event"] in FILES))
    pages = _last(_hangs_as, (p for p in papers if p["event"] not in FILES))
    copies = [paper for paper in files if missing and paper["event"] in COPIES]
    need_no_file = {_writing(paper) for paper in (*pages, *_last(_stands_for, copies))}
    withdrawn = {row["log_id"] for row in reader.withdrawals()}
    is_there = cache(lambda path: (session.shop / path).exists())
    return [
        paper
        for paper in (*files, *pages)
        if (paper["id"] not in withdrawn and _writing(paper) in need_no_file)
        or is_there(paper["path"])
    ]


def _last(place: Callable[[Row], Hashable], papers: Iterable[Row]) -> list[Row]:
    """Those of papers, oldest first, that were written last to their place, all of one writing."""
    papers = list(papers)
    last = {place(paper): _writing(paper) for paper in papers}
    return [paper for paper in papers if last[place(paper)] == _writing(paper)]


def _writing(paper: Row) -> tuple[str, str]:
    """What all entries of one writing of a file have in common."""
    return paper["path"], paper["at"] if paper["paper_id"] is None else f"{paper['paper_id']}"


def _stands_for(copy: Row) -> tuple[str, ...]:
    """What a newer copy takes the place of: the nest that it is made for, and the program. A block
    may write the offsets of other nests as well."""
    made_for = json.loads(copy["options"] or "{}").get("nest") or copy["nest"]
    return copy["station_key"], made_for, copy["source"] or ""


def _hangs_as(paper: Row) -> tuple[str, ...]:
    """What a newer page takes the place of: a nest's sheet, a bed's map, the page of a run."""
    bed, run = bed_of_map(paper), run_of_page(paper)
    if bed is not None:
        return "map", bed
    if run is not None:
        return "run", key_of(run)
    return paper["event"], paper["station_key"], paper["nest"]


def bed_of_map(paper: Row) -> str | None:
    """The key of the bed that a map is of; None where it was not kept, and for other papers."""
    if paper["event"] != "map" or paper["paper_id"] is None:
        return None
    name = json.loads(paper["options"] or "{}").get("bed")
    return None if name is None else key_of(name)


def run_of_page(paper: Row) -> str | None:
    """The run that a page is of, by name; None for other papers."""
    if paper["event"] != "run":
        return None
    return str(json.loads(paper["options"] or "{}").get("run", ""))


class CarriedBlocks:
    """The blocks that programs bring themselves."""

    def __init__(self, session: Session, reader: Reader) -> None:
        self._found = {
            (paper["station_key"], paper["nest"], paper["fingerprint"])
            for paper in papers_in_use(session, reader)
            if paper["event"] in COPIES
        }

    def has(self, setup: Setup) -> bool:
        """Whether a program brings the block of a nest, as it is now."""
        place = key_of(setup.facts.station.name), setup.nest.name
        return any((*place, each) in self._found for each in setup.fingerprints)


class _Past:
    """Setups of past states, each made once."""

    def __init__(self, reader: Reader) -> None:
        self._reader = reader
        self._libraries: dict[int, Library] = {}
        self._asked: Counter[int] = Counter()
        self._found: dict[tuple[int, str], dict[str, Setup]] = {}

    def setup(self, entry: Row) -> Setup | None:
        """What a nest was when a paper was written; None where it could not be located."""
        change, station = entry["after_change"], entry["station_key"]
        if (change, station) not in self._found:
            library = self._library(change)
            self._asked[change] += 1
            if self._asked[change] == MANY_STATIONS:  # read at once, as those of now are
                library.all(Station)
            found = library.find(Station, station)
            rows = [] if found is None else offset_rows(library.facts(found))
            self._found[change, station] = {each.nest.name: each for each in setups_in(rows)}
        return self._found[change, station].get(entry["nest"])

    def find(self, change: int, model: type[D], name: str) -> D | None:
        """A document as it was behind a change; None where there was none."""
        return self._library(change).find(model, name)

    def _library(self, change: int) -> Library:
        if change not in self._libraries:
            self._libraries[change] = Library(Reader(self._reader.connection, change))
        return self._libraries[change]


class _Words(NamedTuple):
    """A block's lines of words without blanks: the modes it begins with, and all behind them."""

    modes: list[str]
    rest: list[str]


def why_not_as_now(block: StampedBlock, nests: Sequence[Setup], nest: str) -> str | None:
    """Why the block in a file, which shows the fingerprint of now, is not the one of now.

    `nests`: setups of all nests of the station, `nest` the one that the block selects. None where
    every word is as it would be written, for a program in either unit.
    """
    there = _parted([acting_text(line) for line in block.lines])
    units: tuple[Unit | None, ...] = (None, "mm", "in")  # most are as the first one says
    if not any(there == _parted(_words_now(nests, nest, unit)) for unit in units):
        now = [_parted(_words_now(nests, nest, unit)) for unit in units]
        if any(there.rest == each.rest for each in now):
            return (
                f"the setup block was written with {_shown(there.modes)}, where one of now has "
                f"{_shown(now[0].modes)}: what an earlier program left on could stay on"
            )
        return "the setup block is not as it was stamped, and what was changed in it is not read"
    return not_to_be_written(nests, nest)


def not_to_be_written(nests: Sequence[Setup], nest: str) -> str | None:
    """Why no block may be written for a nest now; None where one may."""
    chosen = next(each for each in nests if each.nest.name == nest)
    if not chosen.no_block:
        return None
    station = quoted(chosen.facts.station.name)
    why = first_clause(chosen.no_block[0].text)
    return f"no block may be written for it now: {why} (pincorner explain {station})"


def _words_now(nests: Sequence[Setup], nest: str, unit: Unit | None) -> list[str]:
    return [acting_text(line) for line in word_lines(nests, nest, unit)]


def _parted(lines: Sequence[str]) -> _Words:
    lines = [line for line in lines if line]
    behind = next((at for at, line in enumerate(lines) if not _MODES.fullmatch(line)), len(lines))
    return _Words(lines[:behind], lines[behind:])


def _shown(modes: Sequence[str]) -> str:
    """Lines of words as people write them: `G21 G90, G17 G40 G80`."""
    words = ([line[word.start : word.end] for word in words_of(line)] for line in modes)
    return ", ".join(map(" ".join, words)) or "no mode words"
