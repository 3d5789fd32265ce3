"""What was done to a bed, told: resurfacing."""

from __future__ import annotations

from pincorner.bed.covers import Cover
from pincorner.documents.records import Surfacing
from pincorner.render.text.tables import table
from pincorner.units import Unit, figure, told


def resurface_text(
    surfacing: Surfacing, covers: tuple[Cover, ...], thin: tuple[Cover, ...], unit: Unit
) -> str:
    """What was recorded, and the wood left over screws and tracks."""
    where = f"slats {', '.join(surfacing.slats)}" if surfacing.slats else "the whole surface"
    if surfacing.depth is not None:
        what = f"{where}: {told(surfacing.depth, unit)} cut off"
    else:
        what = f"{where}: new, at machine Z {told(surfacing.surface or 0.0, unit)}"
    lines = f"recorded surfacing {surfacing.name} of bed {surfacing.bed}, {what}\n"
    if covers:
        rows = [(each.kind, each.name, _left(each, unit)) for each in covers]
        lines += "\n" + table(("over", "name", f"wood left, {unit}"), rows, "..r")
    for cover in thin:
        lines += f"! {thin_text(cover, unit)}\n"
    lines += (
        "\nSurvey heights again before trusting Z; offsets, blocks and sheets follow: see "
        "pincorner status\n"
    )
    return lines


def _left(cover: Cover, unit: Unit) -> str:
    return "not known" if cover.cover_mm is None else figure(cover.cover_mm, unit)


def thin_text(cover: Cover, unit: Unit) -> str:
    """A thin cover in a sentence."""
    if cover.cover_mm is None:
        return f"the wood over {cover.kind} {cover.name} is not known since its slat was replaced"
    return f"{cover.kind} {cover.name} has {told(cover.cover_mm, unit)} of wood left over it"
