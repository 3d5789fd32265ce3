"""What stamp tells: every line that it puts in, takes out or writes otherwise, and nothing else."""

from __future__ import annotations

import difflib
import json
from pathlib import Path
from typing import Any

import pytest
from conftest import Ran, Run
from plans import change

from pincorner.errors import BadInput
from pincorner.program.edit.lines import Edits, rotation_off_of, stamped

OFF = "G69 (setup rotation off)"
OWN_ROTATION = f"""%
G21 G17 G90
G55
T1 M6
S18000 M3
G0 Z30
G0 X205 Y167.5
G68 X205 Y167.5 R5
G1 Z-2 F400
G1 X215 F900
{OFF}
G0 Z30
M30
%
"""
"""A program with a rotation of its own, which a line takes off that reads like one of ours."""


def stamp(run: Run, program: str, *options: str) -> Ran:
    """A stamp of a program at station left, whatever check finds."""
    found = run("stamp", program, "--station", "left", "-o", "out.nc", "--force", *options)
    if found.code == 2 and "--accept" in found.err:
        rows = [line.split() for line in found.err.splitlines() if line.startswith("  --accept")]
        words = [word for row in rows for word in row[:2]] + ["--note", "known"]
        found = run("stamp", program, "--station", "left", "-o", "out.nc", "--force", *words,
                    *options)  # fmt: skip
    assert found.code == 0, found.err
    return found


def turning(run: Run, shop: Path) -> None:
    """Have station left on a machine whose blocks turn by G68."""
    change(shop, "machine", "gantry-1", dialect="extended", units="mm")
    change(shop, "bed", "long-bench", pose={"x": 60, "y": 55, "angle": 0.1})
    change(shop, "station", "left", work_offsets={"a": "G54.1 P7"})


def lines_changed(before: str, after: str) -> int:
    """How many lines of a program are not in its copy."""
    matched = difflib.SequenceMatcher(None, before.splitlines(), after.splitlines(), autojunk=False)
    return len(before.splitlines()) - sum(block.size for block in matched.get_matching_blocks())


@pytest.mark.parametrize("turns", [False, True])
def test_a_rotation_off_of_the_programs_own_stays(shop: Path, run: Run, turns: bool) -> None:
    """A line that no stamp put in stays, though it reads as one of ours (F10)."""
    (shop / "own.nc").write_text(OWN_ROTATION, encoding="utf-8")
    if turns:
        turning(run, shop)
    told = stamp(run, "own.nc")
    copy = (shop / "out.nc").read_text(encoding="utf-8")
    assert f"G1 X215 F900\n{OFF}\nG0 Z30\n" in copy
    assert "taken out" not in told.out
    assert copy.count(OFF) == 1 + turns
    assert told.out.count(f"{OFF} put in") == turns


def test_the_line_of_an_earlier_stamp_goes_and_is_told(shop: Path, run: Run) -> None:
    """From a turning machine to one that does not turn: block and G69 of ours go, both told."""
    turning(run, shop)
    stamp(run, "hand-hold")
    once = (shop / "out.nc").read_text(encoding="utf-8")
    end = once.splitlines().index("M30")
    (shop / "once.nc").write_text(once, encoding="utf-8")
    change(shop, "machine", "gantry-1", dialect="rs274", units="mm")
    change(shop, "bed", "long-bench", pose={"x": 60, "y": 55})
    change(shop, "station", "left", work_offsets={"a": "G55"})
    told = stamp(run, "once.nc", "--json").json["changed"]
    assert {"what": "rotation-off", "line": end, "last_line": end, "from": OFF, "to": None} in told
    assert told[0]["what"] == "setup-block" and told[0]["from"].startswith("left a ")
    assert OFF not in (shop / "out.nc").read_text(encoding="utf-8")


@pytest.mark.parametrize("way", ["fresh", "again", "turned", "turned again", "elsewhere"])
def test_every_line_that_changes_is_told(shop: Path, run: Run, way: str) -> None:
    """As many lines as are gone from the copy are told as gone, and as many put in as are new."""
    name = "hand-hold.nc"
    if way.startswith("turned"):
        turning(run, shop)
    if way != "fresh" and way != "turned":
        stamp(run, name)
        (shop / "once.nc").write_bytes((shop / "out.nc").read_bytes())
        name = "once.nc"
    if way == "elsewhere":
        change(shop, "bed", "long-bench", pose={"x": 61, "y": 55})
    before = (shop / name).read_text(encoding="utf-8")
    told: list[dict[str, Any]] = stamp(run, name, "--json").json["changed"]
    after = (shop / "out.nc").read_text(encoding="utf-8")
    gone = sum(each["last_line"] - each["line"] + 1 for each in told if each["from"] is not None)
    assert lines_changed(before, after) <= gone
    assert ("rotation-off" in [each["what"] for each in told]) == (way == "turned")
    assert told[0]["what"] == "setup-block"
    if way == "fresh":
        assert told[0]["from"] is None
        assert before.splitlines()[told[0]["line"] - 1] == "G21 G17 G90 G40 G80"


@pytest.mark.parametrize("turns", [False, True])
def test_what_is_found_has_the_lines_of_the_program(shop: Path, run: Run, turns: bool) -> None:
    """Stamp finds in a program, fresh or a copy of before, what check does, in the same lines: in
    front of the block, behind it and at the end, and what was not looked at too."""
    source = (shop / "hand-hold.nc").read_text(encoding="utf-8")
    odd = source.replace("(Z0 is", "(MSG, Z0 is").replace("M30\n", "(MSG, done)\nM30\n")
    (shop / "odd.nc").write_text(odd, encoding="utf-8")
    if turns:
        turning(run, shop)
    known = ("--accept", "odd-comment", "--note", "known")
    stamp(run, "odd.nc", *known)
    (shop / "once.nc").write_bytes((shop / "out.nc").read_bytes())
    for name in ("once.nc", "odd.nc"):
        checked = json.loads(run("check", name, "--station", "left", "--json").out)
        told = json.loads(stamp(run, name, "--json", *known).out)
        mended = {("offset-differs", 6)}
        if turns and name == "odd.nc":  # its selection, and no G69 in front of M30
            mended |= {("rotation-left", 6), ("rotation-left", 139)}
        found, stamped = (
            {(each["code"], each["line"]) for each in report["findings"]}
            for report in (checked, told["check"])
        )
        assert found - mended == stamped and len(stamped) == 2, name
        assert turns == (("rotation-left", 139) in found) or name == "once.nc"
        where = [each for each in checked["not_checked"] if "its first move sideways" in each]
        assert where and where[0] in told["check"]["not_checked"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (["G68 X0 Y0 R1", "G1", OFF, "M30"], 3),
        (["G68 X0 Y0 R1", "G1", "g69 ; setup rotation off", "M30"], 3),
        (["G68 X0 Y0 R1", OFF, "G1", "M30"], None),
        (["G68.1", "G1", OFF, "M30"], None),
        (["(G68)", "G1", OFF, "M30"], None),
        (["G68 X0 Y0 R1", "G1", "G69 (setup rotation off) G0 X5", "M30"], None),
    ],
)
def test_which_line_is_ours(text: list[str], found: int | None) -> None:
    """Ours is the one in front of the end, behind a block that turns; no other."""
    assert rotation_off_of([f"{line}\n" for line in text], (1, 1), 4) == found


def test_no_line_goes_that_is_not_named() -> None:
    """The text of a stamp takes out the lines it is told to, and none for what it reads like."""
    lines = [f"{line}\n" for line in ("G21", OFF, "M30")]
    assert list(stamped(lines, Edits(("(b)",), None, {}))) == ["(b)\n", *lines]
    kept = list(stamped(lines, Edits(("(b)",), None, {}, rotation_was_off=2)))
    assert kept == ["(b)\n", "G21\n", "M30\n"]


def test_a_fault_in_the_copy_names_the_copy(
    shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What goes wrong while the copy is checked is told of OUT, not of its name meanwhile."""
    from pincorner.work.programs import stamping

    def fail(job: Any, *_: object, **__: object) -> None:
        raise BadInput(f"{job.path} changed while it was read; run the command again")

    monkeypatch.setattr(stamping, "check", fail)
    ran = run("stamp", "hand-hold", "--station", "left", "-o", "out.nc")
    assert ran.code == 2
    assert ran.err == "out.nc changed while it was read; run the command again\n"
