"""survey: a made survey of the demo's bed from CSV to offsets, papers and the past."""

from __future__ import annotations

import json
import math
import random
import re
from pathlib import Path

import pytest
from conftest import Run
from plans import change

HOLES = ("A1", "H1", "O1", "A5", "E4", "K5", "O5", "A9", "D9", "H9", "L8", "O9")
TRUTH = (60.4, 54.7, 0.05)  # x, y, degrees: where this bed lies
HOLE_SD_MM = 0.03


def place(hole: str) -> tuple[float, float]:
    """Where the hole is drawn, bed coordinates."""
    return (ord(hole[0]) - ord("A")) * 100.0, (int(hole[1:]) - 1) * 100.0


def measured(hole: str, truth: tuple[float, float, float] = TRUTH) -> tuple[float, float]:
    """Where it lies in the machine without any error."""
    (x, y), (x0, y0, angle) = place(hole), truth
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return x0 + cos * x - sin * y, y0 + sin * x + cos * y


def readings(seed: int = 3) -> dict[str, tuple[float, float]]:
    """Twelve holes with their errors; E4 and K5 are swapped, and D9 is 2.5 mm off in X."""
    rng = random.Random(seed)
    found = {
        hole: tuple(value + rng.gauss(0, HOLE_SD_MM) for value in measured(hole)) for hole in HOLES
    }
    found["E4"], found["K5"] = found["K5"], found["E4"]
    found["D9"] = (found["D9"][0] + 2.5, found["D9"][1])
    return found  # type: ignore[return-value]


def written(folder: Path, found: dict[str, tuple[float, float]], unit: str = "mm") -> Path:
    """A survey file in a unit."""
    scale = 25.4 if unit == "in" else 1.0
    rows = [f"{hole},{x / scale:.6f},{y / scale:.6f}" for hole, (x, y) in found.items()]
    file = folder / "survey.csv"
    text = "\n".join([f"hole,x_{unit},y_{unit}", "# made for a test", *rows])
    file.write_text(text + "\n", encoding="utf-8")
    return file


def test_bad_readings_are_named_and_left_out(shop: Path, run: Run) -> None:
    """The swapped pair and the bad reading are explained, and the pose is near the truth."""
    ran = run("survey", "long-bench", written(shop, readings()), "--json")
    report = json.loads(ran.out)
    assert ran.code == 1 and report["accepted"] is False and report["points"] == 9
    suspects = {each["hole"]: each["suspect"] for each in report["holes"] if each["suspect"]}
    assert set(suspects) == {"E4", "K5", "D9"}
    assert "K5" in suspects["E4"] and "E4" in suspects["K5"] and "2.5" in suspects["D9"]
    pose, sds = report["pose"], report["pose_sd"]
    # within its own u95 of the truth: 2 standard deviations, wide for few degrees of freedom
    for key, truth in zip(("x_mm", "y_mm", "angle_deg"), TRUTH, strict=True):
        assert abs(pose[key] - truth) <= 2.2 * sds[key]
    for key in ("rms_mm", "squareness_mm_per_m", "significant"):
        assert key in report
    assert set(report["scale_ppm"]) == {"x", "y"}


def test_accepting_changes_offsets_and_papers(shop: Path, run: Run) -> None:
    """Offsets follow an accepted survey, sheets go stale and come back, and the past stays."""
    before = run("block", "left").out
    stamp = json.loads(run("history", "--json").out)["events"][-1]["at"]
    file = written(shop, readings())
    ran = run("survey", "long-bench", file, "--accept", "--note", "new bolts")
    assert ran.code == 1, ran.err  # suspects were found
    row = json.loads(run("offsets", "left", "--json").out)["offsets"][0]
    x, y = measured("A1")
    # case A0 lies 235, 130 from A1 on the bed; turned by the truth's angle
    cos, sin = math.cos(math.radians(TRUTH[2])), math.sin(math.radians(TRUTH[2]))
    assert row["x_mm"] == pytest.approx(x + cos * 235 - sin * 130, abs=0.1)
    assert row["y_mm"] == pytest.approx(y + sin * 235 + cos * 130, abs=0.1)
    assert row["survey"] is not None
    assert "survey" in {each["source"] for each in row["budget"]}
    assert "sheets/left.html" in run("status").out
    assert run("sheet", "left", "-o", "sheets", "--force").code == 0
    assert "sheets/left.html" not in run("status").out
    assert run("block", "left", "--as-of", stamp).out == before
    assert "new bolts" in run("history").out


def test_dump_holds_readings_and_fit(shop: Path, run: Run, tmp_path: Path) -> None:
    """Nothing is refitted: a registry that loads the dump has the same offsets, digit by digit."""
    run("survey", "long-bench", written(shop, readings()), "--accept")
    wanted = run("offsets", "--json").out
    dump = tmp_path / "dump.yaml"
    dump.write_text(run("dump").out, encoding="utf-8")
    other = tmp_path / "other.sqlite"
    assert run("--db", other, "init").code == 0
    assert run("--db", other, "load", dump).code == 0
    assert run("--db", other, "offsets", "--json").out == wanted


def test_second_survey_of_a_day_counts(shop: Path, run: Run) -> None:
    """Two accepted on one day get names in order, and the later one counts."""
    run("survey", "long-bench", written(shop, readings()), "--accept")
    moved = {hole: (x + 1.0, y) for hole, (x, y) in readings().items()}
    first = json.loads(run("offsets", "left", "--json").out)["offsets"][0]
    run("survey", "long-bench", written(shop, moved), "--accept")
    second = json.loads(run("offsets", "left", "--json").out)["offsets"][0]
    assert second["survey"] > first["survey"]
    assert second["x_mm"] - first["x_mm"] == pytest.approx(1.0, abs=1e-6)


def test_the_same_survey_counts_once(shop: Path, run: Run) -> None:
    """Accepted again, the same readings are no new survey; after a cut they are."""
    file = written(shop, readings())
    for _ in range(2):
        run("survey", "long-bench", file, "--accept")
    assert len(run("list", "surveys", "--json").json["documents"]) == 1
    assert run("resurface", "long-bench", "--depth", "0.4").code == 0
    run("survey", "long-bench", file, "--accept")
    assert len(run("list", "surveys", "--json").json["documents"]) == 2


def test_inches_are_the_same(shop: Path, run: Run) -> None:
    """The same survey in inches, with its header saying so, fits the same."""
    mm = json.loads(run("survey", "long-bench", written(shop, readings()), "--json").out)
    inch = json.loads(run("survey", "long-bench", written(shop, readings(), "in"), "--json").out)
    for key in ("x_mm", "y_mm", "angle_deg"):
        assert inch["pose"][key] == pytest.approx(mm["pose"][key], abs=1e-4)  # six decimals of inch


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("hole,x_mm,y_mm\nZ99,1,2\n", "Z99"),
        ("hole,x_mm,y_mm\nA1,60,55\nA1,60,55\n", "A1"),
        ("hole,x_mm\nA1,60\n", "y_mm"),
        ("hole,x_mm,y_mm\nA1,nan,55\n", "finite"),
        ("hole,x_mm,y_mm\nA1,sixty,55\n", "number"),
        ("hole,x_mm,y_mm\n", "no reading"),
        ("", "header"),
    ],
)
def test_bad_files(shop: Path, run: Run, text: str, told: str) -> None:
    """Each fault has its line, exit code 2, and nothing is written."""
    file = shop / "bad.csv"
    file.write_text(text, encoding="utf-8")
    before = run("history").out
    ran = run("survey", "long-bench", file, "--accept")
    assert ran.code == 2 and told.casefold() in ran.err.casefold() and "bad.csv" in ran.err
    assert run("history").out == before


def test_inches_under_a_mm_header(shop: Path, run: Run) -> None:
    """A survey whose pitch is 25.4 times off is refused with the suspicion."""
    inches = {hole: (x / 25.4, y / 25.4) for hole, (x, y) in readings().items()}
    ran = run("survey", "long-bench", written(shop, inches), "--accept")
    assert ran.code == 2 and "inch" in ran.err


def test_readings_of_another_bed(shop: Path, run: Run) -> None:
    """Readings that fit this grid nowhere are refused."""
    rng = random.Random(1)
    other = {hole: (rng.uniform(0, 1500), rng.uniform(0, 900)) for hole in HOLES}
    ran = run("survey", "long-bench", written(shop, other), "--accept")
    assert ran.code == 2 and ran.err.count("\n") == 1


@pytest.mark.parametrize(("holes", "said"), [(("A1",), "one hole"), (("A1", "O9"), "two holes")])
def test_few_holes(shop: Path, run: Run, holes: tuple[str, ...], said: str) -> None:
    """One hole moves the bed, two turn it as well; both are said to have no redundancy."""
    ran = run("survey", "long-bench", written(shop, {hole: measured(hole) for hole in holes}))
    assert ran.code == 0 and said in ran.out.casefold()


@pytest.mark.parametrize("suffix", [".svg", ".html"])
def test_residuals_are_drawn(shop: Path, run: Run, suffix: str) -> None:
    """-o draws the residual arrows; an existing file stays without --force."""
    drawing = shop / f"survey{suffix}"
    assert run("survey", "long-bench", written(shop, readings()), "-o", drawing).code == 1
    assert "<svg" in drawing.read_text(encoding="utf-8")
    again = run("survey", "long-bench", written(shop, readings()), "-o", drawing)
    assert again.code == 2 and "--force" in again.err


def test_three_holes_judge_no_grid(shop: Path, run: Run) -> None:
    """One of three readings 2.5 mm off: nothing is left to judge by, and the scales are told."""
    rows = ("A1,60,55", "O1,1462.5,55", "A9,60,855")
    (shop / "three.csv").write_text("\n".join(["hole,x_mm,y_mm", *rows, ""]), encoding="utf-8")
    told = run("survey", "long-bench", "three.csv").out
    assert "nothing to judge the grid by: they would have it longer by 1786 ppm along X" in told
    assert "as drawn" not in told


def test_swapped_labels_of_two_holes_are_not_accepted(shop: Path, run: Run) -> None:
    """A bed that comes out turned round is refused; with that angle on file it is taken."""
    (shop / "two.csv").write_text("hole,x_mm,y_mm\nA1,1460,55\nO1,60,55\n", encoding="utf-8")
    before = run("offsets", "--json").out
    refused = run("survey", "long-bench", "two.csv", "--accept")
    assert (refused.code, refused.out) == (2, "")
    assert "turned by" in refused.err and "as where labels are swapped" in refused.err
    assert run("offsets", "--json").out == before
    change(shop, "bed", "long-bench", pose={"x": 1460, "y": 55, "angle": 180})
    assert run("survey", "long-bench", "two.csv", "--accept").code == 0


def test_what_a_survey_moves_is_told_before_it_counts(shop: Path, run: Run) -> None:
    """Each nest's way is that between the offsets before and after; refused blocks are marked."""
    before = {(r["station"], r["nest"]): r for r in run("offsets", "--json").json["offsets"]}
    file = written(shop, readings())
    told = run("survey", "long-bench", file, "--json").json["moved"]
    shown = run("survey", "long-bench", file).out
    run("survey", "long-bench", file, "--accept")
    after = {(r["station"], r["nest"]): r for r in run("offsets", "--json").json["offsets"]}
    assert {(each["station"], each["nest"]) for each in told} == set(before)
    for each in told:
        name = each["station"], each["nest"]
        for key in ("x_mm", "y_mm", "angle_deg"):
            assert each["before"][key] == before[name][key]
            assert each["after"][key] == after[name][key]
        refused = run("block", each["station"], "--nest", each["nest"]).code != 0
        assert each["after"]["block"] != refused
        if refused:
            assert re.search(rf"{each['station']} +{each['nest']} .*! NO BLOCK with it", shown)


def test_a_survey_taken_back_begins_another_chart(shop: Path, run: Run) -> None:
    """Readings against one pose and against another are never on one chart."""
    log = ("verify", "left", "--x", "295.1", "--y", "185.1")
    run(*log)
    assert ", 2 since the last change" in run(*log).out
    run("survey", "long-bench", written(shop, readings()), "--accept")
    assert ", 1 since the last change" in run(*log).out
    (name,) = (each["name"] for each in run("list", "surveys", "--json").json["documents"])
    assert run("retire", "survey", name).code == 0
    assert ", 1 since the last change" in run(*log).out


def test_the_demos_own_survey_leaves_every_block(shop: Path, run: Run) -> None:
    """After the demo's survey is accepted, every station has a block, and status stops none."""
    assert run("survey", "long-bench", "long-bench-survey.csv", "--accept").code == 1
    rows = run("offsets", "--json").json["offsets"]
    assert len(rows) == 6 and all(0 < abs(row["angle_deg"]) < 91 for row in rows)
    for name in {row["station"] for row in rows}:
        assert run("block", name).code == 0, name
    assert not [i for i in run("status", "--json").json["items"] if i["code"] == "stopped"]
