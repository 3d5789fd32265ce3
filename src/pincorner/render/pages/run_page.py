"""The page of a run: the round, then for each visit what cuts, what the machine is over, and when
the drawing leaves room for the next piece.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import Path

from markupsafe import Markup

from pincorner.characters import visible
from pincorner.geometry.outline import Box, Outline, bounds
from pincorner.geometry.pose import XY
from pincorner.render.blocks.block import pins_in_words
from pincorner.render.drawing.bed import BED_LOOKS, Looks, draw, draw_bed
from pincorner.render.drawing.canvas import Canvas, Look, text_width
from pincorner.render.drawing.jig_marks import FRONT_LOOK
from pincorner.render.drawing.scene import front_shapes, jig_shape
from pincorner.render.templating.templates import render_page
from pincorner.render.text.dates import State
from pincorner.render.text.runs import (
    CAUTIONS,
    bound_told,
    code_cells,
    end_told,
    load_told,
    rest_told,
    some_of,
    told_gap,
)
from pincorner.render.text.timelines import gain_told, timeline_drawing, waits_text
from pincorner.runs.gaps import covered, gap_figure, gap_to
from pincorner.runs.plan import RunPlan
from pincorner.runs.windows import NoWindow, Visit, Window
from pincorner.units import clock

_EDGE = Look(0.35)
_HATCH = Look(0.25, stroke="#000")
_WAY = Look(0.5, dashes=(1.6, 1.0))
_BED: Looks = {kind: look for kind, look in BED_LOOKS.items() if kind in ("bed", "track", "solid")}
_RUNNING: Looks = {"jig": Look(0.9), "front": FRONT_LOOK}
_OTHER: Looks = {"jig": Look(0.35, fill="#fff", opacity=0.85), "front": FRONT_LOOK}
_WIDE_MM = 188.0
_WIDEST_MM = 44.4
_CROWDED_MM = (24.5, 20.5)
"""Height of a drawing where four visits stand on a page: A4, Letter, which is shorter."""
_LETTERS_MM = 3.25
"""Type whose capitals are 2.3 mm high."""
_ROW_MM = 3.7
_MOST_WINDOWS, _MOST_CROWDED = 4, 2
"""Sentences on the windows of one station, where few stations run and where many do."""
_MOST_TOOLS, _MOST_PHASES = 6, 40
"""Of a visit: tools that are named one by one, attendances that are drawn."""
_HATCH_MM = 2.2
"""Between the strokes of a hatching, on paper: it survives a copier."""


def over_drawing(plan: RunPlan, name: str, wide_mm: float, high_mm: float) -> Markup:
    """The bed while one station runs: hatched what the machine is over while it cuts, dashed what
    it is over on its ways there and away; seen from where people stand. It fits a place on paper.
    """
    setups = {each[0].facts.station.name: each[0] for each in plan.stations}
    running = setups[name]
    bed = running.facts.bed.box
    canvas = Canvas(bed.grown(12.0), wide_mm, f"while {name} runs", running.person)
    _widen(canvas, high_mm)
    draw_bed(canvas, running.facts.bed, _BED)
    to_bed = running.bed_in_machine.inverse()
    reach = bounds(running.bed_in_machine.points(bed.outline))
    moving = plan.situation.moving
    if moving is not None:
        spans = [span for visit in plan.turns.visits[name] for span in visit.spans]
        for cutting, look in ((False, _WAY), (True, _EDGE)):
            boxes = [s.box for s in spans if (s.what in ("cutting", "stop")) == cutting]
            if boxes:
                swept = to_bed.points(covered(moving, boxes, reach))
                if cutting:
                    canvas.strokes(hatched(swept, _HATCH_MM * canvas.scale), _HATCH)
                canvas.polygon(swept, look)
    shown = {n: s for n, s in setups.items() if s.facts.bed.name == running.facts.bed.name}
    for each, setup in shown.items():
        draw(canvas, (jig_shape(setup), *front_shapes(setup)), _RUNNING if each == name else _OTHER)
    middles = {each: bounds(setup.footprint_in_bed()).middle for each, setup in shown.items()}
    for each, word in _words_at(canvas, middles, list(setups)).items():
        canvas.text(middles[each], word, _LETTERS_MM, bold=each == name)
    return canvas.svg()


def _drawn(plan: RunPlan) -> str:
    """What the drawings of the visits have of the machine, as a legend; empty where nothing."""
    spans = [s for visits in plan.turns.visits.values() for visit in visits for s in visit.spans]
    cuts = {span.what in ("cutting", "stop") for span in spans}
    told = ["hatched: the machine while it cuts"] if True in cuts else []
    told += ["dashed: the machine on its ways"] if False in cuts else []
    if plan.situation.moving is None or not told:
        return ""
    legend = "; ".join(told)
    return f"{legend[0].upper()}{legend[1:]}. "


def _words_at(canvas: Canvas, middles: Mapping[str, XY], order: Sequence[str]) -> dict[str, str]:
    """What is written upon each jig: its station's name where all of every one shows and covers no
    other one, else the numbers in the table, of all."""
    boxes = {name: _word_box(canvas, at, name) for name, at in middles.items()}
    crowded = {
        name
        for name, box in boxes.items()
        if not canvas.view.encloses(box)
        or any(box.meets(other) for each, other in boxes.items() if each != name)
    }
    return {name: str(order.index(name) + 1) if crowded else visible(name) for name in middles}


def _word_box(canvas: Canvas, middle: XY, word: str) -> Box:
    """What a word takes up, as the bed is seen."""
    (x, y), high = canvas.turned(middle), 0.5 * _LETTERS_MM * canvas.scale
    wide = _wide_on_paper(word) * canvas.scale / 2
    return Box(x - wide, y - high, x + wide, y + high)


def _widen(canvas: Canvas, high_mm: float) -> None:
    """More room beside the bed, so that the drawing is no higher than it may be on paper."""
    view, window = canvas.view, canvas.window
    wide = canvas.paper_mm * view.depth / (high_mm - canvas.strip_mm)
    more = max(wide - view.width, 0.0) / 2
    canvas.look_at(
        window._replace(left=window.left - more, right=window.right + more)
        if canvas.x_lies_across
        else window._replace(front=window.front - more, back=window.back + more)
    )


def hatched(outline: Outline, step_mm: float) -> list[tuple[XY, XY]]:
    """Strokes at 45 degrees across a convex outline."""
    found = []
    values = [x + y for x, y in outline]
    level = math.ceil(min(values) / step_mm) * step_mm
    while level < max(values):
        ends: list[XY] = []
        for (x1, y1), (x2, y2) in zip(outline, outline[1:] + outline[:1], strict=True):
            first, second = x1 + y1 - level, x2 + y2 - level
            if (first < 0) != (second < 0):
                share = first / (first - second)
                ends.append((x1 + share * (x2 - x1), y1 + share * (y2 - y1)))
        if len(ends) == 2:
            found.append((ends[0], ends[1]))
        level += step_mm
    return found


def strip_drawing(plan: RunPlan, name: str, paper_mm: float) -> Markup | str:
    """A visit from its start to the end of its program, with the windows below it.

    Nothing where it is too finely divided to be read.
    """
    work = next(work for work in plan.turns.works if work.name == name)
    if len(work.phases) > _MOST_PHASES:
        return f"too finely divided for a strip: {len(work.phases)} times at the machine"
    windows = [each for each in plan.turns.windows if each.runs == name]
    loaded = list(dict.fromkeys(each.loaded for each in windows))
    scale = max(work.spindle_s, 1.0) / paper_mm
    row = _ROW_MM * scale
    height = row * (1 + len(loaded))
    canvas = Canvas(Box(0.0, -height, work.spindle_s, 0.0), paper_mm, f"visit of {name}")
    now, labelled = 0.0, set[str]()
    longest = max(range(len(work.phases)), key=lambda at: work.phases[at].cut_s)
    for number, phase in enumerate(work.phases):
        begins = now + phase.attended_s + phase.approach_s
        ends = begins + phase.cut_s
        if phase.attended_s:
            _bar(canvas, now, now + phase.attended_s, 0.0, row, Look(0.2, fill="#000"))
        _bar(canvas, now + phase.attended_s, ends, 0.0, row, Look(0.25, fill="#fff"))
        middle = ((now + phase.attended_s + ends) / 2, -0.5 * row)
        words = (f"{name} cuts", "cuts") if number == longest else ("cuts",)
        room = (ends - now - phase.attended_s) / scale
        word = next((each for each in words if _wide_on_paper(each) <= room), "")
        if word:
            canvas.text(middle, word, _LETTERS_MM, halo=False)
        for window in windows:
            if window.phase == number:
                at = -row * (1 + loaded.index(window.loaded))
                last = min(begins + window.at_least_s, ends)
                look = Look(0.35, dashes=() if window.kind == "hard" else (1.2, 0.8))
                _bar(canvas, begins, last, at, row, look)
                is_first = window.loaded not in labelled
                words = (window.loaded, str(plan.line.order.index(window.loaded) + 1))
                if _label(canvas, words, (begins, last), at - 0.5 * row, is_first=is_first):
                    labelled.add(window.loaded)
        now = ends
    return canvas.svg()


def _label(
    canvas: Canvas, words: Sequence[str], bar: tuple[float, float], middle: float, *, is_first: bool
) -> bool:
    """A name in its bar; where it is too long for it before the first of its row, else nowhere.

    `words`: the name, and what stands for it where it has no room before the first one either.
    """
    (begins, ends), off = bar, 0.8 * canvas.scale
    for word in words if is_first else words[:1]:
        wide = _wide_on_paper(word) * canvas.scale
        if wide + 2 * off <= ends - begins:
            at, anchor = begins + off, "start"
        elif is_first and wide + off <= begins:
            at, anchor = begins - off, "end"
        else:
            continue
        canvas.text((at, middle), word, _LETTERS_MM, anchor=anchor, bold=True, halo=False)
        return True
    return False


def _wide_on_paper(word: str) -> float:
    """How wide a word is, mm."""
    return text_width(word, _LETTERS_MM, bold=True)


def _bar(canvas: Canvas, start: float, end: float, top: float, row: float, look: Look) -> None:
    canvas.polygon(Box(start, top - 0.94 * row, end, top - 0.06 * row).outline, look)


def machine_over(plan: RunPlan, name: str) -> tuple[list[str], list[str]]:
    """Stations whose loading zone the machine is in: while it cuts; on its ways alone."""
    moving = plan.situation.moving
    every = list(plan.situation.stations)
    if moving is None:
        return every, []
    cuts: list[str] = []
    ways: list[str] = []
    spans = [span for visit in plan.turns.visits[name] for span in visit.spans]
    for station in plan.situation.stations.values():
        over = {
            span.what in ("cutting", "stop")
            for span in spans
            if gap_to(moving, station.zone, span.box) < 0
        }
        if True in over or station.name == name:
            cuts.append(station.name)
        elif over:
            ways.append(station.name)
    return cuts, ways


def window_in_words(window: Window, plan: RunPlan) -> str:
    """A window as paper tells it."""
    figure = gap_figure(window.nearest_mm, plan.unit)
    return (
        f"In the drawing nothing comes nearer than {figure} {plan.unit} to {window.loaded}'s "
        f"loading zone from the first cut (line {window.from_line}) until {window.end_event} (line "
        f"{window.end_line}); by lengths and feeds {clock(window.at_least_s // 1)} or longer. The "
        "drawing does not know the machine."
    )


def _window_told(window: Window, plan: RunPlan, *, short: bool) -> str:
    """The first window of a page's row in full, a further one in short, and what then comes."""
    then = end_told(window)
    if not short:
        return f"{window_in_words(window, plan)} {then[0].upper()}{then[1:]}."
    figure = gap_figure(window.nearest_mm, plan.unit)
    return (
        f"From line {window.from_line} until {window.end_event} (line {window.end_line}): "
        f"{clock(window.at_least_s // 1)} or longer, nothing nearer than {figure} {plan.unit}; "
        f"{then}."
    )


def render_run_page(plan: RunPlan, paper: str, state: State, overrides: Path | None) -> str:
    """The page of a run. Raises BadInput where a shop's own template has a fault."""
    line = plan.line
    count = len(plan.stations)
    terms = plan.situation.terms
    high_mm = 36.0 if count < 4 else _CROWDED_MM[paper == "letter"]
    return render_page(
        "run.html.j2",
        overrides,
        run=visible(plan.run.name),
        note=visible(plan.run.note or ""),
        paper=paper,
        state=state.parts,
        parts=str(line.parts),
        crowded=count > 3,
        stations=[_station(plan, at) for at in range(count)],
        visits=[_visit(plan, at, high_mm) for at in range(count)] if count > 1 else [],
        codes=[[visible(cell) for cell in code_cells(each)] for each in plan.codes],
        reach=told_gap(plan.reach_mm, plan.unit),
        least=told_gap(terms.least_gap_mm, plan.unit),
        override=f"{terms.override * 100:.6g} %",
        bound=bound_told(plan),
        drawn=_drawn(plan),
        waits=visible(waits_text(line)),
        loads=[visible(load_told(load, plan)) for load in line.loads] if count > 1 else [],
        timeline=timeline_drawing(line, _WIDE_MM) if count == 1 else "",
        assumed=visible("; ".join(plan.assumed)),
        not_given=visible("; ".join(plan.not_given)),
        findings=_findings(plan),
        cautions=CAUTIONS,
    )


def _findings(plan: RunPlan) -> list[str]:
    """What the first page says of the whole run; visits say what is of their own station."""
    if len(plan.stations) == 1:
        return [visible(found.text) for found in plan.findings]
    at_visits = {"program-unfit"} if not plan.situation.why_not else set[str]()
    return [
        visible(found.text)
        for found in plan.findings
        if not found.of and found.code not in at_visits
    ]


def _station(plan: RunPlan, at: int) -> dict[str, object]:
    setups, work = plan.stations[at], plan.turns.works[at]
    first = setups[0]
    sides = plan.situation.stations[work.name].zone.sides
    return {
        "number": str(at + 1),
        "name": _breakable(work.name),
        "jig": _breakable(first.facts.holder.name),
        "pins": pins_in_words(first),
        "load": clock(work.load_s),
        "spindle": clock(work.spindle_s),
        "parts": str(work.parts),
        "access": ", ".join(sides) if len(sides) < 4 else "any side",
        "totals": _totals(plan, at),
    }


def _breakable(name: str) -> Markup:
    """A name for a cell that is not to push others off the paper: long words may break."""
    return Markup("<wbr>").join(re.sub(r"(\w{8})(?=\w{4})", r"\1\n", visible(name)).split("\n"))


def _totals(plan: RunPlan, at: int) -> list[str]:
    """A round, parts an hour, gain and loads with the stations up to this one."""
    line = plan.timelines[at]
    return [
        f"{clock(line.round_s)} ({clock(line.bound_s)})",
        f"{line.parts_per_hour:.1f}",
        gain_told(plan.timelines[at - 1], line) if at else "",
        f"{clock(line.cutting_loads_s)} / {clock(line.standing_loads_s)}",
    ]


def _visit(plan: RunPlan, at: int, high_mm: float) -> dict[str, object]:
    """The three boxes of a visit, and its strip."""
    name = plan.line.order[at]
    codes = [each for each in plan.codes if each.station == name]
    visits, setups = plan.turns.visits[name], plan.stations[at]
    over, ways = machine_over(plan, name)
    return {
        "number": str(at + 1),
        "name": visible(name),
        "code": _whole(each.code or "no code" for each in codes),
        "files": ", ".join(dict.fromkeys(visible(v.sitting.file or "-") for v in visits)),
        "fingerprints": _whole(setup.fingerprint for setup in setups),
        "tools": _tools(visits),
        "over": ", ".join(map(visible, over)),
        "ways": ", ".join(map(visible, ways)),
        "drawing": over_drawing(plan, name, _WIDEST_MM, high_mm),
        "next": _next_pieces(plan, at),
        "strip": strip_drawing(plan, name, _WIDE_MM),
        "stands": _stands(plan, name),
    }


def _whole(tokens: Iterable[str]) -> Markup:
    """Codes or fingerprints, between which a line may end, and in none of them."""
    return Markup(", ").join(Markup('<span class="token">{}</span>').format(t) for t in tokens)


def _tools(visits: Sequence[Visit]) -> str:
    """The tools of a visit in their order, as the spindle gets them; many by their numbers."""
    tools = [tool for visit in visits for tool in visit.sitting.tools]
    if len(tools) <= _MOST_TOOLS:
        return ", then ".join(f"T{tool}" for tool in tools)
    once = sorted(set(tools))
    some = ", ".join(f"T{tool}" for tool in once) if len(once) <= 3 else f"{len(once)} tools"
    return f"{some}, called {len(tools)} times"


def _next_pieces(plan: RunPlan, at: int) -> list[dict[str, object]]:
    """For each other station its windows in words, or why there is none; those with windows first.

    The first is told in full, the others in short: they are the same kind of sentence. Stations
    that have none for one and the same reason are told together.
    """
    order = plan.line.order
    found: list[dict[str, object]] = []
    without: dict[str, list[str]] = {}
    told: list[list[Window]] = []
    most = _MOST_WINDOWS if len(order) < 4 else _MOST_CROWDED
    for step in range(1, len(order)):
        place = (at + step) % len(order)
        pair = (order[at], order[place])
        windows = [each for each in plan.turns.windows if (each.runs, each.loaded) == pair]
        if windows:
            load_s = plan.situation.stations[order[place]].load_s
            pins = f"{pins_in_words(plan.stations[place][0])}; {clock(load_s)}"
            kept = {load.phase for load in plan.line.loads if (load.runs, load.loaded) == pair}
            texts = list(map(visible, _windows_told(windows, told, plan, most, kept)))
            found.append(
                {"name": visible(order[place]), "pins": pins, "windows": texts, "none": ""}
            )
            told.append(windows)
        for none in plan.turns.no_windows:
            if (none.runs, none.loaded) == pair:
                without.setdefault(_no_window(none, plan), []).append(order[place])
    for why, names in without.items():
        found.append({"name": visible(", ".join(names)), "windows": [], "none": visible(why)})
    return found


def _windows_told(
    windows: Sequence[Window],
    before: Sequence[Sequence[Window]],
    plan: RunPlan,
    most: int,
    kept: Collection[int],
) -> list[str]:
    """A station's windows, in short where others were told `before` them; those that differ from
    others in nothing but how near anything comes, in one sentence. Of more than `most` some are
    told, among them those that are loaded in, the phases `kept`."""
    if any(list(map(_but_nearest, each)) == list(map(_but_nearest, windows)) for each in before):
        nearest = [w.nearest_mm for w in windows]
        figures = nearest if len(nearest) <= most else [min(nearest)]
        told = ", then ".join(f"{gap_figure(each, plan.unit)} {plan.unit}" for each in figures)
        return [f"Same lines and end: nothing nearer than {told}."]
    room = most if len(windows) <= most else most - 1 if kept or not before else 0
    some, rest = some_of(windows, room, kept)
    texts = [
        _window_told(each, plan, short=bool(before) or bool(number))
        for number, each in enumerate(some)
    ]
    return texts + (
        [f"{rest_told(rest, plan.unit, 'more' if some else 'windows')}."] if rest else []
    )


def _but_nearest(window: Window) -> Window:
    return window._replace(loaded="", nearest_mm=0.0)


def _no_window(none: NoWindow, plan: RunPlan) -> str:
    """Why there is none, in short: the line stands on the terminal and in the JSON."""
    if none.why or none.gap_mm is None:
        return none.why
    figure = gap_figure(none.gap_mm, plan.unit)
    if none.gap_mm < 0:
        return f"{figure.lstrip('-')} {plan.unit} inside its loading zone"
    least = told_gap(plan.situation.terms.least_gap_mm, plan.unit)
    return f"{figure} {plan.unit} away, less than {least}"


def _stands(plan: RunPlan, name: str) -> str:
    """Where the spindle stands at the end, if that is above a station."""
    texts = [f.text for f in plan.findings if f.code == "ends-over-station" and f.of == name]
    return visible("; ".join(texts))
