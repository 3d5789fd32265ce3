"""disturbed: a bed that may not lie where it did says so, until it is shown where it lies."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import Run
from test_sheet import Page

SAYS = "bed long-bench was disturbed, "
FOUND = {"left": (295.02, 184.99), "right": (1430.01, 190.02), "end-bars": (885.0, 675.01)}
"""Where zeros of the demo were found again, within what pins and machine explain."""


@pytest.fixture
def hit(shop: Path, run: Run) -> Path:
    """The demo's shop, its bed disturbed."""
    assert run("disturbed", "long-bench", "--note", "the board was off").code == 0
    return shop


def says(run: Run) -> bool:
    """Whether the offset table says that the bed was disturbed."""
    return SAYS in run("offsets", "left").out


def verify(run: Run, station: str, off_mm: float = 0.0) -> str:
    """Log where a zero was found, and what is answered."""
    x, y = FOUND[station]
    return run("verify", station, "--x", str(x + off_mm), "--y", str(y)).out


def test_everything_says_so(hit: Path, run: Run) -> None:
    """Table, JSON, block, sheet, map, run and status say it, and no number of any station moves."""
    assert says(run)
    row = run("offsets", "left", "--json").json["offsets"][0]
    assert "bed-disturbed" in [finding["code"] for finding in row["findings"]]
    assert (
        row["x_mm"] == pytest.approx(294.99) and row["fingerprint"] != "EECF-8F5A"
    )  # its papers are stale
    block = run("block", "left")
    assert block.code == 0 and "NOTE " + SAYS in block.out
    assert run("sheet", "right", "-o", "new").code == 0
    assert SAYS in Page((hit / "new" / "right.html").read_text(encoding="utf-8")).words
    assert run("map", "long-bench", "-o", "new.html").code == 0
    assert SAYS in Page((hit / "new.html").read_text(encoding="utf-8")).words
    planned = run("run", "monday-sides", "--json").json
    assert [f["code"] for f in planned["findings"]].count("bed-disturbed") == 1
    items = run("status", "--json").json["items"]
    stale = [item["text"] for item in items if item["code"] == "stale-sheet"]
    assert stale and all(" of bed long-bench is new" in text for text in stale)
    assert [item["about"] for item in items if item["code"] == "bed-disturbed"] == ["long-bench"]
    assert not [item for item in items if item["code"] == "noted" and SAYS in item["text"]]


def test_a_survey_of_two_holes_settles_it(hit: Path, run: Run) -> None:
    """One hole tells no angle; two do, and what they do not tell is said."""
    one = "hole,x_mm,y_mm\nA1,60.2,54.9\n"
    (hit / "few.csv").write_text(one, encoding="utf-8")
    assert run("survey", "long-bench", "few.csv", "--accept").code == 0 and says(run)
    (hit / "few.csv").write_text(one + "O9,1460.15,854.98\n", encoding="utf-8")
    told = run("survey", "long-bench", "few.csv", "--accept")
    assert "whether the bed has swollen, is out of square or lies at another height" in told.out
    assert told.code == 0 and not says(run)


def test_the_survey_of_before_can_be_accepted_once_more(shop: Path, run: Run) -> None:
    """After a disturbance the same readings are a new record: it has to be shown anew."""
    survey = ("survey", "long-bench", "long-bench-survey.csv", "--accept")
    run(*survey)
    run("disturbed", "long-bench", "--note", "steps lost")
    assert says(run)
    run(*survey)
    assert not says(run)
    assert run("list", "surveys").out.count("long-bench") == 2


def test_verifications_far_apart_settle_it(hit: Path, run: Run) -> None:
    """One station does not, nor two that are near; two far apart do, and it is said once."""
    assert "! " + SAYS in verify(run, "left")
    assert "! " + SAYS in verify(run, "end-bars")  # 760 mm from left, and the bed has 1612
    told = verify(run, "right")
    assert "agrees with its place on file" in told and not says(run)
    assert "agrees with its place" not in verify(run, "right")


def test_a_zero_found_elsewhere_settles_nothing(hit: Path, run: Run) -> None:
    """As long as the newest verification of any station is off, the bed is not where it was."""
    verify(run, "left")
    verify(run, "right", off_mm=0.6)
    assert says(run)
    verify(run, "right")
    assert not says(run)


def test_what_was_verified_before_says_nothing(shop: Path, run: Run) -> None:
    """Verifications of before the disturbance do not settle it, and its charts begin anew."""
    verify(run, "left")
    verify(run, "right")
    run("disturbed", "long-bench", "--note", "somebody hit it")
    assert says(run)
    assert ", 1 since the last change" in verify(run, "left")


def test_it_is_a_record_that_is_taken_back_with_a_reason(hit: Path, run: Run) -> None:
    """It needs a reason to be made and to be taken back; both stay in the history."""
    assert run("disturbed", "long-bench").err.startswith("--note: say what happened")
    assert run("disturbed", "nowhere", "--note", "x").code == 2
    refused = run("retire", "disturbance", "long-bench")
    assert refused.code == 2 and refused.err.startswith("--note: say why disturbance ")
    assert run("retire", "disturbance", "long-bench", "--note", "wrong bed").code == 0
    assert not says(run)
    history = run("history").out
    assert "new (the board was off)" in history and "retired (wrong bed)" in history
    again = run("retire", "disturbance", "long-bench", "--note", "x")
    assert again.err == "nothing is on file as a disturbance of bed long-bench\n"


def test_a_dump_carries_it(hit: Path, run: Run) -> None:
    """A dump has it under `disturbances`, and a registry that loads it says so as well."""
    dumped = run("dump").out
    assert "disturbances:" in dumped and "note: the board was off" in dumped
    (hit / "all.yaml").write_text(dumped, encoding="utf-8")
    assert run("--db", "two.sqlite", "init").code == 0
    assert run("--db", "two.sqlite", "load", "all.yaml").code == 0
    assert SAYS in run("--db", "two.sqlite", "offsets", "left").out
