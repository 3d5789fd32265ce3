"""What marks a jig in every drawing: its own front edge, zeros with their axes, the empty hole.

A zero often lies by the front edge: the black band along it is thin, so that arrows run beside it,
and its word stands in a tab of the band, where neither they nor a clamp cover it. The empty hole's
mark lies next to a zero, and is drawn after it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from itertools import product
from typing import NamedTuple

from pincorner.geometry.outline import Box, Outline, bounds, distance_to
from pincorner.geometry.pose import XY
from pincorner.render.drawing.canvas import Canvas, Look, text_width
from pincorner.render.drawing.labels import Labels, Line, around
from pincorner.render.drawing.scene import Axes, Edge, axes_of, front_shapes
from pincorner.setups.setup import Setup

FRONT_LOOK = Look(0.2, fill="#000")
_NOTCH = Look(0.5, fill="#fff")
_BAND_MM, _TAB_MM, _SHARE, _WORD_MM = 1.8, 4.6, 0.25, 3.4
"""Thickness of the band along a jig's front edge on paper and of the tab with its word, at most
this share of the jig, and the height of the letters in it."""
_NOTCH_SHARE = 0.4
"""Of a slim jig's front edge that its notch takes at most."""
ZERO_MM, AXIS_MM, _TIP_MM = 1.8, 14.0, 2.8
"""Radius of a zero on paper, length of the arrows at it and of their tips."""
_EMPTY_MM = (1.8, 1.6, 1.4, 1.2, 1.0, 0.8, 0.7)
"""Half the mark of the empty hole on paper, where it has room, and where it has less and less."""
_NEAR_ZERO_MM, _LEAST_ZERO_MM = 1.4, 0.6
"""Radius that a zero next to that mark has, and where both lie almost in one place."""
_ALIKE_RAD = 0.01
"""Axes turned by less look alike."""
_WING = 0.43
"""Half the width of a tip, in shares of its length."""
_AXIS, _BESIDE, _TIP = Look(0.7), Look(1.8, stroke="#fff"), Look(0.4, stroke="#fff", fill="#000")
_ZERO, _DOT = Look(0.6, fill="#fff"), Look(0.2, fill="#000")
_LETTER_MM = 3.6
"""Room that an axis's letter takes at its tip."""


class Tip(NamedTuple):
    """The tip of an axis at a zero: what it is called, where it points (unit vector), where."""

    name: str
    along: XY
    at: XY


def fronts_of(setup: Setup) -> list[tuple[str, Edge]]:
    """The front edges of a station's jig, with what people call them."""
    return [(s.name, s.form) for s in front_shapes(setup) if isinstance(s.form, Edge)]


def band_on(scale: float, edge: Edge) -> float:
    """Thickness of the band along a jig's front edge on the bed; `scale`: bed mm for 1 of paper."""
    return min(_BAND_MM * scale, _SHARE * edge.depth_mm)


def tab_on(scale: float, edge: Edge) -> float:
    """The same of the tab with its word."""
    return min(_TAB_MM * scale, _SHARE * edge.depth_mm)


def keep_bands(labels: Labels, setup: Setup, *, softly: bool = False) -> None:
    """Leave the bands along its front edges to themselves; `softly`: where a tab may stand, too."""
    for _, edge in fronts_of(setup):
        thick_mm = tab_on(labels.scale, edge) if softly else band_on(labels.scale, edge)
        labels.keep(bounds(edge.band(thick_mm)), softly=softly)


def draw_front(canvas: Canvas, edge: Edge, name: str, look: Look = FRONT_LOOK) -> None:
    """A jig's own front edge: a thick band with a word, and a notch at its front-left corner."""
    draw_band(canvas, edge, look)
    write_front(canvas, edge, name)


def draw_band(canvas: Canvas, edge: Edge, look: Look = FRONT_LOOK, share: float = 1.0) -> Outline:
    """The band and the notch, without the word; returns the notch. `share`: of its thickness."""
    length_mm = math.dist(edge.start, edge.end)
    notch = edge.notch(min(1.3 * share * tab_on(canvas.scale, edge), _NOTCH_SHARE * length_mm))
    canvas.polygon(edge.band(share * band_on(canvas.scale, edge)), look)
    canvas.polygon(notch, _NOTCH)
    return notch


def _name_front(canvas: Canvas, labels: Labels, setup: Setup) -> None:
    """The word in the band's tab, where that is free; else outside, by the band."""
    for name, edge in fronts_of(setup):
        tab = write_front(canvas, edge, name, labels.is_taken)
        if tab is not None:
            labels.keep_seen(tab)
            continue
        out = (-edge.inward[0], -edge.inward[1])
        mark = bounds(edge.band(band_on(canvas.scale, edge)))
        labels.beside([Line("FRONT", _WORD_MM, bold=True)], mark, out)


def write_front(
    canvas: Canvas,
    edge: Edge,
    name: str,
    taken: Callable[[Box], bool] | None = None,
    *,
    below: bool = False,
) -> Box | None:
    """The word in a tab of the band: as much of it as has room, where it is free, if anywhere.

    In the band's middle, else farther along. `taken`: whether something else stands in a box.
    `below`: what stands there will lie upon the tab, and is only to leave the word free. Returns
    the tab's box, as the bed is seen.
    """
    tab, mm = tab_on(canvas.scale, edge), canvas.scale
    size = _WORD_MM * min(1.0, tab / (_TAB_MM * mm))
    across, rim = 0.4 * size * mm, 0.3 * mm
    middles = [(tab / 2, rim)]
    if below:  # by the inner border, with what lies under the word free
        middles.append((tab - across - rim, tab - 2 * across - rim))
    if size < 0.75 * _WORD_MM:
        return None
    start, end = canvas.turned(edge.start), canvas.turned(edge.end)
    inward, length = canvas.turned(edge.inward), math.dist(edge.start, edge.end)
    lies = abs(end[0] - start[0]) >= abs(end[1] - start[1])
    whole = f"FRONT: {name}" if name else "FRONT"

    def at(along: float, in_mm: float) -> XY:
        share = along / length
        x, y = (a + share * (b - a) + in_mm * c for a, b, c in zip(start, end, inward, strict=True))
        return x, y

    for word, (middle, from_mm) in product(dict.fromkeys((whole, "FRONT")), middles):
        half = text_width(word, size, bold=True) * mm / 2 + 0.12 * tab
        first, last = half + 1.3 * tab, length - half  # beside the notch
        for share in _PLACES if first <= last else ():
            along = min(max((0.5 + share) * length, first), last)
            box = bounds((at(along - half, from_mm), at(along + half, tab)))
            if taken is None or not taken(box):
                corners = ((-half, 0.0), (half, 0.0), (half, tab), (-half, tab))
                canvas.polygon_seen([at(along + dx, dy) for dx, dy in corners], FRONT_LOOK)
                canvas.text_seen(at(along, middle), word, size, bold=True, fill="#fff",
                                 halo=False, turn_deg=0 if lies else 90)  # fmt: skip
                return bounds((at(along - half, 0.0), at(along + half, tab)))
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
    letter_mm = (ZERO_MM + 1.4 * _LETTER_MM) * scale
    return min(longest_mm * scale, max(nearest_mm - letter_mm, 0.6 * nearest_mm))


def axes_differ(setups: Sequence[Setup]) -> list[bool]:
    """Of each nest whether its axes point otherwise than those of the first one."""
    first = setups[0].program_in_bed.vector((1.0, 0.0))
    return [
        math.dist(first, each.program_in_bed.vector((1.0, 0.0))) > _ALIKE_RAD for each in setups
    ]


def axis_ends(canvas: Canvas, setup: Setup, reach_mm: float) -> list[tuple[XY, XY]]:
    """A zero and where each of its axes ends with its letter, on the bed; without arrows, there."""
    axes, reach = axes_of(setup), reach_mm + (_LETTER_MM * canvas.scale if reach_mm else 0.0)
    return [(axes.at, _moved(axes.at, along, reach)) for along in (axes.x, axes.y)]


def draw_zero(
    canvas: Canvas,
    labels: Labels,
    setup: Setup,
    reach_mm: float | None = None,
    radius_mm: float = ZERO_MM,
) -> list[Tip]:
    """A zero with its axes, kept free; returns their tips, to be named when all zeros are drawn.

    `reach_mm`: length of the arrows on the bed; 0: the zero alone. `radius_mm`: on paper.
    """
    axes, mm = axes_of(setup), canvas.scale
    reach = AXIS_MM * mm if reach_mm is None else reach_mm
    tips = [Tip(name, along, _moved(axes.at, along, reach)) for name, along in _named(axes)]
    if reach:
        _draw_arrows(canvas, axes.at, tips)
        for tip in tips:
            labels.keep_line(axes.at, tip.at)
            wings = around(_moved(tip.at, tip.along, -_TIP_MM * mm), _WING * _TIP_MM * mm)
            labels.keep(wings, kind="tip")
    canvas.circle(axes.at, radius_mm * mm, _ZERO)
    if canvas.classes is None:  # a page that answers is carried about
        canvas.circle(axes.at, 0.4 * radius_mm * mm, _DOT)
    labels.keep(around(axes.at, radius_mm * mm), kind="zero")
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
    """FRONT in its tab, and the letters of axes by their tips, `size` high.

    `word`: whether FRONT is still to be written.
    """
    if word:
        _name_front(canvas, labels, setup)
    keep_bands(labels, setup)
    for tip in tips:
        letter = [Line(tip.name, size, bold=True)]
        marks = [around(tip.at, 0.4 * labels.scale)]
        marks += [  # beside the arrow, where nothing has room at its tip
            around(_moved(tip.at, tip.along, -back * labels.scale), 0.5 * _TIP_MM * labels.scale)
            for back in (3.0, 4.5, 6.0, 7.5, 9.0)
        ]
        mark = next((m for m in marks if labels.has_room(letter, m, tip.along, "tip")), marks[0])
        labels.beside(letter, mark, tip.along, near=True, kind="tip")


class Empty(NamedTuple):
    """The mark of the hole at the inside corner: where, half its size on the bed; radius in mm on
    paper that it leaves to the zeros."""

    at: XY
    half_mm: float
    zero_mm: float


def empty_mark(setups: Sequence[Setup], scale: float) -> Empty | None:
    """Where and how large the empty hole is marked, so that no zero lies on the mark.

    A zero at the jig's corner may lie so near that both are drawn small, the hole upon the zero.
    """
    corner = setups[0].located.corner_hole
    place = setups[0].facts.bed.hole(corner) if corner else None
    if place is None:
        return None
    free_mm = 0.45 * min(setups[0].facts.bed.grid.pitch)
    for half in _EMPTY_MM:
        square = around(place.at_mm, half * scale)
        near = min(distance_to(square.outline, each.zero_in_bed) for each in setups) / scale
        if near - _CLEAR_MM >= _NEAR_ZERO_MM and half * scale <= free_mm:
            return Empty(place.at_mm, half * scale, min(ZERO_MM, near - _CLEAR_MM))
    return Empty(place.at_mm, _EMPTY_MM[-1] * scale, _LEAST_ZERO_MM)


_CLEAR_MM = 0.5
"""Between the marks of a zero and of the empty hole, for the strokes of both."""


def _named(axes: Axes) -> tuple[tuple[str, XY], tuple[str, XY]]:
    return ("X", axes.x), ("Y", axes.y)


def _draw_arrows(canvas: Canvas, start: XY, tips: Sequence[Tip]) -> None:
    """Arrows from a zero: black, with white beside them."""
    mm = canvas.scale
    shafts = [(start, _moved(tip.at, tip.along, -_TIP_MM * mm)) for tip in tips]
    canvas.strokes(shafts, _BESIDE)
    canvas.strokes(shafts, _AXIS)
    for tip, (_, back) in zip(tips, shafts, strict=True):
        side = (-tip.along[1], tip.along[0])
        wings = [_moved(back, side, way * _WING * _TIP_MM * mm) for way in (1, -1)]
        canvas.polygon([tip.at, *wings], _TIP)


def _moved(point: XY, along: XY, by: float) -> XY:
    return point[0] + along[0] * by, point[1] + along[1] * by
