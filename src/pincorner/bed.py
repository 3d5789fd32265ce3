"""A bed through its life: how high its surface is, and what wood is left over metal.

The surface follows from surfacings, slats that were replaced and a surveyed plane; what is left
above screws and tracks, and how deep holes still are, follows from the surface.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from pincorner.documents.beds import Bed, Screw, Track
from pincorner.documents.fields import Same, key_of
from pincorner.documents.records import Surfacing, Survey
from pincorner.errors import Refused
from pincorner.geometry.outline import Outline, band, bounds
from pincorner.geometry.pose import XY
from pincorner.units import Unit, told_down, told_size

THIN_COVER_MM = 1.0
"""Less cover than this is told: a cutter set a little too deep reaches the metal."""


def concerns(cut: Surfacing, slat: str | None) -> bool:
    """Whether a surfacing changed a slat (None: the bed's own surface)."""
    return not cut.slats or (slat is not None and key_of(slat) in map(key_of, cut.slats))


def slats_under(bed: Bed, outline: Outline) -> list[str | None]:
    """Names of the slats below an outline; None stands for the bed's own surface."""
    around = bounds(outline)
    met = [slat for slat in bed.slats if slat.box.meets(around)]
    if not met:
        return [None]
    from shapely import Polygon, box, unary_union

    above = Polygon(outline)
    areas = {slat.name: box(*slat.box) for slat in met}
    under: list[str | None] = [n for n, area in areas.items() if area.intersection(above).area > 0]
    if above.difference(unary_union(list(areas.values()))).area > 0:
        under.append(None)
    return under


def slats_around(bed: Bed, at_mm: XY, radius_mm: float) -> list[str | None]:
    """Names of the slats that a round thing lies in, by the box around it, as `slats_under`.

    A hole or a screw's head may lie across a joint: what is done to either slat counts for it.
    """
    around = bounds((at_mm,)).grown(radius_mm)
    whole = [slat.name for slat in bed.slats if slat.box.encloses(around)]
    return [whole[0]] if whole else slats_under(bed, around.outline)


def slats_of_hole(bed: Bed, at_mm: XY) -> list[str | None]:
    """Names of the slats that the hole at a place is drilled into, as `slats_under`."""
    return slats_around(bed, at_mm, bed.grid.hole / 2)


def surface_z(
    bed: Bed, survey: Survey | None, cuts: Sequence[Surfacing], slat: str | None, at_mm: XY
) -> float | None:
    """Machine Z of a slat (None: the bed's own surface) at a place; None where it is not known.

    A slat with a height of its own keeps it, less every cut since; else the survey's plane counts,
    less the cuts made after it; else the bed's stated surface, less all cuts. `cuts` come in order
    of name, by which records are dated.
    """
    height = _own_height(bed, cuts, slat)
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


def lies_on_plane(
    bed: Bed, survey: Survey | None, cuts: Sequence[Surfacing], slat: str | None
) -> bool:
    """Whether a slat's height (None: the bed's own surface) is read from the survey's plane."""
    has_plane = survey is not None and survey.fit.plane is not None
    return has_plane and _own_height(bed, cuts, slat) is None


def _own_height(bed: Bed, cuts: Sequence[Surfacing], slat: str | None) -> float | None:
    """Machine Z of a slat that has a height of its own, stated or since it was replaced."""
    height = _stated(bed, slat)
    for cut in cuts:
        if concerns(cut, slat):
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


class Cover(NamedTuple):
    """Wood over a screw or a track, where it is thinnest; None: not known since a slat was new.

    outline: the metal in bed coordinates; of a screw its middle, which `radius_mm` makes a disc.
    """

    kind: str
    name: str
    outline: Outline
    radius_mm: float
    cover_mm: float | None

    @property
    def thin(self) -> bool:
        return self.cover_mm is None or self.cover_mm < THIN_COVER_MM


def covers(bed: Bed, cuts: Sequence[Surfacing]) -> list[Cover]:
    """The cover over every screw and track of a bed, after these surfacings."""
    return list(_covers(Same(bed), tuple(map(Same, cuts))))


@lru_cache(maxsize=64)
def _covers(bed: Same, cuts: tuple[Same, ...]) -> tuple[Cover, ...]:
    """The same, once for all stations of a bed."""
    return tuple(
        cover if all_known else cover._replace(cover_mm=None)
        for cover, all_known in _least_known(bed.it, [cut.it for cut in cuts])
    )


def _least_known(bed: Bed, cuts: Sequence[Surfacing]) -> Iterator[tuple[Cover, bool]]:
    """Every screw and track with its thinnest cover that is known, and whether all of it is."""
    for each in bed.screws:
        moves = _moves(bed, cuts, slats_around(bed, each.at, each.diameter / 2))
        cover = Cover("screw", each.name, (each.at,), each.diameter / 2, _thinnest(each, moves))
        yield cover, None not in moves
    for track in bed.tracks:
        outline = track_outline(track)
        moves = _moves(bed, cuts, slats_under(bed, outline))
        cover = Cover("track", track.name, outline, 0.0, _thinnest(track, moves))
        yield cover, None not in moves


def _moves(bed: Bed, cuts: Sequence[Surfacing], slats: Sequence[str | None]) -> list[float | None]:
    return [moved_mm(bed, cuts, slat) for slat in slats]


def _thinnest(metal: Screw | Track, moves: Sequence[float | None]) -> float | None:
    known = [moved for moved in moves if moved is not None]
    return metal.depth + min(known) if known else None


def track_outline(track: Track) -> Outline:
    """The track's four corners in bed coordinates."""
    return band(track.from_, track.to, track.width)


def hole_depth_mm(bed: Bed, cuts: Sequence[Surfacing], at_mm: XY) -> float | None:
    """Depth of a hole after these surfacings; None where it is not given.

    A new slat whose height on file is not known counts as high as the old one.
    """
    if bed.grid.depth is None or not cuts:
        return bed.grid.depth
    moves = _moves(bed, cuts, slats_of_hole(bed, at_mm))
    return bed.grid.depth + min(moved or 0.0 for moved in moves)


def check_cut(bed: Bed, before: Sequence[Surfacing], cut: Surfacing, unit: Unit) -> list[Cover]:
    """The covers that a cut leaves thinner than THIN_COVER_MM and that it made thinner.

    Of metal below several slats what is known counts, whatever is not. Raises Refused where it
    would reach a screw or a track, or use up the holes' depth.
    """
    after = [*before, cut]
    was = {(each.kind, each.name): each.cover_mm for each, _ in _least_known(bed, before)}
    thinned = [
        each
        for each, _ in _least_known(bed, after)
        if each.cover_mm is not None and each.cover_mm < (was[each.kind, each.name] or 0.0)
    ]
    for cover in thinned:
        assert cover.cover_mm is not None
        if cover.cover_mm <= 0:
            left = was[cover.kind, cover.name] or 0.0
            raise Refused(
                "reaches-metal",
                f"this cut would reach {cover.kind} {cover.name} of bed {bed.name}, which has "
                f"{told_down(left, unit)} of wood over it; sink it deeper, enter its new depth, or "
                "cut less",
            )
    depths = [hole_depth_mm(bed, after, place.at_mm) for place in bed.holes()] if cut.depth else []
    if any(depth is not None and depth <= 0 for depth in depths):
        raise Refused(
            "no-hole-depth",
            f"this cut would leave no depth to the holes of bed {bed.name} "
            f"({told_size(bed.grid.depth or 0.0, unit)} when it was described)",
        )
    return [cover for cover in thinned if cover.thin]
