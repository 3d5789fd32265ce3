"""The setup sheet of a station: one page, its figures the block's figures digit for digit."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pincorner.render.drawings import bed_map, close_up
from pincorner.render.offsets import spread
from pincorner.render.templates import render_page
from pincorner.render.visible import visible
from pincorner.setups.refusals import why_no_block
from pincorner.setups.setup import Setup
from pincorner.units import Unit, fixed, in_unit

PAPERS = {"a4": ("A4", 210.0, 297.0), "letter": ("Letter", 215.9, 279.4)}
"""CSS name, width and height in mm: ISO 216, and 8.5 by 11 inches."""

_NOTE_SHOWN = 160
_WARNINGS_SHOWN = 4
_TURNS = {
    0: "",
    90: ", turned a quarter counter-clockwise",
    180: ", turned half round",
    270: ", turned a quarter clockwise",
}


def render_sheet(
    setups: Sequence[Setup], take_out: Sequence[str], paper: str, overrides: Path | None
) -> str:
    """The page of one station as HTML.

    `setups` are all its nests; `take_out` the holes near it with other stations' pins; `paper` a
    key of PAPERS; `overrides` a folder whose templates come first. Raises BadInput where a
    template of that folder has a fault.
    """
    first = setups[0]
    facts = first.facts
    name, width_mm, height_mm = PAPERS[paper]
    return render_page(
        "sheet.html.j2",
        overrides,
        paper=name,
        size=_letters(setups, take_out),
        crowded=len(setups) > 2,
        width=f"{width_mm:g}mm",
        height=f"{height_mm:g}mm",
        station=visible(facts.station.name),
        jig=visible(facts.holder.name),
        bare=facts.station.stock is not None,
        bed=visible(facts.bed.name),
        machine=visible(facts.machine.name),
        dialect=visible(facts.dialect.name),
        note=_note(facts.station.note),
        jig_note=_note(facts.holder.note),
        close_up=close_up(setups, take_out, 122.0, 96.0),
        bed_map=bed_map(facts.bed, [first], 60.0, named=False),
        pins=_pins(first),
        corner_hole=first.located.corner_hole,
        take_out=list(take_out),
        nests=[_nest(setup) for setup in setups],
        steps=_steps(first, take_out),
        z_how=_z_how(first),
        z_groups=_z_groups(setups),
        stocks=_stocks(setups),
        skew=_skew(setups),
        one_nest_a_block=first.facts.dialect.rotation == "g68",
        counted=f" from {first.relative_to}" if first.relative_to else "",
        turned=first.printed.angle if _turns(first) else "",
        unlock="G69" if first.facts.dialect.rotation == "g68" else "",
        checks=[_check(setup) for setup in setups],
        sentence=_sentence(setups),
        not_given=", ".join(first.budget.not_given),
        program=_program(first),
        warnings=_warnings(setups),
        lines=range(3 if len(setups) < 5 else 1),
    )


def _letters(setups: Sequence[Setup], take_out: Sequence[str]) -> str:
    """Size of the letters: smaller for many nests and long texts, so that one page holds them.

    The drawing takes what room is left. The tests print the fullest pages and count the sheets.
    """
    facts = setups[0].facts
    texts = [facts.station.name * 2, facts.holder.name * 2, *_warnings(setups)]
    texts += [_note(facts.station.note), _note(facts.holder.note), ", ".join(take_out) * 2]
    lines = sum(map(len, texts)) / 100 + 2.2 * (len(setups) - 1)
    return "10pt" if lines < 6 else "8.8pt" if lines < 9 else "7.6pt"


def _note(text: str | None) -> str:
    plain = " ".join(visible(text or "").split())
    return plain if len(plain) <= _NOTE_SHOWN else f"{plain[:_NOTE_SHOWN]} .. (see pincorner show)"


def _pins(setup: Setup) -> list[dict[str, str]]:
    located = setup.located
    if located.on_dowels:
        where = {"round": "in the round hole", "slot": "in the slot"}
    else:
        where = {"edge": f"{located.edge_side} edge", "stop": f"{located.stop_side} edge"}
    return [
        {
            "hole": pin.hole,
            "pin": visible(pin.pin.name),
            "role": pin.role,
            "where": where[pin.role],
            "body": fixed(pin.pin.body, 2),
        }
        for pin in located.pins
    ]


def _nest(setup: Setup) -> dict[str, Any]:
    rule = setup.facts.station.z
    return {
        "name": visible(setup.nest.name),
        "code": setup.work_offset or "no code",
        "fingerprint": setup.fingerprint,
        "own": setup.printed.own,
        "other": setup.in_other_unit(),
        "angle": setup.printed.angle,
        "writes_angle": setup.writes_angle,
        "program_angle": setup.printed.program_angle if setup.facts.station.program_angle else "",
        "zero": {
            "surface": "the bed surface",
            "seat": "the seat under the stock",
            "stock-top": "the top of the stock",
        }[rule.zero],
        "keyed": [word for word in setup.printed.words if word.by_hand],
    }


def _steps(setup: Setup, take_out: Sequence[str]) -> list[str]:
    """What to do, in order, before anything is checked."""
    facts, located = setup.facts, setup.located
    holes = [pin.hole for pin in located.pins]
    steps = []
    if take_out:
        which = f"in {_and(take_out)}" if len(take_out) < 8 else "listed above under out"
        steps.append(f"Take out the pins {which}: they belong to other stations.")
    names = {pin.pin.name for pin in located.pins}
    if len(names) == 1:
        steps.append(f"Put pins {names.pop()} into {_and(holes)}.{_empty(setup)}")
    else:
        each = ", ".join(f"{pin.pin.name} into {pin.hole}" for pin in located.pins)
        steps.append(f"Put pin {each}.{_empty(setup)}")
    lay = f"Brush off chips. Lay {'the stock' if facts.station.stock else facts.holder.name}"
    if facts.station.under:
        unit = setup.printed.own.unit
        under = fixed(in_unit(facts.station.under, unit), 1 if unit == "mm" else 3)
        lay += f" on a sheet {under} {unit} thick"
    steps.append(f"{lay}{_against(setup, holes)} Clamp; nothing may rock.")
    return [visible(step) for step in steps]


def _against(setup: Setup, holes: Sequence[str]) -> str:
    """How the jig goes to its pins."""
    located = setup.located
    if located.on_dowels:
        return f", its round hole over the pin in {holes[0]}, its slot over the pin in {holes[1]}."
    return (
        f"{_TURNS[setup.facts.station.turn]}, its {located.edge_side} edge against "
        f"{_and(holes[:2])}; slide it along them until its {located.stop_side} edge meets "
        f"{holes[2]}."
    )


def _empty(setup: Setup) -> str:
    hole = setup.located.corner_hole
    return f" {hole}, at the inside corner, stays empty." if hole else ""


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _check(setup: Setup) -> dict[str, str]:
    """The figures to check one nest by."""
    own = setup.printed.own
    thing = "the stock's" if setup.facts.station.stock else "the jig's"
    corner = f"{thing} corner at the pins"
    if setup.located.on_dowels:
        corner = f"the pin in {setup.located.pins[0].hole}"
    return {
        "nest": visible(setup.nest.name),
        "code": setup.work_offset or "the code",
        "stands": _from_corner(own.right_of_corner, own.behind_corner, own.unit, corner),
        "reads": (
            f"with {setup.relative_to} selected the read-out shows"
            if setup.relative_to
            else "the machine reads"
        ),
        "x": own.x,
        "y": own.y,
    }


def _turns(setup: Setup) -> bool:
    """Whether the controller turns its axes by an angle that shows."""
    return setup.writes_angle and float(setup.printed.angle) != 0


def _z_how(setup: Setup) -> str:
    """How Z comes into the code: touch, reference, machine, or keyed where the block cannot."""
    word = next((word for word in setup.printed.words if word.axis == "Z"), None)
    return "keyed" if word is not None and word.by_hand else setup.facts.station.z.set


def _z_groups(setups: Sequence[Setup]) -> list[dict[str, Any]]:
    """Nests whose Z reads the same everywhere, told together."""
    groups: dict[tuple[str, ...], list[Setup]] = {}
    for setup in setups:
        own = setup.printed.own
        same = (own.tip_on_surface, own.tip_on_stock, own.tip_on_plate, own.stock[2])
        groups.setdefault(same, []).append(setup)
    return [
        {
            "codes": _and([each.work_offset or f"nest {each.nest.name}" for each in group]),
            "own": group[0].printed.own,
        }
        for group in groups.values()
    ]


def _stocks(setups: Sequence[Setup]) -> list[str]:
    """Sizes of the stock, with the nest's name where nests differ; the first few."""
    sizes = {
        f"{' × '.join(setup.printed.own.stock)} {setup.printed.own.unit}": setup.nest.name
        for setup in reversed(setups)
    }
    texts = [
        size if len(sizes) == 1 else f"{visible(nest)}: {size}" for size, nest in sizes.items()
    ]
    return texts[::-1][:4]


def _skew(setups: Sequence[Setup]) -> str:
    """The largest deviation of an angle that is not written; empty where there is none."""
    worst = max(setups, key=lambda setup: setup.skew_mm)
    if float(worst.printed.skew) == 0:
        return ""
    return (
        f" Angle {worst.printed.angle} degrees is not written: up to {worst.printed.skew} mm over "
        "the stock."
    )


def _from_corner(right: str, behind: str, unit: str, corner: str) -> str:
    """`25.0 mm right of and 20.0 mm behind the jig's corner at the pins`."""
    parts = [
        f"{text.lstrip('-')} {unit} {words[0] if not text.startswith('-') else words[1]}"
        for text, words in ((right, ("right of", "left of")), (behind, ("behind", "in front of")))
        if float(text) != 0
    ]
    return f"over the zero, {' and '.join(parts) or 'at'} {corner}"


def _sentence(setups: Sequence[Setup]) -> str:
    unit: Unit = setups[0].printed.own.unit
    back = spread(max(setup.budget.repeat95_worst_mm for setup in setups), unit)
    lies = spread(max(setup.budget.u95_worst_mm for setup in setups), unit)
    return (
        f"The part comes back within {back} {unit}; it lies within {lies} {unit} of the "
        "calculated place (in any one direction, 95 %)."
    )


def _program(setup: Setup) -> dict[str, Any] | None:
    program = setup.facts.program
    if program is None:
        return None
    unit = program.units or setup.printed.own.unit
    decimals = 2 if unit == "mm" else 4
    tools = [
        {
            "number": number,
            "diameter": fixed(in_unit(tool.diameter, unit), decimals),
            "stickout": fixed(in_unit(tool.stickout, unit), decimals) if tool.stickout else "",
        }
        for number, tool in sorted(program.tools.items(), key=lambda item: int(item[0]))
    ]
    cycle = ""
    if program.cycle:
        minutes, seconds = divmod(round(program.cycle), 60)
        cycle = f"{minutes}:{seconds:02d} min"
    return {
        "name": visible(program.name),
        "file": visible(program.file),
        "unit": unit,
        "stated": program.units is not None,
        "tools": tools,
        "cycle": cycle,
    }


def _warnings(setups: Sequence[Setup]) -> list[str]:
    """Findings, and why there is no block, each once."""
    texts = [finding.text for setup in setups for finding in setup.findings]
    for setup in setups:
        texts += [f"NO BLOCK: {finding.text}" for finding in why_no_block(setup)]
    shown = [visible(text) for text in dict.fromkeys(texts)]
    more = len(shown) - _WARNINGS_SHOWN
    return shown if more <= 0 else [*shown[:_WARNINGS_SHOWN], f"and {more} more, see explain"]
