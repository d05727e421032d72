"""Stores for the tests: an SQLite file, and a database of its own on a real PostgreSQL server."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.store.server import NO_SERVER, programs, running_server


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """The URL of a server whose databases may be made and dropped."""
    given = os.environ.get("BOOSTWRIGHT_TEST_POSTGRES", "")
    found = programs()
    if given:
        yield given
    elif found is None:
        pytest.skip(NO_SERVER)
    else:
        with running_server(found) as url:
            yield url


@contextmanager
def new_database(url: str) -> Iterator[str]:
    import psycopg

    name = f"bw_{secrets.token_hex(6)}"
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    try:
        yield f"{url.rpartition('/')[0]}/{name}"
    finally:
        with psycopg.connect(url, autocommit=True) as connection:
            connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def database(server: str) -> Iterator[str]:
    """The URL of an empty database."""
    with new_database(server) as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def where(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """An empty store of either kind, as `open_job` takes it."""
    if request.param == "sqlite":
        return str(tmp_path / "shop.sqlite")
    return str(request.getfixturevalue("database"))
