"""The bed: its holes and what is fixed on it, and the map of where stations lie."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import islice

from markupsafe import Markup

from pincorner.bed import track_outline
from pincorner.documents.beds import Bed
from pincorner.geometry.outline import Box
from pincorner.render.drawing.canvas import LEAST_MM, Canvas, Look, strip_mm, text_width
from pincorner.render.drawing.jig_marks import FRONT_LOOK, draw_front
from pincorner.render.drawing.labels import Labels, around
from pincorner.render.drawing.scene import (
    Axes,
    Disc,
    Edge,
    Kind,
    Scene,
    Shape,
    Spot,
    bed_shapes,
    grid_letters,
)
from pincorner.render.drawing.station_names import SIGN_LOOK, MapNames, list_below
from pincorner.setups.person import Person
from pincorner.standing import standing_on

Looks = Mapping[Kind, Look]
"""How each kind of shape is drawn; a kind that is not there is left out."""

PIN_LOOK = Look(0.2, fill="#000")
SOLID_LOOK = Look(0.25, fill="#ccc")
_HOLE = Look(0.15, stroke="#777")
_CROSS = Look(0.25, stroke="#555")
BED_LOOKS: Looks = {
    "bed": Look(0.4),
    "slat": Look(0.15, stroke="#bbb", dashes=(1.5, 1)),
    "track": Look(0.15, stroke="#999", fill="#eee"),
    "solid": SOLID_LOOK,
    "hole": _HOLE,
    "hole not used": _HOLE,
    "screw": SOLID_LOOK,
    "column": Look(),
    "row": Look(),
}
"""What a bed's shapes look like, on every drawing."""
MAP_LOOKS: Looks = {
    **BED_LOOKS,
    "jig": Look(0.5, fill="#bbb", opacity=0.45),
    "front": FRONT_LOOK,
    "pin": PIN_LOOK,
    "finding": SIGN_LOOK,
}
"""A map shows where stations lie; what stands on them, stock and zeros are for close-ups."""
_HOLES_APART_MM = 0.7
"""Holes nearer to each other on paper cannot be told apart."""
_LETTERS_MM = 3.3


def bed_map(scene: Scene, paper_mm: float, *, named: bool, order: Sequence[str] = ()) -> Markup:
    """The whole bed with the places of stations.

    `named` writes their names into them, with the codes of all their nests, and marks findings;
    where a name has no room, its number does, from 1 in the `order` of all stations' names, and
    stands in a list below. The small map of a sheet, which tells findings in words, has only one
    place to show.
    """
    window = _window(scene.bed, small=not named)
    canvas = Canvas(window, paper_mm, f"bed {scene.bed.name}", scene.person)
    _make_room(canvas, scene.bed, _LETTERS_MM)
    least_mm = 0.6 * canvas.scale
    shapes = (*_shown(canvas, scene.bed), *scene.upon)
    draw(canvas, shapes, MAP_LOOKS, letters_mm=_LETTERS_MM, least_pin_mm=least_mm)
    if named:
        _name_stations(canvas, scene, least_mm, order)
    return canvas.svg()


def _name_stations(canvas: Canvas, scene: Scene, least_pin_mm: float, order: Sequence[str]) -> None:
    """Names or numbers of all stations, the signs of their findings, and the list of numbers."""
    names, jigs = MapNames(canvas, scene, least_pin_mm), scene.of("jig")
    for labels in names.both:
        keep_letters(labels, canvas, scene.bed, _LETTERS_MM)
    rest = [jig for jig in jigs if not names.name_inside(jig)]
    names.sign_findings()
    places = names.places_beside(rest)
    for place in places:
        names.name_beside(place)
    numbers = {name: at for at, name in enumerate(order or [jig.name for jig in jigs], 1)}
    list_below(canvas, [] if places else [names.number(j, numbers[j.name]) for j in rest])


def keep_lines(labels: Labels, bed: Bed) -> None:
    """Keep the bed's own edges and what is sunk in it free, as far as labels have other room."""
    outlines = [bed.box.outline, *map(track_outline, bed.tracks)]
    for outline in (*outlines, *(solid.outline for solid in standing_on(bed))):
        labels.keep_outline(outline, softly=True)
    for screw in bed.screws:
        labels.keep(around(screw.at, screw.diameter / 2), softly=True)


def keep_letters(labels: Labels, canvas: Canvas, bed: Bed, letters_mm: float) -> None:
    """Keep the borders free in which the grid's letters stand."""
    keep_lines(labels, bed)
    window, box, mm = canvas.window, bed.box, canvas.scale
    front_mm, left_mm = _margins_mm(canvas, bed, letters_mm)
    labels.keep(Box(window.left, box.front - front_mm * mm, window.right, box.front))
    labels.keep(Box(box.left - left_mm * mm, window.front, box.left, window.back))


def bed_canvas(
    bed: Bed,
    paper_mm: float,
    title: str,
    person: Person,
    letters_mm: float = 3.2,
    told: str = "",
    classes: dict[str, str] | None = None,
) -> Canvas:
    """A canvas with the whole bed and its lettered grid on it, as somebody sees it."""
    canvas = Canvas(_window(bed), paper_mm, title, person, told, classes=classes)
    _make_room(canvas, bed, letters_mm)
    shapes = (*_shown(canvas, bed), *grid_letters(bed))
    draw(canvas, shapes, BED_LOOKS, letters_mm=letters_mm)
    return canvas


def _make_room(canvas: Canvas, bed: Bed, letters_mm: float) -> None:
    """Room for the grid's letters, and at either side of a bed so narrow that person and axes would
    not stand side by side."""
    _make_room_for_letters(canvas, bed, letters_mm)
    if canvas.paper_mm >= LEAST_MM:
        return
    beside_mm = (LEAST_MM - canvas.paper_mm) / 2 * canvas.scale
    dx, dy = (beside_mm, 0.0) if canvas.x_lies_across else (0.0, beside_mm)
    left, front, right, back = canvas.window
    canvas.paper_mm = LEAST_MM
    canvas.look_at(Box(left - dx, front - dy, right + dx, back + dy))


def _make_room_for_letters(canvas: Canvas, bed: Bed, letters_mm: float) -> None:
    """A window with the names of columns and rows whole, whichever side they are seen on.

    On paper they are as large on a bed that is drawn small, where a share of it is no room.
    """
    front_mm, left_mm = _margins_mm(canvas, bed, letters_mm)
    for _ in range(4):  # a larger window is drawn smaller
        left, front, right, back = canvas.window
        wanted = Box(
            min(left, bed.box.left - left_mm * canvas.scale),
            min(front, bed.box.front - front_mm * canvas.scale),
            right,
            back,
        )
        if wanted == canvas.window:
            return
        canvas.look_at(wanted)


def _margins_mm(canvas: Canvas, bed: Bed, letters_mm: float) -> tuple[float, float]:
    """What the names of columns before the bed's front take on paper, and of rows at its left."""
    names = {
        (0.0, -1.0): bed.letters.of(bed.grid.columns),
        (-1.0, 0.0): str(bed.grid.rows),
    }
    found = []
    for away, longest in names.items():
        beside = abs(canvas.turned(away)[0]) > 0.5
        widest = text_width("W" * len(longest), letters_mm)
        gap_mm = _letter_gap_mm(longest, letters_mm, beside=beside)
        found.append(gap_mm + (widest if beside else letters_mm) / 2 + _RIM_MM)
    return found[0], found[1]


_RIM_MM = 0.3
"""Left free at the rim of a drawing."""


def _letter_gap_mm(text: str, size: float, *, beside: bool) -> float:
    """From the bed to the middle of the name of a column or row, on paper; `beside`: as seen."""
    return max(0.8 * size, text_width(text, size) / 2 + 0.05 * size) if beside else 0.8 * size


def draw_bed(canvas: Canvas, bed: Bed, looks: Looks = BED_LOOKS) -> None:
    """The bed with all of it that shows in the canvas's window."""
    draw(canvas, _shown(canvas, bed), looks)


def _shown(canvas: Canvas, bed: Bed) -> Iterator[Shape]:
    """The bed's own shapes, its holes as far as they lie in the window and do not run into one
    another on paper.

    Of many in a row every so manieth is left, from A1 on: nobody could open a page of 250,000.
    """
    apart_mm = _HOLES_APART_MM * canvas.scale
    across, up = (max(1, math.ceil(apart_mm / pitch)) for pitch in bed.grid.pitch)
    return bed_shapes(bed, canvas.window, (across, up))


def draw(
    canvas: Canvas,
    shapes: Iterable[Shape],
    looks: Looks,
    *,
    letters_mm: float = 3.2,
    least_pin_mm: float = 0.0,
) -> None:
    """Shapes in order, as far as `looks` has their kind.

    Of what lies in the bed only that which shows in the window is drawn; of the grid's letters,
    `letters_mm` high on paper, some, where they are many. Pins are at least `least_pin_mm` thick.
    Signs of findings are for MapNames, which knows where they have room.
    """
    shapes = tuple(shapes)
    steps = {kind: _every(canvas, shapes, kind, letters_mm) for kind in ("column", "row")}
    count = dict.fromkeys(steps, 0)
    for shape in shapes:
        look, form = looks.get(shape.kind), shape.form
        if look is None or shape.kind == "finding":
            continue
        if isinstance(form, Disc):
            if shape.kind == "pin":
                canvas.circle(form.at, max(form.radius_mm, least_pin_mm), look)
            elif canvas.window.holds(form.at):
                canvas.circle(form.at, form.radius_mm, look)
                if shape.kind == "hole not used":
                    canvas.cross(form.at, form.radius_mm, _CROSS)
        elif isinstance(form, Spot):
            if is_named(count[shape.kind], steps[shape.kind], shape.name):
                _letter(canvas, shape.name, form, letters_mm)
            count[shape.kind] += 1
        elif isinstance(form, Edge):
            draw_front(canvas, form, shape.name, look)
        elif not isinstance(form, Axes):
            canvas.polygon(form, look)


def paper_size_of_map(
    bed: Bed,
    widest_mm: float,
    tallest_mm: float,
    person: Person,
    *,
    letters_mm: float = 3.3,
    small: bool = False,
) -> float:
    """How wide a bed's map is drawn so that it fits a place on paper, in mm."""
    paper_mm, deep_mm = widest_mm, tallest_mm - strip_mm(widest_mm)
    for _ in range(3):  # letters take a larger share of a smaller drawing
        canvas = Canvas(_window(bed, small=small), paper_mm, "", person)
        _make_room_for_letters(canvas, bed, letters_mm)
        paper_mm = min(widest_mm, deep_mm * canvas.view.width / canvas.view.depth)
    return paper_mm


def _window(bed: Bed, *, small: bool = False) -> Box:
    """The bed with room for the letters of its grid, which take a larger share of a small map."""
    box = bed.box
    room = max(box.width, box.depth) * (0.085 if small else 0.035)
    right = room if small else 2.4 * room  # a hole's name has room beside the last column
    return Box(box.left - 1.6 * room, box.front - 1.6 * room, box.right + right, box.back + room)


_STEPS = (1, 2, 5, 10, 20, 50, 100)
_ROUND = 5


def step_of_names(least: float, numbers: int = 0) -> int:
    """Every how manieth column or row is named, where names need at least so many of them for
    themselves; of `numbers` rows by a step that people count by, where that leaves two."""
    step = next((step for step in _STEPS if step >= least), 0)
    return step if 0 < 2 * step <= numbers else max(1, math.ceil(least))


def is_named(at: int, step: int, name: str) -> bool:
    """Whether the column or row at a place, from 0, is named: of numbers by fives or more the
    round ones, else the first and each behind a step."""
    is_round = name.isdecimal() and step % _ROUND == 0
    return (at + 1) % step == 0 if is_round else at % step == 0


def _every(canvas: Canvas, shapes: Iterable[Shape], kind: Kind, size: float) -> int:
    """Every how manieth letter of columns or rows has room, `size` high on paper."""
    spots = (each.form for each in shapes if each.kind == kind and isinstance(each.form, Spot))
    places = [spot.at for spot in islice(spots, 2)]
    if len(places) < 2:
        return 1
    (x1, y1), (x2, y2) = places
    least = 1.6 * size * canvas.scale / max(abs(x2 - x1), abs(y2 - y1))
    rows = sum(shape.kind == "row" for shape in shapes) if kind == "row" else 0
    return step_of_names(least, rows)


def _letter(canvas: Canvas, text: str, spot: Spot, size: float) -> None:
    (x, y), away = spot
    beside = abs(canvas.turned(away)[0]) > 0.5
    gap = _letter_gap_mm(text, size, beside=beside) * canvas.scale
    canvas.text((x + away[0] * gap, y + away[1] * gap), text, size, halo=False)
