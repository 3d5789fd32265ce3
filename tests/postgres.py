"""A PostgreSQL database for tests: each gets a schema of its own in it, gone afterwards."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import make_url

VARIABLE = "PINCORNER_TEST_POSTGRES"
SERVER = os.environ.get(VARIABLE)

needs_server = pytest.mark.skipif(
    SERVER is None, reason=f"needs a PostgreSQL database: set {VARIABLE} to its URL"
)


@contextmanager
def empty_schema() -> Iterator[str]:
    """The URL of an empty schema."""
    schema = f"pincorner_{secrets.token_hex(6)}"
    assert SERVER is not None
    admin = create_engine(SERVER)
    with admin.begin() as connection:
        connection.execute(text(f"CREATE SCHEMA {schema}"))
    url = make_url(SERVER).update_query_dict({"options": f"-csearch_path={schema}"})
    yield url.render_as_string(hide_password=False)
    with admin.begin() as connection:
        connection.execute(text("SET lock_timeout = '5s'"))
        connection.execute(text(f"DROP SCHEMA {schema} CASCADE"))
    admin.dispose()
