"""JSON of `check`, `stamp` and `repeat`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Literal, TypedDict

from pincorner.program.check import result as checked
from pincorner.program.check.result import CheckFinding, in_the_way
from pincorner.program.path import extents
from pincorner.render.outputs.shapes import Report
from pincorner.render.text.programs import CAUTIONS, Change
from pincorner.setups.setup import Setup


class AcceptedFinding(TypedDict):
    """A finding of the program that a person accepted."""

    code: Annotated[str, "for scripts: hits-pin, outside-stock, units-differ, .."]
    line: Annotated[int, "the worst line"]
    text: Annotated[str, "a sentence with its figure, in the machine's unit"]


class ProgramFinding(AcceptedFinding):
    """A finding of the program."""

    lines: Annotated[int, "how many lines it concerns"]
    figure_mm: Annotated[float | None, "the figure in the sentence, where it is a length"]


_Interval = tuple[float, float] | None


class Extent(TypedDict):
    """The lowest and the highest value along each axis of the program; null: not known."""

    x: Annotated[_Interval, "along X"]
    y: Annotated[_Interval, "along Y"]
    z: Annotated[_Interval, "along Z"]


class ToolEntry(TypedDict):
    """A tool of the program."""

    diameter_mm: Annotated[float | None, "its diameter; null: not given"]
    stickout_mm: Annotated[float | None, "how far it stands out of the nut; null: not given"]
    extent_mm: Annotated[Extent, "where it moves"]


class Check(Report):
    """What reading a program against a station found. Nothing found is no promise."""

    kind: Literal["check"]
    program: Annotated[str, "the program"]
    station: Annotated[str, "the station"]
    nest: Annotated[str, "the nest"]
    fingerprint: Annotated[str, "of the setup that it was read against"]
    margin_mm: Annotated[
        float | None,
        "how near cutter and nose may come; null: not known how well the zero is, none counts",
    ]
    verdict: Annotated[
        str,
        "nothing-found, findings, or not-fully-read: what the lines named do, and all behind "
        "them, is not known",
    ]
    findings: Annotated[list[ProgramFinding], "in order of line"]
    extent_mm: Annotated[Extent, "of all motion, in program coordinates"]
    cutting_extent_mm: Annotated[Extent, "of feeds and arcs alone, to hold against CAM's"]
    lines: Annotated[int, "how many lines the program has"]
    program_units: Annotated[list[str], "as the program states them, by first use"]
    work_offsets: Annotated[list[str], "codes that it moves in"]
    work_offset_extents_mm: Annotated[
        dict[str, Extent], "of all motion by work offset; an empty key: none selected yet"
    ]
    tools: Annotated[dict[str, ToolEntry], "by number; an empty key: before any is named"]
    not_checked: Annotated[list[str], "what is not modelled, not given or not known"]
    in_the_way: Annotated[
        list[str],
        "those of not_checked, its first: cutters that count as points, what a way may meet",
    ]
    cautions: Annotated[list[str], "what to keep in mind all the same"]


ChangedLines = TypedDict(
    "ChangedLines",
    {
        "what": Annotated[str, "work-offset, setup-block, wait or rotation-off"],
        "line": Annotated[int, "the first line, of the program and not of its copy"],
        "last_line": Annotated[int, "the last line"],
        "from": Annotated[str | None, "what stood there; null: it was put in before the line"],
        "to": Annotated[
            str | None, "what stands there; null: it was taken out, empty: left to the block"
        ],
    },
)
ChangedLines.__doc__ = "Lines of the program that are otherwise in its copy."


class Stamp(Report):
    """A copy of a program with the station's setup block in it."""

    kind: Literal["stamp"]
    file: Annotated[str, "the copy, with /"]
    station: Annotated[str, "the station"]
    nest: Annotated[str, "the nest"]
    fingerprint: Annotated[str, "of the setup in it"]
    changed: Annotated[list[ChangedLines], "every change, in order"]
    accepted: Annotated[list[AcceptedFinding], "what was found and accepted"]
    check: Annotated[Check, "what reading the copy found, by lines of the program"]


class SectionEntry(TypedDict):
    """A nest in whose offset the program is run."""

    station: Annotated[str, "the station"]
    nest: Annotated[str, "the nest"]
    work_offset: Annotated[str | None, "the code that holds its zero"]
    fingerprint: Annotated[str, "of its setup"]


class Repeat(Report):
    """One program that makes the part at each station in turn."""

    kind: Literal["repeat"]
    file: Annotated[str, "the program that was written, with /"]
    sections: Annotated[list[SectionEntry], "in order of work"]
    accepted: Annotated[list[AcceptedFinding], "what was found and accepted"]
    not_checked: Annotated[list[str], "what is not modelled, not given or not known"]


def check_json(report: checked.Report) -> Check:
    """What reading a program found."""
    return {
        "format": 1,
        "kind": "check",
        "program": report.program,
        "station": report.station,
        "nest": report.nest,
        "fingerprint": report.fingerprint,
        "margin_mm": report.margin_mm,
        "verdict": report.verdict,
        "findings": [
            {
                "code": finding.code,
                "line": finding.line,
                "text": finding.text,
                "lines": finding.lines,
                "figure_mm": finding.figure_mm,
            }
            for finding in report.findings
        ],
        "extent_mm": _extent(report.extent),
        "cutting_extent_mm": _extent(report.cutting_extent),
        "lines": report.lines,
        "program_units": list(report.units),
        "work_offsets": [code for code, _ in report.work_offsets if code],
        "work_offset_extents_mm": {code: _extent(extent) for code, extent in report.work_offsets},
        "tools": {
            "" if use.number is None else str(use.number): {
                "diameter_mm": use.size.diameter_mm,
                "stickout_mm": use.size.stickout_mm,
                "extent_mm": _extent(use.extent),
            }
            for use in report.tools
        },
        "not_checked": list(report.not_checked),
        "in_the_way": in_the_way(report.not_checked),
        "cautions": list(CAUTIONS),
    }


def _extent(extent: extents.Extent) -> Extent:
    return {"x": extent.x, "y": extent.y, "z": extent.z}


def stamp_json(
    path: Path,
    setup: Setup,
    changed: Sequence[Change],
    findings: Sequence[CheckFinding],
    report: checked.Report,
) -> Stamp:
    """What stamping a program did; `report` is on the copy, by lines of the program."""
    return {
        "format": 1,
        "kind": "stamp",
        "file": path.as_posix(),
        "station": setup.facts.station.name,
        "nest": setup.nest.name,
        "fingerprint": setup.fingerprint,
        "changed": [
            {
                "what": each.what,
                "line": each.first,
                "last_line": each.last,
                "from": each.old,
                "to": each.new,
            }
            for each in changed
        ],
        "accepted": _accepted(findings),
        "check": check_json(report),
    }


def repeat_json(
    path: Path,
    sections: Sequence[Setup],
    findings: Sequence[CheckFinding],
    not_checked: Sequence[str],
) -> Repeat:
    """What repeating a program wrote."""
    return {
        "format": 1,
        "kind": "repeat",
        "file": path.as_posix(),
        "sections": [
            {
                "station": each.facts.station.name,
                "nest": each.nest.name,
                "work_offset": each.work_offset,
                "fingerprint": each.fingerprint,
            }
            for each in sections
        ],
        "accepted": _accepted(findings),
        "not_checked": list(not_checked),
    }


def _accepted(findings: Sequence[CheckFinding]) -> list[AcceptedFinding]:
    return [
        {"code": finding.code, "line": finding.line, "text": finding.text} for finding in findings
    ]
