"""The setup sheet of a station: one page, its figures the block's figures digit for digit."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pincorner.characters import visible
from pincorner.render.drawing.bed import bed_map
from pincorner.render.drawing.close_up import close_up
from pincorner.render.drawing.scene import map_scene
from pincorner.render.pages.fitting import PageTexts, figures_pt, fit
from pincorner.render.pages.steps import (
    CROWDED,
    Reason,
    angle_in_words,
    check_steps,
    reasons_for_no_block,
    setup_steps,
    stocks,
    z_step,
)
from pincorner.render.templating.templates import render_page
from pincorner.render.text.offsets import spread
from pincorner.setups.setup import Setup
from pincorner.units import Unit, figure, fixed, in_unit

PAPERS = {"a4": ("A4", 210.0, 297.0), "letter": ("Letter", 215.9, 279.4)}
"""CSS name, width and height in mm: ISO 216, and 8.5 by 11 inches."""

_SIDES_MM, _ENDS_MM = 20.6, 19.0
"""Margins of both sides together, and of both ends, with a little for rounding to pixels."""
_CLOSE_UP_MM, _MAP_MM = 122.0, 60.0
_OTHER_UNIT_MM = 56.0
"""The table of the same figures in the other unit, and the gap before it."""
_NOTE_SHOWN = 160
_WARNINGS_SHOWN = 4
_NAME_SHOWN = 24
_NO_PIN_NEAR = "no other station's pin stands near"


def render_sheet(
    setups: Sequence[Setup], take_out: Sequence[str], paper: str, overrides: Path | None
) -> str:
    """The page of one station as HTML.

    `setups` are all its nests; `take_out` the holes near it with other stations' pins; `paper` a
    key of PAPERS; `overrides` a folder whose templates come first. Raises BadInput where a
    template of that folder has a fault.
    """
    name, page_width_mm, page_height_mm = PAPERS[paper]
    width_mm, height_mm = page_width_mm - _SIDES_MM, page_height_mm - _ENDS_MM
    values = _values(setups, take_out)
    size_pt, drawing_mm = fit(_page_texts(setups, values), width_mm, height_mm)
    most_pt = 11.0 if values["crowded"] else 19.0
    large_pt = figures_pt(_columns(values), width_mm - _OTHER_UNIT_MM, most_pt)
    return render_page(
        "sheet.html.j2",
        overrides,
        **values,
        paper=name,
        size=f"{size_pt:g}pt",
        figures=f"{large_pt:g}pt",
        width=f"{width_mm:g}mm",
        height=f"{height_mm:g}mm",
        close_up=close_up(setups, take_out, _CLOSE_UP_MM, drawing_mm),
        bed_map=bed_map(map_scene(setups[0].facts.bed, setups[:1]), _MAP_MM, named=False),
    )


def _values(setups: Sequence[Setup], take_out: Sequence[str]) -> dict[str, Any]:
    """What the template prints, drawings apart."""
    first, facts = setups[0], setups[0].facts
    written = [setup for setup in setups if setup.work_offset] or setups
    reasons = reasons_for_no_block(written)
    steps = setup_steps(first, take_out)
    return {
        "crowded": len(setups) > CROWDED,
        "station": visible(facts.station.name),
        "jig": visible(facts.holder.name),
        "bare": facts.station.stock is not None,
        "bed": visible(facts.bed.name),
        "bed_short": _cut(visible(facts.bed.name)),
        "machine": visible(facts.machine.name),
        "dialect": visible(facts.dialect.name),
        "note": _note(facts.station.note),
        "jig_note": _note(facts.holder.note),
        "pins": _pins(first),
        "corner_hole": first.located.corner_hole,
        "take_out": ", ".join(take_out) or _NO_PIN_NEAR,
        "nests": [_nest(setup) for setup in setups],
        "counted": f" from {first.relative_to}" if first.relative_to else "",
        "unit": first.printed.own.unit,
        "angles": angle_in_words(setups),
        "steps": steps if reasons else [*steps, z_step(written)],
        "checks": [] if reasons else check_steps(written),
        "reasons": reasons,
        "sentence": _sentence(setups),
        "programs": _programs(setups),
        "stocks": stocks(setups),
        "warnings": _warnings(setups, reasons),
        "lines": range(3 if len(setups) < 5 else 1),
    }


def _columns(values: dict[str, Any]) -> list[tuple[str, str, bool]]:
    """Heads and longest texts of the offsets, and whether these are the large figures."""
    nests, counted = values["nests"], values["counted"]
    head = f"{values['unit']}{counted}"
    columns = [
        ("nest", [each["short"] for each in nests] if len(nests) > 1 else [], False),
        ("code", [each["code"] for each in nests], False),
        (f"X {head}", [each["own"].x for each in nests], True),
        (f"Y {head}", [each["own"].y for each in nests], True),
        ("Z", [each["own"].z for each in nests], True),
        ("R", [each["angle"] for each in nests if each["writes_angle"]], True),
        ("Z tip on bed", [each["own"].tip_on_surface for each in nests], True),
        ("on stock", [each["own"].tip_on_stock for each in nests], False),
        ("on plate", [each["own"].tip_on_plate for each in nests], False),
    ]
    longest = [(head, max(texts, key=len, default=""), large) for head, texts, large in columns]
    return [column for column in longest if column[1]]


def _page_texts(setups: Sequence[Setup], values: dict[str, Any]) -> PageTexts:
    """The same as plain text, to reckon how large the letters can be."""
    box, reasons = setups[0].facts.bed.box, values["reasons"]
    who = [f"Jig {values['jig']} on bed {values['bed']}, machine {values['machine']}"]
    who += [note for note in (values["note"], values["jig_note"]) if note]
    pins = [(pin["pin"], pin["where"]) for pin in values["pins"]]
    beside = ["Program", *values["stocks"]]
    for program in values["programs"]:
        beside += [program["name"], program["file"], "unit, about", "tools"]
        beside += [f"T{tool['number']}" for tool in program["tools"]]
    return PageTexts(
        name=values["station"],
        who=who,
        nests=[setup.nest.name for setup in setups],
        warnings=values["warnings"],
        bed=box.depth / box.width,
        pins=[*pins, ("", "stays empty")] if values["corner_hole"] else pins,
        take_out=values["take_out"],
        keyed=0 if reasons else sum(len(nest["keyed"]) for nest in values["nests"]),
        angle=" ".join(values["angles"]),
        steps=[step.striptags() for step in (*values["steps"], *values["checks"])],
        big=[text for each in reasons for text in ("No block", each.text, *each.ways_out)],
        beside=beside,
        spread=values["sentence"],
        records=len(values["lines"]),
    )


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
            "body": figure(pin.pin.body, setup.printed.own.unit, 2),
        }
        for pin in located.pins
    ]


def _nest(setup: Setup) -> dict[str, Any]:
    return {
        "name": visible(setup.nest.name),
        "short": _cut(visible(setup.nest.name)),
        "code": setup.work_offset or "no code",
        "fingerprint": setup.fingerprint,
        "own": setup.printed.own,
        "other": setup.in_other_unit(),
        "angle": setup.printed.angle,
        "writes_angle": setup.writes_angle,
        "keyed": [word for word in setup.printed.words if word.by_hand],
    }


def _sentence(setups: Sequence[Setup]) -> str:
    unit: Unit = setups[0].printed.own.unit
    back = _within(max(setup.budget.repeat95_worst_mm for setup in setups), unit)
    lies = _within(max(setup.budget.u95_worst_mm for setup in setups), unit)
    text = (
        f"The part comes back within {back}; it lies within {lies} of the calculated place (in any "
        "one direction, 95 %)."
    )
    not_given = ", ".join(setups[0].budget.not_given)
    text += f" Not given, so not counted: {not_given}." if not_given else ""
    not_checked = setups[0].facts.machine.travel_not_checked
    return f"{text} Not checked: {not_checked}." if not_checked else text


def _within(value_mm: float, unit: Unit) -> str:
    """An uncertainty; zero says that nothing is given to reckon it from."""
    return "what is not known" if value_mm == 0 else f"{spread(value_mm, unit)} {unit}"


def _programs(setups: Sequence[Setup]) -> list[dict[str, Any]]:
    """The programs of all nests, each once; with the nests' names where they differ."""
    found: dict[str, list[Setup]] = {}
    for setup in setups:
        if setup.program is not None:
            found.setdefault(setup.program.name, []).append(setup)
    told = []
    for mine in found.values():
        program = _program(mine[0])
        nests = ", ".join(visible(each.nest.name) for each in mine)
        told.append({**program, "nests": nests if len(mine) < len(setups) else ""})
    return told


def _program(setup: Setup) -> dict[str, Any]:
    program = setup.program
    assert program is not None
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


def _warnings(setups: Sequence[Setup], reasons: Sequence[Reason]) -> list[str]:
    """Findings, nests that the block leaves out, and that there is no block.

    What stands on the page as a reason for that is left out.
    """
    told = [reason.alone for reason in reasons]
    texts = [
        visible(finding.text)
        for setup in setups
        for finding in setup.findings
        if finding not in told
    ]
    if any(setup.work_offset for setup in setups):
        bare = [setup for setup in setups if not setup.work_offset]
        texts += [f"Not in the block: {reason.text}" for reason in reasons_for_no_block(bare)]
    shown = list(dict.fromkeys(texts))
    if reasons:
        shown.insert(0, _NO_BLOCK)
    more_texts = len(shown) - _WARNINGS_SHOWN
    if more_texts <= 0:
        return shown
    return [*shown[:_WARNINGS_SHOWN], f"and {more_texts} more, see explain"]


_NO_BLOCK = (
    "NO BLOCK for this station: do not key in the figures below. The reason and the ways out stand "
    "after the steps."
)
