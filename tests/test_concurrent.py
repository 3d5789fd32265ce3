"""Several at one registry: whole changes, one view for each reader, one writer at a time."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from two_writers import second_writer_sees
from worlds import BASE, entries, make_registry

from pincorner.documents.stations import Station
from pincorner.errors import RegistryBusy
from pincorner.registry import engine
from pincorner.registry.store import Registry
from pincorner.work.reports import dump
from pincorner.work.session import Session


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """A session on a registry that holds the base world."""
    return Session(make_registry(tmp_path / "r.sqlite"), "tester", "load")


def test_failed_change_leaves_nothing(session: Session) -> None:
    """An error in the middle of a change undoes all of it."""
    before = dump(session, None)
    documents = [entry.document for entry in entries(BASE.replace("seat: 18", "seat: 20"))]
    with (
        pytest.raises(ZeroDivisionError),
        session.registry.writing("tester", "load") as writer,
    ):
        assert writer.put(documents).changed == [("jig", "panel-tray")] and 1 / 0
    assert dump(session, None) == before


def test_reader_sees_one_state(session: Session) -> None:
    """A reader that began before a write keeps seeing the old state until it ends."""
    other = Registry(session.registry.location)
    started = threading.Event()

    def write() -> None:
        with other.writing("other", "load") as writer:
            writer.put([e.document for e in entries(BASE.replace("seat: 18", "seat: 20"))])
            started.set()

    thread = threading.Thread(target=write)
    with session.registry.reading() as reader:
        before = reader.everything()
        thread.start()
        assert started.wait(60)
        thread.join(0.2)  # time for a commit that would tear the view
        assert reader.everything() == before
    thread.join(60)
    assert not thread.is_alive()
    assert "seat: 20" in dump(session, None)


def test_second_writer_waits(session: Session) -> None:
    """A writer waits for the one before it, and builds on what that one wrote."""
    assert second_writer_sees(session.registry.location) == ["panel-tray", "tray-2"]


def test_second_writer_is_told(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    """A writer that has waited long enough is told who has the registry, and since when."""
    monkeypatch.setattr(engine, "BUSY_SECONDS", 0.1)
    other = Registry(session.registry.location)
    with session.registry.writing("tester", "load"):
        with (
            pytest.raises(
                RegistryBusy, match=r"in use by tester \(load, since \d\d:\d\d\)"
            ) as caught,
            other.writing("other", "load"),
        ):
            pytest.fail("two writers at a time")
        with other.reading() as reader:
            assert reader.names(Station) == ["left"]
    assert caught.value.exit_code == 3
