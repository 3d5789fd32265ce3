"""stamp --wait-before: an M0 between a retract and a way sideways, and nowhere else."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import Run, without_help
from plans import shop_of
from test_run_worked import FAR_APART, cuts, program
from worlds import BASE, facts, world

from pincorner.errors import Refused
from pincorner.program.edit.waits import refuse_wait
from pincorner.program.source.text import ProgramText
from pincorner.setups.transform import make_setups

pytestmark = without_help

HOME = "G53 G0 X2500 Y300"


@pytest.fixture
def own(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop whose program one goes home over the next piece."""
    (tmp_path / "one.nc").write_text(program("G54", {1: 100}, HOME), encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", {1: 100}, ""), encoding="ascii")
    monkeypatch.chdir(tmp_path)
    shop_of(tmp_path, FAR_APART)
    return tmp_path


def line_of(folder: Path, text: str) -> int:
    """The number of the last line with this text."""
    lines = (folder / "one.nc").read_text(encoding="ascii").splitlines()
    return len(lines) - lines[::-1].index(text)


def test_it_waits_there(own: Path, run: Run) -> None:
    """The copy has the M0 before that line alone, is told so, and its window's end waits; run knows
    it as a copy of its source."""
    line = line_of(own, HOME)
    words = ("stamp", "one", "--station", "a", "-o", "a.nc", "--wait-before", line)
    report = json.loads(run(*words, "--json").out)
    [told] = [each for each in report["changed"] if each["what"] == "wait"]
    assert (told["line"], told["from"], told["to"]) == (line, None, "M0 (setup wait)")
    copy = (own / "a.nc").read_text(encoding="ascii").splitlines()
    source = (own / "one.nc").read_text(encoding="ascii").splitlines()
    at = copy.index("M0 (setup wait)")
    assert copy[at + 1] == HOME and copy.count("M0 (setup wait)") == 1
    assert [each for each in source if each not in copy] == []
    assert "M0 is no safeguard" in run(*words[:5], "b.nc", *words[6:]).out
    plan = json.loads(run("run", "both", "--json").out)
    [window] = [each for each in plan["windows"] if each["runs"] == "a"]
    assert window["ends"] == {"line": at + 1, "event": "M0 holds the program", "kind": "waits"}
    assert plan["visits"][0]["file"] == "b.nc"


def test_other_lines_are_refused(own: Path, run: Run) -> None:
    """A line that cuts, goes down or is no first way behind a retract; a line without a motion."""
    for text in ("G0 Z60", "X250", "M5", "M30", *cuts(100)[:1]):
        ran = run("stamp", "one", "--station", "a", "-o", "a.nc", "--wait-before",
                  line_of(own, text))  # fmt: skip
        assert ran.code == 2 and "cannot wait there" in ran.err, text
        assert ran.err.count("\n") == 1 and not (own / "a.nc").exists()
    ran = run("stamp", "one", "--station", "a", "-o", "a.nc", "--wait-before", 9999)
    assert ran.code == 2 and "cannot wait there" in ran.err


def test_before_a_tool_change(own: Path, run: Run) -> None:
    """A line that changes a tool will do where the program has retracted before it."""
    text = program("G54", {1: 50, 2: 50}, "")
    (own / "one.nc").write_text(text, encoding="ascii")
    line = text.splitlines().index("T2 M6") + 1
    ran = run("stamp", "one", "--station", "a", "-o", "a.nc", "--wait-before", line)
    assert ran.code == 0, ran.err
    first = text.splitlines().index("T1 M6") + 1
    ran = run("stamp", "one", "--station", "a", "-o", "b.nc", "--wait-before", first)
    assert ran.code == 2 and "no motion stands before it" in ran.err


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("G0 Z-5|G0 Z30", ""),
        ("G0 Z30|G0 Z-5", "no retract"),
        ("G0 X0 Y0 Z30|G0 Z30", "no retract"),
        ("G53 G0 Z0", ""),
        ("G53 G0 Z0|G53 G0 Z0", ""),
        ("G53 G0 Z0|G0 Z-5", "from one that is not known"),
        ("G53 G0 Z0|G53 G0 Z-100", "no retract"),
        ("G0 Z-5|G53 G0 Z-100", "no retract"),
        ("G0 Z-5|G53 G0 Z-86", ""),
        ("G0 Z-5|G0 Z30|G38.2 Z-9 F50", "not read"),
        ("G53 G0 Z0|G1 X#9 Z-5", "not read"),
        ("G28 G91 Z0|G90", "no retract"),
        ("G1 Z-3 F900|X50|/G0 Z30", r"line 7 before it is no retract .*behind / skipped"),
        ("G1 Z-3 F900|X50|G0 Z30|/M8", ""),
        ("G1 Z-3 F900|X50|G0 Z30|/G1 Z-3", "line 9 before it is no retract straight up;"),
        ("G1 Z-3 F900|/X50|G0 Z30", ""),
    ],
)
def test_only_up_is_a_retract(tmp_path: Path, lines: str, told: str) -> None:
    """A plunge is none, from wherever it comes; nor is what goes where nobody knows, or what may
    have gone on since."""
    nests = make_setups(facts(world(BASE), "left"))
    text = "|".join(("G21 G90 G17", "G55", "T1 M6", "G0 Z50", "G0 X0 Y0", lines)).split("|")
    source = [*text, "G0 X100 Y100", "M30", ""]
    program_text = ProgramText(tmp_path / "x.nc", "\n".join(source).encode("ascii"))
    if told:
        with pytest.raises(Refused, match=told):
            refuse_wait(program_text, nests[0], nests, len(text) + 1)
    else:
        refuse_wait(program_text, nests[0], nests, len(text) + 1)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("/G0 X100 Y100", ""),
        ("/G1 X100", "sideways by a rapid; an"),
        ("/T2 M6", ""),
        ("/G0 X100 Y100|/M5", ""),
    ],
)
def test_the_line_itself_may_be_skipped(tmp_path: Path, line: str, told: str) -> None:
    """It then waits behind the retract all the same; what it does where it runs still counts."""
    nests = make_setups(facts(world(BASE), "left"))
    source = ["G21 G90 G17", "G55", "T1 M6", "G0 Z50", "G0 X0 Y0", "G1 Z-3 F900", "G0 Z50"]
    text = "\n".join([*source, *line.split("|"), "G0 X300", "M30", ""])
    program_text = ProgramText(tmp_path / "x.nc", text.encode("ascii"))
    if told:
        with pytest.raises(Refused, match=told):
            refuse_wait(program_text, nests[0], nests, 8)
    else:
        refuse_wait(program_text, nests[0], nests, 8)


def test_not_behind_lines_that_are_not_read(tmp_path: Path) -> None:
    """What a stretch that is taken as known does behind the retract is not known; one in front of
    the retract hides nothing."""
    nests = make_setups(facts(world(BASE), "left"))
    source = ["G21 G90 G17", "G55", "T1 M6", "G0 Z50", "G0 X0 Y0", "G0 Z-2", "G0 Z50", "G0 Z20",
              "G0 X100 Y100", "M30", ""]  # fmt: skip
    program_text = ProgramText(tmp_path / "x.nc", "\n".join(source).encode("ascii"))
    with pytest.raises(Refused, match="is not read"):
        refuse_wait(program_text, nests[0], nests, 9, ((8, 8),))
    whole = "\n".join([*source[:3], "M100", *source[3:7], *source[8:]])
    program_text = ProgramText(tmp_path / "x.nc", whole.encode("ascii"))
    refuse_wait(program_text, nests[0], nests, 9, ((4, 4),))
