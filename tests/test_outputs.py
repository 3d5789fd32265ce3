"""The door for files: what no output replaces, names that fit, and what a kill leaves behind."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
import typer
from conftest import Run
from faults.children import Nursery, Work
from plans import change
from test_papers import state
from thinning import thinned

from pincorner import staging
from pincorner.cli.main import app
from pincorner.errors import BadInput, FileExists
from pincorner.work.files import outputs
from pincorner.work.files.outputs import Outputs
from pincorner.work.never_replaced import outputs_of
from pincorner.work.session import open_session

STATION = ("--station", "left")
LINES: dict[str, tuple[tuple[str, ...], str]] = {
    "block": (("block", "left"), "x.nc"),
    "dump": (("dump",), "x.yaml"),
    "stamp": (("stamp", "hand-hold", *STATION), "x.nc"),
    "repeat": (("repeat", "roof-groove", "--stations", "roof", "--retract", "-5"), "x.nc"),
    "check": (("check", "hand-hold", *STATION), "x.svg"),
    "sheet": (("sheet", "left"), "left.html"),
    "map": (("map", "long-bench"), "x.svg"),
    "survey": (("survey", "long-bench", "long-bench-survey.csv"), "x.svg"),
    "run": (("run", "monday-sides"), "x.html"),
    "place": (("place", "--stock", "1400,560,18", "--pin", "peg-12"), "x.svg"),
    "history": (("history", "left"), "x.svg"),
    "backup": (("backup",), "x.sqlite"),
}
"""Each command that writes a file where it is told, without the place, and a name that it takes."""

OTHER_WRITERS = {"demo": "files of a new shop folder", "init": "a new shop folder"}
"""Commands that write files nobody names one by one."""

each_command = pytest.mark.parametrize("command", LINES)
POSIX = pytest.mark.skipif(os.name == "nt", reason="made of what POSIX systems have")


def line_for(command: str, target: Path) -> list[str]:
    """The command line that writes to a place, by force."""
    words, _ = LINES[command]
    place = str(target.parent if command == "sheet" else target)
    return [*words, *(() if command == "backup" else ("-o",)), place, "--force"]


def test_every_command_that_writes_is_here() -> None:
    """Whatever has -o, or names a file to write, is tried below; a new command joins the table."""
    group = typer.main.get_command(app)
    commands = group.commands  # type: ignore[attr-defined]
    assert set(LINES) | set(OTHER_WRITERS) <= set(commands)
    with_output = {
        name
        for name, command in commands.items()
        for each in command.params
        if "--output" in each.opts or "--force" in each.opts
    }
    assert with_output - {"restore"} == set(LINES)  # restore writes the registry itself


@each_command
def test_every_command_goes_by_the_door(shop: Path, run: Run, command: str) -> None:
    """Whatever a command writes, a link to the registry in its place is refused, with --force."""
    target = shop / "out" / LINES[command][1]
    target.parent.mkdir()
    target.symlink_to(shop / "fixtures_db" / "registry.sqlite")
    before = state(shop)
    ran = run(*line_for(command, target))
    assert ran.code == 2 and ran.err.count("\n") == 1, ran
    assert ran.err.endswith(" is the registry, which no output replaces; name another file\n")
    assert state(shop) == before and target.is_symlink()


@pytest.fixture
def door(shop: Path) -> Outputs:
    """The way out for the files of a command that is given in the shop, with --force."""
    (shop / "templates" / "sheet.css.j2").write_text("/* mine */", encoding="utf-8")
    return outputs_of(open_session(None, None, "dump"), force=True)


@pytest.mark.parametrize("link", ["symbolic", "hard"])
def test_what_is_never_replaced(shop: Path, door: Outputs, link: str) -> None:
    """The registry, programs on file, templates and databases stay, whatever links to them."""
    registry = shop / "fixtures_db" / "registry.sqlite"
    beside = registry.with_name("other.sqlite")
    beside.write_bytes(registry.read_bytes())
    for number, (what, path) in enumerate({
        "the registry": registry,
        "the file of program end-bar-notch": shop / "end-bar-notch.nc",
        "a template of the shop": shop / "templates" / "sheet.css.j2",
        "a database": beside,
    }.items()):  # fmt: skip
        target = shop / f"out-{number}"
        target.symlink_to(path) if link == "symbolic" else target.hardlink_to(path)
        with pytest.raises(BadInput, match=f" is {what}.*, which no output replaces; name another"):
            door.refuse(target)


@pytest.mark.parametrize(
    "spelling",
    ["fixtures_db/registry.sqlite", "fixtures_db/../fixtures_db//registry.sqlite",
     "./fixtures_db/registry.sqlite-journal", "fixtures_db/registry.sqlite-wal",
     "fixtures_db/REGISTRY.SQLITE-SHM", "{shop}/fixtures_db/registry.sqlite"],
)  # fmt: skip
def test_the_registry_however_it_is_spelt(shop: Path, door: Outputs, spelling: str) -> None:
    """The registry and what belongs to it are seen through their spellings, there or not (F3)."""
    with pytest.raises(BadInput, match="registry, which no output replaces"):
        door.refuse(Path(spelling.format(shop=shop)))


def test_a_registry_of_another_shop(shop: Path, run: Run, tmp_path: Path) -> None:
    """A backup does not replace the registry of another shop, as it does an earlier backup."""
    other = tmp_path / "other"
    assert run("init", other).code == 0
    ran = run("backup", other / "fixtures_db" / "registry.sqlite", "--force")
    assert ran.code == 2 and "the registry of a shop" in ran.err
    assert run("backup", "b.sqlite").code == run("backup", "b.sqlite", "--force").code == 0


def test_a_program_that_is_not_there_yet(shop: Path, run: Run) -> None:
    """The place of a program on file is kept before the program is posted to it, too."""
    change(shop, "program", "hand-hold", file="later.nc")
    for name in ("later.nc", "sheets/../later.nc"):
        ran = run("stamp", "hand-hold.nc", *STATION, "-o", name)
        assert ran.code == 2 and "the file of program hand-hold" in ran.err
    assert not (shop / "later.nc").exists()


def test_inputs_are_never_replaced(shop: Path, run: Run) -> None:
    """What a command reads it does not write: programs by path, surveys under a drawing's name."""
    (shop / "own.nc").write_bytes((shop / "hand-hold.nc").read_bytes())
    (shop / "own.svg").write_bytes((shop / "long-bench-survey.csv").read_bytes())
    (shop / "program.svg").write_bytes((shop / "hand-hold.nc").read_bytes())
    before = state(shop)
    for line in (
        ("stamp", "own.nc", *STATION, "-o", "own.nc"),
        ("repeat", "own.nc", "--stations", "left", "--retract", "-5", "-o", "own.nc"),
        ("survey", "long-bench", "own.svg", "-o", "./own.svg"),
        ("check", "program.svg", *STATION, "-o", "program.svg"),
    ):
        ran = run(*line, "--force")
        assert ran.code == 2 and "that is read, which no output replaces" in ran.err, (line, ran)
    assert state(shop) == before


@POSIX
def test_folders_fifos_and_devices(tmp_path: Path) -> None:
    """A folder, a fifo, a device and a link to one stay what they are, with --force."""
    folder, fifo, link = (tmp_path / name for name in ("folder", "fifo", "link"))
    folder.mkdir()
    os.mkfifo(fifo)
    link.symlink_to(os.devnull)
    for target, told in ((folder, "is a folder"), (fifo, "no plain file"), (link, "no plain file"),
                         (Path(os.devnull), "no plain file")):  # fmt: skip
        with pytest.raises(BadInput, match=told):
            Outputs(force=True).refuse(target)


def test_a_link_to_nothing_is_something(tmp_path: Path) -> None:
    """A symbolic link whose file is gone is not replaced without --force."""
    target = tmp_path / "x.nc"
    target.symlink_to(tmp_path / "gone")
    with pytest.raises(FileExists, match="say --force"):
        Outputs(force=False).refuse(target)
    Outputs(force=True).refuse(target)


@pytest.mark.parametrize("command", [each for each in LINES if each != "sheet"])  # names its own
def test_names_as_long_as_the_system_takes(shop: Path, run: Run, command: str) -> None:
    """A name of 255 bytes is written; a longer one is told in one line, exit code 2 (F14, F11).

    Two ways lead out: bytes that a command has, and what a database writes by itself.
    """
    suffix = Path(LINES[command][1]).suffix
    room = 255 - len(suffix)
    stem = "x" * (room % 2) + "é" * (room // 2)
    ran = run(*line_for(command, shop / f"{stem}{suffix}"))
    assert ran.code in (0, 1), ran
    assert (shop / f"{stem}{suffix}").is_file()
    assert not [path for path in shop.iterdir() if path.name.startswith(".")]
    for length in (300, 5000) if command in ("dump", "backup") else ():
        ran = run(*line_for(command, shop / f"{'x' * length}{suffix}"))
        assert ran.code == 2 and "cannot be written: File name too long" in ran.err
        assert ran.err.count("\n") == 1


@each_command
def test_names_that_are_no_text(shop: Path, run: Run, command: str) -> None:
    """A name that is no UTF-8 is refused in one line that shows its bytes, whatever is written."""
    target = shop / "o\udcff" / "x.svg"
    target = target if command == "sheet" else shop / f"x\udcff{Path(LINES[command][1]).suffix}"
    before = state(shop)
    ran = run(*line_for(command, target))
    assert ran.code == 2 and "\\udcff" in ran.err and "is no UTF-8 text" in ran.err, ran
    assert state(shop) == before


@pytest.mark.parametrize("name", ["NUL", "con.nc", "Lpt1.svg", "aux .txt"])
def test_devices_of_windows(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """On Windows a name that is a device there is refused; elsewhere it is a name like others."""
    Outputs(force=True).refuse(Path(name))
    monkeypatch.setattr(outputs, "IS_WINDOWS", True)
    with pytest.raises(BadInput, match="is a device"):
        Outputs(force=True).refuse(Path(name))


def test_of_two_that_write_one_file_one_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without --force a file that comes into being meanwhile is not replaced, links or none."""

    def no_links(self: Path, target: Path) -> None:
        raise OSError(95, "Operation not supported")

    for number in range(2):
        path = tmp_path / f"x{number}"
        staged = staging.hidden_name(path)
        Outputs(force=False).stage(path, staged, [b"mine"])
        path.write_bytes(b"theirs")
        with pytest.raises(FileExists):
            Outputs(force=False).place(staged, path)
        assert path.read_bytes() == b"theirs" and not staged.exists()
        monkeypatch.setattr(Path, "hardlink_to", no_links)


@pytest.mark.parametrize("links", [True, False])
def test_what_is_kept_of_an_old_file_is_never_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    """Each old file has a number of its own, whoever takes numbers meanwhile, links or none; what
    fails takes its own away and no other's."""
    from pincorner.work.runs.refreshing import kept_beside

    def no_links(*_: object, **__: object) -> None:
        raise OSError(95, "Operation not supported")

    if not links:
        monkeypatch.setattr(os, "link", no_links)
    path, first = tmp_path / "a.html", tmp_path / "a.html.old-1"
    path.write_bytes(b"new")
    first.write_bytes(b"the only old one")
    with pytest.raises(FileExistsError):
        staging.keep(path, first)
    with kept_beside(path) as mine, kept_beside(path) as theirs:
        assert mine is not None and mine.name == "a.html.old-2"
        assert theirs is not None and theirs.name == "a.html.old-3"
    with pytest.raises(ZeroDivisionError), kept_beside(path):
        raise ZeroDivisionError
    path.unlink()
    with kept_beside(path) as nothing:
        assert nothing is None
    kept = {each.name[-5:]: each.read_bytes() for each in tmp_path.iterdir()}
    assert kept == {"old-1": b"the only old one", "old-2": b"new", "old-3": b"new"}


def test_leftovers_are_swept_and_work_under_way_is_not(tmp_path: Path) -> None:
    """Of files under hidden names those of dead processes go, those of running ones stay."""
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    mine = staging.hidden_name(tmp_path / "a.nc")
    owner = mine.name[-staging.OWNER_DIGITS :]
    machine, process, rest = owner[:4], owner[4:12], owner[12:]
    dead = f"{machine}{gone.pid:08x}{rest}"
    elsewhere = f"{'0' if machine[0] != '0' else '1'}{machine[1:]}{gone.pid:08x}{rest}"
    names = {
        f".a.nc.{dead}": False,
        f".a.sqlite.{dead}-journal": False,
        f".a.sqlite.{dead}-writer": False,
        f".a.nc.{owner}": True,
        f".a.nc.{elsewhere}": True,
        f".a.nc.{dead}.old": True,  # what a paper replaced: its trail knows what becomes of it
        ".a.nc.20261125": True,
        f"a.nc.{dead}": True,
    }
    for name in names:
        (tmp_path / name).write_bytes(b"x")
    staging.sweep(tmp_path)
    assert {name: (tmp_path / name).exists() for name in names} == names
    old = tmp_path / f".a.nc.{elsewhere}"
    os.utime(old, (0, 0))
    staging.sweep(tmp_path)
    assert not old.exists() and process == f"{os.getpid():08x}"


def test_the_next_command_that_writes_there_sweeps(shop: Path, run: Run) -> None:
    """What a killed dump left in a folder is gone once anything is written there."""
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    left = staging.hidden_name(shop / "all.yaml")
    digits = left.name[-staging.OWNER_DIGITS :]
    dead = left.with_name(left.name.replace(digits[4:12], f"{gone.pid:08x}"))
    dead.write_bytes(b"half")
    assert run("block", "left").code == 0 and dead.exists()
    assert run("dump", "-o", "all.yaml").code == 0 and not dead.exists()


def agree(shop: Path, run: Run, path: str) -> bool:
    """Whether log and file say the same of a paper: written anew, or nothing of it."""
    papers = [e["what"] for e in run("history", "left", "--json").json["events"]
              if e["document_kind"] == "paper" and e["what"].endswith(f" in {path}")]  # fmt: skip
    file = shop / path
    return len(papers) == (file.is_file() and b"from here" in file.read_bytes())


@pytest.mark.parametrize("force", [False, True])
def test_a_kill_at_any_point(shop: Path, run: Run, nursery: Nursery, force: bool) -> None:
    """After a kill anywhere and one command more, log and file agree and nothing is left (F14).

    At every third point, other ones with --force; `faults/run.py kills` has them all.
    """
    before = b"G21\n(what was there)\n"
    line = ["stamp", "hand-hold", *STATION, "-o", "out.nc", *(["--force"] if force else [])]
    codes, point = [9], int(force and thinned(3) == 1)
    while codes[-1] == 9:
        if force:
            (shop / "out.nc").write_bytes(before)
        work = {"arguments": line, "left": point}
        codes.append(nursery.one(Work("faults.watched:killed", work, shop)).code)
        assert run("status").code in (0, 1)
        assert [path.name for path in shop.rglob(".*")] == [], point
        written = (shop / "out.nc").is_file() and (shop / "out.nc").read_bytes() != before
        if not force:
            assert agree(shop, run, "out.nc"), point
        elif not written:
            assert (shop / "out.nc").read_bytes() == before, point
        told = [e for e in run("history", "left", "--json").json["events"]
                if e["what"].endswith(" in out.nc")]  # fmt: skip
        assert bool(told) == written, point
        if written:
            break
        point += 3 // thinned(3)
    assert point > 8 and codes[-1] in (0, 9)


def test_a_trail_of_a_running_command_is_let_alone(shop: Path, run: Run) -> None:
    """A command beside one that writes papers leaves its trail and its files to it."""
    from pincorner.work.files.trails import begin_trail, move_to

    trail = begin_trail(str(shop / "fixtures_db" / "registry.sqlite"), shop)
    move = move_to(shop / "paper.nc")
    trail.note(move)
    move.staged.write_bytes(b"half")
    assert run("status").code in (0, 1)
    assert trail.file is not None and trail.file.exists() and move.staged.exists()


def test_a_paper_changed_by_hand_after_a_kill_stays(shop: Path, run: Run) -> None:
    """Where somebody wrote the file after a kill, settling does not take that away."""
    from pincorner.registry.store import Registry
    from pincorner.work.files import trails

    location = str(shop / "fixtures_db" / "registry.sqlite")
    trail = trails.begin_trail(location, shop)
    move = trails.move_to(shop / "paper.nc")
    trail.note(move)
    staging.stage(move.staged, [b"ours"])
    with Registry(location).writing("t", "t") as writer:
        trail.recorded(writer, [])
    staging.put(move.staged, move.path, replaces=True)
    move.path.write_bytes(b"theirs, and longer")
    assert trail.file is not None
    name = trail.file.name.replace(f"{os.getpid():08x}", "00000000")
    trail.file.rename(trail.file.with_name(name))
    make_dead: Callable[[int], bool] = lambda process: process != 0  # noqa: E731
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(staging, "is_running", make_dead)
        assert run("status").code in (0, 1)
    assert move.path.read_bytes() == b"theirs, and longer"
    assert not list(shop.rglob(".*"))
