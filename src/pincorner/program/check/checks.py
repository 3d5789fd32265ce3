"""`check`: one program read against one nest of a station."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple, Protocol

import numpy as np

from pincorner.documents.records import Program
from pincorner.geometry.pose import Pose
from pincorner.program.check.clearance import Clearance
from pincorner.program.check.fences import ceiling_of, fences_of
from pincorner.program.check.moves_seen import MovesSeen
from pincorner.program.check.reaches import ToolSize, reaches_of, size_of
from pincorner.program.check.result import CheckFinding, Report, ToolUse, foremost_first
from pincorner.program.check.sentences import (
    ALWAYS,
    Teller,
    in_order,
    looked_at,
    note_on_margin,
    notes_on_changes,
    notes_on_machine,
    notes_on_moves,
    notes_on_tools,
)
from pincorner.program.check.surroundings import Obstacle, run_off_of, surroundings
from pincorner.program.path.boxes import Rapids, boxes_of, sections_of, together
from pincorner.program.path.extents import Extents, extent
from pincorner.program.path.frames import frame_of
from pincorner.program.path.points import PathPoints
from pincorner.program.reader.motions import NO_TOOL, Floats, Frame, Motions
from pincorner.program.reader.reading import reading_of
from pincorner.program.reader.summary import REMARKS_KEPT, ROTATION_UNSTAMPED, Summary
from pincorner.program.source.stamped import StampedBlock, block_of
from pincorner.program.source.text import ProgramText
from pincorner.setups.budget import known as expanded_known
from pincorner.setups.printed import posted_told
from pincorner.setups.setup import Setup, bed_in_program
from pincorner.setups.transform import make_setups, skew_mm
from pincorner.units import Unit, figure, told, told_size

NOT_FINDINGS = frozenset({"may-be-skipped", "retract-unstated"})
"""Remarks of the reader that are told among what is not checked."""


def tools_of(program: Program | None, diameters_mm: Mapping[int, float]) -> dict[int, ToolSize]:
    """The tools on file with a program; diameters given now replace those."""
    on_file = {} if program is None else program.tools
    tools = {int(n): ToolSize(tool.diameter, tool.stickout) for n, tool in on_file.items()}
    for number, diameter_mm in diameters_mm.items():
        tools[number] = tools.get(number, ToolSize())._replace(diameter_mm=diameter_mm)
    return tools


class Watcher(Protocol):
    """Whoever wants the motions as well, so that a program is read once."""

    def take(
        self, motions: Motions, summary: Summary, boxes: tuple[Floats, Floats] | None = None
    ) -> None:
        """A piece of the program, and what is known of it so far.

        `boxes`: lowest and highest X, Y, Z of each motion, (3, n), in the program's frame; None
        where rapids take boxes along a machine's axes that are turned there.
        """

    def end(self, summary: Summary) -> None:
        """There is no more."""


def check_program(
    text: ProgramText,
    setup: Setup,
    others: Sequence[Setup],
    tools: Mapping[int, ToolSize],
    margin_mm: float | None = None,
    *,
    known: tuple[tuple[int, int], ...] = (),
    told_as: Callable[[int], int] | None = None,
    progress: Callable[[int], None] | None = None,
    drawn: PathPoints | None = None,
    watcher: Watcher | None = None,
    skipped_watcher: Watcher | None = None,
) -> Report:
    """Read a program against a nest of a station.

    `others`: setups of the other stations on the bed. `margin_mm`: how near anything may come, by
    default how well the zero is known; where that is not, none counts, and a note says so. `known`:
    lines that are not read (first, last). `told_as`: the number under which a line is told, where
    it is not its own. `progress` is told the bytes read. `drawn` collects the path, `watcher` sees
    the motions, and `skipped_watcher` those without the lines that begin with `/`, where there are
    some; both have the lines' own numbers. Raises BadInput.
    """
    by_budget = margin_mm is None
    told_mm = expanded_known(setup.budget.u95_worst_mm) if margin_mm is None else margin_mm
    asked = _Asked(text, setup, others, tools, told_mm or 0.0, known, told_as)
    run = _read(asked, progress, drawn, watcher)
    found, notes = run.findings, run.notes
    if by_budget and (missing := note_on_margin(setup)):
        notes = (*notes[: len(ALWAYS)], missing, *notes[len(ALWAYS) :])
    if "may-be-skipped" in run.summary.counts:
        skipped = _read(asked, watcher=skipped_watcher, skips=True)
        found, notes = _of_both(found, skipped.findings), (*notes, *skipped.notes)
    summary, check, unit = run.summary, run.check, run.unit
    used = check.extents.tools_in_use()
    return Report(
        program=text.path.name,
        station=setup.facts.station.name,
        nest=setup.nest.name,
        fingerprint=setup.fingerprint,
        unit=unit,
        margin_mm=told_mm,
        verdict=_verdict(found),
        findings=tuple(in_order(found, check.cause())),
        extent=extent(check.extents.all),
        cutting_extent=extent(check.extents.cutting),
        lines=summary.lines,
        units=tuple(dict.fromkeys(unit for unit, _ in summary.units)),
        work_offsets=tuple(
            (summary.codes[code], extent(reached))
            for code, reached in sorted(check.extents.codes.items())
            if summary.codes[code] or "no-offset" in summary.counts
        ),
        tools=tuple(
            ToolUse(
                None if number == NO_TOOL else number,
                size_of(tools, number),
                extent(check.extents.tools[number]),
            )
            for number in used
        ),
        looked_at=looked_at(setup, tools, used),
        not_checked=foremost_first(notes),
    )


class _Asked(NamedTuple):
    """What `check_program` is asked."""

    text: ProgramText
    setup: Setup
    others: Sequence[Setup]
    tools: Mapping[int, ToolSize]
    margin_mm: float
    known: tuple[tuple[int, int], ...]
    told_as: Callable[[int], int] | None


class _Read(NamedTuple):
    """What one reading gave."""

    check: _Check
    summary: Summary
    unit: Unit
    findings: tuple[CheckFinding, ...]
    notes: tuple[str, ...]


def _read(
    asked: _Asked,
    progress: Callable[[int], None] | None = None,
    drawn: PathPoints | None = None,
    watcher: Watcher | None = None,
    *,
    skips: bool = False,
) -> _Read:
    """Read a program, with the lines that begin with `/` or without them."""
    text, setup, told_as = asked.text, asked.setup, asked.told_as
    nests = make_setups(setup.facts)
    frame = frame_of(setup, nests)
    reading = reading_of(text, frame, asked.known, skips=skips)
    check = _Check(setup, nests, asked.others, asked.tools, asked.margin_mm, frame)
    for motions in reading.motions(text, progress):
        codes = reading.summary.codes
        boxes = check.take(motions if told_as is None else motions.with_lines(told_as), codes)
        if drawn is not None:
            drawn.take(motions)
        if watcher is not None:
            turned = check.rapids.machine_angle_rad
            watcher.take(motions, reading.summary, None if turned else boxes)
    summary = reading.summary
    if watcher is not None:
        watcher.end(summary)
    summary = summary if told_as is None else summary.with_lines(told_as)
    unit = _unit_of(summary, setup)
    found = (
        *check.findings(summary, unit),
        *_of_text(setup, summary),
        *_of_machine_z(setup, summary, unit),
        *_old_lengths(check.new_tools, summary),
        *_of_block(setup, block_of(text), told_as or int),
        *line_ends(text, told_as or int),
    )
    notes = (
        *ALWAYS,
        *check.notes(check.extents.tools_in_use(), summary, unit),
        *_of_remarks(summary),
        *((_TWICE_ENDED,) if text.ends_twice else ()),
    )
    return _Read(check, summary, unit, found, notes)


def _of_both(
    run: Sequence[CheckFinding], skipped: Sequence[CheckFinding]
) -> tuple[CheckFinding, ...]:
    """The findings of both readings; those of one say of which."""
    return (
        *(each if each in skipped else _only(each, "run") for each in run),
        *(_only(each, "skipped") for each in skipped if each not in run),
    )


def _only(finding: CheckFinding, lines: str) -> CheckFinding:
    return finding._replace(what=f"{finding.what} (with the lines behind / {lines})")


class _Check:
    """One reading's clearance, extents and first moves."""

    def __init__(
        self,
        setup: Setup,
        nests: Sequence[Setup],
        others: Sequence[Setup],
        tools: Mapping[int, ToolSize],
        margin_mm: float,
        frame: Frame,
    ) -> None:
        self._setup, self._others, self._tools = setup, others, tools
        self._margin_mm = margin_mm
        machine = setup.facts.machine
        self.rapids = Rapids(machine.straight_rapids, frame.machine_angle_rad)
        self._nests = {
            nest.work_offset: nest for nest in nests if nest.work_offset in frame.origins_mm
        }
        self._clearances: dict[str, Clearance] = {}
        self._obstacles: list[Obstacle] = []
        self._said: list[str] = []
        self._seen = MovesSeen(setup)
        self.extents = Extents()

    def take(self, motions: Motions, codes: Sequence[str]) -> tuple[Floats, Floats]:
        """Look at a piece of the program; under codes that are no nest's the station's counts.

        Gives the boxes of its motions, as `boxes_of` does.
        """
        boxes = boxes_of(motions, self.rapids)
        sections = list(sections_of(motions, self.rapids, boxes))
        for section in sections:
            self.extents.take(section)
            self._seen.take(section, self._nests.get(codes[section.code], self._setup))
        for section in together(sections):
            size, nose_mm = size_of(self._tools, section.tool), self._setup.facts.machine.nose
            nest = self._nests.get(codes[section.code], self._setup)
            self._clearance(nest).take(section, reaches_of(size, nose_mm))
        return boxes

    def _clearance(self, nest: Setup) -> Clearance:
        """What is around a nest."""
        if nest.nest.name not in self._clearances:
            run_off_mm = run_off_of(nest, self._largest_mm)
            self._said += self._run_off_told(nest)
            around = surroundings(self._setup, nest, self._others, run_off_mm, self._margin_mm)
            self._said += around.notes
            self._obstacles += around.obstacles
            fences = tuple(fences_of(self._setup, nest, run_off_mm))
            ceiling = ceiling_of(self._setup)
            made = Clearance(around.obstacles, fences, ceiling, self.rapids)
            self._clearances[nest.nest.name] = made
        return self._clearances[nest.nest.name]

    @property
    def _largest_mm(self) -> float:
        """The largest tool's diameter."""
        return max((size.diameter_mm or 0.0 for size in self._tools.values()), default=0.0)

    def _run_off_told(self, nest: Setup) -> Iterator[str]:
        """Which run-off counts where a nest states none."""
        if nest.nest.run_off is None:
            unit = self._setup.facts.machine.units
            skew = f" and the skew of {told(nest.skew_mm, unit)}" if nest.skew_mm else ""
            yield (
                f"the run-off of nest {nest.nest.name}: not given, so "
                f"{told_size(self._largest_mm, unit)}, the largest tool's diameter{skew}, counts"
            )

    def findings(self, summary: Summary, unit: Unit) -> Iterator[CheckFinding]:
        """What was found in the motions, told in a unit."""
        straight = self.rapids.straight
        to_bed = bed_in_program(self._setup).inverse()
        teller = Teller(unit, self._tools, straight, to_bed)
        for clearance in self._clearances.values():
            for key, worst in clearance.worst.items():
                yield teller.finding(key, worst)
        yield from self._seen.findings(self._obstacles, summary, unit)

    def cause(self) -> str:
        """Why cuts would miss the stock, where one thing explains it; else nothing.

        A program that had to be posted turned was not, if its cuts, turned, would stay there.
        """
        setup, turn_deg = self._setup, self._setup.facts.station.program_angle
        cutting = extent(self.extents.cutting)
        if not turn_deg or cutting.x is None or cutting.y is None:
            return ""
        corners = tuple((x, y) for x in cutting.x for y in cutting.y)
        turned = Pose.of_degrees("program", "posted", 0.0, 0.0, turn_deg).points(corners)
        room, *_ = fences_of(setup, setup, run_off_of(setup, self._largest_mm))
        as_it_is, if_turned = (
            room.beyond(np.array(each), self._largest_mm / 2).max() for each in (corners, turned)
        )
        if if_turned > self._margin_mm or as_it_is <= self._margin_mm:
            return ""
        return f"it was not posted turned by {posted_told(turn_deg)}"

    @property
    def new_tools(self) -> Sequence[tuple[int, int]]:
        """As in MovesSeen."""
        return self._seen.new_tools

    def notes(self, used: Sequence[int], summary: Summary, unit: Unit) -> Iterator[str]:
        """What was not looked at."""
        yield from notes_on_machine(self._setup, unit)
        yield from notes_on_tools(self._setup, self._tools, used, unit)
        if self.rapids.machine_angle_rad and not self.rapids.straight:
            yield "which way rapids take: extents hold the boxes along the machine's axes"
        yield from self._said
        seen, around = self._seen, self._obstacles
        yield from notes_on_moves(self._setup, seen, around, unit)
        yield from notes_on_changes(self._setup, self._tools, seen, around, summary, unit)


def _of_text(setup: Setup, summary: Summary) -> Iterator[CheckFinding]:
    """Findings that need no motions: the reader's remarks, units."""
    for remark in summary.remarks:
        if remark.code not in NOT_FINDINGS:
            yield _of_remark(remark.code, remark.line, remark.what)
    for code, count in summary.counts.items():
        if count > REMARKS_KEPT and code not in NOT_FINDINGS:
            last = max(remark.line for remark in summary.remarks if remark.code == code)
            more = count - REMARKS_KEPT
            found = _of_remark(code, last, "", more)
            text = f"behind this line {more} more of {found.code}, not told one by one"
            yield found._replace(what=text)
    if summary.first_increment is not None:
        text = "the first move is an increment from a place that is not known: go up first (G90)"
        yield CheckFinding("low-first-move", summary.first_increment, text)
    if summary.unturned_from is not None and float(setup.printed.angle) != 0:
        angle, corners = setup.printed.angle, list(setup.nest.stock.outline)
        off = told(skew_mm(float(angle), corners), setup.facts.machine.units)
        text = (
            "G69 takes off the rotation that the block turned on: what moves behind it lies "
            f"otherwise than it is read, turned by {angle} degrees against the part, up to {off} "
            "across the stock; take that G69 out: the block takes an old rotation off by itself"
        )
        yield CheckFinding("not-read", summary.unturned_from, text)
    machine, dialect = setup.facts.machine, setup.facts.dialect
    wrong = [line for unit, line in summary.units if unit != machine.units]
    if wrong and not dialect.converts:
        theirs, ours = ("inches", "mm") if machine.units == "mm" else ("mm", "inches")
        text = (
            f"the program is in {theirs}, the offset is stored in {ours}, which "
            f"dialect {dialect.name} does not convert: it would be read 25.4 times off; post the "
            f"program in {ours}"
        )
        yield CheckFinding("units-differ", wrong[0], text, len(wrong))


def _of_remark(code: str, line: int, what: str, lines: int = 1) -> CheckFinding:
    """A remark under the code that people know it by."""
    unstamped = code == ROTATION_UNSTAMPED
    return CheckFinding(
        "rotation-left" if unstamped else code, line, what, lines, unstamped=unstamped
    )


def _of_block(
    setup: Setup, block: StampedBlock | None, told_as: Callable[[int], int]
) -> Iterator[CheckFinding]:
    """A setup block that is out of date."""
    if block is not None and not setup.has_fingerprint(block.fingerprint):
        text = (
            f"the setup block here is {block.called}, but "
            f"{setup.name} is {setup.fingerprint} now: stamp the program again"
        )
        yield CheckFinding("offset-stale", told_as(block.first), text)


_TWICE_ENDED = (
    "whether your controller counts lines so: they end in CR CR LF, as of a file that was written "
    "twice in text mode, which is two ends here, with a blank line between"
)


def line_ends(text: ProgramText, told_as: Callable[[int], int] = int) -> Iterator[CheckFinding]:
    """Lines that are read otherwise by who ends lines at LF alone."""
    lines, block = text.lone_ends, block_of(text)
    if not lines:
        return
    in_block = block is not None and any(block.first <= at <= block.last for at in lines)
    which, each = "it ends", "it"
    if len(lines) > 1:
        which, each = f"from here on {len(lines)} lines end", "each"
    what = (
        f"{which} in CR alone, where others end in LF: controllers that end lines at LF alone "
        f"read {each} as one with the next{', and so the setup block as one line' * in_block}; "
        "save the program anew with one kind of end, LF or CR LF"
        f"{', and stamp that' * in_block}"
    )
    yield CheckFinding("odd-line-end", told_as(lines[0]), what, len(lines))


def _of_machine_z(setup: Setup, summary: Summary, unit: Unit) -> Iterator[CheckFinding]:
    """G53 moves that leave the travel in Z, or put the gauge point itself below the surface."""
    machine, surface = setup.facts.machine, setup.heights.surface_mm
    span = machine.travel.z if machine.travel is not None and machine.homes else None
    for word, z_mm, line in summary.machine_z:
        at = f"{word} Z{figure(z_mm, unit)}"
        if math.isnan(z_mm):
            continue
        if span is not None and not span[0] <= z_mm <= span[1]:
            beyond = max(span[0] - z_mm, z_mm - span[1])
            text = f"{at} lies {told(beyond, unit)} outside the travel of {machine.name} in Z"
            yield CheckFinding("outside-travel", line, text, 1, beyond)
        elif machine.homes and surface is not None and z_mm < surface:
            text = f"{at} puts the gauge point {told(surface - z_mm, unit)} below the bed surface"
            yield CheckFinding("cuts-surface", line, text, 1, surface - z_mm)


def _old_lengths(new_tools: Sequence[tuple[int, int]], summary: Summary) -> Iterator[CheckFinding]:
    """Tools that cut under the length of the one before: no G43 since they came in."""
    for tool, line in new_tools:
        changed = max((at for _, at in summary.tool_changes if at <= line), default=0)
        if summary.lengths_on and not any(changed <= at <= line for at in summary.lengths_on):
            text = f"tool {tool} cuts with the length of the tool before it (G43)"
            yield CheckFinding("no-tool-length", line, text)


def _of_remarks(summary: Summary) -> Iterator[str]:
    """Lines with a slash, which are checked both ways, a way back that is not stated, and
    an end that is not there (RS274/NGC, 3.1)."""
    for remark in summary.remarks:
        if remark.code in NOT_FINDINGS:
            yield remark.text
    if "may-be-skipped" in summary.counts:
        yield (
            "lines that begin with / one by one: the program is looked at with all of them run, "
            "and with all of them skipped"
        )
    if summary.ended is None:
        yield "what comes behind its last line: neither M2, M30 nor a closing % stands there"


def _unit_of(summary: Summary, setup: Setup) -> Unit:
    """The unit that the program is written in; the machine's where it states none, or both."""
    stated = {unit for unit, _ in summary.units}
    if stated == {"in"}:
        return "in"
    return "mm" if stated == {"mm"} else setup.facts.machine.units


def _verdict(findings: Sequence[CheckFinding]) -> str:
    if any(finding.code == "not-read" for finding in findings):
        return "not-fully-read"
    return "findings" if findings else "nothing-found"
