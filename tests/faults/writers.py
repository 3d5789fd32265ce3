"""Several processes at one registry: what was acknowledged is there, in order, and nothing is torn.

Each writer changes its own two pins to the same height, one change after the other, verifies and
writes papers between; readers look whether they ever see two heights; backups are taken and put
back elsewhere, or over the registry itself. Times are those of one clock for all processes.
"""

from __future__ import annotations

import contextlib
import io
import re
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from worlds import BASE

from faults.children import Child, Nursery, Work, command
from faults.shops import REGISTRY, State, state_of, unsound

PINS = """format: 1
pins:
  - {{name: {name}-a, shank: 20, body: 20, height: {height}}}
  - {{name: {name}-b, shank: 20, body: 20, height: {height}}}
"""
HEIGHT = re.compile(r"name: (w\d+)-([ab])\b.*?height: ([\d.]+)", re.DOTALL)
MOST_SECONDS = 1800
BUSY = 3


class Done(NamedTuple):
    """A command that was acknowledged: its kind, its tag, when it began and ended (s)."""

    kind: str
    tag: str
    began_s: float
    ended_s: float


class Outcome(NamedTuple):
    """What several at one registry came to."""

    acknowledged: int
    busy: int
    reads: int
    backups: int
    wrong: list[str]


# What children do


def _run(arguments: Sequence[str]) -> tuple[int, str, str]:
    from pincorner.cli.main import main

    out, err = io.TextIOWrapper(io.BytesIO(), "utf-8"), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(list(arguments))
    out.flush()
    return code, out.buffer.getvalue().decode("utf-8"), err.getvalue()


def write(db: str, name: str, count: int) -> dict[str, Any]:
    """Make `count` changes; those acknowledged, how many found the registry busy, what failed."""
    done: list[Done] = []
    busy, failed = 0, []
    for number in range(1, count + 1):
        tag = f"{name}-{number}"
        kind = "verify" if number % 10 == 5 else "block" if number % 10 == 9 else "load"
        if kind == "load":
            file = Path(f"{name}.yaml")
            file.write_text(PINS.format(name=name, height=number), encoding="utf-8")
            line = ["load", str(file), "--note", tag]
        elif kind == "verify":
            line = ["verify", "left", "--x", "295", "--y", "185", "--note", tag]
        else:
            line = ["block", "left", "-o", f"{tag}.nc"]
        began_s = time.monotonic()
        code, _, said = _run(["--db", db, *line])
        if code in (0, 1):
            done.append(Done(kind, tag, began_s, time.monotonic()))
        elif code == BUSY and _waited_in_vain(said):
            busy += 1
        else:
            failed.append(f"{tag}: {kind}: exit {code}: {said}")
    Path(f"{name} is done").touch()
    return {"done": done, "busy": busy, "failed": failed}


def _waited_in_vain(said: str) -> bool:
    """Whether a command said that it waits, and then who was in its way for too long."""
    lines = [line for line in said.splitlines() if not line.startswith("waiting for ")]
    return len(lines) == 1 and " is in use by " in lines[0]


def read(db: str, writers: int) -> dict[str, Any]:
    """Look at the registry until the writers are done; how often, what was torn or went back."""
    wrong, looks = [], 0
    highest: dict[str, float] = {}
    end = time.monotonic() + MOST_SECONDS
    while len(list(Path().glob("* is done"))) < writers and time.monotonic() < end:
        code, out, said = _run(["--db", db, "dump"])
        looks += 1
        if code != 0:
            wrong.append(f"dump: exit {code}: {said}")
        seen: dict[str, list[float]] = {}
        for name, _, height in HEIGHT.findall(out):
            seen.setdefault(name, []).append(float(height))
        for name, heights in seen.items():
            if len(heights) != 2 or heights[0] != heights[1]:
                wrong.append(f"torn: {name} has {heights}")
            if heights[0] < highest.get(name, 0):
                wrong.append(f"went back: {name} from {highest[name]} to {heights[0]}")
            highest[name] = heights[0]
        code, _, said = _run(["--db", db, "history"])
        if code != 0:
            wrong.append(f"history: exit {code}: {said}")
        time.sleep(0.05)  # or two readers look so often that writers hardly get to write
    return {"looks": looks, "wrong": wrong}


def back_up(db: str, writers: int, most: int) -> dict[str, Any]:
    """Take backups while writers write, and put each back elsewhere; how many, what failed."""
    wrong, taken = [], 0
    while len(list(Path().glob("* is done"))) < writers and taken < most:
        taken += 1
        steps = (["--db", db, "backup", f"copy {taken}.sqlite"],
                 ["--db", f"back {taken}.sqlite", "restore", f"copy {taken}.sqlite"])  # fmt: skip
        for step in steps:
            code, _, said = _run(step)
            if code != 0:
                wrong.append(f"{step[2]}: exit {code}: {said}")
        time.sleep(0.1)
    return {"taken": taken, "wrong": wrong}


def put_back(db: str, wait_s: float) -> dict[str, Any]:
    """Back up in the midst of it, and a little later put that in the place of everything."""
    time.sleep(wait_s)
    code, _, said = _run(["--db", db, "backup", "midst.sqlite"])
    wrong = [] if code == 0 else [f"backup: exit {code}: {said}"]
    time.sleep(wait_s / 2)
    began_s = time.monotonic()
    code, _, said = _run(["--db", db, "restore", "midst.sqlite", "--force"])
    wrong += [] if code == 0 else [f"restore: exit {code}: {said}"]
    return {"restored": [began_s, time.monotonic()], "wrong": wrong}


# What their owner asks for


def several(
    nursery: Nursery, folder: Path, db: str, writers: int, count: int, *, restores: bool = False
) -> Outcome:
    """`writers` processes make `count` changes each, with readers and backups beside them.

    `restores`: instead of those, a backup is put back over the registry in the midst of it.
    """
    base = folder / "base.yaml"
    base.write_text(BASE, encoding="utf-8")
    for line in (["init"], ["load", str(base)]):
        child = nursery.one(command(["--db", db, *line], folder))
        assert child.code == 0, child.err

    def work(function: Callable[..., Any], **keywords: Any) -> Work:
        return Work(f"faults.writers:{function.__name__}", {"db": db, **keywords}, folder)

    works = [work(write, name=f"w{n}", count=count) for n in range(writers)]
    if restores:
        others = [work(put_back, wait_s=0.01 * count)]
    else:
        others = [*[work(read, writers=writers)] * 2, work(back_up, writers=writers, most=count)]
    children = nursery.run(*works, *others)
    dead = [f"a child died: {child.err}" for child in children if child.gave is None]
    if dead:
        return Outcome(0, 0, 0, 0, dead)
    wrote, beside = children[:writers], children[writers:]
    done = [[Done(*each) for each in child.gave["done"]] for child in wrote]
    wrong = [line for child in wrote for line in child.gave["failed"]]
    wrong += [line for child in beside for line in child.gave["wrong"]]
    now = state_of(db)
    assert now is not None
    wrong += unsound(db)
    if restores:
        wrong += _missing_after_restore(now, folder, done, beside[0])
    else:
        wrong += [line for each in done for line in _missing(now, each)]
        wrong += _out_of_order(now, [each for one in done for each in one])
        wrong += _odd_copies(now, folder)
    return Outcome(
        sum(len(each) for each in done),
        sum(child.gave["busy"] for child in wrote),
        sum(child.gave.get("looks", 0) for child in beside),
        sum(child.gave.get("taken", 0) for child in beside),
        wrong,
    )


def _tags(state: State, kind: str) -> list[str]:
    """The tags of one kind of command that a registry holds, in order."""
    if kind == "load":
        return [str(row[-1]) for row in state.tables["change"]]
    if kind == "verify":
        return [str(row[2]) for row in state.tables["verification"]]
    return [Path(row[-2]).stem for row in state.tables["log"]]


def _missing(state: State, done: list[Done]) -> list[str]:
    """Acknowledged changes of one writer that are gone, doubled or out of order."""
    wrong = []
    for kind in ("load", "verify", "block"):
        due = [each.tag for each in done if each.kind == kind]
        known = set(due)
        found = [tag for tag in _tags(state, kind) if tag in known]
        if found != due:
            lost = sorted(known.difference(found))
            wrong.append(
                f"{kind}: {len(lost)} lost {lost[:5]}" if lost else f"{kind}: order differs"
            )
    return wrong


def _out_of_order(state: State, done: list[Done]) -> list[str]:
    """Changes that stand behind one which began only after they were acknowledged."""
    by_tag = {each.tag: each for each in done if each.kind == "load"}
    latest = float("-inf")
    wrong = []
    for tag in _tags(state, "load"):
        if tag in by_tag:
            if by_tag[tag].ended_s < latest:
                wrong.append(f"{tag} stands behind one that began after it had ended")
            latest = max(latest, by_tag[tag].began_s)
    return wrong


def _odd_copies(state: State, folder: Path) -> list[str]:
    """Backups, and what came back from them, that are not the registry at one moment."""
    wrong = []
    for copy in [*folder.glob("copy *.sqlite"), *folder.glob("back *.sqlite")]:
        held = state_of(copy)
        wrong += [f"{copy.name}: {line}" for line in unsound(copy)]
        if held is not None:  # a restore may add itself at the end
            own = [row for row in held.tables["change"] if "restore" not in row]
            held.tables["change"] = own
        if held is None or not state.begins_with(held):
            wrong.append(f"{copy.name} is not an earlier state")
    return wrong


def _missing_after_restore(
    now: State, folder: Path, done: list[list[Done]], restorer: Child
) -> list[str]:
    """Changes that should be there once a backup was put back in the midst, and are not."""
    began_s, ended_s = restorer.gave["restored"]
    midst = state_of(folder / "midst.sqlite")
    assert midst is not None
    wrong = []
    for each in (each for one in done for each in one):
        there = each.tag in _tags(now, each.kind)
        if each.began_s > ended_s and not there:
            wrong.append(f"lost: {each.tag}, begun after the restore")
        if each.ended_s < began_s and there != (each.tag in _tags(midst, each.kind)):
            wrong.append(f"{each.tag}, ended before the restore, is not as in the backup")
    return wrong


# Two at one place


def two_inits(nursery: Nursery, folder: Path) -> list[str]:
    """What goes wrong when two processes make a registry in one folder at once."""
    folder.mkdir()
    both = nursery.run(*[command(["init", "--by", by], folder) for by in ("one", "two")])
    wrong = _one_of(both, folder, lambda state: len(state.tables["change"]) == 1)
    left = {file.name for file in (folder / REGISTRY).parent.iterdir()} - {Path(REGISTRY).name}
    return wrong + [f"left beside the registry: {name}" for name in sorted(left)]


def two_restores(nursery: Nursery, folder: Path, copy: Path) -> list[str]:
    """What goes wrong when two processes put a backup where no registry is, at once."""
    folder.mkdir()
    whole = state_of(copy)
    assert whole is not None
    both = nursery.run(*[command(["restore", copy], folder)] * 2)
    return _one_of(both, folder, lambda state: state.documents == whole.documents, both_may=True)


def _one_of(
    both: Sequence[Child], folder: Path, whole: Callable[[State], bool], both_may: bool = False
) -> list[str]:
    """What is wrong where one of two should have won, and the other have said so in one line."""
    codes = sorted(child.code for child in both)
    wrong = [] if codes[0] == 0 and (codes[1] in (2, 3) or both_may) else [f"exit codes {codes}"]
    for child in both:
        said = child.err
        if child.code and (said.count("\n") != 1 or "a fault in pincorner" in said):
            wrong.append(f"exit {child.code}: {said}")
    state = state_of(folder / REGISTRY)
    if state is None:
        return [*wrong, f"no registry; {[child.err for child in both]}"]
    return (
        wrong + ([] if whole(state) else ["not what the winner made"]) + unsound(folder / REGISTRY)
    )
