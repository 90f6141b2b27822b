"""Reading rows without SQLAlchemy: what a question to the database needs of a connection, and SQLite's own module as one.

To import SQLAlchemy takes as long as a whole exact search. Queries that read are SQL with named values as it is, so
either connection answers them: whoever reads takes a ``Reader``.
"""

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Protocol, cast


class Rows(Protocol):
    """What a query found; its rows have the names of their columns as attributes."""

    def __iter__(self) -> Iterator[Any]:
        """The rows, one after the other."""

    def all(self) -> Sequence[Any]:
        """All rows that have not been read."""

    def first(self) -> Any:
        """The first row, None when there is none."""

    def one(self) -> Any:
        """The first row, where there is exactly one."""

    def scalar_one(self) -> Any:
        """The first value of the first row, where there is exactly one."""


class Reader(Protocol):
    """A connection that a question can be put to: one of SQLAlchemy's, or a ``FileReader``."""

    def exec_driver_sql(self, statement: str, parameters: Mapping[str, Any] | None = None, /) -> Rows:
        """Run SQL in the words of SQLite, values by name (``:name``)."""


class _Row(sqlite3.Row):
    """A row whose columns are attributes too."""

    def __getattr__(self, name: str) -> Any:
        try:
            return self[name]
        except IndexError as error:
            raise AttributeError(name) from error


class _FileRows:
    def __init__(self, cursor: sqlite3.Cursor) -> None:
        self._cursor = cursor

    def __iter__(self) -> Iterator[Any]:
        return iter(self._cursor)

    def all(self) -> Sequence[Any]:
        return self._cursor.fetchall()

    def first(self) -> Any:
        return self._cursor.fetchone()

    def one(self) -> Any:
        rows = self._cursor.fetchmany(2)
        if len(rows) != 1:
            raise LookupError(f"one row was expected, {'none' if not rows else 'more'} found")
        return rows[0]

    def scalar_one(self) -> Any:
        return self.one()[0]


class FileReader:
    """A connection of SQLite's own module, as a ``Reader``."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        connection.row_factory = _Row
        self._connection = connection

    def exec_driver_sql(self, statement: str, parameters: Mapping[str, Any] | None = None, /) -> Rows:
        """As ``Reader.exec_driver_sql``."""
        values = cast("dict[str, Any]", parameters or {})
        return _FileRows(self._connection.execute(statement, values))
