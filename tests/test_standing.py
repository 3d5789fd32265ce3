"""What stands on a bed is one value: all who use it see the same things, as high, in one place.

Every figure of `THINGS` is worked out by hand from the documents above it: hole A1 lies at 0, 0 and
holes 100 mm apart, so that pins of 20 mm in D2, G2 and C4 put the jig's corner at 210, 110.
"""

from __future__ import annotations

import io
import itertools
import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

import ezdxf
import numpy as np
import pytest
from shapely import Point, Polygon, box, unary_union
from shapely.geometry.base import BaseGeometry
from test_sheet import Page, sheet_of
from thinning import thinned
from worlds import BASE, World, facts, world

from pincorner.documents.beds import Bed
from pincorner.geometry.outline import Outline
from pincorner.places.beside import pair_table
from pincorner.places.fit import make_scene
from pincorner.places.search import PlaceProposal, find_places, proposal
from pincorner.program.check.surroundings import Disc, Obstacle, stock_and_run_off, surroundings
from pincorner.program.edit import traverse as repeat_traverse
from pincorner.program.edit.stretches import Ends
from pincorner.program.edit.traverse import Visit, check_traverses
from pincorner.render.drawing.dxf import JIGS, PINS, SOLIDS, STOCK, render_map_dxf
from pincorner.render.pages.maps import render_map_svg
from pincorner.runs.space import space_clashes
from pincorner.setups.facts import Facts, UsedHole, UsedHoles
from pincorner.setups.locating import locate
from pincorner.setups.setup import OffsetRow, Setup, bed_in_program
from pincorner.setups.transform import make_setups
from pincorner.standing import (
    Standing,
    empty_holes,
    first_of_each,
    highest_of,
    standing_of,
    standing_on,
)

SAME_MM = 1e-9
SAME_AREA_MM2 = 1e-5  # of outlines as large as a bed, whose corners are known to SAME_MM
STANDS = frozenset({"hits-pin", "hits-clamp", "hits-solid", "hits-jig", "hits-stock"})

BENCH = BASE.replace(
    "    surface: -120\n",
    "    surface: -120\n"
    "    solids:\n"
    "      - {name: setter, from: [1400, 800], to: [1440, 840], top: 60}\n"
    "      - {name: rest, from: [1350, 200], to: [1390, 240], top: 25}\n"
    "    slats:\n"
    "      - {name: high, from: [790, 50], to: [1450, 450], surface: -104.5}\n"
    "      - {name: low, from: [100, 450], to: [620, 850], surface: -131.25}\n",
).replace(
    "pins:\n",
    "pins:\n  - {name: tall, shank: 20, body: 20, height: 75, body_tolerance: 0.01}\n"
    "  - {name: mid, shank: 20, body: 20, height: 42, body_tolerance: 0.01}\n",
    1,
).replace(
    "    pin: peg-20\n", "    pin: mid\n"
).replace(
    "    nests: [{name: a,",
    "    solids:\n"
    "      - {name: toggle, from: [300, 262], to: [340, 280], top: 55}\n"
    "      - {name: arm, from: [440, 95], to: [520, 130], top: 61}\n"
    "    nests: [{name: a,",
).replace(
    "stations:\n",
    "  - name: pair\n"
    "    footprint: [440, 200]\n"
    "    seat: 24\n"
    "    height: 40\n"
    "    nests:\n"
    "      - {name: a, zero: [20, 20], stock: {size: [160, 160, 82]}}\n"
    "      - {name: b, zero: [395, 20], angle: 90, stock: {size: [160, 160, 4]}}\n"
    "stations:\n",
) + (
    "    under: 30\n"
    "    clamps: [{name: c1, from: [215, -50], to: [245, 10], top: 35}]\n"
    "  - {name: right, bed: long-bench, jig: panel-tray, pin: tall, pins: {edge: [J2, L2],"
    " stop: I4}, pins_pressed: false, under: 3, work_offsets: {a: G56}}\n"
    "  - {name: two, bed: long-bench, jig: pair, pin: peg-20, pins: {edge: [J6, L6], stop: I7},"
    " pins_pressed: false, work_offsets: {a: G57, b: G58}}\n"
    "  - {name: bare, bed: long-bench, stock: [300, 200, 18], pin: peg-20,"
    " pins: {edge: [D6, F6], stop: C7}, pins_pressed: false, under: 6, work_offsets: {a: G59}}\n"
)  # fmt: skip
"""Four stations: on the bed's own surface, on a higher and on a lower slat, on sheets."""


class Thing(NamedTuple):
    """What stands there by hand: a box (left, front, right, back) or a disc (x, y, radius); machine
    Z of its top and of what lies below it. `within`: stock that lies within its jig."""

    kind: str
    name: str
    at: tuple[float, ...]
    top_z: float
    bottom_z: float
    within: bool = False

    @property
    def shape(self) -> BaseGeometry:
        """What it covers on the bed."""
        if len(self.at) == 3:
            return Point(self.at[:2]).buffer(self.at[2])
        return box(*self.at)


THINGS = {
    "left": [  # on the bed's surface at -120, 30 of sheet under it
        Thing("jig", "panel-tray", (210, 110, 670, 390), -120 + 30 + 40, -90),
        Thing("stock", "the stock", (235, 130, 645, 370), -120 + 30 + 18 + 20, -72, True),
        Thing("solid", "toggle", (510, 372, 550, 390), -120 + 30 + 55, -90),
        Thing("solid", "arm", (650, 205, 730, 240), -120 + 30 + 61, -90),
        Thing("clamp", "clamp c1", (425, 60, 455, 120), -120 + 35, -120),
        Thing("pin", "pin D2", (300, 100, 10), -120 + 42, -120),
        Thing("pin", "pin G2", (600, 100, 10), -120 + 42, -120),
        Thing("pin", "pin C4", (200, 300, 10), -120 + 42, -120),
    ],
    "right": [  # on the slat at -104.5, 3 of sheet under it
        Thing("jig", "panel-tray", (810, 110, 1270, 390), -104.5 + 3 + 40, -101.5),
        Thing("stock", "the stock", (835, 130, 1245, 370), -104.5 + 3 + 18 + 20, -83.5, True),
        Thing("solid", "toggle", (1110, 372, 1150, 390), -104.5 + 3 + 55, -101.5),
        Thing("solid", "arm", (1250, 205, 1330, 240), -104.5 + 3 + 61, -101.5),
        Thing("pin", "pin J2", (900, 100, 10), -104.5 + 75, -104.5),
        Thing("pin", "pin L2", (1100, 100, 10), -104.5 + 75, -104.5),
        Thing("pin", "pin I4", (800, 300, 10), -104.5 + 75, -104.5),
    ],
    "two": [
        Thing("jig", "pair", (810, 510, 1250, 710), -120 + 40, -120),
        Thing("stock", "the stock of nest a", (830, 530, 990, 690), -120 + 24 + 82, -96, True),
        Thing("stock", "the stock of nest b", (1045, 530, 1205, 690), -120 + 24 + 4, -96, True),
        Thing("pin", "pin J6", (900, 500, 10), -120 + 22, -120),
        Thing("pin", "pin L6", (1100, 500, 10), -120 + 22, -120),
        Thing("pin", "pin I7", (800, 600, 10), -120 + 22, -120),
    ],
    "bare": [  # on the slat at -131.25, 6 of sheet under it
        Thing("stock", "the stock", (210, 510, 510, 710), -131.25 + 6 + 18, -125.25),
        Thing("pin", "pin D6", (300, 500, 10), -131.25 + 22, -131.25),
        Thing("pin", "pin F6", (500, 500, 10), -131.25 + 22, -131.25),
        Thing("pin", "pin C7", (200, 600, 10), -131.25 + 22, -131.25),
    ],
    "": [
        Thing("solid", "setter", (1400, 800, 1440, 840), -120 + 60, -120),
        Thing("solid", "rest", (1350, 200, 1390, 240), -104.5 + 25, -104.5),
    ],
}  # fmt: skip
EVERY = [(station, thing) for station, things in THINGS.items() for thing in things]


def stations_of(found: World) -> dict[str, list[Setup]]:
    """The setups of all stations of a world, by name."""
    names = [document.name for (kind, _), document in found.items() if kind == "station"]
    return {name: make_setups(facts(found, name)) for name in names}


@pytest.fixture(scope="module")
def bench() -> dict[str, list[Setup]]:
    """The setups of the four stations."""
    return stations_of(world(BENCH))


def bed_of(stations: dict[str, list[Setup]]) -> Bed:
    """Their bed."""
    return stations["left"][0].facts.bed


def every_setup(stations: dict[str, list[Setup]]) -> list[Setup]:
    """The setups of all nests of all stations."""
    return [setup for setups in stations.values() for setup in setups]


def all_on(stations: dict[str, list[Setup]]) -> list[Standing]:
    """All that stands on the bed."""
    return standing_on(bed_of(stations), every_setup(stations))


def shape_of(outline: Outline, radius_mm: float) -> BaseGeometry:
    """What an outline, or a disc around a point, covers."""
    return Point(outline[0]).buffer(radius_mm) if len(outline) == 1 else Polygon(outline)


def same(one: BaseGeometry, other: BaseGeometry) -> bool:
    """Whether two shapes are one."""
    return bool(one.symmetric_difference(other).area < SAME_AREA_MM2)


def assert_same_shapes(found: Iterable[BaseGeometry], expected: Iterable[BaseGeometry]) -> None:
    """Each of the one is one of the other, as often."""
    left = list(expected)
    for shape in found:
        at = next((at for at, other in enumerate(left) if same(shape, other)), None)
        assert at is not None, shape.wkt
        del left[at]
    assert left == []


def test_the_value_holds_what_the_documents_say(bench: dict[str, list[Setup]]) -> None:
    """Kind, name, station, outline, top and bottom of everything, station by station."""
    found = all_on(bench)
    assert len(found) == len(EVERY)
    for each, (station, thing) in zip(found, EVERY, strict=True):
        assert (each.kind, each.called, each.station) == (thing.kind, thing.name, station)
        assert same(shape_of(each.outline, each.radius_mm), thing.shape)
        assert each.surface_mm is not None
        assert each.surface_mm + each.top_mm == pytest.approx(thing.top_z, abs=SAME_MM)
        assert each.surface_mm + each.bottom_mm == pytest.approx(thing.bottom_z, abs=SAME_MM)
        assert each.takes_room != thing.within
        assert each.sticks_out == (thing.name == "arm")
        assert each.footprint == (thing.kind == "jig" or (station == "bare" and not each.hole))
    assert [each.name for each in found if each.kind == "pin"][3:6] == ["tall"] * 3
    assert [each.nest for each in found if each.kind == "stock"] == ["a", "a", "a", "b", "a"]
    assert empty_holes(bed_of(bench), every_setup(bench)) == ["C2", "I2", "I6", "C6"]


def test_one_setup_of_a_station_is_enough(bench: dict[str, list[Setup]]) -> None:
    """Nests add nothing, and stations of another bed are not there."""
    one_each = [setups[-1] for setups in bench.values()]
    assert standing_on(bed_of(bench), one_each) == all_on(bench)
    elsewhere = bed_of(bench).model_copy(update={"name": "other", "solids": ()})
    assert standing_on(elsewhere, one_each) == []


def on_bed(setup: Setup, obstacle: Obstacle) -> tuple[BaseGeometry, float]:
    """An obstacle's shape on the bed and its top in machine Z."""
    back = bed_in_program(setup).inverse()
    assert setup.heights.surface_mm is not None
    top = obstacle.top_mm + setup.heights.zero_mm + setup.heights.surface_mm
    if isinstance(obstacle.shape, Disc):
        return Point(back.point(obstacle.shape.centre_mm)).buffer(obstacle.shape.radius_mm), top
    return Polygon(back.points(obstacle.shape[0])), top


def seen_by_check(
    stations: dict[str, list[Setup]], setup: Setup
) -> Iterator[tuple[str, BaseGeometry, float]]:
    """Kind, shape and machine Z of what check sees standing around a nest; the station's own jig,
    which it sees in pieces, with the room of the stock between them."""
    mine = setup.facts.station.name
    others = [each for name, setups in stations.items() if name != mine for each in setups]
    pieces, piece_tops = [], set()
    for each in surroundings(setup, setup, others, 8.0, 0.1).obstacles:
        shape, top = on_bed(setup, each)
        if each.code == "hits-jig" and " of station " not in each.name:
            pieces.append(shape)
            piece_tops.add(top)
        elif each.code in STANDS:
            yield each.code.removeprefix("hits-"), shape, top
    if pieces:
        room = setup.nest_in_bed.points(stock_and_run_off(setup, 8.0).outline)
        jig = Polygon(setup.footprint_in_bed())
        (top,) = piece_tops
        yield "jig", unary_union([*pieces, jig.intersection(Polygon(room))]), top


@pytest.mark.parametrize(("station", "nest"), [("left", 0), ("right", 0), ("two", 0), ("two", 1),
                                               ("bare", 0)])  # fmt: skip
def test_check_sees_all_of_it(bench: dict[str, list[Setup]], station: str, nest: int) -> None:
    """From every nest check sees each thing once, where it is and as high."""
    left = [thing for _, thing in EVERY]
    for kind, shape, top in seen_by_check(bench, bench[station][nest]):
        at = next(
            at for at, thing in enumerate(left)
            if thing.kind == kind and abs(thing.top_z - top) <= SAME_MM and same(shape, thing.shape)
        )  # fmt: skip
        del left[at]
    assert left == []


def test_repeat_passes_over_all_of_it(
    bench: dict[str, list[Setup]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The way over is held against each thing once, where it is and as high."""
    taken: list[tuple[Standing, float]] = []
    monkeypatch.setattr(
        repeat_traverse, "_check_way", lambda _, __, standing, *___: taken.extend(standing)
    )
    ends = Ends((0.0, 0.0), ((0.0, 0.0),))
    visits = [Visit(bench[name][0], ends) for name in ("left", "right")]
    check_traverses(visits, [*bench["two"], *bench["bare"]], 0.0, 8.0)
    tops = sorted(surface_mm + each.top_mm for each, surface_mm in taken)
    assert tops == pytest.approx(sorted(thing.top_z for _, thing in EVERY), abs=SAME_MM)
    assert_same_shapes((shape_of(e.outline, e.radius_mm) for e, _ in taken),
                       (thing.shape for _, thing in EVERY))  # fmt: skip


def test_place_keeps_clear_of_all_of_it(bench: dict[str, list[Setup]]) -> None:
    """Places are held against each thing but for stock that lies within its jig."""
    scene = make_scene(bench["left"][0].facts, all_on(bench), {}, None, 150.0)
    outlines = [
        shape_of(tuple(dict.fromkeys(map(tuple, corners.tolist()))), grown_mm)
        for corners, grown_mm in zip(scene.blocking.corners, scene.blocking.grown_mm, strict=True)
    ]
    assert_same_shapes(outlines, (thing.shape for _, thing in EVERY if not thing.within))
    assert scene.beside.outlines == 4


def test_drawings_show_all_of_it(bench: dict[str, list[Setup]]) -> None:
    """The DXF map has each thing on the layer of its kind; the SVG map has footprints and pins."""
    rows = [OffsetRow(each.facts, each.nest.name, each) for each in every_setup(bench)]
    space = ezdxf.read(io.StringIO(render_map_dxf(bed_of(bench), rows))).modelspace()
    for layer, kinds in ((SOLIDS, ("solid", "clamp")), (STOCK, ("stock",)), (PINS, ("pin",))):
        shapes = [
            Point(e.dxf.center.x, e.dxf.center.y).buffer(e.dxf.radius) if e.dxftype() == "CIRCLE"
            else Polygon([(x, y) for x, y, *_ in e.get_points()])
            for e in space.query(f'*[layer=="{layer}"]')
        ]  # fmt: skip
        assert_same_shapes(shapes, (thing.shape for _, thing in EVERY if thing.kind in kinds))
    jigs = [Polygon([(x, y) for x, y, *_ in e.get_points()])
            for e in space.query(f'*[layer=="{JIGS}"]')]  # fmt: skip
    lie = [thing.shape for station, thing in EVERY
           if thing.kind == "jig" or (station, thing.kind) == ("bare", "stock")]  # fmt: skip
    assert all(any(same(shape, jig) for jig in jigs) for shape in lie)  # and their FRONT bands
    svg = render_map_svg(bed_of(bench), rows)
    polygons = [
        Polygon([(float(x), -float(y)) for x, y in re.findall(r"([-\d.]+),([-\d.]+)", points)])
        for points in re.findall(r'<polygon points="([^"]+)"', svg)
    ]
    circles = {
        (float(x), -float(y), float(r))
        for x, y, r in re.findall(r'<circle cx="([^"]+)" cy="([^"]+)" r="([^"]+)"', svg)
    }
    solids_of_bed = [thing.shape for thing in THINGS[""]]
    for shape in (*lie, *solids_of_bed):
        assert any(same(shape, polygon) for polygon in polygons)
    assert {thing.at for _, thing in EVERY if thing.kind == "pin"} <= circles


def test_the_close_up_tells_the_same_heights(bench: dict[str, list[Setup]]) -> None:
    """On 30 of sheet a toggle of 55 is 85 high, as check and repeat have it; clamps stay 35."""
    page = Page(sheet_of(bench["left"])).words
    for words in ("toggle 85.0 mm high", "arm 91.0 mm high", "c1 35.0 mm high"):
        assert words in page


def test_what_is_not_known_stays_unknown() -> None:
    """Without a surface on file heights count from where things stand, and nothing else is known;
    check takes everything as level."""
    text = BENCH.replace("    surface: -120\n", "").replace(", surface: -104.5", "")
    stations = stations_of(world(text.replace(", surface: -131.25", "")))
    found = all_on(stations)
    assert {each.surface_mm for each in found} == {None}
    tops = {f"{each.called}{each.whose}": each.top_mm for each in found}
    assert tops["arm of station left"] == 91 and tops["pin J2 of station right"] == 75
    assert tops["rest on the bed"] == 25
    setup = stations["left"][0]
    others = [each for name in ("right", "two", "bare") for each in stations[name]]
    for each in surroundings(setup, setup, others, 8.0, 0.1).obstacles:
        if each.name in tops:
            assert each.top_mm == pytest.approx(tops[each.name] - setup.heights.zero_mm)
    assert standing_on(bed_of(stations))[0].surface_mm is None


CLOSE = BENCH + (
    "  - {name: close, bed: long-bench, jig: panel-tray, pin: peg-20, pins: {edge: [I2, K2],"
    " stop: H3}, work_offsets: {a: G59.1}, clamps: [{name: c2, from: [-20, 100], to: [10, 125],"
    " top: 30}]}\n"
)
"""A jig whose left side, at x = 710, lies 20 mm within the reach of the arm of `left`; its stop in
H3 at 700, 200 reaches 5 mm over the arm's front at 205, its clamp 30 mm deep over the arm's end."""


def test_run_tells_what_sticks_out() -> None:
    """An arm 20 mm inside the neighbour's jig, over its stop and under its clamp, is told."""
    stations = stations_of(world(CLOSE))
    found = space_clashes([stations["left"], stations["close"]])
    assert [(each.code, each.text) for each in found] == [
        (
            "jigs-overlap",
            "stations left and close: arm of panel-tray and panel-tray overlap by 20.0 mm",
        ),
        (
            "pin-under-jig",
            "pin H3 of station close stands under or in the way of arm of panel-tray of station "
            "left",
        ),
        (
            "clamp-over-jig",
            "clamp P (c2) of station close and arm of panel-tray of station left overlap by "
            "30.0 mm",
        ),
    ]
    assert found[1].figure_mm == pytest.approx(5.0, abs=SAME_MM)


def test_a_pin_under_an_arm_is_told_of_its_station() -> None:
    """Another station's pin that reaches 5 mm over the arm's front is in this jig's way; one of
    9 mm is not."""
    found = facts(world(BENCH))
    place = found.bed.hole("H3")
    assert place is not None
    for body, told in ((20.0, True), (9.0, False)):
        pin = found.pins["peg-20"].model_copy(update={"body": body})
        used = UsedHoles([UsedHole(place.at_mm, "H3", pin, ("close", "close"))])
        codes = [each.code for each in make_setups(found._replace(used=used))[0].findings]
        assert ("pin-under-jig" in codes) == told


def boards(seat: int, here: int, there: int) -> dict[str, list[Setup]]:
    """`left` on a slat whose board, x 235 to 645, reaches back to y = 505; behind it `back` on a
    slat of another height, with pins of 22 mm at y = 500. Its edge is at 510. Machine Z of both."""
    text = (
        BASE.replace(
            "    surface: -120\n",
            "    surface: -120\n    slats:\n"
            f"      - {{name: near, from: [100, 50], to: [1400, 480], surface: {here}}}\n"
            f"      - {{name: far, from: [100, 480], to: [1400, 850], surface: {there}}}\n",
        )
        .replace("[410, 240, 20]", "[410, 375, 20]")
        .replace("seat: 18", f"seat: {seat}")
    )
    plain = (
        "  - {name: plain, footprint: [460, 280], seat: 18, height: 40,"
        " nests: [{name: a, zero: [25, 20], stock: {size: [410, 240, 20]}}]}\n"
    )
    text = text.replace("stations:\n", f"{plain}stations:\n")
    back = "pin: peg-20, pins: {edge: [D6, G6], stop: C7}, pins_pressed: false, work_offsets: {a: "
    return stations_of(world(
        f"{text}  - {{name: back, bed: long-bench, jig: plain, {back}G56}}}}\n"
        f"  - {{name: same, bed: long-bench, jig: panel-tray, {back}G57}}}}\n"
    ))  # fmt: skip


def may_lie(setup: Setup, standing: list[Standing]) -> bool:
    """Whether place proposes the corner where a station lies."""
    station = setup.facts.station.model_copy(update={"name": "draft"})
    found = find_places(setup.facts._replace(station=station), standing, turns=(0,)).proposals
    return (setup.located.corner_hole, "+x+y") in {(p.where, p.located.toward) for p in found}


@pytest.mark.parametrize(
    ("seat", "here", "there", "meets"),
    [
        (18, -120, -120, True),
        (22, -120, -120, False),
        (21, -118, -120, False),  # the board's underside at machine Z -97, the pins' tops at -98
        (23, -122, -120, True),  # -99 and -98
    ],
)
def test_pins_below_a_board_are_not_in_its_way(
    seat: int, here: int, there: int, meets: bool
) -> None:
    """A board that hangs over another station's pins meets them by the machine heights of the two:
    for the setup's own finding, for run, for place of either and for jigs side by side alike."""
    stations = boards(seat, here, there)
    left, back, same = (stations[name][0] for name in ("left", "back", "same"))
    holes = [UsedHole(p.at_mm, p.hole, p.pin, ("back", "back")) for p in back.located.pins]
    own = make_setups(left.facts._replace(used=UsedHoles(holes)))[0].findings
    for found in (own, space_clashes([[left], [back]])):
        assert [each.code for each in found if each.code == "pin-under-jig"] == 2 * meets * [
            "pin-under-jig"
        ]
    assert may_lie(left, standing_of(back)) == may_lie(back, standing_of(left)) == (not meets)
    two = [proposal(s.facts, s.facts.station, locate(s.facts), None) for s in (left, same)]
    assert np.isneginf(pair_table(left.facts, two)[0, 1]) == meets


def test_a_pin_stands_on_the_slat_around_it() -> None:
    """A stop on a slat 2 mm above the one below its jig is 2 mm higher for check and sheet."""
    slats = (
        "      - {name: west, from: [100, 50], to: [210, 450], surface: -118}\n"
        "      - {name: east, from: [210, 50], to: [1400, 450], surface: -120}\n"
    )
    text = BASE.replace("    surface: -120\n", f"    surface: -120\n    slats:\n{slats}")
    (setup,) = make_setups(facts(world(text.replace("height: 22", "height: 57"))))
    seen = surroundings(setup, setup, [], 8.0, 0.1).obstacles
    tops = {each.name: each.top_mm + setup.heights.zero_mm for each in seen if "pin" in each.name}
    assert tops == pytest.approx({"pin D2": 57, "pin G2": 57, "pin C4": 59}, abs=SAME_MM)
    assert highest_of(setup) == pytest.approx(59, abs=SAME_MM)


def test_a_copy_forgets_what_was_worked_out() -> None:
    """A jig with other solids sticks out otherwise, whatever was asked of the one before."""
    jig = facts(world(BENCH)).holder
    assert len(jig.body) == 2
    assert len(jig.model_copy(update={"solids": ()}).body) == 1
    assert jig.model_copy(update={"footprint": (600.0, 280.0)}).outline[2] == (600.0, 280.0)


def test_run_tells_of_stock_that_sticks_out() -> None:
    """A board that hangs 60 mm over its jig, 15 mm into the neighbour's, is told; check sees it."""
    text = CLOSE.replace(
        "    nests: [{name: a, zero: [25, 20], stock: {size: [410, 240, 20]}}]",
        "    nests: [{name: a, zero: [25, 20], stock: {size: [490, 30, 20]}}]",
    ).replace("to: [520, 130], top: 61", "to: [450, 130], top: 61")  # fmt: skip
    stations = stations_of(world(text))
    (found,) = space_clashes([stations["left"], stations["close"]])
    assert found.text == (
        "stations left and close: the stock of panel-tray and panel-tray overlap by 15.0 mm"
    )
    around = surroundings(*[stations["close"][0]] * 2, stations["left"], 8.0, 0.1).obstacles
    (stock,) = (each for each in around if each.name == "the stock of station left")
    (mine,) = (each for each in standing_of(stations["left"][0]) if each.kind == "stock")
    assert same(on_bed(stations["close"][0], stock)[0], Polygon(mine.outline))


def test_pins_too_near_each_other_are_told() -> None:
    """A pin of 20 mm in a hole 15 mm beside another station's pin cannot stand there."""
    mine = stations_of(world(BENCH))["right"][0]
    moved = mine.located.pins[1]._replace(hole="X1", at_mm=(1100.0, 85.0))
    pins = (mine.located.pins[0], moved, mine.located.pins[2])
    theirs = mine._replace(located=mine.located._replace(pins=pins))
    codes = {each.code: each for each in space_clashes([[mine], [theirs]])}
    assert codes["pins-collide"].text.endswith("pins in L2 and X1 overlap by 5.0 mm")


def proposed(found: Facts, standing: list[Standing], empty: list[str]) -> dict[str, PlaceProposal]:
    """The places found, by corner, quadrant and pins."""
    places = find_places(found, standing, empty=empty, turns=(0,)).proposals
    return {f"{p.where} {p.located.toward} {p.holes}": p for p in places}


def test_run_and_place_agree(bench: dict[str, list[Setup]]) -> None:
    """Beside `left`, place proposes those ways of an empty bed that run finds nothing against.

    But for the holes at inside corners, which run leaves alone.
    """
    left = bench["left"][0]
    found = left.facts._replace(
        station=left.facts.station.model_copy(update={"name": "draft", "clamps": ()}),
        bed=left.facts.bed.model_copy(update={"solids": ()}),
    )
    there = standing_of(left)
    beside = proposed(found, there, ["C2"])
    told = 0
    ways = list(proposed(found, [], []).items())
    for key, each in ways[:: 1 if thinned(12) == 12 else 3]:
        draft = make_setups(found._replace(station=each.station))
        clashes = [f for f in space_clashes([[left], draft]) if f.code != "outside-bed"]
        corners = "C2" in each.holes or each.where in {p.hole for p in left.located.pins}
        assert (key in beside) == (not clashes and not corners), key
        told += bool(clashes)
    assert told > 10 and len(beside) > 10


def test_first_of_each_is_the_first(bench: dict[str, list[Setup]]) -> None:
    """Of setups in any order one stays for each station, the first."""
    for order in itertools.permutations(bench):
        setups = [setup for name in order for setup in bench[name]]
        assert [each.facts.station.name for each in first_of_each(bed_of(bench), setups)] == [
            *order
        ]
