"""What each kind of paper prints and a change can make false is told of it, with the thing's name.

Papers of before something was kept are judged by what was on record on their day.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from conftest import Run
from old_registries import run_sql
from plans import change, document
from test_stale_reasons import load, load_as, stale, stale_files, stamped, stamped_once

__all__ = ["stamped", "stamped_once"]

NEIGHBOUR: dict[str, Any] = {
    "name": "nb3", "bed": "long-bench", "stock": [300, 100, 60], "pin": "peg-20",
    "pins": {"edge": ["F3", "G3"], "stop": "E4"}, "work_offsets": {"a": "G54"},
}  # fmt: skip


def made_before(shop: Path) -> None:
    """Make all papers ones of before: what schema 0014 keeps of them was not kept then."""
    file = shop / "fixtures_db" / "registry.sqlite"
    run_sql(str(file), "UPDATE paper SET beside = 1, files = NULL",
            "UPDATE paper SET words = NULL WHERE id IN (SELECT paper_id FROM log WHERE event IN "
            "('block', 'stamp', 'repeat'))",
            """UPDATE paper SET words = replace(words,
            '["machine gantry-1","bed moves","no",""],', '')""")  # fmt: skip


each_age = pytest.mark.parametrize("age", ["new", "of before"])


@each_age
def test_what_moves_is_told_of_sheets(stamped: Path, run: Run, age: str) -> None:
    """A bed that moves, and which way, is told of the sheet whose arrows it turns, and of that
    alone; a sheet of before is judged by what was on record on its day."""
    if age == "of before":
        made_before(stamped)
    assert not stale(run)
    sheets = {f"sheets/{name}.html" for name in ("left", "right", "end-bars", "roof", "spare")}
    assert load(run, stamped, "machine", "gantry-1", bed_moves=True) == sheets
    told = stale(run)
    assert "machine gantry-1 bed moves no to yes, beam y" in told["stale-sheet left"]
    assert stale_files(run) == sheets
    load(run, stamped, "machine", "gantry-1", bed_moves=False)
    assert not stale(run)
    load(run, stamped, "machine", "gantry-1", beam="x")
    assert not stale(run)  # nothing of it is told where the bed stands
    load(run, stamped, "machine", "gantry-1", beam="y", bed_moves=True)
    assert run("refresh").code == 0
    if age == "of before":
        made_before(stamped)
        assert not stale(run)
        return
    assert load(run, stamped, "machine", "gantry-1", beam="x") == sheets
    assert "bed moves yes, beam y to yes, beam x" in stale(run)["stale-sheet left"]


@each_age
def test_notes_are_told_of_blocks_and_copies(stamped: Path, run: Run, age: str) -> None:
    """What a block notes is told of blocks and stamped copies as it is of the sheet, by words."""
    if age == "of before":
        made_before(stamped)
    void = load_as(run, stamped, "stations", NEIGHBOUR)
    assert {"left.nc", "left-block.nc", "sheets/left.html"} <= void
    told = stale(run)
    for what in ("program", "block", "sheet"):
        assert (
            "pin peg-20 of station nb3 in E4 stands under or in the way of panel-tray"
            in (told[f"stale-{what} left"])
        )
    assert run("refresh").code in (0, 1)
    assert "NOTE pin peg-20 of station nb3" in (stamped / "left-block.nc").read_text("utf-8")
    assert "left-block.nc" not in stale_files(run)
    if age == "of before":
        made_before(stamped)
        assert "left-block.nc" not in stale_files(run)


def test_a_level_below_and_a_skew_of_the_machine_are_noted(stamped: Path, run: Run) -> None:
    """A slat of another height under the jig stands in the block; so does that the station bears
    another skew than its machine."""
    bed = document(stamped, "bed", "long-bench")
    slat = {"name": "L9", "from": [400, 100], "to": [430, 800], "surface": bed["surface"] - 1}
    load(run, stamped, "bed", "long-bench", slats=[*bed.get("slats", []), slat])
    assert "note" in stale(run)["stale-block left"]
    load(run, stamped, "bed", "long-bench", slats=bed.get("slats", []))
    load(run, stamped, "station", "left", max_skew=0.3)
    assert run("refresh").code == 0 and not stale(run)
    skew = document(stamped, "machine", "gantry-1").get("max_skew", 0.1)
    load(run, stamped, "machine", "gantry-1", max_skew=skew + 0.05)
    assert {"left.nc", "left-block.nc", "sheets/left.html"} <= stale_files(run)


def wider(run: Run) -> dict[str, str]:
    """Files that status tells as lying wider, with what it says."""
    items = run("status", "--json").json["items"]
    return {i["text"].split(":")[0]: i["text"] for i in items if i["code"] == "lies-wider"}


def test_wider_is_told_of_papers_that_say_how_well(stamped: Path, run: Run) -> None:
    """Sheets and the map's page print how well a part lies, and copies were checked with it;
    blocks and drawings say nothing of it."""
    assert run("map", "long-bench", "-o", "bare.svg").code == 0
    assert run("map", "long-bench", "-o", "long-bench.html", "--force").code == 0
    load(run, stamped, "pin", "peg-20", body_tolerance=0.4)
    told = wider(run)
    assert told.keys() == {"left.nc", "long-bench.html"} | {
        f"sheets/{name}.html" for name in ("left", "right", "spare")
    }
    assert "its check kept that distance" in told["left.nc"]
    run("refresh")
    assert not wider(run).keys() - {"left.nc"}
    load(run, stamped, "pin", "peg-20", body_tolerance=0.6)
    assert "long-bench.html" in wider(run)


def test_reasons_name_the_thing(stamped: Path, run: Run) -> None:
    """What is drawn otherwise on a bed is told by its name, whatever its kind; and a jig's edge."""
    bed = document(stamped, "bed", "long-bench")
    for key, value, words in (
        ("missing", ["O1"], "hole O1 may not be used now"),
        ("solids", [{"name": "post", "from": [1300, 700], "to": [1310, 710], "top": 9}],
         "solid post is new"),
        ("slats", [{"name": "L9", "from": [1300, 700], "to": [1310, 710], "surface": -120}],
         "slat L9 is new"),
        ("screws", [{"name": "S9", "at": [1390, 790], "diameter": 9, "depth": 5}],
         "screw S9 is new"),
        ("tracks", [{"name": "T9", "from": [1380, 780], "to": [1390, 780], "width": 19,
                     "depth": 1}], "track T9 is new"),
        ("extra", [{"name": "R9", "at": [1250, 750]}], "hole R9 is new"),
    ):  # fmt: skip
        load(run, stamped, "bed", "long-bench", **{key: [*bed.get(key, []), *value]})
        text = stale(run)["stale-map long-bench"]
        assert words in text and "as drawn" not in text
        load(run, stamped, "bed", "long-bench", **{key: bed.get(key, [])})
        assert not stale(run)
    load(run, stamped, "jig", "end-bar-cradle", edges={"front": "my front"})
    told = stale(run)["stale-map long-bench"]
    assert 'jig end-bar-cradle front edge "my front", not given before' in told
    run("refresh")
    load(run, stamped, "jig", "end-bar-cradle", edges={})
    assert "is gone" not in stale(run)["stale-map long-bench"]


def test_another_picture_is_told_as_one(stamped: Path, run: Run) -> None:
    """A picture that was taken anew is told as another one, without digests."""
    (stamped / "a.jpg").write_bytes(b"\xff\xd8\xff one")
    load(run, stamped, "jig", "panel-tray", photo="a.jpg")
    run("refresh")
    (stamped / "a.jpg").write_bytes(b"\xff\xd8\xff other")
    assert stale(run)["stale-sheet left"] == "sheets/left.html: picture a.jpg is another one"


def test_the_edge_that_stock_is_counted_from_is_told(stamped: Path, run: Run) -> None:
    """A name of the LEFT edge stands on the sheet where no pin touches that edge, too."""
    zero = {"x": 600.0, "y": 500.0, "date": "2026-01-04"}
    free = {"name": "free", "bed": "long-bench", "jig": "panel-tray", "measured": zero,
            "work_offsets": {"a": "G54"}}  # fmt: skip
    load_as(run, stamped, "stations", free)
    assert run("sheet", "free").code == 0
    load(run, stamped, "jig", "panel-tray", edges={"left": "the saw cut"})
    assert 'left edge "the saw cut"' in stale(run)["stale-sheet free"]


def test_a_pdf_that_no_browser_prints_anew_is_taken_aside(
    shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """refresh prints the page, and says that its PDF, which shows what is no more, is put aside."""
    browser = "pincorner.work.files.browser.find_browser"
    monkeypatch.setattr(browser, lambda: None)
    assert run("sheet", "left", "--pdf", "-o", "papers").code == 2  # the page is there all the same
    pdf = shop / "papers" / "left.pdf"
    pdf.write_bytes(b"as printed that day")
    change(shop, "pin", "peg-20", height=21)
    ran = run("refresh", "left", "--json")
    assert ran.code == 1
    [mine] = [each for each in ran.json["papers"] if each["file"] == "papers/left.html"]
    assert mine["outcome"] == "renewed" and mine["kept_as"] == "left.html.old-1"
    assert mine["why"].startswith("its PDF of before is left.pdf.old-1 now: --pdf needs Chromium")
    assert not pdf.exists()
    assert pdf.with_name("left.pdf.old-1").read_bytes() == b"as printed that day"
    assert "21" in (shop / "papers" / "left.html").read_text(encoding="utf-8")


def test_a_pdf_that_is_older_than_its_page_is_told(
    shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever writes a page without its PDF names the one that stands beside."""
    maps, sheets = ("map", "long-bench", "-o", "bed.html"), ("sheet", "left", "-o", ".")
    for line, page in ((maps, "bed.html"), (sheets, "left.html")):
        pdf = (shop / page).with_suffix(".pdf")
        pdf.write_bytes(b"as printed that day")
        os.utime(pdf, (1e9, 1e9))
        ran = run(*line)
        assert ran.code == 0 and f"warning: {pdf.name} is older than its page" in ran.err
    change(shop, "pin", "peg-20", height=21)
    ran = run("refresh", "left", "--json")
    told = {each["file"]: each["why"] for each in ran.json["papers"]}
    assert ran.code == 1 and told["left.html"].startswith("left.pdf is older than its page")
    monkeypatch.setattr("pincorner.work.files.browser.find_browser", lambda: None)
    ran = run("sheet", "left", "-o", ".", "--pdf", "--force")
    assert ran.code == 2 and "warning: left.pdf is older" in ran.err and "Chromium" in ran.err
