"""Z: the surface at a station and the height of program zero above it."""

from __future__ import annotations

from typing import NamedTuple

from pincorner.documents.fields import key_of
from pincorner.documents.jigs import Nest
from pincorner.geometry.outline import Outline
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


def heights(facts: Facts, nest: Nest, footprint_in_bed: Outline) -> Heights:
    """The heights of one nest of a station."""
    station = facts.station
    bottom = station.under + facts.holder.seat
    top = bottom + nest.stock.size[2]
    zero = {"surface": 0.0, "seat": bottom, "stock-top": top}[station.z.zero]
    surface = surface_at(facts, footprint_in_bed)
    written = station.z.set == "machine" and surface is not None
    machine_z = surface + zero if written and surface is not None else None
    return Heights(zero, bottom, top, surface, machine_z)


def surface_at(facts: Facts, footprint_in_bed: Outline) -> float | None:
    """Machine Z of the surface under a footprint; None where a height that counts is not known.

    Over slats of different height the highest counts, since the jig rests on it.
    """
    found = surface_heights(facts, footprint_in_bed)
    known = [height for height in found if height is not None]
    return max(known) if len(known) == len(found) else None


def surface_heights(facts: Facts, footprint_in_bed: Outline) -> list[float | None]:
    """Machine Z of every slat under a footprint, and of the bed's own top where that shows."""
    under = _slats_under(facts, footprint_in_bed) if facts.bed.slats else [None]
    return [_surface_of(facts, slat) for slat in under]


def _slats_under(facts: Facts, footprint_in_bed: Outline) -> list[str | None]:
    """Names of the slats below a footprint; None stands for the bed's own surface."""
    from shapely import Polygon, box, unary_union

    footprint = Polygon(footprint_in_bed)
    areas = {
        slat.name: box(slat.box.left, slat.box.front, slat.box.right, slat.box.back)
        for slat in facts.bed.slats
    }
    under: list[str | None] = [
        n for n, area in areas.items() if area.intersection(footprint).area > 0
    ]
    if footprint.difference(unary_union(list(areas.values()))).area > 0:
        under.append(None)
    return under


def _surface_of(facts: Facts, slat: str | None) -> float | None:
    """A slat's surface (None: the bed's own) after every surfacing that counts for it."""
    own = next((each.surface for each in facts.bed.slats if each.name == slat), None)
    height = facts.bed.surface if own is None else own
    for cut in facts.surfacings:
        if cut.slats and (slat is None or key_of(slat) not in map(key_of, cut.slats)):
            continue
        if cut.surface is not None:
            height = cut.surface
        elif height is not None and cut.depth is not None:
            height -= cut.depth
    return height
