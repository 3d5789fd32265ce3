"""The offset table, as text and as JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from pincorner.render.tables import table
from pincorner.setups.budget import Budget
from pincorner.setups.findings import Finding
from pincorner.setups.printed import counted_from
from pincorner.setups.rows import OffsetRow
from pincorner.setups.setup import Setup
from pincorner.units import Unit, fixed, in_unit

_HEADS = (
    "station", "nest", "code", "unit", "X", "Y", "angle", "Z0 above bed", "comes back within",
    "lies within", "setup",
)  # fmt: skip


def offsets_table(rows: Sequence[OffsetRow]) -> str:
    """The table, then what is noteworthy, a line each."""
    if not rows:
        return "no stations\n"
    text = table(_HEADS, [_cells(row) for row in rows], "....rrrrrr")
    remarks = [line for row in rows for line in _remarks(row)]
    for machine in {row.facts.machine.name: row.facts.machine for row in rows}.values():
        if machine.travel_not_checked:
            remarks.append(f"- {machine.name}: not checked: {machine.travel_not_checked}")
    return text + "".join(f"{line}\n" for line in remarks)


def _cells(row: OffsetRow) -> tuple[str, ...]:
    station, setup = row.facts.station, row.setup
    if setup is None:
        code, unit = station.code_of(row.nest) or "-", row.facts.machine.units
        return (station.name, row.nest, code, unit, *["-"] * 6, "refused")
    own, budget = setup.printed.own, setup.budget
    start = setup.relative_to or ""
    return (
        station.name,
        row.nest,
        setup.work_offset or "-",
        own.unit,
        counted_from(start, own.x),
        counted_from(start, own.y),
        setup.printed.angle,
        own.zero_above_surface,
        spread(budget.repeat95_worst_mm, own.unit),
        spread(budget.u95_worst_mm, own.unit),
        setup.fingerprint,
    )


def spread(value_mm: float, unit: Unit) -> str:
    """An uncertainty, rounded up to two decimals in mm or four in inches: never told too small.

    Zero says that nothing is given to reckon it from.
    """
    if value_mm == 0:
        return "not known"
    decimals = 2 if unit == "mm" else 4
    steps = in_unit(value_mm, unit) * 10**decimals
    return fixed(math.ceil(steps - 1e-6) / 10**decimals, decimals)


def _remarks(row: OffsetRow) -> list[str]:
    if row.setup is None:
        return [f"! {row.refused}"]
    found = [f"! {row.setup.name}: {finding.text}" for finding in row.setup.findings]
    setup = row.setup
    for reason in setup.stopped:
        if reason not in setup.findings:
            found.append(f"! {setup.name}: NO BLOCK: {reason.text}")
    if float(setup.printed.skew) > 0 and setup.too_skew is None:
        found.append(
            f"! {setup.name}: angle {setup.printed.angle} degrees is not written: "
            f"{setup.printed.skew} mm over the stock"
        )
    return found


def offsets_json(rows: Sequence[OffsetRow]) -> dict[str, Any]:
    """The report of contract 3.1."""
    return {"format": 1, "kind": "offsets", "offsets": [_row_json(row) for row in rows]}


def _row_json(row: OffsetRow) -> dict[str, Any]:
    facts, setup = row.facts, row.setup
    known: dict[str, Any] = _numbers(setup) if setup else dict.fromkeys(_NUMBERS)
    return {
        "station": facts.station.name,
        "nest": row.nest,
        "bed": facts.bed.name,
        "jig": facts.station.jig,
        "work_offset": facts.station.code_of(row.nest),
        "relative_to": setup.relative_to if setup else None,
        **known,
        "budget": _budget_json(setup.budget) if setup else [],
        "not_given": list(setup.budget.not_given) if setup else [],
        "survey": facts.survey.name if facts.survey else None,
        "findings": findings_json(setup.findings if setup else ()),
        "fingerprint": setup.fingerprint if setup else None,
        "refused": row.refused,
    }


def findings_json(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """Findings as JSON values."""
    return [
        {"code": each.code, "text": each.text, "figure_mm": each.figure_mm} for each in findings
    ]


_NUMBERS = (
    "x_mm", "y_mm", "z_mm", "angle_deg", "skew_mm", "u95_zero_mm", "u95_worst_mm",
    "repeat95_zero_mm", "repeat95_worst_mm", "k",
)  # fmt: skip


def _numbers(setup: Setup) -> dict[str, float | None]:
    budget = setup.budget
    return {
        "x_mm": setup.zero_in_machine.x_mm,
        "y_mm": setup.zero_in_machine.y_mm,
        "z_mm": setup.heights.machine_z_mm,
        "angle_deg": setup.angle_deg,
        "skew_mm": setup.skew_mm,
        "u95_zero_mm": budget.u95_zero_mm,
        "u95_worst_mm": budget.u95_worst_mm,
        "repeat95_zero_mm": budget.repeat95_zero_mm,
        "repeat95_worst_mm": budget.repeat95_worst_mm,
        "k": budget.k,
    }


def _budget_json(budget: Budget) -> list[dict[str, Any]]:
    return [
        {
            "source": row.source,
            "x_mm": row.x_mm,
            "y_mm": row.y_mm,
            "angle_deg": row.angle_deg,
            "repeats": row.repeats,
        }
        for row in budget.rows
    ]
