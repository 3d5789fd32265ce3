"""A run's plan as text."""

from __future__ import annotations

from pincorner.characters import visible
from pincorner.render.text.tables import table
from pincorner.render.text.timelines import clock, timeline_table, timeline_text, waits_text
from pincorner.runs.codes import NestCode
from pincorner.runs.keep_clear import KeepClear, gap_figure
from pincorner.runs.plan import RunPlan
from pincorner.runs.timeline import Timeline
from pincorner.units import Unit, told_size

CAUTIONS = (
    "A distance between drawings is no safeguard. A wrong offset, jogging, a restart or a fault "
    "can take the machine anywhere in its travel, and cutters and parts fly farther.",
    "Guards, interlocks and the rules where you are decide whether anyone may reach in, among them "
    "29 CFR 1910.212, ISO 12100, ISO 13854, ISO 13855 and ISO 19085-3; ask those who are licensed "
    "to judge it.",
)
OVERLAP = "OVERLAP"
"""Marks a pair whose moving parts reach the loading zone; a distance is only stated."""


def run_text(plan: RunPlan) -> str:
    """The plan for a terminal."""
    line = plan.timelines[-1]
    names = ", ".join(line.order)
    return "\n".join(
        (
            f"Run {visible(plan.run.name)}: {line.parts} parts at {names}\n",
            table(("station", "nest", "code", ""), [code_cells(each) for each in plan.codes]),
            f"Distance, {plan.unit}, of what moves from the loading zone (reach "
            f"{told_size(plan.reach_mm, plan.unit)}):",
            table(
                ("runs", "is loaded", "distance", "", "from"),
                [distance_cells(row, plan.unit) for row in plan.table],
                "..r",
            ),
            *CAUTIONS,
            "",
            timeline_table(plan.timelines) + waits_text(line) + _attended(line) + _quicker(plan),
            timeline_text(line),
            *(f"taken as given: {text}" for text in plan.assumed),
            *findings_lines(plan),
            "",
        )
    )


def findings_lines(plan: RunPlan) -> list[str]:
    """A line for each finding."""
    return [f"! {finding.text}" for finding in plan.findings]


def code_cells(code: NestCode) -> tuple[str, ...]:
    """station, nest, code, and whether the run gave it."""
    return (
        code.station,
        code.nest,
        code.code or "none left",
        "given by this run" if code.given else "",
    )


def distance_cells(row: KeepClear, unit: Unit) -> tuple[str, ...]:
    """runs, is loaded, distance, OVERLAP, and what the sweep comes from."""
    overlap = OVERLAP if row.gap_mm < 0 else ""
    return row.runs, row.loaded, gap_figure(row.gap_mm, unit), overlap, row.basis


def _attended(line: Timeline) -> str:
    if not line.attended_s:
        return ""
    return f"at the machine for starts and tool changes: {clock(line.attended_s)}\n"


def _quicker(plan: RunPlan) -> str:
    """The quicker order, if there is one."""
    if plan.quicker is None:
        return ""
    order = ", ".join(plan.quicker.order)
    return f"in the order {order} the whole takes {clock(plan.quicker.total_s)}\n"
