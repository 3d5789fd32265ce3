"""Work grows with what is asked for: what is made is counted, not timed."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import Run
from plans import document
from worlds import BASE, facts, setups, world

from pincorner.documents import beds
from pincorner.documents.beds import Bed, Grid
from pincorner.geometry.outline import Box
from pincorner.places import pins, search
from pincorner.places.search import find_places
from pincorner.places.several import spread_out
from pincorner.render.drawing import labels
from pincorner.render.drawing.close_up import close_up
from pincorner.render.pages.sheet import render_sheet
from pincorner.setups import transform
from pincorner.work.programs import checking

Counted = Counter[str]
HOLES_OF_A_PAGE = 4_000
"""Of a close-up and a map as large as a hand, where they can be told apart on paper."""


def counting(
    monkeypatch: pytest.MonkeyPatch, module: Any, name: str, counted: Counted
) -> Callable[..., Any]:
    """Count calls of a name of a module; returns what it was."""
    before: Callable[..., Any] = getattr(module, name)

    def called(*arguments: Any, **keys: Any) -> Any:
        counted[name] += 1
        return before(*arguments, **keys)

    monkeypatch.setattr(module, name, called)
    return before


def test_a_sheet_of_a_large_bed_makes_the_holes_that_it_shows(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A station on a bed of 500 x 500 holes: a sheet makes those of its two drawings alone."""
    text = BASE.replace("columns: 15, rows: 9", "columns: 500, rows: 500")
    made, counted = setups(text), Counted()
    counting(monkeypatch, beds, "Hole", counted)
    assert "EMPTY" in render_sheet(made, (), "a4", None)
    assert 0 < counted["Hole"] < HOLES_OF_A_PAGE


def test_a_sheet_keeps_free_what_it_shows_of_long_tracks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Labels on a sheet look at as much of the bed's edges and tracks, however long these are."""
    taken, before = [], labels._Boxes.add
    for columns in (15, 150):
        counted = Counted()

        def add(boxes: Any, box: Box, counted: Counted = counted) -> None:
            counted["squares"] += len(list(boxes._squares(box)))
            before(boxes, box)

        with monkeypatch.context() as patched:
            patched.setattr(labels._Boxes, "add", add)
            track = f"{{name: T1, from: [-50, 250], to: [{columns * 100 - 60}, 250], width: 19}}"
            text = BASE.replace("columns: 15,", f"columns: {columns},")
            text = text.replace(
                "    surface: -120\n", f"    surface: -120\n    tracks: [{track}]\n"
            )
            assert "EMPTY" in close_up(setups(text), (), 180, 120)
        taken.append(counted["squares"])
    assert 0 < taken[1] < 1.2 * taken[0]


def test_places_are_set_up_when_they_are_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of all places on a bed only those that somebody looks at are located one by one."""
    counted = Counted()
    counting(monkeypatch, search, "locate", counted)
    places = find_places(facts(world()), turns=(0, 90))
    assert len(places.proposals) > 100 and not counted
    assert spread_out(places, 2).gap_mm
    assert 0 < counted["locate"] < 10


def test_all_holes_are_made_where_all_are_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """The count above counts: every hole of a bed is one."""
    counted = Counted()
    grid = Grid(columns=20, rows=10, pitch=(50.0, 50.0), hole=20.0)
    bed = Bed.model_validate({
        "name": "b", "machine": "m", "grid": grid.model_dump(), "pose": {"x": 0, "y": 0}
    })  # fmt: skip
    counting(monkeypatch, beds, "Hole", counted)
    assert len(bed.holes()) == counted["Hole"] == 200


def test_a_changed_pin_makes_each_station_once_for_its_papers(
    run: Run, shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`load` of a pin that stations use makes no nest's setup twice, whatever it tells of them."""
    assert run("sheet", "--all", "-o", "sheets", "--force").code == 0
    changed = {**document(shop, "pin", "peg-20"), "height": 21.0}
    text = json.dumps({"format": 1, "pins": [changed]})
    (shop / "change.yaml").write_text(text, encoding="utf-8", newline="\n")
    nests = len(run("offsets", "--json").json["offsets"])
    counted = Counted()
    counting(monkeypatch, transform, "_setup", counted)
    ran = run("load", "change.yaml", "--json")
    assert any(text.startswith("void now: ") for text in ran.json["warnings"]), ran.out
    assert 0 < counted["_setup"] <= nests


def test_refresh_makes_the_neighbours_of_copies_once(
    run: Run, shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Copies of one bed's stations that are stamped anew share the setups of those that stand
    there: however many copies, these are made once."""
    copies = (("left", "one"), ("left", "two"), ("spare", "three"), ("spare", "four"))
    for station, name in copies:
        ran = run("stamp", "hand-hold", "--station", station, "-o", f"{name}.nc")
        assert ran.code in (0, 1) and (shop / f"{name}.nc").exists(), ran.err
    changed = {**document(shop, "pin", "peg-20"), "height": 21.0}
    text = json.dumps({"format": 1, "pins": [changed]})
    (shop / "change.yaml").write_text(text, encoding="utf-8", newline="\n")
    assert run("load", "change.yaml").code == 0
    made: Counted = Counter()
    counting(monkeypatch, checking, "setups_in", made)
    ran = run("refresh", "--json")
    done = {each["file"] for each in ran.json["papers"] if each["outcome"] == "renewed"}
    assert {f"{name}.nc" for _, name in copies} <= done, ran.out
    assert made["setups_in"] == 1


def test_advice_looks_at_the_holes_that_it_would_name(
    run: Run, in_demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`explain` holds single holes against what stands on the bed, not every hole of it."""
    counted = Counted()
    counting(monkeypatch, pins, "true_place", counted)
    assert "hole I6 instead of I5" in run("explain", "roof").out
    assert 0 < counted["true_place"] < 20
