"""JSON of `offsets`, `register`, `block` and `sheet`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Literal, TypedDict

from pincorner.documents.stations import MeasuredZero
from pincorner.render.outputs.shapes import FindingEntry, Report, finding_entries
from pincorner.setups.budget import Budget, known
from pincorner.setups.setup import OffsetRow, Setup


class BudgetEntry(TypedDict):
    """One source of error: one standard deviation at the zero, along the machine's axes."""

    source: Annotated[str, "hole position, pin fit, pin body, jig edge, rounding, survey, .."]
    x_mm: Annotated[float, "along X"]
    y_mm: Annotated[float, "along Y"]
    angle_deg: Annotated[float, "of the angle"]
    repeats: Annotated[bool, "it is the same each time the jig is put back"]


class _Where(TypedDict):
    station: Annotated[str, "the station"]
    nest: Annotated[str, "the nest of its jig"]
    bed: Annotated[str, "the bed"]
    jig: Annotated[str | None, "the jig; null: bare stock"]
    work_offset: Annotated[str | None, "the code that holds the zero; null: it has none"]
    relative_to: Annotated[
        str | None, "the code whose origin x, y, z count from, on machines that do not home"
    ]


class _Numbers(TypedDict):
    x_mm: Annotated[float | None, "X of program zero in machine coordinates, unrounded"]
    y_mm: Annotated[float | None, "Y of program zero in machine coordinates, unrounded"]
    z_mm: Annotated[float | None, "machine Z of program zero; null where Z is set by touch"]
    angle_deg: Annotated[
        float | None,
        "angle of the program's axes counter-clockwise, less program_angle, in (-180, 180]",
    ]
    skew_mm: Annotated[float | None, "deviation over the stock of what is not written of the angle"]
    u95_zero_mm: Annotated[
        float | None,
        "the zero lies within this of its place in any one direction (95 %), its place on the "
        "bed where not_given has where the bed lies; null: not known",
    ]
    u95_worst_mm: Annotated[float | None, "the same at the worst corner of the stock"]
    repeat95_zero_mm: Annotated[
        float | None,
        "the zero comes back within this of its usual place, in any one direction (95 %); "
        "null: not known",
    ]
    repeat95_worst_mm: Annotated[float | None, "the same at the worst corner of the stock"]
    k: Annotated[float | None, "coverage factor: expanded over standard uncertainty (JCGM 100)"]


class MeasuredEntry(TypedDict):
    """A zero that was measured in the machine, where no pins say where the jig lies."""

    x_mm: Annotated[float, "X as it was measured"]
    y_mm: Annotated[float, "Y as it was measured"]
    z_mm: Annotated[float | None, "Z with that day's tool, written nowhere; null: not given"]
    nest: Annotated[str | None, "the nest whose zero it is; null: the jig's first"]
    date: Annotated[str | None, "the day on which it was measured; null: not known"]
    by: Annotated[str | None, "who measured it; null: not given"]


class Offset(_Where, _Numbers):
    """A nest and where its program zero is; its numbers are null where it is refused."""

    measured: Annotated[
        MeasuredEntry | None, "the zero that was measured instead of pins; null: pins hold it"
    ]
    budget: Annotated[list[BudgetEntry], "what the u95 are made of"]
    not_given: Annotated[list[str], "errors that nobody stated, and that are not counted"]
    survey: Annotated[str | None, "the survey that says where the bed is; null: as entered"]
    findings: Annotated[list[FindingEntry], "what is noteworthy about it"]
    fingerprint: Annotated[str | None, "stands for all that is printed of this setup"]
    refused: Annotated[str | None, "why it cannot be located now; null: it can"]


class Offsets(Report):
    """The offset table."""

    kind: Literal["offsets"]
    offsets: Annotated[list[Offset], "a row for each nest of each station"]


class Registered(Offsets):
    """A station that was registered: its offsets, and what became of its keys."""

    chosen: Annotated[str | None, "which pins were chosen and why; null: they were given"]
    kept: Annotated[list[str], "keys kept from the station of that name before"]
    gone: Annotated[list[str], "keys of the station of that name before that it has no longer"]
    changed: Annotated[list[str] | None, "keys that read otherwise than before; null: it is new"]
    warnings: Annotated[list[str], "what looks like a slip, such as stations that it lies over"]
    taken: Annotated[list[str], "what was taken for it, such as all of a station that it is like"]


class Block(Report):
    """A station's setup block."""

    kind: Literal["block"]
    station: Annotated[str, "the station"]
    fingerprints: Annotated[dict[str, str], "of the setups in it, by nest"]
    text: Annotated[str, "the block as it is written to a file"]


class RefusedStation(TypedDict):
    """A station that has no sheet, and why it cannot be located."""

    station: Annotated[str, "its name"]
    why: Annotated[str, "a sentence"]


class Sheets(Report):
    """The pages that were written."""

    kind: Literal["sheets"]
    files: Annotated[list[str], "their paths, with /"]
    kept: Annotated[list[str], "pages that were there and are as they were, with --all"]
    refused: Annotated[list[RefusedStation], "stations that cannot be located, with --all"]


def offsets_json(rows: Sequence[OffsetRow]) -> Offsets:
    """The offset table."""
    return {"format": 1, "kind": "offsets", "offsets": [offset_entry(row) for row in rows]}


def registered_json(
    rows: Sequence[OffsetRow],
    chosen: str | None,
    kept: Sequence[str],
    gone: Sequence[str],
    changed: Sequence[str] | None,
    warnings: Sequence[str] = (),
    taken: Sequence[str] = (),
) -> Registered:
    """The offsets of a station that was registered."""
    return {
        **offsets_json(rows),
        "chosen": chosen,
        "kept": list(kept),
        "gone": list(gone),
        "changed": None if changed is None else list(changed),
        "warnings": list(warnings),
        "taken": list(taken),
    }


class ProposedEntry(TypedDict):
    """The pins that explain an offset that was written down."""

    pin: Annotated[str, "the kind of pin"]
    pins: Annotated[list[str], "their holes: edge, edge, stop; or round hole, slot"]
    corner: Annotated[str | None, "the hole at the inside corner; null: dowels"]
    toward: Annotated[str | None, "the quadrant in which the jig lies; null: dowels"]
    turn_deg: Annotated[int, "how the jig lies turned, to a quarter"]
    x_mm: Annotated[float, "X of the zero with these pins"]
    y_mm: Annotated[float, "Y likewise"]
    alike: Annotated[list[str], "other corners as near"]
    command: Annotated[str, "what lays the station against them"]


class AdoptedEntry(TypedDict):
    """An offset as it was written down."""

    line: Annotated[int, "of the file"]
    station: Annotated[str, "the station that it becomes"]
    jig: Annotated[str | None, "the jig; null: bare stock"]
    nest: Annotated[str | None, "the nest whose zero it is; null: the jig's first"]
    work_offset: Annotated[str | None, "the code that holds it; null: not given"]
    x_mm: Annotated[float, "X in the machine"]
    y_mm: Annotated[float, "Y in the machine"]
    z_mm: Annotated[float | None, "Z with that day's tool, written nowhere; null: not given"]
    proposed: Annotated[ProposedEntry | None, "pins that explain it; null: none come near enough"]
    off_mm: Annotated[float | None, "how far the nearest pins are off; null: none hold the jig"]
    next_mm: Annotated[float | None, "how far the next of all others is off; null: none"]


class Adopt(Report):
    """Written-down offsets taken over as stations."""

    kind: Literal["adopt"]
    dry_run: Annotated[bool, "nothing was written"]
    pin: Annotated[str | None, "the kind of pin looked at; null: none on file"]
    within_mm: Annotated[float, "how far off pins may be that explain an offset"]
    stations: Annotated[list[AdoptedEntry], "a line of the file each"]
    new: Annotated[list[str], "stations that were not there before"]
    changed: Annotated[list[str], "stations that were there, and are otherwise now"]
    as_before: Annotated[list[str], "stations that were left alone"]
    warnings: Annotated[list[str], "what looks like a slip"]


def adopt_json(
    entries: Sequence[AdoptedEntry],
    pin: str | None,
    within_mm: float,
    became: tuple[Sequence[str], Sequence[str], Sequence[str]],
    warnings: Sequence[str],
    dry_run: bool,
) -> Adopt:
    """What became of a file of offsets; `became`: stations that are new, changed, as before."""
    new, changed, same = map(list, became)
    return {
        "format": 1,
        "kind": "adopt",
        "dry_run": dry_run,
        "pin": pin,
        "within_mm": within_mm,
        "stations": list(entries),
        "new": new,
        "changed": changed,
        "as_before": same,
        "warnings": list(warnings),
    }


def block_json(setups: Sequence[Setup], text: str) -> Block:
    """A block and the setups of one station that it holds."""
    return {
        "format": 1,
        "kind": "block",
        "station": setups[0].facts.station.name,
        "fingerprints": {each.nest.name: each.fingerprint for each in setups},
        "text": text,
    }


def sheets_json(
    paths: Sequence[Path], kept: Sequence[Path], refused: Sequence[tuple[str, str]]
) -> Sheets:
    """The pages that were written, those that were there, and stations without one."""
    return {
        "format": 1,
        "kind": "sheets",
        "files": [path.as_posix() for path in paths],
        "kept": [path.as_posix() for path in kept],
        "refused": [{"station": name, "why": text} for name, text in refused],
    }


def offset_entry(row: OffsetRow) -> Offset:
    """A nest's row of the offset table."""
    facts, setup = row.facts, row.setup
    return {
        "station": facts.station.name,
        "nest": row.nest,
        "bed": facts.bed.name,
        "jig": facts.station.jig,
        "work_offset": facts.station.code_of(row.nest),
        "relative_to": setup.relative_to if setup else None,
        **(_numbers(setup) if setup else _NO_NUMBERS),
        "measured": _measured(facts.station.measured),
        "budget": _budget(setup.budget) if setup else [],
        "not_given": list(setup.budget.not_given) if setup else [],
        "survey": facts.survey.name if facts.survey else None,
        "findings": finding_entries(setup.findings if setup else ()),
        "fingerprint": setup.fingerprint if setup else None,
        "refused": row.refused,
    }


def _measured(measured: MeasuredZero | None) -> MeasuredEntry | None:
    if measured is None:
        return None
    return {
        "x_mm": measured.x,
        "y_mm": measured.y,
        "z_mm": measured.z,
        "nest": measured.nest,
        "date": measured.date,
        "by": measured.by,
    }


_NO_NUMBERS = _Numbers(
    x_mm=None, y_mm=None, z_mm=None, angle_deg=None, skew_mm=None, u95_zero_mm=None,
    u95_worst_mm=None, repeat95_zero_mm=None, repeat95_worst_mm=None, k=None,
)  # fmt: skip


def _numbers(setup: Setup) -> _Numbers:
    budget = setup.budget
    return {
        "x_mm": setup.zero_in_machine.x_mm,
        "y_mm": setup.zero_in_machine.y_mm,
        "z_mm": setup.heights.machine_z_mm,
        "angle_deg": setup.angle_deg,
        "skew_mm": setup.skew_mm,
        "u95_zero_mm": known(budget.u95_zero_mm),
        "u95_worst_mm": known(budget.u95_worst_mm),
        "repeat95_zero_mm": known(budget.repeat95_zero_mm),
        "repeat95_worst_mm": known(budget.repeat95_worst_mm),
        "k": budget.k,
    }


def _budget(budget: Budget) -> list[BudgetEntry]:
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
