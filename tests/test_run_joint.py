"""A run that is worked with repeat: windows by the joint file's own lines."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from conftest import Run, without_help
from test_run_worked import FAR_APART, program, shop_of

pytestmark = without_help

JOINT = (
    FAR_APART.replace("{a: G54}", "{a: G56}")
    .replace("program: other", "program: one")
    .replace("name: both, ", "name: both, by: repeat, start: 10 s, ")
)


@pytest.fixture
def own(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop in which both stations are worked by one file."""
    (tmp_path / "one.nc").write_text(program("G56", {1: 300}, ""), encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", {1: 300}, ""), encoding="ascii")
    shop_of(tmp_path, run, monkeypatch, JOINT)
    return tmp_path


def plan(run: Run) -> dict[str, Any]:
    """The plan as JSON."""
    return dict(json.loads(run("run", "both", "--json").out))


def repeat(run: Run, output: str, *more: str, stations: str = "a,b") -> None:
    """Write the joint file."""
    words = ("repeat", "one", "--stations", stations, "--retract", "-5", "-o", output)
    ran = run(*words, "--force", *more)
    assert ran.code == 0, ran.err


def reasons(run: Run) -> dict[str, str]:
    """Why there is no window, by the station that runs."""
    return {row["runs"]: row["why"] for row in plan(run)["no_window"]}


def test_windows_in_the_joint_file(own: Path, run: Run) -> None:
    """Each section is a visit, in the joint file's lines; its M0 is the start."""
    repeat(run, "both.nc")
    report = plan(run)
    lines = (own / "both.nc").read_text(encoding="ascii").splitlines()
    assert [v["station"] for v in report["visits"]] == ["a", "b"]
    assert {v["file"] for v in report["visits"]} == {"both.nc"}
    begins = [at for at, line in enumerate(lines, 1) if line == "G1 Z-2 F600"]
    assert [w["from"]["line"] for w in report["windows"]] == begins
    assert [w["at_least_s"] for w in report["windows"]] == pytest.approx([300, 300])
    assert [w["ends"]["kind"] for w in report["windows"]] == ["waits", "waits"]
    ends = [at for at, line in enumerate(lines, 1) if "to here" in line and "section" in line]
    assert [w["ends"]["line"] for w in report["windows"]] == ends
    for visit in report["visits"]:
        assert [s["what"] for s in visit["spans"]].count("start") == 1
        assert all(s["what"] != "stop" or s["least_s"] is None for s in visit["spans"])
    assert report["times"][0]["attended_s"] == report["times"][1]["attended_s"] == 10


def test_no_windows_with_the_reason(own: Path, run: Run) -> None:
    """Without a joint file, tool by tool, without asking, stale, or of another text: the reason."""
    assert "no file of repeat" in reasons(run)["a"]
    repeat(run, "both.nc", "--start-next-without-asking")
    assert reasons(run) == {"b": "both.nc goes on to it without asking"}
    repeat(run, "both.nc")
    assert reasons(run) == {}
    source = own / "one.nc"
    text = source.read_text(encoding="ascii")
    source.write_text(text.replace("Z-2 F600", "Z-2 F500"), encoding="ascii")
    assert "does not hold one.nc as it is now" in reasons(run)["a"]
    source.write_text(text, encoding="ascii")
    (own / "world.yaml").write_text(JOINT.replace("[C2, E2]", "[C2, F2]"), encoding="utf-8")
    assert run("load", "world.yaml", "--yes").code == 0
    assert "repeat it again" in reasons(run)["a"] and "b" not in reasons(run)


def test_a_file_in_another_order_is_not_the_runs(own: Path, run: Run) -> None:
    """Sections in another order, or with other stations, are told; a file in order goes first."""
    repeat(run, "ba.nc", stations="b,a")
    why = "ba.nc works b a, a a, not the run's stations in their order"
    assert {text.partition(":")[0] for text in reasons(run).values()} == {why}
    assert reasons(run).keys() == {"a", "b"}
    repeat(run, "ab.nc")
    assert reasons(run) == {}
    (own / "fewer.yaml").write_text(
        "format: 1\nruns: [{name: both, by: repeat, load: 90 s, stations: [a]}]\n", encoding="utf-8"
    )
    assert run("load", "fewer.yaml").code == 0
    repeat(run, "ba.nc", stations="b,a")
    visits = plan(run)["visits"]
    assert [v["file"] for v in visits] == ["ba.nc"] and not plan(run)["windows"]
