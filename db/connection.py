"""Opening the database: connection settings, transactions, the check of its schema, and errors in plain words.

SQLite settings: write-ahead log (readers never wait for a writer), foreign keys on, a busy timeout of 30 s so that two
processes that add at once wait for each other.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from corpus.errors import CorpusError, SystemTroubleError, WellwornError
from db.location import file_of
from db.readers import FileReader, Reader

if TYPE_CHECKING:
    import sqlalchemy as sa

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


def _in_uri(file: Path) -> str:
    """A file's name as it stands in a URI; the standard library's own way loads much for three characters."""
    return str(file).replace("%", "%25").replace("?", "%3f").replace("#", "%23")


class Database:
    """An open database. ``reading``, ``asking`` and ``writing`` give a connection inside a transaction.

    SQLAlchemy is loaded when it is first needed: ``asking`` and ``schema`` do without it for a file.
    """

    def __init__(self, url: str) -> None:
        self.url = url
        self.file = file_of(url)
        # SQLite cannot keep its log beside a file in a folder that may not be written: it is read as it stands.
        self._is_out_of_reach = self.file is not None and _is_out_of_reach(self.file)
        if self.file is None:
            # Whatever is wrong with a URL is told at once.
            _ = self._engine

    @cached_property
    def _engine(self) -> "sa.Engine":
        import sqlalchemy as sa

        url = f"sqlite:///file:{self.file}?mode=ro&immutable=1&uri=true" if self._is_out_of_reach else self.url
        try:
            engine = sa.create_engine(url, connect_args=self._connect_arguments(url))
        except (sa.exc.ArgumentError, sa.exc.NoSuchModuleError, ImportError) as error:
            raise CorpusError(f"{url!r} is no database that can be opened: give a file or URL ({error})") from error
        if engine.dialect.name != "sqlite":
            raise CorpusError(f"databases of kind {engine.dialect.name!r} are not supported yet: use a SQLite file")
        sa.event.listen(engine, "connect", _set_up_sqlite)
        return engine

    @staticmethod
    def _connect_arguments(url: str) -> dict[str, Any]:
        return {"timeout": _BUSY_TIMEOUT_SECONDS} if url.startswith("sqlite") else {}

    @property
    def name(self) -> str:
        """How messages call this database: its file, or its URL without a password."""
        return str(self.file) if self.file else self._engine.url.render_as_string(hide_password=True)

    @contextmanager
    def asking(self) -> Iterator[Reader]:
        """A connection for questions, on one consistent state of the database, without SQLAlchemy where it is a file."""
        if self.file is None:
            with self.reading() as connection:
                yield connection
            return
        with plain_errors(self.name), closing(self._connect_to_file(self.file)) as connection:
            connection.execute("BEGIN")
            yield FileReader(connection)

    def _connect_to_file(self, file: Path) -> sqlite3.Connection:
        # Never made when it is missing: a question to a file that is gone must not leave an empty one.
        how = "mode=ro&immutable=1" if self._is_out_of_reach else "mode=rw"
        connection = sqlite3.connect(f"file:{_in_uri(file)}?{how}", timeout=_BUSY_TIMEOUT_SECONDS, uri=True)
        _set_up_sqlite(connection, None)
        return connection

    @contextmanager
    def reading(self) -> Iterator["sa.Connection"]:
        """A connection for reading, on one consistent state of the database."""
        with plain_errors(self.name), self._engine.connect() as connection:
            connection.exec_driver_sql("BEGIN")
            try:
                yield connection
            finally:
                connection.exec_driver_sql("ROLLBACK")

    @contextmanager
    def writing(self) -> Iterator["sa.Connection"]:
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
        """The schema's number, or None when this database holds nothing of ours, or is not there yet."""
        if self.file is not None and not self.file.exists():
            return None
        with self.asking() as connection:
            return schema_in(connection) if "alembic_version" in tables_in(connection) else None

    def connect(self) -> "sa.Connection":
        """A bare connection, for settings that must stand outside a transaction."""
        return self._engine.connect()

    def close(self) -> None:
        """Give all connections back."""
        if "_engine" in vars(self):
            self._engine.dispose()


def tables_in(connection: Reader) -> set[str]:
    """The names of all tables."""
    return {row[0] for row in connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'table'")}


def schema_in(connection: Reader) -> str | None:
    """The schema's number in a database of ours; None when no migration has been recorded."""
    row = connection.exec_driver_sql("SELECT version_num FROM alembic_version").first()
    return None if row is None else str(row[0])


def _in_transaction(connection: "sa.Connection") -> bool:
    driver = connection.connection.driver_connection
    return isinstance(driver, sqlite3.Connection) and driver.in_transaction


@contextmanager
def plain_errors(name: str) -> Iterator[None]:
    """Turn the database's errors into ours, with what to do about them."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        raise _in_words(name, str(error)) from error
    except Exception as error:
        # SQLAlchemy's errors carry SQLite's; to ask for them by name would load it for every question.
        cause = getattr(error, "orig", None)
        if not isinstance(cause, sqlite3.DatabaseError):
            raise
        raise _in_words(name, str(cause)) from error


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
