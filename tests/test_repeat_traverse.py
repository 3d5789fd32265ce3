"""The way over between stations: it sees what check sees standing, as high."""

from __future__ import annotations

from pathlib import Path

import pytest
import worlds
from conftest import Run

from pincorner.errors import Refused
from pincorner.geometry.outline import bounds
from pincorner.program.edit.refusals import refuse_stations
from pincorner.program.edit.stretches import Ends
from pincorner.program.edit.traverse import Visit, check_traverses
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups

SAME_MM = 1e-9
SAME_AREA_MM2 = 1e-5  # of outlines as large as a bed, whose corners are known to SAME_MM
STANDS = frozenset({"hits-pin", "hits-clamp", "hits-solid", "hits-jig", "hits-stock"})

ON_SHEETS = worlds.BASE.replace(
    "    work_offsets: {a: G55}\n",
    "    work_offsets: {a: G55}\n"
    "    under: 30\n"
    "    clamps: [{name: c1, from: [215, -50], to: [245, 10], top: 35}]\n"
    "  - {name: right, bed: long-bench, jig: panel-tray, pin: tall, pins: {edge: [J2, L2],"
    " stop: I4}, under: 3, work_offsets: {a: G56}}\n"
    "  - {name: bare, bed: long-bench, stock: [300, 200, 18], pin: peg-20,"
    " pins: {edge: [D6, F6], stop: C7}, under: 6, work_offsets: {a: G57}}\n",
).replace(
    "pins:\n",
    "pins:\n  - {name: tall, shank: 20.00, body: 26, height: 75, body_tolerance: 0.01}\n"
    "  - {name: mid, shank: 20.00, body: 20, height: 42, body_tolerance: 0.01}\n",
    1,
).replace(
    "    pin: peg-20\n", "    pin: mid\n"
).replace(
    "    nests: [{name: a,",
    "    solids:\n"
    "      - {name: toggle, from: [300, 262], to: [340, 280], top: 55}\n"
    "      - {name: arm, from: [440, 100], to: [520, 130], top: 61}\n"
    "    nests: [{name: a,",
)  # fmt: skip
TWO_NESTS = worlds.BASE.replace(
    "nests: [{name: a, zero: [25, 20], stock: {size: [410, 240, 20]}}]",
    "nests: [{name: a, zero: [25, 20], stock: {size: [180, 240, 82]}},"
    " {name: b, zero: [435, 20], angle: 90, stock: {size: [200, 180, 4]}}]",
).replace(
    "work_offsets: {a: G55}\n",
    "work_offsets: {a: G55, b: G54}\n"
    "  - {name: right, bed: long-bench, jig: panel-tray, pin: peg-20, pins: {edge: [J2, L2],"
    " stop: I4}, work_offsets: {a: G56}}\n",
)  # fmt: skip
ON_SLATS = ON_SHEETS.replace(
    "    surface: -120\n",
    "    surface: -120\n"
    "    solids: [{name: setter, from: [1400, 800], to: [1440, 840], top: 60}]\n"
    "    slats:\n"
    "      - {name: high, from: [790, 50], to: [1450, 560], surface: -104.5}\n"
    "      - {name: low, from: [100, 450], to: [620, 850], surface: -131.25}\n",
)  # fmt: skip
IN_INCHES = """
format: 1
units: in
machines:
  - {name: router, dialect: rs274, units: in, travel: {x: [0, 60], y: [0, 30], z: [-8, 0]}}
beds:
  - name: oak
    machine: router
    grid: {columns: 13, rows: 6, pitch: [4, 4], hole: 0.751, hole_position: 0.003, depth: 0.75}
    pose: {x: 2.5, y: 2.25}
    surface: -4.5
pins: [{name: dowel, shank: 3/4 in, body: 3/4 in, height: 1.6}]
jigs:
  - name: drawer tray
    footprint: [14, 10]
    seat: 0.75
    height: 1.25
    nests: [{name: a, zero: [1, 0.75], stock: {size: [12, 8, 0.75]}, run_off: 0.3}]
    solids: [{name: stop block, from: [-1.5, 3], to: [1, 4], top: 2.5}]
stations:
  - {name: left, bed: oak, jig: drawer tray, pin: dowel, pins: {edge: [B2, D2], stop: A4},
     work_offsets: {a: G54}, under: 0.125}
  - {name: right, bed: oak, jig: drawer tray, pin: dowel, pins: {edge: [G2, I2], stop: F4},
     work_offsets: {a: G55}}
"""
WORLDS = {
    "sheets": ON_SHEETS, "two nests": TWO_NESTS, "slats": ON_SLATS, "inches": IN_INCHES,
}  # fmt: skip


def stations_of(text: str) -> dict[str, list[Setup]]:
    """The setups of all stations of a world, by name."""
    found = worlds.world(text)
    names = [document.name for (kind, _), document in found.items() if kind == "station"]
    return {name: make_setups(worlds.facts(found, name)) for name in names}


def visits(text: str, first: str, second: str) -> tuple[list[Visit], list[Setup]]:
    """Two sections that begin and end at their zeros, and the setups of the other stations."""
    stations = stations_of(text)
    ends = Ends((0.0, 0.0), ((0.0, 0.0),))
    others = [s for name, s_all in stations.items() if name not in (first, second) for s in s_all]
    return [Visit(stations[name][0], ends) for name in (first, second)], others


@pytest.mark.parametrize(
    ("world", "first", "second", "highest", "name"),
    [
        # 120 below machine zero, 30 of sheet, 61 of arm
        ("sheets", "left", "right", -120 + 30 + 61, "arm of station left"),
        ("two nests", "left", "right", -120 + 18 + 82, "the stock of nest a of station left"),
        # the slat of `right` lies at -104.5: sheet 3, arm 61; the pin of 75 stands on the slat
        ("slats", "left", "right", max(-104.5 + 75, -120 + 30 + 61), "arm of station left"),
        ("inches", "left", "right", 25.4 * (-4.5 + 0.125 + 2.5), "stop block of station left"),
    ],
)
def test_the_highest_thing_decides(
    world: str, first: str, second: str, highest: float, name: str
) -> None:
    """A way over just above the highest thing passes; at its top it is refused, with its name."""
    sections, others = visits(WORLDS[world], first, second)
    check_traverses(sections, others, highest + 0.001, 0.0)
    with pytest.raises(Refused, match="stands") as refused:
        check_traverses(sections, others, highest - 0.001, 0.0)
    unit = "in" if world == "inches" else "mm"
    assert f" {unit} above the bed" in str(refused.value)
    if world != "slats":
        assert name in str(refused.value)


@pytest.mark.parametrize("nose", [64, None])
@pytest.mark.parametrize("beside", [-0.01, 0.01])
def test_the_nose_is_as_wide_as_it_is(nose: int | None, beside: float) -> None:
    """A thing beside the way is in it as far as half the nose reaches, whatever the run-off; where
    the nose is not given, the run-off alone counts, and that is told."""
    given = "" if nose is None else f"    nose: {nose}\n"
    text = ON_SHEETS.replace("    repeatability: 0.02\n", f"    repeatability: 0.02\n{given}")
    text = text.replace("zero: [25, 20],", "zero: [25, 20], run_off: 8,")
    sections, others = visits(text, "left", "right")
    stocks = [corner for visit in sections for corner in visit.setup.stock_in_bed()]
    edge = min(y for _, y in stocks) - (8 if nose is None else nose / 2) + beside
    found = text.replace(
        "    surface: -120\n",
        "    surface: -120\n    solids: [{name: post, from: [700, -40], "
        f"to: [720, {edge}], top: 99}}]\n",
    )
    sections, others = visits(found, "left", "right")
    if beside < 0:
        notes = check_traverses(sections, others, -120 + 98.9, 6.0)
        assert any("how wide the spindle nose is" in each for each in notes) == (nose is None)
    else:
        with pytest.raises(Refused, match="stands post"):
            check_traverses(sections, others, -120 + 98.9, 6.0)


def test_no_way_leads_to_another_bed() -> None:
    """Two beds of one machine are not repeated over: what stands on the second is not looked at."""
    text = worlds.BASE.replace(
        "pins:\n",
        "  - name: short-bench\n    machine: gantry-1\n    pose: {x: 800, y: 55}\n"
        "    grid: {columns: 7, rows: 9, pitch: [100, 100], hole: 20.02}\n    surface: -120\n"
        "pins:\n",
        1,
    ).replace(
        "    bed: long-bench\n    jig: panel-tray\n",
        "    bed: short-bench\n    jig: panel-tray\n",
        1,
    ).replace("name: left", "name: far") + worlds.BASE.partition("stations:\n")[2]  # fmt: skip
    stations = stations_of(text)
    both = [stations[name][0] for name in ("left", "far")]
    for setups in (both, both[::-1]):
        with pytest.raises(Refused, match="repeat the program on each bed by itself"):
            refuse_stations(setups, -5.0)
    refuse_stations(both[:1], -5.0)


def test_a_pin_alone_is_in_the_way() -> None:
    """A pin higher than jig and stock refuses the way over, with its hole."""
    text = ON_SHEETS.replace("height: 75", "height: 95")
    sections, others = visits(text, "left", "right")
    with pytest.raises(Refused, match=r"stands pin [A-Z]\d of station right, 95\.000 mm high"):
        check_traverses(sections, others, -120 + 94.9, 0.0)
    check_traverses(sections, others, -120 + 95.1, 0.0)


def test_a_pin_reaches_into_the_way() -> None:
    """A pin whose middle lies beside the way over is as thick as it is."""
    text = ON_SHEETS.replace("height: 22", "height: 95")
    bare, _ = visits(text, "bare", "bare")
    check_traverses(bare, [], -120 + 94.9, -0.1)  # the stock lies nearer by what pins give way
    with pytest.raises(Refused, match="stands pin"):
        check_traverses(bare, [], -120 + 94.9, 5.0)


def test_a_slat_between_is_in_the_way() -> None:
    """A surface higher than those of both stations is not crossed below itself."""
    pad = "slats: [{name: pad, from: [690, 200], to: [750, 260], surface: -25}]"
    text = ON_SHEETS.replace("    surface: -120\n", f"    surface: -120\n    {pad}\n")
    sections, others = visits(text, "left", "right")
    told = "bed surface between left and right, which lies at machine Z -25 mm"
    with pytest.raises(Refused, match=told):
        check_traverses(sections, others, -25.0, 0.0)
    check_traverses(sections, others, -24.9, 0.0)


def test_where_a_program_ends_is_on_the_way() -> None:
    """The way over begins where the program left the axes, not only over its stock."""
    text = worlds.BASE.replace(
        "work_offsets: {a: G55}\n",
        "work_offsets: {a: G55}\n"
        "  - {name: right, bed: long-bench, jig: panel-tray, pin: peg-20, pins: {edge: [J2, L2],"
        " stop: I4}, work_offsets: {a: G56}}\n",
    ).replace(
        "    surface: -120\n",
        "    surface: -120\n"
        "    solids: [{name: post, from: [20, 600], to: [40, 620], top: 90}]\n",
    )  # fmt: skip
    sections, others = visits(text, "left", "right")
    check_traverses(sections, others, -40, 0.0)
    parked = sections[0]._replace(ends=Ends((0.0, 0.0), ((0.0, 0.0), (-300.0, 500.0))))
    with pytest.raises(Refused, match="post on the bed, 90"):
        check_traverses([parked, sections[1]], others, -40, 0.0)
    lost = sections[0]._replace(ends=Ends((0.0, 0.0), (None,)))
    notes = check_traverses([lost, sections[1]], others, -40, 0.0)
    assert any("where it begins" in note for note in notes)


def test_the_box_is_upright_in_the_machine() -> None:
    """On a bed that lies turned, rapids keep to boxes along the machine's axes."""
    text = worlds.BASE.replace("angle: 0}", "angle: 45}").replace(
        "work_offsets: {a: G55}\n",
        "work_offsets: {a: G55}\n"
        "  - {name: right, bed: long-bench, jig: panel-tray, pin: peg-20, pins: {edge: [J2, L2],"
        " stop: I4}, work_offsets: {a: G56}}\n",
    )  # fmt: skip
    sections, _ = visits(text, "left", "right")
    left, right = (visit.setup for visit in sections)
    box = bounds(left.bed_in_machine.points((*left.stock_in_bed(), *right.stock_in_bed())))
    x, y = left.bed_in_machine.inverse().point((box.left + 30, box.back - 30))
    solid = f"    solids: [{{name: post, from: [{x}, {y}], to: [{x + 5}, {y + 5}], top: 90}}]\n"
    text = text.replace("    surface: -120\n", f"    surface: -120\n{solid}")
    sections, others = visits(text, "left", "right")
    with pytest.raises(Refused, match="post on the bed"):
        check_traverses(sections, others, -40, 0.0)


def test_over_toggles_on_a_thick_sheet(shop: Path, run: Run) -> None:
    """Toggles of 55 mm on a sheet of 30 are 85 mm high: a way over at 78 mm is refused."""
    assert run("register", "roof-2", "--bed", "long-bench", "--stock", "230,500,18", "--pin",
               "peg-12", "--corner", "F1", "--toward", "+x+y", "--under", "3", "--z-zero",
               "surface", "--program", "roof-groove", "--work-offset", "a=G59.3"
               ).code == 0  # fmt: skip
    pin = "format: 1\nunits: mm\npins: [{name: mid, shank: 20, body: 20, height: 42}]\n"
    (shop / "pin.yaml").write_text(pin, encoding="utf-8")
    assert run("load", "pin.yaml").code == 0
    assert run("register", "left", "--replace", "--bed", "long-bench", "--jig", "panel-tray",
               "--pin", "mid", "--pins", "D2,G2,C4", "--under", "30", "--work-offset", "a=G55",
               "--program", "hand-hold").code == 0  # fmt: skip
    ran = run(
        "repeat", "roof-groove", "--stations", "roof,roof-2", "--retract", "-42", "-o", "c.nc"
    )
    assert ran.code == 2 and not (shop / "c.nc").exists()
    assert "--retract -42 mm is 78.000 mm above the bed surface" in ran.err
    assert "stands toggle-" in ran.err and "of station left, 85.000 mm high" in ran.err
    ran = run(
        "repeat", "roof-groove", "--stations", "roof,roof-2", "--retract", "-34", "-o", "c.nc"
    )
    assert ran.code == 0, ran.err


PAIR = """
format: 1
beds:
  - name: second-bench
    machine: gantry-1
    grid: {columns: 15, rows: 9, pitch: [100, 100], hole: 20.02, hole_position: 0.04, depth: 20}
    pose: {x: 60, y: 55, angle: 0}
    surface: -120
jigs:
  - name: pair
    footprint: [440, 200]
    seat: 18
    height: 20
    nests:
      - {name: a, zero: [20, 20], stock: {size: [160, 160, 82]}, run_off: 8}
      - {name: b, zero: [235, 20], stock: {size: [160, 160, 4]}, run_off: 8}
stations:
  - {name: one, bed: second-bench, jig: pair, pin: peg-20, pins: {edge: [D2, F2], stop: C3},
     work_offsets: {a: G55}}
  - {name: two, bed: second-bench, jig: pair, pin: peg-20, pins: {edge: [J2, L2], stop: I3},
     work_offsets: {a: G58}}
"""


def test_over_the_higher_of_two_stocks(shop: Path, run: Run) -> None:
    """Of a jig with stock up to 100 mm in one nest and 22 in the last, the 100 count."""
    (shop / "pair.yaml").write_text(PAIR, encoding="utf-8")
    assert run("load", "pair.yaml").code == 0
    program = "G21 G17 G90 G40 G80\nG55\nT1 M6\nM3 S9000\nG0 Z9\nG0 X10 Y10\nG0 Z9\nM30\n"
    (shop / "p.nc").write_text(program, encoding="utf-8", newline="\n")
    for retract, code in (("-58", 2), ("-21", 2), ("-19", 0)):
        ran = run("repeat", "p.nc", "--stations", "one,two", "--retract", retract, "-o", "c.nc",
                  "--accept", "no-cut", "--nest", "a")  # fmt: skip
        assert ran.code == code, ran.err
        assert (shop / "c.nc").exists() == (code == 0)
        if code:
            assert "the stock of nest a of station one, 100.000 mm high" in ran.err
