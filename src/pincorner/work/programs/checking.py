"""Programs and where they run: finding the file, its tools and everything around a station."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from pincorner.documents.alone import View
from pincorner.documents.fields import key_of
from pincorner.documents.records import Program
from pincorner.documents.stations import Station
from pincorner.errors import BadInput, UnknownName, together
from pincorner.program.check.checks import Watcher, check_program, tools_of
from pincorner.program.check.result import CheckFinding, Report
from pincorner.program.edit.lines import Numbering, numbering_of
from pincorner.program.path.points import PathLines, PathPoints
from pincorner.program.reader.declared import unread_in
from pincorner.program.source.stamped import block_of, repeated_in
from pincorner.program.source.text import ProgramText, read_program
from pincorner.registry.reader import Reader
from pincorner.render.blocks.guards import letters
from pincorner.setups.setup import Setup, bed_in_program, setups_in
from pincorner.setups.transform import make_setups
from pincorner.work.files.outputs import KeptPath, Outputs
from pincorner.work.files.whereabouts import TEMPLATES_FOLDER, drawing_suffix, is_file
from pincorner.work.kept.copies import CopyState, digest_of, states_of_copy
from pincorner.work.session import Library, Session, Source, state_of
from pincorner.work.stale import what_changed, why_not_as_now


class Stretch(NamedTuple):
    """Lines of a text that are not read, since it is known what they do."""

    what: str
    first: int
    last: int


class Job(NamedTuple):
    """A program at a nest of a station, and what stands around it.

    `program`: the document that its file, or the one that it is a copy of, belongs to, for its
    tools; else the station's own, which is `lent` to it.
    `nests`: the setups of all nests of the station; `others`: those of other stations on the bed.
    `known`: stretches of this very text that are not read (`known_in`).
    `changed`: what changed at the nest since the block in it was stamped, in words. `copied`: what
    is no longer so about a stamped copy.
    """

    text: ProgramText
    program: Program | None
    setup: Setup
    nests: list[Setup]
    others: list[Setup]
    known: tuple[Stretch, ...] = ()
    changed: tuple[str, ...] = ()
    copied: tuple[CopyState, ...] = ()
    lent: bool = False

    @property
    def known_lines(self) -> tuple[tuple[int, int], ...]:
        """First and last line of each stretch that is not read."""
        return tuple((each.first, each.last) for each in self.known)

    @property
    def path(self) -> Path:
        """Where the program was read."""
        return self.text.path


def program_read(job: Job) -> list[KeptPath]:
    """The program as an input, which no output of the same command replaces."""
    return [KeptPath(job.path, "the program that is read")]


class Checked(NamedTuple):
    """A report, and the path that was read (empty where it was not asked for)."""

    job: Job
    report: Report
    path: PathLines


class Neighbours:
    """Setups of all stations of a bed, made once for many jobs as long as no document changes."""

    def __init__(self) -> None:
        self._made: dict[tuple[int, str], list[Setup]] = {}

    def beside(self, library: Library, setup: Setup) -> list[Setup]:
        """Setups of the other stations on a station's bed, those that can be located."""
        view, bed = library.reader, key_of(setup.facts.bed.name)
        place = (view.last_change if isinstance(view, Reader) else 0, bed)
        if place not in self._made:
            self._made[place] = setups_in(library.rows(library.stations_on(bed)))
        mine = key_of(setup.facts.station.name)
        return [each for each in self._made[place] if key_of(each.facts.station.name) != mine]


def find_job(
    source: Source,
    program: str,
    station: str,
    nest: str | None,
    neighbours: Neighbours | None = None,
) -> Job:
    """The program (a path, else a program's name) at a station.

    `neighbours`: of the jobs before this one. Raises UnknownName, Refused, BadInput.
    """
    [job] = _jobs(source, program, [station], nest, neighbours)
    return job


def find_jobs(
    source: Source,
    program: str,
    stations: Sequence[str],
    nest: str | None = None,
    neighbours: Neighbours | None = None,
) -> list[Job]:
    """One program at every nest of several stations, or at the nest named. Takes and raises what
    `find_job` does."""
    return list(_jobs(source, program, stations, nest, neighbours, every=True))


def _jobs(
    source: Source,
    program: str,
    stations: Sequence[str],
    nest: str | None,
    neighbours: Neighbours | None,
    *,
    every: bool = False,
) -> Iterator[Job]:
    """A job for each station, or for every nest of it; the program is read once."""
    neighbours = neighbours or Neighbours()
    with source.reading() as reader:
        library = Library(reader)
        found, (text, document) = together(
            lambda: library.get_every(Station, stations),
            lambda: _find(source.shop, reader, program),
        )
        own = document or copied_from(source.shop, reader, text)
        for station in found:
            nests = make_setups(library.facts(station))
            others = neighbours.beside(library, nests[0])
            for setup in _wanted(nests, nest, document, every=every):
                changed = _changed(reader, text, setup)
                copied = states_of_copy(reader, source.shop, text, setup)
                of = own or setup.program
                known = known_in(source.shop, text, of)
                lent = own is None and of is not None
                yield Job(text, of, setup, nests, others, known, changed, copied, lent)


def _changed(view: View, text: ProgramText, setup: Setup) -> tuple[str, ...]:
    """What changed at a nest since the block in a program was stamped."""
    block = block_of(text)
    if block is None or setup.has_fingerprint(block.fingerprint):
        return ()
    return tuple(what_changed(view, setup, block.fingerprint))


def known_in(shop: Path, text: ProgramText, program: Program | None) -> tuple[Stretch, ...]:
    """What a program's document declares as known, where it stands in a text: in the program's own
    file, or in a stamped copy of it as it is now. Of any other text nothing is. Raises BadInput."""
    if program is None or not program.known:
        return ()
    path = shop / program.file
    known = tuple(Stretch(each.what, *each.lines) for each in program.known)
    if path.resolve() == text.path.resolve():
        return known
    block = block_of(text)
    if block is None or not is_file(path):
        return ()
    numbering = numbering_of(read_program(path), text)
    return () if numbering is None else known_in_copy(known, numbering)


def known_in_copy(known: Iterable[Stretch], numbering: Numbering) -> tuple[Stretch, ...]:
    """Stretches of a program where they stand in its copy."""
    return tuple(
        Stretch(each.what, *lines)
        for each in known
        for lines in numbering.in_copy(each.first, each.last)
    )


def _wanted(
    nests: Sequence[Setup], nest: str | None, document: Program | None, *, every: bool
) -> list[Setup]:
    """The nest named; else those that the program belongs to, else all; of these every one or the
    first. Raises UnknownName."""
    if nest is not None:
        wanted = nests[0].facts.nest(nest)
        return [each for each in nests if each.nest.name == wanted.name]
    name = None if document is None else key_of(document.name)
    own = [each for each in nests if each.program and key_of(each.program.name) == name]
    return (own or list(nests))[: None if every else 1]


def _find(shop: Path, view: View, program: str) -> tuple[ProgramText, Program | None]:
    """The program's text, and the document it belongs to. Raises UnknownName, BadInput."""
    path, document = _named(shop, view, program)
    text = read_program(path)
    repeats = repeated_in(text)
    if repeats is not None:
        made_of = f"it was made of, {repeats}," if repeats else "it was made of"
        raise BadInput(
            f"{path.name} was written by repeat and holds the blocks of several stations; take "
            f"the program {made_of} at each of them (pincorner status tells when a repeat goes "
            "stale)"
        )
    return text, document


def copied_from(shop: Path, view: View, text: ProgramText) -> Program | None:
    """The program on file that a text is a copy of, as its block says; of several whose files are
    called so the one whose file it was made of. None where it is none of them."""
    block = block_of(text)
    if block is None or block.made_of is None:
        return None
    name, digest = letters(block.made_of.name), block.made_of.digest
    found = [each for each in view.all(Program) if letters(Path(each.file).name) == name]
    files = [each for each in found if is_file(shop / each.file)] if len(found) > 1 else []
    same = (each for each in files if digest_of(shop / each.file).startswith(digest))
    return next(same, found[0] if found else None)


def _named(shop: Path, view: View, program: str) -> tuple[Path, Program | None]:
    documents = view.all(Program)
    path = Path(program)
    if is_file(path):
        full = path.resolve()
        return path, next((d for d in documents if (shop / d.file).resolve() == full), None)
    named = next((d for d in documents if key_of(d.name) == key_of(program)), None)
    if named is None:
        if path.suffix or len(path.parts) > 1:
            raise BadInput(f"{program} is not there; name a program file, or a program on file")
        raise UnknownName("program", program, [each.name for each in documents])
    path = shop / named.file
    if not is_file(path):
        raise BadInput(
            f"the file of program {named.name}, {named.file}, is not there; post it to the shop "
            "folder, or change file in its document"
        )
    return path, named


def check(
    job: Job,
    diameters_mm: Mapping[int, float],
    margin_mm: float | None,
    told: Callable[[int], None],
    *,
    told_as: Callable[[int], int] | None = None,
    draws: bool = False,
    watcher: Watcher | None = None,
    skipped_watcher: Watcher | None = None,
) -> Checked:
    """Read the program against the station, and tell its lines as `told_as` numbers them.

    `watcher` sees its motions too, `skipped_watcher` those without the lines that begin with `/`.
    Raises BadInput.
    """
    drawn = PathPoints() if draws else None
    report = check_program(
        job.text,
        job.setup,
        job.others,
        tools_of(job.program, diameters_mm),
        margin_mm,
        known=job.known_lines,
        told_as=told_as,
        progress=told,
        drawn=drawn,
        watcher=watcher,
        skipped_watcher=skipped_watcher,
    )
    report = _with_block_checked(_with_reasons(report, job), job)
    notes = (*_lent_told(job, report), *_known_told(job, told_as or int))
    report = report._replace(not_checked=(*report.not_checked, *notes))
    path = PathLines((), ()) if drawn is None else drawn.lines(bed_in_program(job.setup).inverse())
    return Checked(job, report, path)


def _lent_told(job: Job, report: Report) -> Iterator[str]:
    """That tools are those of a program whose file is another one."""
    program = job.program
    used = {str(use.number) for use in report.tools if use.number is not None}
    if job.lent and program is not None and (lent := used & program.tools.keys()):
        which = ", ".join(sorted(lent, key=int))
        yield (
            f"which cutter is tool {which}: as in program {program.name}, whose file is "
            f"{program.file} and not this one"
        )


def _known_told(job: Job, number: Callable[[int], int]) -> Iterator[str]:
    """Stretches that are taken as known, and what that takes for granted of their macros."""
    for known in job.known:
        lines = f"lines {number(known.first)} to {number(known.last)}, {known.what}"
        yield f"{lines}: taken as known"
        harmless = job.setup.facts.dialect.harmless
        if unread := unread_in(job.text, (known.first, known.last), harmless):
            words = ", ".join(unread)
            yield f"{lines}: that {words} there leave modes, offsets and tool as they are"


def _with_reasons(report: Report, job: Job) -> Report:
    """A stamped block that is not the one of now is told with what changed since."""
    if not job.changed and not job.copied:
        return report
    block = block_of(job.text)
    line = block.first if block is not None else 1
    findings = [
        each._replace(what=f"{each.what} ({'; '.join(job.changed)})")
        if each.code == "offset-stale" and job.changed
        else each
        for each in report.findings
    ]
    for state in job.copied:
        findings.append(CheckFinding(state.code, line, f"{state.text}: stamp the program again"))
    return _with_findings(report, findings)


def _with_findings(report: Report, findings: Iterable[CheckFinding]) -> Report:
    found = tuple(sorted(findings, key=lambda each: (each.line, each.code)))
    verdict = "findings" if report.verdict == "nothing-found" and found else report.verdict
    return report._replace(findings=found, verdict=verdict)


def _with_block_checked(report: Report, job: Job) -> Report:
    """A stamped block with the fingerprint of now holds the words of now, or is told."""
    block = block_of(job.text)
    if block is None or not job.setup.has_fingerprint(block.fingerprint):
        return report
    reason = why_not_as_now(block, job.nests, job.setup.nest.name)
    if reason is None:
        return report
    finding = CheckFinding("offset-stale", block.first, f"{reason}: stamp the program again")
    return _with_findings(report, (*report.findings, finding))


def draw_check(session: Session, checked: Checked, path: Path, outputs: Outputs) -> None:
    """The path over the bed with the findings marked, as .svg or .html.

    Raises FileExists, BadInput.
    """
    from pincorner.render.pages.path_map import render_path_page, render_path_svg

    suffix = drawing_suffix(path)
    job = checked.job
    if suffix == ".svg":
        text = render_path_svg(job.setup, job.others, checked.report, checked.path)
    else:
        overrides = session.shop / TEMPLATES_FOLDER
        with session.reading() as reader:
            state = state_of(reader)
        text = render_path_page(
            job.setup, job.others, checked.report, checked.path, overrides, state
        )
    outputs.write(path, text.encode("utf-8"))
