"""Pins that were chosen: told, stored, and kept whatever the bed's survey says later (2.3)."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from conftest import Run
from test_round_trip import CHOOSE, chosen, empty, load_text
from worlds import PRESSED

from pincorner.documents.stations import EdgePins, Station
from pincorner.setups.choice import choose_pins
from pincorner.work.reports import dump, history
from pincorner.work.session import Library, Session

SLATTED = CHOOSE.replace("hole_position: 0.04", "hole_position: 0.4").replace(
    "surface: -120", "surface: -120\n    slats: [{name: L1, from: [550, -50], to: [650, 850]}]"
)
"""A slat under column G, whose holes are known badly unless a survey has them."""

SURVEY = """
surveys:
  - {name: 2026-11-20, bed: long-bench, readings: [[A1, 60, 55]],
     fit: {pose: {x: 60, y: 55}, points: 20, s: 0.01, dof: 37, centroid: [700, 400], spread: 4e6}}
surfacings:
  - {name: 2026-11-21, bed: long-bench, surface: -119.5, slats: [L1]}
"""
"""A survey of all holes; then the slat was replaced, and its holes count as unmeasured again."""


def anew(session: Session) -> EdgePins:
    """The pins that would be chosen now for the same corner."""
    with session.registry.reading() as reader:
        station = reader.get(Station, "left")
        assert isinstance(station, Station)
        asked = station.model_copy(update={"pins": None})
        return choose_pins(Library(reader).facts(asked)).pins


def test_a_survey_never_chooses_anew(tmp_path: Path) -> None:
    """After a survey that makes other pins better the chosen ones stay, also when loaded again."""
    session = empty(tmp_path)
    load_text(session, tmp_path, SLATTED)
    first = chosen(session)
    assert first.edge == ("D2", "G2") and first.chosen
    done = load_text(session, tmp_path, f"format: 1\n{SURVEY}")
    assert not done.chosen and chosen(session) == first
    better = anew(session)
    assert better.edge == ("D2", "F2")
    before, changes = dump(session, None), len(history(session, None))
    assert not load_text(session, tmp_path, SLATTED).chosen
    assert chosen(session) == first
    assert (dump(session, None), len(history(session, None))) == (before, changes)
    moved = load_text(session, tmp_path, SLATTED.replace("{a: G55}", "{a: G56}"))
    assert [name for name, _ in moved.chosen] == ["left"]
    assert chosen(session) == better


OTHER_KEYS = [
    ("toward: +x+y", "toward: +x+y\n    turn: 180"), ("corner: C2", "corner: C3"),
    ("{a: G55}", "{a: G55}\n    note: new"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new"), OTHER_KEYS)
def test_any_other_key_that_changes_has_pins_chosen_anew(
    tmp_path: Path, old: str, new: str
) -> None:
    """A station loaded without pins, with any other key changed, is chosen for again, and told."""
    session = empty(tmp_path)
    load_text(session, tmp_path, CHOOSE)
    done = load_text(session, tmp_path, CHOOSE.replace(old, new))
    assert [name for name, _ in done.chosen] == ["left"]
    assert chosen(session) == anew(session)


def test_given_pins_are_no_choice(tmp_path: Path) -> None:
    """Pins that a person gave are not taken for chosen ones: left out later, pins are chosen."""
    session = empty(tmp_path)
    given = CHOOSE.replace("corner: C2", "pins: {edge: [D2, F2], stop: C4}\n    corner: C2")
    load_text(session, tmp_path, given)
    assert chosen(session) == EdgePins(edge=("D2", "F2"), stop="C4")
    assert [name for name, _ in load_text(session, tmp_path, CHOOSE).chosen] == ["left"]
    assert chosen(session).chosen


def test_a_choice_is_told_and_dumped(shop: Path, run: Run) -> None:
    """load and register say which pins, why, and what the runner-up gives; dump says chosen."""
    reason = r"edge D2 G2 and stop C3: lies within "
    stations = PRESSED[PRESSED.index("stations:") :].replace(
        "pins: {edge: [D2, G2], stop: C4}", "corner: C2\n    toward: +x+y"
    )
    text = f"format: 1\n{stations.replace('name: left', 'name: fresh')}"
    (shop / "fresh.yaml").write_text(text, encoding="utf-8")
    loaded = run("load", "fresh.yaml")
    assert loaded.code == 0
    told = next(line for line in loaded.out.splitlines() if line.startswith("station fresh: chose"))
    assert reason in told and "the least of " in told and "; next edge D2 G2 and stop C4: " in told
    again = ("--bed", "long-bench", "--jig", "panel-tray", "--pin", "peg-20", "--work-offset",
             "a=G55", "--corner", "C2", "--toward", "+x+y")  # fmt: skip
    registered = run("register", "other", *again)
    assert told.removeprefix("station fresh: ") in registered.out
    assert run("register", "third", *again, "--json").json["chosen"] in told
    documents = yaml.safe_load(run("dump").out)["stations"]
    pins = {each["name"]: each["pins"] for each in documents}
    assert pins["fresh"] == {"edge": ["D2", "G2"], "stop": "C3", "chosen": True}
    assert "chosen" not in pins["left"]


def test_a_pin_near_an_end_is_told(shop: Path, run: Run) -> None:
    """Where a chosen pin touches the work nearer to an end than it is thick, the choice says so."""
    where = ("--bed", "long-bench", "--pin", "peg-20", "--corner", "B2", "--toward", "+x+y")
    # pins of 20 stand 100, 200, .. from the corner's hole: their middles 90, 190, .. along the edge
    near = run("register", "near", *where, "--stock", "405,350,20").out
    assert "; pin F2 touches 15.0 mm from an end of its edge" in near
    told = (  # in a line of its own too, of pins that were typed likewise
        "edge pin F2 touches 15.0 mm from the end of its edge away from stop B4, less than it is "
        "thick: look whether it holds there; in E2 it would touch farther in\n"
    )
    assert f"\nwarning: station near: {told}" in near
    at = (*where[:4], "--stock", "405,350,20", "--pins")
    assert f"warning: station typed: {told}" in run("register", "typed", *at, "C2,F2,B4").out
    far = run("register", "far", *where, "--stock", "430,350,20").out
    assert "from an end" not in far and "less than it is thick" not in far


def test_a_stop_near_the_corner_is_told(shop: Path, run: Run) -> None:
    """load tells it of typed pins: from which end of which edge, and that where only one hole
    touches the edge none does better."""
    (shop / "bar.yaml").write_text(
        "format: 1\nstations:\n  - {name: bar, bed: long-bench, stock: [405, 104, 20], "
        "pin: peg-20, pins: {edge: [C2, E2], stop: B3}}\n",
        encoding="utf-8",
    )
    told = [each for each in run("load", "bar.yaml", "--json").json["warnings"] if "thick" in each]
    assert told == [
        "station bar: stop pin B3 touches 14.0 mm from the end of its edge away from edge pins C2 "
        "and E2, less than it is thick: look whether it holds there; no hole in line does better"
    ]
