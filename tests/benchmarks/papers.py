"""What papers cost: a fingerprint for each station, and `status` for each paper.

`python tests/benchmarks/papers.py [STATIONS]` prints both, three papers a station.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from sqlalchemy import update

from pincorner import Shop
from pincorner.documents.fields import key_of
from pincorner.documents.stations import Station
from pincorner.geometry.outline import Box
from pincorner.registry.store import Registry
from pincorner.registry.tables import log
from pincorner.setups.contents import DEFINITION, content_lines
from pincorner.setups.printed import fingerprint
from pincorner.setups.setup import OffsetRow, Setup
from pincorner.setups.transform import make_setups
from pincorner.work.kept.beside import Beside, Things, beside_copy, beside_sheet, pins_in_the_way
from pincorner.work.session import Library, Session
from pincorner.work.shops import demo
from pincorner.work.stale import stale_papers

LOOPS = 2000
FREE = Box(-40.0, -40.0, -39.0, -39.0)
"""Where nothing stands: the stations of this shop all lie in one place, as no others do."""


def fingerprint_ms() -> float:
    """Processor time that one fingerprint takes, ms."""
    [setup] = Shop.demo().station("left").setups
    before = time.process_time()
    for _ in range(LOOPS):
        fingerprint(content_lines(setup))
    return 1000 * (time.process_time() - before) / LOOPS


def status_ms(folder: Path, count: int) -> tuple[float, float]:
    """Processor time for each of three papers of `count` stations that are as they were, ms: of
    papers of today, and of those that 0.1.0 recorded, as they are after `upgrade`."""
    shop = folder / "shop"
    demo(shop, lambda _: None)
    registry = Registry(str(shop / "fixtures_db" / "registry.sqlite"))
    session = Session(registry, "bench", "bench")
    with registry.reading() as reader:
        left = Library(reader).get(Station, "left")
    stations = [left.model_copy(update={"name": f"s{at}"}) for at in range(count)]
    with registry.writing("bench", "load") as writer:
        writer.put(stations)
    with registry.reading() as reader:
        library = Library(reader)
        facts = [library.facts(each) for each in library.stations(())]
    setups = [setup for each in facts for setup in make_setups(each)]
    things = Things(facts[0].bed, setups)
    names = {station.name for station in stations}
    with registry.writing("bench", "stamp") as writer:
        for setup in setups:
            if setup.facts.station.name in names:
                for event in ("sheet", "stamp", "block"):
                    writer.record(*paper_of(shop, setup, event, things))
    told = _stale_ms(session, setups, names)
    with registry.writing("bench", "age") as writer:
        for setup in setups:
            own = log.c.station_key == key_of(setup.facts.station.name)
            first = setup.fingerprint_by(1)
            values = {"definition": 1, "paper_id": None, "fingerprint": first}
            writer.reader.connection.execute(update(log).where(own).values(values))
    return told, _stale_ms(session, setups, names)


def _stale_ms(session: Session, setups: list[Setup], names: set[str]) -> float:
    """Processor time for each of three papers a station, ms."""
    rows = [OffsetRow(setup.facts, setup.nest.name, setup) for setup in setups]
    before = time.process_time()
    with session.registry.reading_aside() as reader:
        stale = [each for each in stale_papers(session, reader, rows) if each.path[:1] == "s"]
    took = 1000 * (time.process_time() - before)
    made = [each for each in stale if each.path.removesuffix(f"-{each.event}") in names]
    print(f"{len(made)} of {3 * len(names)} papers stale (none should be)")
    return took / (3 * len(names))


def paper_of(
    shop: Path, setup: Setup, event: str, things: Things
) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """The rows of a paper that shows a setup as it is, whose file is there."""
    name = f"{setup.facts.station.name}-{event}"
    path = shop / name
    path.write_bytes(b"%\n")
    found = path.stat()
    beside = Beside()
    if event == "sheet":
        beside = beside_sheet([setup], pins_in_the_way(setup), shop)
    elif event == "stamp":
        beside = beside_copy([setup], things, FREE)
    kept = {"size": found.st_size, "mtime_ns": found.st_mtime_ns, "digest": "0" * 64}
    entry = {
        "event": event,
        "station_key": setup.facts.station.name,
        "nest": setup.nest.name,
        "fingerprint": setup.fingerprint,
        "definition": DEFINITION,
        "u95_mm": setup.budget.u95_worst_mm,
        "x_mm": 0.0,
        "y_mm": 0.0,
        "path": name,
    }
    return {**kept, "options": "{}", **beside._asdict()}, [entry]


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    print(f"a fingerprint: {fingerprint_ms():.3f} ms (at most 0.1)")
    with tempfile.TemporaryDirectory() as made:
        today, before = status_ms(Path(made), number)
    print(f"status: {today:.3f} ms a paper, of 0.1.0 {before:.3f} ms (at most 1)")
