"""Wood over metal: what is left above screws and tracks, and the depth of the holes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pincorner.bed.surface import moved_mm, slat_at, slats_under
from pincorner.documents.beds import Bed, Screw, Track
from pincorner.documents.records import Surfacing
from pincorner.errors import Refused
from pincorner.geometry.outline import Outline, band
from pincorner.geometry.pose import XY
from pincorner.units import Unit, told, told_size

THIN_COVER_MM = 1.0
"""Less cover than this is told: a cutter set a little too deep reaches the metal."""


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
    screws = [
        Cover("screw", each.name, (each.at,), each.diameter / 2, _over_screw(bed, cuts, each))
        for each in bed.screws
    ]
    tracks = [
        Cover("track", each.name, track_outline(each), 0.0, _over_track(bed, cuts, each))
        for each in bed.tracks
    ]
    return screws + tracks


def _over_screw(bed: Bed, cuts: Sequence[Surfacing], screw: Screw) -> float | None:
    moved = moved_mm(bed, cuts, slat_at(bed, screw.at))
    return None if moved is None else screw.depth + moved


def _over_track(bed: Bed, cuts: Sequence[Surfacing], track: Track) -> float | None:
    moves = [moved_mm(bed, cuts, slat) for slat in slats_under(bed, track_outline(track))]
    known = [moved for moved in moves if moved is not None]
    return track.depth + min(known) if len(known) == len(moves) else None


def track_outline(track: Track) -> Outline:
    """The track's four corners in bed coordinates."""
    return band(track.from_, track.to, track.width)


def hole_depth_mm(bed: Bed, cuts: Sequence[Surfacing], at_mm: XY) -> float | None:
    """Depth of a hole after these surfacings; None where it is not given.

    A new slat whose height on file is not known counts as high as the old one.
    """
    if bed.grid.depth is None or not cuts:
        return bed.grid.depth
    return bed.grid.depth + (moved_mm(bed, cuts, slat_at(bed, at_mm)) or 0.0)


def check_cut(bed: Bed, before: Sequence[Surfacing], cut: Surfacing, unit: Unit) -> list[Cover]:
    """The covers that a cut leaves thinner than THIN_COVER_MM and that it made thinner.

    Raises Refused where it would reach a screw or a track, or use up the holes' depth.
    """
    after = [*before, cut]
    was = {(each.kind, each.name): each.cover_mm for each in covers(bed, before)}
    thinned = [
        each
        for each in covers(bed, after)
        if each.cover_mm is not None and each.cover_mm < (was[each.kind, each.name] or 0.0)
    ]
    for cover in thinned:
        assert cover.cover_mm is not None
        if cover.cover_mm <= 0:
            left = was[cover.kind, cover.name] or 0.0
            raise Refused(
                "reaches-metal",
                f"this cut would reach {cover.kind} {cover.name} of bed {bed.name}, which has "
                f"{told(left, unit)} of wood over it; sink it deeper, enter its new depth, or cut "
                "less",
            )
    depths = [hole_depth_mm(bed, after, place.at_mm) for place in bed.holes()] if cut.depth else []
    if any(depth is not None and depth <= 0 for depth in depths):
        raise Refused(
            "no-hole-depth",
            f"this cut would leave no depth to the holes of bed {bed.name} "
            f"({told_size(bed.grid.depth or 0.0, unit)} when it was described)",
        )
    return [cover for cover in thinned if cover.thin]
