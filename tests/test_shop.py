"""The front door for Python says what the command line says, and raises what it refuses."""

from __future__ import annotations

import doctest
import json
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
from conftest import Run
from plans import registry_of
from test_chosen_pins import SLATTED, SURVEY
from worlds import BASE, make_registry

from pincorner import (
    BadInput,
    DocumentErrors,
    Offset,
    Refused,
    RegistryMissing,
    Setup,
    Shop,
    UnknownName,
)
from pincorner.documents.alone import DocumentsAlone
from pincorner.documents.beds import Bed
from pincorner.documents.kinds import KINDS, identity
from pincorner.documents.stations import Station
from pincorner.errors import PincornerError
from pincorner.registry import times
from pincorner.registry.store import Registry
from pincorner.render.outputs.catalogue import maker
from pincorner.shipped import shipped_folder
from pincorner.work.loading import load, read_alone
from pincorner.work.reports import dump
from pincorner.work.session import Session

WITH_EXAMPLES = (
    "pincorner",
    "pincorner.documents.yaml_tree",
    "pincorner.geometry.outline",
    "pincorner.geometry.pose",
    "pincorner.render.blocks.block",
    "pincorner.setups.transform",
    "pincorner.shop",
    "pincorner.units",
)
"""Modules whose docstrings show how they are used."""

LEAST_EXAMPLES = 10
"""Docstrings with an example, all modules together."""

TOO_FAR = BASE.replace("[D2, G2]", "[D2, J2]")
"""Station `left` with an edge pin beyond the jig's edge: well-formed, and cannot be located."""

STATIONS = {"left": "hand-hold", "right": "hand-hold-turned", "end-bars": "end-bar-notch",
            "roof": "roof-groove", "spare": "hand-hold"}  # fmt: skip
"""Every station of the demo's registry, and the program that runs there."""


def test_examples_in_docstrings(in_demo: Path) -> None:
    """Every example in a docstring prints what stands there, and there are some to read."""
    finder, runner, shown = doctest.DocTestFinder(), doctest.DocTestRunner(verbose=False), 0
    for name in WITH_EXAMPLES:
        for example in finder.find(import_module(name), name):
            told: list[str] = []
            failed = runner.run(example, out=told.append, clear_globs=True).failed
            assert not failed, "".join(told)
            shown += bool(example.examples)
    assert shown >= LEAST_EXAMPLES


def test_every_module_with_examples_is_run() -> None:
    """An example that stands in a docstring of the package is among those that are run."""
    source = Path(import_module("pincorner").__file__ or "").parent
    with_examples = {
        ".".join(["pincorner", *path.relative_to(source).with_suffix("").parts]).removesuffix(
            ".__init__"
        )
        for path in source.rglob("*.py")
        if "\n>>> " in (text := path.read_text(encoding="utf-8")) or "    >>> " in text
    }
    assert with_examples == set(WITH_EXAMPLES)


@pytest.fixture(scope="module", params=["registry", "documents"])
def made(
    request: pytest.FixtureRequest, demo_once: Path, tmp_path_factory: pytest.TempPathFactory
) -> Shop:
    """The demo's shop, from its registry, and from a dump of it alone; it is only read."""
    if request.param == "registry":
        return Shop.open(demo_once)
    session = Session(registry_of(demo_once), "tester", "dump")
    dumped = tmp_path_factory.mktemp("dumped") / "all.yaml"
    dumped.write_bytes(dump(session, None).encode("utf-8"))
    return Shop.from_documents(dumped, folder=demo_once)


@pytest.fixture
def either(made: Shop, in_demo: Path) -> Shop:
    """The same, with the working folder in the demo's."""
    return made


def as_command_tells(offset: Offset) -> dict[str, Any]:
    """What of a row of `offsets --json` an Offset holds, taken from its setup."""
    setup = offset.setup
    return {
        "station": offset.station,
        "nest": offset.nest,
        "work_offset": offset.work_offset,
        "x_mm": offset.x_mm,
        "y_mm": offset.y_mm,
        "z_mm": setup.heights.machine_z_mm,
        "angle_deg": offset.angle_deg,
        "skew_mm": setup.skew_mm,
        "u95_worst_mm": setup.budget.u95_worst_mm,
        "repeat95_worst_mm": setup.budget.repeat95_worst_mm,
        "k": setup.budget.k,
        "fingerprint": setup.fingerprint,
        "refused": offset.refused or None,
    }


def test_offsets_are_those_of_the_command_line(either: Shop, run: Run) -> None:
    """For every station of the demo, to the last bit and in the same order."""
    rows = run("offsets", "--json").json["offsets"]
    offsets = either.offsets()
    assert {row["station"] for row in rows} == set(STATIONS) == set(either.stations())
    for row, offset in zip(rows, offsets, strict=True):
        told = as_command_tells(offset)
        assert told == {key: row[key] for key in told}
        assert [f.text for f in offset.setup.findings] == [f["text"] for f in row["findings"]]


@pytest.mark.parametrize("name", STATIONS)
def test_a_station_is_that_of_the_command_line(either: Shop, run: Run, name: str) -> None:
    """Setups, offsets, block and check of one station are what the commands print of it."""
    station = either.station(name.upper())
    told = [as_command_tells(offset) for offset in either.offsets(name)]
    assert station.name == name and [as_command_tells(o) for o in station.offsets()] == told
    fingerprints = {setup.nest.name: setup.fingerprint for setup in station.setups}
    block = run("block", name, "--json", "--stock-thickness", "17").json
    assert station.block(stock_thickness_mm=17) == block["text"]
    assert either.block(name) == run("block", name).out
    assert list(fingerprints.values()) == [row["fingerprint"] for row in told]
    for nest in fingerprints:
        assert station.block(nest=nest) == run("block", name, "--nest", nest).out
        report = either.check(STATIONS[name], station=name, nest=nest, tools_mm={9: 3.0})
        told = run(
            "check", STATIONS[name], "--station", name, "--nest", nest, "--tool", "9=3", "--json"
        )
        assert json.loads(json.dumps(maker("check")(report))) == told.json


def test_a_program_is_named_by_path_too(either: Shop, in_demo: Path) -> None:
    """A path is read as it is, with the tools of the document that it belongs to."""
    by_name = either.check("hand-hold", station="left", margin_mm=0)
    by_path = either.check(in_demo / "hand-hold.nc", station="left", margin_mm=0.0)
    assert by_name.tools == by_path.tools and by_name.extent == by_path.extent


def shops(tmp_path: Path, text: str) -> list[Shop]:
    """A world in a registry, and from its documents alone."""
    file, registry = tmp_path / "shop.yaml", tmp_path / "r.sqlite"
    file.write_text(text, encoding="utf-8", newline="\n")
    load(Session(make_registry(registry, None, anew=True), "t", "load"), [file], dry_run=False)
    return [Shop.open(registry), Shop.from_documents(str(file))]


def test_what_cannot_be_located_says_why(tmp_path: Path, run: Run) -> None:
    """A refused row carries the refusal as a value; its numbers raise it; nothing is None."""
    for shop in shops(tmp_path, TOO_FAR):
        row = run("--db", tmp_path / "r.sqlite", "offsets", "--json").json["offsets"][0]
        (offset,) = shop.offsets()
        assert not offset.is_located and isinstance(offset.outcome, Refused)
        assert offset.refused == offset.outcome.text == row["refused"] != ""
        assert offset.work_offset == row["work_offset"] == "G55"
        for ask in ("setup", "x_mm", "y_mm", "angle_deg"):
            with pytest.raises(Refused) as raised:
                getattr(offset, ask)
            assert raised.value.text == offset.refused
            assert raised.value.cause == offset.outcome.cause
        station = shop.station("left")
        assert station.offsets()[0].refused == offset.refused
        for refused in (lambda: station.setups, station.block):  # noqa: B023
            with pytest.raises(Refused, match="edge pin J2 would touch"):
                refused()


def test_what_is_located_is_a_setup(tmp_path: Path) -> None:
    """A located row has no refusal, and its outcome is its setup."""
    for shop in shops(tmp_path, BASE):
        (offset,) = shop.offsets("left")
        assert offset.is_located and offset.refused == ""
        assert isinstance(offset.outcome, Setup) and offset.setup is offset.outcome


def test_pins_are_chosen_as_by_load(tmp_path: Path) -> None:
    """A station that leaves its pins to the program has the same from documents as in a registry.

    The survey of the same file counts for the choice.
    """
    registry, alone = shops(tmp_path, SLATTED + SURVEY)
    found = [shop.offsets() for shop in (registry, alone)]
    pins = [[each.setup.located.pins for each in offsets] for offsets in found]
    assert pins[0] == pins[1] and pins[0]
    fingerprints = [[each.setup.fingerprint for each in offsets] for offsets in found]
    assert fingerprints[0] == fingerprints[1]


def test_documents_alone_read_as_a_registry(tmp_path: Path) -> None:
    """Each question that facts ask of a registry has the same answer of its documents alone."""
    beehive = shipped_folder("fixtures_db") / "beehive.yaml"
    registry = make_registry(tmp_path / "r.sqlite", None)
    load(Session(registry, "t", "load"), [beehive], dry_run=False)
    alone = read_alone([beehive], tmp_path).documents
    with registry.reading() as reader:
        assert alone.is_now and reader.is_now
        for kind in KINDS.values():
            names = reader.names(kind.model)
            assert alone.names(kind.model) == names and alone.all(kind.model) == reader.all(
                kind.model
            )
            for name in (*names, "no such"):
                found = alone.find(kind.model, name.upper())
                assert found == reader.find(kind.model, name.upper())
        assert alone.find(Bed, "left") is None
        places = [*map(identity, reader.everything()), ("bed", "no such")]
        assert alone.bodies(places) == reader.bodies(places)
        for bed in ("LONG-bench", "no such"):
            assert sorted(alone.holes_in_use(bed)) == sorted(reader.holes_in_use(bed))
        assert len(alone.holes_in_use("long-bench")) == 11
        assert list(alone.last_papers(None)) == list(reader.last_papers(None)) == []


def test_holes_in_use_name_first_and_last_station() -> None:
    """Where several stations have the same pin in a hole, it is told once, with first and last."""
    beehive = read_alone([shipped_folder("fixtures_db") / "beehive.yaml"], Path()).documents
    left = beehive.find(Station, "left")
    assert left is not None
    more = [left.model_copy(update={"name": name}) for name in ("Zoe", "aa", "left")]
    (hole,) = (h for h in DocumentsAlone(more).holes_in_use("long-bench") if h.label == "D2")
    assert (hole.pin_key, hole.first, hole.last) == ("peg-20", "aa", "zoe")


def test_all_problems_of_all_files_at_once(tmp_path: Path) -> None:
    """Documents that are wrong raise one error with each problem, its file and its line."""
    wrong, unknown = tmp_path / "wrong.yaml", tmp_path / "unknown.yaml"
    wrong.write_text("format: 1\npins:\n  - {name: a, shank: -1}\n", encoding="utf-8")
    unknown.write_text("format: 1\nbeds:\n  - {name: b, machine: none-such, "
                       "grid: {columns: 2, rows: 2, pitch: [9, 9], hole: 3}, pose: {x: 0, y: 0}}\n",
                       encoding="utf-8")  # fmt: skip
    with pytest.raises(DocumentErrors) as raised:
        Shop.from_documents([wrong, str(unknown)])
    assert {Path(problem.file).name for problem in raised.value.problems} == {
        "wrong.yaml", "unknown.yaml",
    }  # fmt: skip
    assert "no machine is named none-such" in str(raised.value)


def test_files_in_parts(tmp_path: Path) -> None:
    """Names are looked up across files, in any order, given as any iterable."""
    begin, stations = BASE.split("stations:")
    parts = [tmp_path / "a.yaml", tmp_path / "b.yaml"]
    parts[0].write_text(f"format: 1\nstations:{stations}", encoding="utf-8")
    parts[1].write_text(begin, encoding="utf-8")
    assert Shop.from_documents(iter(parts)).stations() == ("left",)


def bad(shop: Shop, tmp_path: Path) -> dict[str, Any]:
    """Questions that are refused, by a part of what is said."""
    return {
        "expected a file of documents": lambda: Shop.from_documents([]),
        "cannot be read": lambda: Shop.from_documents(tmp_path / "none.yaml"),
        "no station is named lef": lambda: shop.station("lef"),
        "no station is named rigth; did you mean right": lambda: shop.offsets("left", "rigth"),
        "no station is named nowhere": lambda: shop.block("nowhere"),
        "no nest of panel-tray is named z": lambda: shop.block("left", nest="z"),
        "stock_thickness_mm: expected a size above 0, got 0": lambda: shop.block(
            "left", stock_thickness_mm=0
        ),
        "stock_thickness_mm: expected a size above 0, got nan": lambda: shop.block(
            "left", stock_thickness_mm=float("nan")
        ),
        "margin_mm: expected nothing or more, got -1": lambda: shop.check(
            "hand-hold", station="left", margin_mm=-1
        ),
        "tools_mm: expected a size above 0 for 2, got inf": lambda: shop.check(
            "hand-hold", station="left", tools_mm={1: 6.0, 2: float("inf")}
        ),
        "no program is named hand-holt": lambda: shop.check("hand-holt", station="left"),
        "none.nc is not there": lambda: shop.check("none.nc", station="left"),
    }


def test_bad_questions_are_one_clear_line(either: Shop, tmp_path: Path) -> None:
    """Whatever is wrong with a question is a PincornerError of one line; never a bare None."""
    for said, ask in bad(either, tmp_path).items():
        with pytest.raises(PincornerError) as raised:
            ask()
        assert said in str(raised.value) and len(str(raised.value).splitlines()) == 1


def test_the_past(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A registry answers as of an earlier day; documents alone say that they have no past."""
    monkeypatch.setattr(times, "now_text", lambda: "2026-11-01T10:00:00.000000Z")
    registry, alone = shops(tmp_path, BASE)
    monkeypatch.setattr(times, "now_text", lambda: "2026-11-09T10:00:00.000000Z")
    moved = tmp_path / "moved.yaml"
    moved.write_text(BASE.replace("{x: 60,", "{x: 61,"), encoding="utf-8")
    load(Session(Registry(str(tmp_path / "r.sqlite")), "t", "load"), [moved], dry_run=False)
    before = registry.station("left", as_of="2026-11-05")
    assert [o.x_mm for o in (*before.offsets(), *registry.offsets("left"))] == [295.0, 296.0]
    assert before.setups[0].zero_in_machine.x_mm == 295.0
    assert "X295.000" in before.block() and "X296.000" in registry.block("left")
    assert registry.stations(as_of="2026-10-31") == ()
    with pytest.raises(UnknownName):
        registry.station("left", as_of="2026-10-31")
    with pytest.raises(BadInput, match="expected a date or time"):
        registry.offsets(as_of="yesterday")
    for ask in (alone.offsets, alone.stations):
        with pytest.raises(BadInput, match="documents alone have no past"):
            ask(as_of="2026-11-05")


def test_a_registry_is_found_as_by_commands(
    in_demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By file, shop folder, URL, PINCORNER_DB or the nearest folder upward; else it is missing."""
    file = in_demo / "fixtures_db" / "registry.sqlite"
    monkeypatch.chdir(in_demo / "sheets")
    before = file.read_bytes()
    for place in (file, str(file), in_demo, f"sqlite:///{file.as_posix()}", None):
        assert Shop.open(place).stations() == tuple(sorted(STATIONS))
    monkeypatch.chdir(tmp_path)
    with pytest.raises(RegistryMissing):
        Shop.open()
    with pytest.raises(RegistryMissing):
        Shop.open(tmp_path / "none.sqlite")
    monkeypatch.setenv("PINCORNER_DB", str(file))
    assert Shop.open().block("left") and file.read_bytes() == before
