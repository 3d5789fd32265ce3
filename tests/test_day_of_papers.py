"""A day in the shop: papers go stale for many reasons, and refresh leaves all of them right."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from conftest import Run, quietly
from test_copies import WORLD

from pincorner.program.source.stamped import block_in_file
from pincorner.work.shops import init_shop


def nagging(run: Run) -> list[str]:
    """Codes of what status says of papers and copies."""
    codes = [item["code"] for item in run("status", "--json").json["items"]]
    return [c for c in codes if c.startswith(("stale", "copy", "source", "accepted", "lies"))]


def done(run: Run, *words: str) -> str:
    """What a command prints that has to succeed."""
    ran = run(*words)
    assert ran.code == 0, ran.err or ran.out
    return ran.out


@pytest.fixture
def shop(tmp_path: Path, demo_once: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop of two stations with the papers of one, as the working folder."""
    monkeypatch.chdir(tmp_path)
    init_shop(tmp_path, None, "mm", "tester")
    (tmp_path / "world.yaml").write_text(WORLD, encoding="utf-8")
    for name in ("hand-hold.nc", "long-bench-survey.csv"):
        (tmp_path / name).write_bytes((demo_once / name).read_bytes())
    quietly(
        tmp_path,
        ("load", "world.yaml"),
        ("sheet", "left"),
        ("block", "left", "-o", "left-block.nc"),
        ("map", "long-bench", "-o", "long-bench.html"),
    )
    return tmp_path


def test_a_day_ends_with_every_paper_right(shop: Path, run: Run) -> None:
    """Register, print, stamp, set a clamp, post anew, resurface, survey: refresh mends it all."""
    done(run, "register", "bench", "--bed", "long-bench", "--jig", "panel-tray", "--pin", "peg-20",
         "--pins", "H6,K6,G8", "--work-offset", "a=G59.2", "--program", "hand-hold")  # fmt: skip
    done(run, "sheet", "bench")
    done(run, "stamp", "hand-hold", "--station", "left", "-o", "left.nc")
    done(run, "stamp", "hand-hold", "--station", "bench", "-o", "bench.nc")
    done(run, "refresh")  # the map and the neighbours' sheets know of the new station
    assert not nagging(run)

    document = yaml.safe_load(done(run, "show", "left", "--kind", "station"))
    document["stations"][0]["clamps"] = [
        {"name": "c", "from": [215, -50], "to": [245, 10], "top": 41}
    ]
    (shop / "clamp.yaml").write_text(yaml.safe_dump(document), encoding="utf-8")
    done(run, "load", "clamp.yaml")
    assert {"stale-program", "stale-block", "stale-sheet", "stale-map"} <= set(nagging(run))

    program = shop / "hand-hold.nc"
    program.write_bytes(program.read_bytes() + b"\n")
    assert "source-changed" in nagging(run)

    done(run, "resurface", "long-bench", "--depth", "0.1")
    run("survey", "long-bench", "long-bench-survey.csv", "--accept")  # 1: odd readings are told
    told = run("refresh", "--json")
    assert told.code == 0, told.out
    assert {paper["outcome"] for paper in told.json["papers"]} == {"renewed"}
    assert not nagging(run)

    rows = run("offsets", "--json").json["offsets"]
    now = {(row["station"], row["nest"]): row["fingerprint"] for row in rows}
    for station in ("left", "bench"):
        assert now[station, "a"] in (shop / f"sheets/{station}.html").read_text(encoding="utf-8")
        block = block_in_file(shop / f"{station}.nc")
        assert block is not None and block.fingerprint == now[station, "a"]
        report = run("check", f"{station}.nc", "--station", station, "--json").json
        assert report["findings"] == []
    assert now["left", "a"] in (shop / "long-bench.html").read_text(encoding="utf-8")
