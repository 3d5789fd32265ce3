"""place --program: sets of places by loading windows, against `run`, every pair, and by hand."""

from __future__ import annotations

import itertools
import json
import re
import shlex
from pathlib import Path
from typing import Any

import pytest
import test_windows
from conftest import Run
from plans import change, planned, registry_of, report_of, shop_of
from test_run_worked import FAR_APART, cuts, program
from test_windows import sitting_of
from worlds import facts, world

from pincorner.errors import BadInput
from pincorner.places.beside import Beside
from pincorner.places.search import find_places
from pincorner.places.several import nodes_of, spread_out
from pincorner.render.outputs.runs import places_json
from pincorner.render.text.place_sets import sets_text
from pincorner.runs.gaps import moving_of, zone_of
from pincorner.runs.windows import find_windows, in_turn
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.standing import standing_on
from pincorner.work.placing import Wanted
from pincorner.work.runs.planning import fine_mm_of
from pincorner.work.runs.sets import PlacedSets, place_sets
from pincorner.work.session import Session

SHORT = FAR_APART.replace("columns: 32, rows: 8", "columns: COLUMNS, rows: ROWS").replace(
    "x: [0, 3300]", "x: [0, 900]"
)
SHORT = "\n".join(line for line in SHORT.splitlines() if "name: b, bed" not in line)
SHORT = SHORT.replace("     z: {set: touch}, work_offsets: {a: G55}, program: other}\n", "")
SHORT = SHORT.replace("stations: [a, b]", "stations: [a]").replace("reach: 250", "reach: 60")


def small(columns: int, rows: int, travel: str = "x: [0, 900]") -> str:
    """The world of `FAR_APART` with one station, on a smaller bed."""
    text = SHORT.replace("COLUMNS", str(columns)).replace("ROWS", str(rows))
    return text.replace("x: [0, 900]", travel)


TWO = Wanted("bench", stock=(400, 300, 18), how_many=2, program="one", terms="both")


def sets_of(shop: Path, wanted: Wanted) -> PlacedSets:
    """What `place --program` finds in a shop."""
    return place_sets(Session(registry_of(shop), "tester", "place"), wanted)


def shown(found: PlacedSets) -> dict[str, Any]:
    """The sets as `place --json` prints them."""
    report = places_json(found.places, found.shown, found.names, None, found)
    return dict(json.loads(json.dumps(report)))


def test_two_places_by_hand(tmp_path: Path) -> None:
    """5 min of cutting at each, ends that wait, loads of 2 min: windows of 2 * 300 s a round, which
    takes 600 s: 12 parts an hour. Other sets are told, with no longer windows."""
    (tmp_path / "one.nc").write_text(program("G54", {1: 300}, ""), encoding="ascii")
    shop_of(tmp_path, small(18, 4, "x: [0, 1900]"))
    found = sets_of(tmp_path, TWO)
    report = shown(found)
    first = report["sets"][0]
    assert [w["at_least_s"] for w in first["windows"]] == pytest.approx([300, 300], abs=1e-6)
    assert first["windows_s"] == pytest.approx(600, abs=1e-6)
    assert first["parts_per_hour"] == pytest.approx(12, abs=1e-9)
    assert first["no_window"] == [] and report["together"] is None
    assert {place["station"] for place in report["places"]} == set(first["stations"])
    assert 2 <= len(report["sets"]) <= 3
    assert all(each["windows_s"] <= 600 + 1e-6 for each in report["sets"])
    text = " ".join(sets_text(found).split())
    assert "1 windows of 10:00 or longer in a round" in text
    assert "12.0 parts an hour in an even round" in text
    assert "no other set has longer windows" in text
    assert "A distance between drawings is no safeguard." in text


def test_sets_are_what_run_tells(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stations registered by the printed commands, worked in the order told: `run` has the same
    windows, line by line, and the same parts an hour in an even round."""
    monkeypatch.chdir(tmp_path)
    text = program("G54", {1: 300}, "").replace("G54\n", "")  # it runs under any code
    (tmp_path / "one.nc").write_text(text, encoding="ascii")
    codeless = re.sub(r",?\s*work_offsets: \{a: G54\}", "", small(22, 4, "x: [0, 2300]"))
    shop_of(tmp_path, codeless)
    words = ("--count", "3", "--terms", "both")
    report = run("place", "--stock", "400,300,18", "--program", "one", *words, "--json").json
    first = report["sets"][0]
    assert len(first["stations"]) == 3 and first["windows"]
    for each in report["places"]:
        assert run(*shlex.split(each["register"])[1:]).code == 0
    told = tuple(first["stations"])
    change(tmp_path, "run", "both", stations=told)
    plan = planned(tmp_path, "both")
    assert first["windows"] == report_of(plan)["windows"]
    assert first["no_window"] == report_of(plan)["no_window"]
    assert first["parts_per_hour"] == pytest.approx(3 * 3600 / plan.line.round_s)
    for order in (told[::-1], told[1:] + told[:1]):
        change(tmp_path, "run", "both", stations=order)
        line = planned(tmp_path, "both").line
        assert 3 * 3600 / line.round_s <= first["parts_per_hour"] + 1e-9


IN_THE_WAY = """    solids:
      - {name: right front, from: [480, -50], to: [750, 180], top: 60}
      - {name: right back, from: [480, 420], to: [750, 650], top: 60}
      - {name: left, from: [150, 290], to: [330, 310], top: 60}
"""
"""What leaves places at the left's front and back, far apart, and in the middle of the right, which
alone have windows for a beam along Y: the largest gap is not theirs."""


@pytest.mark.parametrize(
    ("beam", "columns", "rows", "solids"),
    [("x", 5, 7, ""), ("y", 8, 7, IN_THE_WAY), ("none", 7, 4, "")],
)
def test_no_pair_has_longer_windows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, beam: str, columns: int, rows: int, solids: str
) -> None:
    """Every two places of a small bed, the program read at each of them: none has longer windows
    than the first set, nor as long ones and a larger gap."""
    text = program("G54", {1: 60, 2: 30}, "")
    text = text.replace("X250", "X90").replace("\n".join(cuts(60)[:1]), "G1 Z-2 F600")
    world_text = small(columns, rows).replace("    surface: -120\n", f"    surface: -120\n{solids}")
    world_text = world_text.replace("beam: y", f"beam: {beam}").replace(
        "left: 200, right: 200, front: 200, back: 200", "left: 90, right: 60, front: 80, back: 50"
    ).replace("400, 300, 18", "300, 200, 18").replace("{diameter: 6}}", "{diameter: 6}, '2': "
                                                      "{diameter: 6}}")  # fmt: skip
    (tmp_path / "one.nc").write_text(text, encoding="ascii")
    shop_of(tmp_path, world_text)
    first = shown(sets_of(tmp_path, TWO._replace(stock=(300, 200, 18))))["sets"][0]

    found = facts(world(world_text), "a")
    places = find_places(found._replace(station=found.station.model_copy(update={
        "stock": (300.0, 200.0, 18.0)})), standing_on(found.bed), turns=(0,))  # fmt: skip
    nodes = nodes_of(places)[0]
    beside = Beside(places, nodes)
    table = beside.table()
    moving, _ = moving_of(found.machine)
    assert moving is not None
    setups: list[Setup] = [
        make_setups(places.facts._replace(station=each.station))[0] for each in nodes
    ]
    zones = [zone_of(each, 60) for each in setups]
    monkeypatch.setattr(test_windows, "FINE_MM", fine_mm_of(setups[0]))
    visits = [in_turn(sitting_of(text, each), None, 2, None, False) for each in setups]

    def windows_s(runs: int, loaded: int) -> float:
        windows, _ = find_windows([visits[runs]], moving, zones[loaded], 120.0, 1.0)
        return sum(each.at_least_s for each in windows)

    best = max(
        (round(windows_s(a, b) + windows_s(b, a), 3), float(table[a, b]))
        for a, b in itertools.combinations(range(len(nodes)), 2)
        if table[a, b] >= 0 and beside.pinned((a, b)) is not None
    )
    assert (round(first["windows_s"], 3), first["gap_mm"]) == pytest.approx(best)
    assert best[0] > 0
    assert not solids or best[1] < table.max() - 50


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--count", "1", "--program", "hand-hold"), "two or more"),
        (("--program", "hand-hold"), "--count"),
        (("--count", "2", "--program", "never"), "never"),
        (("--count", "2", "--program", "hand-hold", "--terms", "never"), "never"),
        (("--count", "2", "--terms", "three-sides"), "--program"),
    ],
)
def test_bad_options(in_demo: Path, run: Run, options: tuple[str, ...], told: str) -> None:
    """One clear line each, exit code 2."""
    ran = run("place", "panel-tray", "--bed", "long-bench", *options)
    assert ran.code == 2 and told in ran.err and ran.err.count("\n") == 1


@pytest.fixture
def one_small(tmp_path: Path) -> Path:
    """A shop with a bed of 8 x 5 holes, and a program for bare stock of 300 x 200 mm."""
    (tmp_path / "one.nc").write_text(program("G54", {1: 20}, ""), encoding="ascii")
    shop_of(tmp_path, small(8, 5))
    return tmp_path


SMALL = TWO._replace(stock=(300, 200, 18))


def test_sets_that_cannot_be(one_small: Path) -> None:
    """More than fit on the bed are refused, and a program that passes nowhere, one line each."""
    with pytest.raises(BadInput, match=r"^--count 9: .* no more fit on bed bench"):
        sets_of(one_small, SMALL._replace(how_many=9))
    text = (one_small / "one.nc").read_text(encoding="ascii")
    (one_small / "one.nc").write_text(text.replace("G0 X50 Y50", "G0 X-900 Y50"), encoding="ascii")
    with pytest.raises(BadInput, match="passes at no place"):
        sets_of(one_small, SMALL)


def test_what_is_not_known_is_told(one_small: Path) -> None:
    """Without what moves sets are told by their gaps, without a run parts an hour are not told."""
    wanted = SMALL._replace(terms=None)
    with_beam = shown(sets_of(one_small, wanted))
    assert with_beam["sets"][0]["parts_per_hour"] is None
    assert any("--terms RUN" in text for text in with_beam["assumed"])
    change(one_small, "machine", "long", beam=None)
    found = sets_of(one_small, wanted)
    without = shown(found)
    assert without["sets"][0]["windows_s"] == 0
    assert all("does not say beam" in each["why"] for each in without["sets"][0]["no_window"])
    alone = spread_out(found.places, 2)
    assert without["sets"][0]["gap_mm"] == pytest.approx(alone.gap_mm)
    assert "sets are told by their gaps alone" in " ".join(sets_text(found).split())
