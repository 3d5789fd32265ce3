"""The offset table, as text."""

from __future__ import annotations

import math
from collections.abc import Sequence

from pincorner.render.text.tables import table
from pincorner.setups.printed import counted_from
from pincorner.setups.transform import OffsetRow
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


def registered_text(
    rows: Sequence[OffsetRow],
    chosen: str | None,
    kept: Sequence[str],
    gone: Sequence[str],
    changed: Sequence[str] | None,
    warnings: Sequence[str] = (),
) -> str:
    """What became of a station's keys, then its offsets."""
    lines = []
    if chosen:
        lines.append(f"chose {chosen}")
    if changed is not None:
        lines.append(f"changed: {', '.join(changed)}" if changed else "nothing changed")
    if kept:
        lines.append(f"kept from before: {', '.join(kept)}")
    if gone:
        lines.append(f"no longer with it: {', '.join(gone)}")
    lines.append(offsets_table(rows).rstrip("\n"))
    lines += [f"warning: {text}" for text in warnings]
    return "".join(f"{line}\n" for line in lines)


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
            f"{setup.printed.skew} {setup.printed.own.unit} over the stock"
        )
    return found
