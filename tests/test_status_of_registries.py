"""Whole registries changed at random: status is silent exactly where papers are still right.

Papers are made again as they would be now and compared as text with what was written. A first look
is short; `PINCORNER_TEST_WHOLE=1` looks at some hundreds.
"""

from __future__ import annotations

import contextlib
import copy
import json
import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from test_every_key import BASE, BESIDE, NOT_PRINTED, PRINTED, changed, document_of
from thinning import VARIABLE

from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.documents.kinds import KINDS
from pincorner.documents.machines import Machine
from pincorner.documents.records import Run
from pincorner.errors import BadInput, PincornerError, Refused
from pincorner.program.source.lexer import acting_text
from pincorner.program.source.stamped import find_block
from pincorner.program.source.text import read_program
from pincorner.registry.reader import Reader
from pincorner.registry.store import Registry
from pincorner.render.blocks.block import render_block
from pincorner.render.pages.maps import MapFacts, RunOfMap, render_map_page
from pincorner.render.pages.sheet import render_sheet
from pincorner.setups.setup import OffsetRow, Setup
from pincorner.setups.transform import offset_rows
from pincorner.work.files.photos import photo_of
from pincorner.work.kept.beside import pins_in_the_way
from pincorner.work.loading import shipped_dialects
from pincorner.work.papers import write_block, write_map, write_sheets
from pincorner.work.programs.checking import Job, check, find_job
from pincorner.work.programs.stamping import stamp
from pincorner.work.reports import block_text
from pincorner.work.session import Library, Session
from pincorner.work.status import status

Values = dict[str, Any]

PROGRAM = """G21 G90 G17
G55
T1 M6
S18000 M3
G0 Z60
G0 X50 Y60
G0 Z5
G1 Z-2 F400
G1 X150 F900
G0 Z60
M5
M30
"""
CODES = ("no-tool-length", "offset-differs", "outside-stock", "low-first-move", "cycle-differs",
         "units-differ", "outside-travel", "hits-clamp", "hits-solid", "hits-jig", "hits-pin",
         "leaves-unknown", "would-stop", "hits-stock", "ends-over-station")  # fmt: skip
"""What is taken as it is in this made-up program, so that its copy is written at all."""

KEYS = {**PRINTED, **BESIDE, **{key: each for key, (each, _) in NOT_PRINTED.items()}}


class World(NamedTuple):
    """A registry in a shop folder, and the documents in it as plain values."""

    shop: Path
    session: Session
    values: Values

    def __repr__(self) -> str:
        return "a world"

    def load(self, values: Values) -> None:
        """Have the registry hold these documents and no others, in one change.

        Raises what makes documents wrong, Refused.
        """
        found = {
            (kind.word, key_of(each["name"])): document_of(kind.word, json.dumps(each))
            for kind in KINDS.values()
            for each in values.get(kind.list_key, ())
        }
        with self.session.registry.writing("tester", "load") as writer:
            writer.put(found.values())
            for kind in reversed(KINDS):
                for name in writer.reader.names(KINDS[kind].model):
                    if (kind, key_of(name)) not in found and kind != "dialect":
                        writer.retire(kind, name)
        self.values.clear()
        self.values.update(values)


class Seen(NamedTuple):
    """What there is at one moment: rows of the table, and what their papers would be."""

    rows: dict[str, list[OffsetRow]]
    sheets: dict[str, str]
    map: str
    copies: dict[str, tuple[object, ...]]

    def __repr__(self) -> str:
        return "what was seen"

    def setups(self, station: str) -> list[Setup]:
        """Of the nests of a station; none where it is refused."""
        return [row.setup for row in self.rows.get(station, ()) if row.setup is not None]


def seen(world: World, before: Seen | None = None) -> Seen:
    """What papers would be now; how well parts lie, as it was `before`."""
    with world.session.reading() as reader:
        library = Library(reader)
        rows = {
            station.name: [_as_well(row, before) for row in offset_rows(library.facts(station))]
            for station in library.stations(())
        }
        page = map_page(reader, library, rows)
    sheets = {name: text for name in rows if (text := sheet(world, rows[name]))}
    return Seen(rows, sheets, page, {name: copied(world, name, rows) for name in COPIES})


def _as_well(row: OffsetRow, before: Seen | None) -> OffsetRow:
    """A row whose part lies as well as before: a part that lies less well is a note of its own."""
    name = row.facts.station.name
    old = [] if before is None else before.setups(name)
    same = [each.budget for each in old if each.nest.name == row.nest]
    if row.setup is None or not same:
        return row
    return row._replace(outcome=row.setup._replace(budget=same[0]))


def sheet(world: World, rows: list[OffsetRow]) -> str:
    """A station's sheet, without the day on it; empty where there is none."""
    nests = [row.setup for row in rows if row.setup is not None]
    if not nests:
        return ""
    photo = photo_of(world.shop, nests[0].facts.holder)
    return render_sheet(nests, pins_in_the_way(nests[0]), "a4", None, None, photo, "mm")


def map_page(reader: Reader, library: Library, rows: Mapping[str, list[OffsetRow]]) -> str:
    """The map, without the day on it and the sheets that it leads to; empty where no bed is."""
    bed = library.find(Bed, "b")
    if bed is None:
        return ""
    mine = [row for each in rows.values() for row in each if key_of(row.facts.bed.name) == "b"]
    take_out = {key_of(row.facts.station.name): pins_in_the_way(row.setup)
                for row in mine[::-1] if row.setup is not None}  # fmt: skip
    runs = tuple(RunOfMap(run.name, run.stations) for run in library.all(Run))
    machine = library.get(Machine, bed.machine)
    return render_map_page(bed, mine, None, machine, MapFacts(runs=runs, take_out=take_out))


COPIES = {"left.nc": ("left", "a", "p.nc"), "second.nc": ("left", "b", "own.nc")}
"""Stamped copies: station, nest and program of each."""


def copied(world: World, name: str, rows: Mapping[str, list[OffsetRow]]) -> tuple[object, ...]:
    """What a copy rests on: its block as it would be written, its program, what check finds."""
    station, nest, program = COPIES[name]
    nests = [row.setup for row in rows.get(station, ()) if row.setup is not None]
    nests = nests if any(each.nest.name == nest for each in nests) else []
    source, copy_ = (
        path.read_bytes() if path.exists() else None
        for path in (world.shop / program, world.shop / name)
    )
    try:
        block: object = acting(render_block(nests, nest)) if nests else None
    except PincornerError as error:
        block = type(error)
    found: object = None
    if source is not None and nests:
        with contextlib.suppress(PincornerError):
            [setup] = [each for each in nests if each.nest.name == nest]
            others = [
                row.setup
                for name, each in rows.items()
                for row in each
                if name != station and row.setup and row.facts.bed == setup.facts.bed
            ]
            job = Job(read_program(world.shop / program), setup.program, setup, nests, others)
            report = check(job, {}, setup.budget.u95_worst_mm, lambda _: None).report
            found = [(each.code, each.line, each.what) for each in report.findings]
    return block, source, copy_, found


def acting(text: str) -> list[str]:
    """What a controller acts on, line by line, and what the block notes; but not how far the zero
    lies from the paper of before, which is of that paper's day alone."""
    block = find_block(text.splitlines())
    notes = [each for each in block.notes if "where the last paper" not in each] if block else []
    return [*(line for each in text.splitlines() if (line := acting_text(each))), *notes]


def written(world: World) -> None:
    """Every kind of paper of the first world."""
    session, shop = world.session, world.shop
    write_sheets(session, (), shop / "sheets", "a4", False, False, lambda *_: None)
    write_map(session, "b", shop / "b.html", force=False)
    write_block(session, "left", "a", shop / "left-block.nc", force=False)
    for name, (station, nest, program) in COPIES.items():
        job = find_job(session, str(shop / program), station, nest)
        stamp(session, job, shop / name, codes={}, accept=CODES, diameters_mm={}, force=False,
              told=lambda _: None)  # fmt: skip


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> tuple[World, Seen]:
    """A shop with a station for each way to lie, all its papers written; and what they are."""
    shop = tmp_path_factory.mktemp("first") / "shop"
    (shop / "fixtures_db").mkdir(parents=True)
    for name in ("p.nc", "own.nc"):
        code = "G56" if name == "own.nc" else "G55"
        (shop / name).write_text(PROGRAM.replace("G55", code), encoding="utf-8", newline="\n")
    file = str(shop / "fixtures_db" / "registry.sqlite")
    registry = Registry.create(file, "mm", shipped_dialects(), "tester")
    world = World(shop, Session(registry, "tester", "test", "made up"), {})
    world.load(copy.deepcopy(BASE))
    written(world)
    before = seen(world)
    world.session.registry._engine.dispose()
    shutil.copytree(shop, shop.with_name("kept"), copy_function=shutil.copy2)
    return world, before


Act = Callable[[World], None]


def key_changed(key: str) -> Act:
    """One key of one document otherwise."""

    def act(world: World) -> None:
        world.load(changed(key, KEYS[key], world.values))

    return act


def back(world: World) -> None:
    """All documents as they were at first."""
    world.load(copy.deepcopy(BASE))


def another(kind: str, **values: Any) -> Act:
    """One more document."""

    def act(world: World) -> None:
        now = copy.deepcopy(world.values)
        now[kind] = [each for each in now.get(kind, ()) if each["name"] != values["name"]]
        now[kind].append(copy.deepcopy(values))
        world.load(now)

    return act


def retired(kind: str, at: int) -> Act:
    """One document less."""

    def act(world: World) -> None:
        now = copy.deepcopy(world.values)
        del now[kind][at]
        world.load(now)

    return act


def surveyed(x: float) -> Act:
    """The bed is surveyed once more, and lies at another place or at the same."""

    def act(world: World) -> None:
        fit = copy.deepcopy(BASE["surveys"][0])
        fit["name"], fit["fit"]["pose"]["x"] = "2026-02-01", x
        another("surveys", **fit)(world)

    return act


def edited(name: str, before: bytes, after: bytes) -> Act:
    """A file edited by hand."""

    def act(world: World) -> None:
        path = world.shop / name
        if path.exists():
            path.write_bytes(path.read_bytes().replace(before, after))

    return act


def gone(name: str) -> Act:
    """A file that is taken away."""
    return lambda world: (world.shop / name).unlink(missing_ok=True)


ACTS: dict[str, Act] = {
    **{f"key {key}": key_changed(key) for key in KEYS},
    "back": back,
    "surveyed": surveyed(60.4),
    "surveyed, the same": surveyed(60.1),
    "resurfaced": another("surfacings", name="2026-02-02", bed="b", depth=0.25),
    "disturbed": another("disturbances", name="2026-02-03", bed="b"),
    "surfacing taken back": retired("surfacings", -1),
    "survey taken back": retired("surveys", -1),
    "station retired": retired("stations", -1),
    "run retired": retired("runs", -1),
    "another run": another("runs", name="q", stations=["bare", "left"]),
    "station near": another(
        "stations", name="near", bed="b", stock=[80, 60, 18], pin="peg",
        pins={"edge": ["D1", "E1"], "stop": "C2"}, under=2),
    "station far": another(
        "stations", name="far", bed="b", stock=[120, 150, 18], pin="peg",
        pins={"edge": ["L2", "M2"], "stop": "K3"}),
    "program posted anew": edited("p.nc", b"F900", b"F800"),
    "program saved again": edited("p.nc", b"", b""),
    "copy edited": edited("left.nc", b"F900", b"F1000"),
    "copy's block edited": edited("left.nc", b"G55", b"G56"),
    "block edited": edited("left-block.nc", b"X", b"X1"),
    **{f"no {name}": gone(name) for name in ("p.nc", "left.nc", "left-block.nc", "own.nc")},
    "no sheet": gone("sheets/left.html"),
}  # fmt: skip


def put_back(world: World) -> None:
    """The folder as it was at first; one registry for all, so that its queries are made once."""
    world.session.registry._engine.dispose()
    shutil.rmtree(world.shop)
    shutil.copytree(world.shop.with_name("kept"), world.shop, copy_function=shutil.copy2)
    world.values.clear()
    world.values.update(copy.deepcopy(BASE))


def told(world: World) -> dict[str, list[str]]:
    """Codes of what status says of each file."""
    found: dict[str, list[str]] = {}
    for item in status(world.session, 10_000):
        path = item.text.split(": ")[0]
        if (world.shop / path).suffix in (".html", ".nc"):
            found.setdefault(path, []).append(item.code)
    return found


STALE = ("stale", "copy", "source")


def faults(world: World, before: Seen) -> Iterator[str]:
    """Papers that are wrong and not told, or told and right."""
    now, said = seen(world, before), told(world)

    def is_told(path: str) -> bool:
        return any(code.startswith(STALE) for code in said.get(path, ()))

    for name, page in before.sheets.items():
        path = f"sheets/{name}.html"
        if name in now.sheets and is_told(path) != (page != now.sheets[name]):
            yield f"{path} {difference(page, now.sheets[name])}, said {said.get(path)}"
    if now.map and is_told("b.html") != (before.map != now.map):
        yield f"b.html {difference(before.map, now.map)}, said {said.get('b.html')}"
    for path in [f"sheets/{name}.html" for name in before.rows if not now.setups(name)]:
        if is_told(path) != (world.shop / path).exists():
            yield f"{path} is of a station out of use, or refused, said {said.get(path)}"
    for path in (*COPIES, "left-block.nc"):
        if not now.setups("left") and (world.shop / path).exists() and not is_told(path):
            yield f"{path} is of a station out of use, or refused, not said"
    for name in COPIES:
        if now.setups("left") and before.copies[name] != now.copies[name] and not is_told(name):
            pairs = zip(before.copies[name], now.copies[name], strict=True)
            yield f"{name} {[pair for pair in pairs if pair[0] != pair[1]]}, said {said.get(name)}"
    path = world.shop / "left-block.nc"
    if now.setups("left") and path.exists() and not is_told(path.name):
        try:
            block = block_text(world.session, "left", "a", None, None)[0]
        except PincornerError as error:
            yield f"{path.name} {error}, not said"
        else:
            if acting(path.read_text(encoding="utf-8")) != acting(block):
                yield f"{path.name} is otherwise, not said"


def difference(before: str, after: str) -> str:
    """The first lines in which two pages differ."""
    pairs = zip(before.splitlines(), after.splitlines(), strict=False)
    return next((f"{one.strip()[:150]} -> {other.strip()[:150]}" for one, other in pairs
                 if one != other), "is the same" if before == after else "is longer")  # fmt: skip


_KEYS = sorted(each for each in ACTS if each.startswith("key "))
_REST = [each for each in ACTS if not each.startswith("key ")]
_ACTS = st.one_of(st.sampled_from(_KEYS), st.sampled_from(_REST))


@settings(
    max_examples=300 if os.environ.get(VARIABLE) else 5,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(acts=st.lists(_ACTS, min_size=1, max_size=3))
def test_status_is_silent_exactly_where_papers_are_right(
    acts: list[str], first: tuple[World, Seen]
) -> None:
    """Sheets and maps are told exactly where they would read otherwise; programs at least there."""
    world, before = first
    put_back(world)
    for act in acts:
        # not every change fits every world: a part is gone, a name in use
        with contextlib.suppress(KeyError, IndexError, ValueError, Refused, BadInput):
            ACTS[act](world)
    assert not list(faults(world, before))
