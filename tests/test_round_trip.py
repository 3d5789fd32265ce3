"""What goes into a registry comes out as it was: dumps, units, and pins that were chosen."""

from __future__ import annotations

import tempfile
import unicodedata
from pathlib import Path

import pytest
import yaml
from example_world import EXAMPLE
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from thinning import thinned
from worlds import BASE, make_registry

from pincorner.documents.beds import Bed
from pincorner.documents.jigs import Jig
from pincorner.documents.stations import EdgePins, Station
from pincorner.shipped import shipped_folder
from pincorner.work.loading import Loaded, load
from pincorner.work.reports import dump, history, offsets
from pincorner.work.session import Session


def empty(folder: Path, name: str = "r") -> Session:
    """A session on a registry that holds the shipped dialects alone."""
    return Session(make_registry(folder / f"{name}.sqlite", None), "tester", "load")


def load_text(session: Session, folder: Path, text: str) -> Loaded:
    """Load a text."""
    file = folder / "shop.yaml"
    file.write_text(text, encoding="utf-8", newline="\n")
    return load(session, [file], dry_run=False, is_sure=True)


def assert_comes_back(session: Session, folder: Path) -> None:
    """The dump, loaded into an empty registry, gives the same bytes and the same offsets."""
    again, text = empty(folder, "again"), dump(session, None)
    load_text(again, folder, text)
    assert dump(again, None) == text
    assert papers(again) == papers(session)


def papers(session: Session) -> list[tuple[object, ...]]:
    """Station, nest, fingerprint and unrounded offset of every row, or why there is none."""
    return [
        (row.facts.station.name, row.nest, row.refused)
        if row.setup is None
        else (
            row.facts.station.name,
            row.nest,
            row.setup.fingerprint,
            row.setup.zero_in_machine,
            row.setup.printed,
        )
        for row in offsets(session, (), None)
    ]


def demo_world() -> str:
    """The demo's documents."""
    return (shipped_folder("fixtures_db") / "beehive.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("text", [BASE, EXAMPLE, demo_world()], ids=["base", "example", "demo"])
def test_dump_comes_back(tmp_path: Path, text: str) -> None:
    """A dump loaded into an empty registry dumps to the same bytes, with equal offsets."""
    session = empty(tmp_path)
    load_text(session, tmp_path, text)
    assert papers(session)
    assert_comes_back(session, tmp_path)


LATER = {
    "hole gone": ("columns: 15", "columns: 3"),
    "nest gone": ("{name: a, zero: [25, 20]", "{name: b, zero: [25, 20]"),
    "located otherwise": (
        "seat: 18\n",
        "seat: 18\n    locate: {round: {at: [40, 40], hole: 20.05},"
        " slot: {at: [340, 40], width: 20.05, travel: 4}}\n",
    ),
    "slat gone": ("slats: [{name: L1, from: [0, 0], to: [9, 9]}]", "slats: []"),
    "surveyed hole gone": ("rows: 9", "rows: 8"),
}
RECORDS = """
surfacings: [{name: s, bed: long-bench, depth: 1, slats: [L1]}]
surveys: [{name: s, bed: long-bench, readings: [[A9, 60, 855]], fit: {pose: {x: 60, y: 55},
  points: 1, s: 0, dof: 0, centroid: [0, 800], spread: 0}}]
"""


@pytest.mark.parametrize("change", LATER)
def test_dump_of_stations_that_no_longer_locate_comes_back(tmp_path: Path, change: str) -> None:
    """A dump loads even where a bed or jig changed under a station or a record."""
    session = empty(tmp_path)
    world = BASE.replace("surface: -120", "slats: [{name: L1, from: [0, 0], to: [9, 9]}]")
    load_text(session, tmp_path, world + RECORDS)
    old, new = LATER[change]
    assert old in world
    load_text(session, tmp_path, world.partition("stations:")[0].replace(old, new))
    assert_comes_back(session, tmp_path)


NAMES = st.text(
    # the dotless i shares its capital with i (Unicode, CaseFolding.txt, status T): two names
    st.characters(categories=["L", "Mn", "Nd"], include_characters=" -_.+", exclude_characters="ı"),
    min_size=1,
    max_size=20,
).map(lambda text: f"x{unicodedata.normalize('NFC', text)}y")
NOTES = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], include_characters="\t\n"), max_size=60
)


@settings(max_examples=thinned(12), deadline=None, phases=[Phase.explicit, Phase.generate])
@given(
    NAMES, NAMES, NOTES, NOTES,
    st.floats(0.001, 99_999), st.floats(-180, 180), st.floats(-9_999, 9_999),
)  # fmt: skip
def test_odd_worlds_come_back(
    bed: str, jig: str, note: str, why: str, seat: float, angle: float, x: float
) -> None:
    """Names of any script, notes of any characters and numbers of any digits come back."""
    values = yaml.safe_load(BASE)
    values["beds"][0] |= {"name": bed, "note": note, "pose": {"x": x, "y": 0.1, "angle": angle}}
    values["jigs"][0] |= {"name": jig, "seat": seat, "height": seat, "note": note[::-1]}
    values["stations"][0] |= {"name": jig, "bed": bed, "jig": jig, "note": why}
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as made:
        session = empty(Path(made))
        load_text(session, Path(made), yaml.safe_dump(values, allow_unicode=True, sort_keys=False))
        with session.registry.reading() as reader:
            assert reader.get(Bed, bed.upper()).note == note
            assert reader.get(Station, jig).note == why
            assert reader.get(Jig, jig).seat == seat
        assert_comes_back(session, Path(made))


IN_INCHES = """
format: 1
units: in
machines: [{name: m, dialect: rs274, max_skew: 1/64 in}]
beds:
  - {name: b, machine: m, grid: {columns: 9, rows: 9, pitch: [4, 4 in], hole: 3/4 in}, surface: -5,
     pose: {x: 2.5, y: 63.5 mm, angle: 0.5}}
pins: [{name: p, shank: 0.75, body: 19.05 mm, height: 1}]
stations: [{name: s, bed: b, stock: [16, 11, 3/4 in], pin: p, pins: {edge: [B1, D1], stop: A2},
  work_offsets: {a: G54}}]
surfacings: [{name: f, bed: b, depth: 0.01}]
"""
IN_MM = """
format: 1
machines: [{name: m, dialect: rs274, max_skew: 0.396875}]
beds:
  - {name: b, machine: m, grid: {columns: 9, rows: 9, pitch: [101.6, 101.6], hole: 19.05},
     surface: -127, pose: {x: 63.5, y: 63.5, angle: 0.5}}
pins: [{name: p, shank: 19.05, body: 19.05, height: 25.4}]
stations: [{name: s, bed: b, stock: [406.4, 279.4, 19.05], pin: p,
  pins: {edge: [B1, D1], stop: A2}, work_offsets: {a: G54}}]
surfacings: [{name: f, bed: b, depth: 0.254}]
"""


def test_inches_are_kept_as_millimetres(tmp_path: Path) -> None:
    """Documents in inches are the documents in mm that they equal exactly; an angle is left."""
    inches, mm = empty(tmp_path, "in"), empty(tmp_path, "mm")
    load_text(inches, tmp_path, IN_INCHES)
    load_text(mm, tmp_path, IN_MM)
    assert dump(inches, None) == dump(mm, None)
    assert papers(inches) == papers(mm)


CHOOSE = BASE.replace("pins: {edge: [D2, G2], stop: C4}", "corner: C2\n    toward: +x+y")


def chosen(session: Session) -> EdgePins:
    """The pins of the station."""
    with session.registry.reading() as reader:
        station = reader.get(Station, "left")
    assert isinstance(station, Station) and isinstance(station.pins, EdgePins)
    return station.pins


def test_chosen_pins_stay(tmp_path: Path) -> None:
    """Pins that were chosen stay while the station's other keys do, and are chosen anew else."""
    session = empty(tmp_path)
    assert [name for name, _ in load_text(session, tmp_path, CHOOSE).chosen] == ["left"]
    first, text = chosen(session), dump(session, None)
    assert first.chosen and "chosen: true" in text
    better = CHOOSE.replace("[460, 280]", "[860, 280]")
    load_text(session, tmp_path, better.partition("stations:")[0])  # a longer edge reaches farther
    changes = len(history(session, None))
    again = load_text(session, tmp_path, better)
    assert not again.chosen and chosen(session) == first
    assert len(history(session, None)) == changes
    moved = load_text(session, tmp_path, better.replace("{a: G55}", "{a: G56}"))
    assert [name for name, _ in moved.chosen] == ["left"] and chosen(session) != first
    assert_comes_back(session, tmp_path)


def test_given_pins_replace_chosen_ones(tmp_path: Path) -> None:
    """A station loaded with pins has those, whatever was chosen, and loses them to a choice."""
    session = empty(tmp_path)
    load_text(session, tmp_path, CHOOSE)
    load_text(session, tmp_path, BASE)
    assert chosen(session) == EdgePins(edge=("D2", "G2"), stop="C4")
    load_text(session, tmp_path, CHOOSE)
    assert chosen(session).chosen


@pytest.mark.parametrize(
    ("old", "new"),
    [("columns: 15", "columns: 3"), ("depth: 20}", "depth: 20}\n    missing: [C4]"),
     ("[460, 280]", "[200, 280]")],
)  # fmt: skip
def test_change_under_a_station_warns(tmp_path: Path, old: str, new: str) -> None:
    """A bed or jig loaded under a station that it can no longer locate names that station."""
    session = empty(tmp_path)
    assert not load_text(session, tmp_path, BASE).warnings
    warnings = load_text(
        session, tmp_path, BASE.partition("stations:")[0].replace(old, new)
    ).warnings
    (row,) = offsets(session, (), None)
    assert row.setup is None and row.refused is not None
    (warning,) = (each for each in warnings if row.refused in each)
    assert "left" in warning
    assert not load_text(session, tmp_path, BASE).warnings


GONE = [
    ("{a: G55}", "{b: G55}", "there is no such nest; there are a"),
    ("stop: C4", "stop: C12", "bed long-bench has no hole C12"),
    ("edge: [D2, G2], stop: C4", "round: D2, slot: G2", "located by three pins"),
]


@pytest.mark.parametrize(("old", "new", "fragment"), GONE)
def test_part_that_is_not_there_warns(tmp_path: Path, old: str, new: str, fragment: str) -> None:
    """A station that names a hole or nest that is not there now loads with a warning."""
    warnings = load_text(empty(tmp_path), tmp_path, BASE.replace(old, new)).warnings
    assert any(fragment in warning and "left" in warning for warning in warnings), warnings
