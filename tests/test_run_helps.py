"""What would help a run: each change that is told, made for real, gives the figures told."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from conftest import Run
from test_run import change, document
from test_run_worked import BEAM_ALONG_X, FAR_APART, program, shop_of

HOURLY = 1e-9


def report(run: Run, name: str) -> dict[str, Any]:
    """The plan as JSON."""
    return dict(json.loads(run("run", name, "--json").out))


def hourly(run: Run, name: str) -> float:
    """Parts an hour of the whole run."""
    return float(report(run, name)["timelines"][-1]["parts_per_hour"])


def test_change_place(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where M6 may go anywhere, a corner or side of the travel is told; stated as park it gives the
    same figure. Of two tools with loads of 150 s that is 445 s a part instead of 505."""
    tools = {1: 120.0, 2: 140.0}
    (tmp_path / "one.nc").write_text(program("G54", tools, "G28"), encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", tools, "G28"), encoding="ascii")
    shop_of(tmp_path, run, monkeypatch, BEAM_ALONG_X.replace("PARK", ""))
    [told] = [each for each in report(run, "both")["helps"] if each["change"] == "change-place"]
    place = re.search(r"X(\d+) Y(\d+) \(park\)", told["text"])
    assert place is not None
    change(run, tmp_path, "machine", "tall", park=[int(place[1]), int(place[2])])
    after = report(run, "both")["timelines"][-1]
    assert after["parts_per_hour"] == pytest.approx(told["parts_per_hour"], rel=HOURLY)
    assert after["round_s"] / 2 == pytest.approx(445, abs=1e-6)


def test_another_place_for_a_jig(shop: Path, run: Run) -> None:
    """A place that is told gives, registered, the figure that is told."""
    change(run, shop, "run", "three-sides", reach=320)
    told = [each for each in report(run, "three-sides")["helps"] if each["change"] == "place"]
    assert told
    match = re.match(r"lay (\S+) at .*pins ([^,]+,[^,]+,[^,: ]+)", told[0]["text"])
    assert match is not None
    name, pins = match[1], match[2]
    keys = document(run, name, "station")
    edge, stop = pins.split(",")[:2], pins.split(",")[2]
    for key in ("corner", "toward"):
        keys.pop(key, None)
    keys["pins"] = {"edge": edge, "stop": stop}
    text = f"format: 1\nstations: [{json.dumps(keys)}]\n"
    (shop / "moved.yaml").write_text(text, encoding="utf-8")
    assert run("load", "moved.yaml", "--yes").code == 0
    got = hourly(run, "three-sides")
    assert got == pytest.approx(told[0]["parts_per_hour"], rel=HOURLY)


def test_an_end_without_its_way_home(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A way home over the next piece is told by its line; a program without it gives the figure; so
    does an M0 in front of it."""
    tools = {1: 100.0}
    text = program("G54", tools, "G53 G0 X2500 Y300")
    (tmp_path / "one.nc").write_text(text, encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", tools, ""), encoding="ascii")
    shop_of(tmp_path, run, monkeypatch, FAR_APART)
    line = text.splitlines().index("G53 G0 X2500 Y300") + 1
    told = {each["change"]: each for each in report(run, "both")["helps"]}
    assert f"(line {line})" in told["end"]["text"] and "one.nc" in told["end"]["text"]
    assert f"line {line} of one.nc" in told["wait"]["text"]
    assert "M0 is no safeguard" in told["wait"]["text"]
    for kind, replaced in (("end", ""), ("wait", "M0\nG53 G0 X2500 Y300\n")):
        changed = text.replace("G53 G0 X2500 Y300\n", replaced)
        (tmp_path / "one.nc").write_text(changed, encoding="ascii")
        got = hourly(run, "both")
        assert got == pytest.approx(told[kind]["parts_per_hour"], rel=HOURLY), kind


def test_at_most_three_never_the_forbidden_ones(shop: Path, run: Run) -> None:
    """Three changes at most, best first, on text and JSON; never reach, carriage, beam or
    access."""
    change(run, shop, "run", "three-sides", load=40, reach=320)
    change(run, shop, "machine", "gantry-1", park=None)
    told = report(run, "three-sides")["helps"]
    assert 1 <= len(told) <= 3
    gains = [each["gain"] for each in told]
    assert gains == sorted(gains, reverse=True) and min(gains) > 0
    text = " ".join(run("run", "three-sides").out.split())
    for each in told:
        assert f"would help: {each['text']}" in text
        assert not re.search("reach|carriage|beam|access", each["text"])


def test_nothing_helps_where_nothing_is_lost(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A round that is as short as the bound has nothing to gain."""
    (tmp_path / "one.nc").write_text(program("G54", {1: 300}, ""), encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", {1: 300}, ""), encoding="ascii")
    shop_of(tmp_path, run, monkeypatch, FAR_APART)
    assert report(run, "both")["helps"] == []
