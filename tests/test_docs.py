"""The commands and outputs in README.md and in the guide are run; so is the runner, on samples.

A fenced block that starts with ```console is executed. Lines that start with `$ ` are commands,
split as a POSIX shell would but run without one: `cd FOLDER` changes the working folder,
`pincorner ...` runs this checkout. A block that starts with ```yaml NAME is written to that file
first. One that starts with ```python is a session, run as doctest does. All blocks of a page run in
order in one folder. The other lines of a console block are what the command before them prints on
standard output and standard error together. They must match exactly, but for this:

* a line of only `..` matches any number of lines, also none;
* local times to the second, as `history` and `show` print them, become 2026-11-25 10:00:00 on both
  sides; the login name is `anna` while the page runs, so that names need no replacing;
* on Windows the program's `\\` between folders counts as `/`.

README begins in an empty folder, a page of the guide in a demo's shop folder of its own. Commands
run in this process, but for README's `block`, which is run as a newcomer's is.
"""

from __future__ import annotations

import ast
import doctest
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple, get_args

import pytest
from conftest import Run
from house_drawing import ROOT, SOURCE, tree
from postgres import empty_schema, needs_server
from test_doors import group

from pincorner.documents.kinds import KINDS
from pincorner.program.check.checks import NOT_FINDINGS
from pincorner.render.outputs.catalogue import REPORTS
from pincorner.render.outputs.schema import report_schema
from pincorner.render.text import guide
from pincorner.render.text.guide import keys_text
from pincorner.standing import Kind
from pincorner.work.shops import demo

README = ROOT / "README.md"
TIME = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d")
FIXED_TIME = "2026-11-25 10:00:00"
USER = "anna"
USERS = ("LOGNAME", "USER", "LNAME", "USERNAME")
"""Variables that tell who works."""


class Example(NamedTuple):
    """A command of a page, the line it stands on, and what the page says that it prints."""

    line: int
    command: str
    expected: list[str]


class Asked(NamedTuple):
    """A session of Python on a page: the line it stands on, and its lines."""

    line: int
    text: list[str]


class Written(NamedTuple):
    """A file that a page holds: the line it stands on, its name, its lines."""

    line: int
    name: str
    text: list[str]


def examples(page: str) -> Iterator[Example | Written | Asked]:
    """The commands of the console blocks of a page, its files and Python, in order."""
    kind: str = ""
    current: Example | Written | Asked | None = None
    for number, text in enumerate(page.splitlines(), 1):
        if text.startswith("```"):
            if current is not None:
                yield current
            kind, _, name = ("" if kind else text[3:] or "text").partition(" ")
            current = Written(number, name, []) if kind == "yaml" and name else None
            current = Asked(number, []) if kind == "python" else current
        elif isinstance(current, Written | Asked):
            current.text.append(text)
        elif kind == "console" and text.startswith("$ "):
            if current is not None:
                yield current
            current = Example(number, text[2:], [])
        elif kind == "console":
            assert current is not None, f"line {number}: output before any command: {text}"
            current.expected.append(text)


def matches(expected: Sequence[str], printed: Sequence[str]) -> bool:
    """Whether the printed lines are the expected ones, `..` standing for any number of lines."""
    if not expected:
        return not printed
    if expected[0] == "..":
        return any(matches(expected[1:], printed[skip:]) for skip in range(len(printed) + 1))
    return bool(printed) and printed[0] == expected[0] and matches(expected[1:], printed[1:])


def normal(lines: Sequence[str]) -> list[str]:
    """Lines with every time to the second replaced by the fixed one."""
    return [TIME.sub(FIXED_TIME, line) for line in lines]


def lines_of(printed: str) -> list[str]:
    """The lines that a command printed, with `/` between folders."""
    return (printed.replace("\\", "/") if os.name == "nt" else printed).splitlines()


def entered(folder: Path, name: str) -> Path:
    """The folder after a `cd`."""
    assert (folder / name).is_dir(), f"cd {name}: no such folder"
    return folder / name


class Shell(NamedTuple):
    """Where and how commands run: in this process, but for those in `apart`.

    `url`: what a server's URL on the page means.
    """

    folder: Path
    run: Run
    patch: pytest.MonkeyPatch
    apart: tuple[str, ...] = ()
    url: str | None = None

    def after(self, command: str) -> tuple[Shell, list[str]]:
        """The shell after a command, and the lines that it printed."""
        words = shlex.split(command)
        if words[0] == "cd":
            return self._replace(folder=entered(self.folder, words[1])), []
        assert words[0] == "pincorner", f"{words[0]}: examples call pincorner and cd only"
        self.patch.chdir(self.folder)
        if words[1] in self.apart:
            return self, lines_of(in_a_process(words[1:]))
        ran = self.run(*(self.url if self.url and word == SERVER else word for word in words[1:]))
        printed = ran.out + ran.err
        return self, lines_of(printed.replace(self.url, SERVER) if self.url else printed)


def in_a_process(words: list[str]) -> str:
    """What a command line prints in a process of its own, with this checkout first on the path."""
    inside = os.pathsep.join([str(ROOT / "src"), os.environ.get("PYTHONPATH", "")])
    return subprocess.run(
        [sys.executable, "-m", "pincorner", *words],
        env={**os.environ, "PYTHONPATH": inside, "PYTHONUTF8": "1"}, stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, encoding="utf-8", timeout=120, check=False,
    ).stdout  # fmt: skip


SERVER = "postgresql+psycopg://bees@server/hives"
"""The server of the guide's page about one."""


def faults(page: str, shell: Any) -> list[str]:
    """Run a page's examples in a shell: one text for each that prints something else."""
    found = []
    for example in examples(page):
        if isinstance(example, Written):
            text = "\n".join([*example.text, ""])
            (shell.folder / example.name).write_text(text, encoding="utf-8")
            continue
        if isinstance(example, Asked):
            found += python_faults(example)
            continue
        shell, printed = shell.after(example.command)
        if not matches(normal(example.expected), normal(printed)):
            found.append(
                f"line {example.line}: $ {example.command}\n--- the page says\n"
                + "\n".join(example.expected) + "\n--- printed\n" + "\n".join(printed)
            )  # fmt: skip
    return found


def python_faults(asked: Asked) -> list[str]:
    """What a session of Python, in the working folder, prints otherwise than its page says."""
    session = doctest.DocTestParser().get_doctest("\n".join(asked.text), {}, "page", "page", 0)
    assert session.examples, f"line {asked.line}: no >>> in it"
    told: list[str] = []
    doctest.DocTestRunner(verbose=False).run(session, out=told.append)
    return [f"line {asked.line}: {''.join(told)}"] if told else []


@pytest.fixture
def shell(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> Shell:
    """A shell in an empty folder, of a user called anna."""
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    for variable in USERS:
        monkeypatch.setenv(variable, USER)
    return Shell(tmp_path, run, monkeypatch)


def test_readme(shell: Shell) -> None:
    """Every console example of README.md prints what the page says."""
    page = README.read_text(encoding="utf-8")
    assert len(list(examples(page))) > 5
    found = faults(page, shell._replace(apart=("block",)))
    assert not found, "\n\n".join(found)


# ---- the guide -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def annas_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's shop folder as `anna` made it; do not change it."""
    folder = tmp_path_factory.mktemp("anna") / "beehive-shop"
    with pytest.MonkeyPatch.context() as patch:
        for variable in USERS:
            patch.setenv(variable, USER)
        demo(folder, lambda _: None)
    return folder


@pytest.fixture
def in_shop(annas_demo: Path, shell: Shell) -> Shell:
    """The same in a shop folder with the demo in it."""
    return shell._replace(folder=shutil.copytree(annas_demo, shell.folder / "shop"))


@pytest.mark.parametrize("topic", [topic for topic in guide.TOPICS if topic != "postgresql"])
def test_guide(topic: str, in_shop: Shell) -> None:
    """Every console example of a page of the guide prints what the page says."""
    assert not (found := faults(guide.page(topic), in_shop)), "\n\n".join(found)


@needs_server
def test_guide_on_a_server(in_shop: Shell) -> None:
    """The examples of the page about a server print what it says, on a server."""
    with empty_schema() as url:
        found = faults(guide.page("postgresql"), in_shop._replace(url=url))
    assert not found, "\n\n".join(found)


def test_every_page_has_a_topic() -> None:
    """The pages in the package are those that the guide lists, each with its heading's words."""
    folder = ROOT / "src" / "pincorner" / "guide"
    assert sorted(path.stem for path in folder.iterdir()) == sorted(guide.TOPICS)
    for topic, about in guide.topics():
        assert guide.page(topic).startswith(f"# {about}\n\n") and about


def test_guide_command(run: Run) -> None:
    """Without a topic the pages are listed, with one it is printed; a near name is suggested."""
    listed = run("guide")
    assert [line.split()[2] for line in listed.out.splitlines()] == list(guide.TOPICS)
    assert run("guide", "Stations").out == guide.page("stations")
    wrong = run("guide", "statoins")
    assert (wrong.code, wrong.out) == (2, "")
    assert wrong.err == "no topic is named statoins; did you mean stations?\n"


def test_readme_links_the_guide() -> None:
    """README's table has every page of the guide, in its order, under its heading, with a link."""
    page = README.read_text(encoding="utf-8")
    row = re.compile(r"\| \[`(\w+)`\]\(src/pincorner/guide/(\w+)\.md\) \| (.*) \|")
    assert row.findall(page) == [(topic, topic, about) for topic, about in guide.topics()]


def test_readme_is_short() -> None:
    """README is read in a few minutes: what else there is to say stands in the guide."""
    assert len(README.read_text(encoding="utf-8").splitlines()) <= 200


@pytest.mark.parametrize("topic", guide.TOPICS)
def test_a_page_fits_a_terminal(topic: str) -> None:
    """Outside of examples and tables, no line of the guide is longer than 80 characters."""
    prose = re.sub(r"(?ms)^```.*?^```$", "", guide.page(topic)).splitlines()
    assert [line for line in prose if len(line) > 80 and not line.startswith("|")] == []


def pages() -> dict[str, str]:
    """README and the pages of the guide."""
    return {"README": README.read_text(encoding="utf-8")} | {
        topic: guide.page(topic) for topic in guide.TOPICS
    }


@pytest.mark.parametrize("name", ["README", *guide.TOPICS])
def test_commands_in_sentences_are_there(name: str) -> None:
    """A command that a sentence names exists, and so do its options and the topics of the guide."""
    page = pages()[name]
    for told in re.findall(r"`pincorner ([^`]*)`", page):
        words = [word for word in told.split() if not word.startswith("--db")]
        if not words or words[0].startswith("-") or words[0].isupper():
            continue
        assert words[0] in group(), f"{name} names pincorner {told}"
        known = {option for each in group()[words[0]].params for option in each.opts}
        options = {word for word in words if re.fullmatch(r"-o|--[a-z-]+", word)}
        assert options <= known, f"{name} names pincorner {told}"
        if words[0] == "guide" and len(words) > 1 and words[1].islower():
            assert words[1] in guide.TOPICS, f"{name} names pincorner {told}"


def test_options_in_sentences_are_there() -> None:
    """Every option that README or the guide names is one of some command."""
    known = {option for each in group().values() for every in each.params for option in every.opts}
    known |= {"--db", "--version", "--help", "--install-completion"}
    for name, page in pages().items():
        named = set(re.findall(r"`(--[a-z-]+)", page))
        assert named <= known, name


def test_cautions_are_the_same() -> None:
    """README's cautions are those of the guide, word for word."""
    told = pages()["README"].partition("\n## Cautions\n\n")[2].partition("\n\n")[0]
    assert told.split() == guide.page("cautions").partition("\n\n")[2].split()


# ---- the runner itself ---------------------------------------------------------------------------


SAMPLE = """
```sh
false, this is not run
```

```console
$ pincorner init shop
made shop/fixtures_db/registry.sqlite; load documents with pincorner load FILE
$ cd shop
$ pincorner list dialects
kind     name
..
dialect  six           G54 to G59, written by G10, no rotation
$ pincorner list stations
nothing
```

Later, in the same folder:

```console
$ pincorner history
2020-01-01 00:00:00  anna  init  dialect extended: new
..
$ pincorner offsets "no such"
no station is named no such
```
"""


def test_runner_passes_a_true_sample(shell: Shell) -> None:
    """A page whose outputs are right has no faults, errors and later blocks included."""
    assert faults(SAMPLE, shell) == []


class Canned(NamedTuple):
    """A shell that prints what SAMPLE's commands print, without running anything."""

    def after(self, command: str) -> tuple[Canned, list[str]]:
        """The shell itself, and the lines that belong to a command of SAMPLE."""
        told = [each for each in examples(SAMPLE) if isinstance(each, Example)]
        printed = {each.command: each.expected for each in told}[command]
        return self, ["machine m" if line == ".." else line for line in printed]


@pytest.mark.parametrize(
    ("right", "wrong", "command"),
    [
        ("dialect  six", "dialect  sixty", "list dialects"),
        ("..\ndialect  six", "dialect  six", "list dialects"),
        ("nothing\n", "nothing\nmore\n", "list stations"),
        ("nothing\n", "", "list stations"),
        ("anna", "berta", "history"),
        ("no station is", "no stations are", 'offsets "no such"'),
    ],
)
def test_runner_finds_a_wrong_output(right: str, wrong: str, command: str) -> None:
    """A page with one wrong line has one fault, at the command that printed something else."""
    page = SAMPLE.replace(right, wrong)
    assert page != SAMPLE and faults(SAMPLE, Canned()) == []
    (found,) = faults(page, Canned())
    line = page.splitlines().index(f"$ pincorner {command}") + 1
    assert found.startswith(f"line {line}: $ pincorner {command}\n")


def test_matches() -> None:
    """`..` stands for any number of lines, also none, anywhere; all else is exact."""
    assert matches(["a", "..", "c"], ["a", "c"])
    assert matches(["..", "c", ".."], ["a", "c", "b", "c", "d"])
    assert matches([".."], []) and matches([], [])
    assert not matches(["a", "..", "c"], ["a", "b"])
    assert not matches(["a "], ["a"])
    assert not matches([], ["a"])


def test_the_guide_has_every_key() -> None:
    """The page of keys holds the keys of every kind of document."""
    page = guide.page("keys")
    assert all(keys_text(word) in page for word in KINDS)


FINDERS = {"CheckFinding", "remark", "Fence", "Ceiling", "soft"}
"""What `program` calls with the code of a finding as its first argument."""

CODE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)+")
"""How the code of a finding is written."""


def code_at(node: ast.AST) -> list[ast.expr]:
    """Where a code may stand: first in a call of FINDERS, or between a line and what is told."""
    if isinstance(node, ast.Call):
        return node.args[:1] if ast.unparse(node.func).rpartition(".")[2] in FINDERS else []
    return node.elts[1:2] if isinstance(node, ast.Tuple) and len(node.elts) == 3 else []


def codes_found() -> set[str]:
    """The codes of findings that stand in the package's own reading and checking."""
    made = [each for path in (SOURCE / "program").rglob("*.py") for each in ast.walk(tree(path))]
    places = [place for each in made for place in code_at(each)]
    texts = [place.value for place in places if isinstance(place, ast.Constant)]
    return {text for text in texts if isinstance(text, str) and CODE.fullmatch(text)}


def test_every_finding_is_explained() -> None:
    """The guide's table of what `check` finds has every code, and none that there is not."""
    table = guide.page("programs").partition("| code | when |")[2].partition("\n\n")[0]
    codes = [row.split("|")[1] for row in table.splitlines() if "|" in row]
    told = {code for cell in codes for code in re.findall(r"`([a-z0-9-]+)`", cell)}
    hits = {f"hits-{kind}" for kind in get_args(Kind)}
    metal = {"cuts-track", "cuts-screw"}
    copies = {"copy-edited", "source-changed", "source-missing"}  # of `work/kept/copies.py`
    assert told == (codes_found() - NOT_FINDINGS) | hits | metal | copies


def test_scripts_are_told_every_report() -> None:
    """The guide names the commands that `schema --of` knows, and no key that no report has."""
    listed = guide.page("scripts").partition("COMMAND is ")[2].partition(".\n")[0]
    assert re.findall(r"`([a-z]+)`", listed) == list(REPORTS)
    schemas = json.dumps([report_schema(command) for command in REPORTS])
    named = re.findall(r"`(\w+_(?:mm|deg|s))`", "".join(pages().values()))
    assert named
    assert [key for key in named if f'"{key}": {{' not in schemas] == []
