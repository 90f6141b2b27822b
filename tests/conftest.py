"""What holds for all tests: a cache folder that is not the user's, and the order of the files."""

from collections.abc import Iterator

import pytest


@pytest.fixture(scope="session", autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Machine code is kept beside the tests' other files, for this run."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("WELLWORN_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest file begins first, so that no core waits for it at the end: every command of README.md in turn."""
    items.sort(key=lambda item: "test_docs" not in item.nodeid)
