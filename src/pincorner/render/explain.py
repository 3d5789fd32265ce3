"""A setup as arithmetic that a person can follow: a rendering of its numbers, not a second sum."""

from __future__ import annotations

import math

from pincorner.geometry.pose import Pose
from pincorner.render.templates import render_text
from pincorner.setups.advice import Remedies
from pincorner.setups.holes import measured, not_measured
from pincorner.setups.setup import Setup
from pincorner.units import fixed


def render_explain(setup: Setup, remedies: Remedies) -> str:
    """The text of `explain` for one nest, with what would lower its uncertainty most."""
    facts, located, printed = setup.facts, setup.located, setup.printed
    nest = setup.nest
    skewed = float(printed.skew) > 0
    return render_text(
        "explain.txt.j2",
        station=facts.station.name,
        nest=nest.name,
        fingerprint=setup.fingerprint,
        bed=facts.bed.name,
        machine=facts.machine.name,
        survey=facts.survey.name if facts.survey else "",
        bed_pose=_pose(setup.bed_in_machine),
        pins=_pins(setup),
        hole_places=_hole_places(setup),
        corner=_pose(located.corner_in_bed),
        on_dowels=located.on_dowels,
        corner_hole=located.corner_hole,
        toward=located.toward,
        jig=facts.holder.name,
        turn=printed.turn,
        jig_pose=_pose(located.jig_in_corner),
        nest_pose={"x": _mm(nest.zero[0]), "y": _mm(nest.zero[1]), "a": _deg(nest.angle)},
        zero_bed=_pose(setup.nest_in_bed),
        zero=_pose(setup.zero_in_machine),
        code=setup.work_offset or "none",
        program_angle=printed.program_angle,
        angle=printed.angle,
        unit=printed.own.unit,
        own=printed.own,
        skew=printed.skew if skewed else "",
        max_skew=printed.max_skew,
        reach=_mm(setup.reach_mm),
        ways_out=setup.too_skew.ways_out if setup.too_skew is not None else (),
        z_zero=facts.station.z.zero,
        z_set=facts.station.z.set,
        machine_z="" if setup.heights.machine_z_mm is None else _mm(setup.heights.machine_z_mm),
        surface="" if setup.heights.surface_mm is None else _mm(setup.heights.surface_mm),
        height=_mm(setup.heights.zero_mm),
        advice=_advice(remedies),
        findings=[finding.text for finding in setup.findings],
        not_checked=setup.facts.machine.travel_not_checked,
        **_budget(setup),
    )


def _mm(value_mm: float) -> str:
    return fixed(value_mm, 4)


def _deg(angle_deg: float) -> str:
    return fixed(angle_deg, 5)


def _pose(pose: Pose) -> dict[str, str]:
    return {"x": _mm(pose.x_mm), "y": _mm(pose.y_mm), "a": _deg(math.degrees(pose.angle_rad))}


def _pins(setup: Setup) -> list[dict[str, str]]:
    return [
        {
            "role": pin.role,
            "hole": pin.hole,
            "x": _mm(pin.at_mm[0]),
            "y": _mm(pin.at_mm[1]),
            "r": _mm(pin.radius_mm),
            "cx": _mm(pin.contact_mm[0]),
            "cy": _mm(pin.contact_mm[1]),
        }
        for pin in setup.located.pins
    ]


def _hole_places(setup: Setup) -> list[str]:
    """Where hole places come from, where that is not the drawing of the grid."""
    facts, lines = setup.facts, []
    if facts.survey is None:
        return []
    if facts.survey.fit.linear is not None:
        lines.append(
            f"Survey {facts.survey.name} found the grid stretched or out of square: holes count "
            "where its fit has them."
        )
    believed = measured(facts)
    if believed is not None:
        lines.append(
            f"These holes were measured one by one: {believed.share * 100:.0f} % of what a reading "
            "lies off the fit is taken as the hole's own error, the rest as the reading's; "
            f"{fixed(believed.sd_mm, 4)} mm of each place stays unknown."
        )
    elif facts.station.measured_holes:
        missing = ", ".join(not_measured(facts)) or "the machine's repeatability is not given"
        lines.append(f"Measured hole centres are wanted but not used, not measured: {missing}.")
    return lines


def _advice(remedies: Remedies) -> list[str]:
    """What would lower the uncertainty most, in words."""
    lines = []
    largest, change = remedies
    if largest is not None:
        lines.append(
            f"{largest.source} makes {largest.share * 100:.0f} % of the variance: {largest.remedy}"
        )
    if change is not None:
        lines.append(
            f"hole {change.hole} instead of {change.instead_of}: "
            f"{fixed(change.before_mm, 3)} becomes {fixed(change.after_mm, 3)} mm"
        )
    return lines


def _budget(setup: Setup) -> dict[str, object]:
    budget = setup.budget
    rows = [
        {
            "source": row.source,
            "x": _mm(row.x_mm),
            "y": _mm(row.y_mm),
            "angle": _deg(row.angle_deg),
            "same": "yes" if row.repeats else "no",
        }
        for row in (*budget.rows, budget.together)
    ]
    return {
        "budget": rows[:-1],
        "together": rows[-1],
        "not_given": ", ".join(budget.not_given),
        "k": fixed(budget.k, 3),
        "u95_zero": _mm(budget.u95_zero_mm),
        "u95_worst": _mm(budget.u95_worst_mm),
        "repeat95_zero": _mm(budget.repeat95_zero_mm),
        "repeat95_worst": _mm(budget.repeat95_worst_mm),
    }
