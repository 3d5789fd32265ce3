"""Copies and blocks that were written with other first lines than one of now: status and check."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from conftest import Run
from old_registries import MADE_BY_0_1_0, on_sqlite

from pincorner.shipped import shipped_folder

WRITTEN = ("left.nc", "left-block.nc", "both.nc")
REASON = (
    "the setup block was written with G21 G90, G17 G40 G80, G92.1, where one of now has G40, "
    "G21 G90, G17 G49 G80 G94 G98, G92.1: what an earlier program left on could stay on"
)


@pytest.fixture
def upgraded(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop of 0.1.0 with a stamped copy, a block and a repeat, upgraded."""
    shop = tmp_path / "shop"
    (shop / "fixtures_db").mkdir(parents=True)
    on_sqlite(shop / "fixtures_db" / "registry.sqlite")
    for name in WRITTEN:
        shutil.copy(MADE_BY_0_1_0 / name, shop / name)
    for program in sorted((shipped_folder("fixtures_db") / "programs").glob("*.nc")):
        shutil.copy(program, shop / program.name)
    monkeypatch.chdir(shop)
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    assert run("upgrade").code == 0
    return shop


def stale(run: Run) -> dict[str, str]:
    """What status says of files for the controller, by file."""
    found = {}
    for item in run("status", "--json").json["items"]:
        if item["code"] in ("stale-program", "stale-block"):
            name = next(name for name in WRITTEN if item["text"].startswith(f"{name}:"))
            found[name] = f"{item['text']}; {item['command']}"
    return found


def test_status_names_them_with_the_reason(upgraded: Path, run: Run) -> None:
    """The fingerprint is the same; each file is told once, with the words that differ."""
    told = stale(run)
    assert set(told) == set(WRITTEN)
    assert all(REASON in text for text in told.values())
    assert all(told[name].endswith("; pincorner refresh left") for name in WRITTEN[:2])


def test_check_names_the_copy_with_the_reason(upgraded: Path, run: Run) -> None:
    """check of the copy finds its block at its line; the program itself has nothing."""
    ran = run("check", "left.nc", "--station", "left", "--json")
    found = [(each["code"], each["text"]) for each in ran.json["findings"]]
    assert [code for code, _ in found] == ["offset-stale"] and REASON in found[0][1]
    assert run("check", "hand-hold", "--station", "left").code == 0


def test_written_again_they_are_quiet(upgraded: Path, run: Run) -> None:
    """Stamped and written anew nothing is told of them."""
    assert run("stamp", "hand-hold", "--station", "left", "-o", "left.nc", "--force").code == 0
    assert run("block", "left", "--force", "-o", "left-block.nc").code == 0
    assert set(stale(run)) == {"both.nc"}
    assert run("check", "left.nc", "--station", "left").code == 0


def test_a_copy_edited_by_hand_is_told_in_status(upgraded: Path, run: Run) -> None:
    """The figures in a block's words are compared too."""
    assert run("stamp", "hand-hold", "--station", "left", "-o", "left.nc", "--force").code == 0
    text = (upgraded / "left.nc").read_text(encoding="utf-8")
    edited = text.replace("X295.000", "X395.000")
    (upgraded / "left.nc").write_text(edited, encoding="utf-8", newline="\n")
    assert "not as it was stamped" in stale(run)["left.nc"]
