"""What a PostgreSQL server can do to a command: told in our words, one line, nothing half-written.

A server that PINCORNER_TEST_POSTGRES names must let its user make databases and roles.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from conftest import Run
from postgres import empty_schema, needs_server, server
from sqlalchemy import create_engine, event, text
from sqlalchemy.engine import make_url
from worlds import BASE, entries, make_registry, shipped_dialects

from pincorner.documents.writing import to_yaml
from pincorner.errors import RegistryDamaged, RegistryError
from pincorner.registry.store import Registry
from pincorner.registry.writer import Writer
from pincorner.work.reports import dump, history
from pincorner.work.session import Session

pytestmark = needs_server

NAMES = ["ab", "a-c", "a b", "B", "Éb", "a.d", "a_e", "Z", "aa", "10", "9"]


def admin(statement: str, url: str | None = None) -> list[Any]:
    """Run a statement outside of transactions; its rows."""
    engine = create_engine(url or server(), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        done = connection.execute(text(statement))
        rows = list(done) if done.returns_rows else []
    engine.dispose()
    return rows


@contextmanager
def database(options: str) -> Iterator[str]:
    """The URL of a new database, gone afterwards."""
    name = f"pincorner_{secrets.token_hex(6)}"
    admin(f"CREATE DATABASE {name} TEMPLATE template0 {options}")
    try:
        yield server().set(database=name).render_as_string(hide_password=False)
    finally:
        admin(f"DROP DATABASE {name} WITH (FORCE)")


def ordered(location: str, statements: list[str]) -> list[Any]:
    """What a registry tells in an order; the statements that it asked are added to a list."""
    registry = Registry.create(location, "mm", shipped_dialects(), "tester")
    pins = "".join(f"  - {{name: {n!r}, shank: 8, body: 8, height: 9}}\n" for n in NAMES)
    with registry.writing("tester", "load") as writer:
        writer.put([e.document for e in entries(f"format: 1\npins:\n{pins}")])
        writer.put([e.document for e in entries(BASE)])
        for name in ("Right", "a-b", "aa", "Éa"):
            writer.put([e.document for e in entries(BASE.replace("name: left", f"name: {name}"))])

    def note(_: object, __: object, statement: str, *___: object) -> None:
        statements.append(statement)

    event.listen(registry._engine, "before_cursor_execute", note)
    with registry.reading() as reader:
        holes = sorted(reader.holes_in_use("long-bench"))
        needed = [tuple(row.values()) for row in reader.needed_by("bed", "long-bench")]
        codes = [tuple(row.values()) for row in reader.codes_in_use("gantry-1")]
    events = [each[1:] for each in history(Session(registry, "t", "history"), None)]
    registry._engine.dispose()
    return [events, holes, needed, codes]


def test_order_is_that_of_bytes(tmp_path: Path) -> None:
    """History, needs and holes are those of SQLite where the database sorts by a language.

    A server that was built without ICU may know no language; what it is asked is looked at below.
    """
    sorts = "ENCODING 'UTF8' LC_COLLATE 'C' LC_CTYPE 'C'"
    if admin("SELECT 1 FROM pg_collation WHERE collname = 'de-x-icu'"):
        sorts += " LOCALE_PROVIDER icu ICU_LOCALE 'de-DE'"
    with database(sorts) as url:
        assert ordered(url, []) == ordered(f"{tmp_path}/r.sqlite", [])


def test_order_is_asked_for() -> None:
    """Where a statement orders texts, it asks for the order of bytes, whatever the database has."""
    statements: list[str] = []
    with empty_schema() as url:
        ordered(url, statements)
    by = [
        each
        for statement in statements
        for each in re.findall(r"(?:min|max)\(([^)]*)\)|ORDER BY ([^)]*)", statement)
    ]
    keys = {key.strip() for both in by for key in "".join(both).split(",")}
    texts = {key for key in keys if not re.search(r"\bid\b|_id\b|\bat\b", key)}
    assert texts and all('COLLATE "C"' in key for key in texts), keys


@pytest.mark.parametrize("encoding", ["SQL_ASCII", "LATIN1"])
def test_encoding_is_told(run: Run, encoding: str) -> None:
    """A database that is not UTF8 is told at connection."""
    with database(f"ENCODING '{encoding}' LC_COLLATE 'C' LC_CTYPE 'C'") as url:
        for command in ("init", "list"):
            ran = run("--db", url, command)
            assert ran.code == 3 and ran.err.count("\n") == 1 and encoding in ran.err


def test_role_without_rights(run: Run) -> None:
    """A role that may not read, or not write, is told that, and no more of its password."""
    role = f"pincorner_{secrets.token_hex(6)}"
    admin(f"CREATE ROLE {role} LOGIN PASSWORD 's3cret'")
    try:
        with database("ENCODING 'UTF8' LC_COLLATE 'C' LC_CTYPE 'C'") as url:
            Registry.create(url, "mm", shipped_dialects(), "tester")._engine.dispose()
            made = make_url(url).set(username=role, password="s3cret")
            theirs = made.render_as_string(hide_password=False)
            ran = run("--db", theirs, "list")
            assert ran.code == 3 and ran.err.count("\n") == 1 and "s3cret" not in ran.err
            assert "may not do that" in ran.err and "grant" in ran.err
            admin(f"GRANT SELECT ON ALL TABLES IN SCHEMA public TO {role}", url=url)
            assert run("--db", theirs, "list").code == 0
            ran = run("--db", theirs, "retire", "dialect", "six")
            assert ran.code == 3 and "may not do that" in ran.err and ran.err.count("\n") == 1
    finally:
        admin(f"DROP ROLE {role}")


def test_who_is_not_let_in(run: Run) -> None:
    """A role, a database and a server that are not there are told apart."""
    url = server()
    for other, told in (
        (url.set(username="nobody-of-that-name"), "does not let this user in"),
        (url.set(database="no-database-of-that-name"), "there is no such database"),
        (url.set(port=1), "does not answer"),
    ):
        ran = run("--db", other.render_as_string(hide_password=False), "list")
        assert ran.code == 3 and told in ran.err and ran.err.count("\n") == 1, ran.err


def cut(registry: Registry) -> None:
    """End every connection that the registry has."""
    admin(
        "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> pg_backend_pid() "
        "AND application_name LIKE 'pincorner%' "
        f"AND datname = '{make_url(registry.location).database}'"  # others test beside this one
    )


def _put(writer: Writer) -> None:
    writer.put([e.document for e in entries(BASE.replace("seat: 18", "seat: 20"))])


WORKS: dict[str, Callable[[Writer, Registry], None]] = {
    "before": lambda writer, registry: (cut(registry), _put(writer))[0],
    "between": lambda writer, registry: (_put(writer), cut(registry), _put(writer))[0],
    "at the end": lambda writer, registry: (_put(writer), cut(registry))[0],
    "and a fault": lambda writer, registry: (cut(registry), 1 / 0)[0],
}


@pytest.mark.parametrize("when", WORKS)
def test_cut_connection(when: str) -> None:
    """A connection that is cut is told in our words, whenever it happens; nothing is written."""
    with empty_schema() as url:
        registry = Registry.create(url, "mm", shipped_dialects(), "tester")
        with registry.writing("tester", "load") as writer:
            writer.put([entry.document for entry in entries(BASE)])
        before = dump(Session(registry, "tester", "dump"), None)
        with (
            pytest.raises((RegistryError, ZeroDivisionError)) as caught,
            registry.writing("tester", "load") as writer,
        ):
            WORKS[when](writer, registry)
        told = str(caught.value)
        assert "\n" not in told
        assert when == "and a fault" or ("was cut" in told and "history" in told), told
        assert dump(Session(registry, "tester", "dump"), None) == before
        registry._engine.dispose()


def test_deep_check(run: Run) -> None:
    """What derived tables and foreign keys say wrong is found on PostgreSQL too."""
    for wrong in (
        "UPDATE station_code SET code = 'G58'",
        "ALTER TABLE revision DROP CONSTRAINT revision_change_id_fkey",
    ):
        with empty_schema() as url:
            registry = Registry.create(url, "mm", shipped_dialects(), "tester")
            with registry.writing("tester", "load") as writer:
                writer.put([entry.document for entry in entries(BASE)])
            registry.check()
            with registry.reading() as reader:
                assert to_yaml(reader.everything())
            admin(wrong, url=url)
            if "DROP" in wrong:
                admin("UPDATE revision SET change_id = 99 WHERE key = 'six'", url=url)
            with pytest.raises(RegistryDamaged):
                registry.check()
            ran = run("--db", url, "status", "--deep")
            assert ran.code == 3 and ran.err.count("\n") == 1
            registry._engine.dispose()


def test_restore_into_a_server(tmp_path: Path, run: Run) -> None:
    """A backup of a file is put into an empty database and into one that holds a registry."""
    copy = f"{tmp_path}/copy.sqlite"
    make_registry(Path(copy))
    with empty_schema() as url:
        for _ in range(2):
            assert run("--db", url, "restore", copy, "--force").code == 0
            assert run("--db", url, "dump").out == run("--db", copy, "dump").out
            assert run("--db", url, "status", "--deep").code in (0, 1)
        assert run("--db", url, "history").out.count("restore  registry") == 1
