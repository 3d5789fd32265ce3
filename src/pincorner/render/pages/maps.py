"""The bed map as a page or as a drawing that stands alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from pincorner.characters import visible
from pincorner.documents.beds import Bed
from pincorner.documents.machines import Machine
from pincorner.render.drawing.bed import bed_map, paper_size_of_map
from pincorner.render.drawing.scene import map_scene
from pincorner.render.templating.templates import render_page
from pincorner.setups.printed import counted_from
from pincorner.setups.setup import Setup
from pincorner.setups.transform import OffsetRow

MAP_PAPER_MM = 270.0
_TALLEST_MM = 120.0
"""On a page: there stand the offsets below the map, some ten on one page."""


def render_map_svg(bed: Bed, rows: Sequence[OffsetRow], machine: Machine | None = None) -> str:
    """The bed with its stations as SVG; `machine` is asked where there are none."""
    scene = map_scene(bed, [row.setup for row in rows if row.setup is not None], machine)
    drawing = bed_map(scene, MAP_PAPER_MM, named=True)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawing}\n'


def render_map_page(
    bed: Bed, rows: Sequence[OffsetRow], overrides: Path | None, machine: Machine | None = None
) -> str:
    """The bed with its stations as a page with their offsets. BadInput for a faulty template."""
    setups = [row.setup for row in rows if row.setup is not None]
    scene = map_scene(bed, setups, machine)
    paper_mm = paper_size_of_map(bed, MAP_PAPER_MM, _TALLEST_MM, scene.person)
    return render_page(
        "map.html.j2",
        overrides,
        bed=visible(bed.name),
        drawing=bed_map(scene, paper_mm, named=True),
        rows=[_row(setup) for setup in setups],
        unit=setups[0].printed.own.unit if setups else "mm",
        remarks=[visible(text) for text in dict.fromkeys(_remarks(rows))],
    )


def _remarks(rows: Sequence[OffsetRow]) -> Iterator[str]:
    """Findings, and why a nest has no block, each with whose it is."""
    for row in rows:
        if row.setup is None:
            yield row.refused or ""
            continue
        for finding in row.setup.findings:
            if finding not in row.setup.no_block:
                yield f"{row.setup.name}: {finding.text}"
        for reason in row.setup.no_block:
            yield f"{row.setup.name}: NO BLOCK: {reason.told}"


def _row(setup: Setup) -> dict[str, str]:
    own = setup.printed.own
    start = setup.relative_to or ""
    return {
        "station": visible(setup.facts.station.name),
        "nest": visible(setup.nest.name),
        "code": setup.work_offset or "-",
        "x": counted_from(start, own.x),
        "y": counted_from(start, own.y),
        "pins": ", ".join(f"{pin.role} {pin.hole}" for pin in setup.located.pins),
        "fingerprint": setup.fingerprint,
    }
