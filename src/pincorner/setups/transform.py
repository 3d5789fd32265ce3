"""The transform: machine <- bed <- corner <- jig <- nest. Plain documents in, a Setup out."""

from __future__ import annotations

import math
from typing import NamedTuple

from pincorner.documents.fields import key_of
from pincorner.documents.jigs import Nest
from pincorner.errors import Refused
from pincorner.geometry.pose import XY, Pose, normal_deg
from pincorner.setups.budget import NOT_SHOWN_MM, Budget, make_budget
from pincorner.setups.contents import content_lines
from pincorner.setups.facts import Facts
from pincorner.setups.findings import Placed, find_all
from pincorner.setups.heights import Heights, heights
from pincorner.setups.holes import bed_pose
from pincorner.setups.locating import Located, locate
from pincorner.setups.person import Person, person_at
from pincorner.setups.printed import (
    RELATIVE_TO,
    Printed,
    axis_words,
    figures,
    fingerprint,
    printed_length,
    unwritten_deg,
)
from pincorner.setups.refusals import why_no_block
from pincorner.setups.setup import OffsetRow, Setup, seen_from_corner
from pincorner.units import fixed


def make_setups(facts: Facts) -> list[Setup]:
    """The setups of all nests of a station, in the jig's order; mm, degrees counter-clockwise.

    Raises Refused where it cannot be located. From the facts of a setup, here with a thinner piece:

    >>> from pincorner import Shop
    >>> now, = Shop.demo().station("left").setups
    >>> thin, = make_setups(now.facts.with_stock_thickness(17))
    >>> now.heights.zero_mm, thin.heights.zero_mm
    (38.0, 35.0)
    """
    located = locate(facts)
    return [_setup(facts, located, nest) for nest in facts.holder.nests]


def make_setup(facts: Facts, nest: str | None) -> Setup:
    """The setup of one nest (the first with None). Raises Refused, UnknownName."""
    return _setup(facts, locate(facts), facts.nest(nest))


def make_budgets(facts: Facts) -> list[Budget]:
    """How well each nest's zero is known, with nothing else of its setup. Raises Refused."""
    located = locate(facts)
    return [_lies(facts, located, nest).budget(facts, located) for nest in facts.holder.nests]


class Zero(NamedTuple):
    """Where one nest's program zero is: its pose in the machine, its angle less the program's own;
    `angle_deg` the same in (-180, 180]."""

    nest: Nest
    in_machine: Pose
    angle_deg: float


def make_zeros(facts: Facts) -> list[Zero]:
    """Where each nest's zero is, with nothing else of its setup. Raises Refused."""
    located = locate(facts)
    return [_zero(facts, nest, _lies(facts, located, nest)) for nest in facts.holder.nests]


class _Lies(NamedTuple):
    """Where a nest of a located jig lies; from its zero to the stock's corners, machine axes."""

    jig_in_bed: Pose
    nest_in_bed: Pose
    bed_in_machine: Pose
    nest_in_machine: Pose
    arms_mm: list[XY]

    def budget(self, facts: Facts, located: Located) -> Budget:
        """The nest's budget."""
        return make_budget(facts, located, self.nest_in_bed.origin, self.arms_mm)


def _lies(facts: Facts, located: Located, nest: Nest) -> _Lies:
    jig_in_bed = located.jig_in_bed
    nest_in_bed = jig_in_bed @ nest.in_jig
    bed_in_machine = bed_pose(facts)
    nest_in_machine = located.zeros.get(key_of(nest.name), bed_in_machine @ nest_in_bed)
    arms = [nest_in_machine.vector(corner) for corner in nest.stock.outline]
    return _Lies(jig_in_bed, nest_in_bed, bed_in_machine, nest_in_machine, arms)


def _zero(facts: Facts, nest: Nest, lies: _Lies) -> Zero:
    pose = _less_program_angle(lies.nest_in_machine, facts.station.program_angle)
    return Zero(nest, pose, normal_deg(math.degrees(pose.angle_rad)))


def _setup(facts: Facts, located: Located, nest: Nest) -> Setup:
    lies = _lies(facts, located, nest)
    jig_in_bed, nest_in_bed, bed_in_machine, _, arms = lies
    _, zero, angle_deg = _zero(facts, nest, lies)
    footprint = jig_in_bed.points(facts.holder.outline)
    height = heights(facts, nest, footprint, nest_in_bed.origin)
    budget = lies.budget(facts, located)
    code = facts.station.code_of(nest.name)
    person = person_at(facts.machine, bed_in_machine)
    skew = _skew_left_mm(facts, angle_deg, arms)
    bare = Setup(
        facts=facts,
        nest=nest,
        work_offset=code,
        relative_to=None if facts.machine.homes else RELATIVE_TO,
        located=located,
        bed_in_machine=bed_in_machine,
        nest_in_bed=nest_in_bed,
        zero_in_machine=zero,
        heights=height,
        angle_deg=angle_deg,
        writes_angle=facts.dialect.rotation != "none",
        skew_mm=skew,
        budget=budget,
        findings=find_all(
            Placed(
                facts,
                located,
                nest,
                footprint,
                nest_in_bed,
                zero,
                height,
                skew,
                person,
            )
        ),
        printed=_printed(facts, located, nest, code, zero, height, angle_deg, skew, person),
    )
    # both are told of all that stands in it, and neither of the other
    printed = bare.printed._replace(fingerprint=fingerprint(content_lines(bare)))
    return bare._replace(printed=printed, no_block=why_no_block(bare))


def _less_program_angle(nest_in_machine: Pose, program_angle_deg: float) -> Pose:
    """The frame of the program's own coordinates, which may have been posted turned."""
    own = Pose("nest", "program", 0.0, 0.0, -math.radians(program_angle_deg))
    return nest_in_machine @ own


def _skew_left_mm(facts: Facts, angle_deg: float, arms_mm: list[XY]) -> float:
    """The skew of what is not written of an angle; what decimals leave and nobody sees is none."""
    left_mm = skew_mm(unwritten_deg(facts, angle_deg), arms_mm)
    return 0.0 if facts.dialect.rotation != "none" and left_mm < NOT_SHOWN_MM else left_mm


def skew_mm(angle_deg: float, arms_mm: list[XY]) -> float:
    """Largest deviation over the stock when an angle is left unwritten.

    arms_mm: from the zero to the stock's corners. A point at distance d moves along a chord of
    2 d sin(angle/2).
    """
    reach = max(math.hypot(*arm) for arm in arms_mm)
    return 2 * math.sin(abs(math.radians(angle_deg)) / 2) * reach


def _printed(
    facts: Facts,
    located: Located,
    nest: Nest,
    code: str | None,
    zero: Pose,
    height: Heights,
    angle_deg: float,
    skew: float,
    person: Person,
) -> Printed:
    from_corner = seen_from_corner(person, located, nest)
    own = figures(facts.machine.units, facts, nest, zero, height, from_corner)
    decimals = facts.dialect.decimals
    angle = fixed(angle_deg, decimals.deg)
    program_angle = fixed(facts.station.program_angle, decimals.deg)
    turn = str(facts.station.turn)
    words = axis_words(facts, own, angle)
    parts = (
        facts.station.name,
        nest.name,
        facts.bed.name,
        facts.holder.name,
        *(f"{pin.role} {pin.hole}" for pin in located.pins),
        turn,
        code or "",
        own.unit,
        *(f"{word.axis}{word.word}" for word in words),
        angle if facts.dialect.rotation == "g68" else "",
        own.zero_above_surface,
        *own.stock,
        nest.program or facts.station.program or "",
        program_angle,
    )
    return Printed(
        own=own,
        words=words,
        angle=angle,
        program_angle=program_angle,
        turn=turn,
        skew=printed_length(facts, skew),
        max_skew=printed_length(facts, facts.max_skew_mm),
        first_fingerprint=fingerprint(parts),
        fingerprint="",
    )


def offset_rows(facts: Facts) -> list[OffsetRow]:
    """A row for each nest of a station."""
    try:
        setups = make_setups(facts)
    except Refused as refusal:
        # what is kept holds on to nothing of where it came up
        refused = Refused(refusal.cause, refusal.text)
        return [OffsetRow(facts, nest.name, refused) for nest in facts.holder.nests]
    return [OffsetRow(facts, setup.nest.name, setup) for setup in setups]
