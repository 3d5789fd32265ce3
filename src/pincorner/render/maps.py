"""The bed map as a page or as a drawing that stands alone."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pincorner.documents.beds import Bed
from pincorner.render.drawings import bed_map
from pincorner.render.templates import render_page
from pincorner.render.visible import visible
from pincorner.setups.rows import OffsetRow
from pincorner.setups.setup import Setup

MAP_PAPER_MM = 270.0


def render_map_svg(bed: Bed, rows: Sequence[OffsetRow]) -> str:
    """The bed with its stations as SVG."""
    drawing = bed_map(bed, _drawn(rows), MAP_PAPER_MM, named=True)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawing}\n'


def render_map_page(bed: Bed, rows: Sequence[OffsetRow], overrides: Path | None) -> str:
    """The bed with its stations as a page with their offsets. BadInput for a faulty template."""
    setups = [row.setup for row in rows if row.setup is not None]
    remarks = [f"{finding.text}" for setup in setups for finding in setup.findings]
    remarks += [row.refused for row in rows if row.refused]
    return render_page(
        "map.html.j2",
        overrides,
        bed=visible(bed.name),
        drawing=bed_map(bed, _drawn(rows), MAP_PAPER_MM, named=True),
        rows=[_row(setup) for setup in setups],
        unit=setups[0].printed.own.unit if setups else "mm",
        remarks=[visible(text) for text in dict.fromkeys(remarks)],
    )


def _drawn(rows: Sequence[OffsetRow]) -> list[Setup]:
    """One setup of each station that can be located: its jig lies in one place."""
    by_station: dict[str, Setup] = {}
    for row in rows:
        if row.setup is not None:
            by_station.setdefault(row.setup.facts.station.name, row.setup)
    return list(by_station.values())


def _row(setup: Setup) -> dict[str, str]:
    own = setup.printed.own
    relative = f"{setup.relative_to} + " if setup.relative_to else ""
    return {
        "station": visible(setup.facts.station.name),
        "nest": visible(setup.nest.name),
        "code": setup.work_offset or "-",
        "x": relative + own.x,
        "y": relative + own.y,
        "pins": ", ".join(f"{pin.role} {pin.hole}" for pin in setup.located.pins),
        "fingerprint": setup.fingerprint,
    }
