"""Programs of stations whose block leaves the axes turned (G68): the block is run alone, then the
program, so that check reads a program without a block of its own as standing behind it.

That a rotation stays on until G69 takes it off is common practice, no source.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from checking import check_text, demo_setup
from conftest import Run
from plans import change, planned, registry_of, report_of
from test_run_joint import own, plan, reasons, repeat
from thinning import thinned

from pincorner import Shop
from pincorner.program.check.result import CheckFinding
from pincorner.work.programs.checking import check, find_job
from pincorner.work.programs.stamping import stamp
from pincorner.work.session import Session

__all__ = ["own"]

TURNED = {"x": 60, "y": 55, "angle": 0.5}
CASES = [("extended", 0.5), ("extended", 0.0), ("rs274-turned", 0.5), ("six", 0.0)]
LINES = [
    "G55", "G54", "G69", "G53 G0 Z0", "G28", "G91 G28 Z0", "G90", "G0 X120", "G1 Y110 F300",
    "G0 Z2", "G1 Z-2 F200", "G2 X120 Y100 I5", "G81 X110 Y100 Z-3 R2 F300", "G80", "T2 M6",
    "M0", "G55 G0 X100", "G69 G0 X101", "G28 X110 Y110", "/G69", "G43 H1",
]  # fmt: skip
ALL = frozenset({
    "rotation-left", "not-read", "offset-differs", "no-offset", "low-first-move", "leaves-unknown",
    "would-stop", "outside-stock", "outside-bed", "outside-travel", "hits-jig", "hits-pin",
    "hits-clamp", "hits-solid", "hits-stock", "cuts-surface", "cuts-seat", "cuts-track",
    "cuts-screw", "no-cut", "length-differs", "no-units",
})  # fmt: skip


def programs(seed: int, count: int) -> Iterator[str]:
    """Programs at random: sound, but for lines that turn, select or go by machine coordinates."""
    rng = random.Random(seed)
    for _ in range(count):
        head = rng.choice(["G21 G17 G90 G40 G80 G98", "G21 G90 G17 G40 G49 G80 G69 G98"])
        body = rng.choices(LINES, k=rng.randint(0, 5))
        code = rng.choice([["G55"], ["G55"], []])
        start = ["T1 M6", *code, "S18000 M3", "G0 Z30", "G0 X110 Y100", *body]
        cut = ["G0 X110 Y100", "G0 Z2", "G1 Z-5 F300", "G1 X150", "G0 Z30"]
        end = rng.choice([["M30"], ["G69", "M30"], ["G69", "G53 G0 Z0", "M2"], []])
        yield "\n".join([head, *start, *cut, *end, ""])


def told(_bytes: int) -> None:
    """Reading is not shown."""


def lines_of(findings: tuple[CheckFinding, ...]) -> set[tuple[str, int, str]]:
    """Findings that stamping does not mend."""
    return {(e.code, e.line, e.what) for e in findings if not e.goes_with_stamping}


@pytest.mark.parametrize(("dialect", "angle"), CASES)
def test_check_finds_what_stamp_finds(shop: Path, dialect: str, angle: float) -> None:
    """Of a program as it was posted, check finds what keeps back a copy with the block in it, and
    besides only what the stamping mends: it runs behind the same block."""
    change(shop, "machine", "gantry-1", dialect=dialect, units="mm")
    change(shop, "bed", "long-bench", pose={**TURNED, "angle": angle})
    session = Session(registry_of(shop), "tester", "stamp", "known")
    seen: set[str] = set()
    for at, text in enumerate(programs(7, thinned(144))):
        (shop / "p.nc").write_text(text, encoding="utf-8", newline="\n")
        job = find_job(session, "p.nc", "left", None)
        raw = check(job, {1: 6.0, 2: 6.0}, None, told).report.findings
        copy = stamp(
            session, job, shop / f"out-{at}.nc", codes={} if "G54" not in text else {"G54": "G55"},
            accept=ALL, diameters_mm={1: 6.0, 2: 6.0}, force=True, told=told,
        ).findings  # fmt: skip
        assert not [e for e in copy if e.unstamped], text
        assert lines_of(raw) == lines_of(copy), text
        seen |= {e.code for e in raw} | {e.what.split(":")[0] for e in raw}
    turns = dialect == "extended"
    assert ("rotation-left" in seen) == turns
    taken_off = "G69 takes off the rotation that the block turned on"
    assert (taken_off in seen) == (turns and angle != 0)


def found_in(tmp_path: Path, text: str) -> list[tuple[str, int]]:
    """Codes and lines of what is found at station left, whose block turns by 0.5 degrees."""
    setup = demo_setup("left", dialect={"name": "extended"}, bed={"pose": _pose()})
    return [(e.code, e.line) for e in check_text(tmp_path, text, setup).findings]


def _pose() -> object:
    """The bed's pose with its turn."""
    setup = demo_setup("left")
    return setup.facts.bed.pose.model_copy(update={"angle": 0.5})


HEAD = "G21 G17 G90 G40 G80\nT1 M6\nS18000 M3\nG0 Z30\nG0 X160 Y160\n"
CUT = "G0 Z2\nG1 Z-5 F300\nG1 X200\nG0 Z30\n"


@pytest.mark.parametrize(
    ("end", "found"),
    [
        ("G69\nM30\n", []), ("G69\nG53 G0 Z0\nM30\n", []), ("G69\nG91 G28 Z0\nM30\n", []),
        ("G69\nG0 Z35\nG53 G0 X100 Y900\nM30\n", []), ("G69 G0 Z35\nM30\n", []),
        ("M30\n", [("rotation-left", 10)]), ("", [("rotation-left", 9)]),
        ("G69 G0 X150\nM30\n", [("not-read", 10)]), ("G69\nG0 Y150\nM30\n", [("not-read", 10)]),
        ("G69\nG28 X150 Y150\nM30\n", [("not-read", 10)]),
        ("G69\nG68 X0 Y0 R5\nG0 X150\nG69\nM30\n", [("not-read", 11)]),
        ("G69\nG68 X0 Y0 R5\nG69\nG0 X150\nM30\n", [("not-read", 11), ("not-read", 12)]),
        ("G69\nG0 X150\nG68 X0 Y0 R5\nG69\nM30\n", [("not-read", 10), ("not-read", 12)]),
    ],
)  # fmt: skip
def test_behind_g69_only_numbers_of_the_offset_lie_otherwise(
    tmp_path: Path, end: str, found: list[tuple[str, int]]
) -> None:
    """A retract, and a move by machine coordinates, go where they say, turned axes or not; so a
    program may take the rotation off and then go home. It needs no selection: the block has made
    it."""
    assert found_in(tmp_path, HEAD + CUT + end) == found


def test_the_ways_out_are_told(shop: Path, run: Run) -> None:
    """The finding says in one breath what stamp mends, and what the program has to do itself; a
    copy that is stamped has none of what stamp mends."""
    change(shop, "machine", "gantry-1", dialect="extended")
    change(shop, "bed", "long-bench", pose=TURNED)
    text = HEAD.replace("T1", "G55\nT1") + CUT
    (shop / "p.nc").write_text(f"{text}G53 G0 Z0\nM30\n", encoding="utf-8")
    (shop / "69.nc").write_text(text.replace("G80", "G80 G69") + "M30\n", encoding="utf-8")
    (shop / "plain.nc").write_text(f"{text}M30\n", encoding="utf-8")
    out = run("check", "p.nc", "--station", "left", "--tool", "1=6mm").out
    assert "line 2: it selects G55 while a rotation is on" in out
    assert "so take it out, as stamp does [rotation-left]" in out
    assert "line 11: G53 while a rotation is on" in out and "put G69 in front of it" in out
    assert "line 12: a rotation is on at the end: put G69 in front of M30, as stamp does" in out
    out = run("check", "69.nc", "--station", "left", "--tool", "1=6mm").out
    assert "line 1: G69 takes off the rotation that the block turned on" in out
    assert "turned by 0.5000 degrees against the part, up to 4.146 mm across the stock" in out
    ran = run("stamp", "plain.nc", "--station", "left", "-o", "out.nc", "--tool", "1=6mm")
    assert ran.code == 0, ran.err
    assert run("check", "out.nc", "--station", "left", "--tool", "1=6mm").code == 0
    assert run("check", "plain.nc", "--station", "left", "--tool", "1=6mm").code == 1
    codes = [e.code for e in Shop.open(shop).check("69.nc", station="left").findings]
    assert "not-read" in codes  # the Python front door reads it likewise


@pytest.mark.parametrize(("dialect", "nests"), [("rs274", {"a", "b"}), ("extended", {"b"})])
@pytest.mark.parametrize("word", ["block", "stamp"])
def test_a_paper_is_of_the_nests_that_its_block_writes(
    shop: Path, run: Run, word: str, dialect: str, nests: set[str]
) -> None:
    """A block that turns the axes writes one nest; no other nest's block counts as there by it."""
    change(shop, "machine", "gantry-1", dialect=dialect)
    named = ["end-bars"] if word == "block" else ["end-bar-notch", "--station", "end-bars"]
    ran = run(word, *named, "--nest", "b", "-o", "b.nc")
    assert ran.code == 0, ran.err
    out = run("history", "end-bars").out
    assert {nest for nest in "ab" if f"nest {nest} in b.nc" in out} == nests


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("G40 G80", "G40 G80 G69", "line 1: G69 takes off the rotation"),
        ("S18000", "G53 G0 Z0\nS18000", "line 4: G53 while a rotation is on"),
    ],
)
def test_repeat_reads_the_body_behind_its_blocks(
    shop: Path, run: Run, old: str, new: str, told: str
) -> None:
    """Every section turns the axes before its body, which may not take that off, nor go by machine
    coordinates; the selection and the end that each section has by itself keep nothing back."""
    change(shop, "machine", "gantry-1", dialect="extended")
    change(shop, "station", "spare", work_offsets={"a": "G54.1 P7"})
    change(shop, "bed", "long-bench", pose=TURNED)
    text = HEAD.replace("T1", "G55\nT1").replace("Z30\n", "Z30\nG55\n" * 30) + CUT + "M30\n"
    words = ("repeat", "p.nc", "--stations", "left,spare", "--retract", "-5", "-o", "out.nc",
             "--tool", "1=6mm")  # fmt: skip
    (shop / "p.nc").write_text(text.replace(old, new), encoding="utf-8")
    ran = run(*words)
    assert ran.code == 2 and told in ran.err and not (shop / "out.nc").exists()
    (shop / "p.nc").write_text(text, encoding="utf-8")
    ran = run(*words)
    assert ran.code == 0, ran.err


def test_a_section_without_its_selection_holds_its_program(own: Path, run: Run) -> None:
    """Under a rotation a section selects nothing; run knows its program again all the same."""
    change(own, "machine", "long", dialect="extended")
    change(own, "bed", "bench", pose={"x": 60, "y": 55, "angle": 0.1})
    repeat(run, "both.nc")
    assert not [why for why in reasons(own).values() if "does not hold" in why]
    assert plan(own)["windows"]


def test_run_says_that_stamping_helps(shop: Path) -> None:
    """A program that only stamping keeps from running has that said; a copy has windows."""
    change(shop, "machine", "gantry-1", dialect="extended")
    change(shop, "station", "spare", work_offsets={"a": "G54.1 P7"})
    change(shop, "bed", "long-bench", pose={**TURNED, "angle": 0.02})
    rows = report_of(planned(shop, "monday-sides"))["no_window"]
    whys = [row["why"] for row in rows if "left" in row["runs"]]
    assert whys and all("while a rotation is on" in why and "stamp it for" in why for why in whys)


@pytest.mark.parametrize(
    ("dialect", "number"),
    [
        ("extended", "O0026 is a program's number, and stands behind words that act"),
        ("rs274", "O0026 names or calls a subprogram; what it does is not followed"),
    ],
)
def test_where_a_block_is_pasted(shop: Path, run: Run, dialect: str, number: str) -> None:
    """Behind % and the program's number it is read as one that was stamped; in front of them both
    lines say where it goes, the number by what an O word is to the controller."""
    change(shop, "machine", "gantry-1", dialect=dialect)
    block = run("block", "left").out
    body = f"{HEAD}{CUT}{'G69' if dialect == 'extended' else ''}\nM30\n%\n"
    (shop / "in.nc").write_text(f"%\nO0026 (PIECE)\n{block}{body}", encoding="utf-8")
    ran = run("check", "in.nc", "--station", "left", "--tool", "1=6mm")
    assert ran.code == 0, ran.out
    (shop / "front.nc").write_text(f"{block}%\nO0026 (PIECE)\n{body}", encoding="utf-8")
    out = run("check", "front.nc", "--station", "left", "--tool", "1=6mm").out
    assert "a % that neither opens nor ends the program: controllers may never read" in out
    assert number in out and out.count("a setup block") == 1 + (dialect == "extended")
