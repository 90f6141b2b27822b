"""Where the database is: the option, the environment, or the platform's folder for user data."""

import os
import re
from pathlib import Path
from typing import Final

from corpus.errors import CorpusError

ENVIRONMENT_VARIABLE: Final = "WELLWORN_DB"
CONFIGURATION_VARIABLE: Final = "WELLWORN_CONFIG"
CACHE_VARIABLE: Final = "WELLWORN_CACHE"
CONFIGURATION_NAME: Final = "config.toml"
DATABASE_NAME: Final = "wellworn.db"
DEMO_NAME: Final = "demo.db"

_SERVER_SCHEME: Final = re.compile(r"^(?:postgres|postgresql)://")
"""The short ways to write a PostgreSQL URL; the driver is always psycopg."""
_PASSWORD_OF_USER: Final = re.compile(r"(://[^/?#:]*:).*@", re.DOTALL)
_PASSWORD_FIELD: Final = re.compile(r"((?:password|passwd|pwd)=)[^&#]*", re.IGNORECASE)


def user_data_folder() -> Path:
    """The platform's folder for the data of this user; not created here."""
    from platformdirs import user_data_path

    return user_data_path("wellworn", appauthor=False)


def user_cache_folder() -> Path:
    """What can be made again is kept here: ``WELLWORN_CACHE``, else the platform's place; not created here."""
    named = os.environ.get(CACHE_VARIABLE)
    if named:
        return Path(named).expanduser()
    from platformdirs import user_cache_path

    return user_cache_path("wellworn", appauthor=False)


def configuration_file() -> Path:
    """The user's configuration: ``WELLWORN_CONFIG``, else the platform's place; it need not exist."""
    named = os.environ.get(CONFIGURATION_VARIABLE)
    if named:
        return Path(named).expanduser()
    from platformdirs import user_config_path

    return user_config_path("wellworn", appauthor=False) / CONFIGURATION_NAME


def database_url(option: str | None) -> str:
    """The SQLAlchemy URL of the database: ``option`` (a path or a URL), else ``WELLWORN_DB``, else the default file.

    Raises CorpusError for a file name that a URL cannot hold.
    """
    place = option or os.environ.get(ENVIRONMENT_VARIABLE) or str(user_data_folder() / DATABASE_NAME)
    if "://" in place:
        return _SERVER_SCHEME.sub("postgresql+psycopg://", place)
    if "?" in place:
        raise CorpusError(f"database file {place!r} has a question mark in its name: choose a name without")
    return f"sqlite:///{Path(place).expanduser().absolute()}"


def shown(url: str) -> str:
    """A URL as it may be printed: without the password, wherever that stands in it, however odd the rest is."""
    return _PASSWORD_FIELD.sub(r"\1***", _PASSWORD_OF_USER.sub(r"\1***@", url))


def file_of(url: str) -> Path | None:
    """The file behind a SQLite URL, or None for another database or one in memory."""
    scheme, _, rest = url.partition(":///")
    path = rest.split("?", 1)[0]
    if not scheme.startswith("sqlite") or path in ("", ":memory:") or path.startswith("file:"):
        return None
    return Path(path)


def unfinished_prefix(file: Path) -> str:
    """How the names of files begin that are copies of a database in the making; a killed process leaves one."""
    return f".{file.name[:40]}.part-"
