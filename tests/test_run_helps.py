"""What would help a run: each change that is told, made for real, gives the figures told."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from plans import change, document, planned, put, report_of, shop_of
from test_run_worked import BEAM_ALONG_X, FAR_APART, program

from pincorner.render.text.runs import run_text
from pincorner.runs.help import Help, Kind

HOURLY = 1e-9


def told_of(shop: Path, name: str) -> list[Help]:
    """What would help a run."""
    return list(planned(shop, name, helped=True).helps)


def hourly(shop: Path, name: str) -> float:
    """Parts an hour of the whole run."""
    return planned(shop, name).line.parts_per_hour


def test_change_place(tmp_path: Path) -> None:
    """Where M6 may go anywhere, a corner or side of the travel is told; stated as park it gives the
    same figure. Of two tools with loads of 150 s that is 445 s a part instead of 505."""
    tools = {1: 120.0, 2: 140.0}
    (tmp_path / "one.nc").write_text(program("G54", tools, "G28"), encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", tools, "G28"), encoding="ascii")
    shop_of(tmp_path, BEAM_ALONG_X.replace("PARK", ""))
    [told] = [each for each in told_of(tmp_path, "both") if each.kind == "change-place"]
    place = re.search(r"X(\d+) Y(\d+) \(park\)", told.text)
    assert place is not None
    change(tmp_path, "machine", "tall", park=[int(place[1]), int(place[2])])
    after = planned(tmp_path, "both").line
    assert after.parts_per_hour == pytest.approx(told.parts_per_hour, rel=HOURLY)
    assert after.round_s / 2 == pytest.approx(445, abs=1e-6)


def test_another_place_for_a_jig(shop: Path) -> None:
    """A place that is told gives, registered, the figure that is told."""
    change(shop, "run", "three-sides", reach=320)
    told = [each for each in told_of(shop, "three-sides") if each.kind == "place"]
    assert told
    match = re.match(r"lay (\S+) at .*pins ([^,]+,[^,]+),([^,: ]+)", told[0].text)
    assert match is not None
    keys = document(shop, "station", match[1])
    for key in ("corner", "toward"):
        keys.pop(key, None)
    keys["pins"] = {"edge": match[2].split(","), "stop": match[3]}
    put(shop, f"stations: [{json.dumps(keys)}]\n")
    got = hourly(shop, "three-sides")
    assert got == pytest.approx(told[0].parts_per_hour, rel=HOURLY)


def test_an_end_without_its_way_home(tmp_path: Path) -> None:
    """A way home over the next piece is told by its line; a program without it gives the figure; so
    does an M0 in front of it."""
    tools = {1: 100.0}
    text = program("G54", tools, "G53 G0 X2500 Y300")
    (tmp_path / "one.nc").write_text(text, encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", tools, ""), encoding="ascii")
    shop_of(tmp_path, FAR_APART)
    line = text.splitlines().index("G53 G0 X2500 Y300") + 1
    told = {each.kind: each for each in told_of(tmp_path, "both")}
    assert f"(line {line})" in told["end"].text and "one.nc" in told["end"].text
    assert f"line {line} of one.nc" in told["wait"].text
    assert "M0 is no safeguard" in told["wait"].text
    ways: dict[Kind, str] = {"end": "", "wait": "M0\nG53 G0 X2500 Y300\n"}
    for kind, replaced in ways.items():
        changed = text.replace("G53 G0 X2500 Y300\n", replaced)
        (tmp_path / "one.nc").write_text(changed, encoding="ascii")
        got = hourly(tmp_path, "both")
        assert got == pytest.approx(told[kind].parts_per_hour, rel=HOURLY), kind


def test_at_most_three_never_the_forbidden_ones(shop: Path) -> None:
    """Three changes at most, best first, on text and JSON; never reach, carriage, beam or
    access."""
    change(shop, "run", "three-sides", load=40, reach=320)
    change(shop, "machine", "gantry-1", park=None)
    found = planned(shop, "three-sides", helped=True)
    assert 1 <= len(found.helps) <= 3
    gains = [each.gain for each in found.helps]
    assert gains == sorted(gains, reverse=True) and min(gains) > 0
    text = " ".join(run_text(found).split())
    for each, of_json in zip(found.helps, report_of(found)["helps"], strict=True):
        assert f"would help: {each.text}" in text and of_json["text"] == each.text
        assert not re.search("reach|carriage|beam|access", each.text)


def test_nothing_helps_where_nothing_is_lost(tmp_path: Path) -> None:
    """A round that is as short as the bound has nothing to gain."""
    (tmp_path / "one.nc").write_text(program("G54", {1: 300}, ""), encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", {1: 300}, ""), encoding="ascii")
    shop_of(tmp_path, FAR_APART)
    assert told_of(tmp_path, "both") == []
