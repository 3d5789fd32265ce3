"""run: a set of stations worked in turn, planned."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from pincorner.documents.fields import key_of
from pincorner.documents.machines import Machine
from pincorner.documents.records import Run
from pincorner.errors import BadInput
from pincorner.geometry.outline import Box, distance_to
from pincorner.registry.reader import Reader
from pincorner.render.text.runs import told_gap
from pincorner.runs.codes import NestCode, codes_of_run, shared_codes
from pincorner.runs.gaps import moving_of, reach_mm_of, zone_of
from pincorner.runs.help import MOST_WAITS, Help, changes_here, helps, tries
from pincorner.runs.plan import RunPlan
from pincorner.runs.situation import (
    DEFAULT_LEAST_GAP_MM,
    DEFAULT_LEAVE_S,
    Planner,
    Situation,
    Station,
    Terms,
    Turns,
)
from pincorner.runs.space import space_clashes
from pincorner.runs.timeline import MOST_FREE, MOST_OF_TWO, Timeline
from pincorner.setups.facts import wanted_jigs
from pincorner.setups.findings import Finding
from pincorner.setups.setup import OffsetRow, Setup, setups_in
from pincorner.setups.transform import make_setups
from pincorner.units import clock, told_size
from pincorner.work.files.browser import print_pages
from pincorner.work.files.outputs import Outputs
from pincorner.work.files.whereabouts import TEMPLATES_FOLDER, pages_folder
from pincorner.work.kept.beside import Things
from pincorner.work.kept.run_pages import (
    beside_run,
    copies_by_station,
    files_of_run,
    reach_of_run,
)
from pincorner.work.never_replaced import outputs_of
from pincorner.work.papers import About, file_stem, usual_paper, writing_papers
from pincorner.work.runs.helping import Places
from pincorner.work.runs.joint import Joint
from pincorner.work.runs.sittings import Read, Stamps, programs_read, refuse_untimed
from pincorner.work.session import Library, Session, state_at
from pincorner.work.stale import CarriedBlocks, accepted_copies, papers_in_use, stale_papers

FINE_MM = 5.0
"""The box of a span costs at most so much of a gap, or a hundredth of the bed, if that is more."""

CYCLE_AT_MOST = 1.3
"""A measured time of more times the feed time is told: that much for rapids and corners."""


def plan(session: Session, name: str) -> RunPlan:
    """The plan of a run. Raises UnknownName, BadInput, Refused."""
    gathered = gather(session, name)
    run, stations = gathered.run, gathered.stations
    codes = codes_of_run([setup for each in stations for setup in each], gathered.taken)
    planner = Planner(gathered.situation)
    order = tuple(gathered.situation.stations)
    turns = planner.turns(order)
    timelines = [planner.timeline(order[:count]) for count in range(1, len(order) + 1)]
    return RunPlan(
        run=run,
        stations=stations,
        codes=tuple(codes),
        reach_mm=gathered.reach_mm,
        situation=gathered.situation,
        turns=turns,
        timelines=tuple(timelines),
        helps=_helps(session, gathered, planner, turns, timelines[-1]),
        findings=(
            *_code_findings(codes, gathered.stamped, stations[0][0]),
            *gathered.stale,
            *space_clashes(stations),
            *_too_few_jigs(stations),
            *_without_block(stations),
            *_unfit(gathered),
            *_of_cycles(gathered),
            *_above_stations(gathered),
        ),
        assumed=(*_assumed(gathered), *_untried(turns)),
        not_given=tuple(_not_given(gathered)),
        change=gathered.change,
    )


def _helps(
    session: Session, gathered: Gathered, planner: Planner, turns: Turns, now: Timeline
) -> tuple[Help, ...]:
    """What would help; nothing where a round is as short as it can be."""
    situation, order = gathered.situation, turns.order
    if len(order) < 2 or situation.moving is None or now.round_s <= now.bound_s + 1.0:
        return ()
    if not tries(turns, MOST_WAITS):
        return ()
    first = gathered.stations[0][0]
    unit, fine_mm = first.facts.machine.units, fine_mm_of(first)
    places = Places(session, situation, gathered.stations, order, gathered.reach_mm, fine_mm)
    return tuple(helps([*changes_here(situation, turns, unit), *places.changes()], now, planner))


def _untried(turns: Turns) -> Iterator[str]:
    """Where a plan takes so long that no other is made."""
    if len(turns.order) > 1 and not tries(turns, MOST_WAITS):
        yield "that nothing would help: with so many tool changes no other way was planned"


class Gathered(NamedTuple):
    """A run with all that its plan is made of, the programs read.

    `taken`: work offsets of the machine's stations; `stamped`: (station, nest) whose program brings
    its own block; `stale`: papers of its stations that no longer show what is. `change`: the newest
    one, and when it was made.
    """

    run: Run
    stations: tuple[tuple[Setup, ...], ...]
    taken: set[str]
    stamped: set[tuple[str, str]]
    stale: tuple[Finding, ...]
    reach_mm: float
    read: dict[str, Read]
    situation: Situation
    change: tuple[int, str | None]


def gather(session: Session, name: str) -> Gathered:
    """Read a run with its programs. Raises UnknownName, BadInput, Refused."""
    with session.registry.reading() as reader:
        library = Library(reader)
        run = library.get(Run, name)
        _refuse_twice(run)
        stations = tuple(
            tuple(make_setups(library.facts(each))) for each in library.stations(run.stations)
        )
        _check_one_machine(run, stations)
        machine = stations[0][0].facts.machine
        taken = {row["code"] for row in reader.codes_in_use(machine.name)}
        stamped = _stamped(session, reader, stations)
        papers = papers_in_use(session, reader)
        stamps = Stamps(session, papers)
        joint = Joint(session, papers, stations) if run.by == "repeat" else None
        on_beds = _on_beds(library, stations)
        change = (reader.last_change, reader.last_changed)
        stale = _stale(session, reader, stations, on_beds)
    reach_mm = reach_mm_of(run)
    read = {}
    for setups in stations:
        mine = key_of(_name(setups))
        others = [
            each
            for each in on_beds[key_of(setups[0].facts.bed.name)]
            if key_of(each.facts.station.name) != mine
        ]
        fine_mm = fine_mm_of(setups[0])
        read[_name(setups)] = programs_read(session, setups, others, stamps, fine_mm, joint)
    situation = _situation(run, stations, read, reach_mm)
    return Gathered(run, stations, taken, stamped, stale, reach_mm, read, situation, change)


def fine_mm_of(setup: Setup) -> float:
    """How much larger a gap may be at a moment than a span's box has it; any, without windows."""
    box = setup.facts.bed.box
    if moving_of(setup.facts.machine)[0] is None:
        return math.inf
    return max(FINE_MM, max(box.width, box.depth) / 100)


def _on_beds(library: Library, stations: tuple[tuple[Setup, ...], ...]) -> dict[str, list[Setup]]:
    """Setups of all stations on the beds of a run that can be located, by the bed's key."""
    found: dict[str, list[Setup]] = {key_of(each[0].facts.bed.name): [] for each in stations}
    on_them = (each for each in library.stations(()) if key_of(each.bed) in found)
    for setup in setups_in(library.rows(on_them)):
        found[key_of(setup.facts.bed.name)].append(setup)
    return found


def _situation(
    run: Run, stations: tuple[tuple[Setup, ...], ...], read: dict[str, Read], reach_mm: float
) -> Situation:
    """The run as it is planned. Raises BadInput where a time is missing."""
    found = {}
    for setups in stations:
        station, sittings = setups[0].facts.station, read[_name(setups)].sittings
        refuse_untimed(station.name, run.name, sittings, any(each.program for each in setups))
        zone = zone_of(setups[0], reach_mm)
        load_s = _load_s(run, setups)
        found[station.name] = Station(station.name, sittings, zone, load_s, len(setups))
    machine = stations[0][0].facts.machine
    moving, missing = moving_of(machine)
    why_not = no_windows_at_all(machine, missing)
    terms = terms_of(run, machine, sum(each.parts for each in found.values()))
    return Situation(found, None if why_not else moving, why_not, park_of(machine), terms)


def terms_of(run: Run | None, machine: Machine, parts_of_round: int) -> Terms:
    """What a run states, and what is taken where it does not, or where there is none."""

    def stated(key: str, default: float) -> float:
        value = None if run is None else getattr(run, key)
        return default if value is None else float(value)

    return Terms(
        start_s=stated("start", 0.0),
        change_s=stated("tool_change", 0.0),
        leave_s=stated("leave", DEFAULT_LEAVE_S),
        least_gap_mm=stated("least_gap", DEFAULT_LEAST_GAP_MM),
        override=stated("override", 1.0),
        rapid=machine.rapid,
        parts=(run.parts if run is not None else None) or parts_of_round,
    )


def park_of(machine: Machine) -> Box | None:
    """Where M6 takes the spindle; None: anywhere in the travel."""
    return None if machine.park is None else Box(*machine.park, *machine.park)


def no_windows_at_all(machine: Machine, missing: list[str]) -> str:
    """Why there is no window in a run whatever its programs; empty where nothing speaks against."""
    if machine.bed_moves:
        return f"the bed of machine {machine.name} moves: hands would be on it"
    if not machine.homes:
        return f"machine {machine.name} does not home: where its travel lies is not known"
    if missing:
        return f"machine {machine.name} does not say {', '.join(missing)}"
    return ""


def write_run_page(
    session: Session, plan: RunPlan, path: Path, paper: str, outputs: Outputs, *, pdf: bool = False
) -> None:
    """A run's page as HTML, recorded with all that it rests on. Raises FileExists, BadInput."""
    from pincorner.render.pages.run_page import render_run_page

    if path.suffix.lower() != ".html":
        raise BadInput(f"-o {path}: a run's page is written as .html")
    outputs.refuse(path)
    overrides = session.shop / TEMPLATES_FOLDER
    page = render_run_page(plan, paper, state_at(*plan.change), overrides)
    about = _about_page(session, plan)
    options = {"run": plan.run.name, "paper": paper, "pdf": pdf}
    setups = [setup for each in plan.stations for setup in each]
    with writing_papers(session, outputs) as papers:
        papers.add(path, page, "run", setups, about._replace(options=options))


def _about_page(session: Session, plan: RunPlan) -> About:
    """What is kept with a run's page."""
    with session.registry.reading() as reader:
        library = Library(reader)
        on_beds = _on_beds(library, plan.stations)
        machine = plan.stations[0][0].facts.machine
        taken = {row["code"] for row in reader.codes_in_use(machine.name)}
        papers = papers_in_use(session, reader)

    def things_on(setup: Setup) -> Things:
        bed = setup.facts.bed
        return Things(bed, on_beds[key_of(bed.name)])

    copies = copies_by_station(session.shop, plan.run, plan.stations, papers)
    beside = beside_run(plan.run, plan.stations, taken, copies, things_on, reach_of_run(plan))
    return About(beside, files=files_of_run(session.shop, plan.stations, copies))


def write_run_sheet(
    session: Session, name: str, folder: Path, paper: str | None, pdf: bool, force: bool
) -> list[Path]:
    """A run's page in a folder, or as the .html file that is named, with `pdf` also printed.

    `paper`: its size, as the newest sheet on record with None.
    Raises as `plan` and `write_run_page`.
    """
    found, outputs = plan(session, name), outputs_of(session, force)
    path = folder
    if folder.suffix.lower() != ".html":
        path = pages_folder(folder) / f"{file_stem(f'run {found.run.name}')}.html"
    outputs.folder(path.parent)
    if pdf:
        outputs.refuse(path.with_suffix(".pdf"))
    write_run_page(session, found, path, paper or usual_paper(session), outputs, pdf=pdf)
    return [path, *(print_pages([path], outputs) if pdf else ())]


def _name(setups: tuple[Setup, ...]) -> str:
    return setups[0].facts.station.name


def _refuse_twice(run: Run) -> None:
    """Raise BadInput where a station is worked twice in a round: it has one turn."""
    names: set[str] = set()
    for station in run.stations:
        if key_of(station) in names:
            raise BadInput(f"run {run.name}: station {station} stands there twice; name it once")
        names.add(key_of(station))


def _check_one_machine(run: Run, stations: Sequence[tuple[Setup, ...]]) -> None:
    machines = {each[0].facts.machine.name: _name(each) for each in stations}
    if len(machines) > 1:
        where = ", ".join(f"{station} on {machine}" for machine, station in machines.items())
        raise BadInput(f"run {run.name}: its stations are on several machines ({where})")


def _stamped(
    session: Session, reader: Reader, stations: Sequence[tuple[Setup, ...]]
) -> set[tuple[str, str]]:
    """(station, nest) whose program was stamped with the block that is valid now."""
    carried = CarriedBlocks(session, reader)
    return {
        (_name(each), setup.nest.name) for each in stations for setup in each if carried.has(setup)
    }


def _stale(
    session: Session,
    reader: Reader,
    stations: Sequence[tuple[Setup, ...]],
    on_beds: Mapping[str, Sequence[Setup]],
) -> tuple[Finding, ...]:
    """Papers of the run's stations that no longer show what is, each with its reason."""
    rows = [OffsetRow(s.facts, s.nest.name, s) for each in on_beds.values() for s in each]
    names = {key_of(_name(each)): _name(each) for each in stations}
    stale = stale_papers(session, reader, rows, names.keys())
    accepted = accepted_copies(session, reader, names)
    return (
        *(
            Finding(f"stale-{paper.word}", paper.told, of=paper.stations[0])
            for paper in stale
            if paper.event != "run"  # this page, or others that no program of it rests on
        ),
        *(Finding("accepted", each.text, of=each.station) for each in accepted),
    )


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


def _without_block(stations: Sequence[tuple[Setup, ...]]) -> list[Finding]:
    """Nests whose setup block is refused."""
    return [
        Finding("no-block", f"NO BLOCK for {setup.name}: {reason.text}")
        for setups in stations
        for setup in setups
        for reason in setup.stopped
    ]


def _too_few_jigs(stations: Sequence[tuple[Setup, ...]]) -> list[Finding]:
    return [
        Finding(
            "jig-short",
            f"stations {', '.join(each.stations)} want {len(each.stations)} of jig {each.jig}, and "
            f"there {'is' if each.copies == 1 else 'are'} only {each.copies}",
        )
        for each in wanted_jigs(setups[0].facts for setups in stations)
        if each.copies is not None
    ]


def _load_s(run: Run, setups: tuple[Setup, ...]) -> float:
    """How long a station takes to load. Raises BadInput where nothing says it."""
    station = setups[0].facts.station
    load = run.load if station.load is None else station.load
    if load is None or load <= 0:
        raise BadInput(
            f"run {run.name}: how long station {station.name} takes to load is not given; say "
            "load: 90 s in the run or the station"
        )
    return load


def _unfit(gathered: Gathered) -> Iterator[Finding]:
    """Programs that must not run as they are where the run has them, with windows or without."""
    for read in gathered.read.values():
        yield from (Finding("program-unfit", text) for text in read.unfit)


def _of_cycles(gathered: Gathered) -> Iterator[Finding]:
    """Measured times that are less than lengths and feeds allow, or far more."""
    override = gathered.situation.terms.override
    for station in gathered.situation.stations.values():
        for sitting in station.sittings:
            cycle_s, feed_s = sitting.cycle_s, sitting.feed_s
            if cycle_s is None or feed_s <= 0:
                continue
            if sitting.is_refuted(override) or cycle_s > CYCLE_AT_MOST * feed_s:
                text = (
                    f"{sitting.called}: {sitting.file} takes {clock(cycle_s)} as measured, and "
                    f"its lengths and feeds come to {clock(feed_s)}: is it the same program, at "
                    "the same feeds?"
                )
                yield Finding("cycle-differs", text)


def _above_stations(gathered: Gathered) -> Iterator[Finding]:
    """Programs that leave the spindle above a jig of the run, its own or another's."""
    unit = gathered.stations[0][0].facts.machine.units
    for station in gathered.situation.stations.values():
        last = station.sittings[-1]
        if last.is_lost:
            continue
        for setups in gathered.stations:
            to_bed, outline = setups[0].bed_in_machine.inverse(), setups[0].footprint_in_bed()
            ends = ((place, to_bed.point(place.middle)) for place in last.ends_at)
            above = next((each for each in ends if distance_to(outline, each[1]) == 0), None)
            if above is None:
                continue
            (place, at), tip_mm = above, gathered.read[station.name].tip_mm
            name, how_high = _name(setups), ""
            if tip_mm is not None and name == station.name and place == last.place:
                how_high = f", tip {told_size(tip_mm, unit)} over the stock"
            text = f"{last.file} ends above {name}{how_high}: move it away first"
            figure_mm = tip_mm if how_high else None
            yield Finding("ends-over-station", text, figure_mm, at, of=station.name)


def _assumed(gathered: Gathered) -> Iterator[str]:
    """What the run does not state, and what was taken for it."""
    run, stations = gathered.run, gathered.stations
    unit = stations[0][0].facts.machine.units
    for each in wanted_jigs(setups[0].facts for setups in stations):
        if each.copies is None:
            many = f"{len(each.stations)} of jig {each.jig}"
            yield f"that there are {many}: its document says no copies"
    terms = gathered.situation.terms
    taken = (
        (run.reach, f"reach around a jig not given: {told_gap(gathered.reach_mm, unit)} taken"),
        (run.least_gap, f"least gap of a window not given: {told_gap(terms.least_gap_mm, unit)} "
         "taken"),
        (run.leave, f"time to be away before a motion not given: {terms.leave_s:g} s taken"),
        (run.override, "largest feed override not given: 100 % taken; at more every window is "
         "shorter"),
    )  # fmt: skip
    yield from (text for stated, text in taken if stated is None)
    if len(stations) > MOST_OF_TWO:
        yield "that stations are loaded in the order of work: no other was tried"
    elif len(stations) > MOST_FREE:
        yield "that each load is of one of the two stations worked next: no others were tried"
    for name, found in gathered.read.items():
        for sitting in found.sittings:
            if sitting.skipped is not None:
                yield (
                    f"{sitting.file}: lines behind / may run or not: of both the lesser window "
                    "counts, times are with them"
                )
        if len(found.sittings) > 1:
            yield f"{name}: its programs run {len(found.sittings)} times, once for each nest"
    uncounted = [
        n for n, found in gathered.read.items() if any(s.cycle_s is None for s in found.sittings)
    ]
    if uncounted:
        yield f"{', '.join(uncounted)}: cutting time from feeds and lengths, a lower bound"


def _not_given(gathered: Gathered) -> Iterator[str]:
    """What is not on file, and what is lost by that."""
    setup = gathered.stations[0][0]
    machine, run = setup.facts.machine, gathered.run
    yield from (each[0].unheld for each in gathered.stations if each[0].unheld)
    _, missing = moving_of(machine)
    if missing:
        yield f"{', '.join(missing)} of machine {machine.name}: so there are no windows"
    if machine.operator is None:
        without = [
            _name(each) for each in gathered.stations if each[0].facts.station.access is None
        ]
        if without:
            yield (
                f"where people stand (operator of machine {machine.name}), or access of "
                f"{', '.join(without)}: strips to all four sides of the bed count as reached into"
            )
    changes = any(
        span.what == "change" for each in gathered.read.values() for s in each.sittings
        for span in s.spans
    )  # fmt: skip
    if machine.park is None and changes:
        yield (
            f"park of machine {machine.name}, where M6 takes the spindle: it counts as anywhere, "
            "so every window ends hard before a tool change"
        )
    for word in dict.fromkeys(word for each in gathered.read.values() for word in each.homes):
        yield (
            f"home of machine {machine.name}: {word} goes anywhere in the travel, and windows end "
            f"there; say home: {{{word.lower()}: [x, y, z]}}"
        )
    if machine.rapid is None:
        yield f"rapid of machine {machine.name}: rapids take no time in the timeline"
    if run.start is None:
        yield "start of the run: the operator's starts take no time in the timeline"
    if run.tool_change is None and changes:
        yield "tool_change of the run: tool changes take no time in the timeline"
