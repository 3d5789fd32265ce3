"""A bed with proposed places for a jig, numbered as in the list."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from pincorner.characters import visible
from pincorner.documents.beds import Bed
from pincorner.geometry.outline import Box, bounds
from pincorner.geometry.pose import XY
from pincorner.places.search import PlaceProposal
from pincorner.render.drawing.bed import PIN_LOOK, Looks, bed_canvas, draw
from pincorner.render.drawing.canvas import Canvas, Look
from pincorner.render.drawing.scene import Shape, pin_shapes
from pincorner.render.pages.maps import MAP_PAPER_MM
from pincorner.render.templating.templates import render_page
from pincorner.setups.person import Person
from pincorner.standing import Standing

_THERE = Look(0.3, fill="#bbb", opacity=0.45)
_ONE_BY_ONE: Looks = {"jig": Look(0.35), "pin": PIN_LOOK}
_TOGETHER: Looks = {"jig": Look(0.6, fill="#eee", opacity=0.6), "pin": PIN_LOOK}
_OTHER_PIN = Look(0.2, fill="#999")
_TAG = Look(0.4, fill="#fff")


def render_place_map(
    bed: Bed,
    person: Person,
    standing: Sequence[Standing],
    shown: Sequence[PlaceProposal],
    *,
    together: bool,
) -> str:
    """The bed as SVG with what stands there (grey) and the places shown, numbered from 1; seen by
    `person`.

    `together`: they can be taken at once, and each carries its number in its middle. Else they may
    lie over each other, and numbers stand at the corners that the places are found by.
    """
    drawn = _drawn(bed, person, standing, shown, together)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawn}\n'


def render_place_page(
    bed: Bed,
    person: Person,
    standing: Sequence[Standing],
    shown: Sequence[PlaceProposal],
    *,
    together: bool,
) -> str:
    """The same as a page of its own, for a browser and for printing."""
    title = f"Places on bed {visible(bed.name)}"
    return render_page(
        "place.html.j2",
        None,
        title=title,
        drawing=Markup(_drawn(bed, person, standing, shown, together)),
    )


def _drawn(
    bed: Bed,
    person: Person,
    standing: Sequence[Standing],
    shown: Sequence[PlaceProposal],
    together: bool,
) -> str:
    canvas = bed_canvas(bed, MAP_PAPER_MM, f"places on bed {bed.name}", person)
    _draw_standing(canvas, standing)
    shapes = [Shape("jig", each.station.name, each.footprint) for each in shown]
    shapes += [pin for each in shown for pin in pin_shapes(each.located)]
    looks = _TOGETHER if together else _ONE_BY_ONE
    draw(canvas, shapes, looks, least_pin_mm=0.6 * canvas.scale)
    for at, numbers in _tags(canvas, shown, together).items():
        _draw_tag(canvas, at, ", ".join(map(str, numbers)))
    return canvas.svg()


def _draw_standing(canvas: Canvas, standing: Sequence[Standing]) -> None:
    """Stations that are there, with the name of each in its jig; the bed draws its own solids."""
    for each in standing:
        if each.station and each.takes_room and each.kind != "pin":
            canvas.polygon(each.outline, _THERE)
        if each.footprint:
            canvas.text(bounds(each.outline).middle, each.station, 3.2)
    for each in standing:
        if each.kind == "pin":
            canvas.circle(each.outline[0], max(each.radius_mm, 0.6 * canvas.scale), _OTHER_PIN)


def _tags(canvas: Canvas, shown: Sequence[PlaceProposal], together: bool) -> dict[XY, list[int]]:
    """Numbers by the place where they stand; several places of one corner share one."""
    found: dict[XY, list[int]] = {}
    for number, each in enumerate(shown, 1):
        at = bounds(each.footprint).middle if together else _inside_corner(canvas, each)
        found.setdefault((round(at[0], 1), round(at[1], 1)), []).append(number)
    return found


def _inside_corner(canvas: Canvas, each: PlaceProposal) -> XY:
    """A little way from the jig's corner (on dowels, from its round hole) toward its middle."""
    x, y = each.located.corner_in_bed.x_mm, each.located.corner_in_bed.y_mm
    middle, away = bounds(each.footprint).middle, 5.0 * canvas.scale
    return (
        x + (away if middle[0] > x else -away),
        y + (away if middle[1] > y else -away),
    )


def _draw_tag(canvas: Canvas, at: XY, text: str) -> None:
    half_height = 2.6 * canvas.scale
    half_width = max(half_height, 0.95 * len(text) * canvas.scale + half_height / 2)
    x, y = canvas.turned(at)
    canvas.polygon_seen(
        Box(x - half_width, y - half_height, x + half_width, y + half_height).outline, _TAG
    )
    canvas.text(at, text, 3.2, bold=True, halo=False)
