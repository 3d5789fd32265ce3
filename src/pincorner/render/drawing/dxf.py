"""The bed map as a DXF drawing (R2010) in true size, for a drawing program to lay parts on.

Bed coordinates in mm, or a program's own; one layer for each kind of thing, all of it flat.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping, Sequence

from ezdxf import units
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from pincorner.characters import visible
from pincorner.documents.beds import Bed
from pincorner.geometry.pose import XY, Pose
from pincorner.render.drawing.scene import (
    Axes,
    Disc,
    Edge,
    Kind,
    Shape,
    Spot,
    map_scene,
    sign,
)
from pincorner.setups.setup import OffsetRow, Setup, setups_in

BED, HOLES, UNUSABLE, SLATS, TRACKS, SCREWS, SOLIDS, PINS, JIGS, STOCK, ZEROS, NAMES, FINDINGS = (
    "BED", "HOLES", "HOLES_NOT_USED", "SLATS", "TRACKS", "SCREWS", "SOLIDS", "PINS", "JIGS",
    "STOCK", "ZEROS", "NAMES", "FINDINGS",
)  # fmt: skip
LAYERS = (
    BED, HOLES, UNUSABLE, SLATS, TRACKS, SCREWS, SOLIDS, PINS, JIGS, STOCK, ZEROS, NAMES, FINDINGS,
)  # fmt: skip
LAYER_OF: Mapping[Kind, str] = {
    "bed": BED, "slat": SLATS, "track": TRACKS, "solid": SOLIDS, "hole": HOLES,
    "hole not used": UNUSABLE, "screw": SCREWS, "column": NAMES, "row": NAMES, "jig": JIGS,
    "front": JIGS,
    "standing": SOLIDS, "pin": PINS, "stock": STOCK, "zero": ZEROS, "finding": FINDINGS,
}  # fmt: skip
"""On which layer each kind of shape lies; letters and names lie on one of their own."""

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
    scene = map_scene(bed, setups_in(rows))
    return _written(bed, scene.shapes)


def render_station_dxf(setups: Sequence[Setup], of: Setup) -> str:
    """One station on its bed, `setups` all its nests, in the coordinates of a program at `of`.

    That nest's zero lies at 0, 0, with the program's own X to the right, as CAM has it.
    """
    scene = map_scene(of.facts.bed, setups)
    to_program = of.program_in_bed.inverse()
    return _written(scene.bed, (_moved(shape, to_program) for shape in scene.shapes))


def _moved(shape: Shape, pose: Pose) -> Shape:
    """The shape in the frame that a pose leads into."""
    form = shape.form
    if isinstance(form, Disc):
        return shape._replace(form=Disc(pose.point(form.at), form.radius_mm))
    if isinstance(form, Spot):
        return shape._replace(form=Spot(pose.point(form.at), pose.vector(form.away)))
    if isinstance(form, Axes):
        axes = Axes(pose.point(form.at), pose.vector(form.x), pose.vector(form.y))
        return shape._replace(form=axes)
    if isinstance(form, Edge):
        ends = pose.point(form.start), pose.point(form.end)
        return shape._replace(form=Edge(*ends, pose.vector(form.inward), form.depth_mm))
    return shape._replace(form=pose.points(form))


def _written(bed: Bed, shapes: Iterable[Shape]) -> str:
    document = new("R2010", units=units.MM)
    for layer in LAYERS:
        document.layers.add(layer, color=_GREY if layer in _BEHIND else _PLAIN)
    space = document.modelspace()
    letters_mm = min(bed.grid.pitch) * _SHARE_OF_PITCH
    for shape in shapes:
        _draw(space, shape, letters_mm)
    text = io.StringIO()
    document.write(text)
    return text.getvalue()


def _draw(space: Modelspace, shape: Shape, letters_mm: float) -> None:
    form, layer = shape.form, LAYER_OF[shape.kind]
    if isinstance(form, Disc):
        space.add_circle(form.at, form.radius_mm, dxfattribs={"layer": layer})
        if shape.kind == "hole not used":
            _cross(space, form, layer)
    elif isinstance(form, Axes):
        _zero(space, form, layer)
        name = " ".join((shape.name, *shape.notes))
        _text(space, name, (form.at[0], form.at[1] - letters_mm), letters_mm / 2)
    elif shape.kind == "finding" and isinstance(form, Spot):
        _outline(space, sign(form.at, letters_mm / 2), layer)
        _text(space, shape.name, form.at, letters_mm / 2)
    elif isinstance(form, Spot):
        (x, y), (dx, dy) = form
        _text(space, shape.name, (x + 1.5 * letters_mm * dx, y + 1.5 * letters_mm * dy), letters_mm)
    elif isinstance(form, Edge):
        _outline(space, form.band(letters_mm / 2), layer)
        _outline(space, form.notch(letters_mm), layer)
    else:
        _outline(space, form, layer)


def _zero(space: Modelspace, axes: Axes, layer: str) -> None:
    """A point with strokes along the program's axes as the controller has them."""
    (x, y), length_x, length_y = axes.at, *_AXES_MM
    space.add_point(axes.at, dxfattribs={"layer": layer})
    for (dx, dy), length in ((axes.x, length_x), (axes.y, length_y)):
        end = (x + length * dx, y + length * dy)
        space.add_line(axes.at, end, dxfattribs={"layer": layer})


def _cross(space: Modelspace, disc: Disc, layer: str) -> None:
    """Two strokes corner to corner of the square around a circle."""
    (x, y), reach = disc
    for rise in (reach, -reach):
        ends = (x - reach, y - rise), (x + reach, y + rise)
        space.add_line(*ends, dxfattribs={"layer": layer})


def _outline(space: Modelspace, points: Iterable[XY], layer: str) -> None:
    space.add_lwpolyline(list(points), close=True, dxfattribs={"layer": layer})


def _text(space: Modelspace, text: str, at: XY, height_mm: float) -> None:
    made = space.add_text(visible(text), height=height_mm, dxfattribs={"layer": NAMES})
    made.set_placement(at, align=TextEntityAlignment.MIDDLE_CENTER)
