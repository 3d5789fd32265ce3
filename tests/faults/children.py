"""Functions and command lines run in child processes, several at once, stopped where it is asked.

A nursery is one process that has imported the program and forks a child for each piece of work: a
child costs milliseconds, not the second that the imports take. Where a system has no fork each
child is an interpreter of its own. On Linux with a C compiler a child can be stopped dead at its
N-th call that changes a file (`stopper.c`, put in front of the C library).
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import importlib
import io
import json
import os
import shutil
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Iterator, Sequence
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

import typer.main
from sqlalchemy import URL, Engine, create_engine
from sqlalchemy.pool import StaticPool

from pincorner.registry import engine as engines
from pincorner.registry import reader

TESTS = Path(__file__).resolve().parent.parent
SOURCE = TESTS.parent / "src"
KILLED = -9
FORKS = hasattr(os, "fork")


class Child(NamedTuple):
    """What a child did: exit code (below nothing for a signal), what it said, what it gave.

    `trace`: the calls that changed files, in order, as (call, path).
    """

    code: int
    out: str
    err: str
    gave: Any
    trace: list[tuple[str, str]]


class Work(NamedTuple):
    """A function of a module of tests, called with keywords that JSON can hold.

    `stop_at`: the call that it does not live to make, counted from 1 (0: the calls are traced, and
    it lives; less: they are not); `torn`: half of that call is made.
    """

    function: str
    keywords: dict[str, Any]
    folder: Path
    stop_at: int = -1
    torn: bool = False


def command(
    arguments: Sequence[str | Path], folder: Path, stop_at: int = -1, torn: bool = False
) -> Work:
    """A command line of the program as work for a child."""
    given = {"arguments": [str(each) for each in arguments]}
    return Work("faults.children:_command", given, folder, stop_at, torn)


def _command(arguments: list[str]) -> int:
    from pincorner.cli.main import main

    return main(arguments)


# What stops a child


def why_nothing_stops() -> str | None:
    """Why no child can be stopped at a call here; None where it can."""
    if not sys.platform.startswith("linux"):
        return "children are stopped at system calls on Linux only"
    if shutil.which("cc") is None and shutil.which("gcc") is None:
        return "needs a C compiler (cc or gcc) for the piece that stops children"
    return None


def _build_stopper(folder: Path) -> Path:
    """The compiled stopper."""
    library = folder / "stopper.so"
    compiler = shutil.which("cc") or shutil.which("gcc")
    assert compiler is not None
    source = Path(__file__).with_name("stopper.c")
    line = [compiler, "-O1", "-shared", "-fPIC", "-o", str(library), str(source), "-ldl"]
    subprocess.run(line, check=True, capture_output=True)
    return library


# The nursery as its owner sees it


class Nursery:
    """Starts children and waits for them; `stops`: they can be stopped at a call."""

    def __init__(self, *, stops: bool = False) -> None:
        self._scratch = Path(tempfile.mkdtemp(prefix="nursery-"))
        environment = {**os.environ, "PYTHONUTF8": "1", "PYTHONDONTWRITEBYTECODE": "1"}
        environment["PYTHONPATH"] = os.pathsep.join([str(SOURCE), str(TESTS)])
        for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
            environment[name] = "1"  # a process with threads is not forked
        environment.pop("PINCORNER_DB", None)
        if stops:
            environment["LD_PRELOAD"] = str(_build_stopper(self._scratch))
        self._environment = environment
        self._count = 0
        self._server: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Nursery:
        if FORKS:
            self._server = subprocess.Popen(
                [sys.executable, "-m", "faults.children", "serve"], env=self._environment,
                stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            )  # fmt: skip
        return self

    def __exit__(self, *_: object) -> None:
        if self._server is not None:
            assert self._server.stdin is not None and self._server.stdout is not None
            self._server.stdin.close()
            self._server.stdout.close()
            self._server.wait(30)
        shutil.rmtree(self._scratch, ignore_errors=True)

    def run(self, *works: Work) -> list[Child]:
        """Run all of them at once, begun at the same moment where the system forks."""
        places = []
        for work in works:
            self._count += 1
            places.append(self._scratch / str(self._count))
            places[-1].mkdir()
            told = {**work._asdict(), "folder": str(work.folder), "place": str(places[-1])}
            (places[-1] / "work").write_text(json.dumps(told), encoding="utf-8")
        codes = self._by_server(places) if self._server else self._by_interpreters(places)
        return [_found(place, code) for place, code in zip(places, codes, strict=True)]

    def one(self, work: Work) -> Child:
        """Run one."""
        return self.run(work)[0]

    def _by_server(self, places: list[Path]) -> list[int]:
        assert self._server is not None
        assert self._server.stdin is not None and self._server.stdout is not None
        self._server.stdin.write(json.dumps([str(place) for place in places]).encode() + b"\n")
        self._server.stdin.flush()
        answer = self._server.stdout.readline()
        assert answer, "the nursery has died"
        return list(json.loads(answer))

    def _by_interpreters(self, places: list[Path]) -> list[int]:
        line = [sys.executable, "-m", "faults.children", "one"]
        all_ = [subprocess.Popen([*line, str(place)], env=self._environment) for place in places]
        return [each.wait() for each in all_]


def _found(place: Path, code: int) -> Child:
    """What a child left behind."""

    def text(name: str) -> str:
        file = place / name
        return file.read_bytes().decode("utf-8", "backslashreplace") if file.exists() else ""

    gave, trace = text("gave"), [line.split("\t", 1) for line in text("trace").splitlines()]
    child = Child(
        code, text("out"), text("err"), json.loads(gave) if gave else None,
        [(call, path) for call, path in trace],
    )  # fmt: skip
    shutil.rmtree(place)
    return child


# The nursery's own side


@contextlib.contextmanager
def made_once() -> Iterator[None]:
    """What commands make alike is made once for all commands in here: 25 ms of each for the tree of
    commands and options, a third of what is left for SQLAlchemy's statements, made text, a tenth
    for documents, which are the same values wherever the same text is read.
    """
    tree, engine, document = typer.main.get_command, engines.create_engine, reader.from_json
    first = create_engine("sqlite://", poolclass=StaticPool)
    first.connect().close()  # its dialect asks the first connection what it can do

    def engine_of(url: URL | str, **keywords: Any) -> Engine:
        """An engine that finds the statements of all others; they are kept by their dialect."""
        made = engine(url, **keywords)
        if made.dialect.name == "sqlite":
            made.dialect = made.pool._dialect = first.dialect
            made._compiled_cache = first._compiled_cache
        return made

    typer.main.get_command, engines.create_engine = cache(tree), engine_of
    reader.from_json = lru_cache(5_000)(document)
    try:
        yield
    finally:
        typer.main.get_command, engines.create_engine = tree, engine
        reader.from_json = document
        first.dispose()


def _serve() -> None:
    """Read places of work, a line of JSON each, and fork a child for every one of them."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    with made_once():
        _warm()
        gc.collect()
        gc.freeze()  # or each child would copy what it looks through for rubbish
        _fork_for_each_line(answers)


def _fork_for_each_line(answers: BinaryIO) -> None:
    for line in sys.stdin.buffer:
        ready, go = os.pipe()
        children = []
        for place in json.loads(line):
            _function_of(json.loads((Path(place) / "work").read_text("utf-8")))  # imported once
            child = os.fork()
            if child == 0:
                os.close(go)
                os.read(ready, 1)  # nobody writes: it ends when the last writer has closed
                os._exit(_carry_out(Path(place)))
            children.append(child)
        os.close(ready)
        os.close(go)
        codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
        answers.write(json.dumps(codes).encode() + b"\n")
        answers.flush()


def _warm() -> None:
    """Import what commands import, by running the demo once."""
    with (
        tempfile.TemporaryDirectory() as folder,
        contextlib.redirect_stdout(io.StringIO()),
        contextlib.redirect_stderr(io.StringIO()),
    ):
        _command(["demo", str(Path(folder) / "shop")])
        _command(["--db", str(Path(folder) / "shop"), "status"])
        _command(["check", "nothing.nc", "--station", "left"])
    import pincorner.registry.renewing
    import pincorner.work.backups
    import pincorner.work.programs.checking
    import pincorner.work.programs.repeating
    import pincorner.work.programs.stamping
    import pincorner.work.surveying
    import pincorner.work.verifying  # noqa: F401

    with contextlib.suppress(ImportError):
        create_engine("postgresql+psycopg://").dispose()


def _function_of(work: dict[str, Any]) -> Any:
    """The function that a piece of work calls."""
    module, name = work["function"].split(":")
    return getattr(importlib.import_module(module), name)


def _carry_out(place: Path) -> int:
    """Do the work of a place in this process; the exit code."""
    work = json.loads((place / "work").read_text(encoding="utf-8"))
    for number, name in ((1, "out"), (2, "err")):
        os.dup2(os.open(place / name, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), number)
    os.chdir(work["folder"])
    function, code = _function_of(work), 0
    stopper = ctypes.CDLL(None) if work["stop_at"] >= 0 else None
    try:
        if stopper is not None:
            trace = os.fsencode(place / "trace")
            stopper.fault_arm(ctypes.c_long(work["stop_at"]), int(work["torn"]), trace)
        gave = function(**work["keywords"])
        if stopper is not None:
            stopper.fault_disarm()
        if work["function"] == "faults.children:_command":
            code = gave
        (place / "gave").write_text(json.dumps(gave), encoding="utf-8")
    except BaseException:
        traceback.print_exc()
        code = 99
    sys.stdout.flush()
    sys.stderr.flush()
    return code


if __name__ == "__main__":
    if sys.argv[1] == "serve":
        _serve()
    else:
        sys.exit(_carry_out(Path(sys.argv[2])))
