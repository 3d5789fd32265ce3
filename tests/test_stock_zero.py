"""Bare stock whose program zero is not at its corner: `stock_zero`, wherever a zero is used.

The figures of the second reckoning are complex numbers: a quarter turn is a product with i.
"""

from __future__ import annotations

import cmath
import io
import math
import shlex
from itertools import product
from pathlib import Path
from typing import Any

import ezdxf
import pytest
import yaml
from checking import check_text
from conftest import Run
from old_registries import bodies, run_sql
from test_sheet import Page
from worlds import BASE, facts, make_registry, setups, world

from pincorner import Shop
from pincorner.documents.jigs import Jig
from pincorner.documents.reading import read_text
from pincorner.documents.stations import EdgePins, MeasuredZero, Station
from pincorner.program.check.reaches import ToolSize
from pincorner.registry.versions import SCHEMA_VERSION
from pincorner.render.drawing.close_up import _window
from pincorner.render.drawing.dxf import render_map_dxf, render_station_dxf
from pincorner.setups.contents import contents, differences
from pincorner.setups.setup import OffsetRow, Setup
from pincorner.setups.transform import make_setups
from pincorner.standing import standing_of

SIZE = (410.0, 240.0, 20.0)
BARE = """
  - name: bare
    bed: long-bench
    stock: [410, 240, 20]
    pin: peg-20
    pins: {edge: [D2, G2], stop: C4}
    pins_pressed: false
    work_offsets: {a: G56}
"""
MIDDLE = BARE.replace("20]", "20]\n    stock_zero: [205, 120]")
TEXT = BASE + MIDDLE


def bare(text: str = TEXT, **changes: Any) -> Setup:
    """The setup of the station on bare stock; `changes` update its keys."""
    return setups(text, "bare", **changes)[0]


# ---- where it is ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("zero", "x", "y"),
    [((0, 0), "270.000", "165.000"), ((205, 120), "475.000", "285.000"),
     ((410, 240), "680.000", "405.000"), ((-5, 250.5), "265.000", "415.500")],
)  # fmt: skip
def test_worked_by_hand(zero: tuple[float, float], x: str, y: str) -> None:
    """A1 is at 60, 55, C2 200, 100 from there, pins are 20 thick: the stock's corner is at
    60 + 200 + 10 = 270, 55 + 100 + 10 = 165, and the zero so far from there, beside it as well."""
    setup = bare(stock_zero=zero)
    assert (setup.printed.own.x, setup.printed.own.y) == (x, y)
    corner = setup.bed_in_machine.point(setup.stock_in_bed()[0])
    assert corner == pytest.approx((270.0, 165.0), abs=1e-9), "the stock stays where it is"


ZEROS = [(0.0, 0.0), (205.0, 120.0), (410.0, 0.0), (37.25, 201.5), (-12.0, 260.0)]


@pytest.mark.parametrize("bed_deg", [0.0, 0.12, -31.0])
@pytest.mark.parametrize("gives_mm", [0.0, 0.010])
@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("toward", ["+x+y", "-x+y", "+x-y", "-x-y"])
def test_every_turn_and_quadrant(bed_deg: float, gives_mm: float, turn: int, toward: str) -> None:
    """The zero turns with the stock, in every quadrant, beside pins that give way or do not."""
    sx, sy = (1 if sign == "+" else -1 for sign in toward[::2])
    column = "ABCDEFGHIJKLMNO"
    pins = EdgePins(
        edge=(f"{column[7 + sx]}5", f"{column[7 + 2 * sx]}5"), stop=f"H{5 + sy}"
    )  # the corner is H5, 700, 400 from A1
    text = TEXT.replace("x: 60, y: 55, angle: 0", f"x: 60, y: 55, angle: {bed_deg}")
    for zero in ZEROS:
        pressed = bool(gives_mm)
        setup = bare(text, pins=pins, turn=turn, stock_zero=zero, pins_pressed=pressed)
        quarter = 1j ** (turn // 90)
        corners = [quarter * (x + 1j * y) for x, y in product((0, SIZE[0]), (0, SIZE[1]))]
        ends = [f(way) for f, way in (
            (min if sx > 0 else max, [each.real for each in corners]),
            (min if sy > 0 else max, [each.imag for each in corners]),
        )]  # fmt: skip
        inside = 700 + 400j + (10 - gives_mm) * (sx + 1j * sy)
        on_bed = inside + quarter * complex(*zero) - complex(*ends)
        in_machine = 60 + 55j + cmath.exp(1j * math.radians(bed_deg)) * on_bed
        found = setup.zero_in_machine
        assert (found.x_mm, found.y_mm) == pytest.approx(
            (in_machine.real, in_machine.imag), abs=1e-6
        )
        assert math.remainder(setup.angle_deg - bed_deg - turn, 360) == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_as_measured(turn: int) -> None:
    """Of a zero that was measured the stock follows backwards, whichever of its points that is."""
    at = MeasuredZero(x=500, y=300)
    keys: dict[str, Any] = {"pin": "", "pins": None, "measured": at, "turn": turn}
    setup = bare(**keys)
    zero = setup.zero_in_machine
    assert (zero.x_mm, zero.y_mm) == (500, 300)
    corners = [setup.bed_in_machine.point(each) for each in setup.stock_in_bed()]
    middle = [sum(way) / 4 for way in zip(*corners, strict=True)]
    assert middle == pytest.approx([500, 300], abs=1e-9)


@pytest.mark.parametrize("zero", ZEROS)
def test_the_same_as_a_jig_of_that_shape(zero: tuple[float, float]) -> None:
    """In figures it is a jig as large as the stock whose nest has that zero: place, how well it is
    known everywhere, heights, and what the cutter must keep away from but for the jig itself."""
    x, y = zero
    jig = Jig.model_validate({
        "name": "board", "footprint": SIZE[:2], "height": SIZE[2],
        "nests": [{"name": "a", "zero": zero, "stock": {"from": (-x, -y), "size": SIZE}}],
    })  # fmt: skip
    mine = bare(stock_zero=zero)
    of_jig = mine.facts.station.model_copy(update={"stock": None, "jig": "board"})
    (theirs,) = make_setups(mine.facts._replace(holder=jig, station=of_jig))
    assert mine.budget.u95_worst_mm == pytest.approx(theirs.budget.u95_worst_mm, abs=1e-12)
    assert mine.zero_in_machine == theirs.zero_in_machine
    assert mine.budget.u95_zero_mm == pytest.approx(theirs.budget.u95_zero_mm, abs=1e-12)
    assert (mine.skew_mm, mine.heights) == (theirs.skew_mm, theirs.heights)
    assert mine.stock_in_bed() == theirs.stock_in_bed()
    kinds = [[each.kind for each in standing_of(of)] for of in (mine, theirs)]
    assert kinds[1].count("jig") == 1 and "jig" not in kinds[0]


def test_skew_counts_from_the_zero() -> None:
    """What an unwritten angle makes over the stock: 0.12 degrees over the farthest corner, twice as
    far from a corner as from the middle (DEVELOPERS.md, What is reckoned)."""
    text = TEXT.replace("x: 60, y: 55, angle: 0", "x: 60, y: 55, angle: 0.12")
    half = math.hypot(205, 120)
    far = 2 * math.sin(math.radians(0.06))
    assert bare(text).skew_mm == pytest.approx(far * half, abs=1e-9)
    assert bare(text, stock_zero=(0, 0)).skew_mm == pytest.approx(2 * far * half, abs=1e-9)


# ---- what is refused -----------------------------------------------------------------------------

WRONG = {
    "jig: panel-tray\n    stock_zero: [0, 0]": "stock_zero: it goes with stock; where the zeros of",
    "stock_zero: [1, 2]": "expected jig or, for bare stock, stock: one of the two",
    "stock: [9, 9, 9]\n    stock_zero: [1]": "stock_zero",
    "stock: [9, 9, 9]\n    stock_zero: [1, 2, 3]": "stock_zero",
    "stock: [9, 9, 9]\n    stock_zero: 4": "stock_zero",
    "stock: [9, 9, 9]\n    stock_zero: [1, middle]": "expected a length",
    "stock: [9, 9, 9]\n    stock_zero: [1, .nan]": "expected a finite number",
    "stock: [9, 9, 9]\n    stock_zero: [1, 101 m]": "stock_zero[1]",
    "stock: [9, 9, 9]\n    stock_zero: [1, 100001]": "stock_zero[1]",
    "stock: [9, 9, 9]\n    stock-zero: [1, 2]": "did you mean stock_zero?",
}


@pytest.mark.parametrize("keys", WRONG)
def test_what_is_refused(keys: str) -> None:
    """A zero beside a jig, or with neither jig nor stock, and what is no pair of lengths is refused
    in one line, with its key."""
    text = f"format: 1\nstations:\n  - name: s\n    bed: b\n    {keys}\n    pin: p\n    pins: {{edge: [A1, B1], stop: C1}}\n"  # noqa: E501
    (problem,) = read_text(text, "shop.yaml")[0].problems
    assert WRONG[keys] in f"{problem.path} {problem.text}", problem
    assert problem.line is not None and problem.line >= 3


def test_lengths_of_any_unit() -> None:
    """Fractions and units are read as everywhere, and negative ways."""
    text = TEXT.replace("[205, 120]", '["-3 1/4 in", "3/8in"]')
    station = world(text)["station", "bare"]
    assert isinstance(station, Station) and station.stock_zero == (-82.55, 9.525)


# ---- fingerprints --------------------------------------------------------------------------------


def test_fingerprints() -> None:
    """At its corner, stated or not, it is the setup of before; elsewhere it is another one, even
    where the offset is the same to the last digit; and the difference is told."""
    corner, middle = bare(BASE + BARE), bare()
    assert corner.fingerprint == bare(stock_zero=(0.0, 0.0)).fingerprint == "5229-51EA"
    assert middle.fingerprint != corner.fingerprint
    told = differences(contents(corner), contents(middle))
    assert "nest a of bare stock zero at 0.0, 0.0 to 205.0, 120.0 mm" in told
    assert not [text for text in told if "stock at" in text]  # it is the same place, told once
    measured: dict[str, Any] = {"pin": "", "pins": None, "measured": MeasuredZero(x=500, y=300)}
    one, other = bare(**measured), bare(stock_zero=(205, 120.5), **measured)
    assert one.printed.words == other.printed.words and one.fingerprint != other.fingerprint


# ---- what is made of it --------------------------------------------------------------------------


def test_today_s_thickness_keeps_the_zero() -> None:
    """A piece of another thickness has its zero above the same point."""
    thick = facts(world(TEXT), "bare").with_stock_thickness(25.0)
    (setup,) = make_setups(thick)
    assert setup.zero_in_machine == bare().zero_in_machine
    assert setup.nest.stock.size == (410, 240, 25) and setup.nest.stock.from_ == (-205, -120)


CUT = "G21 G90 G17\nG56\nM6 T1\nS9000 M3\nG0 Z30\nG0 X{0} Y{1}\nG1 Z-5 F400\nG1 X{2} Y{3}\nG0 Z30\nM30\n"  # noqa: E501


def test_check_reads_it_from_there(tmp_path: Path) -> None:
    """What is cut to the stock's edges around its middle leaves it where the zero is its corner."""
    text, tools = CUT.format(-204, -119, 204, 119), {1: ToolSize(2.0)}
    for zero, is_out in (((205.0, 120.0), False), ((0.0, 0.0), True)):
        report = check_text(tmp_path, text, bare(stock_zero=zero), tools)
        assert ("outside-stock" in {each.code for each in report.findings}) == is_out


# ---- commands ------------------------------------------------------------------------------------

WHERE = ("--bed", "long-bench", "--pin", "peg-20", "--pins", "J5,M5,I6")
BOARD = ("--stock", "410,240,20")


def document(run: Run, name: str) -> dict[str, Any]:
    """A station's document, as `show` has it."""
    shown: dict[str, Any] = run("show", name, "--json").json["documents"][0]["document"]
    return shown


def place_of(run: Run, name: str) -> tuple[float, float]:
    """X and Y of a station's offset."""
    (row,) = run("offsets", name, "--json").json["offsets"]
    return row["x_mm"], row["y_mm"]


def test_register(shop: Path, run: Run) -> None:
    """The option says it, alone as well; it stays until the piece becomes another, which is asked
    about, and a jig is refused with it."""
    assert run("register", "board", *WHERE, *BOARD).code == 0
    x, y = place_of(run, "board")
    ran = run("register", "board", "--stock-zero", "205, 12 cm")
    assert ran.code == 2 and ran.err.startswith("--stock-zero: "), ran.err
    ran = run("register", "board", "--stock-zero", "205,4 3/4 in")
    assert ran.code == 0 and "changed: stock_zero" in ran.out
    assert document(run, "board")["stock_zero"] == [205, 120.65]
    assert place_of(run, "board") == pytest.approx((x + 205, y + 120.65), abs=1e-9)
    assert "kept from before: stock_zero" in run("register", "board", "--z-zero", "surface").out
    assert place_of(run, "board") == pytest.approx((x + 205, y + 120.65), abs=1e-9)
    larger = ("register", "board", *WHERE, "--stock", "420,240,20", "--replace")
    ran = run(*larger)
    assert (
        ran.code == 2
        and "would lose what no option states: stock zero, Z zero at surface" in ran.err
    )
    assert run(*larger, "--stock-zero", "210,120", "--yes").code == 0
    assert place_of(run, "board") == pytest.approx((x + 210, y + 120), abs=1e-9)
    ran = run("register", "left", "--stock-zero", "1,1")
    assert (ran.code, ran.out) == (2, "") and ran.err.startswith("stock_zero: it goes with stock")
    assert run("register", "board", "--stock-zero", "0,0").code == 0
    assert "stock_zero" not in document(run, "board"), "what is left out is the same"


def test_a_zero_beside_the_stock_is_told(shop: Path, run: Run) -> None:
    """It may be meant, as a jig's may: it is told, and taken."""
    ran = run("register", "board", *WHERE, *BOARD, "--stock-zero", "-12.5,0")
    text = "warning: station board: its zero lies 12.5 mm beside the stock: is that meant?"
    assert ran.code == 0 and text in ran.out
    assert "beside the stock" not in run("register", "board", "--stock-zero", "410,0").out


def test_papers_say_where_it_is(shop: Path, run: Run) -> None:
    """Block, sheet, map, DXF and explain have the zero there, as seen from the pins' corner, and
    say that it is in the middle where it is."""
    board = ("register", "board", *WHERE, *BOARD, "--work-offset", "a=G59.2")
    assert run(*board, "--stock-zero", "205,120").code == 0
    x, y = place_of(run, "board")
    at = f"X{x:.3f} Y{y:.3f}"
    block = run("block", "board").out
    assert f"G10 L2 P8 {at}" in block and "bare stock" in block
    where = "205.0 mm right of and 120.0 mm behind the stock's corner next to I5"
    assert run("sheet", "board", "-o", "papers").code == 0
    page = Page(Path("papers/board.html").read_text(encoding="utf-8")).words
    assert f"{where}, in the middle of the stock" in page
    assert run("map", "long-bench", "-o", "bed.html").code == 0
    html = Page(Path("bed.html").read_text(encoding="utf-8")).words
    assert f"zero is {where}, in the middle of the stock." in html
    told = " ".join(run("explain", "board").out.split())
    assert f"{where}, in the middle of the stock" in told
    assert "zero at 205.0000, 120.0000, turned by 0.00000" in told
    assert run("register", "board", "--stock-zero", "205,119").code == 0
    told = " ".join(run("explain", "board").out.split())
    assert "119.0 mm behind the stock's corner next to I5." in told
    assert at not in run("block", "board").out
    assert "stale" in run("status").out, "the sheet shows another zero"


@pytest.mark.parametrize("zero", [(205.0, 120.0), (-900.0, 0.0), (205.0, 700.0)])
def test_the_drawing_has_the_zero(zero: tuple[float, float]) -> None:
    """However far beside the stock it lies, the sheet's drawing shows it, with the stock."""
    setup = bare(stock_zero=zero)
    shown = _window([setup], 130.0, 60.0)
    for x, y in (setup.zero_in_bed, *setup.stock_in_bed()):
        assert shown.left < x < shown.right and shown.front < y < shown.back


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_for_cam_the_stock_lies_around_its_zero(turn: int) -> None:
    """The DXF of a station has program zero at 0, 0 and the stock from there as CAM has it, however
    it lies on the bed; that of the bed has both where they are on the bed."""
    setup = bare(turn=turn, pins=EdgePins(edge=("D2", "E2"), stop="C3"))
    drawn = ezdxf.read(io.StringIO(render_station_dxf([setup], setup))).modelspace()
    (point,) = drawn.query("POINT[layer=='ZEROS']")
    assert (point.dxf.location.x, point.dxf.location.y) == pytest.approx((0, 0), abs=1e-6)
    (stock,) = drawn.query("LWPOLYLINE[layer=='STOCK']")
    corners = sorted((round(x, 6) + 0.0, round(y, 6) + 0.0) for x, y in stock.get_points("xy"))
    assert corners == [(-205, -120), (-205, 120), (205, -120), (205, 120)]
    rows = [OffsetRow(setup.facts, "a", setup)]
    on_bed = ezdxf.read(io.StringIO(render_map_dxf(setup.facts.bed, rows))).modelspace()
    (point,) = on_bed.query("POINT[layer=='ZEROS']")
    assert (point.dxf.location.x, point.dxf.location.y) == pytest.approx(setup.zero_in_bed)


def test_stamp_and_repeat(shop: Path, run: Run) -> None:
    """A program for the piece's middle is stamped with that offset, and repeated at both places."""
    both = (("one", "J5,M5,I6", "G59.2"), ("two", "B2,E2,A3", "G59.3"))
    for name, pins, code in both:
        where = ("--bed", "long-bench", "--pin", "peg-20", "--pins", pins)
        board = (*where, *BOARD, "--stock-zero", "205,120", "--work-offset", f"a={code}")
        assert run("register", name, *board).code == 0
    places = [place_of(run, name) for name, _, _ in both]
    text = CUT.format(-100, -60, 100, 60).replace("G56", "G54").replace("Z-5", "Z-2")
    Path("middle.nc").write_text(text, encoding="utf-8", newline="\n")
    Path("middle.yaml").write_text(
        "format: 1\nunits: mm\nprograms: [{name: middle, file: middle.nc, units: mm, "
        "tools: {'1': {diameter: 6, stickout: 38}}}]\n",
        encoding="utf-8",
    )
    assert run("load", "middle.yaml").code == 0
    for name, _, _ in both:
        assert run("register", name, "--program", "middle").code == 0
    ran = run("stamp", "middle", "--station", "one", "-o", "one.nc")
    assert ran.code == 0, ran.err
    (x, y), (to_x, to_y) = places
    assert f"G10 L2 P8 X{x:.3f} Y{y:.3f}" in Path("one.nc").read_text(encoding="utf-8")
    ran = run("repeat", "middle", "--stations", "one,two", "--retract", "-5", "-o", "both.nc")
    assert ran.code == 0, ran.err
    joint = Path("both.nc").read_text(encoding="utf-8")
    assert f"X{x:.3f} Y{y:.3f}" in joint and f"X{to_x:.3f} Y{to_y:.3f}" in joint
    assert (x - to_x, y - to_y) == pytest.approx((800, 300), abs=0.001)


def test_place(in_demo: Path, run: Run) -> None:
    """Places are those of the piece; the command that comes with each names its zero."""
    words = ("place", *BOARD, "--bed", "long-bench", "--pin", "peg-20", "--json")
    corner = run(*words).json["places"]
    middle = run(*words, "--stock-zero", "8in,120").json["places"]
    assert [each["pins"] for each in middle] == [each["pins"] for each in corner]
    for here, there in zip(middle, corner, strict=True):
        assert '--stock-zero "203.2mm,120mm"' in here["register"]
        assert "--stock-zero" not in there["register"]
    for line, told in (
        (("panel-tray", "--stock-zero", "1,2"), "--stock-zero: it goes with --stock"),
        ((*BOARD, "--stock-zero", "1"), "--stock-zero: expected X,Y, such as 205,120; got '1'"),
        ((*BOARD, "--stock-zero", "1,wide"), "--stock-zero: expected a length"),
    ):
        ran = run("place", *line, "--bed", "long-bench")
        assert (ran.code, ran.out) == (2, "") and ran.err.startswith(told), ran.err


def test_the_command_of_a_place_puts_it_there(shop: Path, run: Run) -> None:
    """Run as it stands, it registers the zero that was asked for."""
    words = ("place", *BOARD, "--bed", "long-bench", "--pin", "peg-20", "--stock-zero", "205,-3")
    (command,) = {each["register"] for each in run(*words, "--json").json["places"][:1]}
    assert run(*shlex.split(command)[1:]).code == 0
    (name,) = {shlex.split(command)[2]}
    assert document(run, name)["stock_zero"] == [205, -3]


ADOPTED = """station,x,y,jig,zero_x,zero_y,turn
old,{x},{y},410 x 240 x 20,205,120,0
"""


def test_adopt(shop: Path, run: Run) -> None:
    """An offset of a piece's middle is taken over, and the pins that hold the piece explain it."""
    assert run("register", "board", *WHERE, *BOARD, "--stock-zero", "205,120").code == 0
    x, y = place_of(run, "board")
    line = ("adopt", "old.csv", "--bed", "long-bench", "--pin", "peg-20", "--json")
    Path("old.csv").write_text(ADOPTED.format(x=x, y=y), encoding="utf-8")
    (row,) = run(*line).json["stations"]
    assert row["off_mm"] == pytest.approx(0, abs=1e-9) and row["proposed"]["corner"] == "I5"
    assert document(run, "old")["stock_zero"] == [205, 120]
    assert run(*shlex.split(row["proposed"]["command"])[1:]).code == 0
    assert place_of(run, "old") == pytest.approx((x, y), abs=1e-9)
    without = (
        ADOPTED.format(x=x, y=y).replace("old,", "new,").replace("410 x 240 x 20,205,120", ",,")
    )
    Path("old.csv").write_text(without, encoding="utf-8")
    ran = run(*line[:-1], *BOARD, "--stock-zero", "205,120")
    told = " ".join(ran.out.split())
    assert "20 mm, zero X 205.000 mm Y 120.000 mm from its corner" in told, ran.out
    assert document(run, "new")["stock_zero"] == [205, 120]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("205,120", "205,", ":2: zero_y is missing: zero_x and zero_y go together"),
        ("205,120", "205,wide", ":2: zero_y: expected a length"),
        ("410 x 240 x 20", "panel-tray", ":2: zero_x: bare stock has it; a jig's document says"),
    ],
)
def test_adopt_refuses(
    in_demo: Path, run: Run, tmp_path: Path, old: str, new: str, told: str
) -> None:
    """Half a zero, one that is no length, and one of a jig, each with its line."""
    file = tmp_path / "old.csv"
    file.write_text(ADOPTED.format(x=1, y=2).replace(old, new), encoding="utf-8")
    ran = run("adopt", file, "--bed", "long-bench", "--pin", "peg-20")
    assert ran.code == 2 and told in ran.err, ran.err
    ran = run("adopt", file, "--bed", "long-bench", "--stock-zero", "1,2")
    assert ran.code == 2 and ran.err.startswith("--stock-zero: it goes with --stock"), ran.err


def test_load_asks_before_a_zero_moves(shop: Path, run: Run) -> None:
    """A file that puts the zero elsewhere on a station's stock is asked about, with both zeros."""
    assert run("register", "board", *WHERE, *BOARD, "--stock-zero", "205,120").code == 0
    before = run("dump").out
    text = before.replace("stock_zero: [205, 120]", "stock_zero: [0, 120]")
    assert text != before
    Path("other.yaml").write_text(text, encoding="utf-8")
    ran = run("load", "other.yaml")
    assert ran.code == 2 and run("dump").out == before
    assert "station board: its zero on the stock becomes another, program zero of nest a" in ran.err
    assert "205.000 mm away" in ran.err
    assert run("load", "other.yaml", "--yes").code == 0
    assert document(run, "board")["stock_zero"] == [0, 120]


def test_dumps_come_back(shop: Path, run: Run, tmp_path: Path) -> None:
    """A dump in mm and one in inches hold it to the last bit, and Shop reads it from there."""
    zero = "205.1,-4 3/16 in"
    assert run("register", "board", *WHERE, *BOARD, "--stock-zero", zero).code == 0
    at = place_of(run, "board")
    for unit in ("mm", "in"):
        file = tmp_path / f"{unit}.yaml"
        assert run("dump", "--units", unit, "-o", file).code == 0
        told = run("load", file).out
        assert told.startswith("0 new, 0 changed, "), told
        (station,) = [each for each in yaml.safe_load(file.read_text(encoding="utf-8"))["stations"]
                      if each["name"] == "board"]  # fmt: skip
        assert station["stock_zero"] == ([205.1, -106.3625] if unit == "mm" else
                                         ["205.1 mm", -4.1875])  # fmt: skip
        (offset,) = Shop.from_documents(file).station("board").offsets()
        assert (offset.x_mm, offset.y_mm) == at


def test_the_example_says_it(in_demo: Path, run: Run, tmp_path: Path) -> None:
    """The example of a station has the key in a comment; taken out of it, the file loads."""
    text = run("example", "station").out
    assert "#stock_zero: [190, 125]" in text and "half the size its middle" in " ".join(
        each.strip(" #") for each in text.splitlines()
    )
    said = text.replace("#stock: ", "stock: ").replace("#stock_zero: ", "stock_zero: ")
    said = "\n".join(each for each in said.splitlines() if not each.strip().startswith("jig: "))
    file = tmp_path / "second.yaml"
    file.write_text(said + "\n", encoding="utf-8")
    ran = run("load", file, "--dry-run")
    assert ran.code == 0, ran.err


# ---- what was before -----------------------------------------------------------------------------

PIECE = """
format: 1
jigs:
  - name: piece
    footprint: [410, 240]
    height: 20
    nests: [{name: a, zero: [205, 120], stock: {from: [-205, -120], size: [410, 240, 20]}}]
stations:
  - {name: first, bed: long-bench, jig: piece, pin: peg-20, pins: {edge: [D2, G2], stop: C4},
     work_offsets: {a: G56}}
"""


def test_registries_of_before(tmp_path: Path, run: Run) -> None:
    """One of schema 0012 is told what to do; upgrade raises the number and touches nothing else. A
    piece that was stated as a jig stays the jig that it was stated as, and papers say so."""
    path = tmp_path / "r.sqlite"
    make_registry(path)
    (tmp_path / "first.yaml").write_text(PIECE, encoding="utf-8")
    assert run("--db", path, "load", tmp_path / "first.yaml").code == 0
    run_sql(
        str(path),
        "UPDATE alembic_version SET version_num = '0012'",
        "ALTER TABLE paper DROP COLUMN beside",
        "ALTER TABLE paper DROP COLUMN files",
    )
    before = bodies(str(path))
    ran = run("--db", path, "offsets")
    assert ran.code == 3 and "run pincorner upgrade" in ran.err
    ran = run("--db", path, "upgrade")
    assert ran.out == f"upgraded from 0012 to {SCHEMA_VERSION}\n", ran.err
    assert bodies(str(path)) == before
    (row,) = run("--db", path, "offsets", "first", "--json").json["offsets"]
    assert (row["jig"], row["x_mm"], row["y_mm"]) == pytest.approx(("piece", 474.99, 284.99))
    assert "jig piece" in run("--db", path, "block", "first").out
    assert run("--db", path, "register", "first", "--stock-zero", "1,1").code == 2
