"""A run's plan as text and as JSON."""

from __future__ import annotations

from typing import Any

from pincorner.render.offsets import findings_json
from pincorner.render.tables import table
from pincorner.render.timelines import clock, timeline_table, timeline_text, waits_text
from pincorner.render.visible import visible
from pincorner.setups.keep_clear import KeepClear, gap_figure
from pincorner.setups.run_codes import NestCode
from pincorner.setups.run_plan import RunPlan
from pincorner.setups.timeline import Timeline, Work
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


def run_json(plan: RunPlan) -> dict[str, Any]:
    """The plan as JSON values."""
    return {
        "format": 1,
        "kind": "run",
        "name": plan.run.name,
        "stations": list(plan.timelines[-1].order),
        "work_offsets": [each._asdict() for each in plan.codes],
        "reach_mm": plan.reach_mm,
        "distances": [
            {
                "runs": row.runs,
                "loaded": row.loaded,
                "gap_mm": row.gap_mm,
                "overlap": row.gap_mm < 0,
                "from": row.basis,
            }
            for row in plan.table
        ],
        "cautions": list(CAUTIONS),
        "times": [_work_json(work) for work in plan.works],
        "timelines": [_timeline_json(line) for line in plan.timelines],
        "quicker": _timeline_json(plan.quicker) if plan.quicker else None,
        "assumed": list(plan.assumed),
        "findings": findings_json(plan.findings),
    }


def _work_json(work: Work) -> dict[str, Any]:
    return {
        "station": work.name,
        "load_s": work.load_s,
        "cut_s": work.cut_s,
        "attended_s": sum(work.attended_s),
        "parts": work.parts,
    }


def _timeline_json(line: Timeline) -> dict[str, Any]:
    return {
        "order": list(line.order),
        "parts": line.parts,
        "total_s": line.total_s,
        "round_s": line.round_s,
        "parts_per_hour": line.parts_per_hour,
        "spindle_share": line.spindle_share,
        "operator_share": line.operator_share,
        "attended_s": line.attended_s,
        "waits_s": dict(line.waits_s),
    }
