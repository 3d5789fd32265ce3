"""Stamped copies and their sources: edited, posted anew, gone, stamped elsewhere, told apart."""

from __future__ import annotations

import hashlib
import os
import shutil
from pathlib import Path

import pytest
from conftest import Run, quietly
from plans import change
from worlds import PRESSED

from pincorner import Shop
from pincorner.work.shops import init_shop

WORLD = (
    PRESSED.replace("    work_offsets: {a: G55}\n", "")
    + """    corner: C2
    toward: +x+y
    work_offsets: {a: G55}
    program: hand-hold
  - {name: spare, bed: long-bench, jig: panel-tray, pin: peg-20, pins: {edge: [I2, L2], stop: H4},
     work_offsets: {a: G56}, program: hand-hold}
programs:
  - {name: hand-hold, file: hand-hold.nc, tools: {"1": {diameter: 6, stickout: 38}}}
runs: [{name: both, load: 90 s, stations: [left, spare]}]
"""
)


@pytest.fixture(scope="module")
def copied_once(demo_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop of two stations with the papers of one and a stamped copy for it, made once; do not
    change it."""
    folder = tmp_path_factory.mktemp("copied") / "shop"
    init_shop(folder, None, "mm", "tester")
    (folder / "world.yaml").write_text(WORLD, encoding="utf-8")
    (folder / "hand-hold.nc").write_bytes((demo_once / "hand-hold.nc").read_bytes())
    quietly(
        folder,
        ("load", "world.yaml"),
        ("sheet", "left"),
        ("block", "left", "-o", "left-block.nc"),
        ("stamp", "hand-hold", "--station", "left", "-o", "left.nc"),
    )
    return folder


@pytest.fixture
def copied(copied_once: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The same, as the working folder; change it."""
    folder = shutil.copytree(copied_once, tmp_path / "shop")
    monkeypatch.chdir(folder)
    return folder


def told(run: Run, *options: str) -> dict[str, str]:
    """What status says of left.nc, by code."""
    items = run("status", "--json", *options).json["items"]
    return {item["code"]: item["text"] for item in items if "left.nc" in item["text"]}


def found(run: Run, file: str = "left.nc") -> list[str]:
    """The codes that check of the copy gives."""
    report = run("check", file, "--station", "left", "--json").json
    assert report["verdict"] == ("findings" if report["findings"] else "nothing-found")
    return [finding["code"] for finding in report["findings"]]


def post_anew(shop: Path, name: str = "hand-hold.nc") -> None:
    """The program as CAM writes it once more, with another feed."""
    program = shop / name
    program.write_bytes(program.read_bytes().replace(b"F1", b"F2", 1) + b"\n")


def test_a_copy_as_it_was_made_is_silent(copied: Path, run: Run) -> None:
    """Nothing is said of a copy that holds what was written, wherever it is read."""
    assert not told(run) and not told(run, "--deep") and not found(run)
    (copied / "stick").mkdir()
    (copied / "stick" / "run.nc").write_bytes((copied / "left.nc").read_bytes())
    assert not found(run, "stick/run.nc")


def test_the_copy_says_what_it_was_made_of(copied: Path) -> None:
    """The comment in the copy names its program and how its SHA-256 begins (FIPS 180-4)."""
    digest = hashlib.sha256((copied / "hand-hold.nc").read_bytes()).hexdigest()
    line = f"(made of hand-hold.nc, digest {digest[:8]} {digest[8:16]})"
    assert line in (copied / "left.nc").read_text(encoding="utf-8").splitlines()


def test_a_program_posted_anew_is_told(copied: Path, run: Run) -> None:
    """Posted again and not stamped: status, check of the copy and run say so; a stamp mends it."""
    post_anew(copied)
    (changed,) = told(run).items()
    assert changed[0] == "source-changed"
    assert "hand-hold.nc was changed or posted anew since" in changed[1]
    assert found(run) == ["source-changed"]
    elsewhere = run("check", "left.nc", "--station", "spare").out
    assert "posted anew since" in elsewhere and "()" not in elsewhere
    assert "posted anew since" in run("run", "both").out
    again = ("stamp", "hand-hold", "--station", "left", "-o", "left.nc", "--force")
    assert run(*again).code == 0
    assert not told(run) and not found(run)


def test_an_edited_copy_is_held_against_its_own_program(copied: Path, run: Run) -> None:
    """Of several copies at one setup an edited one goes by the program that it names itself, also
    where it is the copy of a copy, or on no record."""
    for name in ("rough", "edge"):
        program = (copied / "hand-hold.nc").read_bytes()
        (copied / f"{name}.nc").write_bytes(program.replace(b"M30", f"({name})\nM30".encode()))
        line = ("stamp", f"{name}.nc", "--station", "left", "-o", f"{name}-left.nc")
        assert run(*line).code == 0
        assert run("stamp", line[-1], "--station", "spare", "-o", f"{name}-spare.nc").code == 0

    def edited(name: str) -> list[str]:
        file = copied / f"{name}.nc"
        file.write_bytes(file.read_bytes().replace(b"M30", b"M2"))
        station = name.partition("-")[2]
        report = run("check", file.name, "--station", station, "--json").json
        return sorted(finding["code"] for finding in report["findings"])

    post_anew(copied, "edge-left.nc")
    assert edited("rough-spare") == ["copy-edited"]
    assert edited("edge-spare") == ["copy-edited", "source-changed"]
    post_anew(copied, "edge.nc")
    assert edited("rough-left") == ["copy-edited"]
    assert edited("edge-left") == ["copy-edited", "source-changed"]
    assert run("dump", "-o", "all.yaml").code == 0
    assert not Shop.from_documents("all.yaml").check("rough-left.nc", station="left").findings


def test_a_program_that_is_gone_is_told(copied: Path, run: Run) -> None:
    """A source that is not there is another thing than one that was changed."""
    (copied / "hand-hold.nc").unlink()
    assert list(told(run)) == ["source-missing"] and found(run) == ["source-missing"]


def test_a_copy_edited_by_hand_is_told(copied: Path, run: Run) -> None:
    """A word changed in the copy is told by status and check, in the block with what it means."""
    copy = copied / "left.nc"
    whole = copy.read_bytes()
    copy.write_bytes(whole.replace(b"M30", b"M2"))
    assert list(told(run)) == ["copy-edited"] and found(run) == ["copy-edited"]
    copy.write_bytes(whole.replace(b"X294.990", b"X296.000"))
    assert "not as it was stamped" in next(iter(told(run).values()))
    assert found(run) == ["copy-edited", "offset-stale"]
    copy.write_bytes(whole)
    assert not told(run) and not found(run)


def test_what_somebody_edited_is_never_stamped_over(copied: Path, run: Run) -> None:
    """Whatever else changed, its program or its station, refresh leaves it and status says why."""
    copy, source = copied / "left.nc", copied / "hand-hold.nc"
    copy.write_bytes(copy.read_bytes().replace(b"S18000", b"S12000", 1))
    edited = copy.read_bytes()
    source.write_bytes(source.read_bytes() + b"\n")
    change(copied, "pin", "peg-20", height=21)
    items = run("status", "--json").json["items"]
    [mine] = [each for each in items if each["code"] == "stale-program"]
    assert "edited by hand" in mine["text"] and mine["command"].startswith("pincorner check ")
    papers = run("refresh", "--json").json["papers"]
    assert [each["outcome"] for each in papers if each["file"] == "left.nc"] == ["left"]
    assert copy.read_bytes() == edited


def test_a_copy_without_its_block_is_told(copied: Path, run: Run) -> None:
    """A copy that somebody posted over has no block any more."""
    (copied / "left.nc").write_bytes((copied / "hand-hold.nc").read_bytes())
    assert "its setup block is gone" in told(run)["copy-edited"]


def test_a_copy_of_another_station_in_its_place_is_told(copied: Path, run: Run) -> None:
    """Another station's copy put in the place of this one is told by whose block it holds."""
    assert run("stamp", "hand-hold", "--station", "spare", "-o", "spare.nc").code == 0
    (copied / "left.nc").write_bytes((copied / "spare.nc").read_bytes())
    assert "it holds the block of spare a" in told(run)["copy-restamped"]


def test_a_copy_that_is_gone_is_told(copied: Path, run: Run) -> None:
    """The newest copy of a nest is missed where it is not there; an older one is not."""
    (copied / "left.nc").unlink()
    assert list(told(run)) == ["copy-missing"]
    assert run("stamp", "hand-hold", "--station", "left", "-o", "other.nc").code == 0
    assert not told(run)


def test_each_program_of_a_nest_has_a_copy_of_its_own(copied: Path, run: Run) -> None:
    """A copy of another program at the same nest does not stand for one that is missing."""
    (copied / "rough.nc").write_bytes((copied / "hand-hold.nc").read_bytes())
    assert run("stamp", "rough.nc", "--station", "left", "-o", "left-rough.nc").code == 0
    (copied / "left.nc").unlink()
    assert list(told(run)) == ["copy-missing"]


def test_papers_of_what_is_out_of_use_are_told(copied: Path, run: Run) -> None:
    """A copy that lies about is told until it is taken away, where its station or nest is gone."""
    for each in run("list", "runs", "--json").json["documents"]:
        assert run("retire", "run", each["name"]).code == 0
    assert run("retire", "station", "left").code == 0
    assert told(run) == {"stale-program": "left.nc: station left is out of use: take it away"}
    left = run("refresh", "--json").json["papers"]
    assert {"left.nc", "left-block.nc", "sheets/left.html"} <= {
        each["file"] for each in left if each["outcome"] == "left"
    }
    for name in ("left.nc", "left-block.nc", "sheets/left.html"):
        (copied / name).unlink()
    assert not [
        item for item in run("status", "--json").json["items"] if "out of use" in item["text"]
    ]


def test_a_copy_that_is_gone_on_purpose_is_missed_no_more(copied: Path, run: Run) -> None:
    """Retired with a reason that history keeps; a file of that name counts again at once."""
    copy, line = (copied / "left.nc").read_bytes(), ("retire", "paper", "left.nc")
    assert run(*line, "--note", "x").err.startswith("left.nc is there: take it away first")
    (copied / "left.nc").unlink()
    way = "where that is meant: pincorner retire paper left.nc --note WHY"
    assert told(run)["copy-missing"].endswith(way)
    assert run(*line).err.startswith("--note: say why left.nc is gone")
    assert "left.nc" in run("retire", "paper", "leff.nc", "--note", "x").err
    done = run(*line, "--note", "no more orders", "--by", "bea")
    assert done.out == "retired paper left.nc; writing it again brings it back\n"
    assert not told(run)
    assert run(*line, "--note", "x").code == 2
    gone = "bea  retire  paper left: stamp nest a in left.nc is gone on purpose (no more orders)"
    assert gone in run("history", "left").out and gone not in run("history", "spare").out
    post_anew(copied)
    assert not told(run)
    (copied / "left.nc").write_bytes(copy)  # from the stick it comes back, and is stale
    assert list(told(run)) == ["source-changed"]


def test_deep_reads_what_looks_the_same(copied: Path, run: Run) -> None:
    """Bytes changed under the same size and time are seen by --deep."""
    copy = copied / "left.nc"
    before = copy.stat()
    copy.write_bytes(copy.read_bytes().replace(b"M30", b"M31"))
    os.utime(copy, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert not told(run)
    assert list(told(run, "--deep")) == ["copy-edited"]


def test_the_comment_alone_tells_of_the_source(copied: Path, run: Run) -> None:
    """A registry that has no such paper holds the comment's digest against the program."""
    copy = (copied / "left.nc").read_bytes()
    assert run("dump", "-o", "all.yaml").code == 0
    (copied / "copy.nc").write_bytes(copy)
    shop = Shop.from_documents("all.yaml")
    assert not shop.check("copy.nc", station="left").findings
    post_anew(copied)
    report = shop.check("copy.nc", station="left")
    assert [finding.code for finding in report.findings] == ["source-changed"]


def test_what_was_accepted_is_said_everywhere(shop: Path, run: Run) -> None:
    """A finding that may hurt is taken with a reason only; it stands in copy, status and run."""
    deep = (shop / "hand-hold.nc").read_text(encoding="utf-8").replace("Z-3", "Z-30")
    (shop / "hand-hold.nc").write_text(deep, encoding="utf-8")
    bed = run("show", "long-bench", "--kind", "bed").out
    post = "{name: post, from: [430, 290], to: [440, 300], top: 90}"
    (shop / "bed.yaml").write_text(
        bed.replace("  solids:\n", f"  solids:\n  - {post}\n"), encoding="utf-8"
    )
    assert run("load", "bed.yaml").code == 0
    line = ("stamp", "hand-hold", "--station", "left", "-o", "left.nc")
    refused = run(*line)
    assert refused.code == 2 and not (shop / "left.nc").exists()
    told = refused.err.splitlines()
    assert "--accept" not in told[0] and told[1].startswith("! line")
    codes = sorted(row.split()[1] for row in told if row.startswith("  --accept"))
    assert codes == sorted({row.rpartition("[")[2].rstrip("]") for row in told if row[0] == "!"})
    assert "hits-solid" in codes and "  --accept hits-solid --note WHY" in told
    every = [word for code in codes for word in ("--accept", code)]
    bare = run(*line, *every)
    assert bare.code == 2 and "wants the reason" in bare.err and not (shop / "left.nc").exists()
    assert run(*line, *every, "--note", "the post is foam", "--by", "anna").code == 0
    copy = (shop / "left.nc").read_text(encoding="utf-8")
    assert "(accepted as found " in copy and "because the post is foam)" in copy
    [item] = [i for i in run("status", "--json").json["items"] if i["code"] == "accepted"]
    assert item["text"].startswith("left.nc: anna accepted ") and "foam" in item["text"]
    assert "the post is foam" in run("run", "monday-sides").out
    assert not told_of_copy(run)


def told_of_copy(run: Run) -> list[str]:
    """Codes of status that say that a copy is not what it was."""
    codes = {item["code"] for item in run("status", "--json").json["items"]}
    return [code for code in codes if code.startswith(("copy", "source", "stale-program"))]


PLAIN = "G21 G90 G55\nT1 M6\nS9000 M3\nG0 Z60\nG0 X200 Y120\nG1 Z-5 F900\nG1 X220\nG0 Z60\nM30\n"
WIDE = """format: 1
units: mm
programs: [{name: wide, file: more/wide.nc, tools: {"1": {diameter: 20}}}]
"""


def test_a_copy_has_the_cutters_of_the_program_that_it_is_made_of(copied: Path, run: Run) -> None:
    """Not those of its station's own program; of a file that belongs to no program they are told
    to be taken from there, and a cutter without a diameter stands in the verdict."""
    (copied / "more").mkdir()
    for name in ("more/wide.nc", "other.nc"):
        (copied / name).write_text(PLAIN, encoding="utf-8", newline="")
    (copied / "wide.yaml").write_text(WIDE, encoding="utf-8")
    assert run("load", "wide.yaml").code == 0
    assert run("stamp", "wide", "--station", "left", "-o", "of-wide.nc").code == 0
    lent = (
        "which cutter is tool 1: as in program hand-hold, whose file is hand-hold.nc and not this"
    )
    for file, wide_mm, is_lent in (
        ("of-wide.nc", 20, False), ("more/wide.nc", 20, False), ("left.nc", 6, False),
        ("other.nc", 6, True),
    ):  # fmt: skip
        report = run("check", file, "--station", "left", "--json").json
        assert report["tools"]["1"]["diameter_mm"] == wide_mm, file
        assert any(each.startswith(lent) for each in report["not_checked"]) == is_lent, file
    change(copied, "station", "left", program=None)
    assert (
        run("check", "of-wide.nc", "--station", "left", "--json").json["tools"]["1"]["diameter_mm"]
        == 20
    )
    ran = run("check", "other.nc", "--station", "left")
    assert (
        "; 1 cutter counted as a point, without a diameter\n? not looked at: tool 1: its" in ran.out
    )
