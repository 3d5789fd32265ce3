"""What a verification asks for, in plain words: nothing, check the pins, survey again."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median
from typing import Literal, NamedTuple

from pincorner.geometry.charts import FEWEST, NEXT
from pincorner.setups.person import MOVED, nearest_way
from pincorner.surveys.drift import (
    CHI2_LIMIT,
    Z_LIMIT,
    AxisChart,
    Comparison,
    Period,
    best_of,
    told_moves,
)
from pincorner.units import Unit, figure, told

Action = Literal["nothing", "check the pins", "survey again", "measure again"]

SAME_WAY = math.cos(math.radians(45.0))
"""Stations deviate the same way where their directions differ by less than 45 degrees."""

MEDIAN = math.pi / 2
"""Variance of the median of normal values over that of their mean, for many of them."""


class Neighbour(NamedTuple):
    """Another station of the bed, and the newest verification there since its last restart."""

    station: str
    comparison: Comparison


class Advice(NamedTuple):
    """What to do, and the sentences that say why and how."""

    action: Action
    text: str


def advice(comparison: Comparison, period: Period, neighbours: Sequence[Neighbour] = ()) -> Advice:
    """What to do after a verification, which is the last of `period`."""
    if comparison.exchanged or comparison.wrong_unit or comparison.wrong_hole:
        return _mistake(comparison)
    alike = [each.station for each in neighbours if _same_way(comparison, each.comparison)]
    if alike:
        return _bed_moved(comparison, alike)
    newest = period.of_last()
    drifting = [axis for axis in newest if axis.cusum.signals[-1]]
    if drifting:
        return _drift(comparison, period, drifting)
    out = [axis for axis in newest if axis.beyond[-1]]
    if comparison.verdict == "within" and not out:
        return _nothing(comparison, period)
    if not out and _came_back(comparison, period):
        return _constant(comparison)
    return _single(comparison, out)


def advice_as_measured(comparison: Comparison) -> Advice:
    """What to do after a verification of a zero that no pins hold."""
    off = deviation_text(comparison)
    if comparison.exchanged or comparison.wrong_unit:
        return _mistake(comparison)
    if comparison.verdict == "within":
        return Advice("nothing", f"{off}: no farther off than measuring explains.")
    return Advice(
        "measure again",
        f"{off}: farther from the zero on file than measuring explains; how well that one was "
        "measured is not given. See that the machine is homed and the jig stands where it was "
        "marked, and verify again. If it stays, put the new zero on file (measured of the station, "
        "by pincorner edit), or register the station against pins.",
    )


def deviation_text(comparison: Comparison) -> str:
    """How far off, and where: `0.120 mm off (0.118 to the right, 0.020 nearer to you)`.

    Sides are those of the person at the machine.
    """
    logged, unit = comparison.verification, comparison.unit
    x, y, z = logged.deviation
    moves = told_moves(comparison.person.machine_vector((x, y)))
    parts = [f"{figure(size, unit)} {way}" for size, way in moves]
    if z is not None:
        parts.append(f"{figure(abs(z), unit)} {'high' if z > 0 else 'low'}")
    where = f" ({', '.join(parts)})" if parts else ""
    return f"{told(logged.off_mm, unit)} off{where}"


def sees_text(period: Period, unit: Unit) -> str:
    """How large a shift the charts of a period would see by now; nothing where none is drawn."""
    seen = [(axis.axis, size) for axis in period.axes if (size := axis.sees_mm) is not None]
    if not seen:
        return ""
    good = min(sum(axis.ordinary) for axis in period.axes if axis.sees_mm is not None)
    parts = ", ".join(f"{name} {told(size, unit)}" for name, size in seen)
    return (
        f"With {good} good ones so far the chart sees a lasting shift from {parts} on: that would "
        f"show within the next {NEXT}, 9 times of 10. More good ones let it see smaller ones."
    )


def _mistake(comparison: Comparison) -> Advice:
    off, holes = deviation_text(comparison), "every pin stands in the hole that the sheet names"
    if comparison.exchanged:
        text = (
            f"{off}: X and Y look exchanged. Strike this one out and verify again; if they were "
            f"right, check that {holes}."
        )
    elif comparison.wrong_unit:
        text = (
            f"{off}: {comparison.wrong_unit}. Verify again with the unit written, such as "
            f"11.625in; if the unit was right, check that {holes}."
        )
    else:
        text = (
            f"{off}: {comparison.wrong_hole}. Check that {holes}, the stop too, then put the jig "
            "back and verify again."
        )
    return Advice("check the pins", text)


def _same_way(one: Comparison, other: Comparison) -> bool:
    """Both beyond, in nearly the same direction, neither more than twice as far as the other."""
    x1, y1, _ = one.verification.deviation
    x2, y2, _ = other.verification.deviation
    near, far = sorted((math.hypot(x1, y1), math.hypot(x2, y2)))
    if not (one.beyond_in_plane and other.beyond_in_plane) or far > 2 * near:
        return False
    return x1 * x2 + y1 * y2 > SAME_WAY * near * far


def _bed_moved(comparison: Comparison, alike: Sequence[str]) -> Advice:
    names = " and ".join(dict.fromkeys(alike))
    return Advice(
        "survey again",
        f"{deviation_text(comparison)}, and so is {names}, the same way: the bed or the machine's "
        "home is not where it was. Home the machine again, then survey the bed again.",
    )


def _drift(comparison: Comparison, period: Period, drifting: Sequence[AxisChart]) -> Advice:
    moves = "; ".join(_moved(axis, period, comparison) for axis in drifting)
    return Advice(
        "survey again",
        f"{deviation_text(comparison)}. It drifts: {moves}. Survey the bed again.",
    )


def _moved(axis: AxisChart, period: Period, comparison: Comparison) -> str:
    """How far the values lie, since a drift began, from those before it."""
    begin = axis.drift_from
    assert begin is not None  # its last value signals
    moved_mm = median(axis.values[begin:]) - median(axis.values[:begin])
    day, count = period.verifications[axis.places[begin]].at[:10], len(axis.values) - begin
    if axis.axis == "Z":
        side = "higher" if moved_mm > 0 else "lower"
    else:
        along = (moved_mm, 0.0) if axis.axis == "X" else (0.0, moved_mm)
        way = nearest_way(comparison.person.machine_vector(along))
        side = f"farther {MOVED[way]}" if way in ("left", "right") else MOVED[way]
    moved = told(abs(moved_mm), comparison.unit)
    return f"the last {count}, from {day} on, lie {moved} {side} than those before"


def _nothing(comparison: Comparison, period: Period) -> Advice:
    counted = min(sum(axis.ordinary) for axis in period.axes[:2])
    missing = FEWEST - counted
    limits = f" Limits of the chart come after {missing} more." if missing > 0 else ""
    return Advice(
        "nothing",
        f"{deviation_text(comparison)}: no farther than {comparison.explains} explain." + limits,
    )


def _came_back(comparison: Comparison, period: Period) -> bool:
    """Whether what is beyond lies where earlier verifications lay, and they off the computed place.

    From eight on the chart's limits say whether it lies there, and here nothing is out of them.
    """
    axes = {axis.axis: axis for axis in period.of_last()}
    if len(period.verifications) < 2:
        return False
    if comparison.beyond_in_plane and not _back_in_plane(comparison, axes["X"], axes["Y"]):
        return False
    return not comparison.beyond_in_z or _back_in_z(comparison, axes["Z"])


def _back_in_plane(comparison: Comparison, along_x: AxisChart, along_y: AxisChart) -> bool:
    ways, count = comparison.covariances, len(along_x.values)
    middle = (median(along_x.values), median(along_y.values))
    if best_of(ways, middle).times(MEDIAN / count).distance2(middle) <= CHI2_LIMIT:
        return False
    step = (_last_step(along_x), _last_step(along_y))
    sigma = best_of(ways, step).times(1 + MEDIAN / (count - 1))
    apart = sigma.distance2(step) > CHI2_LIMIT
    return along_x.limits is not None or not apart


def _back_in_z(comparison: Comparison, along_z: AxisChart) -> bool:
    count, sd_mm = len(along_z.values), comparison.z_sd_mm
    if count < 2 or sd_mm is None:
        return False
    if abs(median(along_z.values)) <= Z_LIMIT * sd_mm * math.sqrt(MEDIAN / count):
        return False
    apart = abs(_last_step(along_z)) > Z_LIMIT * sd_mm * math.sqrt(1 + MEDIAN / (count - 1))
    return along_z.limits is not None or not apart


def _last_step(axis: AxisChart) -> float:
    """From the middle of the earlier values to the last."""
    return axis.values[-1] - median(axis.values[:-1])


def _constant(comparison: Comparison) -> Advice:
    off_mm, allowed = comparison.verification.off_mm, comparison.place95_mm
    again = f"{deviation_text(comparison)}, as before: it comes back, but to another place. "
    if not comparison.beyond_in_plane:
        return Advice(
            "survey again",
            again + "Survey the heights again; check the seat, the sheet under the jig and the "
            "stock's thickness against the documents.",
        )
    kind = "That much" if off_mm <= allowed else "More than"
    return Advice(
        "survey again",
        f"{again}{kind} the budget allows for holes and pins "
        f"({told(allowed, comparison.unit)}). Survey the bed again with the holes of these pins "
        "among the readings; if it stays, measure the zero in the jig's own coordinates.",
    )


def _single(comparison: Comparison, out: Sequence[AxisChart]) -> Advice:
    if comparison.beyond_in_z and not comparison.beyond_in_plane and not out:
        return Advice(
            "check the pins",
            f"{deviation_text(comparison)}: Z is farther off than measuring explains. Look for "
            "chips under the jig and check the sheet under it; Z must be read at the gauge point.",
        )
    if out:
        axes = " and ".join(axis.axis for axis in out)
        why = f"outside the limits of its own chart in {axes}"
    else:
        why = f"farther than {comparison.explains} explain (one good one in twenty is)"
    text = (
        f"{deviation_text(comparison)}: {why}. Look for chips at the pins and under the jig, a pin "
        "that is not down, a wrong pin or hole; put the jig back and verify again."
    )
    if not out and comparison.is_first:
        text += " If it is found there again, the holes are not where they should be: survey."
    if comparison.not_given:
        text += f" Not counted, since not given: {', '.join(comparison.not_given)}."
    return Advice("check the pins", text)
