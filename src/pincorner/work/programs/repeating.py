"""repeat: one program that makes the part at each station in turn."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from pincorner.documents.fields import key_of
from pincorner.errors import BadInput, Refused, UnknownName
from pincorner.program.check.checks import tools_of
from pincorner.program.check.result import CheckFinding, Report, foremost_first
from pincorner.program.edit.lines import Body, Section, repeated
from pincorner.program.edit.refusals import (
    refuse_body,
    refuse_leaning,
    refuse_line_ends,
    refuse_stations,
    spans_by_tool,
)
from pincorner.program.edit.stretches import Copy, Ends, Stretches
from pincorner.program.edit.traverse import Visit, check_traverses
from pincorner.program.path.frames import read_summary
from pincorner.program.reader.summary import Summary
from pincorner.program.source.lexer import acting_text, sieve, values_of
from pincorner.program.source.stamped import MadeOf, block_of, in_block
from pincorner.program.source.text import ProgramText, bytes_of
from pincorner.render.blocks.block import nests_written
from pincorner.render.blocks.joints import Stop, closing_lines, joint_lines, opening_lines
from pincorner.setups.setup import Setup
from pincorner.work.kept.beside import Things, beside_copy
from pincorner.work.never_replaced import outputs_of
from pincorner.work.papers import About, writing_papers
from pincorner.work.programs.checking import Job, check, program_read
from pincorner.work.programs.stamping import accepted_comment, refuse_findings, stated_unit
from pincorner.work.session import Session


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


def mended(finding: CheckFinding) -> bool:
    """Whether the sections' own blocks, selections and ends mend what was found."""
    return finding.goes_with_stamping or finding.code == "copy-edited"


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
    text = jobs[0].text
    outputs = outputs_of(session, force, program_read(jobs[0]))
    outputs.refuse(output)
    refuse_stations([job.setup for job in jobs], how.retract_mm)
    refuse_line_ends(text)
    summary = read_summary(text, jobs[0].setup, jobs[0].nests)
    body = body_of(text, summary)
    refuse_body(text, summary, body, [job.setup for job in jobs])
    restated = _restated(text, jobs[0].setup.facts.dialect.first)
    copies = [_copy(job, body, summary, restated, how) for job in jobs]
    by_tool = how.by_tool
    spans = spans_by_tool(summary, copies[0]) if by_tool else [(body.first, body.last)]
    refuse_leaning(copies[0], spans)
    todo = _from(jobs, how.begin)
    findings, notes = _checked(todo, how, told)
    what = f"{output.name} was not written"
    accepted = refuse_findings(findings, how.accept, what, session.why)
    remaining = list(zip(jobs, copies, strict=True))[len(jobs) - len(todo) :]
    ends = {copy.setup.name: _ends(copy, spans) for _, copy in remaining}
    plan = [
        Planned(job, span, ends[copy.setup.name][at], copy.code)
        for at, span in enumerate(spans)
        for job, copy in remaining
    ]
    notes += check_traverses(
        [Visit(each.job.setup, each.ends) for each in plan],
        jobs[0].others,
        how.retract_mm,
        _largest_tool(jobs[0], how),
    )
    sections = list(_sections(plan, len(jobs) - len(todo), summary, body, restated, how))
    with writing_papers(session, outputs) as papers:
        said = [MadeOf(text.path.name, text.digest).comment]
        said += [accepted_comment(accepted, session.why)] if accepted else []
        opening = opening_lines(text.path.stem, [job.setup for job in todo], said)
        lines = repeated(text, body, opening, sections)
        written = _written(todo)
        papers.add_pieces(output, bytes_of(lines), "repeat", written)
        told_of = [(finding.code, finding.text) for finding in accepted]
        papers.keep(output, _about(jobs, written, how)._replace(accepted=told_of))
    return Repeated(
        output,
        tuple(each.job.setup for each in plan),
        tuple(findings),
        tuple(dict.fromkeys(notes)),
    )


def _written(todo: Sequence[Job]) -> list[Setup]:
    """The nests whose offsets its blocks write, each once."""
    blocks = (nests_written(job.nests, job.setup.nest.name) for job in todo)
    return list({each.name: each for nests in blocks for each in nests}.values())


def _about(jobs: Sequence[Job], written: Sequence[Setup], how: Repeat) -> About:
    """What is kept with it; it passes over everything, so all that stands on the bed counts, with
    stations that are done."""
    nests = list({each.name: each for job in jobs for each in job.nests}.values())
    things = Things(jobs[0].setup.facts.bed, [*nests, *jobs[0].others])
    return About(beside_copy(written, things, None), options={
        "stations": list(dict.fromkeys(job.setup.facts.station.name for job in jobs)),
        "nests": [[job.setup.facts.station.name, job.setup.nest.name] for job in jobs],
        "retract_mm": how.retract_mm,
        "by_tool": how.by_tool,
        "begin": how.begin,
        "asks": how.asks,
        "tools": {str(number): mm for number, mm in how.diameters_mm.items()},
    }, source=jobs[0].text)  # fmt: skip


class Planned(NamedTuple):
    """A section to be written: a job's turn with a span of the body, and the work offset there."""

    job: Job
    span: tuple[int, int]
    ends: Ends
    code: str


def body_of(text: ProgramText, summary: Summary) -> Body:
    """The part of a program that every section carries; an earlier block in it is left out.

    Raises BadInput for a block that begins and does not end.
    """
    found = block_of(text)
    block = None if found is None else found.span
    selections = {line: old for old, line in summary.selections if not in_block(line, block)}
    end = summary.ended if summary.ended is not None else summary.lines
    return Body(text.first_of_body, end, selections, block)


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
            finding._replace(station=name) for finding in report.findings if not mended(finding)
        ]
        notes += report.not_checked
    return findings, list(foremost_first(notes))


def _refuse_unnamed_tool(report: Report) -> None:
    """Of a body that moves sideways before it names a tool: the last one would be in there."""
    unnamed = any(use.number is None and use.extent.x is not None for use in report.tools)
    if unnamed and len(report.tools) > 1:
        raise Refused(
            "tool-unnamed",
            f"{report.program} cannot be repeated: it moves before it names its first tool, and at "
            "the next station the last one would be in the spindle; begin with T and M6",
        )


_LEFT_ON = {
    **dict.fromkeys((18, 19), "G17"),
    **dict.fromkeys((41, 42), "G40"),
    **{43: "G49", 68: "G69", 98: "G98", 99: "G98"},
    **dict.fromkeys((93, 95), "G94"),
}
"""G words that a body may leave on, and what takes them back (RS274/NGC, Table 4).

G98 is stated again for a body that states it: which of the two begins is not said (3.5.20).
"""


def _restated(text: ProgramText, first: Sequence[str]) -> tuple[str, ...]:
    """Words that take back modes which the program turns on anywhere.

    `first`: the words that a section states in any case; a plane among them stays.
    """
    sieves = (sieve("G", _LEFT_ON), sieve("M", (49,)))
    lines = (line for each in sieves for line in text.lines_with(each))
    used = {(letter, int(value)) for line in lines for letter, value in values_of(line)}
    undone = [word for left, word in _LEFT_ON.items() if ("G", left) in used]
    if not {"G17", "G18", "G19"}.isdisjoint(first):
        undone = [word for word in undone if word != "G17"]
    overrides = ["M48"] if ("M", 49) in used else []
    return (*overrides, *dict.fromkeys(word for word in undone if word not in first))


def _copy(job: Job, body: Body, summary: Summary, restated: tuple[str, ...], how: Repeat) -> Copy:
    """The program as the sections of a job's station carry it. Raises Refused."""
    stop = Stop(1, 1, False, restated)
    unit = stated_unit(summary, body.skipped)
    joint = joint_lines(job.nests, job.setup.nest.name, stop, how.retract_mm, None, unit)
    start = tuple(line for line in joint if acting_text(line))
    return Copy(job.text, body, job.setup, code_in_section(job.setup), start)


def code_in_section(setup: Setup) -> str:
    """The work offset that a section selects where the program selects its own; empty under a
    rotation, under which none may be selected: its block has done it."""
    return "" if setup.rotates else setup.work_offset or ""


def _ends(copy: Copy, spans: Sequence[tuple[int, int]]) -> list[Ends]:
    stretches = Stretches(copy)
    return [stretches.ends(span) for span in spans]


def _sections(
    plan: Sequence[Planned],
    done: int,
    summary: Summary,
    body: Body,
    restated: tuple[str, ...],
    how: Repeat,
) -> Iterator[Section]:
    """The sections with the lines that lead there; numbers count the `done` sections.

    Between nests of one station nobody loads, and nobody is asked.
    """
    before = ""
    for number, (job, span, ends, code) in enumerate(plan, done + 1):
        unit, name = stated_unit(summary, body.skipped), job.setup.nest.name
        station = job.setup.facts.station.name
        asks = how.asks and number > done + 1 and station != before
        stop = Stop(number, done + len(plan), asks, restated)
        before = station
        yield Section(
            tuple(joint_lines(job.nests, name, stop, how.retract_mm, ends.first, unit)),
            code,
            tuple(closing_lines(job.setup, number)),
            span,
        )


def _largest_tool(job: Job, how: Repeat) -> float:
    sizes = tools_of(job.program, how.diameters_mm).values()
    return max((size.diameter_mm or 0.0 for size in sizes), default=0.0)


def refuse_names(stations: Sequence[str]) -> None:
    """Raise BadInput where a station is named twice, or none is."""
    keys = [key_of(name) for name in stations]
    if not stations or "" in keys:
        raise BadInput("--stations: expected names with commas, such as left,spare,right")
    twice = next((name for name in stations if keys.count(key_of(name)) > 1), None)
    if twice is not None:
        raise BadInput(f"--stations: {twice} stands there twice")
