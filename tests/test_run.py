"""run: codes, clashes, distances and timeline of stations worked in turn, on the demo."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from conftest import Run

FORBIDDEN = re.compile(r"\b(green|clear|free|best|safe|permitted|✓|✔)\b", re.IGNORECASE)


def plan(run: Run, name: str = "three-sides") -> dict[str, Any]:
    """The plan as JSON; its exit code goes with its findings."""
    ran = run("run", name, "--json")
    report = json.loads(ran.out)
    assert ran.code == int(bool(report["findings"])) and not ran.err
    return dict(report)


def load(run: Run, folder: Path, text: str) -> int:
    """Load documents from a text; the exit code."""
    file = folder / "change.yaml"
    file.write_text(f"format: 1\n{text}", encoding="utf-8")
    return run("load", file).code


def document(run: Run, name: str, kind: str) -> dict[str, Any]:
    """A document of the registry."""
    shown = json.loads(run("show", name, "--kind", kind, "--json").out)
    return dict(shown["documents"][0]["document"])


def change(run: Run, folder: Path, kind: str, name: str, **keys: Any) -> None:
    """Load a document with some keys changed."""
    changed = {**document(run, name, kind), **keys}
    assert load(run, folder, f"{kind}s: [{json.dumps(changed)}]\n") == 0


def gaps(report: dict[str, Any]) -> dict[tuple[str, str], float]:
    """Distances by (runs, is loaded)."""
    return {(row["runs"], row["loaded"]): row["gap_mm"] for row in report["distances"]}


def test_the_demos_run(in_demo: Path, run: Run) -> None:
    """Three stations: their own codes, a positive distance, a line for one, two and three."""
    report = plan(run)
    assert [code["code"] for code in report["work_offsets"]] == ["G59.1", "G55", "G56"]
    assert max(gaps(report).values()) > 0 > min(gaps(report).values())
    assert [len(line["order"]) for line in report["timelines"]] == [1, 2, 3]
    assert {f["code"] for f in report["findings"]} == {"zone-swept"}
    assert all(0 < line["spindle_share"] <= 1 for line in report["timelines"])


def test_a_wider_carriage_meets_the_zone(shop: Path, run: Run) -> None:
    """The distance turns negative, which is a finding, and the run takes longer."""
    before = plan(run)
    carriage = {"left": 120, "right": 420, "front": 140, "back": 140}
    change(run, shop, "machine", "gantry-1", carriage=carriage)
    after = plan(run)
    pair = ("left", "right")
    assert gaps(before)[pair] > 0 > gaps(after)[pair]
    assert gaps(before)[pair] - gaps(after)[pair] == pytest.approx(300, abs=1e-9)
    assert len(after["findings"]) == len(before["findings"]) + 1
    assert after["timelines"][-1]["total_s"] > before["timelines"][-1]["total_s"]


def test_too_few_jigs_for_the_run(shop: Path, run: Run) -> None:
    """Two trays for three stations are a finding; where nobody says how many, that is assumed."""
    assert "jig-short" not in {f["code"] for f in plan(run)["findings"]}
    change(run, shop, "jig", "panel-tray", copies=2)
    (found,) = (f for f in plan(run)["findings"] if f["code"] == "jig-short")
    assert "want 3 of jig panel-tray, and there are only 2" in found["text"]
    change(run, shop, "jig", "panel-tray", copies=None)
    told = plan(run)
    assert "jig-short" not in {f["code"] for f in told["findings"]}
    assert "that there are 3 of jig panel-tray: its document says no copies" in told["assumed"]


def test_nothing_reads_as_permission(in_demo: Path, run: Run, tmp_path: Path) -> None:
    """No such word on text, JSON or page, no green; the cautions and the rules stand there."""
    page = tmp_path / "run.html"
    assert run("run", "three-sides", "-o", page).code == 1
    texts = [
        run("run", "three-sides").out,
        run("run", "three-sides", "--json").out,
        re.sub(r"<style>.*?</style>", "", page.read_text(encoding="utf-8"), flags=re.S),
    ]
    for text in texts:
        assert not FORBIDDEN.search(text), FORBIDDEN.search(text)
        for rule in ("29 CFR 1910.212", "ISO 12100", "ISO 13854", "ISO 13855", "ISO 19085-3",
                     "no safeguard"):  # fmt: skip
            assert rule in text
    assert "#0f0" not in page.read_text(encoding="utf-8")


def test_codes_are_given_where_stations_have_none(shop: Path, run: Run) -> None:
    """A nest without a work offset gets one that nobody on the machine has."""
    change(run, shop, "station", "left", work_offsets={})
    codes = {code["station"]: code for code in plan(run)["work_offsets"]}
    assert codes["left"]["given"] and codes["left"]["code"] == "G54"
    assert not codes["right"]["given"]


def test_a_shared_code_is_told_until_programs_bring_their_blocks(shop: Path, run: Run) -> None:
    """Two stations with one code clash; once both programs are stamped the finding goes."""
    change(run, shop, "station", "spare", work_offsets={"a": "G55"})
    found = [f for f in plan(run)["findings"] if f["code"] == "code-shared"]
    assert len(found) == 1 and "stamp" in found[0]["text"]
    for name in ("left", "spare"):
        assert run("stamp", "hand-hold", "--station", name, "-o", f"{name}.nc").code == 0
    assert "code-shared" not in {f["code"] for f in plan(run)["findings"]}
    assert "code-twice" not in run("status").out


@pytest.mark.parametrize("lost", ["overwritten", "removed"])
def test_a_block_that_is_gone_counts_no_more(shop: Path, run: Run, lost: str) -> None:
    """A stamped copy that was written over or removed brings no block: run and status say both."""
    change(run, shop, "station", "spare", work_offsets={"a": "G55"})
    for name in ("left", "spare"):
        assert run("stamp", "hand-hold", "--station", name, "-o", f"{name}.nc").code == 0
    if lost == "removed":
        (shop / "left.nc").unlink()
    else:
        words = ("--station", "spare", "-o", "left.nc", "--force")
        assert run("stamp", "hand-hold", *words).code == 0
    (found,) = [f for f in plan(run)["findings"] if f["code"] == "code-shared"]
    assert found["text"].endswith("stamp the programs of left a")
    assert "code-twice" in run("status").out


def test_more_nests_than_codes(shop: Path, run: Run) -> None:
    """A dialect with one code leaves the other nests without, and says the way out."""
    ours = {"name": "ours", "work_offsets": ["G55"]}
    assert load(run, shop, f"dialects: [{json.dumps(ours)}]\n") == 0
    for name in ("left", "right", "spare"):
        change(run, shop, "station", name, work_offsets={})
    change(run, shop, "machine", "gantry-1", dialect="ours")
    (found,) = [f for f in plan(run)["findings"] if f["code"] == "codes-run-out"]
    assert "share a code" in found["text"] and "left a" in found["text"]


def test_stations_in_each_others_way(shop: Path, run: Run) -> None:
    """Jigs that overlap, and pins under another's jig, are told with figures."""
    keys = {"load": 90, "stations": ["end-bars", "roof"], "name": "both"}
    assert load(run, shop, f"runs: [{json.dumps(keys)}]\n") == 0
    codes = {f["code"] for f in plan(run, "both")["findings"]}
    assert {"jigs-overlap", "pin-under-jig"} <= codes


def test_an_arm_over_the_neighbours_jig(shop: Path, run: Run) -> None:
    """What sticks out of a jig, 20 mm over the next one, is told as an overlap of the two."""
    arm = {"name": "arm", "from": [440, 100], "to": [520, 130], "top": 61}
    change(run, shop, "jig", "panel-tray", solids=[arm])
    text = (
        "stations: [{name: close, bed: long-bench, jig: panel-tray, pin: peg-20, program: hand-hold"
        ", pins: {edge: [I2, K2], stop: H4}, work_offsets: {a: G59.2}}]\n"
        "runs: [{name: near, load: 90, stations: [left, close]}]\n"
    )
    assert load(run, shop, text) == 0
    told = [f["text"] for f in plan(run, "near")["findings"] if f["code"] == "jigs-overlap"]
    assert told == ["stations left and close: arm of panel-tray and panel-tray overlap by 20.0 mm"]


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ({"load": None}, "load"),
        ({"load": 0}, "load"),
        ({"stations": ["left", "ghost"]}, "ghost"),
        ({"parts": 0}, "parts"),
    ],
)
def test_bad_runs(shop: Path, run: Run, keys: dict[str, Any], told: str) -> None:
    """What a run lacks is one line and exit code 2, when it is loaded or when it is planned."""
    changed = {
        k: v for k, v in {**document(run, "three-sides", "run"), **keys}.items() if v is not None
    }
    (shop / "run.yaml").write_text(f"format: 1\nruns: [{json.dumps(changed)}]\n", encoding="utf-8")
    ran = run("load", "run.yaml")
    if ran.code == 0:
        ran = run("run", "three-sides")
    assert ran.code == 2 and told in ran.err and ran.err.count("\n") == 1


def test_no_cycle_and_no_program(shop: Path, run: Run) -> None:
    """Without a time and without a program to read there is no timeline, and that is said."""
    program = document(run, "hand-hold", "program")
    del program["cycle"]
    assert load(run, shop, f"programs: [{json.dumps(program)}]\n") == 0
    report = plan(run)  # from feeds and lengths
    assert any("lower bound" in text for text in report["assumed"])
    (shop / "hand-hold.nc").unlink()
    ran = run("run", "three-sides")
    assert ran.code == 2 and "cycle" in ran.err


def test_stations_on_two_machines(shop: Path, run: Run) -> None:
    """A run belongs to one machine."""
    machine = {**document(run, "gantry-1", "machine"), "name": "other"}
    bed = {**document(run, "long-bench", "bed"), "name": "far", "machine": "other"}
    station = {**document(run, "left", "station"), "name": "away", "bed": "far"}
    text = f"machines: [{json.dumps(machine)}]\nbeds: [{json.dumps(bed)}]\n"
    assert load(run, shop, text + f"stations: [{json.dumps(station)}]\n") == 0
    change(run, shop, "run", "three-sides", stations=["left", "away"])
    ran = run("run", "three-sides")
    assert ran.code == 2 and "other" in ran.err


def test_page_of_a_run(shop: Path, run: Run) -> None:
    """`sheet --run` writes the same page into the folder of sheets; never over an existing one."""
    made = run("sheet", "--run", "three-sides", "-o", "sheets")
    assert made.code == 0, made.err
    page = (shop / made.out.strip()).read_text(encoding="utf-8")
    assert page.count("<svg") == 4 and "OVERLAP" in page
    assert run("sheet", "--run", "three-sides", "-o", "sheets").code == 2
    assert run("sheet", "left", "--run", "three-sides").code == 2
