"""What marks a jig in every drawing: its own front edge, and zeros with their axes.

A zero often lies by the front edge: its arrows and their letters are white where they lie in the
black band, and the band's word stands where neither they nor a clamp cover it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from pincorner.geometry.outline import Box, Outline, bounds
from pincorner.geometry.pose import XY
from pincorner.render.drawing.canvas import Canvas, Look, text_width
from pincorner.render.drawing.labels import Labels, Line, around
from pincorner.render.drawing.scene import Axes, Edge, axes_of, front_shapes
from pincorner.setups.setup import Setup

FRONT_LOOK = Look(0.2, fill="#000")
_NOTCH = Look(0.5, fill="#fff")
_BAND_MM, _BAND_SHARE, _WORD_MM = 4.6, 0.25, 3.4
"""Thickness of the band along a jig's front edge on paper, at most this share of the jig, and the
height of the letters in it."""
ZERO_MM, AXIS_MM, _TIP_MM = 1.8, 14.0, 2.8
"""Radius of a zero on paper, length of the arrows at it and of their tips."""
_WING = 0.43
"""Half the width of a tip, in shares of its length."""
_AXIS, _BESIDE, _ON_BLACK = Look(0.7), Look(1.8, stroke="#fff"), Look(0.8, stroke="#fff")
_TIP, _WHITE_TIP = Look(0.4, stroke="#fff", fill="#000"), Look(0.2, stroke="#fff", fill="#fff")
_ZERO, _DOT = Look(0.6, fill="#fff"), Look(0.2, fill="#000")
_ON_BLACK_MM = 3.6
"""Letters of an axis in the band."""


class Tip(NamedTuple):
    """The tip of an axis at a zero: what it is called, where it points (unit vector), where."""

    name: str
    along: XY
    at: XY


def fronts_of(setup: Setup) -> list[tuple[str, Edge]]:
    """The front edges of a station's jig, with what people call them."""
    return [(s.name, s.form) for s in front_shapes(setup) if isinstance(s.form, Edge)]


def band_mm(canvas: Canvas, edge: Edge) -> float:
    """Thickness of the band along a jig's front edge, on the bed."""
    return band_on(canvas.scale, edge)


def band_on(scale: float, edge: Edge) -> float:
    """The same on a drawing of that scale: bed mm for one mm of paper."""
    return min(_BAND_MM * scale, _BAND_SHARE * edge.depth_mm)


def keep_bands(labels: Labels, setup: Setup, *, softly: bool = False) -> None:
    """Leave the bands along its front edges to themselves."""
    for _, edge in fronts_of(setup):
        labels.keep(bounds(edge.band(band_on(labels.scale, edge))), softly=softly)


def draw_front(canvas: Canvas, edge: Edge, name: str, look: Look = FRONT_LOOK) -> None:
    """A jig's own front edge: a thick band with a word, and a notch at its front-left corner."""
    draw_band(canvas, edge, look)
    write_front(canvas, edge, name)


def draw_band(canvas: Canvas, edge: Edge, look: Look = FRONT_LOOK, share: float = 1.0) -> Outline:
    """The band and the notch, without the word; returns the notch. `share`: of its thickness."""
    thick_mm = share * band_mm(canvas, edge)
    notch = edge.notch(1.3 * thick_mm)
    canvas.polygon(edge.band(thick_mm), look)
    canvas.polygon(notch, _NOTCH)
    return notch


def _name_front(canvas: Canvas, labels: Labels, setup: Setup) -> None:
    """The word in the band, where it is free; outside by the band, where too much stands on it."""
    for name, edge in fronts_of(setup):
        word = write_front(canvas, edge, name, labels.is_taken)
        if word is not None:
            labels.keep_seen(word)
            continue
        out = (-edge.inward[0], -edge.inward[1])
        mark = bounds(edge.band(band_mm(canvas, edge)))
        labels.beside([Line("FRONT", _WORD_MM, bold=True)], mark, out)


def write_front(
    canvas: Canvas, edge: Edge, name: str, taken: Callable[[Box], bool] | None = None
) -> Box | None:
    """The word in the band; as much of it as has room, at a place that is free, if there is one.

    In the band's middle, else farther in. `taken`: whether something else stands in a box. Returns
    its box, as the bed is seen.
    """
    thick_mm, mm = band_mm(canvas, edge), canvas.scale
    size = _WORD_MM * min(1.0, thick_mm / (_BAND_MM * mm))
    if size < 0.75 * _WORD_MM:
        return None
    start, end = canvas.turned(edge.start), canvas.turned(edge.end)
    inward, length = canvas.turned(edge.inward), math.dist(edge.start, edge.end)
    lies, across = abs(end[0] - start[0]) >= abs(end[1] - start[1]), 0.4 * size * mm
    whole = f"FRONT: {name}" if name else "FRONT"
    for word, in_mm in (
        (word, in_mm)
        for word in dict.fromkeys((whole, "FRONT"))
        for in_mm in (thick_mm / 2, thick_mm - across)
    ):
        half = text_width(word, size, bold=True) * mm / 2
        first, last = half + 1.4 * thick_mm, length - half - 0.2 * thick_mm  # beside the notch
        for share in _PLACES if first <= last else ():
            along = min(max((0.5 + share) * length, first), last) / length
            x, y = (
                a + along * (b - a) + in_mm * c for a, b, c in zip(start, end, inward, strict=True)
            )
            wide, deep = (half, across) if lies else (across, half)
            box = Box(x - wide, y - deep, x + wide, y + deep)
            if taken is None or not taken(box):
                canvas.text_seen((x, y), word, size, bold=True, fill="#fff", halo=False,
                                 turn_deg=0 if lies else 90)  # fmt: skip
                return box
    return None


_PLACES = (0.0, *(sign * step / 120 for step in range(1, 61) for sign in (1, -1)))
"""Where the word is tried, from the band's middle, in shares of its length."""


def reach_of_axes(setups: Sequence[Setup], scale: float, longest_mm: float = AXIS_MM) -> float:
    """How long the arrows at the zeros are, on the bed: with a letter less than to the next one.

    `longest_mm`: where zeros are far from each other, on paper.
    """
    zeros = [setup.zero_in_bed for setup in setups]
    apart = (
        math.dist(one, other)
        for at, one in enumerate(zeros)
        for other in zeros[:at]
        if one != other
    )
    nearest_mm = min(apart, default=math.inf)
    letter_mm = (ZERO_MM + 1.4 * _ON_BLACK_MM) * scale
    return min(longest_mm * scale, max(nearest_mm - letter_mm, 0.6 * nearest_mm))


def axis_ends(canvas: Canvas, setup: Setup, reach_mm: float) -> list[tuple[XY, XY]]:
    """A zero and where each of its axes ends with its letter, on the bed."""
    axes, reach = axes_of(setup), reach_mm + _ON_BLACK_MM * canvas.scale
    return [(axes.at, _moved(axes.at, along, reach)) for along in (axes.x, axes.y)]


def draw_zero(
    canvas: Canvas, labels: Labels, setup: Setup, reach_mm: float | None = None
) -> list[Tip]:
    """A zero with its axes, kept free; returns their tips, to be named when all zeros are drawn.

    `reach_mm`: length of the arrows on the bed; 0: the zero alone.
    """
    axes, mm = axes_of(setup), canvas.scale
    reach = AXIS_MM * mm if reach_mm is None else reach_mm
    tips = [Tip(name, along, _moved(axes.at, along, reach)) for name, along in _named(axes)]
    edges = [edge for _, edge in fronts_of(setup)]
    if reach:
        _draw_arrows(canvas, axes.at, tips, edges)
        for tip in tips:
            labels.keep_line(axes.at, tip.at)
            labels.keep(around(_moved(tip.at, tip.along, -_TIP_MM * mm), _WING * _TIP_MM * mm))
    canvas.circle(axes.at, ZERO_MM * mm, _ZERO)
    if canvas.classes is None:  # a page that answers is carried about
        canvas.circle(axes.at, 0.7 * mm, _DOT)
    labels.keep(around(axes.at, ZERO_MM * mm))
    return tips


def name_marks(
    canvas: Canvas,
    labels: Labels,
    setup: Setup,
    tips: Iterable[Tip],
    size: float,
    *,
    word: bool = True,
) -> None:
    """FRONT in its band, and the letters of axes by their tips, `size` high; white in the band.

    `word`: whether FRONT is still to be written.
    """
    edges = [edge for _, edge in fronts_of(setup)]
    others = [tip for tip in tips if not _name_on_black(canvas, labels, tip, edges)]
    if word:
        _name_front(canvas, labels, setup)
    keep_bands(labels, setup)
    for tip in others:
        mark = around(tip.at, 0.4 * labels.scale)
        labels.beside([Line(tip.name, size, bold=True)], mark, tip.along, near=True)


def _named(axes: Axes) -> tuple[tuple[str, XY], tuple[str, XY]]:
    return ("X", axes.x), ("Y", axes.y)


def _draw_arrows(canvas: Canvas, start: XY, tips: Sequence[Tip], edges: Sequence[Edge]) -> None:
    """Arrows from a zero: black with white beside them, white where they lie in a black band."""
    mm = canvas.scale
    dark: list[tuple[XY, XY]] = []
    light: list[tuple[XY, XY]] = []
    heads: list[tuple[list[XY], Look]] = []
    for tip in tips:
        side = (-tip.along[1], tip.along[0])
        back = _moved(tip.at, tip.along, -_TIP_MM * mm)
        wings = [_moved(back, side, way * _WING * _TIP_MM * mm) for way in (1, -1)]
        black = any(_in_band(canvas, edge, [*wings, tip.at, start]) for edge in edges)
        (light if black else dark).append((start, back))
        heads.append(([tip.at, *wings], _WHITE_TIP if black else _TIP))
    canvas.strokes(dark, _BESIDE)
    canvas.strokes(dark, _AXIS)
    canvas.strokes(light, _ON_BLACK)
    for outline, look in heads:
        canvas.polygon(outline, look)


def _name_on_black(canvas: Canvas, labels: Labels, tip: Tip, edges: Sequence[Edge]) -> bool:
    """Write an axis's letter into the band behind its tip; whether there was room."""
    mm = canvas.scale
    half = 0.38 * _ON_BLACK_MM * mm
    for edge in edges:
        thick_mm = band_mm(canvas, edge)
        _, inward_mm = edge.along_and_in(tip.at)
        at = _moved(tip.at, tip.along, 0.6 * mm + half)
        at = _moved(at, edge.inward, thick_mm / 2 - inward_mm)
        box = around(at, half)
        along = abs(tip.along[0] * edge.inward[0] + tip.along[1] * edge.inward[1]) < 0.5
        free = not labels.is_taken(canvas.turned_box(box))
        if along and free and _in_band(canvas, edge, [*box.outline, tip.at]):
            with canvas.group("b"):  # a page writes nothing light below it
                canvas.text(at, tip.name, _ON_BLACK_MM, bold=True, fill="#fff", halo=False)
            labels.keep(box.grown(0.5 * mm))
            return True
    return False


def _in_band(canvas: Canvas, edge: Edge, points: Iterable[XY]) -> bool:
    """Whether all points lie in the band along an edge."""
    length, thick_mm = math.dist(edge.start, edge.end), band_mm(canvas, edge)
    return all(
        0 <= along_mm <= length and 0 <= in_mm <= thick_mm
        for along_mm, in_mm in map(edge.along_and_in, points)
    )


def _moved(point: XY, along: XY, by: float) -> XY:
    return point[0] + along[0] * by, point[1] + along[1] * by
