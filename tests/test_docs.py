"""The commands and outputs in README.md are run; so is the runner itself, on small samples.

A fenced block that starts with ```console is executed. Lines that start with `$ ` are commands,
split as a POSIX shell would but run without one: `cd FOLDER` changes the working folder,
`pincorner ...` runs this checkout, in this process (one sample is run by interpreters of their own
as well, and prints the same). All blocks of a page run in order in one temporary folder. The
other lines are what the command before them prints on standard output and standard error together.
They must match exactly, but for this:

* a line of only `..` matches any number of lines, also none;
* local times to the second, as `history` and `show` print them, become 2026-11-25 10:00:00 on both
  sides; the login name is `anna` while the page runs, so that names need no replacing;
* on Windows the program's `\\` between folders counts as `/`.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple, get_args

import pytest
from pydantic import BaseModel

from pincorner.cli.main import main
from pincorner.documents.kinds import KINDS
from pincorner.render.outputs.catalogue import REPORTS
from pincorner.render.outputs.schema import report_schema

ROOT = Path(__file__).resolve().parent.parent
README = ROOT / "README.md"
TIME = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d")
FIXED_TIME = "2026-11-25 10:00:00"
USER = "anna"


class Example(NamedTuple):
    """A command of a page, the line it stands on, and what the page says that it prints."""

    line: int
    command: str
    expected: list[str]


def examples(page: str) -> Iterator[Example]:
    """The commands of the console blocks of a page."""
    inside, current = False, None
    for number, text in enumerate(page.splitlines(), 1):
        if text.startswith("```"):
            if current is not None:
                yield current
            inside, current = not inside and text.startswith("```console"), None
        elif inside and text.startswith("$ "):
            if current is not None:
                yield current
            current = Example(number, text[2:], [])
        elif inside:
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


class Shell(NamedTuple):
    """Where commands run, with which environment, and how."""

    folder: Path
    environment: dict[str, str]
    run: Callable[[Shell, Sequence[str]], str]

    def after(self, command: str) -> tuple[Shell, list[str]]:
        """The shell after a command, and the lines that it printed."""
        words = shlex.split(command)
        if words[0] == "cd":
            folder = self.folder / words[1]
            assert folder.is_dir(), f"cd {words[1]}: no such folder"
            return self._replace(folder=folder), []
        assert words[0] == "pincorner", f"{words[0]}: examples call pincorner and cd only"
        printed = self.run(self, words[1:])
        return self, (printed.replace("\\", "/") if os.name == "nt" else printed).splitlines()


def by_interpreter(shell: Shell, words: Sequence[str]) -> str:
    """What a command prints that is an interpreter of its own, as a shell starts it."""
    return subprocess.run(
        [sys.executable, "-m", "pincorner", *words],
        cwd=shell.folder, env=shell.environment, stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, encoding="utf-8", timeout=120, check=False,
    ).stdout  # fmt: skip


def in_process(shell: Shell, words: Sequence[str]) -> str:
    """What a command prints that is run in this process, in a fortieth of the time."""
    printed = io.TextIOWrapper(io.BytesIO(), "utf-8", "backslashreplace", newline="\n")
    with (
        pytest.MonkeyPatch.context() as patch,
        contextlib.redirect_stdout(printed),
        contextlib.redirect_stderr(printed),
    ):
        patch.chdir(shell.folder)
        for name in os.environ.keys() - shell.environment.keys():
            patch.delenv(name)
        for name, value in shell.environment.items():
            patch.setenv(name, value)
        main(list(words))
    printed.flush()
    return printed.buffer.getvalue().decode("utf-8", "backslashreplace")  # type: ignore[attr-defined]


def new_shell(folder: Path, run: Callable[[Shell, Sequence[str]], str] = in_process) -> Shell:
    """A shell in a folder, with this checkout first on the path and a fixed user."""
    kept = {key: value for key, value in os.environ.items() if not key.startswith("PINCORNER")}
    users = dict.fromkeys(("LOGNAME", "USER", "LNAME", "USERNAME"), USER)
    inside = os.pathsep.join([str(ROOT / "src"), os.environ.get("PYTHONPATH", "")])
    return Shell(folder, {**kept, **users, "PYTHONPATH": inside, "PYTHONUTF8": "1"}, run)


def faults(page: str, shell: Any) -> list[str]:
    """Run a page's examples in a shell: one text for each that prints something else."""
    found = []
    for example in examples(page):
        shell, printed = shell.after(example.command)
        if not matches(normal(example.expected), normal(printed)):
            found.append(
                f"line {example.line}: $ {example.command}\n--- the page says\n"
                + "\n".join(example.expected) + "\n--- printed\n" + "\n".join(printed)
            )  # fmt: skip
    return found


def test_readme(tmp_path: Path) -> None:
    """Every console example of README.md prints what the page says."""
    page = README.read_text(encoding="utf-8")
    assert len(list(examples(page))) > 5
    assert not (found := faults(page, new_shell(tmp_path))), "\n\n".join(found)


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


def test_runner_passes_a_true_sample(tmp_path: Path) -> None:
    """A page whose outputs are right has no faults, errors and later blocks included.

    In this process as in interpreters of their own, which the last of its commands has.
    """
    assert faults(SAMPLE, new_shell(tmp_path)) == []
    last = list(examples(SAMPLE))[-1]
    shell = new_shell(tmp_path / "shop", by_interpreter)
    assert shell.after(last.command)[1] == last.expected


class Canned(NamedTuple):
    """A shell that prints what SAMPLE's commands print, without running anything."""

    def after(self, command: str) -> tuple[Canned, list[str]]:
        """The shell itself, and the lines that belong to a command of SAMPLE."""
        printed = {each.command: each.expected for each in examples(SAMPLE)}[command]
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


def keys_of(model: type[BaseModel]) -> Iterator[str]:
    """The keys of a document and of what stands in it."""
    for name, field in model.model_fields.items():
        yield field.alias or name
        parts = [field.annotation]
        while parts:
            part = parts.pop()
            parts += get_args(part)
            if isinstance(part, type) and issubclass(part, BaseModel):
                yield from keys_of(part)


WRITTEN_BY_COMMANDS = ("survey", "surfacing")


@pytest.mark.parametrize("word", [word for word in KINDS if word not in WRITTEN_BY_COMMANDS])
def test_every_key_is_explained(word: str) -> None:
    """The README names each key that a person may write into a document of this kind."""
    page = README.read_text(encoding="utf-8").partition("## Every key of the documents")[2]
    page = page.partition("\n## ")[0]
    begins = page.index(f"**{KINDS[word].list_key}**")
    told = page[begins : page.find("\n\n**", begins + 1)]
    code = " ".join(re.findall(r"`([^`]*)`", told))
    named = set(re.findall(r"[a-z][a-z0-9_]*", code)) | {"note"}
    assert set(keys_of(KINDS[word].model)) <= named


def test_scripts_are_told_every_report() -> None:
    """The README names the commands that `schema --of` knows, and no key that no report has."""
    page = README.read_text(encoding="utf-8")
    told = page.partition("\n## For scripts\n")[2].partition("\n## ")[0]
    listed = told.partition("COMMAND is ")[2].partition(". ")[0]
    assert re.findall(r"`([a-z]+)`", listed) == list(REPORTS)
    schemas = json.dumps([report_schema(command) for command in REPORTS])
    named = re.findall(r"`(\w+_(?:mm|deg|s))`", page)
    assert named
    assert [key for key in named if f'"{key}": {{' not in schemas] == []
