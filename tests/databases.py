"""Where tests keep their databases: files of SQLite, or databases of a PostgreSQL server.

``WELLWORN_TEST_POSTGRES`` names a server (the URL of a user who may make databases, any database of it): then every
test that asks for ``databases``, itself or through another fixture, runs on that server, and no other test runs.
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import sqlalchemy as sa

from db.location import file_of
from db.opening import open_database

if TYPE_CHECKING:
    import psycopg

SERVER_VARIABLE = "WELLWORN_TEST_POSTGRES"
TIMES_VARIABLE = "WELLWORN_TEST_TIMES"


def examples(count: int) -> int:
    """How many generated examples are tried: ``WELLWORN_TEST_TIMES`` as many as usual.

    Fewer on a server, where only the database's part can differ.
    """
    count *= int(os.environ.get(TIMES_VARIABLE, "1"))
    return max(count // 25, 8) if os.environ.get(SERVER_VARIABLE) else count


class Databases(Protocol):
    """Gives out databases for tests."""

    def new(self, path: Path) -> str:
        """The URL of an empty database: ``path`` where databases are files (not made yet), else a name of its own."""

    def copy(self, url: str, target: str) -> None:
        """Put all rows of a database into an empty one."""

    def done_with(self, url: str) -> None:
        """Nobody needs a database any longer."""


class SqliteFiles:
    """Databases as files: where tests put them, there they are."""

    def new(self, path: Path) -> str:
        """See ``Databases``."""
        return f"sqlite:///{path}"

    def copy(self, url: str, target: str) -> None:
        """See ``Databases``."""
        source, copied = file_of(url), file_of(target)
        assert source is not None
        assert copied is not None
        shutil.copy(source, copied)

    def done_with(self, url: str) -> None:
        """The folder goes with the test."""


class ServerDatabases:
    """Databases of a server, copied from one that has the tables; emptied and given out again, which is faster."""

    def __init__(self, url: str) -> None:
        self._url = sa.make_url(url)
        self._prefix = f"wellworn_test_{os.getpid()}"
        self._made: dict[str, psycopg.Connection] = {}
        self._free: list[str] = []
        self._admin = self._connect(self._url)
        self._template = f"{self._prefix}_template"
        self._admin.execute(f'CREATE DATABASE "{self._template}" TEMPLATE template0 ENCODING UTF8')
        made = open_database(self._url_of(self._template), create=True)
        made.close()

    @staticmethod
    def _connect(url: sa.URL) -> "psycopg.Connection":
        import psycopg

        plain = url.set(drivername="postgresql").render_as_string(hide_password=False)
        return psycopg.connect(plain, autocommit=True)

    def _url_of(self, name: str) -> str:
        return self._url.set(database=name, drivername="postgresql+psycopg").render_as_string(hide_password=False)

    def new(self, path: Path) -> str:
        """See ``Databases``."""
        if self._free:
            return self._free.pop()
        name = f"{self._prefix}_{len(self._made)}"
        self._admin.execute(f'CREATE DATABASE "{name}" TEMPLATE "{self._template}"')
        url = self._url_of(name)
        self._made[url] = self._connect(sa.make_url(url))
        return url

    def bare(self, encoding: str = "UTF8") -> str:
        """A database without tables, for one test; not given out again."""
        name = f"{self._prefix}_bare_{len(self._made)}"
        self._admin.execute(f"CREATE DATABASE \"{name}\" TEMPLATE template0 ENCODING {encoding} LOCALE 'C'")
        url = self._url_of(name)
        self._made[url] = self._connect(sa.make_url(url))
        return url

    def copy(self, url: str, target: str) -> None:
        """See ``Databases``."""
        for table in self._tables(url):
            with (
                self._made[url].cursor().copy(f"COPY {table} TO STDOUT") as rows,
                self._made[target].cursor().copy(f"COPY {table} FROM STDIN") as into,
            ):
                for row in rows:
                    into.write(row)
        for name, value in self._made[url].execute("SELECT sequencename, last_value FROM pg_sequences").fetchall():
            if value is not None:
                self._made[target].execute("SELECT setval(%s::regclass, %s)", (name, value))

    def _tables(self, url: str) -> list[str]:
        """All tables that hold rows, those that others hang on first."""
        order = (
            "SELECT relname FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace ORDER BY oid"
        )
        return [name for (name,) in self._made[url].execute(order) if name != "alembic_version"]

    def done_with(self, url: str) -> None:
        """See ``Databases``."""
        own = self._made[url]
        own.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
            "WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
        for table in reversed(self._tables(url)):
            own.execute(f"DELETE FROM {table}")
        for (name,) in own.execute("SELECT sequencename FROM pg_sequences").fetchall():
            own.execute(f"ALTER SEQUENCE {name} RESTART")
        self._free.append(url)

    def close(self) -> None:
        """Take all databases off the server again."""
        for connection in self._made.values():
            connection.close()
        for url in [*self._made, self._url_of(self._template)]:
            self._admin.execute(f'DROP DATABASE IF EXISTS "{sa.make_url(url).database}" WITH (FORCE)')
        self._admin.close()


@contextmanager
def databases_here() -> Iterator[Databases]:
    """The databases that this run of the tests uses."""
    url = os.environ.get(SERVER_VARIABLE)
    if not url:
        yield SqliteFiles()
        return
    server = ServerDatabases(url)
    try:
        yield server
    finally:
        server.close()
