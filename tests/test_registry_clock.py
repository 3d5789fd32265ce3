"""A clock that is wrong is asked about, and what it spoiled is put right."""

from __future__ import annotations

import io
import sqlite3
import sys
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import typer
from conftest import Run
from postgres import empty_schema, needs_server
from worlds import shipped_dialects

from pincorner.cli.main import app
from pincorner.errors import BadInput
from pincorner.registry import clock, times
from pincorner.registry.store import Person, Registry


def set_clock(monkeypatch: pytest.MonkeyPatch, **ahead: float) -> str:
    """Put the clock ahead of the real one; its time as the registry writes it."""
    moment = times.as_text(datetime.now(UTC) + timedelta(**ahead))
    monkeypatch.setattr(times, "now_text", lambda: moment)
    return moment


YEARS = 365 * 73
COMMANDS = [
    ["retire", "run", "three-sides"], ["load", "x.yaml"], ["block", "left", "-o", "b.nc"],
    ["sheet", "left", "-o", "s"], ["map", "long-bench", "-o", "m.svg"],
    ["register", "new", "--bed", "long-bench", "--jig", "panel-tray", "--pin", "peg-20",
     "--corner", "A6", "--toward", "+x+y"],
    ["survey", "long-bench", "long-bench-survey.csv", "--accept"],
    ["resurface", "long-bench", "--depth", "0.1"], ["verify", "left", "--x", "295", "--y", "185"],
    ["stamp", "hand-hold", "--station", "left", "-o", "st.nc"],
    ["restore", "copy.sqlite", "--force"],
]  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: str(command[0]))
def test_wild_clock_is_asked_about(
    shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch, command: list[str]
) -> None:
    """A script with a clock in 2099 changes nothing, unless it says --yes."""
    (shop / "x.yaml").write_text("format: 1\nprograms: [{name: n, file: n.nc}]\n", encoding="utf-8")
    if command[0] == "restore":
        assert run("backup", "copy.sqlite").code == 0
    before = (shop / "fixtures_db" / "registry.sqlite").read_bytes()
    set_clock(monkeypatch, days=YEARS)
    ran = run(*command)
    assert ran.code == 2 and ran.err.count("\n") == 1 and "--yes" in ran.err
    assert "clock of this computer says" in ran.err
    assert (shop / "fixtures_db" / "registry.sqlite").read_bytes() == before
    assert "--yes" not in run(*command, "--yes").err


def test_all_that_change_take_yes() -> None:
    """Every command that says who changed something can be told --yes."""
    commands = typer.main.get_command(app).commands  # type: ignore[attr-defined]
    options = {name: {p.name for p in command.params} for name, command in commands.items()}
    changing = {name for name, params in options.items() if "by" in params}
    assert changing >= {"load", "repeat", "restore", "upgrade", "init"}
    assert [name for name in changing if "yes" not in options[name]] == []


def test_terminal_is_asked(shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a terminal the question is put, and a no changes nothing."""
    set_clock(monkeypatch, days=YEARS)
    for stream in (sys.stdin, sys.stderr):
        monkeypatch.setattr(stream, "isatty", lambda: True, raising=False)
    asked: list[str] = []
    answers = [False, True]

    def confirm(text: str, **_: object) -> bool:
        asked.append(text)
        return answers[len(asked) - 1]

    monkeypatch.setattr(typer, "confirm", confirm)
    assert run("retire", "run", "three-sides").code == 2
    assert run("retire", "run", "three-sides").code == 0
    assert len(asked) == 2 and all("Is that right?" in text for text in asked)


def test_a_year_is_not_odd(shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """A shop that rested for most of a year is not asked."""
    set_clock(monkeypatch, days=360)
    assert run("retire", "run", "three-sides").code == 0


def test_repair(shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Times that are to come are told by status and put at now, in order; --as-of works again."""
    with monkeypatch.context() as wrong:
        for days, pin in ((YEARS, "p1"), (YEARS + 1, "p2")):
            set_clock(wrong, days=days)
            (shop / "x.yaml").write_text(
                f"format: 1\npins: [{{name: {pin}, shank: 8, body: 8, height: 9}}]\n",
                encoding="utf-8",
            )
            assert run("load", "x.yaml", "--yes").code == 0
        assert run("block", "left", "-o", "b.nc", "--yes").code == 0
        assert run("verify", "left", "--x", "295", "--y", "185", "--yes").code in (0, 1)
        assert run("verify", "left", "--strike", "1", "--note", "slip", "--yes").code == 0
        assert run("stamp", "hand-hold", "--station", "left", "-o", "c.nc", "--yes").code == 0
        (shop / "c.nc").unlink()
        assert run("retire", "paper", "c.nc", "--note", "no more orders", "--yes").code == 0
    assert run("retire", "pin", "p1").code == 0  # a right clock: the time is wrong all the same
    order = [line.split("  ", 2)[1:] for line in run("history").out.splitlines()]
    ran = run("status")
    assert ran.code == 1 and ran.out.startswith("First of all\n  clock: ")
    assert "--repair-times" in ran.out
    held = run("dump").out
    ran = run("upgrade", "--repair-times", "--by", "bea")
    assert (ran.code, ran.err) == (0, "") and "8 times" in ran.out
    assert run("dump").out == held and "clock:" not in run("status").out
    now = [line.split("  ", 2)[1:] for line in run("history").out.splitlines()]
    assert now[: len(order)] == order
    assert now[-1][0] == "bea" and "8 entries had times from" in now[-1][1]
    moments = [event["at"] for event in run("history", "--json").json["events"]]
    assert moments == sorted(moments) and moments[-1] <= times.now_text()
    after = times.now_text()
    assert run("retire", "pin", "p2").code == 0
    assert "name: p2" in run("dump", "--as-of", after).out and "name: p2" not in run("dump").out
    assert run("upgrade", "--repair-times").out == "up to date already\n"
    assert run("status", "--deep").code != 3


def test_repair_within_a_moment(shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Times are put behind those that are right, also where a right one is of this very moment."""
    with monkeypatch.context() as wrong:
        set_clock(wrong, days=YEARS)
        assert run("retire", "run", "three-sides", "--yes").code == 0
        assert run("retire", "run", "monday-sides", "--yes").code == 0
    right = max(e["at"] for e in run("history", "--json").json["events"] if e["command"] == "init")
    order = [(e["command"], e["name"]) for e in run("history", "--json").json["events"]]
    monkeypatch.setattr(times, "now_text", lambda: right)
    assert run("upgrade", "--repair-times", "--yes").code == 0
    after = run("history", "--json").json["events"]
    assert [(e["command"], e["name"]) for e in after][: len(order)] == order
    with closing(sqlite3.connect(shop / "fixtures_db" / "registry.sqlite")) as connection:
        moments = [at for (at,) in connection.execute("SELECT at FROM change ORDER BY id")]
    assert moments == sorted(moments) and moments[-1] >= right


@needs_server
def test_server_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """On PostgreSQL a clock two days ahead of the server's is refused; hours are none of it."""
    with empty_schema() as url:
        registry = Registry.create(url, "mm", shipped_dialects(), "tester")
        set_clock(monkeypatch, hours=20)
        with registry.writing("tester", "retire") as writer:
            writer.retire("dialect", "six")
        set_clock(monkeypatch, days=2)
        with (
            pytest.raises(BadInput, match="ahead of the database server"),
            registry.writing("tester", "retire"),
        ):
            pytest.fail("it was opened")
        with Registry(url, Person(sure=lambda _: True)).writing("tester", "retire") as writer:
            writer.retire("dialect", "extended")
        registry._engine.dispose()


def test_doubt_is_one_line(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is asked stands in one line without an end, so that it can be a question."""
    set_clock(monkeypatch, days=YEARS)
    with Registry(str(shop / "fixtures_db" / "registry.sqlite")).reading() as reader:
        doubt = clock.doubt(reader.connection)
    assert doubt is not None and "\n" not in doubt and doubt[-1] not in ".?"
    assert isinstance(sys.stdin, io.IOBase) or sys.stdin is not None
