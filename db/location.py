"""Where the database is: the option, the environment, or the platform's folder for user data."""

import os
from pathlib import Path
from typing import Final

ENVIRONMENT_VARIABLE: Final = "WELLWORN_DB"
DATABASE_NAME: Final = "wellworn.db"
DEMO_NAME: Final = "demo.db"


def user_data_folder() -> Path:
    """The platform's folder for the data of this user; not created here."""
    from platformdirs import user_data_path

    return user_data_path("wellworn", appauthor=False)


def database_url(option: str | None) -> str:
    """The SQLAlchemy URL of the database: ``option`` (a path or a URL), else ``WELLWORN_DB``, else the default file."""
    place = option or os.environ.get(ENVIRONMENT_VARIABLE) or str(user_data_folder() / DATABASE_NAME)
    if "://" in place:
        return place
    return f"sqlite:///{Path(place).expanduser().absolute()}"


def file_of(url: str) -> Path | None:
    """The file behind a SQLite URL, or None for another database or one in memory."""
    if not url.startswith("sqlite") or url.endswith("://") or ":memory:" in url:
        return None
    return Path(url.split(":///", 1)[1].split("?", 1)[0])
