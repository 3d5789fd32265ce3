"""Z: the surface at a station and the height of program zero above it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from pincorner.bed import slats_around, slats_under, surface_z
from pincorner.documents.fields import Same
from pincorner.documents.jigs import Nest
from pincorner.geometry.outline import TOUCH_MM, Outline, bounds
from pincorner.geometry.pose import XY
from pincorner.setups.facts import Facts


class Heights(NamedTuple):
    """Heights in mm above the bed surface, and the surface in machine Z where it is known.

    `zero_mm`: program zero. `stock_top_mm`, `stock_bottom_mm`: the stock on file (or today's).
    `machine_z_mm`: machine Z of program zero, where the block writes it.
    """

    zero_mm: float
    stock_bottom_mm: float
    stock_top_mm: float
    surface_mm: float | None
    machine_z_mm: float | None

    @property
    def stock_top_in_program_mm(self) -> float:
        """The stock's top in the program's own Z."""
        return self.stock_top_mm - self.zero_mm


def heights(facts: Facts, nest: Nest, footprint_in_bed: Outline, zero_in_bed: XY) -> Heights:
    """The heights of one nest of a station; the surface is taken at the program zero."""
    station = facts.station
    bottom = station.under + facts.holder.seat
    top = bottom + nest.stock.size[2]
    zero = {"surface": 0.0, "seat": bottom, "stock-top": top}[station.z.zero]
    surface = surface_at(facts, footprint_in_bed, zero_in_bed)
    written = station.z.set == "machine" and surface is not None
    machine_z = surface + zero if written and surface is not None else None
    return Heights(zero, bottom, top, surface, machine_z)


def surface_at(facts: Facts, footprint_in_bed: Outline, at_mm: XY) -> float | None:
    """Machine Z of the surface under a footprint; None where a height that counts is not known.

    Over slats of different height the highest counts, since the jig rests on it.
    """
    return _highest(surface_heights(facts, footprint_in_bed, at_mm))


def surface_around(facts: Facts, at_mm: XY, radius_mm: float) -> float | None:
    """Machine Z of the surface that a pin stands on, at its own place; the highest, as a jig's."""
    slats = slats_around(facts.bed, at_mm, radius_mm)
    return _highest(_surfaces(facts, slats, at_mm))


def over_stock_mm(pin_top_mm: float, stock_top_mm: float) -> float:
    """How far a pin reaches over the top of the stock, where a cutter may pass, both as heights
    above one surface; 0 where it does not."""
    over_mm = pin_top_mm - stock_top_mm
    return over_mm if over_mm > TOUCH_MM else 0.0


def stands_higher_mm(facts: Facts, footprint_in_bed: Outline, at_mm: XY, radius_mm: float) -> float:
    """How much higher a pin stands than the jig whose footprint it is: their slats may differ. A
    tilted plane is read at the pin for both."""
    on_mm = surface_around(facts, at_mm, radius_mm)
    return level_mm(on_mm, surface_at(facts, footprint_in_bed, at_mm))


def steps_mm(facts: Facts) -> float:
    """How far heights of the bed's slats, and of its own top, differ at most, as far as known."""
    return _steps_mm(Same(facts.bed), Same(facts.survey), tuple(map(Same, facts.surfacings)))


@lru_cache(maxsize=64)
def _steps_mm(bed: Same, survey: Same, cuts: tuple[Same, ...]) -> float:
    """The same, once for all stations of a bed and for all places that are tried on it."""
    slats = [None, *(slat.name for slat in bed.it.slats)]
    told = [each.it for each in cuts]
    found = (surface_z(bed.it, survey.it, told, slat, (0.0, 0.0)) for slat in slats)
    known = [each for each in found if each is not None]
    return max(known, default=0.0) - min(known, default=0.0)


def rises_mm(
    facts: Facts, footprint_in_bed: Outline, at_mm: XY, points: Iterable[XY]
) -> list[float]:
    """Machine Z at some points of the slat that counts under a footprint, the highest at `at_mm`;
    empty where no height is known."""
    slats = slats_under(facts.bed, footprint_in_bed)
    found = zip(_surfaces(facts, slats, at_mm), slats, strict=True)
    known = [(height, slat) for height, slat in found if height is not None]
    if not known:
        return []
    _, slat = max(known, key=lambda each: each[0])
    return [z for point in points for z in _surfaces(facts, [slat], point) if z is not None]


def _highest(found: Sequence[float | None]) -> float | None:
    known = [height for height in found if height is not None]
    return max(known) if len(known) == len(found) else None


def level_mm(there: float | None, here: float | None) -> float:
    """How much higher one surface lies than another; 0 where either is not known."""
    return there - here if here is not None and there is not None else 0.0


def ends_below(top_mm: float, on_mm: float | None, bottom_mm: float, over_mm: float | None) -> bool:
    """Whether what stands `top_mm` above one surface ends below what lies `bottom_mm` above
    another, by the machine Z of the two; as if level where either is not known."""
    return top_mm + level_mm(on_mm, over_mm) <= bottom_mm + TOUCH_MM


def surface_heights(
    facts: Facts, footprint_in_bed: Outline, at_mm: XY | None = None
) -> list[float | None]:
    """Machine Z of every slat under a footprint, and of the bed's own top where that shows.

    `at_mm`: where a surveyed plane is read, in bed coordinates; the footprint's middle with None.
    """
    at_mm = bounds(footprint_in_bed).middle if at_mm is None else at_mm
    return _surfaces(facts, slats_under(facts.bed, footprint_in_bed), at_mm)


def _surfaces(facts: Facts, slats: Sequence[str | None], at_mm: XY) -> list[float | None]:
    bed, survey, cuts = facts.bed, facts.survey, facts.surfacings
    return [surface_z(bed, survey, cuts, slat, at_mm) for slat in slats]
