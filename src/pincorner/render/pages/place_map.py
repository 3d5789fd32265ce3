"""A bed with proposed places for a jig, numbered as in the list."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from markupsafe import Markup

from pincorner.characters import visible
from pincorner.documents.beds import Bed
from pincorner.documents.jigs import Jig
from pincorner.geometry.outline import Box, bounds
from pincorner.geometry.pose import XY
from pincorner.places.search import PlaceProposal
from pincorner.render.drawing.bed import (
    PIN_LOOK,
    Looks,
    bed_canvas,
    draw,
    paper_size_of_map,
)
from pincorner.render.drawing.canvas import Canvas, Look
from pincorner.render.drawing.jig_marks import draw_band, fronts_of, write_front
from pincorner.render.drawing.scene import Shape, front_of, pin_shapes
from pincorner.render.pages.maps import MAP_PAPER_MM
from pincorner.render.templating.templates import render_page
from pincorner.render.text.dates import State
from pincorner.setups.person import Person
from pincorner.setups.setup import Setup
from pincorner.standing import Standing, first_of_each, standing_on

_THERE = Look(0.3, fill="#bbb", opacity=0.45)
_ONE_BY_ONE: Looks = {"jig": Look(0.35), "pin": PIN_LOOK}
_TOGETHER: Looks = {"jig": Look(0.6, fill="#eee", opacity=0.6), "pin": PIN_LOOK}
_OTHER_PIN = Look(0.2, fill="#999")
_TAG = Look(0.4, fill="#fff")
_WIDEST_MM, _TALLEST_MM, _LETTERS_MM = 272.0, 160.0, 3.5
"""Of the drawing on a page, and its letters."""
_THIN = 0.4
"""Of a front edge's band, where places may lie over each other."""


class PlaceDrawing(NamedTuple):
    """What is drawn: a bed as `person` sees it, the stations `around`, and the places `shown`.

    `jig`: whose places they are; None for bare stock, which has no edges of its own. `together`:
    they can be taken at once, and each carries its number in its middle. Else they may lie over
    each other, and numbers stand at the corners that the places are found by.
    """

    bed: Bed
    person: Person
    around: tuple[Setup, ...]
    jig: Jig | None
    shown: tuple[PlaceProposal, ...]
    together: bool


def render_place_map(drawing: PlaceDrawing) -> str:
    """The bed as SVG with what stands there (grey) and the places shown, numbered from 1."""
    drawn = _drawn(drawing, MAP_PAPER_MM)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawn}\n'


def render_place_page(drawing: PlaceDrawing, overrides: Path | None, state: State) -> str:
    """The same as a page of its own. Raises BadInput where a shop's own template has a fault."""
    paper_mm = paper_size_of_map(drawing.bed, _WIDEST_MM, _TALLEST_MM, drawing.person)
    return render_page(
        "place.html.j2",
        overrides,
        title=f"Places on bed {visible(drawing.bed.name)}",
        drawing=_drawn(drawing, paper_mm),
        state=state.parts,
    )


def _drawn(drawing: PlaceDrawing, paper_mm: float) -> Markup:
    bed, shown = drawing.bed, drawing.shown
    canvas = bed_canvas(bed, paper_mm, f"places on bed {bed.name}", drawing.person, _LETTERS_MM)
    _draw_standing(canvas, standing_on(bed, drawing.around))
    looks = _TOGETHER if drawing.together else _ONE_BY_ONE
    tags = {at: ", ".join(map(str, each)) for at, each in _tags(canvas, drawing).items()}
    kept = [_tag_box(canvas, at, text) for at, text in tags.items()]
    draw(canvas, [Shape("jig", each.station.name, each.footprint) for each in shown], looks)
    _draw_fronts(canvas, drawing, kept)
    pins = [pin for each in shown for pin in pin_shapes(each.located)]
    draw(canvas, pins, looks, least_pin_mm=0.6 * canvas.scale)
    for (at, text), box in zip(tags.items(), kept, strict=True):
        canvas.polygon_seen(box.outline, _TAG)
        canvas.text(at, text, _LETTERS_MM, bold=True, halo=False)
    return canvas.svg()


def _draw_standing(canvas: Canvas, standing: Sequence[Standing]) -> None:
    """Stations that are there, with the name of each in its jig; the bed draws its own solids."""
    for each in standing:
        if each.station and each.takes_room and each.kind != "pin":
            canvas.polygon(each.outline, _THERE)
        if each.footprint:
            canvas.text(bounds(each.outline).middle, each.station, _LETTERS_MM)
    for each in standing:
        if each.kind == "pin":
            canvas.circle(each.outline[0], max(each.radius_mm, 0.6 * canvas.scale), _OTHER_PIN)


def _draw_fronts(canvas: Canvas, drawing: PlaceDrawing, kept: Sequence[Box]) -> None:
    """The front edges of all jigs, of places that lie over each other as thin bands alone."""
    there = first_of_each(drawing.bed, drawing.around)
    fronts = [front for setup in there for front in fronts_of(setup)]
    jig, own = drawing.jig, []
    if jig is not None:
        own = [(jig.edge_name("front"), front_of(jig, each.jig_in_bed)) for each in drawing.shown]
    for _, edge in own if not drawing.together else ():
        draw_band(canvas, edge, share=_THIN)
    fronts += own if drawing.together else []
    for name, edge in fronts:
        draw_band(canvas, edge)
        write_front(canvas, edge, name, lambda box: any(map(box.meets, kept)))


def _tags(canvas: Canvas, drawing: PlaceDrawing) -> dict[XY, list[int]]:
    """Numbers by the place where they stand; several places of one corner share one."""
    found: dict[XY, list[int]] = {}
    for number, each in enumerate(drawing.shown, 1):
        middle = bounds(each.footprint).middle
        at = middle if drawing.together else _inside_corner(canvas, each)
        found.setdefault((round(at[0], 1), round(at[1], 1)), []).append(number)
    return found


def _inside_corner(canvas: Canvas, each: PlaceProposal) -> XY:
    """A little way from the jig's corner (on dowels, from its round hole) toward its middle."""
    x, y = each.located.corner_in_bed.origin
    middle, away = bounds(each.footprint).middle, 5.0 * canvas.scale
    return (
        x + (away if middle[0] > x else -away),
        y + (away if middle[1] > y else -away),
    )


def _tag_box(canvas: Canvas, at: XY, text: str) -> Box:
    """What a number takes up, as the bed is seen."""
    half_height = 2.8 * canvas.scale
    half_width = max(half_height, 1.05 * len(text) * canvas.scale + half_height / 2)
    x, y = canvas.turned(at)
    return Box(x - half_width, y - half_height, x + half_width, y + half_height)
