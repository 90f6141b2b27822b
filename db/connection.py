"""Opening the database: transactions, the check of its schema, and errors in plain words.

What differs between SQLite and PostgreSQL is said by their dialects (``db.dialect``).
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import cast

import sqlalchemy as sa

from corpus.errors import CorpusError, WellwornError
from db.dialect import Dialect, dialect_named, dialect_of
from db.location import file_of, shown


class Database:
    """An open database. ``reading`` and ``writing`` give a connection inside a transaction.

    Raises CorpusError for a URL that is none, or one of a kind of database that is not known.
    """

    def __init__(self, url: str) -> None:
        self.url = url
        self.file = file_of(url)
        try:
            self.dialect: Dialect = dialect_named(sa.make_url(url).get_backend_name())
            self._engine = self.dialect.engine(url, self.file)
        except KeyError as error:
            raise CorpusError(
                f"{shown(url)!r}: this kind of database cannot hold a corpus: use a SQLite file or PostgreSQL"
            ) from error
        except ImportError as error:
            raise CorpusError(
                f"{shown(url)!r} needs a library that is not installed ({error.name}): "
                "for PostgreSQL install wellworn[postgres]"
            ) from error
        except (sa.exc.ArgumentError, sa.exc.NoSuchModuleError, ValueError):
            # What the library says may quote the URL, password and all.
            raise CorpusError(f"{shown(url)!r} is no database that can be opened: give a file or URL") from None

    @property
    def name(self) -> str:
        """How messages call this database: its file, or its URL without a password."""
        return str(self.file) if self.file else shown(self.url)

    @property
    def is_on_server(self) -> bool:
        """Whether a server keeps the database: then there is no file to copy, move or look at."""
        return self.dialect.name == "postgresql"

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A connection for reading, on one consistent state of the database."""
        with plain_errors(self.name), self._engine.connect() as connection:
            connection.exec_driver_sql(self.dialect.begin_reading)
            try:
                yield connection
            finally:
                if self.dialect.in_transaction(connection):
                    connection.exec_driver_sql("ROLLBACK")

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A connection for writing: everything inside is committed at the end, or nothing at all."""
        with plain_errors(self.name), self._engine.connect() as connection:
            connection.exec_driver_sql(self.dialect.begin_writing)
            try:
                yield connection
                self.dialect.check_commit(connection)
            except BaseException:
                if self.dialect.in_transaction(connection):
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
    return set(connection.exec_driver_sql(dialect_of(connection).tables).scalars())


def schema_in(connection: sa.Connection) -> str | None:
    """The schema's number in a database of ours; None when no migration has been recorded."""
    row = connection.exec_driver_sql("SELECT version_num FROM alembic_version").first()
    return None if row is None else str(row[0])


@contextmanager
def plain_errors(name: str) -> Iterator[None]:
    """Turn the database's errors into ours, with what to do about them."""
    try:
        yield
    except sa.exc.DBAPIError as error:
        raise _in_words(name, cast(BaseException, error.orig)) from error
    except sqlite3.DatabaseError as error:
        raise _in_words(name, error) from error


def _in_words(name: str, cause: BaseException) -> WellwornError:
    if isinstance(cause, sqlite3.Error):
        from db.sqlite import in_words

        return in_words(name, str(cause))
    import psycopg

    from db.postgresql import in_words as in_words_of_server

    return in_words_of_server(name, cause if isinstance(cause, psycopg.Error) else psycopg.Error(str(cause)))
