"""What `check` found in a program, and what stamping did to one, for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import chain
from pathlib import Path
from typing import NamedTuple

from pincorner.characters import visible
from pincorner.program.check.result import AsPoint, CheckFinding, Report, ToolUse, in_the_way
from pincorner.program.path.extents import Extent
from pincorner.render.text.tables import table
from pincorner.setups.setup import Setup
from pincorner.units import Unit, figure, in_unit, told

CAUTIONS = (
    "Only what is listed as looked at was looked at, on paper; the machine, the tool in the "
    "spindle, Z and the stock may be otherwise. Run the program in the air first, a hand on the "
    "feed hold; guards and the rules where you are stay as they are.",
)

VERDICTS = {
    "nothing-found": "nothing found in what was looked at",
    "not-fully-read": "not fully read: what the lines named do, and all behind them, is not known",
}


def verdict_told(report: Report) -> str:
    """The verdict with the number of findings, as every paper of it has it."""
    count, ahead = len(report.findings), in_the_way(report.not_checked)
    points = sum(isinstance(each, AsPoint) for each in ahead)
    ways = len(ahead) - points
    told = [VERDICTS[report.verdict]] if report.verdict in VERDICTS else []
    if report.verdict != "nothing-found":
        told.append(f"{count} finding{'s' * (count != 1)}")
    if points:
        told.append(f"{points} cutter{'s' * (points > 1)} counted as a point, without a diameter")
    if ways:
        were = "ways that were" if ways > 1 else "way that was"
        told.append(f"{ways} {were} not looked at may meet what stands there")
    return "; ".join(told)


def not_looked_at(not_checked: Iterable[str]) -> tuple[list[str], list[str]]:
    """What was not looked at, a line each: first cutters that counted as points and ways that may
    meet what stands there, which have a mark of their own, then the rest."""
    lines: tuple[list[str], list[str]] = ([], [])
    ahead = in_the_way(not_checked := tuple(not_checked))
    for text in not_checked:
        first = text in ahead
        lines[not first].append(f"{'? ' * first}not looked at: {visible(text)}")
    return lines


def check_text(report: Report) -> str:
    """The report for a terminal; lengths in the program's coordinates."""
    units = " and ".join(report.units) or "no unit stated"
    codes = ", ".join(code or "no offset" for code, _ in report.work_offsets) or "no motion"
    margin = "not known" if report.margin_mm is None else told(report.margin_mm, report.unit)
    parts = [
        f"{visible(report.program)} at station {visible(report.station)}, nest "
        f"{visible(report.nest)}, setup {report.fingerprint}",
        f"{report.lines} lines, {units}, {codes}; margin {margin}",
        "",
        _reaches(report),
    ]
    parts += [f"! {visible(finding.text)} [{finding.code}]" for finding in report.findings]
    if report.findings:
        parts.append("")
    ways, rest = not_looked_at(report.not_checked)
    parts += [f"verdict: {verdict_told(report)}", *ways, f"looked at: {report.looked_at}", *rest]
    parts += ["", *CAUTIONS]
    return "".join(f"{part}\n" for part in parts)


def _reaches(report: Report) -> str:
    """A table of how far tools and work offsets reach."""
    unit = report.unit
    rows = [(tool_name(use), *_sizes(use, unit), *_spans(use.extent, unit)) for use in report.tools]
    if len(report.work_offsets) > 1:
        rows += [
            (code or "no offset", "", "", *_spans(extent, unit))
            for code, extent in report.work_offsets
        ]
    if len(rows) != 1:
        rows.append(("all motion", "", "", *_spans(report.extent, unit)))
    rows.append(("cutting", "", "", *_spans(report.cutting_extent, unit)))
    ends = [head for axis in "XYZ" for head in (f"{axis}, {unit}\nfrom", "\nto")]
    return table(("", "dia-\nmeter", "stick-\nout", *ends), rows, ".rrrrrrrr")


def tool_name(use: ToolUse) -> str:
    """`tool 1`, or words for a tool that the program does not name."""
    return "tool not named" if use.number is None else f"tool {use.number}"


def _sizes(use: ToolUse, unit: Unit) -> tuple[str, str]:
    known = (use.size.diameter_mm, use.size.stickout_mm)
    diameter, stickout = (
        "not given" if size is None else f"{in_unit(size, unit):.6g}" for size in known
    )
    return diameter, stickout


def _spans(extent: Extent, unit: Unit) -> list[str]:
    """From where to where, along each axis."""
    ends = (
        ("not known", "") if span is None else (figure(span[0], unit), figure(span[1], unit))
        for span in extent
    )
    return [end for both in ends for end in both]


_IN_THE_AIR = (
    "Run it in the air first, a hand on the feed hold; guards and the rules where you are stay as "
    "they are."
)


class Change(NamedTuple):
    """Lines `first` to `last` of the program as they were and as they are in the copy.

    `what`: `work-offset`, `setup-block`, `wait` or `rotation-off`. `old` None: something is put in
    before line `first`; `new` None: it is taken out. Where the block selects an offset its `new` is
    empty.
    """

    what: str
    first: int
    last: int
    old: str | None
    new: str | None

    @property
    def sentence(self) -> str:
        """The change as a line of text."""
        if self.what == "wait":
            return (
                f"before line {self.first}: {self.new} put in; M0 is no safeguard, and does not "
                "stop the spindle"
            )
        thing = "setup block of " if self.what == "setup-block" else ""
        if self.old is None:
            return f"before line {self.first}: {thing}{self.new} put in"
        lines = (
            f"line {self.first}"
            if self.first == self.last
            else f"lines {self.first} to {self.last}"
        )
        if self.new is None:
            return f"{lines}: {thing}{self.old} taken out"
        if not self.new:
            return f"{lines}: {self.old} left to the block"
        return f"{lines}: {thing}{self.old} became {thing and 'that of '}{self.new}"


def stamp_text(
    path: Path,
    setup: Setup,
    changed: Sequence[Change],
    findings: Sequence[CheckFinding],
    report: Report,
) -> str:
    """What was written, what was changed, and what was found and accepted."""
    lines = [f"{visible(str(path))} holds the program with setup {setup.name} {setup.fingerprint}"]
    lines += [visible(change.sentence) for change in changed]
    return _as_written(lines, findings, report.not_checked)


def repeat_text(
    path: Path,
    sections: Sequence[Setup],
    findings: Sequence[CheckFinding],
    not_checked: Sequence[str],
) -> str:
    """What was written: the sections in order, what was found and accepted."""
    lines = [f"{visible(str(path))} holds {len(sections)} sections"]
    lines += [
        f"{at}  {visible(each.name)}, {each.work_offset}, setup {each.fingerprint}"
        for at, each in enumerate(sections, 1)
    ]
    return _as_written(lines, findings, not_checked)


def _as_written(
    lines: Sequence[str], findings: Sequence[CheckFinding], not_checked: Sequence[str]
) -> str:
    """The lines of what was written, what was accepted, what was not looked at."""
    accepted = [f"! {visible(finding.text)} [{finding.code}], accepted" for finding in findings]
    every = [*lines, *accepted, *chain(*not_looked_at(not_checked)), _IN_THE_AIR]
    return "".join(f"{line}\n" for line in every)
