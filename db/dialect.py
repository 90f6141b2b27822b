"""What differs between the databases that can hold a corpus: the one place that knows, for SQLite and PostgreSQL.

All other SQL is written so that both understand it. Where they have nothing in common a ``Dialect`` says how it is
done: opening and closing transactions, the names of tables, the look-up in a trigram index, long texts made of many
rows. Checks and repairs of what a database is made of are modules of their own (``db.examine``, ``db.server_check``).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Protocol

from db.readers import FileReader, Reader

if TYPE_CHECKING:
    import sqlalchemy as sa


@dataclass(frozen=True, slots=True)
class Lookup:
    """Lines that hold one of some texts, as parts of a query over ``reading r`` and ``transcription t``."""

    tables: str
    condition: str
    values: dict[str, Any]


class Dialect(Protocol):
    """How one kind of database does what others do otherwise."""

    name: str
    begin_reading: str
    begin_writing: str
    tables: str
    """A query for the names of the tables that are there."""

    def engine(self, url: str, file: Path | None) -> "sa.Engine":
        """A new engine, whose connections leave transactions to us."""

    def in_transaction(self, connection: "sa.Connection") -> bool:
        """Whether a transaction is still open, so that it can be rolled back."""

    def check_commit(self, connection: "sa.Connection") -> None:
        """Raise where a commit would silently throw the changes away."""

    def holding(self, column: str, texts: Sequence[str]) -> Lookup:
        """Lines whose indexed reading holds one of some texts, of three symbols or more each."""

    def joined(self, expression: str) -> str:
        """The values of all rows as one text, a line a row; the rows of one query come in one order."""


def dialect_of(connection: Reader) -> Dialect:
    """The dialect of an open connection."""
    return dialect_named("sqlite" if isinstance(connection, FileReader) else connection.dialect.name)


def dialect_named(name: str) -> Dialect:
    """The dialect of a kind of database, by SQLAlchemy's name for it. Raises KeyError for another."""
    if name == "postgresql":
        # Its module loads nothing before it is used; SQLite's own start must not pay even for the file.
        from db.postgresql import POSTGRESQL

        return POSTGRESQL
    from db.sqlite import SQLITE

    return {"sqlite": SQLITE}[name]


def is_on_server(connection: "sa.Connection") -> bool:
    """Whether a server keeps the database: then there is no file, and nothing of SQLite's own."""
    return connection.dialect.name == "postgresql"


TRANSCRIPTIONS: Final = "JOIN transcription t ON t.id = r.transcription_id"
