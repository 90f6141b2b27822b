"""What every test needs: a cache folder that is not the user's."""

from collections.abc import Iterator

import pytest


@pytest.fixture(scope="session", autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Machine code is kept beside the tests' other files, for this run."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("WELLWORN_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield
