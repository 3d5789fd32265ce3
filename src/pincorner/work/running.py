"""run: a set of stations worked in turn, planned."""

from __future__ import annotations

from pathlib import Path

from pincorner.documents.fields import key_of
from pincorner.documents.records import Run
from pincorner.errors import BadInput
from pincorner.registry.reader import Reader
from pincorner.runs.codes import NestCode, codes_of_run, shared_codes
from pincorner.runs.keep_clear import (
    DEFAULT_REACH_MM,
    KeepClear,
    gap_figure,
    keep_clear_table,
)
from pincorner.runs.plan import RunPlan
from pincorner.runs.space import space_clashes
from pincorner.runs.timeline import Work, best_order, by_count
from pincorner.setups.facts import wanted_jigs
from pincorner.setups.findings import Finding
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.units import Unit, told_size
from pincorner.work.files.browser import print_to_pdf
from pincorner.work.files.outputs import Outputs
from pincorner.work.files.whereabouts import TEMPLATES_FOLDER
from pincorner.work.never_replaced import outputs_of
from pincorner.work.papers import file_stem
from pincorner.work.program_paths import PathAndTime, path_and_time
from pincorner.work.session import Library, Session
from pincorner.work.stale import carried_blocks


def plan(session: Session, name: str) -> RunPlan:
    """The plan of a run. Raises UnknownName, BadInput, Refused."""
    with session.registry.reading() as reader:
        library = Library(reader)
        run = library.get(Run, name)
        stations = [
            tuple(make_setups(library.facts(each))) for each in library.stations(run.stations)
        ]
        _check_one_machine(run, stations)
        machine = stations[0][0].facts.machine.name
        taken = {row["code"] for row in reader.codes_in_use(machine)}
        stamped = _stamped(session, reader, stations)
        read = {_name(each): path_and_time(session, each) for each in stations}
    codes = codes_of_run([setup for each in stations for setup in each], taken)
    reach = DEFAULT_REACH_MM if run.reach is None else run.reach
    paths = {key: found.path for key, found in read.items()}
    table = keep_clear_table(stations, paths, reach)
    works = [_work(run, each, read[_name(each)]) for each in stations]
    swept = [(row.runs, row.loaded) for row in table if row.gap_mm < 0]
    parts = run.parts or sum(work.parts for work in works)
    return RunPlan(
        run=run,
        stations=tuple(stations),
        codes=tuple(codes),
        table=tuple(table),
        reach_mm=reach,
        works=tuple(works),
        timelines=tuple(by_count(works, parts, swept)),
        quicker=best_order(works, parts, swept),
        findings=(
            *_code_findings(codes, stamped, stations[0][0]),
            *space_clashes(stations),
            *_too_few_jigs(stations),
            *_without_block(stations),
            *_swept(table, stations[0][0].facts.machine.units),
        ),
        assumed=tuple(_assumed(run, reach, read, stations)),
    )


def write_run_page(
    session: Session, plan: RunPlan, path: Path, paper: str, outputs: Outputs
) -> None:
    """A run's page as HTML. Raises FileExists, BadInput."""
    from pincorner.render.pages.run_page import render_run_page

    if path.suffix.lower() != ".html":
        raise BadInput(f"-o {path}: a run's page is written as .html")
    page = render_run_page(plan, paper, session.shop / TEMPLATES_FOLDER)
    outputs.write(path, page.encode("utf-8"))


def write_run_sheet(
    session: Session, name: str, folder: Path, paper: str, pdf: bool, force: bool
) -> list[Path]:
    """A run's page in a folder, with `pdf` also printed. Raises as `plan` and `write_run_page`."""
    found, outputs = plan(session, name), outputs_of(session, force)
    outputs.folder(folder)
    path = folder / f"{file_stem(f'run {found.run.name}')}.html"
    printed = path.with_suffix(".pdf")
    if pdf:
        outputs.refuse(printed)
    write_run_page(session, found, path, paper, outputs)
    if not pdf:
        return [path]
    print_to_pdf(path, printed, outputs)
    return [path, printed]


def _name(setups: tuple[Setup, ...]) -> str:
    return setups[0].facts.station.name


def _check_one_machine(run: Run, stations: list[tuple[Setup, ...]]) -> None:
    machines = {each[0].facts.machine.name: _name(each) for each in stations}
    if len(machines) > 1:
        where = ", ".join(f"{station} on {machine}" for machine, station in machines.items())
        raise BadInput(f"run {run.name}: its stations are on several machines ({where})")


def _stamped(
    session: Session, reader: Reader, stations: list[tuple[Setup, ...]]
) -> set[tuple[str, str]]:
    """(station, nest) whose program was stamped with the block that is valid now."""
    carried = carried_blocks(session, reader)
    return {
        (_name(each), setup.nest.name)
        for each in stations
        for setup in each
        if (key_of(_name(each)), setup.nest.name, setup.fingerprint) in carried
    }


def _code_findings(
    codes: list[NestCode], stamped: set[tuple[str, str]], setup: Setup
) -> list[Finding]:
    """Codes that clash, and nests that are left without."""
    found = []
    for code, nests in shared_codes(codes).items():
        names = ", ".join(f"{each.station} {each.nest}" for each in nests)
        missing = [each for each in nests if (each.station, each.nest) not in stamped]
        if missing:
            open_ones = ", ".join(f"{each.station} {each.nest}" for each in missing)
            text = (
                f"{code} belongs to {names}: that holds only while every program brings its own "
                f"setup block; stamp the programs of {open_ones}"
            )
            found.append(Finding("code-shared", text))
    without = [each for each in codes if each.code is None]
    if without:
        names = ", ".join(f"{each.station} {each.nest}" for each in without)
        dialect = setup.facts.dialect
        text = (
            f"dialect {dialect.name} has {len(dialect.work_offsets)} codes, too few for {names}: "
            "let nests share a code and stamp every program, so that each brings its own block"
        )
        found.append(Finding("codes-run-out", text))
    return found


def _without_block(stations: list[tuple[Setup, ...]]) -> list[Finding]:
    """Nests whose setup block is refused."""
    return [
        Finding("no-block", f"NO BLOCK for {setup.name}: {reason.text}")
        for setups in stations
        for setup in setups
        for reason in setup.stopped
    ]


def _too_few_jigs(stations: list[tuple[Setup, ...]]) -> list[Finding]:
    return [
        Finding(
            "jig-short",
            f"stations {', '.join(each.stations)} want {len(each.stations)} of jig {each.jig}, and "
            f"there {'is' if each.copies == 1 else 'are'} only {each.copies}",
        )
        for each in wanted_jigs(setups[0].facts for setups in stations)
        if each.copies is not None
    ]


def _swept(table: list[KeepClear], unit: Unit) -> list[Finding]:
    return [
        Finding(
            "zone-swept",
            f"while {row.runs} runs the moving parts reach "
            f"{gap_figure(row.gap_mm, unit).lstrip('-')} {unit} into the loading zone of "
            f"{row.loaded}: load it while the spindle stands",
            -row.gap_mm,
        )
        for row in table
        if row.gap_mm < 0
    ]


def _work(run: Run, setups: tuple[Setup, ...], read: PathAndTime) -> Work:
    """A station's share of a round. Raises BadInput where a time is missing."""
    station = setups[0].facts.station
    load = run.load if station.load is None else station.load
    if load is None or load <= 0:
        raise BadInput(
            f"run {run.name}: how long station {station.name} takes to load is not given; say "
            "load: 90 s in the run or the station"
        )
    if read.cut_s is None or read.cut_s <= 0:
        what = "say cycle in its program's document"
        if station.program is None:
            what = "it names no program: register it with --program"
        raise BadInput(
            f"run {run.name}: how long station {station.name} cuts is not known, from a cycle time "
            f"or from a program that can be read; {what}"
        )
    changes = [run.tool_change] * read.tool_changes if run.tool_change else []
    attended = tuple(seconds for seconds in (run.start or 0.0, *changes) if seconds)
    return Work(station.name, load, read.cut_s, attended, len(setups))


def _assumed(
    run: Run, reach_mm: float, read: dict[str, PathAndTime], stations: list[tuple[Setup, ...]]
) -> list[str]:
    told = [
        f"that there are {len(each.stations)} of jig {each.jig}: its document says no copies"
        for each in wanted_jigs(setups[0].facts for setups in stations)
        if each.copies is None
    ]
    unit = stations[0][0].facts.machine.units
    if run.reach is None:
        told.append(f"reach around a jig not given: {told_size(reach_mm, unit)} taken")
    for name, found in read.items():
        told += [f"{name}: {text}" for text in found.assumed]
    return told
