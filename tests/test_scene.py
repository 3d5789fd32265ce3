"""One scene, drawn twice: what stands in it stands at the same place in the SVG and in the DXF."""

from __future__ import annotations

import io
import re
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree

import checking
import ezdxf
import pytest
import worlds
from ezdxf.document import Drawing

from pincorner.documents.beds import Bed
from pincorner.documents.kinds import identity
from pincorner.documents.reading import read_files
from pincorner.documents.stations import Station
from pincorner.geometry.outline import Box
from pincorner.geometry.pose import XY
from pincorner.render.drawing.bed import MAP_LOOKS, bed_map, is_named, step_of_names
from pincorner.render.drawing.canvas import LEAST_MM, Canvas, text_width
from pincorner.render.drawing.close_up import close_up
from pincorner.render.drawing.dxf import FINDINGS, LAYER_OF, NAMES, render_map_dxf
from pincorner.render.drawing.labels import Labels
from pincorner.render.drawing.live import live_map
from pincorner.render.drawing.scene import Axes, Disc, Edge, Kind, Scene, Shape, Spot, map_scene
from pincorner.render.pages.maps import render_map_svg
from pincorner.setups.setup import OffsetRow, Setup
from pincorner.setups.transform import offset_rows

SHOPS = Path(__file__).parent / "recordings" / "shops"
WRITTEN_MM = 0.005 + 1e-9
"""The SVG has two decimals."""
FRAME, FRAME_CIRCLES = 4, 1
"""Outlines and circles of who stands there, on white ground, and of the machine's axes."""
NOT_ON_THE_MAP = {
    "standing": "clamps and solids of a jig would hide the names; the close-up shows them",
    "stock": "the close-up shows it",
    "zero": "the close-up shows it",
}
"""Kinds that the SVG map leaves out, and why."""


class Drawn(NamedTuple):
    """A bed's map, as scene and as both of its drawings, read back."""

    scene: Scene
    setups: list[Setup]
    polygons: list[list[XY]]
    circles: list[tuple[float, float, float]]
    texts: list[tuple[str, float, float]]
    dxf: Drawing


def bench() -> worlds.World:
    """A shop with slats, tracks, screws, solids and jigs of every kind."""
    files = [SHOPS / "bench" / "shop.yaml", checking.PROGRAMS.parent / "dialects.yaml"]
    return {identity(each.document): each.document for each in read_files(files)}


@pytest.fixture(scope="module", params=["long-bench", "long"])
def drawn(request: pytest.FixtureRequest) -> Drawn:
    """The map of the demo's bed, and of one with everything on it."""
    world = checking.WORLD if request.param == "long-bench" else bench()
    bed = world["bed", request.param]
    assert isinstance(bed, Bed)
    rows: list[OffsetRow] = []
    for document in world.values():
        if isinstance(document, Station) and document.bed == bed.name:
            rows += offset_rows(worlds.facts(world, document.name))
    setups = [row.setup for row in rows if row.setup is not None]
    root = ElementTree.fromstring(render_map_svg(bed, rows))
    dxf = ezdxf.read(io.StringIO(render_map_dxf(bed, rows)))
    scene = map_scene(bed, setups)
    assert len(scene.of("finding")) > (0 if bed.slats else -1) and scene.of("standing")
    return Drawn(scene, setups, *parts_of(root), dxf)


def parts_of(
    root: ElementTree.Element,
) -> tuple[list[list[XY]], list[tuple[float, float, float]], list[tuple[str, float, float]]]:
    """Polygons, circles and texts of an SVG, in bed mm."""
    polygons, circles, texts = [], [], []
    for each in root.iter():
        name, has = each.tag.rpartition("}")[2], each.attrib
        if name == "polygon":
            pairs = (pair.split(",") for pair in has["points"].split())
            polygons.append([(float(x), -float(y)) for x, y in pairs])
        elif name == "circle":
            circles.append((float(has["cx"]), -float(has["cy"]), float(has["r"])))
        elif name == "text":
            high = 0.35 * float(has["font-size"])
            texts.append((each.text or "", float(has["x"]), high - float(has["y"])))
    return polygons, circles, texts


def near(got: XY, want: XY, within: float = WRITTEN_MM) -> bool:
    return abs(got[0] - want[0]) <= within and abs(got[1] - want[1]) <= within


def same_corners(got: list[XY], want: tuple[XY, ...]) -> bool:
    return len(got) == len(want) and all(map(near, got, want))


def in_svg(drawn: Drawn, shape: Shape) -> bool:
    """Whether the SVG has the shape at its place; a pin may be drawn thicker than it is."""
    form = shape.form
    if isinstance(form, Disc):
        thin = shape.kind == "pin"
        return any(
            near((x, y), form.at)
            and (r >= form.radius_mm - WRITTEN_MM if thin else abs(r - form.radius_mm) <= 0.0051)
            for x, y, r in drawn.circles
        )
    if isinstance(form, Spot):
        return any(text == shape.name and on_ray((x, y), form) for text, x, y in drawn.texts)
    if isinstance(form, Edge):
        bands = [each for each in drawn.polygons if same_corners(each[:2], (form.start, form.end))]
        return bool(bands) and any(
            len(each) == 3 and near(each[0], form.start) for each in drawn.polygons
        )
    assert not isinstance(form, Axes)
    return any(same_corners(each, form) for each in drawn.polygons)


def in_dxf(drawn: Drawn, shape: Shape) -> bool:
    """Whether the DXF has the shape at its place, on the layer of its kind."""
    space, form, layer = drawn.dxf.modelspace(), shape.form, LAYER_OF[shape.kind]
    if isinstance(form, Disc):
        return any(
            near(each.dxf.center, form.at) and abs(each.dxf.radius - form.radius_mm) <= 1e-9
            for each in space.query(f"CIRCLE[layer=='{layer}']")
        )
    if isinstance(form, Spot):
        texts = space.query(f"TEXT[layer=='{NAMES}']")
        return any(
            each.dxf.text == shape.name and on_ray(each.dxf.align_point, form) for each in texts
        )
    if isinstance(form, Axes):
        points = space.query(f"POINT[layer=='{layer}']")
        return any(near(each.dxf.location, form.at, 1e-9) for each in points)
    lines = space.query(f"LWPOLYLINE[layer=='{layer}']")
    if isinstance(form, Edge):
        ends = [[(x, y) for x, y, *_ in line.get_points()][:2] for line in lines]
        return any(same_corners(each, (form.start, form.end)) for each in ends)
    return any(same_corners([(x, y) for x, y, *_ in line.get_points()], form) for line in lines)


def on_ray(got: XY, spot: Spot) -> bool:
    """Whether letters stand where their spot is, or from there to its own side of it."""
    off = (got[0] - spot.at[0], got[1] - spot.at[1])
    along, across = (off[0] * dx + off[1] * dy for dx, dy in (spot.away, spot.away[::-1]))
    if spot.away == (0.0, 0.0):
        # the SVG's mark stands where it has room near by, the DXF's lies around the place
        return max(map(abs, off)) <= 150.0
    return along > 0 and abs(across) <= WRITTEN_MM


def test_every_shape_stands_in_both(drawn: Drawn) -> None:
    """Each shape stands in its place in the DXF, and in the SVG but for kinds named above."""
    missing = [
        (writer, shape.kind, shape.name)
        for shape in drawn.scene.shapes
        for writer, there in (("svg", in_svg), ("dxf", in_dxf))
        if not (writer == "svg" and shape.kind in (*NOT_ON_THE_MAP, "column", "row"))
        and not there(drawn, shape)
    ]
    assert missing == []


def test_the_tables_have_every_kind() -> None:
    """Both writers know every kind, or it is named why one leaves it out."""
    kinds = set(Kind.__args__)  # type: ignore[attr-defined]
    assert set(LAYER_OF) == kinds
    assert set(MAP_LOOKS) | set(NOT_ON_THE_MAP) == kinds
    assert not set(MAP_LOOKS) & set(NOT_ON_THE_MAP)


def test_letters_of_the_grid(drawn: Drawn) -> None:
    """The SVG leaves out letters where there are many, at even steps; others stand in place."""
    for kind in ("column", "row"):
        shapes = drawn.scene.of(kind)  # type: ignore[arg-type]
        there = [at for at, shape in enumerate(shapes) if in_svg(drawn, shape)]
        assert there[0] == 0 and len({after - before for before, after in pairwise(there)}) <= 1


def test_nothing_else_is_drawn(drawn: Drawn) -> None:
    """Both drawings have as many circles and outlines as the scene, and a sign for each finding."""
    space, scene = drawn.dxf.modelspace(), drawn.scene
    shown = [shape for shape in scene.shapes if shape.kind in MAP_LOOKS]
    discs, outlines = (
        [shape for shape in shapes if isinstance(shape.form, Disc)]
        for shapes in (shown, scene.shapes)
    )
    assert len(drawn.circles) == len(discs) + FRAME_CIRCLES
    assert len(space.query("CIRCLE")) == len(outlines)
    plain = [s for s in scene.shapes if not isinstance(s.form, Disc | Spot | Axes | Edge)]
    signs = len(scene.of("finding"))
    fronts = 2 * len(scene.of("front"))  # a band and a notch each, and a tab with the word
    tabs = sum(text.startswith("FRONT") for text, _, _ in drawn.texts)
    assert len(space.query("LWPOLYLINE")) == len(plain) + signs + fronts
    assert (
        len(drawn.polygons)
        == len([s for s in plain if s.kind in MAP_LOOKS]) + signs + fronts + tabs + FRAME
    )
    assert len(space.query(f"LWPOLYLINE[layer=='{FINDINGS}']")) == signs


def test_the_close_up_has_what_the_map_leaves_out(drawn: Drawn) -> None:
    """Clamps, stock and the zeros' axes of each station stand in its close-up at the same place."""
    stations: dict[str, list[Setup]] = {}
    for setup in drawn.setups:
        stations.setdefault(setup.facts.station.name, []).append(setup)
    for name, setups in stations.items():
        root = ElementTree.fromstring(close_up(setups, (), 180.0, 120.0))
        polygons, circles, _ = parts_of(root)
        lines = [
            [(float(each.attrib[f"x{at}"]), -float(each.attrib[f"y{at}"])) for at in "12"]
            for each in root.iter()
            if each.tag.endswith("}line")
        ]
        for stroke in re.findall(r"M(\S+) (\S+?)L(\S+) ([^M\s]+)", strokes_of(root)):
            x1, y1, x2, y2 = map(float, stroke)
            lines.append([(x1, -y1), (x2, -y2)])
        for shape in map_scene(drawn.scene.bed, setups).shapes:
            form = shape.form
            if isinstance(form, Axes):
                assert any(near((x, y), form.at) for x, y, _ in circles), (name, shape)
                for ahead in (form.x, form.y):
                    assert any(
                        near(start, form.at) and turn(start, end, ahead) < 0.01
                        for start, end in lines
                    ), (name, shape)
            elif shape.kind in ("jig", "standing", "stock"):
                assert any(same_corners(each, shape.outline) for each in polygons), (name, shape)


def strokes_of(root: ElementTree.Element) -> str:
    """The paths of a drawing, one behind the other."""
    return "".join(each.attrib["d"] for each in root.iter() if each.tag.endswith("}path"))


def turn(start: XY, end: XY, ahead: XY) -> float:
    """How far a line is off a direction, as the sine of the angle; 1 where it goes back."""
    x, y = end[0] - start[0], end[1] - start[1]
    length = (x * x + y * y) ** 0.5
    if x * ahead[0] + y * ahead[1] <= 0:
        return 1.0
    return abs(x * ahead[1] - y * ahead[0]) / length


def test_the_band_of_an_edge_lies_in_the_jig() -> None:
    """From end to end of the edge, its thickness into the jig, whichever way that is."""
    east = Edge((0.0, 0.0), (10.0, 0.0), (0.0, 1.0), 5.0)
    assert east.band(2.0) == ((0, 0), (10, 0), (10, 2), (0, 2))
    slanting = Edge((0.0, 0.0), (4.0, 3.0), (-0.6, 0.8), 5.0)
    assert slanting.band(5.0) == ((0, 0), (4, 3), (1, 7), (-3, 4))


@pytest.mark.parametrize(("toward", "signs"), [("+x+y", (1, 1)), ("-x-y", (-1, -1))])
def test_arrows_press_the_jig_against_its_pins(toward: str, signs: tuple[int, int]) -> None:
    """The first arrow points to the two edge pins, the second one along them to the stop."""
    text = worlds.PRESSED
    if signs[0] < 0:
        text = text.replace("{edge: [D2, G2], stop: C4}", "{edge: [L8, I8], stop: M6}")
    (setup,) = worlds.setups(text)
    assert setup.located.toward == toward
    polygons = re.findall(r'<polygon points="([^"]*)"', close_up([setup], (), 130.0, 90.0))
    shapes = [[tuple(map(float, xy.split(","))) for xy in each.split()] for each in polygons]
    arrows = [each for each in shapes if len(each) == 7]
    ways = [
        (round(tip[0] - (one[0] + two[0]) / 2, 3), round(tip[1] - (one[1] + two[1]) / 2, 3))
        for tip, _, _, one, two, *_ in arrows
    ]
    (x1, y1), (x2, y2) = ways
    assert x1 == 0 and y1 * signs[1] > 0  # y goes down in a drawing
    assert y2 == 0 and x2 * signs[0] < 0


def test_a_label_is_moved_only_as_far_as_it_must_be() -> None:
    """What lies in the window stays; what does not is moved to its edge, half a mm from paper's."""
    labels = Labels(Canvas(Box(0.0, 0.0, 200.0, 100.0), 200.0, "window"))
    assert labels._moved_in(Box(20, 20, 40, 30)) == Box(20, 20, 40, 30)
    assert labels._moved_in(Box(-10, 20, 10, 30)) == Box(0.5, 20, 20.5, 30)
    assert labels._moved_in(Box(190, 95, 210, 110)) == Box(179.5, 84.5, 199.5, 99.5)


def test_letters_of_rows_keep_a_line_apart() -> None:
    """Where holes stand closer than letters are high, every so manieth row has its own."""
    text = """
format: 1
beds: [{name: fine, machine: m, outline: {from: [-200, -200], to: [1380, 980]}, pose: {x: 0, y: 0},
        grid: {columns: 60, rows: 40, pitch: [20, 20], hole: 8}}]
"""
    [bed] = [each.document for each in worlds.entries(text)]
    assert isinstance(bed, Bed)
    svg = render_map_svg(bed, [])
    found = re.findall(r'<text x="(\S+)" y="(\S+)" font-size="(\S+)"[^>]*>(\d+)</text>', svg)
    rows = [(float(y), float(size)) for x, y, size, number in found if float(x) < 0]
    assert 5 < len(rows) < 40
    assert all(abs(one - other) >= size for (one, size), (other, _) in pairwise(rows))


def test_a_close_up_leaves_room_for_names_beside_the_jig() -> None:
    """A jig ends 17 mm of paper from either side: labels and arrows have room."""
    (setup,) = worlds.setups(worlds.PRESSED)
    [view] = re.findall(r'viewBox="(\S+) \S+ (\S+) ', close_up([setup], (), 130.0, 200.0))
    left, scale = float(view[0]), float(view[1]) / 130.0
    xs = [x for x, _ in setup.footprint_in_bed()]
    assert min(xs) - left >= 16.9 * scale and left + 130.0 * scale - max(xs) >= 16.9 * scale


def test_holes_that_would_run_together_are_thinned() -> None:
    """Of very many holes those are drawn that can be told apart on paper, among them A1; holes that
    are gone, and pins, are all there, and a coarser grid loses none."""
    fine = worlds.BASE.replace(
        "columns: 15, rows: 9, pitch: [100, 100], hole: 20.02",
        "columns: 300, rows: 20, pitch: [5, 5], hole: 3",
    ).replace("    surface:", "    missing: [B2]\n    surface:")
    found = worlds.world(fine)["bed", "long-bench"]
    assert isinstance(found, Bed)
    scene = map_scene(found, [])
    drawing = ElementTree.fromstring(bed_map(scene, 54.0, named=False))
    scale = float(drawing.attrib["viewBox"].split()[2]) / 54.0
    holes = [
        (float(each.attrib["cx"]), float(each.attrib["cy"]))
        for each in drawing.iter("{http://www.w3.org/2000/svg}circle")
        if each.attrib["stroke"] == "#777"
    ]
    assert (0.0, 0.0) in holes and (5.0, -5.0) in holes and len(holes) < 400
    columns = sorted({x for x, _ in holes if x != 5.0})
    assert min(b - a for a, b in pairwise(columns)) >= 0.7 * scale
    coarse = worlds.world()["bed", "long-bench"]
    assert isinstance(coarse, Bed)
    assert bed_map(map_scene(coarse, []), 54.0, named=False).count('stroke="#777"') == 15 * 9


def test_person_and_axes_stand_side_by_side_below_a_narrow_bed() -> None:
    """A bed of 500 x 1 holes that points away from people is drawn with room at either side, on the
    map that answers as on the plain one; no letter of its columns lies on it."""
    text = worlds.BASE.replace("columns: 15, rows: 9", "columns: 500, rows: 1")
    found = worlds.world(text.replace("angle: 0}", "angle: 90}"))["bed", "long-bench"]
    assert isinstance(found, Bed)
    scene = map_scene(found, [])
    plain = bed_map(scene, 10.0, named=True)
    live = live_map(found, (), scene.person, 10.0, "").drawing
    for drawing in (plain, live):
        root = ElementTree.fromstring(drawing)
        assert float(root.attrib["width"].removesuffix("mm")) == LEAST_MM
        left, _, wide, _ = map(float, root.attrib["viewBox"].split())
        scale = wide / LEAST_MM
        places = {
            "".join(each.itertext()): float(each.attrib["x"])
            for each in root.iter("{http://www.w3.org/2000/svg}text")
        }
        assert left < places["Y+"] < places["X+"] < left + wide - 2.0 * scale
        size_mm = 3.3 if drawing is plain else 4.0
        (edge,) = {y for _, y in found.box.outline if y == max(y for _, y in found.box.outline)}
        for letters in {"A", "MW"} & places.keys():
            half = text_width(letters, size_mm) / 2 * scale
            assert places[letters] + half <= -edge or places[letters] - half >= edge


@pytest.mark.parametrize(
    ("least", "count", "told"),
    [
        (3.6, 23, ["5", "10", "15", "20"]),
        (3.6, 9, ["1", "5", "9"]),  # by fives there were one alone
        (1.7, 9, ["1", "3", "5", "7", "9"]),
        (0.4, 4, ["1", "2", "3", "4"]),
        (14.0, 62, ["20", "40", "60"]),
    ],
)
def test_rows_are_named_by_steps_that_people_count_by(
    least: float, count: int, told: list[str]
) -> None:
    """Names need so many rows each: round ones where two or more are left, else from the first."""
    step = step_of_names(least, count)
    names = [str(at + 1) for at in range(count)]
    assert step >= least
    assert [name for at, name in enumerate(names) if is_named(at, step, name)] == told
