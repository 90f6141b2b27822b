"""Opening the database: connection settings, transactions, the check of its schema, and errors in plain words.

SQLite settings: write-ahead log (readers never wait for a writer), foreign keys on, a busy timeout of 30 s so that two
processes that add at once wait for each other.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa

from corpus.errors import CorpusError, SystemTroubleError, WellwornError
from db.location import file_of

_BUSY_TIMEOUT_SECONDS: Final = 30


def _set_up_sqlite(connection: sqlite3.Connection, _record: object) -> None:
    # Python's sqlite3 begins transactions behind our back and not before DDL; we begin them ourselves instead.
    connection.isolation_level = None
    for setting in ("foreign_keys = ON", f"busy_timeout = {_BUSY_TIMEOUT_SECONDS * 1000}", "cache_size = -64000"):
        connection.execute(f"PRAGMA {setting}")
    # SQLite's own lower() knows ASCII only, and players have other names too.
    connection.create_function("casefold", 1, _casefold, deterministic=True)


def _casefold(text: str | None) -> str:
    return (text or "").casefold()


def _is_out_of_reach(file: Path) -> bool:
    """Whether a database can only be read: it stands in a folder without write access, and no log holds more of it."""
    log = file.with_name(f"{file.name}-wal")
    has_log = log.exists() and log.stat().st_size > 0
    return file.exists() and not os.access(file.parent, os.W_OK) and not has_log


class Database:
    """An open database. ``reading`` and ``writing`` give a connection inside a transaction."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.file = file_of(url)
        if self.file is not None and _is_out_of_reach(self.file):
            # SQLite cannot keep its log beside a file in a folder that may not be written: read it as it stands.
            url = f"sqlite:///file:{self.file}?mode=ro&immutable=1&uri=true"
        try:
            self._engine = sa.create_engine(url, connect_args=self._connect_arguments(url))
        except (sa.exc.ArgumentError, sa.exc.NoSuchModuleError, ImportError) as error:
            raise CorpusError(f"{url!r} is no database that can be opened: give a file or URL ({error})") from error
        if self._engine.dialect.name == "sqlite":
            sa.event.listen(self._engine, "connect", _set_up_sqlite)
        else:
            raise CorpusError(
                f"databases of kind {self._engine.dialect.name!r} are not supported yet: use a SQLite file"
            )

    @staticmethod
    def _connect_arguments(url: str) -> dict[str, Any]:
        return {"timeout": _BUSY_TIMEOUT_SECONDS} if url.startswith("sqlite") else {}

    @property
    def name(self) -> str:
        """How messages call this database: its file, or its URL without a password."""
        return str(self.file) if self.file else self._engine.url.render_as_string(hide_password=True)

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A connection for reading, on one consistent state of the database."""
        with plain_errors(self.name), self._engine.connect() as connection:
            connection.exec_driver_sql("BEGIN")
            try:
                yield connection
            finally:
                connection.exec_driver_sql("ROLLBACK")

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A connection for writing: everything inside is committed at the end, or nothing at all."""
        with plain_errors(self.name), self._engine.connect() as connection:
            connection.exec_driver_sql("BEGIN IMMEDIATE")
            try:
                yield connection
            except BaseException:
                # A full disk makes SQLite roll back by itself; a second ROLLBACK would hide the real error.
                if _in_transaction(connection):
                    connection.exec_driver_sql("ROLLBACK")
                raise
            connection.exec_driver_sql("COMMIT")

    def schema(self) -> str | None:
        """The schema's number, or None when this database holds nothing of ours."""
        with plain_errors(self.name), self._engine.connect() as connection:
            return schema_in(connection) if "alembic_version" in tables_in(connection) else None

    def connect(self) -> sa.Connection:
        """A bare connection, for settings that must stand outside a transaction."""
        return self._engine.connect()

    def close(self) -> None:
        """Give all connections back."""
        self._engine.dispose()


def tables_in(connection: sa.Connection) -> set[str]:
    """The names of all tables."""
    return set(connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'table'").scalars())


def schema_in(connection: sa.Connection) -> str | None:
    """The schema's number in a database of ours; None when no migration has been recorded."""
    row = connection.exec_driver_sql("SELECT version_num FROM alembic_version").first()
    return None if row is None else str(row[0])


def _in_transaction(connection: sa.Connection) -> bool:
    driver = connection.connection.driver_connection
    return isinstance(driver, sqlite3.Connection) and driver.in_transaction


@contextmanager
def plain_errors(name: str) -> Iterator[None]:
    """Turn the database's errors into ours, with what to do about them."""
    try:
        yield
    except sa.exc.DatabaseError as error:
        raise _in_words(name, str(error.orig)) from error
    except sqlite3.DatabaseError as error:
        raise _in_words(name, str(error)) from error


def _in_words(name: str, cause: str) -> WellwornError:
    hints = {
        "readonly": "is read-only: check the permissions of the file and its folder, or choose another with --db",
        "unable to open": "cannot be opened: check its folder and permissions, or choose another with --db",
        "disk is full": "has no room left, the disk is full: make room and try again (nothing was half-written)",
        "disk I/O": "cannot be written: the disk reports an error or is full (nothing was half-written)",
        "locked": "is in use by another process: wait until it has finished and try again",
        "malformed": "is damaged: restore a backup",
        "vtable": "is damaged: restore a backup",
    }
    for words, hint in hints.items():
        if words in cause:
            return SystemTroubleError(f"database {name} {hint}")
    if "not a database" in cause or "no such table" in cause or "no such module" in cause:
        return CorpusError(f"{name} is not a wellworn database ({cause}): choose another file with --db")
    return SystemTroubleError(f"database {name}: {cause}")
