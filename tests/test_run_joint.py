"""A run that is worked with repeat: windows by the joint file's own lines."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from conftest import Run
from plans import change, document, planned, put, report_of, shop_of
from test_run_worked import FAR_APART, program

JOINT = (
    FAR_APART.replace("{a: G54}", "{a: G56}")
    .replace("program: other", "program: one")
    .replace("name: both, ", "name: both, by: repeat, start: 10 s, ")
)


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop in which both stations are worked by one file."""
    (tmp_path / "one.nc").write_text(program("G56", {1: 300}, ""), encoding="ascii")
    (tmp_path / "other.nc").write_text(program("G55", {1: 300}, ""), encoding="ascii")
    monkeypatch.chdir(tmp_path)
    shop_of(tmp_path, JOINT)
    return tmp_path


def plan(shop: Path) -> dict[str, Any]:
    """The plan as JSON."""
    return report_of(planned(shop, "both"))


def repeat(run: Run, output: str, *more: str, stations: str = "a,b") -> None:
    """Write the joint file."""
    words = ("repeat", "one", "--stations", stations, "--retract", "-5", "-o", output)
    ran = run(*words, "--force", *more)
    assert ran.code == 0, ran.err


def reasons(shop: Path) -> dict[str, str]:
    """Why there is no window, by the station that runs."""
    return {row["runs"]: row["why"] for row in plan(shop)["no_window"]}


def test_windows_in_the_joint_file(own: Path, run: Run) -> None:
    """Each section is a visit, in the joint file's lines; its M0 is the start."""
    repeat(run, "both.nc")
    report = plan(own)
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


def test_names_that_comments_cannot_have(own: Path, run: Run) -> None:
    """Sections of stations whose names leave the same in a comment are told apart by their order,
    and by their setups."""
    for old, new in (("a", "Левая"), ("b", "Правая")):
        put(own, f"stations: [{json.dumps({**document(own, 'station', old), 'name': new})}]")
    change(own, "run", "both", stations=["Левая", "Правая"])
    repeat(run, "both.nc", stations="Левая,Правая")
    assert [w["runs"] for w in plan(own)["windows"]] == ["Левая", "Правая"]
    change(own, "run", "both", stations=["Правая", "Левая"])
    assert all("repeat it again" in why for why in reasons(own).values())


def test_no_windows_with_the_reason(own: Path, run: Run) -> None:
    """Without a joint file, tool by tool, without asking, stale, or of another text: the reason."""
    assert "no file of repeat" in reasons(own)["a"]
    repeat(run, "both.nc", "--start-next-without-asking")
    assert reasons(own) == {"b": "both.nc goes on to it without asking"}
    repeat(run, "both.nc")
    assert reasons(own) == {}
    source = own / "one.nc"
    text = source.read_text(encoding="ascii")
    source.write_text(text.replace("Z-2 F600", "Z-2 F500"), encoding="ascii")
    assert "does not hold one.nc as it is now" in reasons(own)["a"]
    source.write_text(text, encoding="ascii")
    change(own, "station", "a", pins={"edge": ["C2", "F2"], "stop": "B3"})
    none = reasons(own)
    assert "repeat it again" in none["a"] and "b" not in none


def test_a_joint_file_of_two_line_ends_has_no_windows(own: Path, run: Run) -> None:
    """A line of it that ends in CR alone is one with the next to some controllers."""
    repeat(run, "both.nc")
    file = own / "both.nc"
    file.write_bytes(file.read_bytes().replace(b"G40\n", b"G40\r", 1))
    assert "both.nc: line 6: it ends in CR alone" in reasons(own)["a"]


def test_a_known_stretch_ends_windows_in_the_joint_file(own: Path, run: Run) -> None:
    """What a program's document declares as known is not followed in the sections either: it may
    go anywhere, also where nothing stands behind it."""
    lines = (own / "one.nc").read_text(encoding="ascii").splitlines()
    at = lines.index("M5")
    lines[at:at] = ["G91 G1 X9", "G38.2 Z-5"]
    (own / "one.nc").write_text("\n".join([*lines, ""]), encoding="ascii")
    known = f"file: one.nc, known: [{{what: probing, lines: [{at + 1}, {at + 2}]}}]"
    (own / "world.yaml").write_text(JOINT.replace("file: one.nc", known), encoding="utf-8")
    assert run("load", "world.yaml").code == 0
    repeat(run, "both.nc")
    joint = (own / "both.nc").read_text(encoding="ascii").splitlines()
    ends = [window["ends"] for window in plan(own)["windows"]]
    assert [joint[each["line"] - 1] for each in ends] == ["G91 G1 X9", "G91 G1 X9"]
    assert {(each["kind"], each["event"]) for each in ends} == {
        ("hard", "it goes where it is not followed")
    }


def test_a_file_in_another_order_is_not_the_runs(own: Path, run: Run) -> None:
    """Sections in another order, or with other stations, are told; a file in order goes first."""
    repeat(run, "ba.nc", stations="b,a")
    why = "ba.nc works b a, a a, not the run's stations in their order"
    none = reasons(own)
    assert {text.partition(":")[0] for text in none.values()} == {why}
    assert none.keys() == {"a", "b"}
    repeat(run, "ab.nc")
    assert reasons(own) == {}
    put(own, "runs: [{name: both, by: repeat, load: 90 s, stations: [a]}]\n")
    repeat(run, "ba.nc", stations="b,a")
    report = plan(own)
    assert [v["file"] for v in report["visits"]] == ["ba.nc"] and not report["windows"]
