"""What marks a jig in drawings: its front edge, its zeros with axes, the hole that stays empty."""

from __future__ import annotations

import math
import re
from functools import cache
from typing import NamedTuple
from xml.etree import ElementTree as ET

import pytest
from fullest_sheets import CASES, DEMO, ONE_NEST, changed
from worlds import BASE, facts, world

from pincorner.documents.stations import Station
from pincorner.geometry.outline import Box, bounds, distance_to
from pincorner.geometry.pose import XY
from pincorner.places.search import find_places
from pincorner.program.check.result import CheckFinding, Report
from pincorner.program.path.points import PathLines
from pincorner.render.drawing.canvas import text_width
from pincorner.render.drawing.close_up import close_up
from pincorner.render.drawing.jig_marks import AXIS_MM, empty_mark, fronts_of
from pincorner.render.drawing.live import Lit, live_map
from pincorner.render.drawing.scene import Edge
from pincorner.render.pages.path_map import PAPER_MM, path_drawing
from pincorner.render.pages.place_map import PlaceDrawing, render_place_map
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.standing import standing_of

SVG = "{http://www.w3.org/2000/svg}"


class Word(NamedTuple):
    """A word of a drawing: its box, x to the right and y up, as it is seen, and its colour."""

    text: str
    box: Box
    fill: str


class Drawn(NamedTuple):
    """A drawing: its words, and the looks that stand for its classes."""

    root: ET.Element
    words: list[Word]

    def word(self, text: str) -> Word:
        """The one word that reads so."""
        (found,) = (word for word in self.words if word.text == text)
        return found


def read(svg: str) -> Drawn:
    """Words with their boxes: capitals are 0.72 of the size high, from the base line."""
    root = ET.fromstring(svg)
    styles = dict(re.findall(r"\.(l\d+)\{([^}]*)\}", svg))
    found = []
    for node in root.iter(f"{SVG}text"):
        css = styles.get(node.get("class", ""), "")
        look = {**dict(re.findall(r"([\w-]+):([^;]*)", css)), **node.attrib}
        size, text = float(look["font-size"].removesuffix("px")), "".join(node.itertext())
        x, y = float(look["x"]), -float(look["y"]) + 0.36 * size
        wide, high = text_width(text, size, bold=look.get("font-weight") == "bold"), 0.72 * size
        if "transform" in look:
            wide, high = high, wide
        left = {"start": x, "middle": x - wide / 2, "end": x - wide}[look["text-anchor"]]
        box = Box(left, y - high / 2, left + wide, y + high / 2)
        found.append(Word(text, box, look["fill"]))
    return Drawn(root, found)


def seen(setup: Setup, point: XY) -> XY:
    """Where a place of the bed is seen."""
    return setup.person.bed_vector(point)


def things_on(setup: Setup) -> list[Box]:
    """Clamps and solids of a station, and its pins, as the bed is seen."""
    outlines = [each.outline for each in standing_of(setup) if each.kind in ("solid", "clamp")]
    boxes = [bounds(tuple(seen(setup, p) for p in outline)) for outline in outlines]
    for pin in setup.located.pins:
        x, y = seen(setup, pin.at_mm)
        boxes.append(Box(x, y, x, y).grown(pin.radius_mm))
    return boxes


def check_of(
    setup: Setup, findings: tuple[CheckFinding, ...] = (), paper_mm: float = PAPER_MM
) -> Drawn:
    """The drawing of a check, over a bed without other stations."""
    extent = ((0.0, 0.0), (0.0, 0.0), (0.0, 0.0))
    report = Report("p.nc", setup.facts.station.name, "a", "0000-0000", "mm", 0.2, "nothing-found",
                    findings, extent, extent, 1, (), (), (), "", ())  # fmt: skip
    return read(path_drawing(setup, (), report, PathLines((), ()), paper_mm=paper_mm))


@cache
def drawings_of(name: str) -> dict[str, Drawn]:
    """A station of the demo as sheet, map and check show it."""
    setups = make_setups(facts(world(DEMO), name))
    first = setups[0]
    live = live_map(first.facts.bed, [Lit(setups, ())], first.person, 160.0, "").drawing
    sheet = read(close_up(setups, (), 130.0, 88.0))
    return {"sheet": sheet, "map": read(live), "check": check_of(first)}


@pytest.mark.parametrize("name", ["left", "right", "end-bars"])
def test_the_front_word_stands_where_nothing_covers_it(name: str) -> None:
    """FRONT lies under no clamp, pin, zero or letter, in every drawing, as large as they are."""
    first = make_setups(facts(world(DEMO), name))[0]
    for which, drawn in drawings_of(name).items():
        front = drawn.word("FRONT")
        assert not [each for each in things_on(first) if each.meets(front.box)], which
        others = [word.text for word in drawn.words if word != front and word.box.meets(front.box)]
        assert others == [], which
        for disc in drawn.root.iter(f"{SVG}circle"):
            at = float(disc.attrib["cx"]), -float(disc.attrib["cy"])
            near = distance_to(front.box.outline, at)
            holes = first.facts.bed.grid.hole / 2
            assert near >= float(disc.attrib["r"]) - 0.01 or float(disc.attrib["r"]) <= holes


@pytest.mark.parametrize(("name", "axis"), [("left", "X"), ("right", "Y")])
def test_an_axis_along_the_front_edge_runs_beside_its_band(name: str, axis: str) -> None:
    """An arrow along the front edge is no part of the black bar: axis and letter lie beside it."""
    (setup,) = make_setups(facts(world(DEMO), name))
    ((_, edge),) = fronts_of(setup)
    for which in ("sheet", "map"):
        drawn = drawings_of(name)[which]
        band = band_of(edge, drawn)
        zero, word = seen(setup, setup.zero_in_bed), drawn.word(axis)
        assert band < into(edge, setup.zero_in_bed), which
        assert not bounds(tuple(seen(setup, p) for p in edge.band(band))).meets(word.box), which
        assert math.dist(word.box.middle, zero) < 2.2 * AXIS_MM * scale_of(drawn), which


def into(edge: Edge, point: XY) -> float:
    """How far a place lies inside the jig, from its front edge."""
    (x, y), (dx, dy) = edge.start, edge.inward
    return (point[0] - x) * dx + (point[1] - y) * dy


def scale_of(drawn: Drawn) -> float:
    """Bed mm for one mm of paper."""
    box, wide = drawn.root.attrib["viewBox"].split(), drawn.root.attrib["width"]
    return float(box[2]) / float(wide.removesuffix("mm"))


def band_of(edge: Edge, drawn: Drawn) -> float:
    """How far the black band reaches into the jig, as it is drawn; who stands there is below."""
    reaches = []
    for node in drawn.root.iter(f"{SVG}polygon"):
        pairs = (pair.split(",") for pair in node.attrib["points"].split())
        corners = [(float(x), -float(y)) for x, y in pairs]
        ends = [p for p in corners for end in (edge.start, edge.end) if math.dist(p, end) < 0.1]
        reaches += [max(into(edge, p) for p in corners)] if len(ends) == 2 else []
    return min(reaches)


@pytest.mark.parametrize("name", CASES)
def test_the_empty_hole_has_a_mark_of_its_own(name: str) -> None:
    """A crossed square lies at the empty hole, upon all else; no zero touches it that lies 2.5 mm
    away on paper, no round mark covers it, and in large it stands by its name."""
    setups = CASES[name].setups
    drawn = read(close_up(setups, CASES[name].take_out, 133.0, 88.0))
    first, mark = setups[0], empty_mark(setups, scale_of(drawn))
    named = [word for word in drawn.words if "EMPTY" in word.text]
    assert len(named) == (mark is not None)
    if mark is None:
        return
    x, y = seen(first, mark.at)
    square = Box(x, y, x, y).grown(mark.half_mm)
    nodes = list(drawn.root)
    ((place, _),) = [
        (at, node) for at, node in enumerate(nodes)
        if node.tag == f"{SVG}polygon" and _alike(node, square)
    ]  # fmt: skip
    for setup in setups:
        zero = seen(first, setup.zero_in_bed)
        if math.dist(zero, (x, y)) > 2.5 * scale_of(drawn):  # else both are almost one place
            assert distance_to(square.outline, zero) > mark.zero_mm * scale_of(drawn)
    marks = [each for each in nodes if each.tag == f"{SVG}circle" and each.get("fill") != "none"]
    later = [each for each in marks if nodes.index(each) > place]
    for each in later:  # tags of labels, and who stands there
        at = float(each.attrib["cx"]), -float(each.attrib["cy"])
        assert distance_to(square.outline, at) > float(each.attrib["r"])


def _alike(node: ET.Element, box: Box) -> bool:
    pairs = [pair.split(",") for pair in node.attrib["points"].split()]
    corners = bounds(tuple((float(x), -float(y)) for x, y in pairs))
    return all(abs(one - other) < 0.02 for one, other in zip(corners, box, strict=True))


@pytest.mark.parametrize("name", ["keyed in", "inch", "people at the left", "62 x 31 holes"])
def test_the_empty_hole_is_named_outside_the_jig(name: str) -> None:
    """`C2 EMPTY` stands beside the jig, never in it, where there is least room for it."""
    setups = CASES[name].setups
    first = setups[0]
    drawn = read(close_up(setups, CASES[name].take_out, 133.0, 88.0))
    (empty,) = (word for word in drawn.words if "EMPTY" in word.text)
    jig = tuple(seen(first, point) for point in first.footprint_in_bed())
    assert all(distance_to(jig, corner) > 0 for corner in (*empty.box.outline, empty.box.middle))


@pytest.mark.parametrize(
    "place", [(-400.0, 200.0), (1900.0, 200.0), (300.0, 1200.0), (1900.0, 2500.0), (300.0, -900.0)]
)
def test_numbers_of_findings_stay_in_the_drawing(place: XY) -> None:
    """Where many findings share a sign at the drawing's border, none of their numbers is cut."""
    (setup,) = make_setups(facts(world(DEMO), "left"))
    findings = tuple(
        CheckFinding("outside-bed", line, "too far", place_mm=place) for line in range(7)
    )
    drawn = check_of(setup, findings, 172.0)  # as on a page, beside the findings
    word, view = drawn.word("1, 2, 3, 4, 5, 6, 7"), drawn.root.attrib["viewBox"].split()
    left, wide = float(view[0]), float(view[2])
    assert left - 0.1 <= word.box.left and word.box.right <= left + wide + 0.1
    assert word.box.back <= -float(view[1]) and word.box.front >= -float(view[1]) - float(view[3])


def test_places_show_which_way_each_jig_lies() -> None:
    """Every jig on a map of places has its front edge: a word where they are taken together."""
    there = make_setups(facts(world(DEMO), "left"))
    found = facts(world(DEMO), "right")
    assert isinstance(found.station, Station)
    shown = find_places(found._replace(used=None), turns=(0,)).proposals[:1]
    for together in (True, False):
        drawing = PlaceDrawing(
            found.bed, there[0].person, tuple(there), found.holder, shown, together
        )
        drawn = read(render_place_map(drawing).split("\n", 1)[1])
        assert [word.text for word in drawn.words].count("FRONT") == 1 + together
        bands = [n for n in drawn.root.iter(f"{SVG}polygon") if n.get("fill") == "#000"]
        assert len(bands) >= 3  # two jigs and who stands there


@pytest.mark.parametrize(("angles", "named"), [((0, 180), 2), ((0, 0, 180), 2), ((0, 0, 0), 1)])
def test_axes_that_point_otherwise_are_named(angles: tuple[int, ...], named: int) -> None:
    """No arrow goes without a letter where it points otherwise than the first nest's."""
    nests = ", ".join(
        f"{{name: {name}, zero: [{20 + 145 * at}, 140], angle: {angle}, "
        "stock: {from: [-20, -20], size: [100, 60, 20]}}"
        for at, (name, angle) in enumerate(zip("abc", angles, strict=False))
    )
    setups = make_setups(facts(world(changed(BASE, (ONE_NEST, f"nests: [{nests}]")))))
    first = setups[0]
    live = live_map(first.facts.bed, [Lit(setups, ())], first.person, 160.0, "").drawing
    sheet = close_up(setups, (), 130.0, 88.0)
    for which, drawn in {"map": live, "sheet": sheet}.items():
        words = [word.text for word in read(drawn).words]
        expected = len(setups) if which == "sheet" and len(setups) == 2 else named
        assert (words.count("X"), words.count("Y")) == (expected, expected), which


@pytest.mark.parametrize(
    ("zero", "front"), [("430, 255", "-400, -240"), ("225, 140", "-200, -120")]
)
def test_a_station_keeps_its_name_when_it_lights_up(zero: str, front: str) -> None:
    """No zero of a station lies on its name in the map: the page would hide that."""
    nest = f"nests: [{{name: a, zero: [{zero}], stock: {{from: [{front}], size: [410, 240, 20]}}}}]"
    setups = make_setups(facts(world(changed(BASE, (ONE_NEST, nest)))))
    first = setups[0]
    drawn = read(live_map(first.facts.bed, [Lit(setups, ())], first.person, 160.0, "").drawing)
    x, y = seen(first, first.zero_in_bed)
    zero_box = Box(x, y, x, y).grown(1.8 * scale_of(drawn))
    assert not drawn.word("left").box.meets(zero_box)
    assert not drawn.word("G55").box.meets(zero_box)
