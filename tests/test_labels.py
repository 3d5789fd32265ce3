"""Labels of close-ups: none stands nearer to another thing of its kind than to its own.

Over all of the fullest sheets, and over jigs and pieces small and large, slim and deep, with clamps
where they press, seen from all sides, in pictures low and high.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import product
from typing import NamedTuple
from xml.etree import ElementTree

import pytest
from fullest_sheets import CASES, Case, changed
from worlds import PRESSED

from pincorner.geometry.outline import Box
from pincorner.geometry.pose import XY
from pincorner.render.drawing.canvas import Canvas, text_width
from pincorner.render.drawing.close_up import close_up, shown_standing
from pincorner.render.drawing.labels import Labels, Line, apart, around
from pincorner.render.drawing.station_names import wrapped_name

SVG = "{http://www.w3.org/2000/svg}"
WIDE_MM, WHOLE_MM = 133.0, 190.0
"""Width of a close-up beside the map of the bed, and of that of many nests or clamps."""
HIGH_MM = (62.0, 70.0, 80.0, 95.0)
SIDES = ("front", "left", "back", "right")
SIZES = ((460, 280), (300, 200), (340, 340), (320, 460), (560, 120))


def station(side: str, size: tuple[int, int], clamps: bool) -> Case:
    """A jig of a size, seen from a side, with clamps across from its pins or without."""
    long, deep = size
    second, stop = "G2" if long > 450 else "E2", "C4" if deep > 250 else "C3"
    text = changed(
        PRESSED,
        ("{edge: [D2, G2], stop: C4}", f"{{edge: [D2, {second}], stop: {stop}}}"),
        ("dialect: rs274", f"dialect: rs274\n    operator: {side}"),
        ("footprint: [460, 280]", f"footprint: [{long}, {deep}]"),
        ("size: [410, 240, 20]", f"size: [{long - 50}, {deep - 40}, 20]"),
    )
    if clamps:
        far = [f"{{name: c{at}, from: [{x}, {deep - 10}], to: [{x + 30}, {deep + 50}], top: 45}}"
               for at, x in enumerate((long // 4, long // 2 + 30))]  # fmt: skip
        right = f"{{name: r, from: [{long - 10}, {deep // 4}], to: [{long + 50}, {deep // 4 + 30}]"
        boxes = ", ".join([*far, f"{right}, top: 45}}"])
        text = changed(text, ("    work_offsets", f"    clamps: [{boxes}]\n    work_offsets"))
    return Case(text)


STATIONS = {
    **CASES,
    **{
        f"{side}, {size[0]} x {size[1]}{', clamps' * clamps}": station(side, size, clamps)
        for side, size, clamps in product(SIDES, SIZES, (False, True))
    },
}


class Drawn(NamedTuple):
    """A close-up: mm of the bed for one of paper, words with their boxes, hollow arrows; y down."""

    scale: float
    words: list[tuple[str, Box, float]]
    arrows: list[Box]


@cache
def drawn(name: str, high_mm: float) -> Drawn:
    """A station's close-up, so high on paper."""
    case = STATIONS[name]
    whole = len(case.setups) > 2 or len(shown_standing(case.setups)) > 8
    wide_mm, high_mm = (WHOLE_MM, 1.27 * high_mm) if whole else (WIDE_MM, high_mm)
    svg = ElementTree.fromstring(close_up(case.setups, case.take_out, wide_mm, high_mm))
    scale = float(svg.get("viewBox", "").split()[2]) / wide_mm
    return Drawn(scale, list(words_of(svg)), list(arrows_of(svg)))


def words_of(svg: ElementTree.Element) -> Iterator[tuple[str, Box, float]]:
    """Upright texts, with their boxes as they are seen and their size."""
    for each in svg.iter(f"{SVG}text"):
        size, x = float(each.get("font-size", "")), float(each.get("x", ""))
        y = 0.35 * size - float(each.get("y", ""))
        wide = text_width(each.text or "", size, bold=each.get("font-weight") == "bold")
        left = {"start": x, "middle": x - wide / 2}[each.get("text-anchor", "")]
        yield each.text or "", Box(left, y - size / 2, left + wide, y + size / 2), size


def arrows_of(svg: ElementTree.Element) -> Iterator[Box]:
    """The hollow arrows that press, in the order in which they are drawn."""
    for each in svg.iter(f"{SVG}polygon"):
        places = [place.split(",") for place in each.get("points", "").split()]
        if len(places) == 7 and each.get("fill") == "#fff":
            xs, ys = [float(x) for x, _ in places], [-float(y) for _, y in places]
            yield Box(min(xs), min(ys), max(xs), max(ys))


@pytest.mark.parametrize("name", STATIONS)
def test_a_word_of_pressing_stands_by_its_own_arrow(name: str) -> None:
    """`press 1st` is nearer to the first arrow than to the second, and the other way round."""
    for high_mm in HIGH_MM:
        shown = drawn(name, high_mm)
        words = [(text, box) for text, box, _ in shown.words if text.startswith("press")]
        assert [text for text, _ in words] == ["press 1st", "press 2nd"][: len(shown.arrows)]
        for at, (_, box) in enumerate(words):
            gaps = [apart(box, arrow) for arrow in shown.arrows]
            assert gaps.index(min(gaps)) == at, high_mm


@pytest.mark.parametrize("name", STATIONS)
def test_a_pin_is_named_beside_itself(name: str) -> None:
    """No pin's label is nearer to another pin, or to the hole that stays empty, than to its own."""
    setup = STATIONS[name].setups[0]
    holes = {pin.hole: setup.person.bed_vector(pin.at_mm) for pin in setup.located.pins}
    marks: dict[str, XY] = dict(holes)
    corner = setup.facts.bed.hole(setup.located.corner_hole or "")
    if corner is not None:
        marks[corner.label] = setup.person.bed_vector(corner.at_mm)
    radius_mm = max((pin.radius_mm for pin in setup.located.pins), default=0.0)
    for high_mm in HIGH_MM:
        shown = drawn(name, high_mm)
        for text, box, size in shown.words:
            if text in holes and size > 6 * shown.scale:
                tag_mm = Line(text, 6.6, bold=True, tag="1").width * shown.scale
                whole = box._replace(left=box.right - tag_mm)
                gaps = {hole: apart(whole, around(at, radius_mm)) for hole, at in marks.items()}
                assert min(gaps, key=gaps.__getitem__) == text, (high_mm, gaps)


@pytest.mark.parametrize("name", ["two nests, askew", "axes turned", "demo end-bars"])
def test_a_zero_is_named_beside_itself(name: str) -> None:
    """No zero's label is nearer to the zero of another nest than to its own."""
    zeros = {
        each.nest.name: each.person.bed_vector(each.zero_in_bed) for each in STATIONS[name].setups
    }
    for high_mm in HIGH_MM[1:]:
        found = 0
        for text, box, _ in drawn(name, high_mm).words:
            nest = text.removeprefix("zero ")
            if nest in zeros and text != nest:
                near = min(zeros, key=lambda each: apart(box, around(zeros[each], 0.0)))
                found += 1
                assert near == nest, high_mm
        assert found == len(zeros)


@pytest.mark.parametrize("name", STATIONS)
def test_rows_and_columns_are_named_where_they_lie(name: str) -> None:
    """Along both sides each name stands straight before its own column or row, those of the pins
    among them where there is room for all; no other label names a hole of the grid."""
    setup = STATIONS[name].setups[0]
    bed = setup.facts.bed
    pins = {pin.hole for pin in setup.located.pins}
    told = {*pins, setup.located.corner_hole, *STATIONS[name].take_out}
    told |= {each.work_offset for each in STATIONS[name].setups}
    for high_mm in HIGH_MM:
        shown = drawn(name, high_mm)
        small = [(text, box) for text, box, size in shown.words if size < 3.45 * shown.scale]
        places = {}
        for index in range(bed.grid.columns):
            places[bed.letters.of(index + 1)] = (index * bed.grid.pitch[0], 0.0)
        for index in range(bed.grid.rows):
            places[str(index + 1)] = (0.0, index * bed.grid.pitch[1])
        ruled = [(text, box) for text, box in small if text in places]
        assert len({text for text, _ in ruled if text.isdecimal()}) >= 2
        assert len({text for text, _ in ruled if not text.isdecimal()}) >= 2
        for text, box in ruled:
            there = setup.person.bed_vector(places[text])
            off = [abs(a - b) for a, b in zip(box.middle, there, strict=True)]
            assert min(off) < 0.1 * shown.scale, (high_mm, text)
        others = {text for text, _, _ in shown.words if bed.letters.split(text)}
        assert others <= told, high_mm


def test_a_hole_s_label_is_left_out_rather_than_taken_for_a_pin_s() -> None:
    """Under a hole stands a pin: the label is written beside the hole, or not at all, but never
    nearer to the pin."""
    canvas = Canvas(Box(0, 0, 100, 100), 100.0, "t")
    labels, pin = Labels(canvas), around((50.0, 44.0), 1.0)
    labels.keep(pin, kind="hole")
    mark = around((50.0, 50.0), 1.0)
    labels.below(Line("A1", 3.3), mark, "hole")
    for _, box, _ in words_of(ElementTree.fromstring(canvas.svg())):
        assert apart(box, mark) < apart(box, pin)


@pytest.mark.parametrize("high_mm", range(56, 80, 3))
def test_no_ring_lies_upon_the_names_of_columns(high_mm: int) -> None:
    """A pin to be taken out is ringed whole, clear of both sides that name, or not at all."""
    case = CASES["two nests, askew"]
    svg = ElementTree.fromstring(close_up(case.setups, case.take_out, WIDE_MM, float(high_mm)))
    scale = float(svg.get("viewBox", "").split()[2]) / WIDE_MM
    names = [box for text, box, size in words_of(svg) if size < 3.45 * scale and len(text) == 1]
    rings = [each for each in svg.iter(f"{SVG}circle") if each.get("stroke-dasharray")]
    for ring in rings:
        x, y, radius = (float(ring.get(each, "")) for each in ("cx", "cy", "r"))
        assert all(apart(box, around((x, -y), radius)) > 0 for box in names)
    assert len(rings) <= 1 and len(names) > 8


@pytest.mark.parametrize("width_mm", [6.0, 9.5, 14.0, 21.0, 33.0])
def test_names_are_broken_as_wide_as_they_are_written(width_mm: float) -> None:
    """Whether at spaces or within a word: each line of a name, in bold letters, has its place, and
    no letter is lost."""
    names = "panel-tray_left.2", "Bodenbretterhaltevorrichtung", "HIVE 12 floor-board", "iii mm"
    for name in names:
        lines = wrapped_name(name, 2.3, width_mm)
        assert "".join(lines).replace(" ", "") == name.replace(" ", "")
        assert max(text_width(line, 2.3, bold=True) for line in lines) <= width_mm
        assert len(wrapped_name(name, 2.3, text_width(name, 2.3, bold=True))) == 1
