"""What a bed needs and what was done to it, as text: status, verifications, resurfacing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby

from pincorner.bed import Cover
from pincorner.characters import visible
from pincorner.documents.records import Disturbance, Surfacing
from pincorner.render.text.tables import table, wrapped
from pincorner.setups.budget import mostly_play
from pincorner.setups.setup import Setup
from pincorner.surveys.drift import CHI2_LIMIT, Comparison, StationChart
from pincorner.surveys.drift_advice import Advice, deviation_text, sees_text
from pincorner.units import DOWN, Unit, figure, told, told_down

StatusItem = tuple[str, str, str, str, str]
"""A code for scripts, what it is about, a sentence, a command that helps, what to do next."""


def status_text(items: Sequence[StatusItem], unit: str = "the shop's unit") -> str:
    """A sentence and a command for each thing, worst first, by what to do next; `unit`: of bare
    numbers in commands."""
    if not items:
        return "nothing found that needs attention; what nobody entered is not looked at\n"
    lines: list[str] = []
    for group, found in groupby(items, key=lambda item: item[4]):
        lines.append(group)
        for command, things in groupby(_things(list(found), unit), key=lambda thing: thing[2]):
            for code, text, _ in things:
                lines += wrapped(visible(text), "      ", f"  {code}: ", breaks_names=False)
            lines += [f"      $ {visible(command)}"] if command else []
    return "".join(f"{line}\n" for line in lines)


UNVERIFIED = "not-verified"


def _things(items: Sequence[StatusItem], unit: str) -> list[tuple[str, str, str]]:
    """Code, sentence and command of each thing to do: stations never verified are one of them."""
    things = [(code, text, command) for code, _, text, command, _ in items if code != UNVERIFIED]
    waiting = [about for code, about, *_ in items if code == UNVERIFIED]
    if waiting:
        bare = "inches" if unit == "in" else unit
        text = f"never verified: {', '.join(waiting)}; X and Y in {bare}, or with their own"
        things.append((UNVERIFIED, text, "pincorner verify STATION --x X --y Y"))
    return things


def verify_text(
    setup: Setup,
    comparison: Comparison,
    chart: StationChart,
    advice: Advice,
    settled: Disturbance | None = None,
    number: int = 0,
) -> str:
    """What was found, how it compares, and what to do."""
    logged = comparison.verification
    lines = [
        f"Station {setup.name}, setup {setup.fingerprint}: the zero was found "
        f"{deviation_text(comparison)}",
        f"{_explained(comparison)}; measured to {told(logged.u_mm, comparison.unit)}",
    ]
    if mostly_play(setup.budget):
        lines.append(f"this sees little: {_what_pins_may_do(setup)}, and all of that is explained")
    if comparison.not_given:
        lines.append(f"not given, so not in it: {', '.join(comparison.not_given)}")
    lines.append(_count(chart, comparison.unit, number))
    if sees := sees_text(chart.current, comparison.unit):
        lines.append(sees)
    lines.append(f"{advice.action}: {advice.text}")
    if settled is not None:
        lines.append(
            f"bed {settled.bed}, disturbed {settled.name}: what was found at stations far apart "
            "agrees with its place on file, and it is not told any more"
        )
    else:
        lines += [f"! {f.text}" for f in setup.findings if f.code == "bed-disturbed"]
    return "".join(f"{line}\n" for line in lines)


def _what_pins_may_do(setup: Setup) -> str:
    if setup.located.on_dowels:
        return "in so much play a jig may be pushed to any side, or lie anywhere"
    if setup.facts.station.pins_pressed:
        return "pins may lean so far or not at all, always alike or each for itself"
    return "in so much play pins may stand and lean any way"


def _explained(comparison: Comparison) -> str:
    """How far off pins, machine and measuring explain, and how many times as far it is."""
    reach = told(comparison.explained_mm, comparison.unit)
    text = f"{comparison.explains} explain up to {reach} that way (95 of 100)"
    if not comparison.is_first:
        away = told(math.hypot(*comparison.from_usual), comparison.unit)
        text = f"{away} from its usual place; {text}"
    if not comparison.beyond_in_plane:
        return text
    times = math.sqrt(comparison.chi2 / CHI2_LIMIT)
    told_times = f"{times:.2f}" if times < 1.1 else f"{times:.1f}"
    return f"{text}: this is {told_times} times as far" if times < 10 else f"{text}: far beyond it"


def _count(chart: StationChart, unit: Unit, number: int) -> str:
    count = len(chart.current.verifications)
    logged = f"logged as number {number}, {count} since the last change"
    if not chart.current.axes or chart.current.axes[0].limits is None:
        return f"{logged}; limits are drawn from eight on"
    parts = [
        f"{axis.axis} {figure(axis.limits.lower, unit)} to {told(axis.limits.upper, unit)}"
        for axis in chart.current.axes
        if axis.limits is not None
    ]
    return f"{logged}; limits {', '.join(parts)}"


def struck_text(station: str, number: int, nest: str, off_mm: float, unit: Unit, note: str) -> str:
    """What counts no more."""
    return (
        f"struck out verification {number} of station {station}, nest {nest}, "
        f"{told(off_mm, unit)} off; history keeps it, charts and advice do not count it: {note}\n"
    )


def resurface_text(
    surfacing: Surfacing,
    covers: tuple[Cover, ...],
    thin: tuple[Cover, ...],
    unit: Unit,
    dry: bool = False,
) -> str:
    """What was recorded, and the wood left over screws and tracks."""
    where = f"slats {', '.join(surfacing.slats)}" if surfacing.slats else "the whole surface"
    if surfacing.depth is not None:
        what = f"{where}: {told(surfacing.depth, unit)} cut off"
    else:
        what = f"{where}: new, at machine Z {told(surfacing.surface or 0.0, unit)}"
    recorded = "would be recorded as" if dry else "recorded"
    lines = f"{recorded} surfacing {surfacing.name} of bed {surfacing.bed}, {what}\n"
    if covers:
        rows = [(each.kind, each.name, _left(each, unit)) for each in covers]
        lines += "\n" + table(("over", "name", f"wood left, {unit}"), rows, "..r")
    for cover in thin:
        lines += f"! {thin_text(cover, unit)}\n"
    if dry:
        return lines + "\nnothing written (--dry-run)\n"
    lines += (
        "\nSurvey heights again before trusting Z; offsets, blocks and sheets follow: see "
        "pincorner status\n"
    )
    return lines


def _left(cover: Cover, unit: Unit) -> str:
    return "not known" if cover.cover_mm is None else figure(cover.cover_mm, unit, rounded=DOWN)


def thin_text(cover: Cover, unit: Unit) -> str:
    """A thin cover in a sentence."""
    if cover.cover_mm is None:
        return f"the wood over {cover.kind} {cover.name} is not known since its slat was replaced"
    left = told_down(cover.cover_mm, unit)
    return f"{cover.kind} {cover.name} has {left} of wood left over it"
