"""Every command: exit codes, what goes to which stream, JSON, examples in the helps."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest
from conftest import Ran, Run

CORNER = ("--pin", "peg-20", "--corner", "A2", "--toward", "+x+y")
TRAY = ("--bed", "long-bench", "--jig", "panel-tray", "--pin", "peg-20")
PINS = ("--pins", "B2,E2,A4")
LONG = "x" * 300
COMMANDS = ["demo", "init", "load", "dump", "list", "show", "register", "retire", "offsets",
            "explain", "block", "sheet", "map", "history", "schema", "upgrade"]  # fmt: skip

# A command line in the demo's shop, then a fragment of standard output. All leave with 0.
DONE: list[tuple[tuple[str, ...], str]] = [
    (("load", "more.yaml", "--dry-run"), "1 new, 0 changed, 0 as before; nothing written"),
    (("dump",), "format: 1\nunits: mm\n"),
    (("list",), " on long-bench; a G57, b G58\n"),
    (("list", "runs"), "run   three-sides   stations left, right, spare\n"),
    (("list", "programs"), "program  hand-hold         file hand-hold.nc\n"),
    (("list", "pins"), "pin   peg-12  20 in the hole, 12 mm above, 16 high\n"),
    (("list", "stations", "--as-of", "1999-01-01"), "nothing\n"),
    (("show", "LEFT"), "stations:\n- name: left\n"),
    (("register", "bench", *TRAY, *PINS, "--work-offset", "a=g54"), "bench    a     G54"),
    (("register", "bench", *TRAY, *PINS, "--work-offset", "g54"), "bench    a     G54"),
    (("register", "roof", "--work-offset", "G54"), "roof     a     G54"),
    (("register", "bench", "--bed", "long-bench", "--stock", "150,250,18", *CORNER), "chose "),
    (("register", "left", *TRAY, *PINS, "--replace"), "94.990  184.990"),
    (("retire", "run", "monday-sides"), "retired run monday-sides"),
    (("offsets",), "left      a     G55     294.990  184.990    38.000    0.08    0.18"),
    (("offsets", "Left", "--as-of", "2099-01-01"), "294.990  184.990"),
    (("explain", "left"), "X = 60.0000 + 234.9900 cos 0.00000"),
    (("explain", "end-bars", "--nest", "B"), "nest b"),
    (("block", "left"), "\nG10 L2 P2 X294.990 Y184.990\nG55\n"),
    (("block", "end-bars", "--nest", "b"), "\nG58\n"),
    (("block", "left", "--stock-thickness", "3/4 in"), "Z0 IS 37.050 MM ABOVE"),
    (("sheet", "left", "-o", "new"), "left.html\n"),
    (("map", "long-bench", "-o", "new.svg"), "new.svg\n"),
    (("history", "left"), "  demo  station left: new\n"),
    (("show", "bed", "long-bench"), "# bed long-bench, last changed"),
    (("place", "panel-tray"), "places for panel-tray on long-bench, best first"),
    (("schema",), '"title": "pincorner documents"'),
    (("upgrade",), "up to date already\n"),
    (("init", "inner"), "registry.sqlite"),
    (("--help",), "Start with: pincorner start"),
    (("help", "block"), "\n  See also:  pincorner guide blocks\n"),
]

# A bad command line, then a fragment of the line on standard error. All leave with 2.
BAD: list[tuple[tuple[str, ...], str]] = [
    (("bogus",), "No such command 'bogus'; see pincorner --help"),
    (("--nope", "list"), "No such option: --nope"),
    (("demo", "."), "exists already; it was left as it is"),
    (("init",), "exists already; it was left as it is"),
    (("init", "left-block.nc"), "left-block.nc cannot be used"),
    (("init", "q", "--units", "cm"), "--units: expected mm or in, got cm"),
    (("load",), "Missing argument 'FILE...'; see pincorner load --help"),
    (("load", "none.yaml"), "none.yaml cannot be read"),
    (("load", "sheets"), "sheets cannot be read"),
    (("load", "left-block.nc"), "left-block.nc:1: expected keys such as stations:"),
    (("dump", "-o", "left-block.nc"), "left-block.nc exists; choose another name"),
    (("list", "toys"), "there is no kind toys; kinds are machine, bed"),
    (("list", "--as-of", "yesterday"), "--as-of: expected a date or time"),
    (("check", "hand-hold", "--station"), "requires an argument; see pincorner check --help"),
    (("sheet", "left", "-o", "left.pdf"), "-o left.pdf: pages go into a folder, one file for each"),
    (("sheet", "--all", "-o", "all.html"), "-o all.html: pages go into a folder, one file for"),
    (("sheet", "--run", "three-sides", "-o", "r.pdf"), "-o r.pdf: pages go into a folder"),
    (("show", "--"), "Missing argument 'name'; see pincorner show --help"),
    (("show", "floor", "board"), 'in quotes: pincorner show "floor board"'),
    (("edit", "jig", "floor", "board"), 'in quotes: pincorner edit jig "floor board"; see'),
    (("block", "my", "first", "one", "--nest", "a"), 'block "my first one" --nest a; see'),
    (("show", "--", "-x"), "no document is named -x"),
    (("show", LONG), f"no document is named {LONG}"),
    (("show", "lefd"), "no document is named lefd; did you mean left?"),
    (("show", "0000-0000"), "no setup of this registry has or had the fingerprint 0000-0000"),
    (("register", "s", *TRAY), "expected pins, or corner and toward"),
    (("register", "s", "--bed", "long-bench", *CORNER), "expected jig or, for bare stock, stock"),
    (("register", "", *TRAY, *PINS), "name: expected a name of 1 to 64 characters, got 0"),
    (("register", LONG, *TRAY, *PINS), "name: expected a name of 1 to 64 characters, got 300"),
    (("register", "a/b", *TRAY, *PINS), "name: a name is made of letters"),
    (("register", "a\u202eb", *TRAY, *PINS), "name: a name is made of letters"),
    (("register", "left", *TRAY, *PINS), "station left is registered already"),
    (("register", "LEFT", *TRAY, *PINS), "is registered already"),
    (("register", "s", *TRAY, "--pins", "D2"), "--pins: expected three holes"),
    (("register", "s", *TRAY, "--pins", "D2,G2"), "panel-tray is located by three pins"),
    (("register", "s", *TRAY, "--pins", "H5,E2,A4"), "hole H5 of bed long-bench is marked missing"),
    (("register", "s", *TRAY, "--pins", "B2,O2,A4"), "edge of panel-tray ends at 460.000 mm"),
    (("register", "s", *TRAY, "--pins", "B2,ZZ2,A4"), "bed long-bench has no hole ZZ2"),
    (("register", "s", *TRAY, *PINS, "--toward", "-x+y"), "but toward says -x+y"),
    (("register", "s", *TRAY, *PINS, "--turn", "45"), "turn: expected 0, 90, 180 or 270"),
    (("register", "s", *TRAY, *PINS, "--program", "nope"), "no program is named nope"),
    (("register", "s", *TRAY, *PINS, "--work-offset", "a"), "--work-offset: expected NEST=CODE"),
    (("register", "s", *TRAY, *PINS, "--work-offset", "a=G53"), "expected a work offset such as"),
    (("register", "s", *TRAY, *PINS, "--work-offset", "G53"), "--work-offset: expected NEST=CODE"),
    (("register", "end-bars", "--work-offset", "G54"), "there are nests a, b; say of which, such "),
    (("register", "left", "--work-offset", "G54", "--work-offset", "G56"), "G54 was given already"),
    (("register", "left", "--work-offset", "a=G54", "--work-offset", "G56"), "nest a was given a"),
    (("register", "s", "--bed", "long-bench", "--stock", "nan,2,3", *CORNER), "--stock: expected"),
    (("retire", "station", "nope"), "no station is named nope"),
    (("retire", "bed", "long-bench"), "is needed by station end-bars"),
    (("offsets", "--", "-x"), "no station is named -x"),
    (("offsets", "Кобылка"), "no station is named Кобылка"),
    (("offsets", "left", "--as-of", "1999-01-01"), "no station is named left"),
    (("explain",), "Missing argument 'STATION'"),
    (("block", "left", "--nest", "z"), "no nest of panel-tray is named z; known: a"),
    (("block", "left", "--stock-thickness", "0"), "--stock-thickness: expected a size above 0"),
    (("block", "left", "-o", "sheets"), "sheets is a folder; name a file"),
    (("sheet",), "name stations, or say --all"),
    (("sheet", "left", "--all"), "name stations, or say --all"),
    (("sheet", "left", "--paper", "a3"), "--paper: expected a4 or letter, got a3"),
    (("map", "long-bench"), "-o: name a file to draw the map in"),
    (("map", "long-bench", "-o", "map.pdf"), "it is drawn as"),
    (("history", "nope"), "no document is named nope"),
    (("restore", "nofile", "--force"), "there is no backup nofile; name a file that"),
    (("block", "left", "-o", "sub/new/x.nc"), "there is no folder"),
    (("sheet", "left", "-o", "hand-hold.nc"), "this is a file; name the folder"),
    (("--db", "foo://x", "list"), "is not a database URL"),
]  # fmt: skip


def short(value: tuple[str, ...] | str) -> str:
    """What a test case is called."""
    return (value if isinstance(value, str) else " ".join(value))[:60]


def line_of(ran: Ran, code: int) -> str:
    """The one line on standard error of a command that failed in an orderly way."""
    assert (ran.code, ran.out) == (code, ""), ran
    assert "Traceback" not in ran.err and "a fault in pincorner" not in ran.err, ran.err
    assert ran.err.endswith("\n") and ran.err.count("\n") == 1, ran.err
    return ran.err


@pytest.mark.parametrize(("line", "fragment"), DONE, ids=short)
def test_done(shop: Path, run: Run, line: tuple[str, ...], fragment: str) -> None:
    """A good command line leaves with 0, prints what was asked for, and no error."""
    (shop / "more.yaml").write_text("format: 1\npins: [{name: q, shank: 8, body: 8, height: 9}]\n")
    ran = run(*line)
    assert (ran.code, ran.err) == (0, "")
    assert fragment in ran.out


@pytest.mark.parametrize(("line", "fragment"), BAD, ids=short)
def test_bad_use(in_demo: Path, run: Run, line: tuple[str, ...], fragment: str) -> None:
    """A bad command line leaves with 2, says why in one line on standard error, changes nothing."""
    before = (in_demo / "fixtures_db" / "registry.sqlite").read_bytes()
    assert fragment in line_of(run(*line), 2)
    assert (in_demo / "fixtures_db" / "registry.sqlite").read_bytes() == before


SEVERAL: dict[tuple[str, ...], str] = {
    ("register", "s", *TRAY, "--pins", "D2", "--under", "x"): "D2'\n--under: expected a length",
    ("register", "s", *TRAY, "--turn", "45", "--toward", "x"): "got 'x'; turn: expected 0, 90,",
    ("offsets", "lefd", "rigt"): "did you mean left?\nno station is named rigt; did",
    ("repeat", "hand-hold", "--stations", "left,a,b", "--retract", "-5", "-o", "x.nc"):
        "no station is named a; known: end-bars, left, right, roof, spare\nno station is named b;",
    ("repeat", "hand-hold", "--stations", "left", "--retract", "z", "-o", "x.nc", "--order", "s"):
        "--order: expected station or tool, got s\n--retract: expected a length",
    ("stamp", "hand-hold", "--station", "left", "-o", "x.nc", "--tool", "1", "--code", "G54"):
        "--tool: expected NUMBER=DIAMETER, such as 1=6mm; got '1'\n--code: expected OLD=NEW",
    ("check", "hand-holt", "--station", "lefd"):
        "no station is named lefd; did you mean left?\nno program is named hand-holt; did you",
    ("place", "panel-trai", "--bed", "long-banch", "--pin", "peg"):
        "did you mean long-bench?\nno jig is named panel-trai; did you mean panel-tray?\nno pin",
    ("verify", "left", "--x", "a", "--y", "b"): "got 'a'\n--y: expected a length",
    ("resurface", "long-bench", "--depth", "x", "--surface", "y"): "got 'x'\n--surface: expected a",
    ("check", "hand-hold", "--station", "left", "--tool", "1", "--margin", "-1"):
        "--margin: expected nothing or more, got -1\n--tool: expected NUMBER=DIAMETER",
}  # fmt: skip


def test_all_that_is_wrong_with_a_line_is_told(in_demo: Path, run: Run) -> None:
    """Several options, or several names, that are wrong: each is told, and nothing is written."""
    for line, told in SEVERAL.items():
        ran = run(*line)
        assert (ran.code, ran.out) == (2, "") and told in ran.err, (line, ran)
    assert not (in_demo / "x.nc").exists()


@pytest.mark.parametrize(
    ("line", "fragment"),
    [
        (
            ("register", "s", *TRAY, *PINS, "--work-offset", "a=G54", "--work-offset", "A=G55"),
            "--work-offset",
        ),
        (("register", "s", *TRAY, *PINS, "--work-offset", "q=G54"), "--work-offset"),
        (("register", "s", "--bed", "long-bench", "--stock", "1,2", *CORNER), "--stock: expected"),
        (("block", "left", "-o", "left-block.nc/x.nc"), "left-block.nc"),
        (("block", "left", "-o", f"{LONG}.nc"), "cannot be written"),
        (("show", "\udcff"), "no document is named"),
        (("history", "\udcff"), "no document is named"),
        (("retire", "station", "spare", "--note", "\udcff"), "--note"),
        ((), "pincorner --help"),
    ],
    ids=short,
)
def test_bad_use_is_told_as_one_clear_line(
    shop: Path, run: Run, line: tuple[str, ...], fragment: str
) -> None:
    """Odd paths, undecodable words and an option said twice are bad input, not faults."""
    told = line_of(run(*line), 2)
    assert fragment in told and len(told) < 1000


@pytest.mark.parametrize("command", sorted(set(COMMANDS) - {"demo", "init", "schema"}))
def test_no_registry(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    """Where there is no registry every command that needs one leaves with 3 and says what to do."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    (tmp_path / "a.yaml").write_text("format: 1\n", encoding="utf-8")
    words = {"load": ["a.yaml"], "show": ["a"], "register": ["a", *TRAY, *PINS], "map": ["a", "-o",
             "a.svg"], "retire": ["bed", "a"], "explain": ["a"], "block": ["a"],
             "sheet": ["a"]}.get(command, [])  # fmt: skip
    assert "pincorner init" in line_of(run(command, *words), 3)
    assert "no registry at gone.sqlite" in line_of(run("--db", "gone.sqlite", command, *words), 3)
    assert "is no registry" in line_of(run("--db", "a.yaml", command, *words), 3)
    assert [path.name for path in tmp_path.iterdir()] == ["a.yaml"]


def test_help_is_in_groups(run: Run) -> None:
    """Every command stands in one group, and says where to read on: a topic that there is."""
    from test_doors import group

    from pincorner.cli.main import GROUPS
    from pincorner.render.text.guide import TOPICS

    grouped = [name for names in GROUPS.values() for name in names]
    assert sorted(grouped) == sorted(group())
    lines = run("--help").out.splitlines()
    assert [line for line in lines if line.endswith("...") and "Usage" not in line] == []
    told = run("--help").out
    places = [told.index(f"{title}:\n") for title in GROUPS]
    assert places == sorted(places)
    for name in group():
        assert f"\n  {name} " in told
        page = GROUPS[next(title for title in GROUPS if name in GROUPS[title])][name]
        assert run(name, "--help").out.endswith(f"\n  See also:  {page}\n")
        assert page.removeprefix("pincorner guide ") in TOPICS


def examples(run: Run, command: str) -> list[list[str]]:
    """The command lines under `Example:` in a command's help, as words."""
    text = run(command, "--help").out
    found = re.findall(r"Example:\s+(pincorner .*?)(?:\n\s*\n)", text, re.DOTALL)
    return [shlex.split(" ".join(line.split()))[1:] for line in found]


@pytest.mark.parametrize("command", COMMANDS)
def test_help_example_runs(shop: Path, run: Run, command: str) -> None:
    """Every command's help has an example, and the example runs in the demo's shop."""
    for paper in [shop / "left-block.nc", shop / "long-bench.html", *(shop / "sheets").iterdir()]:
        paper.unlink()
    for name in ("bed.yaml", "jigs.yaml"):
        (shop / name).write_text("format: 1\n", encoding="utf-8")
    lines = examples(run, command)
    assert lines
    for words in lines:
        ran = run(*words)
        assert (ran.code, ran.err) == (0, ""), words


JSON_LINES = ["load more.yaml --dry-run", "list", "show left", "history", "offsets", "block left",
              "register s --bed long-bench --jig panel-tray --pin peg-20 --pins B2,E2,A4",
              "sheet left -o p"]  # fmt: skip


@pytest.mark.parametrize("line", JSON_LINES)
def test_json_alone(shop: Path, run: Run, line: str) -> None:
    """Under --json standard output is one JSON value with format 1 and its kind, LF, UTF-8."""
    text = 'format: 1\nprograms: [{name: q, file: "łąka.nc", note: "ü\\n"}]\n'
    (shop / "more.yaml").write_text(text, encoding="utf-8")
    assert run("load", "more.yaml", "--note", "näher", "--by", "Ünal").code == 0
    ran = run(*line.split(), "--json")
    assert (ran.code, ran.err) == (0, "")
    assert ran.json["format"] == 1 and isinstance(ran.json["kind"], str)
    assert "\r" not in ran.out and ran.out.endswith("}\n")
    assert json.dumps(ran.json, ensure_ascii=False, indent=2) + "\n" == ran.out
