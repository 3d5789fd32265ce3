"""A PostgreSQL database for tests: each gets a schema of its own in it, gone afterwards.

Writers of one database wait for each other, so tests that run side by side have a database each,
beside the one that is named.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import URL, make_url

VARIABLE = "PINCORNER_TEST_POSTGRES"
SERVER = os.environ.get(VARIABLE)

needs_server = pytest.mark.skipif(
    SERVER is None, reason=f"needs a PostgreSQL database: set {VARIABLE} to its URL"
)


@cache
def database() -> URL:
    """The database of this process: the one that is named, or one beside it for each worker."""
    assert SERVER is not None
    named, worker = make_url(SERVER), os.environ.get("PYTEST_XDIST_WORKER")
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
