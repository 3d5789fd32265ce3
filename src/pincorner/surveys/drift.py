"""Where a zero was found after the jig was put back, against where it was computed to be."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from pincorner.errors import BadInput
from pincorner.geometry.pose import XY
from pincorner.setups.setup import Setup
from pincorner.units import MM_PER_INCH, Unit, told_size

CHI2_LIMIT = -2 * math.log(0.05)
"""5.991: 95 % of chi-square with two degrees of freedom lie below (closed form)."""

Z_LIMIT = 1.96
"""95 % of a normal distribution lie within so many standard deviations (JCGM 100, Table G.1)."""

NEAR_HOLE = 0.05
"""A deviation this near to whole pitches, as a share of the pitch, looks like another hole."""

UNIT_SLIP_MM = 10.0
"""Only deviations above this are suspected to be in the wrong unit; smaller ones are drift."""

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


class Comparison(NamedTuple):
    """A verification against what pins, machine and measuring explain.

    `covariance`: of what differs each time and of the measuring. `z_sd_mm`: the same for Z, None
    where Z is not compared. `place95_mm`: how far from its computed place the zero may lie in any
    one direction with every source in the budget. `not_given`: what differs each time but is not
    in the sum. `wrong_unit`, `wrong_hole`: the mistake that the deviation looks like, in words.
    `unit`: the machine's, in which it is told.
    """

    verification: Verification
    covariance: Covariance
    chi2: float
    z_sd_mm: float | None
    place95_mm: float
    not_given: tuple[str, ...]
    wrong_unit: str | None
    wrong_hole: str | None
    unit: Unit

    @property
    def scores(self) -> tuple[float, float, float | None]:
        """The deviation on each axis in its own standard deviations."""
        x, y, z = self.verification.deviation
        of_z = None if z is None or self.z_sd_mm is None else z / self.z_sd_mm
        return x / math.sqrt(self.covariance.xx), y / math.sqrt(self.covariance.yy), of_z

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


def computed_z_mm(setup: Setup) -> float | None:
    """Machine Z of program zero at the gauge point; None where the surface is not known."""
    surface_mm = setup.heights.surface_mm
    return None if surface_mm is None else surface_mm + setup.heights.zero_mm


def compare(setup: Setup, logged: Verification) -> Comparison:
    """A verification against the budget of its setup as it is now."""
    budget, u_mm = setup.budget, logged.u_mm
    varying = budget.varying
    covariance = Covariance(varying.xx + u_mm**2, varying.yy + u_mm**2, varying.xy)
    x, y, z = logged.deviation
    repeatability = setup.facts.machine.repeatability or 0.0
    return Comparison(
        verification=logged,
        covariance=covariance,
        chi2=covariance.distance2((x, y)),
        z_sd_mm=None if z is None else math.hypot(repeatability, u_mm),
        place95_mm=math.hypot(budget.u95_zero_mm, budget.k * u_mm),
        not_given=tuple(n for n in budget.not_given if n in ("lean", "homing", "machine")),
        wrong_unit=_wrong_unit(logged),
        wrong_hole=_wrong_hole(setup, (x, y)),
        unit=setup.facts.machine.units,
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


def _wrong_hole(setup: Setup, off: XY) -> str | None:
    """A deviation of nearly whole pitches along the bed's own axes, in words."""
    pitch = setup.facts.bed.grid.pitch
    along = setup.bed_in_machine.inverse().vector(off)
    steps = [round(each / size) for each, size in zip(along, pitch, strict=True)]
    rest = (each - step * size for each, step, size in zip(along, steps, pitch, strict=True))
    near = all(abs(left) <= NEAR_HOLE * size for left, size in zip(rest, pitch, strict=True))
    if not near or not any(steps):
        return None
    words = [
        f"{_counted(abs(step))} {side[step > 0]}"
        for step, side in zip(steps, (("left", "right"), ("front", "back")), strict=True)
        if step
    ]
    return "about " + " and ".join(words)


def _counted(holes: int) -> str:
    word = {1: "one", 2: "two", 3: "three"}.get(holes, str(holes))
    return f"{word} hole{'s' if holes > 1 else ''} to the"
