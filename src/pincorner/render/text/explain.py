"""A setup as arithmetic that a person can follow: a rendering of its numbers, not a second sum."""

from __future__ import annotations

import math
from collections.abc import Callable

from pincorner.documents.fields import key_of
from pincorner.documents.stations import EdgePins
from pincorner.geometry.pose import Pose
from pincorner.render.drawing.lie import lies_told, reference_told, zero_from_corner
from pincorner.render.templating.templates import render_text
from pincorner.render.text.offsets import calculated_place, not_counted, pushed_aside, spread
from pincorner.setups.advice import Remedies
from pincorner.setups.budget import known
from pincorner.setups.holes import measured, not_measured
from pincorner.setups.locating import two_on_shorter
from pincorner.setups.pin_fit import pin_fit, play_of
from pincorner.setups.setup import Setup
from pincorner.units import Unit, figure, fixed, told


def render_explain(setup: Setup, remedies: Remedies) -> str:
    """The text of `explain` for one nest, with what would lower its uncertainty most."""
    facts, located, printed = setup.facts, setup.located, setup.printed
    nest, unit = setup.nest, printed.own.unit
    length = _lengths_in(unit)
    return render_text(
        "explain.txt.j2",
        station=facts.station.name,
        nest=nest.name,
        fingerprint=setup.fingerprint,
        bed=facts.bed.name,
        machine=facts.machine.name,
        survey=facts.survey.name if facts.survey else "",
        bed_pose=_pose(setup.bed_in_machine, unit),
        measured=_measured(setup),
        pins=_pins(setup),
        pins_stand=_pins_stand(setup, remedies),
        gives_way=any(pin.shift_mm for pin in located.pins),
        hole_places=_hole_places(setup),
        corner=_pose(located.corner_in_bed, unit),
        on_dowels=located.on_dowels,
        shorter=_why_shorter(setup),
        corner_hole=located.corner_hole,
        toward=located.toward,
        jig=facts.holder.name,
        thing=setup.facts.thing,
        seen_from=setup.person.place,
        lies=lies_told(setup),
        zero_lies=zero_from_corner(setup),
        jig_pose=_pose(located.jig_in_corner, unit),
        nest_pose={"x": length(nest.zero[0]), "y": length(nest.zero[1]), "a": _deg(nest.angle)},
        zero_bed=_pose(setup.nest_in_bed, unit),
        zero=_pose(setup.zero_in_machine, unit),
        code=setup.work_offset or "none",
        relative_to=setup.relative_to or "",
        reference=reference_told(setup),
        program_angle=printed.program_angle,
        angle=printed.angle,
        unit=unit,
        own=printed.own,
        skew=printed.skew if setup.unwritten else "",
        written=printed.angle if setup.writes_angle else "",
        exact_angle=setup.exact_angle,
        left=fixed(setup.unwritten_deg, max(5, facts.dialect.decimals.deg + 2)),
        max_skew=printed.max_skew,
        reach=length(setup.reach_mm),
        ways_out=setup.too_skew.ways_out if setup.too_skew is not None else (),
        z_zero=facts.station.z.zero,
        z_set=facts.station.z.set,
        machine_z="" if setup.heights.machine_z_mm is None else length(setup.heights.machine_z_mm),
        surface="" if setup.heights.surface_mm is None else length(setup.heights.surface_mm),
        height=length(setup.heights.zero_mm),
        advice=_advice(setup, remedies),
        smaller=remedies.smaller,
        to_give=remedies.to_give,
        findings=[finding.text for finding in setup.findings],
        not_checked=setup.facts.machine.travel_not_checked,
        **_budget(setup),
    )


def _lengths_in(unit: Unit) -> Callable[[float], str]:
    """How `explain` tells lengths, mm: a tenth of a thousandth of a mm."""
    return lambda value_mm: figure(value_mm, unit, 4)


def _deg(angle_deg: float) -> str:
    return fixed(angle_deg, 5)


def _pose(pose: Pose, unit: Unit) -> dict[str, str]:
    length = _lengths_in(unit)
    return {
        "x": length(pose.x_mm),
        "y": length(pose.y_mm),
        "a": _deg(math.degrees(pose.angle_rad)),
    }


def _measured(setup: Setup) -> dict[str, object] | None:
    """A zero that no pins hold, as it was measured; None where there are pins."""
    measured, length = setup.facts.station.measured, _lengths_in(setup.printed.own.unit)
    if measured is None:
        return None
    (key,) = setup.located.zeros
    return {
        "nest": setup.facts.nest(key).name,
        "own": key_of(setup.nest.name) == key,
        "when": measured.when,
        "by": measured.by or "",
        "x": length(measured.x),
        "y": length(measured.y),
        "z": "" if measured.z is None else length(measured.z),
    }


def _pins(setup: Setup) -> list[dict[str, str]]:
    length = _lengths_in(setup.printed.own.unit)
    return [
        {
            "role": pin.role,
            "hole": pin.hole,
            "x": length(pin.at_mm[0]),
            "y": length(pin.at_mm[1]),
            "r": length(pin.radius_mm),
            "cx": length(pin.contact_mm[0]),
            "cy": length(pin.contact_mm[1]),
        }
        for pin in setup.located.pins
    ]


def _pins_stand(setup: Setup, remedies: Remedies) -> list[str]:
    """How far pins stand or lean off their holes, and how their play is measured."""
    located, facts = setup.located, setup.facts
    if located.as_measured:
        return []
    if not any(play_of(facts, pin.pin).most_mm for pin in located.pins):
        return ["Pins have no play in their holes."]
    if located.on_dowels:
        told = _on_dowels(setup)
    elif not any(pin.pin.held == "loose" for pin in located.pins):
        told = ["Screwed pins are not pushed aside: each stands where it was set within its play."]
    else:
        told = _pushed(setup) if facts.station.pins_pressed else _laid(setup)
    told.append(
        "To measure the play: push a pin both ways with an indicator at the surface; the "
        "difference is the play (play: in the bed's grid)."
    )
    if pushed := pushed_aside([setup]):
        told += [
            f"{pushed}.",
            "Friction may keep a pin short of the far side, which is not counted: where the "
            "machine's repeatability is a tenth of the play, 93 of 100 and more come back within "
            "the figure all the same, at a fortieth 70 to 85.",
        ]
    if remedies.not_pressed_mm is not None:
        within = spread(remedies.not_pressed_mm, setup.printed.own.unit)
        told.append(
            "If it is not pressed each time, say pins_pressed: false of the station: then it lies "
            f"within {within} {setup.printed.own.unit}, pressed or not."
        )
    return told


def _pushed(setup: Setup) -> list[str]:
    """How far a jig that is pushed against its pins has them stand away, and lean."""
    length, pins = _lengths_in(setup.printed.own.unit), setup.located.pins
    places = ", ".join(f"in {pin.hole} {length(pin.shift_mm)}" for pin in pins)
    lines = [
        f"Pushed against, a pin gives way, straight away from the {setup.facts.thing}: {places}:"
    ]
    leans = [pin_fit(setup.facts, pin.pin, pin.at_mm).lean_mm for pin in pins]
    if not any(leans):
        return [*lines, "half its play; what touches it at the surface does not see it lean."]
    lean = ", ".join(length(lean_mm) for lean_mm in leans)
    return [
        *lines,
        f"half its play, and half of what it may lean where the {setup.facts.thing} touches it "
        f"lowest; the lean may be more or less by {lean}, and figures hold pins that always stand "
        "at one end of it, alike or each for itself.",
    ]


def _laid(setup: Setup) -> list[str]:
    """How far pins that nothing pushes may stand and lean."""
    return [
        f"The {setup.facts.thing} is laid against its pins, not pushed (pins_pressed: false): a "
        "pin may stand and lean anywhere in its play, where it is touched highest by at most "
        f"{_reaches(setup)}; figures hold whether it is pushed or not."
    ]


def _on_dowels(setup: Setup) -> list[str]:
    """How far the jig's own holes may lie off those of the bed."""
    return [
        "The jig may lie anywhere in the play of its pins, in the bed's holes and in its own, or "
        f"always at one end of it, off the bed's by at most {_reaches(setup)}. Its holes stand "
        "upright around pins: on the bed no lean shows, over a waste sheet what they leave of it."
    ]


def _reaches(setup: Setup) -> str:
    """How far each pin's contact may be from the middle of its hole."""
    length, facts = _lengths_in(setup.printed.own.unit), setup.facts
    return ", ".join(
        f"{length(pin_fit(facts, pin.pin, pin.at_mm, pin.in_jig_mm).reach_mm)} in {pin.hole}"
        for pin in setup.located.pins
    )


def _why_shorter(setup: Setup) -> str:
    """Why the shorter edge carries two pins; empty where it does not."""
    facts, pins = setup.facts, setup.facts.station.pins
    if not two_on_shorter(facts, setup.located):
        return ""
    if isinstance(pins, EdgePins) and pins.chosen:
        return "so chosen, since no two on the longer edge made it lie within less"
    return "as the station's pins say"


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
            f"{told(believed.sd_mm, setup.printed.own.unit, 4)} of each place stays unknown."
        )
    elif facts.station.measured_holes:
        missing = ", ".join(not_measured(facts)) or "the machine's repeatability is not given"
        lines.append(f"Measured hole centres are wanted but not used, not measured: {missing}.")
    return lines


def _advice(setup: Setup, remedies: Remedies) -> list[str]:
    """What would lower the uncertainty most, in words."""
    lines = []
    largest, change = remedies.largest, remedies.change
    if largest is not None:
        lines.append(
            f"{largest.source} makes {largest.share * 100:.0f} % of the variance: {largest.remedy}"
        )
    if change is not None:
        unit = setup.printed.own.unit
        lines.append(
            f"hole {change.hole} instead of {change.instead_of}: "
            f"{figure(change.before_mm, unit)} becomes {told(change.after_mm, unit)}"
        )
    return lines


def _budget(setup: Setup) -> dict[str, object]:
    budget, length = setup.budget, _lengths_in(setup.printed.own.unit)
    rows = [
        {
            "source": row.source,
            "x": length(row.x_mm),
            "y": length(row.y_mm),
            "angle": _deg(row.angle_deg),
            "same": "yes" if row.repeats else "no",
        }
        for row in (*budget.rows, budget.together)
    ]
    return {
        "budget": rows[:-1],
        "together": rows[-1],
        "not_counted": not_counted([setup]),
        "place": calculated_place(setup),
        "k": fixed(budget.k, 3),
        "u95_zero": length(budget.u95_zero_mm),
        "u95_worst": length(budget.u95_worst_mm),
        "place_known": known(budget.u95_worst_mm) is not None,
        "back_known": known(budget.repeat95_worst_mm) is not None,
        "repeat95_zero": length(budget.repeat95_zero_mm),
        "repeat95_worst": length(budget.repeat95_worst_mm),
        "largest_play": any(
            fit.most_share > 1 and (fit.varying_sd_mm or fit.lean_mm)
            for fit in (
                pin_fit(setup.facts, p.pin, p.at_mm, p.in_jig_mm) for p in setup.located.pins
            )
        ),
    }
