"""Databases for tests."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from db.connection import Database
from db.opening import open_database


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    """A fresh, empty database in a file."""
    opened = open_database(f"sqlite:///{tmp_path / 'lines.db'}", create=True)
    yield opened
    opened.close()
