"""The state of a shop, seen past the program: what the registry's tables hold, and the files."""

from __future__ import annotations

import contextlib
import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple

from rows import DERIVED, rebuilt, rows
from sqlalchemy import Engine, create_engine, text
from sqlalchemy.engine import URL
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.pool import NullPool

from pincorner.registry.reader import NOW, Reader

REGISTRY = Path("fixtures_db") / "registry.sqlite"
GROWING = ("change", "revision", "log", "verification", "strike", "withdrawal")
"""Tables that only grow, each in the order in which it grew."""
TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z")
NO_NUMBERS = "SELECT count(*) FROM log WHERE typeof(x_mm) != 'real' OR typeof(y_mm) != 'real'"
ORDER = {
    "revision": "change_id, kind, key",
    "strike": "at, verification_id",
    "withdrawal": "at, log_id",
}
LOGGED = (
    "id", "who", "event", "station_key", "nest", "fingerprint", "x_mm", "y_mm", "path",
    "after_change",
)  # fmt: skip
"""What every version keeps of a paper, its time apart."""


class State(NamedTuple):
    """What a registry holds, less the times at which it was written.

    `tables`: the rows of each growing table, in order; `times`: theirs, in the same order.
    """

    version: str
    units: str
    tables: dict[str, list[tuple[Any, ...]]]
    times: dict[str, list[str]]

    @property
    def documents(self) -> dict[tuple[str, str], str]:
        """The bodies in use, by kind and key."""
        newest = {(kind, key): body for _, kind, key, _, body in self.tables["revision"]}
        return {place: body for place, body in newest.items() if body is not None}

    @property
    def papers(self) -> set[str]:
        """Paths of the papers on record."""
        return {row[LOGGED.index("path")] for row in self.tables["log"]}

    def same_as(self, other: State) -> bool:
        """Whether both hold the same, times apart."""
        return self._replace(times={}) == other._replace(times={})

    def begins_with(self, other: State) -> bool:
        """Whether everything the other holds stands in this one, in order, at the beginning."""
        return all(self.tables[name][: len(found)] == found for name, found in other.tables.items())


def engine_of(location: str) -> Engine:
    """An engine for looking into a registry; a path is taken as it is, whatever it holds."""
    if "://" in location:
        return create_engine(location, poolclass=NullPool)
    return create_engine(URL.create("sqlite", database=location), poolclass=NullPool)


def state_of(location: str | Path) -> State | None:
    """The state of a registry, of whatever version; None where there are no tables, or no file."""
    location = str(location)
    if "://" not in location and not Path(location).is_file():
        return None
    engine = engine_of(location)
    with engine.connect() as connection:
        try:
            version = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        except SQLAlchemyError:
            return None
        units = connection.execute(text("SELECT display_units FROM registry")).scalar()
        tables = {}
        times: dict[str, list[str]] = {}
        for name in GROWING:
            try:
                with connection.begin_nested():
                    query = f"SELECT * FROM {name} ORDER BY {ORDER.get(name, 'id')}"
                    found = connection.execute(text(query)).mappings().all()
            except SQLAlchemyError:
                found = []  # came later than the first version
            times[name] = [row["at"] for row in found if "at" in row]
            tables[name] = [
                (row["change_id"], row["kind"], row["key"], row["name"], row["body"])
                if name == "revision"
                else tuple(
                    value
                    for key, value in row.items()
                    if key != "at" and (name != "log" or key in LOGGED)
                )
                for row in found
            ]
    return None if version is None else State(str(version), str(units), tables, times)


def unsound(location: str | Path) -> list[str]:
    """What is wrong with a registry of this version: its pages, its derived tables, its times."""
    wrong = []
    if "://" not in str(location):
        with closing(sqlite3.connect(str(location))) as connection:
            (said,) = connection.execute("PRAGMA integrity_check").fetchone()
            wrong += [] if said == "ok" else [f"integrity_check: {said}"]
            strays = connection.execute("PRAGMA foreign_key_check").fetchall()
            wrong += [f"foreign keys: {strays}"] if strays else []
            (far,) = connection.execute(NO_NUMBERS).fetchone()
            wrong += [f"{far} papers stand nowhere"] if far else []
    with engine_of(str(location)).connect() as connection:
        if rows(connection, *DERIVED) != rebuilt(Reader(connection, NOW)):
            wrong.append("derived tables differ from what a rebuild gives")
    state = state_of(location)
    times = state.times if state is not None else {}
    wrong += [
        f"no time: {at}" for column in times.values() for at in column if not TIME.fullmatch(at)
    ]
    return wrong + [f"times go back: {name}" for name, at in times.items() if at != sorted(at)]


@contextlib.contextmanager
def copy_of(folder: Path, place: Path) -> Iterator[Path]:
    """A copy of a folder, gone afterwards: looking at a registry may mend what lies beside it."""
    shutil.copytree(folder, place)
    try:
        yield place
    finally:
        shutil.rmtree(place)
