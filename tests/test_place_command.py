"""place: the printed commands register, and the demo's program is read at each place."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path
from typing import Any

import pytest
from conftest import Run
from plans import registry_of
from shapely import Polygon

from pincorner.cli.printing import Progress


def test_four_trays_at_once(shop: Path, run: Run) -> None:
    """Four disjoint places; each printed command registers; the demo's program passes there."""
    ran = run("place", "panel-tray", "--bed", "long-bench", "--count", "4", "--json")
    assert ran.code == 0, ran.err
    places = json.loads(ran.out)["places"]
    assert len(places) == 4
    for each in places:
        words = shlex.split(each["register"])
        assert words[0] == "pincorner"
        assert run(*words[1:]).code == 0
    rows = json.loads(run("offsets", *(each["station"] for each in places), "--json").out)
    trays = []
    for row in rows["offsets"]:
        x, y = row["x_mm"] - 25, row["y_mm"] - 20  # the zero lies 25, 20 from the tray's corner
        trays.append(Polygon([(x, y), (x + 460, y), (x + 460, y + 280), (x, y + 280)]))
    for at, tray in enumerate(trays):
        assert all(tray.distance(other) > 0 for other in trays[at + 1 :])
    with registry_of(shop).writing("tester", "retire") as writer:
        for name in ("three-sides", "monday-sides"):
            writer.retire("run", name)
        for name in ("left", "right", "end-bars", "roof", "spare"):
            writer.retire("station", name)
    for each in places:  # the code that the program selects
        assert run("register", each["station"], "--work-offset", "a=G55").code == 0
        checked = run("check", "hand-hold", "--station", each["station"])
        assert checked.code == 0, checked.out


def test_a_place_is_registered_like_the_newest_station_of_its_jig(shop: Path, run: Run) -> None:
    """The command takes over what that station has, with a free work offset; its turn is first."""
    turned = ("--corner", "A1", "--toward", "+x+y", "--turn", "180", "--work-offset", "a=G59.2")
    assert run("register", "turned", "--like", "left", *turned, "--program-angle", "180").code == 0
    with registry_of(shop).writing("tester", "retire") as writer:
        for name in ("three-sides", "monday-sides"):
            writer.retire("run", name)
        for name in ("left", "right", "spare"):
            writer.retire("station", name)
    ran = run("place", "panel-tray", "--others", "--json").json
    first = ran["places"][0]
    assert first["turn_deg"] == 180
    assert first["register"].startswith(f"pincorner register {first['station']} --like turned ")
    assert run(*shlex.split(first["register"])[1:]).code == 0
    row = run("offsets", first["station"], "--json").json["offsets"][0]
    assert row["work_offset"] == "G59.3" and "turn: 180" in run("show", first["station"]).out
    stock = run("place", "--stock", "230,500,18", "--json").json
    assert " --like roof --corner " in stock["places"][0]["register"]


def test_beside_a_run_and_others(in_demo: Path, run: Run) -> None:
    """Places beside a run keep out of its jigs; beside every station there is no room."""
    beside = json.loads(
        run("place", "--stock", "150,250,18", "--bed", "long-bench", "--beside", "three-sides",
            "--json").out
    )  # fmt: skip
    assert beside["places"] and all(each["gap_mm"] is not None for each in beside["places"])
    ran = run("place", "--stock", "268,337,18", "--count", "2", "--beside", "monday-sides")
    assert "  -130\n" in ran.out and "a gap below 0: 1, 2 so far within the loading zone" in ran.out
    ran = run("place", "end-bar-cradle", "--bed", "long-bench", "--others")
    assert ran.code == 1 and "no place" in ran.out


def test_beside_stations_that_stay_work_offsets_are_free_ones(shop: Path, run: Run) -> None:
    """Of single places, which are one or the other, the same; of several at once one each."""
    assert "go along" not in run("place", "panel-tray", "--bed", "long-bench").out
    ranked = ("--count", "2", "--program", "hand-hold", "--terms", "three-sides")
    sets = run("place", "panel-tray", "--bed", "long-bench", *ranked).out
    assert re.findall(r'--work-offset "a=([^"]+)"', sets) == ["G59.2", "G59.3"]
    assert run("retire", "run", "three-sides").code == 0
    for name in ("spare", "roof", "end-bars"):
        assert run("retire", "station", name).code == 0
    words = ("place", "panel-tray", "--bed", "long-bench", "--others")
    used = {each["work_offset"] for each in run("offsets", "--json").json["offsets"]}
    for more, count in ((), 1), (("--count", "2"), 2):
        told = re.findall(r'--work-offset "a=([^"]+)"', run(*words, *more).out)
        assert len(set(told)) == count <= len(told) and not used & {*told}, told
    bare = run(*words[:-1], "--count", "2").out
    assert "taken as given: clamps of left go along by --like: where they reach was not" in bare
    assert '"a=G55"' not in bare and " --like " in bare


def test_places_are_drawn(in_demo: Path, run: Run, tmp_path: Path) -> None:
    """-o draws them as SVG."""
    drawing = tmp_path / "places.svg"
    made = run("place", "panel-tray", "--bed", "long-bench", "--count", "2", "-o", drawing)
    assert made.code == 0 and "<svg" in drawing.read_text(encoding="utf-8")


def test_whoever_waits_is_told_what_for(in_demo: Path, run: Run, monkeypatch: Any) -> None:
    """At a terminal the number of ways stands there at once; Ctrl-C ends in one line."""
    told = list[str]()

    def tell(_self: Progress, text: str) -> None:
        told.append(text)
        if len(told) > 2:
            raise KeyboardInterrupt

    monkeypatch.setattr(Progress, "tell", tell)
    ran = run("place", "panel-tray", "--bed", "long-bench", "--count", "2")
    assert told[0] == "looking at 540 ways to lay panel-tray on long-bench: 0 %"
    assert (ran.code, ran.out, ran.err) == (130, "", "stopped\n")


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("panel-tray", "--bed", "long-bench", "--count", "99"), "no more"),
        (("panel-tray", "--bed", "long-bench", "--count", "0"), "--count"),
        (("--stock", "268,337,18", "--bed", "long-bench", "--count", "2", "--others"),
         "no more fit on bed long-bench beside end-bars, left, right, roof, spare, whatever"),
        (("panel-tray", "--bed", "nowhere"), "nowhere"),
        (("nothing", "--bed", "long-bench"), "nothing"),
        (("--bed", "long-bench"), "--stock"),
        (("panel-tray", "--bed", "long-bench", "--pin", "peg-99"), "peg-99"),
        (("panel-tray", "--bed", "long-bench", "--beside", "never"), "never"),
        (("--stock", "1,2", "--bed", "long-bench"), "--stock"),
    ],
)  # fmt: skip
def test_bad_options(in_demo: Path, run: Run, options: tuple[str, ...], told: str) -> None:
    """One clear line each, exit code 2."""
    ran = run("place", *options)
    assert ran.code == 2 and told in ran.err and ran.err.count("\n") == 1
