"""The two doors: no other module writes files or prints, and nothing hostile leaves by them."""

from __future__ import annotations

import ast
import json
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest
import typer
from conftest import Ran, Run, without_help
from house_drawing import SOURCE, modules, nodes
from plans import change
from test_outputs import STATION

from pincorner.characters import hidden_in, is_hidden
from pincorner.cli.main import app

# ---- who may write -------------------------------------------------------------------------------

WRITES = {
    "staging.py": "the door for files",
    "registry/": "the database's own files",
    "work/files/browser.py": "the browser's profile, in a temporary folder",
    "cli/printing.py": "the null device, where standard output cannot be written any more",
}
"""Modules that make, rename or remove files, and why they may."""

PRINTS = {
    "render/templating/own_pages.py": "a child's answers to the process that asked, on a pipe",
    "cli/printing.py": "the door for text",
}

_MAKES = {
    "write_text", "write_bytes", "unlink", "rename", "rmdir", "mkdir", "symlink_to",
    "hardlink_to", "rmtree", "copy2", "copyfile", "copytree", "removedirs", "truncate", "makedirs",
    "mkstemp", "mkdtemp", "NamedTemporaryFile", "TemporaryFile", "TemporaryDirectory", "chmod",
}  # fmt: skip
"""What makes, renames or removes a file, whosever function it is."""

_MAKES_OF_A_MODULE = {"link", "symlink", "remove", "move", "open", "replace", "fdopen"}
"""Names that other things have as well: they count as functions of these modules."""
_FILE_MODULES = {"os", "shutil", "tempfile"}


def writes_in(code: Iterable[ast.AST]) -> Iterator[int]:
    """Lines that open a file to write, or make, rename or remove one."""
    return (node.lineno for node in code if isinstance(node, ast.Call) and _writes(node))


def _writes(call: ast.Call) -> bool:
    function = call.func
    if isinstance(function, ast.Name):
        return function.id in _MAKES or (function.id == "open" and _opens_to_write(call, 1))
    if not isinstance(function, ast.Attribute):
        return False
    name = function.attr
    if name in _MAKES_OF_A_MODULE and ast.unparse(function.value) in _FILE_MODULES:
        return True
    if name == "replace":  # of a path: texts replace two things, times and tuples by name
        return len(call.args) == 1 and not call.keywords
    if name == "touch":  # of a path: outlines touch something
        return not call.args
    if name == "open":
        return _opens_to_write(call, 0 if ast.unparse(function.value) != "io" else 1)
    return name in _MAKES


def _opens_to_write(call: ast.Call, at: int) -> bool:
    modes = [word.value for word in call.keywords if word.arg == "mode"] + call.args[at : at + 1]
    return any(not isinstance(mode, ast.Constant) or set(str(mode.value)) & set("wax+")
               for mode in modes)  # fmt: skip


_STREAMS = {
    "sys.stdout.write", "sys.stderr.write", "sys.stdout.buffer", "sys.stderr.buffer",
    "sys.__stdout__", "sys.__stderr__",
}  # fmt: skip
_ENDS = {each.rsplit(".", 1)[1] for each in _STREAMS}


def prints_in(code: Iterable[ast.AST]) -> Iterator[int]:
    """Lines that print, or take standard output or standard error in hand."""
    for node in code:
        if isinstance(node, ast.Call):
            function = node.func
            name = getattr(function, "id", None) or getattr(function, "attr", None)
            alone = isinstance(function, ast.Name) and name in ("print", "pprint")
            if alone or name in ("echo", "secho"):
                yield node.lineno
        if isinstance(node, ast.Attribute) and node.attr in _ENDS and ast.unparse(node) in _STREAMS:
            yield node.lineno


@pytest.mark.parametrize(
    ("found_in", "allowed"), [(writes_in, WRITES), (prints_in, PRINTS)], ids=["files", "text"]
)
def test_only_the_doors(
    found_in: Callable[[Iterable[ast.AST]], Iterator[int]], allowed: dict[str, str]
) -> None:
    """Every module that writes files or prints stands in a list with its reason, and no other."""
    found = {
        path.relative_to(SOURCE).as_posix(): lines
        for path in modules()
        if (lines := list(found_in(nodes(path)))) and "migrations" not in path.parts
    }
    ours = {name: (name if name in allowed else f"{name.split('/')[0]}/") for name in found}
    assert {name: found[name] for name, place in ours.items() if place not in allowed} == {}
    assert set(allowed) - set(ours.values()) == set(), "a reason for what no module does any more"


@pytest.mark.parametrize(
    "code",
    ["open('x', 'w')", "p.open('ab')", "p.open(mode)", "p.open(mode='r+')", "p.replace(q)",
     "os.replace(a, b)", "p.unlink()", "shutil.move(a, b)", "p.write_text(t)", "os.open(p, 1)",
     "p.mkdir()", "tempfile.mkstemp()", "io.open('x', mode='x')"],
)  # fmt: skip
def test_the_walk_sees_writing(code: str) -> None:
    """Each way to make, rename or remove a file is seen by the walk over the modules."""
    assert list(writes_in(ast.walk(ast.parse(code)))) == [1]


@pytest.mark.parametrize(
    "code", ["t.replace('a', 'b')", "p.open()", "p.open('rb')", "d.replace(tzinfo=None)",
             "names.remove('x')", "open('x')"],
)  # fmt: skip
def test_the_walk_sees_no_writing_in_reading(code: str) -> None:
    """What only reads, or replaces in texts, is not held for writing."""
    assert list(writes_in(ast.walk(ast.parse(code)))) == []


# ---- what leaves by standard output and standard error -------------------------------------------

HOSTILE = "\x1b]0;owned\x07\x1b[31m\x7f\x85\x9b2J\u202e\u2066\u200f\ufeff"
"""A title, a colour, a bell; DEL, NEL and CSI of C1; marks that turn what follows; a signature."""

NOTED = "".join(character for character in HOSTILE if character not in "\x1b\x07\x7f\x85\x9b")
"""What of it a note may hold: no controls."""


def assert_harmless(ran: Ran) -> None:
    """Nothing in what was printed acts on a terminal."""
    assert hidden_in(ran.out, "\n") == set(), ran.out
    assert hidden_in(ran.err, "\n") == set(), ran.err
    assert "Traceback" not in ran.err and "fault in pincorner" not in ran.err, ran.err


WORKS: dict[str, dict[str, str]] = {
    "start": {"folder": "further", "answer": "a1=1 2"},
    "example": {"kind": "station"},
    "edit": {"kind": "station", "name": "left"},
    "adopt": {"file": "offsets.csv", "bed": "long-bench", "pin": "peg-20"},
    "demo": {"folder": "another"},
    "init": {"folder": "another"},
    "load": {"files": "more.yaml"},
    "dump": {},
    "list": {},
    "show": {"name": "left"},
    "retire": {"kind": "run", "name": "monday-sides"},
    "history": {"name": "left"},
    "backup": {"file": "b.sqlite"},
    "restore": {"file": "a.sqlite"},
    "schema": {},
    "guide": {"topic": "start"},
    "upgrade": {},
    "register": {"station": "bench", "bed": "long-bench", "jig": "panel-tray", "pin": "peg-20",
                 "pins": "B2,E2,A4", "work_offset": "a=G54"},
    "offsets": {},
    "explain": {"station": "left"},
    "block": {"station": "left"},
    "sheet": {"stations": "left"},
    "refresh": {"stations": "left"},
    "map": {"bed": "long-bench", "output": "m.svg"},
    "check": {"program": "hand-hold", "station": "left"},
    "stamp": {"program": "hand-hold", "station": "left", "output": "s.nc"},
    "repeat": {"program": "roof-groove", "stations": "roof", "retract": "-5", "output": "r.nc"},
    "survey": {"bed": "long-bench", "file": "long-bench-survey.csv"},
    "resurface": {"bed": "long-bench", "depth": "0.4"},
    "disturbed": {"bed": "long-bench", "note": "board off"},
    "verify": {"station": "left", "x": "295.02", "y": "184.97"},
    "status": {},
    "run": {"name": "three-sides"},
    "place": {"bed": "long-bench", "jig": "panel-tray"},
}  # fmt: skip
"""Of each command the values with which it works in the demo's shop, by parameter."""

VALUES = ("a\udcffb", "", "1e308 in", "9" * 320, f"more{HOSTILE}.yaml")
"""Each of them is tried with every tenth argument or option; HOSTILE is with all of them."""


def group() -> dict[str, typer.core.TyperCommand]:
    """Every command of the application by its name."""
    commands: dict[str, typer.core.TyperCommand] = typer.main.get_command(app).commands  # type: ignore
    return commands


def command_line(name: str, values: dict[str, str]) -> list[str]:
    """A command line from values by parameter."""
    options, arguments = [], []
    for each in group()[name].params:
        if each.name in values and each.param_type_name == "option":
            options.append(f"{each.opts[-1]}={values[each.name]}")
        elif each.name in values:
            arguments.append(values[each.name])
    return [name, *options, "--", *arguments]


def prepare(shop: Path, run: Run) -> None:
    """Files that the lines of WORKS read, and one under a name that acts on a terminal."""
    text = f"format: 1\npins: [{{name: peg-9, shank: 9, body: 9, height: 9, note: {NOTED!r}}}]\n"
    (shop / "more.yaml").write_text(text, encoding="utf-8")
    (shop / f"more{HOSTILE}.yaml").write_text("stations: [{name: x}]", encoding="utf-8")
    (shop / "offsets.csv").write_text(
        f"station,x,y,jig,turn,note\nold,295,185,panel-tray,0,{NOTED}\n", encoding="utf-8"
    )
    shutil.copy(shop / "fixtures_db" / "registry.sqlite", shop / "a.sqlite")


def test_every_command_has_a_line_that_works() -> None:
    """A new command gets its line in the table, and is then tried with everything below."""
    assert set(WORKS) == set(group())


@without_help
@pytest.mark.parametrize("command", WORKS)
def test_no_value_acts_on_the_terminal_or_is_a_fault(shop: Path, run: Run, command: str) -> None:
    """Every argument and option with hostile text, no text and wild numbers: one harmless line."""
    prepare(shop, run)
    names = [each.name for each in group()[command].params
             if not getattr(each, "is_flag", False) and each.name != "help"]  # fmt: skip
    told_as_json = False
    for number, name in enumerate(names, list(WORKS).index(command)):
        line = command_line(command, {**WORKS[command], name: HOSTILE})
        ran = run(*line)
        assert_harmless(ran)
        if ran.code in (0, 1) and not told_as_json:  # a refusal is the same line with --json
            assert_harmless(run(line[0], "--json", *line[1:]))
            told_as_json = True
        if number % 2:
            value = VALUES[number // 2 % len(VALUES)]
            assert_harmless(run(*command_line(command, {**WORKS[command], name: value})))


# ---- the kinds of hostile text that F12 names ----------------------------------------------------


def hostile_shop(shop: Path, run: Run) -> None:
    """A shop whose notes hold what notes may hold, changed by somebody with such a name."""
    documents: dict[str, Any] = {"format": 1}
    for kind, name in (("bed", "long-bench"), ("jig", "panel-tray"), ("station", "left"),
                       ("run", "three-sides"), ("program", "hand-hold")):  # fmt: skip
        (shown,) = run("show", name, "--kind", kind, "--json").json["documents"]
        documents[f"{kind}s"] = [{**shown["document"], "note": f"noted {NOTED}"}]
    (shop / "noted.yaml").write_text(json.dumps(documents), encoding="utf-8")
    assert run("load", "noted.yaml", "--yes").code == 0


TELL_NOTES = (
    "dump", "list", "show", "history", "explain", "offsets", "block", "check", "status", "run",
)  # fmt: skip
"""Commands that tell what stands in documents, or who changed them."""


@without_help
def test_notes_and_login_names(shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Notes of documents and the login name act on no terminal, as text and as JSON."""
    prepare(shop, run)
    monkeypatch.setattr("getpass.getuser", lambda: f"eve{HOSTILE}\udcff")
    hostile_shop(shop, run)
    for command in TELL_NOTES:
        ran = run(*command_line(command, WORKS[command]))
        assert_harmless(ran)
        assert ran.code in (0, 1), (command, ran)
    for line in (("show", "left"), ("history",), ("status",), ("list", "stations")):
        ran = run(*line, "--json")
        assert_harmless(ran)
        json.loads(ran.out)


HOSTILE_FILES: dict[str, tuple[str, tuple[str, ...]]] = {
    "a name in a problem's place": (
        f"format: 1\npins: [{{name: {json.dumps(HOSTILE)}, shank: no}}]\n", ("load", "x.yaml")),
    "a key": (f"format: 1\n? {json.dumps(HOSTILE)}\n: 1\n", ("load", "x.yaml")),
    "no YAML": (f"format: 1\npins: [{{{HOSTILE}\n", ("load", "x.yaml")),
    "a comment of a program": (
        f"G21 ({HOSTILE}\nG0 X1\n", ("stamp", "x.yaml", *STATION, "-o", "o.nc")),
    "a tool of a program": (
        f"G21 G90\nG55\n{HOSTILE}T1 M6\nG0 X1\n", ("stamp", "x.yaml", *STATION, "-o", "o.nc")),
    "a program that is repeated": (
        f"G21 G90\nG55\n({HOSTILE})\nM98 P1 {HOSTILE}\nM30\n",
        ("repeat", "x.yaml", "--stations", "left", "--retract", "-5", "-o", "o.nc")),
    "what a repeat says it repeats": (
        f"(repeat of program {HOSTILE} at left)\nG0 X1\n", ("check", "x.yaml", *STATION)),
    "a block's station": (
        f"(setup left{HOSTILE} a 1234-ABCD from here)\nG0 X1\n", ("check", "x.yaml", *STATION)),
    "a survey": (f"hole,x_mm,y_mm\nA1{HOSTILE},1,2\n", ("survey", "long-bench", "x.yaml")),
    "a survey's head": (f"hole{HOSTILE},x_mm,y_mm\n", ("survey", "long-bench", "x.yaml")),
    "a backup": (HOSTILE, ("restore", "x.yaml", "--force")),
    "a template": (f"{{{{ {HOSTILE}", ("sheet", "left", "-o", "p")),
}  # fmt: skip


@pytest.mark.parametrize("what", HOSTILE_FILES)
@pytest.mark.parametrize("name", ["x.yaml", f"x{HOSTILE}.yaml"], ids=["plain name", "odd name"])
def test_hostile_files(shop: Path, run: Run, what: str, name: str) -> None:
    """What stands in a file, and what it is called, acts on no terminal when it is told (F12)."""
    text, line = HOSTILE_FILES[what]
    (shop / name).write_text(text, encoding="utf-8", errors="surrogateescape")
    if what == "a template":
        (shop / "templates" / "sheet.html.j2").write_text(text, encoding="utf-8")
    ran = run(*(name if word == "x.yaml" else word for word in line))
    assert ran.code != 0
    assert_harmless(ran)


def test_the_door_for_text_takes_out_what_is_hidden(
    capfdbinary: pytest.CaptureFixture[bytes],
) -> None:
    """Text, errors, progress and JSON: what is hidden goes, or is escaped; lines and JSON stay."""
    from pincorner.cli import printing

    printing.print_text(f"a{HOSTILE}\tb\nc\n")
    printing.print_error(f"e{HOSTILE}\udc80")
    progress = printing.Progress()
    progress._live = True
    progress.tell(f"p{HOSTILE}")
    progress.done()
    report = {"text": f"{HOSTILE}\udc80\U000e0001\n\t天"}
    printing.print_json(report)
    out, err = (text.decode("utf-8") for text in capfdbinary.readouterr())
    shown = "".join(each for each in HOSTILE if not is_hidden(each))
    assert out.startswith(f"a{shown} b\nc\n")
    assert err.startswith(f"e{shown}\n\rp{shown}\r")
    assert json.loads(out.split("\n", 2)[2]) == report and "天" in out
    assert hidden_in(out, "\n") == set() and hidden_in(err, "\n\r") == set()


def test_a_block_is_printed_byte_for_byte(shop: Path, run: Run) -> None:
    """What block prints is what it writes to a file."""
    assert run("block", "left", "-o", "b.nc").code == 0
    assert run("block", "left").out.encode("ascii") == (shop / "b.nc").read_bytes()


def test_a_dump_escapes_and_loads_again(shop: Path, run: Run) -> None:
    """Marks in notes leave a dump escaped, on the terminal and in a file, and come back whole."""
    hostile_shop(shop, run)
    change(shop, "station", "right", note="turned \u202e by a mark alone")
    text = run("dump").out
    assert hidden_in(text, "\n") == set() and "\\U0000202E" in text
    (shop / "all.yaml").write_text(text, encoding="utf-8")
    assert run("load", "all.yaml").out.startswith("0 new, 0 changed")
    shown = run("show", "left", "--kind", "station", "--json").json["documents"][0]["document"]
    assert shown["note"] == f"noted {NOTED}"
    note = run("show", "right", "--json").json["documents"][0]["document"]["note"]
    assert note == "turned \u202e by a mark alone"


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such names")
def test_login_names_that_are_no_text(
    shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A login name of bytes that are no UTF-8, or of marks alone, is kept as plain text (F11)."""
    monkeypatch.setenv("LOGNAME", "\udcff")
    assert run("block", "left", "-o", "b.nc").code == 0
    assert run("history", "left", "--json").json["events"][-1]["who"] == "unknown"
    monkeypatch.setenv("LOGNAME", f"e{HOSTILE}v\udce8")
    assert run("block", "left", "-o", "b.nc", "--force").code == 0
    assert run("history", "left", "--json").json["events"][-1]["who"].startswith("e]0;owned")


def test_a_place_that_cannot_be_looked_at_is_no_fault(
    shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the system refuses is told with the place and its reason, and not as a fault of ours."""
    from pincorner.work import reports

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied", f"in{HOSTILE}ner")

    monkeypatch.setattr(reports, "dump", refuse)
    ran = run("dump")
    assert ran.code == 2 and ran.err.endswith("ner cannot be used: Permission denied\n")
    assert_harmless(ran)
