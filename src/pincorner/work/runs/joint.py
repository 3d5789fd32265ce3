"""Stations that are worked by one file written by `repeat`: its sections as sittings.

Each section is read in its own station's frame. The M0 in front of it, at which the operator is
asked, is its start.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pincorner.program.check.checks import line_ends
from pincorner.program.edit.lines import Numbering, section_lines
from pincorner.program.path.frames import frame_of, read_summary
from pincorner.program.reader.declared import declared_in
from pincorner.program.reader.reading import Reading
from pincorner.program.source.stamped import (
    LONGEST_BLOCK,
    JointSection,
    find_block,
    sections_in,
)
from pincorner.program.source.text import ProgramText, read_program
from pincorner.registry.reader import Row
from pincorner.render.blocks.guards import letters
from pincorner.runs.entering import Stocks
from pincorner.runs.spans import Span, SpanReader
from pincorner.runs.windows import Sitting
from pincorner.setups.setup import Setup, written_in_machine
from pincorner.work.programs.checking import Job, Stretch, check, known_in_copy
from pincorner.work.programs.repeating import body_of, code_in_section, mended
from pincorner.work.session import Session


class Joint:
    """The newest file of `repeat` that works the stations of a run, in their order."""

    def __init__(
        self, session: Session, papers: Iterable[Row], stations: Sequence[Sequence[Setup]]
    ) -> None:
        self.file, self._text = "", None
        self._sections: list[JointSection] = []
        every = [setup for setups in stations for setup in setups]
        wanted = [letters(setup.name) for setup in every]
        self._nests = [(each.facts.station.name, each.nest.name) for each in every]
        self._is_in_order = False
        for path in dict.fromkeys(p["path"] for p in papers if p["event"] == "repeat"):
            text = read_program(session.shop / path)
            sections = sections_in(text)
            there = [letters(each.name) for each in sections]
            is_so = wanted in (there, list(dict.fromkeys(there)))
            if is_so or (not self._is_in_order and set(there) >= set(wanted)):
                self.file, self._text, self._sections = path, text, sections
                self._is_in_order = is_so

    def sitting(self, setup: Setup, sitting: Sitting, job: Job | None, fine_mm: float) -> Sitting:
        """What a nest's sitting is in the joint file; with the reason where it has no windows.

        `job`: the program that the file repeats, at the nest; None where it is not there.
        """
        if self._text is None:
            return sitting._replace(why_not="no file of repeat that is there works these stations")
        if not self._is_in_order:
            works = ", ".join(dict.fromkeys(each.name for each in self._sections))
            why = f"{self.file} works {works}, not the run's stations in their order"
            return sitting._replace(file=self.file, why_not=f"{why}: repeat it again")
        if len(self._sections) > len(self._nests):
            why = f"{self.file} works its stations tool by tool"
            return sitting._replace(file=self.file, why_not=why)
        at = self._nests.index((setup.facts.station.name, setup.nest.name))
        section = self._sections[at]
        numbering = None if job is None else self._numbering(section, job)
        known = () if job is None or numbering is None else known_in_copy(job.known, numbering)
        found, asks = self._read(setup, section, known, fine_mm, job)
        why = _why_not(self.file, section, job, is_held=numbering is not None)
        if at and not asks and not why:
            why = f"{self.file} goes on to it without asking"
        if not why and (odd := next(line_ends(self._text), None)) is not None:
            why = f"{self.file}: {odd.text}"
        if found.may_be_skipped and not why:
            why = f"{self.file} has lines behind / that the controller may leave out"
        spans = tuple(found.spans)
        return sitting._replace(
            file=self.file, spans=spans, place=found.place, cut_place=found.cut_place,
            ended=(section.last, ""), why_not=why, skipped=None,
        )  # fmt: skip

    def _numbering(self, section: JointSection, job: Job) -> Numbering | None:
        """Which line of the program each line of a section is; None where the section does not
        hold the program as it is now."""
        source, setup = job.text, job.setup
        body = body_of(source, read_summary(source, setup, job.nests))
        code, span = code_in_section(setup), (body.first, body.last)
        wanted = [
            (number, line.rstrip("\r\n"))
            for number, line in section_lines(source, body, code, span)
        ]
        lines = [line for _, line in wanted]
        data = [line.rstrip("\r\n") for line in self._alone(section).lines()]
        for end in range(len(data) - 4, len(data)):
            begin = max(end - len(lines), 0)
            if data[begin:end] == lines:
                found = Numbering()
                for copy, (number, _) in enumerate(wanted, begin + 1):
                    found.add(copy, number)
                return found
        return None

    def _read(
        self,
        setup: Setup,
        section: JointSection,
        known: Sequence[Stretch],
        fine_mm: float,
        job: Job | None,
    ) -> tuple[SpanReader, bool]:
        """A section's spans, without the M0 that asks; whether it has one."""
        text = self._alone(section)
        block = find_block(text.lines(), LONGEST_BLOCK)
        lines = None if block is None else block.span
        not_read = tuple((each.first, each.last) for each in known)
        reading = Reading(frame_of(setup), block_lines=lines, declared=declared_in(text, not_read))
        machine = setup.facts.machine
        stocks = Stocks.of(setup, [setup], setup.program if job is None else job.program)
        found = SpanReader(
            written_in_machine(setup), machine.beam, fine_mm, text, stocks,
            [first for first, _ in not_read],
        )  # fmt: skip
        for motions in reading.motions(text):
            found.take(motions, reading.summary)
        found.end(reading.summary)
        first = next((i for i, s in enumerate(found.spans) if s.what == "cutting"), 0)
        asked = [i for i, s in enumerate(found.spans[:first]) if s.word == "M0"]
        spans: list[Span] = list(found.spans)
        if asked:
            del spans[asked[0]]
        found.spans = spans
        return found, bool(asked)

    def _alone(self, section: JointSection) -> ProgramText:
        """The section's lines at their places in an otherwise empty file."""
        assert self._text is not None
        lines = self._text.data.splitlines(keepends=True)[section.first - 1 : section.last]
        return ProgramText(self._text.path, b"\n" * (section.first - 1) + b"".join(lines))


def _why_not(file: str, section: JointSection, job: Job | None, *, is_held: bool) -> str:
    """Why a section is not the one that would be written now, or has findings.

    `is_held`: whether it holds the program as it is now.
    """
    if job is None:
        return "its program's file is not there"
    setup, name = job.setup, job.path.name
    if not setup.has_fingerprint(section.fingerprint):
        was = f"{file} holds setup {section.fingerprint} of {setup.name}"
        return f"{was}, and it is {setup.fingerprint} now: repeat it again"
    if not is_held:
        return f"{file} does not hold {name} as it is now: repeat it again"
    findings = [f for f in check(job, {}, None, _told).report.findings if not mended(f)]
    return f"check of {name} finds: {findings[0].text}" if findings else ""


def _told(_bytes: int) -> None:
    """Reading is not shown byte by byte."""
