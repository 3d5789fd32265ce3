"""A shop that works in inches is answered in inches, on every report that a person reads."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import yaml
from conftest import Run

from pincorner.cli.main import main

SHOP = """
format: 1
units: in
machines:
  - {name: router, dialect: rs274, units: in, travel: {x: [0, 40], y: [0, 30], z: [-8, 0]},
     repeatability: 0.001, nose: 2.5}
beds:
  - name: oak
    machine: router
    grid: {columns: 8, rows: 6, pitch: [4, 4], hole: 0.751, hole_position: 0.003, depth: 0.75}
    pose: {x: 2.5, y: 2.25}
    surface: -4.5
    thickness: 1.5
pins: [{name: dowel, shank: 3/4 in, body: 3/4 in, height: 1}]
jigs:
  - name: drawer tray
    footprint: [14, 10]
    seat: 0.75
    height: 1.25
    nests: [{name: a, zero: [1, 0.75], stock: {size: [12, 8, 0.75]}, run_off: 0.3}]
stations:
  - {name: left, bed: oak, jig: drawer tray, pin: dowel, pins: {edge: [B2, D2], stop: A4},
     work_offsets: {a: G54}, program: front}
  - {name: right, bed: oak, jig: drawer tray, pin: dowel, pins: {edge: [F2, H2], stop: E4},
     work_offsets: {a: G55}, program: front}
programs:
  - {name: front, file: front.nc, units: in, tools: {"1": {diameter: 0.25, stickout: 1.5}},
     cycle: 90 s}
runs: [{name: both, stations: [left, right], load: 60 s, reach: 8},
       {name: plain, stations: [right, left], load: 60 s}]
"""
PROGRAM = """G20 G90 G17
G54
T1 M6
M3 S18000
G0 Z1
G0 X1 Y1
G1 Z-1.3 F40
G1 X9 F80
G0 Z1
M30
"""
SURVEY = """hole,x_in,y_in
A1,2.512,2.2415
H1,30.5123,2.2566
A6,2.5031,22.2401
H6,30.5008,22.2549
D3,14.5880,10.2477
"""


@contextmanager
def working_in(folder: Path) -> Iterator[None]:
    """The working folder is a shop's, and no other registry is named."""
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.delenv("PINCORNER_DB", raising=False)
        yield


@pytest.fixture(scope="module")
def oak_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop in inches with two stations, made once; do not change it."""
    folder = tmp_path_factory.mktemp("oak")
    with working_in(folder):
        assert main(["init", ".", "--units", "in"]) == 0
        (folder / "shop.yaml").write_text(SHOP, encoding="utf-8")
        (folder / "front.nc").write_text(PROGRAM, encoding="utf-8")
        (folder / "survey.csv").write_text(SURVEY, encoding="utf-8")
        old = "station,x,y,jig\nold,3.877,7.374,drawer tray\n"
        (folder / "old.csv").write_text(old, encoding="utf-8")
        assert main(["load", "shop.yaml"]) == 0
    return folder


@pytest.fixture
def oak(tmp_path: Path, oak_once: Path) -> Iterator[Path]:
    """A shop in inches with two stations, as the working folder."""
    shutil.copytree(oak_once, tmp_path, dirs_exist_ok=True)
    with working_in(tmp_path):
        yield tmp_path


MM = re.compile(r"[0-9] ?mm\b|\bmm\b")
REPORTS = {
    "start": (
        ("start", "new", "--yes", "--answer", "units=in", "--answer", "a1=2.5 3.25", "--answer",
         "shank=3/4"), "G55 X 2.8750 Y 3.6250 in"),
    "example": (("example", "bed"), "pitch: [4, 4]"),
    "adopt": (("adopt", "old.csv", "--bed", "oak", "--pin", "dowel"), "3.8770 in  7.3740 in"),
    "check": (("check", "front", "--station", "left"), "0.5500 in deep into the seat"),
    "choice": (
        ("register", "new", "--bed", "oak", "--jig", "drawer tray", "--pin", "dowel", "--corner",
         "A2", "--toward", "+x+y", "--work-offset", "a=G56"), "lies within 0.0"),
    "offsets": (("offsets",), "(unit in; no angle"),
    "place": (
        ("place", "drawer tray", "--bed", "oak", "--pin", "dowel", "--count", "1"),
        "lies within, gap: in",
    ),
    "refusal": (
        ("register", "new", "--bed", "oak", "--jig", "drawer tray", "--pin", "dowel", "--pins",
         "B2,H2,A4"), "ends at 14.0000 in"),
    "run": (("run", "both"), "4.72 in or more between"),
    "run with no reach": (("run", "plain"), "around a jig not given: 9.84 in taken"),
    "survey": (("survey", "oak", "survey.csv"), "A1 lies at X, in"),
    "verify": (("verify", "left", "--x", "3.882", "--y", "7.371"), "in off"),
    "resurface": (("resurface", "oak", "--depth", "0.02"), "0.0200 in cut off"),
}  # fmt: skip


@pytest.mark.parametrize("report", REPORTS)
def test_no_report_speaks_mm(oak: Path, run: Run, report: str) -> None:
    """Figures are those that the operator keys in and reads, and mm stands nowhere."""
    words, told = REPORTS[report]
    ran = run(*words)
    text = ran.out + ran.err
    assert told in text, text
    assert not MM.search(text), text


MORE = """
format: 1
units: in
machines:
  - {name: old, dialect: rs274, units: in, travel: {x: [0, 40], y: [0, 30], z: [-8, 0]},
     repeatability: 0.001, nose: 2.5, max_skew: 0.004}
beds:
  - name: elm
    machine: old
    grid: {columns: 8, rows: 6, pitch: [4, 4], hole: 0.751, hole_position: 0.003, depth: 0.75}
    pose: {x: 2.5, y: 2.25}
    surface: -4.5
    thickness: 1.5
    slats:
      - {name: L1, from: [-2, -2], to: [30, 6], surface: -4.5}
      - {name: L2, from: [-2, 6], to: [30, 22], surface: -4.4}
    tracks: [{name: T1, from: [-2, 21], to: [30, 21], width: 0.75, depth: 0.04}]
    screws: [{name: S1, at: [10, 10], diameter: 0.35, depth: 0.2}]
    solids: [{name: post, from: [25, 20], to: [26, 21], top: 2.4}]
pins:
  - {name: fat, shank: 3/4 in, body: 0.87, height: 1.5}
  - {name: tall, shank: 3/4 in, body: 3/4 in, height: 3}
jigs:
  - {name: plate, footprint: [14, 10], seat: 0.5, height: 0.6,
     nests: [{name: a, zero: [1, 0.75], stock: {size: [12, 8, 0.75]}},
             {name: b, zero: [1, 0.75], stock: {size: [304.8, 8, 0.75]}, run_off: 0.3}]}
stations:
  - {name: turned, bed: elm, jig: drawer tray, pin: dowel,
     pins: {edge: [{hole: B2, pin: fat}, D2], stop: A4}, work_offsets: {a: G54}, program: front}
  - {name: upon, bed: elm, jig: plate, pin: tall, pins: {edge: [C2, E2], stop: B3},
     work_offsets: {a: G55}, program: front,
     clamps: [{name: c1, from: [-4, 3], to: [4, 5], top: 2}]}
  - {name: edge, bed: elm, jig: drawer tray, pin: tall, pins: {edge: [F6, H6], stop: E6}, turn: 0,
     work_offsets: {a: G56}, program: front}
runs: [{name: crowd, stations: [turned, upon], load: 60 s, parts: 2}]
"""
SCALED = """hole,x_in,y_in
A1,2.5,2.25
H1,34.5,2.25
A6,2.5,25.1
H6,34.5,25.1
D3,16.2,11.4
"""


TOLD = {
    "block": (("block", "turned"), "0.1082 in over the stock, more than max_skew 0.0040 in"),
    "no corner": (
        ("register", "new", "--bed", "elm", "--jig", "plate", "--pin", "dowel", "--pins",
         "B2,D2,C2"), "stands 0.0000 in off"),
    "check": (("check", "front", "--station", "upon"), "  1.0000"),
    "disturbed": (("disturbed", "elm", "--note", "board off"), "says so from now on"),
    "explain": (("explain", "turned"), "0.1082 in; at most 0.0040 in may stay"),
    "explain left": (("explain", "left"), "All lengths in inches"),
    "history": (("history",), "+0.0075, -0.0035 in from its computed place"),
    "list": (("list",), "turned"),
    "offsets": (("offsets",), "0.1082 in over the stock"),
    "place": (
        ("place", "drawer tray", "--bed", "elm", "--pin", "dowel", "--count", "1"),
        "clamps reach"),
    "nowhere": (("place", "plate", "--bed", "elm", "--pin", "dowel"), "no place"),
    "run": (
        ("run", "crowd"),
        "clamp J (c1) of station upon and drawer tray of station turned overlap"),
    "status": (("status",), "differ by 0.1000 in"),
    "survey": (("survey", "elm", "scaled.csv"), "4.571 by 4.571 in, and bed elm has 4 by 4 in"),
    "resurface": (("resurface", "elm", "--depth", "-0.5"), "got -0.5 in"),
    "verify": (("verify", "left", "--x", "3.882", "--y", "7.371"), "0.0075 to the right"),
    "verify's u": (
        ("verify", "left", "--x", "3.882", "--y", "7.371", "--u", "-0.5"), "above 0, got -0.5 in"),
    "load": (("load", "low.yaml"), "(0.5 in) is not below the seat (0.75 in)"),
    "sheet": (("sheet", "upon", "-o", "papers"), "papers"),
    "map": (("map", "elm", "-o", "map.html"), "map.html"),
    "retract": (
        ("repeat", "front", "--stations", "left,right", "--retract", "-4", "-o", "two.nc"),
        "0.5500 in deep"),
    "stamp": (("stamp", "front", "--station", "left", "-o", "left.nc"), "0.5500 in deep"),
    "bad retract": (
        ("repeat", "front", "--stations", "left,right", "--retract", "-50", "-o", "two.nc"),
        "-8 in to 0 in"),
}  # fmt: skip
SILENT = {
    "backup", "demo", "dump", "edit", "guide", "init", "refresh", "restore", "retire", "schema",
    "show", "upgrade",
}  # fmt: skip
"""Commands that tell no lengths, or words as a document or a page has them."""


@pytest.fixture(scope="module")
def crowd_once(oak_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shop of `crowd`, made once; do not change it."""
    folder = tmp_path_factory.mktemp("crowd")
    shutil.copytree(oak_once, folder, dirs_exist_ok=True)
    (folder / "more.yaml").write_text(MORE, encoding="utf-8")
    (folder / "scaled.csv").write_text(SCALED, encoding="utf-8")
    low = SHOP.replace("height: 1.25", "height: 0.5")
    (folder / "low.yaml").write_text(low, encoding="utf-8")
    with working_in(folder):
        assert main(["load", "more.yaml"]) == 0
        main(["verify", "left", "--x", "3.882", "--y", "7.371"])
    return folder


@pytest.fixture
def crowd(tmp_path: Path, crowd_once: Path) -> Iterator[Path]:
    """The same shop with a bed on which nearly everything has something against it."""
    shutil.copytree(crowd_once, tmp_path, dirs_exist_ok=True)
    with working_in(tmp_path):
        yield tmp_path


@pytest.mark.parametrize("report", TOLD)
def test_no_finding_speaks_mm(crowd: Path, run: Run, report: str) -> None:
    """Refusals, findings and advice tell lengths in the machine's unit alone, papers too."""
    words, told = TOLD[report]
    ran = run(*words)
    text = ran.out + ran.err
    assert told in text, text
    assert not MM.search(text), text


def test_every_command_is_asked() -> None:
    """A new command is put on one of the lists."""
    import typer.main

    from pincorner.cli.main import app

    asked = {words[0] for words, _ in (*REPORTS.values(), *TOLD.values())}
    assert asked | SILENT == set(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


def test_blocks_and_sheets_speak_one_unit(crowd: Path, run: Run) -> None:
    """A block with an angle that is not written says in its own unit how far that is."""
    shop = (crowd / "more.yaml").read_text(encoding="utf-8")
    (crowd / "more.yaml").write_text(shop.replace("0.004", "0.2"), encoding="utf-8")
    assert run("load", "more.yaml").code == 0
    block = run("block", "turned").out
    assert "ANGLE -0.4297 DEGREES NOT WRITTEN, UP TO 0.1082 INCH OVER THE STOCK" in block
    assert not MM.search(block.lower())
    assert run("sheet", "turned", "-o", "papers").code == 0
    (sheet,) = (crowd / "papers").glob("*.html")
    text = re.sub(r"(?s)<style>.*?</style>|<svg.*?</svg>", "", sheet.read_text(encoding="utf-8"))
    assert "cut askew by up to 0.1082 in across the stock" in text


def test_a_line_is_found_by_its_own_figure(oak: Path, run: Run) -> None:
    """The depth that a finding tells is the Z of the program's line."""
    out = run("check", "front", "--station", "left").out
    assert re.search(r"line [0-9]+: the 0.25 in cutter would .* at Z-1.3000", out)


def test_json_stays_in_mm(oak: Path, run: Run) -> None:
    """Scripts get mm, whatever the shop's unit is."""
    told = run("check", "front", "--station", "left", "--json").json
    assert told["extent_mm"]["z"] == pytest.approx([-1.3 * 25.4, 25.4])
    row = run("offsets", "left", "--json").json["offsets"][0]
    assert row["x_mm"] == pytest.approx(3.8745 * 25.4)
    dumped = yaml.safe_load(run("dump").out)
    assert dumped["units"] == "mm"


ASKED = """
show left
show oak
show router
show drawer%tray
show upon
history left
block left
block left --stock-thickness 0
block left --stock-thickness -1
block left --stock-thickness 0.7
block left --stock-thickness abc
check front --station turned --tool 1=0
check front --station left --tool 1=2
check front --station left --margin 0.5
check front --station left --margin -1
place --stock 10,8,1 --bed oak --pin tall
place --stock 10,8,1 --stock-zero 5,4 --bed oak --pin tall
survey oak far.csv
survey oak two.csv
survey oak wild.csv
resurface oak --depth 5
resurface oak --depth 0.7
resurface elm --depth 0.03 --dry-run
resurface elm --depth 0.05
resurface elm --surface -40 --slat L1
resurface elm --surface -4 --slat L1
resurface elm --surface -4.45 --slat L1 --dry-run
verify left --x 0 --y 0
verify left --x 7.371 --y 3.882
verify left --x 3.882 --y 7.371 --z 40
verify left --x 3.882 --y 7.371 --u -1
verify left --x nonsense --y 7
verify left --x 5000 --y 7
verify left --strike 1 --note x
retire paper left.nc --note x
register q --bed oak --jig drawer%tray --pin dowel --pins B2,D2,A4
register q --bed oak --jig drawer%tray --pin dowel --pins B2,D2,C4
register q1 --bed oak --jig drawer%tray --pin dowel --pins C2,E2,A4
register q2 --bed oak --jig drawer%tray --pin dowel --pins B2,H2,A4
register q3 --bed oak --jig drawer%tray --pin dowel --corner A2 --toward +x+y --under 0.7
register q4 --bed oak --stock 12,8,-1 --pin dowel --corner A2 --toward +x+y
register q4 --bed oak --stock 12,8 --pin dowel --corner A2 --toward +x+y
register q4 --bed oak --stock 12,8,9999 --pin dowel --corner A2 --toward +x+y
register q4 --bed oak --stock 12,8,1 --stock-zero 6,-4 --pin dowel --corner A2 --toward +x+y
register q4 --bed oak --stock 12,8,1 --stock-zero 6 --pin dowel --corner A2 --toward +x+y
register q4 --bed oak --stock 12,8,1 --stock-zero 6,9999 --pin dowel --corner A2 --toward +x+y
register q6 --like left --corner A6
register left --under 1/8
register left --max-skew 0.004
register left --under -3
register q5 --bed oak --jig plate --pin fat --corner A2 --toward +x+y
register q5 --bed elm --jig plate --pin fat --corner A2 --toward +x+y
register turned --max-skew 0.2
offsets turned
stamp front --station left -o l.nc
stamp front --station turned -o t.nc
repeat front --stations left,right --retract -4 -o two.nc
repeat front --stations left,right --retract -50 -o two.nc
repeat front --stations left,right --retract 0 -o two2.nc
load bad.yaml
load wildjig.yaml
"""
"""Command lines, good and bad, in their order; % stands for a blank."""


def test_whatever_is_asked_is_answered_in_inches(crowd: Path, run: Run) -> None:
    """Some fifty lines, most of them refused, with wild, missing and unreadable lengths: no mm."""
    files = {
        "far.csv": "hole,x_in,y_in\nA1,12,12\nH1,40,12.3\n",
        "two.csv": "hole,x_in,y_in\nA1,2.51,2.24\nH6,30.5,22.26\n",
        "wild.csv": "hole,x_in,y_in\nA1,2512,2.2415\nH1,30.5123,2.2566\nA6,2.5031,22.2401\n",
        "bad.yaml": BAD,
        "wildjig.yaml": WILD_JIG,
    }
    for name, text in files.items():
        (crowd / name).write_text(text, encoding="utf-8")
    codes = []
    for line in ASKED.split("\n")[1:-1]:
        ran = run(*(word.replace("%", " ") for word in line.split()))
        assert ran.code in (0, 1, 2), line
        assert not MM.search(ran.out + ran.err), (line, MM.findall(ran.out + ran.err))
        codes.append(ran.code)
    assert codes.count(2) > 25 and codes.count(0) > 15


BAD = """format: 1
units: in
jigs:
  - {name: j, footprint: [0, 3], seat: -1, height: 0.5,
     nests: [{name: a, zero: [0, 0], stock: {size: [12, 8, 0]}}]}
  - {name: k, footprint: [4, 3], seat: 1, height: 0.5,
     nests: [{name: a, zero: [0, 0], stock: {size: [12, 8, 1 1/0]}}]}
pins: [{name: g, shank: "0.75", body: -1, height: 5000}]
beds:
  - {name: bb, machine: router, grid: {columns: 8, rows: 6, pitch: [4, 4], hole: 5},
     pose: {x: 1e9, y: 2}, outline: {from: [0, 0], to: [-1, 3]}}
"""
WILD_JIG = """format: 1
units: in
jigs:
  - {name: wj, footprint: [10, 10], seat: 0.5, height: 1,
     nests: [{name: a, zero: [-3, 0], stock: {size: [20, 8, 1]}}]}
"""


def test_a_file_that_does_not_say_its_unit(oak: Path, run: Run) -> None:
    """In a shop that works in inches its bare lengths are refused, once a file, and told how."""
    (oak / "bare.yaml").write_text(SHOP.replace("units: in\nmachines", "machines"), "utf-8")
    ran = run("load", "bare.yaml")
    assert ran.code == 2 and ran.err.count("\n") == 1
    assert "does not say its unit: say units: in, or units: mm, below format:" in ran.err
    (oak / "bare.yaml").write_text(
        "format: 1\npins: [{name: p, shank: 3/4 in, body: 19 mm, height: 1 1/2 in}]\n"
        "runs: [{name: r, stations: [left], load: 60 s, reach: 0}]\n",
        "utf-8",
    )
    assert run("load", "bare.yaml").code == 0  # with the unit at each length, and 0 is 0
    (oak / "bare.yaml").write_text("format: 1\npins: [{name: q, shank: 3/4, body: 1/2}]\n", "utf-8")
    assert "does not say its unit" in run("load", "bare.yaml").err
    for unit in ("", "units: in\n"):  # what is refused of such a file is told in inches as well
        jig = "{name: j, footprint: [9 in, 9 in], seat: 1 in, height: 0.5 in, nests: [{name: a, "
        jig += "zero: [0, 0], stock: {size: [6 in, 5 in, 1 in]}}]}"
        router = "{name: m, dialect: rs274, travel: {x: [40 in, 0]}}"
        (oak / "bare.yaml").write_text(
            f"format: 1\n{unit}jigs:\n  - {jig}\n  - {jig.replace('height', 'edge_from')}\n"
            f"machines:\n  - {router}\n".replace("edge_from: 0.5", "edge_from: 1.5"),
            "utf-8",
        )
        told = run("load", "bare.yaml").err
        assert "(0.5 in) is not below the seat (1 in)" in told
        assert "edges (1.5 in) do not begin above its tallest point (1 in)" in told
        assert "expected the lower end first, got 40 to 0" in told


def test_a_bare_fraction_in_a_file(oak: Path, run: Run) -> None:
    """A fraction counts in the file's unit, as on the command line; quoted decimals name theirs."""
    (oak / "pins.yaml").write_text(
        'format: 1\nunits: in\npins: [{name: p, shank: 3/4, body: "7/8", height: 1 1/2}]\n', "utf-8"
    )
    assert run("load", "pins.yaml").code == 0
    pin = run("show", "p", "--json").json["documents"][0]["document"]
    assert [pin[key] for key in ("shank", "body", "height")] == [19.05, 22.225, 38.1]
    (oak / "pins.yaml").write_text(
        'format: 1\nunits: in\npins: [{name: p, shank: "0.75", body: 1, height: 1}]\n', "utf-8"
    )
    assert "such as 0.75 in" in run("load", "pins.yaml").err


def test_documents_are_shown_and_dumped_in_inches(oak: Path, run: Run) -> None:
    """show and history speak inches, and dump --units in, which loads to the same."""
    assert "pitch: [4, 4]" in run("show", "oak").out
    inches = run("dump", "--units", "in").out
    assert yaml.safe_load(inches)["units"] == "in" and "shank: 0.75," in inches
    (oak / "in.yaml").write_text(inches, "utf-8")
    assert run("--db", "two.sqlite", "init").code == 0
    assert run("--db", "two.sqlite", "load", "in.yaml").code == 0
    assert run("--db", "two.sqlite", "dump").out == run("dump").out
    (oak / "in.yaml").write_text(SHOP.replace("height: 1}", "height: 1.25}"), "utf-8")
    assert run("load", "in.yaml").code == 0
    assert "pin dowel: height 1 -> 1.25" in run("history", "dowel").out
    assert run("dump", "--units", "cm").code == 2


def test_what_is_next_to_nothing_is_dumped_in_inches_and_loads(oak: Path, run: Run) -> None:
    """Three heights lie on a plane but for rounding: that is 1e-14 mm, and the dump loads."""
    heights = ("a1,1,2,-6.01", "c1,9,2,-6.02", "a3,1,10,-6.07")
    (oak / "holes.csv").write_text("hole,x_in,y_in,z_in\n" + "\n".join(heights) + "\n", "utf-8")
    assert run("survey", "oak", "holes.csv", "--accept", "--yes").code in (0, 1)
    assert run("dump", "--units", "in", "-o", "in.yaml").code == 0
    assert "e-" in (oak / "in.yaml").read_text("utf-8")
    assert run("--db", "two.sqlite", "init").code == 0
    loaded = run("--db", "two.sqlite", "load", "in.yaml")
    assert (loaded.code, loaded.err) == (0, "")
    assert run("--db", "two.sqlite", "dump").out == run("dump").out
