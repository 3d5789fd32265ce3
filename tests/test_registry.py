"""The registry: all or nothing, nothing lost, every past state, one writer at a time."""

from __future__ import annotations

import random
from datetime import UTC, datetime
from pathlib import Path

import pytest
from rows import DERIVED, Rows, rebuilt, rows
from sqlalchemy.exc import OperationalError
from thinning import thinned
from worlds import BASE, entries, make_registry

from pincorner.documents.fields import WholeDocument
from pincorner.documents.stations import Station
from pincorner.documents.writing import to_yaml
from pincorner.errors import BadInput, DocumentErrors, Refused, UnknownName
from pincorner.registry import times
from pincorner.registry.meanings import meaning
from pincorner.registry.tables import (
    GROWING,
    TIMED,
    change,
    metadata,
    registry,
    revision,
    station_code,
    station_hole,
)
from pincorner.work.loading import Loaded, load, retire
from pincorner.work.reports import dump, history
from pincorner.work.session import Session

NOTHING = to_yaml([])


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """A session on a registry that holds the base world."""
    return Session(make_registry(tmp_path / "r.sqlite"), "tester", "load", "because")


def load_text(session: Session, folder: Path, *texts: str, dry_run: bool = False) -> Loaded:
    """Load texts, each as a file."""
    files = [folder / f"{index}.yaml" for index in range(len(texts))]
    for file, text in zip(files, texts, strict=True):
        file.write_text(text, encoding="utf-8", newline="\n")
    return load(session, files, dry_run, is_sure=True)


def state(session: Session) -> Rows:
    """Everything that the registry's tables hold."""
    with session.registry.reading() as reader:
        return rows(reader.connection, change, revision, *DERIVED)


def test_every_table_grows_or_is_derived() -> None:
    """A table is one that only grows, and is checked and repaired as such, or is made anew."""
    assert {*GROWING, *DERIVED, registry} == set(metadata.tables.values())
    assert {table.name for table in set(GROWING) - set(TIMED)} == {"revision", "paper"}


def test_load_is_all_or_nothing(session: Session, tmp_path: Path) -> None:
    """A problem in the last file leaves the registry as it was, whatever the first ones hold."""
    before = state(session)
    good = BASE.replace("spindle", "").replace("height: 22", "height: 25")
    with pytest.raises(DocumentErrors):
        load_text(session, tmp_path, good, "format: 1\nruns: [{name: r, stations: [nowhere]}]")
    assert state(session) == before
    assert ("pin", "peg-20") in load_text(session, tmp_path, good).summary.changed


def test_load_twice_changes_nothing(session: Session, tmp_path: Path) -> None:
    """Documents that are as they were are left alone: no change is recorded."""
    before = state(session)
    loaded = load_text(session, tmp_path, BASE)
    assert not loaded.summary.added and not loaded.summary.changed
    assert len(loaded.summary.same) == 5 and state(session) == before


def test_dry_run_writes_nothing(session: Session, tmp_path: Path) -> None:
    """A dry run tells what a load would do and leaves every table as it was."""
    before = state(session)
    text = BASE.replace("name: left", "name: other").replace("seat: 18", "seat: 20")
    dry = load_text(session, tmp_path, text, dry_run=True)
    assert state(session) == before
    assert dry.summary == load_text(session, tmp_path, text).summary
    assert dry.summary.added == [("station", "other")]
    assert dry.summary.changed == [("jig", "panel-tray")]
    assert state(session) != before


NEEDED = [
    ("dialect", "rs274", "machine gantry-1"), ("machine", "GANTRY-1", "bed long-bench"),
    ("bed", "long-bench", "station left"), ("pin", "peg-20", "station left"),
    ("jig", "panel-tray", "station left"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "name", "user"), NEEDED)
def test_what_is_needed_stays(session: Session, kind: str, name: str, user: str) -> None:
    """What something in use needs is not retired, and the message says by what."""
    with pytest.raises(Refused, match=f"is needed by {user}") as caught:
        retire(session, kind, name)
    assert caught.value.cause == "in-use"


def test_retired_and_revived(session: Session, tmp_path: Path) -> None:
    """A retired station is gone, its history stays, and loading its name brings it back."""
    assert retire(session, "station", "LEFT") == "left"
    with session.registry.reading() as reader:
        assert reader.find(Station, "left") is None and not reader.names(Station)
        assert rows(reader.connection, station_hole, station_code) == {
            "station_hole": [],
            "station_code": [],
        }
    with pytest.raises(UnknownName):
        retire(session, "station", "left")
    assert retire(session, "jig", "panel-tray") == "panel-tray"
    loaded = load_text(session, tmp_path, BASE)
    assert loaded.summary.added == [("jig", "panel-tray"), ("station", "left")]
    events = [event.what for event in history(session, "left")]
    assert events[1:] == ["retired", "new"] and len(events) == 3


def local(*parts: int) -> str:
    """A local moment as the registry writes it."""
    return datetime(*parts).astimezone().astimezone(UTC).isoformat(timespec="microseconds")[:-6]


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("2026-11-20", local(2026, 11, 20, 23, 59, 59, 999999)),
        ("20261120", local(2026, 11, 20, 23, 59, 59, 999999)),
        ("2026-02-28", local(2026, 2, 28, 23, 59, 59, 999999)),
        ("2026-11-20T14:30", local(2026, 11, 20, 14, 30)),
        ("2026-11-20 14:30:05", local(2026, 11, 20, 14, 30, 5)),
        ("2026-11-20T14:30:00Z", "2026-11-20T14:30:00.000000"),
        ("2026-11-20T14:30:00+02:00", "2026-11-20T12:30:00.000000"),
        ("2026-11-20T14:30:00.000001-05:30", "2026-11-20T20:00:00.000001"),
        ("0999-06-01T00:00Z", "0999-06-01T00:00:00.000000"),
    ],
)  # fmt: skip
def test_as_of_times(text: str, want: str) -> None:
    """A bare date is the end of that local day, a time is that moment, both told in UTC."""
    assert times.parse_as_of(text) == f"{want}Z"


@pytest.mark.parametrize(
    "text",
    ["", "yesterday", "2026-13-01", "2026-11-31", "2026-11-20T25:00", "2026", "14:30", "20.11.2026",
     "2026-11-20T14:30+99:00", "9999-12-31T23:59-23:00", "0001-01-01T00:00+23:00", "\x00"],
)  # fmt: skip
def test_bad_as_of_is_told(text: str) -> None:
    """What is no date or time is refused in one line with an example."""
    with pytest.raises(BadInput, match="expected a date or time such as 2026-11-20") as caught:
        times.parse_as_of(text)
    assert "\n" not in str(caught.value)


def at(monkeypatch: pytest.MonkeyPatch, moment: str) -> None:
    """Set the registry's clock."""
    monkeypatch.setattr(times, "now_text", lambda: times.parse_as_of(moment))


def test_as_of_is_what_was_recorded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A past state holds what was recorded up to then, and nothing that came later."""
    at(monkeypatch, "2026-11-20T10:00")
    session = Session(make_registry(tmp_path / "r.sqlite", anew=True), "tester", "load")
    first = dump(session, None)
    at(monkeypatch, "2026-11-21T10:00")
    load_text(session, tmp_path, BASE.replace("seat: 18", "seat: 20"))
    second = dump(session, None)
    at(monkeypatch, "2026-11-22T10:00")
    retire(session, "station", "left")
    third = dump(session, None)
    assert len({first, second, third}) == 3
    asked = [
        ("2026-11-19", NOTHING), ("2026-11-20T09:59:59", NOTHING),
        ("2026-11-20T10:00", first), ("2026-11-20", first), ("2026-11-21T09:59", first),
        ("2026-11-21", second), ("2026-11-22T10:00", third), ("2026-11-23", third),
    ]  # fmt: skip
    for moment, want in asked:
        assert dump(session, moment) == want, moment


def test_times_never_go_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A clock set back does not reorder history: a change is never earlier than the last."""
    at(monkeypatch, "2026-11-20T10:00")
    session = Session(make_registry(tmp_path / "r.sqlite", anew=True), "tester", "load")
    at(monkeypatch, "2024-01-01T10:00")
    load_text(session, tmp_path, BASE.replace("seat: 18", "seat: 20"))
    moments = [row[1] for row in state(session)["change"]]
    assert moments == sorted(moments) and moments[-1] == times.parse_as_of("2026-11-20T10:00")
    assert "seat: 20" in dump(session, "2026-11-20")
    assert dump(session, "2024-01-02") == NOTHING


def random_documents(dice: random.Random) -> list[WholeDocument]:
    """Some documents of the base world, changed at random but well-formed."""
    text = BASE.replace("seat: 18", f"seat: {dice.randint(0, 40)}")
    text = text.replace("rows: 9", f"rows: {dice.randint(4, 9)}")
    text = text.replace("D2, G2", dice.choice(["D2, F2", "E2, G2", "D2, G2"]))
    text = text.replace("name: left", f"name: {dice.choice(['left', 'Left', 'second', 'third'])}")
    text = text.replace("G55", dice.choice(["G55", "G56", "G57"]))
    text = text.replace("stop: C4", dice.choice(["stop: C4", "stop: {hole: C4, pin: peg-20}"]))
    found = [entry.document for entry in entries(text)]
    return dice.sample(found, dice.randint(1, len(found)))


@pytest.mark.parametrize("seed", range(thinned(24)))
def test_derived_tables_follow_and_history_grows(session: Session, seed: int) -> None:
    """After any changes the derived tables are those of the documents, and no history is gone."""
    dice, before = random.Random(seed), state(session)
    for _ in range(15):
        with session.registry.writing("tester", "change") as writer:
            names = writer.reader.names(Station)
            if names and dice.random() < 0.3:
                writer.retire("station", dice.choice(names))
            else:
                writer.put(random_documents(dice))
        after = state(session)
        for table in ("change", "revision"):
            assert set(before[table]) <= set(after[table])
        before = after
    assert len(before["change"]) > 8
    with session.registry.reading() as reader:
        assert rebuilt(reader) == rows(reader.connection, *DERIVED)


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("FATAL:  the database system is shutting down", "takes no more commands now"),
        ('database "hives" does not exist', "there is no such database"),
        ('relation "revision" does not exist', 'relation "revision" does not exist'),
    ],
)
def test_what_a_server_says_without_a_code(said: str, told: str) -> None:
    """A database that is not there is told as such, and nothing else that names either."""
    error = OperationalError("SELECT 1", None, Exception(said))
    found = str(meaning(error, "postgresql://bees@server/hives"))
    assert told in found
    assert ("no such database" in found) == ("no such database" in told)
