"""What a controller does otherwise than a reader may think: each case as it was found.

Rules: NISTIR 6556 by section.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from conftest import Run
from plans import change

from pincorner.registry.store import Registry
from pincorner.work.files.whereabouts import REGISTRY_FILE
from pincorner.work.loading import load
from pincorner.work.session import Session
from pincorner.work.shops import init_shop

HEAD = "G21 G90 G17 G54\nT1 M6\nM3 S9000\n"


WORLD = """
format: 1
machines:
  - {name: gantry-1, dialect: rs274, travel: {x: [0, 1540], y: [0, 940], z: [-190, 0]}}
beds:
  - name: long-bench
    machine: gantry-1
    grid: {columns: 15, rows: 9, pitch: [100, 100], hole: 20.02, hole_position: 0.04, depth: 20}
    pose: {x: 60, y: 55, angle: 0}
    surface: -120
pins:
  - {name: peg-12, shank: 20.00, body: 12.00, height: 15}
programs:
  - {name: board, file: board.nc, tools: {"1": {diameter: 6}, "2": {diameter: 12}}}
stations:
  - name: board
    bed: long-bench
    stock: [500, 240, 20]
    pin: peg-12
    pins: {edge: [D2, G2], stop: C4}
    work_offsets: {a: G54}
    z: {zero: stock-top, set: touch}
    clamps: [{name: middle, from: [350, 100], to: [390, 140], top: 35}]
    program: board
"""
OTHER = """
format: 1
stations:
  - name: other
    bed: long-bench
    stock: [500, 240, 20]
    pin: peg-12
    pins: {edge: [J2, M2], stop: I4}
    work_offsets: {a: G55}
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shop of `bench`, made once."""
    folder = tmp_path_factory.mktemp("bench") / "shop"
    init_shop(folder, None, "mm", "tester")
    (folder / "world.yaml").write_text(WORLD, encoding="utf-8")
    load(
        Session(Registry(str(folder / REGISTRY_FILE)), "tester", "load"),
        [folder / "world.yaml"],
        dry_run=False,
    )
    return folder


@pytest.fixture
def bench(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop with a board of 500 x 240 mm at a pin corner, its zero on top, and a clamp on it.

    In program coordinates the clamp stands at X350..390 Y100..140, its top at Z15.
    """
    folder = tmp_path / "shop"
    shutil.copytree(made, folder)
    monkeypatch.chdir(folder)
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    return folder


def found(shop: Path, run: Run, text: str, station: str = "board") -> list[tuple[str, int]]:
    """Codes and lines that check finds in a program."""
    (shop / "p.nc").write_text(text, encoding="utf-8", newline="\n")
    ran = run("check", "p.nc", "--station", station, "--json")
    return [(each["code"], each["line"]) for each in ran.json["findings"]]


def told(shop: Path, run: Run, text: str, station: str = "board") -> str:
    """What check prints of a program."""
    (shop / "p.nc").write_text(text, encoding="utf-8", newline="\n")
    return run("check", "p.nc", "--station", station).out


# C1: a dwell takes no axis words (3.5.4; Table 8, places 10 and 20)


def test_a_dwell_beside_a_move(bench: Path, run: Run) -> None:
    """`G4 P0.5 X400` waits, then cuts through the clamp; stamp does not write it."""
    text = f"{HEAD}G0 Z60\nG0 X300 Y120\nG1 Z5 F500\nG4 P0.5 X400\nG0 Z60\nM30\n"
    assert ("hits-clamp", 7) in found(bench, run, text)
    ran = run("stamp", "p.nc", "--station", "board", "-o", "out.nc")
    assert ran.code == 2 and "hits-clamp" in ran.err and not (bench / "out.nc").exists()


def test_a_dwell_by_another_letter(bench: Path, run: Run) -> None:
    """`G4 X5` waits five seconds on some controllers and moves on others: it is not read."""
    text = f"{HEAD}G0 Z60\nG0 X300 Y120\nG1 Z5 F500\nG4 X5\nG0 Z60\nM30\n"
    assert ("not-read", 7) in found(bench, run, text)


# C2: M2 leaves G98 and G99 as they were (3.6.1), and the report names no first one (3.5.20)

DRILLED = "G0 Z60\nG0 X300 Y120\nG81 X340 Y120 Z-5 R2 F200\nX400\nG80\nG0 Z60\nM30\n"


def test_the_way_back_that_nobody_stated(bench: Path, run: Run) -> None:
    """Without G98 the way to the next hole may be the low one, through the clamp."""
    assert ("hits-clamp", 7) in found(bench, run, HEAD + DRILLED)
    assert "neither G98 nor G99 is stated before its cycle" in told(bench, run, HEAD + DRILLED)


def test_the_way_back_that_the_program_or_the_block_states(bench: Path, run: Run) -> None:
    """G98 in the program, or in the block stamped into it, takes the way over the clamp."""
    for text in (f"{HEAD}G98\n{DRILLED}", HEAD + DRILLED):
        (bench / "p.nc").write_text(text, encoding="utf-8", newline="\n")
        ran = run("stamp", "p.nc", "--station", "board", "-o", "out.nc", "--force")
        assert ran.code == 0, ran.err
        assert run("check", "out.nc", "--station", "board").code == 0
    assert not any(code == "hits-clamp" for code, _ in found(bench, run, f"{HEAD}G98\n{DRILLED}"))


# C6: the length of another tool (3.5.11)


@pytest.mark.parametrize(
    ("line", "is_told"), [("G43 H2", True), ("G43", True), ("G43 H0", True), ("G43 H1", False)]
)
def test_the_length_of_another_tool(bench: Path, run: Run, line: str, is_told: bool) -> None:
    """G43 wants H, and the number of the tool that is in."""
    text = f"{HEAD}{line}\nG0 Z60\nG0 X100 Y100\nG1 Z-3 F300\nX200\nG0 Z60\nM30\n"
    assert (("length-differs", 4) in found(bench, run, text)) == is_told


# C7: away from depth, to where nobody knows (3.5.8)

DEEP = f"{HEAD}G0 Z60\nG0 X300 Y120\nG1 Z-5 F500\n"


@pytest.mark.parametrize(
    "line", ["G91 G28 X0 Y0", "G28", "G30", "G91 G30 X0", "G53 G0 Z-118\nG53 G0 X900 Y50"]
)
def test_away_from_depth(bench: Path, run: Run, line: str) -> None:
    """A rapid sideways below what stands there, to a place that is not known, is a finding."""
    at = 7 + line.count("\n")
    assert ("leaves-unknown", at) in found(bench, run, f"{DEEP}{line}\nG90 G0 Z60\nM30\n")


def test_up_first_is_fine(bench: Path, run: Run) -> None:
    """Above everything that stands there the way home is only told as not known."""
    text = f"{DEEP}G0 Z60\nG91 G28 X0 Y0\nG90\nM30\n"
    assert found(bench, run, text) == []
    assert "motions whose place or height is not known: line 8" in told(bench, run, text)


def test_a_home_on_file(bench: Path, run: Run) -> None:
    """Where the machine says where home is, the way there is held against what stands."""
    change(bench, "machine", "gantry-1", home={"g28": [800, 200, 0]})
    text = f"{DEEP}G91 G28 X0 Y0\nG90 G0 Z60\nM30\n"
    codes = found(bench, run, text)
    assert ("hits-clamp", 7) in codes and not any(code == "leaves-unknown" for code, _ in codes)


def test_named_axes_alone_go_home(bench: Path, run: Run) -> None:
    """By the report G28 Z0 takes X and Y along; on a machine that says otherwise it goes up."""
    text = f"{DEEP}G91 G28 Z0\nG90\nM30\n"
    assert ("leaves-unknown", 7) in found(bench, run, text)
    change(bench, "machine", "gantry-1", home_named_axes=True)
    assert found(bench, run, text) == []


# C9: one word that changes nothing


def test_one_word_that_changes_nothing(bench: Path, run: Run) -> None:
    """G91.1 and G97 stand among others: the dialect names them, and the line is read."""
    cut = "T1 M6\nM3 S9000\nG0 Z60\nG0 X100 Y100\nG1 Z-3 F300\nX200\nG0 Z60\nM30\n"
    text = f"G21 G90 G17 G54 G91.1\nG97 S9000\n{cut}"
    assert found(bench, run, text) == []
    change(bench, "dialect", "rs274", harmless=None)
    codes = [code for code, _ in found(bench, run, text)]
    assert codes.count("not-read") == 2


# C10, C14: where a controller by the standard stops

STOPS = {
    "G1 X200": "no F is in force", "G93\nG1 X200": "no F is in force",
    "F300\nG98 G82 X150 Z-3 R2": "G82 without P", "F300\nG98 G86 X150 Z-3 R2": "G86 without P",
    "F300\nG98 G89 X150 Z-3 R2": "G89 without P", "F300\nG98 G83 X150 Z-3 R2": "G83 without Q",
    "F300\nG2 I5": "an arc without X or Y", "G0": "G0 without X, Y or Z",
    "F300\nG1": "G1 without X, Y or Z", "N100000 G0 Z61": "more than five digits",
    "H1": "without G43",
    "D1": "without G41 or G42", "M8 M9": "two of M7, M8 and M9", "M7 M8": "two of M7, M8 and M9",
    "F300\nG2 X110 R4.9985": "shorter than half the way", "S-100": "S is negative",
    "G4": "G4 without P", "G4 P-1": "negative P",
}  # fmt: skip


@pytest.mark.parametrize("lines", STOPS)
def test_where_a_controller_stops(bench: Path, run: Run, lines: str) -> None:
    """Read and carried out, but told: the machine would stand there in the middle of the job."""
    text = f"{HEAD}G0 Z60\nG0 X100 Y100\nG0 Z-3\n{lines}\nG80\nG0 Z60\nM30\n"
    at = 7 + lines.count("\n")
    (bench / "p.nc").write_text(text, encoding="utf-8", newline="\n")
    findings = run("check", "p.nc", "--station", "board", "--json").json["findings"]
    (stop,) = (each for each in findings if (each["code"], each["line"]) == ("would-stop", at))
    assert re.search(rf"{STOPS[lines]}.*stops here", stop["text"])


@pytest.mark.parametrize(("end", "noted"), [("", True), ("M2\n", False), ("M30\n", False)])
def test_an_end_that_is_not_there(bench: Path, run: Run, end: str, noted: bool) -> None:
    """A program without M2, M30 or % ends where its file does: noted (3.1)."""
    text = f"{HEAD}G0 Z60\nG0 X100 Y100\nG1 Z-3 F300\nX200\nG0 Z60\n{end}"
    assert ("neither M2, M30 nor a closing %" in told(bench, run, text)) == noted


# C13: numbers that stick are numbers (3.5.16, 3.5.18, 4.3.3.3)


def test_numbers_that_stick_are_read_again_in_another_unit(bench: Path, run: Run) -> None:
    """R2 under G21 is two inches under G20, and the tool goes over the clamp between the holes."""
    text = (
        f"{HEAD}G0 Z60\nG99 G0 X300 Y120\nG81 X340 Y120 Z-5 R2 F200\nG20 X11.8 Y4.7 Z-0.1\nX15.7\n"
        "G80 G21\nG0 Z60\nM30\n"
    )
    assert ("hits-clamp", 8) not in found(bench, run, text)
    assert ("hits-clamp", 8) in found(bench, run, text.replace("Z-0.1", "Z-0.1 R0.0787"))


# C15: posts as they are


def test_machine_coordinates_need_no_offset(bench: Path, run: Run) -> None:
    """`G53 G0 Z0` in front of any offset and tool is at the top: nothing is found or listed."""
    text = f"G21 G90 G17\nG53 G0 Z0\n{HEAD}G0 Z60\nG0 X100 Y100\nG1 Z-3 F300\nX200\nG0 Z60\nM30\n"
    assert found(bench, run, text) == []
    assert "not named" not in told(bench, run, text) and "no offset" not in told(bench, run, text)
    moved = text.replace("G53 G0 Z0", "G0 X0")
    assert ("no-offset", 2) in found(bench, run, moved)


def test_extents_of_cutting_and_of_everything(bench: Path, run: Run) -> None:
    """What CAM tells of its cuts is told apart from parking moves and rapids."""
    text = f"{HEAD}G0 Z60\nG0 X100 Y100\nG1 Z-3 F300\nX200 Y150\nG0 Z60\nG0 X-50 Y-90\nM30\n"
    (bench / "p.nc").write_text(text, encoding="utf-8", newline="\n")
    report = run("check", "p.nc", "--station", "board", "--json").json
    assert report["extent_mm"] == {"x": [-50, 200], "y": [-90, 150], "z": [-3, 60]}
    assert report["cutting_extent_mm"] == {"x": [100, 200], "y": [100, 150], "z": [-3, 60]}
    assert re.search(r"cutting +100\.000 +200\.000", told(bench, run, text))


def test_a_name_at_the_start(bench: Path, run: Run) -> None:
    """An O word alone in front names the program, for check, stamp and run alike."""
    text = f"%\nO1000\n{HEAD}G0 Z60\nG0 X100 Y100\nG1 Z-3 F300\nX200\nG0 Z60\nM30\n%\n"
    assert found(bench, run, text) == []
    assert run("stamp", "p.nc", "--station", "board", "-o", "stamped.nc").code == 0
    shutil.copy(bench / "stamped.nc", bench / "board.nc")
    (bench / "run.yaml").write_text(
        "format: 1\nruns: [{name: one, stations: [board]}]\n", encoding="utf-8"
    )
    assert run("load", "run.yaml").code == 0
    assert "not known" not in run("run", "one").out.split("Keep")[0]


def test_bare_stock_is_told_once(bench: Path, run: Run) -> None:
    """Another station's bare stock is stock, and no jig besides."""
    (bench / "other.yaml").write_text(OTHER, encoding="utf-8")
    ran = run("load", "other.yaml")
    assert ran.code == 0, ran.err
    text = f"{HEAD}G0 Z60\nG0 X480 Y100\nG1 Z-3 F300\nX640\nG0 Z60\nM30\n"
    codes = [code for code, _ in found(bench, run, text)]
    assert "hits-stock" in codes and "hits-jig" not in codes


def test_a_zero_that_was_meant_elsewhere(bench: Path, run: Run) -> None:
    """A program posted for a zero on the bed never reaches the stock from a zero on top of it."""
    text = f"{HEAD}G0 Z60\nG0 X100 Y100\nG1 Z17 F300\nX200\nG0 Z60\nM30\n"
    assert [code for code, _ in found(bench, run, text)] == ["no-cut"]
    assert found(bench, run, text.replace("Z17", "Z-3")) == []


# H4, C12: a word in a comment is no word


def test_a_word_in_a_comment_switches_no_tool_off(bench: Path, run: Run) -> None:
    """T words change tools where there is no M6; one in a comment is none."""
    body = "G0 Z60\nG0 X-20 Y100\nG1 Z-3 F300\nX200\nG0 Z60\nM30\n"
    plain = f"G21 G90 G17 G54\nT2\nM3 S9000\n{body}"
    odd = plain.replace("T2\n", "T2 (pocket for the M6 insert!)\n")
    without = found(bench, run, plain)
    assert without and found(bench, run, odd) == sorted(
        [*without, ("odd-comment", 2)], key=lambda e: (e[1], e[0])
    )


# C8: the switch for lines with / may be on or off (2.2.2)

OVER_THE_CLAMP = "G0 Z60\nG0 X300 Y120\nG1 Z5 F500\n{}G0 Z60\n{}X400\nG0 Z60\nM30\n"


@pytest.mark.parametrize(
    ("up", "across", "reading"), [("/", "", "skipped"), ("", "/", None), ("", "", None)]
)
def test_both_ways_of_lines_that_may_be_skipped(
    bench: Path, run: Run, up: str, across: str, reading: str | None
) -> None:
    """Skipping `/G0 Z60` sends the next line through the clamp, and the finding says so."""
    text = HEAD + OVER_THE_CLAMP.format(up, across)
    assert (("hits-clamp", 8) in found(bench, run, text)) == (reading is not None)
    shown = " ".join(told(bench, run, text).split())
    assert ("(with the lines behind / skipped)" in shown) == (reading == "skipped")
    assert "(with the lines behind / run)" not in shown
    both = "the program is looked at with all of them run, and with all of them skipped"
    assert (both in shown) == bool(up or across)


def test_a_line_that_hits_when_it_runs(bench: Path, run: Run) -> None:
    """What one reading finds is told of that reading; what both find is told once, of neither."""
    text = f"{HEAD}G0 X300 Y120\nG0 Z60\nG1 Z5 F500\n/X400\nG0 Z60\nM30\n"
    (bench / "p.nc").write_text(text, encoding="utf-8", newline="\n")
    findings = run("check", "p.nc", "--station", "board", "--json").json["findings"]
    of_run = [each["line"] for each in findings if each["text"].endswith("behind / run)")]
    assert of_run == [each["line"] for each in findings if each["code"] == "hits-clamp"] == [7]
    assert [each["line"] for each in findings if each["code"] == "low-first-move"] == [4]


def test_several_switches_are_not_looked_at(bench: Path, run: Run) -> None:
    """`/2` belongs to one of several switches: that line is not read, and says why."""
    text = f"{HEAD}G0 Z60\nG0 X300 Y120\n/2 X400\nM30\n"
    assert ("not-read", 6) in found(bench, run, text)
    assert "one of several switches, none looked at" in told(bench, run, text)


# C11: what the program itself determines is followed (3.3.2, 3.3.3; 3.5.16 in other planes)

ROUND = "G0 Z60\n#1=300\n#2=[#1+100]\nG0 X#1 Y120\nG1 Z5 F500\nX#2\nG0 Z60\nM30\n"


def test_parameters_that_the_program_sets(bench: Path, run: Run) -> None:
    """With a dialect that takes expressions a way by them is checked; with another it is told."""
    got = found(bench, run, HEAD + ROUND)
    assert ("hits-clamp", 9) in got and "not-read" not in dict(got)
    change(bench, "dialect", "rs274", expressions=None)
    got = found(bench, run, HEAD + ROUND)
    assert ("hits-clamp", 9) not in got and ("not-read", 5) in got


def test_a_cycle_along_another_axis(bench: Path, run: Run) -> None:
    """In G19 a cycle drills along X, through the clamp that stands there."""
    text = f"{HEAD}G0 Z60\nG0 X300 Y120\nG0 Z5\nG19 G98 G81 Y120 Z5 X400 R300 F200\nM30\n"
    assert "not-read" in dict(found(bench, run, text)), "R below the depth"
    text = text.replace("X400 R300", "X290 R420")
    got = found(bench, run, text)
    assert ("hits-clamp", 7) in got and "not-read" not in dict(got)
