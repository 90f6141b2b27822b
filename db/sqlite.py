"""SQLite: settings, transactions, the look-up in its trigram indexes, its errors in words.

Settings: write-ahead log (readers never wait for a writer), foreign keys on, a busy timeout of 30 s so that two
processes that add at once wait for each other.
"""

import os
import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from corpus.errors import CorpusError, SystemTroubleError, WellwornError
from db.dialect import Dialect, Lookup

if TYPE_CHECKING:
    import sqlalchemy as sa

_BUSY_TIMEOUT_SECONDS: Final = 30


def _set_up(connection: sqlite3.Connection, _record: object) -> None:
    # Python's sqlite3 begins transactions behind our back and not before DDL; we begin them ourselves instead.
    connection.isolation_level = None
    for setting in ("foreign_keys = ON", f"busy_timeout = {_BUSY_TIMEOUT_SECONDS * 1000}", "cache_size = -64000"):
        connection.execute(f"PRAGMA {setting}")
    # SQLite's own lower() knows ASCII only, and players have other names too.
    connection.create_function("wellworn_casefold", 1, _casefold, deterministic=True)


def _casefold(text: str | None) -> str:
    return (text or "").casefold()


def _is_out_of_reach(file: Path) -> bool:
    """Whether a database can only be read: it stands in a folder without write access, and no log holds more of it."""
    log = file.with_name(f"{file.name}-wal")
    has_log = log.exists() and log.stat().st_size > 0
    return file.exists() and not os.access(file.parent, os.W_OK) and not has_log


def connect_to(file: Path) -> sqlite3.Connection:
    """A connection to a file without SQLAlchemy; a file that is not there is not made."""
    how = "mode=ro&immutable=1" if _is_out_of_reach(file) else "mode=rw"
    # The standard library's own way to write a URI loads much for three characters.
    name = str(file).replace("%", "%25").replace("?", "%3f").replace("#", "%23")
    connection = sqlite3.connect(f"file:{name}?{how}", timeout=_BUSY_TIMEOUT_SECONDS, uri=True)
    _set_up(connection, None)
    return connection


class _Sqlite:
    name = "sqlite"
    begin_reading = "BEGIN"
    begin_writing = "BEGIN IMMEDIATE"
    tables = "SELECT name FROM sqlite_master WHERE type = 'table'"

    def engine(self, url: str, file: Path | None) -> "sa.Engine":
        import sqlalchemy as sa

        if file is not None and _is_out_of_reach(file):
            # SQLite cannot keep its log beside a file in a folder that may not be written: read it as it stands.
            url = f"sqlite:///file:{file}?mode=ro&immutable=1&uri=true"
        engine = sa.create_engine(url, connect_args={"timeout": _BUSY_TIMEOUT_SECONDS})
        sa.event.listen(engine, "connect", _set_up)
        return engine

    def in_transaction(self, connection: "sa.Connection") -> bool:
        # A full disk makes SQLite roll back by itself; a second ROLLBACK would hide the real error.
        driver = connection.connection.driver_connection
        return isinstance(driver, sqlite3.Connection) and driver.in_transaction

    def check_commit(self, connection: "sa.Connection") -> None:
        """SQLite commits or says why not."""

    def holding(self, column: str, texts: Sequence[str]) -> Lookup:
        index = f"{column}_index"
        # CROSS JOIN keeps SQLite from turning the order round: the index comes first.
        tables = (
            f"{index} i CROSS JOIN reading r ON r.transcription_id = i.rowid JOIN transcription t ON t.id = i.rowid"
        )
        return Lookup(tables, f"{index} MATCH :texts", {"texts": " OR ".join(f'"{text}"' for text in texts)})

    def joined(self, expression: str) -> str:
        return f"group_concat({expression}, char(10))"


SQLITE: Final[Dialect] = _Sqlite()

_HINTS: Final = {
    "readonly": "is read-only: check the permissions of the file and its folder, or choose another with --db",
    "unable to open": "cannot be opened: check its folder and permissions, or choose another with --db",
    "disk is full": "has no room left, the disk is full: make room and try again (nothing was half-written)",
    "disk I/O": "cannot be written: the disk reports an error or is full (nothing was half-written)",
    "locked": "is in use by another process: wait until it has finished and try again",
    "malformed": "is damaged: restore a backup",
    "vtable": "is damaged: restore a backup",
}


def in_words(name: str, cause: str) -> WellwornError:
    """An error of SQLite as one of ours, with what to do about it."""
    for words, hint in _HINTS.items():
        if words in cause:
            return SystemTroubleError(f"database {name} {hint}")
    if "not a database" in cause or "no such table" in cause or "no such module" in cause:
        return CorpusError(f"{name} is not a wellworn database ({cause}): choose another file with --db")
    return SystemTroubleError(f"database {name}: {cause}")
