"""The bed's surface through its life: surfacings, slats that were replaced, a surveyed plane."""

from __future__ import annotations

from collections.abc import Sequence

from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.documents.records import Surfacing, Survey
from pincorner.geometry.outline import Outline
from pincorner.geometry.pose import XY


def concerns(cut: Surfacing, slat: str | None) -> bool:
    """Whether a surfacing changed a slat (None: the bed's own surface)."""
    return not cut.slats or (slat is not None and key_of(slat) in map(key_of, cut.slats))


def slat_at(bed: Bed, at_mm: XY) -> str | None:
    """The slat at a place of the bed; None for the bed's own surface."""
    return next((slat.name for slat in bed.slats if slat.box.holds(at_mm)), None)


def slats_under(bed: Bed, outline: Outline) -> list[str | None]:
    """Names of the slats below an outline; None stands for the bed's own surface."""
    if not bed.slats:
        return [None]
    from shapely import Polygon, box, unary_union

    above = Polygon(outline)
    areas = {slat.name: box(*slat.box) for slat in bed.slats}
    under: list[str | None] = [n for n, area in areas.items() if area.intersection(above).area > 0]
    if above.difference(unary_union(list(areas.values()))).area > 0:
        under.append(None)
    return under


def surface_z(
    bed: Bed, survey: Survey | None, cuts: Sequence[Surfacing], slat: str | None, at_mm: XY
) -> float | None:
    """Machine Z of a slat (None: the bed's own surface) at a place; None where it is not known.

    A slat with a height of its own keeps it, less every cut since; else the survey's plane counts,
    less the cuts made after it; else the bed's stated surface, less all cuts. `cuts` come in order
    of name, by which records are dated.
    """
    height = _stated(bed, slat)
    for cut in cuts:
        if concerns(cut, slat):
            height = _after(height, cut)
    if height is not None:
        return height
    plane = survey.fit.plane if survey is not None else None
    if survey is None or plane is None:
        height, since = bed.surface, ""
    else:
        height, since = plane.at(at_mm, survey.fit.centroid), survey.name
    for cut in cuts:
        if concerns(cut, slat) and cut.name > since:
            height = _after(height, cut)
    return height


def _after(height_mm: float | None, cut: Surfacing) -> float | None:
    if cut.depth is None:
        return cut.surface
    return None if height_mm is None else height_mm - cut.depth


def _stated(bed: Bed, slat: str | None) -> float | None:
    return next((each.surface for each in bed.slats if each.name == slat), None)


def moved_mm(bed: Bed, cuts: Sequence[Surfacing], slat: str | None) -> float | None:
    """How far a surface has moved up (cut down: negative) since the bed was described.

    None for a slat that was replaced where its height on file is not known.
    """
    moved: float | None = 0.0
    stated = _stated(bed, slat)
    before = bed.surface if stated is None else stated
    for cut in cuts:
        if not concerns(cut, slat):
            continue
        if cut.depth is None:
            known = cut.surface is not None and before is not None
            moved = cut.surface - before if known else None  # type: ignore[operator]
        elif moved is not None:
            moved -= cut.depth
    return moved


def replaced_since(survey: Survey, cuts: Sequence[Surfacing], slat: str | None) -> bool:
    """Whether a slat was replaced after a survey: its holes count as unmeasured again."""
    return slat is not None and any(
        cut.surface is not None and cut.name > survey.name and concerns(cut, slat) for cut in cuts
    )
