"""How well the zero is known: an error budget after JCGM 100 (the GUM)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from pincorner.documents.beds import Pin
from pincorner.documents.jigs import OnDowels
from pincorner.documents.records import Fit
from pincorner.geometry.contact import Corner, Scalar
from pincorner.geometry.pose import XY, Pose
from pincorner.geometry.spread import (
    Spread,
    corner_spread,
    middle,
    on_both_axes,
    rigid_spread,
    spreads_together,
    total,
)
from pincorner.geometry.student import effective_dof, factor_at
from pincorner.setups.facts import Facts
from pincorner.setups.holes import bed_pose, hole_position_sd, measured
from pincorner.setups.locating import Located
from pincorner.setups.pin_fit import PinFit, pin_fit
from pincorner.units import MM_PER_INCH

SQRT_3 = math.sqrt(3.0)

NOT_SHOWN_MM = 0.005
"""Half of the last digit in which uncertainties are printed (0.01 mm). A source whose own expanded
uncertainty r is below it adds r^2 / 2u to one of u: 0.25 um at most where u is 0.05 mm."""


NO_SURVEY = "where the bed lies (no survey)"
TOO_FEW_HOLES = "where the bed lies (a survey of one or two holes)"
DISTURBED = "where the bed lies (disturbed since)"
"""Why it is not counted how well the bed's own place in the machine is known."""

SETTING_G54 = "setting G54"
"""What homing is to a machine that does not home: its key stands for both."""

MEASURED_ZERO = "measured zero"
"""A station as measured has no pins to reckon anything from: it stands for all there is."""

DIFFERS = ("lean", "homing", SETTING_G54, "machine", MEASURED_ZERO)
"""Of what may not be given: that which is not the same each time, or stands for all."""


class Source(NamedTuple):
    """One independent input and its spread at the zero, along the machine's axes.

    `repeats`: it is the same each time the jig is put back. `dof`: degrees of freedom. `ways`:
    spreads of which any may be the true one beside it; at each point the worst counts. `most`: the
    same at the board where it is largest, if not all are alike: by it parts come back.
    """

    name: str
    repeats: bool
    spread: Spread
    dof: float = math.inf
    ways: tuple[Spread, ...] = ()
    most: Source | None = None


class BudgetRow(NamedTuple):
    """One standard deviation at the zero, along the machine's axes."""

    source: str
    x_mm: float
    y_mm: float
    angle_deg: float
    repeats: bool

    @property
    def variance_mm2(self) -> float:
        """Of both axes together, mm2."""
        return self.x_mm**2 + self.y_mm**2


class Budget(NamedTuple):
    """Expanded uncertainties in any one direction (95 %), and what they are made of.

    `u95_*` with all sources, `repeat95_*` with those that differ each time: how well the part
    comes back; at the zero, and the largest over the corners of the stock. `varying`: covariances
    at the zero of what differs each time, any of which may be the true one (`in_each_way`); `fixed`
    of what is the same each time. `not_given`: sources that nobody stated, the bed's own first. An
    expanded uncertainty of 0 stands for one that is not known (`known`).
    """

    rows: tuple[BudgetRow, ...]
    together: BudgetRow
    varying: tuple[Spread, ...]
    fixed: Spread
    not_given: tuple[str, ...]
    k: float
    u95_zero_mm: float
    u95_worst_mm: float
    repeat95_zero_mm: float
    repeat95_worst_mm: float

    @property
    def bed_known(self) -> bool:
        """Whether how well the bed's place is known counts; else `u95_*` hold on the bed alone."""
        return not {NO_SURVEY, TOO_FEW_HOLES, DISTURBED}.intersection(self.not_given)


def known(expanded_mm: float) -> float | None:
    """An expanded uncertainty; None where nothing is given to reckon it from."""
    return expanded_mm or None


def make_budget(facts: Facts, located: Located, zero_in_bed: XY, corners_mm: list[XY]) -> Budget:
    """The budget at the zero; `corners_mm` are arms from the zero in machine coordinates."""
    if located.as_measured:  # the rest alone would pass for all there is
        return _combine([], [MEASURED_ZERO], [(0.0, 0.0), *corners_mm])
    bed_in_machine = bed_pose(facts)
    sources, unsaid = _contact_sources(facts, located, zero_in_bed, bed_in_machine)
    stands = Stands([pin.at_mm for pin in located.contact_pins], located.corner)
    others, unsaid_elsewhere = other_sources(facts, zero_in_bed, bed_in_machine, stands)
    sources += others
    not_given = [*bed_not_given(facts), *unsaid, *unsaid_elsewhere]
    if any(source.spread.xx or source.spread.yy or source.ways for source in sources):
        sources += rounding_source(facts)  # alone it would pass for all there is
    return _combine(sources, not_given, [(0.0, 0.0), *corners_mm])


def bed_not_given(facts: Facts) -> list[str]:
    """Why it is not known how well the bed's place is known; empty where a survey tells."""
    fit = None if facts.survey is None else facts.survey.fit
    if facts.disturbed is not None:
        return [DISTURBED]
    if fit is None:
        return [NO_SURVEY]
    return [TOO_FEW_HOLES] if _says_nothing(fit) else []


def _says_nothing(fit: Fit) -> bool:
    """One or two holes, and nothing states how well they are known."""
    return fit.s == 0.0 and fit.dof == 0


class Stands(NamedTuple):
    """Holes of the pins of a corner, in the order of its contacts, bed coordinates, and the corner;
    of one jig or arrays of many."""

    holes_mm: Sequence[tuple[Scalar, Scalar]]
    corner: Corner


def other_sources(
    facts: Facts,
    zero_in_bed: tuple[Scalar, Scalar],
    bed_in_machine: Pose,
    stands: Stands | None = None,
) -> tuple[list[Source], list[str]]:
    """What does not come from the pins: the bed's survey, and the machine; and what is not given.

    Without `stands` a swollen bed's survey counts as if the bed were rigid, near enough to choose.
    """
    sources: list[Source] = []
    not_given: list[str] = []
    fit = None if facts.survey is None else facts.survey.fit
    if fit is not None and not _says_nothing(fit):
        believed = measured(facts)
        unsettled = 1.0 if believed is None else (1.0 - believed.share) ** 2
        if fit.linear is not None and stands is not None:
            sources.append(_swollen_source(fit, zero_in_bed, bed_in_machine, unsettled, stands))
        else:
            sources.append(_survey_source(fit, zero_in_bed, bed_in_machine, unsettled))
    for name, sd_mm in (
        ("homing", facts.machine.homing),
        ("machine", facts.machine.repeatability),
    ):
        if sd_mm is None:
            homeless = name == "homing" and not facts.machine.homes
            not_given.append(SETTING_G54 if homeless else name)
        elif sd_mm > 0:
            sources.append(Source(name, False, on_both_axes(sd_mm)))
    return sources, not_given


def rounding_source(facts: Facts) -> list[Source]:
    """What the dialect's decimals leave of X and Y, if it shows.

    Uniform within half the last digit (JCGM 100, F.2.2.1). What they leave of an angle is known and
    told as skew, and is not counted again.
    """
    unit = facts.machine.units
    step = 10.0 ** -facts.dialect.decimals.of(unit)
    step_mm = MM_PER_INCH * step if unit == "in" else step
    sd_mm = step_mm / (2 * SQRT_3)
    return [Source("rounding", True, on_both_axes(sd_mm))] if 2 * sd_mm >= NOT_SHOWN_MM else []


def _contact_sources(
    facts: Facts, located: Located, zero_in_bed: XY, bed_in_machine: Pose
) -> tuple[list[Source], list[str]]:
    """What comes from the pins and the jig's edges; and what is not given of them."""
    inward = bed_in_machine.vector(located.corner.inward)

    def source(name: str, sds_mm: list[float], repeats: bool, dof: float = math.inf) -> Source:
        first, second, stop = (sd_mm**2 for sd_mm in sds_mm)
        spread = corner_spread(located.corner, zero_in_bed, (first, second, stop), inward)
        return Source(name, repeats, spread, dof)

    found: list[Source] = []
    not_given: list[str] = []
    holes = [hole_position_sd(facts, pin.at_mm) for pin in located.contact_pins]
    known = [sd_mm for sd_mm, _ in holes if sd_mm is not None]
    if len(known) < len(holes):
        not_given.append("hole position")
    else:
        found.append(source("hole position", known, True, min(dof for _, dof in holes)))
    pins = [pin.pin for pin in located.contact_pins]
    fits = [pin_fit(facts, pin.pin, pin.at_mm, pin.in_jig_mm) for pin in located.contact_pins]

    def varying(of: list[PinFit]) -> Source:
        sds_mm = [fit.varying_sd_mm for fit in of]
        first, second, stop = (fit.lean_sd_mm for fit in of)
        leans: tuple[Spread, ...] = ()
        if max(first, second, stop) > 0:
            leans = spreads_together(located.corner, zero_in_bed, (first, second, stop), inward)
        return source("pin fit", sds_mm, False)._replace(ways=leans)

    found.append(varying(fits)._replace(most=varying([fit.at_most for fit in fits])))
    fixed = [fit.fixed_sd_mm for fit in fits]
    if max(fixed) > 0:
        found.append(source("pin fit", fixed, True))
    if any(fit.lean_unknown for fit in fits):
        not_given.append("lean")
    if not located.on_dowels:  # there a body's size is play, not place
        bodies = [pin.body_tolerance for pin in pins]
        if any(body is None for body in bodies):
            not_given.append("pin body")
        if any(body is not None for body in bodies):
            found.append(source("pin body", [body_sd(pin) for pin in pins], True))
    edges = edge_sd(facts)
    if edges is None:
        not_given.append("jig edge")
    elif edges > 0:
        found.append(source("jig edge", [edges] * 3, True))
    return found, not_given


def contact_spread(facts: Facts, pin: Pin, at_mm: XY) -> tuple[float, PinFit]:
    """Variance, mm2, of an edge contact that a pin makes, but for its lean, and how it stands."""
    hole_sd, _ = hole_position_sd(facts, at_mm)
    fit = pin_fit(facts, pin, at_mm)
    sds_mm = (
        hole_sd or 0.0,
        fit.fixed_sd_mm,
        fit.varying_sd_mm,
        body_sd(pin),
        edge_sd(facts) or 0.0,
    )
    return sum(sd_mm**2 for sd_mm in sds_mm), fit


def edge_sd(facts: Facts) -> float | None:
    """Standard deviation of the jig's edges at a contact, mm; None where it is not given.

    Dowels do not touch them; bare stock states nothing of its own.
    """
    return 0.0 if isinstance(facts.holder.locate, OnDowels) else facts.holder.edge_straightness


def body_sd(pin: Pin) -> float:
    """Standard deviation of a pin's radius, mm: uniform within the diameter's tolerance.

    JCGM 100, 4.3.7. 0 where the tolerance is not given.
    """
    return (pin.body_tolerance or 0.0) / (2 * SQRT_3)


def mostly_play(budget: Budget) -> bool:
    """Whether what pins may do each time outweighs all else at the zero.

    It holds those that always stand at one end of it, so that others are nearly always within.
    """
    ways = (row for row in budget.rows if row.source == "pin fit" and not row.repeats)
    return 2 * sum(row.variance_mm2 for row in ways) > budget.together.variance_mm2


def _survey_source(
    fit: Fit, zero_in_bed: tuple[Scalar, Scalar], bed_in_machine: Pose, unsettled: float
) -> Source:
    """The fit's covariance at the zero: it grows with the distance from the survey's centroid.

    `unsettled`: the share of it that stays where pins stand in measured holes. An estimate
    f + share (q - f) of a hole keeps (1 - share) of the fit's error, squared.
    """
    arm = (zero_in_bed[0] - fit.centroid[0], zero_in_bed[1] - fit.centroid[1])
    s_mm = fit.s * math.sqrt(unsettled)
    spread = rigid_spread(s_mm, fit.points, fit.spread, bed_in_machine.vector(arm))
    return Source("survey", True, spread, fit.dof or math.inf)


def _swollen_source(
    fit: Fit,
    zero_in_bed: tuple[Scalar, Scalar],
    bed_in_machine: Pose,
    unsettled: float,
    stands: Stands,
) -> Source:
    """The same for a bed that is not as drawn: each hole has an error of its own."""
    from pincorner.geometry.fits import Scatter
    from pincorner.geometry.place_spread import PlaceErrors, part_covariance

    assert fit.scatter is not None
    scatter = Scatter(fit.points, *fit.centroid, *fit.scatter)
    s_mm = fit.s * math.sqrt(unsettled)
    errors = PlaceErrors(s_mm, scatter, affine=True, angle_rad=bed_in_machine.angle_rad)
    spread = part_covariance(errors, stands.holes_mm, stands.corner, zero_in_bed)
    return Source("survey", True, spread, fit.dof or math.inf)


def in_each_way(sources: Sequence[Source]) -> list[Spread]:
    """The spread of all sources together in each of the ways that they may be bound.

    The last is that of each for itself, the mean of the others: nowhere larger than all of them,
    but no ellipse of theirs need hold it.
    """
    alone = total(source.spread for source in sources)
    found = [alone]
    for source in sources:
        if source.ways:
            found = [total((spread, way)) for spread in found for way in source.ways]
    return [*found, middle(found)] if len(found) > 1 else found


def _combine(sources: list[Source], not_given: list[str], arms_mm: list[XY]) -> Budget:
    together = in_each_way(sources)
    varying = in_each_way([each.most or each for each in sources if not each.repeats])
    k = _coverage(sources, together, arms_mm)
    u95 = [k * max(way.worst_sd(*arm) for way in together) for arm in arms_mm]
    repeat95 = [k * max(way.worst_sd(*arm) for way in varying) for arm in arms_mm]
    u95 = [max(both) for both in zip(u95, repeat95, strict=True)]  # it lies as it comes back
    return Budget(
        rows=tuple(_row(each.name, in_each_way([each]), each.repeats) for each in sources),
        together=_row("together", together, False),
        varying=tuple(varying),
        fixed=total(source.spread for source in sources if source.repeats),
        not_given=tuple(not_given),
        k=k,
        u95_zero_mm=u95[0],
        u95_worst_mm=max(u95[1:]),
        repeat95_zero_mm=repeat95[0],
        repeat95_worst_mm=max(repeat95[1:]),
    )


def _row(name: str, ways: Sequence[Spread], repeats: bool) -> BudgetRow:
    x_mm, y_mm, angle_rad = (
        math.sqrt(max(variances)) for variances in zip(*(way[:3] for way in ways), strict=True)
    )
    return BudgetRow(name, x_mm, y_mm, math.degrees(angle_rad), repeats)


def _coverage(sources: list[Source], ways: list[Spread], arms_mm: list[XY]) -> float:
    """k = 2, or Student's factor for the fewest effective degrees at the zero and the corners."""
    limited = [(each.spread, each.dof) for each in sources if math.isfinite(each.dof)]
    return max(factor_at(min(effective_dofs(way, limited, arms_mm))) for way in ways)


def effective_dofs(
    together: Spread, limited: Sequence[tuple[Spread, Scalar]], arms_mm: Sequence[XY]
) -> list[Scalar]:
    """Effective degrees of freedom at each point along the direction in which it is known worst.

    `limited`: the spreads whose own degrees are finite; one set of pins, or arrays of many.
    """
    found = []
    for arm in arms_mm:
        worst = together.worst_direction(*arm)
        parts = [(spread.variance_along(worst, *arm), dof) for spread, dof in limited]
        found.append(effective_dof(together.variance_along(worst, *arm), parts))
    return found
