"""Opening the database: transactions, the check of its schema, and errors in plain words.

What differs between SQLite and PostgreSQL is said by their dialects (``db.dialect``).
"""

import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import cached_property
from typing import TYPE_CHECKING

from corpus.errors import CorpusError, WellwornError
from db.dialect import Dialect, dialect_named, dialect_of
from db.location import file_of, shown
from db.readers import FileReader, Reader, rows_of

if TYPE_CHECKING:
    import sqlalchemy as sa


class Database:
    """An open database. ``reading``, ``asking`` and ``writing`` give a connection inside a transaction.

    SQLAlchemy is loaded when it is first needed; ``asking`` and ``schema`` do without it for a file.
    Raises CorpusError for a URL that is none, or one of a kind of database that is not known.
    """

    def __init__(self, url: str) -> None:
        self.url = url
        self.file = file_of(url)
        self.dialect: Dialect = dialect_named("sqlite") if self.file is not None else self._dialect_of_url()

    @cached_property
    def _engine(self) -> "sa.Engine":
        return self.dialect.engine(self.url, self.file)

    def _dialect_of_url(self) -> Dialect:
        import sqlalchemy as sa

        url = self.url
        try:
            dialect = dialect_named(sa.make_url(url).get_backend_name())
            # Whatever is wrong with a URL is told at once.
            vars(self)["_engine"] = dialect.engine(url, None)
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
        return dialect

    @property
    def name(self) -> str:
        """How messages call this database: its file, or its URL without a password."""
        return str(self.file) if self.file else shown(self.url)

    @property
    def is_on_server(self) -> bool:
        """Whether a server keeps the database: then there is no file to copy, move or look at."""
        return self.dialect.name == "postgresql"

    @contextmanager
    def asking(self) -> Iterator[Reader]:
        """A connection for questions, on one consistent state of the database; a file is read without SQLAlchemy."""
        if self.file is None:
            with self.reading() as connection:
                yield connection
            return
        from db.sqlite import connect_to

        with plain_errors(self.name), closing(connect_to(self.file)) as file:
            file.execute("BEGIN")
            yield FileReader(file)

    @contextmanager
    def reading(self) -> Iterator["sa.Connection"]:
        """A connection for reading, on one consistent state of the database."""
        with plain_errors(self.name), self._engine.connect() as connection:
            connection.exec_driver_sql(self.dialect.begin_reading)
            try:
                yield connection
            finally:
                if self.dialect.in_transaction(connection):
                    connection.exec_driver_sql("ROLLBACK")

    @contextmanager
    def writing(self) -> Iterator["sa.Connection"]:
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
    return {row[0] for row in rows_of(connection, dialect_of(connection).tables)}


def schema_in(connection: Reader) -> str | None:
    """The schema's number in a database of ours; None when no migration has been recorded."""
    row = rows_of(connection, "SELECT version_num FROM alembic_version").first()
    return None if row is None else str(row[0])


@contextmanager
def plain_errors(name: str) -> Iterator[None]:
    """Turn the database's errors into ours, with what to do about them."""
    try:
        yield
    except Exception as error:
        cause = _of_database(error)
        if cause is None:
            raise
        raise _in_words(name, cause) from error


def _of_database(error: Exception) -> BaseException | None:
    """What the database itself raised; None where an error is not of it."""
    if isinstance(error, sqlite3.DatabaseError):
        return error
    # What has not been loaded has not raised anything.
    if "sqlalchemy" not in sys.modules:
        return None
    from sqlalchemy.exc import DBAPIError

    return error.orig if isinstance(error, DBAPIError) else None


def _in_words(name: str, cause: BaseException) -> WellwornError:
    if isinstance(cause, sqlite3.Error):
        from db.sqlite import in_words

        return in_words(name, str(cause))
    import psycopg

    from db.postgresql import in_words as in_words_of_server

    return in_words_of_server(name, cause if isinstance(cause, psycopg.Error) else psycopg.Error(str(cause)))
