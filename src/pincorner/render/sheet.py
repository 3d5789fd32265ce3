"""The setup sheet of a station: one page, its figures the block's figures digit for digit."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pincorner.render.drawings import bed_map, close_up
from pincorner.render.offsets import spread
from pincorner.render.steps import (
    nest_check,
    setup_steps,
    skew_in_words,
    stocks,
    turns_axes,
    z_groups,
    z_how,
)
from pincorner.render.templates import render_page
from pincorner.render.visible import visible
from pincorner.setups.refusals import why_no_block
from pincorner.setups.setup import Setup
from pincorner.units import Unit, fixed, in_unit

PAPERS = {"a4": ("A4", 210.0, 297.0), "letter": ("Letter", 215.9, 279.4)}
"""CSS name, width and height in mm: ISO 216, and 8.5 by 11 inches."""

_NOTE_SHOWN = 160
_WARNINGS_SHOWN = 4
_NAME_SHOWN = 18


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
        bed_short=_cut(visible(facts.bed.name)),
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
        steps=setup_steps(first, take_out),
        z_how=z_how(first),
        z_groups=z_groups(setups),
        stocks=stocks(setups),
        skew=skew_in_words(setups),
        one_nest_a_block=first.facts.dialect.rotation == "g68",
        counted=f" from {first.relative_to}" if first.relative_to else "",
        turned=first.printed.angle if turns_axes(first) else "",
        unlock="G69" if first.facts.dialect.rotation == "g68" else "",
        checks=[nest_check(setup) for setup in setups],
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
    facts, pins = setups[0].facts, setups[0].located.pins
    texts = [facts.station.name * 2, facts.holder.name * 2, *_warnings(setups)]
    texts += [_note(facts.station.note), _note(facts.holder.note), ", ".join(take_out) * 2]
    texts += [facts.bed.name * 2, facts.machine.name, *(pin.pin.name for pin in pins)]
    if facts.program:
        texts += [facts.program.name * 2, facts.program.file * 2]
    lines = sum(map(len, texts)) / 100 + 2.2 * (len(setups) - 1)
    for most, size in ((6.5, "10pt"), (9.5, "8.8pt"), (15.0, "7.6pt")):
        if lines < most:
            return size
    return "6.6pt"


def _cut(name: str) -> str:
    """A name that fits a narrow column; the steps tell it in full."""
    return name if len(name) <= _NAME_SHOWN else f"{name[:_NAME_SHOWN]}.."


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
            "pin": _cut(visible(pin.pin.name)),
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
    """Findings, and why there is no block; one reason that several nests have is told once."""
    texts = [finding.text for setup in setups for finding in setup.findings]
    reasons: dict[str, list[str]] = {}
    for setup in setups:
        for finding in why_no_block(setup):
            reasons.setdefault(finding.code, []).append(finding.text)
    for first, *others in reasons.values():
        more = f" (so {len(others)} more nests)" if others else ""
        texts.append(f"NO BLOCK: {first}{more}")
    shown = [visible(text) for text in dict.fromkeys(texts)]
    more_texts = len(shown) - _WARNINGS_SHOWN
    if more_texts <= 0:
        return shown
    return [*shown[:_WARNINGS_SHOWN], f"and {more_texts} more, see explain"]
