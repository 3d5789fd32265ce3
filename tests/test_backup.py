"""A backup is the registry at one moment, and restoring it brings all of it back."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import Run


def test_backup_and_restore(shop: Path, run: Run, tmp_path: Path) -> None:
    """What was changed after a backup is gone once it is put back; history says no more than that.

    Papers and times come back with it.
    """
    copy = tmp_path / "copy.sqlite"
    held, events = run("dump").out, run("history").out
    made = run("backup", copy)
    assert (made.code, made.err) == (0, "") and "changes" in made.out
    assert run("retire", "run", "three-sides").code == 0
    assert run("dump").out != held
    refused = run("restore", copy)
    assert refused.code == 2 and "--force" in refused.err
    assert run("restore", copy, "--force").code == 0
    now = run("history").out
    assert (run("dump").out, now[: len(events)]) == (held, events)
    (line,) = now[len(events) :].splitlines()
    assert "restore  registry: a backup was put back (copy.sqlite with its" in line


def test_papers_of_after_the_backup_are_told(shop: Path, run: Run, tmp_path: Path) -> None:
    """A sheet printed anew since the backup, and a block that is new, show what nobody knows now;
    what was printed before it, and what is gone, is not told."""
    copy = tmp_path / "copy.sqlite"
    assert run("backup", copy).code == 0
    assert run("register", "left", "--pins", "D3,G3,C5", "--yes").code == 0
    for line in ("sheet left --force", "block left -o new.nc", "block left -o gone.nc"):
        assert run(*line.split()).code == 0
    (shop / "gone.nc").unlink()
    out = run("restore", copy, "--force").out
    told = [line.rpartition(": ")[2] for line in out.splitlines() if "not as on record" in line]
    assert told == ["sheets/left.html", "new.nc"] and "print and stamp these anew" in out
    assert "record" not in run("restore", copy, "--force").out


def test_backup_is_a_registry(shop: Path, run: Run, tmp_path: Path) -> None:
    """The copy can be used with --db as it is, and a change made there comes back with it."""
    copy = tmp_path / "copy.sqlite"
    assert run("backup", copy).code == 0
    assert run("--db", copy, "dump").out == run("dump").out
    assert run("--db", copy, "retire", "run", "three-sides").code == 0
    changed = run("--db", copy, "dump").out
    assert run("restore", copy, "--force").code == 0
    assert run("dump").out == changed


def test_restore_where_there_is_none(
    shop: Path, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In a folder without a registry the backup becomes its registry."""
    copy = tmp_path / "copy.sqlite"
    held = run("dump").out
    assert run("backup", copy).code == 0
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    assert run("restore", copy).code == 0
    assert run("dump").out == held


def test_backup_never_overwrites(shop: Path, run: Run) -> None:
    """An existing file is left alone without --force, and the registry itself is no backup."""
    keep = shop / "keep.txt"
    keep.write_text("mine", encoding="utf-8")
    ran = run("backup", keep)
    assert ran.code == 2 and "--force" in ran.err and keep.read_text(encoding="utf-8") == "mine"
    ran = run("restore", shop / "fixtures_db" / "registry.sqlite", "--force")
    assert ran.code == 2 and "registry itself" in ran.err


def test_restore_of_something_else(shop: Path, run: Run) -> None:
    """A file that is no registry changes nothing."""
    other = shop / "other.txt"
    other.write_text("bees", encoding="utf-8")
    held = run("dump").out
    ran = run("restore", other, "--force")
    assert ran.code == 3 and ran.err.count("\n") == 1
    ran = run("restore", shop / "none.sqlite", "--force")
    assert ran.code == 2 and "there is no backup" in ran.err and "none.sqlite" in ran.err
    assert run("dump").out == held
