"""Slips of whoever enters something: told or asked about at once, never silently taken."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import Run
from worlds import BASE, facts, world

from pincorner.documents.beds import Solid
from pincorner.documents.stations import Station
from pincorner.errors import Refused
from pincorner.setups.transform import make_setups
from pincorner.work.moved import lost

TRAY = ("--bed", "long-bench", "--jig", "panel-tray", "--pin", "peg-20")

WILD = """
format: 1
jigs:
  - {name: wild, footprint: [300, 300], seat: 10, height: 20,
     nests: [{name: a, zero: [-50, 20], stock: {from: [0, 0], size: [700, 80, 10]}}]}
  - {name: tame, footprint: [100, 100], seat: 10, height: 20,
     nests: [{name: a, zero: [10, 20], stock: {from: [0, 0], size: [90, 80, 10]}}]}
"""


def test_load_tells_zeros_outside_and_stock_that_hangs_over(shop: Path, run: Run) -> None:
    """Each with its figure, once, when the jig is entered, and again when a station takes it."""
    (shop / "wild.yaml").write_text(WILD, encoding="utf-8")
    told = run("load", "wild.yaml", "--json").json["warnings"]
    said = [
        "jig wild: the zero of nest a lies 50.0 mm outside the jig: is that meant?",
        "jig wild: the stock of nest a hangs 350.0 mm over the jig: is that meant?",
    ]  # 700 long from the zero, which lies at -50, over an edge at 300
    assert told == said
    assert run("load", "wild.yaml", "--json").json["warnings"] == []  # nothing was entered
    at = ("--bed", "long-bench", "--jig", "wild", "--pin", "peg-20", "--corner", "A5")
    assert run("register", "w", *at, "--toward", "+x+y", "--json").json["warnings"][-2:] == said


def test_stations_that_lie_over_others_are_told(shop: Path, run: Run) -> None:
    """By register and by load, each pair once, the deepest first, on the same bed alone."""
    told = run("register", "twin", *TRAY, "--pins", "D2,G2,C4", "--json").json["warnings"]
    assert told == [
        "station twin lies over left by 280.0 mm on bed long-bench: they cannot be there at once"
    ]
    assert run("register", "shelf", "--bed", "long-bench", "--stock", "150,250,18", "--pin",
               "peg-20", "--pins", "A3,A4,B2", "--json").json["warnings"] == []  # fmt: skip
    assert run("register", "board", "--bed", "long-bench", "--stock", "500,230,18", "--pin",
               "peg-12", "--pins", "G6,J6,F8").code == 0  # fmt: skip
    dumped = run("dump").out
    (shop / "all.yaml").write_text(dumped, encoding="utf-8")
    assert run("--db", "new.sqlite", "init").code == 0
    warnings = run("--db", "new.sqlite", "load", "all.yaml", "--json").json["warnings"]
    over = [text for text in warnings if "lies over" in text]
    assert len(over) == 2 and "station board lies over end-bars by 136.0 mm" in over[0]
    assert "station left lies over twin by 280.0 mm" in over[1]


def test_stations_of_a_jig_that_is_entered_are_looked_at(shop: Path, run: Run) -> None:
    """A tray that is wider now lies over what stands beside each of its stations."""
    dumped = run("dump").out
    assert dumped.count("footprint: [460, 280]") == 1
    (shop / "all.yaml").write_text(dumped.replace("[460, 280]", "[700, 280]"), encoding="utf-8")
    warnings = run("load", "all.yaml", "--json").json["warnings"]
    assert any(text.startswith("station left lies over ") for text in warnings), warnings


CLAMPED = """
format: 1
stations:
  - {name: clamped, bed: long-bench, stock: [150, 250, 18], pin: peg-20,
     pins: {edge: [A3, A4], stop: B2}, corner: A2, toward: +x+y, work_offsets: {a: G55},
     z: {zero: stock-top, set: touch}, clamps: [
       {name: one, from: [-40, 80], to: [5, 110], top: 45},
       {name: two, from: [-40, 105], to: [5, 140], top: 45},
       {name: free, from: [60, 240], to: [90, 280], top: 45},
       {name: out, from: [-400, 150], to: [-370, 180], top: 45}]}
"""


def test_clamps_over_pins_each_other_and_the_beds_edge_are_told(shop: Path, run: Run) -> None:
    """When the station is entered; a clamp that is free is not."""
    (shop / "clamped.yaml").write_text(CLAMPED, encoding="utf-8")
    told = run("load", "clamped.yaml", "--json").json["warnings"]
    told = [text for text in told if text.startswith("station clamped: clamp")]
    assert told == [
        "station clamped: clamp P (one) stands over pin A3: is that meant?",
        "station clamped: clamp S (out) hangs 340.0 mm over the edge of bed long-bench: is that "
        "meant?",
        "station clamped: clamp P (one) and clamp Q (two) overlap by 5.0 mm",
    ]  # 400 in front of a left edge 10 from the pins' holes, over a bed that begins at -50


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--depth", "6"), "6 mm is much for one cut of the surface of bed long-bench"),
        (("--surface", "-2400", "--slat", "x"),
         "machine Z -2400 mm lies outside the travel of gantry-1 (-190 mm to 0 mm)"),
    ],
)  # fmt: skip
def test_wild_surfaces_are_asked_about(
    shop: Path, run: Run, words: tuple[str, ...], said: str
) -> None:
    """A script is refused, with the option that takes it; nothing is written."""
    ran = run("resurface", "long-bench", *words)
    assert (ran.code, ran.out) == (2, "") and ran.err == f"{said}; if that is right, say --yes\n"
    assert run("list", "surfacings").out == "nothing\n"


def test_a_surface_far_from_the_old_one_is_asked_about(shop: Path, run: Run) -> None:
    """A new slat 8 mm off the surface that was there is asked about, one 1 mm off is not."""
    text = run("show", "long-bench", "--kind", "bed").out
    slat = "  slats:\n  - {name: L1, from: [-50, -50], to: [1450, 150]}\n"
    (shop / "bed.yaml").write_text("format: 1\n" + text[text.index("beds:") :] + slat, "utf-8")
    assert run("load", "bed.yaml").code == 0
    ran = run("resurface", "long-bench", "--surface", "-112", "--slat", "L1")
    assert ran.err.startswith("machine Z -112 mm is 8 mm from where slat L1 was (-120 mm)")
    assert run("resurface", "long-bench", "--surface", "-119", "--slat", "L1").code == 0


def test_resurface_is_rehearsed_and_taken_back(shop: Path, run: Run) -> None:
    """A dry run tells the wood left and writes nothing; the last one is taken back by its bed."""
    dry = run("resurface", "long-bench", "--depth", "0.4", "--dry-run")
    assert "would be recorded as" in dry.out and "T1            0.600" in dry.out
    assert run("list", "surfacings").out == "nothing\n"
    assert run("resurface", "long-bench", "--depth", "0.4", "--dry-run", "--json").json["dry_run"]
    for depth in ("0.3", "0.2"):
        assert run("resurface", "long-bench", "--depth", depth).code == 0
    assert run("retire", "surfacing", "long-bench").code == 2  # without a reason
    assert run("retire", "surfacing", "long-bench", "--note", "not cut after all").code == 0
    assert run("list", "surfacings").out.count("surfacing") == 1
    dry = run("resurface", "long-bench", "--depth", "0.1", "--dry-run").out
    assert "T1            0.600" in dry  # 1 less 0.3 less 0.1
    assert "retired (not cut after all)" in run("history").out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--x", "1", "--y", "1"), "346.8 mm off, more than half a pitch (50 mm)"),
        (("--x", "184.9", "--y", "295.1"), "X and Y look exchanged"),
        (("--x", "11.61", "--y", "7.28"), "X and Y look like inches taken as mm"),
        (("--x", "395", "--y", "185"), "that is about one hole to the right"),
        (("--x", "295", "--y", "185", "--z", "-2082"), "2000.0 mm in Z off"),
    ],
)
def test_a_zero_beyond_half_a_pitch_is_asked_about(
    shop: Path, run: Run, words: tuple[str, ...], said: str
) -> None:
    """With what it looks like; a script has to say --yes, and nothing is logged without."""
    ran = run("verify", "left", *words)
    assert ran.code == 2 and said in ran.err and ran.err.endswith("if that is right, say --yes\n")
    assert "verification" not in run("history", "left").out
    assert run("verify", "left", *words, "--yes").code == 1
    assert "verification" in run("history", "left").out


def test_a_measuring_that_would_explain_any_drift_is_asked_about(shop: Path, run: Run) -> None:
    """20 in place of 0.02, as where thousandths are meant: 3 mm off would be nothing then."""
    words = ("verify", "left", "--x", "298", "--y", "185", "--u")
    ran = run(*words, "20")
    assert ran.code == 2 and ran.err.startswith("--u: a standard deviation of 20 mm is much for")
    assert "verification" not in run("history", "left").out
    assert run(*words, "20", "--yes").code == 0
    assert run(*words, "0.5").code == 1


def test_a_verification_is_struck_out_and_kept_in_the_history(shop: Path, run: Run) -> None:
    """Charts, advice and status count it no more; the history tells it, and who struck it out."""
    run("verify", "left", "--x", "295.02", "--y", "184.99")
    bad = run("verify", "left", "--x", "295.9", "--y", "185", "--json").json
    assert (bad["number"], bad["count"], bad["action"]) == (2, 2, "check the pins")
    codes = [item["code"] for item in run("status", "--json").json["items"]]
    assert "outside-limits" in codes
    assert run("verify", "left", "--strike", "2").err.startswith("--note: say why")
    assert "there are 1, 2 (" in run("verify", "left", "--strike", "9", "--note", "x").err
    assert run("verify", "right", "--strike", "2", "--note", "x").code == 2  # it is of left
    struck = run("verify", "left", "--strike", "2", "--note", "chips under it", "--by", "bea")
    assert struck.code == 0 and "struck out verification 2 of station left" in struck.out
    assert struck.out.endswith("do not count it: chips under it\n")
    codes = [item["code"] for item in run("status", "--json").json["items"]]
    assert "outside-limits" not in codes
    assert run("verify", "left", "--x", "295.01", "--y", "185", "--json").json["count"] == 2
    told = run("history", "left").out
    assert "number 2, nest a found +0.910" in told
    assert "bea  verify  verification left: number 2 struck out (chips under it)" in told
    again = run("verify", "left", "--strike", "2", "--note", "x")
    assert again.code == 2 and "there are 1, 3" in again.err


def test_what_is_explained_is_told_in_lengths(shop: Path, run: Run) -> None:
    """The figure that tells is a length, and how many times as far the zero is; no chi-square."""
    near = run("verify", "left", "--x", "295.02", "--y", "185").out
    assert "holes, pins, machine and measuring explain up to 0.157 mm that way (95 of 1" in near
    far = run("verify", "left", "--x", "295.3", "--y", "185").out
    assert "0.291 mm from its usual place; pins, machine and measuring explain up to" in far
    assert "up to 0.130 mm that way (95 of 100): this is 2.2 times as far;" in far
    wild = run("verify", "left", "--x", "1", "--y", "1", "--yes").out
    assert "(95 of 100): far beyond it;" in wild


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("stop: C4", "stop: B4"),
         "stop B4 puts the corner where edge pin G2 would touch 490.000 mm from the corner, but "
         "the FRONT edge of panel-tray ends at 460.000 mm; a stop in C4 would do"),
        (("stop: C4", "stop: E4"),
         "stop E4 puts the corner where edge pin D2 touches 110.000 mm before the corner; a stop "
         "in C4 would do"),
        (("stop: C4}", "stop: B4}\n    corner: C2"), "stop B4 does not stand in line with it"),
        (("edge: [D2, G2]", "edge: [D3, G3]"), "edge pins D3 and G3 do not stand in line with it"),
    ],
)  # fmt: skip
def test_a_stop_in_a_wrong_hole_is_named(change: tuple[str, str], said: str) -> None:
    """Distances along the edge count from the stop: where another hole would do, it is told."""
    text = BASE.replace(*change)
    if "D3" in change[1]:
        text = text.replace("stop: C4}", "stop: C5}\n    corner: C2")
    with pytest.raises(Refused, match="station left") as refusal:
        make_setups(facts(world(text), "left"))
    assert refusal.value.text.endswith(said)


def test_what_an_entry_loses_is_named_with_its_value() -> None:
    """Program and side of access by what they were, clamps one by one, other keys by themselves."""
    new = world(BASE)["station", "left"]
    assert isinstance(new, Station)
    clamps = (Solid.model_validate({"name": "c1", "from": (0, 0), "to": (9, 9), "top": 5}),)
    keys = {"program": "p", "access": "back", "note": "n", "clamps": clamps}
    old = new.model_copy(update=keys)
    assert sorted(lost(old, new, {})) == ["access back", "clamp c1", "note", "program p"]
    assert list(lost(old, new, keys)) == []


def test_measured_holes_stay_where_nothing_is_said_of_them(shop: Path, run: Run) -> None:
    """Registered again at its place, a station counts on its measured holes as before."""

    def of_left() -> dict[str, object]:
        shown = run("show", "left", "--kind", "station", "--json").json
        return dict(shown["documents"][0]["document"])

    changed = {**of_left(), "measured_holes": True}
    (shop / "m.yaml").write_text(f"format: 1\nstations: [{json.dumps(changed)}]\n", "utf-8")
    assert run("load", "m.yaml", "--yes").code == 0 and of_left()["measured_holes"] is True
    assert run("register", "left", "--program", "hand-hold", "--note", "again").code == 0
    assert of_left()["measured_holes"] is True
