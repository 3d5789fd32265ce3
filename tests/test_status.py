"""status: papers that show old numbers, codes and jigs twice, cover, stations that drift."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

import pytest
from conftest import Run
from plans import change, put

MOVED = """
beds:
  - name: long-bench
    machine: gantry-1
    grid: {columns: 15, rows: 9, pitch: [100, 100], hole: 20.02, hole_position: 0.04, depth: 20}
    pose: {x: 60.5, y: 55, angle: 0}
    surface: -120
"""


def items(run: Run, *options: str) -> dict[str, list[dict[str, str]]]:
    """What status lists, by code; checks the exit code that goes with it."""
    ran = run("status", "--json", *options)
    report = json.loads(ran.out)
    assert (report["format"], report["kind"]) == (1, "status")
    assert ran.code == int(bool(report["items"])) and not ran.err
    found: dict[str, list[dict[str, str]]] = {}
    for item in report["items"]:
        found.setdefault(item["code"], []).append(item)
    return found


def test_papers_go_stale_and_are_printed_again(shop: Path, run: Run) -> None:
    """A bed that moved makes block, sheets and map stale; writing them again quiets status."""
    assert not any(code.startswith("stale") for code in items(run))
    put(shop, MOVED)
    found = items(run)
    assert {item["about"] for item in found["stale-sheet"]} == {
        "left", "right", "end-bars", "roof", "spare",
    }  # fmt: skip
    assert len(found["stale-sheet"]) == 5 and len(found["stale-map"]) == 1  # each file once
    (block,) = found["stale-block"]
    assert block["text"] == "left-block.nc: X 294.99 to 295.49; bed long-bench spoil 0.5 to 0.0 mm"
    assert run("sheet", "--all", "-o", "sheets", "--force").code == 0
    assert run("map", "long-bench", "-o", "long-bench.html", "--force").code == 0
    assert run("block", "left", "-o", "left-block.nc", "--force").code == 0
    assert not any(code.startswith("stale") for code in items(run))


def test_a_file_written_anew_counts_once(shop: Path, run: Run) -> None:
    """What a file held before, for another station or by another command, is forgotten."""
    for command in (("block", "end-bars"), ("stamp", "end-bar-notch", "--station", "end-bars"),
                    ("stamp", "hand-hold", "--station", "left")):  # fmt: skip
        assert run(*command, "-o", "out.nc", "--force").code == 0
    put(shop, MOVED)
    told = [item for each in items(run).values() for item in each if "out.nc" in item["text"]]
    assert [item["about"] for item in told] == ["left"]


def test_a_block_that_was_thrown_away_is_not_stale(shop: Path, run: Run) -> None:
    """A block file counts as long as it is there."""
    put(shop, MOVED)
    (shop / "left-block.nc").unlink()
    assert "stale-block" not in items(run)


def test_a_paper_for_todays_stock_is_stale_only_when_numbers_changed(shop: Path, run: Run) -> None:
    """A block for a thicker piece shows another fingerprint from the start, and is not stale."""
    thick = ("block", "left", "--stock-thickness", "25", "-o", "thick.nc")
    assert run(*thick).code == 0
    assert "stale-block" not in items(run)
    put(shop, MOVED)
    assert any("thick.nc" in item["text"] for item in items(run)["stale-block"])


def test_worst_comes_first(shop: Path, run: Run) -> None:
    """Stations that cannot be located stand before papers, and papers before what can wait."""
    assert run("resurface", "long-bench", "--depth", "0.4").code == 0
    put(shop, MOVED.replace("surface: -120", "surface: -120\n    missing: [D2]"))
    codes = [item["code"] for item in json.loads(run("status", "--json").out)["items"]]
    assert codes[0] == "refused"
    assert codes.index("stale-sheet") < codes.index("not-verified")


def test_codes_used_twice(shop: Path, run: Run) -> None:
    """Two nests with one code on a machine are told, with both names."""
    ran = run("register", "shelf", "--bed", "long-bench", "--stock", "150,250,18", "--pin",
              "peg-20", "--pins", "A3,A4,B2", "--work-offset", "a=G55")  # fmt: skip
    assert ran.code == 0
    (item,) = items(run)["code-twice"]
    assert "G55" in item["text"] and "left a" in item["text"] and "shelf a" in item["text"]


def test_holes_twice(shop: Path, run: Run) -> None:
    """A hole that needs two kinds of pin."""
    ran = run("register", "shelf", "--bed", "long-bench", "--stock", "350,250,18", "--pin",
              "peg-12", "--pins", "D2,E2,C3", "--work-offset", "a=G54")  # fmt: skip
    assert ran.code == 0, ran.err
    found = items(run)
    assert any("hole D2" in item["text"] for item in found["hole-twice"])


@pytest.mark.parametrize(
    ("copies", "told"),
    [(None, "how many there are of it is not given"), (1, "there is only 1 of it"),
     (2, "there are only 2 of it"), (3, "")],
)  # fmt: skip
def test_jigs_by_how_many_there_are(shop: Path, run: Run, copies: int | None, told: str) -> None:
    """Three stations name the tray: that is told until there are three of it."""
    change(shop, "jig", "panel-tray", copies=copies)
    found = [item["text"] for item in items(run).get("jig-twice", [])]
    assert len(found) == bool(told) and all(told in text for text in found)


def test_cover_and_old_surveys(shop: Path, run: Run) -> None:
    """Thin wood over a track; a survey older than the last cut, and one that is years old."""
    put(
        shop,
        """
surveys:
  - name: 2020-01-01
    bed: long-bench
    readings: [[A1, 60, 55], [O9, 1460, 855]]
    fit: {pose: {x: 60, y: 55}, points: 2, s: 0, dof: 0, centroid: [700, 400], spread: 650000}
""",
    )
    assert run("resurface", "long-bench", "--depth", "0.4").code == 0
    found = items(run)
    assert [item["text"] for item in found["thin-cover"]] == [
        f"bed long-bench: track {track} has 0.600 mm of wood left over it"
        for track in ("T1", "T2", "T3")
    ]
    texts = " ".join(item["text"] for item in found["survey-old"])
    assert "older than surfacing" not in texts and "days old" in texts  # Z is set by touch
    assert "survey-old" not in items(run, "--survey-age", "100000")


def test_verification_is_logged_and_told(shop: Path, run: Run) -> None:
    """A zero near its place asks for nothing, one a hole off for the pins; status says so."""
    assert "left" in {item["about"] for item in items(run)["not-verified"]}
    good = run("verify", "left", "--x", "295.01", "--y", "184.99", "--json")
    assert good.code == 0
    report = json.loads(good.out)
    assert report["action"] == "nothing" and report["deviation_mm"]["x"] == pytest.approx(0.02)
    assert "left" not in {item["about"] for item in items(run)["not-verified"]}
    bad = run("verify", "left", "--x", "395.02", "--y", "185", "--note", "after lunch", "--yes")
    assert bad.code == 1 and "check the pins" in bad.out and "one hole" in bad.out
    assert any(item["about"] == "left" for item in items(run)["outside-limits"])
    assert "verification left" in run("history", "left").out
    assert "after lunch" in run("history", "left").out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("nowhere", "--x", "1", "--y", "2"), "nowhere"),
        (("left", "--x", "one", "--y", "2"), "--x"),
        (("left", "--x", "1", "--y", "2", "--u", "0"), "--u"),
        (("left", "--x", "1", "--y", "2", "--nest", "q"), "nest"),
        (("left", "--x", "1"), "--y"),
    ],
)
def test_verify_refuses(in_demo: Path, run: Run, arguments: tuple[str, ...], told: str) -> None:
    """Bad values are one line, exit code 2, and nothing is logged."""
    before = run("history").out
    ran = run("verify", *arguments)
    assert ran.code == 2 and told in ran.err and ran.err.count("\n") == 1
    assert run("history").out == before


def test_findings_of_stations_are_noted(shop: Path, run: Run) -> None:
    """A station registered over another's pins, or the other way round, shows up."""
    over = ("--stock", "500,230,18", "--pin", "peg-12", "--pins", "G6,J6,F8")
    assert run("register", "over", "--bed", "long-bench", *over).code == 0
    assert "over a: pin peg-20 of station end-bars in I8" in items(run)["noted"][0]["text"]


def test_commands_can_be_typed_as_they_are_told(shop: Path, run: Run) -> None:
    """Names with blanks are quoted, the map names its bed, sheets their folder."""
    bare = ("--bed", "long-bench", "--stock", "150,250,18", "--pin", "peg-20", "--pins", "A3,A4,B2")
    assert run("register", "by the door", *bare, "--work-offset", "a=G54").code == 0
    (shop / "papers").mkdir()
    assert run("sheet", "by the door", "-o", "papers").code == 0
    assert run("map", "long-bench", "-o", "papers/map.svg").code == 0
    assert run("block", "by the door", "-o", "papers/b.nc").code == 0
    change(shop, "station", "by the door", under=1)
    told = [item for found in items(run).values() for item in found]
    commands = {item["command"] for item in told if item["code"].startswith("stale")}
    assert 'pincorner refresh "by the door"' in commands
    assert "pincorner map long-bench --force -o papers/map.svg" in commands
    out = run("status").out
    assert all(f"      $ {command}\n" in out for command in commands)
    for command in commands:
        assert run(*shlex.split(command)[1:]).code == 0
    assert not any(code.startswith("stale") for code in items(run))


def test_the_map_tells_once_what_nests_of_a_station_share(shop: Path, run: Run) -> None:
    """With the nests that it is of, such as a skew that the station bears."""
    change(shop, "station", "end-bars", max_skew=2)
    assert run("map", "long-bench", "-o", "bench.html").code == 0
    page = (shop / "bench.html").read_text(encoding="utf-8")
    assert page.count("may lie 2.000 mm askew") == 1
    assert "end-bars a, b: station end-bars may lie 2.000 mm askew" in page
