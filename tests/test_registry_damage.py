"""Registries that do not hold what was written: told, kept beside, and put right by a backup."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Run, quietly
from old_registries import on_sqlite
from worlds import make_registry

from pincorner.errors import RegistryDamaged
from pincorner.registry.store import Registry
from pincorner.registry.versions import SCHEMA_VERSION

PAGE = 4096
"""Bytes of a page of an SQLite file, its default."""


def sql(path: Path, *statements: str) -> None:
    """Change a registry behind the program's back."""
    with closing(sqlite3.connect(path)) as connection:
        for statement in statements:
            connection.execute(statement)
        connection.commit()


def text(path: Path) -> None:
    """No database any more."""
    path.write_text("holes of the bench\n" * 100, encoding="utf-8", newline="\n")


def cut(path: Path) -> None:
    """The second half is gone."""
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2 // PAGE * PAGE])


def swapped(path: Path) -> None:
    """Pages have changed places."""
    data = path.read_bytes()
    pages = [data[at : at + PAGE] for at in range(0, len(data), PAGE)]
    pages[3:9] = pages[3:9][::-1]
    path.write_bytes(b"".join(pages))


def derived(path: Path) -> None:
    """A derived table says something else than the documents."""
    sql(path, "UPDATE station_code SET code = 'G58'")


def derived_gone(path: Path) -> None:
    """A derived table lacks a row."""
    sql(path, "DELETE FROM reference WHERE rowid = 1")


def orphan(path: Path) -> None:
    """A revision's change is not there."""
    sql(path, "PRAGMA foreign_keys = OFF", "UPDATE revision SET change_id = 99 WHERE key = 'six'")


DAMAGES: list[Callable[[Path], None]] = [text, cut, swapped, derived, derived_gone, orphan]


@pytest.mark.parametrize("damage", DAMAGES)
def test_damage_is_told(shop: Path, run: Run, damage: Callable[[Path], None]) -> None:
    """status --deep, backup and upgrade tell of damage in a line, with what helps, exit code 3."""
    file = shop / "fixtures_db" / "registry.sqlite"
    damage(file)
    before = file.read_bytes()
    for command in (["status", "--deep"], ["backup", "copy.sqlite"], ["upgrade"]):
        ran = run(*command)
        assert ran.code == 3 and not ran.out and ran.err.count("\n") == 1, command
        assert "pincorner restore FILE --force" in ran.err and "registry.sqlite" in ran.err
    assert not (shop / "copy.sqlite").exists() and file.read_bytes() == before


@pytest.mark.parametrize("damage", [text, cut, swapped])
def test_restore_over_damage(
    shop: Path, run: Run, tmp_path: Path, damage: Callable[[Path], None]
) -> None:
    """restore --force keeps a damaged registry beside, says its name, and puts the backup back."""
    file, copy = shop / "fixtures_db" / "registry.sqlite", tmp_path / "copy.sqlite"
    held = run("dump").out
    assert run("backup", copy).code == 0
    for number in (1, 2) if damage is text else (1,):
        damage(file)
        broken = file.read_bytes()
        told = run("init")
        assert told.code == 2 and "exists already" in told.err
        if damage is text:
            assert "restore FILE --force" in told.err
        assert run("restore", copy).code == 2  # not without --force
        assert file.read_bytes() == broken
        ran = run("restore", copy, "--force")
        kept = file.with_name(f"registry.sqlite.damaged-{number}")
        assert (ran.code, ran.err) == (0, "") and kept.name in ran.out
        assert kept.read_bytes() == broken
        assert run("dump").out == held
        assert run("status", "--deep").code == run("status").code != 3
        assert "in the place of a damaged registry" in run("history").out


def test_damaged_backup(shop: Path, run: Run, tmp_path: Path) -> None:
    """A damaged backup, or one of something else, replaces nothing."""
    file, copy = shop / "fixtures_db" / "registry.sqlite", tmp_path / "copy.sqlite"
    for damage in DAMAGES:
        shutil.copy(file, copy)
        damage(copy)
        before = file.read_bytes()
        ran = run("restore", copy, "--force")
        assert ran.code == 3 and ran.err.count("\n") == 1 and "copy.sqlite" in ran.err, damage
        assert "nothing was changed" in ran.err and file.read_bytes() == before
        assert [each.name for each in file.parent.iterdir()] == ["registry.sqlite"]


def test_foreign_database_is_not_replaced(shop: Path, run: Run, tmp_path: Path) -> None:
    """Another program's database that is whole stays where it is, with --force too."""
    other, copy = tmp_path / "bees.sqlite", tmp_path / "copy.sqlite"
    sql(other, "CREATE TABLE bees (id INTEGER)")
    before = other.read_bytes()
    assert run("backup", copy).code == 0
    ran = run("--db", other, "restore", copy, "--force")
    assert ran.code == 3 and "another program" in ran.err and other.read_bytes() == before


def test_restore_of_an_older_version(shop: Path, run: Run, tmp_path: Path) -> None:
    """A backup of an earlier version is upgraded on its way back and stays as it is itself."""
    old = tmp_path / "old.sqlite"
    on_sqlite(old)
    before = old.read_bytes()
    ran = run("restore", old, "--force", "--by", "bea", "--note", "the disk failed", "--yes")
    assert (ran.code, ran.err) == (0, "") and f"upgraded from 0002 to {SCHEMA_VERSION}" in ran.out
    assert old.read_bytes() == before
    assert run("status", "--deep").code != 3
    told = run("history").out.splitlines()[-1]
    assert "bea  restore  registry" in told and "old.sqlite" in told and "the disk failed" in told
    other = tmp_path / "new" / "fixtures_db" / "registry.sqlite"
    assert run("--db", other, "restore", old, "--yes").code == 0
    assert run("--db", other, "dump").out == run("dump").out


def test_restore_into_an_older_registry(shop: Path, run: Run, tmp_path: Path) -> None:
    """A registry of an earlier version is no hindrance to what comes in its place."""
    old, copy = tmp_path / "old.sqlite", tmp_path / "copy.sqlite"
    on_sqlite(old)
    held = run("dump").out
    assert run("backup", copy).code == 0
    assert run("--db", old, "restore", copy, "--force").code == 0
    assert run("--db", old, "dump").out == held and run("--db", old, "upgrade").code == 0


def test_damaged_document(shop: Path, run: Run) -> None:
    """A document that cannot be read is told in one line, exit code 3, by every command."""
    file = shop / "fixtures_db" / "registry.sqlite"
    for body in ("{", "[1]", "7", '{"name": "left", "bed": 7}', '{"name": "left", "wings": 2}'):
        sql(file, f"UPDATE revision SET body = '{body}' WHERE kind = 'station' AND key = 'left'")
        for command in (["dump"], ["offsets"], ["block", "left"], ["show", "left"], ["status"],
                        ["list"], ["retire", "station", "left"], ["status", "--deep"]):  # fmt: skip
            ran = run(*command)
            assert ran.code == 3 and ran.err.count("\n") == 1, (command, body, ran)
            assert "station left cannot be read" in ran.err and "restore" in ran.err
        if not body.startswith('{"'):
            assert run("history").code == 3


ODD = [
    ("UPDATE change SET at = 'yesterday'", "'yesterday' stands where a time should"),
    ("UPDATE change SET at = ''", "'' stands where a time should"),
    ("UPDATE verification SET x_mm = 'far'", "'far' stands where a number should"),
    ("UPDATE log SET y_mm = 9e999", "inf stands where a number should"),
    ("UPDATE log SET path = x'ff00'", "stands where a text should"),
    ("UPDATE strike SET why = x'ff00'", "stands where a text should"),
    ("INSERT INTO withdrawal SELECT id, 'late', who, '', after_change FROM log WHERE id = 1",
     "'late' stands where a time should"),
    ("INSERT INTO revision SELECT kind, key, 1, name, '{' FROM revision WHERE key = 'left'",
     "station left cannot be read"),
    ("UPDATE revision SET name = 'wing' WHERE key = 'left'", "wing cannot be read: it is kept as"),
    ("UPDATE revision SET key = 'wing', name = 'wing' WHERE key = 'left'", "it is that of left"),
]  # fmt: skip


@pytest.fixture(scope="module")
def worked_once(demo_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's shop with something in each table, and a backup of it; do not change it."""
    folder = tmp_path_factory.mktemp("worked") / "shop"
    shutil.copytree(demo_once, folder)
    verify = ("verify", "left", "--x", "295", "--y", "185")
    strike = ("verify", "left", "--strike", "1", "--note", "slip")
    quietly(folder, verify, strike, verify, ("sheet", "left", "-o", "out"))
    quietly(folder, ("backup", "good.sqlite"))
    return folder


@pytest.mark.parametrize(("statement", "told"), ODD)
def test_odd_entries(
    worked_once: Path,
    tmp_path: Path,
    run: Run,
    monkeypatch: pytest.MonkeyPatch,
    statement: str,
    told: str,
) -> None:
    """What cannot stand where it stands is told by the deep check and by backup, and kept beside.

    No other command stumbles over it.
    """
    shop = tmp_path / "shop"
    shutil.copytree(worked_once, shop)
    monkeypatch.chdir(shop)
    sql(shop / "fixtures_db" / "registry.sqlite", statement)
    for command in (["status", "--deep"], ["backup", "copy.sqlite"], ["restore", "copy.sqlite"],
                    ["offsets"], ["status"], ["history"], ["show", "left"], ["block", "left"],
                    ["verify", "left", "--x", "295", "--y", "185"]):  # fmt: skip
        ran = run(*command)
        assert "fault" not in ran.err and ran.err.count("\n") <= 1, (command, ran)
        if command[0] == "backup" or "--deep" in command:
            assert ran.code == 3 and told in ran.err and "restore FILE --force" in ran.err, command
    assert not (shop / "copy.sqlite").exists()
    ran = run("restore", "good.sqlite", "--force")
    assert ran.code == 0 and "damaged-1" in ran.out and run("status", "--deep").code != 3


def test_what_is_needed_and_gone(shop: Path, run: Run) -> None:
    """A document that others need and that is not there is damage."""
    assert run("backup", "good.sqlite").code == 0
    sql(shop / "fixtures_db" / "registry.sqlite", "DELETE FROM revision WHERE kind = 'pin'")
    for command in (["status", "--deep"], ["backup", "copy.sqlite"]):
        ran = run(*command)
        assert ran.code == 3 and "pin peg-12 is needed and not there" in ran.err, ran
    assert run("restore", "good.sqlite", "--force").code == 0 and run("status", "--deep").code != 3


def test_a_document_without_its_change(shop: Path, run: Run) -> None:
    """What the history never wrote is told, not stumbled over."""
    sql(shop / "fixtures_db" / "registry.sqlite", "DELETE FROM change")
    ran = run("show", "left")
    assert ran.code == 3 and "no change of the history wrote it" in ran.err


def test_an_error_of_the_database_that_is_no_text(tmp_path: Path, run: Run) -> None:
    """SQLite names what it stumbles over, by whatever bytes stand there."""
    file = tmp_path / "r.sqlite"
    make_registry(file)
    sql(
        file,
        "PRAGMA writable_schema = ON",
        "UPDATE sqlite_master SET name = CAST(x'6cf367' AS TEXT), sql = 'CREATE bees'"
        " WHERE name = 'log'",
    )
    ran = run("--db", file, "list")
    assert ran.code == 3 and "damaged" in ran.err and "restore FILE --force" in ran.err


def test_checks_are_the_databases_own(tmp_path: Path) -> None:
    """The check is SQLite's integrity check: it sees what no query of ours would look at."""
    registry = make_registry(tmp_path / "r.sqlite")
    sql(
        tmp_path / "r.sqlite",
        "PRAGMA writable_schema = ON",
        "UPDATE sqlite_master SET sql = replace(sql, '(station_key, nest)', '(nest, station_key)')"
        " WHERE name = 'log_station'",
    )
    sql(tmp_path / "r.sqlite", "DELETE FROM bed_hole WHERE label = 'A1'")
    with pytest.raises(RegistryDamaged):
        Registry(registry.location).check()
