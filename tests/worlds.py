"""Small worlds for tests: documents from text, facts and setups without a registry, registries."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest import mock

from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.kinds import identity
from pincorner.documents.reading import Entry, read_files, read_text
from pincorner.documents.stations import bare_stock_jig
from pincorner.errors import DocumentErrors
from pincorner.registry import times
from pincorner.registry.store import Registry
from pincorner.setups.facts import Facts
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.shipped import shipped_folder

_NOW_TEXT = times.now_text
World = dict[tuple[str, str], WholeDocument]
"""Documents by kind and key."""

BASE = """
format: 1
machines:
  - name: gantry-1
    dialect: rs274
    travel: {x: [0, 1540], y: [0, 940], z: [-190, 0]}
    repeatability: 0.02
    max_skew: 0.10
    touch_plate: 19.05
beds:
  - name: long-bench
    machine: gantry-1
    grid: {columns: 15, rows: 9, pitch: [100, 100], hole: 20.02, hole_position: 0.04, depth: 20}
    pose: {x: 60, y: 55, angle: 0}
    surface: -120
pins:
  - {name: peg-20, shank: 20.00, body: 20.00, height: 22, body_tolerance: 0.01}
jigs:
  - name: panel-tray
    footprint: [460, 280]
    seat: 18
    height: 40
    edge_straightness: 0
    nests: [{name: a, zero: [25, 20], stock: {size: [410, 240, 20]}}]
stations:
  - name: left
    bed: long-bench
    jig: panel-tray
    pin: peg-20
    pins: {edge: [D2, G2], stop: C4}
    pins_pressed: false
    work_offsets: {a: G55}
"""
"""The world of the worked examples (references/worked_places.yaml): case A0 is station `left`.

Its jig is laid against the pins, not pushed: then they count where their holes are."""

PRESSED = BASE.replace("    pins_pressed: false\n", "")
"""The same with the jig pushed against its pins, as documents have it by default."""


@cache
def entries(text: str) -> tuple[Entry, ...]:
    """The documents of a YAML text, read once; DocumentErrors where it has problems."""
    tree, found = read_text(text, "test.yaml")
    if tree.problems:
        raise DocumentErrors(tree.problems)
    return tuple(found)


@cache
def shipped_dialects() -> tuple[WholeDocument, ...]:
    """The dialects that come with the program."""
    found = read_files([shipped_folder("fixtures_db") / "dialects.yaml"])
    return tuple(each.document for each in found)


def world(text: str = BASE, **changes: Mapping[str, Any]) -> World:
    """Documents of a text and the shipped dialects; `changes` update keys of a kind's documents.

    `world(bed={"pose": PoseEntry(...)})` changes every bed.
    """
    documents = [*shipped_dialects(), *(entry.document for entry in entries(text))]
    found = {identity(document): document for document in documents}
    for place, document in found.items():
        if place[0] in changes:
            found[place] = document.model_copy(update=dict(changes[place[0]]))
    return found


def facts(found: World, station: str = "left", **changes: Any) -> Facts:
    """The facts of a station of a world; `changes` update keys of the station."""
    this = found["station", key_of(station)].model_copy(update=changes)
    bed = found["bed", key_of(this.bed)]
    machine = found["machine", key_of(bed.machine)]
    on_bed = {kind: [d for (k, _), d in sorted(found.items()) if k == kind and d.bed == bed.name]
              for kind in ("survey", "surfacing")}  # fmt: skip
    return Facts(
        machine=machine,
        dialect=found["dialect", key_of(machine.dialect)],
        bed=bed,
        pins={key: document for (kind, key), document in found.items() if kind == "pin"},
        holder=bare_stock_jig(this.stock, this.stock_zero)
        if this.stock
        else found["jig", key_of(this.jig)],
        station=this,
        program=found["program", key_of(this.program)] if this.program else None,
        survey=on_bed["survey"][-1] if on_bed["survey"] else None,
        surfacings=tuple(on_bed["surfacing"]),
    )


def setups(text: str = BASE, station: str = "left", **changes: Any) -> list[Setup]:
    """The setups of a station of a text; `changes` update keys of the station."""
    return make_setups(facts(world(text), station, **changes))


def make_registry(path: Path, text: str | None = BASE, *, anew: bool = False) -> Registry:
    """A registry in a new SQLite file, with the documents of a text loaded; in mm.

    Its bytes are made once of the same text, since that takes longer than most tests; `anew`: not
    where the making itself counts, or its time.
    """
    if not anew:
        with path.open("xb") as file:
            file.write(_bytes_of(text))
        return Registry(str(path))
    made = Registry.create(str(path), "mm", shipped_dialects(), "tester")
    if text is not None:
        with made.writing("tester", "load") as writer:
            writer.put([entry.document for entry in entries(text)])
    return made


@cache
def _bytes_of(text: str | None) -> bytes:
    with TemporaryDirectory() as folder, mock.patch.object(times, "now_text", _NOW_TEXT):
        # a test may have put the clock elsewhere
        path = Path(folder) / "registry.sqlite"
        make_registry(path, text, anew=True)
        return path.read_bytes()
