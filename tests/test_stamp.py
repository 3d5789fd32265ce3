"""stamp: copies with the station's block, what keeps them back, and when they go stale."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from conftest import Run
from oracles.block_reader import MachineState, machine_point, read_block
from plans import change, planned, report_of

HALF_DIGIT_MM = 0.0005 + 1e-9  # offsets are written with three decimals


def stamp(run: Run, *options: str) -> bytes:
    """A stamped copy of hand-hold for station left, as bytes."""
    ran = run("stamp", "hand-hold", "--station", "left", "-o", "out.nc", "--force", *options)
    assert ran.code == 0, ran.err
    return Path("out.nc").read_bytes()


def without_source(copy: bytes) -> bytes:
    """A copy without the comment that names its program."""
    return re.sub(rb"\(made of [^\r\n]*\r?\n", b"", copy)


def test_copy_is_program_and_block(shop: Path, run: Run) -> None:
    """The copy is the program with the lines of `block` in it, and reads back at the station."""
    block = run("block", "left").out
    program = (shop / "hand-hold.nc").read_bytes()
    copy = stamp(run)
    assert without_source(copy).replace(block.encode(), b"", 1) == program
    state = read_block(copy.decode()[2 : copy.decode().index("S18000")], MachineState())
    x, y, _ = machine_point(state, "mm")
    assert (x, y) == pytest.approx((294.99, 184.99), abs=HALF_DIGIT_MM)


def test_stamped_twice_is_the_same(shop: Path, run: Run) -> None:
    """Stamping the copy gives the copy, byte for byte; for another station only what differs."""
    once = stamp(run)
    (shop / "once.nc").write_bytes(once)
    assert run("stamp", "once.nc", "--station", "left", "-o", "twice.nc").code == 0
    assert (shop / "twice.nc").read_bytes() == once
    assert run("stamp", "once.nc", "--station", "spare", "-o", "other.nc").code == 0
    other = (shop / "other.nc").read_bytes()
    assert b"setup left" not in other and other.count(b"from here)") == 1


@pytest.mark.parametrize("end", [b"\r\n", b"\n"])
def test_bytes_are_kept(shop: Path, run: Run, end: bytes) -> None:
    """Line ends stay, the block takes them over, and comments in any encoding come through."""
    program = (shop / "hand-hold.nc").read_bytes().replace(b"\n", end)
    odd = program.replace(b"(tool 1,", b"(\xfcber \xff tool 1,")
    (shop / "hand-hold.nc").write_bytes(odd)
    copy = stamp(run)
    assert b"(\xfcber \xff tool 1," in copy
    assert copy.count(b"\n") == copy.count(end)
    block = run("block", "left").out.encode().replace(b"\n", end)
    assert without_source(copy).replace(block, b"", 1) == odd


def test_findings_keep_it_back(shop: Path, run: Run) -> None:
    """What check finds is told with lines of the program; --accept takes it, by code."""
    text = (shop / "hand-hold.nc").read_text(encoding="utf-8")
    lines = text.splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("G1 X250 Z-3"))
    lines[at] = "G1 X250 Z-30 F900"
    (shop / "hand-hold.nc").write_text("\n".join(lines) + "\n", encoding="utf-8")
    ran = run("stamp", "hand-hold", "--station", "left", "-o", "out.nc")
    assert ran.code == 2 and "[cuts-seat]" in ran.err and "--accept cuts-seat" in ran.err
    assert f"line {at + 1}:" in ran.err
    assert not (shop / "out.nc").exists() and not list(shop.glob(".out*"))
    ran = run("stamp", "hand-hold", "--station", "left", "-o", "out.nc", "--accept", "cuts-seat")
    assert ran.code == 0 and "accepted" in ran.out and (shop / "out.nc").exists()


def test_stale_copies_are_told(shop: Path, run: Run) -> None:
    """When the bed moves, check finds the block stale and status lists the copy."""
    stamp(run)
    assert run("check", "out.nc", "--station", "left").code == 0
    change(shop, "bed", "long-bench", pose={"x": 61, "y": 55})
    report = json.loads(run("check", "out.nc", "--station", "left", "--json").out)
    assert [each["code"] for each in report["findings"]] == ["offset-stale"]
    assert "out.nc" in run("status").out
    (shop / "again.nc").write_bytes((shop / "out.nc").read_bytes())
    stamp(run)
    assert run("check", "out.nc", "--station", "left").code == 0


def test_what_is_known_is_known_of_its_own_file(shop: Path, run: Run) -> None:
    """A declared stretch is left out of its program's file, and of copies of it where it stands
    there: a crash beside it is told of both, and other programs have none."""
    lines = (shop / "hand-hold.nc").read_text(encoding="utf-8").splitlines()
    again = ["G0 Z30", "G0 X160 Y159.5", "G1 Z0 F2400"]
    lines[31:31] = ["G38.2 Z-5 F100", "G90 G0 Z30", *again]
    (shop / "hand-hold.nc").write_text("\n".join(lines) + "\n", encoding="utf-8")
    known = {"what": "probing", "lines": [32, 33]}
    change(shop, "program", "hand-hold", known=[known])
    stamp(run)
    for program in ("hand-hold", "out.nc"):
        report = json.loads(run("check", program, "--station", "left", "--json").out)
        assert report["findings"] == [], program
    (copied,) = (at for at, line in enumerate(Path("out.nc").read_text().splitlines(), 1)
                 if line.startswith("G38.2"))  # fmt: skip
    assert f"lines {copied} to {copied + 1}, probing: taken as known" in report["not_checked"]
    plan = report_of(planned(shop, "three-sides"))
    assert plan["visits"][0]["file"] == "out.nc"
    assert not any("G38" in each["why"] for each in plan["no_window"] if each["runs"] == "left")
    lines[19] = "G1 Z-60 F900"
    (shop / "hand-hold.nc").write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert "line 20:" in run("stamp", "hand-hold", "--station", "left", "-o", "crash.nc").err
    lines[19], lines[31] = "G1 X205", "G1 Z-60 F900"
    (shop / "other.nc").write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert "cuts-seat" in run("check", "other.nc", "--station", "left").out


def test_a_program_number_is_no_subprogram(shop: Path, run: Run) -> None:
    """An O word alone at the start names the program; one further down is not read."""
    text = (shop / "hand-hold.nc").read_text(encoding="utf-8")
    for number in ("O0012 (HAND HOLD)", "o12", ":12", "N1 O12"):
        named = text.replace("%\n", f"%\n{number}\n", 1)
        (shop / "named.nc").write_text(named, encoding="utf-8")
        ran = run("stamp", "named.nc", "--station", "left", "-o", "out.nc", "--force")
        assert ran.code == 0, number  # which checks it, too
        assert (shop / "out.nc").read_text(encoding="utf-8").splitlines()[1] == number
    later = text.replace("S18000 M3\n", "S18000 M3\nO100\n", 1)
    (shop / "later.nc").write_text(later, encoding="utf-8")
    report = json.loads(run("check", "later.nc", "--station", "left", "--json").out)
    assert report["verdict"] == "not-fully-read"


TWO_CODES = """G21 G17 G90
G54
T1 M6
G0 Z50
G0 X80 Y80
G1 Z27 F400
G1 X90 Y80
G0 Z50
G55
G0 X80 Y80
G1 Z27 F400
G1 X90 Y80
G0 Z50
M30
"""


def test_two_codes_need_a_map(shop: Path, run: Run) -> None:
    """Which of a program's two offsets is which nest's, only the operator knows."""
    (shop / "two.nc").write_text(TWO_CODES, encoding="utf-8")
    base = ("stamp", "two.nc", "--station", "end-bars", "-o", "out.nc")
    ran = run(*base)
    assert ran.code == 2 and "--code G54=" in ran.err
    ran = run(*base, "--code", "G54=G57", "--code", "G55=G58")
    assert ran.code == 0, ran.err
    assert "line 2: G54 became G57" in ran.out and "line 9: G55 became G58" in ran.out
    body = (shop / "out.nc").read_text(encoding="utf-8").partition("to here)")[2]
    assert "G57" in body and "G58" in body and "G54" not in body


def test_rotation_is_taken_off(shop: Path, run: Run) -> None:
    """With g68 a G69 stands in front of the end, once, and the copy reads without findings."""
    change(shop, "machine", "gantry-1", dialect="extended", units="mm")
    change(shop, "bed", "long-bench", pose={"x": 60, "y": 55, "angle": 0.1})
    change(shop, "station", "left", work_offsets={"a": "G54.1 P7"})
    copy = stamp(run)
    assert copy.count(b"G68 ") == 1 and b"G69 (setup rotation off)\nM30" in copy
    # the block has selected the offset: under a rotation nothing may select one again
    assert b"G54" not in copy.partition(b"to here)")[2]
    (shop / "once.nc").write_bytes(copy)
    assert run("stamp", "once.nc", "--station", "left", "-o", "twice.nc").code == 0
    assert (shop / "twice.nc").read_bytes() == copy


def test_unit_of_the_program(shop: Path, run: Run) -> None:
    """Where the controller converts, the program's unit comes back; where not, it is refused."""
    text = (shop / "hand-hold.nc").read_text(encoding="utf-8")
    inch = "\n".join(
        line.replace("G21", "G20") if "G21" in line else line for line in text.splitlines()
    )
    (shop / "inch.nc").write_text(inch + "\n", encoding="utf-8")
    ran = run("stamp", "inch.nc", "--station", "left", "-o", "out.nc")
    assert ran.code == 2 and "units-differ" in ran.err
    change(shop, "machine", "gantry-1", dialect="six")
    ran = run("stamp", "inch.nc", "--station", "left", "-o", "out.nc", "--accept", "outside-stock",
              "--note", "looked at",
              "--accept", "outside-travel", "--accept", "outside-bed", "--accept", "hits-jig",
              "--accept", "hits-pin", "--accept", "hits-clamp", "--accept", "hits-solid",
              "--accept", "cuts-seat", "--accept", "cuts-surface",
              "--accept", "cuts-track", "--accept", "cuts-screw")  # fmt: skip
    assert ran.code == 0, ran.err
    block = (shop / "out.nc").read_text(encoding="utf-8").partition("to here)")[0]
    assert block.splitlines()[-2] == "G20"


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("nothing.nc", "--station", "left", "-o", "out.nc"), "nothing.nc"),
        (("hand-hold", "--station", "nowhere", "-o", "out.nc"), "nowhere"),
        (("hand-hold", "--station", "left", "-o", "hand-hold.nc"), "is the program that is read"),
        (("hand-hold", "--station", "left", "-o", "left-block.nc"), "--force"),
        (("hand-hold", "--station", "left", "-o", "out.nc", "--code", "G55"), "--code"),
        (("hand-hold", "--station", "left", "-o", "out.nc", "--code", "G55=G58"), "has G55"),
        (("hand-hold", "--station", "left", "-o", "out.nc", "--code", "G54=G55"), "G55"),
        (("hand-hold", "--station", "left", "-o", "out.nc", "--tool", "six"), "--tool"),
        (("hand-hold", "--station", "left", "-o", "no/such/out.nc"), "out.nc"),
    ],
)
def test_bad_options(shop: Path, run: Run, options: tuple[str, ...], told: str) -> None:
    """One clear line each, exit code 2, nothing written, the program as it was."""
    before = (shop / "hand-hold.nc").read_bytes()
    files = sorted(path.name for path in shop.iterdir())
    ran = run("stamp", *options)
    assert ran.code == 2 and told in ran.err
    assert (shop / "hand-hold.nc").read_bytes() == before
    assert sorted(path.name for path in shop.iterdir()) == files


@pytest.mark.parametrize(
    ("data", "told"),
    [(b"", "empty"), (b"\x00\x01\x02binary", "text"), (b"G21\nG0 X1 (open\n", "")],
    ids=["empty", "binary", "open comment"],
)
def test_bad_programs(shop: Path, run: Run, data: bytes, told: str) -> None:
    """Files that are no programs are told in a line; lines that cannot be read keep a copy back."""
    (shop / "bad.nc").write_bytes(data)
    for command in (("check", "bad.nc"), ("stamp", "bad.nc", "-o", "out.nc")):
        ran = run(*command, "--station", "left")
        assert ran.code in (1, 2) and told in ran.err + ran.out
    assert not (shop / "out.nc").exists()
