"""The bed map as DXF, read back by ezdxf, a general-purpose library for that format."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from checking import WORLD, demo_facts, demo_setup
from conftest import Run
from ezdxf.document import Drawing

from pincorner.documents.beds import Bed
from pincorner.render.drawing import dxf as map_dxf
from pincorner.render.drawing.dxf import render_map_dxf, render_station_dxf
from pincorner.setups.transform import make_setups, offset_rows
from pincorner.work import papers

WRITTEN_MM = 1e-9
"""DXF holds doubles with 16 digits; places here are some 1000 mm."""
MILLIMETRES = 4
"""$INSUNITS (DXF reference, header section; the number is from memory)."""

STATIONS = ("left", "right", "end-bars", "roof")


@pytest.fixture(scope="module")
def drawing() -> Drawing:
    """The map of the demo's bed with four of its stations, read back."""
    bed = WORLD["bed", "long-bench"]
    assert isinstance(bed, Bed)
    rows = [row for name in STATIONS for row in offset_rows(demo_facts(name))]
    return ezdxf.read(io.StringIO(render_map_dxf(bed, rows)))


def test_the_drawing_is_well_formed_and_in_mm(drawing: Drawing) -> None:
    """The library finds nothing to mend; the unit is stated, and it is mm."""
    audit = drawing.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    assert drawing.header["$INSUNITS"] == MILLIMETRES


def test_everything_lies_on_a_layer_of_its_kind(drawing: Drawing) -> None:
    """Each layer has something on it, but for slats, which the bed lacks, and findings."""
    used = {entity.dxf.layer for entity in drawing.modelspace()}
    assert used == set(map_dxf.LAYERS) - {map_dxf.SLATS, map_dxf.FINDINGS}
    assert set(map_dxf.LAYER_OF.values()) == set(map_dxf.LAYERS)


def test_holes_are_circles_in_their_places(drawing: Drawing) -> None:
    """135 holes of the grid, 100 mm apart and 20.02 mm wide; the missing one on its own layer."""
    bed = WORLD["bed", "long-bench"]
    assert isinstance(bed, Bed)
    for layer, usable in ((map_dxf.HOLES, True), (map_dxf.UNUSABLE, False)):
        circles = drawing.modelspace().query(f"CIRCLE[layer=='{layer}']")
        found = sorted((each.dxf.center.x, each.dxf.center.y) for each in circles)
        assert found == sorted(place.at_mm for place in bed.holes() if place.usable == usable)
        assert {2 * each.dxf.radius for each in circles} == {20.02}


@pytest.mark.parametrize("name", STATIONS)
def test_jigs_and_stock_lie_where_the_setup_says(drawing: Drawing, name: str) -> None:
    """The outlines have the corners of the station's own."""
    setup = demo_setup(name)
    for layer, outline in (
        (map_dxf.JIGS, setup.footprint_in_bed()),
        (map_dxf.STOCK, setup.stock_in_bed()),
    ):
        lines = drawing.modelspace().query(f"LWPOLYLINE[layer=='{layer}']")
        drawn = [[place for x, y, *_ in each.get_points() for place in (x, y)] for each in lines]
        corners = [place for corner in outline for place in corner]
        assert corners in [pytest.approx(each, abs=WRITTEN_MM) for each in drawn]
        assert all(each.closed for each in lines)


def test_zeros_have_axes_and_names_with_fingerprints(drawing: Drawing) -> None:
    """At each zero stand two strokes at a right angle and the setup's name and fingerprint."""
    space = drawing.modelspace()
    texts = {each.dxf.text for each in space.query("TEXT")}
    for name in STATIONS:
        setup = demo_setup(name)
        assert f"{setup.name} {setup.work_offset} {setup.fingerprint}" in texts
        at = setup.zero_in_bed
        strokes = [
            each.dxf.end - each.dxf.start
            for each in space.query(f"LINE[layer=='{map_dxf.ZEROS}']")
            if (each.dxf.start.x, each.dxf.start.y) == pytest.approx(at, abs=WRITTEN_MM)
        ]
        first, second = strokes
        assert first.dot(second) == pytest.approx(0, abs=WRITTEN_MM)
        assert first.cross(second).z > 0
        assert first.angle_deg == pytest.approx(setup.program_in_bed.angle_deg, abs=WRITTEN_MM)


def test_the_command_writes_and_records_it(shop: Path, run: Run) -> None:
    """The file is there, and the registry knows the paper of each nest."""
    assert run("map", "long-bench", "-o", "new.dxf").out == "new.dxf\n"
    assert ezdxf.readfile("new.dxf").modelspace().query("CIRCLE")
    assert "new.dxf" in run("history", "left").out


def test_without_the_library_the_line_says_what_to_install(
    in_demo: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line names the extra; nothing is written."""
    monkeypatch.setattr(papers, "find_spec", lambda name: None)
    done = run("map", "long-bench", "-o", "none.dxf")
    assert (done.code, done.err.count("\n")) == (2, 1)
    assert "pip install 'pincorner[dxf]'" in done.err


def placed(text: str, layer: str) -> list[list[tuple[float, float]]]:
    """The corners of a layer's outlines."""
    lines = ezdxf.read(io.StringIO(text)).modelspace().query(f"LWPOLYLINE[layer=='{layer}']")
    return [[(x, y) for x, y, *_ in each.get_points()] for each in lines]


def near(*places: tuple[float, float]) -> list[Any]:
    """Places as they must be read back."""
    return [pytest.approx(at, abs=WRITTEN_MM) for at in places]


def test_a_station_lies_in_its_programs_own_coordinates() -> None:
    """`left` by hand from its documents: the stock at 0, 0, the jig's corner at -25, -20.

    Pins stand half a pin off its edges, less the 0.01 mm by which pressed pins lean (half of 20.02
    less 20.00): D2 at 300 - 234.99, 100 - 129.99, and so on.
    """
    setup = demo_setup("left", station={"pins_pressed": True})
    text = render_station_dxf([setup], setup)
    drawn = ezdxf.read(io.StringIO(text))
    assert drawn.audit().errors == []
    [stock], [jig] = placed(text, map_dxf.STOCK), placed(text, map_dxf.JIGS)[:1]
    assert stock == near((0, 0), (410, 0), (410, 240), (0, 240))
    assert jig == near((-25, -20), (435, -20), (435, 260), (-25, 260))
    pins = drawn.modelspace().query(f"CIRCLE[layer=='{map_dxf.PINS}']")
    found = sorted((each.dxf.center.x, each.dxf.center.y) for each in pins)
    assert found == near((-34.99, 170.01), (65.01, -29.99), (365.01, -29.99))


def test_a_turned_station_lies_as_its_program_was_posted() -> None:
    """`right` lies turned by 90 degrees and so was its program: the stock goes to the left of X 0.

    The second nest of `end-bars` has its own zero at 0, 0, the first lies 190 mm left of it.
    """
    setup = demo_setup("right")
    [stock] = placed(render_station_dxf([setup], setup), map_dxf.STOCK)
    assert stock == near((0, 0), (0, 410), (-240, 410), (-240, 0))
    nests = make_setups(demo_facts("end-bars"))
    first, second = placed(render_station_dxf(nests, nests[1]), map_dxf.STOCK)
    assert (first[0], second[0]) == (pytest.approx((-190, 0)), pytest.approx((0, 0)))


def test_the_command_draws_one_station(in_demo: Path, run: Run) -> None:
    """It writes a .dxf, which is no paper; a page, another bed or a nest alone get one line."""
    assert run("map", "long-bench", "--station", "left", "-o", "left.dxf").out == "left.dxf\n"
    assert "left.dxf" not in run("history", "left").out
    for line, told in (
        (("long-bench", "--station", "left", "-o", "left.html"), "FILE.html#left"),
        (("oak", "--station", "left", "-o", "x.dxf"), "is on bed long-bench, not oak"),
        (("long-bench", "--nest", "a", "-o", "x.dxf"), "say with --station"),
        (("long-bench", "--station", "left", "--nest", "z", "-o", "x.dxf"), "nest"),
    ):
        done = run("map", *line)
        assert done.code == 2 and told in done.err, line
        assert not (in_demo / line[-1]).exists()
