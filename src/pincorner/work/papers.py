"""block, sheet, map: papers, written whole and recorded with their fingerprints."""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple
from urllib.parse import quote

from pincorner import staging
from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.documents.machines import Machine
from pincorner.documents.records import Run
from pincorner.documents.stations import Station
from pincorner.errors import BadInput, Refused, UnknownName
from pincorner.program.source.text import ProgramText
from pincorner.registry.reader import Reader
from pincorner.render.blocks.block import nests_written
from pincorner.setups.contents import DEFINITION
from pincorner.setups.setup import OffsetRow, Setup, setups_in
from pincorner.setups.transform import make_setups
from pincorner.units import Unit
from pincorner.work.files.outputs import Outputs
from pincorner.work.files.trails import Move, Trail, begin_trail, move_to
from pincorner.work.files.whereabouts import TEMPLATES_FOLDER, drawing_suffix, pages_folder
from pincorner.work.kept.beside import (
    DEFINITION as BESIDE,
)
from pincorner.work.kept.beside import (
    Beside,
    beside_block,
    beside_map,
    beside_sheet,
    pins_in_the_way,
)
from pincorner.work.kept.copies import SourceFile, source_file
from pincorner.work.never_replaced import outputs_of
from pincorner.work.reports import block_text, setups_of
from pincorner.work.session import Library, Session, state_of
from pincorner.work.stale import papers_in_use

if TYPE_CHECKING:
    from pincorner.render.pages.maps import MapFacts
    from pincorner.render.text.dates import State


def retire_paper(session: Session, name: str) -> str:
    """Have a paper that is gone on purpose be missed no more; its path as it is recorded.

    `name`: that path, or the way to it from the working folder. Its history stays, with the reason;
    a file of that name counts again as soon as there is one. Raises UnknownName, BadInput.
    """
    with session.writing() as writer:
        papers = papers_in_use(session, writer.reader, missing=True)
        path = next(
            (each for each in (name, path_in_shop(session, Path(name))) for paper in papers
             if paper["path"] == each), None,
        )  # fmt: skip
        if path is None:
            raise UnknownName("paper", name, list(dict.fromkeys(each["path"] for each in papers)))
        if (session.shop / path).exists():
            raise BadInput(f"{path} is there: take it away first, so that nobody goes by it")
        if not (session.why or "").strip():
            raise BadInput(f'--note: say why {path} is gone, such as "no more orders"')
        writer.withdraw(paper["id"] for paper in papers if paper["path"] == path)
        return path


def path_in_shop(session: Session, path: Path) -> str:
    """The path as it is recorded: from the shop folder where it lies inside, else in full."""
    full, shop = path.resolve(), session.shop.resolve()
    return (full.relative_to(shop) if full.is_relative_to(shop) else full).as_posix()


class About(NamedTuple):
    """What is kept with a paper besides the setups that it shows.

    `beside`: notes and other things on the bed. `stock_mm`: the thickness of today's stock, None
    for the stock on file. `options`: what it was asked for with, to make it again. `source`: the
    program that it was made of, `files` all of those that a run's page was planned from.
    `accepted`: code and sentence of findings taken as they are.
    """

    beside: Beside = Beside()
    stock_mm: float | None = None
    options: Mapping[str, Any] = MappingProxyType({})
    source: ProgramText | None = None
    files: Sequence[SourceFile] = ()
    accepted: Sequence[tuple[str, str]] = ()


@dataclass
class _Staged:
    """A paper that is staged, and its rows of the log."""

    move: Move
    kept: dict[str, Any]
    entries: list[dict[str, Any]]


@dataclass
class Papers:
    """Files staged beside their places, put there and recorded together."""

    session: Session
    outputs: Outputs
    trail: Trail
    _staged: dict[Path, _Staged] = field(default_factory=dict)

    def add(
        self,
        path: Path,
        text: str,
        event: str,
        setups: Sequence[Setup],
        about: About | None = None,
    ) -> None:
        """Stage a file that shows these setups. Raises FileExists, BadInput."""
        self.add_pieces(path, [text.encode("utf-8")], event, setups)
        self.keep(path, about or About())

    def add_pieces(
        self, path: Path, data: Iterable[bytes], event: str, setups: Sequence[Setup]
    ) -> Path:
        """The same from pieces of a file too large to hold; where it is staged."""
        self.outputs.refuse(path)
        move = move_to(path)
        self.trail.note(move)
        digest = hashlib.sha256()
        self.outputs.stage(path, move.staged, _digested(data, digest))
        kept = _file_kept(move.staged, digest)
        self._staged[path] = _Staged(move, kept, [
            {
                "event": event,
                "station_key": key_of(setup.facts.station.name),
                "nest": setup.nest.name,
                "fingerprint": setup.fingerprint,
                "definition": DEFINITION,
                "u95_mm": setup.budget.u95_worst_mm,
                "x_mm": setup.zero_in_machine.x_mm,
                "y_mm": setup.zero_in_machine.y_mm,
                "path": path_in_shop(self.session, path),
            }
            for setup in setups
        ])  # fmt: skip
        return move.staged

    def again(self, path: Path, data: Iterable[bytes]) -> None:
        """Other contents for a paper that is staged. Raises BadInput."""
        staged, digest = self._staged[path], hashlib.sha256()
        staging.discard(staged.move.staged)
        self.outputs.stage(path, staged.move.staged, _digested(data, digest))
        staged.kept |= _file_kept(staged.move.staged, digest)

    def keep(self, path: Path, about: About) -> None:
        """Keep something with a paper that is staged."""
        kept = self._staged[path].kept
        kept |= {
            **about.beside._asdict(),
            "beside": BESIDE,
            "stock_mm": about.stock_mm,
            "options": json.dumps(dict(about.options), ensure_ascii=False),
        }
        if about.files:
            kept["files"] = json.dumps(about.files, ensure_ascii=False)
        if about.accepted:
            told = {"findings": about.accepted, "why": self.session.why, "who": self.session.who}
            kept["accepted"] = json.dumps(told, ensure_ascii=False)
        if about.source is not None:
            source = source_file(about.source, path_in_shop(self.session, about.source.path))
            kept |= {f"source_{key}": value for key, value in source._asdict().items()}
            kept["source"] = kept.pop("source_path")

    def publish(self) -> None:
        """Record all papers and put them in place: all of it, or none."""
        session = self.session
        placed: list[Move] = []
        try:
            with session.writing() as writer:
                for staged in self._staged.values():
                    writer.record(staged.kept, staged.entries)
                entries = [each for staged in self._staged.values() for each in staged.entries]
                self.trail.recorded(writer, entries)
                for move in self.trail.moves:
                    self.outputs.keep(move.path, move.aside)
                    self.outputs.place(move.staged, move.path)
                    placed.append(move)
        except BaseException:
            for move in reversed(placed):
                move.undo(is_ours=True)
            raise

    def close(self) -> None:
        """Take away what was staged and not put in place, and what was kept of replaced files."""
        for move in self.trail.moves:
            move.finish()
        self.trail.close()


def _file_kept(staged: Path, digest: Any) -> dict[str, Any]:
    """What is kept of a file's bytes."""
    found = staged.stat()
    return {
        "size": found.st_size,
        "mtime_ns": found.st_mtime_ns,
        "digest": digest.hexdigest(),
    }


def _digested(data: Iterable[bytes], digest: Any) -> Iterator[bytes]:
    """The same data, its digest taken as it passes."""
    for piece in data:
        digest.update(piece)
        yield piece


@contextmanager
def writing_papers(session: Session, outputs: Outputs) -> Iterator[Papers]:
    """Papers that are published at the end, or not at all."""
    papers = Papers(session, outputs, begin_trail(session.registry.location, session.shop))
    try:
        yield papers
        papers.publish()
    finally:
        papers.close()


def write_block(
    session: Session,
    station: str,
    nest: str | None,
    path: Path,
    force: bool,
    *,
    as_of: str | None = None,
    stock_thickness_mm: float | None = None,
) -> tuple[str, list[Setup]]:
    """A station's block, written to a file and recorded, and the setups that it writes.

    Raises UnknownName, Refused, FileExists, BadInput.
    """
    with session.reading():
        text, setups = block_text(session, station, nest, as_of, stock_thickness_mm)
        outputs = outputs_of(session, force)
    written = nests_written(setups, nest)
    about = About(beside_block(written), stock_thickness_mm, {"nest": nest})
    with writing_papers(session, outputs) as papers:
        papers.add(path, text, "block", written, about)
    return text, setups


def usual_paper(session: Session) -> str:
    """The paper that this shop prints on: that of its newest sheet on record, else A4."""
    with session.reading() as reader:
        options = json.loads(reader.newest_sheet_options() or "{}")
    return str(options.get("paper", "a4"))


def write_sheets(
    session: Session,
    names: Sequence[str],
    folder: Path,
    paper: str | None,
    pdf: bool,
    force: bool,
    told: Callable[[int, int], None],
) -> list[Path]:
    """Sheets of the stations named (of all with none), one HTML file each in `folder`.

    `paper`: their size, as the newest sheet on record with None. With `pdf` also printed by a
    browser on this machine. `told(done, all)` is called after each.
    Raises UnknownName, Refused, FileExists, BadInput.
    """
    with session.reading() as reader:
        library = Library(reader)
        stationed = [make_setups(library.facts(each)) for each in _some(library.stations(names))]
        pages = _pages(session, reader, folder, paper, pdf, force)
    return _write_sheets(session, stationed, pages, told)


class AllSheets(NamedTuple):
    """What became of the sheets of all stations: files that were written, those that were there and
    are as they were, and stations that cannot be located, each with why."""

    paths: list[Path]
    kept: list[Path]
    refused: list[tuple[str, str]]


def write_all_sheets(
    session: Session,
    folder: Path,
    paper: str | None,
    pdf: bool,
    force: bool,
    told: Callable[[int, int], None],
) -> AllSheets:
    """The same of all stations that can be located, without `force` of those that have no page in
    the folder yet. Raises Refused where none can be located, BadInput."""
    stationed, kept, refused = list[list[Setup]](), list[Path](), dict[str, Refused]()
    with session.reading() as reader:
        library = Library(reader)
        for station in _some(library.stations(())):
            path = _sheet_file(folder, station.name)
            try:
                setups = make_setups(library.facts(station))
            except Refused as refusal:
                refused[station.name] = refusal
                continue
            if path.exists() and not force:
                kept.append(path)
            else:
                stationed.append(setups)
        if refused and not stationed and not kept:
            raise next(iter(refused.values()))
        pages = _pages(session, reader, folder, paper, pdf, force)
    paths = _write_sheets(session, stationed, pages, told)
    return AllSheets(paths, kept, [(name, each.text) for name, each in refused.items()])


def _some(stations: list[Station]) -> list[Station]:
    """The stations; BadInput where there are none."""
    if not stations:
        raise BadInput("there are no stations yet: register one, see pincorner guide stations")
    return stations


def _sheet_file(folder: Path, station: str) -> Path:
    return folder / f"{file_stem(station)}.html"


class _Pages(NamedTuple):
    """Where sheets go and how they are printed; the state and the unit of the registry."""

    folder: Path
    paper: str
    pdf: bool
    outputs: Outputs
    state: State
    unit: Unit


def _pages(
    session: Session, reader: Reader, folder: Path, paper: str | None, pdf: bool, force: bool
) -> _Pages:
    folder, paper = pages_folder(folder), paper or usual_paper(session)
    outputs = outputs_of(session, force)
    return _Pages(folder, paper, pdf, outputs, state_of(reader), reader.display_units)


def _write_sheets(
    session: Session,
    stationed: Sequence[list[Setup]],
    pages: _Pages,
    told: Callable[[int, int], None],
) -> list[Path]:
    """Write a sheet for each list of setups of a station; the files."""
    from pincorner.render.pages.sheet import render_sheet
    from pincorner.work.files.browser import print_pages
    from pincorner.work.files.photos import photos_of

    folder, paper, pdf, outputs, state, unit = pages
    paths = [_sheet_file(folder, setups[0].facts.station.name) for setups in stationed]
    printed = [path.with_suffix(".pdf") for path in paths] if pdf else []
    overrides = session.shop / TEMPLATES_FOLDER
    outputs.folder(folder)
    for path in (*paths, *printed):
        outputs.refuse(path)
    photos = photos_of(session.shop, [setups[0].facts.holder for setups in stationed])
    with writing_papers(session, outputs) as papers:
        for at, (path, setups) in enumerate(zip(paths, stationed, strict=True)):
            take_out = pins_in_the_way(setups[0])
            photo = photos.get(setups[0].facts.holder.name)
            page = render_sheet(setups, take_out, paper, overrides, state, photo, unit)
            beside = beside_sheet(setups, take_out, session.shop)
            about = About(beside, options={"paper": paper, "pdf": pdf})
            papers.add(path, page, "sheet", setups, about)
            told(at + 1, len(paths))
    return [*paths, *(print_pages(paths, outputs) if pdf else ())]


_RESERVED = re.compile(r"(?i)con|prn|aux|nul|com[0-9]|lpt[0-9]")
_LONGEST_BYTES = 200


def file_stem(name: str) -> str:
    """A file name, without suffix, that only a station of this name gets, on every system.

    A name's rule allows no character that a file may not have; it may be a reserved word, though,
    or longer than a file name may be. It allows no ~ either.
    """
    stem = f"station~{name}" if _RESERVED.fullmatch(name.split(".")[0].strip()) else name
    data = stem.encode("utf-8")
    if len(data) <= _LONGEST_BYTES:
        return stem
    digest = hashlib.sha256(key_of(name).encode("utf-8")).hexdigest()[:8]
    return f"{data[:_LONGEST_BYTES].decode('utf-8', 'ignore')}-{digest}"


def write_map(session: Session, bed_name: str, path: Path, force: bool) -> None:
    """The bed's map as .svg, .html or .dxf, recorded for every station on it."""
    suffix = drawing_suffix(path, ".svg", ".html", ".dxf")
    if suffix == ".dxf":
        _needs_ezdxf(path)
    with session.reading():
        outputs = outputs_of(session, force)
        outputs.refuse(path)
        outputs.folder(path.parent)
        bed, machine, rows, told, runs = look_at_map(session, bed_name, path)
    beside = beside_map(bed, machine, rows, runs, is_page=suffix == ".html")
    text = _map_as(suffix, bed, rows, session.shop / TEMPLATES_FOLDER, machine, told)
    with writing_papers(session, outputs) as papers:
        setups = setups_in(rows)
        papers.add(path, text, "map", setups, About(beside, options={"bed": bed.name}))


class Mapped(NamedTuple):
    """What a map shows: a bed, its machine, rows of its stations, what is told of them, runs."""

    bed: Bed
    machine: Machine
    rows: list[OffsetRow]
    told: MapFacts
    runs: list[Run]


def look_at_map(session: Session, bed_name: str, path: Path | None = None) -> Mapped:
    """What the map of a bed shows; links to sheets lead there from `path`. Raises UnknownName."""
    with session.registry.reading() as reader:
        library = Library(reader)
        bed = library.get(Bed, bed_name)
        machine = library.get(Machine, bed.machine)
        rows = library.rows(library.stations_on(bed.name))
        told = _map_facts(session, reader, library, rows, path)
        return Mapped(bed, machine, rows, told, library.all(Run))


def write_station_drawing(
    session: Session, bed_name: str, name: str, nest: str | None, path: Path, force: bool
) -> None:
    """One station on its bed as .dxf, with a nest's program zero (the first's) at 0, 0.

    It holds no offset of the machine, so it is no paper and is not recorded. Raises UnknownName,
    Refused, FileExists, BadInput.
    """
    if path.suffix.lower() != ".dxf":
        raise BadInput(
            f"-o {path}: --station draws one station as .dxf; the page of the whole bed shows it "
            f"by its address, FILE.html#{name}"
        )
    _needs_ezdxf(path)
    with session.reading():
        outputs = outputs_of(session, force)
        outputs.refuse(path)
        setups = setups_of(session, name, None, None)
    facts = setups[0].facts
    if key_of(facts.bed.name) != key_of(bed_name):
        raise BadInput(f"station {facts.station.name} is on bed {facts.bed.name}, not {bed_name}")
    wanted = facts.nest(nest)
    from pincorner.render.drawing.dxf import render_station_dxf

    text = render_station_dxf(setups, next(each for each in setups if each.nest is wanted))
    outputs.write(path, text.encode("utf-8"))


def _needs_ezdxf(path: Path) -> None:
    if find_spec("ezdxf") is None:
        raise BadInput(f"-o {path}: a .dxf needs one more library: pip install 'pincorner[dxf]'")


def _map_facts(
    session: Session,
    reader: Reader,
    library: Library,
    rows: Sequence[OffsetRow],
    path: Path | None,
) -> MapFacts:
    """What a map's page tells beside setups: runs, pins to be taken out, sheets, the state."""
    from pincorner.render.pages.maps import MapFacts, RunOfMap, SheetOfMap

    firsts = {key_of(row.facts.station.name): row.setup for row in rows[::-1] if row.setup}
    shown: dict[str, dict[str, str]] = {}
    where: dict[str, str] = {}
    for paper in reader.papers():
        if paper["event"] == "sheet":
            key = paper["station_key"]
            if where.get(key) != paper["path"]:
                shown[key], where[key] = {}, paper["path"]
            shown[key][paper["nest"]] = paper["fingerprint"]
    return MapFacts(
        state=state_of(reader),
        runs=tuple(RunOfMap(run.name, run.stations) for run in library.all(Run)),
        take_out={key: pins_in_the_way(setup) for key, setup in firsts.items()},
        sheets={
            key: SheetOfMap(
                "" if path is None else _link(session.shop / sheet, path),
                sheet,
                tuple(sorted(shown[key].values())),
            )
            for key, sheet in where.items()
        },
    )


def _link(target: Path, page: Path) -> str:
    """The way from a page to a file, as a browser follows it; empty where there is none."""
    if not target.exists():
        return ""
    try:
        steps = os.path.relpath(target.resolve(), page.resolve().parent)
    except ValueError:  # on another drive
        return ""
    return quote(Path(steps).as_posix())


def _map_as(
    suffix: str,
    bed: Bed,
    rows: Sequence[OffsetRow],
    overrides: Path,
    machine: Machine,
    told: MapFacts,
) -> str:
    if suffix == ".dxf":
        from pincorner.render.drawing.dxf import render_map_dxf

        return render_map_dxf(bed, rows)
    from pincorner.render.pages.maps import render_map_page, render_map_svg

    if suffix == ".svg":
        return render_map_svg(bed, rows, machine)
    return render_map_page(bed, rows, overrides, machine, told)
