"""Questions without SQLAlchemy: a file read through SQLite's own module, and the one way to put SQL to either.

To import SQLAlchemy takes as long as a whole search. Questions are SQL with named values as it is, so whoever only asks
takes a ``Reader`` and calls ``rows_of``; only a database without a file needs SQLAlchemy for that.
"""

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol, TypeAlias, Union

if TYPE_CHECKING:
    import sqlalchemy as sa


_ROWS_AT_ONCE = 5_000


class Rows(Protocol):
    """What a question found; its rows have the names of their columns as attributes."""

    def __iter__(self) -> Iterator[Any]:
        """The rows, one after the other."""

    def all(self) -> Sequence[Any]:
        """All rows that have not been read."""

    def first(self) -> Any:
        """The first row, None when there is none."""

    def one(self) -> Any:
        """The only row."""

    def scalar_one(self) -> Any:
        """The first value of the only row."""


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
        # Some at a time, so that Ctrl-C is heard between: SQLite's module would read on to the end.
        found: list[Any] = []
        while rows := self._cursor.fetchmany(_ROWS_AT_ONCE):
            found += rows
        return found

    def first(self) -> Any:
        return self._cursor.fetchone()

    def one(self) -> Any:
        rows = self._cursor.fetchmany(2)
        if len(rows) != 1:
            raise LookupError(f"one row was expected, {'more' if rows else 'none'} found")
        return rows[0]

    def scalar_one(self) -> Any:
        return self.one()[0]


class FileReader:
    """An open connection of SQLite's own module."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        connection.row_factory = _Row
        self._connection = connection

    def rows(self, sql: str, values: Mapping[str, Any]) -> Rows:
        """Run a question."""
        return _FileRows(self._connection.execute(sql, dict(values)))


Reader: TypeAlias = Union[FileReader, "sa.Connection"]
"""A connection that a question can be put to."""


def rows_of(reader: Reader, sql: str, values: Mapping[str, Any] | None = None) -> Rows:
    """The rows that a question finds, values by name (``:name``)."""
    if isinstance(reader, FileReader):
        return reader.rows(sql, values or {})
    import sqlalchemy as sa

    return reader.execute(sa.text(sql), values or {})
