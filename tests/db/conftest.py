"""Databases for tests."""

from collections.abc import Iterator

import pytest

from db.connection import Database
from db.opening import open_database


@pytest.fixture
def database(new_url: str) -> Iterator[Database]:
    """A fresh, empty database."""
    opened = open_database(new_url, create=True)
    yield opened
    opened.close()
