"""A run's plan as text."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from pincorner.characters import visible
from pincorner.render.text.tables import table, wrapped
from pincorner.render.text.timelines import timeline_table, timeline_text, waits_text
from pincorner.runs.codes import NestCode
from pincorner.runs.gaps import gap_figure
from pincorner.runs.plan import RunPlan
from pincorner.runs.situation import Turns
from pincorner.runs.timeline import Load
from pincorner.runs.windows import NoWindow, Window
from pincorner.units import Unit, clock, in_unit

CAUTIONS = (
    "A distance between drawings is no safeguard. A wrong offset, jogging, a restart or a fault "
    "can take the machine anywhere in its travel, and cutters and parts fly farther.",
    "Guards, interlocks and the rules where you are decide whether anyone may reach in, among them "
    "29 CFR 1910.212, ISO 12100, ISO 13854, ISO 13855 and ISO 19085-3; ask those who are licensed "
    "to judge it.",
    "After a feed hold, jogging, a restart or a start from a line, and with a second person at the "
    "panel, nothing here holds for that visit. Stations that share vacuum or air: opening one can "
    "release the other, which is not known here.",
    "While the spindle stands: program ended, spindle at rest and held from starting.",
)
MOST_WINDOWS = 4
"""Of a pair of stations, told one by one on a terminal."""


def run_text(plan: RunPlan) -> str:
    """The plan for a terminal: windows first, the timeline after."""
    line = plan.line
    names = ", ".join(line.order)
    return "\n".join(
        (
            *wrapped(f"Run {visible(plan.run.name)}: {line.parts} parts at {visible(names)}", ""),
            "",
            *window_lines(plan),
            *(each for text in CAUTIONS for each in wrapped(text, "")),
            "",
            table(("station", "nest", "code", ""), [code_cells(each) for each in plan.codes]),
            timeline_table(plan.timelines) + _below_table(plan),
            timeline_text(line),
            *_loads_lines(plan),
            *(each for help in plan.helps for each in wrapped(f"would help: {help.text}")),
            *(each for text in plan.not_given for each in wrapped(f"not given: {text}")),
            *(each for text in plan.assumed for each in wrapped(f"taken as given: {text}")),
            *findings_lines(plan),
            "",
        )
    )


def window_lines(plan: RunPlan) -> Iterator[str]:
    """While each station runs: windows for each other, or why there is none."""
    terms = plan.situation.terms
    if len(plan.turns.order) < 2:
        yield "One station: it is loaded while the spindle stands."
        yield ""
        return
    yield from wrapped(
        f"Loading windows: {told_gap(terms.least_gap_mm, plan.unit)} or more between what moves "
        f"and the loading zone (reach {told_gap(plan.reach_mm, plan.unit)}), at no more than "
        f"{terms.override * 100:.6g} % feed. The drawing does not know the machine.", ""
    )  # fmt: skip
    for runs in plan.turns.order:
        yield ""
        yield from while_runs(plan.turns, runs, plan.unit, terms.least_gap_mm)
    yield ""


def while_runs(turns: Turns, runs: str, unit: Unit, least_gap_mm: float) -> Iterator[str]:
    """While a station runs: windows for each other one, or why there is none."""
    yield from wrapped(f"while {runs} runs ({_files(turns, runs)})")
    without: dict[str, list[str]] = {}
    for loaded in turns.order:
        pair = (runs, loaded)
        windows = [each for each in turns.windows if (each.runs, each.loaded) == pair]
        some, rest = some_of(windows, MOST_WINDOWS)
        for window in some:
            yield from wrapped(f"{loaded}: {window_told(window, unit)}", "    ", "  ")
        if rest:
            yield from wrapped(f"{loaded}: {rest_told(rest, unit)}", "    ", "  ")
        for none in turns.no_windows:
            if (none.runs, none.loaded) == pair:
                why = no_window_told(none, unit, least_gap_mm)
                without.setdefault(why, []).append(loaded)
    for why, names in without.items():
        text = f"{', '.join(names)}: no window; {why}"  # it may hold a command
        yield from wrapped(text, "    ", "  ", breaks_names=False)


def some_of(
    windows: Sequence[Window], most: int, kept: Collection[int] = ()
) -> tuple[list[Window], list[Window]]:
    """The windows of a pair that are told one by one, in order, and the others.

    Where there are more than `most`, those of phases `kept` come first, then the longest.
    """
    ranked = sorted(windows, key=lambda each: (each.phase not in kept, -each.at_least_s))
    chosen = ranked[:most]
    return [w for w in windows if w in chosen], [w for w in windows if w not in chosen]


def rest_told(rest: Sequence[Window], unit: Unit, word: str = "more") -> str:
    """Windows that are not told one by one, summed up; `word` for where none was told."""
    least_s = min(each.at_least_s for each in rest) // 1
    nearest = gap_figure(min(each.nearest_mm for each in rest), unit)
    return (
        f"{len(rest)} {word}, {clock(least_s)} or longer, nothing nearer than {nearest} {unit} "
        "(run --json)"
    )


def told_gap(gap_mm: float, unit: Unit) -> str:
    """A least gap or a reach as people state it, to a hundredth: `120 mm`, `4.72 in`."""
    return f"{round(in_unit(gap_mm, unit), 2):.6g} {unit}"


def _files(turns: Turns, name: str) -> str:
    files = [each.sitting.file for each in turns.visits[name]]
    return ", ".join(dict.fromkeys(visible(file) or "no program" for file in files))


def window_told(window: Window, unit: Unit) -> str:
    """From when until when, how long at least, how near, and what then."""
    return (
        f"from when {window.from_event} (line {window.from_line}) until {window.end_event} (line "
        f"{window.end_line}), {clock(window.at_least_s // 1)} or longer, nothing nearer than "
        f"{gap_figure(window.nearest_mm, unit)} {unit}; {end_told(window)}"
    )


def end_told(window: Window) -> str:
    """What comes at the end of a window: a motion, or a wait."""
    if window.kind == "hard":
        return "then a motion comes"
    if window.stops_at == "M6":
        return "then it waits, only if your controller stops at M6"
    return "then it waits"


def no_window_told(none: NoWindow, unit: Unit, least_gap_mm: float) -> str:
    """Why there is none, with its figure."""
    if none.why or none.gap_mm is None:
        return none.why
    at = f"at the first cut (line {none.line})"
    figure = gap_figure(none.gap_mm, unit)
    if none.gap_mm < 0:
        return f"{at} what moves is {figure.lstrip('-')} {unit} inside its loading zone"
    least = told_gap(least_gap_mm, unit)
    return f"{at} what moves is {figure} {unit} from its loading zone, less than {least}"


def findings_lines(plan: RunPlan) -> list[str]:
    """The findings, each marked."""
    return [each for f in plan.findings for each in wrapped(f"! {f.text}")]


def code_cells(code: NestCode) -> tuple[str, ...]:
    """station, nest, code, and whether the run gave it."""
    return (
        code.station,
        code.nest,
        code.code or "none left",
        "given by this run" if code.given else "",
    )


def _below_table(plan: RunPlan) -> str:
    line = plan.line
    lines = [waits_text(line), bound_told(plan)]
    if line.attended_s:
        lines.append(f"at the machine for starts and tool changes: {clock(line.attended_s)}")
    if line.spindle_waits_s:
        lines.append(f"the spindle waits at stops for loads: {clock(line.spindle_waits_s)}")
    return "".join(f"{each}\n" for text in lines for each in wrapped(text))


def bound_told(plan: RunPlan) -> str:
    """What no order of decisions can beat, and how near this comes."""
    line = plan.line
    return (
        f"a round takes {clock(line.round_s)}; {clock(line.bound_s)} only where every load fits a "
        "window"
    )


def load_told(load: Load, plan: RunPlan) -> str:
    """When a station is loaded in an even round."""
    if load.runs is None:
        return f"{load.loaded} while the spindle stands"
    window = window_of(load, plan)
    line = "" if window is None else f", from line {window.from_line} on"
    return f"{load.loaded} while {load.runs} runs{line}"


def window_of(load: Load, plan: RunPlan) -> Window | None:
    """The window that a load is done in."""
    key = (load.runs, load.loaded, load.phase)
    return next(
        (each for each in plan.turns.windows if (each.runs, each.loaded, each.phase) == key), None
    )


def _loads_lines(plan: RunPlan) -> list[str]:
    line = plan.line
    if len(line.order) < 2:
        return []
    told = "; ".join(load_told(load, plan) for load in line.loads)
    return wrapped(f"in an even round loaded: {told}") if told else []
