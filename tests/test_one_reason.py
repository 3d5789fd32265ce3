"""Why there is no block is one field of the setup, and everything that tells it tells that."""

from __future__ import annotations

import itertools
import json
from pathlib import Path
from typing import Any

import pytest
from conftest import Run
from plans import change
from test_sheet import Page, sheet_of
from worlds import BASE, facts, setups, world

from pincorner.errors import Refused
from pincorner.render.blocks.block import render_block
from pincorner.render.pages.maps import render_map_page
from pincorner.render.text.offsets import offsets_table
from pincorner.setups.refusals import shared_reasons
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups, offset_rows
from pincorner.work.session import Library, open_session

BROKEN: dict[str, tuple[str, str]] = {
    "no-work-offset": ("    work_offsets: {a: G55}\n", ""),
    "code-unknown": ("{a: G55}", "{a: G54.1 P2}"),
    "code-is-reference": ("{a: G55}", "{a: G54}\n    z: {zero: seat, set: reference}"),
    "skew": ("angle: 0}", "angle: 0.12}"),
    "z-unknown": ("{a: G55}", "{a: G55}\n    z: {zero: stock-top, set: machine}"),
    "outside-travel": ("x: [0, 1540]", "x: [300, 1540]"),
}
"""What is done to the worked world so that station left has no block."""

IN_A_SHOP: dict[str, tuple[str, str, dict[str, Any]]] = {
    "no-work-offset": ("station", "left", {"work_offsets": {}}),
    "skew": ("bed", "long-bench", {"pose": {"x": 60, "y": 55, "angle": 0.12}}),
    "z-unknown": ("station", "left", {"z": {"zero": "stock-top", "set": "machine"}}),
}
"""The same to the demo."""


def broken(run: Run, shop: Path, code: str) -> Setup:
    """The demo's station left with no block, for that reason."""
    kind, name, keys = IN_A_SHOP[code]
    change(shop, kind, name, **keys)
    with open_session(None, "test").registry.reading() as reader:
        library = Library(reader)
        (row,) = offset_rows(library.facts(library.stations(["left"])[0]))
    assert row.setup is not None
    assert code in [reason.code for reason in row.setup.no_block]
    return row.setup


def words(text: str) -> str:
    """Words with one blank between them; a page begins its sentences with capitals."""
    return " ".join(text.casefold().split())


@pytest.mark.parametrize("code", BROKEN)
def test_block_table_sheet_and_map_tell_the_same_reason(code: str) -> None:
    """Block refusal, table, sheet and map tell the setup's own sentence, whatever the reason."""
    found = facts(world(BASE.replace(*BROKEN[code])))
    rows = offset_rows(found)
    setup = rows[0].setup
    assert setup is not None
    reason = next(each for each in setup.no_block if each.code == code)
    with pytest.raises(Refused) as refused:
        render_block([setup])
    told = {
        "block": str(refused.value),
        "sheet": Page(sheet_of([setup])).words,
        "map": Page(render_map_page(found.bed, rows, None)).words,
    }
    # a station may do without a work offset
    table = {} if code == "no-work-offset" else {"table": offsets_table(rows)}
    for name, text in {**told, **table}.items():
        assert words(reason.text) in words(text), name
    for name, way in itertools.product(told, reason.ways_out):
        assert words(way) in words(told[name]), name


@pytest.mark.parametrize("code", ["no-work-offset", "skew"])
def test_every_command_tells_the_same_reason(shop: Path, run: Run, code: str) -> None:
    """`block`, `offsets`, `sheet`, `status`, `run`, `stamp` and `map` tell the same sentence."""
    setup = broken(run, shop, code)
    reason = next(each for each in setup.no_block if each.code == code)
    block, stamp = (
        run("block", "left"),
        run("stamp", "hand-hold", "--station", "left", "-o", "o.nc"),
    )
    assert (block.code, stamp.code) == (2, 2) and not (shop / "o.nc").exists()
    assert run("sheet", "left", "-o", "new").code == 0
    run("map", "long-bench", "-o", "new.html")
    told = {
        "block": block.err,
        "stamp": stamp.err,
        "sheet": Page((shop / "new" / "left.html").read_text(encoding="utf-8")).words,
        "map": Page((shop / "new.html").read_text(encoding="utf-8")).words,
    }
    also = {
        "table": run("offsets").out,
        "status": run("status").out,
        "run": run("run", "monday-sides").out,
    }
    for name, text in {**told, **also}.items():
        # a station may do without a work offset, and a run gives it one
        wanted = name in told or code != "no-work-offset"
        assert (words(reason.text) in words(text)) == wanted, name
    explained = words(run("explain", "left").out)
    for way in reason.ways_out:
        for name in ("block", "stamp", "map", "sheet"):
            assert words(way) in words(told[name]), name
        assert words(way) in explained and words(way) in words(also["status"])


def test_a_reason_has_its_parts() -> None:
    """A skew tells what is wrong, by how much, and each way out by itself."""
    (setup,) = setups(BASE.replace("angle: 0}", "angle: 0.12}"))
    reason = setup.too_skew
    assert reason is not None and setup.stopped == (reason,)
    assert reason.figure_mm == setup.skew_mm and len(reason.ways_out) == 4
    assert "ways out" not in reason.text.casefold()
    assert reason.told == f"{reason.text}. Ways out: {'; '.join(reason.ways_out)}"
    assert setups()[0].no_block == () and setups()[0].too_skew is None


def test_a_station_may_do_without_a_work_offset() -> None:
    """A nest without one has no block, and nothing about it has to be mended."""
    (setup,) = setups(BASE.replace("    work_offsets: {a: G55}\n", ""))
    assert [reason.code for reason in setup.no_block] == ["no-work-offset"]
    assert setup.stopped == ()
    with pytest.raises(Refused, match="has no work offset; give it one"):
        render_block([setup])


def two_nests(codes: str) -> list[Setup]:
    """Station left with two nests on a bed that lies askew."""
    text = BASE.replace("angle: 0}", "angle: 0.12}").replace("{a: G55}", codes)
    stock = "stock: {size: [410, 240, 20]}}"
    second = ", {name: b, zero: [30, 25], stock: {size: [400, 230, 20]}}]"
    return make_setups(facts(world(text.replace(stock + "]", stock + second))))


def test_a_reason_of_several_nests_is_told_once() -> None:
    """The sheet tells a kind of reason as the first nest has it, and of how many more."""
    found = two_nests("{a: G55, b: G56}")
    ((first, more),) = shared_reasons(found)
    assert (first, more) == (found[0].too_skew, 1)
    page = Page(sheet_of(found)).words
    assert f"{words(first.text)} (and so for 1 more nest)" in words(page)
    assert page.count("is turned by 0.1200 degrees") == 1
    assert all(words(way) in words(page) for way in first.ways_out)


@pytest.mark.parametrize("code", ["skew", "z-unknown"])
def test_json_tells_that_a_survey_stops_blocks(shop: Path, run: Run, code: str) -> None:
    """What a survey moves is told with whether a block may be written then, by the same field."""
    setup = broken(run, shop, code)
    ran = run("survey", "long-bench", "long-bench-survey.csv", "--json")
    (left,) = (each for each in json.loads(ran.out)["moved"] if each["station"] == "left")
    assert left["before"]["block"] == (not setup.stopped) is False
