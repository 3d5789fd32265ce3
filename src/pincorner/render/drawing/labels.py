"""Places for the labels of a drawing: none on another, on a pin, on a zero or on a clamp, and none
nearer to another thing of its kind than to its own.

Labels are placed one after the other, the important ones first. Each tries places around its point,
or inside its area, in a fixed order and takes the first that is free, so that the same drawing
always comes out the same. What is free is kept in boxes of bed mm, as the bed is seen.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache, partial
from itertools import product
from typing import Literal, NamedTuple

from pincorner.geometry.outline import Box, Outline, bounds, distance_to
from pincorner.geometry.pose import XY
from pincorner.render.drawing.canvas import Canvas, Look, text_width

GAPS_MM = (0.8, 3.0, 6.0, 10.0, 15.0, 21.0, 28.0)
"""Distances between a point and its label that are tried, on paper."""

_MARGIN_MM = 0.4
"""Left empty before and after a label."""

NEAR = 3
"""So many of these distances are tried for a place that covers nothing at all."""

_OWN_MM = 0.3
"""By so much on paper a label is nearer to its own mark than to others of that kind, where it can.
"""

_LED_FROM_MM = 3.0
"""From this gap on a line leads from the label to its point."""

_WAYS: tuple[tuple[XY, XY], ...] = (
    *(((dx, dy), (dx, dy)) for dx, dy in ((0, -1), (1, 0), (-1, 0), (0, 1))),
    *(((0, dy), (share, dy)) for dy in (-1, 1) for share in (0.25, -0.25, 0.5, -0.5)),
    *(((dx, 0), (dx, share)) for dx in (1, -1) for share in (0.5, -0.5)),
    *(((across * dx, deep * dy), (across, deep)) for dx, dy in ((1, 1), (0.4, 1), (1, 0.4))
      for deep in (-1, 1) for across in (1, -1)),
)  # fmt: skip
"""Where a label stands from its mark: at shares of half the mark's width and depth, moved by shares
of half its own."""

_RASTER = (0.0, -0.25, 0.25, -0.5, 0.5, -0.75, 0.75, -1.0, 1.0)
_LEADER = Look(0.2)
_TAG = 1.15
"""Size of a tag in shares of the letters."""
_DISC, _HEXAGON = Look(0.2, fill="#000"), Look(0.4, fill="#fff")
_EMPTY = Look(0.6, fill="#fff")

Tag = Literal["disc", "hexagon", "cross"]


def around(centre: XY, radius_mm: float) -> Box:
    """The box around a disc."""
    return Box(*centre, *centre).grown(radius_mm)


class Line(NamedTuple):
    """One line of a label: the height of its letters on paper in mm, its weight and grey.

    `tag`: what stands in front of it; `shape`: the number of a pin stands in a black disc, what
    clamps are called in a white hexagon, and a crossed square is a hole that stays empty.
    """

    text: str
    size: float
    bold: bool = False
    fill: str = "#000"
    tag: str = ""
    shape: Tag = "disc"

    @property
    def tag_size(self) -> float:
        """Width and height of the tag on paper."""
        if self.shape == "hexagon":
            return max(1.3 * self.size, text_width(self.tag, self.size, bold=True) + 1.6)
        return max(_TAG * self.size, text_width(self.tag, 0.8 * self.size, bold=True) + 1.2)

    @property
    def width(self) -> float:
        """Of the whole line, on paper."""
        text = text_width(self.text, self.size, bold=self.bold) if self.text else 0.0
        gap = 0.2 * self.size if self.tag and self.text else 0.0
        return text + gap + (self.tag_size if self.tag else 0.0)


class Labels:
    """The labels of one drawing, and what they must not cover; with `halo` white lies below them.

    `scale`: bed mm for one mm of paper. Something kept `softly` is covered only where a label finds
    no better place as near.
    """

    def __init__(self, canvas: Canvas, *, halo: bool = True) -> None:
        self._canvas, self._halo = canvas, halo
        self.scale = canvas.scale
        self._window = canvas.view.grown(-0.5 * canvas.scale)
        self._firm = _Boxes(10.0 * canvas.scale)
        self._soft = _Boxes(10.0 * canvas.scale)
        self._leaders: list[tuple[XY, XY]] = []
        self._of_kind: dict[str, list[Box]] = {}

    def copied(self) -> Labels:
        """The same to try things with."""
        other = Labels(self._canvas, halo=self._halo)
        other._firm, other._soft = self._firm.copied(), self._soft.copied()
        other._leaders = [*self._leaders]
        other._of_kind = {kind: [*boxes] for kind, boxes in self._of_kind.items()}
        return other

    def keep(self, box: Box, *, softly: bool = False, kind: str = "") -> None:
        """Leave a box of the bed to what is drawn there; `kind`: what its label must not be taken
        for, or those of others for its own."""
        self.keep_seen(self._canvas.turned_box(box), softly=softly, kind=kind)

    def keep_seen(self, box: Box, *, softly: bool = False, kind: str = "") -> None:
        """The same of a box as the bed is seen."""
        self._keep(box, softly)
        if kind:
            self._of_kind.setdefault(kind, []).append(box)

    def _keep(self, box: Box, softly: bool = False) -> None:
        if not softly:
            self._firm.add(box)
        elif box.meets(self._window):  # labels outside it are not asked what they cover softly
            self._soft.add(box.within(self._window))

    def keep_line(self, start: XY, end: XY, *, softly: bool = False) -> None:
        """Leave a line to itself, as boxes along it that are small where it is slanted."""
        self._keep_line(self._canvas.turned(start), self._canvas.turned(end), softly)

    def _keep_line(self, start: XY, end: XY, softly: bool = False) -> None:
        (x1, y1), (x2, y2) = start, end
        slanted_mm = min(abs(x2 - x1), abs(y2 - y1)) / self.scale
        count = max(1, math.ceil(slanted_mm / 1.5))
        for at in range(count):
            ax, bx = (x1 + (x2 - x1) * each / count for each in (at, at + 1))
            ay, by = (y1 + (y2 - y1) * each / count for each in (at, at + 1))
            box = Box(min(ax, bx), min(ay, by), max(ax, bx), max(ay, by))
            self._keep(box.grown(0.4 * self.scale), softly)

    def keep_outline(self, outline: Outline, *, softly: bool = False) -> None:
        """Leave the border of an outline to itself."""
        for start, end in zip(outline, outline[1:] + outline[:1], strict=True):
            self.keep_line(start, end, softly=softly)

    def beside(
        self,
        lines: Sequence[Line],
        mark: Box,
        toward: XY | None = None,
        off: Outline = (),
        narrow: Sequence[Line] = (),
        *,
        near: bool = False,
        led: bool = False,
        kind: str = "",
    ) -> None:
        """Write lines next to a mark on the bed: at `toward` if that is free, else near by.

        Below it, on paper, where no direction on the bed is wanted. `off`: an outline that is
        covered only where there is no other place at all; `narrow`: the same in other lines, for
        where there is little room. With `near` what is kept softly is rather covered than left;
        `led`: a line leads to the mark from however near. `kind`: nearer to the mark than to what
        else was kept as of that kind, wherever there is such a place.
        """
        toward = (0, -1) if toward is None else self._canvas.turned(toward)
        seen = tuple(self._canvas.turned(point) for point in off)
        box = self._canvas.turned_box(mark)
        self.beside_seen(lines, box, toward, seen, narrow, near=near, led=led, kind=kind)

    def beside_seen(
        self,
        lines: Sequence[Line],
        mark: Box,
        toward: XY,
        off: Outline = (),
        narrow: Sequence[Line] = (),
        *,
        near: bool = False,
        led: bool = False,
        kind: str = "",
    ) -> Box:
        """The same beside a mark, toward a side and off an outline, as they are seen; where it
        stands."""
        steps = ([GAPS_MM[:1]] if near else []) + [GAPS_MM[:NEAR], GAPS_MM[NEAR:]]
        best, whole, others = None, lines, self._others(kind, mark)
        for rivals, outline in product(
            (others, ()) if others else ((),), (off, ()) if off else ((),)
        ):
            for gaps, each in ((g, e) for g in steps for e in (whole, narrow) if e):
                if best is None:
                    wanted = partial(self._is_wanted, mark, rivals, outline)
                    best = self._best(self._spots(each, mark, gaps, toward), wanted)
                    lines = each
        if best is None:
            lines = whole
            spots = self._spots(lines, mark, GAPS_MM, toward)
            best = min(spots, key=lambda spot: self._covered(spot.box))
        self._write(lines, best.box)
        leader = best.leader
        if led and leader is None:
            leader = (mark.middle, nearest(best.box, mark.middle))
        if leader is not None:
            self._leaders.append(leader)
            self._keep_line(*leader)
        return best.box

    def _others(self, kind: str, mark: Box) -> Sequence[Box]:
        """What else was kept as of a kind; the mark's own is the nearest of them, with what lies in
        the same place."""
        kept = self._of_kind.get(kind, [])
        if not kept:
            return ()
        own = min(kept, key=lambda each: math.dist(each.middle, mark.middle))
        return [each for each in kept if math.dist(each.middle, own.middle) > 0.1 * self.scale]

    def _is_wanted(self, mark: Box, others: Sequence[Box], off: Outline, box: Box) -> bool:
        """Whether a place is nearer to a mark than to any of others, and off an outline."""
        least = apart(box, mark) + _OWN_MM * self.scale
        return all(apart(box, each) >= least for each in others) and not _lies_on(off, box)

    def has_room(self, lines: Sequence[Line], mark: Box, toward: XY, kind: str = "") -> bool:
        """Whether lines have a place right beside a mark on the bed, which covers nothing firm."""
        box, way = self._canvas.turned_box(mark), self._canvas.turned(toward)
        return self.has_room_seen(lines, box, way, self._others(kind, box))

    def has_room_seen(
        self, lines: Sequence[Line], mark: Box, toward: XY, others: Sequence[Box] = ()
    ) -> bool:
        """The same of a mark as it is seen, nearer to it than to others."""
        wanted = partial(self._is_wanted, mark, others, ())
        return self._best(self._spots(lines, mark, GAPS_MM[:1], toward), wanted) is not None

    def upon(self, line: Line, mark: Box, kind: str = "") -> None:
        """Write a label into the middle of a mark where it has room there, else next to it."""
        seen, (wide, high) = self._canvas.turned_box(mark), self._size([line])
        if wide <= seen.width and high <= seen.depth:
            self._write([line], _centred(seen.middle, wide, high))
        else:
            self.beside_seen([line], seen, (0, -1), kind=kind)

    def is_taken(self, box: Box) -> bool:
        """Whether something firm stands in a box, as it is seen; the window's border is firm."""
        return self._firm.touch(box) or not self._window.encloses(box)

    def below(self, line: Line, mark: Box, kind: str = "") -> None:
        """Write a label under a mark, or near by where it covers nothing and is nearer to none of a
        kind; else leave it out."""
        mark = self._canvas.turned_box(mark)
        others = [each for each in self._of_kind.get(kind, []) if apart(each, mark) > 0]
        wanted = partial(self._is_wanted, mark, others, ())
        best = self._best(self._spots([line], mark, GAPS_MM[:1], (0.1, -1)), wanted)
        if best is not None and not self._soft.touch(best.box):
            self._write([line], best.box)

    def inside(
        self, lines: Sequence[Line], area: Box, toward: XY = (0, 0), *, needed: bool = True
    ) -> bool:
        """Write lines into an area, as near as possible to its middle, or to a side of it.

        `toward`: (1, 1) is its back right corner. Where there is no room: written over something
        if it is `needed`, else not; returns whether it was written.
        """
        area, toward = self._canvas.turned_box(area), self._canvas.turned(toward)
        width, height = size = self._size(lines)
        if not needed and (width > area.width or height > area.depth):
            return False
        spots = self._spots_in(size, area, toward)
        best = self._best(spots)
        if best is None and not needed:
            return False
        best = best or min(spots, key=lambda spot: self._covered(spot.box))
        self._write(lines, best.box)
        return True

    def _spots_in(self, size: XY, area: Box, toward: XY) -> list[_Spot]:
        """Places for something so wide and high inside an area, those near a side of it first."""
        (width, height), (x, y) = size, area.middle
        reach_x, reach_y = max(0.0, area.width - width) / 2, max(0.0, area.depth - height) / 2
        return [
            _Spot(self._moved_in(_centred((x + dx * reach_x, y + dy * reach_y), width, height)))
            for dx, dy in _nearest_first(toward)
        ]

    # Places for what is drawn by others; boxes, places and directions as the bed is seen

    def size_mm(self, lines: Sequence[Line]) -> XY:
        """Width and height of lines on paper."""
        width, height = self._size(lines)
        return width / self.scale, height / self.scale

    def free_beside(
        self, size_mm: XY, mark: Box, toward: XY, gaps_mm: Sequence[float]
    ) -> Box | None:
        """A place beside a mark that covers nothing firm, nor does a line to it from far away.

        `size_mm`: on paper; `gaps_mm`: how far from the mark, in the order they are tried.
        """
        size = size_mm[0] * self.scale, size_mm[1] * self.scale
        best = self._best(self._spots_of(size, mark, gaps_mm, toward))
        return None if best is None else best.box

    def free_inside(self, size_mm: XY, area: Box) -> Box | None:
        """A place in an area, near its middle, that covers nothing firm."""
        width, height = size_mm[0] * self.scale, size_mm[1] * self.scale
        if width > area.width or height > area.depth:
            return None
        best = self._best(self._spots_in((width, height), area, (0.0, 0.0)))
        return None if best is None else best.box

    def write_in(self, lines: Sequence[Line], box: Box) -> None:
        """Write lines into a box."""
        self._write(lines, box)

    def keep_line_seen(self, start: XY, end: XY) -> None:
        """Leave a line to itself."""
        self._keep_line(start, end)

    def write(self, line: Line, middle: XY) -> None:
        """Write a label where it is to be, whatever it covers."""
        self._canvas.text(middle, line.text, line.size, bold=line.bold, fill=line.fill)

    def size_of(self, area: Box) -> XY:
        """How wide and how high a box of the bed is on paper, in mm, as it is seen."""
        seen = self._canvas.turned_box(area)
        return seen.width / self.scale, seen.depth / self.scale

    def draw_leaders(self) -> None:
        """Draw the lines that lead from labels to their points; to be called last."""
        self._canvas.strokes_seen(self._leaders, _LEADER)

    def _size(self, lines: Sequence[Line]) -> XY:
        """Width and height of lines, in bed mm."""
        width = max(each.width for each in lines) + 2 * _MARGIN_MM
        return width * self.scale, sum(_height(each) for each in lines) * self.scale

    def _spots(
        self, lines: Sequence[Line], mark: Box, gaps_mm: Sequence[float], toward: XY
    ) -> Iterator[_Spot]:
        """Places all around a mark, nearest first; as near, those in the wanted direction first."""
        return self._spots_of(self._size(lines), mark, gaps_mm, toward)

    def _spots_of(
        self, size: XY, mark: Box, gaps_mm: Sequence[float], toward: XY
    ) -> Iterator[_Spot]:
        """The same for something so wide and high, in bed mm."""
        (width, height), (x, y) = size, mark.middle
        ways = _likest_first(toward)
        for gap_mm in gaps_mm:
            gap = gap_mm * self.scale
            reach_x, reach_y = mark.width / 2 + gap, mark.depth / 2 + gap
            for (dx, dy), (right, up) in ways:
                middle = (x + dx * reach_x + right * width / 2,
                          y + dy * reach_y + up * height / 2)  # fmt: skip
                box = _centred(middle, width, height)
                led = gap_mm >= _LED_FROM_MM
                yield _Spot(box, (nearest(mark, middle), nearest(box, (x, y))) if led else None)

    def _best(
        self, spots: Iterable[_Spot], wanted: Callable[[Box], bool] | None = None
    ) -> _Spot | None:
        """The first that covers nothing at all, else the first that covers nothing firm.

        Of those that are `wanted`, which is asked last: it takes longer.
        """
        first = None
        for spot in spots:
            if self._is_free(spot) and (wanted is None or wanted(spot.box)):
                if not self._soft.touch(spot.box):
                    return spot
                first = first or spot
        return first

    def _is_free(self, spot: _Spot) -> bool:
        if not self._window.encloses(spot.box) or self._firm.touch(spot.box):
            return False
        return spot.leader is None or not any(
            self._firm.touch(Box(*point, *point)) for point in _points(*spot.leader)
        )

    def _covered(self, box: Box) -> float:
        """Area in mm2 that a label there would cover, most of all outside the window."""
        outside = 0.0 if self._window.encloses(box) else box.width * box.depth
        return outside + sum(_shared(box, other) for other in self._firm.under(box))

    def _moved_in(self, box: Box) -> Box:
        """The box, moved into the window as far as it fits."""
        x_mm = max(self._window.left - box.left, min(0.0, self._window.right - box.right))
        y_mm = max(self._window.front - box.front, min(0.0, self._window.back - box.back))
        return Box(box.left + x_mm, box.front + y_mm, box.right + x_mm, box.back + y_mm)

    def _write(self, lines: Sequence[Line], box: Box) -> None:
        self._keep(box)
        top = box.back
        for line in lines:
            height = _height(line) * self.scale
            at = (box.middle[0], top - height / 2)
            if line.tag:
                self._write_tagged(line, at)
            else:
                self._canvas.text_seen(
                    at, line.text, line.size, bold=line.bold, fill=line.fill, halo=self._halo
                )
            top -= height

    def _write_tagged(self, line: Line, at: XY) -> None:
        """A line with its number in front."""
        canvas, scale, half = self._canvas, self.scale, line.tag_size / 2 * self.scale
        left = at[0] - line.width / 2 * scale
        middle = (left + half, at[1])
        if line.shape == "cross":
            draw_empty(canvas, middle, half)
        elif line.shape == "hexagon":
            canvas.polygon_seen(_hexagon(middle, half), _HEXAGON)
            canvas.text_seen(middle, line.tag, line.size, bold=True, halo=False)
        else:
            canvas.circle_seen(middle, half, _DISC)
            canvas.text_seen(middle, line.tag, 0.8 * line.size, bold=True, fill="#fff", halo=False)
        if line.text:
            start = (left + 2 * half + 0.2 * line.size * scale, at[1])
            canvas.text_seen(start, line.text, line.size, anchor="start", bold=line.bold,
                             fill=line.fill)  # fmt: skip


def draw_empty(canvas: Canvas, middle: XY, half: float) -> None:
    """The mark of a hole that stays empty, at a place as it is seen: a crossed square, no disc."""
    square = _centred(middle, 2 * half, 2 * half)
    left, front, right, back = square
    look = _EMPTY._replace(width=min(_EMPTY.width, 0.28 * half / canvas.scale))
    canvas.polygon_seen(square.outline, look)
    canvas.strokes_seen([((left, front), (right, back)), ((left, back), (right, front))], look)


def _hexagon(middle: XY, half: float) -> list[XY]:
    """A hexagon with a tip at either side, as wide and as high as a tag."""
    (x, y), side = middle, 0.45 * half
    return [
        (x - half, y), (x - side, y + half), (x + side, y + half),
        (x + half, y), (x + side, y - half), (x - side, y - half),
    ]  # fmt: skip


class _Spot(NamedTuple):
    """A place for a label, and the line to its point if it stands far from it."""

    box: Box
    leader: tuple[XY, XY] | None = None


def _height(line: Line) -> float:
    """Of a line, on paper."""
    return max(1.15 * line.size, line.tag_size + 0.3 if line.tag else 0.0)


@lru_cache(maxsize=64)
def _likest_first(toward: XY) -> list[tuple[XY, XY]]:
    """The ways round a mark, those that point like `toward` first."""
    x, y = toward
    return sorted(_WAYS, key=lambda way: -(way[0][0] * x + way[0][1] * y) / math.hypot(*way[0]))


@lru_cache(maxsize=64)
def _nearest_first(toward: XY) -> list[XY]:
    """Places in an area, in shares of half its width and depth, those near `toward` first."""
    places = ((dx, dy) for dx in _RASTER for dy in _RASTER)
    return sorted(places, key=lambda place: math.dist(place, toward))


def _centred(middle: XY, width: float, height: float) -> Box:
    x, y = middle
    return Box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def apart(one: Box, other: Box) -> float:
    """How far two boxes lie from each other; 0 where they touch."""
    wide = max(one.left - other.right, other.left - one.right, 0.0)
    return math.hypot(wide, max(one.front - other.back, other.front - one.back, 0.0))


def nearest(box: Box, point: XY) -> XY:
    """The place in a box that is nearest to a point."""
    return min(max(point[0], box.left), box.right), min(max(point[1], box.front), box.back)


def _points(start: XY, end: XY) -> Iterator[XY]:
    """Places along a leader, without the ends, which touch the mark and the label."""
    for share in (0.15, 0.3, 0.45, 0.6, 0.75, 0.9):
        yield start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])


def _lies_on(outline: Outline, box: Box) -> bool:
    """Whether a box, much smaller than an outline, lies on it anywhere."""
    if not outline or not bounds(outline).meets(box):
        return False
    (x, y), (left, front, right, back) = box.middle, box
    points = ((a, b) for a in (left, x, right) for b in (front, y, back))
    return any(map(box.holds, outline)) or any(distance_to(outline, p) == 0 for p in points)


def _shared(first: Box, second: Box) -> float:
    wide = min(first.right, second.right) - max(first.left, second.left)
    deep = min(first.back, second.back) - max(first.front, second.front)
    return wide * deep if wide > 0 and deep > 0 else 0.0


class _Boxes:
    """Boxes, found by place: they are filed under the squares of a raster that they touch."""

    def __init__(self, side_mm: float) -> None:
        self._side = side_mm
        self._filed: dict[tuple[int, int], list[Box]] = {}

    def copied(self) -> _Boxes:
        other = _Boxes(self._side)
        other._filed = {square: [*boxes] for square, boxes in self._filed.items()}
        return other

    def add(self, box: Box) -> None:
        for square in self._squares(box):
            self._filed.setdefault(square, []).append(box)

    def touch(self, box: Box) -> bool:
        """Whether one of them overlaps a box."""
        return any(True for _ in self._under(box))

    def under(self, box: Box) -> set[Box]:
        """Those that overlap a box."""
        return set(self._under(box))

    def _under(self, box: Box) -> Iterator[Box]:
        left, front, right, back = box
        for square in self._squares(box):
            for each in self._filed.get(square, ()):
                if each[0] < right and left < each[2] and each[1] < back and front < each[3]:
                    yield each

    def _squares(self, box: Box) -> Iterator[tuple[int, int]]:
        side = self._side
        for column in range(math.floor(box.left / side), math.floor(box.right / side) + 1):
            for row in range(math.floor(box.front / side), math.floor(box.back / side) + 1):
                yield column, row
