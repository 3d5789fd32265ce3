"""repeat: one program that makes the part at each station in turn."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from pincorner.documents.fields import key_of
from pincorner.errors import BadInput, Refused, UnknownName
from pincorner.program.checks import tools_of
from pincorner.program.lines import BYTES, opened, words_of
from pincorner.program.repeating import Body, Section, first_of_body, repeated
from pincorner.program.stamped import block_in_file
from pincorner.program.stretches import first_place
from pincorner.program.summary import Summary
from pincorner.program.sweeps import read_summary
from pincorner.render.joints import Stop, closing_lines, joint_lines, opening_lines
from pincorner.setups.checked import CheckFinding, Report
from pincorner.setups.setup import Setup
from pincorner.work.papers import writing_papers
from pincorner.work.programs import Job, check
from pincorner.work.repeat_refusals import refuse_body, refuse_stations, segments_by_tool
from pincorner.work.repeat_traverse import check_traverses
from pincorner.work.session import Session
from pincorner.work.stamping import in_its_unit, refuse_findings, refuse_itself

MENDED = frozenset({"offset-differs", "no-offset", "offset-stale"})
"""Findings that the sections' own blocks and selections mend."""


class Repeat(NamedTuple):
    """How a program is repeated.

    `retract_mm`: machine Z between stations. `by_tool`: all stations with a tool, then with the
    next. `begin`: the station to begin with, the ones before it being done. `asks`: stop before
    each further station until the operator goes on.
    """

    retract_mm: float
    by_tool: bool = False
    begin: str | None = None
    asks: bool = True
    accept: Collection[str] = ()
    diameters_mm: Mapping[int, float] = {}


class Repeated(NamedTuple):
    """A program that was written: its sections in order, what was found, what was not looked at."""

    path: Path
    sections: tuple[Setup, ...]
    findings: tuple[CheckFinding, ...]
    not_checked: tuple[str, ...]


def repeat(
    session: Session,
    jobs: Sequence[Job],
    output: Path,
    how: Repeat,
    force: bool,
    told: Callable[[int], None],
) -> Repeated:
    """Write one program that makes the part at each job's station, and record it.

    All jobs have the same program. Raises Refused, BadInput, FileExists, UnknownName.
    """
    path = jobs[0].path
    refuse_itself(output, path)
    refuse_stations([job.setup for job in jobs], how.retract_mm)
    block = block_in_file(path)
    summary = read_summary(path, jobs[0].setup, jobs[0].nests)
    body = _body(path, summary, None if block is None else (block.first, block.last))
    refuse_body(path, summary, body, [job.setup for job in jobs])
    spans = (
        segments_by_tool(path, summary, body, jobs[0].setup)
        if how.by_tool
        else [(body.first, body.last)]
    )
    todo = _from(jobs, how.begin)
    findings, notes = _checked(todo, how, told)
    refuse_findings(findings, how.accept, f"{output.name} was not written")
    plan = [(job, span) for span in spans for job in todo]
    notes += check_traverses(
        [job.setup for job, _ in plan], jobs[0].others, how.retract_mm, _largest_tool(jobs[0], how)
    )
    sections = list(_sections(plan, jobs, summary, how))
    with writing_papers(session, force) as papers:
        opening = opening_lines(path.stem, [job.setup for job in todo])
        lines = repeated(lambda: _lines(path), body, opening, sections)
        written = [each for job in todo for each in job.nests if each.work_offset]
        papers.add_pieces(output, (line.encode(BYTES) for line in lines), "repeat", written)
    return Repeated(
        output, tuple(job.setup for job, _ in plan), tuple(findings), tuple(dict.fromkeys(notes))
    )


def _lines(path: Path) -> Iterator[str]:
    with opened(path) as file:
        yield from file


def _body(path: Path, summary: Summary, block: tuple[int, int] | None) -> Body:
    first, last = block or (0, -1)
    selections = {line: old for old, line in summary.selections if not first <= line <= last}
    end = summary.ended if summary.ended is not None else summary.lines
    return Body(first_of_body(_lines(path)), end, selections, block)


def _from(jobs: Sequence[Job], begin: str | None) -> list[Job]:
    """The jobs from a station on. Raises UnknownName."""
    if begin is None:
        return list(jobs)
    names = [job.setup.facts.station.name for job in jobs]
    keys = [key_of(name) for name in names]
    if key_of(begin) not in keys:
        raise UnknownName("station of this repeat", begin, names)
    return list(jobs[keys.index(key_of(begin)) :])


def _checked(
    jobs: Sequence[Job], how: Repeat, told: Callable[[int], None]
) -> tuple[list[CheckFinding], list[str]]:
    """What reading the program against every station finds, and what was not looked at."""
    findings: list[CheckFinding] = []
    notes: list[str] = []
    for job in jobs:
        report = check(job, how.diameters_mm, None, told).report
        name = job.setup.facts.station.name
        _refuse_unnamed_tool(report)
        findings += [
            finding._replace(text=f"station {name}: {finding.text}")
            for finding in report.findings
            if finding.code not in MENDED
        ]
        notes += report.not_checked
    return findings, notes


def _refuse_unnamed_tool(report: Report) -> None:
    """Of a body that moves sideways before it names a tool: the last one would be in there."""
    unnamed = any(use.number is None and use.extent.x is not None for use in report.tools)
    if unnamed and len(report.tools) > 1:
        raise Refused(
            "tool-unnamed",
            f"{report.program} cannot be repeated: it moves before it names its first tool, and at "
            "the next station the last one would be in the spindle; begin with T and M6",
        )


_G_WORD = re.compile(r"G\d+")
_LEFT_ON = {"G93": "G94", "G95": "G94", "G99": "G98", "G43": "G49"}
"""Modes that a body may leave on, and what a controller begins with (RS274/NGC, Table 4)."""


def _restated(path: Path) -> tuple[str, ...]:
    """Words that take back modes which the program turns on anywhere."""
    with opened(path) as file:
        used = {word for line in file for word in _G_WORD.findall(words_of(line))}
    return tuple(dict.fromkeys(undone for left, undone in _LEFT_ON.items() if left in used))


def _sections(
    plan: Sequence[tuple[Job, tuple[int, int]]],
    jobs: Sequence[Job],
    summary: Summary,
    how: Repeat,
) -> Iterator[Section]:
    """The sections with the lines that lead there; numbers count the stations already done."""
    done = len(jobs) - len({job.setup.name for job, _ in plan})
    restated = _restated(jobs[0].path)
    for number, (job, span) in enumerate(plan, done + 1):
        nests, name = in_its_unit(job.nests, summary), job.setup.nest.name
        over = first_place(job.path, job.setup, span)
        turns = job.setup.facts.dialect.rotation == "g68"  # then no offset is selected any more
        stop = Stop(number, done + len(plan), how.asks and number > done + 1, restated)
        yield Section(
            tuple(joint_lines(nests, name, stop, how.retract_mm, over)),
            "" if turns else job.setup.work_offset or "",
            tuple(closing_lines(job.setup, number)),
            span,
        )


def _largest_tool(job: Job, how: Repeat) -> float:
    sizes = tools_of(job.program, how.diameters_mm).values()
    return max((size.diameter_mm or 0.0 for size in sizes), default=0.0)


def jobs_of(find: Callable[[str], Job], stations: Sequence[str]) -> list[Job]:
    """A job for each station. Raises BadInput where one stands there twice, or there is none."""
    keys = [key_of(name) for name in stations]
    if not stations or "" in keys:
        raise BadInput("--stations: expected names with commas, such as left,spare,right")
    twice = next((name for name in stations if keys.count(key_of(name)) > 1), None)
    if twice is not None:
        raise BadInput(f"--stations: {twice} stands there twice")
    return [find(name) for name in stations]
