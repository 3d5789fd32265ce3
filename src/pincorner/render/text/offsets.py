"""The offset table, as text."""

from __future__ import annotations

from collections.abc import Sequence

from pincorner.render.text.tables import WIDTH, table
from pincorner.setups.budget import known
from pincorner.setups.locating import SetPin
from pincorner.setups.pin_fit import pin_fit
from pincorner.setups.printed import counted_from
from pincorner.setups.refusals import skew_told
from pincorner.setups.setup import OffsetRow, Setup, setups_in
from pincorner.units import UP, Unit, figure, fixed, in_unit

_HEADS = (
    "station", "nest", "code", "unit", "X", "Y", "angle", "Z0 above\nbed", "back\nwithin",
    "lies\nwithin", "setup",
)  # fmt: skip
_UNIT, _ANGLE = 3, 6


def offsets_table(rows: Sequence[OffsetRow], width: int = WIDTH) -> str:
    """The table, then what is noteworthy, a line each.

    A unit that all rows share, and an angle that is nothing everywhere, stand below it.
    """
    if not rows:
        return "no stations\n"
    cells = [_cells(row) for row in rows]
    remarks = _remarks_once(rows)
    for machine in {row.facts.machine.name: row.facts.machine for row in rows}.values():
        if machine.travel_not_checked:
            remarks.append(f"- {machine.name}: not checked: {machine.travel_not_checked}")
    setups = setups_in(rows)
    remarks += [*_not_counted_of(setups), *_pushed_aside_of(setups)]
    return _columns(cells, width) + "".join(f"{line}\n" for line in remarks)


def offsets_told(setups: Sequence[Setup]) -> str:
    """A station's offsets with its pins, a line for each nest, then what is noteworthy, a line
    each."""
    told = [_offset_told(setup, len(setups) > 1) for setup in setups]
    rows = [OffsetRow(setup.facts, setup.nest.name, setup) for setup in setups]
    return "".join(f"{line}\n" for line in (*told, *_remarks_once(rows)))


def _offset_told(setup: Setup, among_several: bool) -> str:
    own, start = setup.printed.own, setup.relative_to or ""
    x, y = (counted_from(start, each) for each in (own.x, own.y))
    pins = " ".join(pin.hole for pin in setup.located.pins)
    return (
        f"{setup.name if among_several else setup.facts.station.name}: pins in {pins}; "
        f"{setup.work_offset or 'no code'} X {x} Y {y} {own.unit}; setup {setup.fingerprint}"
    )


def _columns(cells: Sequence[Sequence[str]], width: int) -> str:
    """The table with the columns that tell rows apart, and a line with what all share."""
    units, angles = ({row[at] for row in cells} for at in (_UNIT, _ANGLE))
    told = []
    left_out = set()
    if len(units) == 1:
        left_out.add(_UNIT)
        told.append(f"unit {next(iter(units))}")
    if not any(map(_turned, angles)):
        left_out.add(_ANGLE)
        told.append("no angle")
    shown = [at for at in range(len(_HEADS)) if at not in left_out]
    text = table(
        [_HEADS[at] for at in shown],
        [[row[at] for at in shown] for row in cells],
        "".join("r" if _UNIT < at < len(_HEADS) - 1 else "." for at in shown),
        width=width,
        texts=(0, 1),
    )
    told.append("within: in any one direction, 95 %")
    return f"{text}({'; '.join(told)})\n"


def _turned(angle: str) -> bool:
    return angle != "-" and float(angle) != 0


def _remarks_once(rows: Sequence[OffsetRow]) -> list[str]:
    """What is noteworthy, each thing once, with all nests that share it."""
    nests: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        for text in _remarks(row):
            mine = nests.setdefault((row.facts.station.name, text), [])
            if row.nest not in mine:
                mine.append(row.nest)
    return [
        text if text.startswith("! ") else f"! {station} {', '.join(names)}: {text}"
        for (station, text), names in nests.items()
    ]


def _not_counted_of(setups: Sequence[Setup]) -> list[str]:
    """What is not given, each source once, with the stations of which that holds if not of all."""
    of: dict[str, list[Setup]] = {}
    for setup in setups:
        for name in setup.budget.not_given:
            of.setdefault(name, []).append(setup)
    alike: dict[str, list[str]] = {}
    for name, found in of.items():
        alike.setdefault(_stations(found, setups), []).append(name)
    return [f"- {whose}{_not_counted(names)}" for whose, names in alike.items()]


def _pushed_aside_of(setups: Sequence[Setup]) -> list[str]:
    """How far pins give way, a line for each machine, with the stations where they do not all."""
    of: dict[str, list[Setup]] = {}
    for setup in setups:
        if pushed_aside([setup]):
            of.setdefault(setup.facts.machine.name, []).append(setup)
    return [f"- {_stations(found, setups)}{pushed_aside(found)}" for found in of.values()]


def _stations(some: Sequence[Setup], setups: Sequence[Setup]) -> str:
    """The stations of some setups, to stand before what is told of them; nothing where all are."""
    names = dict.fromkeys(setup.facts.station.name for setup in some)
    every = {setup.facts.station.name for setup in setups}
    return "" if len(names) == len(every) else f"{', '.join(names)}: "


def registered_text(
    rows: Sequence[OffsetRow],
    chosen: str | None,
    kept: Sequence[str],
    gone: Sequence[str],
    changed: Sequence[str] | None,
    warnings: Sequence[str] = (),
    taken: Sequence[str] = (),
) -> str:
    """What was taken for a station, what became of its keys, then its offsets."""
    lines = [*taken]
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
    """An uncertainty, rounded up to two decimals in mm or four in inches: never told too small."""
    if known(value_mm) is None:
        return "not known"
    return fixed(in_unit(value_mm, unit), 2 if unit == "mm" else 4, UP)


def how_well(part: str, setups: Sequence[Setup], blank: str = " ") -> str:
    """How well the part comes back and lies, in words, and what is not counted (`reckoned`)."""
    return " ".join(filter(None, (reckoned(part, setups, blank), not_counted_told(setups))))


def not_counted_told(setups: Sequence[Setup]) -> str:
    """What is not counted, as a sentence."""
    missing = not_counted(setups)
    return f"{missing[0].upper()}{missing[1:]}." if missing else ""


def reckoned(part: str, setups: Sequence[Setup], blank: str = " ") -> str:
    """How well the part comes back and lies, in words; `blank` stands before units and signs.

    `part` is what is spoken of, such as "The part". What cannot be reckoned is said to be unknown.
    """
    unit: Unit = setups[0].printed.own.unit
    back_mm = max(setup.budget.repeat95_worst_mm for setup in setups)
    lies_mm = max(setup.budget.u95_worst_mm for setup in setups)
    back, lies = (f"{spread(each, unit)}{blank}{unit}" for each in (back_mm, lies_mm))
    place = f"{calculated_place(setups[0])} (any one direction, 95{blank}%)"
    if known(lies_mm) is None:
        text = f"How well {part.lower()} lies and comes back is not known: nothing of it is given."
    elif known(back_mm) is None:
        text = f"{part} lies within {lies} of {place}; how well it comes back is not known."
    else:
        text = (
            f"{part} comes back within {back} of its usual place; it lies within {lies} of {place}."
        )
    return text


def calculated_place(setup: Setup) -> str:
    """What a part lies within a figure of: on the bed only where nobody surveyed that."""
    return "the calculated place" if setup.budget.bed_known else "its place on the bed"


def not_counted(setups: Sequence[Setup]) -> str:
    """What no figure of uncertainty holds, since nobody stated it; empty where all is given."""
    missing = _not_given(setups)
    return _not_counted(missing) if missing else ""


def not_counted_plainly(setups: Sequence[Setup]) -> str:
    """The same on paper, as a sentence in words of the bench; bare stock has no jig's edges."""
    told = ", ".join(_PLAIN.get(name, name) for name in _not_given(setups))
    return f"Not counted, since nobody gave it: {told}." if told else ""


_PLAIN = {
    "pin body": "tolerance of pins",
    "jig edge": "straightness of edges",
    "lean": "lean of pins",
    "hole position": "places of holes",
    "machine": "the machine's own error",
}
"""What sources are called on a sheet, where their names are not what a person would call them."""


def _not_given(setups: Sequence[Setup]) -> list[str]:
    return list(dict.fromkeys(name for setup in setups for name in setup.budget.not_given))


def _not_counted(names: Sequence[str]) -> str:
    return f"not given, not counted: {', '.join(names)}"


def skew_matters(setup: Setup) -> bool:
    """Whether an angle that is not written is told beside how well a part lies; `explain` has it
    whatever it is.

    Half of what a part may lie off anyway makes that a ninth more (JCGM 100, 5.1.2). Where that is
    not known it is told wherever it shows.
    """
    return bool(setup.unwritten) and setup.skew_mm >= _SHARE_TOLD * setup.budget.u95_worst_mm


_SHARE_TOLD = 0.5


def pushed_aside(setups: Sequence[Setup], *, brief: bool = False) -> str:
    """That X and Y hold how far pins give way, on one machine; empty where none does. `brief`: not
    what follows of it for the figures beside it."""
    pins = [(setup, pin) for setup in setups for pin in setup.located.pins if pin.shift_mm > 0]
    if not pins:
        return ""
    unit = setups[0].printed.own.unit
    least, most = (figure(end(pin.shift_mm for _, pin in pins), unit) for end in (min, max))
    leans = any(pin_fit(setup.facts, pin.pin, pin.at_mm).lean_mm for setup, pin in pins)
    text = (
        f"X and Y hold half the play{' and lean' if leans else ''} of pressed pins, "
        f"{most if least == most else f'{least} to {most}'} {unit}: "
    )
    if brief:
        return f"{text}what is not pressed home lies off by that and more"
    return (
        f"{text}{_not_pressed(pins)} not pressed home lies off by that and more, which is not "
        "counted"
    )


def _not_pressed(pins: Sequence[tuple[Setup, SetPin]]) -> str:
    """`a jig that is`, of what lies against pins."""
    things = sorted({setup.facts.thing for setup, _ in pins})
    return f"{'a ' if things[0] == 'jig' else ''}{' or '.join(things)} that is"


def _remarks(row: OffsetRow) -> list[str]:
    """What is noteworthy of a nest; a refusal, which names its station itself, has its mark."""
    setup = row.setup
    if setup is None:
        return [f"! {row.refused}"]
    found = [finding.text for finding in setup.findings]
    for reason in setup.stopped:
        if reason not in setup.findings:
            found.append(f"NO BLOCK: {reason.text}")
    if skew_matters(setup) and setup.too_skew is None:
        found.append(skew_told(setup))
    return found
