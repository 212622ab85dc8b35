"""A library for each test: in SQLite, and in PostgreSQL where a server is named in RPD_TEST_POSTGRES_URL."""

import os
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest

from recommender.precedents.store.databases import create_database
from recommender.precedents.store.library import Library

SERVER = os.environ.get("RPD_TEST_POSTGRES_URL", "")


@pytest.fixture
def server_url() -> Iterator[str]:
    """A PostgreSQL schema of its own, as a URL; gone after the test."""
    if not SERVER:
        pytest.skip("no PostgreSQL server in RPD_TEST_POSTGRES_URL")
    import psycopg

    schema = f"t{uuid4().hex[:12]}"
    with psycopg.connect(SERVER, autocommit=True) as connection:
        connection.execute(f"CREATE SCHEMA {schema}")
    yield f"{SERVER}?options=-csearch_path%3D{schema}"
    with psycopg.connect(SERVER, autocommit=True) as connection:
        connection.execute(f"DROP SCHEMA {schema} CASCADE")


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def where(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Address at which a library can be made, on each database."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'cases.db'}"
    return str(request.getfixturevalue("server_url"))


@pytest.fixture
def library(where: str) -> Iterator[Library]:
    """An empty library, open for writing."""
    with create_database(where) as made:
        yield made
