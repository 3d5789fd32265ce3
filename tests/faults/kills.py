"""Commands stopped dead at a call that changes a file, and what is left of the shop.

After each kill: the registry is as before or as after, outputs are whole or absent, nothing that
was acknowledged is gone; the same command works when it is given again, or says in one line what to
do, and that works; then no staged file and no journal is left, what lies there is on record, and
the registry is sound.
"""

from __future__ import annotations

import re
import shlex
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from old_registries import on_sqlite

from faults.children import KILLED, Child, Nursery, command
from faults.shops import REGISTRY, State, copy_of, state_of, unsound
from pincorner.shipped import shipped_folder

MORE = """
format: 1
pins: [{name: peg-20, shank: 20.00, body: 20.00, height: 25, body_tolerance: 0.01}]
stations:
  - {name: third, bed: long-bench, jig: panel-tray, pin: peg-20, corner: A6, toward: +x+y}
runs: [{name: monday-sides, load: 80 s, parts: 12, stations: [left, right]}]
"""
ROOF_2 = (
    "register roof-2 --bed long-bench --stock 230,500,18 --pin peg-12 --corner F1 --toward +x+y "
    "--under 3 --z-zero surface --program roof-groove --work-offset a=G59.3"
)
DEMO_WORLD = shipped_folder("fixtures_db") / "beehive.yaml"
DEMO_GOES_ON = (
    "list",
    f"load {shlex.quote(DEMO_WORLD.as_posix())}",
    "sheet --all -o sheets --force",
    "block left -o left-block.nc --force",
    "map long-bench -o long-bench.html --force",
)
"""What is given in the folder of a killed demo, which does not begin anew over a registry."""
STATIONS = ("end-bars", "left", "right", "roof", "spare")
DEMO_SHEETS = tuple(f"sheets/{name}.html" for name in STATIONS)
DEMO_PAPERS = ("left-block.nc", "long-bench.html", *DEMO_SHEETS)


class Case(NamedTuple):
    """A command line, the shop in which it is given, the files it writes, those it records."""

    name: str
    line: str
    shop: str
    outputs: tuple[str, ...] = ()
    recorded: bool = False


CASES = [
    Case("init", "init", "nothing"),
    Case("demo", "demo .", "nothing", DEMO_PAPERS, True),
    Case("load", "load more.yaml --note more", "demo"),
    Case("register", f"{ROOF_2} --note again", "demo"),
    Case("retire", "retire run three-sides", "demo"),
    Case("survey --accept", "survey long-bench long-bench-survey.csv --accept", "demo"),
    Case("resurface", "resurface long-bench --depth 0.4", "demo"),
    Case("verify", "verify left --x 295.02 --y 184.97", "demo"),
    Case("block -o", "block right -o right.nc", "demo", ("right.nc",), True),
    Case("block --force", "block left -o left-block.nc --force", "edited", ("left-block.nc",),
         True),
    Case("sheet", "sheet left roof -o new", "demo", ("new/left.html", "new/roof.html"), True),
    Case("map", "map long-bench -o map.svg", "demo", ("map.svg",), True),
    Case("stamp", "stamp hand-hold --station left -o h.nc", "demo", ("h.nc",), True),
    Case("repeat", "repeat roof-groove --stations roof,roof-2 --retract -5 -o both.nc", "roofs",
         ("both.nc",), True),
    Case("dump -o", "dump -o shop.yaml", "demo", ("shop.yaml",)),
    Case("backup", "backup tuesday.sqlite", "demo", ("tuesday.sqlite",)),
    Case("restore", "restore monday.sqlite --force", "edited"),
    Case("restore anew", "restore monday.sqlite", "backup alone"),
    Case("upgrade", "upgrade", "old"),
]  # fmt: skip
REPEATS = ("verify", "resurface", "survey --accept")
"""Commands that add another entry each time they are given."""


class Yard:
    """The shops in which commands are given, made once, and what each command does unharmed.

    `made`: a shop folder with the demo in it, where there is one already.
    """

    def __init__(self, nursery: Nursery, folder: Path, made: Path | None = None) -> None:
        self.nursery, self.folder = nursery, folder
        self._whole: dict[str, tuple[Path, list[tuple[str, str]]]] = {}
        self._count = 0
        demo = folder / "demo"
        if made is None:
            demo.mkdir(parents=True)
            self._do("demo .", demo)
        else:
            shutil.copytree(made, demo)
        (demo / "more.yaml").write_text(MORE, encoding="utf-8")
        edited = Path(shutil.copytree(demo, folder / "edited"))
        self._do("backup monday.sqlite", edited)
        self._do("retire run three-sides", edited)
        self._do("load more.yaml", edited)
        self._do(ROOF_2, Path(shutil.copytree(demo, folder / "roofs")))
        (folder / "nothing").mkdir()
        (folder / "backup alone").mkdir()
        shutil.copy(edited / "monday.sqlite", folder / "backup alone")
        (folder / "old" / "fixtures_db").mkdir(parents=True)
        on_sqlite(folder / "old" / REGISTRY)

    def _do(self, line: str, folder: Path) -> Child:
        child = self.nursery.one(command(line.split(), folder, stop_at=0))
        assert child.code in (0, 1), f"{line}: {child.err}"
        return child

    def fresh(self, case: Case) -> Path:
        """A shop of its own for one kill."""
        self._count += 1
        return Path(shutil.copytree(self.folder / case.shop, self.folder / f"kill {self._count}"))

    def whole(self, case: Case) -> tuple[Path, list[tuple[str, str]]]:
        """The shop after the command unharmed, and the calls that the command made."""
        if case.name not in self._whole:
            folder = Path(
                shutil.copytree(self.folder / case.shop, self.folder / f"{case.name} done")
            )
            self._whole[case.name] = (folder, self._do(case.line, folder).trace)
        return self._whole[case.name]


def turns(trace: Sequence[tuple[str, str]]) -> list[int]:
    """The calls, counted from 1, at which something else begins: another call, another file.

    In order of weight: behind and at what puts a file in place, at what ends a transaction, where
    the registry's own pages are written; then all others.
    """

    def weight(number: int) -> int:
        (call, path), before = trace[number - 1], trace[number - 2] if number > 1 else ("", "")
        places = ("rename", "link")
        if before[0] in places or call in places:
            return int(before[0] not in places)
        if call == "unlink" and path.endswith("-journal"):
            return 2
        return 3 if call == "pwrite" and path.endswith(".sqlite") else 4

    found = [1, *(n for n in range(2, len(trace) + 1) if trace[n - 1] != trace[n - 2])]
    return sorted(found, key=weight)


class Point(NamedTuple):
    """A call of a command at which it is stopped; `torn`: in the middle of it."""

    case: Case
    number: int
    torn: bool

    def __str__(self) -> str:
        return f"{self.case.name} @{self.number}{' torn' if self.torn else ''}"


def weighty_points(yard: Yard, case: Case) -> list[Point]:
    """The point of a command that matters most, two where a paper takes another one's place."""
    trace = yard.whole(case)[1]
    chosen = turns(trace)[: 2 if case.name == "block --force" else 1]
    return [Point(case, number, trace[number - 1][0] == "pwrite") for number in chosen]


def many_points(yard: Yard, count: int) -> list[Point]:
    """So many points, spread evenly over all calls of all commands; every other one is torn."""
    calls = [(case, at + 1) for case in CASES for at in range(len(yard.whole(case)[1]))]
    every = len(calls)
    return [
        Point(*calls[at * every // min(count, every) % every], (at + at // every) % 2 == 1)
        for at in range(count)
    ]


def kill(yard: Yard, point: Point) -> list[str]:
    """What a kill at a point cost: a line for each loss; nothing where all is well."""
    case = point.case
    after, _ = yard.whole(case)
    before, shop = yard.folder / case.shop, yard.fresh(case)
    child = yard.nursery.one(command(case.line.split(), shop, point.number, point.torn))
    if child.code != KILLED:
        return [] if child.code in (0, 1) else [f"not killed, exit {child.code}: {child.err}"]
    with copy_of(shop, yard.folder / "looked at") as copy:
        left = state_of(copy / REGISTRY)
        wrong = _halves(case, copy, before, after)
    again = yard.nursery.one(command(case.line.split(), shop))
    if case.name == "demo" and again.code == 2:  # it does not begin anew: the shop goes on instead
        yard.nursery.one(command(DEMO_GOES_ON[:1], shop))
    wrong += _unrecorded(case, shop)
    wrong += _answered(yard, case, again, shop, after)
    wrong += _kept(case, shop, before, left)
    if case.name != "demo":
        wrong += _brought_about(case, shop, before, after)
    known = {*_names(before), *_names(after)}
    wrong += [f"left over: {name}" for name in _names(shop) if name not in known]
    shutil.rmtree(shop)
    return wrong


def _halves(case: Case, found: Path, before: Path, after: Path) -> list[str]:
    """What is neither as before the command nor as after it, in the registry and of its outputs."""
    left, first, last = (state_of(each / REGISTRY) for each in (found, before, after))
    assert last is not None
    if left is None or first is None:
        whole = first is None and (left is None or last.begins_with(left))
    else:
        whole = left.same_as(first) or left.same_as(last)
    wrong = [] if whole else ["half: the registry"]
    return wrong + [f"half: {n}" for n in case.outputs if not _whole_file(n, found, before, after)]


def _whole_file(name: str, found: Path, before: Path, after: Path) -> bool:
    """Whether an output is as it was before, absent perhaps, or whole."""
    file = found / name
    if not file.exists():
        return not (before / name).exists()
    if name.endswith(".sqlite"):
        copied, whole = state_of(file), state_of(after / name)
        return copied is not None and whole is not None and copied.same_as(whole)
    held = [_timeless(each / name) for each in (before, after) if (each / name).exists()]
    return _timeless(file) in held


def _timeless(file: Path) -> bytes:
    """What a file holds but for the minute in which a sheet was made: it may turn in between."""
    return re.sub(rb"(?<=made )\d{4}-\d\d-\d\d \d\d:\d\d", b"-", file.read_bytes())


def _unrecorded(case: Case, shop: Path) -> list[str]:
    """Papers of the command that lie in the shop and are not on record."""
    now = state_of(shop / REGISTRY)
    papers = now.papers if now is not None else set()
    lying = [name for name in case.outputs if case.recorded and (shop / name).exists()]
    return [f"not on record: {name}" for name in lying if name not in papers]


def _answered(yard: Yard, case: Case, again: Child, shop: Path, after: Path) -> list[str]:
    """Whether the command, given again, works or says what to do, and that works."""
    if again.code in (0, 1):
        return []
    said = again.err.strip()
    if again.code not in (2, 3) or "\n" in said or "a fault in pincorner" in said or not said:
        return [f"again: exit {again.code}: {said}"]
    if case.name == "demo":
        lines = DEMO_GOES_ON
    elif "--force" in said:
        lines = (f"{case.line} --force",)
    else:
        now, last = state_of(shop / REGISTRY), state_of(after / REGISTRY)
        done = now is not None and last is not None and now.same_as(last)
        lines = ("list",)  # it had been carried out before it was killed, and says so
        if not done:
            return [f"again: a dead end, exit {again.code}: {said}"]
    for line in lines:
        child = yard.nursery.one(command(shlex.split(line), shop))
        if child.code not in (0, 1):
            return [f"again: {said}; then {line}: exit {child.code}: {child.err.strip()}"]
    return []


def _kept(case: Case, shop: Path, before: Path, left: State | None) -> list[str]:
    """What is lost or unsound in the registry after the next command."""
    now, first = state_of(shop / REGISTRY), state_of(before / REGISTRY)
    if now is None:
        return ["no registry after the next command"]
    wrong = unsound(shop / REGISTRY)
    if case.name in ("restore", "restore anew"):
        return wrong  # what was there before is gone, as was asked for
    for who, held in (("acknowledged before", first), ("written by the killed command", left)):
        if held is None:
            continue
        if held.version == now.version:
            lost = not now.begins_with(held)
        else:  # an upgrade may write bodies anew
            lost = any(
                now.tables[n][: len(held.tables[n])] != held.tables[n] for n in ("change", "log")
            )
        wrong += [f"lost: what was {who}"] if lost else []
    return wrong


def _brought_about(case: Case, shop: Path, before: Path, after: Path) -> list[str]:
    """What the command, given again, has not brought about: documents, outputs, papers."""
    now, last = state_of(shop / REGISTRY), state_of(after / REGISTRY)
    if now is None or last is None:
        return []
    wrong = []
    if case.name not in REPEATS and now.documents != last.documents:
        wrong.append("documents differ from those of the unharmed command")
    wrong += [f"missing: {name}" for name in case.outputs if not (shop / name).exists()]
    wrong += [f"not on record: {n}" for n in case.outputs if case.recorded and n not in now.papers]
    kept = {*_names(before), *case.outputs}
    gone = [name for name in now.papers if name in kept and not (shop / name).exists()]
    return wrong + [f"on record and missing: {name}" for name in gone]


def _names(folder: Path) -> list[str]:
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())
