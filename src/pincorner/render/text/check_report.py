"""What `check` found, for a terminal."""

from __future__ import annotations

from pincorner.program.check.result import Report, ToolUse
from pincorner.program.path.extents import Extent
from pincorner.render.text.tables import table
from pincorner.render.visible import visible
from pincorner.units import Unit, figure, in_unit, told

CAUTIONS = (
    "Only what is listed as looked at was looked at, on paper; the machine, the tool in the "
    "spindle, Z and the stock may be otherwise. Run the program in the air first, a hand on the "
    "feed hold; guards and the rules where you are stay as they are.",
)

LOOKED_AT = (
    "looked at: cutter and nose against pins, clamps, jigs and solids; the nose, and the cutter by "
    "no more than its run-off, against the stock; surface, seat, tracks and screws; the bed's "
    "edge; the travel; units, offsets and the first move"
)

VERDICTS = {
    "nothing-found": "nothing found in what was looked at",
    "findings": "there are findings",
    "not-fully-read": "not fully read: what the lines named do, and all behind them, is not known",
}


def check_text(report: Report) -> str:
    """The report for a terminal; lengths in the program's coordinates."""
    units = " and ".join(report.units) or "no unit stated"
    codes = ", ".join(code or "no offset" for code, _ in report.work_offsets) or "no motion"
    parts = [
        f"{visible(report.program)} at station {visible(report.station)}, nest "
        f"{visible(report.nest)}, setup {report.fingerprint}",
        f"{report.lines} lines, {units}, {codes}; margin {told(report.margin_mm, report.unit)}",
        "",
        _reaches(report),
    ]
    parts += [f"! {visible(finding.text)} [{finding.code}]" for finding in report.findings]
    if report.findings:
        parts.append("")
    parts += [f"verdict: {VERDICTS[report.verdict]}", LOOKED_AT]
    parts += [f"not looked at: {visible(text)}" for text in report.not_checked]
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
    rows.append(("cutting alone", "", "", *_spans(report.cutting_extent, unit)))
    return table(("", "diameter", "stickout", *(f"{axis} {unit}" for axis in "XYZ")), rows, ".rr")


def tool_name(use: ToolUse) -> str:
    """`tool 1`, or words for a tool that the program does not name."""
    return "tool not named" if use.number is None else f"tool {use.number}"


def _sizes(use: ToolUse, unit: Unit) -> tuple[str, str]:
    known = (use.size.diameter_mm, use.size.stickout_mm)
    diameter, stickout = (
        "not given" if size is None else f"{in_unit(size, unit):.6g}" for size in known
    )
    return diameter, stickout


def _spans(extent: Extent, unit: Unit) -> tuple[str, str, str]:
    x, y, z = (
        "not known" if span is None else f"{figure(span[0], unit)} to {figure(span[1], unit)}"
        for span in extent
    )
    return x, y, z
