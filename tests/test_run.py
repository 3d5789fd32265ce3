"""run: codes, clashes, windows and timeline of stations worked in turn, on the demo."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from conftest import Run, without_help

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
    return run("load", file, "--yes").code


def document(run: Run, name: str, kind: str) -> dict[str, Any]:
    """A document of the registry."""
    shown = json.loads(run("show", name, "--kind", kind, "--json").out)
    return dict(shown["documents"][0]["document"])


def change(run: Run, folder: Path, kind: str, name: str, **keys: Any) -> None:
    """Load a document with some keys changed."""
    changed = {**document(run, name, kind), **keys}
    assert load(run, folder, f"{kind}s: [{json.dumps(changed)}]\n") == 0


def pairs(report: dict[str, Any], key: str) -> set[tuple[str, str]]:
    """(runs, is loaded) of the windows, or of the pairs without."""
    return {(row["runs"], row["loaded"]) for row in report[key]}


@without_help
def test_the_demos_run(in_demo: Path, run: Run) -> None:
    """Three stations, none over another: their codes, windows, a line for one, two and three."""
    report = plan(run)
    assert [code["code"] for code in report["work_offsets"]] == ["G55", "G56", "G59.1"]
    both = {("left", "right"), ("right", "left")}
    assert pairs(report, "windows") == both | {("right", "spare")}
    assert {f["code"] for f in report["findings"]} == {"ends-over-station"}
    assert [len(line["order"]) for line in report["timelines"]] == [1, 2, 3]
    assert all(0 < line["spindle_share"] <= 1 for line in report["timelines"])
    assert report["not_given"] == []
    found = run("offsets", "--json").json["offsets"]
    assert [each["station"] for each in found if each["findings"]] == []


@without_help
def test_the_demos_second_station_gains_what_it_can(in_demo: Path, run: Run) -> None:
    """Two of its three stations have windows as long as loading takes, with the time to leave; the
    second one gains at least 80 % of what two can (the bound of a round, told beside it)."""
    report = plan(run)
    for runs, loaded in (("left", "right"), ("right", "left")):
        longest = max(
            window["at_least_s"]
            for window in report["windows"]
            if (window["runs"], window["loaded"]) == (runs, loaded)
        )
        assert longest >= 90 + 15
    alone, both, every = report["timelines"]
    bound = 2 * alone["round_s"] / both["bound_round_s"] - 1
    assert both["gain"] >= 0.8 * bound > 0.2
    assert every["bound_round_s"] == report["bound_round_s"] < every["round_s"]
    text = run("run", "three-sides").out
    assert re.search(r"\+ right +8:20 +8:20 .* \+34 %", text) and both["bound_round_s"] == 500


@without_help
def test_every_pair_has_windows_or_a_reason(in_demo: Path, run: Run) -> None:
    """Each station that runs stands against each other one, with windows or with why there is
    none; the text tells the same lines and figures."""
    report = plan(run)
    have, none = pairs(report, "windows"), pairs(report, "no_window")
    names = report["stations"]
    assert have | none == {(a, b) for a in names for b in names if a != b} and not have & none
    text = " ".join(run("run", "three-sides").out.split())
    for window in report["windows"]:
        ends, least = window["ends"], int(window["at_least_s"])
        told = (
            f"from when {window['from']['event']} (line {window['from']['line']}) until "
            f"{ends['event']} (line {ends['line']}), {least // 60}:{least % 60:02} or longer, "
            f"nothing nearer than {int(window['nearest_mm'])} mm"
        )
        assert told in text
    for row in report["no_window"]:
        told_of = re.escape(f": no window; {row['why']}")
        assert re.search(rf"\b{row['loaded']}(?:, [a-z]+)*{told_of}", text)


@without_help
def test_visits(shop: Path, run: Run) -> None:
    """The file that runs is named: the stamped copy of now, else the source; its first tool comes
    back first, so that two tools are changed twice."""
    words = ("hand-hold", "--station", "spare", "-o", "hand-hold-spare.nc")
    assert run("stamp", *words).code == 0
    visits = plan(run)["visits"]
    assert [(v["station"], v["file"]) for v in visits] == [
        ("left", "hand-hold.nc"), ("right", "hand-hold-turned.nc"), ("spare", "hand-hold-spare.nc"),
    ]  # fmt: skip
    for visit in visits:
        whats = [span["what"] for span in visit["spans"]]
        assert whats[:4] == ["start", "change", "approach", "cutting"] and whats[-1] == "end"
        assert whats.count("change") == 2
        lines = [span["lines"][0] for span in visit["spans"] if span["lines"]]
        assert lines == sorted(lines)


@without_help
def test_a_wider_carriage_meets_the_zone(shop: Path, run: Run) -> None:
    """Wider parts close the windows, with the depth they reach, and the run takes longer."""
    before = plan(run)
    carriage = {"left": 120, "right": 820, "front": 140, "back": 140}
    change(run, shop, "machine", "gantry-1", carriage=carriage)
    after = plan(run)
    assert ("left", "right") in pairs(before, "windows") & pairs(after, "no_window")
    [row] = [r for r in after["no_window"] if (r["runs"], r["loaded"]) == ("left", "right")]
    assert row["overlap_mm"] > 300 and "inside its loading zone" in row["why"]
    assert after["timelines"][-1]["total_s"] > before["timelines"][-1]["total_s"]


@pytest.mark.parametrize("key", ["beam", "carriage", "travel"])
@without_help
def test_what_is_left_out_is_said(shop: Path, run: Run, key: str) -> None:
    """Without beam, carriage or travel there is no window, and text and JSON say what is lost."""
    machine = document(run, "gantry-1", "machine")
    del machine[key]
    assert load(run, shop, f"machines: [{json.dumps(machine)}]\n") == 0
    report = plan(run)
    assert report["windows"] == [] and len(report["no_window"]) == 6
    assert all(key in row["why"] for row in report["no_window"])
    [told] = [text for text in report["not_given"] if "no windows" in text]
    assert key in told and told in " ".join(run("run", "three-sides").out.split())


@without_help
def test_operator_and_park_left_out(shop: Path, run: Run) -> None:
    """Left out, they never lengthen a window: every end at M6 is hard, strips go to all sides."""
    before = {(w["runs"], w["loaded"], w["from"]["line"]): w for w in plan(run)["windows"]}
    machine = document(run, "gantry-1", "machine")
    del machine["operator"], machine["park"]
    assert load(run, shop, f"machines: [{json.dumps(machine)}]\n") == 0
    after = plan(run)
    for window in after["windows"]:
        old = before[window["runs"], window["loaded"], window["from"]["line"]]
        assert window["at_least_s"] <= old["at_least_s"]
        assert window["nearest_mm"] <= old["nearest_mm"]
    assert len(after["not_given"]) == 2


@without_help
def test_a_program_that_check_does_not_pass(shop: Path, run: Run) -> None:
    """It has no windows, with what check finds; nor has a stale copy, nor one of another text."""
    reasons = {r["runs"]: r["why"] for r in plan(run)["no_window"]}
    assert reasons["spare"] == (
        "check of hand-hold.nc finds: line 6: it selects G55, not G59.1: stamp it for spare "
        "(pincorner stamp hand-hold --station spare -o FILE), and its windows are told"
    )
    words = ("hand-hold", "--station", "spare", "-o", "again.nc")
    assert run("stamp", *words).code == 0
    assert ("spare", "right") in pairs(plan(run), "windows")
    source = shop / "hand-hold.nc"
    text = source.read_text(encoding="utf-8")
    source.write_text(text.replace("Z-12 F900", "Z-12 F800"), encoding="utf-8")
    reasons = {r["runs"]: r["why"] for r in plan(run)["no_window"]}
    assert "again.nc is no copy of hand-hold.nc as it is now" in reasons["spare"]
    source.write_text(text, encoding="utf-8")
    change(run, shop, "station", "spare", under=1)
    reasons = {r["runs"]: r["why"] for r in plan(run)["no_window"]}
    assert "again.nc was stamped for setup" in reasons["spare"]


def lesser(run: dict[str, Any], skipped: dict[str, Any]) -> dict[str, Any]:
    """Of two windows the one that holds in both: the later begin, the earlier end, the least."""
    first = min((run, skipped), key=lambda w: w["ends"]["line"])
    begun = max((run, skipped), key=lambda w: w["from"]["line"])
    kinds = {run["ends"]["kind"], skipped["ends"]["kind"]}
    return {
        **first,
        "from": begun["from"],
        "at_least_s": min(run["at_least_s"], skipped["at_least_s"]),
        "nearest_mm": min(run["nearest_mm"], skipped["nearest_mm"]),
        "ends": {**first["ends"], "kind": "hard" if "hard" in kinds else "waits"},
    }


@pytest.mark.parametrize("line", ["G0 Y170", "G1 Z0 F400", "G4 P2\nG1 Z-3 F60"])
@without_help
def test_lines_that_may_be_skipped(shop: Path, run: Run, line: str) -> None:
    """Lines behind / are carried out or left out: of the windows of the program with them and of
    that without, read by themselves, the lesser one counts; and that is said."""
    source = shop / "hand-hold.nc"
    text = source.read_text(encoding="utf-8")
    if line not in text:  # some seconds more in the middle of the first cuts
        text = text.replace("G1 Y159.5", f"{line}\nG1 Y159.5", 1)
    reports = {}
    for way, written in (
        ("with", line),
        ("without", "\n" * line.count("\n")),
        ("both", f"/{line}".replace("\n", "\n/")),
    ):
        source.write_text(text.replace(line, written, 1), encoding="utf-8")
        reports[way] = [w for w in plan(run)["windows"] if w["runs"] == "left"]
    by_event = {w["from"]["event"]: w for w in reports["without"]}
    assert reports["both"] == [
        lesser(w, by_event[w["from"]["event"]])
        for w in reports["with"] if w["from"]["event"] in by_event
    ]  # fmt: skip
    assert reports["both"]
    assert any("lines behind / may run or not" in text for text in plan(run)["assumed"])


@without_help
def test_a_stop_that_may_be_skipped(shop: Path, run: Run) -> None:
    """A stop or a tool change behind / is there or not: such a program has no windows."""
    source = shop / "hand-hold.nc"
    text = source.read_text(encoding="utf-8")
    source.write_text(text.replace("G0 Y170", "/M0\nG0 Y170", 1), encoding="utf-8")
    reasons = {r["runs"]: r["why"] for r in plan(run)["no_window"]}
    assert "in lines behind / that may be left out" in reasons["left"]


@without_help
def test_a_bed_that_moves(shop: Path, run: Run) -> None:
    """Hands would be on it: no windows."""
    change(run, shop, "machine", "gantry-1", bed_moves=True)
    assert {row["why"] for row in plan(run)["no_window"]} == {
        "the bed of machine gantry-1 moves: hands would be on it"
    }


@without_help
def test_measured_times_that_differ(shop: Path, run: Run) -> None:
    """Less than lengths and feeds come to, or 1.3 times more, is told. A window never grows, and
    one whose feeds are refuted is none: it would last longer than its program."""
    windows = plan(run)["windows"]
    quick = [each for each in windows if each["runs"] != "left"]
    for cycle, told in (("2:00", True), ("2:11", False), ("2:49", False), ("2:50", True)):
        change(run, shop, "program", "hand-hold", cycle=cycle)
        report = plan(run)
        assert ("cycle-differs" in {f["code"] for f in report["findings"]}) == told, cycle
        assert report["windows"] == (quick if cycle == "2:00" else windows)
        reasons = {each["runs"]: each["why"] for each in report["no_window"]}
        assert ("takes 2:00 as measured, less" in reasons.get("left", "")) == (cycle == "2:00")


@pytest.mark.parametrize("written", [1.2, '"120 %"', '"120%"'])
@without_help
def test_override(shop: Path, run: Run, written: object) -> None:
    """The largest feed override in use shortens every window by its factor."""
    before = plan(run)["windows"]
    text = (
        "runs: [{name: fast, load: 90, reach: 200, stations: [left, right, spare], "
        f"override: {written}}}]\n"
    )
    assert load(run, shop, text) == 0
    after = plan(run, "fast")["windows"]
    assert [w["at_least_s"] * 1.2 for w in after] == pytest.approx(
        [w["at_least_s"] for w in before]
    )


@without_help
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
    said = "not named is not permitted"
    assert said in page.read_text(encoding="utf-8")
    texts = [
        run("run", "three-sides").out,
        run("run", "three-sides", "--json").out,
        re.sub(r"<style>.*?</style>", "", page.read_text(encoding="utf-8"), flags=re.S),
    ]
    for text in texts:
        text = text.replace(said, "")
        assert not FORBIDDEN.search(text), FORBIDDEN.search(text)
        for rule in ("29 CFR 1910.212", "ISO 12100", "ISO 13854", "ISO 13855", "ISO 19085-3",
                     "no safeguard"):  # fmt: skip
            assert rule in text
    assert "#0f0" not in page.read_text(encoding="utf-8")


@without_help
def test_codes_are_given_where_stations_have_none(shop: Path, run: Run) -> None:
    """A nest without a work offset gets one that nobody on the machine has."""
    change(run, shop, "station", "left", work_offsets={})
    codes = {code["station"]: code for code in plan(run)["work_offsets"]}
    assert codes["left"]["given"] and codes["left"]["code"] == "G54"
    assert not codes["right"]["given"]


@without_help
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
@without_help
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


@without_help
def test_more_nests_than_codes(shop: Path, run: Run) -> None:
    """A dialect with one code leaves the other nests without, and says the way out."""
    ours = {"name": "ours", "work_offsets": ["G55"]}
    assert load(run, shop, f"dialects: [{json.dumps(ours)}]\n") == 0
    for name in ("left", "right", "spare"):
        change(run, shop, "station", name, work_offsets={})
    change(run, shop, "machine", "gantry-1", dialect="ours")
    (found,) = [f for f in plan(run)["findings"] if f["code"] == "codes-run-out"]
    assert "share a code" in found["text"] and "spare a" in found["text"]


@without_help
def test_stations_in_each_others_way(shop: Path, run: Run) -> None:
    """Jigs that overlap, and pins under another's jig, are told with figures."""
    over = ("--stock", "500,230,18", "--pin", "peg-12", "--pins", "G6,J6,F8")
    words = ("--bed", "long-bench", "--work-offset", "a=G54", "--program", "roof-groove")
    assert run("register", "board", *over, *words).code == 0
    keys = {"load": 90, "stations": ["end-bars", "board"], "name": "both"}
    assert load(run, shop, f"runs: [{json.dumps(keys)}]\n") == 0
    codes = {f["code"] for f in plan(run, "both")["findings"]}
    assert {"jigs-overlap", "pin-under-jig"} <= codes


@without_help
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
        ({"stations": ["left", "right", "LEFT"]}, "station LEFT stands there twice"),
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


@without_help
def test_no_cycle_and_no_program(shop: Path, run: Run) -> None:
    """Without a time and without a program to read there is no timeline, and that is said."""
    program = document(run, "hand-hold", "program")
    del program["cycle"]
    assert load(run, shop, f"programs: [{json.dumps(program)}]\n") == 0
    report = plan(run)  # from feeds and lengths
    assert any("lower bound" in text for text in report["assumed"])
    (shop / "hand-hold.nc").unlink()
    ran = run("run", "three-sides")
    assert ran.code == 2 and "say cycle in its program's document" in ran.err


@without_help
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


@without_help
def test_page_of_a_run(shop: Path, run: Run) -> None:
    """`sheet --run` writes the same page into the folder of sheets; never over an existing one."""
    made = run("sheet", "--run", "three-sides", "-o", "sheets")
    assert made.code == 0, made.err
    page = (shop / made.out.strip()).read_text(encoding="utf-8")
    assert page.count("<svg") == 6 and page.count("not named is not permitted") == 3
    assert "In the drawing nothing comes nearer than 291 mm to right&#39;s loading zone" in page
    assert run("sheet", "--run", "three-sides", "-o", "sheets").code == 2
    assert run("sheet", "left", "--run", "three-sides").code == 2
