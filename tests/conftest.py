"""Fixtures: a command line in this process, a shop folder with the demo in it."""

from __future__ import annotations

import contextlib
import gc
import importlib
import io
import json
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Any, NamedTuple

import hypothesis
import pytest
from browsing import Browser
from faults.children import Nursery, made_once, why_nothing_stops
from postgres import own_server
from thinning import thinned

from pincorner.cli.main import main
from pincorner.registry import times
from pincorner.work.files.browser import find_browser
from pincorner.work.shops import demo


class Ran(NamedTuple):
    """What a command did: exit code, standard output and standard error."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Standard output as JSON."""
        return json.loads(self.out)


TESTS = Path(__file__).resolve().parent
Run = Callable[..., Ran]


hypothesis.settings.register_profile(
    "suite", deadline=None, max_examples=thinned(200),
    suppress_health_check=[hypothesis.HealthCheck.too_slow],
)  # fmt: skip
hypothesis.settings.load_profile("suite")  # a machine may be as busy as it likes


def pytest_configure(config: pytest.Config) -> None:
    """One PostgreSQL server for all workers, started when a test asks for it."""
    if not hasattr(config, "workerinput"):
        lasting = ExitStack()
        lasting.enter_context(own_server())
        config.add_cleanup(lasting.close)


@pytest.fixture(scope="session", autouse=True)
def commands_made_once() -> Iterator[None]:
    """What does not change from one command line to the next is made once in a process.

    Nobody sits there to edit, and no registry is named.
    """
    with made_once(), pytest.MonkeyPatch.context() as patch:
        patch.delenv("EDITOR", raising=False)
        patch.delenv("VISUAL", raising=False)
        patch.delenv("PINCORNER_DB", raising=False)
        yield


@pytest.hookimpl(tryfirst=True)
def pytest_collection(session: pytest.Session) -> None:
    """Workers that collect all tests begin at different ones, and find the others' compiled.

    Without this it would be plainer, and each worker would compile every module of tests with its
    assertions, at the same time as the other does: in a fresh clone, as `.ci/run` and whoever
    begins have it, collecting takes 18 s of the processor instead of 9. What goes wrong here does
    so again, and is told then. No rubbish is looked for meanwhile: everything made here is kept.
    """
    gc.disable()
    worker, workers = (os.environ.get(f"PYTEST_XDIST_WORKER{which}") for which in ("", "_COUNT"))
    if worker and workers and [Path(each).resolve() for each in session.config.args] == [TESTS]:
        names = sorted(path.stem for path in TESTS.glob("test_*.py"))
        first = len(names) * int(worker.removeprefix("gw")) // int(workers)
        for name in (*names[first:], *names[:first]):
            with contextlib.suppress(Exception, pytest.skip.Exception):
                importlib.import_module(name)


def pytest_collection_finish() -> None:
    """Thousands of collected tests are no rubbish: they are not looked through for it.

    Nor is it looked for at each 700 values that a test makes, which took a tenth of the time of
    all: commands that people give do not look for it at all (`cli/main.py`, `run`).
    """
    gc.freeze()
    gc.set_threshold(200_000, 10, 10)
    gc.enable()


@pytest.fixture
def run(capfdbinary: pytest.CaptureFixture[bytes], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command line in this process: `run("offsets", "left", "--json")`.

    Pages say in which minute they were made: none turns between two command lines of a test.
    """
    minute, minute_of = times.local_minute(), times.local_minute
    at_one_minute = lambda at=None: minute if at is None else minute_of(at)  # noqa: E731
    monkeypatch.setattr("pincorner.work.session.local_minute", at_one_minute)

    def run(*arguments: str | Path) -> Ran:
        code = main([str(argument) for argument in arguments])
        captured = capfdbinary.readouterr()
        return Ran(code, captured.out.decode("utf-8"), captured.err.decode("utf-8"))

    return run


def quietly(folder: Path, *lines: Sequence[str | Path]) -> str:
    """Give command lines in a folder, each of which must be done; what they print."""
    said = io.StringIO()
    with contextlib.chdir(folder), contextlib.redirect_stdout(said):
        for line in lines:
            assert main([str(word) for word in line]) == 0, line
    return said.getvalue()


@pytest.fixture(scope="session")
def nursery() -> Iterator[Nursery]:
    """Where child processes come from."""
    with Nursery(stops=why_nothing_stops() is None) as made:
        yield made


@pytest.fixture(scope="session")
def demo_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's shop folder, made once; do not change it."""
    folder = tmp_path_factory.mktemp("demo") / "beehive-shop"
    demo(folder, lambda _: None)
    return folder


@pytest.fixture(scope="session")
def demo_files(demo_once: Path) -> dict[Path, bytes]:
    """What each file of the demo's shop folder holds."""
    files = (path for path in demo_once.rglob("*") if path.is_file())
    return {path.relative_to(demo_once): path.read_bytes() for path in files}


@pytest.fixture
def in_demo(demo_once: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The working folder is the demo's shop folder, made once; do not change it."""
    monkeypatch.chdir(demo_once)
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    return demo_once


@pytest.fixture
def shop(tmp_path: Path, demo_files: dict[Path, bytes], monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop folder of its own with the demo in it, as the working folder; change it."""
    folder = tmp_path / "shop"
    for place in sorted({path.parent for path in demo_files}):
        (folder / place).mkdir(parents=True)
    for path, data in demo_files.items():  # in half the time of a copied tree
        (folder / path).write_bytes(data)
    monkeypatch.chdir(folder)
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    return folder


@pytest.fixture(scope="session")
def one_browser() -> Iterator[Browser]:
    """The one browser of this process; to start it takes longer than to show a page."""
    found = find_browser()
    if found is None:
        pytest.skip("no Chromium, Chrome or Edge was found on this machine")
    with closing(Browser(found)) as made:
        yield made


@pytest.fixture(scope="module")
def browser(one_browser: Browser) -> Browser:
    """The browser, as if it had just been started: light, on no screen of a stated size."""
    one_browser.screen_of_its_own()
    return one_browser


@pytest.fixture
def _no_help(monkeypatch: pytest.MonkeyPatch) -> None:
    """What would help a run takes four fifths of its plan's time, and stands beside the rest."""
    monkeypatch.setattr("pincorner.work.runs.planning._helps", lambda *_: ())


without_help = pytest.mark.usefixtures("_no_help")
"""For tests of a run that no advice is about; `test_run_helps.py` has that."""
