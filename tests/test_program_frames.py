"""The frame a program runs in: as the block writes it, while what stands there lies as computed."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from checking import PROGRAMS, check_text, demo_setup, edited, with_code
from shapely import LineString, Point

from pincorner.documents.beds import PoseEntry
from pincorner.program.check.reaches import ToolSize
from pincorner.program.path.frames import frame_of
from pincorner.setups.setup import Setup, bed_in_program, written_in_machine
from pincorner.setups.transform import make_setups

TURNED = {"pose": PoseEntry(x=60.0, y=55.0, angle=0.12)}
ROUNDED_MM = 0.0005  # half of the last printed digit, on each axis
FIGURE_MM = 0.0005  # findings are told to a thousandth


def test_unwritten_angle_stays_out_of_the_frame() -> None:
    """Where the dialect writes no angle, the program's axes are the machine's: case A's zero."""
    setup = demo_setup("left", bed=TURNED)
    written = written_in_machine(setup)
    assert (written.x_mm, written.y_mm, written.angle_rad) == (294.727, 185.492, 0.0)
    assert bed_in_program(setup).angle_deg == pytest.approx(0.12)
    frame = frame_of(setup)
    assert frame.machine_origin_mm[:2] == (-294.727, -185.492)
    assert math.isnan(frame.machine_origin_mm[2])
    assert (frame.code, frame.units, frame.machine_angle_rad) == ("G55", "mm", 0.0)


def test_written_angle_turns_the_frame() -> None:
    """Where the dialect writes the angle, the bed lies straight in the program's frame."""
    setup = demo_setup("left", bed=TURNED, dialect={"name": "rs274-turned"})
    assert frame_of(setup).machine_angle_rad == pytest.approx(-math.radians(0.12))
    bed = bed_in_program(setup)
    assert bed.angle_rad == pytest.approx(0.0, abs=1e-12)
    assert (bed.x_mm, bed.y_mm) == pytest.approx((-235.0, -130.0), abs=math.sqrt(2) * ROUNDED_MM)


def test_codes_of_the_other_nests_are_known() -> None:
    """Nest b's origin lies beside nest a's, at the same height, and the other way round."""
    setups = make_setups(demo_setup("end-bars").facts)
    first, second = (frame_of(setup, setups).origins_mm for setup in setups)
    assert first == {"G57": (0.0, 0.0, 0.0), "G58": (190.0, 0.0, 0.0)}
    assert second == {"G57": (-190.0, 0.0, 0.0), "G58": (0.0, 0.0, 0.0)}


def test_a_machine_that_does_not_home_has_no_origin() -> None:
    """Without homing the machine's zero is not known in the frame, so the travel is not checked."""
    frame = frame_of(demo_setup("left", machine={"homes": False}))
    assert all(math.isnan(value) for value in frame.machine_origin_mm)


def gap_in_machine(setup: Setup, hole: str, start: tuple[float, float], end: tuple[float, float],
                   radius_mm: float) -> float:  # fmt: skip
    """From a cut to a pin, reckoned in machine coordinates with Shapely."""
    pin = next(pin for pin in setup.located.pins if pin.hole == hole)
    at = setup.bed_in_machine.point(pin.at_mm)
    written = written_in_machine(setup)
    path = LineString([written.point(start), written.point(end)])
    return float(path.distance(Point(at))) - pin.radius_mm - radius_mm


@pytest.mark.parametrize("dialect", ["rs274", "rs274-turned"])
def test_pins_lie_where_the_turned_bed_has_them(tmp_path: Path, dialect: str) -> None:
    """On a bed turned by 0.12 degrees the figure is that of machine coordinates."""
    setup = demo_setup("left", bed=TURNED, dialect={"name": dialect})
    way = ("G0 Z30", "G0 X353.6 Y-60", "G1 Z-17 F900", "G1 Y0", "G0 Z30", "G0 X205 Y167.5")
    text, line = edited("hand-hold.nc", "G1 Z0 F400", (*way, "G1 Z0 F400"))
    (found,) = with_code(check_text(tmp_path, text, setup), "hits-pin")
    want = gap_in_machine(setup, "G2", (353.6, -60.0), (353.6, 0.0), 3.0)
    assert found.line == line + 3
    assert found.figure_mm == pytest.approx(-want, abs=1e-9)
    assert f"{-want:.3f} mm into pin G2" in found.text
    apart = {"rs274": abs(-want - 1.6) > 0.05, "rs274-turned": abs(-want - 1.6) < 2 * FIGURE_MM}
    assert apart[dialect]


def test_a_program_posted_turned(tmp_path: Path) -> None:
    """Turned where that is asked for, its cuts lie over the stock; else the cause is told once."""
    setup = demo_setup("right")
    text = (PROGRAMS / "hand-hold-turned.nc").read_text(encoding="utf-8")
    assert check_text(tmp_path, text, setup).verdict == "nothing-found"
    straight = (PROGRAMS / "hand-hold.nc").read_text(encoding="utf-8").replace("G55", "G56")
    found = check_text(tmp_path, straight, setup).findings
    over = [each for each in found if each.code in ("outside-stock", "outside-bed")]
    assert {each.code for each in over} >= {"outside-stock"}
    cause = "; likely cause: it was not posted turned by 90 degrees counter-clockwise"
    assert len(over) > 2 and [cause in each.text for each in over] == [True] + [False] * (
        len(over) - 1
    )
    beyond = text.replace("M30", "G1 X0 Y-400 Z-1 F900\nM30")
    report = check_text(tmp_path, beyond, setup)
    assert with_code(report, "outside-stock"), "turned as it has to be, and beyond for itself"
    plain = check_text(tmp_path, straight.replace("G56", "G55") + "X600\n", demo_setup("left"))
    assert not any("likely cause" in each.text for each in report.findings)
    assert not any("likely cause" in each.text for each in plain.findings)


def test_a_cut_along_the_edges_of_a_stock_that_lies_askew(tmp_path: Path) -> None:
    """Where no run-off is given, what is not written of the angle is no finding of its own."""
    bed = {"pose": PoseEntry(x=60.0, y=55.0, angle=0.01)}
    jig = demo_setup("left").facts.holder
    nests = tuple(each.model_copy(update={"run_off": None}) for each in jig.nests)
    setup = demo_setup("left", bed=bed, jig={"nests": nests})
    (left, front), (right, back) = (setup.nest.stock.outline[at] for at in (0, 2))
    assert 0 < setup.skew_mm < 0.1
    for more, found in ((0.0, False), (0.2, True)):
        way = f"G1 X{left - 3 - more} Y{front - 3}", f"G1 Y{back + 3}", f"G1 X{right + 3}"
        cut = ("G0 Z30", f"G0 X{left - 3} Y{front - 3}", "G1 Z-1 F900", *way, "G0 Z30")
        text, _ = edited("hand-hold.nc", "G1 Z0 F400", (*cut, "G0 X205 Y167.5", "G1 Z0 F400"))
        report = check_text(tmp_path, text, setup, {1: ToolSize(6.0, None), 2: ToolSize(6.0, None)})
        assert bool(with_code(report, "outside-stock")) == found, report.findings
