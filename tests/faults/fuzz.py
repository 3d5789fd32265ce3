"""Hostile inputs through the command line, in this process: what must hold for each of them.

No traceback, no fault of the program, an exit code of the guide, an answer within a bound of
time, no control character on the terminal, no file written but the one asked for, the registry
unharmed. An input is made from its kind and its seed alone, so that each can be run again.
"""

from __future__ import annotations

import contextlib
import gc
import io
import json
import os
import random
import re
import shutil
import signal
import sqlite3
import time
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from faults.children import made_once
from faults.inputs import documents, odd_text, programs, registries, surveys
from faults.kills import ROOF_2
from faults.shops import REGISTRY, state_of, unsound
from pincorner.cli.main import main

BOUND_S = 20.0
RUBBISH_EVERY = 50
MOST_LINES = 60
"""Lines on standard error: 50 problems are told, and how many more there are."""
TURNING = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
SUFFIXES = ("-journal", "-wal", "-shm")


class Said(NamedTuple):
    """What a command did: exit code (None: it was stopped), what it said, how long it took."""

    code: int | None
    out: str
    err: str
    took_s: float


class TooLongError(BaseException):
    """The bound of time is over; nothing that the program catches."""


@contextlib.contextmanager
def _bounded(seconds: float) -> Iterator[None]:
    """Raise TooLongError in here after some time, where the system has alarms."""
    if not hasattr(signal, "setitimer"):
        yield
        return

    def stop(*_: object) -> None:
        raise TooLongError

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


@contextlib.contextmanager
def fast() -> Iterator[None]:
    """Commands in here are asked without what only repeats: half their time or more.

    Besides `made_once`, rubbish is looked for by `run_seed` (the program itself never does).
    """
    with made_once():
        gc.collect()
        gc.freeze()
        gc.disable()
        try:
            yield
        finally:
            gc.enable()
            gc.unfreeze()


def said(arguments: Sequence[str]) -> Said:
    """Run a command line in this process."""
    out = io.TextIOWrapper(io.BytesIO(), "utf-8", newline="\n")
    err = io.TextIOWrapper(io.BytesIO(), "utf-8", "backslashreplace", newline="\n")
    code: int | None = None
    start = time.perf_counter()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            with _bounded(BOUND_S):
                code = main(list(arguments))
        except TooLongError:
            pass
        except BaseException as error:
            code = 99
            err.write(f"Traceback: {type(error).__name__}: {error}\n")
    took_s = time.perf_counter() - start
    texts = []
    for each in (out, err):
        each.flush()
        texts.append(each.buffer.getvalue().decode("utf-8", "backslashreplace"))
    return Said(code, *texts, took_s)


def faults_of(done: Said, arguments: Sequence[str]) -> list[str]:
    """What is wrong with an answer, whatever was asked."""
    if done.code is None:
        return [f"no answer within {BOUND_S} s"]
    wrong = [] if done.code in (0, 1, 2, 3) else [f"exit code {done.code}"]
    if "Traceback" in done.err or "a fault in pincorner" in done.err:
        wrong.append(f"a fault: {done.err.strip()[-300:]}")
    if done.code in (2, 3) and not done.err.strip():
        wrong.append("refused without a word")
    if done.err.count("\n") > MOST_LINES:
        wrong.append(f"{done.err.count(chr(10))} lines of errors")
    for name, text in (("output", done.out), ("error", done.err)):
        raw = {c for c in text if unicodedata.category(c) == "Cc"} - {"\n", "\t"}
        raw |= set(TURNING.findall(text))
        if raw:
            marks = " ".join(f"U+{ord(c):04X}" for c in sorted(raw))
            at = next(line for line in text.split("\n") if raw & set(line))
            wrong.append(f"on standard {name}: {marks}: {ascii(at)[:200]}")
    if "--json" in arguments and done.code in (0, 1):
        try:
            json.loads(done.out)
        except ValueError as error:
            wrong.append(f"no JSON: {error}")
    return wrong


# The shop in which it happens


class Ground:
    """A shop folder that every input finds as the one before it did."""

    def __init__(self, demo: Path, folder: Path) -> None:
        self.yard, self.shop = folder, folder / "shop"
        shutil.copytree(demo, self.shop)
        os.chdir(self.shop)
        for line in ("retire run three-sides", ROOF_2):
            assert said(line.split()).code == 0
        self.registry = self.shop / REGISTRY
        self.good = self.registry.read_bytes()
        self._kept = {path: path.read_bytes() for path in self._files()}
        self._inputs: list[Path] = []
        self._stats = self._seen()
        self._folders = set(self._all_folders())

    def _all_folders(self) -> list[Path]:
        """The folders, each behind those that lie in it."""
        return [Path(folder) for folder, _, _ in os.walk(self.yard, topdown=False)]

    def _files(self) -> list[Path]:
        return [path for path in self.yard.rglob("*") if path.is_file()]

    def _seen(self) -> dict[str, tuple[int, int]]:
        found = {}
        for folder, _, names in os.walk(self.yard):
            for name in names:
                path = os.path.join(folder, name)  # noqa: PTH118 - thousands of times a second
                if os.path.isfile(path):  # noqa: PTH113
                    stat = os.stat(path)  # noqa: PTH116
                    found[path] = (stat.st_mtime_ns, stat.st_size)
        return found

    def changed(self) -> set[Path]:
        """Files that are new, gone or written since the ground was made ready."""
        now = self._seen()
        names = {name for name in {*now, *self._stats} if now.get(name) != self._stats.get(name)}
        return {Path(name) for name in names}

    def give(self, name: str, data: bytes) -> None:
        """Put an input into the shop; it counts as changed only when something touches it."""
        path = self.shop / name
        path.write_bytes(data)
        self._inputs.append(path)
        stat = path.stat()
        self._stats[str(path)] = (stat.st_mtime_ns, stat.st_size)

    def restore(self) -> None:
        """Bring everything back to what it was."""
        for path in self._inputs:
            path.unlink(missing_ok=True)
            self._stats.pop(str(path))
        self._inputs.clear()
        changed = self.changed()
        for path in changed:
            if path in self._kept:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(self._kept[path])
            else:
                path.unlink(missing_ok=True)
        for folder in self._all_folders():
            if folder not in self._folders:
                folder.rmdir()
        if changed:
            self._stats = self._seen()


Tried = list[str]


def _ask(
    ground: Ground,
    arguments: Sequence[str],
    may_write: Sequence[Path] = (),
    one_line: bool = False,
) -> Tried:
    """Run a command; what is wrong with its answer, and with the files it has touched.

    A command that is refused has written nothing; others write what they may and the registry.
    """
    done = said(arguments)
    line = " ".join(ascii(each)[1:-1][:60] for each in arguments)
    wrong = [f"{line}: {each}" for each in faults_of(done, arguments)]
    if one_line and done.code in (2, 3) and done.err.count("\n") != 1:
        wrong.append(f"{line}: not one line: {ascii(done.err)[:200]}")
    allowed = {Path(os.path.normpath(ground.shop / each)) for each in may_write}
    if done.code in (2, 3) or done.code is None:
        allowed = set()
    else:
        allowed.add(ground.registry)
    strays = [
        path for path in ground.changed()
        if path not in allowed and not allowed.intersection(path.parents)
    ]  # fmt: skip
    return wrong + [f"{line}: wrote {ascii(str(path))[-120:]}" for path in strays]


def _harmed(ground: Ground, rng: random.Random) -> Tried:
    """What is wrong with the registry; looked at closely one time in ten where it was written."""
    if ground.registry not in ground.changed():
        return []
    if rng.random() < 0.9:
        return [] if state_of(ground.registry) is not None else ["the registry is gone"]
    return unsound(ground.registry)


FOLLOWING = ("status", "offsets", "offsets --json", "explain left", "block right",
             "block left --json", "show left", "list", "history left", "map long-bench -o m.svg",
             "map long-bench -o m.html", "sheet left -o out", "sheet end-bars -o out",
             "run monday-sides", "status --json", "place panel-tray --bed long-bench",
             "check hand-hold --station left")  # fmt: skip
WRITES = {"map long-bench -o m.svg": "m.svg", "map long-bench -o m.html": "m.html"}


def _document(ground: Ground, rng: random.Random) -> Tried:
    ground.give("in.yaml", documents(rng))
    dry = ["--dry-run"] if rng.random() < 0.4 else []
    wrong = _ask(ground, ["load", "in.yaml", *dry])
    if ground.registry in ground.changed():
        for line in rng.sample(FOLLOWING, 2):
            wrong += _ask_again(ground, line, [Path(WRITES.get(line, "out"))])
    return wrong + _harmed(ground, rng)


def _ask_again(ground: Ground, line: str, given: Sequence[Path]) -> Tried:
    """A command after one that has written: it writes nothing beyond what that one did."""
    before = list(ground.changed())
    arguments = line.split()
    done = said(arguments)
    wrong = [f"{line}: {each}" for each in faults_of(done, arguments)]
    allowed = {ground.shop / each for each in (*before, *given)}
    strays = [p for p in ground.changed() if p not in allowed and not allowed & set(p.parents)]
    return wrong + [f"{line}: wrote {path.name}" for path in strays]


def _survey(ground: Ground, rng: random.Random) -> Tried:
    ground.give("in.csv", surveys(rng))
    line = ["survey", "long-bench", "in.csv"]
    how = rng.random()
    given = []
    if how < 0.25:
        line += ["--accept"]
    elif how < 0.3:
        line += ["-o", "s.svg"]
        given += [Path("s.svg")]
    elif how < 0.6:
        line += ["--json"]
    wrong = _ask(ground, line, given)
    if ground.registry in ground.changed() and rng.random() < 0.5:
        wrong += _ask_again(ground, rng.choice(FOLLOWING[:8]), [])
    return wrong + _harmed(ground, rng)


def _program(ground: Ground, rng: random.Random) -> Tried:
    ground.give("in.nc", programs(rng))
    station = rng.choice(["left", "right", "end-bars", "roof", "spare"])
    how = rng.random()
    if how < 0.6:
        line = ["check", "in.nc", "--station", station, *rng.choice([[], ["--json"]])]
    elif how < 0.8:
        line = ["stamp", "in.nc", "--station", station, "-o", "out.nc"]
    else:
        line = ["repeat", "in.nc", "--stations", "roof,roof-2", "--retract", "-5", "-o", "out.nc"]
    if how >= 0.6 and rng.random() < 0.7:
        for code in ACCEPTED:
            line += ["--accept", code]
    return _ask(ground, line, [Path("out.nc")]) + _harmed(ground, rng)


ACCEPTED = ("hits-pin", "hits-jig", "hits-clamp", "hits-solid", "outside-stock", "low-first-move",
            "outside-travel", "would-stop", "not-read", "no-cut", "leaves-unknown",
            "no-tool-length", "outside-bed", "cuts-seat", "cuts-surface", "length-differs",
            "units-differ", "no-units", "no-offset", "ends-over-station", "hits-stock",
            "odd-comment")  # fmt: skip
KEPT = (
    "fixtures_db/registry.sqlite",
    "fixtures_db/registry.sqlite-journal",
    "hand-hold.nc",
    "templates/sheet.html.j2",
    "roof-groove.nc",
    "fixtures_db/../fixtures_db/registry.sqlite",
)
"""What no output ever lands on, with --force or without it (the guide's page `scripts`)."""


def _name(ground: Ground, rng: random.Random) -> Tried:
    name = odd_text(rng)
    how = rng.randrange(9)
    if how < 3:
        return _output_named(ground, rng, name)
    if how == 3:
        target = rng.choice(KEPT)
        if target.startswith("templates/"):
            Path(target).write_bytes(b"{{ 1 }}")
        held = Path(target).read_bytes() if Path(target).exists() else None
        line = rng.choice(["block left", "dump", "map long-bench", "stamp hand-hold --station left",
                           "backup"])  # fmt: skip
        given = [target] if line == "backup" else ["-o", target]
        given_line = [*line.split(), *given, "--force"]
        done = said(given_line)
        wrong = [f"{line} {target}: {each}" for each in faults_of(done, given_line)]
        if (
            target != KEPT[1]
            and (Path(target).read_bytes() if Path(target).exists() else None) != held
        ):
            wrong.append(f"{line} -o {target} --force: replaced it")
        return wrong + [f"{target}: {each}" for each in _harmed(ground, random.Random(9))]
    lines = [
             ["register", name, "--bed", "long-bench", "--jig", "panel-tray", "--pin", "peg-20",
         "--corner", "A6", "--toward", "+x+y"],
             ["register", "x", "--bed", name, "--jig", name, "--pin", name, "--corner", name,
         "--toward", name],
             ["retire", "run", "monday-sides", "--by", name, "--note", name],
             ["resurface", "long-bench", "--depth", "0.1", "--note", name],
             ["resurface", "long-bench", "--surface", "-120", "--slat", name],
             ["verify", "left", "--x", name, "--y", "185"], ["show", name], ["history", name],
             ["offsets", name], ["explain", name], ["list", name], ["block", name, "--nest", name],
             ["check", name, "--station", "left"], ["load", name], ["survey", name, name],
             ["place", name, "--bed", name], ["run", name], ["--db", name, "list"],
             ["restore", name, "--force"], ["offsets", "--as-of", name], [name],
             ["block", "left", name],
             ["check", "hand-hold", "--station", "left", "--tool", name, "--margin", name],
             ["stamp", "hand-hold", "--station", "left", "-o", "o.nc", "--code", name],
             ["stamp", "hand-hold", "--station", "left", "-o", "o.nc", "--accept", name],
             ["init", name]]  # fmt: skip
    line = rng.choice(lines)
    with _logged_in(rng.choice([None, name])):
        wrong = _ask(ground, line, [Path("o.nc"), *_asked_folder(line, name)], one_line=True)
        wrong += _ask_again(
            ground, rng.choice(["history", "list", "status"]), _asked_folder(line, name)
        )
        if line[0] == "register" and ground.registry in ground.changed():
            for more in (["sheet", name, "-o", "out"], ["block", name]):
                done = said(more)
                wrong += [f"{more[0]} {name!a}: {each}" for each in faults_of(done, more)]
    return wrong + _harmed(ground, rng)


def _asked_folder(line: Sequence[str], name: str) -> list[Path]:
    """The folder that a command was asked to make a registry in."""
    return (
        [Path(name)]
        if line[0] == "init" and name not in (".", "..", "") and "\0" not in name
        else []
    )


@contextlib.contextmanager
def _logged_in(name: str | None) -> Iterator[None]:
    """The login name, as systems that read LOGNAME tell it; none for that of the system."""
    if name is None or "\0" in name:
        yield
        return
    before = os.environ.get("LOGNAME")
    try:
        os.environ["LOGNAME"] = name
    except (UnicodeEncodeError, ValueError):
        yield
        return
    try:
        yield
    finally:
        if before is None:
            del os.environ["LOGNAME"]
        else:
            os.environ["LOGNAME"] = before


def _output_named(ground: Ground, rng: random.Random, name: str) -> Tried:
    """A command whose output has that name: that file, or one line and no file."""
    if rng.random() < 0.2:
        name = f"{rng.choice(['..', 'sheets', 'no folder', 'fixtures_db'])}/{name}"
    line, suffix = rng.choice([
        ("block left", ""), ("dump", ""), ("map long-bench", ".svg"), ("map long-bench", ".html"),
        ("sheet left", ""), ("stamp hand-hold --station left", ".nc"), ("backup", ""),
    ])  # fmt: skip
    name += suffix
    given = [name] if line == "backup" else ["-o", name]
    asked = [Path(name)] if "\0" not in name else []
    return _ask(ground, [*line.split(), *given], asked, one_line=True) + _harmed(ground, rng)


READING = ("list", "status", "dump", "offsets", "history", "show left", "block left",
           "explain right", "verify left --x 295 --y 185", "load hurt.yaml",
           "backup hurt-copy.sqlite", "upgrade", "retire run monday-sides", "sheet left -o out",
           "status --deep", "status --deep", "backup hurt-copy.sqlite", "map long-bench -o m.svg",
           "offsets --as-of 2026-01-01")  # fmt: skip
HURT = "hurt.sqlite"


def _registry(ground: Ground, rng: random.Random) -> Tried:
    registries(rng, ground.good, Path(HURT))
    ground.give("hurt.yaml", HURT_DOCUMENT.encode())
    given = [Path(n) for n in (HURT, "hurt-copy.sqlite", "out", "m.svg",
                               *(HURT + each for each in SUFFIXES))]  # fmt: skip
    sound = _is_sound(Path(HURT))
    line = ["--db", HURT, *rng.choice(READING).split()]
    done = said(line)
    shown = " ".join(line[2:])
    wrong = [f"{shown}: {each}" for each in faults_of(done, line)]
    allowed = {ground.shop / each for each in given}
    strays = [p for p in ground.changed() if p not in allowed and not allowed & set(p.parents)]
    wrong += [f"{shown}: wrote {path.name}" for path in strays]
    if "--deep" in shown and not sound and done.code != 3:
        wrong.append(f"{shown}: a damaged registry is told by exit 3, not {done.code}: {done.err}")
    versions = ("by a later", "by an earlier", "of another program")
    other = done.code == 3 and any(words in done.err for words in versions)
    if "--deep" in shown and sound and done.code not in (0, 1) and not other:
        wrong.append(f"{shown}: a sound registry gave exit {done.code}: {done.err}")
    if "backup" in shown and done.code == 0 and not (sound and _is_sound(Path("hurt-copy.sqlite"))):
        wrong.append(f"{shown}: a damaged registry was backed up, exit 0")
    return wrong


HURT_DOCUMENT = "format: 1\npins: [{name: peg-99, shank: 20, body: 20, height: 22}]\n"


def _is_sound(file: Path) -> bool:
    """Whether a copy of the file passes the database's own check, and its tables agree."""
    copy = file.with_name("looked-at.sqlite")
    shutil.copy(file, copy)
    try:
        with closing(sqlite3.connect(copy)) as connection:
            said_ok = connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return said_ok and state_of(copy) is not None and not unsound(copy)
    except Exception:  # whatever a damaged file makes of the tools that look at it: not sound
        return False
    finally:
        copy.unlink(missing_ok=True)


KINDS: dict[str, Callable[[Ground, random.Random], Tried]] = {
    "documents": _document,
    "surveys": _survey,
    "programs": _program,
    "names": _name,
    "registries": _registry,
}


def run_seed(ground: Ground, kind: str, seed: int) -> Tried:
    """What is wrong with what one input brings about; the ground is as before afterwards."""
    rng = random.Random(f"{kind} {seed}")
    os.chdir(ground.shop)
    os.environ.pop("PINCORNER_DB", None)
    try:
        return KINDS[kind](ground, rng)
    finally:
        ground.restore()
        if (seed + 1) % RUBBISH_EVERY == 0:
            gc.collect()
