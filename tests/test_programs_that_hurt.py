"""Programs that would crash or cut elsewhere: each is told, or refused, with its line.

Cases found by a hostile reading of check, stamp and repeat; what they rest on is common practice
and RS274/NGC, 3.4 to 3.7.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import Run
from plans import change

HEAD = "G21 G17 G90 G40 G80\nG55\nT1 M6\nS18000 M3\nG0 Z30\nG0 X100 Y100\n"
TAIL = "G0 Z30\nM30\n"
CUT = "G0 Z2\nG1 Z-5 F300\nG1 X150\n"


def checked(shop: Path, run: Run, text: str, station: str = "left") -> list[tuple[str, int]]:
    """Codes and lines of what check finds in a program."""
    (shop / "p.nc").write_text(text, encoding="utf-8", newline="\n")
    told = run("check", "p.nc", "--station", station, "--json").json
    return [(each["code"], each["line"]) for each in told["findings"]]


def test_the_plain_program_is_fine(shop: Path, run: Run) -> None:
    """What the others are made from gives nothing found."""
    assert checked(shop, run, HEAD + CUT + TAIL) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("X294.990", "X394.990"),
        ("G17 G49 G80 G94 G98", "G17 G49 G80 G94 G98\nG0 Z-50\nG1 X200 F5000"),
        ("G92.1", "G92 X0 Y0 Z0"),
        ("G17 G49 G80 G94 G98", "G17 G49 G80 G94 G98\nM98 P5"),
    ],
)
def test_a_block_edited_by_hand_is_told(shop: Path, run: Run, old: str, new: str) -> None:
    """The fingerprint stays when somebody edits the figures; the words are compared."""
    block = (shop / "left-block.nc").read_text(encoding="utf-8")
    assert old in block
    assert checked(shop, run, block + HEAD + CUT + TAIL) == []
    edited = block.replace(old, new, 1)
    assert ("offset-stale", 1) in checked(shop, run, edited + HEAD + CUT + TAIL)


@pytest.mark.parametrize(
    ("body", "found"),
    [
        ("G53 G0 Z-500\n", ("outside-travel", 7)),
        ("G53 G0 Z5\n", ("outside-travel", 7)),
        ("G53 G0 Z-150\n", ("cuts-surface", 7)),
    ],
)
def test_machine_z_is_held_against_travel_and_surface(
    shop: Path, run: Run, body: str, found: tuple[str, int]
) -> None:
    """Travel is -190 to 0, the surface at -120: the gauge point goes no lower with any tool."""
    assert found in checked(shop, run, HEAD + body + TAIL)


def test_increments_from_nowhere_are_told(shop: Path, run: Run) -> None:
    """A first move by G91 goes from wherever the machine stands."""
    text = "G21 G17 G91\nG55\nT1 M6\nS18000 M3\nG1 Z-50 F3000\nG0 X500\nM30\n"
    assert ("low-first-move", 5) in checked(shop, run, text)


def test_a_tool_under_the_length_of_another_is_told(shop: Path, run: Run) -> None:
    """Where Z comes from the machine, a new tool needs a G43 of its own."""
    change(shop, "machine", "gantry-1", tool_lengths="gauge")
    change(shop, "station", "left", z={"zero": "stock-top", "set": "machine"})
    one = HEAD.replace("G0 Z30", "G43 H1\nG0 Z30") + CUT + "G0 Z30\nM5\n"
    two = "T2 M6\nM3\nG0 X120 Y100\nG0 Z2\nG1 Z-5\nG1 X150\n"
    assert ("no-tool-length", 17) in checked(shop, run, one + two + TAIL)
    with_g43 = two.replace("M3\n", "M3\nG43 H2\n")
    assert not any(c == "no-tool-length" for c, _ in checked(shop, run, one + with_g43 + TAIL))


def test_a_place_in_the_controller_is_named(shop: Path, run: Run) -> None:
    """G28 out of the cut goes where nobody here knows; what comes behind starts there."""
    change(shop, "machine", "gantry-1", home=None)
    (shop / "p.nc").write_text(HEAD + CUT + "G28\nG0 X100 Y100\n" + TAIL, encoding="utf-8")
    told = run("check", "p.nc", "--station", "left").out
    assert "motions whose place or height is not known: lines 10, 11" in told
    assert "line 10: a rapid goes sideways from Z-5.000 to a place that is not known" in told


def test_a_home_on_file_is_a_place(shop: Path, run: Run) -> None:
    """Where the machine says where G28 goes, the way there is looked at like any other."""
    (shop / "p.nc").write_text(HEAD + CUT + "G28\nG0 X100 Y100\n" + TAIL, encoding="utf-8")
    told = run("check", "p.nc", "--station", "left").out
    assert "line 10: the 6 mm cutter in a rapid could go right into panel-tray" in told
    assert "lines 10, 11" not in told and "[leaves-unknown]" not in told


REFUSED = {
    "ends by %": ("%\n" + HEAD + CUT + "%\n", "it ends by % alone"),
    "M30 that may be skipped": (HEAD + CUT + "G0 Z30\n/M30\n", "write M30 as it stands here"),
    "a tool named late": (
        "G21 G17 G90 G40 G80\nG55\nM3 S9000\nG0 Z30\nG0 X100 Y100\n" + CUT
        + "G0 Z30\nT2 M6\nG0 X150 Y100\n" + TAIL,
        "it moves before it names its first tool",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_bodies_that_cannot_be_repeated(shop: Path, run: Run, case: str) -> None:
    """Refused with the line, and nothing is written."""
    text, told = REFUSED[case]
    (shop / "p.nc").write_text(text, encoding="utf-8", newline="\n")
    ran = run("repeat", "p.nc", "--stations", "left,spare", "--retract", "-5", "-o", "out.nc",
              "--tool", "1=6mm", "--tool", "2=6mm")  # fmt: skip
    assert ran.code == 2 and told in ran.err, ran.err
    assert not (shop / "out.nc").exists()


def test_words_however_they_are_written(shop: Path, run: Run) -> None:
    """A selection and an end that the reader knows by their numbers are the ones that are moved."""
    text = HEAD.replace("G55", "G+5 5.0") + CUT + "G0 Z30 M+3 0. (so far)\n"
    (shop / "p.nc").write_text(text, encoding="utf-8", newline="\n")
    ran = run("repeat", "p.nc", "--stations", "left,spare", "--retract", "-5", "-o", "out.nc",
              "--tool", "1=6mm", "--accept", "odd-number")  # fmt: skip
    assert ran.code == 0, ran.err
    lines = (shop / "out.nc").read_text(encoding="utf-8").splitlines()
    assert not any("G+5 5" in line for line in lines)
    assert lines.count("G0 Z30  (so far)") == 2
    assert lines[-1] == "M+3 0." and sum("M+3" in line for line in lines) == 1


def test_modes_left_on_are_taken_back(shop: Path, run: Run) -> None:
    """A section under G99, G93 or G43 does not hand them to the next one."""
    body = "G99 G81 X110 Y100 Z-5 R2 F300\nX150\nG80\nG43 H1\nG94\n"
    (shop / "p.nc").write_text(HEAD + body + "G93\nG94\n" + TAIL, encoding="utf-8", newline="\n")
    ran = run("repeat", "p.nc", "--stations", "left,spare", "--retract", "-5", "-o", "out.nc")
    assert ran.code == 0, ran.err
    lines = (shop / "out.nc").read_text(encoding="utf-8").splitlines()
    stops = [at for at, line in enumerate(lines) if line == "M5 M9"]
    assert len(stops) == 2
    for at in stops:
        assert lines[at + 1 : at + 3] == ["G40", "G21 G90"]
        assert {"G94", "G98", "G49"} <= set(lines[at + 3].split())


@pytest.mark.parametrize("retract", ["-150", "-121"])
def test_a_retract_below_the_surface_is_refused(shop: Path, run: Run, retract: str) -> None:
    """The gauge point itself would be below the bed, whatever the tool's length."""
    (shop / "p.nc").write_text(HEAD + CUT + TAIL, encoding="utf-8", newline="\n")
    ran = run("repeat", "p.nc", "--stations", "left,spare", "--retract", retract, "-o", "out.nc")
    assert ran.code == 2 and "--retract" in ran.err


@pytest.fixture
def turned(shop: Path, run: Run) -> Path:
    """The demo with its bed turned by half a degree, at a controller that turns by G68."""
    change(shop, "machine", "gantry-1", dialect="extended")
    change(shop, "station", "spare", work_offsets={"a": "G54.1 P7"})
    change(shop, "bed", "long-bench", pose={"x": 60, "y": 55, "angle": 0.5})
    return shop


def test_a_rotation_ends_with_the_last_section(turned: Path, run: Run) -> None:
    """The block turns the axes by G68: every section takes that back, the last one too."""
    (turned / "p.nc").write_text(HEAD + CUT + TAIL, encoding="utf-8", newline="\n")
    ran = run("repeat", "p.nc", "--stations", "left,spare", "--retract", "-5", "-o", "out.nc")
    assert ran.code == 0, ran.err
    lines = (turned / "out.nc").read_text(encoding="utf-8").splitlines()
    last = max(at for at, line in enumerate(lines) if line.startswith("G68"))
    assert "G69" in lines[last:] and lines.index("M30") > last


def test_a_program_that_takes_the_rotation_off_is_told(turned: Path, run: Run) -> None:
    """G69 in its first line is common, and undoes what the block in front of it turned on."""
    text = HEAD.replace("G40 G80", "G40 G69 G80") + CUT + TAIL
    (turned / "p.nc").write_text(text, encoding="utf-8", newline="\n")
    ran = run("stamp", "p.nc", "--station", "left", "-o", "out.nc")
    assert ran.code == 2 and "G69 takes off the rotation" in ran.err
    assert not (turned / "out.nc").exists()


def test_a_second_stamping_keeps_the_unit(shop: Path, run: Run) -> None:
    """At a controller that converts, the block restores the program's unit, time after time."""
    change(shop, "machine", "gantry-1", dialect="six")
    text = HEAD.replace("G21", "G20").replace("Z30", "Z1.2").replace("X100 Y100", "X4 Y4")
    text += "G0 Z0.1\nG1 Z-0.2 F12\nG1 X6\nG0 Z1.2\nM30\n"
    (shop / "p.nc").write_text(text, encoding="utf-8", newline="\n")
    assert run("stamp", "p.nc", "--station", "left", "-o", "one.nc").code == 0
    assert run("stamp", "one.nc", "--station", "left", "-o", "two.nc").code == 0
    assert (shop / "one.nc").read_bytes() == (shop / "two.nc").read_bytes()
    assert b"INCH STAYS ACTIVE" in (shop / "one.nc").read_bytes()


def test_a_signature_stays_in_front_of_the_block(shop: Path, run: Run) -> None:
    """A UTF-8 signature before the first word is no reason to refuse, and stays the first bytes."""
    text = b"\xef\xbb\xbf" + (HEAD + CUT + TAIL).encode()
    (shop / "p.nc").write_bytes(text)
    ran = run("stamp", "p.nc", "--station", "left", "-o", "out.nc")
    assert ran.code == 0, ran.err
    stamped = (shop / "out.nc").read_bytes()
    assert stamped.startswith(b"\xef\xbb\xbf(setup left a ") and stamped.endswith(text[3:])
    assert run("stamp", "out.nc", "--station", "left", "-o", "again.nc").code == 0
    assert (shop / "again.nc").read_bytes() == stamped
