"""What a command takes in and prints has bounds, and what nobody may read is told as that."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

import pytest
from conftest import Run
from worlds import BASE, make_registry

from pincorner.documents import records
from pincorner.documents.fields import WholeDocument
from pincorner.documents.reading import LARGEST_BYTES
from pincorner.errors import DocumentErrors
from pincorner.registry import engine
from pincorner.registry.reader import Reader
from pincorner.registry.store import Person, Registry
from pincorner.registry.writer import Plan
from pincorner.work import loading
from pincorner.work.loading import load
from pincorner.work.session import Session
from pincorner.work.status import status

WORST = ["1e308", "-1e308", "1e150", "1e308 in", "9e99", "1e-308"]


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("value", WORST)
def test_numbers_that_overflow(shop: Path, run: Run, units: str, value: str) -> None:
    """A length that no float can hold in mm, and a size too small to divide by, are told."""
    grid = f"grid: {{columns: 15, rows: 9, pitch: [{value}, 100], hole: 20.02}}"
    text = (
        f"format: 1\nunits: {units}\nbeds:\n  - name: b\n    machine: gantry-1\n    {grid}\n"
        f"    pose: {{x: 1, y: 1, angle: 0}}\n"
    )
    (shop / "x.yaml").write_text(text, encoding="utf-8", newline="\n")
    ran = run("load", "x.yaml")
    assert ran.code == 2 and "x.yaml:6: beds[0].grid.pitch[0]" in ran.err and "fault" not in ran.err


def test_survey_far_off(shop: Path, run: Run) -> None:
    """A reading that puts the bed beyond what a document may hold is told in one line."""
    for reading in ("O9,-99999,-99999", "A1,1e308,1"):
        (shop / "one.csv").write_text(f"hole,x_in,y_in\n{reading}\n", encoding="utf-8")
        (shop / "two.csv").write_text(f"hole,x_mm,y_mm\n{reading}\n", encoding="utf-8")
        for file in ("one.csv", "two.csv"):
            ran = run("survey", "long-bench", file)
            assert ran.code == 2 and ran.err.count("\n") == 1 and "fault" not in ran.err
            assert "100 m" in ran.err


def test_bed_near_the_end_of_what_is_taken(shop: Path, run: Run) -> None:
    """An offset that comes out beyond 100 m is no fault of the commands that read programs."""
    text = run("show", "long-bench").out.replace("x: 60", "x: 99999")
    (shop / "x.yaml").write_text(text, encoding="utf-8", newline="\n")
    assert run("load", "x.yaml").code == 0
    for command in (["check", "hand-hold", "--station", "left"], ["run", "three-sides"]):
        assert "fault" not in run(*command).err


def test_problems_are_listed_up_to_a_bound(shop: Path, run: Run) -> None:
    """Of many problems the first 50 are printed, and how many follow."""
    lines = [f"  - {{name: n{n}, shank: x, body: 1, height: 1}}" for n in range(180)]
    (shop / "x.yaml").write_text("format: 1\npins:\n" + "\n".join(lines), encoding="utf-8")
    ran = run("load", "x.yaml")
    assert ran.code == 2 and ran.err.count("\n") == DocumentErrors.LISTED + 1 == 51
    assert ran.err.splitlines()[-1] == "and 130 more; mend these first"


def test_large_files(shop: Path, run: Run) -> None:
    """Files above 4 MB are refused in scripts without --yes, documents and readings alike."""
    (shop / "x.yaml").write_text(
        "format: 1\n" + "# wood\n" * (LARGEST_BYTES // 7), encoding="utf-8"
    )
    ran = run("load", "x.yaml")
    assert ran.code == 2 and "split it" in ran.err and ran.err.count("\n") == 1
    assert run("load", "x.yaml", "--yes").code == 0
    (shop / "x.csv").write_text("#" * (LARGEST_BYTES + 1), encoding="utf-8")
    ran = run("survey", "long-bench", "x.csv")
    assert ran.code == 2 and "split it" in ran.err


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no such pipes")
def test_pipes_are_refused(shop: Path, run: Run) -> None:
    """A pipe or a device is refused at once: nobody may ever write into it."""
    os.mkfifo(shop / "pipe.yaml")
    for file in ("pipe.yaml", os.devnull):
        ran = run("load", file)
        assert ran.code == 2 and "pipe or a device" in ran.err and ran.err.count("\n") == 1
        assert run("survey", "long-bench", file).code == 2


def test_folder_without_permission(shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that may not be looked into is told in one line, and not as missing."""
    real = Path.stat

    def stat(path: Path, **how: bool) -> os.stat_result:
        if "closed" in str(path):
            raise PermissionError(13, "Permission denied", str(path))
        return real(path, **how)

    monkeypatch.setattr(Path, "stat", stat)
    for arguments in (["--db", "closed/r.sqlite", "list"], ["--db", "closed", "list"],
                      ["--db", "closed/r.sqlite", "init"], ["init", "closed"]):  # fmt: skip
        ran = run(*arguments)
        assert ran.code == (2 if arguments == ["init", "closed"] else 3), arguments
        assert "no folder" not in ran.err and ran.err.count("\n") == 1 and "closed" in ran.err, (
            arguments
        )


def test_names_that_are_no_text(shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """A login name that is no UTF-8, or could steer a terminal, is kept as text all the same."""
    monkeypatch.setenv("LOGNAME", "b\udcffa\x1b[2J")
    assert run("retire", "run", "three-sides").code == 0
    assert "ba[2J  retire" in run("history").out
    ran = run("retire", "pin", "peg-20", "--by", "b\udcff")
    assert ran.code == 2 and ran.err.startswith("--by") and ran.err.count("\n") == 1


def test_what_was_typed_is_told_in_one_line(shop: Path, run: Run) -> None:
    """A word with line ends, or one that is no text, is told in one line and is no fault."""
    for arguments in (["load", "\n"], ["load", "left\nb"], ["history", "\n"], ["list", "\nb"],
                      ["--db", "\nb", "list"], ["restore", "\n.nc", "--force"],
                      ["--db", "\ud800", "list"], ["--db", "\ud800", "status"]):  # fmt: skip
        ran = run(*arguments)
        assert ran.code in (2, 3) and ran.err.count("\n") == 1 and "fault" not in ran.err, ran


def many(count: int) -> str:
    """The base world with copies of its station."""
    stations = "".join(
        f"  - {{name: s{n}, bed: long-bench, jig: panel-tray, pin: peg-20, corner: C2,"
        f" toward: +x+y}}\n"
        for n in range(count)
    )
    return BASE + stations


def test_registry_is_free_while_pins_are_chosen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Reading, checking and choosing pins are done before the registry is held, warnings after."""
    registry = make_registry(tmp_path / "r.sqlite", None)
    file = tmp_path / "x.yaml"
    file.write_text(many(2), encoding="utf-8", newline="\n")
    held: list[str] = []

    def free(name: str) -> None:
        real = getattr(loading, name)

        def checked(*values: object) -> object:
            with Registry(registry.location).writing("other", "load"):
                held.append(name)
            return real(*values)

        monkeypatch.setattr(loading, name, checked)

    monkeypatch.setattr(engine, "BUSY_SECONDS", 0.2)
    for name in ("read_all", "_with_chosen_pins", "plan", "_parts_missing", "_unlocated"):
        free(name)
    load(Session(registry, "tester", "load"), [file], dry_run=False)
    assert set(held) >= {"read_all", "_with_chosen_pins", "plan", "_parts_missing", "_unlocated"}
    load(Session(registry, "tester", "load"), [file], dry_run=True)


def test_change_between_is_not_lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What another command changed while a load was worked out is seen before it is written."""
    registry = make_registry(tmp_path / "r.sqlite")
    file = tmp_path / "x.yaml"
    file.write_text(
        "format: 1\nruns: [{name: r, load: 9, stations: [left]}]",
        encoding="utf-8",
    )
    real, done = loading.plan, []

    def planned(reader: Reader, documents: list[WholeDocument]) -> Plan:
        made = real(reader, documents)
        if not done:
            done.append(True)
            with Registry(registry.location).writing("other", "retire") as writer:
                writer.retire("station", "left")
        return made

    monkeypatch.setattr(loading, "plan", planned)
    with pytest.raises(DocumentErrors, match="no station is named left"):
        load(Session(registry, "tester", "load"), [file], dry_run=False)
    with registry.reading() as reader:
        assert not reader.names(records.Run)


def test_who_waits_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A writer that waits says whom it waits for, and the note of that is gone afterwards."""
    monkeypatch.setattr(engine, "TELL_AFTER_SECONDS", 0.1)
    registry = make_registry(tmp_path / "r.sqlite")
    told: list[str] = []
    other = Registry(registry.location, Person(waiting=told.append))

    def write() -> None:
        with other.writing("other", "retire"):
            told.append("in")

    thread = threading.Thread(target=write)
    with registry.writing("bea", "load"):
        thread.start()
        until = time.monotonic() + 60
        while not told and time.monotonic() < until:
            time.sleep(0.02)
        assert len(told) == 1 and told[0].startswith("bea (load, since ")
    thread.join(60)
    assert told[1:] == ["in"]
    assert [each.name for each in tmp_path.iterdir()] == ["r.sqlite"]


def test_note_does_not_follow_links(tmp_path: Path) -> None:
    """The note of who writes is no way to write over another file."""
    registry, mine = make_registry(tmp_path / "r.sqlite"), tmp_path / "mine.txt"
    mine.write_text("mine", encoding="utf-8")
    (tmp_path / "r.sqlite-writer").symlink_to(mine)
    with registry.writing("bea", "retire") as writer:
        writer.retire("dialect", "six")
    assert mine.read_text(encoding="utf-8") == "mine"


def test_status_of_many_papers_is_no_square(tmp_path: Path) -> None:
    """Four times as many stations and papers take status some four times as long, not sixteen."""
    took = []
    for count in (1, 40, 160):  # at the first all that it needs is imported
        folder = tmp_path / str(count) / "fixtures_db"
        folder.mkdir(parents=True)
        registry = make_registry(folder / "registry.sqlite", None)
        given = many(count).replace("corner: C2, toward: +x+y", "pins: {edge: [D2, G2], stop: C4}")
        (tmp_path / "x.yaml").write_text(given, encoding="utf-8", newline="\n")
        session = Session(registry, "tester", "load", None)
        load(session, [tmp_path / "x.yaml"], dry_run=False)
        start = time.process_time()
        status(session, 180)
        took.append(time.process_time() - start)
    assert took[2] < 9 * took[1]
