"""stamp: a copy of a program with the setup block in place, checked, recorded."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from pincorner.errors import BadInput, Refused
from pincorner.program.check.result import CheckFinding, Report
from pincorner.program.edit.leaning import LineSpan
from pincorner.program.edit.lines import (
    Edits,
    Numbering,
    rotation_off_line,
    rotation_off_of,
    stamped,
    wait_line,
)
from pincorner.program.edit.refusals import refuse_hidden, refuse_line_ends
from pincorner.program.edit.waits import refuse_wait
from pincorner.program.path.frames import read_summary
from pincorner.program.reader.summary import Summary
from pincorner.program.source.lexer import acting_text
from pincorner.program.source.stamped import MadeOf, StampedBlock, block_of, in_block
from pincorner.program.source.text import bytes_of, read_program
from pincorner.render.blocks.block import nests_written, render_block
from pincorner.render.blocks.guards import comment_lines
from pincorner.render.text.programs import Change
from pincorner.setups.setup import Setup
from pincorner.units import Unit
from pincorner.work.files.outputs import named_as
from pincorner.work.kept.beside import Things, beside_copy, reach_of
from pincorner.work.never_replaced import outputs_of
from pincorner.work.papers import About, writing_papers
from pincorner.work.programs.checking import Job, check, known_in_copy, program_read
from pincorner.work.session import Session


class Stamped(NamedTuple):
    """A copy that was written, every change in it, what was found.

    Lines are those of the program, not of its copy.
    """

    path: Path
    setup: Setup
    changed: tuple[Change, ...]
    findings: tuple[CheckFinding, ...]
    report: Report


def stamp(
    session: Session,
    job: Job,
    output: Path,
    *,
    codes: Mapping[str, str],
    accept: Collection[str],
    diameters_mm: Mapping[int, float],
    force: bool,
    told: Callable[[int], None],
    wait_before: int | None = None,
) -> Stamped:
    """Write a copy of the program with the station's block in it, and record it.

    `codes`: work offsets of the program and what they become; `accept`: codes of findings that do
    not keep it back. `wait_before`: the line before which an M0 is put in. The copy is checked as
    it will run. Raises Refused, FileExists, BadInput.
    """
    outputs = outputs_of(session, force, program_read(job))
    outputs.refuse(output)
    refuse_line_ends(job.text)
    earlier = block_of(job.text)
    replaces = None if earlier is None else earlier.span
    summary = read_summary(job.text, job.setup, job.nests)
    refuse_hidden(job.text, summary, replaces)
    unit = stated_unit(summary, replaces)
    block = render_block(job.nests, job.setup.nest.name, unit).splitlines()
    block = _with_comment(block, job, _source_of(job).comment)
    new = new_codes(summary, replaces, job, codes)
    edits = Edits(tuple(block), replaces, new, *_rotation_off(job, summary, replaces))
    if wait_before is not None:
        refuse_wait(job.text, job.setup, job.nests, wait_before, job.known_lines)
        wait = wait_line(job.setup.facts.dialect.comment)
        edits = edits._replace(wait_before=wait_before, wait=wait)
    written = nests_written(job.nests, job.setup.nest.name)
    with writing_papers(session, outputs) as papers:
        numbering = Numbering()
        lines = stamped(job.text.lines(), edits, numbering)
        staged = papers.add_pieces(output, bytes_of(lines), "stamp", written)
        with named_as(staged, output):
            known = known_in_copy(job.known, numbering)
            copy = job._replace(text=read_program(staged), known=known, changed=(), copied=())
            report = check(copy, diameters_mm, None, told, told_as=numbering.in_program).report
        findings = report.findings
        what = f"{output.name} was not written"
        accepted = refuse_findings(findings, accept, what, session.why)
        if accepted:
            block = _with_comment(block, job, accepted_comment(accepted, session.why))
            edits = edits._replace(block=tuple(block))
            again = stamped(job.text.lines(), edits)
            papers.again(output, bytes_of(again))
        about = _about(job, written, report, codes, diameters_mm, wait_before)
        papers.keep(output, about._replace(accepted=[(f.code, f.text) for f in accepted]))
    changed = tuple(_changes(job, summary, earlier, edits))
    return Stamped(output, job.setup, changed, findings, report._replace(program=output.name))


def _with_comment(block: Sequence[str], job: Job, text: str) -> list[str]:
    """A block's lines with one more comment, behind those at its head."""
    dialect = job.setup.facts.dialect
    at = next((at for at, line in enumerate(block) if acting_text(line)), len(block) - 1)
    style = dialect.comment, dialect.upper_case, dialect.line_length
    return [*block[:at], *comment_lines(text, *style), *block[at:]]


def _source_of(job: Job) -> MadeOf:
    """What a copy is made of; what a copy was made of stays what a copy of it is made of."""
    earlier = block_of(job.text)
    source = None if earlier is None else earlier.made_of
    return source or MadeOf(job.text.path.name, job.text.digest)


def _about(
    job: Job,
    written: Sequence[Setup],
    report: Report,
    codes: Mapping[str, str],
    diameters_mm: Mapping[int, float],
    wait_before: int | None,
) -> About:
    """What is kept with the copy, whose block writes these nests."""
    reach = reach_of(job.setup, job.text, report)
    things = Things(job.setup.facts.bed, [*job.nests, *job.others])
    return About(beside_copy(written, things, reach), options={
        "nest": job.setup.nest.name,
        "codes": dict(codes),
        "tools": {str(number): mm for number, mm in diameters_mm.items()},
        "wait_before": wait_before,
    }, source=job.text)  # fmt: skip


def _changes(
    job: Job, summary: Summary, earlier: StampedBlock | None, edits: Edits
) -> Iterator[Change]:
    """Every line that is put in, taken out or written otherwise, in the program's order."""
    mine = f"{job.setup.name} {job.setup.fingerprint}"
    if earlier is not None:
        was = earlier.called
        yield Change("setup-block", earlier.first, earlier.last, was, mine)
    else:
        first = job.text.first_of_body
        yield Change("setup-block", first, first, None, mine)
    for old, line in summary.selections:
        if line in edits.codes and old != edits.codes[line]:
            yield Change("work-offset", line, line, old, edits.codes[line])
    if edits.wait_before is not None:
        yield Change("wait", edits.wait_before, edits.wait_before, None, edits.wait)
    new, gone = edits.rotation_off or None, edits.rotation_was_off
    if gone is not None:
        was = job.text.line(gone).strip()
        if was != new:
            yield Change("rotation-off", gone, gone, was, new)
    elif new is not None and edits.rotation_off_at is not None:
        yield Change("rotation-off", edits.rotation_off_at, edits.rotation_off_at, None, new)


def refuse_findings(
    findings: Sequence[CheckFinding], accept: Collection[str], what: str, why: str | None = None
) -> tuple[CheckFinding, ...]:
    """The findings that are accepted. Raises Refused for others, and BadInput for those that want a
    reason (`why`) and have none."""
    kept = [finding for finding in findings if finding.code not in accept]
    if kept:
        codes = list(dict.fromkeys(finding.code for finding in kept))
        lines = "".join(f"\n! {finding.text} [{finding.code}]" for finding in kept)
        ways = "".join(
            f"\n  --accept {code}{' --note WHY' if wants_a_reason(code) else ''}" for code in codes
        )
        raise Refused(
            kept[0].code,
            f"{what}: check finds what is told below; mend the program, or the station{lines}\n"
            f"To take one as it is, after a look at it:{ways}",
        )
    accepted = tuple(finding for finding in findings if finding.code in accept)
    grave = next((each.code for each in accepted if wants_a_reason(each.code)), None)
    if grave is not None and not why:
        raise BadInput(
            f"{what}: --accept {grave} wants the reason, which stands in the copy: --note WHY"
        )
    return accepted


def wants_a_reason(code: str) -> bool:
    """Whether a finding is accepted with a reason only: a thing may be hit, or the travel left."""
    return code.startswith("hits-") or code == "outside-travel"


def accepted_comment(accepted: Sequence[CheckFinding], why: str | None) -> str:
    """What a copy says of findings that were taken as they are."""
    codes = ", ".join(dict.fromkeys(finding.code for finding in accepted))
    return f"accepted as found {codes}" + (f", because {why}" if why else "")


def stated_unit(summary: Summary, block: LineSpan | None = None) -> Unit | None:
    """The unit that a program states, which blocks of some dialects restore; None where none.

    `block`: lines of an earlier block; the unit that it leaves on counts if the body states none.
    """
    own = [unit for unit, line in summary.units if not in_block(line, block)]
    left_on = [unit for unit, line in summary.units if in_block(line, block)]
    return own[0] if own else left_on[-1] if left_on else None


def new_codes(
    summary: Summary, block: LineSpan | None, job: Job, codes: Mapping[str, str]
) -> dict[int, str]:
    """The work offset that each line which selects one is to select. Raises BadInput.

    Empty where the block has done it and a rotation is on, under which none may be selected.
    """
    selections = [(old, line) for old, line in summary.selections if not in_block(line, block)]
    found = list(dict.fromkeys(old for old, _ in selections))
    own = [each.work_offset for each in job.nests if each.work_offset]
    name = job.setup.facts.station.name
    for old, wanted in codes.items():
        if old not in found:
            there = ", ".join(found) or "none"
            raise BadInput(f"--code {old}: the program does not select it; it selects {there}")
        if wanted not in own:
            raise BadInput(f"--code {old}={wanted}: station {name} has {', '.join(own)}")
    mine = job.setup.work_offset
    unsaid = [old for old in found if old not in codes]
    becomes = {old: mine if mine and len(found) == 1 else old for old in unsaid}
    if not set(own).issuperset(becomes.values()):
        example = " ".join(f"--code {old}={own[0]}" for old in unsaid)
        raise BadInput(
            f"the program selects {', '.join(found)}; say what each becomes at station {name}, "
            f"which has {', '.join(own)}: such as {example}"
        )
    becomes |= codes
    if job.setup.rotates:
        becomes = {old: "" if new == mine else new for old, new in becomes.items()}
    return {line: becomes[old] for old, line in selections}


def _rotation_off(
    job: Job, summary: Summary, block: LineSpan | None
) -> tuple[int | None, str, int | None]:
    """Where a rotation that the block turns on is taken off again, the line that does it, and the
    line that did it for an earlier block.
    """
    end = summary.ended if summary.ended is not None else summary.lines + 1
    gone, dialect = None, job.setup.facts.dialect
    if block is not None:
        gone = rotation_off_of(job.text.lines(), block, end)
    if not job.setup.rotates:
        return None, "", gone
    return end, rotation_off_line(dialect.comment), gone
