"""Where the holes are, as far as is known: as drawn, as the survey has them, or as measured."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from pincorner.bed import replaced_since, slats_of_hole
from pincorner.documents.beds import Hole, Pin
from pincorner.documents.fields import key_of
from pincorner.documents.jigs import OnDowels
from pincorner.documents.records import Survey
from pincorner.documents.stations import PinInHole, hole_of
from pincorner.errors import Refused
from pincorner.geometry.outline import TOUCH_MM
from pincorner.geometry.pose import XY, Pose
from pincorner.geometry.student import ENOUGH_DOF
from pincorner.setups.facts import Facts
from pincorner.setups.pin_fit import lowest_mm
from pincorner.units import told, told_size

PRESSED_MM = 0.5
"""A pin that is pressed into wood or board is thicker by less (common practice, no source)."""


def bed_pose(facts: Facts) -> Pose:
    """The bed in the machine: the accepted survey's fit, else the bed's own pose."""
    entry = facts.bed.pose if facts.survey is None else facts.survey.fit.pose
    return Pose.of_degrees("machine", "bed", entry.x, entry.y, entry.angle)


class Measured(NamedTuple):
    """How far measured centres are believed.

    `share` of a hole's residual is taken as the hole's own error, and `sd_mm` is what remains
    unknown of its place per axis: the minimum-variance combination of two independent estimates
    with the standard deviations s_h of holes and s_m of measuring (share s_h2 / (s_h2 + s_m2),
    variance s_h2 s_m2 / (s_h2 + s_m2)).
    """

    share: float
    sd_mm: float


def usable_hole(facts: Facts, entry: str | PinInHole) -> Hole:
    """A pin's hole, where it is. Raises Refused where it is gone, or the pin does not suit it."""
    bed, station, label = facts.bed, facts.station.name, hole_of(entry)
    place = bed.hole(label)
    if place is None:
        raise Refused("hole-unknown", f"station {station}: bed {bed.name} has no hole {label}")
    if not place.usable:
        raise Refused(
            "hole-missing", f"station {station}: hole {label} of bed {bed.name} is marked missing"
        )
    refuse_pin(facts, facts.pin_of(entry), label)
    x_mm, y_mm = true_place(facts, label, place.at_mm)
    return place._replace(x_mm=x_mm, y_mm=y_mm)


def refuse_pin(facts: Facts, pin: Pin, label: str, lower_mm: float = 0.0) -> None:
    """Raises Refused where a pin's shank does not go into a hole, pressed in or not, or where the
    pin ends below all of the jig that could touch it.

    `lower_mm`: how much lower than the jig it stands.
    """
    hole_mm, unit = facts.bed.grid.hole, facts.machine.units
    if pin.shank - hole_mm > PRESSED_MM:
        raise Refused(
            "pin-thick",
            f"station {facts.station.name}: the shank of pin {pin.name}, "
            f"{told_size(pin.shank, unit)}, does not go into hole {label} of "
            f"{told_size(hole_mm, unit)}",
        )
    foot_mm, holder = lowest_mm(facts), facts.holder
    if pin.height - lower_mm - foot_mm <= TOUCH_MM:
        what = "round hole and slot" if isinstance(holder.locate, OnDowels) else "edges"
        helps = " or a thinner sheet under it" if facts.station.under else ""
        slat = f", stands {told(lower_mm, unit)} lower than the jig in {label}" if lower_mm else ""
        raise Refused(
            "pin-low",
            f"station {facts.station.name}: pin {pin.name} is {told_size(pin.height, unit)} high"
            f"{slat} and does not reach the {what} of {holder.name}, which begin "
            f"{told_size(foot_mm, unit)} above the bed; take a higher pin{helps}",
        )


def true_place(facts: Facts, label: str, drawn_mm: XY) -> XY:
    """A hole's centre in bed coordinates: as drawn, swollen as surveyed, as measured if wanted."""
    if facts.survey is None:
        return drawn_mm
    fitted = facts.survey.fit.swollen(drawn_mm)
    believed = measured(facts)
    found = None if believed is None else _measured_at(facts.survey, label)
    if believed is None or found is None:
        return fitted
    (x, y), (mx, my) = fitted, found
    return x + believed.share * (mx - x), y + believed.share * (my - y)


def _measured_at(survey: Survey, label: str) -> XY | None:
    """Where a survey found a hole, in bed coordinates; None where it did not look."""
    looked = (each for each in survey.readings if key_of(each[0]) == key_of(label))
    reading = next(looked, None)
    if reading is None:
        return None
    entry = survey.fit.pose
    pose = Pose.of_degrees("machine", "bed", entry.x, entry.y, entry.angle)
    return pose.inverse().point((reading[1], reading[2]))


def measured(facts: Facts) -> Measured | None:
    """How far this station's measured centres are believed; None where they do not count.

    They count where the station wants them, every hole of it was measured and used, and the
    machine's repeatability says how well a reading is known; not before it has pins.
    """
    station, survey = facts.station, facts.survey
    if not station.measured_holes or survey is None:
        return None
    if station.pins is None or not_measured(facts):
        return None
    reading_sd, (hole_sd, _) = facts.machine.repeatability, _surveyed_sd(facts)
    if reading_sd is None or hole_sd is None:
        return None
    own = max(hole_sd**2 - reading_sd**2, 0.0) if _spread_counts(facts) else hole_sd**2
    both = own + reading_sd**2
    if both == 0.0:
        return None
    return Measured(own / both, reading_sd * (own / both) ** 0.5)


def not_measured(facts: Facts) -> list[str]:
    """The station's holes that its survey does not hold, or holds no longer."""
    holes = facts.station.pin_holes
    found = measured_holes(facts, holes)
    return [hole for hole in holes if hole not in found]


def measured_holes(facts: Facts, labels: Iterable[str]) -> set[str]:
    """Those of some holes that the survey holds and uses, in slats no newer than it."""
    if facts.survey is None:
        return set()
    left_out = {key_of(label) for label in facts.survey.fit.left_out}
    found = {key_of(reading[0]) for reading in facts.survey.readings} - left_out
    return {hole for hole in labels if key_of(hole) in found and not _is_new(facts, hole)}


def alike(facts: Facts, at_mm: XY) -> tuple[str | None, ...]:
    """What of a place says how deep a hole there is, and how well its own place is known: its slats
    where something was surfaced. Holes of which this is the same are the same to a pin."""
    return tuple(slats_of_hole(facts.bed, at_mm)) if facts.surfacings else ()


def _is_new(facts: Facts, label: str) -> bool:
    """Whether a hole lies on a slat that was replaced after the survey."""
    place = facts.bed.hole(label)
    return place is not None and _unmeasured(facts, place.at_mm)


def _unmeasured(facts: Facts, at_mm: XY) -> bool:
    survey = facts.survey
    return survey is not None and any(
        replaced_since(survey, facts.surfacings, slat) for slat in slats_of_hole(facts.bed, at_mm)
    )


def hole_position_sd(facts: Facts, at_mm: XY) -> tuple[float | None, float]:
    """Standard deviation of a hole's place per axis, mm (None: not given), and its degrees.

    From the survey's spread or as stated (guide, Budget); of a hole in a slat that is newer
    than the survey as stated; of a measured centre what remains unknown of it.
    """
    if _unmeasured(facts, at_mm):
        return facts.bed.grid.hole_position, float("inf")
    sd_mm, dof = _surveyed_sd(facts)
    believed = measured(facts)
    return (sd_mm, dof) if believed is None else (believed.sd_mm, dof)


def _surveyed_sd(facts: Facts) -> tuple[float | None, float]:
    stated = facts.bed.grid.hole_position
    if facts.survey is None or not _spread_counts(facts):
        return stated, float("inf")
    return facts.survey.fit.s, facts.survey.fit.dof


def _spread_counts(facts: Facts) -> bool:
    """Whether the survey's spread stands for that of the holes."""
    if facts.survey is None or facts.survey.fit.dof == 0:
        return False
    fit, stated = facts.survey.fit, facts.bed.grid.hole_position
    return fit.dof >= ENOUGH_DOF or stated is None or fit.s > stated
