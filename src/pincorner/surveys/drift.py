"""Where a zero was found after the jig was put back, against where it was computed to be.

Verifications of a nest stand on control charts that begin anew where something was changed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate, combinations, compress
from statistics import median
from typing import Any, Literal, NamedTuple

from pincorner.documents.beds import Bed
from pincorner.errors import BadInput
from pincorner.geometry.charts import (
    FEWEST,
    Cusum,
    Limits,
    drift_cusum,
    limits,
    moving_ranges,
    ordinary,
    seen_shift,
)
from pincorner.geometry.outline import bounds
from pincorner.geometry.pose import XY
from pincorner.setups.budget import DIFFERS
from pincorner.setups.person import MOVED, Person, nearest_way
from pincorner.setups.setup import Setup
from pincorner.units import MM_PER_INCH, Unit, told, told_size

CHI2_LIMIT = -2 * math.log(0.05)
"""5.991: 95 % of chi-square with two degrees of freedom lie below (closed form)."""

Z_LIMIT = 1.96
"""95 % of a normal distribution lie within so many standard deviations (JCGM 100, Table G.1)."""

NEAR_HOLE = 0.05
"""A deviation this near to whole pitches, as a share of the pitch, looks like another hole."""

UNIT_SLIP_MM = 10.0
"""Only deviations above this are suspected to be in the wrong unit; smaller ones are drift."""

EXCHANGED_MM = 5.0
"""Zeros found so near to the computed one with X and Y exchanged were entered so."""

WILD_U_MM = 1.0
"""A zero is found to tenths at worst: a larger standard deviation is a slip of the unit, and would
explain any drift away (common practice)."""

SAME_MM = 0.001
"""Zeros computed nearer to each other are one place."""

Verdict = Literal["within", "beyond"]


class Verification(NamedTuple):
    """Where the zero of a nest was found, and where it was computed to be then; machine, mm.

    `at`: ISO time that sorts as text. `u_mm`: one standard deviation of the measuring, per axis.
    """

    at: str
    nest: str
    x_mm: float
    y_mm: float
    z_mm: float | None
    computed_x_mm: float
    computed_y_mm: float
    computed_z_mm: float | None
    u_mm: float

    @property
    def deviation(self) -> tuple[float, float, float | None]:
        """Found less computed, mm; Z where both are known."""
        z_mm = None
        if self.z_mm is not None and self.computed_z_mm is not None:
            z_mm = self.z_mm - self.computed_z_mm
        return self.x_mm - self.computed_x_mm, self.y_mm - self.computed_y_mm, z_mm

    @property
    def off_mm(self) -> float:
        """How far off in the plane."""
        return math.hypot(*self.deviation[:2])


class Covariance(NamedTuple):
    """Variances along X and Y and their covariance, mm2."""

    xx: float
    yy: float
    xy: float

    def distance2(self, off: XY) -> float:
        """d^T Sigma^-1 d, the square of a deviation in standard deviations."""
        x, y = off
        determinant = self.xx * self.yy - self.xy**2
        return (self.yy * x * x - 2 * self.xy * x * y + self.xx * y * y) / determinant

    def times(self, factor: float) -> Covariance:
        return Covariance(*(factor * each for each in self))

    def plus(self, other: Covariance) -> Covariance:
        """Of the sum of two that are independent."""
        return Covariance(self.xx + other.xx, self.yy + other.yy, self.xy + other.xy)

    def share_of(self, whole: Covariance) -> tuple[float, float, float, float]:
        """This one times the inverse of `whole`, row by row."""
        determinant = whole.xx * whole.yy - whole.xy**2
        return (
            (self.xx * whole.yy - self.xy * whole.xy) / determinant,
            (self.xy * whole.xx - self.xx * whole.xy) / determinant,
            (self.xy * whole.yy - self.yy * whole.xy) / determinant,
            (self.yy * whole.xx - self.xy * whole.xy) / determinant,
        )


def best_of(ways: Sequence[Covariance], off: XY) -> Covariance:
    """The one of which a deviation has the fewest standard deviations: what covers all of them."""
    return min(ways, key=lambda way: way.distance2(off))


class Usual(NamedTuple):
    """Where a zero usually is, off its computed place, mm, and how well that is known.

    What is the same each time is one draw from its spread in the budget; each verification that was
    within narrows it. A least-squares estimate with that spread as prior knowledge, one reading
    after the other (JCGM 100, 4.1.4 note and F.1.2.4 on what is common to readings; the recursion
    is that of Kalman, 1960, from memory). Before the first it is the computed place itself.
    """

    at_mm: XY
    covariance: Covariance
    readings: int

    def expects(self, varying: Covariance) -> Covariance:
        """How far from there the next one may be found."""
        return self.covariance.plus(varying)

    def after(self, off: XY, varying: Covariance) -> Usual:
        """The same after a verification."""
        a, b, c, d = self.covariance.share_of(self.expects(varying))
        x, y = off[0] - self.at_mm[0], off[1] - self.at_mm[1]
        xx, yy, xy = self.covariance
        left = Covariance(xx - a * xx - b * xy, yy - c * xy - d * yy, xy - a * xy - b * yy)
        at_mm = (self.at_mm[0] + a * x + b * y, self.at_mm[1] + c * x + d * y)
        return Usual(at_mm, left, self.readings + 1)


class Comparison(NamedTuple):
    """A verification against what pins, machine and measuring explain.

    `covariances`: of what differs each time and of the measuring; any may be the true one, as in
    the budget, and what one of them explains is explained. `usual`: where the zero was found
    before, since its pins were set. `z_sd_mm`: the same for Z, None where Z is not compared.
    `place95_mm`: how far from its computed place the zero may lie in any one direction with every
    source in the budget. `not_given`: what is not in the sum: for a first one all of it, later what
    differs each time. `wrong_unit`, `wrong_hole`: the mistake that the deviation looks like, in
    words; `exchanged`: X and Y seem to have been entered for each other.
    `as_measured`: no pins hold the zero.
    `unit`: the machine's, in which it is told; `person`: whose words of direction are used.
    """

    verification: Verification
    covariances: tuple[Covariance, ...]
    chi2: float
    z_sd_mm: float | None
    place95_mm: float
    not_given: tuple[str, ...]
    wrong_unit: str | None
    wrong_hole: str | None
    unit: Unit
    usual: Usual
    person: Person = Person()
    exchanged: bool = False
    as_measured: bool = False

    @property
    def expected(self) -> Covariance:
        """How far from its usual place it may be found; for a first one everything counts.

        Of several ways the one that explains best where it was found.
        """
        return best_of([self.usual.expects(each) for each in self.covariances], self.from_usual)

    @property
    def from_usual(self) -> XY:
        """Found, less where it usually is, mm."""
        x, y, _ = self.verification.deviation
        return x - self.usual.at_mm[0], y - self.usual.at_mm[1]

    @property
    def is_first(self) -> bool:
        """Whether none before was within: it is held against all that the budget has."""
        return self.usual.readings == 0

    @property
    def explains(self) -> str:
        """What explains deviations up to `explained_mm`."""
        if self.as_measured:
            return "measuring alone would"
        return f"{'holes, ' if self.is_first else ''}pins, machine and measuring"

    @property
    def explained_mm(self) -> float:
        """How far that way pins, machine and measuring explain: 95 of 100 stay within."""
        if self.chi2 > 0:
            return math.hypot(*self.from_usual) * math.sqrt(CHI2_LIMIT / self.chi2)
        ways = [self.usual.expects(each) for each in self.covariances]
        return math.sqrt(CHI2_LIMIT * max(size for way in ways for size in (way.xx, way.yy)))

    @property
    def scores(self) -> tuple[float, float, float | None]:
        """The deviation from its usual place on each axis in its own standard deviations."""
        (x, y), z = self.from_usual, self.verification.deviation[2]
        of_z = None if z is None or self.z_sd_mm is None else z / self.z_sd_mm
        return x / math.sqrt(self.expected.xx), y / math.sqrt(self.expected.yy), of_z

    @property
    def beyond_in_plane(self) -> bool:
        return self.chi2 > CHI2_LIMIT

    @property
    def beyond_in_z(self) -> bool:
        score = self.scores[2]
        return score is not None and abs(score) > Z_LIMIT

    @property
    def verdict(self) -> Verdict:
        """`beyond` where X and Y together, or Z alone, are off by more than 95 % are."""
        return "beyond" if self.beyond_in_plane or self.beyond_in_z else "within"


def verification(
    setup: Setup, at: str, found: tuple[float, float, float | None], u_mm: float | None
) -> Verification:
    """What is logged for a zero found at `found` (machine, mm).

    With `u_mm` None the machine's repeatability counts as the measuring's standard deviation.
    Raises BadInput where neither is given or `u_mm` is not positive.
    """
    machine = setup.facts.machine
    known = machine.repeatability if u_mm is None else u_mm
    if u_mm is not None and u_mm <= 0:
        got = told_size(u_mm, machine.units)
        raise BadInput(f"--u: expected the standard deviation of measuring, above 0, got {got}")
    if not known:
        raise BadInput(
            f"--u is needed: how well the zero was measured (one standard deviation); machine "
            f"{machine.name} has no repeatability on file to take instead"
        )
    zero = setup.zero_in_machine
    return Verification(
        at, setup.nest.name, *found, zero.x_mm, zero.y_mm, computed_z_mm(setup), known
    )


def logged_of(row: Any) -> Verification:
    """The verification that a row of the registry holds."""
    return Verification(**{name: row[name] for name in Verification._fields})


def is_of(logged: Verification, setup: Setup) -> bool:
    """Whether a verification is of the place where the setup has its zero now."""
    zero = setup.zero_in_machine
    return math.dist((logged.computed_x_mm, logged.computed_y_mm), zero.origin) < SAME_MM


def computed_z_mm(setup: Setup) -> float | None:
    """Machine Z of program zero at the gauge point; None where the surface is not known."""
    surface_mm = setup.heights.surface_mm
    return None if surface_mm is None else surface_mm + setup.heights.zero_mm


def usual_place(setup: Setup, before: Sequence[Verification]) -> Usual:
    """Where a zero usually is, of the verifications since its pins were set, oldest first.

    What was beyond what those before it explain counts for nothing.
    """
    fixed = setup.budget.fixed
    usual = Usual((0.0, 0.0), Covariance(fixed.xx, fixed.yy, fixed.xy), 0)
    for each in before:
        ways, (x, y, _) = _varying(setup, each.u_mm), each.deviation
        off = (x - usual.at_mm[0], y - usual.at_mm[1])
        if best_of([usual.expects(way) for way in ways], off).distance2(off) <= CHI2_LIMIT:
            usual = usual.after((x, y), ways[-1])  # each for itself: leans of many times
    return usual


def _varying(setup: Setup, u_mm: float) -> tuple[Covariance, ...]:
    """What differs each time and the measuring, in each way of the budget."""
    return tuple(
        Covariance(way.xx + u_mm**2, way.yy + u_mm**2, way.xy) for way in setup.budget.varying
    )


def compare(setup: Setup, logged: Verification, before: Sequence[Verification] = ()) -> Comparison:
    """A verification against the budget of its setup as it is now.

    `before`: those since its pins were set. The first is held against everything in the budget;
    later the place where it was found carries what is the same each time, and the rest is compared.
    """
    budget, u_mm = setup.budget, logged.u_mm
    covariances, usual = _varying(setup, u_mm), usual_place(setup, before)
    x, y, z = logged.deviation
    off = (x - usual.at_mm[0], y - usual.at_mm[1])
    repeatability = setup.facts.machine.repeatability or 0.0
    return Comparison(
        verification=logged,
        covariances=covariances,
        chi2=best_of([usual.expects(way) for way in covariances], off).distance2(off),
        z_sd_mm=None if z is None else math.hypot(repeatability, u_mm),
        place95_mm=math.hypot(budget.u95_zero_mm, budget.k * u_mm),
        not_given=tuple(
            name for name in budget.not_given if usual.readings == 0 or name in DIFFERS
        ),
        wrong_unit=_wrong_unit(logged),
        wrong_hole=_wrong_hole(setup, (x, y)),
        unit=setup.facts.machine.units,
        usual=usual,
        person=setup.person,
        exchanged=_exchanged(logged),
        as_measured=setup.located.as_measured,
    )


FAR_APART = 0.5
"""Of a bed's diagonal: what two places so far apart know of its angle is off by no more than three
times their own error anywhere on it (sqrt(2) over this share, JCGM 100, 5.1.2)."""


def shows_where(bed: Bed, compared: Sequence[tuple[Setup, Comparison]]) -> bool:
    """Whether zeros found at stations of a bed show that it lies where it is on file.

    They do where two of them, far apart, were found within what pins, machine and measuring
    explain, and none was found beyond it. A zero that no pins hold tells of the machine alone.
    """
    if any(comparison.verdict == "beyond" for _, comparison in compared):
        return False
    box = bounds(tuple(hole.at_mm for hole in bed.holes()))
    least_mm = FAR_APART * math.hypot(box.width, box.depth)
    return any(
        math.dist(one.zero_in_bed, other.zero_in_bed) >= least_mm
        for (one, _), (other, _) in combinations(compared, 2)
        if one.facts.station.name != other.facts.station.name
        and not (one.located.as_measured or other.located.as_measured)
    )


def _wrong_unit(logged: Verification) -> str | None:
    """Axes that are far off and would agree to a millimetre in the other unit."""
    found = (logged.x_mm, logged.y_mm, logged.z_mm)
    far = [
        (axis, place, place - off)
        for axis, place, off in zip("XYZ", found, logged.deviation, strict=True)
        if place is not None and off is not None and abs(off) > UNIT_SLIP_MM
    ]
    names = [axis for axis, _, _ in far]
    axes = " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))
    for factor, given, taken in ((MM_PER_INCH, "inches", "mm"), (1 / MM_PER_INCH, "mm", "inches")):
        if far and all(abs(place * factor - computed) <= 1.0 for _, place, computed in far):
            return f"{axes} look{'s' if len(far) == 1 else ''} like {given} taken as {taken}"
    return None


def _exchanged(logged: Verification) -> bool:
    """Whether X and Y are far off, and would agree with each other's computed place."""
    swapped = math.dist((logged.y_mm, logged.x_mm), (logged.computed_x_mm, logged.computed_y_mm))
    return logged.off_mm > UNIT_SLIP_MM and swapped <= EXCHANGED_MM


def doubt(setup: Setup, logged: Verification) -> str | None:
    """What is odd about a zero that was found, and likely why: how well, or where."""
    return "; ".join(filter(None, (_wild_u(setup, logged.u_mm), _far_off(setup, logged)))) or None


def _wild_u(setup: Setup, u_mm: float) -> str | None:
    """A standard deviation of measuring that no zero is found with."""
    machine = setup.facts.machine
    if u_mm <= max(WILD_U_MM, machine.repeatability or 0.0):
        return None
    return (
        f"--u: a standard deviation of {told_size(u_mm, machine.units)} is much for measuring "
        "a zero, and would explain any drift away"
    )


def _far_off(setup: Setup, logged: Verification) -> str | None:
    """A zero farther than half a pitch from its place."""
    z_mm = abs(logged.deviation[2] or 0.0)
    least_mm, unit = min(setup.facts.bed.grid.pitch) / 2, setup.facts.machine.units
    if logged.off_mm <= least_mm and z_mm <= least_mm:
        return None
    off = told(logged.off_mm, unit, 1)
    if logged.off_mm <= least_mm:
        off = f"{told(z_mm, unit, 1)} in Z"
    compared = compare(setup, logged)
    looks = "X and Y look exchanged" if compared.exchanged else compared.wrong_unit
    looks = looks or (f"that is {compared.wrong_hole}" if compared.wrong_hole else "")
    return (
        f"the zero of {setup.name} was found {off} off, more than half a pitch "
        f"({told_size(least_mm, unit)})" + (f"; {looks}" if looks else "")
    )


def _wrong_hole(setup: Setup, off: XY) -> str | None:
    """A deviation of nearly whole pitches along the bed's own axes, in words."""
    if setup.located.as_measured:
        return None
    pitch = setup.facts.bed.grid.pitch
    along = setup.bed_in_machine.inverse().vector(off)
    steps = [round(each / size) for each, size in zip(along, pitch, strict=True)]
    rest = (each - step * size for each, step, size in zip(along, steps, pitch, strict=True))
    near = all(abs(left) <= NEAR_HOLE * size for left, size in zip(rest, pitch, strict=True))
    if not near or not any(steps):
        return None
    seen = setup.person.bed_vector((float(steps[0]), float(steps[1])))
    return "about " + " and ".join(f"{_counted(size)} {way}" for size, way in told_moves(seen))


def told_moves(seen: XY) -> list[tuple[float, str]]:
    """How far something is off to a side, and how far nearer or farther, with the words for it.

    `seen`: (right, away) of the person at the machine; a nought is left out.
    """
    right, away = seen
    parts = (right, 0.0), (0.0, away)
    return [(math.hypot(*each), MOVED[nearest_way(each)]) for each in parts if any(each)]


def _counted(holes: float) -> str:
    word = {1: "one", 2: "two", 3: "three"}.get(round(holes), f"{holes:.0f}")
    return f"{word} hole{'s' if holes > 1 else ''}"


class Restart(NamedTuple):
    """A change after which older verifications say nothing: a survey, a new pin, a registration.

    `at` as in `Verification`; `why` is shown at its place in the chart. `whys`: several where no
    verification lies between them.
    """

    at: str
    whys: tuple[str, ...]

    @property
    def why(self) -> str:
        return ", ".join(self.whys)


class AxisChart(NamedTuple):
    """Deviations along one machine axis in one period, mm.

    `places`: which verification of the period each value belongs to (Z is not always measured).
    `ordinary`: whether a value counts in the limits; the others are mistakes, far out. `limits` is
    None below eight ordinary values (or where all are equal), and so long nothing is `beyond`; the
    CUSUM signals from the eighth on.
    """

    axis: str
    places: tuple[int, ...]
    values: tuple[float, ...]
    ordinary: tuple[bool, ...]
    limits: Limits | None
    beyond: tuple[bool, ...]
    cusum: Cusum

    @property
    def ranges(self) -> tuple[tuple[int, float], ...]:
        """Moving ranges between ordinary values, each with the later one's place in `values`."""
        kept = [at for at, counts in enumerate(self.ordinary) if counts]
        moved = moving_ranges([self.values[at] for at in kept])
        return tuple(zip(kept[1:], moved, strict=True))

    @property
    def sees_mm(self) -> float | None:
        """How large a lasting shift this chart would show within the next `charts.NEXT` values.

        Nearly always, for the scatter so far; None without limits, or while it drifts.
        """
        if self.limits is None or self.cusum.signals[-1]:
            return None
        sd_mm = (self.limits.upper - self.limits.centre) / 3  # three-sigma limits
        return seen_shift(sum(self.ordinary)) * sd_mm

    @property
    def drift_from(self) -> int | None:
        """The value with which the drift began that the CUSUM signals last; None without one.

        The first after the sum was last 0 (Montgomery, Introduction to Statistical Quality
        Control, on the time of a shift; from memory).
        """
        if not self.values or not self.cusum.signals[-1]:
            return None
        sums = self.cusum.upper if self.cusum.signals[-1] > 0 else self.cusum.lower
        zeros = [at for at, each in enumerate(sums) if each == 0.0]
        return zeros[-1] + 1 if zeros else 0


class Period(NamedTuple):
    """Verifications between two restarts: one chart for each axis, X, Y and, where known, Z."""

    restart: Restart | None
    verifications: tuple[Verification, ...]
    axes: tuple[AxisChart, ...]

    def of_last(self) -> tuple[AxisChart, ...]:
        """The axes on which the last verification has a value, which is the last of each."""
        newest = len(self.verifications) - 1
        return tuple(axis for axis in self.axes if axis.places and axis.places[-1] == newest)


class StationChart(NamedTuple):
    """All periods of a nest that hold verifications, oldest first, and the one that goes on now."""

    nest: str
    periods: tuple[Period, ...]
    current: Period


def chart(
    nest: str, verifications: Sequence[Verification], restarts: Sequence[Restart] = ()
) -> StationChart:
    """The control charts of one nest, from its verifications in the order they were made."""
    rest = list(verifications)
    periods = []
    begins: Restart | None = None
    for restart in sorted(restarts):
        before = [each for each in rest if each.at < restart.at]
        rest = rest[len(before) :]
        if before:
            periods.append(_period(begins, before))
            begins = restart
        else:
            begins = _both(begins, restart)
    current = _period(begins, rest)
    return StationChart(nest, (*periods, current) if rest else tuple(periods), current)


def _both(earlier: Restart | None, later: Restart) -> Restart:
    """Two restarts with no verification between them, as one."""
    known = () if earlier is None else earlier.whys
    return Restart(later.at, (*known, *(why for why in later.whys if why not in known)))


def _period(restart: Restart | None, verifications: Sequence[Verification]) -> Period:
    axes = []
    for index, axis in enumerate("XYZ"):
        known = [
            (place, value)
            for place, each in enumerate(verifications)
            if (value := each.deviation[index]) is not None
        ]
        if known:
            least_sd = median(verifications[place].u_mm for place, _ in known)
            places, values = zip(*known, strict=True)
            axes.append(_axis_chart(axis, places, values, least_sd))
    return Period(restart, tuple(verifications), tuple(axes))


def _no_finer(held: Limits, reach: float) -> Limits:
    """Limits that are nowhere nearer to the middle than what can be measured.

    Rounded read-outs repeat exactly, and then say little about what comes next.
    """
    lower, upper = min(held.lower, held.centre - reach), max(held.upper, held.centre + reach)
    return held._replace(lower=lower, upper=upper)


def _axis_chart(
    axis: str, places: tuple[int, ...], values: tuple[float, ...], least_sd: float
) -> AxisChart:
    counted = ordinary(values, least_sd)
    scatter = list(compress(values, counted))
    alike = len(set(scatter)) <= 1  # readings too coarse to show any scatter
    held = None
    if len(scatter) >= FEWEST and not alike:
        held = _no_finer(limits(scatter), least_sd)
    beyond = tuple(held is not None and not held.hold(value) for value in values)
    sums = drift_cusum(values, counted)
    known = accumulate(counted)  # ordinary values up to here, this one among them
    signals = (sign * (n >= FEWEST) for sign, n in zip(sums.signals, known, strict=True))
    cusum = sums._replace(signals=tuple(signals))
    return AxisChart(axis, places, values, counted, held, beyond, cusum)
