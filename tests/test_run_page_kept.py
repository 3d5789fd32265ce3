"""A run's page is a paper: recorded with what it rests on, told where that changes, printed anew.

People load beside a running machine by it.
"""

from __future__ import annotations

import contextlib
import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from conftest import Run, quietly
from plans import document, page_of, planned
from test_paper_kinds import NEIGHBOUR
from test_stale_reasons import load, load_as, stale, stale_files, stamped_once
from thinning import thinned

from pincorner.characters import quoted
from pincorner.errors import PincornerError

__all__ = ["stamped_once"]

PAGE = "runs/run three-sides.html"


@pytest.fixture(scope="module")
def hung_once(stamped_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's shop with the page of a run, made once; do not change it."""
    folder = tmp_path_factory.mktemp("hung") / "shop"
    shutil.copytree(stamped_once, folder)
    quietly(folder, ("sheet", "--run", "three-sides", "-o", "runs"))
    return folder


@pytest.fixture
def hung(hung_once: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The same as the working folder, to be changed."""
    shutil.copytree(hung_once, tmp_path / "shop")
    monkeypatch.chdir(tmp_path / "shop")
    return tmp_path / "shop"


def page(shop: Path) -> str:
    """The page as it would be now, without fingerprints and the day on it."""
    plan = planned(shop, "three-sides")
    return re.sub(r"[0-9A-F]{4}-[0-9A-F]{4}", "", page_of(plan._replace(change=(0, None))))


def test_it_is_recorded(hung: Path, run: Run) -> None:
    """History tells it of each of its stations, and of the run."""
    for name in ("left", "three-sides"):
        events = run("history", name, "--json").json["events"]
        assert [e for e in events if e["what"].startswith("run ") and PAGE in e["what"]], name
    ran = run("run", "monday-sides", "-o", "monday.html", "--by", "Ann")
    assert "monday.html" in ran.out
    assert "Ann  run  paper left: run " in run("history", "monday-sides").out
    assert run("run", "monday-sides", "-o", "monday.html").code == 2  # it exists
    assert run("run", "three-sides").out and "run.html" not in run("history").out


def test_status_tells_the_command_that_writes_that_very_page(hung: Path, run: Run) -> None:
    """Also where another station than the first one on it has changed."""
    load(run, hung, "station", "right", under=1)
    items = run("status", "--json").json["items"]
    [mine] = [each for each in items if each["code"] == "stale-run"]
    again = ("sheet", "--run", "three-sides", "--force", "-o", PAGE, "--paper", "a4")
    assert mine["command"] == " ".join(["pincorner", *map(quoted, again)])
    assert run(*again).code == 0
    assert "stale-run three-sides" not in stale(run)


def test_reach_of_the_carriage_is_told(hung: Path, run: Run) -> None:
    """A wider carriage comes nearer to whoever loads: load, status and refresh tell the page."""
    before = (hung / PAGE).read_text(encoding="utf-8")
    sides = {"left": 190, "right": 190, "front": 140, "back": 140}
    assert load(run, hung, "machine", "gantry-1", carriage=sides) == {PAGE}
    assert "machine gantry-1 carriage left 120 to 190" in stale(run)["stale-run three-sides"]
    assert run("refresh").code == 0
    after = (hung / PAGE).read_text(encoding="utf-8")
    nearer = [int(re.findall(r"nearer than (\d+)", text)[0]) for text in (before, after)]
    assert nearer[1] == nearer[0] - 70
    assert (hung / f"{PAGE}.old-1").read_text(encoding="utf-8") == before
    assert not stale(run)


MACHINE: dict[str, Any] = {
    "beam": "x", "bed_moves": True, "park": [100, 940], "rapid": 4000, "operator": "back",
    "nose": 80, "travel": {"x": [0, 1600], "y": [0, 940], "z": [-190, 0]}, "homing": 0.2,
    "straight_rapids": True, "repeatability": 0.1, "max_skew": 0.5,
}  # fmt: skip
RUN: dict[str, Any] = {
    "load": "75 s", "start": "25 s", "tool_change": "55 s", "leave": "35 s", "reach": 270,
    "least_gap": 90, "override": 1.2, "parts": 7, "note": "Two people.", "by": "repeat",
    "stations": ["right", "left", "spare"],
}  # fmt: skip
STATION: dict[str, Any] = {
    "access": "left", "load": "33 s", "under": 3, "program_angle": 90, "max_skew": 0.7,
    "work_offsets": {"a": "G54"}, "note": "Nothing of it is on the page.",
    "clamps": [{"name": "c1", "from": [215, -50], "to": [245, 10], "top": 90}],
}  # fmt: skip
JIG: dict[str, Any] = {"copies": 9, "height": 60, "edges": {"front": "the saw cut"}, "spoil": 2}
PROGRAM: dict[str, Any] = {"cycle": "9:20", "file": "end-bar-notch.nc",
                           "tools": {"1": {"diameter": 9}, "2": {"diameter": 12.7}}}  # fmt: skip
PIN: dict[str, Any] = {"height": 40, "body_tolerance": 0.4}
BED: dict[str, Any] = {
    "pose": {"x": 62, "y": 55, "angle": 0}, "thickness": 30,
    "solids": [{"name": "stake", "from": [430, 300], "to": [435, 305], "top": 90}],
}  # fmt: skip
KEYS = [
    (kind, name, key, value)
    for kind, name, keys in (
        ("machine", "gantry-1", MACHINE), ("run", "three-sides", RUN), ("station", "left", STATION),
        ("jig", "panel-tray", JIG), ("program", "hand-hold", PROGRAM), ("pin", "peg-20", PIN),
        ("bed", "long-bench", BED),
    )
    for key, value in keys.items()
]  # fmt: skip


STEP = max(1, len(KEYS) // thinned(2 * len(KEYS)))


@pytest.mark.parametrize(
    ("kind", "name", "key", "value"), KEYS[::STEP], ids=lambda each: str(each)[:20]
)
def test_every_key_that_the_page_rests_on_is_told(
    hung: Path, run: Run, kind: str, name: str, key: str, value: object
) -> None:
    """Where the page would read otherwise it is told by load and status, and not before."""
    before = page(hung)
    load(run, hung, kind, name, **{key: value})
    with contextlib.suppress(PincornerError):  # a run that cannot be planned any more
        if page(hung) == before:
            return
    items = run("status", "--json").json["items"]
    assert [item["code"] for item in items if item["text"].startswith(PAGE)]


def test_load_names_it_before_all_others(hung: Path, run: Run) -> None:
    """Of many papers that are void some are named: the page that people load by is the first."""
    pin = {**document(hung, "pin", "peg-20"), "height": 40}
    (hung / "pin.yaml").write_text(json.dumps({"format": 1, "pins": [pin]}), encoding="utf-8")
    ran = run("load", "pin.yaml", "--json")
    [void] = [text for text in ran.json["warnings"] if text.startswith("void now: ")]
    assert void.startswith(f"void now: {PAGE}, left.nc, left-block.nc, ") and " more;" in void


def test_files_that_it_was_planned_from_are_told(hung: Path, run: Run) -> None:
    """A program that was posted anew or is gone, and a copy that runs in its place, are told."""
    source = hung / "hand-hold.nc"
    whole = source.read_bytes()
    source.write_bytes(whole.replace(b"F", b" F", 1))
    assert "hand-hold.nc was changed, or written anew, since" in stale(run)["stale-run three-sides"]
    source.unlink()
    assert "hand-hold.nc is not there any more" in stale(run)["stale-run three-sides"]
    source.write_bytes(whole)
    assert not stale(run)
    assert run("stamp", "hand-hold", "--station", "spare", "-o", "spare.nc").code == 0
    told = stale(run)["stale-run three-sides"]
    assert "station spare is stamped as nothing to spare.nc" in told
    assert run("refresh").code == 0 and not stale(run)
    assert "spare.nc" in (hung / PAGE).read_text(encoding="utf-8")


def test_pages_are_printed_behind_the_copies_that_they_tell_of(hung: Path, run: Run) -> None:
    """One refresh leaves nothing stale: copies of copies first, then the page."""
    assert run("stamp", "left.nc", "--station", "spare", "-o", "spare.nc").code == 0
    again = run("stamp", "hand-hold", "--station", "left", "-o", "left.nc", "--force")
    assert again.code == 0  # on record behind the copy that was made of it
    load(run, hung, "pin", "peg-20", height=21)
    source = hung / "hand-hold.nc"
    source.write_bytes(source.read_bytes() + b"\n")
    ran = run("refresh", "--json")
    assert ran.code == 0, ran.out
    papers = [paper["file"] for paper in ran.json["papers"]]
    assert papers.index("left.nc") < papers.index("spare.nc") < papers.index(PAGE)
    assert "left.nc was changed" not in run("status").out and not stale(run)


def test_neighbours_within_reach_are_told(hung: Path, run: Run) -> None:
    """A station that comes where the run's programs go makes the page stale."""
    load_as(run, hung, "stations", NEIGHBOUR)
    assert PAGE in stale_files(run)


def test_a_run_that_is_out_of_use_leaves_its_page_void(hung: Path, run: Run) -> None:
    """Its page is to be taken away; so is one of a station that cannot be located now told."""
    missing = document(hung, "bed", "long-bench")["missing"]
    load(run, hung, "bed", "long-bench", missing=[*missing, "D2"])
    items = run("status", "--json").json["items"]
    [mine] = [each for each in items if each["code"] == "stale-run"]
    assert mine["text"].startswith(f"{PAGE}: station left cannot be located now: hole D2")
    assert "gone" not in mine["text"] and mine["command"] == "pincorner show left"
    papers = run("refresh", "--json").json["papers"]
    [mine] = [paper for paper in papers if paper["file"] == PAGE]
    assert mine["outcome"] == "left" and mine["why"].startswith("mend the station first")
    load(run, hung, "bed", "long-bench", missing=missing)
    assert run("retire", "run", "three-sides").code == 0
    text = stale(run)["stale-run three-sides"]
    assert "run three-sides is out of use: take it away" in text
    (hung / PAGE).unlink()
    assert "stale-run three-sides" not in stale(run)
