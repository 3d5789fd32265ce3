"""The setup sheet of a station: its figures are the block's figures, digit for digit.

The page is laid out by its style sheet alone; what does not fit flows to a second page with the
station's name. Here stands what is said, and how large the picture is.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import zip_longest
from pathlib import Path
from typing import Any, NamedTuple

from markupsafe import Markup, escape

from pincorner.characters import visible
from pincorner.documents.beds import Pin
from pincorner.geometry.outline import bounds
from pincorner.program.check.surroundings import Deepest, deepest_cut
from pincorner.render.drawing.bed import bed_map, paper_size_of_map
from pincorner.render.drawing.close_up import close_up, shown_standing, tallest_of_use
from pincorner.render.drawing.lie import (
    bed_moves_told,
    clamp_told,
    drawing_told,
    lies_told,
    pins_touch,
)
from pincorner.render.drawing.scene import map_scene
from pincorner.render.pages.room import Page, beside_mm, lists_pt, taken_mm
from pincorner.render.pages.second_point import second_point
from pincorner.render.pages.steps import (
    CROWDED,
    SHORT_NOTE,
    Reason,
    after_g69,
    angle_in_words,
    in_turn,
    keys_in,
    minus,
    posted_in_words,
    reasons_for_no_block,
    setup_steps,
    signed,
    z_how,
)
from pincorner.render.templating.templates import render_page
from pincorner.render.text.dates import State
from pincorner.render.text.offsets import not_counted_plainly, pushed_aside, reckoned
from pincorner.setups.printed import printed_length, short
from pincorner.setups.setup import Setup
from pincorner.standing import highest_of, standing_of
from pincorner.units import DOWN, UP, Unit, figure

PAPERS = {"a4": ("A4", 210.0, 297.0), "letter": ("Letter", 215.9, 279.4)}
"""CSS name, width and height in mm: ISO 216, and 8.5 by 11 inches."""

_SIDES_MM = 20.0
"""Margins of both sides together."""
_MARGINS_MM = 15.5
"""Above and below together."""
_PICTURE_MM = {"a4": 72.0, "letter": 66.0}
"""Height of the close-up where the sheet takes two pages anyway, and that it is to have before the
letters of steps grow."""
_LEAST_PICTURE_MM, _LOW_PICTURE_MM = 50.0, 58.0
"""Height that it gives way to, so that all is on one page, and below which it gets a line of the
record's."""
_LINE_MM = 5.4
"""Height of a line of the record."""
_STEPS_PT = (11.5, 11.0, 10.5, 10.0)
"""Sizes of the letters of steps, where there is room; else they are as the rest of the page."""
_SIDE_MM = 54.0
"""Width of the map beside the close-up."""
_MAP_TALLEST_MM, _MAP_LEAST_MM, _PHOTO_MM = 52.0, 38.0, 42.0
_MANY_STANDING = 8
"""So many clamps and solids ask for a close-up as wide as the page."""
_LINE_SHOWN = 150
"""Characters of a program that is told in its step."""


class Photo(NamedTuple):
    """A jig's picture: as a data URL, empty where there is none to show, and what is to be said."""

    data: str
    told: str = ""


def render_sheet(
    setups: Sequence[Setup],
    take_out: Sequence[str],
    paper: str,
    overrides: Path | None,
    state: State | None = None,
    photo: Photo | None = None,
    shop_unit: Unit | None = None,
) -> str:
    """The sheet of one station as HTML.

    `setups` are all its nests; `take_out` the holes near it with other stations' pins; `paper` a
    key of PAPERS; `overrides` a folder whose templates come first; `state` that of the registry
    (None: of documents alone); `shop_unit` that of the registry, whose people may want the offset
    in it. Raises BadInput where a template of that folder has a fault.
    """
    values = _values(setups, take_out)
    values["state"] = "" if state is None else state.told
    values["photo"] = {"data": photo.data, "told": visible(photo.told)} if photo else None
    other = _other_unit(setups, shop_unit)
    values["compared"] = "" if other is None else str(other)
    wide = len(setups) > CROWDED or len(shown_standing(setups)) > _MANY_STANDING
    values["below"] = not _short_lists(values) or wide
    page, near_mm = _page(setups, paper, wide=wide)
    high_mm, steps_pt = _picture_and_steps(setups, values, page, near_mm, paper, wide=wide)
    return render_page(
        "sheet.html.j2",
        overrides,
        **values,
        other_unit=other,
        paper=page.paper,
        width=f"{page.width_mm:g}mm",
        size=f"{page.size_pt:g}pt",
        steps_size=f"{steps_pt:g}pt",
        lists_size=f"{lists_pt(steps_pt):.4g}pt",
        side=f"{_SIDE_MM:g}mm",
        wide=wide,
        close_up=close_up(setups, take_out, near_mm, high_mm, drawing_told(setups)),
        bed_map=small_map(setups[0], high_mm - beside_mm(values, page, 0.0)),
    )


def _page(setups: Sequence[Setup], paper: str, *, wide: bool) -> tuple[Page, float]:
    """The page, and how wide its close-up is."""
    css_name, page_width_mm, page_height_mm = PAPERS[paper]
    width_mm = page_width_mm - _SIDES_MM
    size_pt = 9.5 if paper == "letter" or len(setups) == 2 else 9.7
    page = Page(css_name, width_mm, page_height_mm - _MARGINS_MM, _SIDE_MM, size_pt)
    return page, width_mm if wide else width_mm - _SIDE_MM - 3.0


def _picture_and_steps(
    setups: Sequence[Setup],
    values: dict[str, Any],
    page: Page,
    near_mm: float,
    paper: str,
    *,
    wide: bool,
) -> tuple[float, float]:
    """How high the close-up is, and how large the letters of steps: both take what room the rest
    leaves, so that the sheet is one page.

    Letters grow while the picture is as high as usual, then the picture takes the rest, as far as
    its station grows by that; a low one gets a line of the record's. What cannot be one page, or is
    told in tables, is as usual.
    """
    usual_mm = _PICTURE_MM[paper] * (1.27 if wide else 1.0)
    if wide or values["long_notes"]:
        return usual_mm, page.size_pt
    photo_mm = _PHOTO_MM if values["photo"] and values["photo"]["data"] else 0.0
    beside = _MAP_LEAST_MM + beside_mm(values, page, photo_mm)
    most_mm = max(usual_mm, beside, tallest_of_use(setups, near_mm))
    for size_pt in (*_STEPS_PT, page.size_pt):
        room_mm = page.height_mm - taken_mm(values, page, size_pt)
        if room_mm >= max(beside, usual_mm):
            return min(most_mm, room_mm), size_pt
    if room_mm < _LOW_PICTURE_MM and values["lines"] and not values["reasons"]:
        values["lines"], room_mm = values["lines"][1:], room_mm + _LINE_MM
    if room_mm >= max(beside, _LEAST_PICTURE_MM):
        return room_mm, page.size_pt
    return usual_mm, page.size_pt


def small_map(setup: Setup, tallest_mm: float = _MAP_TALLEST_MM) -> Markup:
    """The whole bed with the station's place on it, as wide and high as the sheet has room."""
    scene = map_scene(setup.facts.bed, [setup])
    high_mm = min(max(tallest_mm, _MAP_LEAST_MM), _MAP_TALLEST_MM)
    map_mm = paper_size_of_map(scene.bed, _SIDE_MM, high_mm, scene.person, small=True)
    return bed_map(scene, map_mm, named=False)


def _values(setups: Sequence[Setup], take_out: Sequence[str]) -> dict[str, Any]:
    """What the template prints, drawings apart."""
    first, facts = setups[0], setups[0].facts
    written = [setup for setup in setups if setup.work_offset] or list(setups)
    reasons = reasons_for_no_block(written)
    notes = _notes(first)
    programs = _programs(setups)
    shows = _in_a_line(programs)
    return {
        "crowded": len(setups) > CROWDED,
        "station": visible(facts.station.name),
        "page_label": css_text(visible(facts.station.name)),
        "jig": visible(facts.holder.name),
        "bare": facts.is_bare,
        "bed": visible(facts.bed.name),
        "bed_moves": bed_moves_told(first),
        "machine": visible(facts.machine.name),
        "lies": visible(lies_told(first)),
        "notes": [note for note in notes if len(note["text"]) <= SHORT_NOTE],
        "long_notes": [note for note in notes if len(note["text"]) > SHORT_NOTE],
        "pins": _pins(first),
        "pins_title": _pins_title(first),
        "measured": _measured(first),
        "corner_hole": first.located.corner_hole,
        "take_out": list(take_out),
        "nests": [_nest(setup, alone=len(setups) == 1) for setup in written],
        "unit": first.printed.own.unit,
        "reads": _reads(written),
        "sums": _sums(written),
        "z": _z(written),
        "angles": [] if reasons else angle_in_words(setups),
        "sizes": _sizes(setups),
        "posted": posted_in_words(first),
        "shows": shows,
        "steps": [] if reasons else setup_steps(written, take_out, shows),
        "reasons": list(map(_reason, reasons)),
        "sentence": _sentence(setups),
        "play": "" if reasons else pushed_aside(setups, brief=True),
        "programs": programs if not shows else [],
        "stocks": stocks(setups),
        "jig_size": _jig_size(first),
        "standing": _standing(setups),
        "clear": "" if reasons else _clear(written),
        "deepest": [] if reasons else _deepest(written),
        "warnings": _warnings(setups, reasons),
        "lines": [1, 2],
    }


def _notes(setup: Setup) -> list[dict[str, str]]:
    """Notes that are not told in a step: that of the bed is told with the reference of the day, as
    far as it is short."""
    facts = setup.facts
    texts = [
        (f"station {visible(facts.station.name)}", facts.station.note),
        (f"jig {visible(facts.holder.name)}", facts.holder.note),
    ]
    if setup.reference is not None and len(visible(facts.bed.note or "")) > SHORT_NOTE:
        texts.append((f"bed {visible(facts.bed.name)}", facts.bed.note))
    notes = ({"of": whose, "text": visible(text or "")} for whose, text in texts)
    return [note for note in notes if note["text"].strip()]


def _reason(reason: Reason) -> dict[str, Any]:
    """A reason as the template prints it; options of commands, which are copied, are not broken."""
    first = f"{reason.first[:1].upper()}{reason.first[1:]}"
    return {
        "plain": reason.plain,
        "text": reason.text,
        "first": _options_whole(first if first.endswith(".") else f"{first}."),
        "others": list(map(_options_whole, reason.others)),
    }


def _options_whole(text: str) -> Markup:
    parts = re.split(r"(--[\w-]+)", text)
    kept = (Markup('<span class="t">{}</span>').format(each) for each in parts[1::2])
    return Markup("").join(
        part for pair in zip_longest(map(escape, parts[::2]), kept, fillvalue="") for part in pair
    )


def _short_lists(values: dict[str, Any]) -> bool:
    """Whether lists and sentences take no more room beside the steps than these."""
    lines = sum(2 if each["place"] else 1 for each in values["standing"])
    return lines + len(values["stocks"]) + len(values["nests"]) < 9


def css_text(text: str) -> str:
    """A text for a string of a style sheet: what could end it is escaped (CSS Syntax, 4.3.7).

    Long words may break: a place where they may, without width, stands in them.
    """
    escaped = re.sub(r"[^\w .+-]", lambda found: f"\\{ord(found[0]):x} ", text)
    return re.sub(r"(\w{24})(?=\w)", r"\1\\200b ", escaped)


def _pins_title(setup: Setup) -> str:
    pins = {pin.pin.name: pin.pin for pin in setup.located.pins}
    if setup.facts.station.measured is not None:
        return f"As measured {setup.facts.station.measured.when}"
    if len(pins) > 1:
        return "Pins in this order"
    return f"Pins in this order: {visible(next(iter(pins)))}"


def _measured(setup: Setup) -> list[str]:
    """What stands in the place of pins where the zero was measured."""
    measured, unit = setup.facts.station.measured, setup.printed.own.unit
    if measured is None:
        return []
    by = [f"Measured by {visible(measured.by)}."] if measured.by else []
    z = [] if measured.z is None else [
        f"Z of that day: {minus(printed_length(setup.facts, measured.z))} {unit}, with its tool. "
        "Note only: never key it in."
    ]  # fmt: skip
    return [
        f"Not held against pins: set the {setup.facts.thing} where it was marked.",
        "If it was moved, touch X and Y off anew.",
        *by,
        *z,
    ]


def _sizes(setups: Sequence[Setup]) -> str:
    """Sizes of pins and touch plate, to be compared with what is at hand; a cutter beside the
    stock has to stay off the pins, so it is said how high they stand, and at which Z they end."""
    setup = setups[0]
    own, unit = setup.printed.own, setup.printed.own.unit
    pins = {pin.pin.name: pin.pin for pin in setup.located.pins}
    told = [
        f"Pin {visible(name)}: {_thick(setup, pin)} thick, {_height(pin.height, unit)} {unit} high"
        f"{_top_told(setups, name)}."
        for name, pin in pins.items()
    ]
    return " ".join([*told, *([f"Touch plate: {own.plate} {unit}."] if own.plate else [])])


def _top_told(setups: Sequence[Setup], pin: str) -> str:
    """Where pins of a kind end, as Z of the program; nothing where the nests' zeros differ."""
    first = setups[0]
    if len({setup.heights.zero_mm for setup in setups}) > 1:
        return ""
    tops = [
        each.above_mm(first.heights.surface_mm)
        for each in standing_of(first)
        if each.kind == "pin" and each.name == pin
    ]
    if not tops:
        return ""
    z_mm = max(tops) - first.heights.zero_mm
    return f", top at Z {signed(printed_length(first.facts, z_mm, rounded=UP))}"


def _thick(setup: Setup, pin: Pin) -> str:
    """How thick a pin is where the work touches it, to the last decimal that is known."""
    return f"{short(printed_length(setup.facts, pin.body))} {setup.printed.own.unit}"


def _jig_size(setup: Setup) -> dict[str, str] | None:
    """The jig's own length and width, and how high it seats the stock; None for bare stock."""
    if setup.facts.is_bare:
        return None
    jig, unit = setup.facts.holder, setup.printed.own.unit
    box = bounds(jig.outline)
    size = " × ".join(short(printed_length(setup.facts, each)) for each in (box.width, box.depth))
    seat = short(printed_length(setup.facts, jig.seat))
    return {"size": f"{size} {unit}", "seat": f"seat {seat} {unit} high"}


def _pins(setup: Setup) -> list[dict[str, str]]:
    several = setup.located.pins_differ
    pins = zip(setup.located.pins, pins_touch(setup), strict=True)
    return [
        {
            "number": str(number),
            "hole": pin.hole,
            "pin": f"{visible(pin.pin.name)}, {_thick(setup, pin.pin)}" if several else "",
            "touches": visible(touches),
        }
        for number, (pin, touches) in enumerate(pins, 1)
    ]


def _nest(setup: Setup, *, alone: bool) -> dict[str, Any]:
    own = setup.printed.own
    rows = [("X", own.x), ("Y", own.y)]
    if setup.writes_angle and keys_in(setup):  # no machine position shows it
        rows.append(("R", f"{setup.printed.angle}°"))
    by_hand = {word.axis for word in setup.printed.words if word.by_hand}
    if "Z" in by_hand and own.z:
        rows.append(("Z", own.z))
    return {
        "name": "" if alone else visible(setup.nest.name),
        "code": visible(setup.work_offset or "no code"),
        "fingerprint": setup.fingerprint,
        "rows": [(axis, minus(text)) for axis, text in rows],
        "second": None if keys_in(setup) else _second(setup),
    }


def _second(setup: Setup) -> dict[str, str] | None:
    """The second place of the check: what is keyed behind G0, and what must then be read."""
    point = second_point(setup)
    if point is None:
        return None
    reference = setup.relative_to
    return {
        "before": f"with {visible(setup.work_offset or '')} selected " if reference else "",
        "words": point.words,
        "behind": f", with {reference} selected" if reference else "",
        "x": minus(point.x),
        "y": minus(point.y),
    }


def _reads(setups: Sequence[Setup]) -> dict[str, Any]:
    """What the box of offsets is: figures to be keyed in, or a check with nothing to key in.

    `when`: what is done before the display is looked at; `note`: what if it shows something else.
    `keyed`: whether its figures are to be keyed in as they stand.
    """
    first = setups[0]
    unit = first.printed.own.unit
    keyed = keys_in(first) and not first.relative_to
    if keyed:
        code = f" for {visible(first.work_offset or '')}" if len(setups) == 1 else ""
        title = f"Key these in{code}, {unit}"
        return {
            "title": title,
            "when": "",
            "note": "Into the offset table, never by G92.",
            "keyed": True,
        }
    each = f", {in_turn(setups)}" if len(setups) > 1 else ""
    reads = "machine position must read"
    wrong = "it is another block, setup or homing"
    if first.relative_to:
        reads = f"{after_g69(first)}with {first.relative_to} selected it must read"
        wrong = "it is another block or setup"
    none = "Key in none of these: the sums below are keyed in"
    return {
        "title": none if keys_in(first) else "Nothing to key in: the block writes these",
        "when": f"Check: spindle up, G0 X0 Y0{each}; {reads}",
        "note": f"If not, stop: {wrong}.",
        "keyed": False,
    }


def _sums(setups: Sequence[Setup]) -> list[dict[str, str]]:
    """Sums that are left open: what is read on the machine, and what is added to it."""
    return [
        {
            "code": visible(setup.work_offset or ""),
            "axis": word.axis,
            "from": f"{word.counts_from} {word.axis}",
            "add": signed(word.figure),
        }
        for setup in setups
        for word in setup.printed.words
        if word.by_hand and word.counts_from
    ]


def _z(setups: Sequence[Setup]) -> dict[str, Any]:
    """What the tip must read on bed and stock, nests that read the same together."""
    first = setups[0]
    groups: dict[tuple[str, ...], list[str]] = {}
    for setup in setups:
        own = setup.printed.own
        on_bed = (own.tip_on_surface, own.tip_on_plate, own.tip_on_sheet, own.plate_on_sheet)
        same = (*on_bed, own.tip_on_stock, own.plate_on_stock)
        groups.setdefault(same, []).append(visible(setup.code_or_nest))
    on = ("bed", "waste sheet", "stock")
    places = [f"{what} on {where}" for where in on for what in ("tip", "plate")]
    codes = list(dict.fromkeys(code for each in groups.values() for code in each))
    rows = [
        (place, [signed(same[at]) for same in groups])
        for at, place in enumerate(places)
        if next(iter(groups))[at]
    ]
    how = z_how(first)
    written = [setup.printed.own.z for setup in setups if setup.printed.own.z]
    return {
        "how": how,
        "codes": codes,
        "groups": [list(each) for each in groups.values()],
        "rows": rows,
        "written": [minus(each) for each in dict.fromkeys(written)] if how == "machine" else [],
    }


def _sentence(setups: Sequence[Setup]) -> str:
    text = " ".join(filter(None, (reckoned("The part", setups), not_counted_plainly(setups))))
    not_checked = setups[0].facts.machine.travel_not_checked
    return f"{text} Not checked: {not_checked}." if not_checked else text


def _other_unit(setups: Sequence[Setup], shop_unit: Unit | None) -> dict[str, Any] | None:
    """X and Y in the unit that is not the machine's, to compare only; None where all is in one."""
    own = setups[0].printed.own.unit
    programs = (each.program.units for each in setups if each.program is not None)
    if {own, shop_unit or "mm", *programs} <= {own, None}:
        return None
    written = [setup for setup in setups if setup.work_offset] or setups
    others = [(setup, setup.in_other_unit()) for setup in written]
    alone = len(written) == 1
    return {
        "name": "inches" if others[0][1].unit == "in" else "millimetres",
        "nests": [
            ("" if alone else visible(setup.work_offset or ""), minus(own.x), minus(own.y))
            for setup, own in others
        ],
    }


def _standing(setups: Sequence[Setup]) -> list[dict[str, str]]:
    """Clamps and what else stands up, by the marks of the picture, with heights above the bed."""
    unit = setups[0].printed.own.unit
    return [
        {
            "mark": each.mark,
            "name": visible(each.called),
            "place": clamp_told(setups[0], each) if each.kind == "clamp" else "",
            "height": f"{_height(each.top_mm, unit)} {unit}",
        }
        for each in shown_standing(setups)
    ]


def _height(value_mm: float, unit: Unit) -> str:
    """How high something stands that a cutter travels over: never told too low."""
    return figure(value_mm, unit, 1, UP)


def _clear(setups: Sequence[Setup]) -> str:
    """The tallest thing of the station, above the bed and as Z of its codes."""
    first, unit = setups[0], setups[0].printed.own.unit
    highest_mm = highest_of(first)
    as_z: dict[str, list[str]] = {}
    for setup in setups:
        above_mm = highest_mm - setup.heights.zero_mm
        z = signed(printed_length(setup.facts, above_mm, rounded=UP))
        as_z.setdefault(z, []).append(visible(setup.code_or_nest))
    told = "; ".join(f"Z {z} with {', '.join(codes)}" for z, codes in as_z.items())
    over_mm = highest_mm - min(setup.heights.stock_top_mm for setup in setups)
    over = f", {_height(over_mm, unit)} {unit} over the stock" if over_mm > 0 else ""
    clamps = "Highest here without clamps (none is on file)"
    if first.facts.station.clamps:
        clamps = "Highest here with the clamps listed"
    elif not any(each.kind == "solid" for each in standing_of(first)):
        clamps = "Highest here without clamps or screws (none is on file)"
    return f"{clamps}: {_height(highest_mm, unit)} {unit} above the bed ({told}){over}."


def _deepest(setups: Sequence[Setup]) -> list[dict[str, Any]]:
    """How deep a program may cut in the program's own zero, by what ends it; as far as it is
    known."""
    found: dict[str, dict[str, list[str]]] = {}
    for setup in setups:
        end = deepest_cut(setup)
        if end is not None:
            z, of = _deep_told(setup, end)
            codes = found.setdefault(of, {}).setdefault(z, [])
            codes.append(visible(setup.work_offset or "no code"))
    alone = sum(map(len, found.values())) == 1
    return [
        {"of": of, "figures": [(z, "" if alone else ", ".join(codes)) for z, codes in each.items()]}
        for of, each in found.items()
    ]


def _deep_told(setup: Setup, end: Deepest | str) -> tuple[str, str]:
    """The figure, and what ends it; the figure is left out where nobody knows what lies there."""
    if isinstance(end, str):
        return "", f"not known: {visible(end)}"
    unit, facts = setup.printed.own.unit, setup.facts
    z = signed(printed_length(facts, end.z_mm, rounded=UP))
    top_mm = setup.heights.stock_top_in_program_mm
    below = short(printed_length(facts, top_mm - end.z_mm, rounded=DOWN))
    of = f"down to {end.name}"
    if end.metal:
        of = f"{end.name} lies there, metal"
    elif end.into_mm:
        into = short(printed_length(facts, end.into_mm, rounded=DOWN))
        of = f"{into} {unit} into {end.name}"
    if setup.heights.zero_mm != setup.heights.stock_top_mm:
        of = f"{below} {unit} below the top of the stock, {of}"
    jig, heights = facts.holder, setup.heights
    beside_mm = heights.stock_bottom_mm + jig.top_mm - jig.seat - heights.zero_mm
    if not facts.is_bare and beside_mm > end.z_mm:
        of += f"; the jig beside it: Z {signed(printed_length(facts, beside_mm, rounded=UP))}"
    return f"Z {z} {unit}", visible(of)


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


def _in_a_line(programs: Sequence[dict[str, Any]]) -> str:
    """The one program with few tools in one line: it is told in its step, and needs no list."""
    if len(programs) != 1 or len(programs[0]["tools"]) > 3:
        return ""
    (program,) = programs
    stated = f"unit {program['unit'] if program['stated'] else 'not stated'}"
    tools = ", ".join(
        f"T{tool['number']} ⌀ {tool['diameter']}"
        + (f" sticks out {tool['stickout']}" if tool["stickout"] else "")
        for tool in program["tools"]
    )
    about = f"about {program['cycle']}" if program["cycle"] else ""
    told = "; ".join(filter(None, (program["file"], stated, about, tools)))
    line = f"{program['name']} ({told})"
    return line if len(line) <= _LINE_SHOWN else ""


def _program(setup: Setup) -> dict[str, Any]:
    program = setup.program
    assert program is not None
    unit = program.units or setup.printed.own.unit
    tools = [
        {
            "number": number,
            "diameter": short(figure(tool.diameter, unit)),
            "stickout": short(figure(tool.stickout, unit, rounded=UP)) if tool.stickout else "",
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


def stocks(setups: Sequence[Setup]) -> list[dict[str, str]]:
    """Sizes of the stock; with the nests that have each where they differ."""
    sizes: dict[str, list[str]] = {}
    for setup in setups:
        size = f"{setup.printed.own.stock_told} {setup.printed.own.unit}"
        sizes.setdefault(size, []).append(visible(setup.nest.name))
    return [
        {"size": size, "nests": "" if len(sizes) == 1 else f"nest {', '.join(nests)}"}
        for size, nests in sizes.items()
    ]


def _warnings(setups: Sequence[Setup], reasons: Sequence[Reason]) -> list[str]:
    """Findings, and nests that the block leaves out.

    What stands on the page as a reason for no block is left out.
    """
    told = [reason.alone for reason in reasons]
    texts = [
        visible(finding.text)
        for setup in setups
        for finding in setup.findings
        if finding not in told and finding.code != "own-max-skew"  # angle_in_words tells of it
    ]
    if any(setup.work_offset for setup in setups):
        bare = [setup for setup in setups if not setup.work_offset]
        texts += [f"Not in the block: {reason.text}" for reason in reasons_for_no_block(bare)]
    return list(dict.fromkeys(texts))
