"""Copies between a database on a server and a backup file: row by row, in one transaction at either end.

A backup of a PostgreSQL database is the same SQLite file that ``backup`` writes of any other, so that it can be
restored to a file, to the same server or to another, whatever its version. For a copy that also holds the server's
users and settings there is the server's own ``pg_dump``.
"""

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Final

import sqlalchemy as sa

from corpus.errors import CorpusError
from db.connection import Database, plain_errors, schema_in, tables_in
from db.migrations.run import migrate
from db.opening import SCHEMA, open_database
from db.schema import Base

if TYPE_CHECKING:
    from collections.abc import Mapping

_ROWS_AT_ONCE: Final = 500
_KEPT_AS: Final = "before_restore"
_USER_ROWS: Final = ("transcription", "shelf_figure")


def copy_rows(source: sa.Connection, target: sa.Connection) -> None:
    """Put every row of a database of the newest schema into an empty one of the newest schema."""
    for table in Base.metadata.sorted_tables:
        rows = source.execute(sa.select(table).execution_options(yield_per=_ROWS_AT_ONCE))
        for part in rows.mappings().partitions(_ROWS_AT_ONCE):
            target.execute(sa.insert(table), [dict(row) for row in part])


def copy_to_file(source: sa.Connection, copy: Path, name: str) -> None:
    """Put every row into a new SQLite file, with no log beside it; ``name`` is what messages call the file."""
    with closing(open_database(f"sqlite:///{copy.absolute()}", create=True)) as target, target.writing() as into:
        copy_rows(source, into)
    with plain_errors(name), closing(sqlite3.connect(copy)) as plain:
        plain.execute("PRAGMA journal_mode = DELETE")


def put_on_server(file: Path, url: str, force: bool, wanted: "Mapping[str, int]") -> str:
    """Put all rows of a file of the newest schema in the place of what a server's database holds.

    Tables that hold anything are kept: they move to a schema of their own, whose name is returned (empty for none).
    ``wanted`` are the rows by table, counted again at the end; all is one transaction. Raises CorpusError when the
    database belongs to another program, was made by a newer wellworn, or holds lines and ``force`` is not given.
    """
    with (
        closing(Database(f"sqlite:///{file.absolute()}")) as backed_up,
        closing(Database(url)) as database,
        backed_up.reading() as source,
        database.writing() as target,
    ):
        tables = tables_in(target)
        _refuse_strangers(database, target, tables)
        holds_any = bool(tables) and any(_count(target, name) for name in _USER_ROWS)
        if holds_any and not force:
            raise CorpusError(
                f"database {database.name} holds transcriptions already: "
                "--force puts the backup in their place and keeps them in a schema of their own"
            )
        kept = _put_aside(target, tables) if tables else ""
        migrate(target, is_new=True)
        copy_rows(source, target)
        _number_on(target)
        wrong = [name for name, count in wanted.items() if _count(target, name) != count]
        if wrong:
            raise CorpusError(f"fewer or more rows arrived in {', '.join(wrong)}: nothing is changed")
        if kept and not holds_any:
            target.exec_driver_sql(f"DROP SCHEMA {kept} CASCADE")
            kept = ""
    return kept


def _refuse_strangers(database: Database, target: sa.Connection, tables: set[str]) -> None:
    if tables and "alembic_version" not in tables:
        raise CorpusError(f"{database.name} is a database of another program: choose another with --db")
    if tables and (schema := schema_in(target) or "") > SCHEMA:
        raise CorpusError(f"database {database.name} has schema {schema}, made by a newer wellworn: nothing is changed")


def _count(connection: sa.Connection, table: str) -> int:
    return int(connection.exec_driver_sql(f'SELECT count(*) FROM "{table}"').scalar_one())


def _put_aside(connection: sa.Connection, tables: set[str]) -> str:
    """Move tables, with their indexes and rows, to a schema of their own; returns its name."""
    from db.migrations.on_server import FUNCTIONS

    there = set(connection.exec_driver_sql("SELECT nspname FROM pg_namespace").scalars())
    number = 1
    while (name := f"{_KEPT_AS}_{number}") in there:
        number += 1
    home = connection.exec_driver_sql("SELECT quote_ident(current_schema())").scalar_one()
    connection.exec_driver_sql(f"CREATE SCHEMA {name}")
    for table in sorted(tables):
        connection.exec_driver_sql(f'ALTER TABLE "{table}" SET SCHEMA {name}')
    for function in FUNCTIONS:
        connection.exec_driver_sql(function.replace("FUNCTION ", f"FUNCTION {name}."))
    # What is made next must be made where the tables were, not beside them.
    connection.exec_driver_sql(f"SET LOCAL search_path = {home}")
    return name


def _number_on(connection: sa.Connection) -> None:
    """Let the server number new rows after those that brought their numbers."""
    for table in Base.metadata.sorted_tables:
        keys: Sequence[sa.Column[object]] = list(table.primary_key.columns)
        if [key.name for key in keys] == ["id"]:
            connection.exec_driver_sql(
                f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), (SELECT max(id) FROM {table.name})) "
                f"WHERE EXISTS (SELECT 1 FROM {table.name})"
            )
