"""Faults put into the package on purpose: which of them the tests notice.

    python tests/mutations/run.py                 # 60 mutants, some 10 s each
    python tests/mutations/run.py --only 7 12     # two of them again
    python tests/mutations/run.py --list          # what they are
    python tests/mutations/run.py --only 7 --all  # with the whole suite

Each is made in a copy of the repository; the files of tests asked are those that stand nearest to
the module, by their imports, one after the other. A file that notices something is asked without
the mutant too, once: what is red then has noticed nothing. Prints who noticed, and at the end who
was noticed by nobody; the list is the same as long as the source is. Leaves with 1 where a mutant
survives.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import importlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from pathlib import Path
from typing import Any, NoReturn

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from postgres import own_server

from mutations.mutants import Mutant, mutants

ROOT = Path(__file__).resolve().parent.parent.parent
SEED, COUNT = 20261130, 60
NEAREST = 12
"""So many files of tests are asked."""
BROAD = ("test_commands.py", "test_round_trip.py", "test_papers.py", "test_docs.py")
"""Asked last, whatever the module: whole commands, and every example of README."""
NEVER = {"test_house.py", "test_supply.py", "test_all.py", "test_mutations.py"}
"""Tests that read the source and run nothing of it."""
TIMEOUT_S, LEAVE_S = 600, 20
"""What a file of tests may take, and then to leave in order."""
NO_TESTS = 5
"""How pytest leaves where all tests were taken out."""


def imports(path: Path) -> set[str]:
    """Names of modules, and of what is taken from them, that a module imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_bytes())):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return found


class Map:
    """How far each file of tests is from each module of the package, by imports."""

    def __init__(self, root: Path) -> None:
        source, tests = root / "src", root / "tests"
        self._of: dict[str, set[str]] = {}
        for path in source.rglob("*.py"):
            self._of[_module(path, source)] = imports(path)
        for path in tests.rglob("*.py"):
            self._of[_module(path, tests)] = imports(path)
        self.tests = sorted(path.stem for path in tests.glob("test_*.py") if path.name not in NEVER)

    def nearest(self, mutant: Mutant) -> list[str]:
        """Files of tests, those that take the very function first, then by steps of imports."""
        module = mutant.path.removesuffix(".py").replace("/", ".").removesuffix(".__init__")
        named = f"{module}.{mutant.function.split('.')[0]}"
        steps = self._steps_to(module)

        def far(test: str) -> tuple[int, int]:
            return (0 if named in self._of[test] else steps.get(test, 99), len(self._of[test]))

        return [f"{name}.py" for name in sorted(self.tests, key=far) if far(name)[0] < 99]

    def import_libraries(self) -> None:
        """Import what package and tests take from outside, for every child to have it."""
        ours = {"pincorner", *(name.split(".")[0] for name in self._of)}
        ours |= {"hypothesis"}  # a plugin of pytest, which wants to import it itself
        for name in {name for taken in self._of.values() for name in taken}:
            if name.split(".")[0] not in ours:
                with contextlib.suppress(ImportError):
                    importlib.import_module(name)

    def _steps_to(self, module: str) -> dict[str, int]:
        steps, edge = {module: 0}, {module}
        while edge:
            edge = {name for name, taken in self._of.items() if name not in steps and taken & edge}
            steps |= dict.fromkeys(edge, max(steps.values()) + 1)
        return steps


def _module(path: Path, top: Path) -> str:
    return ".".join(path.relative_to(top).with_suffix("").parts).removesuffix(".__init__")


def copy_of(root: Path, folder: Path) -> Path:
    """What git tracks of the repository, in a folder of its own."""
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=root, capture_output=True, check=True
    ).stdout.decode("utf-8")
    for name in filter(None, listed.split("\0")):
        if (root / name).is_file():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(root / name, folder / name)
    return folder


def ask(copy: Path, *words: str, kept: bool = False) -> tuple[int, str]:
    """Run pytest in a copy: its exit code, and what it said; `kept`: compiled modules stay.

    Raises TimeoutError. Forked where the system forks: what the libraries' imports take is saved.
    """
    environment = {"PYTHONPATH": str(copy / "src"), "PYTHONDONTWRITEBYTECODE": "" if kept else "1"}
    line = ["-q", "-p", "no:cacheprovider", "--no-header", "--tb=no", *words]
    with tempfile.TemporaryFile() as said:
        if not hasattr(os, "fork"):
            asked = [sys.executable, "-m", "pytest", *line]
            code = subprocess.call(asked, cwd=copy, env={**os.environ, **environment}, stdout=said)
        else:
            child = os.fork()
            if child == 0:
                _in_child(copy, environment, line, said.fileno())
            code = _ended(child)
        said.seek(0)
        return code, said.read().decode("utf-8", "backslashreplace")


def _in_child(copy: Path, environment: dict[str, str], line: list[str], said: int) -> NoReturn:
    code = 70  # an end of its own
    try:
        os.setpgid(0, 0)  # no session of its own: Linux would not let it be as nice as this is
        for name in ("SIGTERM", "SIGHUP"):
            signal.signal(getattr(signal, name), signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored behind a shell's `&`
        os.dup2(said, 1)
        os.dup2(said, 2)
        os.chdir(copy)
        os.environ.update(environment)
        sys.path.insert(0, environment["PYTHONPATH"])
        sys.dont_write_bytecode = bool(environment["PYTHONDONTWRITEBYTECODE"])
        code = int(importlib.import_module("pytest").main(line))
        sys.stdout.flush()
    except BaseException:
        traceback.print_exc()
        sys.stderr.flush()
    finally:
        os._exit(code)


def _ended(child: int) -> int:
    """The exit code of a child that is waited for; none of its own children outlives it."""
    try:
        code = _waited(child, TIMEOUT_S)
        if code is None:
            raise TimeoutError
        return code
    except BaseException:
        os.kill(child, signal.SIGINT)  # pytest ends what its tests have started
        if _waited(child, LEAVE_S) is None:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
        raise
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)


def _waited(child: int, for_s: float) -> int | None:
    until = time.monotonic() + for_s
    while time.monotonic() < until:
        pid, status = os.waitpid(child, os.WNOHANG)
        if pid:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.1)
    return None


def _stop(number: int, _: Any) -> NoReturn:
    """Whoever is told to end unwinds, so that nothing is left running or lying about."""
    sys.exit(128 + number)


class Tests:
    """The tests of a copy of the repository; what is red without a mutant is asked once a file."""

    def __init__(self, copy: Path) -> None:
        self._copy = copy
        self._red: dict[str, set[str]] = {}

    def who_notices(self, mutant: Mutant, files: list[str]) -> str | None:
        """The first test that fails with a mutant alone, or what else ends it; None: nothing."""
        for name in files:
            told = self._with(mutant, name, self._red.get(name, set()))
            if told and name not in self._red:
                self._red[name] = self._asked_of(name)
                if self._red[name]:
                    print(f"   red without a mutant: {', '.join(sorted(self._red[name]))}")
                    told = self._with(mutant, name, self._red[name])
            if told:
                return told
        return None

    def _asked_of(self, name: str) -> set[str]:
        """The tests of a file that are red as the copy is now."""
        _, said = ask(self._copy, f"tests/{name}")
        return {test for test, _ in _failed(said)}

    def _with(self, mutant: Mutant, name: str, red: set[str]) -> str | None:
        """What is first told of a file of tests with a mutant; None where all but `red` pass."""
        path = self._copy / "src" / mutant.path
        data, before = path.read_bytes(), path.stat()
        path.write_bytes(mutant.applied(data))
        try:
            beside = [word for test in sorted(red) for word in ("--deselect", test)]
            code, said = ask(self._copy, "-x", *beside, f"tests/{name}")
            if code in (0, NO_TESTS):
                return None
            return next((line for _, line in _failed(said)), f"{name}: exit {code}")[:110]
        except TimeoutError:
            return f"{name}: no end in {TIMEOUT_S} s"
        finally:
            path.write_bytes(data)
            os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))


def _failed(said: str) -> list[tuple[str, str]]:
    """The tests that pytest's summary names, each with its line."""
    lines = [line for line in said.splitlines() if line.startswith(("FAILED ", "ERROR "))]
    return [(line.split(" ", 1)[1].split(" - ")[0], line) for line in lines]


def main() -> int:
    """Try the mutants; 1 where one survives."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", type=int, nargs="*", help="numbers of the list")
    parser.add_argument("--list", action="store_true", help="print the list alone")
    parser.add_argument("--all", action="store_true", help="ask every test")
    asked = parser.parse_args()
    listed = list(enumerate(mutants(ROOT / "src", COUNT, SEED), 1))
    chosen = [each for each in listed if not asked.only or each[0] in asked.only]
    if asked.list:
        print("\n".join(f"{number:2} {mutant}" for number, mutant in chosen))
        return 0
    os.environ["OPENBLAS_NUM_THREADS"] = "1"  # a process with threads is not forked
    for name in ("SIGTERM", "SIGHUP", "SIGBREAK"):  # as SIGINT does anyway
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), _stop)
    near, survivors = Map(ROOT), []
    near.import_libraries()
    with own_server(), tempfile.TemporaryDirectory(prefix="mutants-") as made:
        copy = copy_of(ROOT, Path(made))
        code, said = ask(copy, "--collect-only", kept=True)
        if code:
            sys.exit(f"the tests cannot be asked without a mutant:\n{said}")
        tests = Tests(copy)
        for number, mutant in chosen:
            files = near.nearest(mutant)
            if not asked.all:
                files = list(dict.fromkeys([*files[:NEAREST], *BROAD]))
            print(f"{number:2} {mutant}", flush=True)
            noticed = tests.who_notices(mutant, files)
            print(f"   {noticed or 'SURVIVES'}", flush=True)
            survivors += [] if noticed else [(number, mutant)]
    print(f"\n{len(chosen)} mutants, {len(chosen) - len(survivors)} noticed; survivors:")
    print("\n".join(f"{number:2} {mutant}" for number, mutant in survivors) or "none")
    return int(bool(survivors))


if __name__ == "__main__":
    sys.exit(main())
