"""How much of a page a sheet's text takes, so that picture and steps have the rest of it.

An estimate: each text in lines of its column, with letters a little wider than they are printed,
and the heights that the style sheet gives what stands around it. A browser may set a line less,
hardly one more; what tests print is held against it. Sizes are in mm, of letters in points.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from itertools import accumulate, combinations
from typing import Any, NamedTuple

from markupsafe import Markup

from pincorner.render.drawing.canvas import text_width

POINT_MM = 25.4 / 72
_LEADING, _SMALL_PT, _LARGE_PT = 1.21, 9.2, 20.0
_GAP_MM, _LISTS_MM, _APART_MM = 3.0, 56.0, 4.0
"""Between boxes; width of the lists beside the steps, and what is left free between them."""
_BOX_MM, _Z_BOX_MM, _ABOVE_MM = 2.8, 4.8, 1.8
"""Borders and padding of a box above and below together; what is left free above it."""
_HEAD_MM = 1.3
"""Below the title of a box, with its line."""
_ROW_MM = 7.1
"""A row of large figures, with its line."""
_CAUTION_MM = {"A4": 18.3, "Letter": 14.4}
_RECORD_MM = 16.8
_SPARE_MM = 0.8
_SAME_MM = 1e-9
_SET = 0.95
"""Texts are set so much narrower than `text_width` has them, which rounds every letter up."""


class Page(NamedTuple):
    """A sheet of paper for one station: its CSS name, width and height between the margins, width
    of the map beside the picture, size of letters where nothing else is said."""

    paper: str
    width_mm: float
    height_mm: float
    side_mm: float
    size_pt: float


def lines_of(text: str, width_mm: float, size_pt: float, *, bold: bool = False) -> int:
    """In how many lines a text is set, broken between words and behind hyphens; a longer word is
    broken itself."""
    width_mm = max(width_mm, size_pt * POINT_MM)  # beside a long name there may be no room at all
    lines, blank_mm = 0, _wide(" ", size_pt)
    for part in _plain(text).splitlines():
        used_mm, lines = 0.0, lines + 1
        for word, blank in re.findall(r"(\S+?-|\S+)(\s*)", part):
            wide_mm = _wide(word, size_pt, bold=bold)
            if used_mm and used_mm + wide_mm > width_mm:
                used_mm, lines = 0.0, lines + 1
            lines += int(wide_mm // width_mm)
            used_mm += wide_mm % width_mm + (blank_mm if blank else 0.0)
    return lines


def taken_mm(values: Mapping[str, Any], page: Page, steps_pt: float) -> float:
    """Height of all that stands on a sheet above and below its picture, `values` being what its
    template prints, steps and lists in letters of that size.

    Of sheets with one or two nests, whose notes are short; the record ends what is counted.
    """
    reasons, across = values["reasons"], _is_across(values)
    parts = [
        _header(values, page),
        _state(values, page),
        _boxes(values, page),
        _CAUTION_MM[page.paper],
    ]
    parts.append(_ABOVE_MM + _z_box(values, page.width_mm, page.size_pt) if across else 0.0)
    parts.append(_refused(values, page) if reasons else 0.0)
    parts += [_look_out(values, page), _notes(values, page)]
    if not reasons:
        parts += [_work(values, page, steps_pt), _RECORD_MM]
    return sum(parts) + _SPARE_MM


def beside_mm(values: Mapping[str, Any], page: Page, photo_mm: float) -> float:
    """Height of what stands beside the picture apart from the map: words, a photo so high."""
    told = f"Place on bed {values['bed']}. {values['bed_moves']}"
    photo = 1.5 + photo_mm + _high(f"jig {values['jig']}", page.side_mm, _SMALL_PT)
    return _high(told, page.side_mm, _SMALL_PT) + (photo if photo_mm else 0.0)


def _wide(text: str, size_pt: float, *, bold: bool = False) -> float:
    return _SET * text_width(text, size_pt * POINT_MM, bold=bold)


def _plain(text: str) -> str:
    return text.striptags() if isinstance(text, Markup) else text


def _high(text: str, width_mm: float, size_pt: float, *, bold: bool = False) -> float:
    """Height of a text in its lines; of no text nothing."""
    lines = lines_of(text, width_mm, size_pt, bold=bold)
    return lines * _LEADING * size_pt * POINT_MM


def _header(values: Mapping[str, Any], page: Page) -> float:
    """Station, code and setup: what is higher of both sides."""
    name, codes, large_pt = values["station"], [], 26.0
    for nest in values["nests"]:
        code_mm = _wide(nest["code"], large_pt, bold=True)
        setup_mm = _wide(nest["fingerprint"], _LARGE_PT, bold=True)
        named_mm = min(48.0, _wide(nest["name"], _SMALL_PT) + 10.0)
        codes += [6.2 + max(named_mm + code_mm, setup_mm)] if nest["name"] else [
            6.2 + max(code_mm, 20.0), 6.2 + setup_mm]  # fmt: skip
    if values["reasons"]:
        codes = [6.2 + _wide("NO BLOCK", large_pt, bold=True)]
    wide_mm = sum(codes) + 1.5 * (len(codes) - 1)
    rows = 1 if wide_mm <= 0.64 * page.width_mm else len(codes)
    left_mm = page.width_mm - (wide_mm if rows == 1 else max(codes)) - 4.0
    size_pt, leading = (34, 1.0) if len(name) <= 13 else (22, 1.0) if len(name) <= 26 else (15, 1.1)
    lead = f"jig {values['jig']}, {values['lies']}"
    high_mm = lines_of(name, left_mm, size_pt, bold=True) * size_pt * POINT_MM * leading
    high_mm += 1.0 + lines_of(lead, left_mm, 12) * 12 * POINT_MM * 1.2
    two = any(nest["name"] for nest in values["nests"]) and not values["reasons"]
    return 2.4 + max(high_mm, rows * (21.0 if two else 17.0))


def _state(values: Mapping[str, Any], page: Page) -> float:
    told = f"Bed {values['bed']}, machine {values['machine']}. {values['state']} "
    return 1.6 + _high(f"{told} A sheet with another setup is void.", page.width_mm, 9.6)


def _refused(values: Mapping[str, Any], page: Page) -> float:
    """Why there is no block."""
    width_mm, lines, small = page.width_mm - 8.4, 1, 0
    for reason in values["reasons"]:
        others = "; or ".join(map(_plain, reason["others"]))
        told = [reason["plain"], f"First: {_plain(reason['first'])}"]
        told += [f"Or: {others}."] if others else []
        lines += sum(lines_of(each, width_mm, 13) for each in told)
        small += lines_of(f"As reports say it: {reason['text']}.", width_mm, _SMALL_PT)
    gaps_mm = 0.8 * 4 * len(values["reasons"])
    return 6.8 + gaps_mm + 1.25 * POINT_MM * (13 * lines + _SMALL_PT * small)


def _is_open(values: Mapping[str, Any]) -> bool:
    """Whether sums in X and Y are left open, which take a box of their own."""
    sums = values["sums"]
    return bool(sums) and sums[0]["axis"] == "X" and not values["reasons"]


def _is_across(values: Mapping[str, Any]) -> bool:
    """Whether the box of Z lies across the page, below the others."""
    two = len(values["nests"]) == 2
    return not values["reasons"] and (two or _is_open(values))


def _boxes(values: Mapping[str, Any], page: Page) -> float:
    """Pins, what the machine reads or is keyed in, and Z: the highest of them."""
    width_mm, size_pt = page.width_mm, page.size_pt
    if values["reasons"]:
        return _ABOVE_MM + _pins_box(values, width_mm, size_pt)
    if _is_across(values):
        mine = _sums_box if _is_open(values) else _reads_box
        high = (_pins_box(values, 58.0, size_pt), mine(values, width_mm - 58.0 - _GAP_MM, size_pt))
        return _ABOVE_MM + max(high)
    middle_mm = width_mm - 66.0 - 67.0 - 2 * _GAP_MM
    return (
        _ABOVE_MM
        + max(
            _pins_box(values, 66.0, size_pt),
            _reads_box(values, middle_mm, size_pt),
            _z_box(values, 67.0, size_pt),
        )
        + (_sums_box(values, width_mm, size_pt) + _ABOVE_MM if values["sums"] else 0.0)
    )


def _pins_box(values: Mapping[str, Any], wide_mm: float, size_pt: float) -> float:
    inner_mm = wide_mm - 5.0
    high_mm = _BOX_MM + _HEAD_MM + _high(values["pins_title"], inner_mm, size_pt, bold=True)
    high_mm += sum(_high(text, inner_mm, size_pt) for text in values["measured"])
    for pin in values["pins"]:
        hole_mm = max(14.0, _wide(pin["hole"], _LARGE_PT, bold=True))
        told = f"{pin['pin']}; {pin['touches']}" if pin["pin"] else pin["touches"]
        lines = lines_of(told, inner_mm - 10.0 - hole_mm, size_pt)
        high_mm += 0.15 + max(7.2, 1.1 * lines * size_pt * POINT_MM)
    out = f"Take out: {', '.join(values['take_out'])}" if values["take_out"] else "Out: none"
    high_mm += 7.35 if values["corner_hole"] else 0.0
    return high_mm + 0.8 + _high(out, inner_mm, size_pt, bold=True)


def _reads_box(values: Mapping[str, Any], wide_mm: float, size_pt: float) -> float:
    inner_mm, reads = wide_mm - 5.0, values["reads"]
    high_mm = _BOX_MM + _HEAD_MM + _high(reads["title"], inner_mm, size_pt, bold=True)
    high_mm += 1.6 if reads["keyed"] else 0.0
    when = f"{reads['when']}, {values['unit']}:" if reads["when"] else ""
    high_mm += _high(when, inner_mm, _SMALL_PT) + _high(reads["note"], inner_mm, _SMALL_PT)
    for nest in values["nests"]:
        if nest["second"]:
            second = "then {before}G0 {words}{behind}: X {x} Y {y}".format(**nest["second"])
            high_mm += _high(second, inner_mm, size_pt, bold=True)
        if len(values["nests"]) == 1:
            high_mm += _ROW_MM * len(nest["rows"])
            continue
        row_mm = _wide(nest["code"], _LARGE_PT, bold=True)
        row_mm += sum(8.5 + _wide(text, _LARGE_PT, bold=True) for _, text in nest["rows"])
        high_mm += 0.15 + _ROW_MM * (1 if row_mm <= inner_mm else 2)
    return high_mm


def _sums_box(values: Mapping[str, Any], wide_mm: float, size_pt: float) -> float:
    reads, inner_mm = values["reads"], wide_mm - 5.0
    told = f"{reads['when']} what is added here, {values['unit']}. {reads['note']}"
    high_mm = _BOX_MM + _HEAD_MM + _high("Key in the sums, never by G92", inner_mm, size_pt)
    high_mm += _high(told, inner_mm, _SMALL_PT) if _is_open(values) else 0.0
    return high_mm + 4.3 + (_ROW_MM + 0.6) * len(values["sums"])


def _z_box(values: Mapping[str, Any], wide_mm: float, size_pt: float) -> float:
    z, inner_mm = values["z"], wide_mm - 7.0
    title = (
        f"Z: touch off with {', '.join(z['codes'])} selected; never type it into the offset table."
    )
    rest, groups = "Never by G92. Screen must then show:", len(z["groups"])
    if _is_across(values):
        high_mm = _high(f"{title} {rest}", inner_mm, size_pt, bold=True) + 4.3 + 7.1 * groups
    else:
        high_mm = _HEAD_MM + _high(title, inner_mm, size_pt, bold=True)
        high_mm += _high(rest, inner_mm, _SMALL_PT) + 7.1 * len(z["rows"])
        high_mm += 4.3 if groups > 1 else 0.0
    return _Z_BOX_MM + high_mm + sum(_high("The block", inner_mm, size_pt) for _ in z["written"])


def _look_out(values: Mapping[str, Any], page: Page) -> float:
    look, width_mm = [*values["angles"], *values["warnings"]], page.width_mm - 5.0
    if len(look) < 2:
        told = "".join(f"Look out: {text}" for text in look)
        high_mm = _high(told, width_mm, page.size_pt, bold=True)
    else:
        each = (_high(text, width_mm - 5.0, page.size_pt, bold=True) for text in look)
        high_mm = _high("Look out", width_mm, page.size_pt) + sum(each)
    return _ABOVE_MM + _BOX_MM + high_mm if look else 0.0


def _notes(values: Mapping[str, Any], page: Page) -> float:
    told = " ".join(f"Note of {note['of']}: {note['text']}" for note in values["notes"])
    return 1.2 + _high(told, page.width_mm, page.size_pt) if told else 0.0


def _work(values: Mapping[str, Any], page: Page, steps_pt: float) -> float:
    """Steps with the lists beside or below them, and how well the part lies."""
    small_pt, title_mm = lists_pt(steps_pt), _LEADING * steps_pt * POINT_MM
    well = " ".join(map(str, ("How well:", values["sentence"], values["play"], values["compared"])))
    if values["below"]:
        half_mm, third_mm = (page.width_mm - 5.0) / 2, (page.width_mm - 10.0) / 3
        steps = [_step(each, half_mm, steps_pt) for each in values["steps"]]
        lists = _lists(values, third_mm, small_pt)
        high_mm = title_mm + in_columns(steps, 2) + 1.2 + in_columns(lists, 3)
        return 1.2 + high_mm + 1.0 + _high(well, page.width_mm, _SMALL_PT)
    lists_mm, at_mm = sum(_lists(values, _LISTS_MM, small_pt)), title_mm
    narrow_mm = page.width_mm - _LISTS_MM - _APART_MM
    for step in values["steps"]:
        at_mm += _step(step, narrow_mm if at_mm < lists_mm + 1.0 else page.width_mm, steps_pt)
    beside = at_mm + 1.0 < lists_mm
    at_mm += 1.0 + _high(well, narrow_mm if beside else page.width_mm, _SMALL_PT)
    return 1.2 + max(at_mm, lists_mm + 1.0)


def lists_pt(steps_pt: float) -> float:
    """Size of the letters of lists beside steps of that size."""
    return max(_SMALL_PT, 0.95 * steps_pt)


def _step(step: str, width_mm: float, size_pt: float) -> float:
    return 0.35 + _high(step, width_mm - 6.0, size_pt)


def in_columns(heights: Sequence[float], count: int) -> float:
    """How high columns are that are as low as they can be, what stands in them not being broken."""
    ends = accumulate(heights, initial=0.0)
    spans = sorted({high - low for low, high in combinations(ends, 2)})

    def fits(tallest: float) -> bool:
        columns, used, most = 1, 0.0, tallest + _SAME_MM
        for each in heights:
            if used + each > most:
                columns, used = columns + 1, 0.0
            used += each
        return columns <= count and max(heights) <= most

    return spans[bisect_left(spans, True, key=fits)] if spans else 0.0


def _lists(values: Mapping[str, Any], wide_mm: float, size_pt: float) -> list[float]:
    """Heights of what the lists hold and where columns may break: clamps, programs, lines."""
    high = [*_standing(values, wide_mm, size_pt)]
    texts = [values["clear"]]
    for each in values["deepest"]:
        figures = "; ".join(f"{z} with {codes}" if codes else z for z, codes in each["figures"])
        texts.append(f"Deepest cut {figures}: {each['of']}.")
    for program in values["programs"]:
        high.append(1.0 + _high("Program", wide_mm, size_pt))
        told = [f"{program['name']}, nest {program['nests']}", program["file"], _run_told(program)]
        texts += [*told, values["posted"]]
        row_mm = _LEADING * size_pt * POINT_MM + 0.6
        high += [row_mm] * (len(program["tools"]) + bool(program["tools"]))
    if not values["programs"] and not values["shows"]:
        texts.append("Program none on file")
    if values["jig_size"]:
        texts.append(f"Jig {values['jig_size']['size']}, {values['jig_size']['seat']}")
    texts += [f"Stock {stock['nests']}: {stock['size']}" for stock in values["stocks"]]
    texts.append(values["sizes"])
    line_mm = _LEADING * size_pt * POINT_MM
    return [*high, *[line_mm] * sum(lines_of(text, wide_mm, size_pt) for text in texts)]


def _run_told(program: Mapping[str, Any]) -> str:
    unit = program["unit"] if program["stated"] else "not stated"
    return f"unit {unit}, about {program['cycle']}" if program["cycle"] else f"unit {unit}"


def _standing(values: Mapping[str, Any], wide_mm: float, size_pt: float) -> Iterable[float]:
    """Title, a clamp each, and what their figures are."""
    if not values["standing"]:
        return
    yield 1.0 + _high("Clamps, and what else stands up", wide_mm, size_pt, bold=True)
    for each in values["standing"]:
        beside_mm = 9.0 + _wide(f"{each['height']} high", size_pt)
        named_mm = max(4.6, _high(each["name"], max(wide_mm - beside_mm, 5.0), size_pt))
        yield named_mm + _high(each["place"], wide_mm - 7.4, size_pt)
    if any(each["place"] for each in values["standing"]):
        yield _high("To each clamp's middle (mm).", wide_mm, size_pt)
