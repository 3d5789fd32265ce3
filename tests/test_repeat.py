"""repeat: sections read back by the independent reader, what stands between them, refusals."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from conftest import Run, quietly
from oracles.block_reader import MachineState, machine_point, read_block
from plans import change, put

HALF_DIGIT_MM = 0.0005 + 1e-9  # offsets are written with three decimals
POCKET = """%
(a shallow pocket)
G21 G17 G90 G40 G80
G54
T1 M6
S18000 M3
G0 Z30
G0 X150 Y120
G1 Z-3 F400
G1 X200 Y120 F1500
G1 X200 Y150
G1 X150 Y120
G0 Z30
M30
%
"""
THIRD = """
stations:
  - name: back
    bed: long-bench
    jig: panel-tray
    pin: peg-20
    pins: {edge: [G6, J6], stop: F8}
    work_offsets: {a: G54}
"""
MOVE = re.compile(r"G[01] X(-?[\d.]+) Y(-?[\d.]+)")


@pytest.fixture(scope="module")
def pocket_once(demo_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with a program of one tool, and a third tray where the roof was; do not change it."""
    shop = tmp_path_factory.mktemp("pocket") / "shop"
    shutil.copytree(demo_once, shop)
    (shop / "pocket.nc").write_bytes(POCKET.encode())
    put(shop, THIRD)
    quietly(shop, ("retire", "run", "three-sides"))
    return shop


def entered(once: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of a shop as the working folder."""
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    monkeypatch.chdir(shutil.copytree(once, folder))
    return folder


@pytest.fixture
def pocket(pocket_once: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of that shop to change, as the working folder."""
    return entered(pocket_once, tmp_path / "shop", monkeypatch)


def repeat(run: Run, *options: str) -> tuple[int, str, str]:
    """Repeat the pocket at left, spare and back; code, the new program, standard error."""
    done = run("repeat", "pocket.nc", "--stations", "left,spare,back", "--retract", "-5",
               "-o", "all.nc", "--tool", "1=6mm", "--accept", "hits-pin",
               "--note", "looked at", *options)  # fmt: skip
    out = Path("all.nc")
    return done.code, out.read_bytes().decode() if out.exists() else "", done.err


def places(text: str) -> dict[str, list[tuple[float, float]]]:
    """Machine X, Y of every `G0 X Y` and `G1 X Y`, by the station whose section it stands in."""
    state, station, found = MachineState(), "", {}
    for line in text.splitlines():
        begins = re.match(r"\(section \d of \d, station (\S+)", line)
        if begins:
            station = begins[1]
        if line == "%":
            continue
        state = read_block(line, state)
        move = MOVE.match(line)
        if move:
            x, y, _ = machine_point(state, "mm", (float(move[1]), float(move[2]), 0.0))
            found.setdefault(station, []).append((x, y))
    return found


def test_each_section_is_where_its_station_is(pocket: Path, run: Run) -> None:
    """Every copy's motions lie where that station's transform puts them, the way over included."""
    code, text, error = repeat(run)
    assert code == 0, error
    rows = json.loads(run("offsets", "left", "spare", "back", "--json").out)["offsets"]
    zeros = {row["station"]: (row["x_mm"], row["y_mm"]) for row in rows}
    own = [(150, 120), (200, 120), (200, 150), (150, 120)]
    for station, found in places(text).items():
        # the way over goes to the program's first place
        assert len(found) == 1 + len(own)
        for (x, y), (px, py) in zip(found, [own[0], *own], strict=True):
            assert x == pytest.approx(zeros[station][0] + px, abs=HALF_DIGIT_MM)
            assert y == pytest.approx(zeros[station][1] + py, abs=HALF_DIGIT_MM)
    assert list(places(text)) == ["left", "spare", "back"]


def test_what_stands_between(pocket: Path, run: Run) -> None:
    """Spindle off, modes, retract, block, question and stop, way over: in this order."""
    _, text, _ = repeat(run)
    _, _, rest = text.partition("(section 2 of 3, station spare a")
    joint = rest.splitlines()[1:]
    at = joint.index("G53 G0 Z-5.000")
    assert joint[:4] == ["M5 M9", "G40", "G21 G90", joint[3]] and at == 4
    assert joint[3].startswith("G17 ") and "G80" in joint[3].split()
    assert joint[5].startswith("(setup spare a ")
    stop = joint.index("M0")
    assert "G10 L2 P7" in "\n".join(joint[4:stop]) and "LOADED" in joint[stop - 1]
    assert joint[stop + 1 : stop + 3] == ["G21", "G0 X150.000 Y120.000"]
    assert joint[stop + 3] == "G21 G17 G90 G40 G80" and joint[stop + 4] == "G59.1"
    assert text.count("M0\n") == 2 and text.count("M30") == 1 and text.endswith("M30\n%\n")
    assert text.startswith("%\n(a shallow pocket)\n(repeat of program pocket at ")


def test_the_rest_of_a_run(pocket: Path, run: Run) -> None:
    """--from writes what is left, with the numbers that it had, and is not stale from the start."""
    _, text, _ = repeat(run, "--from", "spare")
    assert "stale-program" not in run("status").out
    assert "station left" not in text and "(section 2 of 3, station spare" in text
    assert text.count("M0\n") == 1


def test_leaving_the_stop_out_is_said(pocket: Path, run: Run) -> None:
    """Without the question the machine goes on by itself; the option is named for that."""
    _, text, _ = repeat(run, "--start-next-without-asking")
    assert "M0" not in text


def test_repeat_is_recorded(pocket: Path, run: Run) -> None:
    """The new program goes stale like any paper."""
    assert repeat(run)[0] == 0
    assert "stale-program" not in run("status").out
    assert run("resurface", "long-bench", "--depth", "0.1").code == 0
    put(pocket, THIRD.replace("stop: F8", "stop: F7"))
    # a stop one row nearer touches the same edge: the fingerprint names its hole
    assert "stale-program" in run("status").out and "all.nc" in run("status").out


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("G1 X200 Y150\n", "M2\nG1 X200 Y150\n", "ends in line"),
        ("G0 Z30\nG0 X150", "G92 X0\nG0 Z30\nG0 X150", "G92"),
        (
            "G0 Z30\nM30",
            "T2 M6\nG1 X160 Y120 F500\nG0 Z30\nM30",
            "2 tools, and at left, spare, back Z is set by touch for each, which only one work "
            "offset would get; make a program for each tool and repeat each, or set Z by machine",
        ),
        ("G1 X200 Y150\n", "G55\nG1 X200 Y150\n", "G54, G55"),
        ("G1 X200 Y150\n", "O100 call\n", "O word"),
    ],
)
def test_bodies_that_cannot_be_repeated(
    pocket: Path, run: Run, old: str, new: str, told: str
) -> None:
    """An end in the middle, G92, two tools set by touch, two offsets, subprograms: refused."""
    (pocket / "pocket.nc").write_bytes(POCKET.replace(old, new, 1).encode())
    code, text, error = repeat(run, "--accept", "not-read")
    assert code == 2 and not text and told in error


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--stations", "left,right"), "posted turned"),
        (("--stations", "left,left"), "twice"),
        (("--stations", ""), "--stations"),
        (("--stations", "left,nowhere"), "nowhere"),
        (("--retract", "12"), "travel"),
        (("--from", "roof"), "roof"),
        (("--order", "tool"), "tool_lengths"),
        (("--order", "colour"), "--order"),
        (("-o", "pocket.nc"), "is the program that is read"),
    ],
)
def test_bad_options(
    pocket_once: Path,
    run: Run,
    monkeypatch: pytest.MonkeyPatch,
    options: tuple[str, ...],
    told: str,
) -> None:
    """One clear line each, exit code 2, and no file."""
    monkeypatch.chdir(pocket_once)
    code, text, error = repeat(run, *options, "--force")
    assert code == 2 and not text and told in error
    assert (pocket_once / "pocket.nc").read_bytes() == POCKET.encode()


def test_a_machine_that_does_not_home(pocket: Path, run: Run) -> None:
    """There is nothing to retract to."""
    change(pocket, "machine", "gantry-1", homes=False, home=None)
    code, text, error = repeat(run)
    assert code == 2 and not text and "home" in error


TWO_TOOLS = """%
G21 G17 G90 G40 G80
G54
T1 M6
G43 H1
S18000 M3
G0 Z30
G0 X150 Y120
G1 Z-3 F400
G1 X200 Y120 F1500
G0 Z30
M5
T2 M6
G43 H2
S12000 M3
G0 Z30
G0 X150 Y150
G1 Z-2 F300
G1 X200 Y150 F900
G0 Z30
M5
M30
%
"""


@pytest.fixture(scope="module")
def gauged_once(pocket_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same shop with measured tool lengths and Z set by machine at left and spare."""
    shop = shutil.copytree(pocket_once, tmp_path_factory.mktemp("gauged") / "shop")
    change(shop, "machine", "gantry-1", tool_lengths="gauge")
    for name in ("left", "spare"):
        change(shop, "station", name, z={"zero": "stock-top", "set": "machine"})
    (shop / "pocket.nc").write_bytes(TWO_TOOLS.encode())
    return shop


@pytest.fixture
def gauged(gauged_once: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of that shop to change, as the working folder."""
    return entered(gauged_once, tmp_path / "shop", monkeypatch)


def by_tool(run: Run, *options: str) -> tuple[int, str, str]:
    """Repeat the program of two tools at left and spare, tool by tool."""
    return repeat(run, "--stations", "left,spare", "--order", "tool", "--tool", "2=6mm", *options)


def test_tool_by_tool(gauged: Path, run: Run) -> None:
    """Both stations with the first tool, then with the second; each goes to its own first place."""
    code, text, error = by_tool(run)
    assert code == 0, error
    order = re.findall(r"section \d of 4, station (\S+)", text)
    assert order == ["left", "spare", "left", "spare"]
    assert re.findall(r"T\d M6", text) == ["T1 M6"] * 2 + ["T2 M6"] * 2
    ways = re.findall(r"G21\nG0 (X\S+ Y\S+)", text)
    assert ways == ["X150.000 Y120.000"] * 2 + ["X150.000 Y150.000"] * 2
    rows = json.loads(run("offsets", "left", "spare", "--json").out)["offsets"]
    zeros = {row["station"]: (row["x_mm"], row["y_mm"]) for row in rows}
    for station, found in places(text).items():
        assert found[1] == pytest.approx((zeros[station][0] + 150, zeros[station][1] + 120))


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("S12000 M3\n", "", "spindle"),
        ("G1 Z-2 F300", "G1 Z-2", "leans on F1500 stated before it, line 10"),
        ("G43 H2\n", "", "leans on G43 H1 stated before it, line 5"),
        ("G0 X150 Y150\n", "G0 Y150\n", "leans on places of what comes before it"),
    ],
)
def test_parts_that_lean_on_what_is_before(
    gauged: Path, run: Run, old: str, new: str, told: str
) -> None:
    """A tool's part that takes speed, feed, length or place from the one before is refused."""
    (gauged / "pocket.nc").write_bytes(TWO_TOOLS.replace(old, new, 1).encode())
    code, text, error = by_tool(run, "--accept", "no-tool-length")
    assert code == 2 and not text and told in error


def test_the_way_back_is_looked_at(gauged: Path, run: Run) -> None:
    """Tool by tool the machine goes back to the first station, over what stands between."""
    solid = {"name": "post", "from": [700, 300], "to": [720, 320], "top": 100}
    change(gauged, "bed", "long-bench", solids=[solid])
    far = "  - {name: far, bed: long-bench, jig: panel-tray, pin: peg-20, pins: {edge: [J1, M1], " \
          "stop: I2}, work_offsets: {a: G54}, z: {zero: stock-top, set: machine}}\n"  # fmt: skip
    put(gauged, f"stations:\n{far}")
    accept = ("--note", "looked at", "--accept", "hits-jig", "--accept", "hits-pin")
    code, _, error = by_tool(run, "--stations", "left,far", "--retract", "-30", *accept)
    assert code == 2 and "post" in error
    # from spare to left and back nothing that high stands in the way
    assert by_tool(run, "--retract", "-30", *accept)[0] == 0


def test_the_way_over_meets_nothing(gauged: Path, run: Run) -> None:
    """With measured lengths a retract lower than what stands between is refused."""
    code, text, error = by_tool(run, "--retract", "-110")
    assert code == 2 and not text and "10.000 mm above the bed surface" in error


def test_an_arc_in_the_plane_of_the_part_before(gauged: Path, run: Run) -> None:
    """G18 as the last word of a tool's part turns the arc of the next: refused, with its line."""
    text = TWO_TOOLS.replace("M5\nT2", "M5\nG18\nT2").replace(
        "G1 X200 Y150 F900", "G2 X170 R30 F900"
    )
    (gauged / "pocket.nc").write_bytes(text.encode())
    code, text, error = by_tool(run)
    assert code == 2 and not text and "leans on G18 stated before it, line 13" in error


def test_cycles_under_a_g99_stated_at_the_top(gauged: Path, run: Run) -> None:
    """Drilling that retracts to R only by the program's first line is refused in one clear line."""
    text = TWO_TOOLS.replace("G40 G80", "G40 G80 G99", 1).replace(
        "G1 X200 Y150 F900", "G0 Z30\nG81 X200 Y150 Z-3 R2 F300\nX180\nG80"
    )
    (gauged / "pocket.nc").write_bytes(text.encode())
    code, text, error = by_tool(run)
    assert code == 2 and not text and "leans on G99 stated before it, line 2" in error


def test_hands_go_in_dry(pocket: Path, run: Run) -> None:
    """Coolant and mist are off where the operator loads, and overrides on where they were off."""
    text = POCKET.replace("S18000 M3\n", "S18000 M3\nM7\nM49\n").replace(
        "G0 Z30\nM30", "M8\nG0 Z30\nM30"
    )
    (pocket / "pocket.nc").write_bytes(text.encode())
    code, text, error = repeat(run)
    assert code == 0, error
    lines = text.splitlines()
    stops = [at for at, line in enumerate(lines) if line == "M0"]
    assert len(stops) == 2
    for stop in stops:
        before = lines[:stop]
        off = max(at for at, line in enumerate(before) if "M9" in line.split())
        on = max(at for at, line in enumerate(before) if {"M3", "M7", "M8"} & set(line.split()))
        assert on < off and "M5" in before[off].split() and before[off + 1] == "M48"


def test_no_spindle_word_is_missed(gauged: Path, run: Run) -> None:
    """M03 and M3.0 start the spindle as M3 does."""
    text = TWO_TOOLS.replace("S18000 M3", "S18000M3.0").replace("S12000 M3", "S12000 M03")
    (gauged / "pocket.nc").write_bytes(text.encode())
    code, text, error = by_tool(run)
    assert code == 0, error
    assert text.count("T2 M6") == 2 and "section 4 of 4" in text


@pytest.mark.parametrize("ending", ["", "%\n"])
def test_a_program_that_only_stops(pocket: Path, run: Run, ending: str) -> None:
    """Neither M2 nor M30: the copy ends all the same. % alone is refused as it was."""
    text = POCKET.replace("M30\n%\n", ending)
    text = text.removeprefix("%\n") if not ending else text
    (pocket / "pocket.nc").write_bytes(text.encode())
    code, copy, error = repeat(run)
    if ending:
        assert code == 2 and "ends by % alone" in error
    else:
        assert code == 0, error
        assert copy.endswith("(section 3 to here)\nM30\n") and copy.count("M30") == 1


@pytest.mark.parametrize("line", ["M30 (the end", "M30 A0", "M30 M2"])
def test_an_end_that_is_not_read(pocket: Path, run: Run, line: str) -> None:
    """A line that a controller may end on, though it is not read so, is no part of a section."""
    text = POCKET.replace("G1 X200 Y150\n", f"{line}\nG1 X200 Y150\n")
    (pocket / "pocket.nc").write_bytes(text.encode())
    code, copy, error = repeat(run, "--accept", "not-read")
    assert code == 2 and not copy and "line 11 may end it" in error


@pytest.mark.parametrize(
    "line", ["G54 G0 X#100", "G(b)54", "G54 (open", "G[50+4]", "G54 G55", "G1"]
)
def test_an_offset_that_is_not_read(pocket: Path, run: Run, line: str) -> None:
    """A line that may select an offset, and is not read, keeps stamp and repeat back; others that
    are not read can be accepted."""
    text = POCKET.replace("G1 X200 Y150\n", f"{line}\n(G54)\nX#100\nG1 X200 Y150\n")
    (pocket / "pocket.nc").write_bytes(text.encode())
    code, copy, error = repeat(run, "--accept", "not-read", "--accept", "would-stop")
    stamped = run("stamp", "pocket.nc", "--station", "left", "-o", "one.nc",
                  "--accept", "not-read", "--accept", "would-stop")  # fmt: skip
    if line == "G1":
        assert (code, stamped.code) == (0, 0), (error, stamped.err)
        return
    assert code == 2 and not copy and "line 11 may select a work offset" in error
    assert stamped.code == 2 and "line 11 may select a work offset" in stamped.err


def test_what_repeat_wrote_is_not_taken_for_a_program(pocket: Path, run: Run) -> None:
    """Its blocks belong to several stations: the line names the program to take instead."""
    repeat(run)
    for words in (("check", "all.nc", "--station", "left"),
                  ("stamp", "all.nc", "--station", "left", "-o", "new.nc"),
                  ("repeat", "all.nc", "--stations", "left,spare", "--retract", "-5", "-o",
                   "new.nc")):  # fmt: skip
        ran = run(*words)
        assert (ran.code, ran.out) == (2, ""), words
        assert "was written by repeat" in ran.err and "pocket" in ran.err
