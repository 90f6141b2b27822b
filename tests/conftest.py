"""What holds for all tests: a cache folder that is not the user's, their databases, and the order of the files."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.databases import ALL_VARIABLE, SERVER_VARIABLE, Databases, databases_here
from tests.network import only_this_machine

# No test is a timed test: how long an example takes on a busy machine says nothing.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")


@pytest.fixture(scope="session", autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Machine code is kept beside the tests' other files, for this run."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("WELLWORN_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(scope="session", autouse=True)
def _no_network() -> Iterator[None]:
    """Nothing that runs in this process may reach beyond the machine."""
    with only_this_machine():
        yield


@pytest.fixture(scope="session")
def databases() -> Iterator[Databases]:
    """Gives out databases: files of SQLite, or those of a PostgreSQL server that the environment names."""
    with databases_here() as here:
        yield here


@pytest.fixture
def new_url(databases: Databases, tmp_path: Path) -> Iterator[str]:
    """The URL of an empty database of this test's own; a file is called ``lines.db`` in the test's folder."""
    url = databases.new(tmp_path / "lines.db")
    yield url
    databases.done_with(url)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """The longest file begins first, so that no core waits for it at the end: every command of README.md in turn.

    On a server only what uses a database runs, and not what is marked as SQLite's own; without one, not what is
    marked as the server's.
    """
    items.sort(key=lambda item: "test_docs" not in item.nodeid)
    left_out = [item for item in items if not _runs_here(item)]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if _runs_here(item)]


def _runs_here(item: pytest.Item) -> bool:
    if not os.environ.get(SERVER_VARIABLE):
        return item.get_closest_marker("server_only") is None
    uses_databases = "databases" in getattr(item, "fixturenames", ())
    is_of_interest = os.environ.get(ALL_VARIABLE) or item.get_closest_marker("no_sql") is None
    return bool(uses_databases and is_of_interest and item.get_closest_marker("sqlite_only") is None)
