"""place --program: sets of places by loading windows, against `run`, every pair, and by hand."""

from __future__ import annotations

import itertools
import json
import shlex
from pathlib import Path

import pytest
import test_windows
from conftest import Run, without_help
from plans import shop_of
from test_run_worked import FAR_APART, cuts, program
from test_windows import sitting_of
from worlds import facts, world

from pincorner.places.beside import Beside
from pincorner.places.search import find_places
from pincorner.places.several import nodes_of
from pincorner.runs.gaps import moving_of, zone_of
from pincorner.runs.windows import find_windows, in_turn
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.work.runs.planning import fine_mm_of

WORDS = ("place", "--stock", "400,300,18", "--bed", "bench", "--program", "one", "--count")


def test_two_places_by_hand(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """5 min of cutting at each, ends that wait, loads of 2 min: windows of 2 * 300 s a round, which
    takes 600 s: 12 parts an hour. Other sets are told, with no longer windows."""
    (tmp_path / "one.nc").write_text(program("G54", {1: 300}, ""), encoding="ascii")
    monkeypatch.chdir(tmp_path)
    shop_of(tmp_path, FAR_APART.replace("rows: 8", "rows: 5"))
    report = run(*WORDS, "2", "--terms", "both", "--json").json
    first = report["sets"][0]
    assert [w["at_least_s"] for w in first["windows"]] == pytest.approx([300, 300], abs=1e-6)
    assert first["windows_s"] == pytest.approx(600, abs=1e-6)
    assert first["parts_per_hour"] == pytest.approx(12, abs=1e-9)
    assert first["no_window"] == [] and report["together"] is None
    assert [place["station"] for place in report["places"]] == sorted(first["stations"])
    assert 2 <= len(report["sets"]) <= 3
    assert all(each["windows_s"] <= 600 + 1e-6 for each in report["sets"])
    text = " ".join(run(*WORDS, "2", "--terms", "both").out.split())
    assert "1 windows of 10:00 or longer in a round" in text
    assert "12.0 parts an hour in an even round" in text
    assert "no other set has longer windows" in text
    assert "A distance between drawings is no safeguard." in text


@without_help
def test_sets_are_what_run_tells(shop: Path, run: Run) -> None:
    """Stations registered by the printed commands, worked in the order told: `run` has the same
    windows, line by line, and the same parts an hour in an even round."""
    report = run(
        "place", "panel-tray", "--bed", "long-bench", "--count", "3", "--program", "hand-hold",
        "--terms", "three-sides", "--json",
    ).json  # fmt: skip
    first = report["sets"][0]
    terms = json.loads(run("show", "three-sides", "--kind", "run", "--json").out)
    keys = terms["documents"][0]["document"]
    for name in ("three-sides", "monday-sides"):
        run("retire", "run", name)
    for name in ("left", "right", "end-bars", "roof", "spare"):
        assert run("retire", "station", name).code == 0
    for each in report["places"]:
        assert run(*shlex.split(each["register"])[1:]).code == 0
    changed = {**keys, "name": "as-told", "stations": first["stations"]}
    (shop / "run.yaml").write_text(f"format: 1\nruns: [{json.dumps(changed)}]\n", encoding="utf-8")
    assert run("load", "run.yaml").code == 0
    planned = json.loads(run("run", "as-told", "--json").out)
    assert first["windows"] == planned["windows"]
    assert first["no_window"] == planned["no_window"]
    hourly = len(first["stations"]) * 3600 / planned["timelines"][-1]["round_s"]
    assert first["parts_per_hour"] == pytest.approx(hourly)
    for order in (first["stations"][::-1], first["stations"][1:] + first["stations"][:1]):
        changed["stations"] = list(order)
        text = f"format: 1\nruns: [{json.dumps(changed)}]\n"
        (shop / "run.yaml").write_text(text, encoding="utf-8")
        assert run("load", "run.yaml").code == 0
        line = json.loads(run("run", "as-told", "--json").out)["timelines"][-1]
        assert 3 * 3600 / line["round_s"] <= first["parts_per_hour"] + 1e-9


SHORT = FAR_APART.replace("columns: 32, rows: 8", "columns: COLUMNS, rows: ROWS").replace(
    "x: [0, 3300]", "x: [0, 900]"
)
SHORT = "\n".join(line for line in SHORT.splitlines() if "name: b, bed" not in line)
SHORT = SHORT.replace("     z: {set: touch}, work_offsets: {a: G55}, program: other}\n", "")
SHORT = SHORT.replace("stations: [a, b]", "stations: [a]").replace("reach: 250", "reach: 60")


@pytest.mark.parametrize(("beam", "columns", "rows"), [("x", 6, 9), ("y", 8, 5), ("none", 8, 5)])
def test_no_pair_has_longer_windows(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch, beam: str, columns: int, rows: int
) -> None:
    """Every two places of a small bed, the program read at each of them: none has longer windows
    than the first set, nor as long ones and a larger gap."""
    text = program("G54", {1: 60, 2: 30}, "")
    text = text.replace("X250", "X90").replace("\n".join(cuts(60)[:1]), "G1 Z-2 F600")
    world_text = SHORT.replace("beam: y", f"beam: {beam}").replace(
        "left: 200, right: 200, front: 200, back: 200", "left: 90, right: 60, front: 80, back: 50"
    ).replace("400, 300, 18", "300, 200, 18").replace("{diameter: 6}}", "{diameter: 6}, '2': "
                                                      "{diameter: 6}}")  # fmt: skip
    world_text = world_text.replace("COLUMNS", str(columns)).replace("ROWS", str(rows))
    (tmp_path / "one.nc").write_text(text, encoding="ascii")
    monkeypatch.chdir(tmp_path)
    shop_of(tmp_path, world_text)
    words = ("place", "--stock", "300,200,18", *WORDS[3:], "2", "--terms", "both", "--json")
    first = run(*words).json["sets"][0]

    found = facts(world(world_text), "a")
    places = find_places(found._replace(station=found.station.model_copy(update={
        "stock": (300.0, 200.0, 18.0)})), turns=(0,))  # fmt: skip
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


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--count", "1", "--program", "hand-hold"), "two or more"),
        (("--program", "hand-hold"), "--count"),
        (("--count", "2", "--program", "never"), "never"),
        (("--count", "2", "--program", "hand-hold", "--terms", "never"), "never"),
        (("--count", "2", "--terms", "three-sides"), "--program"),
        (("--count", "99", "--program", "hand-hold"), "no more"),
        (("--count", "2", "--program", "roof-groove"), "passes at no place"),
    ],
)
def test_bad_options(in_demo: Path, run: Run, options: tuple[str, ...], told: str) -> None:
    """One clear line each, exit code 2."""
    ran = run("place", "panel-tray", "--bed", "long-bench", *options)
    assert ran.code == 2 and told in ran.err and ran.err.count("\n") == 1


def test_what_is_not_known_is_told(shop: Path, run: Run) -> None:
    """Without what moves sets are told by their gaps, without a run parts an hour are not told."""
    words = ("place", "panel-tray", "--bed", "long-bench", "--count", "2", "--program", "hand-hold")
    machine = json.loads(run("show", "gantry-1", "--kind", "machine", "--json").out)
    keys = machine["documents"][0]["document"]
    del keys["beam"]
    (shop / "m.yaml").write_text(f"format: 1\nmachines: [{json.dumps(keys)}]\n", encoding="utf-8")
    with_beam = run(*words, "--json").json
    assert with_beam["sets"][0]["parts_per_hour"] is None
    assert any("--terms RUN" in text for text in with_beam["assumed"])
    assert run("load", "m.yaml").code == 0
    without = run(*words, "--json").json
    assert without["sets"][0]["windows_s"] == 0
    assert all("does not say beam" in each["why"] for each in without["sets"][0]["no_window"])
    alone = run(*words[:6], "--json").json
    assert without["sets"][0]["gap_mm"] == pytest.approx(alone["together"]["gap_mm"])
    assert "sets are told by their gaps alone" in " ".join(run(*words).out.split())
