"""Every key of every document: it changes the fingerprint of who prints it, or it is told why not.

The keys come from the models, so a new one fails here until somebody decides what it does.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple, get_args

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel
from worlds import entries, shipped_dialects

from pincorner.documents.alone import DocumentsAlone
from pincorner.documents.beds import Bed
from pincorner.documents.fields import WholeDocument
from pincorner.documents.kinds import KINDS
from pincorner.documents.machines import Machine
from pincorner.documents.records import Run
from pincorner.documents.writing import from_json
from pincorner.setups.contents import contents, differences
from pincorner.setups.setup import OffsetRow, Setup
from pincorner.setups.transform import make_setups
from pincorner.work.kept.beside import Beside, beside_map, beside_sheet, pins_in_the_way
from pincorner.work.session import Library

BASE = yaml.safe_load(
    """
format: 1
machines:
  - name: m
    dialect: d
    repeatability: 0.02
    travel: {x: [0, 1540], y: [0, 940], z: [-190, 0]}
    tool_lengths: gauge
    touch_plate: 19.05
    nose: 64
    park: [0, 940]
    home: {g28: [0, 0, 0], g30: [0, 940, 0]}
    carriage: {left: 120, right: 120, front: 140, back: 140}
dialects:
  - {name: d, work_offsets: [G54, G55, G56, G57, G58], rotation: r-word, harmless: [G91.1]}
  - {name: e, work_offsets: [G54, G55, G56, G57, G58], rotation: r-word, harmless: [G91.1]}
beds:
  - name: b
    machine: m
    outline: {from: [-60, -60], to: [1460, 860]}
    thickness: 36
    grid: {columns: 15, rows: 9, pitch: [100, 100], hole: 20.02, hole_position: 0.04, depth: 20}
    pose: {x: 60, y: 55, angle: 0.01}
    surface: -120
    spoil: 0.5
    missing: [H5]
    extra: [{name: D2, at: [300.01, 100.02]}, {name: R1, at: [250, 150]}]
    tracks: [{name: T1, from: [0, 150], to: [1000, 150], width: 19, depth: 1}]
    screws: [{name: S1, at: [400, 200], diameter: 9, depth: 5}]
    slats: [{name: L1, from: [1200, 700], to: [1300, 720], surface: -120}]
    solids: [{name: setter, from: [1400, 800], to: [1440, 840], top: 60}]
pins:
  - {name: peg, shank: 20.00, body: 20.00, height: 15, body_tolerance: 0.01}
  - {name: other, shank: 20.00, body: 19.00, height: 16, fit: H8/g6}
jigs:
  - name: tray
    footprint: [460, 280]
    seat: 18
    height: 40
    spoil: 0.1
    copies: 3
    photo: tray.jpg
    note: new
    solids: [{name: toggle, from: [120, 262], to: [160, 280], top: 55}]
    nests:
      - {name: a, zero: [25, 20], stock: {from: [0, 0], size: [200, 240, 20]}, run_off: 8}
      - {name: b, zero: [245, 20], stock: {from: [0, 0], size: [160, 240, 20]}, program: own}
  - name: cradle
    footprint: [440, 200]
    locate: {round: {at: [20, 100], hole: 20.05}, slot: {at: [420, 100], width: 20.05, travel: 4}}
    seat: 24
    nests: [{name: a, zero: [45, 20], stock: {from: [0, 0], size: [160, 160, 28]}, run_off: 7}]
stations:
  - name: left
    bed: b
    jig: tray
    pin: peg
    pins: {edge: [D2, {hole: G2, pin: other}], stop: C4}
    corner: C2
    toward: +x+y
    work_offsets: {a: G55, b: G56}
    program: p
    clamps: [{name: c, from: [215, -50], to: [245, 10], top: 35}]
    note: new
  - name: dowels
    bed: b
    jig: cradle
    pin: peg
    pins: {round: I8, slot: M8}
    work_offsets: {a: G57}
    z: {zero: seat, set: machine}
  - name: set
    bed: b
    jig: tray
    measured: {x: 295.5, y: 185.25, z: -42, nest: b, date: '2026-01-04', by: Ann}
    work_offsets: {a: G58}
    program: p
  - name: bare
    bed: b
    stock: [500, 230, 18]
    pin: peg
    pins: {edge: [G6, J6], stop: F8}
    under: 3
    work_offsets: {a: G58}
programs:
  - name: p
    file: p.nc
    units: mm
    tools: {"1": {diameter: 6, stickout: 38}}
    cycle: 160
    known: [{what: probing, lines: [3, 5]}]
  - {name: own, file: own.nc, tools: {"2": {diameter: 12.7}}}
surveys:
  - name: '2026-01-02'
    bed: b
    readings: [[A1, 60, 55], [O9, 1460, 855], [D2, 360.1, 155.1], [G2, 660, 155], [C4, 260, 355]]
    fit: {pose: {x: 60.1, y: 55, angle: 0.01}, points: 4, s: 0.01, dof: 5, centroid: [700, 400],
          spread: 650000, scatter: [490000, 160000, 0], linear: [[1.0001, 0], [0, 1]],
          plane: {height: -120, slope: [0, 0], rms: 0, points: 4}}
surfacings: [{name: '2026-01-03', bed: b, depth: 0.3}]
disturbances: [{name: '2026-01-05', bed: b}]
runs: [{name: r, stations: [left], load: 90, start: 1, tool_change: 2, leave: 3, reach: 200,
        least_gap: 100, override: 1.1, parts: 2}]
"""
)


class Change(NamedTuple):
    """A key's other value in the base: which document of its kind, where in it."""

    value: Any
    at: int = 0
    path: tuple[str | int, ...] = ()


_DOWELS = Change({"round": "I7", "slot": "M7"}, 1, ("pins",))

PRINTED: dict[str, Change] = {
    "machine.name": Change(None),
    "machine.dialect": Change("e"),
    "machine.units": Change("in"),
    "machine.homes": Change(False),
    "machine.travel.x": Change([0, 1550]),
    "machine.travel.y": Change([0, 950]),
    "machine.travel.z": Change([-195, 0]),
    "machine.max_skew": Change(0.2),
    "machine.tool_lengths": Change("none"),
    "machine.touch_plate": Change(20),
    "machine.nose": Change(65),
    "machine.straight_rapids": Change(True),
    "machine.home.g28": Change([0, 1, 0]),
    "machine.home.g30": Change([0, 941, 0]),
    "machine.home_named_axes": Change(True),
    "bed.name": Change(None),
    "bed.machine": Change(None),
    "bed.outline.from": Change([-61, -60]),
    "bed.outline.to": Change([1461, 860]),
    "bed.grid.pitch": Change([100.1, 100]),
    "bed.grid.hole": Change(20.1),
    "bed.grid.depth": Change(8),
    "bed.grid.play": Change(0.1),
    "bed.labels.skip": Change("A"),
    "bed.spoil": Change(0.6),
    "bed.surface": Change(-119),
    "bed.pose.x": Change(61),
    "bed.pose.y": Change(56),
    "bed.pose.angle": Change(0.02),
    "bed.slats.surface": Change(-119),
    "bed.extra.at": Change([300.02, 100.03], path=("extra", 0, "at")),
    "bed.extra.name": Change("D3", path=("extra", 0, "name")),
    "bed.tracks.name": Change("T9"),
    "bed.tracks.from": Change([10, 150]),
    "bed.tracks.to": Change([1001, 150]),
    "bed.tracks.width": Change(20),
    "bed.tracks.depth": Change(1.1),
    "bed.screws.name": Change("S9"),
    "bed.screws.at": Change([401, 200]),
    "bed.screws.diameter": Change(10),
    "bed.screws.depth": Change(5.5),
    "pin.name": Change(None),
    "pin.body": Change(20.1),
    "pin.shank": Change(19.9),
    "pin.fit": Change("H8/f7", 1),
    "pin.held": Change("screwed"),
    "pin.in_hole": Change(8),
    "pin.height": Change(14),
    "jig.name": Change(None),
    "jig.footprint": Change([470, 280]),
    "jig.locate.round.at": Change([21, 100], 1),
    "jig.locate.round.hole": Change(20.06, 1),
    "jig.locate.slot.at": Change([420.5, 100], 1),
    "jig.locate.slot.width": Change(20.06, 1),
    "jig.locate.slot.travel": Change(5, 1),
    "jig.seat": Change(19),
    "jig.height": Change(41),
    "jig.spoil": Change(0.2),
    "jig.edge_from": Change(9),
    "jig.solids.name": Change("knob"),
    "jig.solids.from": Change([121, 262]),
    "jig.solids.to": Change([161, 280]),
    "jig.solids.top": Change(56),
    "jig.nests.name": Change("c"),
    "jig.nests.zero": Change([26, 20]),
    "jig.nests.angle": Change(1),
    "jig.nests.stock.from": Change([1, 0]),
    "jig.nests.stock.size": Change([201, 240, 20]),
    "jig.nests.run_off": Change(9),
    "jig.nests.program": Change("p", path=("nests", 1, "program")),
    "station.name": Change("links"),
    "station.bed": Change(None),
    "station.jig": Change(None),
    "station.stock": Change([501, 230, 18], 3),
    "station.stock_zero": Change([250, 115], 3),
    "station.pin": Change("other"),
    "station.pins.edge": Change([{"hole": "G2", "pin": "other"}, "E2"]),
    "station.pins.edge.hole": Change("F2", path=("pins", "edge", 1, "hole")),
    "station.pins.edge.pin": Change("peg", path=("pins", "edge", 1, "pin")),
    "station.pins.stop": Change("C3"),
    "station.pins.stop.hole": Change("C3", path=("pins", "stop")),
    "station.pins.stop.pin": Change({"hole": "C4", "pin": "other"}, path=("pins", "stop")),
    "station.pins.round": _DOWELS,
    "station.pins.round.hole": _DOWELS,
    "station.pins.round.pin": Change({"hole": "I8", "pin": "other"}, 1, ("pins", "round")),
    "station.pins.slot": _DOWELS,
    "station.pins.slot.hole": _DOWELS,
    "station.pins.slot.pin": Change({"hole": "M8", "pin": "other"}, 1, ("pins", "slot")),
    "station.measured.x": Change(295.6, 2),
    "station.measured.y": Change(185.35, 2),
    "station.measured.z": Change(-43, 2),
    "station.measured.nest": Change("a", 2),
    "station.measured.date": Change("2026-01-05", 2),
    "station.measured.by": Change("Bo", 2),
    "station.turn": Change(180),
    "station.pins_pressed": Change(False),
    "station.measured_holes": Change(True),
    "station.program_angle": Change(1),
    "station.under": Change(4, 3),
    "station.work_offsets": Change({"a": "G54", "b": "G56"}),
    "station.z.zero": Change("seat", path=("z",)),
    "station.z.set": Change("touch", 1),
    "station.program": Change("own"),
    "station.clamps.name": Change("k"),
    "station.clamps.from": Change([216, -50]),
    "station.clamps.to": Change([246, 10]),
    "station.clamps.top": Change(50.8),
    "station.max_skew": Change(0.3),
    "program.name": Change(None),
    "program.file": Change("q.nc"),
    "program.units": Change("in"),
    "program.tools": Change({"3": {"diameter": 6, "stickout": 38}}),
    "program.tools.diameter": Change(7, path=("tools", "1", "diameter")),
    "program.tools.stickout": Change(39, path=("tools", "1", "stickout")),
    "program.cycle": Change(170),
    "program.known.what": Change("looking"),
    "program.known.lines": Change([3, 6]),
    "survey.name": Change("2026-01-04"),
    "survey.bed": Change(None),
    "survey.fit.pose.x": Change(60.2),
    "survey.fit.pose.y": Change(55.2),
    "survey.fit.pose.angle": Change(0.2),
    "survey.fit.centroid": Change([710, 400]),
    "survey.fit.linear": Change([[1.0002, 0], [0, 1]]),
    "survey.fit.plane.height": Change(-119),
    "survey.fit.plane.slope": Change([0.001, 0]),
    "surfacing.name": Change("2026-01-01"),
    "surfacing.bed": Change(None),
    "surfacing.depth": Change(0.4),
    "surfacing.surface": Change(None),
    "surfacing.slats": Change(["L1"]),
    "disturbance.name": Change("2026-01-06"),
    "disturbance.bed": Change(None),
    "dialect.name": Change(None),
    "dialect.write": Change("none"),
    "dialect.rotation": Change("none"),
    "dialect.expressions": Change(True),
    "dialect.converts": Change(True),
    "dialect.first": Change(["G40", "G17"]),
    "dialect.harmless": Change(["G91.1", "G97"]),
    "dialect.cancel": Change([]),
    "dialect.comment": Change("semicolon"),
    "dialect.upper_case": Change(True),
    "dialect.line_length": Change(200),
    "dialect.decimals.mm": Change(4, path=("decimals",)),
    "dialect.decimals.in": Change(5, path=("decimals",)),
    "dialect.decimals.deg": Change(5, path=("decimals",)),
}
"""Keys that change a fingerprint, each with another value (None: names, which are renamed
everywhere)."""

UNSURVEYED = ("bed.surface", "bed.pose.x", "bed.pose.y", "bed.pose.angle")
"""Keys that a survey supersedes: they count on a bed without one."""

BESIDE: dict[str, Change] = {
    "bed.grid.columns": Change(16),
    "bed.grid.rows": Change(10),
    "bed.missing": Change(["H5", "A9"]),
    "bed.slats.from": Change([1201, 700]),
    "bed.slats.to": Change([1301, 720]),
    "bed.solids.from": Change([1401, 800]),
    "bed.solids.to": Change([1441, 840]),
    "jig.photo": Change("other.jpg"),
    "jig.edges.front": Change("the mark"),
    "jig.edges.left": Change("the saw cut"),
    "machine.operator": Change("back"),
    "machine.bed_moves": Change(True),
    "jig.note": Change("old"),
    "station.note": Change("old"),
}
"""Keys that stand on sheets or maps, and that no program is checked against alone: kept as a digest
with each of these papers (`work/kept/beside.py`), and for programs where they reach."""

_UNCERTAIN = "an uncertainty: a larger one is told as a note of its own"
_RUN = "no station prints a run"
_MOVES = "what moves is for runs and loading windows alone"
_NOTE = "no paper prints this note"
_OTHER_EDGE = "a sheet names the front edge and those that pins touch, which it is none of here"
_DRAWN = "drawn without name and height; kept with the copies whose programs reach there"
NOT_PRINTED: dict[str, tuple[Change, str]] = {
    "machine.read_out": (Change("right-handed"), "there is one value"),
    "machine.repeatability": (Change(0.1), _UNCERTAIN),
    "machine.homing": (Change(0.1), _UNCERTAIN),
    "machine.beam": (Change("x"), "a sheet tells of it where the bed moves, and keeps it there"),
    "machine.carriage.left": (Change(1), _MOVES),
    "machine.carriage.right": (Change(1), _MOVES),
    "machine.carriage.front": (Change(1), _MOVES),
    "machine.carriage.back": (Change(1), _MOVES),
    "machine.park": (Change([1, 1]), _MOVES),
    "machine.rapid": (Change(9000), _MOVES),
    "machine.note": (Change("new"), _NOTE),
    "bed.thickness": (Change(37), "only a finding rests on it, and status tells findings"),
    "bed.grid.hole_position": (Change(0.05), _UNCERTAIN),
    "bed.slats.name": (Change("L9"), _DRAWN),
    "bed.solids.name": (Change("post"), _DRAWN),
    "bed.solids.top": (Change(61), _DRAWN),
    "bed.note": (Change("new"), "kept beside sheets of machines that do not home"),
    "pin.body_tolerance": (Change(0.02), _UNCERTAIN),
    "pin.note": (Change("new"), _NOTE),
    "jig.edge_straightness": (Change(0.05), _UNCERTAIN),
    "jig.edges.back": (Change("the toggles"), _OTHER_EDGE),
    "jig.edges.right": (Change("the screw"), _OTHER_EDGE),
    "jig.copies": (Change(4), "how many there are is for runs and status"),
    "station.pins.chosen": (Change(True), "who chose the pins is no matter to whoever sets them"),
    "station.corner": (Change(None), "it follows from the pins and must agree with them"),
    "station.toward": (Change(None), "it follows from the pins and must agree with them"),
    "station.access": (Change("left"), _MOVES),
    "station.load": (Change(60), _RUN),
    "program.note": (Change("new"), _NOTE),
    "survey.readings": (Change([["A1", 1, 2], ["O9", 3, 4]]), "the fit that was accepted counts"),
    "survey.fit.points": (Change(5), _UNCERTAIN),
    "survey.fit.s": (Change(0.02), _UNCERTAIN),
    "survey.fit.dof": (Change(6), _UNCERTAIN),
    "survey.fit.spread": (Change(650001), _UNCERTAIN),
    "survey.fit.scatter": (Change([490001, 160000, 0]), _UNCERTAIN),
    "survey.fit.left_out": (Change(["B2"]), "it tells how the fit came about"),
    "survey.fit.plane.rms": (Change(0.1), _UNCERTAIN),
    "survey.fit.plane.points": (Change(5), _UNCERTAIN),
    "survey.note": (Change("new"), _NOTE),
    "surfacing.note": (Change("new"), _NOTE),
    "disturbance.note": (Change("new"), "kept beside papers, with what is noteworthy"),
    "dialect.work_offsets": (Change(["G54", "G55", "G56", "G57", "G58", "G59"]),
                             "the station's own codes count"),
    "dialect.note": (Change("new"), _NOTE),
}  # fmt: skip
NO_STATION = ("run",)
"""Kinds that no station's paper prints."""


def keys_of(model: type[BaseModel], under: str) -> Iterator[str]:
    """Every key of a model and of the parts in it, by their names in a document."""
    for name, field in model.model_fields.items():
        key = f"{under}.{field.alias or name}"
        parts = list(dict.fromkeys(_parts(field.annotation)))
        union_of_text = str in _leaves(field.annotation)
        if not parts or union_of_text or field.alias == "tools" or name == "tools":
            yield key
        for part in parts:
            yield from keys_of(part, key)


def _parts(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for each in get_args(annotation):
        yield from _parts(each)


def _leaves(annotation: Any) -> set[Any]:
    inner = get_args(annotation)
    return {annotation} if not inner else {leaf for each in inner for leaf in _leaves(each)}


ALL_KEYS = {
    key
    for kind in KINDS.values()
    if kind.word not in NO_STATION
    for key in keys_of(kind.model, kind.word)
} - {"jig.locate"}


def test_every_key_is_decided() -> None:
    """Every key of every document is on one of the lists, and only those that there are."""
    listed = [*PRINTED, *BESIDE, *NOT_PRINTED]
    assert sorted(listed) == sorted(set(listed))
    assert set(listed) == ALL_KEYS


@cache
def document_of(kind: str, text: str) -> WholeDocument:
    """A document, made once of the same text."""
    return from_json(KINDS[kind].model, text)


class Shown(NamedTuple):
    """What documents show: setups by station and nest, and what is kept beside sheets and map."""

    library: Library
    setups: dict[tuple[str, str], Setup]

    @property
    def fingerprints(self) -> dict[tuple[str, str], str]:
        return {place: setup.fingerprint for place, setup in self.setups.items()}

    @property
    def beside(self) -> list[Beside]:
        library, every = self.library, list(self.setups.values())
        rows = [OffsetRow(each.facts, each.nest.name, each) for each in every]
        stationed = [
            [each for each in every if each.facts.station.name == station.name]
            for station in library.stations(())
        ]
        sheets = [beside_sheet(each, pins_in_the_way(each[0]), Path()) for each in stationed]
        maps = [
            beside_map(bed, library.get(Machine, bed.machine), rows, library.all(Run), is_page=True)
            for bed in library.all(Bed)
        ]
        return [*sheets, *maps]


def library_of(values: dict[str, Any]) -> Library:
    """The documents of values."""
    found = [
        document_of(kind.word, json.dumps(each))
        for kind in KINDS.values()
        for each in values.get(kind.list_key, ())
    ]
    return Library(DocumentsAlone(found))


def in_turn(library: Library) -> Iterator[tuple[tuple[str, str], Setup]]:
    """The setup of each station and nest, made when it is asked for."""
    for station in library.stations(()):
        for setup in make_setups(library.facts(station)):
            yield (station.name, setup.nest.name), setup


def shown(values: dict[str, Any]) -> Shown:
    """What documents show."""
    library = library_of(values)
    return Shown(library, dict(in_turn(library)))


@cache
def base() -> Shown:
    """What the base shows."""
    return shown(BASE)


def changed(key: str, change: Change, values: dict[str, Any] = BASE) -> dict[str, Any]:
    """The base, or other values, with one key otherwise."""
    values = copy.deepcopy(values)
    if key in UNSURVEYED:
        del values["surveys"]
    if key == "machine.homes":
        del values["machines"][0]["home"]
    kind = key.split(".", 1)[0]
    document = values[KINDS[kind].list_key][change.at]
    if change.value is None and key.count(".") == 1 and key.endswith(".name"):
        return _renamed(values, kind, document["name"])
    path = list(change.path) or key.split(".")[1:]
    if change.value is None:
        other = key.split(".")[1]
        if other in ("corner", "toward"):
            del document[other]
        elif other == "surface":
            values["surfacings"].append({"name": "2026-01-05", "bed": "b", "surface": -119,
                                         "slats": ["L1"]})  # fmt: skip
        else:
            document[other] = _copied(values, other, document[other])
        return values
    if key.startswith("dialect.decimals"):
        document["decimals"] = {key.rsplit(".", 1)[1]: change.value}
        if key.endswith(".in"):
            values["machines"][0]["units"] = "in"
        return values
    if key == "station.z.zero":
        document["z"] = {"zero": change.value}
        return values
    for step in path[:-1]:
        inner = document[step] if isinstance(step, int) else document.setdefault(step, {})
        document = inner[0] if isinstance(inner, list) and not change.path else inner
    document[path[-1]] = change.value
    return values


def _renamed(values: dict[str, Any], kind: str, old: str) -> dict[str, Any]:
    """A document under another name, and all that name it."""
    word = {"machine": "machine", "bed": "bed", "pin": "pin", "jig": "jig", "program": "program",
            "dialect": "dialect"}[kind]  # fmt: skip

    def walk(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            return {name: walk(each, name) for name, each in value.items()}
        if isinstance(value, list):
            return [walk(each) for each in value]
        return "renamed" if key == word and value == old else value

    values = walk(values)
    next(e for e in values[KINDS[kind].list_key] if e["name"] == old)["name"] = "renamed"
    return dict(values)


def _copied(values: dict[str, Any], kind: str, name: str) -> str:
    """A second document like one there is, under another name; its name."""
    documents = values[KINDS[kind].list_key]
    twin = copy.deepcopy(next(each for each in documents if each["name"] == name))
    documents.append({**twin, "name": "twin"})
    return "twin"


def test_printed_keys_change_fingerprints() -> None:
    """Another value of a key that is printed or checked against is told by fingerprint and word."""
    assert not [key for key, change in PRINTED.items() if not is_told(key, change)]


def is_told(key: str, change: Change) -> bool:
    """Whether a changed key makes some nest's fingerprint another one, and says what changed.

    The first such nest is asked; that all of them say so, random pairs of keys are asked below.
    """
    values = changed(key, change)
    before = base().setups
    if key == "dialect.decimals.in":
        before = shown({**BASE, "machines": values["machines"]}).setups
    if key in UNSURVEYED:
        before = shown({name: each for name, each in BASE.items() if name != "surveys"}).setups
    same_figures = key.startswith("dialect.decimals")  # they are written longer, and no other
    there = set()
    for place, after in in_turn(library_of(values)):
        there.add(place)
        if place in before and after.fingerprint != before[place].fingerprint:
            return same_figures or bool(differences(contents(before[place]), contents(after)))
    return not before.keys() <= there


def test_keys_beside_change_what_is_kept() -> None:
    """What stands beside the station's own changes what is kept with papers, no fingerprint."""
    for key, change in BESIDE.items():
        after = shown(changed(key, change))
        assert after.fingerprints == base().fingerprints, key
        assert after.beside != base().beside, key


def test_keys_that_are_not_printed_change_nothing() -> None:
    """A key on the list of those that do not count changes no fingerprint, and has a reason."""
    for key, (change, reason) in NOT_PRINTED.items():
        assert reason
        assert shown(changed(key, change)).fingerprints == base().fingerprints, key


def test_a_document_changed_back_has_its_fingerprint_again() -> None:
    """Another value and the first one again give the first fingerprints, whatever the key."""
    base()
    for key in [*PRINTED][::24]:
        document_of.cache_clear()
        assert shown(changed(key, PRINTED[key])).setups
        document_of.cache_clear()
        assert shown(copy.deepcopy(BASE)).fingerprints == base().fingerprints, key


@settings(max_examples=6, deadline=None, derandomize=True)
@given(st.lists(st.sampled_from([*PRINTED, *BESIDE]), min_size=2, max_size=2, unique=True))
def test_fingerprints_and_what_is_beside_differ_where_parts_do(keys: list[str]) -> None:
    """Of two worlds two fingerprints are the same exactly where all parts are, and say so."""
    one, other = (shown(changed(key, {**PRINTED, **BESIDE}[key])) for key in keys)
    for place in one.setups.keys() & other.setups.keys():
        mine, theirs = one.setups[place], other.setups[place]
        same = contents(mine) == contents(theirs)
        assert same == (mine.fingerprint == theirs.fingerprint), (keys, place)
        told = differences(contents(mine), contents(theirs))
        if same or not any(key.startswith("dialect.decimals") for key in keys):
            assert bool(told) != same, (keys, place)


IN_MM = """
format: 1
units: mm
beds: [{name: b, machine: m, grid: {columns: 9, rows: 9, pitch: [101.6, 101.6], hole: 19.05},
        pose: {x: 50.8, y: 25.4}, surface: -101.6, spoil: 0.508,
        tracks: [{name: T1, from: [0, 152.4], to: [1016, 152.4], width: 19.05, depth: 1.27}]}]
pins: [{name: peg, shank: 19.05, body: 19.05, height: 22.225}]
jigs: [{name: tray, footprint: [457.2, 279.4], seat: 19.05, height: 38.1,
        solids: [{name: toggle, from: [127, 254], to: [165.1, 279.4], top: 57.15}],
        nests: [{name: a, zero: [25.4, 19.05], stock: {size: [406.4, 241.3, 19.05]}}]}]
stations: [{name: left, bed: b, jig: tray, pin: peg, pins: {edge: [D2, G2], stop: C4},
            work_offsets: {a: G55}, under: 3.175, program: p,
            clamps: [{name: c, from: [203.2, -50.8], to: [228.6, 9.525], top: 50.8}]}]
programs: [{name: p, file: p.nc, tools: {"1": {diameter: 6.35, stickout: 38.1}}}]
"""
IN_INCHES = """
format: 1
units: in
beds: [{name: b, machine: m, grid: {columns: 9, rows: 9, pitch: [4, 4], hole: 3/4 in},
        pose: {x: 2, y: 1}, surface: -4, spoil: 0.02,
        tracks: [{name: T1, from: [0, 6], to: [40, 6], width: 3/4 in, depth: 0.05}]}]
pins: [{name: peg, shank: 3/4 in, body: 0.75, height: 7/8 in}]
jigs: [{name: tray, footprint: [18, 11], seat: 0.75, height: 1.5,
        solids: [{name: toggle, from: [5, 10], to: [6 1/2 in, 11], top: 2.25}],
        nests: [{name: a, zero: [1, 0.75], stock: {size: [16, 9.5, 3/4 in]}}]}]
stations: [{name: left, bed: b, jig: tray, pin: peg, pins: {edge: [D2, G2], stop: C4},
            work_offsets: {a: G55}, under: 1/8 in, program: p,
            clamps: [{name: c, from: [8, -2], to: [9, 3/8 in], top: 2}]}]
programs: [{name: p, file: p.nc, tools: {"1": {diameter: 1/4 in, stickout: 1.5}}}]
"""


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_same_in_mm_and_in_inches(units: str) -> None:
    """Documents that say the same in mm and in inches have one fingerprint on one machine."""
    machine = f"machines: [{{name: m, dialect: rs274, units: {units}}}]\n"
    both = []
    for text in (IN_MM, IN_INCHES):
        found = [entry.document for entry in entries(text + machine)]
        library = Library(DocumentsAlone([*shipped_dialects(), *found]))
        [setup] = make_setups(library.facts(library.stations(())[0]))
        both.append(setup)
    assert both[0].fingerprint == both[1].fingerprint
    assert contents(both[0]) == contents(both[1])
