"""What runs at the stations of a run: their files, read once for check and spans."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from pincorner.documents.fields import key_of
from pincorner.documents.records import Program
from pincorner.errors import BadInput
from pincorner.geometry.outline import Box, bounds
from pincorner.program.check.result import Report
from pincorner.program.edit.lines import numbering_of
from pincorner.program.source.stamped import StampedBlock, block_of
from pincorner.program.source.text import ProgramText, read_program
from pincorner.registry.reader import Row
from pincorner.render.blocks.guards import letters
from pincorner.runs.entering import Stocks
from pincorner.runs.spans import NOWHERE, SpanReader
from pincorner.runs.windows import Sitting
from pincorner.setups.setup import Setup, written_in_machine
from pincorner.work.programs.checking import Job, Stretch, check, copied_from, known_in
from pincorner.work.runs.joint import Joint
from pincorner.work.session import Session


class Read(NamedTuple):
    """The programs of a station as they run, and what of them is told.

    `homes`: words that send the axis to a place which only the controller knows. `tip_mm`: how high
    the tool stands over the top of the stock at the end, with lines behind `/` or without them,
    whichever is lower; None where that is not known. `unfit`: programs that must not run there as
    they are, each called by where, with why.
    """

    sittings: tuple[Sitting, ...]
    homes: tuple[str, ...]
    tip_mm: float | None
    unfit: tuple[str, ...] = ()


class Stamps:
    """The copies that were stamped, by station and nest."""

    def __init__(self, session: Session, papers: Iterable[Row]) -> None:
        self._shop = session.shop
        self._paths: dict[str, list[str]] = {}
        self._last: tuple[str, list[tuple[str, ProgramText, StampedBlock]]] = ("", [])
        for paper in papers:
            if paper["event"] == "stamp":
                paths = self._paths.setdefault(paper["station_key"], [])
                if paper["path"] not in paths:
                    paths.append(paper["path"])

    def of(self, setup: Setup) -> list[tuple[str, ProgramText, StampedBlock]]:
        """The copies of a nest, as they were named, newest first."""
        key, name = key_of(setup.facts.station.name), letters(setup.name)
        if self._last[0] != key:
            self._last = key, []
            for path in reversed(self._paths.get(key, [])):
                text = read_program(self._shop / path)
                if (block := block_of(text)) is not None:
                    self._last[1].append((path, text, block))
        return [each for each in self._last[1] if letters(each[2].name) == name]


class _Runs(NamedTuple):
    """The file that runs at a nest: its name and text, and why it has no windows, if so."""

    file: str
    text: ProgramText | None
    why_not: str = ""


def programs_read(
    session: Session,
    setups: Sequence[Setup],
    others: Sequence[Setup],
    stamps: Stamps,
    fine_mm: float,
    joint: Joint | None = None,
    *,
    stamped_anew: bool = False,
) -> Read:
    """The programs of a station's nests, in turn. Raises BadInput for a file it cannot read.

    A program that moves under the codes of several nests works all of them at once. `joint`: the
    file of `repeat` that works all stations. `stamped_anew`: as if it were stamped for where it
    runs.
    """
    sittings: list[Sitting] = []
    homes: list[str] = []
    unfit: list[str] = []
    tip_mm = None
    done: set[str] = set()
    for setup in setups:
        if setup.nest.name in done:
            continue
        runs = _file_of(session, setup, stamps if joint is None else None)
        job = None
        if runs.text is not None:
            program = setup.program or _copied(session, runs.text)
            known = known_in(session.shop, runs.text, program)
            job = Job(runs.text, program, setup, list(setups), list(others), known)
        if job is None:
            nests = [setup]
            sittings.append(_unread(setup, runs, len(setups)))
        else:
            reader, without, report = _readings(job, fine_mm)
            nests = [setup] if joint is not None else _worked(setup, setups, report)
            as_checked = _why_not(runs.file, nests, report, stamped_anew)
            why_not = runs.why_not or as_checked
            found = _sitting(nests, runs.file, reader, why_not, len(setups))
            sittings.append(_with_skipped(found, without))
            if as_checked and not runs.why_not and joint is None:  # others are told as stale
                unfit.append(f"{found.called}: {as_checked}")
            homes += [word for word in reader.unknown_homes if word not in homes]
            tip_mm = _tip_over(setup, reader, without)
        if joint is not None:
            sittings[-1] = joint.sitting(setup, sittings[-1], job, fine_mm)
        done |= {each.nest.name for each in nests}
    return Read(tuple(sittings), tuple(homes), tip_mm, tuple(unfit))


def _copied(session: Session, text: ProgramText) -> Program | None:
    """The program of a copy at a station that names none."""
    with session.reading() as reader:
        return copied_from(session.shop, reader, text)


def _told(_bytes: int) -> None:
    """Reading the programs of a run is not shown byte by byte."""


def _readings(job: Job, fine_mm: float) -> tuple[SpanReader, SpanReader | None, Report]:
    """A program's spans; those without the lines that may be skipped, if any; its report."""
    reader, without = _reader_for(job, fine_mm), _reader_for(job, fine_mm)
    checked = check(job, {}, None, _told, watcher=reader, skipped_watcher=without)
    return reader, without if reader.may_be_skipped else None, checked.report


def _with_skipped(sitting: Sitting, without: SpanReader | None) -> Sitting:
    """A sitting with what becomes of it where lines are skipped; no windows where it then stops,
    or changes tools, otherwise."""
    if without is None:
        return sitting
    skipped = sitting._replace(
        spans=tuple(without.spans),
        place=without.place,
        cut_place=without.cut_place,
        ended=without.ended,
    )
    if skipped.attendances == sitting.attendances:
        return sitting._replace(skipped=skipped)
    why = f"{sitting.file} stops, or changes tools, in lines behind / that may be left out"
    return sitting._replace(why_not=sitting.why_not or why)


def _reader_for(job: Job, fine_mm: float) -> SpanReader:
    return SpanReader(
        written_in_machine(job.setup),
        job.setup.facts.machine.beam,
        fine_mm,
        job.text,
        Stocks.of(job.setup, job.nests, job.program),
        [each.first for each in job.known],
    )


def _tip_over(setup: Setup, reader: SpanReader, without: SpanReader | None) -> float | None:
    """How high a program leaves the tool over the stock: `Read.tip_mm`."""
    tips = [each.tip_mm for each in (reader, without) if each is not None]
    known = [tip for tip in tips if tip is not None]
    return min(known) - setup.heights.stock_top_in_program_mm if len(known) == len(tips) else None


def _file_of(session: Session, setup: Setup, stamps: Stamps | None) -> _Runs:
    """The stamped copy of now, else the source, else whatever there is; without `stamps` the
    source alone."""
    program = setup.program
    source = None if program is None else session.shop / Path(program.file)
    text = read_program(source) if source is not None and source.is_file() else None
    copies = [] if stamps is None else stamps.of(setup)
    current = [each for each in copies if setup.has_fingerprint(each[2].fingerprint)]
    for path, copy, _ in current:
        if text is None or numbering_of(text, copy) is not None:
            return _Runs(path, copy)
    if current:
        name = "" if program is None else program.file
        path, copy, _ = current[0]
        return _Runs(path, copy, f"{path} is no copy of {name} as it is now: stamp it again")
    if copies:
        path, copy, block = copies[0]
        why = f"{path} was stamped for setup {block.fingerprint}, and it is {setup.fingerprint} now"
        return _Runs(path, copy, f"{why}: stamp it again")
    if program is None:
        return _Runs("", None, "it names no program")
    if text is None:
        return _Runs(program.file, None, f"{program.file} is not there")
    return _Runs(program.file, text)


def _worked(setup: Setup, setups: Sequence[Setup], report: Report) -> list[Setup]:
    """The nests that a program works: those of it whose codes it moves under, else its own."""
    codes = {code for code, _ in report.work_offsets}
    nests = [e for e in setups if e.work_offset in codes and e.program == setup.program]
    return nests if setup in nests else [setup]


def _why_not(file: str, nests: Sequence[Setup], report: Report, stamped_anew: bool) -> str:
    """Why a program that was read has no windows; `stamped_anew`: once it is."""
    findings = [e for e in report.findings if not (stamped_anew and e.goes_with_stamping)]
    if findings:
        first = findings[0]
        more = len(findings) - 1
        also = f" (and {more} more)" if more else ""
        anew = all(each.goes_with_stamping for each in findings)
        opens = f": {_stamped_for(nests[0])}" if anew else ""
        return f"check of {file} finds: {first.text}{also}{opens}"
    codes = {code for code, _ in report.work_offsets}
    own = nests[0].work_offset
    if codes and own is not None and own not in codes and not stamped_anew:
        return f"{file} moves under {', '.join(sorted(codes))}, not under {own} of {nests[0].name}"
    return ""


def _stamped_for(setup: Setup) -> str:
    """What makes of a nest's program one that runs there."""
    program, station = setup.program, setup.facts.station
    named = "PROGRAM" if program is None else program.name
    nest = f" --nest {setup.nest.name}" if len(setup.facts.holder.nests) > 1 else ""
    return (
        f"stamp it for {station.name} (pincorner stamp {named} --station {station.name}{nest} -o "
        "FILE)"
    )


def _called(setup: Setup, nests: Sequence[str], of: int) -> str:
    """A station, or its nests where it has several."""
    name = setup.facts.station.name
    return name if of == 1 else f"{name} {', '.join(nests)}"


def _unread(setup: Setup, runs: _Runs, of: int) -> Sitting:
    program = setup.program
    nests = (setup.nest.name,)
    return Sitting(
        setup.facts.station.name, _called(setup, nests, of), nests, runs.file, (), NOWHERE, NOWHERE,
        (1, ""), runs.why_not, None if program is None else program.cycle,
    )  # fmt: skip


def _sitting(
    nests: Sequence[Setup], file: str, reader: SpanReader, why_not: str, of: int
) -> Sitting:
    first = nests[0]
    names, program = tuple(each.nest.name for each in nests), first.program
    return Sitting(
        station=first.facts.station.name,
        called=_called(first, names, of),
        nests=names,
        file=file,
        spans=tuple(reader.spans),
        place=reader.place,
        cut_place=reader.cut_place,
        ended=reader.ended,
        why_not=why_not,
        cycle_s=None if program is None else program.cycle,
        touched=_touched(nests),
    )


def read_again(
    sitting: Sitting,
    text: ProgramText,
    nests: Sequence[Setup],
    setups: Sequence[Setup],
    others: Sequence[Setup],
    fine_mm: float,
    known: Sequence[Stretch],
) -> Sitting | None:
    """A sitting of a station that lies elsewhere, its copy stamped anew; None where check finds
    something there.

    `nests`: the setups of the nests that it works, `setups` those of all, where they would lie.
    `known`: stretches of the text that are not read.
    """
    job = Job(text, nests[0].program, nests[0], list(setups), list(others), tuple(known))
    reader, without, report = _readings(job, fine_mm)
    if not all(finding.goes_with_stamping for finding in report.findings):
        return None
    found = _sitting(nests, sitting.file, reader, sitting.why_not, len(setups))
    return _with_skipped(found, without)


def _touched(nests: Sequence[Setup]) -> Box | None:
    """Where tools are touched off: the stock, in machine coordinates."""
    if nests[0].facts.station.z.set != "touch":
        return None
    corners = [
        each.bed_in_machine.point(corner) for each in nests for corner in each.stock_in_bed()
    ]
    return bounds(tuple(corners))


def refuse_untimed(station: str, run: str, sittings: Sequence[Sitting], named: bool) -> None:
    """Raise BadInput where it is not known how long a station's programs cut."""
    for sitting in sittings:
        if sitting.cycle_s is None and sitting.feed_s <= 0:
            what = "say cycle in its program's document"
            if not named:
                what = "it names no program: register it with --program"
            raise BadInput(
                f"run {run}: how long station {station} cuts is not known, from a cycle time or "
                f"from a program that can be read; {what}"
            )
