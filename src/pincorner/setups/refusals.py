"""Why a setup block must not be written, with the figure and the ways out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from pincorner.geometry.pose import normal_deg
from pincorner.setups.budget import NOT_SHOWN_MM
from pincorner.setups.findings import ASKEW_DEG, Finding
from pincorner.setups.printed import RELATIVE_TO, turn_told
from pincorner.setups.setup import NO_WORK_OFFSET, TOO_SKEW, Setup
from pincorner.units import exact_mm, figure, fixed, in_unit

STOPPING = ("outside-travel",)
"""Findings with which no block is written."""

SHIMMED_DEG = 5.0
"""A larger angle is another way of laying the jig, not an error to shim away."""


def why_no_block(setup: Setup) -> tuple[Finding, ...]:
    """Everything that speaks against writing this nest's offset: `no_block` of a finished setup."""
    stopping = (finding for finding in setup.findings if finding.code in STOPPING)
    return (*_code(setup), *_skew(setup), *_z(setup), *stopping)


class SharedReason(NamedTuple):
    """A reason against the block of a station: as its first nest has it, and of how many more."""

    first: Finding
    more: int


def shared_reasons(setups: Sequence[Setup]) -> list[SharedReason]:
    """What keeps these nests' blocks back, each kind once."""
    by_code: dict[str, list[Finding]] = {}
    for setup in setups:
        for reason in setup.no_block:
            by_code.setdefault(reason.code, []).append(reason)
    return [SharedReason(first, len(others)) for first, *others in by_code.values()]


def _code(setup: Setup) -> list[Finding]:
    station, dialect, code = setup.facts.station, setup.facts.dialect, setup.work_offset
    if code is None:
        return [
            Finding(
                NO_WORK_OFFSET,
                f"nest {setup.nest.name} of station {station.name} has no work offset; give it one "
                f"with work_offsets: {{{setup.nest.name}: {dialect.work_offsets[0]}}}",
            )
        ]
    if code not in dialect.work_offsets:
        known = f"{dialect.work_offsets[0]} to {dialect.work_offsets[-1]}"
        return [
            Finding(
                "code-unknown",
                f"dialect {dialect.name} of {setup.facts.machine.name} has no {code}; "
                f"it has {known}",
            )
        ]
    counts_from = setup.relative_to or (RELATIVE_TO if station.z.set == "reference" else None)
    if code == counts_from:
        return [
            Finding(
                "code-is-reference",
                f"{code} holds the reference that the others count from; give station "
                f"{station.name} another work offset",
            )
        ]
    return []


def _skew(setup: Setup) -> list[Finding]:
    if setup.skew_mm <= setup.facts.max_skew_mm:
        return []
    unit = setup.printed.own.unit
    how = f"writes it as {setup.printed.angle}" if setup.writes_angle else "writes no angle"
    text = (
        f"the offset of {setup.name} is turned by {setup.exact_angle} degrees and dialect "
        f"{setup.facts.dialect.name} {how}: {setup.printed.skew} {unit} over the stock, "
        f"more than max_skew {setup.printed.max_skew} {unit}"
    )
    return [Finding(TOO_SKEW, text, setup.skew_mm, ways_out=tuple(_ways_out_of_skew(setup)))]


def _ways_out_of_skew(setup: Setup) -> list[str]:
    """What helps against an angle that cannot be written, in the order of what is least work."""
    left_deg, ways = setup.unwritten_deg, []
    if setup.writes_angle:
        ways.append(_more_decimals(setup))
    if abs(left_deg) <= SHIMMED_DEG:
        if setup.located.on_edges:
            ways.append(_shim(setup))
        ways.append(_accepting(setup))
    ways.append(_posting(setup))
    if abs(left_deg) > SHIMMED_DEG and setup.facts.station.jig and not setup.located.as_measured:
        ways.extend(_laying_otherwise(setup))
    if not setup.writes_angle:
        ways.append("use a dialect that writes rotation, if the controller has one")
    return ways


def _posting(setup: Setup) -> str:
    """The program posted turned as the work lies."""
    left_deg = setup.unwritten_deg
    turned_deg = normal_deg(setup.facts.station.program_angle + left_deg)
    turned, quarters = fixed(turned_deg, 4), round(turned_deg / 90)
    if abs(left_deg) > SHIMMED_DEG and abs(turned_deg - 90 * quarters) <= ASKEW_DEG:
        turned = f"{normal_deg(90 * quarters):.0f}"  # what is left is skew, and told as such
    posted = turn_told(float(turned))
    return f"post the program turned by {posted} and say program_angle: {turned}"


def skew_told(setup: Setup) -> str:
    """What an angle that is not written, or not all of it, comes to for whoever cuts there."""
    dialect = f"Dialect {setup.facts.dialect.name} of {setup.facts.machine.name}"
    takes, helps = f"{dialect} takes no angle", _posting(setup)
    if setup.writes_angle:
        takes, helps = f"{dialect} writes no more decimals of it", _more_decimals(setup)
    return (
        f"{setup.unwritten}: {setup.printed.skew} {setup.printed.own.unit} over the stock. "
        f"{takes}, so that the stock's corner farthest from its zero is cut that far off; "
        f"where that is too much, {helps}"
    )


def _laying_otherwise(setup: Setup) -> list[str]:
    """The jig laid as its program was posted, where quarter turns do that."""
    station = setup.facts.station
    quarters = round(setup.unwritten_deg / 90)
    if quarters % 4 == 0 or abs(setup.unwritten_deg - 90 * quarters) > ASKEW_DEG:
        return []
    name = f'"{station.name}"' if " " in station.name else station.name
    turn = (station.turn - 90 * quarters) % 360
    return [f"lay the jig as the program was posted: pincorner register {name} --turn {turn}"]


def _more_decimals(setup: Setup) -> str:
    """As many decimals of the angle as leave no more than max_skew, whatever they leave."""
    dialect, limit_mm = setup.facts.dialect, max(setup.facts.max_skew_mm, NOT_SHOWN_MM)
    step_deg = math.degrees(2 * limit_mm / setup.reach_mm)  # half a step is left at most
    places = max(dialect.decimals.deg + 1, math.ceil(-math.log10(step_deg)))
    return (
        f"have dialect {dialect.name} write {places} decimals of the angle (decimals: {{deg: "
        f"{places}}}), if the controller takes them"
    )


def _accepting(setup: Setup) -> str:
    """The skew taken as it is, at this station alone, with its price and the command."""
    unit, name = setup.printed.own.unit, setup.facts.station.name
    decimals = 2 if unit == "mm" else 4
    steps = math.ceil(in_unit(setup.skew_mm, unit) * 10**decimals)
    if exact_mm(steps / 10**decimals, unit) < setup.skew_mm:
        steps += 1
    station = f'"{name}"' if " " in name else name
    limit = f"{fixed(steps / 10**decimals, decimals)}{unit}"
    return (
        "accept the skew at this station, and parts that are off by it: pincorner register "
        f"{station} --max-skew {limit}"
    )


def _shim(setup: Setup) -> str:
    """The shim between an edge pin and the jig that takes the angle out.

    The edge leans by asin((r1 - r2) / d) against the line of its pins' centres, d apart
    (geometry/contact.py): a larger radius at one of them leans it back.
    """
    near, far = setup.located.pins[:2]
    apart_mm = math.dist(near.at_mm, far.at_mm)
    corner = setup.located.corner
    hand = corner.inward[0] * corner.normal[1] - corner.inward[1] * corner.normal[0]
    lean = math.asin((near.reach_mm - far.reach_mm) / apart_mm)
    change_mm = apart_mm * math.sin(lean + hand * math.radians(setup.unwritten_deg))
    change_mm -= near.reach_mm - far.reach_mm
    pin = near if change_mm > 0 else far
    facts, unit = setup.facts, setup.facts.machine.units
    thickness = figure(abs(change_mm), unit)  # as it is printed, the body is that of a pin with it
    body = figure(pin.pin.body + 2 * exact_mm(float(thickness), unit), unit)
    return (
        f"shim the {facts.thing} by {thickness} {unit} at pin "
        f"{pin.hole}, entered there as a pin of its own with body {body} {unit}, since the zero "
        "moves with it"
    )


def _z(setup: Setup) -> list[Finding]:
    machine, rule = setup.facts.machine, setup.facts.station.z
    if rule.set != "machine":
        return []
    if not machine.homes:
        text = f"Z cannot come from {machine.name}: it does not home; use set: touch or reference"
    elif machine.tool_lengths != "gauge":
        text = (
            f"Z cannot come from {machine.name}: its tool lengths do not refer to a gauge point "
            "(tool_lengths: gauge); use set: touch or reference"
        )
    elif setup.heights.surface_mm is None:
        text = (
            f"the surface of bed {setup.facts.bed.name} under {setup.name} is not known (surface:)"
        )
    else:
        return []
    return [Finding("z-unknown", text)]
