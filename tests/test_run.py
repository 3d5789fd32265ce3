"""run: codes, clashes, windows and timeline of stations worked in turn, on the demo."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from conftest import Run, without_help
from plans import change, document, page_of, planned, put, registry_of, report_of
from worlds import BASE, entries, facts, world

from pincorner.documents import records
from pincorner.documents.fields import key_of
from pincorner.render.blocks.block import render_block
from pincorner.render.text.runs import run_text
from pincorner.runs.plan import RunPlan
from pincorner.setups.transform import make_setups
from pincorner.work.runs.sittings import Stamps
from pincorner.work.session import Session

FORBIDDEN = re.compile(r"\b(green|clear|free|best|safe|permitted|✓|✔)\b", re.IGNORECASE)


def plan(shop: Path, name: str = "three-sides") -> dict[str, Any]:
    """The plan of a run as JSON."""
    return report_of(planned(shop, name))


@pytest.fixture(scope="module")
def demos(demo_once: Path) -> RunPlan:
    """The plan of the demo's run."""
    return planned(demo_once, "three-sides")


@pytest.fixture(scope="module")
def told(demos: RunPlan) -> dict[str, Any]:
    """The plan of the demo's run as JSON; do not change it."""
    return report_of(demos)


def pairs(report: dict[str, Any], key: str) -> set[tuple[str, str]]:
    """(runs, is loaded) of the windows, or of the pairs without."""
    return {(row["runs"], row["loaded"]) for row in report[key]}


@without_help
def test_the_demos_run(in_demo: Path, run: Run, told: dict[str, Any]) -> None:
    """Three stations, none over another: their codes, windows, a line for one, two and three."""
    report = told
    ran = run("run", "three-sides", "--json")
    assert (ran.code, ran.json) == (1, report) and not ran.err
    assert [code["code"] for code in report["work_offsets"]] == ["G55", "G56", "G59.1"]
    both = {("left", "right"), ("right", "left")}
    assert pairs(report, "windows") == both | {("right", "spare")}
    assert {f["code"] for f in report["findings"]} == {"ends-over-station", "program-unfit"}
    assert [len(line["order"]) for line in report["timelines"]] == [1, 2, 3]
    assert all(0 < line["spindle_share"] <= 1 for line in report["timelines"])
    assert report["not_given"] == []
    found = run("offsets", "--json").json["offsets"]
    assert [each["station"] for each in found if each["findings"]] == []


def test_the_demos_second_station_gains_what_it_can(demos: RunPlan, told: dict[str, Any]) -> None:
    """Two of its three stations have windows as long as loading takes, with the time to leave; the
    second one gains at least 80 % of what two can (the bound of a round, told beside it)."""
    report = told
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
    text = run_text(demos)
    assert re.search(r"\+ right +8:20 +8:20 .* \+34 %", text) and both["bound_round_s"] == 500


def test_every_pair_has_windows_or_a_reason(demos: RunPlan, told: dict[str, Any]) -> None:
    """Each station that runs stands against each other one, with windows or with why there is
    none; the text tells the same lines and figures."""
    report = told
    have, none = pairs(report, "windows"), pairs(report, "no_window")
    names = report["stations"]
    assert have | none == {(a, b) for a in names for b in names if a != b} and not have & none
    text = " ".join(run_text(demos).split())
    for window in report["windows"]:
        ends, least = window["ends"], int(window["at_least_s"])
        words = (
            f"from when {window['from']['event']} (line {window['from']['line']}) until "
            f"{ends['event']} (line {ends['line']}), {least // 60}:{least % 60:02} or longer, "
            f"nothing nearer than {int(window['nearest_mm'])} mm"
        )
        assert words in text
    for row in report["no_window"]:
        told_of = re.escape(f": no window; {row['why']}")
        assert re.search(rf"\b{row['loaded']}(?:, [a-z]+)*{told_of}", text)


def test_visits(shop: Path, run: Run) -> None:
    """The file that runs is named: the stamped copy of now, else the source; its first tool comes
    back first, so that two tools are changed twice."""
    words = ("hand-hold", "--station", "spare", "-o", "hand-hold-spare.nc")
    assert run("stamp", *words).code == 0
    visits = plan(shop)["visits"]
    assert [(v["station"], v["file"]) for v in visits] == [
        ("left", "hand-hold.nc"), ("right", "hand-hold-turned.nc"), ("spare", "hand-hold-spare.nc"),
    ]  # fmt: skip
    for visit in visits:
        whats = [span["what"] for span in visit["spans"]]
        assert whats[:4] == ["start", "change", "approach", "cutting"] and whats[-1] == "end"
        assert whats.count("change") == 2
        lasts = {(s["what"], s["least_s"]) for s in visit["spans"] if s["what"] in whats[:2]}
        assert lasts == {("start", 10), ("change", 40)}, "as the demo's run states them"
        lines = [span["lines"][0] for span in visit["spans"] if span["lines"]]
        assert lines == sorted(lines)


def test_a_wider_carriage_meets_the_zone(shop: Path, told: dict[str, Any]) -> None:
    """Wider parts close the windows, with the depth they reach, and the run takes longer."""
    before = told
    carriage = {"left": 120, "right": 820, "front": 140, "back": 140}
    change(shop, "machine", "gantry-1", carriage=carriage)
    after = plan(shop)
    assert ("left", "right") in pairs(before, "windows") & pairs(after, "no_window")
    [row] = [r for r in after["no_window"] if (r["runs"], r["loaded"]) == ("left", "right")]
    assert row["overlap_mm"] > 300 and "inside its loading zone" in row["why"]
    assert after["timelines"][-1]["total_s"] > before["timelines"][-1]["total_s"]


@pytest.mark.parametrize("key", ["beam", "carriage", "travel"])
def test_what_is_left_out_is_said(shop: Path, key: str) -> None:
    """Without beam, carriage or travel there is no window, and text and JSON say what is lost."""
    change(shop, "machine", "gantry-1", **{key: None})
    found = planned(shop, "three-sides")
    report = report_of(found)
    assert report["windows"] == [] and len(report["no_window"]) == 6
    assert all(key in row["why"] for row in report["no_window"])
    [told] = [text for text in report["not_given"] if "no windows" in text]
    assert key in told and told in " ".join(run_text(found).split())
    [unfit] = [f["text"] for f in report["findings"] if f["code"] == "program-unfit"]
    assert unfit.startswith("spare: check of hand-hold.nc finds: line 6: it selects G55")
    assert "it selects G55, not G59.1" in page_of(found)


def test_operator_and_park_left_out(shop: Path, told: dict[str, Any]) -> None:
    """Left out, they never lengthen a window: every end at M6 is hard, strips go to all sides."""
    before = {(w["runs"], w["loaded"], w["from"]["line"]): w for w in told["windows"]}
    change(shop, "machine", "gantry-1", operator=None, park=None)
    after = plan(shop)
    for window in after["windows"]:
        old = before[window["runs"], window["loaded"], window["from"]["line"]]
        assert window["at_least_s"] <= old["at_least_s"]
        assert window["nearest_mm"] <= old["nearest_mm"]
    assert len(after["not_given"]) == 2


def test_a_program_that_check_does_not_pass(shop: Path, run: Run, told: dict[str, Any]) -> None:
    """It has no windows, with what check finds; nor has a stale copy, nor one of another text."""
    reasons = {r["runs"]: r["why"] for r in told["no_window"]}
    assert reasons["spare"] == (
        "check of hand-hold.nc finds: line 6: it selects G55, not G59.1: stamp it for spare "
        "(pincorner stamp hand-hold --station spare -o FILE)"
    )
    words = ("hand-hold", "--station", "spare", "-o", "again.nc")
    assert run("stamp", *words).code == 0
    assert ("spare", "right") in pairs(plan(shop), "windows")
    source = shop / "hand-hold.nc"
    text = source.read_text(encoding="utf-8")
    source.write_text(text.replace("Z-12 F900", "Z-12 F800"), encoding="utf-8")
    reasons = {r["runs"]: r["why"] for r in plan(shop)["no_window"]}
    assert "again.nc is no copy of hand-hold.nc as it is now" in reasons["spare"]
    source.write_text(text, encoding="utf-8")
    change(shop, "station", "spare", under=1)
    reasons = {r["runs"]: r["why"] for r in plan(shop)["no_window"]}
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
def test_lines_that_may_be_skipped(shop: Path, line: str) -> None:
    """Lines behind / are carried out or left out: of the windows of the program with them and of
    that without, read by themselves, the lesser one counts; and that is said."""
    change(shop, "run", "three-sides", stations=["left", "right"])
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
        report = plan(shop)
        reports[way], assumed = report["windows"], report["assumed"]
        reports[way] = [w for w in reports[way] if w["runs"] == "left"]
    by_event = {w["from"]["event"]: w for w in reports["without"]}
    assert reports["both"] == [
        lesser(w, by_event[w["from"]["event"]])
        for w in reports["with"] if w["from"]["event"] in by_event
    ]  # fmt: skip
    assert reports["both"]
    assert any("lines behind / may run or not" in text for text in assumed)


def test_a_stop_that_may_be_skipped(shop: Path, run: Run) -> None:
    """A stop or a tool change behind / is there or not: such a program has no windows."""
    source = shop / "hand-hold.nc"
    text = source.read_text(encoding="utf-8")
    source.write_text(text.replace("G0 Y170", "/M0\nG0 Y170", 1), encoding="utf-8")
    reasons = {r["runs"]: r["why"] for r in plan(shop)["no_window"]}
    assert "in lines behind / that may be left out" in reasons["left"]


def test_a_retract_that_may_be_skipped(shop: Path) -> None:
    """How high the tool stands at the end is told as of the lower way."""
    source = shop / "hand-hold.nc"
    text = source.read_text(encoding="utf-8")
    source.write_text("G0 Z12\n/G0 Z30".join(text.rsplit("G0 Z30", 1)), encoding="utf-8")
    [told] = [f["text"] for f in plan(shop)["findings"] if "ends above left" in f["text"]]
    assert "tip 12 mm over the stock" in told


def test_a_name_that_its_block_breaks(tmp_path: Path) -> None:
    """The copy of a station is found whose name has no room in a line of the controller's."""
    name = "Hive" * 12
    found = world(BASE, dialect={"line_length": 40}, station={"name": name})
    [setup] = make_setups(facts(found))
    block = render_block([setup], None)
    assert f"(setup {name}" not in block
    (tmp_path / "c.nc").write_text(f"{block}G0 Z30\nM30\n", encoding="ascii")
    session = Session(registry_of(tmp_path), "me", "run")
    stamps = Stamps(session, [{"event": "stamp", "station_key": key_of(name), "path": "c.nc"}])
    found = stamps.of(setup)
    assert [path for path, _, _ in found] == ["c.nc"]
    assert stamps.of(setup)[0][1] is found[0][1], "a copy is read once for all nests"


def test_a_bed_that_moves(shop: Path, run: Run) -> None:
    """Hands would be on it: no windows."""
    change(shop, "machine", "gantry-1", bed_moves=True)
    assert {row["why"] for row in plan(shop)["no_window"]} == {
        "the bed of machine gantry-1 moves: hands would be on it"
    }


def test_measured_times_that_differ(shop: Path, told: dict[str, Any]) -> None:
    """Less than lengths and feeds come to, or 1.3 times more, is told. A window never grows, and
    one whose feeds are refuted is none: it would last longer than its program."""
    change(shop, "run", "three-sides", stations=["left", "right"])
    windows = [each for each in told["windows"] if each["loaded"] != "spare"]
    quick = [each for each in windows if each["runs"] != "left"]
    for cycle, differs in (("2:00", True), ("2:11", False), ("2:49", False), ("2:50", True)):
        change(shop, "program", "hand-hold", cycle=cycle)
        report = plan(shop)
        assert ("cycle-differs" in {f["code"] for f in report["findings"]}) == differs, cycle
        assert report["windows"] == (quick if cycle == "2:00" else windows)
        reasons = {each["runs"]: each["why"] for each in report["no_window"]}
        assert ("takes 2:00 as measured, less" in reasons.get("left", "")) == (cycle == "2:00")
    change(shop, "program", "hand-hold", cycle="1:00")
    source = shop / "hand-hold.nc"
    text = source.read_text(encoding="utf-8").replace("M30", "/G0 X20\nM30")
    source.write_text(text, encoding="utf-8")
    report = plan(shop)
    [why] = {each["why"] for each in report["no_window"] if each["runs"] == "left"}
    assert "feeds" in why and why.endswith(", or measure it with its lines behind / run")
    left = "hand-hold.nc ends above left"  # at two places, which is told once
    assert len([f for f in report["findings"] if f["text"].startswith(left)]) == 1


def test_override(shop: Path, told: dict[str, Any]) -> None:
    """The largest feed override in use shortens every window by its factor."""
    before = told["windows"]
    text = (
        "runs: [{name: fast, load: 90, reach: 200, stations: [left, right, spare], "
        "override: 1.2}]\n"
    )
    put(shop, text)
    for written in ('"120 %"', '"120%"'):
        (entry,) = entries(f"format: 1\n{text}".replace("1.2}", f"{written}}}"))
        assert isinstance(entry.document, records.Run) and entry.document.override == 1.2
    after = plan(shop, "fast")["windows"]
    assert [w["at_least_s"] * 1.2 for w in after] == pytest.approx(
        [w["at_least_s"] for w in before]
    )


def test_too_few_jigs_for_the_run(shop: Path, told: dict[str, Any]) -> None:
    """Two trays for three stations are a finding; where nobody says how many, that is assumed."""
    assert "jig-short" not in {f["code"] for f in told["findings"]}
    change(shop, "jig", "panel-tray", copies=2)
    (found,) = (f for f in plan(shop)["findings"] if f["code"] == "jig-short")
    assert "want 3 of jig panel-tray, and there are only 2" in found["text"]
    change(shop, "jig", "panel-tray", copies=None)
    after = plan(shop)
    assert "jig-short" not in {f["code"] for f in after["findings"]}
    assert "that there are 3 of jig panel-tray: its document says no copies" in after["assumed"]


def test_nothing_reads_as_permission(demo_once: Path) -> None:
    """No such word on text, JSON or page, no green; the cautions and the rules stand there."""
    found = planned(demo_once, "three-sides", helped=True)
    assert found.helps
    page, said = page_of(found), "not named is not permitted"
    assert said in page
    without_style = re.sub(r"<style>.*?</style>", "", page, flags=re.S)
    for text in run_text(found), json.dumps(report_of(found), ensure_ascii=False), without_style:
        text = text.replace(said, "")
        assert not FORBIDDEN.search(text), FORBIDDEN.search(text)
        for rule in ("29 CFR 1910.212", "ISO 12100", "ISO 13854", "ISO 13855", "ISO 19085-3",
                     "no safeguard"):  # fmt: skip
            assert rule in text
    assert "#0f0" not in page


def test_codes_are_given_where_stations_have_none(shop: Path, run: Run) -> None:
    """A nest without a work offset gets one that nobody on the machine has."""
    change(shop, "station", "left", work_offsets={})
    codes = {code["station"]: code for code in plan(shop)["work_offsets"]}
    assert codes["left"]["given"] and codes["left"]["code"] == "G54"
    assert not codes["right"]["given"]


def test_a_shared_code_is_told_until_programs_bring_their_blocks(shop: Path, run: Run) -> None:
    """Two stations with one code clash; once both programs are stamped the finding goes, until one
    copy is removed or written over: it brings no block any more. Run and status say both."""
    change(shop, "station", "spare", work_offsets={"a": "G55"})
    stamp, copy = ("stamp", "hand-hold", "--station"), shop / "left.nc"

    def shared() -> list[str]:
        return [f["text"] for f in plan(shop)["findings"] if f["code"] == "code-shared"]

    def lost() -> None:
        [told] = shared()
        assert told.endswith("stamp the programs of left a")
        assert "code-twice" in run("status").out

    [told] = shared()
    assert told.endswith("stamp the programs of left a, spare a")
    for name in ("left", "spare"):
        assert run(*stamp, name, "-o", f"{name}.nc").code == 0
    assert shared() == [] and "code-twice" not in run("status").out
    stamped = copy.read_bytes()
    copy.unlink()
    lost()
    copy.write_bytes(stamped)
    assert shared() == []
    assert run(*stamp, "spare", "-o", "left.nc", "--force").code == 0
    lost()


def test_more_nests_than_codes(shop: Path, run: Run) -> None:
    """A dialect with one code leaves the other nests without, and says the way out."""
    ours = {"name": "ours", "work_offsets": ["G55"]}
    put(shop, f"dialects: [{json.dumps(ours)}]\n")
    for name in ("left", "right", "spare"):
        change(shop, "station", name, work_offsets={})
    change(shop, "machine", "gantry-1", dialect="ours")
    (found,) = [f for f in plan(shop)["findings"] if f["code"] == "codes-run-out"]
    assert "share a code" in found["text"] and "spare a" in found["text"]


def test_stations_in_each_others_way(shop: Path, run: Run) -> None:
    """Jigs that overlap, and pins under another's jig, are told with figures."""
    over = ("--stock", "500,230,18", "--pin", "peg-12", "--pins", "G6,J6,F8")
    words = ("--bed", "long-bench", "--work-offset", "a=G54", "--program", "roof-groove")
    assert run("register", "board", *over, *words).code == 0
    keys = {"load": 90, "stations": ["end-bars", "board"], "name": "both"}
    put(shop, f"runs: [{json.dumps(keys)}]\n")
    codes = {f["code"] for f in plan(shop, "both")["findings"]}
    assert {"jigs-overlap", "pin-under-jig"} <= codes


def test_an_arm_over_the_neighbours_jig(shop: Path, run: Run) -> None:
    """What sticks out of a jig, 20 mm over the next one, is told as an overlap of the two."""
    arm = {"name": "arm", "from": [440, 100], "to": [520, 130], "top": 61}
    change(shop, "jig", "panel-tray", solids=[arm])
    text = (
        "stations: [{name: close, bed: long-bench, jig: panel-tray, pin: peg-20, program: hand-hold"
        ", pins: {edge: [I2, K2], stop: H4}, work_offsets: {a: G59.2}}]\n"
        "runs: [{name: near, load: 90, stations: [left, close]}]\n"
    )
    put(shop, text)
    told = [f["text"] for f in plan(shop, "near")["findings"] if f["code"] == "jigs-overlap"]
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
        k: v for k, v in {**document(shop, "run", "three-sides"), **keys}.items() if v is not None
    }
    (shop / "run.yaml").write_text(f"format: 1\nruns: [{json.dumps(changed)}]\n", encoding="utf-8")
    ran = run("load", "run.yaml")
    if ran.code == 0:
        ran = run("run", "three-sides")
    assert ran.code == 2 and told in ran.err and ran.err.count("\n") == 1


def test_no_cycle_and_no_program(shop: Path, run: Run) -> None:
    """Without a time and without a program to read there is no timeline, and that is said."""
    program = document(shop, "program", "hand-hold")
    del program["cycle"]
    put(shop, f"programs: [{json.dumps(program)}]\n")
    report = plan(shop)  # from feeds and lengths
    assert any("lower bound" in text for text in report["assumed"])
    (shop / "hand-hold.nc").unlink()
    ran = run("run", "three-sides")
    assert ran.code == 2 and "say cycle in its program's document" in ran.err


def test_stations_on_two_machines(shop: Path, run: Run) -> None:
    """A run belongs to one machine."""
    machine = {**document(shop, "machine", "gantry-1"), "name": "other"}
    bed = {**document(shop, "bed", "long-bench"), "name": "far", "machine": "other"}
    station = {**document(shop, "station", "left"), "name": "away", "bed": "far"}
    text = f"machines: [{json.dumps(machine)}]\nbeds: [{json.dumps(bed)}]\n"
    put(shop, text + f"stations: [{json.dumps(station)}]\n")
    change(shop, "run", "three-sides", stations=["left", "away"])
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
