"""Why a paper is stale, in words, wherever it is told: status, check of a copy, the run page."""

from __future__ import annotations

import json
import shutil
from datetime import date
from pathlib import Path

import pytest
from conftest import Run, quietly
from plans import change, document, planned

from pincorner.render.text.runs import run_text


def load(run: Run, shop: Path, kind: str, name: str, **keys: object) -> set[str]:
    """Load a document with some keys otherwise; the papers that `load` says are void."""
    return load_as(run, shop, f"{kind}s", {**document(shop, kind, name), **keys})


def load_as(run: Run, shop: Path, kinds: str, made: dict[str, object]) -> set[str]:
    """The same of a document in full."""
    text = json.dumps({"format": 1, kinds: [made]})
    (shop / "change.yaml").write_text(text, encoding="utf-8")
    ran = run("load", shop / "change.yaml", "--yes", "--json")
    assert ran.code == 0, ran.err
    void = [text for text in ran.json["warnings"] if text.startswith("void now: ")]
    return {path for text in void for path in text[10:].partition(";")[0].split(", ")}


def stale(run: Run) -> dict[str, str]:
    """What status says of papers, by code and what it is about."""
    return {
        f"{item['code']} {item['about']}": item["text"]
        for item in run("status", "--json").json["items"]
        if item["code"].startswith("stale")
    }


def stale_files(run: Run) -> set[str]:
    """Files of the papers that status tells as stale."""
    items = run("status", "--json").json["items"]
    return {each["text"].split(":")[0] for each in items if each["code"].startswith("stale")}


@pytest.fixture(scope="module")
def stamped_once(demo_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's shop with a stamped copy for station left, made once; do not change it."""
    folder = tmp_path_factory.mktemp("stamped") / "shop"
    shutil.copytree(demo_once, folder)
    quietly(folder, ("stamp", "hand-hold", "--station", "left", "-o", "left.nc"))
    return folder


@pytest.fixture
def stamped(stamped_once: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The same as the working folder, to be changed."""
    shutil.copytree(stamped_once, tmp_path / "shop")
    monkeypatch.chdir(tmp_path / "shop")
    return tmp_path / "shop"


def clamp(top: float) -> list[dict[str, object]]:
    """The station's clamp, that high."""
    return [{"name": "c1", "from": [215, -50], "to": [245, 10], "top": top}]


def test_a_clamp_that_was_raised_is_told_everywhere(stamped: Path, run: Run) -> None:
    """A higher clamp makes sheet and copy stale; status, check and run name it before and after."""
    assert not stale(run)
    change(stamped, "station", "left", clamps=clamp(76.2))
    words = "clamp c1 35.0 to 76.2 mm high"
    told = stale(run)
    assert told.keys() == {"stale-sheet left", "stale-program left", "stale-block left"} | {
        "stale-map long-bench"
    }
    assert all(words in text for text in told.values())
    checked = run("check", "left.nc", "--station", "left", "--json").json["findings"]
    [finding] = [each for each in checked if each["code"] == "offset-stale"]
    assert words in finding["text"]
    assert words in run_text(planned(stamped, "monday-sides"))
    change(stamped, "station", "left", clamps=clamp(35))
    assert not stale(run)


def test_a_note_makes_the_sheet_stale_and_no_program(stamped: Path, run: Run) -> None:
    """Notes stand on sheets: a changed one is told there, with before and after."""
    change(stamped, "station", "left", note="The recess faces the door.")
    assert stale(run) == {
        "stale-sheet left": 'sheets/left.html: station left note "Recess faces the operator." to '
        '"The recess faces the door."'
    }


def test_load_names_what_status_tells(stamped: Path, run: Run) -> None:
    """`load` names as void what status tells as stale: no paper for today's stock that is as it
    was, none that is gone, and none that somebody has to look at."""
    for line in ("block left --stock-thickness 25 -o thick.nc", "block left -o gone.nc"):
        assert run(*line.split()).code == 0
    (stamped / "gone.nc").unlink()
    for keys, papers in (
        ({"note": "Clean it."}, {"sheets/left.html"}),
        ({"clamps": clamp(76.2)}, {"sheets/left.html", "left.nc", "left-block.nc", "thick.nc",
                                   "long-bench.html"}),
    ):  # fmt: skip
        assert load(run, stamped, "station", "left", **keys) == papers == stale_files(run)
    pins = {"edge": ["D5", "E5"], "stop": "C6"}
    near = {"name": "near", "bed": "long-bench", "stock": [250, 150, 18], "pin": "peg-20"}
    told = load_as(run, stamped, "stations", {**near, "pins": pins})
    assert told == papers | {"sheets/spare.html"} == stale_files(run)
    cut = {"name": str(date.max), "bed": "long-bench", "depth": 0.1}
    told = load_as(run, stamped, "surfacings", cut)
    assert any(f" and {len(stale_files(run)) - 6} more" in each for each in told)


def test_pins_of_another_station_make_the_sheet_stale(stamped: Path, run: Run) -> None:
    """A station that comes beside another one puts pins to take out on its sheet."""
    ran = run("register", "near", "--bed", "long-bench", "--stock", "250,150,18", "--pin", "peg-20",
              "--pins", "D5,E5,C6", "--work-offset", "a=G54")  # fmt: skip
    assert ran.code == 0, ran.err
    told = stale(run)
    assert "pin to take out in D5 is new" in told["stale-sheet left"]
    assert "station near is new" in told["stale-map long-bench"]
    assert "stale-block left" not in told


def test_what_a_check_saw_makes_its_copy_stale(stamped: Path, run: Run) -> None:
    """Something new within reach of a program makes its copy stale, beyond it nothing does."""
    solids = document(stamped, "bed", "long-bench").get("solids", [])
    far = {"name": "post", "from": [1300, 700], "to": [1310, 710], "top": 90}
    change(stamped, "bed", "long-bench", solids=[*solids, far])
    assert "stale-program left" not in stale(run)
    near = {"name": "stake", "from": [430, 300], "to": [435, 305], "top": 10}
    change(stamped, "bed", "long-bench", solids=[*solids, near])
    told = stale(run)
    assert "stake on the bed is new" in told["stale-program left"]
    assert "stale-block left" not in told


def test_the_tool_and_the_jig_count(stamped: Path, run: Run) -> None:
    """A tool's diameter, the jig's height and a solid that moved are each told by name."""
    tray = document(stamped, "jig", "panel-tray")
    first, second = tray["solids"]
    change(stamped, "jig", "panel-tray", height=44,
           solids=[{**first, "from": [110, 262]}, second])  # fmt: skip
    change(stamped, "program", "hand-hold", tools={"1": {"diameter": 8, "stickout": 38},
                                                        "2": {"diameter": 12.7}})  # fmt: skip
    text = stale(run)["stale-program left"]
    assert "jig panel-tray 40.0 to 44.0 mm high" in text
    assert "solid toggle-1 at 120.0, 262.0 to 110.0, 262.0 mm" in text
    assert "and 2 more" in text


def test_refresh_mends_what_is_stale(stamped: Path, run: Run) -> None:
    """Sheet, block, copy and map are written anew, the old files beside them; status is silent."""
    old = {name: (stamped / name).read_bytes() for name in ("left.nc", "sheets/left.html")}
    change(stamped, "station", "left", clamps=clamp(40))
    before = sorted(path.name for path in stamped.rglob("*"))
    told = run("refresh", "--dry-run", "--json").json["papers"]
    assert {paper["outcome"] for paper in told} == {"would"} and len(told) == 4
    assert sorted(path.name for path in stamped.rglob("*")) == before
    ran = run("refresh")
    assert ran.code == 0 and "clamp c1 35.0 to 40.0 mm high" in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80
    for name, content in old.items():
        assert (stamped / f"{name}.old-1").read_bytes() == content
        assert (stamped / name).read_bytes() != content
    assert not stale(run)
    assert run("refresh").out == "nothing is stale\n"


def test_refresh_leaves_what_check_finds(stamped: Path, run: Run) -> None:
    """A clamp in the way keeps the copy back: it stays as it is, and the finding is told."""
    way = [{"name": "c1", "from": [100, 100], "to": [300, 200], "top": 120}]
    change(stamped, "station", "left", clamps=way)
    before = (stamped / "left.nc").read_bytes()
    ran = run("refresh", "left")
    assert ran.code == 1 and "left.nc LEFT AS IT IS" in ran.out and "hits-clamp" in ran.out
    assert (stamped / "left.nc").read_bytes() == before
    assert not list(stamped.glob("left.nc.old*"))
    assert stale(run).keys() == {"stale-program left", "stale-map long-bench"}


def test_refresh_leaves_what_somebody_edited(stamped: Path, run: Run) -> None:
    """What was changed by hand in a copy would be lost: a person looks at it first."""
    (stamped / "left.nc").write_bytes((stamped / "left.nc").read_bytes().replace(b"M30", b"M2"))
    ran = run("refresh", "--json")
    assert ran.code == 1
    assert [(p["file"], p["outcome"]) for p in ran.json["papers"]] == [("left.nc", "left")]


def test_refresh_takes_a_copy_of_a_copy_along(stamped: Path, run: Run) -> None:
    """A copy that was made of a copy is stamped after it, in one go."""
    assert run("stamp", "left.nc", "--station", "spare", "-o", "spare.nc").code == 0
    program = stamped / "hand-hold.nc"
    program.write_bytes(program.read_bytes() + b"\n")
    assert run("refresh").code == 0
    assert not [i for i in run("status", "--json").json["items"] if "nc" in i["text"]]


def test_a_repeat_is_refreshed(stamped: Path, run: Run) -> None:
    """A file of several stations is made again with what it was asked for with."""
    pair = ("repeat", "end-bar-notch", "--stations", "end-bars", "--retract", "-5", "-o", "both.nc")
    assert run(*pair).code == 0
    program = stamped / "end-bar-notch.nc"
    program.write_bytes(program.read_bytes() + b"\n")
    assert run("refresh").code == 0
    fresh = (stamped / "both.nc").read_bytes()
    assert run(*pair, "--force").code == 0
    assert (stamped / "both.nc").read_bytes() == fresh


def test_all_sheets_are_written_where_some_are(shop: Path, run: Run) -> None:
    """`sheet --all` writes the pages that are missing, and says what it left."""
    (shop / "sheets" / "left.html").unlink()
    ran = run("sheet", "--all")
    assert ran.code == 0 and ran.out.splitlines()[0] == "sheets/left.html"
    assert ran.out.count(".html") == 1 and "were there" in ran.out


def test_status_can_be_read_in_80_columns(stamped: Path, run: Run) -> None:
    """What is told is grouped by what to do next, worst first, each with its command."""
    change(stamped, "station", "left", clamps=clamp(40))
    over = ("--stock", "500,230,18", "--pin", "peg-12", "--pins", "G6,J6,F8")
    assert run("register", "over", "--bed", "long-bench", *over).code == 0
    out = run("status").out
    groups = [line for line in out.splitlines() if not line.startswith(" ")]
    assert groups == ["Before the next cut", "To look at", "To print anew", "When there is time"]
    assert "  stale-program: left.nc: clamp c1 35.0 to 40.0 mm high\n" in out
    assert max(map(len, out.splitlines())) <= 80
    assert "never verified: end-bars, left, over, right, roof, spare; X and\n" in out


def test_papers_of_a_station_that_cannot_be_located_are_void(stamped: Path, run: Run) -> None:
    """They are named first by `load`, told by status with the reason, and left by `refresh`."""
    mine = {"sheets/left.html", "left.nc", "left-block.nc"}
    holes = document(stamped, "bed", "long-bench").get("missing", [])
    void = load(run, stamped, "bed", "long-bench", missing=[*holes, "D2"])
    assert mine <= void
    told = stale(run)
    for what in ("sheet", "program", "block"):
        text = told[f"stale-{what} left"]
        assert "station left cannot be located now: " in text and "D2" in text
    dry = run("refresh", "--dry-run", "--json").json["papers"]
    left = {paper["file"] for paper in dry if paper["outcome"] == "left"}
    assert left == mine
    assert run("refresh").code == 1
    assert mine <= stale_files(run)
    load(run, stamped, "bed", "long-bench", missing=holes)
    assert not mine & stale_files(run)


def test_a_paper_tells_a_refusal_in_one_clause(stamped: Path, run: Run) -> None:
    """Why there is no block now is told whole by `explain`, and not again with each paper."""
    load(run, stamped, "bed", "long-bench", pose={"x": 60, "y": 55, "angle": 0.3})
    told = stale(run)
    note = 'left a: note "the offset of left a is turned by 0.3000 degrees and dialect rs274 '
    assert f'{note}writes no angle" is new (pincorner explain left)' in told["stale-sheet left"]
    assert not any("Ways out" in text for text in told.values())


def test_load_names_the_papers_of_what_changed_first(stamped: Path, run: Run) -> None:
    """What a changed station has on paper stands before the papers of its neighbours."""
    (stamped / "change.yaml").write_text(
        json.dumps({"format": 1, "stations": [{**document(stamped, "station", "spare"),
                                               "pins": {"edge": ["B5", "E5"], "stop": "A7"}}]}),
        encoding="utf-8",
    )  # fmt: skip
    ran = run("load", "change.yaml", "--yes", "--json")
    [void] = [text for text in ran.json["warnings"] if text.startswith("void now: ")]
    assert void.startswith("void now: sheets/spare.html, ")


def test_a_map_of_stations_that_cannot_be_located_is_told(stamped: Path, run: Run) -> None:
    """A bed without any place for its stations is still a bed, and its map says otherwise."""
    every = [f"{column}{row}" for column in "ABCDEFGHIJKLMNO" for row in range(1, 10)]
    holes = document(stamped, "bed", "long-bench").get("missing", [])
    for kind in ("html", "svg"):
        assert run("map", "long-bench", "-o", f"bare.{kind}").code == 0
        load(run, stamped, "bed", "long-bench", missing=every)
        assert f"bare.{kind}" in stale_files(run), kind
        done = {each["file"]: each["outcome"] for each in run("refresh", "--json").json["papers"]}
        assert done[f"bare.{kind}"] == "renewed"
        load(run, stamped, "bed", "long-bench", missing=holes)
