"""Databases for tests."""

from collections.abc import Iterator

import pytest

from db.connection import Database
from db.opening import open_database
from tests.databases import Databases, ServerDatabases


@pytest.fixture
def bare_url(databases: Databases) -> str:
    """The URL of a database on the server that has no tables yet."""
    assert isinstance(databases, ServerDatabases)
    return databases.bare()


@pytest.fixture
def database(new_url: str) -> Iterator[Database]:
    """A fresh, empty database."""
    opened = open_database(new_url, create=True)
    yield opened
    opened.close()
