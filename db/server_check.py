"""What ``doctor`` looks at in a PostgreSQL database, in the place of what it looks at in a file.

The server keeps its files, its references and its indexes in step by itself, and page checksums are its own matter
(``initdb --data-checksums``, ``pg_amcheck``). What is checked: whether tables, indexes and functions are there as the
migrations make them; whether every index is usable; whether each trigram index finds what a plain scan finds.
"""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

import sqlalchemy as sa

from db.made import Made, Trouble
from db.migrations.run import migrate
from db.schema import INDEXED_READINGS

if TYPE_CHECKING:
    from db.connection import Database

_TEXTS_TRIED: Final = 12
_LONGEST_TRIED: Final = 6
_FRESH: Final = "wellworn_doctor_fresh"

_OBJECTS: Final = """
SELECT 'table', tablename, '' FROM pg_tables WHERE schemaname = current_schema()
UNION ALL SELECT 'view', viewname, '' FROM pg_views WHERE schemaname = current_schema()
UNION ALL SELECT CASE WHEN indexdef LIKE '%%USING gin%%' THEN 'gin index' ELSE 'index' END, indexname,
  replace(indexdef, quote_ident(schemaname) || '.', '') FROM pg_indexes WHERE schemaname = current_schema()
UNION ALL SELECT 'trigger', tgname, pg_get_triggerdef(t.oid) FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid
  WHERE NOT tgisinternal AND c.relnamespace = current_schema()::regnamespace
UNION ALL SELECT 'function', proname, replace(pg_get_functiondef(oid), current_schema() || '.', '') FROM pg_proc
  WHERE pronamespace = current_schema()::regnamespace AND proname IN ('instr', 'wellworn_casefold')
"""
_UNUSABLE: Final = """
SELECT c.relname FROM pg_index i JOIN pg_class c ON c.oid = i.indexrelid
WHERE NOT (i.indisvalid AND i.indisready) AND c.relnamespace = current_schema()::regnamespace ORDER BY 1
"""


def server_objects(connection: sa.Connection) -> tuple[Made, ...]:
    """The tables, views, indexes, triggers and functions of the schema in use."""
    return tuple(Made(*row) for row in connection.exec_driver_sql(_OBJECTS))


def made_on_server(database: "Database") -> tuple[Made, ...]:
    """Everything that the newest schema makes: the migrations run in a schema of their own, which is taken back.

    Raises SystemTroubleError when this user may not make one.
    """
    from db.connection import plain_errors

    with plain_errors(database.name), database.connect() as connection:
        searched = connection.exec_driver_sql("SHOW search_path").scalar_one()
        connection.exec_driver_sql("BEGIN")
        try:
            connection.exec_driver_sql(f"CREATE SCHEMA {_FRESH}")
            connection.exec_driver_sql(f"SET LOCAL search_path = {_FRESH}, {searched}")
            migrate(connection, is_new=True)
            return server_objects(connection)
        finally:
            if database.dialect.in_transaction(connection):
                connection.exec_driver_sql("ROLLBACK")


def unusable_indexes(connection: sa.Connection) -> Iterator[Trouble]:
    """Indexes that the server itself does not trust."""
    for name in connection.exec_driver_sql(_UNUSABLE).scalars():
        yield Trouble("file", f"the index {name} cannot be used", is_mendable=True)


def index_troubles(database: "Database") -> Iterator[Trouble]:
    """Trigram indexes that are missing, or find something else than a scan: a few stretches of stored lines each."""
    with database.reading() as connection:
        there = {made.name for made in server_objects(connection) if made.kind == "gin index"}
        for name in INDEXED_READINGS:
            if f"{name}_index" not in there:
                yield Trouble("index", f"the trigram index over the reading {name} is missing", is_mendable=True)
            elif not _finds_what_is_there(connection, name):
                yield Trouble("index", f"the trigram index over the reading {name} differs from it", is_mendable=True)


def _finds_what_is_there(connection: sa.Connection, reading: str) -> bool:
    sql = (
        f"SELECT DISTINCT substr({reading}, length({reading}) / 2, {_LONGEST_TRIED}) FROM reading "
        f"WHERE length({reading}) >= {2 * _LONGEST_TRIED} LIMIT {_TEXTS_TRIED}"
    )
    count = sa.text(f"SELECT count(*) FROM reading WHERE {reading} LIKE :text")
    for text in connection.exec_driver_sql(sql).scalars().all():
        counts = []
        for setting in ("seqscan", "bitmapscan"):
            connection.exec_driver_sql(f"SET LOCAL enable_{setting} = off")
            counts.append(connection.execute(count, {"text": f"%{text}%"}).scalar_one())
            connection.exec_driver_sql(f"SET LOCAL enable_{setting} = on")
        if counts[0] != counts[1]:
            return False
    return True


def rebuild_on_server(connection: sa.Connection) -> None:
    """Make all indexes of the readings again."""
    connection.exec_driver_sql("REINDEX TABLE reading")


def reindex_server(connection: sa.Connection) -> None:
    """Make again what the server does not trust."""
    for name in connection.exec_driver_sql(_UNUSABLE).scalars().all():
        connection.exec_driver_sql(f'REINDEX INDEX "{name}"')
