"""The bed map as a DXF drawing (R2010) in true size, for a drawing program to lay parts on.

Bed coordinates in mm, one layer for each kind of thing, all of it flat.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence

from ezdxf import units
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from pincorner.documents.beds import Bed
from pincorner.geometry.pose import XY
from pincorner.render.visible import visible
from pincorner.setups.covers import track_outline
from pincorner.setups.rows import OffsetRow
from pincorner.setups.setup import Setup
from pincorner.setups.standing import standing_of, standing_on

BED, HOLES, UNUSABLE, SLATS, TRACKS, SCREWS, SOLIDS, PINS, JIGS, STOCK, ZEROS, NAMES = (
    "BED", "HOLES", "HOLES_NOT_USED", "SLATS", "TRACKS", "SCREWS", "SOLIDS", "PINS", "JIGS",
    "STOCK", "ZEROS", "NAMES",
)  # fmt: skip
LAYERS = (BED, HOLES, UNUSABLE, SLATS, TRACKS, SCREWS, SOLIDS, PINS, JIGS, STOCK, ZEROS, NAMES)

_BEHIND, _GREY, _PLAIN = (HOLES, UNUSABLE, SLATS, TRACKS), 8, 7
"""What is there without any station is drawn in grey (DXF colour numbers)."""
_AXES_MM = (30.0, 20.0)
"""Length of the strokes along a program's X and Y."""
_SHARE_OF_PITCH = 0.12
"""Height of letters."""


def render_map_dxf(bed: Bed, rows: Sequence[OffsetRow]) -> str:
    """The bed with its stations as DXF: jigs, stock, what stands up, pins, zeros with their axes.

    Each zero has its name, its work offset and its setup's fingerprint beside it.
    """
    document = new("R2010", units=units.MM)
    for layer in LAYERS:
        document.layers.add(layer, color=_GREY if layer in _BEHIND else _PLAIN)
    space = document.modelspace()
    _draw_bed(space, bed)
    letters_mm = min(bed.grid.pitch) * _SHARE_OF_PITCH
    _letter_grid(space, bed, letters_mm)
    setups = [row.setup for row in rows if row.setup is not None]
    for setup in {each.facts.station.name: each for each in setups}.values():
        _draw_station(space, setup)
    for setup in setups:
        _draw_nest(space, setup, letters_mm)
    text = io.StringIO()
    document.write(text)
    return text.getvalue()


def _draw_bed(space: Modelspace, bed: Bed) -> None:
    _outline(space, bed.box.outline, BED)
    for slat in bed.slats:
        _outline(space, slat.box.outline, SLATS)
    for track in bed.tracks:
        _outline(space, track_outline(track), TRACKS)
    for screw in bed.screws:
        _circle(space, screw.at, screw.diameter / 2, SCREWS)
    for each in standing_on(bed):
        _outline(space, each.outline, SOLIDS)
    for place in bed.holes():
        _circle(space, place.at_mm, bed.grid.hole / 2, HOLES if place.usable else UNUSABLE)


def _letter_grid(space: Modelspace, bed: Bed, letters_mm: float) -> None:
    """Column letters along the front, row numbers along the left side."""
    grid, box = bed.grid, bed.box
    for column in range(grid.columns):
        at = (column * grid.pitch[0], box.front - 1.5 * letters_mm)
        _text(space, bed.letters.of(column + 1), at, letters_mm)
    for row in range(grid.rows):
        at = (box.left - 1.5 * letters_mm, row * grid.pitch[1])
        _text(space, str(row + 1), at, letters_mm)


def _draw_station(space: Modelspace, setup: Setup) -> None:
    """What a station has once: the jig, what stands up on it, the pins."""
    _outline(space, setup.footprint_in_bed(), JIGS)
    for each in standing_of(setup):
        if each.kind in ("solid", "clamp"):
            _outline(space, each.outline, SOLIDS)
        elif each.kind == "pin":
            _circle(space, each.outline[0], each.radius_mm, PINS)


def _draw_nest(space: Modelspace, setup: Setup, letters_mm: float) -> None:
    """The stock, and the zero with the program's axes as the controller has them."""
    _outline(space, setup.stock_in_bed(), STOCK)
    zero = setup.zero_in_bed
    space.add_point(zero, dxfattribs={"layer": ZEROS})
    for end in setup.program_in_bed.points(((_AXES_MM[0], 0.0), (0.0, _AXES_MM[1]))):
        space.add_line(zero, end, dxfattribs={"layer": ZEROS})
    name = f"{setup.name} {setup.work_offset or '-'} {setup.fingerprint}"
    _text(space, name, (zero[0], zero[1] - letters_mm), letters_mm / 2)


def _outline(space: Modelspace, points: Iterable[XY], layer: str) -> None:
    space.add_lwpolyline(list(points), close=True, dxfattribs={"layer": layer})


def _circle(space: Modelspace, at: XY, radius_mm: float, layer: str) -> None:
    space.add_circle(at, radius_mm, dxfattribs={"layer": layer})


def _text(space: Modelspace, text: str, at: XY, height_mm: float) -> None:
    made = space.add_text(visible(text), height=height_mm, dxfattribs={"layer": NAMES})
    made.set_placement(at, align=TextEntityAlignment.MIDDLE_CENTER)
